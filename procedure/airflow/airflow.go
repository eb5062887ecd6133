// Package airflow solves the steady air flow of a house: which pressure each
// zone settles at, and how much air goes through each opening, for given
// weather, fans, doors and vents.
//
// Describe the house as a [Network], call [Compile] once, then [Solver.Solve]
// for each [State] (which doors are open, which fans run). For one zone whose
// blower-door result is known, [Depressurization] and its neighbours answer
// without a network.
//
// # Conventions
//
// The balance is of mass, not volume. Flow through an opening has the density
// of the node it comes from. Air is dry and an ideal gas; its density in a
// node is that of the outdoor pressure and the node's temperature. In cold
// weather a volume balance differs from this by up to about 1 Pa.
//
// The pressure of a zone is given at the zone's floor, against still outdoor
// air at that same height: negative means that the zone is lower. Wind acts
// only through the pressure coefficient of an opening. [Solver.At] gives the
// pressure at another height.
//
// Units are SI throughout: Pa, m, m2, m3/s, kg/s, K. Heights are measured from
// one level, the same for the whole house.
//
// # Near zero pressure
//
// The slope of |dp|^n is infinite at zero, so below [LaminarBelow] each
// opening follows an odd cubic with the same value and slope at that pressure.
// It is monotone, so the solution stays unique.
//
// # Invariants
//
// A [Solution] holds numbers only when its Status is [Converged]. Nothing is
// carried from one solution to the next: the same network and state give the
// same bits. A Network is never changed, and a compiled Solver does not see
// later changes to it. A Solver is for one goroutine at a time.
//
// The package holds no heat balance: temperatures, of vents too, are given.
//
// # Sources
//
// Element forms: Walton, NISTIR 89-4072, 1989 (title seen), and the multizone
// package of the open Modelica Buildings library; doorway: Brown and Solvason,
// Int. J. Heat and Mass Transfer 5 (1962), eq. 6 as that library restates it;
// wall pressure coefficient: Swami and Chandra, FSEC-CR-163-86, 1987; pressure
// at altitude: US Standard Atmosphere 1976.
package airflow

// Node is one end of a link or fan: an index into [Network.Zones], or [Outside].
type Node int

// Outside is the outdoors.
const Outside Node = -1

// LaminarBelow is the pressure difference, in Pa, below which openings follow
// a cubic instead of a power law. The default of the open Modelica Buildings
// library is the same for one-way openings.
const LaminarBelow = 1e-3

// Network is a house and its weather: plain data, freely copied.
type Network struct {
	Outdoors    Outdoors
	Zones       []Zone
	Links       []Link
	Fans        []Fan
	AirHandlers []AirHandler
}

// Outdoors is the weather.
type Outdoors struct {
	Temperature float64 // K
	Pressure    float64 // Pa, absolute, at the site; see [StandardPressure]
	Wind        float64 // m/s, at the height that the pressure coefficients refer to
}

// Zone is a space with one temperature and one pressure.
type Zone struct {
	Name        string  // needed, and different for each zone: errors name zones
	Floor       float64 // m; the zone's pressure is given at this height
	Temperature float64 // K
}

// Link is an opening between two nodes. Flow is positive from From to To.
type Link struct {
	Name     string
	From, To Node
	Height   float64 // m; of a doorway the sill, of a vent the inlet
	Cp       float64 // wind pressure coefficient where the link meets the outdoors; 0 between zones
	Law      Law
}

// Kind says how a link's flow depends on its pressure difference. Append only:
// house files may hold these numbers.
type Kind uint8

// Kinds of link. The zero value is no kind and is refused.
const (
	KindUnset Kind = iota
	KindPowerLaw
	KindMassPowerLaw
	KindLeakageArea
	KindOrifice
	KindDoorway
	KindVent
	KindDuctLeak
)

// Law is the flow law of a link. Build it with a constructor; values are
// checked by [Compile].
type Law struct {
	Kind        Kind
	Coefficient float64 // m3/(s Pa^n); kg/(s Pa^n) for a mass power law
	Exponent    float64 // n, above 0 and at most 1
	Area        float64 // m2
	Discharge   float64 // discharge coefficient, above 0
	Reference   float64 // Pa, reference pressure of a leakage area
	Width, Tall float64 // m, of a doorway
	Top         float64 // m, height of a vent's outlet
	Temperature float64 // K, mean of a vent's column
	LossIn      float64 // velocity heads lost between the zone and the draft test point
	LossOut     float64 // velocity heads lost from there to the outlet, exit included
	AirHandler  int     // index of the air handler that drives a duct leak
	Drive       float64 // Pa of duct pressure behind a duct leak at full speed; positive drives From to To
}

// PowerLaw is Q = c dp^n, with c in m3/(s Pa^n) of upstream air.
func PowerLaw(c, n float64) Law { return Law{Kind: KindPowerLaw, Coefficient: c, Exponent: n} }

// MassPowerLaw is m = c dp^n, with c in kg/(s Pa^n), whatever the density.
func MassPowerLaw(c, n float64) Law { return Law{Kind: KindMassPowerLaw, Coefficient: c, Exponent: n} }

// FromCFM50 is the power law that passes cfm50 cubic feet per minute at 50 Pa.
func FromCFM50(cfm50, n float64) Law { return PowerLaw(cfm50*CFM/pow(50, n), n) }

// LeakageArea is the power law with exponent n that, at ref Pa and the
// [StandardDensity], passes what an orifice of the given area (m2) and
// discharge coefficient would.
func LeakageArea(area, cd, ref, n float64) Law {
	return Law{Kind: KindLeakageArea, Area: area, Discharge: cd, Reference: ref, Exponent: n}
}

// Orifice is m = cd area sqrt(2 rho dp), area in m2.
func Orifice(area, cd float64) Law { return Law{Kind: KindOrifice, Area: area, Discharge: cd} }

// Doorway is an open door of the given width and height, in m, its sill at the
// link's Height. The net flow is that of an orifice under the pressure
// difference at mid-height. Unequal temperatures also exchange air both ways,
// by [DoorwayExchange]; that exchange is taken as equal masses, so it does not
// act on pressures.
func Doorway(width, tall, cd float64) Law {
	return Law{Kind: KindDoorway, Width: width, Tall: tall, Discharge: cd}
}

// Vent is a column of gas from the link's Height up to top, both in m, of the
// given flow area (m2) and mean temperature (K). Its buoyancy drives the flow
// and lossIn + lossOut velocity heads at the column's density resist it, in
// both directions: a zone pulled down further than the column draws makes the
// flow turn, which is a vent spilling. See [LinkFlow] for the draft. The column
// keeps its temperature when the flow turns; one that cools is another state,
// by [State].Columns, and the same zone may then have a second, spilling balance.
func Vent(area, top, temperature, lossIn, lossOut float64) Law {
	return Law{Kind: KindVent, Area: area, Top: top, Temperature: temperature, LossIn: lossIn, LossOut: lossOut}
}

// DuctLeak is a hole in the duct of an air handler. From is the zone that the
// duct runs through, To the zone of the registers of that side. Air that a
// return takes in at the hole is not taken at its registers, so it goes from
// From to To; drive is then positive. A supply that blows out at the hole is
// the reverse, drive negative. Duct pressure follows the square of the air
// handler's speed; with it off, the duct stays open as a path between the
// two. A leak of known flow is better given as a [Share] of the air handler.
func DuctLeak(c, n float64, airHandler int, drive float64) Law {
	return Law{Kind: KindDuctLeak, Coefficient: c, Exponent: n, AirHandler: airHandler, Drive: drive}
}

// Fan moves air from one node to another: a constant volume of the air it
// takes in, or a curve. The way through a fan that is off is a link of its own.
type Fan struct {
	Name     string
	From, To Node
	Flow     float64 // m3/s at speed 1; 0 where Curve is given
	// Curve, if not empty, gives flow against the pressure that the fan works
	// against (To minus From at Height). Heads ascend, flows do not. Beyond its
	// ends the flow stays that of the end point.
	Curve  []CurvePoint
	Height float64 // m; used with a curve only
	Cp     float64 // wind pressure coefficient at the outdoor end; used with a curve only
}

// CurvePoint is one point of a fan curve.
type CurvePoint struct {
	Head float64 // Pa
	Flow float64 // m3/s
}

// AirHandler takes air from its returns and gives the same mass to its
// supplies. A duct leak of known flow is one more share, at the node where the
// leak is.
type AirHandler struct {
	Name     string
	Flow     float64 // m3/s taken by all returns together, at speed 1
	Supplies []Share // fractions of the mass given; they add up to 1
	Returns  []Share // fractions of Flow taken; they add up to 1
}

// Share is the part of an air handler's flow that one node gives or gets.
type Share struct {
	Node     Node
	Fraction float64 // 0 to 1
}

// State is what can change without compiling again.
type State struct {
	Links       []float64 // opening of each link, 0 shut to 1 as built
	Fans        []float64 // speed of each fan, 0 off to 1 as built; a curve follows the fan laws
	AirHandlers []float64 // speed of each air handler, 0 off to 1
	// Columns is nil, or gives for each link the mean temperature, in K, of its
	// vent column; 0 keeps the network's.
	Columns []float64
}

// Status says what became of a solution. Append only: results that reach disk
// hold its text.
type Status uint8

// Only Converged comes with numbers.
const (
	NotSolved    Status = iota // nothing was asked yet
	Converged                  // balanced
	Refused                    // the state is unusable; the error says why
	NotConverged               // no balance within the iteration limit
)

// String gives the word that reports use.
func (s Status) String() string {
	switch s {
	case Converged:
		return "converged"
	case Refused:
		return "refused"
	case NotConverged:
		return "not-converged"
	case NotSolved:
	}
	return "not-solved"
}

// Solution is one balanced house. Unless Status is [Converged] its slices are
// empty and its numbers 0.
type Solution struct {
	Status   Status
	Pressure []float64  // Pa, of each zone at its floor against still outdoor air at that height
	Links    []LinkFlow // of each link
	Fans     []float64  // kg/s through each fan, From to To
	// Residual is the largest imbalance of a zone as a part of the largest flow
	// (of 1e-4 kg/s, if all are smaller):
	// 1e-6 at most.
	Residual   float64
	Iterations int
}

// LinkFlow is what goes through a link, positive from From to To.
type LinkFlow struct {
	DP     float64 // Pa that drive the flow, From minus To, a vent's or duct's own drive included
	Mass   float64 // kg/s, net
	Volume float64 // m3/s, net, at the density of the node it comes from (a vent: of its column)
	// Exchange is the volume (m3/s, mean density) that crosses an open doorway
	// against the net flow; the same comes back on top of the net flow.
	Exchange float64
	// Draft of a vent: Pa, vent against zone at the test point. Negative draws,
	// positive spills, and the sign is that of the flow.
	Draft float64
}
