package practice

import (
	"math"
	"math/rand/v2"
	"strconv"

	"cazward/procedure"
	"cazward/procedure/airflow"
)

// Random draws an invented house: the same seed and number give the same house.
// It has one combustion appliance zone, every figure is drawn by itself unless
// said, and nothing of it is a measured house. What each figure is drawn from:
//
//   - Tightness: ACH50, of the volume with its basement, lognormal, median 7.8,
//     standard deviation of the log 0.5, 1.5 to 25. That leakage is roughly
//     lognormal: LBNL Residential Diagnostics Database (abstract seen); 7.8 is the
//     mean before sealing of an airport sound program (Bohac, 2016 slides, seen);
//     spread: own.
//   - Exponent: normal, 0.65 and 0.03 (default of the open Modelica Buildings
//     library; spread: own), 0.55 to 0.75.
//   - Floor area: lognormal, median 1500 ft2; ceilings 8 ft; one storey in 60 %,
//     basement in 45 %: own figures.
//   - Where the leaks are: by the wall and ceiling of each space, each times a
//     lognormal of spread 0.6: own. Wind on walls: Swami and Chandra, 1987; on
//     ceilings -0.3: own.
//   - Doors: 32 by 80 in open, 0.61 times the undercut (0.25 to 1 in) and the
//     crack around it when shut: the door formula of Building Science Corp
//     RR-0005 (seen); widths of cracks: own.
//   - Bath fans 25 to 100 cfm, dryer about 150 (Yost, seen); range hood 100 to
//     400, central vacuum 100 to 150 (from memory); one hood in twenty 600
//     (Huelman, seen). Installed flow 0.6 to 1.0 of it: own, about the 80 % that
//     Minnesota's code counts (seen).
//   - Air handlers: 0.7 cfm/ft2 give or take 0.1 (common practice); return leak
//     exponential with mean 10.3 % of the flow (Cummings and Tooley, 155 homes,
//     seen), supply leak with mean 8 % (own).
//   - Weather: -15 to 25 C, wind of a Rayleigh with mean 2 m/s at the walls, none
//     above 4 m/s, the ceiling of a day on which one tests: own.
//   - Appliances, vents, inside leaks, shares of ducts: own figures.
func Random(seed, number uint64) *House {
	d := &draw{Rand: rand.New(rand.NewPCG(seed, number)), h: &House{Name: "random-" + strconv.FormatUint(seed, 10) + "-" + strconv.FormatUint(number, 10), Home: procedure.DetachedHouse}}
	d.h.Title = "drawn from seed " + strconv.FormatUint(seed, 10)
	d.weather()
	d.rooms()
	d.leaks()
	d.exhaust()
	d.ducts()
	d.burners()
	return d.h
}

type draw struct {
	*rand.Rand
	h       *House
	area    float64 // m2 of floor, basement apart
	storeys int
	caz     airflow.Node
	hall    airflow.Node // what bedrooms open to
	main    airflow.Node
	spaces  []room
}

// room is a space with the walls that it shows to the wind.
type room struct {
	node  airflow.Node
	share float64 // of the shell
	roof  bool
}

const (
	storey = 2.44 // m, 8 ft
	below  = -2.3 // m, floor of a basement
)

func (d *draw) between(lo, hi float64) float64      { return lo + (hi-lo)*d.Float64() }
func (d *draw) chance(p float64) bool               { return d.Float64() < p }
func (d *draw) lognormal(median, s float64) float64 { return median * math.Exp(s*d.NormFloat64()) }

func (d *draw) weather() {
	out := &d.h.Network.Outdoors
	out.Temperature = 273.15 + d.between(-15, 25)
	out.Pressure = airflow.StandardPressure(d.between(0, 1500))
	out.Wind = min(4, 2*math.Sqrt(4/math.Pi*d.ExpFloat64()))
	d.h.Gust = 0.3 + d.between(0.2, 0.6)*out.Wind
}

func (d *draw) zone(name string, floor, volume float64, share float64, roof bool) airflow.Node {
	n := airflow.Node(len(d.h.Network.Zones))
	d.h.Network.Zones = append(d.h.Network.Zones, airflow.Zone{Name: name, Floor: floor, Temperature: 273.15 + d.between(19, 23)})
	d.h.Zones = append(d.h.Zones, Zone{Name: name, Volume: volume})
	d.spaces = append(d.spaces, room{n, share * d.lognormal(1, 0.6), roof})
	return n
}

func (d *draw) link(l airflow.Link) int {
	d.h.Network.Links = append(d.h.Network.Links, l)
	return len(d.h.Network.Links) - 1
}

// door between two spaces; shut, area m2 is left of it.
func (d *draw) door(name string, kind procedure.DoorKind, from, to airflow.Node, area float64) {
	z := d.h.Network.Zones
	sill := max(z[from].Floor, z[to].Floor)
	open := d.link(airflow.Link{Name: name + "-open", From: from, To: to, Height: sill, Law: airflow.Doorway(0.81, 2.03, 0.65)})
	shut := d.link(airflow.Link{Name: name + "-shut", From: from, To: to, Height: sill, Law: airflow.Orifice(area, 0.61)})
	x := Door{Name: name, Kind: kind, From: z[from].Name, To: z[to].Name}
	if kind == "" {
		x.CAZ = z[d.caz].Name
	}
	d.h.Doors = append(d.h.Doors, x)
	d.h.switches = append(d.h.switches, Switch{Name: name, Kind: DoorSwitch, Rest: "open", Turned: "closed", atRest: []int{open}, turned: []int{shut}, tried: true})
}

const inch2 = 0.00064516 // m2

// crack is what a shut inside door leaves open: its undercut and a crack of
// 0.02 to 0.06 in on the other three sides.
func (d *draw) crack() float64 {
	return (32*d.between(0.25, 1) + 192*d.between(0.02, 0.06)) * inch2
}

func (d *draw) rooms() {
	d.area = min(350, max(70, d.lognormal(139, 0.3)))
	d.storeys = 1
	if d.chance(0.4) {
		d.storeys = 2
	}
	ground := d.area / float64(d.storeys)
	basement := d.chance(0.45)
	one := d.storeys == 1
	d.main = d.zone("main", 0, 0.55*ground*storey, 0.5*float64(d.storeys), one)
	d.hall = d.main
	up := 0.0
	if !one {
		up = storey + 0.3
		d.hall = d.zone("upstairs", up, 0.3*ground*storey, 0.3, true)
		d.link(airflow.Link{Name: "stairwell", From: d.main, To: d.hall, Height: storey, Law: airflow.Orifice(d.between(1.5, 3), 0.65)})
	}
	cazDoor := "caz-door"
	inside := 0.0 // CFM50 between the zone and the rest
	switch {
	case basement && d.chance(0.85):
		d.caz = d.zone("basement", below, 0.9*ground*storey, 0.45, false)
		inside = d.lognormal(300, 0.6)
		d.h.Network.Zones[d.caz].Temperature = 273.15 + d.between(14, 20)
	case d.chance(0.6):
		d.caz = d.zone("utility-room", 0, d.between(10, 25), 0.10, one)
		inside = d.lognormal(80, 0.6)
	default:
		d.caz = d.zone("closet", 0, d.between(2, 5), 0.03, one)
		inside = d.lognormal(60, 0.6)
	}
	d.h.Zones[d.caz].CAZ, d.h.Zones[d.caz].Louvred = true, procedure.No
	z := d.h.Network.Zones
	d.link(airflow.Link{Name: "caz-inside-leaks", From: d.main, To: d.caz, Height: max(z[d.main].Floor, z[d.caz].Floor), Law: airflow.FromCFM50(inside, 0.6)})
	switch {
	case z[d.caz].Name != "basement" && d.chance(0.2):
		d.h.Zones[d.caz].Louvred = procedure.Yes
		d.door(cazDoor, "", d.main, d.caz, d.between(60, 250)*inch2)
	case d.chance(0.08):
		d.link(airflow.Link{Name: "caz-opening", From: d.main, To: d.caz, Height: max(z[d.main].Floor, z[d.caz].Floor), Law: airflow.Orifice(d.between(0.5, 2), 0.61)})
	default:
		d.door(cazDoor, "", d.main, d.caz, d.crack())
	}
	room := func(name string, kind procedure.DoorKind, share, volume float64) airflow.Node {
		n := d.zone(name, up, volume, share, true)
		d.link(airflow.Link{Name: name + "-partitions", From: d.hall, To: n, Height: up + 1.2, Law: airflow.FromCFM50(d.lognormal(60, 0.6), 0.6)})
		d.door(name+"-door", kind, d.hall, n, d.crack())
		return n
	}
	beds := 2 + d.IntN(3)
	for i := range beds {
		room("bedroom-"+strconv.Itoa(i+1), procedure.BedroomDoor, d.between(0.12, 0.22), 0.11*d.area*storey)
	}
	if beds < 4 && d.chance(0.6) {
		room("bath", procedure.BathDoor, 0.05, 14)
	}
	if beds < 4 && d.chance(0.25) {
		n := d.zone("laundry", 0, 14, 0.07, one)
		d.link(airflow.Link{Name: "laundry-partitions", From: d.main, To: n, Height: 1.2, Law: airflow.FromCFM50(d.lognormal(60, 0.6), 0.6)})
		d.door("laundry-door", procedure.LaundryDoor, d.main, n, d.crack())
	}
}

func (d *draw) node(name string) (airflow.Node, bool) {
	for i, z := range d.h.Network.Zones {
		if z.Name == name {
			return airflow.Node(i), true
		}
	}
	return 0, false
}

func (d *draw) leaks() {
	volume := d.area * storey
	if d.h.Network.Zones[d.caz].Floor < 0 {
		volume *= 1 + 0.9/float64(d.storeys)
	}
	ach := min(25, max(1.5, d.lognormal(7.8, 0.5)))
	cfm50 := ach * volume * 35.3147 / 60
	n := min(0.75, max(0.55, 0.65+0.03*d.NormFloat64()))
	sum := 0.0
	for _, r := range d.spaces {
		sum += r.share
	}
	wind := d.between(0, 360)
	for _, r := range d.spaces {
		z := d.h.Network.Zones[r.node]
		q, roof := cfm50*r.share/sum, 0.0
		if r.roof {
			roof = d.between(0.2, 0.5)
		}
		face, part := float64(d.IntN(4))*90, d.between(0.3, 0.7)
		at := z.Floor + storey/2
		if z.Floor < 0 {
			at = z.Floor + storey*0.85 // above grade
		}
		add := func(name string, height, cp, q float64) {
			i := d.link(airflow.Link{Name: z.Name + name, From: r.node, To: airflow.Outside, Height: height, Cp: cp, Law: airflow.FromCFM50(q, n)})
			d.h.leaks = append(d.h.leaks, i)
		}
		add("-wall-1", at, airflow.WallCp(wind-face), q*(1-roof)*part)
		add("-wall-2", at, airflow.WallCp(wind-face-90), q*(1-roof)*(1-part))
		if r.roof {
			add("-ceiling", z.Floor+storey, -0.3, q*roof)
		}
	}
}

// fan that gives its installed flow, cfm, freely and a fifth of it against 150 Pa
// (own figure).
func (d *draw) fan(name string, kind procedure.FanKind, from airflow.Node, cfm float64) {
	if len(d.h.Fans) == 5 {
		return
	}
	q := cfm * d.between(0.6, 1) * airflow.CFM
	d.h.switches = append(d.h.switches, Switch{Name: name, Kind: FanSwitch, Rest: "off", Turned: "on", fan: len(d.h.Network.Fans), tried: true})
	d.h.Network.Fans = append(d.h.Network.Fans, airflow.Fan{Name: name, From: from, To: airflow.Outside, Height: d.h.Network.Zones[from].Floor + 1.5,
		Curve: []airflow.CurvePoint{{Head: 0, Flow: q}, {Head: 150, Flow: q / 5}}})
	d.h.Fans = append(d.h.Fans, Fan{Name: name, Kind: kind})
}

func (d *draw) exhaust() {
	bath, ok := d.node("bath")
	if !ok {
		bath = d.hall
	}
	d.fan("bath-fan", procedure.BathFan, bath, d.between(25, 100))
	if d.chance(0.35) {
		suite, _ := d.node("bedroom-1")
		d.fan("suite-fan", procedure.BathFan, suite, d.between(25, 100))
	}
	if d.chance(0.55) {
		cfm := d.between(100, 400)
		if d.chance(0.05) {
			cfm = 600
		}
		d.fan("range-hood", procedure.RangeHood, d.main, cfm)
	}
	if d.chance(0.85) {
		at := d.main
		if n, ok := d.node("laundry"); ok {
			at = n
		} else if d.h.Network.Zones[d.caz].Name != "closet" && d.chance(0.65) {
			at = d.caz
		}
		d.fan("dryer", procedure.Dryer, at, d.between(100, 180))
	}
	if d.chance(0.08) {
		d.fan("central-vacuum", procedure.CentralVacuum, d.main, d.between(100, 150))
	}
	if d.chance(0.1) {
		d.fan("exhaust-ventilator", procedure.WholeHouseExhaust, d.hall, d.between(30, 80))
	}
}

func (d *draw) ducts() {
	count := 1
	switch x := d.Float64(); {
	case x < 0.2:
		count = 0
	case x > 0.95 && d.storeys == 2:
		count = 2
	}
	for i := range count {
		name := "air-handler-" + strconv.Itoa(i+1)
		flow := d.area * 10.7639 * min(0.95, max(0.45, 0.7+0.1*d.NormFloat64())) / float64(count) * airflow.CFM
		inCAZ := i == 0 && d.chance(0.75)
		leak := func(mean, most float64) (float64, airflow.Node) {
			f, at := min(most, mean*d.ExpFloat64()), airflow.Outside // an attic, a crawl space
			if inCAZ && d.chance(0.8) {
				at = d.caz
			}
			return f, at
		}
		share := func(leak float64, at airflow.Node, weight map[string]float64) []airflow.Share {
			out := []airflow.Share{{Node: at, Fraction: leak}}
			sum := 0.0
			var nodes []airflow.Node
			var w []float64
			for k := range d.h.Network.Zones { // in order, so that a seed gives one house
				if x := weight[d.h.Network.Zones[k].Name]; x > 0 {
					x *= d.between(0.7, 1.3)
					nodes, w, sum = append(nodes, airflow.Node(k)), append(w, x), sum+x
				}
			}
			for k := range nodes {
				out = append(out, airflow.Share{Node: nodes[k], Fraction: (1 - leak) * w[k] / sum})
			}
			return out
		}
		supply := map[string]float64{"main": 0.45, "upstairs": 0.15, "bath": 0.04, "laundry": 0.04, "bedroom-1": 0.15, "bedroom-2": 0.11, "bedroom-3": 0.11, "bedroom-4": 0.11}
		if d.chance(0.6) {
			supply["basement"] = 0.1
		}
		back := map[string]float64{d.h.Network.Zones[d.hall].Name: 1}
		if d.hall != d.main && d.chance(0.7) {
			back["main"] = 1
		}
		if d.chance(0.25) {
			for _, b := range []string{"bedroom-1", "bedroom-2", "bedroom-3", "bedroom-4"} {
				back[b] = 0.25
			}
		}
		sl, sat := leak(0.08, 0.35)
		rl, rat := leak(0.103, 0.4)
		d.h.switches = append(d.h.switches, Switch{Name: name, Kind: AirHandlerSwitch, Rest: "off", Turned: "on", handler: i, tried: true})
		d.h.Network.AirHandlers = append(d.h.Network.AirHandlers, airflow.AirHandler{Name: name, Flow: flow, Supplies: share(sl, sat, supply), Returns: share(rl, rat, back)})
		d.h.AirHandlers = append(d.h.AirHandlers, name)
	}
}

func (d *draw) burners() {
	zone := d.h.Network.Zones[d.caz]
	floor, roof := zone.Floor, float64(d.storeys)*(storey+0.3)+d.between(1.5, 3)
	add := func(id string, kind procedure.ApplianceKind, vent procedure.VentType, category procedure.Category, input float64) *Appliance {
		d.h.Appliances = append(d.h.Appliances, Appliance{Appliance: procedure.Appliance{ID: id, Name: id, Kind: kind, Zone: zone.Name, Listed: true,
			Burner: procedure.Burner{Fuel: procedure.NaturalGas, Input: input, Unit: "Btu/h"}, Vent: procedure.Vent{Type: vent, Category: category},
			Facts: procedure.VentFacts{InsideBoundary: procedure.Yes, Shares: procedure.No, Fireable: procedure.Yes, TestHole: procedure.Yes, Outside: procedure.No, Orphaned: procedure.No, VentDamper: procedure.No}},
			Flue: []Flue{{CO: 20, O2: 7}}, LastFired: 90, WarmUp: 2})
		return &d.h.Appliances[len(d.h.Appliances)-1]
	}
	chimney := func(name string, inches float64, served ...int) {
		r := inches * 0.0254 / 2
		in := floor + 1.8
		l := d.link(airflow.Link{Name: name, From: d.caz, To: airflow.Outside, Height: in, Cp: -0.3, Law: airflow.Vent(math.Pi*r*r, max(roof, in+3), 305, 1.5, 2.5)})
		v := len(d.h.Vents)
		d.h.Vents = append(d.h.Vents, Vent{Name: name, Link: l, Standing: 305, Fired: 430})
		for _, i := range served {
			a := &d.h.Appliances[i]
			a.Vents = []int{v}
			d.h.Vents[v].Appliances = append(d.h.Vents[v].Appliances, a.ID)
			d.h.switches = append(d.h.switches, Switch{Name: a.ID, Kind: ApplianceSwitch, Rest: "off", Turned: "fired", vents: a.Vents})
		}
	}
	const I, III, IV = procedure.CategoryI, procedure.CategoryIII, procedure.CategoryIV
	heating, tank := -1, 0
	switch x := d.Float64(); {
	case x < 0.8:
		add("water-heater", procedure.WaterHeater, procedure.NaturalVent, I, 40000).Facts.DraftHood = procedure.Yes
	case x < 0.85:
		add("water-heater", procedure.WaterHeater, procedure.FanAssisted, I, 40000)
	default:
		add("water-heater", procedure.WaterHeater, procedure.PowerVented, III, 40000)
		tank = -1
	}
	kind := procedure.Furnace
	if len(d.h.AirHandlers) == 0 {
		kind = procedure.Boiler
	}
	switch x := d.Float64(); {
	case tank < 0 && x < 0.5 || x < 0.35:
		heating = len(d.h.Appliances)
		add("heating", kind, procedure.NaturalVent, I, 80000).Facts.DraftHood = procedure.Yes
	case tank < 0 || x < 0.65:
		heating = len(d.h.Appliances)
		add("heating", kind, procedure.FanAssisted, I, 80000)
	case x < 0.95:
		add("heating", kind, procedure.DirectVent, IV, 80000)
	}
	switch {
	case tank >= 0 && heating >= 0 && d.chance(0.6):
		for i := range 2 {
			d.h.Appliances[i].Facts.Shares, d.h.Appliances[i].Partners = procedure.Yes, []string{d.h.Appliances[1-i].ID}
		}
		chimney("common-vent", 6, tank, heating)
	default:
		if tank >= 0 {
			d.h.Appliances[tank].Facts.Orphaned = procedure.No
			chimney("tank-vent", 4, tank)
		}
		if heating >= 0 {
			chimney("heating-vent", 5, heating)
		}
	}
}
