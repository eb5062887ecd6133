package pdf

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/go-fonts/dejavu/dejavusanscondensedbold"

	"cazward/procedure"
	"cazward/procedure/wording"
	"cazward/report/notice"
	"cazward/report/paper"
)

// full is an invented home with as much to say as there can be: ten findings
// of the longest kind, sixty-character names, forty appliances.
func full(l wording.Lang, d procedure.Decision, phase procedure.Phase, practice bool) notice.Notice {
	long := strings.Repeat("Very long name of an appliance in a far corner of the home 12345", 1)[:60]
	in := notice.Input{Lang: l, Closed: true, CloseHash: strings.Repeat("0a", 32),
		Header:       procedure.Header{Record: "1f2e3d4c5b6a7988", Home: long, Phase: phase, Created: time.Date(2026, 9, 22, 9, 0, 0, 0, time.UTC)},
		Observations: procedure.Observations{Tester: long}}
	if practice {
		in.Header.Practice = &procedure.Practice{House: "demo"}
	}
	in.Judgement = procedure.Judgement{Phase: phase, Decision: d, Missing: make([]procedure.Missing, 12)}
	for i := 0; i < 40; i++ {
		id := fmt.Sprintf("water-heater-%d", i)
		in.Observations.Appliances = append(in.Observations.Appliances, procedure.Appliance{ID: id, Name: fmt.Sprintf("%s %d", long[:57], i), Kind: procedure.WaterHeater})
		st := []procedure.Status{procedure.FuelOff, procedure.OffUntilServiced, procedure.MayRunNoFans}[i%3]
		in.Judgement.Appliances = append(in.Judgement.Appliances, procedure.ApplianceResult{ID: id, Status: st})
	}
	actions := []string{"fuel-supplier", "technician", "chimney-sweep", "oil-technician", "zone", "other-dwelling", "co-alarm", "source"}
	for i := 0; i < 12; i++ {
		v := 212.0
		in.Judgement.Findings = append(in.Judgement.Findings, procedure.Finding{Rule: "co", Subject: fmt.Sprintf("water-heater-%d", i), Verdict: procedure.Fail, Severity: d, Value: &v, Unit: "ppm", Action: actions[i%len(actions)]})
	}
	return notice.Build(in)
}

func write(t *testing.T, n notice.Notice, size string) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, n, Options{Size: size}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// content is the drawing of all pages, unpacked.
func content(t *testing.T, pdf []byte) []string {
	t.Helper()
	var out []string
	for _, m := range regexp.MustCompile(`(?s)/Filter /FlateDecode /Length (\d+)>>\nstream\n`).FindAllSubmatchIndex(pdf, -1) {
		n, _ := strconv.Atoi(string(pdf[m[2]:m[3]]))
		r, err := zlib.NewReader(bytes.NewReader(pdf[m[1] : m[1]+n]))
		if err != nil {
			continue
		}
		b, err := io.ReadAll(r)
		if err == nil && bytes.Contains(b, []byte(" Tf ET")) {
			out = append(out, string(b))
		}
	}
	return out
}

// metrics of a TrueType face: units in its size, and how high the letter H
// stands in them.
func metrics(ttf []byte) (unitsPerEm, capHeight float64) {
	u16 := func(at uint32) uint32 { return uint32(binary.BigEndian.Uint16(ttf[at:])) }
	table := map[string]uint32{}
	for i := uint32(0); i < u16(4); i++ {
		table[string(ttf[12+16*i:16+16*i])] = binary.BigEndian.Uint32(ttf[20+16*i:])
	}
	cmap, glyph := table["cmap"], uint32(0)
	for i := uint32(0); i < u16(cmap+2); i++ {
		sub := cmap + binary.BigEndian.Uint32(ttf[cmap+8+8*i:])
		if u16(sub) != 4 {
			continue
		}
		n := u16(sub + 6) // twice the number of segments
		for k := uint32(0); k < n; k += 2 {
			end, start := u16(sub+14+k), u16(sub+16+n+k)
			if 'H' < start || 'H' > end {
				continue
			}
			delta, offset := u16(sub+16+2*n+k), u16(sub+16+3*n+k)
			if glyph = ('H' + delta) & 0xffff; offset != 0 {
				glyph = u16(sub + 16 + 3*n + k + offset + 2*('H'-start))
			}
		}
	}
	loca := table["loca"]
	at := 2 * u16(loca+2*glyph)
	if u16(table["head"]+50) == 1 {
		at = binary.BigEndian.Uint32(ttf[loca+4*glyph:])
	}
	return float64(u16(table["head"] + 18)), float64(u16(table["glyf"] + at + 8))
}

var sizeSet = regexp.MustCompile(`BT /F\S+ ([0-9.]+) Tf ET`)

// TestHeadlineHeight takes the size of the headline from the drawing and the
// height of a capital letter from the typeface.
func TestHeadlineHeight(t *testing.T) {
	unitsPerEm, capHeight := metrics(dejavusanscondensedbold.TTF)
	if unitsPerEm == 0 || capHeight == 0 {
		t.Fatalf("the typeface has no metrics: %v, %v", capHeight, unitsPerEm)
	}
	if got := capHeight / unitsPerEm; got != paper.CapHeight {
		t.Errorf("capitals are %v of the size, not %v", got, paper.CapHeight)
	}
	for _, l := range []wording.Lang{wording.English, wording.Spanish} {
		for _, size := range []string{"letter", "a4"} {
			for _, d := range append([]procedure.Decision{procedure.NoDecision}, procedure.Decisions...) {
				for _, ph := range []procedure.Phase{procedure.TestIn, procedure.Daily, procedure.TestOut} {
					c := content(t, write(t, full(l, d, ph, true), size))
					if len(c) != 1 {
						t.Fatalf("%s %s %s: %d pages", l, size, d, len(c))
					}
					// BT /F1 46.7 Tf ET sets a size; the lines drawn in it follow.
					largest, lines := 0.0, 0
					sizes := sizeSet.FindAllStringSubmatchIndex(c[0], -1)
					for k, m := range sizes {
						end := len(c[0])
						if k+1 < len(sizes) {
							end = sizes[k+1][0]
						}
						if pt, err := strconv.ParseFloat(c[0][m[2]:m[3]], 64); err == nil && pt > largest {
							largest, lines = pt, strings.Count(c[0][m[1]:end], " Tj ET")
						}
					}
					mm := largest * paper.MM * capHeight / unitsPerEm
					strong := d != procedure.Refer && d != procedure.Proceed
					if strong && mm < HeadlineCap || mm < 8 {
						t.Errorf("%s %s %s %s: headline capitals of %.2f mm", l, size, d, ph, mm)
					}
					if lines < 1 || lines > 3 {
						t.Errorf("%s %s %s %s: headline of %d lines", l, size, d, ph, lines)
					}
				}
			}
		}
	}
}

func TestOnePageAndSameBytes(t *testing.T) {
	for _, l := range []wording.Lang{wording.English, wording.Spanish} {
		for _, size := range []string{"letter", "a4"} {
			for _, d := range procedure.Decisions {
				n := full(l, d, procedure.TestIn, true)
				a, b := write(t, n, size), write(t, n, size)
				if !bytes.Equal(a, b) {
					t.Errorf("%s %s %s: other bytes", l, size, d)
				}
				if got := regexp.MustCompile(`/Count (\d+)`).FindSubmatch(a); got == nil || string(got[1]) != "1" {
					t.Errorf("%s %s %s: %s", l, size, d, got)
				}
				if !bytes.Contains(a, []byte("/Lang ("+string(l)+")")) {
					t.Errorf("%s %s: language is not set", l, d)
				}
			}
		}
	}
	var b bytes.Buffer
	if err := Write(&b, full(wording.English, procedure.Hold, procedure.TestIn, false), Options{Size: "a5"}); err == nil {
		t.Error("size a5 was taken")
	}
}

// Eight findings of ordinary length are all named.
func TestEightFindingsAreNamed(t *testing.T) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("pdftotext is not there")
	}
	for _, l := range []wording.Lang{wording.English, wording.Spanish} {
		for _, size := range []string{"letter", "a4"} {
			in := notice.Input{Lang: l, Closed: true, CloseHash: strings.Repeat("0a", 32), Header: procedure.Header{Record: "r", Home: "Invented 1"}}
			in.Judgement.Decision = procedure.Hold
			for i := 0; i < 8; i++ {
				id := fmt.Sprintf("water-heater-%d", i+1)
				in.Observations.Appliances = append(in.Observations.Appliances, procedure.Appliance{ID: id, Name: fmt.Sprintf("water heater %d", i+1), Kind: procedure.WaterHeater})
				in.Judgement.Appliances = append(in.Judgement.Appliances, procedure.ApplianceResult{ID: id, Status: procedure.OffUntilServiced})
				in.Judgement.Findings = append(in.Judgement.Findings, procedure.Finding{Rule: "spillage", Subject: id, Verdict: procedure.Fail, Severity: procedure.Hold, Action: "service-or-house"})
			}
			in.Header.Practice = &procedure.Practice{House: "demo"}
			n := notice.Build(in)
			file := filepath.Join(t.TempDir(), "n.pdf")
			if err := os.WriteFile(file, write(t, n, size), 0o600); err != nil {
				t.Fatal(err)
			}
			raw, err := exec.Command("pdftotext", file, "-").Output()
			if err != nil {
				t.Fatal(err)
			}
			text := strings.Join(strings.Fields(string(raw)), " ")
			for _, line := range append(append(append([]string{n.Mark, n.Title, n.Word, n.Headline, n.Foot}, n.Shown(notice.MaxFound)...), n.Do.Lines...), n.Not.Lines...) {
				if !strings.Contains(text, line) {
					t.Errorf("%s %s: the page does not say %q", l, size, line)
				}
			}
			if _, err := exec.LookPath("qpdf"); err == nil {
				if out, err := exec.Command("qpdf", "--check", file).CombinedOutput(); err != nil {
					t.Errorf("qpdf: %v: %s", err, out)
				}
			}
		}
	}
}
