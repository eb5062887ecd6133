package reading

import "math"

// AsMeasured is the way back from [AirFree]: what an analyser shows in a sample
// of this O2 when CO air-free is af, in ppm. The same refusals.
func AsMeasured(af Concentration, o2 Percent) (Concentration, error) {
	if _, err := AirFree(af, o2); err != nil { // same domain
		return 0, err
	}
	return af * Concentration((AirO2-o2)/AirO2), nil
}

// AirFreeCO2 is CO corrected to flue gas without excess air by way of CO2,
// CO x ultimate/CO2, where ultimate is the CO2 of the fuel's flue gas without
// excess air (see [UltimateCO2]); percent by volume of dry gas. Refused
// ([CodeOutOfRange]): CO2 not above 0 or above the ultimate, which the fuel
// cannot give, and CO below 0; ([CodeNotANumber]): a value that is not finite.
//
// Source: the same balance as [AirFree], with which it agrees where CO2 =
// ultimate x (20.9 - O2)/20.9.
func AirFreeCO2(co Concentration, co2, ultimate Percent) (Concentration, error) {
	o2, err := O2FromCO2(co2, ultimate)
	if err != nil {
		return 0, err
	}
	return AirFree(co, o2)
}

// O2FromCO2 is the O2 that goes with this CO2 in the flue gas of a fuel,
// 20.9 x (1 - CO2/ultimate), percent. Refusals as in [AirFreeCO2].
func O2FromCO2(co2, ultimate Percent) (Percent, error) {
	for _, v := range []float64{float64(co2), float64(ultimate)} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, refuse(CodeNotANumber, Format(v, -1), "")
		}
	}
	if !(ultimate > 0 && ultimate <= AirO2) {
		return 0, refuse(CodeOutOfRange, FormatUnit(float64(ultimate), UnitPercent), "")
	}
	if !(co2 > 0 && co2 <= ultimate) {
		return 0, refuse(CodeOutOfRange, FormatUnit(float64(co2), UnitPercent), "")
	}
	return AirO2 * (1 - co2/ultimate), nil
}

// UltimateCO2 is the range of CO2 that dry flue gas of a fuel holds without
// excess air, percent: natural gas 11.7 to 12.2, propane 13.7 to 14.0, no. 2
// oil 15.2 to 15.6, all from memory. The higher end gives the higher, safer CO
// air-free. Fuels are named as records name them: "gas", "propane", "oil";
// false for any other.
func UltimateCO2(fuel string) (lo, hi Percent, ok bool) {
	switch fuel {
	case "gas":
		return 11.7, 12.2, true
	case "propane":
		return 13.7, 14.0, true
	case "oil":
		return 15.2, 15.6, true
	}
	return 0, 0, false
}
