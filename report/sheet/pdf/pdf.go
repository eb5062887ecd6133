// Package pdf draws the blank field sheet on letter or A4. Use [Write].
package pdf

import (
	"io"
	"strconv"
	"strings"
	"time"

	"cazward/report/paper"
	"cazward/report/sheet"
)

// Options of the paper.
type Options struct {
	Size string // "letter" (also ""), "a4"
}

// Lengths in millimetres, sizes in points.
const (
	margin   = 12.0
	top      = 18.0
	foot     = 18.0
	ask      = 9.2
	small    = 7.4
	tiny     = 6.6
	writeRow = 8.0 // height of a line to write on, for a pencil and a glove
	box      = 3.4
)

// Write draws the sheet. It refuses an unknown size.
func Write(w io.Writer, s sheet.Sheet, o Options) error {
	p, err := paper.New(o.Size, string(s.Lang), s.Title+" - "+s.Scheme, s.Program, time.Time{})
	if err != nil {
		return err
	}
	d := &doc{Page: p, s: s}
	d.page()
	d.head()
	for i, part := range s.Parts {
		d.part(i+1, part)
	}
	d.feet()
	return p.Write(w)
}

type doc struct {
	*paper.Page
	s sheet.Sheet
	y float64
	// running head of a part that goes on: its number, title and blank
	running string
}

func (d *doc) width() float64 { return d.W - 2*margin }

func (d *doc) page() {
	d.F.AddPage()
	d.Font("B", 8)
	d.Put(margin, 8, d.s.Title)
	size := 7.4
	for d.Font("", size); size > 5.4 && d.Width(d.s.Sub) > d.width(); d.Font("", size) {
		size -= 0.2
	}
	d.Put(margin, 11.6, d.Fit(d.s.Sub, d.width()))
	d.F.SetLineWidth(0.3)
	d.F.Line(margin, 15.4, d.W-margin, 15.4)
	d.y = top
	if d.running != "" {
		d.Font("B", 8)
		d.Put(margin, d.y, d.running)
		d.y += d.Lead() + 1.5
	}
}

// need breaks the page unless so much height is left.
func (d *doc) need(h float64) {
	if d.y+h > d.H-foot {
		d.page()
	}
}

func (d *doc) text(x, width, size float64, style, s string) {
	d.Font(style, size)
	for _, l := range d.Wrap(s, width) {
		d.Put(x, d.y, l)
		d.y += d.Lead()
	}
}

// height of wrapped text.
func (d *doc) height(width, size float64, style, s string) float64 {
	d.Font(style, size)
	return float64(len(d.Wrap(s, width))) * d.Lead()
}

// head is what stands on page 1 alone.
func (d *doc) head() {
	d.Font("B", 17)
	d.Put(margin, d.y, d.s.Title)
	d.y += d.Lead() + 1
	d.blanks(margin, d.width(), d.s.Blanks)
	for _, l := range d.s.How {
		d.text(margin, d.width(), 8.4, "", l)
	}
	d.y += 2
}

func (d *doc) part(n int, p sheet.Part) {
	title := strconv.Itoa(n) + "  " + p.Title
	d.running = ""
	room := 46.0
	for _, c := range p.Cautions {
		room += d.height(d.width()-30, 8, "", c.Text) + 1
	}
	d.need(min(room, d.H-foot-top-10))
	d.F.Bookmark(title, 0, d.y)
	// A black bar with the place; what the copy is for stands on it.
	h := 7.2
	d.F.SetFillColor(0, 0, 0)
	d.F.Rect(margin, d.y, d.width(), h, "F")
	d.F.SetTextColor(255, 255, 255)
	d.Font("B", 11)
	d.Put(margin+2, d.y+1.3, title)
	d.F.SetTextColor(0, 0, 0)
	d.y += h + 1.5
	if p.Copy != "" {
		d.Font("B", 9.5)
		d.Put(margin, d.y+1.5, p.Copy)
		d.Rule(margin+d.Width(p.Copy)+2, d.y+6, 70)
		d.y += 8
	}
	for _, c := range p.Cautions {
		d.need(d.height(d.width()-30, 8, "", c.Text) + 1)
		d.Font("B", 8)
		word := c.Word
		d.Put(margin, d.y, word)
		d.text(margin+27, d.width()-27, 8, "", c.Text)
		d.y += 0.7
	}
	if len(p.Cautions) > 0 {
		d.y += 0.8
	}
	d.running = title
	for i, r := range p.Rows {
		if r.Ask == "" && i+1 < len(p.Rows) { // where to go stays with what is done there
			d.need(d.measure(r) + d.measure(p.Rows[i+1]))
		}
		d.row(r)
	}
	d.y += 3.5
	d.running = ""
}

// row draws one field. It is measured first, so that it never breaks within,
// unless it is longer than a page.
func (d *doc) row(r sheet.Row) {
	h := d.measure(r)
	d.need(min(h, d.H-foot-top-14))
	d.F.SetLineWidth(0.15)
	d.F.Line(margin, d.y, d.W-margin, d.y)
	d.y += 1.1
	width := d.width()
	if r.Ask != "" {
		d.Font("", tiny)
		field := 0.0
		if r.Field != "" {
			field = d.Width(r.Field) + 3
			d.Put(d.W-margin-field+3, d.y+0.6, r.Field)
		}
		d.text(margin, width-field, ask, "B", r.Ask)
	}
	for _, t := range r.How {
		d.text(margin, width, small, "", t)
	}
	if len(r.Choices) > 0 {
		d.choices(r.Choices, true)
	}
	if len(r.List) > 0 {
		d.choices(r.List, false)
	}
	if len(r.Columns) > 0 {
		d.columns(r)
	} else {
		d.items(r.Items)
	}
	style := ""
	if r.Ask == "" {
		style = "B"
	}
	for _, t := range r.Lines {
		d.need(4)
		d.text(margin, width, 8, style, t)
	}
	d.blanks(margin, width, r.Blanks)
	d.y += 0.8
}

func (d *doc) measure(r sheet.Row) float64 {
	h := 2.0
	width := d.width()
	if r.Ask != "" {
		d.Font("", tiny)
		h += d.height(width-d.Width(r.Field)-3, ask, "B", r.Ask)
	}
	for _, t := range r.How {
		h += d.height(width, small, "", t)
	}
	for _, list := range [][]string{r.Choices, r.List} {
		if len(list) > 0 {
			h += float64((len(list)+d.perLine(list)-1)/d.perLine(list)) * 3.8
		}
	}
	if len(r.Columns) > 0 {
		h += 10 + float64(len(r.Items))*4.6
	} else {
		h += float64((len(r.Items)+1)/2) * 5.2
	}
	for _, t := range r.Lines {
		h += d.height(width, 8, "", t)
	}
	if len(r.Blanks) > 0 {
		h += writeRow * float64((len(r.Blanks)+perRow-1)/perRow)
	}
	return h
}

// perLine is how many choices of equal width go beside each other.
func (d *doc) perLine(list []string) int {
	d.Font("", 8)
	most := 0.0
	for i, c := range list {
		most = max(most, d.Width(strconv.Itoa(i+1)+"  "+c)+5)
	}
	return max(1, int(d.width()/most))
}

func (d *doc) choices(list []string, numbered bool) {
	n := d.perLine(list)
	rows := (len(list) + n - 1) / n
	n = (len(list) + rows - 1) / rows
	w := d.width() / float64(n)
	for i, c := range list {
		x := margin + float64(i%n)*w
		if numbered {
			d.Font("B", 8)
			d.Put(x, d.y, strconv.Itoa(i+1))
			x += 5
		}
		d.Font("", 8)
		d.Put(x, d.y, c)
		if i%n == n-1 || i == len(list)-1 {
			d.y += 3.8
		}
	}
}

// items are lines to tick, two beside each other.
func (d *doc) items(list []sheet.Item) {
	w := d.width() / 2
	for i, it := range list {
		x := margin + float64(i%2)*w
		d.Box(x, d.y+0.5, box)
		at := x + box + 1.6
		d.Font("B", 8)
		if len(it.Nums) == 1 {
			d.Put(at, d.y+0.5, strconv.Itoa(it.Nums[0]))
			at += 4
		}
		t := it.Text
		if it.When != "" {
			t += "  (" + it.When + ")"
		}
		d.Font("", 8)
		for size := 8.0; size > 5.5 && d.Width(t) > w-(at-x)-2; size -= 0.25 {
			d.Font("", size)
		}
		d.Put(at, d.y+0.5, t)
		if i%2 == 1 || i == len(list)-1 {
			d.y += 5.2
		}
	}
}

// columns are lines with other numbers for other appliances.
func (d *doc) columns(r sheet.Row) {
	const col = 14.4
	text := d.width() - col*float64(len(r.Columns))
	d.Font("", 6.2)
	rows := 1
	for _, c := range r.Columns {
		rows = max(rows, len(d.Wrap(c, col-1)))
	}
	for i, c := range r.Columns {
		for k, l := range d.Wrap(c, col-1) {
			d.Put(margin+text+float64(i)*col+(col-d.Width(l))/2, d.y+float64(k)*d.Lead(), l)
		}
	}
	d.y += float64(rows)*d.Lead() + 0.8
	for n, it := range r.Items {
		if n%2 == 0 {
			d.F.SetFillColor(236, 236, 236)
			d.F.Rect(margin, d.y, d.width(), 4.6, "F")
			d.F.SetFillColor(0, 0, 0)
		}
		d.Box(margin+0.5, d.y+0.6, box)
		d.Font("", 8)
		d.Put(margin+box+2.2, d.y+0.5, d.Fit(it.Text, text-box-3))
		d.Font("B", 8)
		for i, num := range it.Nums {
			t := "-"
			if num > 0 {
				t = strconv.Itoa(num)
			}
			d.Put(margin+text+float64(i)*col+(col-d.Width(t))/2, d.y+0.5, t)
		}
		d.y += 4.6
	}
	d.y += 1
}

// perRow is how many spaces to write into stand beside each other.
const perRow = 8

func (d *doc) blanks(x, width float64, labels []string) {
	for len(labels) > 0 {
		n := min(len(labels), perRow)
		row := labels[:n]
		labels = labels[n:]
		d.Font("", small)
		used := 0.0
		for _, l := range row {
			used += d.Width(l) + 1.5
		}
		each := (width - used - 3*float64(n)) / float64(n)
		if n <= 2 { // a short answer needs no line across the page
			each = min(each, 90)
		}
		at := x
		for _, l := range row {
			d.Put(at, d.y+3.2, l)
			at += d.Width(l) + 1.5
			d.Rule(at, d.y+6.6, each)
			at += each + 3
		}
		d.y += writeRow
	}
}

// feet draws the foot of each page, now that their number is known.
func (d *doc) feet() {
	n := d.F.PageCount()
	for i := 1; i <= n; i++ {
		d.F.SetPage(i)
		d.F.SetTextColor(0, 0, 0)
		d.F.SetFillColor(0, 0, 0)
		y := d.H - foot + 2
		d.F.SetLineWidth(0.2)
		d.F.Line(margin, y, d.W-margin, y)
		y += 0.8
		d.Font("", 6.6)
		for _, l := range d.Wrap(d.s.Foot, d.width()) {
			d.Put(margin, y, l)
			y += d.Lead()
		}
		d.Font("B", 7)
		page := strings.NewReplacer("{n}", strconv.Itoa(i), "{of}", strconv.Itoa(n)).Replace(d.s.PageOf)
		d.Put(d.W-margin-d.Width(page), d.H-9, page)
	}
}
