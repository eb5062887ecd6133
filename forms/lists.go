package forms

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"cazward/procedure"
)

// marks reads numbers, some with a question mark before them, each at most
// once. The answer is by line: 0 not named, 1 named, -1 with a question mark.
func (p parser) marks(fields []string, n int, into []int, question bool) error {
	for _, tok := range fields {
		num, unsure := strings.CutPrefix(tok, "?")
		if unsure && !question {
			return refuse("go-and-look", "text", echo(tok))
		}
		i, err := p.index(num, n)
		if err != nil {
			return err
		}
		if into[i-1] != 0 {
			return refuse("twice", "text", num)
		}
		into[i-1] = 1
		if unsure {
			into[i-1] = -1
		}
	}
	return nil
}

func seen(state procedure.SeenState, text string) *procedure.Answer {
	return &procedure.Answer{Seen: &procedure.Seen{State: state, Text: text}}
}

// checklist: "ok", or parts between semicolons, each one or more numbers and,
// after a single number and a colon, what is wrong.
func (p parser) checklist() ([]Entry, error) {
	n := len(p.step.Items)
	state, texts := make([]int, n), make([]string, n)
	if !p.is("ok") {
		for _, part := range strings.Split(p.text, ";") {
			list, note, noted := strings.Cut(part, ":")
			fields := strings.Fields(list)
			if len(fields) == 0 {
				return nil, p.notAnAnswer(strings.TrimSpace(part))
			}
			if err := p.marks(fields, n, state, true); err != nil {
				return nil, err
			}
			if !noted {
				continue
			}
			if len(fields) > 1 {
				return nil, refuse("text-of-which")
			}
			i, _ := strconv.Atoi(strings.TrimPrefix(fields[0], "?"))
			var err error
			if texts[i-1], err = p.note(fields[0], note); err != nil {
				return nil, err
			}
		}
	}
	var out []Entry
	for i, it := range p.step.Items {
		s := [...]procedure.SeenState{procedure.NotSeen, procedure.SeenOK, procedure.SeenWrong}[state[i]+1]
		out = append(out, Entry{it.Key, seen(s, texts[i])})
	}
	return out, nil
}

// note is the text of a line. One that may hold further numbers of the list
// is refused: taken as text, those lines would count as in order.
func (p parser) note(of, note string) (string, error) {
	words := strings.Fields(note)
	if len(words) == 0 {
		return "", refuse("text-empty", "text", of)
	}
	for i, w := range words {
		num, unsure := strings.CutPrefix(w, "?")
		if !unsure && i < len(words)-1 {
			continue
		}
		if _, err := p.index(num, len(p.step.Items)); err == nil {
			return "", refuse("text-number", "text", echo(w))
		}
	}
	if utf8.RuneCountInString(note) > maxText {
		return "", refuse("too-long", "max", itoa(maxText))
	}
	return strings.TrimSpace(note), nil
}

// gate: hazards come first, so that a caller that writes in order has the
// danger on disk before the lines.
func (p parser) gate() ([]Entry, error) {
	state := make([]int, len(p.step.Items))
	if !p.is("none") {
		if err := p.marks(p.fields, len(state), state, false); err != nil {
			return nil, err
		}
	}
	var out []Entry
	for i, it := range p.step.Items {
		if state[i] != 0 {
			out = append(out, Entry{p.step.ID, &procedure.Hazard{Code: procedure.HazardCode(it.Code), Subject: p.step.Subject}})
		}
	}
	for i, it := range p.step.Items {
		s := procedure.SeenOK
		if state[i] != 0 {
			s = procedure.SeenWrong
		}
		out = append(out, Entry{it.Key, seen(s, "")})
	}
	return out, nil
}

// table: digits may stand together when no choice has two.
func (p parser) table() ([]Entry, error) {
	n := len(p.step.Items)
	fields := p.fields
	if len(fields) == 1 && len(p.step.Choices) <= 9 && !strings.ContainsAny(p.text, ",;") {
		fields = strings.Split(p.text, "")
	}
	if len(fields) != n {
		return nil, refuse("count", "n", itoa(len(fields)), "max", itoa(n))
	}
	var out []Entry
	for i, tok := range fields {
		if tok == "?" {
			out = append(out, Entry{p.step.Items[i].Key, seen(procedure.NotSeen, "")})
			continue
		}
		c, err := p.index(tok, len(p.step.Choices))
		if err != nil {
			return nil, err
		}
		out = append(out, Entry{p.step.Items[i].Key, &procedure.Answer{Choice: p.step.Choices[c-1]}})
	}
	return out, nil
}

func (p parser) roster() (procedure.Data, error) {
	r := &procedure.Roster{Items: []procedure.RosterItem{}}
	if p.is("none") {
		return &procedure.Answer{Roster: r}, nil
	}
	count := map[string]int{}
	for _, tok := range p.fields {
		i, err := p.index(tok, len(p.step.Choices))
		if err != nil {
			return nil, err
		}
		if len(r.Items) == maxRoster {
			return nil, refuse("reading/too-many", "text", echo(tok), "hint", hint(p.step))
		}
		kind := p.step.Choices[i-1]
		count[kind]++
		name := p.step.Args["name/"+kind]
		if name == "" {
			name = kind
		}
		if count[kind] > 1 {
			name += " " + itoa(count[kind])
		}
		r.Items = append(r.Items, procedure.RosterItem{ID: kind + "-" + itoa(count[kind]), Kind: kind, Name: name})
	}
	return &procedure.Answer{Roster: r}, nil
}

// facts: what is not named is no, which is why a fact that could not be seen
// has its question mark. A code that begins with "!" is worded the other way
// round ("has its vent to itself" for shares), so that a forgotten number never
// gives the milder fact.
func (p parser) facts() (procedure.Data, error) {
	state := make([]int, len(p.step.Items))
	if !p.is("none") {
		if err := p.marks(p.fields, len(state), state, true); err != nil {
			return nil, err
		}
	}
	m := map[string]procedure.Tri{}
	for i, it := range p.step.Items {
		said := [...]procedure.Tri{procedure.Unknown, procedure.No, procedure.Yes}[state[i]+1]
		if code, other := strings.CutPrefix(it.Code, "!"); other {
			m[code] = said.Not()
		} else {
			m[code] = said
		}
	}
	raw, err := json.Marshal(m)
	if err != nil {
		return nil, fmt.Errorf("forms: step %s: %w", p.step.ID, err)
	}
	f := &procedure.VentFacts{}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	if err := d.Decode(f); err != nil {
		return nil, fmt.Errorf("forms: step %s asks a fact that does not exist: %w", p.step.ID, err)
	}
	return &procedure.Answer{VentFacts: f}, nil
}

func (p parser) pick() (procedure.Data, error) {
	state := make([]int, len(p.step.Items))
	if !p.is("none") {
		if err := p.marks(p.fields, len(state), state, false); err != nil {
			return nil, err
		}
	}
	ids := []string{}
	for i, it := range p.step.Items {
		if state[i] != 0 {
			ids = append(ids, it.Key)
		}
	}
	return &procedure.Answer{Names: &procedure.Names{IDs: ids}}, nil
}

// Numbered reports whether a line of a step is named by its number in the
// answer: of a set-up only the fans are, because a door or an air handler that
// is not as listed would be another set-up.
func Numbered(step procedure.Step, item int) bool {
	return step.Form != procedure.FormSetup || step.Setup != nil && fanAt(*step.Setup, step.Items[item]) >= 0
}

// fanAt is the place of a line among the fans that are to run, -1 for none.
func fanAt(s procedure.Setup, it procedure.Item) int {
	if strings.HasPrefix(it.Code, "fan") {
		for i, id := range s.Fans {
			if id == it.Key {
				return i
			}
		}
	}
	return -1
}

// setup: a fan that does not run is said so; a door or an air handler that
// is not as listed would be another configuration, so it is set or skipped.
func (p parser) setup() (procedure.Data, error) {
	if p.step.Setup == nil {
		return nil, fmt.Errorf("forms: step %s has no set-up to confirm", p.step.ID)
	}
	state := make([]int, len(p.step.Items))
	if !p.is("ok") {
		if err := p.marks(p.fields, len(state), state, false); err != nil {
			return nil, err
		}
	}
	s := p.step.Setup.Clone()
	for i, it := range p.step.Items {
		if state[i] == 0 {
			continue
		}
		at := fanAt(s, it)
		if at < 0 {
			return nil, refuse("set-it-so", "text", itoa(i+1))
		}
		s.Fans = append(s.Fans[:at], s.Fans[at+1:]...)
		s.NotRun = append(s.NotRun, it.Key)
	}
	return &s, nil
}
