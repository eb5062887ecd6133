package main

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"cazward/limits/strict"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	"cazward/procedure/wording"
)

// phrase is a sentence of the terminal: its English, which is the key of its
// Spanish too, and what it is filled with: names, figures, errors and other
// phrases.
type phrase struct {
	form string
	args []any
}

func saying(form string, a ...any) phrase { return phrase{form, a} }

func (p phrase) String() string { return p.in(wording.English) }

// in is the phrase in a language.
func (p phrase) in(l wording.Lang) string {
	form := wording.Terminal(l, p.form)
	if len(p.args) == 0 {
		return strings.ReplaceAll(form, "%%", "%")
	}
	args := make([]any, len(p.args))
	for i, a := range p.args {
		switch a := a.(type) {
		case phrase:
			args[i] = a.in(l)
		case phrases:
			args[i] = a.in(l)
		case foreign:
			args[i] = wording.Reworded(l, string(a))
		case error:
			args[i] = errorIn(l, a)
		default:
			args[i] = a
		}
	}
	return fmt.Sprintf(form, args...)
}

// phrases stand in one sentence with commas between them.
type phrases []phrase

func (p phrases) in(l wording.Lang) string {
	out := make([]string, len(p))
	for i, x := range p {
		out[i] = x.in(l)
	}
	return strings.Join(out, ", ")
}

// foreign is a sentence that another package made in English.
type foreign string

// errorIn words an error: those of other packages as far as the catalogue has
// them. What is said of the lines of a record, and of files that people edit in
// English, stays English.
func errorIn(l wording.Lang, err error) string {
	if wording.OnPaper(l) != wording.Spanish {
		return err.Error()
	}
	switch e := err.(type) {
	case *fs.PathError:
		return e.Path + ": " + causeIn(l, e.Err)
	case *disk.Refused:
		s := e.Path + ": " + wording.Reworded(l, e.Text)
		var path *fs.PathError
		switch {
		case errors.As(e.Err, &path):
			s += ": " + causeIn(l, path.Err)
		case e.Err != nil:
			s += ": " + e.Err.Error()
		}
		return s
	case *journal.Error:
		return e.Error()
	case *strict.Problems:
		out := make([]string, len(e.List))
		for i, p := range e.List {
			if out[i] = p.String(); p.File == "" {
				out[i] = wording.Reworded(l, p.Text)
			}
		}
		return strings.Join(out, anotherError)
	}
	return wording.Reworded(l, err.Error())
}

// causeIn is why the system refused a file, in the words of the program where
// it has any.
func causeIn(l wording.Lang, err error) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return wording.Reworded(l, "no such file or directory")
	case errors.Is(err, fs.ErrPermission):
		return wording.Reworded(l, "permission denied")
	case errors.Is(err, fs.ErrExist):
		return wording.Reworded(l, "file exists")
	}
	return wording.Reworded(l, err.Error())
}

// told is an error with the language in which it is reported.
type told struct {
	error
	lang wording.Lang
}

func (t told) Unwrap() error { return t.error }

// told gives an error the language of the command line.
func (e *env) told(err error) error {
	if err == nil || e.lang == "" {
		return err
	}
	return told{err, e.lang}
}

// say is a sentence in the language of the command line.
func (e *env) say(form string, a ...any) string { return saying(form, a...).in(e.lang) }

// note says on standard error what is to be known beside a result.
func (e *env) note(form string, a ...any) {
	fmt.Fprintf(e.err, "cazward: %s: %s\n", e.say("note"), e.say(form, a...))
}

// problems lists what is wrong with a file that people edit, each with its own
// hint.
func (e *env) problems(list []strict.Problem) {
	for _, p := range list {
		sayError(e.err, e.lang, p.String())
		sayHint(e.err, e.lang, p.Hint)
	}
}

// askedFor is the language that a command line asks for, also one that is
// refused for something else; "" where it asks for none.
func askedFor(args []string) wording.Lang {
	var l wording.Lang
	for i, a := range args {
		if a == "--" {
			break
		}
		text, ok := strings.CutPrefix(a, "--lang=")
		if a == "--lang" && i+1 < len(args) {
			text, ok = args[i+1], true
		}
		if x := wording.Lang(text); ok && (x == wording.English || x == wording.Spanish) {
			l = x
		}
	}
	return l
}

// wrote says which file was written.
func (e *env) wrote(path string) { fmt.Fprintln(e.err, e.say("wrote %s", path)) }
