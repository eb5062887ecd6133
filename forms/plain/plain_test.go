package plain

import (
	"bytes"
	"errors"
	"io"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/wording"
)

var day = time.Date(2026, 4, 30, 11, 2, 14, 0, time.UTC)

type fakeClock struct {
	mu   sync.Mutex
	at   time.Time
	mono int64
}

func (c *fakeClock) Now() time.Time { c.mu.Lock(); defer c.mu.Unlock(); return c.at }
func (c *fakeClock) Mono() int64    { c.mu.Lock(); defer c.mu.Unlock(); return c.mono }
func (c *fakeClock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
	c.mono += d.Milliseconds()
}

type buffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *buffer) Write(p []byte) (int, error) { b.mu.Lock(); defer b.mu.Unlock(); return b.b.Write(p) }
func (b *buffer) String() string              { b.mu.Lock(); defer b.mu.Unlock(); return b.b.String() }

func baseline() forms.View {
	return forms.View{
		Step: procedure.Step{ID: "baseline/z1", Form: procedure.FormPressure, Unit: "Pa"},
		Words: wording.Screen{Title: "Baseline", Question: "What does the gauge read: this zone against outdoors?",
			Plain:    "this zone against outdoors, in Pa. Minus means the zone is lower. Several values, or one and its seconds (-1.0 30s).",
			Cautions: []wording.Caution{{Word: "NOTICE", Text: "no burner and no fan may run while you read this."}},
			Why:      []string{"Without it a net is only a reading."}},
		Where:   forms.Where{Stage: 6, Of: 16, Name: "baseline", Ambient: "2", AmbientAt: day.Add(-4 * time.Minute), AmbientOld: 2 * time.Minute},
		House:   []string{"fans, dryer, air handler, burners off", "inside doors and CAZ door open", "windows and outside doors shut"},
		NetNote: "net none yet: it needs this baseline",
	}
}

func spillage() forms.View {
	return forms.View{
		Step:  procedure.Step{ID: "spill/wh", Form: procedure.FormClock, LimitS: 60, Burning: true},
		Words: wording.Screen{Plain: "water heater, vent cold, limit 60 s.", Cautions: []wording.Caution{{Word: "WARNING", Text: "carbon monoxide can fill this room."}}},
		Where: forms.Where{Stage: 12, Of: 16, Name: "appliances", Ambient: "4", AmbientAt: day, BurnersOn: true},
		Clock: &forms.ClockView{},
	}
}

func TestDialogue(t *testing.T) {
	in := strings.NewReader("/w\n3.2\n/\n-0.8 -1.1 -0.9 -1.0 -0.9\r\n")
	var out buffer
	p := New(in, &out, &fakeClock{at: day}, false)
	v := baseline()
	r, err := p.Ask(v)
	if err != nil || r.Text != "3.2" {
		t.Fatalf("%+v, %v", r, err)
	}
	_, err = forms.Parse(v.Step, r.Text, forms.ParseContext{})
	v.Message, v.Text = err.Error(), r.Text
	if r, err = p.Ask(v); err != nil || r.Text != "-0.8 -1.1 -0.9 -1.0 -0.9" {
		t.Fatalf("%+v, %v", r, err)
	}
	p.Tell("kept", "35: 5 values, mean -0.9 Pa, spread 0.3, steady. Wrong? Type /f.")
	if _, err = p.Ask(baseline()); !errors.Is(err, io.EOF) {
		t.Errorf("end of input: %v", err)
	}
	p.Tell("stopped", "input ended; step 73 has no answer; 72 kept; go on with: cazward walk FILE")
	want := `stage: 6 of 16, baseline. Ambient CO 2 ppm, 4 min ago.
notice: no burner and no fan may run while you read this.
house now: fans, dryer, air handler, burners off; inside doors and CAZ door open; windows and outside doors shut.
net: none yet: it needs this baseline
ask: this zone against outdoors, in Pa. Minus means the zone is lower. Several values, or one and its seconds (-1.0 30s).
> /w
why: Without it a net is only a reading.
> 3.2
not kept: 3.2 has no sign. Zone lower than outdoors: -3.2. Higher: +3.2.
ask: this zone against outdoors, in Pa. Minus means the zone is lower. Several values, or one and its seconds (-1.0 30s).
> /
keys: /b back, /f fix an answer, /n note, /w why, /c or /c 12 ambient CO, /p pause, /q stop and keep, /k cannot do this, /a PATH keep a photo, /! alarm, smell, symptoms, // a slash
> -0.8 -1.1 -0.9 -1.0 -0.9
kept 35: 5 values, mean -0.9 Pa, spread 0.3, steady. Wrong? Type /f.
ask: this zone against outdoors, in Pa. Minus means the zone is lower. Several values, or one and its seconds (-1.0 30s).
stopped: input ended; step 73 has no answer; 72 kept; go on with: cazward walk FILE
`
	if out.String() != want {
		t.Errorf("got\n%s\nwant\n%s", out.String(), want)
	}
}

// TestEndOfInput: no kind of end is an answer, at any step: not nothing, not
// a line that was cut, not a broken reader.
func TestEndOfInput(t *testing.T) {
	for _, in := range []io.Reader{strings.NewReader(""), strings.NewReader("-3"), strings.NewReader("/q"), io.MultiReader(strings.NewReader("-3"), broken{}), broken{}} {
		for _, v := range []forms.View{baseline(), spillage(), {Step: procedure.Step{ID: "c", Form: procedure.FormChecklist}}} {
			for _, terminal := range []bool{false, true} {
				var out buffer
				p := New(in, &out, &fakeClock{at: day}, terminal)
				for range 2 {
					if r, err := p.Ask(v); !errors.Is(err, io.EOF) || r != (forms.Reply{}) {
						t.Errorf("%s: got %+v, %v", v.Step.ID, r, err)
					}
				}
			}
		}
	}
	var out buffer
	p := New(strings.NewReader("1\n-3.5"), &out, &fakeClock{at: day}, false)
	if r, err := p.Ask(baseline()); err != nil || r.Text != "1" {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err := p.Ask(baseline()); !errors.Is(err, io.EOF) {
		t.Errorf("a cut line was taken: %+v, %v", r, err)
	}
	if !strings.Contains(out.String(), "stopped: the last line had no end, so it is no answer.\n") {
		t.Errorf("not said:\n%s", out.String())
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("input/output error") }

// One reader for all steps: nothing that was piped in is lost between them.
func TestOneReader(t *testing.T) {
	var lines []string
	for i := range 2000 {
		lines = append(lines, strings.Repeat("x", i%97)+"y")
	}
	var out buffer
	p := New(strings.NewReader(strings.Join(lines, "\n")+"\n"), &out, &fakeClock{at: day}, false)
	for i, want := range lines {
		if r, err := p.Ask(baseline()); err != nil || r.Text != want {
			t.Fatalf("line %d: %+v, %v", i, r, err)
		}
	}
}

func TestLongLine(t *testing.T) {
	var out buffer
	p := New(strings.NewReader(strings.Repeat("-1 ", 1<<20)+"\n-2\n"), &out, &fakeClock{at: day}, false)
	r, err := p.Ask(baseline())
	if err != nil || len(r.Text) > maxLine+4096 {
		t.Fatalf("%d bytes, %v", len(r.Text), err)
	}
	if _, err := forms.Parse(baseline().Step, r.Text, forms.ParseContext{}); err == nil {
		t.Error("a line of 3 MB was kept")
	}
	if r, err := p.Ask(baseline()); err != nil || r.Text != "-2" {
		t.Errorf("the next line: %+v, %v", r, err)
	}
}

// TestPipeNeverMarks: without a terminal a blank line and the short words of
// the clock are no times.
func TestPipeNeverMarks(t *testing.T) {
	var out buffer
	p := New(strings.NewReader("\n  \n37s\n"), &out, &fakeClock{at: day}, false)
	r, err := p.Ask(spillage())
	if err != nil || r.Timer != nil || r.Text != "37s" {
		t.Errorf("%+v, %v", r, err)
	}
	if n := strings.Count(out.String(), "not kept: a mark needs a terminal. Type the time: 37s, none, still 60s.\n"); n != 2 {
		t.Errorf("refused %d times:\n%s", n, out.String())
	}
	if strings.Contains(out.String(), "\a") || strings.Contains(out.String(), "\x1b") {
		t.Errorf("control characters: %q", out.String())
	}
	v := spillage()
	v.Clock = &forms.ClockView{Lit: day, Limit: 60, Drawn: 30}
	p = New(strings.NewReader("ok\na\ns\n40s\n"), &out, &fakeClock{at: day}, false)
	if r, err := p.Ask(v); err != nil || r.Timer != nil || r.Text != "40s" {
		t.Errorf("%+v, %v", r, err)
	}
}

// TestClockAtTerminal follows one timing with Enter marks.
func TestClockAtTerminal(t *testing.T) {
	clock := &fakeClock{at: day}
	in, w := io.Pipe()
	var out buffer
	p := New(in, &out, clock, true)
	type answer struct {
		r   forms.Reply
		err error
	}
	ask := func(v forms.View, after time.Duration, typed string) forms.Reply {
		t.Helper()
		got := make(chan answer, 1)
		go func() {
			r, err := p.Ask(v)
			got <- answer{r, err}
		}()
		for at := time.Duration(0); at < after; at += time.Second {
			clock.pass(time.Second)
		}
		if after > 30*time.Second {
			time.Sleep(250 * time.Millisecond) // the time is said by a real ticker
		}
		if _, err := io.WriteString(w, typed+"\n"); err != nil {
			t.Fatal(err)
		}
		a := <-got
		if a.err != nil {
			t.Fatal(a.err)
		}
		return a.r
	}
	v := spillage()
	r := ask(v, 0, "")
	if r.Timer == nil || r.Timer.Act != "start" || !r.Timer.Wall.Equal(day) {
		t.Fatalf("%+v", r)
	}
	v.Clock = &forms.ClockView{Lit: r.Timer.Wall, LitMono: r.Timer.Mono, Limit: 60}
	if r = ask(v, 3*time.Second, "/c 12"); r.Control != 'c' || r.Arg != "12" || r.Timer != nil {
		t.Fatalf("%+v", r)
	}
	if r = ask(v, 59*time.Second, ""); r.Timer == nil || r.Timer.Act != "mark" || r.Timer.Mono != 62000 {
		t.Fatalf("%+v", r)
	}
	v.Clock = &forms.ClockView{Lit: v.Clock.Lit, LitMono: v.Clock.LitMono, Limit: 60, Drawn: 62}
	if r = ask(v, 0, "a"); r.Timer == nil || r.Timer.Act != "mark" || r.Text != "" {
		t.Fatalf("came back: %+v", r)
	}
	if r = ask(v, 0, "ok"); r.Timer == nil || r.Timer.Act != "stop" || r.Text != "62s" {
		t.Fatalf("keep: %+v", r)
	}
	v.Clock = &forms.ClockView{Lit: v.Clock.Lit, LitMono: v.Clock.LitMono, Limit: 60}
	if r = ask(v, 0, "s"); r.Timer == nil || r.Timer.Act != "stop" || r.Text != "still 62s" {
		t.Fatalf("still: %+v", r)
	}
	if r = ask(v, 0, "x"); r.Control != 'x' {
		t.Fatalf("x: %+v", r)
	}
	for _, l := range []string{
		"warning: carbon monoxide can fill this room.\n",
		"ask: water heater, vent cold, limit 60 s. Enter when the main burner lights.\n",
		"clock: lit 11:02:14. Enter when smoke is drawn in and stays in; s still spilling; x shut down; /c 12 records CO.\n",
		"clock: 30 s.\n",
		"clock: 60 s, limit.",
		"ask: drawn in at 62 s. ok keep; a it came back; or type the time.\n",
	} {
		if !strings.Contains(out.String(), l) {
			t.Errorf("not said: %q\n%s", l, out.String())
		}
	}
	if n := strings.Count(out.String(), "clock: 60 s, limit."); n != 1 {
		t.Errorf("the limit was said %d times", n)
	}
}

func TestDecisionAndStop(t *testing.T) {
	var out buffer
	p := New(strings.NewReader("owner; by phone\n"), &out, &fakeClock{at: day}, false)
	v := forms.View{
		Step:  procedure.Step{ID: "told", Form: procedure.FormTold},
		Words: wording.Screen{Question: "Who was told, and how?"},
		Lines: []forms.Line{{Role: "head", Text: "WARNING  DO NOT AIR-SEAL THIS HOUSE YET  hold"}, {Role: "why", Text: "It spilled."}, {Role: "do", Text: "Shut it off."}, {Role: "do", Text: "Call a technician."}, {Role: "back", Text: "HOUSE PUT BACK 14 of 14"}},
		Ruler: &forms.Ruler{Net: -2.6, U: 0.5, Marks: []forms.Mark{{Letter: 'A', At: -3, Text: "-3.0 (from memory)", Side: procedure.SideTooClose}}},
	}
	if r, err := p.Ask(v); err != nil || r.Text != "owner; by phone" {
		t.Errorf("%+v, %v", r, err)
	}
	p.Stop(forms.StopScreen([]string{"EVERYONE OUT NOW.", "Ambient CO 78 ppm.\x1b[2J"}, 80))
	want := `decision: WARNING DO NOT AIR-SEAL THIS HOUSE YET hold
why 1: It spilled.
do 1: Shut it off.
do 2: Call a technician.
put back: HOUSE PUT BACK 14 of 14
net: -2.6 Pa, give or take 0.5; limit A -3.0 (from memory): too close, a fail so far.
ask: Who was told, and how?
> owner; by phone
danger: EVERYONE OUT NOW.
danger: Ambient CO 78 ppm..[2J
`
	if out.String() != want {
		t.Errorf("got\n%s\nwant\n%s", out.String(), want)
	}
	if _, err := p.Ask(v); !errors.Is(err, io.EOF) {
		t.Errorf("asked after the stop: %v", err)
	}
}

func TestControls(t *testing.T) {
	var out buffer
	p := New(strings.NewReader("/zap\n/x\n//b\n/n loose pipe\n"), &out, &fakeClock{at: day}, false)
	if r, err := p.Ask(baseline()); err != nil || r.Text != "/b" {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err := p.Ask(baseline()); err != nil || r.Control != 'n' || r.Arg != "loose pipe" {
		t.Errorf("%+v, %v", r, err)
	}
	if n := strings.Count(out.String(), "not kept: \"/"); n != 2 {
		t.Errorf("%d refused:\n%s", n, out.String())
	}
}

// TestLabelsInSpanish: no line of plain mode begins with an English word in
// Spanish; "demo" and "decision" are the same in both.
func TestLabelsInSpanish(t *testing.T) {
	src, err := os.ReadFile("plain.go")
	if err != nil {
		t.Fatal(err)
	}
	forms.Speak(wording.Spanish)
	defer forms.Speak(wording.English)
	found := 0
	for _, m := range regexp.MustCompile(`(?:p\.(?:line|once)\(|head :?= )"([a-z ]+)"`).FindAllStringSubmatch(string(src), -1) {
		found++
		if m[1] != "demo" && m[1] != "decision" && forms.Label(m[1]) == m[1] {
			t.Errorf("%q has no Spanish", m[1])
		}
	}
	if found < 20 {
		t.Errorf("only %d lines were found", found)
	}
}
