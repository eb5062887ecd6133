package reading

import (
	"math"
	"strings"
)

// Unit is a unit of measure as it stands in records. The zero value is no
// unit. Values reach disk: append-only.
type Unit string

// The units. Water columns differ by the water they assume: UnitInH2O is the
// conventional inch of water (1000 kg/m3, standard gravity), the other two are
// water at 39.2 F and at 60 F. The spread is 0.1 %.
const (
	UnitPa       Unit = "Pa"
	UnitInH2O    Unit = "inH2O"
	UnitInH2O39F Unit = "inH2O_39F"
	UnitInH2O60F Unit = "inH2O_60F"
	UnitMmH2O    Unit = "mmH2O"
	UnitPsf      Unit = "psf"
	UnitPsi      Unit = "psi"
	UnitInHg     Unit = "inHg"
	UnitPPM      Unit = "ppm"
	UnitPercent  Unit = "%"
	UnitF        Unit = "F"
	UnitC        Unit = "C"
	UnitK        Unit = "K"
	UnitMPH      Unit = "mph"
	UnitKmH      Unit = "km/h"
	UnitMS       Unit = "m/s"
	UnitCFM      Unit = "cfm"
	UnitLS       Unit = "L/s"
	UnitM3H      Unit = "m3/h"
	UnitM3S      Unit = "m3/s"
	UnitBtuH     Unit = "Btu/h"
	UnitKW       Unit = "kW"
	UnitW        Unit = "W"
	UnitFt3      Unit = "ft3"
	UnitM3       Unit = "m3"
	UnitIn2      Unit = "in2"
	UnitCm2      Unit = "cm2"
	UnitM2       Unit = "m2"
	UnitFt       Unit = "ft"
	UnitM        Unit = "m"
	UnitS        Unit = "s"
	UnitMin      Unit = "min"
)

// Family is what a unit measures. The zero value belongs to unknown units.
type Family string

// The families; only units of one family convert into each other.
const (
	FamilyPressure      Family = "pressure"
	FamilyConcentration Family = "concentration"
	FamilyPercent       Family = "percent"
	FamilyTemperature   Family = "temperature"
	FamilySpeed         Family = "speed"
	FamilyFlow          Family = "flow"
	FamilyHeatRate      Family = "heat rate"
	FamilyVolume        Family = "volume"
	FamilyArea          Family = "area"
	FamilyLength        Family = "length"
	FamilyTime          Family = "time"
)

// Exact definitions, NIST SP 811 (2008) B.8 and its section on exact factors.
const (
	inch    = 0.0254                   // m
	foot    = 12 * inch                // m
	mile    = 5280 * foot              // m
	gravity = 9.80665                  // m/s2, standard
	pound   = 0.45359237               // kg
	lbf     = pound * gravity          // N
	btu     = 1055.05585262            // J, International Table
	mercury = 13595.1                  // kg/m3, conventional
	inchHg  = mercury * gravity * inch // Pa, 3386.3886; listed as 3386.389
)

// scale says how a unit relates to its family's base, which only this file
// knows: base = (value - zero) * factor. Bases are chosen so that the factors
// of common units are short decimals.
type scale struct {
	family Family
	factor float64
	zero   float64
}

// to converts v into unit t of the same family.
func (s scale) to(v float64, t scale) float64 { return (v-s.zero)*s.factor/t.factor + t.zero }

// Temperatures count ninths of a kelvin from 0 C, so that 32 F is 0 C exactly.
var (
	fahrenheit = scale{FamilyTemperature, 5, 32}
	celsius    = scale{FamilyTemperature, 9, 0}
	kelvin     = scale{FamilyTemperature, 9, 273.15}
)

// scaleOf is a switch, not a map, so that no caller can alter a factor.
func scaleOf(u Unit) (scale, bool) {
	s := scale{}
	switch u {
	case UnitPa:
		s = scale{family: FamilyPressure, factor: 1}
	case UnitInH2O:
		s = scale{family: FamilyPressure, factor: 1000 * gravity * inch} // 249.08891 exactly
	case UnitInH2O39F:
		s = scale{family: FamilyPressure, factor: 249.082} // as listed, SP 811 B.8
	case UnitInH2O60F:
		s = scale{family: FamilyPressure, factor: 248.84} // as listed, SP 811 B.8
	case UnitMmH2O:
		s = scale{family: FamilyPressure, factor: gravity}
	case UnitPsf:
		s = scale{family: FamilyPressure, factor: lbf / (foot * foot)}
	case UnitPsi:
		s = scale{family: FamilyPressure, factor: lbf / (inch * inch)}
	case UnitInHg:
		s = scale{family: FamilyPressure, factor: inchHg}
	case UnitPPM:
		s = scale{family: FamilyConcentration, factor: 1}
	case UnitPercent:
		s = scale{family: FamilyPercent, factor: 1}
	case UnitF:
		s = fahrenheit
	case UnitC:
		s = celsius
	case UnitK:
		s = kelvin
	case UnitMPH: // base km/h
		s = scale{family: FamilySpeed, factor: mile / 1000}
	case UnitKmH:
		s = scale{family: FamilySpeed, factor: 1}
	case UnitMS:
		s = scale{family: FamilySpeed, factor: 3.6}
	case UnitCFM: // base m3/h
		s = scale{family: FamilyFlow, factor: 60 * foot * foot * foot}
	case UnitLS:
		s = scale{family: FamilyFlow, factor: 3.6}
	case UnitM3H:
		s = scale{family: FamilyFlow, factor: 1}
	case UnitM3S:
		s = scale{family: FamilyFlow, factor: 3600}
	case UnitBtuH: // base W
		s = scale{family: FamilyHeatRate, factor: btu / 3600}
	case UnitKW:
		s = scale{family: FamilyHeatRate, factor: 1000}
	case UnitW:
		s = scale{family: FamilyHeatRate, factor: 1}
	case UnitFt3:
		s = scale{family: FamilyVolume, factor: foot * foot * foot}
	case UnitM3:
		s = scale{family: FamilyVolume, factor: 1}
	case UnitIn2: // base cm2
		s = scale{family: FamilyArea, factor: 1e4 * inch * inch}
	case UnitCm2:
		s = scale{family: FamilyArea, factor: 1}
	case UnitM2:
		s = scale{family: FamilyArea, factor: 1e4}
	case UnitFt:
		s = scale{family: FamilyLength, factor: foot}
	case UnitM:
		s = scale{family: FamilyLength, factor: 1}
	case UnitS:
		s = scale{family: FamilyTime, factor: 1}
	case UnitMin:
		s = scale{family: FamilyTime, factor: 60}
	default:
		return s, false
	}
	return s, true
}

// Family says what the unit measures; "" for a spelling records do not use
// (see [ParseUnit] for what people type).
func (u Unit) Family() Family {
	s, _ := scaleOf(u)
	return s.family
}

// Convert changes v from one unit into another of the same family. Temperature
// is converted as a point on the scale (32 F is 0 C); a temperature difference
// must not be passed. It refuses an unknown unit ([CodeUnit]), different
// families ([CodeFamily]), a value that is not finite ([CodeNotANumber]) and
// a temperature below absolute zero or an overflow ([CodeOutOfRange]).
func Convert(v float64, from, to Unit) (float64, error) {
	f, ok := scaleOf(from)
	if !ok {
		return 0, refuse(CodeUnit, string(from), "")
	}
	t, ok := scaleOf(to)
	if !ok {
		return 0, refuse(CodeUnit, string(to), "")
	}
	if f.family != t.family {
		return 0, refuse(CodeFamily, string(from), string(to))
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, refuse(CodeNotANumber, Format(v, -1), "")
	}
	w := v
	if from != to { // no detour, so that a value in its own unit keeps every bit
		w = f.to(v, t)
	}
	// A few ulps of slack: -459.67 F is absolute zero and must be accepted.
	if math.IsInf(w, 0) || f.family == FamilyTemperature && f.to(v, kelvin) < -1e-9 {
		return 0, refuse(CodeOutOfRange, Format(v, -1), "")
	}
	return w, nil
}

// ParseUnit reads a unit as people type it: letter case, spaces, points and the
// degree sign do not matter, and the trade's short forms are known ("in wc",
// "iwc", `"wc`, "°F", "sq in", "btuh"). A bare inch of water is the conventional one.
// An empty or unknown text is refused ([CodeEmpty], [CodeUnit]); a bare "in"
// is, because it may be a length.
func ParseUnit(text string) (Unit, error) {
	if strings.TrimSpace(text) == "" {
		return "", refuse(CodeEmpty, text, "")
	}
	key := strings.NewReplacer(".", "", "°", "", "º", "", "²", "2", "³", "3", "″", `"`, "”", `"`, "“", `"`).
		Replace(strings.ToLower(strings.Join(strings.Fields(text), "")))
	switch key {
	case "pa", "pascal", "pascals":
		return UnitPa, nil
	case "inh2o", "inwc", "inwg", "inwater", "iwc", "iwg", "wc", "wg", `"wc`, `"wg`, `"wc"`, `"h2o`:
		return UnitInH2O, nil
	case "inh2o_39f", "inh2o39f", "inh2o@39f":
		return UnitInH2O39F, nil
	case "inh2o_60f", "inh2o60f", "inh2o@60f":
		return UnitInH2O60F, nil
	case "mmh2o", "mmwc", "mmwg":
		return UnitMmH2O, nil
	case "psf", "lb/ft2", "lbf/ft2":
		return UnitPsf, nil
	case "psi", "lb/in2", "lbf/in2":
		return UnitPsi, nil
	case "inhg", `"hg`:
		return UnitInHg, nil
	case "ppm":
		return UnitPPM, nil
	case "%", "percent", "pct":
		return UnitPercent, nil
	case "f", "degf", "fahrenheit":
		return UnitF, nil
	case "c", "degc", "celsius":
		return UnitC, nil
	case "k", "kelvin":
		return UnitK, nil
	case "mph", "mi/h":
		return UnitMPH, nil
	case "km/h", "kmh", "kph":
		return UnitKmH, nil
	case "m/s", "mps":
		return UnitMS, nil
	case "cfm", "ft3/min":
		return UnitCFM, nil
	case "l/s", "lps":
		return UnitLS, nil
	case "m3/h", "m3h", "cmh":
		return UnitM3H, nil
	case "m3/s":
		return UnitM3S, nil
	case "btu/h", "btu/hr", "btuh", "btu": // a nameplate's "Btu" is per hour
		return UnitBtuH, nil
	case "kw":
		return UnitKW, nil
	case "w", "watt", "watts":
		return UnitW, nil
	case "ft3", "cuft", "cf":
		return UnitFt3, nil
	case "m3":
		return UnitM3, nil
	case "in2", "sqin":
		return UnitIn2, nil
	case "cm2", "sqcm":
		return UnitCm2, nil
	case "m2", "sqm":
		return UnitM2, nil
	case "ft", "foot", "feet":
		return UnitFt, nil
	case "m", "meter", "meters", "metre", "metres":
		return UnitM, nil
	case "s", "sec", "secs", "second", "seconds":
		return UnitS, nil
	case "min", "mins", "minute", "minutes":
		return UnitMin, nil
	}
	return "", refuse(CodeUnit, text, "")
}
