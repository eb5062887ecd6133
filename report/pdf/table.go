package pdf

import (
	"strings"

	"cazward/report"
)

// Around the text of a cell, millimetres.
const (
	pad  = 0.8
	side = 1.2
)

// table draws a table. Rows break between lines where they must, the head is
// repeated on each page, and so is the span row that heads the present rows.
func (d *doc) table(t report.Table) {
	d.need(15)
	if whole := d.tableHeight(t); t.Whole && whole < d.bottom-top {
		d.need(whole)
	}
	if t.Title != "" {
		d.y += 1
		d.font("B", bodySize)
		d.put(margin, d.y, t.Title)
		d.y += d.lead() + 0.4
	}
	sum := 0.0
	for _, c := range t.Columns {
		sum += c.Weight
	}
	w := make([]float64, len(t.Columns))
	for i, c := range t.Columns {
		w[i] = c.Weight / sum * (d.w - 2*margin)
	}
	d.tableHead(t, w)
	span := ""
	fresh := func() {
		d.page()
		d.tableHead(t, w)
		if span != "" {
			d.spanRow(span + " " + d.r.Label("continued"))
		}
	}
	for i, row := range t.Rows {
		if row.Span {
			words := strings.Join(row.Cells, " ")
			if span = words; row.After {
				span = ""
			}
			d.font("B", tableSize)
			h := float64(len(d.wrap(words, d.w-2*margin-2*side)))*d.lead() + 2*pad
			if i+1 < len(t.Rows) && !row.After {
				h += 2*d.lead() + 2*pad // never alone at the foot
			}
			if d.y+h > d.bottom {
				d.page()
				d.tableHead(t, w)
			}
			d.spanRow(words)
			continue
		}
		d.row(t, row, w, fresh)
	}
	d.y += 2
}

// tableHeight is the room that a table takes if nothing breaks it.
func (d *doc) tableHeight(t report.Table) float64 {
	if !t.Whole {
		return 0
	}
	sum := 0.0
	for _, c := range t.Columns {
		sum += c.Weight
	}
	d.font("B", bodySize)
	h := 4*d.lead() + 2*pad // title and head
	d.font("B", tableSize)
	for _, row := range t.Rows {
		n := 1
		for i, c := range row.Cells {
			if i < len(t.Columns) {
				n = max(n, len(d.wrap(c, t.Columns[i].Weight/sum*(d.w-2*margin)-2*side)))
			}
		}
		h += float64(n)*d.lead() + 2*pad
	}
	return h
}

func (d *doc) tableHead(t report.Table, w []float64) {
	d.font("B", tableSize)
	n := 1
	heads := make([][]string, len(w))
	for i, c := range t.Columns {
		heads[i] = d.wrap(c.Head, w[i]-2*side)
		n = max(n, len(heads[i]))
	}
	x := margin
	for i, c := range t.Columns {
		d.cell(x, d.y+pad, w[i], heads[i], c.Right)
		x += w[i]
	}
	d.y += float64(n)*d.lead() + 2*pad
	d.f.SetLineWidth(0.35)
	d.f.Line(margin, d.y, d.w-margin, d.y)
}

func (d *doc) spanRow(s string) {
	d.font("B", tableSize)
	lines := d.wrap(s, d.w-2*margin-2*side)
	h := float64(len(lines))*d.lead() + 2*pad
	d.f.SetFillColor(232, 232, 232)
	d.f.Rect(margin, d.y, d.w-2*margin, h, "F")
	for i, l := range lines {
		d.put(margin+side, d.y+pad+float64(i)*d.lead(), l)
	}
	d.y += h
}

func (d *doc) row(t report.Table, row report.Row, w []float64, fresh func()) {
	style := func(i int) {
		s := ""
		if i < row.Bold {
			s = "B"
		}
		d.font(s, tableSize)
	}
	cells := make([][]string, len(w))
	n := 1
	for i := range w {
		if i < len(row.Cells) {
			style(i)
			cells[i] = d.wrap(row.Cells[i], w[i]-2*side)
			n = max(n, len(cells[i]))
		}
	}
	if d.y+float64(n)*d.lead()+2*pad > d.bottom {
		fresh()
	}
	for done := 0; done < n; {
		style(0)
		k := min(n-done, max(1, int((d.bottom-d.y-2*pad)/d.lead())))
		x := margin
		for i := range w {
			if done < len(cells[i]) {
				style(i)
				d.cell(x, d.y+pad, w[i], cells[i][done:min(done+k, len(cells[i]))], t.Columns[i].Right)
			}
			x += w[i]
		}
		d.y += float64(k)*d.lead() + 2*pad
		done += k
		d.f.SetLineWidth(0.1)
		d.f.SetDrawColor(120, 120, 120)
		d.f.Line(margin, d.y, d.w-margin, d.y)
		d.f.SetDrawColor(0, 0, 0)
		if done < n {
			fresh()
		}
	}
}

func (d *doc) cell(x, y, w float64, lines []string, right bool) {
	for i, l := range lines {
		at := x + side
		if right {
			at = x + w - side - d.width(l)
		}
		d.put(at, y+float64(i)*d.lead(), l)
	}
}
