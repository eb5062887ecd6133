// Package pdf draws the notice for the people who live in a home on one page
// of letter or A4. Use [Write].
package pdf

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/go-pdf/fpdf"

	"cazward/procedure"
	"cazward/report/notice"
	"cazward/report/paper"
)

// Options of the paper.
type Options struct {
	Size string // "letter" (also ""), "a4"
}

// Lengths in millimetres.
const (
	margin = 14.0
	gap    = 7.0 // between the two columns
	// HeadlineCap is the least height of the capitals of the headline on
	// DANGER and WARNING.
	HeadlineCap = 12.0
	mildCap     = 8.5 // on CAUTION and NOTICE
)

// Sizes of the body, points: the largest that fits is taken.
const (
	largest  = 13.5
	smallest = 8.0
)

// Write draws the page. It refuses an unknown size, and a notice that does not
// go onto one page.
func Write(w io.Writer, n notice.Notice, o Options) error {
	p, err := paper.New(o.Size, string(n.Lang), n.Title+" - "+n.Facts[0].Value, n.Program, n.Stamp)
	if err != nil {
		return err
	}
	d := &doc{Page: p, n: n}
	p.F.SetSubject(n.Word+": "+n.Headline, true)
	p.F.AddPage()
	y := d.head()
	for room := notice.MaxFound; ; room-- {
		for size := largest; size >= smallest; size -= 0.25 {
			if d.body(y, size, room, false) <= d.H-margin+4 {
				d.body(y, size, room, true)
				return p.Write(w)
			}
		}
		if room <= 1 {
			return fmt.Errorf("notice: it does not go onto one page: shorten the names of the home and of the appliances")
		}
	}
}

type doc struct {
	*paper.Page
	n notice.Notice
}

// head draws mark, title, facts and the panel with the headline; it returns
// the y below them.
func (d *doc) head() float64 {
	y, width := margin-3, d.W-2*margin
	if d.n.Mark != "" {
		size := 22.0
		for d.Font("B", size); d.Width(d.n.Mark) > width-6; d.Font("B", size) {
			size -= 0.5
		}
		h := size*paper.MM + 4
		d.F.SetLineWidth(0.8)
		d.F.Rect(margin, y, width, h, "D")
		d.F.SetLineWidth(0.3)
		d.F.Rect(margin+1.2, y+1.2, width-2.4, h-2.4, "D")
		d.Put(margin+(width-d.Width(d.n.Mark))/2, y+2, d.n.Mark)
		y += h + 3
	}
	d.Font("B", 21)
	for _, l := range d.Wrap(d.n.Title, width) {
		d.Put(margin, y, l)
		y += d.Lead()
	}
	y += 0.5
	d.Font("", 9)
	var facts []string
	for _, f := range d.n.Facts {
		facts = append(facts, f.Name+": "+f.Value)
	}
	y = d.Text(margin, y, width, strings.Join(facts, "   ·   ")) + 2
	return d.panel(y, width) + 4
}

// panel is the signal word on black and the headline below it.
func (d *doc) panel(y, width float64) float64 {
	capital := mildCap
	if d.n.Decision != procedure.Proceed && d.n.Decision != procedure.Refer {
		capital = HeadlineCap
	}
	top := y
	bar := 13.0
	d.F.SetFillColor(0, 0, 0)
	d.F.Rect(margin, y, width, bar, "F")
	d.F.SetTextColor(255, 255, 255)
	x := margin + 4
	if d.n.Decision != procedure.Proceed { // the alert symbol goes with all but NOTICE
		d.F.SetFillColor(255, 255, 255)
		d.F.Polygon([]fpdf.PointType{{X: x, Y: y + 11}, {X: x + 10.4, Y: y + 11}, {X: x + 5.2, Y: y + 2}}, "F")
		d.F.SetFillColor(0, 0, 0)
		d.F.Rect(x+4.6, y+5, 1.2, 3.2, "F")
		d.F.Rect(x+4.6, y+8.9, 1.2, 1.2, "F")
		x += 14
	}
	d.Font("B", 27)
	d.Put(x, y+1.6, d.n.Word)
	d.F.SetTextColor(0, 0, 0)
	y += bar + 3.5
	d.Font("B", (capital+0.05)/paper.CapHeight/paper.MM)
	for _, l := range d.Wrap(d.n.Headline, width-8) {
		// The top of the capitals stands at y, the next line 5 mm below the last.
		d.F.Text(margin+4, y+capital, l)
		y += capital + 5
	}
	y -= 1
	d.F.SetLineWidth(1.2)
	d.F.Rect(margin+0.6, top+0.6, width-1.2, y-top-0.6, "D")
	return y
}

// body draws, or only measures, all below the panel; it returns the y below
// its last line.
func (d *doc) body(y, size float64, room int, draw bool) float64 {
	width := d.W - 2*margin
	left := (width - gap) * 0.57
	right := width - gap - left
	top, a := y, y
	for _, x := range []struct {
		p    notice.Part
		l    []string
		mark string
	}{{d.n.Found, d.n.Shown(room), "-"}, {d.n.Means, d.n.Means.Lines, ""}, {d.n.Do, d.n.Do.Lines, "1"}} {
		a = d.part(margin, a, left, size, x.p.Title, x.l, x.mark, draw)
	}
	x := margin + left + gap
	b := d.part(x, y, right, size, d.n.Signs.Title, d.n.Signs.Lines, "", draw)
	b = d.part(x, b, right, size, d.n.Not.Title, d.n.Not.Lines, "x", draw)
	y = max(a, b)
	if !draw { // the foot of the page is where the blanks and the last words stand
		return y + d.tail(y, false)
	}
	d.F.SetLineWidth(0.2)
	d.F.Line(margin+left+gap/2, top+1, margin+left+gap/2, y-3)
	d.tail(d.H-margin+4-d.tail(0, false), true)
	return y
}

// part draws a heading and its lines.
func (d *doc) part(x, y, width, size float64, title string, lines []string, mark string, draw bool) float64 {
	d.Font("B", size*1.18)
	for _, l := range d.Wrap(title, width) {
		if draw {
			d.Put(x, y, l)
		}
		y += d.Lead()
	}
	y += size * 0.04
	for i, t := range lines {
		in := 0.0
		if mark != "" {
			in = size * 0.45
			if len(lines) > 9 && mark == "1" {
				in = size * 0.62
			}
		}
		d.Font("", size)
		if draw && mark != "" {
			d.mark(x, y, size, mark, i)
		}
		d.Font("", size)
		for _, l := range d.Wrap(t, width-in) {
			if draw {
				d.Put(x+in, y, l)
			}
			y += d.Lead()
		}
		y += size * 0.06
	}
	return y + size*0.22
}

// mark draws what stands before a line: a dot, a number, a cross.
func (d *doc) mark(x, y, size float64, mark string, i int) {
	mid := y + size*paper.MM*0.62
	r := size * paper.MM * 0.16
	switch mark {
	case "-":
		d.F.Circle(x+r+0.3, mid, r, "F")
	case "x":
		r *= 1.5
		d.F.SetLineWidth(0.6)
		d.F.Line(x+0.3, mid-r, x+0.3+2*r, mid+r)
		d.F.Line(x+0.3, mid+r, x+0.3+2*r, mid-r)
	default:
		d.Font("B", size)
		d.Put(x, y, strconv.Itoa(i+1)+".")
	}
}

// tail is the table to write names and numbers into, and what the page defers
// to; it returns its height.
func (d *doc) tail(y float64, draw bool) float64 {
	width := d.W - 2*margin
	at := y
	d.Font("B", 12)
	if draw {
		d.F.SetLineWidth(0.5)
		d.F.Line(margin, at, d.W-margin, at)
		d.Put(margin, at+1.5, d.n.Call.Title)
	}
	at += d.Lead() + 2.5
	label := 0.0
	d.Font("B", 10)
	for _, c := range d.n.Call.Lines {
		label = max(label, d.Width(c))
	}
	for _, c := range d.n.Call.Lines {
		d.Font("B", 10)
		if draw {
			d.Put(margin, at, c)
			d.Font("", 8)
			x := margin + label + 4
			half := (width - label - 8) / 2
			for _, t := range []string{d.n.Name, d.n.Phone} {
				d.Put(x, at+0.8, t)
				d.Rule(x+d.Width(t)+1.5, at+4.4, half-d.Width(t)-4)
				x += half
			}
		}
		at += 7.2
	}
	at += 0.6
	d.Font("", 8.2)
	for _, t := range []string{d.n.Foot, strings.TrimPrefix(d.n.Hash.Name+": "+d.n.Hash.Value, ": ")} {
		for _, l := range d.Wrap(t, width) {
			if draw {
				d.Put(margin, at, l)
			}
			at += d.Lead()
		}
		d.Font("", 6.4)
	}
	return at - y
}
