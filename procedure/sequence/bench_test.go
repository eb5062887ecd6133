package sequence_test

import (
	"testing"

	"cazward/procedure/sequence"
)

// BenchmarkReplay is a resume: a whole record, event by event.
func BenchmarkReplay(b *testing.B) {
	w := rich(b)
	w.To("")
	b.ReportMetric(float64(len(w.Events)), "events")
	b.ResetTimer()
	for b.Loop() {
		if _, err := sequence.Replay(w.Header, w.Events); err != nil {
			b.Fatal(err)
		}
	}
}
