package terminal

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/lipgloss"

	"cazward/forms"
	"cazward/procedure"
)

var update = flag.Bool("update", false, "write the goldens anew; look at the difference")

// bench is a model without a program around it.
type bench struct {
	*model
	clock *fakeClock
	bells int
	t     *testing.T
}

type bellCounter struct{ b *bench }

func (c bellCounter) Write(p []byte) (int, error) {
	if string(p) == "\a" {
		c.b.bells++
	}
	return len(p), nil
}

func newBench(t *testing.T, w, h int) *bench {
	b := &bench{clock: &fakeClock{at: day, mono: 0}, t: t}
	b.model = &model{clock: b.clock, out: bellCounter{b}, reply: make(chan forms.Reply, 1), w: w, h: h, width: new(atomic.Int32)}
	return b
}

// do runs one message and the bells that come of it.
func (b *bench) do(msg tea.Msg) {
	_, cmd := b.Update(msg)
	b.run(cmd, 0)
}

func (b *bench) run(cmd tea.Cmd, depth int) {
	if cmd == nil || depth > 3 {
		return
	}
	done := make(chan tea.Msg, 1)
	go func() { done <- cmd() }()
	select {
	case msg := <-done:
		if batch, ok := msg.(tea.BatchMsg); ok {
			for _, c := range batch {
				b.run(c, depth+1)
			}
		}
	case <-time.After(3 * time.Millisecond): // a cursor or the next tick
	}
}

func (b *bench) ask(v forms.View) {
	b.do(askMsg{v})
	b.clock.pass(time.Second)
}

// keys types a text; \r is Enter, \x1b Esc, and time passes before Enter.
func (b *bench) keys(text string) {
	for _, r := range text {
		switch r {
		case '\r':
			b.clock.pass(time.Second)
			b.do(tea.KeyMsg{Type: tea.KeyEnter})
		case '\x1b':
			b.do(tea.KeyMsg{Type: tea.KeyEscape})
		case '\b':
			b.do(tea.KeyMsg{Type: tea.KeyBackspace})
		case ' ':
			b.do(tea.KeyMsg{Type: tea.KeySpace, Runes: []rune{' '}})
		default:
			b.do(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{r}})
		}
	}
}

func (b *bench) got() (forms.Reply, bool) {
	select {
	case r := <-b.reply:
		return r, true
	default:
		return forms.Reply{}, false
	}
}

func (b *bench) screen() string { return b.View() }

func (b *bench) must(want string) {
	b.t.Helper()
	if !strings.Contains(b.screen(), want) {
		b.t.Errorf("not on the screen: %q\n%s", want, b.screen())
	}
}

func (b *bench) mustNot(s string) {
	b.t.Helper()
	if strings.Contains(b.screen(), s) {
		b.t.Errorf("on the screen: %q\n%s", s, b.screen())
	}
}

func TestGolden(t *testing.T) {
	shots := []struct {
		name string
		view forms.View
		keys string
		pass time.Duration
	}{
		{"baseline", baseline(), "-0.8 -1.1 -0.9 -1.0 -0.9", 0},
		{"baseline-why", baseline(), "/w", 0},
		{"controls", baseline(), "/", 0},
		{"note", baseline(), "/nloose flue pipe", 0},
		{"refused", func() forms.View {
			v := baseline()
			v.Text, v.Message = "3.2", "NOT KEPT  3.2 has no sign. Zone lower than outdoors: -3.2. Higher: +3.2."
			return v
		}(), "", 0},
		{"look-again", func() forms.View {
			v := baseline()
			v.Message = "LOOK AGAIN  kept, but the spread of 2.3 Pa is too gusty to judge. Read 60 s or longer, or shelter the hose end."
			return v
		}(), "", 0},
		{"correction", func() forms.View { v := baseline(); v.Old, v.Notes = "-1 30s", 1; return v }(), "-1.2 30s", 0},
		{"clock-waiting", spillage(), "", 0},
		{"clock-running", running(), "", 36 * time.Second},
		{"clock-typing", running(), "45s", 36 * time.Second},
		{"clock-co", running(), "/c12", 36 * time.Second},
		{"clock-past", running(), "", 65 * time.Second},
		{"clock-drawn", func() forms.View { v := running(); v.Clock.Drawn = 37.4; return v }(), "", 40 * time.Second},
		{"clock-co-old", running(), "", 135 * time.Second},
		{"clock-list", running(), "/w", 10 * time.Second},
		{"first", first(), "2", 0},
		{"decision", decision(), "", 0},
		{"decision-why", decision(), "/w", 0},
		{"checklist", checklist(), "2 ?3", 0},
		{"caution-1", longCaution(), "", 0},
		{"caution-2", longCaution(), "\r", 0},
		{"caution-last", longCaution(), "\r\r\r\r\r\r", 0},
		{"appliances", fans(), "1 3", 0},
		{"doors", doorTable(), "122?11", 0},
		{"ruler-above", ruled(0.4, 0.3), "", 0},
		{"ruler-beyond", ruled(-9.3, 0.5), "", 0},
		{"ruler-three", func() forms.View {
			v := ruled(-2.6, 0.5)
			v.Ruler.Marks = append(v.Ruler.Marks, forms.Mark{Letter: 'B', At: -5, Text: "furnace, -5.0", Side: procedure.SideInside}, forms.Mark{Letter: 'C', At: -2, Text: "water heater, -2.0", Side: procedure.SideBeyond})
			return v
		}(), "", 0},
	}
	for _, s := range shots {
		for _, size := range [][2]int{{80, 24}, {60, 20}, {50, 16}, {20, 5}} {
			if size[0] < 60 && s.name != "baseline" && s.name != "clock-running" && s.name != "decision" && s.name != "checklist" {
				continue
			}
			b := newBench(t, size[0], size[1])
			b.ask(s.view)
			b.clock.pass(s.pass)
			b.keys(s.keys)
			got := b.screen() + "\n"
			for i, l := range strings.Split(got, "\n") {
				if most := size[0] - 1; size[0] >= 60 && lipgloss.Width(l) > most {
					t.Errorf("%s %v: row %d has %d columns", s.name, size, i+1, lipgloss.Width(l))
				}
			}
			for _, r := range got {
				if r != '\n' && (r < ' ' || r > '~') {
					t.Errorf("%s %v: %q is not ASCII", s.name, size, r)
				}
			}
			file := filepath.Join("testdata", fmt.Sprintf("%s-%dx%d.golden", s.name, size[0], size[1]))
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				continue
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if string(want) != got {
				t.Errorf("%s:\ngot\n%s\nwant\n%s", file, got, want)
			}
		}
	}
}

func ruled(net, u float64) forms.View {
	v := baseline()
	b := procedure.Bound{Value: -3, Sense: procedure.AtLeast}
	v.Ruler = &forms.Ruler{Net: net, U: u, Marks: []forms.Mark{{Letter: 'A', At: -3, Text: "both on one vent, -3.0 (from memory)", Side: b.Side(net, u)}}}
	return v
}
