package wording

import (
	"regexp"
	"sort"
	"strings"
	"testing"
	"unicode/utf8"

	"cazward/procedure"
)

// both are the cautions of two catalogues, those of the second with a mark.
func both(a, b map[string]Caution) map[string]Caution {
	out := map[string]Caution{}
	for k, c := range a {
		out[k] = c
	}
	for k, c := range b {
		out[k+" (es)"] = c
	}
	return out
}

// same are the texts that read alike in both languages.
var same = set(`items/appliance text/action.proceed text/why.other text/missing text/short.co text/short.co.cooking text/short.list.cfm50 text/key.list.cfm50
	text/kept.gas text/kept.each text/kept.o2 text/kept.burner text/about-co.value text/about-any.bad text/about-any.value text/about-hazard text/stage.natural text/short.pressure.step forms/text
	text/sheet.blank.gas text/sheet.limit.row text/sheet.sum.draft.point text/sheet.sum.draft.point-si text/sheet.blank.ambient text/sheet.limit.tier text/sheet.limit.one text/sheet.sum.u.blanks text/drill.tri.no text/drill.each`)

func set(words string) map[string]bool {
	out := map[string]bool{}
	for _, k := range strings.Fields(words) {
		out[k] = true
	}
	return out
}

func TestSpanishIsComplete(t *testing.T) {
	if missing := Untranslated(Spanish); len(missing) > 0 {
		t.Errorf("%d texts have no Spanish: %s", len(missing), strings.Join(missing, ", "))
	}
	if n := len(Untranslated(English)); n != 0 {
		t.Errorf("English misses %d of its own", n)
	}
	known := en().keys()
	for _, k := range es().keys() { // a key that English does not have is a slip, or a name without its brackets
		if i := sort.SearchStrings(known, k); i < len(known) && known[i] == k {
			continue
		}
		bare, isKind := strings.CutPrefix(k, "choices/kind/")
		if !isKind || !strings.Contains(es().choices[bare], "(") || es().choices["kind/"+bare] == es().choices[bare] {
			t.Errorf("Spanish has %s, English has not", k)
		}
	}
	spanish := allTexts(es())
	for k, v := range allTexts(en()) {
		if strings.TrimSpace(v) != "" && spanish[k] == v && !same[k] {
			t.Errorf("%s is the same in Spanish: %q", k, v)
		}
	}
	for k := range es().steps {
		if es().steps[k].src != en().steps[k].src || (es().steps[k].why == "") != (en().steps[k].why == "") || (es().steps[k].how == "") != (en().steps[k].how == "") || es().steps[k].box != en().steps[k].box && en().steps[k].box != "number" {
			t.Errorf("steps/%s: source, why, how and box are not the same parts in both languages", k)
		}
	}
	for k, c := range es().cautions {
		if c.Word != en().cautions[k].Word {
			t.Errorf("cautions/%s: %s in English, %s in Spanish", k, en().cautions[k].Word, c.Word)
		}
	}
}

// A placeholder that one language fills and the other does not drops a figure
// for half of the readers.
func TestSpanishFillsTheSamePlaceholders(t *testing.T) {
	re := regexp.MustCompile(`\{([^}]*)\}`)
	braces := func(s string) string {
		var out []string
		for _, m := range re.FindAllString(s, -1) {
			if !has(out, m) {
				out = append(out, m)
			}
		}
		sort.Strings(out)
		return strings.Join(out, " ")
	}
	spanish := allTexts(es())
	for k, v := range allTexts(en()) {
		if got, want := braces(spanish[k]), braces(v); got != want {
			t.Errorf("%s: fills %q, English fills %q", k, got, want)
		}
	}
}

// Words that keep their own sense, and figures: both languages must name the
// same ones, or a limit is lost in translation.
func TestSpanishKeepsFigures(t *testing.T) {
	re := regexp.MustCompile(`[0-9]+`)
	list := func(s string) string {
		n := re.FindAllString(s, -1)
		sort.Strings(n)
		return strings.Join(n, " ")
	}
	spanish := allTexts(es())
	for k, v := range allTexts(en()) {
		if k == "forms/pairs" {
			continue // an example is one value shorter, to fit
		}
		if got, want := list(spanish[k]), list(v); got != want {
			t.Errorf("%s: figures %q, English %q", k, got, want)
		}
	}
}

func TestScreensAreASCII(t *testing.T) {
	for k, v := range allTexts(esScreen()) {
		for i := 0; i < len(v); i++ {
			if v[i] >= 0x7f || v[i] < ' ' && v[i] != '\n' {
				t.Errorf("%s: byte %#x in %q", k, v[i], v)
				break
			}
		}
	}
	if got := OnScreen(Spanish); got != SpanishScreen || OnPaper(got) != Spanish || OnScreen(English) != English || OnPaper(English) != English {
		t.Error("a language does not come back from the screen")
	}
	st := procedure.Step{Ask: "arrive.danger", Form: procedure.FormGate, Stage: procedure.StageArrive}
	if got, want := For(SpanishScreen, st, procedure.Plan{}).Question, "Pasa algo de esto, aqui y ahora?"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := For(Spanish, st, procedure.Plan{}).Question, "¿Pasa algo de esto, aquí y ahora?"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// Words that could mislead in Spanish, after the table for English.
func TestSpanishWordsThatMislead(t *testing.T) {
	bad := []*regexp.Regexp{
		regexp.MustCompile(`(?i)\bverificad[oa]s?\b`),
		regexp.MustCompile(`(?i)graded-2005|spillage-2017|code-annex|canada-mixed`),
		regexp.MustCompile(`(?i)\bmanguera [AB12]\b|\bmanguera (roja|verde|azul)\b`),
		regexp.MustCompile(`(?i)\bdisparar\b`),
	}
	ambient := regexp.MustCompile(`(?i)\bambiente\b`)
	for k, v := range allTexts(es()) {
		for _, re := range bad {
			if m := re.FindString(v); m != "" {
				t.Errorf("%s: %q in %q", k, m, v)
			}
		}
		for _, m := range ambient.FindAllStringIndex(v, -1) {
			if m[0] < 3 || !strings.HasSuffix(strings.ToLower(v[:m[0]]), "co ") {
				t.Errorf("%s: CO ambiente is written in full: %q", k, v)
			}
		}
		if !utf8.ValidString(v) || strings.ContainsAny(v, "—–“”’…") {
			t.Errorf("%s: %q", k, v)
		}
		// An opening mark for each closing one.
		if strings.Count(v, "?")-strings.Count(v, "?3")-strings.Count(v, ": ?")-strings.Count(v, "12 ?")-strings.Count(v, "?1")-strings.Count(v, "¿") > 0 && strings.HasPrefix(k, "steps/") && strings.Contains(strings.SplitN(v, "\n", 2)[0], "?") && !strings.Contains(strings.SplitN(v, "\n", 2)[0], "¿") {
			t.Errorf("%s: a question without its opening mark: %q", k, v)
		}
	}
}

func TestSpanishLinesFit(t *testing.T) {
	for k, v := range esScreen().text {
		if strings.HasPrefix(k, "do.") || strings.HasPrefix(k, "action.") {
			for _, line := range lines(strings.ReplaceAll(v, "{what}", "calentador de agua")) {
				if len(line) > 78 {
					t.Errorf("%s: %d characters: %s", k, len(line), line)
				}
			}
		}
		if strings.HasPrefix(k, "headline.") && len(v) > 44 {
			t.Errorf("%s: %d characters: %s", k, len(v), v)
		}
		if strings.HasPrefix(k, "stage.") && len(v) > len("closing baseline") {
			t.Errorf("%s: %d characters: %s", k, len(v), v)
		}
	}
	for _, c := range []procedure.HazardCode{"", procedure.Alarm, procedure.Symptoms, procedure.Rollout, procedure.Smell, procedure.LEL, procedure.AmbientCO} {
		for _, h := range []procedure.Hazard{{Code: c}, {Code: c, Value: ptr(78)}, {Code: c, OverRange: true}} {
			for _, a := range []procedure.Act{procedure.ActLeave, procedure.ActOut} {
				for _, line := range StopLines(SpanishScreen, h, a) {
					if len(line) > 69 {
						t.Errorf("%d characters, the frame has 70: %s", len(line), line)
					}
				}
			}
		}
	}
}

// A finding that fails is never worded as if it passed, in Spanish either.
func TestSpanishReasonFollowsTheVerdict(t *testing.T) {
	good := regexp.MustCompile(`dentro|en menos de|alcanza`)
	bad := regexp.MustCompile(`pasa de|demasiado cerca|débil|derramó|más de`)
	for _, rule := range []string{"zone-pressure", "spillage", "draft", "co", "other"} {
		for _, v := range []procedure.Verdict{procedure.Fail, procedure.TooClose, procedure.Pass} {
			got := Reason(Spanish, procedure.Finding{Rule: rule, Subject: "z", Verdict: v, Value: ptr(7), Limit: ptr(3), Unit: "Pa"}, name)
			if v == procedure.Pass && (!good.MatchString(got) || bad.MatchString(got)) || v != procedure.Pass && (good.MatchString(got) || !bad.MatchString(got)) {
				t.Errorf("%s %s: %s", rule, v, got)
			}
		}
		if got := Reason(Spanish, procedure.Finding{Rule: rule, Subject: "z"}, name); good.MatchString(got) || bad.MatchString(got) {
			t.Errorf("%s not evaluated: %s", rule, got)
		}
	}
}
