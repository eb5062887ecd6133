package limits

import (
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

// meet is what both fit, partners left aside; false when nothing is.
func (c region) meet(d region) (region, bool) {
	m := region{kinds: c.kinds & d.kinds, fuels: c.fuels & d.fuels, vents: c.vents & d.vents, facts: c.facts & d.facts}
	return m, m.kinds != 0 && m.fuels != 0 && m.vents != 0 && (m.facts|m.facts>>1)&(allFacts/3) == allFacts/3
}

// within reports whether d fits all that c fits, partners left aside.
func (c region) within(d region) bool {
	return c.kinds&^d.kinds == 0 && c.fuels&^d.fuels == 0 && c.vents&^d.vents == 0 && c.facts&^d.facts == 0
}

// empty reports whether no appliance can be what the selector asks for.
func (c region) empty() bool {
	found := false
	cells(c, c.facts, partnerSets(c.partner, 0), func(cell) bool { found = true; return false })
	return !found
}

func bit[T comparable](list []T, of ...T) uint32 {
	s, _ := setOf(of, list)
	return s
}

var (
	heating = bit(procedure.ApplianceKinds, procedure.Furnace, procedure.Boiler)
	solid   = bit(procedure.ApplianceKinds, procedure.Fireplace, procedure.WoodStove, procedure.PelletStove)
	burning = uint32(1<<len(procedure.ApplianceKinds)-1) &^ bit(procedure.ApplianceKinds, procedure.IndirectTank)
	// touched by house pressure.
	touched  = burning &^ bit(procedure.ApplianceKinds, procedure.Range, procedure.Oven, procedure.GasDryer, procedure.UnventedHeater)
	lumber   = bit(fuelList, procedure.Wood, procedure.Pellets)
	oil      = bit(fuelList, procedure.Oil)
	flames   = uint32(1<<len(fuelList)-1) &^ bit(fuelList, procedure.Electricity)
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

// partnerSets are the kinds on a vent that need trying against two rows: none,
// and one of each list. More are not needed: a row that asks for a partner
// fits whatever else is there, so that another partner can only bring in a
// closer row, never take away a tie or fill a gap. A furnace or boiler is
// added for the damper that only they have.
func partnerSets(a, b uint32) []uint32 {
	one := func(s uint32) []uint32 {
		var out []uint32
		for k := range procedure.ApplianceKinds {
			if s>>k&1 == 1 {
				out = append(out, 1<<k)
			}
		}
		return out
	}
	var out []uint32
	switch {
	case a == 0 && b == 0:
		return append([]uint32{0}, one(burning)...)
	case a == 0:
		a = b
	case b == 0:
		b = a
	}
	seen := map[uint32]bool{}
	for _, x := range one(a) {
		for _, y := range one(b) {
			for _, h := range append([]uint32{0}, one(heating)...) {
				if s := x | y | h; !seen[s] {
					seen[s] = true
					out = append(out, s)
				}
			}
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
	cells(all, ask, partnerSets(0, 0), func(x cell) bool {
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
// different values, unless a closer row takes every such appliance.
func (r *reader) ambiguous(s *Set) {
	type lim struct {
		x row
		region
	}
	for _, topic := range []string{"depressurization", "co", "spillage"} {
		var rows []lim
		for _, x := range s.rows {
			if x.y.Topic == topic {
				c, _ := compile(who(x.y.Applies))
				// What a test could ever ask: a selector that says nothing of kind
				// is not about a tank that burns nothing.
				c.kinds, c.fuels = c.kinds&burning, c.fuels&flames
				rows = append(rows, lim{x, c})
			}
		}
		for i, b := range rows {
			for _, a := range rows[:i] {
				if a.spec != b.spec || a.x.value == b.x.value && a.x.y.Basis == b.x.y.Basis {
					continue
				}
				m, ok := a.meet(b.region)
				if !ok {
					continue
				}
				var closer []region
				ask, covered := m.facts, false
				for _, c := range rows {
					if _, meets := c.meet(m); c.spec <= b.spec || !meets {
						continue
					}
					covered = covered || c.partner == 0 && m.within(c.region)
					closer = append(closer, c.region)
					ask &= c.facts
				}
				if covered {
					continue
				}
				var tie *cell
				cells(m, ask, partnerSets(a.partner, b.partner), func(x cell) bool {
					for _, c := range closer {
						if c.fits(x) {
							return true
						}
					}
					tie = &x
					return false
				})
				if tie != nil {
					t := tie.traits()
					r.File = b.x.file
					r.At(b.x.y.Node, "say more closely which appliance each is about", "row %q matches the same appliance as %q equally well (%s, fuel %s, vent %s)", b.x.y.ID, a.x.y.ID, t.Kind, t.Fuel, t.Vent)
					break // one at a time is enough to mend it
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
