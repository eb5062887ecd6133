package practice

import (
	"context"
	"slices"
	"strings"

	"cazward/procedure"
	"cazward/procedure/sequence"
)

// Coach explains an answer just kept: what was true, and what the debrief will
// say of it. It is "" where there is nothing of the house to say. The receiver
// is the house as it stands now.
func (p *Play) Coach(ctx context.Context, step procedure.Step, keys []string, data []procedure.Data, st *sequence.State) (string, error) {
	l, err := p.house.look(st, p.lang)
	if err != nil {
		return "", err
	}
	var more []string
	for i, d := range data {
		var a *procedure.Answer
		switch x := d.(type) {
		case *procedure.Setup:
			more = append(more, p.now(l, step.Zone))
			continue
		case *procedure.Answer:
			a = x
		case *procedure.Correct:
			a = x.Answer
		}
		if a == nil {
			continue
		}
		if err := l.answered(keys[i], said{a, p, p.at}); err != nil {
			return "", err
		}
	}
	text, err := l.taught(ctx, p, step)
	if err != nil {
		return "", err
	}
	more = append(more, text...)
	for _, c := range Checks {
		more = append(more, l.detail[c]...)
	}
	out := slices.DeleteFunc(more, func(s string) bool { return s == "" })
	for i, s := range out {
		if !strings.HasSuffix(s, ".") {
			out[i] = s + "."
		}
	}
	return strings.Join(out, " "), nil
}

// now is where a zone truly stands, "" for one that is not there.
func (p *Play) now(l *looker, id string) string {
	z := p.zone(l.names[id])
	if z < 0 {
		return ""
	}
	rest, err := l.pressure(Off, z)
	if err != nil {
		return ""
	}
	v := p.sol.Pressure[z]
	return p.say("coach.now", "zone", p.zoneName(l.names[id]), "pa", tenth(v), "net", tenth(v-rest))
}

// taught is what there is to explain at a step beside its faults.
func (l *looker) taught(ctx context.Context, p *Play, step procedure.Step) ([]string, error) {
	part := strings.Split(step.ID, "/")
	switch part[0] {
	case "list":
		list := map[string][][2]string{"list/appliances": l.h.appliancesOf(), "list/zones": l.h.zonesOf(), "list/fans": l.h.fansOf(), "list/doors": l.h.doorsOf(), "list/airhandlers": l.h.handlersOf()}[step.ID]
		if list == nil {
			return nil, nil
		}
		var out []string
		for _, n := range missed(l.names, list) {
			out = append(out, l.say("unlisted", "name", l.h.called(l.lang, n)))
		}
		if out == nil {
			out = []string{l.say("coach.listed")}
		}
		return out, nil
	case "appliance":
		for _, a := range l.st.Appliances() {
			if a.ID == step.Subject {
				l.plate(a)
			}
		}
	case "baseline":
		if p.set&^l.h.Burners() == Off {
			return []string{l.say("coach.rest")}, nil
		}
		return nil, l.worst(ctx, part[1])
	case "reading":
		if len(part) != 3 || part[2] != "worst" {
			return []string{p.now(l, part[1])}, nil
		}
		z := p.zone(l.names[part[1]])
		if z < 0 {
			return nil, nil
		}
		e, err := l.m.Check(ctx)
		if err != nil {
			return nil, err
		}
		for _, w := range e.Zones {
			if w.Zone == l.names[part[1]] {
				return []string{l.say("coach.worst", "zone", zoneName(l.lang, w.Zone), "net", tenth(w.Net), "pa", tenth(p.sol.Pressure[z]-w.Baseline))}, l.worst(ctx, part[1])
			}
		}
	case "spill", "natural", "together":
		text := l.say("coach.draws")
		if s := p.Spilling(); s != nil {
			for i := range s {
				s[i] = l.h.called(l.lang, s[i])
			}
			text = l.say("coach.spills", "what", strings.Join(s, ", "))
		}
		return []string{text}, nil
	case "ambient":
		return []string{l.say("coach.air", "co", tenth(p.CO(p.where(step, l.names))))}, nil
	}
	return nil, nil
}

// worst notes what a zone's baseline and worst case, as far as they were read,
// gave away.
func (l *looker) worst(ctx context.Context, id string) error {
	e, err := l.m.Check(ctx)
	if err != nil {
		return err
	}
	for _, w := range e.Zones {
		if w.Zone == l.names[id] {
			if _, ok := l.held[id]; !ok {
				l.held[id] = w.Setting // not yet held: no fault so far
			}
			if _, err := l.zone(w, procedure.Judgement{}); err != nil {
				return err
			}
		}
	}
	return nil
}
