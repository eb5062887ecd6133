package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
)

// generator makes records of homes that nobody lives in: the invented homes
// of testdata/homes, walked through the real steps, then told again with other
// names, days, crews, depths and order of samples. About one in forty still goes on.
type generator struct {
	rnd  *rand.Rand
	base []journal.Record
	long []journal.Record
	n    int
}

func testEnv() *env {
	start := time.Now()
	return &env{in: strings.NewReader(""), out: io.Discard, err: io.Discard, id: newID, ctx: context.Background(),
		now:  func() time.Time { return time.Now().Truncate(time.Millisecond) },
		mono: func() int64 { return time.Since(start).Milliseconds() }}
}

func newGenerator(t testing.TB, seed int64) *generator {
	t.Helper()
	g := &generator{rnd: rand.New(rand.NewSource(seed))}
	sheets, err := filepath.Glob("../../testdata/homes/*.sheet.yaml")
	if err != nil || len(sheets) < 10 {
		t.Fatalf("%d sheets, %v", len(sheets), err)
	}
	dir := t.TempDir()
	e := testEnv()
	for i, s := range sheets {
		b, err := os.ReadFile(s)
		if err != nil {
			t.Fatal(err)
		}
		out := filepath.Join(dir, fmt.Sprint(i, recordSuffix))
		if _, err := transcribe(e, s, b, out, nil); err != nil {
			t.Fatal(err)
		}
		rec, err := disk.Load(out)
		if err != nil {
			t.Fatal(err)
		}
		if len(rec.Events) > 60 || i%4 == 0 { // few that end at the door
			g.base = append(g.base, rec)
		}
		if len(rec.Events) > 150 {
			g.long = append(g.long, rec)
		}
	}
	if len(g.long) == 0 {
		t.Fatal("no home has a record of 150 events")
	}
	return g
}

// next is the bytes of one more record.
func (g *generator) next(t testing.TB) (id string, b []byte) {
	t.Helper()
	from := g.base[g.rnd.Intn(len(g.base))]
	if g.rnd.Intn(3) > 0 { // as many long ones as make 150 events on the average
		from = g.long[g.rnd.Intn(len(g.long))]
	}
	g.n++
	h := from.Header
	h.Record = fmt.Sprintf("%08x%08x", g.rnd.Uint32(), g.n)
	h.Home = fmt.Sprintf("%s %d", []string{"Alder", "Birch", "Cedar", "Dogwood", "Elm", "Fir", "Ginkgo", "Hazel"}[g.rnd.Intn(8)], g.n)
	move := time.Duration(g.rnd.Intn(700)-350) * 24 * time.Hour
	h.Created = h.Created.Add(move)
	who := string([]byte{'A' + byte(g.rnd.Intn(5)), 'A' + byte(g.rnd.Intn(4))})
	shift := -math.Abs(math.Round(g.rnd.NormFloat64()*5)) / 10
	for _, ev := range from.Events {
		if strings.HasPrefix(ev.Step, "settle/") || strings.HasPrefix(ev.Step, "reading/closet-1/air") {
			shift = 0 // its steps hang on how near the limit it is
		}
	}
	rec, b, err := journal.Begin(h)
	if err != nil {
		t.Fatal(err)
	}
	events := make([]procedure.Event, len(from.Events))
	for i, ev := range from.Events {
		ev.N, ev.Who, ev.Observed, ev.Written = 0, who, ev.Observed.Add(move), ev.Written.Add(move)
		if a, ok := ev.Data.(*procedure.Answer); ok && a.Pressure != nil && len(a.Pressure.Samples) > 0 {
			c := *a
			p := *a.Pressure
			p.Samples = make([]float64, len(a.Pressure.Samples))
			for k, v := range a.Pressure.Samples {
				// All readings move alike, so that the same set-up is the worst.
				if strings.HasPrefix(ev.Step, "reading/") || strings.HasPrefix(ev.Step, "held/") {
					v += shift
				}
				p.Samples[k] = math.Round(10*v) / 10
			}
			g.rnd.Shuffle(len(p.Samples), func(i, k int) { p.Samples[i], p.Samples[k] = p.Samples[k], p.Samples[i] })
			c.Pressure = &p
			ev.Data = &c
		}
		events[i] = ev
	}
	if g.rnd.Intn(40) == 0 {
		events = events[:len(events)-2] // neither decided nor closed
	}
	_, lines, err := rec.Extend(events...)
	if err != nil {
		t.Fatal(err)
	}
	return h.Record, append(b, lines...)
}

// write makes n records in a folder, in folders of at most a thousand.
func (g *generator) write(t testing.TB, dir string, n int) (bytes int64) {
	t.Helper()
	for i := range n {
		sub := filepath.Join(dir, fmt.Sprintf("%04d", i/1000))
		if i%1000 == 0 {
			if err := os.MkdirAll(sub, 0o700); err != nil {
				t.Fatal(err)
			}
		}
		id, b := g.next(t)
		bytes += int64(len(b))
		if err := os.WriteFile(filepath.Join(sub, id+recordSuffix), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return bytes
}
