// Package practicetest walks practice houses for tests: a trainee who types
// what a sound tester would, except where the test says otherwise.
package practicetest

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"cazward/forms"
	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/practice"
	"cazward/procedure/sequence"
)

// Trainee is a test being walked in a practice house.
type Trainee struct {
	T      testing.TB
	House  *practice.House
	Play   *practice.Play
	State  *sequence.State
	Header procedure.Header
	Events []procedure.Event
	Rules  procedure.Rules
	At     time.Time
	Asked  []procedure.Step
	Said   map[string]string // step -> what was typed
	// Flaw, if not nil, changes what is typed at a step and what is done
	// before. Commands are as a drill takes them: "rest", "dryer on".
	Flaw func(step procedure.Step, s *practice.Shown)
	// Careless does not look at CO in the room air while burners run.
	Careless bool
}

// Open a shipped house.
func Open(t testing.TB, name string) *practice.House {
	t.Helper()
	h, ok, err := practice.OpenHouse(name)
	if !ok || err != nil {
		t.Fatalf("%s: %v %v", name, ok, err)
	}
	return h
}

// Begin a test of a house.
func Begin(t testing.TB, h *practice.House, seed int64) *Trainee {
	t.Helper()
	return BeginUnder(t, h, seed, "")
}

// BeginUnder begins a test under a scheme, "" for the usual one.
func BeginUnder(t testing.TB, h *practice.House, seed int64, scheme string) *Trainee {
	t.Helper()
	set, err := limits.Load(limits.Options{Scheme: scheme})
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	plan := set.Plan(procedure.TestIn)
	w := &Trainee{T: t, House: h, Rules: set.Rules(), At: at, Said: map[string]string{},
		Header: procedure.Header{Record: "0123456789abcdef", Home: h.Title, Phase: procedure.TestIn, Created: at, Practice: &procedure.Practice{House: h.Name, SHA256: h.SHA256, Seed: seed}}}
	w.Events = []procedure.Event{{N: 1, Kind: procedure.KindPlan, Observed: at, Written: at, Who: "AB", Src: procedure.FromDrill, Data: &plan}}
	if w.State, err = sequence.Replay(w.Header, w.Events); err != nil {
		t.Fatal(err)
	}
	if w.Play, err = h.Begin(seed, practice.Gauges[0]); err != nil {
		t.Fatal(err)
	}
	w.turn(h.Arrival, true)
	return w
}

// Apply an event.
func (w *Trainee) Apply(step string, d procedure.Data) {
	w.T.Helper()
	ev := procedure.Event{N: w.State.Last() + 1, Kind: d.EventKind(), Step: step, Observed: w.At, Written: w.At, Who: "AB", Src: procedure.FromDrill, Data: d}
	st, err := w.State.Apply(ev)
	if err != nil {
		w.T.Fatalf("%s: %v", step, err)
	}
	w.State, w.Events = st, append(w.Events, ev)
	if err := w.Play.Take(ev); err != nil {
		w.T.Fatal(err)
	}
}

func (w *Trainee) turn(s practice.Setting, always bool) {
	w.T.Helper()
	if always || s != w.Play.Setting() {
		w.Apply("", &procedure.House{State: w.House.Positions(s)})
	}
}

func (w *Trainee) show(step procedure.Step) practice.Shown {
	w.T.Helper()
	p, err := w.Play.At(w.At)
	if err != nil {
		w.T.Fatal(err)
	}
	s, err := p.Show(step, w.State)
	if err != nil {
		w.T.Fatalf("%s: %v", step.ID, err)
	}
	return s
}

// Run answers to the end, or until a danger stops the test.
func (w *Trainee) Run() procedure.Judgement {
	w.T.Helper()
	return w.To("")
}

// To answers until a step is asked.
func (w *Trainee) To(id string) procedure.Judgement {
	w.T.Helper()
	retakes := map[string]int{}
	for range 400 {
		step, ok := w.State.Next()
		if !ok || step.ID == id {
			if !ok && id != "" {
				w.T.Fatalf("%s was never asked", id)
			}
			return w.Judge()
		}
		w.Asked = append(w.Asked, step)
		s := w.show(step)
		if step.Form == procedure.FormPressure && s.Wait == 0 {
			w.T.Fatalf("%s: no gauge", step.ID)
		}
		if w.Flaw != nil {
			w.Flaw(step, &s)
		}
		if s.End {
			w.Apply(step.Keys()[0], &procedure.Skip{Reason: procedure.SkipEndingEarly})
			continue
		}
		if step.Form == procedure.FormDoubt && s.Typed == "r" {
			if retakes[step.Args["key"]]++; retakes[step.Args["key"]] > 2 {
				s.Typed = "k"
			}
		}
		typed := s.Typed
		if s.Do != "" || s.Wait > 0 {
			for _, c := range strings.Split(s.Do, ",") {
				if c == "" {
					continue
				}
				set, err := w.House.Command("", w.Play.Setting(), c)
				if err != nil {
					w.T.Fatalf("%s: %q: %v", step.ID, c, err)
				}
				w.turn(set, false)
			}
			w.pass(time.Duration(s.Wait * float64(time.Second)))
			again := w.show(step)
			if w.Flaw != nil {
				w.Flaw(step, &again)
			}
			if step.Form != procedure.FormDoubt {
				typed = again.Typed
			}
		}
		if _, _, stop := w.State.StopSince(0); stop {
			return w.Judge()
		}
		if typed == "" {
			w.T.Fatalf("the house says nothing at %s (%s)", step.ID, step.Form)
		}
		w.Answer(step, typed)
		if _, _, stop := w.State.StopSince(0); stop {
			return w.Judge()
		}
	}
	w.T.Fatal("the walk does not end")
	return procedure.Judgement{}
}

// Answer types a text at a step.
func (w *Trainee) Answer(step procedure.Step, typed string) {
	w.T.Helper()
	w.Said[step.ID] = typed
	en, err := forms.Parse(step, typed, forms.ParseContext{Twice: true})
	if err != nil {
		w.T.Fatalf("%s: %q: %v", step.ID, typed, err)
	}
	if step.Form == procedure.FormClock {
		w.turn(w.Play.Lit(step, w.House.Match(w.State)), false)
		if a, ok := en[0].Data.(*procedure.Answer); ok && a.Spill != nil {
			w.pass(time.Duration(a.Spill.Seconds * float64(time.Second)))
			if _, _, stop := w.State.StopSince(0); stop {
				return // nobody stays to keep the answer
			}
		}
	}
	w.At = w.At.Add(15 * time.Second)
	for _, e := range en {
		key := e.Key
		if e.Data.EventKind() == procedure.KindDoubt {
			key = step.Args["key"]
		}
		w.Apply(key, e.Data)
		w.turn(w.Play.After(step, e.Data, w.House.Match(w.State)), false)
	}
}

// Correct types a step anew, with a reason.
func (w *Trainee) Correct(step procedure.Step, typed string) {
	w.T.Helper()
	en, err := forms.Parse(step, typed, forms.ParseContext{Twice: true})
	if err != nil {
		w.T.Fatalf("%s: %q: %v", step.ID, typed, err)
	}
	for _, e := range en {
		_, n, ok := w.State.Fact(e.Key)
		a, is := e.Data.(*procedure.Answer)
		if !ok || !is {
			w.T.Fatalf("%s has no answer to correct", e.Key)
		}
		w.Apply(e.Key, &procedure.Correct{Replaces: n, Reason: "typed wrong", Answer: a})
	}
}

// pass lets time pass, with a look at CO in the room air every minute and a half
// while a burner runs.
func (w *Trainee) pass(d time.Duration) {
	w.T.Helper()
	for d > 0 {
		step := min(d, 90*time.Second)
		w.At, d = w.At.Add(step), d-step
		if w.Play.Setting()&w.House.Burners() == 0 || w.Careless {
			continue
		}
		s := w.show(procedure.Step{ID: "ambient/now", Form: procedure.FormAmbient})
		v, err := strconv.ParseFloat(s.Typed, 64)
		if err != nil {
			w.T.Fatal(err)
		}
		w.Apply("", &procedure.Hazard{Code: procedure.AmbientCO, Value: &v})
		if _, _, stop := w.State.StopSince(0); stop {
			return
		}
	}
}

// Judge what was seen so far.
func (w *Trainee) Judge() procedure.Judgement {
	return evaluation.Judge(w.State.Observations(), w.Rules)
}
