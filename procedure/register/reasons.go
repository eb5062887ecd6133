package register

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/reading"
)

// Thresholds of the reasons, own rules: pascals, seconds, days, shares.
const (
	riseOver       = 0.3 // a rise of the mean when fans start
	stillReadings  = 3   // readings of several samples each without any spread
	clockSlack     = 2   // seconds by which a clock may be longer than what passed
	screenSeconds  = 2   // less than anyone needs to read a screen and answer it
	coSlack        = 15  // seconds by which the wait before CO may fall short
	calibrationAge = 365 // days
	lowShare       = 0.25
	lowFrom        = 2.0 // predicted net from which a low one is told
	highShare      = 3.0
	highOver       = 5.0
	// afterSealing is the rule of the findings of a forecast
	afterSealing = "after-sealing"
	// exponent of the single-zone estimate, common practice
	exponent = 0.65
)

// Reasons why a home wants attention, as far as its own record tells, in the
// order of [Codes].
func Reasons(e Evidence) []Reason {
	var out []Reason
	for _, f := range []func(Evidence) []Reason{integrity, decision, tooClose, forecastOver, otherwise, closing, rises, netFarOff, sameDigits, noSpread, slowClock, fastWalk, drift, doubts, calibration, fromMemory} {
		out = append(out, f(e)...)
	}
	return sorted(out)
}

func sorted(r []Reason) []Reason {
	slices.SortStableFunc(r, func(a, b Reason) int { return slices.Index(Codes, a.Code) - slices.Index(Codes, b.Code) })
	return r
}

func one(c Code, args ...string) []Reason {
	r := Reason{Code: c}
	for i := 0; i+1 < len(args); i += 2 {
		if args[i+1] == "" {
			continue
		}
		if r.Args == nil {
			r.Args = map[string]string{}
		}
		r.Args[args[i]] = args[i+1]
	}
	return []Reason{r}
}

// integrity says what keeps the record from being trusted or judged.
func integrity(e Evidence) []Reason {
	switch {
	case e.Record.State == journal.Newer:
		return one(FromNewer, "why", e.Why)
	case e.Record.State == journal.Damaged || e.Record.State == journal.Torn:
		return one(IntegrityFailed, "state", string(e.Record.State), "why", e.Why)
	case e.Record.Fault != "":
		return one(IntegrityFailed, "state", "fault", "why", e.Record.Fault)
	case !e.Judged():
		return one(NotJudged, "why", e.Why)
	}
	return nil
}

// decision is what is made of it now, where that asks for anything.
func decision(e Evidence) []Reason {
	phase := string(e.Observations.Phase)
	switch e.Judgement.Decision {
	case procedure.Leave:
		return one(SaysLeave, "phase", phase, "about", leading(e))
	case procedure.Hold:
		return one(SaysHold, "phase", phase, "about", leading(e))
	case procedure.Incomplete:
		return one(SaysIncomplete, "phase", phase, "n", strconv.Itoa(len(e.Judgement.Missing)))
	case procedure.Refer:
		return one(SaysRefer, "phase", phase, "about", leading(e))
	}
	return nil
}

// leading names the appliances or zones of the findings that carry the
// decision.
func leading(e Evidence) string {
	var names []string
	for _, f := range e.Judgement.Findings {
		if n := name(e.Observations, f.Subject); f.Severity == e.Judgement.Decision && n != "" && !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	return strings.Join(names, ", ")
}

func name(o procedure.Observations, id string) string {
	for _, a := range o.Appliances {
		if a.ID == id {
			return a.Name
		}
	}
	for _, z := range o.Zones {
		if z.ID == id {
			return z.Name
		}
	}
	return id
}

// tooClose: values too close to their limit to call.
func tooClose(e Evidence) []Reason {
	var about []string
	for _, f := range e.Judgement.Findings {
		if f.Verdict != procedure.TooClose || f.Rule == afterSealing {
			continue
		}
		s := name(e.Observations, f.Subject)
		if f.Value != nil && f.Limit != nil {
			v, l := reading.FormatPair(*f.Value, *f.Limit, 1)
			s += " " + v + " against " + l + " " + f.Unit
		}
		if s = strings.TrimSpace(s); !slices.Contains(about, s) { // two rows, one figure
			about = append(about, s)
		}
	}
	if about == nil {
		return nil
	}
	return one(CloseToLimit, "about", strings.Join(about, "; "))
}

// forecastOver: zones that the planned sealing is told to bring past their
// limit, or too close to it.
func forecastOver(e Evidence) []Reason {
	var out []Reason
	for _, f := range e.Judgement.Findings {
		side := ""
		switch {
		case f.Rule != afterSealing || f.Value == nil || f.Limit == nil:
			continue
		case f.Verdict == procedure.Fail:
			side = "over"
		case f.Verdict == procedure.TooClose:
			side = "close"
		default:
			continue
		}
		v, l := reading.FormatPair(*f.Value, *f.Limit, 1)
		out = append(out, one(ForecastOver, "zone", name(e.Observations, f.Subject), "value", v, "limit", l, "side", side)...)
	}
	return out
}

// fromMemory: the decision rests on rows that were recalled and that no
// person has marked as checked: the finding that carries it, or, where the
// home may go ahead, one that was passed.
func fromMemory(e Evidence) []Reason {
	var rows []string
	for _, f := range e.Judgement.Findings {
		carries := f.Severity == e.Judgement.Decision && f.Verdict != procedure.Pass
		allows := f.Verdict == procedure.Pass && (e.Judgement.Decision == procedure.Proceed || e.Judgement.Decision == procedure.Refer)
		if f.Evidence == procedure.EvidenceMemory && (carries || allows) && f.Row != "" && !slices.Contains(rows, f.Row) {
			rows = append(rows, f.Row)
		}
	}
	if rows == nil {
		return nil
	}
	return one(FromMemory, "rows", strings.Join(rows, ", "))
}

// otherwise: closed on another decision than is made of it now, and whether
// the table or the program differs.
func otherwise(e Evidence) []Reason {
	d := decidedBy(e.Rec)
	if d == nil || !e.Judged() || d.Decision == e.Judgement.Decision {
		return nil
	}
	why := "program"
	if d.Scheme != e.Judgement.Scheme.SHA256 {
		why = "table"
		if planned(e.Rec).Edited != e.Judgement.Scheme.Edited {
			why = "edited"
		}
	}
	return one(OtherwiseNow, "was", string(d.Decision), "now", string(e.Judgement.Decision), "why", why, "scheme", e.Judgement.Scheme.Name)
}

// closing: open, reopened, signed on an earlier closing, returned.
func closing(e Evidence) []Reason {
	if e.Rec.Header.Record == "" {
		return nil
	}
	var out []Reason
	reason, reopened := "", false
	var signs []*procedure.Sign
	for _, ev := range e.Rec.Events {
		switch d := ev.Data.(type) {
		case *procedure.Reopen:
			reopened, reason = true, d.Reason
		case *procedure.Sign:
			signs = append(signs, d)
		}
	}
	if reopened {
		out = append(out, one(ReopenedSince, "reason", reason)...)
	} else if !e.Rec.Closed {
		out = append(out, one(StillOpen)...)
	}
	if n := len(signs); n > 0 {
		switch s := signs[n-1]; {
		case !e.Rec.Closed || s.Close != e.Rec.CloseHash:
			out = append(out, one(SignedEarlier, "name", s.Name, "verdict", s.Verdict)...)
		case s.Verdict == "return":
			out = append(out, one(Returned, "name", s.Name, "note", s.Note)...)
		}
	}
	return out
}

// rises: the mean of a reading with fans on stands above the first baseline.
func rises(e Evidence) []Reason {
	for _, z := range e.Observations.ZoneObs {
		if len(z.Baselines) == 0 {
			continue
		}
		base := procedure.MeanOf(z.Baselines[0].Values)
		for _, r := range z.Readings {
			up := procedure.MeanOf(r.Values) - base
			if len(r.Setup.Fans) > 0 && len(r.Setup.AirHandler) == 0 && up > riseOver {
				return one(RisesWithFans, "zone", name(e.Observations, z.Zone), "rise", reading.Format(up, 1))
			}
		}
	}
	return nil
}

// netFarOff: the net of the worst case against what a house of this CFM50
// gives with these fans (single-zone power law, common practice).
func netFarOff(e Evidence) []Reason {
	if !(e.CFM50 > 0) {
		return nil
	}
	for _, z := range e.Observations.ZoneObs {
		if z.Worst == nil || len(z.Baselines) == 0 {
			continue
		}
		flow := 0.0
		for _, f := range z.Worst.Setup.Fans {
			flow += e.Flows[f]
		}
		want := 50 * math.Pow(flow/e.CFM50, 1/exponent)
		net := procedure.MeanOf(z.Worst.Values) - procedure.MeanOf(z.Baselines[0].Values)
		low := want >= lowFrom && -net < lowShare*want
		high := flow > 0 && -net > highShare*want+highOver
		if low || high {
			side := "less"
			if high {
				side = "more"
			}
			return one(NetFarOff, "zone", name(e.Observations, z.Zone), "net", reading.Format(net, 1), "want", reading.Format(-want, 1), "side", side)
		}
	}
	return nil
}

// sameDigits: two readings of one home with the same samples in the same
// order, not all alike.
func sameDigits(e Evidence) []Reason {
	r := sampled(e.Observations)
	for i := range r {
		for k := i + 1; k < len(r); k++ {
			if spread(r[i].Values) > 0 && slices.Equal(r[i].Values, r[k].Values) {
				return one(SameDigits, "a", r[i].Step, "b", r[k].Step, "n", strconv.Itoa(len(r[i].Values)))
			}
		}
	}
	return nil
}

// noSpread: readings of several samples that never move.
func noSpread(e Evidence) []Reason {
	n := 0
	for _, r := range sampled(e.Observations) {
		if spread(r.Values) == 0 {
			n++
		}
	}
	if n < stillReadings {
		return nil
	}
	return one(NoSpread, "n", strconv.Itoa(n))
}

// walked reports whether the times of the record are those at which things
// were done: not copied from paper, not in an invented house whose clock may
// run faster.
func walked(e Evidence) bool { return e.Rec.Header.Record != "" && e.Rec.Header.Practice == nil }

// answerOf is what an event holds of an answer, nil for none.
func answerOf(ev procedure.Event) *procedure.Answer {
	switch d := ev.Data.(type) {
	case *procedure.Answer:
		return d
	case *procedure.Correct:
		return d.Answer
	}
	return nil
}

// took is how long an observation took by its own account, seconds.
func took(a *procedure.Answer) float64 {
	switch {
	case a == nil:
		return 0
	case a.Spill != nil && a.Spill.Outcome != procedure.SpillNone:
		return a.Spill.Seconds
	case a.Pressure != nil && a.Pressure.Log == 0:
		return a.Pressure.AveragingS
	}
	return 0
}

// slowClock: a timed observation longer than the time between what was kept
// before it and what was kept after it.
func slowClock(e Evidence) []Reason {
	if !walked(e) {
		return nil
	}
	evs := e.Rec.Events
	for i, ev := range evs {
		s := took(answerOf(ev))
		if s <= 0 || ev.Src != procedure.FromWalk || ev.Kind == procedure.KindCorrect {
			continue
		}
		before, after := time.Time{}, ev.Written
		for k := i - 1; k >= 0; k-- {
			if evs[k].Kind != procedure.KindTimer && evs[k].Written.Before(ev.Written) {
				before = evs[k].Written
				break
			}
		}
		for k := i + 1; k < len(evs); k++ {
			if evs[k].Written.After(ev.Written) {
				after = evs[k].Written
				break
			}
		}
		if before.IsZero() {
			continue
		}
		if passed := after.Sub(before).Seconds(); s > passed+clockSlack {
			return one(SlowClock, "step", ev.Step, "says", reading.Format(s, 0), "passed", reading.Format(passed, 0), "n", strconv.Itoa(ev.N))
		}
	}
	return nil
}

// fastWalk: from the first answer to the last in less time than the timed
// observations, the waits before CO and the bare answering of the screens.
func fastWalk(e Evidence) []Reason {
	if !walked(e) {
		return nil
	}
	var first, last time.Time
	timed, screens := 0.0, 0
	spills := map[string]float64{}
	for _, ev := range e.Rec.Events {
		switch ev.Kind {
		case procedure.KindAnswer, procedure.KindSetup, procedure.KindSkip:
		default:
			continue
		}
		if ev.Src != procedure.FromWalk {
			return nil // part of it is from paper
		}
		if first.IsZero() {
			first = ev.Written
		}
		if ev.Written.After(last) {
			last = ev.Written
			screens++
		}
		a := answerOf(ev)
		if a != nil && a.Spill != nil && strings.Count(ev.Step, "/") == 1 {
			spills[strings.TrimPrefix(ev.Step, "spill/")] = took(a)
		} else {
			timed += took(a)
		}
	}
	for id, s := range spills {
		if o := e.Observations.Of(id); o != nil && o.CO != nil {
			s = max(s, e.Observations.Plan.CO.AfterMin*60-coSlack)
		}
		timed += s
	}
	need, got := timed+float64(screens*screenSeconds), last.Sub(first).Seconds()
	if screens < 10 || got >= need {
		return nil
	}
	return one(FastWalk, "minutes", reading.Format(got/60, 1), "need", reading.Format(need/60, 1), "screens", strconv.Itoa(screens))
}

// drift: baselines of a zone that differ more than the plan allows.
func drift(e Evidence) []Reason {
	limit := e.Observations.Plan.Baseline.MaxDrift
	if !(limit > 0) {
		return nil
	}
	for _, z := range e.Observations.ZoneObs {
		if len(z.Baselines) < 2 {
			continue
		}
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, b := range z.Baselines {
			m := procedure.MeanOf(b.Values)
			lo, hi = min(lo, m), max(hi, m)
		}
		if d := hi - lo; d > limit && !math.IsInf(d, 0) {
			v, l := reading.FormatPair(d, limit, 1)
			return one(BaselineDrift, "zone", name(e.Observations, z.Zone), "drift", v, "limit", l)
		}
	}
	return nil
}

// doubts that nobody settled.
func doubts(e Evidence) []Reason {
	var codes []string
	for _, d := range e.Judgement.Doubts {
		if (d.Settled == "open" || d.Settled == "left") && !slices.Contains(codes, string(d.Code)) {
			codes = append(codes, string(d.Code))
		}
	}
	if codes == nil {
		return nil
	}
	return one(UnsettledDoubts, "codes", strings.Join(codes, ", "))
}

// calibration: an instrument calibrated more than a year before the test, or
// after it.
func calibration(e Evidence) []Reason {
	if len(e.Rec.Events) == 0 {
		return nil
	}
	day := DayOf(e.Rec.Events[len(e.Rec.Events)-1].Observed)
	var about []string
	for _, i := range e.Observations.Instruments {
		t, err := time.Parse("2006-01-02", i.Calibrated)
		if err != nil {
			continue
		}
		if age := day - DayOf(t); age > calibrationAge || age < 0 {
			n := i.Name
			if n == "" {
				n = i.ID
			}
			about = append(about, n+" "+i.Calibrated)
		}
	}
	if about == nil {
		return nil
	}
	return one(Calibration, "about", strings.Join(about, ", "))
}

// crossCodes are the reasons that only other records tell.
var crossCodes = []Code{SecondRecord, NoLaterTest, SameElsewhere}

// Cross returns the entry with its reasons from other records made again, and
// its urgency. Others are entries of the same record id, the same home or the
// same readings; itself among them does no harm.
func Cross(e Entry, others []Entry) Entry {
	kept := make([]Reason, 0, len(e.Reasons))
	for _, r := range e.Reasons {
		if !slices.Contains(crossCodes, r.Code) {
			kept = append(kept, r)
		}
	}
	e.Reasons = kept
	second, later, same := 0, false, ""
	allowed := e.Decision == procedure.Proceed || e.Decision == procedure.Refer
	for _, o := range others {
		if o.Key == e.Key {
			continue
		}
		if o.Record == e.Record {
			second++
		}
		if o.Practice != e.Practice {
			continue
		}
		if o.Home == e.Home && o.Phase != procedure.TestIn && o.Phase != "" && o.Day >= e.Day {
			later = true
		}
		if e.Print != "" && o.Print == e.Print && o.Home != e.Home && (same == "" || o.Home < same) {
			same = o.Home
		}
	}
	if second > 0 {
		e.Reasons = append(e.Reasons, one(SecondRecord, "n", strconv.Itoa(second+1))...)
	}
	if e.Phase == procedure.TestIn && allowed && e.Close != "" && !later {
		e.Reasons = append(e.Reasons, one(NoLaterTest)...)
	}
	if same != "" {
		e.Reasons = append(e.Reasons, one(SameElsewhere, "home", same)...)
	}
	if len(e.Reasons) == 0 {
		e.Reasons = nil
	}
	e.Reasons = sorted(e.Reasons)
	e.Urgency = Urgency(e)
	return e
}
