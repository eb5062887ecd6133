package wording

import (
	"sort"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// step is the words of one Ask code. How and Why hold a line each, separated
// by line feeds; {braces} are filled from the step and its plan.
type step struct {
	title string // where it is not the stage's own
	ask   string
	how   string // "" takes that of the form
	box   string
	why   string // what goes wrong without it; the rule; what the answer changes
	src   string // source of the rule: scheme, limits, tiers, practice, own
}

// catalogue is all words of one language. Spanish is a second value with the
// same keys.
type catalogue struct {
	steps    map[string]step
	forms    map[string]step // how and box of each form
	cautions map[string]Caution
	items    map[string]string
	choices  map[string]string // "ask/code" before "code"
	text     map[string]string
}

func of(l Lang) catalogue {
	switch l {
	case Spanish:
		return es()
	case SpanishScreen:
		return esScreen()
	}
	return en()
}

// Made when they are first wanted: a run needs one language, many need none.
var (
	en = sync.OnceValue(func() catalogue {
		return catalogue{steps: enSteps(), forms: enForms(), cautions: enCautions(), items: enItems(), choices: enChoices(), text: merged(enText(), enPaper(), under("sheet.", enSheet()), under("page.", enPage()), under("drill.", enDrill()))}
	})
	es = sync.OnceValue(func() catalogue {
		return catalogue{steps: esSteps(), forms: esForms(), cautions: esCautions(), items: esItems(), choices: esChoices(), text: merged(esText(), esPaper(), under("sheet.", esSheet()), under("page.", esPage()), under("drill.", esDrill()))}
	})
	esScreen = sync.OnceValue(func() catalogue { return folded(es()) })
)

// keys lists every key of a catalogue with the name of its part.
func (c catalogue) keys() []string {
	var out []string
	add := func(part, key string) { out = append(out, part+"/"+key) }
	for k := range c.steps {
		add("steps", k)
	}
	for k := range c.forms {
		add("forms", k)
	}
	for k := range c.cautions {
		add("cautions", k)
	}
	for k := range c.items {
		add("items", k)
	}
	for k := range c.choices {
		add("choices", k)
	}
	for k := range c.text {
		add("text", k)
	}
	sort.Strings(out)
	return out
}

// Untranslated lists the keys of the English catalogue that a language does
// not have; screens show the English text there.
func Untranslated(l Lang) []string {
	have := map[string]bool{}
	for _, k := range of(l).keys() {
		have[k] = true
	}
	var out []string
	for _, k := range en().keys() {
		if !have[k] {
			out = append(out, k)
		}
	}
	return out
}

// pick looks a key up in a language and falls back to English, part by part.
func pick[T any](l Lang, part func(catalogue) map[string]T, key string) (T, bool) {
	if v, ok := part(of(l))[key]; ok {
		return v, true
	}
	v, ok := part(en())[key]
	return v, ok
}

func texts(c catalogue) map[string]string   { return c.text }
func steps(c catalogue) map[string]step     { return c.steps }
func formsOf(c catalogue) map[string]step   { return c.forms }
func items(c catalogue) map[string]string   { return c.items }
func choices(c catalogue) map[string]string { return c.choices }
func cautions(c catalogue) map[string]Caution {
	return c.cautions
}

// say gives a text with its placeholders filled: pairs of name and value.
func say(l Lang, key string, pairs ...string) string {
	t, ok := pick(l, texts, key)
	if !ok {
		return ""
	}
	args := map[string]string{}
	for i := 0; i+1 < len(pairs); i += 2 {
		args[pairs[i]] = pairs[i+1]
	}
	return fill(t, args)
}

// fill replaces {name} by its value; one without a value vanishes, so that no
// brace ever reaches a screen. What a value holds is never filled again.
func fill(t string, args map[string]string) string {
	var b strings.Builder
	for {
		i := strings.IndexByte(t, '{')
		if i < 0 {
			break
		}
		j := strings.IndexByte(t[i:], '}')
		if j < 0 {
			break
		}
		b.WriteString(t[:i])
		b.WriteString(args[t[i+1:i+j]])
		t = t[i+j+1:]
	}
	b.WriteString(t)
	return b.String()
}

func lines(s string) []string {
	if s == "" {
		return nil
	}
	return strings.Split(s, "\n")
}

// plainWord makes a code without an entry readable: it never shows a code
// that a test did not find words for as if it were a sentence.
func plainWord(code string) string {
	return strings.NewReplacer("-", " ", "_", " ", ".", " ").Replace(code)
}

// For gives the words of a step under its plan. It is total: a code that the
// catalogue does not know is shown as its own words.
func For(l Lang, st procedure.Step, p procedure.Plan) Screen {
	w, known := pick(l, steps, st.Ask)
	f, _ := pick(l, formsOf, formKey(st))
	if !known {
		w.ask = capital(plainWord(st.Ask)) + "?"
	}
	if w.how == "" {
		w.how = f.how
	}
	if w.box == "" {
		w.box = f.box
	}
	args := stepArgs(l, st, p)
	if g := st.Args["go-on"]; g != "" {
		args["go-on"] = "  (" + g + ")"
	}
	sc := Screen{Title: w.title, Question: capital(fill(w.ask, args)), Box: fill(w.box, args)}
	if sc.Title == "" {
		sc.Title = StageTitle(l, st.Stage)
	}
	for _, h := range lines(strings.TrimSpace(w.how)) {
		sc.How = append(sc.How, fill(h, args))
	}
	if st.Wanted {
		sc.How = append(sc.How, say(l, "how.wanted"))
	}
	for _, c := range cautionCodes(st) {
		if k, ok := pick(l, cautions, c); ok {
			sc.Cautions = append(sc.Cautions, Caution{k.Word, fill(k.Text, args)})
		}
	}
	sort.SliceStable(sc.Cautions, func(i, j int) bool { return severity(sc.Cautions[i].Word) < severity(sc.Cautions[j].Word) })
	if len(sc.Cautions) > 2 {
		sc.Cautions = sc.Cautions[:2]
	}
	sc.Why = why(l, w, st, p, args)
	for _, it := range st.Items {
		sc.Items = append(sc.Items, itemText(l, st, it))
	}
	var names []string
	if st.Args["names"] != "" {
		names = strings.Split(st.Args["names"], "|")
	}
	for i, c := range st.Choices {
		if i < len(names) {
			sc.Choices = append(sc.Choices, names[i])
			continue
		}
		sc.Choices = append(sc.Choices, fill(choiceText(l, st.Ask, c), args))
	}
	how := sc.How
	if st.Form == procedure.FormClock && len(how) > 0 { // the keys of the full screen are not those of plain mode
		how = append([]string{say(l, "clock.where")}, how[len(how)-1:]...)
	}
	sc.Plain = sc.Question + " " + spoken(how)
	return sc
}

// spoken puts the lines of how, and what stands in columns on them, one after
// the other.
func spoken(how []string) string {
	var parts []string
	for _, h := range how {
		for _, p := range strings.Split(h, "   ") {
			if p = strings.TrimSpace(p); p != "" {
				parts = append(parts, strings.Join(strings.Fields(p), " "))
			}
		}
	}
	return strings.Join(parts, "; ")
}

// formKey tells apart forms that are answered a little differently.
func formKey(st procedure.Step) string {
	switch {
	case st.Form == procedure.FormChecklist && len(st.Items) == 1:
		return "checklist.one"
	case st.Form == procedure.FormSetup && (st.Setup == nil || len(st.Setup.Fans) == 0):
		return "setup.no-fan"
	}
	return string(st.Form)
}

// severity orders signal words, most severe first.
func severity(word string) int {
	for i, w := range []string{"DANGER", "WARNING", "CAUTION", "NOTICE"} {
		if w == word {
			return i
		}
	}
	return 0
}

// cautionCodes are those of the step and, while a burner runs, what everybody
// near it must know.
func cautionCodes(st procedure.Step) []string {
	out := append([]string{}, st.Cautions...)
	if st.Burning && !has(out, "burner-on") {
		out = append([]string{"burner-on"}, out...)
	}
	if st.Ask == "shutdown" {
		return []string{"shutdown"}
	}
	if st.Ask == "pressure.held" {
		out = append(out, "controls") // the last screen before a burner is lit
	}
	return out
}

func has(list []string, x string) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
}

func stepArgs(l Lang, st procedure.Step, p procedure.Plan) map[string]string {
	a := map[string]string{}
	for k, v := range st.Args {
		a[k] = v
	}
	if st.Name != "" {
		a["name"] = st.Name
	}
	if a["name"] == "" {
		a["name"] = say(l, "this-one")
	}
	a["limit_s"] = reading.Format(st.LimitS, 0)
	a["scheme"] = SchemeLong(p.Scheme)
	a["unit"] = st.Unit
	a["input"], a["k_of_n"] = "", ""
	if in := st.Args["input"]; in != "" && in != "0" {
		a["input"] = ", " + group(in) + " " + st.Args["unit"]
	}
	if st.Args["k"] != "" && st.Args["n"] != "" {
		a["k_of_n"] = say(l, "k-of-n", "k", st.Args["k"], "n", st.Args["n"])
	}
	a["vent"] = ""
	switch procedure.Tri(st.Args["vent"]) {
	case procedure.Yes:
		a["vent"] = say(l, "vent-cold")
	case procedure.No:
		a["vent"] = say(l, "vent-warm")
	default:
		if st.Form == procedure.FormClock {
			a["vent"] = say(l, "vent-not-known")
			if st.Args["natural"] != "" {
				a["vent"] = say(l, "vent-cold")
			}
		}
	}
	min := p.Baseline.MinSamples
	if min < 2 {
		min = 2
	}
	a["min"] = reading.Format(float64(min), 0)
	a["wind_max"] = reading.Format(p.Baseline.MaxWind, 0)
	a["spread_max"] = reading.Format(p.Baseline.MaxSpread, 1)
	a["warm"] = reading.Format(p.Spillage.Warm, 0)
	a["cold"] = reading.Format(p.Spillage.Cold, 0)
	a["cold_after"] = reading.Format(p.Spillage.ColdAfter, 0)
	a["co_after"] = reading.Format(p.CO.AfterMin, 0)
	a["pairs_min"] = reading.Format(float64(max(3, p.Constants.MinPairs)), 0)
	if st.Setup != nil && st.Setup.FlowCFM > 0 {
		a["flow"] = reading.Format(st.Setup.FlowCFM, 0)
	}
	return a
}

// group sets thousands apart: "40,000". Only for showing; entry refuses it.
func group(s string) string {
	if strings.Trim(s, "0123456789") != "" || len(s) < 4 || len(s) > 15 {
		return s
	}
	return group(s[:len(s)-3]) + "," + s[len(s)-3:]
}

func itemText(l Lang, st procedure.Step, it procedure.Item) string {
	t, ok := pick(l, items, it.Code)
	if !ok {
		t = plainWord(it.Code)
		if it.Name != "" {
			t = "{name}"
		}
	}
	name := it.Name
	if strings.HasPrefix(it.Code, "door") {
		name = strings.TrimSuffix(name, " door")
	}
	return fill(t, map[string]string{"name": name})
}

func choiceText(l Lang, ask, code string) string {
	if t, ok := pick(l, choices, ask+"/"+code); ok {
		return t
	}
	if t, ok := pick(l, choices, code); ok {
		return t
	}
	return plainWord(code)
}

// KindName is what a thing of a kind is called when it has no name of its own:
// "water heater", "bath fan", "bedroom".
func KindName(l Lang, kind string) string { return choiceText(l, "kind", kind) }

// ItemText is a line of a list by its code, without the name of its thing.
func ItemText(l Lang, code string) string {
	return strings.TrimSpace(itemText(l, procedure.Step{}, procedure.Item{Code: code}))
}

func why(l Lang, w step, st procedure.Step, p procedure.Plan, args map[string]string) []string {
	all := lines(w.why)
	if len(all) == 0 {
		return nil
	}
	var out []string
	for _, t := range all {
		out = append(out, fill(t, args))
	}
	if src := sourceLine(l, w.src, p); src != "" {
		last := len(out) - 1
		out = append(out[:last:last], append([]string{src}, out[last])...)
	}
	if len(out) > 5 {
		out = out[:5]
	}
	for i := range out {
		out[i] = cut(out[i], 75)
	}
	return out
}

// cut shortens a line at a word; three points say that it was.
func cut(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	s = string(r[:n-3])
	if i := strings.LastIndexByte(s, ' '); i > n/2 {
		s = s[:i]
	}
	return strings.TrimRight(s, " ,;:") + "..."
}

func sourceLine(l Lang, src string, p procedure.Plan) string {
	switch src {
	case "scheme":
		return say(l, "source", "what", SchemeLong(p.Scheme), "evidence", "")
	case "limits":
		if len(p.Pressure) == 0 {
			return say(l, "source.no-limit", "what", SchemeLong(p.Scheme))
		}
		e := procedure.EvidenceSeen
		for _, r := range p.Pressure {
			if r.Checked == nil && weaker(r.Evidence, e) {
				e = r.Evidence
			}
		}
		return say(l, "source", "what", SchemeLong(p.Scheme), "evidence", " ("+Evidence(l, e)+")")
	case "lel", "tiers":
		code := procedure.AmbientCO
		if src == "lel" {
			code = procedure.LEL
		}
		for i := len(p.Interrupts) - 1; i >= 0; i-- {
			if t := p.Interrupts[i]; t.Code == code && t.Source != "" {
				e := t.Evidence
				if t.Checked != nil { // somebody has read the document since
					e = procedure.EvidenceSeen
				}
				return say(l, "source", "what", cut(t.Source, 40), "evidence", " ("+Evidence(l, e)+")")
			}
		}
		return say(l, "source.tiers")
	case "practice", "own":
		return say(l, "source."+src)
	}
	return ""
}

// weaker reports whether a is less sure than b.
func weaker(a, b procedure.Evidence) bool {
	rank := func(e procedure.Evidence) int {
		switch e {
		case procedure.EvidenceSeen:
			return 0
		case procedure.EvidenceSecondary:
			return 1
		case procedure.EvidencePractice, procedure.EvidenceOwnRule:
			return 2
		}
		return 3
	}
	return rank(a) > rank(b)
}

// capital makes the first letter a capital one, behind an opening mark too.
func capital(s string) string {
	head := ""
	for _, mark := range []string{"¿", "¡"} {
		if rest, ok := strings.CutPrefix(s, mark); ok {
			head, s = mark, rest
		}
	}
	r, n := utf8.DecodeRuneInString(s)
	if r == utf8.RuneError || !unicode.IsLower(r) {
		return head + s
	}
	return head + string(unicode.ToUpper(r)) + s[n:]
}
