package evaluation_test

import (
	"fmt"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/evaluation"
)

// atLeast wants a decision no milder than the one named.
func (w walk) atLeast(d procedure.Decision, j procedure.Judgement) procedure.Judgement {
	w.T.Helper()
	if j.Decision.Milder(d) {
		w.T.Errorf("decision %s, want %s or more protective", j.Decision, d)
		for _, f := range j.Findings {
			if f.Verdict != procedure.Pass {
				w.T.Logf("  %s %s %s %s %s", f.Rule, f.Subject, f.Verdict, f.Severity, f.Detail)
			}
		}
		for _, m := range j.Missing {
			w.T.Logf("  missing %s %s", m.Step, m.Why)
		}
	}
	return j
}

func (w walk) judgeAs(name string) procedure.Judgement {
	w.T.Helper()
	return judgeUnder(w.T.(*testing.T), name, w.State)
}

// timer writes one mark of the clock, s seconds after start.
func (w walk) timer(step, act string, start time.Time, s int) error {
	w.At = start.Add(time.Duration(s) * time.Second)
	return w.Apply([]procedure.Event{{N: w.State.Last() + 1, Kind: procedure.KindTimer, Step: step, Observed: w.At, Written: w.At, Who: "AB",
		Src: procedure.FromWalk, Data: &procedure.Timer{Act: act, Wall: w.At, Mono: int64(s) * 1000}}})
}

// ventings are how the appliance of the hand-made home can vent.
var ventings = map[string]func(a *procedure.ApplianceObs){
	"pass":          func(a *procedure.ApplianceObs) {},
	"spill worst":   func(a *procedure.ApplianceObs) { a.Spill.Seconds = 60.1; atRest(a, 20, -3.4) },
	"draft worst":   func(a *procedure.ApplianceObs) { a.Draft.Values = []float64{-1, -1, -1}; atRest(a, 20, -3.4) },
	"spill natural": func(a *procedure.ApplianceObs) { a.Spill.Seconds = 61; atRest(a, 60.1, -3.4) },
	"draft natural": func(a *procedure.ApplianceObs) { a.Draft.Values = []float64{-1, -1, -1}; atRest(a, 20, -1) },
	"not at rest":   func(a *procedure.ApplianceObs) { a.Spill.Seconds = 61 },
	"not seen":      func(a *procedure.ApplianceObs) { a.Spill = nil },
}

func atRest(a *procedure.ApplianceObs, seconds, draft float64) {
	a.SpillNatural = &procedure.SpillObs{N: 90, Outcome: procedure.SpillStopped, Seconds: seconds, Cold: procedure.Yes}
	p := pa(91, "draft/a/natural", procedure.Setup{}, draft, draft, draft)
	a.DraftNatural = &p
}

// Each row of the CO action matrix as shipped, at the edges of its band.
func TestAdversaryMatrixEdges(t *testing.T) {
	const off, nofans, may, fuel, none = procedure.OffUntilServiced, procedure.MayRunNoFans, procedure.MayRun, procedure.FuelOff, procedure.StatusNone
	type out struct {
		d  procedure.Decision
		st procedure.Status
	}
	bands := map[string][4]out{ // up to 25, to 100, to 400, over
		"pass":          {{procedure.Proceed, may}, {procedure.Refer, may}, {procedure.Hold, off}, {procedure.Hold, off}},
		"spill worst":   {{procedure.Hold, nofans}, {procedure.Hold, nofans}, {procedure.Hold, off}, {procedure.Leave, fuel}},
		"draft worst":   {{procedure.Refer, nofans}, {procedure.Refer, nofans}, {procedure.Hold, off}, {procedure.Leave, fuel}},
		"spill natural": {{procedure.Hold, off}, {procedure.Hold, off}, {procedure.Hold, off}, {procedure.Leave, fuel}},
		"draft natural": {{procedure.Hold, off}, {procedure.Hold, off}, {procedure.Hold, off}, {procedure.Leave, fuel}},
		"not at rest":   {{procedure.Hold, off}, {procedure.Hold, off}, {procedure.Hold, off}, {procedure.Leave, fuel}},
		"not seen":      {{procedure.Incomplete, none}, {procedure.Incomplete, none}, {procedure.Hold, off}, {procedure.Leave, fuel}}, // over 400 the row that could apply
	}
	r := rules2(t)
	for v, want := range bands {
		for co, band := range map[float64]int{0: 0, 25: 0, 25.1: 1, 100: 1, 100.1: 2, 400: 2, 400.1: 3} {
			o := handHome()
			o.Plan.Scheme.Name = r.Scheme.Name
			o.ApplObs[0].CO.CO[0] = co
			ventings[v](&o.ApplObs[0])
			if j := evaluation.Judge(o, r); j.Decision != want[band].d || status(j, "a") != want[band].st {
				t.Errorf("%v ppm, %s: %s %q, want %s %q", co, v, j.Decision, status(j, "a"), want[band].d, want[band].st)
			}
		}
		o := handHome()
		o.Plan.Scheme.Name = r.Scheme.Name
		o.ApplObs[0].CO.OverRange = true
		ventings[v](&o.ApplObs[0])
		if j := evaluation.Judge(o, r); j.Decision != want[3].d || status(j, "a") != want[3].st {
			t.Errorf("over range, %s: %s %q, want %s %q", v, j.Decision, status(j, "a"), want[3].d, want[3].st)
		}
	}
}

// Room air at the edges of its tiers, whatever the scheme.
func TestAdversaryRoomAirEdges(t *testing.T) {
	for _, name := range []string{gradedScheme, spillScheme, annexScheme, canadaScheme} {
		r := scheme(t, name).Rules()
		plain := handHome()
		plain.Plan.Scheme.Name = name
		base := evaluation.Judge(plain, r).Decision
		for v, want := range map[float64]procedure.Decision{8.9: procedure.Proceed, 9: procedure.Refer, 29.9: procedure.Refer, 30: procedure.Hold, 35: procedure.Hold, 35.1: procedure.Leave, 69.9: procedure.Leave, 70: procedure.Leave} {
			o := handHome()
			o.Plan.Scheme.Name = name
			o.Ambient = append(o.Ambient, procedure.AmbientObs{N: 9, Step: "ambient/a", Value: v})
			if d := evaluation.Judge(o, r).Decision; d != procedure.MoreProtective(base, want) {
				t.Errorf("%s, %v ppm in the room: %s, want %s", name, v, d, want)
			}
		}
		for v, want := range map[float64]procedure.Decision{0: base, 0.9: base, 1: procedure.MoreProtective(base, procedure.Refer), 9.9: procedure.MoreProtective(base, procedure.Refer), 10: procedure.Leave} {
			o := handHome()
			o.Plan.Scheme.Name = name
			o.LEL[0].Value = v
			if d := evaluation.Judge(o, r).Decision; d != want {
				t.Errorf("%s, %v %% LEL: %s, want %s", name, v, d, want)
			}
		}
	}
}

// Not knowing a fact of a vent never gives a wider limit than knowing it.
func TestAdversaryUnknownRow(t *testing.T) {
	facts := func(f *procedure.VentFacts) []*procedure.Tri {
		return []*procedure.Tri{&f.Shares, &f.VentDamper, &f.HighStatic, &f.TopInducer}
	}
	tris := []procedure.Tri{procedure.Yes, procedure.No, procedure.Unknown}
	tried := 0
	for _, name := range []string{gradedScheme, spillScheme, annexScheme, canadaScheme} {
		rows := scheme(t, name).Rules().Pressure
		row := func(a procedure.Appliance) procedure.Choice {
			return procedure.Match(rows, procedure.TraitsOf(a, []procedure.Appliance{a}))
		}
		for _, kind := range procedure.ApplianceKinds {
			for bits := 0; bits < 3*3*3*3; bits++ {
				a := procedure.Appliance{ID: "a", Kind: kind}
				b := bits
				for _, p := range facts(&a.Facts) {
					*p, b = tris[b%3], b/3
				}
				for _, a.Vent.Type = range append([]procedure.VentType{procedure.VentUnknown}, procedure.VentTypes...) {
					for _, a.Burner.Fuel = range []procedure.Fuel{procedure.FuelUnknown, procedure.NaturalGas, procedure.Oil} {
						c := row(a)
						wider := func(k procedure.Appliance) {
							tried++
							if known := row(k); known.Found && (!c.Found || known.Limit.Bound.Value > c.Limit.Bound.Value) {
								t.Errorf("%s %s: %s (%v) for %+v, yet %s (%v) for %+v", name, kind, c.Limit.ID, c.Limit.Bound.Value, a, known.Limit.ID, known.Limit.Bound.Value, k)
							}
						}
						for i, p := range facts(&a.Facts) {
							for _, y := range tris[:2] {
								if k := a; *p == procedure.Unknown {
									*facts(&k.Facts)[i] = y
									wider(k)
								}
							}
						}
						for _, v := range procedure.VentTypes {
							if k := a; a.Vent.Type == procedure.VentUnknown {
								k.Vent.Type = v
								wider(k)
							}
						}
						for _, f := range procedure.Fuels {
							if k := a; a.Burner.Fuel == procedure.FuelUnknown {
								k.Burner.Fuel = f
								wider(k)
							}
						}
					}
				}
			}
		}
	}
	if tried < 10000 {
		t.Errorf("only %d were tried", tried)
	}
}

// A list corrected there and back leaves the time that failed in force.
func TestAdversaryListThereAndBack(t *testing.T) {
	w := begin(t, furnaceHome("spill/furnace-1=still 90s", "spill/furnace-1/natural=20s", naturalPasses))
	w.To("co/furnace-1")
	w.Correct("list/fans", "1 1 2 3")
	w.Correct("list/fans", "1 2 3")
	w.Answers["spill/furnace-1"] = "20s"
	w.To("")
	w.want(procedure.Hold)
}

// After a night the zero is read again, wherever the test stood while anything
// was left to measure.
func TestAdversaryNightAnywhere(t *testing.T) {
	for _, at := range []string{"reading/basement-1/dryer", "redoors/basement-1", "held/furnace-1", "spill/furnace-1", "flame/furnace-1", "draft/furnace-1", "co/furnace-1", "ambient/furnace-1", "setup/basement-1/closing"} {
		w := begin(t, furnaceHome())
		w.To(at)
		w.Stop(20 * time.Hour)
		n := w.State.Last()
		w.Answers[fmt.Sprintf("resume/%d/fired", n)] = "1200"
		w.To("")
		if k := fmt.Sprintf("baseline/basement-1/again/%d", n); !w.State.Has(k) {
			t.Errorf("stopped at %s: no new baseline", at)
		}
		w.want(procedure.Proceed)
	}
}

// A source that was not found stays so, though a later one was.
func TestAdversarySourceNotFoundStays(t *testing.T) {
	hi, lo := 29.0, 9.0
	w := begin(t, furnaceHome("source=4"))
	w.To("spill/furnace-1")
	w.Do("spill/furnace-1", &procedure.Hazard{Code: procedure.AmbientCO, Value: &hi})
	w.To("draft/furnace-1")
	w.Do("draft/furnace-1", &procedure.Hazard{Code: procedure.AmbientCO, Value: &lo})
	n := itoa(w.State.Last())
	w.Answers["source/"+n], w.Answers["settled/"+n] = "3", "1"
	w.To("")
	w.want(procedure.Refer)
}

// The pressure before light-off left out is missing, whatever else was read.
func TestAdversaryHeldLeftOut(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("held/furnace-1")
	w.Do("held/furnace-1", &procedure.Skip{Reason: procedure.SkipCannot})
	w.To("")
	if j := w.want(procedure.Incomplete); status(j, "furnace-1") == procedure.MayRun {
		t.Error("may run, though the zone was not read before it was lit")
	}
}

// A failure with the house at rest stands when its worst case is unsaid.
func TestAdversaryWorstCaseUnsaid(t *testing.T) {
	w := begin(t, furnaceHome("spill/furnace-1=still 90s", "spill/furnace-1/natural=still 90s"))
	w.To("putback/house")
	w.Do("setup/basement-1/worst", w.Correction("setup/basement-1/worst", &procedure.Skip{Reason: procedure.SkipCannot}))
	if j := w.want(procedure.Hold); status(j, "furnace-1") != procedure.OffUntilServiced {
		t.Errorf("status %q", status(j, "furnace-1"))
	}
}

// An unvented main heater is one, wherever it is said to stand.
func TestAdversaryUnventedOutside(t *testing.T) {
	w := begin(t, furnaceHome("list/appliances=1 15", "appliance/unvented-heater-1/burner=1 20000", "appliance/unvented-heater-1/facts=1 3", "look/unvented-heater-1=ok", "co/unvented-heater-1=10 18"))
	w.To("")
	w.want(procedure.Hold)
}

// A time shorter than the mark of its clock is not taken, nor one without a
// mark.
func TestAdversaryShorterThanMark(t *testing.T) {
	const k = "spill/furnace-1"
	for _, mark := range []bool{true, false} {
		w := begin(t, furnaceHome())
		w.To(k)
		s := w.At
		if err := w.timer(k, "start", s, 0); err != nil {
			t.Fatal(err)
		}
		if mark {
			if err := w.timer(k, "mark", s, 75); err != nil {
				t.Fatal(err)
			}
		}
		if w.Try(k, &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillStopped, Seconds: 20, Timed: true}}) == nil {
			t.Errorf("marked %v: 20 s was taken", mark)
		}
	}
}
