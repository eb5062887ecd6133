package main

import (
	"bytes"
	"testing"
)

// TestVerbsAlone: a verb that is made without the others is the one that is
// made among them, to the last word of its help.
func TestVerbsAlone(t *testing.T) {
	help := func(args ...string) string {
		var out bytes.Buffer
		e := testEnv()
		e.out = &out
		if err := run(e, args); err != nil {
			t.Errorf("%q: %v", args, err)
		}
		return out.String()
	}
	for _, v := range verbs {
		name := v.name
		if c := v.make(testEnv()); c.Name() != name {
			t.Errorf("the verb %q is listed as %q", c.Name(), name)
		}
		if alone, among := help(name, "--help"), help("help", name); alone != among || len(alone) < 40 {
			t.Errorf("%s: alone\n%s\namong the others\n%s", name, alone, among)
		}
	}
}
