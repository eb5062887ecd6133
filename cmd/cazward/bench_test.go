package main

import (
	"path/filepath"
	"testing"

	"cazward/procedure/journal/disk"
	"cazward/procedure/sequence"
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
