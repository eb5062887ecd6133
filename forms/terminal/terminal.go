// Package terminal is the full-screen form of the walk: one program for all
// of it, and in it, for each step, fixed regions around one answer field.
//
// The regions never move, so that a tired person finds box, message and keys
// where they were; see the line budget in rows. Nothing depends on colour and
// no text passes the last column but one. It reads no environment: what the
// terminal can do is asked with [Usable] by whoever does.
package terminal

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/term"

	"cazward/forms"
	// Before the toolkit asks the terminal for its colours.
	_ "cazward/forms/background"
)

// Usable reports whether a terminal of that TERM can be drawn on; if not, the
// plain form is the one to take.
func Usable(term string) bool { return term != "" && term != "dumb" }

// Terminal is a [forms.Prompter] on a full screen.
type Terminal struct {
	out     io.Writer
	program *tea.Program
	reply   chan forms.Reply
	done    chan struct{}
	err     error // of the program, after done
	once    sync.Once
	width   atomic.Int32 // of the window
}

var _ forms.Prompter = (*Terminal)(nil)

// New takes the screen. It starts before the first [Terminal.Ask], so that an
// error of the terminal itself shows there.
func New(in io.Reader, out io.Writer, clock forms.Clock) *Terminal {
	t := &Terminal{out: out, reply: make(chan forms.Reply, 1), done: make(chan struct{})}
	t.width.Store(wideW)
	m := &model{clock: clock, out: out, reply: t.reply, w: wideW, h: wideH, width: &t.width}
	// The size before the first screen: pages counted at another size would
	// pass for read.
	if f, ok := out.(*os.File); ok {
		if w, h, err := term.GetSize(f.Fd()); err == nil && w > 0 && h > 0 {
			m.w, m.h = w, h
			t.width.Store(int32(w))
		}
	}
	t.program = tea.NewProgram(m, tea.WithInput(t.watch(in)), tea.WithOutput(out), tea.WithAltScreen(), tea.WithFPS(120))
	go func() {
		defer close(t.done)
		_, t.err = t.program.Run()
	}()
	return t
}

// watch tells the program when input is at its end, which the toolkit would
// wait out for ever.
func (t *Terminal) watch(in io.Reader) io.Reader {
	end := func() { t.program.Send(eofMsg{}) }
	if f, ok := in.(*os.File); ok {
		return &file{f, end}
	}
	return &reader{in, end}
}

type file struct {
	*os.File
	end func()
}

func (f *file) Read(p []byte) (int, error) {
	n, err := f.File.Read(p)
	if err != nil && n == 0 {
		f.end()
		return 0, io.EOF
	}
	return n, nil
}

type reader struct {
	io.Reader
	end func()
}

func (r *reader) Read(p []byte) (int, error) {
	n, err := r.Reader.Read(p)
	if err != nil && n == 0 {
		r.end()
		return 0, io.EOF
	}
	return n, nil
}

// Ask implements [forms.Prompter]. A terminal that went away, a signal and
// the end of input are all io.EOF: a pause, never an answer.
func (t *Terminal) Ask(v forms.View) (forms.Reply, error) {
	select {
	case <-t.done:
		return forms.Reply{}, t.ended()
	default:
	}
	t.program.Send(askMsg{own(v)})
	select {
	case r := <-t.reply:
		return r, nil
	case <-t.done:
		return forms.Reply{}, t.ended()
	}
}

// own copies what a caller may change for the next view while this one is
// still drawn.
func own(v forms.View) forms.View {
	if v.Clock != nil {
		c := *v.Clock
		v.Clock = &c
	}
	if v.Ruler != nil {
		r := *v.Ruler
		r.Marks = slices.Clone(r.Marks)
		v.Ruler = &r
	}
	if v.Step.Setup != nil {
		s := v.Step.Setup.Clone()
		v.Step.Setup = &s
	}
	v.House, v.SoFar, v.Lines = slices.Clone(v.House), slices.Clone(v.SoFar), slices.Clone(v.Lines)
	return v
}

func (t *Terminal) ended() error {
	if t.err != nil && errors.Is(t.err, tea.ErrProgramPanic) {
		return fmt.Errorf("terminal: %w", t.err)
	}
	if t.err != nil && !errors.Is(t.err, tea.ErrInterrupted) && !errors.Is(t.err, tea.ErrProgramKilled) {
		return fmt.Errorf("terminal: %w", t.err)
	}
	return io.EOF
}

// Tell implements [forms.Prompter]: the line stands in the message region
// until a key is pressed. Kind "bell" rings.
func (t *Terminal) Tell(kind, text string) { t.program.Send(tellMsg{kind, text}) }

// Stop implements [forms.Prompter].
func (t *Terminal) Stop(lines []string) {
	_ = t.Close()
	for _, l := range forms.StopScreen(lines, int(t.width.Load())) {
		_, _ = fmt.Fprintln(t.out, l)
	}
}

// Close implements [forms.Prompter]. It waits for the terminal to be as it
// was, but not for ever.
func (t *Terminal) Close() error {
	t.once.Do(func() {
		// The program may end by itself meanwhile; Quit then does nothing.
		go t.program.Quit()
		select {
		case <-t.done:
		case <-time.After(3 * time.Second):
			t.program.Kill()
			select {
			case <-t.done:
			case <-time.After(time.Second):
			}
		}
	})
	return nil
}
