package main

import (
	"fmt"
	"testing"

	"cazward/forms"
	"cazward/forms/script"
	"cazward/procedure"
)

// TestPrompts counts the screens of the demonstration that wait for an answer
// and the characters typed, without the help of "=".
func TestPrompts(t *testing.T) {
	p := &script.Script{}
	s := demoSession(t, p)
	prompts, typed := 0, 0
	p.Func = func(v forms.View) string {
		text := s.houseTypes(v.Step)
		if text == "" || v.Shows == "" {
			t.Errorf("the demonstration shows %q at %s, and = types %q", v.Shows, v.Step.ID, text)
		}
		prompts++
		typed += len(text) + 1
		return text
	}
	if err := s.run(); err != nil {
		t.Fatal(err)
	}
	t.Logf("prompts: %d, typed characters with Enter: %d", prompts, typed)
	readmeSays(t, fmt.Sprintf("The demonstration house takes %d screens that wait for an answer and %d typed characters, Enter counted", prompts, typed))
	if steps := len(s.st.Steps()); prompts != steps {
		t.Errorf("%d steps, %d prompts shown", steps, prompts)
	}
	if prompts > 95 {
		t.Errorf("%d prompts, more than 95", prompts)
	}
	if j := s.judge(); !s.st.Closed() || j.Decision != procedure.Hold {
		t.Errorf("closed %v, decision %s", s.st.Closed(), j.Decision)
	}
	for _, v := range p.Views {
		t.Logf("%-40s %s", v.Step.ID, v.Shows)
	}
}
