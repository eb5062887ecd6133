package page

import (
	"errors"
	"net/url"
	"strings"
	"testing"

	"cazward/procedure/register"
)

func TestParseQuery(t *testing.T) {
	for _, c := range []struct {
		query string
		want  Query
		field string
		why   string
	}{
		{"", Query{}, "", ""},
		{"crew=&home=&reason=&from=", Query{}, "", ""},
		{"crew=+AB+&home=12+Elm&label=x&scheme=graded-2005&reason=too-close&appliance=boiler&phase=daily&signed=1&no-practice=1&after=7",
			Query{Filter: register.Filter{Crew: "AB", Home: "12 Elm", Label: "x", Scheme: "graded-2005", Reason: register.CloseToLimit, Appliance: "boiler", Phase: "daily", Accepted: true, NoPractice: true}, After: 7}, "", ""},
		{"from=1970-01-02&to=1970-01-03&by=crew", Query{Filter: register.Filter{From: 1, To: 2}, By: register.ByCrew}, "", ""},
		{"home='+OR+1=1--", Query{Filter: register.Filter{Home: "' OR 1=1--"}}, "", ""},
		{"crew=AB&crew=CD", Query{}, "crew", "twice"},
		{"crew=A%00B", Query{}, "crew", "text"},
		{"crew=A%1b[31m", Query{}, "crew", "text"},
		{"crew=%ff", Query{}, "crew", "text"},
		{"crew=%e2%80%ae", Query{}, "crew", "text"},
		{"home=" + strings.Repeat("x", MaxField+1), Query{}, "home", "long"},
		{"reason=none", Query{}, "reason", "choice"},
		{"appliance=../../etc", Query{}, "appliance", "choice"},
		{"phase=x", Query{}, "phase", "choice"},
		{"by=moon", Query{}, "by", "choice"},
		{"from=2026-02-30", Query{}, "from", "day"},
		{"to=yesterday", Query{}, "to", "day"},
		{"signed=yes", Query{}, "signed", "choice"},
		{"after=-1", Query{}, "after", "number"},
		{"after=9999999999999999999", Query{}, "after", "number"},
		{"admin=1", Query{}, "admin", "unknown"},
	} {
		v, err := url.ParseQuery(c.query)
		if err != nil {
			t.Fatal(err)
		}
		got, err := ParseQuery(v)
		var bad *FieldError
		if errors.As(err, &bad) != (c.field != "") || bad != nil && (bad.Field != c.field && c.field != "" || bad.Why != c.why) {
			t.Errorf("%s: error %v, want %s %s", c.query, err, c.field, c.why)
		}
		if got != c.want {
			t.Errorf("%s: got %+v, want %+v", c.query, got, c.want)
		}
	}
}

func TestParseSigning(t *testing.T) {
	for _, c := range []struct{ form, field, why string }{
		{"csrf=t&close=ab&name=SV&verdict=accept&note=", "", ""},
		{"close=ab&name=SV&verdict=return&note=a%0d%0ab", "", ""},
		{"close=ab&name=SV&verdict=return&note=+", "note", "empty"},
		{"close=ab&name=+&verdict=accept", "name", "empty"},
		{"name=SV&verdict=accept", "close", "empty"},
		{"close=ab&name=SV&verdict=delete", "verdict", "choice"},
		{"close=ab&name=SV", "verdict", "choice"},
		{"close=ab&name=S%0aV&verdict=accept", "name", "text"},
		{"close=ab&name=SV&verdict=accept&note=%1b[2J", "note", "text"},
		{"close=ab&name=SV&verdict=accept&note=" + strings.Repeat("x", MaxNote+1), "note", "long"},
		{"close=ab&name=SV&name=XX&verdict=accept", "name", "twice"},
		{"close=ab&name=SV&verdict=accept&path=../x", "path", "unknown"},
	} {
		v, err := url.ParseQuery(c.form)
		if err != nil {
			t.Fatal(err)
		}
		s, err := ParseSigning(v)
		var bad *FieldError
		if errors.As(err, &bad) != (c.field != "") || bad != nil && (bad.Field != c.field || bad.Why != c.why) {
			t.Errorf("%s: error %v, want %q %q", c.form, err, c.field, c.why)
		}
		if c.why == "empty" && c.field == "note" && s.Name != "SV" {
			t.Error("what was typed is lost")
		}
		if strings.Contains(s.Note, "\r") {
			t.Errorf("note %q", s.Note)
		}
	}
}

// FuzzQuery holds that what is read is within the limits and comes back the
// same from an address made of it.
func FuzzQuery(f *testing.F) {
	for _, s := range []string{"", "crew=AB&after=3", "home=%27--&signed=1", "from=2026-01-02&to=0001-01-01", "crew=%00", "a;b", "note=x&verdict=return&close=1&name=2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := url.ParseQuery(s)
		if err != nil {
			return
		}
		if q, err := ParseQuery(v); err == nil {
			again, err := url.ParseQuery(q.Values().Encode())
			if err != nil {
				t.Fatal(err)
			}
			if back, err := ParseQuery(again); err != nil || back != q {
				t.Errorf("%q: %+v comes back as %+v, %v", s, q, back, err)
			}
			for _, text := range []string{q.Filter.Crew, q.Filter.Home, q.Filter.Label, q.Filter.Scheme} {
				if len(text) > MaxField || strings.ContainsAny(text, "\x00\x1b\n") {
					t.Errorf("%q: kept %q", s, text)
				}
			}
		}
		if g, err := ParseSigning(v); err == nil && (g.Name == "" || g.Close == "" || len(g.Note) > MaxNote || strings.ContainsAny(g.Name+g.Note, "\x00\x1b\r")) {
			t.Errorf("%q: %+v", s, g)
		}
	})
}
