package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"cazward/forms"
	"cazward/forms/script"
	"cazward/procedure"
	"cazward/procedure/journal/disk"
	"cazward/procedure/wording"
)

// TestWriteFault: each fault has its own words and says what to do about it.
func TestWriteFault(t *testing.T) {
	saved := func(err error) error {
		return &disk.NotSaved{Path: "a", Err: &fs.PathError{Op: "write", Path: "a", Err: err}}
	}
	cases := []struct {
		err      error
		why, do  string
		mustNots []string
	}{
		{saved(syscall.ENOSPC), "the disk is full", "Free space, press Enter.", nil},
		{saved(syscall.EROFS), "write-protected", "Make it writable, press Enter.", []string{"Free space"}},
		{saved(syscall.EACCES), "write-protected", "Make it writable, press Enter.", []string{"Free space"}},
		{saved(syscall.EIO), "the disk fails", "or /q.", []string{"Free space"}},
		{saved(os.ErrClosed), "not open any more", "/q, then go on.", []string{"Free space", "press Enter"}},
		{saved(errors.New("odd fault")), "odd fault", "Mend it, press Enter.", []string{"Free space"}},
		{&disk.Refused{Path: "a", Text: "was changed by something else while in use", Next: "stop, then: cazward verify a", Code: 8}, "changed from outside", "/q, then verify it.", []string{"Free space", "press Enter"}},
		{&disk.Refused{Path: "a", Text: "was deleted or renamed while in use", Next: "put it back; nothing more is written until then", Code: 8}, "deleted or moved", "Put it back, press Enter.", []string{"Free space"}},
	}
	seen := map[string]bool{}
	for _, c := range cases {
		got := writeFault(c.err, "", 71)
		for _, w := range []string{c.why, c.do, "answer NOT saved, write it down.", "Last kept: 71."} {
			if !strings.Contains(got, w) {
				t.Errorf("%v: %q is not in %q", c.err, w, got)
			}
		}
		for _, w := range c.mustNots {
			if strings.Contains(got, w) {
				t.Errorf("%v: %q is in %q", c.err, w, got)
			}
		}
		if room := 2 * 54; len("STOPPED  "+got) > room && !strings.Contains(got, "odd fault") {
			t.Errorf("%d characters, two rows of the narrow screen hold %d: %s", len("STOPPED  "+got), room, got)
		}
		seen[got] = true
		forms.Speak(wording.Spanish)
		if got := writeFault(c.err, "", 71); len("PARADO  "+got) > 2*54 && !strings.Contains(got, "odd fault") {
			t.Errorf("%d characters: %s", len("PARADO  "+got), got)
		}
		forms.Speak(wording.English)
	}
	if len(seen) != len(cases)-1 { // no right and a read-only disk are one to the person
		t.Errorf("%d texts for %d faults", len(seen), len(cases))
	}
	if got := writeFault(saved(syscall.ENOSPC), "mark", 71); !strings.Contains(got, "time it again") || strings.Contains(got, "press Enter") {
		t.Errorf("a mark cannot be made again: %q", got)
	}
}

// TestWriteFaultInSpanish: what the keeper of the file said is not left English.
func TestWriteFaultInSpanish(t *testing.T) {
	forms.Speak(wording.Spanish)
	defer forms.Speak(wording.English)
	got := writeFault(&disk.Refused{Path: "a", Text: "cannot be written", Next: "make it writable", Code: 7}, "", 71)
	if want := "el registro no se puede escribir: respuesta NO guardada, anotela. Permita escribir en el. Ultima: 71."; got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

// failing is a store that takes n appends, then none.
type failing struct {
	store
	n   int
	err error
}

func (f *failing) Append(evs ...procedure.Event) ([]procedure.Event, error) {
	if f.n--; f.n < 0 {
		return nil, f.err
	}
	return f.store.Append(evs...)
}

// demoSession begins the demonstration house in a folder of its own.
func demoSession(t *testing.T, p forms.Prompter) *session {
	t.Helper()
	t.Chdir(t.TempDir())
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	e := &env{in: strings.NewReader(""), out: io.Discard, err: io.Discard, id: func() string { return "0123456789abcdef" },
		now: func() time.Time { at = at.Add(10 * time.Second); return at }, mono: func() int64 { return 0 }}
	s, err := openSession(e, p, "", procedure.TestIn, walkOptions{demo: true, scheme: "graded-2005"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.rec.Close() })
	return s
}

// house answers as a newcomer can everywhere in the demonstration.
func house(forms.View) string { return "=" }

// TestUnsavedAnswerStays: what the disk did not take stays in the box, the
// screen says what is wrong with just this disk, and so do the last lines.
func TestUnsavedAnswerStays(t *testing.T) {
	for spoil, want := range map[string][2]string{
		"changed": {"STOPPED  record changed from outside", "next: cazward verify "},
		"deleted": {"STOPPED  record deleted or moved", "next: cazward verify "},
		"full":    {"STOPPED  the disk is full", "next: cazward walk "},
	} {
		p := &script.Script{Answers: map[string][]string{}}
		s := demoSession(t, p)
		lel := 0
		p.Func = func(v forms.View) string {
			if v.Step.ID != "arrive/lel" {
				return house(v)
			}
			if lel++; lel > 2 {
				return "/q"
			}
			if lel == 2 {
				return "/n nobody keeps this"
			}
			switch spoil {
			case "changed":
				f, err := os.OpenFile(s.path, os.O_APPEND|os.O_WRONLY, 0)
				if err != nil {
					t.Fatal(err)
				}
				defer f.Close()
				if _, err := f.WriteString("from outside\n"); err != nil {
					t.Fatal(err)
				}
			case "deleted":
				if err := os.Remove(s.path); err != nil {
					t.Fatal(err)
				}
			case "full":
				s.rec = &failing{s.rec, 0, &disk.NotSaved{Path: "x", Err: syscall.ENOSPC}}
			}
			return "0"
		}
		if err := s.run(); !errors.Is(err, errStopped) {
			t.Fatal(err)
		}
		first, last := p.Views[len(p.Views)-2], p.Views[len(p.Views)-1]
		if first.Step.ID != "arrive/lel" || first.Text != "0" || !strings.HasPrefix(first.Message, want[0]+": answer NOT saved") {
			t.Errorf("%s: %s, box %q, message %q", spoil, first.Step.ID, first.Text, first.Message)
		}
		if last.Notes != 0 || !strings.HasPrefix(last.Message, want[0]+": entry NOT saved") {
			t.Errorf("%s: %d notes, message %q", spoil, last.Notes, last.Message)
		}
		if all := strings.Join(s.last, "\n"); !strings.Contains(all, "stopped: not finished; 9 entries are kept, what came after is NOT saved\n") || !strings.Contains(all, want[1]) {
			t.Errorf("%s: %s", spoil, all)
		}
	}
}

// TestUnsavedDangerStillEmptiesTheHouse: a disk that is full must not keep the
// stop screen away.
func TestUnsavedDangerStillEmptiesTheHouse(t *testing.T) {
	for _, answers := range []map[string][]string{{"arrive/ambient": {"78"}}, {"arrive/ambient": {"/c 78"}}, {"arrive/ambient": {"/!"}}, {"arrive/danger": {"1"}}} {
		p := &script.Script{Answers: answers, Func: house}
		s := demoSession(t, p)
		n := 3
		if answers["arrive/danger"] != nil {
			n = 0
		}
		s.rec = &failing{s.rec, n, &disk.NotSaved{Path: "x", Err: syscall.ENOSPC}}
		err := s.run()
		var code exitWith
		if !errors.As(err, &code) || int(code) != 5 {
			t.Errorf("%v: %v", answers, err)
		}
		all := strings.Join(p.Stopped, "\n")
		if !strings.Contains(all, "EVERYONE OUT NOW") || !strings.Contains(all, "NOT be saved") {
			t.Errorf("%v: %q", answers, all)
		}
	}
}

// TestDangerAtADetour: a reading of room air counts wherever it is typed.
func TestDangerAtADetour(t *testing.T) {
	for _, ask := range []string{"/n", "/k", "/f", "/b", "/c"} {
		p := &script.Script{Answers: map[string][]string{"arrive/weather": {ask}}}
		p.Func = func(v forms.View) string {
			switch v.Step.ID {
			case "note", "skip.reason", "fix.pick", "fix.reason", "ambient.now":
				return "/c 45"
			}
			return house(v)
		}
		s := demoSession(t, p)
		err := s.run()
		var code exitWith
		if !errors.As(err, &code) || int(code) != 5 || len(p.Stopped) == 0 {
			t.Errorf("%s, then /c 45: %v, stop screen %q", ask, err, p.Stopped)
		}
	}
}

// TestFarewell: a fact a line, none longer than a screen is wide, and a
// command that can be typed as it stands.
func TestFarewell(t *testing.T) {
	long := strings.Repeat("a very long name of a home ", 5)
	h := procedure.Header{Home: long, Phase: procedure.TestOut, Practice: &procedure.Practice{}}
	t.Chdir(t.TempDir())
	for i := 0; i < 3; i++ {
		name := freePath(h, time.Date(2026, 12, 31, 0, 0, 0, 0, time.UTC))
		if n := len("next: cazward walk " + shellName(name)); n > 79 || len(name) > maxRecordName || strings.Contains(name, "--") {
			t.Errorf("%d columns: %s", n, name)
		}
		if err := os.WriteFile(name, nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	p := &script.Script{Answers: map[string][]string{"arrive/lel": {"/q"}}, Func: house}
	s := demoSession(t, p)
	if err := s.run(); !errors.Is(err, errStopped) {
		t.Fatal(err)
	}
	want := []string{"stopped: not finished; nothing is lost, 9 entries are kept", "record: " + s.path, "waiting: What does the gas detector show in the room air?", "next: cazward walk " + s.path}
	if strings.Join(s.last, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(s.last, "\n"), strings.Join(want, "\n"))
	}
	s.p = &script.Script{Func: house}
	s.last = nil
	if err := s.run(); err != nil {
		t.Fatal(err)
	}
	pdf := strings.TrimSuffix(s.path, filepath.Ext(s.path)) + ".pdf"
	want = []string{"closed: decision hold: DO NOT AIR-SEAL THIS HOUSE YET (WARNING)", "record: " + s.path, "report: " + pdf, "next: cazward show " + s.path}
	if strings.Join(s.last, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(s.last, "\n"), strings.Join(want, "\n"))
	}
	for _, l := range s.last {
		if len(l) > 79 {
			t.Errorf("%d columns: %s", len(l), l)
		}
	}
	for path, want := range map[string]string{"a-1.cazward": "a-1.cazward", "a b.cazward": `"a b.cazward"`} {
		if got := shellName(path); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}

// TestKeptCoversEveryAnswer: the numbers that the walk says it kept are all
// events that the answers of the demonstration house make, in order.
func TestKeptCoversEveryAnswer(t *testing.T) {
	p := &script.Script{Func: house}
	s := demoSession(t, p)
	if err := s.run(); err != nil {
		t.Fatal(err)
	}
	next := 2 // 1 is the plan
	for _, l := range p.Told {
		text, ok := strings.CutPrefix(l, "kept: ")
		if !ok {
			continue
		}
		from, to := 0, 0
		if n, _ := fmt.Sscanf(text, "%d to %d:", &from, &to); n == 1 {
			to = from
		}
		if from != next || to < from {
			t.Fatalf("%q, the next to be kept is %d", l, next)
		}
		if to > from && !strings.Contains(text, fmt.Sprintf(": %d answers", to-from+1)) {
			t.Errorf("%q does not say how many", l)
		}
		next = to + 1
	}
	if last := s.st.Last() - 2; next-1 != last { // decided and close are no answers
		t.Errorf("kept up to %d, the record holds answers up to %d", next-1, last)
	}
}

// TestFixList: no two lines of the list read alike, and a word finds answers
// that the list is too short for.
func TestFixList(t *testing.T) {
	var list, found, none forms.View
	p := &script.Script{Answers: map[string][]string{"putback/house": {"/f"}}}
	turn := 0
	p.Func = func(v forms.View) string {
		if v.Step.ID != "fix.pick" {
			return house(v)
		}
		turn++
		switch turn {
		case 1:
			list = v
			return "with dryer"
		case 2:
			found = v
			return "no such thing"
		case 3:
			none = v
		}
		return "/q"
	}
	s := demoSession(t, p)
	if err := s.run(); err != nil {
		t.Fatal(err)
	}
	if len(list.Words.Choices) != 9 || list.Step.Setup != nil {
		t.Errorf("%d answers: %q", len(list.Words.Choices), list.Words.Choices)
	}
	if !strings.Contains(strings.Join(found.Words.Choices, "\n"), "basement with dryer: -1.7 -2.0 -1.8 -1.8 -2.0") || len(found.Words.Choices) != 2 || !strings.HasPrefix(found.Message, "FOUND  2") {
		t.Errorf("%q, %q", found.Words.Choices, found.Message)
	}
	if strings.Join(none.Words.Choices, "\n") != strings.Join(list.Words.Choices, "\n") || !strings.HasPrefix(none.Message, "NOT FOUND") {
		t.Errorf("%q, %q", none.Words.Choices, none.Message)
	}
	seen := map[string]string{}
	steps := s.st.Steps()
	for _, st := range steps {
		l := s.label(st, steps)
		if seen[l] != "" {
			t.Errorf("%s and %s are both %q", seen[l], st.ID, l)
		}
		seen[l] = st.ID
		if strings.Contains(s.said(st), "-3 ") {
			t.Errorf("%s: %q, gauges show -3.0", st.ID, s.said(st))
		}
	}
	if len(steps) < 50 {
		t.Errorf("only %d steps", len(steps))
	}
}

// TestHelp: every verb says what it does and how it is typed, 79 columns wide.
func TestHelp(t *testing.T) {
	get := func(args ...string) string {
		var out, errs strings.Builder
		e := &env{in: strings.NewReader(""), out: &out, err: &errs, now: time.Now, mono: func() int64 { return 0 }, id: newID}
		report(&errs, run(e, args))
		return out.String() + errs.String()
	}
	top := get()
	for _, w := range []string{"Start with: cazward walk", "usage: cazward VERB", "\n  walk  ", "\n  verify  "} {
		if !strings.Contains(top, w) {
			t.Errorf("%q is not in\n%s", w, top)
		}
	}
	verbs := 0
	_, list, _ := strings.Cut(top, "\nverbs:\n")
	for _, l := range strings.Split(list, "\n") {
		name, _, _ := strings.Cut(strings.TrimSpace(l), " ")
		if !strings.HasPrefix(l, "  ") || strings.HasPrefix(l, "   ") || strings.HasPrefix(name, "-") {
			continue
		}
		verbs++
		help := get(name, "--help")
		if !strings.Contains(help, "\nusage: cazward "+name) {
			t.Errorf("%s:\n%s", name, help)
		}
		for _, l := range strings.Split(help, "\n") {
			if len(l) > 79 {
				t.Errorf("%s: %d columns: %s", name, len(l), l)
			}
		}
	}
	if verbs < 10 {
		t.Errorf("%d verbs in\n%s", verbs, top)
	}
	for args, want := range map[string]string{
		"wlk":         `cazward: error: unknown command "wlk" for "cazward"` + "\ncazward: hint: did you mean: cazward walk\n",
		"frobnicate":  `cazward: error: unknown command "frobnicate" for "cazward"` + "\ncazward: hint: see the verbs with: cazward --help\n",
		"walk a b":    "cazward: error: 2 names were given; usage: cazward walk [RECORD] [flags]\ncazward: hint: see: cazward walk --help\n",
		"judge":       "cazward: error: no names were given; usage: cazward judge RECORD... [flags]\ncazward: hint: see: cazward judge --help\n",
		"version x":   "cazward: error: cazward version takes no name; usage: cazward version [flags]\ncazward: hint: see: cazward version --help\n",
		"walk --frob": "cazward: error: unknown flag: --frob\ncazward: hint: see: cazward walk --help\n",
		"--frob":      "cazward: error: unknown flag: --frob\ncazward: hint: see: cazward --help\n",
		"--version":   "cazward " + version + "\n",
	} {
		if got := get(strings.Fields(args)...); got != want {
			t.Errorf("%s: got\n%swant\n%s", args, got, want)
		}
	}
}

// TestOutBeforeTheRecord: the way out works before there is a record.
func TestOutBeforeTheRecord(t *testing.T) {
	for _, answers := range []map[string][]string{{"first": {"/!"}}, {"first": {"4"}, "about": {"/!"}}, {"first": {"/c 12", "2"}, "new.home": {"/!"}}, {"first": {"2"}, "new.home": {"Cedar 1"}, "new.tester": {"/!"}}} {
		t.Chdir(t.TempDir())
		p := &script.Script{Answers: answers}
		e := &env{in: strings.NewReader(""), out: io.Discard, err: io.Discard, id: newID, ctx: t.Context(), now: time.Now, mono: func() int64 { return 0 }}
		path, demo, err := first(e, p)
		if err == nil {
			_, err = openSession(e, p, path, procedure.TestIn, walkOptions{demo: demo, scheme: "graded-2005"})
		}
		var code exitWith
		if !errors.As(err, &code) || int(code) != 5 || len(p.Stopped) != 3 {
			t.Errorf("%v: %v, %q", answers, err, p.Stopped)
		}
		if names, _ := filepath.Glob("*"); len(names) > 0 {
			t.Errorf("%v: left %v", answers, names)
		}
	}
}

// hand is a prompter whose replies a test makes itself, the clock's among them.
type hand struct {
	*script.Script
	reply func(forms.View) forms.Reply
}

func (h *hand) Ask(v forms.View) (forms.Reply, error) {
	h.Prompts++
	h.Views = append(h.Views, v)
	if h.Prompts > 400 {
		return forms.Reply{}, fmt.Errorf("no end of it at %s", v.Step.ID)
	}
	r := h.reply(v)
	if r.Control == 0 && r.Timer == nil && r.Text == "" {
		return r, fmt.Errorf("no reply to %s: %w", v.Step.ID, io.EOF)
	}
	return r, nil
}

// typed is a reply as plain mode reads it.
func typed(text string) forms.Reply {
	r, _, _ := forms.ParseControl(text)
	return r
}

// TestControlsWhileBurning: shut down, back and fix, while the clock of a
// burner runs and while one burns without it. The list of what must be off
// comes first and says what burns; who goes back from it, or says that it is
// not off, is where he was, with the clock still running. Once it is off,
// nothing that was kept is lost, what was timed is timed again, and who comes
// back is told what may still burn.
func TestControlsWhileBurning(t *testing.T) {
	const spill, draft = "spill/water-heater-1", "draft/water-heater-1"
	for _, at := range []string{spill, draft} {
		for _, key := range []string{"/x", "/b", "/f"} {
			var s *session
			var stage, before, asked int
			var answers []string
			burns := func(v forms.View) {
				t.Helper()
				if house := strings.Join(v.House, "; "); !v.Step.Burning || !v.Where.BurnersOn || !strings.Contains(house, "water heater burner ON") || !strings.Contains(house, "bath fan, range hood, dryer ON") {
					t.Errorf("%s at %s: %s does not say what burns and runs: %q", key, at, v.Step.ID, house)
				}
			}
			h := &hand{Script: &script.Script{}}
			h.reply = func(v forms.View) forms.Reply {
				switch {
				case v.Step.ID == spill && at == spill && v.Clock.Lit.IsZero() && stage == 0:
					return forms.Reply{Timer: &procedure.Timer{Act: "start", Wall: s.e.now(), Mono: s.e.mono()}}
				case v.Step.ID == at && stage < 3:
					burns(v)
					if at == spill && v.Clock.Lit.IsZero() {
						t.Errorf("%s: the clock stopped", key)
					}
					if stage > 0 && s.st.Last() != before {
						t.Errorf("%s at %s, not shut down: %d entries, there were %d", key, at, s.st.Last(), before)
					}
					if stage == 2 && !strings.Contains(v.Message, "off") {
						t.Errorf("%s at %s: nothing says that it must be off first: %q", key, at, v.Message)
					}
					stage, before, answers = stage+1, s.st.Last(), nil
					for _, k := range s.st.Answers() {
						if s.st.Has(k) {
							answers = append(answers, k)
						}
					}
					return typed(key)
				case v.Step.Ask == "shutdown":
					burns(v)
					if len(v.Words.Cautions) == 0 || !strings.Contains(v.Words.Cautions[0].Text, "running burner") {
						t.Errorf("%s at %s: cautions %v", key, at, v.Words.Cautions)
					}
					return typed([]string{"", "/b", "1", "ok"}[stage])
				case v.Step.Ask == "hazard.kind" || v.Step.Ask == "fix.reason" || v.Step.Ask == "fix.pick":
					if want := map[string]string{"/x": "hazard.kind", "/b": "fix.reason", "/f": "fix.pick"}[key]; v.Step.Ask != want || stage != 3 {
						t.Errorf("%s at %s: %s in stage %d", key, at, v.Step.Ask, stage)
					}
					stage = 4
					return typed("/b")
				case v.Step.Ask == "ambient.resume":
					if stage != 4 || !v.Still || !strings.Contains(strings.Join(v.House, "; "), "water heater burner ON; bath fan, range hood, dryer ON") {
						t.Errorf("%s at %s: who comes back is told %v, %q", key, at, v.Still, v.House)
					}
				case v.Step.ID == spill && stage == 4:
					asked++
					if !v.Clock.Lit.IsZero() {
						t.Errorf("%s: a clock of before runs", key)
					}
				}
				return typed(house(v))
			}
			s = demoSession(t, h)
			clock := s.st.LastAt()
			s.e.now = func() time.Time { clock = clock.Add(time.Second); return clock }
			s.e.mono = func() int64 { return clock.UnixMilli() }
			if err := s.run(); err != nil {
				t.Fatalf("%s at %s: %v", key, at, err)
			}
			if len(answers) < 20 {
				t.Errorf("%s at %s: only %d answers before it", key, at, len(answers))
			}
			for _, k := range answers {
				if !s.st.Has(k) {
					t.Errorf("%s at %s: %s is lost", key, at, k)
				}
			}
			if want := map[string]int{spill: 1, draft: 0}[at]; stage != 4 || asked != want {
				t.Errorf("%s at %s: ended in stage %d, timed again %d times, want %d", key, at, stage, asked, want)
			}
		}
	}
}

// TestRulerShowsWhatIsJudged: the net of the ruler, its give-or-take and the
// side of its nearest limit are those of the judgement, with off/on pairs and
// with a reading before light-off that is lower than worst case.
func TestRulerShowsWhatIsJudged(t *testing.T) {
	for name, answers := range map[string]map[string][]string{
		"too close":        {},
		"settled by pairs": {"settle/basement-1": {"1"}},
		"held is lower":    {"held/furnace-1": {"-4.4 -4.5 -4.4 -4.5 -4.4"}},
	} {
		p := &script.Script{Answers: answers}
		s := demoSession(t, p)
		seen, pairs := map[string]bool{}, 0
		p.Func = func(v forms.View) string {
			if r := v.Ruler; r != nil {
				for _, f := range s.judge().Findings {
					if f.Rule != "depressurization" || f.Subject != "basement-1" || len(r.Marks) == 0 {
						continue
					}
					side := map[procedure.Verdict]procedure.Side{procedure.Pass: procedure.SideInside, procedure.TooClose: procedure.SideTooClose, procedure.Fail: procedure.SideBeyond}[f.Verdict]
					if seen[string(f.Verdict)] = true; r.Net != *f.Value || r.U != *f.Uncertainty || r.Marks[0].Side != side {
						t.Errorf("%s, %s: net %v give or take %v, side %v; judged %v, %v, %s", name, v.Step.ID, r.Net, r.U, r.Marks[0].Side, *f.Value, *f.Uncertainty, f.Verdict)
					}
					if w := s.judge().WorstCase; len(w) == 1 {
						pairs = max(pairs, w[0].Pairs)
					}
				}
			}
			return house(v)
		}
		if err := s.run(); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if want := map[string]int{"settled by pairs": 3}[name]; pairs < want || want == 0 && pairs > 0 || !seen["too-close"] {
			t.Errorf("%s: %d pairs, verdicts %v", name, pairs, seen)
		}
		if name == "held is lower" && !seen["fail"] {
			t.Errorf("%s: verdicts %v", name, seen)
		}
	}
}

// TestDraftAskedOnce: a draft with a lost point is asked about once, stays in
// the box, and counts when it is given again.
func TestDraftAskedOnce(t *testing.T) {
	const draft = "draft/water-heater-1"
	p := &script.Script{Answers: map[string][]string{draft: {"-35", "-35"}}, Func: house}
	s := demoSession(t, p)
	if err := s.run(); err != nil {
		t.Fatal(err)
	}
	var asked []forms.View
	for _, v := range p.Views {
		if v.Step.ID == draft {
			asked = append(asked, v)
		}
	}
	if len(asked) != 2 || asked[1].Text != "-35" || !strings.Contains(asked[1].Message, "-3.5? If it is right, type -35 again.") {
		t.Fatalf("asked %d times: %+v", len(asked), asked)
	}
	if d, _, ok := s.st.Fact(draft); !ok || *d.(*procedure.Answer).Pressure.Value != -35 {
		t.Errorf("kept as %+v, %v", d, ok)
	}
}

// TestDemoSpeaksSpanish: with Spanish screens nothing that the demonstration
// house shows stays English but figures and their units.
func TestDemoSpeaksSpanish(t *testing.T) {
	forms.Speak(wording.Spanish)
	t.Cleanup(func() { forms.Speak(wording.English) })
	p := &script.Script{}
	s := demoSession(t, p)
	s.lang = wording.SpanishScreen
	var shown []string // in English, of each screen
	p.Func = func(v forms.View) string {
		x, err := s.tour.Show(wording.English, v.Step, s.st)
		if err != nil {
			t.Fatal(err)
		}
		shown = append(shown, x.Text)
		return house(v)
	}
	if err := s.run(); err != nil {
		t.Fatal(err)
	}
	n := 0
	for i, v := range p.Views {
		english := shown[i]
		if english == "" {
			continue
		}
		n++
		head, seen, _ := strings.Cut(english, "  ")
		was, rest, _ := strings.Cut(v.Shows, "  ")
		words := strings.Trim(seen, "-.,/% 0123456789")
		if was == head || rest == seen && words != "" && words != "ppm" && words != "LEL" && !strings.HasPrefix(seen, "CO ") {
			t.Errorf("%s: %q stays English: %q", v.Step.ID, english, v.Shows)
		}
	}
	for _, told := range p.Told {
		if strings.Contains(told, " to ") {
			t.Errorf("English: %q", told)
		}
	}
	if n < 50 {
		t.Errorf("only %d screens show anything", n)
	}
}

// Beside a lit burner nobody types paths; a control without one says how.
func TestPhotoControl(t *testing.T) {
	s := demoSession(t, &script.Script{})
	for _, c := range []struct {
		step procedure.Step
		path string
		want string
	}{{procedure.Step{Burning: true}, "soot.jpg", "NOT NOW"}, {procedure.Step{}, "", "/a soot.jpg"}, {procedure.Step{}, "soot.jpg", "no such file"}} {
		s.msg = ""
		before := s.st.Last()
		if err := s.photo(c.step, c.path); err != nil || !strings.Contains(s.msg, c.want) || s.st.Last() != before {
			t.Errorf("%q: %q, %v, %d entries more", c.path, s.msg, err, s.st.Last()-before)
		}
	}
	for in, want := range map[string]string{"a.jpg": "a.jpg", `'a b.jpg'`: "a b.jpg", `"a b.jpg"`: "a b.jpg", `a\ b.jpg`: "a b.jpg", "'": "'", "": ""} {
		if got := photoPath(in); got != want {
			t.Errorf("%q is read as %q, want %q", in, got, want)
		}
	}
}
