package practice

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"cazward/procedure"
)

// node is as much of a JSON Schema as the house file's uses.
type node struct {
	Ref        string           `json:"$ref"`
	Properties map[string]*node `json:"properties"`
	Required   []string         `json:"required"`
	Additional *bool            `json:"additionalProperties"`
	Items      *node            `json:"items"`
	OneOf      []*node          `json:"oneOf"`
	Enum       []string         `json:"enum"`
	Pattern    string           `json:"pattern"`
	MaxItems   *int             `json:"maxItems"`
	Defs       map[string]*node `json:"$defs"`
}

// The schema has exactly the keys that the reader has, nowhere lets others in,
// and lists the words and units that the program knows.
func TestSchemaMatchesReader(t *testing.T) {
	var root node
	if err := json.Unmarshal(HouseSchema(), &root); err != nil {
		t.Fatal(err)
	}
	defs := root.Defs
	follow := func(n *node) *node {
		for n != nil && n.Ref != "" {
			n = defs[strings.TrimPrefix(n.Ref, "#/$defs/")]
		}
		return n
	}
	visited := map[reflect.Type]bool{}
	var compare func(path string, typ reflect.Type, n *node)
	compare = func(path string, typ reflect.Type, n *node) {
		n = follow(n)
		if n == nil {
			t.Errorf("%s: nothing in the schema", path)
			return
		}
		for typ.Kind() == reflect.Pointer || typ.Kind() == reflect.Slice {
			if typ.Kind() == reflect.Slice {
				if n.Items == nil {
					t.Errorf("%s: a list in the reader only", path)
					return
				}
				n = follow(n.Items)
			}
			typ = typ.Elem()
		}
		if typ.Kind() != reflect.Struct {
			return
		}
		visited[typ] = true
		shapes := []*node{n}
		if n.Properties == nil { // a law: one of several shapes
			shapes = n.OneOf
		}
		have := map[string]*node{}
		for _, s := range shapes {
			if s.Additional == nil || *s.Additional {
				t.Errorf("%s: the schema lets unknown keys in", path)
			}
			for k, p := range s.Properties {
				have[k] = p
			}
		}
		if len(have) == 0 {
			t.Errorf("%s: the schema has no keys", path)
		}
		all := []string{}
		for i := range typ.NumField() {
			tag := typ.Field(i).Tag.Get("yaml")
			if tag == "-" {
				continue
			}
			all = append(all, tag)
			if have[tag] == nil {
				if path == "/duct_leaks/law" { // a power law only
					continue
				}
				t.Errorf("%s: key %q is not in the schema", path, tag)
				continue
			}
			compare(path+"/"+tag, typ.Field(i).Type, have[tag])
		}
		for k := range have {
			if !slices.Contains(all, k) {
				t.Errorf("%s: key %q is in the schema only", path, k)
			}
		}
	}
	compare("", reflect.TypeFor[fileYAML](), &root)
	if len(visited) < 20 {
		t.Errorf("only %d structs were compared", len(visited))
	}

	words := func(path string, want []string) {
		t.Helper()
		n := &root
		for _, k := range strings.Split(path, "/") {
			n = follow(n)
			if n.Items != nil {
				n = follow(n.Items)
			}
			n = n.Properties[k]
		}
		if n = follow(n); !slices.Equal(n.Enum, want) {
			t.Errorf("%s: schema %v, program %v", path, n.Enum, want)
		}
	}
	words("fans/kind", text(procedure.FanKinds))
	words("doors/kind", append(text(procedure.DoorKinds), cazDoor))
	words("windows/kind", windowKinds)
	words("appliances/kind", text(procedure.ApplianceKinds))
	words("appliances/fuel", append(text(procedure.Fuels), "wood", "pellets"))
	words("appliances/vent_type", text(procedure.VentTypes))
	words("appliances/category", text(procedure.Categories))
	words("lesson/level", text(Levels))
	words("lesson/expected/decision", text(procedure.Decisions))
	words("look/code", lookCodes)
	words("zones/louvred", text(yesNo))
	words("home", text(procedure.HomeKinds))
	for name, k := range map[string]kind{"length": length, "area": area, "volume": volume, "temperature": temperature, "flow": flow, "mass_flow": massFlow, "pressure": pressure,
		"speed": speed, "heat": heat, "concentration": concentration, "percent": percent, "duration": duration} {
		if want := " (" + strings.Join(k.units, "|") + ")$"; !strings.HasSuffix(defs[name].Pattern, want) {
			t.Errorf("%s: schema %s, reader %s", name, defs[name].Pattern, want)
		}
	}
	for key, want := range map[string]int{"zones": maxZones, "junctions": maxJoins, "links": maxItems, "fans": maxItems, "appliances": maxItems} {
		if got := root.Properties[key].MaxItems; got == nil || *got != want {
			t.Errorf("%s: the schema's length differs from the reader's %d", key, want)
		}
	}
}

func TestFigures(t *testing.T) {
	for _, c := range []struct {
		k    kind
		in   string
		want float64
	}{
		{length, "10 ft", 3.048}, {length, "30 in", 0.762}, {length, "12 cm", 0.12}, {length, "-2.5 m", -2.5},
		{area, "16 in2", 16 * 6.4516e-4}, {area, "2 ft2", 0.18580608}, {area, "5 cm2", 5e-4},
		{volume, "100 ft3", 2.8316846592}, {temperature, "32 F", 273.15}, {temperature, "20 C", 293.15},
		{flow, "100 cfm", 0.04719474432}, {flow, "50 L/s", 0.05}, {flow, "36 m3/h", 0.01}, {massFlow, "0.25 kg/s", 0.25},
		{pressure, "0.02 inH2O", 4.9817782}, {pressure, "30 inHg", 101591.657}, {speed, "10 mph", 4.4704}, {speed, "18 km/h", 5},
		{heat, "1 kW", 3412.141633}, {concentration, "12 ppm", 12}, {percent, "6.5 %", 6.5}, {duration, "90 s", 1.5},
	} {
		got, _, err := c.k.parse(c.in)
		if err != nil || fmt.Sprintf("%.8g", got) != fmt.Sprintf("%.8g", c.want) {
			t.Errorf("%s: %v, %v, want %v", c.in, got, err, c.want)
		}
		// A figure in a unit is that figure again when turned back.
		number, unit, _ := strings.Cut(c.in, " ")
		if back := c.k.inUnit(got, unit); fmt.Sprintf("%.6g", back) != fmt.Sprintf("%.6g", mustFloat(number)) {
			t.Errorf("%s: back %v", c.in, back)
		}
	}
	for _, in := range []string{"", "10", "10ft", "10  ft", " 10 ft", "10 ft ", "1e3 ft", "1,5 m", "ft 10", "0x1 m", "010 ft", "10 Ft", "NaN m", "9999999999 m", "10\tft", "−3 m"} {
		if v, hint, err := length.parse(in); err == nil || hint == "" || v != 0 {
			t.Errorf("%q is read as %v", in, v)
		}
	}
}

func mustFloat(s string) (v float64) {
	if _, err := fmt.Sscan(s, &v); err != nil {
		panic(err)
	}
	return v
}
