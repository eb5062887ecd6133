package procedure

import "math"

// sampleVariance is s^2/N of the mean of a reading, with the floor of
// resolution/sqrt(12) on s. One averaged value has no scatter of its own: it
// takes otherS, the scatter of the other state, else the scheme's default,
// with N = 1. A log window brings its standard error and effective N.
func sampleVariance(p PressureObs, otherS, resolution, defaultS float64) float64 {
	floor := resolution / math.Sqrt(12)
	if p.SE > 0 {
		n := math.Max(1, p.EffectiveN)
		return math.Max(p.SE*p.SE, floor*floor/n)
	}
	s, n := scatter(p.Values), float64(len(p.Values))
	if len(p.Values) < 2 {
		n = 1
		s = defaultS
		if otherS > 0 {
			s = otherS
		}
	}
	s = math.Max(s, floor)
	return s * s / n
}

// scatter is the sample standard deviation, 0 for fewer than two values.
func scatter(v []float64) float64 {
	if len(v) < 2 {
		return 0
	}
	m := MeanOf(v)
	ss := 0.0
	for _, x := range v {
		ss += (x - m) * (x - m)
	}
	return math.Sqrt(ss / float64(len(v)-1))
}

// MeanOf the values; NaN when there are none.
func MeanOf(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// accuracy of a gauge at a reading, pascals: its own where stated, else the
// larger of the scheme's figures.
func accuracy(u Uncertainties, g *Instrument, reading float64) float64 {
	pa, pct := u.AccuracyPa, u.AccuracyPct
	if g != nil && g.AccuracyPa > 0 {
		pa, pct = g.AccuracyPa, 0
	}
	if g != nil && g.AccuracyPct > 0 { // which says nothing of readings near zero
		pct = g.AccuracyPct
	}
	return math.Max(pa, math.Abs(reading)*pct/100)
}

func resolution(u Uncertainties, g *Instrument) float64 {
	if g != nil && g.Resolution > 0 {
		return g.Resolution
	}
	return u.Resolution
}

func coverage(u Uncertainties) float64 {
	if u.Coverage > 0 {
		return u.Coverage
	}
	return 2
}

// NetU is the give-or-take U of reading minus baseline, pascals (own rule):
// U = k*u, u^2 = s_r^2/N_r + s_b^2/N_b + 2*(a^2/3) + d^2/3, where a is the
// gauge's accuracy at the reading as a rectangular bound and d half the
// difference of two baselines (drift).
func NetU(r, b PressureObs, drift float64, g *Instrument, c Uncertainties) float64 {
	res := resolution(c, g)
	a := accuracy(c, g, MeanOf(r.Values))
	v := sampleVariance(r, scatter(b.Values), res, c.DefaultS) + sampleVariance(b, scatter(r.Values), res, c.DefaultS)
	v += 2*a*a/3 + drift*drift/3
	return coverage(c) * math.Sqrt(v)
}

// PairsNet is the net of repeated off/on pairs at one configuration with one
// gauge and its give-or-take. The offset of the gauge cancels, so the sample
// terms become the variance of the pair differences over their number, and the
// gauge term a percentage of the net and twice the resolution (own rule).
// false when there are too few pairs.
func PairsNet(p PairsObs, g *Instrument, c Uncertainties) (net, u float64, ok bool) {
	min := c.MinPairs
	if min < 3 {
		min = 3
	}
	if len(p.On) != len(p.Off) || len(p.On) < min {
		return 0, 0, false
	}
	d := make([]float64, len(p.On))
	for i := range d {
		d[i] = p.On[i] - p.Off[i]
	}
	net = MeanOf(d)
	res := resolution(c, g)
	s := math.Max(scatter(d), res/math.Sqrt(12))
	pct := c.AccuracyPct
	if g != nil && g.AccuracyPct > 0 {
		pct = g.AccuracyPct
	}
	if pct == 0 {
		pct = 1
	}
	a := pct / 100 * net
	return net, coverage(c) * math.Sqrt(s*s/float64(len(d))+a*a/3+res*res/6), true
}

// DraftU is the give-or-take of a draft: U = k*u, u^2 = s^2/N + a^2/3.
func DraftU(r PressureObs, g *Instrument, c Uncertainties) float64 {
	a := accuracy(c, g, MeanOf(r.Values))
	return coverage(c) * math.Sqrt(sampleVariance(r, 0, resolution(c, g), c.DefaultS)+a*a/3)
}
