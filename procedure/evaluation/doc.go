// Package evaluation judges what a test saw.
//
// [Judge] is the whole of it: observations and rules in, findings and a
// decision out. It is pure. Unknown is never a pass: what was not seen is
// missing, what is missing is at best incomplete, and the most protective
// finding decides. Every comparison is procedure.Bound.Side, every choice of
// a row procedure.Match, every tier procedure.TierAt, so that the walk and the
// judge cannot disagree.
package evaluation
