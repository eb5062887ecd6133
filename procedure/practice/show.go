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

// Shown is what a house answers at a step.
type Shown struct {
	Text  string  // what instruments, people and the house show; "" for nothing
	Typed string  // what a sound tester types for it; "" where the house cannot say
	Reads bool    // an instrument shows it, so "=" may type it; all else is the trainee's to say
	Do    string  // what a sound tester does first, as [House.Command] reads it; "" for nothing
	Wait  float64 // s for which a sound tester lets the house stand first
	End   bool    // a sound tester stops testing here and puts the house back
}

// say is a text of a practice house in the language of the one who plays it.
func (p *Play) say(key string, pairs ...string) string { return wording.Drill(p.lang, key, pairs...) }

func (p *Play) smoke(what string) string { return p.say("smoke", "what", what) }

func (p *Play) each(name, what string) string { return p.say("each", "name", name, "what", what) }

// Speak sets the language in which the house says what it shows, English
// until then. What is typed and kept is the same in each.
func (p *Play) Speak(l wording.Lang) { p.lang = l }

// Show is what is to be seen at a step, at the moment up to which the house has
// been taken with [Play.At].
func (p *Play) Show(step procedure.Step, st *sequence.State) (Shown, error) {
	n := p.house.Match(st)
	s, err := p.show(step, st, n)
	if err == nil && s.Do == "" {
		s.Do = p.burners(step, n)
	}
	if w := p.house.Network.Outdoors.Wind / 0.44704; step.Stage == procedure.StageHose && st.Plan().Baseline.MaxWind > 0 && w > st.Plan().Baseline.MaxWind {
		s.End = true // nothing that is read on such a day holds
	}
	return s, err
}

// burners is what a sound tester lights or puts out before a step: all on a
// vent for the last look at it, and nothing that spills while another is
// tested.
func (p *Play) burners(step procedure.Step, n Names) string {
	var do []string
	together := strings.HasPrefix(step.ID, "together/")
	for i := range p.house.Appliances {
		a := &p.house.Appliances[i]
		_, lit := p.lit[i]
		listed := slices.ContainsFunc(step.Items, func(it procedure.Item) bool { return n[it.Key[strings.IndexByte(it.Key, '/')+1:]] == a.ID })
		switch {
		case together && listed && !lit && p.house.burner(i) != 0:
			do = append(do, a.ID+" lit")
		case a.Opens() && !lit && step.Form == procedure.FormGas && n[step.Subject] == a.ID:
			do = append(do, a.ID+" lit")
		case a.Opens() && lit && n[step.Subject] != a.ID:
			do = append(do, a.ID+" off")
		case strings.HasPrefix(step.ID, "held/") && n[step.Subject] != a.ID && p.spilling(i):
			do = append(do, a.ID+" off")
		}
	}
	return strings.Join(do, ", ")
}

func (p *Play) show(step procedure.Step, st *sequence.State, n Names) (Shown, error) {
	take := step.ID
	if !p.once {
		take += "#" + strconv.Itoa(st.Last())
	}
	switch step.Form {
	case procedure.FormPressure:
		return p.showPressure(step, n, take)
	case procedure.FormPairs:
		return p.showPairs(step, n, take)
	case procedure.FormClock:
		return p.showSmoke(step, n)
	case procedure.FormGas:
		return p.showFlue(step, n, take), nil
	case procedure.FormAmbient:
		if step.ID == "arrive/lel" {
			v := reading.Format(float64(p.house.LEL), 0)
			return Shown{Text: p.say("lel", "v", v), Typed: v, Reads: true}, nil
		}
		v := strconv.Itoa(int(math.Round(p.CO(p.where(step, n)))))
		return Shown{Text: p.say("co", "v", v), Typed: v, Reads: true}, nil
	case procedure.FormTable:
		return p.showDoors(step, n)
	case procedure.FormSetup:
		return Shown{Typed: "ok"}, nil
	}
	return p.showThings(step, st, n)
}

// where is the zone of a step, the first combustion appliance zone where it has
// none.
func (p *Play) where(step procedure.Step, n Names) string {
	if z := n[step.Zone]; z != "" {
		return z
	}
	if a := p.appliance(n[step.Subject]); a >= 0 {
		return p.house.Appliances[a].Zone
	}
	for _, z := range p.house.Zones {
		if z.CAZ {
			return z.Name
		}
	}
	return ""
}

func (p *Play) appliance(name string) int {
	return slices.IndexFunc(p.house.Appliances, func(a Appliance) bool { return a.ID == name })
}

// Where is the zone of a step, for the monitor that the tester wears there.
func (p *Play) Where(step procedure.Step, st *sequence.State) string {
	return p.where(step, p.house.Match(st))
}

const quickValues = 5

func (p *Play) showPressure(step procedure.Step, n Names, take string) (Shown, error) {
	zone := p.zone(p.where(step, n))
	q, was := quantityOf(func(s *airflow.Solution) float64 { return s.Pressure[zone] }), p.before[zone]
	if strings.HasPrefix(step.Ask, "draft") {
		a := p.appliance(n[step.Subject])
		if a < 0 || len(p.house.Appliances[a].Vents) == 0 {
			return Shown{Text: p.say("no-hole")}, nil
		}
		link := p.house.Vents[p.house.Appliances[a].Vents[0]].Link
		q = func(s *airflow.Solution) float64 { return s.Links[link].Draft }
		was = q(&p.sol)
	}
	text, _, err := p.samples(quickValues, take, q, was)
	if err != nil {
		return Shown{}, err
	}
	line := strings.Join(text, " ")
	return Shown{Text: p.say("gauge", "v", line), Typed: line, Reads: true, Wait: 4 * p.gauge.Settle}, nil
}

// showPairs reads the zone three times at rest and as it stands, in turn.
func (p *Play) showPairs(step procedure.Step, n Names, take string) (Shown, error) {
	zone := p.zone(p.where(step, n))
	q := quantityOf(func(s *airflow.Solution) float64 { return s.Pressure[zone] })
	var out [2][]string
	for i, c := range []*Play{p.clone(), p.clone()} {
		if i == 0 {
			for k, w := range p.house.switches {
				if w.tried || w.Kind == StandInSwitch {
					c.set = with(c.set, k, false)
				}
			}
			c.stale = true
			if err := c.balance(); err != nil {
				return Shown{}, err
			}
		}
		text, _, err := c.samples(3, take+strconv.Itoa(i), q, q(&c.sol))
		if err != nil {
			return Shown{}, err
		}
		out[i] = text
	}
	var line []string
	for i := range out[0] {
		line = append(line, out[0][i], out[1][i])
	}
	return Shown{Text: p.say("pairs", "v", strings.Join(line, " ")), Typed: strings.Join(line, " "), Reads: true}, nil
}

func (p *Play) showSmoke(step procedure.Step, n Names) (Shown, error) {
	a := p.appliance(n[step.Subject])
	if a < 0 {
		return Shown{}, nil
	}
	s, lit := p.spilt[a]
	if _, burns := p.lit[a]; !burns || !lit {
		var err error
		if s, err = p.wouldSpill(a); err != nil {
			return Shown{}, err
		}
	}
	switch {
	case s == 0:
		return Shown{Text: p.smoke(p.say("smoke.at-once")), Typed: "none", Reads: true}, nil
	case s >= watched:
		// It will not stop: nobody need stand there for longer than shows that.
		cut := watched
		if step.LimitS > 0 {
			cut = min(cut, 1.5*step.LimitS)
		}
		return Shown{Text: p.smoke(p.say("smoke.still", "s", reading.Format(cut, 0))), Typed: fmt.Sprintf("still %.0fs", cut), Reads: true}, nil
	}
	v := strconv.Itoa(int(math.Ceil(s)))
	return Shown{Text: p.smoke(p.say("smoke.stopped", "s", v)), Typed: v + "s", Reads: true}, nil
}

// showFlue is the analyser in the flue, cell by cell, within 2 % of the reading
// (own figure).
func (p *Play) showFlue(step procedure.Step, n Names, take string) Shown {
	a := p.appliance(n[step.Subject])
	if a < 0 || len(p.house.Appliances[a].Flue) == 0 {
		return Shown{}
	}
	r := p.random(take)
	var show, typed []string
	for c, f := range p.house.Appliances[a].Flue {
		co := strconv.Itoa(int(math.Round(p.flueCO(a, c) * (1 + 0.02*(2*r.Float64()-1)))))
		o2 := strconv.FormatFloat(float64(f.O2)+0.1*(2*r.Float64()-1), 'f', 1, 64)
		show, typed = append(show, co+" "+o2), append(typed, co, o2)
	}
	text := p.say("analyser", "co", typed[0], "o2", typed[1])
	if len(show) > 1 {
		text = p.say("cells", "v", strings.Join(show, " / "))
	}
	return Shown{Text: text, Typed: strings.Join(typed, " "), Reads: true, Wait: 600}
}

// dead is the pressure, in Pa, below which smoke at a door hangs (own figure).
const dead = 0.05

// showDoors shuts each listed door by itself, with all else as it stands, and
// says where smoke at its gap goes, or how the zone moves.
func (p *Play) showDoors(step procedure.Step, n Names) (Shown, error) {
	h := p.house
	zone := p.zone(p.where(step, n))
	pressures := strings.HasPrefix(step.Ask, "doors.pressure")
	var words, typed []string
	for _, it := range step.Items {
		id := it.Key[strings.LastIndexByte(it.Key, '/')+1:]
		k := slices.IndexFunc(h.switches, func(w Switch) bool { return w.Kind == DoorSwitch && w.Name == n[id] })
		if k < 0 {
			words, typed = append(words, p.each(it.Name, p.say("door.still"))), append(typed, "3")
			continue
		}
		var shut, open airflow.Solution
		if err := p.model.solveAt(with(p.set, k, true), p.columns, &shut); err != nil {
			return Shown{}, err
		}
		if err := p.model.solveAt(with(p.set, k, false), p.columns, &open); err != nil {
			return Shown{}, err
		}
		link := h.Network.Links[h.switches[k].turned[0]]
		dp := shut.Links[h.switches[k].turned[0]].DP // From minus To
		if h.behind(k, zone) == link.From {
			dp = -dp // now: above zero, air goes into the room
		}
		word, code := "still", "3"
		if pressures {
			switch d := shut.Pressure[zone] - open.Pressure[zone]; {
			case d < -dead:
				word, code = "lower", "1"
			case d > dead:
				word, code = "higher", "2"
			}
		} else if dp > dead {
			word, code = "into-room", "2"
		} else if dp < -dead {
			word, code = "toward-zone", "1"
		}
		words, typed = append(words, p.each(it.Name, p.say("door."+word))), append(typed, code)
	}
	text := p.smoke(strings.Join(words, ", "))
	if pressures {
		text = p.say("gauge", "v", strings.Join(words, ", "))
	}
	return Shown{Text: text, Typed: strings.Join(typed, " "), Reads: true}, nil
}

// behind is the side of a door that is further, by openings, from a zone.
func (h *House) behind(door, zone int) airflow.Node {
	links := append(slices.Clone(h.switches[door].atRest), h.switches[door].turned...)
	dist := make([]int, len(h.Network.Zones))
	for i := range dist {
		dist[i] = math.MaxInt
	}
	dist[zone] = 0
	for queue := []int{zone}; len(queue) > 0; queue = queue[1:] {
		for i, l := range h.Network.Links {
			if l.From == airflow.Outside || l.To == airflow.Outside || l.Law.Kind == airflow.KindVent || l.Law.Kind == airflow.KindDuctLeak || slices.Contains(links, i) {
				continue
			}
			for _, e := range [2][2]int{{int(l.From), int(l.To)}, {int(l.To), int(l.From)}} {
				if e[0] == queue[0] && dist[e[1]] == math.MaxInt {
					dist[e[1]] = dist[e[0]] + 1
					queue = append(queue, e[1])
				}
			}
		}
	}
	l := h.Network.Links[h.switches[door].turned[0]]
	if dist[l.From] > dist[l.To] {
		return l.From
	}
	return l.To
}
