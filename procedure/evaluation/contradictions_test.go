package evaluation_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/sequence"
	"cazward/procedure/sequence/sequencetest"
)

const (
	gradedScheme = "graded-2005"
	spillScheme  = "spillage-2017"
	annexScheme  = "code-annex-2018"
	canadaScheme = "canada-mixed"
)

func scheme(t *testing.T, name string) *limits.Set {
	t.Helper()
	return sequencetest.Set(t, name)
}

// walkUnder walks a home by the plan of a scheme and returns the steps in the
// order in which they were asked.
func walkUnder(t *testing.T, name string, answers map[string]string) (*sequence.State, []procedure.Step) {
	t.Helper()
	w := beginIn(t, name, procedure.TestIn, answers)
	w.To("")
	return w.State, w.Asked
}

func judgeUnder(t *testing.T, name string, st *sequence.State) procedure.Judgement {
	t.Helper()
	return evaluation.Judge(st.Observations(), scheme(t, name).Rules())
}

func asked(steps []procedure.Step, id string) int {
	return slices.IndexFunc(steps, func(s procedure.Step) bool { return s.ID == id })
}

// found is the first finding of a rule about a subject.
func found(j procedure.Judgement, rule, subject string) (procedure.Finding, bool) {
	for _, f := range j.Findings {
		if f.Rule == rule && f.Subject == subject {
			return f, true
		}
	}
	return procedure.Finding{}, false
}

func explain(t *testing.T, j procedure.Judgement) {
	t.Helper()
	for _, f := range j.Findings {
		if f.Verdict != procedure.Pass {
			t.Logf("  %s %s %s %s %s row %s", f.Rule, f.Subject, f.Verdict, f.Severity, f.Detail, f.Row)
		}
	}
	for _, m := range j.Missing {
		t.Logf("  missing %s %s", m.Step, m.Why)
	}
}

// TestContradictions: one home, walked and judged under each scheme by its
// own plan. Where the published texts disagree the decisions do, and where
// they agree on the danger none of them is milder.
func TestContradictions(t *testing.T) {
	const off, nofans, may = procedure.OffUntilServiced, procedure.MayRunNoFans, procedure.MayRun
	natural := []string{"spill/furnace-1/natural=20s", "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4"}
	with := func(c ...string) []string { return append(c, natural...) }
	wh := func(c ...string) []string {
		return append([]string{"list/appliances=3", "appliance/water-heater-1/facts=1 2 3 7", "held/water-heater-1=-2.0 -2.0 -2.1 -1.9 -2.0"}, c...)
	}
	type want struct {
		d  procedure.Decision
		st procedure.Status
	}
	same := func(d procedure.Decision, st procedure.Status) map[string]want {
		return map[string]want{gradedScheme: {d, st}, spillScheme: {d, st}, annexScheme: {d, st}, canadaScheme: {d, st}}
	}
	// Canada sets no CO limit, so that CO that was read is at least refer.
	for _, c := range []struct {
		name, who string
		change    []string
		want      map[string]want
	}{
		{"all clear", "furnace-1", nil, map[string]want{
			gradedScheme: {procedure.Proceed, may}, spillScheme: {procedure.Proceed, may}, annexScheme: {procedure.Proceed, may}, canadaScheme: {procedure.Refer, may}}},
		{"1 a Pa limit at all: net -6.1 Pa", "furnace-1", []string{"reading/basement-1/worst=-7.0 -7.1 -6.9 -7.0 -7.0"}, map[string]want{
			gradedScheme: {procedure.Hold, may}, spillScheme: {procedure.Proceed, may}, annexScheme: {procedure.Proceed, may}, canadaScheme: {procedure.Hold, may}}},
		{"1 graded by appliance: water heater alone at -3.0 Pa, gauge good to 0.25 Pa", "water-heater-1", wh("arrive/gauge=gauge G1; 1001; 2026-03-02; 0.1; 0.25", "reading/basement-1/worst=-3.9 -3.9 -3.9 -3.9 -3.9"), map[string]want{
			gradedScheme: {procedure.Hold, may}, spillScheme: {procedure.Proceed, may}, annexScheme: {procedure.Proceed, may}, canadaScheme: {procedure.Refer, may}}},
		{"2 direct vent at -26 Pa", "furnace-1", []string{"appliance/furnace-1/vent=4", "appliance/furnace-1/facts=1", "doubt=ok looked at the hoses", "reading/basement-1/worst=-27.0 -27.1 -26.9 -27.0 -27.0"}, map[string]want{
			gradedScheme: {procedure.Proceed, may}, spillScheme: {procedure.Proceed, may}, annexScheme: {procedure.Proceed, may}, canadaScheme: {procedure.Hold, may}}},
		{"3 spillage for 90 s, vent warm", "furnace-1", with("prepare/fired=10", "spill/furnace-1=90s"), map[string]want{
			gradedScheme: {procedure.Hold, nofans}, spillScheme: {procedure.Proceed, may}, annexScheme: {procedure.Proceed, may}, canadaScheme: {procedure.Hold, nofans}}},
		{"3 spillage for 200 s, vent warm", "furnace-1", with("prepare/fired=10", "spill/furnace-1=200s"), map[string]want{
			gradedScheme: {procedure.Hold, nofans}, spillScheme: {procedure.Hold, nofans}, annexScheme: {procedure.Proceed, may}, canadaScheme: {procedure.Hold, nofans}}},
		{"3 spillage for 200 s, vent cold", "furnace-1", with("spill/furnace-1=200s"), map[string]want{
			gradedScheme: {procedure.Hold, nofans}, spillScheme: {procedure.Proceed, may}, annexScheme: {procedure.Proceed, may}, canadaScheme: {procedure.Hold, nofans}}},
		// 150 ppm at 7 % O2 is 225.5 air-free.
		{"4 CO basis: furnace at 150 ppm, 7 % O2", "furnace-1", []string{"co/furnace-1=150 7"}, map[string]want{
			gradedScheme: {procedure.Hold, off}, spillScheme: {procedure.Proceed, may}, annexScheme: {procedure.Proceed, may}, canadaScheme: {procedure.Refer, may}}},
		// 95 ppm at 12 % O2 is 223.1 air-free.
		{"4 CO basis: water heater at 95 ppm, 12 % O2", "water-heater-1", wh("co/water-heater-1=95 12"), map[string]want{
			gradedScheme: {procedure.Refer, may}, spillScheme: {procedure.Hold, off}, annexScheme: {procedure.Hold, off}, canadaScheme: {procedure.Refer, may}}},
		{"4 CO without O2 is no pass anywhere: it may be diluted", "furnace-1", []string{"co/furnace-1=20", "doubt=ok it is the flue"}, same(procedure.Incomplete, procedure.StatusNone)},
		{"6 ambient CO 32 ppm: the floor holds everywhere", "furnace-1", []string{"ambient/furnace-1=32", "source=1", "settled=1"}, same(procedure.Hold, off)},
		{"6 ambient CO 36 ppm: the floor holds everywhere", "", []string{"arrive/ambient=36"}, same(procedure.Leave, "absent")},
		{"7 gas in air at 15 % LEL: the floor holds everywhere", "", []string{"arrive/lel=15"}, same(procedure.Leave, "absent")},
		{"12 draft of -1.0 Pa at 34 F", "furnace-1", with("draft/furnace-1=-1.0 -1.0 -1.0 -1.0 -1.0"), map[string]want{
			gradedScheme: {procedure.Refer, nofans}, spillScheme: {procedure.Proceed, may}, annexScheme: {procedure.Proceed, may}, canadaScheme: {procedure.Refer, may}}},
		{"13 spillage at worst case only, CO 21 ppm", "furnace-1", with("spill/furnace-1=301s"), same(procedure.Hold, nofans)},
		// Not a contradiction: what no scheme may soften.
		{"spillage never stops, natural conditions too", "furnace-1", []string{"spill/furnace-1=still 310s", "spill/furnace-1/natural=still 310s"}, same(procedure.Hold, off)},
		{"CO over 400 ppm", "furnace-1", []string{"co/furnace-1=401 7"}, same(procedure.Hold, off)},
		{"CO over range", "furnace-1", []string{"co/furnace-1=over"}, same(procedure.Hold, off)},
		{"CO over 400 ppm and spillage", "furnace-1", []string{"co/furnace-1=401 7", "spill/furnace-1=still 310s"}, same(procedure.Leave, procedure.FuelOff)},
		{"CO over range and spillage", "furnace-1", []string{"co/furnace-1=over", "spill/furnace-1=still 310s"}, same(procedure.Leave, procedure.FuelOff)},
		{"cannot be fired today", "furnace-1", []string{"appliance/furnace-1/facts=2 3 7"}, same(procedure.Incomplete, procedure.StatusNone)},
		{"vent disconnected", "furnace-1", []string{"look/furnace-1=3"}, same(procedure.Hold, off)},
		{"a confirmed leak on the appliance", "furnace-1", []string{"look/furnace-1=1"}, same(procedure.Hold, procedure.FuelOff)},
	} {
		for _, name := range []string{gradedScheme, spillScheme, annexScheme, canadaScheme} {
			t.Run(c.name+" under "+name, func(t *testing.T) {
				answers := furnaceHome(c.change...)
				if _, has := answers["doubt"]; !has {
					answers["doubt"] = "ok looked at the hoses"
				}
				st, _ := walkUnder(t, name, answers)
				j := judgeUnder(t, name, st)
				w := c.want[name]
				if j.Decision != w.d || w.st != "absent" && status(j, c.who) != w.st {
					t.Errorf("got %s %q, want %s %q", j.Decision, status(j, c.who), w.d, w.st)
					explain(t, j)
				}
			})
		}
	}
}

// TestContradictionCOTime (5): steady state or 10 minutes against 5.
func TestContradictionCOTime(t *testing.T) {
	for name, min := range map[string]float64{gradedScheme: 10, annexScheme: 5} {
		if got := scheme(t, name).Plan(procedure.TestIn).CO.AfterMin; got != min {
			t.Errorf("%s: CO after %v min, want %v", name, got, min)
		}
	}
}

// TestContradictionOrder (8): where each scheme has the air handler, the CAZ
// door, the doors and the fans.
func TestContradictionOrder(t *testing.T) {
	order := map[string][]string{
		gradedScheme: {"dryer", "fans", "doors", "air1", "cazdoor"},
		spillScheme:  {"fans", "doors", "air1", "cazdoor"},
		annexScheme:  {"doors", "fans", "air1", "cazdoor"},
		canadaScheme: {"air1", "cazdoor", "fans", "doors"},
	}
	for name, want := range order {
		_, steps := walkUnder(t, name, furnaceHome("doubt=ok looked at the hoses"))
		var got []string
		for _, s := range steps {
			if x, ok := strings.CutPrefix(s.ID, "reading/basement-1/"); ok && slices.Contains([]string{"dryer", "fans", "doors", "air1", "cazdoor"}, x) {
				got = append(got, x)
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: pressures read in the order %v, want %v", name, got, want)
		}
	}
}

// TestOrderKeepsTheWorse: whatever the order of the plan, a door or an air
// handler is held as the reading before and after it said, not as a later
// reading with more fans would have it.
func TestOrderKeepsTheWorse(t *testing.T) {
	held := func(name string, change ...string) procedure.Setup {
		st, _ := walkUnder(t, name, furnaceHome(append(change, "doubt=ok looked at the hoses")...))
		zo := st.Observations().ZoneOf("basement-1")
		if zo == nil || zo.Held == nil {
			t.Fatalf("%s: no set-up was held", name)
		}
		return *zo.Held
	}
	// The air handler makes nothing worse; the shut door does (-1.2 after
	// -0.9); all fans after that read -1.6 and say nothing about the door.
	su := held(canadaScheme, "reading/basement-1/air1=-0.7 -0.7 -0.8 -0.7 -0.7", "reading/basement-1/cazdoor=-1.2 -1.2 -1.3 -1.2 -1.2")
	if len(su.AirHandler) > 0 || su.CAZDoor != "closed" {
		t.Errorf("canada: air handler %v, CAZ door %s; want off, closed", su.AirHandler, su.CAZDoor)
	}
	// The annex reads doors, then fans (-1.6): an air handler that lifts the
	// zone to -1.4 stays off though the doors alone read -1.0.
	su = held(annexScheme, "reading/basement-1/doors=-1.0 -1.0 -1.0 -1.1 -1.0", "reading/basement-1/air1=-1.4 -1.4 -1.4 -1.3 -1.4", "reading/basement-1/cazdoor=-1.2 -1.2 -1.3 -1.2 -1.2")
	if len(su.AirHandler) > 0 || su.CAZDoor == "closed" {
		t.Errorf("code annex: air handler %v, CAZ door %s; want off, open", su.AirHandler, su.CAZDoor)
	}
}

// TestContradictionDoors (9): doors by smoke, by pressure, or all shut.
func TestContradictionDoors(t *testing.T) {
	for name, ask := range map[string]string{gradedScheme: "doors.smoke", annexScheme: "", canadaScheme: "doors.pressure"} {
		st, steps := walkUnder(t, name, furnaceHome("doubt=ok looked at the hoses", "doors/basement-1=2 1 1"))
		got := ""
		if i := asked(steps, "doors/basement-1"); i >= 0 {
			got = steps[i].Ask
		}
		if got != ask {
			t.Errorf("%s: doors asked by %q, want %q", name, got, ask)
		}
		shut := len(st.Observations().ZoneOf("basement-1").Held.Doors)
		if want := map[string]int{gradedScheme: 2, annexScheme: 3, canadaScheme: 2}[name]; shut != want {
			t.Errorf("%s: %d doors shut at worst case, want %d", name, shut, want)
		}
	}
}

// fireplaceHome has an open fireplace beside the furnace.
func fireplaceHome() map[string]string {
	a := furnaceHome("list/appliances=1 12", "appliance/fireplace-1/facts=1", "look/fireplace-1=ok", "doubt=ok looked at the hoses", "firedoors/basement-1=2 1 1")
	for _, x := range []string{"fireplace", "firedoors", "firecaz"} {
		a["reading/basement-1/"+x] = "-2.4 -2.4 -2.5 -2.4 -2.4"
	}
	return a
}

// TestContradictionFireplace (10): damper closed against a flow that stands in
// for the fire; a walk without the flow is incomplete where it is asked.
func TestContradictionFireplace(t *testing.T) {
	for _, name := range []string{gradedScheme, spillScheme, annexScheme, canadaScheme} {
		st, steps := walkUnder(t, name, fireplaceHome())
		flow := st.Observations().ZoneOf("basement-1").Held.FlowCFM
		at := asked(steps, "reading/basement-1/fireplace")
		if name == canadaScheme {
			if flow < 158 || flow > 160 || at < asked(steps, "reading/basement-1/fans") {
				t.Errorf("%s: flow %v cfm, read at step %d; want about 159, after the fans", name, flow, at)
			}
		} else if flow != 0 || at >= 0 {
			t.Errorf("%s: flow %v cfm, step %d; want none", name, flow, at)
		}
		j := judgeUnder(t, canadaScheme, st)
		lacks := slices.ContainsFunc(j.Missing, func(m procedure.Missing) bool { return m.Step == "setup/basement-1/fireplace" })
		if lacks != (name != canadaScheme) || slices.Contains(j.NotAsked, "fireplace/fireplace-1") != (name != canadaScheme) {
			t.Errorf("walked under %s, judged under canada: missing %v, not asked %v", name, j.Missing, j.NotAsked)
		}
		if name != canadaScheme && procedure.MoreProtective(j.Decision, procedure.Incomplete) != j.Decision {
			t.Errorf("walked under %s, judged under canada: %s; without the flow it is incomplete at least", name, j.Decision)
		}
	}
}

// TestContradictionBaseline (11): Canada publishes a second baseline and the
// larger difference; elsewhere they are our own rule, and never milder.
func TestContradictionBaseline(t *testing.T) {
	for _, name := range []string{gradedScheme, spillScheme, annexScheme, canadaScheme} {
		set := scheme(t, name)
		want := "own-rule"
		if name == canadaScheme {
			want = "seen"
		}
		for _, r := range set.Rows() {
			if (r.ID == "baseline-closing" || r.ID == "baseline-net") && r.Evidence != want {
				t.Errorf("%s %s: evidence %s, want %s", name, r.ID, r.Evidence, want)
			}
		}
		// Opening baseline -0.9, closing -0.1: -2.0 is -1.9 against the latter.
		st, _ := walkUnder(t, name, furnaceHome("baseline/basement-1/closing=-0.1 -0.1 -0.1 -0.1 -0.1", "doubt=ok looked at the hoses"))
		j := judgeUnder(t, name, st)
		if len(j.WorstCase) != 1 || j.WorstCase[0].Net == nil || *j.WorstCase[0].Net > -1.89 || *j.WorstCase[0].Net < -1.99 {
			t.Errorf("%s: worst case %+v, want a net of about -1.9 Pa", name, j.WorstCase)
		}
	}
}

// TestNoPressureLimit: where the scheme sets none the value is recorded and
// there is no finding about it.
func TestNoPressureLimit(t *testing.T) {
	for _, name := range []string{spillScheme, annexScheme} {
		st, _ := walkUnder(t, name, furnaceHome("reading/basement-1/worst=-7.0 -7.1 -6.9 -7.0 -7.0", "doubt=ok looked at the hoses"))
		j := judgeUnder(t, name, st)
		if f, ok := found(j, "depressurization", "basement-1"); ok {
			t.Errorf("%s: pressure finding %+v", name, f)
		}
		if len(j.WorstCase) != 1 || j.WorstCase[0].Net == nil || *j.WorstCase[0].Net > -6 {
			t.Errorf("%s: the net is not recorded: %+v", name, j.WorstCase)
		}
	}
}

// TestOtherScheme: one record judged under a scheme that it was not walked by
// lists what that scheme asks and the walk did not.
func TestOtherScheme(t *testing.T) {
	st, _ := walkUnder(t, gradedScheme, fireplaceHome())
	for name, want := range map[string][]string{spillScheme: nil, annexScheme: {"doors/basement-1"}, canadaScheme: {"fireplace/fireplace-1"}} {
		if j := judgeUnder(t, name, st); !slices.Equal(j.NotAsked, want) || j.Scheme.Name != name {
			t.Errorf("graded walk under %s: scheme %s, not asked %v, want %v", name, j.Scheme.Name, j.NotAsked, want)
		}
	}
	st, _ = walkUnder(t, spillScheme, furnaceHome("doubt=ok looked at the hoses"))
	j := judgeUnder(t, gradedScheme, st)
	if !slices.Equal(j.NotAsked, []string{"draft/furnace-1"}) || j.Decision != procedure.Incomplete || status(j, "furnace-1") == procedure.MayRun {
		t.Errorf("2017 walk under graded: %s, furnace %q, not asked %v; draft was never read", j.Decision, status(j, "furnace-1"), j.NotAsked)
		explain(t, j)
	}
	// One graded record, four judgements: nothing is asked anew.
	st, _ = walkUnder(t, gradedScheme, furnaceHome("co/furnace-1=150 7", "spill/furnace-1=50s", "doubt=ok looked at the hoses"))
	for name, d := range map[string]procedure.Decision{gradedScheme: procedure.Hold, spillScheme: procedure.Proceed, annexScheme: procedure.Incomplete, canadaScheme: procedure.Refer} {
		if j := judgeUnder(t, name, st); j.Decision != d {
			t.Errorf("graded walk under %s: %s, want %s", name, j.Decision, d)
			explain(t, j)
		}
	}
}

// TestContradictionCOTiming: CO read six minutes after a light-off that the
// clock timed. The annex asks for five minutes; the graded sheet for a steady
// reading or ten minutes, so there it is asked about, and left open it decides.
func TestContradictionCOTiming(t *testing.T) {
	for name, want := range map[string]procedure.Decision{gradedScheme: procedure.Incomplete, annexScheme: procedure.Proceed} {
		w := beginIn(t, name, procedure.TestIn, furnaceHome("doubt=k"))
		w.To("spill/furnace-1")
		w.Clock("spill/furnace-1", 30*time.Second)
		w.To("co/furnace-1")
		_, n, _ := w.State.Fact("spill/furnace-1")
		if w.At = w.Events[n-1].Observed.Add(6 * time.Minute); w.At.Before(w.State.LastAt()) {
			t.Fatal("the walk took longer than that")
		}
		w.To("")
		if j := judgeUnder(t, name, w.State); j.Decision != want {
			t.Errorf("%s: %s, want %s", name, j.Decision, want)
			explain(t, j)
		}
	}
}
