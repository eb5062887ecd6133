package procedure_test

import (
	"math"
	"testing"

	"cazward/procedure"
)

// TestDecisionOrder: the order of protection, its exit codes and words.
func TestDecisionOrder(t *testing.T) {
	order := []struct {
		d    procedure.Decision
		exit int
		word string
	}{{procedure.Leave, 5, "DANGER"}, {procedure.Hold, 4, "WARNING"}, {procedure.Incomplete, 6, "WARNING"}, {procedure.Refer, 3, "CAUTION"}, {procedure.Proceed, 0, "NOTICE"}}
	for i, a := range order {
		if a.d.ExitCode() != a.exit || a.d.SignalWord() != a.word {
			t.Errorf("%s: exit %d %s, want %d %s", a.d, a.d.ExitCode(), a.d.SignalWord(), a.exit, a.word)
		}
		for k, b := range order {
			want := a.d
			if k < i {
				want = b.d
			}
			if got := procedure.MoreProtective(a.d, b.d); got != want {
				t.Errorf("%s or %s: %s, want %s", a.d, b.d, got, want)
			}
			if a.d.Milder(b.d) != (i > k) {
				t.Errorf("%s milder than %s: %v", a.d, b.d, a.d.Milder(b.d))
			}
		}
		if procedure.MoreProtective(procedure.NoDecision, a.d) != a.d {
			t.Errorf("no decision outranks %s", a.d)
		}
		if a.d != procedure.Leave && procedure.MoreProtective("something new", a.d) == a.d {
			t.Errorf("a decision that is not known is milder than %s", a.d)
		}
	}
	if procedure.NoDecision.ExitCode() == 0 || procedure.Decision("new").ExitCode() == 0 {
		t.Error("no decision exits 0")
	}
	if procedure.NotEvaluated.String() != "not-evaluated" {
		t.Error("the zero verdict is not not-evaluated")
	}
	if procedure.MoreProtectiveStatus(procedure.MayRun, procedure.FuelOff) != procedure.FuelOff || procedure.MoreProtectiveStatus(procedure.OffUntilServiced, procedure.MayRunNoFans) != procedure.OffUntilServiced {
		t.Error("status order")
	}
}

// TestBoundSide: guard band at, inside and beyond the bound.
func TestBoundSide(t *testing.T) {
	low := procedure.Bound{Value: -5, Sense: procedure.AtLeast}
	high := procedure.Bound{Value: 60, Sense: procedure.AtMost}
	for _, c := range []struct {
		b    procedure.Bound
		v, u float64
		want procedure.Side
	}{
		{low, -5.0001, 0, procedure.SideBeyond}, {low, -5.0001, 1, procedure.SideBeyond},
		{low, -5, 0, procedure.SideInside}, {low, -5, 0.1, procedure.SideTooClose},
		{low, -4.5, 0.5, procedure.SideTooClose}, {low, -4.4999, 0.5, procedure.SideInside}, {low, 3, 0.5, procedure.SideInside},
		{high, 60, 0, procedure.SideInside}, {high, 60.5, 0, procedure.SideBeyond}, {high, 59, 1, procedure.SideTooClose}, {high, 58.9, 1, procedure.SideInside},
		{low, math.NaN(), 0, procedure.SideUnknown}, {low, math.Inf(-1), 0, procedure.SideUnknown}, {low, -1, math.NaN(), procedure.SideUnknown}, {low, -1, -1, procedure.SideUnknown},
		{procedure.Bound{Value: 1}, 0, 0, procedure.SideUnknown}, // a bound without a sense
	} {
		if got := c.b.Side(c.v, c.u); got != c.want {
			t.Errorf("%v against %v within %v: side %d, want %d", c.v, c.b, c.u, got, c.want)
		}
	}
}

// TestNetUByHand: u^2 = s_r^2/N_r + s_b^2/N_b + 2 a^2/3 + d^2/3, worked out by
// hand.
func TestNetUByHand(t *testing.T) {
	c := procedure.Uncertainties{AccuracyPa: 0.25, AccuracyPct: 1, DefaultS: 0.2, Resolution: 0.1, MinPairs: 3, Coverage: 2}
	r := procedure.PressureObs{Values: []float64{-3.5, -3.6, -3.5, -3.4, -3.6}} // mean -3.52, s^2 = 0.007
	b := procedure.PressureObs{Values: []float64{-0.8, -1.1, -0.9, -1.0, -0.9}} // mean -0.94, s^2 = 0.013
	// 0.007/5 + 0.013/5 + 2*0.0625/3 + 0.01^2/3 = 0.0457; root 0.213775; twice 0.42755
	if u := procedure.NetU(r, b, 0.01, nil, c); math.Abs(u-0.42755) > 1e-4 {
		t.Errorf("U %v, want 0.42755", u)
	}
	one := procedure.PressureObs{Values: []float64{-1}}
	// both single: 2*0.04 + 0.0416667 = 0.1216667; root 0.348807; twice 0.697615
	if u := procedure.NetU(one, one, 0, nil, c); math.Abs(u-0.697615) > 1e-5 {
		t.Errorf("single values: U %v, want 0.697615", u)
	}
	// One averaged value takes the other state's scatter with N = 1: 0.013 + 0.013/5 + 0.0416667
	if u := procedure.NetU(one, b, 0, nil, c); math.Abs(u-2*math.Sqrt(0.013+0.0026+0.125/3)) > 1e-9 {
		t.Errorf("one value and several: U %v", u)
	}
	// No scatter is never below the resolution: (0.1/sqrt 12)^2/5 each.
	flat := procedure.PressureObs{Values: []float64{-2, -2, -2, -2, -2}}
	if u := procedure.NetU(flat, flat, 0, nil, c); math.Abs(u-2*math.Sqrt(2*0.01/12/5+0.125/3)) > 1e-9 {
		t.Errorf("flat: U %v", u)
	}
	// A gauge's own accuracy, and the percentage of a large reading.
	g := &procedure.Instrument{AccuracyPa: 0.1}
	if u := procedure.NetU(flat, flat, 0, g, c); math.Abs(u-2*math.Sqrt(2*0.01/12/5+0.02/3)) > 1e-9 {
		t.Errorf("better gauge: U %v", u)
	}
	big := procedure.PressureObs{Values: []float64{-50, -50, -50, -50, -50}}
	if u := procedure.NetU(big, flat, 0, nil, c); math.Abs(u-2*math.Sqrt(2*0.01/12/5+0.5/3)) > 1e-9 {
		t.Errorf("1 %% of 50 Pa: U %v", u)
	}
	// A log window brings its own standard error.
	log := procedure.PressureObs{Values: []float64{-2}, SE: 0.15, EffectiveN: 20}
	if u := procedure.NetU(log, flat, 0, nil, c); math.Abs(u-2*math.Sqrt(0.0225+0.01/12/5+0.125/3)) > 1e-9 {
		t.Errorf("log window: U %v", u)
	}
	if u := procedure.DraftU(r, nil, c); math.Abs(u-2*math.Sqrt(0.007/5+0.0625/3)) > 1e-9 {
		t.Errorf("draft: U %v", u)
	}
}

// TestPairsByHand: differences -2.0 -2.2 -2.1: mean -2.1, s 0.1.
func TestPairsByHand(t *testing.T) {
	c := procedure.Uncertainties{AccuracyPa: 0.25, AccuracyPct: 1, DefaultS: 0.2, Resolution: 0.1, MinPairs: 3, Coverage: 2}
	p := procedure.PairsObs{Off: []float64{-0.9, -1, -0.8}, On: []float64{-2.9, -3.2, -2.9}}
	net, u, ok := procedure.PairsNet(p, nil, c)
	want := 2 * math.Sqrt(0.01/3+0.021*0.021/3+0.01/6)
	if !ok || math.Abs(net+2.1) > 1e-9 || math.Abs(u-want) > 1e-9 {
		t.Errorf("net %v U %v %v, want -2.1 %v", net, u, ok, want)
	}
	if net, u, ok := procedure.PairsNet(procedure.PairsObs{Off: p.Off[:2], On: p.On[:2]}, nil, c); ok || net != 0 || u != 0 {
		t.Error("two pairs settle")
	}
	if _, _, ok := procedure.PairsNet(procedure.PairsObs{Off: p.Off, On: p.On[:2]}, nil, c); ok {
		t.Error("unequal pairs settle")
	}
}

// TestTraits: a common vent named on one side, and dampers of the heating
// appliance alone.
func TestTraits(t *testing.T) {
	f := procedure.Appliance{ID: "f", Kind: procedure.Furnace, Vent: procedure.Vent{Type: procedure.NaturalVent}, Facts: procedure.VentFacts{Shares: procedure.Yes, VentDamper: procedure.Yes}, Partners: []string{"w"}}
	w := procedure.Appliance{ID: "w", Kind: procedure.WaterHeater, Vent: procedure.Vent{Type: procedure.NaturalVent}, Facts: procedure.VentFacts{Shares: procedure.Yes}, Partners: []string{"f"}}
	tw := procedure.TraitsOf(w, []procedure.Appliance{f, w})
	if tw.Common != procedure.Yes || tw.Damper != procedure.Yes || tw.FanPartner != procedure.No || len(tw.Partners) != 1 {
		t.Errorf("water heater beside a furnace with damper: %+v", tw)
	}
	w.Partners = nil
	if tw = procedure.TraitsOf(w, []procedure.Appliance{f, w}); tw.Damper != procedure.Unknown || tw.FanPartner != procedure.Unknown {
		t.Errorf("shared, partner not named: %+v", tw)
	}
}

// TestCoverage: U is k times u with the k of the table, and twice where the
// table says none.
func TestCoverage(t *testing.T) {
	r := procedure.PressureObs{Values: []float64{-3.5, -3.6, -3.5, -3.4, -3.6}}
	u := func(k float64) float64 {
		return procedure.DraftU(r, nil, procedure.Uncertainties{AccuracyPa: 0.25, AccuracyPct: 1, DefaultS: 0.2, Resolution: 0.1, Coverage: k})
	}
	one := math.Sqrt(0.007/5 + 0.0625/3)
	for k, want := range map[float64]float64{0: 2, 0.5: 0.5, 1: 1, 2: 2, 3: 3} {
		if got := u(k); math.Abs(got-want*one) > 1e-9 {
			t.Errorf("k %v: U %v, want %v", k, got, want*one)
		}
	}
}

// TestUnknownAct: an act of a later version is as protective as out, and takes
// its place no more than out takes the place of it.
func TestUnknownAct(t *testing.T) {
	out, later := procedure.Tier{Row: "a", Code: procedure.LEL, From: 10, Act: procedure.ActOut}, procedure.Tier{Row: "b", Code: procedure.LEL, From: 10, Act: "later"}
	leave, hold := procedure.Tier{Row: "c", Code: procedure.LEL, From: 10, Act: procedure.ActLeave}, procedure.Tier{Row: "d", Code: procedure.LEL, From: 10, Act: procedure.ActHold}
	source, none := procedure.Tier{Row: "e", Code: procedure.LEL, From: 10, Act: procedure.ActSource}, procedure.Tier{Row: "f", Code: procedure.LEL, From: 10}
	for _, c := range []struct {
		tiers []procedure.Tier
		want  string
	}{
		{[]procedure.Tier{out, later}, "a"}, {[]procedure.Tier{later, out}, "b"}, {[]procedure.Tier{leave, later}, "b"}, {[]procedure.Tier{later, leave}, "b"}, {[]procedure.Tier{leave, out}, "a"},
		{[]procedure.Tier{hold, leave}, "c"}, {[]procedure.Tier{source, hold}, "d"}, {[]procedure.Tier{none, source}, "e"},
	} {
		if got, ok := procedure.TierAt(c.tiers, procedure.LEL, 10, false); !ok || got.Row != c.want {
			t.Errorf("%+v: %+v", c.tiers, got)
		}
	}
}

// TestVenting: every vent, category and draft hood: what plate and hood
// contradict is not known, anything else is what it is said to be; and which of
// them house pressure can make spill.
func TestVenting(t *testing.T) {
	for _, v := range append([]procedure.VentType{procedure.VentUnknown}, procedure.VentTypes...) {
		for _, c := range []procedure.Category{"", procedure.CategoryI, procedure.CategoryII, procedure.CategoryIII, procedure.CategoryIV} {
			for _, hood := range []procedure.Tri{procedure.Unknown, procedure.Yes, procedure.No} {
				a := procedure.Appliance{Kind: procedure.WaterHeater, Burner: procedure.Burner{Fuel: procedure.NaturalGas}, Vent: procedure.Vent{Type: v, Category: c}, Facts: procedure.VentFacts{DraftHood: hood}}
				want := v
				if v == procedure.FanAssisted && hood == procedure.Yes || v == procedure.PowerVented && (c == procedure.CategoryI || c == procedure.CategoryII) {
					want = procedure.VentUnknown
				}
				if got := a.Venting(); got != want {
					t.Errorf("%q, category %q, hood %q: %q, want %q", v, c, hood, got, want)
				}
				pull := procedure.Unknown
				switch {
				case want == procedure.NaturalVent, want == procedure.FanAssisted && c != procedure.CategoryIII && c != procedure.CategoryIV:
					pull = procedure.Yes
				case want != procedure.VentUnknown:
					pull = procedure.No
				}
				if got := a.Susceptible(); got != pull {
					t.Errorf("%q, category %q, hood %q: house pressure %q, want %q", v, c, hood, got, pull)
				}
				a.Facts.InsideBoundary = procedure.No
				if got := a.Susceptible(); got != procedure.No {
					t.Errorf("%q outside the boundary: %q", v, got)
				}
			}
		}
	}
	for _, k := range procedure.ApplianceKinds {
		solid := k == procedure.Fireplace || k == procedure.WoodStove || k == procedure.PelletStove
		if k.SolidFuel() != solid || k.Cooking() != (k == procedure.Range || k == procedure.Oven) || k.Burns() != (k != procedure.IndirectTank) {
			t.Errorf("%s: solid fuel %v, cooking %v, burns %v", k, k.SolidFuel(), k.Cooking(), k.Burns())
		}
		gas := procedure.Appliance{Kind: k, Burner: procedure.Burner{Fuel: procedure.NaturalGas}}
		if want := !solid && k != procedure.IndirectTank && k != procedure.GasDryer; gas.Fired() != want {
			t.Errorf("%s of gas is lit: %v", k, gas.Fired())
		}
		if gas.Burner.Fuel = procedure.Electricity; gas.Fired() || gas.Susceptible() != procedure.No {
			t.Errorf("an electric %s is lit, or spills", k)
		}
	}
}

// TestLookLines: what is looked at, by kind: what has no vent has no vent to be
// looked at.
func TestLookLines(t *testing.T) {
	has := func(list []string, x string) bool {
		for _, y := range list {
			if x == y {
				return true
			}
		}
		return false
	}
	for _, k := range procedure.ApplianceKinds {
		lines := procedure.LookLines(procedure.Appliance{Kind: k, Burner: procedure.Burner{Fuel: procedure.NaturalGas}})
		noVent := k == procedure.Range || k == procedure.Oven || k == procedure.GasDryer || k == procedure.UnventedHeater || k.SolidFuel() || k == procedure.IndirectTank
		if has(lines, "vent-connected") == noVent || has(lines, "rust") == noVent || has(lines, "combustion-air") == noVent {
			t.Errorf("%s: %v", k, lines)
		}
		if k != procedure.IndirectTank && (!has(lines, "soot") || !has(lines, "clearances")) {
			t.Errorf("%s: %v", k, lines)
		}
		if fuel := !k.SolidFuel() && k != procedure.IndirectTank; has(lines, "fuel") != fuel || has(lines, "connector") != fuel {
			t.Errorf("%s: %v", k, lines)
		}
	}
}

// TestStatusOrder: of two statuses the more protective one, whichever stands
// first; one that is not known is the most protective.
func TestStatusOrder(t *testing.T) {
	order := []procedure.Status{procedure.StatusNone, procedure.MayRun, procedure.MayRunNoFans, procedure.OffUntilServiced, procedure.FuelOff}
	for i, a := range order {
		for k, b := range order {
			if want := order[max(i, k)]; procedure.MoreProtectiveStatus(a, b) != want {
				t.Errorf("%q or %q: %q, want %q", a, b, procedure.MoreProtectiveStatus(a, b), want)
			}
		}
		if a != procedure.FuelOff && procedure.MoreProtectiveStatus(a, "later") != "later" {
			t.Errorf("a status that is not known is milder than %q", a)
		}
	}
}

// TestNewData: each kind of event has data of its own kind.
func TestNewData(t *testing.T) {
	for _, k := range []procedure.Kind{procedure.KindPlan, procedure.KindAnswer, procedure.KindSetup, procedure.KindSkip, procedure.KindNote, procedure.KindHandover, procedure.KindTimer, procedure.KindHazard, procedure.KindAttach, procedure.KindLog,
		procedure.KindDoubt, procedure.KindTold, procedure.KindCorrect, procedure.KindHouse, procedure.KindDecided, procedure.KindClose, procedure.KindReopen, procedure.KindSign} {
		if d := procedure.NewData(k); d == nil || d.EventKind() != k {
			t.Errorf("%s: %T", k, d)
		}
	}
	if d := procedure.NewData("later"); d != nil {
		t.Errorf("a kind that is not known has data: %T", d)
	}
}
