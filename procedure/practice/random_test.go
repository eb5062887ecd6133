package practice_test

import (
	"math"
	"reflect"
	"testing"

	"cazward/procedure/practice"
)

// TestRandomHouses: each drawn house has a balance however it is set, its survey
// finds the worst case that a check finds, and the same seed gives the same house.
func TestRandomHouses(t *testing.T) {
	doors, handlers, basements, open := map[int]int{}, map[int]int{}, 0, 0
	for n := range uint64(40) {
		h := practice.Random(3, n)
		if !reflect.DeepEqual(h, practice.Random(3, n)) {
			t.Fatalf("house %d: not the same twice", n)
		}
		m, err := h.Compile()
		if err != nil {
			t.Fatalf("house %d: %v", n, err)
		}
		e, err := m.Check(t.Context())
		if err != nil {
			t.Fatalf("house %d: %v", n, err)
		}
		s, err := m.Survey(e.Worst.Zone)
		if err != nil {
			t.Fatalf("house %d: %v", n, err)
		}
		best := 0
		for k, p := range s.Pressure {
			if p < s.Pressure[best] {
				best = k
			}
		}
		if net := s.Pressure[best] - s.Pressure[0]; math.Abs(net-e.Worst.Net) > 1e-6 || len(s.Pressure) != e.Configurations {
			t.Errorf("house %d: the survey finds %v Pa in %d configurations, the check %v in %d", n, net, len(s.Pressure), e.Worst.Net, e.Configurations)
		}
		shut := 0
		for b, w := range s.Tried {
			switch w.Kind {
			case practice.FanSwitch: // each blows out: none of them ever lifts the zone
				for k, p := range s.Pressure {
					if k>>b&1 == 0 && s.Pressure[k|1<<b] > p+1e-6 {
						t.Fatalf("house %d: %s lifts the zone", n, w.Name)
					}
				}
			case practice.DoorSwitch:
				shut++
				for k := range s.Pressure {
					if k>>b&1 == 0 && s.Into[b][k] != 0 {
						t.Fatalf("house %d: %s stands open and has a gap", n, w.Name)
					}
				}
			}
		}
		doors[shut]++
		handlers[len(h.AirHandlers)]++
		for _, z := range h.Zones {
			if z.Name == "basement" {
				basements++
			}
		}
		open += shut
	}
	if len(doors) < 3 || len(handlers) < 2 || basements == 0 || basements == 40 || open == 0 {
		t.Errorf("too much alike: doors %v, air handlers %v, %d basements", doors, handlers, basements)
	}
	if reflect.DeepEqual(practice.Random(3, 0), practice.Random(4, 0)) || reflect.DeepEqual(practice.Random(3, 0), practice.Random(3, 1)) {
		t.Error("another seed or number gives the same house")
	}
}

// TestSurveyRefuses a zone that is not there.
func TestSurveyRefuses(t *testing.T) {
	m, err := practice.Random(1, 1).Compile()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.Survey("attic"); err == nil {
		t.Error("a survey of a zone that the house does not have")
	}
}
