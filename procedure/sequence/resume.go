package sequence

import (
	"slices"
	"sort"
	"strings"
	"time"

	"cazward/procedure"
)

// longStop is the stop after which the baseline is read again (own rule).
const longStop = time.Hour

// spoiled is a moment after which the house is not known to be as it was set:
// the test stopped, or the house was opened up to clear its air, or put back.
type spoiled struct {
	n    int
	stop bool
	long bool
	back bool
}

// spoils in the order of the record.
func (s *State) spoils() []spoiled {
	var out []spoiled
	for _, x := range s.stops {
		out = append(out, spoiled{n: x.n, stop: true, long: x.long})
	}
	for _, h := range s.hazards {
		if k := join("aired", itoa(h.n)); s.choice(k) == "opened" {
			out = append(out, spoiled{n: s.fact(k).n})
		}
	}
	for _, n := range s.backs {
		out = append(out, spoiled{n: n, back: true})
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].n < out[j].n })
	return out
}

// wantsBaseline reports whether what happened moved the zero: a long stop,
// weather that turned, a house that was opened up.
func (s *State) wantsBaseline(x spoiled) bool {
	return !x.stop || x.long || s.choice(join("resume", itoa(x.n), "weather")) == "turned"
}

// owes reports whether the baseline of a zone is older than what spoiled it.
func (s *State) owes(zone string, x spoiled) bool {
	base := join("baseline", zone)
	if !s.wantsBaseline(x) || !s.Has(base) || s.fact(base).n > x.n {
		return false
	}
	again := join(base, "again") + "/"
	for k, f := range s.facts {
		if strings.HasPrefix(k, again) && f.n > x.n && s.Has(k) {
			return false
		}
	}
	return true
}

// heldAgain is the n of the newest stop after which the zone must be read again
// before an appliance burns again, 0 for none.
func (s *State) heldAgain(id string) int {
	n := 0
	for _, x := range s.spoils() {
		if f, ok := s.facts[join("held", id)]; ok && f.n <= x.n {
			n = x.n
		}
	}
	for _, a := range s.appliances() { // or the worst case was set anew since
		f, ok := s.facts[join("held", id)]
		if w := s.fact(join("setup", a.Zone, "worst")); a.ID == id && ok && f.n < w.n {
			n = max(n, w.n)
		}
	}
	return n
}

// measuringStage reports whether a stage works on the house as it is set.
func measuringStage(id procedure.StageID) bool {
	switch id {
	case procedure.StageBaseline, procedure.StageFans, procedure.StageDoors, procedure.StageAirHandler, procedure.StageCAZDoor,
		procedure.StageWorst, procedure.StageAppliances, procedure.StageClosing, procedure.StageNatural:
		return true
	}
	return false
}

// resume puts, before the first open measuring step, what a stop or an opened
// house makes uncertain: ambient CO, the weather, how the house is prepared,
// minutes since burners ran, the baseline, the set-up in force.
func (g *gen) resume() {
	s := g.s
	spoils := s.spoils()
	if len(spoils) == 0 {
		return
	}
	early := s.early() // only what was answered already
	answered := func(prefix string) bool {
		for k := range s.facts {
			if below(k, prefix) {
				return true
			}
		}
		return false
	}
	at, again := -1, answered("resume")
	for i, st := range g.out {
		if measuringStage(st.Stage) && s.unmet(st) && !early {
			at = i
			break
		}
	}
	// The house that was put back is set again only for what stands on it.
	set := at >= 0 && slices.ContainsFunc(g.out, func(st procedure.Step) bool {
		return measuringStage(st.Stage) && (standsOn(st) != "" || st.Form == procedure.FormSetup) && s.unmet(st)
	})
	spoils = slices.DeleteFunc(spoils, func(x spoiled) bool { return x.back && !set && !answered(join("resume", itoa(x.n))) })
	stage := procedure.StageBaseline
	if at >= 0 {
		stage = g.out[at].Stage
	} else if !again {
		return
	} else {
		at = len(g.out)
		for i, st := range g.out {
			if st.Stage == procedure.StagePutBack || st.Stage == procedure.StageDecide {
				at = i
				break
			}
		}
	}
	save := g.out
	g.out = nil
	// A later one asks again what an earlier one left open.
	lastStop, lastBase, lastLong := 0, 0, 0
	for _, x := range spoils {
		if x.stop {
			lastStop = x.n
		}
		if s.wantsBaseline(x) {
			lastBase = x.n
		}
		if x.long || !x.stop {
			lastLong = x.n
		}
	}
	if early {
		lastStop, lastBase, lastLong = 0, 0, 0
	}
	// Where nothing was set yet and the air was read since, nothing is owed.
	spoils = slices.DeleteFunc(spoils, func(x spoiled) bool { return s.setupBefore(x.n) == nil && s.fact(keyAmbient).n > x.n })
	for i, x := range spoils {
		newest := i == len(spoils)-1 && !early
		p := join("resume", itoa(x.n))
		open := newest || x.stop && x.n == lastStop
		if open || answered(join(p, "ambient")) {
			g.add(procedure.Step{ID: join(p, "ambient"), Stage: stage, Ask: "ambient.resume", Form: procedure.FormAmbient, Unit: "ppm", Cautions: []string{"house-still-changed"}})
		}
		if k := join(p, "weather"); x.stop && s.fact(keyWeather).n <= x.n && (open || answered(k)) {
			g.add(procedure.Step{ID: k, Stage: stage, Ask: "resume.weather", Form: procedure.FormChoice, Choices: []string{"as-before", "turned"}})
			if s.choice(k) == "turned" {
				g.add(procedure.Step{ID: join(p, "outdoors"), Stage: stage, Ask: "arrive.weather", Form: procedure.FormWeather})
			}
		}
		prepared := len(g.zones) > 0 && answered(keyPrepare) && s.fact(join(keyPrepare, "windows-shut")).n <= x.n
		if k := join(p, "house"); prepared && (x.n == lastLong || answered(k)) {
			st := g.checklist(k, stage, "resume.house", procedure.AgainLines)
			st.Cautions, st.Reaffirm = []string{"before-pulling-down"}, false
			g.add(st)
		}
		g.firedAgain(p, x.n, stage, open)
	}
	// The zero is read, and the house set, once all of that is known.
	for i, x := range spoils {
		newest := i == len(spoils)-1 && !early
		p := join("resume", itoa(x.n))
		for _, z := range g.zones {
			k := join("baseline", z.ID, "again", itoa(x.n))
			begun := s.owes(z.ID, x) && x.n == lastBase
			if begun {
				begun = false
				for _, st := range save {
					begun = begun || st.Zone == z.ID && measuringStage(st.Stage) && s.unmet(st)
				}
			}
			if begun || answered(k) {
				off := join("setup", z.ID, "off"+itoa(x.n))
				g.setup(off, "setup.off", z, stage, g.off(z), false)
				g.pressure(k, "pressure.baseline", z, stage, off, false, "baseline-off")
			}
		}
		if cur := s.setupBefore(x.n); cur != nil && !x.back && (newest || answered(join(p, "setup"))) {
			g.setAgain(p, cur, stage)
		}
	}
	g.out = slices.Insert(save, at, g.out...)
}

// setupBefore is the newest set-up fact before event n, nil for none.
func (s *State) setupBefore(n int) *fact {
	var cur *fact
	for k, f := range s.facts {
		if f.kind == procedure.KindSetup && (strings.HasPrefix(k, "setup/") || strings.HasPrefix(k, "resume/")) && f.made > 0 && f.made <= n && (cur == nil || f.made > cur.made) {
			cur = f
		}
	}
	return cur
}

// StillChanged is what may still be as the test made it, for who comes back to
// the house: the set-up that was confirmed last, nil where that was everything
// off, and the appliances whose burners were lit since everything was off, or
// would have been lit for the step that was asked last. No event says that
// they were shut down, so nothing is left out for that. Once the house was put
// back there is nothing.
func (s *State) StillChanged() (setup *procedure.Setup, lit []string) {
	cur, off := s.setupBefore(s.last), 0
	for k, f := range s.facts {
		if su, ok := f.data.(*procedure.Setup); ok && !strings.HasSuffix(k, "/worst") && !changes(*su) {
			off = max(off, f.n)
		}
	}
	back, all := s.putBackAt(), true
	for k := range s.facts {
		all = all && (!strings.HasPrefix(k, keyPutBack+"/") || s.seen(k) == procedure.SeenOK)
	}
	if all && back > off && (cur == nil || back > cur.n) {
		return nil, nil
	}
	burns := map[string]bool{}
	for _, l := range s.lit {
		burns[l.id] = burns[l.id] || l.n > off
	}
	for k, f := range s.facts {
		if p := strings.Split(k, "/"); len(p) > 1 && f.n > off && f.kind != procedure.KindSkip {
			switch p[0] {
			case "flame", "draft", "breech", "co", "ambient":
				burns[p[1]] = true
			}
		}
	}
	for _, st := range s.Steps() {
		if st.Burning && s.unmet(st) {
			if st.Form == procedure.FormGas { // nothing before it says that the burner is lit
				burns[st.Subject] = true
			}
			break
		}
	}
	for _, a := range s.appliances() {
		if burns[a.ID] {
			lit = append(lit, a.ID)
		}
	}
	if cur != nil && changes(*cur.data.(*procedure.Setup)) {
		c := cur.data.(*procedure.Setup).Clone()
		setup = &c
	}
	return setup, lit
}

// changes reports whether a set-up has anything on or an inside door shut.
func changes(su procedure.Setup) bool {
	return len(su.Fans)+len(su.AirHandler)+len(su.Doors) > 0 || su.FlowCFM > 0
}

// setAgain asks for the set-up that was in force.
func (g *gen) setAgain(p string, cur *fact, stage procedure.StageID) {
	key := g.s.byN[cur.n]
	zone := g.s.zoneOfKey(key)
	if q := strings.Split(key, "/"); q[0] == "resume" && len(q) == 4 {
		zone = q[3]
	}
	for _, z := range g.zones {
		if z.ID != zone {
			continue
		}
		su := cur.data.(*procedure.Setup).Clone()
		su.Fans, su.NotRun = append(su.Fans, su.NotRun...), nil
		g.setup(join(p, "setup", z.ID), "setup.resume", z, stage, su, false, "house-still-changed")
		g.out[len(g.out)-1].Reads = nil
	}
}

// firedAgain asks the minutes since burners ran that are not lit yet.
func (g *gen) firedAgain(p string, n int, stage procedure.StageID, open bool) {
	s := g.s
	var items []procedure.Item
	for _, a := range g.fired("") {
		f, ok := s.facts[join("fired", a.ID)]
		k := join(p, "fired", a.ID)
		_, had := s.facts[k]
		if had || open && a.Susceptible() != procedure.No && !s.Has(join("spill", a.ID)) && ok && f.n <= n {
			items = append(items, procedure.Item{Key: k, Code: "appliance", Name: a.Name})
		}
	}
	if len(items) > 0 {
		g.add(procedure.Step{ID: join(p, "fired"), Stage: stage, Ask: "prepare.fired", Form: procedure.FormNumbers, Unit: "min", Items: items})
	}
}
