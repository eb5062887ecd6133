package main

import (
	"fmt"
	"html/template"
	"io"
	"math"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/register"
	reports "cazward/report"
)

// trendPage is one file without scripts or anything from elsewhere: bars of
// outcomes, ranges of what was measured, and the same as a table.
var trendPage = template.Must(template.New("trend").Parse(`<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>Trend by {{.By}}</title>
<style>
body{font:16px/1.4 sans-serif;margin:1.5em;max-width:70em;color:#111;background:#fff}
table{border-collapse:collapse;margin:1em 0;font-size:90%}
th,td{border:1px solid #888;padding:.2em .5em;text-align:right;white-space:nowrap}
th:first-child,td:first-child,th:nth-child(2),td:nth-child(2){text-align:left;white-space:normal;min-width:7em}
.wide{overflow-x:auto}svg{max-width:100%;height:auto}svg text{font:12px sans-serif}
@media print{body{margin:0}section{break-inside:avoid}}
</style></head><body>
<h1>Trend by {{.By}}</h1>
<p>{{.Homes}}. Judged by {{.Judged}}. Invented houses are left out.{{if .Twice}} A home with several kinds of appliance counts in each.{{end}}</p>
{{if .Rows}}<section><h2>Share by outcome</h2>{{.Outcomes}}</section>
{{range .Ranges}}<section><h2>{{.Title}}</h2><p>{{.Says}}</p>{{.Chart}}</section>
{{end}}<section><h2>The same in figures</h2><div class="wide"><table>
<tr><th scope="col">{{.By}}</th><th scope="col">phase</th>{{range .Heads}}<th scope="col">{{.}}</th>{{end}}</tr>
{{range .Rows}}<tr><th scope="row">{{.Group}}</th><td>{{.Phase}}</td>{{range .Cells}}<td>{{.}}</td>{{end}}</tr>
{{end}}</table></div></section>
{{else}}<p>No homes.</p>
{{end}}</body></html>
`))

type trendView struct {
	By, Homes, Judged string
	Twice             bool
	Outcomes          template.HTML
	Ranges            []trendRange
	Heads             []string
	Rows              []trendLine
}

type trendRange struct {
	Title, Says string
	Chart       template.HTML
}

type trendLine struct {
	Group, Phase string
	Cells        []string
}

// shades of the outcomes, most protective darkest, so that they print without
// colour; each bar also has its figure.
var shades = []string{"#1a1a1a", "#4d4d4d", "#7a7a7a", "#a8a8a8", "#d9d9d9", "#ffffff"}

func trendHTML(w io.Writer, by string, judged string, rows []register.TrendRow) error {
	v := trendView{By: by, Judged: judged, Twice: by == string(register.ByAppliance)}
	n := 0
	for _, r := range rows {
		n += r.Homes
		l := trendLine{Group: groupName(r), Phase: phaseWord(r.Phase), Cells: []string{fmt.Sprint(r.Homes)}}
		for _, d := range trendDecisions {
			l.Cells = append(l.Cells, fmt.Sprint(r.Decisions[word(d)]))
		}
		for _, s := range []register.Spread{r.Net, r.Draft, r.Spill} {
			l.Cells = append(l.Cells, fmt.Sprint(s.N), num(s.Q1, 1), num(s.Median, 1), num(s.Q3, 1), num(s.Worst, 1))
		}
		c := ""
		if len(r.Configs) > 0 {
			c = fmt.Sprintf("%s (%d of %d)", r.Configs[0].Config, r.Configs[0].Zones, r.Net.N)
		}
		v.Rows = append(v.Rows, trendLine{l.Group, l.Phase, append(l.Cells, c)})
	}
	v.Homes = fmt.Sprintf("%d homes", n)
	if v.Twice {
		v.Homes = fmt.Sprintf("%d appliances' homes", n)
	}
	v.Heads = []string{"homes"}
	for _, d := range trendDecisions {
		v.Heads = append(v.Heads, word(d))
	}
	for _, x := range []string{"net, Pa", "draft margin, Pa", "spillage, s"} {
		v.Heads = append(v.Heads, x+": of", "lower quarter", "median", "upper quarter", "worst")
	}
	v.Heads = append(v.Heads, "worst most often with")
	v.Outcomes = outcomeBars(rows)
	for _, x := range []struct {
		title, says, unit string
		of                func(register.TrendRow) register.Spread
	}{
		{"Net depressurization", "Middle half (bar), median (line) and worst (circle). Further left is lower than outdoors.", "Pa", func(r register.TrendRow) register.Spread { return r.Net }},
		{"Draft inside its line", "Middle half (bar), median (line) and worst (circle). Below zero is too weak.", "Pa", func(r register.TrendRow) register.Spread { return r.Draft }},
		{"Smoke drawn in after", "Middle half (bar), median (line) and worst (circle).", "s", func(r register.TrendRow) register.Spread { return r.Spill }},
	} {
		if chart, ok := rangeBars(rows, x.unit, x.of); ok {
			v.Ranges = append(v.Ranges, trendRange{x.title, x.says, chart})
		}
	}
	return trendPage.Execute(w, v)
}

func groupName(r register.TrendRow) string {
	if g := reports.Clean(r.Group); g != "" {
		return g
	}
	return "not known"
}

// Chart geometry, in SVG units.
const (
	chartLeft, chartWidth, chartRow = 300, 560, 26
)

func esc(s string) string { return template.HTMLEscapeString(s) }

func svg(height int, label, body string) template.HTML {
	return template.HTML(fmt.Sprintf(`<svg role="img" aria-label="%s" viewBox="0 0 %d %d" width="%d" height="%d">%s</svg>`,
		esc(label), chartLeft+chartWidth+60, height, chartLeft+chartWidth+60, height, body))
}

func rowLabel(r register.TrendRow, y int) string {
	short := map[procedure.Phase]string{procedure.TestIn: "before", procedure.Daily: "daily", procedure.TestOut: "after"}[r.Phase]
	g := []rune(groupName(r))
	if len(g) > 32 {
		g = append(g[:31], '…')
	}
	return fmt.Sprintf(`<text x="%d" y="%d" text-anchor="end">%s, %s (%d)</text>`, chartLeft-8, y+16, esc(string(g)), short, r.Homes)
}

func outcomeBars(rows []register.TrendRow) template.HTML {
	body := ""
	x := chartLeft
	for i, d := range trendDecisions { // key
		body += fmt.Sprintf(`<rect x="%d" y="4" width="12" height="12" fill="%s" stroke="#000"/><text x="%d" y="15">%s</text>`, x, shades[i], x+16, esc(word(d)))
		x += 95
	}
	for i, r := range rows {
		y := 26 + i*chartRow
		body += rowLabel(r, y)
		at := float64(chartLeft)
		for k, d := range trendDecisions {
			n := r.Decisions[word(d)]
			if n == 0 {
				continue
			}
			wide := float64(chartWidth) * float64(n) / float64(r.Homes)
			ink := "#fff"
			if k > 2 {
				ink = "#000"
			}
			body += fmt.Sprintf(`<rect x="%.1f" y="%d" width="%.1f" height="20" fill="%s" stroke="#000"><title>%s %d</title></rect>`, at, y, wide, shades[k], esc(word(d)), n)
			if share := reading.Format(100*float64(n)/float64(r.Homes), 0); wide > 34 {
				body += fmt.Sprintf(`<text x="%.1f" y="%d" fill="%s" text-anchor="middle">%s %%</text>`, at+wide/2, y+15, ink, share)
			}
			at += wide
		}
	}
	return svg(30+len(rows)*chartRow, "share of homes by outcome; the figures stand in the table below", body)
}

func rangeBars(rows []register.TrendRow, unit string, of func(register.TrendRow) register.Spread) (template.HTML, bool) {
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
	for _, f := range []float64{2, 2.5, 2} {
		if (hi-lo)/step > 8 {
			step *= f
		}
	}
	decimals := 0
	if step < 1 {
		decimals = int(math.Ceil(-math.Log10(step)))
	}
	at := func(v float64) float64 { return chartLeft + (v-lo)/(hi-lo)*chartWidth }
	height := 30 + len(rows)*chartRow
	body := ""
	for i := int(math.Ceil(lo / step)); float64(i)*step <= hi; i++ {
		v := float64(i) * step
		ink := "#ccc"
		if i == 0 {
			ink = "#000"
		}
		body += fmt.Sprintf(`<line x1="%.1f" x2="%.1f" y1="20" y2="%d" stroke="%s"/><text x="%.1f" y="14" text-anchor="middle">%s</text>`, at(v), at(v), height, ink, at(v), reading.Format(v, decimals))
	}
	body += fmt.Sprintf(`<text x="%d" y="14">%s</text>`, chartLeft+chartWidth+30, unit)
	for i, r := range rows {
		y := 24 + i*chartRow
		body += rowLabel(r, y)
		s := of(r)
		if s.N == 0 {
			body += fmt.Sprintf(`<text x="%d" y="%d">none measured</text>`, chartLeft+4, y+15)
			continue
		}
		body += fmt.Sprintf(`<rect x="%.1f" y="%d" width="%.1f" height="14" fill="#bbb" stroke="#000"/><line x1="%.1f" x2="%.1f" y1="%d" y2="%d" stroke="#000" stroke-width="3"/><circle cx="%.1f" cy="%d" r="4" fill="#fff" stroke="#000"/>`,
			at(*s.Q1), y+4, max(1, at(*s.Q3)-at(*s.Q1)), at(*s.Median), at(*s.Median), y+1, y+21, at(*s.Worst), y+11)
	}
	return svg(height+4, "ranges of what was measured; the figures stand in the table below", body), true
}
