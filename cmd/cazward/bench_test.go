package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	"cazward/procedure/sequence"
	"cazward/procedure/sequence/sequencetest"
)

// BenchmarkReplay goes on with a whole record, as after a stop.
func BenchmarkReplay(b *testing.B) {
	path := filepath.Join(b.TempDir(), "r.cazward")
	e := homeEnv()
	data, err := readBounded("../../testdata/homes/maple-63-two-zones.sheet.yaml", nil)
	if err != nil {
		b.Fatal(err)
	}
	if _, err := transcribe(e, "sheet", data, path, nil); err != nil {
		b.Fatal(err)
	}
	rec, err := disk.Load(path)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(len(rec.Events)), "events")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := sequence.Replay(rec.Header, rec.Events); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkResume2000 goes on with a record of 2,000 events, read from its
// file: a whole test, then readings corrected over and over, each of which makes
// what rests on it stale. Wanted: under 30 ms.
func BenchmarkResume2000(b *testing.B) {
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
	fastest := time.Hour
	for b.Loop() {
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
}
