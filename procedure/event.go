package procedure

import "time"

// Format and version of a record's first line. A newer version is refused.
const (
	RecordFormat  = "cazward-record"
	RecordVersion = 1
	// MaxLine is the longest line of a record in bytes, with its LF.
	MaxLine = 64 << 10
)

// Header is the first line of a record.
type Header struct {
	Format   string    `json:"format"`
	V        int       `json:"v"`
	Record   string    `json:"record"`
	Home     string    `json:"home"`
	Phase    Phase     `json:"phase"`
	Created  time.Time `json:"created"`
	Practice *Practice `json:"practice"`
	Prior    *Prior    `json:"prior"`
}

// Practice marks a record made in an invented house.
type Practice struct {
	House  string `json:"house"`
	SHA256 string `json:"sha256"`
	Seed   int64  `json:"seed"`
}

// Prior names the record of an earlier phase and its closing hash.
type Prior struct {
	Record string `json:"record"`
	Close  string `json:"close"`
}

// Kind of an event.
type Kind string

// Append-only.
const (
	KindPlan     Kind = "plan"
	KindAnswer   Kind = "answer"
	KindSetup    Kind = "setup"
	KindSkip     Kind = "skip"
	KindNote     Kind = "note"
	KindHandover Kind = "handover"
	KindTimer    Kind = "timer"
	KindHazard   Kind = "hazard"
	KindAttach   Kind = "attach"
	KindLog      Kind = "log"
	KindDoubt    Kind = "doubt"
	KindTold     Kind = "told"
	KindCorrect  Kind = "correct"
	KindHouse    Kind = "house"
	KindDecided  Kind = "decided"
	KindClose    Kind = "close"
	KindReopen   Kind = "reopen"
	KindSign     Kind = "sign"
)

// Source says where an answer came from.
type Source string

// Append-only.
const (
	FromWalk  Source = "walk"
	FromSheet Source = "sheet"
	FromLog   Source = "log"
	FromDrill Source = "drill"
)

// Event is one line of a record after the header. Order is N, never time:
// Observed is when a thing was seen, Written when it was saved.
type Event struct {
	N        int
	Kind     Kind
	Step     string
	Observed time.Time
	Written  time.Time
	Who      string
	Src      Source
	Data     Data
}

// Data is the payload of an event; one concrete type per Kind.
type Data interface{ EventKind() Kind }

// NewData returns a pointer to the zero payload of a kind, or nil for a kind
// this version does not know.
func NewData(k Kind) Data {
	switch k {
	case KindPlan:
		return &Plan{}
	case KindAnswer:
		return &Answer{}
	case KindSetup:
		return &Setup{}
	case KindSkip:
		return &Skip{}
	case KindNote:
		return &Note{}
	case KindHandover:
		return &Handover{}
	case KindTimer:
		return &Timer{}
	case KindHazard:
		return &Hazard{}
	case KindAttach:
		return &Attach{}
	case KindLog:
		return &Log{}
	case KindDoubt:
		return &Doubt{}
	case KindTold:
		return &Told{}
	case KindCorrect:
		return &Correct{}
	case KindHouse:
		return &House{}
	case KindDecided:
		return &Decided{}
	case KindClose:
		return &Close{}
	case KindReopen:
		return &Reopen{}
	case KindSign:
		return &Sign{}
	}
	return nil
}

// Answer is a step's data: exactly one field is set, the one that the form of
// the step asks for.
type Answer struct {
	SameAs     int          `json:"same_as,omitempty"` // re-affirmed: what was only looked at
	Seen       *Seen        `json:"seen,omitempty"`
	Choice     string       `json:"choice,omitempty"`
	Text       string       `json:"text,omitempty"`
	Number     *Number      `json:"number,omitempty"`
	Pressure   *Pressure    `json:"pressure,omitempty"`
	Pairs      *Pairs       `json:"pairs,omitempty"`
	Gas        *Gas         `json:"gas,omitempty"`
	Spill      *Spill       `json:"spill,omitempty"`
	Weather    *Weather     `json:"weather,omitempty"`
	Roster     *Roster      `json:"roster,omitempty"`
	Burner     *Burner      `json:"burner,omitempty"`
	VentFacts  *VentFacts   `json:"vent_facts,omitempty"`
	Names      *Names       `json:"names,omitempty"`
	Instrument *Instrument  `json:"instrument,omitempty"`
	Carried    []CarriedOne `json:"carried,omitempty"`
	Setup      *Setup       `json:"setup,omitempty"` // carried only: the worst case as the earlier phase held it
}

// CarriedOne is one inventory fact of the earlier phase, not yet confirmed.
type CarriedOne struct {
	Step   string `json:"step"`
	Answer Answer `json:"answer"`
}

// Seen is one line of a checklist.
type Seen struct {
	State SeenState `json:"state"`
	Text  string    `json:"text,omitempty"`
}

// SeenState of a checklist line. The zero value is not a state.
type SeenState string

// Append-only.
const (
	SeenOK    SeenState = "ok"
	SeenWrong SeenState = "wrong"
	NotSeen   SeenState = "not-seen"
)

// Number is a quantity in the unit in which it was typed. Value is nil when
// the tester said it is not known.
type Number struct {
	Value *float64 `json:"value"`
	Unit  string   `json:"unit,omitempty"`
}

// Pressure is one averaged value with its seconds, or several quick samples,
// in the unit in which they were typed. Setup is the n of the set-up in force.
type Pressure struct {
	Value      *float64  `json:"value,omitempty"`
	Samples    []float64 `json:"samples,omitempty"`
	Unit       string    `json:"unit"`
	AveragingS float64   `json:"averaging_s,omitempty"`
	Instrument string    `json:"instrument,omitempty"`
	Setup      int       `json:"setup,omitempty"`
	Log        int       `json:"log,omitempty"` // n of the log event whose window this is
}

// Values returns the samples, or the one averaged value.
func (p Pressure) Values() []float64 {
	if p.Value != nil {
		return []float64{*p.Value}
	}
	return p.Samples
}

// Pairs are repeated off/on readings at one configuration, one gauge.
type Pairs struct {
	Off   []float64 `json:"off"`
	On    []float64 `json:"on"`
	Unit  string    `json:"unit"`
	Setup int       `json:"setup,omitempty"`
}

// Gas is what an analyser showed: one CO value, or one for each
// heat-exchanger cell, in ppm as measured, with the O2 of each sample in
// percent where it was read.
type Gas struct {
	CO        []float64  `json:"co_ppm"`
	O2        []*float64 `json:"o2_pct,omitempty"`
	OverRange bool       `json:"over_range,omitempty"` // at least one value was above the analyser's range
	Rising    bool       `json:"rising,omitempty"`
}

// SpillOutcome of a timed observation. The zero value is not an outcome.
type SpillOutcome string

// Append-only.
const (
	SpillNone    SpillOutcome = "none"    // smoke was drawn in from the first second
	SpillStopped SpillOutcome = "stopped" // drawn in after Seconds
	SpillStill   SpillOutcome = "still"   // still spilling when the burner was cut at Seconds
)

// Spill is a timed spillage observation; time runs from main-burner light-off.
type Spill struct {
	Outcome SpillOutcome `json:"outcome"`
	Seconds float64      `json:"seconds"`
	Timed   bool         `json:"timed,omitempty"` // marked here with the clock; else read off the tester's own watch
}

// Roster is one inventory list.
type Roster struct {
	Items []RosterItem `json:"items"`
}

// Names is a list of ids, for example the partners on a vent.
type Names struct {
	IDs []string `json:"ids"`
}

// Skip says why a step has no answer. It is never an observation.
type Skip struct {
	Reason SkipReason `json:"reason"`
	Text   string     `json:"text,omitempty"`
}

// SkipReason of a step without an answer.
type SkipReason string

// Append-only.
const (
	SkipCannot      SkipReason = "cannot"        // cannot be done here today
	SkipUnsafe      SkipReason = "unsafe"        // would not be safe
	SkipNoTool      SkipReason = "no-instrument" // no instrument for it
	SkipRefused     SkipReason = "refused"       // occupant or owner said no
	SkipNotOnSheet  SkipReason = "not-on-sheet"  // the filled sheet has no entry
	SkipNotWanted   SkipReason = "not-wanted"    // a wanted fact left out
	SkipByNature    SkipReason = "by-nature"     // cannot be measured on this vent at all
	SkipOther       SkipReason = "other"         // text says
	SkipEndingEarly SkipReason = "ending-early"  // the tester stops testing and puts the house back
)

// SkipReasons in screen order. Append-only.
var SkipReasons = []SkipReason{SkipCannot, SkipUnsafe, SkipNoTool, SkipRefused, SkipByNature, SkipEndingEarly, SkipOther}

// Note is free text at a step.
type Note struct {
	Text string `json:"text"`
}

// Handover starts a sitting: who tests from here on. Resumed says that time
// passed since the last event, so that the house must be confirmed again.
type Handover struct {
	Who         string       `json:"who"`
	Instruments []Instrument `json:"instruments,omitempty"`
	Resumed     bool         `json:"resumed,omitempty"`
}

// Timer is a mark of the observation clock.
type Timer struct {
	Act  string    `json:"act"` // start, mark, stop, void
	Wall time.Time `json:"wall"`
	Mono int64     `json:"mono_ms"` // monotonic milliseconds since the sitting began
}

// HazardCode of an interrupt.
type HazardCode string

// Append-only.
const (
	AmbientCO   HazardCode = "ambient-co"
	LEL         HazardCode = "lel"
	Smell       HazardCode = "smell"
	Leak        HazardCode = "leak"
	Alarm       HazardCode = "alarm"
	Symptoms    HazardCode = "symptoms"
	Rollout     HazardCode = "rollout"
	FlameChange HazardCode = "flame-change"
)

// Hazard may come at any step.
type Hazard struct {
	Code      HazardCode `json:"code"`
	Value     *float64   `json:"value,omitempty"` // ppm, or percent LEL
	OverRange bool       `json:"over_range,omitempty"`
	Subject   string     `json:"subject,omitempty"` // appliance, where one is known
	Where     string     `json:"where,omitempty"`
}

// Attach is a photo kept beside the record under its hash.
type Attach struct {
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
	Type   string `json:"type"`
	Step   string `json:"step"`
}

// Log is a window of a logging gauge's file; the file itself is not kept.
type Log struct {
	SHA256          string    `json:"sha256"`
	Columns         []string  `json:"columns"`
	Unit            string    `json:"unit"`
	From            time.Time `json:"from"`
	To              time.Time `json:"to"`
	Count           int       `json:"count"`
	Mean            float64   `json:"mean"`
	S               float64   `json:"s"`
	Autocorrelation float64   `json:"autocorrelation"`
	StandardError   float64   `json:"standard_error"`
}

// DoubtCode names a sign that a reading was spoiled.
type DoubtCode string

// Append-only.
const (
	DoubtGusty        DoubtCode = "gusty"          // samples spread more than the scheme allows
	DoubtWind         DoubtCode = "wind"           // wind above the scheme's ceiling
	DoubtRises        DoubtCode = "rises"          // pressure rose when exhaust fans started
	DoubtNoStep       DoubtCode = "no-step"        // pressure did not move when something started
	DoubtFrozen       DoubtCode = "frozen"         // samples never move
	DoubtBaselineHigh DoubtCode = "baseline-high"  // baseline above outdoors in cold weather
	DoubtDrift        DoubtCode = "drift"          // opening and closing baselines differ
	DoubtDiluted      DoubtCode = "diluted"        // O2 high in an undiluted sample
	DoubtZeroAir      DoubtCode = "zero-air"       // ambient reads 0 while the monitor does not
	DoubtDraftNoSpill DoubtCode = "draft-no-spill" // draft near zero or positive without spillage
	DoubtClock        DoubtCode = "clock"          // the computer's clock went back
	DoubtWarmVent     DoubtCode = "warm-vent"      // vent warm from another burner when its own was lit
	DoubtEarlyCO      DoubtCode = "early-co"       // CO read before the time that the scheme asks
	DoubtNotHeld      DoubtCode = "not-held"       // the zone reads weaker than worst case when it should be held there
	DoubtLowNet       DoubtCode = "low-net"        // net far below what CFM50 and rated flows allow
)

// Doubt is a question about a reading. It never changes the reading.
// Settled: "" is open, "retake" asks the step again, "stands" keeps it with
// How saying what was looked at, "left" leaves it unsettled.
type Doubt struct {
	Code    DoubtCode `json:"code"`
	About   []int     `json:"about"`
	Settled string    `json:"settled,omitempty"`
	How     string    `json:"how,omitempty"`
}

// Told says who was told what, and how.
type Told struct {
	Whom string `json:"whom"`
	What string `json:"what"`
	How  string `json:"how,omitempty"`
}

// Correct replaces the event now in force for a fact with full new data.
type Correct struct {
	Replaces int     `json:"replaces"`
	Reason   string  `json:"reason"`
	Answer   *Answer `json:"answer,omitempty"`
	Setup    *Setup  `json:"setup,omitempty"`
	Skip     *Skip   `json:"skip,omitempty"`
	Hazard   *Hazard `json:"hazard,omitempty"`
	Doubt    *Doubt  `json:"doubt,omitempty"`
	Told     *Told   `json:"told,omitempty"`
	Plan     *Plan   `json:"plan,omitempty"`
}

// House is the true practice house after a trainee's action. Only the
// debrief reads it.
type House struct {
	State map[string]string `json:"state"`
}

// RowUsed is a row of the limit table as it stood when it decided.
type RowUsed struct {
	Row      string   `json:"row"`
	Value    *float64 `json:"value"`
	Unit     string   `json:"unit"`
	Source   string   `json:"source"`
	Evidence Evidence `json:"evidence"`
	Verdict  Verdict  `json:"verdict"`
}

// Decided is the decision that a record was closed on.
type Decided struct {
	Decision Decision  `json:"decision"`
	Program  string    `json:"program"`
	Scheme   string    `json:"scheme_sha256"`
	Rows     []RowUsed `json:"rows"`
	Missing  []string  `json:"missing"`
}

// Close ends a record until it is reopened.
type Close struct {
	Decided     int      `json:"decided"`
	Attachments []string `json:"attachments"`
}

// Reopen names the closing hash it lifts.
type Reopen struct {
	Close  string `json:"close"`
	Reason string `json:"reason"`
}

// Sign is a supervisor's verdict on a closed record.
type Sign struct {
	Close     string `json:"close"`
	Verdict   string `json:"verdict"` // accept, return
	Name      string `json:"name"`
	Note      string `json:"note,omitempty"`
	Signature string `json:"signature,omitempty"`
}

// EventKind implements [Data].
func (*Plan) EventKind() Kind     { return KindPlan }
func (*Answer) EventKind() Kind   { return KindAnswer }
func (*Setup) EventKind() Kind    { return KindSetup }
func (*Skip) EventKind() Kind     { return KindSkip }
func (*Note) EventKind() Kind     { return KindNote }
func (*Handover) EventKind() Kind { return KindHandover }
func (*Timer) EventKind() Kind    { return KindTimer }
func (*Hazard) EventKind() Kind   { return KindHazard }
func (*Attach) EventKind() Kind   { return KindAttach }
func (*Log) EventKind() Kind      { return KindLog }
func (*Doubt) EventKind() Kind    { return KindDoubt }
func (*Told) EventKind() Kind     { return KindTold }
func (*Correct) EventKind() Kind  { return KindCorrect }
func (*House) EventKind() Kind    { return KindHouse }
func (*Decided) EventKind() Kind  { return KindDecided }
func (*Close) EventKind() Kind    { return KindClose }
func (*Reopen) EventKind() Kind   { return KindReopen }
func (*Sign) EventKind() Kind     { return KindSign }
