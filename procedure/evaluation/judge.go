package evaluation

import (
	"math"
	"slices"
	"sort"
	"strings"

	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/reading"
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
	// unasked: what the rules ask and the plan of another scheme never did.
	unasked []string
}

// Judge evaluates observations by rules. Rules without a scheme, or
// observations without an inventory, are incomplete, never milder.
func Judge(o procedure.Observations, r procedure.Rules) procedure.Judgement {
	j := &judge{o: o, r: r, seen: map[string]bool{}, status: map[string]procedure.Status{}, lacking: map[string]bool{}, known: map[string]bool{}}
	j.notAsked()
	j.hazards()
	j.inventory()
	j.numbers()
	j.checks()
	for _, z := range o.Zones {
		j.zone(z)
	}
	for _, a := range o.Appliances {
		j.appliance(a)
	}
	j.doubts()
	j.open()
	j.sealing()
	return j.result()
}

func (j *judge) add(f procedure.Finding) {
	if f.Subject != "" {
		j.mark(f.Subject, f.Status)
	}
	j.f = append(j.f, f)
}

// mark an appliance with a status unless it has a more protective one.
func (j *judge) mark(id string, s procedure.Status) {
	j.status[id] = procedure.MoreProtectiveStatus(j.status[id], s)
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
	if why == "no-answer" && has(j.unasked, step) {
		why = "not-asked"
	}
	j.missing = append(j.missing, procedure.Missing{Step: step, Why: why})
}

// ruled makes a finding from an action row; a scheme without one is judged by
// our own rule, never by nothing.
func (j *judge) ruled(code, rule, subject string, otherwise procedure.Decision, st procedure.Status, detail string, about ...int) {
	f := procedure.Finding{Rule: rule, Subject: subject, Verdict: procedure.Fail, Severity: otherwise, Status: st, Row: "own-rule", Source: ownRule, Evidence: procedure.EvidenceOwnRule, Action: code, Detail: detail, About: nonZero(about...)}
	if a, ok := j.r.ActionOf(code); ok {
		f.Severity, f.Row, f.Source, f.Evidence, f.Action = a.Decision, a.ID, a.Source.String(), a.Evidence, a.Action
		if a.Status != procedure.StatusNone || rule != "hazard" {
			f.Status = a.Status
		}
	}
	if f.Severity == procedure.NoDecision {
		f.Severity = otherwise
	}
	if f.Severity == procedure.Incomplete || f.Severity == procedure.Refer && rule != "visual" {
		f.Verdict = procedure.NotEvaluated
	}
	j.add(f)
}

const ownRule = "cazward, own rule"

func has(list []string, x string) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
}

func nonZero(in ...int) []int {
	var out []int
	for _, n := range in {
		if n > 0 {
			out = append(out, n)
		}
	}
	return out
}

// ptr is nil for what is no number: it is never printed as one.
func ptr(v float64) *float64 {
	if !finite(v) {
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

// fuelled reports whether the appliance has a flame of its own.
func fuelled(a procedure.Appliance) bool {
	return a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity
}

// grave reports whether something was found of the appliance that holds the
// work.
func (j *judge) grave(id string) bool {
	for _, f := range j.f {
		if f.Subject == id && procedure.Incomplete.Milder(f.Severity) {
			return true
		}
	}
	return false
}

// shut reports whether the appliance was not lit because of what was found of
// it: known bad, so that what would need it lit is not missing. Not lit
// without such a finding is missing like anything else.
func (j *judge) shut(id string) bool {
	ao := j.o.Of(id)
	return ao != nil && ao.NotFired != "" && j.grave(id)
}

func (j *judge) doubts() {
	windy := j.windy()
	for _, d := range j.o.Doubts {
		open := d.Doubt.Settled != "stands" && d.Doubt.Settled != "retake"
		switch d.Doubt.Code {
		case procedure.DoubtGusty:
			open = true // looking does not calm the wind
		case procedure.DoubtWind:
			open = open || !j.calm() // it may be calm where the hose ends
		}
		windy = windy && d.Doubt.Code != procedure.DoubtWind
		// A clock that went back says nothing of a reading, and wind nothing
		// where no pressure is read.
		if open && (d.OnPressure || d.Doubt.Code != procedure.DoubtClock && d.Doubt.Code != procedure.DoubtWind) {
			j.ruled("doubt-open", "doubt", d.Zone, procedure.Incomplete, procedure.StatusNone, string(d.Doubt.Code), d.N)
			j.miss("doubt/"+string(d.Doubt.Code)+"/"+d.Step, "doubt-open", "")
		}
	}
	if windy { // and nobody was asked
		j.ruled("doubt-open", "doubt", "", procedure.Incomplete, procedure.StatusNone, string(procedure.DoubtWind))
		j.miss("doubt/wind/arrive/weather", "doubt-open", "")
	}
}

// calmS is how long, in seconds, one averaged value must run to stand for
// several (own rule).
const calmS = 120

// calm reports whether no pressure of a zone shows gusts: each of several
// values, spread no more than the plan allows.
func (j *judge) calm() bool {
	steady := func(p procedure.PressureObs) bool {
		if len(p.Values) == 1 && (p.AveragingS >= calmS || p.SE > 0 && p.SE <= j.o.Plan.Baseline.MaxSpread/4) {
			return true // long enough for gusts to cancel, or a log that shows none
		}
		return len(p.Values) >= max(2, j.o.Plan.Baseline.MinSamples) && j.o.Plan.Baseline.MaxSpread > 0 && slices.Max(p.Values)-slices.Min(p.Values) <= j.o.Plan.Baseline.MaxSpread+1e-9
	}
	any := false
	for _, z := range j.o.ZoneObs {
		for _, b := range z.Baselines {
			if any = true; !steady(b) {
				return false
			}
		}
		if z.Worst != nil && !steady(*z.Worst) {
			return false
		}
	}
	return any
}

// windy reports wind above the ceiling of the plan, where a pressure is read.
func (j *judge) windy() bool {
	if j.o.Plan.Baseline.MaxWind <= 0 || !slices.ContainsFunc(j.o.Zones, func(z procedure.Zone) bool { return len(j.touched(z.ID)) > 0 }) {
		return false
	}
	for _, x := range j.weathers() {
		if w, err := reading.Convert(x.Wind, reading.Unit(x.WindUnit), reading.UnitMPH); err != nil || !(w <= j.o.Plan.Baseline.MaxWind) {
			return true
		}
	}
	return false
}

// open takes over what the sequence still waits for, except what is known for
// the worse already.
func (j *judge) open() {
	for _, m := range j.o.Open {
		if j.known[m.Step] {
			continue
		}
		p := strings.Split(m.Step, "/")
		appliance := ""
		if len(p) > 1 {
			if _, ok := j.o.Appliance(p[1]); ok {
				appliance = p[1]
				switch p[0] {
				case "spill", "draft", "co", "held", "ambient", "flame", "cooled", "breech", "together":
					if j.shut(appliance) {
						continue
					}
				}
			}
		}
		j.miss(m.Step, m.Why, appliance)
	}
}

// sealing holds the planned tightness against the limits of the zones. It is
// wanted, never required: a forecast that cannot be made finds nothing, and one
// that passes lets nobody off a test.
func (j *judge) sealing() {
	if j.o.CFM50 == nil || j.o.SealTo == nil || j.o.Phase == procedure.TestOut || !finite(*j.o.CFM50, *j.o.SealTo) {
		return
	}
	so := procedure.Judgement{WorstCase: j.worst, Findings: j.f, Missing: j.missing}
	d := forecast.Design{Before: reading.Flow(*j.o.CFM50), After: reading.Flow(*j.o.SealTo)}
	for _, z := range forecast.Zones(j.o, so, d) {
		if f, ok := z.Forecast.Finding(z.Zone.ID); ok && z.Err == nil && f.Verdict != procedure.NotEvaluated {
			j.add(f)
		}
	}
}

func (j *judge) result() procedure.Judgement {
	out := procedure.Judgement{Phase: j.o.Phase, Scheme: j.r.Scheme, WorstCase: j.worst, AcceptedRisks: j.r.AcceptedRisks, Missing: j.missing, NotAsked: j.unasked}
	d := procedure.Proceed // where nothing is missing and nothing was found
	if len(j.missing) > 0 {
		d = procedure.Incomplete
	}
	for i, f := range j.f {
		if f.Severity == procedure.NoDecision && f.Verdict != procedure.Pass && f.Verdict != procedure.NotApplicable {
			j.f[i].Severity = procedure.Incomplete
		}
		if f = j.f[i]; f.Severity != procedure.NoDecision && !slices.Contains(procedure.Decisions, f.Severity) {
			j.f[i].Severity = procedure.Leave // a word of a later version is not taken for a milder one
		}
		if f = j.f[i]; f.Severity != procedure.NoDecision {
			d = procedure.MoreProtective(d, f.Severity)
		}
	}
	out.Decision = d
	sort.SliceStable(j.f, func(a, b int) bool { return j.f[b].Severity.Milder(j.f[a].Severity) })
	out.Findings = j.f
	for _, a := range j.o.Appliances {
		if !a.Kind.Burns() || a.Burner.Fuel == procedure.Electricity && j.status[a.ID] == procedure.StatusNone {
			continue // nothing burns in it
		}
		st := j.status[a.ID]
		unseen := j.lacking[a.ID] || !a.Listed || d == procedure.Leave // nobody is there to run it
		switch {
		case st == procedure.MayRunNoFans && unseen:
			// It fails at worst case, and what it does otherwise was not seen
			// in full: the strictest that could apply.
			st = procedure.OffUntilServiced
		case st != procedure.StatusNone && st != procedure.MayRun:
		case unseen || !a.Fired() || j.grave(a.ID):
			// Nothing is said to be fit to run that was not tried, or that has
			// a grave finding without a status of its own.
			st = procedure.StatusNone
		default:
			st = procedure.MayRun
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
	return out
}

// notAsked lists what the scheme asks and the plan of another never did.
func (j *judge) notAsked() {
	if j.o.Plan.Scheme.Name == j.r.Scheme.Name {
		return
	}
	for _, z := range j.o.Zones {
		zo := j.o.ZoneOf(z.ID)
		shut, all := j.o.Plan.Doors == "close-all", j.r.Doors == "close-all"
		switch {
		case len(j.o.Doors) == 0 || zo == nil || zo.Held == nil || j.r.Doors == "" || shut == all:
		case shut: // the walk shut them all, the scheme decides each
			j.unasked = append(j.unasked, "doors/"+z.ID)
		case slices.ContainsFunc(j.o.Doors, func(d procedure.RosterItem) bool { return !has(zo.Held.Doors, d.ID) }):
			j.unasked = append(j.unasked, "doors/"+z.ID) // the scheme holds them all shut
		}
	}
	for _, a := range j.o.Appliances {
		if a.Kind == procedure.Fireplace && j.standIn() && j.o.Plan.Fireplace == nil {
			j.unasked = append(j.unasked, "fireplace/"+a.ID)
		}
		if j.coAsked(a) && !j.o.Plan.CO.Asked(a.Kind) {
			j.unasked = append(j.unasked, "co/"+a.ID)
		}
		if j.draftAsked(a) && !j.o.Plan.Draft.Asked(a.Venting()) {
			j.unasked = append(j.unasked, "draft/"+a.ID)
		}
	}
}
