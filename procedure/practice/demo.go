// Package practice holds invented houses. A practice house answers for the
// instruments and for what there is to see; it never judges. Nothing here is
// a real home, and every record made in one says so.
package practice

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sort"
	"strconv"
	"strings"

	"cazward/procedure"
)

// DemoName is the house of the first choice on the first screen.
const DemoName = "demonstration"

// DemoHome is what the demonstration house is called.
const DemoHome = "Cedar 14"

// demo is what the demonstration house shows and what a tester would type,
// by step. The readings are canned and invented: a furnace and a water heater
// on one vent, a range hood that matters, and a net that is too close to its
// limit to be called a pass.
var demo = map[string][2]string{
	"arrive/danger":                     {"THE HOUSE  no alarm, nobody ill, no smell", "none"},
	"arrive/ready":                      {"THE HOUSE  all of these are so", "ok"},
	"arrive/lel":                        {"THE DETECTOR SHOWS  0 % LEL", "0"},
	"arrive/ambient":                    {"THE MONITOR SHOWS  2 ppm", "2"},
	"arrive/weather":                    {"OUTDOORS  wind 6 mph, 34 F", "6 34"},
	"arrive/gauge":                      {"YOUR GAUGE  an invented one, 0.1 Pa", "gauge G1; 1001; 2026-03-02; 0.1"},
	"arrive/analyser":                   {"YOUR ANALYSER  an invented one", "analyser A1; 2002; 2026-04-14"},
	"list/home":                         {"THE HOUSE  stands alone", "1"},
	"list/appliances":                   {"THE HOUSE  a furnace and a water heater", "1 3"},
	"list/zones":                        {"THE HOUSE  both stand in the basement", "1"},
	"zone/basement-1/volume":            {"THE ROOM  15 by 30 by 8 feet", "15x30x8"},
	"zone/basement-1/door":              {"THE HOUSE  a plain door atop the stair", "1"},
	"appliance/furnace-1/burner":        {"THE PLATE  natural gas, 80,000 Btu/h", "1 80000"},
	"appliance/furnace-1/vent":          {"THE VENT  natural draft, draft hood", "1"},
	"appliance/furnace-1/facts":         {"YOU SEE  lights; has a port; draft hood", "1 3 7"},
	"appliance/furnace-1/partners":      {"THE VENT  the water heater is on it too", "1"},
	"appliance/water-heater-1/burner":   {"THE PLATE  natural gas, 40,000 Btu/h", "1 40000"},
	"appliance/water-heater-1/vent":     {"THE VENT  natural draft, draft hood", "1"},
	"appliance/water-heater-1/facts":    {"YOU SEE  lights; has a port; draft hood", "1 3 7"},
	"appliance/water-heater-1/partners": {"THE VENT  the furnace is on it too", "1"},
	"list/fans":                         {"THE HOUSE  bath fan, range hood, dryer", "1 2 3"},
	"list/doors":                        {"THE HOUSE  two bedrooms, a bath", "1 1 2"},
	"list/airhandlers":                  {"THE HOUSE  one, the furnace blower", "1"},
	"list/cfm50":                        {"THE FILE  not known", "-"},
	"look/house":                        {"YOU SEE  nothing wrong", "ok"},
	"look/furnace-1":                    {"YOU SEE  nothing wrong", "ok"},
	"look/water-heater-1":               {"YOU SEE  nothing wrong", "ok"},
	"prepare/house":                     {"THE HOUSE  all done", "ok"},
	"prepare/fired":                     {"THE HOUSE  both off for two hours", "120 120"},
	"hose/basement-1":                   {"YOUR GAUGE  moved when pinched, came back", "ok"},
	"baseline/basement-1":               {"THE GAUGE SHOWS  -0.8 -1.1 -0.9 -1.0 -0.9", "-0.8 -1.1 -0.9 -1.0 -0.9"},
	"reading/basement-1/dryer":          {"THE GAUGE SHOWS  -1.6 -1.5 -1.7 -1.5 -1.6", "-1.6 -1.5 -1.7 -1.5 -1.6"},
	"reading/basement-1/fans":           {"THE GAUGE SHOWS  -2.8 -2.7 -2.9 -2.8 -2.7", "-2.8 -2.7 -2.9 -2.8 -2.7"},
	"doors/basement-1":                  {"SMOKE  into bedroom, from bedroom 2, bath", "2 1 1"},
	"reading/basement-1/doors":          {"THE GAUGE SHOWS  -3.1 -3.0 -3.1 -3.2 -3.0", "-3.1 -3.0 -3.1 -3.2 -3.0"},
	"reading/basement-1/air1":           {"THE GAUGE SHOWS  -3.4 -3.5 -3.4 -3.6 -3.4", "-3.4 -3.5 -3.4 -3.6 -3.4"},
	"redoors/basement-1":                {"THE SMOKE  as before", "2 1 1"},
	"reading/basement-1/cazair0":        {"THE GAUGE SHOWS  -2.6 -2.7 -2.5 -2.6 -2.6", "-2.6 -2.7 -2.5 -2.6 -2.6"},
	"reading/basement-1/cazdoor":        {"THE GAUGE SHOWS  -2.9 -3.0 -2.9 -2.8 -2.9", "-2.9 -3.0 -2.9 -2.8 -2.9"},
	"reading/basement-1/worst":          {"THE GAUGE SHOWS  -3.5 -3.6 -3.5 -3.4 -3.6", "-3.5 -3.6 -3.5 -3.4 -3.6"},
	"pairs/basement-1":                  {"THE GAUGE SHOWS  three pairs, off then on", "-0.9 -3.5 -1.0 -3.6 -0.9 -3.5"},
	"settle/basement-1":                 {"YOUR CHOICE  this once, go on", "2"},
	"held/water-heater-1":               {"THE GAUGE SHOWS  -3.5 -3.5 -3.6 -3.4 -3.5", "-3.5 -3.5 -3.6 -3.4 -3.5"},
	"spill/water-heater-1":              {"SMOKE  drawn in after 37 s", "37s"},
	"draft/water-heater-1":              {"THE GAUGE SHOWS  -2.9 -3.0 -2.8 -2.9 -3.0", "-2.9 -3.0 -2.8 -2.9 -3.0"},
	"co/water-heater-1":                 {"THE ANALYSER SHOWS  CO 12 ppm, O2 6.5 %", "12 6.5"},
	"ambient/water-heater-1":            {"THE MONITOR SHOWS  3 ppm", "3"},
	"held/furnace-1":                    {"THE GAUGE SHOWS  -3.4 -3.5 -3.5 -3.6 -3.5", "-3.4 -3.5 -3.5 -3.6 -3.5"},
	"spill/furnace-1":                   {"SMOKE  drawn in after 22 s", "22s"},
	"flame/furnace-1":                   {"YOU SEE  the flame stays as it was", "ok"},
	"held/furnace-1/blower":             {"THE GAUGE SHOWS  -3.5 -3.6 -3.5 -3.5 -3.4", "-3.5 -3.6 -3.5 -3.5 -3.4"},
	"draft/furnace-1":                   {"THE GAUGE SHOWS  -3.4 -3.3 -3.5 -3.4 -3.4", "-3.4 -3.3 -3.5 -3.4 -3.4"},
	"co/furnace-1":                      {"CELLS SHOW  18 7.2 / 21 7.0 / 16 7.4", "18 7.2 21 7.0 16 7.4"},
	"ambient/furnace-1":                 {"THE MONITOR SHOWS  4 ppm", "4"},
	"baseline/basement-1/closing":       {"THE GAUGE SHOWS  -0.9 -1.0 -0.8 -0.9 -1.0", "-0.9 -1.0 -0.8 -0.9 -1.0"},
	"putback/house":                     {"THE HOUSE  all as you found it", "ok"},
	"told/decision":                     {"THE HOUSEHOLD  is at home", "occupant; in person"},
	"decide/tester":                     {"YOU  sign with your initials", "AB"},
}

// Demo is what the demonstration house shows at a step and what a tester
// would type for it; typed is "" where the house has nothing to say.
func Demo(step procedure.Step) (shows, typed string) {
	if d, ok := demo[step.ID]; ok {
		return d[0], d[1]
	}
	if base, _, again := strings.Cut(step.ID, "/again/"); again { // after a stop
		return Demo(procedure.Step{ID: base})
	}
	switch {
	case step.Form == procedure.FormConfirm:
		return "THE HOUSE  as last time", "1"
	case strings.HasPrefix(step.Ask, "more."):
		return "YOUR CHOICE  no more readings today", "3"
	case strings.HasPrefix(step.ID, "reading/") && strings.Contains(step.ID, "/more"):
		return "THE GAUGE SHOWS  -3.1 -3.2 -3.1 -3.0 -3.1", "-3.1 -3.2 -3.1 -3.0 -3.1"
	case step.Ask == "list.zone-volume":
		return "THE ROOM  not measured", "?"
	case step.ID == "sealing/cfm50":
		return "THE PLAN  not known", "?"
	case strings.HasPrefix(step.ID, "serviced/"):
		return "THE PAPERS  serviced by a licensed technician", "1"
	case step.Form == procedure.FormSetup:
		return "THE HOUSE  is set so", "ok"
	case strings.HasPrefix(step.ID, "together/"):
		return "THE SMOKE  drawn in at both hoods", "ok"
	case strings.HasPrefix(step.ID, "cooled/"):
		return "THE VENT  is cool", "ok"
	case strings.HasPrefix(step.ID, "resume/") && step.Form == procedure.FormChoice:
		return "OUTDOORS  as before", "1"
	case strings.HasPrefix(step.ID, "resume/") && step.Form == procedure.FormChecklist:
		return "THE HOUSE  still so", "ok"
	case strings.HasPrefix(step.ID, "aired/"):
		return "THE HOUSE  stayed shut", "1"
	case step.Form == procedure.FormDoubt:
		return "THE HOUSE  hoses looked at: in order", "ok looked at the hoses"
	case step.Form == procedure.FormClock:
		return "SMOKE  drawn in after 31 s", "31s"
	case step.Form == procedure.FormPressure && step.Subject != "":
		return "THE GAUGE SHOWS  -3.0 over 30 s", "-3.0 30s"
	case step.Form == procedure.FormAmbient:
		return "THE MONITOR SHOWS  2 ppm", "2"
	case step.Form == procedure.FormTold:
		return "THE HOUSEHOLD  is outside", "occupant; in person"
	case step.Ask == "ambient.source":
		return "YOU FIND  nothing that gives it off", strconv.Itoa(len(step.Choices))
	case step.Ask == "ambient.settled":
		return "THE AIR  has cleared", "1"
	case step.Ask == "putback.reentry":
		return "FIRE SERVICE  cleared the house", "1"
	case step.Form == procedure.FormNumbers:
		return "THE HOUSE  off for two hours", strings.TrimSpace(strings.Repeat("120 ", len(step.Items)))
	}
	return "", ""
}

// DemoHash names this edition of the demonstration house in records.
func DemoHash() string {
	keys := make([]string, 0, len(demo))
	for k := range demo {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	h := sha256.New()
	for _, k := range keys {
		fmt.Fprintf(h, "%s\n%s\n%s\n", k, demo[k][0], demo[k][1])
	}
	return hex.EncodeToString(h.Sum(nil))
}
