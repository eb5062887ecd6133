package sqlstore_test

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/procedure/register"
	"cazward/procedure/register/sqlite"
	"cazward/procedure/register/sqlstore"
)

// TestPlans holds that no filter makes the queue read rows that it does not
// show: the keys come out of an index that has all that is asked, in the
// order of the queue. Counts come out of the tally, those of single days out
// of an index by day.
func TestPlans(t *testing.T) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "desk.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, c := range []struct {
		f     register.Filter
		leads string
	}{
		{register.Filter{}, "COVERING INDEX entry_queue"},
		{register.Filter{Accepted: true}, "COVERING INDEX entry_queue"},
		{register.Filter{From: 20000, To: 20100}, "COVERING INDEX entry_queue"},
		{register.Filter{NoPractice: true}, "COVERING INDEX entry_queue"},
		{register.Filter{Crew: "AB"}, "COVERING INDEX entry_crew"},
		{register.Filter{Label: "north"}, "COVERING INDEX entry_label"},
		{register.Filter{Scheme: "graded-2005"}, "COVERING INDEX entry_scheme"},
		{register.Filter{Phase: procedure.Daily}, "COVERING INDEX entry_phase"},
		{register.Filter{Crew: "AB", Scheme: "graded-2005", Label: "north", Phase: procedure.Daily}, "COVERING INDEX entry_"},
		{register.Filter{Reason: register.CloseToLimit}, "reason USING PRIMARY KEY"},
		{register.Filter{Reason: register.CloseToLimit, Crew: "AB", Label: "north"}, "reason USING PRIMARY KEY"},
		{register.Filter{Appliance: procedure.Furnace, Scheme: "graded-2005", From: 20000}, "appliance USING PRIMARY KEY"},
		{register.Filter{Reason: register.CloseToLimit, Appliance: procedure.Furnace}, "reason USING PRIMARY KEY"},
	} {
		page, count, days, err := s.(*sqlstore.Store).Explain(ctx, c.f)
		if err != nil {
			t.Fatal(err)
		}
		byDay := "COVERING INDEX entry_"
		switch {
		case c.f.Reason != "":
			byDay = "reason_day (code=? AND day"
		case c.f.Appliance != "":
			byDay = "appliance_day (kind=? AND day"
		case c.f == register.Filter{} || c.f == register.Filter{Accepted: true}:
			byDay = "COVERING INDEX entry_day (day"
		}
		for _, x := range []struct {
			what  string
			plan  []string
			leads string
		}{{"page", page, c.leads}, {"count", count, "tally USING PRIMARY KEY (code=? AND kind=?"}, {"count of days", days, byDay}} {
			text := strings.Join(x.plan, "; ")
			if !strings.Contains(text, x.leads) {
				t.Errorf("%s of %+v: %s\nwant %s in it", x.what, c.f, text, x.leads)
			}
			// The rows that are shown may be sorted; they are few.
			if inner, _, _ := strings.Cut(text, "SCAN p"); x.what == "page" && strings.Contains(inner, "TEMP B-TREE") {
				t.Errorf("%s of %+v is sorted: %s", x.what, c.f, text)
			}
		}
	}
}
