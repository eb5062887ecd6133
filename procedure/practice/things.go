package practice

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"cazward/procedure"
	"cazward/procedure/airflow"
	"cazward/procedure/reading"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
)

// numbersOf are the places, from 1, of words among choices, in their order.
func numbersOf(choices, words []string) string {
	var out []string
	for _, w := range words {
		if i := slices.Index(choices, w); i >= 0 {
			out = append(out, strconv.Itoa(i+1))
		}
	}
	if out == nil {
		return "none"
	}
	return strings.Join(out, " ")
}

func kinds(list [][2]string) []string {
	var out []string
	for _, x := range list {
		out = append(out, x[1])
	}
	return out
}

// told lists kinds as a person would.
func (p *Play) told(list [][2]string) string {
	var words []string
	count := map[string]int{}
	for _, x := range list {
		if count[x[1]]++; count[x[1]] == 1 {
			words = append(words, x[1])
		}
	}
	for i, w := range words {
		if words[i] = wording.KindName(p.lang, w); count[w] > 1 {
			words[i] = p.say("n-of", "n", strconv.Itoa(count[w]), "what", words[i])
		}
	}
	if words == nil {
		return p.say("none")
	}
	return strings.Join(words, ", ")
}

// checked answers a checklist: ok, or the numbers of the lines that are wrong.
func checked(step procedure.Step, wrong func(procedure.Item) bool) string {
	var out []string
	for i, it := range step.Items {
		if wrong(it) {
			out = append(out, strconv.Itoa(i+1))
		}
	}
	if out == nil {
		return "ok"
	}
	return strings.Join(out, " ")
}

// showThings is what people, plates and the house itself say. None of it is an
// instrument but the weather and the names of the instruments.
func (p *Play) showThings(step procedure.Step, st *sequence.State, n Names) (Shown, error) {
	h := p.house
	stem, rest, _ := strings.Cut(step.ID, "/")
	a := p.appliance(n[step.Subject])
	switch {
	case step.ID == "arrive/danger":
		if h.LEL >= 10 {
			return Shown{Text: p.say("danger.smell"), Typed: "3"}, nil
		}
		if h.Ambient >= 70 {
			return Shown{Text: p.say("danger.alarm"), Typed: "1"}, nil
		}
		return Shown{Text: p.say("danger.none"), Typed: "none"}, nil
	case step.ID == "arrive/ready":
		return Shown{Text: p.say("ready"), Typed: "ok"}, nil
	case step.Form == procedure.FormWeather:
		return p.showWeather()
	case step.ID == "arrive/gauge":
		g := p.gauge
		return Shown{Text: p.say("your-gauge", "what", p.say("your-gauge."+g.Name)), Reads: true,
			Typed: fmt.Sprintf("practice gauge %s; ; ; %s; %s", g.Name, reading.Format(g.Resolution, -1), reading.Format(g.Accuracy, -1))}, nil
	case step.ID == "arrive/analyser":
		return Shown{Text: p.say("your-analyser"), Typed: "practice analyser", Reads: true}, nil
	case step.ID == "prepare/fired" || stem == "resume" && step.Form == procedure.FormNumbers:
		return p.showFired(step, n), nil
	case step.ID == "prepare/house" || stem == "resume" && step.Form == procedure.FormChecklist || step.ID == "putback/house":
		return p.showStands(step), nil
	case stem == "list" || stem == "zone" || stem == "appliance" || step.ID == "sealing/cfm50":
		return p.showList(step, rest, n, a), nil
	case stem == "look":
		return p.showLook(step, a), nil
	case stem == "breech":
		if a >= 0 && h.Appliances[a].Breech != 0 {
			v := reading.Format(h.Appliances[a].Breech, -1)
			return Shown{Text: p.say("plate.breech", "v", v), Typed: v}, nil
		}
		return Shown{Text: p.say("plate.silent"), Typed: "?"}, nil
	case stem == "together":
		var out []string
		text := checked(step, func(it procedure.Item) bool {
			b := p.appliance(n[it.Key[strings.IndexByte(it.Key, '/')+1:]])
			// Both are lit now: smoke at a hood shows which way its connector flows.
			wrong := b >= 0 && len(h.Appliances[b].Vents) > 0 && p.sol.Links[h.Vents[h.Appliances[b].Vents[0]].Link].Mass < 0
			word := "in"
			if wrong {
				word = "out"
			}
			out = append(out, p.each(it.Name, p.say("smoke."+word)))
			return wrong
		})
		return Shown{Text: p.smoke(strings.Join(out, ", ")), Typed: text, Reads: true}, nil
	case stem == "cooled":
		if a >= 0 {
			if left := p.coolsFor(a); left > 0 {
				return Shown{Text: p.say("vent.warm", "min", reading.Format(math.Ceil(left), 0)), Typed: "ok", Wait: 60 * math.Ceil(left)}, nil
			}
		}
		return Shown{Text: p.say("vent.cool"), Typed: "ok"}, nil
	case stem == "hose":
		return Shown{Text: p.say("hose"), Typed: "ok"}, nil
	case stem == "flame":
		return Shown{Text: p.say("flame"), Typed: "ok"}, nil
	case step.ID == "decide/tester":
		return Shown{Typed: "AB"}, nil
	case stem == "settle", stem == "more":
		return Shown{Typed: "1"}, nil
	case stem == "confirm":
		return Shown{Text: p.say("as-before"), Typed: "1"}, nil
	case step.Form == procedure.FormDoubt:
		return p.showDoubt(step), nil
	}
	return p.showRest(step, n), nil
}

func (p *Play) showWeather() (Shown, error) {
	out := p.house.Network.Outdoors
	wind, err := reading.Convert(out.Wind, reading.UnitMS, reading.UnitMPH)
	if err != nil {
		return Shown{}, err
	}
	temp, err := reading.Convert(out.Temperature, reading.UnitK, reading.UnitF)
	if err != nil {
		return Shown{}, err
	}
	w, t := reading.Format(math.Round(wind), 0), reading.Format(math.Round(temp), 0)
	return Shown{Text: p.say("weather", "wind", w, "temp", t), Typed: w + " " + t, Reads: true}, nil
}

// showFired is how long burners have been off, by what people and thermostats
// say.
func (p *Play) showFired(step procedure.Step, n Names) Shown {
	var words, typed []string
	for _, it := range step.Items {
		m := 120.0 // where the file does not say
		a := p.appliance(n[it.Key[strings.LastIndexByte(it.Key, '/')+1:]])
		if a >= 0 && p.house.Appliances[a].LastFired > 0 {
			m = p.house.Appliances[a].LastFired
		}
		if t, ok := p.off[a]; ok {
			m = p.at.Sub(t).Minutes()
		}
		v := strconv.Itoa(int(math.Round(m)))
		words, typed = append(words, it.Name+" "+v), append(typed, v)
	}
	return Shown{Text: p.say("minutes-off", "v", strings.Join(words, ", ")), Typed: strings.Join(typed, " ")}
}

// showStands is how the house truly stands, for the lists that ask whether it
// was set or put back.
func (p *Play) showStands(step procedure.Step) Shown {
	h, want, do := p.house, Off, "rest"
	if step.ID == "putback/house" {
		want, do = h.Arrival, "back"
	}
	wrong := checked(step, func(it procedure.Item) bool {
		for i, w := range h.switches {
			if (p.set^want)>>i&1 == 0 {
				continue
			}
			damper := slices.ContainsFunc(h.Windows, func(x Window) bool { return x.Name == w.Name && x.Kind == "damper" })
			var codes []string
			switch w.Kind {
			case DoorSwitch:
				codes = []string{"inside-doors-open", "doors-windows-back"}
			case WindowSwitch:
				codes = []string{"windows-shut", "doors-windows-back"}
				if damper {
					codes = []string{"dampers-shut", "dampers-back"}
				}
			case FanSwitch, AirHandlerSwitch, StandInSwitch:
				codes = []string{"fans-off", "fans-back"}
			case ApplianceSwitch:
				codes = []string{"burners-off", "thermostats-back"}
			}
			if slices.Contains(codes, it.Code) {
				return true
			}
		}
		return false
	})
	s := Shown{Text: p.say("house", "what", h.Stands(p.lang, p.set)), Typed: wrong}
	if p.set != want {
		s.Do = do
	}
	return s
}

// zoneName is what a zone is called: its kind of space where the file says no
// more.
func (p *Play) zoneName(zone string) string { return zoneName(p.lang, zone) }

func zoneName(l wording.Lang, zone string) string {
	if place(zone) == zone {
		return wording.KindName(l, zone)
	}
	return plain(zone)
}

// showRest is what no figure of a house changes: what people say, and what a
// sound tester chooses.
func (p *Play) showRest(step procedure.Step, n Names) Shown {
	text, typed := "", ""
	stem, _, _ := strings.Cut(step.ID, "/")
	source := p.source(step, n)
	switch {
	case step.Ask == "ambient.source" && source >= 0:
		return Shown{Text: p.say("source.is", "what", p.house.called(p.lang, n[step.Choices[source]])), Typed: strconv.Itoa(source + 1)}
	case stem == "serviced":
		text, typed = "serviced", "1"
	case stem == "resume" && step.Form == procedure.FormChoice:
		text, typed = "weather.before", "1"
	case stem == "aired":
		text, typed = "kept-shut", "1"
	case step.ID == sequence.KeyTold:
		text, typed = "told", "occupant; in person"
	case step.Form == procedure.FormTold:
		text, typed = "told.out", "occupant; in person"
	case step.Ask == "ambient.source":
		text, typed = "source", strconv.Itoa(len(step.Choices))
	case step.Ask == "ambient.settled":
		text, typed = "cleared", "1"
	case step.Ask == "putback.reentry":
		text, typed = "fire-service", "1"
	case step.Form == procedure.FormConfirm:
		text, typed = "as-before", "1"
	default:
		return Shown{}
	}
	return Shown{Text: p.say(text), Typed: typed}
}

// source is the place among a step's choices of an appliance whose flue gas
// came into the house, -1 for none.
func (p *Play) source(step procedure.Step, n Names) int {
	return slices.IndexFunc(step.Choices, func(id string) bool {
		i := p.appliance(n[id])
		_, ran := p.off[i]
		return i >= 0 && (p.spilling(i) || ran && (p.house.Appliances[i].Opens() || p.spilt[i] > 0))
	})
}

// cool enough to be lit anew: within this of its standing temperature (own
// figure).
const coolWithin = 8.0 // K

// coolsFor is how many minutes more a vent takes to cool.
func (p *Play) coolsFor(a int) float64 {
	left := 0.0
	for _, v := range p.house.Appliances[a].Vents {
		if d := p.columns[v] - p.house.Vents[v].Standing; d > coolWithin {
			left = max(left, coolMin*math.Log(d/coolWithin)*wrongWay)
		}
	}
	return left
}

func (p *Play) showDoubt(step procedure.Step) Shown {
	switch procedure.DoubtCode(step.Args["doubt"]) {
	case procedure.DoubtWind:
		return Shown{Text: p.say("doubt.wind"), Typed: "k"}
	case procedure.DoubtGusty:
		return Shown{Text: p.say("doubt.gusty"), Typed: "r", Wait: 30}
	}
	return Shown{Text: p.say("doubt"), Typed: "ok looked at the hoses"}
}

// CFM50 of the shell with windows shut, vents apart: what a blower-door sheet
// of the house would say.
func (h *House) CFM50() float64 {
	sum := 0.0
	for _, i := range h.leaks {
		sum += at50(h.Network.Links[i].Law)
	}
	return sum / airflow.CFM
}

// rated is the flow of a fan at no pressure, cfm.
func (h *House) rated(name string) float64 {
	for _, f := range h.Network.Fans {
		if f.Name == name {
			if len(f.Curve) > 0 {
				return f.Curve[0].Flow / airflow.CFM
			}
			return f.Flow / airflow.CFM
		}
	}
	return 0
}

// tens rounds to what a label or a sheet would say.
func tens(v float64) string { return strconv.Itoa(int(math.Round(v/10) * 10)) }

func (p *Play) showList(step procedure.Step, rest string, n Names, a int) Shown {
	h := p.house
	switch step.ID {
	case "list/home":
		return Shown{Text: p.say("home", "what", wording.Choice(p.lang, step.Ask, string(h.Home))), Typed: numbersOf(step.Choices, []string{string(h.Home)})}
	case "list/appliances":
		return Shown{Text: p.say("house", "what", p.told(h.appliancesOf())), Typed: numbersOf(step.Choices, kinds(h.appliancesOf()))}
	case "list/zones":
		var list, words []string
		for _, z := range h.Zones {
			if z.CAZ {
				list, words = append(list, place(z.Name)), append(words, p.zoneName(z.Name))
			}
		}
		return Shown{Text: p.say("stand-in", "what", strings.Join(words, ", ")), Typed: numbersOf(step.Choices, list)}
	case "list/fans":
		return Shown{Text: p.say("house", "what", p.told(h.fansOf())), Typed: numbersOf(step.Choices, kinds(h.fansOf()))}
	case "list/doors":
		return Shown{Text: p.say("inside-doors", "what", p.told(h.doorsOf())), Typed: numbersOf(step.Choices, kinds(h.doorsOf()))}
	case "list/airhandlers":
		if len(h.AirHandlers) == 0 {
			return Shown{Text: p.say("house", "what", p.say("none")), Typed: "none"}
		}
		return Shown{Text: p.say("house", "what", strconv.Itoa(len(h.AirHandlers))), Typed: strings.TrimSpace(strings.Repeat("1 ", len(h.AirHandlers)))}
	case "list/cfm50":
		v := tens(h.CFM50())
		return Shown{Text: p.say("cfm50", "v", v), Typed: v}
	case "sealing/cfm50":
		if h.Sealing == 0 {
			return Shown{Text: p.say("plan.none"), Typed: "?"}
		}
		v := tens(h.CFM50() * (1 - h.Sealing))
		return Shown{Text: p.say("plan", "v", v), Typed: v}
	case "list/flows":
		var words, typed []string
		for _, it := range step.Items {
			v := tens(h.rated(n[strings.TrimPrefix(it.Key, "list/flows/")]))
			words, typed = append(words, it.Name+" "+v), append(typed, v)
		}
		return Shown{Text: p.say("labels", "v", strings.Join(words, ", ")), Typed: strings.Join(typed, " ")}
	}
	if zone := n[step.Zone]; strings.HasPrefix(step.ID, "zone/") {
		i := p.zone(zone)
		if i < 0 {
			return Shown{Text: p.say("no-room"), Typed: "?"}
		}
		if step.Form == procedure.FormNumber {
			v := strconv.Itoa(int(math.Round(h.Zones[i].Volume / 0.028316846592)))
			return Shown{Text: p.say("room", "v", v), Typed: v}
		}
		kind := "no-door"
		for _, d := range h.Doors {
			if d.CAZ == zone {
				if kind = "door"; h.Zones[i].Louvred == procedure.Yes {
					kind = "louvred"
				}
			}
		}
		return Shown{Text: p.say("you-see", "what", wording.Choice(p.lang, step.Ask, kind)), Typed: numbersOf(step.Choices, []string{kind})}
	}
	if a < 0 {
		return Shown{Text: p.say("no-appliance"), Typed: "?"}
	}
	return p.showPlate(step, rest[strings.LastIndexByte(rest, '/')+1:], n, &h.Appliances[a])
}

// showPlate is what the plate and the vent of an appliance say.
func (p *Play) showPlate(step procedure.Step, what string, n Names, a *Appliance) Shown {
	switch what {
	case "burner":
		if a.Burner.Fuel == procedure.Electricity {
			return Shown{Text: p.say("plate.electric"), Typed: numbersOf(text(procedure.Fuels), []string{string(a.Burner.Fuel)})}
		}
		in := "?"
		if a.Burner.Input > 0 {
			in = strconv.Itoa(int(math.Round(a.Burner.Input)))
		}
		return Shown{Text: p.say("plate", "fuel", wording.Field(p.lang, "fuel."+string(a.Burner.Fuel)), "input", in), Typed: numbersOf(text(procedure.Fuels), []string{string(a.Burner.Fuel)}) + " " + in}
	case "zone":
		for i, id := range step.Choices {
			if n[id] == a.Zone {
				return Shown{Text: p.say("stands-in", "what", p.zoneName(a.Zone)), Typed: strconv.Itoa(i + 1)}
			}
		}
	case "vent":
		word := string(a.Vent.Type)
		return Shown{Text: p.say("vent", "what", wording.Choice(p.lang, step.Ask, word)), Typed: numbersOf(step.Choices, []string{word})}
	case "category":
		word := string(a.Vent.Category)
		if word == "" {
			word = "not-known"
		}
		return Shown{Text: p.say("plate.category", "what", wording.Choice(p.lang, step.Ask, word)), Typed: numbersOf(step.Choices, []string{word})}
	case "facts":
		f := a.Facts
		m := map[string]procedure.Tri{"draft_hood": f.DraftHood, "barometric": f.Barometric, "vent_damper": f.VentDamper, "outside": f.Outside, "orphaned": f.Orphaned,
			"test_hole": f.TestHole, "high_static": f.HighStatic, "top_inducer": f.TopInducer, "inside": f.InsideBoundary, "main_heat": f.MainHeat, "can_be_fired": f.Fireable, "shares": f.Shares}
		var words, typed []string
		for i, it := range step.Items {
			code, other := strings.CutPrefix(it.Code, "!")
			v := m[code]
			if other {
				v = v.Not()
			}
			switch {
			case v == procedure.Yes:
				words, typed = append(words, p.say("fact."+it.Code)), append(typed, strconv.Itoa(i+1))
			case m[code] == procedure.Unknown && unsure[code]:
				typed = append(typed, "?"+strconv.Itoa(i+1))
			}
		}
		if typed == nil {
			return Shown{Text: p.say("you-see.none"), Typed: "none"}
		}
		return Shown{Text: p.say("you-see", "what", strings.Join(words, ", ")), Typed: strings.Join(typed, " ")}
	case "partners":
		var words, typed []string
		for i, it := range step.Items {
			if slices.Contains(a.Partners, n[it.Key]) {
				words, typed = append(words, it.Name), append(typed, strconv.Itoa(i+1))
			}
		}
		if typed == nil {
			words, typed = []string{p.say("none")}, []string{"none"}
		}
		return Shown{Text: p.say("partners", "what", strings.Join(words, ", ")), Typed: strings.Join(typed, " ")}
	}
	return Shown{}
}

// unsure are the facts that the file must state for anybody to be sure of
// them; of the others a file that says nothing means that there is none to see.
var unsure = map[string]bool{"can_be_fired": true, "test_hole": true, "inside": true}

func text[T ~string](list []T) []string {
	var out []string
	for _, v := range list {
		out = append(out, string(v))
	}
	return out
}

// showLook is what there is to see of the house or of an appliance.
func (p *Play) showLook(step procedure.Step, a int) Shown {
	subject := "house"
	if a >= 0 {
		subject = p.house.Appliances[a].ID
	}
	var seen []string
	wrong := checked(step, func(it procedure.Item) bool {
		i := slices.IndexFunc(p.house.Looks, func(l Look) bool { return l.Subject == subject && l.Code == it.Code })
		if i >= 0 {
			seen = append(seen, p.house.Looks[i].in(p.lang))
		}
		return i >= 0
	})
	if seen == nil {
		seen = []string{p.say("you-see.fine")}
	}
	return Shown{Text: p.say("you-see", "what", strings.Join(seen, "; ")), Typed: wrong}
}
