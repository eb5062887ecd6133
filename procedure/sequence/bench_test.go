package sequence_test

import (
	"testing"

	"cazward/procedure"
	"cazward/procedure/sequence"
	"cazward/procedure/sequence/sequencetest"
)

// BenchmarkReplay is a resume: a whole record, event by event.
func BenchmarkReplay(b *testing.B) {
	w := rich(b)
	w.To("")
	b.ReportMetric(float64(len(w.Events)), "events")
	b.ResetTimer()
	for b.Loop() {
		if _, err := sequence.Replay(w.Header, w.Events); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkSuggestion is what it takes until the next suggestion is on screen:
// an answer before it, and the step after. Wanted: under 300 ms.
func BenchmarkSuggestion(b *testing.B) {
	w := sequencetest.Begin(b, "", procedure.TestIn, "doubt=k")
	w.To("more/basement-1/1")
	ev := procedure.Event{N: w.State.Last() + 1, Kind: procedure.KindAnswer, Step: "more/basement-1/1", Observed: w.At, Written: w.At, Who: "AB", Src: procedure.FromWalk, Data: &procedure.Answer{Choice: "leave-air-doors"}}
	for b.Loop() {
		st, err := w.State.Apply(ev)
		if err != nil {
			b.Fatal(err)
		}
		if step, ok := st.Next(); !ok || step.Ask != "more.air-doors-caz" {
			b.Fatal(step.ID, step.Ask)
		}
	}
}
