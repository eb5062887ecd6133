package practice

import (
	"slices"

	"cazward/procedure/airflow"
)

// Survey is a house in every configuration of its doors, fans and air handlers:
// what [Model.Check] finds the worst of, kept whole, so that any way of searching
// can be tried on it. A configuration is a number with a bit for each of Tried.
type Survey struct {
	Tried    []Switch
	Pressure []float64   // Pa of the zone, by configuration
	Into     [][]float64 // by door (as in Tried), by configuration: Pa across its gap, above zero where air goes into the room behind; only where it is shut
}

// Survey solves every configuration as [Model.Check] does, for one zone.
func (m *Model) Survey(zone string) (*Survey, error) {
	h := m.house
	z := slices.IndexFunc(h.Zones, func(x Zone) bool { return x.Name == zone })
	if z < 0 {
		return nil, &SettingError{"house " + h.Name + " has no zone called " + zone, "name one of its zones"}
	}
	tried, err := h.tried()
	if err != nil {
		return nil, err
	}
	s := &Survey{}
	for _, i := range tried {
		s.Tried = append(s.Tried, h.switches[i])
	}
	count := 1 << len(tried)
	s.Pressure, s.Into = make([]float64, count), make([][]float64, len(tried))
	sign := make([]float64, len(tried))
	for b, t := range tried {
		if h.switches[t].Kind != DoorSwitch {
			continue
		}
		s.Into[b], sign[b] = make([]float64, count), 1
		if h.behind(t, z) == h.Network.Links[h.switches[t].turned[0]].From {
			sign[b] = -1
		}
	}
	var sol airflow.Solution
	for k := range count {
		if err := m.Solve(setting(tried, k), &sol); err != nil {
			return nil, err
		}
		s.Pressure[k] = sol.Pressure[z]
		for b, t := range tried {
			if sign[b] != 0 && k>>b&1 == 1 {
				s.Into[b][k] = sign[b] * sol.Links[h.switches[t].turned[0]].DP
			}
		}
	}
	return s, nil
}

// Swing is how far, one standard deviation, the gusts of the day move a zone of
// the house at rest, Pa; as the gauge of a [Play] shows it.
func (h *House) Swing(zone string) (float64, error) {
	p, err := h.Begin(0, Gauges[0])
	if err != nil {
		return 0, err
	}
	i := p.zone(zone)
	return p.wind(func(s *airflow.Solution) float64 { return s.Pressure[i] })
}
