package reading

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Bounds of an entry, own rules: more is a slip of the keyboard.
const (
	MaxSamples    = 100   // values in one pressure entry
	maxAveragingS = 3600  // one averaged reading
	maxSeconds    = 86400 // one timed watch
	maxEntry      = 4096  // bytes
	maxNumeral    = 64    // bytes of one number
	maxTyped      = 1e12  // magnitude of a typed number
	minTyped      = 1e-9  // magnitude of a typed number that is not 0
)

// Entry is what a person typed into the box of a pressure.
type Entry struct {
	Values     []float64 // in Unit, in the order typed, at least one
	Unit       Unit      // as typed, else the default
	AveragingS float64   // seconds a single averaged value was averaged over; 0 when not given
}

// Pressures gives the values in pascals.
func (e Entry) Pressures() ([]Pressure, error) {
	ps := make([]Pressure, len(e.Values))
	for i, v := range e.Values {
		p, err := ToPressure(v, e.Unit)
		if err != nil {
			return nil, err
		}
		ps[i] = p
	}
	return ps, nil
}

// String prints the entry exactly, in the form [ParsePressure] reads back:
// "-1 -1.1 Pa", "-0.01 inH2O 30s".
func (e Entry) String() string {
	var b strings.Builder
	for _, v := range e.Values {
		b.WriteString(signed(v, e.Unit) + " ")
	}
	b.WriteString(string(e.Unit))
	if e.AveragingS > 0 {
		b.WriteString(" " + Format(e.AveragingS, -1) + "s")
	}
	return b.String()
}

// ParsePressure reads one or more pressures separated by spaces, then a unit
// (else def), then, after a single value, the seconds it was averaged over:
// "-3.2", "-0.8 -1.1 -0.9", "-1.0 30s", "-0.01 inH2O 1 min". The unit may touch
// the last value. def "" makes the unit compulsory.
//
// Every value but 0 needs its sign, because a lost minus is the one slip that
// turns a failing zone into a passing one. U+2212 is taken for a minus; other
// dashes, decimal commas, exponents, hex and the like are refused, see [Code].
func ParsePressure(text string, def Unit) (Entry, error) {
	fields, err := split(text)
	if err != nil {
		return Entry{}, err
	}
	e := Entry{}
	tail, last := "", "" // letters that touch the last value; the word they stand in
	i := 0
	for ; i < len(fields) && tail == ""; i++ {
		if i > 0 && isAveraging(fields[i:]) {
			break
		}
		var num string
		num, tail = cutNumber(fields[i])
		if num == "" {
			tail = ""
			break
		}
		v, err := signedDecimal(num)
		if err != nil {
			return Entry{}, err
		}
		if len(e.Values) == MaxSamples {
			return Entry{}, refuse(CodeTooMany, fields[i], "")
		}
		e.Values, last = append(e.Values, v), fields[i]
	}
	if len(e.Values) == 0 {
		return Entry{}, refuse(CodeNotANumber, fields[0], "")
	}
	words, rest := cutUnit(fields[i:])
	e.Unit, err = unitOf(last, tail, words, def, FamilyPressure)
	if err != nil {
		return Entry{}, err
	}
	if len(rest) == 0 {
		return e, nil
	}
	if !isAveraging(rest) {
		return Entry{}, refuse(CodeMixed, rest[0], "")
	}
	averaging := strings.Join(rest, " ")
	s, _, err := clock(averaging)
	if err != nil {
		return Entry{}, err
	}
	if len(e.Values) > 1 {
		return Entry{}, refuse(CodeAveragingWithMany, averaging, "")
	}
	if s <= 0 || s > maxAveragingS {
		return Entry{}, refuse(CodeOutOfRange, averaging, "")
	}
	e.AveragingS = s
	return e, nil
}

// ParseNumber reads one plain decimal: an optional sign, ASCII digits, at most
// one point with a digit after it. It knows no unit and asks for no sign.
func ParseNumber(text string) (float64, error) {
	fields, err := split(text)
	if err != nil {
		return 0, err
	}
	if len(fields) > 1 {
		return 0, refuse(CodeTooMany, fields[1], "")
	}
	return decimal(fields[0], true)
}

// ParseQuantity reads one number and its unit, else def: "34", "34 F", "1.1C",
// "40000", and for Btu/h thousands as "40k". The unit must measure what def
// measures; def "" takes any unit but demands one. A comma is always refused:
// "40,000" is forty thousand to one reader and forty to another. A pressure
// needs its sign as in [ParsePressure]. Anything but a pressure or temperature
// below zero, and a temperature below absolute zero, is out of range.
func ParseQuantity(text string, def Unit) (float64, Unit, error) {
	fields, err := split(text)
	if err != nil {
		return 0, "", err
	}
	num, tail := cutNumber(fields[0])
	if num == "" {
		return 0, "", refuse(CodeNotANumber, fields[0], "")
	}
	words, rest := cutUnit(fields[1:])
	if len(rest) > 0 {
		return 0, "", refuse(CodeTooMany, rest[0], "")
	}
	zeros := ""
	if t, w, ok := cutThousand(tail, words, def); ok {
		tail, words, zeros = t, w, "e3"
	}
	u, err := unitOf(fields[0], tail, words, def, def.Family())
	if err != nil {
		return 0, "", err
	}
	var v float64
	switch f := u.Family(); f {
	case FamilyPressure:
		v, err = signedDecimal(num)
	case FamilyPercent, FamilyTemperature, FamilySpeed, FamilyTime:
		v, err = decimal(num, false)
	default:
		v, err = decimal(num, true)
	}
	if err != nil {
		return 0, "", err
	}
	if zeros != "" { // on the text: 40.1 x 1000 in floats need not be 40100
		if v, err = parseFloat(num+zeros, num); err != nil {
			return 0, "", err
		}
	}
	switch u.Family() {
	case FamilyPressure:
	case FamilyTemperature:
		if _, err := Convert(v, u, UnitK); err != nil {
			return 0, "", err
		}
	default:
		if v < 0 {
			return 0, "", refuse(CodeOutOfRange, num, "")
		}
	}
	return v, u, nil
}

// ParseSeconds reads a time from a watch: "37", "37s", "1:05" (minutes and
// seconds), "1m5s", "1.5 min". A bare number is seconds.
func ParseSeconds(text string) (Seconds, error) {
	fields, err := split(text)
	if err != nil {
		return 0, err
	}
	s, _, err := clock(strings.Join(fields, " "))
	if err != nil {
		return 0, err
	}
	if s > maxSeconds {
		return 0, refuse(CodeOutOfRange, strings.Join(fields, " "), "")
	}
	return Seconds(s), nil
}

// split cuts a text into words and turns the true minus sign into ASCII.
func split(text string) ([]string, error) {
	if len(text) > maxEntry {
		return nil, refuse(CodeTooMany, text[:maxNumeral], "")
	}
	fields := strings.Fields(strings.ReplaceAll(text, "\u2212", "-"))
	if len(fields) == 0 {
		return nil, refuse(CodeEmpty, "", "")
	}
	return fields, nil
}

// dashes look like a minus and come out of word processors. They are refused
// with the minus as proposal, because some also mean "from ... to".
const dashes = "\u2010\u2011\u2012\u2013\u2014\ufe63\uff0d"

// cutNumber cuts the characters numbers are made of, right or wrong, from the
// front of a word.
func cutNumber(word string) (num, tail string) {
	end := strings.IndexFunc(word, func(r rune) bool { return !strings.ContainsRune("0123456789+-.,"+dashes, r) })
	if end < 0 {
		return word, ""
	}
	return word[:end], word[end:]
}

// cutUnit takes the words before the next one that starts like a number.
func cutUnit(fields []string) (words, rest []string) {
	for i, f := range fields {
		if num, _ := cutNumber(f); num != "" {
			return fields[:i], fields[i:]
		}
	}
	return fields, nil
}

// unitOf reads the unit made of the letters that touch the number in word and
// the words after it; none at all is def. want "" accepts every family.
func unitOf(word, tail string, words []string, def Unit, want Family) (Unit, error) {
	text := strings.TrimSpace(tail + " " + strings.Join(words, " "))
	u := def
	if text != "" {
		var err error
		if u, err = ParseUnit(text); err != nil {
			// "-0/9", "0x1F", "1e5", "1_000": a slip in the number, not a unit.
			first, _ := utf8.DecodeRuneInString(tail)
			if tail != "" && (!unicode.IsLetter(first) || strings.ContainsAny(tail, "0123456789")) {
				return "", refuse(CodeNotANumber, word, "")
			}
			return "", err
		}
	}
	if u.Family() == "" {
		return "", refuse(CodeUnit, string(u), "")
	}
	if want != "" && u.Family() != want {
		return "", refuse(CodeFamily, string(u), string(def))
	}
	return u, nil
}

// cutThousand takes the k of "40k", "40 k" or "40k Btu/h" off the unit. It
// stands for a thousand beside Btu/h only: everywhere else k is a kelvin.
func cutThousand(tail string, words []string, def Unit) (string, []string, bool) {
	if def.Family() != FamilyHeatRate {
		return tail, words, false
	}
	text := strings.TrimSpace(tail + " " + strings.Join(words, " "))
	if text == "" || text[0] != 'k' && text[0] != 'K' {
		return tail, words, false
	}
	rest := strings.TrimSpace(text[1:])
	if rest == "" {
		return "", nil, def == UnitBtuH
	}
	u, err := ParseUnit(rest)
	return rest, nil, err == nil && u == UnitBtuH
}

// decimal reads one plain decimal. big says that a comma before exactly three
// digits may as well group thousands.
func decimal(num string, big bool) (float64, error) {
	if len(num) > maxNumeral {
		return 0, refuse(CodeOutOfRange, num, "")
	}
	if strings.Contains(num, ",") {
		return 0, refuseComma(num, big)
	}
	if strings.ContainsAny(num, dashes) {
		minus := strings.Map(func(r rune) rune {
			if strings.ContainsRune(dashes, r) {
				return '-'
			}
			return r
		}, num)
		if !isDecimal(minus) {
			minus = ""
		}
		return 0, refuse(CodeNotANumber, num, minus)
	}
	if !isDecimal(num) {
		return 0, refuse(CodeNotANumber, num, "")
	}
	return parseFloat(num, num)
}

// parseFloat reads a checked figure; typed is what a refusal shows.
func parseFloat(figure, typed string) (float64, error) {
	v, err := strconv.ParseFloat(figure, 64)
	if v == 0 {
		return 0, nil // never negative zero, which would print and encode with a sign
	}
	if m := math.Abs(v); err != nil || m > maxTyped || m < minTyped {
		return 0, refuse(CodeOutOfRange, typed, "")
	}
	return v, nil
}

// signedDecimal is decimal with the sign rule of pressures. Only a figure
// whose every digit is 0 goes without a sign.
func signedDecimal(num string) (float64, error) {
	v, err := decimal(num, false)
	if err != nil {
		return 0, err
	}
	if num[0] != '-' && num[0] != '+' && strings.Trim(num, "0.") != "" {
		return 0, refuse(CodeNoSign, num, "-"+num)
	}
	return v, nil
}

// isDecimal holds the grammar: sign? (digits ("." digits)? | "." digits). A
// trailing point is refused: the digits after it may have been lost.
func isDecimal(s string) bool {
	if s != "" && (s[0] == '-' || s[0] == '+') {
		s = s[1:]
	}
	whole, frac, point := strings.Cut(s, ".")
	return (whole != "" || point) && isDigits(whole) && isDigits(frac) && (!point || frac != "")
}

func isDigits(s string) bool { return strings.Trim(s, "0123456789") == "" }

// refuseComma proposes a spelling only where one is likely.
func refuseComma(num string, big bool) error {
	if joined := strings.ReplaceAll(num, ",", ""); big && groupsThousands(num) && isDecimal(joined) {
		return refuse(CodeThousands, num, joined)
	}
	if point := strings.Replace(num, ",", ".", 1); isDecimal(point) {
		return refuse(CodeComma, num, point)
	}
	parts := strings.Split(num, ",")
	for _, p := range parts {
		if !isDecimal(p) {
			return refuse(CodeComma, num, "")
		}
	}
	return refuse(CodeComma, num, strings.Join(parts, " "))
}

// groupsThousands reports commas before exactly three digits each.
func groupsThousands(num string) bool {
	whole, _, _ := strings.Cut(strings.TrimLeft(num, "+-"), ".")
	groups := strings.Split(whole, ",")
	for _, g := range groups[1:] {
		if len(g) != 3 {
			return false
		}
	}
	return len(groups[0]) >= 1 && len(groups[0]) <= 3
}

// isAveraging reports whether the words are one time with its unit.
func isAveraging(words []string) bool {
	_, explicit, err := clock(strings.Join(words, " "))
	return err == nil && explicit
}

// clock reads a time of the forms ParseSeconds names; explicit reports that it
// said it was one, by a unit or a colon.
func clock(text string) (seconds float64, explicit bool, err error) {
	if m, s, ok := strings.Cut(text, ":"); ok {
		if len(m) < 1 || len(m) > 4 || len(s) != 2 || !isDigits(m) || !isDigits(s) || s >= "60" {
			return 0, false, refuse(CodeNotANumber, text, "")
		}
		mm, _ := strconv.Atoi(m)
		ss, _ := strconv.Atoi(s)
		return float64(60*mm + ss), true, nil
	}
	n, unit, rest, err := clockPart(text)
	if err != nil {
		return 0, false, err
	}
	switch {
	case rest == "" && unit == "":
		return n, false, nil
	case rest == "" && unit == UnitS:
		return n, true, nil
	case rest == "" && unit == UnitMin:
		return 60 * n, true, nil
	case unit != UnitMin || n != float64(int(n)):
		return 0, false, refuse(CodeNotANumber, text, "")
	}
	s, unit, more, err := clockPart(rest)
	if err != nil {
		return 0, false, err
	}
	if more != "" || unit != UnitS || s >= 60 {
		return 0, false, refuse(CodeNotANumber, text, "")
	}
	return 60*n + s, true, nil
}

// clockPart reads a number and the letters after it from the front of text.
func clockPart(text string) (n float64, unit Unit, rest string, err error) {
	num, rest := cutNumber(text)
	if num == "" || num[0] == '+' {
		return 0, "", "", refuse(CodeNotANumber, text, "")
	}
	if n, err = decimal(num, false); err != nil {
		return 0, "", "", err
	}
	if num[0] == '-' {
		return 0, "", "", refuse(CodeOutOfRange, num, "")
	}
	rest = strings.TrimSpace(rest)
	end := strings.IndexFunc(rest, func(r rune) bool { return !unicode.IsLetter(r) })
	if end < 0 {
		end = len(rest)
	}
	word := rest[:end]
	rest = strings.TrimSpace(rest[end:])
	switch {
	case word == "":
	case strings.EqualFold(word, "m"): // a metre elsewhere, a minute on a watch
		unit = UnitMin
	default:
		if unit, err = ParseUnit(word); err != nil {
			if strings.ContainsAny(rest, "0123456789") { // "0x1F", "1e5": not a time at all
				err = refuse(CodeNotANumber, text, "")
			}
			return 0, "", "", err
		}
		if unit.Family() != FamilyTime {
			return 0, "", "", refuse(CodeFamily, string(unit), string(UnitS))
		}
	}
	return n, unit, rest, nil
}

// ParseVolume reads the volume of a room: a quantity, or its three edges in
// feet, "15x30x8", whose product in ft3 it returns. It must be above 0.
func ParseVolume(text string) (float64, Unit, error) {
	edges := strings.Split(strings.ToLower(text), "x")
	if len(edges) != 3 {
		v, u, err := ParseQuantity(text, UnitFt3)
		if err == nil && !(v > 0) {
			err = &EntryError{Code: CodeOutOfRange, Text: text}
		}
		return v, u, err
	}
	v := 1.0
	for _, x := range edges {
		e, u, err := ParseQuantity(strings.TrimSpace(x), UnitFt)
		if err != nil {
			return 0, "", err
		}
		ft, err := Convert(e, u, UnitFt)
		if err != nil {
			return 0, "", err
		}
		if !(ft > 0) {
			return 0, "", &EntryError{Code: CodeOutOfRange, Text: text}
		}
		v *= ft
	}
	return v, UnitFt3, nil
}
