package forms

import (
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Typed gives the text that [Parse] turns into the data at the step: what
// stands beside the box of a correction, and in a sheet. A step with several
// keys takes its payloads in the order of [procedure.Step.Keys]; hazards among
// them are left out, as they follow from the lines. It returns "" for data that
// cannot be typed at the step.
func Typed(step procedure.Step, data ...procedure.Data) string {
	var answers []*procedure.Answer
	for _, d := range data {
		switch d := d.(type) {
		case *procedure.Answer:
			answers = append(answers, d)
		case *procedure.Skip:
			if d.Reason == procedure.SkipNotWanted && step.Wanted {
				return "-"
			}
			return ""
		case *procedure.Setup:
			return typedSetup(step, *d)
		case *procedure.Told:
			return d.Whom + "; " + d.How
		case *procedure.Doubt:
			switch d.Settled {
			case "retake":
				return "r"
			case "left":
				return "k"
			case "stands":
				return "ok " + d.How
			}
			return ""
		case *procedure.Note:
			return d.Text
		case *procedure.Handover:
			return d.Who
		}
	}
	if step.Form == procedure.FormConfirm {
		if len(answers) > 0 && answers[0].Choice == "changed" {
			return "2"
		}
		return "1"
	}
	if len(answers) == 0 || len(step.Keys()) != len(answers) {
		return ""
	}
	switch step.Form {
	case procedure.FormChecklist:
		return typedList(answers)
	case procedure.FormGate:
		return orNone(marked(answers, procedure.SeenWrong, ""))
	case procedure.FormTable, procedure.FormNumbers:
		words := make([]string, len(answers))
		for i, a := range answers {
			if words[i] = typedCell(step, a); words[i] == "" {
				return ""
			}
		}
		return strings.Join(words, " ")
	}
	return typedAnswer(step, answers[0])
}

func orNone(words []string) string {
	if len(words) == 0 {
		return "none"
	}
	return strings.Join(words, " ")
}

// marked lists the numbers of the lines in a state.
func marked(answers []*procedure.Answer, state procedure.SeenState, prefix string) []string {
	var out []string
	for i, a := range answers {
		if a.Seen != nil && a.Seen.State == state {
			out = append(out, prefix+itoa(i+1))
		}
	}
	return out
}

func typedList(answers []*procedure.Answer) string {
	var parts []string
	for i, a := range answers {
		if a.Seen == nil {
			return ""
		}
		word := itoa(i + 1)
		switch a.Seen.State {
		case procedure.SeenWrong:
		case procedure.NotSeen:
			word = "?" + word
		default:
			continue
		}
		if a.Seen.Text != "" {
			word += ": " + a.Seen.Text
		}
		parts = append(parts, word)
	}
	if len(parts) == 0 {
		return "ok"
	}
	return strings.Join(parts, "; ")
}

// position is the number of a code on a list, "" when it is not there.
func position[T ~string](list []T, code T) string {
	for i, c := range list {
		if c == code {
			return itoa(i + 1)
		}
	}
	return ""
}

func typedCell(step procedure.Step, a *procedure.Answer) string {
	switch {
	case a.Seen != nil && a.Seen.State == procedure.NotSeen:
		return "?"
	case a.Number != nil:
		return strings.ReplaceAll(typedNumber(step, a.Number), " ", "")
	}
	return position(step.Choices, a.Choice)
}

func typedNumber(step procedure.Step, n *procedure.Number) string {
	if n.Value == nil {
		return "?"
	}
	return quantity(*n.Value, n.Unit, step.Unit)
}

// quantity leaves out the unit that the step takes anyway.
func quantity(v float64, unit, def string) string {
	u := reading.Unit(unit)
	if u.Family() == "" {
		return reading.Format(v, -1)
	}
	text := reading.FormatUnit(v, u)
	if unit == def {
		text = strings.TrimSuffix(text, " "+unit)
	}
	return text
}

func typedSetup(step procedure.Step, s procedure.Setup) string {
	var out []string
	for i, it := range step.Items {
		for _, id := range s.NotRun {
			if strings.HasPrefix(it.Code, "fan") && it.Key == id {
				out = append(out, itoa(i+1))
			}
		}
	}
	if len(out) == 0 {
		return "ok"
	}
	return strings.Join(out, " ")
}

func typedAnswer(step procedure.Step, a *procedure.Answer) string {
	switch {
	case a.Text != "":
		return a.Text
	case a.Choice != "":
		return position(step.Choices, a.Choice)
	case a.Number != nil:
		return typedNumber(step, a.Number)
	case a.Pressure != nil:
		e := reading.Entry{Values: a.Pressure.Values(), Unit: reading.Unit(a.Pressure.Unit), AveragingS: a.Pressure.AveragingS}
		return pressures(step, e)
	case a.Pairs != nil:
		e := reading.Entry{Unit: reading.Unit(a.Pairs.Unit)}
		for i := range a.Pairs.Off {
			if i < len(a.Pairs.On) {
				e.Values = append(e.Values, a.Pairs.Off[i], a.Pairs.On[i])
			}
		}
		return pressures(step, e)
	case a.Gas != nil:
		return typedGas(*a.Gas)
	case a.Spill != nil:
		s := reading.Format(a.Spill.Seconds, -1) + "s"
		switch a.Spill.Outcome {
		case procedure.SpillNone:
			return "none"
		case procedure.SpillStill:
			return "still " + s
		}
		return s
	case a.Weather != nil:
		w := a.Weather
		return quantity(w.Wind, w.WindUnit, string(reading.UnitMPH)) + " " + quantity(w.Temp, w.TempUnit, "")
	case a.Roster != nil:
		var out []string
		for _, it := range a.Roster.Items {
			out = append(out, position(step.Choices, it.Kind))
		}
		return orNone(out)
	case a.Burner != nil:
		fuel, input := position(procedure.Fuels, a.Burner.Fuel), "?"
		if fuel == "" {
			fuel = "?"
		}
		if a.Burner.Input != 0 {
			input = quantity(a.Burner.Input, a.Burner.Unit, string(reading.UnitBtuH))
		}
		return fuel + " " + input
	case a.VentFacts != nil:
		return typedFacts(step, *a.VentFacts)
	case a.Names != nil:
		var out []string
		for i, it := range step.Items {
			for _, id := range a.Names.IDs {
				if it.Key == id {
					out = append(out, itoa(i+1))
				}
			}
		}
		return orNone(out)
	case a.Instrument != nil:
		return typedInstrument(*a.Instrument)
	}
	return ""
}

func pressures(step procedure.Step, e reading.Entry) string {
	def := step.Unit
	if def == "" {
		def = string(reading.UnitPa)
	}
	text := e.String()
	if e.Unit == reading.UnitPa { // as gauges show them: -3.0, and never fewer digits than were read
		var words []string
		for _, v := range e.Values {
			words = append(words, signed(v, max(1, decimalsOf(v))))
		}
		_, unit, _ := strings.Cut(text, " "+string(e.Unit))
		text = strings.Join(words, " ") + " " + string(e.Unit) + unit
	}
	if string(e.Unit) == def {
		text = strings.Replace(text, " "+def, "", 1)
	}
	return text
}

// decimalsOf is the digits after the point that it takes to print v exactly.
func decimalsOf(v float64) int {
	_, frac, _ := strings.Cut(reading.Format(v, -1), ".")
	return len(frac)
}

func typedGas(g procedure.Gas) string {
	var out []string
	for i, co := range g.CO {
		out = append(out, reading.Format(co, -1))
		if i < len(g.O2) {
			out = append(out, o2Word(g.O2[i]))
		} else if len(g.CO) > 1 || g.OverRange {
			out = append(out, "?")
		}
	}
	if g.OverRange {
		out = append(out, "over")
	}
	if g.Rising {
		out = append(out, "r")
	}
	return strings.Join(out, " ")
}

func o2Word(o2 *float64) string {
	if o2 == nil {
		return "?"
	}
	return reading.Format(*o2, -1)
}

func typedFacts(step procedure.Step, f procedure.VentFacts) string {
	facts, err := factsOf(f)
	if err != nil {
		return ""
	}
	var out []string
	for i, it := range step.Items {
		fact := facts[strings.TrimPrefix(it.Code, "!")]
		if strings.HasPrefix(it.Code, "!") {
			fact = fact.Not()
		}
		switch fact {
		case procedure.Yes:
			out = append(out, itoa(i+1))
		case procedure.Unknown:
			out = append(out, "?"+itoa(i+1))
		}
	}
	return orNone(out)
}

func typedInstrument(in procedure.Instrument) string {
	parts := []string{in.Name, in.Serial, in.Calibrated, "", "", ""}
	if in.Resolution > 0 {
		parts[3] = reading.Format(in.Resolution, -1)
	}
	if in.AccuracyPa > 0 {
		parts[4] = reading.Format(in.AccuracyPa, -1)
	}
	if in.AccuracyPct > 0 {
		parts[5] = reading.Format(in.AccuracyPct, -1) + "%"
	}
	n := len(parts)
	for n > 1 && parts[n-1] == "" {
		n--
	}
	return strings.Join(parts[:n], "; ")
}
