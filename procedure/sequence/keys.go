package sequence

import (
	"slices"
	"strconv"
	"strings"
)

// Fact keys that other packages name too. They reach records: append-only.
const (
	keyDanger     = "arrive/danger"
	keyReady      = "arrive/ready"
	keyLEL        = "arrive/lel"
	keyAmbient    = "arrive/ambient"
	keyWeather    = "arrive/weather"
	keyGauge      = "arrive/gauge"
	keyAnalyser   = "arrive/analyser"
	KeyCarried    = "list/carried"
	keyHome       = "list/home"
	keyAppliances = "list/appliances"
	keyZones      = "list/zones"
	keyFans       = "list/fans"
	keyDoors      = "list/doors"
	keyAir        = "list/airhandlers"
	keyFlows      = "list/flows"
	KeySince      = "list/since"
	keyCFM50      = "list/cfm50"
	keySealTo     = "sealing/cfm50"
	keyPrepare    = "prepare/house"
	keyFired      = "prepare/fired"
	keyPutBack    = "putback/house"
	keyReentry    = "putback/reentry"
	KeyTold       = "told/decision"
	keyTester     = "decide/tester"
)

// onlySealing is the answer to KeySince that lets a daily test hold the worst
// case as the record before it found it.
const onlySealing = "only-sealing"

func itoa(n int) string { return strconv.Itoa(n) }

// isPressureKey reports whether a fact is a pressure of a zone, or what one
// rests on, so that a doubt about it leaves the result incomplete.
func isPressureKey(key string) bool {
	return strings.HasPrefix(key, "baseline/") || strings.HasPrefix(key, "reading/") || strings.HasPrefix(key, "held/") ||
		strings.HasPrefix(key, "pairs/") || key == keyWeather
}

// zoneOfKey is the zone of a zone pressure's key, "" for the home.
func (s *State) zoneOfKey(key string) string {
	p := strings.Split(key, "/")
	if len(p) < 2 {
		return ""
	}
	switch p[0] {
	case "baseline", "reading", "pairs", "setup", "hose", "more":
		return p[1]
	case "held", "draft", "spill", "co":
		for _, a := range s.appliances() {
			if a.ID == p[1] {
				return a.Zone
			}
		}
	}
	return ""
}

// Choices, in screen order. They reach records: append-only.
var (
	zonePlaces   = []string{"basement", "utility-room", "closet", "garage", "attic", "crawl-space", "kitchen", "living-space", "other-space"}
	smokeChoices = []string{"toward-zone", "into-room", "still"}
	presChoices  = []string{"lower", "higher", "same"}
)

// stems are the first parts of step ids that a test can have.
var stems = []string{
	"arrive", "list", "zone", "appliance", "look", "prepare", "hose", "setup", "baseline", "reading", "doors", "redoors",
	"more", "cazdoors", "firedoors", "settle", "pairs", "held", "spill", "flame", "draft", "breech", "co", "ambient",
	"together", "cooled", "putback", "told", "decide", "doubt", "source", "settled", "aired", "serviced", "gone",
	"hazard", "sealing", "confirm",
}

// KnownKey reports whether some home could ask a step of this name: the first
// part is a step's and none of its parts is empty.
func KnownKey(key string) bool {
	p := strings.Split(key, "/")
	if len(p) < 2 || !slices.Contains(stems, p[0]) {
		return false
	}
	for _, x := range p {
		if x == "" {
			return false
		}
	}
	return true
}
