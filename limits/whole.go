package limits

import (
	"sort"

	"gopkg.in/yaml.v3"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Facts of a selector that are yes or no, two bits each: yes, no.
const (
	common = iota
	fanPartner
	damper
	orphaned
	outside
	highStatic
	topInducer
	cold
	facts
)

const allFacts uint32 = 1<<(2*facts) - 1

func is(fact int, yes bool) uint32 {
	if yes {
		return 1 << (2 * fact)
	}
	return 2 << (2 * fact)
}

// region is a selector as sets of bits: what it fits, where every fact is
// known. It only narrows the search; which row holds is said by
// procedure.Match alone, and a test holds the two together.
type region struct {
	kinds, fuels, vents uint32
	partner             uint32 // one of these on the vent; 0: does not ask
	facts               uint32
	spec                int
}

func setOf[T comparable](list, all []T) (uint32, bool) {
	if len(list) == 0 {
		return 1<<32 - 1, true
	}
	var out uint32
	for _, x := range list {
		found := false
		for i, y := range all {
			if x == y {
				out |= 1 << i
				found = true
			}
		}
		if !found {
			return 0, false
		}
	}
	return out, true
}

var fuelList = []procedure.Fuel{procedure.NaturalGas, procedure.Propane, procedure.Oil, procedure.Wood, procedure.Pellets, procedure.Electricity}

// compile a selector; false when it names what this program does not know.
func compile(s procedure.Selector) (region, bool) {
	k, ok1 := setOf(s.Kinds, procedure.ApplianceKinds)
	f, ok2 := setOf(s.Fuels, fuelList)
	v, ok3 := setOf(s.Vents, procedure.VentTypes)
	p, ok4 := setOf(s.Partner, procedure.ApplianceKinds)
	c := region{kinds: k, fuels: f, vents: v, partner: p, facts: allFacts, spec: s.Specificity()}
	if len(s.Partner) == 0 {
		c.partner = 0
	}
	for fact, t := range []procedure.Tri{s.Common, s.FanPartner, s.Damper, s.Orphaned, s.Outside, s.HighStatic, s.TopInducer, s.Cold} {
		if t != procedure.Unknown {
			c.facts &^= 3 << (2 * fact)
			c.facts |= is(fact, t == procedure.Yes)
		}
	}
	return c, ok1 && ok2 && ok3 && ok4
}

// cell is one appliance whose facts are all known.
type cell struct {
	kind, fuel, vent int
	partners         uint32 // kinds on the same vent
	facts            uint32 // one bit of each pair
}

func (c region) fits(x cell) bool {
	return c.kinds>>x.kind&1 == 1 && c.fuels>>x.fuel&1 == 1 && c.vents>>x.vent&1 == 1 &&
		(c.partner == 0 || c.partner&x.partners != 0) && c.facts&x.facts == x.facts
}

// empty reports whether no appliance can be what the selector asks for.
func (c region) empty() bool {
	var sets []uint32
	for _, p := range alone(classes(c.partner&burning, heating)) {
		for _, h := range alone(heating) {
			sets = append(sets, p|h)
		}
	}
	few, found := c, false
	few.kinds, few.fuels, few.vents = classes(c.kinds&anything, heating, solid), classes(c.fuels&(flames|electric), lumber, oil), classes(c.vents&everyway, fanVent)
	cells(few, c.facts, sets, func(x cell) bool {
		found = c.fits(x)
		return !found
	})
	return !found
}

func bit[T comparable](list []T, of ...T) uint32 {
	s, _ := setOf(of, list)
	return s
}

var (
	heating  = bit(procedure.ApplianceKinds, procedure.Furnace, procedure.Boiler)
	solid    = bit(procedure.ApplianceKinds, procedure.Fireplace, procedure.WoodStove, procedure.PelletStove)
	anything = uint32(1<<len(procedure.ApplianceKinds) - 1)
	burning  = anything &^ bit(procedure.ApplianceKinds, procedure.IndirectTank)
	// touched by house pressure.
	touched  = burning &^ bit(procedure.ApplianceKinds, procedure.Range, procedure.Oven, procedure.GasDryer, procedure.UnventedHeater)
	lumber   = bit(fuelList, procedure.Wood, procedure.Pellets)
	oil      = bit(fuelList, procedure.Oil)
	electric = bit(fuelList, procedure.Electricity)
	flames   = uint32(1<<len(fuelList)-1) &^ electric
	fanVent  = bit(procedure.VentTypes, procedure.FanAssisted)
	everyway = uint32(1<<len(procedure.VentTypes) - 1)
	ducted   = everyway &^ bit(procedure.VentTypes, procedure.Unvented)
)

// possible leaves out what no home has, as procedure.TraitsOf would not give it.
func (x cell) possible() bool {
	has := func(fact int) bool { return x.facts&is(fact, true) != 0 }
	fan := fanVent>>x.vent&1 == 1
	heats := heating>>x.kind&1 == 1 || heating&x.partners != 0
	switch {
	case (solid>>x.kind&1 == 1) != (lumber>>x.fuel&1 == 1):
	case has(common) != (x.partners != 0):
	case fan && !has(fanPartner):
	case !fan && has(fanPartner) && !has(common):
	case has(damper) && !heats:
	case has(highStatic) && oil>>x.fuel&1 == 0:
	default:
		return true
	}
	return false
}

// cells calls f for each possible appliance of the region, until f says stop.
// Facts outside ask are taken as no: who does not ask cannot tell them apart.
// Whether the vent is shared and whether a partner has a fan is always tried.
func cells(c region, ask uint32, sets []uint32, f func(cell) bool) {
	free := []int{}
	var fixed uint32
	for fact := range facts {
		pair := c.facts >> (2 * fact) & 3
		switch {
		case pair != 3:
			fixed |= pair << (2 * fact)
		case fact == common || fact == fanPartner || ask>>(2*fact)&3 != 3:
			free = append(free, fact)
		default:
			fixed |= is(fact, false)
		}
	}
	for kind := range procedure.ApplianceKinds {
		if c.kinds>>kind&1 == 0 {
			continue
		}
		for fuel := range fuelList {
			if c.fuels>>fuel&1 == 0 {
				continue
			}
			for vent := range procedure.VentTypes {
				if c.vents>>vent&1 == 0 {
					continue
				}
				for _, p := range sets {
					for n := range 1 << len(free) {
						x := cell{kind, fuel, vent, p, fixed}
						for i, fact := range free {
							x.facts |= is(fact, n>>i&1 == 1)
						}
						if x.possible() && !f(x) {
							return
						}
					}
				}
			}
		}
	}
}

// ones are the single bits of a set.
func ones(s uint32) []uint32 {
	var out []uint32
	for ; s != 0; s &= s - 1 {
		out = append(out, s&-s)
	}
	return out
}

// alone are the kinds on a vent that need trying for whether a row fits at
// all: none, or one. A row that asks for a partner fits whatever else is there.
func alone(of uint32) []uint32 { return append([]uint32{0}, ones(of)...) }

// trios are the kinds on a vent that need trying for whether two rows tie: one
// for each row, and a furnace or boiler for the damper that only they have.
// More are not needed: another partner can only bring in a closer row, never
// take a tie away from those that are left without it.
func trios(of uint32) []uint32 {
	seen := map[uint32]bool{0: true}
	out := []uint32{0}
	for _, x := range ones(of) {
		for _, y := range ones(of) {
			for _, z := range append([]uint32{0}, ones(of&heating)...) {
				if s := x | y | z; !seen[s] {
					seen[s] = true
					out = append(out, s)
				}
			}
		}
	}
	return out
}

// classes keeps one bit of all those that no set tells apart.
func classes(all uint32, sets ...uint32) uint32 {
	var out uint32
	seen := map[string]bool{}
	for _, b := range ones(all) {
		sign := make([]byte, len(sets))
		for i, s := range sets {
			if s&b != 0 {
				sign[i] = 1
			}
		}
		if !seen[string(sign)] {
			seen[string(sign)] = true
			out |= b
		}
	}
	return out
}

// traits of a cell, as Match takes them.
func (x cell) traits() procedure.Traits {
	tri := func(fact int) procedure.Tri {
		if x.facts&is(fact, true) != 0 {
			return procedure.Yes
		}
		return procedure.No
	}
	t := procedure.Traits{Kind: procedure.ApplianceKinds[x.kind], Fuel: fuelList[x.fuel], Vent: procedure.VentTypes[x.vent],
		Common: tri(common), FanPartner: tri(fanPartner), Damper: tri(damper), Orphaned: tri(orphaned), Outside: tri(outside),
		HighStatic: tri(highStatic), TopInducer: tri(topInducer), Cold: tri(cold)}
	for k := range procedure.ApplianceKinds {
		if x.partners>>k&1 == 1 {
			t.Partners = append(t.Partners, procedure.ApplianceKinds[k])
		}
	}
	return t
}

// whole checks a table as a whole: parameters, the action matrix without
// gaps, a row or a word for each subject, and a row for every appliance. at is
// the file that made it what it is.
func (r *reader) whole(s *Set, f *fileYAML, file string, at *yaml.Node) {
	r.File = file
	for _, id := range required {
		if _, ok := s.param(id); !ok {
			r.At(at, "add a row of topic parameter with this id", "parameter %q missing", id)
		}
	}
	rules := s.Rules()
	for _, code := range codes {
		if _, ok := rules.ActionOf(code); !ok {
			r.At(at, "add a row of topic action with this code", "no row says what %q leads to", code)
		}
	}
	// Without a row the plan would have a limit of 0 s, and the judge none.
	timed := true
	for _, cold := range []procedure.Tri{procedure.Yes, procedure.No} {
		if c := procedure.Match(rules.Spillage, spilling(cold)); !c.Found {
			timed = false
			r.At(at, "add a row of topic spillage, or one for cold: true and one for cold: false", "no spillage time for a vent that is cold: %s", cold)
		}
	}
	if len(rules.Matrix) > 0 {
		r.matrix(at, rules.Matrix)
	}
	r.subjects(s, f, at)
	all := region{kinds: touched, fuels: flames, vents: ducted, facts: allFacts &^ is(cold, true)}
	if rules.PressureSet {
		r.gap(at, f, "depressurization", rules.Pressure, all)
	}
	if timed {
		all.facts = allFacts
		r.gap(at, f, "spillage", rules.Spillage, all)
	}
	if len(rules.CO) > 0 && len(rules.Matrix) == 0 {
		asked, _ := setOf(rules.COAsked, procedure.ApplianceKinds)
		r.gap(at, f, "co", rules.CO, region{kinds: asked & burning &^ solid, fuels: flames, vents: everyway, facts: allFacts &^ is(cold, true)})
	}
	r.ambiguous(s) // names the file of each row
}

// subjects holds a scheme to saying of each subject that it has a figure or
// that it has none.
func (r *reader) subjects(s *Set, f *fileYAML, at *yaml.Node) {
	for _, sub := range subjects {
		var has, published string
		for _, x := range s.rows {
			if sub.has(x.y) {
				has = x.y.ID
				if e := procedure.Evidence(x.y.Evidence); !x.edit && e != procedure.EvidenceOwnRule && e != procedure.EvidencePractice {
					published = x.y.ID
				}
			}
		}
		open := false
		for _, n := range f.NoFigure {
			if n.Topic != sub.name || len(n.Kinds) > 0 || len(n.Fuels) > 0 {
				continue
			}
			open = true
			if published != "" && sub.name != "baseline" && sub.name != "uncertainty" { // these lack some figures, not all
				r.At(n.Node, "keep one of them", "no_figure says that there is none for %s, but row %q has one", sub.name, published)
			}
		}
		if has == "" && !open {
			r.At(at, "add a row, or name it under no_figure with a note", "nothing says what holds for %s", sub.name)
		}
	}
}

func exempt(f *fileYAML, topic string, t procedure.Traits) bool {
	for _, n := range f.NoFigure {
		if n.Topic == topic && (len(n.Kinds) == 0 || in(n.Kinds, string(t.Kind))) && (len(n.Fuels) == 0 || in(n.Fuels, string(t.Fuel))) {
			return true
		}
	}
	return false
}

// gap refuses a table in which an appliance has no row.
func (r *reader) gap(at *yaml.Node, f *fileYAML, topic string, rows []procedure.Limit, all region) {
	compiled := make([]region, 0, len(rows))
	ask := allFacts
	for _, l := range rows {
		c, _ := compile(l.Applies)
		compiled = append(compiled, c)
		ask &= c.facts
	}
	cells(all, ask, alone(burning), func(x cell) bool {
		for _, c := range compiled {
			if c.fits(x) {
				return true
			}
		}
		t := x.traits()
		if exempt(f, topic, t) {
			return true
		}
		if procedure.Match(rows, t).Found {
			return true
		}
		r.At(at, "add a row, or name the kind under no_figure", "no %s row for %s, fuel %s, vent %s, common vent %q", topic, t.Kind, t.Fuel, t.Vent, t.Common)
		return false
	})
}

// ambiguous refuses two rows that match the same appliance equally well with
// different values, unless a closer row takes every such appliance. Appliances
// that no row of the topic tells apart are tried once.
func (r *reader) ambiguous(s *Set) {
	type lim struct {
		x row
		region
	}
	for _, topic := range []string{"depressurization", "co", "spillage"} {
		var rows []lim
		kindSets, fuelSets, ventSets := []uint32{heating, solid}, []uint32{lumber, oil}, []uint32{fanVent}
		set := func(list *[]uint32, s uint32) {
			for _, x := range *list {
				if x == s {
					return
				}
			}
			*list = append(*list, s)
		}
		for _, x := range s.rows {
			if x.y.Topic == topic {
				c, _ := compile(who(x.y.Applies))
				rows = append(rows, lim{x, c})
				set(&kindSets, c.kinds)
				set(&fuelSets, c.fuels)
				set(&ventSets, c.vents)
			}
		}
		// The closest first; of equals the order of the files.
		sort.SliceStable(rows, func(i, j int) bool { return rows[i].spec > rows[j].spec })
		told := map[string]bool{}
		for _, k := range ones(classes(burning, kindSets...)) {
			for _, f := range ones(classes(flames, fuelSets...)) {
				for _, v := range ones(classes(everyway, ventSets...)) {
					var here []*lim
					ask, partners := allFacts, []uint32{heating}
					for i := range rows {
						if c := &rows[i]; c.kinds&k != 0 && c.fuels&f != 0 && c.vents&v != 0 {
							here = append(here, c)
							ask &= c.facts
							set(&partners, c.partner)
						}
					}
					if len(here) < 2 {
						continue
					}
					cells(region{kinds: k, fuels: f, vents: v, facts: allFacts}, ask, trios(classes(burning, partners...)), func(x cell) bool {
						var first *lim
						for _, c := range here {
							if first != nil && c.spec < first.spec {
								break
							}
							if !c.fits(x) {
								continue
							}
							if first == nil {
								first = c
								continue
							}
							if (c.x.value != first.x.value || c.x.y.Basis != first.x.y.Basis) && !told[c.x.y.ID] {
								told[c.x.y.ID] = true
								t := x.traits()
								r.File = c.x.file
								r.At(c.x.y.Node, "say more closely which appliance each is about", "row %q matches the same appliance as %q equally well (%s, fuel %s, vent %s)", c.x.y.ID, first.x.y.ID, t.Kind, t.Fuel, t.Vent)
							}
						}
						return true
					})
				}
			}
		}
	}
}

// matrix proves that every band of CO and every outcome has a row.
func (r *reader) matrix(at *yaml.Node, rows []procedure.MatrixRow) {
	points, seen := []float64{0}, map[float64]bool{0: true}
	for _, m := range rows {
		p := []float64{m.Over, m.Over + 0.5}
		if m.UpTo != nil {
			p = append(p, *m.UpTo, *m.UpTo+0.5)
		}
		for _, v := range p {
			if !seen[v] {
				seen[v] = true
				points = append(points, v)
			}
		}
	}
	outs := []procedure.Outcome{procedure.OutcomePass, procedure.OutcomeWorst, procedure.OutcomeNatural}
	for _, co := range points {
		for _, sp := range outs {
			for _, dr := range outs {
				found := false
				for i := 0; i < len(rows) && !found; i++ {
					found = rows[i].Fits(co, false, sp, dr)
				}
				if !found {
					r.At(at, "add a matrix row", "the action matrix has no row for CO %s ppm, spillage %s, draft %s", reading.Format(co, -1), sp, dr)
					return
				}
			}
		}
	}
}
