package evaluation

import (
	"math"
	"slices"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// emergencyCO is where spilling or weak draft together with CO empties the
// house and the burner is never lit again (graded scheme, from memory).
const emergencyCO = 400

// emergency reports CO above 400 ppm as measured.
func emergency(ao *procedure.ApplianceObs) bool {
	if ao.Emergency != nil {
		return true
	}
	for _, g := range []*procedure.GasObs{ao.CO, ao.CONatural} {
		if g != nil && (g.OverRange || slices.ContainsFunc(g.CO, func(v float64) bool { return v > emergencyCO })) {
			return true
		}
	}
	return false
}

func fails(o procedure.Outcome) bool {
	return o == procedure.OutcomeWorst || o == procedure.OutcomeNatural
}

// coAsked reports whether the scheme asks CO of the appliance. A daily test is
// of what house pressure can touch.
func (j *judge) coAsked(a procedure.Appliance) bool {
	return a.Fired() && slices.Contains(j.r.COAsked, a.Kind) && (j.o.Phase != procedure.Daily || a.Susceptible() != procedure.No)
}

// co judges each sample of an appliance: by the action matrix on the highest
// value as measured, and by the scheme's own rows on their basis.
//
// CO that was not taken is missing though spillage failed and lighting was not
// safe: hold outranks it in the decision, but which row of the matrix applies
// cannot be said without it, so the appliance stays off until serviced.
func (j *judge) co(a procedure.Appliance, ao *procedure.ApplianceObs, v venting) {
	asked, any := j.coAsked(a), false
	j.coEarlier(a, ao, v)
	for _, g := range []*procedure.GasObs{ao.CO, ao.CONatural} {
		if g == nil || len(g.CO) == 0 && !g.OverRange {
			continue
		}
		any = true
		s := j.sample(a, g)
		j.matrix(a, g, s, v)
		if !j.rows(a, g, s) && len(j.r.Matrix) == 0 && (asked || !fuelled(a)) {
			// Asked for, and no figure to hold it against: never a pass.
			d, st := procedure.Refer, procedure.StatusNone
			if s.over || s.high > emergencyCO {
				d, st = procedure.Hold, procedure.OffUntilServiced
			}
			j.ruled("co-no-row", "co-matrix", a.ID, d, st, string(a.Kind), g.N)
		}
		if len(j.r.Matrix) == 0 && (s.over || s.high > emergencyCO) && (fails(v.spill) || fails(v.draft)) {
			j.emergencyWithoutMatrix(a, g, s)
		}
	}
	if asked && (ao.CO == nil || len(ao.CO.CO) == 0 && !ao.CO.OverRange) && !j.shut(a.ID) || ao.CO != nil && !any {
		j.miss("co/"+a.ID, "no-answer", a.ID)
	}
}

// coEarlier judges samples that were taken again: what fails in them stands, and
// nothing in them passes or is missing.
func (j *judge) coEarlier(a procedure.Appliance, ao *procedure.ApplianceObs, v venting) {
	type one struct {
		g procedure.GasObs
		v venting
	}
	var list []one
	for _, g := range ao.Earlier {
		list = append(list, one{g, v})
	}
	if ao.Emergency != nil && (ao.CO == nil || ao.CO.N != ao.Emergency.N || !fails(v.spill) && !fails(v.draft)) {
		list = append(list, one{*ao.Emergency, venting{spill: procedure.OutcomeWorst, draft: procedure.OutcomePass}})
	}
	for _, x := range list {
		k := &judge{o: j.o, r: j.r, seen: map[string]bool{}, status: map[string]procedure.Status{}, lacking: map[string]bool{}, known: map[string]bool{}}
		s := k.sample(a, &x.g)
		s.unsure = false
		k.matrix(a, &x.g, s, x.v)
		k.rows(a, &x.g, s)
		if len(j.r.Matrix) == 0 && ao.Emergency != nil && x.v.spill == procedure.OutcomeWorst {
			k.emergencyWithoutMatrix(a, &x.g, s)
		}
		for _, f := range k.f {
			if f.Verdict == procedure.Fail || f.Severity != procedure.Proceed && f.Severity != procedure.Incomplete && f.Severity != procedure.NoDecision {
				j.add(f)
			}
		}
	}
}

// emergencyWithoutMatrix: a scheme without an action matrix does not make it
// milder. The most protective published act holds, and the burner is not lit
// again.
func (j *judge) emergencyWithoutMatrix(a procedure.Appliance, g *procedure.GasObs, s sample) {
	f := procedure.Finding{Rule: "co", Subject: a.ID, Verdict: procedure.Fail, Severity: procedure.Leave, Status: procedure.FuelOff, Value: ptr(s.high), Limit: ptr(emergencyCO), Unit: "ppm", Margin: ptr(emergencyCO - s.high), Row: "own-rule", Source: ownRule, Evidence: procedure.EvidenceOwnRule, Action: "emergency", Detail: "as-measured", Rising: g.Rising, About: nonZero(g.N)}
	if s.over {
		f.Value, f.Margin = nil, nil
	}
	j.add(f)
}

// sample is what an analyser showed, of all cells.
type sample struct {
	high float64 // the highest as measured, ppm
	over bool
	// airFree is the highest corrected to no excess air, never below as
	// measured; airFreeKnown: it could be worked out for each cell.
	airFree      float64
	airFreeKnown bool
	unsure       bool // diluted, or no number: there may be more than it shows
}

func (j *judge) sample(a procedure.Appliance, g *procedure.GasObs) sample {
	s := sample{over: g.OverRange, airFreeKnown: len(g.CO) > 0}
	why := ""
	for i, c := range g.CO {
		if !finite(c) || c < 0 {
			s.unsure, s.airFreeKnown, why = true, false, "not-a-number"
			continue
		}
		s.high, s.airFree = max(s.high, c), max(s.airFree, c)
		o2 := math.NaN()
		if i < len(g.O2) && g.O2[i] != nil {
			o2 = *g.O2[i]
		}
		if af, err := reading.AirFree(reading.Concentration(c), reading.Percent(o2)); err == nil {
			s.airFree = max(s.airFree, float64(af))
		} else {
			s.airFreeKnown = false
		}
		// A diluted sample shows less than there is: what it already shows
		// counts, what it does not show stays unknown. Without its O2 nobody
		// can say that it was not diluted. Cooking and unvented flames are read
		// in the room's air.
		if j.r.DilutedO2 != 0 && !a.Kind.Cooking() && a.Kind != procedure.UnventedHeater && a.Kind != procedure.GasLog && !(o2 >= 0 && o2 <= j.r.DilutedO2) {
			s.unsure = true
			switch {
			case why != "":
			case math.IsNaN(o2):
				why = "no-o2"
			default:
				why = "diluted"
			}
		}
	}
	if why != "" {
		j.miss("co/"+a.ID, why, a.ID)
	}
	return s
}

func (j *judge) matrix(a procedure.Appliance, g *procedure.GasObs, s sample, v venting) {
	if len(j.r.Matrix) == 0 {
		return
	}
	// Venting not known: by what CO alone demands; what is missing is listed
	// already. Where it could empty the house, it does.
	if v.spill == "" && (s.over || s.high > emergencyCO) {
		v.spill = procedure.OutcomeWorst
	}
	if v.spill == "" {
		v.spill = procedure.OutcomePass
	}
	if v.draft == "" {
		v.draft = procedure.OutcomePass
	}
	detail, found := string(v.spill)+"/"+string(v.draft), false
	for _, m := range j.r.Matrix {
		if !m.Fits(s.high, s.over, v.spill, v.draft) {
			continue
		}
		found = true
		f := procedure.Finding{Rule: "co-matrix", Subject: a.ID, Verdict: procedure.Fail, Severity: m.Decision, Status: m.Status, Value: ptr(s.high), Unit: "ppm", Row: m.ID, Source: m.Source.String(), Evidence: m.Evidence, Action: m.Action, Detail: detail, Rising: g.Rising, About: nonZero(g.N)}
		// The edge of the band that decides: the upper one of a pass, the
		// lower one, which was crossed, of anything else.
		edge := m.Over
		if m.Decision == procedure.Proceed && m.UpTo != nil {
			edge = *m.UpTo
		}
		if edge > 0 {
			f.Limit, f.Margin = ptr(edge), ptr(edge-s.high)
		}
		if s.over {
			f.Value, f.Margin = nil, nil
		}
		if m.Decision == procedure.Proceed {
			f.Verdict = procedure.Pass
			if s.unsure {
				f.Verdict, f.Severity, f.Status = procedure.NotEvaluated, procedure.Incomplete, procedure.StatusNone
			}
		}
		j.add(f)
	}
	if !found {
		j.ruled("co-no-row", "co-matrix", a.ID, procedure.Hold, procedure.OffUntilServiced, detail, g.N)
	}
}

// rows are the scheme's CO limits for the appliance, on their basis. It
// reports whether the scheme has a row for it.
func (j *judge) rows(a procedure.Appliance, g *procedure.GasObs, s sample) bool {
	if !fuelled(a) {
		a.Burner.Fuel = procedure.FuelUnknown // it gave off CO: whatever it burns
	}
	c := procedure.Match(j.r.CO, procedure.TraitsOf(a, j.o.Appliances))
	if !c.Found {
		return false
	}
	l, value, known := c.Limit, s.high, !s.unsure
	if l.Basis == "air-free" {
		value, known = s.airFree, known && s.airFreeKnown
	}
	f := procedure.Finding{Rule: "co", Subject: a.ID, Severity: procedure.Incomplete, Value: ptr(value), Limit: ptr(l.Bound.Value), Unit: "ppm", Margin: ptr(l.Bound.Margin(value)), Row: l.ID, Source: l.Source.String(), Evidence: l.Evidence, Detail: l.Basis, Rising: g.Rising, About: nonZero(g.N), Unsure: c.Unsure}
	side := l.Bound.Side(value, 0)
	switch {
	case s.over || side == procedure.SideBeyond:
		f.Verdict, f.Severity, f.Status, f.Action = procedure.Fail, procedure.Hold, procedure.OffUntilServiced, "stop-service"
		if s.over {
			f.Value, f.Margin = nil, nil
		}
	case known && side == procedure.SideInside:
		f.Verdict, f.Severity = procedure.Pass, procedure.Proceed
	default:
		j.miss("co/"+a.ID, "no-o2", a.ID)
	}
	j.add(f)
	return true
}
