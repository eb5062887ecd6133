package procedure

import "time"

// Observations are what the test saw, as far as present facts hold: stale and
// skipped things are not in it, only named in Open. It is all that a judge
// gets to see.
type Observations struct {
	Record   string
	HomeID   string
	Phase    Phase
	Practice bool
	Plan     Plan

	Home         HomeKind
	Zones        []Zone
	Appliances   []Appliance
	Fans         []RosterItem
	Doors        []RosterItem
	AirHandlers  []RosterItem
	FansKnown    bool // the list was answered, so that an empty one means none
	DoorsKnown   bool
	AirKnown     bool
	BurnersKnown bool
	// Gone are appliances that an earlier phase shut off, that are not on the
	// list any more, and that nobody said were taken away.
	Gone []string
	// TakenAway are those of which somebody did.
	TakenAway []string

	// CFM50 of the house today and as it is planned to be after sealing; nil
	// where not known.
	CFM50, SealTo *float64

	Checks      []Check
	Weather     *Weather
	Later       []Weather // read again after a stop, when it had turned
	Instruments []Instrument
	Ambient     []AmbientObs
	LEL         []AmbientObs // gas in room air, percent LEL
	Hazards     []HazardObs
	ZoneObs     []ZoneObs
	ApplObs     []ApplianceObs
	Doubts      []DoubtObs
	Told        []Told
	Notes       []string
	Skips       []SkipObs
	// Open are steps that present facts require and that have no answer, or
	// a skip, or a stale one.
	Open []Missing
	// Tester signed the decision.
	Tester string
}

// Check is one checklist line that was answered.
type Check struct {
	Key, Code, Subject string
	Stage              StageID
	State              SeenState
	Text               string
	N                  int
}

// AmbientObs is CO in room air, ppm; gas in room air, percent LEL.
type AmbientObs struct {
	N         int
	Step      string
	Value     float64
	OverRange bool
	At        time.Time
}

// HazardObs is a hazard as it now stands; the more protective of two values
// after a correction. Settled: its source was found and stopped. Source is
// the appliance it came from, where known.
type HazardObs struct {
	N       int
	Hazard  Hazard
	Settled Tri
	Source  string
}

// PressureObs is one pressure reading in pascals.
type PressureObs struct {
	N          int
	Step       string
	Values     []float64 // Pa
	AveragingS float64
	Instrument string
	Setup      Setup
	SetupN     int
	At         time.Time
	// SE and EffectiveN come with a log window; 0 otherwise.
	SE, EffectiveN float64
}

// ZoneObs are the readings of one zone.
type ZoneObs struct {
	Zone      string
	Baselines []PressureObs // opening first, then repeated and closing
	Readings  []PressureObs // every reading with fans on, in order
	Held      *Setup        // worst-case set-up as confirmed, nil if never
	Worst     *PressureObs  // the reading at the held worst case
	Pairs     *PairsObs
	// DoorsDecided: each interior door was decided (smoke, pressure or rule).
	DoorsDecided bool
	AirDecided   bool
	CAZDecided   bool
	// AsBefore: a daily test held the worst case that the record before it had
	// found, and did not search again.
	AsBefore bool
}

// PairsObs are repeated off/on readings at worst case, in pascals.
type PairsObs struct {
	N       int
	Off, On []float64
	Setup   Setup
}

// SpillObs is a timed spillage observation.
type SpillObs struct {
	N       int
	Outcome SpillOutcome
	Seconds float64
	Cold    Tri // vent cold at light-off; Unknown when minutes since fired are not known
	SetupN  int
	Timed   bool
}

// GasObs is an analyser sample of one appliance, ppm as measured and percent.
type GasObs struct {
	N         int
	CO        []float64
	O2        []*float64
	OverRange bool
	Rising    bool
}

// ApplianceObs are the observations of one appliance.
type ApplianceObs struct {
	ID           string
	MinutesSince *float64 // since its main burner last ran, before the first light-off
	Spill        *SpillObs
	SpillNatural *SpillObs
	Together     Tri // no spillage with all on the vent lit: Yes is fine, No spilled
	TogetherN    int
	Draft        *PressureObs
	DraftNatural *PressureObs
	BreechPa     *float64 // oil: draft at the breech that the maker asks for
	BreechKnown  Tri      // No: the maker's figure is not at hand
	CO           *GasObs
	CONatural    *GasObs
	NotFired     string // code of why it was not lit, "" if it was or will be
	// Earlier are samples that were taken again for a doubt: what they showed is
	// not unseen, it is the least there was. Emergency is one above 400 ppm from
	// when its venting failed; whatever changed since, it is not lit again.
	Earlier   []GasObs
	Emergency *GasObs
	// FailedSpill, FailedDraft and FailedTogether are observations that failed
	// and were made again for what they rested on: they are not unseen.
	FailedSpill    []SpillObs
	FailedDraft    []PressureObs
	FailedTogether int
	// Prior is the status that an earlier phase gave it; Serviced: somebody
	// qualified has put it right since.
	Prior    Status
	Serviced Tri
}

// DoubtObs is a doubt as it now stands. OnPressure: it is about a pressure of
// the zone, so that leaving it unsettled leaves the result incomplete.
type DoubtObs struct {
	N          int
	Doubt      Doubt
	OnPressure bool
	Zone       string
	Step       string
}

// SkipObs is a step left out with a reason.
type SkipObs struct {
	N      int
	Step   string
	Skip   Skip
	Wanted bool
}

// Zone returns the observations of a zone, nil if there are none.
func (o Observations) ZoneOf(id string) *ZoneObs {
	for i := range o.ZoneObs {
		if o.ZoneObs[i].Zone == id {
			return &o.ZoneObs[i]
		}
	}
	return nil
}

// Of returns the observations of an appliance, nil if there are none.
func (o Observations) Of(id string) *ApplianceObs {
	for i := range o.ApplObs {
		if o.ApplObs[i].ID == id {
			return &o.ApplObs[i]
		}
	}
	return nil
}

// Appliance returns an appliance by id.
func (o Observations) Appliance(id string) (Appliance, bool) {
	for _, a := range o.Appliances {
		if a.ID == id {
			return a, true
		}
	}
	return Appliance{}, false
}
