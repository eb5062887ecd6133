package pdf_test

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/pdf"
	"cazward/report/reporttest"
)

func write(t testing.TB, r report.Report, size string) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := pdf.Write(&b, r, pdf.Options{Size: size}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// run calls a PDF tool on a report; without the tool the test is skipped,
// unless CAZWARD_REQUIRE_TOOLS=1.
func run(t *testing.T, b []byte, tool string, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath(tool); err != nil {
		if os.Getenv("CAZWARD_REQUIRE_TOOLS") == "1" {
			t.Fatalf("%s is required and absent: %v", tool, err)
		}
		t.Skipf("%s is absent (apt-get install poppler-utils qpdf mupdf-tools)", tool)
	}
	path := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	for i, a := range args {
		if a == "FILE" {
			args[i] = path
		}
	}
	out, err := exec.Command(tool, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", tool, err, out)
	}
	return out
}

func pages(t *testing.T, b []byte) []string {
	t.Helper()
	p := strings.Split(string(run(t, b, "pdftotext", "FILE", "-")), "\f")
	return p[:len(p)-1]
}

// flat is text with every run of white space as one space.
func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// contains: the page shows what the report says, with the signs of print.
func contains(page, want string) bool { return strings.Contains(page, report.Typeset(want)) }

func TestSameBytes(t *testing.T) {
	for _, c := range reporttest.All() {
		r := report.Build(c.In)
		for _, size := range []string{"letter", "a4"} {
			a, b := write(t, r, size), write(t, r, size)
			if !bytes.Equal(a, b) {
				t.Errorf("%s %s: two writes differ", c.Name, size)
			}
			if !bytes.HasPrefix(a, []byte("%PDF-")) || len(a) < 10000 {
				t.Errorf("%s %s: %d bytes, no PDF", c.Name, size, len(a))
			}
		}
		if bytes.Equal(write(t, r, "letter"), write(t, r, "a4")) {
			t.Errorf("%s: the size changes nothing", c.Name)
		}
	}
}

func TestSizeRefused(t *testing.T) {
	err := pdf.Write(io.Discard, report.Report{}, pdf.Options{Size: "a5"})
	if err == nil || !strings.Contains(err.Error(), `"a5"`) {
		t.Errorf("size a5: %v", err)
	}
}

func TestEmptyReport(t *testing.T) {
	if a, b := write(t, report.Build(report.Input{}), ""), write(t, report.Build(report.Input{}), ""); !bytes.Equal(a, b) {
		t.Error("two writes differ")
	}
	if info := string(run(t, write(t, report.Build(report.Input{}), ""), "pdfinfo", "-isodates", "FILE")); !strings.Contains(info, "CreationDate:    1970-01-01") {
		t.Errorf("a report without any time takes the clock:\n%s", info)
	}
}

// A report whose text nobody cleaned is still written.
func TestUncleanText(t *testing.T) {
	r := report.Build(reporttest.Hold())
	r.Title, r.Record = "🔥\x00\xff", "\u202e🔥"
	r.Decision.Headline = "🔥 " + r.Decision.Headline
	r.Sections[0].Notes = []string{strings.Repeat("🔥", 300)}
	r.Sections[0].Tables[0].Rows[1].Cells[2] = "\x1b[31m🔥"
	write(t, r, "")
}

func TestPages(t *testing.T) {
	for _, c := range reporttest.All() {
		t.Run(c.Name, func(t *testing.T) {
			r := report.Build(c.In)
			p := pages(t, write(t, r, "letter"))
			for i, page := range p {
				text := flat(page)
				for _, want := range []string{fmt.Sprintf("page %d of %d", i+1, len(p)), "Record " + r.Record, "closing hash: " + r.Hash} {
					if !strings.Contains(text, want) {
						t.Errorf("page %d lacks %q", i+1, want)
					}
				}
				if got := strings.Count(text, "PRACTICE - invented house, not a real test"); r.Mark != "" && got != 2 || r.Mark == "" && got != 0 {
					t.Errorf("page %d has the practice mark %d times", i+1, got)
				}
			}
			first, d := flat(p[0]), r.Decision
			want := []string{d.Word, d.Headline, string(d.Code), "WHY", d.Why[0], "DO", "APPLIANCES", "HOUSE PUT BACK", d.PutBack.Text, "NOT TESTED", "ACCEPTED RISK", "CAUTIONS", "HOLDS", d.Holds}
			want = append(want, d.Do...)
			want = append(want, d.Risks...)
			want = append(want, d.Cautions...)
			for _, o := range d.PutBack.Open {
				want = append(want, "OPEN: "+o)
			}
			for _, a := range d.Appliances {
				want = append(want, a.Words)
			}
			if len(d.NotTested) == 0 {
				want = append(want, "NOT TESTED none")
			} else {
				want = append(want, d.NotTested[0])
			}
			for _, w := range want {
				if !contains(first, w) && !rtl(w) {
					t.Errorf("page 1 lacks %q:\n%s", w, first)
				}
			}
			// What page 1 leaves out stands in full behind it.
			if strings.Contains(first, "more: page 2") {
				rest := flat(strings.Join(p[1:], " "))
				for _, w := range append(append([]string{"Decision, all lines"}, d.Why...), d.NotTested...) {
					if !contains(rest, w) && !rtl(w) {
						t.Errorf("cut from page 1 and nowhere else: %q", w)
					}
				}
			}
		})
	}
}

// An item that page 1 cuts short stands in full on page 2.
func TestLongItem(t *testing.T) {
	r := report.Build(reporttest.Hold())
	last := ""
	for i := range 400 {
		last = fmt.Sprintf("appliance number %d of the row", i)
		r.Decision.Appliances[1].Names = append(r.Decision.Appliances[1].Names, last)
	}
	p := pages(t, write(t, r, ""))
	if first := flat(p[0]); !strings.Contains(first, "all of it: page 2") || !strings.Contains(first, r.Decision.Holds) {
		t.Errorf("page 1: %s", first)
	}
	if rest := flat(strings.Join(p[1:4], " ")); !strings.Contains(rest, last) {
		t.Errorf("the last name is nowhere")
	}
}

// The head of a table, and the set-up in force, stand on every page of it.
func TestHeadRepeated(t *testing.T) {
	r := report.Build(reporttest.Hold())
	rows := &r.Sections[0].Tables[0].Rows
	for range 200 {
		*rows = append(*rows, (*rows)[len(*rows)-1])
	}
	n := 0
	for i, page := range pages(t, write(t, r, "")) {
		if !strings.Contains(page, "draft of Furnace") || strings.Contains(page, "Appliances\n") {
			continue
		}
		n++
		if text := flat(page); !strings.Contains(text, "As typed") || !strings.Contains(text, "Set-up, line 33") || i > 1 && !strings.Contains(text, "(continued)") {
			t.Errorf("page %d has rows without their head", i+1)
		}
	}
	if n < 3 {
		t.Errorf("%d pages looked at", n)
	}
}

// rtl: text with right-to-left letters comes out in an order of its own,
// which TestRightToLeft looks at.
func rtl(s string) bool {
	return strings.ContainsAny(s, "אבגדהוזחטיכךלמםנןסעפףצץקרשת")
}

func TestRightToLeft(t *testing.T) {
	text := flat(strings.Join(pages(t, write(t, report.Build(reporttest.Incomplete()), "")), " "))
	if !strings.Contains(text, reporttest.Hebrew) {
		t.Errorf("%q cannot be found in the text of the file", reporttest.Hebrew)
	}
}

var update = flag.Bool("update", false, "write the golden files")

// The words of the file in their order, a page at a time; how far they stand
// apart is the reader's affair.
func TestGoldenText(t *testing.T) {
	for _, c := range reporttest.All() {
		if c.Name == "incomplete" { // 32 pages, which the other tests look at
			continue
		}
		text := string(run(t, write(t, report.Build(c.In), ""), "pdftotext", "-raw", "FILE", "-"))
		var got strings.Builder
		for _, line := range strings.Split(strings.ReplaceAll(text, "\f", "\n== page ==\n"), "\n") {
			if line = flat(line); line != "" {
				got.WriteString(line + "\n")
			}
		}
		path := filepath.Join("testdata", c.Name+".golden")
		if *update {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(got.String()), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if g, w := strings.Fields(got.String()), strings.Fields(string(want)); !slices.Equal(g, w) {
			for i := range min(len(g), len(w)) {
				if g[i] != w[i] {
					t.Errorf("%s: word %d is %q, want %q, after %q; after a look at it: go test ./report/pdf -update", path, i, g[i], w[i], strings.Join(w[max(0, i-8):i], " "))
					break
				}
			}
			if len(g) != len(w) {
				t.Errorf("%s: %d words, want %d", path, len(g), len(w))
			}
		}
	}
}

// Text comes out in reading order: decision first, sections as in the report,
// rows of the readings as in the record.
func TestReadingOrder(t *testing.T) {
	for _, c := range reporttest.All() {
		r := report.Build(c.In)
		text := flat(string(run(t, write(t, r, ""), "pdftotext", "-raw", "FILE", "-")))
		want := []string{r.Decision.Word, r.Decision.Headline, "WHY", " DO ", "APPLIANCES", "HOUSE PUT BACK", "NOT TESTED", "CAUTIONS", "HOLDS"}
		for _, s := range r.Sections {
			want = append(want, s.Title)
			if s.ID == "readings" && c.Name == "hold" {
				for _, row := range s.Tables[0].Rows {
					if !row.Span {
						want = append(want, " "+row.Cells[0]+" "+row.Cells[1]+" ")
					} else {
						want = append(want, row.Cells[0])
					}
				}
			}
		}
		at := 0
		for _, w := range want {
			w = report.Typeset(w)
			i := strings.Index(text[at:], w)
			if i < 0 {
				t.Fatalf("%s: %q does not come after what stands before it", c.Name, w)
			}
			at += i + len(w)
		}
	}
}

func TestFile(t *testing.T) {
	for _, c := range reporttest.All() {
		r := report.Build(c.In)
		b := write(t, r, "")
		run(t, b, "qpdf", "--check", "FILE")
		clean := filepath.Join(t.TempDir(), "clean.pdf")
		if out := run(t, b, "mutool", "clean", "FILE", clean); len(bytes.TrimSpace(out)) > 0 {
			t.Errorf("%s: mutool clean says %s", c.Name, out)
		}
		info := string(run(t, b, "pdfinfo", "FILE"))
		if !strings.Contains(info, r.Title) || !strings.Contains(info, "612 x 792 pts (letter)") {
			t.Errorf("%s: pdfinfo says\n%s", c.Name, info)
		}
		if got := regexp.MustCompile(`CreationDate:.*`).FindString(info); !strings.Contains(got, "2026") {
			t.Errorf("%s: %s, want the time of the record", c.Name, got)
		}
		raw := run(t, b, "qpdf", "--qdf", "--object-streams=disable", "FILE", "-")
		if n := bytes.Count(raw, []byte("/Dest [")); n < len(r.Sections)+1 {
			t.Errorf("%s: outline of %d entries, want %d", c.Name, n, len(r.Sections)+1)
		}
		if !bytes.Contains(raw, []byte("/Lang (en)")) {
			t.Errorf("%s: no language", c.Name)
		}
	}
}

// Every word lies inside the margins, and no two words lie on one another.
func TestNothingClipped(t *testing.T) {
	word := regexp.MustCompile(`<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*)</word>`)
	all := reporttest.All()
	for _, c := range all[:len(all):len(all)] {
		c.Name, c.In.Lang = c.Name+" es", wording.Spanish
		all = append(all, c)
	}
	for _, c := range all {
		for size, w := range map[string]float64{"letter": 612, "a4": 595.28} {
			out := run(t, write(t, report.Build(c.In), size), "pdftotext", "-bbox", "FILE", "-")
			type box struct{ x0, y0, x1, y1 float64 }
			for page, text := range strings.Split(string(out), "<page ")[1:] {
				var seen []box
				for _, m := range word.FindAllStringSubmatch(text, -1) {
					var b box
					for i, p := range []*float64{&b.x0, &b.y0, &b.x1, &b.y1} {
						*p, _ = strconv.ParseFloat(m[i+1], 64)
					}
					// 15 mm are 42.5 points.
					if b.x0 < 42 || b.x1 > w-42 || b.y0 < 20 || b.y1 > map[string]float64{"letter": 792, "a4": 841.89}[size]-15 {
						t.Errorf("%s %s page %d: %q at %v leaves the margins", c.Name, size, page+1, m[5], b)
					}
					// The letters themselves fill less than the box of their line.
					for _, o := range seen {
						if x, y := min(b.x1, o.x1)-max(b.x0, o.x0), min(b.y1, o.y1)-max(b.y0, o.y0); x > 0.5 && y > 0.45*min(b.y1-b.y0, o.y1-o.y0) {
							t.Errorf("%s %s page %d: %q at %v lies on another word at %v", c.Name, size, page+1, m[5], b, o)
						}
					}
					seen = append(seen, b)
				}
				if len(seen) == 0 {
					t.Errorf("%s page %d has no words", c.Name, page+1)
				}
			}
		}
	}
}

// Lines of a trace that lie close together keep their names apart.
func TestTraceNames(t *testing.T) {
	v, u := -3.02, 0.4
	tr := report.Trace{Zone: "Basement", Baseline: &v, Worst: &v, U: &u, Points: []report.Point{{N: 1, Mean: v}, {N: 2, Mean: v}}}
	for i := range 6 {
		tr.Limits = append(tr.Limits, report.Level{Pa: v - float64(i)/100, Label: fmt.Sprintf("limit%d", i)})
	}
	r := report.Report{Sections: []report.Section{{Title: "x", Traces: []report.Trace{tr}}}}
	out := string(run(t, write(t, r, ""), "pdftotext", "-bbox", "FILE", "-"))
	last := 0.0
	for i := range 6 {
		m := regexp.MustCompile(fmt.Sprintf(`yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)">limit%d<`, i)).FindStringSubmatch(out)
		if m == nil {
			t.Fatalf("no name of limit %d:\n%s", i, out)
		}
		y, _ := strconv.ParseFloat(m[1], 64)
		if y < last+8 {
			t.Errorf("limit %d at %v, the one before at %v points", i, y, last)
		}
		last = y
	}
}

// The foot is black on every page, whatever shade the page used last: here
// page 2 ends in a grey row, and page 3 sets black again.
func TestFootIsBlack(t *testing.T) {
	v := -1.0
	r := report.Report{Record: "r", Hash: "not closed", Sections: []report.Section{
		{Title: "grey", Tables: []report.Table{{Columns: []report.Column{{Head: "a", Weight: 1}}}}},
		{Title: "black", Traces: []report.Trace{{Points: []report.Point{{N: 1, Mean: v, Worst: true}, {N: 2, Mean: v}}, Worst: &v, U: &v}}}}}
	rows := &r.Sections[0].Tables[0].Rows
	for range 45 {
		*rows = append(*rows, report.Row{Cells: []string{"set-up"}, Span: true})
	}
	out := run(t, write(t, r, ""), "pdftoppm", "-gray", "-r", "50", "FILE")
	n := 0
	for len(out) > 0 {
		var w, h, deep int
		if _, err := fmt.Sscanf(string(out[:20]), "P5\n%d %d\n%d\n", &w, &h, &deep); err != nil {
			t.Fatal(err)
		}
		head := len(fmt.Sprintf("P5\n%d %d\n%d\n", w, h, deep))
		page := out[head : head+w*h]
		out = out[head+w*h:]
		n++
		// The band of the closing hash, 10 to 6 mm from the lower edge.
		dark := false
		for _, shade := range page[(h-20)*w : (h-14)*w] {
			dark = dark || shade < 128
		}
		if !dark {
			t.Errorf("page %d: nothing dark in the foot", n)
		}
	}
	if n != 3 {
		t.Errorf("%d pages looked at, want 3", n)
	}
}

// A redacted file holds no name in its text, its outline or its data about
// itself.
func TestRedacted(t *testing.T) {
	in := reporttest.Phases()
	names := []string{"Cedar", "R. Ode", "bedroom 2", "Basement", "G-0042", "the owner", "yellow"}
	for _, c := range []struct {
		in   report.Input
		want bool
	}{{in, true}, {report.Redact(in), false}} {
		b := write(t, report.Build(c.in), "")
		text := strings.Join(pages(t, b), " ") + string(run(t, b, "pdfinfo", "FILE"))
		for _, n := range names {
			if got := strings.Contains(text, n); got != c.want {
				t.Errorf("%q in the file: %v, want %v", n, got, c.want)
			}
		}
		if got := bytes.Contains(b, []byte("/DCTDecode")); got != c.want {
			t.Errorf("a photo in the file: %v, want %v", got, c.want)
		}
	}
}

// A table that is used in one piece stands on one page, wherever it begins.
func TestWholeTable(t *testing.T) {
	whole := report.Table{Whole: true, Title: "piece", Columns: []report.Column{{Head: "a", Weight: 1}}}
	for i := range 12 {
		whole.Rows = append(whole.Rows, report.Row{Cells: []string{fmt.Sprintf("piece%d", i)}})
	}
	for lines := 20; lines < 60; lines += 4 {
		before := report.Table{Columns: whole.Columns}
		for range lines {
			before.Rows = append(before.Rows, report.Row{Cells: []string{"x"}})
		}
		for i, page := range pages(t, write(t, report.Report{Sections: []report.Section{{Title: "s", Tables: []report.Table{before, whole}}}}, "")) {
			if n := strings.Count(page, "piece"); n != 0 && n != 13 {
				t.Errorf("after %d lines, page %d has %d of 13 lines of the piece", lines, i+1, n)
			}
		}
	}
}

// A photo that the library cannot take leaves the rest of the report whole.
func TestBrokenPhoto(t *testing.T) {
	good := reporttest.Photo(0)
	for name, data := range map[string][]byte{"cut": good.Data[:len(good.Data)/3], "not a picture": []byte("x"), "png by name": append([]byte("\x89PNG\r\n\x1a\n"), good.Data...), "": nil} {
		for _, kind := range []string{"image/jpeg", "image/png", "text/html"} {
			in := reporttest.Phases()
			in.Photos[0].Data, in.Photos[0].Type = data, kind
			text := strings.Join(pages(t, write(t, report.Build(in), "")), " ")
			if !strings.Contains(text, "The record") || !strings.Contains(text, "Photo 1") {
				t.Errorf("%s as %s: the report is not whole", name, kind)
			}
		}
	}
}

// BenchmarkReport is one full report of an ordinary house; BenchmarkLarge has
// 40 appliances and 300 readings.
func BenchmarkReport(b *testing.B) {
	in := reporttest.Hold()
	for b.Loop() {
		if err := pdf.Write(io.Discard, report.Build(in), pdf.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkPhases has three phases, a photo and every kind of drawing.
func BenchmarkPhases(b *testing.B) {
	in := reporttest.Phases()
	in.Photos[0] = photograph(b, in.Photos[0])
	for b.Loop() {
		if err := pdf.Write(io.Discard, report.Build(in), pdf.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// photograph is a picture of the size that is kept, under another's hash.
func photograph(b *testing.B, p report.Photo) report.Photo {
	m := image.NewYCbCr(image.Rect(0, 0, 1600, 1200), image.YCbCrSubsampleRatio420)
	x := uint32(1)
	for i := range m.Y {
		x = x*1664525 + 1013904223
		m.Y[i] = uint8(i/6400) + uint8(x>>28)
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, m, nil); err != nil {
		b.Fatal(err)
	}
	p.Data = out.Bytes()
	return p
}

func BenchmarkLarge(b *testing.B) {
	in := reporttest.Incomplete()
	for b.Loop() {
		if err := pdf.Write(io.Discard, report.Build(in), pdf.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
