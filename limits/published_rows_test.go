package limits

import (
	"math"
	"slices"
	"testing"

	"cazward/procedure"
)

// figure is one published figure as it stands in its document, and the row that
// carries it. Written out by hand from the documents, not from the tables.
type figure struct {
	scheme string // "" is each of them: rows of the floor
	row    string
	want   []float64 // the value; of a band its ends; of a line temperature, pascals and so on
	unit   string
	source string
	ev     string
}

var inf = math.Inf(1) // a band without an upper end

const (
	techLimits = "2005 building-analyst technical standard, v2/28/05, CAZ depressurization limits, p. 14"
	techLevels = "2005 building-analyst technical standard, v2/28/05, action levels"
	sheetOne   = "building-analyst one-page sheet"
	iccRA      = "2015 IECC Appendix RA = IRC Appendix T"
	d6         = "IRC/IFGC Table D.6; NFPA 54 annex; 1200 standard, annex"
	cgsbTable  = "CAN/CGSB-51.71, limit table"
	usace      = "USACE air-leakage protocol, App. F: 1 percent of reading or 0.25 Pa, larger"
	tenth      = "Home Energy, May/June 2013: can read in tenths of a pascal"
	jcgm       = "JCGM 106:2012, guard band of U = 2u"
	std1200    = "ANSI/BPI-1200, section 7"
	irc870     = "2018 IRC D.1.5, p. 870"
	formWeb    = "Canadian depressurization test form"
	f300       = "CSA F300:22, preface"
)

var figures = []figure{
	{"graded-2005", "dep-natural-water-heater", []float64{-2}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-common-natural", []float64{-3}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-common-natural-wh", []float64{-3}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-common-damper", []float64{-5}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-common-damper-wh", []float64{-5}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-common-fan", []float64{-5}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-common-fan-wh", []float64{-5}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-natural-heating", []float64{-5}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-natural-heater", []float64{-5}, "Pa", "a fan maker's guide, 17 Apr 2013, p. 6: individual natural-draft 5 Pa", "seen-secondary"},
	{"graded-2005", "dep-gas-log", []float64{-5}, "Pa", iccRA + ": decorative vented gas appliance", "memory"},
	{"graded-2005", "dep-fan-heating", []float64{-15}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-fan-water-heater", []float64{-15}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-power", []float64{-15}, "Pa", iccRA + ": power-vented or induced-draft alone", "memory"},
	{"graded-2005", "dep-direct", []float64{-50}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-oil-high-static", []float64{-50}, "Pa", techLimits, "memory"},
	{"graded-2005", "dep-top-inducer", []float64{-50}, "Pa", techLimits, "memory"},
	{"graded-2005", "draft-line", []float64{10, -2.5, 90, -0.5}, "", "acceptable draft test table: -2.5 Pa below 10 F, F/40 - 2.75, -0.5 Pa above 90 F", "memory"},
	{"graded-2005", "spillage-worst", []float64{60}, "s", sheetOne + ", step 3: spillage ends within 1 minute", "seen"},
	{"graded-2005", "co-25-pass", []float64{0, 25}, "", techLevels, "memory"},
	{"graded-2005", "co-100-pass", []float64{25, 100}, "", techLevels + ": 26 to 100", "memory"},
	{"graded-2005", "co-100-draft-worst", []float64{25, 100}, "", techLevels + ": 26 to 100", "memory"},
	{"graded-2005", "co-400-any", []float64{100, 400}, "", techLevels + ": 101 to 400", "memory"},
	{"graded-2005", "co-natural-spill", []float64{0, inf}, "", techLevels + ": fail under natural conditions", "memory"},
	{"graded-2005", "co-natural-draft", []float64{0, inf}, "", techLevels + ": fail under natural conditions", "memory"},
	{"graded-2005", "co-over-pass", []float64{400, inf}, "", techLevels + ": over 400", "memory"},
	{"graded-2005", "tier-2005-35", []float64{35}, "ppm", "2005 technical standard, Health & Safety: greater than 35 ppm must be aborted", "seen"},
	{"graded-2005", "baseline-max-spread", []float64{1}, "Pa", formWeb + ": to 1 Pa or less", "seen"},
	{"graded-2005", "wind-ceiling", []float64{9}, "mph", "form r12/19: less than 15 km/h (9 mph)", "seen"},
	{"graded-2005", "co-after", []float64{10}, "min", sheetOne + ", step 3: at the 10 minute mark", "seen"},
	{"graded-2005", "gauge-accuracy", []float64{0.25}, "Pa", usace, "seen"},
	{"graded-2005", "gauge-accuracy-percent", []float64{1}, "%", usace, "seen"},
	{"graded-2005", "gauge-resolution", []float64{0.1}, "Pa", tenth, "seen"},
	{"graded-2005", "coverage", []float64{2}, "factor", jcgm, "memory"},
	{"graded-2005", "require-gauge", []float64{0.1}, "Pa", tenth, "seen"},
	{"graded-2005", "note-applies-ach50", []float64{5}, "ACH50", iccRA + ": dwelling of 5 ACH50 or less", "memory"},
	{"graded-2005", "note-oven-100", []float64{100}, "ppm", "2005 technical standard, ovens: from 100 advise, service", "memory"},
	{"graded-2005", "note-oven-300", []float64{300}, "ppm", "2005 technical standard, ovens: over 300 service before work", "memory"},

	{"spillage-2017", "spillage-warm", []float64{2}, "min", std1200 + ", warm vent", "memory"},
	{"spillage-2017", "spillage-cold", []float64{5}, "min", std1200 + ", cold vent", "memory"},
	{"spillage-2017", "co-heating", []float64{400}, "ppm", d6, "memory"},
	{"spillage-2017", "co-wall-direct", []float64{400}, "ppm", d6, "memory"},
	{"spillage-2017", "co-wall", []float64{200}, "ppm", d6, "memory"},
	{"spillage-2017", "co-room-heater", []float64{200}, "ppm", d6, "memory"},
	{"spillage-2017", "co-unvented-heater", []float64{200}, "ppm", d6, "memory"},
	{"spillage-2017", "co-water-heater", []float64{200}, "ppm", d6, "memory"},
	{"spillage-2017", "co-oven", []float64{225}, "ppm", d6, "memory"},
	{"spillage-2017", "co-range", []float64{25}, "ppm", d6, "memory"},
	{"spillage-2017", "co-gas-dryer", []float64{400}, "ppm", d6, "memory"},
	{"spillage-2017", "co-gas-log", []float64{25}, "ppm", d6, "memory"},
	{"spillage-2017", "tier-2017-9", []float64{9}, "ppm", std1200 + ", tier 1: 9 to 35", "memory"},
	{"spillage-2017", "tier-2017-36", []float64{36}, "ppm", std1200 + ", tier 2: 36 to 69", "memory"},
	{"spillage-2017", "tier-2017-70", []float64{70}, "ppm", std1200 + ", tier 3: 70 or more", "memory"},
	{"spillage-2017", "tier-2017-lel", []float64{10}, "%", std1200 + ": 10 % LEL or more", "memory"},
	{"spillage-2017", "gauge-accuracy", []float64{0.25}, "Pa", usace, "seen"},
	{"spillage-2017", "gauge-accuracy-percent", []float64{1}, "%", usace, "seen"},
	{"spillage-2017", "gauge-resolution", []float64{0.1}, "Pa", tenth, "seen"},
	{"spillage-2017", "coverage", []float64{2}, "factor", jcgm, "memory"},

	{"code-annex-2018", "spillage-5-minutes", []float64{300}, "s", "ANSI Z223.1 as reprinted: after 5 minutes of main burner operation", "seen"},
	{"code-annex-2018", "co-heating", []float64{400}, "ppm", d6, "memory"},
	{"code-annex-2018", "co-wall-direct", []float64{400}, "ppm", d6, "memory"},
	{"code-annex-2018", "co-wall", []float64{200}, "ppm", d6, "memory"},
	{"code-annex-2018", "co-room-heater", []float64{200}, "ppm", d6, "memory"},
	{"code-annex-2018", "co-unvented-heater", []float64{200}, "ppm", d6, "memory"},
	{"code-annex-2018", "co-water-heater", []float64{200}, "ppm", d6, "memory"},
	{"code-annex-2018", "co-oven", []float64{225}, "ppm", d6, "memory"},
	{"code-annex-2018", "co-range", []float64{25}, "ppm", d6, "memory"},
	{"code-annex-2018", "co-gas-dryer", []float64{400}, "ppm", d6, "memory"},
	{"code-annex-2018", "co-gas-log", []float64{25}, "ppm", d6, "memory"},
	{"code-annex-2018", "note-refrigerator", []float64{25}, "ppm", d6, "memory"},
	{"code-annex-2018", "note-gas-log-firebox", []float64{400}, "ppm", d6, "memory"},
	{"code-annex-2018", "tier-annex-30", []float64{30}, "ppm", "2018 IRC D.2(2): 30 to 70, range from memory", "memory"},
	{"code-annex-2018", "tier-annex-70", []float64{70}, "ppm", "2018 IRC D.2(1)", "memory"},
	{"code-annex-2018", "tier-annex-lel", []float64{20}, "%", "2018 IRC D.2(4): 20-percent LEL or greater", "seen"},
	{"code-annex-2018", "spillage-between", []float64{15}, "min", "IRC D.5.2(3)c: 15 minutes standby", "memory"},
	{"code-annex-2018", "co-after", []float64{5}, "min", "2018 IRC D.6: after 5 minutes of main burner operation", "seen"},
	{"code-annex-2018", "gauge-accuracy", []float64{0.25}, "Pa", usace, "seen"},
	{"code-annex-2018", "gauge-accuracy-percent", []float64{1}, "%", usace, "seen"},
	{"code-annex-2018", "gauge-resolution", []float64{0.1}, "Pa", tenth, "seen"},
	{"code-annex-2018", "coverage", []float64{2}, "factor", jcgm, "memory"},
	{"code-annex-2018", "require-analyser", []float64{1000}, "ppm", irc870 + "(2): 0 to 1,000 ppm", "seen"},
	{"code-annex-2018", "require-gas-detector", []float64{100}, "%", irc870 + "(1): 0 to 100 % LEL", "seen"},
	{"code-annex-2018", "air-standard", []float64{50}, "ft3 per 1,000 Btu/h", "Standard Work Specifications 5.0502.1a: 50 cubic feet per 1,000 BTU/h", "seen-secondary"},
	{"code-annex-2018", "air-standard-barred", []float64{0.40}, "ACH", "Standard Work Specifications 5.0502.1a: less than 0.40 air changes per hour", "seen-secondary"},
	{"code-annex-2018", "air-rate-cap", []float64{0.60}, "ACH", "IFGC 304.5.2: greater than 0.60 ACH shall not be used", "seen"},
	{"code-annex-2018", "air-inside-opening", []float64{1}, "in2 per 1,000 Btu/h", "NFPA 54 9.3.2.3(1) as reprinted", "seen-secondary"},
	{"code-annex-2018", "air-outside-two", []float64{4000}, "Btu/h per in2", "IRC M1703.2", "seen"},
	{"code-annex-2018", "air-outside-horizontal", []float64{2000}, "Btu/h per in2", "IRC M1703.2", "seen"},
	{"code-annex-2018", "air-outside-one", []float64{3000}, "Btu/h per in2", "NFPA 54 9.3.3.2 as reprinted", "seen-secondary"},

	{"canada-mixed", "dep-natural", []float64{-5}, "Pa", cgsbTable, "memory"},
	{"canada-mixed", "dep-fan", []float64{-10}, "Pa", cgsbTable, "memory"},
	{"canada-mixed", "dep-power", []float64{-20}, "Pa", cgsbTable, "memory"},
	{"canada-mixed", "dep-direct", []float64{-20}, "Pa", cgsbTable, "memory"},
	{"canada-mixed", "dep-fireplace", []float64{-5}, "Pa", cgsbTable, "memory"},
	{"canada-mixed", "dep-wood-stove", []float64{-5}, "Pa", "CSA F326 in a township handout: not more than 5 Pa depressurization", "seen-secondary"},
	{"canada-mixed", "baseline-max-spread", []float64{1}, "Pa", formWeb + ": to 1 Pa or less", "seen"},
	{"canada-mixed", "wind-ceiling", []float64{15}, "km/h", "form r12/19: less than 15 km/h (9 mph)", "seen"},
	{"canada-mixed", "fireplace-flow", []float64{75}, "L/s", "CAN/CGSB-51.71", "memory"},
	{"canada-mixed", "gauge-accuracy", []float64{1}, "Pa", formWeb + ", apparatus: within 1 Pa in 5 to 50", "seen"},
	{"canada-mixed", "gauge-resolution", []float64{1}, "Pa", formWeb + ": 0-50 Pa with at least 1 Pa resolution", "seen"},
	{"canada-mixed", "coverage", []float64{2}, "factor", jcgm, "memory"},
	{"canada-mixed", "require-gauge", []float64{50}, "Pa", formWeb + ": 0-50 Pa with at least 1 Pa resolution", "seen"},
	{"canada-mixed", "require-resolution", []float64{1}, "Pa", formWeb + ": 0-50 Pa with at least 1 Pa resolution", "seen"},
	{"canada-mixed", "require-accuracy", []float64{1}, "Pa", formWeb + ", apparatus", "seen"},
	{"canada-mixed", "require-calibration", []float64{1}, "year", formWeb + ": shall not exceed one year", "seen"},
	{"canada-mixed", "require-tap", []float64{3}, "m", formWeb + ", step 2: 3 m (10 ft) from the house", "seen"},
	{"canada-mixed", "note-f326-cap", []float64{-10}, "Pa", "form r12/19, box 8: no more than 10 Pa under F326", "seen"},
	{"canada-mixed", "note-f300-solid-fuel", []float64{-5}, "Pa", f300 + " b: removal of the -5 Pa limit", "seen"},
	{"canada-mixed", "note-f300-10", []float64{-10}, "Pa", f300 + " d: -10 Pa limit", "seen"},
	{"canada-mixed", "note-f300-25", []float64{-25}, "Pa", f300 + " e: -25 Pa limit at the DTC", "seen"},
	{"canada-mixed", "note-f300-5", []float64{-5}, "Pa", "CSA F300, spillage-susceptible gas or oil at the DTC", "memory"},
	{"canada-mixed", "note-oil-10", []float64{-10}, "Pa", cgsbTable, "memory"},
	{"canada-mixed", "note-rule-of-thumb", []float64{-5}, "Pa", "Canadian gas technician unit 22: more than 0.02 inch w.c. (5 Pa)", "seen"},

	{"", "ambient-70", []float64{70}, "ppm", "2018 IRC D.2(1); ANSI/BPI-1200 tier 3", "memory"},
	{"", "ambient-35", []float64{35}, "ppm", "2005 technical standard: greater than 35 ppm must be aborted", "seen"},
	{"", "ambient-30", []float64{30}, "ppm", "2018 IRC D.2(2): 30 to 70, range from memory", "memory"},
	{"", "ambient-9", []float64{9}, "ppm", std1200 + ", tier 1", "memory"},
	{"", "lel-10", []float64{10}, "%", std1200 + ": 10 % LEL or more", "memory"},
}

// numbers that a row carries, nil where it has none.
func (x row) numbers() []float64 {
	switch {
	case x.y.Value != nil:
		return []float64{*x.y.Value}
	case x.y.Over != nil && x.y.UpTo != nil:
		return []float64{*x.y.Over, *x.y.UpTo}
	case x.y.Over != nil:
		return []float64{*x.y.Over, inf}
	}
	var out []float64
	for _, p := range x.y.Line {
		out = append(out, *p.TempF, *p.Pa)
	}
	return out
}

// TestPublishedRows: every figure that a row carries, as its document gives it,
// with what is known of the document.
func TestPublishedRows(t *testing.T) {
	for _, n := range Names() {
		rows := map[string]row{}
		for _, x := range mustLoad(t, n).all() {
			rows[x.y.ID] = x
		}
		for _, f := range figures {
			if f.scheme != "" && f.scheme != n {
				continue
			}
			x, ok := rows[f.row]
			if !ok {
				t.Errorf("%s has no row %s", n, f.row)
				continue
			}
			got := x.numbers()
			t.Logf("published: figure=%q got=%v %s want=%v %s source=%q evidence=%s", n+" "+f.row, got, x.y.Unit, f.want, f.unit, f.source, f.ev)
			if !slices.Equal(got, f.want) || x.y.Unit != f.unit {
				t.Errorf("%s %s: %v %s, want %v %s", n, f.row, got, x.y.Unit, f.want, f.unit)
			}
			if x.y.Evidence != f.ev {
				t.Errorf("%s %s: evidence %s, want %s", n, f.row, x.y.Evidence, f.ev)
			}
		}
	}
}

// TestPublishedCoverage: no row says that its figure is published unless a check
// holds it against what was published.
func TestPublishedCoverage(t *testing.T) {
	checked := map[string]bool{}
	for _, f := range figures {
		if checked[f.scheme+" "+f.row] {
			t.Errorf("%s %s is checked twice", f.scheme, f.row)
		}
		checked[f.scheme+" "+f.row] = true
	}
	for _, n := range Names() {
		for _, x := range mustLoad(t, n).all() {
			switch procedure.Evidence(x.y.Evidence) {
			case procedure.EvidenceSeen, procedure.EvidenceSecondary, procedure.EvidenceMemory:
				if len(x.numbers()) > 0 && !checked[n+" "+x.y.ID] && !checked[" "+x.y.ID] {
					t.Errorf("%s: row %s, %v from %s (%s), has no published check", n, x.y.ID, x.numbers(), x.src, x.y.Evidence)
				}
			}
		}
	}
}

// TestEverySubjectIsSaid: each scheme has rows or says that it has none for
// whatever a table is to cover.
func TestEverySubjectIsSaid(t *testing.T) {
	open := map[string][]string{
		"graded-2005":     {"co", "lel", "fireplace-flow", "combustion-air"},
		"spillage-2017":   {"depressurization", "draft-line", "matrix", "fireplace-flow", "combustion-air"},
		"code-annex-2018": {"depressurization", "draft-line", "matrix", "fireplace-flow"},
		"canada-mixed":    {"draft-line", "co", "matrix", "ambient-co", "lel", "combustion-air"},
	}
	for _, n := range Names() {
		s := mustLoad(t, n)
		var without []string
		for _, sub := range subjects {
			if !slices.ContainsFunc(s.rows, func(x row) bool { return sub.has(x.y) }) {
				without = append(without, sub.name)
				if !slices.ContainsFunc(s.Open(), func(o Open) bool { return o.Topic == sub.name && len(o.Kinds)+len(o.Fuels) == 0 }) {
					t.Errorf("%s: nothing of %s, and it does not say so", n, sub.name)
				}
			}
		}
		if !slices.Equal(without, open[n]) {
			t.Errorf("%s has nothing for %v, want %v", n, without, open[n])
		}
	}
}

// TestOwnRules: where the decision or the order is ours the row says so, and
// what was recalled is never said to have been read.
func TestOwnRules(t *testing.T) {
	for n, ids := range map[string][]string{
		"graded-2005":     {"natural-triggers", "stages", "stages-daily", "co-25-spill-worst", "co-100-spill-worst", "co-over-spill", "co-over-draft", "act-spillage-fails", "act-net-beyond"},
		"spillage-2017":   {"natural-triggers", "stages", "stages-daily", "act-spillage-fails"},
		"code-annex-2018": {"natural-triggers", "stages", "stages-daily", "act-spillage-fails"},
		"canada-mixed":    {"natural-triggers", "stages", "stages-daily", "act-spillage-fails", "spillage-open"},
	} {
		_, _, rows := loaded(t, n)
		for _, id := range ids {
			evidence(t, rows, id, "own-rule")
		}
		evidence(t, rows, "ambient-30", "memory")
	}
}
