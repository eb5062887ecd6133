package limits

import (
	"math"
	"strings"

	"gopkg.in/yaml.v3"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// twice refuses an id, an action code or a draft line that two rows of the whole
// set share: of two rows for one code only the first would ever be found.
func (r *reader) twice(rows []row) {
	ids, seen, line := map[string]bool{}, map[string]string{}, ""
	for _, x := range rows {
		r.File = x.file
		if ids[x.y.ID] {
			r.At(x.y.Node, "give each row an id of its own", "row %q stands already in another file", x.y.ID)
		}
		ids[x.y.ID] = true
		if x.y.Topic == "draft-line" {
			if line != "" {
				r.At(x.y.Node, "change that row: give this one its id", "row %q: the table has a draft line already, %q", x.y.ID, line)
			}
			line = x.y.ID
		}
		if x.y.Topic != "action" {
			continue
		}
		if first, dup := seen[x.y.Code]; dup {
			r.At(x.y.Node, "keep one of them", "row %q: code %q has a row already, %q", x.y.ID, x.y.Code, first)
		}
		seen[x.y.Code] = x.y.ID
	}
}

// foreign refuses keys that the topic of a row does not use: whoever wrote one
// thinks that it does something.
func (r *reader) foreign(y rowYAML) {
	own, ok := keys[y.Topic]
	if !ok {
		return
	}
	if y.Topic == "parameter" {
		switch u, known := parameters[y.ID]; {
		case !known:
		case u.unit == "[]":
			own = []string{"list"}
		case u.unit == "":
			own = []string{"text"}
		default:
			own = []string{"value", "unit"}
		}
	}
	for i := 0; i+1 < len(y.Node.Content); i += 2 {
		if k := y.Node.Content[i]; !in(own, k.Value) && !in(everyRow, k.Value) {
			what := "a row of topic " + y.Topic
			if y.Topic == "parameter" {
				what = "the parameter " + y.ID
			}
			r.At(k, "delete it; "+what+" has "+strings.Join(own, ", "), "row %q: key %q does not belong to %s", y.ID, k.Value, what)
		}
	}
}

// mark checks who says that a row agrees with its document, and when.
func (r *reader) mark(n *yaml.Node, id, by, date, edition string) {
	switch {
	case strings.TrimSpace(by) == "" || date == "" || strings.TrimSpace(edition) == "":
		r.At(n, "say who, when and against which edition", "row %q: checked needs by, date and edition", id)
	case !day(date):
		r.At(n, "write the day as YYYY-MM-DD", "row %q: checked on %q, which is no day", id, date)
	}
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
	if c := y.Checked; c != nil {
		r.mark(y.Node, y.ID, c.By, c.Date, c.Edition)
	}
	r.foreign(y)
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
		if !in(acts, y.Action) {
			say("one of "+strings.Join(acts, ", "), "action %q has no words in a report", y.Action)
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
		if len(y.List) == 0 {
			say("add list: with the vents whose draft is judged by it", "no vents")
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
		} else if !in(codes, y.Code) && !in(moreCodes, y.Code) {
			say("one of "+strings.Join(append(append([]string{}, codes...), moreCodes...), ", "), "nothing that is found has the code %q", y.Code)
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
				r.kinds(y.Node, y.ID, "stages", y.List, stages())
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
		if !in(abouts, y.About) {
			say("about: one of "+strings.Join(abouts, ", "), "about %q is not known", y.About)
		}
		switch {
		case y.Value == nil && y.Unit == "":
		case y.Value == nil:
			say("add value:, or delete unit:", "value missing")
		case y.Unit == "":
			say("add unit:, or delete value:", "unit missing")
		case !knownUnit(y.Unit):
			say("a unit such as Pa, ppm, %, ft, "+strings.Join(otherUnits, ", "), "unit %q is not known", y.Unit)
		default:
			x.value = *y.Value
		}
	case "":
		say("add topic:", "topic missing")
	default:
		say("one of "+strings.Join(topicNames, ", "), "topic %q is not known", y.Topic)
	}
	if w := y.Applies; w != nil {
		r.kinds(y.Node, y.ID, "kinds", w.Kinds, kinds())
		r.kinds(y.Node, y.ID, "partner", w.Partner, kinds())
		r.kinds(y.Node, y.ID, "vents", w.Vents, vents())
		r.kinds(y.Node, y.ID, "fuels", w.Fuels, fuels)
		for _, l := range []struct {
			key  string
			list []string
		}{{"kinds", w.Kinds}, {"partner", w.Partner}, {"vents", w.Vents}, {"fuels", w.Fuels}} {
			if l.list != nil && len(l.list) == 0 { // it would mean all of them
				say("name them, or delete the key if the row is about all", "%s: an empty list", l.key)
			}
		}
		if w.Cold != nil && y.Topic != "spillage" {
			say("only spillage is told apart by it", "cold: does not belong to a row of topic %s", y.Topic)
		}
		if c, ok := compile(who(w)); ok && len(r.List) == before && c.empty() {
			say("see what applies: says together", "no appliance can be all of: %s", describe(w))
		}
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
