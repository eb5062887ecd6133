package reading

import "math"

// AirO2 is the oxygen in ambient air that the air-free formula assumes.
const AirO2 Percent = 20.9

// AirFree is CO corrected to flue gas without excess air,
// CO x 20.9/(20.9 - O2), from CO as measured in ppm and O2 in percent of the
// same sample. It is never below CO as measured. Refused ([CodeOutOfRange]):
// O2 below 0 or at 20.9 and above, where the formula has no answer, and CO
// below 0; ([CodeNotANumber]): a value that is not finite. A figure near 20.9
// % O2 is arithmetic, not evidence: whether a sample is too diluted to judge is
// the scheme's to say.
//
// Source: formula as printed in the heating trade press (hvacrschool.com,
// air-free CO); the same in the table notes of NFPA 54 and the IFGC, from
// memory.
func AirFree(co Concentration, o2 Percent) (Concentration, error) {
	for _, v := range []float64{float64(co), float64(o2)} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, refuse(CodeNotANumber, Format(v, -1), "")
		}
	}
	if co < 0 {
		return 0, refuse(CodeOutOfRange, FormatUnit(float64(co), UnitPPM), "")
	}
	if o2 < 0 || o2 >= AirO2 {
		return 0, refuse(CodeOutOfRange, FormatUnit(float64(o2), UnitPercent), "")
	}
	af := co * Concentration(AirO2/(AirO2-o2)) // the ratio is at least 1, so af is at least co
	if math.IsInf(float64(af), 0) {
		return 0, refuse(CodeOutOfRange, FormatUnit(float64(co), UnitPPM), "")
	}
	return af, nil
}
