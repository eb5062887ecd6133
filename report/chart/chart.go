// Package chart lays the drawings of a report out, once for all forms that
// can draw: [Trace], [Draft], [Bars], [Phases] and [Sealing] give a [Drawing] of plain
// shapes, which report/pdf puts on paper and report/html writes as SVG.
//
// Everything is black and grey, and shape, dash and words carry the meaning,
// never a shade.
package chart

import (
	"math"
	"sort"
	"strings"

	"cazward/procedure/reading"
	"cazward/report"
)

// Drawing is shapes on a sheet, millimetres, from the upper left.
type Drawing struct {
	Title, Desc string
	W, H        float64
	Shapes      []Shape
}

// Kind of a shape.
type Kind int

// The kinds.
const (
	Line Kind = iota + 1 // through all of At
	Area                 // the same, closed
	Rect                 // At: two corners
	Dot                  // At: its middle
	Text                 // At: top of the line, at the side that Anchor says
)

// Anchor is the side of a text that At names.
type Anchor int

// The anchors.
const (
	Left Anchor = iota
	Middle
	Right
)

// None is the Fill of a shape without one.
const None = -1

// Shape is one mark. Pen is the width of its line in millimetres, 0 for none;
// Ink and Fill are shades from 0, black, to 255, white.
type Shape struct {
	Kind   Kind
	At     []report.XY
	R      float64
	Pen    float64
	Dash   []float64
	Ink    int
	Fill   int
	Text   string
	Size   float64 // points
	Bold   bool
	Anchor Anchor
}

// Measure gives the width of a text in millimetres.
type Measure func(s string, points float64, bold bool) float64

// LineHeight of a text of that many points, millimetres.
func LineHeight(points float64) float64 { return points * 0.3528 * 1.27 }

// Sizes of type, points.
const (
	small = 6.6
	plain = 7.0
)

// mostRunes is more than any label has room for: what is far too long is cut
// to it before it is measured.
const mostRunes = 160

// sheet is a drawing being made.
type sheet struct {
	Drawing
	m Measure
}

func (s *sheet) line(pen float64, ink int, dash []float64, at ...report.XY) {
	s.Shapes = append(s.Shapes, Shape{Kind: Line, At: at, Pen: pen, Ink: ink, Dash: dash, Fill: None})
}

func (s *sheet) rect(x0, y0, x1, y1, pen float64, fill int) {
	s.Shapes = append(s.Shapes, Shape{Kind: Rect, At: []report.XY{{X: x0, Y: y0}, {X: x1, Y: y1}}, Pen: pen, Fill: fill})
}

func (s *sheet) dot(x, y, r, pen float64, fill int) {
	s.Shapes = append(s.Shapes, Shape{Kind: Dot, At: []report.XY{{X: x, Y: y}}, R: r, Pen: pen, Fill: fill})
}

func (s *sheet) text(x, y float64, a Anchor, size float64, t string) {
	if t != "" {
		s.Shapes = append(s.Shapes, Shape{Kind: Text, At: []report.XY{{X: x, Y: y}}, Text: t, Size: size, Anchor: a, Fill: None})
	}
}

// fit cuts a text to a width, with three points.
func (s *sheet) fit(t string, size, width float64) string {
	t = report.Clean(t)
	if len(t) < 4*mostRunes && s.m(t, size, false) <= width {
		return t
	}
	r := []rune(t)
	for r = r[:min(len(r), mostRunes)]; len(r) > 0 && s.m(string(r)+"...", size, false) > width; {
		r = r[:len(r)-1]
	}
	return string(r) + "..."
}

// name cuts a name to a width in its middle: names often differ in their end.
func (s *sheet) name(t string, size, width float64) string {
	t = report.Clean(t)
	if len(t) < 4*mostRunes && s.m(t, size, false) <= width {
		return t
	}
	r := []rune(t)
	head, tail := min(len(r)*3/5, mostRunes/2), min(len(r)*2/5, mostRunes/2)
	cut := func() string { return string(r[:head]) + "..." + string(r[len(r)-tail:]) }
	for head+tail > 0 && s.m(cut(), size, false) > width {
		if head > tail {
			head--
		} else {
			tail--
		}
	}
	return cut()
}

func xy(x, y float64) report.XY { return report.XY{X: x, Y: y} }

// apart moves heights that lie closer than step, within low and high.
func apart(at []float64, step, low, high float64) []float64 {
	order := make([]int, len(at))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, k int) bool { return at[order[i]] < at[order[k]] })
	out := make([]float64, len(at))
	for i, k := range order {
		out[k] = math.Max(at[k], low)
		if i > 0 {
			out[k] = math.Max(out[k], out[order[i-1]]+step)
		}
	}
	for i := len(order) - 1; i >= 0; i-- { // and back up from the lower edge
		out[order[i]] = math.Min(out[order[i]], high-float64(len(order)-1-i)*step)
	}
	return out
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

// span of a scale with room around it.
func span(lo, hi float64) (float64, float64) {
	if room := (hi - lo) * 0.06; room > 0 {
		return lo - room, hi + room
	}
	return lo - 1, hi + 1
}

func digits(step float64) int {
	if step < 1 {
		return max(1, int(math.Ceil(-math.Log10(step))))
	}
	return 0
}

// rows draws the grid of a scale that runs downwards from hi to lo.
func (s *sheet) rows(x0, x1, y0, height, lo, hi float64) func(float64) float64 {
	y := func(v float64) float64 { return y0 + (hi-v)/(hi-lo)*height }
	step := niceStep(hi - lo)
	for k := math.Ceil(lo / step); k*step <= hi; k++ {
		v := k * step
		s.line(0.1, 190, nil, xy(x0, y(v)), xy(x1, y(v)))
		s.text(x0-1.5, y(v)-LineHeight(small)/2, Right, small, reading.Format(v, digits(step)))
	}
	return y
}

// columns draws the grid of a scale that runs to the right.
func (s *sheet) columns(x0, x1, y0, y1, lo, hi float64, unit string) func(float64) float64 {
	x := func(v float64) float64 { return x0 + (v-lo)/(hi-lo)*(x1-x0) }
	step := niceStep(hi - lo)
	end := x0 - 2
	for k := math.Ceil(lo / step); k*step <= hi; k++ {
		v := k * step
		s.line(0.1, 190, nil, xy(x(v), y0), xy(x(v), y1))
		t := reading.Format(v, digits(step))
		if w := s.m(t, small, false); x(v)-w/2 > end+1 {
			s.text(x(v), y1+1, Middle, small, t)
			end = x(v) + w/2
		}
	}
	s.text(x1+2, y1+1, Left, small, unit)
	return x
}

// All are the drawings of a section in their order.
func All(r report.Report, s report.Section, width float64, m Measure) []Drawing {
	var out []Drawing
	for _, t := range s.Traces {
		out = append(out, Trace(r, t, width, m))
	}
	for _, c := range s.Drafts {
		out = append(out, Draft(r, c, width, m))
	}
	for _, c := range s.Bars {
		out = append(out, Bars(r, c, width, m))
	}
	for _, c := range s.Steps {
		out = append(out, Phases(r, c, width, m))
	}
	for _, c := range s.Sealing {
		out = append(out, Sealing(c, width, m))
	}
	return out
}

// Trace draws the pressure of a zone step by step: one step for each reading,
// with its spread, the baseline that the net rests on, the limits, and the
// worst case with its give-or-take as a grey band.
func Trace(r report.Report, t report.Trace, width float64, m Measure) Drawing {
	const height, left, right = 46.0, 11.0, 40.0
	s := &sheet{Drawing: Drawing{Title: r.Label("trace-title", t.Zone), Desc: r.Label("trace-desc"), W: width, H: height + 5}, m: m}
	x0, x1, y0 := left, width-right, 1.0
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
	lo, hi = span(lo, hi)
	if t.Worst != nil && t.U != nil {
		y := func(v float64) float64 { return y0 + (hi-v)/(hi-lo)*height }
		s.rect(x0, y(*t.Worst+*t.U), x1, y(*t.Worst-*t.U), 0, 218)
	}
	y := s.rows(x0, x1, y0, height, lo, hi)
	s.rect(x0, y0, x1, y0+height, 0.25, None)

	slot := (x1 - x0) / float64(max(1, len(t.Points)))
	labelled := x0 - 1.0
	for i, p := range t.Points {
		a := x0 + float64(i)*slot
		mid := a + slot/2
		if p.Hi > p.Lo {
			s.line(0.3, 90, nil, xy(mid, y(p.Hi)), xy(mid, y(p.Lo)))
		}
		s.line(0.55, 0, nil, xy(a, y(p.Mean)), xy(a+slot, y(p.Mean)))
		if i > 0 {
			s.line(0.25, 0, nil, xy(a, y(t.Points[i-1].Mean)), xy(a, y(p.Mean)))
		}
		if p.Worst {
			s.dot(mid, y(p.Mean), 1, 0, 0)
		}
		n := reading.Format(float64(p.N), 0)
		if w := m(n, small, false); mid-w/2 > labelled+1 && mid+w/2 < x1+2 {
			s.text(mid, y0+height+1, Middle, small, n)
			labelled = mid + w/2
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
		marks = append(marks, mark{y(*t.Baseline), r.Label("trace-base") + " " + reading.Format(*t.Baseline, 1), []float64{0.6, 0.9}, 0.3})
	}
	for _, l := range t.Limits {
		marks = append(marks, mark{y(l.Pa), l.Label, []float64{3, 1.2}, 0.5})
	}
	if t.Worst != nil {
		marks = append(marks, mark{y(*t.Worst), r.Label("trace-worst"), nil, 0})
	}
	at := make([]float64, len(marks))
	for i, k := range marks {
		at[i] = k.at
		if k.wide > 0 {
			s.line(k.wide, 0, k.dash, xy(x0, k.at), xy(x1, k.at))
		}
	}
	for i, h := range apart(at, LineHeight(plain), math.Inf(-1), y0+height) {
		s.line(0.15, 0, nil, xy(x1, marks[i].at), xy(x1+3, h))
		s.text(x1+4, h-LineHeight(plain)/2, Left, plain, s.fit(marks[i].text, plain, right-5))
	}
	return s.Drawing
}

// Draft draws drafts against the outdoor temperature. Drafts of one visit
// share their temperature, so marks stand beside each other around it.
func Draft(r report.Report, c report.DraftChart, width float64, m Measure) Drawing {
	const height, left, right = 50.0, 11.0, 62.0
	s := &sheet{Drawing: Drawing{Title: c.Title, Desc: c.Desc, W: width, H: height + 6}, m: m}
	x0, x1, y0 := left, width-right, 1.0
	lo, hi := 0.0, 0.0
	cold, warm := math.Inf(1), math.Inf(-1)
	for _, p := range c.Line {
		lo, hi = math.Min(lo, p.Y), math.Max(hi, p.Y)
		cold, warm = math.Min(cold, p.X), math.Max(warm, p.X)
	}
	for _, p := range c.Points {
		u := 0.0
		if p.U != nil {
			u = *p.U
		}
		lo, hi = math.Min(lo, p.Pa-u), math.Max(hi, p.Pa+u)
		if p.Limit != nil {
			lo, hi = math.Min(lo, *p.Limit), math.Max(hi, *p.Limit)
		}
		cold, warm = math.Min(cold, p.Temp), math.Max(warm, p.Temp)
	}
	lo, hi = span(lo, hi)
	cold, warm = span(cold, warm)
	y := s.rows(x0, x1, y0, height, lo, hi)
	x := s.columns(x0, x1, y0, y0+height, cold, warm, "°"+c.TempUnit)
	s.rect(x0, y0, x1, y0+height, 0.25, None)
	if len(c.Line) > 0 {
		at := []report.XY{xy(x0, y(c.Line[0].Y))}
		for _, p := range c.Line {
			at = append(at, xy(x(p.X), y(p.Y)))
		}
		at = append(at, xy(x1, y(c.Line[len(c.Line)-1].Y)))
		s.line(0.7, 0, nil, at...)
		s.text(x0+2, y0+1, Left, plain, r.Label("weaker"))
		s.text(x1-2, y0+height-LineHeight(plain)-0.6, Right, plain, r.Label("stronger"))
	}
	var heights []float64
	for _, p := range c.Points {
		heights = append(heights, y(p.Pa))
	}
	names := apart(heights, LineHeight(plain), y0+LineHeight(plain)/2, y0+height)
	const beside = 2.4
	for i, p := range c.Points {
		px := x(p.Temp) + (float64(i)-float64(len(c.Points)-1)/2)*beside
		px = math.Min(math.Max(px, x0+1.5), x1-1.5)
		s.line(0.1, 120, []float64{0.4, 0.6}, xy(px, y(p.Pa)), xy(x1, y(p.Pa)), xy(x1+3, names[i]))
		if p.U != nil && *p.U > 0 {
			s.line(0.35, 0, nil, xy(px, y(p.Pa-*p.U)), xy(px, y(p.Pa+*p.U)))
		}
		if p.Limit != nil {
			s.line(0.7, 0, nil, xy(px-1.1, y(*p.Limit)), xy(px+1.1, y(*p.Limit)))
		}
		fill := 0
		if p.Natural {
			fill = 255
		}
		s.dot(px, y(p.Pa), 1, 0.35, fill)
		words := reading.Format(p.Pa, 1) + " " + p.Name
		if p.Natural {
			words += ", " + r.Label("at-rest")
		}
		words += ": " + p.Verdict
		s.text(x1+4, names[i]-LineHeight(plain)/2, Left, plain, s.fit(words, plain, right-4))
	}
	return s.Drawing
}

// Geometry of drawings that have a row for each thing.
const (
	rowHeight = 6.0
	nameWidth = 44.0
	sayWidth  = 54.0
	topRoom   = 5.0
)

// Bars draws CO as bars.
func Bars(r report.Report, c report.BarChart, width float64, m Measure) Drawing {
	height := float64(len(c.Bars)) * rowHeight
	s := &sheet{Drawing: Drawing{Title: c.Title, Desc: c.Desc, W: width, H: height + topRoom + 5}, m: m}
	x0, x1, y0 := nameWidth, width-sayWidth, topRoom
	hi := 1.0
	for _, b := range c.Bars {
		if !b.Over { // what is over range runs off the picture anyway
			hi = math.Max(hi, b.Value)
		}
		if b.Limit != nil {
			hi = math.Max(hi, *b.Limit)
		}
	}
	for _, l := range c.Lines { // the next line above the highest bar belongs to the picture
		if l.Pa >= hi {
			hi = l.Pa
			break
		}
	}
	hi *= 1.06
	x := s.columns(x0, x1, y0, y0+height, 0, hi, c.Unit)
	for i, b := range c.Bars {
		top := y0 + float64(i)*rowHeight
		s.text(x0-2, top+1.6, Right, plain, s.name(b.Name, plain, nameWidth-3))
		say := reading.Format(b.Value, 0) + " " + c.Unit
		end := x(b.Value)
		if b.Over {
			end, say = x1, r.Label("over-range")
			s.Shapes = append(s.Shapes, Shape{Kind: Area, At: []report.XY{xy(x1, top+1.2), xy(x1+1.6, top+3), xy(x1, top+4.8)}, Pen: 0.2, Fill: 0})
		}
		s.rect(x0, top+1.2, math.Max(end, x0+0.2), top+4.8, 0.25, 200)
		if b.Limit != nil {
			s.line(1, 0, nil, xy(x(*b.Limit), top+0.4), xy(x(*b.Limit), top+5.6))
		}
		s.text(x1+3, top+1.6, Left, plain, s.fit(say+": "+b.Verdict, plain, sayWidth-3))
	}
	last := x0 - 10
	for _, l := range c.Lines {
		if l.Pa > hi {
			continue
		}
		s.line(0.5, 0, []float64{3, 1.2}, xy(x(l.Pa), y0-1), xy(x(l.Pa), y0+height))
		if w := m(l.Label, plain, false); x(l.Pa)-w/2 > last+1 {
			s.text(x(l.Pa), 0.6, Middle, plain, l.Label)
			last = x(l.Pa) + w/2
		}
	}
	s.line(0.25, 0, nil, xy(x0, y0), xy(x0, y0+height))
	return s.Drawing
}

// Phases draws a row for each thing, with a mark for each phase and an arrow
// to the latest.
func Phases(r report.Report, c report.PhaseChart, width float64, m Measure) Drawing {
	height := float64(len(c.Rows)) * rowHeight
	legend := float64(len(c.Phases))*LineHeight(plain) + 2
	s := &sheet{Drawing: Drawing{Title: c.Title, Desc: c.Desc, W: width, H: legend + height + 6}, m: m}
	x0, x1, y0 := nameWidth, width-sayWidth, legend
	for i, p := range c.Phases {
		at := float64(i) * LineHeight(plain)
		s.mark(i, len(c.Phases), x0+2, at+LineHeight(plain)/2)
		s.text(x0+5, at, Left, plain, s.fit(p, plain, width-x0-6))
	}
	lo, hi := 0.0, 0.0
	for _, row := range c.Rows {
		for _, v := range append(append([]*float64{}, row.Values...), row.Limit) {
			if v != nil {
				lo, hi = math.Min(lo, *v), math.Max(hi, *v)
			}
		}
	}
	lo, hi = span(lo, hi)
	x := s.columns(x0, x1, y0, y0+height, lo, hi, c.Unit)
	for i, row := range c.Rows {
		top := y0 + float64(i)*rowHeight
		mid := top + rowHeight/2
		if i > 0 {
			s.line(0.1, 190, nil, xy(x0, top), xy(x1, top))
		}
		s.text(x0-2, top+1.6, Right, plain, s.name(row.Name, plain, nameWidth-3))
		if row.Limit != nil {
			s.line(1, 0, nil, xy(x(*row.Limit), top+0.8), xy(x(*row.Limit), top+5.2))
		}
		var words []string
		first, last := math.NaN(), math.NaN()
		for k, v := range row.Values {
			if v == nil {
				words = append(words, "-")
				continue
			}
			decimals := 0
			if c.Unit == "Pa" {
				decimals = 1
			}
			said := reading.Format(*v, decimals)
			if row.Least[k] {
				said = ">" + said
			}
			words = append(words, said)
			if math.IsNaN(first) {
				first = *v
			}
			last = *v
		}
		if d := x(last) - x(first); math.Abs(d) > 4 {
			way := d / math.Abs(d)
			tip := x(last) - 1.3*way
			s.line(0.3, 0, nil, xy(x(first), mid), xy(tip, mid))
			s.Shapes = append(s.Shapes, Shape{Kind: Area, At: []report.XY{xy(tip, mid), xy(tip-1.8*way, mid-0.9), xy(tip-1.8*way, mid+0.9)}, Pen: 0.1, Fill: 0})
		}
		for k, v := range row.Values {
			if v != nil {
				s.mark(k, len(row.Values), x(*v), mid)
			}
		}
		say := strings.Join(words, " → ") + " " + c.Unit
		if row.Limit != nil {
			say += "; " + r.Label("limit-word") + " " + reading.Format(*row.Limit, -1)
		}
		s.text(x1+3, top+1.6, Left, plain, s.fit(say, plain, sayWidth-3))
	}
	s.rect(x0, y0, x1, y0+height, 0.25, None)
	return s.Drawing
}

// mark of a phase: an open ring for the earliest, an open box for one
// between, a filled dot for the latest. They differ in size, so that equal
// values still show.
func (s *sheet) mark(i, of int, x, y float64) {
	switch {
	case i == of-1:
		s.dot(x, y, 0.8, 0, 0)
	case i == 0:
		s.dot(x, y, 1.6, 0.4, 255)
	default:
		s.rect(x-1.2, y-1.2, x+1.2, y+1.2, 0.4, 255)
	}
}

// Sealing draws the net of a zone against the tightness of the house: the
// curve with its band, the limit, today and the plan, and upright where the
// band and the figure reach the limit.
func Sealing(c report.SealingChart, width float64, m Measure) Drawing {
	const height, left, right = 56.0, 13.0, 52.0
	top := 2*LineHeight(plain) + 1
	s := &sheet{Drawing: Drawing{Title: c.Title, Desc: c.Desc, W: width, H: top + height + 6}, m: m}
	x0, x1, y0 := left, width-right, top
	lo, hi := span(c.Low, c.High)
	from, to := math.Inf(1), math.Inf(-1)
	for _, p := range append(append([]report.BandMark{}, c.Curve...), c.Marks...) {
		from, to = math.Min(from, p.Flow), math.Max(to, p.Flow)
	}
	if !(from < to) {
		from, to = 0, 1
	}
	flat := func(v float64) float64 { return y0 + (hi-math.Min(hi, math.Max(lo, v)))/(hi-lo)*height }
	across := func(v float64) float64 { return x0 + (v-from)/(to-from)*(x1-x0) }
	var band []report.XY
	for _, p := range c.Curve {
		band = append(band, xy(across(p.Flow), flat(p.Top)))
	}
	for i := len(c.Curve) - 1; i >= 0; i-- {
		band = append(band, xy(across(c.Curve[i].Flow), flat(c.Curve[i].Low)))
	}
	if len(band) > 0 {
		s.Shapes = append(s.Shapes, Shape{Kind: Area, At: band, Fill: 222})
	}
	y := s.rows(x0, x1, y0, height, lo, hi)
	x := s.columns(x0, x1, y0, y0+height, from, to, c.Unit)
	s.rect(x0, y0, x1, y0+height, 0.25, None)

	var line []report.XY
	for i, p := range c.Curve {
		switch inside := p.Pa >= lo && p.Pa <= hi; {
		case inside && len(line) == 0 && i > 0 && p.Pa != c.Curve[i-1].Pa: // comes in from beyond
			before := c.Curve[i-1]
			edge := math.Min(hi, math.Max(lo, before.Pa))
			k := (edge - before.Pa) / (p.Pa - before.Pa)
			line = append(line, xy(x(before.Flow+k*(p.Flow-before.Flow)), y(edge)))
			fallthrough
		case inside:
			line = append(line, xy(x(p.Flow), y(p.Pa)))
		}
	}
	if len(line) > 1 {
		s.line(0.7, 0, nil, line...)
	}
	for i, p := range []*report.BandMark{c.Stop, c.Floor} {
		if p == nil {
			continue
		}
		at := x(p.Flow)
		row := float64(i) * LineHeight(plain)
		s.line(0.35, 0, []float64{0.4, 0.8}, xy(at, row+LineHeight(plain)), xy(at, y0+height))
		half := m(p.Label, plain, false) / 2
		s.text(math.Min(math.Max(at, half+0.5), width-half-0.5), row, Middle, plain, p.Label)
	}

	type name struct {
		px, py float64
		text   string
	}
	var names []name
	if c.Limit != nil {
		s.line(0.5, 0, []float64{3, 1.2}, xy(x0, y(*c.Limit)), xy(x1, y(*c.Limit)))
		names = append(names, name{x1, y(*c.Limit), c.LimitLabel})
	}
	for i, p := range c.Marks {
		px, py := x(p.Flow), y(p.Pa)
		s.line(0.35, 0, nil, xy(px, flat(p.Low)), xy(px, flat(p.Top)))
		if i == 0 {
			s.dot(px, py, 1.1, 0, 0)
		} else {
			s.rect(px-1.1, py-1.1, px+1.1, py+1.1, 0.5, 255)
		}
		names = append(names, name{px, py, reading.Format(p.Pa, 1) + " " + p.Label})
	}
	at := make([]float64, len(names))
	for i, k := range names {
		at[i] = k.py
	}
	for i, h := range apart(at, LineHeight(plain), y0+LineHeight(plain)/2, y0+height) {
		if names[i].px < x1 {
			s.line(0.1, 120, []float64{0.4, 0.6}, xy(names[i].px, names[i].py), xy(x1, names[i].py))
		}
		s.line(0.15, 0, nil, xy(x1, names[i].py), xy(x1+3, h))
		s.text(x1+4, h-LineHeight(plain)/2, Left, plain, s.fit(names[i].text, plain, right-5))
	}
	return s.Drawing
}
