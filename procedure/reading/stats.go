package reading

import "math"

// Stats condenses repeated samples of one quantity; all but N, EffectiveN and
// Autocorrelation carry the unit of the samples.
type Stats struct {
	N      int
	Mean   float64
	S      float64 // sample standard deviation, divisor N-1; 0 when N = 1, where it means unknown, not exact
	Spread float64 // Max - Min
	Min    float64
	Max    float64
	// EffectiveN is the number of independent samples that would tell as much
	// about the mean, N(1-r)/(1+r) for first-order autocorrelation; between 1
	// and N, because a negative r is not let claim more than was measured (own
	// rule).
	EffectiveN      float64
	Autocorrelation float64 // lag-1 coefficient r; 0 when N < 3 or the samples do not vary
}

// Summarize condenses samples taken one after another. It refuses none
// ([CodeEmpty]) and values that are not finite ([CodeNotANumber]) or so large
// that their squares overflow ([CodeOutOfRange]).
//
// Source of the effective number: AR(1) model; correlated samples need it,
// T. J. Witt, Metrologia 44 (2007) 201.
func Summarize(samples []float64) (Stats, error) {
	if len(samples) == 0 {
		return Stats{}, refuse(CodeEmpty, "", "")
	}
	s := Stats{N: len(samples), Min: samples[0], Max: samples[0]}
	// Deviations are taken from the first sample before they are averaged, so
	// that equal samples give exactly that mean and no scatter.
	sum := 0.0
	for _, v := range samples {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Stats{}, refuse(CodeNotANumber, Format(v, -1), "")
		}
		s.Min, s.Max = min(s.Min, v), max(s.Max, v)
		sum += v - samples[0]
	}
	n := float64(s.N)
	s.Mean = samples[0] + sum/n
	s.Spread = s.Max - s.Min
	squares, lagged := 0.0, 0.0
	for i, v := range samples {
		squares += (v - s.Mean) * (v - s.Mean)
		if i > 0 {
			lagged += (v - s.Mean) * (samples[i-1] - s.Mean)
		}
	}
	if math.IsInf(squares, 0) || math.IsNaN(squares) || math.IsInf(s.Spread, 0) {
		return Stats{}, refuse(CodeOutOfRange, Format(s.Max, -1), "")
	}
	if s.N > 1 {
		s.S = math.Sqrt(squares / (n - 1))
	}
	if s.N > 2 && squares > 0 {
		s.Autocorrelation = lagged / squares
	}
	s.EffectiveN = EffectiveN(s.N, s.Autocorrelation)
	return s, nil
}

// EffectiveN is the number of independent samples worth n samples of lag-1
// autocorrelation r; see [Stats].
func EffectiveN(n int, r float64) float64 {
	if n < 1 {
		return 0
	}
	if !(r > 0) {
		return float64(n)
	}
	return max(1, float64(n)*(1-r)/(1+r))
}

// StandardError is the standard uncertainty of the mean from scatter alone,
// S/sqrt(EffectiveN), in the unit of the samples; 0 for a single sample, where
// it is unknown. A rule that treats hand-typed samples as independent takes S
// and N instead.
func StandardError(s Stats) float64 {
	if s.EffectiveN <= 0 {
		return 0
	}
	return s.S / math.Sqrt(s.EffectiveN)
}
