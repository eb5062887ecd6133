package terminal

import (
	"io"
	"math"
	"strings"
	"sync/atomic"
	"time"
	"unicode"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/lipgloss"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/reading"
)

// deadTime is how long Enter, and the marks of the clock, are deaf after a
// new screen, and again after each one that came too early: a key that is
// held down must not answer what nobody has read.
const deadTime = 300 // milliseconds

// Messages to the program.
type (
	askMsg  struct{ view forms.View }
	tellMsg struct{ kind, text string }
	eofMsg  struct{}
	tickMsg struct{}
)

// model is the one model of the whole walk.
type model struct {
	clock forms.Clock
	out   io.Writer // for the bell
	reply chan forms.Reply

	w, h    int
	width   *atomic.Int32 // w, for who reads it from outside
	view    forms.View
	asking  bool // a reply is waited for
	box     *box
	page    int
	opened  bool
	control string
	why     int
	tell    string
	key     string // what the screen was of, to tell a new one from the same one asked again
	deaf    int64  // monotonic ms until which Enter and marks are ignored
	draft   string // text that a control interrupted
	draftOf string
	quit    bool      // Ctrl-C came while no screen asked
	rung    time.Time // light-off whose limit was rung
	stale   time.Time // reading of room air whose age was rung
	staled  bool
	ended   bool
}

func (m *model) Init() tea.Cmd { return tick() }

func tick() tea.Cmd {
	return tea.Tick(200*time.Millisecond, func(time.Time) tea.Msg { return tickMsg{} })
}

// bell rings beside the picture: one byte, written whole.
func (m *model) bell() tea.Cmd {
	return func() tea.Msg {
		_, _ = io.WriteString(m.out, "\a")
		return nil
	}
}

func (m *model) frame() frame {
	f := frame{v: m.view, w: m.w, h: m.h, now: m.clock.Now(), page: m.page, opened: m.opened, control: m.control, why: m.why, tell: m.tell}
	if f.lit() {
		f.elapsed = m.view.Clock.Elapsed(m.clock)
	}
	if m.box != nil {
		f.box, f.text = m.box.view(), *m.box.value
	}
	return f
}

// View implements tea.Model.
func (m *model) View() string {
	if m.box == nil || m.ended {
		return ""
	}
	return strings.Join(compose(m.frame()).lines, "\n")
}

// Update implements tea.Model.
func (m *model) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	if m.ended {
		return m, tea.Quit
	}
	var cmd tea.Cmd
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		// A form asks for the size when it is made, so most of these are no news.
		if msg.Width > 0 && msg.Height > 0 && (msg.Width != m.w || msg.Height != m.h) {
			m.w, m.h = msg.Width, msg.Height
			m.width.Store(int32(m.w))
			if m.box != nil {
				m.box.form.WithWidth(m.boxWidth())
				cmd = m.pass(msg)
			}
		}
	case askMsg:
		cmd = m.ask(msg.view)
	case tellMsg:
		m.tell = msg.text
		if msg.kind == "bell" {
			cmd = m.bell()
		} else if msg.kind != "" {
			label := forms.Label(msg.kind)
			m.tell = strings.ToUpper(label[:1]) + label[1:] + "  " + msg.text
		}
	case eofMsg:
		m.ended = true
		return m, tea.Quit
	case tickMsg:
		return m, tea.Batch(tick(), m.ring())
	case tea.KeyMsg:
		cmd = m.onKey(msg)
	default:
		if m.box != nil {
			cmd = m.pass(msg)
		}
	}
	m.settle()
	return m, cmd
}

// settle notes that every page has been shown.
func (m *model) settle() {
	if m.box != nil && !m.opened && m.why == 0 {
		p := compose(m.frame())
		m.opened = p.pages < math.MaxInt && m.page >= p.pages-1
	}
}

// ring sounds once when the limit is passed, and once when a reading of room
// air has grown old while burners run.
func (m *model) ring() tea.Cmd {
	f := m.frame()
	if f.lit() && f.limit() > 0 && f.elapsed >= f.limit() && !m.rung.Equal(m.view.Clock.Lit) {
		m.rung = m.view.Clock.Lit
		return m.bell()
	}
	if w := m.view.Where; stale(w, m.clock.Now()) && (!m.staled || !m.stale.Equal(w.AmbientAt)) {
		m.stale, m.staled = w.AmbientAt, true
		return m.bell()
	}
	return nil
}

func (m *model) ask(v forms.View) tea.Cmd {
	parts := []string{v.Step.ID}
	for _, c := range v.Words.Cautions {
		parts = append(parts, c.Text)
	}
	for _, l := range v.Lines {
		parts = append(parts, l.Text)
	}
	key := strings.Join(parts, "\n")
	if key != m.key {
		m.key, m.page, m.opened = key, 0, false
	}
	if m.asking = true; v.Message != "" || v.Step.ID != m.view.Step.ID {
		m.why = 0
	}
	if v.Message != "" {
		m.tell = ""
	}
	text := v.Text
	if text == "" && m.draftOf == v.Step.ID {
		text = m.draft
	}
	m.view, m.control, m.draft, m.draftOf = v, "", "", ""
	m.deafen()
	if m.quit {
		m.quit = false
		m.send(forms.Reply{Control: 'q'})
	}
	return m.rebuild(text)
}

// rebuild makes the field new and sends it the size it would never ask for.
func (m *model) rebuild(text string) tea.Cmd {
	m.box = newBox(text, m.boxWidth())
	return tea.Batch(m.box.form.Init(), m.pass(tea.WindowSizeMsg{Width: m.w, Height: m.h}))
}

func (m *model) boxWidth() int {
	width := narrowW
	switch {
	case m.w >= wideW && m.h >= wideH:
		width = wideW
	case m.w < narrowW || m.h < narrowH:
		width = m.w + 1
	}
	return max(4, width-1-lipgloss.Width(before(m.view))-lipgloss.Width(old(m.view)))
}

func (m *model) pass(msg tea.Msg) tea.Cmd {
	_, cmd := m.box.form.Update(msg)
	return cmd
}

func (m *model) deafen() { m.deaf = m.clock.Mono() + deadTime }

// tooEarly reports a key that came before anyone could have read the screen,
// and keeps deaf while it keeps coming.
func (m *model) tooEarly() bool {
	if m.clock.Mono() < m.deaf {
		m.deafen()
		return true
	}
	return false
}

// send hands the reply over; what is typed until the next screen is dropped.
func (m *model) send(r forms.Reply) {
	if !m.asking {
		return
	}
	if r.Control != 0 && m.box != nil {
		m.draft, m.draftOf = *m.box.value, m.view.Step.ID
	}
	m.asking, m.control, m.tell = false, "", ""
	m.reply <- r
}

func (m *model) timer(act string) *procedure.Timer {
	return &procedure.Timer{Act: act, Wall: m.clock.Now().Truncate(time.Millisecond), Mono: m.clock.Mono()}
}

func (m *model) onKey(k tea.KeyMsg) tea.Cmd {
	if k.Type == tea.KeyCtrlC {
		m.quit = !m.asking
		m.send(forms.Reply{Control: 'q'})
		return nil
	}
	if !m.asking {
		return nil
	}
	switch k.Type {
	case tea.KeyEnter:
		return m.enter()
	case tea.KeyEscape:
		if m.control == "" {
			m.control = "/"
		} else {
			m.control = ""
		}
		return nil
	case tea.KeyRunes, tea.KeySpace:
		runes := k.Runes
		if k.Type == tea.KeySpace {
			runes = []rune{' '}
		}
		if k.Alt { // the same bytes as Esc and then the letter
			m.control = "/"
		}
		var cmds []tea.Cmd
		for _, r := range runes {
			if m.asking {
				cmds = append(cmds, m.rune(r))
			}
		}
		return tea.Batch(cmds...)
	case tea.KeyBackspace:
		if r := []rune(m.control); len(r) > 0 {
			m.control = string(r[:len(r)-1])
			return nil
		}
		return m.edit(k)
	case tea.KeyDelete, tea.KeyLeft, tea.KeyRight, tea.KeyHome, tea.KeyEnd, tea.KeyCtrlU, tea.KeyCtrlW:
		return m.edit(k)
	}
	return nil // no other key does anything
}

func (m *model) edit(k tea.KeyMsg) tea.Cmd {
	if m.control != "" || !m.opened {
		return nil
	}
	return m.pass(k)
}

func (m *model) rune(r rune) tea.Cmd {
	m.tell = ""
	if m.control != "" {
		return m.controlRune(r)
	}
	f := m.frame()
	if f.text == "" {
		switch {
		case r == '/':
			m.control = "/"
			return nil
		case f.clocked() && (r == 'x' || r == 'X'):
			m.send(forms.Reply{Control: 'x'})
			return nil
		}
	}
	if !m.opened {
		return nil
	}
	if f.clocked() && f.text == "" {
		switch {
		case r == ' ' && m.tooEarly(), f.lit() && (r == 's' || r == 'S') && m.tooEarly():
			return nil
		case r == ' ' && !f.lit():
			m.send(forms.Reply{Timer: m.timer("start")})
			return m.bell()
		case r == ' ':
			m.send(forms.Reply{Timer: m.timer("mark")})
			return m.bell()
		case f.lit() && (r == 's' || r == 'S') && m.view.Clock.Drawn == 0:
			// One reading of the clock for both, so that text and timer agree.
			stop := m.timer("stop")
			at := max(stop.Wall.Sub(m.view.Clock.Lit).Seconds(), float64(stop.Mono-m.view.Clock.LitMono)/1000)
			m.send(forms.Reply{Timer: stop, Text: "still " + seconds(at)})
			return nil
		}
	}
	return m.pass(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{r}})
}

// seconds is a time as Parse takes it, rounded up and never nothing.
func seconds(s float64) string { return reading.Format(max(0.1, tenth(s)), -1) + "s" }

func (m *model) controlRune(r rune) tea.Cmd {
	if len(m.control) > 1 { // "/c" and "/n" take text
		if len(m.control) < 500 && !unicode.IsControl(r) && !(r == ' ' && len(m.control) == 2) {
			m.control += string(r)
		}
		return nil
	}
	switch r = unicode.ToLower(r); r {
	case '/':
		m.control = ""
		if m.opened {
			return m.pass(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{'/'}})
		}
	case 'c', 'n':
		m.control = "/" + string(r)
	case 'w':
		m.control = ""
		if m.why++; !m.opened && len(m.view.Lines) == 0 || m.why > compose(m.frame()).whys {
			m.why = 0
		}
	case 'b', 'f', 'k', 'p', 'q', '!':
		m.send(forms.Reply{Control: byte(r)})
	case 'x':
		if m.view.Step.Burning || m.frame().clocked() {
			m.send(forms.Reply{Control: 'x'})
		}
	case ' ':
	default:
		m.control, m.tell = "", say("no-key")
	}
	return nil
}

func (m *model) enter() tea.Cmd {
	if len(m.control) > 1 {
		m.send(forms.Reply{Control: m.control[1], Arg: strings.TrimSpace(m.control[2:])})
		return nil
	}
	if m.control != "" || m.tooEarly() {
		return nil
	}
	m.tell = ""
	if m.why > 0 && len(m.view.Lines) > 0 {
		m.why = 0 // Enter belongs to the page below, which must be seen first
		m.deafen()
		return nil
	}
	if !m.opened {
		if p := compose(m.frame()); p.pages < math.MaxInt {
			m.page++
			m.deafen()
		}
		return nil
	}
	f := m.frame()
	if f.lit() && m.view.Clock.Drawn > 0 && f.text == "" {
		m.send(forms.Reply{Timer: m.timer("stop"), Text: seconds(m.view.Clock.Drawn)})
		return nil
	}
	m.send(forms.Reply{Text: f.text})
	return nil
}
