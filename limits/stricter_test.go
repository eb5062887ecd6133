package limits_test

import (
	"strings"
	"testing"

	"cazward/limits"
)

// Deserves to be refused without accept_risk: each of these protects less than
// the shipped row. 199 ppm as measured is not stricter than 200 ppm air-free:
// at 7 percent O2 it lets 299 ppm air-free pass. A room-air burner in a mobile
// home, CO read before steady state, baselines that differ by 20 Pa and no wait
// between two on one vent are what the rows beside them, all life safety, stand on.
func TestAdversaryStricterInNameOnly(t *testing.T) {
	const from = "\n    source:\n      title: \"program\"\n      edition: \"2026\"\n    evidence: own-rule\n    note: \"x\"\n"
	for name, c := range map[string][2]string{
		"CO on another basis":           {"spillage-2017", "co-water-heater\n    topic: co\n    applies:\n      kinds:\n        - water-heater\n      fuels:\n        - gas\n        - propane\n    basis: as-measured\n    value: 199\n    unit: \"ppm\""},
		"room-air burner, mobile home":  {"graded-2005", "act-mobile-room-air\n    topic: action\n    code: mobile-room-air\n    decision: proceed\n    action: proceed"},
		"CO at once":                    {"graded-2005", "co-after\n    topic: parameter\n    value: 0\n    unit: \"min\""},
		"baselines that differ":         {"graded-2005", "baseline-max-drift\n    topic: parameter\n    value: 20\n    unit: \"Pa\""},
		"no wait between two on a vent": {"code-annex-2018", "spillage-between\n    topic: parameter\n    value: 0\n    unit: \"min\""},
	} {
		t.Run(name, func(t *testing.T) {
			text := "kind: overlay\nformat: 1\nscheme: " + c[0] + "\nreason: \"this program\"\nrows:\n  - id: " + c[1] + from
			_, err := limits.Load(limits.Options{Scheme: c[0], Overlays: []limits.Source{{Name: "o.yaml", Data: []byte(text)}}})
			if err == nil {
				t.Error("taken without accept_risk")
			} else if !strings.Contains(err.Error(), "life-safety") {
				t.Errorf("refused for another reason: %v", err)
			}
		})
	}
}
