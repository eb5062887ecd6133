package sequence_test

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/sequence/sequencetest"
)

func asks(asked []string, stem string) bool {
	return strings.Contains(" "+strings.Join(asked, " "), " "+stem)
}

func ambient(v float64) *procedure.Hazard {
	return &procedure.Hazard{Code: procedure.AmbientCO, Value: &v, Where: "stair"}
}

// TestHeldAgain: the zone is read again before every light-off, so also after
// a stop, whether the burner was timed before it or not; and what was read
// before the stop stays read.
func TestHeldAgain(t *testing.T) {
	for _, at := range []string{"spill/water-heater-1", "draft/water-heater-1", "co/water-heater-1"} {
		w := begin(t)
		w.To(at)
		w.Stop(10 * time.Minute)
		again := "held/water-heater-1/again/" + itoa(w.State.Last())
		if asked := w.Rest(); !asks(asked, again) {
			t.Errorf("%s: lit without reading the zone again: %v", at, asked)
		}
		n := 0
		for _, r := range w.State.Observations().ZoneObs[0].Readings {
			if strings.HasPrefix(r.Step, "held/water-heater-1") {
				n++
			}
		}
		if n != 2 {
			t.Errorf("%s: %d readings before light-off, want both", at, n)
		}
	}
	w := begin(t)
	w.To("setup/basement-1/closing")
	w.Stop(10 * time.Minute)
	if asked := w.Rest(); asks(asked, "held/") {
		t.Errorf("read again though nothing is lit any more: %v", asked)
	}
}

// TestWeatherTurned: after any stop the weather is asked; one that turned
// brings a new baseline, and the coldest and windiest of the visit count.
func TestWeatherTurned(t *testing.T) {
	w := begin(t)
	w.To("held/water-heater-1")
	w.Stop(10 * time.Minute)
	n := itoa(w.State.Last())
	w.Answers["resume/"+n+"/weather"], w.Answers["resume/"+n+"/outdoors"] = "2", "9 12"
	asked := w.Rest()
	if !asks(asked, "baseline/basement-1/again/"+n) {
		t.Errorf("no new baseline: %v", asked)
	}
	if f, ok := w.State.OutdoorF(); !ok || f != 12 {
		t.Errorf("outdoors %v, want the colder 12", f)
	}
	o := w.State.Observations()
	if len(o.Later) != 1 || o.Weather == nil || o.Weather.Temp != 34 {
		t.Errorf("weather %v, later %v", o.Weather, o.Later)
	}
	// Warmer later: what was read in the cold is still held to the cold.
	w = begin(t)
	w.To("held/water-heater-1")
	w.Stop(10 * time.Minute)
	n = itoa(w.State.Last())
	w.Answers["resume/"+n+"/weather"], w.Answers["resume/"+n+"/outdoors"] = "2", "2 60"
	w.Rest()
	if f, _ := w.State.OutdoorF(); f != 34 {
		t.Errorf("outdoors %v, want the colder 34", f)
	}
}

// TestHouseAfterLongStop: what a night may have changed is looked at again,
// and a fire lit meanwhile ends the measuring part.
func TestHouseAfterLongStop(t *testing.T) {
	w := begin(t)
	w.To("held/water-heater-1")
	w.Stop(14 * time.Hour)
	n := itoa(w.State.Last())
	w.Answers["resume/"+n+"/house"] = "1"
	asked := w.Rest()
	if !asks(asked, "resume/"+n+"/house") || asks(asked, "spill/") || !asks(asked, "putback/house") {
		t.Errorf("with a live fire the walk asks %v", asked)
	}
	// Left out, it is open, whatever came after.
	w = begin(t)
	w.To("held/water-heater-1")
	w.Stop(14 * time.Hour)
	n = itoa(w.State.Last())
	w.To("baseline/basement-1/again/" + n)
	w.Do("baseline/basement-1/again/"+n, &procedure.Skip{Reason: procedure.SkipCannot})
	w.Rest()
	open := ""
	for _, m := range w.State.Observations().Open {
		open += m.Step + " " + m.Why + ";"
	}
	if open != "baseline/basement-1/again/"+n+" skipped-cannot;" {
		t.Errorf("open: %s", open)
	}
}

// TestAired: clearing the air of the house spoils the zero.
func TestAired(t *testing.T) {
	for name, c := range map[string]struct {
		answer string
		again  bool
	}{"kept shut": {"1", false}, "opened": {"2", true}} {
		t.Run(name, func(t *testing.T) {
			w := begin(t, "source=3", "settled=1", "aired="+c.answer)
			w.To("spill/water-heater-1")
			w.Do("spill/water-heater-1", ambient(12))
			asked := w.Rest()
			if !asks(asked, "aired/") {
				t.Fatalf("not asked: %v", asked)
			}
			for _, stem := range []string{"baseline/basement-1/again/", "resume/"} {
				if asks(asked, stem) != c.again {
					t.Errorf("%s asked: %v", stem, asked)
				}
			}
			if got := len(w.State.Observations().ZoneObs[0].Baselines); got != 2 && !c.again || got != 3 && c.again {
				t.Errorf("%d baselines", got)
			}
			if asks(asked, "held/water-heater-1") != c.again {
				t.Errorf("held pressure: %v", asked)
			}
		})
	}
	// Before there is a baseline nothing is spoiled.
	w := begin(t, "source=3", "settled=1", "arrive/ambient=12")
	w.To("")
	if asks(sequencetest.IDs(w.Asked), "aired/") {
		t.Error("asked though there was no baseline")
	}
}

// TestLouvredDoorReadBothWays: whatever the scheme says of other doors.
func TestLouvredDoorReadBothWays(t *testing.T) {
	w := sequencetest.Begin(t, "", procedure.TestIn, "zone/basement-1/door=2", "doubt=k")
	w.Plan.CAZDoor = ""
	w.Restart()
	if asked := w.Rest(); !asks(asked, "reading/basement-1/cazdoor") {
		t.Errorf("%v", asked)
	}
	w = sequencetest.Begin(t, "", procedure.TestIn, "doubt=k")
	w.Plan.CAZDoor = ""
	w.Restart()
	if asked := w.Rest(); asks(asked, "reading/basement-1/cazdoor") {
		t.Errorf("a plain door under a plan without it: %v", asked)
	}
}

// TestSigns: each sign of a spoiled reading is asked about once, and a house
// in order raises none.
func TestSigns(t *testing.T) {
	doubts := func(w *walk) string {
		out := ""
		for _, s := range w.Asked {
			if s.Form == procedure.FormDoubt {
				out += s.Args["doubt"] + " " + s.Args["key"] + ";"
			}
		}
		return out
	}
	still := []string{"reading/basement-1/fans=-2.8 -2.8 -2.8 -2.8 -2.8", "reading/basement-1/doors=-3.1 -3.1 -3.1 -3.1 -3.1", "reading/basement-1/air1=-3.4 -3.4 -3.4 -3.4 -3.4"}
	for name, c := range map[string]struct {
		scheme string
		change []string
		want   string
	}{
		"in order":                {"", nil, ""},
		"gusty":                   {"", []string{"baseline/basement-1=-0.1 -0.9 -1.9 -1.0 -0.6"}, "gusty baseline/basement-1;"},
		"wind":                    {"", []string{"arrive/weather=15 34"}, "wind arrive/weather;"},
		"dryer raises it":         {"", []string{"reading/basement-1/dryer=-0.2 -0.1 -0.2 -0.1 -0.2"}, "rises reading/basement-1/dryer;"},
		"fans move nothing":       {"", []string{"reading/basement-1/fans=-0.9 -1.0 -0.9 -0.9 -1.0"}, "no-step reading/basement-1/fans;"},
		"values never move":       {"", still, "frozen reading/basement-1/air1;"},
		"baseline high":           {"", []string{"baseline/basement-1=+0.8 +0.9 +0.9 +0.8 +0.7", "baseline/basement-1/closing=+0.8 +0.9 +0.9 +0.8 +0.7"}, "baseline-high baseline/basement-1;"},
		"drift":                   {"", []string{"baseline/basement-1/closing=-2.9 -3.0 -2.8 -2.9 -3.0"}, "drift baseline/basement-1/closing;"},
		"diluted":                 {"", []string{"co/water-heater-1=12 17"}, "diluted co/water-heater-1;"},
		"weak draft, no spillage": {"", []string{"draft/water-heater-1=-0.1 -0.1 -0.0 -0.1 -0.1", "draft/water-heater-1/natural=-3.0 -3.0 -3.1", "spill/water-heater-1/natural=20s"}, "draft-no-spill draft/water-heater-1;"},
		"less than the fans pull": {"", []string{"list/cfm50=1500", "list/flows=80 900 200"}, "low-net reading/basement-1/worst;"},
		"worst case lost":         {"", []string{"reading/basement-1/worst=-1.5 -1.6 -1.5 -1.4 -1.6", "held/water-heater-1=-3.4 -3.4 -3.5 -3.4 -3.4", "sealing/cfm50=?"}, "not-held reading/basement-1/worst;"},
		"not held at light-off":   {"", []string{"held/water-heater-1=-1.0 -1.0 -1.1 -1.0 -1.0"}, "not-held held/water-heater-1;"},
		"not held with blower":    {"", []string{"held/furnace-1/blower=-1.0 -1.0 -1.1 -1.0 -1.0"}, "not-held held/furnace-1/blower;"},
		"as much as they pull":    {"", []string{"list/cfm50=3500", "list/flows=80 300 150"}, ""},
		"flows not known":         {"", []string{"list/cfm50=1500", "list/flows=? ? ?"}, ""},
		"monitor and meter":       {"", []string{"ambient/water-heater-1=10", "ambient/furnace-1=0", "source=5", "aired=1"}, "zero-air ambient/furnace-1;"},
	} {
		t.Run(name, func(t *testing.T) {
			w := sequencetest.Begin(t, c.scheme, procedure.TestIn, append(c.change, "doubt=ok looked", "sealing/cfm50=?")...)
			w.To("")
			if got := doubts(w); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
	timed := func(scheme string, between time.Duration) *walk {
		w := sequencetest.Begin(t, scheme, procedure.TestIn, "doubt=ok looked")
		for _, a := range []string{"water-heater-1", "furnace-1"} {
			w.To("spill/" + a)
			w.Clock("spill/"+a, 30*time.Second)
			w.At = w.At.Add(between)
		}
		w.To("")
		return w
	}
	for name, c := range map[string]struct {
		scheme string
		wait   time.Duration
		want   string
	}{
		"CO a minute after light-off":       {"", 0, "early-co co/water-heater-1;early-co co/furnace-1;"},
		"CO after its minutes":              {"", 10 * time.Minute, ""},
		"second on the vent after minutes":  {"code-annex-2018", 5 * time.Minute, "warm-vent spill/furnace-1;"},
		"second on the vent after its wait": {"code-annex-2018", 15 * time.Minute, ""},
	} {
		t.Run(name, func(t *testing.T) {
			if got := doubts(timed(c.scheme, c.wait)); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
	t.Run("clock went back", func(t *testing.T) {
		w := begin(t)
		w.To("reading/basement-1/fans")
		w.At = w.At.Add(-time.Hour)
		w.To("")
		if got := doubts(w); got != "clock reading/basement-1/fans;" {
			t.Errorf("got %q", got)
		}
	})
}

// TestStillChanged: who comes back is told what burns, runs and is shut as far
// as the record knows, until everything was off or the house was put back.
func TestStillChanged(t *testing.T) {
	both, one := "furnace-1 water-heater-1", "water-heater-1"
	for _, c := range []struct {
		at   string
		lit  string
		fans int
	}{
		{"list/fans", "", 0},
		{"baseline/basement-1", "", 0},
		{"reading/basement-1/dryer", "", 1},
		{"held/water-heater-1", "", 3},
		{"spill/water-heater-1", "", 3}, // its clock was not started
		{"draft/water-heater-1", one, 3},
		{"held/furnace-1", one, 3},
		{"flame/furnace-1", both, 3},
		{"setup/basement-1/closing", both, 3},
		{"baseline/basement-1/closing", "", 0},
		{"told/decision", "", 0},
	} {
		w := begin(t)
		w.To(c.at)
		w.Stop(10 * time.Minute)
		setup, lit := w.State.StillChanged()
		fans := 0
		if setup != nil {
			fans = len(setup.Fans)
		}
		if got := strings.Join(lit, " "); got != c.lit && !(len(lit) == 2 && c.lit == both) || fans != c.fans {
			t.Errorf("stopped before %s: %d fans on and %q lit, want %d and %q", c.at, fans, got, c.fans, c.lit)
		}
	}
	// A clock that was interrupted was started: that burner was lit.
	w := begin(t)
	w.To("spill/water-heater-1")
	w.Do("spill/water-heater-1", &procedure.Timer{Act: "start", Wall: w.At, Mono: 1})
	w.Stop(10 * time.Minute)
	if _, lit := w.State.StillChanged(); strings.Join(lit, " ") != one {
		t.Errorf("stopped with its clock running: %q lit", lit)
	}
	// It is set as before, and the program is killed again: nobody said that
	// the burner was put out.
	w.To("held/water-heater-1/again/" + itoa(w.State.Last()))
	if _, lit := w.State.StillChanged(); strings.Join(lit, " ") != one {
		t.Errorf("set again after that: %q lit", lit)
	}
	// A house that is not put back altogether is not put back.
	w = begin(t, "putback/house=4")
	w.To("held/water-heater-1")
	w.Do("held/water-heater-1", &procedure.Skip{Reason: procedure.SkipEndingEarly})
	w.To("told/decision")
	if setup, _ := w.State.StillChanged(); setup == nil || len(setup.Fans) != 3 {
		t.Errorf("ended early, and its fans not put back: %+v", setup)
	}
	w = begin(t)
	w.To("held/water-heater-1")
	w.Do("held/water-heater-1", &procedure.Skip{Reason: procedure.SkipEndingEarly})
	w.To("told/decision")
	if setup, lit := w.State.StillChanged(); setup != nil || lit != nil {
		t.Errorf("ended early and put back: %+v, %v", setup, lit)
	}
}

// TestStepForAfterAStop: a step that is looked for by its key is the one that the
// walk lists, and none where it lists none, also for what a stop brings while
// burners are lit.
func TestStepForAfterAStop(t *testing.T) {
	for at, changes := range map[string][]string{
		"setup/basement-1/closing":          nil,
		"together/furnace-1+water-heater-1": {"appliance/furnace-1/burner=1 30000"}, // the furnace is lit first
		"draft/furnace-1":                   nil,
		"spill/furnace-1":                   {"appliance/furnace-1/burner=1 30000"},
	} {
		w := begin(t, append([]string{"doubt=k"}, changes...)...)
		w.To(at)
		w.Stop(10 * time.Minute)
		n := itoa(w.State.Last())
		for range 40 {
			listed := map[string]procedure.Step{}
			for _, st := range w.State.Steps() {
				for _, k := range append(st.Keys(), st.ID) {
					listed[k] = st
				}
			}
			for _, id := range []string{"furnace-1", "water-heater-1"} {
				for _, k := range []string{"held/" + id, "held/" + id + "/again/" + n, "held/" + id + "/blower", "spill/" + id, "draft/" + id, "co/" + id, "together/" + id, "flame/" + id + "/blower-flame", "ambient/" + id} {
					want, asked := listed[k]
					got, found := w.State.StepFor(k)
					if found != asked || !reflect.DeepEqual(got, want) {
						t.Fatalf("stopped at %s, after event %d, %s: found %v %+v\nlisted %v %+v", at, w.State.Last(), k, found, got, asked, want)
					}
				}
			}
			step, more := w.State.Next()
			if !more {
				break
			}
			if err := w.Answer(step); err != nil {
				t.Fatal(err)
			}
		}
	}
}
