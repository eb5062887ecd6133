package forecast

import (
	"errors"
	"math"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/procedure/reading"
)

func published(t *testing.T, figure string, got, want, tol float64, source, evidence string) {
	t.Helper()
	t.Logf("published: figure=%q got=%.10g want=%.10g tolerance=%.3g source=%q evidence=%s", figure, got, want, tol, source, evidence)
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %g", figure, got, want, tol)
	}
}

const powerLaw = "Q = C dP^n, n 0.65 (form of ASTM E779 and CAN/CGSB-149.10, from memory)"

func pa(v float64) *reading.Pressure { p := reading.Pressure(v); return &p }

func must(t *testing.T, d Design) Forecast {
	t.Helper()
	f, err := New(d)
	if err != nil {
		t.Fatalf("%+v: %v", d, err)
	}
	return f
}

func flows(q reading.Flow) []Exhaust { return []Exhaust{{Flow: q}} }

func TestPublishedForecast(t *testing.T) {
	// Depressurization by an exhaust flow, from the formula.
	table := []struct {
		cfm50 reading.Flow
		pa    [7]float64
	}{
		{600, [7]float64{1.0932, 3.1755, 5.9255, 9.2244, 17.2126, 26.7954, 50.0000}},
		{800, [7]float64{0.7022, 2.0399, 3.8064, 5.9255, 11.0569, 17.2126, 32.1186}},
		{1000, [7]float64{0.4982, 1.4471, 2.7003, 4.2037, 7.8441, 12.2111, 22.7858}},
		{1200, [7]float64{0.3763, 1.0932, 2.0399, 3.1755, 5.9255, 9.2244, 17.2126}},
		{1500, [7]float64{0.2670, 0.7755, 1.4471, 2.2528, 4.2037, 6.5440, 12.2111}},
		{2000, [7]float64{0.1715, 0.4982, 0.9296, 1.4471, 2.7003, 4.2037, 7.8441}},
		{2500, [7]float64{0.1217, 0.3534, 0.6595, 1.0266, 1.9157, 2.9822, 5.5648}},
		{3000, [7]float64{0.0919, 0.2670, 0.4982, 0.7755, 1.4471, 2.2528, 4.2037}},
		{4000, [7]float64{0.0590, 0.1715, 0.3200, 0.4982, 0.9296, 1.4471, 2.7003}},
	}
	for _, row := range table {
		for i, q := range []reading.Flow{50, 100, 150, 200, 300, 400, 600} {
			f := must(t, Design{Before: row.cfm50, Exhaust: flows(q)})
			published(t, "net of "+q.String()+" cfm at "+row.cfm50.String()+" CFM50", float64(f.Today.Net), -row.pa[i], max(1e-3, 5e-4*row.pa[i]), powerLaw, "computed")
		}
	}
	for _, c := range []struct{ limit, floor float64 }{{-2, 1620.657}, {-3, 1245.179}, {-5, 893.367}, {-8, 658.191}, {-15, 437.423}} {
		f := must(t, Design{Before: 1500, Exhaust: flows(200), Limit: pa(c.limit)})
		published(t, "floor of 200 cfm at "+reading.Format(c.limit, 0)+" Pa", float64(*f.Floor), c.floor, 1e-3, powerLaw, "computed")
	}
	for _, c := range []struct{ n, pa float64 }{{.5, .88889}, {.55, 1.28218}, {.6, 1.73994}, {.65, 2.25280}, {.7, 2.81114}, {.75, 3.40582}, {1, 6.66667}} {
		f := must(t, Design{Before: 1500, Exhaust: flows(200), Exponent: Exponent(c.n)})
		published(t, "200 cfm at 1500 CFM50, exponent "+reading.Format(c.n, -1), float64(f.Today.Net), -c.pa, 1e-5, powerLaw, "computed")
	}
	f := must(t, Design{Before: 2400, After: 1500, Exhaust: flows(300)})
	published(t, "2400 CFM50, 300 cfm", float64(f.Today.Net), -2.03986, 1e-5, powerLaw, "computed")
	published(t, "sealed to 1500 CFM50", float64(f.After.Net), -4.20370, 1e-5, powerLaw, "computed")
	published(t, "ratio of the two", float64(f.After.Net/f.Today.Net), 2.0607758, 5e-8, powerLaw, "computed")
	// From the measured net the same sealing gives the same ratio, and the
	// exhaust that was never typed.
	f = must(t, Design{Before: 2400, After: 1500, Net: &Net{f.Today.Net, 0.4}})
	published(t, "the same from the measured net", float64(f.After.Net), -4.20370, 1e-5, powerLaw, "computed")
	published(t, "exhaust inferred from the net", float64(f.Exhaust), 300, 1e-9, powerLaw, "computed")
	for _, c := range []struct{ percent, factor float64 }{{30, 1.7310544}, {20, 1.4095884}} {
		after, err := Tighten(1000, reading.Percent(c.percent))
		if err != nil {
			t.Fatal(err)
		}
		f := must(t, Design{Before: 1000, After: after, Net: &Net{-1, 0.1}})
		published(t, "factor of sealing "+reading.Format(c.percent, 0)+" %", -float64(f.After.Net), c.factor, 5e-8, powerLaw, "computed")
	}
	f = must(t, Design{Before: 91, Exhaust: flows(91)})
	published(t, "dryer of 91 cfm in a house of 91 CFM50", float64(f.Today.Net), -50, 1e-9, "anecdote, northernbuilt.pro: house measured 91 CFM at 50 Pa, dryer alone gave about 50 Pascals", "seen")
}

func TestPublishedPointArithmetic(t *testing.T) {
	q, err := FromACH50(0.77, 18000)
	if err != nil {
		t.Fatal(err)
	}
	published(t, "CFM50 of 0.77 ACH50 in 18,000 ft3", float64(q), 231, 1e-9, "CFM50 = ACH50 V/60; figures of a public question, Green Building Advisor", "seen")
	ach, err := ACH50(q, 18000)
	if err != nil {
		t.Fatal(err)
	}
	published(t, "and back", float64(ach), 0.77, 1e-12, "CFM50 = ACH50 V/60", "computed")
	f := must(t, Design{Before: q, Exhaust: flows(150)})
	published(t, "net of 150 cfm in that house", float64(f.Today.Net), -25.7322, 1e-3, powerLaw, "computed")
	ela, err := EffectiveLeakageArea(1500, 0.65)
	if err != nil {
		t.Fatal(err)
	}
	published(t, "leakage area at 4 Pa, 1500 CFM50, in2", float64(ela), 82.4351, 5e-5, powerLaw+", Cd 1, 1.2041 kg/m3", "computed")
	eqla, err := EquivalentLeakageArea(1500, 0)
	if err != nil {
		t.Fatal(err)
	}
	published(t, "leakage area at 10 Pa, 1500 CFM50, in2", float64(eqla), 154.797, 5e-4, powerLaw+", Cd 0.611, 1.2041 kg/m3", "computed")
	for _, c := range []struct {
		at     reading.Pressure
		factor float64
	}{{10, 2.846627}, {-15, 2.187113}, {25, 1.569168}, {-50, 1}} {
		p, err := CFM50(1000, c.at, 0)
		if err != nil {
			t.Fatal(err)
		}
		published(t, "flow at 50 Pa over flow at "+c.at.String()+" Pa", float64(p.Flow)/1000, c.factor, 1e-6, "(50/dP)^0.65", "computed")
		if p.Low > p.Flow || p.High < p.Flow || c.at == -50 && p.Low != p.High {
			t.Errorf("at %v: %+v is no band", c.at, p)
		}
	}
}

func TestRefused(t *testing.T) {
	nan, inf := reading.Flow(math.NaN()), reading.Flow(math.Inf(1))
	good := Design{Before: 1500, After: 1050, Exhaust: flows(200), Limit: pa(-5), Volume: 12000}
	if _, err := New(good); err != nil {
		t.Fatal(err)
	}
	e := reading.Percent(60)
	for _, c := range []struct {
		name  string
		alter func(*Design)
		field string
	}{
		{"no flow", func(d *Design) { d.Before = 0 }, "CFM50"},
		{"negative flow", func(d *Design) { d.Before = -1500 }, "CFM50"},
		{"flow not a number", func(d *Design) { d.Before = nan }, "CFM50"},
		{"endless flow", func(d *Design) { d.Before = inf }, "CFM50"},
		{"sealed beyond nothing", func(d *Design) { d.After = -1 }, "CFM50 after"},
		{"after not a number", func(d *Design) { d.After = nan }, "CFM50 after"},
		{"before and after swapped", func(d *Design) { d.Before, d.After = 1050, 1500 }, "CFM50 after"},
		{"no exhaust", func(d *Design) { d.Exhaust = nil }, "exhaust"},
		{"exhaust of nothing", func(d *Design) { d.Exhaust = flows(0) }, "exhaust"},
		{"negative exhaust", func(d *Design) { d.Exhaust = []Exhaust{{"hood", -200}} }, "exhaust hood"},
		{"limit without sign", func(d *Design) { d.Limit = pa(5) }, "limit"},
		{"limit of zero", func(d *Design) { d.Limit = pa(0) }, "limit"},
		{"limit not a number", func(d *Design) { d.Limit = pa(math.NaN()) }, "limit"},
		{"exponent of nothing real", func(d *Design) { d.Exponent = 0.4 }, "exponent"},
		{"exponent over 1", func(d *Design) { d.Exponent = 1.01 }, "exponent"},
		{"exponent not a number", func(d *Design) { d.Exponent = Exponent(math.NaN()) }, "exponent"},
		{"negative volume", func(d *Design) { d.Volume = -1 }, "volume"},
		{"volume not a number", func(d *Design) { d.Volume = reading.Volume(math.NaN()) }, "volume"},
		{"net not a number", func(d *Design) { d.Net = &Net{reading.Pressure(math.NaN()), 0.4} }, "net"},
		{"net beyond any house", func(d *Design) { d.Net = &Net{-260, 0.4} }, "net"},
		{"give-or-take not a number", func(d *Design) { d.Net = &Net{-2, reading.Pressure(math.NaN())} }, "give-or-take of the net"},
		{"negative give-or-take", func(d *Design) { d.Net = &Net{-2, -0.1} }, "give-or-take of the net"},
		{"error of more than the flow", func(d *Design) { d.CFM50Error = &e }, "CFM50 error"},
		{"baseline not a number", func(d *Design) { d.Facts.Baseline = pa(math.NaN()) }, "baseline"},
	} {
		d := good
		c.alter(&d)
		f, err := New(d)
		var v *ValueError
		if !errors.As(err, &v) || v.Field != c.field || v.Want == "" || f.Verdict != procedure.NotEvaluated || f.After != nil {
			t.Errorf("%s: %v, verdict %s; want %s refused", c.name, err, f.Verdict, c.field)
		}
	}
	for _, p := range []reading.Percent{0, -5, 100, 120, reading.Percent(math.NaN())} {
		if q, err := Tighten(1500, p); err == nil {
			t.Errorf("sealing %v %% gives %v", p, q)
		}
	}
	for _, p := range []reading.Pressure{0, 9, -9, 101, reading.Pressure(math.NaN())} {
		if q, err := CFM50(1500, p, 0); err == nil {
			t.Errorf("a point at %v Pa gives %v", p, q)
		}
	}
	if _, err := ACH50(1500, 0); err == nil {
		t.Error("a house of no volume has air changes")
	}
	if _, err := FromACH50(-1, 100); err == nil {
		t.Error("negative air changes have a flow")
	}
	if _, err := EffectiveLeakageArea(1500, 2); err == nil {
		t.Error("exponent 2 has a leakage area")
	}
}

// By hand, n = 0.65. Net -1.20, U 0.40, limit -2, sealed 2700 -> 1890 (30 %):
// ratio 1.7310544, net -2.0772653.
// Low end: U 0.40 x 1.7310544 = 0.6924218; exponent 0.60: ratio (1/0.7)^(1/0.6)
// = 1.8119957, difference 0.0971296; CFM50 5 % x sqrt 2 = 7.0710678 %:
// (1 - 0.070710678)^(-1/0.65) = 1.1194535, difference 0.2481365.
// Together sqrt(0.4794480 + 0.0094342 + 0.0615717) = 0.7419256.
func TestByHand(t *testing.T) {
	f := must(t, Design{Before: 2700, After: 1890, Net: &Net{-1.2, 0.4}, Limit: pa(-2)})
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"net", float64(f.After.Net), -2.0772653},
		{"low", float64(f.After.Low), -2.0772653 - 0.7419256},
		{"today low", float64(f.Today.Low), -1.6},
		{"today high", float64(f.Today.High), -0.8},
		{"floor", float64(*f.Floor), 2700 * math.Pow(0.6, 0.65)},
	} {
		if math.Abs(c.got-c.want) > 2e-6*math.Abs(c.want) {
			t.Errorf("%s: %.8g, want %.8g", c.name, c.got, c.want)
		}
	}
	if f.Verdict != procedure.Fail || f.VerdictToday != procedure.Pass {
		t.Errorf("verdict %s, today %s; want fail, pass", f.Verdict, f.VerdictToday)
	}
}

func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		name string
		d    Design
		want procedure.Verdict
	}{
		{"far inside", Design{Before: 1500, After: 1400, Net: &Net{-1, 0.2}, Limit: pa(-5)}, procedure.Pass},
		{"inside, band reaches", Design{Before: 1500, After: 1000, Net: &Net{-2.4, 0.2}, Limit: pa(-5)}, procedure.TooClose},
		{"beyond", Design{Before: 1500, After: 900, Net: &Net{-2.4, 0.2}, Limit: pa(-5)}, procedure.Fail},
		{"beyond already", Design{Before: 1500, After: 1400, Net: &Net{-6, 0.2}, Limit: pa(-5)}, procedure.Fail},
		{"no limit", Design{Before: 1500, After: 900, Net: &Net{-2.4, 0.2}}, procedure.NotEvaluated},
		{"no target", Design{Before: 1500, Net: &Net{-2.4, 0.2}, Limit: pa(-5)}, procedure.NotEvaluated},
		{"worst case not held", Design{Before: 1500, After: 1400, Net: &Net{-1, 0.2}, Limit: pa(-5), Facts: Facts{NotWorst: true}}, procedure.NotEvaluated},
		{"worst case not held, and beyond", Design{Before: 1500, After: 1400, Net: &Net{-6, 0.2}, Limit: pa(-5), Facts: Facts{NotWorst: true}}, procedure.Fail},
		{"raised zone", Design{Before: 1500, After: 1000, Net: &Net{1, 0.2}, Limit: pa(-5)}, procedure.Pass},
		{"raised zone, hardly known", Design{Before: 1500, After: 300, Net: &Net{0.2, 0.6}, Limit: pa(-2)}, procedure.TooClose},
	} {
		f := must(t, c.d)
		if f.Verdict != c.want {
			t.Errorf("%s: %s, want %s (%+v)", c.name, f.Verdict, c.want, f.After)
		}
		x, ok := f.Finding("basement-1")
		if ok != (c.d.After > 0 && c.d.Limit != nil) {
			t.Errorf("%s: finding %v", c.name, ok)
		}
		want := map[procedure.Verdict]procedure.Decision{procedure.Fail: procedure.Refer, procedure.TooClose: procedure.Refer, procedure.Pass: procedure.Proceed}[c.want]
		if ok && (x.Severity != want || x.Verdict != c.want || x.Subject != "basement-1" || x.Evidence != procedure.EvidenceOwnRule || (x.Action == "") != (want == procedure.NoDecision)) {
			t.Errorf("%s: finding %+v", c.name, x)
		}
	}
}

func TestWeaknesses(t *testing.T) {
	base := Design{Before: 2000, After: 1500, Net: &Net{-2, 0.3}, Limit: pa(-5)}
	for _, c := range []struct {
		name  string
		alter func(*Design)
		want  Weakness
	}{
		{"door shut", func(d *Design) { d.Facts.CAZDoorShut = procedure.Yes }, WeakCAZDoor},
		{"return leak", func(d *Design) { d.Facts.ReturnLeak = procedure.Yes }, WeakReturn},
		{"stack", func(d *Design) { d.Facts.Baseline = pa(-1) }, WeakStack},
		{"stack upwards", func(d *Design) { d.Facts.Baseline = pa(1.5) }, WeakStack},
		{"flows", func(d *Design) { d.Net, d.Exhaust = nil, flows(200) }, WeakFlows},
		{"far", func(d *Design) { d.After = 900 }, WeakFar},
		{"beyond 50 Pa", func(d *Design) { d.Net = &Net{-40, 1} }, WeakBeyond},
		{"not worst", func(d *Design) { d.Facts.NotWorst = true }, WeakNotWorst},
		{"not lowered", func(d *Design) { d.Net = &Net{0, 0.3} }, WeakNotLowered},
		{"nothing known against it", func(d *Design) {
			d.Facts = Facts{CAZDoorShut: procedure.No, ReturnLeak: procedure.No, Baseline: pa(-0.9)}
		}, ""},
	} {
		d := base
		c.alter(&d)
		f := must(t, d)
		var got Weakness
		if len(f.Weak) > 0 {
			got = f.Weak[0]
		}
		if got != c.want || len(f.Weak) > 1 {
			t.Errorf("%s: %v, want [%s]", c.name, f.Weak, c.want)
		}
	}
}

// What must hold for any design.
func TestProperties(t *testing.T) {
	src := rand.New(rand.NewSource(2))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*src.Float64() }
	for range 3000 {
		d := Design{Before: reading.Flow(between(300, 6000)), Exponent: Exponent(between(0.5, 1)), Limit: pa(-between(0.5, 30))}
		d.After = d.Before * reading.Flow(between(0.2, 1))
		e := reading.Percent(between(0, 20))
		d.CFM50Error = &e
		if src.Intn(2) == 0 {
			d.Exhaust = flows(reading.Flow(between(5, 1500)))
		} else {
			d.Net = &Net{reading.Pressure(between(-12, 2)), reading.Pressure(between(0, 1.5))}
		}
		f, err := New(d)
		if err != nil {
			t.Fatalf("%+v: %v", d, err)
		}
		limit := *d.Limit
		for _, s := range []Span{f.Today, *f.After} {
			if !(s.Low <= s.Net && s.Net <= s.High) {
				t.Fatalf("%+v: band %+v", d, s)
			}
		}
		if f.Exhaust > 0 {
			if f.After.Net > f.Today.Net+1e-9 {
				t.Errorf("%+v: sealing raises the net from %v to %v", d, f.Today.Net, f.After.Net)
			}
			if got := float64(f.At(*f.Floor).Net); math.Abs(got-float64(limit)) > 1e-9*math.Abs(float64(limit)) {
				t.Errorf("%+v: at the floor the net is %v, limit %v", d, got, limit)
			}
		}
		if f.Stop != nil {
			if f.Floor != nil && *f.Stop < *f.Floor*(1-1e-9) {
				t.Errorf("%+v: stop %v below the floor %v", d, *f.Stop, *f.Floor)
			}
			// The verdict and the stop must say the same, or somebody seals on.
			if d.After > *f.Stop*1.000001 && f.Verdict != procedure.Pass {
				t.Errorf("%+v: target above the stop %v is %s", d, *f.Stop, f.Verdict)
			}
		}
		if f.Verdict == procedure.Pass && f.Stop != nil && d.After < *f.Stop*0.999999 && f.Exhaust > 0 {
			t.Errorf("%+v: pass below the stop %v", d, *f.Stop)
		}
		// Less certain is never better.
		wider := d
		more := e + 5
		wider.CFM50Error = &more
		if g := must(t, wider); f.Verdict != procedure.Pass && g.Verdict == procedure.Pass {
			t.Errorf("%+v: a larger error turns %s into pass", d, f.Verdict)
		}
	}
}

// Two zones of one name, a zone without a net, a tighter limit by hand.
func TestZones(t *testing.T) {
	v := func(x float64) *float64 { return &x }
	o := procedure.Observations{Zones: []procedure.Zone{{ID: "basement-0", Name: "basement"}, {ID: "basement-1", Name: "basement"}, {ID: "attic-1", Name: "attic"}, {ID: "basement-2", Name: "basement"}, {ID: "garage-1", Name: "garage"}}}
	for _, zone := range []string{"basement-1", "basement-2", "garage-1"} {
		o.Appliances = append(o.Appliances, procedure.Appliance{Kind: procedure.Furnace, Zone: zone, Vent: procedure.Vent{Type: procedure.NaturalVent}})
	}
	o.Appliances = append(o.Appliances, procedure.Appliance{Kind: procedure.Range, Zone: "basement-0"}, procedure.Appliance{Kind: procedure.WaterHeater, Zone: "attic-1", Burner: procedure.Burner{Fuel: procedure.Electricity}})
	j := procedure.Judgement{
		WorstCase: []procedure.WorstCase{
			{Zone: "basement", Net: v(-2), Uncertainty: v(0.4), Baseline: v(-1.4), Config: procedure.Configuration{AirHandler: "on", CAZDoor: "closed"}},
			{Zone: "basement", Net: v(-1), Uncertainty: v(0.3), Baseline: v(-0.2), Config: procedure.Configuration{AirHandler: "off", CAZDoor: "open"}},
			{Zone: "garage"},
		},
		Findings: []procedure.Finding{
			{Rule: "depressurization", Subject: "basement-1", Limit: v(-5), Row: "five"},
			{Rule: "depressurization", Subject: "basement-1", Limit: v(-3), Row: "three"},
			{Rule: "depressurization", Subject: "basement-2", Limit: v(-2), Row: "two"},
			{Rule: "configuration", Subject: "basement-2"},
		},
	}
	got := Zones(o, j, Design{Before: 2000, After: 1700, Limit: pa(-4)})
	if len(got) != 3 {
		t.Fatalf("%d zones, want 3: %+v", len(got), got)
	}
	a, b, c := got[0], got[1], got[2]
	if a.Zone.ID != "basement-1" || a.Err != nil || *a.Forecast.Design.Limit != -3 || a.Row != "three" || a.Forecast.Today.Net != -2 {
		t.Errorf("first: %+v", a)
	}
	if w := strings.Join(texts(a.Forecast.Weak), " "); w != "caz-door-shut return-leak strong-stack" {
		t.Errorf("first is weak by %s", w)
	}
	if b.Zone.ID != "basement-2" || *b.Forecast.Design.Limit != -2 || b.Forecast.Verdict == procedure.Pass || len(b.Forecast.Weak) != 1 {
		t.Errorf("second: %+v", b)
	}
	if c.Zone.ID != "garage-1" || !errors.Is(c.Err, ErrNoNet) || c.Forecast.Verdict != procedure.NotEvaluated {
		t.Errorf("third: %+v", c)
	}
	// An own limit can only tighten.
	for _, c := range []struct{ own, want float64 }{{-1, -1}, {-30, -3}} {
		if l := *Zones(o, j, Design{Before: 2000, Limit: pa(c.own)})[0].Forecast.Design.Limit; float64(l) != c.want {
			t.Errorf("own limit %v: %v, want %v", c.own, l, c.want)
		}
	}
	// An open doubt on the zone's pressure, or something missing, takes a pass away.
	if f := Zones(o, j, Design{Before: 2000, After: 1990})[0].Forecast; f.Verdict != procedure.Pass {
		t.Fatalf("%s, want pass", f.Verdict)
	}
	o.Doubts = []procedure.DoubtObs{{OnPressure: true, Zone: "basement-1", Doubt: procedure.Doubt{Settled: "left"}}}
	if f := Zones(o, j, Design{Before: 2000, After: 1990})[0].Forecast; f.Verdict != procedure.NotEvaluated {
		t.Errorf("with a doubt left: %s", f.Verdict)
	}
	o.Doubts[0].Doubt.Settled = "stands"
	j.Missing = []procedure.Missing{{Step: "baseline/basement-1/closing"}}
	if f := Zones(o, j, Design{Before: 2000, After: 1990})[0].Forecast; f.Verdict != procedure.NotEvaluated {
		t.Errorf("without a closing baseline: %s", f.Verdict)
	}
}

func texts(w []Weakness) []string {
	var out []string
	for _, x := range w {
		out = append(out, string(x))
	}
	return out
}

// The drawing may not show what the verdict does not say.
func TestDraw(t *testing.T) {
	src := rand.New(rand.NewSource(4))
	for range 500 {
		d := Design{Before: reading.Flow(400 + 4000*src.Float64()), Net: &Net{reading.Pressure(-12*src.Float64() + 1), reading.Pressure(src.Float64())}, Limit: pa(-0.5 - 15*src.Float64())}
		d.After = d.Before * reading.Flow(0.3+0.7*src.Float64())
		if src.Intn(5) == 0 {
			d.Limit = nil
		}
		f := must(t, d)
		width := 40 + src.Intn(40)
		lines := f.Draw(width, 8+src.Intn(16))
		limitRow, row := -1, map[byte]int{}
		for i, l := range lines {
			if len(l) > width {
				t.Fatalf("%d columns of %d: %q", len(l), width, l)
			}
			for _, b := range []byte(l) {
				if b < ' ' || b > '~' {
					t.Fatalf("byte %#x in %q", b, l)
				}
			}
			if i >= len(lines)-2 || len(l) < margin {
				continue
			}
			body := l[margin:]
			if strings.Count(body, "-") > 3 {
				limitRow = i
			}
			for _, m := range []byte("TA") {
				if strings.IndexByte(body, m) >= 0 {
					row[m] = i
				}
			}
		}
		all := strings.Join(lines, "\n")
		if row['A'] == 0 {
			t.Fatalf("no A in\n%s", all)
		}
		if d.Limit == nil {
			if limitRow >= 0 {
				t.Errorf("a limit is drawn where there is none\n%s", all)
			}
			continue
		}
		if limitRow < 0 {
			t.Fatalf("no limit in\n%s", all)
		}
		for m, p := range map[byte]reading.Pressure{'A': f.After.Net, 'T': f.Today.Net} {
			r, ok := row[m]
			if !ok {
				continue // A stands over it
			}
			if p < *d.Limit && r <= limitRow || p > *d.Limit && r >= limitRow {
				t.Errorf("%c at %v is drawn in row %d, limit %v in row %d\n%s", m, p, r, *d.Limit, limitRow, all)
			}
		}
	}
}

// The rule against a two-zone network in closed form (isothermal, n 0.65): a
// zone of 20, the rest of the house of 150, a door of 60 cfm/Pa^n between them,
// 150 cfm of exhaust in the house. With the door open it is exact. With a
// return leak and the zone's own shell sealed it is wrong on the unsafe side,
// which is why the weakness is said.
func TestPublishedTwoZones(t *testing.T) {
	const n = 0.65
	fifty := reading.Flow(math.Pow(50, n))
	f := must(t, Design{Before: (20 + 150) * fifty, Exhaust: flows(150)})
	published(t, "zone with its door open, 150 cfm", float64(f.Today.Net), -0.8248459, 1e-6, "two-zone closed form, door open, cross-checked with an independent solver", "computed")

	// Net of the zone with the door shut and exhaust in the house: the shell of
	// the zone in series with the door, in parallel with the shell of the house.
	net := func(zone, house, door, q float64) (pz, ph float64) {
		series := math.Pow(math.Pow(zone, -1/n)+math.Pow(door, -1/n), -n)
		ph = -math.Pow(q/(house+series), 1/n)
		return -math.Pow(series*math.Pow(-ph, n)/zone, 1/n), ph
	}
	z, h := net(20, 150, 60, 150)
	published(t, "zone, door shut", z, -0.7097159, 1e-6, "two-zone closed form", "computed")
	published(t, "house, door shut", h, -0.8406498, 1e-6, "two-zone closed form", "computed")
	// Everything tightened alike, the door too: the rule holds.
	all, _ := net(14, 105, 42, 150)
	f = must(t, Design{Before: 170 * fifty, After: 119 * fifty, Net: &Net{Value: reading.Pressure(z)}, Facts: Facts{CAZDoorShut: procedure.Yes}})
	if math.Abs(float64(f.After.Net)-all) > 1e-9 {
		t.Errorf("all tightened alike: forecast %v, network %v", float64(f.After.Net), all)
	}
	if len(f.Weak) == 0 || f.Weak[0] != WeakCAZDoor {
		t.Errorf("weak: %v", f.Weak)
	}

	// A return leak draws 100 cfm from the zone into the house, door shut.
	leak := func(zone, house, door, q float64) (pz, ph float64) {
		lo, hi := 0.0, 100.0 // house over zone
		for range 200 {
			d := (lo + hi) / 2
			through := door * math.Pow(d, n)
			if through > q {
				hi = d
				continue
			}
			ph = math.Pow((q-through)/house, 1/n)
			if pz = ph - d; pz > 0 || zone*math.Pow(-pz, n)+through < q {
				lo = d
			} else {
				hi = d
			}
		}
		return pz, ph
	}
	z, h = leak(20, 150, 60, 100)
	published(t, "zone with a return leak of 100 cfm", z, -1.3635985, 1e-6, "two-zone closed form", "computed")
	published(t, "house with it", h, 0.0614382, 1e-6, "two-zone closed form", "computed")
	// Half of the zone's own shell sealed is 6 % of the house: the rule is far
	// off, on the unsafe side.
	f = must(t, Design{Before: 170 * fifty, After: 160 * fifty, Net: &Net{Value: reading.Pressure(z)}, Facts: Facts{ReturnLeak: procedure.Yes}})
	sealed, _ := leak(10, 150, 60, 100)
	if !(sealed < float64(f.After.Net)-0.1) {
		t.Errorf("zone alone tightened: forecast %v, network %v: then why is it called weak", float64(f.After.Net), sealed)
	}
	if len(f.Weak) == 0 || f.Weak[0] != WeakReturn {
		t.Errorf("weak: %v", f.Weak)
	}
	t.Logf("return leak, zone's own shell halved: forecast %.2f, network %.2f Pa", float64(f.After.Net), sealed)
}

// Guard band of w = U = 1.0 at a limit of 5 Pa. At the acceptance limit itself
// the published rule accepts; here a value whose give-or-take reaches the limit
// is too close (own rule, the safer side), so that one point differs.
func TestPublishedGuardBand(t *testing.T) {
	const source = "guard band after JCGM 106:2012 and ILAC-G8:09/2019 4.2, limit 5 Pa, u 0.5, w = U = 1.0"
	for _, c := range []struct {
		net  float64
		want procedure.Verdict
		as   string
	}{
		{-3.99, procedure.Pass, "pass"}, {-4.0, procedure.TooClose, "pass, at the acceptance limit: here too close by own rule"}, {-4.9, procedure.TooClose, "conditional pass"},
		{-5.0, procedure.TooClose, "conditional pass"}, {-5.1, procedure.Fail, "conditional fail"}, {-6.1, procedure.Fail, "fail"},
	} {
		f := must(t, Design{Before: 1500, Net: &Net{reading.Pressure(c.net), 1}, Limit: pa(-5)})
		t.Logf("published: figure=%q got=%s want=%s (%s) source=%q evidence=computed", "net "+reading.Format(c.net, 2)+" Pa", f.VerdictToday, c.want, c.as, source)
		if f.VerdictToday != c.want {
			t.Errorf("net %v: %s, want %s", c.net, f.VerdictToday, c.want)
		}
	}
}

// A network that is the single-zone rule gives what the rule gives; one with a
// measured net is scaled to it.
func TestNetwork(t *testing.T) {
	limit := reading.Pressure(-5)
	rule, err := New(Design{Before: 1900, After: 1150, Net: &Net{-2.58, 0.52}, Limit: &limit, Facts: Facts{CAZDoorShut: procedure.Yes}})
	if err != nil {
		t.Fatal(err)
	}
	like := func(exhaust float64) func(reading.Flow, Exponent) reading.Pressure {
		return func(q reading.Flow, shift Exponent) reading.Pressure {
			// The flow that gives the same net today with each exponent.
			n := 0.65 + float64(shift)
			x := 1900 * math.Pow(exhaust/50, n)
			return reading.Pressure(-50 * math.Pow(x/float64(q), 1/n))
		}
	}
	for _, pull := range []float64{2.58, 4} { // Pa today
		f, err := New(Design{Before: 1900, After: 1150, Net: &Net{-2.58, 0.52}, Limit: &limit, Network: like(pull), Facts: Facts{CAZDoorShut: procedure.Yes}})
		if err != nil {
			t.Fatal(err)
		}
		near := func(name string, got, want float64) {
			if math.Abs(got-want) > 1e-6*math.Abs(want) {
				t.Errorf("pull %v: %s %v, want %v", pull, name, got, want)
			}
		}
		near("net", float64(f.After.Net), float64(rule.After.Net))
		near("low end", float64(f.After.Low), float64(rule.After.Low))
		near("high end", float64(f.After.High), float64(rule.After.High))
		near("floor", float64(*f.Floor), float64(*rule.Floor))
		near("stop", float64(*f.Stop), float64(*rule.Stop))
		if f.Verdict != rule.Verdict || f.By() != ByNetwork || rule.By() != SingleZone {
			t.Errorf("verdict %v, by %v", f.Verdict, f.By())
		}
		if got := slices.Contains(f.Weak, WeakHouseOff); got != (pull > 3.1) || slices.Contains(f.Weak, WeakCAZDoor) {
			t.Errorf("pull %v: weak %v", pull, f.Weak)
		}
	}
	// A file of another house never makes the answer milder than the rule.
	flat := func(reading.Flow, Exponent) reading.Pressure { return -6 }
	if f, err := New(Design{Before: 1900, After: 1150, Net: &Net{-2.58, 0.52}, Limit: &limit, Network: flat}); err != nil || math.Abs(float64(f.After.Net-rule.After.Net)) > 1e-9 || f.Verdict != procedure.Fail {
		t.Errorf("a flat network: %+v, %v", f.After, err)
	}
	alone, err := New(Design{Before: 1900, After: 1150, Limit: &limit, Network: like(2.58)})
	if err != nil || math.Abs(float64(alone.After.Net-rule.After.Net)) > 1e-6 || !slices.Equal(alone.Weak, []Weakness{WeakHouseFile}) || alone.After.Low >= alone.After.Net {
		t.Errorf("%+v, %v", alone, err)
	}
	for name, network := range map[string]func(reading.Flow, Exponent) reading.Pressure{
		"no balance": func(reading.Flow, Exponent) reading.Pressure { return reading.Pressure(math.NaN()) },
		"raised":     func(reading.Flow, Exponent) reading.Pressure { return 2 },
		"untouched":  func(reading.Flow, Exponent) reading.Pressure { return 0 },
	} {
		if f, err := New(Design{Before: 1900, After: 1150, Net: &Net{-2.58, 0.52}, Limit: &limit, Network: network}); err == nil {
			t.Errorf("%s is taken: %+v", name, f)
		}
	}
	// No balance once it is tighter is never a figure to seal by.
	broken := func(q reading.Flow, s Exponent) reading.Pressure {
		if q < 1500 {
			return reading.Pressure(math.NaN())
		}
		return like(2.58)(q, s)
	}
	if f, err := New(Design{Before: 1900, Limit: &limit, Network: broken}); err != nil || f.Stop == nil || *f.Stop < 1500 {
		t.Errorf("stop %v, %v", f.Stop, err)
	}
	if f, err := New(Design{Before: 1900, After: 1150, Limit: &limit, Network: broken}); err == nil {
		t.Errorf("a target without a balance is taken: %+v", f.After)
	}
}
