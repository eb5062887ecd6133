// Package sequence is the state machine of the test: which step comes next,
// whether an answer may stand, and what a correction makes stale.
//
// [Start] makes the state of a new record, [State.Next] says what to ask,
// [State.Apply] takes an event on a copy, and [Replay] does the same for a
// whole record, so that going on after a stop needs nothing but the record.
//
// # Invariants
//
// A step is asked when the facts present require it and its own fact is
// absent or stale; nothing else remembers progress. A fact is stale when a
// fact it physically depends on changed after it was taken, is stale or is
// gone. Order, times and flows that differ between schemes come from the plan
// in event 1, never from code. Apply either returns a new state or refuses;
// the state it was called on never changes.
//
// It does not judge. Where a branch needs a verdict (natural conditions, an
// interrupt) it calls the same comparison that the judge calls
// (procedure.Bound, procedure.TierAt).
package sequence
