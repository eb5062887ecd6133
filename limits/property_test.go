package limits

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"cazward/procedure"
)

var tris = []procedure.Tri{procedure.Unknown, procedure.Yes, procedure.No}

// drawTraits are any appliance, each fact known or not. What contradicts
// itself is drawn too: Match must hold for it as well.
func drawTraits(t *rapid.T) procedure.Traits {
	tri := func(name string) procedure.Tri { return rapid.SampledFrom(tris).Draw(t, name) }
	x := procedure.Traits{
		Kind: rapid.SampledFrom(procedure.ApplianceKinds).Draw(t, "kind"),
		Fuel: rapid.SampledFrom(append([]procedure.Fuel{procedure.FuelUnknown}, fuelList...)).Draw(t, "fuel"),
		Vent: rapid.SampledFrom(append([]procedure.VentType{procedure.VentUnknown}, procedure.VentTypes...)).Draw(t, "vent"), Common: tri("common"),
		FanPartner: tri("fan partner"), Damper: tri("damper"), Orphaned: tri("orphaned"), Outside: tri("outside"), HighStatic: tri("high static"), TopInducer: tri("top inducer"), Cold: tri("cold"),
	}
	if x.Common != procedure.No {
		x.Partners = rapid.SliceOfN(rapid.SampledFrom(procedure.ApplianceKinds), 0, 3).Draw(t, "partners")
	}
	return x
}

// settle gives each fact that is not known each value it could have, one fact
// at a time.
func settle(t procedure.Traits) map[string]procedure.Traits {
	out := map[string]procedure.Traits{}
	for name, f := range map[string]func(*procedure.Traits) *procedure.Tri{
		"common": func(t *procedure.Traits) *procedure.Tri { return &t.Common }, "fan partner": func(t *procedure.Traits) *procedure.Tri { return &t.FanPartner },
		"damper": func(t *procedure.Traits) *procedure.Tri { return &t.Damper }, "orphaned": func(t *procedure.Traits) *procedure.Tri { return &t.Orphaned },
		"outside": func(t *procedure.Traits) *procedure.Tri { return &t.Outside }, "high static": func(t *procedure.Traits) *procedure.Tri { return &t.HighStatic },
		"top inducer": func(t *procedure.Traits) *procedure.Tri { return &t.TopInducer }, "cold": func(t *procedure.Traits) *procedure.Tri { return &t.Cold },
	} {
		if *f(&t) == procedure.Unknown {
			for _, v := range tris[1:] {
				x := t
				*f(&x) = v
				out[name+" "+string(v)] = x
			}
		}
	}
	if t.Fuel == procedure.FuelUnknown {
		for _, v := range fuelList {
			x := t
			x.Fuel = v
			out["fuel "+string(v)] = x
		}
	}
	if t.Vent == procedure.VentUnknown {
		for _, v := range procedure.VentTypes {
			x := t
			x.Vent = v
			out["vent "+string(v)] = x
		}
	}
	if t.Common != procedure.No && len(t.Partners) == 0 {
		for _, v := range procedure.ApplianceKinds {
			x := t
			x.Common, x.Partners = procedure.Yes, []procedure.ApplianceKind{v}
			out["partner "+string(v)] = x
		}
	}
	return out
}

func stricterThan(a, b procedure.Bound) bool {
	if a.Sense == procedure.AtLeast {
		return a.Value > b.Value
	}
	return a.Value < b.Value
}

// asked reports whether the judge would ask the rule of such an appliance at
// all: only then must the scheme have a row or say that it has none.
func asked(rule string, t procedure.Traits, r procedure.Rules) bool {
	if !t.Kind.Burns() || t.Fuel == procedure.Electricity {
		return false
	}
	if t.Kind.SolidFuel() != (t.Fuel == procedure.Wood || t.Fuel == procedure.Pellets) && t.Fuel != procedure.FuelUnknown {
		return false // no such home
	}
	ducted := t.Vent != procedure.Unvented && !t.Kind.Cooking() && t.Kind != procedure.GasDryer && t.Kind != procedure.UnventedHeater
	switch rule {
	case "depressurization":
		return ducted && r.PressureSet
	case "spillage":
		return ducted
	}
	for _, k := range r.COAsked {
		if k == t.Kind {
			return len(r.Matrix) == 0 && !t.Kind.SolidFuel()
		}
	}
	return false
}

// opens reports whether the scheme says that it has no figure.
func opens(s *Set, rule string, t procedure.Traits) bool {
	for _, o := range s.Open() {
		if o.Topic == rule && (len(o.Kinds) == 0 || in(o.Kinds, string(t.Kind))) && (len(o.Fuels) == 0 || in(o.Fuels, string(t.Fuel))) {
			return true
		}
	}
	return false
}

// TestOneRowForEveryAppliance: over each scheme Match gives one row or the
// scheme says that it has no figure; never two that fit equally well with
// different values; and a fact that is not known never gives a milder row than
// any value it could have.
func TestOneRowForEveryAppliance(t *testing.T) {
	type table struct {
		s     *Set
		name  string
		rules procedure.Rules
	}
	var all []table
	for _, n := range Names() {
		s := mustLoad(t, n)
		all = append(all, table{s, n, s.Rules()})
	}
	rapid.Check(t, func(t *rapid.T) {
		x := drawTraits(t)
		for _, tab := range all {
			for rule, rows := range map[string][]procedure.Limit{"depressurization": tab.rules.Pressure, "spillage": tab.rules.Spillage, "co": tab.rules.CO} {
				c := procedure.Match(rows, x)
				where := fmt.Sprintf("%s %s %+v", tab.name, rule, x)
				if !c.Found && asked(rule, x, tab.rules) && !opens(tab.s, rule, x) {
					t.Fatalf("%s: no row, and the scheme does not say so", where)
				}
				if !c.Found {
					continue
				}
				// Nothing that fits as closely says something else.
				for _, r := range rows {
					fit, _ := r.Applies.Fit(x)
					chosen, _ := c.Limit.Applies.Fit(x)
					if fit == procedure.Yes && chosen == procedure.Yes && possible(x) && r.Applies.Specificity() == c.Limit.Applies.Specificity() && r.Bound != c.Limit.Bound {
						t.Fatalf("%s: %s and %s fit equally well", where, r.ID, c.Limit.ID)
					}
				}
				for fact, y := range settle(x) {
					if k := procedure.Match(rows, y); k.Found && stricterThan(k.Limit.Bound, c.Limit.Bound) {
						t.Fatalf("%s: %s (%v) while %s is not known, %s (%v) once it is", where, c.Limit.ID, c.Limit.Bound.Value, fact, k.Limit.ID, k.Limit.Bound.Value)
					}
				}
			}
		}
	})
}

// possible reports whether a home could have it, as far as the facts are known.
func possible(x procedure.Traits) bool {
	c, ok := cellOf(x)
	return !ok || c.possible()
}

// cellOf turns traits whose facts are all known into bits, false otherwise.
func cellOf(x procedure.Traits) (cell, bool) {
	c := cell{kind: -1, fuel: -1, vent: -1}
	for i, k := range procedure.ApplianceKinds {
		if k == x.Kind {
			c.kind = i
		}
		for _, p := range x.Partners {
			if p == k {
				c.partners |= 1 << i
			}
		}
	}
	for i, f := range fuelList {
		if f == x.Fuel {
			c.fuel = i
		}
	}
	for i, v := range procedure.VentTypes {
		if v == x.Vent {
			c.vent = i
		}
	}
	ok := c.kind >= 0 && c.fuel >= 0 && c.vent >= 0
	for fact, t := range []procedure.Tri{x.Common, x.FanPartner, x.Damper, x.Orphaned, x.Outside, x.HighStatic, x.TopInducer, x.Cold} {
		ok = ok && t != procedure.Unknown
		c.facts |= is(fact, t == procedure.Yes)
	}
	return c, ok && (len(x.Partners) > 0 || x.Common == procedure.No)
}

func drawSelector(t *rapid.T) procedure.Selector {
	tri := func(n string) procedure.Tri { return rapid.SampledFrom(tris).Draw(t, n) }
	some := func(n string) []procedure.ApplianceKind {
		return rapid.SliceOfNDistinct(rapid.SampledFrom(procedure.ApplianceKinds), 0, 3, rapid.ID[procedure.ApplianceKind]).Draw(t, n)
	}
	return procedure.Selector{Kinds: some("kinds"), Partner: some("partner"), Fuels: rapid.SliceOfNDistinct(rapid.SampledFrom(fuelList), 0, 2, rapid.ID[procedure.Fuel]).Draw(t, "fuels"),
		Vents:  rapid.SliceOfNDistinct(rapid.SampledFrom(procedure.VentTypes), 0, 2, rapid.ID[procedure.VentType]).Draw(t, "vents"),
		Common: tri("c"), FanPartner: tri("f"), Damper: tri("d"), Orphaned: tri("o"), Outside: tri("out"), HighStatic: tri("h"), TopInducer: tri("t"), Cold: tri("cold")}
}

// TestRegionsFitAsSelectors: the bits by which the loader searches say the same
// as the selectors by which rows are chosen, and cells are read back as they
// were.
func TestRegionsFitAsSelectors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, s := drawTraits(t), drawSelector(t)
		for _, f := range []*procedure.Tri{&x.Common, &x.FanPartner, &x.Damper, &x.Orphaned, &x.Outside, &x.HighStatic, &x.TopInducer, &x.Cold} {
			if *f == procedure.Unknown {
				*f = procedure.Yes
			}
		}
		if x.Fuel == procedure.FuelUnknown {
			x.Fuel = procedure.NaturalGas
		}
		if x.Vent == procedure.VentUnknown {
			x.Vent = procedure.NaturalVent
		}
		if x.Common == procedure.Yes && len(x.Partners) == 0 {
			x.Partners = []procedure.ApplianceKind{procedure.Boiler}
		}
		c, ok := cellOf(x)
		if !ok {
			t.Fatalf("a fact is not known: %+v", x)
		}
		r, ok := compile(s)
		if !ok {
			t.Fatalf("not understood: %+v", s)
		}
		fit, why := s.Fit(x)
		if (fit == procedure.Yes) != r.fits(c) {
			t.Fatalf("%+v against %+v: Fit says %q (%v), the bits %v", s, x, fit, why, r.fits(c))
		}
		if back, _ := cellOf(c.traits()); back != c {
			t.Fatalf("cell %+v comes back as %+v", c, back)
		}
	})
}

// TestTiesAreFound: of two random rows the loader refuses exactly those that
// some possible appliance fits equally well, tried one by one with up to three
// partners of any kind.
func TestTiesAreFound(t *testing.T) {
	few := []procedure.ApplianceKind{procedure.Furnace, procedure.Boiler, procedure.WaterHeater, procedure.RoomHeater}
	rapid.Check(t, func(t *rapid.T) {
		sel := func(n string) procedure.Selector {
			tri := func(f string) procedure.Tri { return rapid.SampledFrom(tris).Draw(t, n+f) }
			some := func(f string) []procedure.ApplianceKind {
				return rapid.SliceOfNDistinct(rapid.SampledFrom(few), 0, 2, rapid.ID[procedure.ApplianceKind]).Draw(t, n+f)
			}
			return procedure.Selector{Kinds: some("kinds"), Partner: some("partner"), Common: tri("common"), FanPartner: tri("fan"), Damper: tri("damper")}
		}
		rows := []procedure.Selector{sel("a"), sel("b"), sel("c")}
		var regions []region
		for _, s := range rows {
			r, _ := compile(s)
			regions = append(regions, r)
		}
		// By hand: every kind, vent, set of partners, and facts.
		tie := false
		for n := range 1 << len(few) {
			var partners []procedure.ApplianceKind
			for i, k := range few {
				if n>>i&1 == 1 {
					partners = append(partners, k)
				}
			}
			for _, k := range few {
				for _, v := range []procedure.VentType{procedure.NaturalVent, procedure.FanAssisted} {
					for _, fan := range tris[1:] {
						for _, damper := range tris[1:] {
							x := procedure.Traits{Kind: k, Fuel: procedure.NaturalGas, Vent: v, Common: procedure.No, Partners: partners, FanPartner: fan, Damper: damper, Orphaned: procedure.No, Outside: procedure.No, HighStatic: procedure.No, TopInducer: procedure.No, Cold: procedure.No}
							if len(partners) > 0 {
								x.Common = procedure.Yes
							}
							if !possible(x) {
								continue
							}
							fits := func(s procedure.Selector) bool { f, _ := s.Fit(x); return f == procedure.Yes }
							if fits(rows[0]) && fits(rows[1]) && !(fits(rows[2]) && rows[2].Specificity() > rows[0].Specificity()) {
								tie = true
							}
						}
					}
				}
			}
		}
		tie = tie && rows[0].Specificity() == rows[1].Specificity()
		s := &Set{}
		for i, sel := range rows {
			y := rowYAML{ID: fmt.Sprint("r", i), Topic: "depressurization", Applies: yamlOf(sel)}
			s.rows = append(s.rows, row{y: y, value: float64(-i - 1)})
		}
		s.rows[2].value = s.rows[0].value // only the first two can disagree with each other
		if rows[2].Specificity() == rows[1].Specificity() {
			s.rows = s.rows[:2] // and the third, as close as they are, is no help
		}
		r := newReader()
		r.ambiguous(s)
		found := false
		for _, p := range r.List {
			found = found || strings.Contains(p.Text, `"r1" matches the same appliance as "r0"`)
		}
		if found != tie {
			t.Fatalf("found %v, want %v: %+v; said %v; %v", found, tie, rows, r.List, regions)
		}
	})
}

func yamlOf(s procedure.Selector) *whoYAML {
	b := func(t procedure.Tri) *bool {
		if t == procedure.Unknown {
			return nil
		}
		v := t == procedure.Yes
		return &v
	}
	return &whoYAML{Kinds: texts(s.Kinds), Partner: texts(s.Partner), Common: b(s.Common), FanPartner: b(s.FanPartner), Damper: b(s.Damper)}
}
