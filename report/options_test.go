package report_test

import (
	"strings"
	"testing"

	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/reporttest"
)

// The phases before stand in every form, by the ids of their records.
func TestEarlierInEveryForm(t *testing.T) {
	in := reporttest.Phases()
	for form, b := range forms(t, in) {
		if form == "pdf" { // its text is compressed: the goldens look at it
			continue
		}
		for _, id := range []string{"cedar-14-last", "cedar-14-day", "cedar-14-in"} {
			if !strings.Contains(string(b), id) {
				t.Errorf("%s does not name %s", form, id)
			}
		}
	}
	if red := forms(t, report.Redact(in)); strings.Contains(string(red["json"])+string(red["csv"])+string(red["xml"]), "Cedar") {
		t.Error("a redacted form names the home of an earlier phase")
	}
}

// Units and language reach every form that people read, and tables of figures.
func TestOptionsInEveryForm(t *testing.T) {
	for _, c := range []struct {
		lang  wording.Lang
		units report.Units
		want  map[string][]string
		not   map[string][]string
	}{
		{wording.English, report.SI, map[string][]string{"txt": {"9.7 km/h", "L/s at 50 Pa", "101.9 m3"}, "html": {"9.7 km/h", "L/s at 50 Pa", "101.9 m3"}, "csv": {"9.7,km/h", ",L/s,", "101.9,m3"}}, map[string][]string{"txt": {"mph", "ft3 "}, "csv": {"mph", ",ft3,", ",cfm,"}}},
		{wording.Spanish, report.US, map[string][]string{"txt": {"PRECAUCIÓN", "6 mph", "TRAS EL SELLADO", "6900 ft3"}, "html": {"PRECAUCIÓN", "Tras el sellado", `lang="es"`}, "csv": {"6,mph"}}, map[string][]string{"txt": {"CAUTION", "After sealing"}, "html": {"After sealing"}}},
		{wording.Spanish, report.SI, map[string][]string{"txt": {"L/s a 50 Pa", "9.7 km/h"}, "html": {"L/s a 50 Pa"}}, nil},
	} {
		in := reporttest.Sealing()
		in.Lang, in.Units = c.lang, c.units
		in.Events[1].Data, in.Events[1].Step = weatherAnswer(in), "arrive/weather"
		all := forms(t, in)
		for form, list := range c.want {
			text := strings.Join(strings.Fields(string(all[form])), " ")
			for _, w := range list {
				if !strings.Contains(text, w) {
					t.Errorf("%s %s: %s lacks %q", c.lang, c.units, form, w)
				}
			}
		}
		for form, list := range c.not {
			for _, w := range list {
				// Sources of the gas codes keep the units of their rules.
				if text := strings.ReplaceAll(strings.Join(strings.Fields(string(all[form])), " "), "50 ft3 per 1000 Btu/h", ""); strings.Contains(text, w) {
					t.Errorf("%s %s: %s still has %q", c.lang, c.units, form, w)
				}
			}
		}
	}
}
