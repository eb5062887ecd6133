package report_test

import (
	"encoding/json"
	"math"
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"cazward/procedure"
	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/reporttest"
)

func section(t *testing.T, r report.Report, id string) report.Section {
	t.Helper()
	for _, s := range r.Sections {
		if s.ID == id {
			return s
		}
	}
	t.Fatalf("no section %q", id)
	return report.Section{}
}

// words is all text of a section on one line.
func words(s report.Section) string {
	var out []string
	for _, f := range s.Facts {
		out = append(out, f.Name, f.Value)
	}
	out = append(out, s.Notes...)
	for _, t := range s.Tables {
		out = append(out, t.Title)
		for _, row := range t.Rows {
			out = append(out, strings.Join(row.Cells, " | "))
		}
	}
	return strings.Join(out, "\n")
}

func row(t *testing.T, s report.Section, part string) report.Row {
	t.Helper()
	for _, tb := range s.Tables {
		for _, r := range tb.Rows {
			if strings.Contains(strings.Join(r.Cells, " | "), part) {
				return r
			}
		}
	}
	t.Fatalf("section %s has no row with %q:\n%s", s.ID, part, words(s))
	return report.Row{}
}

func TestDecisionPage(t *testing.T) {
	for _, c := range reporttest.All() {
		t.Run(c.Name, func(t *testing.T) {
			r := report.Build(c.In)
			d, j := r.Decision, c.In.Judgement
			if d.Code != j.Decision || d.Word != j.Decision.SignalWord() {
				t.Errorf("decision %q %q, want %q %q", d.Code, d.Word, j.Decision, j.Decision.SignalWord())
			}
			if want := wording.Headline("en", j.Decision, j.Phase, len(j.Missing)); d.Headline != want {
				t.Errorf("headline %q, want %q", d.Headline, want)
			}
			if len(d.Why) == 0 || len(d.Do) == 0 || d.PutBack.Text == "" || d.Holds == "" {
				t.Errorf("page 1 lacks a part: %+v", d)
			}
			if len(d.NotTested) != len(j.Missing)+len(j.NotAsked) {
				t.Errorf("%d not tested, want %d missing and %d not asked", len(d.NotTested), len(j.Missing), len(j.NotAsked))
			}
			n := 0
			for _, a := range d.Appliances {
				n += len(a.Names)
			}
			if n != len(j.Appliances) {
				t.Errorf("%d appliances with a status line, want %d", n, len(j.Appliances))
			}
			if got, want := r.Mark != "", c.In.Header.Practice != nil; got != want {
				t.Errorf("practice mark %v, want %v", got, want)
			}
			if open := slicesAny(d.Cautions, "not closed"); open == c.In.Closed {
				t.Errorf("caution on an open record: %v, closed %v", open, c.In.Closed)
			}
		})
	}
}

func slicesAny(list []string, part string) bool {
	for _, s := range list {
		if strings.Contains(s, part) {
			return true
		}
	}
	return false
}

// What a reader must not miss, by the sentence.
func TestHoldPage(t *testing.T) {
	d := report.Build(reporttest.Hold()).Decision
	if d.PutBack.Done != 10 || d.PutBack.Of != 11 || len(d.PutBack.Open) != 1 || !strings.Contains(d.PutBack.Open[0], "filters") {
		t.Errorf("put back: %+v", d.PutBack)
	}
	if len(d.Risks) != 1 || !strings.Contains(d.Risks[0], reporttest.Reason) || !strings.Contains(d.Risks[0], "floor-co-70") {
		t.Errorf("accepted risk is not in full: %q", d.Risks)
	}
	if d.Appliances[0].Status != procedure.OffUntilServiced || d.Appliances[0].Names[0] != "Water heater" {
		t.Errorf("most protective status first: %+v", d.Appliances)
	}
	if last := d.Do[len(d.Do)-1]; last != wording.DoFor("en", procedure.Hold, procedure.TestIn)[0] {
		t.Errorf("the last act is %q", last)
	}
	for i, s := range d.Do {
		if strings.ContainsRune(s, 0) || strings.Contains(strings.Join(d.Do[i+1:], "\n"), s) {
			t.Errorf("act %q holds a placeholder or stands twice", s)
		}
	}
}

// An appliance that must be off is never also told to run in some other way,
// and shutting it off comes first.
func TestOneStatusInActs(t *testing.T) {
	in := reporttest.Hold()
	in.Judgement.Findings[0].Status = procedure.MayRunNoFans
	do := report.Build(in).Decision.Do
	if !strings.HasPrefix(do[0], "Shut the Water heater off") || slicesAny(do, "all fans on") {
		t.Errorf("acts: %q", do)
	}
}

func TestNothingJudged(t *testing.T) {
	in := reporttest.Proceed()
	in.Judgement.Findings = nil
	if got := report.Build(in).Decision.Why[0]; got != "Nothing was judged, so nothing is known to be safe." {
		t.Errorf("burners and no findings: %q", got)
	}
	in.Observations.Appliances = nil
	if got := report.Build(in).Decision.Why[0]; got != "Nothing here burns fuel, so nothing had to vent." {
		t.Errorf("no burners: %q", got)
	}
}

// One act for many appliances names a few and points to the rest; its verb is
// never lost.
func TestManyNames(t *testing.T) {
	d := report.Build(reporttest.Incomplete()).Decision
	if got := d.Do[0]; !strings.Contains(got, "and 15 more, all named under APPLIANCES off and keep it off") || len(d.Appliances[0].Names) != 20 {
		t.Errorf("%q, %d names", got, len(d.Appliances[0].Names))
	}
}

func TestStatusUnknownIsNotMild(t *testing.T) {
	in := reporttest.Leave()
	d := report.Build(in).Decision
	in.Judgement.Appliances = append(in.Judgement.Appliances, procedure.ApplianceResult{ID: "a9", Name: "Range", Status: procedure.MayRun})
	d = report.Build(in).Decision
	var order []procedure.Status
	for _, a := range d.Appliances {
		order = append(order, a.Status)
	}
	if want := []procedure.Status{procedure.OffUntilServiced, procedure.StatusNone, procedure.MayRun}; !reflect.DeepEqual(order, want) {
		t.Errorf("order %q, want %q", order, want)
	}
}

func TestReadings(t *testing.T) {
	in := reporttest.Hold()
	s := section(t, report.Build(in), "readings")
	n := 0
	for _, ev := range in.Events {
		if a, ok := ev.Data.(*procedure.Answer); ok && a.Pressure != nil {
			n++
		}
	}
	spans, rows := 0, 0
	for _, r := range s.Tables[0].Rows {
		if r.Span {
			spans++
		} else {
			rows++
		}
	}
	if rows != n || spans != 8 {
		t.Errorf("%d readings under %d set-ups, want %d under 8", rows, spans, n)
	}
	// One typed in inches of water, and no longer in force.
	r := row(t, s, "inH2O; mean -0.0043")
	if want := "not used, taken again at line 22"; !strings.Contains(r.Cells[2], want) {
		t.Errorf("cell %q, want %q in it", r.Cells[2], want)
	}
	// -0.004, -0.008, -0.001 inH2O of 249.08891 Pa: mean -1.0794, spread 1.7436.
	if r.Cells[4] != "-1.08" || r.Cells[5] != "1.74" {
		t.Errorf("mean %s and spread %s Pa, want -1.08 and 1.74", r.Cells[4], r.Cells[5])
	}
	if w := row(t, s, "worst-case reading"); w.Bold == 0 || w.Cells[4] != "-3.52" {
		t.Errorf("worst reading %+v", w)
	}
	if !strings.Contains(words(s), "bath fan, hood, dryer ON; air handler ON; doors SHUT: bedroom 2, bath; CAZ door SHUT") {
		t.Errorf("no full set-up in words:\n%s", words(s))
	}
}

func TestZones(t *testing.T) {
	s := section(t, report.Build(reporttest.Hold()), "zones")
	r := row(t, s, "-2.58")
	for i, want := range []string{"Basement", "-0.94", "-3.52", "-2.58", "0.52", "-3.0, pa-common-natural (from memory", "TOO CLOSE"} {
		if !strings.HasPrefix(r.Cells[i], want) {
			t.Errorf("cell %d is %q, want %q", i, r.Cells[i], want)
		}
	}
	tr := s.Traces[0]
	if len(tr.Points) != 7 || len(tr.Limits) != 1 || math.Abs(tr.Limits[0].Pa+3.94) > 1e-9 || math.Abs(*tr.Worst+3.52) > 1e-9 {
		t.Errorf("trace %+v", tr)
	}
	// What was never measured has no figure and no verdict of the scheme.
	s = section(t, report.Build(reporttest.Leave()), "zones")
	if got := strings.Join(row(t, s, "Basement").Cells, "|"); got != "Basement|not tested|not tested|not tested|not tested|-|not evaluated" {
		t.Errorf("unmeasured zone: %q", got)
	}
	in := reporttest.Leave()
	in.Rules.PressureSet = false
	if got := row(t, section(t, report.Build(in), "zones"), "Basement").Cells[5]; got != "this scheme sets no Pa limit" {
		t.Errorf("scheme without a pressure rule: %q", got)
	}
}

func TestAppliances(t *testing.T) {
	s := section(t, report.Build(reporttest.Hold()), "appliances")
	wh, fu := s.Tables[1].Rows[0].Cells, s.Tables[1].Rows[1].Cells
	// 48 ppm at 7.0 % O2: 48*20.9/13.9 = 72.2 air-free; 18 at 6.2: 25.6.
	for _, c := range []struct{ got, want string }{
		{wh[1], "still spilling at 71 s (limit 60 s): FAIL; vent cold"}, {wh[2], "drawn in at 66 s (limit 60 s): FAIL"}, {wh[3], "not read: spillage failed"},
		{wh[7], "26"}, {wh[8], "off until serviced"}, {fu[1], "drawn in at 12 s (limit 60 s): pass; vent warm"}, {fu[3], "-3.0 +/- 0.3 (limit -1.9 Pa): pass"},
		{fu[5], "48, 31 ppm; CO over 25 to 100 ppm; spillage pass, draft pass: leads to refer"}, {fu[6], "7.0, 7.4"}, {fu[7], "72"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	s = section(t, report.Build(reporttest.Leave()), "appliances")
	if got := s.Tables[1].Rows[0].Cells[1]; got != "not tested" {
		t.Errorf("spillage of what was not tested: %q", got)
	}
}

func TestTrail(t *testing.T) {
	r := report.Build(reporttest.Hold())
	for _, c := range []struct{ id, want string }{
		{"corrections", "CO 480 ppm"}, {"corrections", "CO 48 ppm"}, {"corrections", "typed one zero too many"}, {"corrections", "R. Ode"},
		{"doubts", "hose end moved out of the wind"}, {"skips", "CFM50"}, {"notes", "dryer stops by itself"}, {"instruments", "G-0042 | 2026-03-02"},
		{"room-air", "the tenant, at the door"}, {"record", "signature, not checked here"}, {"record", reporttest.Hash}, {"figures", "as shipped"},
		{"figures", "superseded, still in use"}, {"checks", "(roof iced over)"},
	} {
		if got := words(section(t, r, c.id)); !strings.Contains(got, c.want) {
			t.Errorf("section %s lacks %q:\n%s", c.id, c.want, got)
		}
	}
}

// A figure from memory stays so until a person has marked its row.
func TestEvidence(t *testing.T) {
	in := reporttest.Hold()
	f := section(t, report.Build(in), "figures")
	if got := row(t, f, "pa-common-natural").Cells[3]; got != "from memory - not checked against the document" {
		t.Errorf("unchecked row: %q", got)
	}
	if got := row(t, f, "spill-60").Cells[3]; got != "checked against the document by M. Vale, 2026-10-01 (2005)" {
		t.Errorf("checked row: %q", got)
	}
	if got := row(t, f, "look-soot").Cells[2]; !strings.Contains(got, "EDITED") {
		t.Errorf("edited row: %q", got)
	}
	in.Rules.Pressure[0].Checked = &procedure.Checked{By: "A. Nobody", Date: "2026-11-01", Edition: "2005"}
	if got := row(t, section(t, report.Build(in), "figures"), "pa-common-natural").Cells[3]; !strings.Contains(got, "A. Nobody") {
		t.Errorf("row marked by a person: %q", got)
	}
	in.Rules = procedure.Rules{} // a caller without rules loses no warning
	if got := row(t, section(t, report.Build(in), "figures"), "pa-common-natural").Cells[3]; !strings.Contains(got, "from memory") {
		t.Errorf("row without rules: %q", got)
	}
}

func TestCompare(t *testing.T) {
	s := section(t, report.Build(reporttest.Proceed()), "compare")
	if got := strings.Join(row(t, s, "Basement").Cells, "|"); got != "Basement, net|-2.6 Pa +/- 0.5|-1.2 Pa +/- 0.5|+1.4 Pa" {
		t.Error(got)
	}
	in := reporttest.Proceed()
	in.Observations.Appliances = in.Observations.Appliances[:1]
	if got := row(t, section(t, report.Build(in), "compare"), "Furnace").Cells[2]; !strings.Contains(got, "gone") {
		t.Errorf("an appliance that is gone: %q", got)
	}
	in.Prior = nil
	if got := words(section(t, report.Build(in), "compare")); !strings.Contains(got, "cedar-14-in") {
		t.Errorf("earlier record not at hand: %q", got)
	}
}

// The lines of the danger gate name the danger, so "ok" must not list them as
// if they were so.
func TestDangerGate(t *testing.T) {
	in := reporttest.Hold()
	gate := func(state procedure.SeenState) report.Row {
		in.Observations.Checks = []procedure.Check{{Key: "arrive/danger/alarm", Code: "alarm", Stage: procedure.StageArrive, State: state}}
		return section(t, report.Build(in), "checks").Tables[0].Rows[0]
	}
	if r := gate(procedure.SeenOK); !strings.HasSuffix(r.Cells[2], ": NOT SO") || r.Cells[1] != "none" {
		t.Errorf("no alarm: %q", r.Cells)
	}
	if r := gate(procedure.SeenWrong); !strings.HasSuffix(r.Cells[1], ": IT IS SO") {
		t.Errorf("alarm: %q", r.Cells)
	}
}

func TestPutBackNeverAnswered(t *testing.T) {
	in := reporttest.Incomplete()
	p := report.Build(in).Decision.PutBack
	if p.Done != 9 || p.Of != 10 || len(p.Open) != 1 || !strings.Contains(p.Open[0], "hoses") {
		t.Errorf("a skipped line must be open: %+v", p)
	}
	in = reporttest.Leave()
	if p := report.Build(in).Decision.PutBack; p.Of != 0 || !strings.Contains(p.Text, "NOT RECORDED") {
		t.Errorf("never answered: %+v", p)
	}
}

// An input without anything makes a report that says so, and nothing passes.
func TestEmpty(t *testing.T) {
	r := report.Build(report.Input{})
	if !strings.HasPrefix(r.Decision.Headline, "NO RESULT") || r.Decision.Word != "WARNING" || r.Hash != "not closed" {
		t.Errorf("empty input: %q %q %q", r.Decision.Word, r.Decision.Headline, r.Hash)
	}
	for _, s := range r.Sections {
		if strings.Contains(words(s), "pass") {
			t.Errorf("section %s of nothing speaks of a pass: %q", s.ID, words(s))
		}
	}
}

func TestReopenedIsNotClosed(t *testing.T) {
	in := reporttest.Hold()
	in.Closed = false
	r := report.Build(in)
	if r.Hash != "not closed" || !strings.Contains(words(section(t, r, "record")), "signed an earlier state") {
		t.Errorf("reopened record: %q\n%s", r.Hash, words(section(t, r, "record")))
	}
}

func TestBuildChangesNothing(t *testing.T) {
	for _, c := range reporttest.All() {
		before, err := json.Marshal(c.In)
		if err != nil {
			t.Fatal(err)
		}
		a, b := report.Build(c.In), report.Build(c.In)
		after, _ := json.Marshal(c.In)
		if string(before) != string(after) {
			t.Errorf("%s: Build changed its input", c.Name)
		}
		if !reflect.DeepEqual(a, b) {
			t.Errorf("%s: two reports of one input differ", c.Name)
		}
	}
}

func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"plain": "plain", "": "", "  a \t b\r\n c  ": "a b c", "🔥": "\uFFFD", "a\xffb": "a\uFFFDb", "a\x00b\x1b[31m": "a\uFFFDb\uFFFD[31m", "safe\u202eton": "safe\uFFFDton",
		"a\u2066b\u2069": "a\uFFFDb\uFFFD", "x\u200dy\ufe0fz": "xyz", "דוד": "דוד", "Ñandú −3 ≤ 4 µ": "Ñandú −3 ≤ 4 µ", "a\u2028b": "a b", "a\u00a0b": "a b", "\u061c\u200f": "\uFFFD\uFFFD",
	} {
		if got := report.Clean(in); got != want {
			t.Errorf("Clean(%q) = %q, want %q", in, got, want)
		}
	}
}

func FuzzClean(f *testing.F) {
	f.Add("a\xff\u202e🔥 b")
	f.Fuzz(func(t *testing.T, s string) {
		c := report.Clean(s)
		if !utf8.ValidString(c) || report.Clean(c) != c {
			t.Errorf("Clean(%q) = %q is not valid or not stable", s, c)
		}
		for _, r := range c {
			if r > 0xFFFF || unicode.IsControl(r) || r >= 0x202A && r <= 0x202E {
				t.Errorf("Clean(%q) keeps %U", s, r)
			}
		}
	})
}

// Every label that the code names exists, is used, and asks for the same
// arguments in both languages.
func TestLabels(t *testing.T) {
	labels := report.Labels()
	used := map[string]bool{}
	call := regexp.MustCompile(`(?:\.t|Label)\("([a-z0-9-]+)"[,)]|\.or\([^\n]*?, "([a-z-]+)"\)`)
	anyText := regexp.MustCompile(`"(>?[a-z][a-z0-9-]*)"`)
	for _, f := range []string{"report.go", "page1.go", "measured.go", "trail.go", "pdf/pdf.go", "pdf/page1.go", "pdf/table.go", "pdf/draw.go", "text/text.go", "charts.go", "compare.go", "redact.go", "chart/chart.go", "html/html.go", "sealing.go", "air.go"} {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range call.FindAllStringSubmatch(string(b), -1) {
			if _, ok := labels[m[1]+m[2]]; !ok {
				t.Errorf("%s: no label %q", f, m[1]+m[2])
			}
		}
		for _, m := range anyText.FindAllStringSubmatch(string(b), -1) {
			used[strings.TrimPrefix(m[1], ">")] = true
		}
	}
	made := regexp.MustCompile(`^(spill|doubt|source|sign|v|o|vent-cold|co-chart|c-ppm|phases|basis|weak|seal|air)-`) // keys put together from a code
	verb := regexp.MustCompile(`%(\[\d\])?[a-z%]`)
	for k, l := range labels {
		if !used[k] && !made.MatchString(k) && k != "at-least" && k != "at-most" {
			t.Errorf("label %q is not used", k)
		}
		if l[0] == "" || l[1] == "" {
			t.Errorf("label %q lacks a language", k)
		}
		if a, b := strings.Join(verb.FindAllString(l[0], -1), ""), strings.Join(verb.FindAllString(l[1], -1), ""); a != b {
			t.Errorf("label %q asks for %q in English, %q in Spanish", k, a, b)
		}
	}
	for _, v := range []procedure.Verdict{procedure.NotEvaluated, procedure.Pass, procedure.TooClose, procedure.Fail, procedure.NotApplicable} {
		if _, ok := labels["v-"+v.String()]; !ok {
			t.Errorf("verdict %q has no words", v)
		}
	}
}

// No report shows a bare key or a format fault, in either language.
func TestNoBareKeys(t *testing.T) {
	for _, lang := range []wording.Lang{wording.English, wording.Spanish} {
		for _, c := range reporttest.All() {
			c.In.Lang = lang
			r := report.Build(c.In)
			all := strings.Join(append(append([]string{r.Title, r.Decision.PutBack.Text}, r.Decision.Cautions...), r.Decision.NotTested...), "\n")
			for _, s := range r.Sections {
				all += "\n" + s.Title + "\n" + words(s)
				for _, tb := range s.Tables {
					for _, col := range tb.Columns {
						all += "\n" + col.Head
					}
				}
			}
			for _, line := range strings.Split(all, "\n") {
				for _, cell := range strings.Split(line, " | ") {
					if strings.Contains(cell, "%!") || regexp.MustCompile(`^(c|s|n|t|v|o)-[a-z-]+$`).MatchString(cell) {
						t.Errorf("%s %s: %q", lang, c.Name, cell)
					}
				}
			}
		}
	}
}

// The words that the report takes from the catalogue by code are there.
func TestCodesHaveWords(t *testing.T) {
	for _, code := range []string{"draft_hood", "barometric", "vent_damper", "outside", "orphaned", "test_hole", "high_static", "top_inducer", "!inside", "!can_be_fired"} {
		if got := wording.ItemText("en", code); got == code || !strings.Contains(got, " ") {
			t.Errorf("code %q has no words: %q", code, got)
		}
	}
}

// The signal word speaks the language of the report; a decision without one is
// never a notice.
func TestSignalWords(t *testing.T) {
	for d, want := range map[procedure.Decision][2]string{procedure.Leave: {"DANGER", "PELIGRO"}, procedure.Hold: {"WARNING", "ADVERTENCIA"}, procedure.Incomplete: {"WARNING", "ADVERTENCIA"}, procedure.Refer: {"CAUTION", "PRECAUCIÓN"}, procedure.Proceed: {"NOTICE", "AVISO"}} {
		for i, lang := range []wording.Lang{wording.English, wording.Spanish} {
			in := reporttest.Hold()
			in.Judgement.Decision, in.Lang = d, lang
			if got := report.Build(in).Decision.Word; got != want[i] {
				t.Errorf("%s in %s: %q, want %q", d, lang, got, want[i])
			}
			for form, b := range forms(t, in) {
				if (form == "txt" || form == "html") && !strings.Contains(string(b), want[i]) || form == "xml" && !strings.Contains(string(b), want[0]) {
					t.Errorf("%s in %s: no %q in %s", d, lang, want[i], form)
				}
			}
		}
	}
	in := reporttest.Hold()
	in.Judgement.Decision = procedure.NoDecision
	if w := report.Build(in).Decision.Word; w == "NOTICE" {
		t.Errorf("no decision is a %q", w)
	}
}
