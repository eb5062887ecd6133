package report_test

import (
	"bytes"
	stdcsv "encoding/csv"
	"encoding/json"
	stdxml "encoding/xml"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"cazward/procedure"
	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/notice"
	noticepdf "cazward/report/notice/pdf"
	"cazward/report/reporttest"
)

// hostile puts a text into the text fields that keep says, by Type.Field, and
// counts them. Ids, codes and units are among them: whoever writes a record by
// hand writes those too.
type hostile struct {
	text string
	keep func(field string) bool
	n    int
	seen map[string]bool
}

func (h *hostile) fill(v reflect.Value, field string) {
	switch v.Kind() {
	case reflect.String:
		if h.seen[field] = true; h.keep(field) && v.CanSet() {
			h.n++
			v.SetString(h.text)
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return
		}
		for i := range v.NumField() {
			h.fill(v.Field(i), v.Type().Name()+"."+v.Type().Field(i).Name)
		}
	case reflect.Slice:
		for i := range v.Len() {
			h.fill(v.Index(i), field)
		}
	case reflect.Pointer, reflect.Interface: // payloads of events are pointers
		if !v.IsNil() {
			h.fill(v.Elem(), field)
		}
	}
}

// everything is an input with most fields that an input can have.
func everything() report.Input {
	in := full()
	seal := reporttest.Sealing()
	in.Header.Phase = procedure.TestIn
	in.Observations.CFM50, in.Observations.SealTo = seal.Observations.CFM50, seal.Observations.SealTo
	in.Observations.Zones = slices.Clone(in.Observations.Zones)
	in.Observations.Zones[0].Volume = 3600
	in.Signs = []report.Sign{{Sign: procedure.Sign{Close: reporttest.Hash, Verdict: "accept", Name: "M. Vale", Note: "tagged", Signature: "x"}, Signature: "good"}}
	return copyOf(in)
}

// language and phase choose words, and a photo's type its decoder; none of
// them is printed.
var chooses = map[string]bool{"Input.Lang": true, "Input.Units": true, "Photo.Type": true, "Photo.SHA256": true, "Attach.SHA256": true}

const evil = "=cmd|'/C calc'!A0\x00\x1b[31m\u202e\u2066<script>alert(1)</script><img src=x onerror=alert(1)>]]>\"'&#0;\u2028\ufeff\u0085\u200f\xff\U0001f525\r\n-2+3\t--> {{.}} %s"

// TestHostileInEveryField: control characters, marks that turn the writing,
// markup, formulas and broken UTF-8, in each text field by itself and in all of
// them at once, reach no form raw.
func TestHostileInEveryField(t *testing.T) {
	probe := &hostile{seen: map[string]bool{}, keep: func(string) bool { return false }}
	in := everything()
	probe.fill(reflect.ValueOf(&in).Elem(), "")
	var fields []string
	for f := range probe.seen {
		if !chooses[f] {
			fields = append(fields, f)
		}
	}
	slices.Sort(fields)
	if len(fields) < 130 {
		t.Fatalf("only %d text fields are reached", len(fields))
	}
	filled := 0
	for _, f := range append(fields, "all") {
		for _, lang := range []wording.Lang{wording.English, wording.Spanish} {
			if lang == wording.Spanish && f != "all" {
				continue
			}
			in := everything()
			in.Lang = lang
			h := &hostile{text: evil, seen: map[string]bool{}, keep: func(x string) bool { return x == f || f == "all" && !chooses[x] }}
			h.fill(reflect.ValueOf(&in).Elem(), "")
			if h.n > 0 {
				filled++
			}
			harmless(t, f, forms(t, in), f == "all")
		}
	}
	if filled < len(fields)-3 {
		t.Errorf("%d of %d fields were filled", filled, len(fields))
	}
}

// TestHugeInEveryField: a text as long as a line of a record may be, in every
// field that people type, leaves each form whole.
func TestHugeInEveryField(t *testing.T) {
	for i, text := range []string{strings.Repeat("W", 20_000), strings.Repeat("=+@ ", 15_000)} {
		for k, f := range typed {
			if i > 0 && k%8 != 0 { // every field once is enough; the longest that a line holds in some
				continue
			}
			in := everything()
			h := &hostile{text: text, seen: map[string]bool{}, keep: func(x string) bool { return x == f }}
			h.fill(reflect.ValueOf(&in).Elem(), "")
			harmless(t, f, forms(t, in), false)
		}
	}
}

// harmless holds each form to what no text may do to it.
func harmless(t *testing.T, field string, all map[string][]byte, look bool) {
	t.Helper()
	bad := func(r rune) bool {
		return unicode.IsControl(r) && r != '\n' && r != '\r' || r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 || r == 0x200E || r == 0x200F || r == 0x061C || r == 0x2028 || r == 0x2029 || r == 0xFEFF
	}
	raw := func(form string, b []byte) {
		if !utf8.Valid(b) {
			t.Errorf("%s: %s is no UTF-8", field, form)
		}
		for _, r := range string(b) {
			if bad(r) {
				t.Errorf("%s: %s holds %U", field, form, r)
				return
			}
		}
	}
	for _, form := range []string{"txt", "html", "csv", "xml"} {
		raw(form, all[form])
	}
	if strings.Contains(string(all["txt"]), "\r") || strings.Contains(string(all["html"]), "\r") {
		t.Errorf("%s: a carriage return", field)
	}
	page := strings.ToLower(string(all["html"]))
	for _, tag := range []string{"<script", "<img src=x", "<!--"} {
		if strings.Contains(page, tag) {
			t.Errorf("%s: the page holds %s", field, tag)
		}
	}
	d := stdxml.NewDecoder(bytes.NewReader(all["xml"]))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Errorf("%s: xml: %v", field, err)
			break
		}
		if e, ok := tok.(stdxml.StartElement); ok && strings.EqualFold(e.Name.Local, "script") {
			t.Errorf("%s: the XML has an element of somebody's", field)
		}
	}
	rows, err := stdcsv.NewReader(bytes.NewReader(all["csv"])).ReadAll() // refuses rows of different lengths
	if err != nil {
		t.Errorf("%s: csv: %v", field, err)
	}
	for _, row := range rows {
		for _, c := range row {
			if _, err := strconv.ParseFloat(c, 64); err != nil && c != "" && strings.ContainsRune("=+-@|\t\r\n＝＋－＠", []rune(c)[0]) {
				t.Errorf("%s: a cell would be computed: %.40q", field, c)
			}
			if strings.ContainsAny(c, "\r\n") {
				t.Errorf("%s: a cell of several lines", field)
			}
		}
	}
	if !json.Valid(all["json"]) {
		t.Errorf("%s: no JSON", field)
	}
	if b := all["pdf"]; !bytes.HasPrefix(b, []byte("%PDF-")) || !bytes.HasSuffix(bytes.TrimSpace(b), []byte("%%EOF")) {
		t.Errorf("%s: no whole PDF", field)
	}
	if look {
		raw("pdf", pdfText(t, all["pdf"]))
	}
}

// pdfText is what a reader can take out of a file, and what it says of itself.
func pdfText(t *testing.T, b []byte) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	var out []byte
	for _, args := range [][]string{{"pdftotext", path, "-"}, {"pdfinfo", path}, {"qpdf", "--check", path}} {
		if _, err := exec.LookPath(args[0]); err != nil {
			t.Skip("needs " + args[0] + ": apt-get install poppler-utils qpdf")
		}
		text, err := exec.Command(args[0], args[1:]...).Output()
		if err != nil {
			t.Fatalf("%v: %v\n%s", args, err, text)
		}
		out = append(out, text...)
	}
	return bytes.ReplaceAll(out, []byte("\f"), nil)
}

// TestHostileNotice does the same to the page for the household.
func TestHostileNotice(t *testing.T) {
	for _, text := range []string{evil, strings.Repeat("W", 60_000), strings.Repeat("word ", 12_000)} {
		for _, lang := range []wording.Lang{wording.English, wording.Spanish} {
			in := everything()
			h := &hostile{text: text, seen: map[string]bool{}, keep: func(x string) bool { return slices.Contains(typed, x) || text == evil && !chooses[x] }}
			h.fill(reflect.ValueOf(&in).Elem(), "")
			n := notice.Build(notice.Input{Header: in.Header, Events: in.Events, Observations: in.Observations, Judgement: in.Judgement, Closed: true, CloseHash: in.CloseHash, Lang: lang, ProgramVersion: in.ProgramVersion})
			var txt, pdf bytes.Buffer
			if err := notice.WriteText(&txt, n); err != nil {
				t.Fatal(err)
			}
			if err := noticepdf.Write(&pdf, n, noticepdf.Options{}); err != nil {
				t.Errorf("%.20q: %v", text, err)
				continue
			}
			for form, b := range map[string][]byte{"txt": txt.Bytes(), "pdf": pdfText(t, pdf.Bytes())} {
				for _, r := range string(b) {
					if unicode.IsControl(r) && r != '\n' || r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 {
						t.Errorf("%s notice, %s: %U", lang, form, r)
						break
					}
				}
			}
			if n := bytes.Count(pdf.Bytes(), []byte("/Type /Page\n")); n != 1 {
				t.Errorf("%.20q: %d pages", text, n)
			}
		}
	}
}
