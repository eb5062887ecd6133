package procedure

// Verdict of a finding. The zero value is not evaluated.
type Verdict string

// Append-only. NotEvaluated is written in full in JSON by [Verdict.String].
const (
	NotEvaluated  Verdict = ""
	Pass          Verdict = "pass"
	TooClose      Verdict = "too-close" // treated as failing
	Fail          Verdict = "fail"
	NotApplicable Verdict = "not-applicable" // only where the inventory proves it
)

// String writes the zero value as "not-evaluated".
func (v Verdict) String() string {
	if v == NotEvaluated {
		return "not-evaluated"
	}
	return string(v)
}

// MarshalText implements encoding.TextMarshaler.
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (v *Verdict) UnmarshalText(b []byte) error {
	switch x := Verdict(b); x {
	case "not-evaluated":
		*v = NotEvaluated
		return nil
	case Pass, TooClose, Fail, NotApplicable:
		*v = x
		return nil
	}
	return unknownWord("verdict", string(b))
}

// Decision on a home. The zero value is no decision.
type Decision string

// Append-only.
const (
	NoDecision Decision = ""
	Leave      Decision = "leave"
	Hold       Decision = "hold"
	Incomplete Decision = "incomplete"
	Refer      Decision = "refer"
	Proceed    Decision = "proceed"
)

// Decisions, most protective first.
var Decisions = []Decision{Leave, Hold, Incomplete, Refer, Proceed}

// rank: lower is more protective. What this version does not know ranks
// first, so that it can never be outranked by something milder.
func (d Decision) rank() int {
	for i, x := range Decisions {
		if d == x {
			return i
		}
	}
	if d == NoDecision {
		return len(Decisions)
	}
	return 0
}

// MoreProtective returns the more protective of two decisions.
func MoreProtective(a, b Decision) Decision {
	if b.rank() < a.rank() {
		return b
	}
	return a
}

// Milder reports whether d is milder than o.
func (d Decision) Milder(o Decision) bool { return d.rank() > o.rank() }

// ExitCode of a verb that judged.
func (d Decision) ExitCode() int {
	switch d {
	case Leave:
		return 5
	case Hold:
		return 4
	case Incomplete:
		return 6
	case Refer:
		return 3
	case Proceed:
		return 0
	}
	return 6
}

// SignalWord of the decision after ANSI Z535.
func (d Decision) SignalWord() string {
	switch d {
	case Leave:
		return "DANGER"
	case Hold, Incomplete:
		return "WARNING"
	case Refer:
		return "CAUTION"
	case Proceed:
		return "NOTICE"
	}
	return "WARNING"
}

// Status of an appliance beside the decision. The zero value is none given.
type Status string

// Append-only, milder first.
const (
	StatusNone       Status = ""
	MayRun           Status = "may-run"
	MayRunNoFans     Status = "may-run-not-with-all-fans"
	OffUntilServiced Status = "off-until-serviced"
	FuelOff          Status = "fuel-off"
)

func (s Status) rank() int {
	switch s {
	case StatusNone:
		return 0
	case MayRun:
		return 1
	case MayRunNoFans:
		return 2
	case OffUntilServiced:
		return 3
	}
	return 4
}

// MoreProtectiveStatus returns the more protective of two.
func MoreProtectiveStatus(a, b Status) Status {
	if b.rank() > a.rank() {
		return b
	}
	return a
}

// Finding is one judged thing. Value, Limit, Margin and Uncertainty are nil
// where nothing was measured or no figure exists, never 0.
type Finding struct {
	Rule        string   `json:"rule"`
	Subject     string   `json:"subject"` // zone or appliance id, "" for the home
	Verdict     Verdict  `json:"verdict"`
	Severity    Decision `json:"severity"`
	Status      Status   `json:"status,omitempty"`
	Value       *float64 `json:"value"`
	Limit       *float64 `json:"limit"`
	Unit        string   `json:"unit"`
	Margin      *float64 `json:"margin"`
	Uncertainty *float64 `json:"uncertainty"`
	Row         string   `json:"row"`
	Source      string   `json:"source"`
	Evidence    Evidence `json:"evidence"`
	// Checked: a person has held the row against its document.
	Checked *Checked `json:"checked,omitempty"`
	Action  string   `json:"action"`           // code of what to do; words in procedure/wording
	Detail  string   `json:"detail,omitempty"` // code of what exactly: a checklist line, a condition, a doubt
	Natural bool     `json:"natural,omitempty"`
	Rising  bool     `json:"rising,omitempty"` // CO still rose when it was read: there may be more
	Unsure  []string `json:"unsure,omitempty"` // facts not known, so that the strictest row was taken
	About   []int    `json:"about,omitempty"`  // events it rests on
}

// ApplianceResult is the status of one appliance.
type ApplianceResult struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	Status Status `json:"status"`
}

// Configuration in names a person can set up again.
type Configuration struct {
	Fans       []string `json:"fans_on"`
	Doors      []string `json:"doors_closed"`
	AirHandler string   `json:"air_handler"`
	CAZDoor    string   `json:"caz_door"`
}

// WorstCase of a zone.
type WorstCase struct {
	Zone        string        `json:"zone"`
	Baseline    *float64      `json:"baseline_pa"`
	Reading     *float64      `json:"reading_pa"`
	Net         *float64      `json:"net_pa"`
	Uncertainty *float64      `json:"uncertainty_pa"`
	Config      Configuration `json:"configuration"`
	Pairs       int           `json:"pairs,omitempty"` // off/on pairs that the net rests on
	About       []int         `json:"about,omitempty"`
}

// Missing is a required observation that does not exist, with the code of
// why it is required or why it was left out.
type Missing struct {
	Step string `json:"step"`
	Why  string `json:"why"`
}

// DoubtResult is a doubt and how it was settled.
type DoubtResult struct {
	Code    DoubtCode `json:"code"`
	Settled string    `json:"settled"`
	About   []int     `json:"about,omitempty"`
	How     string    `json:"how,omitempty"`
}

// Judgement is what Judge returns.
type Judgement struct {
	Phase      Phase
	Scheme     Ref
	Decision   Decision
	Appliances []ApplianceResult
	WorstCase  []WorstCase
	Findings   []Finding
	Missing    []Missing
	Doubts     []DoubtResult
	// AcceptedRisks are loosened life-safety rows, each with its reason.
	AcceptedRisks []AcceptedRisk
	// NotAsked are items of the scheme that the walked plan never asked.
	NotAsked []string
}

// AcceptedRisk is a loosened life-safety row; page 1 prints it.
type AcceptedRisk struct {
	Row    string `json:"row"`
	Reason string `json:"reason"`
}

type wordError struct{ what, word string }

func (e wordError) Error() string { return "procedure: unknown " + e.what + " " + e.word }

func unknownWord(what, word string) error { return wordError{what, word} }
