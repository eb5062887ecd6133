package procedure

import (
	"math"
	"sort"
	"strings"
)

// Evidence says how sure we are of a figure.
type Evidence string

// Append-only.
const (
	EvidenceSeen      Evidence = "seen"
	EvidenceSecondary Evidence = "seen-secondary"
	EvidenceMemory    Evidence = "memory"
	EvidencePractice  Evidence = "practice"
	EvidenceOwnRule   Evidence = "own-rule"
)

// Source of a figure.
type SourceRef struct {
	Title   string `json:"title"`
	Edition string `json:"edition,omitempty"`
	Clause  string `json:"clause,omitempty"`
}

// String is the source on one line.
func (s SourceRef) String() string {
	t := s.Title
	if s.Edition != "" {
		t += ", " + s.Edition
	}
	if s.Clause != "" {
		t += ", " + s.Clause
	}
	return t
}

// Checked is a person's word that a row agrees with the document.
type Checked struct {
	By      string `json:"by"`
	Date    string `json:"date"`
	Edition string `json:"edition"`
}

// Row is what every row of a limit table carries.
type Row struct {
	ID       string    `json:"id"`
	Source   SourceRef `json:"source"`
	Evidence Evidence  `json:"evidence"`
	Note     string    `json:"note,omitempty"`
	Checked  *Checked  `json:"checked,omitempty"`
	Edited   bool      `json:"edited,omitempty"` // replaced by an overlay
	Life     bool      `json:"life,omitempty"`   // part of the life-safety floor
}

// Sense of a bound.
type Sense string

// Append-only.
const (
	// AtLeast: the value must not be below the bound (a zone pressure may not
	// be more negative than its limit).
	AtLeast Sense = "at-least"
	// AtMost: the value must not be above the bound (CO, seconds, and a draft,
	// which must be at least as negative as its line).
	AtMost Sense = "at-most"
)

// Bound is one limit value and its sense.
type Bound struct {
	Value float64 `json:"value"`
	Sense Sense   `json:"sense"`
}

// Side of a value against a bound.
type Side int

// The zero value is no verdict.
const (
	SideUnknown Side = iota
	SideInside
	SideTooClose // inside, but the value and its give-or-take reach the bound
	SideBeyond
)

// Margin is how far the value is inside the bound: negative when beyond.
func (b Bound) Margin(value float64) float64 {
	switch b.Sense {
	case AtLeast:
		return value - b.Value
	case AtMost:
		return b.Value - value
	}
	return math.NaN()
}

// Side compares a value that is uncertain by u (guard band after JCGM
// 106:2012: beyond is a fail; inside, but reaching the bound within u, is too
// close). With u zero the bound itself is still inside. Anything that is not
// a finite number has no side.
func (b Bound) Side(value, u float64) Side {
	m := b.Margin(value)
	if math.IsNaN(m) || math.IsInf(m, 0) || math.IsNaN(u) || u < 0 {
		return SideUnknown
	}
	switch {
	case m < 0:
		return SideBeyond
	case u > 0 && m <= u:
		return SideTooClose
	}
	return SideInside
}

// Selector says which appliances a row is about. An empty list means any.
type Selector struct {
	Kinds      []ApplianceKind `json:"kinds,omitempty"`
	Fuels      []Fuel          `json:"fuels,omitempty"`
	Vents      []VentType      `json:"vents,omitempty"`
	Common     Tri             `json:"common,omitempty"`      // shares its vent
	Partner    []ApplianceKind `json:"partner,omitempty"`     // a partner on the vent is one of these
	FanPartner Tri             `json:"fan_partner,omitempty"` // this or a partner is fan-assisted
	Damper     Tri             `json:"damper,omitempty"`      // automatic vent damper on the heating appliance of the vent
	Orphaned   Tri             `json:"orphaned,omitempty"`
	Outside    Tri             `json:"outside,omitempty"`
	HighStatic Tri             `json:"high_static,omitempty"`
	TopInducer Tri             `json:"top_inducer,omitempty"`
	Cold       Tri             `json:"cold,omitempty"` // spillage rows: vent cold at light-off
}

// Traits are the tri-state facts that a selector is held against.
type Traits struct {
	Kind       ApplianceKind
	Fuel       Fuel
	Vent       VentType
	Common     Tri
	Partners   []ApplianceKind // empty with Common Yes: not named
	FanPartner Tri
	Damper     Tri
	Orphaned   Tri
	Outside    Tri
	HighStatic Tri
	TopInducer Tri
	Cold       Tri
}

// TraitsOf gathers the traits of an appliance of a home.
func TraitsOf(a Appliance, all []Appliance) Traits {
	t := Traits{Kind: a.Kind, Fuel: a.Burner.Fuel, Vent: a.Venting(), Common: a.Facts.Shares,
		Orphaned: a.Facts.Orphaned, Outside: a.Facts.Outside, HighStatic: a.Facts.HighStatic, TopInducer: a.Facts.TopInducer}
	if a.Facts.OtherDwelling == Yes {
		t.Common = Yes // what shares it is behind somebody else's door
	}
	fan := func(v VentType) Tri {
		switch v {
		case FanAssisted:
			return Yes
		case VentUnknown:
			return Unknown
		}
		return No
	}
	t.FanPartner, t.Damper = fan(a.Venting()), No
	heats := func(k ApplianceKind) bool { return k == Furnace || k == Boiler }
	damper, heating := No, false
	if heats(a.Kind) {
		damper, heating = a.Facts.VentDamper, true
	}
	for _, id := range a.Partners {
		for _, p := range all {
			if p.ID != id {
				continue
			}
			t.Partners = append(t.Partners, p.Kind)
			t.FanPartner = or(t.FanPartner, fan(p.Venting()))
			if heats(p.Kind) {
				if heating {
					damper = and(damper, p.Facts.VentDamper)
				} else {
					damper, heating = p.Facts.VentDamper, true
				}
			}
		}
	}
	t.Damper = damper
	if a.Facts.OtherDwelling == Yes {
		t.Partners = nil // who else is on the vent is not known
	}
	if t.Common != No && len(t.Partners) == 0 {
		t.Damper, t.FanPartner = Unknown, or(t.FanPartner, Unknown)
	}
	return t
}

func or(a, b Tri) Tri {
	if a == Yes || b == Yes {
		return Yes
	}
	if a == Unknown || b == Unknown {
		return Unknown
	}
	return No
}

func and(a, b Tri) Tri {
	if a == No || b == No {
		return No
	}
	if a == Unknown || b == Unknown {
		return Unknown
	}
	return Yes
}

// Fit holds the selector against the traits: Yes, No, or Unknown when a fact
// that would decide is not known. why names the facts that rule it out or
// leave it open, by their trait names.
func (s Selector) Fit(t Traits) (fit Tri, why []string) {
	fit = Yes
	say := func(name string, x Tri) {
		if x == Yes {
			return
		}
		if x == No {
			if fit != No {
				why = nil // what rules out outranks what is open
			}
			fit = No
			why = append(why, name)
			return
		}
		if fit != No {
			fit = Unknown
			why = append(why, name)
		}
	}
	say("kind", oneOf(s.Kinds, t.Kind, ""))
	say("fuel", oneOf(s.Fuels, t.Fuel, FuelUnknown))
	say("vent", oneOf(s.Vents, t.Vent, VentUnknown))
	say("common", same(s.Common, t.Common))
	if len(s.Partner) > 0 {
		p := No
		if len(t.Partners) == 0 {
			p = Unknown
			if t.Common == No {
				p = No
			}
		}
		for _, k := range t.Partners {
			p = or(p, oneOf(s.Partner, k, ""))
		}
		say("partner", p)
	}
	say("fan_partner", same(s.FanPartner, t.FanPartner))
	say("damper", same(s.Damper, t.Damper))
	say("orphaned", same(s.Orphaned, t.Orphaned))
	say("outside", same(s.Outside, t.Outside))
	say("high_static", same(s.HighStatic, t.HighStatic))
	say("top_inducer", same(s.TopInducer, t.TopInducer))
	say("cold", same(s.Cold, t.Cold))
	return fit, why
}

func oneOf[T comparable](list []T, v, unknown T) Tri {
	if len(list) == 0 {
		return Yes
	}
	if v == unknown {
		return Unknown
	}
	for _, x := range list {
		if x == v {
			return Yes
		}
	}
	return No
}

func same(want, got Tri) Tri {
	switch {
	case want == Unknown:
		return Yes // the row does not ask
	case got == Unknown:
		return Unknown
	case got == want:
		return Yes
	}
	return No
}

// Specificity counts the facts a selector asks for: of two rows that both
// fit, the one that asks for more is about this appliance more closely.
func (s Selector) Specificity() int {
	n := 0
	for _, asked := range []bool{len(s.Kinds) > 0, len(s.Fuels) > 0, len(s.Vents) > 0, s.Common != "", len(s.Partner) > 0,
		s.FanPartner != "", s.Damper != "", s.Orphaned != "", s.Outside != "", s.HighStatic != "", s.TopInducer != "", s.Cold != ""} {
		if asked {
			n++
		}
	}
	return n
}

// Limit is a row with a bound for the appliances that its selector names.
type Limit struct {
	Row
	Applies Selector `json:"applies"`
	Bound   Bound    `json:"bound"`
	Unit    string   `json:"unit"`
	Basis   string   `json:"basis,omitempty"` // CO: as-measured, air-free
}

// Choice is the row that Match chose and why.
type Choice struct {
	Limit  Limit
	Found  bool
	Unsure []string // facts not known, so that the strictest row that could apply was taken
	Passed []Passed
}

// Passed is a row that was passed over, with the facts that ruled it out
// ("less-close" when a row that asks for more fits too; "milder" when
// another that could apply is stricter).
type Passed struct {
	Row string
	Why string
}

// Match chooses the row for an appliance: the closest of those that fit, and
// the strictest of that one and of all that could apply while a fact is not
// known. It is the only place where rows are chosen.
func Match(rows []Limit, t Traits) Choice {
	var c Choice
	best := -1
	type open struct {
		row int
		why []string
	}
	var could []open
	for i := range rows {
		r := &rows[i]
		fit, why := r.Applies.Fit(t)
		switch fit {
		case Unknown:
			could = append(could, open{i, why})
		case No:
			c.Passed = append(c.Passed, Passed{r.ID, strings.Join(why, ",")})
		case Yes:
			if best < 0 {
				best = i
				continue
			}
			old, now := rows[best].Applies.Specificity(), r.Applies.Specificity()
			if now > old || now == old && stricter(*r, rows[best]) {
				c.Passed = append(c.Passed, Passed{rows[best].ID, "less-close"})
				best = i
			} else {
				c.Passed = append(c.Passed, Passed{r.ID, "less-close"})
			}
		}
	}
	unsure := map[string]bool{}
	for _, o := range could {
		r := &rows[o.row]
		// A row that could apply counts unless a fitting row asks for all it
		// asks for and more; what it could add is only strictness.
		if best < 0 || stricter(*r, rows[best]) {
			if best >= 0 {
				c.Passed = append(c.Passed, Passed{rows[best].ID, "milder"})
			}
			best = o.row
			for _, w := range o.why {
				unsure[w] = true
			}
		} else {
			c.Passed = append(c.Passed, Passed{r.ID, "milder"})
		}
	}
	if best >= 0 {
		c.Limit, c.Found = rows[best], true
	}
	for w := range unsure {
		c.Unsure = append(c.Unsure, w)
	}
	sort.Strings(c.Unsure)
	return c
}

// stricter reports whether a leaves less room than b.
func stricter(a, b Limit) bool {
	if a.Bound.Sense == AtLeast {
		return a.Bound.Value > b.Bound.Value
	}
	return a.Bound.Value < b.Bound.Value
}

// DraftLimit is the draft that must be reached at an outdoor temperature,
// straight between the points of the line and level beyond its ends. false
// when the line is empty or the temperature is not a number.
func DraftLimit(line []DraftPoint, tempF float64) (float64, bool) {
	if len(line) == 0 || math.IsNaN(tempF) {
		return 0, false
	}
	if tempF <= line[0].TempF {
		return line[0].Pa, true
	}
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		if tempF <= b.TempF {
			return a.Pa + (b.Pa-a.Pa)*(tempF-a.TempF)/(b.TempF-a.TempF), true
		}
	}
	return line[len(line)-1].Pa, true
}
