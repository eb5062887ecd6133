package practice_test

import (
	"math"
	"strings"
	"testing"

	"cazward/procedure/practice"
	"cazward/procedure/reading"
)

// oneZone is a house that has a closed form.
const oneZone = `kind: house
format: 1
name: one
title: one zone
invented: true
outdoors: {temperature: 20 C, pressure: 101325 Pa, wind: 0 m/s}
zones:
  - {name: caz, floor: 0 m, temperature: 20 C, volume: 12000 ft3, caz: true}
links:
  - {name: leaks, from: caz, to: outdoors, height: 0 m, law: {flow50: 2400 cfm, n: 0.65}, source: own figure}
  - {name: grille, from: caz, to: outdoors, height: 0 m, law: {area: 0 in2, discharge: 0.6}, source: own figure}
fans:
  - {name: fan, kind: range-hood, from: caz, to: outdoors, flow: 300 cfm, source: own figure}
`

// One zone of one exponent follows the single-zone rule, -50 (300/CFM50)^(1/n),
// at every tightness and with the exponent shifted.
func TestTightenOneZone(t *testing.T) {
	x, err := read(t, oneZone).Tighten(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(float64(x.CFM50())-2400) > 0.5 || x.Least() > 3 || math.Abs(x.Exponent()-0.65) > 1e-9 || strings.Join(x.Zones(), " ") != "caz" {
		t.Errorf("%v CFM50, at least %v, exponent %v, zones %q", x.CFM50(), x.Least(), x.Exponent(), x.Zones())
	}
	for _, q := range []float64{450, 800, 1500, 2400, 3000, 9000, 24000} {
		for _, shift := range []float64{-practice.ShiftExponent, 0, practice.ShiftExponent} {
			want := -50 * math.Pow(300/q, 1/(0.65+shift))
			if got := float64(x.Net("caz", reading.Flow(q), shift)); math.Abs(got-want) > 2e-3*math.Abs(want)+1e-4 {
				t.Errorf("%v CFM50, exponent %v: %v Pa, want %v", q, 0.65+shift, got, want)
			}
		}
	}
	if !math.IsNaN(float64(x.Net("attic", 1500, 0))) {
		t.Error("a zone that is not there has a net")
	}
}

// What sealing does not touch stays: 60 in2 pass 0.6 A sqrt(2 x 50 / 1.2041).
func TestTightenLeast(t *testing.T) {
	x, err := read(t, strings.Replace(oneZone, "area: 0 in2", "area: 60 in2", 1)).Tighten(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	grille := 0.6 * 60 * 6.4516e-4 * math.Sqrt(100/1.2041) / 4.719474432e-4
	if got := float64(x.Least()); math.Abs(got-grille-2.4) > 0.01*grille {
		t.Errorf("%v cfm are left, want %v", got, grille)
	}
	if got := float64(x.CFM50()); math.Abs(got-grille-2400) > 1 {
		t.Errorf("%v CFM50, want %v", got, grille+2400)
	}
}

func TestTightenRefuses(t *testing.T) {
	for name, house := range map[string]string{
		"no leaks": strings.Replace(strings.Replace(oneZone, "law: {flow50: 2400 cfm, n: 0.65}", "law: {area: 50 in2, discharge: 0.6}", 1), "name: leaks", "name: hole", 1),
	} {
		if _, err := read(t, house).Tighten(t.Context()); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
}

// Every practice house can be asked, and gets no better by being sealed.
func TestTightenHouses(t *testing.T) {
	for _, name := range practice.HouseNames() {
		h, _, err := practice.OpenHouse(name)
		if err != nil {
			t.Fatal(err)
		}
		x, err := h.Tighten(t.Context())
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		m, err := h.Compile()
		if err != nil {
			t.Fatal(err)
		}
		e, err := m.Check(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range e.Zones {
			today := float64(x.Net(w.Zone, x.CFM50(), 0))
			if math.Abs(today-w.Net) > 0.02+0.01*math.Abs(w.Net) {
				t.Errorf("%s, %s: %v Pa today, an exhaustive check finds %v", name, w.Zone, today, w.Net)
			}
			tight := x.Least() + (x.CFM50()-x.Least())*0.7
			if got := float64(x.Net(w.Zone, tight, 0)); !(got <= today+0.05) {
				t.Errorf("%s, %s: %v Pa sealed, %v today", name, w.Zone, got, today)
			}
		}
	}
}
