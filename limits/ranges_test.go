package limits

import "testing"

// TestRangesOfParameters: the bounds within which a program may set a parameter
// of the plan, by figure, so that none moves unseen.
func TestRangesOfParameters(t *testing.T) {
	want := map[string][2]float64{
		"baseline-min-samples": {1, 1000}, "baseline-min-averaging": {0, 600}, "baseline-max-spread": {0.1, 20}, "wind-ceiling": {1, 60}, "baseline-max-drift": {0.1, 20},
		"fireplace-flow": {1, 2000}, "spillage-cold-after": {1, 1440}, "spillage-between": {0, 120}, "co-after": {0, 60}, "co-diluted-o2": {5, 20.9},
		"gauge-accuracy": {0.01, 5}, "gauge-accuracy-percent": {0.1, 20}, "gauge-scatter": {0.01, 5}, "gauge-resolution": {0.01, 5}, "pairs-minimum": {3, 50}, "coverage": {1, 4},
	}
	for name, p := range parameters {
		if w, figure := want[name]; p.min != w[0] || p.max != w[1] || figure && p.unit == "" {
			t.Errorf("%s: %+v, want %v", name, p, w)
		}
		delete(want, name)
	}
	for name := range want {
		t.Errorf("no parameter %s", name)
	}
}
