package reading_test

import (
	"math"
	"testing"

	"cazward/procedure/reading"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// published compares one figure with its source and logs the line.
func published(t *testing.T, figure string, got, want, tol float64, source, evidence string) {
	t.Helper()
	t.Logf("published: figure=%q got=%.10g want=%.10g tolerance=%.3g source=%q evidence=%s", figure, got, want, tol, source, evidence)
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %g", figure, got, want, tol)
	}
}

func convert(t *testing.T, v float64, from, to reading.Unit) float64 {
	t.Helper()
	w, err := reading.Convert(v, from, to)
	if err != nil {
		t.Fatalf("Convert(%v, %s, %s): %v", v, from, to, err)
	}
	return w
}

// Listed values have seven digits, so half a unit of the seventh is allowed;
// exact ones are held to rounding of the float. A tolerance of 0.1 % would hide
// which water an inch of water column means.
func TestPublishedUnitFactors(t *testing.T) {
	const sp811 = "NIST SP 811 (2008), appendix B.8"
	for _, c := range []struct {
		v        float64
		from, to reading.Unit
		want     float64
		tol      float64
		source   string
		evidence string
	}{
		{1, "inH2O", "Pa", 249.0889, 5e-5, sp811, "seen-secondary"},
		{1, "inH2O", "Pa", 249.08891, 1e-10, "exact: 25.4 x 9.80665", "computed"},
		{1, "inH2O_39F", "Pa", 249.082, 1e-10, sp811, "seen-secondary"},
		{1, "inH2O_60F", "Pa", 248.84, 1e-10, sp811, "seen-secondary"},
		{1, "mmH2O", "Pa", 9.80665, 1e-12, sp811, "seen-secondary"},
		{1, "psf", "Pa", 47.88026, 5e-6, sp811, "seen-secondary"},
		{1, "psi", "Pa", 6894.757, 5e-4, sp811, "seen-secondary"},
		{1, "inHg", "Pa", 3386.389, 5e-4, sp811, "seen-secondary"},
		{1, "cfm", "m3/s", 4.719474e-4, 5e-11, sp811, "seen-secondary"},
		{1, "cfm", "m3/s", 4.719474432e-4, 1e-17, "exact: 0.3048^3/60", "computed"},
		{1, "Btu/h", "W", 0.2930711, 5e-8, sp811, "seen-secondary"},
		{1, "in2", "m2", 6.4516e-4, 1e-18, sp811, "seen-secondary"},
		{1, "ft3", "m3", 0.028316846592, 1e-16, sp811, "seen-secondary"},
		{1, "mph", "m/s", 0.44704, 1e-15, sp811, "seen-secondary"},
		{1, "ft", "m", 0.3048, 1e-16, sp811, "seen-secondary"},
		{50, "Pa", "inH2O", 0.2007315, 5e-8, "computed from the conventional inch of water", "computed"},
		{4, "Pa", "inH2O", 0.01605852, 5e-9, "computed from the conventional inch of water", "computed"},
		{0.02, "inH2O", "Pa", 4.981778, 5e-7, "computed from the conventional inch of water", "computed"},
		{15, "km/h", "mph", 9, 0.5, "Canadian depressurization test form, wind note: less than 15 km/h (9 mph)", "seen"},
		{75, "L/s", "cfm", 159, 0.5, "CAN/CGSB-51.71, simulated fireplace 75 L/s, about 159 cfm", "memory"},
		{59, "F", "K", 288.15, 1e-9, "US Standard Atmosphere 1976, sea level 59 F, 288.15 K", "memory"},
		{41.17, "F", "K", 278.244, 3e-3, "US Standard Atmosphere 1976 at 5000 ft, table restated", "seen-secondary"},
	} {
		published(t, reading.FormatUnit(c.v, c.from)+" in "+string(c.to), convert(t, c.v, c.from, c.to), c.want, c.tol, c.source, c.evidence)
	}
}

func TestPublishedAirFree(t *testing.T) {
	const formula = "CO x 20.9/(20.9 - O2)"
	for _, c := range []struct {
		co       reading.Concentration
		o2       reading.Percent
		want     float64
		tol      float64
		source   string
		evidence string
	}{
		{87, 5, 114, 0.005 * 114, "hvacrschool.com, air-free CO: worked example, ratio rounded to 1.31", "seen"},
		{87, 5, 114.358491, 1e-6, formula, "computed"},
		{100, 9, 175.630252, 1e-6, formula, "computed"},
		{30, 12, 70.449438, 1e-6, formula, "computed"},
		{25, 15, 88.559322, 1e-6, formula, "computed"},
		{200, 0, 200, 0, formula, "computed"},
		{100, 20, 2322.2222, 5e-5, formula, "computed"},
	} {
		got, err := reading.AirFree(c.co, c.o2)
		if err != nil {
			t.Errorf("AirFree(%v, %v): %v", c.co, c.o2, err)
			continue
		}
		published(t, "CO "+c.co.String()+" ppm at O2 "+c.o2.String()+" %", float64(got), c.want, c.tol, c.source, c.evidence)
	}
}

// sample is the statistics vector; its figures were computed outside this
// program and t(9, 97.5 %) confirmed with an independent library.
var sample = []float64{-1.2, -0.8, -1.5, -0.9, -1.1, -1.4, -0.7, -1.0, -1.3, -1.1}

func TestPublishedStatistics(t *testing.T) {
	const source = "ten readings, formulas of the sample mean and standard deviation"
	s, err := reading.Summarize(sample)
	if err != nil {
		t.Fatal(err)
	}
	se := reading.StandardError(s)
	t975 := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(s.N - 1)}.Quantile(0.975)
	published(t, "mean of ten readings", s.Mean, -1.1, 1e-12, source, "computed")
	published(t, "s of ten readings", s.S, 0.25819889, 5e-9, source, "computed")
	published(t, "s/sqrt(N) of ten readings", se, 0.08164966, 5e-9, source, "computed")
	published(t, "t(9, 97.5 %)", t975, 2.26215716, 5e-9, "gonum distuv.StudentsT", "computed")
	// The figure was cut, not rounded, at its last digit: 0.1847043589.
	published(t, "95 % half-width of ten readings", t975*se, 0.18470435, 1e-8, source, "computed")
	published(t, "effective N of 60 samples, r 0.5", reading.EffectiveN(60, 0.5), 20, 1e-12,
		"AR(1) factor sqrt((1+r)/(1-r)); need for it: Witt, Metrologia 44 (2007) 201", "computed")
	published(t, "AR(1) factor, r 0.5", math.Sqrt(60/reading.EffectiveN(60, 0.5)), 1.7320508, 5e-8,
		"AR(1) factor sqrt((1+r)/(1-r)); need for it: Witt, Metrologia 44 (2007) 201", "computed")
}

// The code tables of required volume round a half up, which the language's own
// formatting does not.
func TestPublishedRounding(t *testing.T) {
	const source = "furnace manuals reprinting NFPA 54 9.3.2.2, required volume at 0.40 ACH"
	for _, c := range []struct {
		v    float64
		want string
	}{
		{75 * 15 / 0.40, "2813"}, // 2812.5
		{125 * 15 / 0.40, "4688"},
		{45 * 21 / 0.60, "1575"},
	} {
		got := reading.Format(c.v, 0)
		t.Logf("published: figure=%q got=%s want=%s source=%q evidence=seen", "rounding of "+reading.Format(c.v, -1)+" ft3", got, c.want, source)
		if got != c.want {
			t.Errorf("Format(%v, 0) = %s, want %s", c.v, got, c.want)
		}
	}
}

// An independent library must give the same mean, scatter and, for the middle
// of a long series, much the same lag-1 coefficient.
func TestSummarizeAgainstGonum(t *testing.T) {
	series := make([]float64, 600) // a deterministic AR(1)-like wander around -2.5
	x, noise := 0.0, uint32(1)
	for i := range series {
		noise = noise*1664525 + 1013904223
		x = 0.7*x + float64(noise>>16)/65536 - 0.5
		series[i] = -2.5 + x
	}
	for name, v := range map[string][]float64{"vector": sample, "wander": series} {
		s, err := reading.Summarize(v)
		if err != nil {
			t.Fatal(err)
		}
		mean, std := stat.MeanStdDev(v, nil)
		if math.Abs(s.Mean-mean) > 1e-12 || math.Abs(s.S-std) > 1e-12 {
			t.Errorf("%s: mean %v s %v, gonum has %v %v", name, s.Mean, s.S, mean, std)
		}
	}
	s, _ := reading.Summarize(series)
	if r := stat.Correlation(series[1:], series[:len(series)-1], nil); math.Abs(s.Autocorrelation-r) > 0.01 || r < 0.5 {
		t.Errorf("autocorrelation %v, gonum's correlation of neighbours %v", s.Autocorrelation, r)
	}
	if want := 600 * (1 - s.Autocorrelation) / (1 + s.Autocorrelation); math.Abs(s.EffectiveN-want) > 1e-9 {
		t.Errorf("effective N %v, want %v", s.EffectiveN, want)
	}
}

// Series of all lengths: mean, scatter and, where neighbours do not go
// together, the standard error are those of the independent library.
func TestSummarizeSeriesAgainstGonum(t *testing.T) {
	noise := uint32(7)
	uncorrelated := 0
	for n := 2; n <= 120; n++ {
		series := make([]float64, n)
		for i := range series {
			noise = noise*1664525 + 1013904223
			series[i] = -30 + 60*float64(noise>>8)/(1<<24)
		}
		s, err := reading.Summarize(series)
		if err != nil {
			t.Fatal(err)
		}
		mean, std := stat.MeanStdDev(series, nil)
		if math.Abs(s.Mean-mean) > 1e-12*math.Max(1, math.Abs(mean)) || math.Abs(s.S-std) > 1e-12*std {
			t.Errorf("%d samples: mean %v s %v, gonum has %v %v", n, s.Mean, s.S, mean, std)
		}
		se := reading.StandardError(s)
		switch want := stat.StdErr(std, float64(n)); {
		case s.Autocorrelation <= 0:
			uncorrelated++
			if math.Abs(se-want) > 1e-12*want {
				t.Errorf("%d samples: standard error %v, gonum has %v", n, se, want)
			}
		case se < want:
			t.Errorf("%d samples that go together: standard error %v is below the %v of independent ones", n, se, want)
		}
	}
	if uncorrelated < 20 || uncorrelated > 100 {
		t.Errorf("%d of 119 series without correlation: one of the branches is hardly tested", uncorrelated)
	}
}
