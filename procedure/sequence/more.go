package sequence

import (
	"math"
	"slices"
	"strings"

	"cazward/procedure"
)

// Readings that the walk suggests once the scheme's own search is through. They
// come from a few rules, each about what an order that decides one thing after
// another cannot see. In drawn houses they leave next to nothing to find in still
// air (see package study), so no network is fitted to the readings. The tester
// takes a suggestion or leaves it; a reading that was taken counts like any other,
// so that a lower one is held and a milder one changes nothing.
//
// An answer names its rule, so that the record says what was suggested whatever
// a later version would suggest.
const (
	moreShut    = "air-doors"     // all air handlers on, all inside doors shut: a blower pulls hardest on what shut doors cut off from its supplies, and either alone may show nothing
	moreCAZ     = "caz-door"      // the CAZ door the other way, where all fans were never read with it so
	moreShutCAZ = "air-doors-caz" // moreShut with the CAZ door the other way
	moreDoors   = "shut-doors"    // all inside doors shut, in a home without air handlers: they were decided with the CAZ door set otherwise
	moreExhaust = "exhaust-doors" // bath and laundry doors open: a fan of their own pulls on the zone only through them
)

// moreRules in the order in which they are suggested, each again where another
// reading made it another set-up.
var moreRules = []string{moreShut, moreCAZ, moreShutCAZ, moreDoors, moreExhaust}

// moreChoices are the answers to a suggestion, by its rule: taken, left, and left
// with all that would follow. They reach records: append-only.
var moreChoices = map[string][]string{
	moreShut:    {"take-air-doors", "leave-air-doors", "stop-air-doors"},
	moreCAZ:     {"take-caz-door", "leave-caz-door", "stop-caz-door"},
	moreShutCAZ: {"take-air-doors-caz", "leave-air-doors-caz", "stop-air-doors-caz"},
	moreDoors:   {"take-shut-doors", "leave-shut-doors", "stop-shut-doors"},
	moreExhaust: {"take-exhaust-doors", "leave-exhaust-doors", "stop-exhaust-doors"},
}

const (
	moreTake  = "take-"
	moreLeave = "leave-"
	moreStop  = "stop-"
)

// moreAsks are the questions, each with its reason.
var moreAsks = map[string]string{moreShut: "more.air-doors", moreCAZ: "more.caz-door", moreShutCAZ: "more.air-doors-caz", moreDoors: "more.shut-doors", moreExhaust: "more.exhaust-doors"}

// moreRule takes an answer apart.
func moreRule(choice string) (act, rule string) {
	for _, act := range []string{moreTake, moreLeave, moreStop} {
		if rule, ok := strings.CutPrefix(choice, act); ok {
			return act, rule
		}
	}
	return "", ""
}

// more asks what is suggested of a zone, one at a time, and reads what is taken.
func (g *gen) more(z procedure.Zone) {
	s := g.s
	var gone []string // rules that were left, or not read after all
	for k := 1; k <= s.plan.More; k++ {
		key := join("more", z.ID, itoa(k))
		act, rule := moreRule(s.choice(key))
		if rule == "" {
			if !s.settled(key) {
				g.offer(z, k, gone)
			}
			return // left out: no more of them
		}
		g.add(g.moreStep(z, k, rule))
		sk := join("setup", z.ID, "more"+itoa(k))
		if act == moreTake {
			from := len(g.out)
			g.setup(sk, "setup.more", z, procedure.StageWorst, g.moreSetup(z, k, rule), false, "condenser")
			if !s.settled(sk) || s.Has(sk) { // else not set up after all
				g.pressure(join("reading", z.ID, "more"+itoa(k)), "pressure.step", z, procedure.StageWorst, sk, false)
			}
			for i := range g.out[from:] {
				g.out[from+i].Wanted = !s.readOnce(join("reading", z.ID, "more"+itoa(k))) // nothing hangs on it before it was read
			}
			if !s.settled(join("reading", z.ID, "more"+itoa(k))) && (!s.settled(sk) || s.Has(sk)) {
				return
			}
		}
		if act == moreStop {
			return
		}
		if act == moreLeave || !s.Has(join("reading", z.ID, "more"+itoa(k))) {
			gone = append(gone, rule)
		}
	}
}

// moreStep has no set-up: on screen it would be that of the house now.
func (g *gen) moreStep(z procedure.Zone, k int, rule string) procedure.Step {
	return procedure.Step{ID: join("more", z.ID, itoa(k)), Stage: procedure.StageWorst, Ask: moreAsks[rule], Form: procedure.FormChoice, Choices: moreChoices[rule], Zone: z.ID, Name: z.Name, Reads: houseReads}
}

// offer asks the next suggestion, if there is one.
func (g *gen) offer(z procedure.Zone, k int, gone []string) {
	if g.replaying { // one that this version would not make stands all the same
		st := g.moreStep(z, k, moreShut)
		st.Choices = nil
		for _, r := range moreRules {
			st.Choices = append(st.Choices, moreChoices[r]...)
		}
		g.add(st)
		return
	}
	if g.s.paper || g.s.Has(join("setup", z.ID, "worst")) || !g.searchWhole(z) {
		return
	}
	for _, rule := range moreRules {
		if slices.Contains(gone, rule) {
			continue
		}
		if _, ok := g.apply(z, rule, g.lowestSetup(z, k)); ok {
			g.add(g.moreStep(z, k, rule))
			return
		}
	}
}

// searchWhole reports whether the search left nothing out: a suggestion is no
// way to make up for that.
func (g *gen) searchWhole(z procedure.Zone) bool {
	doors, air, caz := g.decided(z)
	return doors && air && caz && len(g.worstFans()) > 0
}

// apply is a set-up changed by a rule; false where that was read before, or
// cannot be set.
func (g *gen) apply(z procedure.Zone, rule string, su procedure.Setup) (procedure.Setup, bool) {
	su = su.Clone()
	shut := func() bool {
		su.AirHandler, su.Doors = []string{}, []string{}
		for _, a := range g.air {
			su.AirHandler = append(su.AirHandler, a.ID)
		}
		for _, d := range g.doors {
			su.Doors = append(su.Doors, d.ID)
		}
		return len(g.air) > 0
	}
	turn := func() bool {
		su.CAZDoor = otherWay(su.CAZDoor)
		return z.Door == procedure.Yes
	}
	like := sameSetup
	switch rule {
	case moreShut:
		if !shut() {
			return su, false
		}
	case moreCAZ:
		if !turn() {
			return su, false
		}
		like = func(got, want procedure.Setup) bool { // however doors and air handlers were
			got.Doors, got.AirHandler = want.Doors, want.AirHandler
			return sameSetup(got, want)
		}
	case moreShutCAZ:
		if !shut() || !turn() {
			return su, false
		}
	case moreDoors:
		if su.CAZDoor == g.best(z, procedure.StageDoors).CAZDoor || shut() { // with air handlers moreShut asks it
			return su, false
		}
	case moreExhaust:
		opened := false
		for _, d := range g.doors {
			if k := procedure.DoorKind(d.Kind); k == procedure.BathDoor || k == procedure.LaundryDoor {
				before := len(su.Doors)
				su.Doors = slices.DeleteFunc(su.Doors, func(id string) bool { return id == d.ID })
				opened = opened || len(su.Doors) < before
			}
		}
		if !opened {
			return su, false
		}
	default:
		return su, false
	}
	return su, !slices.ContainsFunc(g.readings(z), func(r zoneReading) bool { return like(r.setup, su) })
}

// moreSetup is the set-up of a suggestion: as it was set, or as its rule makes it
// of what was lowest before it.
func (g *gen) moreSetup(z procedure.Zone, k int, rule string) procedure.Setup {
	key := join("setup", z.ID, "more"+itoa(k))
	if su, ok := g.s.fact(key).data.(*procedure.Setup); ok && g.s.Has(key) {
		return planned(*su)
	}
	su, _ := g.apply(z, rule, g.lowestSetup(z, k))
	return su
}

// planned is a set-up with the fans that it was meant to run.
func planned(su procedure.Setup) procedure.Setup {
	su = su.Clone()
	su.Fans, su.NotRun = append(su.Fans, su.NotRun...), nil
	return su
}

// zoneReading is a pressure of the search, or of a suggestion, number more.
type zoneReading struct {
	setup procedure.Setup
	mean  float64
	more  int
}

// readings of a zone in the search and after it, not those at the held worst
// case.
func (g *gen) readings(z procedure.Zone) []zoneReading {
	var out []zoneReading
	prefix := join("reading", z.ID) + "/"
	for _, key := range g.s.order {
		name, ok := strings.CutPrefix(key, prefix)
		if !ok || name == "worst" {
			continue
		}
		if p := g.s.pressureObs(key); p != nil {
			r := zoneReading{setup: p.Setup, mean: procedure.MeanOf(p.Values)}
			for k := 1; k <= g.s.plan.More; k++ {
				if name == "more"+itoa(k) {
					r.more = k
				}
			}
			out = append(out, r)
		}
	}
	return out
}

// lowestSetup is what the search holds, or the suggestion before number k that
// read lower.
func (g *gen) lowestSetup(z procedure.Zone, k int) procedure.Setup {
	su := g.searched(z)
	all := g.readings(z)
	lowest := func(fits func(zoneReading) bool) float64 {
		low := math.Inf(1)
		for _, r := range all {
			if fits(r) {
				low = min(low, r.mean)
			}
		}
		return low
	}
	low := lowest(func(r zoneReading) bool { return r.more == 0 && sameSetup(r.setup, su) })
	if math.IsInf(low, 1) { // it was never read by itself
		low = lowest(func(r zoneReading) bool { return r.more == 0 })
	}
	for _, r := range all {
		if r.more > 0 && r.more < k && r.mean < low {
			su, low = planned(r.setup), r.mean
		}
	}
	return su
}

// moreFits refuses a set-up of a suggestion that the house cannot have; which
// one it is, is the record's to say.
func (s *State) moreFits(step procedure.Step, d procedure.Setup, bad func(string, ...any) error) error {
	g := s.generator()
	ids := func(list []procedure.RosterItem) []string {
		var out []string
		for _, it := range list {
			out = append(out, it.ID)
		}
		return out
	}
	within := func(list, all []string) bool {
		for i, x := range list {
			if !has(all, x) || has(list[:i], x) {
				return false
			}
		}
		return true
	}
	want := *step.Setup
	if !within(d.Doors, ids(g.doors)) || !within(d.AirHandler, ids(g.air)) || (d.CAZDoor == "none") != (want.CAZDoor == "none") || d.CAZDoor != "none" && d.CAZDoor != "open" && d.CAZDoor != "closed" {
		return bad("the house has no such doors or air handlers")
	}
	want.Doors, want.AirHandler, want.CAZDoor = d.Doors, d.AirHandler, d.CAZDoor
	step.Setup = &want
	return s.setupFits(step, d, bad)
}

// offers reports whether a key is that of a suggestion with no answer.
func (s *State) offers(key string) bool {
	return strings.HasPrefix(key, "more/") && !s.settled(key)
}

// offerOnRecord is the step of a suggestion that a record holds and that this
// version would not make now.
func (s *State) offerOnRecord(key string) (procedure.Step, bool) {
	g := s.generator()
	g.only, g.replaying = partOf(key), true
	g.onlyZone, g.onlyStages = zonePart(g, key)
	g.all()
	for _, st := range g.out {
		if st.ID == key {
			return st, true
		}
	}
	return procedure.Step{}, false
}

// readOnce reports whether a reading was ever taken, whatever became of it.
func (s *State) readOnce(key string) bool {
	f := s.fact(key)
	if s.has(key) && f.kind != procedure.KindSkip {
		return true
	}
	for n, k := range s.byN {
		if k == key && n != f.n {
			return true
		}
	}
	return false
}
