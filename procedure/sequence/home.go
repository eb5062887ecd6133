package sequence

import (
	"math"
	"slices"
	"sort"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Appliances as far as the list knows them.
func (s *State) Appliances() []procedure.Appliance { return slices.Clone(s.appliances()) }

// appliances not to be written to.
func (s *State) appliances() []procedure.Appliance { return s.home().appl }

// home is the inventory, worked out once until it changes.
func (s *State) home() *home {
	if s.known.home == nil {
		h := &home{appl: s.readAppliances(), zones: s.readZones()}
		h.fans, _ = s.roster(keyFans)
		h.doors, _ = s.roster(keyDoors)
		h.air, _ = s.roster(keyAir)
		s.known.home = h
	}
	return s.known.home
}

func (s *State) readAppliances() []procedure.Appliance {
	items, _ := s.roster(keyAppliances)
	zones, _ := s.roster(keyZones)
	out := make([]procedure.Appliance, 0, len(items))
	for _, it := range items {
		a := procedure.Appliance{ID: it.ID, Name: it.Name, Kind: procedure.ApplianceKind(it.Kind)}
		if a.Name == "" {
			a.Name = it.ID
		}
		if len(zones) == 1 {
			a.Zone = zones[0].ID
		}
		k := func(x string) string { return join("appliance", it.ID, x) }
		if z := s.choice(k("zone")); slices.ContainsFunc(zones, func(i procedure.RosterItem) bool { return i.ID == z }) {
			a.Zone = z // one that is not listed any more is none
		}
		switch a.Kind {
		case procedure.Fireplace, procedure.WoodStove:
			a.Burner.Fuel = procedure.Wood
		case procedure.PelletStove:
			a.Burner.Fuel = procedure.Pellets
		}
		if b := s.answer(k("burner")); b != nil && b.Burner != nil {
			a.Burner = *b.Burner
		}
		if v := s.choice(k("vent")); v != "" && v != "not-known" {
			a.Vent.Type = procedure.VentType(v)
		}
		if a.Kind == procedure.UnventedHeater || a.Kind.Cooking() {
			a.Vent.Type = procedure.Unvented
		}
		if c := s.choice(k("category")); c != "" && c != "not-known" {
			a.Vent.Category = procedure.Category(c)
		}
		if f := s.answer(k("facts")); f != nil && f.VentFacts != nil {
			a.Facts = *f.VentFacts
		} else if !hasFacts(a) {
			a.Facts.Fireable = procedure.Yes
		}
		if inHouse(zones, a.Zone) { // a zone of its own, tested like any other
			a.Facts.InsideBoundary = procedure.Yes
		}
		if p := s.answer(k("partners")); p != nil && p.Names != nil {
			for _, id := range p.Names.IDs {
				if id == otherHome {
					a.Facts.OtherDwelling = procedure.Yes
				} else {
					a.Partners = append(a.Partners, id)
				}
			}
		}
		out = append(out, a)
	}
	// A shared vent is shared by both: a partner named on one side counts on
	// the other, whatever the other side's own answer says.
	for i := range out {
		for j := range out {
			if i != j && has(out[j].Partners, out[i].ID) && !has(out[i].Partners, out[j].ID) {
				out[i].Partners = append(out[i].Partners, out[j].ID)
			}
		}
	}
	for more := true; more; { // and what shares with a partner shares with all of them
		more = false
		for i := range out {
			for j := range out {
				if i == j || !has(out[i].Partners, out[j].ID) {
					continue
				}
				for _, id := range out[j].Partners {
					if id != out[i].ID && !has(out[i].Partners, id) {
						out[i].Partners = append(out[i].Partners, id)
						more = true
					}
				}
			}
		}
	}
	for i := range out {
		sort.Strings(out[i].Partners)
		if len(out[i].Partners) > 0 {
			out[i].Facts.Shares = procedure.Yes
		}
	}
	for i := range out {
		out[i].Listed = s.listed(out[i], len(zones))
	}
	return out
}

// inHouse reports whether a zone is of a kind of which nobody is asked whether
// it lies inside the pressure boundary: a garage is tested like any other zone,
// and rooms that people live in are inside.
func inHouse(zones []procedure.RosterItem, id string) bool {
	for _, z := range zones {
		if z.ID == id {
			return z.Kind == "garage" || z.Kind == "living-space" || z.Kind == "kitchen"
		}
	}
	return false
}

func (s *State) listed(a procedure.Appliance, zones int) bool {
	for _, x := range applianceFacts(a, zones) {
		if !s.Has(join("appliance", a.ID, x)) {
			return false
		}
	}
	return true
}

// applianceKeys are the inventory facts that an appliance of its kind needs.
func applianceKeys(a procedure.Appliance, zones int) []string {
	out := applianceFacts(a, zones)
	for i, x := range out {
		out[i] = join("appliance", a.ID, x)
	}
	return out
}

// applianceFacts are the last parts of its keys.
func applianceFacts(a procedure.Appliance, zones int) []string {
	out := make([]string, 0, 6)
	if zones > 1 && a.Burner.Fuel != procedure.Electricity {
		out = append(out, "zone")
	}
	if !a.Kind.Burns() {
		return out
	}
	if !a.Kind.SolidFuel() {
		out = append(out, "burner")
	}
	if a.Burner.Fuel == procedure.Electricity {
		return out
	}
	if vented(a.Kind) {
		out = append(out, "vent")
		if a.Vent.Type == procedure.FanAssisted || a.Vent.Type == procedure.PowerVented {
			out = append(out, "category")
		}
	}
	if hasFacts(a) {
		out = append(out, "facts")
	}
	if a.Facts.Shares == procedure.Yes {
		out = append(out, "partners")
	}
	return out
}

// vented kinds are asked for their vent; solid fuel has a chimney, cooking
// and unvented heaters none.
func vented(k procedure.ApplianceKind) bool {
	return k.Burns() && !k.SolidFuel() && !k.Cooking() && k != procedure.UnventedHeater && k != procedure.GasDryer
}

// otherHome among the partners of a vent: it also serves another dwelling.
const otherHome = "other-home"

// hasFacts reports whether an appliance is asked facts about its vent.
func hasFacts(a procedure.Appliance) bool {
	return a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity && a.Kind != procedure.GasDryer
}

// factCodes are the vent facts asked of an appliance, by their record names;
// "!" is one worded the other way round, so that forgetting to name it never
// gives the milder fact.
func factCodes(a procedure.Appliance) []string {
	if !hasFacts(a) {
		return nil
	}
	if a.Kind == procedure.UnventedHeater {
		return []string{"can_be_fired", "!main_heat", "!inside"}
	}
	if a.Kind.Cooking() {
		return []string{"can_be_fired"}
	}
	if a.Kind.SolidFuel() {
		return []string{"!shares", "!inside", "outside"}
	}
	switch a.Vent.Type {
	case procedure.Unvented:
		return []string{"can_be_fired", "!main_heat", "!inside"}
	case procedure.DirectVent, procedure.PowerVented, procedure.OnePipe:
		return []string{"can_be_fired", "!inside"}
	}
	c := []string{"can_be_fired", "!shares", "test_hole", "orphaned", "outside", "!inside"}
	if a.Burner.Fuel != procedure.Oil {
		c = append(c, "draft_hood")
	}
	c = append(c, "barometric", "vent_damper")
	if a.Burner.Fuel == procedure.Oil {
		c = append(c, "high_static")
	}
	return append(c, "top_inducer")
}

// Zones of the home with what is known of their doors.
func (s *State) Zones() []procedure.Zone { return slices.Clone(s.home().zones) }

func (s *State) readZones() []procedure.Zone {
	items, _ := s.roster(keyZones)
	var out []procedure.Zone
	for _, it := range items {
		z := procedure.Zone{ID: it.ID, Name: it.Name}
		if z.Name == "" {
			z.Name = it.ID
		}
		if v := s.answer(join("zone", it.ID, "volume")); v != nil && v.Number != nil && v.Number.Value != nil {
			if ft3, err := reading.Convert(*v.Number.Value, reading.Unit(v.Number.Unit), reading.UnitFt3); err == nil {
				z.Volume = ft3
			}
		}
		switch s.choice(join("zone", it.ID, "door")) {
		case "door":
			z.Door, z.Louvred = procedure.Yes, procedure.No
		case "louvred":
			z.Door, z.Louvred = procedure.Yes, procedure.Yes
		case "no-door":
			z.Door, z.Louvred = procedure.No, procedure.No
		}
		out = append(out, z)
	}
	return out
}

// Instrument by id, nil when it was not entered.
func (s *State) Instrument(id string) *procedure.Instrument {
	if a := s.answer(join("arrive", id)); a != nil {
		return a.Instrument
	}
	return nil
}

func has(list []string, x string) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
}

// weathers of this visit, the one at arrival first.
func (s *State) weathers() []procedure.Weather {
	var out []procedure.Weather
	add := func(k string) {
		if a := s.answer(k); a != nil && a.Weather != nil {
			out = append(out, *a.Weather)
		}
	}
	add(keyWeather)
	for _, x := range s.stops {
		add(join("resume", itoa(x.n), "outdoors"))
	}
	return out
}

// OutdoorF is the outdoor temperature in degrees Fahrenheit, the coldest of
// this visit, which asks for the strongest draft; false where one is not known.
func (s *State) OutdoorF() (float64, bool) {
	t, ok := math.Inf(1), false
	for _, w := range s.weathers() {
		f, err := reading.Convert(w.Temp, reading.Unit(w.TempUnit), reading.UnitF)
		if err != nil {
			return 0, false
		}
		t, ok = min(t, f), true
	}
	return t, ok
}

// windMPH is the strongest wind of this visit.
func (s *State) windMPH() (float64, bool) {
	top, ok := 0.0, false
	for _, w := range s.weathers() {
		v, err := reading.Convert(w.Wind, reading.Unit(w.WindUnit), reading.UnitMPH)
		if err != nil {
			return 0, false
		}
		top, ok = max(top, v), true
	}
	return top, ok
}

// pressureObs turns a present, fresh pressure fact into pascals.
func (s *State) pressureObs(key string) *procedure.PressureObs {
	if !s.Has(key) {
		return nil
	}
	return s.pressureOf(key, s.fact(key))
}

// pressureOf turns a pressure, fresh or not, into pascals.
func (s *State) pressureOf(key string, f *fact) *procedure.PressureObs {
	a, ok := f.data.(*procedure.Answer)
	if !ok || a.Pressure == nil {
		return nil
	}
	p := procedure.PressureObs{N: f.n, Step: key, AveragingS: a.Pressure.AveragingS, Instrument: a.Pressure.Instrument, SetupN: a.Pressure.Setup, At: f.at}
	p.Values = pascals(a.Pressure.Values(), a.Pressure.Unit)
	if l, ok := s.logs[a.Pressure.Log]; ok && a.Pressure.Log != 0 {
		if se, ok := toPa(l.StandardError, l.Unit); ok { // units of pressure share their zero
			p.SE, p.EffectiveN = se, (l.S/l.StandardError)*(l.S/l.StandardError)
		}
	}
	if k, ok := s.byN[p.SetupN]; ok {
		if su, ok := s.fact(k).data.(*procedure.Setup); ok {
			p.Setup = su.Clone()
		}
	}
	return &p
}

// pascals are pressures in that unit, NaN where the unit is none.
func pascals(values []float64, unit string) []float64 {
	out := slices.Clone(values)
	for i, v := range out {
		pa, err := reading.Convert(v, reading.Unit(unit), reading.UnitPa)
		if err != nil {
			pa = math.NaN()
		}
		out[i] = pa
	}
	return out
}

// meanPa is the mean of a present, fresh pressure fact, in pascals.
func (s *State) meanPa(key string) (float64, bool) {
	a := s.answer(key)
	if a == nil || a.Pressure == nil {
		return 0, false
	}
	return procedure.MeanOf(pascals(a.Pressure.Values(), a.Pressure.Unit)), true
}

func (s *State) pairsObs(key string) *procedure.PairsObs {
	a := s.answer(key)
	if a == nil || a.Pairs == nil {
		return nil
	}
	p := procedure.PairsObs{N: s.fact(key).n}
	if k, ok := s.byN[a.Pairs.Setup]; ok {
		if su, ok := s.fact(k).data.(*procedure.Setup); ok {
			p.Setup = su.Clone()
		}
	}
	p.Off, p.On = pascals(a.Pairs.Off, a.Pairs.Unit), pascals(a.Pairs.On, a.Pairs.Unit)
	return &p
}
