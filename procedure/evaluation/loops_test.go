package evaluation_test

import (
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/sequence"
)

// homeSheet is a filled sheet of the invented homes, as answers of a walk.
func homeSheet(t *testing.T, name string, change ...string) map[string]string {
	t.Helper()
	b, err := os.ReadFile("../../testdata/homes/" + name + ".sheet.yaml")
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	_, text, _ := strings.Cut(string(b), "\nanswers:\n")
	for _, l := range strings.Split(text, "\n") {
		if k, v, ok := strings.Cut(strings.TrimSpace(l), ": "); ok && !strings.HasPrefix(k, "#") {
			out[k] = strings.Trim(v, `"`)
		}
	}
	for _, c := range change {
		k, v, _ := strings.Cut(c, "=")
		out[k] = v
	}
	return out
}

// richVent: a furnace and a water heater on one vent beside an oven, a sealed
// room heater and a gas dryer; two air handlers. All in order.
func richVent(change ...string) map[string]string {
	return commonAnswers(append([]string{"list/appliances=1 3 9 5 10", "prepare/fired=120 120", "doubt=ok looked",
		"appliance/oven-1/burner=1 18000", "appliance/oven-1/facts=1", "look/oven-1=ok", "co/oven-1=20 18",
		"appliance/room-heater-1/burner=1 20000", "appliance/room-heater-1/vent=4", "appliance/room-heater-1/facts=1", "look/room-heater-1=ok", "co/room-heater-1=12 7",
		"appliance/gas-dryer-1/burner=1 20000", "look/gas-dryer-1=ok", "list/airhandlers=1 1", "reading/basement-1/air2=-1.9 -1.9 -1.9 -1.8 -1.9", "reading/basement-1/air3=-1.9 -1.9 -1.9 -1.8 -1.9",
		"list/cfm50=2700", "list/flows=50 100 100", "sealing/cfm50=?"}, change...)...)
}

// standing is a walk as it stood before a step.
type standing struct {
	step   procedure.Step
	state  *sequence.State
	events int
	at     time.Time
}

func (w walk) stand(step procedure.Step) standing {
	return standing{step, w.State, len(w.Events), w.At}
}

// from goes on from where a walk stood.
func (w walk) from(s standing) walk {
	c := *w.Walk
	c.State, c.Events, c.At, c.Asked = s.state, slices.Clone(c.Events[:s.events]), s.at, nil
	return walk{&c}
}

// stands walks a home to its end and keeps how it stood before each step.
func (w walk) stands() []standing {
	w.T.Helper()
	begun := w.stand(procedure.Step{})
	w.To("")
	c := w.from(begun)
	var out []standing
	for _, step := range w.Asked {
		c.To(step.ID)
		out = append(out, c.stand(step))
	}
	return out
}

// finish answers to the end, or to the first step that has no fitting answer.
func (w walk) finish() (whole bool) {
	for i := 0; i < 400; i++ {
		step, ok := w.State.Next()
		if !ok {
			return true
		}
		if w.Answer(step) != nil {
			return false
		}
	}
	w.T.Fatal("the walk does not end")
	return false
}

// Each step left out, for each reason: nothing becomes milder than incomplete
// but a draft that cannot be measured by nature, which is refer; and what a
// step was about is not said to be fit to run.
func TestAdversaryEachStepLeftOut(t *testing.T) {
	for name, c := range map[string]struct {
		phase   procedure.Phase
		answers map[string]string
		reasons []procedure.SkipReason
	}{
		"two zones, oil, a fan-assisted vent": {procedure.TestIn, homeSheet(t, "maple-63-two-zones", "co/boiler-1=12 6.0", "doubt=ok looked", "list/cfm50=-"), []procedure.SkipReason{procedure.SkipByNature}},
		"one vent, daily":                     {procedure.Daily, richVent(), []procedure.SkipReason{procedure.SkipCannot, procedure.SkipEndingEarly}},
	} {
		t.Run(name, func(t *testing.T) {
			w := beginIn(t, "", c.phase, c.answers)
			stood, tried := w.stands(), 0
			w.want(procedure.Proceed)
			for _, s := range stood {
				for _, r := range c.reasons {
					x, refused := w.from(s), false
					for _, k := range s.step.Keys() {
						refused = refused || x.Try(k, &procedure.Skip{Reason: r, Text: "x"}) != nil
					}
					if refused || s.step.Wanted {
						continue
					}
					tried++
					x.finish()
					want := procedure.Incomplete
					if r == procedure.SkipByNature && s.step.Ask == "draft" {
						want = procedure.Refer
					}
					j := x.judge()
					if j.Decision.Milder(want) {
						t.Errorf("%s left out (%s): %s", s.step.ID, r, j.Decision)
					}
					if want == procedure.Incomplete && s.step.Subject != "" && status(j, s.step.Subject) == procedure.MayRun {
						t.Errorf("%s left out (%s): %s may run", s.step.ID, r, s.step.Subject)
					}
				}
			}
			if tried < 80 {
				t.Errorf("only %d were tried", tried)
			}
		})
	}
}

// Each hazard at the steps of a daily test, as seen and then corrected to the
// mildest that a correction can say: neither is milder than its rule.
func TestAdversaryHazardAtEachStep(t *testing.T) {
	w := beginIn(t, "", procedure.Daily, richVent())
	stood := w.stands()
	v := func(x float64) *float64 { return &x }
	for _, h := range []struct {
		hz   procedure.Hazard
		want procedure.Decision
	}{
		{procedure.Hazard{Code: procedure.Alarm}, procedure.Leave}, {procedure.Hazard{Code: procedure.Symptoms}, procedure.Leave}, {procedure.Hazard{Code: procedure.Smell}, procedure.Leave},
		{procedure.Hazard{Code: procedure.AmbientCO}, procedure.Leave}, {procedure.Hazard{Code: procedure.AmbientCO, OverRange: true}, procedure.Leave},
		{procedure.Hazard{Code: procedure.AmbientCO, Value: v(36)}, procedure.Leave}, {procedure.Hazard{Code: procedure.AmbientCO, Value: v(30)}, procedure.Hold}, {procedure.Hazard{Code: procedure.AmbientCO, Value: v(9)}, procedure.Refer},
		{procedure.Hazard{Code: procedure.LEL, Value: v(10)}, procedure.Leave},
		{procedure.Hazard{Code: procedure.Leak}, procedure.Hold}, {procedure.Hazard{Code: procedure.Rollout, Subject: "furnace-1"}, procedure.Hold}, {procedure.Hazard{Code: procedure.FlameChange}, procedure.Hold},
	} {
		for i, s := range stood {
			if i%2 > 0 && s.step.Stage != procedure.StageAppliances {
				continue // every other one is enough where nothing burns
			}
			x := w.from(s)
			hz := h.hz
			x.Do(s.step.ID, &hz)
			x.Do(s.step.ID, &procedure.Correct{Replaces: x.State.Last(), Reason: "typed wrong", Hazard: &procedure.Hazard{Code: procedure.AmbientCO, Value: v(0), Subject: hz.Subject}})
			if j := x.judge(); j.Decision.Milder(h.want) {
				t.Errorf("%s %v at %s: %s, want %s", hz.Code, hz.Value, s.step.ID, j.Decision, h.want)
			}
		}
	}
}

// otherAnswers are plausible answers to a step, as typed.
func otherAnswers(step procedure.Step) []string {
	each := func(n int, v string) string { return strings.TrimSpace(strings.Repeat(v+" ", n)) }
	var out []string
	switch step.Form {
	case procedure.FormChoice:
		for i := range step.Choices {
			out = append(out, fmt.Sprint(i+1))
		}
	case procedure.FormChecklist:
		out = []string{"ok", "1", "?1"}
	case procedure.FormFacts:
		out = []string{"none", "1", "1 2", "1 2 3", "1 2 6", "1 2 3 6 7", "1 2 3 4 5 7", "2 3 7", "1 3 7", "?2", "1 2 3 8 7", "1 2 3 9 7", "1 2 3 7 10"}
	case procedure.FormRoster:
		out = map[string][]string{"list/appliances": {"1", "3", "1 3 9", "2 3", "none", "1 15", "1 12"}, "list/zones": {"2", "1 2", "4", "5"}, "list/fans": {"none", "1", "1 1 2 3", "7 8"}, "list/doors": {"none", "1", "1 1 1 1"}, "list/airhandlers": {"none", "1 1"}}[step.ID]
	case procedure.FormBurner:
		out = []string{"2 80000", "3 80000", "4 80000", "1 10000", "1 ?", "1 900000"}
	case procedure.FormPick:
		out = []string{"none", "1", "2"}
	case procedure.FormPressure:
		out = []string{each(5, "-1.0"), each(5, "-5.0"), each(5, "-9.0"), each(5, "+0.5"), "-1.0 30s", each(5, "-0.02 inH2O")}
	case procedure.FormClock:
		out = []string{"none", "59s", "250s", "still 100s"}
	case procedure.FormGas:
		out = []string{"0 5", "12 17", "12", "90 7"}
	case procedure.FormAmbient:
		out = []string{"0", "5"}
	case procedure.FormWeather:
		out = []string{"2 -20", "3 34"}
	case procedure.FormNumber:
		out = []string{"?", "500", "9000"}
	case procedure.FormNumbers:
		out = []string{each(len(step.Items), "1"), each(len(step.Items), "999"), each(len(step.Items), "?")}
	case procedure.FormTable:
		out = []string{each(len(step.Items), "1"), each(len(step.Items), "2"), each(len(step.Items), "3")}
	case procedure.FormInstrument:
		out = []string{"gauge G2; 1; 2026-01-01; 0.1; 1%", "gauge"}
	}
	return out
}

func (w walk) said(key string) string {
	d, _, _ := w.State.Fact(key)
	b, _ := json.Marshal(d)
	return string(b)
}

// Each answered fact of a failing home corrected to each plausible other
// value, and what that makes stale taken again with the same outcome: the
// decision does not become milder, unless the fact itself is what failed.
func TestAdversaryEachFactCorrected(t *testing.T) {
	nat := []string{"spill/furnace-1/natural=20s", naturalPasses}
	for name, c := range map[string]struct {
		answers map[string]string
		self    []string
		want    procedure.Decision
	}{
		"net beyond":           {furnaceHome("reading/basement-1/worst=-7.0 -7.0 -7.1 -7.0 -7.0"), []string{"reading/basement-1/worst"}, procedure.Hold},
		"spills":               {furnaceHome(append(nat, "spill/furnace-1=still 90s")...), []string{"spill/furnace-1"}, procedure.Hold},
		"150 ppm":              {furnaceHome("co/furnace-1=150 7"), []string{"co/furnace-1"}, procedure.Hold},
		"33 ppm in the room":   {furnaceHome("ambient/furnace-1=33", "source=4"), nil, procedure.Hold},
		"water heater spills":  {commonAnswers(append(nat, "spill/water-heater-1=still 90s", "spill/water-heater-1/natural=still 90s")...), []string{"spill/water-heater-1/natural", "spill/water-heater-1"}, procedure.Hold},
		"450 ppm and spillage": {furnaceHome(append(nat, "co/furnace-1=450 7", "spill/furnace-1=still 90s")...), []string{"co/furnace-1", "spill/furnace-1"}, procedure.Leave},
	} {
		t.Run(name, func(t *testing.T) {
			c.answers["doubt"] = "ok looked"
			w := begin(t, c.answers)
			w.To("")
			w.want(c.want)
			end, tried, seen := w.stand(procedure.Step{}), 0, map[string]bool{}
			for _, k := range w.State.Answers() {
				step, ok := w.State.StepFor(k)
				if !ok || seen[step.ID] || slices.Contains(c.self, step.ID) {
					continue
				}
				seen[step.ID] = true
				for _, text := range otherAnswers(step) {
					en, err := forms.Parse(step, text, forms.ParseContext{Twice: true})
					if err != nil {
						continue
					}
					x, changed := w.from(end), false
					for _, e := range en {
						b, _ := json.Marshal(e.Data)
						if _, _, had := x.State.Fact(e.Key); had && x.said(e.Key) != string(b) {
							changed = x.Try(e.Key, x.Correction(e.Key, e.Data)) == nil || changed
						}
					}
					if !changed || !x.finish() {
						continue
					}
					tried++
					if j := x.judge(); j.Decision.Milder(c.want) {
						t.Errorf("%s corrected to %q: %s", step.ID, text, j.Decision)
					}
				}
			}
			if tried < 50 {
				t.Errorf("only %d were tried", tried)
			}
		})
	}
}

// One event of a record cut out and the rest numbered anew: it does not replay,
// or what is left is not milder than incomplete, unless a wanted thing is gone.
func TestAdversaryEventCutOut(t *testing.T) {
	w := begin(t, richVent("list/cfm50=-"))
	w.To("")
	w.want(procedure.Proceed)
	free := map[string]bool{"told/decision": true, "decide/tester": true}
	for _, s := range w.Asked {
		for _, k := range append(s.Keys(), s.ID) {
			free[k] = free[k] || s.Wanted
		}
	}
	for i := 1; i < len(w.Events); i++ {
		cut := w.Events[i]
		if free[cut.Step] || strings.HasPrefix(cut.Step, "more/") { // a suggestion never costs the decision
			continue
		}
		if cut.Kind == procedure.KindSetup && slices.ContainsFunc(w.Events[:i], func(ev procedure.Event) bool {
			return ev.Step == cut.Step && reflect.DeepEqual(ev.Data, cut.Data)
		}) {
			continue // set again as it was set before: the first says what it says
		}
		var evs []procedure.Event
		for _, ev := range w.Events {
			if ev.N == cut.N {
				continue
			}
			b, _ := json.Marshal(ev.Data)
			d := procedure.NewData(ev.Kind)
			if err := json.Unmarshal(b, d); err != nil {
				t.Fatal(err)
			}
			ev.Data = d
			if ev.N > cut.N {
				ev.N--
			}
			if a, ok := d.(*procedure.Answer); ok && a.Pressure != nil && a.Pressure.Setup > cut.N {
				a.Pressure.Setup--
			}
			evs = append(evs, ev)
		}
		st, err := sequence.Replay(w.Header, evs)
		if err != nil {
			continue
		}
		if j := evaluation.Judge(st.Observations(), rules2(t)); j.Decision.Milder(procedure.Incomplete) {
			t.Errorf("without event %d (%s): %s", cut.N, cut.Step, j.Decision)
		}
	}
}
