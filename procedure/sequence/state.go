package sequence

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"cazward/procedure"
)

// fact is what the record holds under one key, as it now stands.
type fact struct {
	n       int // event in force
	version int // n that last changed it; equal data does not raise it
	data    procedure.Data
	kind    procedure.Kind
	reads   []readUnder // the facts it was taken under
	at      time.Time
	step    string           // screen that asked it
	back    bool             // the computer's clock went back just before
	lit     int              // n of the light-off that a spillage was timed from
	cold    procedure.Tri    // how its vent was then
	made    int              // of a set-up: the event by which it was made, not one that corrected it
	void    bool             // left out, and to be asked again
	under   *procedure.Setup // of a table of doors: the set-up it was seen in
	essence string           // of its data, "" before it was wanted
}

// readUnder is a fact that another was taken under.
type readUnder struct {
	key     string
	version int // 0: it was absent
}

// State is a test as far as its record goes. Use Start or Replay. One State is
// not for use by several goroutines at once.
type State struct {
	known   known
	header  procedure.Header
	plan    procedure.Plan
	planned bool
	stages  []procedure.StageID // of the plan
	facts   map[string]*fact    // nobody writes to one that others may hold: states share them
	order   []string            // fact keys in the order first written
	resumed []string            // those of order that were asked after a stop
	byN     map[int]string
	last    int
	lastAt  time.Time
	prevAt  time.Time // when the event before was written, later or not than lastAt
	back    bool      // the clock went back, and no fact has told so yet

	hazards []hazard
	told    []procedure.Told
	notes   []string
	who     string
	instr   []procedure.Instrument
	sitting int // n of the last handover that resumed
	stops   []stop
	backs   []int         // events by which the house was put back, one each time
	set     int           // n of the last set-up
	before  time.Duration // how long a closed record lay before it was reopened
	was     []was         // measured facts made again though nothing was wrong with them
	lit     []lightOff
	late    map[string]float64            // step -> seconds at which its clock was marked past the limit
	earlier map[string][]procedure.GasObs // appliance -> samples taken again for a doubt
	grave   map[string]procedure.GasObs   // appliance -> CO above 400 ppm with failed venting
	graveAt map[string]int                // the event that made it one
	logs    map[int]procedure.Log         // windows of gauge logs, by event
	clockN  map[string]int                // step -> n of a timer start that no answer followed
	clockOn string
	mono    int64
	drawn   float64
	wall    time.Time
	doubts  map[string]doubt // code/key -> as it stands
	dorder  []string
	closed  bool
	ends    int // facts that were left out because the test ended early
	again   int // n of the last reopen: who was told, and the name, are asked again
	decided int
	attach  []string
	reading int  // n of the first reading; 0 before
	paper   bool // an answer came from a filled sheet, which nothing can be suggested to
}

// known is what was worked out of a state and holds until it changes: a record
// of thousands of events asks it at each of them.
type known struct {
	stale map[string]bool
	home  *home
	// lines is the list of which the last event answered a line, nil where it
	// was none, or one whose answers can change what it asks
	lines *procedure.Step
	// scratch is what the last look for one step was made in, to be written over
	scratch []procedure.Step
}

// home is the inventory as far as it goes; nobody writes to it.
type home struct {
	appl             []procedure.Appliance
	zones            []procedure.Zone
	fans, doors, air []procedure.RosterItem
}

// changed forgets what was worked out; all, also of the inventory.
func (s *State) changed(all bool) {
	clear(s.known.stale)
	if all {
		s.known.home = nil
	}
}

// stop is a pause after which the house must be confirmed again.
type stop struct {
	n    int
	long bool
}

// was is a measured fact that another took the place of.
type was struct {
	key string
	f   *fact
}

// lightOff is when a main burner was lit.
type lightOff struct {
	n   int
	id  string
	key string // of the spillage that was timed
}

type hazard struct {
	n  int
	h  procedure.Hazard
	at time.Time
	// raised is the n of the last correction, 0 for none: it may demand more
	// than the hazard did when it was seen.
	raised int
}

type doubt struct {
	n    int
	d    procedure.Doubt
	key  string // fact it is about
	ver  int    // version of that fact
	pres bool
	zone string
}

// Refused is why Apply did not take an event. Code is for words, Key says
// which fact.
type Refused struct {
	Code string
	Key  string
	Text string
}

func (e *Refused) Error() string { return "sequence: " + e.Text }

func refuse(code, key, format string, a ...any) error {
	return &Refused{code, key, fmt.Sprintf(format, a...)}
}

// Start makes the state of a record that has only its header and plan.
func Start(h procedure.Header, p procedure.Plan) *State {
	s := &State{header: h, facts: map[string]*fact{}, byN: map[int]string{}, clockN: map[string]int{}, logs: map[int]procedure.Log{}, late: map[string]float64{}, earlier: map[string][]procedure.GasObs{}, grave: map[string]procedure.GasObs{}, graveAt: map[string]int{}, doubts: map[string]doubt{}}
	s.plan, s.planned, s.last = p, true, 1
	for _, st := range p.Stages {
		s.stages = append(s.stages, st.ID)
	}
	return s
}

// Replay builds the state of a whole record.
func Replay(h procedure.Header, events []procedure.Event) (*State, error) {
	if len(events) == 0 || events[0].Kind != procedure.KindPlan {
		return nil, errors.New("sequence: the record has no plan: its first event must be one")
	}
	p, ok := events[0].Data.(*procedure.Plan)
	if !ok || events[0].N != 1 {
		return nil, errors.New("sequence: event 1 holds no plan")
	}
	s := Start(h, *p)
	s.facts, s.byN = make(map[string]*fact, len(events)), make(map[int]string, len(events))
	s.who = events[0].Who
	s.lastAt, s.prevAt = events[0].Written, events[0].Written
	for _, ev := range events[1:] {
		if err := s.apply(ev); err != nil {
			return nil, fmt.Errorf("sequence: event %d: %w", ev.N, err)
		}
	}
	return s, nil
}

// Apply takes events on a copy and returns it; on refusal the error says why
// and the state is as before.
func (s *State) Apply(events ...procedure.Event) (*State, error) {
	c := s.clone()
	for _, ev := range events {
		if err := c.apply(ev); err != nil {
			return s, err
		}
	}
	return c, nil
}

func (s *State) clone() *State {
	c := *s
	c.known = known{home: s.known.home} // shared, and never written to
	c.facts = maps.Clone(s.facts)
	c.byN = make(map[int]string, len(s.byN))
	for k, v := range s.byN {
		c.byN[k] = v
	}
	c.clockN = make(map[string]int, len(s.clockN))
	for k, v := range s.clockN {
		c.clockN[k] = v
	}
	c.graveAt = maps.Clone(s.graveAt)
	c.logs, c.late, c.earlier, c.grave = maps.Clone(s.logs), maps.Clone(s.late), maps.Clone(s.earlier), maps.Clone(s.grave)
	c.lit = append([]lightOff{}, s.lit...)
	c.backs = slices.Clone(s.backs)
	c.was = append([]was{}, s.was...)
	c.doubts = make(map[string]doubt, len(s.doubts))
	for k, v := range s.doubts {
		c.doubts[k] = v
	}
	c.order, c.resumed = append([]string{}, s.order...), slices.Clone(s.resumed)
	c.dorder = append([]string{}, s.dorder...)
	c.stops = append([]stop{}, s.stops...)
	c.hazards = append([]hazard{}, s.hazards...)
	c.told = append([]procedure.Told{}, s.told...)
	c.notes = append([]string{}, s.notes...)
	c.instr = append([]procedure.Instrument{}, s.instr...)
	c.attach = append([]string{}, s.attach...)
	return &c
}

// Header of the record.
func (s *State) Header() procedure.Header { return s.header }

// Plan that the test follows.
func (s *State) Plan() procedure.Plan { return s.plan }

// Last is the n of the last event.
func (s *State) Last() int { return s.last }

// LastAt is when the last event was written.
func (s *State) LastAt() time.Time { return s.lastAt }

// Who tests now.
func (s *State) Who() string { return s.who }

// Closed reports whether the record is closed.
func (s *State) Closed() bool { return s.closed }

// Decided is the n of the last decided event, 0 before.
func (s *State) Decided() int { return s.decided }

// Attachments are the hashes of the photos attached so far.
func (s *State) Attachments() []string { return append([]string{}, s.attach...) }

// has reports whether there is a fact of the key, stale, skipped or not.
func (s *State) has(key string) bool {
	_, ok := s.facts[key]
	return ok
}

// noFact is what is known of a key that was never answered. Nobody writes to it.
var noFact fact

// fact is the fact of a key, an empty one where there is none.
func (s *State) fact(key string) *fact {
	if f, ok := s.facts[key]; ok {
		return f
	}
	return &noFact
}

// keep puts a fact into the state.
func (s *State) keep(key string, f *fact) {
	if ends(s.fact(key).data) {
		s.ends--
	}
	if ends(f.data) {
		s.ends++
	}
	s.facts[key] = f
}

// Has reports whether the fact is present, fresh and not skipped.
func (s *State) Has(key string) bool {
	f, ok := s.facts[key]
	return ok && f.kind != procedure.KindSkip && !s.staleFact(key, f, 0)
}

// settled reports whether the fact needs no asking: present or skipped, and
// not stale.
func (s *State) settled(key string) bool {
	f, ok := s.facts[key]
	return ok && !s.staleFact(key, f, 0)
}

func (s *State) stale(key string) bool { return s.staleDepth(key, 0) }

func (s *State) staleDepth(key string, depth int) bool {
	f, ok := s.facts[key]
	return !ok || s.staleFact(key, f, depth)
}

func (s *State) staleFact(key string, f *fact, depth int) bool {
	if len(f.reads) == 0 {
		return s.staleNow(key, f, depth) // found as fast
	}
	if v, ok := s.known.stale[key]; ok {
		return v
	}
	v := s.staleNow(key, f, depth)
	if depth <= 1 { // deeper it may be the depth that made it so
		if s.known.stale == nil {
			s.known.stale = map[string]bool{}
		}
		s.known.stale[key] = v
	}
	return v
}

func (s *State) staleNow(key string, f *fact, depth int) bool {
	if depth > 40 || f.void {
		return true
	}
	if (key == KeyTold || key == keyTester) && f.n < s.again {
		return true
	}
	for _, r := range f.reads {
		now, ok := s.facts[r.key]
		if r.version == 0 && !ok {
			continue // it was absent then and still is
		}
		if !ok || now.version != r.version || s.staleFact(r.key, now, depth+1) {
			return true
		}
	}
	if n, ok := s.clockN[key]; ok && n > f.n || s.overtaken(key, f.n) {
		return true
	}
	for _, k := range s.dorder {
		d := s.doubts[k]
		if d.key == key && d.d.Settled == "retake" && d.ver == f.n {
			return true
		}
	}
	return false
}

// overtaken reports whether what happened after event n took away what a fact
// of it said of the house: put back, and then set again; the air read, and then
// the burner lit again; what was done since the record before, and then a night.
func (s *State) overtaken(key string, n int) bool {
	switch {
	case strings.HasPrefix(key, keyPutBack+"/"):
		return s.set > n || slices.ContainsFunc(s.lit, func(l lightOff) bool { return l.n > n })
	case strings.HasPrefix(key, "ambient/"), strings.HasPrefix(key, "cooled/"):
		spill := join("spill", strings.Split(key, "/")[1])
		return slices.ContainsFunc(s.lit, func(l lightOff) bool { return l.n > n && l.key == spill })
	case key == KeySince:
		return slices.ContainsFunc(s.stops, func(x stop) bool { return x.n > n && x.long })
	}
	return false
}

// Fact returns the data now in force under a key, its n, and whether it is
// there at all; a stale one is returned too.
func (s *State) Fact(key string) (procedure.Data, int, bool) {
	f, ok := s.facts[key]
	if !ok {
		return nil, 0, false
	}
	return f.data, f.n, true
}

// Answers lists the keys answered so far, oldest first, for corrections.
func (s *State) Answers() []string {
	var out []string
	for _, k := range s.order {
		if _, ok := s.facts[k]; ok {
			out = append(out, k)
		}
	}
	return out
}

func (s *State) answer(key string) *procedure.Answer {
	if !s.Has(key) {
		return nil
	}
	a, _ := s.fact(key).data.(*procedure.Answer)
	return a
}

func (s *State) seen(key string) procedure.SeenState {
	if a := s.answer(key); a != nil && a.Seen != nil {
		return a.Seen.State
	}
	return ""
}

func (s *State) choice(key string) string {
	if a := s.answer(key); a != nil {
		return a.Choice
	}
	return ""
}

// ids of a roster, with nil and false when it was not answered.
func (s *State) roster(key string) ([]procedure.RosterItem, bool) {
	a := s.answer(key)
	if a == nil || a.Roster == nil {
		return nil, false
	}
	return a.Roster.Items, true
}

func join(parts ...string) string {
	switch len(parts) { // nearly all keys
	case 2:
		return parts[0] + "/" + parts[1]
	case 3:
		return parts[0] + "/" + parts[1] + "/" + parts[2]
	}
	return strings.Join(parts, "/")
}

// ClockOn is the step whose observation clock runs, "" for none.
func (s *State) ClockOn() string { return s.clockOn }

// ClockDrawn is the seconds at which smoke was last marked as drawn in, 0
// when it was not, or came back.
func (s *State) ClockDrawn() float64 { return s.drawn }

// ClockStart is when the running clock was started: wall time, and monotonic
// milliseconds of its sitting.
func (s *State) ClockStart() (time.Time, int64) { return s.wall, s.mono }

// FactAt is when the fact in force was observed.
func (s *State) FactAt(key string) time.Time { return s.fact(key).at }

// Ambient is the newest reading of CO in room air.
func (s *State) Ambient() (ppm float64, over bool, at time.Time, ok bool) {
	newest := 0
	for k, f := range s.facts {
		a, isA := f.data.(*procedure.Answer)
		if !isA || a.Gas == nil || f.n < newest || !(k == keyAmbient || k == "putback/ambient" || strings.HasPrefix(k, "ambient/") || strings.HasPrefix(k, "resume/")) {
			continue
		}
		newest, at, over, ok = f.n, f.at, a.Gas.OverRange, true
		ppm = 0
		if len(a.Gas.CO) > 0 {
			ppm = a.Gas.CO[0]
		}
	}
	for _, h := range s.hazards {
		if h.h.Code == procedure.AmbientCO && h.n > newest {
			newest, at, over, ok = h.n, h.at, h.h.OverRange, true
			ppm = 0
			if h.h.Value != nil {
				ppm = *h.h.Value
			}
		}
	}
	return ppm, over, at, ok
}
