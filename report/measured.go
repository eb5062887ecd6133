package report

import (
	"math"
	"sort"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// cols makes columns from label keys; a leading ">" sets figures to the right.
func (b *builder) cols(spec ...any) []Column {
	var out []Column
	for i := 0; i+1 < len(spec); i += 2 {
		key, w := spec[i].(string), spec[i+1].(int)
		right := strings.HasPrefix(key, ">")
		out = append(out, Column{Head: b.t(strings.TrimPrefix(key, ">")), Weight: float64(w), Right: right})
	}
	return out
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
	t := Table{Columns: b.cols(">c-line", 5, "c-time", 9, "c-reading", 30, "c-typed", 36, ">c-mean", 9, ">c-spread", 9)}
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
		var typed string
		var st reading.Stats
		n, unit, ok := 0, "", false
		if a.Pressure != nil {
			n, unit = a.Pressure.Setup, a.Pressure.Unit
			typed, st, ok = b.typed(*a.Pressure)
		} else {
			n, unit = a.Pairs.Setup, a.Pairs.Unit
			typed, st, ok = b.pairs(*a.Pairs)
		}
		if n != setup {
			setup = n
			t.Rows = append(t.Rows, Row{Span: true, Cells: []string{b.setupLine(n)}})
		}
		what := wording.KeyText(b.lang, ev.Step, b.name)
		if !b.used[ev.N] {
			if l := last[ev.Step]; l > ev.N {
				what += " - " + b.t("replaced", num(float64(l), 0))
			} else {
				what += " - " + b.t("not-used")
			}
		}
		at := ev.Observed.Format("15:04")
		if d := ev.Observed.Format("2006-01-02"); d != day {
			day = d
			at = d + " " + at
		}
		mean, spread := "-", "-"
		if ok {
			mean = pa(st.Mean, unit)
			if st.N > 1 {
				spread = pa(st.Spread, unit)
			}
		}
		t.Rows = append(t.Rows, Row{Cells: []string{num(float64(ev.N), 0), at, what, typed, mean, spread}, Bold: b.isWorst(ev.N)})
	}
	if len(t.Rows) == 0 {
		s.Notes = []string{b.t("none-taken")}
		return s
	}
	s.Tables = []Table{t}
	return s
}

func (b *builder) isWorst(n int) bool {
	for _, z := range b.obs.ZoneObs {
		if z.Worst != nil && z.Worst.N == n {
			return true
		}
	}
	return false
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
func (b *builder) typed(p procedure.Pressure) (string, reading.Stats, bool) {
	var v []string
	for _, x := range p.Values() {
		v = append(v, num(x, -1))
	}
	t := strings.Join(v, " ") + " " + p.Unit
	st, err := reading.Summarize(p.Values())
	if err != nil {
		return t, st, false
	}
	if p.AveragingS > 0 {
		t += b.t("averaged", num(p.AveragingS, -1))
	}
	if l, ok := b.byN[p.Log].Data.(*procedure.Log); ok {
		t += "; " + b.t("log-window", num(float64(l.Count), 0), l.From.Format("15:04:05"), l.To.Format("15:04:05"), num(l.S, 3), num(l.StandardError, 3), l.Unit)
	}
	if p.Unit != string(reading.UnitPa) && st.N > 1 {
		t += "; " + b.t("mean-typed", num(st.Mean, 4), num(st.Spread, 4), p.Unit)
	}
	return t, st, true
}

func (b *builder) pairs(p procedure.Pairs) (string, reading.Stats, bool) {
	var v []string
	var d []float64
	for i := range p.On {
		if i < len(p.Off) {
			v = append(v, num(p.Off[i], -1)+" / "+num(p.On[i], -1))
			d = append(d, p.On[i]-p.Off[i])
		}
	}
	st, err := reading.Summarize(d)
	return b.t("off-on", strings.Join(v, ", "), p.Unit), st, err == nil
}

// setupLine words the set-up in force at line n.
func (b *builder) setupLine(n int) string {
	var su *procedure.Setup
	switch d := b.byN[n].Data.(type) {
	case *procedure.Setup:
		su = d
	case *procedure.Correct:
		su = d.Setup
	}
	if su == nil {
		return b.t("setup-none")
	}
	return b.t("setup-at", num(float64(n), 0)) + " " + b.setup(*su)
}

// setup names every device and door that was set, so that a person can set
// the house so again.
func (b *builder) setup(su procedure.Setup) string {
	var out []string
	add := func(key, what string) {
		if what != "" {
			out = append(out, b.t(key, what))
		}
	}
	if len(su.Fans) == 0 && su.FlowCFM == 0 {
		out = append(out, b.t("fans-off"))
	} else {
		add("fans-on", b.nameAll(su.Fans))
		if len(su.Fans)+len(su.NotRun) < len(b.obs.Fans) {
			out = append(out, b.t("fans-rest"))
		}
	}
	add("fans-not-run", b.nameAll(su.NotRun))
	if su.FlowCFM > 0 {
		add("stand-in", num(su.FlowCFM, 0))
	}
	if len(su.AirHandler) > 0 {
		add("air-on", b.nameAll(su.AirHandler))
	} else if len(b.obs.AirHandlers) > 0 {
		out = append(out, b.t("air-off"))
	}
	switch {
	case len(su.Doors) > 0:
		add("doors-shut", b.nameAll(su.Doors))
		if len(su.Doors) < len(b.obs.Doors) {
			out = append(out, b.t("doors-rest"))
		}
	case len(b.obs.Doors) > 0:
		out = append(out, b.t("doors-open"))
	}
	switch su.CAZDoor {
	case "open":
		out = append(out, b.t("caz-open"))
	case "closed":
		out = append(out, b.t("caz-shut"))
	}
	return strings.Join(out, "; ")
}

// zones are the worst cases with their limits, and a trace for each.
func (b *builder) zones() Section {
	s := Section{ID: "zones", Title: b.t("s-zones"), Notes: []string{b.t("n-zones"), b.uncertainty()}}
	t := Table{Columns: b.cols("c-zone", 20, "c-baselines", 18, ">c-worst", 11, ">c-net", 10, ">c-u", 10, "c-limit", 26, "c-verdict", 21)}
	for _, z := range b.obs.Zones {
		var w procedure.WorstCase
		for _, x := range b.in.Judgement.WorstCase {
			if x.Zone == z.ID || x.Zone == z.Name {
				w = x
			}
		}
		zo := b.obs.ZoneOf(z.ID)
		var bases []string
		if zo != nil {
			for _, p := range zo.Baselines {
				bases = append(bases, num(procedure.MeanOf(p.Values), 2))
			}
		}
		cells := []string{z.Name, b.or(strings.Join(bases, ", "), "not-tested"), b.opt(w.Reading, 2), b.opt(w.Net, 2), b.opt(w.Uncertainty, 2)}
		rows := 0
		for _, f := range b.in.Judgement.Findings {
			if about(f) != aboutNet || f.Subject != z.ID && b.zoneOf(f.Subject) != z.ID {
				continue
			}
			limit := b.limit(f)
			if f.Subject != z.ID {
				limit += ", " + b.name(f.Subject)
			}
			t.Rows = append(t.Rows, Row{Cells: append(append([]string{}, cells...), limit, b.verdict(f)), Bold: bad(f)})
			cells = []string{"", "", "", "", ""}
			rows++
		}
		if rows == 0 {
			t.Rows = append(t.Rows, Row{Cells: append(cells, b.t("no-pa-limit"), b.t("recorded"))})
		}
		held := b.t("never-held")
		if zo != nil && zo.Held != nil {
			held = b.t("held-at", b.setup(*zo.Held))
		}
		if w.Pairs > 0 {
			held += " " + b.t("pairs-net", num(float64(w.Pairs), 0))
		}
		t.Rows = append(t.Rows, Row{Span: true, Cells: []string{z.Name + ": " + held}})
		if tr := b.trace(z, zo, w); len(tr.Points) > 1 {
			s.Traces = append(s.Traces, tr)
		}
	}
	if len(t.Rows) == 0 {
		s.Notes = []string{b.t("no-zones")}
		return s
	}
	s.Tables = []Table{t}
	return s
}

func (b *builder) zoneOf(appliance string) string {
	a, _ := b.obs.Appliance(appliance)
	return a.Zone
}

func (b *builder) uncertainty() string {
	u := b.in.Rules.Uncertainty
	return b.t("n-uncertainty", num(u.Coverage, -1), num(u.AccuracyPa, -1), num(u.AccuracyPct, -1), num(u.DefaultS, -1), num(u.Resolution, -1))
}

func (b *builder) trace(z procedure.Zone, zo *procedure.ZoneObs, w procedure.WorstCase) Trace {
	t := Trace{Zone: z.Name, Baseline: w.Baseline, U: w.Uncertainty}
	if zo == nil {
		return t
	}
	add := func(p procedure.PressureObs, base bool) {
		st, err := reading.Summarize(p.Values)
		if err != nil {
			return
		}
		worst := zo.Worst != nil && zo.Worst.N == p.N
		if worst {
			t.Worst = &st.Mean
		}
		t.Points = append(t.Points, Point{N: p.N, Mean: st.Mean, Lo: st.Min, Hi: st.Max, Baseline: base, Worst: worst})
	}
	for _, p := range zo.Baselines {
		add(p, true)
	}
	for _, p := range zo.Readings {
		add(p, false)
	}
	sort.SliceStable(t.Points, func(i, k int) bool { return t.Points[i].N < t.Points[k].N })
	if w.Baseline != nil {
		seen := map[float64]bool{}
		for _, f := range b.in.Judgement.Findings {
			if about(f) == aboutNet && f.Limit != nil && (f.Subject == z.ID || b.zoneOf(f.Subject) == z.ID) && !seen[*f.Limit] {
				seen[*f.Limit] = true
				t.Limits = append(t.Limits, Level{Pa: *w.Baseline + *f.Limit, Label: b.t("limit-below", num(*f.Limit, 1))})
			}
		}
	}
	return t
}

// appliances: what each is, then what was measured on it.
func (b *builder) appliances() Section {
	s := Section{ID: "appliances", Title: b.t("s-appliances"), Notes: []string{b.t("n-appliances")}}
	is := Table{Title: b.t("t-is"), Columns: b.cols("c-appliance", 24, "c-kind", 14, "c-fuel", 11, "c-input", 14, "c-vent", 27, "c-facts", 36)}
	was := Table{Title: b.t("t-was"), Columns: b.cols("c-appliance", 21, "c-spill", 19, "c-spill-rest", 18, "c-draft", 19, "c-draft-rest", 15, "c-co", 15, ">c-o2", 8, ">c-airfree", 11, "c-status", 19)}
	for _, a := range b.obs.Appliances {
		facts := b.facts(a)
		if b.zone {
			facts = append([]string{b.name(a.Zone)}, facts...)
		}
		fuel, input := wording.KeptText(b.lang, procedure.Step{}, &procedure.Answer{Burner: &a.Burner}), "-"
		if f, in, ok := strings.Cut(fuel, ", "); ok {
			fuel, input = f, in
		}
		if a.Burner.Fuel == procedure.FuelUnknown {
			fuel = b.t("not-known")
		}
		is.Rows = append(is.Rows, Row{Cells: []string{a.Name, wording.KindName(b.lang, string(a.Kind)), fuel, input, b.vent(a), b.or(strings.Join(facts, "; "), "none")}})
		o := procedure.ApplianceObs{}
		if x := b.obs.Of(a.ID); x != nil {
			o = *x
		}
		co, o2, free := b.gas(a, o)
		was.Rows = append(was.Rows, Row{Cells: []string{a.Name, b.spill(a, o.Spill, false, o), b.spill(a, o.SpillNatural, true, o), b.draft(a, o, false), b.draft(a, o, true),
			co, o2, free, b.status(a.ID)}, Bold: b.anyBad(a.ID)})
	}
	if len(is.Rows) == 0 {
		s.Notes = []string{b.t("no-appliances")}
		return s
	}
	s.Tables = []Table{is, was}
	return s
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

// facts are the vent facts that are true, and those not known.
func (b *builder) facts(a procedure.Appliance) []string {
	f := a.Facts
	var out, open []string
	for _, x := range []struct {
		code string
		v    procedure.Tri
	}{{"draft_hood", f.DraftHood}, {"barometric", f.Barometric}, {"vent_damper", f.VentDamper}, {"outside", f.Outside}, {"orphaned", f.Orphaned},
		{"test_hole", f.TestHole}, {"high_static", f.HighStatic}, {"top_inducer", f.TopInducer}, {"other_home", f.OtherDwelling}, {"main_heat", f.MainHeat}} {
		if x.v == procedure.Yes {
			out = append(out, wording.ItemText(b.lang, x.code))
		}
	}
	for _, x := range []struct {
		code string
		v    procedure.Tri
	}{{"inside", f.InsideBoundary}, {"can_be_fired", f.Fireable}} {
		if x.v == procedure.No {
			out = append(out, wording.ItemText(b.lang, "!"+x.code))
		}
	}
	switch {
	case len(a.Partners) > 0:
		out = append(out, b.t("shares-with", b.nameAll(a.Partners)))
	case f.Shares == procedure.Yes:
		out = append(out, wording.ItemText(b.lang, "shares"))
	}
	if a.Susceptible() != procedure.No && !a.Kind.SolidFuel() {
		for _, x := range []struct {
			code string
			v    procedure.Tri
		}{{"orphaned", f.Orphaned}, {"outside", f.Outside}, {"shares", f.Shares}, {"inside", f.InsideBoundary}} {
			if x.v == procedure.Unknown {
				open = append(open, wording.ItemText(b.lang, x.code))
			}
		}
	}
	if len(open) > 0 {
		out = append(out, b.t("facts-open", strings.Join(open, ", ")))
	}
	return out
}

// spill words a timed observation with its limit and verdict.
func (b *builder) spill(a procedure.Appliance, o *procedure.SpillObs, natural bool, all procedure.ApplianceObs) string {
	if o == nil {
		return b.why(a, all, natural, "spill")
	}
	t := b.t("spill-"+string(o.Outcome), num(o.Seconds, 0))
	if f := b.finding(a.ID, aboutSpill, natural); f != nil {
		if f.Limit != nil {
			t += b.t("of-limit", num(*f.Limit, 0)+" s")
		}
		t += ": " + b.verdict(*f)
	}
	switch {
	case natural:
	case o.Cold == procedure.Yes:
		t += b.t("vent-was-cold")
	case o.Cold == procedure.No:
		t += b.t("vent-was-warm")
	default:
		t += b.t("vent-was-unknown")
	}
	if !natural && all.Together == procedure.No {
		t += "; " + b.t("together-spilled")
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
	switch {
	case f != nil && f.Limit != nil:
		v, l := reading.FormatPair(mean, *f.Limit, 1)
		return v + b.give(f) + b.t("of-limit", l+" Pa") + ": " + b.verdict(*f)
	case b.in.Rules.Draft.Set:
		if w := b.obs.Weather; w != nil {
			if temp, err := reading.Convert(w.Temp, reading.Unit(w.TempUnit), reading.UnitF); err == nil {
				if l, ok := procedure.DraftLimit(b.in.Rules.Draft.Line, temp); ok {
					return num(mean, 1) + b.t("of-limit", num(l, 1)+" Pa") + ": " + b.t("v-not-evaluated")
				}
			}
		}
	}
	return num(mean, 1) + " Pa, " + b.t("recorded")
}

func (b *builder) give(f *procedure.Finding) string {
	if f.Uncertainty == nil || *f.Uncertainty == 0 {
		return ""
	}
	return " +/- " + num(*f.Uncertainty, 1)
}

// why says why an appliance has no figure.
func (b *builder) why(a procedure.Appliance, o procedure.ApplianceObs, natural bool, kind string) string {
	key := kind + "/" + a.ID
	if natural {
		key += "/natural"
	}
	for _, m := range b.in.Judgement.Missing {
		if m.Step == key {
			return b.t("not-tested")
		}
	}
	switch {
	case !a.Kind.Burns() || !a.Fired():
		return "-"
	case o.NotFired != "":
		return b.t("not-lit")
	case natural:
		return "-"
	case kind != "co" && a.Susceptible() == procedure.No:
		return "-"
	case kind == "draft" && b.finding(a.ID, aboutSpill, false) != nil && bad(*b.finding(a.ID, aboutSpill, false)):
		return b.t("known-bad")
	case kind == "draft" && !b.obs.Plan.Draft.Asked(a.Vent.Type), kind == "co" && !b.obs.Plan.CO.Asked(a.Kind):
		return b.t("not-asked-here")
	}
	return b.t("not-tested")
}

// gas words CO as measured, its O2 and CO air-free; of several cells the
// highest governs and all are shown.
func (b *builder) gas(a procedure.Appliance, o procedure.ApplianceObs) (co, o2, free string) {
	if o.CO == nil {
		return b.why(a, o, false, "co"), "-", "-"
	}
	var c, x []string
	best := math.Inf(-1)
	for i, v := range o.CO.CO {
		c = append(c, num(v, -1))
		if i < len(o.CO.O2) && o.CO.O2[i] != nil {
			x = append(x, num(*o.CO.O2[i], 1))
			if af, err := reading.AirFree(reading.Concentration(v), reading.Percent(*o.CO.O2[i])); err == nil {
				best = math.Max(best, float64(af))
			}
		} else {
			x = append(x, "-")
		}
	}
	co = strings.Join(c, ", ") + " ppm"
	if len(c) == 0 {
		co = ""
	}
	if o.CO.OverRange {
		co = strings.TrimPrefix(co+", ", ", ") + b.t("over-range")
	}
	if o.CO.Rising {
		co += ", " + b.t("rising")
	}
	for _, f := range b.in.Judgement.Findings {
		if f.Subject == a.ID && about(f) == aboutCO && f.Limit != nil {
			co += b.t("of-limit", num(*f.Limit, -1)+" ppm") + ": " + b.verdict(f)
			break
		}
	}
	o2, free = b.or(strings.Join(x, ", "), "dash"), "-"
	if best >= 0 {
		free = num(best, 0)
	}
	return co, o2, free
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
		if f.Subject == id && about(f) == k && f.Natural == natural {
			return &b.in.Judgement.Findings[i]
		}
	}
	return nil
}

func (b *builder) anyBad(id string) bool {
	for _, f := range b.in.Judgement.Findings {
		if f.Subject == id && bad(f) {
			return true
		}
	}
	return false
}

// bad reports whether a finding counts as failed.
func bad(f procedure.Finding) bool {
	return f.Verdict == procedure.Fail || f.Verdict == procedure.TooClose
}

func (b *builder) verdict(f procedure.Finding) string { return b.t("v-" + f.Verdict.String()) }

func (b *builder) limit(f procedure.Finding) string {
	if f.Limit == nil {
		return b.t("no-figure")
	}
	t := num(*f.Limit, 1)
	if f.Value != nil {
		_, t = reading.FormatPair(*f.Value, *f.Limit, 1)
	}
	return t + " (" + b.row(f.Row).evidence(f) + ")"
}

func (b *builder) opt(v *float64, decimals int) string {
	if v == nil || math.IsNaN(*v) {
		return b.t("not-tested")
	}
	return num(*v, decimals)
}

// room is CO and gas in the air, hazards, and who was told.
func (b *builder) room() Section {
	s := Section{ID: "room-air", Title: b.t("s-room")}
	air := Table{Title: b.t("t-ambient"), Columns: b.cols("c-time", 18, "c-where", 50, ">c-ppm", 20)}
	for _, a := range b.obs.Ambient {
		v := num(a.Value, -1)
		if a.OverRange {
			v = b.t("over-range")
		}
		unit := " ppm"
		if strings.HasSuffix(a.Step, "/lel") {
			unit = " % LEL"
		}
		air.Rows = append(air.Rows, Row{Cells: []string{b.when(a.At), wording.KeyText(b.lang, a.Step, b.name), v + unit}})
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
		src := b.t("source-open")
		switch h.Settled {
		case procedure.Yes:
			src = b.t("source-stopped", b.sourceName(h.Source))
		case procedure.No:
			src = b.t("source-still", b.sourceName(h.Source))
		}
		hz.Rows = append(hz.Rows, Row{Bold: true, Cells: []string{b.when(b.byN[h.N].Observed), wording.KeptText(b.lang, procedure.Step{}, &h.Hazard), b.or(where, "dash"), src}})
	}
	told := Table{Title: b.t("t-told"), Columns: b.cols("c-whom", 24, "c-what", 46, "c-how", 30)}
	for _, t := range b.obs.Told {
		told.Rows = append(told.Rows, Row{Cells: []string{t.Whom, b.or(t.What, "dash"), b.or(t.How, "dash")}})
	}
	for _, t := range []struct {
		Table
		none string
	}{{air, "none-ambient"}, {hz, "none-hazards"}, {told, "none-told"}} {
		if len(t.Rows) > 0 {
			s.Tables = append(s.Tables, t.Table)
		} else {
			s.Notes = append(s.Notes, b.t(t.none))
		}
	}
	return s
}

func (b *builder) sourceName(id string) string {
	switch id {
	case "":
		return b.t("not-known")
	case "outdoors", "other-source", "not-found":
		return wording.KeptText(b.lang, procedure.Step{}, &procedure.Answer{Choice: id})
	}
	return b.name(id)
}
