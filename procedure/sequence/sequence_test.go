package sequence_test

import (
	"encoding/json"
	"errors"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/sequence"
	"cazward/procedure/sequence/sequencetest"
)

type walk = sequencetest.Walk

func begin(t testing.TB, change ...string) *walk {
	t.Helper()
	return sequencetest.Begin(t, "", procedure.TestIn, change...)
}

// picture of a state: all that the record shows of the home, and what is
// asked next.
func picture(t *testing.T, st *sequence.State) string {
	t.Helper()
	b, err := json.Marshal(st.Observations())
	if err != nil {
		t.Fatal(err)
	}
	step, ok := st.Next()
	if !ok {
		step.ID = "end"
	}
	return string(b) + "\nnext " + step.ID
}

func expect(t *testing.T, st *sequence.State, fresh bool, keys ...string) {
	t.Helper()
	for _, k := range keys {
		if _, _, there := st.Fact(k); !there {
			t.Errorf("%s was never answered", k)
		} else if st.Has(k) != fresh {
			t.Errorf("%s fresh: %v, want %v", k, st.Has(k), fresh)
		}
	}
}

// rich walks a home with much in it: two zones, a failure that asks for
// natural conditions, a hazard, a stop, corrections and doubts.
func rich(t testing.TB) *walk {
	w := begin(t, "list/appliances=1 3 9 12", "list/zones=1 2", "prepare/fired=120 120",
		"appliance/furnace-1/zone=1", "appliance/water-heater-1/zone=1", "appliance/oven-1/zone=2", "appliance/fireplace-1/zone=2",
		"appliance/oven-1/burner=1 18000", "appliance/oven-1/facts=1", "appliance/fireplace-1/facts=1",
		"zone/utility-room-1/door=3", "look/oven-1=ok", "look/fireplace-1=ok", "hose/utility-room-1=ok", "co/oven-1=50",
		"baseline/utility-room-1=-0.3 -0.3 -0.4 -0.3 -0.2", "baseline/utility-room-1/closing=-0.3 -0.3 -0.4 -0.3 -0.2",
		"reading/utility-room-1/dryer=-0.5", "reading/utility-room-1/fans=-0.9 -1.0", "doors/utility-room-1=1 1 1", "redoors/utility-room-1=1 2 1",
		"reading/utility-room-1/doors=-1.1 -1.2", "reading/utility-room-1/air1=-1.4 -1.5", "reading/utility-room-1/redoors=-1.5 -1.5",
		"reading/utility-room-1/worst=-1.5 -1.5 -1.5 -1.6 -1.5", "settle/basement-1=1", "pairs/basement-1=-0.9 -3.5 -0.9 -3.5 -0.9 -3.6",
		"spill/furnace-1=61s", "spill/furnace-1/natural=20s", "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4")
	w.To("baseline/basement-1")
	ten := 10.0
	w.Do("baseline/basement-1", &procedure.Hazard{Code: procedure.AmbientCO, Value: &ten, Where: "stair"})
	n := w.State.Last()
	w.Do("source/"+itoa(n), &procedure.Answer{Choice: "outdoors"})
	w.Do("settled/"+itoa(n), &procedure.Answer{Choice: "stopped"})
	w.To("spill/water-heater-1")
	w.Stop(2 * time.Hour)
	w.Answers["baseline/basement-1/again/"+itoa(w.State.Last())] = "-0.8 -0.9 -0.9 -1.0 -0.9"
	for _, f := range []string{"resume/" + itoa(w.State.Last()) + "/fired"} {
		w.Answers[f] = "240 240"
	}
	w.To("putback/house")
	w.Correct("list/fans", "1 1 2 3")
	w.Correct("arrive/weather", "5 30")
	w.To("")
	return w
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + itoa(n%10)
}

// TestReplayAtEveryPrefix: the record up to any event gives the state that
// stood then.
func TestReplayAtEveryPrefix(t *testing.T) {
	w := rich(t)
	st := sequence.Start(w.Header, w.Plan)
	for i, ev := range w.Events {
		if i > 0 {
			next, err := st.Apply(ev)
			if err != nil {
				t.Fatalf("event %d: %v", ev.N, err)
			}
			st = next
		}
		again, err := sequence.Replay(w.Header, w.Events[:i+1])
		if err != nil {
			t.Fatalf("replay of %d events: %v", i+1, err)
		}
		if picture(t, st) != picture(t, again) {
			t.Fatalf("after event %d (%s %s) the replay shows something else", ev.N, ev.Kind, ev.Step)
		}
	}
	if picture(t, st) != picture(t, w.State) {
		t.Error("events one by one and as they were typed differ")
	}
	if len(w.Events) < 150 {
		t.Errorf("only %d events", len(w.Events))
	}
}

// TestReadsPointBack: a step reads only what is asked before it.
func TestReadsPointBack(t *testing.T) {
	w := rich(t)
	stage := map[procedure.StageID]int{}
	for i, s := range w.Plan.Stages {
		stage[s.ID] = i
	}
	all := map[string]procedure.Step{}
	place := map[string]int{}
	steps := w.State.Steps()
	for i, st := range steps {
		for _, k := range append(st.Keys(), st.ID) {
			all[k], place[k] = st, i
		}
	}
	reads := 0
	for i, st := range steps {
		for _, r := range st.Reads {
			from, asked := all[r]
			if !asked { // not asked in this home: it must be one that some home asks
				if !sequence.KnownKey(r) {
					t.Errorf("%s reads %s, which no step writes", st.ID, r)
				}
				continue
			}
			reads++
			if place[r] >= i || stage[from.Stage] > stage[st.Stage] {
				t.Errorf("%s (%s) reads %s (%s), which is asked later", st.ID, st.Stage, r, from.Stage)
			}
		}
	}
	if reads < 100 {
		t.Errorf("only %d reads", reads)
	}
}

var (
	underWorst = []string{"setup/basement-1/worst", "reading/basement-1/worst", "held/water-heater-1", "spill/water-heater-1", "draft/water-heater-1", "co/water-heater-1",
		"held/furnace-1", "spill/furnace-1", "draft/furnace-1", "co/furnace-1", "held/furnace-1/blower", "together/furnace-1", "setup/basement-1/fans", "reading/basement-1/fans"}
	notUnderIt = []string{"baseline/basement-1", "baseline/basement-1/closing", "look/furnace-1/fuel", "look/house/piping", "arrive/ambient", "arrive/weather", "prepare/house/fans-off", "hose/basement-1/pinched", "setup/basement-1/baseline"}
)

// TestFanAddedByCorrection stales what was taken at worst case, and nothing
// else.
func TestFanAddedByCorrection(t *testing.T) {
	w := begin(t)
	w.To("putback/house")
	expect(t, w.State, true, underWorst...)
	w.Correct("list/fans", "1 1 2 3")
	expect(t, w.State, false, underWorst...)
	expect(t, w.State, true, notUnderIt...)
	var got []string
	for _, id := range w.Rest() {
		if strings.HasPrefix(id, "look/") || strings.HasPrefix(id, "baseline/") || strings.HasPrefix(id, "prepare/") || strings.HasPrefix(id, "list/") {
			got = append(got, id)
		}
	}
	if len(got) > 0 {
		t.Errorf("asked again: %v", got)
	}
	expect(t, w.State, true, underWorst...)
}

// TestCorrectionsThatAskNothing: what nothing physically rests on.
func TestCorrectionsThatAskNothing(t *testing.T) {
	w := begin(t)
	w.To("")
	for key, text := range map[string]string{"arrive/weather": "6 75", "list/cfm50": "2400", "arrive/gauge": "gauge G1; 9999; 2026-03-02; 0.1", "arrive/analyser": "analyser A1; 9; 2026-01-02",
		"list/doors": "1=north room 1 2", "decide/tester": "CD"} {
		if key == "list/doors" { // a name only
			old, n, _ := w.State.Fact(key)
			r := *old.(*procedure.Answer).Roster
			r.Items = append([]procedure.RosterItem{}, r.Items...)
			r.Items[0].Name = "north room"
			w.Do(key, &procedure.Correct{Replaces: n, Reason: "its name", Answer: &procedure.Answer{Roster: &r}})
		} else {
			w.Correct(key, text)
		}
		if step, open := w.State.Next(); open {
			t.Errorf("after %s the walk asks %s", key, step.ID)
		}
	}
	if w.State.Observations().Weather.Temp != 75 || w.State.Observations().Doors[0].Name != "north room" {
		t.Error("the corrections were not taken")
	}
}

// TestHazardKeepsTheWorse of two values.
func TestHazardKeepsTheWorse(t *testing.T) {
	ten, thirty := 10.0, 30.0
	for _, c := range [][2]*float64{{&ten, &thirty}, {&thirty, &ten}} {
		w := begin(t)
		w.To("spill/water-heater-1")
		w.Do("spill/water-heater-1", &procedure.Hazard{Code: procedure.AmbientCO, Value: c[0], Where: "zone"})
		n := w.State.Last()
		w.Do("spill/water-heater-1", &procedure.Correct{Replaces: n, Reason: "typed wrong", Hazard: &procedure.Hazard{Code: procedure.AmbientCO, Value: c[1], Where: "zone"}})
		hz := w.State.Observations().Hazards
		if len(hz) != 1 || hz[0].Hazard.Value == nil || *hz[0].Hazard.Value != 30 {
			t.Errorf("%v to %v: %+v", *c[0], *c[1], hz)
		}
	}
	// A routine reading above a tier stays a hazard though it is corrected.
	w := begin(t)
	w.To("arrive/ambient")
	w.Do("arrive/ambient", &procedure.Answer{Gas: &procedure.Gas{CO: []float64{12}}})
	w.Correct("arrive/ambient", "2")
	if hz := w.State.Observations().Hazards; len(hz) != 1 || *hz[0].Hazard.Value != 12 {
		t.Errorf("%+v", hz)
	}
}

// TestClockAcrossStop: a clock that a stop interrupted is void.
func TestClockAcrossStop(t *testing.T) {
	const k = "spill/water-heater-1"
	w := begin(t)
	w.To(k)
	w.Do(k, &procedure.Timer{Act: "start", Wall: w.At, Mono: 1000})
	if w.State.ClockOn() != k {
		t.Fatal("the clock does not run")
	}
	w.Stop(10 * time.Minute)
	if w.State.ClockOn() != "" {
		t.Error("the clock runs on through the stop")
	}
	if w.Try(k, &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillStopped, Seconds: 30, Timed: true}}) == nil {
		t.Error("a time was taken off a clock that was interrupted")
	}
	w.Answers["resume/"+itoa(w.State.Last())+"/fired"] = "240 240"
	if asked := w.Rest(); !contains(asked, k) {
		t.Errorf("%s was not asked again: %v", k, asked)
	}
}

// TestClockAcrossSleep: a machine that slept, or whose clock was set, while an
// observation was timed has two times for it; none of them counts.
func TestClockAcrossSleep(t *testing.T) {
	const k = "spill/water-heater-1"
	for _, c := range []struct {
		name       string
		wall, mono time.Duration
		taken      bool
	}{
		{"both the same", 40 * time.Second, 40 * time.Second, true},
		{"a second apart", 41 * time.Second, 40 * time.Second, true},
		{"a second apart, the other way", 39 * time.Second, 40 * time.Second, true},
		{"slept", 41*time.Second + time.Millisecond, 40 * time.Second, false},
		{"set back", 39*time.Second - time.Millisecond, 40 * time.Second, false},
		{"set back past the start", -time.Hour, 40 * time.Second, false},
		{"timer went back", 40 * time.Second, -time.Millisecond, false},
	} {
		w := begin(t)
		w.To(k)
		start := w.At
		w.Do(k, &procedure.Timer{Act: "start", Wall: start, Mono: 1000})
		err := w.Try(k, &procedure.Timer{Act: "mark", Wall: start.Add(c.wall), Mono: 1000 + c.mono.Milliseconds()})
		var r *sequence.Refused
		switch {
		case c.taken && err != nil:
			t.Errorf("%s: %v", c.name, err)
		case !c.taken && (!errors.As(err, &r) || r.Code != "clock-differs"):
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

func contains(list []string, x string) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
}

// TestBaselineAfterStop: over an hour, or for a time that nobody knows, the
// baseline is read again, however often the stop itself is interrupted.
func TestBaselineAfterStop(t *testing.T) {
	for name, c := range map[string]struct {
		stops []time.Duration
		again bool
	}{
		"ten minutes":                        {[]time.Duration{10 * time.Minute}, false},
		"an hour and a minute":               {[]time.Duration{61 * time.Minute}, true},
		"the clock went back":                {[]time.Duration{-3 * time.Hour}, true},
		"a long one and at once a short one": {[]time.Duration{3 * time.Hour, time.Minute}, true},
	} {
		t.Run(name, func(t *testing.T) {
			w := begin(t)
			w.To("spill/water-heater-1")
			for _, d := range c.stops {
				w.Stop(d)
			}
			n := itoa(w.State.Last())
			w.Answers["resume/"+n+"/fired"] = "240 240"
			w.Answers["baseline/basement-1"] = "-0.8 -0.9 -0.9 -1.0 -0.9"
			asked := w.Rest()
			if got := strings.Contains(strings.Join(asked, " "), "baseline/basement-1/again/"); got != c.again {
				t.Errorf("baseline again: %v, want %v", got, c.again)
			}
			if !contains(asked, "resume/"+n+"/ambient") || !contains(asked, "resume/"+n+"/setup/basement-1") || !contains(asked, "resume/"+n+"/fired") {
				t.Errorf("air, burners and set-up are not confirmed: %v", asked)
			}
			if got := len(w.State.Observations().ZoneObs[0].Baselines); got != 2 && !c.again || got != 3 && c.again {
				t.Errorf("%d baselines", got)
			}
		})
	}
	// Before anything was set the air is still read again.
	w := begin(t)
	w.To("look/furnace-1")
	w.Stop(20 * time.Hour)
	n := itoa(w.State.Last())
	if asked := w.Rest(); !contains(asked, "resume/"+n+"/ambient") {
		t.Errorf("the air was not read again: %v", asked)
	}
}

// TestMinutesAcrossTwoStops: a later stop does not change how warm the vent
// was of an appliance that was timed before it.
func TestMinutesAcrossTwoStops(t *testing.T) {
	w := begin(t)
	w.To("spill/water-heater-1")
	w.Stop(10 * time.Minute)
	w.Answers["resume/"+itoa(w.State.Last())+"/fired"] = "5 5"
	w.To("spill/furnace-1")
	if got := w.State.Observations().Of("water-heater-1").Spill.Cold; got != procedure.No {
		t.Fatalf("vent cold %q after five minutes", got)
	}
	w.Stop(10 * time.Minute)
	w.Answers["resume/"+itoa(w.State.Last())+"/fired"] = "300"
	w.To("")
	if got := w.State.Observations().Of("water-heater-1").Spill.Cold; got != procedure.No {
		t.Errorf("a later stop made the vent cold %q", got)
	}
	if got := w.State.Observations().Of("furnace-1").Spill.Cold; got != procedure.Yes {
		t.Errorf("the furnace's vent cold %q", got)
	}
}

// TestEndingEarly: the house is put back, whatever was not done.
func TestEndingEarly(t *testing.T) {
	w := begin(t)
	w.To("spill/water-heater-1")
	w.Do("spill/water-heater-1", &procedure.Skip{Reason: procedure.SkipEndingEarly})
	if asked := w.Rest(); strings.Join(asked, " ") != "putback/house told/decision decide/tester" {
		t.Errorf("asked %v", asked)
	}
	open := map[string]bool{}
	for _, m := range w.State.Observations().Open {
		open[m.Step] = true
	}
	for _, k := range []string{"spill/water-heater-1", "spill/furnace-1", "co/furnace-1", "baseline/basement-1/closing"} {
		if !open[k] {
			t.Errorf("%s is not named as missing", k)
		}
	}
}

// TestAfterLeave: only who was told, whether it may be entered again, the
// restore list and the decision; an open doubt or source is left.
func TestAfterLeave(t *testing.T) {
	for _, entered := range []string{"1", "2"} {
		w := begin(t, "putback/reentry="+entered)
		w.To("reading/basement-1/fans")
		ten, eighty := 10.0, 80.0
		w.Do("reading/basement-1/fans",
			&procedure.Answer{Pressure: &procedure.Pressure{Samples: []float64{1, 1, 1, 1, 1}, Unit: "Pa"}}, // rises: a doubt is open
			&procedure.Hazard{Code: procedure.AmbientCO, Value: &ten, Where: "stair"},
			&procedure.Hazard{Code: procedure.AmbientCO, Value: &eighty, Where: "zone"})
		w.Answers["told/"+itoa(w.State.Last())] = "all; outside"
		want := "told/" + itoa(w.State.Last()) + " putback/reentry putback/ambient putback/house told/decision decide/tester"
		if entered == "2" {
			want = strings.Replace(want, " putback/ambient putback/house", "", 1)
		}
		if asked := w.Rest(); strings.Join(asked, " ") != want {
			t.Errorf("asked %v, want %s", asked, want)
		}
	}
}

// TestRefusedChangesNothing: a refusal leaves state and picture as they were,
// also when good events came before it in the same go.
func TestRefusedChangesNothing(t *testing.T) {
	w := begin(t)
	w.To("spill/water-heater-1")
	before, next := picture(t, w.State), w.State.Last()
	nan, low := math.NaN(), -3.0
	bad := map[string]procedure.Data{
		"a pressure for a time":        &procedure.Answer{Pressure: &procedure.Pressure{Value: &low, Unit: "Pa"}},
		"two parts":                    &procedure.Answer{Choice: "x", Text: "y"},
		"no time":                      &procedure.Answer{Spill: &procedure.Spill{}},
		"a time below nothing":         &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillStopped, Seconds: -1}},
		"none after a minute":          &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillNone, Seconds: 60}},
		"a clock that does not run":    &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillNone, Timed: true}},
		"a timer stopped":              &procedure.Timer{Act: "stop", Wall: w.At},
		"a skip without reason":        &procedure.Skip{},
		"a required thing not wanted":  &procedure.Skip{Reason: procedure.SkipNotWanted},
		"a hazard that is no number":   &procedure.Hazard{Code: procedure.AmbientCO, Value: &nan},
		"a doubt about nothing":        &procedure.Doubt{Code: procedure.DoubtGusty},
		"a correction without reason":  &procedure.Correct{Replaces: 2},
		"a correction of what is not":  &procedure.Correct{Replaces: 9999, Reason: "x", Answer: &procedure.Answer{Text: "x"}},
		"same as a reading":            &procedure.Answer{SameAs: 3},
		"another plan":                 &procedure.Plan{},
		"a close without its decision": &procedure.Close{Decided: 7},
		"a reopening of what is open":  &procedure.Reopen{},
	}
	for name, d := range bad {
		if err := w.Try("spill/water-heater-1", &procedure.Note{Text: "kept only if all are"}, d); err == nil {
			t.Errorf("%s was taken", name)
		}
		if w.State.Last() != next || picture(t, w.State) != before {
			t.Fatalf("%s changed the state", name)
		}
	}
	// A set-up or a skip of a measured thing, and steps that nobody asks.
	for key, d := range map[string]procedure.Data{
		"":                         &procedure.Answer{Text: "x"},
		"spill/no-such-thing":      &procedure.Skip{Reason: procedure.SkipCannot},
		"arrive/danger/alarm":      &procedure.Skip{Reason: procedure.SkipCannot},
		"setup/basement-1/worst":   &procedure.Setup{Fans: []string{"bath-fan-1"}, CAZDoor: "open"},
		"reading/basement-1/worst": &procedure.Answer{Pressure: &procedure.Pressure{Samples: []float64{0, 0, 0, 0, 0}, Unit: "Pa"}},
		"baseline/basement-1":      &procedure.Answer{SameAs: 3},
		// Numbers that are none, wherever they stand in an answer.
		"co/water-heater-1":               &procedure.Answer{Gas: &procedure.Gas{CO: []float64{5}, O2: []*float64{&nan}}},
		"co/furnace-1":                    &procedure.Answer{Gas: &procedure.Gas{CO: []float64{5, math.Inf(1)}}},
		"appliance/water-heater-1/burner": &procedure.Answer{Burner: &procedure.Burner{Fuel: procedure.NaturalGas, Input: nan, Unit: "Btu/h"}},
		"zone/basement-1/volume":          &procedure.Answer{Number: &procedure.Number{Value: &nan, Unit: "ft3"}},
	} {
		if w.Try(key, d) == nil {
			t.Errorf("%q was taken", key)
		}
		if picture(t, w.State) != before {
			t.Fatalf("%q changed the state", key)
		}
	}
	if err := w.Apply([]procedure.Event{{N: next + 2, Kind: procedure.KindNote, Data: &procedure.Note{Text: "a gap"}}}); err == nil {
		t.Error("an event was left out and nobody minded")
	}
}

// TestStepForIsTheStepAsked: a step found by the key of its fact is the one
// that the whole walk lists, at every moment of a rich walk.
func TestStepForIsTheStepAsked(t *testing.T) {
	w := rich(t)
	st := sequence.Start(w.Header, w.Plan)
	n := 0
	for i, ev := range w.Events[1:] {
		next, err := st.Apply(ev)
		if err != nil {
			t.Fatal(err)
		}
		st = next
		if i%7 != 0 {
			continue
		}
		for _, want := range st.Steps() {
			for _, k := range append(want.Keys(), want.ID) {
				got, ok := st.StepFor(k)
				if n++; !ok || !reflect.DeepEqual(got, want) {
					t.Fatalf("after event %d, %s: found %v %+v\nwant %+v", ev.N, k, ok, got, want)
				}
			}
		}
	}
	if n < 1000 {
		t.Errorf("only %d looked for", n)
	}
}

// TestLogWindow: a pressure may stand on the window of a gauge's log, which
// brings its own standard error, and on nothing else of that name.
func TestLogWindow(t *testing.T) {
	const k = "baseline/basement-1"
	w := begin(t)
	w.To(k)
	mean := -0.003
	l := &procedure.Log{SHA256: strings.Repeat("ab", 32), Columns: []string{"time", "pressure"}, Unit: "inH2O", Count: 120, Mean: mean, S: 0.0004, Autocorrelation: 0.3, StandardError: 0.0001, From: w.At, To: w.At.Add(2 * time.Minute)}
	w.Do(k, l)
	n := w.State.Last()
	answer := func(v float64, unit string, log int) *procedure.Answer {
		return &procedure.Answer{Pressure: &procedure.Pressure{Value: &v, Unit: unit, AveragingS: 120, Instrument: "gauge", Log: log}}
	}
	for what, a := range map[string]*procedure.Answer{"another value": answer(-0.002, "inH2O", n), "another unit": answer(mean, "Pa", n), "no log": answer(mean, "inH2O", n-1)} {
		if w.Try(k, a) == nil {
			t.Errorf("%s was taken for the window", what)
		}
	}
	if w.Try(k, &procedure.Log{Unit: "Pa", Count: 5, Mean: math.NaN(), S: 1, StandardError: 1}) == nil {
		t.Error("a window without a mean was taken")
	}
	w.Do(k, answer(mean, "inH2O", n))
	b := w.State.Observations().ZoneObs[0].Baselines[0]
	if math.Abs(b.Values[0]+0.7473) > 1e-3 || math.Abs(b.SE-0.02491) > 1e-4 || math.Abs(b.EffectiveN-16) > 1e-9 {
		t.Errorf("got %+v", b)
	}
}

// TestHeldIsNoDraft: each pressure of an appliance is asked as what it is, so
// that its sign and its range are told of the zone or of the vent.
func TestHeldIsNoDraft(t *testing.T) {
	w := begin(t)
	w.Rest()
	kinds := map[string]string{"held": "zone-pressure", "draft": "draft"}
	n := 0
	for _, st := range w.State.Steps() {
		stem, _, _ := strings.Cut(st.ID, "/")
		if want, ok := kinds[stem]; ok && st.Form == procedure.FormPressure {
			if n++; st.Args["kind"] != want {
				t.Errorf("%s is asked as a %s", st.ID, st.Args["kind"])
			}
		}
	}
	if n < 4 {
		t.Errorf("only %d pressures of appliances", n)
	}
}

// TestListAskedOnce: a replay that answers a list line by line asks for the
// same list as a walk that works it out anew at each line, also where doors are
// decided after air handlers.
func TestListAskedOnce(t *testing.T) {
	walks := map[string]*walk{"rich": rich(t)}
	late := begin(t, "reading/basement-1/redoors=-4 -4", "redoors/basement-1=1 2 1")
	late.Plan.Stages = slices.Clone(late.Plan.Stages)
	doors := slices.IndexFunc(late.Plan.Stages, func(s procedure.Stage) bool { return s.ID == procedure.StageDoors })
	moved := late.Plan.Stages[doors]
	late.Plan.Stages = slices.Delete(late.Plan.Stages, doors, doors+1)
	worst := slices.IndexFunc(late.Plan.Stages, func(s procedure.Stage) bool { return s.ID == procedure.StageWorst })
	late.Plan.Stages = slices.Insert(late.Plan.Stages, worst, moved)
	late.Restart()
	late.To("")
	walks["doors last"] = late
	for i, name := range []string{"graded-2005", "spillage-2017", "code-annex-2018", "canada-mixed"} {
		phase := []procedure.Phase{procedure.TestIn, procedure.Daily, procedure.TestIn, procedure.TestOut}[i]
		walks[name+" "+string(phase)] = sequencetest.RandomHome(t, name, phase, int64(i), i%2 == 0)
	}
	compared := 0
	for name, w := range walks {
		st := sequence.Start(w.Header, w.Plan)
		for i, ev := range w.Events[1:] {
			again, err := sequence.Replay(w.Header, w.Events[:i+1])
			if err != nil {
				t.Fatal(err)
			}
			step, asked := st.StepFor(ev.Step)
			keys := []string{ev.Step}
			if asked {
				keys = append(keys, step.Keys()...)
			}
			if before := w.Events[i].Step; before != "" {
				keys = append(keys, before)
			}
			for _, k := range keys {
				want, asked := st.StepFor(k)
				got, found := again.StepFor(k)
				if compared++; asked != found || !reflect.DeepEqual(got, want) {
					t.Fatalf("%s, before event %d, %s: found %v %+v\nwant %v %+v", name, ev.N, k, found, got, asked, want)
				}
			}
			if st, err = st.Apply(ev); err != nil {
				t.Fatal(err)
			}
		}
	}
	if compared < 2000 {
		t.Errorf("only %d compared", compared)
	}
}
