package journal

import (
	"maps"
	"slices"

	"cazward/procedure"
)

// rules is what must be remembered of the lines so far to say whether the
// next event may stand where it stands.
type rules struct {
	practice bool
	// kinds and by are indexed by n-1. A correct has the kind of its payload;
	// by is the n of the correct that replaced the event, 0 while in force.
	kinds    []procedure.Kind
	by       []int
	reading  bool // something was measured, so the plan is fixed
	decided  int  // n of a decided that is the last event
	closed   bool
	close    string // hash of the last close line
	closes   map[string]bool
	attached []string // hashes in order of first appearance
}

func newRules(h procedure.Header) rules {
	return rules{practice: h.Practice != nil, closes: map[string]bool{}}
}

func (r rules) clone() rules {
	r.kinds = slices.Clone(r.kinds)
	r.by = slices.Clone(r.by)
	r.closes = maps.Clone(r.closes)
	r.attached = slices.Clone(r.attached)
	return r
}

// next is the number of the next event.
func (r *rules) next() int { return len(r.kinds) + 1 }

// accept takes in an event and the hash of its line, or says why the event
// may not follow and changes nothing.
func (r *rules) accept(ev procedure.Event, hash string) *fault {
	n := r.next()
	switch {
	case ev.N != n:
		return faultf(WhyNumber, "event number %d where %d comes next", ev.N, n)
	case (n == 1) != (ev.Kind == procedure.KindPlan):
		return faultf(WhyOrder, "%s as event %d: the plan is event 1 and only that", ev.Kind, n)
	case r.closed && ev.Kind != procedure.KindSign && ev.Kind != procedure.KindReopen:
		return faultf(WhyOrder, "%s after a close: only a sign-off or a reopen may follow", ev.Kind)
	}
	kind := ev.Kind
	switch d := ev.Data.(type) {
	case *procedure.Answer:
		r.reading = r.reading || isReading(d)
	case *procedure.Log:
		r.reading = true
	case *procedure.House:
		if !r.practice {
			return faultf(WhyOrder, "house state in a record that is not practice")
		}
	case *procedure.Attach:
		if !IsHash(d.SHA256) || d.Bytes < 0 {
			return faultf(WhyValue, "attachment %q of %d bytes", d.SHA256, d.Bytes)
		}
		if !slices.Contains(r.attached, d.SHA256) {
			r.attached = append(r.attached, d.SHA256)
		}
	case *procedure.Correct:
		k, f := r.correct(d)
		if f != nil {
			return f
		}
		kind = k
		r.by[d.Replaces-1] = n
		r.reading = r.reading || d.Answer != nil && isReading(d.Answer)
	case *procedure.Close:
		if r.decided == 0 || d.Decided != r.decided {
			return faultf(WhyTarget, "close names event %d: it must name the decision just before it", d.Decided)
		}
		if got, want := slices.Sorted(slices.Values(d.Attachments)), slices.Sorted(slices.Values(r.attached)); !slices.Equal(got, want) {
			return faultf(WhyAttachment, "close lists %d attachments where the record has %d, or others, or one twice", len(got), len(want))
		}
		r.closed, r.close = true, hash
		r.closes[hash] = true
	case *procedure.Reopen:
		if !r.closed || d.Close != r.close {
			return faultf(WhyTarget, "reopen names %q, which is not the closing in force", d.Close)
		}
		r.closed = false
	case *procedure.Sign:
		if !r.closes[d.Close] {
			return faultf(WhyTarget, "sign-off names %q, which is no closing of this record", d.Close)
		}
		if d.Name == "" || d.Verdict != "accept" && d.Verdict != "return" {
			return faultf(WhyValue, "sign-off needs a name and accept or return, not %q", d.Verdict)
		}
	}
	r.decided = 0
	if ev.Kind == procedure.KindDecided {
		r.decided = n
	}
	r.kinds = append(r.kinds, kind)
	r.by = append(r.by, 0)
	return nil
}

// correct checks a correction and returns the kind of what it puts in place.
func (r *rules) correct(d *procedure.Correct) (procedure.Kind, *fault) {
	var kinds []procedure.Kind
	for _, p := range []struct {
		set  bool
		kind procedure.Kind
	}{
		{d.Answer != nil, procedure.KindAnswer},
		{d.Setup != nil, procedure.KindSetup},
		{d.Skip != nil, procedure.KindSkip},
		{d.Hazard != nil, procedure.KindHazard},
		{d.Doubt != nil, procedure.KindDoubt},
		{d.Told != nil, procedure.KindTold},
		{d.Plan != nil, procedure.KindPlan},
	} {
		if p.set {
			kinds = append(kinds, p.kind)
		}
	}
	if len(kinds) != 1 {
		return "", faultf(WhyValue, "correction with %d new payloads; it takes one", len(kinds))
	}
	if d.Replaces < 1 || d.Replaces >= r.next() {
		return "", faultf(WhyTarget, "correction of event %d, which is not there", d.Replaces)
	}
	if by := r.by[d.Replaces-1]; by != 0 {
		return "", faultf(WhyTarget, "correction of event %d, which event %d has replaced: correct that one", d.Replaces, by)
	}
	was, now := r.kinds[d.Replaces-1], kinds[0]
	// A step is settled by its data or by a skip, so either can take the
	// other's place.
	settles := func(skip, k procedure.Kind) bool {
		return skip == procedure.KindSkip && (k == procedure.KindAnswer || k == procedure.KindSetup || k == procedure.KindTold)
	}
	if was != now && !settles(was, now) && !settles(now, was) {
		return "", faultf(WhyTarget, "correction of event %d, a %s, with a %s", d.Replaces, was, now)
	}
	if was == procedure.KindPlan && r.reading {
		return "", faultf(WhyOrder, "correction of the plan after the first reading")
	}
	return now, nil
}

// isReading reports whether an answer is a measurement.
func isReading(a *procedure.Answer) bool {
	return a.Pressure != nil || a.Pairs != nil || a.Gas != nil || a.Spill != nil
}
