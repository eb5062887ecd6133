package sequence_test

import (
	"testing"

	"cazward/procedure"
)

// TestGaugeClaims: the finest gauge that is believed, and the coarsest.
func TestGaugeClaims(t *testing.T) {
	const k = "arrive/gauge"
	for _, c := range []struct {
		resolution, pa, pct float64
		taken               bool
	}{
		{0, 0, 0, true}, {0.01, 0.05, 0.1, true}, {10, 5, 20, true}, {0.1, 0.5, 1, true},
		{0.0099, 0, 0, false}, {10.01, 0, 0, false}, {-0.1, 0, 0, false},
		{0, 0.0499, 0, false}, {0, -1, 0, false}, {0, 0, 0.0999, false}, {0, 0, -1, false},
		{0.1, 0.01, 1, false}, {0.001, 0.5, 1, false}, {0.1, 0.5, 0.01, false},
	} {
		w := begin(t)
		w.To(k)
		err := w.Try(k, &procedure.Answer{Instrument: &procedure.Instrument{ID: "gauge", Name: "G", Resolution: c.resolution, AccuracyPa: c.pa, AccuracyPct: c.pct}})
		if (err == nil) != c.taken {
			t.Errorf("%+v: %v", c, err)
		}
	}
}
