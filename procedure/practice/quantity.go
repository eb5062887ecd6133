package practice

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"gopkg.in/yaml.v3"

	"cazward/procedure/reading"
)

// kind of a figure in a house file: the units that it may be written in, and
// the unit that it is kept in.
type kind struct {
	what  string
	keep  reading.Unit
	units []string
}

// The kinds. The JSON Schema holds the same units; a test compares them.
var (
	length        = kind{"a length", reading.UnitM, []string{"ft", "in", "m", "cm"}}
	area          = kind{"an area", reading.UnitM2, []string{"in2", "ft2", "cm2", "m2"}}
	volume        = kind{"a volume", reading.UnitM3, []string{"ft3", "m3"}}
	temperature   = kind{"a temperature", reading.UnitK, []string{"F", "C", "K"}}
	flow          = kind{"a flow", reading.UnitM3S, []string{"cfm", "L/s", "m3/h", "m3/s"}}
	massFlow      = kind{"a mass flow", "kg/s", []string{"kg/s"}}
	pressure      = kind{"a pressure", reading.UnitPa, []string{"Pa", "inH2O", "inHg"}}
	speed         = kind{"a speed", reading.UnitMS, []string{"mph", "km/h", "m/s"}}
	heat          = kind{"a heat input", reading.UnitBtuH, []string{"Btu/h", "kW", "W"}}
	concentration = kind{"a concentration", reading.UnitPPM, []string{"ppm"}}
	percent       = kind{"a percentage", reading.UnitPercent, []string{"%"}}
	duration      = kind{"a time", reading.UnitMin, []string{"min", "s"}}
)

var figure = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^([-+]?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?) (\S+)$`) })

// most is the largest figure, in any unit, that is read at all.
const most = 1e9

// parse reads a figure and its unit, as "8 ft", into the kind's unit.
func (k kind) parse(text string) (v float64, hint string, err error) {
	write := "write a plain number, one space and a unit: " + strings.Join(k.units, ", ")
	m := figure().FindStringSubmatch(text)
	if m == nil {
		return 0, write, fmt.Errorf("%q is not %s with its unit", text, k.what)
	}
	v, err = strconv.ParseFloat(m[1], 64)
	if err != nil || v > most || v < -most {
		return 0, write, fmt.Errorf("%q is out of any range", text)
	}
	for _, u := range k.units {
		if u != m[2] {
			continue
		}
		// Units of the trade that no other part of the program takes.
		from := reading.Unit(u)
		switch u {
		case "in":
			from, v = reading.UnitFt, v/12
		case "cm":
			from, v = reading.UnitM, v/100
		case "ft2":
			from, v = reading.UnitIn2, v*144
		case "kg/s":
			return v, "", nil
		}
		if v, err = reading.Convert(v, from, k.keep); err != nil {
			return 0, write, fmt.Errorf("%q is out of any range", text)
		}
		return v, "", nil
	}
	return 0, write, fmt.Errorf("%q: the unit of %s cannot be %q", text, k.what, m[2])
}

// inUnit gives a value of the kind's own unit in another of its units.
func (k kind) inUnit(v float64, unit string) float64 {
	zero, _, err := k.parse("0 " + unit)
	one, _, err2 := k.parse("1 " + unit)
	if err != nil || err2 != nil {
		return v // no unit of this kind: parse has refused it before
	}
	return (v - zero) / (one - zero)
}

// at is the node of a key of a mapping, or the mapping itself.
func at(n *yaml.Node, key string) *yaml.Node {
	for i := 0; n != nil && n.Kind == yaml.MappingNode && i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i+1]
		}
	}
	return n
}

// has reports whether a mapping has a key.
func has(n *yaml.Node, key string) bool { return n != nil && at(n, key) != n }
