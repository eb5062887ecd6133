package evaluation

import (
	"math"
	"sort"
	"strings"

	"cazward/procedure"
)

// judge is one judgement being made.
type judge struct {
	o       procedure.Observations
	r       procedure.Rules
	f       []procedure.Finding
	missing []procedure.Missing
	seen    map[string]bool
	status  map[string]procedure.Status
	// lacking: appliances with something required unseen, which get no
	// may-run.
	lacking map[string]bool
	worst   []procedure.WorstCase
	// known: required things that need no observation because what was seen
	// already settles them for the worse.
	known map[string]bool
}

// Judge evaluates observations by rules. Rules without a scheme, or
// observations without an inventory, are incomplete, never milder.
func Judge(o procedure.Observations, r procedure.Rules) procedure.Judgement {
	j := &judge{o: o, r: r, seen: map[string]bool{}, status: map[string]procedure.Status{}, lacking: map[string]bool{}, known: map[string]bool{}}
	j.hazards()
	j.inventory()
	j.checks()
	for _, z := range o.Zones {
		j.zone(z)
	}
	for _, a := range o.Appliances {
		j.appliance(a)
	}
	j.doubts()
	j.open()
	return j.result()
}

func (j *judge) add(f procedure.Finding) {
	if f.Status != procedure.StatusNone && f.Subject != "" {
		j.status[f.Subject] = procedure.MoreProtectiveStatus(j.status[f.Subject], f.Status)
	}
	j.f = append(j.f, f)
}

// miss notes a required observation that does not exist, once.
func (j *judge) miss(step, why, appliance string) {
	if appliance != "" {
		j.lacking[appliance] = true
	}
	if j.seen[step] {
		return
	}
	j.seen[step] = true
	j.missing = append(j.missing, procedure.Missing{Step: step, Why: why})
}

// ruled makes a finding from an action row; a scheme without one is judged by
// our own rule, never by nothing.
func (j *judge) ruled(code, rule, subject string, otherwise procedure.Decision, st procedure.Status, detail string, about ...int) {
	f := procedure.Finding{Rule: rule, Subject: subject, Verdict: procedure.Fail, Severity: otherwise, Status: st, Row: "own-rule", Source: "cazward, own rule", Evidence: procedure.EvidenceOwnRule, Action: code, Detail: detail, About: nonZero(about)}
	if a, ok := j.r.ActionOf(code); ok {
		f.Severity, f.Status, f.Row, f.Source, f.Evidence, f.Action = a.Decision, a.Status, a.ID, a.Source.String(), a.Evidence, a.Action
	}
	if f.Severity == procedure.Incomplete || f.Severity == procedure.Refer {
		f.Verdict = procedure.NotEvaluated
		if f.Severity == procedure.Refer && rule == "visual" {
			f.Verdict = procedure.Fail
		}
	}
	if f.Severity == procedure.NoDecision {
		f.Severity = otherwise
	}
	j.add(f)
}

func nonZero(in []int) []int {
	var out []int
	for _, n := range in {
		if n > 0 {
			out = append(out, n)
		}
	}
	return out
}

func ptr(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func finite(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return len(v) > 0
}

// hazards are judged whatever else was seen.
func (j *judge) hazards() {
	for _, a := range j.o.Ambient {
		j.tier(procedure.AmbientCO, a.Value, a.OverRange, "", procedure.Unknown, "", a.N)
	}
	for _, h := range j.o.Hazards {
		v := math.NaN() // a hazard without its value reaches every tier
		if h.Hazard.Value != nil {
			v = *h.Hazard.Value
		}
		subject := h.Hazard.Subject
		switch c := h.Hazard.Code; c {
		case procedure.AmbientCO, procedure.LEL:
			j.tier(c, v, h.Hazard.OverRange, h.Source, h.Settled, subject, h.N)
		case procedure.Alarm, procedure.Symptoms, procedure.Smell:
			j.ruled(string(c), "hazard", subject, procedure.Leave, procedure.StatusNone, string(c), h.N)
		case procedure.Leak, procedure.Rollout:
			j.ruled(string(c), "hazard", subject, procedure.Hold, procedure.FuelOff, string(c), h.N)
		case procedure.FlameChange:
			j.ruled(string(c), "hazard", subject, procedure.Hold, procedure.OffUntilServiced, string(c), h.N)
		default:
			j.ruled(string(c), "hazard", subject, procedure.Leave, procedure.StatusNone, string(c), h.N)
		}
		if _, known := j.o.Appliance(subject); !known && (h.Hazard.Code == procedure.Rollout || h.Hazard.Code == procedure.FlameChange) {
			// Which burner it was is not known: it could be any of them.
			for _, a := range j.o.Appliances {
				if a.Fired() {
					j.status[a.ID] = procedure.MoreProtectiveStatus(j.status[a.ID], j.f[len(j.f)-1].Status)
				}
			}
		}
	}
}

func (j *judge) tier(code procedure.HazardCode, v float64, over bool, source string, settled procedure.Tri, subject string, n int) {
	for _, f := range j.f { // the same reading comes as ambient and as hazard
		if f.Rule == "ambient" && len(f.About) == 1 && f.About[0] == n && n > 0 && f.Detail == string(code) {
			if settled == procedure.Unknown && source == "" {
				return
			}
		}
	}
	t, ok := procedure.TierAt(j.r.Floor, code, v, over)
	if !ok {
		if _, any := procedure.TierAt(j.r.Floor, code, v, true); !any && !(v <= 0 && !over) {
			// Rules without a floor for it cannot say what is safe.
			j.ruled(string(code), "ambient", "", procedure.Leave, procedure.StatusNone, string(code), n)
		}
		return
	}
	f := procedure.Finding{Rule: "ambient", Verdict: procedure.Fail, Value: ptr(v), Limit: ptr(t.From), Unit: t.Unit, Row: t.Row, Source: t.Source, Evidence: t.Evidence, Detail: string(code), About: nonZero([]int{n})}
	if over {
		f.Value = nil
	}
	if _, known := j.o.Appliance(source); known {
		f.Subject = source
	}
	switch t.Act {
	case procedure.ActOut, procedure.ActLeave:
		f.Severity, f.Action = procedure.Leave, "out"
		j.suspects(code, source, subject)
	case procedure.ActHold:
		f.Severity, f.Action = procedure.Hold, "source"
		j.suspects(code, source, subject)
	case procedure.ActSource:
		f.Severity, f.Action = procedure.Refer, "source"
		if settled == procedure.Yes && source != "" && source != "not-found" {
			f.Severity, f.Verdict = procedure.Proceed, procedure.Pass
		}
	default:
		f.Severity, f.Action = procedure.Leave, "out"
	}
	if f.Severity == procedure.Refer || f.Severity == procedure.Proceed {
		j.replaceTier(f, n)
		return
	}
	j.add(f)
}

// suspects are not used before service: the source of the CO where it was
// found, else the appliance that burned, else every burner of the home.
func (j *judge) suspects(code procedure.HazardCode, source, subject string) {
	if code != procedure.AmbientCO || source == "outdoors" || source == "other-source" {
		return
	}
	_, found := j.o.Appliance(source)
	if !found {
		source = subject
		_, found = j.o.Appliance(source)
	}
	for _, a := range j.o.Appliances {
		if a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity && (!found || a.ID == source) {
			j.status[a.ID] = procedure.MoreProtectiveStatus(j.status[a.ID], procedure.OffUntilServiced)
		}
	}
}

// replaceTier keeps one finding for one reading: the one that knows its
// source.
func (j *judge) replaceTier(f procedure.Finding, n int) {
	for i, x := range j.f {
		if n > 0 && x.Rule == "ambient" && x.Detail == f.Detail && len(x.About) == 1 && x.About[0] == n {
			j.f[i] = f
			return
		}
	}
	j.add(f)
}

// asks reports whether the stage is required: each is, but for the look at
// vents, which the plan of a daily test may leave out.
func (j *judge) asks(id procedure.StageID) bool {
	if id != procedure.StageLook || j.o.Phase != procedure.Daily || len(j.o.Plan.Stages) == 0 {
		return true
	}
	for _, s := range j.o.Plan.Stages {
		if s.ID == id {
			return true
		}
	}
	return false
}

func (j *judge) burns() bool {
	for _, a := range j.o.Appliances {
		if a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity {
			return true
		}
	}
	return false
}

func (j *judge) inventory() {
	if !j.o.BurnersKnown {
		j.miss("list/appliances", "no-answer", "")
		return
	}
	if len(j.o.Plan.Stages) == 0 || j.r.Scheme.Name == "" {
		j.miss("plan", "no-scheme", "")
	}
	tank, boiler := false, false
	for _, a := range j.o.Appliances {
		tank, boiler = tank || a.Kind == procedure.IndirectTank, boiler || a.Kind == procedure.Boiler
	}
	if tank && !boiler {
		j.miss("list/appliances", "not-ok", "") // what heats the tank was not listed
	}
	for _, a := range j.o.Appliances {
		if !a.Listed {
			j.miss("appliance/"+a.ID, "no-answer", a.ID)
		}
		if a.Burner.Fuel == procedure.Electricity {
			continue // it stands in no zone that is tested
		}
		if a.Kind.Burns() && a.Zone == "" {
			j.miss("appliance/"+a.ID+"/zone", "no-answer", a.ID)
		}
		found := a.Zone == ""
		for _, z := range j.o.Zones {
			found = found || z.ID == a.Zone
		}
		if !found {
			j.miss("list/zones", "no-answer", a.ID)
		}
	}
	if !j.burns() {
		return
	}
	if len(j.o.Zones) == 0 {
		j.miss("list/zones", "no-answer", "")
	}
	if !j.o.FansKnown {
		j.miss("list/fans", "no-answer", "")
	}
	if !j.o.DoorsKnown {
		j.miss("list/doors", "no-answer", "")
	}
	if !j.o.AirKnown {
		j.miss("list/airhandlers", "no-answer", "")
	}
	if j.o.Weather == nil {
		j.miss("arrive/weather", "no-answer", "")
	}
	if len(j.o.Ambient) == 0 {
		j.miss("arrive/ambient", "no-answer", "")
	}
}

// required checklist lines of the stages that are the same in every home.
var required = map[procedure.StageID][]string{
	procedure.StageArrive: {"co-monitor", "consent", "no-live-fire", "no-asbestos", "occupants-warned"},
	procedure.StageLook:   {"piping", "co-alarm"},
}

func (j *judge) checks() {
	have := map[string]bool{}
	for _, c := range j.o.Checks {
		have[string(c.Stage)+"/"+c.Subject] = true
		have[string(c.Stage)+"/"+c.Subject+"/"+c.Code] = true
		step := j.stepOf(c)
		switch c.State {
		case procedure.SeenOK:
			continue
		case procedure.SeenWrong:
			switch c.Stage {
			case procedure.StageLook:
				st := procedure.StatusNone
				if c.Subject != "" {
					st = procedure.OffUntilServiced
				}
				j.ruled(c.Code, "visual", c.Subject, procedure.Hold, st, c.Code, c.N)
				if c.Code == "piping" { // a leak on the piping shuts off what it feeds
					for _, a := range j.o.Appliances {
						if a.Kind.Burns() && !a.Kind.SolidFuel() && a.Burner.Fuel != procedure.Electricity {
							j.status[a.ID] = procedure.MoreProtectiveStatus(j.status[a.ID], procedure.FuelOff)
						}
					}
				}
				continue
			case procedure.StageArrive:
				switch c.Code {
				case "alarm", "symptoms", "smell":
					j.ruled(c.Code, "hazard", "", procedure.Leave, procedure.StatusNone, c.Code, c.N)
					continue
				}
			case procedure.StageAppliances:
				j.ruled("flame-change", "hazard", c.Subject, procedure.Hold, procedure.OffUntilServiced, "flame-change", c.N)
				continue
			}
		}
		// Not seen, or wrong where the test cannot stand on it.
		subject := ""
		if c.Stage == procedure.StageLook || c.Stage == procedure.StageAppliances {
			subject = c.Subject
		}
		j.miss(step, "not-ok", subject)
	}
	need := func(stage procedure.StageID, subject string, codes []string, step, appliance string) {
		if !j.asks(stage) {
			return
		}
		if len(codes) == 0 && !have[string(stage)+"/"+subject] {
			j.miss(step, "no-answer", appliance)
		}
		for _, c := range codes {
			if !have[string(stage)+"/"+subject+"/"+c] {
				j.miss(step, "no-answer", appliance)
			}
		}
	}
	need(procedure.StageArrive, "", []string{"alarm", "symptoms", "smell"}, "arrive/danger", "")
	need(procedure.StageArrive, "", required[procedure.StageArrive], "arrive/ready", "")
	if !j.burns() {
		return
	}
	need(procedure.StageLook, "", required[procedure.StageLook], "look/house", "")
	for _, a := range j.o.Appliances {
		if a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity {
			need(procedure.StageLook, a.ID, nil, "look/"+a.ID, a.ID)
		}
	}
	need(procedure.StagePrepare, "", nil, "prepare/house", "")
	back := []string{"doors-windows-back", "dampers-back", "co-alarm-working"}
	for _, a := range j.o.Appliances {
		if a.Fired() {
			back = append(back, "burners-lit")
			break
		}
	}
	need(procedure.StagePutBack, "", back, "putback/house", "")
	for _, z := range j.o.Zones {
		if j.needsZone(z.ID) {
			need(procedure.StageHose, z.ID, []string{"outdoor-end", "zone-end", "pinched"}, "hose/"+z.ID, "")
		}
	}
}

func (j *judge) stepOf(c procedure.Check) string {
	switch c.Stage {
	case procedure.StageArrive:
		switch c.Code {
		case "alarm", "symptoms", "smell":
			return "arrive/danger"
		}
		return "arrive/ready"
	case procedure.StageLook:
		if c.Subject == "" {
			return "look/house"
		}
		return "look/" + c.Subject
	case procedure.StagePrepare:
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

// touched are the appliances of a zone on which its pressure can act.
func (j *judge) touched(zone string) []procedure.Appliance {
	var out []procedure.Appliance
	for _, a := range j.o.Appliances {
		if a.Zone == zone && a.Kind.Burns() && a.Vent.Type != procedure.Unvented && a.Kind != procedure.GasDryer && !a.Kind.Cooking() &&
			a.Kind != procedure.UnventedHeater && a.Burner.Fuel != procedure.Electricity && a.Facts.InsideBoundary != procedure.No {
			out = append(out, a)
		}
	}
	return out
}

func (j *judge) needsZone(zone string) bool { return len(j.touched(zone)) > 0 }

func (j *judge) gauge() *procedure.Instrument {
	for i := range j.o.Instruments {
		if j.o.Instruments[i].ID == "gauge" {
			return &j.o.Instruments[i]
		}
	}
	return nil
}

func (j *judge) doubts() {
	for _, d := range j.o.Doubts {
		open := d.Doubt.Settled != "stands" && d.Doubt.Settled != "retake"
		switch d.Doubt.Code {
		case procedure.DoubtGusty, procedure.DoubtWind, procedure.DoubtFrozen:
			open = true // looking does not calm the wind
		}
		if open && d.OnPressure {
			step := "doubt/" + string(d.Doubt.Code) + "/" + d.Step
			j.ruled("doubt-open", "doubt", d.Zone, procedure.Incomplete, procedure.StatusNone, string(d.Doubt.Code), d.N)
			j.miss(step, "doubt-open", "")
		}
	}
}

// open takes over what the sequence still waits for, except what is known for
// the worse already.
func (j *judge) open() {
	for _, m := range j.o.Open {
		if j.known[m.Step] {
			continue
		}
		// A burner that may not be lit is known bad: what would need it lit is
		// not missing.
		p := strings.Split(m.Step, "/")
		appliance := ""
		if len(p) > 1 {
			if _, ok := j.o.Appliance(p[1]); ok {
				appliance = p[1]
				if ao := j.o.Of(p[1]); ao != nil && ao.NotFired != "" {
					switch p[0] {
					case "spill", "draft", "co", "held", "ambient", "flame", "cooled", "breech", "together":
						continue
					}
				}
			}
		}
		j.miss(m.Step, m.Why, appliance)
	}
}

func (j *judge) result() procedure.Judgement {
	out := procedure.Judgement{Phase: j.o.Phase, Scheme: j.r.Scheme, WorstCase: j.worst, AcceptedRisks: j.r.AcceptedRisks, Missing: j.missing}
	d := procedure.NoDecision
	for i, f := range j.f {
		if f.Severity == procedure.NoDecision && f.Verdict != procedure.Pass && f.Verdict != procedure.NotApplicable {
			j.f[i].Severity = procedure.Incomplete
		}
		d = procedure.MoreProtective(d, j.f[i].Severity)
	}
	if len(j.missing) > 0 {
		d = procedure.MoreProtective(d, procedure.Incomplete)
	}
	if d == procedure.NoDecision {
		d = procedure.Proceed // nothing is missing and nothing was found
		if !j.o.BurnersKnown {
			d = procedure.Incomplete
		}
	}
	out.Decision = d
	sort.SliceStable(j.f, func(a, b int) bool { return j.f[b].Severity.Milder(j.f[a].Severity) })
	out.Findings = j.f
	for _, a := range j.o.Appliances {
		st := j.status[a.ID]
		if (st == procedure.StatusNone || st == procedure.MayRun) && a.Kind.Burns() {
			// Nothing is said to be fit to run that was not tried, or that
			// has a grave finding without a status of its own.
			st = procedure.MayRun
			if j.lacking[a.ID] || !a.Listed || !a.Fired() || j.grave(a.ID) {
				st = procedure.StatusNone
			}
		}
		if !a.Kind.Burns() {
			continue
		}
		out.Appliances = append(out.Appliances, procedure.ApplianceResult{ID: a.ID, Name: a.Name, Status: st})
	}
	for _, x := range j.o.Doubts {
		settled := x.Doubt.Settled
		if settled == "" {
			settled = "open"
		}
		out.Doubts = append(out.Doubts, procedure.DoubtResult{Code: x.Doubt.Code, Settled: settled, About: x.Doubt.About, How: x.Doubt.How})
	}
	if j.o.Plan.Scheme.Name != j.r.Scheme.Name {
		out.NotAsked = j.notAsked()
	}
	return out
}

func (j *judge) grave(id string) bool {
	for _, f := range j.f {
		if f.Subject == id && (f.Severity == procedure.Hold || f.Severity == procedure.Leave) {
			return true
		}
	}
	return false
}

// notAsked lists what the scheme asks and the walked plan never did.
func (j *judge) notAsked() []string {
	var out []string
	for _, k := range j.r.COAsked {
		if !j.o.Plan.CO.Asked(k) {
			for _, a := range j.o.Appliances {
				if a.Kind == k {
					out = append(out, "co/"+a.ID)
				}
			}
		}
	}
	if _, asked := j.r.ActionOf("fireplace-stand-in"); asked && j.o.Plan.Fireplace == nil {
		for _, a := range j.o.Appliances {
			if a.Kind == procedure.Fireplace {
				out = append(out, "fireplace/"+a.ID)
			}
		}
	}
	for _, v := range j.r.Draft.Vents {
		if !j.o.Plan.Draft.Asked(v) {
			for _, a := range j.o.Appliances {
				if a.Vent.Type == v {
					out = append(out, "draft/"+a.ID)
				}
			}
		}
	}
	return out
}
