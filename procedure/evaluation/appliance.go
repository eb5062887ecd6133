package evaluation

import (
	"math"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// emergencyCO is where spilling or weak draft together with CO empties the
// house and the burner is never lit again (graded scheme, from memory).
const emergencyCO = 400

// venting is how an appliance vents as far as it was seen.
type venting struct {
	spill, draft procedure.Outcome // "" not known
}

func (j *judge) appliance(a procedure.Appliance) {
	ao := j.o.Of(a.ID)
	if ao == nil {
		ao = &procedure.ApplianceObs{ID: a.ID}
	}
	// What was seen of an appliance counts, whatever was said of it later.
	seenVenting := ao.Spill != nil || ao.SpillNatural != nil || ao.Together == procedure.No
	seen := seenVenting || ao.Draft != nil || ao.DraftNatural != nil || ao.CO != nil
	if (!a.Kind.Burns() || a.Burner.Fuel == procedure.Electricity) && !seen {
		return
	}
	if a.Kind.SolidFuel() && !seen {
		// Never lit. Its zone pressure and chimney are judged elsewhere; a
		// scheme without a pressure rule sets nothing for it either.
		if j.r.PressureSet && a.Facts.InsideBoundary == procedure.No {
			j.ruled("solid-fuel-no-row", "no-figure", a.ID, procedure.Refer, procedure.StatusNone, string(a.Kind))
		}
		return
	}
	if a.Kind == procedure.UnventedHeater || a.Vent.Type == procedure.Unvented && !a.Kind.Cooking() {
		if a.Facts.MainHeat == procedure.No {
			j.ruled("unvented-secondary", "unvented", a.ID, procedure.Refer, procedure.StatusNone, "secondary")
		} else {
			j.ruled("unvented-main", "unvented", a.ID, procedure.Hold, procedure.StatusNone, "main")
		}
	}
	if a.Facts.OtherDwelling == procedure.Yes {
		j.ruled("other-dwelling", "inventory", a.ID, procedure.Incomplete, procedure.StatusNone, "other-dwelling")
		j.miss("appliance/"+a.ID, "other-dwelling", a.ID)
	}
	if !a.Fired() && !seen {
		return
	}
	if a.Facts.Fireable == procedure.No {
		j.ruled("not-fireable", "inventory", a.ID, procedure.Incomplete, procedure.StatusNone, "not-fireable")
		j.miss("spill/"+a.ID, "not-fireable", a.ID)
		if !seen {
			return
		}
		// It was lit all the same: what was seen counts.
	}
	if ao.NotFired != "" && ao.Spill == nil && ao.CO == nil {
		// Shut down by a hazard: known bad. Its hazard has the finding.
		st := procedure.OffUntilServiced
		if ao.NotFired == "rollout" || ao.NotFired == "leak" {
			st = procedure.FuelOff
		}
		j.status[a.ID] = procedure.MoreProtectiveStatus(j.status[a.ID], st)
		return
	}
	v := venting{spill: procedure.OutcomePass, draft: procedure.OutcomePass}
	switch {
	case a.Fired() && a.Susceptible() != procedure.No:
		if zo := j.o.ZoneOf(a.Zone); zo == nil || zo.Held == nil {
			j.lacking[a.ID] = true // lit, but not at worst case
		}
		v = j.venting(a, ao)
	case seenVenting:
		v = j.seenVenting(a, ao)
	}
	if a.Fired() || ao.CO != nil {
		j.co(a, ao, v)
	}
}

// seenVenting judges spillage that was seen of an appliance which, by its
// facts as they stand now, would not have been tried: a failure that was seen
// is not unseen by a correction.
func (j *judge) seenVenting(a procedure.Appliance, ao *procedure.ApplianceObs) venting {
	v := venting{spill: procedure.OutcomePass, draft: procedure.OutcomePass}
	failed := ao.Together == procedure.No
	if ao.Spill != nil && j.spill(a, ao.Spill, "spill/"+a.ID, "worst", false) == procedure.Fail {
		failed = true
	}
	if failed {
		v.spill = procedure.OutcomeWorst
		j.ruled("spillage-fails", "venting", a.ID, procedure.Hold, procedure.MayRunNoFans, "worst")
	}
	switch {
	case ao.SpillNatural != nil:
		if j.spill(a, ao.SpillNatural, "spill/"+a.ID+"/natural", "natural", false) == procedure.Fail {
			v.spill = procedure.OutcomeNatural
			j.ruled("spillage-natural", "venting", a.ID, procedure.Hold, procedure.OffUntilServiced, "natural", ao.SpillNatural.N)
		}
	case failed:
		j.ruled("natural-not-tested", "venting", a.ID, procedure.Incomplete, procedure.OffUntilServiced, "natural-not-tested")
	}
	return v
}

// venting judges spillage and draft and says how both came out.
func (j *judge) venting(a procedure.Appliance, ao *procedure.ApplianceObs) venting {
	var v venting
	shut := ao.NotFired != ""
	sp := j.spill(a, ao.Spill, "spill/"+a.ID, "worst", shut)
	if sp != procedure.Fail && ao.Together == procedure.No {
		sp = procedure.Fail
		f := procedure.Finding{Rule: "spillage", Subject: a.ID, Verdict: procedure.Fail, Severity: procedure.Hold, Status: procedure.MayRunNoFans, Unit: "s", Row: "own-rule", Source: "cazward, own rule", Evidence: procedure.EvidenceOwnRule, Detail: "together", Action: "service-or-house", About: nonZero([]int{ao.TogetherN})}
		j.add(f)
	}
	if sp != procedure.Fail && ao.Together == procedure.Unknown && j.o.Plan.Spillage.Together && !shut && (j.sharesFired(a) || a.Facts.Shares == procedure.Unknown) {
		// Whether others share the vent not known: nobody saw it with them lit.
		j.miss("together/"+a.ID, "no-answer", a.ID)
	}
	dr := procedure.NotApplicable
	if j.r.Draft.Set && j.draftAsked(a) {
		dr = j.draft(a, ao.Draft, ao, "draft/"+a.ID, "worst", sp == procedure.Fail, shut)
	}
	natural := a.ID
	failed := sp == procedure.Fail || dr == procedure.Fail || dr == procedure.TooClose
	emergency := failed && j.emergency(ao)
	if !failed {
		v.spill, v.draft = outcome(sp, procedure.NotApplicable, false), outcome(dr, procedure.NotApplicable, false)
		if ao.SpillNatural != nil || ao.DraftNatural != nil {
			// Seen under natural conditions though nothing called for it: a
			// failure there still counts.
			ns := procedure.NotApplicable
			if ao.SpillNatural != nil {
				ns = j.spill(a, ao.SpillNatural, "spill/"+natural+"/natural", "natural", shut)
			}
			if ns == procedure.Fail {
				v.spill = procedure.OutcomeNatural
				j.ruled("spillage-natural", "venting", a.ID, procedure.Hold, procedure.OffUntilServiced, "natural", ao.SpillNatural.N)
			}
			if ao.DraftNatural != nil {
				if nd := j.draft(a, ao.DraftNatural, ao, "draft/"+natural+"/natural", "natural", ns == procedure.Fail, shut); nd == procedure.Fail || nd == procedure.TooClose {
					v.draft = procedure.OutcomeNatural
					j.ruled("draft-natural", "venting", a.ID, procedure.Hold, procedure.OffUntilServiced, "natural", ao.DraftNatural.N)
				}
			}
		}
		return v
	}
	if sp == procedure.Fail {
		j.ruled("spillage-fails", "venting", a.ID, procedure.Hold, procedure.MayRunNoFans, "worst")
	}
	if emergency || shut {
		// Not lit again: natural conditions are not wanted, and nothing milder
		// can come of them.
		v.spill, v.draft = outcome(sp, procedure.NotEvaluated, true), outcome(dr, procedure.NotEvaluated, true)
		if shut {
			j.status[a.ID] = procedure.MoreProtectiveStatus(j.status[a.ID], procedure.OffUntilServiced)
		}
		return v
	}
	ns, nd := procedure.NotEvaluated, procedure.NotEvaluated
	if ao.SpillNatural != nil {
		ns = j.spill(a, ao.SpillNatural, "spill/"+natural+"/natural", "natural", shut)
	}
	wantDraft := j.r.Draft.Set && j.draftAsked(a)
	if ns == procedure.Fail {
		j.ruled("spillage-natural", "venting", a.ID, procedure.Hold, procedure.OffUntilServiced, "natural", ao.SpillNatural.N)
	}
	if wantDraft && ns != procedure.Fail {
		nd = j.draft(a, ao.DraftNatural, ao, "draft/"+natural+"/natural", "natural", false, shut)
		if nd == procedure.Fail || nd == procedure.TooClose {
			j.ruled("draft-natural", "venting", a.ID, procedure.Hold, procedure.OffUntilServiced, "natural")
		}
	}
	if ns == procedure.NotEvaluated {
		j.ruled("natural-not-tested", "venting", a.ID, procedure.Incomplete, procedure.OffUntilServiced, "natural-not-tested")
		j.miss("spill/"+natural+"/natural", "no-answer", a.ID)
	}
	v.spill, v.draft = outcome(sp, ns, true), outcome(dr, nd, true)
	if ns == procedure.Fail {
		v.spill = procedure.OutcomeNatural
	}
	if nd == procedure.Fail || nd == procedure.TooClose {
		v.draft = procedure.OutcomeNatural
	}
	return v
}

// outcome in the words of the action matrix; "" where it is not known.
func outcome(worst, natural procedure.Verdict, tried bool) procedure.Outcome {
	switch worst {
	case procedure.Pass, procedure.NotApplicable:
		return procedure.OutcomePass
	case procedure.Fail, procedure.TooClose:
		if tried && (natural == procedure.Fail || natural == procedure.TooClose) {
			return procedure.OutcomeNatural
		}
		return procedure.OutcomeWorst
	}
	return ""
}

func (j *judge) draftAsked(a procedure.Appliance) bool {
	return procedure.DraftPlan{Vents: j.r.Draft.Vents}.Asked(a.Vent.Type)
}

func (j *judge) sharesFired(a procedure.Appliance) bool {
	for _, id := range a.Partners {
		if p, ok := j.o.Appliance(id); ok && p.Fired() && p.Facts.Fireable != procedure.No {
			if po := j.o.Of(id); po == nil || po.NotFired == "" {
				return true
			}
		}
	}
	return false
}

// emergency reports CO above 400 ppm as measured.
func (j *judge) emergency(ao *procedure.ApplianceObs) bool {
	for _, g := range []*procedure.GasObs{ao.CO, ao.CONatural} {
		if g == nil {
			continue
		}
		if g.OverRange {
			return true
		}
		for _, v := range g.CO {
			if v > emergencyCO {
				return true
			}
		}
	}
	return false
}

// spill judges one timed observation against the strictest time that could
// apply.
func (j *judge) spill(a procedure.Appliance, s *procedure.SpillObs, step, cond string, shut bool) procedure.Verdict {
	if s == nil || math.IsNaN(s.Seconds) || s.Seconds < 0 || s.Outcome == "" {
		if cond == "worst" && !shut {
			j.miss(step, "no-answer", a.ID)
		}
		return procedure.NotEvaluated
	}
	t := procedure.TraitsOf(a, j.o.Appliances)
	t.Cold = s.Cold
	c := procedure.Match(j.r.Spillage, t)
	f := procedure.Finding{Rule: "spillage", Subject: a.ID, Value: ptr(s.Seconds), Unit: "s", Detail: cond, Natural: cond == "natural", About: nonZero([]int{s.N}), Unsure: c.Unsure}
	if !c.Found {
		f.Verdict, f.Severity, f.Row, f.Source, f.Evidence = procedure.NotEvaluated, procedure.Incomplete, "", "no figure in this scheme", procedure.EvidenceOwnRule
		if s.Outcome == procedure.SpillStill {
			f.Verdict, f.Severity = procedure.Fail, procedure.Hold
		}
		j.add(f)
		j.miss(step, "no-figure", a.ID)
		return f.Verdict
	}
	l := c.Limit
	f.Limit, f.Row, f.Source, f.Evidence = ptr(l.Bound.Value), l.ID, l.Source.String(), l.Evidence
	f.Margin = ptr(l.Bound.Margin(s.Seconds))
	switch side := l.Bound.Side(s.Seconds, 0); {
	case s.Outcome == procedure.SpillStill:
		// It never stopped: more than the time that was watched.
		f.Verdict, f.Detail, f.Margin = procedure.Fail, cond+"-still", nil
	case side == procedure.SideInside:
		f.Verdict = procedure.Pass
	default:
		f.Verdict = procedure.Fail
	}
	if s.Outcome != procedure.SpillStill && s.Outcome != procedure.SpillStopped && s.Outcome != procedure.SpillNone {
		f.Verdict = procedure.Fail
	}
	f.Severity = procedure.Proceed
	if f.Verdict == procedure.Fail {
		f.Severity, f.Status, f.Action = procedure.Hold, procedure.MayRunNoFans, "service-or-house"
		if cond == "natural" {
			f.Status, f.Action = procedure.OffUntilServiced, "stop-service"
		}
	}
	j.add(f)
	return f.Verdict
}

// draft judges one draft reading.
func (j *judge) draft(a procedure.Appliance, p *procedure.PressureObs, ao *procedure.ApplianceObs, step, cond string, spillFailed, shut bool) procedure.Verdict {
	if spillFailed || shut {
		j.known[step] = true
		return procedure.NotApplicable // known bad: spillage has the finding
	}
	limit, row := 0.0, j.r.Draft.Row
	if a.Burner.Fuel == procedure.Oil {
		if ao.BreechPa == nil || !finite(*ao.BreechPa) {
			j.known[step] = true
			if ao.BreechKnown != procedure.No {
				j.miss("breech/"+a.ID, "no-answer", a.ID)
			}
			j.ruled("oil-breech-unknown", "draft", a.ID, procedure.Refer, procedure.StatusNone, "oil-breech-unknown")
			return procedure.NotApplicable
		}
		limit = -math.Abs(*ao.BreechPa) // a draft, typed with its minus or without
		row = procedure.Row{ID: "maker-breech", Source: procedure.SourceRef{Title: "maker's breech draft, as entered by the tester"}, Evidence: procedure.EvidenceSeen}
	}
	// What was measured was not beyond measuring.
	if p == nil && (a.Facts.TestHole == procedure.No || j.byNature(step) && ao.Draft == nil && ao.DraftNatural == nil) {
		j.known[step] = true
		j.ruled("no-test-hole", "draft", a.ID, procedure.Refer, procedure.StatusNone, "no-test-hole")
		return procedure.NotApplicable
	}
	if p == nil || !finite(p.Values...) {
		j.miss(step, "no-answer", a.ID)
		return procedure.NotEvaluated
	}
	if a.Burner.Fuel != procedure.Oil {
		t, ok := j.outdoorF()
		if ok {
			limit, ok = procedure.DraftLimit(j.r.Draft.Line, t)
		}
		if !ok {
			j.miss("arrive/weather", "no-answer", a.ID)
			return procedure.NotEvaluated
		}
	}
	b := procedure.Bound{Value: limit, Sense: procedure.AtMost}
	v := procedure.MeanOf(p.Values)
	u := procedure.DraftU(*p, j.gauge(), j.r.Uncertainty)
	f := procedure.Finding{Rule: "draft", Subject: a.ID, Value: ptr(v), Limit: ptr(limit), Unit: "Pa", Uncertainty: ptr(u), Margin: ptr(b.Margin(v)), Row: row.ID, Source: row.Source.String(), Evidence: row.Evidence, Detail: cond, Natural: cond == "natural", About: nonZero([]int{p.N})}
	switch b.Side(v, u) {
	case procedure.SideInside:
		f.Verdict, f.Severity = procedure.Pass, procedure.Proceed
	case procedure.SideTooClose:
		f.Verdict, f.Severity, f.Status, f.Action = procedure.TooClose, procedure.Refer, procedure.MayRunNoFans, "service-or-house"
	case procedure.SideBeyond:
		f.Verdict, f.Severity, f.Status, f.Action = procedure.Fail, procedure.Refer, procedure.MayRunNoFans, "service-or-house"
	default:
		j.miss(step, "not-a-number", a.ID)
	}
	if cond == "natural" && (f.Verdict == procedure.Fail || f.Verdict == procedure.TooClose) {
		f.Severity, f.Status, f.Action = procedure.Hold, procedure.OffUntilServiced, "stop-service"
	}
	j.add(f)
	return f.Verdict
}

func (j *judge) byNature(step string) bool {
	for _, s := range j.o.Skips {
		if s.Step == step && s.Skip.Reason == procedure.SkipByNature {
			return true
		}
	}
	return false
}

func (j *judge) outdoorF() (float64, bool) {
	if j.o.Weather == nil {
		return 0, false
	}
	t, err := reading.Convert(j.o.Weather.Temp, reading.Unit(j.o.Weather.TempUnit), reading.UnitF)
	return t, err == nil && finite(t)
}

// co judges CO of an appliance: the action matrix on the highest value as
// measured, and the scheme's own rows on their basis.
func (j *judge) co(a procedure.Appliance, ao *procedure.ApplianceObs, v venting) {
	asked := false
	for _, k := range j.r.COAsked {
		asked = asked || k == a.Kind
	}
	if j.o.Phase == procedure.Daily && a.Susceptible() == procedure.No {
		asked = false // the daily test is of what house pressure can touch
	}
	if !asked && ao.CO == nil {
		return
	}
	step := "co/" + a.ID
	g := ao.CO
	if g == nil || len(g.CO) == 0 && !g.OverRange {
		if ao.NotFired == "" {
			j.miss(step, "no-answer", a.ID)
		}
		return
	}
	high, cell := math.Inf(-1), 0
	diluted := false
	for i, c := range g.CO {
		if math.IsNaN(c) || math.IsInf(c, 0) || c < 0 {
			j.miss(step, "not-a-number", a.ID)
			continue
		}
		if c > high {
			high, cell = c, i
		}
		if j.r.DilutedO2 > 0 && !a.Kind.Cooking() && a.Kind != procedure.UnventedHeater {
			// Without its O2 nobody can say that a sample was not diluted.
			if i >= len(g.O2) || g.O2[i] == nil || math.IsNaN(*g.O2[i]) || *g.O2[i] > j.r.DilutedO2 {
				diluted = true
			}
		}
	}
	if math.IsInf(high, -1) && !g.OverRange {
		j.miss(step, "not-a-number", a.ID)
		return
	}
	if math.IsInf(high, -1) {
		high = 0
	}
	if diluted {
		// A diluted sample shows less than there is: what it already shows
		// counts, what it does not show stays unknown.
		j.miss(step, "diluted", a.ID)
	}
	j.matrix(a, g, high, v, diluted)
	if len(j.r.Matrix) == 0 && (g.OverRange || high > emergencyCO) && (fails(v.spill) || fails(v.draft)) {
		// A scheme without an action matrix does not make it milder: the most
		// protective published act holds, and the burner is not lit again.
		f := procedure.Finding{Rule: "co", Subject: a.ID, Verdict: procedure.Fail, Severity: procedure.Leave, Status: procedure.FuelOff, Value: ptr(high), Limit: ptr(emergencyCO), Unit: "ppm", Margin: ptr(emergencyCO - high),
			Row: "own-rule", Source: "cazward, own rule", Evidence: procedure.EvidenceOwnRule, Action: "emergency", Detail: "as-measured", About: nonZero([]int{g.N})}
		if g.OverRange {
			f.Value, f.Margin = nil, nil
		}
		j.add(f)
	}
	if !j.rows(a, g, high, cell) && len(j.r.Matrix) == 0 && asked {
		// Asked for, and no figure to hold it against: never a pass.
		d, st := procedure.Refer, procedure.StatusNone
		if g.OverRange || high > emergencyCO {
			d, st = procedure.Hold, procedure.OffUntilServiced
		}
		j.ruled("co-no-row", "co-matrix", a.ID, d, st, string(a.Kind), g.N)
	}
}

func fails(o procedure.Outcome) bool {
	return o == procedure.OutcomeWorst || o == procedure.OutcomeNatural
}

func (j *judge) matrix(a procedure.Appliance, g *procedure.GasObs, high float64, v venting, diluted bool) {
	if len(j.r.Matrix) == 0 {
		return
	}
	if v.spill == "" || v.draft == "" {
		// Venting not known: judge by what CO alone demands, and what is
		// missing is listed already.
		if v.spill == "" {
			v.spill = procedure.OutcomePass
		}
		if v.draft == "" {
			v.draft = procedure.OutcomePass
		}
	}
	found := false
	for _, m := range j.r.Matrix {
		if !m.Fits(high, g.OverRange, v.spill, v.draft) {
			continue
		}
		found = true
		f := procedure.Finding{Rule: "co-matrix", Subject: a.ID, Verdict: procedure.Fail, Severity: m.Decision, Status: m.Status, Value: ptr(high), Unit: "ppm", Row: m.ID, Source: m.Source.String(), Evidence: m.Evidence, Action: m.Action,
			Detail: string(v.spill) + "/" + string(v.draft), About: nonZero([]int{g.N})}
		// The edge of the band that decides: the upper one of a pass, the
		// lower one, which was crossed, of anything else.
		edge := m.Over
		if m.Decision == procedure.Proceed && m.UpTo != nil {
			edge = *m.UpTo
		}
		if edge > 0 {
			f.Limit, f.Margin = ptr(edge), ptr(edge-high)
		}
		if g.OverRange {
			f.Value, f.Margin = nil, nil
		}
		if m.Decision == procedure.Proceed {
			f.Verdict = procedure.Pass
			if diluted {
				f.Verdict, f.Severity, f.Status = procedure.NotEvaluated, procedure.Incomplete, procedure.StatusNone
			}
		}
		j.add(f)
	}
	if !found {
		j.ruled("co-no-row", "co-matrix", a.ID, procedure.Hold, procedure.OffUntilServiced, string(v.spill)+"/"+string(v.draft), g.N)
	}
}

// rows are the scheme's CO limits for the appliance, on their basis; both
// bases are kept apart and air-free is never below as measured.
// It reports whether the scheme has a row for it.
func (j *judge) rows(a procedure.Appliance, g *procedure.GasObs, high float64, cell int) bool {
	if len(j.r.CO) == 0 {
		return false
	}
	c := procedure.Match(j.r.CO, procedure.TraitsOf(a, j.o.Appliances))
	if !c.Found {
		return false
	}
	l := c.Limit
	value, known := high, true
	if l.Basis == "air-free" {
		value, known = 0, len(g.CO) > 0
		for i, co := range g.CO {
			if i >= len(g.O2) || g.O2[i] == nil {
				known = false
				value = math.Max(value, co)
				continue
			}
			af, err := reading.AirFree(reading.Concentration(co), reading.Percent(*g.O2[i]))
			if err != nil {
				known = false
				value = math.Max(value, co)
				continue
			}
			value = math.Max(value, math.Max(float64(af), co))
		}
	}
	f := procedure.Finding{Rule: "co", Subject: a.ID, Value: ptr(value), Limit: ptr(l.Bound.Value), Unit: "ppm", Margin: ptr(l.Bound.Margin(value)), Row: l.ID, Source: l.Source.String(), Evidence: l.Evidence, Detail: l.Basis, About: nonZero([]int{g.N}), Unsure: c.Unsure}
	switch {
	case g.OverRange:
		f.Value, f.Margin = nil, nil
		f.Verdict, f.Severity, f.Status, f.Action = procedure.Fail, procedure.Hold, procedure.OffUntilServiced, "stop-service"
	case l.Bound.Side(value, 0) == procedure.SideBeyond:
		f.Verdict, f.Severity, f.Status, f.Action = procedure.Fail, procedure.Hold, procedure.OffUntilServiced, "stop-service"
	case !known:
		f.Verdict, f.Severity = procedure.NotEvaluated, procedure.Incomplete
		j.miss("co/"+a.ID, "no-o2", a.ID)
	default:
		f.Verdict, f.Severity = procedure.Pass, procedure.Proceed
	}
	j.add(f)
	return true
}
