package wording

import (
	"fmt"
	"math/rand"
	"strings"
	"sync"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/sequence"
)

// richPlan asks for all that a plan can ask.
func richPlan(doors string, dryerFirst bool) procedure.Plan {
	p := procedure.Plan{
		Scheme:     procedure.Ref{Name: "graded-2005", Title: "graded", Edition: "2005"},
		Baseline:   procedure.BaselinePlan{MinSamples: 5, MinAveraging: 30, MaxSpread: 1, MaxWind: 15, Closing: dryerFirst, MaxDrift: 0.5, Net: "larger"},
		Doors:      doors,
		DryerFirst: dryerFirst,
		AirHandler: procedure.AirPlan{When: "last", RecheckDoors: true},
		CAZDoor:    "both",
		Fireplace:  &procedure.FlowPlan{CFM: 300},
		Spillage:   procedure.SpillagePlan{Warm: 60, Cold: 60, ColdAfter: 30, Between: 5, Together: true},
		Draft:      procedure.DraftPlan{Vents: []procedure.VentType{procedure.NaturalVent, procedure.FanAssisted}, Line: []procedure.DraftPoint{{TempF: 10, Pa: -2.5}, {TempF: 90, Pa: -0.5}}},
		CO:         procedure.COPlan{AfterMin: 5, Basis: "as-measured", Kinds: procedure.ApplianceKinds, Diluted: 16},
		Natural:    []string{"spillage", "draft"},
		Pressure: []procedure.Limit{{Row: procedure.Row{ID: "any", Evidence: procedure.EvidenceMemory}, Applies: procedure.Selector{},
			Bound: procedure.Bound{Value: -3, Sense: procedure.AtLeast}, Unit: "Pa"}},
		Interrupts: []procedure.Tier{
			{Row: "a9", Code: procedure.AmbientCO, From: 9, Unit: "ppm", Act: procedure.ActSource, Source: "a source", Evidence: procedure.EvidenceMemory},
			{Row: "a70", Code: procedure.AmbientCO, From: 70, Unit: "ppm", Act: procedure.ActOut, Source: "a source", Evidence: procedure.EvidenceOwnRule}},
		Constants: procedure.Uncertainties{AccuracyPa: 0.25, AccuracyPct: 1, DefaultS: 0.2, Resolution: 0.1, MinPairs: 3, Coverage: 2},
	}
	for _, id := range procedure.Stages {
		p.Stages = append(p.Stages, procedure.Stage{ID: id})
	}
	return p
}

// walker answers steps at random, mostly well, so that every branch is met.
type walker struct {
	r  *rand.Rand
	st *sequence.State
}

func (w *walker) event(k procedure.Kind, step string, d procedure.Data) procedure.Event {
	at := time.Date(2026, 1, 5, 9, 0, w.st.Last(), 0, time.UTC)
	return procedure.Event{N: w.st.Last() + 1, Kind: k, Step: step, Observed: at, Written: at, Who: "t", Src: procedure.FromWalk, Data: d}
}

func (w *walker) take(k procedure.Kind, step string, d procedure.Data) error {
	next, err := w.st.Apply(w.event(k, step, d))
	if err == nil {
		w.st = next
	}
	return err
}

func ptr(v float64) *float64 { return &v }

// odd is true once in n.
func (w *walker) odd(n int) bool { return w.r.Intn(n) == 0 }

func (w *walker) answer(st procedure.Step) error {
	A := func(key string, a *procedure.Answer) error { return w.take(procedure.KindAnswer, key, a) }
	choose := func() string { return st.Choices[w.r.Intn(len(st.Choices))] }
	pick := func(n int) []procedure.RosterItem {
		items := []procedure.RosterItem{}
		for i := 0; i < n; i++ {
			k := choose()
			items = append(items, procedure.RosterItem{ID: fmt.Sprintf("%s-%d", k, i), Kind: k, Name: KindName(English, k)})
		}
		return items
	}
	switch st.Form {
	case procedure.FormChecklist, procedure.FormGate:
		for _, it := range st.Items {
			s := procedure.SeenOK
			if st.Form == procedure.FormChecklist && st.Stage != procedure.StageArrive && w.odd(12) {
				s = procedure.SeenWrong
			}
			if err := A(it.Key, &procedure.Answer{Seen: &procedure.Seen{State: s}}); err != nil {
				return err
			}
		}
		return nil
	case procedure.FormTable:
		for _, it := range st.Items {
			if err := A(it.Key, &procedure.Answer{Choice: choose()}); err != nil {
				return err
			}
		}
		return nil
	case procedure.FormNumbers:
		for _, it := range st.Items {
			if err := A(it.Key, &procedure.Answer{Number: &procedure.Number{Value: ptr(float64(w.r.Intn(90))), Unit: st.Unit}}); err != nil {
				return err
			}
		}
		return nil
	case procedure.FormChoice:
		c := choose()
		if st.Ask == "list.vent" && !w.odd(3) {
			c = "natural"
		}
		return A(st.ID, &procedure.Answer{Choice: c})
	case procedure.FormText:
		return A(st.ID, &procedure.Answer{Text: "x"})
	case procedure.FormRoster:
		n := 2 + w.r.Intn(4)
		switch st.Ask {
		case "list.zones", "list.airhandlers":
			n = 1 + w.r.Intn(2)
		}
		return A(st.ID, &procedure.Answer{Roster: &procedure.Roster{Items: pick(n)}})
	case procedure.FormFacts:
		f := procedure.VentFacts{Fireable: procedure.Yes, InsideBoundary: procedure.Yes, TestHole: procedure.Yes}
		if w.odd(2) {
			f.DraftHood, f.Shares = procedure.Yes, procedure.Yes
		}
		return A(st.ID, &procedure.Answer{VentFacts: &f})
	case procedure.FormPick:
		ids := []string{}
		for _, it := range st.Items {
			ids = append(ids, it.Key)
		}
		return A(st.ID, &procedure.Answer{Names: &procedure.Names{IDs: ids}})
	case procedure.FormNumber:
		return A(st.ID, &procedure.Answer{Number: &procedure.Number{Value: ptr(-8), Unit: st.Unit}})
	case procedure.FormBurner:
		return A(st.ID, &procedure.Answer{Burner: &procedure.Burner{Fuel: procedure.Fuels[w.r.Intn(3)], Input: 40000, Unit: "Btu/h"}})
	case procedure.FormWeather:
		return A(st.ID, &procedure.Answer{Weather: &procedure.Weather{Wind: float64(w.r.Intn(25)), WindUnit: "mph", Temp: 30, TempUnit: "F"}})
	case procedure.FormPressure:
		v := -3.2 + w.r.Float64()*4
		if st.Ask == "pressure.worst" {
			v = -2.7
		}
		return A(st.ID, &procedure.Answer{Pressure: &procedure.Pressure{Value: &v, Unit: "Pa", AveragingS: 30, Setup: st.SetupN}})
	case procedure.FormPairs:
		return A(st.ID, &procedure.Answer{Pairs: &procedure.Pairs{Off: []float64{0, 0, 0}, On: []float64{-2, -2, -2}, Unit: "Pa", Setup: st.SetupN}})
	case procedure.FormGas:
		o := 6.5
		if w.odd(4) {
			o = 18
		}
		return A(st.ID, &procedure.Answer{Gas: &procedure.Gas{CO: []float64{12}, O2: []*float64{&o}}})
	case procedure.FormAmbient:
		v := float64(w.r.Intn(4))
		if st.Unit == "ppm" && w.odd(6) {
			v = 12
		}
		return A(st.ID, &procedure.Answer{Gas: &procedure.Gas{CO: []float64{v}}})
	case procedure.FormClock:
		s := procedure.Spill{Outcome: procedure.SpillStopped, Seconds: float64(w.r.Intn(90))}
		return A(st.ID, &procedure.Answer{Spill: &s})
	case procedure.FormInstrument:
		return A(st.ID, &procedure.Answer{Instrument: &procedure.Instrument{ID: st.Args["instrument"], Name: "g"}})
	case procedure.FormSetup:
		return w.take(procedure.KindSetup, st.ID, st.Setup)
	case procedure.FormTold:
		return w.take(procedure.KindTold, st.ID, &procedure.Told{Whom: "a", How: "b"})
	case procedure.FormDoubt:
		return w.take(procedure.KindDoubt, st.Args["key"], &procedure.Doubt{Code: procedure.DoubtCode(st.Args["doubt"]), About: st.About, Settled: "stands", How: "hoses"})
	}
	return fmt.Errorf("no answer for form %s", st.Form)
}

// shown is a screen that a walk met.
type shown struct {
	step procedure.Step
	plan procedure.Plan
}

// walked are the screens of many invented homes, and what could not be
// answered on the way.
var walked = sync.OnceValues(func() ([]shown, map[string]int) {
	var out []shown
	stuck := map[string]int{}
	for seed := int64(0); seed < 60; seed++ {
		doors := []string{"smoke", "pressure", "close-all"}[seed%3]
		plan := richPlan(doors, seed%2 == 0)
		w := &walker{r: rand.New(rand.NewSource(seed)), st: sequence.Start(procedure.Header{Phase: procedure.TestIn, Record: "r", Home: "h"}, plan)}
		for i := 0; i < 400; i++ {
			st, ok := w.st.Next()
			if !ok {
				break
			}
			out = append(out, shown{st, plan})
			if err := w.answer(st); err != nil {
				stuck[st.Ask+": "+err.Error()]++
				for _, k := range st.Keys() {
					if err := w.take(procedure.KindSkip, k, &procedure.Skip{Reason: procedure.SkipCannot}); err != nil {
						i = 400
					}
				}
			}
			if i == 60 && seed%4 == 1 { // a stop in between
				if err := w.take(procedure.KindHandover, "", &procedure.Handover{Who: "u", Resumed: true}); err != nil {
					stuck["handover: "+err.Error()]++
				}
			}
			if i == 50 && seed%10 == 3 { // a danger that empties the house
				if err := w.take(procedure.KindHazard, "", &procedure.Hazard{Code: procedure.Alarm}); err != nil {
					stuck["hazard: "+err.Error()]++
				}
			}
		}
	}
	return out, stuck
})

// walkAll shows every screen met.
func walkAll(t *testing.T, screen func(procedure.Step, procedure.Plan)) {
	t.Helper()
	list, stuck := walked()
	if len(list) < 2000 {
		t.Fatalf("only %d screens were met", len(list))
	}
	for k, n := range stuck {
		t.Logf("not answered %d times: %s", n, k)
	}
	for _, s := range list {
		screen(s.step, s.plan)
	}
}

func words(s string) int { return len(strings.Fields(s)) }
