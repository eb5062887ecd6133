package logfile

import (
	"strings"
	"time"
)

// Layout of the times: letters for the parts, all else as it stands. Y year of
// four digits, y of two (20yy), M month, N month as three letters, D day, h
// hour, m minute, s second with or without a fraction, p AM or PM, Z zone as
// +hh:mm or Z. Numbers of one or two digits, or one of the words below.
// Append-only.
type Layout string

// Times that are numbers.
const (
	Unix       Layout = "unix"        // seconds since 1970
	UnixMilli  Layout = "unix-ms"     // milliseconds since 1970
	Elapsed    Layout = "elapsed-s"   // seconds since the log was started
	SerialDays Layout = "serial-days" // days since 1899-12-30, as spreadsheets count
)

// layouts that are tried, the more certain first. Those of one group differ by
// what comes first, day or month.
var layouts = []Layout{
	"Y-M-DTh:m:sZ", "Y-M-D h:m:sZ", "Y-M-D h:m:s Z", "Y-M-DTh:m:s", "Y-M-D h:m:s", "Y-M-D h:m", "Y/M/D h:m:s", "Y/M/D h:m", "Y.M.D h:m:s",
	"M/D/Y h:m:s p", "D/M/Y h:m:s p", "M/D/Y h:m p", "D/M/Y h:m p", "M/D/Y h:m:s", "D/M/Y h:m:s", "M/D/Y h:m", "D/M/Y h:m",
	"M-D-Y h:m:s", "D-M-Y h:m:s", "D.M.Y h:m:s", "D.M.Y h:m", "M/D/y h:m:s p", "D/M/y h:m:s p", "M/D/y h:m:s", "D/M/y h:m:s", "M/D/y h:m", "D/M/y h:m", "D.M.y h:m:s",
	"D N Y h:m:s", "D-N-Y h:m:s", "D-N-y h:m:s", "N D Y h:m:s", "N D, Y h:m:s", "YMD hms", "YMDThms",
	"h:m:s p", "h:m:s", "h:m p", "h:m",
}

// twin is the layout that reads day and month the other way round.
func (l Layout) twin() (Layout, bool) {
	s := string(l)
	for _, sep := range []string{"/", "-"} {
		a, b := "M"+sep+"D"+sep, "D"+sep+"M"+sep
		if strings.HasPrefix(s, a) {
			return Layout(b + s[len(a):]), true
		}
		if strings.HasPrefix(s, b) {
			return Layout(a + s[len(b):]), true
		}
	}
	return "", false
}

// Known reports whether the layout is one of the words for numbers, or has at
// least hours and minutes and no letter without a meaning.
func (l Layout) Known() bool {
	if l.numeric() {
		return true
	}
	return strings.Contains(string(l), "h") && strings.Contains(string(l), "m") && strings.Trim(string(l), "YyMNDhmspZT:-/., ") == ""
}

func (l Layout) numeric() bool {
	return l == Unix || l == UnixMilli || l == Elapsed || l == SerialDays
}

// Dated reports whether the layout says which day it is.
func (l Layout) Dated() bool { return l.numeric() && l != Elapsed || strings.Contains(string(l), "D") }

// clock turns cells into nanoseconds since 1970.
type clock struct {
	layout  Layout
	comma   bool
	zone    *time.Location // nil is UTC
	day     int64          // ns: start of elapsed seconds; days since the first of a clock without date
	y, m, d int            // date of a clock without one
	prev    int64
	some    bool
}

func newClock(f Format) *clock {
	c := &clock{layout: f.Layout, comma: f.DecimalComma, zone: f.Zone, y: 1970, m: 1, d: 1}
	if c.zone == time.UTC {
		c.zone = nil
	}
	if !f.Day.IsZero() {
		if f.Layout == Elapsed {
			c.day = f.Day.UnixNano()
		} else {
			y, m, d := f.Day.Date()
			c.y, c.m, c.d = y, int(m), d
		}
	}
	return c
}

// The years that nanoseconds since 1970 can hold, and a little less.
const firstYear, lastYear = 1900, 2200

func (c *clock) parse(cell []byte) (int64, bool) {
	t, ok := c.read(cell)
	if !ok {
		return 0, false
	}
	if !c.layout.numeric() && !c.layout.Dated() {
		// Half a day back is midnight, not disorder.
		for c.some && t+c.day < c.prev-12*3600e9 && c.day < 36500*86400e9 {
			c.day += 86400e9
		}
		t += c.day
	}
	c.prev, c.some = t, true
	return t, true
}

func (c *clock) read(cell []byte) (int64, bool) {
	if c.layout.numeric() {
		v, ok := number(cell, c.comma)
		if !ok {
			return 0, false
		}
		var s float64 // seconds since 1970 or since the start
		switch c.layout {
		case Unix, Elapsed:
			s = v
		case UnixMilli:
			s = v / 1e3
		case SerialDays:
			s = (v - 25569) * 86400
		}
		if !(s > -2e9 && s < 7e9) {
			return 0, false
		}
		whole := int64(s)
		t := whole*1e9 + int64((s-float64(whole))*1e9+0.5)
		if c.layout == Elapsed {
			t += c.day
		}
		return t, true
	}
	y, mo, d, h, mi, s, ns := c.y, c.m, c.d, 0, 0, 0, 0
	pm, offset, zoned := 0, 0, false
	i := 0
	digits := func(least, most int) (int, bool) {
		v, n := 0, 0
		for n < most && i < len(cell) && cell[i] >= '0' && cell[i] <= '9' {
			v, n, i = v*10+int(cell[i]-'0'), n+1, i+1
		}
		return v, n >= least
	}
	for k := 0; k < len(c.layout); k++ {
		ok := true
		switch l := c.layout[k]; l {
		case 'Y':
			y, ok = digits(4, 4)
		case 'y':
			y, ok = digits(2, 2)
			y += 2000
		case 'M':
			mo, ok = digits(1, 2)
		case 'D':
			d, ok = digits(1, 2)
		case 'h':
			h, ok = digits(1, 2)
		case 'm':
			mi, ok = digits(1, 2)
		case 's':
			s, ok = digits(1, 2)
			if ok && i < len(cell) && (cell[i] == '.' || cell[i] == ',') {
				i++
				scale := 100_000_000
				from := i
				for i < len(cell) && cell[i] >= '0' && cell[i] <= '9' {
					ns += int(cell[i]-'0') * scale
					scale, i = scale/10, i+1
				}
				ok = i > from
			}
		case 'N':
			ok = false
			if i+3 <= len(cell) {
				const names = "janfebmaraprmayjunjulaugsepoctnovdec"
				at := strings.Index(names, strings.ToLower(string(cell[i:i+3])))
				if at >= 0 && at%3 == 0 {
					mo, ok, i = at/3+1, true, i+3
				}
			}
		case 'p':
			ok = i+2 <= len(cell) && cell[i+1]|0x20 == 'm' && (cell[i]|0x20 == 'a' || cell[i]|0x20 == 'p')
			if ok {
				pm = 1
				if cell[i]|0x20 == 'p' {
					pm = 2
				}
				i += 2
			}
		case 'Z':
			zoned = true
			if i < len(cell) && cell[i] == 'Z' {
				i++
				break
			}
			ok = i < len(cell) && (cell[i] == '+' || cell[i] == '-')
			if ok {
				sign := 1
				if cell[i] == '-' {
					sign = -1
				}
				i++
				var oh, om int
				if oh, ok = digits(2, 2); ok {
					if i < len(cell) && cell[i] == ':' {
						i++
					}
					om, ok = digits(2, 2)
				}
				ok = ok && oh <= 14 && om < 60
				offset = sign * (oh*3600 + om*60)
			}
		default:
			ok = i < len(cell) && cell[i] == l
			i++
		}
		if !ok {
			return 0, false
		}
	}
	if i != len(cell) || mo < 1 || mo > 12 || d < 1 || d > lastDay(y, mo) || h > 23 || mi > 59 || s > 59 || y < firstYear || y > lastYear {
		return 0, false
	}
	if pm != 0 {
		if h < 1 || h > 12 {
			return 0, false
		}
		h %= 12
		if pm == 2 {
			h += 12
		}
	}
	if c.zone != nil && !zoned {
		return time.Date(y, time.Month(mo), d, h, mi, s, ns, c.zone).UnixNano(), true
	}
	return (days(y, mo, d)*86400+int64(h*3600+mi*60+s-offset))*1e9 + int64(ns), true
}

// days since 1970-01-01 of a date of the Gregorian calendar.
func days(y, m, d int) int64 {
	if m <= 2 {
		y--
		m += 12
	}
	return int64(365*y + y/4 - y/100 + y/400 + (153*(m-3)+2)/5 + d - 719469)
}

func lastDay(y, m int) int {
	switch m {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}

// ParseTime reads a time as a person types it for one end of a window: in the
// log's own layout, as "2026-03-01 10:05:00" or "2026-03-01 10:05", or as a
// bare "10:05:00" or "10:05", which is the first such time at or after near.
func (f Format) ParseTime(text string, near time.Time) (time.Time, bool) {
	text = strings.Join(strings.Fields(text), " ")
	for _, l := range []Layout{f.Layout, "Y-M-D h:m:s", "Y-M-DTh:m:s", "Y-M-D h:m", "h:m:s", "h:m"} {
		g := f
		g.Layout = l
		c := newClock(g)
		t, ok := c.read([]byte(text))
		if !ok {
			continue
		}
		at := f.at(t)
		if !l.Dated() && l != Elapsed {
			y, m, d := near.In(at.Location()).Date()
			at = time.Date(y, m, d, at.Hour(), at.Minute(), at.Second(), at.Nanosecond(), at.Location())
			if at.Before(near.Add(-time.Second)) {
				at = at.AddDate(0, 0, 1)
			}
		}
		return at, true
	}
	return time.Time{}, false
}
