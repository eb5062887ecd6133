// Package practice holds invented houses. A practice house answers for the
// instruments and for what there is to see; it never judges. Nothing here is
// a real home, and every record made in one says so.
package practice

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
)

// DemoName is the house of the first choice on the first screen.
const DemoName = "demonstration"

// DemoHome is what the demonstration house is called.
const DemoHome = "Cedar 14"

// ready is what there is to see and to know in the demonstration house and what
// a tester would type of it, by step, so that a newcomer can walk the whole of
// it with "=" alone. What instruments show is not here: see [Tour].
var ready = map[string][2]string{
	"arrive/danger":                     {"THE HOUSE  no alarm, nobody ill, no smell", "none"},
	"arrive/ready":                      {"THE HOUSE  all of these are so", "ok"},
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
	"settle/basement-1":                 {"YOUR CHOICE  this once, go on", "2"},
	"flame/furnace-1":                   {"YOU SEE  the flame stays as it was", "ok"},
	"putback/house":                     {"THE HOUSE  all as you found it", "ok"},
	"told/decision":                     {"THE HOUSEHOLD  is at home", "occupant; in person"},
	"decide/tester":                     {"YOU  sign with your initials", "AB"},
}

// Ready is what there is to see at a step of the demonstration and what a tester
// would type of it; typed is "" where an instrument is read, or where there is
// nothing to say.
func Ready(step procedure.Step) (shows, typed string) {
	if d, ok := ready[step.ID]; ok {
		return d[0], d[1]
	}
	if base, _, again := strings.Cut(step.ID, "/again/"); again { // after a stop
		return Ready(procedure.Step{ID: base})
	}
	switch {
	case step.Form == procedure.FormConfirm:
		return "THE HOUSE  as last time", "1"
	case strings.HasPrefix(step.Ask, "more."):
		return "YOUR CHOICE  no more readings today", "3"
	case step.Ask == "list.zone-volume":
		return "THE ROOM  not measured", "?"
	case step.ID == "sealing/cfm50":
		return "THE PLAN  not known", "?"
	case strings.HasPrefix(step.ID, "serviced/"):
		return "THE PAPERS  serviced by a licensed technician", "1"
	case step.Form == procedure.FormSetup:
		return "THE HOUSE  is set so", "ok"
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

// DemoHash names this edition of the demonstration in records: of its house
// file and its ready answers.
func DemoHash() string {
	h := sha256.New()
	file, _ := HouseFile(DemoName)
	h.Write(file)
	for _, k := range slices.Sorted(maps.Keys(ready)) {
		fmt.Fprintf(h, "%s\n%s\n%s\n", k, ready[k][0], ready[k][1])
	}
	return hex.EncodeToString(h.Sum(nil))
}

// DemoSeed is of the gauge noise and the gusts of the demonstration, chosen so
// that "=" alone finds the net about as it truly is.
const DemoSeed = 399

const answering = 15 * time.Second // that a tester takes to answer a screen, own figure

const drawing = 5 * time.Minute // for which a vent warms before its draft is read, own figure

// Tour is the demonstration's house as the answers of a record leave it. It
// needs no house events: a set-up that was answered ok is set, and burners are
// lit where they are watched from light-off. Its time is its own, not the
// wall's: before each reading it stands for as long as instruments take to be
// steady, however fast the answers come. So the same answers always meet the
// same readings, a walk that was stopped and gone on with included. It is for
// one goroutine.
type Tour struct {
	play *Play
	at   time.Time
	err  error
}

// NewTour is the house on arrival.
func NewTour() *Tour {
	t := &Tour{at: time.Unix(0, 0).UTC()}
	h, _, err := OpenHouse(DemoName)
	if err == nil {
		t.play, err = h.Begin(DemoSeed, Gauges[0])
	}
	if err == nil {
		t.play.once = true
		err = t.play.Turn(h.Arrival, t.at)
	}
	t.err = err
	return t
}

// Show is what the house answers at a step: instruments from its balance, all
// else ready-made. The error, if any, says that it has no balance.
func (t *Tour) Show(l wording.Lang, step procedure.Step, st *sequence.State) (Shown, error) {
	if shows, typed := Ready(step); typed != "" {
		return Shown{Text: wording.Shown(l, shows), Typed: typed}, t.err
	}
	p, _, err := t.stand(l, step, st)
	if err != nil {
		return Shown{}, err
	}
	x, err := p.Show(step, st)
	if err != nil || !x.Reads {
		return Shown{}, err
	}
	return x, nil
}

// stand is the house as the reading of a step wants it: what it wants lit is
// lit, and instruments are steady.
func (t *Tour) stand(l wording.Lang, step procedure.Step, st *sequence.State) (*Play, time.Time, error) {
	if t.err != nil {
		return nil, t.at, t.err
	}
	p, at := t.play.clone(), t.at
	p.Speak(l)
	if step.Form == procedure.FormDoubt {
		return p, at, nil
	}
	x, err := p.Show(step, st)
	if err != nil {
		return nil, at, err
	}
	if x.Do != "" {
		set, err := p.house.Command("", p.set, x.Do)
		if err != nil {
			return nil, at, err
		}
		if err := p.Turn(set, at); err != nil {
			return nil, at, err
		}
	}
	wait := time.Duration(x.Wait * float64(time.Second))
	if strings.HasPrefix(step.Ask, "draft") {
		wait = max(wait, drawing)
	}
	at = at.Add(wait)
	return p, at, p.advance(at)
}

// Follow takes an event of the record; st is the state before it.
func (t *Tour) Follow(st *sequence.State, ev procedure.Event) {
	if t.err == nil {
		t.err = t.follow(st, ev)
	}
}

func (t *Tour) follow(st *sequence.State, ev procedure.Event) error {
	switch d := ev.Data.(type) {
	case *procedure.Handover:
		if d.Resumed { // whoever stops while burners run has shut them down first
			if err := t.play.Turn(t.play.set&^t.play.house.Burners(), t.at); err != nil {
				return err
			}
			t.at = t.at.Add(2 * time.Hour) // as the ready answers say of burners
		}
	case *procedure.Answer, *procedure.Setup:
		step, ok := st.StepFor(ev.Step)
		if !ok {
			return nil
		}
		p, at, err := t.stand(wording.English, step, st)
		if err != nil {
			return err
		}
		n := p.house.Match(st)
		if a, ok := d.(*procedure.Answer); ok && step.Form == procedure.FormClock && a.Spill != nil {
			if err := p.Turn(p.Lit(step, n), at); err != nil {
				return err
			}
			at = at.Add(time.Duration(a.Spill.Seconds * float64(time.Second)))
		}
		at = at.Add(answering)
		if err := p.Turn(p.After(step, ev.Data, n), at); err != nil {
			return err
		}
		t.play, t.at = p, at
	}
	return nil
}
