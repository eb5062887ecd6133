package practice_test

import (
	"testing"

	"cazward/procedure"
	"cazward/procedure/practice"
	"cazward/procedure/practice/practicetest"
)

// TestSoundRuns: a sound tester comes to the decision that each lesson
// promises, and to nothing but what the house shows.
func TestSoundRuns(t *testing.T) {
	for _, name := range practice.HouseNames() {
		t.Run(name, func(t *testing.T) {
			h := practicetest.Open(t, name)
			w := practicetest.Begin(t, h, 1)
			j := w.Run()
			for _, f := range j.Findings {
				if f.Verdict != procedure.Pass && f.Verdict != procedure.NotApplicable {
					t.Logf("%s %s %s %v %v", f.Rule, f.Subject, f.Verdict, f.Severity, f.Detail)
				}
			}
			for _, m := range j.Missing {
				t.Logf("missing %s: %s", m.Step, m.Why)
			}
			for _, x := range j.WorstCase {
				if x.Net != nil {
					t.Logf("net of %s %.2f give or take %.2f, %v %v %s %s", x.Zone, *x.Net, *x.Uncertainty, x.Config.Fans, x.Config.Doors, x.Config.AirHandler, x.Config.CAZDoor)
				}
			}
			for _, s := range w.Asked {
				t.Logf("   %s: %s", s.ID, w.Said[s.ID])
			}
			if j.Decision != h.Lesson.Expected.Decision {
				t.Errorf("decision %s, the lesson promises %s", j.Decision, h.Lesson.Expected.Decision)
			}
		})
	}
}
