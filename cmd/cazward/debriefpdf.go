package main

import (
	"io"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/go-pdf/fpdf"

	"cazward/procedure/practice"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
	reports "cazward/report"
)

// Measures of the paper of a debrief, mm, letter.
const (
	drillMargin = 18.0
	drillTop    = 22.0
	drillBottom = 262.0
	drillWidth  = 180.0
)

// drillPaper is what a practice house leaves on paper: each page says first that
// no home was tested.
type drillPaper struct {
	f    *fpdf.Fpdf
	mark string
	y    float64
}

func newDrillPaper(l wording.Lang, title string) *drillPaper {
	f := fpdf.New("P", "mm", "Letter", "")
	f.SetAutoPageBreak(false, 0)
	f.SetCatalogSort(true)
	f.SetCreationDate(time.Unix(0, 0).UTC()) // the same debrief gives the same bytes
	f.SetModificationDate(time.Unix(0, 0).UTC())
	f.SetTitle(title, true)
	f.SetProducer("cazward", true)
	f.SetLang(string(wording.OnPaper(l)))
	f.AddUTF8FontFromBytes("dejavu", "", dejavusanscondensed.TTF)
	f.AddUTF8FontFromBytes("dejavu", "B", dejavusanscondensedbold.TTF)
	return &drillPaper{f: f, mark: wording.Drill(l, "mark"), y: drillBottom + 1}
}

// room begins a page where the present one has no room for that many mm.
func (p *drillPaper) room(mm float64) bool {
	if p.y+mm <= drillBottom {
		return false
	}
	p.f.AddPage()
	p.f.SetFont("dejavu", "B", 9)
	p.f.Text(drillMargin, 12, p.mark)
	p.y = drillTop
	return true
}

// text writes a paragraph; keep is how many mm must follow on the same page.
func (p *drillPaper) text(style string, size, indent, gap, keep float64, text string) {
	p.f.SetFont("dejavu", style, size)
	lines := p.f.SplitText(reports.Clean(text), drillWidth-indent)
	lead := size * 0.3528 * 1.35
	if !p.room(gap + lead*float64(len(lines)) + keep) {
		p.y += gap
	}
	p.f.SetFont("dejavu", style, size)
	for _, t := range lines {
		p.f.Text(drillMargin+indent, p.y, t)
		p.y += lead
	}
}

// write puts a foot on every page and gives the file out.
func (p *drillPaper) write(w io.Writer, foot func(page, of int) string) error {
	n := p.f.PageCount()
	for i := 1; i <= n; i++ {
		p.f.SetPage(i)
		p.f.SetFont("dejavu", "", 8)
		p.f.Text(drillMargin, 271, reports.Clean(foot(i, n)))
	}
	if err := p.f.Error(); err != nil {
		return err
	}
	return p.f.Output(w)
}

// debriefPDF writes the lines of a debrief on paper.
func debriefPDF(w io.Writer, d practice.Debrief) error {
	lines := d.Lines()
	p := newDrillPaper(d.Lang, reports.Clean(lines[0][1]))
	for _, l := range lines {
		switch l[0] {
		case "head": // never alone at the foot
			p.text("B", 10.5, 0, 3, 20, l[1])
		case "sub":
			p.text("", 9, 10, 0, 0, l[1])
		default:
			p.text("", 9, 4, 0, 0, l[1])
		}
	}
	return p.write(w, func(page, _ int) string {
		return wording.Drill(d.Lang, "page", "home", d.Title, "record", d.Record, "n", strconv.Itoa(page))
	})
}

// classColumns are the columns of a class sheet with their widths in mm.
var classColumns = []struct {
	key string
	mm  float64
}{{"trainee", 24}, {"house", 28}, {"decision", 34}, {"points", 20}, {"given", 19}, {"minutes", 17}, {"work-on", 38}}

// pdf writes the class sheet: a row for each test, then what the class lost
// points on.
func (c *classSheet) pdf(w io.Writer) error {
	say := func(key string, pairs ...string) string { return wording.Drill(c.lang, key, pairs...) }
	title := say("class", "n", strconv.Itoa(len(c.debriefs)))
	p := newDrillPaper(c.lang, title)
	p.text("B", 12, 0, 0, 20, title)
	const size, lead, pad = 8.0, 3.9, 1.6
	row := func(style string, cells []string) {
		p.f.SetFont("dejavu", style, size)
		x, most := drillMargin, 1
		split := make([][]string, len(cells))
		for i, t := range cells {
			split[i] = p.f.SplitText(reports.Clean(t), classColumns[i].mm-2)
			most = max(most, len(split[i]))
		}
		for i, lines := range split {
			for k, t := range lines {
				p.f.Text(x, p.y+lead*float64(k), t)
			}
			x += classColumns[i].mm
		}
		p.y += lead*float64(most) + pad
		p.f.SetDrawColor(160, 160, 160)
		p.f.Line(drillMargin, p.y-lead-pad/2+1.2, drillMargin+drillWidth, p.y-lead-pad/2+1.2)
	}
	var heads []string
	for _, k := range classColumns {
		heads = append(heads, say("class."+k.key))
	}
	p.y += 3
	row("B", heads)
	for _, d := range c.debriefs {
		decision := string(d.Decision)
		switch {
		case !d.Closed:
			decision = say("class.open", "what", decision)
		case d.Expected != "" && d.Decision != d.Expected:
			decision = say("class.wanted", "what", decision, "want", string(d.Expected))
		}
		var work []string
		for _, s := range d.WorkOn {
			work = append(work, s.Check.Title(c.lang))
		}
		if p.room(lead*float64(max(2, 2*len(work))) + pad) {
			row("B", heads)
		}
		row("", []string{d.Who, d.House, decision, fig(d.Score) + "/" + fig(d.Of), reading.Format(d.GivenAway(), 1), reading.Format(d.Minutes, 0), strings.Join(work, "; ")})
	}
	p.text("B", 10.5, 0, 5, 20, say("class.lost"))
	for _, t := range c.lost() {
		p.text("", 9, 4, 0, 0, t)
	}
	if len(c.unread) > 0 {
		p.text("B", 9, 0, 4, 0, say("class.unread", "what", strings.Join(c.unread, ", ")))
	}
	return p.write(w, func(page, of int) string {
		return say("class.page", "name", c.rubric.Name, "n", strconv.Itoa(page), "of", strconv.Itoa(of))
	})
}

// lost says by check how many lost points on it, most points first.
func (c *classSheet) lost() []string {
	type sum struct {
		check      practice.Check
		tests, bad int
		points     float64
	}
	var sums []sum
	for _, k := range c.rubric.Criteria {
		x := sum{check: k.Check}
		for _, d := range c.debriefs {
			for _, s := range d.Scored {
				if s.Check == k.Check {
					x.tests++
					if s.Got < s.Points {
						x.bad, x.points = x.bad+1, x.points+s.Points-s.Got
					}
				}
			}
		}
		if x.bad > 0 {
			sums = append(sums, x)
		}
	}
	sort.SliceStable(sums, func(a, b int) bool { return sums[a].points > sums[b].points })
	var out []string
	for _, x := range sums {
		out = append(out, wording.Drill(c.lang, "class.check", "what", x.check.Title(c.lang), "n", strconv.Itoa(x.bad), "of", strconv.Itoa(x.tests), "v", fig(x.points)))
	}
	if out == nil {
		out = []string{wording.Drill(c.lang, "class.none")}
	}
	return out
}
