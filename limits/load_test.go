package limits

import (
	"testing"

	"cazward/procedure"
)

func TestShippedSchemesLoad(t *testing.T) {
	for _, n := range Names() {
		s, err := Load(Options{Scheme: n})
		if err != nil {
			t.Fatalf("%s:\n%v", n, err)
		}
		p := s.Plan(procedure.TestIn)
		if len(p.Stages) == 0 || len(p.Interrupts) == 0 || p.Spillage.Cold <= 0 || p.Spillage.Warm <= 0 {
			t.Errorf("%s: plan has no stages, tiers or spillage times: %+v", n, p)
		}
	}
}
