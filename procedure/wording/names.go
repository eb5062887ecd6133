package wording

import (
	"strings"

	"cazward/procedure"
)

// StageTitle is the name of a stage in capitals, for the top of a screen.
func StageTitle(l Lang, id procedure.StageID) string { return strings.ToUpper(Stage(l, id)) }

// Stage is the name of a stage within a line.
func Stage(l Lang, id procedure.StageID) string {
	if t := say(l, "stage."+string(id)); t != "" {
		return t
	}
	return plainWord(string(id))
}

// PhaseName of a test.
func PhaseName(l Lang, ph procedure.Phase) string {
	if t := say(l, "phase."+string(ph)); t != "" {
		return t
	}
	return plainWord(string(ph))
}

// SchemeShort is a scheme's name for a narrow screen: "graded".
func SchemeShort(r procedure.Ref) string {
	name := strings.TrimRight(r.Name, "-0123456789")
	if name == "" {
		name = r.Name
	}
	return strings.ReplaceAll(name, "-", " ")
}

// SchemeLong is a scheme's name with its years and, where it matters, its
// status: "graded, 2005/2015". An edited table says so.
func SchemeLong(r procedure.Ref) string {
	out := SchemeShort(r)
	switch r.Name {
	case "graded-2005":
		out += ", 2005/2015"
	case "spillage-2017":
		out += ", 2017"
	case "code-annex-2018":
		out += ", 2018"
	case "canada-mixed":
		out += ", 1995/2022, part withdrawn"
	default:
		if r.Edition != "" {
			out += ", " + r.Edition
		}
		if strings.Contains(strings.ToLower(r.Status), "withdrawn") {
			out += ", withdrawn"
		}
	}
	if r.Edited {
		out += ", edited"
	}
	return out
}

// Evidence says how sure a figure is: "from memory". Nothing known reads as
// not known, which is no better than from memory.
func Evidence(l Lang, e procedure.Evidence) string {
	if t := say(l, "evidence."+string(e)); t != "" {
		return t
	}
	return say(l, "evidence.")
}

// StatusText of an appliance beside the decision.
func StatusText(l Lang, s procedure.Status) string {
	if t := say(l, "status."+string(s)); t != "" {
		return t
	}
	return plainWord(string(s))
}

// Drill gives one of the words of a practice house: of its screens, its
// debrief, its class sheet.
func Drill(l Lang, key string, pairs ...string) string { return say(l, "drill."+key, pairs...) }

// Choice is a line of a list by the question that it answers and its code.
func Choice(l Lang, ask, code string) string { return choiceText(l, ask, code) }
