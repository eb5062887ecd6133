// Package logfile reads the text log of a logging gauge: one sample a line,
// columns between delimiters, any maker's.
//
// Nothing is taken on trust. [Sniff] looks at the head of the log and proposes
// a [Format]: delimiter, decimal mark, header, clock, columns and unit, with a
// list of [Question] codes for what can be read in two ways. A person confirms
// or corrects it; [Hint] carries the corrections. [Read] then goes through the
// log once, in memory that does not grow with it, and gives mean, scatter,
// autocorrelation, standard error, trend and outliers of a [Window] of it, what
// is wrong with the log ([Faults]), what is wrong with the window ([Quality])
// and two drawings.
//
// # Signs and units
//
// A log needs no plus sign: it was written by an instrument, not by a cold
// hand. Statistics are in the log's own unit. Times without a zone are taken in
// the zone of the Format, UTC if it has none.
//
// # Sources
//
// Standard error with the effective number of [reading.EffectiveN]. The
// thresholds of Quality and of outliers are own rules.
//
// # Compatibility
//
// [Layout], [Quality] and [Question] may be stored or worded elsewhere: they
// are append-only.
package logfile
