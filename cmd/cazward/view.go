package main

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/practice"
	"cazward/procedure/reading"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
)

// ambientAge is how old a reading of ambient CO may be while burners run
// before the screen asks for a new one (own rule).
const ambientAge = 2 * time.Minute

// view gathers what a screen shows at a step.
func (s *session) view(step procedure.Step) forms.View {
	w := wording.For(s.lang, step, s.st.Plan())
	v := forms.View{Step: step, Words: w, Where: s.where(step), Message: s.msg, Text: s.text, Notes: s.notes[step.ID], Held: step.Held}
	v.House = s.house(step)
	if s.st.Header().Practice != nil {
		if shows, typed := practice.Demo(step); typed != "" {
			v.Words.How = append([]string{words("msg/demo-types", "shows", shows)}, v.Words.How...)
		}
	}
	for _, c := range step.Offer { // what would be confirmed stands on the screen
		if c.Answer.Names != nil { // names in place of ids
			var items []procedure.Item
			for _, id := range c.Answer.Names.IDs {
				items = append(items, procedure.Item{Key: id, Name: s.name(id)})
			}
			step.Items = items
		}
		line := wording.KeptText(s.lang, procedure.Step{ID: c.Step, Form: procedure.FormConfirm, Name: step.Name, Items: step.Items, Args: map[string]string{}}, &c.Answer)
		v.Words.How = append(v.Words.How, words("msg/was", "what", line))
		v.Words.Plain += " " + capital(words("msg/was", "what", line)) + "."
	}
	v.SoFar = s.soFar()
	s.net(step, &v)
	if step.Form == procedure.FormClock {
		v.Clock = s.clockView(step)
	}
	if step.ID == sequence.KeyTold {
		v.Lines = s.decisionLines()
	}
	return v
}

func (s *session) where(step procedure.Step) forms.Where {
	h := s.st.Header()
	p := s.st.Plan()
	w := forms.Where{Of: len(procedure.Stages), Name: wording.Stage(s.lang, step.Stage), Phase: wording.PhaseName(s.lang, h.Phase), Scheme: wording.SchemeLong(p.Scheme),
		SchemeID: wording.SchemeShort(p.Scheme), Kept: s.st.Last(), BurnersOn: step.Burning, AmbientOld: ambientAge}
	for i, id := range procedure.Stages {
		if id == step.Stage {
			w.Stage = i + 1
		}
	}
	if h.Practice != nil {
		w.Mark, w.MarkShort = words("msg/demo"), words("msg/demo-short")
		if h.Practice.House != practice.DemoName {
			w.Mark, w.MarkShort = words("msg/practice"), words("msg/practice")
		}
	}
	if v, over, at, ok := s.st.Ambient(); ok {
		w.AmbientAt = at
		w.Ambient = reading.Format(v, -1)
		if over {
			w.Ambient = words("msg/over")
		}
	}
	return w
}

func (s *session) house(step procedure.Step) []string {
	if step.Setup == nil {
		return nil
	}
	o := s.st.Observations()
	return wording.HouseNow(s.lang, *step.Setup, step, s.name, o.Fans, o.Doors, o.AirHandlers)
}

// name is what a person calls a thing.
func (s *session) name(id string) string { return nameOf(s.st.Observations(), id) }

func nameOf(o procedure.Observations, id string) string {
	for _, a := range o.Appliances {
		if a.ID == id {
			return a.Name
		}
	}
	for _, z := range o.Zones {
		if z.ID == id {
			return z.Name
		}
	}
	for _, list := range [][]procedure.RosterItem{o.Fans, o.Doors, o.AirHandlers} {
		for _, it := range list {
			if it.ID == id && it.Name != "" {
				return it.Name
			}
		}
	}
	return id
}

// soFar are the newest readings, newest last.
func (s *session) soFar() []string {
	keys := s.st.Answers()
	var out []string
	for i := len(keys) - 1; i >= 0 && len(out) < 4; i-- {
		d, _, ok := s.st.Fact(keys[i])
		if !ok {
			continue
		}
		st, ok := s.st.StepFor(keys[i])
		if !ok {
			continue
		}
		switch st.Form {
		case procedure.FormPressure, procedure.FormGas, procedure.FormAmbient, procedure.FormClock, procedure.FormWeather, procedure.FormPairs:
			out = append([]string{fmt.Sprintf("%s  %s: %s", s.st.FactAt(keys[i]).Format("15:04"), wording.Short(s.lang, st), wording.KeptText(s.lang, st, d))}, out...)
		}
	}
	return out
}

// net draws the zone's net against its limits, as far as it is known.
func (s *session) net(step procedure.Step, v *forms.View) {
	zone := step.Zone
	if zone == "" || step.Stage == procedure.StageList || step.Stage == procedure.StageLook {
		return
	}
	net, u, ok := s.st.Net(zone)
	if !ok {
		v.NetNote = wording.NoNet(s.lang)
		return
	}
	r := forms.Ruler{Net: net, U: u}
	seen := map[string]bool{}
	letter := byte('A')
	choices := s.st.ZoneLimits(zone)
	for {
		best := -1
		for i, c := range choices {
			if !c.Found || seen[c.Limit.ID] {
				continue
			}
			if best < 0 || c.Limit.Bound.Value > choices[best].Limit.Bound.Value {
				best = i
			}
		}
		if best < 0 {
			break
		}
		l := choices[best].Limit
		seen[l.ID] = true
		if letter > 'C' {
			r.More++
			continue
		}
		r.Marks = append(r.Marks, forms.Mark{Letter: letter, At: l.Bound.Value, Text: wording.LimitText(s.lang, l), Side: l.Bound.Side(net, u)})
		letter++
	}
	if len(r.Marks) == 0 {
		r.None = wording.NoLimit(s.lang)
	}
	v.Ruler = &r
}

func (s *session) clockView(step procedure.Step) *forms.ClockView {
	c := &forms.ClockView{Limit: step.LimitS}
	if s.timed(step.ID) {
		wall, mono := s.st.ClockStart()
		c.Lit, c.LitMono, c.Drawn = wall, mono, s.st.ClockDrawn()
	}
	return c
}

// decisionLines are the page on which the test ends.
func (s *session) decisionLines() []forms.Line {
	j := s.judge()
	return decisionPage(s.lang, s.st.Observations(), j)
}

func decisionPage(l wording.Lang, o procedure.Observations, j procedure.Judgement) []forms.Line {
	name := func(id string) string { return nameOf(o, id) }
	out := []forms.Line{{Role: "head", Text: j.Decision.SignalWord() + "  " + wording.Headline(l, j.Decision, o.Phase, len(j.Missing)) + "   " + string(j.Decision)}}
	add := func(role string, lines ...string) {
		for _, t := range lines {
			out = append(out, forms.Line{Role: role, Text: t})
		}
	}
	why, do := whyDo(l, o, j)
	add("why", why...)
	add("do", do...)
	for _, a := range j.Appliances {
		if a.Status != procedure.StatusNone {
			add("do", a.Name+": "+wording.StatusText(l, a.Status))
		}
	}
	for _, r := range j.AcceptedRisks {
		add("why", words("msg/risk", "row", r.Row, "reason", r.Reason))
	}
	add("holds", strings.TrimPrefix(strings.Join(wording.Holds(l), " "), words("screen/holds")+" ")) // the screen has that word at the left
	back, all, open := 0, 0, []string{}
	for _, c := range o.Checks {
		if c.Stage == procedure.StagePutBack {
			all++
			if c.State == procedure.SeenOK {
				back++
			} else {
				open = append(open, wording.ItemText(l, c.Code))
			}
		}
	}
	line := words("msg/back", "n", fmt.Sprint(back), "of", fmt.Sprint(all))
	if len(open) > 0 {
		line = words("msg/back-open", "n", fmt.Sprint(back), "of", fmt.Sprint(all), "what", strings.Join(open, ", "))
	}
	if all == 0 {
		line = words("msg/back-none")
	}
	var missing []string
	for _, m := range j.Missing {
		missing = append(missing, wording.MissingText(l, m, name))
	}
	nt := words("msg/tested")
	if len(missing) > 0 {
		nt = words("msg/not-tested", "what", strings.Join(missing, "; "))
	}
	add("back", line, nt)
	return out
}

// whyDo are the reasons and the things to do, most protective first, each
// once.
func whyDo(l wording.Lang, o procedure.Observations, j procedure.Judgement) (why, do []string) {
	name := func(id string) string { return nameOf(o, id) }
	seen := map[string]bool{}
	once := func(list *[]string, t string) {
		if t != "" && !seen[t] {
			seen[t] = true
			*list = append(*list, t)
		}
	}
	for _, d := range wording.DoFor(l, j.Decision, o.Phase) {
		once(&do, d)
	}
	for _, f := range j.Findings {
		if f.Verdict == procedure.Pass || f.Verdict == procedure.NotApplicable || f.Severity == procedure.Proceed || f.Severity == procedure.NoDecision {
			continue
		}
		once(&why, wording.Reason(l, f, name))
		for _, d := range wording.Do(l, f, name) {
			once(&do, d)
		}
	}
	return why, do
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// canonical is data as they stand in a record, for telling whether an answer
// changed.
func canonical(d procedure.Data) string {
	b, _ := json.Marshal(d)
	return string(b)
}
