package practice_test

import (
	"errors"
	"os"
	"testing"

	"cazward/limits/strict"
	"cazward/procedure/practice"
)

// FuzzReadRubric: any bytes are read or refused with a place and a hint.
func FuzzReadRubric(f *testing.F) {
	files, err := os.ReadDir("rubrics")
	if err != nil || len(files) == 0 {
		f.Fatal(err)
	}
	for _, x := range files {
		b, err := os.ReadFile("rubrics/" + x.Name())
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add([]byte("kind: rubric\nformat: 1\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		_, err := practice.ReadRubric("fuzz.yaml", data)
		if err == nil {
			return
		}
		var p *strict.Problems
		if !errors.As(err, &p) || len(p.List) == 0 {
			t.Fatalf("a refusal of its own kind: %v", err)
		}
		for _, x := range p.List {
			if x.Line < 1 || x.Column < 1 || x.Text == "" || x.Hint == "" {
				t.Errorf("no place or no hint: %+v", x)
			}
		}
	})
}

// FuzzCommand: what is typed in a practice house is done or refused with what
// to type, and sets only what the house has.
func FuzzCommand(f *testing.F) {
	file, _ := practice.HouseFile("demonstration")
	h, err := practice.ReadHouse("demonstration", file)
	if err != nil {
		f.Fatal(err)
	}
	for _, s := range []string{"dryer off", "dryer on, basement-door closed", "rest", "back", "", "lamp on", "dryer", ",,", "dryer on dryer off", "\x00"} {
		f.Add(s)
	}
	most := practice.Setting(1<<len(h.Switches()) - 1)
	f.Fuzz(func(t *testing.T, text string) {
		for _, now := range []practice.Setting{0, most} {
			got, err := h.Command(now, text)
			var bad *practice.SettingError
			if err != nil && !errors.As(err, &bad) {
				t.Errorf("%q: a refusal of its own kind: %v", text, err)
			}
			if got&^most != 0 {
				t.Errorf("%q: sets what the house has not: %b", text, got)
			}
		}
	})
}
