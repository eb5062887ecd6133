package practice

import (
	"hash/fnv"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"time"

	"cazward/procedure"
	"cazward/procedure/airflow"
	"cazward/procedure/wording"
)

// Gauge is a pressure gauge that a practice house is read with. Invented.
type Gauge struct {
	Name       string
	Resolution float64 // Pa, of the display
	Accuracy   float64 // Pa, bound of the offset that one gauge has for good
	Percent    float64 // of the reading, bound likewise
	Settle     float64 // s, time constant of the display after a change
}

// Gauges to choose from, the usual one first. Append-only: records name them.
var Gauges = []Gauge{
	{"usual", 0.1, 0.25, 1, 2},
	{"fine", 0.1, 0.1, 0.5, 1},
	{"coarse", 1, 1, 2, 5},
}

// GaugeNamed finds a gauge; false when none has the name.
func GaugeNamed(name string) (Gauge, bool) {
	i := slices.IndexFunc(Gauges, func(g Gauge) bool { return g.Name == name })
	if i < 0 {
		return Gauge{}, false
	}
	return Gauges[i], true
}

// Figures of the simulation, own figures unless said.
const (
	walkBack  = 5.0   // s that pass between setting the house and reading the gauge
	apart     = 2.0   // s between two quick samples
	watched   = 300.0 // s that a light-off is watched for
	coolMin   = 8.0   // min, time constant of a vent that cools
	warmMin   = 2.0   // min that a vent takes to warm where the file does not say
	wrongWay  = 2.0   // times as long that it takes while air comes down it
	startCO   = 0.6   // part of the steady CO that is not there yet at light-off,
	startMin  = 1.5   // and the time constant, min, with which it comes
	fluctuate = 0.1   // least part of the velocity pressure of gusts that a zone feels
	jointVol  = 0.05  // m3 of gas where vents meet
	needle    = 0.6   // of its resolution: scatter of the gauge itself
)

// Play is a practice house as it truly stands while somebody tests it: what is
// set how, how warm its vents are, what is in its air, and what instruments
// therefore show. It has no clock and no randomness of its own: times are given
// and noise comes from the seed, so the same record gives the same readings.
// It is for one goroutine.
type Play struct {
	house *House
	seed  int64
	gauge Gauge
	lang  wording.Lang
	model *Model
	winds [2]*Model // in a lull and in a gust, one standard deviation either way

	set     Setting
	at      time.Time
	begun   bool
	changed time.Time // when something was turned last
	before  []float64 // Pa of each zone then
	columns []float64 // K of each vent
	co      []float64 // ppm above outdoors at each node
	sol     airflow.Solution
	stale   bool // columns or setting changed since sol

	lit   map[int]time.Time // appliance -> light-off, of those that burn
	off   map[int]time.Time // appliance -> when its burner went off
	spilt map[int]float64   // appliance -> s that its last light-off spilled; watched or more: it never stopped
	first bool              // one second a step, for timing a light-off
	once  bool              // a reading has one noise, however often it is taken
}

// Begin stands a house as it is on arrival.
func (h *House) Begin(seed int64, g Gauge) (*Play, error) {
	p := &Play{house: h, seed: seed, gauge: g, set: h.Arrival, lit: map[int]time.Time{}, off: map[int]time.Time{}, spilt: map[int]float64{}, stale: true}
	var err error
	if p.model, err = h.Compile(); err != nil {
		return nil, err
	}
	// A gust is taken as two standard deviations above the mean wind (own figure).
	for i, sign := range []float64{-1, 1} {
		w := *h
		w.Network.Outdoors.Wind = max(0, h.Network.Outdoors.Wind+sign*h.Gust/2)
		if p.winds[i], err = w.Compile(); err != nil {
			return nil, err
		}
	}
	for i := range h.Vents {
		p.columns = append(p.columns, h.Vents[i].Standing)
	}
	p.co = make([]float64, len(h.Network.Zones))
	if err := p.balance(); err != nil {
		return nil, err
	}
	p.before = slices.Clone(p.sol.Pressure)
	return p, nil
}

// House that is played.
func (p *Play) House() *House { return p.house }

// Setting is how the house truly stands.
func (p *Play) Setting() Setting { return p.set }

// Gauge that it is read with.
func (p *Play) Gauge() Gauge { return p.gauge }

// Position words of every thing, for a house event.
func (h *House) Positions(s Setting) map[string]string {
	out := map[string]string{}
	for i, w := range h.switches {
		out[w.Name] = w.Rest
		if s>>i&1 == 1 {
			out[w.Name] = w.Turned
		}
	}
	return out
}

// FromPositions reads what [House.Positions] wrote; names that it does not
// know are passed over.
func (h *House) FromPositions(m map[string]string) Setting {
	var s Setting
	for i, w := range h.switches {
		if m[w.Name] == w.Turned {
			s |= 1 << i
		}
	}
	return s
}

// Turn sets the house at a time, which never goes back. What burns from now on
// is lit then.
func (p *Play) Turn(s Setting, at time.Time) error {
	if err := p.advance(at); err != nil {
		return err
	}
	if s == p.set {
		return nil
	}
	p.before = slices.Clone(p.sol.Pressure)
	was := p.set
	p.set, p.changed, p.stale = s, at, true
	if err := p.balance(); err != nil {
		return err
	}
	for i := range p.house.Appliances {
		bit := p.house.burner(i)
		switch {
		case bit == 0:
		case s&bit != 0 && was&bit == 0:
			p.lit[i] = at
			delete(p.off, i)
		case s&bit == 0 && was&bit != 0:
			delete(p.lit, i)
			p.off[i] = at
		}
	}
	for i := range p.house.Appliances {
		if bit := p.house.burner(i); bit != 0 && s&bit != 0 && was&bit == 0 {
			t, err := p.timeSpill(i)
			if err != nil {
				return err
			}
			p.spilt[i] = t
		}
	}
	return nil
}

// burner is the bit of an appliance's burner, 0 for one that is not lit here.
func (h *House) burner(appliance int) Setting {
	for i := range h.switches {
		if h.switches[i].Kind == ApplianceSwitch && h.switches[i].Name == h.Appliances[appliance].ID {
			return 1 << i
		}
	}
	return 0
}

// At is the house at a later time, with nothing turned since. The receiver
// stays as it is.
func (p *Play) At(now time.Time) (*Play, error) {
	c := p.clone()
	if err := c.advance(now); err != nil {
		return nil, err
	}
	return c, nil
}

func (p *Play) clone() *Play {
	c := *p
	c.before, c.columns, c.co = slices.Clone(p.before), slices.Clone(p.columns), slices.Clone(p.co)
	c.sol = airflow.Solution{Status: p.sol.Status, Pressure: slices.Clone(p.sol.Pressure), Links: slices.Clone(p.sol.Links), Fans: slices.Clone(p.sol.Fans), Residual: p.sol.Residual}
	c.lit, c.off, c.spilt = maps.Clone(p.lit), maps.Clone(p.off), maps.Clone(p.spilt)
	return &c
}

// balance solves the air flow as it is now.
func (p *Play) balance() error {
	if !p.stale {
		return nil
	}
	if err := p.model.solveAt(p.set, p.columns, &p.sol); err != nil {
		return err
	}
	p.stale = false
	return nil
}

// advance lets time pass: vents warm and cool, CO spreads.
func (p *Play) advance(to time.Time) error {
	if !p.begun {
		p.begun, p.at, p.changed = true, to, to.Add(-time.Hour)
		return p.balance()
	}
	for p.at.Before(to) {
		left := to.Sub(p.at).Seconds()
		dt := 30.0
		switch {
		case p.first:
			dt = 1
		case len(p.lit) > 0:
			dt = 5
		}
		dt = min(left, max(dt, left/2000)) // a night between two sittings is not walked in seconds
		if err := p.step(dt); err != nil {
			return err
		}
		if next := p.at.Add(time.Duration(dt * float64(time.Second))); next.Before(to) && dt < left {
			p.at = next
		} else {
			p.at = to
		}
	}
	return p.balance()
}

func (p *Play) step(dt float64) error {
	for v := range p.house.Vents {
		aim, tau := p.house.Vents[v].Standing, coolMin*60
		for i := range p.lit {
			a := &p.house.Appliances[i]
			if !slices.Contains(a.Vents, v) {
				continue
			}
			aim = p.house.Vents[v].Fired
			warm := a.WarmUp
			if warm == 0 {
				warm = warmMin
			}
			tau = min(tau, warm*60/3) // after three time constants it is warm
		}
		if p.sol.Links[p.house.Vents[v].Link].Mass < 0 {
			tau *= wrongWay
		}
		if d := (aim - p.columns[v]) * (1 - math.Exp(-dt/tau)); math.Abs(d) > 1e-3 {
			p.columns[v] += d
			p.stale = true
		}
	}
	if err := p.balance(); err != nil {
		return err
	}
	p.spread(dt)
	return nil
}

// timeSpill is for how long, in seconds, an appliance that is lit now spills:
// the last second at which air comes down its vent. It is watched or more where
// that does not end.
func (p *Play) timeSpill(appliance int) (float64, error) {
	a := &p.house.Appliances[appliance]
	if len(a.Vents) == 0 {
		return 0, nil
	}
	c := p.clone()
	c.first, c.begun = true, true
	link, last := p.house.Vents[a.Vents[0]].Link, 0.0
	for s := 0.0; s <= watched; s++ {
		if c.sol.Links[link].Mass < 0 {
			last = s + 1
		}
		if err := c.advance(c.at.Add(time.Second)); err != nil {
			return 0, err
		}
	}
	return last, nil
}

// WouldSpill is timeSpill of an appliance that is lit at the present moment.
func (p *Play) wouldSpill(appliance int) (float64, error) {
	c := p.clone()
	if err := c.Turn(c.set|c.house.burner(appliance), c.at); err != nil {
		return 0, err
	}
	return c.spilt[appliance], nil
}

// spilling reports whether flue gas of an appliance that burns comes into the
// house now.
func (p *Play) spilling(appliance int) bool {
	a := &p.house.Appliances[appliance]
	_, lit := p.lit[appliance]
	return lit && (a.Opens() || len(a.Vents) > 0 && p.sol.Links[p.house.Vents[a.Vents[0]].Link].Mass < 0)
}

// Dry flue gas without excess air, cubic feet for a million Btu fired: EPA
// Method 19, table 19-2 (from memory).
const (
	dryGas = 8710
	dryOil = 9190
)

// flueFlow is the dry flue gas of an appliance, m3/s, at an O2 in percent.
func flueFlow(a *procedure.Appliance, o2 float64) float64 {
	f := float64(dryGas)
	if a.Burner.Fuel == procedure.Oil {
		f = dryOil
	}
	const perHour = airflow.CFM / 60 // cubic feet an hour to m3/s
	return a.Burner.Input / 1e6 * f * 20.9 / (20.9 - o2) * perHour
}

// flueCO is the CO in the flue of a cell, ppm: less just after light-off than in
// steady operation, so that who reads early reads too little, and on top what
// the burner takes in with the air of the room.
func (p *Play) flueCO(appliance, cell int) float64 {
	a := &p.house.Appliances[appliance]
	v := float64(a.Flue[cell].CO)
	if t, ok := p.lit[appliance]; ok {
		v *= 1 - startCO*math.Exp(-p.at.Sub(t).Minutes()/startMin)
	}
	return v + p.co[p.zone(a.Zone)]
}

func (p *Play) zone(name string) int {
	return slices.IndexFunc(p.house.Zones, func(z Zone) bool { return z.Name == name })
}

// spread is the mass balance of CO over dt seconds, backward in time so that it
// is stable and never swings: each node is well mixed, what flows in brings the
// CO of where it comes from, and burners add theirs where their vent leads or
// spills.
func (p *Play) spread(dt float64) {
	h, n := p.house, len(p.co)
	a, b := make([]float64, n*n), make([]float64, n)
	busy := false
	for i := range n {
		mass := jointVol * p.model.Density(airflow.Node(i))
		if i < len(h.Zones) {
			mass = h.Zones[i].Volume * p.model.Density(airflow.Node(i))
		}
		a[i*n+i] = mass / dt
		b[i] = mass / dt * p.co[i]
		busy = busy || p.co[i] != 0
	}
	for i := range p.lit {
		x := &h.Appliances[i]
		if len(x.Flue) == 0 {
			continue
		}
		to := airflow.Node(p.zone(x.Zone))
		if !p.spilling(i) {
			to = h.Network.Links[h.Vents[x.Vents[0]].Link].To
		}
		if to == airflow.Outside {
			continue
		}
		emitted := 0.0 // ppm times kg/s
		for c := range x.Flue {
			emitted += p.flueCO(i, c) * flueFlow(&x.Appliance, float64(x.Flue[c].O2)) / float64(len(x.Flue))
		}
		b[to] += emitted * p.model.Density(to)
		busy = true
	}
	if !busy {
		return
	}
	move := func(from, to airflow.Node, mass float64) {
		if mass < 0 {
			from, to, mass = to, from, -mass
		}
		if from == airflow.Outside {
			return // brings nothing above outdoors; what leaves is counted where it leaves
		}
		a[int(from)*n+int(from)] += mass
		if to != airflow.Outside {
			a[int(to)*n+int(from)] -= mass
		}
	}
	for i, l := range h.Network.Links {
		move(l.From, l.To, p.sol.Links[i].Mass)
		if x := p.sol.Links[i].Exchange * p.model.Density(l.From); x > 0 {
			move(l.From, l.To, x)
			move(l.To, l.From, x)
		}
	}
	for i, f := range h.Network.Fans {
		move(f.From, f.To, p.sol.Fans[i])
	}
	for i := range h.switches {
		if w := &h.switches[i]; w.Kind == AirHandlerSwitch && p.set>>i&1 == 1 {
			ah := &h.Network.AirHandlers[w.handler]
			taken, total := make([]float64, len(ah.Returns)), 0.0
			for k, r := range ah.Returns {
				taken[k] = ah.Flow * r.Fraction * p.model.Density(r.Node)
				total += taken[k]
			}
			for k, r := range ah.Returns {
				for _, s := range ah.Supplies {
					if total > 0 {
						move(r.Node, s.Node, taken[k]*s.Fraction)
					}
				}
			}
		}
	}
	eliminate(a, b)
	for i := range n {
		p.co[i] = max(0, b[i])
	}
}

// eliminate solves a x = b in place, x in b. The matrix of a mass balance is
// dominated by its diagonal, so nothing need be exchanged.
func eliminate(a, b []float64) {
	n := len(b)
	for k := range n {
		for i := k + 1; i < n; i++ {
			f := a[i*n+k] / a[k*n+k]
			if f == 0 {
				continue
			}
			for j := k; j < n; j++ {
				a[i*n+j] -= f * a[k*n+j]
			}
			b[i] -= f * b[k]
		}
	}
	for k := n - 1; k >= 0; k-- {
		for j := k + 1; j < n; j++ {
			b[k] -= a[k*n+j] * b[j]
		}
		b[k] /= a[k*n+k]
	}
}

// CO is the CO in the air of a zone, ppm.
func (p *Play) CO(zone string) float64 {
	i := p.zone(zone)
	if i < 0 {
		return float64(p.house.Ambient)
	}
	return float64(p.house.Ambient) + p.co[i]
}

// Pressure of a zone now, Pa against still outdoor air, without any noise.
func (p *Play) Pressure(zone string) float64 { return p.sol.Pressure[p.zone(zone)] }

// Spilling names the appliances whose flue gas comes into the house now.
func (p *Play) Spilling() []string {
	var out []string
	for i := range p.house.Appliances {
		if p.spilling(i) {
			out = append(out, p.house.Appliances[i].ID)
		}
	}
	return out
}

// random is the noise of one take of one reading.
func (p *Play) random(take string) *rand.Rand {
	f := fnv.New64a()
	f.Write([]byte(take))
	return rand.New(rand.NewPCG(uint64(p.seed), f.Sum64()))
}

// quantity that a gauge reads off a solution.
type quantityOf func(*airflow.Solution) float64

// wind is how far, one standard deviation, gusts move a quantity, Pa.
func (p *Play) wind(q quantityOf) (float64, error) {
	if p.house.Gust == 0 {
		return 0, nil
	}
	var v [2]float64
	var sol airflow.Solution
	for i, m := range p.winds {
		if err := m.solveAt(p.set, p.columns, &sol); err != nil {
			return 0, err
		}
		v[i] = q(&sol)
	}
	out := &p.house.Network.Outdoors
	rho := airflow.Density(out.Pressure, out.Temperature)
	q0 := airflow.VelocityPressure(rho, out.Wind)
	return max(math.Abs(v[1]-v[0])/2, fluctuate*(airflow.VelocityPressure(rho, out.Wind+p.house.Gust/2)-q0)), nil
}

// samples are what the gauge shows, n times, as text with its sign. was is the
// quantity before the house was turned, from which the display settles.
func (p *Play) samples(n int, take string, q quantityOf, was float64) ([]string, []float64, error) {
	sd, err := p.wind(q)
	if err != nil {
		return nil, nil, err
	}
	r := p.random(take)
	one := p.random("gauge") // this gauge's own fault, the same all day
	offset, scale := p.gauge.Accuracy*(2*one.Float64()-1), 1+p.gauge.Percent/100*(2*one.Float64()-1)
	truth := q(&p.sol)
	since := max(walkBack, p.at.Sub(p.changed).Seconds())
	var text []string
	var values []float64
	for i := range n {
		v := truth + (was-truth)*math.Exp(-(since+float64(i)*apart)/p.gauge.Settle)
		v += sd * r.NormFloat64()
		v = v*scale + offset + needle*p.gauge.Resolution*r.NormFloat64()
		v = math.Round(v/p.gauge.Resolution) * p.gauge.Resolution
		values = append(values, v)
		text = append(text, signed(v, p.gauge.Resolution))
	}
	return text, values, nil
}

// signed writes a pressure as it must be typed: with its sign, or 0.
func signed(v, resolution float64) string {
	decimals := max(0, int(math.Ceil(-math.Log10(resolution)-1e-9)))
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	switch f, _ := strconv.ParseFloat(s, 64); {
	case f == 0:
		return "0"
	case f > 0:
		return "+" + s
	}
	return s
}

// After is how the house stands once a step was answered: set-up screens set
// what they list, and the blower of a furnace starts once it was watched from
// light-off.
func (p *Play) After(step procedure.Step, d procedure.Data, n Names) Setting {
	switch x := d.(type) {
	case *procedure.Setup:
		if step.Form == procedure.FormSetup {
			return p.house.SetUp(p.set, n, step, *x)
		}
	case *procedure.Answer:
		if i := p.appliance(n[step.Subject]); x.Spill != nil && i >= 0 && p.set&p.house.burner(i) != 0 {
			return p.set | p.house.blower(i)
		}
	}
	return p.set
}

// blower is the bit of the air handler that starts once a furnace is warm: the
// first furnace of the file has the first air handler, and so on.
func (h *House) blower(appliance int) Setting {
	k := 0
	for i := range appliance {
		if h.Appliances[i].HasBlower() {
			k++
		}
	}
	if !h.Appliances[appliance].HasBlower() || k >= len(h.AirHandlers) {
		return 0
	}
	for i, w := range h.switches {
		if w.Kind == AirHandlerSwitch && w.Name == h.AirHandlers[k] {
			return 1 << i
		}
	}
	return 0
}

// Lit is how the house stands once the burner of a timed step was lit.
func (p *Play) Lit(step procedure.Step, n Names) Setting {
	return p.set | p.house.Burner(n[step.Subject])
}

// Take follows a house event, the only thing in a record that turns a house.
func (p *Play) Take(ev procedure.Event) error {
	d, ok := ev.Data.(*procedure.House)
	if !ok {
		return nil
	}
	return p.Turn(p.house.FromPositions(d.State), ev.Observed)
}

// Keys under which the first house event names the gauge and the [Mode].
const (
	GaugeKey = "gauge"
	ModeKey  = "mode"
)

// Mode is how much a trainee is told while testing.
type Mode string

// Append-only: records name them.
const (
	Alone Mode = ""      // what a house shows, and no more
	Coach Mode = "coach" // after each step what was true, and what was wrong with it
	Exam  Mode = "exam"  // no help, no look back
)

// Terms under which a record was begun: its first house event has them.
func Terms(events []procedure.Event) (Gauge, Mode) {
	for _, ev := range events {
		if d, ok := ev.Data.(*procedure.House); ok {
			g, ok := GaugeNamed(d.State[GaugeKey])
			if !ok {
				g = Gauges[0]
			}
			return g, Mode(d.State[ModeKey])
		}
	}
	return Gauges[0], Alone
}

// Follow rebuilds a house from the events of a record: the same events and seed
// give the same house, bit for bit.
func (h *House) Follow(seed int64, events []procedure.Event) (*Play, error) {
	g, _ := Terms(events)
	p, err := h.Begin(seed, g)
	if err != nil {
		return nil, err
	}
	for _, ev := range events {
		if err := p.Take(ev); err != nil {
			return nil, err
		}
	}
	return p, nil
}
