package procedure

import "math"

// StageID names a stage of the walk.
type StageID string

// Append-only.
const (
	StageArrive     StageID = "arrive"
	StageList       StageID = "list"
	StageLook       StageID = "look"
	StagePrepare    StageID = "prepare"
	StageHose       StageID = "hose"
	StageBaseline   StageID = "baseline"
	StageFans       StageID = "fans"
	StageDoors      StageID = "doors"
	StageAirHandler StageID = "air-handler"
	StageCAZDoor    StageID = "caz-door"
	StageWorst      StageID = "worst-case"
	StageAppliances StageID = "appliances"
	StageClosing    StageID = "closing-baseline"
	StageNatural    StageID = "natural"
	StagePutBack    StageID = "put-back"
	StageDecide     StageID = "decide"
)

// Stages in the order in which screens number them, 1 to 16. A plan may walk
// fans, doors, air handler and CAZ door in another order.
var Stages = []StageID{StageArrive, StageList, StageLook, StagePrepare, StageHose, StageBaseline, StageFans, StageDoors, StageAirHandler, StageCAZDoor, StageWorst, StageAppliances, StageClosing, StageNatural, StagePutBack, StageDecide}

// Ref names the limit scheme that a plan or a judgement followed.
type Ref struct {
	Name    string `json:"name"`
	Title   string `json:"title"`
	Edition string `json:"edition"`
	Status  string `json:"status"`
	SHA256  string `json:"sha256"`
	Edited  bool   `json:"edited"`
}

// Plan fixes order, times and flows of a test. It is a value without
// functions, written as the first event of a record, so that replay needs no
// limit file and survives an upgrade.
type Plan struct {
	Scheme     Ref           `json:"scheme"`
	Stages     []Stage       `json:"stages"`
	Baseline   BaselinePlan  `json:"baseline"`
	Doors      string        `json:"doors"`       // smoke, pressure, close-all, both
	DryerFirst bool          `json:"dryer_first"` // read with the dryer alone before all fans
	AirHandler AirPlan       `json:"air_handler"`
	CAZDoor    string        `json:"caz_door"`       // both: read both ways, keep the more negative; closed
	More       int           `json:"more,omitempty"` // most readings that may be suggested after the search
	Fireplace  *FlowPlan     `json:"fireplace"`
	Spillage   SpillagePlan  `json:"spillage"`
	Draft      DraftPlan     `json:"draft"`
	CO         COPlan        `json:"co"`
	Natural    []string      `json:"natural"`  // what brings on natural conditions: spillage, draft
	Pressure   []Limit       `json:"pressure"` // zone limits as planned, to tell a reading's side on screen
	Interrupts []Tier        `json:"interrupts"`
	Constants  Uncertainties `json:"uncertainty"`
}

// Stage of a plan. Needs names what must exist for it to be walked at all
// (for example "vented"); Repeat is "home" or "zone".
type Stage struct {
	ID     StageID `json:"id"`
	Needs  string  `json:"needs,omitempty"`
	Repeat string  `json:"repeat,omitempty"`
}

// BaselinePlan: pascals, miles per hour, seconds.
type BaselinePlan struct {
	MinSamples   int     `json:"min_samples"`
	MinAveraging float64 `json:"min_averaging_s"`
	MaxSpread    float64 `json:"max_spread_pa"`
	MaxWind      float64 `json:"max_wind_mph"`
	Closing      bool    `json:"closing"`
	MaxDrift     float64 `json:"max_drift_pa"`
	Net          string  `json:"net"` // single, larger
}

// AirPlan says when the air handler is tried.
type AirPlan struct {
	When         string `json:"when"` // first, last
	RecheckDoors bool   `json:"recheck_doors"`
	// WithCAZDoor tries it with the CAZ door shut too, in each combination that
	// was only tried with it open: a return that leaks in the zone pulls hardest there.
	WithCAZDoor bool `json:"with_caz_door,omitempty"`
}

// FlowPlan is the flow that stands in for a lit fireplace; nil in a plan
// means damper closed and no stand-in.
type FlowPlan struct {
	CFM float64 `json:"cfm"`
}

// SpillagePlan in seconds from main-burner light-off. ColdAfter is how many
// minutes since the burner last ran make a vent cold; Between is the wait
// between appliances.
type SpillagePlan struct {
	Warm      float64 `json:"warm_s"`
	Cold      float64 `json:"cold_s"`
	ColdAfter float64 `json:"cold_after_min"`
	Between   float64 `json:"between_min"`
	Together  bool    `json:"together"` // all on one vent lit and every hood checked again
}

// DraftPlan: for which vents a draft is asked, and the line it must reach.
type DraftPlan struct {
	Vents []VentType   `json:"vents"`
	Line  []DraftPoint `json:"line"`
}

// Asked reports whether the plan asks draft of the vent; an unknown vent is
// asked as if it were one that the plan names.
func (d DraftPlan) Asked(v VentType) bool {
	if v == VentUnknown {
		return len(d.Vents) > 0
	}
	for _, x := range d.Vents {
		if x == v {
			return true
		}
	}
	return false
}

// DraftPoint of the minimum-draft line: at this outdoor temperature (degrees
// Fahrenheit) the draft must be this strong or stronger (pascals, negative).
type DraftPoint struct {
	TempF float64 `json:"temp_f"`
	Pa    float64 `json:"pa"`
}

// COPlan: when and on which basis CO is read.
type COPlan struct {
	AfterMin float64         `json:"after_min"`
	Basis    string          `json:"basis"` // as-measured, air-free
	Kinds    []ApplianceKind `json:"kinds"` // appliances whose CO the scheme asks for
	Diluted  float64         `json:"diluted_o2_pct"`
}

// Asked reports whether the plan asks CO of the kind.
func (c COPlan) Asked(k ApplianceKind) bool {
	for _, x := range c.Kinds {
		if x == k {
			return true
		}
	}
	return false
}

// Act is what a value of ambient CO or gas in air demands.
type Act string

// Append-only, milder first.
const (
	ActNone   Act = ""
	ActSource Act = "source" // find the source; refer if it is not settled
	ActHold   Act = "hold"
	ActLeave  Act = "leave"
	ActOut    Act = "out" // leave, out first, controls only on the way
)

func (a Act) rank() int {
	switch a {
	case ActNone:
		return 0
	case ActSource:
		return 1
	case ActHold:
		return 2
	case ActLeave:
		return 3
	case ActOut:
		return 4
	}
	return 4 // an act this version does not know is the most protective one
}

// Tier of the life-safety floor: from a value on (or above it, when Above),
// act.
type Tier struct {
	Row      string     `json:"row"`
	Code     HazardCode `json:"code"`
	From     float64    `json:"from"`
	Above    bool       `json:"above,omitempty"` // the value itself is still the tier below
	Unit     string     `json:"unit"`
	Act      Act        `json:"act"`
	Source   string     `json:"source"`
	Evidence Evidence   `json:"evidence"`
	Checked  *Checked   `json:"checked,omitempty"`
}

// TierAt returns the most protective tier that the displayed value reaches,
// and false when it reaches none. Over range reaches every tier of its code.
func TierAt(tiers []Tier, code HazardCode, value float64, overRange bool) (Tier, bool) {
	var best Tier
	found := false
	for _, t := range tiers {
		if t.Code != code {
			continue
		}
		// A value that no instrument shows is no comfort: it reaches every tier.
		nonsense := math.IsNaN(value) || value < 0
		reached := overRange || nonsense || value > t.From || (value == t.From && !t.Above)
		if reached && (!found || t.Act.rank() > best.Act.rank()) {
			best, found = t, true
		}
	}
	return best, found
}

// Uncertainties are the constants of the uncertainty of a pressure, in
// pascals and percent (own rule; each is data of the scheme).
type Uncertainties struct {
	AccuracyPa  float64 `json:"accuracy_pa"`  // gauge accuracy where the gauge's own is not known
	AccuracyPct float64 `json:"accuracy_pct"` // or this share of the reading, whichever is larger
	DefaultS    float64 `json:"default_s_pa"` // standard deviation where only averaged values exist
	Resolution  float64 `json:"resolution_pa"`
	MinPairs    int     `json:"min_pairs"`
	Coverage    float64 `json:"coverage"` // U = coverage * u
}
