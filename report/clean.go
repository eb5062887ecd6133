package report

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// replaced stands where a character was taken out, so that a reader sees that
// something was there.
const replaced = '\uFFFD'

// Clean makes text that people typed safe for one line of paper or screen:
// line breaks, tabs and runs of spaces become one space; invalid UTF-8, other
// control characters, marks that turn the writing direction, and characters
// beyond U+FFFF (the PDF library cannot draw them) become U+FFFD; variation
// selectors and joiners, which show nothing, are dropped.
func Clean(s string) string {
	if plain(s) {
		return s
	}
	var b strings.Builder
	space := true // leading space is dropped too
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		i += n
		switch {
		case r == utf8.RuneError && n == 1, r > 0xFFFF, turns(r):
			r = replaced
		case unicode.IsSpace(r), r == '\u2028', r == '\u2029':
			r = ' '
		case unicode.IsControl(r):
			r = replaced
		case r == '\u200B', r == '\u200C', r == '\u200D', r == '\u2060', r == '\uFEFF', r == '\u00AD', r >= '\uFE00' && r <= '\uFE0F':
			continue
		}
		if r == ' ' && space {
			continue
		}
		space = r == ' '
		b.WriteRune(r)
	}
	return strings.TrimSuffix(b.String(), " ")
}

// plain reports whether s is printable ASCII without doubled or outer spaces,
// as nearly all text is.
func plain(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < ' ' || s[i] > '~' || s[i] == ' ' && (i == 0 || i == len(s)-1 || s[i-1] == ' ') {
			return false
		}
	}
	return true
}

// turns reports whether r overrides or embeds a writing direction. A name
// with one could make "not safe" read as something else.
func turns(r rune) bool {
	return r >= '\u202A' && r <= '\u202E' || r >= '\u2066' && r <= '\u2069' || r == '\u200E' || r == '\u200F' || r == '\u061C'
}
