package sequence

import (
	"math"
	"slices"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Thresholds of the signs, own rules: pascals, degrees Fahrenheit, samples,
// ppm, shares, seconds.
const (
	signBaselineHigh = 0.3
	signCold         = 40.0
	signRise         = 0.3
	signNoStep       = 0.1
	signWeakDraft    = -0.2
	signFrozen       = 3    // readings of several samples each without any spread
	signZeroAir      = 9    // what the personal monitor showed when the analyser reads 0
	signLowNet       = 0.25 // of what CFM50 and flows predict
	signLowNetFloor  = 2.0  // predicted net from which that is told
	signSlack        = 15   // seconds by which a wait may fall short
	signSameAir      = 15 * time.Minute
	// exponent of the single-zone estimate, common practice
	singleZoneExponent = 0.65
)

// signs are doubts being looked for.
type signs struct {
	s   *State
	out []procedure.Step
}

// Signs finds what the field notes list as signs of a spoiled reading, for
// readings on which no doubt was raised yet.
func (s *State) Signs() []procedure.Step {
	g := signs{s: s}
	g.house()
	for _, z := range s.home().zones {
		g.zone(z)
	}
	appl := s.appliances()
	for _, a := range appl {
		g.appliance(a)
	}
	g.air()
	return g.out
}

func (g *signs) raise(code procedure.DoubtCode, key string, args ...string) {
	s := g.s
	f, ok := s.facts[key]
	if !ok || s.stale(key) || f.kind == procedure.KindSkip {
		return
	}
	if d, had := s.doubts[string(code)+" "+key]; had && d.ver == f.n {
		return
	}
	st := procedure.Step{ID: join("doubt", string(code), key), Ask: "doubt." + string(code), Form: procedure.FormDoubt, Event: procedure.KindDoubt, About: []int{f.n}, Args: map[string]string{"doubt": string(code), "key": key, "screen": f.step}}
	for i := 0; i+1 < len(args); i += 2 {
		st.Args[args[i]] = args[i+1]
	}
	g.out = append(g.out, st)
}

func (g *signs) house() {
	s := g.s
	if w, ok := s.windMPH(); ok && s.pullsDown() && s.plan.Baseline.MaxWind > 0 && w > s.plan.Baseline.MaxWind {
		key := keyWeather // the last one is the one that can be read again
		for _, x := range s.stops {
			if k := join("resume", itoa(x.n), "outdoors"); s.Has(k) {
				key = k
			}
		}
		g.raise(procedure.DoubtWind, key, "wind", reading.Format(w, 0), "limit", trim(s.plan.Baseline.MaxWind))
	}
	for _, k := range s.order {
		if s.fact(k).back {
			g.raise(procedure.DoubtClock, k)
		}
	}
}

func (g *signs) zone(z procedure.Zone) {
	s := g.s
	base := join("baseline", z.ID)
	r := func(n string) string { return join("reading", z.ID, n) }
	still, last := 0, ""
	bases, readings := base+"/", r("")
	for _, k := range s.order {
		if k != base && !strings.HasPrefix(k, bases) && !strings.HasPrefix(k, readings) {
			continue
		}
		p := s.pressureObs(k)
		if p == nil || len(p.Values) < 2 {
			continue
		}
		lo, hi := p.Values[0], p.Values[0]
		for _, v := range p.Values {
			lo, hi = min(lo, v), max(hi, v)
		}
		if limit := s.plan.Baseline.MaxSpread; limit > 0 && hi-lo > limit+1e-9 {
			g.raise(procedure.DoubtGusty, k, "spread", reading.Format(hi-lo, 1), "limit", trim(limit))
		}
		if hi == lo && len(p.Values) >= max(2, s.plan.Baseline.MinSamples) {
			still, last = still+1, k
		}
	}
	if still >= signFrozen {
		g.raise(procedure.DoubtFrozen, last)
	}
	b, ok := s.meanPa(base)
	if !ok {
		return
	}
	if t, known := s.OutdoorF(); known && b > signBaselineHigh && t < signCold {
		g.raise(procedure.DoubtBaselineHigh, base, "value", reading.Format(b, 1))
	}
	for _, n := range []string{"dryer", "fans", "worst"} {
		v, ok := s.meanPa(r(n))
		switch {
		case !ok:
		case v-b > signRise:
			g.raise(procedure.DoubtRises, r(n), "rise", reading.Format(v-b, 1))
		case (n == "fans" || n == "worst" && !s.Has(r("fans")) && s.runsAny(r(n))) && math.Abs(v-b) < signNoStep:
			g.raise(procedure.DoubtNoStep, r(n))
		}
	}
	g.held(z, b)
	if c, ok := s.meanPa(join(base, "closing")); ok && s.plan.Baseline.MaxDrift > 0 && math.Abs(c-b) > s.plan.Baseline.MaxDrift {
		g.raise(procedure.DoubtDrift, join(base, "closing"), "drift", reading.Format(math.Abs(c-b), 1), "limit", trim(s.plan.Baseline.MaxDrift))
	}
	if net, _, ok := s.Net(z.ID); ok {
		if want := s.predicted(r("worst")); want >= signLowNetFloor && -net < signLowNet*want {
			g.raise(procedure.DoubtLowNet, r("worst"), "value", reading.Format(net, 1), "want", reading.Format(-want, 0))
		}
	}
}

// held raises readings that should be at worst case and are weaker: than the
// lowest of the search, or than worst case itself, by half a pascal and a
// quarter of the net (own rule).
func (g *signs) held(z procedure.Zone, base float64) {
	s := g.s
	low, key := base, ""
	if net, ok := s.netBefore(z.ID); ok && base+net < low {
		low, key = base+net, KeyCarried // held as before, it was that low then
	}
	readings := join("reading", z.ID) + "/"
	for _, k := range s.order {
		if n, ok := strings.CutPrefix(k, readings); !ok || n == "worst" {
			continue
		}
		if v, ok := s.meanPa(k); ok && v < low {
			low, key = v, k
		}
	}
	if v, ok := s.meanPa(join("reading", z.ID, "worst")); ok {
		if key != "" && weaker(v, low, base) {
			g.raise(procedure.DoubtNotHeld, join("reading", z.ID, "worst"), "value", reading.Format(v, 1), "want", reading.Format(low, 1))
		}
		low = min(low, v)
	}
	for _, k := range s.heldKeys(z.ID) {
		if v, ok := s.meanPa(k); ok && weaker(v, low, base) {
			g.raise(procedure.DoubtNotHeld, k, "value", reading.Format(v, 1), "want", reading.Format(low, 1))
		}
	}
}

// weaker reports whether a reading pulls clearly less below a baseline than
// another: by half a pascal and a quarter of its net.
func weaker(v, low, base float64) bool {
	return v-low > signRise+0.2 && v-low > 0.25*(base-low)
}

// heldKeys are the readings of a zone that was held while appliances in it
// burned, in the order of the record.
func (s *State) heldKeys(zone string) []string {
	var out []string
	for _, k := range s.order {
		id, held := strings.CutPrefix(k, "held/")
		id, _, _ = strings.Cut(id, "/")
		if held && slices.ContainsFunc(s.appliances(), func(a procedure.Appliance) bool { return a.ID == id && a.Zone == zone }) {
			out = append(out, k)
		}
	}
	return out
}

// runsAny reports whether anything ran when a pressure was read.
func (s *State) runsAny(key string) bool {
	p := s.pressureObs(key)
	return p != nil && len(p.Setup.Fans)+len(p.Setup.AirHandler) > 0
}

// netBefore is the net, in pascals, that the record before a daily test had at
// the worst case that this one holds as before.
func (s *State) netBefore(zone string) (float64, bool) {
	if s.choice(KeySince) != onlySealing {
		return 0, false
	}
	if a, _ := s.carried(join("net", zone)); a.Number != nil && a.Number.Value != nil {
		return *a.Number.Value, true
	}
	return 0, false
}

// predicted is how far, in pascals below outdoors, the fans of a reading's
// set-up should pull a house of this CFM50 (single-zone power law, common
// practice); 0 where CFM50 or no flow is known.
func (s *State) predicted(key string) float64 {
	a := s.answer(keyCFM50)
	p := s.pressureObs(key)
	if a == nil || a.Number == nil || a.Number.Value == nil || *a.Number.Value <= 0 || p == nil {
		return 0
	}
	flow := 0.0
	for _, f := range p.Setup.Fans {
		if x := s.answer(join("list/flows", f)); x != nil && x.Number != nil && x.Number.Value != nil {
			flow += *x.Number.Value
		}
	}
	return 50 * math.Pow(flow / *a.Number.Value, 1/singleZoneExponent)
}

func (g *signs) appliance(a procedure.Appliance) {
	s := g.s
	co, spill := join("co", a.ID), join("spill", a.ID)
	if x := s.answer(co); x != nil && x.Gas != nil && s.plan.CO.Diluted > 0 && !a.Kind.Cooking() && a.Kind != procedure.UnventedHeater && a.Kind != procedure.GasLog {
		for _, o := range x.Gas.O2 {
			if o != nil && *o > s.plan.CO.Diluted {
				g.raise(procedure.DoubtDiluted, co, "o2", reading.Format(*o, 1), "name", a.Name)
				break
			}
		}
	}
	if d, ok := s.meanPa(join("draft", a.ID)); ok && d > signWeakDraft && !s.spillFailed(spill) {
		g.raise(procedure.DoubtDraftNoSpill, join("draft", a.ID), "value", reading.Format(d, 1), "name", a.Name)
	}
	lit, ok := s.litAt(a.ID)
	if !ok {
		return
	}
	if f := s.fact(co); s.Has(co) {
		if wait := f.at.Sub(lit).Minutes(); wait*60 < s.plan.CO.AfterMin*60-signSlack {
			g.raise(procedure.DoubtEarlyCO, co, "name", a.Name, "minutes", reading.Format(max(wait, 0), 0), "limit", trim(s.plan.CO.AfterMin))
		}
	}
	if s.spillFailed(spill) {
		return // it ought to be easier on a warm vent: nothing to doubt
	}
	for _, id := range a.Partners {
		other, ok := s.litAt(id)
		if !ok || !other.Before(lit) || s.plan.Spillage.Between <= 0 {
			continue
		}
		if wait := lit.Sub(other).Minutes(); wait*60 < s.plan.Spillage.Between*60-signSlack {
			g.raise(procedure.DoubtWarmVent, spill, "name", a.Name, "minutes", reading.Format(wait, 0), "limit", trim(s.plan.Spillage.Between))
			break
		}
	}
}

// litAt is when the main burner was lit at worst case, where the clock here
// timed it in a real home; a time typed off a watch may be typed any time later. A practice clock may run faster than the wall.
func (s *State) litAt(id string) (time.Time, bool) {
	k := join("spill", id)
	a, f := s.answer(k), s.fact(k)
	if a == nil || a.Spill == nil || !a.Spill.Timed || s.header.Practice != nil {
		return time.Time{}, false
	}
	return f.at.Add(-time.Duration(a.Spill.Seconds * float64(time.Second))), true
}

// air: an analyser that reads 0 where a monitor did not was perhaps zeroed in
// bad air.
func (g *signs) air() {
	s := g.s
	for _, h := range s.hazards {
		if h.h.Code != procedure.AmbientCO || h.h.Value == nil || *h.h.Value < signZeroAir || s.choice(join("settled", itoa(h.n))) == "stopped" {
			continue
		}
		for _, k := range s.order {
			a := s.answer(k)
			if a == nil || a.Gas == nil || !strings.HasPrefix(k, "ambient/") && k != keyAmbient && !strings.HasPrefix(k, "resume/") {
				continue
			}
			apart := s.fact(k).at.Sub(h.at).Abs()
			if slices.Contains(a.Gas.CO, 0) && apart < signSameAir {
				g.raise(procedure.DoubtZeroAir, k, "value", reading.Format(*h.h.Value, 0))
			}
		}
	}
}

// doubtsFirst puts open doubts before everything else: they are asked while
// they can still be settled.
func (g *gen) doubtsFirst() {
	if g.full {
		return
	}
	open := g.s.Signs()
	if len(open) == 0 || g.s.Leaving() {
		return
	}
	out := make([]procedure.Step, 0, len(open)+len(g.out))
	for _, d := range open {
		d.Stage = procedure.StageArrive
		for _, st := range g.out {
			for _, k := range append(st.Keys(), st.ID) {
				if k == d.Args["key"] {
					d.Stage, d.Zone, d.Name, d.Setup, d.Held, d.Burning = st.Stage, st.Zone, st.Name, st.Setup, st.Held, st.Burning
				}
			}
		}
		out = append(out, d)
	}
	g.out = append(out, g.out...)
}
