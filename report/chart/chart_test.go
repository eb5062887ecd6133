package chart_test

import (
	"math"
	"strings"
	"testing"

	"cazward/report"
	"cazward/report/chart"
	"cazward/report/reporttest"
)

func measure(s string, points float64, _ bool) float64 {
	return float64(len([]rune(s))) * points * 0.3528 * 0.5
}

// drawings of all reports by name, and of charts without anything in them.
func drawings() map[string][]chart.Drawing {
	out := map[string][]chart.Drawing{}
	for _, c := range reporttest.All() {
		r := report.Build(c.In)
		for _, s := range r.Sections {
			out[c.Name+" "+s.ID] = chart.All(r, s, 180, measure)
		}
	}
	v := math.MaxFloat64 / 1e10
	out["none"] = chart.All(report.Report{}, report.Section{Traces: []report.Trace{{}}, Drafts: []report.DraftChart{{}}, Bars: []report.BarChart{{}}, Steps: []report.PhaseChart{{}}}, 180, measure)
	out["one"] = chart.All(report.Report{}, report.Section{Traces: []report.Trace{{Points: []report.Point{{}}}}, Drafts: []report.DraftChart{{Points: []report.DraftMark{{}}}}, Bars: []report.BarChart{{Bars: []report.Bar{{}}}},
		Steps: []report.PhaseChart{{Phases: []string{"a", "b"}, Rows: []report.PhaseRow{{Values: []*float64{nil, nil}, Least: make([]bool, 2)}}}}}, 180, measure)
	out["vast"] = chart.All(report.Report{}, report.Section{Bars: []report.BarChart{{Bars: []report.Bar{{Value: v, Limit: &v}}}}, Traces: []report.Trace{{Points: []report.Point{{Mean: -v, Lo: -v, Hi: v}}}}}, 180, measure)
	return out
}

// Every mark lies on its sheet, has a place, and is black or grey.
func TestOnTheSheet(t *testing.T) {
	n := 0
	for name, list := range drawings() {
		for _, d := range list {
			n++
			if d.W != 180 || d.H <= 0 || d.H > 150 {
				t.Errorf("%s, %s: %v x %v mm", name, d.Title, d.W, d.H)
			}
			for _, s := range d.Shapes {
				for _, p := range s.At {
					if math.IsNaN(p.X) || math.IsNaN(p.Y) || p.X < -0.01 || p.X > d.W+0.01 || p.Y < -2.2 || p.Y > d.H+0.01 {
						t.Errorf("%s, %s: %+v lies outside %v x %v", name, d.Title, s, d.W, d.H)
					}
				}
				if s.Ink < 0 || s.Ink > 255 || s.Fill < chart.None || s.Fill > 255 || len(s.At) == 0 {
					t.Errorf("%s: %+v", name, s)
				}
				w := measure(s.Text, s.Size, s.Bold)
				left := s.At[0].X
				switch s.Anchor {
				case chart.Middle:
					left -= w / 2
				case chart.Right:
					left -= w
				}
				if s.Kind == chart.Text && name != "vast" && (left < -0.5 || left+w > d.W+0.5) {
					t.Errorf("%s, %s: text %q from %v to %v", name, d.Title, s.Text, left, left+w)
				}
			}
		}
	}
	if n < 15 {
		t.Errorf("%d drawings looked at", n)
	}
}

// No two texts of a drawing lie on one another.
func TestTextsApart(t *testing.T) {
	type box struct {
		x0, x1, y0, y1 float64
		text           string
	}
	for name, list := range drawings() {
		if name == "vast" {
			continue
		}
		for _, d := range list {
			var seen []box
			for _, s := range d.Shapes {
				if s.Kind != chart.Text {
					continue
				}
				w := measure(s.Text, s.Size, s.Bold)
				b := box{s.At[0].X, s.At[0].X + w, s.At[0].Y, s.At[0].Y + chart.LineHeight(s.Size), s.Text}
				switch s.Anchor {
				case chart.Middle:
					b.x0, b.x1 = b.x0-w/2, b.x1-w/2
				case chart.Right:
					b.x0, b.x1 = b.x0-w, b.x1-w
				}
				for _, o := range seen {
					if min(b.x1, o.x1)-max(b.x0, o.x0) > 0.3 && min(b.y1, o.y1)-max(b.y0, o.y0) > 0.5 {
						t.Errorf("%s, %s: %q lies on %q", name, d.Title, b.text, o.text)
					}
				}
				seen = append(seen, b)
			}
		}
	}
}

// one finds the shapes of a kind that a test asks for.
func shapes(d chart.Drawing, keep func(chart.Shape) bool) []chart.Shape {
	var out []chart.Shape
	for _, s := range d.Shapes {
		if keep(s) {
			out = append(out, s)
		}
	}
	return out
}

// The worst case, its band and the limit stand where their values are: the
// zero line and the baseline give the scale.
func TestTraceScale(t *testing.T) {
	base, worst, u := -1.0, -3.5, 0.5
	d := chart.Trace(report.Report{}, report.Trace{Zone: "z", Baseline: &base, Worst: &worst, U: &u, Limits: []report.Level{{Pa: -4, Label: "limit"}},
		Points: []report.Point{{N: 1, Mean: -1, Lo: -1, Hi: -1, Baseline: true}, {N: 2, Mean: -3.5, Lo: -3.6, Hi: -3.4, Worst: true}}}, 180, measure)
	dashed := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Line && len(s.Dash) > 0 })
	dots := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Dot })
	band := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Rect && s.Fill > 0 })
	if len(dashed) != 2 || len(dots) != 1 || len(band) != 1 {
		t.Fatalf("%d dashed lines, %d dots, %d bands", len(dashed), len(dots), len(band))
	}
	perPa := (dashed[1].At[0].Y - dashed[0].At[0].Y) / 3 // from -1 to -4
	at := func(v float64) float64 { return dashed[0].At[0].Y + (-1-v)*perPa }
	for _, c := range []struct{ got, want float64 }{{dots[0].At[0].Y, at(-3.5)}, {band[0].At[0].Y, at(-3)}, {band[0].At[1].Y, at(-4)}} {
		if math.Abs(c.got-c.want) > 1e-9 {
			t.Errorf("at %v mm, want %v", c.got, c.want)
		}
	}
}

// A draft that is weaker than the line stands above it, one that is stronger
// below; natural conditions are an open dot.
func TestDraftSides(t *testing.T) {
	line := []report.XY{{X: 10, Y: -2.5}, {X: 90, Y: -0.5}}
	for _, c := range []struct {
		pa    float64
		above bool
	}{{-1.0, true}, {-2.4, false}} { // the line is at -1.9 at 34 F
		for _, natural := range []bool{false, true} {
			d := chart.Draft(report.Report{}, report.DraftChart{TempUnit: "F", Line: line, Points: []report.DraftMark{{Name: "a", Temp: 34, Pa: c.pa, Natural: natural}}}, 180, measure)
			rule := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Line && s.Pen == 0.7 })[0].At
			dot := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Dot })[0]
			y := rule[1].Y + (rule[2].Y-rule[1].Y)*(dot.At[0].X-rule[1].X)/(rule[2].X-rule[1].X)
			if (dot.At[0].Y < y) != c.above {
				t.Errorf("%v Pa at %v mm, the line at %v", c.pa, dot.At[0].Y, y)
			}
			if open := dot.Fill == 255; open != natural {
				t.Errorf("natural %v, open %v", natural, open)
			}
		}
	}
}

// Bars are as long as their values, and one over range runs off the scale.
func TestBars(t *testing.T) {
	lim := 80.0
	d := chart.Bars(report.Report{}, report.BarChart{Unit: "ppm", Bars: []report.Bar{{Name: "a", Value: 20}, {Name: "b", Value: 40, Limit: &lim}, {Name: "c", Value: 40, Over: true}}, Lines: []report.Level{{Pa: 25, Label: "25"}, {Pa: 100, Label: "100"}, {Pa: 400, Label: "400"}}}, 180, measure)
	bars := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Rect && s.Fill == 200 })
	length := func(i int) float64 { return bars[i].At[1].X - bars[i].At[0].X }
	if len(bars) != 3 || math.Abs(length(1)-2*length(0)) > 1e-9 || length(2) <= length(1) {
		t.Errorf("lengths %v %v %v", length(0), length(1), length(2))
	}
	lines := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Line && len(s.Dash) > 0 })
	if len(lines) != 2 { // 400 is beyond what there is to show
		t.Errorf("%d lines", len(lines))
	}
	if got := lines[0].At[0].X - bars[0].At[0].X; math.Abs(got-length(0)*25/20) > 1e-9 {
		t.Errorf("25 ppm stands at %v, 20 ppm is %v long", got, length(0))
	}
	mark := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Line && s.Pen == 1 })
	if len(mark) != 1 || math.Abs(mark[0].At[0].X-bars[0].At[0].X-4*length(0)) > 1e-9 {
		t.Errorf("the limit: %+v", mark)
	}
	if a := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Area }); len(a) != 1 {
		t.Errorf("%d arrows for one bar over range", len(a))
	}
}

// The arrow points from the earliest phase to the latest, whichever way.
func TestPhases(t *testing.T) {
	p := func(v float64) *float64 { return &v }
	for _, way := range []float64{1, -1} {
		d := chart.Phases(report.Report{}, report.PhaseChart{Unit: "Pa", Phases: []string{"a", "b", "c"}, Rows: []report.PhaseRow{{Name: "z", Values: []*float64{p(-3 * way), p(-2 * way), p(3 * way)}, Least: make([]bool, 3), Limit: p(-1)}}}, 180, measure)
		tip := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Area })
		if len(tip) != 1 || (tip[0].At[0].X-tip[0].At[1].X)*way <= 0 {
			t.Errorf("way %v: %+v", way, tip)
		}
		marks := shapes(d, func(s chart.Shape) bool { return s.Kind == chart.Dot || s.Kind == chart.Rect && s.Fill == 255 })
		if len(marks) != 6 { // three in the row, three that say what they are
			t.Errorf("%d marks", len(marks))
		}
	}
	least := chart.Phases(report.Report{}, report.PhaseChart{Unit: "s", Phases: []string{"a", "b"}, Rows: []report.PhaseRow{{Name: "z", Values: []*float64{p(71), nil}, Least: []bool{true, false}}}}, 180, measure)
	if s := shapes(least, func(s chart.Shape) bool { return strings.Contains(s.Text, ">71 → -") }); len(s) != 1 {
		t.Errorf("what never stopped is not marked: %+v", least.Shapes)
	}
}

// Names that differ only at their end still differ when they are cut.
func TestNamesCut(t *testing.T) {
	long := strings.Repeat("water heater ", 6)
	c := report.BarChart{Unit: "ppm"}
	for _, n := range []string{"1", "2", "3"} {
		c.Bars = append(c.Bars, report.Bar{Name: long + n, Value: 1})
	}
	seen := map[string]bool{}
	for _, s := range chart.Bars(report.Report{}, c, 180, measure).Shapes {
		if strings.HasPrefix(s.Text, "water") {
			seen[s.Text] = true
		}
	}
	if len(seen) != 3 {
		t.Errorf("names %v", seen)
	}
}
