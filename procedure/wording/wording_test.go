package wording

import (
	"os"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
	"testing"

	"cazward/procedure"
)

// driver are the screens that the command makes itself.
func driver() []procedure.Step {
	var skips []string
	for _, r := range procedure.SkipReasons {
		skips = append(skips, string(r))
	}
	one := func(ask string, f procedure.Form, choices ...string) procedure.Step {
		return procedure.Step{ID: ask, Ask: ask, Form: f, Choices: choices, Stage: procedure.StageArrive, Name: "water heater"}
	}
	C, T := procedure.FormChoice, procedure.FormText
	shut := one("shutdown", procedure.FormChecklist)
	shut.Burning = true
	shut.Items = []procedure.Item{{Code: "burners-out"}, {Code: "fans-off"}, {Code: "doors-windows-open"}}
	amb := one("ambient.now", procedure.FormAmbient)
	amb.Unit = "ppm"
	more := []procedure.Step{}
	for _, x := range []string{"confirm.appliances", "confirm.zone", "confirm.appliance", "confirm.fans", "confirm.doors", "confirm.airhandlers", "list.carried"} {
		more = append(more, one(x, procedure.FormConfirm, "as-before", "changed"))
	}
	for _, x := range []string{"gusty", "wind", "rises", "no-step", "frozen", "baseline-high", "drift", "diluted", "zero-air", "draft-no-spill", "clock", "warm-vent"} {
		d := one("doubt."+x, procedure.FormDoubt)
		d.Args = map[string]string{"doubt": x, "key": "arrive/weather", "spread": "2.3", "limit": "1", "wind": "18", "rise": "1.1", "value": "+0.5", "drift": "0.8", "o2": "17.5", "name": "water heater"}
		more = append(more, d)
	}
	rs := one("setup.resume", procedure.FormSetup)
	rs.Cautions = []string{"house-still-changed"}
	ar := one("ambient.resume", procedure.FormAmbient)
	ar.Unit, ar.Cautions = "ppm", []string{"house-still-changed"}
	told := one("told.hazard", procedure.FormTold)
	told.Cautions = []string{"after-leave"}
	re := one("putback.reentry", C, "cleared", "not-cleared")
	re.Cautions = []string{"after-leave"}
	more = append(more, rs, ar, told, re)
	return append(more, []procedure.Step{one("skip.reason", C, skips...), one("note", T), one("fix.pick", C), one("fix.reason", T), amb,
		one("hazard.kind", C, "alarm", "symptoms", "smell", "leak", "ambient-co", "rollout", "flame-change"), one("hazard.where", T),
		one("hazard.subject", C, "none-of-these"), one("new.home", T), one("new.tester", T), one("first", C, "demo", "new", "go-on", "about"),
		shut, one("phase.choose", C, "test-in", "daily", "test-out"), one("record.choose", C), one("about", C, "go-back")}...)
}

// metCodes are all codes that the sequence and the driver bring to a screen.
type metCodes struct{ asks, items, choices, cautions map[string]bool }

func gather(t *testing.T, each func(procedure.Step, procedure.Plan)) metCodes {
	t.Helper()
	m := metCodes{map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}}
	take := func(st procedure.Step, p procedure.Plan) {
		m.asks[st.Ask] = true
		for _, it := range st.Items {
			m.items[it.Code] = true
		}
		names := 0
		if st.Args["names"] != "" {
			names = len(strings.Split(st.Args["names"], "|"))
		}
		for i, c := range st.Choices {
			if i >= names {
				m.choices[st.Ask+"/"+c] = true
			}
		}
		for _, c := range cautionCodes(st) {
			m.cautions[c] = true
		}
		if each != nil {
			each(st, p)
		}
	}
	walkAll(t, take)
	for _, st := range driver() {
		take(st, richPlan("smoke", true))
	}
	return m
}

func TestEveryCodeHasWords(t *testing.T) {
	m := gather(t, nil)
	for a := range m.asks {
		if _, ok := en().steps[a]; !ok {
			t.Errorf("step %q has no words", a)
		}
	}
	for c := range m.items {
		if _, ok := en().items[c]; !ok {
			t.Errorf("item %q has no words", c)
		}
	}
	for c := range m.choices {
		ask, code, _ := strings.Cut(c, "/")
		if choiceText(English, ask, code) == plainWord(code) {
			if _, ok := en().choices[code]; !ok {
				t.Errorf("choice %q has no words", c)
			}
		}
	}
	for c := range m.cautions {
		if _, ok := en().cautions[c]; !ok {
			t.Errorf("caution %q has no words", c)
		}
	}
}

// The random walk may miss a branch; the source of the sequence names every
// question, so it is read too.
func TestEveryAskInTheSequenceHasWords(t *testing.T) {
	files, err := filepath.Glob("../sequence/*.go")
	if err != nil || len(files) == 0 {
		t.Fatalf("no source: %v", err)
	}
	re := regexp.MustCompile(`"((?:arrive|ambient|list|confirm|look|prepare|hose|setup|pressure|doors|spill|draft|co|told|decide|putback)\.[a-z-]+)"`)
	ask := regexp.MustCompile(`Ask: "([a-z.-]+)"`)
	caution := regexp.MustCompile(`Cautions(?:: | = )\[\]string\{([^}]*)\}`)
	quoted := regexp.MustCompile(`"([^"]+)"`)
	n := 0
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range append(re.FindAllStringSubmatch(string(b), -1), ask.FindAllStringSubmatch(string(b), -1)...) {
			if strings.HasSuffix(m[1], ".") {
				continue // put together: doubt.CODE
			}
			n++
			if _, ok := en().steps[m[1]]; !ok {
				t.Errorf("%s asks %q, which has no words", f, m[1])
			}
		}
		for _, m := range caution.FindAllStringSubmatch(string(b), -1) {
			for _, c := range quoted.FindAllStringSubmatch(m[1], -1) {
				n++
				if _, ok := en().cautions[c[1]]; !ok {
					t.Errorf("%s warns with %q, which has no words", f, c[1])
				}
			}
		}
	}
	if n < 40 {
		t.Fatalf("only %d codes found in the source", n)
	}
}

// Words that no screen can reach are dead weight for translators.
func TestUnused(t *testing.T) {
	m := gather(t, nil)
	src := ""
	files, _ := filepath.Glob("../*/*.go")
	cmd, _ := filepath.Glob("../../cmd/cazward/*.go")
	own, _ := filepath.Glob("*.go")
	for _, f := range append(append(files, cmd...), own...) {
		if strings.Contains(f, "en_") || strings.Contains(f, "es_") || strings.HasSuffix(f, "_test.go") {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		src += string(b)
	}
	home, err := os.ReadFile("../home.go")
	if err != nil {
		t.Fatal(err)
	}
	event, err := os.ReadFile("../event.go")
	if err != nil {
		t.Fatal(err)
	}
	src += string(home) + string(event)
	var unused []string
	for k := range en().steps {
		code, isDoubt := strings.CutPrefix(k, "doubt.")
		if !m.asks[k] && !strings.Contains(src, `"`+k+`"`) && !(isDoubt && strings.Contains(src, `"`+code+`"`)) && !strings.HasSuffix(k, "-again") {
			unused = append(unused, "steps/"+k)
		}
	}
	for k := range en().items {
		if !m.items[k] && !strings.Contains(src, `"`+k+`"`) {
			unused = append(unused, "items/"+k)
		}
	}
	for k := range en().choices {
		code := k[strings.LastIndex(k, "/")+1:]
		if !strings.Contains(src, `"`+code+`"`) {
			unused = append(unused, "choices/"+k)
		}
	}
	for k := range en().cautions {
		if !m.cautions[k] && !strings.Contains(src, `"`+k+`"`) {
			unused = append(unused, "cautions/"+k)
		}
	}
	// Texts are looked up whole or by a prefix and a code.
	for k := range en().text {
		found := strings.Contains(src, `"`+k+`"`)
		for i := range k {
			if !found && (k[i] == '.' || k[i] == '-') {
				found = strings.Contains(src, `"`+k[:i+1]+`"`)
			}
		}
		if rest, about := strings.CutPrefix(k, "about-"); about {
			found = strings.Contains(src, `"`+rest[:strings.LastIndex(rest, ".")+1]+`"`) || strings.Contains(src, `"`+rest+`"`) || strings.Contains(src, `"`+rest[strings.LastIndex(rest, ".")+1:]+`"`)
		}
		if !found {
			unused = append(unused, "text/"+k)
		}
	}
	sort.Strings(unused)
	if len(unused) > 0 {
		t.Errorf("no screen uses %s", strings.Join(unused, ", "))
	}
}

func TestScreensFit(t *testing.T) {
	for _, l := range []Lang{English, SpanishScreen} {
		t.Run(string(l), func(t *testing.T) { screensFit(t, l) })
	}
}

func screensFit(t *testing.T, l Lang) {
	burning := map[Lang][]string{English: {"hot", "out of line", "35 ppm", "OUT FIRST"}, SpanishScreen: {"caliente", "cara a un lado", "35 ppm", "SALGA YA"}}[l]
	minus := map[Lang]string{English: "minus:", SpanishScreen: "menos:"}[l]
	long := 0
	hows := 0
	gather(t, func(st procedure.Step, p procedure.Plan) {
		s := For(l, st, p)
		if n := words(s.Question); n == 0 || n > 12 {
			t.Errorf("%s: %d words in %q", st.Ask, n, s.Question)
		}
		if s.Title == "" || s.Title != strings.ToUpper(s.Title) {
			t.Errorf("%s: title %q", st.Ask, s.Title)
		}
		for _, h := range s.How {
			hows++
			if len(h) > 56 {
				long++
			}
			if len(h) > 75 {
				t.Errorf("%s: how of %d: %q", st.Ask, len(h), h)
			}
		}
		if len(s.Cautions) > 2 {
			t.Errorf("%s: %d cautions", st.Ask, len(s.Cautions))
		}
		for i, c := range s.Cautions {
			if len(c.Text) > 150 || c.Text == "" {
				t.Errorf("%s: caution of %d: %q", st.Ask, len(c.Text), c.Text)
			}
			if i > 0 && severity(c.Word) < severity(s.Cautions[i-1].Word) {
				t.Errorf("%s: %s comes before %s", st.Ask, s.Cautions[i-1].Word, c.Word)
			}
			if c.Word == "DANGER" && st.Ask != "arrive.danger" {
				t.Errorf("%s: DANGER is for the gate and the stop screen", st.Ask)
			}
		}
		if st.Burning && st.Ask != "shutdown" {
			all := ""
			for _, c := range s.Cautions {
				all += c.Text + " "
			}
			for _, w := range burning {
				if !strings.Contains(all, w) {
					t.Errorf("%s: a burner runs and nobody says %q", st.Ask, w)
				}
			}
		}
		if len(s.Why) > 5 {
			t.Errorf("%s: why of %d lines", st.Ask, len(s.Why))
		}
		for _, w := range s.Why {
			if len(w) > 75 {
				t.Errorf("%s: why of %d: %q", st.Ask, len(w), w)
			}
		}
		for i, x := range s.Items {
			if len(x) > 50 || x == "" {
				t.Errorf("%s: item %s of %d: %q", st.Ask, st.Items[i].Code, len(x), x)
			}
		}
		for i, x := range s.Choices {
			if len(x) > 56 || x == "" {
				t.Errorf("%s: choice %s of %d: %q", st.Ask, st.Choices[i], len(x), x)
			}
		}
		if len(s.Items) != len(st.Items) || len(s.Choices) != len(st.Choices) {
			t.Errorf("%s: lines are not one for each", st.Ask)
		}
		if (st.Form == procedure.FormPressure || st.Form == procedure.FormPairs) && !strings.Contains(s.Plain, minus) {
			t.Errorf("%s: nobody says what minus means: %q", st.Ask, s.Plain)
		}
		for _, x := range append(append(append([]string{s.Question, s.Plain, s.Box}, s.How...), s.Why...), s.Items...) {
			if strings.ContainsAny(x, "{}\n") || strings.Contains(x, "  ,") {
				t.Errorf("%s: %q", st.Ask, x)
			}
		}
	})
	if long*10 > hows*4 {
		t.Errorf("%d of %d how lines are longer than 56", long, hows)
	}
}

func allTexts(c catalogue) map[string]string {
	out := map[string]string{}
	for k, s := range c.steps {
		out["steps/"+k] = s.ask + "\n" + s.how + "\n" + s.why + "\n" + s.title
	}
	for k, s := range c.forms {
		out["forms/"+k] = s.how + "\n" + s.box
	}
	for k, x := range c.cautions {
		out["cautions/"+k] = x.Text
	}
	for part, m := range map[string]map[string]string{"items": c.items, "choices": c.choices, "text": c.text} {
		for k, v := range m {
			out[part+"/"+k] = v
		}
	}
	return out
}

// Words that could mislead, from the table of words of the screens.
func TestWordsThatMislead(t *testing.T) {
	allowed := strings.NewReplacer("leave the door open", "", "LEAVE THIS COMPUTER", "", "DO NOT LEAVE IT LIKE THIS", "", "Leave the door open", "",
		"seal less", "", "Going on leaves it", "")
	bad := []*regexp.Regexp{
		regexp.MustCompile(`(?i)\bleav(e|es|ing)\b`),
		regexp.MustCompile(`(?i)\bsealed\b`),
		regexp.MustCompile(`(?i)\bairfree\b`),
		regexp.MustCompile(`(?i)\bforecast\b`),
		regexp.MustCompile(`(?i)\bhose [AB12]\b|\b(red|green|blue|clear) hose\b|\b(tap|channel|port) [AB12]\b`),
		regexp.MustCompile(`(?i)\bstage fire\b|\bfire stage\b|\bfire the\b`),
		regexp.MustCompile(`(?i)\bverified\b`),
		regexp.MustCompile(`(?i)graded-2005|spillage-2017|code-annex|canada-mixed`),
	}
	ambient := regexp.MustCompile(`(?i)\bambient\b`)
	for k, v := range allTexts(en()) {
		clean := allowed.Replace(v)
		for _, re := range bad {
			if m := re.FindString(clean); m != "" {
				t.Errorf("%s: %q in %q", k, m, v)
			}
		}
		for _, m := range ambient.FindAllStringIndex(v, -1) {
			if !strings.HasPrefix(strings.ToLower(v[m[0]:]), "ambient co") {
				t.Errorf("%s: ambient CO is written in full: %q", k, v)
			}
		}
		for i := 0; i < len(v); i++ {
			if v[i] >= 0x7f || v[i] < ' ' && v[i] != '\n' {
				t.Errorf("%s: byte %#x", k, v[i])
			}
		}
	}
}

func TestCautionWords(t *testing.T) {
	for k, c := range both(en().cautions, esScreen().cautions) {
		switch c.Word {
		case "DANGER", "WARNING", "CAUTION", "NOTICE":
		default:
			t.Errorf("%s: signal word %q", k, c.Word)
		}
		if strings.Contains(c.Text, "\n") || len(c.Text) > 150 {
			t.Errorf("%s: %d characters", k, len(c.Text))
		}
		if c.Word == "DANGER" && !strings.HasPrefix(k, "danger-gate") {
			t.Errorf("%s: DANGER is for the gate and the stop screen", k)
		}
		// The caution's rows are three; the narrow screen has 59 columns.
		rows, at := 1, len(" /!\\ "+c.Word+"  ")
		for i, w := range strings.Fields(c.Text) {
			if i > 0 && at+1+len(w) > 59 {
				rows, at = rows+1, 5-1
			}
			at += len(w)
			if i > 0 {
				at++
			}
		}
		if rows > 3 {
			t.Errorf("%s: %d rows at 59 columns", k, rows)
		}
	}
}

// Every placeholder is one that is filled somewhere; a typing slip in a brace
// would silently drop a figure.
func TestPlaceholders(t *testing.T) {
	known := map[string]bool{}
	for _, k := range strings.Fields("item name min limit_s scheme unit input k n k_of_n vent wind_max spread_max warm cold cold_after co_after pairs_min flow spread limit wind rise value drift names day month year status phase warm cold k a pct pa row from to band spill draft code act by of pairs n o2 what evidence mean s co temp wu tu fuel whom how why part sure where facts u go-on at basis minutes want stop zone net v home record text hint") {
		known[k] = true
	}
	re := regexp.MustCompile(`\{([^}]*)\}`)
	for k, v := range allTexts(en()) {
		for _, m := range re.FindAllStringSubmatch(v, -1) {
			if !known[m[1]] {
				t.Errorf("%s: {%s}", k, m[1])
			}
		}
		if strings.Count(v, "{") != strings.Count(v, "}") {
			t.Errorf("%s: braces", k)
		}
	}
}
