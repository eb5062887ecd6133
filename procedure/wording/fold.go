package wording

import (
	"maps"
	"strings"
)

// SpanishScreen is Spanish as a terminal shows it: screens are ASCII only, so
// that an old console, a serial line or a wrong locale can never garble a
// warning. Accents are folded (a for á, n for ñ) and the opening marks are
// left out; paper and files keep them. It is no language of its own: [OnScreen]
// gives it.
const SpanishScreen Lang = "es-screen"

// OnScreen is the form of a language that a terminal shows.
func OnScreen(l Lang) Lang {
	if l == Spanish {
		return SpanishScreen
	}
	return l
}

// OnPaper is the form of a language that paper and files carry.
func OnPaper(l Lang) Lang {
	if l == SpanishScreen {
		return Spanish
	}
	return l
}

var folds = strings.NewReplacer("á", "a", "é", "e", "í", "i", "ó", "o", "ú", "u", "ü", "u", "ñ", "n",
	"Á", "A", "É", "E", "Í", "I", "Ó", "O", "Ú", "U", "Ü", "U", "Ñ", "N", "¿", "", "¡", "")

// Fold takes the accents and opening marks of Spanish out of a text.
func Fold(s string) string { return folds.Replace(s) }

// folded is a catalogue with every text folded.
func folded(c catalogue) catalogue {
	each := func(m map[string]string) map[string]string {
		out := make(map[string]string, len(m))
		for k, v := range m {
			out[k] = Fold(v)
		}
		return out
	}
	all := func(m map[string]step) map[string]step {
		out := make(map[string]step, len(m))
		for k, v := range m {
			out[k] = step{title: Fold(v.title), ask: Fold(v.ask), how: Fold(v.how), box: Fold(v.box), why: Fold(v.why), src: v.src}
		}
		return out
	}
	out := catalogue{steps: all(c.steps), forms: all(c.forms), cautions: map[string]Caution{}, items: each(c.items), choices: each(c.choices), text: each(c.text)}
	for k, v := range c.cautions {
		out.cautions[k] = Caution{v.Word, Fold(v.Text)}
	}
	return out
}

// merged is one table out of two; a key stands in one of them only.
func merged(list ...map[string]string) map[string]string {
	out := map[string]string{}
	for _, m := range list {
		maps.Copy(out, m)
	}
	return out
}

// under puts a prefix before every key.
func under(prefix string, m map[string]string) map[string]string {
	out := make(map[string]string, len(m))
	for k, v := range m {
		out[prefix+k] = v
	}
	return out
}
