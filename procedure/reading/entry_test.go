package reading_test

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"cazward/procedure/reading"
)

// refused checks code, refused text and proposal of an error.
func refused(t *testing.T, in string, err error, code reading.Code, text, suggest string) {
	t.Helper()
	var e *reading.EntryError
	if !errors.As(err, &e) {
		t.Errorf("%q: error %v, want code %s", in, err, code)
		return
	}
	if e.Code != code || e.Text != text || e.Suggest != suggest {
		t.Errorf("%q: got %s text %q suggest %q, want %s %q %q", in, e.Code, e.Text, e.Suggest, code, text, suggest)
	}
	if msg := e.Error(); !strings.HasPrefix(msg, "reading: ") || !strings.Contains(msg, suggest) {
		t.Errorf("%q: message %q", in, msg)
	}
}

func TestParsePressure(t *testing.T) {
	for _, c := range []struct {
		in   string
		def  reading.Unit
		want reading.Entry
	}{
		{"-3.2", "Pa", reading.Entry{Values: []float64{-3.2}, Unit: "Pa"}},
		{"+3.2", "Pa", reading.Entry{Values: []float64{3.2}, Unit: "Pa"}},
		{"-.5", "Pa", reading.Entry{Values: []float64{-0.5}, Unit: "Pa"}},
		{"0", "Pa", reading.Entry{Values: []float64{0}, Unit: "Pa"}},
		{"0.0 -0.1 +0", "Pa", reading.Entry{Values: []float64{0, -0.1, 0}, Unit: "Pa"}},
		{"  -0.8\t-1.1 \u00a0-0.9 ", "Pa", reading.Entry{Values: []float64{-0.8, -1.1, -0.9}, Unit: "Pa"}},
		{"-0.8 -1.1 Pa", "inH2O", reading.Entry{Values: []float64{-0.8, -1.1}, Unit: "Pa"}},
		{"-1.0 30s", "Pa", reading.Entry{Values: []float64{-1}, Unit: "Pa", AveragingS: 30}},
		{"-1.0 30 s", "Pa", reading.Entry{Values: []float64{-1}, Unit: "Pa", AveragingS: 30}},
		{"-1.0 Pa 30s", "Pa", reading.Entry{Values: []float64{-1}, Unit: "Pa", AveragingS: 30}},
		{"-1.0Pa 1:05", "Pa", reading.Entry{Values: []float64{-1}, Unit: "Pa", AveragingS: 65}},
		{"-1.0 1 min", "Pa", reading.Entry{Values: []float64{-1}, Unit: "Pa", AveragingS: 60}},
		{"0 30s", "Pa", reading.Entry{Values: []float64{0}, Unit: "Pa", AveragingS: 30}},
		{"-0.01 inH2O", "Pa", reading.Entry{Values: []float64{-0.01}, Unit: "inH2O"}},
		{"-0.01 in. w.c.", "Pa", reading.Entry{Values: []float64{-0.01}, Unit: "inH2O"}},
		{`-0.01"wc 10s`, "Pa", reading.Entry{Values: []float64{-0.01}, Unit: "inH2O", AveragingS: 10}},
		{"-0.01 inH2O_60F", "Pa", reading.Entry{Values: []float64{-0.01}, Unit: "inH2O_60F"}},
		{"-0.1", "psf", reading.Entry{Values: []float64{-0.1}, Unit: "psf"}},
		{"\u22123.2 \u22120.4", "Pa", reading.Entry{Values: []float64{-3.2, -0.4}, Unit: "Pa"}},
		{"-35", "Pa", reading.Entry{Values: []float64{-35}, Unit: "Pa"}}, // implausible is Plausible's to say
	} {
		got, err := reading.ParsePressure(c.in, c.def)
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("ParsePressure(%q, %s) = %+v, %v; want %+v", c.in, c.def, got, err, c.want)
		}
	}
}

func TestParsePressureRefuses(t *testing.T) {
	many := strings.Repeat("-1 ", reading.MaxSamples)
	for _, c := range []struct {
		in            string
		code          reading.Code
		text, suggest string
	}{
		{"", reading.CodeEmpty, "", ""},
		{" \t ", reading.CodeEmpty, "", ""},
		{"3.2", reading.CodeNoSign, "3.2", "-3.2"},
		{".5", reading.CodeNoSign, ".5", "-.5"},
		{"-0.8 1.1 -0.9", reading.CodeNoSign, "1.1", "-1.1"},
		{"-1.0 30", reading.CodeNoSign, "30", "-30"},
		{"0.01", reading.CodeNoSign, "0.01", "-0.01"},
		{"-3,2", reading.CodeComma, "-3,2", "-3.2"},
		{"3,2", reading.CodeComma, "3,2", "3.2"},
		{"-3,250", reading.CodeComma, "-3,250", "-3.250"},
		{"-0.8,-1.1", reading.CodeComma, "-0.8,-1.1", "-0.8 -1.1"},
		{"-0.8, -1.1", reading.CodeComma, "-0.8,", ""},
		{"NaN", reading.CodeNotANumber, "NaN", ""},
		{"-NaN", reading.CodeNotANumber, "-", ""},
		{"-Inf", reading.CodeNotANumber, "-", ""},
		{"0x1F", reading.CodeNotANumber, "0x1F", ""},
		{"-0x1p-2", reading.CodeNotANumber, "-0x1p-2", ""},
		{"-1e400", reading.CodeNotANumber, "-1e400", ""},
		{"-1_000", reading.CodeNotANumber, "-1_000", ""},
		{"-0/9", reading.CodeNotANumber, "-0/9", ""},
		{"-3.", reading.CodeNotANumber, "-3.", ""},
		{"-", reading.CodeNotANumber, "-", ""},
		{"--3.2", reading.CodeNotANumber, "--3.2", ""},
		{"-+3.2", reading.CodeNotANumber, "-+3.2", ""},
		{"-3.2.1", reading.CodeNotANumber, "-3.2.1", ""},
		{"-3-4", reading.CodeNotANumber, "-3-4", ""},
		{"\u20133.2", reading.CodeNotANumber, "\u20133.2", "-3.2"},
		{"-3\u20134", reading.CodeNotANumber, "-3\u20134", ""},
		{"-\u0663", reading.CodeNotANumber, "-", ""}, // other digits than ASCII
		{"/q", reading.CodeNotANumber, "/q", ""},
		{"30s", reading.CodeNoSign, "30", "-30"},
		{"-3.2;-3.3", reading.CodeNotANumber, "-3.2;-3.3", ""},
		{"-3O", reading.CodeUnit, "O", ""},
		{"-3.2 bar", reading.CodeUnit, "bar", ""},
		{"-3.2 in", reading.CodeUnit, "in", ""},
		{"-3.2 ppm", reading.CodeFamily, "ppm", "Pa"},
		{"-1.0 -30s", reading.CodeFamily, "s", "Pa"},
		{"-0.8 Pa -1.1", reading.CodeMixed, "-1.1", ""},
		{"-0.8 Pa -0.01 inH2O", reading.CodeMixed, "-0.01", ""},
		{"-1.0 Pa 30", reading.CodeMixed, "30", ""},
		{"-0.8 -1.1 30s", reading.CodeAveragingWithMany, "30s", ""},
		{"-1.0 0s", reading.CodeOutOfRange, "0s", ""},
		{"-1.0 61 min", reading.CodeOutOfRange, "61 min", ""},
		{"-" + strings.Repeat("9", 400), reading.CodeOutOfRange, "-" + strings.Repeat("9", 400), ""},
		{"-99999999999999", reading.CodeOutOfRange, "-99999999999999", ""},
		{"-0.0000000000001", reading.CodeOutOfRange, "-0.0000000000001", ""},
		{many + "-2", reading.CodeTooMany, "-2", ""},
	} {
		got, err := reading.ParsePressure(c.in, reading.UnitPa)
		refused(t, c.in, err, c.code, c.text, c.suggest)
		if !reflect.DeepEqual(got, reading.Entry{}) {
			t.Errorf("%q: refused, yet gave %+v", c.in, got)
		}
	}
	if e, err := reading.ParsePressure(many, reading.UnitPa); err != nil || len(e.Values) != reading.MaxSamples {
		t.Errorf("%d values: %v", reading.MaxSamples, err)
	}
	for _, def := range []reading.Unit{"", "bar"} {
		_, err := reading.ParsePressure("-3.2", def)
		refused(t, "-3.2", err, reading.CodeUnit, string(def), "")
	}
	_, err := reading.ParsePressure("-3.2", reading.UnitPPM)
	refused(t, "-3.2", err, reading.CodeFamily, "ppm", "ppm")
}

func TestEntry(t *testing.T) {
	e, err := reading.ParsePressure("-0.02 +0.01 0 in wc", reading.UnitPa)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := e.String(), "-0.02 +0.01 0 inH2O"; got != want {
		t.Errorf("String: %q, want %q", got, want)
	}
	ps, err := e.Pressures()
	if err != nil || len(ps) != 3 || math.Abs(float64(ps[0])+4.9817782) > 1e-9 || math.Abs(float64(ps[1])-2.4908891) > 1e-9 || ps[2] != 0 {
		t.Errorf("Pressures: %v, %v", ps, err)
	}
	if _, err := (reading.Entry{Values: []float64{-1}, Unit: "ppm"}).Pressures(); reading.CodeOf(err) != reading.CodeFamily {
		t.Errorf("ppm as pressure: %v", err)
	}
}

func TestParseNumber(t *testing.T) {
	for in, want := range map[string]float64{"5": 5, "-5": -5, "+5.25": 5.25, ".5": 0.5, " 007 ": 7, "-0": 0, "\u22121.5": -1.5} {
		got, err := reading.ParseNumber(in)
		if err != nil || got != want || math.Signbit(got) != (want < 0) {
			t.Errorf("ParseNumber(%q) = %v, %v; want %v", in, got, err, want)
		}
	}
	for _, c := range []struct {
		in            string
		code          reading.Code
		text, suggest string
	}{
		{"", reading.CodeEmpty, "", ""},
		{"5,25", reading.CodeComma, "5,25", "5.25"},
		{"1,234", reading.CodeThousands, "1,234", "1234"},
		{"-1,234,567.5", reading.CodeThousands, "-1,234,567.5", "-1234567.5"},
		{"1,2345", reading.CodeComma, "1,2345", "1.2345"},
		{",", reading.CodeComma, ",", ""},
		{"1,,2", reading.CodeComma, "1,,2", ""},
		{"NaN", reading.CodeNotANumber, "NaN", ""},
		{"+Inf", reading.CodeNotANumber, "+Inf", ""},
		{"0x10", reading.CodeNotANumber, "0x10", ""},
		{"1e3", reading.CodeNotANumber, "1e3", ""},
		{"1_0", reading.CodeNotANumber, "1_0", ""},
		{"5 Pa", reading.CodeTooMany, "Pa", ""},
		{"5.", reading.CodeNotANumber, "5.", ""},
	} {
		got, err := reading.ParseNumber(c.in)
		refused(t, c.in, err, c.code, c.text, c.suggest)
		if got != 0 {
			t.Errorf("%q: refused, yet gave %v", c.in, got)
		}
	}
}

func TestParseQuantity(t *testing.T) {
	for _, c := range []struct {
		in   string
		def  reading.Unit
		want float64
		unit reading.Unit
	}{
		{"34", "F", 34, "F"},
		{"34 F", "F", 34, "F"},
		{"-5\u00b0F", "F", -5, "F"},
		{"1.1 C", "F", 1.1, "C"},
		{"300k", "F", 300, "K"},
		{"-459.67", "F", -459.67, "F"},
		{"40000", "Btu/h", 40000, "Btu/h"},
		{"40k", "Btu/h", 40000, "Btu/h"},
		{"40.1K", "Btu/h", 40100, "Btu/h"},
		{"40 kBtu/h", "Btu/h", 40000, "Btu/h"},
		{"40k btuh", "kW", 40000, "Btu/h"},
		{"11.7 kW", "Btu/h", 11.7, "kW"},
		{"150", "cfm", 150, "cfm"},
		{"70 L/s", "cfm", 70, "L/s"},
		{"12", "ppm", 12, "ppm"},
		{"6", "mph", 6, "mph"},
		{"48 sq in", "in2", 48, "in2"},
		{"3 cu ft", "", 3, "ft3"},
		{"-5 Pa", "", -5, "Pa"},
		{"0", "Pa", 0, "Pa"},
		{"1.5 min", "s", 1.5, "min"},
	} {
		got, u, err := reading.ParseQuantity(c.in, c.def)
		if err != nil || got != c.want || u != c.unit {
			t.Errorf("ParseQuantity(%q, %s) = %v %s, %v; want %v %s", c.in, c.def, got, u, err, c.want, c.unit)
		}
	}
	for _, c := range []struct {
		in            string
		def           reading.Unit
		code          reading.Code
		text, suggest string
	}{
		{"", "F", reading.CodeEmpty, "", ""},
		{"40,000", "Btu/h", reading.CodeThousands, "40,000", "40000"},
		{"40,5k", "Btu/h", reading.CodeComma, "40,5", "40.5"},
		{"34,5 F", "F", reading.CodeComma, "34,5", "34.5"},
		{"5,125", "%", reading.CodeComma, "5,125", "5.125"},
		{"40 000", "Btu/h", reading.CodeTooMany, "000", ""},
		{"40k", "cfm", reading.CodeFamily, "K", "cfm"},
		{"40k", "kW", reading.CodeFamily, "K", "kW"},
		{"40k ppm", "Btu/h", reading.CodeUnit, "k ppm", ""},
		{"34 Pa", "F", reading.CodeFamily, "Pa", "F"},
		{"34", "", reading.CodeUnit, "", ""},
		{"3.2", "Pa", reading.CodeNoSign, "3.2", "-3.2"},
		{"-1", "ppm", reading.CodeOutOfRange, "-1", ""},
		{"-40k", "Btu/h", reading.CodeOutOfRange, "-40", ""},
		{"2000000000k", "Btu/h", reading.CodeOutOfRange, "2000000000", ""},
		{"-460", "F", reading.CodeOutOfRange, "-460", ""},
		{"F", "F", reading.CodeNotANumber, "F", ""},
		{"1e5", "Btu/h", reading.CodeNotANumber, "1e5", ""},
	} {
		got, u, err := reading.ParseQuantity(c.in, c.def)
		refused(t, c.in, err, c.code, c.text, c.suggest)
		if got != 0 || u != "" {
			t.Errorf("%q: refused, yet gave %v %s", c.in, got, u)
		}
	}
}

func TestParseSeconds(t *testing.T) {
	for in, want := range map[string]reading.Seconds{
		"37": 37, "37s": 37, "37 sec": 37, "0": 0, "1:05": 65, "0:59": 59, "1m5s": 65, "1 min 5 s": 65,
		"2m": 120, "1.5 min": 90, "36.5": 36.5, "90S": 90, "1440 min": 86400,
	} {
		if got, err := reading.ParseSeconds(in); err != nil || got != want {
			t.Errorf("ParseSeconds(%q) = %v, %v; want %v", in, got, err, want)
		}
	}
	for _, c := range []struct {
		in            string
		code          reading.Code
		text, suggest string
	}{
		{"", reading.CodeEmpty, "", ""},
		{"-5", reading.CodeOutOfRange, "-5", ""},
		{"-5s", reading.CodeOutOfRange, "-5", ""},
		{"+5s", reading.CodeNotANumber, "+5s", ""},
		{"37,5", reading.CodeComma, "37,5", "37.5"},
		{"1:5", reading.CodeNotANumber, "1:5", ""},
		{"1:60", reading.CodeNotANumber, "1:60", ""},
		{"11:02:14", reading.CodeNotANumber, "11:02:14", ""},
		{":30", reading.CodeNotANumber, ":30", ""},
		{"1m65s", reading.CodeNotANumber, "1m65s", ""},
		{"1.5m5s", reading.CodeNotANumber, "1.5m5s", ""},
		{"5s1m", reading.CodeNotANumber, "5s1m", ""},
		{"1m5", reading.CodeNotANumber, "1m5", ""},
		{"30 40", reading.CodeNotANumber, "30 40", ""},
		{"1.1 30s", reading.CodeNotANumber, "1.1 30s", ""},
		{"0x1F", reading.CodeNotANumber, "0x1F", ""},
		{"1e5", reading.CodeNotANumber, "1e5", ""},
		{"37 h", reading.CodeUnit, "h", ""},
		{"37 ft", reading.CodeFamily, "ft", "s"},
		{"none", reading.CodeNotANumber, "none", ""},
		{"86401", reading.CodeOutOfRange, "86401", ""},
	} {
		got, err := reading.ParseSeconds(c.in)
		refused(t, c.in, err, c.code, c.text, c.suggest)
		if got != 0 {
			t.Errorf("%q: refused, yet gave %v", c.in, got)
		}
	}
}

// Whatever is accepted must print to a text that is read back as the same
// entry, and must obey the sign rule.
func FuzzParsePressure(f *testing.F) {
	for _, in := range []string{
		"-3.2", "3.2", "+0.4", "0", "-0.8 -1.1 -0.9", "-1.0 30s", "-1.0 Pa 1:05", "-0.01 inH2O", `-.01"wc 1m5s`,
		"\u22123.2", "\u20133.2", "-3,2", "-0/9", "NaN", "-0x1p3", "-1e400", "-0.0000000001", "-1 1 min", "-99999999999999999999",
	} {
		f.Add(in)
	}
	f.Fuzz(func(t *testing.T, in string) {
		e, err := reading.ParsePressure(in, reading.UnitPa)
		if err != nil {
			if reading.CodeOf(err) == "" || !reflect.DeepEqual(e, reading.Entry{}) {
				t.Fatalf("%q: refusal %v with entry %+v", in, err, e)
			}
			return
		}
		for _, v := range e.Values {
			if v > 0 && !strings.Contains(in, "+") || v < 0 && !strings.ContainsAny(in, "-\u2212") {
				t.Fatalf("%q: %v taken without its sign", in, v)
			}
		}
		if len(e.Values) == 0 || e.Unit.Family() != reading.FamilyPressure || e.AveragingS != 0 && len(e.Values) != 1 {
			t.Fatalf("%q: %+v", in, e)
		}
		if _, err := e.Pressures(); err != nil {
			t.Fatalf("%q: %v", in, err)
		}
		again, err := reading.ParsePressure(e.String(), reading.UnitPa)
		if err != nil || !reflect.DeepEqual(again, e) {
			t.Fatalf("%q: printed %q, read back %+v, %v; want %+v", in, e, again, err, e)
		}
	})
}

func FuzzParseQuantity(f *testing.F) {
	defs := []reading.Unit{"Pa", "ppm", "%", "F", "mph", "cfm", "Btu/h", "ft3", "in2", "ft", "s", ""}
	for i, in := range []string{
		"-3.2", "12", "5.0", "34 F", "1.1 C", "300 K", "40k", "40,000", "48 sq in", "1e5", "6 mph", "-5 Pa",
	} {
		f.Add(in, i)
	}
	f.Fuzz(func(t *testing.T, in string, i int) {
		def := defs[uint(i)%uint(len(defs))]
		v, u, err := reading.ParseQuantity(in, def)
		if err != nil {
			if reading.CodeOf(err) == "" || v != 0 || u != "" {
				t.Fatalf("%q: refusal %v with %v %s", in, err, v, u)
			}
			return
		}
		if def != "" && u.Family() != def.Family() || math.IsNaN(v) || math.IsInf(v, 0) || v == 0 && math.Signbit(v) {
			t.Fatalf("%q as %s: %v %s", in, def, v, u)
		}
		w, uu, err := reading.ParseQuantity(reading.FormatUnit(v, u), def)
		if err != nil || w != v || uu != u {
			t.Fatalf("%q: printed %q, read back %v %s, %v", in, reading.FormatUnit(v, u), w, uu, err)
		}
	})
}
