// Package airflowtest holds networks for tests of the package airflow and of
// those built on it: networks with a known answer ([Answers]), invented houses
// ([House6], [House12]) and networks at random ([Random]).
package airflowtest

import (
	"fmt"
	"math"

	"cazward/procedure/airflow"
)

// Celsius in kelvin.
const Celsius = 273.15

// SeaLevel is still outdoor air of the given temperature (K) at 101325 Pa.
func SeaLevel(temperature float64) airflow.Outdoors {
	return airflow.Outdoors{Temperature: temperature, Pressure: 101325}
}

// Source of numbers for [Random], so that a property test can draw and shrink
// them.
type Source interface {
	Float(lo, hi float64) float64
	Int(n int) int // 0 to n-1
}

// Shape says what [Random] may use.
type Shape struct {
	Zones      int
	Isothermal bool    // no buoyancy, and so no vents
	Calm       bool    // no wind
	Still      bool    // no fans or air handlers
	Constant   bool    // no fan curves
	Exponent   float64 // not 0: every link a power law with this exponent
}

// Random is a house-like network: leaks of 20 to 2000 CFM50, undercut and open
// doors, stairwells, fans, an air handler with a duct leak and a warm vent.
// Each zone is tied to the outdoors or to a zone before it.
func Random(src Source, shape Shape) airflow.Network {
	log := func(lo, hi float64) float64 { return math.Exp(src.Float(math.Log(lo), math.Log(hi))) }
	outdoors := 293.15
	if !shape.Isothermal {
		outdoors = src.Float(243, 313)
	}
	n := airflow.Network{Outdoors: SeaLevel(outdoors)}
	n.Outdoors.Pressure = src.Float(70e3, 103e3)
	if !shape.Calm {
		n.Outdoors.Wind = src.Float(0, 10)
	}
	cp := func() float64 {
		if shape.Calm {
			return 0
		}
		return src.Float(-0.7, 0.7)
	}
	for i := range shape.Zones {
		z := airflow.Zone{Name: fmt.Sprint("zone ", i), Floor: 2.5 * float64(src.Int(3)), Temperature: outdoors}
		if !shape.Isothermal {
			z.Temperature = src.Float(278, 303)
		}
		n.Zones = append(n.Zones, z)
	}
	exponent := func() float64 {
		if shape.Exponent != 0 {
			return shape.Exponent
		}
		return []float64{0.65, 0.5, 1, src.Float(0.5, 0.9)}[src.Int(4)]
	}
	leak := func() airflow.Law {
		if shape.Exponent == 0 && src.Int(3) == 0 {
			return airflow.Orifice(log(1e-4, 0.03), 0.61)
		}
		return airflow.FromCFM50(log(20, 2000), exponent())
	}
	link := func(name string, from, to airflow.Node, above float64, law airflow.Law) {
		l := airflow.Link{Name: name, From: from, To: to, Height: n.Zones[from].Floor + above, Law: law}
		if to == airflow.Outside {
			l.Cp = cp()
		}
		n.Links = append(n.Links, l)
	}
	for i := range n.Zones {
		zone := airflow.Node(i)
		if i == 0 || src.Int(4) != 0 {
			link("low leak", zone, airflow.Outside, src.Float(0, 1), leak())
			link("high leak", zone, airflow.Outside, src.Float(1, 2.5), leak())
		}
		if i == 0 {
			continue
		}
		for range 1 + src.Int(2) {
			other := airflow.Node(src.Int(i))
			switch kind := src.Int(3); {
			case kind == 0 && shape.Exponent == 0:
				link("doorway", zone, other, 0, airflow.Doorway(0.8, 2, 0.65))
			case kind == 1 && shape.Exponent == 0:
				link("undercut", zone, other, 0, airflow.Orifice(log(1e-3, 0.05), 0.61))
			default:
				link("inside leak", zone, other, src.Float(0, 2.5), airflow.FromCFM50(log(20, 20000), exponent()))
			}
		}
	}
	if !shape.Still {
		for range 1 + src.Int(3) {
			f := airflow.Fan{Name: "fan", From: airflow.Node(src.Int(shape.Zones)), To: airflow.Outside}
			f.Flow = log(30, 600) * airflow.CFM
			if !shape.Constant && src.Int(3) == 0 {
				f.Curve = []airflow.CurvePoint{{Head: -20, Flow: 1.3 * f.Flow}, {Head: 0, Flow: f.Flow}, {Head: src.Float(5, 60), Flow: 0.6 * f.Flow}, {Head: 100}}
				f.Flow, f.Cp = 0, cp()
			}
			if src.Int(5) == 0 {
				f.From, f.To = f.To, f.From
			}
			n.Fans = append(n.Fans, f)
		}
		if shape.Zones > 1 && src.Int(2) == 0 {
			home := airflow.Node(src.Int(shape.Zones))
			a := airflow.AirHandler{Name: "air handler", Flow: log(300, 1500) * airflow.CFM,
				Supplies: []airflow.Share{{Node: 0, Fraction: 0.5}, {Node: home, Fraction: 0.5}},
				Returns:  []airflow.Share{{Node: 0, Fraction: 0.9}, {Node: airflow.Node(src.Int(shape.Zones)), Fraction: 0.1}}}
			n.AirHandlers = append(n.AirHandlers, a)
			if from := airflow.Node(1 + src.Int(shape.Zones-1)); shape.Exponent == 0 {
				link("duct leak", from, 0, 1, airflow.DuctLeak(log(20, 300)*airflow.CFM/math.Pow(25, 0.6), 0.6, 0, src.Float(-50, 50)))
			}
		}
	}
	if !shape.Isothermal && shape.Exponent == 0 && src.Int(2) == 0 {
		zone := airflow.Node(src.Int(shape.Zones))
		top := n.Zones[zone].Floor + src.Float(4, 10)
		link("vent", zone, airflow.Outside, 1.5, airflow.Vent(log(0.005, 0.03), top, src.Float(290, 500), 2, src.Float(1, 4)))
	}
	return n
}

// House6 is an invented house of 6 zones and 20 power-law links in cold, windy
// weather with two fans: the one that the speed figures are for.
func House6() airflow.Network {
	n := airflow.Network{Outdoors: SeaLevel(268.15)}
	n.Outdoors.Wind = 4
	for i, name := range []string{"basement", "caz", "hall", "kitchen", "bedroom", "attic"} {
		n.Zones = append(n.Zones, airflow.Zone{Name: name, Floor: []float64{0, 0, 2.6, 2.6, 2.6, 5.2}[i], Temperature: []float64{288, 291, 293, 294, 293, 270}[i]})
	}
	for i, z := range n.Zones {
		cfm50 := []float64{180, 60, 90, 140, 160, 2500}[i]
		for _, side := range []float64{0.6, -0.35} {
			n.Links = append(n.Links, airflow.Link{Name: "leak", From: airflow.Node(i), To: airflow.Outside,
				Height: z.Floor + 1 + side, Cp: side, Law: airflow.FromCFM50(cfm50, 0.65)})
		}
	}
	for _, d := range []struct {
		a, b          airflow.Node
		height, cfm50 float64
	}{{0, 1, 0.1, 300}, {0, 2, 2.6, 900}, {2, 3, 2.7, 9000}, {2, 4, 2.7, 400}, {2, 5, 5.2, 150}, {3, 5, 5.2, 90}, {4, 5, 5.2, 80}, {1, 2, 2.6, 40}} {
		n.Links = append(n.Links, airflow.Link{Name: "inside", From: d.a, To: d.b, Height: d.height, Law: airflow.FromCFM50(d.cfm50, 0.65)})
	}
	n.Fans = []airflow.Fan{
		{Name: "dryer", From: 0, To: airflow.Outside, Flow: 150 * airflow.CFM},
		{Name: "hood", From: 3, To: airflow.Outside, Flow: 250 * airflow.CFM},
	}
	return n
}

// House12 is an invented house of 12 zones with 10 things to switch, so that it
// has 1,024 configurations: the first 6 links are inside doors, and there are 3
// fans and an air handler. See [Configuration].
func House12() airflow.Network {
	n := airflow.Network{Outdoors: SeaLevel(263.15)}
	n.Outdoors.Wind = 3
	names := []string{"caz", "basement", "hall", "kitchen", "living", "bath 1", "stairs", "bedroom 1", "bedroom 2", "bedroom 3", "bath 2", "attic"}
	for i, name := range names {
		z := airflow.Zone{Name: name, Floor: []float64{0, 0, 2.6, 2.6, 2.6, 2.6, 2.6, 5.2, 5.2, 5.2, 5.2, 7.8}[i], Temperature: 292 + float64(i%4)}
		if name == "attic" {
			z.Temperature = 267
		}
		n.Zones = append(n.Zones, z)
	}
	doors := [][2]airflow.Node{{0, 1}, {2, 5}, {6, 7}, {6, 8}, {6, 9}, {6, 10}}
	for _, d := range doors {
		n.Links = append(n.Links, airflow.Link{Name: "door " + names[d[0]] + "-" + names[d[1]], From: d[0], To: d[1],
			Height: n.Zones[d[1]].Floor, Law: airflow.Doorway(0.76, 2, 0.65)})
	}
	for _, d := range doors {
		n.Links = append(n.Links, airflow.Link{Name: "undercut", From: d[0], To: d[1], Height: n.Zones[d[1]].Floor, Law: airflow.Orifice(0.01, 0.61)})
	}
	for _, d := range [][2]airflow.Node{{2, 3}, {2, 4}, {2, 6}} {
		n.Links = append(n.Links, airflow.Link{Name: "open way", From: d[0], To: d[1], Height: 2.6, Law: airflow.Doorway(1, 2.1, 0.65)})
	}
	n.Links = append(n.Links,
		airflow.Link{Name: "basement stairs", From: 1, To: 2, Height: 2.6, Law: airflow.Orifice(0.02, 0.61)},
		airflow.Link{Name: "vent", From: 0, To: airflow.Outside, Height: 1.6, Cp: -0.3, Law: airflow.Vent(0.0127, 9.5, 360, 2.5, 2)},
		airflow.Link{Name: "return leak", From: 0, To: 2, Height: 2, Law: airflow.DuctLeak(0.004, 0.6, 0, 25)})
	for i, name := range names {
		zone := airflow.Node(i)
		cfm50 := 110 + 10*float64(i)
		if name == "attic" {
			cfm50 = 3000
		} else if i >= 7 {
			n.Links = append(n.Links, airflow.Link{Name: "ceiling", From: zone, To: 11, Height: 7.8, Law: airflow.FromCFM50(40, 0.6)})
		}
		n.Links = append(n.Links,
			airflow.Link{Name: "windward", From: zone, To: airflow.Outside, Height: n.Zones[i].Floor + 0.5, Cp: 0.6, Law: airflow.FromCFM50(cfm50, 0.65)},
			airflow.Link{Name: "leeward", From: zone, To: airflow.Outside, Height: n.Zones[i].Floor + 2, Cp: -0.36, Law: airflow.FromCFM50(cfm50, 0.65)})
	}
	n.Fans = []airflow.Fan{
		{Name: "dryer", From: 1, To: airflow.Outside, Flow: 140 * airflow.CFM},
		{Name: "hood", From: 3, To: airflow.Outside, Height: 4, Cp: -0.3, Curve: []airflow.CurvePoint{{Head: 0, Flow: 300 * airflow.CFM}, {Head: 50, Flow: 200 * airflow.CFM}, {Head: 90}}},
		{Name: "bath 2", From: 10, To: airflow.Outside, Flow: 70 * airflow.CFM},
	}
	n.AirHandlers = []airflow.AirHandler{{Name: "furnace", Flow: 1000 * airflow.CFM,
		Supplies: []airflow.Share{{Node: 3, Fraction: 0.2}, {Node: 4, Fraction: 0.25}, {Node: 7, Fraction: 0.2}, {Node: 8, Fraction: 0.15}, {Node: 9, Fraction: 0.15}, {Node: 11, Fraction: 0.05}},
		Returns:  []airflow.Share{{Node: 2, Fraction: 0.93}, {Node: 1, Fraction: 0.07}}}}
	return n
}

// Configuration sets the switches of [House12] by the bits of k, 0 to 1023: 6
// doors (bit set: shut), 3 fans, air handler (bit set: on).
func Configuration(k int, st *airflow.State) {
	for i := range 6 {
		st.Links[i] = float64(1 - k>>i&1)
	}
	for i := range 3 {
		st.Fans[i] = float64(k >> (6 + i) & 1)
	}
	st.AirHandlers[0] = float64(k >> 9 & 1)
}
