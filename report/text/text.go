// Package text writes a report as plain text, 79 columns, in the order of the
// other forms. A table becomes one paragraph a row, each cell with the name of
// its column, so that it reads well aloud and never wraps into its neighbor.
package text

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode"

	"cazward/procedure"
	"cazward/report"
)

// Width is the number of columns that no line goes beyond.
const Width = 79

// Write writes the report. The error is that of w.
func Write(w io.Writer, r report.Report) error {
	b := bufio.NewWriter(w)
	p := printer{b}
	p.head(r)
	p.decision(r)
	for _, s := range r.Sections {
		p.section(r, s)
	}
	p.rule("-")
	p.head(r)
	return b.Flush()
}

type printer struct{ w *bufio.Writer }

func (p printer) head(r report.Report) {
	if r.Mark != "" {
		p.para("", "", "*** "+r.Mark+" ***")
	}
	p.para("", "", r.Title)
	p.para("", "", r.Label("closing-of", r.Hash))
}

func (p printer) decision(r report.Report) {
	d := r.Decision
	edge := "="
	if d.Code == procedure.Leave {
		edge = "#"
	}
	p.rule(edge)
	word := d.Word
	if d.Code != procedure.Proceed {
		word = `/!\ ` + word
	}
	lines := wrap(d.Headline, Width-20-len(d.Code)-2)
	for i, l := range lines {
		left, code := "", ""
		if i == 0 {
			left, code = word, string(d.Code)
		}
		line := fmt.Sprintf(" %-18s %s", left, l)
		p.line(line + strings.Repeat(" ", max(1, Width-cells(line)-len(code))) + code)
	}
	p.rule(edge)
	p.facts(d.Facts)
	p.line("")
	p.numbered(r.Label("why"), d.Why)
	p.numbered(r.Label("do"), d.Do)
	for i, a := range d.Appliances {
		p.block(first(r.Label("appliances"), i), a.Words+": "+strings.Join(a.Names, ", "))
	}
	p.block(r.Label("put-back"), d.PutBack.Text)
	for _, o := range d.PutBack.Open {
		p.block("", r.Label("open-item", o))
	}
	p.list(r.Label("not-tested-list"), d.NotTested, r.Label("none"))
	p.list(r.Label("risks"), d.Risks, r.Label("none"))
	p.list(r.Label("cautions"), d.Cautions, r.Label("none"))
	p.block(d.HoldsLabel, d.Holds)
	p.line("")
}

// labelWidth is where the text beside the labels of page 1 begins.
const labelWidth = 19

func (p printer) block(label, text string) {
	p.para(fmt.Sprintf(" %-*s", labelWidth-1, label), strings.Repeat(" ", labelWidth), text)
}

func (p printer) numbered(label string, list []string) {
	for i, t := range list {
		p.para(fmt.Sprintf(" %-*s%2d ", labelWidth-4, first(label, i), i+1), strings.Repeat(" ", labelWidth), t)
	}
}

func (p printer) list(label string, list []string, none string) {
	if len(list) == 0 {
		p.block(label, none)
	}
	for i, t := range list {
		p.block(first(label, i), t)
	}
}

func first(label string, i int) string {
	if i > 0 {
		return ""
	}
	return label
}

func (p printer) facts(list []report.Fact) {
	w := 0
	for _, f := range list {
		w = max(w, cells(f.Name))
	}
	for _, f := range list {
		first, next := " "+f.Name+strings.Repeat(" ", w-cells(f.Name))+"  ", strings.Repeat(" ", w+3)
		for _, word := range strings.Fields(f.Value) {
			if cells(word) > Width-w-3 { // a hash stays in one piece
				p.line(first)
				first, next = "   ", "   "
				break
			}
		}
		p.para(first, next, f.Value)
	}
}

func (p printer) section(r report.Report, s report.Section) {
	p.line(strings.ToUpper(s.Title))
	p.rule("-")
	p.facts(s.Facts)
	for _, n := range s.Notes {
		p.para(" ", " ", n)
	}
	for _, t := range s.Tables {
		if t.Title != "" {
			p.line("")
			p.para(" ", " ", t.Title+":")
		}
		for _, row := range t.Rows {
			p.row(t, row)
		}
	}
	for _, c := range s.Sealing {
		p.line("")
		p.para(" ", " ", c.Title+":")
		for _, l := range c.Plain {
			p.line(l)
		}
		p.para("        ", "        ", c.PlainKey)
	}
	for _, f := range s.Photos {
		p.para("    ", "      ", strings.TrimSuffix(f.Caption+": "+f.Why, ": "))
	}
	p.line("")
}

// row prints "first cell | Head: cell | Head: cell"; a span row stands alone.
func (p printer) row(t report.Table, row report.Row) {
	if row.Span {
		p.para(" - ", "   ", strings.Join(row.Cells, " "))
		return
	}
	mark := " "
	if row.Bold > 0 {
		mark = "*"
	}
	var parts []string
	for i, c := range row.Cells {
		if c == "" {
			continue
		}
		if i > 0 {
			c = t.Columns[i].Head + ": " + c
		}
		parts = append(parts, c)
	}
	p.para("  "+mark+" ", "      ", strings.Join(parts, " | "))
}

func (p printer) rule(edge string) { p.line(strings.Repeat(edge, Width)) }

func (p printer) line(s string) {
	p.w.WriteString(strings.TrimRight(s, " "))
	p.w.WriteByte('\n')
}

// para wraps text after a first indent and further ones.
func (p printer) para(indent, next, text string) {
	if cells(indent) > len(next) && next != "" {
		p.line(indent)
		indent = next
	}
	lines := wrap(text, Width-max(cells(indent), cells(next)))
	if len(lines) == 0 {
		lines = []string{""}
	}
	for i, l := range lines {
		if i > 0 {
			indent = next
		}
		p.line(indent + l)
	}
}

// wrap breaks at spaces; a word longer than the line is cut.
func wrap(text string, width int) []string {
	var out []string
	line, n := "", 0
	for _, w := range strings.Fields(text) {
		c := cells(w)
		if n > 0 && n+1+c <= width {
			line, n = line+" "+w, n+1+c
			continue
		}
		if n > 0 {
			out = append(out, line)
		}
		for c > width {
			at, k := 0, 0
			for i, r := range w {
				if k+runeCells(r) > width {
					at = i
					break
				}
				k += runeCells(r)
			}
			if at == 0 {
				break // a single rune wider than the line
			}
			out = append(out, w[:at])
			w = w[at:]
			c -= k
		}
		line, n = w, c
	}
	if n > 0 {
		out = append(out, line)
	}
	return out
}

// cells is the width of s on a screen.
func cells(s string) int {
	n := 0
	for _, r := range s {
		n += runeCells(r)
	}
	return n
}

// runeCells: combining marks take no column, East Asian wide ones two.
func runeCells(r rune) int {
	switch {
	case unicode.In(r, unicode.Mn, unicode.Me):
		return 0
	case r >= 0x1100 && r <= 0x115F, r >= 0x2E80 && r <= 0xA4CF, r >= 0xAC00 && r <= 0xD7A3, r >= 0xF900 && r <= 0xFAFF, r >= 0xFE30 && r <= 0xFE6F, r >= 0xFF00 && r <= 0xFF60, r >= 0xFFE0 && r <= 0xFFE6:
		return 2
	}
	return 1
}
