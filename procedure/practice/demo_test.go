package practice

import (
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
	for id, d := range ready {
		check(id, d[0], d[1])
	}
	n := 0
	for _, st := range []procedure.Step{{Form: procedure.FormSetup}, {ID: "cooled/a"}, {Form: procedure.FormDoubt},
		{Form: procedure.FormTold}, {Ask: "putback.reentry"}, {Ask: "ambient.source", Choices: []string{"a", "not-found"}}, {Ask: "ambient.settled"}, {Form: procedure.FormNumbers, Items: make([]procedure.Item, 2)}} {
		n++
		shows, typed := Ready(st)
		check(string(st.Form)+st.ID+st.Ask, shows, typed)
	}
	if len(ready) < 30 || n != 8 {
		t.Errorf("only %d steps have their own answer, %d forms", len(ready), n)
	}
}
