package practice_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"gopkg.in/yaml.v3"

	"cazward/procedure/airflow"
	"cazward/procedure/airflow/airflowtest"
	"cazward/procedure/practice"
)

// schemaOf compiles the published schema.
func schemaOf(t testing.TB) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(practice.HouseSchema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("house.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("house.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// validate holds a YAML file against the schema as an editor would: read as
// plain data, then as JSON.
func validate(s *jsonschema.Schema, data []byte) error {
	var v any
	if err := yaml.Unmarshal(data, &v); err != nil {
		return err
	}
	text, err := json.Marshal(v)
	if err != nil {
		return err
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return err
	}
	return s.Validate(doc)
}

func read(t testing.TB, data string) *practice.House {
	t.Helper()
	h, err := practice.ReadHouse("test.house.yaml", []byte(data))
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func solve(t testing.TB, h *practice.House, state string) airflow.Solution {
	t.Helper()
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	set, err := h.ParseSetting(state)
	if err != nil {
		t.Fatal(err)
	}
	var sol airflow.Solution
	if err := m.Solve(set, &sol); err != nil {
		t.Fatal(err)
	}
	return sol
}

// Each shipped house reads, fits the schema, has a balance in each
// configuration and the worst case that its lesson promises.
func TestShippedHouses(t *testing.T) {
	s := schemaOf(t)
	names := practice.HouseNames()
	if len(names) < 3 {
		t.Fatalf("only %v", names)
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			data, _ := practice.HouseFile(name)
			if err := validate(s, data); err != nil {
				t.Errorf("schema: %v", err)
			}
			h, ok, err := practice.OpenHouse(name)
			if !ok || err != nil {
				t.Fatal(ok, err)
			}
			if h.Name != name {
				t.Errorf("the file %s holds the house %q", name, h.Name)
			}
			if !bytes.Contains(bytes.ToLower(data), []byte("# ")) || !bytes.Contains(data, []byte("nvented")) {
				t.Error("the file does not say on top that it is invented")
			}
			m, err := h.Compile()
			if err != nil {
				t.Fatal(err)
			}
			e, err := m.Check(t.Context())
			if err != nil || e.Status != airflow.Converged {
				t.Fatal(e.Status, err)
			}
			if h.Lesson == nil {
				t.Fatal("teaches nothing")
			}
			want := h.Lesson.Expected
			if w := e.Worst; !want.Kept(w) {
				t.Errorf("worst net %.2f Pa in %s, the lesson promises %.2f to %.2f in %s", w.Net, w.Zone, want.Lowest, want.Highest, want.Zone)
			}
		})
	}
	if _, ok, _ := practice.OpenHouse("nowhere"); ok {
		t.Error("a house that is not there was opened")
	}
}

// The exhaustive check finds what plain enumeration through the text form of
// states finds, and what it says of costs is so.
func TestCheckAgainstEnumeration(t *testing.T) {
	for _, name := range practice.HouseNames() {
		h, _, err := practice.OpenHouse(name)
		if err != nil {
			t.Fatal(err)
		}
		m, err := h.Compile()
		if err != nil {
			t.Fatal(err)
		}
		e, err := m.Check(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		states := []string{""}
		for _, s := range h.Switches() {
			if s.Kind != practice.DoorSwitch && s.Kind != practice.FanSwitch && s.Kind != practice.AirHandlerSwitch {
				continue
			}
			for _, x := range states {
				states = append(states, strings.TrimPrefix(x+","+s.Name+"="+s.Turned, ","))
			}
		}
		if e.Configurations != len(states) {
			t.Errorf("%s: %d configurations, want %d", name, e.Configurations, len(states))
		}
		zone := 0
		for i, z := range h.Zones {
			if z.Name == e.Worst.Zone {
				zone = i
			}
		}
		base, lowest := solve(t, h, "").Pressure[zone], math.Inf(1)
		for _, s := range states {
			lowest = min(lowest, solve(t, h, s).Pressure[zone]-base)
		}
		if math.Abs(lowest-e.Worst.Net) > 1e-8 || e.Worst.Baseline != base {
			t.Errorf("%s: worst %v over %v, enumeration %v over %v", name, e.Worst.Net, e.Worst.Baseline, lowest, base)
		}
		text := h.FormatSetting(e.Worst.Setting)
		if back, err := h.ParseSetting(text); err != nil || back != e.Worst.Setting {
			t.Errorf("%s: state %q does not read back: %v", name, text, err)
		}
		if got := solve(t, h, text).Pressure[zone] - base; got != e.Worst.Net {
			t.Errorf("%s: the worst state gives %v, said %v", name, got, e.Worst.Net)
		}
		for _, c := range e.Worst.Costs {
			other := strings.Replace(","+text+",", ","+c.Name+"="+c.Position+",", ",", 1)
			for _, s := range h.Switches() {
				if s.Name == c.Name {
					turned := s.Turned
					if c.Position == s.Turned {
						turned = s.Rest
					}
					other += s.Name + "=" + turned
				}
			}
			if got := solve(t, h, strings.Trim(other, ",")).Pressure[zone] - base; math.Abs(got-c.Net) > 1e-9 {
				t.Errorf("%s: with %s the other way %v, said %v", name, c.Name, got, c.Net)
			}
			if c.Net < e.Worst.Net-1e-9 {
				t.Errorf("%s: turning %s back is worse than the worst", name, c.Name)
			}
		}
	}
}

// twoZones is the closed-form house of airflow's published checks as a file.
const twoZones = `kind: house
format: 1
name: two-zones
title: two zones
invented: true
outdoors: {temperature: 20 C, pressure: 101325 Pa, wind: 0 m/s}
zones:
  - {name: caz, floor: 0 m, temperature: 20 C, volume: 500 ft3, caz: true}
  - {name: rest, floor: 0 ft, temperature: 68 F, volume: 12000 ft3, caz: false}
links:
  - {name: caz-leaks, from: caz, to: outdoors, height: 0 m, law: {c: 20 cfm/Pa^n, n: 0.65}, source: own figure}
  - {name: rest-leaks, from: rest, to: outdoors, height: 0 m, law: {c: 150 cfm, n: 0.65}, source: own figure}
doors:
  - {name: door, kind: caz, from: rest, to: caz, height: 0 m, open: {c: 1000000 cfm, n: 0.65}, closed: {c: 60 cfm, n: 0.65}, source: own figure}
fans:
  - {name: caz-fan, kind: dryer, from: caz, to: outdoors, flow: 150 cfm, source: own figure}
  - {name: fan, kind: range-hood, from: rest, to: outdoors, flow: 150 cfm, source: own figure}
air_handlers:
  - {name: furnace, flow: 100 cfm, supplies: [{zone: rest, fraction: 1}], returns: [{zone: caz, fraction: 1}], source: own figure}
`

func TestPublishedHouseFile(t *testing.T) {
	h := read(t, twoZones)
	const source = "two zones of one temperature in closed form, C in series (C1^(-1/n) + C2^(-1/n))^-n"
	check := func(figure string, got, want, tol float64) {
		t.Helper()
		fmt.Fprintf(t.Output(), "published: %s: got %.9g, want %.9g, tolerance %.2g, source: %s, evidence: computed apart from this program\n", figure, got, want, tol, source)
		if !(math.Abs(got-want) <= tol) {
			t.Errorf("%s: got %.10g, want %.10g", figure, got, want)
		}
	}
	for _, c := range []struct {
		state      string
		caz, house float64
	}{
		{"caz-fan=on,door=closed", -3.0894567, -0.6064135},
		{"fan=on,door=closed", -0.7097159, -0.8406498},
		{"furnace=on,fan=on,door=closed", -1.9463491, -0.7018598},
		{"furnace=on,door=closed", -1.3635985, 0.0614382},
		{"", 0, 0},
	} {
		sol := solve(t, h, c.state)
		check("caz Pa, "+c.state, sol.Pressure[0], c.caz, 1e-6*math.Max(1, math.Abs(c.caz)))
		check("house Pa, "+c.state, sol.Pressure[1], c.house, 1e-6*math.Max(1, math.Abs(c.house)))
	}
	check("door cfm, caz-fan=on,door=closed", solve(t, h, "caz-fan=on,door=closed").Links[3].Volume/airflow.CFM, 108.3654981, 1e-4)
	// With the door open the two are one zone.
	for _, s := range []string{"fan=on,door=open", "caz-fan=on,door=open"} {
		sol := solve(t, h, s)
		check("caz Pa, "+s, sol.Pressure[0], -0.8248459, 1e-5)
		check("house Pa, "+s, sol.Pressure[1], -0.8248459, 1e-5)
	}
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	e, err := m.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	// Air handler and fan in the zone, the other fan off or on: on is worse.
	if got := h.FormatSetting(e.Worst.Setting); got != "door=closed,caz-fan=on,fan=on,furnace=on" || e.Configurations != 16 {
		t.Errorf("worst is %s of %d", got, e.Configurations)
	}
}

// source is a random source for airflowtest.Random.
type source struct{ *rand.Rand }

func (s source) Float(lo, hi float64) float64 { return lo + (hi-lo)*s.Float64() }
func (s source) Int(n int) int                { return s.IntN(n) }

// write puts a network into a house file, figures in SI units.
func write(n airflow.Network) string {
	var b strings.Builder
	place := func(k airflow.Node) string {
		if k == airflow.Outside {
			return "outdoors"
		}
		return fmt.Sprintf("z%d", k)
	}
	f := func(v float64) string { return strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.22f", v), "0"), ".") }
	law := func(l airflow.Law) string {
		switch l.Kind {
		case airflow.KindPowerLaw, airflow.KindDuctLeak:
			return fmt.Sprintf("{c: %s m3/s, n: %s}", f(l.Coefficient), f(l.Exponent))
		case airflow.KindMassPowerLaw:
			return fmt.Sprintf("{mass_c: %s kg/s, n: %s}", f(l.Coefficient), f(l.Exponent))
		case airflow.KindLeakageArea:
			return fmt.Sprintf("{area: %s m2, discharge: %s, reference: %s Pa, n: %s}", f(l.Area), f(l.Discharge), f(l.Reference), f(l.Exponent))
		case airflow.KindOrifice:
			return fmt.Sprintf("{area: %s m2, discharge: %s}", f(l.Area), f(l.Discharge))
		case airflow.KindDoorway:
			return fmt.Sprintf("{width: %s m, height: %s m, discharge: %s}", f(l.Width), f(l.Tall), f(l.Discharge))
		case airflow.KindUnset, airflow.KindVent:
		}
		panic("not a law of an opening")
	}
	o := n.Outdoors
	fmt.Fprintf(&b, "kind: house\nformat: 1\nname: random\ntitle: random\ninvented: true\noutdoors: {temperature: %s K, pressure: %s Pa, wind: %s m/s}\nzones:\n", f(o.Temperature), f(o.Pressure), f(o.Wind))
	for i, z := range n.Zones {
		fmt.Fprintf(&b, "  - {name: z%d, floor: %s m, temperature: %s K, volume: 30 m3, caz: %v}\n", i, f(z.Floor), f(z.Temperature), i == 0)
	}
	var links, ducts, vents, fans, handlers strings.Builder
	for i, l := range n.Links {
		head := fmt.Sprintf("  - {name: l%d, from: %s, to: %s, height: %s m, source: own figure, ", i, place(l.From), place(l.To), f(l.Height))
		if l.Cp != 0 {
			head += "cp: " + f(l.Cp) + ", "
		}
		switch l.Law.Kind {
		case airflow.KindVent:
			fmt.Fprintf(&vents, "%stop: %s m, area: %s m2, standing: %s K, fired: %s K, loss_in: %s, loss_out: %s}\n", head, f(l.Law.Top), f(l.Law.Area), f(l.Law.Temperature), f(l.Law.Temperature), f(l.Law.LossIn), f(l.Law.LossOut))
		case airflow.KindDuctLeak:
			fmt.Fprintf(&ducts, "%sair_handler: a%d, drive: %s Pa, law: %s}\n", head, l.Law.AirHandler, f(l.Law.Drive), law(l.Law))
		default:
			fmt.Fprintf(&links, "%slaw: %s}\n", head, law(l.Law))
		}
	}
	for i, x := range n.Fans {
		fmt.Fprintf(&fans, "  - {name: f%d, kind: other-exhaust, from: %s, to: %s, height: %s m, source: own figure, ", i, place(x.From), place(x.To), f(x.Height))
		if x.Cp != 0 {
			fmt.Fprintf(&fans, "cp: %s, ", f(x.Cp))
		}
		if x.Curve == nil {
			fmt.Fprintf(&fans, "flow: %s m3/s}\n", f(x.Flow))
			continue
		}
		fmt.Fprintf(&fans, "curve: [")
		for k, p := range x.Curve {
			fmt.Fprintf(&fans, "%s{head: %s Pa, flow: %s m3/s}", []string{"", ", "}[min(k, 1)], f(p.Head), f(p.Flow))
		}
		fmt.Fprintf(&fans, "]}\n")
	}
	share := func(list []airflow.Share) string {
		var out []string
		for _, s := range list {
			out = append(out, fmt.Sprintf("{zone: %s, fraction: %s}", place(s.Node), f(s.Fraction)))
		}
		return "[" + strings.Join(out, ", ") + "]"
	}
	for i, a := range n.AirHandlers {
		fmt.Fprintf(&handlers, "  - {name: a%d, flow: %s m3/s, supplies: %s, returns: %s, source: own figure}\n", i, f(a.Flow), share(a.Supplies), share(a.Returns))
	}
	for _, p := range []struct {
		key  string
		text *strings.Builder
	}{{"links", &links}, {"duct_leaks", &ducts}, {"fans", &fans}, {"air_handlers", &handlers}, {"vents", &vents}} {
		if p.text.Len() > 0 {
			fmt.Fprintf(&b, "%s:\n%s", p.key, p.text)
		}
	}
	return b.String()
}

// Whatever network the solver takes, a house file can hold: written out and
// read back it has the same pressures, with everything on.
func TestAnyNetworkFitsAFile(t *testing.T) {
	s := schemaOf(t)
	rng := source{rand.New(rand.NewPCG(1, 2))}
	networks := []airflow.Network{airflowtest.House6(), airflowtest.House12()}
	for k := range 100 {
		networks = append(networks, airflowtest.Random(rng, airflowtest.Shape{Zones: 1 + k%8}))
	}
	kinds := map[airflow.Kind]int{}
	extra := airflowtest.House6()
	extra.Links = append(extra.Links, airflow.Link{Name: "area", From: 0, To: 1, Height: 1, Law: airflow.LeakageArea(0.01, 1, 4, 0.65)},
		airflow.Link{Name: "mass", From: 1, To: airflow.Outside, Height: 1, Cp: 0.2, Law: airflow.MassPowerLaw(0.01, 0.6)})
	networks = append(networks, extra)
	for i, n := range networks {
		text := write(n)
		if err := validate(s, []byte(text)); err != nil {
			t.Fatalf("network %d: schema: %v\n%s", i, err, text)
		}
		h := read(t, text)
		solver, err := airflow.Compile(n)
		if err != nil {
			t.Fatal(err)
		}
		var want airflow.Solution
		if err := solver.Solve(solver.AsBuilt(), &want); err != nil {
			t.Fatal(err)
		}
		var on []string
		for _, w := range h.Switches() {
			on = append(on, w.Name+"="+w.Turned)
		}
		got := solve(t, h, strings.Join(on, ","))
		for z := range want.Pressure {
			if math.Abs(got.Pressure[z]-want.Pressure[z]) > 1e-9*math.Max(1, math.Abs(want.Pressure[z])) {
				t.Errorf("network %d zone %d: %v, want %v\n%s", i, z, got.Pressure[z], want.Pressure[z], text)
			}
		}
		for _, l := range h.Network.Links {
			kinds[l.Law.Kind]++
		}
	}
	for k := airflow.KindPowerLaw; k <= airflow.KindDuctLeak; k++ {
		if kinds[k] == 0 {
			t.Errorf("no network had a link of kind %d", k)
		}
	}
}

func TestParseSetting(t *testing.T) {
	h := read(t, twoZones)
	for _, c := range []struct{ in, want, hint string }{
		{"door", `"door" is not name=position`, "for example door=closed"},
		{"lamp=on", `house "two-zones" has nothing called "lamp" to set`, "known: door=open|closed caz-fan=off|on fan=off|on furnace=off|on"},
		{"door=shut", `door "door" cannot be "shut"`, "door=open or door=closed"},
		{"fan=on,fan=off", "fan is set twice", "set each thing once"},
		{"fan=on,", `"" is not name=position`, "for example door=closed"},
	} {
		_, err := h.ParseSetting(c.in)
		e, ok := err.(*practice.SettingError)
		if !ok || e.Error() != c.want || e.Hint() != c.hint || e.ExitCode() != 7 {
			t.Errorf("%q: %v", c.in, err)
		}
	}
	for _, in := range []string{"", "door=open", " fan=off , door=open "} {
		if s, err := h.ParseSetting(in); err != nil || s != 0 {
			t.Errorf("%q: %v, %v", in, s, err)
		}
	}
}

// A fan's way through while it is off, and a window, act only then.
func TestOpeningsInForce(t *testing.T) {
	h := read(t, strings.Replace(twoZones, "flow: 150 cfm, source: own figure}\n  - {name: fan,", "flow: 150 cfm, height: 2 m, off: {area: 10 in2, discharge: 0.6}, source: own figure}\n  - {name: fan,", 1)+
		"windows:\n  - {name: window, kind: window, from: rest, to: outdoors, height: 1 m, open: {area: 2 ft2, discharge: 0.6}, source: own figure}\n")
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	force := func(state string) string {
		set, err := h.ParseSetting(state)
		if err != nil {
			t.Fatal(err)
		}
		var sol airflow.Solution
		if err := m.Solve(set, &sol); err != nil {
			t.Fatal(err)
		}
		var out []string
		for i, l := range h.Network.Links {
			if m.InForce(i) {
				out = append(out, fmt.Sprint(l.Name, l.Law.Kind))
			}
		}
		return strings.Join(out, " ")
	}
	for state, want := range map[string]string{
		"":                       "caz-leaks1 rest-leaks1 door1 caz-fan4",
		"caz-fan=on":             "caz-leaks1 rest-leaks1 door1",
		"window=open,caz-fan=on": "caz-leaks1 rest-leaks1 door1 window4",
	} {
		if got := force(state); got != want {
			t.Errorf("%q: %s, want %s", state, got, want)
		}
	}
	if e, err := m.Check(t.Context()); err != nil || e.Configurations != 16 {
		t.Errorf("a window is part of no configuration: %d, %v", e.Configurations, err)
	}
	if open, shut := solve(t, h, "fan=on,window=open").Pressure[1], solve(t, h, "fan=on").Pressure[1]; open <= shut {
		t.Errorf("an open window does not relieve the house: %v, %v", open, shut)
	}
}

// The summer cooling fan is never run, so no configuration has it.
func TestCoolingFanIsNotTried(t *testing.T) {
	h := read(t, strings.Replace(twoZones, "kind: range-hood", "kind: whole-house-fan", 1))
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	e, err := m.Check(t.Context())
	if err != nil || e.Configurations != 8 || strings.Contains(h.FormatSetting(e.Worst.Setting), "fan=on,fan=") {
		t.Errorf("%d configurations, %s, %v", e.Configurations, h.FormatSetting(e.Worst.Setting), err)
	}
	if _, err := h.ParseSetting("fan=on"); err != nil {
		t.Error("by name it can be run:", err)
	}
}

// Sealing one zone of one exponent by a third of its leaks is the same as a
// file with a third less, follows (before/after)^(1/n), and can be undone.
func TestSeal(t *testing.T) {
	h := read(t, oneZone)
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	net := func() float64 {
		e, err := m.Check(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return e.Worst.Net
	}
	before := net()
	if err := m.Seal(1 - 1500.0/2400); err != nil {
		t.Fatal(err)
	}
	after := net()
	// 2400 to 1500 CFM50 under 300 cfm: 2.03986 to 4.20370 Pa (computed apart).
	if math.Abs(before+2.03986) > 1e-5 || math.Abs(after+4.20370) > 1e-5 {
		t.Errorf("%v before, %v after", before, after)
	}
	if err := m.Seal(0); err != nil || net() != before {
		t.Errorf("not undone: %v, %v", net(), err)
	}
	for _, bad := range []float64{1, -0.1, math.NaN()} {
		if m.Seal(bad) == nil || net() != before {
			t.Errorf("%v is taken", bad)
		}
	}
	// An opening made on purpose stays.
	h = read(t, strings.Replace(oneZone, "area: 0 in2", "area: 60 in2", 1))
	if m, err = h.Compile(); err != nil {
		t.Fatal(err)
	}
	var sol airflow.Solution
	if err := m.Seal(0.9); err != nil {
		t.Fatal(err)
	}
	if err := m.Solve(1, &sol); err != nil {
		t.Fatal(err)
	}
	dp := sol.Pressure[0]
	if want := -0.6 * 60 * 6.4516e-4 * math.Sqrt(2*1.2041*-dp) / 1.2041; math.Abs(sol.Links[1].Volume-want) > 1e-4*-want {
		t.Errorf("grille passes %v, want %v", sol.Links[1].Volume, want)
	}
}

// With two combustion appliance zones each has its own worst case, and the
// lower one is told.
func TestTwoZonesOfAppliances(t *testing.T) {
	h := read(t, strings.Replace(twoZones, "caz: false", "caz: true", 1))
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	e, err := m.Check(t.Context())
	if err != nil || len(e.Zones) != 2 || e.Zones[0].Zone != "caz" || e.Zones[1].Zone != "rest" {
		t.Fatalf("%+v, %v", e.Zones, err)
	}
	if e.Worst.Zone != "caz" || e.Worst.Net != e.Zones[0].Net || e.Zones[1].Net <= e.Zones[0].Net {
		t.Errorf("worst %+v of %+v", e.Worst, e.Zones)
	}
	// The rest of the house is lowest with the door open and all three on.
	if got := h.FormatSetting(e.Zones[1].Setting); got == h.FormatSetting(e.Zones[0].Setting) {
		t.Errorf("both at %s", got)
	}
}

// Too many things to try are refused, not tried for hours; a check stops when
// its context does.
func TestCheckIsBounded(t *testing.T) {
	fans := func(n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, "  - {name: f%d, kind: bath-fan, from: rest, to: outdoors, flow: 5 cfm, source: own figure}\n", i)
		}
		return strings.Replace(twoZones, "air_handlers:", b.String()+"air_handlers:", 1)
	}
	m, err := read(t, fans(17)).Compile() // 21 with the others
	if err != nil {
		t.Fatal(err)
	}
	if e, err := m.Check(t.Context()); err == nil || e.Status != airflow.NotSolved || !strings.Contains(err.Error(), "21 doors, fans and air handlers") {
		t.Errorf("%v, %v", e.Status, err)
	}
	if _, err := practice.ReadHouse("x", []byte(fans(61))); err == nil || !strings.Contains(err.Error(), "65 things that a state turns, more than 64") {
		t.Error(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if m, err = read(t, fans(16)).Compile(); err != nil {
		t.Fatal(err)
	}
	if e, err := m.Check(ctx); !errors.Is(err, context.Canceled) || e.Status != airflow.NotSolved {
		t.Errorf("%v, %v", e.Status, err)
	}
}

// A balance that no house could stand is no answer.
func TestImpossibleHouse(t *testing.T) {
	h := read(t, strings.Replace(twoZones, "to: outdoors, flow: 150 cfm", "to: outdoors, flow: 40 m3/s", 1))
	m, err := h.Compile()
	if err != nil {
		t.Fatal(err)
	}
	var sol airflow.Solution
	err = m.Solve(1<<1|1, &sol)
	var impossible *practice.ImpossibleError
	if !errors.As(err, &impossible) || impossible.Zone != "caz" || impossible.Pressure > -5000 || sol.Status != airflow.Refused || len(sol.Pressure) != 0 {
		t.Errorf("%v, %+v", err, sol)
	}
	// One that does not stand even at rest is refused where the zone stands.
	gale := strings.NewReplacer("wind: 0 m/s", "wind: 60 m/s", "to: outdoors, height: 0 m,", "to: outdoors, height: 0 m, cp: 4,").Replace(twoZones)
	_, err = practice.ReadHouse("h.yaml", []byte(gale))
	if want := `h.yaml:8:5: zone "caz" would settle at 8670 Pa, and no house stands more than 5000`; fmt.Sprint(err) != want {
		t.Errorf("got %v, want %s", err, want)
	}
}
