// Package journal is the codec of a record: one line of JSON for each event,
// each line carrying a sum of itself and the hash of the line before it.
//
// Most callers need [Parse], which reads a record, and [Verify], which says
// whether it is whole. [Begin] and [Record.Extend] make the bytes that a
// writer saves. Everything here works on bytes; files, locks and fsync are in
// journal/disk.
//
// # Invariants
//
// A line has one spelling. The parser decodes strictly, encodes the result
// again and compares bytes, so an unknown key, a key given twice, another key
// order, another way to write a number or a letter, and null in the place of
// a list are all refused. What [EncodeEvent] returns was read back first, so
// nothing is written that could not be read.
//
// Times are RFC 3339 as Go prints them; one finer than a millisecond is
// refused, not cut.
//
// The parser checks structure: sums, chain, numbering, which kind may follow
// which, and that corrections, closings, sign-offs and attachments name
// things that exist. Whether an answer makes sense is procedure/sequence's
// business.
//
// # Text
//
// Text reaches terminals and paper, so control characters are refused: U+0000
// to U+001F, U+007F to U+009F, the line and paragraph separators U+2028 and
// U+2029, and the direction controls U+202A to U+202E and U+2066 to U+2069,
// which can make a line show other words than it holds. Inside data, line
// feed and tab are allowed, because a signature has lines; whoever shows such
// text decides how.
//
// # Compatibility
//
// Codes, reasons, words and everything inside a line are append-only. An
// unknown kind or a newer version is refused, never skipped.
package journal
