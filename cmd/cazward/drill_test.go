package main

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"cazward/procedure/airflow"
	"cazward/procedure/practice"
)

// drill runs a drill verb and gives its standard output.
func drill(t *testing.T, args ...string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	if code := Main(append([]string{"drill"}, args...), strings.NewReader(""), &out, &errs); code != 0 {
		t.Fatalf("drill %v: exit %d\n%s", args, code, errs.String())
	}
	return out.Bytes()
}

// No line of a shipped house's tables is wider than a screen of 80 columns holds.
func TestDrillTablesFitTheScreen(t *testing.T) {
	for _, name := range practice.HouseNames() {
		for _, args := range [][]string{{"check", name}, {"check", name, "--state", "dryer=on"}, {"list"}} {
			for _, line := range strings.Split(string(drill(t, args...)), "\n") {
				if len(line) > 79 {
					t.Errorf("drill %v: %d columns: %s", args, len(line), line)
				}
			}
		}
	}
}

// The worst state that is told gives, set by name, the net that is told; and
// masses of a state add up to nothing in each zone without an air handler.
func TestDrillStateAgreesWithCheck(t *testing.T) {
	for _, name := range practice.HouseNames() {
		var e extremeJSON
		if err := json.Unmarshal(drill(t, "check", name, "--json"), &e); err != nil {
			t.Fatal(err)
		}
		pressure := func(state string) float64 {
			var s stateJSON
			if err := json.Unmarshal(drill(t, "check", name, "--json", "--state", state), &s); err != nil {
				t.Fatal(err)
			}
			if s.Status != "converged" || *s.Residual > 1e-6 {
				t.Errorf("%s: %s, %v", name, s.Status, *s.Residual)
			}
			for _, z := range s.Zones {
				if z.Name == e.Worst.Zone {
					return *z.Pressure
				}
			}
			t.Fatalf("no zone %q", e.Worst.Zone)
			return 0
		}
		if got := pressure(e.Worst.State) - pressure(""); math.Abs(got-e.Worst.Net) > 1e-9 {
			t.Errorf("%s: --state gives %v, check says %v", name, got, e.Worst.Net)
		}

		var s stateJSON
		if err := json.Unmarshal(drill(t, "check", name, "--json", "--state", "dryer=on,range-hood=on"), &s); err != nil {
			t.Fatal(err)
		}
		sum, largest := map[string]float64{}, 0.0
		move := func(from, to string, mass float64) {
			sum[from] -= mass
			sum[to] += mass
			largest = max(largest, math.Abs(mass))
		}
		for _, l := range s.Links {
			move(l.From, l.To, *l.Mass)
		}
		for _, f := range s.Fans {
			move(f.From, f.To, *f.Mass)
		}
		for place, v := range sum {
			if place != "outdoors" && math.Abs(v) > 1e-6*largest {
				t.Errorf("%s: %s is %g kg/s out of balance", name, place, v)
			}
		}
	}
}

// A state without a balance has its status and no number at all.
func TestNoNumberWithoutABalance(t *testing.T) {
	h, _, err := practice.OpenHouse(practice.DemoName)
	if err != nil {
		t.Fatal(err)
	}
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(stateOf(h, m, 0, &airflow.Solution{Status: airflow.NotConverged}))
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{`"pressure_pa":`, `"flow_cfm":`, `"dp_pa":`, `"residual":`, `"mass_kg_s":`} {
		parts := strings.Split(string(text), key)
		if len(parts) < 2 {
			t.Errorf("no %s in %s", key, text)
		}
		for _, p := range parts[1:] {
			if !strings.HasPrefix(p, "null") {
				t.Errorf("%s%.20s", key, p)
			}
		}
	}
	if !strings.Contains(string(text), `"status":"not-converged"`) {
		t.Errorf("%s", text)
	}
	text, err = json.Marshal(extremeOf(h, &practice.Extreme{Status: airflow.NotConverged, Configurations: 3}))
	if err != nil || !strings.Contains(string(text), `"worst":null,"configurations":3,"status":"not-converged"`) {
		t.Errorf("%s, %v", text, err)
	}
	failed := noBalance(h, 0, &airflow.ConvergenceError{Iterations: 200, Zone: "caz", Imbalance: 1})
	if got := report(&bytes.Buffer{}, failed); got != exitRefused {
		t.Errorf("exit %d", got)
	}
}
