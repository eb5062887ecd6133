package wording

import (
	"strings"
	"time"

	"cazward/procedure"
)

// Household says what a finding is to the people who live in the home: one
// or two short sentences, without Pa or seconds. It is "" for what passed or
// does not apply, and never words what was not judged as if it were fine.
func Household(l Lang, f procedure.Finding, names func(id string) string) string {
	if f.Verdict == procedure.Pass || f.Verdict == procedure.NotApplicable {
		return ""
	}
	name, value := capital(subject(l, f, names)), ""
	if f.Value != nil {
		value = num(*f.Value, 0)
	}
	put := func(key string) string { return say(l, "home."+key, "name", name, "value", value) }
	kind := aboutOf(f)
	measured := kind == aboutNet || kind == aboutSpill || kind == aboutDraft || kind == aboutCO
	if f.Verdict == procedure.NotEvaluated {
		switch kind {
		case aboutNet:
			return put("no-net")
		case aboutSpill:
			return put("no-spill")
		case aboutDraft:
			return put("no-draft")
		case aboutCO:
			return put("no-co")
		case aboutSeen:
			return put("no-look")
		}
	}
	if !(measured && f.Value != nil) {
		for _, code := range householdCodes(f) {
			if t := put(code); t != "" {
				return t
			}
		}
	}
	end := ""
	switch {
	case f.Natural:
		end = "-natural"
	case kind == aboutNet && f.Verdict == procedure.TooClose:
		end = "-close"
	case f.Value == nil && (kind == aboutCO || kind == aboutAmbient):
		end = "-over"
	}
	switch kind {
	case aboutNet:
		return put("found-net" + strings.TrimSuffix(end, "-natural"))
	case aboutSpill:
		return put("found-spill" + end)
	case aboutDraft:
		return put("found-draft" + end)
	case aboutCO:
		return put("found-co" + strings.TrimSuffix(end, "-natural"))
	case aboutAmbient:
		if f.Detail == string(procedure.LEL) {
			return put("found-gas")
		}
		return put("found-air" + strings.TrimSuffix(end, "-natural"))
	case aboutDoubt:
		return put("found-doubt")
	}
	return put("other")
}

// householdCodes are the codes by which a finding that is no measurement may
// be worded, most exact first. Codes that say what a kind of measurement says
// already take its words, so that one thing is not told twice.
func householdCodes(f procedure.Finding) []string {
	same := map[string]string{"spillage-natural": "found-spill-natural", "spillage-fails": "found-spill", "draft-natural": "found-draft-natural", "net-beyond": "found-net", "net-too-close": "found-net-close",
		"doubt-open": "found-doubt", "no-row": "solid-fuel-no-row", "together": "found-together"}
	var out []string
	for _, code := range []string{f.Detail, f.Rule, strings.TrimPrefix(f.Row, "act-"), f.Action} {
		if x := same[code]; x != "" {
			code = x
		}
		if code != "" {
			out = append(out, code)
		}
	}
	return out
}

// HouseholdStatus is what a status asks of the people who live there; names
// are those of all appliances that have it. "" where it asks nothing.
func HouseholdStatus(l Lang, s procedure.Status, names string) string {
	switch s {
	case procedure.FuelOff, procedure.OffUntilServiced, procedure.MayRunNoFans:
		return say(l, "home.do."+string(s), "names", names)
	}
	return ""
}

// HouseholdDo is what a finding asks the people who live there to see to,
// beside the status of the appliance: whom to call for what. "" where the
// decision's own lines say it.
func HouseholdDo(l Lang, f procedure.Finding, names func(id string) string) string {
	if f.Verdict == procedure.Pass || f.Verdict == procedure.NotApplicable {
		return ""
	}
	key := map[string]string{"fuel-supplier": "supplier", "co-alarm": "alarm", "chimney-sweep": "sweep", "oil-technician": "oil", "source": "source",
		"service-co": "technician", "service-or-house": "technician", "stop-service": "technician", "technician": "technician", "fire-it": "technician", "emergency": "technician",
		"mobile-room-air": "technician", "not-serviced": "technician", "zone": "house", "make-up-air": "house", "forecast-over": "house", "forecast-too-close": "house", "other-dwelling": "neighbor"}[f.Action]
	if key == "" {
		return ""
	}
	return say(l, "home.do."+key, "name", subject(l, f, names))
}

// Notice gives one of the words of the notice for the people who live in the
// home; "" for a key it does not have. Pairs are name and value.
func Notice(l Lang, key string, pairs ...string) string { return say(l, "notice."+key, pairs...) }

// NoticeLines are the lines of a part of the notice.
func NoticeLines(l Lang, key string) []string { return lines(say(l, "notice."+key)) }

// SignalWord is the word of a hazard notice after ANSI Z535 in a language; the
// Spanish ones are those in use on bilingual signs (common practice).
func SignalWord(l Lang, word string) string {
	if t := say(l, "signal."+word); t != "" {
		return t
	}
	return word
}

// Date is a day as it is written in a language, "March 2, 2026".
func Date(l Lang, t time.Time) string {
	months := strings.Split(say(l, "date.months"), " ")
	return say(l, "date", "month", months[(int(t.Month())-1)%len(months)], "day", num(float64(t.Day()), 0), "year", num(float64(t.Year()), 0))
}

// Field gives one of the words of the blank field sheet.
func Field(l Lang, key string, pairs ...string) string { return say(l, "sheet."+key, pairs...) }

// LocalName is what a thing is called, in a language. A name that the program
// gave itself, a kind and perhaps a number, in whatever language the test was
// walked, is given in this one; a name that a person typed stays.
func LocalName(l Lang, kind, name string) string {
	word, n := name, ""
	if i := strings.LastIndexByte(name, ' '); i > 0 && strings.Trim(name[i+1:], "0123456789") == "" {
		word, n = name[:i], name[i:]
	}
	for _, from := range []Lang{English, Spanish, SpanishScreen} {
		if strings.EqualFold(word, KindName(from, kind)) {
			return KindName(l, kind) + n
		}
	}
	return name
}
