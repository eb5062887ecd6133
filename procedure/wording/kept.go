package wording

import (
	"math"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// KeptText says in one line what was kept: "5 values, mean -0.9 Pa, spread
// 0.3".
func KeptText(l Lang, st procedure.Step, data procedure.Data) string {
	switch d := data.(type) {
	case *procedure.Answer:
		if d != nil {
			return answerText(l, st, *d)
		}
	case *procedure.Setup:
		if d != nil && len(d.NotRun) > 0 {
			return say(l, "kept.set-but", "what", strings.Join(itemNames(st, d.NotRun), ", "))
		}
		return say(l, "kept.set")
	case *procedure.Told:
		if d != nil {
			return say(l, "kept.told", "whom", d.Whom)
		}
	case *procedure.Note:
		return say(l, "kept.note")
	case *procedure.Attach:
		if d != nil {
			return say(l, "kept.photo", "n", num(math.Ceil(float64(d.Bytes)/1000), 0))
		}
	case *procedure.Doubt:
		if d != nil && d.Settled != "" {
			if t := say(l, "kept.doubt."+d.Settled, "how", d.How); t != "" {
				return t
			}
		}
	case *procedure.Skip:
		if d != nil {
			return say(l, "kept.skip", "why", skipText(l, d.Reason, d.Text))
		}
	case *procedure.Hazard:
		if d != nil {
			return hazardText(l, *d)
		}
	}
	return say(l, "kept.kept")
}

// KeptAll says in one line what was kept of a step that gives several facts at
// once: "7 answers: all so", "3 answers: 1 into the room, 2 toward the zone".
// Of one fact it says what [KeptText] does.
func KeptAll(l Lang, st procedure.Step, data []procedure.Data) string {
	if len(data) == 1 {
		return Said(l, st, data)
	}
	n := num(float64(len(data)), 0)
	if st.Form == procedure.FormConfirm {
		return say(l, "kept.all-of", "n", n, "what", choiceText(l, st.Ask, "as-before"))
	}
	if what := Said(l, st, data); what != "" {
		return say(l, "kept.all-of", "n", n, "what", what)
	}
	return say(l, "kept.all", "n", n)
}

// Said is what [KeptAll] says without the count; "" where that says enough.
func Said(l Lang, st procedure.Step, data []procedure.Data) string {
	if len(data) == 1 {
		if sk, ok := data[0].(*procedure.Skip); ok && sk != nil && sk.Reason == procedure.SkipNotWanted {
			return say(l, "kept.left-out")
		}
		return KeptText(l, st, data[0])
	}
	var each []string // what was said, in the order first said
	count := map[string]int{}
	for _, d := range data {
		t := KeptText(l, st, d)
		if count[t]++; count[t] == 1 {
			each = append(each, t)
		}
	}
	switch ok := say(l, "kept.ok"); {
	case len(each) == 1 && each[0] == ok && st.Form == procedure.FormGate:
		each[0] = say(l, "kept.gate-none")
	case len(each) == 1 && each[0] == ok:
		each[0] = say(l, "kept.all-ok")
	case st.Form == procedure.FormNumbers || len(each) > 4:
		if each = each[:0]; st.Form != procedure.FormNumbers {
			return ""
		}
		for _, d := range data {
			each = append(each, KeptText(l, st, d))
		}
	default:
		for i, t := range each {
			each[i] = say(l, "kept.each", "n", num(float64(count[t]), 0), "what", t)
		}
	}
	return strings.Join(each, ", ")
}

// Reading is [KeptText] for a list of readings, where room is short: of several
// values their mean and spread alone.
func Reading(l Lang, st procedure.Step, data procedure.Data) string {
	a, ok := data.(*procedure.Answer)
	if !ok || a == nil || a.Pressure == nil || len(a.Pressure.Values()) < 2 {
		return KeptText(l, st, data)
	}
	mean, spread, d := meanSpread(*a.Pressure)
	return say(l, "kept.short", "mean", signedNum(mean, d), "unit", a.Pressure.Unit, "spread", num(spread, d))
}

func meanSpread(p procedure.Pressure) (mean, spread float64, d int) {
	v := p.Values()
	lo, hi := v[0], v[0]
	for _, x := range v {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	return procedure.MeanOf(v), hi - lo, decimals(p.Unit)
}

// factNames are the vent facts as their list words them: what is true, and
// what is not known.
func factNames(l Lang, f procedure.VentFacts) []string {
	var out []string
	for _, x := range []struct {
		code string
		is   procedure.Tri
	}{{"can_be_fired", f.Fireable}, {"!shares", f.Shares.Not()}, {"test_hole", f.TestHole}, {"orphaned", f.Orphaned}, {"outside", f.Outside}, {"!inside", f.InsideBoundary.Not()},
		{"draft_hood", f.DraftHood}, {"barometric", f.Barometric}, {"vent_damper", f.VentDamper}, {"high_static", f.HighStatic}, {"top_inducer", f.TopInducer}, {"!main_heat", f.MainHeat.Not()}} {
		if x.is == procedure.Yes {
			out = append(out, ItemText(l, x.code))
		}
	}
	return out
}

func skipText(l Lang, r procedure.SkipReason, text string) string {
	if r == procedure.SkipOther && text != "" {
		return text
	}
	t := choiceText(l, "skip.reason", string(r))
	if text != "" {
		t += " (" + text + ")"
	}
	return t
}

// itemNames are the names of things as the step's list has them.
func itemNames(st procedure.Step, ids []string) []string {
	return named(ids, func(id string) string {
		for _, it := range st.Items {
			if it.Key == id && it.Name != "" {
				return it.Name
			}
		}
		return id
	})
}

func num(v float64, decimals int) string { return reading.Format(v, decimals) }

// signedNum prints a pressure with its sign, as it must be typed.
func signedNum(v float64, decimals int) string {
	s := num(v, decimals)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

func decimals(unit string) int {
	switch reading.Unit(unit) {
	case reading.UnitPa, reading.UnitPercent, reading.UnitMmH2O:
		return 1
	case reading.UnitInH2O, reading.UnitInH2O39F, reading.UnitInH2O60F, reading.UnitPsf:
		return 4
	case reading.UnitPsi, reading.UnitInHg:
		return 5
	}
	return 0
}

func answerText(l Lang, st procedure.Step, a procedure.Answer) string {
	switch {
	case a.Seen != nil:
		t := say(l, "kept."+string(a.Seen.State))
		if a.Seen.Text != "" {
			t += ": " + a.Seen.Text
		}
		return t
	case a.Choice != "":
		if i := index(st.Choices, a.Choice); i >= 0 {
			if n := strings.Split(st.Args["names"], "|"); st.Args["names"] != "" && i < len(n) {
				return n[i]
			}
		}
		return choiceText(l, st.Ask, a.Choice)
	case a.Pressure != nil:
		return pressureText(l, *a.Pressure)
	case a.Pairs != nil:
		diff := make([]float64, 0, len(a.Pairs.On))
		for i := range a.Pairs.On {
			if i < len(a.Pairs.Off) {
				diff = append(diff, a.Pairs.On[i]-a.Pairs.Off[i])
			}
		}
		return say(l, "kept.pairs", "n", num(float64(len(diff)), 0), "mean", signedNum(procedure.MeanOf(diff), decimals(a.Pairs.Unit)), "unit", a.Pairs.Unit)
	case a.Gas != nil:
		return gasText(l, st, *a.Gas)
	case a.Spill != nil:
		return spillText(l, st, *a.Spill)
	case a.Weather != nil:
		w := a.Weather
		return say(l, "kept.weather", "wind", num(w.Wind, -1), "wu", w.WindUnit, "temp", num(w.Temp, -1), "tu", w.TempUnit)
	case a.Burner != nil:
		in := say(l, "kept.no-input")
		if a.Burner.Input != 0 {
			in = group(num(a.Burner.Input, -1)) + " " + a.Burner.Unit
		}
		return say(l, "kept.burner", "fuel", choiceText(l, "fuel", string(a.Burner.Fuel)), "input", in)
	case a.Number != nil:
		if a.Number.Value == nil {
			return say(l, "kept.not-known")
		}
		return strings.TrimSpace(num(*a.Number.Value, -1) + " " + a.Number.Unit)
	case a.Roster != nil:
		var n []string
		for _, it := range a.Roster.Items {
			name := it.Name
			if name == "" {
				name = it.ID
			}
			n = append(n, name)
		}
		return orNone(l, n)
	case a.VentFacts != nil:
		return orNone(l, factNames(l, *a.VentFacts))
	case a.Names != nil:
		return orNone(l, itemNames(st, a.Names.IDs))
	case a.Instrument != nil:
		return a.Instrument.Name
	case a.Text != "":
		return a.Text
	}
	return say(l, "kept.kept")
}

func orNone(l Lang, names []string) string {
	if len(names) == 0 {
		return say(l, "kept.none-there")
	}
	return strings.Join(names, ", ")
}

func index(list []string, x string) int {
	for i, y := range list {
		if x == y {
			return i
		}
	}
	return -1
}

func pressureText(l Lang, p procedure.Pressure) string {
	v, d := p.Values(), decimals(p.Unit)
	switch {
	case len(v) > 1:
		mean, spread, d := meanSpread(p)
		return say(l, "kept.values", "n", num(float64(len(v)), 0), "mean", signedNum(mean, d), "unit", p.Unit, "spread", num(spread, d))
	case len(v) == 1 && p.AveragingS > 0:
		return say(l, "kept.averaged", "value", signedNum(v[0], d), "unit", p.Unit, "s", num(p.AveragingS, -1))
	case len(v) == 1:
		return say(l, "kept.one", "value", signedNum(v[0], d), "unit", p.Unit)
	}
	return say(l, "kept.kept")
}

func gasText(l Lang, st procedure.Step, g procedure.Gas) string {
	if g.OverRange {
		return say(l, "kept.over")
	}
	if len(g.CO) == 0 {
		return say(l, "kept.kept")
	}
	if st.Unit == "%" {
		return num(g.CO[0], -1) + " % LEL"
	}
	top := 0
	for i, v := range g.CO {
		if v > g.CO[top] {
			top = i
		}
	}
	t := say(l, "kept.gas", "co", num(g.CO[top], -1))
	if len(g.CO) > 1 {
		t = say(l, "kept.cells", "n", num(float64(len(g.CO)), 0), "co", num(g.CO[top], -1))
	}
	if top < len(g.O2) && g.O2[top] != nil {
		t += say(l, "kept.o2", "o2", num(*g.O2[top], 1))
	}
	if g.Rising {
		t += say(l, "kept.rising")
	}
	return t
}

func spillText(l Lang, st procedure.Step, s procedure.Spill) string {
	v, lim := num(s.Seconds, -1), num(st.LimitS, -1) // as the clock showed it
	t := say(l, "kept."+string(s.Outcome), "s", v)
	if st.LimitS <= 0 {
		return t
	}
	side := procedure.Bound{Value: st.LimitS, Sense: procedure.AtMost}.Side(s.Seconds, 0)
	if s.Outcome == procedure.SpillStill || side != procedure.SideInside {
		return t + say(l, "kept.past", "limit", lim)
	}
	return t + say(l, "kept.inside", "limit", lim)
}

// hazardText says what a hazard is, with its value.
func hazardText(l Lang, h procedure.Hazard) string {
	t := choiceText(l, "hazard.kind", string(h.Code))
	unit := "ppm"
	if h.Code == procedure.LEL {
		unit = "%"
	}
	switch {
	case h.OverRange:
		t += ", " + say(l, "kept.over")
	case h.Value != nil:
		t += ", " + num(*h.Value, -1) + " " + unit
	}
	return t
}
