package evaluation_test

import (
	"strings"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/sequence"
)

func tell(t *testing.T, j procedure.Judgement) {
	for _, f := range j.Findings {
		if f.Severity != procedure.Proceed {
			t.Logf("%s %s %s %s %s", f.Rule, f.Subject, f.Verdict, f.Severity, f.Detail)
		}
	}
	for _, m := range j.Missing {
		t.Logf("missing %s %s", m.Step, m.Why)
	}
}

// Deserves proceed: spillage stopped within the time for a cold vent, a fan was
// found later, and all was taken again and passes. The first time is held
// against the vent as it was then, not against the shortest time.
func TestLastColdSpillThenFanFound(t *testing.T) {
	for _, s := range []string{spillScheme, annexScheme, canadaScheme, gradedScheme} {
		for _, x := range []string{"20s", "59s", "100s", "200s"} {
			w := beginIn(t, s, procedure.TestIn, furnaceHome("doubt=ok looked", "spill/furnace-1="+x))
			w.To("putback/house")
			w.To("")
			if w.judgeAs(s).Decision != procedure.Proceed {
				t.Log(s, x, "before", w.judgeAs(s).Decision)
				continue
			}
			w.Correct("list/fans", "1 1 2 3")
			w.Answers["spill/furnace-1"] = "20s"
			w.To("")
			if j := w.judgeAs(s); j.Decision != procedure.Proceed {
				t.Errorf("%s %s: %s", s, x, j.Decision)
				tell(t, j)
			}
		}
	}
}

// Deserves hold: the basement failed. It is then taken off the list of zones,
// or its name is given to another place.
func TestLastZoneDropped(t *testing.T) {
	for _, at := range []string{"settle/basement-1", "setup/utility-room-1/baseline", "putback/house"} {
		a := twoZones()
		a["reading/basement-1/worst"] = "-7.0 -7.0 -7.1 -7.0 -7.0"
		a["doubt"] = "ok looked"
		w := begin(t, a)
		if at == "settle/basement-1" {
			w.To("held/furnace-1")
		} else {
			w.To(at)
		}
		before := w.judge().Decision
		if err := w.TryCorrect("list/zones", "2"); err != nil {
			t.Log(at, err)
			continue
		}
		w.To("")
		if j := w.judge(); j.Decision.Milder(procedure.Hold) {
			t.Errorf("at %s: before %s, then %s", at, before, j.Decision)
			tell(t, j)
		}
	}
}

// Deserves proceed: a stop of each length at each step changes nothing that
// passes.
func TestLastStopAnywhere(t *testing.T) {
	w := begin(t, commonAnswers("doubt=ok looked"))
	w.To("")
	ids := []string{}
	for _, s := range w.Asked {
		ids = append(ids, s.ID)
	}
	for i, id := range ids {
		if i < 6 {
			continue
		}
		for _, d := range []time.Duration{10 * time.Minute, 14 * time.Hour} {
			w := begin(t, commonAnswers("doubt=ok looked"))
			w.To(id)
			w.Stop(d)
			if i%3 == 0 {
				if st, ok := w.State.Next(); ok && w.Answer(st) == nil {
					w.Stop(d)
				}
			}
			w.To("")
			if j := w.judge(); j.Decision != procedure.Proceed {
				t.Errorf("%s %v: %s", id, d, j.Decision)
				tell(t, j)
			}
			for _, s := range w.State.Steps() {
				if st, ok := w.State.Next(); ok {
					t.Errorf("still %s %s", s.ID, st.ID)
				}
			}
		}
	}
}

// What an ordinary phase deserves ends as its good values say.
func TestLastOrdinary(t *testing.T) {
	for name, c := range map[string]struct {
		phase   procedure.Phase
		answers map[string]string
	}{
		"test-out":  {procedure.TestOut, commonAnswers("doubt=ok looked")},
		"daily":     {procedure.Daily, commonAnswers("doubt=ok looked")},
		"two daily": {procedure.Daily, func() map[string]string { a := twoZones(); a["doubt"] = "ok looked"; return a }()},
	} {
		for _, s := range []string{spillScheme, annexScheme, gradedScheme} {
			w := beginIn(t, s, c.phase, c.answers)
			w.To("")
			if j := w.judgeAs(s); j.Decision != procedure.Proceed {
				t.Errorf("%s %s: %s", name, s, j.Decision)
				tell(t, j)
			}
		}
	}
}

// Deserves not to pass unseen: the clock was marked 100 s after light-off, past
// its limit; then the furnace is said to stand outside the boundary.
func TestLastLateThenOutside(t *testing.T) {
	for _, c := range [][2]string{{"appliance/furnace-1/facts", "1 2 3 6 7"}, {"appliance/furnace-1/burner", "4 80000"}, {"appliance/furnace-1/vent", "5"}} {
		w := begin(t, furnaceHome("doubt=ok looked", "appliance/furnace-1/facts=1 2 3 7"))
		w.To("spill/furnace-1")
		at := w.At
		for _, m := range []struct {
			act string
			d   time.Duration
		}{{"start", 0}, {"mark", 100 * time.Second}} {
			w.At = at.Add(m.d)
			w.Do("spill/furnace-1", &procedure.Timer{Act: m.act, Wall: w.At, Mono: m.d.Milliseconds()})
		}
		w.Do("spill/furnace-1", &procedure.Timer{Act: "void", Wall: w.At, Mono: 101000})
		if err := w.TryCorrect(c[0], c[1]); err != nil {
			t.Log(err)
			continue
		}
		w.Answers[c[0]] = c[1]
		if c[0] == "appliance/furnace-1/vent" {
			w.Answers["appliance/furnace-1/facts"] = "1"
		}
		w.To("")
		if j := w.judge(); j.Decision == procedure.Proceed {
			t.Errorf("%v: %s", c, j.Decision)
			tell(t, j)
		}
	}
}

// Deserves proceed: put right, listed and taken as new.
func TestLastServiced(t *testing.T) {
	for _, phase := range []procedure.Phase{procedure.Daily, procedure.TestOut} {
		for _, c := range []string{"put-right", "gone"} {
			a := commonAnswers("doubt=ok looked", "serviced/water-heater-1=1", "serviced/water-heater-2=1")
			w := beginIn(t, "", phase, a)
			w.Header.Prior = &procedure.Prior{Record: "p", Close: "x"}
			w.Restart()
			id := "water-heater-1"
			if c == "gone" {
				id = "water-heater-2"
				a["gone/water-heater-2"] = "1"
			}
			w.Do(sequence.KeyCarried, &procedure.Answer{Carried: []procedure.CarriedOne{{Step: "status/" + id, Answer: procedure.Answer{Choice: string(procedure.OffUntilServiced)}}}})
			w.To("")
			if j := w.judge(); j.Decision != procedure.Proceed {
				t.Errorf("%s %s: %s", phase, c, j.Decision)
				tell(t, j)
			}
			w.Correct("list/fans", "1 1 2 3")
			w.To("")
			if j := w.judge(); j.Decision != procedure.Proceed {
				t.Errorf("%s %s, again: %s", phase, c, j.Decision)
				tell(t, j)
			}
		}
	}
}

// Deserves proceed: a fan found at any stage, or a second stop, in a home of two
// zones and in one of a common vent.
func TestLastFanAnywhere(t *testing.T) {
	for name, home := range map[string]func() map[string]string{"two": twoZones, "common": func() map[string]string { return commonAnswers() }} {
		a := home()
		a["doubt"] = "ok looked"
		w := begin(t, a)
		w.To("")
		if d := w.judge().Decision; d != procedure.Proceed {
			t.Fatal(name, d)
		}
		var ids []string
		on := false
		for _, s := range w.Asked {
			on = on || s.ID == "list/airhandlers"
			if on && s.ID != "list/airhandlers" {
				ids = append(ids, s.ID)
			}
		}
		for i, id := range ids {
			if i%5 != 0 {
				continue
			}
			a := home()
			a["doubt"] = "ok looked"
			w := begin(t, a)
			w.To(id)
			w.Correct("list/fans", "1 1 2 3")
			w.To("")
			if j := w.judge(); j.Decision != procedure.Proceed {
				t.Errorf("%s %s: %s", name, id, j.Decision)
				tell(t, j)
			}
			w.Stop(14 * time.Hour)
			w.Correct("list/doors", "1 2")
			w.Answers["doors/basement-1"], w.Answers["redoors/basement-1"] = "2 1", "2 1"
			w.Answers["doors/utility-room-1"], w.Answers["redoors/utility-room-1"] = "2 1", "2 1"
			w.To("")
			if j := w.judge(); j.Decision != procedure.Proceed {
				t.Errorf("%s %s, then doors: %s", name, id, j.Decision)
				tell(t, j)
			}
		}
	}
}

// Deserves what was seen: it spilled, its draft failed or it spilled together;
// then a list made that stale, and then the appliance was said to be of a kind
// that cannot spill.
func TestLastFailedThenStaleThenOther(t *testing.T) {
	for _, f := range []string{"spill/furnace-1=still 90s", "draft/furnace-1=-0.1 -0.1 -0.2 -0.1 -0.1", "together/furnace-1+water-heater-1=1 2"} {
		for _, c := range [][2]string{{"appliance/furnace-1/facts", "1 2 3 6 7"}, {"appliance/furnace-1/burner", "4 80000"}, {"appliance/furnace-1/vent", "5"}, {"appliance/furnace-1/facts", "2 3 7"}} {
			home := furnaceHome
			if f[0] == 't' {
				home = commonAnswers
			}
			w := begin(t, home("doubt=ok looked", f, "spill/furnace-1/natural=20s", naturalPasses, "spill/water-heater-1/natural=20s", "draft/water-heater-1/natural="+goodDraft))
			key, _, _ := strings.Cut(f, "=")
			w.To(key)
			step, _ := w.State.Next()
			if err := w.Answer(step); err != nil {
				t.Fatal(err)
			}
			before := w.judge().Decision
			w.Correct("list/fans", "1 1 2 3")
			if err := w.TryCorrect(c[0], c[1]); err != nil {
				t.Log(err)
				continue
			}
			w.Answers = passing(w.Answers)
			w.Answers["appliance/furnace-1/category"] = "1"
			if c[0] == "appliance/furnace-1/vent" {
				w.Answers["appliance/furnace-1/facts"] = "1"
			}
			w.To("")
			if j := w.judge(); j.Decision == procedure.Proceed || before == procedure.Hold && j.Decision.Milder(procedure.Hold) {
				t.Errorf("%s, %v: before %s, then %s", f, c, before, j.Decision)
				tell(t, j)
			} else {
				t.Log(f, c, before, j.Decision)
			}
		}
	}
}

// Deserves an end, with nothing missing: kinds of homes that a crew meets,
// stopped overnight, a list corrected, and gone through to the end.
func TestLastKinds(t *testing.T) {
	for name, c := range map[string]struct {
		answers map[string]string
		want    procedure.Decision
	}{
		"wood stove":            {furnaceHome("doubt=ok looked", "list/appliances=1 13", "appliance/wood-stove-1/facts=1", "look/wood-stove-1=ok"), procedure.Refer},
		"oil furnace":           {furnaceHome("doubt=ok looked", "appliance/furnace-1/burner=3 100000", "breech/furnace-1=-5", "draft/furnace-1=-6.0 -6.0 -6.1 -6.0 -6.0"), procedure.Proceed},
		"oil, breech not known": {furnaceHome("doubt=ok looked", "appliance/furnace-1/burner=3 100000", "breech/furnace-1=?"), procedure.Refer},
		"mobile home":           {furnaceHome("doubt=ok looked", "list/home=2"), procedure.Refer},
		"boiler":                {commonAnswers("doubt=ok looked"), procedure.Proceed},
	} {
		for _, phase := range []procedure.Phase{procedure.TestIn, procedure.Daily, procedure.TestOut} {
			for _, at := range []string{"", "spill/furnace-1", "co/furnace-1", "putback/house"} {
				w := beginIn(t, "", phase, c.answers)
				w.To(at)
				if at != "" {
					w.Stop(14 * time.Hour)
					w.Correct("list/fans", "1 1 2 3")
					w.To("")
				}
				j := w.judge()
				if j.Decision != c.want || len(j.Missing) > 0 {
					t.Errorf("%s %s %s: %s", name, phase, at, j.Decision)
					tell(t, j)
					var facts string
					for _, s := range w.Asked {
						if strings.HasSuffix(s.ID, "/facts") && at == "" {
							for _, i := range s.Items {
								facts += " " + i.Code
							}
							t.Log(s.ID, facts)
						}
						if s.ID == "list/home" && at == "" {
							t.Log(s.Choices)
						}
					}
				}
			}
		}
	}
}
