package forms

import (
	"errors"
	"regexp"
	"sort"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/procedure/wording"
)

func speak(t *testing.T, l wording.Lang) {
	t.Helper()
	Speak(l)
	t.Cleanup(func() { Speak(wording.English) })
}

func TestSpanishIsComplete(t *testing.T) {
	re := regexp.MustCompile(`\{[a-z]+\}`)
	braces := func(s string) string {
		m := re.FindAllString(s, -1)
		sort.Strings(m)
		return strings.Join(m, " ")
	}
	digits := regexp.MustCompile(`[0-9]+`)
	figures := func(s string) string {
		m := digits.FindAllString(s, -1)
		sort.Strings(m)
		return strings.Join(m, " ")
	}
	for code, en := range english() {
		es, ok := spanish()[code]
		if !ok {
			t.Errorf("%s has no Spanish", code)
			continue
		}
		if braces(es) != braces(en) {
			t.Errorf("%s: fills %s, English fills %s", code, braces(es), braces(en))
		}
		if figures(es) != figures(en) {
			t.Errorf("%s: figures %s, English %s", code, figures(es), figures(en))
		}
		shown := wording.Fold(es)
		for i := 0; i < len(shown); i++ {
			if shown[i] >= 0x7f || shown[i] < ' ' {
				t.Errorf("%s: byte %#x in %q", code, shown[i], shown)
				break
			}
		}
		// What stands on a row of its own keeps to the row: 79 columns, 59 in
		// the narrow form; a refusal has the three rows that it has in English.
		most := len(en) + len(en)/2 + 12
		switch {
		case strings.HasPrefix(code, "screen/") && strings.HasSuffix(code, "-short"):
			most = max(58, len(en))
		case code == "screen/set-up": // behind its heading, which is a little shorter in Spanish
			most = 46
		case strings.HasPrefix(code, "screen/"):
			most = 78
		case strings.HasPrefix(code, "side/"), strings.HasPrefix(code, "ruler/"):
			most = len(en) + 4
		}
		if len(shown) > most {
			t.Errorf("%s: %d characters, %d fit: %q", code, len(shown), most, shown)
		}
	}
	for code := range spanish() {
		if _, ok := english()[code]; !ok && !strings.HasPrefix(code, "label/") {
			t.Errorf("Spanish has %s, English has not", code)
		}
	}
}

func TestSpeak(t *testing.T) {
	st := procedure.Step{ID: "baseline/z", Form: procedure.FormPressure, Unit: "Pa", Args: map[string]string{"max_spread": "1"}}
	refusal := func() string {
		_, err := Parse(st, "3.2", ParseContext{})
		var r *Refusal
		if !errors.As(err, &r) {
			t.Fatalf("3.2 was taken: %v", err)
		}
		return r.Text
	}
	if got := refusal(); !strings.HasPrefix(got, "NOT KEPT  3.2 has no sign.") {
		t.Errorf("%q", got)
	}
	speak(t, wording.Spanish)
	if got := refusal(); !strings.HasPrefix(got, "NO GUARDADO  3.2 no tiene signo. Zona mas baja que afuera: -3.2.") {
		t.Errorf("%q", got)
	}
	if got := ReadAs(st, "-0.8 -1.1 -0.9"); got != "3 valores, media -0.9, disp. 0.3: estable" {
		t.Errorf("%q", got)
	}
	if got := Label("choice 12"); got != "opcion 12" {
		t.Errorf("%q", got)
	}
	if got := Label("held at worst case"); got != "en el peor caso" {
		t.Errorf("%q", got)
	}
	if got := strings.Join(StopScreen([]string{"x"}, 80), "\n"); !strings.Contains(got, "PELIGRO") {
		t.Errorf("%q", got)
	}
	// What is kept is the same in every language.
	en, err := Parse(st, "-0.8 -1.1 -0.9", ParseContext{})
	if err != nil || len(en) != 1 {
		t.Errorf("%v, %v", en, err)
	}
}
