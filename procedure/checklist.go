package procedure

import "slices"

// Lines of checklists, in screen order. The walk asks them and the judge
// requires them, so that neither can forget one that the other knows. Codes
// reach records: append-only.
var (
	DangerLines = []string{"alarm", "symptoms", "smell"}
	ReadyLines  = []string{"co-monitor", "consent", "no-live-fire", "no-asbestos", "occupants-warned"}
	HouseLines  = []string{"piping", "co-alarm"}
	HoseLines   = []string{"outdoor-end", "zone-end", "pinched"}
)

// NotedLine is a line that is done where it can be: what could not be is
// noted and neither missing nor judged.
const NotedLine = "continuous-off"

// LookLines are what must be seen of an appliance before it is lit.
func LookLines(a Appliance) []string {
	if a.Kind.SolidFuel() {
		return []string{"chimney", "clearances", "soot"}
	}
	if !a.Kind.Burns() || a.Burner.Fuel == Electricity {
		return nil
	}
	c := []string{"fuel"}
	if a.Burner.Fuel != Oil {
		c = append(c, "connector")
	}
	if a.Kind.Cooking() || a.Kind == GasDryer || a.Kind == UnventedHeater {
		return append(c, "soot", "clearances")
	}
	c = append(c, "vent-connected")
	if a.Facts.DraftHood == Yes {
		c = append(c, "draft-hood")
	}
	return append(c, "combustion-air", "rollout-marks", "soot", "rust", "clearances", "chimney")
}

// PrepareLines are how a house is made ready for its baseline.
func PrepareLines(fans, air []RosterItem) []string {
	c := []string{"thermostats-down", "burners-off", "fans-off", "windows-shut", "inside-doors-open", "dampers-shut", "analyser-zeroed", "holes-ready"}
	if slices.ContainsFunc(fans, func(f RosterItem) bool { return f.Kind == string(Dryer) }) {
		c = append(c, "lint-clean")
	}
	if len(air) > 0 {
		c = append(c, "condenser-off")
	}
	if slices.ContainsFunc(fans, continuous) {
		c = append(c, NotedLine)
	}
	return c
}

// AgainLines are what of the preparation a long stop makes uncertain.
var AgainLines = []string{"no-live-fire", "burners-off", "windows-shut", "dampers-shut", "analyser-zeroed"}

// continuous fans run day and night: off for the baseline where they can be,
// and on again afterwards.
func continuous(f RosterItem) bool {
	return f.Kind == string(RadonFan) || f.Kind == string(WholeHouseExhaust) || f.Kind == string(BalancedUnit)
}

// PutBackLines are how a house is left.
func PutBackLines(appl []Appliance, fans, air []RosterItem) []string {
	var c []string
	lit := slices.ContainsFunc(appl, Appliance.Fired)
	if lit {
		c = append(c, "burners-lit", "thermostats-back")
	}
	if slices.ContainsFunc(appl, func(a Appliance) bool { return a.Kind == WaterHeater }) {
		c = append(c, "water-heater-back")
	}
	if len(fans) > 0 {
		c = append(c, "fans-back")
	}
	if len(air) > 0 {
		c = append(c, "disconnects-on", "filters-in")
	}
	if lit {
		c = append(c, "holes-sealed")
	}
	c = append(c, "doors-windows-back", "dampers-back", "hoses-out", "co-alarm-working")
	if slices.ContainsFunc(fans, continuous) {
		c = append(c, "continuous-on")
	}
	return c
}
