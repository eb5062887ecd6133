package page

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/register"
)

// Limits of what forms take: bytes of a filter and of a name, bytes of a note.
const (
	MaxField = 200
	MaxNote  = 4000
)

// Query is what the queue or the trend is asked for. The zero value is the
// first page of all that waits.
type Query struct {
	Filter register.Filter
	After  int64            // key after which the queue goes on, 0 for its beginning
	By     register.GroupBy // of the trend; "" is by month
}

// FieldError is a field of a form or an address that cannot be used. Why is
// one of "unknown", "twice", "text", "long", "choice", "day", "number",
// "empty".
type FieldError struct{ Field, Why string }

func (e *FieldError) Error() string { return "page: field " + e.Field + ": " + e.Why }

var phases = []procedure.Phase{procedure.TestIn, procedure.Daily, procedure.TestOut}

// ParseQuery reads the part of an address after the question mark. What it
// does not know it refuses: a filter that was dropped unseen would show homes
// that nobody asked for, or hide some. The error is a [*FieldError].
func ParseQuery(v url.Values) (Query, error) {
	var q Query
	f := &q.Filter
	for k, list := range v {
		if len(list) != 1 {
			return Query{}, &FieldError{k, "twice"}
		}
		s, err := field(k, list[0], MaxField, false)
		if err != nil {
			return Query{}, err
		}
		if s == "" {
			continue
		}
		good, why := true, "choice"
		switch k {
		case "crew":
			f.Crew = s
		case "home":
			f.Home = s
		case "label":
			f.Label = s
		case "scheme":
			f.Scheme = s
		case "reason":
			f.Reason = register.Code(s)
			good = slices.Contains(register.Codes, f.Reason)
		case "appliance":
			f.Appliance = procedure.ApplianceKind(s)
			good = slices.Contains(procedure.ApplianceKinds, f.Appliance)
		case "phase":
			f.Phase = procedure.Phase(s)
			good = slices.Contains(phases, f.Phase)
		case "from", "to":
			t, err := time.Parse(time.DateOnly, s)
			good, why = err == nil, "day"
			if k == "from" {
				f.From = register.DayOf(t)
			} else {
				f.To = register.DayOf(t)
			}
		case "signed":
			f.Accepted, good = true, s == "1"
		case "no-practice":
			f.NoPractice, good = true, s == "1"
		case "after":
			n, err := strconv.ParseInt(s, 10, 64)
			q.After, good, why = n, err == nil && n > 0, "number"
		case "by":
			q.By = register.GroupBy(s)
			good = slices.Contains(register.Groups, q.By)
		default:
			return Query{}, &FieldError{k, "unknown"}
		}
		if !good {
			return Query{}, &FieldError{k, why}
		}
	}
	return q, nil
}

// Values is the query as [ParseQuery] reads it.
func (q Query) Values() url.Values {
	v := url.Values{}
	put := func(k, s string) {
		if s != "" {
			v.Set(k, s)
		}
	}
	f := q.Filter
	put("crew", f.Crew)
	put("home", f.Home)
	put("label", f.Label)
	put("scheme", f.Scheme)
	put("reason", string(f.Reason))
	put("appliance", string(f.Appliance))
	put("phase", string(f.Phase))
	put("from", register.Date(f.From))
	put("to", register.Date(f.To))
	if f.Accepted {
		put("signed", "1")
	}
	if f.NoPractice {
		put("no-practice", "1")
	}
	if q.After != 0 {
		put("after", strconv.FormatInt(q.After, 10))
	}
	put("by", string(q.By))
	return v
}

// Signing is a filled form of a sign-off. Close is the closing hash that the
// reader saw.
type Signing struct{ Close, Name, Verdict, Note string }

// ParseSigning reads the form of a sign-off; its token is checked by who
// receives it. The error is a [*FieldError], and what could be read comes with
// it, so that nobody types a note twice.
func ParseSigning(v url.Values) (Signing, error) {
	var s Signing
	var bad error
	for _, x := range []struct {
		name string
		most int
		many bool
		to   *string
	}{{"close", MaxField, false, &s.Close}, {"name", MaxField, false, &s.Name}, {"verdict", MaxField, false, &s.Verdict}, {"note", MaxNote, true, &s.Note}} {
		var err error
		if list := v[x.name]; len(list) > 1 {
			err = &FieldError{x.name, "twice"}
		} else if len(list) == 1 {
			*x.to, err = field(x.name, list[0], x.most, x.many)
		}
		if bad == nil {
			bad = err
		}
	}
	for k := range v {
		if !slices.Contains([]string{"csrf", "close", "name", "verdict", "note"}, k) && bad == nil {
			bad = &FieldError{k, "unknown"}
		}
	}
	switch {
	case bad != nil:
	case s.Close == "":
		bad = &FieldError{"close", "empty"}
	case s.Name == "":
		bad = &FieldError{"name", "empty"}
	case s.Verdict != "accept" && s.Verdict != "return":
		bad = &FieldError{"verdict", "choice"}
	case s.Verdict == "return" && s.Note == "":
		bad = &FieldError{"note", "empty"}
	}
	return s, bad
}

// field is the text of a field without outer spaces. What no record takes is
// refused: control characters and those that turn the direction of writing.
// Many allows line breaks, which become line feeds.
func field(name, s string, most int, many bool) (string, error) {
	if many {
		s = strings.ReplaceAll(s, "\r\n", "\n")
	}
	if !utf8.ValidString(s) || strings.ContainsFunc(s, func(r rune) bool { return journal.Barred(r) && !(many && (r == '\n' || r == '\t')) }) {
		return "", &FieldError{name, "text"}
	}
	s = strings.TrimSpace(s)
	if len(s) > most {
		return s, &FieldError{name, "long"}
	}
	return s, nil
}
