// Package xml writes a record in the open home-performance data standard
// HPXML, version 4.2: CFM50 of the house, zones, worst case, items running,
// doors, net change, ambient CO, and for each appliance draft, spillage, CO and
// the outdoor temperature, at worst case and under natural conditions. Use
// [Write].
//
// What the standard has no place for (uncertainty, limits with their sources,
// findings, what was not tested, the decision) stands in its extension
// elements, in the namespace [Namespace]. A pressure keeps its sign: minus is
// lower than outdoors, and so is the limit. What was not measured is absent.
//
// # Compatibility
//
// Elements of the extension are never renamed or removed.
package xml

import (
	"bytes"
	stdxml "encoding/xml"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/reading"
	"cazward/report"
)

// Namespace of the extension elements.
const Namespace = "urn:cazward:record:1"

// Write writes the document. The error is that of w.
func Write(w io.Writer, in report.Input) error {
	d := &doc{in: in, o: &in.Observations, ids: map[string]string{}, taken: map[string]bool{}}
	d.document(report.Build(in))
	_, err := w.Write(d.b.Bytes())
	return err
}

type doc struct {
	b     bytes.Buffer
	in    report.Input
	o     *procedure.Observations
	depth int
	ids   map[string]string // of zones and appliances in the document
	taken map[string]bool
}

func escape(s string) string {
	var b strings.Builder
	_ = stdxml.EscapeText(&b, []byte(report.Clean(s))) // a strings.Builder does not fail
	return b.String()
}

func (d *doc) indent() { d.b.WriteString(strings.Repeat("  ", d.depth)) }

// tag opens an element; attributes are name and value in turn.
func (d *doc) tag(name string, attrs []string, close string) {
	d.b.WriteString("<" + name)
	for i := 0; i+1 < len(attrs); i += 2 {
		if attrs[i+1] != "" {
			d.b.WriteString(" " + attrs[i] + `="` + escape(attrs[i+1]) + `"`)
		}
	}
	d.b.WriteString(close)
}

// el writes an element around what inside writes, and nothing at all where
// that is nothing.
func (d *doc) el(name string, inside func(), attrs ...string) {
	before := d.b.Len()
	d.indent()
	d.tag(name, attrs, ">\n")
	at := d.b.Len()
	d.depth++
	inside()
	d.depth--
	if d.b.Len() == at {
		d.b.Truncate(before)
		if len(attrs) > 0 { // the attributes say it all
			d.indent()
			d.tag(name, attrs, "/>\n")
		}
		return
	}
	d.indent()
	d.b.WriteString("</" + name + ">\n")
}

// text writes an element with text, and none without.
func (d *doc) text(name, s string, attrs ...string) {
	if s == "" {
		return
	}
	d.indent()
	d.tag(name, attrs, ">")
	d.b.WriteString(escape(s) + "</" + name + ">\n")
}

// num writes an element with a number, and none where there is none.
func (d *doc) num(name string, v *float64) {
	if v != nil && !math.IsNaN(*v) && !math.IsInf(*v, 0) {
		d.text(name, figure(*v))
	}
}

// figure prints a number without the dust of binary fractions.
func figure(v float64) string {
	if math.Abs(v) < 1e9 {
		v = math.Round(v*1e6) / 1e6
	}
	return reading.Format(v, -1)
}

func (d *doc) bool(name string, v bool) { d.text(name, fmt.Sprint(v)) }

// id makes an identifier that XML allows, one for each thing.
func (d *doc) id(kind, id string) string {
	key := kind + "/" + id
	if d.ids[key] != "" {
		return d.ids[key]
	}
	clean := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '_'
	}, id)
	out := kind + "-" + clean
	for n := 2; d.taken[out]; n++ {
		out = fmt.Sprintf("%s-%s_%d", kind, clean, n)
	}
	d.taken[out], d.ids[key] = true, out
	return out
}

func (d *doc) identifier(id string) { d.el("SystemIdentifier", func() {}, "id", id) }

func (d *doc) document(r report.Report) {
	d.b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	d.el("HPXML", func() {
		d.el("XMLTransactionHeaderInformation", func() {
			d.text("XMLType", "combustion safety test")
			d.text("XMLGeneratedBy", strings.TrimSpace("cazward "+d.in.ProgramVersion))
			d.text("CreatedDateAndTime", r.Stamp.Format(time.RFC3339))
			d.text("Transaction", "create")
		})
		d.el("SoftwareInfo", func() {
			d.text("SoftwareProgramUsed", "cazward")
			d.text("SoftwareProgramVersion", d.in.ProgramVersion)
		})
		d.el("Building", func() {
			d.el("BuildingID", func() {}, "id", "building")
			d.el("ProjectStatus", func() {
				d.text("EventType", map[procedure.Phase]string{procedure.TestIn: "audit", procedure.Daily: "construction-period testing/daily test out",
					procedure.TestOut: "job completion testing/final inspection"}[d.in.Header.Phase])
				if d.in.Header.Phase != procedure.TestIn && d.in.Header.Phase != procedure.Daily && d.in.Header.Phase != procedure.TestOut {
					d.text("EventType", "audit") // the standard asks for one
				}
				if !r.Stamp.IsZero() {
					d.text("Date", r.Stamp.Format("2006-01-02"))
				}
			})
			d.el("BuildingDetails", func() {
				d.enclosure()
				d.systems()
				d.kitchen()
				d.health(r)
			})
		})
	}, "xmlns", "http://hpxmlonline.com/2023/09", "xmlns:cz", Namespace, "schemaVersion", "4.2")
}

var fuels = map[procedure.Fuel]string{procedure.NaturalGas: "natural gas", procedure.Propane: "propane", procedure.Oil: "fuel oil", procedure.Wood: "wood",
	procedure.Pellets: "wood pellets", procedure.Electricity: "electricity"}

// heaters are the kinds that the standard lists as heating systems.
var heaters = map[procedure.ApplianceKind]string{procedure.Furnace: "Furnace", procedure.Boiler: "Boiler", procedure.RoomHeater: "SpaceHeater", procedure.UnventedHeater: "SpaceHeater",
	procedure.FloorHeater: "FloorFurnace", procedure.WallHeater: "WallFurnace", procedure.GasLog: "Fireplace", procedure.Fireplace: "Fireplace", procedure.WoodStove: "Stove", procedure.PelletStove: "Stove"}

func (d *doc) caz(a procedure.Appliance) {
	if slices.ContainsFunc(d.o.Zones, func(z procedure.Zone) bool { return z.ID == a.Zone }) {
		d.el("AttachedToCAZ", func() {}, "idref", d.id("zone", a.Zone))
	}
}

// enclosure is CFM50 of the house. The record keeps neither the day of that
// test nor the volume of the house, so neither stands here.
func (d *doc) enclosure() {
	v := d.o.CFM50
	if v == nil || !(*v > 0) || math.IsInf(*v, 0) { // the standard takes no other figure
		return
	}
	d.el("Enclosure", func() {
		d.el("AirInfiltration", func() {
			d.el("AirInfiltrationMeasurement", func() {
				d.identifier("air-infiltration")
				d.text("TypeOfInfiltrationMeasurement", "blower door")
				d.text("HousePressure", "50")
				d.el("BuildingAirLeakage", func() {
					d.text("UnitofMeasure", "CFM")
					d.num("AirLeakage", v)
				})
			})
		})
	})
}

func (d *doc) systems() {
	d.el("Systems", func() {
		d.el("HVAC", func() {
			d.el("HVACPlant", func() {
				for _, a := range d.o.Appliances {
					kind := heaters[a.Kind]
					if kind == "" {
						continue
					}
					d.el("HeatingSystem", func() {
						d.identifier(d.id("appliance", a.ID))
						d.caz(a)
						d.el("HeatingSystemType", func() {
							d.indent()
							d.b.WriteString("<" + kind + "/>\n")
						})
						d.text("HeatingSystemFuel", fuels[a.Burner.Fuel])
						if v, err := reading.Convert(a.Burner.Input, reading.Unit(a.Burner.Unit), reading.UnitBtuH); err == nil && a.Burner.Input > 0 {
							v = math.Round(v)
							d.num("HeatingInputRating", &v)
						}
					})
				}
			})
		})
		d.el("WaterHeating", func() {
			for _, a := range d.o.Appliances {
				if a.Kind != procedure.WaterHeater && a.Kind != procedure.IndirectTank {
					continue
				}
				d.el("WaterHeatingSystem", func() {
					d.identifier(d.id("appliance", a.ID))
					d.caz(a)
					d.text("FuelType", fuels[a.Burner.Fuel])
					kind := "unknown" // storage or not is no question of this test
					if a.Kind == procedure.IndirectTank {
						kind = "space-heating boiler with storage tank"
					}
					d.text("WaterHeaterType", kind)
				})
			}
		})
	})
}

func (d *doc) kitchen() {
	d.el("Appliances", func() {
		for _, k := range []struct {
			kind procedure.ApplianceKind
			name string
		}{{procedure.GasDryer, "ClothesDryer"}, {procedure.Range, "CookingRange"}, {procedure.Oven, "Oven"}} {
			for _, a := range d.o.Appliances {
				if a.Kind == k.kind {
					d.el(k.name, func() {
						d.identifier(d.id("appliance", a.ID))
						d.text("FuelType", fuels[a.Burner.Fuel])
					})
				}
			}
		}
	})
}

func (d *doc) health(r report.Report) {
	d.el("HealthAndSafety", func() {
		d.el("General", func() {
			j := d.in.Judgement
			d.bool("TestsCompleted", j.Decision != procedure.NoDecision && len(j.Missing) == 0 && d.in.Closed)
			d.bool("TestsPassed", j.Decision == procedure.Proceed && d.in.Closed)
		})
		d.el("CombustionAppliances", func() {
			d.num("MaxAmbientCOinLivingSpaceDuringAudit", d.ambient())
			for _, z := range d.o.Zones {
				d.zone(z)
			}
		})
		d.el("extension", func() { d.extension(r) })
	})
}

// ambient is the highest CO that was read in the air; nil where none was.
func (d *doc) ambient() *float64 {
	var high *float64
	for _, a := range d.o.Ambient {
		if v := a.Value; high == nil || v > *high {
			high = &v
		}
	}
	for _, h := range d.o.Hazards {
		if h.Hazard.Code == procedure.AmbientCO && h.Hazard.Value != nil && (high == nil || *h.Hazard.Value > *high) {
			high = h.Hazard.Value
		}
	}
	return high
}

// beyondRange: a meter went over its range, so it was above 35 ppm at least.
func (d *doc) beyondRange() bool {
	return slices.ContainsFunc(d.o.Ambient, func(a procedure.AmbientObs) bool { return a.OverRange }) ||
		slices.ContainsFunc(d.o.Hazards, func(h procedure.HazardObs) bool {
			return h.Hazard.Code == procedure.AmbientCO && h.Hazard.OverRange
		})
}

// worst case of a zone, and the findings on it.
func (d *doc) worst(z procedure.Zone) (procedure.WorstCase, []procedure.Finding) {
	var list []procedure.Finding
	for _, f := range d.in.Judgement.Findings {
		a, _ := d.o.Appliance(f.Subject)
		if f.Unit == "Pa" && !strings.HasPrefix(f.Rule, "draft") && (f.Subject == z.ID || a.Zone == z.ID) {
			list = append(list, f)
		}
	}
	before := 0
	for _, x := range d.o.Zones {
		if x.ID == z.ID {
			break
		}
		if x.Name == z.Name {
			before++
		}
	}
	for _, w := range d.in.Judgement.WorstCase {
		if w.Zone == z.ID || w.Zone == z.Name {
			if before == 0 || w.Zone == z.ID {
				return w, list
			}
			before--
		}
	}
	return procedure.WorstCase{}, list
}

func (d *doc) zone(z procedure.Zone) {
	w, findings := d.worst(z)
	var limit *float64
	result := ""
	passed, failed, open := false, false, false
	for _, f := range findings {
		if f.Limit != nil && (limit == nil || *f.Limit > *limit) {
			limit = f.Limit
		}
		switch f.Verdict {
		case procedure.Pass:
			passed = true
		case procedure.Fail, procedure.TooClose:
			failed = true
		case procedure.NotEvaluated:
			open = true
		}
	}
	switch {
	case failed:
		result = "fail"
	case passed && !open:
		result = "pass"
	}
	zo := d.o.ZoneOf(z.ID)
	d.el("CombustionApplianceZone", func() {
		d.identifier(d.id("zone", z.ID))
		d.num("CAZDepressurizationLimit", limit)
		if zo != nil && len(zo.Baselines) > 0 {
			su := zo.Baselines[0].Setup
			for _, p := range zo.Baselines {
				if slices.Contains(w.About, p.N) {
					su = p.Setup
				}
			}
			d.el("BaselineTest", func() { d.configuration(su, w.Baseline) })
		}
		if zo != nil && zo.Held != nil {
			su := *zo.Held
			for _, p := range zo.Readings {
				if slices.Contains(w.About, p.N) {
					su = p.Setup
				}
			}
			d.el("PoorCaseTest", func() { d.configuration(su, w.Reading) })
		}
		d.num("NetPressureChange", w.Net)
		d.text("DepressurizationFindingPoorCase", result)
		if high := d.ambient(); high != nil || d.beyondRange() {
			d.num("AmountAmbientCOinCAZduringTesting", high)
			d.bool("AmbientCOinCAZExceeded35ppmduringTesting", d.beyondRange() || *high > 35)
		}
		for _, a := range d.o.Appliances {
			if a.Zone == z.ID {
				d.appliance(a)
			}
		}
		d.el("extension", func() {
			d.text("cz:Name", z.Name)
			d.num("cz:NetUncertainty", w.Uncertainty)
			if w.Pairs > 0 {
				d.text("cz:OffOnPairs", fmt.Sprint(w.Pairs))
			}
			for _, f := range findings {
				d.finding(f)
			}
		})
	})
}

// configuration is how the house was set. The standard has a place for five
// kinds of fans and for doors that are all alike; the extension names each.
func (d *doc) configuration(su procedure.Setup, pressure *float64) {
	on := map[string]bool{}
	has := map[string]bool{}
	for _, f := range d.o.Fans {
		has[f.Kind] = true
		on[f.Kind] = on[f.Kind] || slices.Contains(su.Fans, f.ID)
	}
	d.el("ItemsRunning", func() {
		for _, k := range []struct{ kind, name string }{{string(procedure.BathFan), "BathExhaustFan"}, {string(procedure.RangeHood), "KitchenExhaustFan"},
			{string(procedure.Dryer), "ClothesDryer"}, {string(procedure.CentralVacuum), "CentralVacuum"}} {
			if has[k.kind] {
				d.bool(k.name, on[k.kind])
			}
		}
		if len(d.o.AirHandlers) > 0 {
			d.bool("AirHandler", len(su.AirHandler) > 0)
		}
	})
	d.el("DoorsOpenClosed", func() {
		shut := 0
		for _, x := range d.o.Doors {
			if slices.Contains(su.Doors, x.ID) {
				shut++
			}
		}
		switch {
		case len(d.o.Doors) == 0:
		case shut == 0:
			d.text("OtherDoors", "open")
		case shut == len(d.o.Doors):
			d.text("OtherDoors", "closed")
		}
	})
	d.num("Pressure", pressure)
	d.el("extension", func() {
		each := func(name string, list []procedure.RosterItem, ids []string, yes, no string) {
			for _, it := range list {
				state := no
				if slices.Contains(ids, it.ID) {
					state = yes
				} else if slices.Contains(su.NotRun, it.ID) {
					state = "could not be run"
				}
				d.el(name, func() {}, "name", it.Name, "kind", it.Kind, "state", state)
			}
		}
		each("cz:Fan", d.o.Fans, su.Fans, "on", "off")
		each("cz:Door", d.o.Doors, su.Doors, "closed", "open")
		each("cz:AirHandler", d.o.AirHandlers, su.AirHandler, "on", "off")
		if su.CAZDoor == "open" || su.CAZDoor == "closed" {
			d.text("cz:CAZDoor", su.CAZDoor)
		}
		if su.FlowCFM > 0 {
			d.num("cz:StandInCFM", &su.FlowCFM)
		}
	})
}

// result of the findings of an appliance that a rule prefix names; tested
// says that something was measured.
func (d *doc) result(id, prefix string, tested bool) string {
	passed, failed, open := false, false, false
	for _, f := range d.in.Judgement.Findings {
		if f.Subject != id || !strings.HasPrefix(f.Rule+"-", prefix) {
			continue
		}
		switch f.Verdict {
		case procedure.Pass:
			passed = true
		case procedure.Fail, procedure.TooClose:
			failed = true
		case procedure.NotEvaluated:
			open = true
		}
	}
	switch {
	case failed:
		return "failed"
	case !tested:
		return "not tested"
	case passed && !open:
		return "passed"
	}
	return "" // measured, and no figure to hold it against
}

func (d *doc) appliance(a procedure.Appliance) {
	var o procedure.ApplianceObs
	if x := d.o.Of(a.ID); x != nil {
		o = *x
	}
	d.el("CombustionApplianceTest", func() {
		d.el("CAZAppliance", func() {}, "idref", d.id("appliance", a.ID))
		d.text("FlueVisualCondition", d.visual(a.ID))
		if w := d.o.Weather; w != nil && (o.Draft != nil || o.DraftNatural != nil) {
			if f, err := reading.Convert(w.Temp, reading.Unit(w.TempUnit), reading.UnitF); err == nil {
				f = math.Round(f*10) / 10
				d.num("OutsideTemperatureFlueDraftTest", &f)
			}
		}
		mean := func(p *procedure.PressureObs) *float64 {
			if p == nil {
				return nil
			}
			v := procedure.MeanOf(p.Values)
			return &v
		}
		seconds := func(s *procedure.SpillObs) *float64 {
			if s == nil {
				return nil
			}
			return &s.Seconds
		}
		high := func(g *procedure.GasObs) *float64 {
			if g == nil || len(g.CO) == 0 {
				return nil
			}
			v := slices.Max(g.CO)
			return &v
		}
		test := func(name, prefix string, worst, natural *float64, also func()) {
			d.el(name, func() {
				d.num("PoorScenario", worst)
				d.num("CurrentCondition", natural)
				d.text("TestResult", d.result(a.ID, prefix, worst != nil || natural != nil))
				d.el("extension", also)
			})
		}
		test("FlueDraftTest", "draft", mean(o.Draft), mean(o.DraftNatural), func() {})
		test("SpillageTest", "spill", seconds(o.Spill), seconds(o.SpillNatural), func() {
			for i, s := range []*procedure.SpillObs{o.Spill, o.SpillNatural} {
				if s != nil {
					d.text([]string{"cz:PoorScenarioOutcome", "cz:CurrentConditionOutcome"}[i], string(s.Outcome))
				}
			}
			d.text("cz:TogetherWithAllOnTheVent", map[procedure.Tri]string{procedure.Yes: "no spillage", procedure.No: "spilled"}[o.Together])
		})
		test("CarbonMonoxideTest", "co-", high(o.CO), high(o.CONatural), func() {
			if o.CO == nil {
				return
			}
			if o.CO.OverRange {
				d.bool("cz:OverRange", true)
			}
			if o.CO.Rising {
				d.bool("cz:Rising", true)
			}
			for i, v := range o.CO.CO {
				o2, free := "", ""
				if i < len(o.CO.O2) && o.CO.O2[i] != nil {
					o2 = reading.Format(*o.CO.O2[i], -1)
					if x, err := reading.AirFree(reading.Concentration(v), reading.Percent(*o.CO.O2[i])); err == nil {
						free = reading.Format(float64(x), 1)
					}
				}
				d.el("cz:Sample", func() {}, "coPPM", reading.Format(v, -1), "o2Percent", o2, "coAirFreePPM", free)
			}
		})
		for _, h := range d.o.Hazards {
			if h.Hazard.Code == procedure.Leak && h.Hazard.Subject == a.ID && fuels[a.Burner.Fuel] != "" {
				d.el("FuelLeaks", func() {
					d.text("FuelType", fuels[a.Burner.Fuel])
					d.bool("LeaksIdentified", true)
					d.bool("LeaksAddressed", h.Settled == procedure.Yes)
				})
			}
		}
		d.el("extension", func() {
			d.text("cz:Name", a.Name)
			d.text("cz:Kind", string(a.Kind))
			d.text("cz:VentType", string(a.Vent.Type))
			d.text("cz:VentCategory", string(a.Vent.Category))
			if a.Burner.Input > 0 {
				d.text("cz:RatedInput", reading.Format(a.Burner.Input, -1), "unit", a.Burner.Unit)
			}
			for _, x := range d.in.Judgement.Appliances {
				if x.ID == a.ID {
					d.text("cz:Status", string(x.Status))
				}
			}
			d.text("cz:NotLit", o.NotFired)
		})
	})
}

// visual is fail where something seen on the vent was wrong, pass where all
// of it was seen and right.
func (d *doc) visual(id string) string {
	out := ""
	for _, c := range d.o.Checks {
		if c.Stage != procedure.StageLook || c.Subject != id {
			continue
		}
		switch c.State {
		case procedure.SeenWrong:
			return "fail"
		case procedure.SeenOK:
			if out == "" {
				out = "pass"
			}
		default:
			out = "unknown"
		}
	}
	if out == "unknown" {
		return ""
	}
	return out
}

func (d *doc) finding(f procedure.Finding) {
	number := func(v *float64) string {
		if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
			return ""
		}
		return figure(*v)
	}
	condition := ""
	if f.Natural {
		condition = "natural"
	}
	d.el("cz:Finding", func() {}, "rule", f.Rule, "subject", f.Subject, "verdict", f.Verdict.String(), "leadsTo", string(f.Severity), "value", number(f.Value), "limit", number(f.Limit), "unit", f.Unit,
		"margin", number(f.Margin), "uncertainty", number(f.Uncertainty), "condition", condition, "detail", f.Detail, "row", f.Row, "source", f.Source, "evidence", string(f.Evidence))
}

// sealing is what the planned sealing will do to a zone, from the CFM50 of
// [doc.enclosure]; a zone without an answer says so.
func (d *doc) sealing(z forecast.ZoneForecast) {
	if z.Err != nil {
		d.el("cz:AfterSealing", func() {}, "zone", z.Zone.ID, "verdict", procedure.NotEvaluated.String())
		return
	}
	f := z.Forecast
	flow := func(q *reading.Flow) string {
		if q == nil {
			return ""
		}
		return figure(float64(*q))
	}
	attrs := []string{"zone", z.Zone.ID, "verdict", f.Verdict.String(), "stopAtCFM50", flow(f.Stop), "limitAtCFM50", flow(f.Floor), "exponent", figure(float64(f.Design.Exponent)),
		"netToday", figure(float64(f.Today.Net)), "unit", string(reading.UnitPa)}
	if f.After != nil {
		attrs = append(attrs, "cfm50After", flow(&f.Design.After), "netAfter", figure(float64(f.After.Net)), "lowAfter", figure(float64(f.After.Low)), "highAfter", figure(float64(f.After.High)))
	}
	if l := f.Design.Limit; l != nil {
		attrs = append(attrs, "limit", figure(float64(*l)), "row", z.Row)
	}
	d.el("cz:AfterSealing", func() {}, attrs...)
}

func (d *doc) extension(r report.Report) {
	j, h := d.in.Judgement, d.in.Header
	d.el("cz:Record", func() {
		d.text("cz:RecordID", h.Record)
		d.text("cz:Home", h.Home)
		d.text("cz:Phase", string(h.Phase))
		d.bool("cz:Practice", h.Practice != nil)
		d.bool("cz:Redacted", d.in.Redacted)
		d.bool("cz:Closed", d.in.Closed)
		if d.in.Closed {
			d.text("cz:ClosingHash", d.in.CloseHash)
		}
		if h.Prior != nil {
			d.el("cz:Prior", func() {}, "record", h.Prior.Record, "closingHash", h.Prior.Close)
		}
		d.el("cz:Scheme", func() {}, "name", j.Scheme.Name, "edition", j.Scheme.Edition, "status", j.Scheme.Status, "sha256", j.Scheme.SHA256, "edited", fmt.Sprint(j.Scheme.Edited))
		decision := string(j.Decision)
		if j.Decision == procedure.NoDecision {
			decision = "none"
		}
		d.text("cz:Decision", decision, "signalWord", j.Decision.SignalWord(), "headline", r.Decision.Headline)
		weather := d.o.Later
		if d.o.Weather != nil {
			weather = append([]procedure.Weather{*d.o.Weather}, weather...)
		}
		for _, w := range weather {
			d.el("cz:Weather", func() {}, "wind", figure(w.Wind), "windUnit", w.WindUnit, "temperature", figure(w.Temp), "temperatureUnit", w.TempUnit)
		}
		for _, a := range d.o.LEL {
			d.el("cz:GasInRoomAir", func() {}, "percentLEL", figure(a.Value), "overRange", fmt.Sprint(a.OverRange), "step", a.Step)
		}
		for _, h := range d.o.Hazards {
			value := ""
			if h.Hazard.Value != nil {
				value = figure(*h.Hazard.Value)
			}
			settled := map[procedure.Tri]string{procedure.Yes: "yes", procedure.No: "no"}[h.Settled]
			d.el("cz:Hazard", func() {}, "code", string(h.Hazard.Code), "value", value, "overRange", fmt.Sprint(h.Hazard.OverRange), "subject", h.Hazard.Subject, "settled", settled)
		}
		for _, i := range d.o.Instruments {
			d.el("cz:Instrument", func() {}, "id", i.ID, "name", i.Name, "serial", i.Serial, "calibrated", i.Calibrated)
		}
		for _, f := range j.Findings {
			d.finding(f)
		}
		for p := d.in.Prior; p != nil; p = p.Prior {
			d.el("cz:Earlier", func() {
				for _, f := range p.Judgement.Findings {
					d.finding(f)
				}
			}, "record", p.Header.Record, "phase", string(p.Header.Phase), "decision", string(p.Judgement.Decision), "closingHash", p.CloseHash)
		}
		for _, z := range report.SealingZones(d.in) {
			d.sealing(z)
		}
		for _, a := range report.Rooms(*d.o) {
			if a.Err == nil {
				d.el("cz:CombustionAir", func() {}, "zone", a.Zone.ID, "needed", figure(float64(a.Air.Required)), "available", figure(a.Zone.Volume), "unit", string(reading.UnitFt3), "sufficient", fmt.Sprint(a.Air.Sufficient),
					"source", a.Air.Source, "evidence", string(a.Air.Evidence))
			}
		}
		for _, m := range j.Missing {
			d.el("cz:NotTested", func() {}, "step", m.Step, "why", m.Why)
		}
		for _, x := range j.Doubts {
			settled := x.Settled
			if settled == "" {
				settled = "open"
			}
			d.el("cz:Doubt", func() {}, "code", string(x.Code), "settled", settled)
		}
		for _, x := range j.AcceptedRisks {
			d.text("cz:AcceptedRisk", x.Reason, "row", x.Row)
		}
	})
}
