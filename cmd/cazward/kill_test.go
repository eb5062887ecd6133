//go:build linux || darwin

package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
)

// A walk that is killed loses nothing that it said it kept, and its record
// can be gone on with. What a kill cannot show is a power cut: the system's
// cache outlives the program, so that fsync reaches the disk in time is the
// business of journal/disk's tests, and of the disk.
func TestKilledWalkLosesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program and kills it 200 times")
	}
	const (
		workers = 2
		each    = 10 // kills of one record before it may be finished
	)
	kills := killsOr(200)
	k := &killer{bin: filepath.Join(t.TempDir(), "cazward")}
	if out, err := exec.Command("go", "build", "-o", k.bin, ".").CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, out)
	}
	whole := k.calibrate(t)

	begun := time.Now()
	var wg sync.WaitGroup
	for w := range workers {
		rnd := rand.New(rand.NewPCG(20, uint64(w)))
		wg.Go(func() {
			for n := 0; n < kills/workers && !t.Failed(); {
				n += k.record(t, rnd, whole, min(each, kills/workers-n))
			}
		})
	}
	wg.Wait()
	tried(t, "kill -9 at random moments of a walk", k.tried, k.lost)
	t.Logf("%d answers were acknowledged in %d sittings over %d records, %d of them closed at the end; %d kills before the record was begun, %d left a torn tail; %v",
		k.acked, k.sittings, k.records, k.closed, k.unbegun, k.torn, time.Since(begun).Round(time.Millisecond))
	if t.Failed() {
		return
	}
	switch {
	case k.tried != kills/workers*workers:
		t.Errorf("%d kills, want %d", k.tried, kills)
	case k.acked < kills:
		t.Errorf("only %d answers were acknowledged before %d kills: the test hardly tests", k.acked, kills)
	case k.closed == 0:
		t.Error("no record was walked to its end after its kills")
	}
}

type killer struct {
	bin string

	mu                                                           sync.Mutex
	tried, lost, acked, sittings, records, closed, unbegun, torn int
}

func (k *killer) count(f func()) {
	k.mu.Lock()
	defer k.mu.Unlock()
	f()
}

// calibrate walks to the end undisturbed, so that moments can be drawn from
// the whole length of a walk, and so that the test stops early if the demo
// prompts are not what it takes them for.
func (k *killer) calibrate(t *testing.T) time.Duration {
	dir := t.TempDir()
	begun := time.Now()
	s := k.sit(t, dir, "", nil)
	took := time.Since(begun)
	if s.killed || s.code != 0 {
		t.Fatalf("undisturbed walk: exit %d\n%s", s.code, s.tail())
	}
	rec, _ := k.load(t, dir)
	if !rec.Closed || len(s.kept) == 0 || s.kept[len(s.kept)-1] > len(rec.Events) {
		t.Fatalf("undisturbed walk: closed %v, %d events, kept %v", rec.Closed, len(rec.Events), s.kept)
	}
	return took
}

// record kills one record's walk again and again, at most n times, then walks
// it to its end. It returns how many kills hit.
func (k *killer) record(t *testing.T, rnd *rand.Rand, whole time.Duration, n int) int {
	dir, err := os.MkdirTemp(filepath.Dir(k.bin), "record-")
	if err != nil {
		t.Error(err)
		return 0
	}
	k.count(func() { k.records++ })
	hits, path, before := 0, "", []byte(nil)
	for hits < n && !t.Failed() {
		s := k.sit(t, dir, path, moment(rnd, whole))
		rec, raw := k.load(t, dir)
		k.count(func() {
			k.sittings++
			k.acked += len(s.kept)
			if s.killed {
				k.tried++
			}
			if rec == nil {
				k.unbegun++
			} else if len(rec.Torn) > 0 {
				k.torn++
			}
		})
		if s.killed {
			hits++
		} else if s.code != 0 {
			t.Errorf("sitting ended with exit %d\n%s", s.code, s.tail())
			return hits
		}
		events := 0
		if rec != nil {
			events = len(rec.Events)
		}
		for _, a := range s.kept {
			if a > events {
				k.count(func() { k.lost++ })
				t.Errorf("answer %d was acknowledged, the record holds %d events\n%s", a, events, s.tail())
			}
		}
		if rec == nil {
			if before != nil || s.named {
				t.Errorf("the record is gone or holds nothing, and it was begun\n%s", s.tail())
			}
			// Killed before its plan was written: as the program's hint says,
			// the file is moved away and the record begun again.
			for _, p := range k.files(t, dir) {
				if err := os.Rename(p, p+".not-begun"); err != nil {
					t.Error(err)
				}
			}
			path = ""
			continue
		}
		path = k.files(t, dir)[0]
		if before != nil {
			// What stood there stays: only a tail that was never acknowledged
			// may go.
			if r := journal.Compare(journal.Kept{Bytes: int64(len(before)), Head: journal.Hash(lastLine(before)), Record: before}, raw); r != journal.Growth && r != journal.Same {
				t.Errorf("after the kill the record is %q of what it was", r)
			}
		}
		before = raw[:wholeLines(rec, raw)]
		if rec.Closed {
			k.count(func() { k.closed++ })
			return hits
		}
	}
	if path == "" || t.Failed() {
		return hits
	}
	s := k.sit(t, dir, path, nil)
	rec, raw := k.load(t, dir)
	if s.code != 0 || rec == nil || !rec.Closed {
		t.Errorf("could not be walked to its end after %d kills: exit %d\n%s", hits, s.code, s.tail())
		return hits
	}
	if v := journal.Verify(raw, journal.VerifyOptions{}); v.Word != journal.Closed {
		t.Errorf("verify: %s %s", v.Word, v.Text)
	}
	resumed := 0
	for _, ev := range rec.Events {
		if h, ok := ev.Data.(*procedure.Handover); ok && h.Resumed {
			resumed++
		}
	}
	if resumed == 0 {
		t.Error("the record does not say that it was gone on with")
	}
	k.count(func() { k.sittings, k.acked, k.closed = k.sittings+1, k.acked+len(s.kept), k.closed+1 })
	return hits
}

// strike says when to kill: so long after the nth acknowledgement, or after
// the start where n is 0.
type strike struct {
	acks  int
	after time.Duration
}

// moment draws from the whole length of a walk, start-up and end included,
// oftener near the start, where the record is begun or opened again; or, so
// that every kind of moment between two answers is met however fast the
// machine is, from the time just after an acknowledgement.
func moment(rnd *rand.Rand, whole time.Duration) *strike {
	if rnd.IntN(3) == 0 {
		u := rnd.Float64()
		return &strike{0, time.Duration(u * u * float64(whole))}
	}
	return &strike{1 + rnd.IntN(10), time.Duration(rnd.Int64N(int64(6 * time.Millisecond)))}
}

// sitting is one run of the program.
type sitting struct {
	killed bool
	code   int
	named  bool  // it said where the record is
	kept   []int // numbers that it said it kept
	out    bytes.Buffer
}

func (s *sitting) tail() string {
	b := s.out.Bytes()
	return string(b[max(0, len(b)-1500):])
}

var keptLine = regexp.MustCompile(`^kept (?:\d+ to )?(\d+): `)

// most answers of one sitting: several times what a whole walk takes.
const most = 300

// sit walks in dir, going on with path unless it is "", until the walk ends
// or at is reached.
func (k *killer) sit(t *testing.T, dir, path string, at *strike) *sitting {
	s := &sitting{}
	args := []string{"walk", "--demo", "--plain"}
	if path != "" {
		args = []string{"walk", path, "--plain"}
	}
	c := exec.Command(k.bin, args...)
	c.Dir, c.Stderr = dir, &bytes.Buffer{}
	out, err := c.StdoutPipe()
	var in io.WriteCloser
	if err == nil {
		in, err = c.StdinPipe()
	}
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		t.Error(err)
		return s
	}
	var timer *time.Timer
	kill := func() { c.Process.Kill() }
	if at != nil && at.acks == 0 {
		timer = time.AfterFunc(at.after, kill)
	}
	// A line is an acknowledgement only when its end came. What the program
	// asks is answered when it asks it; that it is dead by then is no fault.
	r := bufio.NewReader(out)
	for asked := 0; ; {
		line, err := r.ReadString('\n')
		s.out.WriteString(line)
		if err != nil {
			if !errors.Is(err, io.EOF) {
				t.Error(err)
			}
			break
		}
		if strings.HasPrefix(line, "ask: ") {
			if asked++; asked <= most {
				io.WriteString(in, "=\n")
			} else {
				in.Close()
			}
		}
		s.named = s.named || strings.HasPrefix(line, "record: ")
		if m := keptLine.FindStringSubmatch(line); m != nil {
			n, err := strconv.Atoi(m[1])
			if err != nil {
				t.Error(err)
			}
			s.kept = append(s.kept, n)
			if at != nil && at.acks == len(s.kept) {
				timer = time.AfterFunc(at.after, kill)
			}
		}
	}
	_ = c.Wait() // killed on purpose, most of the time
	if timer != nil {
		timer.Stop()
	}
	fmt.Fprintf(&s.out, "stderr: %s", c.Stderr)
	if ws, ok := c.ProcessState.Sys().(syscall.WaitStatus); ok && ws.Signaled() {
		s.killed = ws.Signal() == syscall.SIGKILL && at != nil
	}
	s.code = c.ProcessState.ExitCode()
	return s
}

func (k *killer) files(t *testing.T, dir string) []string {
	names, err := filepath.Glob(filepath.Join(dir, "*"+recordSuffix))
	if err != nil || len(names) > 1 {
		t.Errorf("records in %s: %v, %v", dir, names, err)
	}
	return names
}

// load reads the one record of a folder with the codec, nil where none was
// begun. Anything else that is wrong with it fails the test.
func (k *killer) load(t *testing.T, dir string) (*journal.Record, []byte) {
	names := k.files(t, dir)
	if len(names) == 0 {
		return nil, nil
	}
	raw, err := os.ReadFile(names[0])
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
	rec, err := journal.Parse(raw)
	var e *journal.Error
	if errors.As(err, &e) && (e.Why == journal.WhyNotBegun || len(raw) == 0) {
		return nil, nil
	}
	if err != nil {
		t.Errorf("%s: %v", names[0], err)
		return nil, nil
	}
	return &rec, raw
}

// wholeLines is the length of what no later writer may take away: the record
// up to its torn tail, and with it where its sum is good.
func wholeLines(rec *journal.Record, raw []byte) int {
	if rec.TornSumGood {
		return len(raw) - len(rec.Torn)
	}
	return int(rec.Size())
}

// lastLine of whole lines, with its LF.
func lastLine(b []byte) []byte {
	return b[bytes.LastIndexByte(b[:len(b)-1], '\n')+1:]
}
