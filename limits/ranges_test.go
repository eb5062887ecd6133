package limits

import (
	"slices"
	"strings"
	"testing"

	"cazward/procedure"
)

// TestRangesOfParameters: the bounds within which a program may set a parameter
// of the plan, by figure, so that none moves unseen.
func TestRangesOfParameters(t *testing.T) {
	want := map[string][2]float64{
		"baseline-min-samples": {1, 1000}, "baseline-min-averaging": {0, 600}, "baseline-max-spread": {0.1, 20}, "wind-ceiling": {1, 60}, "baseline-max-drift": {0.1, 20},
		"fireplace-flow": {1, 2000}, "spillage-cold-after": {1, 1440}, "spillage-between": {0, 120}, "co-after": {0, 60}, "co-diluted-o2": {5, 20.9},
		"gauge-accuracy": {0.01, 5}, "gauge-accuracy-percent": {0.1, 20}, "gauge-scatter": {0.01, 5}, "gauge-resolution": {0.01, 5}, "pairs-minimum": {3, 50}, "coverage": {1, 4}, "more-readings": {0, 4},
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

// TestNothingToReverse: house pressure reverses no vent where there is none,
// and each reason is one by itself.
func TestNothingToReverse(t *testing.T) {
	ap := func(k procedure.ApplianceKind, v procedure.VentType) procedure.Appliance {
		return procedure.Appliance{ID: "a", Kind: k, Burner: procedure.Burner{Fuel: procedure.NaturalGas}, Vent: procedure.Vent{Type: v}, Facts: procedure.VentFacts{InsideBoundary: procedure.Yes, Shares: procedure.No}}
	}
	s := mustLoad(t, "graded-2005")
	for _, c := range []struct {
		a      procedure.Appliance
		judged bool
	}{
		{ap(procedure.WaterHeater, procedure.NaturalVent), true}, {ap(procedure.WaterHeater, procedure.Unvented), false}, {ap(procedure.Range, procedure.NaturalVent), false},
		{ap(procedure.GasDryer, procedure.NaturalVent), false}, {ap(procedure.UnventedHeater, procedure.NaturalVent), false},
	} {
		for _, e := range s.Explain(procedure.Observations{Appliances: []procedure.Appliance{c.a}}) {
			if e.Rule == "depressurization" && (e.Outcome == "not-judged") == c.judged {
				t.Errorf("%s, %s vent: %s, %s", c.a.Kind, c.a.Vent.Type, e.Outcome, e.Why)
			}
		}
	}
}

// TestEqualFigures: figures are equal but for what a conversion leaves, as a
// share of a large one.
func TestEqualFigures(t *testing.T) {
	for _, c := range []struct {
		a, b float64
		want bool
	}{{60, 60, true}, {60, 60.001, false}, {500000, 500000.0001, true}, {500000, 500001, false}, {0, 1e-10, true}, {0, 1e-6, false}, {-5, 5, false}} {
		if equal(c.a, c.b) != c.want || equal(c.b, c.a) != c.want {
			t.Errorf("%v and %v: equal %v", c.a, c.b, !c.want)
		}
	}
}

// TestNoOverlay: a scheme given as an overlay is refused as what it is.
func TestNoOverlay(t *testing.T) {
	b, err := shipped.ReadFile("schemes/spillage-2017.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if _, err = Load(Options{Overlays: []Source{{"s.yaml", b}}}); err == nil || !strings.Contains(err.Error(), "a file of kind scheme is no overlay") {
		t.Errorf("%v", err)
	}
}

// TestDraftLineRows: a line without vents, and which of its points is wrong.
func TestDraftLineRows(t *testing.T) {
	src := "    source:\n      title: x\n    evidence: own-rule\n"
	for _, c := range []struct{ row, say string }{
		{"    line:\n      - temp_f: 10\n        pa: -2.5\n", "no vents"},
		{"    list:\n      - natural\n    line:\n      - temp_f: 10\n        pa: -2.5\n      - temp_f: 90\n        pa: 3\n", "point 2 is not a temperature and a draft"},
		{"    list:\n      - natural\n    line:\n      - temp_f: 10\n        pa: 2.5\n      - temp_f: 90\n        pa: -0.5\n", "point 1 is not a temperature and a draft"},
		{"    list:\n      - natural\n    line:\n      - temp_f: 90\n        pa: -0.5\n      - temp_f: 10\n        pa: -2.5\n", "point 2 is not warmer than the one before"},
	} {
		found := false
		p := Check("o.yaml", []byte(head+"  - id: draft-line\n    topic: draft-line\n"+c.row+src))
		for _, x := range p {
			found = found || strings.Contains(x.Text, c.say)
		}
		if !found {
			t.Errorf("%q is not said: %v", c.say, p)
		}
	}
}

func TestOnes(t *testing.T) {
	for set, want := range map[uint32][]uint32{0: nil, 1: {1}, 0b1011: {1, 2, 8}, 1<<31 | 4: {4, 1 << 31}} {
		if got := ones(set); !slices.Equal(got, want) {
			t.Errorf("the bits of %b are %b, want %b", set, got, want)
		}
	}
}
