// Package plain is the form of the walk for pipes, screen readers and
// terminals that cannot be drawn on: one fact a line, each with a fixed first
// word, nothing drawn twice, no cursor codes.
//
// All input goes through one reader. A line is an answer only when its end
// came: what the end of input cuts off is dropped, because half of "-3.5" is
// "-3", and the end of input itself is io.EOF, a pause and never an answer.
package plain

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/reading"
)

// maxLine is the longest line that is read, in bytes; Parse refuses far
// shorter ones.
const maxLine = 64 << 10

// Plain is a [forms.Prompter] of lines.
type Plain struct {
	in       *bufio.Reader
	out      io.Writer
	clock    forms.Clock
	terminal bool
	told     map[string]string // the last line of each kind, which is not said twice
	step     string
	limit    time.Time // light-off whose limit was said
	half     time.Time
	err      error // of the input, once it ended
	closed   bool
}

var _ forms.Prompter = (*Plain)(nil)

// New reads answers from in and writes to out. With terminal, Enter marks the
// clock and the time is said as it passes; without, times are typed as text
// and what was read is repeated, so that the output tells the whole story.
func New(in io.Reader, out io.Writer, clock forms.Clock, terminal bool) *Plain {
	return &Plain{in: bufio.NewReaderSize(in, 4096), out: out, clock: clock, terminal: terminal, told: map[string]string{}}
}

// line writes one fact.
func (p *Plain) line(word, text string) {
	text = strings.Join(strings.Fields(clean(text)), " ")
	if text == "" {
		return
	}
	_, _ = fmt.Fprintf(p.out, "%s: %s\n", forms.Label(word), text)
}

// once writes a fact unless it was the last of its kind.
func (p *Plain) once(word, text string) {
	if p.told[word] != text {
		p.told[word] = text
		p.line(word, text)
	}
}

func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if forms.Hidden(r) {
			return ' '
		}
		return r
	}, s)
}

// Ask implements [forms.Prompter].
func (p *Plain) Ask(v forms.View) (forms.Reply, error) {
	if p.closed {
		return forms.Reply{}, io.EOF
	}
	if v.Step.ID != p.step {
		p.step = v.Step.ID
		p.intro(v)
	}
	p.message(v.Message)
	p.question(v)
	for {
		text, err := p.answer(v)
		if err != nil {
			return forms.Reply{}, err
		}
		r, control, err := forms.ParseControl(text)
		var refused *forms.Refusal
		switch {
		case errors.As(err, &refused):
			p.message(refused.Text)
		case control && r.Control == '/':
			p.line("keys", say("keys"))
		case control && r.Control == 'w':
			p.why(v)
		case control && r.Control == 'x' && !v.Step.Burning && v.Step.Form != procedure.FormClock:
			p.message(forms.Words("not-kept", map[string]string{"text": forms.Words("no-such-key", map[string]string{"text": "x"})}))
		case control:
			return r, nil
		case v.Step.Form == procedure.FormClock:
			if r, ok := p.mark(v, r.Text); ok {
				return r, nil
			}
		default:
			return r, nil
		}
	}
}

func say(code string, kv ...string) string {
	args := map[string]string{}
	for i := 0; i+1 < len(kv); i += 2 {
		args[kv[i]] = kv[i+1]
	}
	return forms.Words("plain/"+code, args)
}

// intro is all of a step but the question.
func (p *Plain) intro(v forms.View) {
	w := v.Where
	if w.Of > 0 {
		stage := say("stage", "n", fmt.Sprint(w.Stage), "of", fmt.Sprint(w.Of), "name", w.Name)
		p.once("stage", stage+" "+p.ambient(w))
	}
	if w.Mark != "" {
		p.once("mark", w.Mark)
	}
	placed := false
	for _, l := range v.Lines {
		placed = placed || l.Role == "cautions"
	}
	if !placed {
		p.cautions(v)
	}
	count := map[string]int{}
	for _, l := range v.Lines {
		count[l.Role]++
		switch l.Role {
		case "drawn": // says nothing read aloud
		case "cautions":
			p.cautions(v)
		case "why", "do":
			p.line(fmt.Sprintf("%s %d", l.Role, count[l.Role]), l.Text)
		case "head":
			word, rest, _ := strings.Cut(l.Text, "  ")
			p.line("decision", forms.Signal(word)+" "+rest)
		case "back":
			p.line("put back", l.Text)
		default:
			p.line(l.Role, l.Text)
		}
	}
	if len(v.House) > 0 {
		head := "house now"
		switch {
		case v.Still:
			head = "may still be"
		case v.Held:
			head = "held at worst case"
		case v.Step.Form == procedure.FormSetup:
			head = "set to"
		}
		p.once(head, strings.Join(v.House, "; ")+".")
	}
	if v.Ruler != nil {
		p.once("net", net(*v.Ruler))
	} else if v.NetNote != "" {
		p.once("net", strings.TrimPrefix(v.NetNote, "net "))
	}
	for i, text := range v.Words.Items {
		word := fmt.Sprintf("item %d", i+1)
		if i < len(v.Step.Items) && !forms.Numbered(v.Step, i) {
			word = "item"
		}
		p.line(word, text)
	}
	if len(v.Words.Items) == 0 {
		for i, it := range v.Step.Items {
			name := it.Name
			if name == "" {
				name = it.Code
			}
			p.line(fmt.Sprintf("item %d", i+1), name)
		}
	}
	choices := v.Words.Choices
	if len(choices) == 0 {
		choices = v.Step.Choices
	}
	for i, text := range choices {
		p.line(fmt.Sprintf("choice %d", i+1), text)
	}
}

func (p *Plain) cautions(v forms.View) {
	for _, c := range v.Words.Cautions {
		p.line(lower(c.Word), c.Text)
	}
}

func (p *Plain) ambient(w forms.Where) string {
	age := p.clock.Now().Sub(w.AmbientAt)
	min := fmt.Sprint(max(0, int(age.Minutes())))
	switch {
	case w.Ambient == "" && w.BurnersOn:
		return say("ambient-unread-burning")
	case w.Ambient == "":
		return say("ambient-unread")
	case w.BurnersOn && w.AmbientOld > 0 && age > w.AmbientOld:
		return say("ambient-old", "min", min)
	case w.Ambient == "over":
		return say("ambient-over", "min", min)
	}
	return say("ambient", "v", w.Ambient, "min", min)
}

// net is the ruler in words.
func net(r forms.Ruler) string {
	figure := reading.Format(r.Net, 1)
	if len(r.Marks) > 0 {
		figure = reading.FormatNear(r.Net, r.Marks[0].At, 1)
	}
	if r.Net > 0 {
		figure = "+" + figure
	}
	text := say("net", "net", figure, "u", reading.Format(r.U, 1))
	for _, m := range r.Marks {
		text += say("limit", "letter", string(m.Letter), "text", m.Text, "side", lower(forms.SideWords(m.Side, false, r.Final)))
	}
	if r.None != "" {
		text += "; " + r.None
	}
	return text + "."
}

func lower(s string) string { return strings.ToLower(s) }

// message puts a message under its own first word: "NOT KEPT  ..." becomes
// "not kept: ...".
func (p *Plain) message(msg string) {
	if word, text, ok := strings.Cut(msg, "  "); ok {
		p.line(lower(word), text)
	} else if msg != "" {
		p.line("message", msg)
	}
}

func (p *Plain) question(v forms.View) {
	c := v.Clock
	switch {
	case v.Step.Form == procedure.FormClock && c != nil && !c.Lit.IsZero() && c.Drawn > 0:
		p.line("ask", say("drawn", "s", reading.Format(tenth(c.Drawn), -1)))
		return
	case v.Step.Form == procedure.FormClock && c != nil && !c.Lit.IsZero():
		p.once("clock", say("lit", "at", c.Lit.Format("15:04:05")))
		return
	}
	if v.Shows != "" {
		p.line("demo", v.Shows+" "+forms.Words("screen/types-it", nil))
	}
	text := v.Words.Plain
	if text == "" {
		text = strings.Join(append([]string{v.Words.Question}, v.Words.How...), " ")
	}
	if v.Step.Form == procedure.FormClock && p.terminal {
		text += " " + say("light")
	}
	if v.Step.Form == procedure.FormDoubt {
		text = forms.Words("screen/look-again", nil) + ": " + text
	}
	p.line("ask", text)
	if v.Old != "" {
		p.line("was", v.Old)
	}
}

func (p *Plain) why(v forms.View) {
	for _, l := range v.Words.Why {
		p.line("why", l)
	}
	if len(v.Words.Why) == 0 {
		p.line("why", say("no-why"))
	}
}

// answer reads one line. While a clock runs at a terminal it says the time
// at half a minute and at the limit.
func (p *Plain) answer(v forms.View) (string, error) {
	if p.err != nil {
		return "", p.err
	}
	if p.terminal {
		_, _ = io.WriteString(p.out, "> ")
	}
	type read struct {
		text string
		err  error
	}
	got := make(chan read, 1) // one reader at a time: this one ends before the next begins
	go func() {
		text, err := p.read()
		got <- read{text, err}
	}()
	var tick <-chan time.Time
	if c := v.Clock; p.terminal && v.Step.Form == procedure.FormClock && c != nil && !c.Lit.IsZero() {
		t := time.NewTicker(100 * time.Millisecond)
		defer t.Stop()
		tick = t.C
	}
	for {
		select {
		case r := <-got:
			if r.err != nil {
				p.err = r.err
				if p.terminal {
					_, _ = io.WriteString(p.out, "\n")
				}
				return "", r.err
			}
			if !p.terminal {
				_, _ = fmt.Fprintf(p.out, "> %s\n", clean(r.text))
			}
			return r.text, nil
		case <-tick:
			p.pass(v)
		}
	}
}

// pass says the time that has passed, once each.
func (p *Plain) pass(v forms.View) {
	c := v.Clock
	limit := c.Limit
	if limit == 0 {
		limit = v.Step.LimitS
	}
	at := c.Elapsed(p.clock)
	if at >= 30 && (limit == 0 || limit > 30) && !p.half.Equal(c.Lit) {
		p.half = c.Lit
		p.line("clock", say("at", "s", "30"))
	}
	if limit > 0 && at >= limit && !p.limit.Equal(c.Lit) {
		p.limit = c.Lit
		_, _ = io.WriteString(p.out, "\a")
		p.line("clock", say("limit-at", "s", reading.Format(limit, -1)))
	}
}

// read takes one whole line. Its end may be LF or CR LF.
func (p *Plain) read() (string, error) {
	var b strings.Builder
	for {
		part, err := p.in.ReadSlice('\n')
		if b.Len() < maxLine { // the rest of a longer line is read and dropped; Parse refuses it
			b.Write(part)
		}
		switch {
		case err == nil:
			return strings.TrimSuffix(strings.TrimSuffix(b.String(), "\n"), "\r"), nil
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		}
		if b.Len() > 0 {
			p.line("stopped", say("cut"))
		}
		return "", io.EOF // a terminal that hung up is the end of input too
	}
}

// mark takes what was typed at a clock. Enter marks at a terminal alone: a
// blank line in a pipe must never be a time.
func (p *Plain) mark(v forms.View, text string) (forms.Reply, bool) {
	c := v.Clock
	lit := c != nil && !c.Lit.IsZero()
	word := lower(strings.TrimSpace(text))
	if word == "x" {
		return forms.Reply{Control: 'x'}, true
	}
	if !p.terminal {
		if word == "" || lit && (word == "s" || word == "a" || word == "ok") {
			p.message(forms.Words("not-kept", map[string]string{"text": forms.Words("mark-terminal", nil)}))
			return forms.Reply{}, false
		}
		return forms.Reply{Text: text}, true
	}
	timer := func(act string) *procedure.Timer {
		return &procedure.Timer{Act: act, Wall: p.clock.Now().Truncate(time.Millisecond), Mono: p.clock.Mono()}
	}
	switch {
	case word == "" && !lit:
		return forms.Reply{Timer: timer("start")}, true
	case word == "" && c.Drawn == 0:
		return forms.Reply{Timer: timer("mark")}, true
	case lit && word == "a" && c.Drawn > 0:
		return forms.Reply{Timer: timer("mark")}, true
	case lit && word == "ok" && c.Drawn > 0:
		return forms.Reply{Timer: timer("stop"), Text: seconds(c.Drawn)}, true
	case lit && word == "s" && c.Drawn == 0:
		t := timer("stop")
		at := max(t.Wall.Sub(c.Lit).Seconds(), float64(t.Mono-c.LitMono)/1000)
		return forms.Reply{Timer: t, Text: "still " + seconds(at)}, true
	}
	return forms.Reply{Text: text}, true
}

// tenth rounds a time of spilling up, so that rounding never makes it pass.
func tenth(s float64) float64 { return math.Ceil(s*10-1e-6) / 10 }

func seconds(s float64) string { return reading.Format(max(0.1, tenth(s)), -1) + "s" }

// Tell implements [forms.Prompter]: "kept 35: ..." and all others "kind: ...".
func (p *Plain) Tell(kind, text string) {
	switch kind {
	case "kept":
		_, _ = fmt.Fprintf(p.out, "%s %s\n", forms.Label("kept"), strings.Join(strings.Fields(clean(text)), " "))
	case "bell":
		if p.terminal {
			_, _ = io.WriteString(p.out, "\a")
		}
		p.line("bell", text)
	default:
		p.line(kind, text)
	}
}

// Stop implements [forms.Prompter]. The rows of # are left out: a screen
// reader would read each of them.
func (p *Plain) Stop(lines []string) {
	p.closed = true
	if p.terminal {
		_, _ = io.WriteString(p.out, "\n")
	}
	for _, l := range forms.StopLines(lines) {
		p.line("danger", l)
	}
}

// Close implements [forms.Prompter].
func (p *Plain) Close() error {
	p.closed = true
	return nil
}
