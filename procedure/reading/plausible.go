package reading

// Kind names a measured quantity in its place in the test, for the question
// whether a value is far outside what is met there. Append-only: it may be
// stored with a doubt.
type Kind string

// The kinds.
const (
	KindZonePressure       Kind = "zone-pressure"
	KindDraft              Kind = "draft"
	KindFlueCO             Kind = "flue-co"
	KindAmbientCO          Kind = "ambient-co"
	KindO2                 Kind = "o2"
	KindLEL                Kind = "lel"
	KindOutdoorTemperature Kind = "outdoor-temperature"
	KindIndoorTemperature  Kind = "indoor-temperature"
	KindFlueTemperature    Kind = "flue-temperature"
	KindWind               Kind = "wind"
	KindInput              Kind = "input"
	KindFanFlow            Kind = "fan-flow"
	KindCFM50              Kind = "cfm50"
	KindVolume             Kind = "volume"
	KindOpening            Kind = "opening"
	KindVentHeight         Kind = "vent-height"
	KindSpillageTime       Kind = "spillage-time"
)

// Range is the span of values that are taken without asking again, in the
// canonical unit of the quantity, both ends included.
type Range struct {
	Unit   Unit
	Lo, Hi float64
	Basis  string // why these ends
}

// RangeOf gives the range of a kind. Every range is an own rule: wide enough
// that ordinary houses never meet it, narrow enough to catch a lost point or a
// wrong unit. None is a limit, none is published.
func RangeOf(k Kind) (Range, bool) {
	r := Range{}
	switch k {
	case KindZonePressure:
		r = Range{UnitPa, -30, 15, "own rule: -35 for -3.5 is caught, very tight houses pass"}
	case KindDraft:
		r = Range{UnitPa, -20, 15, "own rule: a lost point makes a weak draft pass, so -35 for -3.5 is caught; a hot 30 ft chimney at 0 F computes to -58 and is asked once"}
	case KindFlueCO:
		r = Range{UnitPPM, 0, 5000, "own rule: beyond most analysers"}
	case KindAmbientCO:
		r = Range{UnitPPM, 0, 1000, "own rule: top of a usual monitor"}
	case KindO2:
		r = Range{UnitPercent, 0, 21, "own rule: ambient air and the last digit"}
	case KindLEL:
		r = Range{UnitPercent, 0, 100, "own rule: full scale"}
	case KindOutdoorTemperature:
		r = Range{UnitF, -60, 130, "own rule: weather where people live"}
	case KindIndoorTemperature:
		r = Range{UnitF, 20, 120, "own rule: unheated to overheated rooms"}
	case KindFlueTemperature:
		r = Range{UnitF, 30, 1200, "own rule: condensing to overfired"}
	case KindWind:
		r = Range{UnitMPH, 0, 45, "own rule: nobody tests in more"}
	case KindInput:
		r = Range{UnitBtuH, 3000, 500000, "own rule: range burner to large house boiler"}
	case KindFanFlow:
		r = Range{UnitCFM, 5, 6000, "own rule: bath fan to whole-house fan"}
	case KindCFM50:
		r = Range{UnitCFM, 50, 20000, "own rule: passive house to barn"}
	case KindVolume:
		r = Range{UnitFt3, 20, 200000, "own rule: closet to large house"}
	case KindOpening:
		r = Range{UnitIn2, 1, 10000, "own rule: knockout to doorway"}
	case KindVentHeight:
		r = Range{UnitFt, 1, 100, "own rule: mobile home to tall house"}
	case KindSpillageTime:
		r = Range{UnitS, 0, 1800, "own rule: half an hour's watch"}
	default:
		return r, false
	}
	return r, true
}

// Plausible reports whether v, in the canonical unit of the kind, may be taken
// without asking a second time. An unknown kind and NaN are not plausible.
// It must never delay a life-safety action: an ambient CO or LEL value acts
// first and is asked about afterwards.
func Plausible(k Kind, v float64) bool {
	r, ok := RangeOf(k)
	return ok && v >= r.Lo && v <= r.Hi
}

// LostPoint proposes what an implausible value may have been meant to be, the
// value with the point one digit to the left (-35 for -3.5), if that is
// plausible. It is for the question only and never replaces what was typed.
func LostPoint(k Kind, v float64) (float64, bool) {
	if w := v / 10; !Plausible(k, v) && Plausible(k, w) {
		return w, true
	}
	return 0, false
}
