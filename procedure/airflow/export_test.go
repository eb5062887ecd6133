package airflow_test

import (
	"encoding/json"
	"os"
	"testing"
	"time"

	"cazward/procedure/airflow"
	"cazward/procedure/airflow/airflowtest"
)

// TestExport writes networks with the pressures found here and the time that
// took, for another solver to find them too: .ci/scipy-airflow.
func TestExport(t *testing.T) {
	path := os.Getenv("CAZWARD_AIRFLOW_EXPORT")
	if path == "" {
		t.Skip("CAZWARD_AIRFLOW_EXPORT names no file to write; .ci/scipy-airflow sets it")
	}
	type entry struct {
		Name     string
		Network  airflow.Network
		State    airflow.State
		Pressure []float64
		Seconds  float64
	}
	var all []entry
	add := func(name string, n airflow.Network, change func(*airflow.State)) {
		s, err := airflow.Compile(n)
		if err != nil {
			t.Fatal(err)
		}
		st := s.AsBuilt()
		change(&st)
		var sol airflow.Solution
		if err := s.Solve(st, &sol); err != nil {
			t.Fatal(err)
		}
		const repeats = 200
		begun := time.Now()
		for range repeats {
			if err := s.Solve(st, &sol); err != nil {
				t.Fatal(err)
			}
		}
		all = append(all, entry{name, n, st, append([]float64(nil), sol.Pressure...), time.Since(begun).Seconds() / repeats})
	}
	asBuilt := func(*airflow.State) {}
	add("house of 6 zones", airflowtest.House6(), asBuilt)
	for k := 0; k < 1024; k += 31 {
		add("house of 12 zones", airflowtest.House12(), func(st *airflow.State) { airflowtest.Configuration(k, st) })
	}
	rng := newRandom(3)
	for k := range 100 {
		add("random", airflowtest.Random(rng, airflowtest.Shape{Zones: 1 + k%12}), asBuilt)
	}
	data, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}
