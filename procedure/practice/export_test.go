package practice

import (
	"encoding/json"
	"os"
	"slices"
	"testing"
	"time"

	"cazward/procedure/airflow"
)

// TestExport writes the shipped houses, each in every configuration, with the
// pressures found here, for another solver to find them too: .ci/scipy-airflow.
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
	for _, name := range HouseNames() {
		h, _, err := OpenHouse(name)
		if err != nil {
			t.Fatal(err)
		}
		m, err := h.Compile()
		if err != nil {
			t.Fatal(err)
		}
		var tried []int
		for i := range h.switches {
			if h.switches[i].tried {
				tried = append(tried, i)
			}
		}
		for k := range 1 << len(tried) {
			var sol airflow.Solution
			set := setting(tried, k)
			begun := time.Now()
			const repeats = 10
			for range repeats {
				if err := m.Solve(set, &sol); err != nil {
					t.Fatal(err)
				}
			}
			seconds := time.Since(begun).Seconds() / repeats
			st := airflow.State{Links: slices.Clone(m.state.Links), Fans: slices.Clone(m.state.Fans), AirHandlers: slices.Clone(m.state.AirHandlers)}
			all = append(all, entry{name, h.Network, st, slices.Clone(sol.Pressure), seconds})
		}
	}
	data, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}
