package journal

import (
	"fmt"
	"strings"
)

// Code is the class of a refusal. Append-only.
type Code string

// Append-only.
const (
	CodeRefused   Code = "refused"      // asked to write what a record may not hold
	CodeNotRecord Code = "not-a-record" // another kind of file
	CodeNewer     Code = "newer"        // intact, written by a newer version
	CodeDamaged   Code = "damaged"      // not what a writer left
)

// Why says what exactly was found. Append-only.
type Why string

// Append-only.
const (
	WhyTorn       Why = "torn"         // bytes after the last line end
	WhyNotBegun   Why = "not-begun"    // ends before its plan, so nothing was kept in it
	WhyFormat     Why = "format"       // first line is not a record's
	WhyVersion    Why = "version"      // newer v
	WhyNewKind    Why = "unknown-kind" // kind that this version does not know
	WhyLength     Why = "length"       // longer than procedure.MaxLine
	WhySum        Why = "sum"          // line differs from its own sum
	WhyPrev       Why = "prev"         // line does not follow the one before it
	WhyNumber     Why = "number"       // n does not count on
	WhySpelling   Why = "spelling"     // not the one spelling of the line
	WhyValue      Why = "value"        // a value that no writer may write
	WhyOrder      Why = "order"        // kind not allowed here
	WhyTarget     Why = "target"       // names an event or closing that is not there
	WhyAttachment Why = "attachment"   // absent, altered or not listed
	WhySignature  Why = "signature"    // does not belong to the closing
	WhyExpected   Why = "expected"     // head is not the expected hash
)

// Error is a refusal. Line counts from 1; the header is line 1 and event n
// is on line n+1. File is filled in by whoever knows it.
type Error struct {
	Code Code
	Why  Why
	File string
	Line int
	Text string // English, without place
}

// Error implements error: place, then what was refused.
func (e *Error) Error() string {
	file := e.File
	if file == "" {
		file = "record"
	}
	if e.Line > 0 {
		return fmt.Sprintf("%s:%d: %s", file, e.Line, e.Text)
	}
	return file + ": " + e.Text
}

// Hint says what to do next; "" where Text says it.
func (e *Error) Hint() string {
	switch {
	case e.Why == WhyNotBegun:
		return "nothing was kept in this file: move it away and begin the record again"
	case e.Code == CodeNewer:
		return "read it with the version of cazward that wrote it, or a newer one"
	case e.Code == CodeNotRecord:
		return "name a file that cazward walk or cazward transcribe wrote"
	case e.Code == CodeDamaged:
		return "leave the file as it is and look for an unchanged copy; the lines above this one are intact"
	case e.Why == WhyValue:
		return "nothing was written of it; mend that value and give it again"
	}
	return ""
}

// ExitCode of a program that stops on this error: 8 for failed integrity,
// else 7, input refused.
func (e *Error) ExitCode() int {
	if e.Code == CodeDamaged {
		return 8
	}
	return 7
}

func damaged(line int, why Why, format string, a ...any) *Error {
	return faultf(why, format, a...).error(CodeDamaged, line)
}

// fault is a reason without a place: the parser turns it into damage, the
// writer into a refusal.
type fault struct {
	why  Why
	at   []string // path of keys inside the line
	text string
}

func faultf(why Why, format string, a ...any) *fault {
	return &fault{why: why, text: fmt.Sprintf(format, a...)}
}

func (f *fault) error(code Code, line int) *Error {
	text := f.text
	if len(f.at) > 0 {
		text = strings.Join(f.at, ".") + ": " + text
	}
	return &Error{Code: code, Why: f.why, Line: line, Text: text}
}
