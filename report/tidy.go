package report

import (
	"math"
	"slices"
	"strings"

	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// Cell is a cell of a tidy row: text, or a number as it was measured or
// worked out. Both empty: nothing was measured or given.
type Cell struct {
	Text   string
	Number *float64
}

// TidyColumns are the columns of [Tidy]. Columns are added at the end, never
// renamed.
var TidyColumns = []string{"record", "home", "phase", "practice", "type", "line", "time", "step", "subject", "name", "quantity", "value", "unit", "lowest", "highest", "samples", "averaging_s",
	"in_force", "condition", "fans_on", "doors_shut", "air_handlers_on", "caz_door", "rule", "verdict", "limit", "margin", "uncertainty", "leads_to", "row", "source", "evidence", "detail"}

// Tidy gives one row for each reading in the order of the record, then one
// for each finding, then what was worked out ahead: nets after sealing and
// combustion air, of type "plan", and the findings of the phases before, under
// the ids of their records. Pressures are in pascals; a reading that is no longer in
// force says "no" there. Texts went through [Clean].
func Tidy(in Input) [][]Cell {
	b := newBuilder(in)
	t := tidy{builder: b, last: map[string]int{}}
	for _, ev := range in.Events {
		if answerOf(ev) != nil || ev.Kind == procedure.KindSkip || ev.Kind == procedure.KindCorrect {
			t.last[ev.Step] = ev.N
		}
	}
	t.measured = map[int]bool{}
	for _, a := range slices.Concat(b.obs.Ambient, b.obs.LEL) {
		t.measured[a.N] = true
	}
	for _, a := range b.obs.ApplObs {
		for _, s := range []*procedure.SpillObs{a.Spill, a.SpillNatural} {
			if s != nil {
				t.measured[s.N] = true
			}
		}
		for _, g := range []*procedure.GasObs{a.CO, a.CONatural} {
			if g != nil {
				t.measured[g.N] = true
			}
		}
	}
	for _, ev := range in.Events {
		if a := answerOf(ev); a != nil {
			t.answer(ev, *a)
		}
		h, ok := ev.Data.(*procedure.Hazard)
		if c, is := ev.Data.(*procedure.Correct); is && c.Hazard != nil {
			h, ok = c.Hazard, true
		}
		if ok {
			r := t.reading(ev, h.Subject, "hazard "+string(h.Code), h.Value, "ppm", true)
			if h.Code == procedure.LEL {
				r["unit"] = word("% LEL")
			}
			if h.OverRange {
				r["detail"] = word("over range")
			}
		}
	}
	t.findings(in.Judgement)
	t.plans()
	for p := in.Prior; p != nil; p = p.Prior { // of the phases before: what was found
		before := newBuilder(Input{Lang: in.Lang, Header: p.Header, Observations: p.Observations, Judgement: p.Judgement})
		x := tidy{builder: before}
		x.findings(p.Judgement)
		t.rows = append(t.rows, x.rows...)
	}
	out := make([][]Cell, len(t.rows))
	for i, r := range t.rows {
		for _, c := range TidyColumns {
			x := r[c]
			x.Text = Clean(x.Text)
			if x.Number = known(x.Number); x.Number != nil && math.Abs(*x.Number) < 1e9 { // without the dust of binary fractions
				v := math.Round(*x.Number*1e6) / 1e6
				x.Number = &v
			}
			out[i] = append(out[i], x)
		}
	}
	return out
}

func word(s string) Cell { return Cell{Text: s} }

func figure(v float64) Cell { return Cell{Number: &v} }

type tidy struct {
	*builder
	last     map[string]int
	measured map[int]bool
	rows     []map[string]Cell
}

func (t *tidy) row(kind string) map[string]Cell {
	h := t.in.Header
	practice := "no"
	if h.Practice != nil {
		practice = "yes"
	}
	r := map[string]Cell{"record": word(h.Record), "home": word(h.Home), "phase": word(string(h.Phase)), "practice": word(practice), "type": word(kind)}
	t.rows = append(t.rows, r)
	return r
}

func (t *tidy) reading(ev procedure.Event, subject, quantity string, v *float64, unit string, inForce bool) map[string]Cell {
	r := t.row("reading")
	r["line"], r["time"], r["step"] = figure(float64(ev.N)), word(ev.Observed.Format("2006-01-02T15:04:05Z07:00")), word(ev.Step)
	if subject == "" {
		subject = t.subject(ev.Step)
	}
	r["subject"] = word(subject)
	if subject != "" {
		r["name"] = word(t.name(subject))
	}
	r["quantity"], r["value"], r["unit"] = word(quantity), Cell{Number: v}, word(unit)
	r["in_force"] = word("no")
	if inForce && t.last[ev.Step] <= ev.N {
		r["in_force"] = word("yes")
	}
	if strings.HasSuffix(ev.Step, "/natural") {
		r["condition"] = word("natural")
	}
	return r
}

// subject of a step is the zone or appliance that its key names.
func (t *tidy) subject(step string) string {
	for _, part := range strings.Split(step, "/") {
		if t.names[part] != "" {
			return part
		}
	}
	return ""
}

func (t *tidy) answer(ev procedure.Event, a procedure.Answer) {
	switch {
	case a.Pressure != nil:
		quantity := "zone pressure"
		if strings.HasPrefix(ev.Step, "draft/") {
			quantity = "draft"
		}
		st, err := reading.Summarize(a.Pressure.Values())
		if err != nil {
			return
		}
		r := t.pressure(ev, quantity, st, a.Pressure.Unit, a.Pressure.Setup)
		if a.Pressure.AveragingS > 0 {
			r["averaging_s"] = figure(a.Pressure.AveragingS)
		}
	case a.Pairs != nil:
		for i := range min(len(a.Pairs.Off), len(a.Pairs.On)) {
			for k, v := range []float64{a.Pairs.Off[i], a.Pairs.On[i]} {
				st, err := reading.Summarize([]float64{v})
				if err == nil {
					t.pressure(ev, "zone pressure, pair, "+[]string{"off", "on"}[k], st, a.Pairs.Unit, a.Pairs.Setup)
				}
			}
		}
	case a.Gas != nil:
		quantity, unit := "CO as measured", "ppm"
		switch {
		case strings.HasSuffix(ev.Step, "/lel"):
			quantity, unit = "gas in room air", "% LEL"
		case !strings.HasPrefix(ev.Step, "co/"):
			quantity = "ambient CO"
		}
		for i, v := range a.Gas.CO {
			r := t.reading(ev, "", quantity, &v, unit, t.measured[ev.N])
			if a.Gas.OverRange {
				r["detail"] = word("over range")
			}
			if i < len(a.Gas.O2) && a.Gas.O2[i] != nil {
				t.reading(ev, "", "O2", a.Gas.O2[i], "%", t.measured[ev.N])
			}
		}
		if len(a.Gas.CO) == 0 && a.Gas.OverRange {
			t.reading(ev, "", quantity, nil, unit, t.measured[ev.N])["detail"] = word("over range")
		}
	case a.Spill != nil:
		t.reading(ev, "", "spillage", &a.Spill.Seconds, "s", t.measured[ev.N])["detail"] = word(string(a.Spill.Outcome))
	case a.Weather != nil:
		w := t.in.Units.Weather(*a.Weather)
		t.reading(ev, "", "wind", &w.Wind, w.WindUnit, true)
		t.reading(ev, "", "outdoor temperature", &w.Temp, w.TempUnit, true)
	case a.Number != nil:
		v, unit := a.Number.Value, a.Number.Unit
		if v != nil {
			x, u := t.in.Units.Show(*v, unit)
			v, unit = &x, u
		}
		t.reading(ev, "", wording.KeyText(t.lang, ev.Step, t.name), v, unit, true)
	}
}

func (t *tidy) findings(j procedure.Judgement) {
	for _, f := range j.Findings {
		r := t.row("finding")
		r["subject"], r["name"] = word(f.Subject), word(t.name(f.Subject))
		r["quantity"], r["value"], r["unit"] = word(f.Rule), Cell{Number: f.Value}, word(f.Unit)
		switch k := about(f); {
		case f.Natural || f.Detail == "natural":
			r["condition"] = word("natural")
		case k == aboutNet || k == aboutSpill || k == aboutDraft:
			r["condition"] = word("worst case")
		}
		r["rule"], r["verdict"], r["leads_to"] = word(f.Rule), word(f.Verdict.String()), word(string(f.Severity))
		r["limit"], r["margin"], r["uncertainty"] = Cell{Number: f.Limit}, Cell{Number: f.Margin}, Cell{Number: f.Uncertainty}
		r["row"], r["source"], r["evidence"], r["detail"] = word(f.Row), word(f.Source), word(string(f.Evidence)), word(f.Detail)
	}
}

// plans are the figures of what is planned, none of them measured.
func (t *tidy) plans() {
	plan := func(z procedure.Zone, quantity string, v *float64, unit string) map[string]Cell {
		if v != nil {
			x, u := t.in.Units.Show(*v, unit)
			v, unit = &x, u
		} else {
			_, unit = t.in.Units.Show(0, unit)
		}
		r := t.row("plan")
		r["subject"], r["name"], r["quantity"], r["value"], r["unit"] = word(z.ID), word(z.Name), word(quantity), Cell{Number: v}, word(unit)
		return r
	}
	for _, z := range SealingZones(t.in) {
		if z.Err != nil {
			plan(z.Zone, "net after sealing", nil, "Pa")["verdict"] = word(procedure.NotEvaluated.String())
			continue
		}
		f := z.Forecast
		net := func(quantity string, q reading.Flow, s forecast.Span, v procedure.Verdict) {
			x := float64(s.Net)
			r := plan(z.Zone, quantity, &x, "Pa")
			r["lowest"], r["highest"], r["verdict"], r["row"] = figure(float64(s.Low)), figure(float64(s.High)), word(v.String()), word(z.Row)
			if l := f.Design.Limit; l != nil {
				r["limit"] = figure(float64(*l))
			}
			r["detail"] = word("at " + num(float64(q), -1) + " CFM50")
		}
		net("net today", f.Design.Before, f.Today, f.VerdictToday)
		if f.After != nil {
			net("net after sealing", f.Design.After, *f.After, f.Verdict)
		}
		for _, x := range []struct {
			quantity string
			q        *reading.Flow
		}{{"flow at 50 Pa to stop at", f.Stop}, {"flow at 50 Pa that reaches the limit", f.Floor}} {
			if x.q != nil {
				v := float64(*x.q)
				plan(z.Zone, x.quantity, &v, string(reading.UnitCFM))
			}
		}
	}
	for _, a := range Rooms(*t.obs) {
		there := a.Zone.Volume
		plan(a.Zone, "volume there is", &there, string(reading.UnitFt3))
		r := plan(a.Zone, "volume needed for combustion air", nil, string(reading.UnitFt3))
		r["verdict"] = word(procedure.NotEvaluated.String())
		if a.Err == nil {
			need, _ := t.in.Units.Show(float64(a.Air.Required), string(reading.UnitFt3))
			r["value"], r["source"], r["evidence"], r["verdict"] = figure(need), word(a.Air.Source), word(string(a.Air.Evidence)), word("enough")
			if !a.Air.Sufficient {
				r["verdict"] = word("not enough")
			}
		}
	}
}

func (t *tidy) pressure(ev procedure.Event, quantity string, st reading.Stats, unit string, setup int) map[string]Cell {
	pa := func(v float64) Cell {
		x, err := reading.Convert(v, reading.Unit(unit), reading.UnitPa)
		if err != nil {
			return Cell{}
		}
		return figure(x)
	}
	r := t.reading(ev, "", quantity, pa(st.Mean).Number, "Pa", t.used[ev.N])
	r["lowest"], r["highest"], r["samples"] = pa(st.Min), pa(st.Max), figure(float64(st.N))
	su, ok := t.byN[setup].Data.(*procedure.Setup)
	if c, is := t.byN[setup].Data.(*procedure.Correct); is && c.Setup != nil {
		su, ok = c.Setup, true
	}
	if ok {
		r["fans_on"], r["doors_shut"], r["air_handlers_on"], r["caz_door"] = word(t.nameAll(su.Fans)), word(t.nameAll(su.Doors)), word(t.nameAll(su.AirHandler)), word(su.CAZDoor)
	}
	return r
}
