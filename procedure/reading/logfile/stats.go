package logfile

import (
	"math"

	"cazward/procedure/reading"
)

// acc gathers, sample by sample, all that the statistics of a series need.
// Values are taken from the first one and times from the first one, in
// seconds, so that the sums keep their digits.
type acc struct {
	n          int
	t0         int64
	v0         float64
	lastT      float64
	lastD      float64
	minT, maxT int64
	lo, hi     sample

	d, dd, t, tt, td    float64 // sums over all
	ddLag, tdLag, dtLag float64 // d_i d_i-1, t_i d_i-1, d_i t_i-1
	ttLag               float64 // t_i t_i-1
	bins                []bin
	width               int64 // ns of a bin
}

type sample struct {
	v    float64
	t    int64
	line int
}

func (a *acc) add(t int64, v float64, line int) {
	if a.n == 0 {
		a.t0, a.v0, a.minT, a.maxT = t, v, t, t
		a.lo, a.hi = sample{v, t, line}, sample{v, t, line}
	}
	d, s := v-a.v0, float64(t-a.t0)/1e9
	if a.n > 0 {
		a.ddLag += d * a.lastD
		a.tdLag += s * a.lastD
		a.dtLag += d * a.lastT
		a.ttLag += s * a.lastT
	}
	a.n++
	a.d, a.dd, a.t, a.tt, a.td = a.d+d, a.dd+d*d, a.t+s, a.tt+s*s, a.td+s*d
	a.lastD, a.lastT = d, s
	a.minT, a.maxT = min(a.minT, t), max(a.maxT, t)
	if v < a.lo.v {
		a.lo = sample{v, t, line}
	}
	if v > a.hi.v {
		a.hi = sample{v, t, line}
	}
	a.bin(t, v)
}

// lag1 is the lag-1 autocorrelation of what the line c + b s leaves of the
// values.
func (a *acc) lag1(c, b float64) float64 {
	n := float64(a.n)
	// Sums of e_i = d_i - c - b s_i over all, and of e_i e_i-1 over neighbours.
	ee := a.dd + n*c*c + b*b*a.tt - 2*c*a.d - 2*b*a.td + 2*b*c*a.t
	head, tail := a.d-a.lastD, a.d // d_i-1 and d_i over neighbours; the first is 0
	headT, tailT := a.t-a.lastT, a.t
	lag := a.ddLag - c*(head+tail) - b*(a.tdLag+a.dtLag) + b*c*(headT+tailT) + (n-1)*c*c + b*b*a.ttLag
	if !(ee > 0) {
		return 0
	}
	return max(-1, min(1, lag/ee))
}

func (a *acc) stats(p *pass) Stats {
	n := float64(a.n)
	mean := a.d / n
	s := Stats{From: p.at(a.minT), To: p.at(a.maxT), Lowest: p.extreme(a.lo), Highest: p.extreme(a.hi)}
	s.N, s.Min, s.Max, s.Spread = a.n, a.lo.v, a.hi.v, a.hi.v-a.lo.v
	s.Mean = max(s.Min, min(s.Max, a.v0+mean))
	squares := max(0, a.dd-n*mean*mean)
	if a.n > 1 && s.Spread > 0 {
		s.S = math.Sqrt(squares / (n - 1))
	}
	if a.n > 2 && s.Spread > 0 {
		s.Autocorrelation = a.lag1(mean, 0)
	}
	s.EffectiveN = reading.EffectiveN(s.N, s.Autocorrelation)
	s.SE = reading.StandardError(s.Stats)
	sxx := a.tt - a.t*a.t/n
	if a.n > 2 && sxx > 0 && s.Spread > 0 {
		length := float64(a.maxT-a.minT) / 1e9
		b := (a.td - a.t*a.d/n) / sxx
		c := mean - b*a.t/n
		left := max(0, squares-b*b*sxx) / (n - 2)
		worth := reading.EffectiveN(s.N, a.lag1(c, b))
		s.Change, s.ChangeSE = b*length, math.Sqrt(left/sxx*n/worth)*length
	}
	return s
}

func (p *pass) extreme(x sample) Extreme { return Extreme{x.v, p.at(x.t), x.line} }

// histogram counts values in pascals in steps of 0.05, which is finer than
// gauges read, so that a median needs no memory of single values.
type histogram struct {
	count [2*half + 1]uint32
	n     int
	mid   float64
	mad   float64
	done  bool
}

const (
	binPa = 0.05
	half  = 2000 // to either side of 0: 100 Pa
)

func (h *histogram) add(pa float64) {
	i := half + int(math.Round(max(-100, min(100, pa))/binPa))
	h.count[i]++
	h.n++
}

// spread finds the median and the median of the deviations from it.
func (h *histogram) spread() {
	if h.done || h.n == 0 {
		return
	}
	h.done = true
	at, seen := 0, 0
	for i, c := range h.count {
		if seen += int(c); 2*seen >= h.n {
			at = i
			break
		}
	}
	h.mid = float64(at-half) * binPa
	seen = int(h.count[at])
	for k := 1; 2*seen < h.n && k <= 2*half; k++ {
		if at-k >= 0 {
			seen += int(h.count[at-k])
		}
		if at+k <= 2*half {
			seen += int(h.count[at+k])
		}
		h.mad = float64(k) * binPa
	}
}

// far is how far from the median a value is an outlier, Pa (own rule): five
// scaled median deviations, which a bell-shaped scatter passes once in two
// million samples, and never under 0.5 Pa.
func (h *histogram) far() float64 {
	h.spread()
	return max(0.5, 5*1.4826*h.mad)
}

func (h *histogram) outliers() (median float64, n int) {
	far := h.far()
	for i, c := range h.count {
		if math.Abs(float64(i-half)*binPa-h.mid) > far+binPa/2 {
			n += int(c)
		}
	}
	return h.mid, n
}
