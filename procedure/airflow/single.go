package airflow

import (
	"fmt"
	"math"
)

// The helpers below treat the house as one zone with the leakage Q = C dp^n
// that a blower door measures (the form of ASTM E779 and CAN/CGSB-149.10, from
// memory). Flows share one unit, whichever the caller keeps to. Pressures are
// magnitudes: an exhaust of Q puts the zone that far below outdoors.

// ValueError is a number that a single-zone helper refuses.
type ValueError struct {
	Name  string
	Value float64
	Want  string
}

func (e *ValueError) Error() string {
	return fmt.Sprintf("airflow: %s %v refused: give %s", e.Name, e.Value, e.Want)
}

func positive(name string, v float64) error {
	if !(v > 0) || math.IsInf(v, 1) {
		return &ValueError{name, v, "a number above 0"}
	}
	return nil
}

func notNegative(name string, v float64) error {
	if !(v >= 0) || math.IsInf(v, 1) {
		return &ValueError{name, v, "0 or a number above it"}
	}
	return nil
}

func limitSize(v float64) error {
	if positive("", v) != nil {
		return &ValueError{"limit", v, "Pa below outdoors, without a sign"}
	}
	return nil
}

func exponent(n float64) error {
	if !(n >= 0.3 && n <= 1) {
		return &ValueError{"exponent", n, "a flow exponent, 0.3 to 1 (0.5 to 1 in practice)"}
	}
	return nil
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// Flow is Q = c dp^n, with the sign of dp (Pa).
func Flow(c, dp, n float64) (float64, error) {
	if err := firstError(notNegative("coefficient", c), notNegative("size of the pressure", math.Abs(dp)), exponent(n)); err != nil {
		return 0, err
	}
	return math.Copysign(c*math.Pow(math.Abs(dp), n), dp), nil
}

// Depressurization is by how many Pa an exhaust flow lowers a house whose flow
// at 50 Pa is flow50: 50 (exhaust/flow50)^(1/n).
func Depressurization(exhaust, flow50, n float64) (float64, error) {
	if err := firstError(notNegative("exhaust", exhaust), positive("flow at 50 Pa", flow50), exponent(n)); err != nil {
		return 0, err
	}
	return 50 * math.Pow(exhaust/flow50, 1/n), nil
}

// TightnessFloor is the smallest flow at 50 Pa with which an exhaust flow does
// not pull the house further than limit Pa below outdoors:
// exhaust (50/limit)^n.
func TightnessFloor(exhaust, limit, n float64) (float64, error) {
	if err := firstError(notNegative("exhaust", exhaust), limitSize(limit), exponent(n)); err != nil {
		return 0, err
	}
	return exhaust * math.Pow(50/limit, n), nil
}

// AllowedExhaust is the flow that brings a house with the given flow at 50 Pa
// to limit Pa below outdoors: flow50 (limit/50)^n.
func AllowedExhaust(flow50, limit, n float64) (float64, error) {
	if err := firstError(positive("flow at 50 Pa", flow50), limitSize(limit), exponent(n)); err != nil {
		return 0, err
	}
	return flow50 * math.Pow(limit/50, n), nil
}

// SealingRatio is the factor by which sealing from one flow at 50 Pa to
// another multiplies the depressurization by the same exhaust:
// (before/after)^(1/n).
func SealingRatio(before, after, n float64) (float64, error) {
	if err := firstError(positive("flow at 50 Pa before", before), positive("flow at 50 Pa after", after), exponent(n)); err != nil {
		return 0, err
	}
	return math.Pow(before/after, 1/n), nil
}

// Flow50 is the flow per minute at 50 Pa of a volume with the given air changes
// per hour at 50 Pa: ft3 give cfm.
func Flow50(ach50, volume float64) (float64, error) {
	if err := firstError(positive("air changes at 50 Pa", ach50), positive("volume", volume)); err != nil {
		return 0, err
	}
	return ach50 * volume / 60, nil
}

// EffectiveArea is the area, in m2, of the orifice with discharge coefficient
// cd that passes c ref^n m3/s at ref Pa, at the standard density.
func EffectiveArea(c, n, ref, cd float64) (float64, error) {
	if err := firstError(notNegative("coefficient", c), exponent(n), positive("reference pressure", ref), positive("discharge coefficient", cd)); err != nil {
		return 0, err
	}
	return c * math.Pow(ref, n-0.5) / (cd * math.Sqrt(2/StandardDensity)), nil
}

// Fit is the power law through two measured points: flow1 at dp1 and flow2 at
// dp2 Pa.
func Fit(flow1, dp1, flow2, dp2 float64) (c, n float64, err error) {
	err = firstError(positive("first flow", flow1), positive("first pressure", dp1), positive("second flow", flow2), positive("second pressure", dp2))
	if err != nil {
		return 0, 0, err
	}
	if dp1 == dp2 {
		return 0, 0, &ValueError{"second pressure", dp2, "two different pressures"}
	}
	n = math.Log(flow2/flow1) / math.Log(dp2/dp1)
	if err := exponent(n); err != nil {
		return 0, 0, err
	}
	return flow1 / math.Pow(dp1, n), n, nil
}
