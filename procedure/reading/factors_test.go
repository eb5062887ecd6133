package reading_test

import (
	"math"
	"math/big"
	"testing"

	"cazward/procedure/reading"
)

// Every factor of the package against its definition, in rational arithmetic.
// An exact definition leaves no room but the rounding of the last digit of a
// float; .ci/units-check compares the same units with independent programs.
func TestPublishedExactFactors(t *testing.T) {
	const (
		sp811 = "NIST SP 811 (2008), B.8 and its exact definitions"
		inch  = "254/10000"
		foot  = "3048/10000"
		g     = "980665/100000"
		lb    = "45359237/100000000"
	)
	for _, c := range []struct {
		unit, to reading.Unit
		factors  []string // numerators
		over     []string // denominators
		source   string
		evidence string
	}{
		{"inH2O", "Pa", []string{"1000", g, inch}, nil, "conventional water of 1000 kg/m3, standard gravity", "seen-secondary"},
		{"mmH2O", "Pa", []string{g}, nil, "conventional water of 1000 kg/m3, standard gravity", "seen-secondary"},
		{"inH2O_39F", "Pa", []string{"249082/1000"}, nil, "NIST SP 811 (2008), B.8, as listed", "seen-secondary"},
		{"inH2O_60F", "Pa", []string{"24884/100"}, nil, "NIST SP 811 (2008), B.8, as listed", "seen-secondary"},
		{"psf", "Pa", []string{lb, g}, []string{foot, foot}, sp811, "seen-secondary"},
		{"psi", "Pa", []string{lb, g}, []string{inch, inch}, sp811, "seen-secondary"},
		{"inHg", "Pa", []string{"135951/10", g, inch}, nil, "conventional mercury of 13595.1 kg/m3", "seen-secondary"},
		{"cfm", "m3/s", []string{foot, foot, foot}, []string{"60"}, sp811, "seen-secondary"},
		{"L/s", "m3/s", []string{"1/1000"}, nil, "SI", "seen-secondary"},
		{"m3/h", "m3/s", []string{"1/3600"}, nil, "SI", "seen-secondary"},
		{"Btu/h", "W", []string{"105505585262/100000000"}, []string{"3600"}, "International Table Btu, 1055.05585262 J", "seen-secondary"},
		{"kW", "W", []string{"1000"}, nil, "SI", "seen-secondary"},
		{"mph", "m/s", []string{"5280", foot}, []string{"3600"}, sp811, "seen-secondary"},
		{"km/h", "m/s", []string{"1000/3600"}, nil, "SI", "seen-secondary"},
		{"ft3", "m3", []string{foot, foot, foot}, nil, sp811, "seen-secondary"},
		{"in2", "m2", []string{inch, inch}, nil, sp811, "seen-secondary"},
		{"cm2", "m2", []string{"1/10000"}, nil, "SI", "seen-secondary"},
		{"ft", "m", []string{foot}, nil, sp811, "seen-secondary"},
		{"min", "s", []string{"60"}, nil, "SI", "seen-secondary"},
	} {
		want := big.NewRat(1, 1)
		mul := func(list []string, div bool) {
			for _, s := range list {
				x, ok := new(big.Rat).SetString(s)
				if !ok {
					t.Fatalf("%q is no number", s)
				}
				if div {
					x.Inv(x)
				}
				want.Mul(want, x)
			}
		}
		mul(c.factors, false)
		mul(c.over, true)
		exact, _ := want.Float64()
		published(t, "1 "+string(c.unit)+" in "+string(c.to), convert(t, 1, c.unit, c.to), exact, 4e-16*exact, c.source, c.evidence)
		// And back, for a value with a sign.
		if back := convert(t, convert(t, -7.25, c.unit, c.to), c.to, c.unit); math.Abs(back+7.25) > 1e-14 {
			t.Errorf("-7.25 %s there and back is %.17g", c.unit, back)
		}
	}
	for _, c := range []struct{ f, c, k float64 }{{32, 0, 273.15}, {212, 100, 373.15}, {-40, -40, 233.15}, {-459.67, -273.15, 0}} {
		published(t, reading.Format(c.f, -1)+" F in C", convert(t, c.f, "F", "C"), c.c, 1e-12, "K = (F + 459.67)/1.8", "seen-secondary")
		published(t, reading.Format(c.f, -1)+" F in K", convert(t, c.f, "F", "K"), c.k, 1e-12, "K = (F + 459.67)/1.8", "seen-secondary")
	}
}
