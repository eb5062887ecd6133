package wording

import (
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// StopLines are the lines of the stop screen, without its frame. With fuel in
// the air there is no line on controls: nothing is worth a spark.
func StopLines(l Lang, h procedure.Hazard, act procedure.Act) []string {
	value := func(key string) string {
		if h.OverRange || h.Value == nil {
			return say(l, key+"-over")
		}
		return say(l, key, "value", reading.Format(*h.Value, -1))
	}
	what, fuel := "", false
	switch h.Code {
	case procedure.AmbientCO:
		what = value("stop.co")
	case procedure.LEL:
		what, fuel = value("stop.lel"), true
	case procedure.Alarm, procedure.Symptoms:
		what = say(l, "stop."+string(h.Code))
	case procedure.Smell:
		what, fuel = say(l, "stop.smell"), true
	case procedure.Leak:
		what, fuel = hazardText(l, h)+".", true
	default:
		what = say(l, "stop.other")
	}
	first, last := "stop.out", "stop.controls"
	if act == procedure.ActLeave && h.Code == procedure.AmbientCO {
		first, last = "stop.leave", "stop.shut"
	}
	if fuel {
		last = "stop.fuel"
	}
	return []string{say(l, first), say(l, "stop.call", "what", capital(what)), say(l, last)}
}

// StopAny are the lines of the stop screen where the key for alarm, illness and
// smell was pressed and nobody said which: what holds for all of them.
func StopAny(l Lang) []string {
	return []string{say(l, "stop.out"), say(l, "stop.call", "what", say(l, "stop.any")), say(l, "stop.any-controls")}
}

// WouldNotRun reminds of the fans that would not run when the house was last
// set, by number and name.
func WouldNotRun(l Lang, fans []string) string {
	return say(l, "would-not-run", "what", strings.Join(fans, ", "))
}

// NotBegun says that the house was left as it was, because of what was not so
// at arrival.
func NotBegun(l Lang, items []string) string {
	return say(l, "not-begun", "what", strings.Join(items, "; "))
}

// StopNotSaved is the line of the stop screen where the danger could not be
// written into the record.
func StopNotSaved(l Lang) string { return say(l, "stop.not-saved") }

// ClockRuns is how a clock that runs is answered, one line: before smoke is
// drawn in, and after.
func ClockRuns(l Lang, drawn bool) string {
	if drawn {
		return say(l, "clock.drawn")
	}
	return say(l, "clock.runs")
}

// Holds says what a decision holds for; every decision carries it.
func Holds(l Lang) []string { return []string{say(l, "holds.1"), say(l, "holds.2")} }

// FirstScreen is the text above the first question, a paragraph each; two
// spaces end a label.
func FirstScreen(l Lang) []string { return strings.Split(say(l, "first"), "\n") }

// FirstTitle is the top line of the first screen.
func FirstTitle(l Lang) string { return say(l, "first-title") }

// AboutTest is one page on what the test does.
func AboutTest(l Lang) []string { return strings.Split(say(l, "about"), "\n") }

// NoNet stands in place of the net while none is known, with the baseline read
// or not.
func NoNet(l Lang, baseline bool) string {
	if baseline {
		return say(l, "no-net.worst")
	}
	return say(l, "no-net")
}

// NoLimit stands in place of limits that a scheme does not have.
func NoLimit(l Lang) string { return say(l, "no-limit") }
