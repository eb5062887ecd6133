package evaluation

import (
	"math"
	"slices"
	"sort"
	"strings"

	"cazward/procedure"
)

// touched are the appliances of a zone on which its pressure can act, and those
// that were tried in it, whatever was said of them later.
func (j *judge) touched(zone string) []procedure.Appliance {
	var out []procedure.Appliance
	for _, a := range j.o.Appliances {
		ao, zo := j.o.Of(a.ID), j.o.ZoneOf(zone)
		tried := ao != nil && (ao.Spill != nil || ao.Draft != nil || len(ao.FailedSpill)+len(ao.FailedDraft) > 0 || ao.FailedTogether > 0)
		pulled := zo != nil && zo.Worst != nil && a.Facts.InsideBoundary == procedure.No && a.Fired() && a.Susceptible() == procedure.No && outsideOnly(a)
		if a.Zone == zone && a.Kind.Burns() && (tried || pulled) {
			out = append(out, a)
			continue
		}
		if a.Zone == zone && fuelled(a) && a.Vent.Type != procedure.Unvented && a.Kind != procedure.GasDryer && !a.Kind.Cooking() &&
			a.Kind != procedure.UnventedHeater && a.Facts.InsideBoundary != procedure.No {
			out = append(out, a)
		}
	}
	return out
}

// outsideOnly reports whether house pressure could act on the appliance but for
// being said to stand outside the boundary.
func outsideOnly(a procedure.Appliance) bool {
	a.Facts.InsideBoundary = procedure.Unknown
	return a.Susceptible() != procedure.No
}

func (j *judge) gauge() *procedure.Instrument {
	for i := range j.o.Instruments {
		if j.o.Instruments[i].ID == "gauge" {
			return &j.o.Instruments[i]
		}
	}
	return nil
}

// net is one difference of a zone and its give-or-take.
type net struct {
	value, u   float64
	base, read *procedure.PressureObs
	pairs      int // off/on pairs that it rests on
}

// lower orders nets: the most negative first, between equals the less certain.
func (n net) lower(m net) bool { return n.value < m.value || n.value == m.value && n.u > m.u }

// nets are the differences of every reading of the zone against every
// baseline, and the net of repeated pairs where there are enough of them; bad:
// one of them is no number or of unknown certainty.
func (j *judge) nets(zo *procedure.ZoneObs) (singles []net, pairs *net, bad bool) {
	drift := 0.0
	for i := range zo.Baselines {
		for k := range zo.Baselines {
			// What is no number makes no drift; add refuses it below.
			if d := (procedure.MeanOf(zo.Baselines[i].Values) - procedure.MeanOf(zo.Baselines[k].Values)) / 2; finite(d) {
				drift = max(drift, d)
			}
		}
	}
	add := func(r, b *procedure.PressureObs) {
		v, u := procedure.MeanOf(r.Values)-procedure.MeanOf(b.Values), procedure.NetU(*r, *b, drift, j.gauge(), j.r.Uncertainty)
		if !finite(v, u) || u <= 0 { // it must not hide what the others show
			bad = true
			return
		}
		singles = append(singles, net{value: v, u: u, base: b, read: r})
	}
	for i := range zo.Baselines {
		if zo.Worst != nil {
			add(zo.Worst, &zo.Baselines[i])
		}
		for k := range zo.Readings {
			add(&zo.Readings[k], &zo.Baselines[i])
		}
	}
	if p := zo.Pairs; p != nil && finite(p.On...) && finite(p.Off...) {
		held := zo.Held != nil && sameSetup(p.Setup, *zo.Held) // elsewhere they settle nothing
		if v, u, ok := procedure.PairsNet(*p, j.gauge(), j.r.Uncertainty); ok && finite(v, u) && u > 0 && held {
			pairs = &net{value: v, u: u, pairs: len(p.On)}
		} else { // they settle nothing, but are readings all the same
			add(&procedure.PressureObs{N: p.N, Values: p.On}, &procedure.PressureObs{N: p.N, Values: p.Off})
		}
	}
	return singles, pairs, bad
}

// side of a zone against a limit: the worst of every difference, so that a
// lower reading never hides one that is less certain. Pairs settle what was
// too close in the set-up in which they were taken; they never erase a fail,
// and they count themselves.
func side(l procedure.Limit, singles []net, pairs *net, held *procedure.Setup) (procedure.Side, net) {
	worst, at, ps, settled := procedure.SideUnknown, net{}, procedure.SideUnknown, false
	if pairs != nil {
		ps = l.Bound.Side(pairs.value, pairs.u)
		worst, at = ps, *pairs
	}
	for _, n := range singles {
		s := l.Bound.Side(n.value, n.u)
		// Pairs that the reading contradicts by more than both leave open cure
		// nothing.
		agree := pairs != nil && math.Abs(pairs.value-n.value) <= pairs.u+n.u
		if s == procedure.SideTooClose && ps != procedure.SideUnknown && held != nil && agree && sameSetup(n.read.Setup, *held) {
			settled = true
			continue // the pairs say what this one could not
		}
		if s > worst || s == worst && n.lower(at) {
			worst, at = s, n
		}
	}
	if settled && worst == ps {
		at = *pairs
	}
	return worst, at
}

func (j *judge) zone(z procedure.Zone) {
	appl := j.touched(z.ID)
	zo := j.o.ZoneOf(z.ID)
	if len(appl) == 0 {
		if zo != nil && (zo.Worst != nil || len(zo.Readings) > 0) {
			// It was pulled down for something that nobody lists any more.
			j.miss("list/appliances", "not-ok", "")
		}
		return
	}
	if zo == nil {
		zo = &procedure.ZoneObs{Zone: z.ID}
	}
	j.configuration(z, zo, appl)
	if len(zo.Baselines) == 0 {
		j.miss("baseline/"+z.ID, "no-answer", "")
	}
	if zo.Worst == nil {
		j.miss("reading/"+z.ID+"/worst", "no-answer", "")
	}
	singles, pairs, bad := j.nets(zo)
	if bad {
		j.miss("reading/"+z.ID+"/worst", "not-a-number", "")
	}
	wc := procedure.WorstCase{Zone: z.Name}
	if wc.Zone == "" {
		wc.Zone = z.ID
	}
	if zo.Held != nil {
		wc.Config = j.names(*zo.Held)
	}
	show := func(n net) {
		wc.Net, wc.Uncertainty, wc.Pairs = ptr(n.value), ptr(n.u), n.pairs
		if n.pairs > 0 {
			wc.About = nonZero(append(wc.About, zo.Pairs.N)...)
			return
		}
		wc.Baseline, wc.Reading, wc.About = ptr(procedure.MeanOf(n.base.Values)), ptr(procedure.MeanOf(n.read.Values)), nonZero(n.base.N, n.read.N)
		if n.read.Step != "" && zo.Worst != nil && n.read.N != zo.Worst.N {
			wc.Config = j.names(n.read.Setup)
		}
	}
	if len(singles) > 0 {
		n := singles[0]
		for _, m := range singles[1:] {
			if m.lower(n) {
				n = m
			}
		}
		show(n)
	}
	if j.r.PressureSet {
		rows, unsure := j.zoneRows(appl)
		for i, l := range rows {
			s, n := side(l, singles, pairs, zo.Held)
			if i == 0 && n.pairs > 0 {
				show(n)
			}
			j.pressure(z, zo, l, s, n, unsure)
		}
	}
	j.worst = append(j.worst, wc)
}

// zoneRows are the strictest rows of the appliances, several where they tie.
func (j *judge) zoneRows(appl []procedure.Appliance) (rows []procedure.Limit, unsure []string) {
	for _, a := range appl {
		c := procedure.Match(j.r.Pressure, procedure.TraitsOf(a, j.o.Appliances))
		if !c.Found {
			if a.Kind.SolidFuel() {
				j.ruled("solid-fuel-no-row", "no-figure", a.ID, procedure.Refer, procedure.StatusNone, string(a.Kind))
			} else {
				j.ruled("no-row", "no-figure", a.ID, procedure.Incomplete, procedure.StatusNone, string(a.Kind))
				j.miss("row/"+a.ID, "no-figure", a.ID)
			}
			continue
		}
		for _, u := range c.Unsure {
			if !has(unsure, u) {
				unsure = append(unsure, u)
			}
		}
		if len(rows) > 0 && c.Limit.Bound.Value < rows[0].Bound.Value || slices.ContainsFunc(rows, func(l procedure.Limit) bool { return l.ID == c.Limit.ID }) {
			continue
		}
		if len(rows) > 0 && c.Limit.Bound.Value > rows[0].Bound.Value {
			rows = rows[:0]
		}
		rows = append(rows, c.Limit)
	}
	return rows, unsure
}

func (j *judge) pressure(z procedure.Zone, zo *procedure.ZoneObs, l procedure.Limit, s procedure.Side, n net, unsure []string) {
	f := procedure.Finding{Rule: "depressurization", Subject: z.ID, Severity: procedure.Incomplete, Limit: ptr(l.Bound.Value), Unit: l.Unit, Row: l.ID, Source: l.Source.String(), Evidence: l.Evidence, Unsure: unsure}
	if n.u > 0 {
		f.Value, f.Uncertainty, f.Margin = ptr(n.value), ptr(n.u), ptr(l.Bound.Margin(n.value))
		if n.pairs > 0 {
			f.About = nonZero(zo.Pairs.N)
		} else {
			f.About = nonZero(n.base.N, n.read.N)
		}
	}
	switch s {
	case procedure.SideInside:
		f.Verdict, f.Severity = procedure.Pass, procedure.Proceed
	case procedure.SideTooClose:
		f.Verdict, f.Severity, f.Action = procedure.TooClose, procedure.Hold, "net-too-close"
	case procedure.SideBeyond:
		f.Verdict, f.Severity, f.Action = procedure.Fail, procedure.Hold, "net-beyond"
	}
	if a, ok := j.r.ActionOf(f.Action); ok && f.Action != "" && a.Decision != procedure.NoDecision {
		f.Severity, f.Action = a.Decision, a.Action
	}
	j.add(f)
}

// configuration is complete only when every device of the inventory ran and
// every door, air handler and CAZ door was decided.
func (j *judge) configuration(z procedure.Zone, zo *procedure.ZoneObs, appl []procedure.Appliance) {
	gap := func(step, detail string) {
		j.ruled("configuration-incomplete", "configuration", z.ID, procedure.Incomplete, procedure.StatusNone, detail)
		j.miss(step, "configuration-incomplete", "")
		for _, a := range appl {
			j.lacking[a.ID] = true // worst case was never held
		}
	}
	worst := "setup/" + z.ID + "/worst"
	if zo.Held == nil {
		gap(worst, "not-held")
	} else {
		for _, f := range zo.Held.NotRun {
			gap(worst, f)
		}
		for _, f := range j.o.Fans {
			// A device of a kind that this version does not know is one that runs.
			runs := procedure.FanKind(f.Kind).RunsAtWorstCase() || !slices.Contains(procedure.FanKinds, procedure.FanKind(f.Kind))
			if runs && !has(zo.Held.Fans, f.ID) && !has(zo.Held.NotRun, f.ID) {
				gap(worst, f.ID)
			}
		}
		for _, a := range j.o.Appliances {
			// A walk under another scheme may not have had the stand-in.
			if a.Kind == procedure.Fireplace && j.standIn() && !(zo.Held.FlowCFM > 0) {
				gap("setup/"+z.ID+"/fireplace", a.ID)
			}
		}
		if w := zo.Worst; w != nil && (w.SetupN <= 0 || !sameSetup(w.Setup, *zo.Held)) {
			gap(worst, "not-held") // read in another set-up, or in one that nobody noted
		}
	}
	read := map[string]bool{}
	for _, r := range zo.Readings { // those in force stand before those made again
		for _, f := range r.Setup.NotRun {
			if part, search := strings.CutPrefix(r.Step, "reading/"); search && !read[r.Step] && !strings.HasPrefix(part, z.ID+"/more") { // on a suggestion nothing hangs
				gap("setup/"+part, f) // it was compared without that fan
			}
		}
		read[r.Step] = true
	}
	for _, x := range []struct {
		done         bool
		step, detail string
	}{{zo.DoorsDecided, "doors/", "doors"}, {zo.AirDecided, "airhandler/", "air-handler"}, {zo.CAZDecided, "cazdoor/", "caz-door"}} {
		if !x.done {
			gap(x.step+z.ID, x.detail)
		}
	}
	for _, b := range zo.Baselines {
		if len(b.Setup.Fans) > 0 || len(b.Setup.AirHandler) > 0 || b.Setup.FlowCFM > 0 {
			j.miss("baseline/"+z.ID, "configuration-incomplete", "") // not a house at rest
		}
	}
	if has(j.unasked, "doors/"+z.ID) {
		j.miss("doors/"+z.ID, "not-asked", "")
	}
	own := 0 // opening and closing; those read again after a stop replace neither
	for _, b := range zo.Baselines {
		if !strings.Contains(b.Step, "/again/") {
			own++
		}
	}
	if j.o.Plan.Baseline.Closing && len(zo.Baselines) > 0 && own < 2 {
		j.miss("baseline/"+z.ID+"/closing", "no-answer", "")
	}
}

// standIn reports whether the scheme asks for a flow that stands in for a lit
// fireplace.
func (j *judge) standIn() bool {
	_, asked := j.r.ActionOf("fireplace-stand-in")
	return asked
}

// sameSetup reports whether two set-ups run and close the same things.
func sameSetup(a, b procedure.Setup) bool {
	same := func(x, y []string) bool {
		x, y = slices.Clone(x), slices.Clone(y)
		sort.Strings(x)
		sort.Strings(y)
		return slices.Equal(x, y)
	}
	return same(a.Fans, b.Fans) && same(a.Doors, b.Doors) && same(a.AirHandler, b.AirHandler) && a.CAZDoor == b.CAZDoor && a.FlowCFM == b.FlowCFM
}

// names of a set-up, as a person would set it up again.
func (j *judge) names(su procedure.Setup) procedure.Configuration {
	name := func(list []procedure.RosterItem, ids []string) []string {
		out := []string{}
		for _, id := range ids {
			n := id
			for _, it := range list {
				if it.ID == id && it.Name != "" {
					n = it.Name
				}
			}
			out = append(out, n)
		}
		return out
	}
	c := procedure.Configuration{Fans: name(j.o.Fans, su.Fans), Doors: name(j.o.Doors, su.Doors), CAZDoor: su.CAZDoor, AirHandler: "off"}
	if len(su.AirHandler) > 0 {
		c.AirHandler = "on"
		if len(j.o.AirHandlers) > 1 {
			c.AirHandler = strings.Join(name(j.o.AirHandlers, su.AirHandler), ", ")
		}
	}
	return c
}
