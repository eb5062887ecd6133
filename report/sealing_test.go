package report_test

import (
	"math"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/csv"
	reportjson "cazward/report/json"
	"cazward/report/reporttest"
)

// The section says what the single-zone rule gives, worked out here by hand:
// -2.58 x (1900/1150)^(1/0.65) = -5.586, and 1900 x (2.58/5)^0.65 = 1235.9.
func TestSealing(t *testing.T) {
	in := reporttest.Sealing()
	s := section(t, report.Build(in), "sealing")
	after, floor := -2.58*math.Pow(1900/1150.0, 1/0.65), 1900*math.Pow(2.58/5, 0.65)
	if math.Abs(after+5.586) > 0.001 || math.Abs(floor-1235.88) > 0.01 {
		t.Fatalf("by hand %v Pa, %v CFM50", after, floor)
	}
	all := words(s)
	for _, want := range []string{"today | 1900 | -2.6", "after sealing as planned | 1150 | -5.6", "-5.0 | PAST THE LIMIT", "the figure itself reaches the limit | 1236", "down to 1420 CFM50", "takes 480 CFM50 away (25 %)", "return leak"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in\n%s", want, all)
		}
	}
	if len(s.Sealing) != 1 {
		t.Fatalf("%d drawings", len(s.Sealing))
	}
	c := s.Sealing[0]
	if c.Marks[1].Flow != 1150 || math.Abs(c.Marks[1].Pa-after) > 1e-9 || *c.Limit != -5 || c.Stop == nil || math.Abs(c.Floor.Flow-floor) > 1e-6 {
		t.Errorf("marks %+v, limit %v, stop %v, floor %v", c.Marks, *c.Limit, c.Stop, c.Floor)
	}
	for i, p := range c.Curve {
		if want := -2.58 * math.Pow(1900/p.Flow, 1/0.65); math.Abs(p.Pa-want) > 1e-9 || !(p.Low < p.Pa && p.Pa < p.Top) || i > 0 && p.Flow <= c.Curve[i-1].Flow {
			t.Errorf("point %d of the curve: %+v, want %v Pa", i, p, want)
		}
	}
}

// What page 1 forbids is not allowed by the section, and what is not known is
// never a figure to go by.
func TestSealingNeverAllows(t *testing.T) {
	far := func(in report.Input) string { return section(t, report.Build(in), "sealing").Facts[0].Value }
	for _, d := range []procedure.Decision{procedure.Hold, procedure.Leave, procedure.Incomplete, procedure.NoDecision, "later-word"} {
		in := reporttest.Sealing()
		in.Judgement.Decision = d
		if got := far(in); !strings.HasPrefix(got, "NOT YET") {
			t.Errorf("%q: %q", d, got)
		}
	}
	in := reporttest.Sealing()
	in.Judgement.Missing = []procedure.Missing{{Step: "doors/z1", Why: "no-answer"}}
	if got := far(in); !strings.HasPrefix(got, "not known") || strings.Contains(got, "1420") {
		t.Errorf("worst case incomplete: %q", got)
	}
	in = reporttest.Sealing()
	in.Judgement.Findings = in.Judgement.Findings[2:] // no limit any more
	if got := far(in); !strings.HasPrefix(got, "not known") {
		t.Errorf("no limit: %q", got)
	}
	in = reporttest.Sealing()
	in.Judgement.WorstCase[0].Net = nil
	if all := words(section(t, report.Build(in), "sealing")); !strings.Contains(all, "no net at worst case yet") || !strings.Contains(all, "not known") {
		t.Errorf("no net: %s", all)
	}
	in = reporttest.Sealing()
	*in.Observations.CFM50 = 1300
	in.Observations.SealTo = nil
	*in.Judgement.WorstCase[0].Net = -4.7
	if got := far(in); !strings.HasPrefix(got, "no further") {
		t.Errorf("too near already: %q", got)
	}
	in = reporttest.Sealing()
	in.Header.Phase = procedure.TestOut
	for _, s := range report.Build(in).Sections {
		if s.ID == "sealing" {
			t.Error("a plan of sealing after the sealing")
		}
	}
}

func TestSealingUnits(t *testing.T) {
	in := reporttest.Sealing()
	in.Units, in.Lang = report.SI, wording.Spanish
	all := words(section(t, report.Build(in), "sealing"))
	// 1419.38 CFM50 are 669.86 L/s, 480.62 are 226.83: up and down to the safe side.
	for _, want := range []string{"hasta 669.9 L/s a 50 Pa", "quita 226.8 L/s a 50 Pa", "hoy | 896.7"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in\n%s", want, all)
		}
	}
	air := words(section(t, report.Build(in), "air"))
	if !strings.Contains(air, "101.9 m3") || strings.Contains(air, "3600") || !strings.Contains(air, "40.4 kW") {
		t.Errorf("combustion air in SI units: %s", air)
	}
}

// 138,000 Btu/h need 6,900 ft3 by the standard method; 3,600 are there.
func TestCombustionAir(t *testing.T) {
	in := reporttest.Sealing()
	all := words(section(t, report.Build(in), "air"))
	for _, want := range []string{"6900 ft3 | 3600 ft3 | 0.52 | NOT ENOUGH", "138000 Btu/h, of it fan-assisted 80000 Btu/h", "straight or by vertical ducts | 2 | 34.5 in2 | 16.5 in2 | 46.0 in2 | 138.0 in2", "from memory"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in\n%s", want, all)
		}
	}
	in.Observations.Zones[0].Volume = 6900
	if all = words(section(t, report.Build(in), "air")); !strings.Contains(all, "enough by itself") || strings.Contains(all, "ducts") {
		t.Errorf("just enough: %s", all)
	}
	in.Observations.Appliances[2].Burner.Input = 0
	if all = words(section(t, report.Build(in), "air")); !strings.Contains(all, "input not known: Oven") || !strings.Contains(all, "not evaluated") {
		t.Errorf("an input that is not known: %s", all)
	}
	in.Observations.Zones[0].Volume = 1000
	if all = words(section(t, report.Build(in), "air")); !strings.Contains(all, "NOT ENOUGH") {
		t.Errorf("short without the unknown one: %s", all)
	}
	in.Observations.Zones[0].Volume = 0
	for _, s := range report.Build(in).Sections {
		if s.ID == "air" {
			t.Error("combustion air without a volume")
		}
	}
}

// Every reason why a forecast is weak has words of its own.
func TestWeaknessWords(t *testing.T) {
	for _, w := range forecast.Weaknesses {
		if _, ok := report.Labels()["weak-"+string(w)]; !ok {
			t.Errorf("weakness %q has no words", w)
		}
	}
}

// The forms for machines carry the plan, and say that it is one.
func TestPlanForMachines(t *testing.T) {
	in := reporttest.Sealing()
	var b strings.Builder
	if err := csv.Write(&b, in); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{",plan,,,,z1,Basement,net after sealing,-5.585861,Pa,", ",fail,-5,", "flow at 50 Pa to stop at,1419.", "volume needed for combustion air,6900,ft3"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("csv lacks %q", want)
		}
	}
	o := reportjson.Report(in)
	if len(o.AfterSealing) != 1 || math.Abs(*o.AfterSealing[0].After+5.5859) > 1e-3 || o.AfterSealing[0].Verdict != procedure.Fail || o.AfterSealing[0].Zone != "z1" {
		t.Errorf("json: %+v", o.AfterSealing)
	}
	if len(o.CombustionAir) != 1 || o.CombustionAir[0].Required != 6900 || o.CombustionAir[0].Sufficient {
		t.Errorf("json: %+v", o.CombustionAir)
	}
	if o = reportjson.Report(reporttest.Hold()); o.AfterSealing == nil || len(o.AfterSealing)+len(o.CombustionAir) != 0 {
		t.Errorf("a record without the facts: %+v", o.AfterSealing)
	}
}

func weatherAnswer(in report.Input) procedure.Data {
	w := *in.Observations.Weather
	return &procedure.Answer{Weather: &w}
}
