package pdf

import (
	"bytes"
	"fmt"
	"image"
	_ "image/jpeg" // for the size of photos
	_ "image/png"

	"github.com/go-pdf/fpdf"

	"cazward/report"
	"cazward/report/chart"
)

// measure is the width of a text for the layout of drawings.
func (d *doc) measure(s string, points float64, bold bool) float64 {
	style := ""
	if bold {
		style = "B"
	}
	d.style, d.size = style, points
	return d.width(set(s))
}

// draw puts a drawing on the page, title above and what it shows below.
func (d *doc) draw(g chart.Drawing) {
	d.font("", bodySize-1.2)
	desc := d.wrap(g.Desc, d.w-2*margin)
	d.need(g.H + 9 + float64(len(desc))*d.lead())
	d.y += 2
	d.font("B", bodySize-0.6)
	for _, l := range d.wrap(g.Title, d.w-2*margin) {
		d.put(margin, d.y, l)
		d.y += d.lead()
	}
	d.y += 1
	f := d.f
	for _, s := range g.Shapes {
		at := make([]fpdf.PointType, len(s.At))
		for i, p := range s.At {
			at[i] = fpdf.PointType{X: margin + p.X, Y: d.y + p.Y}
		}
		f.SetDrawColor(s.Ink, s.Ink, s.Ink)
		f.SetLineWidth(s.Pen)
		style := "D"
		if s.Fill != chart.None {
			f.SetFillColor(s.Fill, s.Fill, s.Fill)
			style = "F"
			if s.Pen > 0 {
				style = "FD"
			}
		}
		f.SetDashPattern(s.Dash, 0)
		switch s.Kind {
		case chart.Line:
			for i := 1; i < len(at); i++ {
				f.Line(at[i-1].X, at[i-1].Y, at[i].X, at[i].Y)
			}
		case chart.Area:
			f.Polygon(at, style)
		case chart.Rect:
			f.Rect(at[0].X, at[0].Y, at[1].X-at[0].X, at[1].Y-at[0].Y, style)
		case chart.Dot:
			f.Circle(at[0].X, at[0].Y, s.R, style)
		case chart.Text:
			f.SetFillColor(s.Ink, s.Ink, s.Ink)
			weight := ""
			if s.Bold {
				weight = "B"
			}
			d.font(weight, s.Size)
			x := at[0].X
			switch s.Anchor {
			case chart.Middle:
				x -= d.width(set(s.Text)) / 2
			case chart.Right:
				x -= d.width(set(s.Text))
			}
			d.put(x, at[0].Y, s.Text)
		}
	}
	f.SetDashPattern(nil, 0)
	f.SetDrawColor(0, 0, 0)
	f.SetFillColor(0, 0, 0)
	d.y += g.H + 0.6
	d.font("", bodySize-1.2)
	d.para(margin, d.w-2*margin, g.Desc)
	d.y += 2
}

// photoHeight is the room that a photo takes at most, with its caption.
func photoHeight(d *doc) float64 { return (d.bottom-top)/2 - 2 }

// photo draws a picture with its caption below, as large as half a page.
func (d *doc) photo(p report.PhotoBox) {
	caption := func() {
		d.font("", bodySize-0.6)
		d.para(margin, d.w-2*margin, p.Caption)
	}
	size, _, err := image.DecodeConfig(bytes.NewReader(p.Photo.Data))
	kind := map[string]string{"image/jpeg": "JPG", "image/png": "PNG"}[p.Photo.Type]
	if err != nil || !drawable(p.Photo.Data, kind) || size.Width < 1 || size.Height < 1 {
		why := p.Why
		if why == "" {
			why = d.r.Label("photo-unreadable")
		}
		d.need(10)
		caption()
		d.font("B", bodySize-0.6)
		d.para(margin, d.w-2*margin, why)
		d.y += 2
		return
	}
	w, h := d.w-2*margin, photoHeight(d)-10
	if scale := float64(size.Height) / float64(size.Width); w*scale < h {
		h = w * scale
	} else {
		w = h / scale
	}
	d.need(h + 10)
	d.photos++
	name := fmt.Sprintf("photo%d", d.photos)
	d.f.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: kind}, bytes.NewReader(p.Photo.Data))
	d.f.ImageOptions(name, margin, d.y, w, h, false, fpdf.ImageOptions{ImageType: kind}, 0, "")
	d.f.SetLineWidth(0.2)
	d.f.Rect(margin, d.y, w, h, "D")
	d.y += h + 1
	caption()
	d.y += 3
}

// drawable tries a picture on a document of its own: one that the library
// refuses must not take the report with it.
func drawable(data []byte, kind string) (ok bool) {
	defer func() { ok = recover() == nil && ok }()
	f := fpdf.New("P", "mm", "A4", "")
	f.RegisterImageOptionsReader("x", fpdf.ImageOptions{ImageType: kind}, bytes.NewReader(data))
	return kind != "" && f.Ok()
}
