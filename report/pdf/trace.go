package pdf

import (
	"math"
	"sort"
	"strconv"

	"cazward/procedure/reading"
	"cazward/report"
)

// trace draws the pressure of a zone step by step: one step for each reading,
// with its spread, the baseline that the net rests on, the limits, and the
// worst case with its give-or-take as a grey band.
func (d *doc) trace(t report.Trace) {
	const height, left, right = 46.0, 11.0, 40.0
	d.need(height + 18)
	d.y += 2
	d.font("B", bodySize-0.6)
	for _, l := range d.wrap(d.r.Label("trace-title", t.Zone), d.w-2*margin) {
		d.put(margin, d.y, l)
		d.y += d.lead()
	}
	d.y += 1
	x0, x1, y0 := margin+left, d.w-margin-right, d.y
	lo, hi := 0.0, 0.0
	see := func(v float64) { lo, hi = math.Min(lo, v), math.Max(hi, v) }
	for _, p := range t.Points {
		see(p.Lo)
		see(p.Hi)
	}
	for _, l := range t.Limits {
		see(l.Pa)
	}
	if t.Baseline != nil {
		see(*t.Baseline)
	}
	if t.Worst != nil && t.U != nil {
		see(*t.Worst - *t.U)
		see(*t.Worst + *t.U)
	}
	if room := (hi - lo) * 0.06; room > 0 {
		lo, hi = lo-room, hi+room
	} else {
		lo, hi = lo-1, hi+1
	}
	y := func(v float64) float64 { return y0 + (hi-v)/(hi-lo)*height }
	f := d.f

	if t.Worst != nil && t.U != nil {
		f.SetFillColor(218, 218, 218)
		f.Rect(x0, y(*t.Worst+*t.U), x1-x0, y(*t.Worst-*t.U)-y(*t.Worst+*t.U), "F")
	}
	step := niceStep(hi - lo)
	digits := 0
	if step < 1 {
		digits = 1
	}
	d.font("", 6.6)
	for k := math.Ceil(lo / step); k*step <= hi; k++ {
		v := k * step
		f.SetDrawColor(190, 190, 190)
		f.SetLineWidth(0.1)
		f.Line(x0, y(v), x1, y(v))
		s := reading.Format(v, digits)
		d.put(x0-1.5-d.width(s), y(v)-d.lead()/2, s)
	}
	f.SetDrawColor(0, 0, 0)
	f.SetLineWidth(0.25)
	f.Rect(x0, y0, x1-x0, height, "D")

	slot := (x1 - x0) / float64(len(t.Points))
	labelled := x0 - 1.0
	for i, p := range t.Points {
		a := x0 + float64(i)*slot
		m := a + slot/2
		f.SetDrawColor(90, 90, 90)
		f.SetLineWidth(0.3)
		if p.Hi > p.Lo {
			f.Line(m, y(p.Hi), m, y(p.Lo))
		}
		f.SetDrawColor(0, 0, 0)
		f.SetLineWidth(0.55)
		f.Line(a, y(p.Mean), a+slot, y(p.Mean))
		if i > 0 {
			f.SetLineWidth(0.25)
			f.Line(a, y(t.Points[i-1].Mean), a, y(p.Mean))
		}
		if p.Worst {
			f.SetFillColor(0, 0, 0)
			f.Circle(m, y(p.Mean), 1, "F")
		}
		s := strconv.Itoa(p.N)
		if sx := m - d.width(s)/2; sx > labelled+1 && sx+d.width(s) < x1+2 {
			d.put(sx, y0+height+1, s)
			labelled = sx + d.width(s)
		}
	}

	// What each line is stands at its right end; names that would collide are
	// pushed apart and joined to their line.
	type mark struct {
		at   float64
		text string
		dash []float64
		wide float64
	}
	var marks []mark
	if t.Baseline != nil {
		marks = append(marks, mark{y(*t.Baseline), d.r.Label("trace-base") + " " + reading.Format(*t.Baseline, 1), []float64{0.6, 0.9}, 0.3})
	}
	for _, l := range t.Limits {
		marks = append(marks, mark{y(l.Pa), l.Label, []float64{3, 1.2}, 0.5})
	}
	if t.Worst != nil {
		marks = append(marks, mark{y(*t.Worst), d.r.Label("trace-worst"), nil, 0})
	}
	for _, m := range marks {
		if m.wide > 0 {
			f.SetLineWidth(m.wide)
			f.SetDashPattern(m.dash, 0)
			f.Line(x0, m.at, x1, m.at)
		}
	}
	f.SetDashPattern(nil, 0)
	sort.SliceStable(marks, func(i, k int) bool { return marks[i].at < marks[k].at })
	d.font("", 7)
	text := make([]float64, len(marks))
	for i, m := range marks {
		text[i] = m.at
		if i > 0 {
			text[i] = math.Max(text[i], text[i-1]+d.lead())
		}
	}
	for i := len(text) - 1; i >= 0; i-- { // and back up from the lower edge
		text[i] = math.Min(text[i], y0+height-float64(len(text)-1-i)*d.lead())
	}
	f.SetLineWidth(0.15)
	for i, m := range marks {
		f.Line(x1, m.at, x1+3, text[i])
		d.put(x1+4, text[i]-d.lead()/2, d.fit(m.text, right-5))
	}
	d.y = y0 + height + 6
}

// niceStep gives 4 to 9 grid lines.
func niceStep(span float64) float64 {
	s := math.Pow(10, math.Floor(math.Log10(span/4)))
	for _, m := range []float64{1, 2, 5} {
		if span/(s*m) <= 8 {
			return s * m
		}
	}
	return s * 10
}
