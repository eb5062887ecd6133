package limits

import (
	"slices"
	"strings"
	"testing"

	"cazward/procedure"
)

// TestExport: as written the overlay changes nothing and is good; with every
// row brought to life it replaces each row by itself, and nothing is looser.
func TestExport(t *testing.T) {
	for _, n := range Names() {
		plain, err := Load(Options{Scheme: n})
		if err != nil {
			t.Fatal(err)
		}
		data, err := Export(n)
		if err != nil {
			t.Fatal(err)
		}
		if p := Check("x.yaml", data); len(p) > 0 {
			t.Errorf("%s: the export is refused: %v", n, p)
		}
		same, err := Load(Options{Scheme: n, Overlays: []Source{{"x.yaml", data}}})
		if err != nil {
			t.Fatal(err)
		}
		if same.Ref() != plain.Ref() || len(Diff(plain, same)) > 0 {
			t.Errorf("%s: an untouched export changes the table: %+v, %v", n, same.Ref(), Diff(plain, same))
		}
		live := uncommented(string(data))
		all, err := Load(Options{Scheme: n, Overlays: []Source{{"x.yaml", []byte(live)}}})
		if err != nil {
			t.Fatalf("%s, all rows: %v", n, err)
		}
		// The file shows how a mark and a taken risk are written.
		if d := Diff(plain, all); len(d) != 1 || !slices.Equal(d[0].Differs, []string{"checked"}) {
			t.Errorf("%s, all rows: %+v", n, d)
		}
		if r := all.Rules().AcceptedRisks; len(r) > 0 {
			t.Errorf("%s: a row that replaces itself is a risk: %v", n, r)
		}
		edited := 0
		for _, r := range all.Rows() {
			if r.Edited {
				edited++
			}
		}
		if edited != len(plain.Rows()) {
			t.Errorf("%s: the export has %d of %d rows", n, edited, len(plain.Rows()))
		}
		for _, l := range strings.Split(string(data), "\n") {
			if len([]rune(l)) > 300 {
				t.Errorf("%s: a line of %d characters: %.60s", n, len(l), l)
			}
		}
	}
	if _, err := Export("nothing"); err == nil {
		t.Error("a scheme that does not exist was exported")
	}
}

const markHead = "kind: overlay\nformat: 1\nscheme: graded-2005\nreason: held against the document\nchecked:\n"

// TestMarks: a mark says who, when, which edition, and changes nothing else; it
// needs no accept_risk, on life-safety rows and on the floor either.
func TestMarks(t *testing.T) {
	plain, err := Load(Options{})
	if err != nil {
		t.Fatal(err)
	}
	src := Source{"m.yaml", []byte(markHead + "  - id: dep-direct\n    by: A. Vale\n    date: 2026-02-03\n    edition: v2/28/05\n  - id: ambient-70\n    by: A. Vale\n    date: 2026-02-04\n    edition: 2018\n")}
	s, err := Load(Options{Overlays: []Source{src}})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range Diff(plain, s) {
		if !slices.Equal(d.Differs, []string{"checked"}) || d.Row != "dep-direct" && d.Row != "ambient-70" {
			t.Errorf("a mark changed more: %+v", d)
		}
	}
	for _, r := range s.Rows() {
		switch r.ID {
		case "dep-direct":
			if r.State() != "checked by A. Vale, 2026-02-03, v2/28/05" || r.Edited || r.Evidence != "memory" {
				t.Errorf("marked row: %+v, %s", r, r.State())
			}
		case "dep-power":
			if r.State() != "from memory" {
				t.Errorf("row without a mark: %s", r.State())
			}
		}
	}
	if len(s.Rules().AcceptedRisks) > 0 || s.Ref().SHA256 == plain.Ref().SHA256 || !s.Ref().Edited {
		t.Errorf("risks %v, ref %+v: a mark is no risk, and the table is not as shipped", s.Rules().AcceptedRisks, s.Ref())
	}
	// It reaches the judge's rows and the tiers of the floor.
	for _, l := range s.Rules().Pressure {
		if (l.Checked != nil) != (l.ID == "dep-direct") {
			t.Errorf("%s: checked %v", l.ID, l.Checked)
		}
	}
	for _, x := range s.Plan(procedure.TestIn).Interrupts {
		if (x.Checked != nil) != (x.Row == "ambient-70") {
			t.Errorf("%s: checked %v", x.Row, x.Checked)
		}
	}
	// Whoever replaces a row later has not checked it.
	later := Source{"l.yaml", []byte(strings.Replace(row1("id: dep-direct\n    topic: depressurization\n    applies:\n      kinds:\n        - furnace\n        - boiler\n        - water-heater\n        - room-heater\n        - floor-heater\n        - wall-heater\n        - gas-log\n      vents:\n        - direct-vent\n    value: -25\n    unit: Pa"), "reason: test", "reason: stricter", 1))}
	s, err = Load(Options{Overlays: []Source{src, later}})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range s.Rows() {
		if r.ID == "dep-direct" && (r.Checked != "" || *r.Value != -25) {
			t.Errorf("a replaced row keeps the mark of the old one: %+v", r)
		}
	}
}

// TestDiff: each kind of difference by its name.
func TestDiff(t *testing.T) {
	plain, err := Load(Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, row, keys string
		differs         []string
	}{
		{"value", "spillage-worst", "topic: spillage\n    value: 45\n    unit: s", []string{"value", "source", "evidence"}},
		{"unit alone is no other value", "spillage-worst", "topic: spillage\n    value: 1\n    unit: min", []string{"unit", "source", "evidence"}},
		{"who it applies to", "dep-natural-heater", "topic: depressurization\n    applies:\n      kinds:\n        - room-heater\n        - floor-heater\n        - wall-heater\n      vents:\n        - natural\n      common: false\n      orphaned: false\n    value: -5\n    unit: Pa", []string{"applies", "source", "evidence"}},
		{"action", "act-soot", "topic: action\n    code: soot\n    decision: hold\n    action: technician", []string{"action", "source", "evidence"}},
		{"meaning", "co-400-any", "topic: matrix\n    over: 90\n    up_to: 400\n    spillage: any\n    draft: any\n    decision: hold\n    status: off-until-serviced\n    action: stop-service", []string{"meaning", "source", "evidence"}},
	} {
		o := Source{"o.yaml", []byte(risk(row1("id: " + c.row + "\n    " + c.keys)))}
		if c.row == "dep-natural-heater" { // the orphaned ones need a row too
			o.Data = append(o.Data, []byte(strings.Replace(row1("id: dep-orphan\n    topic: depressurization\n    applies:\n      kinds:\n        - room-heater\n        - floor-heater\n        - wall-heater\n      vents:\n        - natural\n      common: false\n      orphaned: true\n    value: -2\n    unit: Pa"), head, "", 1))...)
		}
		s, err := Load(Options{Overlays: []Source{o}})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		d := Diff(plain, s)
		if len(d) == 0 || d[0].Row != c.row || !slices.Equal(d[0].Differs, c.differs) || d[0].Only != "" {
			t.Errorf("%s: %+v, want %v", c.name, d, c.differs)
		}
		if c.row == "dep-natural-heater" && (len(d) != 2 || d[1].Only != "b" || d[1].A != nil) {
			t.Errorf("%s: the new row is not said to be only in b: %+v", c.name, d)
		}
		if back := Diff(s, plain); c.row == "dep-natural-heater" && (len(back) != 2 || back[1].Only != "a" || back[1].B != nil) {
			t.Errorf("%s, the other way: %+v", c.name, back)
		}
	}
	for _, n := range Names() {
		a, err := Load(Options{Scheme: n})
		if err != nil {
			t.Fatal(err)
		}
		if d := Diff(a, a); len(d) > 0 {
			t.Errorf("%s differs from itself: %+v", n, d)
		}
	}
	// Two schemes: what both name and judge differently, and what one lacks.
	a, b := mustLoad(t, "spillage-2017"), mustLoad(t, "code-annex-2018")
	found := map[string]string{}
	for _, d := range Diff(a, b) {
		found[d.Row] = d.Only + strings.Join(d.Differs, ",")
	}
	for row, want := range map[string]string{"spillage-warm": "a", "spillage-5-minutes": "b", "co-heating": "source", "co-after": "value,source,evidence", "doors": "meaning,source,evidence", "act-soot": ""} {
		if found[row] != want {
			t.Errorf("%s: %q, want %q", row, found[row], want)
		}
	}
}

func mustLoad(t *testing.T, name string) *Set {
	t.Helper()
	s, err := Load(Options{Scheme: name})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestDiffJudged: what a record carries of its rows against a table.
func TestDiffJudged(t *testing.T) {
	s := mustLoad(t, "graded-2005")
	at := func(v float64) *float64 { return &v }
	tech, sheet := "Technical Standards for the Building Analyst Professional, v2/28/05, ", "Building analyst one-page test sheet (worst case procedure), 2005 standard, step 3: spillage ends within 1 minute"
	used := func(row string, v *float64, unit, src, ev string) procedure.RowUsed {
		return procedure.RowUsed{Row: row, Value: v, Unit: unit, Source: src, Evidence: procedure.Evidence(ev)}
	}
	draft := tech + "acceptable draft test table: (outdoor F / 40) - 2.75 between 10 and 90 F"
	levels := tech + "combustion safety action levels"
	for _, c := range []struct {
		name string
		row  procedure.RowUsed
		want string // what differs, "-" nothing, "a" no such row
	}{
		{"same", used("spillage-worst", at(60), "s", sheet, "seen"), "-"},
		{"other value", used("spillage-worst", at(90), "s", sheet, "seen"), "value"},
		{"other evidence", used("spillage-worst", at(60), "s", sheet, "memory"), "evidence"},
		{"other source", used("spillage-worst", at(60), "s", "hearsay", "seen"), "source"},
		{"a point of the draft line", used("draft-line", at(-1.75), "Pa", draft, "memory"), "-"},
		{"not on the draft line", used("draft-line", at(-1.5), "Pa", draft, "memory"), "value"},
		{"an end of a band", used("co-100-pass", at(25), "ppm", levels, "memory"), "-"},
		{"no end of the band", used("co-100-pass", at(50), "ppm", levels, "memory"), "value"},
		{"a tier of the floor", used("ambient-70", at(70), "ppm", "2018 IRC Appendix D and ANSI/BPI-1200-S-2017, D.2(1), section 7, evacuate", "memory"), "-"},
		{"an action without a figure", used("act-soot", nil, "", "common practice of visual inspection, no edition", "practice"), "-"},
		{"a figure where the table has none", used("act-soot", at(5), "Pa", "common practice of visual inspection, no edition", "practice"), "value"},
		{"a factor", used("coverage", at(2), "factor", "JCGM 106:2012, clause 8, guard band w = U = 2u", "memory"), "-"},
		{"another factor", used("coverage", at(3), "factor", "JCGM 106:2012, clause 8, guard band w = U = 2u", "memory"), "value"},
		{"gone", used("dep-old", at(-4), "Pa", "x", "memory"), "a"},
		{"in no table", used("own-rule", at(400), "ppm", "cazward, own rule", "own-rule"), "-"},
	} {
		got := "-"
		if d := DiffJudged(Judged{Rows: []procedure.RowUsed{c.row}, OutdoorF: at(40)}, s); len(d) > 1 {
			t.Errorf("%s: %+v", c.name, d)
		} else if len(d) == 1 {
			got = d[0].Only + strings.Join(d[0].Differs, ",")
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	l := s.Rules().Pressure[0]
	l.Applies.Common = procedure.Yes
	d := DiffJudged(Judged{Rows: []procedure.RowUsed{used(l.ID, at(-2), "Pa", l.Source.String(), "memory")}, Planned: []procedure.Limit{l}}, s)
	if len(d) != 1 || !slices.Equal(d[0].Differs, []string{"applies"}) {
		t.Errorf("a row planned for others: %+v", d)
	}
}

// TestExplain: every kind of rule of every appliance has a line, and what is
// open in a scheme is said to be.
func TestExplain(t *testing.T) {
	facts := procedure.VentFacts{Shares: procedure.Yes, Orphaned: procedure.No, VentDamper: procedure.No, InsideBoundary: procedure.Yes, HighStatic: procedure.No, TopInducer: procedure.No}
	ap := func(id string, k procedure.ApplianceKind, f procedure.Fuel, v procedure.VentType, partners ...string) procedure.Appliance {
		return procedure.Appliance{ID: id, Name: id, Kind: k, Burner: procedure.Burner{Fuel: f}, Vent: procedure.Vent{Type: v}, Facts: facts, Partners: partners}
	}
	loner := ap("x", procedure.Furnace, procedure.NaturalGas, procedure.VentUnknown)
	loner.Facts = procedure.VentFacts{}
	stove := ap("stove", procedure.WoodStove, procedure.Wood, procedure.NaturalVent)
	stove.Facts.Shares = procedure.No
	o := procedure.Observations{Weather: &procedure.Weather{Temp: 40, TempUnit: "F"}, Appliances: []procedure.Appliance{
		ap("f", procedure.Furnace, procedure.NaturalGas, procedure.NaturalVent, "w"), ap("w", procedure.WaterHeater, procedure.NaturalGas, procedure.NaturalVent, "f"),
		loner, ap("range", procedure.Range, procedure.NaturalGas, procedure.Unvented), ap("oilb", procedure.Boiler, procedure.Oil, procedure.NaturalVent), stove,
		ap("tank", procedure.IndirectTank, "", ""), ap("elec", procedure.WaterHeater, procedure.Electricity, "")}}
	type key struct{ scheme, who, rule, when string }
	got := map[key]Explained{}
	for _, n := range Names() {
		for _, e := range mustLoad(t, n).Explain(o) {
			k := key{n, e.Appliance, e.Rule, strings.TrimSuffix(strings.TrimPrefix(e.When, "vent "), " at light-off")}
			if _, twice := got[k]; twice {
				t.Errorf("%v twice", k)
			}
			got[k] = e
			if (e.Outcome == "row") != (e.Row != "") || e.Outcome == "" || e.Outcome != "row" && e.Why == "" {
				t.Errorf("%v: outcome %q, row %q, why %q", k, e.Outcome, e.Row, e.Why)
			}
			for _, p := range e.Passed {
				if p.Words == "" || p.Why == "" || p.Row == e.Row {
					t.Errorf("%v passes over %+v", k, p)
				}
			}
		}
	}
	if want := 4 * 6 * 5; len(got) != want {
		t.Errorf("%d lines, want %d: each appliance with a flame, each rule", len(got), want)
	}
	for k, want := range map[key]struct {
		row, outcome string
		limit        float64
	}{
		{"graded-2005", "f", "depressurization", ""}:      {"dep-common-natural", "row", -3},
		{"graded-2005", "f", "spillage", "cold"}:          {"spillage-worst", "row", 60},
		{"graded-2005", "f", "draft", ""}:                 {"draft-line", "row", -1.75},
		{"graded-2005", "f", "co", ""}:                    {"", "matrix", 0},
		{"graded-2005", "stove", "depressurization", ""}:  {"", "no-figure", 0},
		{"graded-2005", "stove", "spillage", "warm"}:      {"", "not-judged", 0},
		{"graded-2005", "range", "depressurization", ""}:  {"", "not-judged", 0},
		{"graded-2005", "range", "co", ""}:                {"", "matrix", 0},
		{"graded-2005", "oilb", "draft", ""}:              {"", "not-judged", 0},
		{"spillage-2017", "f", "spillage", "warm"}:        {"spillage-warm", "row", 120},
		{"spillage-2017", "f", "spillage", "cold"}:        {"spillage-cold", "row", 300},
		{"spillage-2017", "f", "depressurization", ""}:    {"", "no-figure", 0},
		{"spillage-2017", "f", "draft", ""}:               {"", "no-figure", 0},
		{"spillage-2017", "w", "co", ""}:                  {"co-water-heater", "row", 200},
		{"spillage-2017", "oilb", "co", ""}:               {"", "no-figure", 0},
		{"code-annex-2018", "range", "co", ""}:            {"co-range", "row", 25},
		{"code-annex-2018", "f", "spillage", "cold"}:      {"spillage-5-minutes", "row", 300},
		{"canada-mixed", "stove", "depressurization", ""}: {"dep-wood-stove", "row", -5},
		{"canada-mixed", "f", "co", ""}:                   {"", "no-figure", 0},
		{"graded-2005", "x", "depressurization", ""}:      {"dep-common-natural", "row", -3},
	} {
		e := got[k]
		v := 0.0
		if e.Limit != nil {
			v = *e.Limit
		}
		if e.Row != want.row || e.Outcome != want.outcome || v != want.limit {
			t.Errorf("%v: %s %q %v, want %s %q %v", k, e.Outcome, e.Row, v, want.outcome, want.row, want.limit)
		}
	}
	if e := got[key{"graded-2005", "x", "depressurization", ""}]; !slices.Contains(e.Unsure, "vent") {
		t.Errorf("the vent is not known, and nothing says so: %v", e.Unsure)
	}
	if e := got[key{"canada-mixed", "f", "co", ""}]; !strings.Contains(e.Why, "no Canadian CO figure") {
		t.Errorf("what is open is not said in the scheme's words: %q", e.Why)
	}
	e := got[key{"graded-2005", "f", "depressurization", ""}]
	if e.Why != "kind furnace, vent natural, shared vent, on the same vent water-heater, no vent damper" {
		t.Errorf("why: %q", e.Why)
	}
	over := map[string]string{}
	for _, p := range e.Passed {
		over[p.Row] = p.Words
	}
	if w := over["dep-common-damper"]; w != "no vent damper, the row is for vent damper" {
		t.Errorf("dep-common-damper passed over: %q", w)
	}
	if w := over["dep-natural-heating-common-other"]; !strings.Contains(w, "fits too") {
		t.Errorf("dep-natural-heating-common-other passed over: %q", w)
	}
}
