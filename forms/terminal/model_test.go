package terminal

import (
	"fmt"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/lipgloss"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/wording"
)

// walkPages presses Enter until the box opens and gives all that was shown.
func (b *bench) walkPages() string {
	all := b.screen()
	for i := 0; i < 40 && !b.opened; i++ {
		b.keys("\r")
		if r, ok := b.got(); ok {
			b.t.Fatalf("Enter on a page gave %+v", r)
		}
		all += "\n" + b.screen()
	}
	if !b.opened {
		b.t.Fatalf("the box never opens:\n%s", b.screen())
	}
	return all
}

// TestEveryItemOnScreen: before an answer can be given every line of a list
// has been on the screen, at every size that shows a question.
func TestEveryItemOnScreen(t *testing.T) {
	for _, form := range []procedure.Form{procedure.FormChecklist, procedure.FormGate, procedure.FormRoster, procedure.FormFacts, procedure.FormPick, procedure.FormTable, procedure.FormNumbers, procedure.FormSetup, procedure.FormChoice} {
		for _, n := range []int{1, 4, 9, 15, 26} {
			for _, long := range []int{8, 30, 70} {
				for _, size := range [][2]int{{80, 24}, {120, 50}, {60, 20}, {79, 23}, {50, 16}, {30, 10}} {
					v := baseline()
					v.Step = procedure.Step{ID: "x", Form: form}
					v.Words.How = []string{"how it is answered"}
					var want []string
					for i := range n {
						text := fmt.Sprintf("thing%02d", i)
						for len(text) < long {
							text += fmt.Sprintf(" w%02d", i)
						}
						want = append(want, strings.Fields(text)...)
						if form == procedure.FormRoster || form == procedure.FormChoice {
							v.Step.Choices = append(v.Step.Choices, text)
						} else {
							v.Step.Items = append(v.Step.Items, procedure.Item{Key: text, Code: text})
							v.Words.Items = append(v.Words.Items, text)
						}
					}
					b := newBench(t, size[0], size[1])
					b.ask(v)
					all := b.walkPages()
					for _, w := range want {
						if !strings.Contains(all, w) {
							t.Fatalf("%s, %d items of %d columns at %v: %q was never on the screen\n%s", form, n, long, size, w, all)
						}
					}
					if !strings.Contains(b.screen(), "> _") {
						t.Fatalf("no box:\n%s", b.screen())
					}
				}
			}
		}
	}
}

// TestListsStandWhole: on the page where the box is open a list stands above it
// or below it; one that it parts says that it goes on.
func TestListsStandWhole(t *testing.T) {
	for _, form := range []procedure.Form{procedure.FormChecklist, procedure.FormRoster, procedure.FormTable, procedure.FormSetup, procedure.FormChoice} {
		for _, n := range []int{2, 5, 7, 10, 15} {
			for _, long := range []int{8, 30, 70} {
				for _, hints := range []int{1, 3} {
					for _, size := range [][2]int{{80, 24}, {60, 20}} {
						v := baseline()
						v.Step = procedure.Step{ID: "x", Form: form}
						v.Words.How = []string{"hint one", "hint two", "hint three"}[:hints]
						for i := range n {
							text := fmt.Sprintf("thing%02d", i)
							for len(text) < long {
								text += fmt.Sprintf(" w%02d", i)
							}
							if form == procedure.FormRoster || form == procedure.FormChoice {
								v.Step.Choices = append(v.Step.Choices, text)
							} else {
								v.Step.Items = append(v.Step.Items, procedure.Item{Key: text, Code: text})
								v.Words.Items = append(v.Words.Items, text)
							}
						}
						b := newBench(t, size[0], size[1])
						b.ask(v)
						b.walkPages()
						rows := strings.Split(b.screen(), "\n")
						box := 0
						for i, r := range rows {
							if strings.Contains(r, "> _") {
								box = i
							}
						}
						over, under := strings.Join(rows[:box], "\n"), strings.Join(rows[box:], "\n")
						for _, w := range []string{"thing", "hint"} {
							if strings.Contains(over, w) && strings.Contains(under, w) && (w == "hint" || !strings.Contains(under, "-- the list goes on --")) {
								t.Fatalf("%s, %d items of %d columns, %d hints at %v: the box cuts it in two\n%s", form, n, long, hints, size, b.screen())
							}
						}
					}
				}
			}
		}
	}
}

// TestNothingIsLost: with long names and long words the texts that matter
// are all shown, none is cut at the edge, and none passes it.
func TestNothingIsLost(t *testing.T) {
	name := "second bath over the two-car garage, north-east corner"
	for _, size := range [][2]int{{80, 24}, {60, 20}} {
		v := baseline()
		v.Words.Question = "Smoke at the draft hood of the water heater in " + name + "?"
		v.House = []string{name + " fan OFF", "dryer OFF", name + " door OPEN"}
		v.SoFar = []string{"10:31  " + name + " fan: 0.4 Pa more, kept as one of those on at worst case"}
		b := newBench(t, size[0], size[1])
		b.ask(v)
		all := b.walkPages()
		b.keys("/w")
		all += "\n" + b.screen()
		for _, w := range append(strings.Fields(v.Words.Question), strings.Fields(v.Words.Cautions[0].Text)...) {
			if !strings.Contains(all, w) {
				t.Errorf("%v: %q is not on the screen\n%s", size, w, all)
			}
		}
		for _, clause := range v.House {
			if !strings.Contains(strings.Join(strings.Fields(all), " "), clause) {
				t.Errorf("%v: %q is not on the screen\n%s", size, clause, all)
			}
		}
		if strings.Contains(all, "10:31") && !strings.Contains(all, "~") {
			t.Errorf("%v: a name that was shortened does not show it\n%s", size, all)
		}
		for _, l := range strings.Split(all, "\n") {
			if lipgloss.Width(l) > size[0]-1 {
				t.Errorf("%v: %q", size, l)
			}
		}
	}
}

// TestClip holds the edge for any text, printable or not.
func TestClip(t *testing.T) {
	for _, s := range []string{strings.Repeat("x", 500), strings.Repeat("漢", 60), "a\x1b[7mb\x07c\u202ed", strings.Repeat("e\u0301", 90), "a\nb"} {
		v := baseline()
		v.Words.Title, v.Words.Question, v.Words.Box, v.Message, v.Old, v.NetNote = s, s, "Pa", s, s, s
		v.House, v.SoFar, v.Where.Mark, v.Where.Scheme = []string{s}, []string{s}, s, s
		v.Words.Cautions = []wording.Caution{{Word: "NOTICE", Text: s}}
		for _, size := range [][2]int{{80, 24}, {60, 20}, {33, 9}, {20, 5}, {3, 2}} {
			b := newBench(t, size[0], size[1])
			b.ask(v)
			lines := strings.Split(b.screen(), "\n")
			if len(lines) > size[1] {
				t.Errorf("%d rows in a window of %v", len(lines), size)
			}
			for _, l := range lines {
				most := size[0]
				if size[0] >= 60 {
					most--
				}
				if lipgloss.Width(l) > most || strings.ContainsFunc(l, forms.Hidden) {
					t.Errorf("%v: %q", size, l)
				}
			}
		}
	}
}

// The box, the message and both rows of keys stand in the same rows at every
// step that has a box.
func TestBoxNeverMoves(t *testing.T) {
	for _, c := range []struct {
		w, h, box, keys int
	}{{80, 24, 14, 24}, {60, 20, 11, 20}, {200, 60, 14, 24}} {
		for _, v := range []forms.View{baseline(), checklist(), fans(), doorTable(), spillage(), longCaution()} {
			b := newBench(t, c.w, c.h)
			b.ask(v)
			b.walkPages()
			b.keys("12")
			lines := strings.Split(b.screen(), "\n")
			if !strings.Contains(lines[c.box-1], "> 12_") {
				t.Errorf("%dx%d %s: row %d is %q\n%s", c.w, c.h, v.Step.ID, c.box, lines[c.box-1], b.screen())
			}
			if !strings.HasPrefix(lines[c.keys-1], " / then") {
				t.Errorf("%dx%d %s: row %d is %q", c.w, c.h, v.Step.ID, c.keys, lines[c.keys-1])
			}
		}
	}
}

func TestAnswer(t *testing.T) {
	b := newBench(t, 80, 24)
	b.ask(baseline())
	b.keys("-0.8 -1.1\r")
	if r, ok := b.got(); !ok || r.Text != "-0.8 -1.1" || r.Control != 0 || r.Timer != nil {
		t.Errorf("got %+v, %v", r, ok)
	}
	// What is typed between two screens belongs to neither.
	b.keys("999\r")
	b.ask(checklist())
	b.mustNot("999")
	b.keys("\r")
	if r, ok := b.got(); !ok || r.Text != "" {
		t.Errorf("a bare Enter came back as %+v, %v; it is for Parse to refuse", r, ok)
	}
}

// TestEnterTooEarly: Enter right after a new screen does nothing, nor does one
// that is held down for however long, nor a mark of the clock.
func TestEnterTooEarly(t *testing.T) {
	b := newBench(t, 80, 24)
	b.do(askMsg{baseline()})
	b.keys("-1")
	for range 100 { // 3.3 seconds of key repeat
		b.do(tea.KeyMsg{Type: tea.KeyEnter})
		b.clock.pass(33 * time.Millisecond)
	}
	if r, ok := b.got(); ok {
		t.Fatalf("a held key answered: %+v", r)
	}
	b.clock.pass(deadTime * time.Millisecond)
	b.do(tea.KeyMsg{Type: tea.KeyEnter})
	if r, ok := b.got(); !ok || r.Text != "-1" {
		t.Errorf("after a pause: %+v, %v", r, ok)
	}

	b.ask(spillage())
	b.keys(" ")
	if r, ok := b.got(); !ok || r.Timer == nil || r.Timer.Act != "start" {
		t.Fatalf("SPACE: %+v, %v", r, ok)
	}
	b.do(askMsg{running()})
	b.keys("     ")
	if r, ok := b.got(); ok {
		t.Errorf("a held SPACE marked the clock: %+v", r)
	}
}

func TestControls(t *testing.T) {
	for _, c := range []struct {
		keys string
		want forms.Reply
	}{
		{"/b", forms.Reply{Control: 'b'}},
		{"/F", forms.Reply{Control: 'f'}},
		{"/k", forms.Reply{Control: 'k'}},
		{"/p", forms.Reply{Control: 'p'}},
		{"/q", forms.Reply{Control: 'q'}},
		{"/!", forms.Reply{Control: '!'}},
		{"\x1bb", forms.Reply{Control: 'b'}},
		{"/c\r", forms.Reply{Control: 'c'}},
		{"/c 12\r", forms.Reply{Control: 'c', Arg: "12"}},
		{"/c12\r", forms.Reply{Control: 'c', Arg: "12"}},
		{"/nloose pipe\r", forms.Reply{Control: 'n', Arg: "loose pipe"}},
		{"/\b-1\r", forms.Reply{Text: "-1"}},
		{"/z\b-1\r", forms.Reply{Text: "-1"}},
		{"//b\r", forms.Reply{Text: "/b"}},
		{"-0/9\r", forms.Reply{Text: "-0/9"}},
		{"-1\x1bq", forms.Reply{Control: 'q'}},
		{"12\b3\r", forms.Reply{Text: "13"}},
	} {
		b := newBench(t, 80, 24)
		b.ask(baseline())
		b.keys(c.keys)
		if r, ok := b.got(); !ok || r != c.want {
			t.Errorf("%q: got %+v (%v), want %+v\n%s", c.keys, r, ok, c.want, b.screen())
		}
	}
	// Alt and the letter are the same bytes as Esc and then the letter.
	b := newBench(t, 80, 24)
	b.ask(baseline())
	b.do(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{'p'}, Alt: true})
	if r, ok := b.got(); !ok || r.Control != 'p' {
		t.Errorf("Alt-p: %+v, %v", r, ok)
	}
	b.ask(baseline())
	b.do(tea.KeyMsg{Type: tea.KeyCtrlC})
	if r, ok := b.got(); !ok || r.Control != 'q' {
		t.Errorf("Ctrl-C: %+v, %v", r, ok)
	}
	// Ctrl-C between two screens counts at the next.
	b.do(tea.KeyMsg{Type: tea.KeyCtrlC})
	b.ask(baseline())
	if r, ok := b.got(); !ok || r.Control != 'q' {
		t.Errorf("Ctrl-C between screens: %+v, %v", r, ok)
	}
	// Keys that edit, paste or run something elsewhere do nothing here.
	b.ask(baseline())
	for _, k := range []tea.KeyType{tea.KeyCtrlE, tea.KeyCtrlV, tea.KeyCtrlA, tea.KeyTab, tea.KeyShiftTab, tea.KeyUp, tea.KeyF1, tea.KeyCtrlZ, tea.KeyCtrlD} {
		b.do(tea.KeyMsg{Type: k})
	}
	b.keys("-1\r")
	if r, ok := b.got(); !ok || r.Text != "-1" {
		t.Errorf("after odd keys: %+v, %v", r, ok)
	}
}

// A control does not cost the text that stood in the box.
func TestDraftComesBack(t *testing.T) {
	b := newBench(t, 80, 24)
	b.ask(baseline())
	b.keys("-0.8 -1.1\x1bc12\r")
	if r, _ := b.got(); r.Control != 'c' || r.Arg != "12" {
		t.Fatalf("%+v", r)
	}
	b.ask(baseline())
	b.must("Pa > -0.8 -1.1_")
	b.keys("\x1bb")
	b.got()
	b.ask(checklist())
	b.mustNot("-0.8 -1.1")
}

func TestRefusedTextStays(t *testing.T) {
	b := newBench(t, 80, 24)
	v := baseline()
	v.Text, v.Message = "3.2", "NOT KEPT  3.2 has no sign. Zone lower than outdoors: -3.2. Higher: +3.2."
	b.ask(v)
	b.must("Pa > 3.2_")
	b.must("   NOT KEPT  3.2 has no sign. Zone lower than outdoors: -3.2. Higher: +3.2.")
	b.do(tea.KeyMsg{Type: tea.KeyHome})
	b.must("Pa > _3.2")
	b.keys("-")
	b.must("Pa > -_3.2")
	b.keys("\r")
	if r, _ := b.got(); r.Text != "-3.2" {
		t.Errorf("%+v", r)
	}
}

// TestClock follows one timing: light-off, drawn in, came back, still.
func TestClock(t *testing.T) {
	b := newBench(t, 80, 24)
	b.ask(spillage())
	b.keys(" ")
	r, ok := b.got()
	if !ok || r.Timer == nil || r.Timer.Act != "start" || r.Timer.Mono != b.clock.mono || !r.Timer.Wall.Equal(b.clock.at) || b.bells != 1 {
		t.Fatalf("light-off: %+v %v, %d bells", r, ok, b.bells)
	}
	v := spillage()
	v.Where.AmbientAt = b.clock.at
	v.Clock = &forms.ClockView{Lit: r.Timer.Wall, LitMono: r.Timer.Mono, Limit: 60}
	b.ask(v)
	b.clock.pass(36 * time.Second)
	b.must("SPILLING")
	b.must("23 s left")
	b.keys(" ")
	if r, ok = b.got(); !ok || r.Timer.Act != "mark" || r.Timer.Mono-v.Clock.LitMono != 37000 || b.bells != 2 {
		t.Fatalf("drawn in: %+v %v, %d bells", r, ok, b.bells)
	}
	v.Clock = &forms.ClockView{Lit: v.Clock.Lit, LitMono: v.Clock.LitMono, Limit: 60, Drawn: 37}
	b.ask(v)
	b.must("DRAWN IN at 37 s")
	b.keys(" ")
	if r, ok = b.got(); !ok || r.Timer.Act != "mark" || r.Text != "" {
		t.Fatalf("came back: %+v %v", r, ok)
	}
	v.Clock = &forms.ClockView{Lit: v.Clock.Lit, LitMono: v.Clock.LitMono, Limit: 60}
	b.ask(v)
	b.do(tickMsg{})
	bells := b.bells
	b.clock.pass(30 * time.Second)
	b.do(tickMsg{})
	b.do(tickMsg{})
	if b.bells != bells+1 {
		t.Errorf("%d bells at the limit, want one", b.bells-bells)
	}
	b.must("PAST 60 s: counts as a fail.")
	b.must("Still watching. s ends it.")
	b.clock.pass(150 * time.Millisecond)
	b.keys("s")
	elapsed := b.clock.at.Sub(v.Clock.Lit).Seconds()
	if r, ok = b.got(); !ok || r.Timer == nil || r.Timer.Act != "stop" || r.Text != "still "+seconds(elapsed) {
		t.Fatalf("still: %+v %v", r, ok)
	}
	got, err := forms.Parse(v.Step, r.Text, forms.ParseContext{Timed: true})
	if err != nil {
		t.Fatal(err)
	}
	if s := got[0].Data.(*procedure.Answer).Spill; s.Outcome != procedure.SpillStill || !s.Timed || s.Seconds < elapsed {
		t.Errorf("%+v after %v s: rounding may not shorten it", s, elapsed)
	}
}

func TestClockKeys(t *testing.T) {
	for _, c := range []struct {
		name  string
		drawn float64
		lit   bool
		keys  string
		text  string
		act   string
		ctl   byte
		arg   string
	}{
		{"own watch before light-off", 0, false, "still 60s\r", "still 60s", "", 0, ""},
		{"own watch while it runs", 0, true, "45s\r", "45s", "", 0, ""},
		{"keep", 37.41, true, "\r", "37.5s", "stop", 0, ""},
		{"a hair past the limit stays past", 60.001, true, "\r", "60.1s", "stop", 0, ""},
		{"CO is never a mark", 0, true, "/c 12\r", "", "", 'c', "12"},
		{"trouble", 0, true, "x", "", "", 'x', ""},
		{"trouble before light-off", 0, false, "x", "", "", 'x', ""},
		{"out", 0, true, "/!", "", "", '!', ""},
	} {
		b := newBench(t, 80, 24)
		v := spillage()
		if c.lit {
			v = running()
			v.Clock.Drawn = c.drawn
		}
		b.ask(v)
		b.keys(c.keys)
		r, ok := b.got()
		act := ""
		if r.Timer != nil {
			act = r.Timer.Act
		}
		if !ok || r.Text != c.text || act != c.act || r.Control != c.ctl || r.Arg != c.arg {
			t.Errorf("%s: %+v (%s), %v", c.name, r, act, ok)
		}
	}
}

// A laptop that slept: the monotonic clock stood still, the wall clock did
// not. The longer of the two is shown.
func TestClockSleeps(t *testing.T) {
	b := newBench(t, 80, 24)
	b.ask(running())
	b.clock.at = b.clock.at.Add(70 * time.Second)
	b.must("PAST 60 s")
	b.clock.at = day // set back: the monotonic clock still counts
	b.clock.mono = 65000
	b.must("PAST 60 s")
}

func TestAmbientGrowsOld(t *testing.T) {
	b := newBench(t, 80, 24)
	b.ask(running())
	b.do(tickMsg{})
	b.must("AMBIENT CO 4 ppm, 1 min ago")
	if b.bells != 0 {
		t.Errorf("%d bells", b.bells)
	}
	b.clock.pass(70 * time.Second)
	b.bells = 0
	b.do(tickMsg{}) // the limit, at 60 s
	b.do(tickMsg{}) // the age
	b.do(tickMsg{})
	b.must("AMBIENT CO 2 MIN OLD: READ IT")
	if b.bells != 2 {
		t.Errorf("%d bells, want one for the limit and one for the age", b.bells)
	}
	// With no burner on, an old reading is only old.
	v := baseline()
	v.Where.AmbientAt = day.Add(-time.Hour)
	b.bells = 0
	b.ask(v)
	b.do(tickMsg{})
	b.mustNot("READ IT")
	if b.bells != 0 {
		t.Errorf("%d bells with no burner on", b.bells)
	}
}

// TestCautionFirst: the question is not shown before the caution was.
func TestCautionFirst(t *testing.T) {
	for _, size := range [][2]int{{80, 24}, {60, 20}, {45, 12}} {
		v := longCaution()
		b := newBench(t, size[0], size[1])
		b.ask(v)
		b.keys("-1 ") // the box is shut
		if r, ok := b.got(); ok {
			t.Fatalf("%+v", r)
		}
		for i := 0; i < 20 && !b.opened; i++ {
			b.mustNot("> _")
			b.keys("\r")
		}
		b.must("> _")
		for _, k := range v.Words.Cautions {
			for _, w := range strings.Fields(k.Text) {
				all := newBench(t, size[0], size[1])
				all.ask(v)
				if shown := all.walkPages(); !strings.Contains(shown, w) {
					t.Fatalf("%v: %q of the caution was never shown", size, w)
				}
			}
			break
		}
		// The same step asked again does not page again.
		v.Message = "NOT KEPT  something."
		b.keys("5\r")
		b.got()
		b.ask(v)
		b.must("> _")
	}
}

// TestDecisionShowsEveryDo, and the open items, before its box opens.
func TestDecisionShowsEveryDo(t *testing.T) {
	v := decision()
	for i := range 14 {
		v.Lines = append(v.Lines[:7:7], append([]forms.Line{{Role: "do", Text: fmt.Sprintf("Deed%02d: have the vent of the water heater repaired by someone who is licensed for it.", i)}}, v.Lines[7:]...)...)
	}
	for _, size := range [][2]int{{80, 24}, {60, 20}, {40, 12}} {
		b := newBench(t, size[0], size[1])
		b.ask(v)
		if b.opened {
			t.Fatalf("%v: open at once\n%s", size, b.screen())
		}
		for pages := 0; !b.opened; pages++ { // each with what it is about
			b.must("DO NOT AIR-SEAL")
			if b.keys("\r"); pages > 30 {
				t.Fatalf("%v: no end of pages", size)
			}
		}
		b.must("DO NOT AIR-SEAL")
		b.ask(forms.View{Step: procedure.Step{ID: "other"}})
		b.ask(v)
		all := b.walkPages()
		for i := range 14 {
			if !strings.Contains(all, fmt.Sprintf("Deed%02d", i)) {
				t.Errorf("%v: deed %d was never shown\n%s", size, i, all)
			}
		}
		for _, w := range []string{"EVERYONE", "HOUSE PUT BACK 14 of 14", "NOT TESTED none", "Who was told"} {
			if w != "EVERYONE" && !strings.Contains(all, w) {
				t.Errorf("%v: %q was never shown", size, w)
			}
		}
		b.keys("owner; by phone\r")
		if r, ok := b.got(); !ok || r.Text != "owner; by phone" {
			t.Errorf("%v: %+v, %v", size, r, ok)
		}
	}
}

func TestResizeKeepsText(t *testing.T) {
	b := newBench(t, 80, 24)
	b.ask(baseline())
	b.keys("-0.8")
	for _, size := range [][2]int{{60, 20}, {50, 14}, {20, 5}, {80, 24}} {
		b.do(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
		if size[0] == 50 {
			b.must("make the window larger")
			b.must("What does the gauge read")
		}
		b.must("-0.8_")
	}
	b.do(tea.KeyMsg{Type: tea.KeyHome})
	b.do(tea.WindowSizeMsg{Width: 80, Height: 24}) // as often as a form asks for it
	b.must("Pa > _-0.8")
	b.keys("\r")
	if r, ok := b.got(); !ok || r.Text != "-0.8" {
		t.Errorf("%+v, %v", r, ok)
	}
}

func TestTell(t *testing.T) {
	b := newBench(t, 80, 24)
	b.ask(baseline())
	b.do(tellMsg{"kept", "35: 5 values, mean -0.9 Pa"})
	b.must("Kept  35: 5 values, mean -0.9 Pa")
	b.keys("1")
	b.mustNot("Kept  35")
	b.do(tellMsg{"bell", "ambient CO is old"})
	b.must("ambient CO is old")
	if b.bells != 1 {
		t.Errorf("%d bells", b.bells)
	}
}

func TestLongTextScrolls(t *testing.T) {
	b := newBench(t, 60, 20)
	v := baseline()
	v.Step = procedure.Step{ID: "t", Form: procedure.FormText}
	b.ask(v)
	text := strings.Repeat("-1.23 ", 40) + "end"
	b.keys(text)
	b.must("end_")
	b.do(tea.KeyMsg{Type: tea.KeyHome})
	b.must("> _-1.23")
	b.keys("\r")
	if r, _ := b.got(); r.Text != text {
		t.Errorf("%q", r.Text)
	}
}

func TestUsable(t *testing.T) {
	for term, want := range map[string]bool{"": false, "dumb": false, "xterm-256color": true, "vt100": true} {
		if Usable(term) != want {
			t.Errorf("%q: %v", term, !want)
		}
	}
}

// TestKeptBeforeCautions: what was kept stands on the pages that come before
// the question, because the key that turns them takes it away.
func TestKeptBeforeCautions(t *testing.T) {
	for _, size := range [][2]int{{80, 24}, {60, 20}} {
		v := baseline()
		v.Words.Cautions = []wording.Caution{{Word: "WARNING", Text: strings.Repeat("First caution of some length. ", 5)}, {Word: "CAUTION", Text: strings.Repeat("Second caution of some length. ", 5)}}
		b := newBench(t, size[0], size[1])
		b.do(tellMsg{"kept", "12 to 18: 7 answers: all so"})
		b.ask(v)
		if b.opened {
			t.Fatalf("%v: no pages to turn\n%s", size, b.screen())
		}
		b.must("Kept  12 to 18: 7 answers: all so")

		v = decision()
		for i := range 20 {
			v.Lines = append(v.Lines, forms.Line{Role: "do", Text: fmt.Sprintf("Deed%02d: have the vent of the water heater repaired.", i)})
		}
		b = newBench(t, size[0], size[1])
		b.do(tellMsg{"kept", "104 to 114: 11 answers: all so"})
		b.ask(v)
		if b.opened {
			t.Fatalf("%v: no pages to turn\n%s", size, b.screen())
		}
		b.must("Kept  104 to 114")
		for turn := 0; !b.opened && turn < 20; turn++ {
			b.must("DO NOT AIR-SEAL THIS HOUSE YET")
			b.must("/!\\ WARNING")
			b.keys("\r")
		}
		b.must("DO NOT AIR-SEAL THIS HOUSE YET")
		b.must("/!\\ WARNING")
	}
}

// TestRefusalLeavesChoices: on a page a message of several lines covers what
// was read, never what is to be chosen.
func TestRefusalLeavesChoices(t *testing.T) {
	for _, size := range [][2]int{{80, 24}, {60, 20}} {
		v := forms.View{Step: procedure.Step{ID: "first", Form: procedure.FormChoice, Choices: []string{"a", "b", "c", "d"}},
			Words:   wording.Screen{Title: "cazward", Question: "What do you want to do?", Box: "number", How: []string{"number, then Enter"}, Choices: []string{"choice a", "choice b", "choice c", "choice d"}},
			Message: `NOT KEPT  "nine nine nine nine nine" is not an answer here. Type a number, 1 to 4, and nothing else at all, please.`}
		for i := range 20 {
			v.Lines = append(v.Lines, forms.Line{Role: "text", Text: fmt.Sprintf("Line %d of the page.", i)})
		}
		b := newBench(t, size[0], size[1])
		b.ask(v)
		b.walkPages()
		for _, w := range []string{"What do you want to do?", "1 choice a", "4 choice d", "NOT KEPT", "nothing else", "number > _"} {
			b.must(w)
		}
	}
}

// TestOnlyFansHaveNumbers: the lines of a set-up that no number answers have
// none.
func TestOnlyFansHaveNumbers(t *testing.T) {
	v := baseline()
	v.Step = procedure.Step{ID: "setup/z/worst", Form: procedure.FormSetup, Setup: &procedure.Setup{Fans: []string{"f1", "f2"}, Doors: []string{"d1"}},
		Items: []procedure.Item{{Key: "f1", Code: "fan-on"}, {Key: "f2", Code: "fan-on"}, {Key: "d1", Code: "door-shut"}, {Key: "caz-door", Code: "caz-open"}}}
	v.Words.Items = []string{"bath fan ON", "hood ON", "bedroom door SHUT", "CAZ door OPEN"}
	b := newBench(t, 80, 24)
	b.ask(v)
	for _, w := range []string{"1 bath fan ON", "2 hood ON", "- bedroom door SHUT", "- CAZ door OPEN"} {
		b.must(w)
	}
}

// TestDemoBesideTheClock: while the clock runs the demonstration's answer
// stands beside the digits and how to mark keeps its line.
func TestDemoBesideTheClock(t *testing.T) {
	for _, size := range [][2]int{{80, 24}, {60, 20}} {
		v := running()
		v.Words.How, v.Shows = []string{"SPACE once hood smoke is drawn in and stays in"}, "SMOKE  drawn in after 37 s"
		b := newBench(t, size[0], size[1])
		b.ask(v)
		b.must("SPACE once hood smoke is drawn in and stays in")
		b.must("SMOKE  drawn in after 37 s")
		b.keys("3")
		b.mustNot("SMOKE  drawn in after 37 s")
		b.must("> 3_")
	}
}
