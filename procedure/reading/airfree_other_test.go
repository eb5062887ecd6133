package reading_test

import (
	"math"
	"testing"

	"cazward/procedure/reading"
)

func TestPublishedCO2Route(t *testing.T) {
	// CO2 that goes with O2 at an ultimate CO2 of 11.7 %: both routes must give
	// one number there.
	for _, c := range []struct{ o2, co2 float64 }{{3, 10.0206}, {5, 8.9010}, {7, 7.7813}, {9, 6.6617}} {
		const source = "identity CO2 = CO2max (20.9 - O2)/20.9, CO2max 11.7 %"
		o2, err := reading.O2FromCO2(reading.Percent(c.co2), 11.7)
		if err != nil {
			t.Fatal(err)
		}
		published(t, "O2 that goes with CO2 "+reading.Format(c.co2, -1)+" %", float64(o2), c.o2, 1e-4, source, "computed")
		byO2, err := reading.AirFree(87, reading.Percent(c.o2))
		if err != nil {
			t.Fatal(err)
		}
		byCO2, err := reading.AirFreeCO2(87, reading.Percent(c.co2), 11.7)
		if err != nil {
			t.Fatal(err)
		}
		published(t, "87 ppm air-free by CO2 against by O2 "+reading.Format(c.o2, -1)+" %", float64(byCO2), float64(byO2), 1e-5*float64(byO2), source, "computed")
	}
}

func TestAirFreeBothWays(t *testing.T) {
	for _, co := range []reading.Concentration{0, 1, 87, 5000} {
		for _, o2 := range []reading.Percent{0, 5, 15, 20, 20.89} {
			af, err := reading.AirFree(co, o2)
			if err != nil {
				t.Fatal(err)
			}
			back, err := reading.AsMeasured(af, o2)
			if err != nil || math.Abs(float64(back-co)) > 1e-9*float64(co) {
				t.Errorf("CO %v at O2 %v: air-free %v, back %v, %v", co, o2, af, back, err)
			}
		}
	}
	if v, err := reading.AsMeasured(114.358491, 5); err != nil || math.Abs(float64(v)-87) > 1e-6 {
		t.Errorf("as measured of 114.358491 at 5 %%: %v, %v; want 87", v, err)
	}
}

func TestCO2RouteRefuses(t *testing.T) {
	for _, c := range []struct {
		co       reading.Concentration
		co2, max reading.Percent
		code     reading.Code
	}{
		{87, 0, 12.2, reading.CodeOutOfRange},
		{87, -1, 12.2, reading.CodeOutOfRange},
		{87, 12.3, 12.2, reading.CodeOutOfRange},
		{87, 8, 0, reading.CodeOutOfRange},
		{87, 8, 21, reading.CodeOutOfRange},
		{-1, 8, 12.2, reading.CodeOutOfRange},
		{87, reading.Percent(math.NaN()), 12.2, reading.CodeNotANumber},
		{87, 8, reading.Percent(math.Inf(1)), reading.CodeNotANumber},
		{reading.Concentration(math.NaN()), 8, 12.2, reading.CodeNotANumber},
	} {
		if v, err := reading.AirFreeCO2(c.co, c.co2, c.max); reading.CodeOf(err) != c.code || v != 0 {
			t.Errorf("AirFreeCO2(%v, %v, %v) = %v, %v; want code %s", c.co, c.co2, c.max, v, err, c.code)
		}
	}
	for _, o2 := range []reading.Percent{20.9, 21, -1} {
		if _, err := reading.AsMeasured(100, o2); reading.CodeOf(err) != reading.CodeOutOfRange {
			t.Errorf("AsMeasured at O2 %v: %v, want out of range", o2, err)
		}
	}
	if _, _, ok := reading.UltimateCO2("wood"); ok {
		t.Error("wood has an ultimate CO2")
	}
	// At the ultimate itself there is no excess air: air-free is as measured.
	for _, fuel := range []string{"gas", "propane", "oil"} {
		lo, hi, ok := reading.UltimateCO2(fuel)
		if !ok || !(lo < hi) {
			t.Errorf("%s: %v to %v, %v", fuel, lo, hi, ok)
		}
		if v, err := reading.AirFreeCO2(50, hi, hi); err != nil || v != 50 {
			t.Errorf("%s: 50 ppm at the ultimate CO2 gives %v, %v", fuel, v, err)
		}
	}
}
