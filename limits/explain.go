package limits

import (
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Explained says for one appliance and one kind of rule which row applies and
// why.
type Explained struct {
	Appliance string `json:"appliance"`
	Name      string `json:"name"`
	Rule      string `json:"rule"` // depressurization, spillage, draft, co
	// When the row applies, where the rule has several: "vent cold at
	// light-off", "vent warm at light-off".
	When string `json:"when"`
	// Outcome: "row", "no-figure" where the scheme has none, "matrix" where the
	// action matrix judges instead, "not-judged" where the rule is not about
	// such an appliance.
	Outcome  string   `json:"outcome"`
	Row      string   `json:"row"` // "" when the scheme has none
	Limit    *float64 `json:"limit"`
	Unit     string   `json:"unit"`
	Basis    string   `json:"basis"`
	Source   string   `json:"source"`
	Evidence string   `json:"evidence"`
	Checked  string   `json:"checked"`
	Why      string   `json:"why"`    // the facts by which the row fits, or why there is none
	Unsure   []string `json:"unsure"` // facts not known: the strictest row that could apply was taken
	Passed   []Over   `json:"passed_over"`
}

// Over is a row that was passed over, the facts that ruled it out, and why in
// words.
type Over struct {
	Row   string `json:"row"`
	Why   string `json:"why"`
	Words string `json:"words"`
}

// NoFigure is what is shown where a scheme leaves something open.
const NoFigure = "no figure in this scheme"

// Explain lists, for each appliance with a burner and each kind of rule, the
// row chosen by procedure.Match and those passed over.
func (s *Set) Explain(o procedure.Observations) []Explained {
	rules := s.Rules()
	out := []Explained{}
	for _, a := range o.Appliances {
		if !a.Kind.Burns() || a.Burner.Fuel == procedure.Electricity {
			continue
		}
		out = append(out, s.pressure(rules, a, o), s.spillage(rules, a, o, procedure.No), s.spillage(rules, a, o, procedure.Yes), s.draft(rules, a, o), s.co(rules, a, o))
	}
	return out
}

func (s *Set) pressure(r procedure.Rules, a procedure.Appliance, o procedure.Observations) Explained {
	e := Explained{Appliance: a.ID, Name: a.Name, Rule: "depressurization", Unit: "Pa"}
	switch {
	case a.Facts.InsideBoundary == procedure.No:
		return e.not("it stands outside the pressure boundary of the house")
	case a.Vent.Type == procedure.Unvented || a.Kind.Cooking() || a.Kind == procedure.GasDryer || a.Kind == procedure.UnventedHeater:
		return e.not("it has no vent that house pressure could reverse")
	}
	return s.chosen(e, r.Pressure, procedure.TraitsOf(a, o.Appliances))
}

func (s *Set) spillage(r procedure.Rules, a procedure.Appliance, o procedure.Observations, cold procedure.Tri) Explained {
	e := Explained{Appliance: a.ID, Name: a.Name, Rule: "spillage", Unit: "s", When: "vent warm at light-off"}
	if cold == procedure.Yes {
		e.When = "vent cold at light-off"
	}
	if why := unlit(a); why != "" {
		return e.not(why)
	}
	if a.Susceptible() == procedure.No {
		return e.not("house pressure cannot make it spill")
	}
	t := procedure.TraitsOf(a, o.Appliances)
	t.Cold = cold
	return s.chosen(e, r.Spillage, t)
}

func (s *Set) draft(r procedure.Rules, a procedure.Appliance, o procedure.Observations) Explained {
	e := Explained{Appliance: a.ID, Name: a.Name, Rule: "draft", Unit: "Pa"}
	if why := unlit(a); why != "" {
		return e.not(why)
	}
	if a.Susceptible() == procedure.No {
		return e.not("house pressure cannot make it spill")
	}
	if !r.Draft.Set {
		return s.none(e, a)
	}
	base := r.Draft.Row
	vents := strings.Join(texts(r.Draft.Vents), ", ")
	if !(procedure.DraftPlan{Vents: r.Draft.Vents}).Asked(a.Vent.Type) {
		e.Passed = append(e.Passed, Over{base.ID, "vent", "vent is " + or(string(a.Vent.Type), "not known") + ", the row is for " + vents})
		e = s.none(e, a)
		e.Why = "the draft line is not about this vent"
		return e
	}
	if a.Burner.Fuel == procedure.Oil {
		e.Passed = append(e.Passed, Over{base.ID, "fuel", "the draft of an oil burner is judged by the breech figure of its maker"})
		return e.not("judged by the maker's breech draft, which the tester enters")
	}
	e = e.from(base)
	e.Why = "vent " + or(string(a.Vent.Type), "not known, taken as "+vents)
	if a.Vent.Type == procedure.VentUnknown {
		e.Unsure = []string{"vent"}
	}
	if w := o.Weather; w != nil {
		if f, err := reading.Convert(w.Temp, reading.Unit(w.TempUnit), reading.UnitF); err == nil {
			if v, ok := procedure.DraftLimit(r.Draft.Line, f); ok {
				e.Limit = &v
				e.Why += "; the line at " + reading.Format(f, -1) + " F outdoors"
			}
		}
	}
	if e.Limit == nil {
		e.Why += "; the point of the line needs the outdoor temperature, which was not taken"
	}
	return e
}

func (s *Set) co(r procedure.Rules, a procedure.Appliance, o procedure.Observations) Explained {
	e := Explained{Appliance: a.ID, Name: a.Name, Rule: "co", Unit: "ppm"}
	if why := unlit(a); why != "" {
		return e.not(why)
	}
	e = s.chosen(e, r.CO, procedure.TraitsOf(a, o.Appliances))
	if len(r.Matrix) > 0 && e.Outcome != "row" {
		e.Outcome, e.Why = "matrix", "no limit of its own: the action matrix judges CO as measured together with spillage and draft"
		e.Basis = "as-measured"
	}
	asked := false
	for _, k := range r.COAsked {
		asked = asked || k == a.Kind
	}
	if !asked {
		e.Why = strings.TrimPrefix(e.Why+"; the walk of this scheme does not ask it of this kind", "; ")
	}
	return e
}

// unlit says why the test never lights an appliance, "" if it does.
func unlit(a procedure.Appliance) string {
	switch {
	case a.Kind.SolidFuel():
		return "solid fuel is never lit for the test"
	case !a.Fired():
		return "the test does not light it"
	}
	return ""
}

func (e Explained) not(why string) Explained {
	e.Outcome, e.Why = "not-judged", why
	return e
}

func (e Explained) from(b procedure.Row) Explained {
	e.Outcome, e.Row, e.Source, e.Evidence = "row", b.ID, b.Source.String(), string(b.Evidence)
	if c := b.Checked; c != nil {
		e.Checked = c.By + ", " + c.Date + ", " + c.Edition
	}
	return e
}

// State says how sure the row is.
func (e Explained) State() string {
	return RowInfo{Evidence: e.Evidence, Checked: e.Checked}.State()
}

// none says that the scheme leaves it open, in its own words where it has some.
func (s *Set) none(e Explained, a procedure.Appliance) Explained {
	e.Outcome, e.Why = "no-figure", ""
	topic := e.Rule
	if topic == "draft" {
		topic = "draft-line"
	}
	for _, n := range s.open {
		if n.Topic == topic && (len(n.Kinds) == 0 || in(n.Kinds, string(a.Kind))) && (len(n.Fuels) == 0 || in(n.Fuels, string(a.Burner.Fuel))) {
			e.Why = n.Note
		}
	}
	return e
}

func (s *Set) chosen(e Explained, rows []procedure.Limit, t procedure.Traits) Explained {
	c := procedure.Match(rows, t)
	e.Unsure = c.Unsure
	selectors := map[string]procedure.Selector{}
	for _, l := range rows {
		selectors[l.ID] = l.Applies
	}
	for _, p := range c.Passed {
		e.Passed = append(e.Passed, Over{p.Row, p.Why, passedWords(p.Why, selectors[p.Row], t)})
	}
	if !c.Found {
		a := procedure.Appliance{Kind: t.Kind, Burner: procedure.Burner{Fuel: t.Fuel}}
		return s.none(e, a)
	}
	v := c.Limit.Bound.Value
	e.Limit, e.Basis = &v, c.Limit.Basis
	e = e.from(c.Limit.Row)
	e.Why = fitWords(c.Limit.Applies, t)
	return e
}

// fact of a selector in words: what the row asks and what the appliance is.
func fact(name string, s procedure.Selector, t procedure.Traits) (want, got string) {
	tri := func(what string, w, g procedure.Tri) (string, string) {
		say := func(x procedure.Tri) string {
			switch x {
			case procedure.Yes:
				return what
			case procedure.No:
				return "no " + what
			}
			return what + ": not known"
		}
		return say(w), say(g)
	}
	list := func(w []string, g string) (string, string) {
		return strings.Join(w, " or "), or(g, "not known")
	}
	switch name {
	case "kind":
		return list(texts(s.Kinds), string(t.Kind))
	case "fuel":
		return list(texts(s.Fuels), string(t.Fuel))
	case "vent":
		return list(texts(s.Vents), string(t.Vent))
	case "partner":
		got = strings.Join(texts(t.Partners), " and ")
		if got == "" && t.Common == procedure.No {
			got = "nothing"
		}
		return list(texts(s.Partner), got)
	case "common":
		return tri("shared vent", s.Common, t.Common)
	case "fan_partner":
		return tri("fan-assisted appliance on the vent", s.FanPartner, t.FanPartner)
	case "damper":
		return tri("vent damper", s.Damper, t.Damper)
	case "orphaned":
		return tri("orphaned", s.Orphaned, t.Orphaned)
	case "outside":
		return tri("outside chimney", s.Outside, t.Outside)
	case "high_static":
		return tri("high-static burner", s.HighStatic, t.HighStatic)
	case "top_inducer":
		return tri("inducer at the top", s.TopInducer, t.TopInducer)
	case "cold":
		return tri("cold vent", s.Cold, t.Cold)
	}
	return "", ""
}

var listed = map[string]string{"kind": "kind", "fuel": "fuel", "vent": "vent", "partner": "on the same vent"}

var factNames = []string{"kind", "fuel", "vent", "common", "partner", "fan_partner", "damper", "orphaned", "outside", "high_static", "top_inducer", "cold"}

// fitWords are the facts that a row asks for, as the appliance has them.
func fitWords(s procedure.Selector, t procedure.Traits) string {
	var out []string
	for _, n := range factNames {
		want, got := fact(n, s, t)
		if label := listed[n]; label != "" {
			if want != "" {
				out = append(out, label+" "+got)
			}
		} else if !strings.HasSuffix(want, ": not known") {
			out = append(out, got)
		}
	}
	if len(out) == 0 {
		return "the row is about every appliance"
	}
	return strings.Join(out, ", ")
}

func passedWords(why string, s procedure.Selector, t procedure.Traits) string {
	switch why {
	case "less-close":
		return "it fits too, but another row says more closely what the appliance is"
	case "milder":
		return "it could apply, but another that could is stricter"
	}
	var out []string
	for _, n := range strings.Split(why, ",") {
		want, got := fact(n, s, t)
		if label := listed[n]; label != "" {
			out = append(out, label+" is "+got+", the row is for "+want)
		} else {
			out = append(out, got+", the row is for "+want)
		}
	}
	return strings.Join(out, "; ")
}

func texts[T ~string](in []T) []string {
	out := make([]string, len(in))
	for i, x := range in {
		out[i] = string(x)
	}
	return out
}

func or(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}
