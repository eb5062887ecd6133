package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"cazward/procedure"
	"cazward/procedure/practice"
	"cazward/procedure/sequence"
)

// Noise is what stands between a house and what its tester reads.
type Noise string

// Still is a perfect gauge on a windless day; Windy the usual practice gauge, and
// the gusts of the house's own day.
const (
	Still Noise = "still"
	Windy Noise = "windy"
)

// Figures of noise, own figures: a gust comes slowly next to five quick values,
// so part of it moves them all; smoke at an inside door feels part of the gusts,
// and smoke that does not move has less than dead pascals across its gap.
const (
	quick     = 5
	slowPart  = 0.5
	smokePart = 0.2
	dead      = 0.05
	needle    = 0.6 // of the resolution, as in a practice house
	// calm is the swing, Pa, at which five quick values spread by the 1 Pa that
	// schemes allow, on average: of more, the walk has the reading taken again, and
	// the tester waits for a lull.
	calm = 1 / 2.33
)

// Subject is a house ready to be walked by any plan.
type Subject struct {
	House  *practice.House
	Survey *practice.Survey
	Zone   string
	Swing  float64 // Pa, of the zone in the gusts of the day
	Worst  float64 // Pa, net of the true worst case
	seed   uint64
	number uint64
	bit    map[string]int // thing -> its bit of a configuration
}

// NewSubject draws a house and solves it in each configuration.
func NewSubject(seed, number uint64) (*Subject, error) {
	h := practice.Random(seed, number)
	s := &Subject{House: h, seed: seed, number: number, bit: map[string]int{}}
	for _, z := range h.Zones {
		if z.CAZ {
			s.Zone = z.Name
		}
	}
	m, err := h.Compile()
	if err != nil {
		return nil, fmt.Errorf("study: house %d of seed %d: %w", number, seed, err)
	}
	if s.Survey, err = m.Survey(s.Zone); err != nil {
		return nil, fmt.Errorf("study: house %d of seed %d: %w", number, seed, err)
	}
	if s.Swing, err = h.Swing(s.Zone); err != nil {
		return nil, fmt.Errorf("study: house %d of seed %d: %w", number, seed, err)
	}
	s.Swing = min(s.Swing, calm)
	for b, w := range s.Survey.Tried {
		s.bit[w.Name] = b
	}
	s.Worst = slices.Min(s.Survey.Pressure) - s.Survey.Pressure[0]
	return s, nil
}

// Walked is what one walk of a search came to. Nets are pascals.
type Walked struct {
	Found    float64 // true net of the lowest configuration that was read
	Held     float64 // true net of the configuration that was held
	Net      float64 // as the walk judges it: the most negative difference that the gauge showed
	U        float64 // its give-or-take
	Readings int     // pressures read in the search, suggested ones among them
	Extra    int     // suggested ones that were read
	Config   int     // that was held
	Read     []int   // configurations read, in order
}

// Begin is the record of a test of the house, as far as its lists.
func (s *Subject) Begin(plan procedure.Plan) (*sequence.State, error) {
	st := sequence.Start(procedure.Header{Record: s.House.Name, Home: s.House.Title, Phase: procedure.TestIn}, plan)
	roster := func(items ...procedure.RosterItem) *procedure.Answer {
		if items == nil {
			items = []procedure.RosterItem{}
		}
		return &procedure.Answer{Roster: &procedure.Roster{Items: items}}
	}
	type fact struct {
		key string
		d   procedure.Data
	}
	var facts []fact
	add := func(key string, d procedure.Data) { facts = append(facts, fact{key, d}) }
	var appliances, fans, doors, air []procedure.RosterItem
	for i := range s.House.Appliances {
		a := &s.House.Appliances[i]
		appliances = append(appliances, procedure.RosterItem{ID: a.ID, Kind: string(a.Kind)})
	}
	for _, f := range s.House.Fans {
		fans = append(fans, procedure.RosterItem{ID: f.Name, Kind: string(f.Kind)})
	}
	door := "no-door"
	for _, d := range s.House.Doors {
		if d.CAZ == "" {
			doors = append(doors, procedure.RosterItem{ID: d.Name, Kind: string(d.Kind)})
		} else {
			door = "door"
			if s.House.Zones[slices.IndexFunc(s.House.Zones, func(z practice.Zone) bool { return z.CAZ })].Louvred == procedure.Yes {
				door = "louvred"
			}
		}
	}
	for _, n := range s.House.AirHandlers {
		air = append(air, procedure.RosterItem{ID: n, Kind: "air-handler"})
	}
	add("list/appliances", roster(appliances...))
	for i := range s.House.Appliances {
		a := &s.House.Appliances[i]
		b := a.Burner
		add("appliance/"+a.ID+"/burner", &procedure.Answer{Burner: &b})
	}
	add("list/zones", roster(procedure.RosterItem{ID: s.Zone, Kind: s.Zone}))
	add("zone/"+s.Zone+"/door", &procedure.Answer{Choice: door})
	for i := range s.House.Appliances {
		a := &s.House.Appliances[i]
		add("appliance/"+a.ID+"/vent", &procedure.Answer{Choice: string(a.Vent.Type)})
		if a.Vent.Type == procedure.FanAssisted || a.Vent.Type == procedure.PowerVented {
			add("appliance/"+a.ID+"/category", &procedure.Answer{Choice: string(a.Vent.Category)})
		}
		f := a.Facts
		add("appliance/"+a.ID+"/facts", &procedure.Answer{VentFacts: &f})
	}
	for i := range s.House.Appliances {
		if a := &s.House.Appliances[i]; len(a.Partners) > 0 {
			add("appliance/"+a.ID+"/partners", &procedure.Answer{Names: &procedure.Names{IDs: a.Partners}})
		}
	}
	add("list/fans", roster(fans...))
	add("list/doors", roster(doors...))
	add("list/airhandlers", roster(air...))
	var err error
	for _, f := range facts {
		if st, err = keep(st, f.key, f.d); err != nil {
			return nil, fmt.Errorf("study: %s: %s: %w", s.House.Name, f.key, err)
		}
	}
	return st, nil
}

func keep(st *sequence.State, key string, d procedure.Data) (*sequence.State, error) {
	return st.Apply(procedure.Event{N: st.Last() + 1, Kind: d.EventKind(), Step: key, Src: procedure.FromDrill, Data: d})
}

// Configuration of a set-up: the bits of the survey.
func (s *Subject) Configuration(su procedure.Setup) int {
	k := 0
	for _, list := range [][]string{su.Fans, su.Doors, su.AirHandler} {
		for _, id := range list {
			k |= 1 << s.bit[id]
		}
	}
	if b, ok := s.bit["caz-door"]; ok && su.CAZDoor == "closed" {
		k |= 1 << b
	}
	return k
}

// Searched are the stages from the baseline to the held worst case.
var Searched = []procedure.StageID{procedure.StageBaseline, procedure.StageFans, procedure.StageDoors, procedure.StageAirHandler, procedure.StageCAZDoor, procedure.StageWorst}

// tester reads a house with noise.
type tester struct {
	*Subject
	*rand.Rand
	noise         Noise
	offset, scale float64
}

func (s *Subject) tester(noise Noise) *tester {
	// The same luck for each plan, so that plans differ by what they ask.
	t := &tester{Subject: s, Rand: rand.New(rand.NewPCG(s.seed^0x9e3779b97f4a7c15, s.number)), noise: noise, scale: 1}
	g := practice.Gauges[0]
	t.offset = g.Accuracy * (2*t.Float64() - 1)
	if noise == Windy {
		t.scale = 1 + g.Percent/100*(2*t.Float64()-1)
	}
	return t
}

// read the zone: quick values, pascals.
func (t *tester) read(k int) []float64 {
	p, out := t.Survey.Pressure[k], make([]float64, quick)
	g, slow := practice.Gauges[0], 0.0
	if t.noise == Windy {
		slow = slowPart * t.Swing * t.NormFloat64()
	}
	for i := range out {
		out[i] = p
		if t.noise == Windy {
			v := (p+slow+t.Swing*t.NormFloat64())*t.scale + t.offset + needle*g.Resolution*t.NormFloat64()
			out[i] = math.Round(v/g.Resolution) * g.Resolution
		}
	}
	return out
}

// doors answers the table of inside doors, each shut by itself with all else as
// the step has it.
func (t *tester) doors(step procedure.Step, id string) string {
	b, k := t.bit[id], t.Configuration(*step.Setup)
	gust := 0.0
	if t.noise == Windy {
		gust = t.Swing * t.NormFloat64()
	}
	if strings.HasPrefix(step.Ask, "doors.pressure") {
		switch d := t.Survey.Pressure[k|1<<b] - t.Survey.Pressure[k&^(1<<b)] + slowPart*gust; {
		case d < -dead:
			return "lower"
		case d > dead:
			return "higher"
		}
		return "same"
	}
	switch d := t.Survey.Into[b][k|1<<b] + smokePart*gust; {
	case d > dead:
		return "into-room"
	case d < -dead:
		return "toward-zone"
	}
	return "still"
}

// Walk does what the plan asks, from its baseline to the held worst case. begun
// is what [Subject.Begin] gave for the plan.
func (s *Subject) Walk(begun *sequence.State, noise Noise) (Walked, error) {
	t, st, w := s.tester(noise), begun, Walked{}
	var base []float64
	lowest := math.Inf(1)
	for range 200 {
		step, ok := st.NextFor(s.Zone, Searched...)
		if !ok || step.ID == "settle/"+s.Zone {
			break
		}
		var err error
		switch step.Form {
		case procedure.FormSetup:
			su := step.Setup.Clone()
			st, err = keep(st, step.ID, &su)
		case procedure.FormTable:
			for _, it := range step.Items {
				if err == nil {
					st, err = keep(st, it.Key, &procedure.Answer{Choice: t.doors(step, it.Key[strings.LastIndexByte(it.Key, '/')+1:])})
				}
			}
		case procedure.FormPressure:
			k := s.Configuration(*step.Setup)
			v := t.read(k)
			st, err = keep(st, step.ID, &procedure.Answer{Pressure: &procedure.Pressure{Samples: v, Unit: "Pa", Setup: step.SetupN}})
			switch step.ID {
			case "baseline/" + s.Zone:
				base = v
				continue
			case "reading/" + s.Zone + "/worst":
				w.Held, w.Config = s.Survey.Pressure[k]-s.Survey.Pressure[0], k
			default:
				w.Readings++
				w.Read = append(w.Read, k)
				if strings.HasPrefix(step.ID, "reading/"+s.Zone+"/more") {
					w.Extra++
				}
			}
			w.Found = min(w.Found, s.Survey.Pressure[k]-s.Survey.Pressure[0])
			if net := procedure.MeanOf(v) - procedure.MeanOf(base); net < lowest {
				lowest, w.Net = net, net
				w.U = procedure.NetU(procedure.PressureObs{Values: v}, procedure.PressureObs{Values: base}, 0, nil, st.Plan().Constants)
			}
		case procedure.FormChoice: // what is suggested is read
			st, err = keep(st, step.ID, &procedure.Answer{Choice: step.Choices[0]})
		default:
			return w, fmt.Errorf("study: %s: nobody answers %s (%s)", s.House.Name, step.ID, step.Form)
		}
		if err != nil {
			return w, fmt.Errorf("study: %s: %s: %w", s.House.Name, step.ID, err)
		}
	}
	if base == nil || math.IsInf(lowest, 1) {
		return w, fmt.Errorf("study: %s: the walk held nothing", s.House.Name)
	}
	return w, nil
}
