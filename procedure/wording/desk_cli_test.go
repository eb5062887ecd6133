package wording

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"cazward/procedure"
)

// TestDeskSays holds that both languages say the same things with the same
// figures in them, that nothing is only English, and that all of it is used.
func TestDeskSays(t *testing.T) {
	braces := regexp.MustCompile(`\{[a-z0-9]+\}`)
	alike := map[string]bool{}
	for k, e := range enDeskSays() {
		s, ok := esDeskSays()[k]
		if !ok {
			t.Errorf("%s has no Spanish", k)
			continue
		}
		a, b := braces.FindAllString(e, -1), braces.FindAllString(s, -1)
		slices.Sort(a)
		slices.Sort(b)
		if !slices.Equal(a, b) {
			t.Errorf("%s fills %v in English and %v in Spanish", k, a, b)
		}
		if e == s {
			alike[k] = true
		}
	}
	for k := range esDeskSays() {
		if _, ok := enDeskSays()[k]; !ok {
			t.Errorf("Spanish has %s, English has not", k)
		}
	}
	if len(alike) > 0 {
		t.Errorf("the same in both languages: %v", alike)
	}
	names, err := filepath.Glob("../../cmd/cazward/desk*.go")
	if err != nil || len(names) < 8 {
		t.Fatal(names, err)
	}
	code := ""
	for _, n := range append(names, "desk_cli.go") {
		b, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		code += string(b)
	}
	if i := strings.Index(code, "var enDeskSays"); i >= 0 { // not the catalogues themselves
		code = code[:i] + code[strings.Index(code, "// DeskSays gives"):]
	}
	for k := range enDeskSays() {
		stem, _, _ := strings.Cut(k, ".")
		if !strings.Contains(code, `"`+k+`"`) && !strings.Contains(code, `"`+stem+`."`) {
			t.Errorf("nothing says %s", k)
		}
	}
	for _, d := range append([]procedure.Decision{""}, procedure.Decisions...) {
		if w := DeskDecision(Spanish, d); w == string(d) || w == "" {
			t.Errorf("%q has no Spanish word", d)
		}
	}
	for part := range deskConfigs {
		if DeskConfig(English, part) != part || DeskConfig(Spanish, part) == part {
			t.Errorf("%q: %q, %q", part, DeskConfig(English, part), DeskConfig(Spanish, part))
		}
	}
}
