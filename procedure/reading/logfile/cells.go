package logfile

import (
	"bytes"
	"strconv"
)

// number reads a plain decimal number of a cell. Up to fifteen digits it is
// exact without the general parser, because both the digits and the power of
// ten are whole floats.
func number(b []byte, comma bool) (float64, bool) {
	b = bytes.TrimSpace(b)
	neg := false
	i := 0
	if len(b) > 3 && b[0] == 0xE2 && b[1] == 0x88 && b[2] == 0x92 { // U+2212
		neg, i = true, 3
	} else if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		neg, i = b[0] == '-', 1
	}
	mark := byte('.')
	if comma {
		mark = ','
	}
	start, mant, digits, frac := i, int64(0), 0, -1
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c >= '0' && c <= '9':
			mant, digits = mant*10+int64(c-'0'), digits+1
			if frac >= 0 {
				frac++
			}
		case c == mark && frac < 0:
			frac = 0
		default:
			return general(b, start, neg, comma)
		}
		if digits > 15 {
			return general(b, start, neg, comma)
		}
	}
	if digits == 0 {
		return 0, false
	}
	v := float64(mant)
	if frac > 0 {
		v /= pow10[frac]
	}
	if neg && v != 0 {
		v = -v
	}
	return v, true
}

var pow10 = [16]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// general reads long numbers and those with an exponent, as some loggers write
// them; words, hex and infinities are no numbers.
func general(b []byte, start int, neg, comma bool) (float64, bool) {
	if len(b) > 64 {
		return 0, false
	}
	s := make([]byte, 0, 64)
	for _, c := range b[start:] {
		switch {
		case c >= '0' && c <= '9' || c == 'e' || c == 'E' || c == '-' || c == '+':
		case comma && c == ',':
			c = '.'
		case !comma && c == '.':
		default:
			return 0, false
		}
		s = append(s, c)
	}
	if len(s) == 0 || s[0] == '-' || s[0] == '+' {
		return 0, false
	}
	v, err := strconv.ParseFloat(string(s), 64)
	if err != nil || v > 1e12 {
		return 0, false
	}
	if neg && v != 0 {
		v = -v
	}
	return v, true
}

// next cuts the first cell off a line; ok false when there is none left.
func next(line []byte, delim byte) (cell, rest []byte, more bool) {
	if delim == ' ' {
		line = bytes.TrimLeft(line, " \t")
	}
	if len(line) > 0 && line[0] == '"' {
		if end := bytes.IndexByte(line[1:], '"'); end >= 0 {
			cell, rest = line[1:1+end], line[2+end:]
			if at := bytes.IndexByte(rest, delim); at >= 0 {
				return bytes.TrimSpace(cell), rest[at+1:], true
			}
			return bytes.TrimSpace(cell), nil, false
		}
	}
	at := bytes.IndexByte(line, delim)
	if delim == ' ' {
		at = bytes.IndexAny(line, " \t")
	}
	if at < 0 {
		return bytes.TrimSpace(line), nil, false
	}
	if delim == ' ' && len(bytes.TrimLeft(line[at:], " \t")) == 0 {
		return bytes.TrimSpace(line[:at]), nil, false
	}
	return bytes.TrimSpace(line[:at]), line[at+1:], true
}

// split cuts a whole line.
func split(line []byte, delim byte) [][]byte {
	var out [][]byte
	for more := true; more; {
		var cell []byte
		cell, line, more = next(line, delim)
		out = append(out, cell)
	}
	return out
}
