package register

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"math"
	"slices"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
)

// Evidence is all that is known of one record when its entry is made. The
// pure reasons read nothing else.
type Evidence struct {
	Record Record
	Rec    journal.Record // zero where it could not be read
	// Why it cannot be read or judged, English; "" where it was.
	Why          string
	Observations procedure.Observations // zero where it could not be replayed
	Judgement    procedure.Judgement    // Decision is NoDecision where it could not be judged
	CFM50        float64                // 0 not known
	Flows        map[string]float64     // rated, by fan id, cubic feet per minute
	Crew         string
	// SignatureOf the last sign-off in force.
	SignatureOf journal.SignatureState
}

// Judged reports whether a decision was made of it.
func (e Evidence) Judged() bool { return e.Judgement.Decision != procedure.NoDecision }

// Measures of one record for trends, each only where it was measured.
type Measures struct {
	Nets   []Net     `json:"nets,omitempty"`
	Drafts []float64 `json:"draft_margins,omitempty"` // pascals inside the line, negative beyond
	Spills []float64 `json:"spills_s,omitempty"`      // seconds until smoke was drawn in, or watched in vain
}

// Net depressurization of a zone, pascals, and the set-up that was the worst.
type Net struct {
	Pa     float64 `json:"pa"`
	Config string  `json:"config"`
}

// Make makes the item of what is known. Cross reasons are the store's to add.
func Make(e Evidence) Item {
	en := Entry{Record: e.Record.ID, Home: e.Record.Home, Label: e.Record.Label, State: e.Record.State, Head: e.Record.Head}
	it := Item{Record: e.Record}
	if h := e.Rec.Header; h.Record != "" {
		en.Phase, en.Practice = h.Phase, h.Practice != nil
		en.When = h.Created
		en.Crew = e.Crew
		for i, ev := range e.Rec.Events {
			if ev.Kind != procedure.KindPlan {
				en.When = ev.Observed
				break
			} else if i == 0 {
				en.When = ev.Observed
			}
		}
		en.Day = DayOf(en.When)
		if e.Rec.Closed {
			en.Close = e.Rec.CloseHash
		}
		en.Paper = paper(e.Rec)
		en.Scheme = planned(e.Rec)
		en.sign(e)
	}
	if e.Observations.Record != "" {
		it.Snapshot = NewSnapshot(e.Observations)
		for _, a := range e.Observations.Appliances {
			if !slices.Contains(en.Appliances, a.Kind) {
				en.Appliances = append(en.Appliances, a.Kind)
			}
		}
		slices.Sort(en.Appliances)
		en.Print = Print(e.Observations)
	}
	if e.Judged() {
		en.Decision, en.Scheme = e.Judgement.Decision, e.Judgement.Scheme
		en.Measures = measure(e.Judgement)
	}
	en.Reasons = Reasons(e)
	en.Urgency = Urgency(en)
	it.Entry = en
	return it
}

// DayOf a time: days since 1970-01-01 on the calendar where it was taken.
func DayOf(t time.Time) int {
	if t.IsZero() {
		return 0
	}
	y, m, d := t.Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// Date of a day that [DayOf] gave, YYYY-MM-DD; "" for none.
func Date(day int) string {
	if day == 0 {
		return ""
	}
	return time.Unix(int64(day)*86400, 0).UTC().Format(time.DateOnly)
}

// paper is the decision that the record was last closed on.
func paper(r journal.Record) procedure.Decision {
	d, last := procedure.NoDecision, procedure.NoDecision
	for _, ev := range r.Events {
		switch x := ev.Data.(type) {
		case *procedure.Decided:
			last = x.Decision
		case *procedure.Close:
			d = last
		}
	}
	return d
}

// decidedBy is the last decision written into the record, nil for none.
func decidedBy(r journal.Record) *procedure.Decided {
	for i := len(r.Events) - 1; i >= 0; i-- {
		if d, ok := r.Events[i].Data.(*procedure.Decided); ok {
			return d
		}
	}
	return nil
}

// planned is the scheme that the record was walked under.
func planned(r journal.Record) procedure.Ref {
	var ref procedure.Ref
	for _, ev := range r.Events {
		switch d := ev.Data.(type) {
		case *procedure.Plan:
			ref = d.Scheme
		case *procedure.Correct:
			if d.Plan != nil {
				ref = d.Plan.Scheme
			}
		}
	}
	return ref
}

// sign takes over the last sign-off.
func (en *Entry) sign(e Evidence) {
	for _, ev := range e.Rec.Events {
		d, ok := ev.Data.(*procedure.Sign)
		if !ok {
			continue
		}
		en.SignedBy, en.SignNote = d.Name, d.Note
		switch {
		case !e.Rec.Closed || d.Close != e.Rec.CloseHash:
			en.Signed = SignedBefore
		case d.Verdict == "accept":
			en.Signed = Accepted
		default:
			en.Signed = ReturnedBy
		}
	}
	if en.Signed == Accepted || en.Signed == ReturnedBy {
		en.Signature = e.SignatureOf
	}
}

// minPrint is the number of readings of several samples, not all alike, from
// which the same readings in another home are told.
const minPrint = 3

// Print is a hash of all pressure samples as they stand, "" where there are
// too few of them to tell one home from another.
func Print(o procedure.Observations) string {
	h := sha256.New()
	n := 0
	for _, r := range sampled(o) {
		if spread(r.Values) > 0 {
			n++
		}
		var b []byte
		b = binary.AppendUvarint(b, uint64(len(r.Values)))
		for _, v := range r.Values {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		h.Write(b)
	}
	if n < minPrint {
		return ""
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// sampled are the zone pressures of three samples or more, each once, in the
// order of the record.
func sampled(o procedure.Observations) []procedure.PressureObs {
	var out []procedure.PressureObs
	seen := map[int]bool{}
	for _, z := range o.ZoneObs {
		for _, r := range slices.Concat(z.Baselines, z.Readings) {
			if len(r.Values) >= 3 && !seen[r.N] {
				seen[r.N] = true
				out = append(out, r)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b procedure.PressureObs) int { return a.N - b.N })
	return out
}

func spread(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	return slices.Max(v) - slices.Min(v)
}

func measure(j procedure.Judgement) Measures {
	var m Measures
	for _, w := range j.WorstCase {
		if w.Net == nil {
			continue
		}
		air := "air handler off"
		if w.Config.AirHandler != "off" && w.Config.AirHandler != "" {
			air = "air handler on"
		}
		c := air
		switch w.Config.CAZDoor {
		case "open", "closed":
			c += ", CAZ door " + w.Config.CAZDoor
		}
		if len(w.Config.Doors) > 0 {
			c += ", doors shut"
		} else {
			c += ", doors open"
		}
		m.Nets = append(m.Nets, Net{*w.Net, c})
	}
	for _, f := range j.Findings {
		switch {
		case f.Rule == "draft" && f.Margin != nil && !f.Natural:
			m.Drafts = append(m.Drafts, *f.Margin)
		case f.Rule == "spillage" && f.Value != nil && !f.Natural:
			m.Spills = append(m.Spills, *f.Value)
		}
	}
	return m
}

// Classes of urgency; stores know practiceStep and acceptedFrom too. A home that cannot be judged may be anything, so only
// leave stands before it.
const (
	classStep     = 1000
	practiceStep  = 1_000_000
	acceptedFrom  = 10_000_000 // entries from here on wait for nobody
	mostPerReason = 90
)

// weight of a reason inside its class: how much it says that a look may change
// the decision for the worse.
var weight = map[Code]int64{
	SecondRecord: 80, OtherwiseNow: 90, Returned: 60, SignedEarlier: 50, ReopenedSince: 50, RisesWithFans: 80, NetFarOff: 60, SameElsewhere: 70, SameDigits: 60,
	NoSpread: 40, SlowClock: 60, FastWalk: 60, BaselineDrift: 40, UnsettledDoubts: 40, CloseToLimit: 30, ForecastOver: 40, NoLaterTest: 30, Calibration: 20, StillOpen: 20, FromMemory: 5,
}

// Urgency of an entry: smaller wants attention sooner. The more protective of
// what it was closed on and what is made of it now counts.
func Urgency(e Entry) int64 {
	d := e.Decision
	if d != procedure.NoDecision && e.Paper != procedure.NoDecision {
		d = procedure.MoreProtective(d, e.Paper)
	}
	unsure := e.Decision == procedure.NoDecision
	for _, r := range e.Reasons {
		unsure = unsure || r.Code == IntegrityFailed || r.Code == NotJudged || r.Code == FromNewer
	}
	class := int64(0)
	switch {
	case d == procedure.Leave || e.Paper == procedure.Leave:
	case unsure:
		class = 1
	case d == procedure.Hold:
		class = 2
	case d == procedure.Incomplete:
		class = 3
	case d == procedure.Refer:
		class = 4
	case d == procedure.Proceed:
		class = 5
	}
	w := int64(0)
	for _, r := range e.Reasons {
		w += min(weight[r.Code], mostPerReason)
	}
	u := (class+1)*classStep - min(w, classStep-1)
	if e.Practice {
		u += practiceStep
	}
	if e.Signed == Accepted && !unsure {
		u += acceptedFrom
	}
	return u
}

// Waits reports whether an entry of this urgency waits for a sign-off.
func Waits(urgency int64) bool { return urgency < acceptedFrom }

// InventedFrom is the urgency from which entries that wait are of invented
// houses; of those that were accepted it is that much above [WaitsBelow].
const InventedFrom = practiceStep

// WaitsBelow is the urgency below which entries wait for a sign-off.
const WaitsBelow = acceptedFrom
