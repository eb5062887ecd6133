package forecast

import (
	"strings"

	"cazward/procedure"
)

// Codes of the finding. Append-only.
const (
	Rule            = "after-sealing"
	ActionOver      = "forecast-over"      // plan make-up air or stop at the floor; test again every day
	ActionTooClose  = "forecast-too-close" // the same, and what would narrow the band
	ActionTestDaily = "forecast-test-daily"
)

// Source is what the finding rests on.
const Source = "own rule: a forecast over the limit is arranged for before sealing (make-up air, or stop at the floor), and the zone is tested again every day"

// Finding of the forecast for a zone. Beyond the limit or too close to it is
// refer, by own rule: nothing unsafe was measured, but sealing as planned needs
// make-up air or a stop at the floor, and a test every day. A pass only asks
// for the test every day. What was not evaluated blocks nothing, because a
// forecast is wanted, never required; false when there is no target or no limit
// at all, so that there is nothing to find. Detail holds the weaknesses, with
// commas between them.
func (f Forecast) Finding(zone string) (procedure.Finding, bool) {
	if f.After == nil || f.Design.Limit == nil {
		return procedure.Finding{}, false
	}
	v, l, u := float64(f.After.Net), float64(*f.Design.Limit), float64(f.After.Net-f.After.Low)
	m := procedure.Bound{Value: l, Sense: procedure.AtLeast}.Margin(v)
	x := procedure.Finding{Rule: Rule, Subject: zone, Verdict: f.Verdict, Severity: procedure.NoDecision,
		Value: &v, Limit: &l, Unit: "Pa", Margin: &m, Uncertainty: &u, Row: Rule, Source: Source, Evidence: procedure.EvidenceOwnRule}
	var weak []string
	for _, w := range f.Weak {
		weak = append(weak, string(w))
	}
	x.Detail = strings.Join(weak, ",")
	switch f.Verdict {
	case procedure.Fail:
		x.Severity, x.Action = procedure.Refer, ActionOver
	case procedure.TooClose:
		x.Severity, x.Action = procedure.Refer, ActionTooClose
	case procedure.Pass:
		x.Severity, x.Action = procedure.Proceed, ActionTestDaily
	}
	return x, true
}
