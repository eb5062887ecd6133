package airflow_test

import (
	"math"
	"testing"

	"cazward/procedure/airflow"
	"cazward/procedure/airflow/airflowtest"
)

// reference solves a network its own way: absolute pressures, its own flow
// laws, and nested bracketing. The imbalance of the first zone, with all others
// balanced for each trial of its pressure, rises with that pressure; so do the
// others' inside it.
type reference struct {
	n        airflow.Network
	pressure []float64 // absolute, at each zone's floor
}

// absolute pressure of a node at a height.
func (r *reference) absolute(node airflow.Node, height, cp float64) float64 {
	out := density(r.n, airflow.Outside)
	if node == airflow.Outside {
		return r.n.Outdoors.Pressure - out*9.80665*height + cp*0.5*out*r.n.Outdoors.Wind*r.n.Outdoors.Wind
	}
	return r.pressure[node] - density(r.n, node)*9.80665*(height-r.n.Zones[node].Floor)
}

// law is |dp|^n with the cubic below 0.001 Pa, found from its two conditions.
func law(dp, n float64) float64 {
	const low = 0.001
	if math.Abs(dp) >= low {
		return math.Copysign(math.Pow(math.Abs(dp), n), dp)
	}
	// a x + b x^3 with value low^n and slope n low^(n-1) at low.
	value, slope := math.Pow(low, n), n*math.Pow(low, n-1)
	b := (slope - value/low) / (2 * low * low)
	a := value/low - b*low*low
	return a*dp + b*dp*dp*dp
}

// link is the mass flow of a link, From to To.
func (r *reference) link(l airflow.Link) float64 {
	w := l.Law
	height, top := l.Height, l.Height
	switch w.Kind {
	case airflow.KindDoorway:
		height += w.Tall / 2
		top = height
	case airflow.KindVent:
		top = w.Top
	}
	dp := r.absolute(l.From, height, l.Cp) - r.absolute(l.To, top, l.Cp)
	if w.Kind == airflow.KindDuctLeak {
		dp += w.Drive
	}
	gas := r.n.Outdoors.Pressure / 287.042 / w.Temperature
	if w.Kind == airflow.KindVent {
		dp -= gas * 9.80665 * (top - height)
	}
	rho := density(r.n, l.To)
	if dp > 0 {
		rho = density(r.n, l.From)
	}
	switch w.Kind {
	case airflow.KindPowerLaw, airflow.KindDuctLeak:
		return rho * w.Coefficient * law(dp, w.Exponent)
	case airflow.KindOrifice:
		return w.Discharge * w.Area * math.Sqrt(2*rho) * law(dp, 0.5)
	case airflow.KindDoorway:
		return w.Discharge * w.Width * w.Tall * math.Sqrt(2*rho) * law(dp, 0.5)
	case airflow.KindVent:
		return w.Area * math.Sqrt(2*gas/(w.LossIn+w.LossOut)) * law(dp, 0.5)
	}
	panic("no such link here")
}

func (r *reference) fan(f airflow.Fan) float64 {
	flow := f.Flow
	if len(f.Curve) > 0 {
		head := r.absolute(f.To, f.Height, f.Cp) - r.absolute(f.From, f.Height, f.Cp)
		c := f.Curve
		head = min(max(head, c[0].Head), c[len(c)-1].Head)
		for i := 1; i < len(c); i++ {
			if head <= c[i].Head {
				part := (head - c[i-1].Head) / (c[i].Head - c[i-1].Head)
				flow = c[i-1].Flow*(1-part) + c[i].Flow*part
				break
			}
		}
	}
	return flow * density(r.n, f.From)
}

// outflow is the net outflow of a zone.
func (r *reference) outflow(zone airflow.Node) float64 {
	sum := 0.0
	add := func(from, to airflow.Node, mass func() float64) {
		if from == zone {
			sum += mass()
		} else if to == zone {
			sum -= mass()
		}
	}
	for _, l := range r.n.Links {
		add(l.From, l.To, func() float64 { return r.link(l) })
	}
	for _, f := range r.n.Fans {
		add(f.From, f.To, func() float64 { return r.fan(f) })
	}
	for _, a := range r.n.AirHandlers {
		total := 0.0
		for _, s := range a.Returns {
			mass := a.Flow * s.Fraction * density(r.n, s.Node)
			total += mass
			add(s.Node, airflow.Outside-1, func() float64 { return mass })
		}
		for _, s := range a.Supplies {
			add(airflow.Outside-1, s.Node, func() float64 { return total * s.Fraction })
		}
	}
	return sum
}

// balance finds the pressure of a zone, and in it those of all after it.
func (r *reference) balance(zone int) {
	if zone == len(r.pressure) {
		return
	}
	still := r.n.Outdoors.Pressure - density(r.n, airflow.Outside)*9.80665*r.n.Zones[zone].Floor
	at := func(gauge float64) float64 {
		r.pressure[zone] = still + gauge
		r.balance(zone + 1)
		return r.outflow(airflow.Node(zone))
	}
	// False position with the Illinois rule, and a bisection each third time.
	low, high := -1.0, 1.0
	fLow, fHigh := at(low), at(high)
	for fLow > 0 {
		high, fHigh = low, fLow
		low *= 4
		fLow = at(low)
	}
	for fHigh < 0 {
		low, fLow = high, fHigh
		high *= 4
		fHigh = at(high)
	}
	for i := 0; high-low > 1e-10; i++ {
		x := low - fLow*(high-low)/(fHigh-fLow)
		if i%3 == 2 || !(x > low && x < high) {
			x = (low + high) / 2
		}
		f := at(x)
		if f == 0 {
			return
		}
		if f > 0 {
			high, fHigh = x, f
			fLow /= 2
		} else {
			low, fLow = x, f
			fHigh /= 2
		}
	}
}

// 200 random networks of 1 to 4 zones: pressures agree to 1e-6 of the largest.
func TestAgainstBracketing(t *testing.T) {
	const networks = 200
	rng := newRandom(7)
	worst, kinds := 0.0, map[airflow.Kind]int{}
	for k := range networks {
		zones := 1 + k%3
		if k%25 == 0 { // the time grows some twentyfold with each zone
			zones = 4
		}
		n := airflowtest.Random(rng, airflowtest.Shape{Zones: zones})
		for _, l := range n.Links {
			kinds[l.Law.Kind]++
		}
		sol := solve(t, n)
		r := reference{n, make([]float64, len(n.Zones))}
		r.balance(0)
		top, off := 0.0, 0.0
		for i, p := range sol.Pressure {
			want := r.pressure[i] - r.absolute(airflow.Outside, n.Zones[i].Floor, 0)
			top, off = max(top, math.Abs(want)), max(off, math.Abs(p-want))
		}
		worst = max(worst, off/top)
		if !(off <= 1e-6*top) {
			t.Errorf("network %d of %d zones: %g Pa apart, largest %g Pa", k, len(n.Zones), off, top)
		}
	}
	t.Logf("%d networks, links by kind %v: %.2g of the largest pressure apart at most", networks, kinds, worst)
	for _, kind := range []airflow.Kind{airflow.KindPowerLaw, airflow.KindOrifice, airflow.KindDoorway, airflow.KindVent, airflow.KindDuctLeak} {
		if kinds[kind] < 10 {
			t.Errorf("only %d links of kind %d", kinds[kind], kind)
		}
	}
}

// Larger networks than bracketing can do: the reference's own laws find them
// balanced at the solver's pressures, in the sense that no zone's pressure is
// off by more than 1e-6 of the largest. The imbalance has to change sign within
// that distance.
func TestLargeAgainstReferenceLaws(t *testing.T) {
	rng := newRandom(8)
	for k := range 200 {
		n := airflowtest.Random(rng, airflowtest.Shape{Zones: 5 + k%10})
		sol := solve(t, n)
		r := reference{n, make([]float64, len(n.Zones))}
		top := 0.0
		for i, p := range sol.Pressure {
			r.pressure[i] = p + r.absolute(airflow.Outside, n.Zones[i].Floor, 0)
			top = max(top, math.Abs(p))
		}
		for i := range n.Zones {
			p := r.pressure[i]
			r.pressure[i] = p - 1e-6*top
			low := r.outflow(airflow.Node(i))
			r.pressure[i] = p + 1e-6*top
			high := r.outflow(airflow.Node(i))
			r.pressure[i] = p
			if !(low < 0 && high > 0) {
				t.Errorf("network %d zone %d at %g Pa: outflow %g just below and %g just above", k, i, sol.Pressure[i], low, high)
			}
		}
	}
}
