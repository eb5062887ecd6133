package wording

import "strings"

// TextsUnder gives the texts of a language whose key has a prefix, for the
// test that finds those which no paper uses.
func TextsUnder(l Lang, prefix string) map[string]string {
	out := map[string]string{}
	for k, v := range of(l).text {
		if strings.HasPrefix(k, prefix) {
			out[k] = v
		}
	}
	return out
}
