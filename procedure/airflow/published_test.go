package airflow_test

import (
	"fmt"
	"math"
	"testing"

	"cazward/procedure/airflow"
	"cazward/procedure/airflow/airflowtest"
)

const (
	powerLaw = "Q = C dp^n (form of ASTM E779 and CAN/CGSB-149.10, clause text from memory)"
	computed = "computed apart from this program"
)

// published checks one figure within an absolute tolerance and logs it.
func published(t *testing.T, figure string, got, want, tolerance float64, source, evidence string) {
	t.Helper()
	fmt.Fprintf(t.Output(), "published: %s: got %.9g, want %.9g, tolerance %.2g, source: %s, evidence: %s\n",
		figure, got, want, tolerance, source, evidence)
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.10g, want %.10g within %g", figure, got, want, tolerance)
	}
}

// must is the value of a call that may not refuse.
func must(v float64, err error) float64 {
	if err != nil {
		panic(err)
	}
	return v
}

func TestPublishedNetworks(t *testing.T) {
	for _, a := range airflowtest.Answers() {
		s, err := airflow.Compile(a.Network)
		if err != nil {
			t.Errorf("%s: %v", a.Figure, err)
			continue
		}
		var sol airflow.Solution
		if err := s.Solve(s.AsBuilt(), &sol); err != nil {
			t.Errorf("%s: %v", a.Figure, err)
			continue
		}
		published(t, a.Figure, a.Get(&sol), a.Want, a.Tolerance, a.Source, a.Evidence)
	}
}

func TestPublishedDepressurization(t *testing.T) {
	exhausts := []float64{50, 100, 150, 200, 300, 400, 600}
	for _, row := range []struct {
		cfm50 float64
		want  [7]float64
	}{
		{600, [7]float64{1.0932, 3.1755, 5.9255, 9.2244, 17.2126, 26.7954, 50.0000}},
		{800, [7]float64{0.7022, 2.0399, 3.8064, 5.9255, 11.0569, 17.2126, 32.1186}},
		{1000, [7]float64{0.4982, 1.4471, 2.7003, 4.2037, 7.8441, 12.2111, 22.7858}},
		{1200, [7]float64{0.3763, 1.0932, 2.0399, 3.1755, 5.9255, 9.2244, 17.2126}},
		{1500, [7]float64{0.2670, 0.7755, 1.4471, 2.2528, 4.2037, 6.5440, 12.2111}},
		{2000, [7]float64{0.1715, 0.4982, 0.9296, 1.4471, 2.7003, 4.2037, 7.8441}},
		{2500, [7]float64{0.1217, 0.3534, 0.6595, 1.0266, 1.9157, 2.9822, 5.5648}},
		{3000, [7]float64{0.0919, 0.2670, 0.4982, 0.7755, 1.4471, 2.2528, 4.2037}},
		{4000, [7]float64{0.0590, 0.1715, 0.3200, 0.4982, 0.9296, 1.4471, 2.7003}},
	} {
		for i, q := range exhausts {
			published(t, fmt.Sprintf("Pa, %g cfm exhaust, %g CFM50", q, row.cfm50),
				must(airflow.Depressurization(q, row.cfm50, 0.65)), row.want[i], 1e-3, powerLaw, computed)
		}
	}
	for _, row := range [][2]float64{{0.5, 0.88889}, {0.55, 1.28218}, {0.60, 1.73994}, {0.65, 2.25280}, {0.70, 2.81114}, {0.75, 3.40582}, {1, 6.66667}} {
		published(t, fmt.Sprintf("Pa, 200 cfm, 1500 CFM50, n %g", row[0]), must(airflow.Depressurization(200, 1500, row[0])), row[1], 1e-5, powerLaw, computed)
	}
	published(t, "Pa, 300 cfm, 2400 CFM50", must(airflow.Depressurization(300, 2400, 0.65)), 2.03986, 1e-5, powerLaw, computed)
	published(t, "Pa, 300 cfm, 1500 CFM50", must(airflow.Depressurization(300, 1500, 0.65)), 4.20370, 1e-5, powerLaw, computed)
	published(t, "ratio of Pa, 2400 to 1500 CFM50", must(airflow.SealingRatio(2400, 1500, 0.65)), 2.0607758, 1e-7, powerLaw, computed)
	published(t, "ratio of Pa, 30 % tighter", must(airflow.SealingRatio(100, 70, 0.65)), 1.7310544, 1e-7, powerLaw, computed)
	published(t, "ratio of Pa, 20 % tighter", must(airflow.SealingRatio(100, 80, 0.65)), 1.4095884, 1e-7, powerLaw, computed)
	const asked = "inputs of a public question, Green Building Advisor"
	published(t, "CFM50 of 0.77 ACH50 and 18,000 ft3", must(airflow.Flow50(0.77, 18000)), 231, 1e-9, asked, "inputs seen, figure "+computed)
	published(t, "Pa, 150 cfm there", must(airflow.Depressurization(150, 231, 0.65)), 25.7322, 1e-4, asked, "inputs seen, figure "+computed)
	published(t, "Pa, a dryer of 95 cfm in a house of 91 CFM50", must(airflow.Depressurization(95, 91, 0.65)), 50, 5, "northernbuilt.pro", "seen, an anecdote: about 50 Pa")
}

func TestPublishedTightnessFloor(t *testing.T) {
	for _, row := range [][2]float64{{1, 12.715414}, {2, 8.103283}, {3, 6.225893}, {4, 5.164063}, {5, 4.466836}, {6, 3.967639}, {7, 3.589358},
		{8, 3.290956}, {10, 2.846627}, {15, 2.187113}, {25, 1.569168}, {50, 1}} {
		published(t, fmt.Sprintf("CFM50 per cfm at %g Pa", row[0]), must(airflow.TightnessFloor(1, row[0], 0.65)), row[1], 1e-6, powerLaw, computed)
		published(t, fmt.Sprintf("cfm allowed again at %g Pa", row[0]), must(airflow.AllowedExhaust(row[1], row[0], 0.65)), 1, 1e-6, powerLaw, computed)
	}
	for _, row := range [][2]float64{{2, 1620.657}, {3, 1245.179}, {5, 893.367}, {8, 658.191}, {15, 437.423}} {
		published(t, fmt.Sprintf("CFM50 floor of 200 cfm at %g Pa", row[0]), must(airflow.TightnessFloor(200, row[0], 0.65)), row[1], 1e-3, powerLaw, computed)
	}
	// Pressures behind the table's four factors, with 25 Pa for the first.
	for _, row := range [][2]float64{{0.15, 25}, {0.09, 11.39}, {0.06, 6.11}, {0.03, 2.10}} {
		dp := must(airflow.Depressurization(row[0], must(airflow.TightnessFloor(0.15, 25, 0.65)), 0.65))
		published(t, fmt.Sprintf("Pa behind the factor %g cfm/ft2", row[0]), dp, row[1], 0.005,
			"Minnesota Mechanical Code Table 501.4.1", "factors seen, pressures "+computed+" from an inferred 25 Pa")
	}
}

func TestPublishedLeakage(t *testing.T) {
	c := must(airflow.AllowedExhaust(1500, 1, 0.65)) // cfm at 1 Pa
	published(t, "C of 1500 CFM50, cfm/Pa^n", c, 117.967060, 1e-6, powerLaw, computed)
	published(t, "cfm at 4 Pa", must(airflow.Flow(c, 4, 0.65)), 290.468974, 1e-6, powerLaw, computed)
	published(t, "cfm at 10 Pa", must(airflow.Flow(c, 10, 0.65)), 526.939501, 1e-6, powerLaw, computed)
	published(t, "cfm at -10 Pa", must(airflow.Flow(c, -10, 0.65)), -526.939501, 1e-6, powerLaw, computed)
	si := airflow.FromCFM50(1500, 0.65).Coefficient
	const in2 = 6.4516e-4
	four, ten := must(airflow.EffectiveArea(si, 0.65, 4, 1)), must(airflow.EffectiveArea(si, 0.65, 10, 0.611))
	published(t, "leakage area at 4 Pa, Cd 1, m2", four, 0.0531838, 1e-7, powerLaw, computed)
	published(t, "leakage area at 4 Pa, Cd 1, in2", four/in2, 82.4351, 1e-4, powerLaw, computed)
	published(t, "leakage area at 10 Pa, Cd 0.611, m2", ten, 0.0998687, 1e-7, powerLaw, computed)
	published(t, "leakage area at 10 Pa, Cd 0.611, in2", ten/in2, 154.797, 1e-3, powerLaw, computed)
	fit, n, err := airflow.Fit(0.019, 4, 0.029, 10)
	if err != nil {
		t.Fatal(err)
	}
	const twoPoint = "two-point element of the open Modelica Buildings library, package Airflow.Multizone"
	published(t, "two-point exponent", n, 0.4614876, 1e-7, twoPoint, "points seen, figure "+computed)
	published(t, "two-point coefficient", fit, 0.0100210, 1e-7, twoPoint, "points seen, figure "+computed)
}

func TestPublishedAir(t *testing.T) {
	const dry = "ideal dry air, R 287.042, 101325 Pa; agrees with the open psychrometrics library to 1e-6"
	for _, row := range [][2]float64{{-40, 1.51403}, {-20, 1.39442}, {-10, 1.34143}, {0, 1.29232}, {10, 1.24668}, {15, 1.22505}, {20, 1.20415}, {25, 1.18396}, {30, 1.16443}, {40, 1.12725}} {
		published(t, fmt.Sprintf("kg/m3 at %g C", row[0]), airflow.Density(101325, row[0]+airflowtest.Celsius), row[1], 6e-6, dry, computed)
	}
	const atmosphere = "US Standard Atmosphere 1976, geopotential altitude"
	for _, row := range [][2]float64{{0, 101325}, {1000, 97716.57}, {2000, 94212.90}, {3000, 90811.66}, {4000, 87510.54}, {5000, 84307.26},
		{6000, 81199.60}, {7000, 78185.36}, {8000, 75262.36}, {10000, 69681.64}} {
		published(t, fmt.Sprintf("Pa at %g ft", row[0]), airflow.StandardPressure(row[0]*0.3048), row[1], 1e-6*row[1], atmosphere, computed+"; matches tables seen")
	}
	for _, row := range [][2]float64{{1, 0.6}, {2, 2.4}, {3, 5.4}, {4, 9.6}, {5, 15}, {10, 60}} {
		published(t, fmt.Sprintf("velocity pressure at %g m/s, 1.2 kg/m3", row[0]), airflow.VelocityPressure(1.2, row[0]), row[1], 1e-9, "velocity-pressure table, engineeringtoolbox", "seen")
	}
	published(t, "velocity pressure at 4 m/s, 1.2041 kg/m3", airflow.VelocityPressure(1.2041, 4), 9.6328, 1e-9, "0.5 rho V^2", computed)
	const cp = "Swami and Chandra, FSEC-CR-163-86, 1987, square plan"
	for _, row := range [][3]float64{{0, 0.603, 0.6035}, {30, 0.469, 0.4687}, {60, 0.119, 0.1188}, {90, -0.443, -0.4427}, {120, -0.681, -0.6805}, {150, -0.390, -0.3897}, {180, -0.364, -0.3642}} {
		got := airflow.WallCp(row[0])
		published(t, fmt.Sprintf("wall Cp at %g degrees", row[0]), got, row[1], 0.001, cp+"; NIST library of wind pressure coefficients", "seen")
		published(t, fmt.Sprintf("wall Cp at %g degrees, formula", row[0]), got, row[2], 5.1e-5, cp+", as in the open Modelica Buildings library", computed)
		if other := airflow.WallCp(-row[0] - 360); math.Abs(other-got) > 1e-12 {
			t.Errorf("wall Cp is not symmetric at %g degrees: %g and %g", row[0], got, other)
		}
	}
	for _, row := range [][2]float64{{1, 0.1085373}, {5, 0.2426967}, {10, 0.3432250}} {
		published(t, fmt.Sprintf("m3/s each way through a doorway, %g K", row[0]), airflow.DoorwayExchange(0.9, 2.1, 0.65, row[0], 293.15), row[1], 1e-7,
			"Brown and Solvason, 1962, eq. 6, as the open Modelica Buildings library restates it", computed)
	}
}

// A vent whose only loss is at the inlet shows its whole theoretical draft there.
func TestPublishedDraft(t *testing.T) {
	kelvin := func(f float64) float64 { return (f + 459.67) / 1.8 }
	for _, row := range []struct{ feet, flue, outdoor, sea, high float64 }{
		{15, 250, 70, 13.6421, 11.3509}, {20, 300, 40, 26.0180, 21.6483}, {20, 300, 90, 19.1030, 15.8946}, {25, 350, 20, 40.3443, 33.5684},
		{30, 400, 0, 57.6743, 47.9878}, {20, 120, 40, 10.4914, 8.7294}, {100, 500, 60, 167.5647, 139.4219},
	} {
		for i, want := range []float64{row.sea, row.high} {
			n := airflow.Network{Outdoors: airflowtest.SeaLevel(kelvin(row.outdoor)), Zones: []airflow.Zone{{Name: "caz", Temperature: 293}}}
			n.Outdoors.Pressure = airflow.StandardPressure(float64(i) * 5000 * 0.3048)
			n.Links = []airflow.Link{
				{Name: "wide open", From: 0, To: airflow.Outside, Law: airflow.Orifice(1e4, 1)},
				{Name: "vent", From: 0, To: airflow.Outside, Law: airflow.Vent(0.01, row.feet*0.3048, kelvin(row.flue), 1.5, 0)},
			}
			sol := solve(t, n)
			published(t, fmt.Sprintf("draft Pa, %g ft, flue %g F, outdoors %g F, altitude %d ft", row.feet, row.flue, row.outdoor, 5000*i),
				-sol.Links[1].Draft, want, 0.01, "column of dry air in both, g h (rho_out - rho_flue)", computed)
		}
	}
}
