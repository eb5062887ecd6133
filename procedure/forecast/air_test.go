package forecast

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"cazward/procedure"
	"cazward/procedure/reading"
)

const (
	nfpa  = "ANSI Z223.1/NFPA 54 9.3.2.2 tables as reprinted in furnace manuals"
	cpc   = "California Plumbing Code appendix J (NFPA 54 annex example)"
	sizes = "furnace manuals, opening sizes by input"
)

func space(volume reading.Volume, ach float64, burners ...Burner) Space {
	s := Space{Volume: volume, Burners: burners}
	if ach != 0 {
		a := AirChanges(ach)
		s.Infiltration = &a
	}
	return s
}

func fan(in reading.HeatRate) Burner   { return Burner{Input: in, FanAssisted: true} }
func other(in reading.HeatRate) Burner { return Burner{Input: in} }

func air(t *testing.T, s Space) Air {
	t.Helper()
	a, err := CombustionAir(s)
	if err != nil {
		t.Fatalf("%+v: %v", s, err)
	}
	return a
}

func each(t *testing.T, a Air, m Method) Opening {
	t.Helper()
	for _, o := range a.Openings {
		if o.Method == m {
			return o
		}
	}
	t.Fatalf("no opening by %s", m)
	return Opening{}
}

// The published tables of required volume, by their printed, rounded figures:
// what is printed here must be what is printed there.
func TestPublishedRequiredVolume(t *testing.T) {
	fans := []reading.HeatRate{44e3, 50e3, 75e3, 100e3, 110e3, 125e3, 150e3}
	naturals := []reading.HeatRate{30e3, 40e3, 50e3}
	for _, row := range []struct {
		ach  float64
		nat  [3]float64
		fans [7]float64
	}{
		{0.60, [3]float64{1050, 1400, 1750}, [7]float64{1100, 1250, 1875, 2500, 2750, 3125, 3750}},
		{0.50, [3]float64{1260, 1680, 2100}, [7]float64{1320, 1500, 2250, 3000, 3300, 3750, 4500}},
		{0.40, [3]float64{1575, 2100, 2625}, [7]float64{1650, 1875, 2813, 3750, 4125, 4688, 5625}},
		{0.30, [3]float64{2100, 2800, 3500}, [7]float64{2200, 2500, 3750, 5000, 5500, 6250, 7500}},
		{0.20, [3]float64{3150, 4200, 5250}, [7]float64{3300, 3750, 5625, 7500, 8250, 9375, 11250}},
		{0.10, [3]float64{6300, 8400, 10500}, [7]float64{6600, 7500, 11250, 15000, 16500, 18750, 22500}},
	} {
		check := func(b Burner, kind string, want float64) {
			a := air(t, space(1000, row.ach, b))
			published(t, fmt.Sprintf("ft3 for %s Btu/h %s at %.2f ACH", b.Input, kind, row.ach), float64(a.Required), want, 0.5, nfpa, "seen-secondary")
			if got := a.Required.String(); got != reading.Format(want, 0) {
				t.Errorf("%s Btu/h at %.2f ACH prints %s, the table %v", b.Input, row.ach, got, want)
			}
		}
		for i, in := range naturals {
			check(other(in), "not fan-assisted", row.nat[i])
		}
		for i, in := range fans {
			check(fan(in), "fan-assisted", row.fans[i])
		}
	}
	published(t, "ft3 for 40,000 natural and 100,000 fan-assisted at 0.35 ACH", float64(air(t, space(1000, 0.35, other(40e3), fan(100e3))).Required), 6685.714, 5e-4, "21/ACH x I/1000 + 15/ACH x I/1000", "computed")
	// The cap: 0.80 answers as 0.60.
	a := air(t, space(1000, 0.8, other(40e3)))
	published(t, "ft3 for 40,000 natural at 0.80 ACH", float64(a.Required), 1400, 0.5, "IFGC 304.5.2: more than 0.60 ACH shall not be used", "seen")
	if !a.Capped || !a.StandardFree {
		t.Errorf("0.80 ACH: capped %v, standard method free %v", a.Capped, a.StandardFree)
	}
	published(t, "ft3 for 100,000 fan-assisted at 0.80 ACH", float64(air(t, space(1000, 0.8, fan(100e3))).Required), 2500, 0.5, "IFGC 304.5.2: more than 0.60 ACH shall not be used", "seen")
}

func TestPublishedCombination(t *testing.T) {
	a := air(t, space(15*30*8, 0, fan(100e3), other(40e3)))
	published(t, "available ft3", float64(a.Space.Volume), 3600, 0, cpc, "seen")
	published(t, "required ft3, standard method", float64(a.Required), 7000, 0, cpc, "seen")
	published(t, "ratio", a.Ratio, 0.51, 0.005, cpc, "seen")
	published(t, "reduction factor", a.Reduction, 0.49, 0.005, cpc, "seen")
	published(t, "ratio, unrounded", a.Ratio, 0.5142857, 5e-8, "3600/7000", "computed")
	published(t, "reduction factor, unrounded", a.Reduction, 0.4857143, 5e-8, "1 - 3600/7000", "computed")
	o := each(t, a, OutdoorSingle)
	published(t, "one outdoor opening, in2", float64(o.Each), 47, 0.5, cpc, "memory")
	// The printed 23 comes of 47 x 0.49, both rounded; here nothing is.
	published(t, "the same beside indoor air, in2", float64(*o.Combined), 23, 0.5, cpc, "memory")
	published(t, "one outdoor opening, unrounded", float64(o.Each), 46.6667, 5e-5, "140000/3000", "computed")
	published(t, "the same beside indoor air, unrounded", float64(*o.Combined), 22.6667, 5e-5, "46.6667 x 0.4857143", "computed")
	if a.Sufficient {
		t.Error("3600 of 7000 ft3 is sufficient")
	}
}

func TestPublishedOpenings(t *testing.T) {
	size := func(m Method, burners ...Burner) float64 {
		return float64(each(t, air(t, space(100, 0, burners...)), m).Each)
	}
	published(t, "110,000 + 30,000, vertical or direct", size(OutdoorDirect, other(110e3), other(30e3)), 35.0, 0.05, "furnace manuals, worked example", "seen")
	published(t, "66,000 + 40,000, one opening", size(OutdoorSingle, other(66e3), other(40e3)), 35.3, 0.05, "furnace manuals, worked example", "seen")
	published(t, "88,000 + 30,000, horizontal", size(OutdoorDucted, other(88e3), other(30e3)), 59.0, 0.05, "furnace manuals, worked example", "seen")
	for i, in := range []reading.HeatRate{50e3, 75e3, 100e3, 125e3, 150e3} {
		published(t, in.String()+" Btu/h, horizontal", size(OutdoorDucted, fan(in)), []float64{25, 37.5, 50, 62.5, 75}[i], 0.05, sizes, "seen")
		published(t, in.String()+" Btu/h, one opening", size(OutdoorSingle, fan(in)), []float64{16.7, 25, 33.3, 41.7, 50}[i], 0.05, sizes, "seen")
		published(t, in.String()+" Btu/h, vertical or direct", size(OutdoorDirect, fan(in)), []float64{12.5, 18.75, 25, 31.25, 37.5}[i], 0.005, sizes, "seen")
	}
	for i, in := range []reading.HeatRate{80e3, 100e3, 140e3} {
		published(t, in.String()+" Btu/h, indoor, same story", size(IndoorSameStory, other(in)), []float64{100, 100, 140}[i], 0, "1 in2 per 1000 Btu/h, at least 100 in2", "computed")
	}
	published(t, "140,000 Btu/h, another story", size(IndoorOtherStory, other(140e3)), 280, 0, "2 in2 per 1000 Btu/h", "memory")
	metal, wood := Opening{Each: 35}.Gross()
	published(t, "metal louvre for 35 in2", float64(metal), 46.667, 5e-4, "75 % free (codecheck.com restating IRC 1701.5)", "computed")
	published(t, "wood louvre for 35 in2", float64(wood), 140.0, 1e-9, "25 % free (codecheck.com restating IRC 1701.5)", "computed")
	s := space(1000, 0, other(88e3))
	s.Altitude = 4300
	published(t, "88,000 Btu/h derated at 4300 ft", float64(*air(t, s).Derated)/88e3, 0.828, 1e-12, "4 % per 1000 ft above sea level, furnace manuals", "computed")
}

func TestAirRules(t *testing.T) {
	// From 0.40 on both methods may be used; below, the standard one is barred.
	for _, c := range []struct {
		ach  float64
		free bool
	}{{0, true}, {0.39999, false}, {0.4, true}, {0.2, false}, {0.6, true}} {
		if a := air(t, space(1000, c.ach, other(40e3))); a.StandardFree != c.free || a.Standard != 2000 || (a.ByRate == nil) != (c.ach == 0) {
			t.Errorf("%v ACH: %+v", c.ach, a)
		}
	}
	// Just enough is enough, and leaves nothing to reduce.
	a := air(t, space(2000, 0, other(40e3)))
	if !a.Sufficient || a.Ratio != 1 || a.Reduction != 0 {
		t.Errorf("2000 of 2000 ft3: %+v", a)
	}
	for _, o := range a.Openings {
		if o.Combined != nil {
			t.Errorf("%s is reduced where the volume is enough", o.Method)
		}
	}
	if a := air(t, space(1999.999, 0, other(40e3))); a.Sufficient {
		t.Error("a little less than enough is enough")
	}
	// The vent connectors bound the single opening from below.
	s := space(1000, 0, other(40e3))
	s.Connectors = 28
	if o := each(t, air(t, s), OutdoorSingle); o.Each != 28 || o.Min == nil || *o.Min != 28 {
		t.Errorf("connectors of 28 in2: %+v", o)
	}
	if o := each(t, air(t, space(1000, 0, other(40e3))), OutdoorSingle); o.Min != nil {
		t.Errorf("unknown connectors give a least area: %+v", o)
	}
	// Derating starts above 2000 ft.
	s = space(1000, 0, other(40e3))
	s.Altitude = 2000
	if a := air(t, s); a.Derated != nil {
		t.Error("derated at 2000 ft")
	}
	for _, o := range a.Openings {
		if o.Source == "" || o.Evidence == "" || o.Count < 1 {
			t.Errorf("%+v has no source or count", o)
		}
	}
}

func TestAirRefused(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name  string
		s     Space
		field string
	}{
		{"no infiltration", space(1000, math.Copysign(0, -1), other(40e3)), ""},
		{"negative infiltration", space(1000, -0.1, other(40e3)), "infiltration"},
		{"infiltration not a number", space(1000, nan, other(40e3)), "infiltration"},
		{"endless infiltration", space(1000, math.Inf(1), other(40e3)), "infiltration"},
		{"no volume", space(0, 0, other(40e3)), "volume"},
		{"negative volume", space(-3600, 0, other(40e3)), "volume"},
		{"volume not a number", space(reading.Volume(nan), 0, other(40e3)), "volume"},
		{"no burner", space(1000, 0), "appliance"},
		{"burner without input", space(1000, 0, Burner{Name: "furnace"}), "input furnace"},
		{"negative input", space(1000, 0, other(-1)), "input"},
		{"input not a number", space(1000, 0, other(reading.HeatRate(nan))), "input"},
		{"connectors not a number", Space{Volume: 1000, Burners: []Burner{other(1e5)}, Connectors: reading.Area(nan)}, "connector area"},
		{"altitude of the moon", Space{Volume: 1000, Burners: []Burner{other(1e5)}, Altitude: 1e9}, "altitude"},
		{"infiltration too small for any volume", space(1000, 1e-320, other(40e3)), "infiltration"},
	} {
		if c.field == "" { // a rate of nothing, given as such
			zero := AirChanges(0)
			c.s.Infiltration, c.field = &zero, "infiltration"
		}
		a, err := CombustionAir(c.s)
		var v *ValueError
		if !errors.As(err, &v) || v.Field != c.field || a.Sufficient || a.Required != 0 {
			t.Errorf("%s: %v, %+v; want %s refused", c.name, err, a, c.field)
		}
	}
}

func TestBurners(t *testing.T) {
	ap := func(id string, k procedure.ApplianceKind, v procedure.VentType, in float64, unit string, alter ...func(*procedure.Appliance)) procedure.Appliance {
		a := procedure.Appliance{ID: id, Name: id, Kind: k, Zone: "z", Burner: procedure.Burner{Fuel: procedure.NaturalGas, Input: in, Unit: unit}, Vent: procedure.Vent{Type: v}}
		for _, f := range alter {
			f(&a)
		}
		return a
	}
	o := procedure.Observations{Appliances: []procedure.Appliance{
		ap("furnace", procedure.Furnace, procedure.FanAssisted, 80000, "Btu/h"),
		ap("heater", procedure.WaterHeater, procedure.NaturalVent, 10, "kW"),
		ap("unknown vent", procedure.RoomHeater, procedure.VentUnknown, 20000, ""),
		ap("no plate", procedure.Boiler, procedure.NaturalVent, 0, ""),
		ap("odd unit", procedure.Boiler, procedure.NaturalVent, 5, "ppm"),
		ap("sealed", procedure.Furnace, procedure.DirectVent, 60000, ""),
		ap("stove", procedure.WoodStove, procedure.NaturalVent, 0, ""),
		ap("attic", procedure.Furnace, procedure.NaturalVent, 60000, "", func(a *procedure.Appliance) { a.Facts.InsideBoundary = procedure.No }),
		ap("tank", procedure.IndirectTank, procedure.VentUnknown, 0, ""),
		ap("electric", procedure.Furnace, procedure.VentUnknown, 0, "", func(a *procedure.Appliance) { a.Burner.Fuel = procedure.Electricity }),
		ap("elsewhere", procedure.Furnace, procedure.NaturalVent, 60000, "", func(a *procedure.Appliance) { a.Zone = "y" }),
	}}
	burners, missing, leftOut := Burners(o, "z")
	if fmt.Sprint(missing) != "[no plate odd unit]" || fmt.Sprint(leftOut) != "[sealed stove attic]" || len(burners) != 3 {
		t.Fatalf("burners %+v, missing %q, left out %q", burners, missing, leftOut)
	}
	if !burners[0].FanAssisted || burners[0].Input != 80000 || burners[1].FanAssisted || math.Abs(float64(burners[1].Input)-34121.416) > 1e-3 {
		t.Errorf("%+v", burners)
	}
	if burners[2].FanAssisted {
		t.Error("a vent that is not known draws the lower figure")
	}
}
