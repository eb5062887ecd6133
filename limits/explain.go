package limits

import "cazward/procedure"

// Explained says for one appliance which depressurization row applies and why.
type Explained struct {
	Appliance string   `json:"appliance"`
	Name      string   `json:"name"`
	Row       string   `json:"row"` // "" when the scheme has none
	Limit     *float64 `json:"limit"`
	Unit      string   `json:"unit"`
	Source    string   `json:"source"`
	Evidence  string   `json:"evidence"`
	Unsure    []string `json:"unsure"` // facts not known: the strictest row that could apply was taken
	Passed    []Over   `json:"passed_over"`
}

// Over is a row that was passed over, and the facts that ruled it out.
type Over struct {
	Row string `json:"row"`
	Why string `json:"why"`
}

// Explain lists, for each appliance with a burner, the row chosen by
// procedure.Match and those passed over.
func Explain(rules procedure.Rules, o procedure.Observations) []Explained {
	var out []Explained
	for _, a := range o.Appliances {
		if !a.Kind.Burns() {
			continue
		}
		c := procedure.Match(rules.Pressure, procedure.TraitsOf(a, o.Appliances))
		e := Explained{Appliance: a.ID, Name: a.Name, Unsure: c.Unsure, Unit: "Pa"}
		if c.Found {
			v := c.Limit.Bound.Value
			e.Row, e.Limit, e.Source, e.Evidence = c.Limit.ID, &v, c.Limit.Source.String(), string(c.Limit.Evidence)
		}
		for _, p := range c.Passed {
			e.Passed = append(e.Passed, Over{p.Row, p.Why})
		}
		out = append(out, e)
	}
	return out
}
