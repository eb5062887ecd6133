package pdf

import (
	"os"
	"testing"

	"cazward/report"
	"cazward/report/json"
	"cazward/report/reporttest"
	"cazward/report/text"
)

func TestZZGen(t *testing.T) {
	for _, c := range reporttest.All() {
		r := report.Build(c.In)
		f, _ := os.Create("/tmp/rep/" + c.Name + ".pdf")
		if err := Write(f, r, Options{}); err != nil {
			t.Fatal(err)
		}
		f.Close()
		f, _ = os.Create("/tmp/rep/" + c.Name + ".txt")
		if err := text.Write(f, r); err != nil {
			t.Fatal(err)
		}
		f.Close()
		f, _ = os.Create("/tmp/rep/" + c.Name + ".json")
		json.Write(f, json.Judgement(c.In.Header, c.In.Judgement, c.In.Closed))
		f.Close()
	}
}
