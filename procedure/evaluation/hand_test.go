package evaluation_test

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"cazward/procedure"
	"cazward/procedure/evaluation"
)

// Homes and rules made by hand, so that what the walk would never record can
// be judged too.

func fp(v float64) *float64 { return &v }

// handRules mirror the graded table in short.
func handRules() procedure.Rules {
	row := func(id string) procedure.Row { return procedure.Row{ID: id, Evidence: procedure.EvidenceOwnRule} }
	least := func(id string, v float64, s procedure.Selector) procedure.Limit {
		return procedure.Limit{Row: row(id), Applies: s, Bound: procedure.Bound{Value: v, Sense: procedure.AtLeast}, Unit: "Pa"}
	}
	most := func(id string, v float64, unit string, s procedure.Selector) procedure.Limit {
		return procedure.Limit{Row: row(id), Applies: s, Bound: procedure.Bound{Value: v, Sense: procedure.AtMost}, Unit: unit}
	}
	kinds := func(k ...procedure.ApplianceKind) procedure.Selector { return procedure.Selector{Kinds: k} }
	r := procedure.Rules{Scheme: procedure.Ref{Name: "hand"}, PressureSet: true,
		Pressure: []procedure.Limit{least("heating", -5, kinds(procedure.Furnace, procedure.Boiler)), least("tank", -2, kinds(procedure.WaterHeater))},
		Draft:    procedure.DraftRule{Row: row("line"), Set: true, Vents: []procedure.VentType{procedure.NaturalVent}, Line: []procedure.DraftPoint{{TempF: 10, Pa: -2.5}, {TempF: 90, Pa: -0.5}}},
		Spillage: []procedure.Limit{most("warm", 120, "s", procedure.Selector{Cold: procedure.No}), most("cold", 300, "s", procedure.Selector{Cold: procedure.Yes})},
		COAsked:  []procedure.ApplianceKind{procedure.Furnace, procedure.Boiler, procedure.WaterHeater, procedure.Oven, procedure.UnventedHeater},
		Matrix: []procedure.MatrixRow{
			{Row: row("pass"), UpTo: fp(25), Spillage: procedure.OutcomePass, Draft: procedure.OutcomePass, Decision: procedure.Proceed, Status: procedure.MayRun},
			{Row: row("spill"), UpTo: fp(100), Spillage: procedure.OutcomeWorst, Draft: procedure.OutcomeAny, Decision: procedure.Hold, Status: procedure.MayRunNoFans},
			{Row: row("draft"), UpTo: fp(100), Spillage: procedure.OutcomePass, Draft: procedure.OutcomeWorst, Decision: procedure.Refer, Status: procedure.MayRunNoFans},
			{Row: row("band"), Over: 25, UpTo: fp(100), Spillage: procedure.OutcomePass, Draft: procedure.OutcomePass, Decision: procedure.Refer, Status: procedure.MayRun},
			{Row: row("high"), Over: 100, UpTo: fp(400), Spillage: procedure.OutcomeAny, Draft: procedure.OutcomeAny, Decision: procedure.Hold, Status: procedure.OffUntilServiced},
			{Row: row("natural"), Spillage: procedure.OutcomeNatural, Draft: procedure.OutcomeAny, Decision: procedure.Hold, Status: procedure.OffUntilServiced},
			{Row: row("natural-draft"), Spillage: procedure.OutcomeAny, Draft: procedure.OutcomeNatural, Decision: procedure.Hold, Status: procedure.OffUntilServiced},
			{Row: row("over"), Over: 400, Spillage: procedure.OutcomePass, Draft: procedure.OutcomePass, Decision: procedure.Hold, Status: procedure.OffUntilServiced},
			{Row: row("out-spill"), Over: 400, Spillage: procedure.OutcomeFail, Draft: procedure.OutcomeAny, Decision: procedure.Leave, Status: procedure.FuelOff},
			{Row: row("out-draft"), Over: 400, Spillage: procedure.OutcomeAny, Draft: procedure.OutcomeFail, Decision: procedure.Leave, Status: procedure.FuelOff},
		},
		Floor: []procedure.Tier{{Row: "t70", Code: procedure.AmbientCO, From: 70, Act: procedure.ActOut}, {Row: "t35", Code: procedure.AmbientCO, From: 35, Above: true, Act: procedure.ActLeave},
			{Row: "t30", Code: procedure.AmbientCO, From: 30, Act: procedure.ActHold}, {Row: "t9", Code: procedure.AmbientCO, From: 9, Act: procedure.ActSource}, {Row: "lel", Code: procedure.LEL, From: 10, Act: procedure.ActOut}},
		Uncertainty: procedure.Uncertainties{AccuracyPa: 0.25, AccuracyPct: 1, DefaultS: 0.2, Resolution: 0.1, MinPairs: 3, Coverage: 2},
		DilutedO2:   16,
	}
	for _, code := range []string{"soot", "rust", "clearances", "chimney", "connector", "co-alarm"} {
		r.Actions = append(r.Actions, procedure.ActionRow{Row: row("act-" + code), Code: code, Decision: procedure.Refer})
	}
	return r
}

// airFreeRules have no matrix and no pressure rule: CO air-free by appliance.
func airFreeRules() procedure.Rules {
	r := handRules()
	r.Matrix, r.Pressure, r.PressureSet, r.Draft = nil, nil, false, procedure.DraftRule{}
	r.CO = []procedure.Limit{{Row: procedure.Row{ID: "af"}, Applies: procedure.Selector{Kinds: []procedure.ApplianceKind{procedure.Furnace}}, Bound: procedure.Bound{Value: 400, Sense: procedure.AtMost}, Unit: "ppm", Basis: "air-free"}}
	return r
}

var worstSetup = procedure.Setup{Fans: []string{"f1", "f2"}, Doors: []string{"d1"}, AirHandler: []string{"ah"}, CAZDoor: "closed"}

func pa(n int, step string, su procedure.Setup, v ...float64) procedure.PressureObs {
	return procedure.PressureObs{N: n, Step: step, Values: v, Setup: su, SetupN: n - 1}
}

// handHome is a natural-draft gas furnace alone on its vent, all in order.
func handHome() procedure.Observations {
	plan := procedure.Plan{Scheme: procedure.Ref{Name: "hand"}, Baseline: procedure.BaselinePlan{Closing: true}, Spillage: procedure.SpillagePlan{Together: true},
		Draft: procedure.DraftPlan{Vents: []procedure.VentType{procedure.NaturalVent}}, CO: procedure.COPlan{Kinds: handRules().COAsked}}
	for _, id := range procedure.Stages {
		plan.Stages = append(plan.Stages, procedure.Stage{ID: id})
	}
	off := procedure.Setup{CAZDoor: "open"}
	fans := worstSetup.Clone()
	fans.Doors = nil
	worst := pa(60, "reading/z/worst", worstSetup, -2.0, -2.1, -2.0, -1.9, -2.0)
	o := procedure.Observations{Record: "r", HomeID: "h", Phase: procedure.TestIn, Plan: plan, Home: procedure.DetachedHouse,
		LEL:   []procedure.AmbientObs{{N: 6, Step: "arrive/lel"}},
		Zones: []procedure.Zone{{ID: "z", Name: "basement", Door: procedure.Yes}},
		Appliances: []procedure.Appliance{{ID: "a", Name: "furnace", Kind: procedure.Furnace, Zone: "z", Burner: procedure.Burner{Fuel: procedure.NaturalGas, Input: 80000}, Vent: procedure.Vent{Type: procedure.NaturalVent}, Listed: true,
			Facts: procedure.VentFacts{DraftHood: procedure.Yes, Shares: procedure.No, TestHole: procedure.Yes, Fireable: procedure.Yes, InsideBoundary: procedure.Yes, Orphaned: procedure.No}}},
		Fans: []procedure.RosterItem{{ID: "f1", Kind: string(procedure.BathFan)}, {ID: "f2", Kind: string(procedure.RangeHood)}}, Doors: []procedure.RosterItem{{ID: "d1", Kind: string(procedure.BathDoor)}}, AirHandlers: []procedure.RosterItem{{ID: "ah", Kind: "air-handler"}},
		FansKnown: true, DoorsKnown: true, AirKnown: true, BurnersKnown: true,
		Weather: &procedure.Weather{Wind: 5, WindUnit: "mph", Temp: 34, TempUnit: "F"}, Instruments: []procedure.Instrument{{ID: "gauge", Resolution: 0.1}},
		Ambient: []procedure.AmbientObs{{N: 7, Step: "arrive/ambient", Value: 2}},
		ZoneObs: []procedure.ZoneObs{{Zone: "z", Baselines: []procedure.PressureObs{pa(40, "baseline/z", off, -0.9, -0.9, -1.0, -0.8, -0.9), pa(80, "baseline/z/closing", off, -0.9, -0.9, -0.8, -1.0, -0.9)},
			Readings: []procedure.PressureObs{pa(50, "reading/z/fans", fans, -1.6, -1.7, -1.6, -1.6, -1.7), worst}, Held: &worstSetup, Worst: &worst, DoorsDecided: true, AirDecided: true, CAZDecided: true}},
		ApplObs: []procedure.ApplianceObs{{ID: "a", MinutesSince: fp(120), Spill: &procedure.SpillObs{N: 61, Outcome: procedure.SpillStopped, Seconds: 20, Cold: procedure.Yes, SetupN: 59},
			CO: &procedure.GasObs{N: 63, CO: []float64{12}, O2: []*float64{fp(7)}}}},
	}
	d := pa(62, "draft/a", worstSetup, -3.4, -3.4, -3.4, -3.4, -3.4)
	o.ApplObs[0].Draft = &d
	n := 100
	lines := func(stage procedure.StageID, subject string, codes ...string) {
		for _, c := range codes {
			n++
			o.Checks = append(o.Checks, procedure.Check{Key: string(stage) + "/" + subject + "/" + c, Code: c, Subject: subject, Stage: stage, State: procedure.SeenOK, N: n})
		}
	}
	lines(procedure.StageArrive, "", "alarm", "symptoms", "smell", "co-monitor", "consent", "no-live-fire", "no-asbestos", "occupants-warned")
	lines(procedure.StageLook, "", "piping", "co-alarm")
	lines(procedure.StageLook, "a", "fuel", "connector", "vent-connected", "draft-hood", "combustion-air", "rollout-marks", "soot", "rust", "clearances", "chimney")
	lines(procedure.StagePrepare, "", "thermostats-down", "burners-off", "fans-off", "windows-shut", "inside-doors-open", "dampers-shut", "analyser-zeroed", "holes-ready", "condenser-off")
	lines(procedure.StageHose, "z", "outdoor-end", "zone-end", "pinched")
	lines(procedure.StageAppliances, "a", "blower-flame")
	lines(procedure.StagePutBack, "", "burners-lit", "thermostats-back", "fans-back", "disconnects-on", "filters-in", "holes-sealed", "doors-windows-back", "dampers-back", "hoses-out", "co-alarm-working")
	return o
}

func setWorst(o *procedure.Observations, v ...float64) {
	z := &o.ZoneObs[0]
	z.Worst.Values, z.Readings[1].Values = v, append([]float64{}, v...)
}

// TestByHand: what each change to a home in order leads to.
func TestByHand(t *testing.T) {
	natural := func(o *procedure.Observations, sec float64) {
		o.ApplObs[0].SpillNatural = &procedure.SpillObs{N: 90, Outcome: procedure.SpillStopped, Seconds: sec, Cold: procedure.Yes}
		d := pa(91, "draft/a/natural", procedure.Setup{}, -3.4, -3.4, -3.4)
		o.ApplObs[0].DraftNatural = &d
	}
	none := procedure.StatusNone
	for _, c := range []struct {
		name   string
		change func(o *procedure.Observations, r *procedure.Rules)
		want   procedure.Decision
		status procedure.Status
	}{
		{"in order", func(o *procedure.Observations, r *procedure.Rules) {}, procedure.Proceed, procedure.MayRun},
		{"a low reading does not hide one that is less certain", func(o *procedure.Observations, r *procedure.Rules) {
			o.ZoneObs[0].Readings[0].Values = []float64{-3.0, -6.5, -4.0, -7.2, -4.3} // -5.0: net -4.1, wide
			setWorst(o, -5.1, -5.1, -5.1, -5.1, -5.1)                                 // net -4.2, narrow
		}, procedure.Hold, procedure.MayRun},
		{"pairs lower than the single readings, too close", func(o *procedure.Observations, r *procedure.Rules) {
			o.ZoneObs[0].Pairs = &procedure.PairsObs{N: 70, Setup: worstSetup, Off: []float64{-0.9, -0.9, -0.9}, On: []float64{-5.7, -5.9, -5.8}}
		}, procedure.Hold, procedure.MayRun},
		{"pairs beyond", func(o *procedure.Observations, r *procedure.Rules) {
			o.ZoneObs[0].Pairs = &procedure.PairsObs{N: 70, Setup: worstSetup, Off: []float64{-0.9, -0.9, -0.9}, On: []float64{-6.7, -6.9, -6.8}}
		}, procedure.Hold, procedure.MayRun},
		{"two pairs settle nothing but are readings", func(o *procedure.Observations, r *procedure.Rules) {
			o.ZoneObs[0].Pairs = &procedure.PairsObs{N: 70, Setup: worstSetup, Off: []float64{-0.9, -0.9}, On: []float64{-8.7, -8.9}}
		}, procedure.Hold, procedure.MayRun},
		{"pairs settle what was too close", func(o *procedure.Observations, r *procedure.Rules) {
			setWorst(o, -5.6, -5.6, -5.7, -5.6, -5.6)
			o.ZoneObs[0].Pairs = &procedure.PairsObs{N: 70, Setup: worstSetup, Off: []float64{-0.9, -0.9, -0.9, -0.9}, On: []float64{-5.5, -5.5, -5.5, -5.5}}
		}, procedure.Proceed, procedure.MayRun},
		{"pairs never erase a fail", func(o *procedure.Observations, r *procedure.Rules) {
			setWorst(o, -6.6, -6.6, -6.7, -6.6, -6.6)
			o.ZoneObs[0].Pairs = &procedure.PairsObs{N: 70, Setup: worstSetup, Off: []float64{-0.9, -0.9, -0.9, -0.9}, On: []float64{-2, -2, -2, -2}}
		}, procedure.Hold, procedure.MayRun},
		{"a fan of a kind not known", func(o *procedure.Observations, r *procedure.Rules) {
			o.Fans = append(o.Fans, procedure.RosterItem{ID: "f3", Kind: "something-new"})
		}, procedure.Incomplete, none},
		{"worst case read in another set-up", func(o *procedure.Observations, r *procedure.Rules) { o.ZoneObs[0].Worst.Setup.Fans = []string{"f1"} }, procedure.Incomplete, none},
		{"read again after a stop is no closing baseline", func(o *procedure.Observations, r *procedure.Rules) {
			o.ZoneObs[0].Baselines[1].Step = "baseline/z/again/9"
		}, procedure.Incomplete, procedure.MayRun},
		{"two values of room air in one event, the higher last", func(o *procedure.Observations, r *procedure.Rules) {
			o.Ambient = append(o.Ambient, procedure.AmbientObs{N: 9, Value: 10}, procedure.AmbientObs{N: 9, Value: 80})
		}, procedure.Leave, procedure.OffUntilServiced},
		{"and its source settled at the lower value", func(o *procedure.Observations, r *procedure.Rules) {
			o.Ambient = append(o.Ambient, procedure.AmbientObs{N: 9, Value: 80}, procedure.AmbientObs{N: 9, Value: 10})
			o.Hazards = append(o.Hazards, procedure.HazardObs{N: 9, Hazard: procedure.Hazard{Code: procedure.AmbientCO, Value: fp(10)}, Settled: procedure.Yes, Source: "other-source"})
		}, procedure.Leave, procedure.OffUntilServiced},
		{"no room air reading", func(o *procedure.Observations, r *procedure.Rules) { o.Ambient = nil }, procedure.Incomplete, procedure.MayRun},
		{"not lit, with no finding that says why", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0] = procedure.ApplianceObs{ID: "a", NotFired: "rollout"}
		}, procedure.Incomplete, procedure.FuelOff},
		{"not lit after rollout", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0] = procedure.ApplianceObs{ID: "a", NotFired: "rollout"}
			o.Hazards = append(o.Hazards, procedure.HazardObs{N: 66, Hazard: procedure.Hazard{Code: procedure.Rollout, Subject: "a"}})
		}, procedure.Hold, procedure.FuelOff},
		{"a leak nobody could place", func(o *procedure.Observations, r *procedure.Rules) {
			o.Hazards = append(o.Hazards, procedure.HazardObs{N: 66, Hazard: procedure.Hazard{Code: procedure.Leak, Where: "crawl space"}})
		}, procedure.Hold, procedure.FuelOff},
		{"fuel not known", func(o *procedure.Observations, r *procedure.Rules) { o.Appliances[0].Burner.Fuel = "" }, procedure.Incomplete, none},
		{"shared vent, partners not named", func(o *procedure.Observations, r *procedure.Rules) { o.Appliances[0].Facts.Shares = procedure.Yes }, procedure.Incomplete, none},
		{"flame changes: emergency CO with a weak draft is leave all the same", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0].Draft.Values, o.ApplObs[0].CO.CO[0], o.ApplObs[0].NotFired = []float64{-1, -1, -1}, 450, "flame-change"
			o.Hazards = append(o.Hazards, procedure.HazardObs{N: 66, Hazard: procedure.Hazard{Code: procedure.FlameChange, Subject: "a"}})
		}, procedure.Leave, procedure.FuelOff},
		{"spills at worst case, natural conditions not tested", func(o *procedure.Observations, r *procedure.Rules) { o.ApplObs[0].Spill.Seconds = 301 }, procedure.Hold, procedure.OffUntilServiced},
		{"spills at worst case only", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0].Spill.Seconds = 301
			natural(o, 20)
		}, procedure.Hold, procedure.MayRunNoFans},
		{"spills at worst case only, CO not taken", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0].Spill.Seconds, o.ApplObs[0].CO = 301, nil
			natural(o, 20)
		}, procedure.Hold, procedure.OffUntilServiced},
		{"spills at worst case and with the house at rest", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0].Spill.Seconds = 301
			natural(o, 301)
		}, procedure.Hold, procedure.OffUntilServiced},
		{"never stopped spilling, seconds lost", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0].Spill.Outcome, o.ApplObs[0].Spill.Seconds = procedure.SpillStill, math.NaN()
		}, procedure.Hold, procedure.OffUntilServiced},
		{"exactly the limit", func(o *procedure.Observations, r *procedure.Rules) { o.ApplObs[0].Spill.Seconds = 300 }, procedure.Proceed, procedure.MayRun},
		{"cold or warm not known: the shorter time", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0].Spill.Seconds, o.ApplObs[0].Spill.Cold = 121, procedure.Unknown
			natural(o, 20)
		}, procedure.Hold, procedure.MayRunNoFans},
		{"draft fails at worst case, draft at rest not read", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0].Draft.Values = []float64{-1, -1, -1}
			natural(o, 20)
			o.ApplObs[0].DraftNatural = nil
		}, procedure.Incomplete, procedure.OffUntilServiced},
		{"draft fails at worst case only", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0].Draft.Values = []float64{-1, -1, -1}
			natural(o, 20)
		}, procedure.Refer, procedure.MayRunNoFans},
		{"more CO with the house at rest", func(o *procedure.Observations, r *procedure.Rules) {
			o.ApplObs[0].CONatural = &procedure.GasObs{N: 92, CO: []float64{300}, O2: []*float64{fp(7)}}
		}, procedure.Hold, procedure.OffUntilServiced},
		{"O2 that is no number", func(o *procedure.Observations, r *procedure.Rules) { o.ApplObs[0].CO.O2[0] = fp(math.NaN()) }, procedure.Incomplete, none},
		{"air-free over its limit", func(o *procedure.Observations, r *procedure.Rules) {
			*r = airFreeRules()
			o.ApplObs[0].CO.CO[0] = 280 // 421 ppm air-free at 7 %
		}, procedure.Hold, procedure.OffUntilServiced},
		{"air-free under its limit", func(o *procedure.Observations, r *procedure.Rules) { *r = airFreeRules() }, procedure.Proceed, procedure.MayRun},
		{"air-free, a cell that is no number does not hide one that fails", func(o *procedure.Observations, r *procedure.Rules) {
			*r = airFreeRules()
			o.ApplObs[0].CO = &procedure.GasObs{N: 63, CO: []float64{500, math.NaN()}, O2: []*float64{fp(5), fp(5)}}
		}, procedure.Hold, procedure.OffUntilServiced},
		{"air-free, O2 not read", func(o *procedure.Observations, r *procedure.Rules) {
			*r = airFreeRules()
			o.ApplObs[0].CO.O2 = nil
		}, procedure.Incomplete, none},
		{"air-free, O2 not read, over as measured", func(o *procedure.Observations, r *procedure.Rules) {
			*r = airFreeRules()
			o.ApplObs[0].CO.CO, o.ApplObs[0].CO.O2 = []float64{401}, nil
		}, procedure.Hold, procedure.OffUntilServiced},
		{"a scheme without a matrix: emergency CO with spillage is leave", func(o *procedure.Observations, r *procedure.Rules) {
			*r = airFreeRules()
			o.ApplObs[0].CO.CO[0], o.ApplObs[0].Spill.Outcome = 450, procedure.SpillStill
		}, procedure.Leave, procedure.FuelOff},
		{"a scheme without a pressure rule blocks nothing", func(o *procedure.Observations, r *procedure.Rules) {
			r.PressureSet, r.Pressure = false, nil
			setWorst(o, -20, -20, -20)
		}, procedure.Proceed, procedure.MayRun},
		{"an oil burner whose breech draft is given as nothing", func(o *procedure.Observations, r *procedure.Rules) {
			o.Appliances[0].Burner.Fuel, o.ApplObs[0].BreechPa, o.ApplObs[0].BreechKnown = procedure.Oil, fp(0), procedure.Yes
		}, procedure.Incomplete, none},
		{"a line at arrival that a row holds", func(o *procedure.Observations, r *procedure.Rules) {
			r.Actions = append(r.Actions, procedure.ActionRow{Row: procedure.Row{ID: "x"}, Code: "no-asbestos", Decision: procedure.Hold})
			for i := range o.Checks {
				if o.Checks[i].Code == "no-asbestos" {
					o.Checks[i].State = procedure.SeenWrong
				}
			}
		}, procedure.Hold, procedure.MayRun},
		{"a look line without a row", func(o *procedure.Observations, r *procedure.Rules) {
			o.Checks = append(o.Checks, procedure.Check{Code: "bird-nest", Stage: procedure.StageLook, Subject: "a", State: procedure.SeenWrong, N: 300})
		}, procedure.Hold, procedure.OffUntilServiced},
		{"a matrix with no row that fits", func(o *procedure.Observations, r *procedure.Rules) { r.Matrix = r.Matrix[4:] }, procedure.Hold, procedure.OffUntilServiced},
		{"alarm when all else is in order: nothing may run", func(o *procedure.Observations, r *procedure.Rules) {
			o.Hazards = append(o.Hazards, procedure.HazardObs{N: 66, Hazard: procedure.Hazard{Code: procedure.Alarm}})
		}, procedure.Leave, none},
		{"solid fuel without a row", func(o *procedure.Observations, r *procedure.Rules) { addStove(o) }, procedure.Refer, procedure.MayRun},
		{"solid fuel, chimney not looked at", func(o *procedure.Observations, r *procedure.Rules) {
			addStove(o)
			o.Checks = o.Checks[:len(o.Checks)-1]
		}, procedure.Incomplete, procedure.MayRun},
		{"no uncertainty known: a draft on its limit", func(o *procedure.Observations, r *procedure.Rules) {
			r.Uncertainty, o.Instruments = procedure.Uncertainties{}, nil
		}, procedure.Incomplete, none},
		{"wind above the ceiling, and nobody was asked", func(o *procedure.Observations, r *procedure.Rules) {
			o.Plan.Baseline.MaxWind, o.Weather.Wind = 9, 15
		}, procedure.Incomplete, procedure.MayRun},
		{"an appliance observed twice", func(o *procedure.Observations, r *procedure.Rules) {
			x := o.ApplObs[0]
			x.Spill = &procedure.SpillObs{Outcome: procedure.SpillStill, Seconds: 99}
			o.ApplObs = append(o.ApplObs, x)
		}, procedure.Incomplete, procedure.MayRun},
		{"tested, then taken off the list", func(o *procedure.Observations, r *procedure.Rules) { o.Appliances = nil }, procedure.Incomplete, "absent"},
		{"readings of a zone that is not listed", func(o *procedure.Observations, r *procedure.Rules) {
			x := o.ZoneObs[0]
			x.Zone = "q"
			o.ZoneObs = append(o.ZoneObs, x)
		}, procedure.Incomplete, procedure.MayRun},
		{"a kind not known", func(o *procedure.Observations, r *procedure.Rules) { o.Appliances[0].Kind = "" }, procedure.Incomplete, none},
		{"a vent not understood", func(o *procedure.Observations, r *procedure.Rules) {
			o.Appliances[0].Vent.Type, o.ApplObs[0].Draft = "something-new", nil
		}, procedure.Incomplete, none},
		{"a scatter below zero", func(o *procedure.Observations, r *procedure.Rules) { o.ZoneObs[0].Worst.SE = -1 }, procedure.Incomplete, procedure.MayRun},
		{"a decision of a later version", func(o *procedure.Observations, r *procedure.Rules) {
			r.Actions = []procedure.ActionRow{{Row: procedure.Row{ID: "x"}, Code: "soot", Decision: "something-new"}}
			for i := range o.Checks {
				if o.Checks[i].Code == "soot" {
					o.Checks[i].State = procedure.SeenWrong
				}
			}
		}, procedure.Leave, none},
		{"another scheme asks CO that the plan never did", func(o *procedure.Observations, r *procedure.Rules) {
			r.Scheme.Name, o.Plan.CO.Kinds, o.ApplObs[0].CO = "other", nil, nil
		}, procedure.Incomplete, none},
	} {
		t.Run(c.name, func(t *testing.T) {
			o, r := handHome(), handRules()
			c.change(&o, &r)
			j := evaluation.Judge(o, r)
			if j.Decision != c.want || status(j, "a") != c.status {
				t.Errorf("got %s %q, want %s %q", j.Decision, status(j, "a"), c.want, c.status)
				for _, f := range j.Findings {
					t.Logf("  %s %s %s %s %s", f.Rule, f.Subject, f.Verdict, f.Severity, f.Detail)
				}
				t.Logf("  missing %v", j.Missing)
			}
		})
	}
}

func addStove(o *procedure.Observations) {
	o.Appliances = append(o.Appliances, procedure.Appliance{ID: "w", Kind: procedure.WoodStove, Zone: "z", Burner: procedure.Burner{Fuel: procedure.Wood}, Listed: true})
	for _, c := range []string{"clearances", "soot", "chimney"} {
		o.Checks = append(o.Checks, procedure.Check{Code: c, Stage: procedure.StageLook, Subject: "w", State: procedure.SeenOK})
	}
}

// TestNotAskedIsSaid: what the plan of another scheme never asked is listed as
// such, and is missing for that reason.
func TestNotAskedIsSaid(t *testing.T) {
	o, r := handHome(), handRules()
	r.Scheme.Name, o.Plan.CO.Kinds, o.ApplObs[0].CO = "other", nil, nil
	j := evaluation.Judge(o, r)
	if !reflect.DeepEqual(j.NotAsked, []string{"co/a"}) || !reflect.DeepEqual(j.Missing, []procedure.Missing{{Step: "co/a", Why: "not-asked"}}) {
		t.Errorf("not asked %v, missing %v", j.NotAsked, j.Missing)
	}
}

// TestRequiredByHand: without any one line or observation the home is neither
// proceed nor refer, though nobody lists the gap as open.
func TestRequiredByHand(t *testing.T) {
	for i, c := range handHome().Checks {
		for _, st := range []procedure.SeenState{"", procedure.NotSeen, "other"} {
			o := handHome()
			if o.Checks[i].State = st; st == "" {
				o.Checks = append(o.Checks[:i:i], o.Checks[i+1:]...)
			}
			if j := evaluation.Judge(o, handRules()); j.Decision != procedure.Incomplete {
				t.Errorf("%s %q: %s", c.Key, st, j.Decision)
			}
		}
	}
	// Every pointer, list and flag of the observations, emptied in turn.
	free := map[string]bool{ // of these nothing is required of this home
		".Record": true, ".HomeID": true, ".Phase": true, ".Instruments": true, ".Fans": true, ".Doors": true, ".AirHandlers": true, ".ApplObs[0].MinutesSince": true,
		".ZoneObs[0].Readings": true, ".Plan.Spillage.Together": true, ".Plan.Baseline.Closing": true, ".Plan.Draft.Vents": true, ".Plan.CO.Kinds": true}
	emptied := 0
	each(reflect.ValueOf(ptrTo(handHome())).Elem(), "", func(path string, _ reflect.Value) {
		o := handHome()
		v := at(t, &o, path)
		switch v.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Bool:
		default:
			return
		}
		if v.IsZero() || free[path] || deep(path) {
			return
		}
		v.SetZero()
		emptied++
		if d := evaluation.Judge(o, handRules()).Decision; d == procedure.Proceed || d == procedure.Refer {
			t.Errorf("without %s: %s", path, d)
		}
	})
	if emptied < 15 {
		t.Errorf("only %d things were emptied", emptied)
	}
}

// deep paths are parts of a reading's set-up or of a checklist line.
func deep(path string) bool {
	for _, p := range []string{".Setup", ".Held.", ".Checks[", ".Appliances[0].Partners"} {
		if len(path) > len(p) && contains(path, p) {
			return true
		}
	}
	return false
}

func contains(s, p string) bool {
	for i := 0; i+len(p) <= len(s); i++ {
		if s[i:i+len(p)] == p {
			return true
		}
	}
	return false
}

func ptrTo[T any](v T) *T { return &v }

// each visits every settable value below v.
func each(v reflect.Value, path string, f func(string, reflect.Value)) {
	if path != "" {
		f(path, v)
	}
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			each(v.Elem(), path+".*", f)
		}
	case reflect.Struct:
		if v.Type().PkgPath() == "time" {
			return
		}
		for i := 0; i < v.NumField(); i++ {
			each(v.Field(i), path+"."+v.Type().Field(i).Name, f)
		}
	case reflect.Slice:
		for i := 0; i < v.Len(); i++ {
			each(v.Index(i), fmt.Sprintf("%s[%d]", path, i), f)
		}
	}
}

func at(t *testing.T, o *procedure.Observations, path string) reflect.Value {
	t.Helper()
	var out reflect.Value
	each(reflect.ValueOf(o).Elem(), "", func(p string, v reflect.Value) {
		if p == path {
			out = v
		}
	})
	if !out.IsValid() {
		t.Fatalf("no %s", path)
	}
	return out
}

// TestNotANumberAnywhere: each figure of the observations in turn.
func TestNotANumberAnywhere(t *testing.T) {
	full := func() procedure.Observations {
		o := handHome()
		a := &o.ApplObs[0]
		a.SpillNatural = &procedure.SpillObs{Outcome: procedure.SpillStopped, Seconds: 20, Cold: procedure.Yes}
		d := pa(91, "draft/a/natural", procedure.Setup{}, -3.4, -3.4)
		a.DraftNatural, a.BreechPa = &d, fp(-3)
		a.CONatural = &procedure.GasObs{CO: []float64{5, 6}, O2: []*float64{fp(7), fp(7)}}
		o.ZoneObs[0].Pairs = &procedure.PairsObs{Setup: worstSetup, Off: []float64{-0.9, -0.9, -0.9}, On: []float64{-2, -2, -2}}
		return o
	}
	if d := evaluation.Judge(full(), handRules()).Decision; d != procedure.Proceed {
		t.Fatalf("before: %s", d)
	}
	n := 0
	each(reflect.ValueOf(ptrTo(full())).Elem(), "", func(path string, v reflect.Value) {
		if v.Kind() != reflect.Float64 || contains(path, ".Plan.") {
			return
		}
		n++
		for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			o := full()
			at(t, &o, path).SetFloat(bad)
			if d := evaluation.Judge(o, handRules()).Decision; d == procedure.Proceed || d == procedure.Refer {
				t.Errorf("%s %v: %s", path, bad, d)
			}
		}
	})
	if n < 40 {
		t.Errorf("only %d figures were tried", n)
	}
}

// TestHandWorse: one measurement made worse is never milder, over readings
// scattered about the limits, several cells and pairs.
func TestHandWorse(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		o, r := handHome(), handRules()
		if rapid.Bool().Draw(rt, "air-free") {
			r = airFreeRules()
		}
		few := func(name string, lo, hi float64) []float64 {
			v := rapid.SliceOfN(rapid.Float64Range(-0.6, 0.6), 1, 5).Draw(rt, name+" scatter")
			m := rapid.Float64Range(lo, hi).Draw(rt, name)
			for i := range v {
				v[i] += m
			}
			return v
		}
		z, a := &o.ZoneObs[0], &o.ApplObs[0]
		for i := range z.Readings {
			z.Readings[i].Values = few("reading", -7, -1)
		}
		w := z.Readings[1]
		z.Worst = &w
		if rapid.Bool().Draw(rt, "pairs") {
			on := few("on", -7, -1)
			off := make([]float64, len(on))
			for i := range off {
				off[i] = -0.9
			}
			z.Pairs = &procedure.PairsObs{N: 70, Setup: worstSetup, Off: off, On: on}
		}
		a.Draft.Values = few("draft", -4, 0)
		a.Spill.Seconds = rapid.Float64Range(0, 400).Draw(rt, "seconds")
		a.Spill.Cold = rapid.SampledFrom([]procedure.Tri{procedure.Yes, procedure.No, procedure.Unknown}).Draw(rt, "cold")
		ppm := rapid.SampledFrom([]float64{0, 25, 25.5, 99, 101, 280, 400, 401})
		a.CO.CO = rapid.SliceOfN(ppm, 1, 3).Draw(rt, "CO")
		a.CO.O2 = nil
		for range a.CO.CO {
			a.CO.O2 = append(a.CO.O2, rapid.SampledFrom([]*float64{fp(5), fp(12), fp(17), nil}).Draw(rt, "O2"))
		}
		if rapid.Bool().Draw(rt, "natural") {
			a.SpillNatural = &procedure.SpillObs{Outcome: procedure.SpillStopped, Seconds: rapid.Float64Range(0, 400).Draw(rt, "natural seconds"), Cold: procedure.Yes}
			d := pa(91, "draft/a/natural", procedure.Setup{}, few("natural draft", -4, 0)...)
			a.DraftNatural = &d
		}
		o.Ambient = append(o.Ambient, procedure.AmbientObs{N: 9, Value: rapid.SampledFrom([]float64{0, 8, 9, 29, 30, 35, 36, 69}).Draw(rt, "ambient")})
		before := evaluation.Judge(o, r)
		by := rapid.Float64Range(0.01, 4).Draw(rt, "by")
		lower := func(v []float64, d float64) {
			for i := range v {
				v[i] += d
			}
		}
		ops := map[string]func(){
			"reading": func() { lower(z.Readings[0].Values, -by) },
			"worst":   func() { lower(z.Worst.Values, -by) },
			"pairs": func() {
				if z.Pairs != nil {
					lower(z.Pairs.On, -by)
				}
			},
			"draft":        func() { lower(a.Draft.Values, by) },
			"seconds":      func() { a.Spill.Seconds += 60 * by },
			"still":        func() { a.Spill.Outcome = procedure.SpillStill },
			"CO":           func() { a.CO.CO[len(a.CO.CO)-1] += 100 * by },
			"another cell": func() { a.CO.CO, a.CO.O2 = append(a.CO.CO, 500), append(a.CO.O2, fp(5)) },
			"over":         func() { a.CO.OverRange = true },
			"natural": func() {
				if a.SpillNatural != nil {
					a.SpillNatural.Outcome = procedure.SpillStill
				}
			},
			"natural draft": func() {
				if a.DraftNatural != nil {
					lower(a.DraftNatural.Values, by)
				}
			},
			"ambient": func() { o.Ambient[1].Value += 10 * by },
			"fan":     func() { h := worstSetup.Clone(); h.NotRun, h.Fans = h.Fans[:1], h.Fans[1:]; z.Held = &h },
			"flame": func() {
				o.Hazards = append(o.Hazards, procedure.HazardObs{N: 66, Hazard: procedure.Hazard{Code: procedure.FlameChange, Subject: "a"}})
				a.NotFired = "flame-change"
			},
			"leak": func() {
				o.Hazards = append(o.Hazards, procedure.HazardObs{N: 66, Hazard: procedure.Hazard{Code: procedure.Leak}})
			},
		}
		names := []string{"reading", "worst", "pairs", "draft", "seconds", "still", "CO", "another cell", "over", "natural", "natural draft", "ambient", "fan", "flame", "leak"}
		op := rapid.SampledFrom(names).Draw(rt, "op")
		ops[op]()
		after := evaluation.Judge(o, r)
		if after.Decision.Milder(before.Decision) {
			rt.Fatalf("%s: %s became %s", op, before.Decision, after.Decision)
		}
		if b, c := status(before, "a"), status(after, "a"); severity(c) < severity(b) {
			rt.Fatalf("%s: %q became %q", op, b, c)
		}
	})
}

// TestJudgeIsDeterministic and leaves what it was given alone.
func TestJudgeIsDeterministic(t *testing.T) {
	o, r := handHome(), handRules()
	o.ApplObs[0].Spill.Outcome = procedure.SpillStill
	first := evaluation.Judge(o, r)
	for i := 0; i < 20; i++ {
		if !reflect.DeepEqual(first, evaluation.Judge(o, r)) {
			t.Fatal("the same home was judged otherwise")
		}
	}
	want := handHome()
	want.ApplObs[0].Spill.Outcome = procedure.SpillStill
	if !reflect.DeepEqual(o, want) || !reflect.DeepEqual(r, handRules()) {
		t.Error("Judge changed what it was given")
	}
}

func BenchmarkJudgeByHand(b *testing.B) {
	o, r := handHome(), handRules()
	b.ReportAllocs()
	for b.Loop() {
		evaluation.Judge(o, r)
	}
}
