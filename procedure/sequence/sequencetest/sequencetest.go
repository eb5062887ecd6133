// Package sequencetest walks homes for tests: what a test does not answer is
// asked of the demonstration and of the readings of a plain home, and typed text
// takes the way through the forms that it takes in a walk.
package sequencetest

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"cazward/forms"
	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/practice"
	"cazward/procedure/sequence"
)

// Walk is a test being walked. It keeps every event, so that the record can
// be replayed.
type Walk struct {
	T       testing.TB
	Header  procedure.Header
	Plan    procedure.Plan
	State   *sequence.State
	Events  []procedure.Event
	At      time.Time // the clock of the walk
	Answers map[string]string
	Asked   []procedure.Step
}

// Set loads a scheme, "" for the default one.
func Set(t testing.TB, scheme string) *limits.Set {
	t.Helper()
	set, err := limits.Load(limits.Options{Scheme: scheme})
	if err != nil {
		t.Fatal(err)
	}
	return set
}

// Begin a walk under a scheme. Changes are "step=text".
func Begin(t testing.TB, scheme string, phase procedure.Phase, changes ...string) *Walk {
	t.Helper()
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	w := &Walk{T: t, Header: procedure.Header{Record: "r", Home: "h", Phase: phase, Created: at}, Plan: Set(t, scheme).Plan(phase), At: at, Answers: map[string]string{}}
	for _, c := range changes {
		k, v, _ := strings.Cut(c, "=")
		w.Answers[k] = v
	}
	w.Restart()
	return w
}

// Restart begins the record anew, with the plan as it stands now.
func (w *Walk) Restart() {
	w.T.Helper()
	p, at := w.Plan, w.At
	w.Events = []procedure.Event{{N: 1, Kind: procedure.KindPlan, Observed: at, Written: at, Who: "AB", Src: procedure.FromWalk, Data: &p}}
	st, err := sequence.Replay(w.Header, w.Events)
	if err != nil {
		w.T.Fatal(err)
	}
	w.State = st
}

// Try applies events of a step together and gives back the refusal.
func (w *Walk) Try(step string, data ...procedure.Data) error {
	var evs []procedure.Event
	for _, d := range data {
		w.At = w.At.Add(20 * time.Second)
		evs = append(evs, w.event(step, len(evs), d))
	}
	return w.Apply(evs)
}

func (w *Walk) event(step string, k int, d procedure.Data) procedure.Event {
	return procedure.Event{N: w.State.Last() + 1 + k, Kind: d.EventKind(), Step: step, Observed: w.At, Written: w.At, Who: "AB", Src: procedure.FromWalk, Data: d}
}

// Apply events as they are and give back the refusal.
func (w *Walk) Apply(evs []procedure.Event) error {
	st, err := w.State.Apply(evs...)
	if err == nil {
		w.State = st
		w.Events = append(w.Events, evs...)
	}
	return err
}

// Do applies events that must be taken.
func (w *Walk) Do(step string, data ...procedure.Data) {
	w.T.Helper()
	if err := w.Try(step, data...); err != nil {
		w.T.Fatalf("%s: %v", step, err)
	}
}

// Entries that the walk would keep for a typed answer.
func (w *Walk) Entries(step procedure.Step, text string) []forms.Entry {
	w.T.Helper()
	en, err := forms.Parse(step, text, forms.ParseContext{Twice: true})
	if err != nil {
		w.T.Fatalf("%s %q: %v", step.ID, text, err)
	}
	return en
}

// Data is the one answer to a step that a typed text makes.
func (w *Walk) Data(id, text string) procedure.Data {
	w.T.Helper()
	step, ok := w.State.StepFor(id)
	if !ok {
		w.T.Fatalf("%s is not asked", id)
	}
	en := w.Entries(step, text)
	if len(en) != 1 {
		w.T.Fatalf("%s %q: %d answers", id, text, len(en))
	}
	return en[0].Data
}

// text that answers a step. Steps whose id holds the number of an event go
// by their stem.
func (w *Walk) text(step procedure.Step) string {
	if text, ok := w.Answers[step.ID]; ok {
		return text
	}
	if base, _, again := strings.Cut(step.ID, "/again/"); again {
		if text, ok := w.Answers[base]; ok {
			return text
		}
	}
	if base, n, crossed := strings.Cut(step.ID, "/cazair"); crossed && strings.HasPrefix(step.ID, "reading/") && !strings.Contains(n, "/") {
		return w.text(procedure.Step{ID: base + "/cazdoor"}) // no lower than with the door alone
	}
	stem, _, _ := strings.Cut(step.ID, "/")
	switch stem {
	case "doubt", "source", "settled", "aired", "told":
		if text, ok := w.Answers[stem]; ok {
			return text
		}
	}
	if step.Ask == "putback.reentry" {
		return "2" // nobody has cleared the house
	}
	if _, typed := practice.Ready(step); typed != "" {
		return typed
	}
	return reading(step)
}

// readings of a plain home, invented: a furnace and a water heater on one vent,
// a range hood that matters, and a net that is too close to its limit to pass.
var readings = map[string]string{
	"arrive/lel":                  "0",
	"arrive/ambient":              "2",
	"arrive/weather":              "6 34",
	"baseline/basement-1":         "-0.8 -1.1 -0.9 -1.0 -0.9",
	"reading/basement-1/dryer":    "-1.6 -1.5 -1.7 -1.5 -1.6",
	"reading/basement-1/fans":     "-2.8 -2.7 -2.9 -2.8 -2.7",
	"doors/basement-1":            "2 1 1",
	"reading/basement-1/doors":    "-3.1 -3.0 -3.1 -3.2 -3.0",
	"reading/basement-1/air1":     "-3.4 -3.5 -3.4 -3.6 -3.4",
	"redoors/basement-1":          "2 1 1",
	"reading/basement-1/cazair0":  "-2.6 -2.7 -2.5 -2.6 -2.6",
	"reading/basement-1/cazdoor":  "-2.9 -3.0 -2.9 -2.8 -2.9",
	"reading/basement-1/worst":    "-3.5 -3.6 -3.5 -3.4 -3.6",
	"pairs/basement-1":            "-0.9 -3.5 -1.0 -3.6 -0.9 -3.5",
	"held/water-heater-1":         "-3.5 -3.5 -3.6 -3.4 -3.5",
	"spill/water-heater-1":        "37s",
	"draft/water-heater-1":        "-2.9 -3.0 -2.8 -2.9 -3.0",
	"co/water-heater-1":           "12 6.5",
	"ambient/water-heater-1":      "3",
	"held/furnace-1":              "-3.4 -3.5 -3.5 -3.6 -3.5",
	"spill/furnace-1":             "22s",
	"held/furnace-1/blower":       "-3.5 -3.6 -3.5 -3.5 -3.4",
	"draft/furnace-1":             "-3.4 -3.3 -3.5 -3.4 -3.4",
	"co/furnace-1":                "18 7.2 21 7.0 16 7.4",
	"ambient/furnace-1":           "4",
	"baseline/basement-1/closing": "-0.9 -1.0 -0.8 -0.9 -1.0",
}

// reading is what instruments show at a step of the plain home.
func reading(step procedure.Step) string {
	if text, ok := readings[step.ID]; ok {
		return text
	}
	if base, _, again := strings.Cut(step.ID, "/again/"); again { // after a stop
		return reading(procedure.Step{ID: base})
	}
	switch {
	case strings.HasPrefix(step.ID, "reading/") && strings.Contains(step.ID, "/more"):
		return "-3.1 -3.2 -3.1 -3.0 -3.1"
	case strings.HasPrefix(step.ID, "together/"):
		return "ok"
	case step.Form == procedure.FormClock:
		return "31s"
	case step.Form == procedure.FormPressure && step.Subject != "":
		return "-3.0 30s"
	case step.Form == procedure.FormAmbient:
		return "2"
	}
	return ""
}

// To answers until the step is asked, "" for to the end.
func (w *Walk) To(id string) {
	w.T.Helper()
	for i := 0; i < 500; i++ {
		step, ok := w.State.Next()
		if !ok || step.ID == id {
			if id != "" && !ok {
				w.T.Fatalf("%s was never asked", id)
			}
			return
		}
		w.Asked = append(w.Asked, step)
		text := w.text(step)
		if text == "" {
			w.T.Fatalf("no answer for %s (%s)", step.ID, step.Form)
		}
		var evs []procedure.Event
		for _, e := range w.Entries(step, text) {
			w.At = w.At.Add(20 * time.Second)
			key := e.Key
			if e.Data.EventKind() == procedure.KindDoubt {
				key = step.Args["key"]
			}
			evs = append(evs, w.event(key, len(evs), e.Data))
		}
		if err := w.Apply(evs); err != nil {
			w.T.Fatalf("%s %q: %v", step.ID, text, err)
		}
	}
	w.T.Fatal("the walk does not end")
}

// Answer one step as To would; the error says why it cannot be.
func (w *Walk) Answer(step procedure.Step) error {
	text := w.text(step)
	if text == "" {
		return fmt.Errorf("no answer for %s", step.ID)
	}
	en, err := forms.Parse(step, text, forms.ParseContext{Twice: true})
	if err != nil {
		return err
	}
	w.Asked = append(w.Asked, step)
	var evs []procedure.Event
	for _, e := range en {
		w.At = w.At.Add(20 * time.Second)
		key := e.Key
		if e.Data.EventKind() == procedure.KindDoubt {
			key = step.Args["key"]
		}
		evs = append(evs, w.event(key, len(evs), e.Data))
	}
	return w.Apply(evs)
}

// Rest is what is asked from here to the end.
func (w *Walk) Rest() []string {
	w.T.Helper()
	w.Asked = nil
	w.To("")
	return IDs(w.Asked)
}

// IDs of steps.
func IDs(steps []procedure.Step) []string {
	var out []string
	for _, s := range steps {
		out = append(out, s.ID)
	}
	return out
}

// Correction of the fact in force.
func (w *Walk) Correction(key string, d procedure.Data) *procedure.Correct {
	w.T.Helper()
	_, n, ok := w.State.Fact(key)
	if !ok {
		w.T.Fatalf("no fact %s", key)
	}
	c := &procedure.Correct{Replaces: n, Reason: "typed wrong"}
	switch d := d.(type) {
	case *procedure.Answer:
		c.Answer = d
	case *procedure.Skip:
		c.Skip = d
	case *procedure.Setup:
		c.Setup = d
	}
	return c
}

// TryCorrect corrects a fact by what would be typed at its step.
func (w *Walk) TryCorrect(key, text string) error {
	w.T.Helper()
	step, ok := w.State.StepFor(key)
	if !ok {
		w.T.Fatalf("%s is not asked", key)
	}
	for _, e := range w.Entries(step, text) {
		if e.Key == key {
			return w.Try(key, w.Correction(key, e.Data))
		}
	}
	w.T.Fatalf("%q does not answer %s", text, key)
	return nil
}

// Correct is a TryCorrect that must be taken.
func (w *Walk) Correct(key, text string) {
	w.T.Helper()
	if err := w.TryCorrect(key, text); err != nil {
		w.T.Fatalf("correct %s: %v", key, err)
	}
}

// Clock times a spillage step with the clock of the walk, and keeps it.
func (w *Walk) Clock(step string, d time.Duration) {
	w.T.Helper()
	start := w.At
	timer := func(act string, after time.Duration) {
		w.At = start.Add(after)
		ev := w.event(step, 0, &procedure.Timer{Act: act, Wall: w.At, Mono: after.Milliseconds()})
		if err := w.Apply([]procedure.Event{ev}); err != nil {
			w.T.Fatalf("%s: %v", step, err)
		}
	}
	timer("start", 0)
	timer("mark", d)
	w.Do(step, &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillStopped, Seconds: d.Seconds(), Timed: true}})
}

// Stop and go on after a pause.
func (w *Walk) Stop(pause time.Duration) {
	w.T.Helper()
	w.At = w.At.Add(pause)
	w.Do("", &procedure.Handover{Who: "CD", Resumed: true})
}
