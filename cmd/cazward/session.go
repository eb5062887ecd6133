package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/forecast"
	"cazward/procedure/journal/disk"
	"cazward/procedure/practice"
	"cazward/procedure/reading"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
	"cazward/report/photo"
)

// store is where a session's events go: the record on disk.
type store interface {
	StoreAttachment(data []byte) (string, error)
	Append(...procedure.Event) ([]procedure.Event, error)
	Close() error
}

// words are those of the screens, in the language that they speak.
func words(code string, kv ...string) string {
	args := map[string]string{}
	for i := 0; i+1 < len(kv); i += 2 {
		args[kv[i]] = kv[i+1]
	}
	return forms.Words(code, args)
}

// session is one sitting at one record: the loop of ask, apply on a copy,
// write, and only then show the next screen.
type session struct {
	e     *env
	path  string
	st    *sequence.State
	rec   store
	rules procedure.Rules
	p     forms.Prompter
	src   procedure.Source
	notes map[string]int
	msg   string
	text  string
	lang  wording.Lang
	last  []string         // how the sitting ended, a fact a line: see farewell
	lost  error            // why the newest entry is not in the record; nil when it is
	prior string           // record of the earlier phase, for the report
	at    func() time.Time // when what is answered now was seen
	log   logFlags         // a gauge's log that pressures may be taken from
	drill *playedHouse     // the practice house, nil in a real home and in the demonstration
	tour  *practice.Tour   // the house of the demonstration, nil in any other
	came  bool             // the record was gone on with, and nothing is answered since
}

// errStopped ends a sitting: the record is kept and open.
var errStopped = errors.New("stopped")

func (s *session) event(kind procedure.Kind, step string, d procedure.Data) procedure.Event {
	now := s.e.now()
	seen := now
	if s.at != nil {
		seen = s.at()
	}
	return procedure.Event{Kind: kind, Step: step, Observed: seen, Written: now, Who: s.st.Who(), Src: s.src, Data: d}
}

// commit applies events on a copy, writes them in one go, and only then takes
// the copy as the state.
func (s *session) commit(evs ...procedure.Event) error {
	n := s.st.Last()
	for i := range evs {
		evs[i].N = n + 1 + i
	}
	next, err := s.st.Apply(evs...)
	if err != nil {
		return err
	}
	if _, err := s.rec.Append(evs...); err != nil {
		s.lost = err
		return &unsaved{err, next}
	}
	if s.tour != nil {
		for _, ev := range evs {
			s.tour.Follow(s.st, ev)
		}
	}
	s.st, s.lost = next, nil
	return nil
}

// unsaved: what was entered is good but could not be written. would is the
// state that it would have made.
type unsaved struct {
	err   error
	would *sequence.State
}

func (u *unsaved) Error() string { return u.err.Error() }
func (u *unsaved) Unwrap() error { return u.err }

// refusal is what a screen says of an error that the person at it can do
// something about; false is any other error. what names the thing that was
// not kept, "" for an answer.
func (s *session) refusal(err error, what string) (string, bool) {
	if text, ok := notTaken(err); ok {
		return text, true
	}
	var order *sequence.Refused
	var lost *unsaved
	switch {
	case errors.As(err, &order):
		text := order.Text
		if order.Key != "" { // people do not know the keys of facts
			name := wording.KeyText(s.lang, order.Key, s.name)
			text = strings.NewReplacer(fmt.Sprintf("step %q", order.Key), name, fmt.Sprintf("%q", order.Key), name).Replace(text)
		}
		return words("not-kept", "text", wording.Reworded(s.lang, text)+"."), true
	case errors.As(err, &lost):
		return words("msg/unsaved", "text", writeFault(lost.err, what, s.st.Last())), true
	}
	return "", false
}

// notTaken is what a screen says of a text that is no answer.
func notTaken(err error) (string, bool) {
	var typed *forms.Refusal
	if errors.As(err, &typed) {
		return typed.Text, true
	}
	return "", false
}

// danger: what the disk would not take can still be what empties the house.
func (s *session) danger(err error) (procedure.Hazard, procedure.Act, bool) {
	var u *unsaved
	if !errors.As(err, &u) {
		return procedure.Hazard{}, "", false
	}
	return u.would.StopSince(s.st.Last())
}

func (s *session) judge() procedure.Judgement {
	j := evaluation.Judge(s.st.Observations(), s.rules)
	j.Findings = s.rules.Marked(j.Findings)
	return j
}

// run walks until the record is closed, the input ends, or the tester stops.
func (s *session) run() error {
	for {
		step, ok := s.st.Next()
		if !ok {
			return s.finish()
		}
		if err := s.screen(step); err != nil {
			return err
		}
	}
}

// decorate adds to a step what only words know: the names of kinds.
func (s *session) decorate(step procedure.Step) procedure.Step {
	args := map[string]string{}
	for k, v := range step.Args {
		args[k] = v
	}
	step.Args = args
	if step.Ask == "sealing.cfm50" {
		args["stop"] = s.sealingStop()
	}
	switch step.Form {
	case procedure.FormRoster:
		for _, c := range step.Choices {
			args["name/"+c] = wording.KindName(s.lang, c)
		}
	case procedure.FormTold:
		args["what"] = "decision"
		if h := args["hazard"]; h != "" {
			args["what"] = h
		}
	}
	return step
}

// sealingStop says down to which CFM50 every zone stays inside its limit, as
// far as the worst case is known; "" where that cannot be told.
func (s *session) sealingStop() string {
	o := s.st.Observations()
	if o.CFM50 == nil {
		return ""
	}
	stop, ok := forecast.HouseStop(forecast.Zones(o, s.judge(), forecast.Design{Before: reading.Flow(*o.CFM50)}))
	switch {
	case !ok:
		return ""
	case float64(stop) >= *o.CFM50:
		return wording.NoSealing(s.lang)
	}
	return wording.SealTo(s.lang, reading.Format(math.Ceil(float64(stop)), 0))
}

// screen shows one step once and takes what comes back.
func (s *session) screen(step procedure.Step) error {
	step = s.decorate(step)
	v := s.view(step)
	r, err := s.p.Ask(v)
	if errors.Is(err, io.EOF) {
		return s.pause(words("msg/input-ended"))
	}
	if err != nil {
		return err
	}
	if r.Timer != nil {
		return s.clock(step, r)
	}
	if r.Control != 0 {
		s.msg, s.text = "", ""
		return s.control(step, r)
	}
	if s.drill != nil {
		text, done, err := s.drill.before(s, step, r.Text)
		if done || err != nil {
			return err
		}
		r.Text = text
	}
	return s.answer(step, r.Text, nil)
}

// answer parses, applies and writes what was typed. A refusal keeps the text
// in the box and says why.
func (s *session) answer(step procedure.Step, text string, fix *fixing) error {
	shown := text
	if strings.TrimSpace(text) == "=" {
		if typed := s.houseTypes(step); typed != "" {
			text = typed
		}
	}
	if fix == nil && logLine(step, text) {
		return s.logWindow(step, text)
	}
	timed := step.Form == procedure.FormClock && s.timed(step.ID)
	entries, err := forms.Parse(step, text, forms.ParseContext{Twice: s.text == shown && s.text != "", SetupN: step.SetupN, Timed: timed})
	if err != nil {
		if msg, ok := s.refusal(err, ""); ok {
			s.msg, s.text = msg, shown
			return nil
		}
		return err
	}
	var evs []procedure.Event
	for _, en := range entries {
		k := en.Data.EventKind()
		if fix != nil && k != procedure.KindHazard {
			if c, ok := fix.correct(s, en); ok {
				evs = append(evs, s.event(procedure.KindCorrect, en.Key, c))
				continue
			}
			if !fix.changed(s, en) {
				continue
			}
		}
		if k == procedure.KindDoubt {
			evs = append(evs, s.event(k, step.Args["key"], en.Data))
			continue
		}
		evs = append(evs, s.event(k, en.Key, en.Data))
	}
	if len(evs) == 0 {
		s.msg, s.text = words("msg/not-changed"), ""
		return nil
	}
	before := s.st.Last()
	if err := s.commit(evs...); err != nil {
		if hz, act, stop := s.danger(err); stop {
			return s.stop(hz, act, err)
		}
		if msg, ok := s.refusal(err, ""); ok {
			s.msg, s.text = msg, shown
			return nil
		}
		return err
	}
	s.msg, s.text, s.came = "", "", false
	if hz, act, stop := s.st.StopSince(before); stop {
		return s.stop(hz, act, nil)
	}
	s.kept(step, evs...)
	if s.drill != nil {
		return s.drill.after(s, step, evs)
	}
	return nil
}

// kept says what now stands in the record: of a table all of it.
func (s *session) kept(step procedure.Step, evs ...procedure.Event) {
	data := make([]procedure.Data, len(evs))
	for i, ev := range evs {
		data[i] = ev.Data
		if c, ok := ev.Data.(*procedure.Correct); ok {
			data[i] = corrected(c)
		}
	}
	n := fmt.Sprint(s.st.Last())
	if len(evs) > 1 {
		n = words("msg/from-to", "from", fmt.Sprint(s.st.Last()-len(evs)+1), "to", n)
	}
	text := wording.KeptAll(s.lang, step, data)
	if keys := step.Keys(); len(evs) == 1 && len(keys) > 1 { // one line of several: which
		for i, it := range wording.For(s.lang, step, s.st.Plan()).Items {
			if step.Items[i].Key == evs[0].Step {
				text = it + ": " + text
			}
		}
	}
	s.p.Tell("kept", n+": "+text)
}

// corrected is the new answer of a correction.
func corrected(c *procedure.Correct) procedure.Data {
	switch {
	case c.Answer != nil:
		return c.Answer
	case c.Setup != nil:
		return c.Setup
	case c.Skip != nil:
		return c.Skip
	case c.Told != nil:
		return c.Told
	}
	return c
}

// stop is the stop screen: the record is saved and closed as a file, the text
// stands on the normal screen, nothing is asked. lost is why the danger is not
// in the record, if it is not.
func (s *session) stop(h procedure.Hazard, act procedure.Act, lost error) error {
	return s.leave(wording.StopLines(s.lang, h, act), lost)
}

func (s *session) leave(lines []string, lost error) error {
	s.rec.Close()
	if lost != nil {
		lines = append(lines, wording.StopNotSaved(s.lang))
	}
	s.p.Stop(lines)
	return exitWith(procedure.Leave.ExitCode())
}

// farewell says how the sitting ended, a fact a line: in plain mode at once,
// else on the normal screen once the walk's own is gone.
func (s *session) farewell(facts ...[2]string) {
	for _, f := range facts {
		s.p.Tell(f[0], f[1])
		s.last = append(s.last, forms.Label(f[0])+": "+f[1])
	}
}

func (s *session) pause(why string) error {
	facts := [][2]string{{"stopped", words("msg/kept-facts", "why", why, "n", fmt.Sprint(s.st.Last()))}, {"record", s.path}}
	if st, ok := s.st.Next(); ok {
		facts = append(facts, [2]string{"waiting", wording.For(s.lang, s.decorate(st), s.st.Plan()).Question})
	}
	next := "cazward walk " + shellName(s.path)
	if s.drill != nil {
		next = s.drill.goOn(s.path)
	}
	if s.lost != nil {
		facts[0][1] = words("msg/lost-facts", "why", why, "n", fmt.Sprint(s.st.Last()))
		var refused *disk.Refused
		if errors.As(s.lost, &refused) {
			next = "cazward verify " + shellName(s.path)
		}
	}
	s.farewell(append(facts, [2]string{"next", next})...)
	return errStopped
}

// timed reports whether the clock of the step runs in this sitting.
func (s *session) timed(id string) bool { return s.st.ClockOn() == id }

// clock writes a mark of the observation clock as it happens, so that a clock
// that is interrupted leaves its trace and counts for nothing.
func (s *session) clock(step procedure.Step, r forms.Reply) error {
	ev := s.event(procedure.KindTimer, step.ID, r.Timer)
	if err := s.commit(ev); err != nil {
		msg, ok := s.refusal(err, "mark")
		if !ok {
			return err
		}
		s.msg = msg
		var ref *sequence.Refused
		if errors.As(err, &ref) && ref.Code == "clock-differs" {
			return s.commit(s.event(procedure.KindTimer, step.ID, &procedure.Timer{Act: "void", Wall: r.Timer.Wall, Mono: r.Timer.Mono}))
		}
		return nil
	}
	if s.drill != nil {
		if err := s.drill.lit(s, step, r.Timer.Act); err != nil {
			return err
		}
	}
	if r.Text != "" {
		return s.answer(step, r.Text, nil)
	}
	return nil
}

// ask puts a step of the program's own: a reason, a note, which answer to fix.
// "" means the tester went back.
func (s *session) ask(step procedure.Step, old string) (forms.Entry, string, error) {
	msg, text := "", ""
	for {
		v := s.view(step)
		v.Old, v.Message, v.Text = old, msg, text
		r, err := s.p.Ask(v)
		if errors.Is(err, io.EOF) {
			return forms.Entry{}, "", s.pause(words("msg/input-ended"))
		}
		if err != nil {
			return forms.Entry{}, "", err
		}
		if r.Control == 'b' || r.Control == 'q' || r.Control == 'p' {
			return forms.Entry{}, "", nil
		}
		if r.Control == '!' {
			return forms.Entry{}, "", s.alarm()
		}
		if r.Control == 'c' && step.Ask == "ambient.now" && r.Arg != "" { // the same question, so the same answer
			r.Control, r.Text = 0, r.Arg
		}
		if r.Control == 'c' && step.Ask != "ambient.now" {
			if err := s.ambient(step, r.Arg); err != nil {
				return forms.Entry{}, "", err
			}
			msg, s.msg = s.msg, ""
			continue
		}
		if r.Control != 0 {
			msg = words("msg/not-here")
			continue
		}
		if typed := s.houseTypes(step); typed != "" && strings.TrimSpace(r.Text) == "=" { // it stands on the screen
			r.Text = typed
		}
		en, err := forms.Parse(step, r.Text, forms.ParseContext{Twice: text == r.Text && text != ""})
		if say, ok := s.refusal(err, ""); ok {
			msg, text = say, r.Text
			continue
		}
		if err != nil {
			return forms.Entry{}, "", err
		}
		return en[0], r.Text, nil
	}
}

func (s *session) own(ask string, f procedure.Form, from procedure.Step) procedure.Step {
	return procedure.Step{ID: ask, Stage: from.Stage, Ask: ask, Form: f, Zone: from.Zone, Name: from.Name, Setup: from.Setup, Held: from.Held, Burning: from.Burning, Args: map[string]string{}}
}

// alarm is the straight way out: no question before it, so that the screen
// cannot say which of alarm, illness and smell it is.
func (s *session) alarm() error {
	err := s.commit(s.event(procedure.KindHazard, "", &procedure.Hazard{Code: procedure.Alarm}))
	return s.leave(wording.StopAny(s.lang), err)
}

// control does what a key after the slash asks.
func (s *session) control(step procedure.Step, r forms.Reply) error {
	switch r.Control {
	case '!':
		return s.alarm()
	case 'x':
		return s.trouble(step)
	case 'c':
		return s.ambient(step, r.Arg)
	case 'n':
		text := r.Arg
		if text == "" {
			st := s.own("note", procedure.FormText, step)
			st.Event = procedure.KindNote
			en, typed, err := s.ask(st, "")
			if err != nil || typed == "" {
				return err
			}
			text = en.Data.(*procedure.Note).Text
		}
		err := s.own1(s.event(procedure.KindNote, step.ID, &procedure.Note{Text: text}))
		if err == nil && s.lost == nil && s.msg == "" {
			s.notes[step.ID]++
		}
		return err
	case 'a':
		return s.photo(step, r.Arg)
	case 'k':
		return s.skip(step)
	case 'b', 'f':
		if s.drill != nil && s.drill.mode == practice.Exam {
			s.msg = wording.Drill(s.lang, "exam.keys")
			return nil
		}
		if step.Burning {
			// Nobody leafs through answers beside a burning appliance.
			if ok, err := s.shutDown(step); err != nil || !ok {
				return err
			}
			if err := s.own1(s.event(procedure.KindHandover, "", &procedure.Handover{Who: s.st.Who(), Resumed: true})); err != nil || s.lost != nil {
				return err
			}
		}
		if r.Control == 'b' {
			return s.back(step)
		}
		return s.fix(step, r.Arg)
	case 'p', 'q':
		if ok, err := s.shutDown(step); err != nil || !ok {
			return err
		}
		return s.pause(words("msg/stopped"))
	}
	return nil
}

// own1 commits what is no answer to the step on the screen: a hazard, a note,
// a skip. A refusal or a full disk becomes the screen's message.
func (s *session) own1(evs ...procedure.Event) error {
	before := s.st.Last()
	if err := s.commit(evs...); err != nil {
		if hz, act, stop := s.danger(err); stop {
			return s.stop(hz, act, err)
		}
		if msg, ok := s.refusal(err, "entry"); ok {
			s.msg = msg
			return nil
		}
		return err
	}
	if hz, act, stop := s.st.StopSince(before); stop {
		return s.stop(hz, act, nil)
	}
	s.kept(procedure.Step{Form: procedure.FormText}, evs...)
	return nil
}

// photo keeps a picture at the step on the screen, where what it shows is
// seen. Beside a lit burner nobody types paths.
func (s *session) photo(step procedure.Step, path string) error {
	switch {
	case step.Burning:
		s.msg = words("msg/photo-later")
		return nil
	case path == "":
		s.msg = words("msg/photo-how")
		return nil
	}
	p, err := readPhoto(photoPath(path))
	var bad *photo.Refused
	switch {
	case errors.As(err, &bad):
		s.msg = words("msg/photo-bad", "path", path)
		return nil
	case err != nil:
		s.msg = words("msg/photo-gone", "path", path)
		return nil
	}
	sha, err := s.rec.StoreAttachment(p.Data)
	if err != nil {
		s.msg, _ = s.refusal(&unsaved{err, s.st}, "entry")
		return nil
	}
	return s.own1(s.event(procedure.KindAttach, step.ID, &procedure.Attach{SHA256: sha, Bytes: int64(len(p.Data)), Type: p.Type, Step: step.ID}))
}

// ambient keeps a reading of CO in room air at any step.
func (s *session) ambient(step procedure.Step, arg string) error {
	st := s.own("ambient.now", procedure.FormAmbient, step)
	st.Unit = "ppm"
	st.Args["kind"] = "ambient-co"
	var en forms.Entry
	if arg != "" {
		list, err := forms.Parse(st, arg, forms.ParseContext{Twice: true})
		if msg, ok := s.refusal(err, ""); ok {
			s.msg = msg
			return nil
		}
		if err != nil {
			return err
		}
		en = list[0]
	} else {
		var typed string
		var err error
		if en, typed, err = s.ask(st, ""); err != nil || typed == "" {
			return err
		}
	}
	a, ok := en.Data.(*procedure.Answer)
	if !ok || a.Gas == nil {
		return nil
	}
	h := &procedure.Hazard{Code: procedure.AmbientCO, OverRange: a.Gas.OverRange}
	if len(a.Gas.CO) > 0 {
		h.Value = &a.Gas.CO[0]
	}
	return s.own1(s.event(procedure.KindHazard, step.ID, h))
}

// trouble: what must be shut down is shown first, then what it was is asked.
func (s *session) trouble(step procedure.Step) error {
	if ok, err := s.shutDown(step); err != nil || !ok {
		return err
	}
	// All off and open: it is not held at worst case any more.
	if err := s.own1(s.event(procedure.KindHandover, "", &procedure.Handover{Who: s.st.Who(), Resumed: true})); err != nil || s.lost != nil {
		return err
	}
	st := s.own("hazard.kind", procedure.FormChoice, step)
	st.Choices = []string{string(procedure.Alarm), string(procedure.Symptoms), string(procedure.Smell), string(procedure.Leak), string(procedure.AmbientCO), string(procedure.Rollout), string(procedure.FlameChange)}
	en, typed, err := s.ask(st, "")
	if err != nil || typed == "" {
		return err
	}
	code := procedure.HazardCode(en.Data.(*procedure.Answer).Choice)
	if code == procedure.AmbientCO {
		return s.ambient(step, "")
	}
	h := &procedure.Hazard{Code: code, Subject: step.Subject}
	if code == procedure.Leak || code == procedure.Rollout || code == procedure.FlameChange {
		if h.Subject == "" {
			var names []string
			st = s.own("hazard.subject", procedure.FormChoice, step)
			for _, a := range s.st.Appliances() {
				st.Choices = append(st.Choices, a.ID)
				names = append(names, a.Name)
			}
			st.Choices = append(st.Choices, "none-of-these")
			st.Args["names"] = strings.Join(names, "|")
			en, typed, err = s.ask(st, "")
			if err != nil || typed == "" {
				return err
			}
			if c := en.Data.(*procedure.Answer).Choice; c != "none-of-these" {
				h.Subject = c
			}
		}
		st = s.own("hazard.where", procedure.FormText, step)
		en, typed, err = s.ask(st, "")
		if err != nil || typed == "" {
			return err
		}
		h.Where = en.Data.(*procedure.Answer).Text
	}
	return s.own1(s.event(procedure.KindHazard, step.ID, h))
}

// shutDown first shows what must be switched off when burners run or the
// house is held; false when the tester went back.
func (s *session) shutDown(step procedure.Step) (bool, error) {
	_, held := s.inForce()
	held = held && (step.Stage == procedure.StageWorst || step.Stage == procedure.StageAppliances)
	if !step.Burning && !step.Held && !held {
		return true, nil
	}
	st := s.own("shutdown", procedure.FormChecklist, step)
	for _, c := range []string{"burners-out", "fans-off", "doors-windows-open"} {
		st.Items = append(st.Items, procedure.Item{Key: "shutdown/" + c, Code: c})
	}
	_, typed, err := s.ask(st, "")
	if err == nil && typed != "" && strings.TrimSpace(strings.ToLower(typed)) != "ok" {
		s.msg = words("msg/shut-first")
		return false, nil
	}
	return typed != "", err
}

func (s *session) skip(step procedure.Step) error {
	st := s.own("skip.reason", procedure.FormChoice, step)
	st.Name = s.label(step, nil)
	for _, r := range procedure.SkipReasons {
		st.Choices = append(st.Choices, string(r))
	}
	en, typed, err := s.ask(st, "")
	if err != nil || typed == "" {
		return err
	}
	sk := procedure.Skip{Reason: procedure.SkipReason(en.Data.(*procedure.Answer).Choice)}
	if sk.Reason == procedure.SkipOther || sk.Reason == procedure.SkipCannot {
		st = s.own("skip.why", procedure.FormText, step)
		en, typed, err = s.ask(st, "")
		if err != nil || typed == "" {
			return err
		}
		sk.Text = en.Data.(*procedure.Answer).Text
	}
	if step.Burning && sk.Reason == procedure.SkipEndingEarly {
		if ok, err := s.shutDown(step); err != nil || !ok {
			return err
		}
	}
	keys := step.Keys()
	if sk.Reason == procedure.SkipEndingEarly {
		keys = keys[:1] // with it the other lines of the screen are not asked any more
	}
	var evs []procedure.Event
	for _, k := range keys {
		c := sk
		evs = append(evs, s.event(procedure.KindSkip, k, &c))
	}
	return s.own1(evs...)
}

// fixing is a correction in progress.
type fixing struct {
	reason string
}

// correct makes the correction of one fact; false when the fact is new.
func (f *fixing) correct(s *session, en forms.Entry) (*procedure.Correct, bool) {
	_, n, ok := s.st.Fact(en.Key)
	if !ok || !f.changed(s, en) {
		return nil, false
	}
	c := &procedure.Correct{Replaces: n, Reason: f.reason}
	switch d := en.Data.(type) {
	case *procedure.Answer:
		c.Answer = d
	case *procedure.Setup:
		c.Setup = d
	case *procedure.Skip:
		c.Skip = d
	case *procedure.Told:
		c.Told = d
	default:
		return nil, false
	}
	return c, true
}

func (f *fixing) changed(s *session, en forms.Entry) bool {
	d, _, ok := s.st.Fact(en.Key)
	return !ok || fmt.Sprintf("%#v", canonical(d)) != fmt.Sprintf("%#v", canonical(en.Data))
}

func (s *session) back(step procedure.Step) error {
	keys := s.st.Answers()
	for i := len(keys) - 1; i >= 0; i-- {
		if st, ok := s.st.StepFor(keys[i]); ok && st.ID != step.ID && st.Form != procedure.FormCarried {
			return s.fixStep(st)
		}
	}
	s.msg = words("msg/no-back")
	return nil
}

// fix lists the newest answers and asks which one is wrong. A word in place of
// a number searches all of them.
func (s *session) fix(step procedure.Step, find string) error {
	note := ""
	for {
		steps := s.fixable(find)
		if len(steps) == 0 {
			if find == "" {
				s.msg = words("msg/no-fix")
				return nil
			}
			note, find = words("msg/not-found", "text", find), ""
			continue
		}
		if find != "" && note == "" {
			note = words("msg/found", "n", fmt.Sprint(len(steps)), "text", find)
		}
		st := s.own("fix.pick", procedure.FormChoice, step)
		st.Setup, st.Held = nil, false // the list is about other set-ups than the one now
		var names []string
		for _, x := range steps {
			st.Choices = append(st.Choices, x.ID)
			names = append(names, strings.ReplaceAll(s.label(x, steps)+": "+s.said(x), "|", "/"))
		}
		st.Args["names"] = strings.Join(names, "|")
		v := s.view(st)
		v.SoFar, v.NetNote, v.Ruler, v.Message, v.Brief = nil, "", nil, note, true
		r, err := s.p.Ask(v)
		note = ""
		switch {
		case errors.Is(err, io.EOF):
			return s.pause("input ended")
		case err != nil:
			return err
		case r.Control == '!':
			return s.alarm()
		case r.Control == 'c':
			if err := s.ambient(step, r.Arg); err != nil {
				return err
			}
			note, s.msg = s.msg, ""
			continue
		case r.Control != 0:
			return nil
		}
		text := strings.TrimSpace(r.Text)
		if strings.Trim(text, "0123456789") != "" { // no number: a word to search for
			find = text
			continue
		}
		en, err := forms.Parse(st, text, forms.ParseContext{})
		if msg, ok := notTaken(err); ok {
			note = msg
			continue
		}
		if err != nil {
			return err
		}
		for _, x := range steps {
			if x.ID == en[0].Data.(*procedure.Answer).Choice {
				return s.fixStep(x)
			}
		}
	}
}

// fixable are the steps of the newest answers, at most nine, with a word in
// their name, question or answer.
func (s *session) fixable(find string) []procedure.Step {
	var steps []procedure.Step
	seen := map[string]bool{}
	keys := s.st.Answers()
	for i := len(keys) - 1; i >= 0 && len(steps) < 9; i-- {
		st, ok := s.st.StepFor(keys[i])
		if !ok || seen[st.ID] || st.Form == procedure.FormCarried {
			continue // the program wrote that one
		}
		seen[st.ID] = true
		text := strings.Join([]string{st.ID, s.label(st, nil), s.said(st), wording.For(s.lang, st, s.st.Plan()).Question}, " ")
		if strings.Contains(strings.ToLower(text), strings.ToLower(find)) {
			steps = append(steps, st)
		}
	}
	return steps
}

// label names a step by zone or appliance and stage. Where others in a list
// have the same name it also says as which entry it was kept.
func (s *session) label(st procedure.Step, among []procedure.Step) string {
	name := func(st procedure.Step) string {
		switch st.Form {
		case procedure.FormPressure, procedure.FormPairs, procedure.FormGas, procedure.FormAmbient, procedure.FormClock, procedure.FormWeather, procedure.FormNumber:
			return wording.Short(s.lang, st)
		}
		return wording.KeyText(s.lang, st.ID, s.name)
	}
	out := name(st)
	for _, x := range among {
		if x.ID != st.ID && name(x) == out {
			_, n, _ := s.st.Fact(st.Keys()[0])
			return words("msg/entry", "what", out, "n", fmt.Sprint(n))
		}
	}
	return out
}

// said is the answer of a step as the walk prints it: pressures as they were
// read, all else in words.
func (s *session) said(st procedure.Step) string {
	if st.Form == procedure.FormPressure || st.Form == procedure.FormPairs {
		if t := s.typed(st); t != "" {
			return t
		}
	}
	var data []procedure.Data
	for _, k := range st.Keys() {
		if d, _, ok := s.st.Fact(k); ok {
			data = append(data, d)
		}
	}
	if len(data) == 0 {
		return ""
	}
	return wording.Said(s.lang, s.decorate(st), data)
}

// typed is the old answer of a step as it was typed.
func (s *session) typed(st procedure.Step) string {
	var data []procedure.Data
	for _, k := range st.Keys() {
		if d, _, ok := s.st.Fact(k); ok {
			data = append(data, d)
		}
	}
	if len(data) == 0 {
		return ""
	}
	return forms.Typed(s.decorate(st), data...)
}

func (s *session) fixStep(st procedure.Step) error {
	if st.Form == procedure.FormDoubt {
		s.msg = words("msg/doubt-again")
		return nil
	}
	which := s.label(st, nil)
	why := s.own("fix.reason", procedure.FormText, st)
	why.Name = which
	en, typed, err := s.ask(why, "")
	if err != nil || typed == "" {
		return err
	}
	f := &fixing{reason: en.Data.(*procedure.Answer).Text}
	old := s.typed(st)
	before := s.open()
	st = s.decorate(st)
	s.msg, s.text = words("msg/correcting", "what", which), ""
	for {
		v := s.view(st)
		v.Old, v.Message, v.Text = old, s.msg, s.text
		r, err := s.p.Ask(v)
		if errors.Is(err, io.EOF) {
			return s.pause(words("msg/input-ended"))
		}
		if err != nil {
			return err
		}
		if r.Control == '!' {
			return s.alarm()
		}
		s.msg, s.text = "", ""
		if r.Control == 'c' {
			if err := s.ambient(st, r.Arg); err != nil {
				return err
			}
			continue
		}
		if r.Control != 0 {
			s.msg = words("msg/stands")
			return nil
		}
		if err := s.answer(st, r.Text, f); err != nil {
			return err
		}
		if s.text == "" {
			break
		}
	}
	if n := s.open() - before; n > 0 {
		s.msg = words("msg/changed", "n", fmt.Sprint(s.st.Last()), "again", fmt.Sprint(n))
	}
	return nil
}

func (s *session) open() int {
	n := 0
	for _, m := range s.st.Observations().Open {
		if m.Why == "stale" {
			n++
		}
	}
	return n
}

// finish closes the record with its decision and writes the report.
func (s *session) finish() error {
	d, err := closeRecord(s)
	if err != nil {
		return err
	}
	pdf := strings.TrimSuffix(s.path, filepath.Ext(s.path)) + ".pdf"
	facts := [][2]string{
		{"closed", words("msg/closed", "decision", string(d.Decision), "head", wording.Headline(s.lang, d.Decision, s.st.Header().Phase, len(d.Missing)), "word", forms.Signal(d.Decision.SignalWord()))},
		{"record", s.path}, {"report", pdf}, {"next", "cazward show " + shellName(s.path)}}
	if err := writeReport(s.path, pdf, reportOptions{size: "letter", before: s.prior, lang: string(wording.OnPaper(s.lang))}); err != nil {
		facts[2][1] = words("msg/no-report", "err", err.Error())
		facts[3][1] = "cazward report " + shellName(s.path) + " -o " + shellName(pdf)
	}
	s.farewell(facts...)
	return nil
}

// closeRecord writes decided and close in one go.
func closeRecord(s *session) (procedure.Judgement, error) {
	j := s.judge()
	n := s.st.Last()
	evs := []procedure.Event{
		s.event(procedure.KindDecided, "", decidedData(j, s.rules)),
		s.event(procedure.KindClose, "", &procedure.Close{Decided: n + 1, Attachments: s.st.Attachments()}),
	}
	if evs[1].Data.(*procedure.Close).Attachments == nil {
		evs[1].Data.(*procedure.Close).Attachments = []string{}
	}
	return j, s.commit(evs...)
}

func decidedData(j procedure.Judgement, r procedure.Rules) *procedure.Decided {
	d := &procedure.Decided{Decision: j.Decision, Program: "cazward " + version, Scheme: r.Scheme.SHA256, Rows: []procedure.RowUsed{}, Missing: []string{}}
	seen := map[string]bool{}
	for _, f := range j.Findings {
		if f.Row == "" || seen[f.Row+string(f.Verdict)] {
			continue
		}
		seen[f.Row+string(f.Verdict)] = true
		d.Rows = append(d.Rows, procedure.RowUsed{Row: f.Row, Value: f.Limit, Unit: f.Unit, Source: f.Source, Evidence: f.Evidence, Verdict: f.Verdict})
	}
	for _, m := range j.Missing {
		d.Missing = append(d.Missing, m.Step)
	}
	return d
}
