package pdf

import (
	"strconv"
	"strings"

	"github.com/go-pdf/fpdf"

	"cazward/procedure"
)

// labelWidth is the column of the labels of page 1.
const labelWidth = 36.0

// block is one label of page 1 with its items.
type block struct {
	label string
	items []item
	bold  bool
}

type item struct{ number, text string }

// level is how tightly page 1 is set. The first that fits is taken, so that a
// short decision stands in large type.
type level struct {
	size     float64
	maxItems int // of reasons and things not tested
	maxLines int // of one item, 0 for all
}

var levels = []level{{12.6, 8, 0}, {11.8, 8, 0}, {11.1, 8, 0}, {10.4, 8, 0}, {9.8, 8, 0}, {9.2, 8, 0}, {8.6, 10, 0}, {7.8, 12, 0}, {7.8, 10, 8}, {7.6, 6, 3}}

// decision draws page 1.
func (d *doc) decision() {
	d.f.AddPage()
	d.f.Bookmark(d.r.Label("decision"), 0, 0)
	d.font("", 7)
	d.put(margin, 10, d.fit(d.r.Title, d.w-2*margin-d.markWidth()))
	d.mark()
	inset := 0.0
	if d.r.Decision.Code == procedure.Leave {
		inset = 4
		d.f.SetLineWidth(2.4)
		d.f.Rect(margin, 16, d.w-2*margin, d.bottom-16, "D")
	}
	x, width := margin+inset, d.w-2*(margin+inset)
	d.y = 17 + inset
	d.banner(x, width)
	y := d.y
	var chosen []block
	var lv level
	for _, lv = range levels {
		cut := false
		chosen, cut = d.blocks(lv)
		d.y = y + d.headFacts(x, width, false)
		h, short := d.height(chosen, lv, width)
		if d.cut = cut || short; d.y+h <= d.bottom-inset {
			break
		}
	}
	d.y = y
	d.y += d.headFacts(x, width, true)
	for _, b := range chosen {
		d.block(b, lv, x, width)
	}
}

// banner draws the signal word and the headline.
func (d *doc) banner(x, width float64) {
	code := string(d.r.Decision.Code)
	headSize, wordSize, in := 23.0, 19.0, 4.0
	if d.r.Decision.Code == procedure.Leave { // the frame of the page is its box
		headSize, wordSize, in = 40, 32, 0
	}
	var head []string
	for ; ; headSize-- {
		d.font("B", headSize)
		if head = d.wrap(d.r.Decision.Headline, width-2*in); len(head) <= 2 || headSize < 14 {
			break
		}
	}
	d.font("B", wordSize)
	height := 7 + d.lead() + float64(len(head))*headSize*0.3528*1.27
	if in > 0 {
		d.f.SetLineWidth(1.1)
		d.f.Rect(x, d.y, width, height, "D")
	}
	at := x + in
	if d.r.Decision.Code != procedure.Proceed {
		d.triangle(at, d.y+3, d.lead()*0.9)
		at += d.lead() + 3
	}
	d.put(at, d.y+3, d.r.Decision.Word)
	step := d.lead()
	d.font("", 8)
	d.put(x+width-in-d.width(code), d.y+3, code)
	y := d.y + 4 + step
	d.font("B", headSize)
	for _, l := range head {
		d.put(x+in, y, l)
		y += d.lead()
	}
	d.y += height + 3
}

// triangle is the safety alert symbol, drawn so that it needs no glyph.
func (d *doc) triangle(x, y, size float64) {
	d.f.SetLineWidth(size * 0.09)
	d.f.SetLineJoinStyle("round")
	d.f.Polygon([]fpdf.PointType{{X: x + size/2, Y: y}, {X: x + size, Y: y + size*0.9}, {X: x, Y: y + size*0.9}}, "D")
	d.f.SetLineJoinStyle("miter")
	d.f.SetFillColor(0, 0, 0)
	d.f.Rect(x+size*0.46, y+size*0.32, size*0.08, size*0.3, "F")
	d.f.Circle(x+size/2, y+size*0.74, size*0.05, "F")
}

// headFacts sets the facts of page 1 in two columns and gives their height.
func (d *doc) headFacts(x, width float64, draw bool) float64 {
	const size, gap = 8.2, 4.0
	half := (width - gap) / 2
	y := [2]float64{}
	for i, f := range d.r.Decision.Facts {
		col := 0
		if i >= (len(d.r.Decision.Facts)+1)/2 {
			col = 1
		}
		at := x + float64(col)*(half+gap)
		d.font("", size)
		lines := d.wrap(f.Value, half-24)
		if draw {
			d.font("B", size)
			d.put(at, d.y+y[col], d.fit(f.Name, 23))
			d.font("", size)
			for k, l := range lines {
				d.put(at+24, d.y+y[col]+float64(k)*d.lead(), l)
			}
		}
		y[col] += float64(max(1, len(lines))) * d.lead()
	}
	return max(y[0], y[1]) + 2.5
}

// blocks are the parts of page 1 at a level, and whether lines were left out.
func (d *doc) blocks(lv level) ([]block, bool) {
	p := d.r.Decision
	cut := false
	capped := func(list []string, numbered bool) []item {
		var out []item
		for i, s := range list {
			if i == lv.maxItems && len(list) > lv.maxItems+1 {
				cut = true
				out = append(out, item{"", d.r.Label("more", len(list)-i)})
				break
			}
			n := ""
			if numbered {
				n = strconv.Itoa(i + 1)
			}
			out = append(out, item{n, s})
		}
		return out
	}
	or := func(list []item) []item {
		if len(list) == 0 {
			return []item{{"", d.r.Label("none")}}
		}
		return list
	}
	uncapped := func(list []string, numbered bool) []item {
		save := lv.maxItems
		lv.maxItems = len(list)
		defer func() { lv.maxItems = save }()
		return capped(list, numbered)
	}
	var status []item
	for _, a := range p.Appliances {
		status = append(status, item{"", a.Words + ": " + strings.Join(a.Names, ", ")})
	}
	back := []item{{"", p.PutBack.Text}}
	for _, o := range p.PutBack.Open {
		back = append(back, item{"", d.r.Label("open-item", o)})
	}
	return []block{
		{d.r.Label("why"), or(capped(p.Why, true)), false},
		{d.r.Label("do"), or(uncapped(p.Do, true)), true},
		{d.r.Label("appliances"), or(status), false},
		{d.r.Label("put-back"), back, true},
		{d.r.Label("not-tested-list"), or(capped(p.NotTested, false)), true},
		{d.r.Label("risks"), or(uncapped(p.Risks, false)), false},
		{d.r.Label("cautions"), or(uncapped(p.Cautions, false)), false},
		{p.HoldsLabel, []item{{"", p.Holds}}, false},
	}, cut
}

// lines of an item, with what a level leaves out said in words.
func (d *doc) itemLines(it item, lv level, width float64) (lines []string, cut bool) {
	if it.number != "" {
		width -= 6
	}
	lines = d.wrap(it.text, width)
	if lv.maxLines > 0 && len(lines) > lv.maxLines {
		cut = true
		lines = lines[:lv.maxLines]
		more := " ... " + d.r.Label("more-names")
		lines[lv.maxLines-1] = strings.TrimSuffix(d.fit(lines[lv.maxLines-1], width-d.width(more)), "...") + more
	}
	return lines, cut
}

func (b block) style() string {
	if b.bold {
		return "B"
	}
	return ""
}

// labels are the lines of a block's label, which is never larger than fits.
func (d *doc) labels(b block, lv level) []string {
	d.font("B", min(lv.size, 10.4))
	return d.wrap(b.label, labelWidth-1)
}

func (d *doc) height(list []block, lv level, width float64) (h float64, cut bool) {
	for _, b := range list {
		low := float64(len(d.labels(b, lv))) * d.lead()
		d.font(b.style(), lv.size)
		n := 0
		for _, it := range b.items {
			lines, short := d.itemLines(it, lv, width-labelWidth)
			n += len(lines)
			cut = cut || short
		}
		h += max(low, float64(n)*d.lead()) + lv.size*0.2
	}
	return h, cut
}

func (d *doc) block(b block, lv level, x, width float64) {
	labels := d.labels(b, lv)
	low := d.y + float64(len(labels))*d.lead()
	for i, l := range labels {
		d.put(x, d.y+(lv.size-d.size)*0.3528+float64(i)*d.lead(), l)
	}
	for _, it := range b.items {
		d.font(b.style(), lv.size)
		at, number := x+labelWidth, it.number
		if number != "" {
			at += 6
		}
		lines, _ := d.itemLines(it, lv, width-labelWidth)
		for i, l := range lines {
			room := 1 // a short item stays together
			if i == 0 {
				room = min(len(lines), 4)
			}
			if d.y+float64(room)*d.lead() > d.bottom {
				d.page()
				d.font(b.style(), lv.size)
				low = 0
			}
			d.put(x+labelWidth, d.y, number)
			d.put(at, d.y, l)
			d.y += d.lead()
			number = ""
		}
	}
	d.y = max(d.y, low) + lv.size*0.2
}

// everyLine repeats page 1 in full where it had to be shortened.
func (d *doc) everyLine() {
	d.heading(d.r.Label("decision-more"), 22)
	all := level{size: bodySize, maxItems: 1 << 20}
	list, _ := d.blocks(all)
	for _, b := range list {
		d.need(12)
		d.block(b, all, margin, d.w-2*margin)
	}
	d.y += 3
}
