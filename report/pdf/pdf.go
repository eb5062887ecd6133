// Package pdf writes a report as PDF: the decision on page 1, then all that it
// rests on. Use [Write].
//
// Everything is black and grey, and no meaning hangs on a shade. The same
// report gives the same bytes. The file carries title, language and an
// outline, but no structure tree: fpdf writes none, so the HTML form is the
// one for screen readers.
//
// The typeface is DejaVu Sans Condensed; LICENSE-DejaVu is its licence.
package pdf

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/go-pdf/fpdf"

	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/chart"
)

// Options of the paper.
type Options struct {
	Size string // "letter" (also ""), "a4"
}

// Page geometry in millimetres.
const (
	margin    = 15.0
	top       = 21.0 // of the body, below the running head
	footSpace = 19.0
	bodySize  = 8.6 // points
	tableSize = 7.6
)

// Write writes the report. It refuses an unknown size; other errors are of
// the PDF library, or of w.
func Write(w io.Writer, r report.Report, o Options) error {
	size := ""
	switch o.Size {
	case "", "letter":
		size = "Letter"
	case "a4":
		size = "A4"
	default:
		return fmt.Errorf("pdf: size %q is not known: letter or a4", o.Size)
	}
	f := fpdf.New("P", "mm", size, "")
	d := &doc{f: f, r: r}
	d.w, d.h = f.GetPageSize()
	d.bottom = d.h - footSpace
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(margin, top, margin)
	f.SetCellMargin(0)
	f.SetCatalogSort(true)
	stamp := r.Stamp
	if stamp.IsZero() { // fpdf would take the clock
		stamp = time.Unix(0, 0).UTC()
	}
	f.SetCreationDate(stamp)
	f.SetModificationDate(stamp)
	lang := r.Lang
	if lang == "" {
		lang = wording.English
	}
	f.SetLang(string(lang))
	f.SetTitle(report.Clean(r.Title), true)
	f.SetSubject(report.Clean(r.Decision.Headline), true)
	f.SetCreator(report.Clean(strings.TrimSpace("cazward "+r.Program)), true)
	f.SetProducer("cazward", true)
	f.AddUTF8FontFromBytes("dejavu", "", dejavusanscondensed.TTF)
	f.AddUTF8FontFromBytes("dejavu", "B", dejavusanscondensedbold.TTF)

	d.decision()
	d.page()
	if d.cut {
		d.everyLine()
	}
	for _, s := range r.Sections {
		d.section(s)
	}
	d.feet()
	if err := f.Error(); err != nil {
		return fmt.Errorf("pdf: %w", err)
	}
	return f.Output(w)
}

// doc is a document being written; y is where the next line goes.
type doc struct {
	f         *fpdf.Fpdf
	r         report.Report
	w, h      float64
	bottom, y float64
	style     string
	size      float64
	cut       bool // page 1 left lines out
	photos    int  // drawn so far
	widths    [2]map[rune]float64
}

func (d *doc) font(style string, size float64) {
	d.style, d.size = style, size
	d.f.SetFont("dejavu", style, size)
}

// lead is the height of a line of the present font, millimetres.
func (d *doc) lead() float64 { return d.size * 0.3528 * 1.27 }

// width of s in the present font, millimetres.
func (d *doc) width(s string) float64 {
	i := 0
	if d.style == "B" {
		i = 1
	}
	if d.widths[i] == nil {
		d.widths[i] = map[rune]float64{}
	}
	sum := 0.0
	for _, r := range s {
		w, ok := d.widths[i][r]
		if !ok {
			w = float64(d.f.GetStringSymbolWidth(string(r)))
			d.widths[i][r] = w
		}
		sum += w
	}
	return sum * d.size * 0.3528 / 1000
}

// put draws one line whose top is at y.
func (d *doc) put(x, y float64, s string) {
	if s != "" {
		d.f.Text(x, y+d.size*0.3528*0.95, visual(set(s)))
	}
}

// wrap breaks s into lines of the present font; a word wider than the line is
// cut where it must be.
func (d *doc) wrap(s string, width float64) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(set(s)) {
		try := word
		if line != "" {
			try = line + " " + word
		}
		if d.width(try) <= width {
			line = try
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		for {
			at, wide := 0, 0.0
			for i, r := range word {
				if wide += d.width(string(r)); wide > width && i > 0 {
					at = i
					break
				}
			}
			if at == 0 {
				break
			}
			out = append(out, word[:at])
			word = word[at:]
		}
		line = word
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}

// set is a text as it is drawn: clean, with the signs of print.
func set(s string) string { return report.Typeset(report.Clean(s)) }

// page starts a page with its running head.
func (d *doc) page() {
	d.f.AddPage()
	d.f.SetDrawColor(0, 0, 0)
	d.font("", 7)
	d.put(margin, 10, d.fit(d.r.Title, d.w-2*margin-d.markWidth()))
	d.mark()
	d.f.SetLineWidth(0.2)
	d.f.Line(margin, 15, d.w-margin, 15)
	d.y = top
}

func (d *doc) markWidth() float64 {
	if d.r.Mark == "" {
		return 0
	}
	return d.width(d.r.Mark)*1.2 + 6
}

// mark boxes the practice mark at the upper right.
func (d *doc) mark() {
	if d.r.Mark == "" {
		return
	}
	d.font("B", 7)
	w := d.width(d.r.Mark)
	d.f.SetLineWidth(0.5)
	d.f.Rect(d.w-margin-w-3, 8.4, w+3, 5, "D")
	d.put(d.w-margin-w-1.5, 9.5, d.r.Mark)
}

// fit cuts s to a width, with three points.
func (d *doc) fit(s string, width float64) string {
	s = set(s)
	if d.width(s) <= width {
		return s
	}
	r := []rune(s)
	r = r[:min(len(r), 400)] // no line has room for more
	for len(r) > 0 && d.width(string(r)+"...") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "..."
}

// feet draws the foot of every page, now that their number is known.
func (d *doc) feet() {
	n := d.f.PageCount()
	for i := 1; i <= n; i++ {
		d.f.SetPage(i)
		d.f.SetDrawColor(0, 0, 0)
		d.f.SetFillColor(0, 0, 0) // text takes the fill that the page last set
		d.f.SetLineWidth(0.2)
		y := d.h - 14.5
		d.f.Line(margin, y, d.w-margin, y)
		d.font("B", 7)
		page := d.r.Label("page-of", i, n)
		d.put(margin, y+1, page)
		if d.r.Mark != "" {
			d.put(d.w-margin-d.width(d.r.Mark), y+1, d.r.Mark)
		}
		left := margin + d.width(page) + 6
		d.font("", 7)
		d.put(left, y+1, d.fit(d.r.Label("record")+" "+d.r.Record, d.w-margin-left-d.markWidth()))
		d.font("", 6.6)
		d.put(margin, y+4.4, d.r.Label("closing-of", d.r.Hash))
	}
}

// need breaks the page unless so much height is left.
func (d *doc) need(height float64) {
	if d.y+height > d.bottom {
		d.page()
	}
}

// para writes wrapped text and breaks pages between its lines.
func (d *doc) para(x, width float64, s string) {
	style, size := d.style, d.size
	for _, l := range d.wrap(s, width) {
		d.need(d.lead())
		d.font(style, size)
		d.put(x, d.y, l)
		d.y += d.lead()
	}
}

func (d *doc) heading(s string, room float64) {
	d.need(10 + room)
	d.y += 2
	d.f.Bookmark(report.Clean(s), 0, d.y)
	d.font("B", 11)
	d.put(margin, d.y, s)
	d.y += d.lead() + 0.6
	d.f.SetLineWidth(0.4)
	d.f.Line(margin, d.y, d.w-margin, d.y)
	d.y += 1.6
}

func (d *doc) section(s report.Section) {
	room := 8.0 // a heading never stands alone at the foot
	if len(s.Tables) > 0 {
		room = 32
	}
	if len(s.Photos) > 0 && len(s.Tables) == 0 {
		room = photoHeight(d)
	}
	d.heading(s.Title, room)
	d.facts(s.Facts)
	for _, n := range s.Notes {
		d.font("", bodySize-0.6)
		d.para(margin, d.w-2*margin, n)
		d.y += 0.8
	}
	for _, t := range s.Tables {
		d.table(t)
	}
	for _, g := range chart.All(d.r, s, d.w-2*margin, d.measure) {
		d.draw(g)
	}
	for _, p := range s.Photos {
		d.photo(p)
	}
	d.y += 3
}

func (d *doc) facts(list []report.Fact) {
	d.font("B", bodySize)
	w := 0.0
	for _, f := range list {
		w = max(w, d.width(set(f.Name)))
	}
	for _, f := range list {
		d.font("", bodySize)
		lines := d.wrap(f.Value, d.w-2*margin-w-4)
		d.need(d.lead() * float64(max(1, min(len(lines), 3))))
		d.font("B", bodySize)
		d.put(margin, d.y, f.Name)
		d.font("", bodySize)
		d.para(margin+w+4, d.w-2*margin-w-4, f.Value)
		if len(lines) == 0 {
			d.y += d.lead()
		}
	}
	if len(list) > 0 {
		d.y += 1.2
	}
}

// visual puts runs of right-to-left letters into the order in which they are
// drawn; PDF readers turn them back when they take the text out.
func visual(s string) string {
	r := []rune(s)
	turned := false
	for i := 0; i < len(r); i++ {
		if !rightToLeft(r[i]) {
			continue
		}
		end := i
		for k := i; k < len(r) && (rightToLeft(r[k]) || r[k] == ' ' || r[k] == '\'' || r[k] == '-'); k++ {
			if rightToLeft(r[k]) {
				end = k
			}
		}
		for a, b := i, end; a < b; a, b = a+1, b-1 {
			r[a], r[b] = r[b], r[a]
		}
		turned, i = true, end
	}
	if !turned {
		return s
	}
	return string(r)
}

// rightToLeft covers Hebrew, Arabic and their neighbors, as far as the
// typeface has them.
func rightToLeft(r rune) bool {
	return r >= 0x0590 && r <= 0x08FF || r >= 0xFB1D && r <= 0xFDFF || r >= 0xFE70 && r <= 0xFEFE
}
