package reading

import (
	"math"
	"strconv"
	"strings"
)

// maxDecimals is more digits after the point than any float64 near a limit
// needs to be told apart from it.
const maxDecimals = 20

// Format prints v with that many digits after the point, ASCII minus, no
// exponent, no grouping. decimals < 0 prints the shortest text that reads back
// as exactly v. A half is rounded away from zero on the decimal figure (own
// rule: 2812.5 prints 2813 as the code tables round, -5.25 prints -5.3), and
// zero never carries a minus. NaN and infinities print as "NaN", "+Inf",
// "-Inf", which no parser of this package accepts.
func Format(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', -1, 64)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return s
	}
	sign := ""
	if s[0] == '-' {
		sign, s = "-", s[1:]
	}
	if decimals >= 0 {
		s = roundDecimal(s, min(decimals, maxDecimals))
	}
	if strings.Trim(s, "0.") == "" {
		sign = ""
	}
	return sign + s
}

// roundDecimal rounds the unsigned decimal text s, halves up, to n digits
// after the point. It works on the text because the float nearest to 2.675 is
// below 2.675, and people check what is printed against what they typed.
func roundDecimal(s string, n int) string {
	whole, frac, _ := strings.Cut(s, ".")
	if len(frac) <= n {
		frac += strings.Repeat("0", n-len(frac))
		return joinDecimal(whole, frac)
	}
	up := frac[n] >= '5'
	digits := []byte("0" + whole + frac[:n])
	for i := len(digits) - 1; up && i >= 0; i-- {
		if digits[i] == '9' {
			digits[i] = '0'
			continue
		}
		digits[i]++
		up = false
	}
	cut := len(digits) - n
	if digits[0] == '0' {
		return joinDecimal(string(digits[1:cut]), string(digits[cut:]))
	}
	return joinDecimal(string(digits[:cut]), string(digits[cut:]))
}

func joinDecimal(whole, frac string) string {
	if frac == "" {
		return whole
	}
	return whole + "." + frac
}

// FormatNear prints v as [Format] does, with as many more digits as it takes
// for the printed figure to stand where v stands: below, at or above the limit
// itself and below, at or above the limit printed to the same digits. So
// -3.04 beside a limit of -3 prints "-3.04", never "-3.0". Print the limit
// with [FormatPair] when it may have more digits than decimals.
func FormatNear(v, limit float64, decimals int) string {
	s, _ := FormatPair(v, limit, decimals)
	return s
}

// FormatPair prints a value and its limit with the same number of digits, as
// few as FormatNear allows and no fewer than decimals.
func FormatPair(v, limit float64, decimals int) (value, bound string) {
	for d := max(decimals, 0); d <= maxDecimals; d++ {
		value, bound = Format(v, d), Format(limit, d)
		pv, pl := printed(value), printed(bound)
		if side(pv, pl) == side(v, limit) && side(pv, limit) == side(v, limit) {
			return value, bound
		}
	}
	return Format(v, -1), Format(limit, -1)
}

// printed reads back what Format wrote; NaN stays NaN.
func printed(s string) float64 {
	v, _ := strconv.ParseFloat(s, 64)
	return v
}

// side is -1, 0, +1 for below, at, above; 2 when a NaN leaves no side.
func side(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	case a == b:
		return 0
	}
	return 2
}

// FormatUnit prints the exact value and its unit, "34 F", in the form
// [ParseQuantity] reads back; a pressure above zero gets its plus sign.
func FormatUnit(v float64, u Unit) string { return signed(v, u) + " " + string(u) }

// signed prints v exactly, with the plus sign the parsers ask of a pressure.
func signed(v float64, u Unit) string {
	s := Format(v, -1)
	if v > 0 && u.Family() == FamilyPressure && !math.IsInf(v, 0) {
		return "+" + s
	}
	return s
}
