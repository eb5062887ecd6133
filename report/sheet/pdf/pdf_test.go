package pdf

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/wording"
	"cazward/report/sheet"
)

func build(t *testing.T, scheme string, l wording.Lang) sheet.Sheet {
	t.Helper()
	set, err := limits.Load(limits.Options{Scheme: scheme})
	if err != nil {
		t.Fatal(err)
	}
	return sheet.Build(sheet.Input{Plan: set.Plan(procedure.TestIn), Rules: set.Rules(), Phase: procedure.TestIn, Lang: l})
}

func write(t *testing.T, s sheet.Sheet, size string) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, s, Options{Size: size}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestSameBytes(t *testing.T) {
	s := build(t, "graded-2005", wording.Spanish)
	a, b := write(t, s, "a4"), write(t, s, "a4")
	if !bytes.Equal(a, b) {
		t.Error("the same sheet gives other bytes")
	}
	if !bytes.Contains(a, []byte("/Lang (es)")) {
		t.Error("the language is not set")
	}
	if err := Write(&bytes.Buffer{}, s, Options{Size: "a5"}); err == nil {
		t.Error("size a5 was taken")
	}
}

// All fields and questions of every scheme can be read off the paper, in both
// languages and sizes, and no word stands outside of its margins.
func TestEverythingIsOnPaper(t *testing.T) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("pdftotext is not there")
	}
	word := regexp.MustCompile(`<word xMin="([0-9.]+)" yMin="([0-9.]+)" xMax="([0-9.]+)" yMax="([0-9.]+)">([^<]*)</word>`)
	paper := regexp.MustCompile(`<page width="([0-9.]+)" height="([0-9.]+)">`)
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, scheme := range limits.Names() {
		for _, l := range []wording.Lang{wording.English, wording.Spanish} {
			for _, size := range []string{"letter", "a4"} {
				s := build(t, scheme, l)
				file := filepath.Join(t.TempDir(), "s.pdf")
				if err := os.WriteFile(file, write(t, s, size), 0o600); err != nil {
					t.Fatal(err)
				}
				raw, err := exec.Command("pdftotext", "-layout", file, "-").Output()
				if err != nil {
					t.Fatal(err)
				}
				text := strings.Join(strings.Fields(string(raw)), " ")
				for _, p := range s.Parts {
					for _, r := range p.Rows {
						for _, want := range append([]string{r.Field, r.Ask}, r.Choices...) {
							for _, w := range strings.Fields(want) {
								if !strings.Contains(text, w) {
									t.Errorf("%s %s %s: the sheet does not show %q of %q", scheme, l, size, w, want)
								}
							}
						}
						for _, it := range r.Items {
							if first := strings.Fields(it.Text)[0]; !strings.Contains(text, first) {
								t.Errorf("%s %s %s: %q is not there", scheme, l, size, it.Text)
							}
						}
					}
				}
				if n := strings.Count(text, "..."); n > 0 {
					t.Errorf("%s %s %s: %d texts are cut", scheme, l, size, n)
				}
				box, err := exec.Command("pdftotext", "-bbox", file, "-").Output()
				if err != nil {
					t.Fatal(err)
				}
				pages := strings.Split(string(box), "<page ")[1:]
				if len(pages) < 6 || len(pages) > 16 {
					t.Errorf("%s %s %s: %d pages", scheme, l, size, len(pages))
				}
				for i, p := range pages {
					m := paper.FindStringSubmatch("<page " + p)
					right, low := num(m[1])-30, num(m[2])-16
					for _, w := range word.FindAllStringSubmatch(p, -1) {
						if num(w[1]) < 30 || num(w[3]) > right+2 || num(w[4]) > low || num(w[2]) < 18 {
							t.Errorf("%s %s %s: page %d: %q stands at %s,%s to %s,%s of %s x %s", scheme, l, size, i+1, w[5], w[1], w[2], w[3], w[4], m[1], m[2])
						}
					}
				}
				if _, err := exec.LookPath("qpdf"); err == nil {
					if out, err := exec.Command("qpdf", "--check", file).CombinedOutput(); err != nil {
						t.Errorf("qpdf: %v: %s", err, out)
					}
				}
			}
		}
	}
}
