package practice

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"cazward/procedure/airflow"
	"cazward/procedure/reading"
)

// Tightening says what sealing the shell of a house does to its combustion
// appliance zones, by the airflow network: see [House.Tighten].
type Tightening struct {
	house    *House
	models   map[float64]*Model // by shift of the exponents
	settings map[string][]Setting
	scales   []float64 // of the leaks, ascending
	flows    []float64 // cfm at 50 Pa at each of scales
	exponent float64
}

// mostLeaks is how many times its leaks a house is ever given: a model is
// built that leaky and sealed down from there.
const mostLeaks = 20

// ShiftExponent is how far [Tightening.Net] can shift the exponents.
const ShiftExponent = 0.05

// Tighten makes a house ready to be asked for the net pressure of its zones at
// any tightness. It runs a blower door (inside doors open, windows shut, fans
// off, its largest zone 50 Pa lower than at rest) to find which flow at 50 Pa
// goes with which size of leaks, and the worst set-up of each zone at a range
// of tightness, because another one can become the worst. Errors are those of
// [Model.Check]; a house without leaks, or that no fan brings to 50 Pa, is
// refused.
func (h *House) Tighten(ctx context.Context) (*Tightening, error) {
	t := &Tightening{house: h, models: map[float64]*Model{}, settings: map[string][]Setting{}}
	if len(h.leaks) == 0 {
		return nil, &SettingError{fmt.Sprintf("house %q has no leaks to seal", h.Name), "give it links to the outdoors with a flow exponent"}
	}
	for _, shift := range []float64{-ShiftExponent, 0, ShiftExponent} {
		m, err := h.leaky(shift).Compile()
		if err != nil {
			return nil, err
		}
		t.models[shift] = m
	}
	sum, weighted := 0.0, 0.0
	for _, i := range h.leaks {
		law := h.Network.Links[i].Law
		q := at50(law)
		sum, weighted = sum+q, weighted+q*law.Exponent
	}
	t.exponent = weighted / sum
	if err := t.blow(); err != nil {
		return nil, err
	}
	m := t.models[0]
	for _, scale := range []float64{1, 0.7, 0.4, 2} {
		if err := m.Seal(1 - scale/mostLeaks); err != nil {
			return nil, err
		}
		e, err := m.Check(ctx)
		if err != nil {
			return nil, err
		}
		for _, w := range e.Zones {
			if !slices.Contains(t.settings[w.Zone], w.Setting) {
				t.settings[w.Zone] = append(t.settings[w.Zone], w.Setting)
			}
		}
	}
	return t, nil
}

// leaky is the house with mostLeaks times its leaks, their exponents shifted
// with the flow at 50 Pa as it was.
func (h *House) leaky(shift float64) *House {
	x := *h
	x.Network.Links = slices.Clone(h.Network.Links)
	for _, i := range h.leaks {
		law := &x.Network.Links[i].Law
		n := math.Min(1, math.Max(0.5, law.Exponent+shift))
		per := 50.0
		if law.Kind == airflow.KindLeakageArea {
			per = 50 / law.Reference
		}
		k := mostLeaks * math.Pow(per, law.Exponent-n)
		law.Coefficient, law.Area, law.Exponent = law.Coefficient*k, law.Area*k, n
	}
	return &x
}

// at50 is the flow of a leak at 50 Pa, m3/s.
func at50(l airflow.Law) float64 {
	switch l.Kind {
	case airflow.KindLeakageArea:
		return l.Discharge * l.Area * math.Sqrt(2*l.Reference/airflow.StandardDensity) * math.Pow(50/l.Reference, l.Exponent)
	case airflow.KindMassPowerLaw:
		return l.Coefficient * math.Pow(50, l.Exponent) / airflow.StandardDensity
	}
	return l.Coefficient * math.Pow(50, l.Exponent)
}

// blow finds the flow at 50 Pa at each of the scales.
func (t *Tightening) blow() error {
	x := t.house.leaky(0)
	zone := 0
	for i, z := range x.Zones {
		if z.Volume > x.Zones[zone].Volume {
			zone = i
		}
	}
	const most = 50.0 // m3/s, more than any house asks of a fan
	x.Network.Fans = append(slices.Clone(x.Network.Fans), airflow.Fan{Name: "blower door of the forecast", From: airflow.Node(zone), To: airflow.Outside, Flow: most})
	m, err := x.Compile()
	if err != nil {
		return err
	}
	door := len(x.Network.Fans) - 1
	var sol airflow.Solution
	pressure := func(speed float64) (float64, error) {
		m.state.Fans[door] = speed
		err := m.Solve(0, &sol)
		var burst *ImpossibleError
		if errors.As(err, &burst) {
			return -sturdy, nil
		}
		if err != nil {
			return 0, err
		}
		return sol.Pressure[zone], nil
	}
	for _, scale := range []float64{0.001, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.85, 1, 1.2, 1.6, 2.5, 5, 10, mostLeaks} {
		if err := m.Seal(1 - scale/mostLeaks); err != nil {
			return err
		}
		rest, err := pressure(0)
		if err != nil {
			return err
		}
		low, high := 0.0, 1.0
		if full, err := pressure(1); err != nil {
			return err
		} else if full > rest-50 {
			if len(t.scales) > 3 && scale > 2 { // leaky enough
				break
			}
			return &SettingError{fmt.Sprintf("house %q cannot be brought to 50 Pa: its openings are those of no house", t.house.Name), "look at the sizes of its links, vents and closed fans"}
		}
		for range 50 {
			mid := (low + high) / 2
			p, err := pressure(mid)
			if err != nil {
				return err
			}
			if p > rest-50 {
				low = mid
			} else {
				high = mid
			}
		}
		t.scales, t.flows = append(t.scales, scale), append(t.flows, high*most/airflow.CFM)
	}
	return nil
}

// CFM50 is the flow at 50 Pa of the house as its file has it.
func (t *Tightening) CFM50() reading.Flow { return reading.Flow(t.flows[slices.Index(t.scales, 1)]) }

// Least is the flow at 50 Pa of what sealing does not touch: vents, fans that
// are off, openings made on purpose.
func (t *Tightening) Least() reading.Flow { return reading.Flow(t.flows[0]) }

// Exponent is that of the leaks, weighed by their flow at 50 Pa.
func (t *Tightening) Exponent() float64 { return math.Round(t.exponent*1e6) / 1e6 }

// Zones are the combustion appliance zones, in the order of the file.
func (t *Tightening) Zones() []string {
	var out []string
	for _, z := range t.house.Zones {
		if z.CAZ {
			out = append(out, z.Name)
		}
	}
	return out
}

// scale of the leaks that goes with a flow at 50 Pa: between the flows that
// were blown the flow is all but proportional to the leaks.
func (t *Tightening) scale(cfm50 float64) float64 {
	n := len(t.flows)
	if cfm50 <= t.flows[0] {
		return t.scales[0]
	}
	i := min(n-1, max(1, slices.IndexFunc(t.flows, func(q float64) bool { return q >= cfm50 })))
	if cfm50 > t.flows[n-1] {
		i = n - 1
	}
	k := (cfm50 - t.flows[i-1]) / (t.flows[i] - t.flows[i-1])
	return math.Min(mostLeaks, t.scales[i-1]+k*(t.scales[i]-t.scales[i-1]))
}

// Net is the net pressure of a zone, Pa, at the worst of its set-ups, with the
// leaks that give a flow at 50 Pa and with their exponents shifted by
// [ShiftExponent] up, down (by the sign of shift) or not at all. Not a number
// where the network has no balance.
func (t *Tightening) Net(zone string, cfm50 reading.Flow, shift float64) reading.Pressure {
	at := 0.0
	if shift != 0 {
		at = math.Copysign(ShiftExponent, shift)
	}
	m, i := t.models[at], slices.IndexFunc(t.house.Zones, func(z Zone) bool { return z.Name == zone })
	if i < 0 || m.Seal(1-t.scale(float64(cfm50))/mostLeaks) != nil {
		return reading.Pressure(math.NaN())
	}
	var sol airflow.Solution
	solve := func(s Setting) float64 {
		err := m.Solve(s, &sol)
		var burst *ImpossibleError
		switch {
		case errors.As(err, &burst):
			return -sturdy
		case err != nil:
			return math.NaN()
		}
		return sol.Pressure[i]
	}
	rest, lowest := solve(0), math.Inf(1)
	for _, s := range t.settings[zone] {
		lowest = math.Min(lowest, solve(s)) // math.Min keeps NaN
	}
	return reading.Pressure(lowest - rest)
}
