package sequence

import (
	"maps"
	"math"
	"slices"
	"strings"
	"sync"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Next is the first step that present facts require and whose own fact is
// absent or stale; false when the test is complete.
func (s *State) Next() (procedure.Step, bool) {
	if s.closed {
		return procedure.Step{}, false
	}
	steps := s.Steps()
	for _, st := range steps {
		if !s.unmet(st) {
			continue
		}
		if k := standsOn(st); k != "" && !s.inForce(k) {
			for _, su := range steps {
				if su.ID == k {
					return su, true
				}
			}
		}
		return st, true
	}
	return procedure.Step{}, false
}

// standsOn is the set-up in which a step is taken, "" for none.
func standsOn(st procedure.Step) string {
	if st.Form == procedure.FormSetup || st.Form == procedure.FormDoubt {
		return ""
	}
	for _, k := range st.Reads {
		if strings.HasPrefix(k, "setup/") {
			return k
		}
	}
	switch stem, _, _ := strings.Cut(st.ID, "/"); stem {
	case "flame", "breech", "ambient": // seen of a burner while the zone is held
		if st.Held {
			return join("setup", st.Zone, "worst")
		}
	}
	return ""
}

// inForce reports whether the house stands as a set-up says: nothing else was
// set since, and it was not put back. One that was left out holds up nothing.
func (s *State) inForce(key string) bool {
	su, ok := s.fact(key).data.(*procedure.Setup)
	if !ok {
		return true
	}
	cur := s.setupBefore(s.last)
	if cur == nil || s.putBackAt() > cur.made {
		return false
	}
	now, want := cur.data.(*procedure.Setup), su.Clone()
	want.Fans = append(want.Fans, want.NotRun...)
	return s.setupZone(s.byN[cur.n]) == s.setupZone(key) && sameSetup(*now, want) && sameSet(now.NotRun, su.NotRun)
}

// setupZone is the zone for which a set-up was made.
func (s *State) setupZone(key string) string {
	if p := strings.Split(key, "/"); p[0] == "resume" && len(p) == 4 {
		return p[3]
	}
	return s.zoneOfKey(key)
}

// putBackAt is the event by which the house was last put back, 0 for not yet.
func (s *State) putBackAt() int {
	if len(s.backs) == 0 {
		return 0
	}
	return s.backs[len(s.backs)-1]
}

// NextFor is the first open step of one stage of a zone or of several, whatever
// else of the test is open: for those who want to know what a plan's search
// makes of a house, and nothing of the rest.
func (s *State) NextFor(zone string, stages ...procedure.StageID) (procedure.Step, bool) {
	g := s.generator()
	g.only, g.onlyZone, g.onlyStages = partZones, zone, stages
	g.all()
	for _, st := range g.out {
		if s.unmet(st) {
			return st, true
		}
	}
	return procedure.Step{}, false
}

// unmet reports whether a step still waits for its answer.
func (s *State) unmet(st procedure.Step) bool {
	if st.Form == procedure.FormConfirm {
		if s.settled(st.ID) {
			return false
		}
		for _, c := range st.Offer {
			if !s.settled(c.Step) {
				return true
			}
		}
		return false
	}
	switch st.Form {
	case procedure.FormDoubt:
		return true // generated only while open
	case procedure.FormCarried:
		return false // the program writes it, nobody is asked
	}
	for _, k := range st.Keys() {
		if !s.settled(k) {
			return true
		}
	}
	switch st.Form {
	case procedure.FormSetup:
		if su, ok := s.fact(st.ID).data.(*procedure.Setup); ok {
			return !sameSetup(*su, *st.Setup)
		}
	case procedure.FormTable:
		return !s.decidedIn(st.Keys(), *st.Setup)
	}
	return false
}

// decidedIn reports whether what a table of doors says was seen in a set-up.
func (s *State) decidedIn(keys []string, su procedure.Setup) bool {
	for _, k := range keys {
		if !s.settled(k) || s.fact(k).under != nil && !sameSetup(*s.fact(k).under, su) {
			return false
		}
	}
	return true
}

// sameSetup reports whether a set-up that was made is the one that is wanted; a
// fan noted as not running was meant to.
func sameSetup(got, want procedure.Setup) bool {
	return sameSet(append(append([]string{}, got.Fans...), got.NotRun...), want.Fans) && sameSet(got.Doors, want.Doors) &&
		sameSet(got.AirHandler, want.AirHandler) && got.CAZDoor == want.CAZDoor && got.FlowCFM == want.FlowCFM
}

// stepFor finds the step that asks for a fact.
func (s *State) stepFor(key string) (procedure.Step, bool) {
	if s.known.lines != nil && asks(*s.known.lines, key) {
		return *s.known.lines, true
	}
	g := s.generator()
	g.only = partOf(key)
	if g.only == partZones {
		g.onlyZone, g.onlyStages = zonePart(g, key)
	}
	if g.only != partAll {
		g.key = key
	}
	g.out, s.known.scratch = s.known.scratch[:0], nil
	g.all()
	s.known.scratch = g.out
	for _, st := range g.out {
		if asks(st, key) {
			return st, true
		}
	}
	return procedure.Step{}, false
}

// asks reports whether a step asks for a fact.
func asks(st procedure.Step, key string) bool {
	if st.ID == key {
		return true
	}
	switch st.Form {
	case procedure.FormChecklist, procedure.FormTable, procedure.FormNumbers, procedure.FormGate: // those whose items have keys of their own
		for _, it := range st.Items {
			if it.Key == key {
				return true
			}
		}
	}
	return false
}

// below reports whether a key is one that the named step asks for, or one
// that begins with its name.
func below(key, id string) bool {
	return strings.HasPrefix(key, id) && (len(key) == len(id) || key[len(id)] == '/')
}

// leftOut reports whether a step whose keys all begin with its own name is
// not the one that is looked for: a replay asks for one step at each event.
func (g *gen) leftOut(id string) bool { return g.key != "" && !below(g.key, id) }

// StepFor finds the step that asks for a fact, for corrections.
func (s *State) StepFor(key string) (procedure.Step, bool) { return s.stepFor(key) }

// Steps are all screens that present facts require, in plan order, answered
// or not. After an early end the measuring steps are left out.
func (s *State) Steps() []procedure.Step {
	g := s.generator()
	g.all()
	return g.out
}

func (s *State) generator() *gen {
	return &gen{s: s, home: s.home()}
}

type gen struct {
	s *State
	*home
	out  []procedure.Step
	full bool // list what the whole test asks, early end or not
	only part // generate this part of the test alone
	// of partZones alone this zone, "" for all, and these stages
	onlyZone   string
	onlyStages []procedure.StageID
	// key of the fact whose step is looked for, "" for all steps: others may
	// be left out
	key string
	// replaying looks for the suggestion that a record holds
	replaying bool
	memo      memo
}

// memo is what a generation asks over and over; the state stands still
// meanwhile, and nobody writes to what is kept here.
type memo struct {
	sets  [][]string                       // of air handlers
	best  kept[[2]string, procedure.Setup] // by zone and stage
	air   kept[string, []string]           // air handlers, by zone
	cross kept[string, crossing]           // combination kept, by zone, of no name for none
	hoses kept[string, []string]           // by zone
	doors kept[[2]string, []string]        // shut, by zone and round
	shut  kept[string, string]             // why an appliance is not lit
}

// kept is what was worked out of a few keys.
type kept[K comparable, V any] []struct {
	key   K
	value V
}

// once works out what is asked of a key, and keeps it.
func (k *kept[K, V]) once(key K, work func() V) V {
	for i := range *k {
		if (*k)[i].key == key {
			return (*k)[i].value
		}
	}
	v := work()
	*k = append(*k, struct {
		key   K
		value V
	}{key, v})
	return v
}

// part of the test that can be generated without the others.
type part string

const (
	partAll   part = ""      // what a stop brings, and doubts, hang on all the rest
	partZones part = "zones" // all that is asked for each zone
	partLook  part = "look"  // looks, of which preparing has some where the plan has no stage for them
)

// partOf is the part that asks for a fact.
func partOf(key string) part {
	stem, rest, _ := strings.Cut(key, "/")
	switch stem {
	case "arrive":
		return part(procedure.StageArrive)
	case "list", "appliance", "zone", "confirm", "gone":
		return part(procedure.StageList)
	case "prepare", "fired":
		return part(procedure.StagePrepare)
	case "putback":
		return part(procedure.StagePutBack)
	case "decide":
		return part(procedure.StageDecide)
	case "told":
		if key == KeyTold {
			return part(procedure.StageDecide)
		}
		return partAll
	case "source", "settled", "aired": // asked in the stage in which the test stands
		return partAll
	case "doubt", "resume":
		return partAll
	case "look", "serviced":
		return partLook
	case "baseline", "setup":
		_, rest, _ = strings.Cut(rest, "/")
		if again, _, _ := strings.Cut(rest, "/"); again == "again" || strings.HasPrefix(again, "off") {
			return partAll
		}
	}
	return partZones
}

var searchStages = []procedure.StageID{procedure.StageFans, procedure.StageDoors, procedure.StageAirHandler, procedure.StageCAZDoor}

// zonePart is the zone, "" for any, and the stages that can ask for a fact of
// a zone or of an appliance in it.
func zonePart(g *gen, key string) (string, []procedure.StageID) {
	stem, rest, _ := strings.Cut(key, "/")
	second, rest, _ := strings.Cut(rest, "/")
	third, _, _ := strings.Cut(rest, "/")
	one := func(id procedure.StageID) []procedure.StageID { return []procedure.StageID{id} }
	switch stem {
	case "hose":
		return second, one(procedure.StageHose)
	case "sealing":
		return "", one(procedure.StageWorst)
	case "more", "settle", "pairs":
		return second, one(procedure.StageWorst)
	case "doors", "redoors", "cazdoors", "firedoors":
		return second, g.searchPart(stem)
	case "baseline":
		if third == "closing" {
			return second, one(procedure.StageClosing)
		}
		return second, one(procedure.StageBaseline)
	case "reading", "setup":
		if strings.HasPrefix(third, "more") {
			return second, one(procedure.StageWorst)
		}
		switch third {
		case "worst":
			return second, one(procedure.StageWorst)
		case "baseline":
			return second, one(procedure.StageBaseline)
		case "closing":
			return second, one(procedure.StageClosing)
		case "natural":
			return second, one(procedure.StageNatural)
		}
		return second, g.searchPart(third)
	case "cooled":
		return "", one(procedure.StageNatural)
	case "spill", "draft":
		if third == "natural" {
			return "", one(procedure.StageNatural)
		}
	}
	return "", one(procedure.StageAppliances)
}

// searchPart is the stage of the search that has a reading, set-up or round
// of doors of this name.
func (g *gen) searchPart(name string) []procedure.StageID {
	switch name {
	case "dryer", "fans":
		return searchStages[:1]
	case "doors":
		return searchStages[1:2]
	case "redoors":
		return searchStages[2:3]
	case "cazdoor":
		return searchStages[3:]
	case "fireplace", "firedoors", "firecaz":
		return []procedure.StageID{g.lastSearch()}
	case "cazdoors":
		return []procedure.StageID{g.laterOf(procedure.StageAirHandler, procedure.StageCAZDoor)}
	}
	if strings.HasPrefix(name, "air") {
		return searchStages[2:3]
	}
	return searchStages
}

// wants reports whether a stage is generated.
func (g *gen) wants(id procedure.StageID) bool {
	switch g.only {
	case partAll:
		return true
	case partZones:
		return zoneStage(id)
	case partLook:
		return id == procedure.StageLook || id == procedure.StagePrepare && !slices.Contains(g.s.stages, procedure.StageLook)
	}
	return g.only == part(id)
}

func (g *gen) add(st procedure.Step) {
	if g.key != "" && !asks(st, g.key) {
		if g.moves() {
			g.out = append(g.out, st) // for its place alone
		}
		return
	}
	// Its own: the steps of an appliance begin from one base, and a held reading
	// must not be taken for the draft that follows it.
	if st.Args = maps.Clone(st.Args); st.Args == nil {
		st.Args = map[string]string{}
	}
	switch st.Form {
	case procedure.FormPressure, procedure.FormPairs:
		st.Args["instrument"] = "gauge"
		st.Args["kind"] = string(reading.KindZonePressure)
		if strings.HasPrefix(st.Ask, "draft") {
			st.Args["kind"] = string(reading.KindDraft)
		} else if b := g.s.plan.Baseline; b.MaxSpread > 0 {
			st.Args["max_spread"] = trim(b.MaxSpread)
		}
		switch st.Ask { // what the net rests on needs enough of a reading
		case "pressure.baseline", "pressure.worst", "pressure.closing":
			st.Args["min_samples"] = itoa(g.s.plan.Baseline.MinSamples)
			st.Args["min_averaging_s"] = trim(g.s.plan.Baseline.MinAveraging)
		}
	case procedure.FormGas:
		st.Args["kind"], st.Args["after"] = string(reading.KindFlueCO), trim(g.s.plan.CO.AfterMin)
	case procedure.FormBurner:
		st.Args["kind"] = string(reading.KindInput)
	}
	g.out = append(g.out, st)
}

// moves reports whether steps already generated are looked at again, or share
// their arguments with later ones: there none may be left out.
func (g *gen) moves() bool {
	return slices.Contains(g.onlyStages, procedure.StageAppliances) || slices.Contains(g.onlyStages, procedure.StageNatural)
}

// early reports whether the measuring part is over before its time: a danger
// that emptied the house, a house that must not be pulled down, or the
// tester's own end.
func (s *State) early() bool {
	return s.Leaving() || s.blocked() || s.ending()
}

// Leaving reports whether a hazard of this visit emptied the house.
func (s *State) Leaving() bool {
	for _, h := range s.hazards {
		if s.act(h.h) == procedure.ActLeave || s.act(h.h) == procedure.ActOut {
			return true
		}
	}
	return false
}

// Act is what a hazard demands under the plan's floor.
func (s *State) act(h procedure.Hazard) procedure.Act {
	switch h.Code {
	case procedure.Alarm, procedure.Symptoms, procedure.Smell:
		return procedure.ActOut
	case procedure.AmbientCO, procedure.LEL:
		v := math.NaN() // without a value it reaches every tier
		if h.Value != nil {
			v = *h.Value
		}
		t, ok := procedure.TierAt(s.plan.Interrupts, h.Code, v, h.OverRange)
		if !ok {
			return procedure.ActNone
		}
		return t.Act
	}
	return procedure.ActHold
}

// StopSince reports whether a hazard after event n demands that everybody
// leaves now: the program shows the stop screen and ends.
func (s *State) StopSince(n int) (procedure.Hazard, procedure.Act, bool) {
	var hz procedure.Hazard
	act := procedure.ActNone
	for _, h := range s.hazards {
		if h.n <= n && h.raised <= n {
			continue
		}
		if a := s.act(h.h); a == procedure.ActOut || a == procedure.ActLeave && act != procedure.ActOut {
			hz, act = h.h, a
		}
	}
	return hz, act, act != procedure.ActNone
}

// readyKeys are the facts of the lines of keyReady.
var readyKeys = sync.OnceValue(func() (out []string) {
	for _, c := range procedure.ReadyLines {
		out = append(out, join(keyReady, c))
	}
	return out
})

// blocked: something at arrival forbids pulling the house down.
func (s *State) blocked() bool {
	for _, k := range readyKeys() {
		if s.settled(k) && s.seen(k) != procedure.SeenOK {
			return true
		}
	}
	for _, x := range s.stops { // a fire lit while the test stood still
		if k := join("resume", itoa(x.n), "house", "no-live-fire"); s.settled(k) && s.seen(k) != procedure.SeenOK {
			return true
		}
	}
	return false
}

// ending reports whether the tester ended the test early.
func (s *State) ending() bool { return s.ends > 0 }

// ends reports whether data are a question left out because the test ended.
func ends(d procedure.Data) bool {
	k, ok := d.(*procedure.Skip)
	return ok && k.Reason == procedure.SkipEndingEarly
}

// shut reports whether a hazard forbids lighting the appliance.
func (s *State) shut(id string) string {
	if _, ok := s.grave[id]; ok {
		return "co-emergency"
	}
	if s.keptOff(id) && s.choice(join("serviced", id)) != "put-right" {
		return "not-serviced"
	}
	listed := func(id string) bool {
		return slices.ContainsFunc(s.appliances(), func(a procedure.Appliance) bool { return a.ID == id })
	}
	for _, h := range s.hazards {
		if h.h.Subject != id && listed(h.h.Subject) {
			continue // another's; of an unknown burner it could be this one
		}
		switch h.h.Code {
		case procedure.Rollout, procedure.FlameChange, procedure.Leak:
			return string(h.h.Code)
		}
	}
	switch {
	case s.seen("look/house/piping") == procedure.SeenWrong:
		return "leak"
	case s.seen(join("look", id, "fuel")) == procedure.SeenWrong:
		return "leak"
	case s.seen(join("look", id, "rollout-marks")) == procedure.SeenWrong:
		return "rollout-marks"
	case s.seen(join("look", id, "vent-connected")) == procedure.SeenWrong:
		return "vent-connected"
	case s.seen(join("flame", id, "blower-flame")) == procedure.SeenWrong:
		return "flame-change"
	}
	for _, h := range s.hazards {
		src := s.choice(join("source", itoa(h.n)))
		for _, g := range s.hazards { // the answer to a later one of the same place is this one's too
			if src == "" && g.n > h.n && g.h.Code == h.h.Code && g.h.Where == h.h.Where {
				src = s.choice(join("source", itoa(g.n)))
			}
		}
		if h.h.Code == procedure.AmbientCO && s.act(h.h) == procedure.ActHold && (src == id || src == "not-found" && (h.h.Subject == id || !listed(h.h.Subject))) {
			return "ambient-co"
		}
	}
	return ""
}

func (g *gen) shut(id string) string {
	return g.memo.shut.once(id, func() string { return g.s.shut(id) })
}

func (g *gen) all() {
	s := g.s
	if g.only == partAll {
		g.hazardSteps()
	}
	hazards := len(g.out)
	stages, ended := s.stages, !g.full && s.early()
	for i, id := range stages {
		if !g.wants(id) {
			continue
		}
		switch id {
		case procedure.StageArrive:
			g.arrive()
		case procedure.StageList:
			if g.full || !s.Leaving() && !s.blocked() {
				g.list()
			}
		case procedure.StagePutBack:
			g.putBack()
		case procedure.StageDecide:
			g.decide()
		case procedure.StageLook, procedure.StagePrepare:
			if !ended {
				if id == procedure.StagePrepare && !slices.Contains(stages, procedure.StageLook) {
					// What an earlier phase shut off is looked at again all the same.
					if slices.ContainsFunc(g.appl, func(a procedure.Appliance) bool { return s.keptOff(a.ID) }) {
						g.lookHouse()
					}
					g.lookAt(func(a procedure.Appliance) bool { return s.keptOff(a.ID) })
				}
				g.measuring(id)
			}
		default:
			// One zone after the other, each through its whole run of stages:
			// its burners are lit while the house is held for it.
			if i > 0 && zoneStage(stages[i-1]) || ended {
				continue
			}
			for _, z := range g.zones {
				for _, id := range stages[i:] {
					if !zoneStage(id) {
						break
					}
					g.zone(z, id)
				}
			}
		}
	}
	if g.only == partAll {
		g.resume()
		g.where(hazards)
		g.doubtsFirst()
	}
}

// where puts what a danger asks into the stage, the set-up and the light in
// which the test stands.
func (g *gen) where(hazards int) {
	for i, now := range g.out {
		if i < hazards || !measuringStage(now.Stage) || !g.s.unmet(now) {
			continue
		}
		for k := range g.out[:hazards] {
			if st := &g.out[k]; g.s.unmet(*st) {
				st.Stage, st.Zone, st.Held, st.Burning = now.Stage, now.Zone, now.Held, now.Burning
			}
		}
		return
	}
}

// hazardSteps ask who was told, and where ambient CO comes from.
func (g *gen) hazardSteps() {
	s := g.s
	if s.leakSeen() {
		g.add(procedure.Step{ID: "told/leak", Stage: procedure.StageLook, Ask: "told.hazard", Form: procedure.FormTold, Event: procedure.KindTold, Args: map[string]string{"hazard": string(procedure.Leak)}, Cautions: []string{"fuel-smell"}})
	}
	asked := map[string]bool{}
	newest := map[string]int{} // by place: what was settled before it came does not settle it
	for _, h := range s.hazards {
		if act := s.act(h.h); h.h.Code == procedure.AmbientCO && (act == procedure.ActSource || act == procedure.ActHold) {
			newest[h.h.Where] = max(newest[h.h.Where], h.n)
		}
	}
	for _, h := range s.hazards {
		act := s.act(h.h)
		n := itoa(h.n)
		args := map[string]string{"hazard": string(h.h.Code)}
		if h.h.Value != nil {
			args["value"] = trim(*h.h.Value)
		}
		if act == procedure.ActLeave || act == procedure.ActOut || h.h.Code == procedure.Leak {
			k := string(h.h.Code) + string(act)
			if !asked[k] {
				asked[k] = true
				g.add(procedure.Step{ID: join("told", n), Stage: g.stageNow(), Ask: "told.hazard", Form: procedure.FormTold, Event: procedure.KindTold, Args: args, Cautions: []string{"after-leave"}})
			}
		}
		if h.h.Code == procedure.AmbientCO && (act == procedure.ActSource || act == procedure.ActHold) && !asked["source"+n] {
			_, answered := s.facts[join("source", n)]
			if !answered && (h.n != newest[h.h.Where] || s.Leaving() && !g.full) {
				continue
			}
			asked["source"+n] = true
			var choices, items []string
			for _, a := range g.appl {
				choices = append(choices, a.ID)
				items = append(items, a.Name)
			}
			named := maps.Clone(args) // of this question alone
			named["names"] = strings.Join(items, "|")
			choices = append(choices, "outdoors", "other-source", "not-found")
			g.add(procedure.Step{ID: join("source", n), Stage: g.stageNow(), Ask: "ambient.source", Form: procedure.FormChoice, Choices: choices, Args: named, Cautions: []string{"ambient-source"}})
			c := s.choice(join("source", n))
			if c != "" && c != "not-found" {
				g.add(procedure.Step{ID: join("settled", n), Stage: g.stageNow(), Ask: "ambient.settled", Form: procedure.FormChoice, Choices: []string{"stopped", "still-there"}, Args: maps.Clone(args), Cautions: []string{"ambient-source"}})
			}
			if c != "" && (c == "not-found" || s.choice(join("settled", n)) != "") && s.baselineBefore(h.n) {
				// Clearing the air spoils the test: closed up again, the zero is read anew.
				g.add(procedure.Step{ID: join("aired", n), Stage: g.stageNow(), Ask: "ambient.aired", Form: procedure.FormChoice, Choices: []string{"kept-shut", "opened"}, Args: maps.Clone(args), Cautions: []string{"ambient-source"}})
			}
		}
	}
}

// baselineBefore reports whether a zone had its baseline before event n.
func (s *State) baselineBefore(n int) bool {
	for _, z := range s.home().zones {
		if k := join("baseline", z.ID); s.Has(k) && s.fact(k).n < n {
			return true
		}
	}
	return false
}

// leakSeen reports a leak marked on a look list.
func (s *State) leakSeen() bool {
	for k := range s.facts {
		if strings.HasPrefix(k, "look/") && (strings.HasSuffix(k, "/fuel") || strings.HasSuffix(k, "/piping")) && s.seen(k) == procedure.SeenWrong {
			return true
		}
	}
	return false
}

func (g *gen) stageNow() procedure.StageID { return procedure.StageArrive }

func (g *gen) checklist(id string, stage procedure.StageID, ask string, codes []string) procedure.Step {
	st := procedure.Step{ID: id, Stage: stage, Ask: ask, Form: procedure.FormChecklist, Reaffirm: true}
	if g.leftOut(id) && !g.moves() {
		return st // add leaves it out, and nobody looks at its lines
	}
	st.Args = map[string]string{}
	st.Items = make([]procedure.Item, 0, len(codes))
	for _, c := range codes {
		st.Items = append(st.Items, procedure.Item{Key: join(id, c), Code: c})
	}
	return st
}

// zoneStage reports whether a stage is walked for each zone.
func zoneStage(id procedure.StageID) bool {
	switch id {
	case procedure.StageArrive, procedure.StageList, procedure.StageLook, procedure.StagePrepare, procedure.StagePutBack, procedure.StageDecide:
		return false
	}
	return true
}

func (g *gen) zone(z procedure.Zone, id procedure.StageID) {
	switch {
	case g.onlyZone != "" && g.onlyZone != z.ID, g.onlyStages != nil && !slices.Contains(g.onlyStages, id):
	case id == procedure.StageAppliances:
		g.appliances(z)
	case g.needsZone(z.ID):
		g.zoneStage(z, id)
	}
}

var houseReads = []string{keyZones, keyFans, keyDoors, keyAir}

func (g *gen) setup(id, ask string, z procedure.Zone, stage procedure.StageID, su procedure.Setup, held bool, cautions ...string) {
	if g.leftOut(id) {
		return
	}
	c := su.Clone()
	st := procedure.Step{ID: id, Stage: stage, Ask: ask, Form: procedure.FormSetup, Event: procedure.KindSetup, Zone: z.ID, Name: z.Name,
		Setup: &c, Reads: append([]string{join("zone", z.ID, "door")}, houseReads...), Held: held, Cautions: cautions}
	if len(su.Fans) == 0 && len(su.AirHandler) == 0 && len(su.Doors) == 0 {
		st.Reads = st.Reads[:1] // all off: what there is to turn on does not touch it
	}
	for _, f := range su.Fans {
		st.Items = append(st.Items, procedure.Item{Key: f, Code: "fan-on", Name: g.name(f)})
	}
	for _, d := range su.Doors {
		st.Items = append(st.Items, procedure.Item{Key: d, Code: "door-shut", Name: g.name(d)})
	}
	for _, d := range g.doors {
		if !has(su.Doors, d.ID) && held {
			st.Items = append(st.Items, procedure.Item{Key: d.ID, Code: "door-open", Name: g.name(d.ID)})
		}
	}
	for _, a := range g.air {
		code := "air-off"
		if has(su.AirHandler, a.ID) {
			code = "air-on"
		}
		st.Items = append(st.Items, procedure.Item{Key: a.ID, Code: code, Name: g.name(a.ID)})
	}
	if su.CAZDoor != "none" {
		st.Items = append(st.Items, procedure.Item{Key: "caz-door", Code: "caz-" + su.CAZDoor, Name: z.Name})
	}
	if len(su.Fans) == 0 {
		st.Items = append(st.Items, procedure.Item{Key: "fans-off", Code: "fans-off"})
	}
	g.add(st)
}

func (g *gen) name(id string) string {
	for _, list := range [][]procedure.RosterItem{g.fans, g.doors, g.air} {
		for _, it := range list {
			if it.ID == id {
				if it.Name != "" {
					return it.Name
				}
				return it.ID
			}
		}
	}
	return id
}

func (g *gen) pressure(id, ask string, z procedure.Zone, stage procedure.StageID, setupKey string, held bool, cautions ...string) {
	if g.leftOut(id) {
		return
	}
	st := procedure.Step{ID: id, Stage: stage, Ask: ask, Form: procedure.FormPressure, Unit: "Pa", Zone: z.ID, Name: z.Name, Held: held, Cautions: cautions}
	st.Reads = append([]string{setupKey}, g.hoses(z)...)
	if f, ok := g.s.facts[setupKey]; ok {
		st.SetupN = f.n
		if su, ok := f.data.(*procedure.Setup); ok {
			c := su.Clone()
			st.Setup = &c
		}
	}
	g.add(st)
}

// another reports whether the step that is looked for is a step of one
// appliance alone, and not of this one.
func (g *gen) another(id string) bool {
	stem, rest, _ := strings.Cut(g.key, "/")
	switch stem {
	case "held":
		if strings.Contains(rest, "/again/") {
			return false // it may come from the look at all the hoods of a vent
		}
	case "spill", "flame", "breech", "draft", "co", "ambient":
	default:
		return false
	}
	return !below(rest, id)
}

func (g *gen) putBack() {
	s := g.s
	if s.Leaving() && !g.full {
		g.add(procedure.Step{ID: keyReentry, Stage: procedure.StagePutBack, Ask: "putback.reentry", Form: procedure.FormChoice, Choices: []string{"cleared", "not-cleared"}, Cautions: []string{"after-leave"}})
		if s.choice(keyReentry) != "cleared" {
			return
		}
		// The air is read before anybody kneels at a pilot.
		g.add(procedure.Step{ID: "putback/ambient", Stage: procedure.StagePutBack, Ask: "ambient.reentry", Form: procedure.FormAmbient, Unit: "ppm", Cautions: []string{"after-leave"}})
	}
	if !s.touched() && (!g.full || !slices.ContainsFunc(g.appl, procedure.Appliance.Fired)) {
		return // nothing in the house was changed, or would have been
	}
	st := g.checklist(keyPutBack, procedure.StagePutBack, "putback.house", procedure.PutBackLines(g.appl, g.fans, g.air))
	st.Cautions = []string{"put-back"}
	g.add(st)
}

// touched reports whether the tester changed anything in the house.
func (s *State) touched() bool {
	for k := range s.facts {
		if strings.HasPrefix(k, keyPrepare+"/") || strings.HasPrefix(k, "setup/") {
			return true
		}
	}
	return false
}

func (g *gen) decide() {
	g.add(procedure.Step{ID: KeyTold, Stage: procedure.StageDecide, Ask: "told.decision", Form: procedure.FormTold, Event: procedure.KindTold})
	g.add(procedure.Step{ID: keyTester, Stage: procedure.StageDecide, Ask: "decide.tester", Form: procedure.FormText})
}
