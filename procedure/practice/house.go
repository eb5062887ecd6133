package practice

import (
	"cazward/procedure"
	"cazward/procedure/airflow"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// House is an invented house, read whole and checked. Everything is in the
// units of [airflow.Network]: SI, heights from one level for the whole house.
type House struct {
	Name   string // of the file and of `drill`; also what [OpenHouse] knows it by
	Title  string // what the home is called
	SHA256 string // lowercase hex, of the bytes it was read from
	Lesson *Lesson

	Gust    float64               // m/s above the wind; for the noise of an instrument
	Ambient reading.Concentration // CO in the rooms before anything is lit; 0 where the file has no ambient section
	LEL     reading.Percent       // combustible gas in the rooms; as Ambient

	// Kind of home; a house where the file does not say.
	Home procedure.HomeKind
	// Arrival is how the house stands when the trainee comes: a window left open,
	// a dryer that runs.
	Arrival Setting

	// Sealing is the part of its leaks that the planned work takes off the house,
	// 0 to below 1; 0 where the file plans none. See [Model.Seal].
	Sealing float64

	Network     airflow.Network // zones first, then junctions of vents
	Zones       []Zone          // as Network.Zones, without the junctions
	Doors       []Door
	Windows     []Window
	Fans        []Fan
	AirHandlers []string
	Vents       []Vent
	Appliances  []Appliance
	Looks       []Look

	switches []Switch
	leaks    []int // positions in Network.Links of what sealing closes
}

// Lesson is what a house is for.
type Lesson struct {
	Aim      string // shown to the trainee
	Level    Level
	Expected Expected // for debrief and trainer
	Trainer  string   // the trainee never sees it
}

// Level of difficulty, easy to hard.
type Level string

// Append-only.
const (
	Easy   Level = "easy"
	Medium Level = "medium"
	Hard   Level = "hard"
)

// Levels, easy to hard.
var Levels = []Level{Easy, Medium, Hard}

// Expected is what a sound test of the house finds.
type Expected struct {
	Decision procedure.Decision
	Zone     string  // combustion appliance zone of the worst net
	Lowest   float64 // Pa: the true worst net is no lower than this
	Highest  float64 // Pa: and no higher than this
	Findings []string
}

// Kept reports whether the worst case lies where the lesson promises.
func (e Expected) Kept(w Worst) bool {
	return w.Zone == e.Zone && w.Net >= e.Lowest && w.Net <= e.Highest
}

// Zone is a space of the house.
type Zone struct {
	Name    string
	Volume  float64 // m3
	CAZ     bool    // fuel-burning appliances stand in it
	Louvred procedure.Tri
}

// Door is an interior door.
type Door struct {
	Name string
	Kind procedure.DoorKind // "" for the CAZ door
	CAZ  string             // the zone whose CAZ door it is, else ""
	From string
	To   string
}

// Window is what should be shut for the test and may not be: a window, an
// outside door, a fireplace damper.
type Window struct {
	Name string
	Kind string
	From string
}

// Fan is a device that moves air.
type Fan struct {
	Name string
	Kind procedure.FanKind
}

// Vent is one column of gas, by its position in Network.Links.
type Vent struct {
	Name            string
	Link            int
	Standing, Fired float64  // K, mean of the column with burners off and in steady operation
	Appliances      []string // whose gases go through it, in the order of the file
}

// Appliance is what the inventory says of an appliance, and what its flue
// carries.
type Appliance struct {
	procedure.Appliance
	Flue      []Flue  // one for each heat-exchanger cell
	Vents     []int   // positions in House.Vents: its own, then what that leads into
	LastFired float64 // min since the burner was last on; 0 is not given
	WarmUp    float64 // min that the vent takes to warm; 0 is not given
	Breech    float64 // Pa, draft at the breech that the maker asks for: negative; 0 is not known
}

// Opens reports whether its flue gas goes into the room that it stands in: an
// oven, an unvented heater.
func (a *Appliance) Opens() bool {
	return a.Fired() && a.Vent.Type == procedure.Unvented && len(a.Vents) == 0
}

// Flue is undiluted flue gas in steady operation.
type Flue struct {
	CO reading.Concentration
	O2 reading.Percent
}

// Look is something wrong that is there to see.
type Look struct {
	Subject string // "house" or the name of an appliance
	Code    string // of the thing to look at
	Shows   string
	ShowsES string // Spanish; "" where the file has none
}

func (l Look) in(lang wording.Lang) string {
	if l.ShowsES != "" && wording.OnPaper(lang) == wording.Spanish {
		return inLang(lang, l.ShowsES)
	}
	return l.Shows
}

// inLang folds Spanish text of a file where it goes to a screen.
func inLang(lang wording.Lang, text string) string {
	if lang == wording.SpanishScreen {
		return wording.Fold(text)
	}
	return text
}

// lookCodes are the codes of what there may be to see. Append-only.
var lookCodes = []string{"vent-connected", "draft-hood", "combustion-air", "rollout-marks", "soot", "rust", "clearances", "connector", "chimney", "co-alarm", "piping", "fuel"}

// windowKinds of a house file. Append-only.
var windowKinds = []string{"window", "outside-door", "damper"}

// cazDoor is the kind of the door of a combustion appliance zone.
const cazDoor = "caz"
