package report

import (
	"math"
	"slices"
	"sort"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// cols makes columns from pairs of label key and weight; a leading ">" sets
// figures to the right.
func (b *builder) cols(spec ...any) []Column {
	var out []Column
	for i := 0; i+1 < len(spec); i += 2 {
		key, w := spec[i].(string), spec[i+1].(int)
		out = append(out, Column{Head: b.t(strings.TrimPrefix(key, ">")), Weight: float64(w), Right: key[0] == '>'})
	}
	return out
}

func (t *Table) add(bold int, cells ...string) {
	t.Rows = append(t.Rows, Row{Cells: cells, Bold: bold})
}

func (t *Table) span(s string) { t.Rows = append(t.Rows, Row{Cells: []string{s}, Span: true}) }

// put adds a table to a section, or the sentence that says it is empty.
func (b *builder) put(s *Section, t Table, none string) {
	if len(t.Rows) == 0 {
		s.Notes = append(s.Notes, b.t(none))
		return
	}
	s.Tables = append(s.Tables, t)
}

func strong(yes bool, cells int) int {
	if yes {
		return cells
	}
	return 0
}

// dash joins a list, or says with a dash that it is empty.
func dash(list ...string) string {
	if s := strings.Join(list, "; "); s != "" {
		return s
	}
	return "-"
}

// answerOf gives the answer that an event carries, itself or as a correction.
func answerOf(ev procedure.Event) *procedure.Answer {
	switch d := ev.Data.(type) {
	case *procedure.Answer:
		return d
	case *procedure.Correct:
		return d.Answer
	}
	return nil
}

// readings are all pressures in the order of the record, those no longer in
// force among them, each under the set-up it was taken in.
func (b *builder) readings() Section {
	s := Section{ID: "readings", Title: b.t("s-readings"), Notes: []string{b.t("n-readings")}}
	t := Table{Columns: b.cols(">c-line", 5, "c-time", 13, "c-reading", 29, "c-typed", 34, ">c-mean", 9, ">c-spread", 8)}
	last := map[string]int{}
	for _, ev := range b.in.Events {
		if a := answerOf(ev); a != nil && (a.Pressure != nil || a.Pairs != nil) {
			last[ev.Step] = ev.N
		}
	}
	setup, day := -1, ""
	for _, ev := range b.in.Events {
		a := answerOf(ev)
		if a == nil || a.Pressure == nil && a.Pairs == nil {
			continue
		}
		var n int
		var typed, unit string
		var st reading.Stats
		var err error
		if p := a.Pressure; p != nil {
			n, unit = p.Setup, p.Unit
			typed, st, err = b.typed(*p)
		} else {
			n, unit = a.Pairs.Setup, a.Pairs.Unit
			typed, st, err = b.pairs(*a.Pairs)
		}
		if n != setup {
			setup = n
			t.span(b.setupLine(n))
		}
		what := wording.KeyText(b.lang, ev.Step, b.name)
		if !b.used[ev.N] {
			why := b.t("not-used")
			if l := last[ev.Step]; l > ev.N {
				why = b.t("replaced", l)
			}
			what += " - " + why
		}
		at := ev.Observed.Format("15:04")
		if d := ev.Observed.Format("2006-01-02"); d != day {
			day, at = d, d+" "+at
		}
		mean, spread := "-", "-"
		if err == nil {
			mean = pa(st.Mean, unit)
			if st.N > 1 {
				spread = pa(st.Spread, unit)
			}
		}
		worst := slices.ContainsFunc(b.obs.ZoneObs, func(z procedure.ZoneObs) bool { return z.Worst != nil && z.Worst.N == ev.N })
		t.add(strong(worst, all), num(float64(ev.N), 0), at, what, typed, mean, spread)
	}
	b.put(&s, t, "none-taken")
	return s
}

// pa prints a value in pascals to hundredths, so that a net can be worked out
// again by hand from the printed means.
func pa(v float64, unit string) string {
	p, err := reading.Convert(v, reading.Unit(unit), reading.UnitPa)
	if err != nil {
		return "-"
	}
	return num(p, 2)
}

// typed says what was typed, with its unit.
func (b *builder) typed(p procedure.Pressure) (string, reading.Stats, error) {
	var v []string
	d := places(p.Values())
	for _, x := range p.Values() {
		v = append(v, num(x, d))
	}
	t := strings.Join(v, " ") + " " + p.Unit
	st, err := reading.Summarize(p.Values())
	if p.AveragingS > 0 {
		t += b.t("averaged", num(p.AveragingS, -1))
	}
	if l, ok := b.byN[p.Log].Data.(*procedure.Log); ok {
		t += "; " + b.t("log-window", l.Count, l.From.Format("15:04:05"), l.To.Format("15:04:05"), num(l.S, 3), num(l.StandardError, 3), l.Unit)
	}
	if p.Unit != string(reading.UnitPa) && st.N > 1 {
		t += "; " + b.t("mean-typed", num(st.Mean, 4), num(st.Spread, 4), p.Unit)
	}
	return t, st, err
}

// places are the decimals of the value that has the most, so that -1.0 beside
// -1.1 keeps its zero.
func places(list []float64) int {
	n := 0
	for _, x := range list {
		if _, frac, ok := strings.Cut(num(x, -1), "."); ok {
			n = max(n, len(frac))
		}
	}
	return n
}

func (b *builder) pairs(p procedure.Pairs) (string, reading.Stats, error) {
	var v []string
	var d []float64
	n := places(append(slices.Clone(p.Off), p.On...))
	for i := range min(len(p.On), len(p.Off)) {
		v = append(v, num(p.Off[i], n)+" / "+num(p.On[i], n))
		d = append(d, p.On[i]-p.Off[i])
	}
	st, err := reading.Summarize(d)
	return b.t("off-on", strings.Join(v, ", "), p.Unit), st, err
}

// setupLine words the set-up in force at line n.
func (b *builder) setupLine(n int) string {
	switch d := b.byN[n].Data.(type) {
	case *procedure.Setup:
		return b.t("setup-at", n) + " " + b.setup(*d)
	case *procedure.Correct:
		if d.Setup != nil {
			return b.t("setup-at", n) + " " + b.setup(*d.Setup)
		}
	}
	return b.t("setup-none")
}

// setup names every device and door that was set, so that a person can set
// the house so again.
func (b *builder) setup(su procedure.Setup) string {
	var out []string
	add := func(yes bool, key string, args ...any) {
		if yes {
			out = append(out, b.t(key, args...))
		}
	}
	o := b.obs
	add(len(su.Fans) == 0, "fans-off")
	add(len(su.Fans) > 0, "is-on", b.nameAll(su.Fans))
	add(len(su.Fans) > 0 && len(su.Fans)+len(su.NotRun) < len(o.Fans), "fans-rest")
	add(len(su.NotRun) > 0, "fans-not-run", b.nameAll(su.NotRun))
	flow, unit := b.in.Units.Show(su.FlowCFM, string(reading.UnitCFM))
	add(su.FlowCFM > 0, "stand-in", num(flow, 0), unit)
	add(len(su.AirHandler) > 0, "is-on", b.nameAll(su.AirHandler))
	add(len(su.AirHandler) == 0 && len(o.AirHandlers) > 0, "air-off")
	add(len(su.Doors) > 0, "doors-shut", b.nameAll(su.Doors))
	add(len(su.Doors) > 0 && len(su.Doors) < len(o.Doors), "doors-rest")
	add(len(su.Doors) == 0 && len(o.Doors) > 0, "doors-open")
	add(su.CAZDoor == "open", "caz-open")
	add(su.CAZDoor == "closed", "caz-shut")
	return strings.Join(out, "; ")
}

// zones are the worst cases with their limits, and a trace for each.
func (b *builder) zones() Section {
	s := Section{ID: "zones", Title: b.t("s-zones")}
	var again []Table
	t := Table{Columns: b.cols("c-zone", 20, "c-baselines", 17, ">c-worst", 11, ">c-net", 10, ">c-u", 10, "c-limit", 27, "c-verdict", 21)}
	for _, z := range b.obs.Zones {
		w := b.worst(z)
		zo := b.obs.ZoneOf(z.ID)
		if zo == nil {
			zo = &procedure.ZoneObs{}
		}
		var bases []string
		for _, p := range zo.Baselines {
			bases = append(bases, num(procedure.MeanOf(p.Values), 2))
		}
		cells := []string{z.Name, b.or(strings.Join(bases, ", "), "not-tested"), b.opt(w.Reading), b.opt(w.Net), b.opt(w.Uncertainty)}
		nets := b.nets(z)
		if len(nets) == 0 && b.untouched(*zo) {
			t.add(0, z.Name, "-", "-", "-", "-", "-", b.t("v-not-applicable"))
			t.span(z.Name + ": " + b.t("untouched"))
			t.Rows[len(t.Rows)-1].After = true
			continue
		}
		for _, f := range nets {
			limit := b.t("no-figure")
			if f.Limit != nil {
				limit = num(*f.Limit, 1)
				if f.Value != nil {
					_, limit = reading.FormatPair(*f.Value, *f.Limit, 1)
				}
			}
			limit += ", " + dash(f.Row) + " (" + b.row(f.Row).evidence(f) + ")"
			if f.Subject != z.ID {
				limit += ", " + b.name(f.Subject)
			}
			t.add(strong(bad(f), all), append(cells, limit, b.verdict(f))...)
			cells = []string{"", "", "", "", ""}
		}
		switch {
		case len(nets) > 0:
		case b.in.Rules.Scheme.Name != "" && !b.in.Rules.PressureSet:
			t.add(0, append(cells, b.t("no-pa-limit"), b.t("recorded"))...)
		default:
			t.add(0, append(cells, "-", b.t("v-not-evaluated"))...)
		}
		held := b.t("never-held")
		if zo.Held != nil {
			held = b.t("held-at", b.setup(*zo.Held))
		}
		for _, p := range zo.Readings {
			if slices.Contains(w.About, p.N) && (zo.Worst == nil || zo.Worst.N != p.N) {
				held += " " + b.t("lowest-at", p.N, b.setup(p.Setup))
			}
		}
		if w.Pairs > 0 {
			held += " " + b.t("pairs-net", w.Pairs)
		}
		t.span(z.Name + ": " + held)
		t.Rows[len(t.Rows)-1].After = true
		if tr := b.trace(z, zo, w); len(tr.Points) > 1 {
			s.Traces = append(s.Traces, tr)
		}
		if zo.Held != nil {
			again = append(again, b.again(z, *zo.Held))
			if zo.AsBefore {
				s.Notes = append(s.Notes, b.t("n-as-before", z.Name))
			}
		}
	}
	if len(t.Rows) > 0 {
		s.Notes = append(s.Notes, b.t("n-zones"), b.uncertainty())
	}
	b.put(&s, t, "no-zones")
	s.Tables = append(s.Tables, again...)
	return s
}

// untouched reports whether nothing was read of a zone and nothing had to be:
// the home may go ahead, so what was not tested there was not asked.
func (b *builder) untouched(zo procedure.ZoneObs) bool {
	d := b.in.Judgement.Decision
	return (d == procedure.Proceed || d == procedure.Refer) && len(b.in.Judgement.Missing) == 0 && len(zo.Baselines)+len(zo.Readings) == 0 && zo.Held == nil
}

// again is the worst case as a list to set the house by once more.
func (b *builder) again(z procedure.Zone, su procedure.Setup) Table {
	t := Table{Whole: true, Title: b.t("t-again", z.Name), Columns: b.cols("c-set-what", 60, "c-set-to", 50, "c-done", 18)}
	row := func(what, state string) { t.add(0, what, b.t(state), "[ ]") }
	row(b.t("windows-doors"), "set-shut")
	if su.CAZDoor == "open" || su.CAZDoor == "closed" {
		row(b.t("caz-door", z.Name), map[string]string{"open": "set-open", "closed": "set-shut"}[su.CAZDoor])
	}
	for _, d := range b.obs.Doors {
		state := "set-open"
		if slices.Contains(su.Doors, d.ID) {
			state = "set-shut"
		}
		row(b.name(d.ID), state)
	}
	for _, f := range b.obs.Fans {
		state := "set-off"
		if slices.Contains(su.Fans, f.ID) {
			state = "set-on"
		} else if slices.Contains(su.NotRun, f.ID) {
			state = "set-not-run"
		}
		row(b.name(f.ID), state)
	}
	for _, h := range b.obs.AirHandlers {
		state := "set-off"
		if slices.Contains(su.AirHandler, h.ID) {
			state = "set-on"
		}
		row(b.name(h.ID), state)
	}
	if su.FlowCFM > 0 {
		v, unit := b.in.Units.Show(su.FlowCFM, string(reading.UnitCFM))
		row(b.t("stand-in-fan", num(v, -1), unit), "set-on")
	}
	return t
}

// worst case of a zone; its zero value is one that was never measured.
// Of zones with one name the first has the first worst case of that name.
func (b *builder) worst(z procedure.Zone) procedure.WorstCase {
	before := 0
	for _, x := range b.obs.Zones {
		if x.ID == z.ID {
			break
		}
		if x.Name == z.Name {
			before++
		}
	}
	for _, w := range b.in.Judgement.WorstCase {
		if w.Zone != z.ID && w.Zone != z.Name {
			continue
		}
		if before == 0 || w.Zone == z.ID {
			return w
		}
		before--
	}
	return procedure.WorstCase{}
}

// nets are the findings on the pressure of a zone.
func (b *builder) nets(z procedure.Zone) []procedure.Finding {
	var out []procedure.Finding
	for _, f := range b.in.Judgement.Findings {
		a, _ := b.obs.Appliance(f.Subject)
		if about(f) == aboutNet && (f.Subject == z.ID || a.Zone == z.ID) {
			out = append(out, f)
		}
	}
	return out
}

// uncertainty says how U is made up; the plan's constants stand in for those
// of the rules.
func (b *builder) uncertainty() string {
	u := b.in.Rules.Uncertainty
	if u.Coverage == 0 {
		u = b.obs.Plan.Constants
	}
	if u.Coverage == 0 {
		return b.t("u-unknown")
	}
	return b.t("n-uncertainty", num(u.Coverage, -1), num(u.AccuracyPa, -1), num(u.AccuracyPct, -1), num(u.DefaultS, -1), num(u.Resolution, -1))
}

func (b *builder) trace(z procedure.Zone, zo *procedure.ZoneObs, w procedure.WorstCase) Trace {
	w.Baseline, w.Net, w.Uncertainty = known(w.Baseline), known(w.Net), known(w.Uncertainty)
	t := Trace{Zone: z.Name, Baseline: w.Baseline, U: w.Uncertainty}
	for i, p := range append(append([]procedure.PressureObs{}, zo.Baselines...), zo.Readings...) {
		if st, err := reading.Summarize(p.Values); err == nil {
			base := i < len(zo.Baselines)
			t.Points = append(t.Points, Point{N: p.N, Mean: st.Mean, Lo: st.Min, Hi: st.Max, Baseline: base,
				Worst: !base && (slices.Contains(w.About, p.N) || len(w.About) == 0 && zo.Worst != nil && zo.Worst.N == p.N)})
		}
	}
	sort.SliceStable(t.Points, func(i, k int) bool { return t.Points[i].N < t.Points[k].N })
	t.Table = Table{Columns: b.cols(">c-line", 10, "c-reading", 60, ">c-mean", 20, ">c-lowest", 20, ">c-highest", 20)}
	for _, p := range t.Points {
		t.Table.add(strong(p.Worst, all), num(float64(p.N), 0), wording.KeyText(b.lang, b.byN[p.N].Step, b.name), num(p.Mean, 2), num(p.Lo, 2), num(p.Hi, 2))
	}
	if w.Baseline == nil || w.Net == nil {
		return t
	}
	worst := *w.Baseline + *w.Net
	t.Worst = &worst
	for _, f := range b.nets(z) {
		if known(f.Limit) != nil {
			l := Level{Pa: *w.Baseline + *f.Limit, Label: b.t("limit-below", num(*f.Limit, 1))}
			if !slices.Contains(t.Limits, l) {
				t.Limits = append(t.Limits, l)
			}
		}
	}
	return t
}

// appliances: what each is, then what was measured on it.
func (b *builder) appliances() Section {
	s := Section{ID: "appliances", Title: b.t("s-appliances")}
	is := Table{Title: b.t("t-is"), Columns: b.cols("c-appliance", 24, "c-kind", 14, "c-fuel", 11, "c-input", 14, "c-vent", 27, "c-facts", 36)}
	was := Table{Title: b.t("t-was"), Columns: b.cols("c-appliance", 20, "c-spill", 19, "c-spill-rest", 17, "c-draft", 19, "c-draft-rest", 15, "c-co", 17, ">c-o2", 8, ">c-airfree", 13, "c-status", 18)}
	for _, a := range b.obs.Appliances {
		facts := b.facts(a.Facts)
		if len(b.obs.Zones) > 1 {
			facts = append([]string{b.name(a.Zone)}, facts...)
		}
		if a.Facts.Shares == procedure.Yes && len(a.Partners) > 0 {
			facts[slices.Index(facts, b.t("shares"))] = b.t("shares-with", b.nameAll(a.Partners))
		}
		if open := b.unknown(a); len(open) > 0 {
			facts = append(facts, b.t("facts-open", strings.Join(open, ", ")))
		}
		burner := a.Burner
		if burner.Input > 0 {
			burner.Input, burner.Unit = b.in.Units.Show(burner.Input, burner.Unit)
		}
		fuel, input, _ := strings.Cut(wording.KeptText(b.lang, procedure.Step{}, &procedure.Answer{Burner: &burner}), ", ")
		if a.Burner.Fuel == procedure.FuelUnknown {
			fuel = b.t("not-known")
		}
		is.add(0, a.Name, wording.KindName(b.lang, string(a.Kind)), fuel, input, b.vent(a), dash(facts...))
		o := b.of(a.ID)
		co, o2, free := b.gas(a, o)
		fails := slices.ContainsFunc(b.in.Judgement.Findings, func(f procedure.Finding) bool { return f.Subject == a.ID && bad(f) })
		was.add(strong(fails, 1), a.Name, b.spill(a, o, false), b.spill(a, o, true), b.draft(a, o, false), b.draft(a, o, true), co, o2, free, b.status(a.ID))
	}
	if len(is.Rows) > 0 {
		s.Notes = []string{b.t("n-appliances")}
		s.Tables = []Table{is}
	}
	b.put(&s, was, "no-appliances")
	s.Drafts, s.Bars = b.drafts(), b.coBars()
	return s
}

func (b *builder) of(id string) procedure.ApplianceObs {
	if o := b.obs.Of(id); o != nil {
		return *o
	}
	return procedure.ApplianceObs{}
}

func (b *builder) vent(a procedure.Appliance) string {
	if !a.Kind.Burns() || a.Burner.Fuel == procedure.Electricity {
		return "-"
	}
	if a.Vent.Type == procedure.VentUnknown {
		return b.t("not-known")
	}
	t := wording.KindName(b.lang, string(a.Vent.Type))
	if a.Vent.Category != "" {
		t += ", " + wording.KindName(b.lang, string(a.Vent.Category))
	}
	return t
}

// facts of a vent that are so.
func (b *builder) facts(f procedure.VentFacts) []string {
	var out []string
	for _, x := range []struct {
		code     string
		v, shown procedure.Tri
	}{{"draft_hood", f.DraftHood, procedure.Yes}, {"barometric", f.Barometric, procedure.Yes}, {"vent_damper", f.VentDamper, procedure.Yes}, {"outside", f.Outside, procedure.Yes},
		{"orphaned", f.Orphaned, procedure.Yes}, {"test_hole", f.TestHole, procedure.Yes}, {"high_static", f.HighStatic, procedure.Yes}, {"top_inducer", f.TopInducer, procedure.Yes},
		{"other_home", f.OtherDwelling, procedure.Yes}, {"main_heat", f.MainHeat, procedure.Yes}, {"!inside", f.InsideBoundary, procedure.No}, {"!can_be_fired", f.Fireable, procedure.No}} {
		if x.v == x.shown {
			out = append(out, wording.ItemText(b.lang, x.code))
		}
	}
	if f.Shares == procedure.Yes {
		out = append(out, b.t("shares"))
	}
	return out
}

// unknown are the facts that would choose another row if they were known.
func (b *builder) unknown(a procedure.Appliance) []string {
	var out []string
	if a.Susceptible() == procedure.No || a.Kind.SolidFuel() {
		return nil
	}
	for code, v := range map[string]procedure.Tri{"orphaned": a.Facts.Orphaned, "outside": a.Facts.Outside, "!inside": a.Facts.InsideBoundary} {
		if v == procedure.Unknown {
			out = append(out, wording.ItemText(b.lang, code))
		}
	}
	sort.Strings(out)
	return out
}

// spill words a timed observation with its limit and verdict.
func (b *builder) spill(a procedure.Appliance, all procedure.ApplianceObs, natural bool) string {
	o := all.Spill
	if natural {
		o = all.SpillNatural
	}
	if o == nil {
		return b.why(a, all, natural, "spill")
	}
	t := b.t("spill-"+string(o.Outcome), num(o.Seconds, 0)) + b.judged(b.finding(a.ID, aboutSpill, natural), "s", 0)
	if !natural {
		t += "; " + b.t("vent-cold-"+string(o.Cold))
		if all.Together == procedure.No {
			t += "; " + b.t("together-spilled")
		}
	}
	return t
}

// judged adds limit and verdict of a finding, where there is one.
func (b *builder) judged(f *procedure.Finding, unit string, decimals int) string {
	if f == nil {
		return ""
	}
	t := ": " + b.verdict(*f)
	if f.Limit != nil {
		l := num(*f.Limit, decimals)
		if f.Value != nil {
			_, l = reading.FormatPair(*f.Value, *f.Limit, decimals)
		}
		t = b.t("of-limit", l+" "+unit) + t
	}
	return t
}

// draft words a draft with the limit at the outdoor temperature.
func (b *builder) draft(a procedure.Appliance, o procedure.ApplianceObs, natural bool) string {
	p := o.Draft
	if natural {
		p = o.DraftNatural
	}
	if p == nil {
		return b.why(a, o, natural, "draft")
	}
	mean := procedure.MeanOf(p.Values)
	f := b.finding(a.ID, aboutDraft, natural)
	if f == nil || f.Limit == nil {
		return num(mean, 1) + " Pa, " + b.t("recorded")
	}
	give := ""
	if f.Uncertainty != nil && *f.Uncertainty > 0 {
		give = " +/- " + num(*f.Uncertainty, 1)
	}
	return reading.FormatNear(mean, *f.Limit, 1) + give + b.judged(f, "Pa", 1)
}

// why says why an appliance has no figure.
func (b *builder) why(a procedure.Appliance, o procedure.ApplianceObs, natural bool, kind string) string {
	key := kind + "/" + a.ID
	if natural {
		key += "/natural"
	}
	spilled := b.finding(a.ID, aboutSpill, false)
	switch {
	case slices.ContainsFunc(b.in.Judgement.Missing, func(m procedure.Missing) bool { return m.Step == key }):
		return b.t("not-tested")
	case !a.Kind.Burns() || !a.Fired():
		return "-"
	case o.NotFired != "":
		return b.t("not-lit")
	case natural, kind != "co" && a.Susceptible() == procedure.No:
		return "-"
	case kind == "draft" && spilled != nil && bad(*spilled):
		return b.t("known-bad")
	case kind == "draft" && !b.obs.Plan.Draft.Asked(a.Vent.Type), kind == "co" && !b.obs.Plan.CO.Asked(a.Kind):
		return b.t("not-asked-here")
	}
	return b.t("not-tested")
}

// gas words CO as measured, its O2 and CO air-free; of several cells all are
// shown and the highest governs.
func (b *builder) gas(a procedure.Appliance, o procedure.ApplianceObs) (co, o2, free string) {
	if o.CO == nil {
		return b.why(a, o, false, "co"), "-", "-"
	}
	var c, x []string
	best := math.Inf(-1)
	for i, v := range o.CO.CO {
		c = append(c, num(v, -1))
		if i >= len(o.CO.O2) || o.CO.O2[i] == nil {
			x = append(x, "-")
			continue
		}
		x = append(x, num(*o.CO.O2[i], 1))
		if af, err := reading.AirFree(reading.Concentration(v), reading.Percent(*o.CO.O2[i])); err == nil {
			best = math.Max(best, float64(af))
		}
	}
	var parts []string
	if len(c) > 0 {
		parts = append(parts, strings.Join(c, ", ")+" ppm")
	}
	if o.CO.OverRange {
		parts = append(parts, b.t("over-range"))
	}
	if o.CO.Rising {
		parts = append(parts, b.t("rising"))
	}
	co = strings.Join(parts, ", ")
	for _, f := range b.in.Judgement.Findings {
		switch {
		case f.Subject != a.ID || about(f) != aboutCO:
		case f.Rule == "co-matrix": // a band, whose upper end is no limit
			band := b.row(f.Row).value
			if band == "" {
				band = f.Row
			}
			co += "; " + b.t("leads-to", band, string(f.Severity))
		default:
			if basis := b.basis(f.Row); basis != "" && f.Value != nil {
				co += "; " + b.t("basis-"+basis, num(*f.Value, 0))
			}
			co += b.judged(&f, "ppm", 0)
		}
	}
	free = "-"
	if best >= 0 {
		if free = num(best, 0); o.CO.OverRange { // at least that
			free = ">" + free
		}
	}
	return co, dash(strings.Join(x, ", ")), free
}

// basis on which a row holds CO, "" where it says none.
func (b *builder) basis(row string) string {
	for _, l := range b.in.Rules.CO {
		if l.ID == row {
			return l.Basis
		}
	}
	return ""
}

func (b *builder) status(id string) string {
	for _, a := range b.in.Judgement.Appliances {
		if a.ID == id && a.Status != procedure.StatusNone {
			return wording.StatusText(b.lang, a.Status)
		}
	}
	return b.t("no-status")
}

func (b *builder) finding(id string, k aboutWhat, natural bool) *procedure.Finding {
	for i, f := range b.in.Judgement.Findings {
		if f.Subject == id && about(f) == k && f.Natural == natural && f.Detail != "together" {
			return &b.in.Judgement.Findings[i]
		}
	}
	return nil
}

// bad reports whether a finding counts as failed.
func bad(f procedure.Finding) bool {
	return f.Verdict == procedure.Fail || f.Verdict == procedure.TooClose
}

func (b *builder) verdict(f procedure.Finding) string { return b.t("v-" + f.Verdict.String()) }

func (b *builder) opt(v *float64) string {
	if v == nil || math.IsNaN(*v) {
		return b.t("not-tested")
	}
	return num(*v, 2)
}

// room is CO and gas in the air, hazards, and who was told.
func (b *builder) room() Section {
	s := Section{ID: "room-air", Title: b.t("s-room")}
	air := Table{Title: b.t("t-ambient"), Columns: b.cols("c-time", 18, "c-where", 50, ">c-ppm", 20)}
	for i, list := range [][]procedure.AmbientObs{b.obs.LEL, b.obs.Ambient} {
		for _, a := range list {
			v := num(a.Value, -1) + []string{" % LEL", " ppm"}[i]
			if a.OverRange {
				v = b.t("over-range")
			}
			air.add(0, when(a.At), wording.KeyText(b.lang, a.Step, b.name), v)
		}
	}
	hz := Table{Title: b.t("t-hazards"), Columns: b.cols("c-time", 16, "c-what", 34, "c-where", 26, "c-source-found", 30)}
	for _, h := range b.obs.Hazards {
		where := h.Hazard.Where
		if strings.Contains(where, "/") {
			where = wording.KeyText(b.lang, where, b.name)
		}
		if h.Hazard.Subject != "" {
			where = strings.TrimPrefix(where+", "+b.name(h.Hazard.Subject), ", ")
		}
		src := b.or(b.name(h.Source), "not-known")
		switch h.Source {
		case "outdoors", "other-source", "not-found":
			src = wording.KeptText(b.lang, procedure.Step{}, &procedure.Answer{Choice: h.Source})
		}
		hz.add(2, when(b.byN[h.N].Observed), wording.KeptText(b.lang, procedure.Step{}, &h.Hazard), dash(where), b.t("source-"+string(h.Settled), src))
	}
	told := Table{Title: b.t("t-told"), Columns: b.cols("c-whom", 24, "c-what", 46, "c-how", 30)}
	for _, t := range b.obs.Told {
		told.add(0, t.Whom, dash(t.What), dash(t.How))
	}
	b.put(&s, air, "none-ambient")
	b.put(&s, hz, "none-hazards")
	b.put(&s, told, "none-told")
	return s
}
