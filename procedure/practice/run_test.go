package practice_test

import (
	"testing"

	"cazward/procedure"
	"cazward/procedure/practice"
	"cazward/procedure/practice/practicetest"
)

// TestSoundRuns: a sound tester, who knows of a house only what it shows, comes
// to the decision and to each finding that its lesson promises.
func TestSoundRuns(t *testing.T) {
	names := practice.HouseNames()
	if len(names) < 12 {
		t.Fatalf("only %d houses", len(names))
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			h := practicetest.Open(t, name)
			for seed := range int64(12) {
				w := practicetest.Begin(t, h, seed)
				j := w.Run()
				if j.Decision != h.Lesson.Expected.Decision {
					t.Errorf("seed %d: decision %s, the lesson promises %s", seed, j.Decision, h.Lesson.Expected.Decision)
				}
				bad := map[string]bool{}
				for _, f := range j.Findings {
					if f.Verdict != procedure.Pass && f.Verdict != procedure.NotApplicable && f.Rule != "doubt" {
						bad[f.Rule] = true
					}
				}
				for _, rule := range h.Lesson.Expected.Findings {
					if !bad[rule] {
						t.Errorf("seed %d: no finding of %s, which the lesson promises; there are %v", seed, rule, bad)
					}
				}
				if h.Lesson.Expected.Decision == procedure.Proceed && len(bad) > 0 {
					t.Errorf("seed %d: nothing is wrong here, and %v was found", seed, bad)
				}
				if t.Failed() {
					for _, s := range w.Asked {
						t.Logf("   %s: %s", s.ID, w.Said[s.ID])
					}
					for _, m := range j.Missing {
						t.Logf("missing %s: %s", m.Step, m.Why)
					}
					for _, f := range j.Findings {
						t.Logf("%s %s %s %s %s", f.Rule, f.Subject, f.Verdict, f.Severity, f.Detail)
					}
					return
				}
			}
		})
	}
}

// TestTemplate: the file that drill new writes is taken as it is, by the schema
// too, and a sound tester finds in it what it promises.
func TestTemplate(t *testing.T) {
	data := practice.HouseTemplate()
	if err := validate(schemaOf(t), data); err != nil {
		t.Error(err)
	}
	h := read(t, string(data))
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	e, err := m.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if w := h.Lesson.Expected; e.Worst.Zone != w.Zone || e.Worst.Net < w.Lowest || e.Worst.Net > w.Highest {
		t.Errorf("net %.2f Pa in %s, promised %v to %v in %s", e.Worst.Net, e.Worst.Zone, w.Lowest, w.Highest, w.Zone)
	}
	for _, c := range e.Worst.Costs { // what its trainer's note says
		if c.Name == "dryer" && c.Net < e.Worst.Net/2 {
			t.Errorf("without the dryer %.2f of %.2f Pa", c.Net, e.Worst.Net)
		}
	}
	w := practicetest.Begin(t, h, 1)
	if j := w.Run(); j.Decision != h.Lesson.Expected.Decision {
		t.Errorf("decision %s", j.Decision)
	}
}
