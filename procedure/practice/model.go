package practice

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strings"

	"cazward/procedure"
	"cazward/procedure/airflow"
	"cazward/procedure/reading"
)

// SwitchKind is what a switch turns.
type SwitchKind string

// Kinds of switch.
const (
	DoorSwitch       SwitchKind = "door"
	WindowSwitch     SwitchKind = "window"
	FanSwitch        SwitchKind = "fan"
	AirHandlerSwitch SwitchKind = "air handler"
	ApplianceSwitch  SwitchKind = "appliance"
	StandInSwitch    SwitchKind = "stand-in" // the fan that stands in for a lit fireplace, where the scheme asks for one
)

const (
	maxSwitches = 64 // bits of a Setting
	maxTried    = 20 // things that an exhaustive check turns: a million configurations
)

// Switch is a thing of the house that a state turns. At rest, together, they
// are the state of a baseline: doors open, windows shut, all else off.
type Switch struct {
	Name         string
	Kind         SwitchKind
	Rest, Turned string // the words for its two positions

	atRest, turned []int // links that are open in that position only
	fan, handler   int   // by Kind
	vents          []int // of an appliance
	tried          bool  // part of every configuration: not windows, burners and summer cooling fans
}

// Switches are the things that a state turns, in the order of [Setting]'s bits.
func (h *House) Switches() []Switch { return slices.Clone(h.switches) }

// Setting is a state of the house: a bit for each of [House.Switches], set
// where the thing is turned. The zero value is the state of a baseline.
type Setting uint64

// all is the setting with every switch of a kind turned.
func (h *House) all(k SwitchKind) Setting {
	var s Setting
	for i := range h.switches {
		if h.switches[i].Kind == k {
			s |= 1 << i
		}
	}
	return s
}

// ParseSetting reads "door=closed,fan=on". What it leaves out is at rest. The
// error names what is known.
func (h *House) ParseSetting(text string) (Setting, error) {
	var s, seen Setting
	if strings.TrimSpace(text) == "" {
		return 0, nil
	}
	for _, part := range strings.Split(text, ",") {
		name, position, ok := strings.Cut(strings.TrimSpace(part), "=")
		if !ok {
			return 0, &SettingError{fmt.Sprintf("%q is not name=position", part), "for example " + h.example()}
		}
		i := slices.IndexFunc(h.switches, func(w Switch) bool { return w.Name == name })
		if i < 0 {
			return 0, &SettingError{fmt.Sprintf("house %q has nothing called %q to set", h.Name, name), "known: " + h.known()}
		}
		w := &h.switches[i]
		if seen>>i&1 == 1 {
			return 0, &SettingError{fmt.Sprintf("%s is set twice", name), "set each thing once"}
		}
		seen |= 1 << i
		switch position {
		case w.Turned:
			s |= 1 << i
		case w.Rest:
		default:
			return 0, &SettingError{fmt.Sprintf("%s %q cannot be %q", w.Kind, name, position), fmt.Sprintf("%s=%s or %s=%s", name, w.Rest, name, w.Turned)}
		}
	}
	return s, nil
}

func (h *House) example() string {
	if len(h.switches) == 0 {
		return "nothing: this house has nothing to set"
	}
	return h.switches[0].Name + "=" + h.switches[0].Turned
}

func (h *House) known() string {
	var out []string
	for _, w := range h.switches {
		out = append(out, fmt.Sprintf("%s=%s|%s", w.Name, w.Rest, w.Turned))
	}
	if out == nil {
		return "none"
	}
	return strings.Join(out, " ")
}

// SettingError is a state that a house refuses.
type SettingError struct{ Text, hint string }

func (e *SettingError) Error() string { return e.Text }

// Hint is what to write instead.
func (e *SettingError) Hint() string { return e.hint }

// ExitCode of refused input.
func (e *SettingError) ExitCode() int { return 7 }

// FormatSetting writes each thing that a configuration turns, and whatever
// else is turned, so that [House.ParseSetting] reads it back.
func (h *House) FormatSetting(s Setting) string {
	var out []string
	for i, w := range h.switches {
		switch {
		case s>>i&1 == 1:
			out = append(out, w.Name+"="+w.Turned)
		case w.tried:
			out = append(out, w.Name+"="+w.Rest)
		}
	}
	return strings.Join(out, ",")
}

// Model is a house made ready to solve. It is for one goroutine.
type Model struct {
	house  *House
	solver *airflow.Solver
	state  airflow.State
	always Setting // turned in each configuration of a check, though not at its baseline
}

// Compile makes a house ready to solve. A house that was read whole never
// fails.
func (h *House) Compile() (*Model, error) {
	s, err := airflow.Compile(h.Network)
	if err != nil {
		return nil, err
	}
	m := &Model{house: h, solver: s, state: s.AsBuilt()}
	m.state.Columns = make([]float64, len(h.Network.Links))
	return m, nil
}

// sturdy is the largest pressure, in Pa, that a zone of a house may settle at:
// a hundred times what a blower door asks of one, and still too little to change
// the density of air by much. Own figure.
const sturdy = 5000

// ImpossibleError is a balance that no house could stand.
type ImpossibleError struct {
	Zone     string
	Pressure float64 // Pa
}

func (e *ImpossibleError) Error() string {
	return fmt.Sprintf("zone %q would settle at %s Pa, and no house stands more than %d", e.Zone, reading.Format(e.Pressure, 0), sturdy)
}

// Solve finds the balance of a setting; see [airflow.Solver.Solve]. One that no
// house could stand is an [ImpossibleError], and the solution then is refused.
func (m *Model) Solve(set Setting, sol *airflow.Solution) error {
	for i := range m.house.Vents {
		v := &m.house.Vents[i]
		m.state.Columns[v.Link] = v.Standing
	}
	for i := range m.house.switches {
		if w := &m.house.switches[i]; w.Kind == ApplianceSwitch && set>>i&1 == 1 {
			for _, v := range w.vents {
				m.state.Columns[m.house.Vents[v].Link] = m.house.Vents[v].Fired
			}
		}
	}
	return m.settle(set, sol)
}

// solveAt is Solve with columns, K, by position in the house's vents, as warm
// as they are just now.
func (m *Model) solveAt(set Setting, columns []float64, sol *airflow.Solution) error {
	for i := range m.house.Vents {
		m.state.Columns[m.house.Vents[i].Link] = columns[i]
	}
	return m.settle(set, sol)
}

// settle solves with the columns as they are.
func (m *Model) settle(set Setting, sol *airflow.Solution) error {
	for i := range m.house.switches {
		w := &m.house.switches[i]
		on := float64(set >> i & 1)
		for _, l := range w.atRest {
			m.state.Links[l] = 1 - on
		}
		for _, l := range w.turned {
			m.state.Links[l] = on
		}
		switch w.Kind {
		case FanSwitch, StandInSwitch:
			m.state.Fans[w.fan] = on
		case AirHandlerSwitch:
			m.state.AirHandlers[w.handler] = on
		case DoorSwitch, WindowSwitch, ApplianceSwitch:
		}
	}
	if err := m.solver.Solve(m.state, sol); err != nil {
		return err
	}
	for i, p := range sol.Pressure {
		if !(math.Abs(p) <= sturdy) {
			*sol = airflow.Solution{Status: airflow.Refused}
			return &ImpossibleError{m.house.Network.Zones[i].Name, p}
		}
	}
	return nil
}

// Seal takes a part, 0 to below 1, off the leaks of the shell: the links to the
// outdoors with a flow exponent of their own. Orifices and doorways among the
// links are openings made on purpose and stay, as do windows, vents, and what
// fans blow through. It holds for what is solved afterwards; 0 undoes it.
func (m *Model) Seal(part float64) error {
	if !(part >= 0 && part < 1) {
		return &SettingError{fmt.Sprintf("sealing %s %% of the leaks is refused", reading.Format(part*100, -1)), "give 0 or more and less than 100 percent"}
	}
	for _, i := range m.house.leaks {
		m.state.Links[i] = 1 - part
	}
	return nil
}

// InForce reports whether a link of the network has a part in a setting: a
// door's closed leak has none while the door is open.
func (m *Model) InForce(link int) bool { return m.state.Links[link] > 0 }

// Density of the air of a node, kg/m3.
func (m *Model) Density(n airflow.Node) float64 {
	out := &m.house.Network.Outdoors
	if n == airflow.Outside {
		return airflow.Density(out.Pressure, out.Temperature)
	}
	return airflow.Density(out.Pressure, m.house.Network.Zones[n].Temperature)
}

// Worst is the lowest net pressure of a combustion appliance zone.
type Worst struct {
	Zone     string
	Setting  Setting
	Baseline float64 // Pa, with everything at rest
	Net      float64 // Pa, over that baseline
	Costs    []Cost
}

// Cost is what turning back one thing of the worst setting does.
type Cost struct {
	Name     string
	Position string  // in the worst setting
	Net      float64 // Pa, with that thing alone the other way
}

// DraftCheck is an appliance by itself in the worst setting of its zone and
// with the house at rest.
type DraftCheck struct {
	Appliance    string
	Vent         string
	Susceptible  bool
	ColdDown     bool    // with burners off, air comes down its vent at worst case
	Worst        float64 // Pa, draft with this burner alone in steady operation, at worst case: negative draws
	Natural      float64 // Pa, the same with the house at rest
	SpillsWorst  bool    // the flow is into the zone
	SpillsAtRest bool
}

// Extreme is what an exhaustive check of a house finds.
type Extreme struct {
	Status         airflow.Status
	Configurations int     // that were solved
	Worst          Worst   // the lowest of Zones
	Zones          []Worst // each combustion appliance zone, in the order of the file
	Drafts         []DraftCheck
	Failed         Setting // the setting without a balance, if Status is not Converged
}

// near is how many Pa count as the same: of settings that near to the lowest,
// the one with the fewest things turned is told. It is rounding, no more.
const near = 1e-9

// tried are the switches that make the configurations of a house.
func (h *House) tried() ([]int, error) {
	var out []int
	for i := range h.switches {
		if h.switches[i].tried {
			out = append(out, i)
		}
	}
	if len(out) > maxTried {
		return nil, &SettingError{fmt.Sprintf("house %q has %d doors, fans and air handlers: more than %d make too many configurations", h.Name, len(out), maxTried),
			"look at single states with --state"}
	}
	return out, nil
}

// Check solves every configuration: each way to set interior doors, fans and
// air handlers, with windows shut and burners off, the summer cooling fan
// never run. Numbers hold only when the Status is Converged and err is nil.
// It stops with the context's error once that is done.
func (m *Model) Check(ctx context.Context) (Extreme, error) {
	h := m.house
	tried, err := h.tried()
	if err != nil {
		return Extreme{}, err
	}
	var caz []int
	for i := range h.Zones {
		if h.Zones[i].CAZ {
			caz = append(caz, i)
		}
	}
	e := Extreme{}
	var sol airflow.Solution
	if err := m.Solve(Off, &sol); err != nil {
		return Extreme{Status: sol.Status}, err
	}
	rest := slices.Clone(sol.Pressure)
	count := 1 << len(tried)
	pressures := make([]float64, 0, count*len(caz))
	for k := range count {
		if k%256 == 0 && ctx.Err() != nil {
			return Extreme{Configurations: k}, ctx.Err()
		}
		set := setting(tried, k) | m.always
		if err := m.Solve(set, &sol); err != nil {
			e = Extreme{Status: sol.Status, Configurations: k, Failed: set}
			return e, err
		}
		for _, z := range caz {
			pressures = append(pressures, sol.Pressure[z])
		}
	}
	e.Configurations = count
	for i, z := range caz {
		base, lowest := rest[z], math.Inf(1)
		for k := range count {
			lowest = min(lowest, pressures[k*len(caz)+i])
		}
		best := -1
		for k := range count {
			if pressures[k*len(caz)+i] <= lowest+near && (best < 0 || bits.OnesCount(uint(k)) < bits.OnesCount(uint(best))) {
				best = k
			}
		}
		w := Worst{Zone: h.Zones[z].Name, Setting: setting(tried, best) | m.always, Baseline: base, Net: pressures[best*len(caz)+i] - base}
		for b, t := range tried {
			other := pressures[(best^1<<b)*len(caz)+i] - base
			position := h.switches[t].Rest
			if best>>b&1 == 1 {
				position = h.switches[t].Turned
			}
			w.Costs = append(w.Costs, Cost{h.switches[t].Name, position, other})
		}
		e.Zones = append(e.Zones, w)
		if i == 0 || w.Net < e.Worst.Net {
			e.Worst = w
		}
	}
	if err := m.drafts(&e, &sol); err != nil {
		return Extreme{Status: sol.Status, Configurations: count}, err
	}
	e.Status = airflow.Converged
	return e, nil
}

func setting(tried []int, k int) Setting {
	var s Setting
	for b, t := range tried {
		s |= Setting(k>>b&1) << t
	}
	return s
}

func (m *Model) drafts(e *Extreme, sol *airflow.Solution) error {
	h := m.house
	for i := range h.Appliances {
		a := &h.Appliances[i]
		if len(a.Vents) == 0 {
			continue
		}
		at := slices.IndexFunc(e.Zones, func(w Worst) bool { return w.Zone == a.Zone })
		if at < 0 {
			continue
		}
		fire := Setting(1) << slices.IndexFunc(h.switches, func(w Switch) bool { return w.Kind == ApplianceSwitch && w.Name == a.ID })
		v := &h.Vents[a.Vents[0]]
		d := DraftCheck{Appliance: a.ID, Vent: v.Name, Susceptible: a.Susceptible() != procedure.No}
		worst := e.Zones[at].Setting
		if err := m.Solve(worst, sol); err != nil {
			return err
		}
		d.ColdDown = sol.Links[v.Link].Mass < 0
		if err := m.Solve(worst|fire, sol); err != nil {
			return err
		}
		d.Worst, d.SpillsWorst = sol.Links[v.Link].Draft, sol.Links[v.Link].Mass < 0
		if err := m.Solve(fire, sol); err != nil {
			return err
		}
		d.Natural, d.SpillsAtRest = sol.Links[v.Link].Draft, sol.Links[v.Link].Mass < 0
		e.Drafts = append(e.Drafts, d)
	}
	return nil
}

// IsNotConverged reports whether an error of [Model] says that a setting has
// no balance, as against a refused one.
func IsNotConverged(err error) bool {
	var c *airflow.ConvergenceError
	return errors.As(err, &c)
}
