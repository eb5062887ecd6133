package report

import (
	"slices"

	"cazward/procedure"
	"cazward/procedure/wording"
)

// phase is one of the phases that are set beside each other.
type phase struct {
	*builder
	head string
}

// phases are those of the home, oldest first, this one last.
func (b *builder) phases() []phase {
	out := []phase{{b, b.phaseHead(b.in.Header)}}
	for p := b.in.Prior; p != nil && len(out) < 3; p = p.Prior {
		then := newBuilder(Input{Lang: b.lang, Header: p.Header, Observations: p.Observations, Judgement: p.Judgement, Rules: b.in.Rules, Units: b.in.Units})
		out = append([]phase{{then, b.phaseHead(p.Header)}}, out...)
	}
	return out
}

func (b *builder) phaseHead(h procedure.Header) string {
	t := wording.PhaseName(b.lang, h.Phase)
	if !h.Created.IsZero() {
		t += " " + h.Created.Format("2006-01-02")
	}
	return t
}

// compare sets this phase beside the earlier ones.
func (b *builder) compare() Section {
	s := Section{ID: "compare", Title: b.t("s-compare")}
	if b.in.Prior == nil {
		if b.in.Header.Prior == nil {
			return Section{}
		}
		s.Notes = []string{b.t("prior-absent", b.in.Header.Prior.Record, b.in.Header.Prior.Close)}
		return s
	}
	all := b.phases()
	for p := b.in.Prior; p != nil && len(s.Facts) < 6; p = p.Prior {
		s.Facts = append([]Fact{{b.t("earlier"), p.Header.Record + ", " + b.phaseHead(p.Header)}, {b.t("closing-hash"), b.or(p.CloseHash, "not-closed")},
			{b.t("then"), wording.Headline(b.lang, p.Judgement.Decision, p.Header.Phase, len(p.Judgement.Missing))}}, s.Facts...)
	}
	t := Table{Columns: []Column{{Head: b.t("c-what"), Weight: 36}}}
	for _, p := range all {
		t.Columns = append(t.Columns, Column{Head: p.head, Weight: 34})
	}
	t.Columns = append(t.Columns, Column{Head: b.t("c-change"), Weight: 18, Right: true})
	charts := map[string]*PhaseChart{}
	draw := func(unit, name string, values []*float64, least []bool, limit *float64) string {
		for i, v := range values {
			values[i] = known(v)
		}
		limit = known(limit)
		if c := charts[unit]; c == nil {
			charts[unit] = &PhaseChart{Unit: unit}
		}
		charts[unit].Rows = append(charts[unit].Rows, PhaseRow{name, values, least, limit})
		first, last := values[0], values[len(values)-1]
		if first == nil || last == nil || slices.Contains(least, true) {
			return "-"
		}
		d := num(*last-*first, decimalsOf(unit))
		if *last > *first && d != "0" && d != "0.0" {
			d = "+" + d
		}
		return d + " " + unitOf(unit)
	}

	for _, z := range b.zonesOf(all) {
		cells := []string{b.t("net-of", z.Name)}
		var values []*float64
		var limit *float64
		for _, p := range all {
			here, ok := p.zone(z)
			if !ok {
				cells, values = append(cells, b.t("not-there")), append(values, nil)
				continue
			}
			cells, values = append(cells, p.net(here)), append(values, p.worst(here).Net)
			for _, f := range p.nets(here) {
				if f.Limit != nil && (limit == nil || p.builder == b) {
					limit = f.Limit
				}
			}
		}
		t.add(0, append(cells, draw("net Pa", z.Name, values, make([]bool, len(all)), limit))...)
	}
	for _, a := range b.appliancesOf(all) {
		there := make([]bool, len(all))
		every := true
		for i, p := range all {
			_, there[i] = p.appliance(a)
			every = every && there[i]
		}
		if !every {
			cells := []string{a.Name}
			for i, is := range there {
				switch {
				case is:
					cells = append(cells, b.t("there"))
				case slices.Contains(there[:i], true):
					cells = append(cells, b.t("gone-now"))
				default:
					cells = append(cells, b.t("not-there"))
				}
			}
			t.add(strong(!there[len(all)-1], 1), append(cells, "-")...)
		}
		if n := count(there); n < 2 {
			continue
		}
		for _, q := range []struct {
			label, unit string
			get         func(phase, procedure.Appliance) (string, *float64, *float64)
		}{{"c-spill", "spillage s", phase.spillage}, {"c-draft", "draft Pa", phase.drafted}, {"c-co", "CO ppm", phase.carbon}} {
			cells := []string{a.Name + ", " + b.t(q.label)}
			var values []*float64
			var limit *float64
			least := make([]bool, len(all))
			said := false
			for i, p := range all {
				if !there[i] {
					cells, values = append(cells, "-"), append(values, nil)
					continue
				}
				here, _ := p.appliance(a)
				words, v, l := q.get(p, here)
				said = said || words != "-"
				if l != nil {
					limit = l
				}
				cells, values = append(cells, words), append(values, v)
				o := p.of(here.ID).Spill
				least[i] = q.label == "c-spill" && o != nil && o.Outcome == procedure.SpillStill
			}
			if said {
				t.add(0, append(cells, draw(q.unit, a.Name, values, least, limit))...)
			}
		}
	}
	b.put(&s, t, "none-taken")
	for _, unit := range []string{"net Pa", "spillage s", "draft Pa", "CO ppm"} {
		if charts[unit] != nil {
			s.Steps = append(s.Steps, b.phaseCharts(charts[unit], all)...)
		}
	}
	return s
}

// phaseCharts cuts a chart to the size of a page and says what it shows; rows
// without any figure are in the table above alone.
func (b *builder) phaseCharts(c *PhaseChart, all []phase) []PhaseChart {
	var rows []PhaseRow
	for _, r := range c.Rows {
		if slices.ContainsFunc(r.Values, func(v *float64) bool { return v != nil }) {
			rows = append(rows, r)
		}
	}
	var out []PhaseChart
	for part := range slices.Chunk(rows, perChart) {
		x := PhaseChart{Title: b.t("phases-" + c.Unit), Desc: b.t("phases-desc"), Unit: unitOf(c.Unit), Rows: part}
		x.Table.Columns = []Column{{Head: b.t("c-what"), Weight: 40}}
		for _, p := range all {
			x.Phases = append(x.Phases, p.head)
			x.Table.Columns = append(x.Table.Columns, Column{Head: p.head, Weight: 25, Right: true})
		}
		x.Table.Columns = append(x.Table.Columns, Column{Head: b.t("c-limit-now"), Weight: 20, Right: true})
		for _, r := range part {
			cells := []string{r.Name}
			for i, v := range append(append([]*float64{}, r.Values...), r.Limit) {
				switch {
				case v == nil:
					cells = append(cells, "-")
				case i < len(r.Least) && r.Least[i]:
					cells = append(cells, ">"+num(*v, decimalsOf(c.Unit)))
				default:
					cells = append(cells, num(*v, decimalsOf(c.Unit)))
				}
			}
			x.Table.add(0, cells...)
		}
		out = append(out, x)
	}
	return out
}

// unitOf is the unit at the end of what is compared.
func unitOf(what string) string {
	switch what {
	case "spillage s":
		return "s"
	case "CO ppm":
		return "ppm"
	}
	return "Pa"
}

func decimalsOf(what string) int {
	if unitOf(what) == "Pa" {
		return 1
	}
	return 0
}

func count(list []bool) int {
	n := 0
	for _, x := range list {
		if x {
			n++
		}
	}
	return n
}

// zonesOf are the zones of all phases, each once, those of now first.
func (b *builder) zonesOf(all []phase) []procedure.Zone {
	out := append([]procedure.Zone{}, b.obs.Zones...)
	for i := len(all) - 2; i >= 0; i-- {
		for _, z := range all[i].obs.Zones {
			if !slices.ContainsFunc(out, func(x procedure.Zone) bool { return x.ID == z.ID }) {
				out = append(out, z)
			}
		}
	}
	return out
}

func (b *builder) appliancesOf(all []phase) []procedure.Appliance {
	out := append([]procedure.Appliance{}, b.obs.Appliances...)
	for i := len(all) - 2; i >= 0; i-- {
		for _, a := range all[i].obs.Appliances {
			if !slices.ContainsFunc(out, func(x procedure.Appliance) bool { return sameThing(x, a) }) {
				out = append(out, a)
			}
		}
	}
	return out
}

// sameThing: an id that now names another kind is another appliance.
func sameThing(a, b procedure.Appliance) bool { return a.ID == b.ID && a.Kind == b.Kind }

func (p phase) zone(z procedure.Zone) (procedure.Zone, bool) {
	for _, x := range p.obs.Zones {
		if x.ID == z.ID {
			return x, true
		}
	}
	return z, false
}

func (p phase) appliance(a procedure.Appliance) (procedure.Appliance, bool) {
	for _, x := range p.obs.Appliances {
		if sameThing(x, a) {
			return x, true
		}
	}
	return a, false
}

func (p phase) spillage(a procedure.Appliance) (string, *float64, *float64) {
	o := p.of(a.ID)
	words := p.spill(a, o, false)
	if o.Spill == nil {
		return words, nil, nil
	}
	v := o.Spill.Seconds
	return words, &v, p.limit(a.ID, aboutSpill)
}

func (p phase) drafted(a procedure.Appliance) (string, *float64, *float64) {
	o := p.of(a.ID)
	words := p.draft(a, o, false)
	if o.Draft == nil {
		return words, nil, nil
	}
	v := procedure.MeanOf(o.Draft.Values)
	return words, &v, p.limit(a.ID, aboutDraft)
}

func (p phase) carbon(a procedure.Appliance) (string, *float64, *float64) {
	o := p.of(a.ID)
	words, _, _ := p.gas(a, o)
	if o.CO == nil || o.CO.OverRange || len(o.CO.CO) == 0 {
		return words, nil, nil
	}
	v := slices.Max(o.CO.CO)
	return words, &v, nil
}

func (p phase) limit(id string, k aboutWhat) *float64 {
	if f := p.finding(id, k, false); f != nil {
		return f.Limit
	}
	return nil
}
