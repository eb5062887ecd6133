package sequence_test

import (
	"slices"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/procedure/sequence"
	"cazward/procedure/sequence/sequencetest"
)

// suggested walks the demonstration house to where it is held, and gives what
// was suggested on the way, by question.
func suggested(t *testing.T, w *walk) []string {
	t.Helper()
	w.To("setup/basement-1/worst")
	var out []string
	for _, st := range w.Asked {
		if strings.HasPrefix(st.Ask, "more.") {
			out = append(out, st.ID+" "+st.Ask)
		}
	}
	return out
}

// TestSuggestions: after the search, and only then, the walk suggests what the
// order never read; what is taken counts like any reading, what is left changes
// nothing, and both stand in the record.
func TestSuggestions(t *testing.T) {
	const low, mild = "-5.6 -5.5 -5.6 -5.7 -5.6", "-1.6 -1.5 -1.6 -1.7 -1.6"
	held := func(w *walk) procedure.ZoneObs {
		w.To("reading/basement-1/worst")
		w.Do("reading/basement-1/worst", w.Data("reading/basement-1/worst", "-3.5 -3.6 -3.5 -3.4 -3.6"))
		return heldAt(t, w)
	}
	plain := sequencetest.Begin(t, "", procedure.TestIn, "doubt=k")
	plain.Plan.More = 0
	plain.Restart()
	if got := suggested(t, plain); len(got) > 0 {
		t.Fatalf("the plan has no suggestions, and the walk makes %v", got)
	}
	was := held(plain)

	// Left: as if it had never been asked.
	w := sequencetest.Begin(t, "", procedure.TestIn, "doubt=k", "more/basement-1/1=2", "more/basement-1/2=3")
	got := suggested(t, w)
	if !slices.Equal(got, []string{"more/basement-1/1 more.air-doors", "more/basement-1/2 more.air-doors-caz"}) {
		t.Fatalf("suggested %v", got)
	}
	if i := slices.IndexFunc(w.Asked, func(st procedure.Step) bool { return st.ID == "more/basement-1/1" }); w.Asked[i].Setup != nil || w.Asked[i].Stage != procedure.StageWorst {
		t.Errorf("%+v", w.Asked[i])
	}
	now := held(w)
	if !slices.Equal(now.Held.Doors, was.Held.Doors) || now.Held.CAZDoor != was.Held.CAZDoor || len(now.Readings) != len(was.Readings) || !now.DoorsDecided || !now.AirDecided || !now.CAZDecided {
		t.Errorf("left, and it is %+v instead of %+v", now, was)
	}
	if d, _, ok := w.State.Fact("more/basement-1/1"); !ok || d.(*procedure.Answer).Choice != "leave-air-doors" {
		t.Errorf("the record says %+v", d)
	}
	w.To("")
	for _, m := range w.State.Observations().Open {
		if strings.Contains(m.Step, "more") {
			t.Errorf("left, and missing: %+v", m)
		}
	}

	// Taken, and lower: held. Milder: never.
	for text, want := range map[string]int{low: 3, mild: len(was.Held.Doors)} {
		w = sequencetest.Begin(t, "", procedure.TestIn, "doubt=k", "more/basement-1/1=1", "more/basement-1/2=3", "reading/basement-1/more1="+text)
		w.To("setup/basement-1/more1")
		if step, _ := w.State.Next(); len(step.Setup.Doors) != 3 || len(step.Setup.AirHandler) != 1 || step.Setup.CAZDoor != was.Held.CAZDoor || !step.Wanted {
			t.Errorf("to set: %+v", step)
		}
		suggested(t, w)
		if zo := held(w); len(zo.Held.Doors) != want || !slices.ContainsFunc(zo.Readings, func(r procedure.PressureObs) bool { return r.Step == "reading/basement-1/more1" }) {
			t.Errorf("read %s, and held %+v", text, zo.Held)
		}
		// The record alone leads to the same place.
		again, err := sequence.Replay(w.Header, w.Events)
		if err != nil {
			t.Fatal(err)
		}
		a, _ := w.State.Next()
		b, _ := again.Next()
		if a.ID != b.ID {
			t.Errorf("replayed, and %s is asked instead of %s", b.ID, a.ID)
		}
	}

	// Taken, and then not read: nothing hangs on it.
	w = sequencetest.Begin(t, "", procedure.TestIn, "doubt=k", "more/basement-1/1=1", "more/basement-1/2=3")
	w.To("reading/basement-1/more1")
	w.Do("reading/basement-1/more1", &procedure.Skip{Reason: procedure.SkipCannot})
	if zo := held(w); !slices.Equal(zo.Held.Doors, was.Held.Doors) {
		t.Errorf("held %+v", zo.Held)
	}
	for _, m := range w.State.Observations().Open {
		if strings.Contains(m.Step, "more") {
			t.Errorf("not read after all, and missing: %+v", m)
		}
	}

	// A search that left something out is not made up for.
	w = sequencetest.Begin(t, "", procedure.TestIn, "doubt=k")
	w.To("reading/basement-1/air1")
	w.Do("reading/basement-1/air1", &procedure.Skip{Reason: procedure.SkipCannot})
	if got := suggested(t, w); len(got) > 0 {
		t.Errorf("no air handler was read, and the walk suggests %v", got)
	}
}

// TestSuggestionsOnRecord: a suggestion that this version would not make stands
// in a record all the same, and no set-up that the house cannot have does.
func TestSuggestionsOnRecord(t *testing.T) {
	w := sequencetest.Begin(t, "", procedure.TestIn, "doubt=k")
	w.To("more/basement-1/1")
	if err := w.Try("more/basement-1/2", &procedure.Answer{Choice: "take-caz-door"}); err == nil {
		t.Error("the second was answered before the first")
	}
	if err := w.Try("more/basement-1/1", &procedure.Answer{Choice: "take-roof"}); err == nil {
		t.Error("an answer that names no rule was taken")
	}
	if err := w.Try("more/basement-1/1", &procedure.Skip{Reason: procedure.SkipCannot}); err == nil {
		t.Error("a suggestion was left out without saying so")
	}
	w.Do("more/basement-1/1", &procedure.Answer{Choice: "take-air-doors"})
	step, _ := w.State.Next()
	bad := step.Setup.Clone()
	bad.Doors = []string{"no-such-door"}
	if err := w.Try(step.ID, &bad); err == nil {
		t.Error("a door that the house does not have was shut")
	}
	other := step.Setup.Clone()
	other.Doors = other.Doors[:1]
	w.Do(step.ID, &other)
	if next, _ := w.State.Next(); next.ID != "reading/basement-1/more1" || !slices.Equal(next.Setup.Doors, other.Doors) {
		t.Errorf("%s with %+v", next.ID, next.Setup)
	}
	w = sequencetest.Begin(t, "", procedure.TestIn, "doubt=k", "list/airhandlers=none")
	w.To("more/basement-1/1")
	if step, _ := w.State.Next(); step.Ask == "more.air-doors" {
		t.Error("no air handler, and it is suggested")
	}
	w.Do("more/basement-1/1", &procedure.Answer{Choice: "leave-air-doors"})
	if step, _ := w.State.Next(); step.ID == "more/basement-1/1" {
		t.Error("answered, and asked again")
	}
}

// TestSuggestShutDoors: without air handlers, all doors shut is suggested where
// the CAZ door was turned after the doors were decided, and only there.
func TestSuggestShutDoors(t *testing.T) {
	for _, c := range []struct {
		caz  string
		want bool
	}{{"-6.1 -6.0 -6.1 -6.2 -6.0", true}, {"-1.1 -1.0 -1.1 -1.2 -1.0", false}} {
		w := sequencetest.Begin(t, "", procedure.TestIn, "doubt=k", "list/airhandlers=none", "more/basement-1/1=2", "more/basement-1/2=2", "more/basement-1/3=2", "more/basement-1/4=2", "reading/basement-1/cazdoor="+c.caz)
		got := strings.Join(suggested(t, w), ", ")
		if strings.Contains(got, "more.shut-doors") != c.want {
			t.Errorf("CAZ door shut read %s, suggested %q", c.caz, got)
		}
	}
}
