package reading

import (
	"errors"
	"strconv"
)

// Code says why an entry was refused. The zero value is no refusal. Values
// reach disk and are worded in two languages: append-only.
type Code string

// The codes. Text and Suggest of the [EntryError] are named in brackets.
const (
	CodeEmpty             Code = "empty"               // nothing was typed
	CodeNoSign            Code = "no-sign"             // a pressure without + or - [number, number with -]
	CodeComma             Code = "comma"               // decimal comma [number, with a point] or commas between values [text, with spaces]
	CodeThousands         Code = "comma-thousands"     // a comma before exactly three digits: 40,000 or 40.000? [number, without commas]
	CodeNotANumber        Code = "not-a-number"        // not a plain decimal [what was typed, what was perhaps meant or ""]
	CodeUnit              Code = "unit"                // unknown, or missing where there is no default [unit typed]
	CodeFamily            Code = "unit-family"         // a unit of another quantity [unit typed, unit wanted]
	CodeMixed             Code = "mixed"               // order is values, one unit, seconds [the word out of place]
	CodeTooMany           Code = "too-many"            // more than MaxSamples values, or two values where one is asked [first one too many]
	CodeAveragingWithMany Code = "averaging-with-many" // several values and an averaging time [the time]
	CodeOutOfRange        Code = "out-of-range"        // cannot be: negative time, below absolute zero, O2 of air or more ... [value]
)

// EntryError is the refusal of a typed entry or of a value. Functions of this
// package return it as *EntryError.
type EntryError struct {
	Code    Code
	Text    string // the part that was refused
	Suggest string // what could be typed instead; "" if nothing can be proposed
}

// Error words the refusal in English for people who read logs and records;
// screens word it from Code.
func (e *EntryError) Error() string {
	q := strconv.Quote(e.Text)
	s := q + " is refused"
	switch e.Code {
	case CodeEmpty:
		return "reading: nothing was typed"
	case CodeNoSign:
		s = q + " has no sign; minus for lower than the reference, plus for higher"
	case CodeComma:
		s = q + " has a comma; use a point for decimals, spaces between values"
	case CodeThousands:
		s = q + " has a comma and can be read in two ways; type it without the comma, a decimal with a point"
	case CodeNotANumber:
		s = q + " is not a plain decimal number"
	case CodeUnit:
		s = q + " is not a known unit"
		if e.Text == "" {
			s = "a unit is missing; type it after the number"
		}
	case CodeFamily:
		return "reading: " + q + " is a unit of another quantity; one that converts to " + e.Suggest + " is needed"
	case CodeMixed:
		s = q + " is out of place; the order is values, unit, seconds"
	case CodeTooMany:
		s = q + " is one value too many"
	case CodeAveragingWithMany:
		s = q + ": an averaging time belongs to one averaged value; type either one value and its seconds, or several values without seconds"
	case CodeOutOfRange:
		s = q + " is outside what is possible here"
	}
	if e.Suggest != "" {
		s += "; perhaps " + e.Suggest
	}
	return "reading: " + s
}

// CodeOf gives the code of an [EntryError] anywhere in err's chain, else "".
func CodeOf(err error) Code {
	var e *EntryError
	if errors.As(err, &e) {
		return e.Code
	}
	return ""
}

func refuse(c Code, text, suggest string) error {
	return &EntryError{Code: c, Text: text, Suggest: suggest}
}
