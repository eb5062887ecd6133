package reading_test

import (
	"math"
	"testing"

	"cazward/procedure/reading"
)

// TestRangesByFigure: the ends of every range, so that none moves unseen.
func TestRangesByFigure(t *testing.T) {
	for k, want := range map[reading.Kind][2]float64{
		reading.KindZonePressure: {-30, 15}, reading.KindDraft: {-20, 15}, reading.KindFlueCO: {0, 5000}, reading.KindAmbientCO: {0, 1000}, reading.KindO2: {0, 21}, reading.KindLEL: {0, 100},
		reading.KindOutdoorTemperature: {-60, 130}, reading.KindIndoorTemperature: {20, 120}, reading.KindFlueTemperature: {30, 1200}, reading.KindWind: {0, 45}, reading.KindInput: {3000, 500000},
		reading.KindFanFlow: {5, 6000}, reading.KindCFM50: {50, 20000}, reading.KindVolume: {20, 200000}, reading.KindOpening: {1, 10000}, reading.KindVentHeight: {1, 100}, reading.KindSpillageTime: {0, 1800},
	} {
		if r, ok := reading.RangeOf(k); !ok || r.Lo != want[0] || r.Hi != want[1] {
			t.Errorf("%s: %+v, want %v", k, r, want)
		}
		for _, end := range want {
			if !reading.Plausible(k, end) || reading.Plausible(k, math.Nextafter(want[0], math.Inf(-1))) || reading.Plausible(k, math.Nextafter(want[1], math.Inf(1))) {
				t.Errorf("%s: its ends are %v, both included", k, want)
			}
		}
	}
}

// TestRefusedIsZero: who drops an error has nothing that looks like a figure.
func TestRefusedIsZero(t *testing.T) {
	for _, s := range []string{"", "x", "NaN", "1,5", "1,500", "--1", "1000000000001", "0.0000000001", "1e5", "5 %%", string(make([]byte, 70)), "1" + string(bytesOf('0', 70))} {
		if v, err := reading.ParseNumber(s); err == nil || v != 0 {
			t.Errorf("ParseNumber(%q) = %v, %v", s, v, err)
		}
		if v, u, err := reading.ParseQuantity(s, reading.UnitFt3); err == nil || v != 0 || u != "" {
			t.Errorf("ParseQuantity(%q) = %v %q, %v", s, v, u, err)
		}
	}
	for _, v := range [][2]reading.Percent{{5, 0}, {5, 21}, {0, 12}, {-1, 12}, {13, 12}, {reading.Percent(math.NaN()), 12}, {5, reading.Percent(math.Inf(1))}} {
		if o2, err := reading.O2FromCO2(v[0], v[1]); err == nil || o2 != 0 {
			t.Errorf("O2FromCO2(%v, %v) = %v, %v", v[0], v[1], o2, err)
		}
	}
	for _, s := range []string{"0x30x8", "-15x30x8", "15x0x8", "15x30x0", "15xx8", "15x30 Pax8"} {
		if v, u, err := reading.ParseVolume(s); err == nil || v != 0 || u != "" {
			t.Errorf("ParseVolume(%q) = %v %q, %v", s, v, u, err)
		}
	}
}

func bytesOf(b byte, n int) []byte {
	out := make([]byte, n)
	for i := range out {
		out[i] = b
	}
	return out
}

// TestLargestTyped: a million millions is taken, more is a slip.
func TestLargestTyped(t *testing.T) {
	if v, err := reading.ParseNumber("1000000000000"); err != nil || v != 1e12 {
		t.Errorf("%v, %v", v, err)
	}
	if v, err := reading.ParseNumber("1000000000001"); err == nil {
		t.Errorf("taken: %v", v)
	}
}

// TestThousands: commas that group thousands are told from a decimal comma only
// where the first group has one to three digits.
func TestThousands(t *testing.T) {
	for s, want := range map[string]reading.Code{"1,500": reading.CodeThousands, "100,000": reading.CodeThousands, "1234,500": reading.CodeComma, "1,50": reading.CodeComma} {
		_, _, err := reading.ParseQuantity(s, reading.UnitBtuH)
		e, ok := err.(*reading.EntryError)
		if !ok || e.Code != want {
			t.Errorf("%q: %v, want %s", s, err, want)
		}
	}
}

// FuzzParseTimes: seconds and volumes are taken within their bounds or refused
// as zero.
func FuzzParseTimes(f *testing.F) {
	for _, s := range []string{"45", "45s", "1:05", "1m5s", "1 min 5 s", "-1", "99999999", "15x30x8", "3600", "100 m3", "xx", "0x0x0", "1e3s", ":", "1:99"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		if s, err := reading.ParseSeconds(in); err != nil && (s != 0 || reading.CodeOf(err) == "") || err == nil && !(s >= 0 && s <= 86400) {
			t.Fatalf("ParseSeconds(%q) = %v, %v", in, s, err)
		}
		v, u, err := reading.ParseVolume(in)
		if err == nil && (!(v > 0) || math.IsInf(v, 0) || u.Family() != reading.UnitFt3.Family()) || err != nil && reading.CodeOf(err) == "" {
			t.Fatalf("ParseVolume(%q) = %v %q, %v", in, v, u, err)
		}
	})
}
