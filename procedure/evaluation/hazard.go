package evaluation

import (
	"math"

	"cazward/procedure"
)

// hazards are judged whatever else was seen.
func (j *judge) hazards() {
	for _, h := range j.o.Hazards {
		hz := h.Hazard
		switch hz.Code {
		case procedure.LEL:
			v := math.NaN()
			if hz.Value != nil {
				v = *hz.Value
			}
			j.tier(hz.Code, v, hz.OverRange, h)
			j.trace(procedure.AmbientObs{N: h.N, Value: v, OverRange: hz.OverRange})
		case procedure.AmbientCO:
			v := math.NaN() // a hazard without its value reaches every tier
			if hz.Value != nil {
				v = *hz.Value
			}
			j.tier(hz.Code, v, hz.OverRange, h)
		case procedure.Leak, procedure.Rollout:
			j.hazard(h, procedure.Hold, procedure.FuelOff)
		case procedure.FlameChange:
			j.hazard(h, procedure.Hold, procedure.OffUntilServiced)
		default: // alarm, symptoms, smell, and what this version does not know
			j.hazard(h, procedure.Leave, procedure.StatusNone)
		}
	}
	for _, a := range j.o.Ambient {
		if !j.hazardOf(procedure.AmbientCO, a) {
			j.tier(procedure.AmbientCO, a.Value, a.OverRange, procedure.HazardObs{N: a.N})
		}
	}
	for _, a := range j.o.LEL {
		if !j.hazardOf(procedure.LEL, a) {
			j.tier(procedure.LEL, a.Value, a.OverRange, procedure.HazardObs{N: a.N})
		}
		j.trace(a)
	}
}

// trace of gas: it comes from somewhere, though nobody has to run.
func (j *judge) trace(a procedure.AmbientObs) {
	if _, out := procedure.TierAt(j.r.Floor, procedure.LEL, a.Value, a.OverRange); !out && a.Value >= traceLEL {
		j.add(procedure.Finding{Rule: "ambient", Verdict: procedure.Fail, Severity: procedure.Refer, Value: ptr(a.Value), Limit: ptr(traceLEL), Unit: "%", Row: "own-rule", Source: ownRule, Evidence: procedure.EvidenceOwnRule, Action: "fuel-supplier", Detail: string(procedure.LEL), About: nonZero(a.N)})
	}
}

// traceLEL, percent, is what a detector shows of real gas (own rule).
const traceLEL = 1

// hazardOf reports whether the reading is among the hazards already, as at
// least as much: there its source is known.
func (j *judge) hazardOf(code procedure.HazardCode, a procedure.AmbientObs) bool {
	for _, h := range j.o.Hazards {
		if hz := h.Hazard; h.N == a.N && a.N > 0 && hz.Code == code && (hz.OverRange || !a.OverRange) && (hz.Value == nil || *hz.Value >= a.Value) {
			return true
		}
	}
	return false
}

func (j *judge) hazard(h procedure.HazardObs, d procedure.Decision, st procedure.Status) {
	code, subject := string(h.Hazard.Code), h.Hazard.Subject
	j.ruled(code, "hazard", subject, d, st, code, h.N)
	if _, known := j.o.Appliance(subject); !known {
		// Which burner it was is not known: it could be any of them.
		j.markAll(j.f[len(j.f)-1].Status)
	}
}

// markAll marks every appliance that burns a piped or tanked fuel.
func (j *judge) markAll(st procedure.Status) {
	for _, a := range j.o.Appliances {
		if fuelled(a) && !a.Kind.SolidFuel() {
			j.mark(a.ID, st)
		}
	}
}

func (j *judge) tier(code procedure.HazardCode, v float64, over bool, h procedure.HazardObs) {
	t, ok := procedure.TierAt(j.r.Floor, code, v, over)
	if !ok {
		if _, any := procedure.TierAt(j.r.Floor, code, v, true); !any && (over || !(v <= 0)) {
			// Rules without a floor for it cannot say what is safe.
			j.ruled(string(code), "ambient", "", procedure.Leave, procedure.StatusNone, string(code), h.N)
		}
		return
	}
	f := procedure.Finding{Rule: "ambient", Verdict: procedure.Fail, Severity: procedure.Leave, Value: ptr(v), Limit: ptr(t.From), Unit: t.Unit, Row: t.Row, Source: t.Source, Evidence: t.Evidence, Action: "out", Detail: string(code), About: nonZero(h.N)}
	if over {
		f.Value = nil
	}
	if _, known := j.o.Appliance(h.Source); known {
		f.Subject = h.Source
	}
	switch t.Act {
	case procedure.ActSource:
		f.Severity, f.Action = procedure.Refer, "source"
		a, burner := j.o.Appliance(h.Source)
		switch {
		case burner && fuelled(a):
			// Switched off it gives off no more, and it is not right yet.
			j.mark(h.Source, procedure.OffUntilServiced)
		case h.Settled == procedure.Yes && h.Source != "" && h.Source != "not-found":
			f.Severity, f.Verdict = procedure.Proceed, procedure.Pass
		}
	case procedure.ActHold:
		f.Severity, f.Action = procedure.Hold, "source"
		j.suspects(code, h)
	default:
		j.suspects(code, h)
	}
	j.add(f)
}

// suspects are not used before service: the source of the CO where it was
// found, else the appliance that burned, else every burner of the home.
func (j *judge) suspects(code procedure.HazardCode, h procedure.HazardObs) {
	if code != procedure.AmbientCO || h.Source == "outdoors" || h.Source == "other-source" {
		return
	}
	for _, id := range []string{h.Source, h.Hazard.Subject} {
		if a, known := j.o.Appliance(id); known {
			if fuelled(a) {
				j.mark(id, procedure.OffUntilServiced)
			}
			return
		}
	}
	for _, a := range j.o.Appliances {
		if fuelled(a) {
			j.mark(a.ID, procedure.OffUntilServiced)
		}
	}
}
