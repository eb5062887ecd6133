package forecast

import (
	"fmt"
	"math"

	"cazward/procedure"
	"cazward/procedure/airflow"
	"cazward/procedure/reading"
)

// Exponent of the leakage power law: 0.5 an orifice, 1 a fine crack.
type Exponent float64

// AirChanges are volumes of the house per hour.
type AirChanges float64

const (
	// DefaultExponent is common practice where only one point was measured.
	DefaultExponent Exponent = 0.65
	// ExponentBand is how far the true exponent may lie to either side (own
	// rule): 0.60 to 0.70 for the default.
	ExponentBand Exponent = 0.05
	// DefaultCFM50Error is the give-or-take of a flow at 50 Pa (own rule; it is
	// about what repeated tests in light wind agree to, common practice).
	DefaultCFM50Error reading.Percent = 5

	maxFlow    reading.Flow     = 1e6 // a building, not a home: a slip of the keyboard
	minLimit   reading.Pressure = -100
	leastModel reading.Pressure = -0.1 // a network that lowers the zone by less says nothing of its share
)

// Exhaust is a named flow out of the house.
type Exhaust struct {
	Name string
	Flow reading.Flow
}

// Net is a measured net worst-case pressure and its give-or-take U, pascals.
type Net struct {
	Value, U reading.Pressure
}

// Design is what is planned for one zone.
type Design struct {
	Before reading.Flow // flow at 50 Pa as the house stands
	After  reading.Flow // flow at 50 Pa aimed at; 0: not decided, only the floor is asked
	// Net is the measured worst case; with it the exhaust is inferred.
	Net *Net
	// Exhaust flows are summed; used only where Net is nil.
	Exhaust []Exhaust
	// Network gives the net of the zone by an airflow network at a flow at 50
	// Pa, with the exponents of its leaks shifted up or down by [ExponentBand],
	// or not at all; not a number where it has no balance. Where it is set it
	// stands in for the single-zone rule: with Net it is scaled so that it gives
	// that net at Before, because what was measured is better than any model.
	Network    func(cfm50 reading.Flow, shift Exponent) reading.Pressure
	Exponent   Exponent          // 0: DefaultExponent
	CFM50Error *reading.Percent  // give-or-take of each flow at 50 Pa; nil: DefaultCFM50Error
	Limit      *reading.Pressure // nil: the scheme sets none
	Volume     reading.Volume    // of the house, for air changes; 0: not known
	Facts      Facts
}

// Facts are what makes the single-zone rule weak, and what a net rests on.
type Facts struct {
	CAZDoorShut procedure.Tri     // shut at worst case
	ReturnLeak  procedure.Tri     // the air handler lowers the zone: return leak, or supplies that outrun it
	Baseline    *reading.Pressure // zone with everything off: stack and wind
	// NotWorst: the net is not known to be the worst, or rests on a doubted
	// reading; then a pass is not given.
	NotWorst bool
}

// Weakness is a reason why the single-zone rule may be off. Append-only.
type Weakness string

// The weaknesses. The thresholds are own rules.
const (
	WeakCAZDoor    Weakness = "caz-door-shut"      // two spaces: the zone does not follow the house
	WeakReturn     Weakness = "return-leak"        // the duct, not the shell, sets the zone's pressure
	WeakStack      Weakness = "strong-stack"       // baseline of 1 Pa or more, and half of the net or more
	WeakFlows      Weakness = "flows-not-measured" // from exhaust flows instead of a measured net
	WeakFar        Weakness = "far-from-measured"  // less than half of the leakage is to be left
	WeakBeyond     Weakness = "beyond-50-pa"       // outside the pressures at which houses are measured
	WeakNotWorst   Weakness = "not-worst-case"     // worst case not held, or a reading in doubt
	WeakNotLowered Weakness = "not-lowered"        // the fans do not lower the zone: nothing to scale
	WeakHouseFile  Weakness = "house-file"         // network without a measured net
	WeakHouseOff   Weakness = "house-file-off"     // network and measured net differ by more than its give-or-take: the lower of network and rule is taken
)

// Weaknesses are all of them.
var Weaknesses = []Weakness{WeakCAZDoor, WeakReturn, WeakStack, WeakFlows, WeakFar, WeakBeyond, WeakNotWorst, WeakNotLowered, WeakHouseFile, WeakHouseOff}

// Span is a pressure with its band; Low is the more negative end.
type Span struct {
	Net, Low, High reading.Pressure
}

// Model by which a forecast was made. Append-only.
type Model string

// The models.
const (
	SingleZone Model = "single-zone"
	ByNetwork  Model = "network"
)

// By is the model that the forecast was made by.
func (f Forecast) By() Model {
	if f.Design.Network != nil {
		return ByNetwork
	}
	return SingleZone
}

// Forecast is the answer for one zone. Nil: not asked, or no figure exists.
type Forecast struct {
	Design Design // as used, defaults filled in
	// Exhaust is the effective exhaust, cfm: inferred from the net, else the sum
	// of the flows. Negative when the zone is raised.
	Exhaust reading.Flow
	// Modelled is what the network gives for today; nil without one.
	Modelled *reading.Pressure
	Today    Span
	After    *Span
	// Floor is the flow at 50 Pa at which the zone just reaches the limit.
	Floor *reading.Flow
	// Stop is the flow at 50 Pa at which the low end of the band reaches the
	// limit: above it the forecast is a pass. Never below Floor.
	Stop *reading.Flow
	// FloorACH50 and StopACH50 are the same in air changes, with a volume.
	FloorACH50, StopACH50 *AirChanges
	// MaySeal is Before less Stop: what may still be sealed, cfm at 50 Pa;
	// negative where the house is already tighter.
	MaySeal *reading.Flow
	// VerdictToday and Verdict are today's and the target's; not evaluated
	// without a limit or, for Verdict, without a target.
	VerdictToday, Verdict procedure.Verdict
	Weak                  []Weakness
}

// ValueError is a figure that a forecast refuses. Field is one of the words of
// the verb's flags, so that a screen can name the box.
type ValueError struct {
	Field string
	Value float64
	Want  string
}

func (e *ValueError) Error() string {
	return fmt.Sprintf("forecast: %s of %s refused: %s", e.Field, reading.Format(e.Value, -1), e.Want)
}

func refuse(field string, v float64, want string) error { return &ValueError{field, v, want} }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func checkFlow(field string, q reading.Flow) error {
	if !(q > 0) || q > maxFlow {
		return refuse(field, float64(q), "give cfm above 0, at most 1000000")
	}
	return nil
}

func checkExponent(n Exponent) error {
	if !(n >= 0.5 && n <= 1) {
		return refuse("exponent", float64(n), "give 0.5 (an orifice) to 1 (fine cracks); 0.65 where it was not measured")
	}
	return nil
}

// resolve fills in defaults and refuses what can't be.
func resolve(d Design) (Design, error) {
	if d.Exponent == 0 {
		d.Exponent = DefaultExponent
	}
	if err := checkExponent(d.Exponent); err != nil {
		return d, err
	}
	if d.CFM50Error == nil {
		e := DefaultCFM50Error
		d.CFM50Error = &e
	}
	if e := *d.CFM50Error; !(e >= 0 && e < 50) {
		return d, refuse("CFM50 error", float64(e), "give percent, 0 or more and below 50")
	}
	if err := checkFlow("CFM50", d.Before); err != nil {
		return d, err
	}
	if d.After != 0 {
		if err := checkFlow("CFM50 after", d.After); err != nil {
			return d, err
		}
		if d.After > d.Before {
			return d, refuse("CFM50 after", float64(d.After), "sealing lowers CFM50, so it must not be above the "+reading.Format(float64(d.Before), -1)+" before; were the two swapped?")
		}
	}
	if d.Net != nil {
		if !finite(float64(d.Net.Value)) || math.Abs(float64(d.Net.Value)) > 100 {
			return d, refuse("net", float64(d.Net.Value), "give Pa, the net at worst case, within 100 of 0")
		}
		if !(d.Net.U >= 0) || d.Net.U > 100 {
			return d, refuse("give-or-take of the net", float64(d.Net.U), "give Pa, 0 or more")
		}
	} else if d.Network == nil {
		if len(d.Exhaust) == 0 {
			return d, refuse("exhaust", 0, "give the measured net, or at least one exhaust flow")
		}
		for _, x := range d.Exhaust {
			field := "exhaust"
			if x.Name != "" {
				field += " " + x.Name
			}
			if err := checkFlow(field, x.Flow); err != nil {
				return d, err
			}
		}
	}
	if l := d.Limit; l != nil && !(*l < 0 && *l >= minLimit) {
		return d, refuse("limit", float64(*l), "give Pa below zero, such as -5: the zone may not be lower than this")
	}
	if d.Volume != 0 && !(d.Volume > 0 && d.Volume <= 1e7) {
		return d, refuse("volume", float64(d.Volume), "give ft3 above 0, or leave it out")
	}
	if b := d.Facts.Baseline; b != nil && !finite(float64(*b)) {
		return d, refuse("baseline", float64(*b), "give Pa, or leave it out")
	}
	return d, nil
}

// New makes the forecast, or refuses the design with a [*ValueError].
func New(d Design) (Forecast, error) {
	d, err := resolve(d)
	if err != nil {
		return Forecast{}, err
	}
	f := Forecast{Design: d}
	if d.Network != nil {
		m := d.Network(d.Before, 0)
		if !finite(float64(m)) {
			return Forecast{}, refuse("CFM50", float64(d.Before), "the network of the house file has no balance there; look at the file with cazward drill check")
		}
		if f.Modelled = &m; d.Net != nil && !(m <= leastModel && d.Net.Value < 0) {
			return Forecast{}, refuse("net", float64(d.Net.Value), "the house file gives "+reading.Format(float64(m), 2)+" Pa for it: that is another house, or one whose fans do not lower the zone")
		}
	}
	if d.Net != nil || d.Network != nil {
		if d.Net != nil {
			f.Today = Span{d.Net.Value, d.Net.Value - d.Net.U, d.Net.Value + d.Net.U}
		} else {
			f.Today = f.At(d.Before)
		}
		q, err := airflow.Flow(float64(d.Before)/math.Pow(50, float64(d.Exponent)), -float64(f.Today.Net), float64(d.Exponent))
		if err != nil {
			return Forecast{}, fmt.Errorf("forecast: %w", err)
		}
		f.Exhaust = reading.Flow(q)
	} else {
		for _, x := range d.Exhaust {
			f.Exhaust += x.Flow
		}
		f.Today = f.At(d.Before)
	}
	if d.After > 0 {
		s := f.At(d.After)
		f.After = &s
	}
	for _, s := range []*Span{&f.Today, f.After} {
		if s != nil && !(finite(float64(s.Low)) && finite(float64(s.High))) {
			return Forecast{}, refuse("CFM50", float64(d.Before), "with this exhaust the pressure has no finite value; look at the figures again")
		}
	}
	f.floors()
	f.VerdictToday = f.verdict(f.Today)
	if f.After != nil {
		f.Verdict = f.verdict(*f.After)
	}
	f.Weak = f.weaknesses()
	return f, nil
}

// At is the pressure and its band at a flow at 50 Pa above 0. The parts of the
// band are independent and add as squares, each end for itself:
//   - the give-or-take of the measured net, which sealing multiplies too;
//   - the exponent, 0.05 to either side;
//   - the error of each flow at 50 Pa that the figure rests on: of both with a
//     measured net, of this one with exhaust flows.
func (f Forecast) At(cfm50 reading.Flow) Span {
	d := f.Design
	n := float64(d.Exponent)
	p := f.net(cfm50, n)
	low, high := 0.0, 0.0
	add := func(x float64) { // x is one extreme of one part
		if x < p {
			low += (p - x) * (p - x)
		} else {
			high += (x - p) * (x - p)
		}
	}
	for _, shift := range []Exponent{-ExponentBand, ExponentBand} {
		if f.Design.Network != nil {
			add(f.network(cfm50, shift))
			continue
		}
		add(f.net(cfm50, math.Min(1, math.Max(0.5, n+float64(shift)))))
	}
	e := float64(*d.CFM50Error) / 100
	if d.Net != nil {
		u := float64(d.Net.U) * f.ratio(cfm50, n)
		if d.Network != nil {
			u = float64(d.Net.U) * math.Abs(p/float64(d.Net.Value))
		}
		add(p - u)
		add(p + u)
		e = math.Min(e*math.Sqrt2, 0.9)
	}
	add(p * math.Pow(1-e, -1/n))
	add(p * math.Pow(1+e, -1/n))
	return Span{reading.Pressure(p), reading.Pressure(p - math.Sqrt(low)), reading.Pressure(p + math.Sqrt(high))}
}

func (f Forecast) ratio(cfm50 reading.Flow, n float64) float64 {
	return math.Pow(float64(f.Design.Before/cfm50), 1/n)
}

// network is the net by the network, scaled to the measured one: with shifted
// exponents by what it gives for today with the same shift.
func (f Forecast) network(cfm50 reading.Flow, shift Exponent) float64 {
	p := float64(f.Design.Network(cfm50, shift))
	if f.Design.Net == nil {
		return p
	}
	today := float64(*f.Modelled)
	if shift != 0 {
		today = float64(f.Design.Network(f.Design.Before, shift))
	}
	p *= float64(f.Design.Net.Value) / today
	if f.houseOff() { // then it is no better than the rule: the lower of both holds
		n := math.Min(1, math.Max(0.5, float64(f.Design.Exponent+shift)))
		p = math.Min(p, float64(f.Design.Net.Value)*f.ratio(cfm50, n))
	}
	return p
}

// houseOff reports whether network and measured net differ by more than the
// give-or-take, at least 0.5 Pa (own rule): the file describes another house,
// or the house in another state.
func (f Forecast) houseOff() bool {
	d := f.Design
	return d.Network != nil && d.Net != nil && !(math.Abs(float64(*f.Modelled-d.Net.Value)) <= math.Max(0.5, float64(d.Net.U)))
}

func (f Forecast) net(cfm50 reading.Flow, n float64) float64 {
	if f.Design.Network != nil {
		return f.network(cfm50, 0)
	}
	if f.Design.Net != nil {
		return float64(f.Design.Net.Value) * f.ratio(cfm50, n)
	}
	return -50 * math.Pow(float64(f.Exhaust/cfm50), 1/n)
}

func (f Forecast) verdict(s Span) procedure.Verdict {
	if f.Design.Limit == nil {
		return procedure.NotEvaluated
	}
	b := procedure.Bound{Value: float64(*f.Design.Limit), Sense: procedure.AtLeast}
	switch b.Side(float64(s.Net), float64(s.Net-s.Low)) {
	case procedure.SideBeyond:
		return procedure.Fail
	case procedure.SideTooClose:
		return procedure.TooClose
	case procedure.SideInside:
		if !f.Design.Facts.NotWorst {
			return procedure.Pass
		}
	}
	return procedure.NotEvaluated
}

// floors finds the tightness at which the limit is reached, by the figure
// itself and by the low end of its band.
func (f *Forecast) floors() {
	if f.Design.Limit == nil {
		return
	}
	limit := *f.Design.Limit
	if f.Exhaust > 0 && f.Design.Network == nil {
		if v, err := airflow.TightnessFloor(float64(f.Exhaust), -float64(limit), float64(f.Design.Exponent)); err == nil {
			fl := reading.Flow(v)
			f.Floor = &fl
		}
	}
	if f.Design.Network != nil {
		f.Floor = loosest(10*f.Design.Before, func(q reading.Flow) bool { return f.net(q, 0) > float64(limit) })
	}
	hi := 10 * f.Design.Before
	if f.Floor != nil && *f.Floor*10 > hi {
		hi = *f.Floor * 10
	}
	if f.Stop = loosest(hi, func(q reading.Flow) bool { return f.At(q).Low > limit }); f.Stop != nil {
		may := f.Design.Before - *f.Stop
		f.MaySeal = &may
	}
	if v := f.Design.Volume; v > 0 {
		for _, x := range []struct {
			q   *reading.Flow
			ach **AirChanges
		}{{f.Floor, &f.FloorACH50}, {f.Stop, &f.StopACH50}} {
			if x.q != nil {
				a := AirChanges(float64(*x.q) * 60 / float64(v))
				*x.ach = &a
			}
		}
	}
}

// loosest is the loosest flow, from hi down, at which it is not inside any
// more; nil where it always is. The band widens on either side of today, so
// its low end need not fall all the way as the house tightens.
func loosest(hi reading.Flow, inside func(reading.Flow) bool) *reading.Flow {
	const steps, span = 600, 1e-4
	at := func(i int) reading.Flow { return hi * reading.Flow(math.Pow(span, float64(i)/steps)) }
	for i := 1; i <= steps; i++ {
		if inside(at(i)) {
			continue
		}
		loose, tight := at(i-1), at(i)
		for range 80 {
			m := (loose + tight) / 2
			if inside(m) {
				loose = m
			} else {
				tight = m
			}
		}
		return &loose
	}
	return nil
}

func (f Forecast) weaknesses() []Weakness {
	var w []Weakness
	d := f.Design
	size := math.Abs(float64(f.Today.Net))
	say := func(is bool, code Weakness) {
		if is {
			w = append(w, code)
		}
	}
	say(d.Facts.NotWorst, WeakNotWorst)
	say(f.Exhaust <= 0, WeakNotLowered)
	network := d.Network != nil
	say(d.Net == nil && !network, WeakFlows)
	say(d.Net == nil && network, WeakHouseFile)
	say(f.houseOff(), WeakHouseOff)
	say(d.Facts.CAZDoorShut == procedure.Yes && !network, WeakCAZDoor)
	say(d.Facts.ReturnLeak == procedure.Yes && !network, WeakReturn)
	if b := d.Facts.Baseline; b != nil && !network {
		base := math.Abs(float64(*b))
		say(base >= 1 && base >= size/2, WeakStack)
	}
	say(f.After != nil && d.After < d.Before/2, WeakFar)
	say(f.Today.Net < -50 || f.After != nil && f.After.Net < -50, WeakBeyond)
	return w
}

// Tighten is the flow at 50 Pa left when a share of it is sealed.
func Tighten(before reading.Flow, sealed reading.Percent) (reading.Flow, error) {
	if err := checkFlow("CFM50", before); err != nil {
		return 0, err
	}
	if !(sealed > 0 && sealed < 100) {
		return 0, refuse("percent", float64(sealed), "give the share of CFM50 to be sealed, above 0 and below 100")
	}
	return before * reading.Flow(1-sealed/100), nil
}
