// Package json writes what was judged for machines: one object a record.
// [Judgement] makes the object, [Write] prints it.
//
// # Compatibility
//
// Keys are never renamed or removed; new ones are added at the end of their
// object. What was not measured or not given is null, never 0.
package json

import (
	stdjson "encoding/json"
	"io"
	"math"

	"cazward/procedure"
)

// Object is one record's judgement.
type Object struct {
	Record        string                   `json:"record_id"`
	Home          string                   `json:"home_id"`
	Phase         procedure.Phase          `json:"phase"`
	Decision      *procedure.Decision      `json:"decision"`
	Appliances    []Appliance              `json:"appliances"`
	Scheme        Scheme                   `json:"scheme"`
	WorstCase     []WorstCase              `json:"worst_case"`
	Findings      []Finding                `json:"findings"`
	Missing       []procedure.Missing      `json:"missing"`
	Doubts        []Doubt                  `json:"doubts"`
	Closed        bool                     `json:"record_closed"`
	Practice      bool                     `json:"practice"`
	AcceptedRisks []procedure.AcceptedRisk `json:"accepted_risks"`
	NotAsked      []string                 `json:"not_asked"`
}

// Appliance and its status, null where none was given. One that may run, but
// not with all fans, says so beside its status.
type Appliance struct {
	Name       string            `json:"name"`
	Status     *procedure.Status `json:"status"`
	ID         string            `json:"id"`
	NotAllFans bool              `json:"not_with_all_fans"`
}

// Scheme judged by.
type Scheme struct {
	Name    string `json:"name"`
	Edition string `json:"edition"`
	SHA256  string `json:"sha256"`
	Edited  bool   `json:"edited"`
}

// WorstCase of a zone, pascals.
type WorstCase struct {
	Zone        string                  `json:"zone"`
	Baseline    *float64                `json:"baseline_pa"`
	Reading     *float64                `json:"reading_pa"`
	Net         *float64                `json:"net_pa"`
	Uncertainty *float64                `json:"uncertainty_pa"`
	Config      procedure.Configuration `json:"configuration"`
}

// Finding is one judged thing.
type Finding struct {
	Rule        string              `json:"rule"`
	Subject     string              `json:"subject"`
	Verdict     procedure.Verdict   `json:"verdict"`
	Severity    *procedure.Decision `json:"severity"`
	Value       *float64            `json:"value"`
	Limit       *float64            `json:"limit"`
	Unit        string              `json:"unit"`
	Margin      *float64            `json:"margin"`
	Uncertainty *float64            `json:"uncertainty"`
	Row         string              `json:"row"`
	Source      string              `json:"source"`
	Evidence    procedure.Evidence  `json:"evidence"`
	Checked     *procedure.Checked  `json:"checked"` // null until a person has held the row against its document
	Action      string              `json:"action"`
	Detail      string              `json:"detail"`
	Natural     bool                `json:"natural"`
}

// Doubt and how it was settled; "" is open.
type Doubt struct {
	Code    procedure.DoubtCode `json:"code"`
	Settled string              `json:"settled"`
}

// Judgement makes the object of a record. Closed says whether the record is.
func Judgement(h procedure.Header, j procedure.Judgement, closed bool) Object {
	o := Object{Record: h.Record, Home: h.Home, Phase: h.Phase, Decision: given(j.Decision), Closed: closed, Practice: h.Practice != nil,
		Scheme:     Scheme{j.Scheme.Name, j.Scheme.Edition, j.Scheme.SHA256, j.Scheme.Edited},
		Appliances: []Appliance{}, WorstCase: []WorstCase{}, Findings: []Finding{}, Missing: append([]procedure.Missing{}, j.Missing...),
		Doubts: []Doubt{}, AcceptedRisks: append([]procedure.AcceptedRisk{}, j.AcceptedRisks...), NotAsked: append([]string{}, j.NotAsked...)}
	for _, a := range j.Appliances {
		st, notAll := a.Status, a.Status == procedure.MayRunNoFans
		if notAll {
			st = procedure.MayRun
		}
		o.Appliances = append(o.Appliances, Appliance{a.Name, given(st), a.ID, notAll})
	}
	for _, w := range j.WorstCase {
		c := w.Config
		c.Fans, c.Doors = append([]string{}, c.Fans...), append([]string{}, c.Doors...)
		o.WorstCase = append(o.WorstCase, WorstCase{w.Zone, finite(w.Baseline), finite(w.Reading), finite(w.Net), finite(w.Uncertainty), c})
	}
	for _, f := range j.Findings {
		o.Findings = append(o.Findings, Finding{f.Rule, f.Subject, f.Verdict, given(f.Severity), finite(f.Value), finite(f.Limit), f.Unit, finite(f.Margin), finite(f.Uncertainty),
			f.Row, f.Source, f.Evidence, f.Checked, f.Action, f.Detail, f.Natural})
	}
	for _, d := range j.Doubts {
		o.Doubts = append(o.Doubts, Doubt{d.Code, d.Settled})
	}
	return o
}

// given is nil for the zero value, which means that nothing was said.
func given[T ~string](v T) *T {
	if v == "" {
		return nil
	}
	return &v
}

// finite drops what JSON cannot hold: it was not measured.
func finite(v *float64) *float64 {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	x := math.Round(*v*1e6) / 1e6 // no tail of binary fractions
	return &x
}

// Write writes one object, or an array of several, with a final line feed.
func Write(w io.Writer, list ...Object) error {
	e := stdjson.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if len(list) == 1 {
		return e.Encode(list[0])
	}
	return e.Encode(append([]Object{}, list...))
}
