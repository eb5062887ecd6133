package practice

import (
	"slices"
	"strings"

	"cazward/procedure"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
)

// Names says what of the house each thing on a trainee's own lists is, by its
// id in the record. What the house does not have is not in it, and what was
// forgotten on a list has no id.
type Names map[string]string

// Match finds the things of the house on a trainee's lists: of each kind the
// first listed is the first of the file, and so on.
func (h *House) Match(st *sequence.State) Names {
	out := Names{}
	roster := func(key string) []procedure.RosterItem {
		d, _, ok := st.Fact(key)
		if a, is := d.(*procedure.Answer); ok && is && a.Roster != nil {
			return a.Roster.Items
		}
		return nil
	}
	pair := func(items []procedure.RosterItem, things [][2]string) { // name, kind
		taken := map[string]bool{}
		for _, it := range items {
			for _, x := range things {
				if !taken[x[0]] && x[1] == it.Kind {
					taken[x[0]] = true
					out[it.ID] = x[0]
					break
				}
			}
		}
	}
	pair(roster("list/appliances"), h.appliancesOf())
	pair(roster("list/fans"), h.fansOf())
	pair(roster("list/doors"), h.doorsOf())
	pair(roster("list/airhandlers"), h.handlersOf())

	// Zones: what it is called first, then in order.
	zones, taken := roster("list/zones"), map[string]bool{}
	for _, z := range zones {
		for _, x := range h.Zones {
			if x.CAZ && !taken[x.Name] && out[z.ID] == "" && place(x.Name) == z.Kind {
				taken[x.Name], out[z.ID] = true, x.Name
			}
		}
	}
	for _, z := range zones {
		for _, x := range h.Zones {
			if x.CAZ && !taken[x.Name] && out[z.ID] == "" {
				taken[x.Name], out[z.ID] = true, x.Name
			}
		}
	}
	return out
}

// Missed are the zones with appliances, the doors, fans, air handlers and
// appliances of the house that are on no list.
func (h *House) Missed(n Names) []string {
	return missed(n, h.zonesOf(), h.appliancesOf(), h.fansOf(), h.doorsOf(), h.handlersOf())
}

func missed(n Names, lists ...[][2]string) []string {
	known := map[string]bool{}
	for _, v := range n {
		known[v] = true
	}
	var out []string
	for _, list := range lists {
		for _, x := range list {
			if !known[x[0]] {
				out = append(out, x[0])
			}
		}
	}
	return out
}

func (h *House) zonesOf() [][2]string {
	var out [][2]string
	for _, z := range h.Zones {
		if z.CAZ {
			out = append(out, [2]string{z.Name, place(z.Name)})
		}
	}
	return out
}

func (h *House) handlersOf() [][2]string {
	var out [][2]string
	for _, n := range h.AirHandlers {
		out = append(out, [2]string{n, "air-handler"})
	}
	return out
}

func (h *House) appliancesOf() [][2]string {
	var out [][2]string
	for _, a := range h.Appliances {
		out = append(out, [2]string{a.ID, string(a.Kind)})
	}
	return out
}

func (h *House) fansOf() [][2]string {
	var out [][2]string
	for _, f := range h.Fans {
		out = append(out, [2]string{f.Name, string(f.Kind)})
	}
	return out
}

func (h *House) doorsOf() [][2]string {
	var out [][2]string
	for _, d := range h.Doors {
		if d.CAZ == "" {
			out = append(out, [2]string{d.Name, string(d.Kind)})
		}
	}
	return out
}

// places are what the list of zones offers.
var places = []string{"basement", "utility-room", "closet", "garage", "attic", "crawl-space", "kitchen", "living-space"}

// place is the kind of space that a zone's name begins or ends with.
func place(zone string) string {
	for _, k := range places {
		if strings.HasPrefix(zone, k) || strings.HasSuffix(zone, k) {
			return k
		}
	}
	return "other-space"
}

// SetUp is how the house stands once a set-up screen was confirmed: what is on
// the trainee's lists goes as it says, all else stays. Screens that ask for a
// house at rest have the burners off too.
func (h *House) SetUp(now Setting, n Names, step procedure.Step, su procedure.Setup) Setting {
	for id, name := range n {
		i := slices.IndexFunc(h.switches, func(w Switch) bool { return w.Name == name })
		if i < 0 {
			continue
		}
		var on bool
		switch h.switches[i].Kind {
		case FanSwitch:
			on = slices.Contains(su.Fans, id)
		case DoorSwitch:
			on = slices.Contains(su.Doors, id)
		case AirHandlerSwitch:
			on = slices.Contains(su.AirHandler, id)
		case WindowSwitch, ApplianceSwitch, StandInSwitch:
			continue
		}
		now = with(now, i, on)
	}
	if now &^= h.StandIn(); su.FlowCFM > 0 {
		now |= h.StandIn()
	}
	for _, d := range h.Doors {
		i := slices.IndexFunc(h.switches, func(w Switch) bool { return w.Name == d.Name })
		if d.CAZ != "" && d.CAZ == n[step.Zone] && su.CAZDoor != "none" && su.CAZDoor != "" {
			now = with(now, i, su.CAZDoor == "closed")
		}
	}
	switch step.Ask {
	case "setup.off", "setup.closing", "setup.natural":
		now &^= h.all(ApplianceSwitch)
	}
	return now
}

func with(s Setting, i int, on bool) Setting {
	if on {
		return s | 1<<i
	}
	return s &^ (1 << i)
}

// StandIn is the bit of the fan that stands in for a lit fireplace, 0 for a
// house that has none.
func (h *House) StandIn() Setting { return h.all(StandInSwitch) }

// Burners are the bits of all burners.
func (h *House) Burners() Setting { return h.all(ApplianceSwitch) }

// Burner is the bit of an appliance by its name in the house, 0 for none.
func (h *House) Burner(name string) Setting {
	for i := range h.Appliances {
		if h.Appliances[i].ID == name {
			return h.burner(i)
		}
	}
	return 0
}

// Off is the setting with nothing turned that a baseline wants at rest: air
// handlers, fans, burners off, inside doors open, windows shut.
const Off Setting = 0

// Command reads what a trainee does to the house: "rest", "back" (as it was on
// arrival), "fans off", or a thing and its position, several after commas. A
// thing may be named by the first letters that only it has.
func (h *House) Command(l wording.Lang, now Setting, text string) (Setting, error) {
	say := func(key string, pairs ...string) string { return wording.Drill(l, key, pairs...) }
	for _, part := range strings.Split(text, ",") {
		words := strings.Fields(part)
		if len(words) == 0 {
			return now, &SettingError{say("not-set.nothing"), say("hint.example", "what", h.exampleCommand())}
		}
		switch strings.Join(words, " ") {
		case "rest":
			now = Off
			continue
		case "back":
			now = h.Arrival
			continue
		}
		if len(words) != 2 {
			return now, &SettingError{say("not-set.form", "what", strings.TrimSpace(part)), say("hint.example", "what", h.exampleCommand())}
		}
		groups := map[string]SwitchKind{"fans": FanSwitch, "windows": WindowSwitch, "doors": DoorSwitch, "burners": ApplianceSwitch, "airhandlers": AirHandlerSwitch}
		kind, group := groups[words[0]]
		hits := []int{}
		for i, w := range h.switches {
			if group && w.Kind == kind || !group && strings.HasPrefix(w.Name, words[0]) {
				hits = append(hits, i)
			}
			if !group && w.Name == words[0] {
				hits = []int{i}
				break
			}
		}
		switch {
		case len(hits) == 0:
			return now, &SettingError{say("not-set.unknown", "what", words[0]), say("hint.names", "names", h.thingNames())}
		case len(hits) > 1 && !group:
			return now, &SettingError{say("not-set.several", "what", words[0]), say("hint.names", "names", h.thingNames())}
		}
		for _, i := range hits {
			on, ok := h.switches[i].position(words[1])
			if !ok {
				return now, &SettingError{say("not-set.position", "what", h.switches[i].Name, "how", words[1]), say("hint.or", "what", h.switches[i].Rest, "how", h.switches[i].Turned)}
			}
			now = with(now, i, on)
		}
	}
	return now, nil
}

// position reads a word for a position; shut is closed, lit is fired.
func (w Switch) position(word string) (turned, ok bool) {
	switch word {
	case "shut":
		word = "closed"
	case "lit", "on":
		if w.Kind == ApplianceSwitch {
			word = "fired"
		}
	}
	return word == w.Turned, word == w.Turned || word == w.Rest
}

func (h *House) exampleCommand() string {
	if len(h.switches) == 0 {
		return "rest"
	}
	return "set " + h.switches[0].Name + " " + h.switches[0].Turned
}

func (h *House) thingNames() string {
	var out []string
	for _, w := range h.switches {
		out = append(out, w.Name)
	}
	return strings.Join(out, ", ")
}

// Stands says in words what is not at rest.
func (h *House) Stands(l wording.Lang, s Setting) string {
	var out []string
	for i, w := range h.switches {
		if s>>i&1 == 1 {
			out = append(out, wording.Drill(l, "is", "name", thing(l, w.Name), "how", wording.Drill(l, "how."+w.Turned)))
		}
	}
	if out == nil {
		return wording.Drill(l, "rest")
	}
	return strings.Join(out, ", ")
}

// thing is what a thing of the house is called: in Spanish as it is typed.
func thing(l wording.Lang, name string) string {
	if l == wording.English || l == "" {
		return plain(name)
	}
	return name
}

func plain(name string) string { return strings.ReplaceAll(name, "-", " ") }
