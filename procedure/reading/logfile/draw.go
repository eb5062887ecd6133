package logfile

import (
	"math"
	"strings"
	"time"

	"cazward/procedure/reading"
)

// Series is a log or a part of it in at most maxBins bins of equal time: what
// a drawing needs, whatever the length of the log.
type Series struct {
	Unit     reading.Unit
	From, To time.Time
	bins     []bin
	start    int64
	width    int64
	median   float64
	far      float64 // 0: outliers are not marked
}

type bin struct {
	n        int
	sum      float64
	min, max float64
}

const maxBins = 1024

func (b *bin) take(v float64) {
	if b.n == 0 {
		b.min, b.max = v, v
	}
	b.n, b.sum = b.n+1, b.sum+v
	b.min, b.max = min(b.min, v), max(b.max, v)
}

func (b *bin) join(o bin) {
	if o.n == 0 {
		return
	}
	if b.n == 0 {
		*b = o
		return
	}
	b.n, b.sum = b.n+o.n, b.sum+o.sum
	b.min, b.max = min(b.min, o.min), max(b.max, o.max)
}

// bin puts a sample into its bin; bins double their width when the log outgrows
// them. What lies before the first sample goes into the first bin.
func (a *acc) bin(t int64, v float64) {
	if a.bins == nil {
		a.bins, a.width = make([]bin, maxBins), 50e6
	}
	i := max(0, t-a.t0) / a.width
	for i >= maxBins {
		for k := range maxBins / 2 {
			b := a.bins[2*k]
			b.join(a.bins[2*k+1])
			a.bins[k] = b
		}
		clear(a.bins[maxBins/2:])
		a.width *= 2
		i = max(0, t-a.t0) / a.width
	}
	a.bins[i].take(v)
}

func (a *acc) series(p *pass) Series {
	if a.n == 0 {
		return Series{Unit: p.f.Unit}
	}
	return Series{Unit: p.f.Unit, From: p.at(a.minT), To: p.at(a.maxT), bins: a.bins, start: a.t0, width: a.width}
}

const labels = 9 // columns for the scale

// Draw draws the series in ASCII, no line wider than width columns (40 at
// least), height rows of it (6 at least): `*` the mean of each column, `|` from
// its lowest to its highest sample, `o` an outlier. Columns without a sample
// stay blank, so a gap is a gap. With a window, its part of the time axis is
// marked `=`.
func (s Series) Draw(width, height int, w Window) []string {
	width, height = max(width, 40), max(height, 6)
	if len(s.bins) == 0 {
		return []string{"no samples"}
	}
	cols := width - labels - 1
	span := max(1, s.To.UnixNano()-s.start)
	at := func(t int64) int {
		return int(max(0, min(int64(cols-1), int64(float64(t-s.start)/float64(span)*float64(cols-1)+0.5))))
	}
	out := make([]bin, cols)
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, b := range s.bins {
		if b.n > 0 {
			// The bin's own middle, so that few bins do not all fall to the left.
			out[at(s.start+int64(i)*s.width+s.width/2)].join(b)
			lo, hi = min(lo, b.min), max(hi, b.max)
		}
	}
	step := niceStep((hi - lo) / float64(height-3))
	top := math.Ceil(hi/step/2-1e-9) * step * 2 // every second row is labelled: round figures there
	if lo == hi {
		top += step * float64(height/2)
	}
	row := func(v float64) int { return max(0, min(height-1, int(math.Round((top-v)/step)))) }
	grid := make([][]byte, height)
	for i := range grid {
		grid[i] = []byte(strings.Repeat(" ", cols))
	}
	for x, b := range out {
		if b.n == 0 {
			continue
		}
		for r := row(b.max); r <= row(b.min); r++ {
			grid[r][x] = '|'
		}
		if s.far > 0 {
			for _, v := range []float64{b.min, b.max} {
				if math.Abs(v-s.median) > s.far {
					grid[row(v)][x] = 'o'
				}
			}
		}
		grid[row(b.sum/float64(b.n))][x] = '*'
	}
	decimals := 0
	for scaled := step; decimals < 6 && math.Abs(scaled-math.Round(scaled)) > 1e-6; scaled *= 10 {
		decimals++
	}
	lines := []string{pad(string(s.Unit), labels-2)}
	for i, g := range grid {
		label := ""
		if i%2 == 0 {
			for d := decimals; d >= 0; d-- { // fewer where a large value leaves no room
				if label = reading.Format(top-float64(i)*step, d); len(label) <= labels-2 {
					break
				}
			}
		}
		lines = append(lines, strings.TrimRight(pad(label, labels-2)+" |"+string(g), " "))
	}
	axis := []byte(strings.Repeat("-", cols))
	if !w.From.IsZero() || !w.To.IsZero() {
		a, b := 0, cols-1
		if !w.From.IsZero() {
			a = at(w.From.UnixNano())
		}
		if !w.To.IsZero() {
			b = at(w.To.UnixNano())
		}
		for x := a; x <= b; x++ {
			axis[x] = '='
		}
	}
	form := "15:04:05"
	if s.To.Sub(s.From) >= 24*time.Hour {
		form = "Jan 2 15:04"
	}
	left, right := s.From.Format(form), s.To.Format(form)
	between := strings.Repeat(" ", max(1, cols-len(left)-len(right)))
	return append(lines, strings.Repeat(" ", labels-1)+"+"+string(axis), strings.Repeat(" ", labels)+left+between+right)
}

// niceStep is the smallest round step of at least v.
func niceStep(v float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(max(v, 1e-5))))
	for _, m := range []float64{1, 2, 2.5, 5} {
		if m*unit >= v {
			return m * unit
		}
	}
	return 10 * unit
}

func pad(s string, n int) string { return strings.Repeat(" ", max(0, n-len(s))) + s }
