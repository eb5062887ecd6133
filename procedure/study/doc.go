// Package study asks how often a way of searching finds the true worst case.
// It draws houses ([practice.Random]), solves each in every configuration of
// its doors, fans and air handlers, and walks it as the plan of a scheme asks,
// through the state machine of the real walk, so that what is studied is the
// order that people follow and no copy of it.
//
// It is about the search alone: houses are drawn, one zone each, and the tester
// makes no mistake but what gauge, smoke and gusts force on them.
package study
