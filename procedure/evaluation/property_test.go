package evaluation_test

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/sequence"
	"cazward/procedure/sequence/sequencetest"
)

// homes are walks to start from: a random home is one of them with random
// measurements.
func homes(t *testing.T) []procedure.Observations {
	var out []procedure.Observations
	for _, a := range []map[string]string{
		furnaceHome(),
		furnaceHome("list/appliances=3", "appliance/water-heater-1/facts=1 2 3 7", "reading/basement-1/worst=-1.9 -1.9 -2.0 -1.8 -1.9", "held/water-heater-1=-1.9 -1.9 -1.9 -1.9 -1.9"),
		nil, // the demonstration house: a furnace and a water heater on one vent
		furnaceHome("spill/furnace-1=61s", "spill/furnace-1/natural=20s", "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4"),
		furnaceHome("list/appliances=1 9", "appliance/oven-1/burner=1 18000", "appliance/oven-1/facts=1", "look/oven-1=ok", "co/oven-1=50"),
	} {
		st, _ := drive(t, procedure.TestIn, a, false)
		out = append(out, st.Observations())
	}
	return out
}

func rules(t *testing.T) procedure.Rules {
	s, err := limits.Load(limits.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s.Rules()
}

// clone by JSON: observations are plain values.
func clone(t interface{ Fatal(...any) }, o procedure.Observations) procedure.Observations {
	b, err := json.Marshal(o)
	if err != nil {
		t.Fatal(err)
	}
	var c procedure.Observations
	if err := json.Unmarshal(b, &c); err != nil {
		t.Fatal(err)
	}
	return c
}

// randomise draws new measurements for a home.
func randomise(rt *rapid.T, o *procedure.Observations) {
	pa := rapid.Float64Range(-12, 1)
	for i := range o.ZoneObs {
		z := &o.ZoneObs[i]
		if rapid.Bool().Draw(rt, "change zone") {
			shift := rapid.Float64Range(-4, 0.5).Draw(rt, "shift")
			for k := range z.Readings {
				for m := range z.Readings[k].Values {
					z.Readings[k].Values[m] += shift
				}
			}
			if z.Worst != nil {
				for m := range z.Worst.Values {
					z.Worst.Values[m] += shift
				}
			}
		}
		if rapid.IntRange(0, 4).Draw(rt, "pairs") == 0 && z.Worst != nil {
			n := pa.Draw(rt, "pair net")
			z.Pairs = &procedure.PairsObs{N: 900, Setup: z.Worst.Setup, Off: []float64{-0.9, -1, -0.9}, On: []float64{-0.9 + n, -1 + n, -0.9 + n}}
		}
	}
	for i := range o.ApplObs {
		a := &o.ApplObs[i]
		if a.Spill != nil && rapid.Bool().Draw(rt, "spill") {
			a.Spill.Seconds = float64(rapid.IntRange(0, 130).Draw(rt, "seconds"))
			a.Spill.Outcome = procedure.SpillStopped
		}
		if a.CO != nil && rapid.Bool().Draw(rt, "co") {
			for k := range a.CO.CO {
				a.CO.CO[k] = float64(rapid.SampledFrom([]int{0, 10, 25, 26, 60, 100, 101, 300, 400, 401, 900}).Draw(rt, "ppm"))
			}
		}
		if a.Draft != nil && rapid.Bool().Draw(rt, "draft") {
			v := rapid.Float64Range(-6, 1).Draw(rt, "draft pa")
			for k := range a.Draft.Values {
				a.Draft.Values[k] = v
			}
		}
	}
	if rapid.IntRange(0, 3).Draw(rt, "ambient") == 0 {
		v := float64(rapid.IntRange(0, 80).Draw(rt, "ppm"))
		o.Ambient = append(o.Ambient, procedure.AmbientObs{N: 901, Value: v})
	}
}

// worsen makes one measurement worse and says which.
func worsen(rt *rapid.T, o *procedure.Observations) string {
	by := rapid.Float64Range(0.01, 8).Draw(rt, "by")
	type op struct {
		name string
		do   func()
	}
	var ops []op
	for i := range o.ZoneObs {
		z := &o.ZoneObs[i]
		for k := range z.Readings {
			r := &z.Readings[k]
			ops = append(ops, op{"reading lower", func() {
				for m := range r.Values {
					r.Values[m] -= by
				}
			}})
		}
		if z.Worst != nil {
			ops = append(ops, op{"worst case lower", func() {
				for m := range z.Worst.Values {
					z.Worst.Values[m] -= by
				}
			}})
		}
		for k := range z.Baselines {
			b := &z.Baselines[k]
			ops = append(ops, op{"baseline higher", func() {
				for m := range b.Values {
					b.Values[m] += by
				}
			}})
		}
		if z.Pairs != nil {
			ops = append(ops, op{"pairs lower", func() {
				for m := range z.Pairs.On {
					z.Pairs.On[m] -= by
				}
			}})
		}
		ops = append(ops, op{"a fan did not run", func() {
			if z.Held != nil && len(z.Held.Fans) > 0 {
				z.Held.NotRun, z.Held.Fans = z.Held.Fans[:1], z.Held.Fans[1:]
			}
		}})
	}
	for i := range o.ApplObs {
		a := &o.ApplObs[i]
		if a.Spill != nil {
			ops = append(ops, op{"spilled longer", func() {
				a.Spill.Seconds += 20 * by
				if a.Spill.Outcome != procedure.SpillStill {
					a.Spill.Outcome = procedure.SpillStopped
				}
			}},
				op{"never stopped spilling", func() { a.Spill.Outcome = procedure.SpillStill }},
				op{"vent not known cold or warm", func() { a.Spill.Cold = procedure.Unknown }})
		}
		if a.SpillNatural != nil {
			ops = append(ops, op{"spilled under natural conditions", func() { a.SpillNatural.Outcome = procedure.SpillStill }})
		}
		if a.CO != nil && len(a.CO.CO) > 0 {
			ops = append(ops, op{"more CO", func() { a.CO.CO[0] += 60 * by }}, op{"CO over range", func() { a.CO.OverRange = true }})
		}
		if a.Draft != nil {
			ops = append(ops, op{"weaker draft", func() {
				for m := range a.Draft.Values {
					a.Draft.Values[m] += by
				}
			}})
		}
		if a.Together == procedure.Yes {
			ops = append(ops, op{"spilled with all lit", func() { a.Together = procedure.No }})
		}
	}
	for i := range o.Checks {
		c := &o.Checks[i]
		ops = append(ops, op{"line wrong: " + c.Key, func() { c.State = procedure.SeenWrong }})
	}
	for i := range o.Ambient {
		ops = append(ops, op{"more ambient CO", func() { o.Ambient[i].Value += 10 * by }})
	}
	for _, h := range []procedure.HazardCode{procedure.Alarm, procedure.Symptoms, procedure.Smell, procedure.Leak, procedure.Rollout, procedure.FlameChange, "something-new"} {
		ops = append(ops, op{"hazard " + string(h), func() {
			o.Hazards = append(o.Hazards, procedure.HazardObs{N: 950, Hazard: procedure.Hazard{Code: h, Subject: o.Appliances[0].ID}})
		}})
	}
	ops = append(ops, op{"doubt left open", func() {
		o.Doubts = append(o.Doubts, procedure.DoubtObs{N: 951, Doubt: procedure.Doubt{Code: procedure.DoubtRises, About: []int{1}, Settled: "left"}, OnPressure: true})
	}})
	for i := range o.Appliances {
		a := &o.Appliances[i]
		ops = append(ops, op{"vent not known", func() { a.Vent.Type = procedure.VentUnknown }}, op{"cannot be fired", func() { a.Facts.Fireable = procedure.No }}, op{"shared with another home", func() { a.Facts.OtherDwelling = procedure.Yes }})
	}
	x := ops[rapid.IntRange(0, len(ops)-1).Draw(rt, "op")]
	x.do()
	return x.name
}

func severity(s procedure.Status) int {
	return map[procedure.Status]int{procedure.MayRun: 0, procedure.StatusNone: 1, procedure.MayRunNoFans: 1, procedure.OffUntilServiced: 2, procedure.FuelOff: 3}[s]
}

// judged is a home and the rules it was walked by.
type judged struct {
	o procedure.Observations
	r procedure.Rules
}

// manyHomes are the fixed ones, and homes of random inventory and readings
// under every scheme and phase.
func manyHomes(t *testing.T) []judged {
	var out []judged
	for _, o := range homes(t) {
		out = append(out, judged{o, rules(t)})
	}
	for _, name := range []string{gradedScheme, spillScheme, annexScheme, canadaScheme} {
		for _, ph := range []procedure.Phase{procedure.TestIn, procedure.Daily, procedure.TestOut} {
			for seed := int64(0); seed < 8; seed++ {
				out = append(out, judged{sequencetest.RandomHome(t, name, ph, seed, seed%2 == 0).State.Observations(), scheme(t, name).Rules()})
			}
		}
	}
	return out
}

// TestRandomHomesReplay: a record gives the same judgement however it is read
// again.
func TestRandomHomesReplay(t *testing.T) {
	outcomes := map[procedure.Decision]int{}
	for _, name := range []string{gradedScheme, spillScheme, annexScheme, canadaScheme} {
		for seed := int64(100); seed < 112; seed++ {
			w := sequencetest.RandomHome(t, name, procedure.TestIn, seed, seed%2 == 0)
			again, err := sequence.Replay(w.Header, w.Events)
			if err != nil {
				t.Fatal(err)
			}
			r := scheme(t, name).Rules()
			a, b := evaluation.Judge(w.State.Observations(), r), evaluation.Judge(again.Observations(), r)
			if !reflect.DeepEqual(a, b) {
				t.Errorf("%s, seed %d: judged otherwise after a replay", name, seed)
			}
			outcomes[a.Decision]++
		}
	}
	if t.Log(outcomes); len(outcomes) < 2 {
		t.Errorf("the homes are all alike: %v", outcomes)
	}
}

func TestWorseIsNeverMilder(t *testing.T) {
	base := manyHomes(t)
	rapid.Check(t, func(rt *rapid.T) {
		h := base[rapid.IntRange(0, len(base)-1).Draw(rt, "home")]
		o, r := clone(rt, h.o), h.r
		randomise(rt, &o)
		before := evaluation.Judge(o, r)
		w := clone(rt, o)
		what := worsen(rt, &w)
		after := evaluation.Judge(w, r)
		if after.Decision.Milder(before.Decision) {
			rt.Fatalf("%s: %s became %s", what, before.Decision, after.Decision)
		}
		for i, a := range before.Appliances {
			if b := after.Appliances[i]; severity(b.Status) < severity(a.Status) {
				for _, f := range before.Findings {
					rt.Logf("before: %s %s %s %s %s %s", f.Rule, f.Subject, f.Verdict, f.Severity, f.Status, f.Detail)
				}
				for _, f := range after.Findings {
					rt.Logf("after: %s %s %s %s %s %s", f.Rule, f.Subject, f.Verdict, f.Severity, f.Status, f.Detail)
				}
				rt.Fatalf("%s: %s was %q, became %q", what, a.ID, a.Status, b.Status)
			}
		}
	})
}

// TestNothingMissingPasses: without any one required observation a home is
// neither proceed nor refer.
func TestNothingMissingPasses(t *testing.T) {
	r := rules(t)
	list := homes(t)
	for seed := int64(0); seed < 12; seed++ { // sound ones, of random inventory
		o := sequencetest.RandomHome(t, "", procedure.TestIn, seed, true).State.Observations()
		if d := evaluation.Judge(o, r).Decision; d == procedure.Proceed || d == procedure.Refer {
			list = append(list, o)
		}
	}
	if len(list) < 8 {
		t.Errorf("only %d homes", len(list))
	}
	for h, o := range list {
		var cuts []func(*procedure.Observations) string
		add := func(f func(*procedure.Observations) string) { cuts = append(cuts, f) }
		add(func(c *procedure.Observations) string { c.Weather = nil; return "weather" })
		add(func(c *procedure.Observations) string { c.Ambient = nil; return "ambient CO" })
		add(func(c *procedure.Observations) string { c.Zones, c.ZoneObs = nil, nil; return "zones" })
		add(func(c *procedure.Observations) string { c.ZoneObs = nil; return "zone readings" })
		add(func(c *procedure.Observations) string { c.ApplObs = nil; return "appliance observations" })
		add(func(c *procedure.Observations) string { c.BurnersKnown = false; return "appliance list" })
		add(func(c *procedure.Observations) string { c.FansKnown = false; return "fan list" })
		add(func(c *procedure.Observations) string { c.DoorsKnown = false; return "door list" })
		add(func(c *procedure.Observations) string { c.AirKnown = false; return "air handler list" })
		add(func(c *procedure.Observations) string { c.Checks = nil; return "all checks" })
		for i := range o.ZoneObs {
			add(func(c *procedure.Observations) string { c.ZoneObs[i].Baselines = nil; return "baseline" })
			add(func(c *procedure.Observations) string {
				c.ZoneObs[i].Baselines = c.ZoneObs[i].Baselines[:1]
				return "closing baseline"
			})
			add(func(c *procedure.Observations) string { c.ZoneObs[i].Worst = nil; return "worst-case reading" })
			add(func(c *procedure.Observations) string { c.ZoneObs[i].Held = nil; return "worst-case set-up" })
			add(func(c *procedure.Observations) string { c.ZoneObs[i].DoorsDecided = false; return "doors" })
			add(func(c *procedure.Observations) string { c.ZoneObs[i].AirDecided = false; return "air handler" })
			add(func(c *procedure.Observations) string { c.ZoneObs[i].CAZDecided = false; return "CAZ door" })
		}
		for i, a := range o.Appliances {
			add(func(c *procedure.Observations) string { c.Appliances[i].Listed = false; return "inventory of " + a.ID })
			if a.Susceptible() != procedure.No {
				add(func(c *procedure.Observations) string { c.Of(a.ID).Spill = nil; return "spillage of " + a.ID })
				if !failedSpill(o.Of(a.ID)) && o.Of(a.ID).Draft != nil {
					add(func(c *procedure.Observations) string { c.Of(a.ID).Draft = nil; return "draft of " + a.ID })
				} else if failedSpill(o.Of(a.ID)) {
					add(func(c *procedure.Observations) string {
						c.Of(a.ID).SpillNatural = nil
						return "natural conditions of " + a.ID
					})
				}
			}
			if o.Of(a.ID).CO != nil {
				add(func(c *procedure.Observations) string { c.Of(a.ID).CO = nil; return "CO of " + a.ID })
			}
			if o.Of(a.ID).Together != procedure.Unknown {
				add(func(c *procedure.Observations) string {
					c.Of(a.ID).Together = procedure.Unknown
					return "all lit, " + a.ID
				})
			}
		}
		for i, k := range o.Checks {
			if optional[k.Code] {
				continue
			}
			add(func(c *procedure.Observations) string {
				c.Checks = append(c.Checks[:i:i], c.Checks[i+1:]...)
				c.Open = append(c.Open, procedure.Missing{Step: k.Key, Why: "no-answer"})
				return "line " + k.Key
			})
			add(func(c *procedure.Observations) string {
				c.Checks[i].State = procedure.NotSeen
				return "unseen " + k.Key
			})
		}
		for _, cut := range cuts {
			c := clone(t, o)
			what := cut(&c)
			if d := evaluation.Judge(c, r).Decision; d == procedure.Proceed || d == procedure.Refer {
				t.Errorf("home %d without %s: %s", h, what, d)
			}
		}
	}
}

// optional lines are noted, not required.
var optional = map[string]bool{procedure.NotedLine: true}

func TestEmptyNeverProceeds(t *testing.T) {
	r := rules(t)
	if d := evaluation.Judge(procedure.Observations{}, r).Decision; d != procedure.Incomplete {
		t.Errorf("nothing seen: %s", d)
	}
	if d := evaluation.Judge(procedure.Observations{}, procedure.Rules{}).Decision; d != procedure.Incomplete {
		t.Errorf("nothing at all: %s", d)
	}
	for i, o := range homes(t) {
		if d := evaluation.Judge(o, procedure.Rules{}).Decision; d == procedure.Proceed || d == procedure.Refer {
			t.Errorf("home %d without rules: %s", i, d)
		}
	}
}

func TestNotANumberNeverPasses(t *testing.T) {
	r := rules(t)
	for h, o := range homes(t) {
		for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			try := func(what string, f func(*procedure.Observations)) {
				c := clone(t, o)
				f(&c)
				if d := evaluation.Judge(c, r).Decision; d == procedure.Proceed || d == procedure.Refer {
					t.Errorf("home %d, %s %v: %s", h, what, bad, d)
				}
			}
			try("worst case", func(c *procedure.Observations) { c.ZoneObs[0].Worst.Values[0] = bad })
			try("baseline", func(c *procedure.Observations) { c.ZoneObs[0].Baselines[0].Values[0] = bad })
			try("CO", func(c *procedure.Observations) { c.ApplObs[0].CO.CO[0] = bad })
			try("ambient CO", func(c *procedure.Observations) { c.Ambient[0].Value = bad })
			try("seconds", func(c *procedure.Observations) { c.ApplObs[0].Spill.Seconds = bad })
			if o.ApplObs[0].Draft != nil {
				try("draft", func(c *procedure.Observations) { c.ApplObs[0].Draft.Values[0] = bad })
			}
			try("outdoor temperature", func(c *procedure.Observations) { c.Weather.Temp = bad })
		}
	}
}

// TestUnitsDoNotMatter: judging is the same whatever unit was typed.
func TestUnitsDoNotMatter(t *testing.T) {
	inH2O := func(s string) string { return s + " inH2O" }
	a := furnaceHome("reading/basement-1/worst=-2.490889", "draft/furnace-1=-2.9890669", "arrive/weather=6 34", "baseline/basement-1=-0.9 30s", "reading/basement-1/worst=-3.2 30s")
	b := furnaceHome("baseline/basement-1="+inH2O(fmt.Sprintf("%.12f", -0.9/249.08891))+" 30s", "reading/basement-1/worst="+inH2O(fmt.Sprintf("%.12f", -3.2/249.08891))+" 30s",
		"draft/furnace-1="+inH2O(fmt.Sprintf("%.12f", -2.9890669/249.08891)), "arrive/weather=9.656064 km/h 1.1111111111 C")
	_, ja := drive(t, procedure.TestIn, a, false)
	_, jb := drive(t, procedure.TestIn, b, false)
	if ja.Decision != jb.Decision || len(ja.Findings) != len(jb.Findings) {
		t.Fatalf("%s with %d findings, in other units %s with %d", ja.Decision, len(ja.Findings), jb.Decision, len(jb.Findings))
	}
	for i, f := range ja.Findings {
		g := jb.Findings[i]
		if f.Rule != g.Rule || f.Verdict != g.Verdict || f.Value != nil && math.Abs(*f.Value-*g.Value) > 1e-6 {
			t.Errorf("%s %s %v against %s %v", f.Rule, f.Verdict, f.Value, g.Verdict, g.Value)
		}
	}
}

func BenchmarkJudge(b *testing.B) {
	t := &testing.T{}
	o, r := homes(t)[2], rules(t)
	b.ReportAllocs()
	for b.Loop() {
		evaluation.Judge(o, r)
	}
}

func failedSpill(a *procedure.ApplianceObs) bool {
	return a.Spill != nil && a.Spill.Seconds > 60
}
