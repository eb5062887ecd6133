package main

import (
	"errors"
	"fmt"
	"io"

	"cazward/procedure"
)

// Exit codes, the one table of them. The codes of decisions are
// procedure.Decision.ExitCode.
const (
	exitOK        = 0
	exitInternal  = 1
	exitUsage     = 2
	exitRefused   = 7
	exitIntegrity = 8
	exitInUse     = 9
	exitInterrupt = 130
)

// failure is an error for the person at the keyboard: what was refused, and
// what to do next.
type failure struct {
	code int
	text string
	hint string
	err  error
}

func (f *failure) Error() string { return f.text }
func (f *failure) Unwrap() error { return f.err }

func refused(hint, format string, a ...any) error {
	return &failure{code: exitRefused, text: fmt.Sprintf(format, a...), hint: hint}
}

func usage(hint, format string, a ...any) error {
	return &failure{code: exitUsage, text: fmt.Sprintf(format, a...), hint: hint}
}

// exitWith carries an exit code that is no failure: a decision, a state.
type exitWith int

func (e exitWith) Error() string { return fmt.Sprintf("exit %d", int(e)) }

func decided(d procedure.Decision) error {
	if c := d.ExitCode(); c != 0 {
		return exitWith(c)
	}
	return nil
}

// report maps an error to its exit code and says it once.
func report(w io.Writer, err error) int {
	if err == nil {
		return exitOK
	}
	var e exitWith
	if errors.As(err, &e) {
		return int(e)
	}
	var f *failure
	if errors.As(err, &f) {
		fmt.Fprintf(w, "cazward: error: %s\n", f.text)
		if f.hint != "" {
			fmt.Fprintf(w, "cazward: hint: %s\n", f.hint)
		}
		return f.code
	}
	type coded interface{ ExitCode() int }
	type hinted interface{ Hint() string }
	code := exitInternal
	var c coded
	if errors.As(err, &c) {
		code = c.ExitCode()
	}
	fmt.Fprintf(w, "cazward: error: %s\n", err)
	var h hinted
	if errors.As(err, &h) && h.Hint() != "" {
		fmt.Fprintf(w, "cazward: hint: %s\n", h.Hint())
	} else if code == exitInternal {
		fmt.Fprintf(w, "cazward: hint: this is a fault of the program; please report it with the command you gave\n")
	}
	return code
}
