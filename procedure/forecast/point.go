package forecast

import (
	"math"

	"cazward/procedure/airflow"
	"cazward/procedure/reading"
)

// PointFlow is a flow at 50 Pa worked out from one point; Low and High are for
// exponents 0.05 to either side.
type PointFlow struct {
	Flow, Low, High reading.Flow
}

// CFM50 is the flow at 50 Pa of a house that a blower door moving flow could
// only bring to at pascals (either sign): flow (50/at)^n, n 0 for
// [DefaultExponent]. Refused below 10 Pa, where wind and stack outweigh the
// fan (own rule), and above 100 Pa.
func CFM50(flow reading.Flow, at reading.Pressure, n Exponent) (PointFlow, error) {
	if err := checkFlow("flow", flow); err != nil {
		return PointFlow{}, err
	}
	dp := math.Abs(float64(at))
	if !(dp >= 10 && dp <= 100) {
		return PointFlow{}, refuse("house pressure", float64(at), "give the pressure that was reached, 10 to 100 Pa from outdoors")
	}
	if n == 0 {
		n = DefaultExponent
	}
	if err := checkExponent(n); err != nil {
		return PointFlow{}, err
	}
	to50 := func(n Exponent) reading.Flow { return flow * reading.Flow(math.Pow(50/dp, float64(n))) }
	a, b := to50(max(0.5, n-ExponentBand)), to50(min(1, n+ExponentBand))
	return PointFlow{to50(n), min(a, b), max(a, b)}, nil
}

// ACH50 is the air changes per hour at 50 Pa: CFM50 x 60 / volume.
func ACH50(cfm50 reading.Flow, v reading.Volume) (AirChanges, error) {
	if err := checkFlow("CFM50", cfm50); err != nil {
		return 0, err
	}
	if !(v > 0) || !finite(float64(v)) {
		return 0, refuse("volume", float64(v), "give ft3 above 0")
	}
	return AirChanges(float64(cfm50) * 60 / float64(v)), nil
}

// FromACH50 is the flow at 50 Pa of so many air changes: ACH50 x volume / 60.
func FromACH50(ach AirChanges, v reading.Volume) (reading.Flow, error) {
	q, err := airflow.Flow50(float64(ach), float64(v))
	if err != nil {
		return 0, refuse("ACH50", float64(ach), "give air changes and a volume above 0")
	}
	return reading.Flow(q), nil
}

// EffectiveLeakageArea is the one hole, discharge coefficient 1, that passes
// what the house passes at 4 Pa (the form of ASTM E779, from memory); air of
// 1.2041 kg/m3, n 0 for [DefaultExponent].
func EffectiveLeakageArea(cfm50 reading.Flow, n Exponent) (reading.Area, error) {
	return leakageArea(cfm50, n, 4, 1)
}

// EquivalentLeakageArea is the one sharp-edged hole, discharge coefficient
// 0.611, that passes what the house passes at 10 Pa (the form of
// CAN/CGSB-149.10, from memory); air of 1.2041 kg/m3, n 0 for
// [DefaultExponent].
func EquivalentLeakageArea(cfm50 reading.Flow, n Exponent) (reading.Area, error) {
	return leakageArea(cfm50, n, 10, 0.611)
}

func leakageArea(cfm50 reading.Flow, n Exponent, at, discharge float64) (reading.Area, error) {
	if err := checkFlow("CFM50", cfm50); err != nil {
		return 0, err
	}
	if n == 0 {
		n = DefaultExponent
	}
	if err := checkExponent(n); err != nil {
		return 0, err
	}
	m3s, err := reading.Convert(float64(cfm50), reading.UnitCFM, reading.UnitM3S)
	if err != nil {
		return 0, err
	}
	m2, err := airflow.EffectiveArea(m3s/math.Pow(50, float64(n)), float64(n), at, discharge)
	if err != nil {
		return 0, err
	}
	return reading.ToArea(m2, reading.UnitM2)
}
