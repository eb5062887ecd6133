//go:build linux || darwin

package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
)

// manyKills is how often each verb is killed; .ci/faults asks for more.
var manyKills = flag.Int("kills", 0, "kill -9 this often in each fault test; 0 is the few of an ordinary run")

func killsOr(n int) int {
	if *manyKills > 0 {
		return *manyKills
	}
	return n
}

// tried logs a row of the table that .ci/faults prints.
func tried(t *testing.T, fault string, n, lost int) {
	t.Helper()
	t.Logf("fault: %s | %d | %d", fault, n, lost)
}

// keptOnly holds that a record has all that a sitting acknowledged, and gives
// how much of that is gone.
func (k *killer) keptOnly(t *testing.T, s *sitting, dir string) (rec *journal.Record, lost int) {
	t.Helper()
	rec, _ = k.load(t, dir)
	events := 0
	if rec != nil {
		events = len(rec.Events)
	}
	for _, n := range s.kept {
		if n > events {
			lost++
			t.Errorf("answer %d was acknowledged, the record holds %d events\n%s", n, events, s.tail())
		}
	}
	return rec, lost
}

// TestKilledAtEachAnswer kills a walk the moment it acknowledges its first
// answer, another at its second, and so on to the end; every twentieth where
// .ci/faults does not ask for more.
func TestKilledAtEachAnswer(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program and kills it at each answer")
	}
	k := &killer{bin: program(t)}
	step := 20
	if *manyKills > 0 {
		step = 1
	}
	n, lost := 0, 0
	for acks := 1; ; acks += step {
		dir := t.TempDir()
		s := k.sit(t, dir, "", &strike{acks, 0})
		_, l := k.keptOnly(t, s, dir)
		lost += l
		if !s.killed {
			break // it has no more answers
		}
		n++
	}
	tried(t, "kill -9 the moment an answer is acknowledged, at each answer of a walk", n, lost)
	if n < 60/step {
		t.Errorf("%d kills: the test hardly tests", n)
	}
}

// TestKilledOutputs kills verbs that write one file at random moments: the
// file is whole or not there, and given again the command works.
func TestKilledOutputs(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program and kills it")
	}
	bin, dir := program(t), t.TempDir()
	sheet, err := filepath.Abs(filepath.Join(homesDir, allClear+".sheet.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	record := filepath.Join(dir, "home"+recordSuffix)
	if code, _, errs := cazward("transcribe", sheet, "-o", record); code != 0 {
		t.Fatal(errs)
	}
	rnd := rand.New(rand.NewPCG(5, 6))
	for _, c := range []struct {
		name, out string
		args      []string
		sound     func([]byte) bool
	}{
		{"transcribe", "new" + recordSuffix, []string{"transcribe", sheet, "-o"}, func(b []byte) bool {
			return journal.Verify(b, journal.VerifyOptions{}).Word == journal.Closed
		}},
		{"report", "home.pdf", []string{"report", record, "-o"}, wholePDF},
		{"report", "home.html", []string{"report", record, "-o"}, func(b []byte) bool { return bytes.HasSuffix(bytes.TrimSpace(b), []byte("</html>")) }},
		{"notice", "notice.pdf", []string{"notice", record, "-o"}, wholePDF},
	} {
		t.Run(c.out, func(t *testing.T) {
			dir := t.TempDir()
			out := filepath.Join(dir, c.out)
			run := func(after time.Duration) (killed bool) {
				x := exec.Command(bin, append(c.args, out)...)
				if err := x.Start(); err != nil {
					t.Fatal(err)
				}
				timer := time.AfterFunc(after, func() { x.Process.Kill() })
				defer timer.Stop()
				err := x.Wait()
				if ws, ok := x.ProcessState.Sys().(syscall.WaitStatus); ok && ws.Signaled() {
					return true
				}
				if err != nil {
					t.Fatalf("left alone: %v", err)
				}
				return false
			}
			begun := time.Now()
			run(time.Hour)
			whole := time.Since(begun)
			n, there, half := 0, 0, 0
			strikes := max(4, *manyKills/5)
			for range strikes {
				if err := os.RemoveAll(out); err != nil {
					t.Fatal(err)
				}
				if run(time.Duration(rnd.Int64N(int64(whole)))) {
					n++
				}
				b, err := os.ReadFile(out)
				if err == nil {
					there++
					if !c.sound(b) {
						half++
						t.Errorf("half a file of %d bytes was left", len(b))
					}
				}
			}
			if err := os.RemoveAll(out); err != nil {
				t.Fatal(err)
			}
			run(time.Hour)
			if b, err := os.ReadFile(out); err != nil || !c.sound(b) {
				t.Errorf("given again: %v", err)
			}
			tried(t, "kill -9 at random moments of "+c.name+" -o "+filepath.Ext(c.out)+", half a file left", n, half)
			if n < strikes/3 {
				t.Errorf("%d killed, %d had ended: the test hardly tests", n, there)
			}
		})
	}
}

func wholePDF(b []byte) bool {
	return bytes.HasPrefix(b, []byte("%PDF-")) && bytes.HasSuffix(bytes.TrimSpace(b), []byte("%%EOF"))
}

// limited runs the program where no file may grow past so many KiB, as on a
// disk that is full there.
func limited(kib int, bin string, args ...string) *exec.Cmd {
	return exec.Command("bash", append([]string{"-c", fmt.Sprintf(`ulimit -f %d; exec "$0" "$@"`, kib), bin}, args...)...)
}

// TestDiskFull lets the room of a walk end at each KiB, and that of the verbs
// that write one file: what is acknowledged is there, no half file is left, the
// message says what to do, and with room again it goes on.
func TestDiskFull(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program and fills the disk under it")
	}
	bin := program(t)
	k := &killer{bin: bin}
	whole := t.TempDir()
	s := k.sit(t, whole, "", nil)
	rec, lost := k.keptOnly(t, s, whole)
	if rec == nil || !rec.Closed {
		t.Fatalf("undisturbed: %s", s.tail())
	}
	size := int(rec.Size()) / 1024
	n := 0
	step := 16
	if *manyKills > 0 {
		step = 1
	}
	for kib := 0; kib < size; kib += step {
		dir := t.TempDir()
		c := limited(kib, bin, "walk", "--demo", "--plain")
		c.Dir, c.Stdin = dir, strings.NewReader(strings.Repeat("=\n", 300))
		out, _ := c.CombinedOutput()
		s := acknowledged(string(out))
		s.out.Write(out)
		rec, l := k.keptOnly(t, s, dir)
		lost += l
		n++
		if !bytes.Contains(out, []byte("NOT saved")) && !bytes.Contains(out, []byte("not saved")) {
			t.Errorf("%d KiB: nobody was told\n%s", kib, s.tail())
		}
		if rec == nil {
			continue
		}
		path := k.files(t, dir)[0]
		if s := k.sit(t, dir, path, nil); s.code != 0 {
			t.Errorf("%d KiB: with room again: exit %d\n%s", kib, s.code, s.tail())
		}
		if rec, _ := k.load(t, dir); rec == nil || !rec.Closed {
			t.Errorf("%d KiB: with room again it does not come to its end", kib)
		}
	}
	tried(t, "no more room for a walk, at each KiB", n, lost)

	record := k.files(t, whole)[0]
	sheet, err := filepath.Abs(filepath.Join(homesDir, allClear+".sheet.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	real := filepath.Join(t.TempDir(), "real.cazward") // the register takes no practice
	if out, err := exec.Command(bin, "transcribe", sheet, "-o", real).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	n, left := 0, 0
	for _, args := range [][]string{
		{"transcribe", sheet, "-o", "x.cazward"}, {"report", record, "-o", "x.pdf"}, {"report", record, "-o", "x.html"}, {"report", record, "-o", "x.json"},
		{"notice", record, "-o", "x.pdf"}, {"sheet", "-o", "x.pdf"}, {"limits", "export", "graded-2005", "-o", "x.yaml"}, {"drill", "new", "-o", "x.house.yaml"},
		{"desk", "add", real, "--register", "sqlite:x.db"},
	} {
		for _, kib := range []int{0, 1, 4} {
			dir := t.TempDir()
			c := limited(kib, bin, args...)
			c.Dir = dir
			out, err := c.CombinedOutput()
			if err == nil {
				continue // it had room
			}
			n++
			if code := c.ProcessState.ExitCode(); code != exitRefused || !bytes.Contains(out, []byte("cazward: hint: ")) {
				t.Errorf("%v in %d KiB: exit %d, %s", args, kib, code, out)
			}
			names, _ := filepath.Glob(filepath.Join(dir, "*"))
			hidden, _ := filepath.Glob(filepath.Join(dir, ".*"))
			for _, f := range append(names, hidden...) {
				if args[0] == "desk" { // an empty register is no loss, and is filled later
					continue
				}
				left++
				t.Errorf("%v in %d KiB left %s", args, kib, f)
			}
			c = exec.Command(bin, args...)
			c.Dir = dir
			if out, err := c.CombinedOutput(); err != nil {
				t.Errorf("%v with room again: %v\n%s", args, err, out)
			}
		}
	}
	tried(t, "no more room for a verb that writes a file, half a file left", n, left)
	if n < 12 {
		t.Errorf("%d verbs met the end of the room: the test hardly tests", n)
	}
}

// TestNoRight: a folder that cannot be written to is refused with what to do.
func TestNoRight(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "closed")
	if os.Geteuid() == 0 {
		folder = "/proc/self" // closed to the superuser too
	} else if err := os.Mkdir(folder, 0o500); err != nil {
		t.Fatal(err)
	}
	record := filepath.Join(t.TempDir(), "home"+recordSuffix)
	sheet := filepath.Join(homesDir, allClear+".sheet.yaml")
	if code, _, errs := cazward("transcribe", sheet, "-o", record); code != 0 {
		t.Fatal(errs)
	}
	n := 0
	for _, args := range [][]string{
		{"transcribe", sheet, "-o", folder + "/x.cazward"}, {"report", record, "-o", folder + "/x.pdf"}, {"notice", record, "-o", folder + "/x.pdf"},
		{"sheet", "-o", folder + "/x.pdf"}, {"limits", "export", "graded-2005", "-o", folder + "/x.yaml"}, {"drill", "new", "-o", folder + "/x.house.yaml"},
		{"walk", folder + "/x.cazward", "--plain", "--home", "X", "--tester", "AB"}, {"desk", "add", record, "--register", "sqlite:" + folder + "/x.db"},
	} {
		code, _, errs := cazward(args...)
		n++
		if code != exitRefused || !strings.Contains(errs, "cazward: hint: ") {
			t.Errorf("%v: exit %d, %s", args, code, errs)
		}
	}
	tried(t, "a folder that cannot be written to, something left", n, 0)
}

// TestPoorSurroundings: no home folder, a locale that knows only ASCII, no
// terminal type, standard input closed: every verb that needs none of them
// works, and a walk stops without harm.
func TestPoorSurroundings(t *testing.T) {
	bin, dir := program(t), t.TempDir()
	sheet, err := filepath.Abs(filepath.Join(homesDir, allClear+".sheet.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, env := range [][]string{{}, {"LANG=C", "LC_ALL=C"}, {"HOME=", "TERM=dumb"}, {"HOME=/nowhere/at/all", "LANG=C"}} {
		dir := filepath.Join(dir, fmt.Sprint(n))
		if err := os.Mkdir(dir, 0o700); err != nil {
			t.Fatal(err)
		}
		for _, args := range [][]string{
			{"transcribe", sheet, "-o", "x.cazward"}, {"verify", "x.cazward"}, {"show", "x.cazward"}, {"judge", "x.cazward"}, {"report", "x.cazward", "-o", "x.pdf"}, {"report", "x.cazward", "-o", "es.html", "--lang", "es"},
			{"notice", "x.cazward", "-o", "n.pdf"}, {"sheet", "-o", "s.pdf"}, {"limits", "list"}, {"limits", "show", "graded-2005"}, {"drill", "check", "demonstration"},
			{"airfree", "--co", "87", "--o2", "5"}, {"desk", "add", "x.cazward", "--register", "sqlite:x.db"}, {"desk", "queue", "--register", "sqlite:x.db"}, {"version"},
		} {
			c := exec.Command(bin, args...)
			c.Env, c.Dir = env, dir
			n++
			if out, err := c.CombinedOutput(); err != nil {
				t.Errorf("%v %v: %v\n%s", env, args, err, out)
			}
		}
		// The register has no folder to lie in: that is said, with the way out.
		c := exec.Command(bin, "desk", "queue")
		c.Env, c.Dir = env, dir
		n++
		out, _ := c.CombinedOutput()
		if code := c.ProcessState.ExitCode(); code == exitInternal || code == 0 || !bytes.Contains(out, []byte("cazward: hint: ")) {
			t.Errorf("%v desk queue: exit %d %s", env, code, out)
		}
		c = exec.Command("bash", "-c", `exec "$0" walk --demo --plain <&-`, bin)
		c.Env, c.Dir = append(env, "PATH="+os.Getenv("PATH")), dir
		n++
		out, _ = c.CombinedOutput()
		if code := c.ProcessState.ExitCode(); code == exitInternal || bytes.Contains(out, []byte("panic")) || !bytes.Contains(out, []byte("ask: ")) && !bytes.Contains(out, []byte("hint: ")) {
			t.Errorf("%v, standard input closed: exit %d\n%s", env, code, out)
		}
	}
	tried(t, "no HOME, LANG=C, no TERM, standard input closed", n, 0)
}

// acknowledged are the answers that a walk said it kept.
func acknowledged(said string) *sitting {
	s := &sitting{}
	for _, l := range strings.Split(said, "\n") {
		if m := keptLine.FindStringSubmatch(l); m != nil {
			var x int
			fmt.Sscan(m[1], &x)
			s.kept = append(s.kept, x)
		}
	}
	return s
}

// startDemo begins a walk of the demonstration that is answered through in.
func startDemo(t *testing.T, bin, dir string) (c *exec.Cmd, in io.WriteCloser, out *syncBuffer) {
	t.Helper()
	c, out = exec.Command(bin, "walk", "--demo", "--plain"), &syncBuffer{}
	c.Dir = dir
	in, err := c.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	c.Stdout, c.Stderr = out, out
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c, in, out
}

// TestDeletedWhileOpen takes the record away under a walk: nothing more is
// acknowledged, the person is told, and put back it goes on.
func TestDeletedWhileOpen(t *testing.T) {
	k := &killer{bin: program(t)}
	n, lost := 0, 0
	for _, after := range []int{1, 5, 20} {
		dir := t.TempDir()
		c, in, out := startDemo(t, k.bin, dir)
		acks := func() int { return strings.Count(out.String(), "\nkept ") }
		for i := 1; i <= after; i++ {
			if _, err := in.Write([]byte("=\n")); err != nil {
				t.Fatal(err)
			}
			out.wait(t, func(string) bool { return acks() >= i })
		}
		path := k.files(t, dir)[0]
		if err := os.Rename(path, path+".away"); err != nil {
			t.Fatal(err)
		}
		before := acks()
		if _, err := in.Write([]byte("=\n")); err != nil {
			t.Fatal(err)
		}
		out.wait(t, func(s string) bool { return strings.Contains(s, "deleted or moved") })
		n++
		if acks() != before {
			lost++
			t.Errorf("after %d answers the record was taken away, and an answer was acknowledged\n%s", after, out.String())
		}
		if err := os.Rename(path+".away", path); err != nil {
			t.Fatal(err)
		}
		if _, err := in.Write([]byte("=\n")); err != nil {
			t.Fatal(err)
		}
		out.wait(t, func(string) bool { return acks() > before })
		in.Close()
		if err := c.Wait(); err != nil {
			t.Errorf("put back: %v\n%s", err, out.String())
		}
		s := acknowledged(out.String())
		_, l := k.keptOnly(t, s, dir)
		lost += l
	}
	tried(t, "record taken away under a walk and put back", n, lost)
}

// TestTwoWalks: a second program on one record is refused with exit 9.
func TestTwoWalks(t *testing.T) {
	bin, dir := program(t), t.TempDir()
	c, in, out := startDemo(t, bin, dir)
	if _, err := in.Write([]byte("=\n")); err != nil {
		t.Fatal(err)
	}
	out.wait(t, func(s string) bool { return strings.Contains(s, "\nkept ") })
	names, _ := filepath.Glob(filepath.Join(dir, "*"+recordSuffix))
	if len(names) != 1 {
		t.Fatal(names)
	}
	was, err := os.ReadFile(names[0])
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		code, _, errs := cazward("walk", names[0], "--plain")
		if code != exitInUse || !strings.Contains(errs, "cazward: hint: ") {
			t.Errorf("the second: exit %d %s", code, errs)
		}
	}
	if now, err := os.ReadFile(names[0]); err != nil || !bytes.Equal(now, was) {
		t.Errorf("the second changed the record: %v", err)
	}
	in.Close()
	if err := c.Wait(); err != nil {
		t.Errorf("the first: %v", err)
	}
	tried(t, "a second walk on one record, something changed", 3, 0)
}

// TestClockBackwards sets the computer's clock back at each of many answers:
// the record stays whole and in order, and says so.
func TestClockBackwards(t *testing.T) {
	n, lost, wentBack := 0, 0, 0
	for at := 5; at < 400; at += 40 {
		t.Chdir(t.TempDir())
		calls := 0
		base := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
		e := homeEnv()
		var out bytes.Buffer
		e.out, e.err, e.ctx, e.in = &out, &out, context.Background(), strings.NewReader(strings.Repeat("=\n", 300))
		e.now = func() time.Time {
			calls++
			x := base.Add(time.Duration(calls) * time.Second)
			if calls > at {
				x = x.Add(-5 * time.Hour)
			}
			return x
		}
		e.mono = func() int64 { return int64(calls) * 1000 }
		code := report(&out, run(e, []string{"walk", "--demo", "--plain"}))
		names, _ := filepath.Glob("*" + recordSuffix)
		if len(names) != 1 {
			t.Fatalf("at %d: exit %d %v\n%s", at, code, names, out.String())
		}
		b, err := os.ReadFile(names[0])
		if err != nil {
			t.Fatal(err)
		}
		n++
		rec, err := journal.Parse(b)
		if err != nil {
			t.Fatal(err)
		}
		if v := journal.Verify(b, journal.VerifyOptions{}); v.Word != journal.Closed && v.Word != journal.Open {
			t.Errorf("at %d: %s %s", at, v.Word, v.Text)
		}
		for _, x := range acknowledged(out.String()).kept {
			if x > len(rec.Events) {
				lost++
				t.Errorf("at %d: answer %d of %d", at, x, len(rec.Events))
			}
		}
		back, doubted := false, false
		for i, ev := range rec.Events {
			if i > 0 && ev.Written.Before(rec.Events[i-1].Written) {
				back = true
			}
			if d, ok := ev.Data.(*procedure.Doubt); ok && d.Code == procedure.DoubtClock {
				doubted = true
			}
		}
		if back {
			wentBack++
		}
		if back && !doubted {
			t.Errorf("at %d: the clock went back and the record does not say so", at)
		}
	}
	if wentBack < n/2 {
		t.Errorf("the clock of %d of %d records went back: the test hardly tests", wentBack, n)
	}
	tried(t, "computer's clock set back five hours during a walk", n, lost)
}

// syncBuffer takes what a running program says.
type syncBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *syncBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *syncBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// wait until what was said is as wanted; a minute is longer than any machine
// takes.
func (s *syncBuffer) wait(t *testing.T, want func(string) bool) {
	t.Helper()
	for range 6000 {
		if want(s.String()) {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("it never came to that:\n%s", s.String())
}
