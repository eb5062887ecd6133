package practice

import (
	"context"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/airflow"
	"cazward/procedure/reading"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
)

// Debrief is what a practice test was worth: what was true, what the trainee
// found, and what each thing missed cost.
type Debrief struct {
	Record, House, Title, Who string
	Seed                      int64
	Closed                    bool
	Mode                      Mode
	Decision, Expected        procedure.Decision // Expected is "" where the house promises none
	Configurations            int
	Zones                     []ZoneDebrief
	Stages                    []StageTime
	Minutes                   float64
	Rubric                    Rubric
	Scored                    []Scored
	Score, Of                 float64
	WorkOn                    []Scored // what cost most, at most three
	Lang                      wording.Lang
}

// ZoneDebrief is one combustion appliance zone. Pressures in Pa; nil where
// nothing was measured.
type ZoneDebrief struct {
	Zone     string
	Net      float64 // true worst case, all configurations tried
	State    string  // that has it
	Found    *float64
	FoundU   *float64
	Held     *float64 // true net of the house as it stood at the worst-case reading
	HeldAs   string
	Baseline *float64 // how far the house was from rest at the opening baseline
	BaseAs   string   // and what was not at rest
	Own      float64  // Pa of the worst case that the trainee's own doing gave away; all of it where it was never held
	Misses   []Miss
}

// Miss is one thing that stood otherwise than at the true worst case.
type Miss struct {
	Name, Was, Should string
	Pa                float64 // by which the true worst case is milder with that alone
	Own               bool    // the trainee's own doing; else the walk asked for it so, on sound answers
	Why               string
}

// StageTime is how long a stage took on the practice clock.
type StageTime struct {
	Stage   procedure.StageID
	Minutes float64
}

// Scored is one criterion with its amount of fault.
type Scored struct {
	Criterion
	Amount  float64
	Reached bool // the test came to it; what was never done has no points
	Got     float64
	Detail  []string
}

// measuring are the checks of what is done to the house and its burners.
var measuring = []Check{CheckWorst, CheckBaseline, CheckRead, CheckWatched, CheckLeft, CheckOrder, CheckCOTime}

// ambientEvery is how old a reading of CO in the room may be while burners run
// (own rule, as in the walk).
const ambientEvery = 2 * time.Minute

// leaveAbove is the CO in the room, ppm, above which everybody leaves (own rule,
// most protective of the published actions).
const leaveAbove = 35

// Debrief looks back at a practice record: its events are played again in the
// house, and the truth is held against what was said. o and j are what the
// judge saw and decided; what is told is told in the language l.
func (h *House) Debrief(ctx context.Context, header procedure.Header, events []procedure.Event, st *sequence.State, o procedure.Observations, j procedure.Judgement, r Rubric, lang wording.Lang) (Debrief, error) {
	l, err := h.look(st, lang)
	if err != nil {
		return Debrief{}, err
	}
	truth, err := l.m.Check(ctx)
	if err != nil {
		return Debrief{}, err
	}
	d := Debrief{Record: header.Record, House: h.Name, Title: h.Title, Who: st.Who(), Seed: header.Practice.Seed, Closed: st.Closed(), Decision: j.Decision, Configurations: truth.Configurations, Rubric: r, Lang: lang}
	_, d.Mode = Terms(events)
	if h.Lesson != nil {
		d.Expected = h.Lesson.Expected.Decision
	}
	if err := l.watch(header, events); err != nil {
		return Debrief{}, err
	}
	for _, w := range truth.Zones {
		z, err := l.zone(w, j)
		if err != nil {
			return Debrief{}, err
		}
		d.Zones = append(d.Zones, z)
	}
	l.lists()
	l.steps(o)
	l.decided(&d)
	d.Stages, d.Minutes = l.stages(events)
	for _, c := range r.Criteria {
		switch {
		case c.Check == CheckDecision && d.Expected == procedure.NoDecision:
			continue // a house that promises none is not scored by it
		case slices.Contains(measuring, c.Check) && d.Expected == procedure.Incomplete:
			continue // on a day to be postponed the right thing is not to measure
		}
		s := Scored{Criterion: c, Amount: l.amount[c.Check], Reached: l.reached(c.Check), Detail: l.detail[c.Check]}
		switch {
		case s.Reached:
			s.Got = c.Score(s.Amount)
		case st.Leaving():
			continue // everybody was out, and rightly nothing more was done
		default:
			s.Detail = append(slices.Clone(s.Detail), l.say("never-came"))
		}
		d.Scored = append(d.Scored, s)
		d.Score, d.Of = d.Score+s.Got, d.Of+c.Points
	}
	lost := slices.Clone(d.Scored)
	sort.SliceStable(lost, func(a, b int) bool { return lost[a].Points-lost[a].Got > lost[b].Points-lost[b].Got })
	for _, s := range lost {
		if len(d.WorkOn) < 3 && s.Got < s.Points {
			d.WorkOn = append(d.WorkOn, s)
		}
	}
	return d, nil
}

// looker plays a record again and notes what it sees.
type looker struct {
	h      *House
	m      *Model
	st     *sequence.State
	lang   wording.Lang
	names  Names
	amount map[Check]float64
	detail map[Check][]string

	base, held map[string]Setting // zone id -> how the house stood then
	baseP      map[string]float64 // zone id -> true pressure at the opening baseline
	setup      map[string]Setting // zone id -> how the held set-up was confirmed
	smoke      map[string]bool    // door of the house -> its last smoke was told as it was
	end        Setting
	said       map[string]said
	order      []string // of the steps said
	lit, gas   bool     // a burner was lit; CO in a flue was read
}

// look makes a looker of what a trainee's lists call things.
func (h *House) look(st *sequence.State, lang wording.Lang) (*looker, error) {
	m, err := h.Compile()
	if err != nil {
		return nil, err
	}
	if st.Plan().Fireplace != nil {
		m.always = h.StandIn()
	}
	return &looker{h: h, m: m, st: st, lang: lang, names: h.Match(st), amount: map[Check]float64{}, detail: map[Check][]string{},
		base: map[string]Setting{}, held: map[string]Setting{}, baseP: map[string]float64{}, setup: map[string]Setting{}, smoke: map[string]bool{}, said: map[string]said{}}, nil
}

// reached reports whether the test came to what a check looks at.
func (l *looker) reached(c Check) bool {
	answered := func(stems ...string) bool {
		for _, k := range l.st.Answers() {
			if stem, _, _ := strings.Cut(k, "/"); slices.Contains(stems, stem) {
				return true
			}
		}
		return false
	}
	burns := slices.ContainsFunc(l.h.Appliances, func(a Appliance) bool { return a.Fired() && len(a.Vents) > 0 })
	switch c {
	case CheckDecision, CheckSafety:
		return l.st.Has(sequence.KeyTold)
	case CheckBaseline, CheckRead:
		return len(l.base) > 0
	case CheckWorst: // where it was never held, that was counted
		return true
	case CheckInventory:
		return answered("prepare")
	case CheckLooked:
		return answered("look")
	case CheckSaid, CheckPutBack:
		return answered("putback")
	case CheckWatched, CheckLeft, CheckOrder:
		return l.lit || !burns
	case CheckCOTime:
		return l.gas || !burns
	}
	return false
}

func (l *looker) say(key string, pairs ...string) string { return wording.Drill(l.lang, key, pairs...) }

// fault adds an amount; most keeps the largest. Both tell it.
func (l *looker) fault(c Check, amount float64, key string, pairs ...string) {
	l.amount[c] += amount
	l.detail[c] = append(l.detail[c], l.say(key, pairs...))
}

func (l *looker) most(c Check, amount float64, key string, pairs ...string) {
	l.amount[c] = max(l.amount[c], amount)
	l.detail[c] = append(l.detail[c], l.say(key, pairs...))
}

// called is what the trainee calls a thing by its id.
func (l *looker) called(id string) string {
	for _, a := range l.st.Appliances() {
		if a.ID == id {
			return wording.LocalName(l.lang, string(a.Kind), plain(a.Name))
		}
	}
	if l.h.isZone(l.names[id]) {
		return zoneName(l.lang, l.names[id])
	}
	if n := l.names[id]; n != "" {
		return thing(l.lang, n)
	}
	return plain(id)
}

func (l *looker) step(key string) string { return wording.KeyText(l.lang, key, l.called) }

// called is what a thing of the house is called.
func (h *House) called(l wording.Lang, name string) string {
	for _, a := range h.Appliances {
		if a.ID == name {
			return wording.LocalName(l, string(a.Kind), plain(name))
		}
	}
	if h.isZone(name) {
		return zoneName(l, name)
	}
	return thing(l, name)
}

func tenth(v float64) string { return reading.Format(v, 1) }

func (l *looker) watch(header procedure.Header, events []procedure.Event) error {
	h := l.h
	gauge, _ := Terms(events)
	p, err := h.Begin(header.Practice.Seed, gauge)
	if err != nil {
		return err
	}
	var read time.Time // of the newest CO in the room
	var gap, above time.Duration
	var before procedure.Event
	for i, ev := range events {
		if i > 0 {
			burning := len(p.lit) > 0
			now, err := p.At(ev.Observed)
			if err != nil {
				return err
			}
			if burning {
				from := p.earliest() // before it was lit nothing rose
				if read.After(from) {
					from = read
				}
				gap = max(gap, ev.Observed.Sub(from))
			}
			top := 0.0
			for _, z := range h.Zones {
				if z.CAZ {
					top = max(top, now.CO(z.Name))
				}
			}
			if top > leaveAbove && burning {
				above += ev.Observed.Sub(before.Observed)
			}
			l.keep(now, ev)
			if ambientRead(ev) {
				read = ev.Observed
			}
			if err := l.lightOffs(p, ev); err != nil {
				return err
			}
		}
		if err := p.Take(ev); err != nil {
			return err
		}
		before = ev
	}
	l.end = p.set
	for _, step := range l.order { // as the answers stand in the end: what was put right is no fault
		if err := l.answered(step, l.said[step]); err != nil {
			return err
		}
	}
	if gap > ambientEvery {
		l.most(CheckWatched, gap.Minutes(), "watched", "min", tenth(gap.Minutes()))
	}
	if above > 0 {
		l.fault(CheckLeft, above.Minutes(), "stayed", "min", tenth(above.Minutes()), "co", strconv.Itoa(leaveAbove))
	}
	return nil
}

// earliest light-off of what burns.
func (p *Play) earliest() time.Time {
	var out time.Time
	for _, t := range p.lit {
		if out.IsZero() || t.Before(out) {
			out = t
		}
	}
	return out
}

// ambientRead reports whether an event is a reading of CO in room air.
func ambientRead(ev procedure.Event) bool {
	switch d := ev.Data.(type) {
	case *procedure.Hazard:
		return d.Code == procedure.AmbientCO
	case *procedure.Answer:
		return d.Gas != nil && (strings.HasPrefix(ev.Step, "ambient/") || ev.Step == "arrive/ambient" || strings.HasPrefix(ev.Step, "resume/"))
	}
	return false
}

// lightOffs looks at what an event of the house lights.
func (l *looker) lightOffs(p *Play, ev procedure.Event) error {
	d, ok := ev.Data.(*procedure.House)
	if !ok {
		return nil
	}
	set := l.h.FromPositions(d.State)
	for i := range l.h.Appliances {
		a := &l.h.Appliances[i]
		bit := l.h.burner(i)
		if bit == 0 || set&bit == 0 || p.set&bit != 0 {
			continue
		}
		l.lit = true
		for k := range l.h.Appliances {
			b := &l.h.Appliances[k]
			_, off := p.off[k]
			_, on := p.lit[k]
			if k != i && len(a.Vents) > 0 && b.Zone == a.Zone && b.Fired() && len(b.Vents) > 0 && b.Susceptible() != procedure.No && b.Burner.Input < a.Burner.Input && !off && !on {
				l.fault(CheckOrder, 1, "order", "what", l.h.called(l.lang, a.ID), "want", l.h.called(l.lang, b.ID))
			}
		}
	}
	return nil
}

// said is an answer as it stands in the end, and the house as it stood when it
// was given.
type said struct {
	data  *procedure.Answer
	house *Play
	at    time.Time
}

// keep notes an answer. A correction changes what was said and not what was
// seen: the house is that of the time when it was read.
func (l *looker) keep(p *Play, ev procedure.Event) {
	switch d := ev.Data.(type) {
	case *procedure.Setup:
		if part := strings.Split(ev.Step, "/"); len(part) == 3 && part[2] == "worst" {
			l.setup[part[1]] = l.h.SetUp(p.set, l.names, procedure.Step{Zone: part[1]}, *d)
		}
	case *procedure.Answer:
		if d.SameAs != 0 {
			return // what was only looked at, as before
		}
		if _, had := l.said[ev.Step]; !had {
			l.order = append(l.order, ev.Step)
		}
		l.said[ev.Step] = said{d, p, ev.Observed}
	case *procedure.Correct:
		if old, had := l.said[ev.Step]; had && d.Answer != nil {
			old.data = d.Answer
			l.said[ev.Step] = old
		}
	}
}

// answered holds an answer against the house as it stood.
func (l *looker) answered(step string, a said) error {
	p, data, part := a.house, a.data, strings.Split(step, "/")
	if data.Pressure != nil && (part[0] == "baseline" || part[0] == "reading" || part[0] == "held") {
		if err := l.misread(p, step, part[1], data.Pressure); err != nil {
			return err
		}
	}
	switch part[0] {
	case "baseline":
		if len(part) == 2 && data.Pressure != nil {
			l.base[part[1]] = p.set &^ l.h.Burners()
			if z := l.names[part[1]]; z != "" {
				l.baseP[part[1]] = p.Pressure(z)
			}
		}
	case "reading":
		if len(part) == 3 && part[2] == "worst" && data.Pressure != nil {
			l.held[part[1]] = p.set &^ l.h.Burners()
		}
	case "doors", "redoors", "cazdoors", "firedoors":
		if len(part) == 3 && data.Choice != "" {
			table := procedure.Step{ID: part[0] + "/" + part[1], Form: procedure.FormTable, Ask: "doors.smoke", Zone: part[1], Items: []procedure.Item{{Key: step, Code: "door"}}}
			if l.st.Plan().Doors == "pressure" {
				table.Ask = "doors.pressure"
			}
			s, err := p.showDoors(table, l.names)
			if err != nil {
				return err
			}
			code := map[string]string{"toward-zone": "1", "into-room": "2", "still": "3", "lower": "1", "higher": "2", "same": "3"}[data.Choice]
			l.smoke[l.names[part[2]]] = code == s.Typed || code == "3" && s.Typed == "1" || code == "1" && s.Typed == "3" // still and toward the zone shut it alike
		}
	case "co":
		l.gas = true
		i := p.appliance(l.names[part[1]])
		if t, ok := p.lit[i]; ok && data.Gas != nil {
			if early := l.st.Plan().CO.AfterMin - a.at.Sub(t).Minutes(); early > 0.25 {
				l.most(CheckCOTime, early, "co-early", "name", l.h.called(l.lang, l.h.Appliances[i].ID), "min", tenth(early))
			}
		}
	case "prepare", "putback":
		if len(part) == 3 && part[1] == "house" && data.Seen != nil && data.Seen.State == procedure.SeenOK {
			s := p.showStands(procedure.Step{ID: part[0] + "/house", Items: []procedure.Item{{Code: part[2]}}})
			if s.Typed != "ok" {
				l.fault(CheckSaid, 1, "said", "what", wording.ItemText(l.lang, part[2]), "how", p.house.Stands(l.lang, p.set))
			}
		}
	case "look":
		if len(part) == 3 && data.Seen != nil && data.Seen.State != procedure.SeenWrong {
			subject := "house"
			if part[1] != "house" {
				subject = l.names[part[1]]
			}
			for _, x := range l.h.Looks {
				if x.Subject == subject && x.Code == part[2] {
					name := l.say("looked.house")
					if subject != "house" {
						name = l.h.called(l.lang, subject)
					}
					l.fault(CheckLooked, 1, "unseen", "name", name, "what", x.in(l.lang))
				}
			}
		}
	}
	return nil
}

// misread holds what was typed against the pressure that the zone truly had, as
// far as the gauge's own bounds and gusts do not explain it: a lost minus, a
// slip, a display that had not settled.
func (l *looker) misread(p *Play, step, subject string, typed *procedure.Pressure) error {
	zone := l.names[subject]
	for _, a := range l.st.Appliances() {
		if a.ID == subject { // held for it, in the zone where the trainee has it
			zone = l.names[a.Zone]
		}
	}
	k := p.zone(zone)
	mean, err := reading.Convert(procedure.MeanOf(typed.Values()), reading.Unit(typed.Unit), reading.UnitPa)
	if k < 0 || err != nil {
		return nil // a zone that is not there, which the lists tell
	}
	sd, err := p.wind(func(s *airflow.Solution) float64 { return s.Pressure[k] })
	if err != nil {
		return err
	}
	truth := p.sol.Pressure[k]
	slack := p.gauge.Accuracy + p.gauge.Percent/100*math.Abs(truth) + p.gauge.Resolution + 2*sd
	if off := math.Abs(mean-truth) - slack; off > 0 {
		l.most(CheckRead, off, "misread", "name", l.step(step), "v", tenth(mean), "pa", tenth(truth))
	}
	return nil
}

// id of a zone of the house on the trainee's list.
func (l *looker) id(zone string) string {
	for id, n := range l.names {
		if n == zone && l.h.isZone(zone) && strings.Contains(id, "-") {
			return id
		}
	}
	return ""
}

func (h *House) isZone(name string) bool {
	return slices.ContainsFunc(h.Zones, func(z Zone) bool { return z.Name == name })
}

func (l *looker) pressure(s Setting, zone int) (float64, error) {
	var sol airflow.Solution
	if err := l.m.Solve(s, &sol); err != nil {
		return 0, err
	}
	return sol.Pressure[zone], nil
}

// zone holds the true worst case against how the house was held.
func (l *looker) zone(w Worst, j procedure.Judgement) (ZoneDebrief, error) {
	h := l.h
	k := slices.IndexFunc(h.Zones, func(z Zone) bool { return z.Name == w.Zone })
	z := ZoneDebrief{Zone: w.Zone, Net: w.Net, State: h.FormatSetting(w.Setting), Own: -w.Net}
	id := l.id(w.Zone)
	susceptible := slices.ContainsFunc(h.Appliances, func(a Appliance) bool { return a.Zone == w.Zone && len(a.Vents) > 0 })
	named := id // the judge calls zones as the trainee does
	for _, x := range l.st.Zones() {
		if x.ID == id {
			named = x.Name
		}
	}
	for _, x := range j.WorstCase {
		if x.Zone == named && x.Net != nil {
			z.Found, z.FoundU = x.Net, x.Uncertainty
		}
	}
	if set, ok := l.base[id]; ok {
		v := l.baseP[id] - w.Baseline
		rest, err := l.pressure(set, k) // with vents at rest, so that a warm one is not counted
		if err != nil {
			return z, err
		}
		if set == 0 {
			v = 0
		} else {
			v = rest - w.Baseline
		}
		z.Baseline, z.BaseAs = &v, h.Stands(l.lang, set)
		if math.Abs(v) > 0.05 {
			l.most(CheckBaseline, math.Abs(v), "baseline.moved", "zone", zoneName(l.lang, w.Zone), "what", z.BaseAs, "pa", tenth(v))
		}
	}
	held, ok := l.held[id]
	if !ok {
		if susceptible && w.Net < 0 {
			l.most(CheckWorst, -w.Net, "worst.never", "zone", zoneName(l.lang, w.Zone), "net", tenth(w.Net))
		}
		return z, nil
	}
	at, err := l.pressure(held, k)
	if err != nil {
		return z, err
	}
	net := at - w.Baseline
	z.Held, z.HeldAs = &net, h.Stands(l.lang, held)
	mended := held
	for i, s := range h.switches {
		if (held^w.Setting)>>i&1 == 0 || !s.tried && s.Kind != WindowSwitch && s.Kind != StandInSwitch {
			continue
		}
		on := held>>i&1 == 1
		alone, err := l.pressure(with(w.Setting, i, on), k)
		if err != nil {
			return z, err
		}
		x := Miss{Name: s.Name, Was: s.Rest, Should: s.Turned, Pa: alone - w.Baseline - w.Net}
		if on {
			x.Was, x.Should = s.Turned, s.Rest
		}
		x.Own, x.Why = l.own(i, id, held)
		if x.Own {
			mended = with(mended, i, !on)
		}
		z.Misses = append(z.Misses, x)
	}
	sort.SliceStable(z.Misses, func(a, b int) bool { return z.Misses[a].Pa > z.Misses[b].Pa })
	at2, err := l.pressure(mended, k)
	if err != nil {
		return z, err
	}
	z.Own = max(0, at-at2)
	if z.Own > 0.05 && susceptible {
		for _, x := range z.Misses {
			if x.Own {
				l.most(CheckWorst, z.Own, "worst.stood", "zone", zoneName(l.lang, w.Zone), "name", thing(l.lang, x.Name), "how", l.how(x.Was), "want", l.how(x.Should), "why", l.say("why."+x.Why), "pa", tenth(x.Pa))
			}
		}
	}
	return z, nil
}

// how is a position in words.
func (l *looker) how(position string) string { return l.say("how." + position) }

// own says whether a thing that stood otherwise than at the true worst case is
// the trainee's own doing, and the code of why.
func (l *looker) own(i int, zone string, held Setting) (bool, string) {
	s := &l.h.switches[i]
	if s.Kind == WindowSwitch {
		return true, "left-so"
	}
	if s.Kind == StandInSwitch {
		return true, "not-run"
	}
	listed := s.Kind == DoorSwitch && slices.ContainsFunc(l.h.Doors, func(d Door) bool { return d.Name == s.Name && d.CAZ != "" }) // the zone's own door is on no list
	for _, n := range l.names {
		listed = listed || n == s.Name
	}
	if !listed {
		return true, "no-list"
	}
	if set, ok := l.setup[zone]; ok && (set^held)>>i&1 == 1 {
		return true, "changed"
	}
	switch s.Kind {
	case FanSwitch:
		return true, "not-run"
	case DoorSwitch:
		if sound, asked := l.smoke[s.Name]; asked && !sound {
			return true, "smoke"
		}
	}
	return false, "asked"
}

// lists looks for what was forgotten.
func (l *looker) lists() {
	for _, n := range l.h.Missed(l.names) {
		l.fault(CheckInventory, 1, "unlisted", "name", l.h.called(l.lang, n))
	}
	for _, a := range l.st.Appliances() {
		l.plate(a)
	}
}

// plate holds what was told of a listed appliance against what it is.
func (l *looker) plate(a procedure.Appliance) {
	name := l.called(a.ID)
	i := slices.IndexFunc(l.h.Appliances, func(x Appliance) bool { return x.ID == l.names[a.ID] })
	if i < 0 {
		l.fault(CheckInventory, 1, "not-there", "name", name)
		return
	}
	x := l.h.Appliances[i]
	differs := func(what, said, is string, word func(string) string) {
		if said != is {
			if said = word(said); said == "" {
				said = l.say("told.not-known")
			}
			l.fault(CheckInventory, 1, "told-otherwise", "name", name, "what", l.say("told."+what), "how", said, "want", word(is))
		}
	}
	if !a.Listed {
		return // it was never asked
	}
	differs("fuel", string(a.Burner.Fuel), string(x.Burner.Fuel), func(s string) string { return wording.Field(l.lang, "fuel."+s) })
	if a.Burner.Fuel == procedure.Electricity || a.Kind.SolidFuel() {
		return
	}
	differs("vent", string(a.Vent.Type), string(x.Vent.Type), func(s string) string {
		if s == "" {
			return ""
		}
		word, _, _ := strings.Cut(wording.Choice(l.lang, "", s), ":")
		return word
	})
	tri := func(s string) string {
		if s == "" {
			return ""
		}
		return l.say("tri." + s)
	}
	if x.Vent.Type == procedure.NaturalVent || x.Vent.Type == procedure.FanAssisted {
		differs("shares", string(a.Facts.Shares), string(x.Facts.Shares), tri)
		if x.Facts.Orphaned == procedure.Yes {
			differs("orphaned", string(a.Facts.Orphaned), string(x.Facts.Orphaned), tri)
		}
	}
	if in := a.Burner.Input; x.Burner.Input > 0 && (a.Burner.Unit == string(reading.UnitBtuH) && math.Abs(in/x.Burner.Input-1) > 0.2 || in == 0) {
		l.fault(CheckInventory, 1, "told.input", "name", name, "v", reading.Format(in, 0), "want", reading.Format(x.Burner.Input, 0))
	}
}

// safety stems are questions that are never left out.
var safety = []string{"arrive", "look", "prepare", "ambient", "putback", "told", "flame"}

// steps looks for what was skipped, and for how the house was left.
func (l *looker) steps(o procedure.Observations) {
	for _, s := range o.Skips {
		stem, _, _ := strings.Cut(s.Step, "/")
		if s.Wanted || s.Skip.Reason == procedure.SkipNotWanted || s.Skip.Reason == procedure.SkipEndingEarly || !slices.Contains(safety, stem) {
			continue
		}
		l.fault(CheckSafety, 1, "skipped", "what", l.step(s.Step), "why", wording.Choice(l.lang, "skip.reason", string(s.Skip.Reason)))
	}
	for i, s := range l.h.switches {
		if (l.end^l.h.Arrival)>>i&1 == 1 {
			now, then := s.Rest, s.Turned
			if l.end>>i&1 == 1 {
				now, then = s.Turned, s.Rest
			}
			l.fault(CheckPutBack, 1, "put-back", "name", l.h.called(l.lang, s.Name), "how", l.how(now), "want", l.how(then))
		}
	}
}

func (l *looker) decided(d *Debrief) {
	switch {
	case d.Expected == procedure.NoDecision || d.Decision == d.Expected:
	case d.Decision.Milder(d.Expected):
		l.fault(CheckDecision, 1, "decision.milder", "what", string(d.Decision), "want", string(d.Expected))
	default:
		l.fault(CheckDecision, 0.5, "decision.stricter", "what", string(d.Decision), "want", string(d.Expected))
	}
}

// stages adds up the time before each answer under the stage that asked it.
func (l *looker) stages(events []procedure.Event) ([]StageTime, float64) {
	sum := map[procedure.StageID]float64{}
	now, total, known := procedure.StageArrive, 0.0, map[string]procedure.StageID{}
	for _, st := range l.st.Steps() {
		known[st.ID] = st.Stage
		for _, k := range st.Keys() {
			known[k] = st.Stage
		}
	}
	for i := 1; i < len(events); i++ {
		if s, ok := known[events[i].Step]; ok && events[i].Step != "" {
			now = s
		}
		t := max(0, events[i].Observed.Sub(events[i-1].Observed).Minutes())
		sum[now] += t
		total += t
	}
	var out []StageTime
	for _, s := range procedure.Stages {
		if sum[s] > 0 {
			out = append(out, StageTime{s, sum[s]})
		}
	}
	return out, total
}

// GivenAway is the most of a worst case that the trainee's own doing gave away,
// Pa, over all zones.
func (d Debrief) GivenAway() float64 {
	v := 0.0
	for _, z := range d.Zones {
		v = max(v, z.Own)
	}
	return v
}

// points as a debrief prints them.
func points(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

// Lines are the debrief as plain text, each with its role: "head", "text" or
// "sub".
func (d Debrief) Lines() [][2]string {
	var out [][2]string
	add := func(role string) func(key string, pairs ...string) {
		return func(key string, pairs ...string) {
			out = append(out, [2]string{role, wording.Drill(d.Lang, key, pairs...)})
		}
	}
	head, text, sub := add("head"), add("text"), add("sub")
	verbatim := func(lines []string) {
		for _, t := range lines {
			out = append(out, [2]string{"sub", t})
		}
	}
	how := func(position string) string { return wording.Drill(d.Lang, "how."+position) }
	head("title", "home", d.Title)
	text("who", "what", d.House, "n", strconv.FormatInt(d.Seed, 10), "name", d.Who, "record", d.Record)
	text("score", "n", points(d.Score), "of", points(d.Of), "name", d.Rubric.Name)
	switch d.Mode {
	case Exam:
		text("exam")
	case Coach:
		text("coached")
	case Alone:
	}
	switch {
	case !d.Closed:
		text("open", "what", string(d.Decision))
	case d.Expected == procedure.NoDecision:
		text("decision", "what", string(d.Decision))
	case d.Decision == d.Expected:
		text("decision.right", "what", string(d.Decision))
	default:
		text("decision.other", "what", string(d.Decision), "want", string(d.Expected))
	}
	head("worst", "n", strconv.Itoa(d.Configurations))
	for _, z := range d.Zones {
		text("worst.true", "zone", zoneName(d.Lang, z.Zone), "net", tenth(z.Net), "what", strings.ReplaceAll(z.State, ",", ", "))
		if z.Found != nil {
			u := ""
			if z.FoundU != nil {
				u = wording.Drill(d.Lang, "worst.u", "u", tenth(*z.FoundU))
			}
			sub("worst.found", "net", tenth(*z.Found), "u", u)
		} else {
			sub("worst.no-net")
		}
		if z.Held != nil {
			sub("worst.held", "what", z.HeldAs, "net", tenth(*z.Held))
		}
		if z.Baseline != nil && math.Abs(*z.Baseline) > 0.05 {
			sub("worst.baseline", "what", z.BaseAs, "pa", tenth(*z.Baseline))
		}
		for _, m := range z.Misses {
			sub("worst.miss", "name", thing(d.Lang, m.Name), "how", how(m.Was), "want", how(m.Should), "pa", tenth(m.Pa), "why", wording.Drill(d.Lang, "why."+m.Why))
		}
	}
	head("work-on")
	if len(d.WorkOn) == 0 {
		text("work-on.none")
	}
	for i, s := range d.WorkOn {
		text("work-on.n", "n", strconv.Itoa(i+1), "what", s.Check.Title(d.Lang), "v", points(s.Got), "of", points(s.Points))
		verbatim([]string{s.Why(d.Lang)})
		verbatim(s.Detail)
	}
	head("points")
	top := map[Check]bool{}
	for _, s := range d.WorkOn {
		top[s.Check] = true
	}
	for _, s := range d.Scored {
		key := "points.of"
		if s.Got == s.Points && len(s.Detail) == 0 {
			key = "points.clean"
		}
		text(key, "what", s.Check.Title(d.Lang), "v", points(s.Got), "of", points(s.Points))
		if s.Got < s.Points && !top[s.Check] {
			verbatim([]string{s.Why(d.Lang)})
		}
		verbatim(s.Detail)
	}
	head("time", "min", reading.Format(d.Minutes, 0))
	var times []string
	for _, s := range d.Stages {
		times = append(times, wording.Stage(d.Lang, s.Stage)+" "+tenth(s.Minutes))
	}
	text("time.stages", "what", strings.Join(times, ", "))
	return out
}
