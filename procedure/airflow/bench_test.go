package airflow_test

import (
	"testing"

	"cazward/procedure/airflow"
	"cazward/procedure/airflow/airflowtest"
)

// Wanted: under 30 microseconds, no allocation.
func BenchmarkSixZones(b *testing.B) {
	s, err := airflow.Compile(airflowtest.House6())
	if err != nil {
		b.Fatal(err)
	}
	st := s.AsBuilt()
	var sol airflow.Solution
	b.ReportAllocs()
	for b.Loop() {
		if err := s.Solve(st, &sol); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(sol.Iterations), "iterations")
}

// Wanted: under 80 ms on one core.
func BenchmarkTwelveZones1024(b *testing.B) {
	s, err := airflow.Compile(airflowtest.House12())
	if err != nil {
		b.Fatal(err)
	}
	st := s.AsBuilt()
	var sol airflow.Solution
	b.ReportAllocs()
	iterations := 0
	for b.Loop() {
		iterations = 0
		for k := range 1024 {
			airflowtest.Configuration(k, &st)
			if err := s.Solve(st, &sol); err != nil {
				b.Fatal(err)
			}
			iterations += sol.Iterations
		}
	}
	b.ReportMetric(float64(iterations)/1024, "iterations/configuration")
}

func BenchmarkCompile(b *testing.B) {
	n := airflowtest.House12()
	for b.Loop() {
		if _, err := airflow.Compile(n); err != nil {
			b.Fatal(err)
		}
	}
}
