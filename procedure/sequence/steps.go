package sequence

import (
	"maps"
	"math"
	"slices"
	"sort"
	"strings"

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
	return ""
}

// inForce reports whether the house stands as a set-up says: nothing else was
// set since, and it was not put back. One that was left out holds up nothing.
func (s *State) inForce(key string) bool {
	su, ok := s.facts[key].data.(*procedure.Setup)
	if !ok {
		return true
	}
	cur := s.setupBefore(s.last)
	if cur == nil || s.putBackAt() > cur.n {
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
		if su, ok := s.facts[st.ID].data.(*procedure.Setup); ok {
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
		if !s.settled(k) || s.facts[k].under != nil && !sameSetup(*s.facts[k].under, su) {
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
	g := s.generator()
	g.only = partOf(key)
	if g.only == partZones {
		g.onlyZone, g.onlyStages = zonePart(g, key)
	}
	if g.only != partAll {
		g.key = key
	}
	g.all()
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
	g := &gen{s: s, appl: s.appliances(), zones: s.Zones()}
	g.fans, _ = s.roster(keyFans)
	g.doors, _ = s.roster(keyDoors)
	g.air, _ = s.roster(keyAir)
	return g
}

type gen struct {
	s     *State
	appl  []procedure.Appliance
	zones []procedure.Zone
	fans  []procedure.RosterItem
	doors []procedure.RosterItem
	air   []procedure.RosterItem
	out   []procedure.Step
	full  bool // list what the whole test asks, early end or not
	only  part // generate this part of the test alone
	// of partZones alone this zone, "" for all, and these stages
	onlyZone   string
	onlyStages []procedure.StageID
	// key of the fact whose step is looked for, "" for all steps: others may
	// be left out
	key string
	// replaying looks for the suggestion that a record holds
	replaying bool
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
	p := strings.Split(key, "/")
	switch p[0] {
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
		if len(p) > 2 && (p[2] == "again" || strings.HasPrefix(p[2], "off")) {
			return partAll
		}
	}
	return partZones
}

var searchStages = []procedure.StageID{procedure.StageFans, procedure.StageDoors, procedure.StageAirHandler, procedure.StageCAZDoor}

// zonePart is the zone, "" for any, and the stages that can ask for a fact of
// a zone or of an appliance in it.
func zonePart(g *gen, key string) (string, []procedure.StageID) {
	p := append(strings.Split(key, "/"), "", "")
	one := func(id procedure.StageID) []procedure.StageID { return []procedure.StageID{id} }
	switch p[0] {
	case "hose":
		return p[1], one(procedure.StageHose)
	case "sealing":
		return "", one(procedure.StageWorst)
	case "more", "settle", "pairs":
		return p[1], one(procedure.StageWorst)
	case "doors", "redoors", "cazdoors", "firedoors":
		return p[1], g.searchPart(p[0])
	case "baseline":
		if p[2] == "closing" {
			return p[1], one(procedure.StageClosing)
		}
		return p[1], one(procedure.StageBaseline)
	case "reading", "setup":
		if strings.HasPrefix(p[2], "more") {
			return p[1], one(procedure.StageWorst)
		}
		switch p[2] {
		case "worst":
			return p[1], one(procedure.StageWorst)
		case "baseline":
			return p[1], one(procedure.StageBaseline)
		case "closing":
			return p[1], one(procedure.StageClosing)
		case "natural":
			return p[1], one(procedure.StageNatural)
		}
		return p[1], g.searchPart(p[2])
	case "cooled":
		return "", one(procedure.StageNatural)
	case "spill", "draft":
		if p[2] == "natural" {
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
		return id == procedure.StageLook || id == procedure.StagePrepare
	}
	return g.only == part(id)
}

func (g *gen) add(st procedure.Step) {
	if g.key != "" && !g.moves() && !asks(st, g.key) {
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

func (g *gen) stages() []procedure.StageID {
	var out []procedure.StageID
	for _, st := range g.s.plan.Stages {
		out = append(out, st.ID)
	}
	return out
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

// blocked: something at arrival forbids pulling the house down.
func (s *State) blocked() bool {
	for _, c := range procedure.ReadyLines {
		k := join(keyReady, c)
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

func (s *State) ending() bool {
	for _, f := range s.facts {
		if k, ok := f.data.(*procedure.Skip); ok && k.Reason == procedure.SkipEndingEarly {
			return true
		}
	}
	return false
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

func (g *gen) all() {
	s := g.s
	if g.only == partAll {
		g.hazardSteps()
	}
	hazards := len(g.out)
	stages := g.stages()
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
			if g.full || !s.early() {
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
			if i > 0 && zoneStage(stages[i-1]) || !g.full && s.early() {
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
	for _, z := range s.Zones() {
		if k := join("baseline", z.ID); s.Has(k) && s.facts[k].n < n {
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
	st := procedure.Step{ID: id, Stage: stage, Ask: ask, Form: procedure.FormChecklist, Reaffirm: true, Args: map[string]string{}}
	for _, c := range codes {
		st.Items = append(st.Items, procedure.Item{Key: join(id, c), Code: c})
	}
	return st
}

func (g *gen) arrive() {
	st := g.checklist(keyDanger, procedure.StageArrive, "arrive.danger", procedure.DangerLines)
	st.Form, st.Cautions, st.Reaffirm = procedure.FormGate, []string{"danger-gate"}, false
	g.add(st)
	if g.s.Leaving() && !g.full {
		return
	}
	st = g.checklist(keyReady, procedure.StageArrive, "arrive.ready", procedure.ReadyLines)
	st.Cautions = []string{"co-monitor"}
	g.add(st)
	if g.s.blocked() && !g.full {
		return
	}
	g.add(procedure.Step{ID: keyLEL, Stage: procedure.StageArrive, Ask: "ambient.lel", Form: procedure.FormAmbient, Unit: "%", Cautions: []string{"fuel-smell"}})
	g.add(procedure.Step{ID: keyAmbient, Stage: procedure.StageArrive, Ask: "ambient.arrive", Form: procedure.FormAmbient, Unit: "ppm", Cautions: []string{"ambient-tiers"}})
	g.add(procedure.Step{ID: keyWeather, Stage: procedure.StageArrive, Ask: "arrive.weather", Form: procedure.FormWeather})
	g.add(procedure.Step{ID: keyGauge, Stage: procedure.StageArrive, Ask: "arrive.gauge", Form: procedure.FormInstrument, Wanted: true, Args: map[string]string{"instrument": "gauge"}})
	g.add(procedure.Step{ID: keyAnalyser, Stage: procedure.StageArrive, Ask: "arrive.analyser", Form: procedure.FormInstrument, Wanted: true, Args: map[string]string{"instrument": "analyser"}})
}

func kindsOf[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, k := range list {
		out[i] = string(k)
	}
	return out
}

func (g *gen) carried() map[string]procedure.Answer {
	out := map[string]procedure.Answer{}
	if a := g.s.answer(KeyCarried); a != nil {
		for _, c := range a.Carried {
			out[c.Step] = c.Answer
		}
	}
	return out
}

// confirm offers what the earlier phase knew under the given keys.
func (g *gen) confirm(id, ask, name string, keys []string) {
	if g.leftOut(join("confirm", id)) {
		return
	}
	have := g.carried()
	st := procedure.Step{ID: join("confirm", id), Stage: procedure.StageList, Ask: ask, Form: procedure.FormConfirm, Choices: []string{"as-before", "changed"}, Name: name, Reaffirm: true}
	for _, k := range keys {
		a, ok := have[k]
		if !ok {
			return // something new is needed: ask it outright
		}
		st.Offer = append(st.Offer, procedure.CarriedOne{Step: k, Answer: a})
	}
	if len(st.Offer) > 0 {
		g.add(st)
	}
}

func (g *gen) list() {
	s := g.s
	L := procedure.StageList
	if s.header.Prior != nil {
		g.add(procedure.Step{ID: KeyCarried, Stage: L, Ask: "list.carried", Form: procedure.FormCarried})
	}
	g.confirm("appliances", "confirm.appliances", "", []string{keyHome, keyAppliances, keyZones})
	g.add(procedure.Step{ID: keyHome, Stage: L, Ask: "list.home", Form: procedure.FormChoice, Choices: kindsOf(procedure.HomeKinds)})
	g.add(procedure.Step{ID: keyAppliances, Stage: L, Ask: "list.appliances", Form: procedure.FormRoster, Choices: kindsOf(procedure.ApplianceKinds)})
	for _, id := range s.gone("") {
		g.add(procedure.Step{ID: join("gone", id), Stage: L, Ask: "list.gone", Form: procedure.FormChoice, Choices: []string{"taken-away", "still-here"}, Name: strings.ReplaceAll(strings.TrimRight(id, "-0123456789"), "-", " ")})
	}
	burns := false
	for _, a := range g.appl {
		if id := join("appliance", a.ID); !g.leftOut(join("confirm", id)) {
			g.confirm(id, "confirm.appliance", a.Name, applianceKeys(g.asCarried(a), len(g.zones)))
		}
		g.appliance(a, "burner")
		burns = burns || a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity
	}
	if !burns {
		return // all-electric: no zone, no fans, no hold
	}
	g.add(procedure.Step{ID: keyZones, Stage: L, Ask: "list.zones", Form: procedure.FormRoster, Choices: zonePlaces})
	for _, z := range g.zones {
		g.confirm(join("zone", z.ID), "confirm.zone", z.Name, []string{join("zone", z.ID, "door"), join("zone", z.ID, "volume")})
		g.add(procedure.Step{ID: join("zone", z.ID, "door"), Stage: L, Ask: "list.zone-door", Form: procedure.FormChoice, Choices: []string{"door", "louvred", "no-door"}, Zone: z.ID, Name: z.Name, Cautions: []string{"louvred"}})
		g.add(procedure.Step{ID: join("zone", z.ID, "volume"), Stage: L, Ask: "list.zone-volume", Form: procedure.FormNumber, Unit: string(reading.UnitFt3), Wanted: true, Zone: z.ID, Name: z.Name, Args: map[string]string{"kind": string(reading.KindVolume)}})
	}
	for _, a := range g.appl {
		if a.Burner.Fuel != procedure.Electricity {
			g.appliance(a, "zone", "vent", "category", "facts", "partners")
		}
	}
	g.confirm("fans", "confirm.fans", "", []string{keyFans})
	g.add(procedure.Step{ID: keyFans, Stage: L, Ask: "list.fans", Form: procedure.FormRoster, Choices: kindsOf(procedure.FanKinds)})
	g.confirm("doors", "confirm.doors", "", []string{keyDoors})
	g.add(procedure.Step{ID: keyDoors, Stage: L, Ask: "list.doors", Form: procedure.FormRoster, Choices: kindsOf(procedure.DoorKinds), Cautions: []string{"garage-door"}})
	g.confirm("airhandlers", "confirm.airhandlers", "", []string{keyAir})
	g.add(procedure.Step{ID: keyAir, Stage: L, Ask: "list.airhandlers", Form: procedure.FormRoster, Choices: []string{"air-handler"}})
	if g.s.header.Phase == procedure.Daily && slices.ContainsFunc(g.zones, func(z procedure.Zone) bool { return g.carried()[join("worst", z.ID)].Setup != nil }) {
		g.add(procedure.Step{ID: KeySince, Stage: L, Ask: "list.since", Form: procedure.FormChoice, Choices: []string{onlySealing, "more", "not-known"}})
	}
	g.add(procedure.Step{ID: keyCFM50, Stage: L, Ask: "list.cfm50", Form: procedure.FormNumber, Unit: "cfm", Wanted: true})
	if a := g.s.answer(keyCFM50); a != nil && a.Number != nil && a.Number.Value != nil {
		var items []procedure.Item // only beside CFM50 does a flow say anything
		for _, f := range g.fans {
			if _, had := g.s.facts[join("list/flows", f.ID)]; g.s.touched() && !had {
				continue // a wanted fact is not asked in the middle of the test
			}
			if procedure.FanKind(f.Kind).RunsAtWorstCase() && f.Kind != string(procedure.AtticFan) && f.Kind != string(procedure.RadonFan) {
				items = append(items, procedure.Item{Key: join("list/flows", f.ID), Code: "fan", Name: g.name(f.ID)})
			}
		}
		if len(items) > 0 {
			g.add(procedure.Step{ID: "list/flows", Stage: L, Ask: "list.flows", Form: procedure.FormNumbers, Unit: "cfm", Items: items, Wanted: true})
		}
	}
}

// asCarried is the appliance as the earlier phase knew it, so that all its
// facts are confirmed on one screen.
func (g *gen) asCarried(a procedure.Appliance) procedure.Appliance {
	have := g.carried()
	k := func(x string) procedure.Answer { return have[join("appliance", a.ID, x)] }
	if b := k("burner"); b.Burner != nil {
		a.Burner = *b.Burner
	}
	if v := k("vent"); v.Choice != "" && v.Choice != "not-known" {
		a.Vent.Type = procedure.VentType(v.Choice)
	}
	if f := k("facts"); f.VentFacts != nil {
		a.Facts = *f.VentFacts
	}
	return a
}

// appliance asks those of its inventory screens that are named.
func (g *gen) appliance(a procedure.Appliance, screens ...string) {
	if g.leftOut(join("appliance", a.ID)) {
		return
	}
	L := procedure.StageList
	k := func(x string) string { return join("appliance", a.ID, x) }
	base := func(id, ask string, f procedure.Form) procedure.Step {
		return procedure.Step{ID: k(id), Stage: L, Ask: ask, Form: f, Subject: a.ID, Name: a.Name, Zone: a.Zone}
	}
	for _, key := range applianceKeys(a, len(g.zones)) {
		if !has(screens, strings.TrimPrefix(key, k(""))) {
			continue
		}
		switch key {
		case k("zone"):
			st := base("zone", "list.appliance-zone", procedure.FormChoice)
			var names []string
			for _, z := range g.zones {
				st.Choices = append(st.Choices, z.ID)
				names = append(names, z.Name)
			}
			st.Args = map[string]string{"names": strings.Join(names, "|")}
			g.add(st)
		case k("burner"):
			g.add(base("burner", "list.burner", procedure.FormBurner))
		case k("vent"):
			st := base("vent", "list.vent", procedure.FormChoice)
			st.Choices = append(kindsOf(procedure.VentTypes), "not-known")
			g.add(st)
		case k("category"):
			st := base("category", "list.category", procedure.FormChoice)
			st.Choices = append(kindsOf(procedure.Categories), "not-known")
			g.add(st)
		case k("facts"):
			st := base("facts", "list.facts", procedure.FormFacts)
			if vented(a.Kind) {
				st.Reads = []string{k("vent")} // other vents are asked other facts
			}
			zones, _ := g.s.roster(keyZones)
			for _, c := range factCodes(a) {
				if c == "!inside" && inHouse(zones, a.Zone) {
					continue
				}
				st.Items = append(st.Items, procedure.Item{Key: c, Code: c})
			}
			g.add(st)
		case k("partners"):
			st := base("partners", "list.partners", procedure.FormPick)
			for _, b := range g.appl {
				if b.ID != a.ID && b.Kind.Burns() {
					st.Items = append(st.Items, procedure.Item{Key: b.ID, Code: "appliance", Name: b.Name})
				}
			}
			st.Items = append(st.Items, procedure.Item{Key: otherHome, Code: otherHome})
			g.add(st)
		}
	}
}

// fired lists the appliances that the test lights, smallest input first (the
// published order: a large one would warm a common vent for a small one);
// one of unknown input comes last.
func (g *gen) fired(zone string) []procedure.Appliance {
	var out []procedure.Appliance
	for _, a := range g.appl {
		if (zone == "" || a.Zone == zone) && a.Fired() && a.Facts.Fireable != procedure.No {
			out = append(out, a)
		}
	}
	rank := func(a procedure.Appliance) (int, float64) {
		r := 1
		if a.Susceptible() != procedure.No {
			r = 0
		}
		in := a.Burner.Input
		if a.Burner.Unit == "kW" {
			in *= 3412.142
		}
		if in < 1000 {
			in = 0 // another unit than was meant
		}
		switch {
		case in != 0:
		case a.Kind == procedure.WaterHeater:
			in = 40000 // about what they have: not behind a furnace on its vent
		default:
			in = 1e12
		}
		return r, in
	}
	sort.SliceStable(out, func(i, j int) bool {
		ri, ii := rank(out[i])
		rj, ij := rank(out[j])
		if ri != rj {
			return ri < rj
		}
		return ii < ij
	})
	return out
}

// needsZone reports whether a zone has anything that house pressure can touch.
func (g *gen) needsZone(zone string) bool {
	for _, a := range g.appl {
		if a.Facts.InsideBoundary == procedure.No {
			continue // the house cannot pull on it
		}
		if a.Zone == zone && (a.Susceptible() != procedure.No || a.Venting() != procedure.Unvented && a.Venting() != procedure.VentUnknown && a.Fired()) {
			return true
		}
	}
	return false
}

// anyOf reports whether a fact of one of the stems was answered.
func (s *State) anyOf(stems ...string) bool {
	for k := range s.facts {
		if stem, _, _ := strings.Cut(k, "/"); slices.Contains(stems, stem) {
			return true
		}
	}
	return false
}

// firstZone is the first zone that is measured.
func (g *gen) firstZone() string {
	for _, z := range g.zones {
		if g.needsZone(z.ID) {
			return z.ID
		}
	}
	return ""
}

func (g *gen) measuring(id procedure.StageID) {
	switch id {
	case procedure.StageLook:
		g.look()
	case procedure.StagePrepare:
		g.prepare()
	}
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

func (g *gen) look() {
	g.lookHouse()
	g.lookAt(func(procedure.Appliance) bool { return true })
}

func (g *gen) lookHouse() {
	lookHouse := g.checklist("look/house", procedure.StageLook, "look.house", procedure.HouseLines)
	lookHouse.Cautions = []string{"fuel-smell"}
	if len(g.zones) > 0 {
		g.add(lookHouse)
	}
}

// lookAt asks the look at the appliances that are wanted.
func (g *gen) lookAt(wanted func(procedure.Appliance) bool) {
	for _, a := range g.appl {
		if g.leftOut(join("look", a.ID)) && g.leftOut(join("serviced", a.ID)) {
			continue
		}
		codes := procedure.LookLines(a)
		if len(codes) == 0 || !wanted(a) {
			continue
		}
		if g.s.keptOff(a.ID) {
			g.add(procedure.Step{ID: join("serviced", a.ID), Stage: procedure.StageLook, Ask: "look.serviced", Form: procedure.FormChoice, Choices: []string{"put-right", "not-yet"}, Subject: a.ID, Name: a.Name, Zone: a.Zone, Cautions: []string{"hot-vent"}})
		}
		st := g.checklist(join("look", a.ID), procedure.StageLook, "look.appliance", codes)
		st.Subject, st.Name, st.Zone, st.Cautions = a.ID, a.Name, a.Zone, []string{"hot-vent"}
		g.add(st)
	}
}

func (g *gen) prepare() {
	if len(g.zones) == 0 {
		return
	}
	st := g.checklist(keyPrepare, procedure.StagePrepare, "prepare.house", procedure.PrepareLines(g.fans, g.air))
	st.Cautions = []string{"before-pulling-down"}
	g.add(st)
	var items []procedure.Item
	for _, a := range g.fired("") {
		if a.Susceptible() != procedure.No {
			items = append(items, procedure.Item{Key: join("fired", a.ID), Code: "appliance", Name: a.Name})
		}
	}
	if len(items) > 0 {
		g.add(procedure.Step{ID: keyFired, Stage: procedure.StagePrepare, Ask: "prepare.fired", Form: procedure.FormNumbers, Unit: "min", Items: items})
	}
}

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
	st.Reads = append([]string{setupKey}, hoses(z)...)
	if f, ok := g.s.facts[setupKey]; ok {
		st.SetupN = f.n
		if su, ok := f.data.(*procedure.Setup); ok {
			c := su.Clone()
			st.Setup = &c
		}
	}
	g.add(st)
}

// worstBefore is the worst case that the record before a daily test had found,
// where everything it hangs on stands as it did: the short test holds that and
// does not search again. What was searched for today, or reads lower with a
// blower on, says that it must be.
func (g *gen) worstBefore(z procedure.Zone) (procedure.Setup, bool) {
	s := g.s
	for _, k := range s.order {
		p := strings.Split(k, "/")
		switch {
		case len(p) < 3 || p[1] != z.ID:
		case p[0] == "doors", p[0] == "redoors", p[0] == "cazdoors", p[0] == "firedoors", p[0] == "reading" && p[2] != "worst",
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
	if s.header.Phase != procedure.Daily || s.header.Prior == nil || s.choice(KeySince) != onlySealing {
		return procedure.Setup{}, false
	}
	have := g.carried()
	was, ok := have[join("worst", z.ID)]
	if !ok || was.Setup == nil {
		return procedure.Setup{}, false
	}
	for _, k := range []string{keyHome, keyAppliances, keyZones, keyFans, keyDoors, keyAir, join("zone", z.ID, "door")} {
		now, before := s.answer(k), have[k]
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
func hoses(z procedure.Zone) []string {
	var out []string
	for _, c := range procedure.HoseLines {
		out = append(out, join("hose", z.ID, c))
	}
	return out
}

func (g *gen) zoneStage(z procedure.Zone, id procedure.StageID) {
	s := g.s
	if _, ok := g.worstBefore(z); ok && slices.Contains(searchStages, id) {
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
		if _, ok := g.worstBefore(z); !ok {
			g.more(z)
		}
		su := g.worst(z)
		k := join("setup", z.ID, "worst")
		ask := "setup.worst"
		if _, ok := g.worstBefore(z); ok {
			ask = "setup.before"
		}
		g.setup(k, ask, z, id, su, true, "held")
		g.pressure(join("reading", z.ID, "worst"), "pressure.worst", z, id, k, true)
		if s.closeCall(z.ID) {
			g.add(procedure.Step{ID: join("settle", z.ID), Stage: id, Ask: "settle", Form: procedure.FormChoice, Choices: []string{"pairs-now", "go-on"}, Zone: z.ID, Name: z.Name, Held: true, Reads: []string{join("reading", z.ID, "worst"), join("baseline", z.ID)}})
			if s.choice(join("settle", z.ID)) == "pairs-now" {
				st := procedure.Step{ID: join("pairs", z.ID), Stage: id, Ask: "pairs", Form: procedure.FormPairs, Unit: "Pa", Zone: z.ID, Name: z.Name, Held: true, Reads: append([]string{k}, hoses(z)...)}
				st.SetupN = s.facts[k].n
				g.add(st)
			}
		}
		// Once the worst case is known, what the planned sealing will do to it
		// can be told: a wanted fact, of the house, asked once.
		if a := s.answer(keyCFM50); s.header.Phase != procedure.TestOut && a != nil && a.Number != nil && a.Number.Value != nil && z.ID == g.firstZone() {
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
	r := func(x string) string { return join("reading", z.ID, x) }
	sk := func(x string) string { return join("setup", z.ID, x) }
	cur := g.best(z, id)
	switch id {
	case procedure.StageFans:
		all := g.worstFans()
		if d := g.dryers(); g.s.plan.DryerFirst && len(d) > 0 && len(all) > len(d) {
			su := cur.Clone()
			su.Fans = d
			g.setup(sk("dryer"), "setup.dryer", z, id, su, false)
			g.pressure(r("dryer"), "pressure.step", z, id, sk("dryer"), false)
		}
		if len(all) > 0 {
			su := cur.Clone()
			su.Fans = all
			g.setup(sk("fans"), "setup.fans", z, id, su, false)
			g.pressure(r("fans"), "pressure.step", z, id, sk("fans"), false)
		}
	case procedure.StageDoors:
		g.doorRound(z, id, "doors", cur)
	case procedure.StageAirHandler:
		for i, c := range g.airSets() {
			x := "air" + itoa(i+1)
			if g.leftOut(sk(x)) && g.leftOut(r(x)) {
				continue
			}
			su := cur.Clone()
			su.AirHandler = c
			g.setup(sk(x), "setup.air", z, id, su, false, "condenser")
			g.pressure(r(x), "pressure.air", z, id, sk(x), false)
		}
		if g.s.plan.AirHandler.RecheckDoors && g.s.airDone(z.ID, len(g.airSets())) {
			if kept := g.airKept(z); len(kept) > 0 {
				cur.AirHandler = kept
				g.doorRound(z, id, "redoors", cur)
			}
		}
	case procedure.StageCAZDoor:
		if g.readsDoor(z) {
			su := cur.Clone()
			su.CAZDoor = "closed"
			g.setup(sk("cazdoor"), "setup.cazdoor", z, id, su, false)
			g.pressure(r("cazdoor"), "pressure.step", z, id, sk("cazdoor"), false)
		}
	}
	if id == g.laterOf(procedure.StageAirHandler, procedure.StageCAZDoor) {
		for _, c := range g.crossed(z) {
			g.setup(sk(c.name), "setup.cazair", z, id, g.cross(z, cur, c), false, "condenser")
			g.pressure(r(c.name), "pressure.step", z, id, sk(c.name), false)
		}
		if c, ok := g.crossKept(z); ok && len(c.air) > 0 && g.s.plan.AirHandler.RecheckDoors {
			g.doorRound(z, id, "cazdoors", g.cross(z, cur, c))
		}
	}
	// The stand-in for a fireplace comes on top of all the rest, so after the
	// last stage of the search, whichever the plan has last.
	if f := g.s.plan.Fireplace; f != nil && g.openFireplace() && id == g.lastSearch() {
		su := g.best(z, procedure.StageWorst)
		su.FlowCFM = f.CFM
		g.setup(sk("fireplace"), "setup.fireplace", z, id, su, false, "fireplace")
		g.pressure(r("fireplace"), "pressure.step", z, id, sk("fireplace"), false, "fireplace")
		if g.s.settled(r("fireplace")) {
			g.doorRound(z, id, "firedoors", su)
			if z.Door == procedure.Yes {
				su2 := g.best(z, procedure.StageWorst)
				su2.FlowCFM = f.CFM
				if su2.CAZDoor == "closed" {
					su2.CAZDoor = "open"
				} else {
					su2.CAZDoor = "closed"
				}
				g.setup(sk("firecaz"), "setup.cazdoor", z, id, su2, false)
				g.pressure(r("firecaz"), "pressure.step", z, id, sk("firecaz"), false)
			}
		}
	}
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
		door := "closed" // the other way than when the air handlers were tried
		if g.best(z, procedure.StageAirHandler).CAZDoor == "closed" {
			door = "open"
		}
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

// laterOf is the one of two stages that the plan has later.
func (g *gen) laterOf(a, b procedure.StageID) procedure.StageID {
	last := procedure.StageID("")
	for _, st := range g.s.plan.Stages {
		if st.ID == a || st.ID == b {
			last = st.ID
		}
	}
	return last
}

// readsDoor reports whether the zone is read with its door shut too: as the
// plan says, and a louvred one always, as used and shut.
func (g *gen) readsDoor(z procedure.Zone) bool {
	return z.Door == procedure.Yes && (g.s.plan.CAZDoor != "" || z.Louvred == procedure.Yes)
}

// lastSearch is the last stage of the search in the order of the plan.
func (g *gen) lastSearch() procedure.StageID {
	var last procedure.StageID
	for _, st := range g.s.plan.Stages {
		switch st.ID {
		case procedure.StageFans, procedure.StageDoors, procedure.StageAirHandler, procedure.StageCAZDoor:
			last = st.ID
		}
	}
	return last
}

func (g *gen) openFireplace() bool {
	for _, a := range g.appl {
		if a.Kind == procedure.Fireplace {
			return true
		}
	}
	return false
}

// doorRound asks the doors in one table and reads the zone with them set,
// where that changed anything.
func (g *gen) doorRound(z procedure.Zone, stage procedure.StageID, round string, cur procedure.Setup) {
	if len(g.doors) == 0 {
		return
	}
	s := g.s
	if s.plan.Doors != "close-all" {
		st := procedure.Step{ID: join(round, z.ID), Stage: stage, Ask: "doors.smoke", Form: procedure.FormTable, Choices: smokeChoices, Zone: z.ID, Name: z.Name}
		if s.plan.Doors == "pressure" {
			st.Ask, st.Choices, st.Reads = "doors.pressure", presChoices, hoses(z)
		}
		if round != "doors" {
			st.Ask += "-again"
		}
		c := cur.Clone()
		st.Setup = &c
		st.Reads = append(append(st.Reads, join("zone", z.ID, "door")), houseReads...)
		for _, d := range g.doors {
			st.Items = append(st.Items, procedure.Item{Key: join(round, z.ID, d.ID), Code: "door", Name: g.name(d.ID)})
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
	g.setup(join("setup", z.ID, round), "setup.doors", z, stage, su, false)
	g.pressure(join("reading", z.ID, round), "pressure.step", z, stage, join("setup", z.ID, round), false)
}

// shutDoors: smoke that lingers or goes toward the zone's side leaves the
// door shut, smoke that goes under it into the room opens it (gold sheet,
// standards as listed in the scheme); not known is shut.
func (g *gen) shutDoors(z procedure.Zone, round string) []string {
	out := []string{}
	for _, d := range g.doors {
		c := g.s.choice(join(round, z.ID, d.ID))
		if g.s.plan.Doors == "close-all" || c != "into-room" && c != "higher" && c != "same" {
			out = append(out, d.ID)
		}
	}
	return out
}

// airSets are the combinations of air handlers to try, each at least one: all
// of up to four, of more each alone and all together.
func (g *gen) airSets() [][]string {
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

// before is the most negative reading of the stages named, with the key.
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
	if f := g.s.plan.Fireplace; f != nil && g.openFireplace() {
		su.FlowCFM = f.CFM
		if g.s.plan.Doors != "close-all" && g.tableDone(z, "firedoors", su) {
			su.Doors = g.shutDoors(z, "firedoors")
		}
		if low, ok := g.lowest(z, "fireplace", "firedoors", "firecaz"); ok && low == "firecaz" {
			if su.CAZDoor == "open" {
				su.CAZDoor = "closed"
			} else {
				su.CAZDoor = "open"
			}
		}
	}
	return su
}

func (g *gen) appliances(z procedure.Zone) {
	s := g.s
	A := procedure.StageAppliances
	wk := join("setup", z.ID, "worst")
	groups := map[string][]procedure.Appliance{}
	list := g.fired(z.ID)
	k, n := 0, 0
	for _, a := range list {
		if a.Susceptible() != procedure.No && s.shut(a.ID) == "" {
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
		if s.shut(a.ID) == "" {
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
		zoneReads := append(slices.Clone(reads), hoses(z)...)
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
		if s.shut(a.ID) != "" {
			g.notLit(a.ID, from)
			if gk := groupKey(a); gk != "" && g.begun(a, gk) { // what was seen at the other hoods is kept too
				groups[gk] = append(groups[gk], a)
			}
			continue
		}
		for _, k := range s.order { // after earlier stops
			if strings.HasPrefix(k, join("held", a.ID, "again")+"/") {
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
			g.heldAgain(first, base, append(append([]string{wk}, g.placed(first)...), hoses(z)...), from)
		}
	}
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

// begun reports whether this appliance became an emergency by a look at the
// hoods of its vent that is not told to its end: the rest of it is kept too.
func (g *gen) begun(a procedure.Appliance, gk string) bool {
	s := g.s
	k := join("together", a.ID)
	if at, ok := s.graveAt[a.ID]; !ok || !s.settled(k) || s.facts[k].n != at {
		return false
	}
	for _, b := range g.appl {
		if b.ID != a.ID && b.Zone == a.Zone && slices.Contains(strings.Split(gk, "+"), b.ID) && s.shut(b.ID) == "" && !s.settled(join("together", b.ID)) {
			return true
		}
	}
	return false
}

// notLit drops what is still to be done with a burner that must not be lit:
// known bad, not missing. The air is read all the same.
func (g *gen) notLit(id string, from int) {
	if g.s.shut(id) == "" {
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
	k := join("held", a.ID, "again", itoa(s.heldAgain(a.ID)))
	if s.heldAgain(a.ID) == 0 || s.has(k) || slices.ContainsFunc(g.out, func(st procedure.Step) bool { return st.ID == k }) {
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
		if has(a.Partners, p.ID) && p.Fired() && p.Facts.Fireable != procedure.No && g.s.shut(p.ID) == "" {
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
		if s.shut(a.ID) != "" || !s.needsNatural(a) {
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
		ref = s.facts[k].lit
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
	spill := s.facts[join("spill", id)]
	for k, f := range s.facts {
		if strings.HasPrefix(k, "resume/") && strings.HasSuffix(k, join("/fired", id)) && s.Has(k) && f.n > at && (spill.n == 0 || f.n < spill.n || s.stale(join("spill", id))) {
			key, at = k, f.n
		}
	}
	a := s.answer(key)
	if a == nil || a.Number == nil {
		return nil, 0
	}
	return a.Number.Value, s.facts[key].n
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
	for _, k := range s.order {
		if strings.HasPrefix(k, join("baseline", zone, "again")+"/") {
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
