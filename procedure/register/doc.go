// Package register is the supervisor's index of many records: what is kept
// of each, in which order they want attention and why, and what a store must
// do. It holds no SQL, no files and no clock.
//
// Most callers need [Make], which turns a record that was read and judged
// into an [Item], and a [Store], which keeps items. [Reasons] and [Cross] say
// why a home wants attention; [Relate] says how a file stands to what is kept
// under its id.
//
// # Invariants
//
// The bytes of a record are the truth and are never changed but by growth;
// the index is made from them and can be made again. Two different records of
// one id are both kept. What could not be judged has no decision and stands
// in the queue before anything that could, except what says leave. A reason
// says what to look at and accuses nobody.
//
// # Compatibility
//
// Codes of reasons reach stores: append-only. A snapshot carries the form of
// the types that it was made of ([SnapshotForm]); one of another form is
// never read, it is made again from the record.
package register
