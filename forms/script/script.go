// Package script answers the walk from a list, for tests and for filled
// sheets, and counts what a person would have had to type.
package script

import (
	"fmt"
	"io"
	"unicode/utf8"

	"cazward/forms"
)

// Script is a [forms.Prompter]. An answer is taken from Answers by the id of
// the step, the first first; when there is none left, from Func; when Func is
// nil or gives "", Ask returns io.EOF with the name of the step.
//
// A text is read as plain mode reads it: "/c 12" is a control, "//" a slash.
type Script struct {
	Answers map[string][]string
	Func    func(forms.View) string

	Prompts    int // questions asked
	Characters int // typed, without Enter
	Views      []forms.View
	Told       []string // "kind: text"
	Stopped    []string // lines of the stop screen
	Closed     bool
}

var _ forms.Prompter = (*Script)(nil)

// Ask implements [forms.Prompter].
func (s *Script) Ask(v forms.View) (forms.Reply, error) {
	s.Prompts++
	s.Views = append(s.Views, v)
	if s.Closed {
		return forms.Reply{}, fmt.Errorf("script: step %s asked after the end: %w", v.Step.ID, io.EOF)
	}
	text, ok := "", false
	if list := s.Answers[v.Step.ID]; len(list) > 0 {
		text, ok = list[0], true
		s.Answers[v.Step.ID] = list[1:]
	} else if s.Func != nil {
		text = s.Func(v)
		ok = text != ""
	}
	if !ok {
		return forms.Reply{}, fmt.Errorf("script: no answer for step %s (%s): %w", v.Step.ID, v.Step.Form, io.EOF)
	}
	s.Characters += utf8.RuneCountInString(text)
	r, _, err := forms.ParseControl(text)
	if err != nil {
		return forms.Reply{}, fmt.Errorf("script: step %s: %w", v.Step.ID, err)
	}
	return r, nil
}

// Tell implements [forms.Prompter].
func (s *Script) Tell(kind, text string) { s.Told = append(s.Told, kind+": "+text) }

// Stop implements [forms.Prompter].
func (s *Script) Stop(lines []string) {
	s.Stopped = append(s.Stopped, lines...)
	s.Closed = true
}

// Close implements [forms.Prompter].
func (s *Script) Close() error {
	s.Closed = true
	return nil
}
