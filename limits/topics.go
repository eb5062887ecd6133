package limits

import (
	"strings"
	"time"

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

// keys that a row of each topic may have beside those of every row.
var keys = map[string][]string{
	"depressurization": {"applies", "value", "unit"},
	"spillage":         {"applies", "value", "unit"},
	"co":               {"applies", "value", "unit", "basis"},
	"draft-line":       {"list", "line"},
	"matrix":           {"over", "up_to", "spillage", "draft", "decision", "status", "action"},
	"action":           {"code", "decision", "status", "action"},
	"tier":             {"hazard", "value", "unit", "above", "act"},
	"parameter":        {"value", "unit", "text", "list"},
	"requirement":      {"about", "text", "list", "value", "unit"},
}

var topicNames = []string{"depressurization", "draft-line", "spillage", "co", "matrix", "action", "tier", "parameter", "requirement"}

// everyRow has these keys.
var everyRow = []string{"id", "topic", "life", "source", "evidence", "note", "checked"}

// heads are the keys at the top of a file of each kind.
var heads = map[string][]string{
	"scheme":  {"kind", "format", "name", "title", "edition", "status", "no_figure", "rows"},
	"floor":   {"kind", "format", "name", "title", "edition", "status", "rows"},
	"overlay": {"kind", "format", "scheme", "reason", "accept_risk", "checked", "rows"},
}

// parameters of a plan, each with its unit; "" takes text, "[]" a list.
var parameters = map[string]unitOf{
	"baseline-min-samples": {"count", 1, 1000}, "baseline-min-averaging": {reading.UnitS, 0, 600}, "baseline-max-spread": {reading.UnitPa, 0.1, 20},
	"wind-ceiling": {reading.UnitMPH, 1, 60}, "baseline-max-drift": {reading.UnitPa, 0.1, 20}, "baseline-closing": {}, "baseline-net": {},
	"doors": {}, "dryer-first": {}, "air-handler": {}, "air-handler-recheck": {}, "air-handler-caz-door": {}, "more-readings": {"count", 0, 4}, "caz-door": {}, "fireplace-flow": {reading.UnitCFM, 1, 2000},
	"spillage-cold-after": {reading.UnitMin, 1, 1440}, "spillage-between": {reading.UnitMin, 0, 120}, "spillage-together": {},
	"co-after": {reading.UnitMin, 0, 60}, "co-basis": {}, "co-kinds": {"[]", 0, 0}, "co-diluted-o2": {reading.UnitPercent, 5, 20.9},
	"natural-triggers": {"[]", 0, 0}, "gauge-accuracy": {reading.UnitPa, 0.01, 5}, "gauge-accuracy-percent": {reading.UnitPercent, 0.1, 20},
	"gauge-scatter": {reading.UnitPa, 0.01, 5}, "gauge-resolution": {reading.UnitPa, 0.01, 5}, "pairs-minimum": {"count", 3, 50}, "coverage": {"factor", 1, 4},
	"stages": {"[]", 0, 0}, "stages-daily": {"[]", 0, 0},
}

// words that a parameter may have.
var words = map[string][]string{
	"baseline-closing": {"yes", "no"}, "baseline-net": {"single", "larger"}, "doors": {"smoke", "pressure", "close-all", "both"}, "dryer-first": {"yes", "no"},
	"air-handler": {"first", "last"}, "air-handler-recheck": {"yes", "no"}, "air-handler-caz-door": {"yes", "no"}, "caz-door": {"both", "closed"}, "spillage-together": {"yes", "no"}, "co-basis": {"as-measured", "air-free"},
}

var required = []string{"baseline-min-samples", "baseline-min-averaging", "baseline-max-spread", "wind-ceiling", "baseline-closing", "baseline-net", "baseline-max-drift", "doors", "dryer-first",
	"air-handler", "air-handler-recheck", "air-handler-caz-door", "caz-door", "spillage-cold-after", "spillage-between", "spillage-together", "co-after", "co-basis", "co-kinds", "co-diluted-o2", "natural-triggers",
	"gauge-accuracy", "gauge-accuracy-percent", "gauge-scatter", "gauge-resolution", "pairs-minimum", "coverage", "stages", "stages-daily"}

// codes of what is not a number; each must lead somewhere.
var codes = []string{"alarm", "smell", "symptoms", "fuel", "leak", "piping", "rollout", "flame-change", "ambient-hold",
	"vent-connected", "draft-hood", "combustion-air", "rollout-marks", "soot", "rust", "clearances", "connector", "chimney", "co-alarm",
	"net-beyond", "net-too-close", "spillage-fails", "spillage-natural", "draft-natural", "natural-not-tested", "solid-fuel-no-row",
	"oil-breech-unknown", "no-test-hole", "unvented-main", "unvented-secondary", "ambient-source-open", "not-fireable", "other-dwelling", "mobile-room-air",
	"doubt-open", "configuration-incomplete", "forecast-over"}

// more codes that a row may answer; without one our own rule holds.
var moreCodes = []string{"no-row", "co-no-row"}

// acts are what a report can tell people to do.
var acts = []string{"proceed", "service-or-house", "service-co", "stop-service", "emergency", "technician", "co-alarm", "fuel-supplier", "out", "zone",
	"chimney-sweep", "oil-technician", "source", "fire-it", "other-dwelling", "mobile-room-air", "read-again", "set-again", "make-up-air"}

// subject is one thing that a scheme gives a figure for or says that it has
// none. Actions, parameters of the plan and their units are required anyway.
type subject struct {
	name string
	has  func(rowYAML) bool
}

// subjects in the order in which they are shown.
var subjects = []subject{
	{"depressurization", func(y rowYAML) bool { return y.Topic == "depressurization" }},
	{"draft-line", func(y rowYAML) bool { return y.Topic == "draft-line" }},
	{"spillage", func(y rowYAML) bool { return y.Topic == "spillage" }},
	{"co", func(y rowYAML) bool { return y.Topic == "co" }},
	{"matrix", func(y rowYAML) bool { return y.Topic == "matrix" }},
	{"ambient-co", func(y rowYAML) bool { return y.Topic == "tier" && y.Hazard == string(procedure.AmbientCO) }},
	{"lel", func(y rowYAML) bool { return y.Topic == "tier" && y.Hazard == string(procedure.LEL) }},
	{"fireplace-flow", func(y rowYAML) bool { return y.ID == "fireplace-flow" }},
	{"baseline", func(y rowYAML) bool { return strings.HasPrefix(y.ID, "baseline-") || y.ID == "wind-ceiling" }},
	{"uncertainty", func(y rowYAML) bool {
		return strings.HasPrefix(y.ID, "gauge-") || y.ID == "coverage" || y.ID == "pairs-minimum"
	}},
	{"instruments", about("instruments")},
	{"combustion-air", about("combustion-air")},
	{"report", about("report")},
}

func about(s string) func(rowYAML) bool {
	return func(y rowYAML) bool { return y.Topic == "requirement" && y.About == s }
}

// abouts are the subjects of requirement rows; a note is judged by nobody.
var abouts = []string{"instruments", "combustion-air", "report", "procedure", "note"}

func subjectNames() []string {
	var out []string
	for _, s := range subjects {
		out = append(out, s.name)
	}
	return out
}

// units of requirements that no reading has.
var otherUnits = []string{"year", "ACH50", "ACH", "ft3 per 1,000 Btu/h", "in2 per 1,000 Btu/h", "Btu/h per in2"}

func knownUnit(u string) bool {
	for _, o := range otherUnits {
		if u == o {
			return true
		}
	}
	_, err := reading.Convert(1, reading.Unit(u), reading.Unit(u))
	return err == nil
}

func in(list []string, x string) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
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

var fuels = []string{"gas", "propane", "oil", "wood", "pellets", "electric"}

func stages() []string {
	var out []string
	for _, s := range procedure.Stages {
		out = append(out, string(s))
	}
	return out
}

// day reports whether a date is written YYYY-MM-DD and was a real day.
func day(s string) bool {
	_, err := time.Parse("2006-01-02", s)
	return err == nil
}
