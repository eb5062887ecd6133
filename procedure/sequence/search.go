package sequence

import (
	"slices"
	"strings"

	"cazward/procedure"
)

// worstFans are the devices that run at worst case.
func (g *gen) worstFans() []string {
	out := []string{}
	for _, f := range g.fans {
		if procedure.FanKind(f.Kind).RunsAtWorstCase() {
			out = append(out, f.ID)
		}
	}
	return out
}

func (g *gen) dryers() []string {
	out := []string{}
	for _, f := range g.fans {
		if f.Kind == string(procedure.Dryer) {
			out = append(out, f.ID)
		}
	}
	return out
}

func (g *gen) off(z procedure.Zone) procedure.Setup {
	su := procedure.Setup{Fans: []string{}, Doors: []string{}, AirHandler: []string{}, CAZDoor: "open"}
	if z.Door != procedure.Yes {
		su.CAZDoor = "none"
	}
	return su
}

// worstBefore is the worst case that the record before a daily test had found,
// where everything it hangs on stands as it did: the short test holds that and
// does not search again. What was searched for today, or reads lower with a
// blower on, says that it must be.
func (g *gen) worstBefore(z procedure.Zone) (procedure.Setup, bool) {
	s := g.s
	if s.header.Phase != procedure.Daily || s.header.Prior == nil || s.choice(KeySince) != onlySealing {
		return procedure.Setup{}, false
	}
	for _, k := range s.order {
		p := strings.Split(k, "/")
		switch {
		case len(p) < 3 || p[1] != z.ID:
		case slices.Contains(rounds, p[0]), p[0] == "reading" && p[2] != "worst",
			p[0] == "setup" && p[2] != "worst" && g.ofSearch(k):
			return procedure.Setup{}, false
		}
	}
	if w, ok := s.meanPa(join("reading", z.ID, "worst")); ok {
		base, _ := s.meanPa(join("baseline", z.ID))
		for _, k := range s.heldKeys(z.ID) {
			if v, ok := s.meanPa(k); ok && weaker(w, v, base) {
				return procedure.Setup{}, false
			}
		}
	}
	was, _ := s.carried(join("worst", z.ID))
	if was.Setup == nil {
		return procedure.Setup{}, false
	}
	for _, k := range []string{keyHome, keyAppliances, keyZones, keyFans, keyDoors, keyAir, join("zone", z.ID, "door")} {
		now := s.answer(k)
		before, _ := s.carried(k)
		if now == nil || essence(now) != essence(&before) {
			return procedure.Setup{}, false
		}
	}
	return was.Setup.Clone(), true
}

// ofSearch reports whether a set-up is one of the search for the worst case.
func (g *gen) ofSearch(key string) bool {
	_, stages := zonePart(g, key)
	return partOf(key) == partZones && slices.ContainsFunc(stages, func(id procedure.StageID) bool { return slices.Contains(searchStages, id) })
}

// hoses are the facts of the hose check that a pressure of the zone rests on.
func (g *gen) hoses(z procedure.Zone) []string {
	return g.memo.hoses.once(z.ID, func() []string {
		out := make([]string, 0, len(procedure.HoseLines))
		for _, c := range procedure.HoseLines {
			out = append(out, join("hose", z.ID, c))
		}
		return out
	})
}

func (g *gen) zoneStage(z procedure.Zone, id procedure.StageID) {
	s := g.s
	_, before := g.worstBefore(z)
	if before && slices.Contains(searchStages, id) {
		return
	}
	switch id {
	case procedure.StageHose:
		st := g.checklist(join("hose", z.ID), id, "hose.check", procedure.HoseLines)
		st.Zone, st.Name = z.ID, z.Name
		g.add(st)
	case procedure.StageBaseline:
		g.setup(join("setup", z.ID, "baseline"), "setup.off", z, id, g.off(z), false)
		g.pressure(join("baseline", z.ID), "pressure.baseline", z, id, join("setup", z.ID, "baseline"), false, "baseline-off")
	case procedure.StageFans, procedure.StageDoors, procedure.StageAirHandler, procedure.StageCAZDoor:
		g.search(z, id)
	case procedure.StageWorst:
		ask := "setup.before"
		if !before {
			ask = "setup.worst"
			if g.key == "" || strings.Contains(g.key, "more") {
				g.more(z)
			}
		}
		k := join("setup", z.ID, "worst")
		if !g.leftOut(k) {
			g.setup(k, ask, z, id, g.worst(z), true, "held")
		}
		g.pressure(join("reading", z.ID, "worst"), "pressure.worst", z, id, k, true)
		if !(g.leftOut(join("settle", z.ID)) && g.leftOut(join("pairs", z.ID))) && s.closeCall(z.ID) {
			g.add(procedure.Step{ID: join("settle", z.ID), Stage: id, Ask: "settle", Form: procedure.FormChoice, Choices: []string{"pairs-now", "go-on"}, Zone: z.ID, Name: z.Name, Held: true, Reads: []string{join("reading", z.ID, "worst"), join("baseline", z.ID)}})
			if s.choice(join("settle", z.ID)) == "pairs-now" {
				st := procedure.Step{ID: join("pairs", z.ID), Stage: id, Ask: "pairs", Form: procedure.FormPairs, Unit: "Pa", Zone: z.ID, Name: z.Name, Held: true, Reads: append([]string{k}, g.hoses(z)...)}
				st.SetupN = s.fact(k).n
				g.add(st)
			}
		}
		// Once the worst case is known, what the planned sealing will do to it
		// can be told: a wanted fact, of the house, asked once.
		if a := s.answer(keyCFM50); !g.leftOut(keySealTo) && s.header.Phase != procedure.TestOut && a != nil && a.Number != nil && a.Number.Value != nil && z.ID == g.firstZone() {
			_, had := s.facts[keySealTo]
			if _, _, ok := s.Net(z.ID); ok && (had || !s.anyOf("held", "spill", "putback")) {
				g.add(procedure.Step{ID: keySealTo, Stage: id, Ask: "sealing.cfm50", Form: procedure.FormNumber, Unit: "cfm", Wanted: true, Held: true})
			}
		}
	case procedure.StageClosing:
		if s.plan.Baseline.Closing {
			g.setup(join("setup", z.ID, "closing"), "setup.closing", z, id, g.off(z), false)
			g.pressure(join("baseline", z.ID, "closing"), "pressure.closing", z, id, join("setup", z.ID, "closing"), false, "baseline-off")
		}
	case procedure.StageNatural:
		g.natural(z)
	}
}

// search walks one stage of the search for the worst case. What came before
// is kept in the best set-up so far, so the stages work in any order.
func (g *gen) search(z procedure.Zone, id procedure.StageID) {
	// with is what was decided before, and one thing otherwise
	with := func(change func(su *procedure.Setup)) func() procedure.Setup {
		return func() procedure.Setup {
			su := g.best(z, id).Clone()
			change(&su)
			return su
		}
	}
	switch id {
	case procedure.StageFans:
		all := g.worstFans()
		if d := g.dryers(); g.s.plan.DryerFirst && len(d) > 0 && len(all) > len(d) {
			g.try(z, id, "dryer", "setup.dryer", "pressure.step", with(func(su *procedure.Setup) { su.Fans = d }))
		}
		if len(all) > 0 {
			g.try(z, id, "fans", "setup.fans", "pressure.step", with(func(su *procedure.Setup) { su.Fans = all }))
		}
	case procedure.StageDoors:
		g.doorRound(z, id, "doors")
	case procedure.StageAirHandler:
		for i, c := range g.airSets() {
			g.try(z, id, "air"+itoa(i+1), "setup.air", "pressure.air", with(func(su *procedure.Setup) { su.AirHandler = c }), "condenser")
		}
		g.doorRound(z, id, "redoors")
	case procedure.StageCAZDoor:
		if g.readsDoor(z) {
			g.try(z, id, "cazdoor", "setup.cazdoor", "pressure.step", with(func(su *procedure.Setup) { su.CAZDoor = "closed" }))
		}
	}
	if id == g.laterOf(procedure.StageAirHandler, procedure.StageCAZDoor) {
		for _, c := range g.crossed(z) {
			g.try(z, id, c.name, "setup.cazair", "pressure.step", func() procedure.Setup { return g.cross(z, g.best(z, id), c) }, "condenser")
		}
		g.doorRound(z, id, "cazdoors")
	}
	// The stand-in for a fireplace comes on top of all the rest, so after the
	// last stage of the search, whichever the plan has last.
	if f := g.s.plan.Fireplace; f != nil && g.openFireplace() && id == g.lastSearch() {
		g.try(z, id, "fireplace", "setup.fireplace", "pressure.step", func() procedure.Setup { return g.standIn(z) }, "fireplace")
		if g.s.settled(join("reading", z.ID, "fireplace")) {
			g.doorRound(z, id, "firedoors")
			if z.Door == procedure.Yes {
				g.try(z, id, "firecaz", "setup.cazdoor", "pressure.step", func() procedure.Setup {
					su := g.standIn(z)
					su.CAZDoor = otherWay(su.CAZDoor)
					return su
				})
			}
		}
	}
}

// try asks for a set-up of the search and for the reading in it. The caution
// stands at the set-up; one of a fireplace at the reading too.
func (g *gen) try(z procedure.Zone, id procedure.StageID, name, ask, read string, su func() procedure.Setup, caution ...string) {
	k := join("setup", z.ID, name)
	if !g.leftOut(k) {
		g.setup(k, ask, z, id, su(), false, caution...)
	}
	if !slices.Contains(caution, "fireplace") {
		caution = nil
	}
	g.pressure(join("reading", z.ID, name), read, z, id, k, false, caution...)
}

// standIn is the set-up with the flow that stands in for a lit fireplace on top
// of all that was decided without it.
func (g *gen) standIn(z procedure.Zone) procedure.Setup {
	su := g.best(z, procedure.StageWorst)
	su.FlowCFM = g.s.plan.Fireplace.CFM
	return su
}

// otherWay is the other position of a CAZ door, where there is one.
func otherWay(door string) string {
	switch door {
	case "open":
		return "closed"
	case "closed":
		return "open"
	}
	return door
}

// crossing is a combination of air handlers and CAZ door that the two stages,
// one after the other, did not read.
type crossing struct {
	name string
	air  []string
	door string
}

// crossed are the combinations of air handlers and CAZ door still to be read
// once both were tried, where the plan wants them.
func (g *gen) crossed(z procedure.Zone) []crossing {
	sets := g.airSets()
	if !g.s.plan.AirHandler.WithCAZDoor || len(sets) == 0 || !g.readsDoor(z) || !g.s.airDone(z.ID, len(sets)) || !g.s.settled(join("reading", z.ID, "cazdoor")) {
		return nil
	}
	var out []crossing
	if g.laterOf(procedure.StageAirHandler, procedure.StageCAZDoor) == procedure.StageAirHandler {
		door := otherWay(g.best(z, procedure.StageAirHandler).CAZDoor) // than when the air handlers were tried
		for i, c := range sets {
			out = append(out, crossing{"cazair" + itoa(i+1), c, door})
		}
		return out
	}
	kept := g.airKept(z)
	for i, c := range append([][]string{{}}, sets...) {
		if !sameSet(c, kept) { // with that the CAZ door was read
			out = append(out, crossing{"cazair" + itoa(i), c, "closed"})
		}
	}
	return out
}

// cross puts a crossed combination into a set-up. Without an air handler doors
// are as they were decided without one.
func (g *gen) cross(z procedure.Zone, su procedure.Setup, c crossing) procedure.Setup {
	su = su.Clone()
	if kept := g.airKept(z); len(c.air) == 0 && len(kept) > 0 && g.rechecks() {
		before := su.Clone()
		before.AirHandler, before.CAZDoor, before.Doors = kept, g.best(z, procedure.StageAirHandler).CAZDoor, g.shutDoors(z, "doors")
		if g.tableDone(z, "redoors", before) {
			su.Doors = before.Doors
		}
	}
	su.AirHandler, su.CAZDoor = append([]string{}, c.air...), c.door
	return su
}

// crossKept is the crossed combination that left the zone lower than what
// would be held without it, once each was read.
func (g *gen) crossKept(z procedure.Zone) (crossing, bool) {
	c := g.memo.cross.once(z.ID, func() crossing {
		c, _ := g.lowestCross(z)
		return c
	})
	return c, c.name != ""
}

func (g *gen) lowestCross(z procedure.Zone) (crossing, bool) {
	all := g.crossed(z)
	names := []string{g.atDoor(z)} // what would be held without
	if g.laterOf(procedure.StageAirHandler, procedure.StageCAZDoor) == procedure.StageCAZDoor || len(g.airKept(z)) == 0 {
		names = append(names, "cazdoor")
	}
	for _, c := range all {
		if !g.s.settled(join("reading", z.ID, c.name)) {
			return crossing{}, false
		}
		names = append(names, c.name)
	}
	best, _ := g.lowest(z, names...)
	for _, c := range all {
		if c.name == best {
			return c, true
		}
	}
	return crossing{}, false
}

// laterOf is the one of some stages that the plan has last.
func (g *gen) laterOf(stages ...procedure.StageID) procedure.StageID {
	last := procedure.StageID("")
	for _, st := range g.s.plan.Stages {
		if slices.Contains(stages, st.ID) {
			last = st.ID
		}
	}
	return last
}

// lastSearch is the last stage of the search in the order of the plan.
func (g *gen) lastSearch() procedure.StageID { return g.laterOf(searchStages...) }

// readsDoor reports whether the zone is read with its door shut too: as the
// plan says, and a louvred one always, as used and shut.
func (g *gen) readsDoor(z procedure.Zone) bool {
	return z.Door == procedure.Yes && (g.s.plan.CAZDoor != "" || z.Louvred == procedure.Yes)
}

func (g *gen) openFireplace() bool {
	for _, a := range g.appl {
		if a.Kind == procedure.Fireplace {
			return true
		}
	}
	return false
}

// rounds in which doors may be decided, each in its own set-up.
var rounds = []string{"doors", "redoors", "cazdoors", "firedoors"}

// roundIn is the set-up in which a round decides the doors; false where there
// is no such round, or not yet.
func (g *gen) roundIn(z procedure.Zone, round string) (procedure.Setup, bool) {
	switch round {
	case "doors":
		return g.best(z, procedure.StageDoors), true
	case "redoors": // again with the air handler that was kept
		kept := g.airKept(z)
		su := g.best(z, procedure.StageAirHandler)
		su.AirHandler = kept
		return su, len(kept) > 0 && g.s.plan.AirHandler.RecheckDoors && g.s.airDone(z.ID, len(g.airSets()))
	case "cazdoors": // and with a crossed combination
		c, ok := g.crossKept(z)
		if !ok || len(c.air) == 0 || !g.s.plan.AirHandler.RecheckDoors {
			return procedure.Setup{}, false
		}
		return g.cross(z, g.best(z, g.laterOf(procedure.StageAirHandler, procedure.StageCAZDoor)), c), true
	case "firedoors":
		if g.s.plan.Fireplace != nil && g.openFireplace() {
			return g.standIn(z), true
		}
	}
	return procedure.Setup{}, false
}

// doorRound asks the doors in one table and reads the zone with them set,
// where that changed anything.
func (g *gen) doorRound(z procedure.Zone, stage procedure.StageID, round string) {
	table, set, read := join(round, z.ID), join("setup", z.ID, round), join("reading", z.ID, round)
	if len(g.doors) == 0 || g.leftOut(table) && g.leftOut(set) && g.leftOut(read) {
		return
	}
	cur, ok := g.roundIn(z, round)
	if !ok {
		return
	}
	s := g.s
	if s.plan.Doors != "close-all" {
		st := procedure.Step{ID: table, Stage: stage, Ask: "doors.smoke", Form: procedure.FormTable, Choices: smokeChoices, Zone: z.ID, Name: z.Name}
		if s.plan.Doors == "pressure" {
			st.Ask, st.Choices, st.Reads = "doors.pressure", presChoices, slices.Clone(g.hoses(z))
		}
		if round != "doors" {
			st.Ask += "-again"
		}
		c := cur.Clone()
		st.Setup = &c
		st.Reads = append(append(st.Reads, join("zone", z.ID, "door")), houseReads...)
		if k := g.madeAs(z, cur); k != "" {
			st.Reads = append(st.Reads, k)
		}
		for _, d := range g.doors {
			st.Items = append(st.Items, procedure.Item{Key: join(table, d.ID), Code: "door", Name: g.name(d.ID)})
		}
		g.add(st)
		if s.unmet(st) {
			return
		}
	}
	su := cur.Clone()
	su.Doors = g.shutDoors(z, round)
	if sameSet(su.Doors, cur.Doors) {
		return
	}
	g.setup(set, "setup.doors", z, stage, su, false)
	g.pressure(read, "pressure.step", z, stage, set, false)
}

// madeAs is the set-up of the search that was made as a round of doors wants it.
func (g *gen) madeAs(z procedure.Zone, want procedure.Setup) string {
	of := join("setup", z.ID) + "/"
	for _, k := range g.s.order {
		if !strings.HasPrefix(k, of) {
			continue
		}
		if su, ok := g.s.fact(k).data.(*procedure.Setup); ok && g.s.Has(k) && (g.ofSearch(k) || k == join("setup", z.ID, "baseline")) && sameSetup(*su, want) {
			return k
		}
	}
	return ""
}

// shutDoors: smoke that lingers or goes toward the zone's side leaves the
// door shut, smoke that goes under it into the room opens it (gold sheet,
// standards as listed in the scheme); not known is shut.
func (g *gen) shutDoors(z procedure.Zone, round string) []string {
	return g.memo.doors.once([2]string{z.ID, round}, func() []string {
		out := make([]string, 0, len(g.doors))
		for _, d := range g.doors {
			c := g.s.choice(join(round, z.ID, d.ID))
			if g.s.plan.Doors == "close-all" || c != "into-room" && c != "higher" && c != "same" {
				out = append(out, d.ID)
			}
		}
		return slices.Clip(out)
	})
}

// airSets are the combinations of air handlers to try, each at least one: all
// of up to four, of more each alone and all together.
func (g *gen) airSets() [][]string {
	if g.memo.sets == nil && len(g.air) > 0 {
		g.memo.sets = g.combinations()
	}
	return g.memo.sets
}

func (g *gen) combinations() [][]string {
	var out [][]string
	n := len(g.air)
	if n > 4 {
		var all []string
		for _, a := range g.air {
			out, all = append(out, []string{a.ID}), append(all, a.ID)
		}
		return append(out, all)
	}
	for m := 1; m < 1<<n; m++ {
		var set []string
		for i := 0; i < n; i++ {
			if m&(1<<i) != 0 {
				set = append(set, g.air[i].ID)
			}
		}
		out = append(out, set)
	}
	return out
}

func (s *State) airDone(zone string, sets int) bool {
	for i := 1; i <= sets; i++ {
		if !s.settled(join("reading", zone, "air"+itoa(i))) {
			return false
		}
	}
	return sets > 0
}

// lowest is which of the named readings is the most negative.
func (g *gen) lowest(z procedure.Zone, names ...string) (string, bool) {
	best, low := "", 0.0
	for _, n := range names {
		k := join("reading", z.ID, n)
		if n == "baseline" {
			k = join("baseline", z.ID)
		}
		if m, ok := g.s.meanPa(k); ok && (best == "" || m < low) {
			best, low = n, m
		}
	}
	return best, best != ""
}

// lastBefore is the last reading, in the order of the plan, with the fans and
// doors that come before a stage in place.
func (g *gen) lastBefore(z procedure.Zone, stage procedure.StageID) string {
	last := "baseline"
	for _, st := range g.s.plan.Stages {
		if st.ID == stage {
			break
		}
		if n := string(st.ID); (st.ID == procedure.StageFans || st.ID == procedure.StageDoors) && g.s.Has(join("reading", z.ID, n)) {
			last = n
		}
	}
	return last
}

// atDoor is the reading with all in place that is held when the CAZ door is
// tried, or when it was tried before the air handler.
func (g *gen) atDoor(z procedure.Zone) string {
	kept := g.airKept(z)
	for i, c := range g.airSets() {
		if len(kept) > 0 && sameSet(c, kept) {
			if g.s.Has(join("reading", z.ID, "redoors")) {
				return "redoors"
			}
			return "air" + itoa(i+1)
		}
	}
	return g.lastBefore(z, procedure.StageCAZDoor)
}

// airKept is the combination that left the zone lowest, none when what was
// read before was lower.
func (g *gen) airKept(z procedure.Zone) []string {
	return g.memo.air.once(z.ID, func() []string { return g.lowestAir(z) })
}

func (g *gen) lowestAir(z procedure.Zone) []string {
	before := []string{g.lastBefore(z, procedure.StageAirHandler)}
	if g.laterOf(procedure.StageAirHandler, procedure.StageCAZDoor) == procedure.StageAirHandler {
		before = append(before, "cazdoor")
	}
	names := slices.Clone(before)
	for i := range g.airSets() {
		names = append(names, "air"+itoa(i+1))
	}
	best, ok := g.lowest(z, names...)
	if !ok || slices.Contains(before, best) {
		return []string{}
	}
	for i, c := range g.airSets() {
		if best == "air"+itoa(i+1) {
			return c
		}
	}
	return []string{}
}

// best is the set-up with all that earlier stages of the plan decided.
func (g *gen) best(z procedure.Zone, upTo procedure.StageID) procedure.Setup {
	return g.memo.best.once([2]string{z.ID, string(upTo)}, func() procedure.Setup {
		su := g.decidedBefore(z, upTo)
		su.Fans, su.Doors, su.AirHandler = slices.Clip(su.Fans), slices.Clip(su.Doors), slices.Clip(su.AirHandler)
		return su
	})
}

func (g *gen) decidedBefore(z procedure.Zone, upTo procedure.StageID) procedure.Setup {
	su := g.off(z)
	for _, st := range g.s.plan.Stages {
		if st.ID == upTo {
			break
		}
		switch st.ID {
		case procedure.StageFans:
			su.Fans = g.worstFans()
		case procedure.StageDoors:
			if len(g.doors) > 0 {
				su.Doors = g.shutDoors(z, "doors")
			}
		case procedure.StageAirHandler:
			if g.s.airDone(z.ID, len(g.airSets())) {
				su.AirHandler = append([]string{}, g.airKept(z)...)
				if len(su.AirHandler) > 0 && g.rechecks() && g.tableDone(z, "redoors", su) {
					su.Doors = g.shutDoors(z, "redoors")
				}
			}
		case procedure.StageCAZDoor:
			before := g.lastBefore(z, procedure.StageCAZDoor)
			if g.laterOf(procedure.StageAirHandler, procedure.StageCAZDoor) == procedure.StageCAZDoor {
				before = g.atDoor(z)
			}
			if low, ok := g.lowest(z, before, "cazdoor"); z.Door == procedure.Yes && ok && low == "cazdoor" {
				su.CAZDoor = "closed"
			}
		}
		if st.ID != g.laterOf(procedure.StageAirHandler, procedure.StageCAZDoor) {
			continue
		}
		if c, ok := g.crossKept(z); ok {
			su = g.cross(z, g.best(z, st.ID), c)
			if len(c.air) > 0 && g.rechecks() && g.tableDone(z, "cazdoors", su) {
				su.Doors = g.shutDoors(z, "cazdoors")
			}
		}
	}
	return su
}

// tableDone reports whether each door was decided in a round and a set-up.
func (g *gen) tableDone(z procedure.Zone, round string, su procedure.Setup) bool {
	var keys []string
	for _, d := range g.doors {
		keys = append(keys, join(round, z.ID, d.ID))
	}
	return len(keys) > 0 && g.s.decidedIn(keys, su)
}

// rechecks reports whether the plan decides doors again with an air handler on.
func (g *gen) rechecks() bool {
	return g.s.plan.AirHandler.RecheckDoors && len(g.doors) > 0 && g.s.plan.Doors != "close-all"
}

// worst is the set-up to hold: what the search decided, or a suggestion that
// read lower.
func (g *gen) worst(z procedure.Zone) procedure.Setup {
	if su, ok := g.worstBefore(z); ok {
		return su
	}
	return g.lowestSetup(z, g.s.plan.More+1)
}

// searched is all that the search decided, with the fireplace stand-in where the
// plan has one.
func (g *gen) searched(z procedure.Zone) procedure.Setup {
	su := g.best(z, procedure.StageWorst)
	if g.s.plan.Fireplace != nil && g.openFireplace() {
		su = g.standIn(z)
		if g.s.plan.Doors != "close-all" && g.tableDone(z, "firedoors", su) {
			su.Doors = g.shutDoors(z, "firedoors")
		}
		if low, ok := g.lowest(z, "fireplace", "firedoors", "firecaz"); ok && low == "firecaz" {
			su.CAZDoor = otherWay(su.CAZDoor)
		}
	}
	return su
}
