package forms

import (
	"encoding/json"
	"strconv"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// ReadAs says how the text would be taken, for the line under the box:
// "5 values, mean -0.9, spread 0.3: steady". It is "" while the text is no
// answer, and it is never more than a wording of what [Parse] returns.
func ReadAs(step procedure.Step, text string) string { return ReadAsWithin(step, text, 46) }

// ReadAsWithin is [ReadAs] for a line of that many columns, which gives the
// bound of "steady" where there is room.
func ReadAsWithin(step procedure.Step, text string, width int) string {
	entries, err := Parse(step, text, ParseContext{Twice: true})
	if err != nil || len(entries) == 0 {
		return ""
	}
	switch d := entries[0].Data.(type) {
	case *procedure.Skip:
		return Words("as/left-out", nil)
	case *procedure.Setup:
		if len(d.NotRun) == 0 {
			return Words("as/set", nil)
		}
		var names []string
		for _, it := range step.Items {
			for _, id := range d.NotRun {
				if it.Key == id {
					names = append(names, orElse(it.Name, id))
				}
			}
		}
		return as("not-run", "names", strings.Join(names, ", "))
	}
	var answers []*procedure.Answer
	for _, e := range entries {
		if a, ok := e.Data.(*procedure.Answer); ok {
			answers = append(answers, a)
		}
	}
	if len(answers) == 0 {
		return ""
	}
	a := answers[0]
	switch step.Form {
	case procedure.FormChecklist:
		return asList(answers)
	case procedure.FormGate:
		if wrong := marked(answers, procedure.SeenWrong, ""); len(wrong) > 0 {
			return as("gate-so", "wrong", strings.Join(wrong, " "))
		}
		return as("gate-none", "n", itoa(len(answers)))
	case procedure.FormTable, procedure.FormNumbers:
		return as("given", "n", itoa(len(answers)))
	case procedure.FormConfirm:
		if a.Choice == "changed" {
			return Words("as/changed", nil)
		}
		return Words("as/as-before", nil)
	}
	switch {
	case a.Pressure != nil:
		return asPressure(step, *a.Pressure, width)
	case a.Pairs != nil:
		return asPairs(*a.Pairs)
	case a.Gas != nil && reading.Unit(step.Unit).Family() == reading.FamilyPercent && !a.Gas.OverRange:
		return as("lel", "v", reading.Format(a.Gas.CO[0], -1))
	case a.Gas != nil:
		return asGas(*a.Gas)
	case a.Spill != nil:
		return as(string(a.Spill.Outcome), "s", reading.Format(a.Spill.Seconds, -1))
	case a.Weather != nil:
		w := a.Weather
		return as("weather", "wind", quantity(w.Wind, w.WindUnit, ""), "temp", quantity(w.Temp, w.TempUnit, ""))
	case a.Burner != nil:
		input := Words("as/not-known", nil)
		if a.Burner.Input != 0 {
			input = quantity(a.Burner.Input, a.Burner.Unit, "")
		}
		return as("burner", "fuel", Words("fuel/"+string(a.Burner.Fuel), nil), "input", input)
	case a.Number != nil && a.Number.Value == nil:
		return Words("as/not-known", nil)
	case a.Number != nil:
		return quantity(*a.Number.Value, a.Number.Unit, "")
	case a.Roster != nil:
		if len(a.Roster.Items) == 0 {
			return Words("as/roster-none", nil)
		}
		names := make([]string, len(a.Roster.Items))
		for i, it := range a.Roster.Items {
			names[i] = it.Name
		}
		return as("roster", "n", itoa(len(names)), "names", strings.Join(names, ", "))
	}
	return ""
}

func orElse(name, id string) string {
	if name == "" {
		return id
	}
	return name
}

func as(code string, kv ...string) string {
	args := map[string]string{}
	for i := 0; i+1 < len(kv); i += 2 {
		args[kv[i]] = kv[i+1]
	}
	return Words("as/"+code, args)
}

func asList(answers []*procedure.Answer) string {
	wrong, unseen := marked(answers, procedure.SeenWrong, ""), marked(answers, procedure.NotSeen, "")
	code := "all-ok"
	switch {
	case len(wrong) > 0 && len(unseen) > 0:
		code = "list"
	case len(wrong) > 0:
		code = "list-wrong"
	case len(unseen) > 0:
		code = "list-unseen"
	}
	return as(code, "wrong", strings.Join(wrong, " "), "unseen", strings.Join(unseen, " "), "n", itoa(len(answers)-len(wrong)-len(unseen)))
}

func asPressure(step procedure.Step, p procedure.Pressure, width int) string {
	ps, err := reading.Entry{Values: p.Values(), Unit: reading.Unit(p.Unit)}.Pressures()
	if err != nil {
		return ""
	}
	pa := make([]float64, len(ps))
	for i, v := range ps {
		pa[i] = float64(v)
	}
	s, err := reading.Summarize(pa)
	if err != nil {
		return ""
	}
	mean := signed(s.Mean, 1)
	if s.N == 1 {
		if p.AveragingS > 0 {
			return as("averaged", "mean", mean, "s", reading.Format(p.AveragingS, -1))
		}
		return as("one", "mean", mean)
	}
	most, err := strconv.ParseFloat(step.Args["max_spread"], 64)
	if err != nil {
		return as("values", "n", itoa(s.N), "mean", mean, "spread", reading.Format(s.Spread, 1))
	}
	spread, bound := reading.FormatPair(s.Spread, most, 1)
	verdict := Words("as/gusty", nil)
	if s.Spread <= most {
		verdict = Words("as/steady", nil)
	}
	short := as("values", "n", itoa(s.N), "mean", mean, "spread", spread) + verdict
	long := as("values", "n", itoa(s.N), "mean", mean, "spread", spread+" Pa") + verdict + as("steady-bound", "max", bound)
	if len(long) <= width {
		return long
	}
	return short
}

func asPairs(p procedure.Pairs) string {
	var diff []float64
	for i := range p.Off {
		off, err1 := reading.ToPressure(p.Off[i], reading.Unit(p.Unit))
		on, err2 := reading.ToPressure(p.On[i], reading.Unit(p.Unit))
		if err1 != nil || err2 != nil {
			return ""
		}
		diff = append(diff, float64(on-off))
	}
	s, err := reading.Summarize(diff)
	if err != nil {
		return ""
	}
	return as("pairs", "n", itoa(s.N), "mean", signed(s.Mean, 1), "spread", reading.Format(s.Spread, 1))
}

func asGas(g procedure.Gas) string {
	most, o2 := 0.0, ""
	for i, co := range g.CO {
		most = max(most, co)
		if i < len(g.O2) && g.O2[i] != nil {
			o2 = as("gas-o2", "o2", reading.Format(*g.O2[i], -1))
		}
	}
	text := as("gas", "co", reading.Format(most, -1)) + o2
	switch {
	case g.OverRange:
		text = Words("as/over", nil)
	case len(g.CO) > 1:
		text = as("cells", "n", itoa(len(g.CO)), "co", reading.Format(most, -1))
	}
	if g.Rising {
		text += Words("as/rising", nil)
	}
	return text
}

// signed prints a pressure with its sign, as it must be typed.
func signed(v float64, decimals int) string {
	s := reading.Format(v, decimals)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

// factsOf gives the facts of a vent by their names in a record.
func factsOf(f procedure.VentFacts) (map[string]procedure.Tri, error) {
	raw, err := json.Marshal(f)
	if err != nil {
		return nil, err
	}
	m := map[string]procedure.Tri{}
	return m, json.Unmarshal(raw, &m)
}
