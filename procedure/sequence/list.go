package sequence

import (
	"slices"
	"sort"
	"strings"
	"sync"

	"cazward/procedure"
	"cazward/procedure/reading"
)

func (g *gen) arrive() {
	st := g.checklist(keyDanger, procedure.StageArrive, "arrive.danger", procedure.DangerLines)
	st.Form, st.Cautions, st.Reaffirm = procedure.FormGate, []string{"danger-gate"}, false
	g.add(st)
	if g.s.Leaving() && !g.full {
		return
	}
	st = g.checklist(keyReady, procedure.StageArrive, "arrive.ready", procedure.ReadyLines)
	st.Cautions = []string{"co-monitor"}
	g.add(st)
	if g.s.blocked() && !g.full {
		return
	}
	g.add(procedure.Step{ID: keyLEL, Stage: procedure.StageArrive, Ask: "ambient.lel", Form: procedure.FormAmbient, Unit: "%", Cautions: []string{"fuel-smell"}})
	g.add(procedure.Step{ID: keyAmbient, Stage: procedure.StageArrive, Ask: "ambient.arrive", Form: procedure.FormAmbient, Unit: "ppm", Cautions: []string{"ambient-tiers"}})
	g.add(procedure.Step{ID: keyWeather, Stage: procedure.StageArrive, Ask: "arrive.weather", Form: procedure.FormWeather})
	g.add(procedure.Step{ID: keyGauge, Stage: procedure.StageArrive, Ask: "arrive.gauge", Form: procedure.FormInstrument, Wanted: true, Args: map[string]string{"instrument": "gauge"}})
	g.add(procedure.Step{ID: keyAnalyser, Stage: procedure.StageArrive, Ask: "arrive.analyser", Form: procedure.FormInstrument, Wanted: true, Args: map[string]string{"instrument": "analyser"}})
}

// kinds are what lists may hold, as choices. Each is clipped: who adds to one,
// copies it.
var kinds = sync.OnceValue(func() (k struct{ homes, appliances, fans, doors, vents, categories []string }) {
	k.homes, k.appliances, k.fans, k.doors = kindsOf(procedure.HomeKinds), kindsOf(procedure.ApplianceKinds), kindsOf(procedure.FanKinds), kindsOf(procedure.DoorKinds)
	k.vents = slices.Clip(append(kindsOf(procedure.VentTypes), "not-known"))
	k.categories = slices.Clip(append(kindsOf(procedure.Categories), "not-known"))
	return k
})

func kindsOf[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, k := range list {
		out[i] = string(k)
	}
	return out
}

// confirm offers what the earlier phase knew under the given keys.
func (g *gen) confirm(id, ask, name string, keys []string) {
	if g.s.header.Prior == nil || g.leftOut(join("confirm", id)) {
		return
	}
	st := procedure.Step{ID: join("confirm", id), Stage: procedure.StageList, Ask: ask, Form: procedure.FormConfirm, Choices: []string{"as-before", "changed"}, Name: name, Reaffirm: true}
	for _, k := range keys {
		a, ok := g.s.carried(k)
		if !ok {
			return // something new is needed: ask it outright
		}
		st.Offer = append(st.Offer, procedure.CarriedOne{Step: k, Answer: a})
	}
	if len(st.Offer) > 0 {
		g.add(st)
	}
}

func (g *gen) list() {
	s := g.s
	L := procedure.StageList
	if s.header.Prior != nil {
		g.add(procedure.Step{ID: KeyCarried, Stage: L, Ask: "list.carried", Form: procedure.FormCarried})
	}
	g.confirm("appliances", "confirm.appliances", "", []string{keyHome, keyAppliances, keyZones})
	g.add(procedure.Step{ID: keyHome, Stage: L, Ask: "list.home", Form: procedure.FormChoice, Choices: kinds().homes})
	g.add(procedure.Step{ID: keyAppliances, Stage: L, Ask: "list.appliances", Form: procedure.FormRoster, Choices: kinds().appliances})
	for _, id := range s.gone("") {
		g.add(procedure.Step{ID: join("gone", id), Stage: L, Ask: "list.gone", Form: procedure.FormChoice, Choices: []string{"taken-away", "still-here"}, Name: strings.ReplaceAll(strings.TrimRight(id, "-0123456789"), "-", " ")})
	}
	burns := false
	for _, a := range g.appl {
		if id := join("appliance", a.ID); s.header.Prior != nil && !g.leftOut(join("confirm", id)) {
			g.confirm(id, "confirm.appliance", a.Name, applianceKeys(g.asCarried(a), len(g.zones)))
		}
		g.appliance(a, "burner")
		burns = burns || a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity
	}
	if !burns {
		return // all-electric: no zone, no fans, no hold
	}
	g.add(procedure.Step{ID: keyZones, Stage: L, Ask: "list.zones", Form: procedure.FormRoster, Choices: zonePlaces})
	for _, z := range g.zones {
		g.confirm(join("zone", z.ID), "confirm.zone", z.Name, []string{join("zone", z.ID, "door"), join("zone", z.ID, "volume")})
		g.add(procedure.Step{ID: join("zone", z.ID, "door"), Stage: L, Ask: "list.zone-door", Form: procedure.FormChoice, Choices: []string{"door", "louvred", "no-door"}, Zone: z.ID, Name: z.Name, Cautions: []string{"louvred"}})
		g.add(procedure.Step{ID: join("zone", z.ID, "volume"), Stage: L, Ask: "list.zone-volume", Form: procedure.FormNumber, Unit: string(reading.UnitFt3), Wanted: true, Zone: z.ID, Name: z.Name, Args: map[string]string{"kind": string(reading.KindVolume)}})
	}
	for _, a := range g.appl {
		if a.Burner.Fuel != procedure.Electricity {
			g.appliance(a, "zone", "vent", "category", "facts", "partners")
		}
	}
	g.confirm("fans", "confirm.fans", "", []string{keyFans})
	g.add(procedure.Step{ID: keyFans, Stage: L, Ask: "list.fans", Form: procedure.FormRoster, Choices: kinds().fans})
	g.confirm("doors", "confirm.doors", "", []string{keyDoors})
	g.add(procedure.Step{ID: keyDoors, Stage: L, Ask: "list.doors", Form: procedure.FormRoster, Choices: kinds().doors, Cautions: []string{"garage-door"}})
	g.confirm("airhandlers", "confirm.airhandlers", "", []string{keyAir})
	g.add(procedure.Step{ID: keyAir, Stage: L, Ask: "list.airhandlers", Form: procedure.FormRoster, Choices: []string{"air-handler"}})
	if g.s.header.Phase == procedure.Daily && slices.ContainsFunc(g.zones, func(z procedure.Zone) bool {
		a, _ := g.s.carried(join("worst", z.ID))
		return a.Setup != nil
	}) {
		g.add(procedure.Step{ID: KeySince, Stage: L, Ask: "list.since", Form: procedure.FormChoice, Choices: []string{onlySealing, "more", "not-known"}})
	}
	g.add(procedure.Step{ID: keyCFM50, Stage: L, Ask: "list.cfm50", Form: procedure.FormNumber, Unit: "cfm", Wanted: true})
	if a := g.s.answer(keyCFM50); a != nil && a.Number != nil && a.Number.Value != nil {
		var items []procedure.Item // only beside CFM50 does a flow say anything
		for _, f := range g.fans {
			if _, had := g.s.facts[join("list/flows", f.ID)]; g.s.touched() && !had {
				continue // a wanted fact is not asked in the middle of the test
			}
			if procedure.FanKind(f.Kind).RunsAtWorstCase() && f.Kind != string(procedure.AtticFan) && f.Kind != string(procedure.RadonFan) {
				items = append(items, procedure.Item{Key: join("list/flows", f.ID), Code: "fan", Name: g.name(f.ID)})
			}
		}
		if len(items) > 0 {
			g.add(procedure.Step{ID: "list/flows", Stage: L, Ask: "list.flows", Form: procedure.FormNumbers, Unit: "cfm", Items: items, Wanted: true})
		}
	}
}

// asCarried is the appliance as the earlier phase knew it, so that all its
// facts are confirmed on one screen.
func (g *gen) asCarried(a procedure.Appliance) procedure.Appliance {
	k := func(x string) procedure.Answer {
		c, _ := g.s.carried(join("appliance", a.ID, x))
		return c
	}
	if b := k("burner"); b.Burner != nil {
		a.Burner = *b.Burner
	}
	if v := k("vent"); v.Choice != "" && v.Choice != "not-known" {
		a.Vent.Type = procedure.VentType(v.Choice)
	}
	if f := k("facts"); f.VentFacts != nil {
		a.Facts = *f.VentFacts
	}
	return a
}

// appliance asks those of its inventory screens that are named.
func (g *gen) appliance(a procedure.Appliance, screens ...string) {
	if g.leftOut(join("appliance", a.ID)) {
		return
	}
	L := procedure.StageList
	k := func(x string) string { return join("appliance", a.ID, x) }
	base := func(id, ask string, f procedure.Form) procedure.Step {
		return procedure.Step{ID: k(id), Stage: L, Ask: ask, Form: f, Subject: a.ID, Name: a.Name, Zone: a.Zone}
	}
	for _, x := range applianceFacts(a, len(g.zones)) {
		if !has(screens, x) || g.leftOut(k(x)) {
			continue
		}
		switch x {
		case "zone":
			st := base("zone", "list.appliance-zone", procedure.FormChoice)
			var names []string
			for _, z := range g.zones {
				st.Choices = append(st.Choices, z.ID)
				names = append(names, z.Name)
			}
			st.Args = map[string]string{"names": strings.Join(names, "|")}
			g.add(st)
		case "burner":
			g.add(base("burner", "list.burner", procedure.FormBurner))
		case "vent":
			st := base("vent", "list.vent", procedure.FormChoice)
			st.Choices = kinds().vents
			g.add(st)
		case "category":
			st := base("category", "list.category", procedure.FormChoice)
			st.Choices = kinds().categories
			g.add(st)
		case "facts":
			st := base("facts", "list.facts", procedure.FormFacts)
			if vented(a.Kind) {
				st.Reads = []string{k("vent")} // other vents are asked other facts
			}
			zones, _ := g.s.roster(keyZones)
			for _, c := range factCodes(a) {
				if c == "!inside" && inHouse(zones, a.Zone) {
					continue
				}
				st.Items = append(st.Items, procedure.Item{Key: c, Code: c})
			}
			g.add(st)
		case "partners":
			st := base("partners", "list.partners", procedure.FormPick)
			for _, b := range g.appl {
				if b.ID != a.ID && b.Kind.Burns() {
					st.Items = append(st.Items, procedure.Item{Key: b.ID, Code: "appliance", Name: b.Name})
				}
			}
			st.Items = append(st.Items, procedure.Item{Key: otherHome, Code: otherHome})
			g.add(st)
		}
	}
}

// fired lists the appliances that the test lights, smallest input first (the
// published order: a large one would warm a common vent for a small one);
// one of unknown input comes last.
func (g *gen) fired(zone string) []procedure.Appliance {
	var out []procedure.Appliance
	for _, a := range g.appl {
		if (zone == "" || a.Zone == zone) && a.Fired() && a.Facts.Fireable != procedure.No {
			out = append(out, a)
		}
	}
	rank := func(a procedure.Appliance) (int, float64) {
		r := 1
		if a.Susceptible() != procedure.No {
			r = 0
		}
		in := a.Burner.Input
		if a.Burner.Unit == "kW" {
			in *= 3412.142
		}
		if in < 1000 {
			in = 0 // another unit than was meant
		}
		switch {
		case in != 0:
		case a.Kind == procedure.WaterHeater:
			in = 40000 // about what they have: not behind a furnace on its vent
		default:
			in = 1e12
		}
		return r, in
	}
	sort.SliceStable(out, func(i, j int) bool {
		ri, ii := rank(out[i])
		rj, ij := rank(out[j])
		if ri != rj {
			return ri < rj
		}
		return ii < ij
	})
	return out
}

// needsZone reports whether a zone has anything that house pressure can touch.
func (g *gen) needsZone(zone string) bool {
	for _, a := range g.appl {
		if a.Facts.InsideBoundary == procedure.No {
			continue // the house cannot pull on it
		}
		if a.Zone == zone && (a.Susceptible() != procedure.No || a.Venting() != procedure.Unvented && a.Venting() != procedure.VentUnknown && a.Fired()) {
			return true
		}
	}
	return false
}

// anyOf reports whether a fact of one of the stems was answered.
func (s *State) anyOf(stems ...string) bool {
	for k := range s.facts {
		if stem, _, _ := strings.Cut(k, "/"); slices.Contains(stems, stem) {
			return true
		}
	}
	return false
}

// firstZone is the first zone that is measured.
func (g *gen) firstZone() string {
	for _, z := range g.zones {
		if g.needsZone(z.ID) {
			return z.ID
		}
	}
	return ""
}

func (g *gen) measuring(id procedure.StageID) {
	switch id {
	case procedure.StageLook:
		g.look()
	case procedure.StagePrepare:
		g.prepare()
	}
}

func (g *gen) look() {
	g.lookHouse()
	g.lookAt(func(procedure.Appliance) bool { return true })
}

func (g *gen) lookHouse() {
	lookHouse := g.checklist("look/house", procedure.StageLook, "look.house", procedure.HouseLines)
	lookHouse.Cautions = []string{"fuel-smell"}
	if len(g.zones) > 0 {
		g.add(lookHouse)
	}
}

// lookAt asks the look at the appliances that are wanted.
func (g *gen) lookAt(wanted func(procedure.Appliance) bool) {
	for _, a := range g.appl {
		if g.leftOut(join("look", a.ID)) && g.leftOut(join("serviced", a.ID)) {
			continue
		}
		codes := procedure.LookLines(a)
		if len(codes) == 0 || !wanted(a) {
			continue
		}
		if g.s.keptOff(a.ID) {
			g.add(procedure.Step{ID: join("serviced", a.ID), Stage: procedure.StageLook, Ask: "look.serviced", Form: procedure.FormChoice, Choices: []string{"put-right", "not-yet"}, Subject: a.ID, Name: a.Name, Zone: a.Zone, Cautions: []string{"hot-vent"}})
		}
		st := g.checklist(join("look", a.ID), procedure.StageLook, "look.appliance", codes)
		st.Subject, st.Name, st.Zone, st.Cautions = a.ID, a.Name, a.Zone, []string{"hot-vent"}
		g.add(st)
	}
}

func (g *gen) prepare() {
	if len(g.zones) == 0 {
		return
	}
	st := g.checklist(keyPrepare, procedure.StagePrepare, "prepare.house", procedure.PrepareLines(g.fans, g.air))
	st.Cautions = []string{"before-pulling-down"}
	g.add(st)
	var items []procedure.Item
	for _, a := range g.fired("") {
		if a.Susceptible() != procedure.No {
			items = append(items, procedure.Item{Key: join("fired", a.ID), Code: "appliance", Name: a.Name})
		}
	}
	if len(items) > 0 {
		g.add(procedure.Step{ID: keyFired, Stage: procedure.StagePrepare, Ask: "prepare.fired", Form: procedure.FormNumbers, Unit: "min", Items: items})
	}
}
