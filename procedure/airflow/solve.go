package airflow

import (
	"math"
	"slices"
)

const (
	maxIterations = 200
	// A solution is taken when the last Newton step moved no pressure by more
	// than stepRelative of the largest pressure plus stepAbsolute (Pa) and no
	// zone is out of balance by more than balance of the largest flow. Where
	// rounding alone is more than that it may be as much, up to atMost.
	stepRelative = 1e-11
	stepAbsolute = 1e-12
	balance      = 1e-8
	atMost       = 1e-6
	leastFlow    = 1e-4 // kg/s: the largest flow is taken to be at least this
	// overshoot is how far the balance along a step may swing to the other
	// side before the step is shortened; after patience iterations any swing
	// counts, so that the potential falls with each step.
	overshoot = 0.5
	patience  = 30
)

// work is the space that solving needs, so that it allocates nothing.
type work struct {
	static  []float64 // of each link: Pa added to p[from] - p[to] in this state
	gas     []float64 // of each link: density of its column, 0 if it has none
	live    []live    // links that are open at all
	curves  []curve   // fans with a curve that run
	source  []float64 // net outflow that hangs on no pressure, kg/s
	largest float64   // largest of those flows, kg/s
	p       []float64 // zone pressures, then outdoors, always 0
	trial   []float64
	step    []float64
	out     []float64 // net outflow of each node at the last evaluation, kg/s
	matrix  []float64 // lower triangle, row by row, of slopes; then its factors
	stride  int
	root    []int // union-find of nodes
}

type live struct {
	from, to                 int
	n, low, up, down, static float64
	mass, slope              float64 // at the last evaluation
	link                     int
}

type curve struct {
	fan         int
	points      []CurvePoint
	speed       float64
	mass, slope float64 // slope: kg/(s Pa) of mass by p[from] - p[to], never negative
}

func newWork(zones, links, fans int) work {
	n := zones + 1
	floats := make([]float64, 2*links+5*n+n*n)
	take := func(k int) []float64 {
		v := floats[:k:k]
		floats = floats[k:]
		return v
	}
	return work{
		static: take(links), gas: take(links), source: take(n), p: take(n), trial: take(n), step: take(n),
		out: take(n), matrix: take(n * n), stride: n,
		live: make([]live, 0, links), curves: make([]curve, 0, fans), root: make([]int, n),
	}
}

// load puts a checked state into the work space.
func (s *Solver) load(st State) {
	n, w := &s.net, &s.work
	outdoors := s.density[len(n.Zones)]
	w.live, w.curves, w.largest = w.live[:0], w.curves[:0], 0
	clear(w.source)
	for i := range s.paths {
		p, law := &s.paths[i], &n.Links[i].Law
		static, up, down := p.static, p.up, p.down
		if p.handler >= 0 {
			static += p.drive * st.AirHandlers[p.handler] * st.AirHandlers[p.handler]
		}
		if law.Kind == KindVent {
			temperature := law.Temperature
			if st.Columns != nil && st.Columns[i] != 0 {
				temperature = st.Columns[i]
			}
			gas := Density(n.Outdoors.Pressure, temperature)
			static += (outdoors - gas) * Gravity * (law.Top - n.Links[i].Height)
			up = law.Area * math.Sqrt(2*gas/(law.LossIn+law.LossOut))
			down = up
			w.gas[i] = gas
		}
		w.static[i] = static
		if up *= st.Links[i]; up > 0 {
			w.live = append(w.live, live{from: p.from, to: p.to, n: p.n, low: p.low, up: up, down: down * st.Links[i], static: static, link: i})
		}
	}
	move := func(from, to int, mass float64) {
		w.source[from] += mass
		w.source[to] -= mass
		w.largest = max(w.largest, mass)
	}
	for i := range s.fans {
		f := &s.fans[i]
		switch speed := st.Fans[i]; {
		case speed == 0:
		case len(n.Fans[i].Curve) > 0:
			w.curves = append(w.curves, curve{fan: i, points: n.Fans[i].Curve, speed: speed})
		default:
			move(f.from, f.to, f.density*speed*n.Fans[i].Flow)
		}
	}
	for i := range n.AirHandlers {
		a, total := &n.AirHandlers[i], 0.0
		flow := a.Flow * st.AirHandlers[i]
		for _, r := range a.Returns {
			k := s.index(r.Node)
			mass := s.density[k] * flow * r.Fraction
			w.source[k] += mass
			total += mass
		}
		for _, d := range a.Supplies {
			w.source[s.index(d.Node)] -= total * d.Fraction
		}
		w.largest = max(w.largest, total)
	}
}

// loose names the zones that no open link ties to the outdoors, or is nil.
func (s *Solver) loose() error {
	root := s.root
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	for i := range s.live {
		root[find(s.live[i].from)] = find(s.live[i].to)
	}
	var e *LooseZonesError
	for i := range s.net.Zones {
		if find(i) != find(len(s.net.Zones)) {
			if e == nil {
				e = &LooseZonesError{}
			}
			e.Zones = append(e.Zones, i)
			e.Names = append(e.Names, s.net.Zones[i].Name)
		}
	}
	if e == nil {
		return nil
	}
	return e
}

// Solve finds the balance of a state and puts it into the solution, whose
// slices are used again where they are long enough. The error is nil exactly
// when the solution's Status is [Converged]; else it is an [InputError], a
// [LooseZonesError] (doors shut or links closed have cut a zone off) or a
// [ConvergenceError].
func (s *Solver) Solve(st State, sol *Solution) error {
	sol.Status, sol.Residual, sol.Iterations = Refused, 0, 0
	sol.Pressure, sol.Links, sol.Fans = sol.Pressure[:0], sol.Links[:0], sol.Fans[:0]
	if err := s.checkState(&st); err != nil {
		return err
	}
	s.load(st)
	if err := s.loose(); err != nil {
		return err
	}
	iterations, ok := s.newton()
	residual, worst, largest, _ := s.imbalance()
	if !ok {
		sol.Status = NotConverged
		return &ConvergenceError{iterations, s.net.Zones[worst].Name, s.out[worst]}
	}
	sol.Status, sol.Iterations, sol.Residual = Converged, iterations, residual/largest
	s.report(&st, sol)
	return nil
}

// newton balances the zones: the net outflows are the gradient of a convex
// potential of the pressures, because each flow rises with the pressure that
// drives it. So the matrix of slopes is symmetric and positive definite, and
// the balance along a step tells whether the step went too far. It ends with
// flows evaluated at w.p.
func (s *Solver) newton() (iterations int, ok bool) {
	w := &s.work
	zones := w.stride - 1
	clear(w.p)
	w.linear()
	w.solve(zones)
	for i := range zones {
		w.p[i] = -w.step[i]
	}
	w.evaluate(s, w.p)
	for iterations = 1; iterations <= maxIterations; iterations++ {
		w.assemble(s)
		if !w.solve(zones) {
			return iterations, false
		}
		moved, top, along := 0.0, 0.0, 0.0
		for i := range zones {
			w.step[i] = -w.step[i]
			moved, top = max(moved, math.Abs(w.step[i])), max(top, math.Abs(w.p[i]))
			along += w.step[i] * w.out[i]
		}
		if math.IsNaN(along) || math.IsInf(moved, 0) {
			return iterations, false
		}
		if moved > stepRelative*top+stepAbsolute {
			swing := overshoot
			if iterations > patience {
				swing = 0
			}
			w.advance(s, zones, along, swing)
			continue
		}
		// So short a step is taken whole: along it rounding hides the balance.
		for i := range zones {
			w.p[i] += w.step[i]
		}
		w.evaluate(s, w.p)
		if residual, _, largest, rounding := s.imbalance(); residual <= max(balance*largest, min(rounding, atMost*largest)) {
			return iterations, true
		}
	}
	return maxIterations, false
}

// advance goes along the step to where the balance along it, which begins at
// start (negative) and rises, has not swung past swing*|start|.
func (w *work) advance(s *Solver, zones int, start, swing float64) {
	at := func(a float64) float64 {
		for i := range zones {
			w.trial[i] = w.p[i] + a*w.step[i]
		}
		w.evaluate(s, w.trial)
		g := 0.0
		for i := range zones {
			g += w.step[i] * w.out[i]
		}
		return g
	}
	a, g := 1.0, at(1)
	if g > -swing*start {
		// Bracketed between a step too short and one too long: false position,
		// halving the weight of an end that stays (the Illinois rule).
		low, high, gLow, gHigh := 0.0, 1.0, start, g
		for range 20 {
			a = low - gLow*(high-low)/(gHigh-gLow)
			if !(a > low && a < high) {
				break
			}
			g = at(a)
			if math.Abs(g) <= -0.5*start && g <= -swing*start {
				break
			}
			if g > 0 {
				high, gHigh = a, g
				gLow /= 2
			} else {
				low, gLow = a, g
				gHigh /= 2
			}
		}
	}
	w.p, w.trial = w.trial, w.p
}

// linear evaluates at zero pressure, each opening taken as linear with its flow
// at 1 Pa and fans with a curve left out, and assembles those slopes: the
// pressures that balance it are the first guess.
func (w *work) linear() {
	clear(w.matrix)
	copy(w.out, w.source)
	for i := range w.live {
		l := &w.live[i]
		l.slope = (l.up + l.down) / 2
		l.mass = l.slope * l.static
		w.out[l.from] += l.mass
		w.out[l.to] -= l.mass
		w.add(l.from, l.to, l.slope)
	}
}

// evaluate finds the flow and slope of each opening and the net outflow of each
// node at pressures p.
func (w *work) evaluate(s *Solver, p []float64) {
	copy(w.out, w.source)
	for i := range w.live {
		l := &w.live[i]
		dp := p[l.from] - p[l.to] + l.static
		k, a := l.up, dp
		if dp < 0 {
			k, a = l.down, -dp
		}
		var m float64
		if a < LaminarBelow {
			// The odd cubic that meets k a^n with its slope at LaminarBelow.
			x, y := a/LaminarBelow, k*l.low
			m = y * x * ((3 - l.n) - (1-l.n)*x*x) / 2
			l.slope = y / LaminarBelow * ((3 - l.n) - 3*(1-l.n)*x*x) / 2
		} else {
			m = k * pow(a, l.n)
			l.slope = l.n * m / a
		}
		if dp < 0 {
			m = -m
		}
		l.mass = m
		w.out[l.from] += m
		w.out[l.to] -= m
	}
	for i := range w.curves {
		c := &w.curves[i]
		f := &s.fans[c.fan]
		flow, fall := c.flow(p[f.to] - p[f.from] + f.static)
		c.mass, c.slope = f.density*flow, f.density*fall
		w.out[f.from] += c.mass
		w.out[f.to] -= c.mass
	}
}

// flow reads a fan curve at its speed: flow in m3/s against a head in Pa, and
// by how much it falls per Pa. Fan laws: flow goes with speed, head with its
// square.
func (c *curve) flow(head float64) (flow, fall float64) {
	head /= c.speed * c.speed
	last := len(c.points) - 1
	switch {
	case head <= c.points[0].Head:
		return c.speed * c.points[0].Flow, 0
	case head >= c.points[last].Head:
		return c.speed * c.points[last].Flow, 0
	}
	k := 1
	for head > c.points[k].Head {
		k++
	}
	a, b := c.points[k-1], c.points[k]
	fall = (a.Flow - b.Flow) / (b.Head - a.Head)
	return c.speed * (a.Flow - fall*(head-a.Head)), fall / c.speed
}

func (w *work) assemble(s *Solver) {
	clear(w.matrix)
	for i := range w.live {
		w.add(w.live[i].from, w.live[i].to, w.live[i].slope)
	}
	for i := range w.curves {
		f := &s.fans[w.curves[i].fan]
		w.add(f.from, f.to, w.curves[i].slope)
	}
}

// add puts a slope between two nodes into the lower triangle. The row of the
// outdoors is written too, and never read.
func (w *work) add(a, b int, slope float64) {
	if a < b {
		a, b = b, a
	}
	w.matrix[a*w.stride+a] += slope
	w.matrix[b*w.stride+b] += slope
	w.matrix[a*w.stride+b] -= slope
}

// solve puts matrix^-1 out into step, by L D L' without pivoting, which is
// stable for a positive definite matrix. It is false when the matrix is not.
func (w *work) solve(zones int) bool {
	m, stride, x := w.matrix, w.stride, w.step
	for i := range zones {
		row := m[i*stride : i*stride+i+1]
		d, y := row[i], w.out[i]
		for j := range i {
			other := m[j*stride : j*stride+j+1]
			v := row[j]
			for k := range j {
				v -= row[k] * other[k]
			}
			row[j] = v // L[i][j] D[j], until row i is done
		}
		for j := range i {
			l := row[j] / m[j*stride+j]
			d -= l * row[j]
			row[j] = l
			y -= l * x[j]
		}
		if !(d > 0) {
			return false
		}
		row[i], x[i] = d, y
	}
	for i := zones - 1; i >= 0; i-- {
		v := x[i] / m[i*stride+i]
		for k := i + 1; k < zones; k++ {
			v -= m[k*stride+i] * x[k]
		}
		x[i] = v
	}
	return true
}

// imbalance gives the largest imbalance of a zone, that zone, the largest flow
// (no less than leastFlow) and what rounding of the pressures alone may put out
// of balance, all in kg/s.
func (s *Solver) imbalance() (residual float64, worst int, largest, rounding float64) {
	const epsilon = 1e-15
	w := &s.work
	largest = max(leastFlow, w.largest)
	for i := range w.live {
		l := &w.live[i]
		largest = max(largest, math.Abs(l.mass))
		rounding += epsilon * l.slope * (math.Abs(w.p[l.from]) + math.Abs(w.p[l.to]) + math.Abs(l.static))
	}
	for i := range w.curves {
		largest = max(largest, w.curves[i].mass)
	}
	for i := range s.net.Zones {
		if r := math.Abs(w.out[i]); !(r <= residual) {
			residual, worst = r, i
		}
	}
	return residual, worst, largest, rounding
}

// report fills a converged solution.
func (s *Solver) report(st *State, sol *Solution) {
	w := &s.work
	zones := len(s.net.Zones)
	sol.Pressure = append(sol.Pressure, w.p[:zones]...)
	sol.Links = slices.Grow(sol.Links, len(s.paths))[:len(s.paths)]
	sol.Fans = slices.Grow(sol.Fans, len(s.fans))[:len(s.fans)]
	for i := range s.paths {
		p := &s.paths[i]
		sol.Links[i] = LinkFlow{DP: w.p[p.from] - w.p[p.to] + w.static[i]}
	}
	for i := range w.live {
		l := &w.live[i]
		f, law := &sol.Links[l.link], &s.net.Links[l.link].Law
		density := s.density[l.from]
		if l.mass < 0 {
			density = s.density[l.to]
		}
		if law.Kind == KindVent {
			density = w.gas[l.link]
			f.Draft = -f.DP * law.LossIn / (law.LossIn + law.LossOut)
		}
		f.Mass, f.Volume = l.mass, l.mass/density
		if law.Kind == KindDoorway {
			a, b := s.temperature(l.from), s.temperature(l.to)
			each := DoorwayExchange(law.Width, law.Tall, law.Discharge, a-b, (a+b)/2) * st.Links[l.link]
			f.Exchange = max(0, each-math.Abs(f.Volume)/2)
		}
	}
	for i := range s.fans {
		sol.Fans[i] = s.fans[i].density * st.Fans[i] * s.net.Fans[i].Flow
	}
	for i := range w.curves {
		sol.Fans[w.curves[i].fan] = w.curves[i].mass
	}
}

func (s *Solver) temperature(node int) float64 {
	if node == len(s.net.Zones) {
		return s.net.Outdoors.Temperature
	}
	return s.net.Zones[node].Temperature
}

// At is the pressure of a zone, in Pa, at a height in m against still outdoor
// air at that same height.
func (s *Solver) At(sol *Solution, zone int, height float64) (float64, error) {
	if zone < 0 || zone >= len(s.net.Zones) {
		return 0, &InputError{"network", -1, "", "zone", float64(zone), "the index of a zone"}
	}
	if sol.Status != Converged {
		return 0, &InputError{"zone", zone, s.net.Zones[zone].Name, "solution " + sol.Status.String(), float64(sol.Status), "a solution that has converged"}
	}
	return sol.Pressure[zone] + s.outer(Node(zone), height, 0), nil
}
