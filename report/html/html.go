// Package html writes a report as one web page that stands alone: the form
// for screens and for screen readers. Use [Write].
//
// The page needs no script and no other file, and a content policy in its
// head keeps a browser from asking for any. Every text goes through one
// function that escapes it; markup comes from this package only. Drawings are
// inline SVG with title and description, and each has its figures beside it
// as a table.
package html

import (
	"encoding/base64"
	"fmt"
	"io"
	"strconv"
	"strings"

	"cazward/procedure"
	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/chart"
)

// Style is black on white, so that nothing hangs on a color and prints are
// what the screen shows.
const Style = `
body{font:1rem/1.45 system-ui,sans-serif;color:#000;background:#fff;max-width:64rem;margin:0 auto;padding:0 1rem 3rem;overflow-wrap:anywhere}
a{color:#000}a:focus,div:focus,summary:focus{outline:3px solid #000;outline-offset:2px}
.skip{position:absolute;left:-99rem}.skip:focus{position:static}
.mark{border:3px solid #000;padding:.4rem .8rem;font-weight:700}
.box{border:4px solid #000;padding:.6rem 1rem;margin:1rem 0}.leave .box{border-width:12px}
.word{font-size:1.5rem;font-weight:700;margin:0}.head{font-size:2rem;line-height:1.2;margin:.2rem 0}
h2{border-bottom:2px solid #000;margin-top:2.5rem}h3{margin:1.2rem 0 .3rem}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.15rem 1rem}dt{font-weight:700}dd{margin:0}
.wide{overflow-x:auto}table{border-collapse:collapse;width:100%;font-size:.9rem;margin:.6rem 0;overflow-wrap:break-word}
caption{text-align:left;font-weight:700;padding:.3rem 0}th,td{border:1px solid #767676;padding:.25rem .5rem;text-align:left;vertical-align:top}
thead th{border-bottom:2px solid #000}th[scope=row]{font-weight:400}.strong,th.strong[scope=row]{font-weight:700}
.right{text-align:right}.span{background:#ececec;font-weight:700}
figure{margin:1rem 0;break-inside:avoid}figcaption{font-weight:700}svg,img{max-width:100%;height:auto;display:block}img{max-height:36rem;border:1px solid #000}
footer{margin-top:3rem;border-top:2px solid #000;font-size:.9rem}
@media (max-width:34rem){dl{display:block}dd{margin:0 0 .4rem}}
@media print{body{max-width:none}nav,.skip{display:none}details::details-content{content-visibility:visible;height:auto}tr,img{break-inside:avoid}}
`

// Write writes the report. The error is that of w.
func Write(w io.Writer, r report.Report) error {
	p := &page{r: r}
	p.document()
	_, err := io.WriteString(w, p.b.String())
	return err
}

// Body writes what stands between header and footer of [Write]: the decision,
// the contents and all sections, for a page that has its own heading of level
// 1 and the rules of [Style].
func Body(w io.Writer, r report.Report) error {
	p := &page{r: r}
	p.body()
	_, err := io.WriteString(w, p.b.String())
	return err
}

// page is a page being written.
type page struct {
	b    strings.Builder
	r    report.Report
	figs int
}

// escaper makes any text harmless in content and in quoted attributes.
var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;")

// text is the one way by which text reaches the page; attributes, which hold
// numbers of drawings too, keep their hyphens.
func text(s string) string { return escaper.Replace(report.Typeset(report.Clean(s))) }

// open writes a start tag; attributes are name and value in turn.
func (p *page) open(tag string, attrs ...string) {
	p.b.WriteString("<" + tag)
	for i := 0; i+1 < len(attrs); i += 2 {
		if attrs[i+1] != "" {
			p.b.WriteString(" " + attrs[i] + `="` + escaper.Replace(report.Clean(attrs[i+1])) + `"`)
		}
	}
	p.b.WriteString(">")
}

func (p *page) end(tag string) { p.b.WriteString("</" + tag + ">\n") }

// el writes an element that holds only text.
func (p *page) el(tag, content string, attrs ...string) {
	p.open(tag, attrs...)
	p.b.WriteString(text(content))
	p.end(tag)
}

func (p *page) document() {
	r := p.r
	lang := r.Lang
	if lang == "" {
		lang = wording.English
	}
	p.b.WriteString("<!DOCTYPE html>\n")
	p.open("html", "lang", string(lang))
	p.b.WriteString("\n<head>\n<meta charset=\"utf-8\">\n")
	p.b.WriteString(`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'">` + "\n")
	p.b.WriteString(`<meta name="viewport" content="width=device-width,initial-scale=1">` + "\n")
	p.b.WriteString(`<meta name="referrer" content="no-referrer">` + "\n")
	p.el("title", r.Decision.Word+": "+r.Title)
	p.b.WriteString("<style>" + Style + "</style>\n</head>\n<body>\n")
	p.el("a", r.Label("to-decision"), "class", "skip", "href", "#decision")
	p.open("header")
	p.b.WriteString("\n")
	if r.Mark != "" {
		p.el("p", r.Mark, "class", "mark")
	}
	p.el("h1", r.Title)
	p.end("header")
	p.open("main")
	p.b.WriteString("\n")
	p.body()
	p.end("main")
	p.open("footer")
	p.b.WriteString("\n")
	if r.Mark != "" {
		p.el("p", r.Mark, "class", "mark")
	}
	p.el("p", r.Label("record")+" "+r.Record)
	p.el("p", r.Label("closing-of", r.Hash))
	p.el("p", strings.TrimSpace("cazward "+r.Program))
	p.end("footer")
	p.b.WriteString("</body>\n</html>\n")
}

func (p *page) body() {
	p.decision()
	p.contents()
	for _, s := range p.r.Sections {
		p.section(s)
	}
}

func (p *page) contents() {
	p.open("nav", "aria-labelledby", "contents")
	p.el("h2", p.r.Label("contents"), "id", "contents")
	p.open("ol")
	for _, s := range p.r.Sections {
		p.open("li")
		p.el("a", s.Title, "href", "#"+s.ID)
		p.end("li")
	}
	p.end("ol")
	p.end("nav")
}

func (p *page) decision() {
	d := p.r.Decision
	class := ""
	if d.Code == procedure.Leave {
		class = "leave"
	}
	p.open("section", "id", "decision", "aria-labelledby", "decision-head", "class", class)
	p.b.WriteString("\n")
	p.open("div", "class", "box")
	word := d.Word
	if d.Code != procedure.Proceed {
		word = "⚠ " + word
	}
	p.el("p", word, "class", "word")
	p.el("h2", d.Headline, "id", "decision-head", "class", "head")
	p.el("p", p.r.Label("decision")+": "+string(d.Code))
	p.end("div")
	p.facts(d.Facts)
	p.list("ol", p.r.Label("why"), d.Why)
	p.list("ol", p.r.Label("do"), d.Do)
	var lines []string
	for _, a := range d.Appliances {
		lines = append(lines, a.Words+": "+strings.Join(a.Names, ", "))
	}
	p.list("ul", p.r.Label("appliances"), lines)
	lines = []string{d.PutBack.Text}
	for _, o := range d.PutBack.Open {
		lines = append(lines, p.r.Label("open-item", o))
	}
	p.list("ul", p.r.Label("put-back"), lines)
	p.list("ul", p.r.Label("not-tested-list"), d.NotTested)
	p.list("ul", p.r.Label("risks"), d.Risks)
	p.list("ul", p.r.Label("cautions"), d.Cautions)
	p.list("ul", d.HoldsLabel, []string{d.Holds})
	p.end("section")
}

// list has a heading, and says so when it is empty.
func (p *page) list(tag, head string, items []string) {
	p.el("h3", head)
	if len(items) == 0 {
		p.el("p", p.r.Label("none"))
		return
	}
	p.open(tag)
	for _, i := range items {
		p.el("li", i)
	}
	p.end(tag)
}

func (p *page) facts(list []report.Fact) {
	if len(list) == 0 {
		return
	}
	p.open("dl")
	for _, f := range list {
		p.el("dt", f.Name)
		p.el("dd", f.Value)
	}
	p.end("dl")
}

func (p *page) section(s report.Section) {
	p.open("section", "id", s.ID, "aria-labelledby", s.ID+"-head")
	p.b.WriteString("\n")
	p.el("h2", s.Title, "id", s.ID+"-head")
	p.facts(s.Facts)
	for _, n := range s.Notes {
		p.el("p", n)
	}
	for _, t := range s.Tables {
		p.table(t, s.Title)
	}
	var tables []report.Table
	for _, t := range s.Traces {
		tables = append(tables, t.Table)
	}
	for _, c := range s.Drafts {
		tables = append(tables, c.Table)
	}
	for _, c := range s.Bars {
		tables = append(tables, c.Table)
	}
	for _, c := range s.Steps {
		tables = append(tables, c.Table)
	}
	for _, c := range s.Sealing {
		tables = append(tables, c.Table)
	}
	for i, g := range chart.All(p.r, s, 180, measure) {
		p.figure(g, tables[i])
	}
	for _, f := range s.Photos {
		p.photo(f)
	}
	p.end("section")
}

// measure is a guess at the width of a text in the reader's own typeface.
func measure(s string, points float64, _ bool) float64 {
	return float64(len([]rune(s))) * points * 0.3528 * 0.55
}

// table writes a table that scrolls by itself where it is wider than the
// page. The first cell of a row names it.
func (p *page) table(t report.Table, title string) {
	if t.Title != "" {
		title = t.Title
	}
	p.open("div", "class", "wide", "role", "region", "tabindex", "0", "aria-label", title)
	p.open("table")
	p.el("caption", title)
	p.open("thead")
	p.open("tr")
	for _, c := range t.Columns {
		p.el("th", c.Head, "scope", "col", "class", side(c))
	}
	p.end("tr")
	p.end("thead")
	p.open("tbody")
	for i, row := range t.Rows {
		if row.Span {
			tag, scope := "td", ""
			if !row.After && i+1 < len(t.Rows) && !t.Rows[i+1].Span {
				tag, scope = "th", "rowgroup"
				if i > 0 {
					p.end("tbody")
					p.open("tbody")
				}
			}
			p.open("tr")
			p.el(tag, strings.Join(row.Cells, " "), "scope", scope, "colspan", strconv.Itoa(len(t.Columns)), "class", "span")
			p.end("tr")
			continue
		}
		p.open("tr")
		for k, c := range row.Cells {
			if k >= len(t.Columns) {
				break
			}
			class := side(t.Columns[k])
			if k < row.Bold {
				class = strings.TrimSpace(class + " strong")
			}
			if k == 0 && c != "" {
				p.el("th", c, "scope", "row", "class", class)
			} else {
				p.el("td", c, "class", class)
			}
		}
		p.end("tr")
	}
	p.end("tbody")
	p.end("table")
	p.end("div")
}

func side(c report.Column) string {
	if c.Right {
		return "right"
	}
	return ""
}

// figure writes a drawing with its figures.
func (p *page) figure(g chart.Drawing, t report.Table) {
	p.figs++
	id := "figure-" + strconv.Itoa(p.figs)
	p.open("figure")
	p.el("figcaption", g.Title)
	p.svg(g, id)
	p.el("p", g.Desc)
	p.open("details")
	p.el("summary", p.r.Label("figures-of"))
	p.table(t, g.Title)
	p.end("details")
	p.end("figure")
}

func mm(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }

func (p *page) svg(g chart.Drawing, id string) {
	p.open("svg", "role", "img", "aria-labelledby", id+"-t "+id+"-d", "viewBox", "0 0 "+mm(g.W)+" "+mm(g.H), "xmlns", "http://www.w3.org/2000/svg", "font-family", "system-ui,sans-serif")
	p.b.WriteString("\n")
	p.el("title", g.Title, "id", id+"-t")
	p.el("desc", g.Desc, "id", id+"-d")
	for _, s := range g.Shapes {
		stroke, fill, dash := "none", "none", ""
		if s.Pen > 0 {
			stroke = gray(s.Ink)
		}
		if s.Fill != chart.None {
			fill = gray(s.Fill)
		}
		for i, d := range s.Dash {
			if i > 0 {
				dash += " "
			}
			dash += mm(d)
		}
		look := []string{"stroke", stroke, "fill", fill}
		if s.Pen > 0 {
			look = append(look, "stroke-width", mm(s.Pen), "stroke-dasharray", dash)
		}
		var points []string
		for _, at := range s.At {
			points = append(points, mm(at.X)+","+mm(at.Y))
		}
		switch s.Kind {
		case chart.Line:
			p.open("polyline", append([]string{"points", strings.Join(points, " ")}, look...)...)
			p.end("polyline")
		case chart.Area:
			p.open("polygon", append([]string{"points", strings.Join(points, " ")}, look...)...)
			p.end("polygon")
		case chart.Rect:
			p.open("rect", append([]string{"x", mm(s.At[0].X), "y", mm(s.At[0].Y), "width", mm(s.At[1].X - s.At[0].X), "height", mm(s.At[1].Y - s.At[0].Y)}, look...)...)
			p.end("rect")
		case chart.Dot:
			p.open("circle", append([]string{"cx", mm(s.At[0].X), "cy", mm(s.At[0].Y), "r", mm(s.R)}, look...)...)
			p.end("circle")
		case chart.Text:
			anchor := map[chart.Anchor]string{chart.Middle: "middle", chart.Right: "end"}[s.Anchor]
			p.el("text", s.Text, "x", mm(s.At[0].X), "y", mm(s.At[0].Y+s.Size*0.3528*0.95), "font-size", mm(s.Size*0.3528), "text-anchor", anchor)
		}
	}
	p.end("svg")
}

func gray(v int) string { return fmt.Sprintf("#%02x%02x%02x", v, v, v) }

func (p *page) photo(f report.PhotoBox) {
	p.open("figure")
	switch f.Photo.Type {
	case "image/jpeg", "image/png":
		p.b.WriteString(`<img alt="` + text(f.Alt) + `" src="data:` + f.Photo.Type + `;base64,` + base64.StdEncoding.EncodeToString(f.Photo.Data) + `">`)
	default:
		p.el("p", f.Why)
	}
	p.el("figcaption", f.Caption)
	p.end("figure")
}
