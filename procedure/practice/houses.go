package practice

import (
	"embed"
	"io/fs"
	"slices"
	"strings"
)

//go:embed houses/*.house.yaml
var shipped embed.FS

//go:embed house.schema.json
var schema []byte

//go:embed template.house.yaml
var template []byte

// HouseTemplate is a commented house file to start from.
func HouseTemplate() []byte { return slices.Clone(template) }

const suffix = ".house.yaml"

// HouseSchema is the JSON Schema of a house file, draft 2020-12. It knows
// keys, units and words; names that must fit one another it leaves to
// [ReadHouse].
func HouseSchema() []byte { return slices.Clone(schema) }

// HouseNames are the houses that come with the program, sorted.
func HouseNames() []string {
	var out []string
	entries, err := fs.ReadDir(shipped, "houses")
	if err != nil {
		panic(err) // embedded at build time
	}
	for _, e := range entries {
		out = append(out, strings.TrimSuffix(e.Name(), suffix))
	}
	return out
}

// HouseFile gives the bytes of a house that comes with the program.
func HouseFile(name string) ([]byte, bool) {
	data, err := shipped.ReadFile("houses/" + name + suffix)
	return data, err == nil
}

// OpenHouse reads a house that comes with the program; ok is false when none
// has that name.
func OpenHouse(name string) (h *House, ok bool, err error) {
	data, ok := HouseFile(name)
	if !ok {
		return nil, false, nil
	}
	h, err = ReadHouse(name+suffix, data)
	return h, true, err
}
