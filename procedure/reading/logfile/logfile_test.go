package logfile

import (
	"bytes"
	"fmt"
	"math"
	"math/rand"
	"runtime"
	"strings"
	"testing"
	"time"

	"cazward/procedure/reading"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

func readAll(t testing.TB, text string, h Hint, o Options) (Guess, Result) {
	t.Helper()
	g, err := Sniff([]byte(text[:min(len(text), HeadBytes)]), h)
	if err != nil {
		t.Fatalf("Sniff: %v\n%.300s", err, text)
	}
	r, err := Read(strings.NewReader(text), g.Format, o)
	if err != nil {
		t.Fatalf("Read: %v", err)
	}
	return g, r
}

// logOf writes one sample a second from 2026-03-01 10:00:00.
func logOf(values []float64) string {
	var b strings.Builder
	b.WriteString("Time,CAZ (Pa)\n")
	for i, v := range values {
		at := time.Date(2026, 3, 1, 10, 0, i, 0, time.UTC)
		fmt.Fprintf(&b, "%s,%v\n", at.Format("2006-01-02 15:04:05"), v)
	}
	return b.String()
}

// What a log is read as, for the forms that gauges and spreadsheets write.
func TestSniff(t *testing.T) {
	for _, c := range []struct {
		name, log string
		hint      Hint
		delim     byte
		comma     bool
		layout    Layout
		columns   string // times + pressure
		unit      reading.Unit
		ask       string
		n         int
		mean      float64
		first     string
	}{
		{"iso, comma", "Time,CAZ (Pa)\n2026-03-01 10:00:00,-1.5\n2026-03-01 10:00:01,-2.5\n2026-03-01 10:00:02,-2\n", Hint{}, ',', false, "Y-M-D h:m:s", "Time|CAZ (Pa)", "Pa", "[]", 3, -2, "2026-03-01T10:00:00Z"},
		{"T and zone", "t;dp_Pa\n2026-03-01T10:00:00.250+02:00;-1\n2026-03-01T10:00:00.750+02:00;-3\n", Hint{}, ';', false, "Y-M-DTh:m:sZ", "t|dp_Pa", "Pa", "[]", 2, -2, "2026-03-01T08:00:00.25Z"},
		{"decimal comma, two columns, unit row, preamble", "Gauge;invented\nDatum;Zeit;Druck\n;;Pa\n01.03.2026;10:00:00;-1,5\n01.03.2026;10:00:01;-2,5\n", Hint{}, ';', true, "D.M.Y h:m:s", "Datum|Zeit|Druck", "Pa", "[]", 2, -2, "2026-03-01T10:00:00Z"},
		{"day first, certain", "When\tpress inwc\n13/03/2026 10:00\t-0.01\n13/03/2026 10:01\t-0.02\n", Hint{}, '\t', false, "D/M/Y h:m", "When|press inwc", "inH2O", "[]", 2, -0.015, "2026-03-13T10:00:00Z"},
		{"day or month first", "When\tpress inwc\n03/04/2026 10:00\t-0.01\n03/04/2026 10:01\t-0.02\n", Hint{}, '\t', false, "M/D/Y h:m", "When|press inwc", "inH2O", "[day-month]", 2, -0.015, "2026-03-04T10:00:00Z"},
		{"day or month first, told", "When\tpress inwc\n03/04/2026 10:00\t-0.01\n03/04/2026 10:01\t-0.02\n", Hint{Layout: "D/M/Y h:m"}, '\t', false, "D/M/Y h:m", "When|press inwc", "inH2O", "[]", 2, -0.015, "2026-04-03T10:00:00Z"},
		{"blanks, numbers, AM and PM", "1 03/13/2026 11:59:59 AM  -1 Pa\n2 03/13/2026 12:00:00 PM  -2 Pa\n3 03/13/2026 12:00:01 PM  -3 Pa\n", Hint{Unit: "Pa"}, ' ', false, "M/D/Y h:m:s p", "column 2|column 3|column 4|column 5", "Pa", "[]", 3, -2, "2026-03-13T11:59:59Z"},
		{"elapsed, two channels", "sec,ch1 [Pa],ch2 [Pa]\n0,-1,5\n0.5,-2,7\n1,-3,6\n", Hint{}, ',', false, Elapsed, "sec|ch1 [Pa]", "Pa", "[pressure date]", 3, -2, "1970-01-01T00:00:00Z"},
		{"elapsed, told", "sec,ch1 [Pa],ch2 [Pa]\n0,-1,5\n0.5,-2,7\n1,-3,6\n", Hint{Time: "1", Pressure: "CH2 [PA]"}, ',', false, Elapsed, "sec|ch2 [Pa]", "Pa", "[date]", 3, 6, "1970-01-01T00:00:00Z"},
		{"unix", "epoch,p\n1772359200,-1\n1772359201,-3\n", Hint{}, ',', false, Unix, "epoch|p", "", "[time unit]", 2, -2, "2026-03-01T10:00:00Z"},
		{"spreadsheet days", "date,zone psf\n46082.4166666667,-0.02\n46082.4166782407,-0.04\n", Hint{}, ',', false, SerialDays, "date|zone psf", "psf", "[]", 2, -0.03, "2026-03-01T10:00:00Z"},
		{"quotes, BOM, CRLF", "\xef\xbb\xbf\"Time\",\"dP, Pa\"\r\n\"2026-03-01 10:00:00\",\"-1.5\"\r\n\"2026-03-01 10:00:01\",\"-2.5\"\r\n", Hint{}, ',', false, "Y-M-D h:m:s", "Time|dP, Pa", "Pa", "[]", 2, -2, "2026-03-01T10:00:00Z"},
		{"clock only", "10:00:00|-1\n10:00:01|-3\n", Hint{Unit: "Pa"}, '|', false, "h:m:s", "column 1|column 2", "Pa", "[date]", 2, -2, "1970-01-01T10:00:00Z"},
		{"month as a word", "01-Mar-2026 10:00:00,-1\n01-Mar-2026 10:00:01,-3\n", Hint{Unit: "Pa"}, ',', false, "D-N-Y h:m:s", "column 1|column 2", "Pa", "[]", 2, -2, "2026-03-01T10:00:00Z"},
		{"true minus", "Time,Pa\n2026-03-01 10:00:00,\u22121.5\n2026-03-01 10:00:01,\u22122.5\n", Hint{}, ',', false, "Y-M-D h:m:s", "Time|Pa", "Pa", "[]", 2, -2, "2026-03-01T10:00:00Z"},
		{"temperature is no pressure", "Time,Temp,Humidity,CAZ Pa\n2026-03-01 10:00:00,68,40,-1\n2026-03-01 10:00:01,68,40,-3\n", Hint{}, ',', false, "Y-M-D h:m:s", "Time|CAZ Pa", "Pa", "[]", 2, -2, "2026-03-01T10:00:00Z"},
		{"exponents", "Time,CAZ Pa\n2026-03-01 10:00:00,-1.0E+00\n2026-03-01 10:00:01,-3.0e0\n", Hint{}, ',', false, "Y-M-D h:m:s", "Time|CAZ Pa", "Pa", "[]", 2, -2, "2026-03-01T10:00:00Z"},
	} {
		t.Run(c.name, func(t *testing.T) {
			g, err := Sniff([]byte(c.log), c.hint)
			if err != nil {
				t.Fatal(err)
			}
			if g.Unit != c.unit {
				t.Errorf("unit %q, want %q", g.Unit, c.unit)
			}
			if g.Unit == "" {
				g.Unit = reading.UnitPa
			}
			r, err := Read(strings.NewReader(c.log), g.Format, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if g.Delimiter != c.delim || g.DecimalComma != c.comma || g.Layout != c.layout || strings.Join(r.Names(), "|") != c.columns || fmt.Sprint(g.Ask) != c.ask {
				t.Errorf("read as %q comma %v %s %q ask %v; want %q %v %s %q %s", g.Delimiter, g.DecimalComma, g.Layout, r.Names(), g.Ask, c.delim, c.comma, c.layout, c.columns, c.ask)
			}
			if r.Stats.N != c.n || math.Abs(r.Stats.Mean-c.mean) > 1e-12 || r.Faults.Bad != 0 {
				t.Errorf("n %d mean %v bad %d %v; want %d %v 0", r.Stats.N, r.Stats.Mean, r.Faults.Bad, r.Faults.BadLines, c.n, c.mean)
			}
			if got := r.From.Format(time.RFC3339Nano); got != c.first && !(c.layout == SerialDays && strings.HasPrefix(got, c.first[:19])) {
				t.Errorf("first sample at %s, want %s", got, c.first)
			}
		})
	}
}

func TestSniffRefuses(t *testing.T) {
	for _, c := range []struct {
		name, log string
		hint      Hint
		want      error
	}{
		{"nothing", "", Hint{}, ErrEmpty},
		{"blank", "\n\n", Hint{}, ErrEmpty},
		{"UTF-16", "\xff\xfeT\x00i\x00", Hint{}, ErrEncoding},
		{"binary", "PK\x03\x04\x00\x00", Hint{}, ErrEncoding},
		{"prose", "This is a letter.\nIt holds no numbers.\n", Hint{}, ErrTable},
		{"no time", "a,b\nx,1\ny,2\n", Hint{}, ErrTable},
		{"no such column", "Time,CAZ Pa\n2026-03-01 10:00:00,-1\n2026-03-01 10:00:01,-1\n", Hint{Pressure: "draft"}, ErrColumn},
		{"a name that two columns have", "Time,CAZ 1,CAZ 2\n2026-03-01 10:00:00,-1,2\n2026-03-01 10:00:01,-1,2\n", Hint{Pressure: "caz"}, ErrColumn},
		{"time for pressure", "Time,CAZ Pa\n2026-03-01 10:00:00,-1\n2026-03-01 10:00:01,-1\n", Hint{Pressure: "time"}, ErrColumn},
		{"not a pressure unit", "Time,CAZ Pa\n2026-03-01 10:00:00,-1\n2026-03-01 10:00:01,-1\n", Hint{Unit: "cfm"}, ErrFormat},
		{"not a clock", "Time,CAZ Pa\n2026-03-01 10:00:00,-1\n2026-03-01 10:00:01,-1\n", Hint{Layout: "YYYY-qq"}, ErrFormat},
	} {
		if g, err := Sniff([]byte(c.log), c.hint); err == nil || !strings.Contains(err.Error(), c.want.Error()) {
			t.Errorf("%s: %v, %+v; want %v", c.name, err, g.Format, c.want)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	good := Format{Delimiter: ',', Time: []int{0}, Pressure: 1, Layout: "h:m:s", Unit: "Pa"}
	long := "10:00:00," + strings.Repeat("1", HeadBytes) + "\n"
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name string
		f    Format
		log  string
		o    Options
		want error
	}{
		{"no rows", good, "a,b\n", Options{}, ErrNoRows},
		{"empty", good, "", Options{}, ErrNoRows},
		{"long line", good, long, Options{}, ErrLine},
		{"no unit", Format{Delimiter: ',', Time: []int{0}, Pressure: 1, Layout: "h:m:s"}, "", Options{}, ErrFormat},
		{"one column for both", Format{Delimiter: ',', Time: []int{1}, Pressure: 1, Layout: "h:m:s", Unit: "Pa"}, "", Options{}, ErrFormat},
		{"no clock", Format{Delimiter: ',', Time: []int{0}, Pressure: 1, Unit: "Pa"}, "", Options{}, ErrFormat},
		{"window backwards", good, "10:00:00,1\n", Options{Window: Window{From: at.Add(time.Hour), To: at}}, ErrFormat},
		{"UTF-16", good, "\xff\xfe1\x00", Options{}, ErrEncoding},
	} {
		if _, err := Read(strings.NewReader(c.log), c.f, c.o); err == nil || !strings.Contains(err.Error(), c.want.Error()) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

// Clock formats, read against the standard library's calendar.
func TestClock(t *testing.T) {
	for _, c := range []struct {
		layout Layout
		cell   string
		want   string // "" is refused
	}{
		{"Y-M-D h:m:s", "2024-02-29 23:59:59.5", "2024-02-29T23:59:59.5Z"},
		{"Y-M-D h:m:s", "2023-02-29 00:00:00", ""},
		{"Y-M-D h:m:s", "2026-13-01 00:00:00", ""},
		{"Y-M-D h:m:s", "2026-04-31 00:00:00", ""},
		{"Y-M-D h:m:s", "2026-03-01 24:00:00", ""},
		{"Y-M-D h:m:s", "2026-03-01 10:60:00", ""},
		{"Y-M-D h:m:s", "2026-03-01 10:00:60", ""},
		{"Y-M-D h:m:s", "2026-03-01 10:00:00 ", ""},
		{"Y-M-D h:m:s", "1899-03-01 10:00:00", ""},
		{"Y-M-D h:m:s", "2026-03-01 10:00:00.", ""},
		{"M/D/Y h:m:s p", "3/1/2026 12:00:00 AM", "2026-03-01T00:00:00Z"},
		{"M/D/Y h:m:s p", "3/1/2026 12:00:00 pm", "2026-03-01T12:00:00Z"},
		{"M/D/Y h:m:s p", "3/1/2026 13:00:00 PM", ""},
		{"D N Y h:m:s", "1 sep 2026 01:02:03", "2026-09-01T01:02:03Z"},
		{"D N Y h:m:s", "1 sxp 2026 01:02:03", ""},
		{"YMD hms", "20260301 100203", "2026-03-01T10:02:03Z"},
		{"M/D/y h:m", "3/1/26 9:05", "2026-03-01T09:05:00Z"},
		{"Y-M-DTh:m:sZ", "2026-03-01T10:00:00Z", "2026-03-01T10:00:00Z"},
		{"Y-M-DTh:m:sZ", "2026-03-01T10:00:00-0730", "2026-03-01T17:30:00Z"},
		{"Y-M-DTh:m:sZ", "2026-03-01T10:00:00+99:00", ""},
		{Unix, "0", "1970-01-01T00:00:00Z"},
		{Unix, "99999999999", ""},
		{UnixMilli, "1772359200500", "2026-03-01T10:00:00.5Z"},
		{SerialDays, "25569", "1970-01-01T00:00:00Z"},
	} {
		k := newClock(Format{Layout: c.layout})
		ns, ok := k.parse([]byte(c.cell))
		got := ""
		if ok {
			got = time.Unix(0, ns).UTC().Format(time.RFC3339Nano)
		}
		if got != c.want {
			t.Errorf("%s as %q: %q, want %q", c.cell, c.layout, got, c.want)
		}
	}
	// Every day of two centuries.
	for d := time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC); d.Year() < 2100; d = d.AddDate(0, 0, 1) {
		if got := days(d.Year(), int(d.Month()), d.Day()) * 86400; got != d.Unix() {
			t.Fatalf("days of %s: %d s, want %d", d.Format(time.DateOnly), got, d.Unix())
		}
	}
	// A zone with summer time is read as the library reads it.
	zone := time.FixedZone("x", -5*3600)
	k := newClock(Format{Layout: "Y-M-D h:m:s", Zone: zone})
	if ns, ok := k.parse([]byte("2026-07-01 10:00:00")); !ok || !time.Unix(0, ns).Equal(time.Date(2026, 7, 1, 10, 0, 0, 0, zone)) {
		t.Errorf("zone: %v %v", ns, ok)
	}
}

func TestMidnight(t *testing.T) {
	// A clock without date has the summer time of its day, not of another.
	if zone, err := time.LoadLocation("America/Denver"); err == nil {
		k := newClock(Format{Layout: "h:m:s", Zone: zone, Day: time.Date(2026, 7, 1, 0, 0, 0, 0, zone)})
		if ns, ok := k.parse([]byte("10:00:00")); !ok || !time.Unix(0, ns).Equal(time.Date(2026, 7, 1, 10, 0, 0, 0, zone)) {
			t.Errorf("10:00 in July is %v", time.Unix(0, ns).In(zone))
		}
	} else {
		t.Log("no time zones on this machine:", err)
	}
	_, r := readAll(t, "23:59:58,-1\n23:59:59,-2\n00:00:00,-3\n00:00:01,-4\n", Hint{Unit: "Pa"}, Options{})
	if r.Faults.Disorder != 0 || r.Stats.Seconds() != 3 {
		t.Errorf("over midnight: %+v, %v s; want no disorder and 3 s", r.Faults, r.Stats.Seconds())
	}
}

// A window typed as a bare clock lands on the log's own day, in its own zone,
// and the next day where that time comes first after midnight.
func TestParseTime(t *testing.T) {
	zone := time.FixedZone("x", -7*3600)
	day := time.Date(2026, 3, 1, 0, 0, 0, 0, zone)
	for _, c := range []struct{ name, log, text, want string }{
		{"dated log", "T,Pa\n2026-03-01 23:50:00,-1\n2026-03-01 23:50:01,-2\n", "23:55", "2026-03-01T23:55:00-07:00"},
		{"after midnight", "T,Pa\n2026-03-01 23:50:00,-1\n2026-03-01 23:50:01,-2\n", "0:05:30", "2026-03-02T00:05:30-07:00"},
		{"with its date", "T,Pa\n2026-03-01 23:50:00,-1\n2026-03-01 23:50:01,-2\n", "2026-03-02 01:00", "2026-03-02T01:00:00-07:00"},
		{"in the log's own way", "T,Pa\n13/03/2026 23:50:00,-1\n13/03/2026 23:50:01,-2\n", "14/03/2026 01:00:00", "2026-03-14T01:00:00-07:00"},
		{"bare clock", "T,Pa\n23:50:00,-1\n23:50:01,-2\n", "23:55", "2026-03-01T23:55:00-07:00"},
		{"no time", "T,Pa\n23:50:00,-1\n23:50:01,-2\n", "noon", ""},
	} {
		g, err := Sniff([]byte(c.log), Hint{Zone: zone, Day: day})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if len(g.Ask) > 0 {
			t.Errorf("%s: asks %v", c.name, g.Ask)
		}
		at, ok := g.ParseTime(c.text, g.First)
		got := ""
		if ok {
			got = at.Format(time.RFC3339)
		}
		if got != c.want {
			t.Errorf("%s: %q is %s, want %s", c.name, c.text, got, c.want)
		}
		// The same zone when it is read.
		r, err := Read(strings.NewReader(c.log), g.Format, Options{Window: Window{From: g.First, To: g.First}})
		if err != nil || !r.From.Equal(g.First) || r.Stats.N != 1 {
			t.Errorf("%s: first sample at %v, guessed %v, %d in a window of that moment, %v", c.name, r.From, g.First, r.Stats.N, err)
		}
	}
}

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		cell  string
		comma bool
		want  float64
		ok    bool
	}{
		{"-1.25", false, -1.25, true}, {"+3", false, 3, true}, {" 7 ", false, 7, true}, {".5", false, .5, true}, {"5.", false, 5, true}, {"-0", false, 0, true},
		{"1,5", true, 1.5, true}, {"1,5", false, 0, false}, {"1.5", true, 0, false}, {"1.234,5", true, 0, false}, {"\u22122.5", false, -2.5, true},
		{"123456789012345678", false, 0, false}, {"0.12345678901234567890", false, 0.12345678901234568, true}, {"1e-3", false, 1e-3, true}, {"-1,2E+1", true, -12, true},
		{"", false, 0, false}, {"-", false, 0, false}, {".", false, 0, false}, {"OL", false, 0, false}, {"NaN", false, 0, false}, {"inf", false, 0, false}, {"0x1p3", false, 0, false}, {"1_000", false, 0, false}, {"--1", false, 0, false}, {"1e999", false, 0, false}, {"1.2.3", false, 0, false}, {"12 34", false, 0, false},
	} {
		v, ok := number([]byte(c.cell), c.comma)
		if ok != c.ok || v != c.want || math.Signbit(v) && v == 0 {
			t.Errorf("number(%q, comma %v) = %v, %v; want %v, %v", c.cell, c.comma, v, ok, c.want, c.ok)
		}
	}
}

func TestFaults(t *testing.T) {
	var b strings.Builder
	b.WriteString("Time,CAZ (Pa)\n")
	row := func(s int, v string) {
		fmt.Fprintf(&b, "%s,%s\n", time.Date(2026, 3, 1, 10, 0, s, 0, time.UTC).Format("2006-01-02 15:04:05"), v)
	}
	for s := range 20 {
		row(s, "-1.0")
	}
	row(19, "-1.0") // said twice
	row(19, "-1.1") // same time, other value
	row(20, "OL")   // not a number
	row(21, "-9999.0")
	b.WriteString("\n")
	b.WriteString("2026-03-01 10:00:22\n")
	row(40, "-1.0") // after a gap of 21 s
	row(41, "-1.0")
	row(30, "-1.0") // back
	row(31, "-1.0")
	_, r := readAll(t, b.String(), Hint{}, Options{})
	f := r.Faults
	if f.Duplicates != 1 || f.SameTime != 1 || f.Bad != 3 || f.Gaps != 1 || f.LongestGap != 21*time.Second || f.Disorder != 1 || r.Rows != 25 {
		t.Errorf("faults %+v, rows %d", f, r.Rows)
	}
	if f.GapAt.Second() != 19 || r.Step != time.Second {
		t.Errorf("gap at %v, step %v", f.GapAt, r.Step)
	}
	if len(f.BadLines) != 3 || f.BadLines[0].Line != 24 || !strings.HasSuffix(f.BadLines[0].Text, ",OL") {
		t.Errorf("bad lines %+v", f.BadLines)
	}
	has := func(q Quality) bool {
		for _, x := range r.Quality {
			if x == q {
				return true
			}
		}
		return false
	}
	for _, q := range []Quality{HasGap, Disorder, HasBad} {
		if !has(q) {
			t.Errorf("quality %v lacks %s", r.Quality, q)
		}
	}
	// The same faults outside the window are no fault of the window.
	_, r = readAll(t, b.String(), Hint{}, Options{Window: Window{To: time.Date(2026, 3, 1, 10, 0, 10, 0, time.UTC)}})
	if r.Stats.N != 11 || has(HasGap) || has(Disorder) {
		t.Errorf("window before the faults: n %d, %v", r.Stats.N, r.Quality)
	}
}

func TestQuality(t *testing.T) {
	noise := func(n int, f func(i int) float64) []float64 {
		src := rand.New(rand.NewSource(7))
		v := make([]float64, n)
		for i := range v {
			v[i] = math.Round((f(i)+src.NormFloat64()*0.1)*100) / 100
		}
		return v
	}
	flat := func(int) float64 { return -2 }
	for _, c := range []struct {
		name   string
		values []float64
		want   string
	}{
		{"calm", noise(120, flat), "[]"},
		{"short", noise(20, flat), "[too-short]"},
		{"settling", noise(120, func(i int) float64 { return -3 + 2*math.Exp(-float64(i)/60) }), "[few-independent drifting]"},
		{"slow drift", noise(120, func(i int) float64 { return -2 - 0.5*float64(i)/119 }), "[drifting]"},
		{"small drift", noise(600, func(i int) float64 { return -2 - 0.1*float64(i)/599 }), "[]"},
		{"frozen", make([]float64, 60), "[frozen]"},
		{"spike", append(noise(119, flat), -9), "[outliers]"},
	} {
		_, r := readAll(t, logOf(c.values), Hint{}, Options{})
		if got := fmt.Sprint(r.Quality); got != c.want {
			t.Errorf("%s: %s, want %s (%+v)", c.name, got, c.want, r.Stats)
		}
	}
	_, r := readAll(t, logOf(noise(60, flat)), Hint{}, Options{Window: Window{From: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)}})
	if fmt.Sprint(r.Quality) != "[no-samples]" || r.Stats.N != 0 || r.Rows != 60 {
		t.Errorf("empty window: %v, n %d of %d", r.Quality, r.Stats.N, r.Rows)
	}
}

// The streaming sums must give what the samples give when they are all at
// hand, and what an independent library gives.
func TestStatsAgainstWholeSample(t *testing.T) {
	src := rand.New(rand.NewSource(3))
	for k := range 60 {
		n := 3 + src.Intn(400)
		v, x := make([]float64, n), 0.0
		offset := src.NormFloat64() * 20
		for i := range v {
			x = 0.7*x + src.NormFloat64()*0.3
			v[i] = math.Round((offset+x+float64(i)*0.002)*1000) / 1000
		}
		_, r := readAll(t, logOf(v), Hint{}, Options{})
		want, err := reading.Summarize(v)
		if err != nil {
			t.Fatal(err)
		}
		s := r.Stats
		close := func(name string, got, want float64) {
			if math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
				t.Errorf("sample %d, n %d: %s %.15g, want %.15g", k, n, name, got, want)
			}
		}
		close("mean", s.Mean, want.Mean)
		close("s", s.S, want.S)
		close("autocorrelation", s.Autocorrelation, want.Autocorrelation)
		close("effective N", s.EffectiveN, want.EffectiveN)
		close("standard error", s.SE, reading.StandardError(want))
		close("lowest", s.Lowest.Value, want.Min)
		close("highest", s.Highest.Value, want.Max)
		close("mean, gonum", s.Mean, stat.Mean(v, nil))
		close("s, gonum", s.S, stat.StdDev(v, nil))
		at := make([]float64, n)
		for i := range at {
			at[i] = float64(i)
		}
		alpha, beta := stat.LinearRegression(at, v, nil, false)
		close("change, gonum", s.Change, beta*float64(n-1))
		// What the line leaves, with its own autocorrelation.
		left := make([]float64, n)
		squares, sxx := 0.0, 0.0
		for i := range v {
			left[i] = v[i] - alpha - beta*at[i]
			squares += left[i] * left[i]
			sxx += (at[i] - at[n-1]/2) * (at[i] - at[n-1]/2)
		}
		res, err := reading.Summarize(left)
		if err != nil {
			t.Fatal(err)
		}
		close("standard error of the change", s.ChangeSE, math.Sqrt(squares/float64(n-2)/sxx*float64(n)/res.EffectiveN)*at[n-1])
	}
}

func TestPublishedWindow(t *testing.T) {
	published := func(figure string, got, want, tol float64, source, evidence string) {
		t.Helper()
		t.Logf("published: figure=%q got=%.10g want=%.10g tolerance=%.3g source=%q evidence=%s", figure, got, want, tol, source, evidence)
		if !(math.Abs(got-want) <= tol) {
			t.Errorf("%s: got %.12g, want %.12g within %g", figure, got, want, tol)
		}
	}
	const formulas = "ten readings, formulas of the sample mean and standard deviation"
	_, r := readAll(t, logOf([]float64{-1.2, -0.8, -1.5, -0.9, -1.1, -1.4, -0.7, -1.0, -1.3, -1.1}), Hint{}, Options{})
	s := r.Stats
	published("log window: mean of ten readings", s.Mean, -1.1, 1e-12, formulas, "computed")
	published("log window: s of ten readings", s.S, 0.25819889, 5e-9, formulas, "computed")
	// These ten swing from one to the next, so they count as ten.
	published("log window: standard error of ten readings", s.SE, 0.08164966, 5e-9, formulas, "computed")
	t975 := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(s.N - 1)}.Quantile(0.975)
	published("log window: 95 % half-width of ten readings", t975*s.SE, 0.18470435, 1e-8, formulas, "computed")
	// A long AR(1) record with r = 0.5: the standard error grows by sqrt(3).
	src := rand.New(rand.NewSource(11))
	v, x := make([]float64, 60000), 0.0
	for i := range v {
		x = 0.5*x + src.NormFloat64()
		v[i] = x
	}
	_, r = readAll(t, logOf(v), Hint{}, Options{})
	published("log window: standard error over s/sqrt(N), AR(1) with r 0.5", r.Stats.SE/(r.Stats.S/math.Sqrt(60000)), 1.7320508, 0.02,
		"AR(1) factor sqrt((1+r)/(1-r)); need for it: Witt, Metrologia 44 (2007) 201", "computed")
}

// Two logs that say the same in other forms give the same window.
func TestFormsAgree(t *testing.T) {
	src := rand.New(rand.NewSource(5))
	at := time.Date(2026, 3, 13, 9, 59, 0, 0, time.UTC)
	var a, b, c strings.Builder
	a.WriteString("Time,CAZ Pa\n")
	b.WriteString("Datum;Uhr;Druck (Pa)\n")
	for i := range 300 {
		v := fmt.Sprintf("%.2f", -2+src.NormFloat64()*0.3)
		x := at.Add(time.Duration(i) * time.Second)
		fmt.Fprintf(&a, "%s,%s\n", x.Format("2006-01-02 15:04:05"), v)
		fmt.Fprintf(&b, "%s;%s\n", x.Format("02.01.2006;15:04:05"), strings.Replace(v, ".", ",", 1))
		fmt.Fprintf(&c, "%d\t%s\t%s\n", i, x.Format("1/2/2006 3:04:05 PM"), v)
	}
	w := Options{Window: Window{From: at.Add(60 * time.Second), To: at.Add(179 * time.Second)}}
	_, ra := readAll(t, a.String(), Hint{}, w)
	_, rb := readAll(t, b.String(), Hint{}, w)
	_, rc := readAll(t, c.String(), Hint{Unit: "Pa"}, w)
	if ra.Stats.N != 120 || ra.SHA256 == rb.SHA256 {
		t.Errorf("n %d", ra.Stats.N)
	}
	strip := func(s Stats) Stats { s.Lowest.Line, s.Highest.Line = 0, 0; return s }
	if strip(ra.Stats) != strip(rb.Stats) || strip(ra.Stats) != strip(rc.Stats) {
		t.Errorf("the same samples in three forms:\n%+v\n%+v\n%+v", ra.Stats, rb.Stats, rc.Stats)
	}
}

func TestHash(t *testing.T) {
	// sha256sum of these bytes.
	const log, want = "Time,Pa\n2026-03-01 10:00:00,-1\n2026-03-01 10:00:01,-2\n", "53027e00fa9b3fc0233a7e3c46d0a839d5c44301ca1900f397587de51d738585"
	_, r := readAll(t, log, Hint{}, Options{})
	if r.SHA256 != want || r.Bytes != int64(len(log)) {
		t.Errorf("sha256 %s of %d bytes, want %s", r.SHA256, r.Bytes, want)
	}
}

func TestDraw(t *testing.T) {
	src := rand.New(rand.NewSource(9))
	v := make([]float64, 900)
	for i := range v {
		v[i] = -1 + src.NormFloat64()*0.1
	}
	v[450] = -7
	w := Window{From: time.Date(2026, 3, 1, 10, 5, 0, 0, time.UTC), To: time.Date(2026, 3, 1, 10, 10, 0, 0, time.UTC)}
	_, r := readAll(t, logOf(v), Hint{}, Options{Window: w})
	for _, width := range []int{0, 40, 59, 79} {
		lines := r.In.Draw(width, 12, Window{})
		spikes := 0
		for _, l := range append(lines, r.All.Draw(width, 12, w)...) {
			if len(l) > max(width, 40) {
				t.Errorf("width %d: %d columns: %q", width, len(l), l)
			}
			for _, b := range []byte(l) {
				if b < ' ' || b > '~' {
					t.Errorf("byte %#x in %q", b, l)
				}
			}
		}
		for _, l := range lines {
			spikes += strings.Count(l, "o")
		}
		if spikes != 1 {
			t.Errorf("width %d: %d outliers drawn, want 1:\n%s", width, spikes, strings.Join(lines, "\n"))
		}
	}
	all := r.All.Draw(79, 12, w)
	if axis := all[len(all)-2]; strings.Count(axis, "=") < 20 || strings.Count(axis, "=") > 26 {
		t.Errorf("a third of the axis is the window: %s", axis)
	}
	// A gap is drawn as a gap.
	_, r = readAll(t, "10:00:00,-1\n10:00:01,-1\n10:00:02,-1\n10:00:03,-2\n10:01:40,-1\n10:01:41,-1\n", Hint{Unit: "Pa"}, Options{})
	for _, l := range r.All.Draw(79, 8, Window{}) {
		if len(l) > 30 && strings.ContainsAny(l[20:60], "*|o") {
			t.Errorf("something is drawn inside the gap: %q", l)
		}
	}
}

func million(rows int) []byte {
	return rowsOf(rows, "Time,CAZ (Pa),Temp (F)\n", "2006-01-02 15:04:05", ",%.1f,68.%d\n")
}

func rowsOf(rows int, header, clock, rest string) []byte {
	var b bytes.Buffer
	b.WriteString(header)
	src := rand.New(rand.NewSource(1))
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for i := range rows {
		b.Write(at.Add(time.Duration(i)*time.Second).AppendFormat(nil, clock))
		fmt.Fprintf(&b, rest, -2+src.NormFloat64(), i%10)
	}
	return b.Bytes()
}

// Memory must not grow with the log: what is allocated for 400,000 lines is
// what is allocated for 4,000.
func TestFlatMemory(t *testing.T) {
	use := func(log []byte) uint64 {
		g, err := Sniff(log[:min(len(log), HeadBytes)], Hint{})
		if err != nil {
			t.Fatal(err)
		}
		var a, b runtime.MemStats
		runtime.ReadMemStats(&a)
		r, err := Read(bytes.NewReader(log), g.Format, Options{})
		if err != nil {
			t.Fatal(err)
		}
		runtime.ReadMemStats(&b)
		if r.Faults.Bad != 0 {
			t.Fatalf("%+v", r.Faults)
		}
		return b.TotalAlloc - a.TotalAlloc
	}
	small, large := use(million(4000)), use(million(400000))
	if large > small+64<<10 {
		t.Errorf("4,000 lines allocate %d bytes, 400,000 lines %d", small, large)
	}
}

// A million lines in the plainest form, and in the two slowest.
func BenchmarkMillionRows(b *testing.B) {
	for _, c := range []struct{ name, header, clock, rest string }{
		{"iso", "Time,CAZ (Pa),Temp (F)\n", "2006-01-02 15:04:05", ",%.1f,68.%d\n"},
		{"blanks-am-pm", "", "1/2/2006 3:04:05 PM", "   %.1f  68.%d\n"},
		{"quoted-zone", "\"Time\";\"CAZ (Pa)\";\"T\"\n", "\"2006-01-02T15:04:05.000Z07:00\"", ";\"%.9f\";\"68.%d\"\n"},
	} {
		b.Run(c.name, func(b *testing.B) {
			log := rowsOf(1_000_000, c.header, c.clock, c.rest)
			g, err := Sniff(log[:HeadBytes], Hint{Unit: "Pa"})
			if err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(len(log)))
			b.ReportAllocs()
			for b.Loop() {
				r, err := Read(bytes.NewReader(log), g.Format, Options{})
				if err != nil || r.Rows != 1_000_000 {
					b.Fatal(r.Rows, err)
				}
			}
		})
	}
}

// FuzzLog: whatever is in the file, reading it must end, keep its promises and
// never panic.
func FuzzLog(f *testing.F) {
	for _, s := range []string{
		"Time,CAZ (Pa)\n2026-03-01 10:00:00,-1.5\n2026-03-01 10:00:01,-2.5\n",
		"Datum;Zeit;Druck\n;;Pa\n01.03.2026;10:00:00;-1,5\n01.03.2026;10:00:01;-2,5\n",
		"1 03/13/2026 11:59:59 AM  -1 Pa\n2 03/13/2026 12:00:00 PM  -2 Pa\n",
		"sec\tch1 [inwc]\n0\t-0.01\n0.5\t-0.02\n",
		"\"Time\",\"dP, Pa\"\r\n\"2026-03-01 10:00:00\",\"-1.5\"\r\n",
		"23:59:59|1\n00:00:00|2\n10:00:00|3\n",
		"epoch,p\n1772359200,-1\n1772359201,-3\n",
	} {
		f.Add([]byte(s), int64(0), int64(60))
	}
	f.Fuzz(func(t *testing.T, log []byte, from, length int64) {
		g, err := Sniff(log[:min(len(log), HeadBytes)], Hint{})
		if err != nil {
			return
		}
		if g.Unit == "" {
			g.Unit = reading.UnitPa
		}
		var o Options
		if length > 0 && from >= 0 && from < 1<<32 && length < 1<<32 {
			o.Window = Window{From: g.First.Add(time.Duration(from)), To: g.First.Add(time.Duration(from) + time.Duration(length)*time.Millisecond)}
		}
		r, err := Read(bytes.NewReader(log), g.Format, o)
		if err != nil {
			return
		}
		s := r.Stats
		if r.Rows < 1 || s.N > r.Rows || r.Rows+r.Faults.Bad+r.Faults.Duplicates > r.Lines || r.Bytes != int64(len(log)) {
			t.Errorf("%d in the window of %d rows of %d lines, %d bytes of %d", s.N, r.Rows, r.Lines, r.Bytes, len(log))
		}
		if s.N > 0 {
			for _, v := range []float64{s.Mean, s.S, s.SE, s.Autocorrelation, s.EffectiveN, s.Change, s.ChangeSE, s.Median} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Errorf("not a number in %+v", s)
				}
			}
			if s.Mean < s.Min || s.Mean > s.Max || s.EffectiveN < 1 || s.EffectiveN > float64(s.N) || s.Outliers > s.N || s.From.After(s.To) {
				t.Errorf("%+v", s)
			}
		} else if len(r.Quality) == 0 {
			t.Error("an empty window has no quality")
		}
		for _, l := range append(r.All.Draw(79, 12, o.Window), r.In.Draw(60, 8, Window{})...) {
			if len(l) > 79 || strings.IndexFunc(l, func(c rune) bool { return c < ' ' || c > '~' }) >= 0 {
				t.Errorf("drawn: %q", l)
			}
		}
	})
}
