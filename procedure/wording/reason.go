package wording

import (
	"math"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Headline is the sentence of a decision, in capitals. What this version does
// not know reads as no result.
func Headline(l Lang, d procedure.Decision, phase procedure.Phase, missing int) string {
	switch d {
	case procedure.Leave, procedure.Refer, procedure.Proceed:
		return say(l, "headline."+string(d))
	case procedure.Hold:
		if phase == procedure.Daily || phase == procedure.TestOut {
			return say(l, "headline.hold-later")
		}
		return say(l, "headline.hold")
	}
	switch {
	case missing == 1:
		return say(l, "headline.incomplete1")
	case missing > 1:
		return say(l, "headline.incomplete", "n", reading.Format(float64(missing), 0))
	}
	return say(l, "headline.incomplete0")
}

// DoFor is what a decision asks for, whatever led to it.
func DoFor(l Lang, d procedure.Decision, phase procedure.Phase) []string {
	later := phase == procedure.Daily || phase == procedure.TestOut
	switch d {
	case procedure.Leave:
		return []string{say(l, "do.leave.1"), say(l, "do.emergency"), say(l, "do.leave.2")}
	case procedure.Hold:
		if later {
			return []string{say(l, "do.hold.later")}
		}
		return []string{say(l, "do.hold.test-in")}
	case procedure.Refer:
		return []string{say(l, "do.refer")}
	case procedure.Proceed:
		if phase == procedure.TestOut {
			return []string{say(l, "do.proceed.out")}
		}
		return []string{say(l, "do.proceed")}
	}
	if later {
		return []string{say(l, "do.incomplete.later")}
	}
	return []string{say(l, "do.incomplete")}
}

// about sorts findings by what they are about. Rule names come from the judge;
// an unknown one is worded from its figures.
type about int

const (
	aboutOther about = iota
	aboutNet
	aboutSpill
	aboutDraft
	aboutCO
	aboutAmbient
	aboutHazard
	aboutSeen
	aboutDoubt
	aboutSealing
)

func aboutOf(f procedure.Finding) about {
	r := strings.ToLower(f.Rule)
	is := func(words ...string) bool {
		for _, w := range words {
			if strings.Contains(r, w) {
				return true
			}
		}
		return false
	}
	switch {
	case is("sealing"):
		return aboutSealing
	case is("venting"):
		return aboutOther // the code of its row says all
	case is("ambient"):
		return aboutAmbient
	case is("hazard", "leak", "rollout", "flame", "alarm", "symptom", "smell", "lel"):
		return aboutHazard
	case is("doubt"):
		return aboutDoubt
	case is("visual", "look", "seen", "check"):
		return aboutSeen
	case is("spill", "together"):
		return aboutSpill
	case is("draft"):
		return aboutDraft
	case is("matrix"), r == "co", strings.HasPrefix(r, "co-"), strings.HasPrefix(r, "co."), strings.HasPrefix(r, "co/"):
		return aboutCO
	case is("pressure", "depressur", "net"):
		return aboutNet
	}
	return aboutOther
}

// subject is the name of what a finding is about.
func subject(l Lang, f procedure.Finding, names func(string) string) string {
	if f.Subject == "" {
		return say(l, "the-house")
	}
	if names != nil {
		if n := names(f.Subject); n != "" {
			return n
		}
	}
	return f.Subject
}

// Reason is one plain sentence: why a finding stands as it does, with value,
// limit and unit where there are any, and "from memory" where the figure is.
// It is total: a rule that it does not know is worded from its figures.
func Reason(l Lang, f procedure.Finding, names func(id string) string) string {
	name := capital(subject(l, f, names))
	var extra []string
	if f.Uncertainty != nil && *f.Uncertainty > 0 && f.Verdict != procedure.NotEvaluated {
		extra = append(extra, say(l, "give-take", "u", num(*f.Uncertainty, decimals(f.Unit))))
	}
	if f.Evidence == procedure.EvidenceMemory && f.Checked == nil {
		// The figure that was measured is not from memory: say whose it is.
		key := "limit-memory"
		if k := aboutOf(f); k == aboutNet || k == aboutSpill || k == aboutDraft {
			key = "" // its limit stands beside it
		}
		extra = append(extra, say(l, key))
		if key == "" {
			extra[len(extra)-1] = Evidence(l, f.Evidence)
		}
	}
	if len(f.Unsure) > 0 {
		var facts []string
		for _, u := range f.Unsure {
			if t := say(l, "fact."+u); t != "" {
				u = t
			} else {
				u = plainWord(u)
			}
			if !has(facts, u) {
				facts = append(facts, u)
			}
		}
		extra = append(extra, say(l, "unsure", "facts", strings.Join(facts, ", ")))
	}
	sure := ""
	if len(extra) > 0 {
		sure = " (" + strings.Join(extra, "; ") + ")"
	}
	value, limit := figures(f)
	where := say(l, "at-worst")
	if f.Natural {
		where = say(l, "at-rest")
	}
	unit := f.Unit
	if unit != "" && unit != "%" {
		unit = " " + unit
	}
	what := plainWord(f.Rule)
	if f.Detail != "" {
		what = detail(l, f.Detail)
	}
	put := func(key string) string {
		return say(l, "about-"+key, "name", name, "value", value, "limit", limit, "unit", unit, "sure", sure, "where", where, "what", what)
	}
	kind := aboutOf(f)
	measured := kind == aboutNet || kind == aboutSpill || kind == aboutDraft || kind == aboutCO
	if f.Verdict != procedure.Pass && f.Verdict != procedure.NotApplicable && kind != aboutSealing && !(measured && f.Value != nil) {
		if t := codeSentence(l, f, names, name, sure); t != "" {
			return t
		}
	}
	v := ""
	switch f.Verdict {
	case procedure.Pass:
		v = "pass"
	case procedure.Fail:
		v = "fail"
	case procedure.TooClose:
		v = "close"
	case procedure.NotApplicable:
		return put("any.na")
	}
	both := f.Value != nil && f.Limit != nil
	switch kind {
	case aboutNet:
		switch {
		case v != "" && both:
			return put("net." + v)
		case v == "" && f.Value != nil:
			return put("net.no-figure")
		case v == "":
			return put("net.none")
		}
	case aboutSealing:
		if v != "" && both {
			return put("sealing." + v)
		}
	case aboutSpill:
		switch {
		case v == "":
			return put("spill.none")
		case v != "pass" && f.Value != nil && strings.HasSuffix(f.Detail, "-still"):
			return put("spill.still")
		case v == "pass" && f.Limit != nil:
			return put("spill.pass")
		case v != "pass" && both && *f.Value > *f.Limit:
			return put("spill.fail-n")
		case v != "pass" && f.Limit != nil:
			return put("spill.fail")
		case v != "pass":
			return put("spill.bare")
		}
	case aboutDraft:
		switch {
		case v == "":
			return put("draft.none")
		case both:
			return put("draft." + v)
		}
	case aboutCO:
		co := func(key string) string {
			return say(l, "about-co."+key, "name", name, "value", value, "limit", limit, "basis", basis(l, f), "sure", sure)
		}
		switch {
		case f.Value == nil && v == "fail":
			return co("over")
		case f.Value == nil:
			return co("none")
		case v == "":
			return co("unjudged")
		case f.Rule == "co-matrix" && f.Limit != nil && v == "pass":
			return co("upto")
		case f.Rule == "co-matrix" && f.Limit != nil && f.Margin != nil && *f.Margin < 0:
			return co("over-band")
		case f.Limit == nil || f.Rule == "co-matrix":
			return co("value")
		case v == "pass":
			return co("pass")
		}
		return co("fail")
	case aboutAmbient:
		at := ""
		if f.Subject != "" {
			at = say(l, "at-the", "what", subject(l, f, names))
		}
		key := "about-ambient."
		if f.Detail == string(procedure.LEL) {
			key = "about-lel."
		}
		if f.Value == nil {
			return say(l, key+"over", "at", at, "sure", sure)
		}
		return say(l, key+"value", "value", value, "at", at, "sure", sure)
	case aboutHazard:
		at := ""
		if f.Subject != "" {
			at = say(l, "at-the", "what", subject(l, f, names))
		}
		if f.Detail == "" {
			what = detail(l, strings.TrimPrefix(f.Rule, "hazard-"))
		}
		if f.Value != nil {
			what += ", " + value + unit
		}
		return say(l, "about-hazard", "what", capital(what), "at", at, "sure", sure)
	case aboutSeen:
		if v == "" {
			return put("unseen")
		}
		if v != "pass" && f.Detail != "" {
			return put("seen")
		}
	case aboutDoubt:
		return say(l, "about-doubt", "what", DoubtText(l, procedure.DoubtCode(f.Detail), nil))
	}
	switch {
	case v == "" && f.Value == nil:
		return put("any.none")
	case v != "" && both:
		return put("any." + v)
	case f.Value != nil:
		return put("any.value")
	}
	return put("any.bad")
}

// basis of a CO value, and what went with it in the action matrix.
func basis(l Lang, f procedure.Finding) string {
	rising := ""
	if f.Rising {
		rising = say(l, "co-rising")
	}
	spill, draft, both := strings.Cut(f.Detail, "/")
	if both {
		return rising + say(l, "with-spill."+spill) + say(l, "with-draft."+draft)
	}
	return say(l, "basis."+f.Detail) + rising
}

// codeSentence words a finding whose code says it all.
func codeSentence(l Lang, f procedure.Finding, names func(string) string, name, sure string) string {
	at := ""
	if f.Subject != "" {
		at = say(l, "at-the", "what", subject(l, f, names))
	}
	if f.Verdict == procedure.NotEvaluated && aboutOf(f) == aboutSeen {
		return "" // it was not seen, so it was not wrong either
	}
	what := ""
	if f.Rule == "configuration" && f.Detail != "" {
		if what = say(l, "config."+f.Detail); what == "" {
			what = f.Detail
			if names != nil {
				what = names(f.Detail)
			}
		}
		what = ": " + what
	}
	for _, code := range []string{f.Detail, f.Rule, strings.TrimPrefix(f.Row, "act-"), f.Action} {
		if code == "" {
			continue
		}
		if t := say(l, "code."+code, "name", name, "at", at, "what", what); t != "" {
			return strings.TrimSuffix(t, ".") + sure + "."
		}
	}
	return ""
}

// figures prints a value and its limit so that a fail never looks like a pass.
func figures(f procedure.Finding) (value, limit string) {
	d := decimals(f.Unit)
	switch {
	case f.Value != nil && f.Limit != nil && !math.IsNaN(*f.Value) && !math.IsNaN(*f.Limit):
		return reading.FormatPair(*f.Value, *f.Limit, d)
	case f.Value != nil:
		value = num(*f.Value, d)
	}
	if f.Limit != nil {
		limit = num(*f.Limit, d)
	}
	return value, limit
}

// detail words a code that says what exactly: a checklist line, a hazard, a
// doubt, a condition.
func detail(l Lang, code string) string {
	if t, ok := pick(l, texts, "detail."+code); ok {
		return t
	}
	if procedure.HazardCode(code) == procedure.Leak || code == "rollout" || code == "flame-change" || code == "ambient-co" || code == "lel" {
		return choiceText(l, "hazard.kind", code)
	}
	if _, ok := pick(l, items, code); ok {
		return ItemText(l, code)
	}
	return choiceText(l, "detail", code)
}

// Do is what to do about a finding and who may do it, most urgent first:
// out, fuel, off, then who repairs, then how to settle it.
func Do(l Lang, f procedure.Finding, names func(id string) string) []string {
	if f.Verdict == procedure.Pass || f.Verdict == procedure.NotApplicable {
		return nil
	}
	what := subject(l, f, names)
	if f.Subject != "" {
		what = say(l, "with-article", "what", what)
	}
	var out []string
	add := func(key string) {
		for _, t := range lines(say(l, key, "what", what)) {
			if !has(out, t) {
				out = append(out, t)
			}
		}
	}
	if f.Severity == procedure.Leave {
		add("do.emergency")
	}
	if f.Action == "fuel-supplier" {
		add("action.fuel-supplier")
	}
	switch f.Status {
	case procedure.FuelOff:
		add("do.fuel-off")
	case procedure.OffUntilServiced:
		add("do.off")
	case procedure.MayRunNoFans:
		add("do.no-fans")
	}
	if say(l, "action."+f.Action) != "" {
		add("action." + f.Action)
	} else {
		add(fallback(f))
	}
	if f.Verdict == procedure.TooClose {
		if aboutOf(f) == aboutDraft {
			add("do.settle-draft")
		} else {
			add("do.settle")
		}
	}
	return out
}

// fallback is the action for a finding whose scheme names none that this
// version knows.
func fallback(f procedure.Finding) string {
	kind := aboutOf(f)
	switch {
	case kind == aboutDoubt:
		return "action.read-again"
	case kind == aboutAmbient:
		return "action.source"
	case f.Verdict == procedure.NotEvaluated && f.Severity == procedure.Refer:
		return "action.technician"
	case f.Verdict == procedure.NotEvaluated:
		return "do.retest"
	case kind == aboutNet:
		return "action.zone"
	case kind == aboutSpill || kind == aboutDraft:
		return "action.service-or-house"
	case kind == aboutCO:
		return "action.service-co"
	}
	return "action.technician"
}

// DoubtText is the question that a doubt asks, with what was seen.
func DoubtText(l Lang, code procedure.DoubtCode, args map[string]string) string {
	key := "doubt." + string(code)
	if w, ok := pick(l, steps, key); ok && args != nil {
		return capital(fill(w.ask, args))
	}
	if t := say(l, "short-doubt."+string(code)); t != "" {
		return t
	}
	return capital(plainWord(string(code))) + "."
}

// MissingText says what is missing and why.
func MissingText(l Lang, m procedure.Missing, names func(id string) string) string {
	return say(l, "missing", "what", KeyText(l, m.Step, names), "why", missingWhy(l, m))
}

// MissingList is all that is missing, each thing once, by the reason why:
// "not done: draft of furnace, CO of furnace; left out: refused: ...".
func MissingList(l Lang, all []procedure.Missing, names func(id string) string) string {
	var order []string
	what := map[string][]string{}
	for _, m := range all {
		why := missingWhy(l, m)
		if what[why] == nil {
			order = append(order, why)
		}
		if t := KeyText(l, m.Step, names); !has(what[why], t) {
			what[why] = append(what[why], t)
		}
	}
	for i, why := range order {
		order[i] = why + ": " + strings.Join(what[why], ", ")
	}
	return strings.Join(order, "; ")
}

func missingWhy(l Lang, m procedure.Missing) string {
	why := say(l, "why."+m.Why)
	if why == "" {
		if r, ok := strings.CutPrefix(m.Why, "skipped-"); ok {
			why = say(l, "why.skipped", "why", choiceText(l, "skip.reason", r))
		} else {
			why = plainWord(m.Why)
		}
	}
	return why
}

// KeyText says in a few words what the fact under a key is.
func KeyText(l Lang, key string, names func(id string) string) string {
	p := strings.Split(key, "/")
	if p[0] == "doubt" && len(p) > 2 {
		return say(l, "key.doubt", "what", KeyText(l, strings.Join(p[2:], "/"), names))
	}
	name, part := "", ""
	if len(p) > 1 {
		name = p[1]
		if names != nil {
			if n := names(name); n != "" {
				name = n
			}
		}
	}
	if len(p) > 2 {
		part = partText(l, p)
		if t := say(l, "key."+p[0]+"."+p[2]); t != "" && p[0] == "appliance" {
			part = t
		}
		if part == "" {
			part = plainWord(p[2])
		}
	}
	try := []string{}
	if len(p) == 2 && p[0] == "appliance" {
		try = append(try, "appliance-all")
	}
	if len(p) > 2 && p[0] != "appliance" {
		try = append(try, p[0]+"."+p[2])
	}
	if len(p) > 1 {
		try = append(try, p[0]+"."+p[1])
	}
	try = append(try, p[0])
	for _, k := range try {
		if t := say(l, "key."+k, "name", name, "part", part); t != "" {
			return t
		}
	}
	return plainWord(strings.ReplaceAll(key, "/", " "))
}

// partText is what a reading or a set-up of the search stands for.
func partText(l Lang, key []string) string {
	part := key[2]
	if key[0] == "reading" || key[0] == "setup" {
		for _, stem := range []string{"air", "cazair", "more"} { // air1, air2: one for each combination
			if part != "cazair0" && strings.TrimRight(strings.TrimPrefix(part, stem), "0123456789") == "" {
				part = stem
			}
		}
	}
	return say(l, "part."+part)
}

// Short is a few words for a screen in a list of what was read so far.
func Short(l Lang, st procedure.Step) string {
	name := st.Name
	if name == "" {
		name = say(l, "this-one")
	}
	part := ""
	if p := strings.Split(st.ID, "/"); len(p) > 2 {
		if part = partText(l, p); part == "" {
			part = say(l, "part.")
		}
	}
	if t := say(l, "short."+st.Ask, "name", name, "part", part); t != "" {
		return strings.TrimSpace(t)
	}
	if len(st.ID) > 0 {
		return KeyText(l, st.ID, func(string) string { return st.Name })
	}
	return plainWord(st.Ask)
}

// LimitText names a limit beside the net: "one vent, -3.0 (from memory)".
func LimitText(l Lang, r procedure.Limit) string {
	a := r.Applies
	what := say(l, "limit.any")
	switch n := len(a.Kinds); {
	case n == 1:
		what = KindName(l, string(a.Kinds[0]))
	case n == 2:
		what = KindName(l, string(a.Kinds[0])) + "/" + KindName(l, string(a.Kinds[1]))
	case len(a.Vents) > 0:
		if t := say(l, "limit."+string(a.Vents[0])); t != "" {
			what = t
		}
	}
	switch {
	case a.TopInducer == procedure.Yes:
		what = say(l, "limit.top-inducer")
	case a.HighStatic == procedure.Yes:
		what = say(l, "limit.high-static")
	case a.Orphaned == procedure.Yes:
		what = say(l, "limit.orphaned", "what", what)
	case a.Damper == procedure.Yes:
		what = say(l, "limit.damper")
	case a.Common == procedure.Yes || len(a.Partner) > 0:
		what = say(l, "limit.one-vent")
	}
	v, _ := reading.FormatPair(r.Bound.Value, r.Bound.Value, decimals(r.Unit)) // never rounded: a rounded limit is another limit
	t := what + ", " + v
	if (r.Evidence == procedure.EvidenceMemory || r.Evidence == procedure.EvidenceOwnRule) && r.Checked == nil {
		t += " (" + Evidence(l, r.Evidence) + ")"
	}
	return t
}

// DoStatus says what is to be done for the status of an appliance; "" for one
// that may run.
func DoStatus(l Lang, st procedure.Status, name string) string {
	key := map[procedure.Status]string{procedure.FuelOff: "do.fuel-off", procedure.OffUntilServiced: "do.off"}[st]
	if key == "" {
		return ""
	}
	return say(l, key, "what", say(l, "with-article", "what", name))
}

// NotLit says that an appliance was not tried because lighting it was not safe.
func NotLit(l Lang, name string) string { return capital(say(l, "not-lit", "name", name)) }
