package sequence

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// apply takes one event. The receiver is already a copy.
func (s *State) apply(ev procedure.Event) error {
	if ev.N != s.last+1 {
		return refuse("order", ev.Step, "event %d does not follow event %d", ev.N, s.last)
	}
	if s.closed && ev.Kind != procedure.KindSign && ev.Kind != procedure.KindReopen {
		return refuse("closed", ev.Step, "the record is closed; reopen it first")
	}
	if ev.Data == nil || ev.Data.EventKind() != ev.Kind {
		return refuse("data", ev.Step, "event %d: data do not belong to a %s event", ev.N, ev.Kind)
	}
	s.back = s.back || ev.Written.Before(s.prevAt)
	s.paper = s.paper || ev.Src == procedure.FromSheet
	if h, resumed := ev.Data.(*procedure.Handover); ev.Src != procedure.FromSheet && !s.closed && ev.Written.Sub(s.prevAt) > longStop && !(resumed && h.Resumed) {
		// Nobody said that the test stopped, but it stood still: a closed lid.
		s.stops = append(s.stops, stop{ev.N, true})
		s.known.lines = nil
	}
	if ev.Kind != procedure.KindAnswer {
		s.known.lines = nil
	}
	err := s.take(ev)
	s.changed(ev.Kind == procedure.KindDoubt)
	if err != nil {
		return err
	}
	s.last, s.prevAt = ev.N, ev.Written
	if ev.Written.After(s.lastAt) {
		s.lastAt = ev.Written
	}
	return nil
}

func (s *State) take(ev procedure.Event) error {
	switch d := ev.Data.(type) {
	case *procedure.Plan:
		return refuse("plan", "", "a record has one plan, its first event")
	case *procedure.Answer:
		if d.SameAs != 0 {
			return s.reaffirm(ev, d.SameAs)
		}
		return s.put(ev, ev.Step, ev.Data)
	case *procedure.Setup, *procedure.Skip:
		return s.put(ev, ev.Step, ev.Data)
	case *procedure.Note:
		s.notes = append(s.notes, d.Text)
	case *procedure.Handover:
		if d.Who != "" {
			s.who = d.Who
		}
		s.instr = append(s.instr, d.Instruments...)
		if d.Resumed {
			gap := ev.Written.Sub(s.lastAt)
			if gap < 0 { // the computer's clock went back: how long it was is not known
				gap = 2 * longStop
			}
			gap, s.before = max(gap, s.before), 0 // a closed record lay before it was reopened
			s.sitting = ev.N
			s.stops = append(s.stops, stop{ev.N, gap > longStop})
			if s.clockOn != "" { // a clock interrupted by a stop is void
				s.clockN[s.clockOn] = ev.N
				s.clockOn = ""
			}
		}
	case *procedure.Timer:
		return s.timer(ev, d)
	case *procedure.Hazard:
		if d.Value != nil && (math.IsNaN(*d.Value) || *d.Value < 0) {
			return refuse("hazard", ev.Step, "a hazard's value cannot be %v", *d.Value)
		}
		s.hazards = append(s.hazards, hazard{n: ev.N, h: *d, at: ev.Observed})
		s.byN[ev.N] = join("hazard", itoa(ev.N))
	case *procedure.Attach:
		s.attach = append(s.attach, d.SHA256)
	case *procedure.Log:
		if !finite(d.Mean, d.S, d.StandardError) || d.S < 0 || d.StandardError <= 0 || d.Count < 2 || reading.Unit(d.Unit).Family() != reading.FamilyPressure {
			return refuse("form", ev.Step, "event %d: the window of a log has a mean, a scatter and a standard error in a unit of pressure", ev.N)
		}
		s.logs[ev.N] = *d
	case *procedure.House, *procedure.Sign:
	case *procedure.Doubt:
		return s.doubt(ev, d)
	case *procedure.Told:
		s.told = append(s.told, *d)
		return s.put(ev, ev.Step, ev.Data)
	case *procedure.Correct:
		return s.correct(ev, d)
	case *procedure.Decided:
		s.decided = ev.N
	case *procedure.Close:
		if d.Decided != s.decided || s.decided == 0 {
			return refuse("close", "", "close names decided event %d, the last is %d", d.Decided, s.decided)
		}
		s.closed = true
	case *procedure.Reopen:
		if !s.closed {
			return refuse("reopen", "", "the record is not closed")
		}
		s.closed, s.again = false, ev.N
		s.before = ev.Written.Sub(s.lastAt)
	}
	return nil
}

// put stores a fact after checking that the step that asks for it exists and
// that its data are of the form that step asks.
func (s *State) put(ev procedure.Event, key string, data procedure.Data) error {
	if key == "" {
		return refuse("step", key, "event %d names no step", ev.N)
	}
	step, ok := s.stepFor(key)
	if a, is := data.(*procedure.Answer); is && s.offers(key) && (!ok || !has(step.Choices, a.Choice)) {
		step, ok = s.offerOnRecord(key)
	}
	if !ok {
		return refuse("unasked", key, "step %q is not asked in this test", key)
	}
	if err := s.fits(step, key, data); err != nil {
		return err
	}
	if err := s.keepsTested(key, data); err != nil {
		return err
	}
	if measured(key) && s.Has(key) && !s.unmet(step) {
		return refuse("answered", key, "step %q has its reading: correct it with a reason", key)
	}
	if step.Form == procedure.FormClock {
		if a, ok := data.(*procedure.Answer); ok && a.Spill != nil && a.Spill.Timed && s.clockOn != key {
			return refuse("clock", key, "the clock of %q was not running: time it again", key)
		}
		if a, ok := data.(*procedure.Answer); ok && a.Spill != nil && a.Spill.Timed && a.Spill.Outcome != procedure.SpillStill && (s.drawn == 0 && a.Spill.Outcome == procedure.SpillStopped || a.Spill.Seconds < s.drawn-0.001) {
			return refuse("clock", key, "the time of %q is shorter than its clock marked: time it again", key)
		}
		if late := s.late[key]; late > 0 {
			// Marked past its limit: it spilled that long, whatever is said later.
			if a, ok := data.(*procedure.Answer); !ok || a.Spill == nil || a.Spill.Seconds < late-0.001 {
				return refuse("late", key, "the clock of %q was marked at %.0f s, past its limit: give that time or more, or still", key, late)
			}
			delete(s.late, key)
		}
		s.burn(ev, key, data)
		if s.clockOn == key {
			s.clockOn = ""
		}
		delete(s.clockN, key)
	}
	if a, ok := s.fact(key).data.(*procedure.Answer); ok && a.Gas != nil && strings.HasPrefix(key, "co/") {
		// Asked again, for a doubt or for what it rested on: still the least there was.
		id := strings.TrimPrefix(key, "co/")
		s.earlier[id] = append(s.earlier[id], gasObs(s.fact(key).n, a.Gas))
	}
	if f, had := s.facts[key]; had && measured(key) && s.holds(key) {
		s.was = append(s.was, was{key, f})
	}
	s.store(ev, key, data, step)
	if _, ok := data.(*procedure.Answer); ok && s.sameLines(step) {
		kept := step
		s.known.lines = &kept
	}
	return nil
}

// sameLines reports whether an answer to one line of a list leaves the list as
// it was, so that the next line need not look for it. Of doors only where they
// come before air handlers and the CAZ door: after those, a set-up that a table
// asks about could hang on its own answers.
func (s *State) sameLines(step procedure.Step) bool {
	switch stem, _, _ := strings.Cut(step.ID, "/"); stem {
	case "look", "prepare", "putback", "hose":
		return step.Form == procedure.FormChecklist
	case "redoors", "cazdoors", "firedoors":
		return true
	case "doors":
		doors := slices.Index(s.stages, procedure.StageDoors)
		return doors < slices.Index(s.stages, procedure.StageAirHandler) && doors < slices.Index(s.stages, procedure.StageCAZDoor)
	}
	return false
}

// holds reports whether a stale reading was a true one all the same: what it
// rested on changed, not how it was read. A doubt that asks for another, and
// hoses found wrong, say that it was not.
func (s *State) holds(key string) bool {
	f := s.fact(key)
	for _, r := range f.reads {
		if strings.HasPrefix(r.key, "hose/") && s.fact(r.key).version != r.version {
			return false
		}
	}
	for _, k := range s.dorder {
		if d := s.doubts[k]; d.key == key && d.d.Settled == "retake" && d.ver == f.n {
			return false
		}
	}
	return f.kind != procedure.KindSkip
}

// wasOf are the true readings of a key that others took the place of, and the
// one in force where it is stale.
func (s *State) wasOf(match func(key string) bool) []was {
	var out []was
	for _, w := range s.was {
		if match(w.key) {
			out = append(out, w)
		}
	}
	for _, k := range s.order {
		if !match(k) {
			continue
		}
		if f, ok := s.facts[k]; ok && s.stale(k) && s.holds(k) {
			out = append(out, was{k, f})
		}
	}
	return out
}

// burn notes that a main burner was lit, for how warm its vent is later.
func (s *State) burn(ev procedure.Event, key string, data procedure.Data) {
	a, ok := data.(*procedure.Answer)
	if id := strings.Split(key, "/")[1]; ok && a.Spill != nil && !(a.Spill.Timed && s.clockN[key] > 0) {
		s.lit = append(s.lit, lightOff{ev.N, id, key})
	}
}

func (s *State) store(ev procedure.Event, key string, data procedure.Data, step procedure.Step) {
	old, had := s.facts[key]
	f := &fact{n: ev.N, version: ev.N, data: data, kind: data.EventKind(), at: ev.Observed, step: step.ID, back: s.back, lit: ev.N}
	if a, ok := data.(*procedure.Answer); ok && a.Spill != nil && a.Spill.Timed {
		for _, l := range s.lit { // the last start of its clock
			if l.id == strings.Split(key, "/")[1] {
				f.lit = l.n
			}
		}
	}
	s.back = false
	if had {
		was := old.essence
		if was == "" {
			was = essence(old.data)
		}
		if f.essence = essence(data); f.essence == was {
			f.version = old.version
		}
	}
	if len(step.Reads) > 0 {
		f.reads = make([]readUnder, len(step.Reads))
		for i, k := range step.Reads {
			f.reads[i] = readUnder{k, s.fact(k).version}
		}
	}
	if f.kind == procedure.KindSetup {
		s.set, f.made = ev.N, ev.N
	}
	if step.Form == procedure.FormTable {
		su := step.Setup.Clone()
		f.under = &su
	}
	if strings.HasPrefix(key, keyPutBack+"/") { // its lines follow each other
		if i := len(s.backs) - 1; i >= 0 && s.backs[i] == ev.N-1 {
			s.backs = s.backs[:i]
		}
		s.backs = append(s.backs, ev.N)
	}
	if !had {
		s.order = append(s.order, key)
		if strings.HasPrefix(key, "resume/") {
			s.resumed = append(s.resumed, key)
		}
	}
	s.keep(key, f)
	s.byN[ev.N] = key
	stem, _, _ := strings.Cut(key, "/")
	s.known.lines = nil
	s.changed(stem == "list" || stem == "appliance" || stem == "zone")
	if stem == "spill" {
		f.cold = s.cold(strings.Split(key, "/")[1])
	}
	if stem == "breech" || key == keyWeather || stem == "resume" { // what a draft is held to
		for _, a := range s.appliances() {
			s.emergency(join("co", a.ID))
		}
	}
	s.emergency(key)
	if a, ok := data.(*procedure.Answer); ok {
		if step.Form == procedure.FormGate && a.Seen != nil && a.Seen.State == procedure.SeenWrong {
			s.dangerSeen(ev, key)
		}
		if s.reading == 0 && (a.Pressure != nil || a.Gas != nil || a.Spill != nil) {
			s.reading = ev.N
		}
		if a.Gas != nil && strings.HasPrefix(step.Ask, "ambient") {
			s.ambientHazard(ev, a.Gas)
		}
	}
}

// emergency keeps in mind CO above 400 ppm of an appliance whose venting failed:
// whatever changes afterwards, it is not lit again.
func (s *State) emergency(key string) {
	p := strings.Split(key, "/")
	switch p[0] {
	case "co", "spill", "draft", "together":
	default:
		return
	}
	for _, a := range s.appliances() {
		if a.ID != p[1] {
			continue
		}
		samples := slices.Clone(s.earlier[a.ID]) // whether made again since or not
		if f := s.fact(join("co", a.ID)); f.n > 0 {
			if x, ok := f.data.(*procedure.Answer); ok && x.Gas != nil {
				samples = append(samples, gasObs(f.n, x.Gas))
			}
		}
		// Few samples are that high, and whether venting failed takes a look at
		// all that was read: that comes last.
		samples = slices.DeleteFunc(samples, func(g procedure.GasObs) bool {
			return !g.OverRange && !slices.ContainsFunc(g.CO, func(v float64) bool { return v > emergencyCO })
		})
		if len(samples) == 0 || !s.ventingFailed(a.ID) {
			continue
		}
		for _, g := range samples {
			if _, had := s.grave[a.ID]; !had {
				s.graveAt[a.ID] = s.last + 1
			}
			s.grave[a.ID] = g
		}
	}
}

// ventingFailed reports whether spillage or draft of an appliance failed, at
// worst case or at rest.
func (s *State) ventingFailed(id string) bool {
	for _, a := range s.appliances() {
		if a.ID != id {
			continue
		}
		spill, draft, together := join("spill", id), join("draft", id), join("together", id)
		before := s.wasOf(func(k string) bool { return k == spill || k == draft || k == together })
		return s.spillFailed(spill) || s.spillFailed(join("spill", id, "natural")) || s.draftFailed(a) || s.seen(together) == procedure.SeenWrong ||
			slices.ContainsFunc(before, func(w was) bool { return s.failedThen(a, w) })
	}
	return false
}

// failedThen reports whether a reading that was made again had failed.
func (s *State) failedThen(a procedure.Appliance, w was) bool {
	x, ok := w.f.data.(*procedure.Answer)
	switch {
	case !ok:
	case x.Seen != nil:
		return x.Seen.State == procedure.SeenWrong
	case x.Spill != nil:
		limit := s.plan.Spillage.Warm
		if w.f.cold == procedure.Yes {
			limit = s.plan.Spillage.Cold
		}
		return x.Spill.Outcome == procedure.SpillStill || procedure.Bound{Value: limit, Sense: procedure.AtMost}.Side(x.Spill.Seconds, 0) != procedure.SideInside
	case x.Pressure != nil:
		p := s.pressureOf(w.key, w.f)
		return p != nil && s.weak(a, *p)
	}
	return false
}

// measured reports whether a fact is a reading that decides, of which no
// second one may take the place without a reason.
func measured(key string) bool {
	switch p, _, _ := strings.Cut(key, "/"); p {
	case "baseline", "reading", "held", "pairs", "spill", "draft", "co", "together":
		return true
	}
	return false
}

// dangerSeen keeps what the danger questions found as a hazard, so that a
// correction of the line cannot unsee it.
func (s *State) dangerSeen(ev procedure.Event, key string) {
	code := procedure.HazardCode(key[strings.LastIndex(key, "/")+1:])
	for _, h := range s.hazards {
		if h.h.Code == code {
			return
		}
	}
	s.hazards = append(s.hazards, hazard{n: ev.N, h: procedure.Hazard{Code: code}, at: ev.Observed})
}

// dangerLine reports whether a line of a checklist is a leak or a flame that
// changes: what was once seen of it stands for this visit (own rule).
func dangerLine(key string) bool {
	p := strings.Split(key, "/")
	return len(p) == 3 && (p[0] == "look" && (p[2] == "fuel" || p[2] == "piping") || p[0] == "flame")
}

// ambientHazard turns a routine reading of CO in room air into a hazard where
// it reaches a tier, so that the two can never be told apart by accident.
func (s *State) ambientHazard(ev procedure.Event, g *procedure.Gas) {
	code := procedure.AmbientCO
	if ev.Step == keyLEL {
		code = procedure.LEL
	}
	subject := "" // the appliance that burns while this is read
	if p := strings.Split(ev.Step, "/"); len(p) == 2 && p[0] == "ambient" {
		subject = p[1]
	}
	for _, v := range g.CO {
		if _, ok := procedure.TierAt(s.plan.Interrupts, code, v, g.OverRange); ok {
			v := v
			s.hazards = append(s.hazards, hazard{n: ev.N, h: procedure.Hazard{Code: code, Value: &v, OverRange: g.OverRange, Subject: subject, Where: ev.Step}, at: ev.Observed})
		}
	}
	if g.OverRange && len(g.CO) == 0 {
		s.hazards = append(s.hazards, hazard{n: ev.N, h: procedure.Hazard{Code: code, OverRange: true, Where: ev.Step}, at: ev.Observed})
	}
}

// essence is the part of data that other facts physically depend on: names
// and serial numbers are left out, so that correcting them asks nothing again.
func essence(d procedure.Data) string {
	if a, ok := d.(*procedure.Answer); ok {
		c := *a
		switch {
		case a.Roster != nil:
			r := procedure.Roster{}
			for _, it := range a.Roster.Items {
				r.Items = append(r.Items, procedure.RosterItem{ID: it.ID, Kind: it.Kind})
			}
			c.Roster = &r
		case a.Instrument != nil:
			c.Instrument = &procedure.Instrument{ID: a.Instrument.ID}
		case a.Seen != nil:
			c.Seen = &procedure.Seen{State: a.Seen.State}
		case a.Pressure != nil:
			p := *a.Pressure
			p.Setup = 0
			c.Pressure = &p
		}
		d = &c
	}
	b, _ := json.Marshal(d)
	return string(d.EventKind()) + string(b)
}

func (s *State) reaffirm(ev procedure.Event, n int) error {
	key, ok := s.byN[n]
	if !ok {
		return refuse("same-as", ev.Step, "event %d is not a fact to re-affirm", n)
	}
	if key != ev.Step {
		return refuse("same-as", ev.Step, "event %d is about %q, not %q", n, key, ev.Step)
	}
	step, asked := s.stepFor(key)
	if !asked || !step.Reaffirm {
		return refuse("same-as", ev.Step, "%q was measured or timed: it must be taken again", key)
	}
	s.store(ev, key, s.fact(key).data, step)
	return nil
}

func (s *State) timer(ev procedure.Event, d *procedure.Timer) error {
	if d.Act != "start" && d.Act != "mark" && d.Act != "stop" && d.Act != "void" {
		return refuse("timer", ev.Step, "a clock cannot %q", d.Act)
	}
	step, ok := s.stepFor(ev.Step)
	if !ok || step.Form != procedure.FormClock {
		return refuse("timer", ev.Step, "step %q has no clock", ev.Step)
	}
	if d.Act == "start" {
		if s.Has(ev.Step) {
			return refuse("answered", ev.Step, "step %q has its time: correct it with a reason", ev.Step)
		}
		if late := s.late[ev.Step]; late > 0 {
			return refuse("late", ev.Step, "the clock of %q was marked at %.0f s, past its limit: that is its time", ev.Step, late)
		}
		s.lit = append(s.lit, lightOff{ev.N, strings.Split(ev.Step, "/")[1], ev.Step})
		s.clockOn, s.mono, s.wall, s.drawn = ev.Step, d.Mono, d.Wall, 0
		s.clockN[ev.Step] = ev.N
		return nil
	}
	if s.clockOn != ev.Step {
		return refuse("clock", ev.Step, "the clock of %q is not running", ev.Step)
	}
	if d.Act == "void" {
		s.clockOn = ""
		return nil
	}
	wall, mono := d.Wall.Sub(s.wall).Milliseconds(), d.Mono-s.mono
	if mono < 0 || wall < 0 || wall-mono > 1000 || mono-wall > 1000 {
		return refuse("clock-differs", ev.Step, "wall clock and timer differ by more than a second: time it again")
	}
	if d.Act == "mark" && step.LimitS > 0 && float64(mono)/1000 > step.LimitS {
		s.late[ev.Step] = float64(mono) / 1000
	}
	if d.Act == "mark" {
		if s.drawn > 0 {
			s.drawn = 0 // smoke came back: the clock never stopped
		} else {
			s.drawn = float64(mono) / 1000
		}
	}
	return nil
}

func (s *State) doubt(ev procedure.Event, d *procedure.Doubt) error {
	for _, n := range d.About {
		if _, ok := s.byN[n]; !ok {
			return refuse("doubt", ev.Step, "a doubt about event %d, which is no fact", n)
		}
	}
	if len(d.About) == 0 {
		return refuse("doubt", ev.Step, "a doubt must name what it is about")
	}
	switch d.Settled {
	case "", "retake", "stands", "left":
	default:
		return refuse("doubt", ev.Step, "a doubt cannot be settled %q", d.Settled)
	}
	key := s.byN[d.About[0]]
	f := s.fact(key)
	if f.n != d.About[0] {
		return refuse("doubt", ev.Step, "event %d is not in force: a doubt is about what is", d.About[0])
	}
	if d.Settled == "stands" && strings.TrimSpace(d.How) == "" {
		return refuse("doubt", ev.Step, "a doubt that is looked into says what was looked at")
	}
	id := string(d.Code) + " " + key
	if _, had := s.doubts[id]; !had && !slices.ContainsFunc(s.Signs(), func(st procedure.Step) bool { return st.Args["doubt"] == string(d.Code) && st.Args["key"] == key }) {
		return refuse("doubt", ev.Step, "nothing about %q calls for the doubt %q", key, d.Code)
	}
	if _, had := s.doubts[id]; !had {
		s.dorder = append(s.dorder, id)
	}
	s.doubts[id] = doubt{n: ev.N, d: *d, key: key, ver: f.n, pres: isPressureKey(key), zone: s.zoneOfKey(key)}
	return nil
}

// keepsTested refuses a list without what was looked at or measured.
func (s *State) keepsTested(key string, data procedure.Data) error {
	id := ""
	switch key {
	case keyAppliances:
		id = s.dropped(data)
	case keyZones:
		id = s.droppedZone(data)
	}
	if id != "" {
		return refuse("tested", key, "%s was looked at or tested: it stays on the list, and a note may say why it should not be there", id)
	}
	return nil
}

// listed are the things of a list; a list that is skipped has none.
func listed(data procedure.Data) []procedure.RosterItem {
	if a, ok := data.(*procedure.Answer); ok && a.Roster != nil {
		return a.Roster.Items
	}
	return nil
}

// droppedZone is a zone with pressures that a new list leaves out.
func (s *State) droppedZone(data procedure.Data) string {
	items := listed(data)
	for _, k := range s.order {
		p := strings.Split(k, "/")
		if len(p) > 1 && (p[0] == "baseline" || p[0] == "reading") && s.fact(k).kind != procedure.KindSkip && !slices.ContainsFunc(items, func(it procedure.RosterItem) bool { return it.ID == p[1] }) {
			return p[1]
		}
	}
	return ""
}

// dropped is an appliance with observations that a new list leaves out, ""
// for none: what was seen of it is not unseen by taking it off the list.
func (s *State) dropped(data procedure.Data) string {
	stays := map[string]bool{}
	for _, it := range listed(data) {
		stays[it.ID] = true
	}
	for _, k := range s.order {
		p := strings.Split(k, "/")
		switch p[0] {
		case "look", "held", "spill", "co", "draft", "flame", "together", "ambient":
		default:
			continue
		}
		for _, x := range s.appliances() {
			if len(p) > 1 && p[1] == x.ID && !stays[x.ID] {
				return x.ID
			}
		}
	}
	return ""
}

func (s *State) correct(ev procedure.Event, d *procedure.Correct) error {
	if strings.TrimSpace(d.Reason) == "" {
		return refuse("reason", ev.Step, "a correction needs its reason")
	}
	if d.Plan != nil {
		return refuse("plan", ev.Step, "the plan cannot be corrected here: start a new record")
	}
	if d.Hazard != nil {
		for i, h := range s.hazards {
			if h.n == d.Replaces && h.raised == 0 || h.raised == d.Replaces {
				s.hazards[i].h, s.hazards[i].raised = s.worse(h.h, *d.Hazard), ev.N
				if x := d.Hazard.Subject; x != "" && x != h.h.Subject && h.h.Subject != "" {
					// The other appliance too: neither is unseen.
					o := s.hazards[i]
					o.h.Subject = x
					s.hazards = append(s.hazards, o)
				}
				return nil
			}
		}
		return refuse("replaces", ev.Step, "event %d is no hazard in force", d.Replaces)
	}
	key, ok := s.byN[d.Replaces]
	if !ok || s.fact(key).n != d.Replaces {
		return refuse("replaces", ev.Step, "event %d is not in force: it was replaced or is no fact", d.Replaces)
	}
	if ev.Step != key {
		return refuse("replaces", ev.Step, "event %d is about %q, not %q", d.Replaces, key, ev.Step)
	}
	if s.stale(key) {
		return refuse("stale", key, "what %q rests on has changed: it is asked again, not corrected", key)
	}
	var data procedure.Data
	n := 0
	for _, x := range []struct {
		set bool
		d   procedure.Data
	}{{d.Answer != nil, d.Answer}, {d.Setup != nil, d.Setup}, {d.Skip != nil, d.Skip}, {d.Told != nil, d.Told}} {
		if x.set {
			data = x.d
			n++
		}
	}
	if n != 1 {
		return refuse("data", ev.Step, "a correction carries exactly one new answer")
	}
	if _, had := s.fact(key).data.(*procedure.Answer); had && d.Skip != nil && measured(key) {
		return refuse("answered", key, "step %q has its reading: correct the figure, a reason to leave it out cannot take its place", key)
	}
	step, ok := s.stepFor(key)
	if !ok {
		return refuse("unasked", key, "step %q is not asked any more", key)
	}
	if err := s.fits(step, key, data); err != nil {
		return err
	}
	if err := s.keepsTested(key, data); err != nil {
		return err
	}
	old := s.facts[key]
	if k := standsOn(step); old.kind == procedure.KindSkip && d.Skip == nil && k != "" && !s.inForce(k) {
		// It was left out, and the house stands otherwise by now: a figure typed
		// later was read in nothing that is known, so the step is asked again.
		void := *old
		void.n, void.void = ev.N, true
		s.facts[key], s.byN[ev.N] = &void, key
		return nil
	}
	s.store(ev, key, data, step)
	f := s.facts[key] // stored just now, so this state's alone
	f.made = old.made // nobody set the house by typing
	if old.under != nil {
		f.under = old.under
	}
	for id, g := range s.grave { // what made it an emergency was mistyped
		switch {
		case d.Replaces == g.N:
			delete(s.grave, id)
			s.emergency(key)
		case key == keyWeather, key == join("breech", id), strings.HasPrefix(key, join("spill", id)), strings.HasPrefix(key, join("draft", id)), key == join("together", id):
			if !s.ventingFailed(id) {
				delete(s.grave, id)
			}
		}
	}
	return nil
}

// worse keeps the more protective of two values of a hazard for this visit
// (own rule: what was once seen is not unseen by typing).
func (s *State) worse(old, now procedure.Hazard) procedure.Hazard {
	w := now
	w.Code = old.Code
	w.OverRange = old.OverRange || now.OverRange
	switch {
	case old.Value == nil && now.Value != nil && (old.Code == procedure.AmbientCO || old.Code == procedure.LEL):
		w.Value = nil // a value that is not known reaches every tier
	case old.Value != nil && now.Value != nil && *old.Value > *now.Value:
		w.Value = old.Value
	}
	if old.Subject != "" {
		w.Subject = old.Subject
	}
	return w
}

// fits refuses data that are not of the form the step asks, or that no
// instrument shows.
func (s *State) fits(step procedure.Step, key string, data procedure.Data) error {
	bad := func(f string, a ...any) error { return refuse("form", key, "step %q: "+f, append([]any{key}, a...)...) }
	old, _ := s.fact(key).data.(*procedure.Answer)
	if now, _ := data.(*procedure.Answer); dangerLine(key) && old != nil && old.Seen != nil && old.Seen.State == procedure.SeenWrong && (now == nil || now.Seen == nil || now.Seen.State != procedure.SeenWrong) {
		return refuse("danger-seen", key, "step %q: what was seen stands for this visit", key)
	}
	if now, _ := data.(*procedure.Answer); step.Ask == "breech" && old != nil && old.Number != nil && old.Number.Value != nil && (now == nil || now.Number == nil || now.Number.Value == nil) &&
		(s.has(join("draft", step.Subject)) || s.has(join("draft", step.Subject, "natural"))) {
		return bad("draft was read by the figure that was given")
	}
	switch d := data.(type) {
	case *procedure.Skip:
		if d.Reason == procedure.SkipByNature && old != nil && measured(key) {
			return bad("it was measured before, so it can be")
		}
		known := d.Reason == procedure.SkipNotOnSheet || d.Reason == procedure.SkipNotWanted
		for _, r := range procedure.SkipReasons {
			known = known || r == d.Reason
		}
		if !known {
			return bad("a skip needs a reason")
		}
		if d.Reason == procedure.SkipNotWanted && !step.Wanted {
			return bad("it is required: leave it out only with a reason")
		}
		if step.Form == procedure.FormGate || step.ID == keyTester || step.Form == procedure.FormTold || strings.HasPrefix(step.Ask, "more.") && d.Reason != procedure.SkipEndingEarly {
			return bad("it cannot be left out")
		}
		return nil
	case *procedure.Setup:
		if step.Form != procedure.FormSetup {
			return bad("it is not a set-up")
		}
		if step.Ask == "setup.more" {
			return s.moreFits(step, *d, bad)
		}
		return s.setupFits(step, *d, bad)
	case *procedure.Told:
		if step.Form != procedure.FormTold || strings.TrimSpace(d.Whom) == "" {
			return bad("it must say who was told")
		}
		return nil
	case *procedure.Answer:
		return s.answerFits(step, key, *d, bad)
	}
	return bad("a %s event does not answer it", data.EventKind())
}

func (s *State) setupFits(step procedure.Step, d procedure.Setup, bad func(string, ...any) error) error {
	want := *step.Setup
	run := map[string]bool{}
	for _, f := range append(append([]string{}, d.Fans...), d.NotRun...) {
		run[f] = true
	}
	for _, f := range want.Fans {
		if !run[f] {
			return bad("fan %q is neither on nor noted as not running", f)
		}
	}
	if len(run) != len(want.Fans) || len(d.Fans)+len(d.NotRun) != len(want.Fans) {
		return bad("it names a fan that this set-up does not have")
	}
	if !sameSet(d.Doors, want.Doors) || !sameSet(d.AirHandler, want.AirHandler) || d.CAZDoor != want.CAZDoor || d.FlowCFM != want.FlowCFM {
		return bad("doors, air handler or CAZ door are not as this step sets them")
	}
	return nil
}

func (s *State) answerFits(step procedure.Step, key string, d procedure.Answer, bad func(string, ...any) error) error {
	if n := parts(d); n != 1 {
		return bad("an answer has exactly one part, this has %d", n)
	}
	switch step.Form {
	case procedure.FormChecklist, procedure.FormGate:
		if d.Seen == nil || d.Seen.State != procedure.SeenOK && d.Seen.State != procedure.SeenWrong && d.Seen.State != procedure.NotSeen {
			return bad("a checklist line is ok, wrong or not seen")
		}
	case procedure.FormTable:
		if d.Seen != nil && d.Seen.State == procedure.NotSeen {
			return nil
		}
		return inChoices(step, d.Choice, bad)
	case procedure.FormChoice:
		if p := strings.Split(key, "/"); p[0] == "more" && s.has(key) && !strings.HasPrefix(d.Choice, moreTake) {
			if f, read := s.facts[join("reading", p[1], "more"+p[2])]; read && f.kind != procedure.KindSkip {
				return bad("it was taken and read")
			}
		}
		return inChoices(step, d.Choice, bad)
	case procedure.FormCarried:
		if len(d.Carried) == 0 {
			return bad("it carries nothing")
		}
	case procedure.FormConfirm:
		if d.Choice != "changed" && d.Choice != "as-before" {
			return bad("it is as before or changed")
		}
	case procedure.FormText:
		if strings.TrimSpace(d.Text) == "" {
			return bad("it is empty")
		}
	case procedure.FormRoster:
		if d.Roster == nil {
			return bad("it is a list")
		}
		ids := map[string]bool{}
		for _, it := range d.Roster.Items {
			if it.ID == "" || ids[it.ID] {
				return bad("the id %q stands twice or is empty", it.ID)
			}
			ids[it.ID] = true
			if err := inChoices(step, it.Kind, bad); err != nil {
				return err
			}
		}
	case procedure.FormFacts:
		if d.VentFacts == nil {
			return bad("it takes facts about the vent")
		}
	case procedure.FormPick:
		if d.Names == nil {
			return bad("it takes names from the list")
		}
		for _, id := range d.Names.IDs {
			ok := false
			for _, it := range step.Items {
				ok = ok || it.Key == id
			}
			if !ok {
				return bad("%q is not on the list", id)
			}
		}
	case procedure.FormBurner:
		if d.Burner == nil || d.Burner.Input < 0 {
			return bad("it takes fuel and input")
		}
	case procedure.FormNumber, procedure.FormNumbers:
		if d.Number == nil {
			return bad("it takes a number")
		}
		if d.Number.Value != nil && *d.Number.Value < 0 && step.Unit == "min" {
			return bad("minutes cannot be negative")
		}
		if pa, ok := toPa(value(d.Number), d.Number.Unit); step.Ask == "breech" && d.Number.Value != nil && !(ok && math.Abs(pa) >= minBreech) {
			return bad("a breech draft is %.0f Pa or more; inches of water are 249 Pa each", minBreech)
		}
		if before := s.answer(keyCFM50); key == keySealTo && d.Number.Value != nil && before != nil && before.Number != nil && before.Number.Value != nil &&
			!(*d.Number.Value > 0 && *d.Number.Value < *before.Number.Value) {
			return bad("sealing leaves less than the %s CFM50 of today, and more than nothing", trim(*before.Number.Value))
		}
	case procedure.FormWeather:
		if d.Weather == nil {
			return bad("it takes wind and temperature")
		}
		if _, err := reading.Convert(d.Weather.Wind, reading.Unit(d.Weather.WindUnit), reading.UnitMPH); err != nil || d.Weather.Wind < 0 {
			return bad("wind speed or its unit")
		}
		if _, err := reading.Convert(d.Weather.Temp, reading.Unit(d.Weather.TempUnit), reading.UnitF); err != nil {
			return bad("temperature or its unit")
		}
	case procedure.FormPressure:
		if p := d.Pressure; p != nil && p.Log != 0 {
			for k, f := range s.facts { // one window is one reading, and no second one of what is asked again
				if x, ok := f.data.(*procedure.Answer); ok && (k != key || s.stale(k)) && x.Pressure != nil && x.Pressure.Log != 0 {
					a, b := s.logs[x.Pressure.Log], s.logs[p.Log]
					if a.SHA256 == b.SHA256 && !a.To.Before(b.From) && !b.To.Before(a.From) {
						return bad("its window overlaps the one of %s", k)
					}
				}
			}
			if l, ok := s.logs[p.Log]; !ok || p.Value == nil || *p.Value != l.Mean || p.Unit != l.Unit {
				return bad("it does not stand on the log window of event %d", p.Log)
			}
		}
		return pressureFits(d.Pressure, bad)
	case procedure.FormPairs:
		if d.Pairs == nil || len(d.Pairs.Off) != len(d.Pairs.On) || len(d.Pairs.On) < 1 {
			return bad("pairs need as many readings off as on")
		}
		if reading.Unit(d.Pairs.Unit).Family() != reading.FamilyPressure {
			return bad("unit %q is no pressure", d.Pairs.Unit)
		}
	case procedure.FormGas, procedure.FormAmbient:
		if d.Gas == nil || len(d.Gas.CO) == 0 && !d.Gas.OverRange {
			return bad("it takes CO in ppm")
		}
		if d.Gas.O2 != nil && len(d.Gas.O2) != len(d.Gas.CO) {
			return bad("each CO value has its own O2")
		}
		for _, v := range d.Gas.CO {
			if v < 0 || math.IsNaN(v) {
				return bad("CO cannot be %v ppm", v)
			}
		}
		for _, o := range d.Gas.O2 {
			if o != nil && (*o < 0 || *o > 25) {
				return bad("O2 cannot be %v percent", *o)
			}
		}
	case procedure.FormClock:
		sp := d.Spill
		if sp == nil || sp.Seconds < 0 || math.IsNaN(sp.Seconds) {
			return bad("it takes a time")
		}
		switch sp.Outcome {
		case procedure.SpillNone, procedure.SpillStopped, procedure.SpillStill:
		default:
			return bad("it says none, a time, or still spilling")
		}
		if sp.Outcome == procedure.SpillNone && sp.Seconds != 0 {
			return bad("none means 0 seconds")
		}
	case procedure.FormInstrument:
		i := d.Instrument
		if i == nil || i.Name == "" {
			return bad("it takes the instrument's name")
		}
		// No gauge for this work is better than that (own rule): a figure that
		// claims more makes the give-or-take too small.
		if i.Resolution != 0 && !(i.Resolution >= 0.01 && i.Resolution <= 10) || i.AccuracyPa != 0 && !(i.AccuracyPa >= 0.05) || i.AccuracyPct != 0 && !(i.AccuracyPct >= 0.1) {
			return bad("resolution is 0.01 to 10 Pa, accuracy 0.05 Pa or 0.1 percent at best")
		}
	case procedure.FormDoubt, procedure.FormSetup, procedure.FormTold:
		return bad("a %s is not an answer", step.Form)
	default:
		return bad("form %q takes no answer", step.Form)
	}
	return nil
}

// minBreech is the weakest draft at the breech that a maker asks for, pascals
// (own rule: less is another unit).
const minBreech = 1.0

func value(n *procedure.Number) float64 {
	if n.Value == nil {
		return 0
	}
	return *n.Value
}

func finite(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

func pressureFits(p *procedure.Pressure, bad func(string, ...any) error) error {
	if p == nil || (p.Value == nil) == (len(p.Samples) == 0) {
		return bad("a pressure is one averaged value or several samples")
	}
	if reading.Unit(p.Unit).Family() != reading.FamilyPressure {
		return bad("unit %q is no pressure", p.Unit)
	}
	if p.AveragingS < 0 || p.AveragingS > 0 && p.Value == nil {
		return bad("only one averaged value has averaging seconds")
	}
	for _, v := range p.Values() {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return bad("a reading must be a finite number")
		}
	}
	return nil
}

func inChoices(step procedure.Step, c string, bad func(string, ...any) error) error {
	for _, x := range step.Choices {
		if x == c {
			return nil
		}
	}
	return bad("%q is none of its choices", c)
}

// parts is how many parts an answer has, 0 where one of its numbers is none.
func parts(d procedure.Answer) int {
	n := 0
	for v, i := reflect.ValueOf(d), 0; i < v.NumField(); i++ {
		f := v.Field(i)
		if f.IsZero() || f.Kind() == reflect.Slice && f.Len() == 0 {
			continue
		}
		if !finiteIn(f) {
			return 0
		}
		n++
	}
	return n
}

// finiteIn reports whether every number in v is one.
func finiteIn(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Float64:
		return finite(v.Float())
	case reflect.Pointer:
		return v.IsNil() || finiteIn(v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			if !finiteIn(v.Field(i)) {
				return false
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			if !finiteIn(v.Index(i)) {
				return false
			}
		}
	}
	return true
}

// sameSet reports whether two lists hold the same things as often, in whatever
// order. They are short.
func sameSet(a, b []string) bool {
	if len(a) != len(b) {
		return false
	}
	times := func(list []string, x string) (n int) {
		for _, y := range list {
			if x == y {
				n++
			}
		}
		return n
	}
	for _, x := range a {
		if times(a, x) != times(b, x) {
			return false
		}
	}
	return true
}
