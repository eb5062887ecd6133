package report

import (
	"math"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Units in which a report shows temperatures, wind, flows, burner inputs,
// volumes and areas.
// Pressures are in pascals in both, as limits are. The zero value keeps what
// was typed.
type Units string

// The systems of units.
const (
	AsTyped Units = ""
	US      Units = "us"
	SI      Units = "si"
)

// Show gives a value in the report's units, rounded to tenths; what it has no
// other unit for comes back as it is.
func (u Units) Show(v float64, unit string) (float64, string) {
	to := reading.Unit(unit)
	switch to.Family() {
	case reading.FamilyTemperature:
		to = u.pick(to, reading.UnitF, reading.UnitC)
	case reading.FamilySpeed:
		to = u.pick(to, reading.UnitMPH, reading.UnitKmH)
	case reading.FamilyFlow:
		to = u.pick(to, reading.UnitCFM, reading.UnitLS)
	case reading.FamilyHeatRate:
		to = u.pick(to, reading.UnitBtuH, reading.UnitKW)
	case reading.FamilyVolume:
		to = u.pick(to, reading.UnitFt3, reading.UnitM3)
	case reading.FamilyArea:
		to = u.pick(to, reading.UnitIn2, reading.UnitCm2)
	}
	if string(to) == unit {
		return v, unit
	}
	w, err := reading.Convert(v, reading.Unit(unit), to)
	if err != nil {
		return v, unit
	}
	return math.Round(w*10) / 10, string(to)
}

func (u Units) pick(typed, us, si reading.Unit) reading.Unit {
	switch u {
	case US:
		return us
	case SI:
		return si
	}
	return typed
}

// Weather in the report's units.
func (u Units) Weather(w procedure.Weather) procedure.Weather {
	w.Wind, w.WindUnit = u.Show(w.Wind, w.WindUnit)
	w.Temp, w.TempUnit = u.Show(w.Temp, w.TempUnit)
	return w
}
