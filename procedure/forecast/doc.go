// Package forecast says, before any sealing, what tightening a house will do
// to its combustion appliance zones, how far one may go, and how much indoor
// air the burners need.
//
// Most callers need [New] for one zone, [Zones] for every zone of a record and
// [CombustionAir] for volume and openings. [CFM50], [ACH50],
// [EffectiveLeakageArea] and [EquivalentLeakageArea] are the arithmetic that
// crews do by hand.
//
// # The single-zone rule
//
// A house leaks Q = C dP^n, so the same exhaust pulls it (before/after)^(1/n)
// times as far once its flow at 50 Pa has gone from before to after (the form
// of ASTM E779 and CAN/CGSB-149.10, from memory). Best is to start from the net
// worst-case pressure as measured: the effective exhaust is then inferred from
// it, and whatever the fans really move, and whatever the air handler adds,
// is in it. Flows off a plate are second best.
//
// The rule takes house and zone for one space. [Weakness] codes say where that
// is known not to hold. A forecast is a plan and never a test result: a pass
// here lets nobody skip the test after sealing.
//
// # Signs
//
// Zone pressures are with reference to outdoors, in pascals; negative is lower.
// Low is the more negative end of a band. Flows at 50 Pa are cubic feet per
// minute.
//
// # Sources
//
// Exponent 0.65: common practice; the band of 0.05 to either side, the error of
// a blower-door reading and the thresholds of the weaknesses are own rules.
// Combustion air: see the methods.
//
// # Compatibility
//
// [Weakness], [Method] and the finding's rule and action reach reports and
// JSON. They are append-only.
package forecast
