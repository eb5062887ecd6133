package report

import (
	"strings"
	"unicode"
)

// Typeset puts the signs of print in place of what a keyboard has: the minus
// of a number, the plus-minus, the degree of a temperature (where a part of
// the sentence ends: "2 C cells" are no degrees), the subscript of
// O2 and CO2, and a box for "[ ]". Dates, hashes and names keep their
// hyphens. Forms for machines and plain text do without it.
func Typeset(s string) string {
	if !strings.ContainsAny(s, "-+[O") && !strings.Contains(s, " F") && !strings.Contains(s, " C") {
		return s
	}
	r := []rune(s)
	var b strings.Builder
	b.Grow(len(s) + 8)
	at := func(i int) rune {
		if i < 0 || i >= len(r) {
			return ' '
		}
		return r[i]
	}
	word := func(x rune) bool { return unicode.IsLetter(x) || unicode.IsDigit(x) }
	for i := 0; i < len(r); i++ {
		switch x := r[i]; {
		case x == '+' && at(i+1) == '/' && at(i+2) == '-':
			b.WriteRune('±')
			i += 2
		case x == '-' && unicode.IsDigit(at(i+1)) && !word(at(i-1)) && at(i-1) != '-' && at(i-1) != ')' && at(i-1) != '.':
			b.WriteRune('−')
		case x == 'O' && at(i+1) == '2' && !word(at(i+2)) && (!word(at(i-1)) || at(i-1) == 'C' && !word(at(i-2))):
			b.WriteString("O₂")
			i++
		case (x == 'F' || x == 'C') && at(i-1) == ' ' && unicode.IsDigit(at(i-2)) && (i+1 == len(r) || strings.ContainsRune(",;.)", r[i+1])):
			b.WriteRune('°')
			b.WriteRune(x)
		case x == '[' && at(i+1) == ' ' && at(i+2) == ']':
			b.WriteRune('☐')
			i += 2
		default:
			b.WriteRune(x)
		}
	}
	return b.String()
}
