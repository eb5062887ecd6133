package evaluation

import (
	"math"
	"slices"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// asks reports whether the stage is required: each is, but for the look at
// vents, which the plan of a daily test may leave out.
func (j *judge) asks(id procedure.StageID) bool {
	if id != procedure.StageLook || j.o.Phase != procedure.Daily || len(j.o.Plan.Stages) == 0 {
		return true
	}
	return slices.ContainsFunc(j.o.Plan.Stages, func(s procedure.Stage) bool { return s.ID == id })
}

func (j *judge) burns() bool { return slices.ContainsFunc(j.o.Appliances, fuelled) }

// inventory of what the result rests on.
func (j *judge) inventory() {
	if len(j.o.Plan.Stages) == 0 || j.r.Scheme.Name == "" {
		j.miss("plan", "no-scheme", "")
	}
	if len(j.o.Ambient) == 0 {
		j.miss("arrive/ambient", "no-answer", "")
	}
	if len(j.o.LEL) == 0 {
		j.miss("arrive/lel", "no-answer", "")
	}
	if !j.o.BurnersKnown {
		j.miss("list/appliances", "no-answer", "")
		return
	}
	tank, boiler := false, false
	for _, a := range j.o.Appliances {
		tank, boiler = tank || a.Kind == procedure.IndirectTank, boiler || a.Kind == procedure.Boiler
	}
	if tank && !boiler {
		j.miss("list/appliances", "not-ok", "") // what heats the tank was not listed
	}
	for i := range j.o.ApplObs { // tested, and then not on the list; or twice
		if ao := &j.o.ApplObs[i]; j.o.Of(ao.ID) != ao || !slices.ContainsFunc(j.o.Appliances, func(a procedure.Appliance) bool { return a.ID == ao.ID }) {
			j.miss("list/appliances", "not-ok", "")
		}
	}
	for i := range j.o.ZoneObs {
		if zo := &j.o.ZoneObs[i]; j.o.ZoneOf(zo.Zone) != zo || !j.zoneListed(zo.Zone) {
			j.miss("list/zones", "not-ok", "")
		}
	}
	for _, a := range j.o.Appliances {
		if !a.Listed || !j.understood(a) {
			j.miss("appliance/"+a.ID, "no-answer", a.ID)
		}
		if !fuelled(a) {
			continue // it stands in no zone that is tested
		}
		if a.Zone == "" {
			j.miss("appliance/"+a.ID+"/zone", "no-answer", a.ID)
		} else if !j.zoneListed(a.Zone) {
			j.miss("list/zones", "no-answer", a.ID)
		}
	}
	for _, id := range j.o.Gone { // shut off by an earlier phase, and not accounted for
		j.miss("gone/"+id, "not-ok", "")
	}
	for _, a := range j.o.Appliances { // lists that contradict each other
		if a.Fired() && fuelled(a) && slices.ContainsFunc(j.o.Appliances, func(p procedure.Appliance) bool { return p.Kind.SolidFuel() && has(a.Partners, p.ID) }) {
			j.ruled("solid-fuel-flue", "inventory", a.ID, procedure.Refer, procedure.StatusNone, "solid-fuel-flue")
		}
		if a.HasBlower() && fuelled(a) && j.o.AirKnown && len(j.o.AirHandlers) == 0 {
			j.miss("list/airhandlers", "not-ok", "")
		}
		if a.Kind == procedure.GasDryer && j.o.FansKnown && !slices.ContainsFunc(j.o.Fans, func(f procedure.RosterItem) bool { return f.Kind == string(procedure.Dryer) }) {
			j.miss("list/fans", "not-ok", "")
		}
	}
	if !slices.Contains(procedure.HomeKinds, j.o.Home) {
		j.miss("list/home", "no-answer", "")
	}
	if !j.burns() {
		return // all-electric: nothing is pulled down
	}
	for _, x := range []struct {
		known bool
		step  string
	}{{len(j.o.Zones) > 0, "list/zones"}, {j.o.FansKnown, "list/fans"}, {j.o.DoorsKnown, "list/doors"}, {j.o.AirKnown, "list/airhandlers"}, {j.o.Weather != nil, "arrive/weather"}} {
		if !x.known {
			j.miss(x.step, "no-answer", "")
		}
	}
}

func (j *judge) zoneListed(id string) bool {
	return slices.ContainsFunc(j.o.Zones, func(z procedure.Zone) bool { return z.ID == id })
}

// understood reports whether kind, fuel and vent are words of this version; a
// vent may also be not known, which has its rules.
func (j *judge) understood(a procedure.Appliance) bool {
	fuel := slices.Contains(procedure.Fuels, a.Burner.Fuel) || !fuelled(a) || a.Kind.SolidFuel() || a.Burner.Fuel == procedure.Wood || a.Burner.Fuel == procedure.Pellets
	return slices.Contains(procedure.ApplianceKinds, a.Kind) && fuel && (a.Vent.Type == procedure.VentUnknown || slices.Contains(procedure.VentTypes, a.Vent.Type))
}

// numbers: a figure that is none is missing, wherever it stands.
func (j *judge) numbers() {
	bad := func(step, appliance string, v ...float64) {
		if len(v) > 0 && !finite(v...) {
			j.miss(step, "not-a-number", appliance)
		}
	}
	pressure := func(step, appliance string, p *procedure.PressureObs) {
		if p == nil {
			return
		}
		if len(p.Values) == 0 {
			j.miss(step, "not-a-number", appliance)
		}
		bad(step, appliance, p.Values...)
		bad(step, appliance, p.AveragingS, math.Sqrt(p.SE), math.Sqrt(p.EffectiveN), p.Setup.FlowCFM) // no scatter is below 0
	}
	at := func(v *float64) float64 {
		if v == nil {
			return 0
		}
		return *v
	}
	for _, w := range j.weathers() {
		bad("arrive/weather", "", w.Wind, w.Temp)
	}
	for _, l := range append(slices.Clone(j.o.LEL), j.o.Ambient...) {
		bad(l.Step, "", l.Value)
	}
	for _, i := range j.o.Instruments {
		bad("arrive/"+i.ID, "", i.Resolution, i.AccuracyPa, i.AccuracyPct)
	}
	for _, a := range j.o.Appliances {
		bad("appliance/"+a.ID, a.ID, a.Burner.Input)
	}
	for _, z := range j.o.Zones {
		bad("list/zones", "", z.Volume)
	}
	for _, z := range j.o.ZoneObs {
		for i := range z.Baselines {
			pressure("baseline/"+z.Zone, "", &z.Baselines[i])
		}
		for i := range z.Readings {
			pressure("reading/"+z.Zone+"/worst", "", &z.Readings[i])
		}
		pressure("reading/"+z.Zone+"/worst", "", z.Worst)
		if z.Held != nil {
			bad("setup/"+z.Zone+"/worst", "", z.Held.FlowCFM)
		}
		if z.Pairs != nil {
			bad("pairs/"+z.Zone, "", z.Pairs.Off...)
			bad("pairs/"+z.Zone, "", z.Pairs.On...)
		}
	}
	for _, a := range j.o.ApplObs {
		bad("prepare/fired", a.ID, at(a.MinutesSince))
		bad("breech/"+a.ID, a.ID, at(a.BreechPa))
		pressure("draft/"+a.ID, a.ID, a.Draft)
		pressure("draft/"+a.ID+"/natural", a.ID, a.DraftNatural)
		if a.Spill != nil {
			bad("spill/"+a.ID, a.ID, a.Spill.Seconds)
		}
		if a.SpillNatural != nil {
			bad("spill/"+a.ID+"/natural", a.ID, a.SpillNatural.Seconds)
		}
		for _, g := range []*procedure.GasObs{a.CO, a.CONatural} {
			if g != nil {
				bad("co/"+a.ID, a.ID, g.CO...)
				for _, o2 := range g.O2 {
					bad("co/"+a.ID, a.ID, at(o2))
				}
			}
		}
	}
}

// weathers of the visit.
func (j *judge) weathers() []procedure.Weather {
	var out []procedure.Weather
	if j.o.Weather != nil {
		out = append(out, *j.o.Weather)
	}
	return append(out, j.o.Later...)
}

// outdoorF is the coldest of the visit, which asks for the strongest draft.
func (j *judge) outdoorF() (float64, bool) {
	cold := math.Inf(1)
	for _, w := range j.weathers() {
		t, err := reading.Convert(w.Temp, reading.Unit(w.TempUnit), reading.UnitF)
		if err != nil || !finite(t) {
			return 0, false
		}
		cold = min(cold, t)
	}
	return cold, finite(cold)
}

// checkKey names a line of a checklist.
type checkKey struct {
	stage         procedure.StageID
	subject, code string
}

func (j *judge) checks() {
	have := make(map[checkKey]bool, len(j.o.Checks))
	for _, c := range j.o.Checks {
		have[checkKey{c.Stage, c.Subject, c.Code}] = true
		if c.State != procedure.SeenOK && c.Code != procedure.NotedLine && !(c.State == procedure.SeenWrong && j.wrong(c)) {
			// Not seen, or wrong where the test cannot stand on it.
			subject := ""
			if c.Stage == procedure.StageLook || c.Stage == procedure.StageAppliances || c.Stage == procedure.StageNatural {
				subject = c.Subject
			}
			j.miss(stepOf(c), "not-ok", subject)
		}
	}
	need := func(stage procedure.StageID, subject, step, appliance string, codes []string) {
		for _, c := range codes {
			if j.asks(stage) && !have[checkKey{stage, subject, c}] {
				j.miss(step, "no-answer", appliance)
			}
		}
	}
	need(procedure.StageArrive, "", "arrive/danger", "", procedure.DangerLines)
	need(procedure.StageArrive, "", "arrive/ready", "", procedure.ReadyLines)
	if !j.burns() {
		return
	}
	need(procedure.StageLook, "", "look/house", "", procedure.HouseLines)
	need(procedure.StagePrepare, "", "prepare/house", "", procedure.PrepareLines(j.o.Fans, j.o.AirHandlers))
	need(procedure.StagePutBack, "", "putback/house", "", procedure.PutBackLines(j.o.Appliances, j.o.Fans, j.o.AirHandlers))
	for _, a := range j.o.Appliances {
		if !fuelled(a) {
			continue
		}
		look := procedure.LookLines(a)
		need(procedure.StageLook, a.ID, "look/"+a.ID, a.ID, look)
		if ao := j.o.Of(a.ID); ao != nil && shutOff(ao.Prior) && !j.asks(procedure.StageLook) {
			for _, c := range look { // what an earlier phase shut off is looked at again
				if !have[checkKey{procedure.StageLook, a.ID, c}] {
					j.miss("look/"+a.ID, "no-answer", a.ID)
				}
			}
		}
		if a.HasBlower() && a.Fired() && a.Susceptible() != procedure.No && a.Facts.Fireable != procedure.No && !j.shut(a.ID) {
			need(procedure.StageAppliances, a.ID, "flame/"+a.ID, a.ID, []string{"blower-flame"})
		}
	}
	for _, z := range j.o.Zones {
		if len(j.touched(z.ID)) > 0 {
			need(procedure.StageHose, z.ID, "hose/"+z.ID, "", procedure.HoseLines)
		}
	}
}

// wrong judges a line that is not in order and reports whether that finding is
// all there is to it; else the line is missing too.
func (j *judge) wrong(c procedure.Check) bool {
	switch c.Stage {
	case procedure.StageLook:
		st := procedure.StatusNone
		if c.Subject != "" {
			st = procedure.OffUntilServiced
		}
		j.ruled(c.Code, "visual", c.Subject, procedure.Hold, st, c.Code, c.N)
		if c.Code == "piping" { // a leak on the piping shuts off what it feeds
			j.markAll(procedure.FuelOff)
		}
		return true
	case procedure.StageArrive:
		if has(procedure.DangerLines, c.Code) {
			j.ruled(c.Code, "hazard", "", procedure.Leave, procedure.StatusNone, c.Code, c.N)
			return true
		}
	case procedure.StageAppliances:
		j.ruled("flame-change", "hazard", c.Subject, procedure.Hold, procedure.OffUntilServiced, "flame-change", c.N)
		return true
	}
	if a, ok := j.r.ActionOf(c.Code); ok && procedure.Incomplete.Milder(a.Decision) {
		j.ruled(c.Code, "check", "", a.Decision, a.Status, c.Code, c.N)
	}
	return false
}

func stepOf(c procedure.Check) string {
	switch c.Stage {
	case procedure.StageArrive:
		if has(procedure.DangerLines, c.Code) {
			return "arrive/danger"
		}
		return "arrive/ready"
	case procedure.StageLook:
		if c.Subject == "" {
			return "look/house"
		}
		return "look/" + c.Subject
	case procedure.StagePrepare:
		if p := strings.Split(c.Key, "/"); p[0] == "resume" && len(p) == 4 {
			return strings.Join(p[:3], "/") // read again after a stop
		}
		return "prepare/house"
	case procedure.StageHose:
		return "hose/" + c.Subject
	case procedure.StagePutBack:
		return "putback/house"
	case procedure.StageNatural:
		return "cooled/" + c.Subject
	case procedure.StageAppliances:
		return "flame/" + c.Subject
	}
	return c.Key
}
