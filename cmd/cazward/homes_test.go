package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"gopkg.in/yaml.v3"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/sequence"
)

const (
	homesDir = "../../testdata/homes"
	allClear = "birch-21-all-clear"
)

// expectedHome is what the rules demand of an invented home. Its figures were
// worked out by hand; the sums stand in the comments of its file.
type expectedHome struct {
	Decision   string `yaml:"decision"`
	Appliances []struct {
		Name   string `yaml:"name"`
		Status string `yaml:"status"`
	} `yaml:"appliances"`
	Findings  []expectedFinding `yaml:"findings"`
	Missing   []string          `yaml:"missing"`
	WorstCase []struct {
		Zone        string   `yaml:"zone"`
		Baseline    *float64 `yaml:"baseline"`
		Reading     *float64 `yaml:"reading"`
		Net         *float64 `yaml:"net"`
		Uncertainty *float64 `yaml:"uncertainty"`
	} `yaml:"worst_case"`
}

type expectedFinding struct {
	Rule        string   `yaml:"rule"`
	Subject     string   `yaml:"subject"`
	Verdict     string   `yaml:"verdict"`
	Severity    string   `yaml:"severity"`
	Value       *float64 `yaml:"value"`
	Limit       *float64 `yaml:"limit"`
	Uncertainty *float64 `yaml:"uncertainty"`
	Row         string   `yaml:"row"`
}

func (x expectedFinding) String() string {
	s := fmt.Sprintf("%s %q %s %s row %q", x.Rule, x.Subject, x.Verdict, x.Severity, x.Row)
	for _, p := range []struct {
		name string
		v    *float64
	}{{"value", x.Value}, {"limit", x.Limit}, {"U", x.Uncertainty}} {
		if p.v != nil {
			s += fmt.Sprintf(" %s %.4f", p.name, *p.v)
		}
	}
	return s
}

// near: hand sums carry four decimals, and 0.005 Pa is finer than any gauge.
func near(want, got *float64) bool {
	return want == nil || got != nil && math.Abs(*want-*got) <= 0.005
}

func (x expectedFinding) is(f procedure.Finding) bool {
	return x.Rule == f.Rule && x.Subject == f.Subject && x.Verdict == f.Verdict.String() && x.Severity == string(f.Severity) &&
		(x.Row == "" || x.Row == f.Row) && near(x.Value, f.Value) && near(x.Limit, f.Limit) && near(x.Uncertainty, f.Uncertainty)
}

func decodeExpected(data []byte) (expectedHome, error) {
	var x expectedHome
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	if err := d.Decode(&x); err != nil {
		return x, err
	}
	if err := d.Decode(&expectedHome{}); !errors.Is(err, io.EOF) {
		return x, errors.New("a second document")
	}
	if x.Decision == "" {
		return x, errors.New("no decision")
	}
	return x, nil
}

func shown(f procedure.Finding) string {
	return expectedFinding{f.Rule, f.Subject, f.Verdict.String(), string(f.Severity), f.Value, f.Limit, f.Uncertainty, f.Row}.String()
}

// compare reports where a judgement differs from what the rules demand: each
// demanded finding must be there, and none graver than proceed beside them.
func compare(t *testing.T, x expectedHome, j procedure.Judgement) {
	t.Helper()
	if string(j.Decision) != x.Decision {
		t.Errorf("decision %s, want %s", j.Decision, x.Decision)
	}
	for _, a := range x.Appliances {
		found := false
		for _, g := range j.Appliances {
			if g.Name == a.Name {
				found = true
				if string(g.Status) != a.Status {
					t.Errorf("%s: status %q, want %q", a.Name, g.Status, a.Status)
				}
			}
		}
		if !found {
			t.Errorf("no appliance %q in %v", a.Name, j.Appliances)
		}
	}
	used := make([]bool, len(j.Findings))
	for _, want := range x.Findings {
		found := false
		for i, f := range j.Findings {
			if !used[i] && !found && want.is(f) {
				used[i], found = true, true
			}
		}
		if !found {
			t.Errorf("no finding like: %s", want)
		}
	}
	for i, f := range j.Findings {
		if !used[i] && f.Severity != procedure.Proceed {
			t.Errorf("not demanded: %s (%s)", shown(f), f.Detail)
		}
	}
	var missing []string
	for _, m := range j.Missing {
		missing = append(missing, m.Step)
	}
	sort.Strings(missing)
	want := append([]string(nil), x.Missing...)
	sort.Strings(want)
	if !reflect.DeepEqual(missing, want) {
		t.Errorf("missing %q, want %q", missing, want)
	}
	if len(j.WorstCase) != len(x.WorstCase) {
		t.Fatalf("%d worst cases, want %d", len(j.WorstCase), len(x.WorstCase))
	}
	for i, w := range x.WorstCase {
		g := j.WorstCase[i]
		if g.Zone != w.Zone {
			t.Errorf("worst case %d is of %q, want %q", i, g.Zone, w.Zone)
		}
		for _, p := range []struct {
			name      string
			want, got *float64
		}{{"baseline", w.Baseline, g.Baseline}, {"reading", w.Reading, g.Reading}, {"net", w.Net, g.Net}, {"uncertainty", w.Uncertainty, g.Uncertainty}} {
			if p.want == nil {
				t.Errorf("%s: the expectation has no %s", w.Zone, p.name)
			} else if !near(p.want, p.got) {
				got := "none"
				if p.got != nil {
					got = fmt.Sprintf("%.4f", *p.got)
				}
				t.Errorf("%s: %s %s, want %.4f", w.Zone, p.name, got, *p.want)
			}
		}
	}
}

// homeEnv is a world with a clock that stands and no terminal.
func homeEnv() *env {
	return &env{in: strings.NewReader(""), out: io.Discard, err: io.Discard, plain: true,
		now:  func() time.Time { return time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC) },
		mono: func() int64 { return 0 }, id: func() string { return "0123456789abcdef" }}
}

type invented struct {
	name, path string
	data       []byte
	want       expectedHome
}

func inventedHomes(t *testing.T) []invented {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(homesDir, "*.sheet.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if len(paths) < 12 {
		t.Fatalf("%d invented homes in %s, want 12 or more", len(paths), homesDir)
	}
	var out []invented
	for _, p := range paths {
		base := strings.TrimSuffix(filepath.Base(p), ".sheet.yaml")
		data, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := os.ReadFile(filepath.Join(homesDir, base+".expected.yaml"))
		if err != nil {
			t.Fatal(err)
		}
		want, err := decodeExpected(raw)
		if err != nil {
			t.Fatalf("%s.expected.yaml: %v", base, err)
		}
		out = append(out, invented{base, p, data, want})
	}
	return out
}

// kept transcribes a sheet and judges the record that was written.
func kept(t *testing.T, h invented) *loaded {
	t.Helper()
	out := filepath.Join(t.TempDir(), "home.cazward")
	j, err := transcribe(homeEnv(), h.path, h.data, out, nil)
	if err != nil {
		t.Fatal(err)
	}
	l, err := load(out, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	if !l.rec.Closed {
		t.Errorf("the record is not closed")
	}
	same(t, "the record as written", l.j, j)
	return l
}

func same(t *testing.T, what string, got, want procedure.Judgement) {
	t.Helper()
	if got.Decision != want.Decision {
		t.Errorf("%s: decision %s, want %s", what, got.Decision, want.Decision)
	}
	for _, p := range []struct {
		name      string
		got, want any
	}{{"findings", got.Findings, want.Findings}, {"missing", got.Missing, want.Missing}, {"worst case", got.WorstCase, want.WorstCase},
		{"appliances", got.Appliances, want.Appliances}, {"doubts", got.Doubts, want.Doubts}} {
		if !reflect.DeepEqual(p.got, p.want) {
			t.Errorf("%s: %s\n got %+v\nwant %+v", what, p.name, p.got, p.want)
		}
	}
}

// unnumbered is a judgement without the numbers of the events it rests on, an
// answer less, and those after it have other numbers; and without the forecast,
// which is made of wanted facts alone.
func unnumbered(j procedure.Judgement) procedure.Judgement {
	j.Findings = slices.DeleteFunc(slices.Clone(j.Findings), func(f procedure.Finding) bool { return f.Rule == "after-sealing" })
	return withoutNumbers(j)
}

// withoutNumbers is a judgement without the numbers of the events it rests on:
// typed, a home has events that its sheet has not.
func withoutNumbers(j procedure.Judgement) procedure.Judgement {
	j.Findings, j.WorstCase, j.Doubts = slices.Clone(j.Findings), slices.Clone(j.WorstCase), slices.Clone(j.Doubts)
	for i := range j.Findings {
		j.Findings[i].About = nil
	}
	for i := range j.WorstCase {
		j.WorstCase[i].About = nil
	}
	for i := range j.Doubts {
		j.Doubts[i].About = nil
	}
	return j
}

func TestInventedHomes(t *testing.T) {
	outcomes := map[procedure.Decision]bool{}
	for _, h := range inventedHomes(t) {
		t.Run(h.name, func(t *testing.T) {
			l := kept(t, h)
			compare(t, h.want, l.j)
			outcomes[procedure.Decision(h.want.Decision)] = true
			for _, n := range l.obs.Notes {
				if strings.HasPrefix(n, "on the sheet, not asked") {
					t.Errorf("an answer that no step asked for: %s", n)
				}
			}
			judged, wanted := typing(t, h)
			same(t, "typing the sheet", withoutNumbers(judged), withoutNumbers(l.j))
			if len(wanted) == 0 {
				t.Errorf("the walk asked nothing that is only wanted")
			}
		})
	}
	if len(outcomes) != len(procedure.Decisions) {
		t.Errorf("the homes show the outcomes %v, want all of %v", outcomes, procedure.Decisions)
	}
}

// typing answers a walk with the texts of a sheet, step by step, and gives
// the judgement and the ids of the steps that are only wanted.
func typing(t *testing.T, h invented) (procedure.Judgement, map[string]bool) {
	t.Helper()
	sh, err := readSheet(h.path, h.data)
	if err != nil {
		t.Fatal(err)
	}
	set, err := loadLimits(sh.scheme, nil)
	if err != nil {
		t.Fatal(err)
	}
	at := sh.date.Add(9 * time.Hour)
	st := sequence.Start(procedure.Header{Record: "typed", Home: sh.home, Phase: sh.phase, Created: at}, set.Plan(sh.phase))
	wanted, asked := map[string]bool{}, map[string]bool{}
	for turns := 0; ; turns++ {
		step, ok := st.Next()
		if !ok {
			break
		}
		if turns > 500 || asked[step.ID] {
			t.Fatalf("%s is asked again", step.ID)
		}
		asked[step.ID] = true
		step = (&session{st: st}).decorate(step)
		wanted[step.ID] = step.Wanted
		text, has := sh.answers[step.ID]
		if !has && step.Form == procedure.FormTold { // its name holds an event number that no sheet knows
			text, has = sheetAnswer{text: "occupant; in person"}, true
		}
		if !has && strings.HasPrefix(step.ID, "more/") { // suggested to those who type; none of it is taken
			text, has = sheetAnswer{text: "2"}, true
		}
		if !has {
			t.Fatalf("the sheet has no answer for %s", step.ID)
		}
		entries, err := forms.Parse(step, text.text, forms.ParseContext{})
		if err != nil {
			t.Fatalf("%s %q: %v", step.ID, text.text, err)
		}
		var evs []procedure.Event
		for i, en := range entries {
			at = at.Add(20 * time.Second)
			key := en.Key
			if step.Form == procedure.FormDoubt {
				key = step.Args["key"]
			}
			evs = append(evs, procedure.Event{N: st.Last() + 1 + i, Kind: en.Data.EventKind(), Step: key, Observed: at, Written: at, Who: sh.tester, Src: procedure.FromWalk, Data: en.Data})
		}
		if st, err = st.Apply(evs...); err != nil {
			t.Fatalf("%s %q: %v", step.ID, text.text, err)
		}
	}
	for k, w := range wanted {
		if !w {
			delete(wanted, k)
		}
	}
	return evaluation.Judge(st.Observations(), set.Rules()), wanted
}

// afterwards are answers about the decision, not about the house: nothing
// measured hangs on them, and the required things of the rules do not name
// them. Left out, the record must say so.
var afterwards = map[string]string{"told/decision": "not on the sheet", "decide/tester": "not on the sheet"}

// TestOneAnswerRemoved: what nobody measured never lets a house go ahead. A gap
// may make another answer senseless (how many burners there are to ask about);
// then the sheet is refused, which lets nothing go ahead either.
func TestOneAnswerRemoved(t *testing.T) {
	for _, h := range inventedHomes(t) {
		if h.want.Decision != "proceed" && h.want.Decision != "refer" {
			continue
		}
		t.Run(h.name, func(t *testing.T) {
			if testing.Short() && h.name != allClear {
				t.Skip("the all-clear home only with -short")
			}
			t.Parallel()
			full := kept(t, h)
			_, wanted := typing(t, h)
			sh, err := readSheet(h.path, h.data)
			if err != nil {
				t.Fatal(err)
			}
			for _, key := range sh.order {
				less := h
				lines := strings.SplitAfter(string(h.data), "\n")
				lines[sh.answers[key].line-1] = ""
				less.data = []byte(strings.Join(lines, ""))
				if again, err := readSheet(h.path, less.data); err != nil || len(again.order) != len(sh.order)-1 {
					t.Fatalf("without %s: the line could not be taken out: %v", key, err)
				}
				word, after := afterwards[key]
				if wanted[key] {
					same(t, "without "+key, unnumbered(kept(t, less).j), unnumbered(full.j))
					continue
				}
				if after {
					l := kept(t, less)
					said := l.obs.Tester
					if key == "told/decision" {
						said = l.obs.Told[len(l.obs.Told)-1].Whom
					}
					if said != word {
						t.Errorf("without %s: the record says %q, want %q", key, said, word)
					}
					continue
				}
				out := filepath.Join(t.TempDir(), "less.cazward")
				j, err := transcribe(homeEnv(), h.path, less.data, out, nil)
				if err != nil {
					if code := exitCodeOf(err); code != exitRefused {
						t.Errorf("without %s: exit %d: %v", key, code, err)
					}
					if _, err := os.Stat(out); !errors.Is(err, os.ErrNotExist) {
						t.Errorf("without %s: refused, and yet written: %v", key, err)
					}
					t.Logf("without %s: refused", key)
				} else if !procedure.Refer.Milder(j.Decision) {
					t.Errorf("without %s: decision %s", key, j.Decision)
				}
			}
		})
	}
}

// TestSheetRefused: a value that cannot be, and the sheet writes nothing; all
// that is wrong is said at once, each with its line.
func TestSheetRefused(t *testing.T) {
	clear, err := os.ReadFile(filepath.Join(homesDir, allClear+".sheet.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	type edit struct {
		key, line string // the line of the key, and what stands in its place
		say       string // what the refusal must say of it
	}
	unsigned := edit{"  baseline/basement-1:", "  baseline/basement-1: 0.4 0.5 0.6 0.5 0.5", "has no sign"}
	nan := edit{"  reading/basement-1/fans:", "  reading/basement-1/fans: -1.3 NaN -1.2 -1.3 -1.3", "reading/basement-1/fans"}
	nanCO := edit{"  ambient/water-heater-1:", "  ambient/water-heater-1: NaN", "ambient/water-heater-1"}
	noStep := edit{"  look/house:", "  look/house: ok\n  cellar/house: ok", "cellar/house"}
	badTime := edit{"  spill/water-heater-1:", "  spill/water-heater-1: \"14\"", "spill/water-heater-1"}
	badClock := edit{"  reading/basement-1/worst:", `  reading/basement-1/worst: {is: -1.5 -1.6 -1.5 -1.5 -1.5, at: "25:10"}`, `time "25:10"`}
	noKey := edit{"note:", "colour: green", `unknown key "colour"`}
	for _, c := range []struct {
		name  string
		edits []edit
	}{
		{"unsigned pressure", []edit{unsigned}},
		{"not a number", []edit{nan}},
		{"not a number of ppm", []edit{nanCO}},
		{"unknown step", []edit{noStep}},
		{"seconds without their unit", []edit{badTime}},
		{"no such hour", []edit{badClock}},
		{"unknown key", []edit{noKey}},
		{"several answers at once", []edit{unsigned, nan, nanCO, noStep, badTime}},
		{"sheet and answers at once", []edit{unsigned, nan, nanCO, noStep, badTime, badClock, noKey}},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := string(clear)
			for _, e := range c.edits {
				n := 0
				lines := strings.Split(text, "\n")
				for i, l := range lines {
					if strings.HasPrefix(l, e.key) {
						lines[i] = e.line
						n++
					}
				}
				if n != 1 {
					t.Fatalf("%d lines begin with %q", n, e.key)
				}
				text = strings.Join(lines, "\n")
			}
			in, out := filepath.Join(t.TempDir(), "home.sheet.yaml"), t.TempDir()
			if err := os.WriteFile(in, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			var said bytes.Buffer
			e := homeEnv()
			e.err = &said
			code := report(&said, run(e, []string{"transcribe", in, "-o", filepath.Join(out, "home.cazward")}))
			if code != exitRefused {
				t.Errorf("exit %d, want %d\n%s", code, exitRefused, said.String())
			}
			if left, err := os.ReadDir(out); err != nil || len(left) > 0 {
				t.Errorf("written: %v %v", left, err)
			}
			got := 0
			for _, l := range strings.Split(said.String(), "\n") {
				if strings.HasPrefix(l, "cazward: error: ") {
					got++
				}
			}
			if got != len(c.edits) {
				t.Errorf("%d refusals, want %d:\n%s", got, len(c.edits), said.String())
			}
			for _, e := range c.edits {
				wrong, at := e.line[strings.LastIndex(e.line, "\n")+1:], 0
				for i, l := range strings.Split(text, "\n") {
					if l == wrong {
						at = i + 1
					}
				}
				found := false
				for _, l := range strings.Split(said.String(), "\n") {
					found = found || strings.HasPrefix(l, fmt.Sprintf("cazward: error: %s:%d: ", in, at)) && strings.Contains(l, e.say)
				}
				if !found {
					t.Errorf("line %d is not refused with %q:\n%s", at, e.say, said.String())
				}
			}
		})
	}
}

// TestExpectationIsStrict: a misspelt key of an expectation is no expectation.
func TestExpectationIsStrict(t *testing.T) {
	for _, bad := range []string{
		"decision: hold\nfindngs: []\n",
		"decision: hold\nfindings:\n  - {rule: draft, verdit: pass}\n",
		"decision: hold\n---\ndecision: proceed\n",
		"findings: []\n",
	} {
		if _, err := decodeExpected([]byte(bad)); err == nil {
			t.Errorf("taken: %q", bad)
		}
	}
}
