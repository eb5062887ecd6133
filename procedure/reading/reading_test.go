package reading_test

import (
	"math"
	"slices"
	"strconv"
	"testing"

	"cazward/procedure/reading"
)

// units lists every unit of records by family, the canonical one first.
var units = map[reading.Family][]reading.Unit{
	"pressure":      {"Pa", "inH2O", "inH2O_39F", "inH2O_60F", "mmH2O", "psf", "psi", "inHg"},
	"concentration": {"ppm"},
	"percent":       {"%"},
	"temperature":   {"F", "C", "K"},
	"speed":         {"mph", "km/h", "m/s"},
	"flow":          {"cfm", "L/s", "m3/h", "m3/s"},
	"heat rate":     {"Btu/h", "kW", "W"},
	"volume":        {"ft3", "m3"},
	"area":          {"in2", "cm2", "m2"},
	"length":        {"ft", "m"},
	"time":          {"s", "min"},
}

func TestUnits(t *testing.T) {
	for family, list := range units {
		for _, u := range list {
			if u.Family() != family {
				t.Errorf("%s: family %q, want %q", u, u.Family(), family)
			}
			if got, err := reading.ParseUnit(string(u)); err != nil || got != u {
				t.Errorf("ParseUnit(%q) = %q, %v", u, got, err)
			}
			for other, list2 := range units {
				for _, w := range list2 {
					got, err := reading.Convert(7.5, u, w)
					if other != family {
						if reading.CodeOf(err) != reading.CodeFamily || got != 0 {
							t.Errorf("Convert(%s, %s) = %v, %v", u, w, got, err)
						}
						continue
					}
					back, err2 := reading.Convert(got, w, u)
					if err != nil || err2 != nil || math.Abs(back-7.5) > 1e-12 || u == w && got != 7.5 {
						t.Errorf("7.5 %s to %s and back: %v, %v %v", u, w, back, err, err2)
					}
				}
			}
		}
	}
	if f := reading.Unit("pa").Family(); f != "" {
		t.Errorf("a spelling records do not use has family %q", f)
	}
}

func TestParseUnit(t *testing.T) {
	for in, want := range map[string]reading.Unit{
		"pa": "Pa", " PA ": "Pa", "pascals": "Pa", "in wc": "inH2O", "in. w.c.": "inH2O", "iwc": "inH2O", "wc": "inH2O",
		`"wc`: "inH2O", `"wc"`: "inH2O", "IN H2O": "inH2O", "inH2O 60F": "inH2O_60F", "mm wc": "mmH2O", "lb/ft²": "psf",
		"°F": "F", "f": "F", "deg C": "C", "k": "K", "MPH": "mph", "kph": "km/h", "CFM": "cfm", "l/s": "L/s", "m³/h": "m3/h",
		"btu/hr": "Btu/h", "BTUH": "Btu/h", "kw": "kW", "cu ft": "ft3", "sq in": "in2", "feet": "ft", "sec": "s", "mins": "min", "percent": "%",
	} {
		if got, err := reading.ParseUnit(in); err != nil || got != want {
			t.Errorf("ParseUnit(%q) = %q, %v; want %q", in, got, err, want)
		}
	}
	for in, code := range map[string]reading.Code{"": reading.CodeEmpty, " ": reading.CodeEmpty, "in": reading.CodeUnit, "mPa": reading.CodeUnit, "kPa": reading.CodeUnit, "bar": reading.CodeUnit, "Pa Pa": reading.CodeUnit} {
		if got, err := reading.ParseUnit(in); reading.CodeOf(err) != code || got != "" {
			t.Errorf("ParseUnit(%q) = %q, %v; want %s", in, got, err, code)
		}
	}
}

func TestConvert(t *testing.T) {
	for _, c := range []struct {
		v        float64
		from, to reading.Unit
		want     float64
	}{
		{32, "F", "C", 0}, {212, "F", "C", 100}, {-40, "C", "F", -40}, {0, "C", "K", 273.15}, {0, "K", "F", -459.67},
		{-459.67, "F", "K", 0}, {1, "min", "s", 60}, {1, "kW", "W", 1000}, {1, "m/s", "km/h", 3.6}, {-5, "Pa", "Pa", -5},
		{1, "psi", "psf", 144}, {1, "inHg", "mmH2O", 25.4 * 13.5951}, {1, "m3/s", "L/s", 1000},
	} {
		if got := convert(t, c.v, c.from, c.to); math.Abs(got-c.want) > 1e-12*max(1, math.Abs(c.want)) {
			t.Errorf("%v %s = %v %s, want %v", c.v, c.from, got, c.to, c.want)
		}
	}
	for _, c := range []struct {
		v        float64
		from, to reading.Unit
		code     reading.Code
	}{
		{1, "Pa", "ppm", reading.CodeFamily}, {1, "bar", "Pa", reading.CodeUnit}, {1, "Pa", "", reading.CodeUnit},
		{math.NaN(), "Pa", "Pa", reading.CodeNotANumber}, {math.Inf(-1), "Pa", "psi", reading.CodeNotANumber},
		{-460, "F", "C", reading.CodeOutOfRange}, {-1, "K", "K", reading.CodeOutOfRange}, {math.MaxFloat64, "psi", "Pa", reading.CodeOutOfRange},
	} {
		if got, err := reading.Convert(c.v, c.from, c.to); reading.CodeOf(err) != c.code || got != 0 {
			t.Errorf("Convert(%v, %s, %s) = %v, %v; want %s", c.v, c.from, c.to, got, err, c.code)
		}
	}
}

func TestQuantities(t *testing.T) {
	check := func(name string, got float64, err error, want float64) {
		t.Helper()
		if err != nil || math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%s: %v, %v; want %v", name, got, err, want)
		}
	}
	p, err := reading.ToPressure(-0.02, "inH2O")
	check("pressure", float64(p), err, -4.9817782)
	co, err := reading.ToConcentration(12, "ppm")
	check("concentration", float64(co), err, 12)
	pc, err := reading.ToPercent(5, "%")
	check("percent", float64(pc), err, 5)
	f, err := reading.ToTemperature(10, "C")
	check("temperature", float64(f), err, 50)
	check("celsius", f.C(), nil, 10)
	check("kelvin", f.K(), nil, 283.15)
	sp, err := reading.ToSpeed(1.609344, "km/h")
	check("speed", float64(sp), err, 1)
	fl, err := reading.ToFlow(1, "m3/s")
	check("flow", float64(fl), err, 60/(0.3048*0.3048*0.3048))
	hr, err := reading.ToHeatRate(1, "kW")
	check("heat rate", float64(hr), err, 3412.141633)
	v, err := reading.ToVolume(1, "m3")
	check("volume", float64(v), err, 35.31466672)
	a, err := reading.ToArea(6.4516, "cm2")
	check("area", float64(a), err, 1)
	l, err := reading.ToLength(3.048, "m")
	check("length", float64(l), err, 10)
	s, err := reading.ToSeconds(1.5, "min")
	check("time", float64(s), err, 90)
	if p, err := reading.ToPressure(5, "ppm"); reading.CodeOf(err) != reading.CodeFamily || p != 0 {
		t.Errorf("ppm as a pressure: %v, %v", p, err)
	}
	got := []string{p.String(), co.String(), pc.String(), f.String(), sp.String(), fl.String(), hr.String(), v.String(), a.String(), l.String(), s.String()}
	if want := []string{"-5.0", "12", "5.0", "50", "1", "2119", "3412", "35", "1.0", "10.0", "90"}; !slices.Equal(got, want) {
		t.Errorf("printed %v, want %v", got, want)
	}
}

func TestFormat(t *testing.T) {
	for _, c := range []struct {
		v        float64
		decimals int
		want     string
	}{
		{-2.6, 1, "-2.6"}, {-5.25, 1, "-5.3"}, {2.675, 2, "2.68"}, {2812.5, 0, "2813"}, {0.5, 0, "1"}, {-0.04, 1, "0.0"}, {math.Copysign(0, -1), 1, "0.0"},
		{math.Copysign(0, -1), -1, "0"}, {9.96, 1, "10.0"}, {-99.95, 1, "-100.0"}, {999.5, 0, "1000"}, {0.05, 1, "0.1"}, {1e21, 0, "1000000000000000000000"},
		{1.0 / 3, 3, "0.333"}, {-2.5, 3, "-2.500"}, {40000, -1, "40000"}, {1e-9, -1, "0.000000001"}, {2, 50, "2.00000000000000000000"},
		{math.NaN(), 1, "NaN"}, {math.Inf(-1), 1, "-Inf"},
	} {
		if got := reading.Format(c.v, c.decimals); got != c.want {
			t.Errorf("Format(%v, %d) = %q, want %q", c.v, c.decimals, got, c.want)
		}
	}
	if got := reading.FormatUnit(2.5, "Pa") + "|" + reading.FormatUnit(-2.5, "Pa") + "|" + reading.FormatUnit(0, "Pa") + "|" + reading.FormatUnit(34, "F"); got != "+2.5 Pa|-2.5 Pa|0 Pa|34 F" {
		t.Errorf("FormatUnit: %s", got)
	}
}

func TestFormatNear(t *testing.T) {
	for _, c := range []struct {
		v, limit     float64
		decimals     int
		value, bound string
	}{
		{-2.6, -3, 1, "-2.6", "-3.0"},
		{-3.04, -3, 1, "-3.04", "-3.00"},
		{-2.96, -3, 1, "-2.96", "-3.00"},
		{-3.04, -2.96, 1, "-3.04", "-2.96"},
		{-3, -3, 1, "-3.0", "-3.0"},
		{-3.0000001, -3, 1, "-3.0000001", "-3.0000000"},
		{-0.04, 0, 1, "-0.04", "0.00"},
		{-2.26, -2.25, 1, "-2.26", "-2.25"},
		{-2.25, -2.25, 1, "-2.25", "-2.25"},
		{400.4, 400, 0, "400.4", "400.0"},
		{60.4, 60, 0, "60.4", "60.0"},
		{35, 35, 0, "35", "35"},
		{25.6, 25.5, 0, "25.6", "25.5"},
		{-5, -3, -1, "-5", "-3"},
	} {
		value, bound := reading.FormatPair(c.v, c.limit, c.decimals)
		if value != c.value || bound != c.bound {
			t.Errorf("FormatPair(%v, %v, %d) = %q, %q; want %q, %q", c.v, c.limit, c.decimals, value, bound, c.value, c.bound)
		}
		if near := reading.FormatNear(c.v, c.limit, c.decimals); near != value {
			t.Errorf("FormatNear(%v, %v, %d) = %q, want %q", c.v, c.limit, c.decimals, near, value)
		}
	}
}

// A fail must never print as a pass, for any two floats.
func FuzzFormatPair(f *testing.F) {
	f.Add(-3.04, -3.0, 1)
	f.Add(-1.925, -1.9250000000000003, 1)
	f.Add(1.0/3, 1.0/3, 0)
	f.Add(5e-324, 0.0, 2)
	f.Fuzz(func(t *testing.T, v, limit float64, decimals int) {
		if math.IsNaN(v) || math.IsNaN(limit) || math.IsInf(v, 0) || math.IsInf(limit, 0) {
			return
		}
		value, bound := reading.FormatPair(v, limit, decimals%5)
		pv, err1 := strconv.ParseFloat(value, 64)
		pl, err2 := strconv.ParseFloat(bound, 64)
		if err1 != nil || err2 != nil || (pv < pl) != (v < limit) || (pv > pl) != (v > limit) || (pv < limit) != (v < limit) || (pv > limit) != (v > limit) {
			t.Fatalf("%v beside %v printed as %s beside %s", v, limit, value, bound)
		}
	})
}

func TestSummarize(t *testing.T) {
	one, err := reading.Summarize([]float64{-2.5})
	if err != nil || one != (reading.Stats{N: 1, Mean: -2.5, Min: -2.5, Max: -2.5, EffectiveN: 1}) {
		t.Errorf("one sample: %+v, %v", one, err)
	}
	same, err := reading.Summarize([]float64{-0.1, -0.1, -0.1})
	if err != nil || same != (reading.Stats{N: 3, Mean: -0.1, Min: -0.1, Max: -0.1, EffectiveN: 3}) {
		t.Errorf("equal samples: %+v, %v", same, err)
	}
	s, err := reading.Summarize(sample)
	if err != nil || s.N != 10 || s.Min != -1.5 || s.Max != -0.7 || math.Abs(s.Spread-0.8) > 1e-12 {
		t.Errorf("vector: %+v, %v", s, err)
	}
	// The lag-1 sum of the vector is -0.33, its sum of squares 0.60.
	if math.Abs(s.Autocorrelation+0.55) > 1e-12 || s.EffectiveN != 10 {
		t.Errorf("vector: r %v, effective N %v; want -0.55 and no more than 10", s.Autocorrelation, s.EffectiveN)
	}
	// 1 1 1 -1 -1 -1: lagged products 1 1 -1 1 1 over 6.
	drift, err := reading.Summarize([]float64{1, 1, 1, -1, -1, -1})
	if err != nil || math.Abs(drift.Autocorrelation-0.5) > 1e-12 || math.Abs(drift.EffectiveN-2) > 1e-12 || math.Abs(reading.StandardError(drift)-drift.S/math.Sqrt2) > 1e-12 {
		t.Errorf("drift: %+v, %v", drift, err)
	}
	for _, c := range []struct {
		in   []float64
		code reading.Code
	}{
		{nil, reading.CodeEmpty},
		{[]float64{-1, math.NaN()}, reading.CodeNotANumber},
		{[]float64{math.Inf(1)}, reading.CodeNotANumber},
		{[]float64{-1e200, 1e200}, reading.CodeOutOfRange},
		{[]float64{-math.MaxFloat64, math.MaxFloat64}, reading.CodeOutOfRange},
	} {
		if s, err := reading.Summarize(c.in); reading.CodeOf(err) != c.code || s != (reading.Stats{}) {
			t.Errorf("Summarize(%v) = %+v, %v; want %s", c.in, s, err, c.code)
		}
	}
	for _, c := range []struct {
		n       int
		r, want float64
	}{{0, 0.5, 0}, {4, -0.5, 4}, {4, 0, 4}, {4, 0.99, 1}, {60, 1, 1}, {7, math.NaN(), 7}} {
		if got := reading.EffectiveN(c.n, c.r); got != c.want {
			t.Errorf("EffectiveN(%d, %v) = %v, want %v", c.n, c.r, got, c.want)
		}
	}
	if got := reading.StandardError(reading.Stats{}); got != 0 {
		t.Errorf("StandardError of nothing: %v", got)
	}
}

func TestAirFreeRefuses(t *testing.T) {
	for _, c := range []struct {
		co   reading.Concentration
		o2   reading.Percent
		code reading.Code
	}{
		{87, 20.9, reading.CodeOutOfRange}, {0, 20.9, reading.CodeOutOfRange}, {87, 21, reading.CodeOutOfRange}, {87, -0.1, reading.CodeOutOfRange}, {-1, 5, reading.CodeOutOfRange},
		{reading.Concentration(math.NaN()), 5, reading.CodeNotANumber}, {87, reading.Percent(math.NaN()), reading.CodeNotANumber},
		{reading.Concentration(math.Inf(1)), 5, reading.CodeNotANumber}, {math.MaxFloat64, 20, reading.CodeOutOfRange},
	} {
		if got, err := reading.AirFree(c.co, c.o2); reading.CodeOf(err) != c.code || got != 0 {
			t.Errorf("AirFree(%v, %v) = %v, %v; want %s", float64(c.co), float64(c.o2), got, err, c.code)
		}
	}
}

// A diluted sample must never make CO smaller than the meter showed.
func FuzzAirFree(f *testing.F) {
	f.Add(87.0, 5.0)
	f.Add(0.0, 0.0)
	f.Add(3.0, 1e-17)
	f.Fuzz(func(t *testing.T, co, o2 float64) {
		af, err := reading.AirFree(reading.Concentration(co), reading.Percent(o2))
		if err == nil && !(float64(af) >= co && co >= 0 && o2 >= 0 && o2 < 20.9) {
			t.Fatalf("AirFree(%v, %v) = %v", co, o2, float64(af))
		}
	})
}

func TestPlausible(t *testing.T) {
	for _, c := range []struct {
		kind reading.Kind
		v    float64
		want bool
	}{
		{reading.KindZonePressure, -35, false}, {reading.KindZonePressure, -3.5, true}, {reading.KindZonePressure, -30, true}, {reading.KindZonePressure, 32, false},
		{reading.KindDraft, -18, true}, {reading.KindDraft, -35, false}, {reading.KindDraft, -250, false}, {reading.KindFlueCO, 1200, true}, {reading.KindFlueCO, -1, false},
		{reading.KindAmbientCO, 78, true}, {reading.KindO2, 20.9, true}, {reading.KindO2, 50, false}, {reading.KindLEL, 10, true},
		{reading.KindOutdoorTemperature, 34, true}, {reading.KindOutdoorTemperature, 340, false}, {reading.KindWind, 6, true}, {reading.KindWind, 60, false},
		{reading.KindInput, 40000, true}, {reading.KindInput, 40, false}, {reading.KindSpillageTime, 37, true},
		{reading.KindZonePressure, math.NaN(), false}, {"", 0, false}, {"unheard-of", 1, false},
	} {
		if got := reading.Plausible(c.kind, c.v); got != c.want {
			t.Errorf("Plausible(%q, %v) = %v", c.kind, c.v, got)
		}
	}
	for _, k := range []reading.Kind{
		"zone-pressure", "draft", "flue-co", "ambient-co", "o2", "lel", "outdoor-temperature", "indoor-temperature", "flue-temperature",
		"wind", "input", "fan-flow", "cfm50", "volume", "opening", "vent-height", "spillage-time",
	} {
		r, ok := reading.RangeOf(k)
		list := units[r.Unit.Family()]
		if !ok || r.Lo >= r.Hi || r.Basis == "" || len(list) == 0 || list[0] != r.Unit {
			t.Errorf("range of %s: %+v, %v", k, r, ok)
		}
	}
	if v, ok := reading.LostPoint(reading.KindZonePressure, -35); !ok || v != -3.5 {
		t.Errorf("LostPoint(-35) = %v, %v", v, ok)
	}
	for _, v := range []float64{-3.5, -900} {
		if w, ok := reading.LostPoint(reading.KindZonePressure, v); ok {
			t.Errorf("LostPoint(%v) proposes %v", v, w)
		}
	}
}
