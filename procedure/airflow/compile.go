package airflow

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// InputError is one value of a network or state that is refused.
type InputError struct {
	Part  string // "zone", "link", "fan", "air handler", "outdoors", "network" or "state"
	Index int    // position of the part, or -1
	Name  string // name of the part, if it has one
	Field string
	Value float64
	Want  string // what would be accepted
}

func (e *InputError) Error() string {
	where := e.Part
	if e.Index >= 0 {
		where = fmt.Sprintf("%s %d", where, e.Index)
	}
	if e.Name != "" {
		where = fmt.Sprintf("%s %q", where, e.Name)
	}
	return fmt.Sprintf("airflow: %s: %s %v refused: give %s", where, e.Field, e.Value, e.Want)
}

// LooseZonesError names the zones that no open link ties to the outdoors, even
// through other zones: their pressure would be undetermined.
type LooseZonesError struct {
	Zones []int
	Names []string
}

func (e *LooseZonesError) Error() string {
	return fmt.Sprintf("airflow: zones tied to nothing: %s: no open link leads from there to the outdoors; give each its leaks",
		strings.Join(e.Names, ", "))
}

// ConvergenceError says that no balance was found.
type ConvergenceError struct {
	Iterations int
	Zone       string  // the zone worst out of balance
	Imbalance  float64 // kg/s there
}

func (e *ConvergenceError) Error() string {
	return fmt.Sprintf("airflow: no convergence after %d iterations: zone %q is %g kg/s out of balance; look there for an opening or fan of unlikely size",
		e.Iterations, e.Zone, e.Imbalance)
}

// checker collects the first refused value.
type checker struct {
	part  string
	index int
	name  string
	err   error
}

func (c *checker) at(part string, index int, name string) {
	c.part, c.index, c.name = part, index, name
}

func (c *checker) refuse(field string, v float64, want string) {
	if c.err == nil {
		c.err = &InputError{c.part, c.index, c.name, field, v, want}
	}
}

// within refuses v outside lo to hi, and so NaN and the infinities. The bounds
// are our own: far enough out to let any house pass, close enough to catch a
// wrong unit.
func (c *checker) within(field string, v, lo, hi float64, want string) {
	if !(v >= lo && v <= hi) {
		c.refuse(field, v, want)
	}
}

func (c *checker) positive(field string, v, hi float64, want string) {
	if !(v > 0 && v <= hi) {
		c.refuse(field, v, want)
	}
}

const most = 1e6 // larger coefficients, areas, widths and flows are refused

func (c *checker) air(v float64) { c.within("temperature", v, 200, 400, "kelvin, 200 to 400") }

func (c *checker) gas(v float64) { c.within("temperature", v, 200, 2000, "kelvin, 200 to 2000") }

func (c *checker) height(field string, v float64) {
	c.within(field, v, -1000, 1000, "metres, -1000 to 1000")
}

func (c *checker) cp(v float64) { c.within("Cp", v, -5, 5, "a pressure coefficient, -5 to 5") }

func (c *checker) node(field string, v Node, zones int) {
	if v < Outside || int(v) >= zones {
		c.refuse(field, float64(v), fmt.Sprintf("a zone, 0 to %d, or outside, -1", zones-1))
	}
}

func (c *checker) ends(from, to Node, zones int) {
	c.node("from", from, zones)
	c.node("to", to, zones)
	if from == to {
		c.refuse("to", float64(to), "another node than from")
	}
}

// check refuses a network with values that cannot be meant.
func check(n *Network) error {
	var c checker
	zones := len(n.Zones)
	c.at("outdoors", -1, "")
	c.air(n.Outdoors.Temperature)
	c.within("pressure", n.Outdoors.Pressure, 40e3, 120e3, "an absolute pressure, 40000 to 120000 Pa")
	c.within("wind", n.Outdoors.Wind, 0, 100, "a wind, 0 to 100 m/s")
	if zones == 0 {
		c.at("network", -1, "")
		c.refuse("zones", 0, "at least one zone")
	}
	names := make(map[string]bool, zones)
	for i, z := range n.Zones {
		c.at("zone", i, z.Name)
		if z.Name == "" || names[z.Name] {
			c.refuse("name", float64(i), "each zone a name of its own")
		}
		names[z.Name] = true
		c.height("floor", z.Floor)
		c.air(z.Temperature)
	}
	for i, l := range n.Links {
		c.at("link", i, l.Name)
		c.ends(l.From, l.To, zones)
		c.height("height", l.Height)
		c.cp(l.Cp)
		if l.From != Outside && l.To != Outside && l.Cp != 0 {
			c.refuse("Cp", l.Cp, "0 between two zones: wind acts outdoors only")
		}
		c.law(&l, len(n.AirHandlers))
	}
	for i, f := range n.Fans {
		c.at("fan", i, f.Name)
		c.ends(f.From, f.To, zones)
		c.height("height", f.Height)
		c.cp(f.Cp)
		c.within("flow", f.Flow, 0, most, "m3/s, 0 or more; swap from and to for the other way")
		if len(f.Curve) > 0 && f.Flow != 0 {
			c.refuse("flow", f.Flow, "0 where there is a curve")
		}
		if len(f.Curve) == 1 {
			c.refuse("curve points", 1, "two points or more")
		}
		for k, p := range f.Curve {
			c.within("curve head", p.Head, -most, most, "Pa")
			c.within("curve flow", p.Flow, 0, most, "m3/s, 0 or more")
			if k > 0 && !(p.Head > f.Curve[k-1].Head) {
				c.refuse("curve head", p.Head, "heads that ascend")
			}
			if k > 0 && p.Flow > f.Curve[k-1].Flow {
				c.refuse("curve flow", p.Flow, "flows that do not rise with the head")
			}
		}
	}
	for i, a := range n.AirHandlers {
		c.at("air handler", i, a.Name)
		c.within("flow", a.Flow, 0, most, "m3/s, 0 or more")
		c.shares("supply fractions", a.Supplies, zones)
		c.shares("return fractions", a.Returns, zones)
	}
	return c.err
}

func (c *checker) shares(field string, shares []Share, zones int) {
	sum := 0.0
	for _, s := range shares {
		c.node("share's node", s.Node, zones)
		c.within(field, s.Fraction, 0, 1, "fractions of 0 to 1")
		sum += s.Fraction
	}
	c.within(field, sum, 1-1e-9, 1+1e-9, "fractions that add up to 1")
}

func (c *checker) law(l *Link, handlers int) {
	w := &l.Law
	switch w.Kind {
	case KindPowerLaw, KindMassPowerLaw, KindDuctLeak:
		c.within("coefficient", w.Coefficient, 0, most, "0 or more")
	case KindLeakageArea, KindOrifice, KindVent:
		c.within("area", w.Area, 0, most, "m2, 0 or more")
	case KindDoorway:
		c.within("width", w.Width, 0, most, "m, 0 or more")
		c.within("height of the doorway", w.Tall, 0, 100, "m, 0 or more")
	default: // KindUnset too
		c.refuse("law", float64(w.Kind), "a law made by one of the constructors")
	}
	switch w.Kind {
	case KindPowerLaw, KindMassPowerLaw, KindDuctLeak, KindLeakageArea:
		c.within("exponent", w.Exponent, 0.3, 1, "a flow exponent, 0.3 to 1")
	}
	switch w.Kind {
	case KindLeakageArea, KindOrifice, KindDoorway:
		c.positive("discharge", w.Discharge, 2, "a discharge coefficient, above 0 to 2")
	}
	switch w.Kind {
	case KindLeakageArea:
		c.positive("reference", w.Reference, 1e3, "a reference pressure in Pa, above 0")
	case KindVent:
		c.gas(w.Temperature)
		c.height("top", w.Top)
		if w.Top < l.Height {
			c.refuse("top", w.Top, "an outlet no lower than the inlet")
		}
		c.within("inlet loss", w.LossIn, 0, most, "velocity heads, 0 or more")
		c.within("outlet loss", w.LossOut, 0, most, "velocity heads, 0 or more")
		c.positive("inlet and outlet loss", w.LossIn+w.LossOut, 2*most, "velocity heads, above 0 in all")
		if l.From == Outside {
			c.refuse("from", float64(l.From), "the zone that the vent takes air from")
		}
	case KindDuctLeak:
		c.within("drive", w.Drive, -1e4, 1e4, "Pa, -10000 to 10000")
		if w.AirHandler < 0 || w.AirHandler >= handlers {
			c.refuse("air handler", float64(w.AirHandler), "the index of an air handler of this network")
		}
	}
}

// path is a link made ready: m = k a^n, where a is |dp|. What changes with the
// state is in live.
type path struct {
	from, to int // index into the extended pressure vector; the last is outdoors
	n        float64
	up, down float64 // k at full opening: kg/(s Pa^n) from From, and from To
	low      float64 // LaminarBelow^n
	static   float64 // Pa added to p[from] - p[to]
	drive    float64 // Pa added at full speed of the air handler
	handler  int     // index of that air handler, or -1
}

// Solver is a compiled network with its work space. It is for one goroutine.
type Solver struct {
	net     Network
	density []float64 // of each node, outdoors last
	paths   []path
	fans    []compiledFan
	work
}

type compiledFan struct {
	from, to int
	density  float64
	static   float64 // Pa added to p[to] - p[from]
}

// Compile checks a network and makes it ready to solve. It refuses, with an
// [InputError], values that are NaN, infinite, negative or out of any house's
// range, and, with a [LooseZonesError], zones that nothing ties to the
// outdoors even with every link open. The network is copied.
func Compile(network Network) (*Solver, error) {
	if err := check(&network); err != nil {
		return nil, err
	}
	s := &Solver{net: network.clone()}
	n := &s.net
	zones := len(n.Zones)
	for _, z := range n.Zones {
		s.density = append(s.density, Density(n.Outdoors.Pressure, z.Temperature))
	}
	s.density = append(s.density, Density(n.Outdoors.Pressure, n.Outdoors.Temperature))
	for i := range n.Links {
		s.paths = append(s.paths, s.path(&n.Links[i]))
	}
	for i := range n.Fans {
		f := &n.Fans[i]
		from, to := s.index(f.From), s.index(f.To)
		s.fans = append(s.fans, compiledFan{from: from, to: to, density: s.density[from],
			static: s.outer(f.To, f.Height, f.Cp) - s.outer(f.From, f.Height, f.Cp)})
	}
	s.work = newWork(zones, len(n.Links), len(n.Fans))
	s.load(s.AsBuilt())
	if loose := s.loose(); loose != nil {
		return nil, loose
	}
	return s, nil
}

// clone copies a network down to its last slice.
func (n Network) clone() Network {
	n.Zones, n.Links, n.Fans = slices.Clone(n.Zones), slices.Clone(n.Links), slices.Clone(n.Fans)
	n.AirHandlers = slices.Clone(n.AirHandlers)
	for i := range n.Fans {
		n.Fans[i].Curve = slices.Clone(n.Fans[i].Curve)
	}
	for i := range n.AirHandlers {
		a := &n.AirHandlers[i]
		a.Supplies, a.Returns = slices.Clone(a.Supplies), slices.Clone(a.Returns)
	}
	return n
}

func (s *Solver) index(n Node) int {
	if n == Outside {
		return len(s.net.Zones)
	}
	return int(n)
}

// outer is what to add to a node's pressure unknown to get its pressure at a
// height against still outdoor air at that height.
func (s *Solver) outer(n Node, height, cp float64) float64 {
	out := s.density[len(s.net.Zones)]
	if n == Outside {
		return cp * VelocityPressure(out, s.net.Outdoors.Wind)
	}
	return (out - s.density[n]) * Gravity * (height - s.net.Zones[n].Floor)
}

func (s *Solver) path(l *Link) path {
	w := &l.Law
	p := path{from: s.index(l.From), to: s.index(l.To), handler: -1, n: 0.5}
	from, to := s.density[p.from], s.density[p.to]
	lower, upper := l.Height, l.Height
	switch w.Kind {
	case KindPowerLaw, KindDuctLeak:
		p.n, p.up, p.down = w.Exponent, w.Coefficient*from, w.Coefficient*to
		if w.Kind == KindDuctLeak {
			p.handler, p.drive = w.AirHandler, w.Drive
		}
	case KindMassPowerLaw:
		p.n, p.up, p.down = w.Exponent, w.Coefficient, w.Coefficient
	case KindLeakageArea:
		c := w.Area * w.Discharge * math.Sqrt(2/StandardDensity) * math.Pow(w.Reference, 0.5-w.Exponent)
		p.n, p.up, p.down = w.Exponent, c*from, c*to
	case KindOrifice, KindDoorway:
		area := w.Area
		if w.Kind == KindDoorway {
			area = w.Width * w.Tall
			lower += w.Tall / 2
			upper = lower
		}
		p.up, p.down = w.Discharge*area*math.Sqrt(2*from), w.Discharge*area*math.Sqrt(2*to)
	case KindVent: // the rest hangs on the column's temperature: load
		upper = w.Top
	case KindUnset:
		panic("airflow: law not checked")
	}
	p.low = pow(LaminarBelow, p.n)
	p.static = s.outer(l.From, lower, l.Cp) - s.outer(l.To, upper, l.Cp)
	return p
}

// AsBuilt is the state with every link open and every fan and air handler at
// full speed. Its slices are the caller's to change.
func (s *Solver) AsBuilt() State {
	ones := func(n int) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = 1
		}
		return v
	}
	return State{Links: ones(len(s.net.Links)), Fans: ones(len(s.net.Fans)), AirHandlers: ones(len(s.net.AirHandlers))}
}

// checkState refuses a state that does not fit the network.
func (s *Solver) checkState(st *State) error {
	c := checker{part: "state", index: -1}
	size := func(field string, have, want int) {
		if have != want {
			c.refuse(field, float64(have), fmt.Sprintf("%d values, one for each of the network", want))
		}
	}
	size("links", len(st.Links), len(s.net.Links))
	size("fans", len(st.Fans), len(s.net.Fans))
	size("air handlers", len(st.AirHandlers), len(s.net.AirHandlers))
	if st.Columns != nil {
		size("columns", len(st.Columns), len(s.net.Links))
	}
	if c.err != nil {
		return c.err
	}
	for i, v := range st.Links {
		c.at("link", i, s.net.Links[i].Name)
		c.within("opening", v, 0, 1, "0, shut, to 1, open")
	}
	for i, v := range st.Fans {
		c.at("fan", i, s.net.Fans[i].Name)
		c.within("speed", v, 0, 1, "0, off, to 1, full")
	}
	for i, v := range st.AirHandlers {
		c.at("air handler", i, s.net.AirHandlers[i].Name)
		c.within("speed", v, 0, 1, "0, off, to 1, full")
	}
	for i, v := range st.Columns {
		if v == 0 {
			continue
		}
		c.at("link", i, s.net.Links[i].Name)
		if s.net.Links[i].Law.Kind != KindVent {
			c.refuse("column", v, "0 for a link that is no vent")
		}
		c.gas(v)
	}
	return c.err
}
