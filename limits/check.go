package limits

import (
	"math"
	"strings"

	"gopkg.in/yaml.v3"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// unitOf a topic: what its value is judged in, and how far it may go.
type unitOf struct {
	unit     reading.Unit
	min, max float64
}

var topics = map[string]unitOf{
	"depressurization": {reading.UnitPa, -100, 0},
	"spillage":         {reading.UnitS, 1, 3600},
	"co":               {reading.UnitPPM, 1, 5000},
}

// parameters of a plan, each with its unit; "" takes text, "[]" a list.
var parameters = map[string]unitOf{
	"baseline-min-samples": {"count", 1, 1000}, "baseline-min-averaging": {reading.UnitS, 0, 600}, "baseline-max-spread": {reading.UnitPa, 0.1, 20},
	"wind-ceiling": {reading.UnitMPH, 1, 60}, "baseline-max-drift": {reading.UnitPa, 0.1, 20}, "baseline-closing": {}, "baseline-net": {},
	"doors": {}, "dryer-first": {}, "air-handler": {}, "air-handler-recheck": {}, "caz-door": {}, "fireplace-flow": {reading.UnitCFM, 1, 2000},
	"spillage-cold-after": {reading.UnitMin, 1, 1440}, "spillage-between": {reading.UnitMin, 0, 120}, "spillage-together": {},
	"co-after": {reading.UnitMin, 0, 60}, "co-basis": {}, "co-kinds": {"[]", 0, 0}, "co-diluted-o2": {reading.UnitPercent, 5, 20.9},
	"natural-triggers": {"[]", 0, 0}, "gauge-accuracy": {reading.UnitPa, 0.01, 5}, "gauge-accuracy-percent": {reading.UnitPercent, 0.1, 20},
	"gauge-scatter": {reading.UnitPa, 0.01, 5}, "gauge-resolution": {reading.UnitPa, 0.01, 5}, "pairs-minimum": {"count", 3, 50}, "coverage": {"factor", 1, 4},
	"stages": {"[]", 0, 0}, "stages-daily": {"[]", 0, 0},
}

// words that a parameter may have.
var words = map[string][]string{
	"baseline-closing": {"yes", "no"}, "baseline-net": {"single", "larger"}, "doors": {"smoke", "pressure", "close-all", "both"}, "dryer-first": {"yes", "no"},
	"air-handler": {"first", "last"}, "air-handler-recheck": {"yes", "no"}, "caz-door": {"both", "closed"}, "spillage-together": {"yes", "no"}, "co-basis": {"as-measured", "air-free"},
}

var required = []string{"baseline-min-samples", "baseline-min-averaging", "baseline-max-spread", "wind-ceiling", "baseline-closing", "baseline-net", "baseline-max-drift", "doors", "dryer-first",
	"air-handler", "air-handler-recheck", "caz-door", "spillage-cold-after", "spillage-between", "spillage-together", "co-after", "co-basis", "co-kinds", "co-diluted-o2", "natural-triggers",
	"gauge-accuracy", "gauge-accuracy-percent", "gauge-scatter", "gauge-resolution", "pairs-minimum", "coverage", "stages", "stages-daily"}

// codes of what is not a number; each must lead somewhere.
var codes = []string{"alarm", "smell", "symptoms", "fuel", "leak", "piping", "rollout", "flame-change", "ambient-hold",
	"vent-connected", "draft-hood", "combustion-air", "rollout-marks", "soot", "rust", "clearances", "connector", "chimney", "co-alarm",
	"net-beyond", "net-too-close", "spillage-fails", "spillage-natural", "draft-natural", "natural-not-tested", "solid-fuel-no-row",
	"oil-breech-unknown", "no-test-hole", "unvented-main", "unvented-secondary", "ambient-source-open", "not-fireable", "other-dwelling",
	"doubt-open", "configuration-incomplete", "forecast-over"}

// twice refuses an id or an action code that two rows of the whole set share:
// of two rows for one code only the first would ever be found.
func (r *reader) twice(rows []row) {
	ids, seen := map[string]bool{}, map[string]string{}
	for _, x := range rows {
		r.File = x.file
		if ids[x.y.ID] {
			r.At(x.y.Node, "give each row an id of its own", "row %q stands already in another file", x.y.ID)
		}
		ids[x.y.ID] = true
		if x.y.Topic != "action" {
			continue
		}
		if first, dup := seen[x.y.Code]; dup {
			r.At(x.y.Node, "keep one of them", "row %q: code %q has a row already, %q", x.y.ID, x.y.Code, first)
		}
		seen[x.y.Code] = x.y.ID
	}
}

func in(list []string, x string) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
}

// row checks one row by itself and turns its value into the topic's unit.
func (r *reader) row(y rowYAML) (row, bool) {
	before := len(r.List)
	x := row{y: y}
	say := func(hint, format string, a ...any) {
		r.At(y.Node, hint, "row %q: "+format, append([]any{y.ID}, a...)...)
	}
	if y.Source == nil || strings.TrimSpace(y.Source.Title) == "" {
		say("add source: with title, and edition and clause where there are any", "source missing")
	} else {
		x.src = procedure.SourceRef{Title: y.Source.Title, Edition: y.Source.Edition, Clause: y.Source.Clause}
	}
	switch procedure.Evidence(y.Evidence) {
	case procedure.EvidenceSeen, procedure.EvidenceSecondary, procedure.EvidenceMemory, procedure.EvidencePractice, procedure.EvidenceOwnRule:
	case "":
		say("one of seen, seen-secondary, memory, practice, own-rule", "evidence missing")
	default:
		say("one of seen, seen-secondary, memory, practice, own-rule", "evidence %q is not known", y.Evidence)
	}
	if c := y.Checked; c != nil && (c.By == "" || c.Date == "" || c.Edition == "") {
		say("a checked row names who, when and which edition", "checked needs by, date and edition")
	}
	number := func(u unitOf) {
		switch {
		case y.Value == nil:
			say("add value:", "value missing")
		case y.Unit == "":
			say("add unit: "+string(u.unit), "unit missing")
		default:
			x.value = *y.Value
			if u.unit == "count" || u.unit == "factor" {
				if y.Unit != string(u.unit) {
					say("unit: "+string(u.unit), "unit %q is not of its kind", y.Unit)
				}
			} else {
				v, err := reading.Convert(*y.Value, reading.Unit(y.Unit), u.unit)
				if err != nil {
					say("a unit such as "+string(u.unit), "unit %q is not of its kind", y.Unit)
					return
				}
				x.value = v
			}
			if math.IsNaN(x.value) || x.value < u.min || x.value > u.max {
				if y.Topic == "depressurization" && x.value > 0 {
					say("a zone that is lower than outdoors is negative: write -"+reading.Format(*y.Value, -1), "a depressurization limit must be negative, not %s", reading.Format(*y.Value, -1))
					return
				}
				say("between "+reading.Format(u.min, -1)+" and "+reading.Format(u.max, -1)+" "+string(u.unit), "value %s is out of any sane range", reading.Format(*y.Value, -1))
			} else if y.Topic == "depressurization" && x.value == 0 {
				say("a limit below 0", "a depressurization limit of 0 would fail every home")
			}
		}
	}
	outcome := func(what, o string) {
		switch procedure.Outcome(o) {
		case procedure.OutcomeAny, procedure.OutcomePass, procedure.OutcomeWorst, procedure.OutcomeNatural, procedure.OutcomeFail:
		default:
			say("one of any, pass, fail-worst-only, fail-natural, fail-anywhere", "%s %q is not known", what, o)
		}
	}
	leads := func() {
		switch procedure.Decision(y.Decision) {
		case procedure.Leave, procedure.Hold, procedure.Incomplete, procedure.Refer, procedure.Proceed:
		default:
			say("one of leave, hold, incomplete, refer, proceed", "decision %q is not known", y.Decision)
		}
		if status(y.Status) < 0 {
			say("one of may-run, may-run-not-with-all-fans, off-until-serviced, fuel-off", "status %q is not known", y.Status)
		}
	}
	switch y.Topic {
	case "depressurization", "spillage", "co":
		number(topics[y.Topic])
		if y.Topic == "co" && y.Basis != "as-measured" && y.Basis != "air-free" {
			say("basis: as-measured or basis: air-free", "a CO limit needs its basis")
		}
	case "draft-line":
		if len(y.Line) < 1 {
			say("add line: with points of temp_f and pa", "no line")
		}
		for i, p := range y.Line {
			if p.TempF == nil || p.Pa == nil || *p.Pa > 0 || *p.Pa < -50 || math.Abs(*p.TempF) > 150 {
				say("each point has temp_f and a negative pa", "point %d is not a temperature and a draft", i+1)
			} else if i > 0 && y.Line[i-1].TempF != nil && *p.TempF <= *y.Line[i-1].TempF {
				say("colder points first", "point %d is not warmer than the one before", i+1)
			}
		}
		r.kinds(y.Node, y.ID, "vents", y.List, vents())
	case "matrix":
		if y.Over == nil || y.UpTo != nil && *y.UpTo <= *y.Over {
			say("over: and up_to: in ppm, up_to above over", "no band of CO")
		}
		outcome("spillage", y.Spillage)
		outcome("draft", y.Draft)
		leads()
	case "action":
		if y.Code == "" {
			say("add code:", "code missing")
		}
		leads()
	case "tier":
		u := unitOf{reading.UnitPPM, 1, 1000}
		if y.Hazard == string(procedure.LEL) {
			u = unitOf{reading.UnitPercent, 1, 100}
		} else if y.Hazard != string(procedure.AmbientCO) {
			say("hazard: ambient-co or hazard: lel", "hazard %q has no tiers", y.Hazard)
		}
		number(u)
		switch procedure.Act(y.Act) {
		case procedure.ActSource, procedure.ActHold, procedure.ActLeave, procedure.ActOut:
		default:
			say("one of source, hold, leave, out", "act %q is not known", y.Act)
		}
	case "parameter":
		u, ok := parameters[y.ID]
		switch {
		case !ok:
			say("see: cazward limits show "+Default, "no parameter has this id")
		case u.unit == "[]":
			if len(y.List) == 0 {
				say("add list:", "list missing")
			}
			switch y.ID {
			case "co-kinds":
				r.kinds(y.Node, y.ID, "kinds", y.List, kinds())
			case "natural-triggers":
				r.kinds(y.Node, y.ID, "triggers", y.List, []string{"spillage", "draft"})
			default:
				var all []string
				for _, s := range procedure.Stages {
					all = append(all, string(s))
				}
				r.kinds(y.Node, y.ID, "stages", y.List, all)
				for i, s := range y.List {
					if in(y.List[:i], s) {
						say("keep one of them", "stage %s stands twice", s)
					}
				}
				if n := len(y.List); n < 2 || y.List[0] != string(procedure.StageArrive) || y.List[n-2] != string(procedure.StagePutBack) || y.List[n-1] != string(procedure.StageDecide) {
					say("a test begins with arrive and ends with put-back, decide", "stages cannot be walked in this order")
				}
			}
		case u.unit == "":
			if !in(words[y.ID], y.Text) {
				say("text: one of "+strings.Join(words[y.ID], ", "), "text %q is not known", y.Text)
			}
		default:
			number(u)
		}
	case "requirement":
		if y.Text == "" && len(y.List) == 0 {
			say("add text: or list:", "it requires nothing")
		}
	case "":
		say("add topic:", "topic missing")
	default:
		say("one of depressurization, draft-line, spillage, co, matrix, action, tier, parameter, requirement", "topic %q is not known", y.Topic)
	}
	if w := y.Applies; w != nil {
		r.kinds(y.Node, y.ID, "kinds", w.Kinds, kinds())
		r.kinds(y.Node, y.ID, "partner", w.Partner, kinds())
		r.kinds(y.Node, y.ID, "vents", w.Vents, vents())
		r.kinds(y.Node, y.ID, "fuels", w.Fuels, []string{"gas", "propane", "oil", "wood", "pellets", "electric"})
	}
	return x, len(r.List) == before
}

func (r *reader) kinds(n *yaml.Node, id, what string, got, known []string) {
	for _, g := range got {
		if !in(known, g) {
			r.At(n, "one of "+strings.Join(known, ", "), "row %q: %s: %q is not known", id, what, g)
		}
	}
}

func kinds() []string {
	var out []string
	for _, k := range procedure.ApplianceKinds {
		out = append(out, string(k))
	}
	return out
}

func vents() []string {
	var out []string
	for _, k := range procedure.VentTypes {
		out = append(out, string(k))
	}
	return out
}

// whole checks a table as a whole: parameters, the action matrix without
// gaps, and a row for every appliance that house pressure can touch.
func (r *reader) whole(s *Set, f *fileYAML, file string) {
	if f.Kind != "scheme" {
		return
	}
	r.File = file
	for _, id := range required {
		if _, ok := s.param(id); !ok {
			r.At(f.Node, "add a row of topic parameter with this id", "parameter %q missing", id)
		}
	}
	r.ambiguous(s)
	r.File = file // ambiguous names the file of each row
	rules := s.Rules()
	for _, code := range codes {
		if _, ok := rules.ActionOf(code); !ok {
			r.At(f.Node, "add a row of topic action with this code", "no row says what %q leads to", code)
		}
	}
	// Without a row the plan would have a limit of 0 s, and the judge none.
	for _, cold := range []procedure.Tri{procedure.Yes, procedure.No} {
		if c := procedure.Match(rules.Spillage, spilling(cold)); !c.Found {
			r.At(f.Node, "add a row of topic spillage, or one for cold: true and one for cold: false", "no spillage time for a vent that is cold: %s", cold)
		}
	}
	if len(rules.Matrix) > 0 {
		r.matrix(f, rules.Matrix)
	}
	if rules.PressureSet {
		for _, t := range combinations() {
			if c := procedure.Match(rules.Pressure, t); !c.Found && !exempt(f, t) {
				r.At(f.Node, "add a row, or name the kind under no_figure", "no depressurization row for %s, vent %s, common vent %q", t.Kind, t.Vent, t.Common)
				break
			}
		}
	}
}

func exempt(f *fileYAML, t procedure.Traits) bool {
	for _, n := range f.NoFigure {
		if n.Topic == "depressurization" && in(n.Kinds, string(t.Kind)) {
			return true
		}
	}
	return false
}

// ambiguous refuses two rows that match the same appliance equally well with
// different values.
func (r *reader) ambiguous(s *Set) {
	type lim struct {
		x row
		l procedure.Limit
	}
	for _, topic := range []string{"depressurization", "co", "spillage"} {
		var rows []lim
		for _, x := range s.rows {
			if x.y.Topic == topic {
				rows = append(rows, lim{x, x.limit(procedure.AtLeast, "")})
			}
		}
		told := map[string]bool{}
		list := combinations()
		if topic == "spillage" {
			list = []procedure.Traits{{Kind: procedure.WaterHeater, Vent: procedure.NaturalVent, Common: procedure.No, Cold: procedure.Yes}, {Kind: procedure.WaterHeater, Vent: procedure.NaturalVent, Common: procedure.No, Cold: procedure.No}}
		}
		for _, t := range list {
			best := -1
			for i, a := range rows {
				if fit, _ := a.l.Applies.Fit(t); fit != procedure.Yes {
					continue
				}
				if best >= 0 && a.l.Applies.Specificity() == rows[best].l.Applies.Specificity() && a.l.Bound.Value != rows[best].l.Bound.Value {
					if k := rows[best].x.y.ID + a.x.y.ID; !told[k] {
						told[k] = true
						r.File = a.x.file
						r.At(a.x.y.Node, "say more closely which appliance each is about", "row %q matches the same appliance as %q equally well (%s, vent %s)", a.x.y.ID, rows[best].x.y.ID, t.Kind, t.Vent)
					}
				}
				if best < 0 || a.l.Applies.Specificity() > rows[best].l.Applies.Specificity() {
					best = i
				}
			}
		}
	}
}

// combinations of facts that an appliance can have.
func combinations() []procedure.Traits {
	var out []procedure.Traits
	yn := []procedure.Tri{procedure.Yes, procedure.No}
	for _, k := range procedure.ApplianceKinds {
		if !k.Burns() || k.Cooking() || k == procedure.UnventedHeater || k == procedure.GasDryer {
			continue
		}
		fuels := []procedure.Fuel{procedure.NaturalGas, procedure.Oil}
		vts := procedure.VentTypes[:5]
		if k.SolidFuel() {
			fuels, vts = []procedure.Fuel{procedure.Wood}, []procedure.VentType{procedure.NaturalVent}
		}
		for _, fu := range fuels {
			for _, v := range vts {
				for _, partner := range []procedure.ApplianceKind{"", procedure.Furnace, procedure.Boiler, procedure.WaterHeater, procedure.RoomHeater} {
					for _, fan := range yn {
						for _, damper := range yn {
							for _, hs := range yn {
								t := procedure.Traits{Kind: k, Fuel: fu, Vent: v, Common: procedure.No, FanPartner: procedure.No, Damper: damper, Orphaned: procedure.No, Outside: procedure.No, HighStatic: hs, TopInducer: procedure.No, Cold: procedure.Yes}
								if v == procedure.FanAssisted {
									t.FanPartner = procedure.Yes
								}
								if partner != "" {
									t.Common, t.Partners = procedure.Yes, []procedure.ApplianceKind{partner}
									if fan == procedure.Yes {
										t.FanPartner = procedure.Yes
									}
								}
								if hs == procedure.Yes && fu != procedure.Oil {
									continue
								}
								out = append(out, t)
							}
						}
					}
				}
			}
		}
	}
	return out
}

// matrix proves that every band of CO and every outcome has a row.
func (r *reader) matrix(f *fileYAML, rows []procedure.MatrixRow) {
	points := []float64{0}
	for _, m := range rows {
		points = append(points, m.Over, m.Over+0.5)
		if m.UpTo != nil {
			points = append(points, *m.UpTo, *m.UpTo+0.5)
		}
	}
	outs := []procedure.Outcome{procedure.OutcomePass, procedure.OutcomeWorst, procedure.OutcomeNatural}
	for _, co := range points {
		for _, sp := range outs {
			for _, dr := range outs {
				found := false
				for _, m := range rows {
					found = found || m.Fits(co, false, sp, dr)
				}
				if !found {
					r.At(f.Node, "add a matrix row", "the action matrix has no row for CO %s ppm, spillage %s, draft %s", reading.Format(co, -1), sp, dr)
					return
				}
			}
		}
	}
}
