package airflow_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"cazward/procedure/airflow"
	"cazward/procedure/airflow/airflowtest"
)

// solve is the solution of a network as built.
func solve(t testing.TB, n airflow.Network) airflow.Solution {
	t.Helper()
	s, err := airflow.Compile(n)
	if err != nil {
		t.Fatal(err)
	}
	var sol airflow.Solution
	if err := s.Solve(s.AsBuilt(), &sol); err != nil {
		t.Fatalf("%v in %+v", err, n)
	}
	return sol
}

// house is one zone with a leak, a fan, an air handler and a vent: each test
// below breaks one value of it.
func house() airflow.Network {
	return airflow.Network{
		Outdoors: airflowtest.SeaLevel(283),
		Zones:    []airflow.Zone{{Name: "caz", Temperature: 293}, {Name: "house", Temperature: 293}},
		Links: []airflow.Link{
			{Name: "leak", From: 0, To: airflow.Outside, Law: airflow.FromCFM50(200, 0.65)},
			{Name: "house leak", From: 1, To: airflow.Outside, Law: airflow.LeakageArea(0.02, 1, 4, 0.65)},
			{Name: "door", From: 0, To: 1, Law: airflow.Doorway(0.8, 2, 0.65)},
			{Name: "crack", From: 0, To: 1, Law: airflow.Orifice(0.01, 0.6)},
			{Name: "vent", From: 0, To: airflow.Outside, Height: 1.5, Law: airflow.Vent(0.0127, 6.5, 400, 2, 2)},
			{Name: "duct", From: 0, To: 1, Law: airflow.DuctLeak(0.001, 0.6, 0, 25)},
		},
		Fans: []airflow.Fan{
			{Name: "dryer", From: 0, To: airflow.Outside, Flow: 0.07},
			{Name: "hood", From: 1, To: airflow.Outside, Curve: []airflow.CurvePoint{{Head: 0, Flow: 0.1}, {Head: 50, Flow: 0}}},
		},
		AirHandlers: []airflow.AirHandler{{Name: "furnace", Flow: 0.4,
			Supplies: []airflow.Share{{Node: 1, Fraction: 1}}, Returns: []airflow.Share{{Node: 1, Fraction: 0.9}, {Node: 0, Fraction: 0.1}}}},
	}
}

func TestCompileRefuses(t *testing.T) {
	if _, err := airflow.Compile(house()); err != nil {
		t.Fatalf("the sound house is refused: %v", err)
	}
	nan := math.NaN()
	for _, c := range []struct {
		name  string
		spoil func(*airflow.Network)
		want  string
	}{
		{"outdoor temperature NaN", func(n *airflow.Network) { n.Outdoors.Temperature = nan }, `outdoors: temperature NaN refused: give kelvin, 200 to 400`},
		{"zone in Celsius", func(n *airflow.Network) { n.Zones[0].Temperature = 20 }, `zone 0 "caz": temperature 20 refused: give kelvin, 200 to 400`},
		{"no outdoor pressure", func(n *airflow.Network) { n.Outdoors.Pressure = 0 }, `outdoors: pressure 0 refused: give an absolute pressure, 40000 to 120000 Pa`},
		{"wind negative", func(n *airflow.Network) { n.Outdoors.Wind = -1 }, `outdoors: wind -1 refused: give a wind, 0 to 100 m/s`},
		{"no zones", func(n *airflow.Network) { n.Zones = nil }, `network: zones 0 refused: give at least one zone`},
		{"no name", func(n *airflow.Network) { n.Zones[1].Name = "" }, `zone 1: name 1 refused: give each zone a name of its own`},
		{"name twice", func(n *airflow.Network) { n.Zones[1].Name = "caz" }, `zone 1 "caz": name 1 refused: give each zone a name of its own`},
		{"floor infinite", func(n *airflow.Network) { n.Zones[0].Floor = math.Inf(1) }, `zone 0 "caz": floor +Inf refused: give metres, -1000 to 1000`},
		{"no such zone", func(n *airflow.Network) { n.Links[0].To = 2 }, `link 0 "leak": to 2 refused: give a zone, 0 to 1, or outside, -1`},
		{"no such zone, negative", func(n *airflow.Network) { n.Links[0].From = -2 }, `link 0 "leak": from -2 refused: give a zone, 0 to 1, or outside, -1`},
		{"to itself", func(n *airflow.Network) { n.Links[2].To = 0 }, `link 2 "door": to 0 refused: give another node than from`},
		{"height NaN", func(n *airflow.Network) { n.Links[0].Height = nan }, `link 0 "leak": height NaN refused: give metres, -1000 to 1000`},
		{"Cp NaN", func(n *airflow.Network) { n.Links[0].Cp = nan }, `link 0 "leak": Cp NaN refused: give a pressure coefficient, -5 to 5`},
		{"Cp inside", func(n *airflow.Network) { n.Links[2].Cp = 0.5 }, `link 2 "door": Cp 0.5 refused: give 0 between two zones: wind acts outdoors only`},
		{"no law", func(n *airflow.Network) { n.Links[0].Law = airflow.Law{} }, `link 0 "leak": law 0 refused: give a law made by one of the constructors`},
		{"unknown law", func(n *airflow.Network) { n.Links[0].Law.Kind = 99 }, `link 0 "leak": law 99 refused: give a law made by one of the constructors`},
		{"CFM50 negative", func(n *airflow.Network) { n.Links[0].Law = airflow.FromCFM50(-50, 1) }, `link 0 "leak": coefficient -0.00047194744319999993 refused: give 0 or more`},
		{"CFM50 NaN", func(n *airflow.Network) { n.Links[0].Law = airflow.FromCFM50(nan, 0.65) }, `link 0 "leak": coefficient NaN refused: give 0 or more`},
		{"exponent 2", func(n *airflow.Network) { n.Links[0].Law.Exponent = 2 }, `link 0 "leak": exponent 2 refused: give a flow exponent, 0.3 to 1`},
		{"leakage area negative", func(n *airflow.Network) { n.Links[1].Law.Area = -0.1 }, `link 1 "house leak": area -0.1 refused: give m2, 0 or more`},
		{"leakage reference", func(n *airflow.Network) { n.Links[1].Law.Reference = 0 }, `link 1 "house leak": reference 0 refused: give a reference pressure in Pa, above 0`},
		{"leakage discharge", func(n *airflow.Network) { n.Links[1].Law.Discharge = 0 }, `link 1 "house leak": discharge 0 refused: give a discharge coefficient, above 0 to 2`},
		{"leakage exponent", func(n *airflow.Network) { n.Links[1].Law.Exponent = 0 }, `link 1 "house leak": exponent 0 refused: give a flow exponent, 0.3 to 1`},
		{"doorway width", func(n *airflow.Network) { n.Links[2].Law.Width = -1 }, `link 2 "door": width -1 refused: give m, 0 or more`},
		{"doorway height", func(n *airflow.Network) { n.Links[2].Law.Tall = nan }, `link 2 "door": height of the doorway NaN refused: give m, 0 or more`},
		{"orifice area NaN", func(n *airflow.Network) { n.Links[3].Law.Area = nan }, `link 3 "crack": area NaN refused: give m2, 0 or more`},
		{"orifice discharge", func(n *airflow.Network) { n.Links[3].Law.Discharge = nan }, `link 3 "crack": discharge NaN refused: give a discharge coefficient, above 0 to 2`},
		{"vent area", func(n *airflow.Network) { n.Links[4].Law.Area = -1 }, `link 4 "vent": area -1 refused: give m2, 0 or more`},
		{"vent cold", func(n *airflow.Network) { n.Links[4].Law.Temperature = 0 }, `link 4 "vent": temperature 0 refused: give kelvin, 200 to 2000`},
		{"vent upside down", func(n *airflow.Network) { n.Links[4].Law.Top = 1 }, `link 4 "vent": top 1 refused: give an outlet no lower than the inlet`},
		{"vent without loss", func(n *airflow.Network) { n.Links[4].Law.LossIn, n.Links[4].Law.LossOut = 0, 0 }, `link 4 "vent": inlet and outlet loss 0 refused: give velocity heads, above 0 in all`},
		{"vent loss NaN", func(n *airflow.Network) { n.Links[4].Law.LossIn = nan }, `link 4 "vent": inlet loss NaN refused: give velocity heads, 0 or more`},
		{"vent from outdoors", func(n *airflow.Network) { n.Links[4].From, n.Links[4].To = airflow.Outside, 0 }, `link 4 "vent": from -1 refused: give the zone that the vent takes air from`},
		{"duct of nothing", func(n *airflow.Network) { n.Links[5].Law.AirHandler = 1 }, `link 5 "duct": air handler 1 refused: give the index of an air handler of this network`},
		{"duct drive", func(n *airflow.Network) { n.Links[5].Law.Drive = nan }, `link 5 "duct": drive NaN refused: give Pa, -10000 to 10000`},
		{"fan negative", func(n *airflow.Network) { n.Fans[0].Flow = -0.1 }, `fan 0 "dryer": flow -0.1 refused: give m3/s, 0 or more; swap from and to for the other way`},
		{"fan NaN", func(n *airflow.Network) { n.Fans[0].Flow = nan }, `fan 0 "dryer": flow NaN refused: give m3/s, 0 or more; swap from and to for the other way`},
		{"fan twice", func(n *airflow.Network) { n.Fans[1].Flow = 1 }, `fan 1 "hood": flow 1 refused: give 0 where there is a curve`},
		{"curve of one point", func(n *airflow.Network) { n.Fans[1].Curve = n.Fans[1].Curve[:1] }, `fan 1 "hood": curve points 1 refused: give two points or more`},
		{"curve heads", func(n *airflow.Network) { n.Fans[1].Curve[1].Head = 0 }, `fan 1 "hood": curve head 0 refused: give heads that ascend`},
		{"curve flows", func(n *airflow.Network) { n.Fans[1].Curve[1].Flow = 1 }, `fan 1 "hood": curve flow 1 refused: give flows that do not rise with the head`},
		{"curve NaN", func(n *airflow.Network) { n.Fans[1].Curve[1].Flow = nan }, `fan 1 "hood": curve flow NaN refused: give m3/s, 0 or more`},
		{"air handler flow", func(n *airflow.Network) { n.AirHandlers[0].Flow = nan }, `air handler 0 "furnace": flow NaN refused: give m3/s, 0 or more`},
		{"shares short", func(n *airflow.Network) { n.AirHandlers[0].Returns = n.AirHandlers[0].Returns[1:] }, `air handler 0 "furnace": return fractions 0.1 refused: give fractions that add up to 1`},
		{"share negative", func(n *airflow.Network) { n.AirHandlers[0].Supplies[0].Fraction = -1 }, `air handler 0 "furnace": supply fractions -1 refused: give fractions of 0 to 1`},
		{"share nowhere", func(n *airflow.Network) { n.AirHandlers[0].Supplies[0].Node = 7 }, `air handler 0 "furnace": share's node 7 refused: give a zone, 0 to 1, or outside, -1`},
	} {
		n := house()
		c.spoil(&n)
		s, err := airflow.Compile(n)
		var input *airflow.InputError
		if s != nil || !errors.As(err, &input) || err.Error() != "airflow: "+c.want {
			t.Errorf("%s: got %v\nwant airflow: %s", c.name, err, c.want)
		}
	}
}

func TestLooseZones(t *testing.T) {
	n := house()
	n.Zones = append(n.Zones, airflow.Zone{Name: "attic", Temperature: 280}, airflow.Zone{Name: "loft", Temperature: 280})
	n.Links = append(n.Links, airflow.Link{Name: "hatch", From: 2, To: 3, Law: airflow.Orifice(0.1, 0.6)},
		airflow.Link{Name: "no area", From: 2, To: 0, Law: airflow.Orifice(0, 0.6)})
	n.Fans[0].From = 2 // a fan is no tie
	_, err := airflow.Compile(n)
	var loose *airflow.LooseZonesError
	if !errors.As(err, &loose) || strings.Join(loose.Names, " ") != "attic loft" || len(loose.Zones) != 2 || loose.Zones[0] != 2 {
		t.Fatalf("got %v", err)
	}
	if want := "airflow: zones tied to nothing: attic, loft: no open link leads from there to the outdoors; give each its leaks"; err.Error() != want {
		t.Errorf("got %q", err)
	}
	// A state that shuts the last opening of a zone is refused too.
	s, err := airflow.Compile(house())
	if err != nil {
		t.Fatal(err)
	}
	st := s.AsBuilt()
	var sol airflow.Solution
	if err := s.Solve(st, &sol); err != nil || sol.Status != airflow.Converged {
		t.Fatal(err)
	}
	for _, i := range []int{1, 2, 3, 5} {
		st.Links[i] = 0
	}
	if err := s.Solve(st, &sol); !errors.As(err, &loose) || loose.Names[0] != "house" || sol.Status != airflow.Refused {
		t.Errorf("got %v, %v", sol.Status, err)
	}
	if len(sol.Pressure)+len(sol.Links)+len(sol.Fans) != 0 || sol.Residual != 0 || sol.Iterations != 0 {
		t.Errorf("numbers of the solution before are still there: %+v", sol)
	}
	if _, err := s.At(&sol, 0, 1); err == nil {
		t.Error("At gives a number without a solution")
	}
}

func TestStateRefused(t *testing.T) {
	s, err := airflow.Compile(house())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		spoil func(*airflow.State)
		want  string
	}{
		{func(st *airflow.State) { *st = airflow.State{} }, "state: links 0 refused: give 6 values, one for each of the network"},
		{func(st *airflow.State) { st.Fans = nil }, "state: fans 0 refused: give 2 values, one for each of the network"},
		{func(st *airflow.State) { st.AirHandlers = nil }, "state: air handlers 0 refused: give 1 values, one for each of the network"},
		{func(st *airflow.State) { st.Columns = []float64{400} }, "state: columns 1 refused: give 6 values, one for each of the network"},
		{func(st *airflow.State) { st.Links[2] = math.NaN() }, `link 2 "door": opening NaN refused: give 0, shut, to 1, open`},
		{func(st *airflow.State) { st.Links[2] = -1 }, `link 2 "door": opening -1 refused: give 0, shut, to 1, open`},
		{func(st *airflow.State) { st.Fans[1] = 2 }, `fan 1 "hood": speed 2 refused: give 0, off, to 1, full`},
		{func(st *airflow.State) { st.AirHandlers[0] = math.Inf(1) }, `air handler 0 "furnace": speed +Inf refused: give 0, off, to 1, full`},
		{func(st *airflow.State) { st.Columns = []float64{0, 0, 0, 0, 20, 0} }, `link 4 "vent": temperature 20 refused: give kelvin, 200 to 2000`},
		{func(st *airflow.State) { st.Columns = []float64{400, 0, 0, 0, 0, 0} }, `link 0 "leak": column 400 refused: give 0 for a link that is no vent`},
	} {
		st := s.AsBuilt()
		c.spoil(&st)
		var sol airflow.Solution
		err := s.Solve(st, &sol)
		var input *airflow.InputError
		if !errors.As(err, &input) || err.Error() != "airflow: "+c.want || sol.Status != airflow.Refused || len(sol.Pressure) != 0 {
			t.Errorf("got %v, %v\nwant airflow: %s", sol.Status, err, c.want)
		}
	}
}

func TestStatus(t *testing.T) {
	var sol airflow.Solution
	if sol.Status != airflow.NotSolved {
		t.Errorf("zero solution is %v", sol.Status)
	}
	// Numbers and words reach disk and may not change.
	for i, want := range []string{"not-solved", "converged", "refused", "not-converged", "not-solved"} {
		if got := airflow.Status(i).String(); got != want {
			t.Errorf("status %d is %q, want %q", i, got, want)
		}
	}
	e := &airflow.ConvergenceError{Iterations: 200, Zone: "caz", Imbalance: 0.5}
	if want := `airflow: no convergence after 200 iterations: zone "caz" is 0.5 kg/s out of balance; look there for an opening or fan of unlikely size`; e.Error() != want {
		t.Errorf("got %q", e)
	}
}

// A vent draws while the house is let be and spills once the exhaust is
// stronger than its column; in between the draft fades.
func TestVentReverses(t *testing.T) {
	n := house()
	n.Fans = []airflow.Fan{{Name: "exhaust", From: 1, To: airflow.Outside, Flow: 0.5}}
	s, err := airflow.Compile(n)
	if err != nil {
		t.Fatal(err)
	}
	st := s.AsBuilt()
	st.AirHandlers[0] = 0
	var sol airflow.Solution
	last, spilled := math.Inf(-1), false
	for _, speed := range []float64{0, 0.1, 0.2, 0.3, 0.5, 0.7, 1} {
		st.Fans[0] = speed
		if err := s.Solve(st, &sol); err != nil {
			t.Fatal(err)
		}
		v := sol.Links[4]
		if v.Draft <= last {
			t.Errorf("speed %g: draft %g is no weaker than %g with less exhaust", speed, v.Draft, last)
		}
		if (v.Draft < 0) != (v.Mass > 0) || math.Abs(v.Draft+v.DP/2) > 1e-12 {
			t.Errorf("speed %g: draft %g does not go with flow %g and pressure %g", speed, v.Draft, v.Mass, v.DP)
		}
		last, spilled = v.Draft, spilled || v.Draft > 0
	}
	if last <= 0 || !spilled {
		t.Errorf("vent still draws at full exhaust: %g Pa", last)
	}
	// Warmed, the same vent draws again; with a cold one it spills already alone.
	st.Fans[0], st.Columns = 0, []float64{0, 0, 0, 0, 280, 0}
	if err := s.Solve(st, &sol); err != nil || sol.Links[4].Draft <= 0 {
		t.Errorf("vent colder than outdoors draws: %v, %v", sol.Links, err)
	}
	st.Columns[4] = 500
	if err := s.Solve(st, &sol); err != nil || sol.Links[4].Draft >= 0 {
		t.Errorf("hot vent spills: %v, %v", sol.Links, err)
	}
}

// The duct leak is a passive path with the air handler off and pulls the zone
// down with it on; the pull follows the square of the speed.
func TestDuctLeak(t *testing.T) {
	n := house()
	n.Fans, n.Links[2].Law = nil, airflow.Orifice(1e-6, 0.6)
	n.Links[4].Law.Area = 0
	n.Outdoors.Temperature = 293
	n.AirHandlers[0].Returns = []airflow.Share{{Node: 1, Fraction: 1}}
	s, err := airflow.Compile(n)
	if err != nil {
		t.Fatal(err)
	}
	st := s.AsBuilt()
	var sol airflow.Solution
	for _, speed := range []float64{0, 0.5, 1} {
		st.AirHandlers[0] = speed
		if err := s.Solve(st, &sol); err != nil {
			t.Fatal(err)
		}
		duct := sol.Links[5]
		if want := sol.Pressure[0] - sol.Pressure[1] + 25*speed*speed; math.Abs(duct.DP-want) > 1e-9 {
			t.Errorf("speed %g: duct leak driven by %g Pa, want %g", speed, duct.DP, want)
		}
		if speed == 0 && (duct.Mass != 0 || sol.Pressure[0] != 0) || speed > 0 && !(duct.Mass > 0 && sol.Pressure[0] < 0) {
			t.Errorf("speed %g: %g kg/s from the zone, which is at %g Pa", speed, duct.Mass, sol.Pressure[0])
		}
	}
}

// A fan with a curve moves what its curve says at the head it meets.
func TestFanCurve(t *testing.T) {
	points := []airflow.CurvePoint{{Head: 0, Flow: 0.10}, {Head: 20, Flow: 0.06}, {Head: 50, Flow: 0}}
	for _, c := range []struct {
		leak, speed float64
	}{{2, 1}, {0.02, 1}, {0.002, 1}, {0.0001, 1}, {0.02, 0.5}, {0.002, 0.25}, {0.02, 0}} {
		n := airflow.Network{Outdoors: airflowtest.SeaLevel(293), Zones: []airflow.Zone{{Name: "house", Temperature: 293}},
			Links: []airflow.Link{{Name: "leak", From: airflow.Outside, To: 0, Law: airflow.Orifice(c.leak, 0.6)}},
			Fans:  []airflow.Fan{{Name: "fan", From: 0, To: airflow.Outside, Curve: points}}}
		s, err := airflow.Compile(n)
		if err != nil {
			t.Fatal(err)
		}
		st := s.AsBuilt()
		st.Fans[0] = c.speed
		var sol airflow.Solution
		if err := s.Solve(st, &sol); err != nil {
			t.Fatal(err)
		}
		want := 0.0
		if c.speed > 0 {
			head := -sol.Pressure[0] / (c.speed * c.speed)
			switch {
			case head <= 20:
				want = 0.10 - head*0.002
			case head < 50:
				want = 0.06 - (head-20)*0.002
			}
			want *= c.speed * airflow.Density(101325, 293)
		}
		if math.Abs(sol.Fans[0]-want) > 1e-9 || sol.Pressure[0] > 0 || sol.Pressure[0] < -50 {
			t.Errorf("leak %g m2, speed %g: %g kg/s at %g Pa, curve says %g", c.leak, c.speed, sol.Fans[0], sol.Pressure[0], want)
		}
	}
}

// Through a doorway warm air passes cold air; a net flow that is stronger than
// the exchange stops the counterflow.
func TestDoorwayExchange(t *testing.T) {
	n := house()
	n.Links = n.Links[:3]
	n.AirHandlers, n.Fans = nil, n.Fans[:1]
	n.Zones[0].Temperature = 298
	s, err := airflow.Compile(n)
	if err != nil {
		t.Fatal(err)
	}
	st := s.AsBuilt()
	var sol airflow.Solution
	st.Fans[0] = 0
	if err := s.Solve(st, &sol); err != nil {
		t.Fatal(err)
	}
	alone := airflow.DoorwayExchange(0.8, 2, 0.65, 5, 295.5)
	door := sol.Links[2]
	if want := alone - math.Abs(door.Volume)/2; math.Abs(door.Exchange-want) > 1e-12 || want < 0.1 {
		t.Errorf("exchange %g, want %g", door.Exchange, want)
	}
	st.Links[2] = 0.01 // nearly shut
	st.Fans[0] = 1
	if err := s.Solve(st, &sol); err != nil || sol.Links[2].Exchange != 0 || math.Abs(sol.Links[2].Volume) < 2*0.01*alone {
		t.Errorf("exchange %g against a net flow of %g, %v", sol.Links[2].Exchange, sol.Links[2].Volume, err)
	}
}

func TestAt(t *testing.T) {
	n := house()
	s, err := airflow.Compile(n)
	if err != nil {
		t.Fatal(err)
	}
	var sol airflow.Solution
	if err := s.Solve(s.AsBuilt(), &sol); err != nil {
		t.Fatal(err)
	}
	got := must(s.At(&sol, 0, 2))
	want := sol.Pressure[0] + 2*airflow.Gravity*(airflow.Density(101325, 283)-airflow.Density(101325, 293))
	if math.Abs(got-want) > 1e-12 || got <= sol.Pressure[0] {
		t.Errorf("got %g, want %g", got, want)
	}
	if _, err := s.At(&sol, 2, 0); err == nil {
		t.Error("a zone that is not there has a pressure")
	}
}

// Later changes to the network, and other solvers of it, leave a solver alone;
// the order of solving does not matter, to the last bit.
func TestIndependence(t *testing.T) {
	n := airflowtest.House12()
	s, err := airflow.Compile(n)
	if err != nil {
		t.Fatal(err)
	}
	st := s.AsBuilt()
	other, err := airflow.Compile(n)
	if err != nil {
		t.Fatal(err)
	}
	var first, again, second airflow.Solution
	airflowtest.Configuration(937, &st)
	if err := s.Solve(st, &first); err != nil {
		t.Fatal(err)
	}
	for i := range n.Links {
		n.Links[i].Law = airflow.Orifice(1, 1)
	}
	n.Zones[0].Temperature, n.Fans[1].Curve[0].Flow, n.AirHandlers[0].Returns[0].Fraction = 250, 9, 0
	airflowtest.Configuration(5, &st)
	if err := other.Solve(st, &second); err != nil {
		t.Fatal(err)
	}
	airflowtest.Configuration(937, &st)
	if err := s.Solve(st, &again); err != nil {
		t.Fatal(err)
	}
	if err := other.Solve(st, &second); err != nil {
		t.Fatal(err)
	}
	for i := range first.Pressure {
		if first.Pressure[i] != again.Pressure[i] || first.Pressure[i] != second.Pressure[i] {
			t.Errorf("zone %d: %g, %g again, %g from another solver", i, first.Pressure[i], again.Pressure[i], second.Pressure[i])
		}
	}
}

func TestNoAllocation(t *testing.T) {
	s, err := airflow.Compile(airflowtest.House12())
	if err != nil {
		t.Fatal(err)
	}
	st := s.AsBuilt()
	var sol airflow.Solution
	k := 0
	st.Columns = make([]float64, len(st.Links))
	for i, l := range airflowtest.House12().Links {
		if l.Law.Kind == airflow.KindVent {
			st.Columns[i] = 320
		}
	}
	if err := s.Solve(st, &sol); err != nil {
		t.Fatal(err)
	}
	allocs := testing.AllocsPerRun(1024, func() {
		airflowtest.Configuration(k%1024, &st)
		k++
		if s.Solve(st, &sol) != nil {
			t.Error("not solved")
		}
	})
	if allocs != 0 {
		t.Errorf("%g allocations a solution", allocs)
	}
}

// A fan into two all but sealed rooms with a wall of air between them: some
// 100 kPa, where rounding of the pressures alone moves more air through that
// wall than a balance may miss.
func TestNotConverged(t *testing.T) {
	n := house()
	n.Links = []airflow.Link{
		{Name: "pinhole", From: 0, To: airflow.Outside, Law: airflow.Orifice(1e-5, 0.6)},
		{Name: "pinhole", From: 1, To: airflow.Outside, Law: airflow.PowerLaw(1e-7, 0.6)},
		{Name: "no wall", From: 0, To: 1, Law: airflow.Orifice(1e5, 0.6)},
	}
	n.Fans, n.AirHandlers = []airflow.Fan{{From: airflow.Outside, To: 0, Flow: 0.01}}, nil
	s, err := airflow.Compile(n)
	if err != nil {
		t.Fatal(err)
	}
	sol := airflow.Solution{Status: airflow.Converged, Pressure: []float64{1, 2}, Residual: 1}
	err = s.Solve(s.AsBuilt(), &sol)
	var none *airflow.ConvergenceError
	if !errors.As(err, &none) || none.Iterations != 200 || sol.Status != airflow.NotConverged || len(sol.Pressure)+len(sol.Links) != 0 || sol.Residual != 0 {
		t.Errorf("got %v, %+v", err, sol)
	}
}

// Every configuration and 20,000 networks at random, of sizes a house never
// has among them, converge well inside the limit.
func TestConverges(t *testing.T) {
	var sol airflow.Solution
	most, total := 0, 0
	note := func(s *airflow.Solver, st airflow.State, what string) {
		t.Helper()
		if err := s.Solve(st, &sol); err != nil {
			t.Errorf("%s: %v", what, err)
		}
		if sol.Status == airflow.Converged && sol.Residual > 1e-6 {
			t.Errorf("%s: residual %g", what, sol.Residual)
		}
		most, total = max(most, sol.Iterations), total+sol.Iterations
	}
	s, err := airflow.Compile(airflowtest.House12())
	if err != nil {
		t.Fatal(err)
	}
	st := s.AsBuilt()
	for k := range 1024 {
		airflowtest.Configuration(k, &st)
		note(s, st, "12 zones")
	}
	const networks = 20000
	rng := newRandom(1)
	for range networks {
		n := airflowtest.Random(rng, airflowtest.Shape{Zones: 1 + rng.Int(14)})
		if rng.Int(4) == 0 { // wild: up to 1,000 times too large or small
			for i := range n.Links {
				w := &n.Links[i].Law
				k := math.Exp(rng.Float(-7, 7))
				w.Coefficient, w.Area, w.Width = w.Coefficient*k, w.Area*k, w.Width*k
			}
		}
		s, err := airflow.Compile(n)
		if err != nil {
			t.Fatal(err)
		}
		note(s, s.AsBuilt(), "random")
	}
	t.Logf("iterations: %d at most, %.1f on average", most, float64(total)/(networks+1024))
	if most > 100 {
		t.Errorf("%d iterations are too near the limit of 200", most)
	}
}

type random struct{ *rand.Rand }

func newRandom(seed uint64) random            { return random{rand.New(rand.NewPCG(seed, 0))} }
func (r random) Float(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
func (r random) Int(n int) int                { return r.IntN(n) }

func TestSingleZoneRefuses(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name string
		call func() (float64, error)
		want string
	}{
		{"flow NaN", func() (float64, error) { return airflow.Flow(1, nan, 0.65) }, "size of the pressure NaN refused: give 0 or a number above it"},
		{"coefficient", func() (float64, error) { return airflow.Flow(-1, 1, 0.65) }, "coefficient -1 refused: give 0 or a number above it"},
		{"exponent", func() (float64, error) { return airflow.Flow(1, 1, 65) }, "exponent 65 refused: give a flow exponent, 0.3 to 1 (0.5 to 1 in practice)"},
		{"exhaust", func() (float64, error) { return airflow.Depressurization(nan, 1500, 0.65) }, "exhaust NaN refused: give 0 or a number above it"},
		{"no CFM50", func() (float64, error) { return airflow.Depressurization(200, 0, 0.65) }, "flow at 50 Pa 0 refused: give a number above 0"},
		{"limit zero", func() (float64, error) { return airflow.TightnessFloor(200, 0, 0.65) }, "limit 0 refused: give Pa below outdoors, without a sign"},
		{"limit signed", func() (float64, error) { return airflow.TightnessFloor(200, -5, 0.65) }, "limit -5 refused: give Pa below outdoors, without a sign"},
		{"limit NaN", func() (float64, error) { return airflow.AllowedExhaust(200, nan, 0.65) }, "limit NaN refused: give Pa below outdoors, without a sign"},
		{"after", func() (float64, error) { return airflow.SealingRatio(200, math.Inf(1), 0.65) }, "flow at 50 Pa after +Inf refused: give a number above 0"},
		{"volume", func() (float64, error) { return airflow.Flow50(5, -1) }, "volume -1 refused: give a number above 0"},
		{"reference", func() (float64, error) { return airflow.EffectiveArea(1, 0.65, 0, 1) }, "reference pressure 0 refused: give a number above 0"},
		{"fit", func() (float64, error) { c, _, err := airflow.Fit(1, 4, 2, 4); return c, err }, "second pressure 4 refused: give two different pressures"},
		{"fit backwards", func() (float64, error) { c, _, err := airflow.Fit(2, 4, 1, 10); return c, err }, "exponent -0.75647079736603 refused: give a flow exponent, 0.3 to 1 (0.5 to 1 in practice)"},
		{"fit NaN", func() (float64, error) { c, _, err := airflow.Fit(nan, 4, 1, 10); return c, err }, "first flow NaN refused: give a number above 0"},
	} {
		got, err := c.call()
		var refused *airflow.ValueError
		if got != 0 || !errors.As(err, &refused) || err.Error() != "airflow: "+c.want {
			t.Errorf("%s: got %g, %v\nwant airflow: %s", c.name, got, err, c.want)
		}
	}
}
