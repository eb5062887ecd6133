package wording

import (
	"slices"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// HouseNow says how the house is set, a clause each: "bath fan, hood ON",
// "bedroom 2 and bath doors SHUT", "air handler OFF", "CAZ door OPEN".
func HouseNow(l Lang, setup procedure.Setup, st procedure.Step, name func(id string) string, fans, doors, air []procedure.RosterItem) []string {
	var out []string
	add := func(state, what string) {
		if what != "" {
			out = append(out, say(l, state, "what", what))
		}
	}
	var still []string
	for _, f := range fans {
		if !has(setup.Fans, f.ID) && !has(setup.NotRun, f.ID) {
			still = append(still, f.ID)
		}
	}
	if len(setup.Fans) > 0 {
		add("on", listed(l, setup.Fans, name, "n-fans"))
		if len(still) > 0 {
			add("off", offNames(l, still, name, "other-fans"))
		}
	} else if len(fans) > 0 {
		add("off", offNames(l, still, name, "all-fans"))
	}
	if len(setup.NotRun) > 0 {
		add("not-run", listed(l, setup.NotRun, name, "n-fans"))
	}
	if setup.FlowCFM > 0 {
		add("on", say(l, "stand-in", "n", reading.Format(setup.FlowCFM, 0)))
	}
	var idle []string
	for _, a := range air {
		if !has(setup.AirHandler, a.ID) {
			idle = append(idle, a.ID)
		}
	}
	if len(setup.AirHandler) > 0 {
		add("on", listed(l, setup.AirHandler, name, "air-handlers"))
	}
	if len(idle) > 0 {
		add("off", listed(l, idle, name, "air-handlers"))
	}
	if len(setup.Doors) > 0 {
		add("shut", doorNames(l, setup.Doors, name))
	} else if len(doors) > 0 {
		add("open", say(l, "inside-doors"))
	}
	switch setup.CAZDoor {
	case "open":
		add("open", say(l, "caz-door"))
	case "closed":
		add("shut", say(l, "caz-door"))
	}
	if n := len(setup.Doors); n > 0 && n < len(doors) {
		add("open", say(l, "other-doors"))
	}
	switch {
	case st.Burning && st.Name != "":
		add("on", say(l, "burner-of", "what", st.Name))
	case !st.Held && !st.Burning:
		out = append(out, say(l, "burners-rest"))
	}
	add("shut", say(l, "windows"))
	return out
}

// ShutWord is the word that a clause of [HouseNow] has of what is shut.
func ShutWord(l Lang) string { return strings.Trim(say(l, "shut", "what", ""), " :") }

// StillChanged says what may still be as the test made it, a clause each, the
// burners first and every thing by its name. A nil setup has nothing on.
func StillChanged(l Lang, setup *procedure.Setup, lit []string, name func(id string) string) []string {
	var out []string
	for _, n := range named(lit, name) {
		out = append(out, say(l, "on", "what", say(l, "burner-of", "what", n)))
	}
	if setup == nil {
		return out
	}
	for _, on := range [][]string{setup.Fans, setup.AirHandler} {
		for some := range slices.Chunk(named(on, name), 3) { // what has room on a row
			out = append(out, say(l, "on", "what", strings.Join(some, ", ")))
		}
	}
	if setup.FlowCFM > 0 {
		out = append(out, say(l, "on", "what", say(l, "stand-in", "n", reading.Format(setup.FlowCFM, 0))))
	}
	for _, d := range setup.Doors {
		out = append(out, say(l, "shut", "what", doorNames(l, []string{d}, name)))
	}
	switch setup.CAZDoor {
	case "open":
		out = append(out, say(l, "open", "what", say(l, "caz-door")))
	case "closed":
		out = append(out, say(l, "shut", "what", say(l, "caz-door")))
	}
	return out
}

// listed joins names with commas; more than four are counted.
func listed(l Lang, ids []string, name func(string) string, count string) string {
	if len(ids) > 4 {
		return say(l, count, "n", reading.Format(float64(len(ids)), 0))
	}
	return strings.Join(named(ids, name), ", ")
}

func offNames(l Lang, ids []string, name func(string) string, all string) string {
	if len(ids) > 3 {
		return say(l, all)
	}
	return strings.Join(named(ids, name), ", ")
}

func named(ids []string, name func(string) string) []string {
	var out []string
	for _, id := range ids {
		n := id
		if name != nil {
			n = name(id)
		}
		out = append(out, n)
	}
	return out
}

func doorNames(l Lang, ids []string, name func(string) string) string {
	if len(ids) > 4 {
		return say(l, "n-doors", "n", reading.Format(float64(len(ids)), 0))
	}
	n := named(ids, name)
	for i := range n {
		n[i] = strings.TrimSuffix(n[i], " door")
	}
	if len(n) == 1 {
		return say(l, "doors-one", "what", n[0])
	}
	last := len(n) - 1
	return say(l, "doors-many", "what", strings.Join(n[:last], ", ")+say(l, "and")+n[last])
}

// SealTo says down to which CFM50 the limit holds, before any sealing.
func SealTo(l Lang, cfm50 string) string { return say(l, "seal-to", "n", cfm50) }

// RoomAir adds to the line about combustion-air openings what volume the zone
// has and what its burners want, both in ft3: by the standard method, whose
// source stands in the report.
func RoomAir(l Lang, item, have, want string) string {
	return say(l, "room-air", "item", item, "n", have, "want", want)
}

// LogHint is how a pressure is typed where a gauge's log is at hand.
func LogHint(l Lang) string { return say(l, "log-hint") }

// NoSealing says that the house is as tight as its limits allow.
func NoSealing(l Lang) string { return say(l, "seal-none") }
