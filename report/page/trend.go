package page

import (
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strconv"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/register"
	"cazward/procedure/wording"
	"cazward/report"
)

// trendDecisions are the outcomes, most protective first.
var trendDecisions = append(slices.Clone(procedure.Decisions), procedure.NoDecision)

// counted is the name under which a trend counts an outcome.
func counted(d procedure.Decision) string {
	if d == procedure.NoDecision {
		return "not judged"
	}
	return string(d)
}

// TrendView is a trend to show.
type TrendView struct {
	Query   Query
	Rows    []register.TrendRow
	Schemes []string
}

type trendPage struct {
	Frame      Frame
	Filter     filter
	Homes, CSV string
	Twice      bool
	Rows       bool
	Outcomes   template.HTML
	Ranges     []trendRange
	Tables     []trendTable
}

type trendRange struct {
	Title, Says string
	Chart       template.HTML
}

type trendTable struct {
	Title string
	Side  string // class of the figures
	Heads []string
	Rows  []trendLine
}

type trendLine struct {
	Name, Phase string
	Cells       []string
}

// Trend writes a trend as a page of the desk.
func Trend(w io.Writer, f Frame, x TrendView) error {
	v := f.trend(x)
	v.Frame.Here = "trend"
	v.Filter = f.filter("/trend", x.Query, x.Schemes)
	by := choice{Name: "by", Label: f.t("field.by")}
	for _, g := range register.Groups {
		by.Options = append(by.Options, option{string(g), f.t("by." + string(g)), g == x.Query.By})
	}
	v.Filter.Groups = &by
	q := x.Query
	q.After = 0
	v.CSV = address("/trend.csv", q)
	return v.Frame.write(w, "trend", v)
}

// TrendFile writes a trend as one file that stands alone.
func TrendFile(w io.Writer, f Frame, x TrendView) error {
	v := f.trend(x)
	return v.Frame.write(w, "trend-file", v)
}

func (f Frame) trend(x TrendView) trendPage {
	by := x.Query.By
	f.Title = f.t("trend.by", "what", f.t("by."+string(by)))
	v := trendPage{Frame: f, Twice: by == register.ByAppliance, Rows: len(x.Rows) > 0}
	n := 0
	outcomes := trendTable{Title: f.t("trend.share"), Side: "right", Heads: []string{f.t("by." + string(by)), f.t("field.phase"), f.t("homes")}}
	for _, d := range trendDecisions {
		outcomes.Heads = append(outcomes.Heads, f.outcome(d))
	}
	configs := trendTable{Title: f.t("trend.worst-with"), Heads: []string{f.t("by." + string(by)), f.t("field.phase"), f.t("trend.set-up"), f.t("trend.zones")}}
	for _, r := range x.Rows {
		n += r.Homes
		l := trendLine{Name: f.group(r, by), Phase: f.phase(r.Phase), Cells: []string{strconv.Itoa(r.Homes)}}
		for _, d := range trendDecisions {
			l.Cells = append(l.Cells, strconv.Itoa(r.Decisions[counted(d)]))
		}
		if len(r.Configs) > 0 {
			configs.Rows = append(configs.Rows, trendLine{l.Name, l.Phase, []string{wording.DeskConfig(f.lang(), r.Configs[0].Config), f.t("trend.n-of", "n", strconv.Itoa(r.Configs[0].Zones), "of", strconv.Itoa(r.Net.N))}})
		}
		outcomes.Rows = append(outcomes.Rows, l)
	}
	v.Homes = f.t("trend.homes", "n", strconv.Itoa(n))
	if v.Twice {
		v.Homes = f.t("trend.appliances", "n", strconv.Itoa(n))
	}
	v.Tables = []trendTable{outcomes}
	v.Outcomes = f.outcomeBars(x.Rows, by)
	for _, m := range []struct {
		key, unit string
		decimals  int
		of        func(register.TrendRow) register.Spread
	}{
		{"trend.net", "Pa", 1, func(r register.TrendRow) register.Spread { return r.Net }},
		{"trend.draft", "Pa", 1, func(r register.TrendRow) register.Spread { return r.Draft }},
		{"trend.spill", "s", 0, func(r register.TrendRow) register.Spread { return r.Spill }},
	} {
		chart, ok := f.rangeBars(x.Rows, by, f.t(m.key), m.unit, m.of)
		if !ok {
			continue
		}
		v.Ranges = append(v.Ranges, trendRange{f.t(m.key), f.t(m.key + "-says"), chart})
		t := trendTable{Title: f.t(m.key) + ", " + m.unit, Side: "right", Heads: []string{f.t("by." + string(by)), f.t("field.phase"), f.t("trend.n"), f.t("trend.q1"), f.t("trend.median"), f.t("trend.q3"), f.t("trend.worst")}}
		for _, r := range x.Rows {
			s := m.of(r)
			t.Rows = append(t.Rows, trendLine{f.group(r, by), f.phase(r.Phase), []string{strconv.Itoa(s.N), figure(s.Q1, m.decimals), figure(s.Median, m.decimals), figure(s.Q3, m.decimals), figure(s.Worst, m.decimals)}})
		}
		v.Tables = append(v.Tables, t)
	}
	if configs.Rows != nil {
		v.Tables = append(v.Tables, configs)
	}
	return v
}

// figure is a value with the minus of print, "-" where nothing was measured.
func figure(v *float64, decimals int) string {
	if v == nil {
		return "-"
	}
	return report.Typeset(reading.Format(*v, decimals))
}

func (f Frame) outcome(d procedure.Decision) string { return wording.DeskDecision(f.lang(), d) }

func (f Frame) phase(p procedure.Phase) string { return wording.DeskPhase(f.lang(), p) }

// group is the name of a row.
func (f Frame) group(r register.TrendRow, by register.GroupBy) string {
	g := report.Clean(r.Group)
	switch {
	case g == "":
		return f.t("trend.unknown")
	case by == register.ByAppliance && g == "none":
		return f.t("trend.no-appliance")
	case by == register.ByAppliance:
		return wording.KindName(f.lang(), g)
	}
	return g
}

// shades of the outcomes, most protective darkest, so that they print without
// color; each bar also has its figure.
var shades = []string{"#1a1a1a", "#4d4d4d", "#7a7a7a", "#a8a8a8", "#d9d9d9", "#ffffff"}

// Drawing, in units of the SVG. What is measured keeps a little inside the
// edges, so that no mark covers a name.
const (
	chartWidth, chartRow, chartEdge = 560, 26, 8
	nameMost                        = 32 // letters of a group
)

func esc(s string) string { return template.HTMLEscapeString(report.Clean(s)) }

func svg(left, height int, title, label, body string) template.HTML {
	wide := left + chartWidth + 60
	return template.HTML(fmt.Sprintf(`<div class="d-chart" tabindex="0" role="region" aria-label="%s"><svg role="img" aria-label="%s" viewBox="0 0 %d %d" width="%d" height="%d">%s</svg></div>`,
		esc(title), esc(label), wide, height, wide, height, body))
}

// names are what stands left of the rows, and how much room they take.
func (f Frame) names(rows []register.TrendRow, by register.GroupBy) (list []string, left int) {
	most := 0
	for _, r := range rows {
		g := []rune(f.group(r, by))
		if len(g) > nameMost {
			g = append(g[:nameMost-1], '…')
		}
		s := string(g)
		if short := f.t("trend.short." + string(r.Phase)); short != "" {
			s += ", " + short
		}
		s += " (" + strconv.Itoa(r.Homes) + ")"
		list, most = append(list, s), max(most, len([]rune(s)))
	}
	return list, 16 + most*7
}

func rowLabel(name string, left, y int) string {
	return fmt.Sprintf(`<text x="%d" y="%d" text-anchor="end">%s</text>`, left-8, y+16, esc(name))
}

func (f Frame) outcomeBars(rows []register.TrendRow, by register.GroupBy) template.HTML {
	names, left := f.names(rows, by)
	body := ""
	for i, d := range trendDecisions { // key
		x := 4 + i*(left+chartWidth)/len(trendDecisions)
		body += fmt.Sprintf(`<rect x="%d" y="4" width="12" height="12" fill="%s" stroke="#000"/><text x="%d" y="15">%s</text>`, x, shades[i], x+17, esc(f.outcome(d)))
	}
	for i, r := range rows {
		y := 26 + i*chartRow
		body += rowLabel(names[i], left, y)
		at := float64(left)
		for k, d := range trendDecisions {
			n := r.Decisions[counted(d)]
			if n == 0 {
				continue
			}
			wide := float64(chartWidth) * float64(n) / float64(r.Homes)
			ink := "#fff"
			if k > 2 {
				ink = "#000"
			}
			body += fmt.Sprintf(`<rect x="%.1f" y="%d" width="%.1f" height="20" fill="%s" stroke="#000"><title>%s %d</title></rect>`, at, y, wide, shades[k], esc(f.outcome(d)), n)
			if share := reading.Format(100*float64(n)/float64(r.Homes), 0); wide > 34 {
				body += fmt.Sprintf(`<text x="%.1f" y="%d" fill="%s" text-anchor="middle">%s %%</text>`, at+wide/2, y+15, ink, share)
			}
			at += wide
		}
	}
	return svg(left, 30+len(rows)*chartRow, f.t("trend.share"), f.t("trend.share")+"; "+f.t("trend.below"), body)
}

func (f Frame) rangeBars(rows []register.TrendRow, by register.GroupBy, title, unit string, of func(register.TrendRow) register.Spread) (template.HTML, bool) {
	lo, hi := 0.0, 0.0
	any := false
	for _, r := range rows {
		if s := of(r); s.N > 0 {
			any = true
			for _, v := range []float64{*s.Q1, *s.Q3, *s.Worst} {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	if !any || lo == hi {
		return "", false
	}
	// The finest of 1, 2, 5, 10 ... with at most eight marks.
	step := math.Pow(10, math.Floor(math.Log10((hi-lo)/8)))
	for _, x := range []float64{2, 2.5, 2} {
		if (hi-lo)/step > 8 {
			step *= x
		}
	}
	decimals := 0
	if step < 1 {
		decimals = int(math.Ceil(-math.Log10(step)))
	}
	names, left := f.names(rows, by)
	at := func(v float64) float64 {
		return float64(left) + chartEdge + (v-lo)/(hi-lo)*(chartWidth-2*chartEdge)
	}
	height := 30 + len(rows)*chartRow
	body := ""
	for i := int(math.Ceil(lo / step)); float64(i)*step <= hi; i++ {
		v := float64(i) * step
		ink := "#ccc"
		if i == 0 {
			ink = "#000"
		}
		body += fmt.Sprintf(`<line x1="%.1f" x2="%.1f" y1="20" y2="%d" stroke="%s"/><text x="%.1f" y="14" text-anchor="middle">%s</text>`, at(v), at(v), height, ink, at(v), report.Typeset(reading.Format(v, decimals)))
	}
	body += fmt.Sprintf(`<text x="%d" y="14">%s</text>`, left+chartWidth+30, esc(unit))
	for i, r := range rows {
		y := 24 + i*chartRow
		body += rowLabel(names[i], left, y)
		s := of(r)
		if s.N == 0 {
			body += fmt.Sprintf(`<text x="%d" y="%d">%s</text>`, left+16, y+15, esc(f.t("trend.not-measured")))
			continue
		}
		body += fmt.Sprintf(`<rect x="%.1f" y="%d" width="%.1f" height="14" fill="#bbb" stroke="#000"/><line x1="%.1f" x2="%.1f" y1="%d" y2="%d" stroke="#000" stroke-width="3"/><circle cx="%.1f" cy="%d" r="4" fill="#fff" stroke="#000"/>`,
			at(*s.Q1), y+4, max(1, at(*s.Q3)-at(*s.Q1)), at(*s.Median), at(*s.Median), y+1, y+21, at(*s.Worst), y+11)
	}
	return svg(left, height+4, title, title+"; "+f.t("trend.below"), body), true
}
