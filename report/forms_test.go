package report_test

import (
	"bytes"
	stdcsv "encoding/csv"
	stdxml "encoding/xml"
	"io"
	"slices"
	"strings"
	"testing"
	"unicode"

	"cazward/procedure"
	"cazward/report"
	"cazward/report/reporttest"
)

// with puts a text wherever people type.
func with(s string) report.Input {
	in := reporttest.Hold()
	in.Header.Home, in.Observations.Tester = s, s
	o := &in.Observations
	o.Zones, o.Appliances, o.Fans, o.Doors = slices.Clone(o.Zones), slices.Clone(o.Appliances), slices.Clone(o.Fans), slices.Clone(o.Doors)
	o.Zones[0].Name, o.Appliances[0].Name, o.Fans[0].Name, o.Doors[0].Name = s, s, s, s
	in.Judgement.WorstCase = slices.Clone(in.Judgement.WorstCase)
	in.Judgement.WorstCase[0].Zone = s
	in.Judgement.AcceptedRisks = []procedure.AcceptedRisk{{Row: "floor-co-70", Reason: s}}
	last := in.Events[len(in.Events)-1]
	last.N++
	last.Kind, last.Data = procedure.KindNote, &procedure.Note{Text: s}
	in.Events = append(slices.Clone(in.Events), last)
	return in
}

// sound holds each form to its own grammar.
func sound(t *testing.T, s string, all map[string][]byte) {
	t.Helper()
	d := stdxml.NewDecoder(bytes.NewReader(all["xml"]))
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("%q: xml: %v", s, err)
		}
	}
	if rows, err := stdcsv.NewReader(bytes.NewReader(all["csv"])).ReadAll(); err != nil || len(rows) < 10 {
		t.Fatalf("%q: csv: %d rows, %v", s, len(rows), err)
	}
	page := string(all["html"])
	if n, want := strings.Count(page, "<"), strings.Count(string(plainPage(t)), "<"); n > want { // a drawing has no mark for an empty name
		t.Fatalf("%q: the page has %d signs of markup, %d without it", s, n, want)
	}
	for name, b := range all {
		if name == "pdf" || name == "json" {
			continue
		}
		for _, r := range string(b) {
			if unicode.IsControl(r) && r != '\n' && r != '\r' || r >= 0x202A && r <= 0x202E {
				t.Fatalf("%q: %s holds %U", s, name, r)
			}
		}
	}
	if !bytes.HasPrefix(all["pdf"], []byte("%PDF-")) || !bytes.Contains(all["pdf"], []byte("%%EOF")) {
		t.Fatalf("%q: no whole PDF", s)
	}
}

var page []byte

func plainPage(t *testing.T) []byte {
	if page == nil {
		page = forms(t, with("plain"))["html"]
	}
	return page
}

func TestHostile(t *testing.T) {
	for _, s := range []string{"", " ", reporttest.Long, reporttest.Emoji, reporttest.Hebrew, reporttest.Turned, "a\x00b\x07\x1b[31m", "]]>", "<!--", "-->", "<![CDATA[", "&#0;", "\xff\xfe", "=cmd|' /C calc'!A0", "\r\nX: y",
		strings.Repeat("W", 1000), strings.Repeat("word ", 200), "(\\)", "%PDF-1.7 endobj", "\ufffe\uffff", "e\u0301\u0301\u0301", "{{.}}", "%s %d %!", "\u2028\u2029", "−5 Pa ≤ 3 °F CO₂ ☐ ✓"} {
		sound(t, s, forms(t, with(s)))
	}
	for _, s := range []string{"", strings.Repeat("W", 60000), strings.Repeat("word ", 12000)} { // as long as a line of a record
		in := with("plain")
		in.Events[len(in.Events)-1].Data = &procedure.Note{Text: s}
		sound(t, "note", forms(t, in))
	}
}

func FuzzForms(f *testing.F) {
	for _, s := range []string{"Cedar 14", reporttest.Emoji, reporttest.Turned, "<b>&\"'", "]]>\x00", "=1+1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if len(s) > 2000 {
			return
		}
		sound(t, s, forms(t, with(s)))
	})
}
