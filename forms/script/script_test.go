package script

import (
	"errors"
	"io"
	"strings"
	"testing"

	"cazward/forms"
	"cazward/procedure"
)

func TestScript(t *testing.T) {
	s := &Script{Answers: map[string][]string{"a": {"1", "/c 12", "//x", ""}}}
	view := forms.View{Step: procedure.Step{ID: "a", Form: procedure.FormText}}
	want := []forms.Reply{{Text: "1"}, {Control: 'c', Arg: "12"}, {Text: "/x"}, {Text: ""}}
	for i, w := range want {
		if r, err := s.Ask(view); err != nil || r != w {
			t.Errorf("%d: got %+v, %v", i, r, err)
		}
	}
	if _, err := s.Ask(view); !errors.Is(err, io.EOF) || !strings.Contains(err.Error(), "step a") {
		t.Errorf("after the last answer: %v", err)
	}
	s.Func = func(v forms.View) string { return "for " + v.Step.ID }
	if r, err := s.Ask(view); err != nil || r.Text != "for a" {
		t.Errorf("func: %+v, %v", r, err)
	}
	if s.Prompts != 6 || s.Characters != 1+5+3+5 || len(s.Views) != 6 {
		t.Errorf("%d prompts, %d characters, %d views", s.Prompts, s.Characters, len(s.Views))
	}
	s.Answers["a"] = []string{"/zz"}
	var r *forms.Refusal
	if _, err := s.Ask(view); !errors.As(err, &r) {
		t.Errorf("a control that is none: %v", err)
	}
	s.Tell("kept", "1")
	s.Stop([]string{"out"})
	if s.Told[0] != "kept: 1" || s.Stopped[0] != "out" {
		t.Errorf("%v %v", s.Told, s.Stopped)
	}
	if _, err := s.Ask(view); !errors.Is(err, io.EOF) {
		t.Errorf("after the stop: %v", err)
	}
}
