package procedure

import "slices"

// Rules are what observations are judged by: a scheme as values.
type Rules struct {
	Scheme   Ref
	Pressure []Limit // zone depressurization, pascals, at-least
	// PressureSet: the scheme has a pressure rule at all.
	PressureSet   bool
	Draft         DraftRule
	Spillage      []Limit // seconds, at-most; selectors use Cold
	CO            []Limit // per appliance, ppm on the row's basis, at-most
	COAsked       []ApplianceKind
	COBasis       string
	Matrix        []MatrixRow
	Actions       []ActionRow // what a finding that is not a number leads to
	Floor         []Tier
	Uncertainty   Uncertainties
	UncertaintyID Row
	DilutedO2     float64
	Doors         string // how inside doors are decided, as in a plan
	AcceptedRisks []AcceptedRisk
}

// DraftRule is the minimum-draft line of a scheme; Set false: it has none.
type DraftRule struct {
	Row
	Set   bool
	Vents []VentType
	Line  []DraftPoint
}

// Outcome of spillage or draft as a row of the action matrix names it.
type Outcome string

// Append-only.
const (
	OutcomeAny     Outcome = "any"
	OutcomePass    Outcome = "pass"
	OutcomeWorst   Outcome = "fail-worst-only"
	OutcomeNatural Outcome = "fail-natural"
	OutcomeFail    Outcome = "fail-anywhere"
)

// MatrixRow is one row of the CO action matrix: CO above Over and up to UpTo
// ppm as measured (UpTo nil: no upper end), with this outcome of spillage and
// of draft, leads to Decision and Status. When several rows fit, all count.
type MatrixRow struct {
	Row
	Over     float64
	UpTo     *float64
	Spillage Outcome
	Draft    Outcome
	Decision Decision
	Status   Status
	Action   string // code of the published action
}

// ActionRow says what an observed thing leads to: a visual finding, an
// unsettled source, an appliance that cannot be fired.
type ActionRow struct {
	Row
	Code     string
	Decision Decision
	Status   Status
	Action   string
}

// ActionOf returns the row for a code, and false when the scheme has none.
func (r Rules) ActionOf(code string) (ActionRow, bool) {
	for _, a := range r.Actions {
		if a.Code == code {
			return a, true
		}
	}
	return ActionRow{}, false
}

// Marked returns the findings, each with the mark of its row where a person has
// checked that row against its document. Judging does not need to know: a mark
// changes no verdict.
func (r Rules) Marked(list []Finding) []Finding {
	marks := map[string]*Checked{}
	note := func(x Row) {
		if x.Checked != nil {
			marks[x.ID] = x.Checked
		}
	}
	for _, rows := range [][]Limit{r.Pressure, r.Spillage, r.CO} {
		for _, l := range rows {
			note(l.Row)
		}
	}
	note(r.Draft.Row)
	note(r.UncertaintyID)
	for _, m := range r.Matrix {
		note(m.Row)
	}
	for _, a := range r.Actions {
		note(a.Row)
	}
	for _, t := range r.Floor {
		note(Row{ID: t.Row, Checked: t.Checked})
	}
	out := slices.Clone(list)
	for i, f := range out {
		if c := marks[f.Row]; c != nil {
			out[i].Checked = c
		}
	}
	return out
}

// Fits reports whether the row is about CO of this many ppm as measured and
// these outcomes (pass, fail-worst-only or fail-natural each). A value above
// the analyser's range is above every band.
func (m MatrixRow) Fits(co float64, overRange bool, spillage, draft Outcome) bool {
	if overRange {
		if m.UpTo != nil {
			return false
		}
	} else if co != co || m.Over > 0 && co <= m.Over || m.UpTo != nil && co > *m.UpTo {
		return false
	}
	return m.Spillage.covers(spillage) && m.Draft.covers(draft)
}

func (o Outcome) covers(x Outcome) bool {
	switch o {
	case OutcomeAny:
		return true
	case OutcomeFail:
		return x == OutcomeWorst || x == OutcomeNatural || x == OutcomeFail
	}
	return o == x
}
