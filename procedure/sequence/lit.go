package sequence

import (
	"math"
	"slices"
	"sort"
	"strings"

	"cazward/procedure"
)

func (g *gen) appliances(z procedure.Zone) {
	s := g.s
	A := procedure.StageAppliances
	wk := join("setup", z.ID, "worst")
	groups := map[string][]procedure.Appliance{}
	list := g.fired(z.ID)
	k, n := 0, 0
	for _, a := range list {
		if a.Susceptible() != procedure.No && g.shut(a.ID) == "" {
			n++
		}
	}
	for _, a := range list {
		from := len(g.out)
		if a.Susceptible() == procedure.No {
			if s.header.Phase != procedure.Daily { // daily: what house pressure can touch
				g.coSteps(a, z, "", false)
			}
			g.notLit(a.ID, from)
			continue
		}
		if g.shut(a.ID) == "" {
			k++
		}
		if g.another(a.ID) {
			continue
		}
		base := procedure.Step{Stage: A, Zone: z.ID, Subject: a.ID, Name: a.Name, Held: true, Burning: true}
		base.Args = map[string]string{"k": itoa(k), "n": itoa(n), "input": trim(a.Burner.Input), "unit": a.Burner.Unit}
		if f, ok := s.facts[wk]; ok {
			if su, ok := f.data.(*procedure.Setup); ok {
				c := su.Clone()
				base.Setup, base.SetupN = &c, f.n
			}
		}
		reads := append([]string{wk}, g.placed(a)...)
		if a.Facts.Shares == procedure.Yes {
			reads = append(reads, join("appliance", a.ID, "partners"))
		}
		zoneReads := append(slices.Clone(reads), g.hoses(z)...)
		st := base
		st.ID, st.Ask, st.Form, st.Unit, st.Reads, st.Burning = join("held", a.ID), "pressure.held", procedure.FormPressure, "Pa", zoneReads, k > 1
		g.add(st)

		st = base
		st.ID, st.Ask, st.Form, st.Reads = join("spill", a.ID), "spill", procedure.FormClock, reads
		st.LimitS = s.spillLimit(a.ID)
		st.Args["vent"] = string(s.cold(a.ID))
		st.Cautions = []string{"burner-on"}
		g.add(st)

		if a.HasBlower() {
			st = g.checklist(join("flame", a.ID), A, "flame", []string{"blower-flame"})
			st.Zone, st.Subject, st.Name, st.Held, st.Burning, st.Cautions, st.Reaffirm = z.ID, a.ID, a.Name, true, true, []string{"rollout"}, false
			st.Setup, st.SetupN, st.Args = base.Setup, base.SetupN, base.Args
			g.add(st)
			st = base
			st.ID, st.Ask, st.Form, st.Unit, st.Reads = join("held", a.ID, "blower"), "pressure.blower", procedure.FormPressure, "Pa", zoneReads
			g.add(st)
		}
		g.draftSteps(a, base, reads, "")
		g.coSteps(a, z, "", true)
		if g.shut(a.ID) != "" {
			g.notLit(a.ID, from)
			if gk := groupKey(a); gk != "" && g.begun(a, gk) { // what was seen at the other hoods is kept too
				groups[gk] = append(groups[gk], a)
			}
			continue
		}
		again := join("held", a.ID, "again") + "/"
		for _, k := range s.order { // after earlier stops
			if strings.HasPrefix(k, again) {
				g.addHeld(k, base, zoneReads)
			}
		}
		g.heldAgain(a, base, zoneReads, from)
		if gk := groupKey(a); gk != "" {
			groups[gk] = append(groups[gk], a)
		}
	}
	if s.plan.Spillage.Together {
		var keys []string
		for gk, m := range groups {
			if len(m) > 1 || g.sharesLit(m[0]) {
				keys = append(keys, gk)
			}
		}
		sort.Strings(keys)
		for _, gk := range keys {
			st := procedure.Step{ID: "together/" + gk, Stage: A, Ask: "together", Form: procedure.FormChecklist, Zone: z.ID, Held: true, Burning: true, Cautions: []string{"burner-on"}, Reads: []string{wk}}
			if g.acrossZones(gk) { // each zone sees its own hoods
				st.ID = join(st.ID, z.ID)
			}
			for _, id := range strings.Split(gk, "+") { // who else is on the vent
				st.Reads = append(st.Reads, join("appliance", id, "partners"))
			}
			for _, a := range groups[gk] {
				st.Items = append(st.Items, procedure.Item{Key: join("together", a.ID), Code: "hood", Name: a.Name})
			}
			from := len(g.out)
			g.add(st)
			first := groups[gk][0]
			base := procedure.Step{Stage: A, Zone: z.ID, Subject: first.ID, Name: first.Name, Held: true, Burning: true}
			if f, ok := s.facts[wk]; ok {
				if su, ok := f.data.(*procedure.Setup); ok {
					c := su.Clone()
					base.Setup, base.SetupN = &c, f.n
				}
			}
			g.heldAgain(first, base, append(append([]string{wk}, g.placed(first)...), g.hoses(z)...), from)
		}
	}
}

// begun reports whether this appliance became an emergency by a look at the
// hoods of its vent that is not told to its end: the rest of it is kept too.
func (g *gen) begun(a procedure.Appliance, gk string) bool {
	s := g.s
	k := join("together", a.ID)
	if at, ok := s.graveAt[a.ID]; !ok || !s.settled(k) || s.fact(k).n != at {
		return false
	}
	for _, b := range g.appl {
		if b.ID != a.ID && b.Zone == a.Zone && slices.Contains(strings.Split(gk, "+"), b.ID) && g.shut(b.ID) == "" && !s.settled(join("together", b.ID)) {
			return true
		}
	}
	return false
}

// notLit drops what is still to be done with a burner that must not be lit:
// known bad, not missing. The air is read all the same.
func (g *gen) notLit(id string, from int) {
	if g.shut(id) == "" {
		return
	}
	kept := g.out[:from:from]
	for _, st := range g.out[from:] {
		if !g.s.unmet(st) || st.Form == procedure.FormAmbient && g.s.Has(join("co", id)) {
			kept = append(kept, st)
		}
	}
	g.out = kept
}

// heldAgain puts the zone pressure before the first step from which on the
// appliance burns again after a stop.
func (g *gen) heldAgain(a procedure.Appliance, base procedure.Step, reads []string, from int) {
	s := g.s
	n := s.heldAgain(a.ID)
	k := join("held", a.ID, "again", itoa(n))
	if n == 0 || s.has(k) || slices.ContainsFunc(g.out, func(st procedure.Step) bool { return st.ID == k }) {
		return
	}
	for i := from; i < len(g.out); i++ {
		if g.out[i].Burning && g.out[i].Form != procedure.FormAmbient && s.unmet(g.out[i]) && g.out[i].ID != join("held", a.ID) {
			rest := append([]procedure.Step{}, g.out[i:]...)
			g.out = g.out[:i]
			g.addHeld(k, base, reads)
			g.out = append(g.out, rest...)
			return
		}
	}
}

func (g *gen) addHeld(k string, base procedure.Step, reads []string) {
	base.ID, base.Ask, base.Form, base.Unit, base.Reads = k, "pressure.held", procedure.FormPressure, "Pa", reads
	g.add(base)
}

// acrossZones reports whether a vent serves appliances of several zones.
func (g *gen) acrossZones(gk string) bool {
	zone := ""
	for _, a := range g.appl {
		if a.Zone == "" || !slices.Contains(strings.Split(gk, "+"), a.ID) {
			continue
		}
		if zone != "" && a.Zone != zone {
			return true
		}
		zone = a.Zone
	}
	return false
}

// placed is the fact in which zone an appliance stands, where there are
// several: it was lit while that zone was held.
func (g *gen) placed(a procedure.Appliance) []string {
	if len(g.zones) < 2 {
		return nil
	}
	return []string{join("appliance", a.ID, "zone")}
}

// sharesLit reports whether another appliance on the vent is lit too, of
// whatever kind: one that blows into the vent can make this one spill.
func (g *gen) sharesLit(a procedure.Appliance) bool {
	for _, p := range g.appl {
		if has(a.Partners, p.ID) && p.Fired() && p.Facts.Fireable != procedure.No && g.shut(p.ID) == "" {
			return true
		}
	}
	return false
}

// groupKey names the vent that an appliance shares, "" when it has its own.
func groupKey(a procedure.Appliance) string {
	if len(a.Partners) == 0 {
		return ""
	}
	ids := append([]string{a.ID}, a.Partners...)
	sort.Strings(ids)
	return strings.Join(ids, "+")
}

// draftSteps ask the draft where the plan has a rule for the vent and the
// vent can be measured; spillage that failed leaves draft known bad.
func (g *gen) draftSteps(a procedure.Appliance, base procedure.Step, reads []string, cond string) {
	s := g.s
	if !s.plan.Draft.Asked(a.Venting()) || a.Facts.TestHole == procedure.No {
		return
	}
	key := func(x string) string {
		if cond == "" {
			return join(x, a.ID)
		}
		return join(x, a.ID, cond)
	}
	if s.spillFailed(key("spill")) {
		return
	}
	if a.Burner.Fuel == procedure.Oil && cond == "" {
		st := base
		st.ID, st.Ask, st.Form, st.Unit, st.Reads, st.Burning = join("breech", a.ID), "breech", procedure.FormNumber, "Pa", nil, true
		g.add(st)
	}
	if a.Burner.Fuel == procedure.Oil {
		if b := s.answer(join("breech", a.ID)); b == nil || b.Number == nil || b.Number.Value == nil {
			return
		}
	}
	st := base
	st.ID, st.Ask, st.Form, st.Unit, st.Reads = key("draft"), "draft", procedure.FormPressure, "Pa", reads
	st.Cautions = []string{"test-hole"}
	if cond != "" {
		st.Ask = "draft.natural"
	}
	g.add(st)
}

func (g *gen) coSteps(a procedure.Appliance, z procedure.Zone, cond string, held bool) {
	s := g.s
	if s.plan.CO.Asked(a.Kind) {
		st := procedure.Step{ID: join("co", a.ID), Stage: procedure.StageAppliances, Ask: "co", Form: procedure.FormGas, Unit: "ppm", Zone: z.ID, Subject: a.ID, Name: a.Name, Held: held, Burning: true, Cautions: []string{"co-sample"}}
		if a.Kind.Cooking() {
			st.Ask = "co.cooking"
		}
		if held {
			st.Reads = append([]string{join("setup", z.ID, "worst")}, g.placed(a)...)
		} else { // that it needs no hold follows from its vent
			st.Reads = []string{join("appliance", a.ID, "vent"), join("appliance", a.ID, "category")}
		}
		g.add(st)
	}
	if held {
		g.add(procedure.Step{ID: join("ambient", a.ID), Stage: procedure.StageAppliances, Ask: "ambient.burning", Form: procedure.FormAmbient, Unit: "ppm", Zone: z.ID, Subject: a.ID, Name: a.Name, Held: held, Burning: true, Cautions: []string{"ambient-tiers"}})
	}
}

// natural conditions: what failed at worst case is tried again with the house
// at rest and the vent cooled, except what would need a burner that must not
// be lit again.
func (g *gen) natural(z procedure.Zone) {
	s := g.s
	N := procedure.StageNatural
	asked, rest := false, join("setup", z.ID, "closing")
	if !s.plan.Baseline.Closing {
		rest = join("setup", z.ID, "natural")
	}
	for _, a := range g.fired(z.ID) {
		if g.shut(a.ID) != "" || !s.needsNatural(a) {
			continue
		}
		if !asked && !s.plan.Baseline.Closing {
			g.setup(rest, "setup.natural", z, N, g.off(z), false)
		}
		asked = true
		st := g.checklist(join("cooled", a.ID), N, "cooled", []string{"vent-cooled"})
		st.Zone, st.Subject, st.Name, st.Reaffirm = z.ID, a.ID, a.Name, false
		g.add(st)
		base := procedure.Step{Stage: N, Zone: z.ID, Subject: a.ID, Name: a.Name, Burning: true, Args: map[string]string{"natural": "yes", "input": trim(a.Burner.Input), "unit": a.Burner.Unit}}
		st = base
		st.ID, st.Ask, st.Form, st.LimitS, st.Reads, st.Cautions = join("spill", a.ID, "natural"), "spill.natural", procedure.FormClock, s.plan.Spillage.Cold, []string{rest}, []string{"burner-on"}
		g.add(st)
		g.draftSteps(a, base, []string{rest}, "natural")
	}
}

// needsNatural reports whether a failure at worst case calls for natural
// conditions: by the plan's triggers, and never with CO over 400 ppm, when
// the burner is not lit again.
func (s *State) needsNatural(a procedure.Appliance) bool {
	if a.Susceptible() == procedure.No {
		return false
	}
	spill := s.spillFailed(join("spill", a.ID)) || s.seen(join("together", a.ID)) == procedure.SeenWrong
	draft := s.draftFailed(a)
	if spill || draft {
		if g := s.answer(join("co", a.ID)); g != nil && g.Gas != nil {
			if g.Gas.OverRange {
				return false
			}
			for _, v := range g.Gas.CO {
				if v > emergencyCO {
					return false
				}
			}
		}
	}
	return spill && has(s.plan.Natural, "spillage") || draft && has(s.plan.Natural, "draft")
}

// emergencyCO, ppm as measured: above it with any venting failure the fuel is
// shut off and the burner is never lit again to get natural conditions
// (action matrix of the graded scheme, from memory).
const emergencyCO = 400

func (s *State) spillFailed(key string) bool {
	a := s.answer(key)
	if a == nil || a.Spill == nil {
		return false
	}
	if a.Spill.Outcome == procedure.SpillStill {
		return true
	}
	id := strings.Split(key, "/")[1]
	limit := s.spillLimit(id)
	if strings.HasSuffix(key, "/natural") {
		limit = s.plan.Spillage.Cold
	}
	return procedure.Bound{Value: limit, Sense: procedure.AtMost}.Side(a.Spill.Seconds, 0) != procedure.SideInside
}

func (s *State) draftFailed(a procedure.Appliance) bool {
	p := s.pressureObs(join("draft", a.ID))
	return p != nil && s.weak(a, *p)
}

// weak reports whether a draft does not reach what is asked of it.
func (s *State) weak(a procedure.Appliance, p procedure.PressureObs) bool {
	limit, ok := 0.0, false
	if a.Burner.Fuel == procedure.Oil {
		limit, ok = s.breech(a.ID)
	} else if t, known := s.OutdoorF(); known {
		limit, ok = procedure.DraftLimit(s.plan.Draft.Line, t)
	}
	if !ok {
		return false
	}
	u := procedure.DraftU(p, s.Instrument("gauge"), s.plan.Constants)
	return procedure.Bound{Value: limit, Sense: procedure.AtMost}.Side(procedure.MeanOf(p.Values), u) != procedure.SideInside
}

func (s *State) breech(id string) (float64, bool) {
	b := s.answer(join("breech", id))
	if b == nil || b.Number == nil || b.Number.Value == nil {
		return 0, false
	}
	pa, ok := toPa(*b.Number.Value, b.Number.Unit)
	return -math.Abs(pa), ok // a draft, typed with its minus or without
}

// cold says whether the vent is cold at light-off.
func (s *State) cold(id string) procedure.Tri {
	m, n := s.minutesSince(id)
	if m == nil {
		return procedure.Unknown
	}
	// Its own burner, or one on its vent, was lit since that was said.
	ref := s.last + 1
	if s.clockOn == join("spill", id) {
		ref = s.clockN[s.clockOn]
	} else if k := join("spill", id); s.Has(k) {
		ref = s.fact(k).lit
	}
	for _, l := range s.lit {
		if l.n > n && l.n < ref && (l.id == id || s.partners(id, l.id)) {
			return procedure.No
		}
	}
	if *m >= s.plan.Spillage.ColdAfter {
		return procedure.Yes
	}
	return procedure.No
}

// partners reports whether two appliances share a vent.
func (s *State) partners(a, b string) bool {
	for _, x := range s.appliances() {
		if x.ID == a {
			return has(x.Partners, b)
		}
	}
	return false
}

// minutesSince is how long the main burner had been off, and the event that
// says so.
func (s *State) minutesSince(id string) (*float64, int) {
	// The newest answer counts, of those before its spillage was timed.
	key, at := join("fired", id), 0
	spill := s.fact(join("spill", id))
	tail := join("/fired", id)
	for _, k := range s.resumed {
		if f := s.fact(k); strings.HasSuffix(k, tail) && s.Has(k) && f.n > at && (spill.n == 0 || f.n < spill.n || s.stale(join("spill", id))) {
			key, at = k, f.n
		}
	}
	a := s.answer(key)
	if a == nil || a.Number == nil {
		return nil, 0
	}
	return a.Number.Value, s.fact(key).n
}

func (s *State) spillLimit(id string) float64 {
	p := s.plan.Spillage
	switch s.cold(id) {
	case procedure.Yes:
		return p.Cold
	case procedure.No:
		return p.Warm
	}
	if p.Warm < p.Cold {
		return p.Warm
	}
	return p.Cold
}

// closeCall reports whether the net at worst case is too close to the
// strictest planned limit of the zone to be decided by single readings.
func (s *State) closeCall(zone string) bool {
	net, u, ok := s.Net(zone)
	if !ok {
		return false
	}
	for _, m := range s.ZoneLimits(zone) {
		if m.Found && m.Limit.Bound.Side(net, u) == procedure.SideTooClose {
			return true
		}
	}
	return false
}

// Net is the most negative difference so far at held worst case, and its
// give-or-take, pascals.
func (s *State) Net(zone string) (net, u float64, ok bool) {
	r := s.pressureObs(join("reading", zone, "worst"))
	if r == nil {
		return 0, 0, false
	}
	bases := s.baselines(zone)
	if len(bases) == 0 {
		return 0, 0, false
	}
	drift := 0.0
	for _, b := range bases {
		d := procedure.MeanOf(b.Values) - procedure.MeanOf(bases[0].Values)
		if d < 0 {
			d = -d
		}
		if d/2 > drift {
			drift = d / 2
		}
	}
	for _, b := range bases {
		x := procedure.MeanOf(r.Values) - procedure.MeanOf(b.Values)
		ux := procedure.NetU(*r, b, drift, s.Instrument("gauge"), s.plan.Constants)
		if !ok || x < net {
			net, u, ok = x, ux, true
		}
	}
	return net, u, ok
}

// ZoneLimits are the planned rows of each appliance in the zone that house
// pressure can touch.
func (s *State) ZoneLimits(zone string) []procedure.Choice {
	all := s.appliances()
	var out []procedure.Choice
	for _, a := range all {
		if a.Zone != zone || !a.Kind.Burns() || a.Kind.Cooking() || a.Vent.Type == procedure.Unvented || a.Kind == procedure.GasDryer || a.Burner.Fuel == procedure.Electricity || a.Facts.InsideBoundary == procedure.No {
			continue
		}
		out = append(out, procedure.Match(s.plan.Pressure, procedure.TraitsOf(a, all)))
	}
	return out
}

// baselines of a zone: opening, repeated after a stop, closing.
func (s *State) baselines(zone string) []procedure.PressureObs {
	var out []procedure.PressureObs
	if b := s.pressureObs(join("baseline", zone)); b != nil {
		out = append(out, *b)
	}
	again := join("baseline", zone, "again") + "/"
	for _, k := range s.order {
		if strings.HasPrefix(k, again) {
			if b := s.pressureObs(k); b != nil {
				out = append(out, *b)
			}
		}
	}
	if b := s.pressureObs(join("baseline", zone, "closing")); b != nil {
		out = append(out, *b)
	}
	return out
}
