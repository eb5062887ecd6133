// Package reading holds the quantities of the test: one Go type each, their
// units, how a typed answer becomes a number and how a number becomes text.
//
// Most callers need [ParsePressure] for what stands in an answer box and
// [FormatNear] for what stands beside a limit. [Convert] changes units,
// [Summarize] condenses repeated samples, [AirFree] corrects flue CO for
// excess air, [Plausible] says whether a value should be asked for twice.
//
// # Invariants
//
// A parsed value is finite, was typed in plain decimal and is never negative
// zero. Nothing is guessed: what can be read in two ways is refused with an
// [EntryError] whose [Code] screens put into words. No other package turns a
// measured float into text. The package knows no limit and judges nothing.
//
// # Sign
//
// A zone pressure is the zone with reference to outdoors, a draft the vent with
// reference to the zone; negative means lower (a more negative draft is
// stronger).
//
// # Sources
//
// Unit factors: NIST SP 811 (2008), appendix B.8, whose listed values follow
// from the exact definitions written out in unit.go. CO air-free: see
// [AirFree]. Plausible ranges and rounding are own rules.
//
// # Compatibility
//
// [Unit], [Code] and [Kind] values are written to records. They are
// append-only: a spelling is never changed, reused or removed.
package reading

// Pressure is a pressure difference in pascals; negative means lower than the
// reference.
type Pressure float64

// Concentration is a volume fraction of carbon monoxide in parts per million.
type Concentration float64

// Percent is oxygen by volume or combustible gas as a share of the lower
// explosive limit (LEL), in percent.
type Percent float64

// Temperature is in degrees Fahrenheit, the unit the trade's outdoor draft
// rule is published in.
type Temperature float64

// Speed is in miles per hour; one mile is exactly 1609.344 m (NIST SP 811 B.8).
type Speed float64

// Flow is air moved in cubic feet per minute; one cubic foot is exactly
// 0.3048^3 m3 (NIST SP 811 B.8).
type Flow float64

// HeatRate is burner input in Btu per hour, International Table Btu of exactly
// 1055.05585262 J (NIST SP 811 B.8).
type HeatRate float64

// Volume is in cubic feet.
type Volume float64

// Area is in square inches; one inch is exactly 25.4 mm (NIST SP 811 B.8).
type Area float64

// Length is in feet; one foot is exactly 0.3048 m (NIST SP 811 B.8).
type Length float64

// Seconds is a duration in seconds.
type Seconds float64

// C gives the temperature in degrees Celsius.
func (t Temperature) C() float64 { return fahrenheit.to(float64(t), celsius) }

// K gives the temperature in kelvins.
func (t Temperature) K() float64 { return fahrenheit.to(float64(t), kelvin) }

// The String methods print the digits the trade's instruments show, without a
// unit. A value beside its limit is printed with [FormatNear] instead.

// String prints tenths of a pascal, "-2.6", with the ASCII minus.
func (p Pressure) String() string { return Format(float64(p), 1) }

// String prints whole ppm.
func (c Concentration) String() string { return Format(float64(c), 0) }

// String prints tenths of a percent.
func (p Percent) String() string { return Format(float64(p), 1) }

// String prints whole degrees Fahrenheit.
func (t Temperature) String() string { return Format(float64(t), 0) }

// String prints whole miles per hour.
func (s Speed) String() string { return Format(float64(s), 0) }

// String prints whole cubic feet per minute.
func (f Flow) String() string { return Format(float64(f), 0) }

// String prints whole Btu/h.
func (h HeatRate) String() string { return Format(float64(h), 0) }

// String prints whole cubic feet.
func (v Volume) String() string { return Format(float64(v), 0) }

// String prints tenths of a square inch.
func (a Area) String() string { return Format(float64(a), 1) }

// String prints tenths of a foot.
func (l Length) String() string { return Format(float64(l), 1) }

// String prints whole seconds.
func (s Seconds) String() string { return Format(float64(s), 0) }

// ToPressure reads v in unit u as a pressure. Like its siblings below it
// refuses a unit of another family ([CodeFamily]), an unknown unit
// ([CodeUnit]) and a value that is not finite ([CodeNotANumber]).
func ToPressure(v float64, u Unit) (Pressure, error) { return as[Pressure](v, u, UnitPa) }

// ToConcentration reads v in unit u as a concentration.
func ToConcentration(v float64, u Unit) (Concentration, error) {
	return as[Concentration](v, u, UnitPPM)
}

// ToPercent reads v in unit u as a percentage.
func ToPercent(v float64, u Unit) (Percent, error) { return as[Percent](v, u, UnitPercent) }

// ToTemperature reads v in unit u as a temperature (a point on the scale, not
// a difference).
func ToTemperature(v float64, u Unit) (Temperature, error) { return as[Temperature](v, u, UnitF) }

// ToSpeed reads v in unit u as a speed.
func ToSpeed(v float64, u Unit) (Speed, error) { return as[Speed](v, u, UnitMPH) }

// ToFlow reads v in unit u as a flow.
func ToFlow(v float64, u Unit) (Flow, error) { return as[Flow](v, u, UnitCFM) }

// ToHeatRate reads v in unit u as a heat rate.
func ToHeatRate(v float64, u Unit) (HeatRate, error) { return as[HeatRate](v, u, UnitBtuH) }

// ToVolume reads v in unit u as a volume.
func ToVolume(v float64, u Unit) (Volume, error) { return as[Volume](v, u, UnitFt3) }

// ToArea reads v in unit u as an area.
func ToArea(v float64, u Unit) (Area, error) { return as[Area](v, u, UnitIn2) }

// ToLength reads v in unit u as a length.
func ToLength(v float64, u Unit) (Length, error) { return as[Length](v, u, UnitFt) }

// ToSeconds reads v in unit u as a duration.
func ToSeconds(v float64, u Unit) (Seconds, error) { return as[Seconds](v, u, UnitS) }

// as converts to the canonical unit of quantity Q.
func as[Q ~float64](v float64, u, canonical Unit) (Q, error) {
	w, err := Convert(v, u, canonical)
	return Q(w), err
}
