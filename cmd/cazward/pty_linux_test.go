package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
	"unsafe"
)

// screen is the window of a terminal as a person sees it. It knows the few
// sequences that the walk may use and holds every other one against it:
// colour, reverse video and questions to the terminal among them.
type screen struct {
	w, h     int
	cell     [][]rune
	row, col int
	alt      bool
	saved    [][]rune
	pending  []byte // of a sequence or character that has not all come
	faults   []string
	bells    int
}

func newScreen(w, h int) *screen {
	s := &screen{w: w, h: h}
	s.cell = s.blank()
	return s
}

func (s *screen) blank() [][]rune {
	cell := make([][]rune, s.h)
	for i := range cell {
		cell[i] = []rune(strings.Repeat(" ", s.w))
	}
	return cell
}

// resize keeps what has room, as a window does.
func (s *screen) resize(w, h int) {
	old := s.cell
	s.w, s.h = w, h
	s.cell = s.blank()
	for i := 0; i < min(h, len(old)); i++ {
		copy(s.cell[i], old[i])
	}
	s.row, s.col = min(s.row, h-1), min(s.col, w-1)
}

func (s *screen) fault(format string, args ...any) {
	if len(s.faults) < 20 {
		s.faults = append(s.faults, fmt.Sprintf(format, args...))
	}
}

// lines are the rows without the blanks at their right ends.
func (s *screen) lines() []string {
	out := make([]string, s.h)
	for i, r := range s.cell {
		out[i] = strings.TrimRight(string(r), " ")
	}
	return out
}

// Write takes what the program sends.
func (s *screen) Write(p []byte) (int, error) {
	b := append(s.pending, p...)
	for len(b) > 0 {
		n := s.one(b)
		if n == 0 {
			break
		}
		b = b[n:]
	}
	s.pending = append([]byte(nil), b...)
	return len(p), nil
}

// one takes one character or sequence and gives its length; 0 is not all here.
func (s *screen) one(b []byte) int {
	switch c := b[0]; {
	case c == 0x1b:
		return s.escape(b)
	case c == '\r':
		s.col = 0
	case c == '\n':
		s.newline()
	case c == '\a':
		s.bells++
	case c == '\b':
		s.col = max(0, s.col-1)
	case c < ' ' || c >= 0x7f:
		s.fault("byte %#x at row %d column %d", c, s.row+1, s.col+1)
	default:
		if s.col >= s.w {
			if s.alt {
				s.fault("%q wraps past the last column of row %d", c, s.row+1)
			}
			s.col = 0
			s.newline()
		}
		s.cell[s.row][s.col] = rune(c)
		s.col++
	}
	return 1
}

func (s *screen) newline() {
	if s.row++; s.row < s.h {
		return
	}
	if s.alt {
		s.fault("the full screen scrolls")
	}
	s.row = s.h - 1
	s.cell = append(s.cell[1:], []rune(strings.Repeat(" ", s.w)))
}

func (s *screen) escape(b []byte) int {
	if len(b) < 2 {
		return 0
	}
	if b[1] != '[' {
		s.fault("escape %q", b[:2])
		return 2
	}
	end := 2
	for end < len(b) && (b[end] < 0x40 || b[end] > 0x7e) {
		end++
	}
	if end == len(b) {
		return 0
	}
	args, final := string(b[2:end]), b[end]
	arg := func(i, other int) int {
		if parts := strings.Split(args, ";"); i < len(parts) {
			if n, err := strconv.Atoi(parts[i]); err == nil && n > 0 {
				return n
			}
		}
		return other
	}
	switch final {
	case 'H':
		s.row, s.col = min(arg(0, 1), s.h)-1, min(arg(1, 1), s.w)-1
	case 'A':
		s.row = max(0, s.row-arg(0, 1))
	case 'B':
		s.row = min(s.h-1, s.row+arg(0, 1))
	case 'C':
		s.col = min(s.w-1, s.col+arg(0, 1))
	case 'D':
		s.col = max(0, s.col-arg(0, 1))
	case 'K':
		s.erase(s.row, args)
	case 'J':
		switch args {
		case "", "0":
			s.erase(s.row, "0")
			for r := s.row + 1; r < s.h; r++ {
				s.erase(r, "2")
			}
		case "2":
			s.cell = s.blank()
		default:
			s.fault("erase %q", b[:end+1])
		}
	case 'h', 'l':
		s.mode(args, final == 'h')
	case 'm':
		if args != "" && args != "0" {
			s.fault("colour or other dress: %q", b[:end+1])
		}
	default:
		s.fault("sequence %q", b[:end+1])
	}
	return end + 1
}

func (s *screen) erase(row int, how string) {
	from, to := 0, s.w
	switch how {
	case "", "0":
		from = min(s.col, s.w)
	case "1":
		to = min(s.col+1, s.w)
	}
	for c := from; c < to; c++ {
		s.cell[row][c] = ' '
	}
}

func (s *screen) mode(args string, on bool) {
	switch args {
	case "?1049":
		if on && !s.alt {
			s.saved, s.cell = s.cell, s.blank()
		} else if !on && s.alt {
			s.cell = s.saved
			kept, w, h := s.cell, s.w, s.h
			if len(kept) != h || len(kept[0]) != w { // the window changed meanwhile
				s.resize(w, h)
			}
		}
		s.alt = on
	case "?25", "?2004", "?1002", "?1003", "?1006":
		// cursor shown, pasted text marked, mouse off at the end
	default:
		s.fault("mode %q", args)
	}
}

// window is the real program in a pseudo-terminal that never answers, and
// what stands on it.
type window struct {
	t      testing.TB
	master *os.File
	cmd    *exec.Cmd
	done   chan error
	began  time.Time

	mu      sync.Mutex
	screen  *screen
	changed time.Time // when the program last wrote
}

func ioctl(t testing.TB, f *os.File, req uintptr, arg unsafe.Pointer) {
	t.Helper()
	if _, _, e := syscall.Syscall(syscall.SYS_IOCTL, f.Fd(), req, uintptr(arg)); e != 0 {
		t.Fatalf("ioctl %x: %v", req, e)
	}
}

// setSize tells the kernel, which tells the program.
func setSize(t testing.TB, f *os.File, w, h int) {
	t.Helper()
	size := [4]uint16{uint16(h), uint16(w)}
	ioctl(t, f, syscall.TIOCSWINSZ, unsafe.Pointer(&size))
}

// open starts a program in a window of w columns and h rows, in a folder.
func open(t testing.TB, w, h int, dir, program string, args ...string) *window {
	t.Helper()
	master, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	if err != nil {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	unlock, n := int32(0), uint32(0)
	ioctl(t, master, syscall.TIOCSPTLCK, unsafe.Pointer(&unlock))
	ioctl(t, master, syscall.TIOCGPTN, unsafe.Pointer(&n))
	slave, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	setSize(t, slave, w, h)
	win := &window{t: t, master: master, done: make(chan error, 1), screen: newScreen(w, h), began: time.Now()}
	win.cmd = exec.Command(program, args...)
	win.cmd.Dir = dir
	win.cmd.Env = []string{"TERM=xterm-256color", "COLORTERM=truecolor", "TZ=UTC", "HOME=" + dir, "PATH=" + os.Getenv("PATH")}
	win.cmd.Stdin, win.cmd.Stdout, win.cmd.Stderr = slave, slave, slave
	win.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := win.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	_ = slave.Close()
	read := make(chan struct{})
	go func() {
		defer close(read)
		buf := make([]byte, 4096)
		for {
			n, err := master.Read(buf)
			win.mu.Lock()
			_, _ = win.screen.Write(buf[:n])
			win.changed = time.Now()
			win.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	go func() {
		err := win.cmd.Wait()
		<-read // all that it wrote stands on the screen
		win.done <- err
	}()
	t.Cleanup(func() {
		_ = win.cmd.Process.Kill()
		_ = master.Close()
	})
	return win
}

func (w *window) lines() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.screen.lines()
}

func (w *window) String() string { return strings.Join(w.lines(), "\n") }

// until waits for a text on the screen.
func (w *window) until(text string) string {
	w.t.Helper()
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if now := w.String(); strings.Contains(now, text) {
			return now
		}
	}
	w.t.Fatalf("%q never came:\n%s", text, w)
	return ""
}

func (w *window) write(keys string) {
	w.t.Helper()
	if _, err := io.WriteString(w.master, keys); err != nil {
		w.t.Fatal(err)
	}
}

func (w *window) resize(width, height int) {
	w.t.Helper()
	w.mu.Lock()
	w.screen.resize(width, height)
	w.mu.Unlock()
	setSize(w.t, w.master, width, height)
}

// ended waits for the program and gives its exit code and the screen it left.
func (w *window) ended() (int, string) {
	w.t.Helper()
	select {
	case <-w.done:
		return w.cmd.ProcessState.ExitCode(), w.String()
	case <-time.After(10 * time.Second):
		w.t.Fatalf("still running:\n%s", w)
		return 0, ""
	}
}

// build makes the real program.
func build(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "cazward")
	if out, err := exec.Command("go", "build", "-o", path, "cazward/cmd/cazward").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return path
}
