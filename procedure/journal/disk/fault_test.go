package disk

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
)

// flaky fails the call of that number, and with sticky all after it, as a
// full or dead disk does. A write that fails leaves its first bytes; silent
// ones report no error with their short count.
type flaky struct {
	w              Writer
	failAt, calls  int
	sticky, silent bool
	short          int
	off            bool
}

func (f *flaky) fails() bool {
	f.calls++
	n := f.calls - 1
	return !f.off && (n == f.failAt || f.sticky && n > f.failAt)
}

func (f *flaky) Write(p []byte) (int, error) {
	if !f.fails() {
		return f.w.Write(p)
	}
	n, err := f.w.Write(p[:min(f.short, len(p))])
	if err == nil && !(f.silent && n < len(p)) {
		err = syscall.ENOSPC
	}
	return n, err
}

func (f *flaky) Sync() error {
	if f.fails() {
		return syscall.EIO
	}
	return f.w.Sync()
}

func (f *flaky) Truncate(n int64) error {
	if f.fails() {
		return syscall.EIO
	}
	return f.w.Truncate(n)
}

var faultTime = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

func faultEvent(d procedure.Data) procedure.Event {
	return procedure.Event{Kind: d.EventKind(), Observed: faultTime, Written: faultTime, Who: "AB", Src: procedure.FromWalk, Data: d}
}

func faultNote(i int) procedure.Event {
	return faultEvent(&procedure.Note{Text: fmt.Sprint("note ", i)})
}

func faultHeader() procedure.Header {
	return procedure.Header{Record: "r", Home: "invented", Phase: procedure.TestIn, Created: faultTime}
}

// begun is a record of a plan and two notes, closed as a file, and its bytes.
func begun(t *testing.T) (string, []byte) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "r.cazward")
	j, err := Create(path, faultHeader(), faultEvent(&procedure.Plan{}), faultNote(1))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := j.Append(faultNote(2)); err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return path, contents(t, path)
}

func contents(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func put(t *testing.T, path string, b []byte) {
	t.Helper()
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestEveryFaultOfAnAppend: whatever call fails, alone or with all after it,
// what was acknowledged before stays, the same append can be tried again, and
// a program that dies instead leaves a record that opens.
func TestEveryFaultOfAnAppend(t *testing.T) {
	path, before := begun(t)
	crash := filepath.Join(t.TempDir(), "crash.cazward")
	two := []procedure.Event{faultEvent(&procedure.Decided{Decision: procedure.Hold}), faultEvent(&procedure.Close{Decided: 4})}
	rec, err := journal.Parse(before)
	if err != nil {
		t.Fatal(err)
	}
	_, lines, err := rec.Extend(two...)
	if err != nil {
		t.Fatal(err)
	}
	after := append(bytes.Clone(before), lines...)

	tried, left, repaired := 0, 0, 0
	try := func(f flaky) {
		t.Helper()
		tried++
		put(t, path, before)
		j, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer j.Close()
		j.Wrap(func(w Writer) Writer { f.w = w; return &f })
		_, err = j.Append(two...)
		var ns *NotSaved
		if !errors.As(err, &ns) || ns.Events != 2 || ns.ExitCode() != 7 || ns.Hint() == "" {
			t.Fatalf("%+v: %v", f, err)
		}
		if len(j.Record().Events) != 3 || j.Record().Closed {
			t.Fatalf("%+v: counted as kept", f)
		}
		now := contents(t, path)
		if !ns.Left && !bytes.Equal(now, before) {
			t.Fatalf("%+v: not what it was, and does not say so", f)
		}
		if !bytes.HasPrefix(now, before) {
			t.Fatalf("%+v: what was acknowledged is gone", f)
		}
		// The program dies here.
		if ns.Left {
			left++
			put(t, crash, now)
			k, err := Open(crash)
			if err != nil {
				t.Fatalf("%+v: after a crash: %v", f, err)
			}
			b := contents(t, crash)
			if !bytes.HasPrefix(b, before) || !bytes.HasPrefix(after, b) || b[len(b)-1] != '\n' {
				t.Fatalf("%+v: after a crash the record is\n%s", f, b)
			}
			if k.Moved != "" {
				repaired++
				if tail := contents(t, k.Moved); !bytes.Equal(append(b, tail...), now) {
					t.Fatalf("%+v: moved away %q", f, tail)
				}
				if err := os.Remove(k.Moved); err != nil {
					t.Fatal(err)
				}
			}
			k.Close()
		}
		// Or the disk is mended and the tester presses Enter.
		f.off = true
		got, err := j.Append(two...)
		if err != nil || len(got) != 2 || got[1].N != 5 {
			t.Fatalf("%+v: tried again: %v", f, err)
		}
		if b := contents(t, path); !bytes.Equal(b, after) {
			t.Fatalf("%+v: tried again, the record is\n%s", f, b)
		}
	}
	// Calls of an append that fails: write, fsync, then cutting back: truncate, fsync.
	for _, sticky := range []bool{false, true} {
		for short := 0; short <= len(lines); short += 1 + 12*btoi(!sticky) {
			try(flaky{failAt: 0, sticky: sticky, short: short})
		}
		try(flaky{failAt: 0, sticky: sticky, silent: true, short: 9})
		try(flaky{failAt: 1, sticky: sticky})
	}
	t.Logf("%d left something in the file, %d of those moved a torn tail away", left, repaired)
	t.Logf("fault: each call of an append that fails, once or from then on, or writes short | %d | 0", tried)
	if left == 0 || repaired == 0 {
		t.Error("no fault left anything behind: the test does not reach repair")
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// TestFaultThenOtherAppend: what a failed append left does not stay beneath a
// different one, and stays out of it while the disk still refuses.
func TestFaultThenOtherAppend(t *testing.T) {
	path, before := begun(t)
	j, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	var f *flaky
	j.Wrap(func(w Writer) Writer { f = &flaky{w: w, sticky: true, short: 1 << 20}; return f })
	for i := range 3 { // the whole line is in the file, and it does not count
		if _, err := j.Append(faultNote(100 + i)); err == nil {
			t.Fatal("kept")
		}
		if now := contents(t, path); bytes.Count(now, []byte("\n")) != 5 || !strings.Contains(string(now), "note 100") {
			t.Fatalf("attempt %d wrote behind what was left:\n%s", i, now)
		}
	}
	f.off = true
	if _, err := j.Append(faultNote(3)); err != nil {
		t.Fatal(err)
	}
	now := contents(t, path)
	if r, err := journal.Parse(now); err != nil || len(r.Events) != 4 || strings.Contains(string(now), "note 100") || !bytes.HasPrefix(now, before) {
		t.Errorf("%v\n%s", err, now)
	}
}

// TestPutBack: a record that was moved away under a writer and put back can
// be gone on with.
func TestPutBack(t *testing.T) {
	path, before := begun(t)
	j, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if err := os.Rename(path, path+".away"); err != nil {
		t.Skip("this system does not move an open file: ", err)
	}
	var r *Refused
	if _, err := j.Append(faultNote(3)); !errors.As(err, &r) || r.ExitCode() != 8 || r.Hint() == "" {
		t.Errorf("moved away: %v", err)
	}
	if b := contents(t, path+".away"); !bytes.Equal(b, before) {
		t.Error("written all the same")
	}
	if err := os.Rename(path+".away", path); err != nil {
		t.Fatal(err)
	}
	if _, err := j.Append(faultNote(3)); err != nil {
		t.Errorf("put back: %v", err)
	}
	// Another writer, heedless of the lock, adds a line that would fit.
	rec := j.Record()
	_, line, err := rec.Extend(faultNote(4))
	if err != nil {
		t.Fatal(err)
	}
	put(t, path, append(contents(t, path), line...))
	if _, err := j.Append(faultNote(5)); !errors.As(err, &r) || r.ExitCode() != 8 {
		t.Errorf("grown by a good line: %v", err)
	}
	j.Close()
	if _, err := j.Append(faultNote(6)); !errors.Is(err, os.ErrClosed) {
		t.Errorf("append after closing: %v", err)
	}
	if err := j.Close(); err != nil {
		t.Errorf("closed again: %v", err)
	}
}

// TestLockRace: writers that come and go lose nothing to one another, though
// each removes the lock file that the next may just have opened.
func TestLockRace(t *testing.T) {
	path, _ := begun(t)
	const writers, each = 4, 15
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			for i := 0; i < each; {
				j, err := Open(path)
				var use *InUse
				if errors.As(err, &use) {
					runtime.Gosched()
					continue
				}
				if err != nil {
					t.Error(err)
					return
				}
				if _, err := j.Append(faultNote(100*w + i)); err != nil {
					t.Error(err)
				} else {
					i++
				}
				j.Close()
			}
		})
	}
	wg.Wait()
	r, err := Load(path)
	if err != nil || len(r.Events) != 3+writers*each {
		t.Errorf("%d events, want %d: %v", len(r.Events), 3+writers*each, err)
	}
}

// TestKilledHolder: a lock whose holder was killed is no lock, and the file
// that it left is no hindrance.
func TestKilledHolder(t *testing.T) {
	path, before := begun(t)
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), "CAZWARD_TEST_HOLD="+path) // see TestMain
	in, err1 := c.StdinPipe()
	out, err2 := c.StdoutPipe()
	if err := errors.Join(err1, err2, c.Start()); err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "open\n" {
		t.Fatalf("second program: %q, %v", line, err)
	}
	if _, err := Open(path); exit(err) != 9 {
		t.Errorf("held: %v", err)
	}
	if err := c.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	c.Wait()
	if _, err := os.Stat(path + ".lock"); err != nil {
		t.Errorf("the lock file is gone, so this tests nothing: %v", err)
	}
	j, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if !bytes.Equal(contents(t, path), before) || len(j.Record().Events) != 3 {
		t.Error("the record changed")
	}
}

// TestReadOnlyFolder: refused before anything is asked of the writer.
func TestReadOnlyFolder(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "closed")
	switch {
	case os.Geteuid() > 0:
		if err := os.Mkdir(folder, 0o500); err != nil {
			t.Fatal(err)
		}
	case runtime.GOOS == "linux":
		folder = "/proc/self" // closed to the superuser too, whom permissions do not bind
	default:
		t.Skip("permissions of a folder do not bind this user")
	}
	path := filepath.Join(folder, "out")
	called := false
	var r *Refused
	if err := WriteFile(path, func(io.Writer) error { called = true; return nil }); !errors.As(err, &r) || exit(err) != 7 || r.Hint() == "" || called {
		t.Errorf("output: %v; its writer was called: %v", err, called)
	}
	if _, err := Create(path, faultHeader(), faultEvent(&procedure.Plan{})); !errors.As(err, &r) || exit(err) != 7 || r.Hint() == "" {
		t.Errorf("record: %v", err)
	}
}
