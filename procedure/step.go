package procedure

// Form says how a step is answered; forms/ has one screen for each.
type Form string

// Forms. They never reach a record.
const (
	FormText       Form = "text"       // free text
	FormChoice     Form = "choice"     // one of Choices, typed as its number
	FormChecklist  Form = "checklist"  // "ok", or the numbers that are wrong, "?3" for could not see
	FormGate       Form = "gate"       // danger questions: "none", or the numbers that are so
	FormRoster     Form = "roster"     // numbers of kinds, one for each thing: "1 1 3", or "none"
	FormFacts      Form = "facts"      // numbers that are true, "?3" not known, or "none"
	FormPick       Form = "pick"       // numbers out of Items, or "none"
	FormTable      Form = "table"      // one choice number for each item, in order, "?" not known
	FormNumbers    Form = "numbers"    // one number for each item, in order, "?" not known
	FormNumber     Form = "number"     // one quantity with its unit
	FormBurner     Form = "burner"     // fuel number and input: "1 40000"
	FormWeather    Form = "weather"    // wind and outdoor temperature: "6 34"
	FormPressure   Form = "pressure"   // signed; several values, or one and its seconds
	FormPairs      Form = "pairs"      // off on off on ...
	FormGas        Form = "gas"        // CO and O2, pairs for several cells; "over"
	FormAmbient    Form = "ambient"    // CO in room air, ppm; "over"
	FormClock      Form = "clock"      // timed spillage
	FormSetup      Form = "setup"      // "ok" when the house is set so, or the numbers not so
	FormInstrument Form = "instrument" // name, serial, calibration date, resolution
	FormTold       Form = "told"       // who was told, and how
	FormDoubt      Form = "doubt"      // r read again, ok looked and it stands (say what), k leave it
	FormCarried    Form = "carried"    // never on screen: what the earlier phase knew
	FormConfirm    Form = "confirm"    // carried over: 1 as before, 2 changed
)

// Step is one screen that waits for an answer. Its ID is the fact key that
// the answer writes; a list or table writes one fact for each of its Items.
type Step struct {
	ID       string
	Stage    StageID
	Ask      string // code of the question in procedure/wording
	Form     Form
	Zone     string // zone id
	Subject  string // appliance, fan or door id
	Name     string // what the screen calls the subject
	Items    []Item
	Choices  []string // codes, typed as 1, 2, 3 ...
	Unit     string   // default unit of what is typed
	Cautions []string // codes, most severe first
	Args     map[string]string
	Wanted   bool     // may be left out with a dash; never blocks
	Event    Kind     // kind of event it writes; "" is answer
	Setup    *Setup   // the set-up the screen shows, or asks for
	SetupN   int      // n of the set-up in force
	Reads    []string // fact keys it depends on physically
	Offer    []CarriedOne
	LimitS   float64 // clock: seconds at which spilling fails
	Burning  bool    // burners run while this is on screen
	Held     bool    // the house is held at worst case
	About    []int   // doubt: the events it is about
	Reaffirm bool    // may be answered same_as: it was only looked at
}

// Item is one line of a list or table; Key is the fact it writes.
type Item struct {
	Key  string
	Code string // code in procedure/wording
	Name string // of the thing, where it has one
}

// Keys returns the fact keys that an answer to the step writes.
func (s Step) Keys() []string {
	if len(s.Items) > 0 && (s.Form == FormChecklist || s.Form == FormTable || s.Form == FormNumbers || s.Form == FormGate) {
		k := make([]string, len(s.Items))
		for i, it := range s.Items {
			k[i] = it.Key
		}
		return k
	}
	return []string{s.ID}
}
