package limits

import (
	"math"
	"testing"

	"cazward/procedure"
)

func graded(t *testing.T) (*Set, procedure.Rules) {
	t.Helper()
	s, err := Load(Options{Scheme: "graded-2005"})
	if err != nil {
		t.Fatal(err)
	}
	return s, s.Rules()
}

// published logs one check of a published figure and fails when it differs.
func published(t *testing.T, figure string, got, want float64, source, evidence string) {
	t.Helper()
	t.Logf("published: figure=%q got=%v want=%v source=%q evidence=%s", figure, got, want, source, evidence)
	if math.Abs(got-want) > 1e-9 || math.IsNaN(got) {
		t.Errorf("%s: got %v, want %v", figure, got, want)
	}
}

const tech = "Technical Standards for the Building Analyst Professional, v2/28/05, CAZ depressurization limits, p. 14"

// TestPublishedDepressurization: want values by hand from the published table
// as recalled, and from the restatement that was read.
func TestPublishedDepressurization(t *testing.T) {
	_, r := graded(t)
	wh := procedure.Traits{Kind: procedure.WaterHeater, Fuel: procedure.NaturalGas, Vent: procedure.NaturalVent, Common: procedure.No, FanPartner: procedure.No, Damper: procedure.No, Orphaned: procedure.Yes, Outside: procedure.Yes, HighStatic: procedure.No, TopInducer: procedure.No}
	fu := wh
	fu.Kind, fu.Orphaned = procedure.Furnace, procedure.No
	with := func(x procedure.Traits, f func(*procedure.Traits)) procedure.Traits { f(&x); return x }
	common := func(x procedure.Traits, k procedure.ApplianceKind) procedure.Traits {
		x.Common, x.Partners = procedure.Yes, []procedure.ApplianceKind{k}
		return x
	}
	cases := []struct {
		name string
		t    procedure.Traits
		want float64
		src  string
		ev   procedure.Evidence
	}{
		{"orphaned natural-draft water heater, outside chimney", wh, -2, tech, "memory"},
		{"individual natural-draft water heater, not orphaned", with(wh, func(x *procedure.Traits) { x.Orphaned = procedure.No }), -2, tech, "memory"},
		{"natural-draft furnace with water heater", common(fu, procedure.WaterHeater), -3, tech, "memory"},
		{"that water heater", common(wh, procedure.Furnace), -3, tech, "memory"},
		{"natural-draft boiler with water heater", with(common(fu, procedure.WaterHeater), func(x *procedure.Traits) { x.Kind = procedure.Boiler }), -3, tech, "memory"},
		{"as above with vent damper", with(common(fu, procedure.WaterHeater), func(x *procedure.Traits) { x.Damper = procedure.Yes }), -5, tech, "memory"},
		{"individual natural-draft furnace", fu, -5, tech, "memory"},
		{"individual natural-draft boiler", with(fu, func(x *procedure.Traits) { x.Kind = procedure.Boiler }), -5, tech, "memory"},
		{"fan-assisted furnace with water heater", with(common(fu, procedure.WaterHeater), func(x *procedure.Traits) { x.Vent, x.FanPartner = procedure.FanAssisted, procedure.Yes }), -5, tech, "memory"},
		{"fan-assisted furnace alone", with(fu, func(x *procedure.Traits) { x.Vent, x.FanPartner = procedure.FanAssisted, procedure.Yes }), -15, tech, "memory"},
		{"fan-assisted water heater alone", with(wh, func(x *procedure.Traits) { x.Vent, x.FanPartner = procedure.FanAssisted, procedure.Yes }), -15, tech, "memory"},
		{"direct-vent furnace", with(fu, func(x *procedure.Traits) { x.Vent = procedure.DirectVent }), -50, tech, "memory"},
		{"high-static oil burner", with(fu, func(x *procedure.Traits) { x.Fuel, x.HighStatic = procedure.Oil, procedure.Yes }), -50, tech, "memory"},
		{"chimney-top inducer", with(fu, func(x *procedure.Traits) { x.TopInducer = procedure.Yes }), -50, tech, "memory"},
		{"power-vented water heater", with(wh, func(x *procedure.Traits) { x.Vent = procedure.PowerVented }), -15, "2015 IECC Appendix RA", "memory"},
		{"decorative gas log", with(fu, func(x *procedure.Traits) { x.Kind = procedure.GasLog }), -5, "2015 IECC Appendix RA", "memory"},
		{"one-pipe category IV furnace takes room air", with(fu, func(x *procedure.Traits) { x.Vent = procedure.OnePipe }), -15, "own rule", "own-rule"},
	}
	for _, c := range cases {
		got := procedure.Match(r.Pressure, c.t)
		if !got.Found {
			t.Errorf("%s: no row", c.name)
			continue
		}
		published(t, c.name+", Pa", got.Limit.Bound.Value, c.want, c.src, string(c.ev))
		if got.Limit.Evidence != c.ev {
			t.Errorf("%s: evidence %s, want %s", c.name, got.Limit.Evidence, c.ev)
		}
	}
	// Facts that are not known: the strictest row that could apply.
	unknown := with(wh, func(x *procedure.Traits) {
		x.Common, x.FanPartner, x.Damper = procedure.Unknown, procedure.Unknown, procedure.Unknown
	})
	if c := procedure.Match(r.Pressure, unknown); c.Limit.Bound.Value != -2 {
		t.Errorf("water heater, common venting unknown: %v, want -2", c.Limit.Bound.Value)
	}
	novent := with(fu, func(x *procedure.Traits) {
		x.Vent, x.Common, x.FanPartner = procedure.VentUnknown, procedure.Unknown, procedure.Unknown
	})
	if c := procedure.Match(r.Pressure, novent); c.Limit.Bound.Value != -3 || len(c.Unsure) == 0 {
		t.Errorf("furnace, vent unknown: %v, unsure %v; want -3 with the facts named", c.Limit.Bound.Value, c.Unsure)
	}
	for _, k := range []procedure.ApplianceKind{procedure.Fireplace, procedure.WoodStove, procedure.PelletStove} {
		if c := procedure.Match(r.Pressure, procedure.Traits{Kind: k, Fuel: procedure.Wood, Vent: procedure.NaturalVent, Common: procedure.No}); c.Found {
			t.Errorf("%s has row %s; the scheme has no figure for solid fuel", k, c.Limit.ID)
		}
	}
}

// TestPublishedDraft: (outdoor F / 40) - 2.75 between 10 and 90 F.
func TestPublishedDraft(t *testing.T) {
	_, r := graded(t)
	want := map[float64]float64{-20: -2.5, 9: -2.5, 10: -2.5, 20: -2.25, 30: -2, 40: -1.75, 50: -1.5, 60: -1.25, 70: -1, 80: -0.75, 90: -0.5, 91: -0.5, 110: -0.5}
	for f, pa := range want {
		got, ok := procedure.DraftLimit(r.Draft.Line, f)
		if !ok {
			t.Errorf("%v F: no draft limit", f)
		}
		published(t, "minimum draft, Pa", got, pa, "2005 technical standard, acceptable draft test table", "memory")
	}
	if _, ok := procedure.DraftLimit(r.Draft.Line, math.NaN()); ok {
		t.Error("a temperature that is no number has a draft limit")
	}
}

func TestPublishedSpillage(t *testing.T) {
	s, r := graded(t)
	for _, cold := range []procedure.Tri{procedure.Yes, procedure.No, procedure.Unknown} {
		c := procedure.Match(r.Spillage, procedure.Traits{Kind: procedure.Furnace, Vent: procedure.NaturalVent, Cold: cold})
		published(t, "spillage time, s", c.Limit.Bound.Value, 60, "one-page sheet, step 3: spillage ends within 1 minute", "seen")
	}
	p := s.Plan(procedure.TestIn)
	published(t, "CO after, min", p.CO.AfterMin, 10, "one-page sheet, step 3: at the 10 minute mark", "seen")
	published(t, "wind ceiling, mph", p.Baseline.MaxWind, 9, "Canadian form r12/19: less than 15 km/h (9 mph)", "seen")
	published(t, "fluctuation, Pa", p.Baseline.MaxSpread, 1, "Canadian test form: 1 Pa or less", "seen")
	published(t, "gauge accuracy, Pa", r.Uncertainty.AccuracyPa, 0.25, "USACE protocol: 1 percent of reading or 0.25 Pa", "seen")
	published(t, "gauge accuracy, %", r.Uncertainty.AccuracyPct, 1, "USACE protocol: 1 percent of reading or 0.25 Pa", "seen")
}

// TestPublishedAmbient: the most protective published act at each value.
func TestPublishedAmbient(t *testing.T) {
	s, _ := graded(t)
	tiers := s.Plan(procedure.TestIn).Interrupts
	want := []struct {
		ppm float64
		act procedure.Act
	}{{0, procedure.ActNone}, {8, procedure.ActNone}, {9, procedure.ActSource}, {29, procedure.ActSource}, {30, procedure.ActHold}, {35, procedure.ActHold}, {36, procedure.ActLeave}, {35.5, procedure.ActLeave}, {69, procedure.ActLeave}, {70, procedure.ActOut}, {500, procedure.ActOut}}
	for _, w := range want {
		got, _ := procedure.TierAt(tiers, procedure.AmbientCO, w.ppm, false)
		t.Logf("published: figure=%q got=%s want=%s source=%q evidence=%s", "ambient CO "+trimmed(w.ppm)+" ppm", got.Act, w.act, got.Source, got.Evidence)
		if got.Act != w.act {
			t.Errorf("%v ppm: %q, want %q", w.ppm, got.Act, w.act)
		}
	}
	if got, _ := procedure.TierAt(tiers, procedure.AmbientCO, 0, true); got.Act != procedure.ActOut {
		t.Errorf("over range: %q, want out", got.Act)
	}
	if got, _ := procedure.TierAt(tiers, procedure.AmbientCO, math.NaN(), false); got.Act != procedure.ActOut {
		t.Errorf("not a number: %q, want out", got.Act)
	}
	for lel, act := range map[float64]procedure.Act{9: procedure.ActNone, 10: procedure.ActOut, 20: procedure.ActOut} {
		if got, _ := procedure.TierAt(tiers, procedure.LEL, lel, false); got.Act != act {
			t.Errorf("%v %% LEL: %q, want %q", lel, got.Act, act)
		}
	}
}

func trimmed(v float64) string {
	if v == math.Trunc(v) {
		return string(rune('0'+int(v)/100%10)) + string(rune('0'+int(v)/10%10)) + string(rune('0'+int(v)%10))
	}
	return "between"
}

// TestPublishedMatrix: the action matrix as recalled, with the own rules that
// fill its gap.
func TestPublishedMatrix(t *testing.T) {
	_, r := graded(t)
	P, W, N := procedure.OutcomePass, procedure.OutcomeWorst, procedure.OutcomeNatural
	for _, c := range []struct {
		co           float64
		over         bool
		spill, draft procedure.Outcome
		want         procedure.Decision
		status       procedure.Status
	}{
		{0, false, P, P, procedure.Proceed, procedure.MayRun}, {25, false, P, P, procedure.Proceed, procedure.MayRun},
		{25.1, false, P, P, procedure.Refer, procedure.MayRun}, {26, false, P, P, procedure.Refer, procedure.MayRun}, {100, false, P, P, procedure.Refer, procedure.MayRun},
		{10, false, W, P, procedure.Hold, procedure.MayRunNoFans}, {60, false, W, P, procedure.Hold, procedure.MayRunNoFans},
		{10, false, P, W, procedure.Refer, procedure.MayRunNoFans}, {60, false, P, W, procedure.Refer, procedure.MayRunNoFans},
		{100.1, false, P, P, procedure.Hold, procedure.OffUntilServiced}, {101, false, P, P, procedure.Hold, procedure.OffUntilServiced}, {400, false, P, P, procedure.Hold, procedure.OffUntilServiced},
		{10, false, N, P, procedure.Hold, procedure.OffUntilServiced}, {10, false, P, N, procedure.Hold, procedure.OffUntilServiced},
		{400.1, false, P, P, procedure.Hold, procedure.OffUntilServiced}, {401, false, W, P, procedure.Leave, procedure.FuelOff}, {401, false, P, W, procedure.Leave, procedure.FuelOff}, {401, false, N, N, procedure.Leave, procedure.FuelOff},
		{0, true, P, P, procedure.Hold, procedure.OffUntilServiced}, {0, true, W, P, procedure.Leave, procedure.FuelOff},
	} {
		d, st := procedure.NoDecision, procedure.StatusNone
		for _, m := range r.Matrix {
			if m.Fits(c.co, c.over, c.spill, c.draft) {
				d, st = procedure.MoreProtective(d, m.Decision), procedure.MoreProtectiveStatus(st, m.Status)
			}
		}
		t.Logf("published: figure=%q got=%s/%s want=%s/%s source=%q evidence=memory", "action matrix", d, st, c.want, c.status, "2005 technical standard, action levels, and own rules")
		if d != c.want || st != c.status {
			t.Errorf("CO %v over=%v spillage %s draft %s: %s %s, want %s %s", c.co, c.over, c.spill, c.draft, d, st, c.want, c.status)
		}
	}
}

// TestThreeOnOneVent: a fan-assisted partner does not soften the published row
// of a natural-draft furnace that shares its vent with a water heater.
func TestThreeOnOneVent(t *testing.T) {
	_, r := graded(t)
	on := func(id string, k procedure.ApplianceKind, v procedure.VentType, p ...string) procedure.Appliance {
		return procedure.Appliance{ID: id, Kind: k, Burner: procedure.Burner{Fuel: procedure.NaturalGas}, Vent: procedure.Vent{Type: v}, Partners: p,
			Facts: procedure.VentFacts{Shares: procedure.Yes, Orphaned: procedure.No, VentDamper: procedure.No, TopInducer: procedure.No, HighStatic: procedure.No}}
	}
	for _, home := range [][]procedure.Appliance{
		{on("f", procedure.Furnace, procedure.NaturalVent, "w", "b"), on("w", procedure.WaterHeater, procedure.NaturalVent, "f", "b"), on("b", procedure.Boiler, procedure.FanAssisted, "f", "w")},
		{on("f", procedure.Furnace, procedure.NaturalVent, "w"), on("w", procedure.WaterHeater, procedure.FanAssisted, "f")},
	} {
		if c := procedure.Match(r.Pressure, procedure.TraitsOf(home[0], home)); c.Limit.Bound.Value != -3 {
			t.Errorf("natural-draft furnace: %v by %s, want -3", c.Limit.Bound.Value, c.Limit.ID)
		}
	}
}
