package evaluation

import (
	"math"

	"cazward/procedure"
)

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
	seen := seenVenting || ao.Draft != nil || ao.DraftNatural != nil || ao.CO != nil || ao.CONatural != nil || len(ao.Earlier) > 0 || ao.Emergency != nil
	seenVenting = seenVenting || ao.Draft != nil || ao.DraftNatural != nil || len(ao.FailedSpill)+len(ao.FailedDraft) > 0 || ao.FailedTogether > 0
	seen = seen || seenVenting
	if shutOff(ao.Prior) && ao.Serviced != procedure.Yes && (fuelled(a) || seen) { // not where an electric one stands now
		// What an earlier phase shut off stays off until somebody put it right.
		j.ruled("not-serviced", "inventory", a.ID, procedure.Hold, ao.Prior, "not-serviced")
		if ao.Serviced == procedure.Unknown {
			j.miss("serviced/"+a.ID, "no-answer", a.ID)
		}
	}
	if a.NoHood() {
		j.ruled("draft-hood", "visual", a.ID, procedure.Hold, procedure.OffUntilServiced, "draft-hood")
	}
	if !fuelled(a) && !seen {
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
	if j.o.Home == procedure.MobileHome && fuelled(a) && a.Fired() && !a.Kind.Cooking() && a.Venting() != procedure.DirectVent {
		// In a mobile home all but cooking is made to take its air from
		// outdoors (24 CFR 3280.707 and 3280.709, from memory): somebody who
		// knows its listing decides whether this one belongs there.
		j.ruled("mobile-room-air", "inventory", a.ID, procedure.Refer, procedure.StatusNone, "mobile-room-air")
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
	}
	if ao.NotFired != "" {
		// Shut down by what was found of it, which has the finding.
		st := procedure.OffUntilServiced
		if ao.NotFired == "rollout" || ao.NotFired == "leak" || ao.NotFired == "co-emergency" {
			st = procedure.FuelOff
		}
		j.mark(a.ID, st)
		if j.shut(a.ID) && !seen {
			return
		}
	}
	v := venting{spill: procedure.OutcomePass, draft: procedure.OutcomePass}
	switch {
	case a.Fired() && a.Susceptible() != procedure.No:
		v = j.venting(a, ao, true)
	case seenVenting:
		// By its facts as they stand now it would not have been tried: a
		// failure that was seen is not unseen by a correction.
		v = j.venting(a, ao, false)
	}
	j.co(a, ao, v)
}

// shutOff reports a status that forbids use.
func shutOff(s procedure.Status) bool {
	return s != procedure.StatusNone && s != procedure.MayRun && s != procedure.MayRunNoFans
}

func failed(v procedure.Verdict) bool { return v == procedure.Fail || v == procedure.TooClose }

// venting judges spillage and draft and says how both came out. What was not
// seen is missing where house pressure can make the appliance spill and
// nothing forbids lighting it; what was seen counts in any case.
func (j *judge) venting(a procedure.Appliance, ao *procedure.ApplianceObs, susceptible bool) venting {
	required := susceptible && !j.shut(a.ID)
	natural, drafty := "/natural", j.draftAsked(a)
	sp, dr := j.spill(a, ao.Spill, "spill/"+a.ID, "worst"), procedure.NotApplicable
	if zo := j.o.ZoneOf(a.Zone); susceptible && zo != nil && zo.Worst != nil && zo.Held != nil {
		// What was not seen at the held worst case was not seen there.
		if ao.Spill != nil && sp == procedure.Pass && ao.Spill.SetupN > 0 && zo.Worst.SetupN > 0 && ao.Spill.SetupN != zo.Worst.SetupN {
			j.miss("spill/"+a.ID, "configuration-incomplete", a.ID)
		}
		if d := ao.Draft; d != nil && (d.SetupN <= 0 || !sameSetup(d.Setup, *zo.Held)) {
			j.miss("draft/"+a.ID, "configuration-incomplete", a.ID)
		}
	}
	if sp == procedure.NotEvaluated && required {
		j.miss("spill/"+a.ID, "no-answer", a.ID)
	}
	for _, f := range ao.FailedSpill {
		if j.spill(a, &f, "spill/"+a.ID, "worst") == procedure.Fail {
			sp = procedure.Fail
		}
	}
	if ao.FailedTogether > 0 && ao.Together != procedure.No {
		ao.Together, ao.TogetherN = procedure.No, ao.FailedTogether
	}
	if ao.Together == procedure.No {
		sp = procedure.Fail
		j.add(procedure.Finding{Rule: "spillage", Subject: a.ID, Verdict: procedure.Fail, Severity: procedure.Hold, Status: procedure.OffUntilServiced, Unit: "s", Row: "own-rule", Source: ownRule, Evidence: procedure.EvidenceOwnRule, Detail: "together", Action: "service-or-house", About: nonZero(ao.TogetherN)})
	}
	if required && sp != procedure.Fail && ao.Together != procedure.Yes && j.o.Plan.Spillage.Together && (j.sharesFired(a) || a.Facts.Shares != procedure.No && len(a.Partners) == 0) {
		// Who else is on the vent is not known: nobody saw it with them lit.
		j.miss("together/"+a.ID, "no-answer", a.ID)
	}
	switch {
	case sp == procedure.Fail:
		j.ruled("spillage-fails", "venting", a.ID, procedure.Hold, procedure.MayRunNoFans, "worst")
		j.known["draft/"+a.ID] = true // known bad: spillage has the finding
	case drafty && (required || ao.Draft != nil):
		dr = j.draft(a, ao.Draft, ao, "draft/"+a.ID, "worst")
	}
	for _, p := range ao.FailedDraft {
		if x := j.draft(a, &p, ao, "draft/"+a.ID, "worst"); failed(x) && !failed(dr) {
			dr = x
		}
	}
	// Over 400 ppm it is not lit again for natural conditions, nor where it was
	// shut down; what was seen of them counts all the same.
	wanted := (sp == procedure.Fail || failed(dr)) && !j.shut(a.ID) && !emergency(ao)
	ns, nd := j.spill(a, ao.SpillNatural, "spill/"+a.ID+natural, "natural"), procedure.NotApplicable
	switch {
	case ns == procedure.Fail:
		j.ruled("spillage-natural", "venting", a.ID, procedure.Hold, procedure.OffUntilServiced, "natural", ao.SpillNatural.N)
		j.known["draft/"+a.ID+natural] = true
	case drafty && (wanted || ao.DraftNatural != nil):
		nd = j.draft(a, ao.DraftNatural, ao, "draft/"+a.ID+natural, "natural")
		if failed(nd) {
			j.ruled("draft-natural", "venting", a.ID, procedure.Hold, procedure.OffUntilServiced, "natural", ao.DraftNatural.N)
		}
	}
	if wanted && (ns == procedure.NotEvaluated || nd == procedure.NotEvaluated) {
		j.ruled("natural-not-tested", "venting", a.ID, procedure.Incomplete, procedure.OffUntilServiced, "natural-not-tested")
		if ns == procedure.NotEvaluated {
			j.miss("spill/"+a.ID+natural, "no-answer", a.ID)
		}
	}
	return venting{spill: outcome(sp, ns), draft: outcome(dr, nd)}
}

// outcome in the words of the action matrix; "" where it is not known.
func outcome(worst, natural procedure.Verdict) procedure.Outcome {
	switch {
	case failed(natural):
		return procedure.OutcomeNatural
	case failed(worst):
		return procedure.OutcomeWorst
	case worst == procedure.NotEvaluated:
		return ""
	}
	return procedure.OutcomePass
}

func (j *judge) draftAsked(a procedure.Appliance) bool {
	return j.r.Draft.Set && procedure.DraftPlan{Vents: j.r.Draft.Vents}.Asked(a.Venting())
}

// sharesFired reports whether another appliance on the vent is lit too.
func (j *judge) sharesFired(a procedure.Appliance) bool {
	for _, id := range a.Partners {
		if p, ok := j.o.Appliance(id); ok && p.Fired() && p.Facts.Fireable != procedure.No && !j.shut(id) {
			return true
		}
	}
	return false
}

// spill judges one timed observation against the strictest time that could
// apply.
func (j *judge) spill(a procedure.Appliance, s *procedure.SpillObs, step, cond string) procedure.Verdict {
	if s == nil || s.Outcome == "" || s.Outcome != procedure.SpillStill && (math.IsNaN(s.Seconds) || s.Seconds < 0) {
		return procedure.NotEvaluated
	}
	t := procedure.TraitsOf(a, j.o.Appliances)
	t.Cold = s.Cold
	c := procedure.Match(j.r.Spillage, t)
	f := procedure.Finding{Rule: "spillage", Subject: a.ID, Severity: procedure.Incomplete, Value: ptr(s.Seconds), Unit: "s", Source: "no figure in this scheme", Evidence: procedure.EvidenceOwnRule, Detail: cond, Natural: cond == "natural", About: nonZero(s.N), Unsure: c.Unsure}
	l := c.Limit
	if c.Found {
		f.Limit, f.Margin, f.Row, f.Source, f.Evidence = ptr(l.Bound.Value), ptr(l.Bound.Margin(s.Seconds)), l.ID, l.Source.String(), l.Evidence
	} else {
		j.miss(step, "no-figure", a.ID)
	}
	switch {
	case s.Outcome == procedure.SpillStill:
		// It never stopped: more than the time that was watched.
		f.Verdict, f.Detail, f.Margin = procedure.Fail, cond+"-still", nil
	case !c.Found:
	case l.Bound.Side(s.Seconds, 0) == procedure.SideInside && (s.Outcome == procedure.SpillStopped || s.Outcome == procedure.SpillNone):
		f.Verdict, f.Severity = procedure.Pass, procedure.Proceed
	default:
		f.Verdict = procedure.Fail
	}
	if f.Verdict == procedure.Fail {
		f.Severity, f.Status, f.Action = procedure.Hold, procedure.MayRunNoFans, "service-or-house"
		if f.Natural {
			f.Status, f.Action = procedure.OffUntilServiced, "stop-service"
		}
	}
	j.add(f)
	return f.Verdict
}

// draft judges one draft reading. Not applicable: nature forbids measuring it,
// which has its own finding.
func (j *judge) draft(a procedure.Appliance, p *procedure.PressureObs, ao *procedure.ApplianceObs, step, cond string) procedure.Verdict {
	limit, row, ok := 0.0, j.r.Draft.Row, true
	if a.Burner.Fuel == procedure.Oil {
		if ao.BreechPa == nil || !finite(*ao.BreechPa) || *ao.BreechPa == 0 {
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
	if p == nil && ao.Draft == nil && ao.DraftNatural == nil && (a.Facts.TestHole == procedure.No || j.byNature(step)) {
		j.known[step] = true
		j.ruled("no-test-hole", "draft", a.ID, procedure.Refer, procedure.StatusNone, "no-test-hole")
		return procedure.NotApplicable
	}
	if p == nil || !finite(p.Values...) {
		j.miss(step, "no-answer", a.ID)
		return procedure.NotEvaluated
	}
	if a.Burner.Fuel != procedure.Oil {
		t, known := j.outdoorF()
		if limit, ok = procedure.DraftLimit(j.r.Draft.Line, t); !known || !ok {
			j.miss("arrive/weather", "no-answer", a.ID)
			return procedure.NotEvaluated
		}
	}
	b := procedure.Bound{Value: limit, Sense: procedure.AtMost}
	v, u := procedure.MeanOf(p.Values), procedure.DraftU(*p, j.gauge(), j.r.Uncertainty)
	f := procedure.Finding{Rule: "draft", Subject: a.ID, Severity: procedure.Refer, Status: procedure.MayRunNoFans, Value: ptr(v), Limit: ptr(limit), Unit: "Pa", Uncertainty: ptr(u), Margin: ptr(b.Margin(v)), Row: row.ID, Source: row.Source.String(), Evidence: row.Evidence, Action: "service-or-house", Detail: cond, Natural: cond == "natural", About: nonZero(p.N)}
	if f.Natural {
		f.Severity, f.Status, f.Action = procedure.Hold, procedure.OffUntilServiced, "stop-service"
	}
	s := b.Side(v, u)
	if !(u > 0) && s != procedure.SideBeyond {
		s = procedure.SideUnknown // nobody can say how sure it is
	}
	switch s {
	case procedure.SideBeyond:
		f.Verdict = procedure.Fail
	case procedure.SideTooClose:
		f.Verdict = procedure.TooClose
	case procedure.SideInside:
		f.Verdict, f.Severity, f.Status, f.Action = procedure.Pass, procedure.Proceed, procedure.StatusNone, ""
	default:
		f.Severity, f.Status, f.Action = procedure.Incomplete, procedure.StatusNone, ""
		j.miss(step, "not-a-number", a.ID)
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
