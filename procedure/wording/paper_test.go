package wording_test

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/wording"
	"cazward/report/sheet"
)

// Every text of the field sheet stands on the sheet of some scheme, in both
// languages; what stands on none is dead weight for translators.
func TestSheetUsesItsTexts(t *testing.T) {
	// Words that a row of a limit table may need and that no shipped row does.
	spare := map[string]bool{}
	for _, k := range strings.Fields("checked decision.incomplete vent.unvented fuel.wood fuel.pellets fuel.oil not.orphaned not.outside not.top-inducer is.orphaned is.outside is.cold not.cold limit.two act.hold out.fail-natural any") {
		spare["sheet."+k] = true
	}
	for _, l := range []wording.Lang{wording.English, wording.Spanish} {
		all := ""
		for _, scheme := range limits.Names() {
			set, err := limits.Load(limits.Options{Scheme: scheme})
			if err != nil {
				t.Fatal(err)
			}
			for _, units := range []string{"us", "si"} {
				s := sheet.Build(sheet.Input{Plan: set.Plan(procedure.TestIn), Rules: set.Rules(), Phase: procedure.TestIn, Lang: l, Units: units})
				var b bytes.Buffer
				if err := sheet.WriteYAML(&b, s); err != nil {
					t.Fatal(err)
				}
				all += strings.ReplaceAll(b.String(), "#", " ") + strings.Join(s.How, " ") + s.Foot + s.PageOf + s.Title + s.Sub + strings.Join(s.Blanks, " ") + " "
				for _, p := range s.Parts {
					all += p.Title + " " + p.Copy + " "
					for _, r := range p.Rows {
						all += strings.Join(append(append(append(append([]string{r.Ask}, r.Blanks...), r.Lines...), r.Columns...), r.How...), " ") + " "
						for _, it := range r.Items {
							all += it.When + " "
						}
					}
				}
			}
		}
		seen := strings.NewReplacer("\u00b7", "").Replace(all)
		seen = strings.Join(strings.Fields(seen), " ")
		n := 0
		for k, v := range wording.TextsUnder(l, "sheet.") {
			for _, piece := range regexp.MustCompile(`\{[a-z]+\}|\||\n`).Split(v, -1) {
				piece = strings.Join(strings.Fields(strings.ReplaceAll(piece, "#", " ")), " ")
				if len(piece) < 3 || spare[k] {
					continue
				}
				n++
				if !strings.Contains(seen, piece) {
					t.Errorf("%s: %s stands on no sheet: %q", l, k, piece)
				}
			}
		}
		if n < 200 {
			t.Errorf("%s: only %d texts were looked for", l, n)
		}
	}
}

// source is the text of all files that the patterns name, tests left out.
func source(t *testing.T, patterns ...string) string {
	t.Helper()
	src := ""
	for _, pattern := range patterns {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v", pattern, err)
		}
		for _, f := range files {
			if strings.HasSuffix(f, "_test.go") {
				continue
			}
			b, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			src += string(b)
		}
	}
	return src
}

// The texts of the notice and what it says of findings are named by the code
// that looks them up, or are the code of a finding that the schemes or the
// judge can make.
func TestNoticeUsesItsTexts(t *testing.T) {
	src := source(t, "household.go", "../../report/notice/*.go", "../evaluation/*.go", "../checklist.go", "../event.go", "../../limits/schemes/*.yaml")
	named := func(code string) bool {
		return regexp.MustCompile(`["' ]` + regexp.QuoteMeta(code) + `["'\n]`).MatchString(src)
	}
	for _, prefix := range []string{"home.", "notice."} {
		for k := range wording.TextsUnder(wording.English, prefix) {
			code := strings.TrimPrefix(k, prefix)
			if named(code) {
				continue
			}
			// Put together from a stem and a code: "mean." + decision, "net" + "-close".
			found := false
			for i := range code {
				if (code[i] == '.' || code[i] == '-') && (named(code[:i+1]) || named(code[:i]) && named(code[i:])) && (named(code[i+1:]) || named(code[i:])) {
					found = true
				}
			}
			if !found {
				t.Errorf("nothing says %s", k)
			}
		}
	}
}

// Every text of a practice house is named by the code that looks it up, whole
// or by a stem and a code that the house or the rubric knows.
func TestDrillUsesItsTexts(t *testing.T) {
	src := source(t, "../practice/*.go", "../../cmd/cazward/d*.go", "../../cmd/cazward/session.go", "../../cmd/cazward/view.go", "../checklist.go", "../home.go")
	n := 0
	for k := range wording.TextsUnder(wording.English, "drill.") {
		n++
		code := strings.TrimPrefix(k, "drill.")
		stem, rest, cut := strings.Cut(code, ".")
		if strings.Contains(src, `"`+code+`"`) || cut && strings.Contains(src, `"`+stem+`."`) && strings.Contains(src, `"`+strings.TrimPrefix(rest, "!")+`"`) {
			continue
		}
		t.Errorf("nothing says %s", k)
	}
	if n < 150 {
		t.Errorf("only %d texts were looked for", n)
	}
}
