// Package paper is what the one-page notice and the field sheet are drawn
// with: a page of letter or A4, one typeface, text that is measured before it
// is drawn. Everything is black on white, and the same calls give the same
// bytes.
package paper

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/go-pdf/fpdf"

	"cazward/report"
)

// CapHeight is the height of a capital letter of the bold face, in parts of
// the size of the type (the letter H, as a test reads it from the face).
const CapHeight = 1493.0 / 2048

// MM is a point in millimetres.
const MM = 25.4 / 72

// Page is a document being drawn. Lengths are millimetres, sizes of type are
// points; y grows downwards.
type Page struct {
	F     *fpdf.Fpdf
	W, H  float64
	style string
	size  float64
	known [2]map[rune]float64
}

// New begins a document without a page. Size is letter (also "") or a4.
func New(size, lang, title, program string, stamp time.Time) (*Page, error) {
	paper := map[string]string{"": "Letter", "letter": "Letter", "a4": "A4"}[size]
	if paper == "" {
		return nil, fmt.Errorf("paper: size %q is not known: letter or a4", size)
	}
	f := fpdf.New("P", "mm", paper, "")
	p := &Page{F: f}
	p.W, p.H = f.GetPageSize()
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.SetCellMargin(0)
	f.SetCatalogSort(true)
	if stamp.IsZero() { // fpdf would take the clock
		stamp = time.Unix(0, 0).UTC()
	}
	f.SetCreationDate(stamp)
	f.SetModificationDate(stamp)
	f.SetLang(lang)
	f.SetTitle(report.Clean(title), true)
	f.SetCreator(report.Clean(strings.TrimSpace("cazward "+program)), true)
	f.SetProducer("cazward", true)
	f.AddUTF8FontFromBytes("dejavu", "", dejavusanscondensed.TTF)
	f.AddUTF8FontFromBytes("dejavu", "B", dejavusanscondensedbold.TTF)
	return p, nil
}

// Write ends the document.
func (p *Page) Write(w io.Writer) error {
	if err := p.F.Error(); err != nil {
		return fmt.Errorf("paper: %w", err)
	}
	return p.F.Output(w)
}

// Font sets style ("" or "B") and size in points for what follows.
func (p *Page) Font(style string, size float64) {
	p.style, p.size = style, size
	p.F.SetFont("dejavu", style, size)
}

// Lead is the height of a line in the present font.
func (p *Page) Lead() float64 { return p.size * MM * 1.25 }

// Width of s in the present font.
func (p *Page) Width(s string) float64 {
	i := 0
	if p.style == "B" {
		i = 1
	}
	if p.known[i] == nil {
		p.known[i] = map[rune]float64{}
	}
	sum := 0.0
	for _, r := range s {
		w, ok := p.known[i][r]
		if !ok {
			w = float64(p.F.GetStringSymbolWidth(string(r)))
			p.known[i][r] = w
		}
		sum += w
	}
	return sum * p.size * MM / 1000
}

// Put draws one line whose top is at y.
func (p *Page) Put(x, y float64, s string) {
	if s != "" {
		p.F.Text(x, y+p.size*MM*0.95, report.Clean(s))
	}
}

// Wrap breaks s into lines of the present font. A word wider than the line is
// cut where it must be; several spaces, for blanks to write on, become one.
func (p *Page) Wrap(s string, width float64) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(report.Clean(s)) {
		if try := strings.TrimPrefix(line+" "+word, " "); p.Width(try) <= width {
			line = try
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		for {
			at, wide := 0, 0.0
			for i, r := range word {
				if wide += p.Width(string(r)); wide > width && i > 0 {
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

// Text draws wrapped text from y on and returns the y below it.
func (p *Page) Text(x, y, width float64, s string) float64 {
	for _, l := range p.Wrap(s, width) {
		p.Put(x, y, l)
		y += p.Lead()
	}
	return y
}

// Fit cuts s to a width, with three points.
func (p *Page) Fit(s string, width float64) string {
	s = report.Clean(s)
	if p.Width(s) <= width {
		return s
	}
	r := []rune(s)
	r = r[:min(len(r), 400)] // no line has room for more
	for len(r) > 0 && p.Width(string(r)+"...") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "..."
}

// Box is an empty square to tick.
func (p *Page) Box(x, y, side float64) {
	p.F.SetLineWidth(0.25)
	p.F.Rect(x, y, side, side, "D")
}

// Rule draws a line to write on.
func (p *Page) Rule(x, y, width float64) {
	p.F.SetLineWidth(0.2)
	p.F.Line(x, y, x+width, y)
}
