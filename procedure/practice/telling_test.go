package practice_test

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/procedure/airflow"
	"cazward/procedure/evaluation"
	"cazward/procedure/practice"
	"cazward/procedure/practice/practicetest"
	"cazward/procedure/sequence"
)

// TestSmokeFollowsTheFlow: at each inside door of each house, shut, smoke goes
// the way that the solved network moves air through its gap. Doors of the
// shipped houses are written from the side of the zone.
func TestSmokeFollowsTheFlow(t *testing.T) {
	seen := map[string]int{}
	for _, name := range practice.HouseNames() {
		h := practicetest.Open(t, name)
		w := practicetest.Begin(t, h, 1)
		w.Flaw = func(step procedure.Step, s *practice.Shown) {
			if step.Form != procedure.FormTable || step.Ask != "doors.smoke" || !strings.HasPrefix(step.ID, "doors/") {
				return
			}
			now := w.Play.Setting()
			n := h.Match(w.State)
			for i, code := range strings.Fields(s.Typed) {
				door := n[step.Items[i].Key[strings.LastIndexByte(step.Items[i].Key, '/')+1:]]
				set, err := h.Command("", now, door+" closed")
				if err != nil {
					t.Fatal(err)
				}
				sol := solve(t, h, h.FormatSetting(set&^h.Burners()))
				link := slices.IndexFunc(h.Network.Links, func(l airflow.Link) bool { return l.Name == door && l.Law.Kind == airflow.KindOrifice })
				if link < 0 {
					t.Fatalf("%s: no gap below %s", name, door)
				}
				want := "3"
				switch dp := sol.Links[link].DP; {
				case dp > 0.05:
					want = "2" // on into the room
				case dp < -0.05:
					want = "1"
				}
				if seen[code]++; code != want {
					t.Errorf("%s at %s: smoke at %s says %s, the flow %.1f cfm at %.2f Pa says %s", name, h.FormatSetting(set), door, code, sol.Links[link].Volume/airflow.CFM, sol.Links[link].DP, want)
				}
			}
		}
		w.Run()
	}
	if seen["1"] < 3 || seen["2"] < 3 {
		t.Errorf("smoke went only one way: %v", seen)
	}
}

// TestOnlyTheDebriefReadsTheHouse: what the house events of a record say changes
// nothing that is observed or judged.
func TestOnlyTheDebriefReadsTheHouse(t *testing.T) {
	for _, name := range []string{"tight-ranch", "two-zones", "unvented"} {
		w := practicetest.Begin(t, practicetest.Open(t, name), 5)
		j := w.Run()
		other := slices.Clone(w.Events)
		events := 0
		for i, ev := range other {
			if _, ok := ev.Data.(*procedure.House); ok {
				events++
				other[i].Data = &procedure.House{State: map[string]string{"dryer": "on", "living-window": "open", "gauge": "coarse"}}
			}
		}
		st, err := sequence.Replay(w.Header, other)
		if err != nil {
			t.Fatal(err)
		}
		if events < 5 || !reflect.DeepEqual(st.Observations(), w.State.Observations()) || !reflect.DeepEqual(evaluation.Judge(st.Observations(), w.Rules), j) {
			t.Errorf("%s: %d house events, and another house gives another result", name, events)
		}
	}
}

// TestStageTimes: the minutes of the stages add up to those of the test, and time
// spent at a screen counts for its stage.
func TestStageTimes(t *testing.T) {
	minutes := func(wait float64) map[procedure.StageID]float64 {
		w := practicetest.Begin(t, practicetest.Open(t, "oil-boiler"), 3)
		w.Flaw = func(step procedure.Step, s *practice.Shown) {
			if step.ID == "look/house" {
				s.Wait = wait
			}
		}
		d := debrief(t, w, w.Run())
		out, sum := map[procedure.StageID]float64{}, 0.0
		for _, s := range d.Stages {
			out[s.Stage] = s.Minutes
			sum += s.Minutes
		}
		if want := w.At.Sub(w.Header.Created).Minutes(); math.Abs(sum-d.Minutes) > 1e-9 || math.Abs(sum-want) > 1e-9 {
			t.Errorf("stages add up to %v min, the test took %v of %v", sum, d.Minutes, want)
		}
		return out
	}
	a, b := minutes(0), minutes(20*60)
	for s, v := range b {
		want := a[s]
		if s == procedure.StageLook {
			want += 20
		}
		if math.Abs(v-want) > 1e-9 {
			t.Errorf("%s took %v min, want %v", s, v, want)
		}
	}
}
