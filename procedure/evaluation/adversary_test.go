package evaluation_test

import (
	"math"
	"strings"
	"testing"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/sequence/sequencetest"
)

type walk struct{ *sequencetest.Walk }

func begin(t *testing.T, answers map[string]string) walk {
	t.Helper()
	return beginIn(t, "", procedure.TestIn, answers)
}

func beginIn(t *testing.T, scheme string, phase procedure.Phase, answers map[string]string) walk {
	t.Helper()
	w := sequencetest.Begin(t, scheme, phase)
	w.Answers = answers
	return walk{w}
}

func (w walk) judge() procedure.Judgement {
	return evaluation.Judge(w.State.Observations(), rules2(w.T))
}

func rules2(t testing.TB) procedure.Rules {
	t.Helper()
	set, err := limits.Load(limits.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return set.Rules()
}

func (w walk) want(d procedure.Decision) procedure.Judgement {
	w.T.Helper()
	j := w.judge()
	if j.Decision != d {
		w.T.Errorf("decision %s, want %s", j.Decision, d)
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

const (
	naturalPasses = "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4"
	weakDraft     = "-1.0 -1.0 -1.0 -1.0 -1.0"
	goodDraft     = "-3.4 -3.4 -3.4 -3.4 -3.4"
)

// A vent that may not be drilled: refer, not incomplete; a vent whose draft
// was measured cannot be one.
func TestAdversaryByNature(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("draft/furnace-1")
	w.Do("draft/furnace-1", &procedure.Skip{Reason: procedure.SkipByNature})
	w.To("")
	w.want(procedure.Refer)

	w = begin(t, furnaceHome("draft/furnace-1="+weakDraft, "spill/furnace-1/natural=20s", "draft/furnace-1/natural="+weakDraft))
	w.To("putback/house")
	const k = "draft/furnace-1/natural"
	skip := &procedure.Skip{Reason: procedure.SkipByNature}
	if w.Try(k, skip) == nil || w.Try(k, w.Correction(k, skip)) == nil {
		t.Error("a failing draft was skipped away as beyond measuring")
	}
	w.To("")
	w.want(procedure.Hold)
	// The facts now say that there is no hole: what was measured counts.
	f := w.Data("appliance/furnace-1/facts", "1 2 7")
	w.Do("appliance/furnace-1/facts", w.Correction("appliance/furnace-1/facts", f))
	w.want(procedure.Hold)

	// Measured at worst case, then "beyond measuring" under natural conditions.
	w = begin(t, furnaceHome("draft/furnace-1="+weakDraft, "spill/furnace-1/natural=20s"))
	w.To(k)
	w.Do(k, skip)
	w.To("")
	w.want(procedure.Incomplete)
}

// A reading that decides is replaced by a correction with a reason only.
func TestAdversarySecondAnswer(t *testing.T) {
	w := begin(t, furnaceHome("spill/furnace-1=still 90s"))
	w.To("co/furnace-1")
	for name, d := range map[string]procedure.Data{"an answer": w.Data("spill/furnace-1", "none"), "a skip": &procedure.Skip{Reason: procedure.SkipCannot},
		"a skip as correction": w.Correction("spill/furnace-1", &procedure.Skip{Reason: procedure.SkipCannot}), "a clock": &procedure.Timer{Act: "start", Wall: w.At}} {
		if w.Try("spill/furnace-1", d) == nil {
			t.Errorf("%s took the place of a spillage that failed", name)
		}
	}
	if j := w.judge(); j.Decision != procedure.Hold {
		t.Errorf("decision %s, want hold", j.Decision)
	}
}

// A stale reading is taken again; correcting it does not make it fresh.
func TestAdversaryStaleCorrected(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("putback/house")
	w.Do("list/fans", w.Correction("list/fans", w.Data("list/fans", "1 1 2 3")))
	const k = "spill/furnace-1"
	if w.Try(k, w.Correction(k, w.Data(k, "20s"))) == nil {
		t.Error("a stale spillage was corrected instead of timed again")
	}
	w.want(procedure.Incomplete)
}

// What failed does not pass because the facts are corrected afterwards.
func TestAdversaryFactsAfterFailure(t *testing.T) {
	for name, c := range map[string][2]string{
		"said to stand outside the boundary": {"appliance/furnace-1/facts", "1 2 3 6 7"},
		"said to be a direct vent":           {"appliance/furnace-1/vent", "4"},
		"said to be electric":                {"appliance/furnace-1/burner", "4 80000"},
		"said not to be fireable":            {"appliance/furnace-1/facts", "2 3 7"},
	} {
		t.Run(name, func(t *testing.T) {
			w := begin(t, furnaceHome("spill/furnace-1=still 90s", "spill/furnace-1/natural=still 90s"))
			w.To("putback/house")
			w.Do(c[0], w.Correction(c[0], w.Data(c[0], c[1])))
			if j := w.want(procedure.Hold); status(j, "furnace-1") != procedure.OffUntilServiced {
				t.Errorf("status %q", status(j, "furnace-1"))
			}
		})
	}
}

// Over-range CO counts though the appliance is said to be outside afterwards.
func TestAdversaryCOAfterwardsOutside(t *testing.T) {
	w := begin(t, furnaceHome("co/furnace-1=over"))
	w.To("putback/house")
	w.Do("appliance/furnace-1/facts", w.Correction("appliance/furnace-1/facts", w.Data("appliance/furnace-1/facts", "1 2 3 6 7")))
	w.want(procedure.Hold)
}

// CO of a sealed appliance was read outside the hold: once its vent turns out
// to be another, it is read again.
func TestAdversaryCOOutsideHold(t *testing.T) {
	w := begin(t, furnaceHome("appliance/furnace-1/vent=4", "appliance/furnace-1/facts=1"))
	w.To("putback/house")
	w.Do("appliance/furnace-1/vent", w.Correction("appliance/furnace-1/vent", w.Data("appliance/furnace-1/vent", "1")))
	if w.State.Has("co/furnace-1") {
		t.Error("CO from outside the hold stands for an appliance that is tested in it")
	}
	if step, _ := w.State.Next(); step.ID != "appliance/furnace-1/facts" {
		t.Errorf("asked %s, want the facts that this vent has", step.ID)
	}
}

// A partner that spills with all lit fails, whether or not its own time was
// taken.
func TestAdversaryTogetherAlone(t *testing.T) {
	o := commonHome(t)
	o.Of("water-heater-1").Together = procedure.No
	o.Of("water-heater-1").Spill = nil
	if j := evaluation.Judge(o, rules2(t)); j.Decision != procedure.Hold {
		t.Errorf("decision %s, want hold", j.Decision)
	}
}

// commonAnswers: furnace and water heater on one vent, all in order.
func commonAnswers(change ...string) map[string]string {
	a := furnaceHome(append([]string{"list/appliances=1 3", "appliance/furnace-1/facts=1 3 7", "prepare/fired=120 120",
		"held/water-heater-1=-2.0 -2.0 -2.0 -2.0 -2.0"}, change...)...)
	return a
}

func commonHome(t *testing.T, change ...string) procedure.Observations {
	w := begin(t, commonAnswers(change...))
	w.To("")
	w.want(procedure.Proceed)
	return w.State.Observations()
}

// A vent named on one side, and three in a chain: one vent, all lit together.
func TestAdversaryChainOnOneVent(t *testing.T) {
	w := begin(t, commonAnswers("list/appliances=1 3 2", "prepare/fired=120 120 120",
		"appliance/boiler-1/burner=1 100000", "appliance/boiler-1/vent=1", "appliance/boiler-1/facts=1 2 3 7", // said to be alone
		"appliance/furnace-1/partners=1 2", // water heater and boiler
		"appliance/water-heater-1/partners=1",
		"appliance/boiler-1/partners=1", "look/boiler-1=ok", "held/boiler-1=-2.0 -2.0 -2.0 -2.0 -2.0", "spill/boiler-1=20s", "draft/boiler-1="+goodDraft, "co/boiler-1=12 7"))
	w.To("")
	for _, a := range w.State.Appliances() {
		if len(a.Partners) != 2 {
			t.Errorf("%s shares with %v", a.ID, a.Partners)
		}
		if !w.State.Has("together/" + a.ID) {
			t.Errorf("%s was not tried with all lit", a.ID)
		}
	}
	w.want(procedure.Proceed)
}

// A power-vented appliance on a natural-draft vent blows into it: the hood is
// checked with it lit.
func TestAdversaryPowerVentedPartner(t *testing.T) {
	w := begin(t, commonAnswers("appliance/furnace-1/vent=3", "appliance/furnace-1/category=3", "appliance/furnace-1/facts=1", "prepare/fired=120"))
	w.To("")
	if !w.State.Has("together/water-heater-1") {
		t.Error("the water heater was never checked with its partner lit")
	}
}

// An appliance that stands in another zone than was typed was lit at the
// wrong worst case.
func TestAdversaryMovedZone(t *testing.T) {
	w := begin(t, twoZones())
	w.To("putback/house")
	w.Do("appliance/water-heater-1/zone", w.Correction("appliance/water-heater-1/zone", w.Data("appliance/water-heater-1/zone", "1")))
	for _, k := range []string{"spill/water-heater-1", "draft/water-heater-1", "co/water-heater-1", "held/water-heater-1"} {
		if w.State.Has(k) {
			t.Errorf("%s stands, taken while another zone was held", k)
		}
	}
	w.want(procedure.Incomplete)
}

func twoZones() map[string]string {
	a := furnaceHome("list/appliances=1 3", "list/zones=1 2", "prepare/fired=120 120", "zone/utility-room-1/door=3",
		"appliance/furnace-1/zone=1", "appliance/water-heater-1/zone=2", "appliance/water-heater-1/facts=1 2 3 7")
	for k, v := range a {
		if strings.Contains(k, "basement-1") {
			a[strings.Replace(k, "basement-1", "utility-room-1", 1)] = v
		}
	}
	a["hose/utility-room-1"], a["doors/utility-room-1"], a["redoors/utility-room-1"] = "ok", "2 1 1", "2 1 1"
	a["zone/utility-room-1/door"] = "3"
	for _, k := range []string{"worst", "air1", "doors"} {
		a["reading/utility-room-1/"+k] = "-1.9 -1.9 -2.0 -1.9 -1.9"
	}
	a["held/water-heater-1"] = "-1.9 -1.9 -1.9 -1.9 -1.9"
	return a
}

// Each zone is held while its own burners are lit.
func TestAdversaryTwoZonesHeldInTurn(t *testing.T) {
	w := begin(t, twoZones())
	w.To("spill/furnace-1")
	if _, _, other := w.State.Fact("setup/utility-room-1/worst"); other {
		t.Error("the other zone was held before the burner of this one was lit")
	}
	w.To("")
	w.want(procedure.Proceed)
}

// Pairs settle the set-up in which they were taken, no other.
func TestAdversaryPairsElsewhere(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("")
	o := w.State.Observations()
	z := &o.ZoneObs[0]
	for i := range z.Readings {
		if z.Readings[i].Step == "reading/basement-1/cazdoor" {
			z.Readings[i].Values = []float64{-5.6, -5.6, -5.7, -5.6, -5.6}
		}
	}
	if j := evaluation.Judge(o, rules2(t)); j.Decision != procedure.Hold {
		t.Fatalf("decision %s, want hold: too close", j.Decision)
	}
	z.Pairs = &procedure.PairsObs{N: 500, Setup: *z.Held, Off: []float64{-0.9, -0.9, -0.9}, On: []float64{-2, -2, -2}}
	if j := evaluation.Judge(o, rules2(t)); j.Decision != procedure.Hold {
		t.Errorf("decision %s: pairs with the door open settled a reading with it shut", j.Decision)
	}
	// In the set-up of the pairs they do settle.
	w = begin(t, furnaceHome())
	w.To("")
	o = w.State.Observations()
	z = &o.ZoneObs[0]
	for i := range z.Readings {
		if z.Readings[i].Step == "reading/basement-1/worst" {
			z.Readings[i].Values = []float64{-5.6, -5.6, -5.7, -5.6, -5.6}
			*z.Worst = z.Readings[i]
		}
	}
	z.Pairs = &procedure.PairsObs{N: 500, Setup: *z.Held, Off: []float64{-0.9, -0.9, -0.9, -0.9}, On: []float64{-5.5, -5.5, -5.5, -5.5}}
	if j := evaluation.Judge(o, rules2(t)); j.Decision != procedure.Proceed {
		t.Errorf("decision %s, want proceed: the pairs settle it", j.Decision)
	}
}

// One reading that is no number does not hide that another fails.
func TestAdversaryNaNHidesFailure(t *testing.T) {
	w := begin(t, furnaceHome("reading/basement-1/worst=-7.0 -7.1 -6.9 -7.0 -7.0"))
	w.To("")
	o := w.State.Observations()
	for i := range o.ZoneObs[0].Readings {
		if r := &o.ZoneObs[0].Readings[i]; r.Step == "reading/basement-1/dryer" {
			r.Values = []float64{math.NaN()}
		}
	}
	j := evaluation.Judge(o, rules2(t))
	if j.Decision != procedure.Hold || len(j.Missing) == 0 {
		t.Errorf("decision %s, missing %v: want hold, and the reading named", j.Decision, j.Missing)
	}
}

// The maker's breech draft is a draft, with its minus or without.
func TestAdversaryBreechSign(t *testing.T) {
	oil := []string{"appliance/furnace-1/burner=3 100000", "appliance/furnace-1/facts=1 2 3", "look/furnace-1=ok", "breech/furnace-1=-3", "spill/furnace-1/natural=20s", naturalPasses}
	w := begin(t, furnaceHome(append(oil, "draft/furnace-1="+weakDraft)...))
	w.To("")
	o := w.State.Observations()
	for _, b := range []float64{-3, 3} {
		o.Of("furnace-1").BreechPa, o.Of("furnace-1").BreechKnown = &b, procedure.Yes
		if j := evaluation.Judge(o, rules2(t)); !procedure.Proceed.Milder(j.Decision) {
			t.Errorf("breech %v Pa, draft -1 Pa: %s", b, j.Decision)
		}
	}
}

// Rules with empty parts never make a home milder.
func TestAdversaryEmptyRules(t *testing.T) {
	w := begin(t, furnaceHome("co/furnace-1=390 7"))
	w.To("")
	o := w.State.Observations()
	o.Of("furnace-1").CO.CO = []float64{2000}
	r := rules2(t)
	r.Matrix, r.CO = nil, nil
	if j := evaluation.Judge(o, r); j.Decision != procedure.Hold {
		t.Errorf("no CO rows, 2000 ppm: %s", j.Decision)
	}
	o.Of("furnace-1").CO.CO = []float64{5}
	if j := evaluation.Judge(o, r); !procedure.Proceed.Milder(j.Decision) {
		t.Errorf("no CO rows, CO asked: %s", j.Decision)
	}
	r = rules2(t)
	r.Floor = nil
	o.Ambient[0].Value = 200
	if j := evaluation.Judge(o, r); j.Decision != procedure.Leave {
		t.Errorf("no floor, 200 ppm in the room: %s", j.Decision)
	}
	o.Ambient[0].Value = 0
	r = rules2(t)
	r.Uncertainty = procedure.Uncertainties{}
	for i := range o.ZoneObs[0].Readings {
		o.ZoneObs[0].Readings[i].Values = []float64{-5.9}
	}
	o.ZoneObs[0].Worst.Values = []float64{-5.9}
	for i := range o.ZoneObs[0].Baselines {
		o.ZoneObs[0].Baselines[i].Values = []float64{-0.9}
	}
	o.Instruments = nil
	if j := evaluation.Judge(o, r); !procedure.Refer.Milder(j.Decision) {
		t.Errorf("no uncertainty, at the limit: %s", j.Decision)
	}
	for _, cut := range []func(){func() { r.Spillage = nil }, func() { r.Pressure = nil }, func() { r.Draft.Line = nil }} {
		r = rules2(t)
		cut()
		if j := evaluation.Judge(o, r); !procedure.Refer.Milder(j.Decision) {
			t.Errorf("rules with a part missing: %s", j.Decision)
		}
	}
}

// A plan without a stage does not take away what a result needs.
func TestAdversaryPlanWithoutStages(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("")
	for _, gone := range []procedure.StageID{procedure.StageArrive, procedure.StageLook, procedure.StagePrepare, procedure.StageHose, procedure.StagePutBack} {
		o := w.State.Observations()
		var keep []procedure.Stage
		for _, s := range o.Plan.Stages {
			if s.ID != gone {
				keep = append(keep, s)
			}
		}
		o.Plan.Stages = keep
		var checks []procedure.Check
		for _, c := range o.Checks {
			if c.Stage != gone {
				checks = append(checks, c)
			}
		}
		o.Checks = checks
		if j := evaluation.Judge(o, rules2(t)); !procedure.Refer.Milder(j.Decision) {
			t.Errorf("plan without %s: %s", gone, j.Decision)
		}
		o.Phase = procedure.Daily
		if j := evaluation.Judge(o, rules2(t)); gone == procedure.StageLook && j.Decision != procedure.Proceed {
			t.Errorf("daily test without the look: %s", j.Decision)
		}
	}
}

// Flame rolled out, of which burner nobody saw: none is said to be fit to run.
func TestAdversaryRolloutOfUnknownBurner(t *testing.T) {
	w := begin(t, commonAnswers())
	w.To("spill/water-heater-1")
	w.Do("spill/water-heater-1", &procedure.Hazard{Code: procedure.Rollout, Where: "basement"})
	w.To("")
	j := w.want(procedure.Hold)
	for _, a := range j.Appliances {
		if a.Status != procedure.FuelOff {
			t.Errorf("%s: %q", a.ID, a.Status)
		}
	}
}

// Flame rollout, then skips: the hold stays and the burner is off.
func TestAdversaryRolloutThenSkip(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("spill/furnace-1")
	w.Do("spill/furnace-1", &procedure.Skip{Reason: procedure.SkipByNature}, &procedure.Hazard{Code: procedure.Rollout, Subject: "furnace-1"})
	w.To("")
	if j := w.want(procedure.Hold); status(j, "furnace-1") != procedure.FuelOff {
		t.Errorf("status %q", status(j, "furnace-1"))
	}
}

// Correcting a hazard to another appliance clears neither.
func TestAdversaryHazardMoved(t *testing.T) {
	w := begin(t, commonAnswers())
	w.To("spill/water-heater-1")
	w.Do("spill/water-heater-1", &procedure.Hazard{Code: procedure.Rollout, Subject: "water-heater-1"})
	w.Do("spill/water-heater-1", &procedure.Correct{Replaces: w.State.Last(), Reason: "it was the other", Hazard: &procedure.Hazard{Code: procedure.Rollout, Subject: "furnace-1"}})
	w.To("")
	j := w.want(procedure.Hold)
	for _, a := range j.Appliances {
		if a.Status != procedure.FuelOff {
			t.Errorf("%s: %q", a.ID, a.Status)
		}
	}
}

// A hazard is not talked down; one whose value is not known stays so.
func TestAdversaryHazardTalkedDown(t *testing.T) {
	eighty, five := 80.0, 5.0
	for name, c := range map[string][2]*float64{"lower": {&eighty, &five}, "higher": {&five, &eighty}, "unknown": {nil, &five}} {
		w := begin(t, furnaceHome())
		w.To("spill/furnace-1")
		w.Do("spill/furnace-1", &procedure.Hazard{Code: procedure.AmbientCO, Value: c[0]})
		n := w.State.Last()
		w.Do("spill/furnace-1", &procedure.Correct{Replaces: n, Reason: "typed wrong", Hazard: &procedure.Hazard{Code: procedure.AmbientCO, Value: c[1]}})
		if j := w.judge(); j.Decision != procedure.Leave {
			t.Errorf("%s: %s, want leave", name, j.Decision)
		}
		if _, act, stop := w.State.StopSince(n); name != "lower" && (!stop || act != procedure.ActOut) {
			t.Errorf("%s: the stop screen does not come", name)
		}
		if step, _ := w.State.Next(); !strings.HasPrefix(step.ID, "told/") {
			t.Errorf("%s: asked %s, want who was told", name, step.ID)
		}
	}
}

// The danger questions are not unsaid, nor a leak or a flame that changed.
func TestAdversaryDangerUnsaid(t *testing.T) {
	w := begin(t, furnaceHome())
	wrong, ok := &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenWrong}}, &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenOK}}
	w.Do("arrive/danger/alarm", wrong)
	w.Do("arrive/danger/alarm", w.Correction("arrive/danger/alarm", ok))
	w.want(procedure.Leave)

	for _, k := range []string{"look/house/piping", "look/furnace-1/fuel", "flame/furnace-1/blower-flame"} {
		step := k[:strings.LastIndex(k, "/")]
		w := begin(t, furnaceHome("told/leak=occupant; in person", step+"=1"))
		w.To("putback/house")
		for name, d := range map[string]procedure.Data{"answered again": ok, "corrected": w.Correction(k, ok), "skipped": &procedure.Skip{Reason: procedure.SkipCannot}} {
			if w.Try(k, d) == nil {
				t.Errorf("%s: unseen by being %s", k, name)
			}
		}
		w.To("")
		w.want(procedure.Hold)
	}
}

// CO in room air that comes back was not stopped, though its source was
// settled once at the same place.
func TestAdversaryAmbientComesBack(t *testing.T) {
	ten, fifteen := 10.0, 15.0
	w := begin(t, furnaceHome())
	w.To("baseline/basement-1")
	w.Do("baseline/basement-1", &procedure.Hazard{Code: procedure.AmbientCO, Value: &ten})
	n := w.State.Last()
	w.Do("source/"+itoa(n), &procedure.Answer{Choice: "other-source"})
	w.Do("settled/"+itoa(n), &procedure.Answer{Choice: "stopped"})
	w.To("co/furnace-1")
	w.Do("co/furnace-1", &procedure.Hazard{Code: procedure.AmbientCO, Value: &fifteen})
	n = w.State.Last()
	if step, _ := w.State.Next(); step.ID != "source/"+itoa(n) {
		t.Errorf("asked %s, want the source of the new one", step.ID)
	}
	w.Do("source/"+itoa(n), &procedure.Answer{Choice: "not-found"})
	w.To("")
	w.want(procedure.Refer)
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + itoa(n%10)
}

// An unvented appliance is one, whatever its kind is called.
func TestAdversaryUnventedByVent(t *testing.T) {
	for _, c := range []struct {
		facts string
		want  procedure.Decision
	}{{"1", procedure.Hold}, {"1 2", procedure.Refer}} {
		w := begin(t, furnaceHome("list/appliances=1 5", "appliance/room-heater-1/burner=1 20000", "appliance/room-heater-1/vent=6",
			"appliance/room-heater-1/facts="+c.facts, "look/room-heater-1=ok", "co/room-heater-1=10 8"))
		w.To("")
		w.want(c.want)
	}
}

// Lit without the worst case ever held: no word that it may run.
func TestAdversaryNeverHeld(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("setup/basement-1/worst")
	w.Do("setup/basement-1/worst", &procedure.Skip{Reason: procedure.SkipCannot})
	w.To("")
	if j := w.want(procedure.Incomplete); status(j, "furnace-1") != procedure.StatusNone {
		t.Errorf("status %q though it was never tried at worst case", status(j, "furnace-1"))
	}
}

// A doubt stands only for the reading in force, and with what was looked at.
func TestAdversaryDoubtTalkedAway(t *testing.T) {
	w := begin(t, furnaceHome("reading/basement-1/fans=-0.1 -0.1 +0.0 -0.1 -0.1"))
	w.To("reading/basement-1/fans")
	w.Do("reading/basement-1/fans", w.Data("reading/basement-1/fans", "-0.1 -0.1 +0.0 -0.1 -0.1"))
	n := w.State.Last()
	if w.Try("reading/basement-1/fans", &procedure.Doubt{Code: procedure.DoubtRises, About: []int{n}, Settled: "stands"}) == nil {
		t.Error("a doubt stands without a word of what was looked at")
	}
	w.Do("reading/basement-1/fans", &procedure.Doubt{Code: procedure.DoubtRises, About: []int{n}, Settled: "retake"})
	w.Do("reading/basement-1/fans", w.Data("reading/basement-1/fans", "-0.1 -0.1 +0.0 -0.1 -0.1"))
	if w.Try("reading/basement-1/fans", &procedure.Doubt{Code: procedure.DoubtRises, About: []int{n}, Settled: "stands", How: "hoses"}) == nil {
		t.Error("a doubt about the old reading settles the new one")
	}
}

// Wind spoils pressures, and an all-electric house has none.
func TestAdversaryWindyAllElectric(t *testing.T) {
	w := begin(t, furnaceHome("list/appliances=1", "appliance/furnace-1/burner=4 10", "arrive/weather=15 34", "doubt/wind/arrive/weather=k"))
	w.To("")
	w.want(procedure.Proceed)
	// A gas dryer blows outdoors by its own fan: nothing is pulled down for it.
	w = begin(t, furnaceHome("list/appliances=10", "appliance/gas-dryer-1/burner=1 20000", "look/gas-dryer-1=ok", "look/house=ok", "prepare/house=ok"))
	w.To("")
	w.want(procedure.Proceed)
}

// A garage is a zone of its own: what stands in it is tested.
func TestAdversaryGarage(t *testing.T) {
	a := furnaceHome("list/zones=4", "zone/garage-1/door=3", "hose/garage-1=ok", "doors/garage-1=2 1 1", "redoors/garage-1=2 1 1", "appliance/furnace-1/facts=1 2 3 6")
	for k, v := range a {
		a[strings.Replace(k, "basement-1", "garage-1", 1)] = v
	}
	w := begin(t, a)
	w.To("")
	for _, k := range []string{"spill/furnace-1", "co/furnace-1", "reading/garage-1/worst"} {
		if !w.State.Has(k) {
			t.Errorf("%s was not taken", k)
		}
	}
	w.want(procedure.Proceed)
}

// An indirect tank has a boiler somewhere.
func TestAdversaryTankWithoutBoiler(t *testing.T) {
	w := begin(t, map[string]string{"list/appliances": "4"})
	w.To("")
	w.want(procedure.Incomplete)
}

// Analyser over range without a figure, values at a band's edge, CO that is
// no number.
func TestAdversaryCOEdges(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("")
	for _, c := range []struct {
		co   float64
		over bool
		want procedure.Decision
	}{{25, false, procedure.Proceed}, {25.0001, false, procedure.Refer}, {100, false, procedure.Refer}, {100.0001, false, procedure.Hold}, {0, true, procedure.Hold}, {math.NaN(), false, procedure.Incomplete}, {math.Inf(1), false, procedure.Incomplete}, {-1, false, procedure.Incomplete}} {
		o := w.State.Observations()
		g := *o.Of("furnace-1").CO
		o2 := 7.0
		g.CO, g.O2, g.OverRange = []float64{c.co}, []*float64{&o2}, c.over
		o.Of("furnace-1").CO = &g
		if j := evaluation.Judge(o, rules2(t)); j.Decision != c.want {
			t.Errorf("CO %v over %v: %s, want %s", c.co, c.over, j.Decision, c.want)
		}
	}
}
