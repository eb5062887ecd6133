package practice_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"cazward/limits/strict"
	"cazward/procedure/practice"
)

// sound has every section of a house file; each test below spoils one place.
const sound = `kind: house
format: 1
name: sound
title: a sound house
invented: true
lesson:
  aim: To be read.
  level: hard
  expected:
    decision: hold
    zone: caz
    net_lowest: -30 Pa
    net_highest: -1 Pa
    findings: [depressurization]
  trainer_note: Nothing to note.
outdoors:
  temperature: 40 F
  altitude: 1000 ft
  wind: 5 mph
  gust: 1 mph
ambient:
  co: 2 ppm
  lel: 0 %
sealing: 25 %
zones:
  - {name: caz, floor: 0 ft, temperature: 68 F, volume: 300 ft3, caz: true, louvred: no}
  - {name: rest, floor: 0 ft, temperature: 70 F, volume: 9000 ft3, caz: false}
junctions:
  - {name: base, height: 7 ft, temperature: 120 F}
links:
  - {name: leak, from: caz, to: outdoors, height: 1 ft, cp: 0.3, law: {flow50: 100 cfm, n: 0.65}, source: own figure}
  - {name: other, from: rest, to: outdoors, height: 2 m, law: {area: 30 in2, discharge: 1, reference: 4 Pa, n: 0.65}, source: own figure}
  - {name: grille, from: caz, to: rest, height: 2 m, law: {area: 4 in2, discharge: 0.6}, source: own figure}
duct_leaks:
  - {name: duct, from: caz, to: rest, height: 3 ft, air_handler: blower, drive: 20 Pa, law: {c: 5 cfm, n: 0.6}, source: own figure}
doors:
  - {name: door, kind: caz, from: rest, to: caz, height: 0 ft, open: {width: 30 in, height: 80 in, discharge: 0.65}, closed: {area: 16 in2, discharge: 0.61}, source: own figure}
windows:
  - {name: window, kind: window, from: rest, to: outdoors, height: 4 ft, open: {area: 1 ft2, discharge: 0.6}, source: own figure}
fans:
  - {name: hood, kind: range-hood, from: rest, to: outdoors, height: 8 ft, curve: [{head: 0 Pa, flow: 250 cfm}, {head: 80 Pa, flow: 0 cfm}], source: own figure}
  - {name: dryer, kind: dryer, from: caz, to: outdoors, flow: 100 cfm, source: own figure}
air_handlers:
  - {name: blower, flow: 800 cfm, supplies: [{zone: rest, fraction: 1}], returns: [{zone: rest, fraction: 0.95}, {zone: caz, fraction: 0.05}], source: own figure}
vents:
  - {name: connector, from: caz, to: base, height: 6 ft, top: 7 ft, diameter: 4 in, standing: 80 F, fired: 300 F, loss_in: 2, loss_out: 1, source: own figure}
  - {name: chimney, from: base, to: outdoors, height: 7 ft, top: 25 ft, cp: -0.3, area: 28 in2, standing: 80 F, fired: 200 F, loss_in: 0, loss_out: 3, source: own figure}
appliances:
  - {name: heater, kind: water-heater, zone: caz, fuel: gas, input: 40000 Btu/h, vent_type: natural, category: I, vent: connector, facts: {draft_hood: yes, shares: no}, flue: [{co: 12 ppm, o2: 6 %}], last_fired: 60 min, warm_up: 90 s}
look:
  - {subject: heater, code: rust, shows: Rust streaks below the draft hood.}
`

func TestSound(t *testing.T) {
	h := read(t, sound)
	if err := validate(schemaOf(t), []byte(sound)); err != nil {
		t.Fatal(err)
	}
	a := h.Appliances[0]
	if a.Susceptible() != "yes" || len(a.Vents) != 2 || a.Facts.Shares != "no" || a.WarmUp != 1.5 || a.LastFired != 60 || a.Burner.Input != 40000 || a.Flue[0].CO != 12 {
		t.Errorf("%+v", a)
	}
	if h.Lesson.Expected.Lowest != -30 || h.Lesson.Trainer == "" || h.Looks[0].Code != "rust" || h.Ambient != 2 || h.Sealing != 0.25 || h.Zones[0].Louvred != "no" || len(h.SHA256) != 64 {
		t.Errorf("%+v", h)
	}
	if got := h.Vents[1].Appliances; len(got) != 1 || got[0] != "heater" {
		t.Errorf("the chimney carries %v", got)
	}
}

// schema says whether the JSON Schema can see the fault too: keys, units,
// words and ranges it can, names that must fit one another it cannot.
func TestHouseRefuses(t *testing.T) {
	s := schemaOf(t)
	for _, c := range []struct {
		name, old, new string
		schema         bool
		at             string // what stands at the line and column told
		text, hint     string
	}{
		{"kind", "kind: house", "kind: scheme", true, "scheme", `kind is "scheme"`, "kind: house"},
		{"format", "format: 1", "format: 2", true, "2", "format is 2", "format: 1; a later format needs a newer program"},
		{"name", "name: sound", "name: Sound House", true, "Sound House", `house: the name "Sound House" cannot be used`, "add name: small letters, digits and hyphens, a letter first"},
		{"not invented", "invented: true", "invented: false", true, "false", "house: only invented houses are read", "write invented: true, and never describe a real home here"},
		{"unknown key", "title: a", "colour: red\ntitle: a", true, "colour", `unknown key "colour"`, "known keys here: kind, format, name, title, invented, lesson, outdoors, ambient, sealing, home, arrival, zones, junctions, links, duct_leaks, doors, windows, fans, air_handlers, vents, appliances, look"},
		{"unknown key deep", "cp: 0.3", "Cp: 0.3", true, "Cp: 0.3", `unknown key "links[1].Cp"`, "known keys here: name, from, to, height, cp, law, source"},
		{"null", "title: a sound house", "title:", true, "", "title: no value", "give a value or delete the key"},
		{"level", "level: hard", "level: cruel", true, "cruel", `lesson: level "cruel" is not known`, "one of easy, medium, hard"},
		{"decision", "decision: hold", "decision: pass", true, "pass", `expected: decision "pass" is not known`, "one of leave, hold, incomplete, refer, proceed"},
		{"expected zone", "    zone: caz", "    zone: rest", false, "rest", `expected: zone: no combustion appliance zone is called "rest"`, "name a zone with caz: true"},
		{"expected band", "net_lowest: -30 Pa", "net_lowest: 0 Pa", false, "0 Pa", "expected: net_lowest is above net_highest", "the lowest net is the more negative one"},
		{"no trainer note", "  trainer_note: Nothing to note.\n", "", true, "aim: To be read.", "lesson: trainer_note missing", "add trainer_note: what the trainee is not told"},
		{"no unit", "temperature: 40 F", "temperature: 40", true, "40", `outdoors: temperature: "40" is not a temperature with its unit`, "write a plain number, one space and a unit: F, C, K"},
		{"NaN", "temperature: 40 F", "temperature: .nan F", true, ".nan F", `outdoors: temperature: ".nan F" is not a temperature with its unit`, "write a plain number, one space and a unit: F, C, K"},
		{"bare NaN", "cp: 0.3", "cp: .nan", true, ".nan,", `links[1].cp: ".nan" is not a plain number`, "write a plain decimal such as -5 or 0.25"},
		{"sealing all", "sealing: 25 %", "sealing: 100 %", false, "100 %", "house: sealing: 100 % is outside what a house can have", "give 0 to 95 %"},
		{"wrong unit", "altitude: 1000 ft", "altitude: 1000 yd", true, "1000 yd", `outdoors: altitude: "1000 yd": the unit of a length cannot be "yd"`, "write a plain number, one space and a unit: ft, in, m, cm"},
		{"comma", "altitude: 1000 ft", "altitude: 1,000 ft", true, "1,000 ft", `outdoors: altitude: "1,000 ft" is not a length with its unit`, "write a plain number, one space and a unit: ft, in, m, cm"},
		{"altitude and pressure", "  altitude: 1000 ft", "  pressure: 29 inHg\n  altitude: 1000 ft", true, "29 inHg", "outdoors: altitude and pressure are both given", "keep one of them"},
		{"weather of another world", "40 F", "400 F", false, "400 F", "outdoors: temperature: 400 F is outside what a house can have", "give -99.67 to 152 F"},
		{"zones", "zones:\n", "zones: []\nroomz:\n", true, "roomz:", `unknown key "roomz"`, "known keys here: kind, format, name, title, invented, lesson, outdoors, ambient, sealing, home, arrival, zones, junctions, links, duct_leaks, doors, windows, fans, air_handlers, vents, appliances, look"},
		{"no caz", "caz: true", "caz: false", true, "- {name: caz,", "house: no zone is a combustion appliance zone", "mark one with caz: true"},
		{"zone outdoors", "name: rest, floor", "name: outdoors, floor", true, "outdoors, floor", `zone "outdoors": that name is kept for the whole`, "choose another name"},
		{"name twice", "name: leak", "name: caz", false, "caz, from: caz", `link "caz": that name has a zone already`, "give each thing of the house a name of its own"},
		{"place unknown", "from: caz, to: outdoors, height: 1 ft", "from: cellar, to: outdoors, height: 1 ft", false, "cellar", `link "leak": from: no zone or junction is called "cellar"`, "known: base, caz, outdoors, rest"},
		{"to itself", "name: grille, from: caz, to: rest", "name: grille, from: caz, to: caz", false, "caz, height: 2 m", `link "grille": both ends are "caz"`, "air goes from one place to another"},
		{"cp inside", "name: grille, ", "name: grille, cp: 0.1, ", false, "0.1,", `link "grille": cp between two zones`, "remove cp: wind acts outdoors only"},
		{"negative area", "area: 4 in2", "area: -4 in2", true, "-4 in2", `link "grille": law: area: -4 in2 is outside what a house can have`, "give 0 to 155000 in2"},
		{"exponent", "flow50: 100 cfm, n: 0.65", "flow50: 100 cfm, n: 0.25", true, "0.25}", `link "leak": law: n: 0.25 is outside what a house can have`, "give 0.3 to 1"},
		{"exponent missing", "flow50: 100 cfm, n: 0.65", "flow50: 100 cfm", true, "{flow50: 100 cfm}", `link "leak": law: n missing`, "add n: a number, 0.3 to 1"},
		{"two laws", "flow50: 100 cfm, n: 0.65", "flow50: 100 cfm, c: 4 cfm, n: 0.65", true, "{flow50: 100 cfm, c", `link "leak": law: c, flow50 do not go together`, "give one of: c and n; mass_c and n; flow50 and n; area and discharge (an orifice); area, discharge, reference and n (a leakage area); width, height and discharge (a doorway)"},
		{"no law", "{flow50: 100 cfm, n: 0.65}", "{n: 0.65}", true, "{n: 0.65}", `link "leak": law: no flow law`, "give one of: c and n; mass_c and n; flow50 and n; area and discharge (an orifice); area, discharge, reference and n (a leakage area); width, height and discharge (a doorway)"},
		{"foreign key in a law", "flow50: 100 cfm, n: 0.65", "flow50: 100 cfm, n: 0.65, discharge: 1", true, "discharge: 1}", `link "leak": law: discharge does not go with flow50`, "keys here: flow50, n"},
		{"no source", ", source: own figure}\nduct_leaks", "}\nduct_leaks", true, "{name: grille", `link "grille": source missing`, `add source: where the figure is from, or "own figure"`},
		{"duct of nothing", "air_handler: blower", "air_handler: fan", false, "fan, drive", `duct leak "duct": no air handler is called "fan"`, "name one of the air_handlers"},
		{"duct law", "law: {c: 5 cfm, n: 0.6}", "law: {area: 5 in2, discharge: 0.6}", true, "{area: 5 in2", `duct leak "duct": a duct leak follows a power law`, "give c and n, or flow50 and n"},
		{"door kind", "kind: caz, from", "kind: trap, from", true, "trap", `door "door": kind "trap" is not known`, "one of bedroom, bath, laundry, kitchen, office, stair, other, caz"},
		{"door out", "from: rest, to: caz, height: 0", "from: rest, to: outdoors, height: 0", false, "{name: door", `door "door": a door to the outdoors stays shut in the test`, "list it under windows, kind: outside-door"},
		{"window in", "kind: window, from: rest, to: outdoors", "kind: window, from: rest, to: caz", false, "{name: window", `window "window": a window leads from a zone to the outdoors`, "from: a zone, to: outdoors"},
		{"fan twice", "curve: [{head: 0 Pa", "flow: 9 cfm, curve: [{head: 0 Pa", true, "9 cfm", `fan "hood": flow and curve are both given`, "keep one of them"},
		{"fan of nothing", "flow: 100 cfm, source", "source", true, "{name: dryer", `fan "dryer": flow missing`, "add flow: a number, one space and a unit: cfm, L/s, m3/h, m3/s"},
		{"curve rises", "{head: 80 Pa, flow: 0 cfm}", "{head: 80 Pa, flow: 400 cfm}", false, "{head: 80 Pa", `fan "hood": point 2 of the curve does not follow from the one before`, "let heads ascend and flows not rise"},
		{"shares", "fraction: 0.95", "fraction: 0.9", false, "[{zone: rest, fraction: 0.9}", `air handler "blower": the fractions of returns add up to 0.9500`, "give fractions that add up to 1"},
		{"vent upside down", "top: 7 ft", "top: 5 ft", false, "5 ft", `vent "connector": the top is below the inlet`, "give the height of the outlet, from the same level as all heights"},
		{"vent into a zone", "from: caz, to: base", "from: caz, to: rest", false, "rest, height: 6", `vent "connector": a vent does not end in a zone`, "to: outdoors, or the junction where vents meet"},
		{"vent without loss", "loss_in: 0, loss_out: 3", "loss_in: 0, loss_out: 0", false, "0, loss_out", `vent "chimney": a vent without any loss`, "give velocity heads: a plain exit alone loses 1"},
		{"appliance", "kind: water-heater", "kind: kettle", true, "kettle", `appliance "heater": kind "kettle" is not known`, "one of furnace, boiler, water-heater, indirect-tank, room-heater, floor-heater, wall-heater, range, oven, gas-dryer, gas-log, fireplace, wood-stove, pellet-stove, unvented-heater"},
		{"vent of nothing", "vent: connector", "vent: pipe", false, "pipe", `appliance "heater": no vent is called "pipe"`, "name one of the vents"},
		{"needs a vent", "vent: connector, ", "", false, "{name: heater", `appliance "heater": house pressure can make it spill, and it has no vent`, "add vent: the vent that it fires into"},
		{"vent elsewhere", "zone: caz, fuel", "zone: rest, fuel", false, "rest, fuel", `appliance "heater": its zone "rest" is no combustion appliance zone`, "mark the zone with caz: true"},
		{"facts", "draft_hood: yes", "draft_hood: maybe", true, "maybe", `appliance "heater": facts: draft_hood "maybe" is not known`, "one of yes, no"},
		{"shares alone", "shares: no", "shares: yes", false, "{draft_hood", `appliance "heater": its facts and its vent disagree on a shared vent`, "shares: no, or another vent"},
		{"look", "code: rust", "code: ghost", true, "ghost", `look 1: code "ghost" is not known`, "one of vent-connected, draft-hood, combustion-air, rollout-marks, soot, rust, clearances, connector, chimney, co-alarm, piping, fuel"},
		{"look at nothing", "subject: heater", "subject: attic", false, "attic", `look 1: nothing is called "attic"`, "house, or the name of an appliance"},
		{"loose zone", "area: 30 in2, discharge: 1", "area: 0 in2, discharge: 1", false, "", "", ""}, // tied through the grille: still sound
	} {
		t.Run(c.name, func(t *testing.T) {
			if !strings.Contains(sound, c.old) {
				t.Fatalf("%q is not in the sound file", c.old)
			}
			data := []byte(strings.Replace(sound, c.old, c.new, 1))
			_, err := practice.ReadHouse("h.yaml", data)
			if c.text == "" {
				if err != nil {
					t.Fatal(err)
				}
				return
			}
			var p *strict.Problems
			if !errors.As(err, &p) {
				t.Fatalf("not refused: %v", err)
			}
			got := p.List[0]
			stands := strings.Split(string(data), "\n")[got.Line-1][got.Column-1:]
			if got.Text != c.text || got.Hint != c.hint || !strings.HasPrefix(stands, c.at) {
				t.Errorf("got  %v\n     %s\n     at %s\nwant %s\n     %s\n     at %s", got, got.Hint, stands, c.text, c.hint, c.at)
			}
			if p.ExitCode() != 7 {
				t.Errorf("exit %d", p.ExitCode())
			}
			if bad := validate(s, data) != nil; bad != c.schema {
				t.Errorf("schema refuses: %v, want %v", bad, c.schema)
			}
		})
	}
}

// A zone that only a door ties to the outdoors is refused where it stands:
// with the door shut nothing would fix its pressure.
func TestLooseZoneIsRefused(t *testing.T) {
	text := strings.Replace(sound, "junctions:", "  - {name: pantry, floor: 0 ft, temperature: 68 F, volume: 300 ft3, caz: false}\njunctions:", 1)
	alone := func(text string) string {
		_, err := practice.ReadHouse("h.yaml", []byte(text))
		return fmt.Sprint(err)
	}
	if got, want := alone(text), "h.yaml:28:5: tied to nothing with all doors shut: pantry"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	text = strings.Replace(text, "windows:", "  - {name: pantry-door, kind: other, from: rest, to: pantry, height: 0 ft, open: {width: 30 in, height: 80 in, discharge: 0.65}, closed: {area: 0 in2, discharge: 0.61}, source: own figure}\nwindows:", 1)
	if got, want := alone(text), "h.yaml:28:5: tied to nothing with all doors shut: pantry"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	text = strings.Replace(text, "closed: {area: 0 in2", "closed: {area: 9 in2", 1)
	if got := alone(text); got != "<nil>" {
		t.Error(got)
	}
}

func TestEveryProblemIsListed(t *testing.T) {
	text := strings.NewReplacer("40 F", "40", "area: 4 in2", "area: 4", "kind: dryer", "kind: drier").Replace(sound)
	_, err := practice.ReadHouse("h.yaml", []byte(text))
	var p *strict.Problems
	if !errors.As(err, &p) || len(p.List) != 3 {
		t.Fatalf("%v", err)
	}
}
