package forecast

import (
	"math"
	"strings"

	"cazward/procedure/reading"
)

// Point of the curve of depressurization against tightness.
type Point struct {
	CFM50 reading.Flow
	Span
}

// Range of CFM50 that shows today, the target, the floor and what lies a
// little beyond them: what a drawing should cover.
func (f Forecast) Range() (lo, hi reading.Flow) {
	lo, hi = f.Design.Before, f.Design.Before
	if f.Design.After > 0 {
		lo = f.Design.After
	}
	for _, x := range []*reading.Flow{f.Floor, f.Stop} {
		// A floor far away would squeeze all else into a corner.
		if x != nil && *x > f.Design.Before/4 && *x < f.Design.Before*3 {
			lo, hi = min(lo, *x), max(hi, *x)
		}
	}
	return lo * 0.85, hi * 1.05
}

// Depth is the range of pressures that a drawing from the flow lo on should
// cover: today, the target and the limit always, of the bands what does not
// squeeze the rest against zero.
func (f Forecast) Depth(lo reading.Flow) (low, high reading.Pressure) {
	low, high = min(f.Today.Low, f.At(lo).Net), max(0, f.Today.High)
	must := f.Today.Net // whatever else falls off the drawing, the marks stay
	if f.After != nil {
		low, high = min(low, f.After.Low), max(high, f.After.High)
		must = min(must, f.After.Net)
	}
	if l := f.Design.Limit; l != nil {
		must = min(must, *l)
		low = max(min(low, *l*1.25), *l*4)
	}
	return min(low, must), high
}

// Curve gives n points, at least 2, from lo to hi, for a drawing.
func (f Forecast) Curve(lo, hi reading.Flow, n int) []Point {
	n = max(n, 2)
	out := make([]Point, n)
	for i := range out {
		q := lo + (hi-lo)*reading.Flow(i)/reading.Flow(n-1)
		out[i] = Point{q, f.At(q)}
	}
	return out
}

// Smallest drawing that can still be read, in characters.
const (
	minWidth, minHeight = 40, 8
	margin              = 8 // pressure labels at the left
)

// Draw draws depressurization against CFM50 in ASCII, no line wider than width
// columns (40 at least): lower pressure further down, tighter further left. T is today, A
// after sealing, F the floor; `*` the forecast, `.` its band, `-` the limit.
// Marks are drawn outwards: one that is beyond the limit is never drawn on or
// above its line, one that is inside never on or below.
func (f Forecast) Draw(width, height int) []string {
	width, height = max(width, minWidth), max(height, minHeight)
	cols := width - margin - 1
	lo, hi := f.Range()
	low, high := f.Depth(lo)
	deepest, highest := float64(low), float64(high)
	limit, hasLimit := 0.0, f.Design.Limit != nil
	if hasLimit {
		limit = float64(*f.Design.Limit)
	}
	rows := height - 1
	step := niceStep((highest - deepest) / float64(rows-1))
	top := step * math.Ceil(highest/step)
	limitRow := math.MinInt
	if hasLimit {
		limitRow = max(1, int(math.Round((top-limit)/step)))
	}
	row := func(p float64) int {
		r := int(math.Round((top - p) / step))
		if hasLimit {
			switch {
			case p < limit:
				r = max(r, limitRow+1)
			case p > limit:
				r = min(r, limitRow-1)
			default:
				r = limitRow
			}
		}
		return r
	}
	grid := make([][]byte, rows+1)
	for i := range grid {
		grid[i] = []byte(strings.Repeat(" ", cols))
	}
	put := func(x, r int, c byte) {
		if r < 0 {
			return
		}
		if r > rows { // below the drawing
			r, c = rows, 'v'
		}
		grid[r][x] = c
	}
	if hasLimit && limitRow <= rows {
		for x := range cols {
			grid[limitRow][x] = '-'
		}
	}
	at := func(q reading.Flow) int {
		return min(cols-1, max(0, int(math.Round(float64((q-lo)/(hi-lo))*float64(cols-1)))))
	}
	curve := f.Curve(lo, hi, cols)
	for x, p := range curve {
		for _, e := range []reading.Pressure{p.Low, p.High} {
			if r := row(float64(e)); r <= rows {
				put(x, r, '.')
			}
		}
	}
	for x, p := range curve {
		put(x, row(float64(p.Net)), '*')
	}
	if f.Floor != nil && *f.Floor >= lo && *f.Floor <= hi && limitRow <= rows {
		put(at(*f.Floor), limitRow, 'F')
	}
	mark := func(q reading.Flow, p reading.Pressure, c byte) {
		r := row(float64(p))
		if r > rows {
			r = rows
		}
		put(at(q), r, c)
	}
	mark(f.Design.Before, f.Today.Net, 'T')
	if f.After != nil {
		mark(f.Design.After, f.After.Net, 'A')
	}
	decimals := 1
	if twice := 20 * step; math.Abs(twice-math.Round(twice)) > 1e-9 {
		decimals = 2
	}
	labels := make([]string, rows+1)
	for i := 0; i <= rows; i += 2 {
		labels[i] = reading.Format(top-float64(i)*step, decimals)
	}
	if hasLimit && limitRow <= rows {
		labels[limitRow] = reading.Format(limit, decimals)
		if exact := reading.Format(limit, -1); len(exact) > len(labels[limitRow]) && len(exact) <= margin-2 {
			labels[limitRow] = exact
		}
	}
	out := []string{pad("Pa", margin-2)}
	for i, g := range grid {
		out = append(out, strings.TrimRight(pad(labels[i], margin-2)+" |"+string(g), " "))
	}
	axis := []byte(strings.Repeat("-", cols))
	under := []byte(strings.Repeat(" ", cols))
	for i := range 5 {
		q := lo + (hi-lo)*reading.Flow(i)/4
		x := at(q)
		axis[x] = '+'
		t := reading.Format(float64(q), 0)
		start := min(cols-len(t), max(0, x-len(t)/2))
		copy(under[start:], t)
	}
	out = append(out, strings.Repeat(" ", margin-1)+"+"+string(axis))
	return append(out, strings.TrimRight(pad("CFM50", margin-2)+"  "+string(under), " "))
}

// niceStep is the smallest round step of at least v.
func niceStep(v float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(math.Max(v, 0.01))))
	for _, m := range []float64{1, 2, 2.5, 5} {
		if m*unit >= v {
			return m * unit
		}
	}
	return 10 * unit
}

// pad sets s to the right of n columns.
func pad(s string, n int) string { return strings.Repeat(" ", max(0, n-len(s))) + s }
