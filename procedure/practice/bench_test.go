package practice_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"cazward/procedure/practice"
)

// twelve is an invented house of 12 zones with 6 doors, 3 fans and an air
// handler: 1,024 configurations.
func twelve() string {
	var b strings.Builder
	b.WriteString("kind: house\nformat: 1\nname: twelve\ntitle: twelve zones\ninvented: true\noutdoors: {temperature: 14 F, altitude: 0 ft, wind: 7 mph}\nzones:\n")
	for i := range 12 {
		fmt.Fprintf(&b, "  - {name: z%d, floor: %d ft, temperature: %d F, volume: 1500 ft3, caz: %v}\n", i, i/4*9, 64+i%4, i == 0)
	}
	b.WriteString("links:\n")
	for i := range 12 {
		fmt.Fprintf(&b, "  - {name: low%d, from: z%d, to: outdoors, height: %d ft, cp: 0.5, law: {flow50: %d cfm, n: 0.65}, source: own figure}\n", i, i, i/4*9+1, 80+10*i)
		fmt.Fprintf(&b, "  - {name: high%d, from: z%d, to: outdoors, height: %d ft, cp: -0.3, law: {flow50: %d cfm, n: 0.65}, source: own figure}\n", i, i, i/4*9+7, 60+10*i)
	}
	for i := 1; i < 12; i++ {
		fmt.Fprintf(&b, "  - {name: way%d, from: z%d, to: z%d, height: %d ft, law: {area: %d in2, discharge: 0.61}, source: own figure}\n", i, i-1, i, i/4*9, 10+20*(i%3))
	}
	b.WriteString("doors:\n")
	for i := range 6 {
		kind := "bedroom"
		if i == 0 {
			kind = "caz"
		}
		fmt.Fprintf(&b, "  - {name: door%d, kind: %s, from: z%d, to: z%d, height: %d ft, open: {width: 30 in, height: 80 in, discharge: 0.65}, closed: {area: 16 in2, discharge: 0.61}, source: own figure}\n", i, kind, i, i+1, (i+1)/4*9)
	}
	b.WriteString("fans:\n  - {name: dryer, kind: dryer, from: z1, to: outdoors, flow: 150 cfm, source: own figure}\n  - {name: bath, kind: bath-fan, from: z9, to: outdoors, flow: 60 cfm, source: own figure}\n")
	b.WriteString("  - {name: hood, kind: range-hood, from: z5, to: outdoors, height: 14 ft, cp: -0.3, curve: [{head: 0 Pa, flow: 300 cfm}, {head: 50 Pa, flow: 200 cfm}, {head: 90 Pa, flow: 0 cfm}], source: own figure}\n")
	b.WriteString("air_handlers:\n  - {name: blower, flow: 1000 cfm, supplies: [{zone: z4, fraction: 0.5}, {zone: z8, fraction: 0.5}], returns: [{zone: z5, fraction: 0.93}, {zone: z0, fraction: 0.07}], source: own figure}\n")
	b.WriteString("vents:\n  - {name: vent, from: z0, to: outdoors, height: 5 ft, top: 32 ft, cp: -0.3, diameter: 5 in, standing: 80 F, fired: 300 F, loss_in: 2, loss_out: 2, source: own figure}\n")
	return b.String()
}

// Wanted: 1,024 configurations of a 12-zone house under 80 ms on one core.
func BenchmarkCheckTwelveZones(b *testing.B) {
	m, err := read(b, twelve()).Compile()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		e, err := m.Check(context.Background())
		if err != nil || e.Configurations != 1024 {
			b.Fatal(e.Configurations, err)
		}
	}
}

// Wanted: all shipped houses, read and checked, under 3 s.
func BenchmarkCheckShipped(b *testing.B) {
	for b.Loop() {
		for _, n := range practice.HouseNames() {
			h, _, err := practice.OpenHouse(n)
			if err != nil {
				b.Fatal(err)
			}
			m, err := h.Compile()
			if err != nil {
				b.Fatal(err)
			}
			if _, err := m.Check(context.Background()); err != nil {
				b.Fatal(err)
			}
		}
	}
}

func BenchmarkReadHouse(b *testing.B) {
	data, _ := practice.HouseFile(practice.DemoName)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := practice.ReadHouse("x", data); err != nil {
			b.Fatal(err)
		}
	}
}
