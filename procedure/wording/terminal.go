package wording

import (
	"cmp"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
)

// Terminal gives a sentence of the terminal, by its English form with the verbs
// of package fmt in it; one without Spanish stays English.
func Terminal(l Lang, english string) string {
	if OnPaper(l) == Spanish {
		if t, ok := esTerminal()[english]; ok {
			return onScreen(l, t)
		}
	}
	return english
}

// Reworded gives the Spanish of a sentence that another package made in
// English. What it was filled with stays as it is; a sentence that the catalogue
// does not have stays English.
func Reworded(l Lang, text string) string {
	if OnPaper(l) != Spanish {
		return text
	}
	if t, ok := esForeign()[text]; ok {
		return onScreen(l, t)
	}
	for _, f := range foreignForms() {
		m := f.is.FindStringSubmatch(text)
		if m == nil {
			continue
		}
		var b strings.Builder
		for i, part := range strings.Split(onScreen(l, f.spanish), "%s") {
			if i > 0 {
				b.WriteString(m[i])
			}
			b.WriteString(part)
		}
		return b.String()
	}
	return text
}

// onScreen is a text as the language has it: screens are ASCII.
func onScreen(l Lang, t string) string {
	if l == SpanishScreen {
		return folds.Replace(t)
	}
	return t
}

type foreignForm struct {
	is      *regexp.Regexp
	spanish string
}

// foreignForms are the sentences that are filled with something, those that
// fix more of their words first.
var foreignForms = sync.OnceValue(func() []foreignForm {
	keys := slices.Collect(maps.Keys(esForeign()))
	slices.SortFunc(keys, func(a, b string) int {
		return cmp.Or(cmp.Compare(len(b)-2*strings.Count(b, "%s"), len(a)-2*strings.Count(a, "%s")), cmp.Compare(a, b))
	})
	var out []foreignForm
	for _, k := range keys {
		if strings.Contains(k, "%s") {
			re := "(?s)^" + strings.ReplaceAll(regexp.QuoteMeta(k), "%s", "(.+?)") + "$"
			out = append(out, foreignForm{regexp.MustCompile(re), esForeign()[k]})
		}
	}
	return out
})
