package practice_test

import (
	"errors"
	"math"
	"testing"

	"gopkg.in/yaml.v3"

	"cazward/limits/strict"
	"cazward/procedure/airflow"
	"cazward/procedure/practice"
)

// FuzzReadHouse: any bytes are read or refused with a place and a hint; what is
// read fits the schema and has a balance, or says that it has none.
func FuzzReadHouse(f *testing.F) {
	for _, n := range practice.HouseNames() {
		data, _ := practice.HouseFile(n)
		f.Add(data)
	}
	f.Add([]byte(sound))
	f.Add([]byte(twoZones))
	s := schemaOf(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := practice.ReadHouse("fuzz.house.yaml", data)
		if err != nil {
			var p *strict.Problems
			if h != nil || !errors.As(err, &p) || len(p.List) == 0 {
				t.Fatalf("a refusal of its own kind: %v", err)
			}
			for _, x := range p.List {
				if x.Line < 1 || x.Column < 1 || x.Text == "" || x.Hint == "" {
					t.Errorf("no place or no hint: %+v", x)
				}
			}
			return
		}
		if plain(data) {
			if err := validate(s, data); err != nil {
				t.Errorf("the schema refuses what is read: %v", err)
			}
		}
		m, err := h.Compile()
		if err != nil {
			t.Fatalf("a house that was read does not compile: %v", err)
		}
		for _, set := range []practice.Setting{0, 1<<len(h.Switches()) - 1} {
			var sol airflow.Solution
			err := m.Solve(set, &sol)
			if (err == nil) != (sol.Status == airflow.Converged) {
				t.Fatalf("status %v with %v", sol.Status, err)
			}
			for _, p := range sol.Pressure {
				if math.IsNaN(p) || math.IsInf(p, 0) {
					t.Errorf("pressure %v", p)
				}
			}
			if text := h.FormatSetting(set); text != "" {
				if back, err := h.ParseSetting(text); err != nil || back != set {
					t.Errorf("state %q reads back as %b: %v", text, back, err)
				}
			}
		}
	})
}

// plain reports whether a file has no quoted, folded or tagged scalars: those may be a
// number to the reader and text to the schema, which is the stricter there.
func plain(data []byte) bool {
	var doc yaml.Node
	if yaml.Unmarshal(data, &doc) != nil {
		return false
	}
	var walk func(n *yaml.Node) bool
	walk = func(n *yaml.Node) bool {
		if n.Kind == yaml.ScalarNode && n.Style != 0 || n.Style&yaml.TaggedStyle != 0 {
			return false
		}
		for _, c := range n.Content {
			if !walk(c) {
				return false
			}
		}
		return true
	}
	return walk(&doc)
}
