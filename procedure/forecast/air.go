package forecast

import (
	"math"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Burner is an appliance that takes its combustion air from the space.
type Burner struct {
	Name  string
	Input reading.HeatRate // nameplate, Btu/h
	// FanAssisted draws the lower of the two known-infiltration figures; a vent
	// that is not known does not.
	FanAssisted bool
}

// Space is the room or rooms that hold the burners.
type Space struct {
	Volume  reading.Volume
	Burners []Burner
	// Infiltration in air changes per hour where it is known; nil for the
	// standard method.
	Infiltration *AirChanges
	// Connectors is the sum of the areas of the vent connectors in the space,
	// below which one single outdoor opening may not go; 0: not known.
	Connectors reading.Area
	Altitude   reading.Length // above sea level
}

// RuleSource is where a figure of this file comes from.
type RuleSource struct {
	Source   string
	Evidence procedure.Evidence
}

// Method of providing air. Append-only.
type Method string

// The methods. Outdoor ones may also be combined with the indoor volume, with
// their size reduced: [Opening.Combined].
const (
	IndoorSameStory  Method = "indoor-same-story"      // to rooms on the same story: one high, one low
	IndoorOtherStory Method = "indoor-other-story"     // to rooms on another story
	OutdoorDirect    Method = "outdoor-two-direct"     // high and low, straight out or by vertical ducts
	OutdoorDucted    Method = "outdoor-two-horizontal" // high and low, by horizontal ducts
	OutdoorSingle    Method = "outdoor-one"            // one, high
)

// Opening is the net free area that a method asks for.
type Opening struct {
	Method Method
	Count  int
	Each   reading.Area // net free area of each; for IndoorOtherStory of all together
	// Min is the least that the method allows of each whatever the input, nil
	// where the method sets none or it is not known; it is in Each already.
	Min *reading.Area
	// Combined is Each less the part that the indoor volume provides, nil where
	// the method cannot be combined or the volume needs no help.
	Combined *reading.Area
	RuleSource
}

// Gross areas of a louvred opening of this net free area where the maker does
// not state it: 75 % free for metal, 25 % for wood (codecheck.com restating IRC
// 1701.5, seen-secondary).
func (o Opening) Gross() (metal, wood reading.Area) { return o.Each / 0.75, o.Each / 0.25 }

// Air is the answer for a space.
type Air struct {
	Space        Space
	Input, Fan   reading.HeatRate // of all, and of the fan-assisted ones
	Required     reading.Volume   // by the method that holds
	Standard     reading.Volume   // by the standard method, also where it may not be used
	ByRate       *reading.Volume  // by the known infiltration; nil without one
	StandardFree bool             // the standard method may be used: infiltration unknown, or 0.40 and more
	Capped       bool             // the infiltration counted as 0.60
	Sufficient   bool
	Ratio        float64 // available over required
	Reduction    float64 // 1 - Ratio, of outdoor openings when combined; 0 when sufficient
	Openings     []Opening
	Derated      *reading.HeatRate // input at altitude, above 2000 ft; a note: sizes stay on the nameplate
	RuleSource                     // of Required
}

// Figures of the methods. NFPA 54 9.3, IFGC 304 and IRC M1701, M1703 share
// them.
const (
	perThousand  = 50.0 // ft3 per 1000 Btu/h, standard method
	otherRate    = 21.0 // ft3 per 1000 Btu/h at one air change
	fanRate      = 15.0
	capRate      = AirChanges(0.60)
	barRate      = AirChanges(0.40)
	derateAbove  = reading.Length(2000)
	deratePer    = 0.04 // per 1000 ft above sea level
	minIndoor    = reading.Area(100)
	maxHeatInput = reading.HeatRate(1e7)
)

func ruleSource(m Method) RuleSource {
	switch m {
	case IndoorSameStory:
		return RuleSource{"NFPA 54 9.3.2.3(1) as reprinted in furnace manuals: 1 in2 per 1000 Btu/h each, at least 100 in2", procedure.EvidenceSecondary}
	case IndoorOtherStory:
		return RuleSource{"NFPA 54 9.3.2.3(2): 2 in2 per 1000 Btu/h in all", procedure.EvidenceMemory}
	case OutdoorDirect:
		return RuleSource{"IRC M1703.2: 1 in2 per 4000 Btu/h each", procedure.EvidenceSeen}
	case OutdoorDucted:
		return RuleSource{"IRC M1703.2: 1 in2 per 2000 Btu/h each", procedure.EvidenceSeen}
	case OutdoorSingle:
		return RuleSource{"NFPA 54 9.3.3.2 as reprinted in furnace manuals: 1 in2 per 3000 Btu/h, not less than the sum of the vent connectors", procedure.EvidenceSecondary}
	}
	return RuleSource{}
}

// CombustionAir works out the volume that the burners need and the openings
// that make up for what the space lacks, or refuses with a [*ValueError].
// Nothing is rounded; print with [reading.Format], which rounds halves up as
// the published tables do.
//
// Without an infiltration rate the standard method holds: 50 ft3 per 1000
// Btu/h (NREL Standard Work Specifications 5.0502.1a, seen). With one,
// 21/ACH x I/1000 for burners that are not fan-assisted plus 15/ACH x I/1000
// for those that are (NFPA 54 9.3.2.2, seen-secondary), the rate counted as
// 0.60 at most (IFGC 304.5.2, seen). A rate of 0 has no answer and is refused.
// Below 0.40 the standard method is barred (SWS 5.0502.1a, seen); from 0.40 on
// either may be used, and this takes the one for the rate that was given.
func CombustionAir(s Space) (Air, error) {
	if !(s.Volume > 0 && s.Volume <= 1e7) {
		return Air{}, refuse("volume", float64(s.Volume), "give ft3 above 0")
	}
	if len(s.Burners) == 0 {
		return Air{}, refuse("appliance", 0, "give the input of every burner that takes air from the space")
	}
	if !(s.Connectors >= 0 && s.Connectors <= 1e5) {
		return Air{}, refuse("connector area", float64(s.Connectors), "give in2, or leave it out")
	}
	if !(s.Altitude >= -2000 && s.Altitude <= 20000) {
		return Air{}, refuse("altitude", float64(s.Altitude), "give ft above sea level")
	}
	a := Air{Space: s, StandardFree: true}
	for _, b := range s.Burners {
		if !(b.Input > 0 && b.Input <= maxHeatInput) {
			return Air{}, refuse(strings.TrimSpace("input "+b.Name), float64(b.Input), "give the nameplate input in Btu/h, above 0")
		}
		a.Input += b.Input
		if b.FanAssisted {
			a.Fan += b.Input
		}
	}
	a.Standard = reading.Volume(perThousand * float64(a.Input) / 1000)
	a.Required, a.RuleSource = a.Standard, RuleSource{"NREL Standard Work Specifications 5.0502.1a: 50 ft3 per 1000 Btu/h", procedure.EvidenceSeen}
	if s.Infiltration != nil {
		rate := *s.Infiltration
		if !(rate > 0) || math.IsInf(float64(rate), 0) {
			return Air{}, refuse("infiltration", float64(rate), "without infiltration no volume is large enough: bring air from outdoors; leave the rate out where it is not known")
		}
		a.StandardFree = rate >= barRate
		if rate > capRate {
			rate, a.Capped = capRate, true
		}
		per := 1000 * float64(rate)
		v := reading.Volume(otherRate*float64(a.Input-a.Fan)/per + fanRate*float64(a.Fan)/per)
		a.ByRate, a.Required = &v, v
		a.RuleSource = RuleSource{"NFPA 54 9.3.2.2 as reprinted in furnace manuals: 21/ACH, fan-assisted 15/ACH, ft3 per 1000 Btu/h; cap 0.60 ACH, IFGC 304.5.2", procedure.EvidenceSecondary}
	}
	if !finite(float64(a.Required)) {
		return Air{}, refuse("infiltration", float64(*s.Infiltration), "too little for any volume; look at the figure again")
	}
	a.Ratio = float64(s.Volume) / float64(a.Required)
	a.Sufficient = s.Volume >= a.Required
	if !a.Sufficient {
		a.Reduction = 1 - a.Ratio
	}
	for _, m := range []Method{IndoorSameStory, IndoorOtherStory, OutdoorDirect, OutdoorDucted, OutdoorSingle} {
		a.Openings = append(a.Openings, a.opening(m))
	}
	if s.Altitude > derateAbove {
		d := reading.HeatRate(float64(a.Input) * (1 - deratePer*float64(s.Altitude)/1000))
		a.Derated = &d
	}
	return a, nil
}

func (a Air) opening(m Method) Opening {
	o := Opening{Method: m, Count: 2, RuleSource: ruleSource(m)}
	in := float64(a.Input)
	switch m {
	case IndoorSameStory:
		least := minIndoor
		o.Each, o.Min = max(reading.Area(in/1000), least), &least
	case IndoorOtherStory:
		o.Count, o.Each = 1, reading.Area(in/500)
	case OutdoorDirect:
		o.Each = reading.Area(in / 4000)
	case OutdoorDucted:
		o.Each = reading.Area(in / 2000)
	case OutdoorSingle:
		o.Count, o.Each = 1, reading.Area(in/3000)
		if c := a.Space.Connectors; c > 0 {
			o.Each, o.Min = max(o.Each, c), &c
		}
	}
	// NFPA 54 9.3.4, seen-secondary: the full outdoor size times 1 less the
	// ratio of volumes.
	if (m == OutdoorDirect || m == OutdoorDucted || m == OutdoorSingle) && !a.Sufficient {
		c := o.Each * reading.Area(a.Reduction)
		o.Combined = &c
	}
	return o
}

// Burners lists the burners of a zone that take their combustion air from it.
// missing names, by appliance id, those whose input is not known, so
// that there is no answer yet; leftOut those to which the methods do not apply:
// sealed ones, electric ones, solid fuel, outside the pressure boundary.
func Burners(o procedure.Observations, zone string) (burners []Burner, missing, leftOut []string) {
	for _, a := range o.Appliances {
		if a.Zone != zone || !a.Kind.Burns() || a.Burner.Fuel == procedure.Electricity {
			continue
		}
		if a.Kind.SolidFuel() || a.Vent.Type == procedure.DirectVent || a.Facts.InsideBoundary == procedure.No {
			leftOut = append(leftOut, a.ID)
			continue
		}
		if !(a.Burner.Input > 0) {
			missing = append(missing, a.ID)
			continue
		}
		u := reading.Unit(a.Burner.Unit)
		if u == "" {
			u = reading.UnitBtuH
		}
		q, err := reading.ToHeatRate(a.Burner.Input, u)
		if err != nil {
			missing = append(missing, a.ID)
			continue
		}
		fan := a.Vent.Type == procedure.FanAssisted || a.Vent.Type == procedure.PowerVented || a.Vent.Type == procedure.OnePipe
		burners = append(burners, Burner{Name: a.Name, Input: q, FanAssisted: fan})
	}
	return burners, missing, leftOut
}
