package wording

import "strings"

// desk is what the supervisor reads of each reason: what was seen, then what
// to look at. None says why it came about: most have an innocent cause.
var desk = map[string]string{
	"not-judged":          "no decision can be made of this record: {why}. Look at it with: cazward verify, cazward show",
	"integrity.damaged":   "the file is not what a writer left: {why}. Look for an unchanged copy",
	"integrity.torn":      "the last line was cut short: {why}. Look whether the crew went on with it",
	"integrity.fault":     "something kept beside the record is not as it should be: {why}. Look for the file it came with",
	"newer":               "written by a newer version: {why}. Look at it with that version or a newer one",
	"second-record":       "{n} different records carry this id and all are kept. Look at each: which one is the home's?",
	"leave":               "everyone out{about}. Look whether it was put right and tested again",
	"hold.test-in":        "not to be air-sealed as it is{about}. Look what was arranged",
	"hold.later":          "not to be left as it was{about}. Look whether it was put right and tested again",
	"incomplete":          "no result, things missing: {n}. Look what it would take to finish",
	"refer":               "goes ahead only with a service arranged{about}. Look whether it was",
	"too-close":           "too close to the limit to call: {about}. Look at the give-or-take; pairs or a calmer day settle it",
	"from-memory":         "rests on figures recalled from memory: {rows}. Look them up and mark them checked",
	"otherwise.table":     "closed as {was}; the table in force ({scheme}) now says {now}. Look at the rows that differ",
	"otherwise.edited":    "closed as {was}; this table ({scheme}), which was edited in one of the two, now says {now}. Look at the edited rows",
	"otherwise.program":   "closed as {was}; this program says {now} under the same table. Look at both reports",
	"no-later-test":       "sealing was allowed, and no daily test or test-out of this home is kept here. Look whether work was done",
	"calibration":         "calibration date more than a year before the test, or after it: {about}. Look at the certificate",
	"baseline-drift":      "baselines in {zone} differ by {drift} Pa where the plan allows {limit}. Look at the weather and at what ran",
	"open":                "the test was never closed. Look whether the crew goes on with it",
	"reopened":            "reopened after it was closed: {reason}. Look at what changed",
	"signed-earlier":      "{name} signed an earlier state ({verdict}). Look at what changed since",
	"returned":            "returned by {name}: {note}. Look whether the crew answered",
	"clock-longer":        "{step} says {says} s, while {passed} s passed between what was kept before and after. Look at how it was timed",
	"same-digits":         "{a} and {b} have the same {n} samples in the same order. Look at whether both were read",
	"no-spread":           "{n} readings never move between samples. Look at hoses, taps and the gauge's averaging",
	"fast-walk":           "{screens} screens in {minutes} min; the timed steps alone and bare answering take {need} min. Look at how it was entered",
	"rises-with-fans":     "pressure in {zone} rose {rise} Pa with exhaust fans on. Look at hoses and taps; supply air can do it too",
	"net-far-off.less":    "net in {zone} is {net} Pa; CFM50 and fan flows give about {want}. Look at windows, doors and whether fans moved air",
	"net-far-off.more":    "net in {zone} is {net} Pa; CFM50 and fan flows give about {want}. Look at the air handler, CFM50 and the hoses",
	"same-elsewhere":      "the same pressure samples stand in home {home}. Look at both sheets",
	"unsettled-doubts":    "signs of a spoiled reading left open: {codes}. Look at what would settle them",
	"desk.unknown-reason": "a reason that this version has no words for. Read it with a newer version",
}

// Desk is the sentence of a reason in the queue, English. An argument that is
// not known reads as "not known".
func Desk(code string, args map[string]string) string {
	key := code
	switch code {
	case "integrity":
		key += "." + args["state"]
	case "hold":
		if key = "hold.later"; args["phase"] == "test-in" || args["phase"] == "" {
			key = "hold.test-in"
		}
	case "otherwise-now":
		key = "otherwise." + args["why"]
	case "net-far-off":
		key += "." + args["side"]
	}
	t, ok := desk[key]
	if !ok {
		t = desk["desk.unknown-reason"]
	}
	for {
		a, rest, ok := strings.Cut(t, "{")
		if !ok {
			return t
		}
		k, b, ok := strings.Cut(rest, "}")
		if !ok {
			return t
		}
		v := strings.ReplaceAll(strings.ReplaceAll(args[k], "{", "("), "}", ")") // what was typed is no placeholder
		switch {
		case v == "" && k == "about" && (strings.HasPrefix(code, "leave") || code == "hold" || code == "refer"):
		case v == "" && k == "note":
			v = "no note"
		case v == "":
			v = "not known"
		case k == "about" && code != "too-close" && code != "calibration":
			v = ": " + v
		}
		t = a + v + b
	}
}
