//go:build linux || darwin

package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"syscall"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/register"
)

// stores are those whose speed is told: SQLite in a file, and PostgreSQL
// where CAZWARD_TEST_POSTGRES names a server. Fresh opens an empty register.
func stores(b *testing.B, do func(b *testing.B, fresh func() (*desk, register.Store))) {
	collectSeldom()
	places := map[string]func() string{"sqlite": func() string { return "sqlite:" + filepath.Join(b.TempDir(), "desk.db") }}
	names := []string{"sqlite"}
	if u := os.Getenv("CAZWARD_TEST_POSTGRES"); u != "" {
		places["postgres"] = func() string { return postgresSchema(b, u) }
		names = append(names, "postgres")
	}
	for _, n := range names {
		b.Run(n, func(b *testing.B) {
			do(b, func() (*desk, register.Store) {
				d := &desk{e: testEnv(), where: places[n]()}
				s, err := d.open(true)
				if err != nil {
					b.Fatal(err)
				}
				b.Cleanup(func() { s.Close() })
				return d, s
			})
		})
	}
}

// cpu is the processor time that this program has had, seconds. On a busy
// machine it tells more than the clock on the wall.
func cpu(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}

// size is a number from the environment, so that .ci/desk-speed can ask for
// more than a quick look.
func size(name string, otherwise int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil {
		return n
	}
	return otherwise
}

// peak is the most memory that the program held, megabytes.
func peak() float64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.Sys-m.HeapReleased) / (1 << 20)
}

// BenchmarkDeskAdd tells records added in a second, of about 150 events each.
func BenchmarkDeskAdd(b *testing.B) {
	n := size("CAZWARD_SPEED_RECORDS", 200)
	dir := b.TempDir()
	bytes := newGenerator(b, 1).write(b, dir, n)
	stores(b, func(b *testing.B, fresh func() (*desk, register.Store)) {
		for b.Loop() {
			d, s := fresh()
			begun, had := time.Now(), cpu(b)
			a, err := d.add(s, []string{dir}, "")
			if err != nil || a.Read != n || a.New != n || a.Failed+a.NotJudged > 0 {
				a.Problems = nil
				b.Fatalf("%+v, %v", a, err)
			}
			took := time.Since(begun)
			b.ReportMetric(float64(n)/took.Seconds(), "records/s")
			b.ReportMetric(float64(bytes)/took.Seconds()/1e6, "MB/s")
			b.ReportMetric((cpu(b)-had)*1000/float64(n), "cpu-ms/record")
			b.ReportMetric(peak(), "MB-peak")
		}
	})
}

// BenchmarkDeskRejudge tells homes judged again in a second from snapshots.
func BenchmarkDeskRejudge(b *testing.B) {
	n := size("CAZWARD_SPEED_RECORDS", 200)
	dir := b.TempDir()
	newGenerator(b, 1).write(b, dir, n)
	stores(b, func(b *testing.B, fresh func() (*desk, register.Store)) {
		d, s := fresh()
		if _, err := d.add(s, []string{dir}, ""); err != nil {
			b.Fatal(err)
		}
		by := d.by
		for b.Loop() {
			begun, had := time.Now(), cpu(b)
			r, err := d.rejudge(s, register.Filter{Accepted: true}, by)
			if err != nil || r.Total != n || r.NotJudged > 0 {
				b.Fatalf("%d judged, %d not, %v", r.Total, r.NotJudged, err)
			}
			b.ReportMetric(float64(n)/time.Since(begun).Seconds(), "homes/s")
			b.ReportMetric((cpu(b)-had)*1000/float64(n), "cpu-ms/home")
			b.ReportMetric(peak(), "MB-peak")
		}
	})
}

// BenchmarkDeskQueue tells how long a page of 50 and a count take, with and
// without filters, in a register of many homes. Their index is made directly:
// no record stands behind it.
func BenchmarkDeskQueue(b *testing.B) {
	n := size("CAZWARD_SPEED_HOMES", 2000)
	stores(b, func(b *testing.B, fresh func() (*desk, register.Store)) {
		_, s := fresh()
		fillIndex(b, s, n)
		filters := []struct {
			name string
			f    register.Filter
		}{
			{"all", register.Filter{}},
			{"crew", register.Filter{Crew: "C3"}},
			{"reason", register.Filter{Reason: register.CloseToLimit}},
			{"reason+crew", register.Filter{Reason: register.CloseToLimit, Crew: "C3"}},
			{"appliance+days", register.Filter{Appliance: procedure.Furnace, From: 20100, To: 20130}},
			{"scheme+label", register.Filter{Scheme: "spillage-2017", Label: "north"}},
			{"rare", register.Filter{Reason: register.IntegrityFailed, Appliance: procedure.Boiler}},
		}
		for _, x := range filters {
			b.Run(x.name, func(b *testing.B) {
				ctx := context.Background()
				var page, deep, count time.Duration
				runs := 0
				for b.Loop() {
					t0 := time.Now()
					list, err := s.Page(ctx, x.f, 0, 50)
					if err != nil {
						b.Fatal(err)
					}
					t1 := time.Now()
					total, err := s.Count(ctx, x.f)
					if err != nil || total < len(list) {
						b.Fatal(total, err)
					}
					t2 := time.Now()
					if len(list) > 0 {
						if _, err := s.Page(ctx, x.f, list[len(list)-1].Key, 50); err != nil {
							b.Fatal(err)
						}
					}
					page, count, deep = page+t1.Sub(t0), count+t2.Sub(t1), deep+time.Since(t2)
					runs++
				}
				ms := func(d time.Duration) float64 { return d.Seconds() * 1000 / float64(runs) }
				b.ReportMetric(ms(page), "page-ms")
				b.ReportMetric(ms(deep), "next-ms")
				b.ReportMetric(ms(count), "count-ms")
				b.ReportMetric(0, "ns/op")
			})
		}
		b.ReportMetric(peak(), "MB-peak")
	})
}

// fillIndex makes the index of n homes.
func fillIndex(b *testing.B, s register.Store, n int) {
	b.Helper()
	begun := time.Now()
	items := make([]register.Item, 0, 2000)
	flush := func() {
		if _, err := s.Add(context.Background(), items); err != nil {
			b.Fatal(err)
		}
		items = items[:0]
	}
	schemes := []string{"graded-2005", "graded-2005", "graded-2005", "spillage-2017", "code-annex-2018"}
	labels := []string{"", "north", "south", "east"}
	for i := range n {
		h := uint32(i) * 2654435761 // spread, and the same every time
		e := register.Entry{Record: fmt.Sprintf("r%07d", i), Home: fmt.Sprintf("Home %d", i), Phase: procedure.TestIn, Day: 20000 + int(h>>7)%700, Crew: fmt.Sprintf("C%d", h>>5%40), State: journal.Closed,
			Label: labels[h>>9&3], Decision: procedure.Decisions[h>>11%5], Scheme: procedure.Ref{Name: schemes[h>>13%5]}, Head: fmt.Sprintf("%064x", h), Close: fmt.Sprintf("%064x", h)}
		e.Paper = e.Decision
		if h>>15%3 == 0 {
			e.Reasons = append(e.Reasons, register.Reason{Code: register.CloseToLimit, Args: map[string]string{"about": "Basement -2.9 against -3.0 Pa"}})
		}
		if h>>4%5000 == 0 {
			e.Reasons = append(e.Reasons, register.Reason{Code: register.IntegrityFailed, Args: map[string]string{"state": "damaged"}})
		}
		e.Reasons = append(e.Reasons, register.Reason{Code: register.FromMemory, Args: map[string]string{"rows": "dep-natural-water-heater"}})
		e.Appliances = []procedure.ApplianceKind{procedure.WaterHeater}
		if h>>16%2 == 0 {
			e.Appliances = append(e.Appliances, procedure.Furnace)
		} else if h>>17%4 == 0 {
			e.Appliances = append(e.Appliances, procedure.Boiler)
		}
		e.Urgency = register.Urgency(e)
		items = append(items, register.Item{Entry: e, Record: register.Record{ID: e.Record, Home: e.Home, Bytes: []byte(e.Record), Size: 8, Sum: e.Record, State: journal.Closed}})
		if len(items) == cap(items) {
			flush()
		}
	}
	flush()
	b.Logf("%d index rows in %v", n, time.Since(begun).Round(time.Millisecond))
}
