package practice

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"

	"gopkg.in/yaml.v3"

	"cazward/limits/strict"
	"cazward/procedure"
	"cazward/procedure/airflow"
	"cazward/procedure/reading"
)

const (
	maxFile  = 1 << 18 // bytes of a house file
	maxItems = 200     // of any one list of a house file, but zones and junctions:
	maxZones = 50      // work grows with their third power
	maxJoins = 20
	outdoors = "outdoors"
)

var nameForm = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[a-z][a-z0-9-]{0,39}$`) })

// ReadHouse reads and checks a house file. The error is a [strict.Problems]
// that lists everything wrong with file, line, column and hint.
func ReadHouse(file string, data []byte) (*House, error) {
	b := &builder{
		Reader: strict.Reader{File: file, What: "house file", Begin: "begin with kind: house and format: 1", Max: maxFile},
		h:      &House{SHA256: hex.EncodeToString(sum(data))},
		nodes:  map[string]airflow.Node{outdoors: airflow.Outside}, taken: map[string]string{},
		handlers: map[string]int{}, vents: map[string]int{},
	}
	doc := b.Document(data)
	if doc == nil {
		return nil, b.Err()
	}
	var f fileYAML
	b.Decode(doc, &f)
	if len(b.List) > 0 { // figures of a file that is not read whole would mislead
		return nil, b.Err()
	}
	b.head(&f)
	b.lists(&f)
	if len(b.List) > 0 {
		return nil, b.Err()
	}
	b.weather(f.Outdoors, f.Node)
	b.spaces(&f)
	b.openings(&f)
	b.machines(&f)
	b.chimneys(&f)
	b.things(&f)
	if len(b.List) == 0 {
		b.whole(&f)
	}
	if err := b.Err(); err != nil {
		return nil, err
	}
	return b.h, nil
}

func sum(data []byte) []byte { s := sha256.Sum256(data); return s[:] }

// builder turns a decoded file into a house and notes what is wrong.
type builder struct {
	strict.Reader
	h        *House
	nodes    map[string]airflow.Node
	taken    map[string]string // names of things that air passes or a state turns, and what has them
	handlers map[string]int
	vents    map[string]int // position in h.Vents
	// Where each part of the network stands in the file.
	zoneAt, linkAt, fanAt, handlerAt []*yaml.Node
}

// figure reads one figure of a part, within lo to hi in the kind's unit.
func (b *builder) figure(n *yaml.Node, part, key, text string, k kind, lo, hi float64) float64 {
	if text == "" {
		b.At(at(n, key), "add "+key+": a number, one space and a unit: "+strings.Join(k.units, ", "), "%s: %s missing", part, key)
		return 0
	}
	v, hint, err := k.parse(text)
	if err != nil {
		b.At(at(n, key), hint, "%s: %s: %v", part, key, err)
		return 0
	}
	if !(v >= lo && v <= hi) {
		unit := text[strings.IndexByte(text, ' ')+1:]
		b.At(at(n, key), fmt.Sprintf("give %s to %s %s", short(k.inUnit(lo, unit)), short(k.inUnit(hi, unit)), unit), "%s: %s: %s is outside what a house can have", part, key, text)
		return 0
	}
	return v
}

// short prints a bound with as many digits as a person needs.
func short(v float64) string {
	if math.Abs(v) >= 100 {
		return reading.Format(v, 0)
	}
	return reading.Format(math.Round(v*1e3)/1e3, -1)
}

// plain reads a bare number of a part.
func (b *builder) plain(n *yaml.Node, part, key string, v *float64, lo, hi float64) float64 {
	switch {
	case v == nil:
		b.At(at(n, key), fmt.Sprintf("add %s: a number, %s to %s", key, short(lo), short(hi)), "%s: %s missing", part, key)
		return 0
	case !(*v >= lo && *v <= hi):
		b.At(at(n, key), fmt.Sprintf("give %s to %s", short(lo), short(hi)), "%s: %s: %s is outside what a house can have", part, key, reading.Format(*v, -1))
		return 0
	}
	return *v
}

// text reads a line of text that must be there.
func (b *builder) text(n *yaml.Node, part, key, v, hint string) string {
	switch {
	case strings.TrimSpace(v) == "":
		b.At(at(n, key), hint, "%s: %s missing", part, key)
	case len(v) > 2000 || strings.ContainsFunc(v, func(r rune) bool { return r < ' ' && r != '\n' || r == 0x7f || r >= 0x80 && r <= 0x9f }):
		b.At(at(n, key), "write plain text of at most 2000 bytes", "%s: %s is too long or holds control characters", part, key)
	}
	return v
}

// name takes a name that no other thing of the house may have.
func (b *builder) name(n *yaml.Node, what, v string) string {
	part := what + " " + fmt.Sprintf("%q", v)
	switch first, dup := b.taken[v]; {
	case v == "":
		b.At(at(n, "name"), "add name: small letters, digits and hyphens", "%s: name missing", what)
	case !nameForm().MatchString(v):
		b.At(at(n, "name"), "use small letters, digits and hyphens, a letter first, at most 40", "%s: the name cannot be used in a state", part)
	case v == outdoors || v == "house":
		b.At(at(n, "name"), "choose another name", "%s: that name is kept for the whole", part)
	case dup:
		b.At(at(n, "name"), "give each thing of the house a name of its own", "%s: that name has a %s already", part, first)
	default:
		b.taken[v] = what
	}
	return part
}

// oneOf checks a word against a list.
func oneOf[T ~string](b *builder, n *yaml.Node, part, key string, v T, list []T) {
	if slices.Contains(list, v) {
		return
	}
	words := make([]string, len(list))
	for i, w := range list {
		words[i] = string(w)
	}
	hint := "one of " + strings.Join(words, ", ")
	if v == "" {
		b.At(at(n, key), hint, "%s: %s missing", part, key)
		return
	}
	b.At(at(n, key), hint, "%s: %s %q is not known", part, key, v)
}

var yesNo = []procedure.Tri{procedure.Yes, procedure.No}

func (b *builder) tri(n *yaml.Node, part, key string, v procedure.Tri) {
	if v != procedure.Unknown || has(n, key) {
		oneOf(b, n, part, key, v, yesNo)
	}
}

// place finds a zone, junction or the outdoors by name.
func (b *builder) place(n *yaml.Node, part, key, v string) airflow.Node {
	node, ok := b.nodes[v]
	if v == "" {
		b.At(at(n, key), "name a zone, a junction or outdoors", "%s: %s missing", part, key)
	} else if !ok {
		names := make([]string, 0, len(b.nodes))
		for k := range b.nodes {
			names = append(names, k)
		}
		slices.Sort(names)
		b.At(at(n, key), "known: "+strings.Join(names, ", "), "%s: %s: no zone or junction is called %q", part, key, v)
	}
	return node
}

func (b *builder) ends(n *yaml.Node, part, from, to string) (airflow.Node, airflow.Node) {
	f, t := b.place(n, part, "from", from), b.place(n, part, "to", to)
	if from == to && from != "" {
		b.At(at(n, "to"), "air goes from one place to another", "%s: both ends are %q", part, to)
	}
	return f, t
}

// cp reads a wind pressure coefficient; only openings to the outdoors have one.
func (b *builder) cp(n *yaml.Node, part string, v *float64, outside bool) float64 {
	if v == nil {
		return 0
	}
	if !outside {
		b.At(at(n, "cp"), "remove cp: wind acts outdoors only", "%s: cp between two zones", part)
	}
	return b.plain(n, part, "cp", v, -5, 5)
}

func (b *builder) head(f *fileYAML) {
	n := f.Node
	if f.Kind != "house" {
		b.At(at(n, "kind"), "kind: house", "kind is %q", f.Kind)
	}
	if f.Format != 1 {
		b.At(at(n, "format"), "format: 1; a later format needs a newer program", "format is %d", f.Format)
	}
	if f.Name == "" || !nameForm().MatchString(f.Name) {
		b.At(at(n, "name"), "add name: small letters, digits and hyphens, a letter first", "house: the name %q cannot be used", f.Name)
	}
	b.text(n, "house", "title", f.Title, "add title: what the invented home is called")
	if !f.Invented {
		b.At(at(n, "invented"), "write invented: true, and never describe a real home here", "house: only invented houses are read")
	}
	b.h.Name, b.h.Title = f.Name, f.Title
	if l := f.Lesson; l != nil {
		b.text(l.Node, "lesson", "aim", l.Aim, "add aim: what the house teaches, in a sentence")
		b.text(l.Node, "lesson", "trainer_note", l.Trainer, "add trainer_note: what the trainee is not told")
		oneOf(b, l.Node, "lesson", "level", Level(l.Level), Levels)
		b.h.Lesson = &Lesson{Aim: l.Aim, Level: Level(l.Level), Trainer: l.Trainer}
		if l.Expected == nil {
			b.At(l.Node, "add expected: with decision, zone, net_lowest, net_highest and findings", "lesson: expected missing")
		}
	}
	if has(n, "sealing") {
		b.h.Sealing = b.figure(n, "house", "sealing", f.Sealing, percent, 0, 95) / 100
	}
	b.h.Home = procedure.DetachedHouse
	if has(n, "home") {
		b.h.Home = procedure.HomeKind(f.Home)
		oneOf(b, n, "house", "home", b.h.Home, procedure.HomeKinds)
	}
	if a := f.Ambient; a != nil {
		b.h.Ambient = reading.Concentration(b.figure(a.Node, "ambient", "co", a.CO, concentration, 0, 2000))
		b.h.LEL = reading.Percent(b.figure(a.Node, "ambient", "lel", a.LEL, percent, 0, 100))
	}
}

// lists bounds every list, so that a file cannot ask for endless work.
func (b *builder) lists(f *fileYAML) {
	if len(f.Zones) == 0 {
		b.At(at(f.Node, "zones"), "add zones: with at least the combustion appliance zone", "house: no zones")
	}
	if n := len(f.Zones); n > maxZones {
		b.At(at(f.Node, "zones"), "join rooms that stand open to one another", "house: %d zones, more than %d", n, maxZones)
	}
	if n := len(f.Junctions); n > maxJoins {
		b.At(at(f.Node, "junctions"), "leave out what does not matter", "house: %d junctions, more than %d", n, maxJoins)
	}
	for key, n := range map[string]int{"links": len(f.Links), "duct_leaks": len(f.DuctLeaks), "doors": len(f.Doors),
		"windows": len(f.Windows), "fans": len(f.Fans), "air_handlers": len(f.AirHandlers), "vents": len(f.Vents), "appliances": len(f.Appliances), "look": len(f.Look)} {
		if n > maxItems {
			b.At(at(f.Node, key), "join what belongs together", "house: %d %s, more than %d", n, key, maxItems)
		}
	}
	slices.SortFunc(b.List, func(x, y strict.Problem) int { return x.Line - y.Line })
}

func (b *builder) weather(o *outdoorsYAML, top *yaml.Node) {
	if o == nil {
		b.At(top, "add outdoors: with temperature, altitude or pressure, and wind", "house: outdoors missing")
		return
	}
	out := &b.h.Network.Outdoors
	out.Temperature = b.figure(o.Node, outdoors, "temperature", o.Temperature, temperature, 200, 340)
	out.Wind = b.figure(o.Node, outdoors, "wind", o.Wind, speed, 0, 60)
	if o.Gust != "" {
		b.h.Gust = b.figure(o.Node, outdoors, "gust", o.Gust, speed, 0, 60)
	}
	switch {
	case o.Altitude != "" && o.Pressure != "":
		b.At(at(o.Node, "pressure"), "keep one of them", "outdoors: altitude and pressure are both given")
	case o.Pressure != "":
		out.Pressure = b.figure(o.Node, outdoors, "pressure", o.Pressure, pressure, 60e3, 110e3)
	default:
		out.Pressure = airflow.StandardPressure(b.figure(o.Node, outdoors, "altitude", o.Altitude, length, -500, 4500))
	}
}

const high = 300 // m: no part of a house is further than this from its level

func (b *builder) spaces(f *fileYAML) {
	add := func(n *yaml.Node, what, name string, floor, temperature float64) {
		b.nodes[name] = airflow.Node(len(b.h.Network.Zones))
		b.h.Network.Zones = append(b.h.Network.Zones, airflow.Zone{Name: name, Floor: floor, Temperature: temperature})
		b.zoneAt = append(b.zoneAt, n)
	}
	caz := false
	for i := range f.Zones {
		z := &f.Zones[i]
		part := b.name(z.Node, "zone", z.Name)
		add(z.Node, "zone", z.Name, b.figure(z.Node, part, "floor", z.Floor, length, -high, high), b.figure(z.Node, part, "temperature", z.Temperature, temperature, 200, 400))
		v := b.figure(z.Node, part, "volume", z.Volume, volume, 0.1, 1e5)
		if z.CAZ == nil {
			b.At(z.Node, "add caz: true where fuel-burning appliances stand, else caz: false", "%s: caz missing", part)
		}
		b.tri(z.Node, part, "louvred", z.Louvred)
		yes := z.CAZ != nil && *z.CAZ
		caz = caz || yes
		b.h.Zones = append(b.h.Zones, Zone{z.Name, v, yes, z.Louvred})
	}
	if !caz {
		b.At(at(f.Node, "zones"), "mark one with caz: true", "house: no zone is a combustion appliance zone")
	}
	for i := range f.Junctions {
		j := &f.Junctions[i]
		part := b.name(j.Node, "junction", j.Name)
		add(j.Node, "junction", j.Name, b.figure(j.Node, part, "height", j.Height, length, -high, high), b.figure(j.Node, part, "temperature", j.Temperature, temperature, 200, 400))
	}
}

// law reads a flow law: which one is told by its keys.
func (b *builder) law(top *yaml.Node, part, key string, y *lawYAML) airflow.Law {
	if y == nil {
		b.At(top, "add "+key+": for example {flow50: 100 cfm, n: 0.65} or {area: 16 in2, discharge: 0.61}", "%s: %s missing", part, key)
		return airflow.Law{}
	}
	part += ": " + key
	var have []string
	for _, k := range []string{"c", "mass_c", "flow50", "area", "width"} {
		if has(y.Node, k) {
			have = append(have, k)
		}
	}
	allow := func(keys ...string) {
		for i := 0; i+1 < len(y.Node.Content); i += 2 {
			if k := y.Node.Content[i].Value; !slices.Contains(keys, k) {
				b.At(y.Node.Content[i], "keys here: "+strings.Join(keys, ", "), "%s: %s does not go with %s", part, k, keys[0])
			}
		}
	}
	n := func() float64 { return b.plain(y.Node, part, "n", y.N, 0.3, 1) }
	cd := func() float64 { return b.plain(y.Node, part, "discharge", y.Discharge, 0.01, 2) }
	const large = 1000 // m3/s or kg/s at 1 Pa
	switch strings.Join(have, " ") {
	case "c":
		allow("c", "n")
		return airflow.PowerLaw(b.figure(y.Node, part, "c", strings.TrimSuffix(y.C, "/Pa^n"), flow, 0, large), n())
	case "mass_c":
		allow("mass_c", "n")
		return airflow.MassPowerLaw(b.figure(y.Node, part, "mass_c", strings.TrimSuffix(y.MassC, "/Pa^n"), massFlow, 0, large), n())
	case "flow50":
		allow("flow50", "n")
		return airflow.FromCFM50(b.figure(y.Node, part, "flow50", y.Flow50, flow, 0, large)/airflow.CFM, n())
	case "area":
		a := b.figure(y.Node, part, "area", y.Area, area, 0, 100)
		if !has(y.Node, "reference") && !has(y.Node, "n") {
			allow("area", "discharge")
			return airflow.Orifice(a, cd())
		}
		allow("area", "discharge", "reference", "n")
		return airflow.LeakageArea(a, cd(), b.figure(y.Node, part, "reference", y.Reference, pressure, 0.1, 1000), n())
	case "width":
		allow("width", "height", "discharge")
		return airflow.Doorway(b.figure(y.Node, part, "width", y.Width, length, 0, 30), b.figure(y.Node, part, "height", y.Height, length, 0, 30), cd())
	}
	hint := "give one of: c and n; mass_c and n; flow50 and n; area and discharge (an orifice); area, discharge, reference and n (a leakage area); width, height and discharge (a doorway)"
	if len(have) > 1 {
		b.At(y.Node, hint, "%s: %s do not go together", part, strings.Join(have, ", "))
	} else {
		b.At(y.Node, hint, "%s: no flow law", part)
	}
	return airflow.Law{}
}

const sourceHint = `add source: where the figure is from, or "own figure"`

// link adds a link to the network and gives its position.
func (b *builder) link(n *yaml.Node, l airflow.Link) int {
	b.h.Network.Links = append(b.h.Network.Links, l)
	b.linkAt = append(b.linkAt, n)
	return len(b.h.Network.Links) - 1
}

func (b *builder) openings(f *fileYAML) {
	h := b.h
	for i := range f.Links {
		y := &f.Links[i]
		part := b.name(y.Node, "link", y.Name)
		from, to := b.ends(y.Node, part, y.From, y.To)
		b.text(y.Node, part, "source", y.Source, sourceHint)
		outside := from == airflow.Outside || to == airflow.Outside
		at := b.link(y.Node, airflow.Link{Name: y.Name, From: from, To: to, Height: b.figure(y.Node, part, "height", y.Height, length, -high, high),
			Cp: b.cp(y.Node, part, y.Cp, outside), Law: b.law(y.Node, part, "law", y.Law)})
		if k := h.Network.Links[at].Law.Kind; outside && k != airflow.KindOrifice && k != airflow.KindDoorway {
			h.leaks = append(h.leaks, at)
		}
	}
	for i := range f.Doors {
		y := &f.Doors[i]
		part := b.name(y.Node, "door", y.Name)
		from, to := b.ends(y.Node, part, y.From, y.To)
		if from == airflow.Outside || to == airflow.Outside {
			b.At(y.Node, "list it under windows, kind: outside-door", "%s: a door to the outdoors stays shut in the test", part)
		}
		b.text(y.Node, part, "source", y.Source, sourceHint)
		d := Door{Name: y.Name, Kind: procedure.DoorKind(y.Kind), From: y.From, To: y.To}
		if y.Kind == cazDoor {
			d.Kind = ""
			for _, z := range h.Zones {
				if z.CAZ && (z.Name == y.From || z.Name == y.To) {
					d.CAZ = z.Name
				}
			}
			if d.CAZ == "" {
				b.At(at(y.Node, "kind"), "a CAZ door leads to a zone with caz: true", "%s: neither side is a combustion appliance zone", part)
			}
		} else {
			oneOf(b, y.Node, part, "kind", d.Kind, append(slices.Clone(procedure.DoorKinds), cazDoor))
		}
		h.Doors = append(h.Doors, d)
		height := b.figure(y.Node, part, "height", y.Height, length, -high, high)
		open := b.link(y.Node, airflow.Link{Name: y.Name, From: from, To: to, Height: height, Law: b.law(y.Node, part, "open", y.Open)})
		shut := b.link(y.Node, airflow.Link{Name: y.Name, From: from, To: to, Height: height, Law: b.law(y.Node, part, "closed", y.Closed)})
		h.switches = append(h.switches, Switch{Name: y.Name, Kind: DoorSwitch, Rest: "open", Turned: "closed", atRest: []int{open}, turned: []int{shut}, tried: true})
	}
	for i := range f.Windows {
		y := &f.Windows[i]
		part := b.name(y.Node, "window", y.Name)
		from, to := b.ends(y.Node, part, y.From, y.To)
		if from == airflow.Outside || to != airflow.Outside {
			b.At(y.Node, "from: a zone, to: outdoors", "%s: a window leads from a zone to the outdoors", part)
		}
		oneOf(b, y.Node, part, "kind", y.Kind, windowKinds)
		b.text(y.Node, part, "source", y.Source, sourceHint)
		h.Windows = append(h.Windows, Window{y.Name, y.Kind, y.From})
		height, cp := b.figure(y.Node, part, "height", y.Height, length, -high, high), b.cp(y.Node, part, y.Cp, true)
		s := Switch{Name: y.Name, Kind: WindowSwitch, Rest: "closed", Turned: "open"}
		s.turned = []int{b.link(y.Node, airflow.Link{Name: y.Name, From: from, To: to, Height: height, Cp: cp, Law: b.law(y.Node, part, "open", y.Open)})}
		if y.Closed != nil { // else the leaks of the zone hold it
			s.atRest = []int{b.link(y.Node, airflow.Link{Name: y.Name, From: from, To: to, Height: height, Cp: cp, Law: b.law(y.Node, part, "closed", y.Closed)})}
		}
		h.switches = append(h.switches, s)
	}
}

func (b *builder) machines(f *fileYAML) {
	h := b.h
	for i := range f.Fans {
		y := &f.Fans[i]
		part := b.name(y.Node, "fan", y.Name)
		from, to := b.ends(y.Node, part, y.From, y.To)
		oneOf(b, y.Node, part, "kind", y.Kind, procedure.FanKinds)
		b.text(y.Node, part, "source", y.Source, sourceHint)
		fan := airflow.Fan{Name: y.Name, From: from, To: to}
		curved := has(y.Node, "curve")
		if has(y.Node, "height") || curved || y.Off != nil {
			fan.Height = b.figure(y.Node, part, "height", y.Height, length, -high, high)
		}
		fan.Cp = b.cp(y.Node, part, y.Cp, from == airflow.Outside || to == airflow.Outside)
		switch {
		case curved && has(y.Node, "flow"):
			b.At(at(y.Node, "flow"), "keep one of them", "%s: flow and curve are both given", part)
		case curved:
			fan.Curve = b.curve(y, part)
		default:
			fan.Flow = b.figure(y.Node, part, "flow", y.Flow, flow, 0, 50)
		}
		s := Switch{Name: y.Name, Kind: FanSwitch, Rest: "off", Turned: "on", fan: len(h.Network.Fans), tried: y.Kind != procedure.CoolingFan}
		h.Network.Fans = append(h.Network.Fans, fan)
		b.fanAt = append(b.fanAt, y.Node)
		if y.Off != nil {
			s.atRest = []int{b.link(y.Node, airflow.Link{Name: y.Name, From: from, To: to, Height: fan.Height, Cp: fan.Cp, Law: b.law(y.Node, part, "off", y.Off)})}
		}
		h.Fans = append(h.Fans, Fan{y.Name, y.Kind})
		h.switches = append(h.switches, s)
	}
	for i := range f.AirHandlers {
		y := &f.AirHandlers[i]
		part := b.name(y.Node, "air handler", y.Name)
		b.text(y.Node, part, "source", y.Source, sourceHint)
		a := airflow.AirHandler{Name: y.Name, Flow: b.figure(y.Node, part, "flow", y.Flow, flow, 0, 50),
			Supplies: b.shares(y.Node, part, "supplies", y.Supplies), Returns: b.shares(y.Node, part, "returns", y.Returns)}
		b.handlers[y.Name] = len(h.Network.AirHandlers)
		h.switches = append(h.switches, Switch{Name: y.Name, Kind: AirHandlerSwitch, Rest: "off", Turned: "on", handler: len(h.Network.AirHandlers), tried: true})
		h.Network.AirHandlers = append(h.Network.AirHandlers, a)
		b.handlerAt = append(b.handlerAt, y.Node)
		h.AirHandlers = append(h.AirHandlers, y.Name)
	}
	for i := range f.DuctLeaks {
		y := &f.DuctLeaks[i]
		part := b.name(y.Node, "duct leak", y.Name)
		from, to := b.ends(y.Node, part, y.From, y.To)
		b.text(y.Node, part, "source", y.Source, sourceHint)
		handler, ok := b.handlers[y.AirHandler]
		if !ok {
			b.At(at(y.Node, "air_handler"), "name one of the air_handlers", "%s: no air handler is called %q", part, y.AirHandler)
		}
		law := b.law(y.Node, part, "law", y.Law)
		drive := b.figure(y.Node, part, "drive", y.Drive, pressure, -1e4, 1e4)
		if law.Kind != airflow.KindPowerLaw && y.Law != nil && law.Kind != airflow.KindUnset {
			b.At(y.Law.Node, "give c and n, or flow50 and n", "%s: a duct leak follows a power law", part)
		}
		b.link(y.Node, airflow.Link{Name: y.Name, From: from, To: to, Height: b.figure(y.Node, part, "height", y.Height, length, -high, high),
			Law: airflow.DuctLeak(law.Coefficient, law.Exponent, handler, drive)})
	}
}

func (b *builder) curve(y *fanYAML, part string) []airflow.CurvePoint {
	var points []airflow.CurvePoint
	if len(y.Curve) < 2 {
		b.At(at(y.Node, "curve"), "give two points or more", "%s: a curve of %d points", part, len(y.Curve))
	}
	for i, p := range y.Curve {
		q := airflow.CurvePoint{Head: b.figure(p.Node, part, "head", p.Head, pressure, -1e4, 1e4), Flow: b.figure(p.Node, part, "flow", p.Flow, flow, 0, 50)}
		if i > 0 && len(b.List) == 0 && !(q.Head > points[i-1].Head && q.Flow <= points[i-1].Flow) {
			b.At(p.Node, "let heads ascend and flows not rise", "%s: point %d of the curve does not follow from the one before", part, i+1)
		}
		points = append(points, q)
	}
	return points
}

func (b *builder) shares(n *yaml.Node, part, key string, list []shareYAML) []airflow.Share {
	var out []airflow.Share
	total := 0.0
	for _, s := range list {
		f := b.plain(s.Node, part+": "+key, "fraction", s.Fraction, 0, 1)
		total += f
		out = append(out, airflow.Share{Node: b.place(s.Node, part+": "+key, "zone", s.Zone), Fraction: f})
	}
	if math.Abs(total-1) > 1e-9 {
		b.At(at(n, key), "give fractions that add up to 1", "%s: the fractions of %s add up to %s", part, key, reading.Format(total, 4))
	}
	return out
}

func (b *builder) chimneys(f *fileYAML) {
	h := b.h
	for i := range f.Vents {
		y := &f.Vents[i]
		part := b.name(y.Node, "vent", y.Name)
		from, to := b.ends(y.Node, part, y.From, y.To)
		b.text(y.Node, part, "source", y.Source, sourceHint)
		if from == airflow.Outside {
			b.At(at(y.Node, "from"), "from: the zone or junction that the gas comes from", "%s: a vent does not begin outdoors", part)
		}
		if to != airflow.Outside && int(to) < len(h.Zones) {
			b.At(at(y.Node, "to"), "to: outdoors, or the junction where vents meet", "%s: a vent does not end in a zone", part)
		}
		cross := 0.0
		switch {
		case has(y.Node, "area") && has(y.Node, "diameter"):
			b.At(at(y.Node, "area"), "keep one of them", "%s: area and diameter are both given", part)
		case has(y.Node, "area"):
			cross = b.figure(y.Node, part, "area", y.Area, area, 0, 10)
		default:
			d := b.figure(y.Node, part, "diameter", y.Diameter, length, 0, 3)
			cross = math.Pi / 4 * d * d
		}
		inlet, top := b.figure(y.Node, part, "height", y.Height, length, -high, high), b.figure(y.Node, part, "top", y.Top, length, -high, high)
		if top < inlet {
			b.At(at(y.Node, "top"), "give the height of the outlet, from the same level as all heights", "%s: the top is below the inlet", part)
		}
		v := Vent{Name: y.Name, Standing: b.figure(y.Node, part, "standing", y.Standing, temperature, 200, 2000), Fired: b.figure(y.Node, part, "fired", y.Fired, temperature, 200, 2000)}
		in, out := b.plain(y.Node, part, "loss_in", y.LossIn, 0, 1e4), b.plain(y.Node, part, "loss_out", y.LossOut, 0, 1e4)
		if y.LossIn != nil && y.LossOut != nil && in+out == 0 {
			b.At(at(y.Node, "loss_in"), "give velocity heads: a plain exit alone loses 1", "%s: a vent without any loss", part)
		}
		cp := b.cp(y.Node, part, y.Cp, to == airflow.Outside)
		v.Link = b.link(y.Node, airflow.Link{Name: y.Name, From: from, To: to, Height: inlet, Cp: cp, Law: airflow.Vent(cross, top, v.Standing, in, out)})
		b.vents[y.Name] = len(h.Vents)
		h.Vents = append(h.Vents, v)
	}
}

// things reads the inventory and what there is to see.
func (b *builder) things(f *fileYAML) {
	h := b.h
	for i := range f.Appliances {
		y := &f.Appliances[i]
		part := b.name(y.Node, "appliance", y.Name)
		oneOf(b, y.Node, part, "kind", y.Kind, procedure.ApplianceKinds)
		zone, ok := b.nodes[y.Zone]
		if !ok || zone == airflow.Outside || int(zone) >= len(h.Zones) {
			b.At(at(y.Node, "zone"), "name one of the zones", "%s: zone: no zone is called %q", part, y.Zone)
		}
		oneOf(b, y.Node, part, "fuel", y.Fuel, append(slices.Clone(procedure.Fuels), procedure.Wood, procedure.Pellets))
		oneOf(b, y.Node, part, "vent_type", y.VentType, procedure.VentTypes)
		if has(y.Node, "category") {
			oneOf(b, y.Node, part, "category", y.Category, procedure.Categories)
		}
		a := Appliance{Appliance: procedure.Appliance{ID: y.Name, Name: strings.ReplaceAll(y.Name, "-", " "), Kind: y.Kind, Zone: y.Zone, Listed: true,
			Burner: procedure.Burner{Fuel: y.Fuel}, Vent: procedure.Vent{Type: y.VentType, Category: y.Category}}}
		if has(y.Node, "input") {
			a.Burner.Input, a.Burner.Unit = b.figure(y.Node, part, "input", y.Input, heat, 1, 1e6), string(heat.keep)
		}
		if y.Facts != nil {
			a.Facts = procedure.VentFacts(*y.Facts)
			facts := at(y.Node, "facts")
			for k := 0; k+1 < len(facts.Content); k += 2 {
				key := facts.Content[k].Value
				oneOf(b, facts, part+": facts", key, procedure.Tri(facts.Content[k+1].Value), yesNo)
			}
		}
		for _, p := range y.Flue {
			a.Flue = append(a.Flue, Flue{reading.Concentration(b.figure(p.Node, part+": flue", "co", p.CO, concentration, 0, 50000)),
				reading.Percent(b.figure(p.Node, part+": flue", "o2", p.O2, percent, 0, 20.8))})
		}
		if has(y.Node, "last_fired") {
			a.LastFired = b.figure(y.Node, part, "last_fired", y.LastFired, duration, 0, 1e5)
		}
		if has(y.Node, "warm_up") {
			a.WarmUp = b.figure(y.Node, part, "warm_up", y.WarmUp, duration, 0.05, 120)
		}
		if has(y.Node, "breech") {
			a.Breech = b.figure(y.Node, part, "breech", y.Breech, pressure, -200, 0)
		}
		if has(y.Node, "vent") {
			if v, ok := b.vents[y.Vent]; ok {
				a.Vents = b.path(v)
				h.switches = append(h.switches, Switch{Name: y.Name, Kind: ApplianceSwitch, Rest: "off", Turned: "fired", vents: a.Vents})
				for _, v := range a.Vents {
					h.Vents[v].Appliances = append(h.Vents[v].Appliances, y.Name)
				}
			} else {
				b.At(at(y.Node, "vent"), "name one of the vents", "%s: no vent is called %q", part, y.Vent)
			}
		}
		if a.Opens() { // it burns into the room, so it can be lit though nothing vents it
			h.switches = append(h.switches, Switch{Name: y.Name, Kind: ApplianceSwitch, Rest: "off", Turned: "fired"})
		}
		if a.Kind == procedure.Fireplace && ok && h.StandIn() == 0 {
			b.handyFan(zone, y.Node)
		}
		h.Appliances = append(h.Appliances, a)
	}
	for i, y := range f.Look {
		part := fmt.Sprintf("look %d", i+1)
		known := y.Subject == "house" || slices.ContainsFunc(h.Appliances, func(a Appliance) bool { return a.ID == y.Subject })
		if !known {
			b.At(at(y.Node, "subject"), "house, or the name of an appliance", "%s: nothing is called %q", part, y.Subject)
		}
		oneOf(b, y.Node, part, "code", y.Code, lookCodes)
		b.text(y.Node, part, "shows", y.Shows, "add shows: what a person sees, in a sentence")
		h.Looks = append(h.Looks, Look{y.Subject, y.Code, y.Shows, y.ShowsES})
	}
}

// StandInFlow of the fan that stands in for a lit fireplace, m3/s: that of the
// one shipped scheme which asks for it (CAN/CGSB-51.71, withdrawn, from memory).
const StandInFlow = 0.075

const standInFan = "stand-in-fan"

// handyFan is the fan that a tester brings along, blowing from the fireplace's
// room to the outdoors.
func (b *builder) handyFan(zone airflow.Node, n *yaml.Node) {
	h := b.h
	for _, s := range h.switches {
		if s.Name == standInFan {
			b.At(n, "give it another name", "%q is what the fan is called that stands in for a fireplace", standInFan)
			return
		}
	}
	h.switches = append(h.switches, Switch{Name: standInFan, Kind: StandInSwitch, Rest: "off", Turned: "on", fan: len(h.Network.Fans)})
	h.Network.Fans = append(h.Network.Fans, airflow.Fan{Name: standInFan, From: zone, To: airflow.Outside, Flow: StandInFlow})
	b.fanAt = append(b.fanAt, n)
}

// path is a vent and what it leads into, down to the outdoors.
func (b *builder) path(v int) []int {
	out := []int{v}
	for {
		to := b.h.Network.Links[b.h.Vents[out[len(out)-1]].Link].To
		next := slices.IndexFunc(b.h.Vents, func(w Vent) bool { return to != airflow.Outside && b.h.Network.Links[w.Link].From == to })
		if next < 0 || slices.Contains(out, next) {
			return out
		}
		out = append(out, next)
	}
}

// whole checks what no part alone can show: that a vent serves each appliance
// that needs one, that facts agree with vents, and that air can reach every
// zone whatever is shut.
func (b *builder) whole(f *fileYAML) {
	h := b.h
	if len(h.switches) > maxSwitches {
		b.At(f.Node, "leave out what does not matter", "house: %d things that a state turns, more than %d", len(h.switches), maxSwitches)
		return
	}
	for i := range h.Appliances {
		a, n := &h.Appliances[i], f.Appliances[i].Node
		part := fmt.Sprintf("appliance %q", a.ID)
		if a.Susceptible() == procedure.Yes {
			if len(a.Vents) == 0 {
				b.At(n, "add vent: the vent that it fires into", "%s: house pressure can make it spill, and it has no vent", part)
			}
			if !h.Zones[b.nodes[a.Zone]].CAZ {
				b.At(at(n, "zone"), "mark the zone with caz: true", "%s: its zone %q is no combustion appliance zone", part, a.Zone)
			}
		}
		if a.Opens() && (a.Burner.Input == 0 || len(a.Flue) == 0) {
			b.At(n, "add input: and flue: with the CO and O2 of its flue gas", "%s: it burns into the room, and nothing says what", part)
		}
		if len(a.Vents) > 0 {
			if from := h.Network.Links[h.Vents[a.Vents[0]].Link].From; from != b.nodes[a.Zone] {
				b.At(at(n, "vent"), "let the vent begin in the zone where the appliance stands", "%s: its vent does not begin in %q", part, a.Zone)
			}
			for k := range h.Appliances {
				other := &h.Appliances[k]
				if k != i && slices.ContainsFunc(other.Vents, func(v int) bool { return slices.Contains(a.Vents, v) }) {
					a.Partners = append(a.Partners, other.ID)
				}
			}
			shares := procedure.No
			if len(a.Partners) > 0 {
				shares = procedure.Yes
			}
			if a.Facts.Shares != procedure.Unknown && a.Facts.Shares != shares {
				b.At(at(n, "facts"), "shares: "+string(shares)+", or another vent", "%s: its facts and its vent disagree on a shared vent", part)
			}
			a.Facts.Shares = shares
		}
	}
	if l := f.Lesson; l != nil {
		b.expected(l.Expected)
	}
	if has(f.Node, "arrival") {
		b.text(f.Node, "house", "arrival", f.Arrival, "name what is not at rest, as in dryer=on,basement-window=open, or remove the key")
		set, err := h.ParseSetting(f.Arrival)
		if err == nil && set&h.all(ApplianceSwitch) != 0 {
			err = &SettingError{"a burner that burns on arrival is not simulated", "leave burners off; last_fired says when they ran"}
		}
		var bad *SettingError
		if errors.As(err, &bad) {
			b.At(at(f.Node, "arrival"), bad.hint, "arrival: %s", bad.Text)
		}
		h.Arrival = set
	}
	if len(b.List) > 0 {
		return
	}
	m, err := h.Compile()
	if err == nil {
		// Everything shut that can be shut: what is tied to the outdoors now is so
		// in each state, because each opening of a door is tried on its own.
		var sol airflow.Solution
		for _, set := range []Setting{h.all(DoorSwitch), 0, h.Arrival} {
			if err = m.Solve(set, &sol); err != nil {
				break
			}
		}
	}
	if err != nil {
		b.fault(f.Node, err)
	}
}

func (b *builder) expected(e *expectedYAML) {
	oneOf(b, e.Node, "expected", "decision", e.Decision, procedure.Decisions)
	zone := slices.IndexFunc(b.h.Zones, func(z Zone) bool { return z.CAZ && z.Name == e.Zone })
	if zone < 0 {
		b.At(at(e.Node, "zone"), "name a zone with caz: true", "expected: zone: no combustion appliance zone is called %q", e.Zone)
	}
	lo, hi := b.figure(e.Node, "expected", "net_lowest", e.Lowest, pressure, -200, 200), b.figure(e.Node, "expected", "net_highest", e.Highest, pressure, -200, 200)
	if lo > hi {
		b.At(at(e.Node, "net_lowest"), "the lowest net is the more negative one", "expected: net_lowest is above net_highest")
	}
	for i, s := range e.Findings {
		if !nameForm().MatchString(s) {
			b.At(at(e.Node, "findings"), "name rules such as depressurization or spillage", "expected: findings[%d]: %q is no rule", i+1, s)
		}
	}
	b.h.Lesson.Expected = Expected{e.Decision, e.Zone, lo, hi, e.Findings}
}

// fault puts an error of the network where it stands in the file.
func (b *builder) fault(top *yaml.Node, err error) {
	pick := func(list []*yaml.Node, i int) *yaml.Node {
		if i >= 0 && i < len(list) {
			return list[i]
		}
		return top
	}
	var input *airflow.InputError
	var loose *airflow.LooseZonesError
	var impossible *ImpossibleError
	switch {
	case errors.As(err, &input):
		node := top
		switch input.Part {
		case "zone":
			node = pick(b.zoneAt, input.Index)
		case "link":
			node = pick(b.linkAt, input.Index)
		case "fan":
			node = pick(b.fanAt, input.Index)
		case "air handler":
			node = pick(b.handlerAt, input.Index)
		}
		b.At(node, "give "+input.Want, "%s %q: %s %s is refused", input.Part, input.Name, input.Field, reading.Format(input.Value, -1))
	case errors.As(err, &loose):
		b.At(pick(b.zoneAt, loose.Zones[0]), "give each a leak that stays when doors and windows are shut", "tied to nothing with all doors shut: %s", strings.Join(loose.Names, ", "))
	case errors.As(err, &impossible):
		at := slices.IndexFunc(b.h.Network.Zones, func(z airflow.Zone) bool { return z.Name == impossible.Zone })
		b.At(pick(b.zoneAt, at), "look for an opening or a fan of unlikely size, or a far too warm column", "%v", err)
	default:
		b.At(top, "look for an opening or a fan of unlikely size", "the house has no balance: %v", err)
	}
}
