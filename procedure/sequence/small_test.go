package sequence_test

import (
	"math"
	"testing"

	"cazward/procedure"
	"cazward/procedure/sequence/sequencetest"
)

// TestGaugeClaims: the finest gauge that is believed, and the coarsest.
func TestGaugeClaims(t *testing.T) {
	const k = "arrive/gauge"
	for _, c := range []struct {
		resolution, pa, pct float64
		taken               bool
	}{
		{0, 0, 0, true}, {0.01, 0.05, 0.1, true}, {10, 5, 20, true}, {0.1, 0.5, 1, true},
		{0.0099, 0, 0, false}, {10.01, 0, 0, false}, {-0.1, 0, 0, false},
		{0, 0.0499, 0, false}, {0, -1, 0, false}, {0, 0, 0.0999, false}, {0, 0, -1, false},
		{0.1, 0.01, 1, false}, {0.001, 0.5, 1, false}, {0.1, 0.5, 0.01, false},
	} {
		w := begin(t)
		w.To(k)
		err := w.Try(k, &procedure.Answer{Instrument: &procedure.Instrument{ID: "gauge", Name: "G", Resolution: c.resolution, AccuracyPa: c.pa, AccuracyPct: c.pct}})
		if (err == nil) != c.taken {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// TestDoorsOfTheCrossing: where the air handler is tried with the CAZ door, the
// doors of that round are decided before the doors count as decided.
func TestDoorsOfTheCrossing(t *testing.T) {
	w := sequencetest.Begin(t, "", procedure.TestIn, "reading/basement-1/air1=-1.4 -1.4 -1.4 -1.3 -1.4", "reading/basement-1/cazair1=-6.4 -6.5 -6.4 -6.3 -6.4", "doubt=k")
	w.To("cazdoors/basement-1")
	o := w.State.Observations()
	if zo := o.ZoneOf("basement-1"); zo == nil || zo.DoorsDecided {
		t.Errorf("decided before they were tried: %+v", zo)
	}
}

// TestDryerFirstIsOfThePlan: where the plan does not try the dryer by itself it
// is not asked.
func TestDryerFirstIsOfThePlan(t *testing.T) {
	w := sequencetest.Begin(t, "", procedure.TestIn, "doubt=k")
	for _, first := range []bool{true, false} {
		w.Asked = nil
		w.Plan.DryerFirst = first
		w.Restart()
		w.To("reading/basement-1/worst")
		if asked := asks(sequencetest.IDs(w.Asked), "reading/basement-1/dryer"); asked != first {
			t.Errorf("plan %v, asked %v", first, asked)
		}
	}
}

// TestHeldOtherwise: a worst case set up with anything left out, or other than
// it was found, is refused.
func TestHeldOtherwise(t *testing.T) {
	const k = "setup/basement-1/worst"
	w := sequencetest.Begin(t, "", procedure.TestIn, "doubt=k")
	w.To(k)
	step, _ := w.State.Next()
	for name, change := range map[string]func(*procedure.Setup){
		"a fan":           func(s *procedure.Setup) { s.Fans = s.Fans[1:] },
		"a door":          func(s *procedure.Setup) { s.Doors = append(s.Doors, "no-such-door") },
		"the air handler": func(s *procedure.Setup) { s.AirHandler = append(s.AirHandler, "no-such-air-handler") },
		"the CAZ door":    func(s *procedure.Setup) { s.CAZDoor = map[string]string{"open": "closed", "closed": "open"}[s.CAZDoor] },
		"a flow":          func(s *procedure.Setup) { s.FlowCFM = 300 },
	} {
		su := step.Setup.Clone()
		change(&su)
		if w.Try(k, &su) == nil {
			t.Fatalf("%s differs, and it counts as held", name)
		}
	}
	su := step.Setup.Clone()
	if err := w.Try(k, &su); err != nil {
		t.Error(err)
	}
}

// TestNetByHand: the net of the walk is the worst reading against the baseline
// that makes it lowest, its give-or-take with half the difference of the two.
func TestNetByHand(t *testing.T) {
	w := sequencetest.Begin(t, "", procedure.TestIn, "doubt=k", "baseline/basement-1=-0.8 -1.1 -0.9 -1.0 -0.9", "reading/basement-1/worst=-3.5 -3.6 -3.5 -3.4 -3.6", "baseline/basement-1/closing=-0.3 -0.3 -0.3 -0.2 -0.4")
	w.To("putback/house")
	net, u, ok := w.State.Net("basement-1")
	o := w.State.Observations()
	zo := o.ZoneOf("basement-1")
	if len(zo.Baselines) != 2 || zo.Worst == nil {
		t.Fatalf("%+v", zo)
	}
	// -3.52 against -0.94 and -0.30: -3.22 is the lower; they drifted by 0.64.
	want := procedure.NetU(*zo.Worst, zo.Baselines[1], 0.32, w.State.Instrument("gauge"), w.State.Plan().Constants)
	if !ok || math.Abs(net+3.22) > 1e-9 || math.Abs(u-want) > 1e-9 {
		t.Errorf("net %v within %v, want -3.22 within %v", net, u, want)
	}
}

// TestZeroAirIsOfAmbient: an analyser that reads 0 is doubted where a monitor
// showed CO just then, not where something else was named or CO was next to
// nothing.
func TestZeroAirIsOfAmbient(t *testing.T) {
	const k = "ambient/water-heater-1"
	for _, c := range []struct {
		code  procedure.HazardCode
		value float64
		want  bool
	}{{procedure.AmbientCO, 20, true}, {procedure.AmbientCO, 0.5, false}, {procedure.LEL, 4, false}} {
		w := begin(t)
		w.To(k)
		v := c.value
		w.Do(k, &procedure.Hazard{Code: c.code, Value: &v})
		w.Do(k, &procedure.Answer{Gas: &procedure.Gas{CO: []float64{0}}})
		doubted := false
		for _, s := range w.State.Signs() {
			doubted = doubted || s.Args["doubt"] == string(procedure.DoubtZeroAir)
		}
		if doubted != c.want {
			t.Errorf("%s of %v, then 0: doubted %v", c.code, c.value, doubted)
		}
	}
}
