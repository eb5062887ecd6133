// Package procedure is the vocabulary of a combustion-safety test under
// worst-case depressurization: the home and what is in it, the steps of the
// test, the events of a record, the limits, and the findings and decision.
//
// Most readers need two things: [Event], which is what a record holds, and
// [Observations], which is what is judged. The state machine that turns one
// into the other is procedure/sequence; the judge is procedure/evaluation.
//
// # Invariants
//
// Pressures are those of the combustion appliance zone (CAZ) with reference
// to outdoors; negative means the CAZ is lower. Draft is the vent with
// reference to the CAZ; more negative is stronger. The zero value of every
// verdict, tri-state and decision means "not evaluated" or "not known", never
// "fine". Everything here is a value without a clock, a file or a global.
//
// # Compatibility
//
// Every string constant that reaches a record is append-only: a value once
// written is read for ever, and an unknown one is refused.
package procedure
