package limits

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"gopkg.in/yaml.v3"
)

// compiled is the shipped schema in a validator that knows nothing of this
// program.
func compiled(t *testing.T) *jsonschema.Schema {
	t.Helper()
	b, ok := Schema(1)
	if !ok {
		t.Fatal("no schema for format 1")
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(b)))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("urn:cazward:limits:1", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("urn:cazward:limits:1")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// asJSON is what an editor makes of a YAML file, false where it is none: the
// plain reading of the YAML library, without any rule of this package, dates
// as they are written.
func asJSON(data string) (any, bool) {
	var n yaml.Node
	dec := yaml.NewDecoder(strings.NewReader(data))
	if len(data) > MaxFile || strings.ContainsRune(data, 0) || dec.Decode(&n) != nil || len(n.Content) == 0 {
		return nil, false
	}
	var second yaml.Node
	if dec.Decode(&second) == nil {
		return nil, false
	}
	var conv func(n *yaml.Node) (any, bool)
	conv = func(n *yaml.Node) (any, bool) {
		switch n.Kind {
		case yaml.AliasNode:
			if n.Alias.Kind != yaml.ScalarNode {
				return []any{}, true // an endless one would not end
			}
			return conv(n.Alias)
		case yaml.SequenceNode:
			out := []any{}
			for _, c := range n.Content {
				v, ok := conv(c)
				if !ok {
					return nil, false
				}
				out = append(out, v)
			}
			return out, true
		case yaml.MappingNode:
			out := map[string]any{}
			for i := 0; i+1 < len(n.Content); i += 2 {
				k := n.Content[i].Value
				if _, dup := out[k]; dup {
					return nil, false
				}
				v, ok := conv(n.Content[i+1])
				if !ok {
					return nil, false
				}
				out[k] = v
			}
			return out, true
		}
		switch n.Tag {
		case "!!null":
			return nil, true
		case "!!bool":
			return n.Value == "true", true
		case "!!int", "!!float":
			var f float64
			if n.Decode(&f) != nil || math.IsNaN(f) || math.IsInf(f, 0) {
				return nil, false
			}
			return json.Number(strconv.FormatFloat(f, 'g', -1, 64)), true
		}
		return n.Value, true
	}
	return conv(n.Content[0])
}

// TestSchemaTakesGoodTables: every shipped scheme, every export as it is and
// with all its rows, and overlays that Check takes.
func TestSchemaTakesGoodTables(t *testing.T) {
	s := compiled(t)
	good := map[string]string{"overlay": goodRow, "with risk": "accept_risk: asked\n" + strings.Replace(goodRow, "value: 45", "value: 120", 1),
		"in minutes": strings.Replace(goodRow, "value: 45\n    unit: s", "value: 0.5\n    unit: min", 1), "edition is a number": strings.Replace(goodRow, "title: program rule", "title: program rule\n      edition: 2018", 1),
		"mark": "kind: overlay\nformat: 1\nscheme: graded-2005\nreason: held against the document\nchecked:\n  - id: dep-direct\n    by: AB\n    date: 2026-02-03\n    edition: v2/28/05\n"}
	for _, n := range Names() {
		b, err := Shipped(n)
		if err != nil {
			t.Fatal(err)
		}
		good[n] = string(b)
		x, err := Export(n)
		if err != nil {
			t.Fatal(err)
		}
		good["export of "+n] = string(x)
		good["export of "+n+", all rows"] = uncommented(string(x))
	}
	for name, data := range good {
		if p := Check(name, []byte(data)); len(p) > 0 {
			t.Errorf("%s: Check refuses it: %v", name, p)
		}
		v, ok := asJSON(data)
		if !ok {
			t.Fatalf("%s is no document", name)
		}
		if err := s.Validate(v); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestSchemaRefusesBadTables: every bad file fails the schema too, or its line
// names what the schema cannot express, and then the schema takes it.
func TestSchemaRefusesBadTables(t *testing.T) {
	s, refusedBoth := compiled(t), 0
	for _, c := range badFiles {
		v, ok := asJSON(c.data)
		switch {
		case !ok:
			if c.beyond == "" {
				t.Errorf("%s: no document, so that the schema is never asked; the table does not say so", c.name)
			}
		case s.Validate(v) != nil:
			refusedBoth++
			if c.beyond != "" {
				t.Errorf("%s: the schema refuses it, though the table says that it cannot: %s", c.name, c.beyond)
			}
		case c.beyond == "":
			t.Errorf("%s: the schema takes it, and the table names no rule that it cannot express", c.name)
		}
	}
	if refusedBoth < 40 {
		t.Errorf("the schema refuses %d of %d", refusedBoth, len(badFiles))
	}
}

// TestSchemaKnowsTheSame holds the lists of the schema to those of the loader.
func TestSchemaKnowsTheSame(t *testing.T) {
	var doc map[string]any
	if err := json.Unmarshal(schema1, &doc); err != nil {
		t.Fatal(err)
	}
	lists := map[string][]string{}
	var walk func(v any)
	walk = func(v any) {
		switch x := v.(type) {
		case map[string]any:
			if e, ok := x["enum"].([]any); ok {
				var l []string
				for _, s := range e {
					l = append(l, s.(string))
				}
				slices.Sort(l)
				lists[strings.Join(l, " ")] = l
			}
			for _, y := range x {
				walk(y)
			}
		case []any:
			for _, y := range x {
				walk(y)
			}
		}
	}
	walk(doc)
	var ids []string
	for id := range parameters {
		ids = append(ids, id)
	}
	want := map[string][]string{"kinds": kinds(), "vents": vents(), "fuels": fuels, "stages": stages(), "topics": topicNames, "codes": append(slices.Clone(codes), moreCodes...),
		"actions": acts, "subjects": subjectNames(), "abouts": abouts, "schemes": Names(), "parameters": ids}
	for k, w := range words {
		want["words of "+k] = w
	}
	for topic, k := range keys {
		want["keys of "+topic] = append(slices.Clone(everyRow), k...)
	}
	for kind, k := range heads {
		if kind != "floor" {
			want["head of "+kind] = k
		}
	}
	for name, l := range want {
		l = slices.Clone(l)
		slices.Sort(l)
		if _, ok := lists[strings.Join(l, " ")]; !ok {
			t.Errorf("the schema has no list of the %s that the loader takes: %v", name, l)
		}
	}
	if _, ok := Schema(2); ok {
		t.Error("a schema for a format that does not exist")
	}
}

// uncommented takes the # from every line that has one but no second: all rows
// of an export at once, and a reason.
func uncommented(data string) string {
	var out []string
	for _, l := range strings.Split(strings.Replace(data, exportReason, "all rows, none changed", 1), "\n") {
		if strings.HasPrefix(l, "#") && !strings.HasPrefix(l, "##") {
			l = l[1:]
		}
		out = append(out, l)
	}
	return strings.Join(out, "\n")
}
