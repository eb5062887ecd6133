package practice_test

import (
	"slices"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/procedure/practice"
	"cazward/procedure/practice/practicetest"
	"cazward/procedure/wording"
)

func standard(t testing.TB) practice.Rubric {
	t.Helper()
	r, err := practice.ReadRubric("standard", practice.StandardRubric())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func debrief(t testing.TB, w *practicetest.Trainee, j procedure.Judgement) practice.Debrief {
	t.Helper()
	d, err := w.House.Debrief(t.Context(), w.Header, w.Events, w.State, w.State.Observations(), j, standard(t), wording.English)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func dump(d practice.Debrief) string {
	var b strings.Builder
	for _, l := range d.Lines() {
		b.WriteString(map[string]string{"head": "\n", "text": "  ", "sub": "      "}[l[0]] + l[1] + "\n")
	}
	return b.String()
}

// TestSoundDebriefs: who does all that is asked, in any house, has every point
// and nothing to work on.
func TestSoundDebriefs(t *testing.T) {
	for _, name := range practice.HouseNames() {
		t.Run(name, func(t *testing.T) {
			w := practicetest.Begin(t, practicetest.Open(t, name), 3)
			d := debrief(t, w, w.Run())
			if d.Score != d.Of || len(d.WorkOn) > 0 {
				t.Errorf("%s", dump(d))
			}
			for _, z := range d.Zones {
				vented := slices.ContainsFunc(w.House.Appliances, func(a practice.Appliance) bool { return a.Zone == z.Zone && len(a.Vents) > 0 })
				if name == "windy" || !vented {
					continue // nothing was measured, and rightly
				}
				// A burner that draws air out of the zone takes it lower than any
				// setting with burners off; nothing takes it higher.
				if z.Found == nil || z.Held == nil || *z.Found > *z.Held+1.5*(*z.FoundU) {
					t.Errorf("%s: found %v of %v\n%s", z.Zone, z.Found, z.Held, dump(d))
				}
				if z.Held != nil && *z.Held < z.Net-1e-6 {
					t.Errorf("%s: held %v is lower than the lowest of all, %v", z.Zone, *z.Held, z.Net)
				}
			}
		})
	}
}

// TestFlaws: each way to do it wrong costs what it costs in the network, and
// is told by name.
func TestFlaws(t *testing.T) {
	on := func(id string, change func(s *practice.Shown)) func(procedure.Step, *practice.Shown) {
		return func(step procedure.Step, s *practice.Shown) {
			if step.ID == id {
				change(s)
			}
		}
	}
	for _, c := range []struct {
		name, house string
		flaw        func(procedure.Step, *practice.Shown)
		careless    bool
		check       practice.Check
		least, most float64 // amount of fault
		says        string
	}{
		{name: "window left open", house: "common-vent", flaw: on("hose/basement-1", func(s *practice.Shown) { s.Do = "basement-window open" }),
			check: practice.CheckWorst, least: 1, most: 4, says: "the basement window was open, not closed (left so)"},
		{name: "window open at the baseline", house: "common-vent", flaw: on("hose/basement-1", func(s *practice.Shown) { s.Do = "basement-window open" }),
			check: practice.CheckBaseline, least: 0.1, most: 3, says: "the baseline was read with basement window open"},
		{name: "window not put back", house: "common-vent", flaw: func(step procedure.Step, s *practice.Shown) {
			switch step.ID {
			case "hose/basement-1":
				s.Do = "basement-window open"
			case "putback/house":
				s.Do, s.Typed = "", "ok"
			}
		}, check: practice.CheckPutBack, least: 1, most: 3, says: "the basement window was left open; it was found closed"},
		{name: "fan forgotten", house: "tight-ranch", flaw: on("list/fans", func(s *practice.Shown) { s.Typed = "1 3" }),
			check: practice.CheckWorst, least: 15, most: 22, says: "the range hood was off, not on (on no list)"},
		{name: "a minus lost at the reading", house: "tight-ranch", flaw: on("reading/closet-1/worst", func(s *practice.Shown) { s.Typed = "-2.3 -2.2 -2.3 -2.2 -2.3" }),
			check: practice.CheckRead, least: 15, most: 25, says: "worst-case reading of closet: -2.3 Pa was kept, the true pressure was -2"},
		{name: "vent told wrong", house: "orphan", flaw: on("appliance/water-heater-1/vent", func(s *practice.Shown) { s.Typed = "2" }),
			check: practice.CheckInventory, least: 1, most: 4, says: "the water heater: its vent was told fan-assisted, it is natural draft"},
		{name: "orphan not seen", house: "orphan", flaw: on("appliance/water-heater-1/facts", func(s *practice.Shown) { s.Typed = "1 2 3 5 7" }),
			check: practice.CheckInventory, least: 1, most: 1, says: "its having been left alone on the vent was told no, it is yes"},
		{name: "shared vent not seen", house: "common-vent", flaw: func(step procedure.Step, s *practice.Shown) {
			if strings.HasSuffix(step.ID, "/facts") {
				s.Typed = "1 2 3 7"
			}
		}, check: practice.CheckInventory, least: 2, most: 2, says: "the boiler: its shared vent was told no, it is yes"},
		{name: "fan on no list", house: "tight-ranch", flaw: on("list/fans", func(s *practice.Shown) { s.Typed = "1 3" }),
			check: practice.CheckInventory, least: 1, most: 1, says: "the range hood is on no list"},
		{name: "dryer running at the baseline", house: "high-co", flaw: on("baseline/basement-1", func(s *practice.Shown) { s.Do = "dryer on" }),
			check: practice.CheckBaseline, least: 0.1, most: 1, says: "the baseline was read with dryer on"},
		{name: "fan switched off after its set-up", house: "high-co", flaw: on("reading/basement-1/worst", func(s *practice.Shown) { s.Do = "range-hood off" }),
			check: practice.CheckWorst, least: 0.2, most: 1, says: "the range hood was off, not on (changed after the set-up was confirmed)"},
		{name: "largest first", house: "common-vent", flaw: on("appliance/water-heater-1/burner", func(s *practice.Shown) { s.Typed = "1 140000" }),
			check: practice.CheckOrder, least: 1, most: 1, says: "the boiler was lit before the water heater, which is smaller"},
		{name: "no restore", house: "fireplace", flaw: on("putback/house", func(s *practice.Shown) { s.Do, s.Typed = "", "ok" }),
			check: practice.CheckPutBack, least: 1, most: 1, says: "the fireplace damper was left closed; it was found open"},
		{name: "said so", house: "fireplace", flaw: on("putback/house", func(s *practice.Shown) { s.Do, s.Typed = "", "ok" }),
			check: practice.CheckSaid, least: 1, most: 1, says: `"dampers as they were found" was answered ok; it was not so`},
		{name: "damper open all day", house: "fireplace", flaw: on("prepare/house", func(s *practice.Shown) { s.Do, s.Typed = "", "ok" }),
			check: practice.CheckBaseline, least: 1, most: 4, says: "fireplace damper open"},
		{name: "nobody watches the monitor", house: "tight-ranch", careless: true,
			check: practice.CheckWatched, least: 5, most: 20, says: "went by without a reading of CO in the room"},
		{name: "CO at once", house: "high-co", flaw: on("co/water-heater-1", func(s *practice.Shown) { s.Wait = 0 }),
			check: practice.CheckCOTime, least: 2, most: 10, says: "CO of the water heater was read"},
		{name: "smoke told wrong", house: "bedroom-doors", flaw: func(step procedure.Step, s *practice.Shown) {
			switch {
			case step.ID == "doors/utility-room-1":
				s.Typed = "2 1 1"
			case strings.HasPrefix(step.ID, "more/"): // which would make up for most of it
				s.Typed = "3"
			}
		},
			check: practice.CheckWorst, least: 0.5, most: 1.5, says: "the bedroom door 2 was closed, not open (smoke was told otherwise than it went)"},
		{name: "soot not seen", house: "high-co", flaw: on("look/water-heater-1", func(s *practice.Shown) { s.Typed = "ok" }),
			check: practice.CheckLooked, least: 1, most: 1, says: "soot above the burner opening"},
		{name: "a nought lost", house: "high-co", flaw: on("co/water-heater-1", func(s *practice.Shown) { s.Typed = "62 4.5" }),
			check: practice.CheckDecision, least: 1, most: 1, says: "the test ended with refer; the house calls for hold"},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := practicetest.Begin(t, practicetest.Open(t, c.house), 3)
			w.Flaw, w.Careless = c.flaw, c.careless
			d := debrief(t, w, w.Run())
			if d.Score >= d.Of {
				t.Errorf("all %v points", d.Of)
			}
			for _, s := range d.Scored {
				if s.Check != c.check {
					continue
				}
				if s.Amount < c.least || s.Amount > c.most || s.Got >= s.Points && c.least > s.Within || !strings.Contains(strings.Join(s.Detail, "\n"), c.says) {
					t.Errorf("%s: %.2f, %v of %v points, want %v to %v and %q\n%s", s.Check, s.Amount, s.Got, s.Points, c.least, c.most, c.says, dump(d))
				}
			}
		})
	}
}

// TestCostIsTheNetworks: what a forgotten fan is said to cost is the exhaustive
// check's own figure for it.
func TestCostIsTheNetworks(t *testing.T) {
	h := practicetest.Open(t, "tight-ranch")
	w := practicetest.Begin(t, h, 3)
	w.Flaw = func(step procedure.Step, s *practice.Shown) {
		if step.ID == "list/fans" {
			s.Typed = "1 3"
		}
	}
	d := debrief(t, w, w.Run())
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	e, err := m.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	want := 0.0
	for _, c := range e.Worst.Costs {
		if c.Name == "range-hood" {
			want = c.Net - e.Worst.Net
		}
	}
	if len(d.Zones) != 1 || len(d.Zones[0].Misses) == 0 || d.Zones[0].Misses[0].Name != "range-hood" || d.Zones[0].Misses[0].Pa != want || want < 10 {
		t.Errorf("want %v for the hood\n%s", want, dump(d))
	}
}

// TestAmbientEmptiesTheHouse: a spilling burner that burns very badly takes a
// small room past 35 ppm; the tier ends the test where the monitor is read, and
// who does not read it is told so.
func TestAmbientEmptiesTheHouse(t *testing.T) {
	h := read(t, strings.Replace(oneRoom, "co: 200 ppm", "co: 9000 ppm", 1))
	w := practicetest.Begin(t, h, 3)
	if j := w.Run(); j.Decision != procedure.Leave {
		t.Errorf("decision %s", j.Decision)
	}
	d := debrief(t, w, w.Judge())
	for _, s := range d.Scored {
		if s.Check == practice.CheckDecision {
			t.Error("a house without a lesson is scored by its decision")
		}
	}
	w = practicetest.Begin(t, h, 3)
	w.Careless = true
	w.Flaw = func(step procedure.Step, s *practice.Shown) {
		if step.ID == "ambient/water-heater-1" {
			s.Typed, s.Reads = "4", false
		}
	}
	d = debrief(t, w, w.Run())
	for _, s := range d.Scored {
		if s.Check == practice.CheckLeft && (s.Amount < 1 || s.Got > 0) {
			t.Errorf("%v min above 35 ppm\n%s", s.Amount, dump(d))
		}
	}
}

// TestCorrectedSlip: a reading typed wrong and put right before the end costs
// nothing, though the house stood otherwise when it was put right.
func TestCorrectedSlip(t *testing.T) {
	for _, mend := range []bool{false, true} {
		w := practicetest.Begin(t, practicetest.Open(t, "tight-ranch"), 3)
		right := ""
		w.Flaw = func(step procedure.Step, s *practice.Shown) {
			if step.ID == "reading/closet-1/dryer" {
				right, s.Typed = s.Typed, "-13.6 -13.5 -13.6 -13.5 -13.7"
			}
		}
		w.To("held/water-heater-1")
		if mend {
			step, ok := w.State.StepFor("reading/closet-1/dryer")
			if !ok {
				t.Fatal("not asked")
			}
			w.Correct(step, right)
		}
		d := debrief(t, w, w.Run())
		for _, s := range d.Scored {
			if s.Check == practice.CheckRead && (s.Amount > 0) == mend {
				t.Errorf("mended %v: off by %.2f Pa\n%s", mend, s.Amount, dump(d))
			}
		}
	}
}

// TestSkippedSafety: a safety question left out is told.
func TestSkippedSafety(t *testing.T) {
	w := practicetest.Begin(t, practicetest.Open(t, "high-co"), 3)
	w.To("arrive/lel")
	w.Apply("arrive/lel", &procedure.Skip{Reason: procedure.SkipNoTool})
	d := debrief(t, w, w.Run())
	for _, s := range d.Scored {
		if s.Check == practice.CheckSafety && (s.Amount != 1 || !strings.Contains(strings.Join(s.Detail, " "), "gas in the room air was skipped: no instrument for it")) {
			t.Errorf("%v %v", s.Amount, s.Detail)
		}
	}
}

// TestDebriefPlaysAgain: the same record gives the same debrief.
func TestDebriefPlaysAgain(t *testing.T) {
	w := practicetest.Begin(t, practicetest.Open(t, "two-zones"), 9)
	j := w.Run()
	if a, b := dump(debrief(t, w, j)), dump(debrief(t, w, j)); a != b {
		t.Errorf("%s\n%s", a, b)
	}
}

func TestRubricRefusals(t *testing.T) {
	good := string(practice.StandardRubric())
	for _, c := range []struct{ name, from, to, want string }{
		{"kind", "kind: rubric", "kind: house", `kind is "house"`},
		{"format", "format: 1", "format: 2", "format is 2"},
		{"unknown key", "lose: 20", "loose: 20", `unknown key "criteria[1].loose"`},
		{"unknown check", "check: decision", "check: haircut", `the check "haircut" is not known`},
		{"twice", "check: baseline", "check: worst-case", `the check "worst-case" stands twice`},
		{"missing", "    lose: 20\n", "", "criterion decision: lose missing"},
		{"minus", "lose: 20", "lose: -20", "criterion decision: lose -20 is out of range"},
		{"no explanation", "    explain: The house is left as it was found, with doors, windows, fans and burners as people had them.\n", "    explain: ''\n", "criterion put-back: explain missing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if !strings.Contains(good, c.from) {
				t.Fatal("nothing to change")
			}
			_, err := practice.ReadRubric("r.yaml", []byte(strings.Replace(good, c.from, c.to, 1)))
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "r.yaml:") {
				t.Errorf("%v, want %s", err, c.want)
			}
		})
	}
	r := standard(t)
	seen := 0.0
	for _, c := range r.Criteria {
		seen += c.Points
		if c.Score(0) != c.Points || c.Score(c.Within) != c.Points || c.Score(1e9) != 0 {
			t.Errorf("%s: %v %v", c.Check, c.Score(0), c.Score(1e9))
		}
	}
	if seen != 100 || len(r.Criteria) != len(practice.Checks) {
		t.Errorf("%v points for %d of %d checks", seen, len(r.Criteria), len(practice.Checks))
	}
}
