package terminal

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"cazward/forms"
)

// TestMain lets the test program be the program on the other side of a
// terminal: it walks the screens named in CAZWARD_SCREENS and writes what
// came back, a line each, to CAZWARD_REPLIES.
func TestMain(m *testing.M) {
	names := os.Getenv("CAZWARD_SCREENS")
	if names == "" {
		os.Exit(m.Run())
	}
	os.Exit(example(strings.Split(names, ","), os.Getenv("CAZWARD_REPLIES")))
}

// wallClock is the real clock of the example.
type wallClock struct{ began time.Time }

func (c wallClock) Now() time.Time { return time.Now() }
func (c wallClock) Mono() int64    { return time.Since(c.began).Milliseconds() }

func example(names []string, file string) int {
	if names[0] == "exit" {
		return 0
	}
	views := map[string]func() forms.View{"first": first, "baseline": baseline, "checklist": checklist, "appliances": fans, "doors": doorTable, "clock": spillage, "decision": decision, "caution": longCaution}
	clock := wallClock{time.Now()}
	t := New(os.Stdin, os.Stdout, clock)
	var log strings.Builder
	defer func() { _ = os.WriteFile(file, []byte(log.String()), 0o600) }()
	for _, name := range names {
		if name == "stop" {
			t.Stop([]string{"EVERYONE OUT NOW. LEAVE THIS COMPUTER. Leave the door open.", "Ambient CO 78 ppm. Call from outside. Nobody goes back in."})
			return 0
		}
		v := views[name]()
		v.Where.AmbientAt = clock.Now().Add(-time.Minute)
		for {
			r, err := t.Ask(v)
			if err != nil {
				fmt.Fprintf(&log, "%s error %v eof=%v\n", name, err, errors.Is(err, io.EOF))
				_ = t.Close()
				return 1
			}
			act := ""
			if r.Timer != nil {
				act = r.Timer.Act
			}
			fmt.Fprintf(&log, "%s text=%q control=%q arg=%q timer=%s\n", name, r.Text, string(rune(r.Control)), r.Arg, act)
			v.Message, v.Text = "", ""
			switch {
			case r.Control == 'q':
				_ = t.Close()
				return 0
			case act == "start":
				v.Clock = &forms.ClockView{Lit: r.Timer.Wall, LitMono: r.Timer.Mono, Limit: v.Step.LimitS}
				continue
			case act == "mark" && v.Clock.Drawn == 0:
				v.Clock.Drawn = float64(r.Timer.Mono-v.Clock.LitMono) / 1000
				continue
			case act == "mark":
				v.Clock.Drawn = 0
				continue
			case r.Control != 0:
				continue
			}
			if _, err := forms.Parse(v.Step, r.Text, forms.ParseContext{Timed: act == "stop"}); err != nil && len(v.Lines) == 0 {
				v.Message, v.Text = err.Error(), r.Text
				continue
			}
			break
		}
	}
	_ = t.Close()
	return 0
}

// openPty makes a pseudo-terminal by hand: nobody sits at its other end, so
// nothing that the program asks of its terminal is ever answered.
func openPty(t *testing.T, w, h int) (master, slave *os.File) {
	t.Helper()
	master, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	if err != nil {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	ioctl := func(f *os.File, req uintptr, arg unsafe.Pointer) {
		if _, _, e := syscall.Syscall(syscall.SYS_IOCTL, f.Fd(), req, uintptr(arg)); e != 0 {
			t.Skipf("ioctl %x: %v", req, e)
		}
	}
	unlock, n := int32(0), uint32(0)
	ioctl(master, syscall.TIOCSPTLCK, unsafe.Pointer(&unlock))
	ioctl(master, syscall.TIOCGPTN, unsafe.Pointer(&n))
	slave, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Skipf("pts: %v", err)
	}
	size := [4]uint16{uint16(h), uint16(w)}
	ioctl(slave, syscall.TIOCSWINSZ, unsafe.Pointer(&size))
	return master, slave
}

// session is a program at a terminal that never answers.
type session struct {
	t       *testing.T
	master  *os.File
	cmd     *exec.Cmd
	mu      sync.Mutex
	out     bytes.Buffer
	done    chan error
	replies string
}

func start(t *testing.T, w, h int, screens string, env ...string) *session {
	t.Helper()
	master, slave := openPty(t, w, h)
	s := &session{t: t, master: master, done: make(chan error, 1), replies: filepath.Join(t.TempDir(), "replies")}
	s.cmd = exec.Command(os.Args[0])
	s.cmd.Env = append([]string{"CAZWARD_SCREENS=" + screens, "CAZWARD_REPLIES=" + s.replies, "TERM=xterm-256color", "COLORTERM=truecolor", "PATH=" + os.Getenv("PATH")}, env...)
	s.cmd.Stdin, s.cmd.Stdout, s.cmd.Stderr = slave, slave, slave
	s.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	_ = slave.Close()
	go func() {
		buf := make([]byte, 4096)
		for {
			n, err := master.Read(buf)
			s.mu.Lock()
			s.out.Write(buf[:n])
			s.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	go func() { s.done <- s.cmd.Wait() }()
	t.Cleanup(func() {
		_ = s.cmd.Process.Kill()
		_ = master.Close()
	})
	return s
}

func (s *session) output() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.out.String()
}

func (s *session) wait(text string) {
	s.t.Helper()
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if strings.Contains(s.output(), text) {
			return
		}
	}
	s.t.Fatalf("%q never came:\n%q", text, s.output())
}

// send types, and leaves the time that a new screen is deaf for.
func (s *session) send(text string) {
	time.Sleep((deadTime + 100) * time.Millisecond)
	if _, err := io.WriteString(s.master, text); err != nil {
		s.t.Fatal(err)
	}
}

func (s *session) end() (string, error) {
	s.t.Helper()
	select {
	case err := <-s.done:
		raw, _ := os.ReadFile(s.replies)
		return string(raw), err
	case <-time.After(10 * time.Second):
		s.t.Fatalf("still running:\n%q", s.output())
		return "", nil
	}
}

// TestTerminalThatNeverAnswers: no command may wait for a terminal that does
// not say what colour it has, and none may even ask.
func TestTerminalThatNeverAnswers(t *testing.T) {
	began := time.Now()
	s := start(t, 80, 24, "exit")
	if _, err := s.end(); err != nil {
		t.Fatal(err)
	}
	took := time.Since(began)
	t.Logf("started and ended in %v", took.Round(time.Millisecond))
	if took > 2*time.Second {
		t.Errorf("took %v: the toolkit waits for the terminal again", took)
	}
	if strings.Contains(s.output(), "\x1b]1") || strings.Contains(s.output(), "\x1b[6n") {
		t.Errorf("the terminal was asked something: %q", s.output())
	}
}

// TestWalkInTerminal goes through real screens in a real terminal.
func TestWalkInTerminal(t *testing.T) {
	s := start(t, 80, 24, "first,baseline,checklist,clock,decision")
	s.wait("number, then Enter")
	s.send("2\r")
	s.wait("What does the gauge read")
	s.send("3.2\r")
	s.wait("3.2 has no sign")
	s.send("\x1b[1~") // Home, as many terminals send it
	s.wait("Pa > _3.2")
	s.send("\x1b[4~\x15-0.8 -1.1 -0.9\r")
	s.wait("Water heater: is each")
	s.send("\x1bw") // Alt-w is for the screen alone
	s.send("2 ?3\r")
	s.wait("main burner lit")
	s.send(" ")
	s.wait("SPILLING")
	s.send("/c 12\r")
	s.send(" ")
	s.wait("DRAWN IN at")
	s.send("\r")
	s.wait("Who was told")
	s.send("owner; in person\r")
	got, err := s.end()
	if err != nil {
		t.Fatalf("%v\n%s", err, s.output())
	}
	lines := strings.Split(strings.TrimSpace(got), "\n")
	want := []string{
		`first text="2" control="\x00" arg="" timer=`,
		`baseline text="3.2" control="\x00" arg="" timer=`,
		`baseline text="-0.8 -1.1 -0.9" control="\x00" arg="" timer=`,
		`checklist text="2 ?3" control="\x00" arg="" timer=`,
		`clock text="" control="\x00" arg="" timer=start`,
		`clock text="" control="c" arg="12" timer=`,
		`clock text="" control="\x00" arg="" timer=mark`,
		`stop`, // its seconds are those that really passed
		`decision text="owner; in person" control="\x00" arg="" timer=`,
	}
	if len(lines) != len(want) {
		t.Fatalf("got\n%s", got)
	}
	for i := range want {
		if want[i] == "stop" {
			if !strings.HasPrefix(lines[i], `clock text="`) || !strings.HasSuffix(lines[i], "s\" control=\"\\x00\" arg=\"\" timer=stop") {
				t.Errorf("line %d: %s", i, lines[i])
			}
		} else if lines[i] != want[i] {
			t.Errorf("line %d: %s, want %s", i, lines[i], want[i])
		}
	}
	out := s.output()
	if !strings.Contains(out, "\x1b[?1049h") || !strings.Contains(out, "\x1b[?1049l") {
		t.Error("the alternate screen was not taken and given back")
	}
	for _, seq := range []string{"\x1b[7m", "\x1b[5m", "\x1b[3", "\x1b[4", "\x1b[1m"} {
		for rest := out; ; {
			i := strings.Index(rest, seq)
			if i < 0 {
				break
			}
			if end := strings.IndexAny(rest[i+2:], "mHJKhl"); end >= 0 && rest[i+2+end] == 'm' {
				t.Errorf("colour or reverse video: %q", rest[i:i+2+end+1])
				break
			}
			rest = rest[i+len(seq):]
		}
	}
	if n := strings.Count(out, "\a"); n < 2 {
		t.Errorf("%d bells, want one at light-off and one at the mark", n)
	}
}

// TestStopScreen: after the screen is left the lines stand on the normal one.
func TestStopScreen(t *testing.T) {
	s := start(t, 71, 24, "baseline,stop") // as narrow as the frame is wide, and one
	s.wait("What does the gauge read")
	s.send("-1\r")
	if _, err := s.end(); err != nil {
		t.Fatal(err)
	}
	out := s.output()
	for range 300 { // the terminal may still hold what the program wrote last
		if strings.HasSuffix(strings.TrimRight(out, "\r\n"), strings.Repeat("#", 70)) {
			break
		}
		time.Sleep(10 * time.Millisecond)
		out = s.output()
	}
	i := strings.LastIndex(out, "\x1b[?1049l")
	if i < 0 {
		t.Fatalf("the alternate screen was not left: %q", out)
	}
	after := out[i:]
	frame := strings.Index(after, "############################### DANGER ###############################")
	text := strings.Index(after, " EVERYONE OUT NOW. LEAVE THIS COMPUTER. Leave the door open.")
	if frame < 0 || text < frame || strings.Count(after, "####") < 2 {
		t.Errorf("after the screen:\n%q", after)
	}
}

// TestHangUp: a terminal that goes away is the end of input, a pause.
func TestHangUp(t *testing.T) {
	s := start(t, 80, 24, "baseline")
	s.wait("What does the gauge read")
	s.send("-1") // typed, never kept
	time.Sleep(100 * time.Millisecond)
	_ = s.cmd.Process.Signal(syscall.SIGTERM)
	got, _ := s.end()
	if !strings.Contains(got, "baseline error EOF eof=true") {
		t.Errorf("got %q", got)
	}
}

// TestEndOfInput: the same when the input is a pipe that ends.
func TestEndOfInput(t *testing.T) {
	in, w := io.Pipe()
	var out syncBuffer
	term := New(in, &out, wallClock{time.Now()})
	go func() {
		time.Sleep(50 * time.Millisecond)
		_, _ = io.WriteString(w, "-1 -1")
		time.Sleep(50 * time.Millisecond)
		_ = w.Close()
	}()
	r, err := term.Ask(baseline())
	if !errors.Is(err, io.EOF) || r != (forms.Reply{}) {
		t.Errorf("got %+v, %v", r, err)
	}
	if _, err := term.Ask(baseline()); !errors.Is(err, io.EOF) {
		t.Errorf("asked again: %v", err)
	}
	term.Tell("kept", "after the end") // must not hang
	if err := term.Close(); err != nil {
		t.Error(err)
	}
}

type syncBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *syncBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}
