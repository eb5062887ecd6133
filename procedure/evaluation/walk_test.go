package evaluation_test

import (
	"fmt"
	"testing"

	"cazward/procedure"
	"cazward/procedure/sequence"
)

// drive walks a home with the given answers, by step id; what has none is
// asked of the demonstration house.
func drive(t *testing.T, phase procedure.Phase, answers map[string]string, log bool) (*sequence.State, procedure.Judgement) {
	t.Helper()
	w := beginIn(t, "", phase, answers)
	w.To("")
	if log {
		for _, s := range w.Asked {
			fmt.Println(s.Stage, s.ID)
		}
	}
	return w.State, w.judge()
}

func TestDemonstrationHouse(t *testing.T) {
	_, j := drive(t, procedure.TestIn, nil, testing.Verbose())
	for _, f := range j.Findings {
		t.Logf("%s %s %s %s %v", f.Rule, f.Subject, f.Verdict, f.Severity, f.Detail)
	}
	for _, m := range j.Missing {
		t.Logf("missing %s %s", m.Step, m.Why)
	}
	if j.Decision != procedure.Hold {
		t.Errorf("decision %s, want hold: the net is beyond its limit", j.Decision)
	}
	if len(j.Missing) > 0 {
		t.Errorf("missing: %v", j.Missing)
	}
}
