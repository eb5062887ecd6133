package evaluation_test

import (
	"maps"
	"strings"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/sequence"
)

// passing is a set of answers in which all that is taken again passes.
func passing(answers map[string]string) map[string]string {
	out := maps.Clone(answers)
	for k, v := range map[string]string{"reading/basement-1/worst": "-2.0 -2.0 -2.1 -2.0 -2.0", "held/furnace-1": "-2.0 -2.0 -2.0 -2.0 -2.0", "spill/furnace-1": "20s", "draft/furnace-1": goodDraft,
		"co/furnace-1": "12 7", "together/furnace-1+water-heater-1": "ok", "spill/furnace-1/natural": "20s", "draft/furnace-1/natural": goodDraft} {
		out[k] = v
	}
	return out
}

// Deserves what the first reading deserved: it failed at a held worst case
// with fewer fans, or with the same ones under another name. What is corrected
// afterwards makes another try needed, it does not unsee this one; CO taken
// again keeps what it showed, and so must the rest.
func TestAdversaryFailureMadeStale(t *testing.T) {
	nat := []string{"spill/furnace-1/natural=20s", naturalPasses}
	for name, c := range map[string]struct {
		answers map[string]string
		want    procedure.Decision
	}{
		"net":      {furnaceHome("reading/basement-1/worst=-7.0 -7.0 -7.1 -7.0 -7.0"), procedure.Hold},
		"held":     {furnaceHome("held/furnace-1=-7.0 -7.0 -7.1 -7.0 -7.0"), procedure.Hold},
		"spillage": {furnaceHome(append(nat, "spill/furnace-1=still 90s")...), procedure.Hold},
		"draft":    {furnaceHome(append(nat, "draft/furnace-1="+weakDraft)...), procedure.Refer},
		"together": {commonAnswers(append(nat, "together/furnace-1+water-heater-1=1 2", "spill/water-heater-1/natural=20s", "draft/water-heater-1/natural="+goodDraft)...), procedure.Hold},
	} {
		for _, f := range [][2]string{{"list/fans", "1 1 2 3"}, {"list/fans", "none"}, {"list/doors", "none"}, {"reading/basement-1/air1", "-1.0 30s"}, {"zone/basement-1/door", "3"}} {
			t.Run(name+" then "+f[0]+" "+f[1], func(t *testing.T) {
				w := begin(t, c.answers)
				w.To("")
				w.want(c.want)
				w.Correct(f[0], f[1])
				w.Answers = passing(w.Answers)
				w.To("")
				w.atLeast(c.want, w.judge())
			})
		}
	}
}

// Deserves hold: it spilled with both lit. That the partner is named on one
// side only changes nothing in the home: the other side names it still.
func TestAdversaryPartnerUnnamedOnOneSide(t *testing.T) {
	w := begin(t, commonAnswers("together/furnace-1+water-heater-1=1 2", "spill/furnace-1/natural=20s", naturalPasses, "spill/water-heater-1/natural=20s", "draft/water-heater-1/natural="+goodDraft))
	w.To("")
	w.want(procedure.Hold)
	w.Correct("appliance/furnace-1/partners", "none")
	w.Answers = passing(w.Answers)
	w.To("")
	w.atLeast(procedure.Hold, w.judge())
}

// Deserves incomplete without a new baseline: the record was closed, opened
// again the next day, and a list corrected, so that all is measured anew. The
// night is a night, whether or not the record was closed before it.
func TestAdversaryReopenedNextDay(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("")
	n := w.State.Last()
	w.Do("", &procedure.Decided{Decision: procedure.Proceed}, &procedure.Close{Decided: n + 1})
	w.At = w.At.Add(26 * time.Hour)
	w.Do("", &procedure.Reopen{Close: "x", Reason: "a fan was forgotten"})
	w.Do("", &procedure.Handover{Who: "CD", Resumed: true})
	w.Correct("list/fans", "1 1 2 3")
	w.To("")
	if len(w.State.Observations().ZoneObs[0].Baselines) < 3 {
		w.atLeast(procedure.Incomplete, w.judge())
	}
}

// Deserves incomplete and off until serviced: its draft failed at worst case
// and was never read with the house at rest. It was measured, so it can be,
// whatever is said of the test hole afterwards.
func TestAdversaryHoleUnsaidBeforeNatural(t *testing.T) {
	w := begin(t, furnaceHome("draft/furnace-1="+weakDraft, "spill/furnace-1/natural=20s"))
	w.To("draft/furnace-1/natural")
	w.Correct("appliance/furnace-1/facts", "1 2 7")
	w.To("")
	if j := w.atLeast(procedure.Incomplete, w.judge()); status(j, "furnace-1") != procedure.OffUntilServiced {
		t.Errorf("status %q", status(j, "furnace-1"))
	}
}

// Deserves hold: the fans of the house pulled the zone 6.1 Pa below outdoors,
// so what stands in it is inside the boundary, whether it is said to be outside
// before the reading or after it, and whether or not it was lit.
func TestAdversaryPulledButOutside(t *testing.T) {
	for _, at := range []string{"held/furnace-1", "spill/furnace-1"} {
		for name, c := range map[string][2]string{"outside": {"appliance/furnace-1/facts", "1 2 3 6 7"}, "electric": {"appliance/furnace-1/burner", "4 80000"}} {
			t.Run("said to be "+name+" at "+at, func(t *testing.T) {
				w := begin(t, furnaceHome("reading/basement-1/worst=-7.0 -7.0 -7.1 -7.0 -7.0"))
				w.To(at)
				w.Correct(c[0], c[1])
				w.To("")
				w.atLeast(procedure.Incomplete, w.judge())
			})
		}
	}
	for n, zone := range map[string]string{"8": "living-space-1", "7": "kitchen-1"} {
		t.Run("said at once, "+zone, func(t *testing.T) {
			a := furnaceHome()
			for k, v := range a {
				a[strings.Replace(k, "basement-1", zone, 1)] = v
			}
			for k, v := range map[string]string{"list/zones": n, "appliance/furnace-1/facts": "1 2 3 6 7", "zone/" + zone + "/door": "3", "hose/" + zone: "ok", "doors/" + zone: "2 1 1", "redoors/" + zone: "2 1 1", "reading/" + zone + "/worst": "-7.0 -7.0 -7.0 -7.1 -7.0"} {
				a[k] = v
			}
			w := begin(t, a)
			w.To("")
			w.atLeast(procedure.Incomplete, w.judge())
		})
	}
}

// Deserves off until serviced: with all lit it spilled at worst case and was
// never tried so with the house at rest. That it spills alone too is worse, and
// must not give it the milder "not with all fans".
func TestAdversaryTogetherAndAlone(t *testing.T) {
	w := begin(t, commonAnswers("together/furnace-1+water-heater-1=1 2", "spill/furnace-1=70s", "spill/furnace-1/natural=20s", naturalPasses, "spill/water-heater-1/natural=20s", "draft/water-heater-1/natural="+goodDraft))
	w.To("")
	if j := w.want(procedure.Hold); status(j, "furnace-1") != procedure.OffUntilServiced {
		t.Errorf("status %q", status(j, "furnace-1"))
	}
}

// Deserves hold under each scheme, as before the correction: an electric
// furnace has no flue in which 380 ppm could be read, or more than the range.
func TestAdversaryElectricWithFlueCO(t *testing.T) {
	for _, s := range []string{spillScheme, annexScheme, canadaScheme, gradedScheme} {
		for _, co := range []string{"380 7", "over"} {
			t.Run(s+" "+co, func(t *testing.T) {
				w := beginIn(t, s, procedure.TestIn, furnaceHome("co/furnace-1="+co, "doubt=ok looked"))
				w.To("")
				before := w.judgeAs(s).Decision
				w.Correct("appliance/furnace-1/burner", "4 80000")
				w.To("")
				w.atLeast(before, w.judgeAs(s))
			})
		}
	}
}

// Deserves hold: its draft failed twice against the maker's 10 Pa. That the
// figure is not known, said afterwards, is no better than knowing it.
func TestAdversaryBreechUnknownAfterwards(t *testing.T) {
	w := begin(t, furnaceHome("appliance/furnace-1/burner=3 100000", "breech/furnace-1=-10", "spill/furnace-1/natural=20s", "draft/furnace-1/natural="+weakDraft))
	w.To("")
	w.want(procedure.Hold)
	if w.TryCorrect("breech/furnace-1", "?") == nil {
		w.To("")
		w.atLeast(procedure.Hold, w.judge())
	}
}

// Deserves refer, as it is when typed at arrival: 5 percent LEL is gas, at
// whatever step it is met.
func TestAdversaryTraceOfGasLater(t *testing.T) {
	five := 5.0
	w := begin(t, furnaceHome())
	w.To("baseline/basement-1")
	w.Do("baseline/basement-1", &procedure.Hazard{Code: procedure.LEL, Value: &five})
	w.To("")
	w.atLeast(procedure.Refer, w.judge())
}

// Deserves refer at least: a gas furnace on the flue of a wood stove, which no
// code allows (NFPA 54, gas and solid fuel in one flue, from memory), and which
// was never seen with the stove lit. Two of the schemes let it pass.
func TestAdversaryGasOnSolidFuelFlue(t *testing.T) {
	for _, s := range []string{gradedScheme, spillScheme, annexScheme, canadaScheme} {
		t.Run(s, func(t *testing.T) {
			w := beginIn(t, s, procedure.TestIn, furnaceHome("list/appliances=1 13", "appliance/furnace-1/facts=1 3 7", "appliance/furnace-1/partners=1", "appliance/wood-stove-1/partners=1", "appliance/wood-stove-1/facts=none", "look/wood-stove-1=ok", "doubt=ok looked"))
			w.To("")
			w.atLeast(procedure.Refer, w.judgeAs(s))
		})
	}
}

// Deserves to be refused, or doubted: one window of a log is one reading, not
// the baseline and the worst case too, which makes every net 0; and its scatter
// of 3 Pa is wind, as the same scatter of typed values would be.
func TestAdversaryOneWindowTwice(t *testing.T) {
	w := begin(t, furnaceHome("doubt=ok looked"))
	v := -0.9
	w.To("baseline/basement-1")
	w.Do("", &procedure.Log{SHA256: "x", Columns: []string{"t", "p"}, Unit: "Pa", From: w.At, To: w.At.Add(time.Minute), Count: 60, Mean: v, S: 3, StandardError: 0.4})
	n := w.State.Last()
	for _, k := range []string{"baseline/basement-1", "reading/basement-1/worst"} {
		w.To(k)
		step, _ := w.State.Next()
		if w.Try(k, &procedure.Answer{Pressure: &procedure.Pressure{Value: &v, Unit: "Pa", Setup: step.SetupN, Log: n}}) != nil {
			return
		}
	}
	w.To("")
	w.atLeast(procedure.Incomplete, w.judge())
}

// Deserves to go on: the water heater that was shut off is gone, an electric
// one stands in its place. The walk holds the house for an answer that it
// never asks for.
func TestAdversaryReplacedByElectric(t *testing.T) {
	for _, phase := range []procedure.Phase{procedure.Daily, procedure.TestOut} {
		w := beginIn(t, "", phase, furnaceHome("list/appliances=1 3", "appliance/water-heater-1/burner=4 10"))
		w.Header.Prior = &procedure.Prior{Record: "p", Close: "x"}
		w.Restart()
		w.Do(sequence.KeyCarried, &procedure.Answer{Carried: []procedure.CarriedOne{{Step: "status/water-heater-1", Answer: procedure.Answer{Choice: string(procedure.OffUntilServiced)}}}})
		w.To("")
		for _, m := range w.judge().Missing {
			asked := false
			for _, s := range w.Asked {
				asked = asked || s.ID == m.Step
			}
			if !asked {
				t.Errorf("%s: %s is missing and was never asked", phase, m.Step)
			}
		}
	}
}

// Deserves a result: nobody can take an undiluted sample over a gas log, which
// burns in the open; by the sample's own rule it is read in the room's air.
func TestAdversaryGasLogSample(t *testing.T) {
	w := begin(t, furnaceHome("list/appliances=1 11", "appliance/gas-log-1/burner=1 30000", "appliance/gas-log-1/vent=1", "appliance/gas-log-1/facts=1 2", "look/gas-log-1=ok", "prepare/fired=120 120",
		"held/gas-log-1=-2.0 -2.0 -2.0 -2.0 -2.0", "spill/gas-log-1=20s", "co/gas-log-1=8 20.1", "doubt=ok looked"))
	w.To("")
	w.want(procedure.Refer) // its vent has no port
}

// Deserves a question that can settle it: most gauges give one averaged value,
// and ten miles an hour is an ordinary day. Looked at, with three minutes a
// reading, it stays incomplete for ever.
func TestAdversaryAveragedOnAnOrdinaryDay(t *testing.T) {
	a := furnaceHome("arrive/weather=10 34", "doubt=ok sheltered side, hose end in a can")
	for k, v := range a {
		if strings.HasPrefix(k, "reading/") || strings.HasPrefix(k, "baseline/") || strings.HasPrefix(k, "held/") {
			first, _, _ := strings.Cut(v, " ")
			a[k] = first + " 180s"
		}
	}
	w := begin(t, a)
	w.To("")
	w.want(procedure.Proceed)
}
