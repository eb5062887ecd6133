package airflow_test

import (
	"math"
	"testing"

	"cazward/procedure/airflow"
	"cazward/procedure/airflow/airflowtest"

	"pgregory.net/rapid"
)

// drawn makes a random network out of a property test's draws.
type drawn struct{ *rapid.T }

func (d drawn) Float(lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(d.T, "float") }
func (d drawn) Int(n int) int                { return rapid.IntRange(0, n-1).Draw(d.T, "int") }

func (d drawn) network(shape airflowtest.Shape) airflow.Network {
	if shape.Zones == 0 {
		shape.Zones = 1 + d.Int(8)
	}
	return airflowtest.Random(d, shape)
}

func (d drawn) solve(n airflow.Network) airflow.Solution {
	s, err := airflow.Compile(n)
	if err != nil {
		d.Fatal(err)
	}
	var sol airflow.Solution
	if err := s.Solve(s.AsBuilt(), &sol); err != nil {
		d.Fatal(err)
	}
	return sol
}

// same fails unless each pressure is k times that of before, plus shift, to
// 1e-8 of the largest.
func (d drawn) same(before, after []float64, k, shift float64) {
	d.Helper()
	top := 1e-3
	for _, v := range before {
		top = max(top, math.Abs(k*v), math.Abs(shift))
	}
	for i, v := range before {
		if want := k*v + shift; !(math.Abs(after[i]-want) <= 1e-8*top) {
			d.Fatalf("zone %d: %.12g Pa, want %.12g", i, after[i], want)
		}
	}
}

func copyNetwork(n airflow.Network) airflow.Network {
	c := n
	c.Zones = append([]airflow.Zone(nil), n.Zones...)
	c.Links = append([]airflow.Link(nil), n.Links...)
	c.Fans = append([]airflow.Fan(nil), n.Fans...)
	for i := range c.Fans {
		c.Fans[i].Curve = append([]airflow.CurvePoint(nil), c.Fans[i].Curve...)
	}
	c.AirHandlers = append([]airflow.AirHandler(nil), n.AirHandlers...)
	for i := range c.AirHandlers {
		a := &c.AirHandlers[i]
		a.Supplies = append([]airflow.Share(nil), a.Supplies...)
		a.Returns = append([]airflow.Share(nil), a.Returns...)
	}
	return c
}

// 1. Without fans, temperature differences and wind nothing moves.
func TestStillHouse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		sol := d.solve(d.network(airflowtest.Shape{Isothermal: true, Calm: true, Still: true}))
		for i, p := range sol.Pressure {
			if p != 0 {
				t.Fatalf("zone %d at %g Pa", i, p)
			}
		}
		for i, l := range sol.Links {
			if l != (airflow.LinkFlow{}) {
				t.Fatalf("link %d: %+v", i, l)
			}
		}
	})
}

// 2. All openings and fans larger by one factor: the same pressures, flows
// larger by it.
func TestScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n, k := d.network(airflowtest.Shape{}), d.Float(0.1, 10)
		c := copyNetwork(n)
		for i := range c.Links {
			w := &c.Links[i].Law
			w.Coefficient, w.Area, w.Width = k*w.Coefficient, k*w.Area, k*w.Width
		}
		for i := range c.Fans {
			c.Fans[i].Flow *= k
			for j := range c.Fans[i].Curve {
				c.Fans[i].Curve[j].Flow *= k
			}
		}
		for i := range c.AirHandlers {
			c.AirHandlers[i].Flow *= k
		}
		before, after := d.solve(n), d.solve(c)
		d.same(before.Pressure, after.Pressure, 1, 0)
		largest := 0.0
		for _, l := range after.Links {
			largest = max(largest, math.Abs(l.Mass))
		}
		for i, l := range before.Links {
			if math.Abs(after.Links[i].Mass-k*l.Mass) > 1e-6*largest {
				t.Fatalf("link %d: %g kg/s, want %g", i, after.Links[i].Mass, k*l.Mass)
			}
		}
	})
}

// 3. One temperature and exponent, fans times k: pressures times k^(1/n).
func TestFansPower(t *testing.T) {
	tested, drawnInAll := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		shape := airflowtest.Shape{Isothermal: true, Calm: true, Constant: true, Exponent: d.Float(0.5, 1)}
		n, k := d.network(shape), d.Float(0.3, 3)
		c := copyNetwork(n)
		for i := range c.Fans {
			c.Fans[i].Flow *= k
		}
		for i := range c.AirHandlers {
			c.AirHandlers[i].Flow *= k
		}
		before, after := d.solve(n), d.solve(c)
		drawnInAll++
		for _, sol := range []airflow.Solution{before, after} {
			for _, l := range sol.Links {
				// Not where the cubic near zero takes the power law's place. An
				// opening without flow has none to speak of.
				if a := math.Abs(l.DP); a > 1e-12 && a < airflow.LaminarBelow {
					return
				}
			}
		}
		tested++
		d.same(before.Pressure, after.Pressure, math.Pow(k, 1/shape.Exponent), 0)
	})
	if tested < drawnInAll/3 {
		t.Errorf("only %d of %d networks had no opening near zero", tested, drawnInAll)
	}
}

// 4. One temperature, no wind, all fans reversed: pressures change sign.
func TestReverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n := d.network(airflowtest.Shape{Isothermal: true, Calm: true})
		c := copyNetwork(n)
		for i := range c.Fans {
			f := &c.Fans[i]
			f.From, f.To = f.To, f.From
		}
		for i := range c.AirHandlers {
			a := &c.AirHandlers[i]
			a.Supplies, a.Returns = a.Returns, a.Supplies
		}
		for i := range c.Links {
			c.Links[i].Law.Drive *= -1
		}
		d.same(d.solve(n).Pressure, d.solve(c).Pressure, -1, 0)
	})
}

// 5. Each zone is balanced to 1e-6 of the largest flow, added up here from the
// flows reported.
func TestBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n := d.network(airflowtest.Shape{})
		sol := d.solve(n)
		net, largest := make([]float64, len(n.Zones)), 0.0
		move := func(from, to airflow.Node, mass float64) {
			if from != airflow.Outside {
				net[from] -= mass
			}
			if to != airflow.Outside {
				net[to] += mass
			}
			largest = max(largest, math.Abs(mass))
		}
		for i, l := range n.Links {
			f := sol.Links[i]
			move(l.From, l.To, f.Mass)
			upstream := l.From
			if f.Mass < 0 {
				upstream = l.To
			}
			rho := density(n, upstream)
			if l.Law.Kind == airflow.KindVent {
				rho = n.Outdoors.Pressure / 287.042 / l.Law.Temperature
			}
			if math.Abs(f.Volume*rho-f.Mass) > 1e-12*math.Abs(f.Mass) || f.Mass*f.DP < 0 {
				t.Fatalf("link %d: %g kg/s is %g m3/s at %g kg/m3, driven by %g Pa", i, f.Mass, f.Volume, rho, f.DP)
			}
		}
		for i, f := range n.Fans {
			move(f.From, f.To, sol.Fans[i])
		}
		for _, a := range n.AirHandlers {
			total := 0.0
			for _, r := range a.Returns {
				mass := a.Flow * r.Fraction * density(n, r.Node)
				move(r.Node, airflow.Outside, mass)
				total += mass
			}
			for _, s := range a.Supplies {
				move(airflow.Outside, s.Node, total*s.Fraction)
			}
		}
		for i, v := range net {
			if math.Abs(v) > 1e-6*largest {
				t.Fatalf("zone %d: %g kg/s out of balance, largest flow %g", i, v, largest)
			}
		}
		if sol.Residual > 1e-6 {
			t.Fatalf("residual %g", sol.Residual)
		}
	})
}

// 6. One temperature, exhaust only: one more leak to the outdoors lowers no
// zone further, and leaves the exhausted zone, if it is its own, less low.
func TestMoreLeakage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n := d.network(airflowtest.Shape{Isothermal: true, Calm: true, Still: true})
		exhausted := d.Int(len(n.Zones))
		leaky := []int{exhausted, d.Int(len(n.Zones))}[d.Int(2)]
		n.Fans = []airflow.Fan{{From: airflow.Node(exhausted), To: airflow.Outside, Flow: d.Float(0.01, 0.3)}}
		c := copyNetwork(n)
		c.Links = append(c.Links, airflow.Link{From: airflow.Node(leaky), To: airflow.Outside, Height: 1, Law: airflow.FromCFM50(d.Float(50, 1000), 0.65)})
		before, after := d.solve(n).Pressure, d.solve(c).Pressure
		for i := range before {
			if before[i] > 1e-9 || after[i] < before[i]-1e-9*math.Abs(before[i])-1e-12 {
				t.Fatalf("zone %d: %g Pa, with one more leak %g", i, before[i], after[i])
			}
		}
		if leaky == exhausted && !(after[leaky] > before[leaky]) {
			t.Fatalf("zone %d: %g Pa, with a leak of its own more %g", leaky, before[leaky], after[leaky])
		}
	})
}

// 7. One temperature: a door without end makes two zones one; without anything
// between them, each zone is alone.
func TestDoorLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n := d.network(airflowtest.Shape{Isothermal: true, Zones: 2 + d.Int(6)})
		// Not so tight that rounding of thousands of Pa shows in so large a door.
		n.Links = append(n.Links, airflow.Link{From: 0, To: 1, Law: airflow.Orifice(1e3, 0.6)},
			airflow.Link{From: 0, To: airflow.Outside, Law: airflow.Orifice(0.01, 0.6)})
		p := d.solve(n).Pressure
		if math.Abs(p[0]-p[1]) > 1e-4 {
			t.Fatalf("no wall between %g and %g Pa", p[0], p[1])
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n := d.network(airflowtest.Shape{Isothermal: true, Zones: 2 + d.Int(6)})
		n.AirHandlers = nil
		var outer []airflow.Link
		for _, l := range n.Links {
			if l.To == airflow.Outside {
				outer = append(outer, l)
			}
		}
		for i := range n.Zones {
			outer = append(outer, airflow.Link{From: airflow.Node(i), To: airflow.Outside, Law: airflow.Orifice(0.01, 0.6)})
		}
		n.Links = outer
		together := d.solve(n).Pressure
		for i := range n.Zones {
			alone := airflow.Network{Outdoors: n.Outdoors, Zones: n.Zones[i : i+1]}
			for _, l := range n.Links {
				if l.From == airflow.Node(i) {
					l.From = 0
					alone.Links = append(alone.Links, l)
				}
			}
			for _, f := range n.Fans {
				switch airflow.Node(i) {
				case f.From:
					f.From = 0
				case f.To:
					f.To = 0
				default:
					continue
				}
				alone.Fans = append(alone.Fans, f)
			}
			d.same(d.solve(alone).Pressure, together[i:i+1], 1, 0)
		}
	})
}

// 8. One leak or two of half its size at its height: the same.
func TestSplit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n := d.network(airflowtest.Shape{})
		c := copyNetwork(n)
		l := &c.Links[d.Int(len(c.Links))]
		l.Law.Coefficient, l.Law.Area, l.Law.Width = l.Law.Coefficient/2, l.Law.Area/2, l.Law.Width/2
		c.Links = append(c.Links, *l)
		d.same(d.solve(n).Pressure, d.solve(c).Pressure, 1, 0)
	})
}

// 9. Other numbers for zones and links, and links turned round: the same.
func TestRenumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n := d.network(airflowtest.Shape{})
		order := make([]int, len(n.Zones)) // order[i] is the new number of zone i
		for i := range order {
			order[i] = i
		}
		order = rapid.Permutation(order).Draw(t, "zones")
		renamed := func(node airflow.Node) airflow.Node {
			if node == airflow.Outside {
				return node
			}
			return airflow.Node(order[node])
		}
		c := copyNetwork(n)
		for i, z := range n.Zones {
			c.Zones[order[i]] = z
		}
		for i := range c.Links {
			l := &c.Links[i]
			l.From, l.To = renamed(l.From), renamed(l.To)
			if l.Law.Kind != airflow.KindVent {
				l.From, l.To, l.Law.Drive = l.To, l.From, -l.Law.Drive
			}
		}
		for i := range c.Fans {
			c.Fans[i].From, c.Fans[i].To = renamed(c.Fans[i].From), renamed(c.Fans[i].To)
		}
		for i := range c.AirHandlers {
			for _, shares := range [][]airflow.Share{c.AirHandlers[i].Supplies, c.AirHandlers[i].Returns} {
				for j := range shares {
					shares[j].Node = renamed(shares[j].Node)
				}
			}
		}
		c.Links = rapid.Permutation(c.Links).Draw(t, "links")
		before, after := d.solve(n).Pressure, d.solve(c).Pressure
		back := make([]float64, len(after))
		for i := range back {
			back[i] = after[order[i]]
		}
		d.same(before, back, 1, 0)
	})
}

// 10. The whole house raised: the same zone-minus-outdoors pressures.
func TestRaise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n, h := d.network(airflowtest.Shape{}), d.Float(-100, 100)
		c := copyNetwork(n)
		for i := range c.Zones {
			c.Zones[i].Floor += h
		}
		for i := range c.Links {
			c.Links[i].Height += h
			c.Links[i].Law.Top += h
		}
		for i := range c.Fans {
			c.Fans[i].Height += h
		}
		d.same(d.solve(n).Pressure, d.solve(c).Pressure, 1, 0)
	})
}

// 11. The outdoor pressure shifted alike all round the house: every zone
// follows, so nothing changes against that pressure.
func TestOutdoorOffset(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n, cp := d.network(airflowtest.Shape{}), d.Float(-3, 3)
		n.Outdoors.Wind = d.Float(1, 12)
		c := copyNetwork(n)
		for i := range c.Links {
			if l := &c.Links[i]; l.From == airflow.Outside || l.To == airflow.Outside {
				l.Cp += cp
			}
		}
		for i := range c.Fans {
			c.Fans[i].Cp += cp
		}
		shift := cp * airflow.VelocityPressure(density(n, airflow.Outside), n.Outdoors.Wind)
		d.same(d.solve(n).Pressure, d.solve(c).Pressure, 1, shift)
	})
}

// A state is the same as a network built that way.
func TestStateAsNetwork(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		n := d.network(airflowtest.Shape{})
		c := copyNetwork(n)
		s, err := airflow.Compile(n)
		if err != nil {
			t.Fatal(err)
		}
		st := s.AsBuilt()
		st.Columns = make([]float64, len(n.Links))
		for i := range c.Links {
			k, w := d.Float(0.05, 1), &c.Links[i].Law
			st.Links[i] = k
			w.Coefficient, w.Area, w.Width = k*w.Coefficient, k*w.Area, k*w.Width
			if w.Kind == airflow.KindVent && d.Int(2) == 0 {
				w.Temperature = d.Float(280, 600)
				st.Columns[i] = w.Temperature
			}
		}
		for i := range c.Fans {
			k := []float64{0, d.Float(0.2, 1)}[d.Int(2)]
			st.Fans[i] = k
			c.Fans[i].Flow *= k
			for j := range c.Fans[i].Curve {
				c.Fans[i].Curve[j].Flow *= k
				c.Fans[i].Curve[j].Head *= k * k
			}
			if k == 0 {
				c.Fans[i].Curve = nil
			}
		}
		for i := range c.AirHandlers {
			k := d.Float(0, 1)
			st.AirHandlers[i] = k
			c.AirHandlers[i].Flow *= k
			for j := range c.Links {
				if c.Links[j].Law.AirHandler == i {
					c.Links[j].Law.Drive *= k * k
				}
			}
		}
		var sol airflow.Solution
		if err := s.Solve(st, &sol); err != nil {
			t.Fatal(err)
		}
		built := d.solve(c)
		d.same(built.Pressure, sol.Pressure, 1, 0)
		for i, want := range built.Links {
			if got := sol.Links[i]; math.Abs(got.Draft-want.Draft) > 1e-6 || math.Abs(got.Exchange-want.Exchange) > 1e-3*want.Exchange+1e-6 {
				t.Fatalf("link %d: %+v, built that way %+v", i, got, want)
			}
		}
	})
}

// density is found here anew, from the gas law.
func density(n airflow.Network, node airflow.Node) float64 {
	t := n.Outdoors.Temperature
	if node != airflow.Outside {
		t = n.Zones[node].Temperature
	}
	return n.Outdoors.Pressure / 287.042 / t
}
