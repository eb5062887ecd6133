package text_test

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"cazward/report"
	"cazward/report/reporttest"
	"cazward/report/text"
)

var update = flag.Bool("update", false, "write the golden files")

func write(t *testing.T, r report.Report) string {
	t.Helper()
	var b bytes.Buffer
	if err := text.Write(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestGolden(t *testing.T) {
	for _, c := range reporttest.All() {
		if c.Name == "incomplete" { // 300 readings of odd names: TestLines looks at them
			continue
		}
		path := filepath.Join("testdata", c.Name+".golden")
		got := write(t, report.Build(c.In))
		if *update {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
		for i := range max(len(g), len(w)) {
			if i >= len(g) || i >= len(w) || g[i] != w[i] {
				t.Errorf("%s line %d differs; after a look at it: go test ./report/... -update\n got %q\nwant %q", path, i+1, at(g, i), at(w, i))
				break
			}
		}
	}
}

func at(list []string, i int) string {
	if i < len(list) {
		return list[i]
	}
	return "(no line)"
}

func TestLines(t *testing.T) {
	for _, c := range reporttest.All() {
		r := report.Build(c.In)
		got := write(t, r)
		if got != write(t, r) {
			t.Errorf("%s: two writes differ", c.Name)
		}
		for i, line := range strings.Split(got, "\n") {
			if n := len([]rune(line)); n > text.Width {
				t.Errorf("%s line %d has %d columns: %q", c.Name, i+1, n, line)
			}
			if strings.TrimRight(line, " ") != line {
				t.Errorf("%s line %d ends in a space", c.Name, i+1)
			}
			for _, ch := range line {
				if unicode.IsControl(ch) || ch > 0xFFFF {
					t.Errorf("%s line %d holds %U", c.Name, i+1, ch)
				}
			}
		}
	}
}

// The text carries all that page 1 and every table row say, in that order.
func TestComplete(t *testing.T) {
	for _, c := range reporttest.All() {
		r := report.Build(c.In)
		got := strings.Join(strings.Fields(write(t, r)), " ")
		d := r.Decision
		want := append([]string{d.Word, d.Headline}, d.Why...)
		for _, s := range r.Sections {
			want = append(want, strings.ToUpper(s.Title))
		}
		pos := 0
		for _, w := range want {
			i := strings.Index(got[pos:], w)
			if i < 0 {
				t.Fatalf("%s: %q does not come after what stands before it", c.Name, w)
			}
			pos += i + len(w)
		}
		var every []string
		every = append(append(append(append(every, d.Do...), d.NotTested...), d.Risks...), d.Cautions...)
		every = append(append(every, d.PutBack.Open...), d.PutBack.Text, d.Holds, r.Hash)
		for _, s := range r.Sections {
			for _, tb := range s.Tables {
				for _, row := range tb.Rows {
					every = append(every, row.Cells...)
				}
			}
		}
		squeezed := strings.ReplaceAll(got, " ", "")
		for _, w := range every {
			if !strings.Contains(squeezed, strings.ReplaceAll(w, " ", "")) {
				t.Errorf("%s lacks %q", c.Name, w)
			}
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestWriteError(t *testing.T) {
	if err := text.Write(full{}, report.Build(reporttest.Hold())); err == nil || err.Error() != "disk full" {
		t.Errorf("error %v", err)
	}
}
