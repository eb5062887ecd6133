package sequence

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

func trim(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func toPa(v float64, unit string) (float64, bool) {
	pa, err := reading.Convert(v, reading.Unit(unit), reading.UnitPa)
	return pa, err == nil && !math.IsNaN(pa)
}

// Observations gathers what the record shows, as far as present facts hold.
func (s *State) Observations() procedure.Observations {
	o := procedure.Observations{Record: s.header.Record, HomeID: s.header.Home, Phase: s.header.Phase, Practice: s.header.Practice != nil, Plan: s.plan,
		Zones: s.Zones(), Appliances: s.Appliances(), Told: append([]procedure.Told{}, s.told...), Notes: append([]string{}, s.notes...)}
	o.Fans, o.FansKnown = s.roster(keyFans)
	o.Doors, o.DoorsKnown = s.roster(keyDoors)
	o.AirHandlers, o.AirKnown = s.roster(keyAir)
	_, o.BurnersKnown = s.roster(keyAppliances)
	for key, to := range map[string]**float64{keyCFM50: &o.CFM50, keySealTo: &o.SealTo} {
		if a := s.answer(key); a != nil && a.Number != nil && a.Number.Value != nil {
			v := *a.Number.Value
			*to = &v
		}
	}
	o.Gone = s.gone("still-here")
	for _, id := range s.gone("") {
		if !slices.Contains(o.Gone, id) {
			o.TakenAway = append(o.TakenAway, id)
		}
	}
	o.Home = procedure.HomeKind(s.choice(keyHome))
	for i, w := range s.weathers() {
		if w := w; i == 0 && s.Has(keyWeather) {
			o.Weather = &w
		} else {
			o.Later = append(o.Later, w)
		}
	}
	for _, id := range []string{"gauge", "analyser"} {
		if i := s.Instrument(id); i != nil {
			o.Instruments = append(o.Instruments, *i)
		}
	}
	if a := s.answer(keyTester); a != nil {
		o.Tester = a.Text
	}
	s.observeChecks(&o)
	for _, h := range s.hazards {
		ho := procedure.HazardObs{N: h.n, Hazard: h.h}
		src := s.choice(join("source", itoa(h.n)))
		if src == "" { // an earlier hazard of the same place shares the answer to a later one
			for _, g := range s.hazards {
				if g.n > h.n && g.h.Code == h.h.Code && g.h.Where == h.h.Where && s.choice(join("source", itoa(g.n))) != "" {
					src = s.choice(join("source", itoa(g.n)))
					ho.Settled = settledTri(s.choice(join("settled", itoa(g.n))))
				}
			}
		} else {
			ho.Settled = settledTri(s.choice(join("settled", itoa(h.n))))
		}
		ho.Source = src
		o.Hazards = append(o.Hazards, ho)
	}
	g := s.generator()
	for _, z := range o.Zones {
		o.ZoneObs = append(o.ZoneObs, s.observeZone(g, z))
	}
	for _, a := range o.Appliances {
		o.ApplObs = append(o.ApplObs, s.observeAppliance(a))
	}
	for _, id := range s.dorder {
		d := s.doubts[id]
		if f, ok := s.facts[d.key]; ok && f.n != d.ver {
			continue // the reading was taken again: the doubt was about another
		}
		if d.d.Settled == "retake" {
			continue // the reading is stale and named in Open
		}
		d.pres = d.pres && (d.key != keyWeather || s.pullsDown())
		o.Doubts = append(o.Doubts, procedure.DoubtObs{N: d.n, Doubt: d.d, OnPressure: d.pres, Zone: d.zone, Step: d.key})
	}
	for _, st := range s.Signs() { // signs on which nobody was asked yet
		o.Doubts = append(o.Doubts, procedure.DoubtObs{Doubt: procedure.Doubt{Code: procedure.DoubtCode(st.Args["doubt"]), About: st.About}, OnPressure: isPressureKey(st.Args["key"]), Zone: s.zoneOfKey(st.Args["key"]), Step: st.Args["key"]})
	}
	s.observeOpen(&o)
	return o
}

// pullsDown reports whether any pressure is read in this home: without, wind
// spoils nothing.
func (s *State) pullsDown() bool {
	if _, known := s.roster(keyAppliances); !known {
		return true
	}
	g := s.generator()
	for _, a := range g.appl {
		if g.needsZone(a.Zone) {
			return true
		}
	}
	return false
}

func settledTri(c string) procedure.Tri {
	switch c {
	case "stopped":
		return procedure.Yes
	case "still-there":
		return procedure.No
	}
	return procedure.Unknown
}

func (s *State) observeChecks(o *procedure.Observations) {
	for _, k := range s.order {
		a := s.answer(k)
		f := s.fact(k)
		if a == nil {
			continue
		}
		parts := strings.Split(k, "/")
		if a.Seen != nil && (len(parts) == 3 || parts[0] == "resume" && len(parts) == 4) {
			c := procedure.Check{Key: k, Code: parts[len(parts)-1], State: a.Seen.State, Text: a.Seen.Text, N: f.n}
			switch parts[0] {
			case "resume":
				c.Stage = procedure.StagePrepare
			case "arrive":
				c.Stage = procedure.StageArrive
			case "look":
				c.Stage = procedure.StageLook
				if parts[1] != "house" {
					c.Subject = parts[1]
				}
			case "prepare":
				c.Stage = procedure.StagePrepare
			case "hose":
				c.Stage, c.Subject = procedure.StageHose, parts[1]
			case "flame":
				c.Stage, c.Subject = procedure.StageAppliances, parts[1]
			case "putback":
				c.Stage = procedure.StagePutBack
			case "cooled":
				c.Stage, c.Subject = procedure.StageNatural, parts[1]
			default:
				continue
			}
			o.Checks = append(o.Checks, c)
		}
		if a.Gas != nil && k == keyLEL {
			for _, v := range a.Gas.CO {
				o.LEL = append(o.LEL, procedure.AmbientObs{N: f.n, Step: k, Value: v, OverRange: a.Gas.OverRange, At: f.at})
			}
			if len(a.Gas.CO) == 0 {
				o.LEL = append(o.LEL, procedure.AmbientObs{N: f.n, Step: k, OverRange: a.Gas.OverRange, At: f.at})
			}
		}
		if a.Gas != nil && (k == keyAmbient || k == "putback/ambient" || parts[0] == "ambient" || parts[0] == "resume") {
			for _, v := range a.Gas.CO {
				o.Ambient = append(o.Ambient, procedure.AmbientObs{N: f.n, Step: k, Value: v, OverRange: a.Gas.OverRange, At: f.at})
			}
			if len(a.Gas.CO) == 0 && a.Gas.OverRange {
				o.Ambient = append(o.Ambient, procedure.AmbientObs{N: f.n, Step: k, OverRange: true, At: f.at})
			}
		}
	}
}

func (s *State) observeZone(g *gen, z procedure.Zone) procedure.ZoneObs {
	zo := procedure.ZoneObs{Zone: z.ID, Baselines: s.baselines(z.ID)}
	wk := join("setup", z.ID, "worst")
	if s.Has(wk) {
		if su, ok := s.fact(wk).data.(*procedure.Setup); ok && sameSetup(*su, g.worst(z)) {
			c := su.Clone()
			zo.Held = &c
		}
	}
	for _, k := range s.order {
		p := strings.Split(k, "/")
		isReading := p[0] == "reading" && len(p) > 2 && p[1] == z.ID
		if p[0] == "held" && len(p) > 1 {
			for _, a := range g.appl {
				isReading = isReading || a.ID == p[1] && a.Zone == z.ID
			}
		}
		if !isReading {
			continue
		}
		if r := s.pressureObs(k); r != nil {
			zo.Readings = append(zo.Readings, *r)
			if k == join("reading", z.ID, "worst") {
				c := *r
				zo.Worst = &c
			}
		}
	}
	for _, w := range s.wasOf(func(k string) bool {
		p := strings.Split(k, "/")
		return p[0] == "reading" && p[1] == z.ID || p[0] == "held" && slices.ContainsFunc(g.appl, func(a procedure.Appliance) bool { return a.ID == p[1] && a.Zone == z.ID })
	}) { // the zone was pulled that low, whatever its list says since
		if r := s.pressureOf(w.key, w.f); r != nil {
			zo.Readings = append(zo.Readings, *r)
		}
	}
	zo.Pairs = s.pairsObs(join("pairs", z.ID))
	zo.DoorsDecided, zo.AirDecided, zo.CAZDecided = g.decided(z)
	if _, ok := g.worstBefore(z); ok {
		zo.AsBefore, zo.DoorsDecided, zo.AirDecided, zo.CAZDecided = true, true, true, true
	}
	return zo
}

// Worst is the set-up that a zone was held in and its net, pascals, for the next
// phase to hold as well; false where it was not held, or a reading in another
// set-up was clearly lower.
func (s *State) Worst(zone string) (procedure.Setup, float64, bool) {
	o := s.Observations()
	zo := o.ZoneOf(zone)
	net, _, ok := s.Net(zone)
	if !ok || zo == nil || zo.Held == nil || zo.Worst == nil || slices.ContainsFunc(o.Doubts, func(d procedure.DoubtObs) bool {
		return d.Doubt.Code == procedure.DoubtNotHeld && d.Zone == zone
	}) {
		return procedure.Setup{}, 0, false
	}
	return zo.Held.Clone(), net, true
}

// decided reports whether inside doors, air handlers and CAZ door were each
// decided for a zone.
func (g *gen) decided(z procedure.Zone) (doors, air, caz bool) {
	s := g.s
	_, air = s.roster(keyAir)
	for i := range g.airSets() {
		air = air && s.Has(join("reading", z.ID, "air"+itoa(i+1)))
	}
	caz = z.Door == procedure.No || z.Door == procedure.Yes && (!g.readsDoor(z) || s.Has(join("reading", z.ID, "cazdoor")))
	for _, c := range g.crossed(z) {
		caz = caz && s.Has(join("reading", z.ID, c.name))
	}
	return g.decidedDoors(z), air, caz
}

func (g *gen) decidedDoors(z procedure.Zone) bool {
	if _, known := g.s.roster(keyDoors); !known {
		return false
	}
	if len(g.doors) == 0 || g.s.plan.Doors == "close-all" {
		return true
	}
	for _, round := range rounds {
		su, ok := g.roundIn(z, round)
		if !ok {
			continue
		}
		if !g.tableDone(z, round, su) {
			return false
		}
		for _, d := range g.doors {
			if g.s.choice(join(round, z.ID, d.ID)) == "" {
				return false
			}
		}
	}
	return true
}

func (s *State) observeAppliance(a procedure.Appliance) procedure.ApplianceObs {
	minutes, _ := s.minutesSince(a.ID)
	ao := procedure.ApplianceObs{ID: a.ID, MinutesSince: minutes, NotFired: s.shut(a.ID)}
	spill := func(key string, cold procedure.Tri) *procedure.SpillObs {
		x := s.answer(key)
		if x == nil || x.Spill == nil {
			return nil
		}
		n := s.fact(join("setup", a.Zone, "worst")).n
		if w := s.pressureObs(join("reading", a.Zone, "worst")); w != nil {
			n = w.SetupN // the same set-up, as its reading has it
		}
		return &procedure.SpillObs{N: s.fact(key).n, Outcome: x.Spill.Outcome, Seconds: x.Spill.Seconds, Cold: cold, Timed: x.Spill.Timed, SetupN: n}
	}
	ao.Spill = spill(join("spill", a.ID), s.cold(a.ID))
	ao.SpillNatural = spill(join("spill", a.ID, "natural"), coldIf(s.seen(join("cooled", a.ID, "vent-cooled"))))
	switch s.seen(join("together", a.ID)) {
	case procedure.SeenOK:
		ao.Together = procedure.Yes
	case procedure.SeenWrong:
		ao.Together = procedure.No
	}
	ao.TogetherN = s.fact(join("together", a.ID)).n
	ao.Draft = s.pressureObs(join("draft", a.ID))
	ao.DraftNatural = s.pressureObs(join("draft", a.ID, "natural"))
	if b := s.answer(join("breech", a.ID)); b != nil && b.Number != nil {
		ao.BreechKnown = procedure.No
		if pa, ok := s.breech(a.ID); ok {
			ao.BreechPa, ao.BreechKnown = &pa, procedure.Yes
		}
	}
	if x := s.answer(join("co", a.ID)); x != nil && x.Gas != nil {
		g := gasObs(s.fact(join("co", a.ID)).n, x.Gas)
		ao.CO = &g
	}
	spillKey, draftKey, togetherKey := join("spill", a.ID), join("draft", a.ID), join("together", a.ID)
	for _, w := range s.wasOf(func(k string) bool { return k == spillKey || k == draftKey || k == togetherKey }) {
		x, ok := w.f.data.(*procedure.Answer)
		switch {
		case !ok:
		case x.Spill != nil:
			ao.FailedSpill = append(ao.FailedSpill, procedure.SpillObs{N: w.f.n, Outcome: x.Spill.Outcome, Seconds: x.Spill.Seconds, Cold: w.f.cold, Timed: x.Spill.Timed})
		case x.Pressure != nil:
			if p := s.pressureOf(w.key, w.f); p != nil {
				ao.FailedDraft = append(ao.FailedDraft, *p)
			}
		case x.Seen != nil && x.Seen.State == procedure.SeenWrong:
			ao.FailedTogether = w.f.n
		}
	}
	if late := s.late[join("spill", a.ID)]; late > 0 { // marked past its limit, and no time given since
		ao.FailedSpill = append(ao.FailedSpill, procedure.SpillObs{Outcome: procedure.SpillStill, Seconds: late, Timed: true})
	}
	ao.Earlier = slices.Clone(s.earlier[a.ID])
	if f, ok := s.facts[join("co", a.ID)]; ok && s.stale(join("co", a.ID)) {
		if x, ok := f.data.(*procedure.Answer); ok && x.Gas != nil {
			ao.Earlier = append(ao.Earlier, gasObs(f.n, x.Gas))
		}
	}
	if g, ok := s.grave[a.ID]; ok {
		ao.Emergency = &g
	}
	ao.Prior, ao.Serviced = s.prior(a.ID), serviced(s.choice(join("serviced", a.ID)))
	return ao
}

func gasObs(n int, g *procedure.Gas) procedure.GasObs {
	return procedure.GasObs{N: n, CO: g.CO, O2: g.O2, OverRange: g.OverRange, Rising: g.Rising}
}

// prior is the status that an earlier phase gave an appliance.
func (s *State) prior(id string) procedure.Status {
	a, _ := s.carried(join("status", id))
	return procedure.Status(a.Choice)
}

// carried is what the earlier phase knew under a key.
func (s *State) carried(key string) (procedure.Answer, bool) {
	if a := s.answer(KeyCarried); a != nil {
		for _, c := range a.Carried {
			if c.Step == key {
				return c.Answer, true
			}
		}
	}
	return procedure.Answer{}, false
}

// gone are the appliances that an earlier phase shut off and that this one does
// not list, of which the answer is not that they were taken away.
func (s *State) gone(open string) []string {
	a := s.answer(KeyCarried)
	if _, known := s.roster(keyAppliances); a == nil || !known {
		return nil
	}
	var out []string
	for _, c := range a.Carried {
		id, status := strings.CutPrefix(c.Step, "status/")
		if !status || !s.keptOff(id) || slices.ContainsFunc(s.appliances(), func(x procedure.Appliance) bool { return x.ID == id }) {
			continue
		}
		if open == "" || s.choice(join("gone", id)) != "taken-away" {
			out = append(out, id)
		}
	}
	return out
}

// keptOff reports whether an earlier phase shut an appliance off, so that it
// must have been put right before it burns again.
func (s *State) keptOff(id string) bool {
	p := s.prior(id)
	return p != procedure.StatusNone && p != procedure.MayRun && p != procedure.MayRunNoFans
}

func serviced(c string) procedure.Tri {
	switch c {
	case "put-right":
		return procedure.Yes
	case "not-yet":
		return procedure.No
	}
	return procedure.Unknown
}

func coldIf(st procedure.SeenState) procedure.Tri {
	switch st {
	case procedure.SeenOK:
		return procedure.Yes
	case procedure.SeenWrong:
		return procedure.No
	}
	return procedure.Unknown
}

// observeOpen lists required steps without an answer, with why.
func (s *State) observeOpen(o *procedure.Observations) {
	g := s.generator()
	g.full = true
	g.all()
	seen := map[string]bool{}
	for _, st := range g.out {
		if st.Stage == procedure.StageDecide || st.Form == procedure.FormConfirm || st.Form == procedure.FormCarried || st.Form == procedure.FormTold || strings.HasPrefix(st.Ask, "more.") || seen[st.ID] {
			continue
		}
		why := ""
		for _, k := range st.Keys() {
			f, ok := s.facts[k]
			switch {
			case !ok:
				why = "no-answer"
			case s.stale(k):
				why = "stale"
			case f.kind == procedure.KindSkip:
				sk := f.data.(*procedure.Skip)
				o.Skips = append(o.Skips, procedure.SkipObs{N: f.n, Step: st.ID, Skip: *sk, Wanted: st.Wanted})
				why = "skipped-" + string(sk.Reason)
			}
			if why != "" {
				break
			}
		}
		if why == "" && (st.Form == procedure.FormSetup || st.Form == procedure.FormTable) && s.unmet(st) {
			why = "stale"
		}
		if why == "" || st.Wanted {
			continue
		}
		seen[st.ID] = true
		o.Open = append(o.Open, procedure.Missing{Step: st.ID, Why: why})
	}
}
