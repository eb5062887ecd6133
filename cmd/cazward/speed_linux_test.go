package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	"cazward/procedure/sequence"
	"cazward/procedure/sequence/sequencetest"
)

// BenchmarkKeystroke is the time from a key to the screen that shows it, in a
// pseudo-terminal, at a pressure question. Wanted: 99 of 100 under 16 ms.
func BenchmarkKeystroke(b *testing.B) {
	bin := build(b)
	w := open(b, 80, 24, b.TempDir(), bin, "walk", "--demo")
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(50 * time.Millisecond) { // to the first question with a box
		if awaits.MatchString(w.String()) {
			break
		}
		if time.Now().After(end) {
			b.Fatalf("no question:\n%s", w)
		}
	}
	time.Sleep(time.Second)
	const keys = 300
	var took []time.Duration
	for b.Loop() {
		took = took[:0]
		for i := range keys {
			time.Sleep(20 * time.Millisecond) // as fast as nobody types
			key := "1"
			if i%2 == 1 {
				key = "\x7f"
			}
			sent := time.Now()
			w.write(key)
			for {
				w.mu.Lock()
				at := w.changed
				w.mu.Unlock()
				if at.After(sent) {
					took = append(took, at.Sub(sent))
					break
				}
				if time.Since(sent) > 5*time.Second {
					b.Fatalf("a key never came to the screen:\n%s", w)
				}
				time.Sleep(100 * time.Microsecond)
			}
		}
	}
	slices.Sort(took)
	ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
	b.ReportMetric(ms(took[len(took)/2]), "p50-ms")
	b.ReportMetric(ms(took[len(took)*99/100]), "p99-ms")
}

// BenchmarkStartup starts the program and a bare one of the same command
// library in turn. Wanted: at most twice as long.
func BenchmarkStartup(b *testing.B) {
	bin, bare := build(b), filepath.Join(b.TempDir(), "bare")
	if out, err := exec.Command("go", "build", "-o", bare, "cazward/.ci/bare").CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	run := func(name string) (wall, cpu time.Duration) {
		c := exec.Command(name, "version")
		begun := time.Now()
		if err := c.Run(); err != nil {
			b.Fatal(err)
		}
		return time.Since(begun), c.ProcessState.UserTime() + c.ProcessState.SystemTime()
	}
	var ours, theirs, oursCPU, theirsCPU []time.Duration
	for b.Loop() {
		for range 40 {
			w, c := run(bin)
			ours, oursCPU = append(ours, w), append(oursCPU, c)
			w, c = run(bare)
			theirs, theirsCPU = append(theirs, w), append(theirsCPU, c)
		}
	}
	mid := func(d []time.Duration) float64 { slices.Sort(d); return float64(d[len(d)/2].Microseconds()) / 1000 }
	b.ReportMetric(mid(ours)/mid(theirs), "times-bare")
	b.ReportMetric(mid(oursCPU)/mid(theirsCPU), "times-bare-cpu")
	b.ReportMetric(mid(ours), "p50-ms")
	b.ReportMetric(mid(theirs), "bare-p50-ms")
}

// BenchmarkResume2000 goes on with a record of 2,000 events, read from its
// file: a whole test, then readings corrected over and over, each of which makes
// what rests on it stale. Wanted: under 30 ms.
func BenchmarkResume2000(b *testing.B) {
	collectSeldom()
	w := sequencetest.Begin(b, "", procedure.TestIn)
	w.To("putback/house")
	for i := 0; len(w.Events) < 2000; i++ {
		w.Correct("arrive/weather", []string{"5 40", "6 40"}[i%2])
	}
	rec, raw, err := journal.Begin(w.Header)
	if err != nil {
		b.Fatal(err)
	}
	_, lines, err := rec.Extend(w.Events...)
	if err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(b.TempDir(), "r.cazward")
	if err := os.WriteFile(path, append(raw, lines...), 0o600); err != nil {
		b.Fatal(err)
	}
	fastest, n, begunCPU := time.Hour, 0, cpuTime(b)
	for b.Loop() {
		n++
		begun := time.Now()
		rec, err := disk.Load(path)
		if err != nil {
			b.Fatal(err)
		}
		st, err := sequence.Replay(rec.Header, rec.Events)
		if err != nil {
			b.Fatal(err)
		}
		if _, ok := st.Next(); !ok {
			b.Fatal("nothing is asked")
		}
		fastest = min(fastest, time.Since(begun))
	}
	b.ReportMetric(float64(len(w.Events)), "events")
	b.ReportMetric(float64(fastest.Microseconds())/1000, "fastest-ms")
	b.ReportMetric(float64((cpuTime(b)-begunCPU).Microseconds())/1000/float64(n), "cpu-ms")
}

// cpuTime is what this process has used of the processors.
func cpuTime(b *testing.B) time.Duration {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		b.Fatal(err)
	}
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}
