package main

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"cazward/forms"
	"cazward/forms/plain"
	"cazward/forms/terminal"
	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	"cazward/procedure/practice"
	"cazward/procedure/reading"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
)

// Suffix of a record's file.
const recordSuffix = ".cazward"

// maxRecordName is the length of the longest name that the program gives.
const maxRecordName = 60

type walkOptions struct {
	plain  bool
	demo   bool
	phase  string
	after  string
	scheme string
	home   string
	tester string
	reopen string
	limits []string
	log    logFlags
	lang   string
	drill  *playedHouse // the practice house that it is walked in
	goOn   bool         // the record was chosen from those to go on with
}

func walkCmd(e *env) *cobra.Command {
	var o walkOptions
	c := &cobra.Command{Use: "walk [RECORD]", Short: "guided test of a home, from arrival to the house put back",
		Long: `cazward walk leads through the test, one question at a time, and keeps each
answer before it shows the next screen. Without RECORD the first screen offers
an invented house to try, a new home, or going on with one begun. It ends with
the decision and the report beside the record; a danger ends it with exit 5.
Keys stand on the last row: / and then a letter. Nothing is lost by stopping.`, Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			path := ""
			if len(args) > 0 {
				path = args[0]
			}
			return walk(e, path, o)
		}}
	f := c.Flags()
	f.BoolVar(&o.plain, "plain", false, "one fact a line, no redraw; also for pipes and screen readers")
	f.BoolVar(&o.demo, "demo", false, "the invented demonstration house with a simulated gauge")
	f.StringVar(&o.phase, "phase", "test-in", "test-in, daily or test-out")
	f.StringVar(&o.after, "after", "", "record of the earlier phase, whose inventory is carried over")
	f.StringVar(&o.scheme, "scheme", "graded-2005", "limit scheme; see: cazward limits list")
	f.StringArrayVar(&o.limits, "limits", nil, "overlay file on the scheme")
	f.StringVar(&o.reopen, "reopen", "", "why a closed record is opened again, to correct it")
	f.StringVar(&o.log.file, "log", "", "log of a gauge: at a pressure, log 10:05 10:07 takes the mean of a window")
	f.StringVar(&o.log.time, "log-time", "", "its column of times, by name or number")
	f.StringVar(&o.log.pressure, "log-pressure", "", "its column of pressures, by name or number")
	f.StringVar(&o.log.unit, "log-unit", "", "the unit of its pressures")
	f.StringVar(&o.log.clock, "log-clock", "", `how it writes times, such as "D.M.Y h:m:s"`)
	f.StringVar(&o.home, "home", "", "what the home is called, for a new record")
	f.StringVar(&o.tester, "tester", "", "initials of the tester")
	f.StringVar(&o.lang, "lang", "en", "en or es; screens are ASCII, so Spanish stands there without its accents")
	return c
}

func (e *env) prompter(plainMode bool) (forms.Prompter, error) {
	if plainMode {
		return plain.New(e.in, e.out, e, e.terminal), nil
	}
	if !e.terminal {
		return nil, usage("give --plain to answer from a pipe", "walk asks questions and there is no terminal to answer them")
	}
	return terminal.New(e.in, e.out, e), nil
}

func walk(e *env, path string, o walkOptions) error {
	phase := procedure.Phase(o.phase)
	if phase != procedure.TestIn && phase != procedure.Daily && phase != procedure.TestOut {
		return usage("phases are test-in, daily, test-out", "unknown phase %q", o.phase)
	}
	if path != "" && o.demo {
		return usage("give one of them", "--demo makes a record of its own, so it takes no RECORD that exists")
	}
	lang, err := language(o.lang)
	if err != nil {
		return err
	}
	if err := o.log.atStart(); err != nil {
		return err
	}
	forms.Speak(lang)
	p, err := e.prompter(o.plain || e.terminal && e.plain)
	if err != nil {
		return err
	}
	closed := false
	end := func() {
		if !closed {
			closed = true
			p.Close()
		}
	}
	defer end()
	if path == "" && !o.demo && o.after == "" && o.home == "" && o.drill == nil {
		path, o.demo, err = first(e, p)
		o.goOn = path != ""
		if errors.Is(err, errStopped) {
			return nil
		}
		if err != nil {
			return err
		}
	}
	s, err := openSession(e, p, path, phase, o)
	if errors.Is(err, errStopped) {
		return nil
	}
	if err != nil {
		return err
	}
	defer s.rec.Close()
	err = s.run()
	if !(o.plain || e.plain) { // the full screen is gone, and what it said last with it
		end()
		for _, l := range s.last {
			fmt.Fprintln(e.out, l)
		}
	}
	if errors.Is(err, errStopped) {
		return nil
	}
	return err
}

// first is the screen on which a newcomer lands.
func first(e *env, p forms.Prompter) (path string, demo bool, err error) {
	l := forms.Speaks()
	step := procedure.Step{ID: "first", Stage: procedure.StageArrive, Ask: "first", Form: procedure.FormChoice, Choices: []string{"demo", "new", "go-on", "about"}, Args: map[string]string{}}
	receive(e, p, recordFiles(".")...)
	open := openRecords(".", e.now())
	if len(open) > 0 {
		step.Args["go-on"] = open[0].label
	}
	msg := ""
	for _, r := range open {
		if r.returned != nil {
			msg = strings.TrimSpace(msg + " " + r.home + ": " + returnedText(r.returned))
		}
	}
	for {
		v := forms.View{Step: step, Words: wording.For(l, step, procedure.Plan{}), Message: msg}
		v.Words.Title = wording.FirstTitle(l)
		for _, t := range wording.FirstScreen(l) {
			v.Lines = append(v.Lines, forms.Line{Role: "text", Text: t})
		}
		r, err := p.Ask(v)
		if errors.Is(err, io.EOF) || r.Control == 'q' || r.Control == 'p' {
			return "", false, errStopped
		}
		if err != nil {
			return "", false, err
		}
		if r.Control == '!' {
			return "", false, outNow(p)
		}
		if r.Control != 0 {
			msg = notHere()
			continue
		}
		en, err := forms.Parse(step, r.Text, forms.ParseContext{})
		if text, ok := notTaken(err); ok {
			msg = text
			continue
		}
		if err != nil {
			return "", false, err
		}
		msg = ""
		switch en[0].Data.(*procedure.Answer).Choice {
		case "demo":
			return "", true, nil
		case "new":
			return "", false, nil
		case "go-on":
			if len(open) == 0 {
				msg = words("msg/no-open")
				continue
			}
			return open[0].path, false, nil
		case "about":
			st := procedure.Step{ID: "about", Stage: procedure.StageArrive, Ask: "about", Form: procedure.FormChoice, Choices: []string{"go-back"}, Args: map[string]string{}}
			v := forms.View{Step: st, Words: wording.For(l, st, procedure.Plan{})}
			v.Words.Title = wording.FirstTitle(l)
			for _, t := range wording.AboutTest(l) {
				v.Lines = append(v.Lines, forms.Line{Role: "text", Text: t})
			}
			r, err := p.Ask(v)
			switch {
			case errors.Is(err, io.EOF) || r.Control == 'q' || r.Control == 'p':
				return "", false, errStopped
			case err != nil:
				return "", false, err
			case r.Control == '!':
				return "", false, outNow(p)
			}
		}
	}
}

// notHere() answers a key that needs a record.
func notHere() string { return words("msg/no-record") }

// outNow is the stop screen before there is a record to keep the danger in.
func outNow(p forms.Prompter) error {
	p.Stop(wording.StopAny(wording.English))
	return exitWith(procedure.Leave.ExitCode())
}

type openRecord struct {
	path, home, label string
	at                time.Time
	returned          *procedure.Sign
}

func recordFiles(dir string) []string {
	names, _ := filepath.Glob(filepath.Join(dir, "*"+recordSuffix))
	return names
}

// openRecords are the records of a folder that are not closed, or that a
// supervisor gave back, newest first.
func openRecords(dir string, now time.Time) []openRecord {
	var out []openRecord
	for _, n := range recordFiles(dir) {
		rec, err := disk.Load(n)
		back := returned(rec)
		if err != nil || len(rec.Events) == 0 || rec.Closed && back == nil {
			continue
		}
		at := rec.Events[len(rec.Events)-1].Written
		when := at.Format("2006-01-02 15:04")
		if at.Format("2006-01-02") == now.Format("2006-01-02") {
			when = words("msg/today", "at", at.Format("15:04"))
		}
		label := words("msg/stopped-at", "home", rec.Header.Home, "at", when)
		if rec.Closed {
			label = words("msg/returned-at", "home", rec.Header.Home, "at", when)
		}
		out = append(out, openRecord{n, rec.Header.Home, label, at, back})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].at.After(out[j].at) })
	return out
}

// openSession goes on with a record, or begins one.
func openSession(e *env, p forms.Prompter, path string, phase procedure.Phase, o walkOptions) (*session, error) {
	s := &session{e: e, path: path, p: p, notes: map[string]int{}, src: procedure.FromWalk, lang: wording.OnScreen(wording.Lang(o.lang)), log: o.log, drill: o.drill}
	if path != "" {
		if _, err := os.Stat(path); err == nil {
			return s, s.resume(path, o)
		} else if !errors.Is(err, os.ErrNotExist) {
			return nil, err
		}
	}
	set, err := loadLimits(o.scheme, o.limits)
	if err != nil {
		return nil, err
	}
	s.rules = set.Rules()
	h := procedure.Header{Record: e.id(), Phase: phase, Created: e.now(), Home: o.home}
	who := o.tester
	s.st = sequence.Start(h, set.Plan(phase))
	if o.demo {
		h.Home, h.Practice = practice.DemoHome, &procedure.Practice{House: practice.DemoName, SHA256: practice.DemoHash()}
		who = "demo"
		s.src = procedure.FromDrill
	}
	if o.drill != nil {
		o.drill.header(&h)
		s.src = procedure.FromDrill
	}
	var carried *procedure.Answer
	if o.after != "" {
		receive(e, p, o.after)
		prior, c, rec, err := carryOver(o.after, o.limits, set.Plan(phase).Scheme)
		if err != nil {
			return nil, err
		}
		h.Prior, carried = prior, c
		if back := returned(rec); back != nil {
			p.Tell("supervisor", returnedText(back))
		}
		before := rec.Header
		if h.Home == "" {
			h.Home = before.Home
		}
		if h.Home != before.Home {
			return nil, refused("leave out --home; another home begins without --after", "%s is the record of %q, not of %q", o.after, before.Home, h.Home)
		}
		if p := before.Practice; p != nil && !isDemo(p) && o.drill == nil {
			return nil, refused(saying("cazward drill play %s --after %s", shellName(p.House), shellName(o.after)), "%s was made in a practice house", o.after)
		}
		if before.Practice != nil { // what follows an invented house is as invented
			h.Practice, s.src = before.Practice, procedure.FromDrill
		}
	}
	if h.Home == "" {
		if h.Home, err = s.askText("new.home"); err != nil {
			return nil, err
		}
	}
	if who == "" {
		if who, err = s.askText("new.tester"); err != nil {
			return nil, err
		}
	}
	if path == "" {
		path = freePath(h, e.now())
	}
	plan := set.Plan(phase)
	now := e.now()
	ev := procedure.Event{N: 1, Kind: procedure.KindPlan, Observed: now, Written: now, Who: who, Src: s.src, Data: &plan}
	rec, err := disk.Create(path, h, ev)
	if err != nil {
		return nil, err
	}
	s.rec, s.path = rec, path
	s.prior = o.after
	if err := s.replay(h, []procedure.Event{ev}); err != nil {
		return nil, err
	}
	if carried != nil {
		if err := s.commit(s.event(procedure.KindAnswer, sequence.KeyCarried, carried)); err != nil {
			return nil, err
		}
	}
	s.p.Tell("record", words("msg/keep-name", "path", path))
	if s.drill != nil {
		return s, s.drill.begin(s, nil)
	}
	return s, nil
}

// askText asks one line of text before the record exists.
func (s *session) askText(ask string) (string, error) {
	st := procedure.Step{ID: ask, Stage: procedure.StageArrive, Ask: ask, Form: procedure.FormText, Args: map[string]string{}}
	msg, text := "", ""
	for {
		v := s.view(st)
		v.Message, v.Text = msg, text
		r, err := s.p.Ask(v)
		if errors.Is(err, io.EOF) || r.Control == 'q' || r.Control == 'p' || r.Control == 'b' {
			return "", errStopped
		}
		if err != nil {
			return "", err
		}
		if r.Control == '!' {
			return "", outNow(s.p)
		}
		if r.Control != 0 {
			msg = notHere()
			continue
		}
		en, err := forms.Parse(st, r.Text, forms.ParseContext{})
		if say, ok := s.refusal(err, ""); ok {
			msg, text = say, r.Text
			continue
		}
		if err != nil {
			return "", err
		}
		return en[0].Data.(*procedure.Answer).Text, nil
	}
}

// freePath names a record after its home, phase and day.
func freePath(h procedure.Header, now time.Time) string {
	slug := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 32
		}
		return '-'
	}, h.Home)
	slug = strings.Join(strings.FieldsFunc(slug, func(r rune) bool { return r == '-' }), "-")
	if slug == "" {
		slug = "home"
	}
	// Short enough that "next: cazward walk NAME" has room on one line.
	tail, head := fmt.Sprintf("-%s-%s", h.Phase, now.Format("2006-01-02")), ""
	if h.Practice != nil {
		head = "practice-"
	}
	if room := maxRecordName - len(head) - len(tail) - len("-99"+recordSuffix); len(slug) > room {
		slug = strings.TrimRight(slug[:room], "-")
	}
	base := head + slug + tail
	for i := 1; ; i++ {
		name := base + recordSuffix
		if i > 1 {
			name = fmt.Sprintf("%s-%d%s", base, i, recordSuffix)
		}
		if _, err := os.Stat(name); errors.Is(err, os.ErrNotExist) {
			return name
		}
	}
}

// resume opens a record that exists, and says in it that time passed.
func (s *session) resume(path string, o walkOptions) error {
	receive(s.e, s.p, path)
	rec, err := disk.Open(path)
	if err != nil {
		return err
	}
	s.rec = rec
	if rec.Moved != "" {
		s.p.Tell("record", words("msg/torn", "path", rec.Moved))
	}
	r := rec.Record()
	if err := s.replay(r.Header, r.Events); err != nil {
		rec.Close()
		return failed(exitIntegrity, saying("cazward verify %s", path), "%s: %v", path, err)
	}
	back := returned(r)
	if back != nil && s.st.Closed() && o.goOn {
		o.reopen = returnedText(back)
	}
	if s.st.Closed() && o.reopen == "" {
		rec.Close()
		if back != nil {
			return refused(saying(`to put it right: cazward walk %s --reopen "why"`, shellName(path)), "%s is closed, and %s", path, returnedText(back))
		}
		return refused(saying(`see it with: cazward show %s; to correct it: cazward walk %s --reopen "why"`, path, path), "%s is closed", path)
	}
	if !s.st.Closed() && o.reopen != "" {
		rec.Close()
		return refused(saying("go on with it: cazward walk %s", path), "%s is not closed", path)
	}
	if p := r.Header.Practice; p != nil && !isDemo(p) && s.drill == nil {
		rec.Close()
		return refused(saying("go on with it: cazward drill play %s -o %s", shellName(p.House), shellName(path)), "%s was made in a practice house", path)
	}
	set, err := loadLimits(s.st.Plan().Scheme.Name, o.limits)
	if err == nil {
		err = sameTable(path, s.st.Plan().Scheme, set)
	}
	if err != nil {
		rec.Close()
		return err
	}
	s.rules, s.came = set.Rules(), true
	if r.Header.Practice != nil {
		s.src = procedure.FromDrill
	}
	if o.reopen != "" {
		if err := s.commit(s.event(procedure.KindReopen, "", &procedure.Reopen{Close: r.CloseHash, Reason: o.reopen})); err != nil {
			rec.Close()
			return err
		}
	}
	if back != nil {
		s.p.Tell("supervisor", returnedText(back))
	}
	if err := s.commit(s.event(procedure.KindHandover, "", &procedure.Handover{Who: o.tester, Resumed: true})); err != nil || s.drill == nil {
		return err
	}
	return s.drill.begin(s, r.Events)
}

// replay takes up a record's events. A demonstration's house stands then as
// they leave it.
func (s *session) replay(h procedure.Header, events []procedure.Event) (err error) {
	if h.Practice == nil || s.drill != nil {
		s.st, err = sequence.Replay(h, events)
		return err
	}
	if s.st, err = sequence.Replay(h, events[:min(1, len(events))]); err != nil {
		return err
	}
	s.tour = practice.NewTour()
	for _, ev := range events[1:] {
		s.tour.Follow(s.st, ev)
		if s.st, err = s.st.Apply(ev); err != nil {
			return fmt.Errorf("sequence: event %d: %w", ev.N, err)
		}
	}
	return nil
}

// isDemo reports whether a practice record is of the demonstration, which sets
// its house itself, and not of one that somebody plays.
func isDemo(p *procedure.Practice) bool {
	h, _, err := practice.OpenHouse(practice.DemoName)
	return err == nil && p.House == practice.DemoName && p.SHA256 != h.SHA256
}

// carryOver takes the inventory of an earlier phase, to be confirmed, and the
// worst case that it held under the same table.
func carryOver(path string, overlays []string, scheme procedure.Ref) (*procedure.Prior, *procedure.Answer, journal.Record, error) {
	rec, err := disk.Load(path)
	if err != nil {
		return nil, nil, rec, err
	}
	if !rec.Closed {
		return nil, nil, rec, refused(saying("finish it first: cazward walk %s", path), "%s is not closed, so nothing can follow it", path)
	}
	st, err := sequence.Replay(rec.Header, rec.Events)
	if err != nil {
		return nil, nil, rec, err
	}
	// What the phase before that knew and this one did not confirm goes on.
	known := map[string]procedure.Answer{}
	if d, _, ok := st.Fact(sequence.KeyCarried); ok {
		if x, ok := d.(*procedure.Answer); ok {
			for _, c := range x.Carried {
				known[c.Step] = c.Answer
			}
		}
	}
	for _, k := range st.Answers() {
		if !strings.HasPrefix(k, "list/") && !strings.HasPrefix(k, "appliance/") && !strings.HasPrefix(k, "zone/") || k == sequence.KeyCarried || k == sequence.KeySince || !st.Has(k) {
			continue
		}
		d, _, _ := st.Fact(k)
		if x, ok := d.(*procedure.Answer); ok && x.Choice != "changed" {
			known[k] = *x
		}
	}
	// What it shut off stays off until somebody says that it was put right. It
	// is judged by the table of its own plan; where that is not here, by none.
	l, err := load(path, "", overlays)
	if err != nil {
		return nil, nil, rec, err
	}
	for _, x := range l.j.Appliances {
		if x.Status != procedure.StatusNone {
			known["status/"+x.ID] = procedure.Answer{Choice: string(x.Status)}
		}
	}
	maps.DeleteFunc(known, func(k string, _ procedure.Answer) bool {
		return strings.HasPrefix(k, "worst/") || strings.HasPrefix(k, "net/")
	})
	for _, zo := range l.obs.ZoneObs {
		// One that lacked anything is no ground to leave out the search.
		if su, net, ok := st.Worst(zo.Zone); ok && len(l.j.Missing) == 0 && l.obs.Plan.Scheme == scheme {
			known["worst/"+zo.Zone] = procedure.Answer{Setup: &su}
			known["net/"+zo.Zone] = procedure.Answer{Number: &procedure.Number{Value: &net, Unit: string(reading.UnitPa)}}
		}
	}
	for _, id := range l.obs.TakenAway {
		delete(known, "status/"+id)
	}
	if len(known) == 0 {
		return &procedure.Prior{Record: rec.Header.Record, Close: rec.CloseHash}, nil, rec, nil
	}
	a := &procedure.Answer{}
	for _, k := range slices.Sorted(maps.Keys(known)) {
		a.Carried = append(a.Carried, procedure.CarriedOne{Step: k, Answer: known[k]})
	}
	return &procedure.Prior{Record: rec.Header.Record, Close: rec.CloseHash}, a, rec, nil
}
