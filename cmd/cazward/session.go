package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"cazward/forms"
	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/practice"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
)

// store is where a session's events go: the record on disk.
type store interface {
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
	last  string           // said once more on the normal screen, after the walk's is gone
	prior string           // record of the earlier phase, for the report
	at    func() time.Time // when what is answered now was seen
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
		return &unsaved{err}
	}
	s.st = next
	return nil
}

// unsaved: the answer is good but could not be written.
type unsaved struct{ err error }

func (u *unsaved) Error() string { return u.err.Error() }
func (u *unsaved) Unwrap() error { return u.err }

func (s *session) judge() procedure.Judgement {
	return evaluation.Judge(s.st.Observations(), s.rules)
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
	return s.answer(step, r.Text, nil)
}

// answer parses, applies and writes what was typed. A refusal keeps the text
// in the box and says why.
func (s *session) answer(step procedure.Step, text string, fix *fixing) error {
	shown := text
	if strings.TrimSpace(text) == "=" && s.st.Header().Practice != nil {
		if _, typed := practice.Demo(step); typed != "" {
			text = typed
		}
	}
	timed := step.Form == procedure.FormClock && s.timed(step.ID)
	entries, err := forms.Parse(step, text, forms.ParseContext{Twice: s.text == shown && s.text != "", SetupN: step.SetupN, Timed: timed})
	if err != nil {
		var ref *forms.Refusal
		if errors.As(err, &ref) {
			s.msg, s.text = ref.Text, shown
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
		s.msg, s.text = "", ""
		return nil
	}
	before := s.st.Last()
	if err := s.commit(evs...); err != nil {
		var u *unsaved
		if errors.As(err, &u) {
			s.msg, s.text = words("msg/unsaved", "err", u.err.Error(), "n", fmt.Sprint(before)), shown
			return nil
		}
		var ref *sequence.Refused
		if errors.As(err, &ref) {
			s.msg, s.text = words("not-kept", "text", ref.Text), shown
			return nil
		}
		return err
	}
	s.msg, s.text = "", ""
	if hz, act, stop := s.st.StopSince(before); stop {
		return s.stop(hz, act)
	}
	s.kept(step, entries)
	return nil
}

func (s *session) kept(step procedure.Step, entries []forms.Entry) {
	if len(entries) == 0 {
		return
	}
	w := wording.KeptText(s.lang, step, entries[0].Data)
	s.p.Tell("kept", fmt.Sprintf("%d: %s", s.st.Last(), w))
}

// stop is the stop screen: the record is saved and closed as a file, the text
// stands on the normal screen, nothing is asked.
func (s *session) stop(h procedure.Hazard, act procedure.Act) error {
	s.rec.Close()
	s.p.Stop(wording.StopLines(s.lang, h, act))
	return exitWith(procedure.Leave.ExitCode())
}

func (s *session) pause(why string) error {
	step := "none"
	if st, ok := s.st.Next(); ok {
		step = st.ID
	}
	s.last = words("msg/pause", "why", why, "step", step, "n", fmt.Sprint(s.st.Last()), "path", s.path)
	s.p.Tell("stopped", s.last)
	s.last = forms.Label("stopped") + ": " + s.last
	return errStopped
}

// timed reports whether the clock of the step runs in this sitting.
func (s *session) timed(id string) bool { return s.st.ClockOn() == id }

// clock writes a mark of the observation clock as it happens, so that a clock
// that is interrupted leaves its trace and counts for nothing.
func (s *session) clock(step procedure.Step, r forms.Reply) error {
	ev := s.event(procedure.KindTimer, step.ID, r.Timer)
	if err := s.commit(ev); err != nil {
		var ref *sequence.Refused
		if errors.As(err, &ref) {
			s.msg = words("not-kept", "text", ref.Text)
			if ref.Code == "clock-differs" {
				return s.commit(s.event(procedure.KindTimer, step.ID, &procedure.Timer{Act: "void", Wall: r.Timer.Wall, Mono: r.Timer.Mono}))
			}
			return nil
		}
		var u *unsaved
		if errors.As(err, &u) {
			s.msg = words("msg/unsaved-mark", "err", u.err.Error())
			return nil
		}
		return err
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
		if r.Control != 0 {
			continue
		}
		en, err := forms.Parse(step, r.Text, forms.ParseContext{Twice: text == r.Text && text != ""})
		var ref *forms.Refusal
		if errors.As(err, &ref) {
			msg, text = ref.Text, r.Text
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

// alarm is the straight way out: no question before it.
func (s *session) alarm() error {
	h := &procedure.Hazard{Code: procedure.Alarm}
	if err := s.commit(s.event(procedure.KindHazard, "", h)); err != nil {
		s.p.Tell("danger", words("msg/not-saved", "err", err.Error()))
	}
	return s.stop(*h, procedure.ActOut)
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
		s.notes[step.ID]++
		return s.own1(s.event(procedure.KindNote, step.ID, &procedure.Note{Text: text}))
	case 'k':
		return s.skip(step)
	case 'b':
		return s.back(step)
	case 'f':
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
	err := s.commit(evs...)
	var ref *sequence.Refused
	var u *unsaved
	switch {
	case errors.As(err, &ref):
		s.msg = words("not-kept", "text", ref.Text)
		return nil
	case errors.As(err, &u):
		s.msg = words("msg/unsaved-this", "err", u.err.Error(), "n", fmt.Sprint(before))
		return nil
	case err != nil:
		return err
	}
	if hz, act, stop := s.st.StopSince(before); stop {
		return s.stop(hz, act)
	}
	return nil
}

// ambient keeps a reading of CO in room air at any step.
func (s *session) ambient(step procedure.Step, arg string) error {
	st := s.own("ambient.now", procedure.FormAmbient, step)
	st.Unit = "ppm"
	st.Args["kind"] = "ambient-co"
	var en forms.Entry
	if arg != "" {
		list, err := forms.Parse(st, arg, forms.ParseContext{Twice: true})
		var ref *forms.Refusal
		if errors.As(err, &ref) {
			s.msg = ref.Text
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
	if !step.Burning && !step.Held {
		return true, nil
	}
	st := s.own("shutdown", procedure.FormChecklist, step)
	for _, c := range []string{"burners-off", "fans-off", "doors-windows-open"} {
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
	for _, r := range procedure.SkipReasons {
		st.Choices = append(st.Choices, string(r))
	}
	en, typed, err := s.ask(st, "")
	if err != nil || typed == "" {
		return err
	}
	sk := procedure.Skip{Reason: procedure.SkipReason(en.Data.(*procedure.Answer).Choice)}
	if sk.Reason == procedure.SkipOther || sk.Reason == procedure.SkipCannot {
		st = s.own("note", procedure.FormText, step)
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
	var evs []procedure.Event
	for _, k := range step.Keys() {
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
		if st, ok := s.st.StepFor(keys[i]); ok && st.ID != step.ID {
			return s.fixStep(st)
		}
	}
	s.msg = words("msg/no-back")
	return nil
}

// fix lists the newest answers and asks which one is wrong.
func (s *session) fix(step procedure.Step, find string) error {
	var steps []procedure.Step
	seen := map[string]bool{}
	keys := s.st.Answers()
	for i := len(keys) - 1; i >= 0 && len(steps) < 9; i-- {
		st, ok := s.st.StepFor(keys[i])
		if !ok || seen[st.ID] || find != "" && !strings.Contains(strings.ToLower(st.ID+" "+st.Name), strings.ToLower(find)) {
			continue
		}
		seen[st.ID] = true
		steps = append(steps, st)
	}
	if len(steps) == 0 {
		s.msg = words("msg/no-fix")
		return nil
	}
	st := s.own("fix.pick", procedure.FormChoice, step)
	var names []string
	for _, x := range steps {
		st.Choices = append(st.Choices, x.ID)
		names = append(names, s.question(x)+": "+s.typed(x))
	}
	st.Args["names"] = strings.Join(names, "|")
	en, typed, err := s.ask(st, "")
	if err != nil || typed == "" {
		return err
	}
	for _, x := range steps {
		if x.ID == en.Data.(*procedure.Answer).Choice {
			return s.fixStep(x)
		}
	}
	return nil
}

func (s *session) question(st procedure.Step) string {
	q := wording.For(s.lang, st, s.st.Plan()).Question
	if st.Name != "" && !strings.Contains(q, st.Name) {
		q = st.Name + ", " + q
	}
	return q
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
	if st.Form == procedure.FormClock || st.Form == procedure.FormDoubt {
		if st.Form == procedure.FormDoubt {
			s.msg = words("msg/doubt-again")
			return nil
		}
	}
	why := s.own("fix.reason", procedure.FormText, st)
	en, typed, err := s.ask(why, "")
	if err != nil || typed == "" {
		return err
	}
	f := &fixing{reason: en.Data.(*procedure.Answer).Text}
	old := s.typed(st)
	before := s.open()
	st = s.decorate(st)
	s.msg, s.text = "", ""
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
		if r.Control != 0 {
			s.msg, s.text = "", ""
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
		s.msg = words("msg/changed", "n", fmt.Sprint(n))
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
	rep := ""
	if err := writeReport(s.path, pdf, reportOptions{size: "letter", before: s.prior, lang: wording.OnPaper(s.lang)}); err != nil {
		rep = words("msg/no-report", "err", err.Error())
	} else {
		rep = words("msg/report", "path", pdf)
	}
	s.last = words("msg/closed", "decision", string(d.Decision), "record", s.path, "report", rep)
	s.p.Tell("closed", s.last)
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

func loadLimits(scheme string, overlays []string) (*limits.Set, error) {
	o := limits.Options{Scheme: scheme}
	for _, f := range overlays {
		b, err := os.ReadFile(f)
		if err != nil {
			return nil, refused("give the path of an overlay file", "%s: %v", f, err)
		}
		o.Overlays = append(o.Overlays, limits.Source{Name: f, Data: b})
	}
	return limits.Load(o)
}
