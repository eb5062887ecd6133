package evaluation

import (
	"math"
	"slices"
	"sort"

	"cazward/procedure"
)

// net is the most negative difference of a zone and its give-or-take.
type net struct {
	value, u  float64
	base      procedure.PressureObs
	read      procedure.PressureObs
	ok        bool
	pairs     int
	fromPairs bool
	bad       bool // a reading that is no number, or of unknown uncertainty
}

// singles is the net from readings and baselines: the most negative
// difference of any reading against any baseline.
func (j *judge) singles(zo *procedure.ZoneObs) net {
	var n net
	if len(zo.Baselines) == 0 {
		return n
	}
	drift := 0.0
	for _, a := range zo.Baselines {
		for _, b := range zo.Baselines {
			if d := math.Abs(procedure.MeanOf(a.Values)-procedure.MeanOf(b.Values)) / 2; d > drift {
				drift = d
			}
		}
	}
	list := zo.Readings
	if zo.Worst != nil {
		list = append([]procedure.PressureObs{*zo.Worst}, list...)
	}
	for _, r := range list {
		for _, b := range zo.Baselines {
			v := procedure.MeanOf(r.Values) - procedure.MeanOf(b.Values)
			u := procedure.NetU(r, b, drift, j.gauge(), j.r.Uncertainty)
			if !finite(v, u) || u <= 0 { // it must not hide what the others show
				n.bad = true
				continue
			}
			// The most negative difference; between equals the less certain.
			if !n.ok || v < n.value || v == n.value && u > n.u {
				n = net{value: v, u: u, base: b, read: r, ok: true, bad: n.bad}
			}
		}
	}
	return n
}

func (j *judge) zone(z procedure.Zone) {
	appl := j.touched(z.ID)
	if len(appl) == 0 {
		return
	}
	zo := j.o.ZoneOf(z.ID)
	if zo == nil {
		zo = &procedure.ZoneObs{Zone: z.ID}
	}
	j.configuration(z, zo)
	if len(zo.Baselines) == 0 {
		j.miss("baseline/"+z.ID, "no-answer", "")
	}
	if zo.Worst == nil {
		j.miss("reading/"+z.ID+"/worst", "no-answer", "")
	}
	n := j.singles(zo)
	pv, pu, pok := 0.0, 0.0, false
	if zo.Pairs != nil && finite(append(append([]float64{}, zo.Pairs.On...), zo.Pairs.Off...)...) {
		pv, pu, pok = procedure.PairsNet(*zo.Pairs, j.gauge(), j.r.Uncertainty)
	}
	wc := procedure.WorstCase{Zone: z.Name}
	if wc.Zone == "" {
		wc.Zone = z.ID
	}
	if zo.Held != nil {
		wc.Config = j.names(*zo.Held)
	}
	if n.ok {
		wc.Baseline, wc.Reading, wc.Net, wc.Uncertainty = ptr(procedure.MeanOf(n.base.Values)), ptr(procedure.MeanOf(n.read.Values)), ptr(n.value), ptr(n.u)
		wc.About = nonZero([]int{n.base.N, n.read.N})
		if n.read.Step != "" && zo.Worst != nil && n.read.N != zo.Worst.N {
			wc.Config = j.names(n.read.Setup)
		}
	}
	if n.bad {
		j.miss("reading/"+z.ID+"/worst", "not-a-number", "")
	}
	if !j.r.PressureSet {
		j.worst = append(j.worst, wc)
		return
	}
	// The strictest row of the zone's appliances; ties keep all.
	var rows []procedure.Limit
	var unsure []string
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
		unsure = append(unsure, c.Unsure...)
		if len(rows) > 0 && c.Limit.Bound.Value < rows[0].Bound.Value {
			continue
		}
		if len(rows) > 0 && c.Limit.Bound.Value > rows[0].Bound.Value {
			rows = rows[:0]
		}
		rows = append(rows, c.Limit)
	}
	if len(rows) == 0 || !n.ok {
		if len(rows) > 0 {
			j.add(j.pressure(z, rows[0], procedure.NotEvaluated, n, unsure))
		}
		j.worst = append(j.worst, wc)
		return
	}
	for i, l := range rows {
		if i > 0 && l.ID == rows[0].ID {
			continue
		}
		side := l.Bound.Side(n.value, n.u)
		use := n
		if pok {
			ps := l.Bound.Side(pv, pu)
			switch {
			case ps == procedure.SideBeyond && side != procedure.SideBeyond:
				use, side = net{value: pv, u: pu, base: n.base, read: n.read, ok: true, pairs: len(zo.Pairs.On), fromPairs: true}, ps
			case side == procedure.SideTooClose && ps != procedure.SideUnknown && zo.Held != nil && sameSetup(n.read.Setup, *zo.Held):
				// Pairs settle what was too close in the set-up in which they
				// were taken; they never erase a fail.
				use, side = net{value: pv, u: pu, base: n.base, read: n.read, ok: true, pairs: len(zo.Pairs.On), fromPairs: true}, ps
			}
		}
		v := procedure.NotEvaluated
		switch side {
		case procedure.SideInside:
			v = procedure.Pass
		case procedure.SideTooClose:
			v = procedure.TooClose
		case procedure.SideBeyond:
			v = procedure.Fail
		}
		if use.fromPairs && i == 0 {
			wc.Net, wc.Uncertainty, wc.Pairs = ptr(use.value), ptr(use.u), use.pairs
			wc.About = nonZero(append(wc.About, zo.Pairs.N))
		}
		j.add(j.pressure(z, l, v, use, unsure))
	}
	j.worst = append(j.worst, wc)
}

func (j *judge) pressure(z procedure.Zone, l procedure.Limit, v procedure.Verdict, n net, unsure []string) procedure.Finding {
	f := procedure.Finding{Rule: "depressurization", Subject: z.ID, Verdict: v, Limit: ptr(l.Bound.Value), Unit: l.Unit, Row: l.ID, Source: l.Source.String(), Evidence: l.Evidence, Unsure: unsure}
	if n.ok {
		f.Value, f.Uncertainty, f.Margin = ptr(n.value), ptr(n.u), ptr(l.Bound.Margin(n.value))
		f.About = nonZero([]int{n.base.N, n.read.N})
	}
	code := ""
	switch v {
	case procedure.Pass:
		f.Severity = procedure.Proceed
		return f
	case procedure.Fail:
		code = "net-beyond"
	case procedure.TooClose:
		code = "net-too-close"
	default:
		f.Severity = procedure.Incomplete
		return f
	}
	f.Severity, f.Action = procedure.Hold, code
	if a, ok := j.r.ActionOf(code); ok {
		f.Severity, f.Action = a.Decision, a.Action
	}
	return f
}

// configuration is complete only when every device of the inventory ran and
// every door, air handler and CAZ door was decided.
func (j *judge) configuration(z procedure.Zone, zo *procedure.ZoneObs) {
	gap := func(step, detail string) {
		j.ruled("configuration-incomplete", "configuration", z.ID, procedure.Incomplete, procedure.StatusNone, detail)
		j.miss(step, "configuration-incomplete", "")
		for _, a := range j.touched(z.ID) {
			j.lacking[a.ID] = true // worst case was never held
		}
	}
	if zo.Held == nil {
		gap("setup/"+z.ID+"/worst", "not-held")
	} else {
		on, idle := map[string]bool{}, append([]string{}, zo.Held.NotRun...)
		for _, f := range zo.Held.Fans {
			on[f] = true
		}
		for _, f := range zo.Held.NotRun {
			on[f] = true // named below
		}
		for _, f := range j.o.Fans {
			if procedure.FanKind(f.Kind).RunsAtWorstCase() && !on[f.ID] {
				idle = append(idle, f.ID)
			}
		}
		for _, f := range idle {
			gap("setup/"+z.ID+"/worst", f)
		}
		// A flow that stands in for the lit fireplace: a walk under another
		// scheme may not have had it.
		if _, asked := j.r.ActionOf("fireplace-stand-in"); asked && !(zo.Held.FlowCFM > 0) {
			for _, a := range j.o.Appliances {
				if a.Kind == procedure.Fireplace {
					gap("setup/"+z.ID+"/fireplace", a.ID)
				}
			}
		}
	}
	if !zo.DoorsDecided {
		gap("doors/"+z.ID, "doors")
	}
	if !zo.AirDecided {
		gap("airhandler/"+z.ID, "air-handler")
	}
	if !zo.CAZDecided {
		gap("cazdoor/"+z.ID, "caz-door")
	}
	if j.o.Plan.Baseline.Closing && len(zo.Baselines) == 1 {
		j.miss("baseline/"+z.ID+"/closing", "no-answer", "")
	}
}

// sameSetup reports whether two set-ups run and close the same things.
func sameSetup(a, b procedure.Setup) bool {
	same := func(x, y []string) bool {
		x, y = append([]string{}, x...), append([]string{}, y...)
		sort.Strings(x)
		sort.Strings(y)
		return slices.Equal(x, y)
	}
	return same(a.Fans, b.Fans) && same(a.Doors, b.Doors) && same(a.AirHandler, b.AirHandler) && a.CAZDoor == b.CAZDoor && a.FlowCFM == b.FlowCFM
}

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
			c.AirHandler = ""
			for i, n := range name(j.o.AirHandlers, su.AirHandler) {
				if i > 0 {
					c.AirHandler += ", "
				}
				c.AirHandler += n
			}
		}
	}
	return c
}
