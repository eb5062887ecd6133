package airflowtest

import (
	"math"
	"strconv"

	"cazward/procedure/airflow"
)

// Answer is one figure of a network that is known by other means.
type Answer struct {
	Figure    string
	Network   airflow.Network
	Get       func(*airflow.Solution) float64
	Want      float64
	Tolerance float64 // absolute, in the figure's unit
	Source    string
	Evidence  string // how the wanted figure is known
}

func pressure(zone int) func(*airflow.Solution) float64 {
	return func(s *airflow.Solution) float64 { return s.Pressure[zone] }
}

func mass(link int) func(*airflow.Solution) float64 {
	return func(s *airflow.Solution) float64 { return s.Links[link].Mass }
}

func dp(link int) func(*airflow.Solution) float64 {
	return func(s *airflow.Solution) float64 { return s.Links[link].DP }
}

func scaled(get func(*airflow.Solution) float64, k float64) func(*airflow.Solution) float64 {
	return func(s *airflow.Solution) float64 { return k * get(s) }
}

// Answers are the published and closed-form networks.
func Answers() []Answer {
	var all []Answer
	for _, part := range [][]Answer{oneWay(), threeRooms(), twoZones(), stack(), wind()} {
		all = append(all, part...)
	}
	return all
}

// held is one zone held at a pressure (Pa) by an opening so large that it
// passes the wind's pressure on whole; link 1 is the one looked at.
func held(pa float64, law airflow.Law) airflow.Network {
	n := airflow.Network{Outdoors: SeaLevel(20 + Celsius), Zones: []airflow.Zone{{Name: "room", Temperature: 20 + Celsius}}}
	n.Outdoors.Wind = 10
	q := airflow.VelocityPressure(airflow.Density(101325, 20+Celsius), 10)
	n.Links = []airflow.Link{
		{Name: "wide open", From: 0, To: airflow.Outside, Cp: pa / q, Law: airflow.Orifice(1e4, 1)},
		{Name: "tested", From: 0, To: airflow.Outside, Law: law},
	}
	return n
}

func oneWay() []Answer {
	const source = "NIST multizone results carried by the open Modelica Buildings library, package Airflow.Multizone, validation model OneWayFlow"
	c, n, err := airflow.Fit(0.019, 4, 0.029, 10)
	if err != nil {
		panic(err)
	}
	columns := []struct {
		name string
		law  airflow.Law
	}{
		{"leakage area 0.01 m2, Cd 0.6, 10 Pa, n 0.65", airflow.LeakageArea(0.01, 0.6, 10, 0.65)},
		{"orifice 0.01 m2, Cd 0.6", airflow.Orifice(0.01, 0.6)},
		{"m = 0.01 dp^0.5 kg/s", airflow.MassPowerLaw(0.01, 0.5)},
		{"V = 0.01 dp^0.5 m3/s", airflow.PowerLaw(0.01, 0.5)},
		{"two points, 0.019 kg/s at 4 Pa and 0.029 at 10", airflow.MassPowerLaw(c, n)},
	}
	var all []Answer
	for _, row := range []struct {
		pa   float64
		want [5]float64
	}{
		{1, [5]float64{0.00659, 0.00931, 0.0100, 0.0120, 0.0100}},
		{5, [5]float64{0.0188, 0.0208, 0.0224, 0.0269, 0.0211}},
		{10, [5]float64{0.0294, 0.0294, 0.0316, 0.0381, 0.0290}},
		{25, [5]float64{0.0534, 0.0466, 0.0500, 0.0602, 0.0443}},
		{40, [5]float64{0.0725, 0.0589, 0.0632, 0.0762, 0.0550}},
		{50, [5]float64{0.0838, 0.0658, 0.0707, 0.0851, 0.0609}},
	} {
		for i, column := range columns {
			for _, sign := range []float64{1, -1} {
				all = append(all, Answer{
					Figure: "kg/s at " + format(sign*row.pa) + " Pa, " + column.name, Network: held(sign*row.pa, column.law),
					Get: mass(1), Want: sign * row.want[i], Tolerance: 0.006 * row.want[i], Source: source, Evidence: "seen, 3 digits"})
			}
		}
	}
	return all
}

// threeRooms is a stack alone: east and west rooms below one top room, a door
// between east and west. The library's openings have the fixed density 1.2.
func threeRooms() []Answer {
	build := func(gas float64) airflow.Network {
		virtual := func(celsius float64) float64 { return (celsius + Celsius) * gas }
		opening := airflow.MassPowerLaw(0.65*0.01*math.Sqrt(2*1.2), 0.5)
		return airflow.Network{
			Outdoors: SeaLevel(virtual(10)),
			Zones: []airflow.Zone{
				{Name: "east", Temperature: virtual(20)}, {Name: "west", Temperature: virtual(25)},
				{Name: "top", Floor: 3, Temperature: virtual(20)},
			},
			Links: []airflow.Link{
				{Name: "high", From: 0, To: airflow.Outside, Height: 3, Law: opening},
				{Name: "low", From: airflow.Outside, To: 0, Height: 0, Law: opening},
				{Name: "west to top", From: 1, To: 2, Height: 3, Law: opening},
				{Name: "top to east", From: 2, To: 0, Height: 3, Law: opening},
				{Name: "door", From: 0, To: 1, Height: 0.4, Law: airflow.Doorway(1, 2.2, 0.78)},
			},
		}
	}
	const source = "open Modelica Buildings library, package Airflow.Multizone, reference results of the three-room validation model"
	dry, humid := build(1), build(humidGas/airflow.GasConstant)
	var all []Answer
	add := func(figure string, n airflow.Network, get func(*airflow.Solution) float64, want, relative float64, evidence string) {
		all = append(all, Answer{figure, n, get, want, relative * want, source, evidence})
	}
	for i, name := range []string{"out at the top", "in at the bottom", "up from west", "down to east"} {
		want := 7.940256e-3
		if i >= 2 {
			want = 3.868333e-3
		}
		add("kg/s "+name+", dry air", dry, mass(i), want, 0.005, "seen; tolerance 0.5 % for dry air")
		add("kg/s "+name+", gas constant of air with 1 % water", humid, mass(i), want, 0.0002, "seen; tolerance 0.02 % with the same gas constant")
	}
	exchange := func(s *airflow.Solution) float64 { return 1.2 * (s.Links[4].Exchange + math.Abs(s.Links[4].Volume)/2) }
	add("kg/s door exchange, mean of both ways, at 1.2 kg/m3", dry, exchange, 0.416379, 0.005, "seen; T0 there 293.15 K, here the mean")
	return all
}

// humidGas is the gas constant, J/(kg K), of air with 1 % of water vapour by
// mass, from 287.055 and 461.52.
const humidGas = 0.99*287.055 + 0.01*461.52

// twoZones is a combustion appliance zone and the rest of the house, of one
// temperature: C 20, 150 and a door of 60 cfm/Pa^0.65.
func twoZones() []Answer {
	build := func(caz, house, duct float64) airflow.Network {
		const n, t = 0.65, 20 + Celsius
		net := airflow.Network{Outdoors: SeaLevel(t), Zones: []airflow.Zone{{Name: "caz", Temperature: t}, {Name: "house", Temperature: t}}}
		link := func(name string, from, to airflow.Node, c float64) {
			net.Links = append(net.Links, airflow.Link{Name: name, From: from, To: to, Law: airflow.PowerLaw(c*airflow.CFM, n)})
		}
		link("caz leaks", 0, airflow.Outside, 20)
		link("house leaks", 1, airflow.Outside, 150)
		link("door", 1, 0, 60)
		if caz > 0 {
			net.Fans = append(net.Fans, airflow.Fan{Name: "fan", From: 0, To: airflow.Outside, Flow: caz * airflow.CFM})
		}
		if house > 0 {
			net.Fans = append(net.Fans, airflow.Fan{Name: "fan", From: 1, To: airflow.Outside, Flow: house * airflow.CFM})
		}
		if duct > 0 {
			net.AirHandlers = []airflow.AirHandler{{Name: "furnace", Flow: duct * airflow.CFM,
				Returns: []airflow.Share{{Node: 0, Fraction: 1}}, Supplies: []airflow.Share{{Node: 1, Fraction: 1}}}}
		}
		return net
	}
	const source = "two zones of one temperature in closed form, C in series (C1^(-1/n) + C2^(-1/n))^-n"
	var all []Answer
	add := func(figure string, net airflow.Network, get func(*airflow.Solution) float64, want float64) {
		all = append(all, Answer{figure, net, get, want, 1e-6 * math.Abs(want), source, "computed apart from this program"})
	}
	cfm := func(link int) func(*airflow.Solution) float64 {
		return func(s *airflow.Solution) float64 { return s.Links[link].Volume / airflow.CFM }
	}
	for _, c := range []struct {
		name                   string
		fanCAZ, fanHouse, duct float64
		caz, house, door       float64 // Pa, Pa, cfm house to caz (0: not given)
	}{
		{"150 cfm exhaust in the CAZ", 150, 0, 0, -3.0894567, -0.6064135, 108.3654981},
		{"150 cfm exhaust in the house", 0, 150, 0, -0.7097159, -0.8406498, -16.0042363},
		{"150 cfm house exhaust, return takes 100 from the CAZ", 0, 150, 100, -1.9463491, -0.7018598, 0},
		{"return takes 100 cfm from the CAZ", 0, 0, 100, -1.3635985, 0.0614382, 0},
	} {
		net := build(c.fanCAZ, c.fanHouse, c.duct)
		add("Pa in the CAZ, "+c.name, net, pressure(0), c.caz)
		add("Pa in the house, "+c.name, net, pressure(1), c.house)
		if c.door != 0 {
			add("cfm through the door, "+c.name, net, cfm(2), c.door)
		}
	}
	for i, name := range []string{"CAZ", "house"} {
		open := build(150, 0, 0)
		if i == 1 {
			open = build(0, 150, 0)
		}
		open.Links[2].Law = airflow.Orifice(1e4, 0.6)
		add("Pa in the CAZ, 150 cfm exhaust in the "+name+", no wall between", open, pressure(0), -0.8248459)
	}
	return all
}

func stack() []Answer {
	const source = "stack of one zone in closed form, dry air, R 287.042, 101325 Pa"
	const ti, to, height = 293.15, 273.15, 5.0
	build := func(low, high airflow.Law, inside, outside, height float64) airflow.Network {
		return airflow.Network{Outdoors: SeaLevel(outside), Zones: []airflow.Zone{{Name: "house", Temperature: inside}},
			Links: []airflow.Link{
				{Name: "low", From: airflow.Outside, To: 0, Law: low},
				{Name: "high", From: 0, To: airflow.Outside, Height: height, Law: high}}}
	}
	var all []Answer
	add := func(figure string, n airflow.Network, get func(*airflow.Solution) float64, want, tolerance float64) {
		all = append(all, Answer{figure, n, get, want, tolerance, source, "computed apart from this program"})
	}
	total := func(s *airflow.Solution) float64 { return s.Links[0].DP + s.Links[1].DP }
	neutral := func(s *airflow.Solution) float64 { return s.Links[0].DP / total(s) }
	unequal := build(airflow.Orifice(0.02, 0.6), airflow.Orifice(0.01, 0.6), ti, to, height)
	add("Pa in all, openings 0.02 and 0.01 m2 5 m apart", unequal, total, 4.3231543, 1e-6)
	add("Pa at the low opening", unequal, dp(0), 0.8167869, 1e-6)
	add("Pa at the high opening", unequal, dp(1), 3.5063675, 1e-6)
	add("neutral level as part of the height", unequal, neutral, 0.1889331, 1e-6)
	add("neutral level, m", unequal, scaled(neutral, height), 0.9446654, 1e-6)
	add("kg/s in", unequal, mass(0), 0.0174355477, 1e-9)
	add("kg/s out", unequal, mass(1), 0.0174355477, 1e-9)
	equal := build(airflow.Orifice(0.01, 0.6), airflow.Orifice(0.01, 0.6), ti, to, height)
	add("neutral level, equal openings", equal, neutral, 0.4823415, 1e-6)
	add("kg/s in, equal openings", equal, mass(0), 0.0139292880, 1e-9)
	fixed := airflow.MassPowerLaw(0.01, 0.5)
	add("neutral level, equal openings and one density", build(fixed, fixed, ti, to, height), neutral, 0.5, 1e-9)
	const foot, f70, f20, f0 = 0.3048, (70 + 459.67) / 1.8, (20 + 459.67) / 1.8, 459.67 / 1.8
	add("Pa per foot, 70 F in, 20 F out", build(fixed, fixed, f70, f20, foot), total, 0.3737674, 1e-6)
	add("Pa per foot, 70 F in, 0 F out", build(fixed, fixed, f70, f0, foot), total, 0.5460417, 1e-6)
	add("Pa at the bottom, equal openings 8 ft apart, 70 F in, 20 F out", build(fixed, fixed, f70, f20, 8*foot), pressure(0), -1.4950695, 1e-6)
	return all
}

func wind() []Answer {
	const source = "one zone between a windward (Cp 0.6) and a leeward (Cp -0.3) leak in 4 m/s, 1.2041 kg/m3, closed form"
	const rho = 1.2041
	build := func(ratio, exponent float64) airflow.Network {
		t := 101325 / (airflow.GasConstant * rho)
		n := airflow.Network{Outdoors: SeaLevel(t), Zones: []airflow.Zone{{Name: "house", Temperature: t}}}
		n.Outdoors.Wind = 4
		n.Links = []airflow.Link{
			{Name: "windward", From: airflow.Outside, To: 0, Cp: 0.6, Law: airflow.PowerLaw(ratio*0.02, exponent)},
			{Name: "leeward", From: 0, To: airflow.Outside, Cp: -0.3, Law: airflow.PowerLaw(0.02, exponent)},
		}
		return n
	}
	q := airflow.VelocityPressure(rho, 4)
	var all []Answer
	add := func(figure string, n airflow.Network, get func(*airflow.Solution) float64, want, tolerance float64) {
		all = append(all, Answer{figure, n, get, want, tolerance, source, "computed apart from this program"})
	}
	equal := build(1, 0.65)
	add("Pa inside, equal leaks", equal, pressure(0), 1.44492, 1e-5)
	add("windward Pa as part of q, equal leaks", equal, scaled(dp(0), 1/q), 0.45, 1e-7)
	add("leeward Pa as part of q, equal leaks", equal, scaled(dp(1), 1/q), 0.45, 1e-7)
	add("Pa inside as part of q, windward twice leeward, n 0.65", build(2, 0.65), scaled(pressure(0), 1/q), 0.3695171, 1e-7)
	add("Pa inside as part of q, windward twice leeward, n 0.5", build(2, 0.5), scaled(pressure(0), 1/q), 0.42, 1e-7)
	return all
}

func format(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
