package practice

import (
	"strings"
	"testing"

	"cazward/procedure"
)

// TestDemoFits: on the narrow screen what the house shows stands on one line
// with the hint after it: 59 columns less the margin and "   (= types it)".
func TestDemoFits(t *testing.T) {
	const room = 59 - 3 - 15
	check := func(id, shows, typed string) {
		if shows == "" || typed == "" {
			t.Errorf("%s: shows %q, types %q", id, shows, typed)
		}
		if len(shows) > room {
			t.Errorf("%s: %d characters, room for %d: %s", id, len(shows), room, shows)
		}
	}
	for id, d := range demo {
		check(id, d[0], d[1])
	}
	n := 0
	for _, st := range []procedure.Step{{Form: procedure.FormSetup}, {ID: "together/a+b"}, {ID: "cooled/a"}, {Form: procedure.FormDoubt}, {Form: procedure.FormAmbient}, {Form: procedure.FormClock}, {Form: procedure.FormPressure, Subject: "a"},
		{Form: procedure.FormTold}, {Ask: "putback.reentry"}, {Ask: "ambient.source", Choices: []string{"a", "not-found"}}, {Ask: "ambient.settled"}, {Form: procedure.FormNumbers, Items: make([]procedure.Item, 2)}} {
		n++
		shows, typed := Demo(st)
		check(string(st.Form)+st.ID+st.Ask, shows, typed)
	}
	if len(demo) < 40 || n != 12 {
		t.Errorf("only %d steps have their own answer, %d forms", len(demo), n)
	}
}

// TestDemoNames: doors are called what the list of doors makes of them.
func TestDemoNames(t *testing.T) {
	shows, _ := Demo(procedure.Step{ID: "doors/basement-1"})
	if strings.Contains(shows, "bedroom 1") || !strings.Contains(shows, "bedroom,") || !strings.Contains(shows, "bedroom 2") || !strings.Contains(shows, "bath") {
		t.Errorf("doors are bedroom, bedroom 2 and bath: %q", shows)
	}
}
