package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/practice"
	"cazward/procedure/reading"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
	reports "cazward/report"
)

// ambientAge is how old a reading of ambient CO may be while burners run
// before the screen asks for a new one (own rule).
const ambientAge = 2 * time.Minute

// view gathers what a screen shows at a step.
func (s *session) view(step procedure.Step) forms.View {
	w := wording.For(s.lang, step, s.st.Plan())
	if step.Form == procedure.FormPressure {
		s.logHint(&w)
	}
	s.roomAir(step, &w)
	v := forms.View{Step: step, Words: w, Where: s.where(step), Message: s.msg, Text: s.text, Notes: s.notes[step.ID], Held: step.Held}
	if step.Setup == nil && step.Ask != "fix.pick" && (step.Burning || step.Held || step.Stage == procedure.StageWorst || step.Ask == "ambient.source" || step.Ask == "ambient.settled") {
		step.Setup, step.Held = s.inForce()
		v.Step.Setup, v.Step.Held, v.Held = step.Setup, step.Held, step.Held
	}
	if step.Setup != nil && step.SetupN == 0 {
		step.Setup = s.asRun(step, &v)
	}
	v.House = s.house(step)
	if (s.came || step.Ask == "ambient.resume") && step.Form != procedure.FormSetup {
		if setup, lit := s.st.StillChanged(); setup != nil || len(lit) > 0 {
			v.House, v.Still, v.Held = wording.StillChanged(s.lang, setup, lit, s.name), true, false
			v.Where.BurnersOn = v.Where.BurnersOn || len(lit) > 0
		}
	}
	if s.drill != nil && s.drill.play != nil {
		s.drill.look(s, step, &v)
	} else if s.tour != nil {
		x, err := s.tour.Show(s.lang, step, s.st)
		if v.Shows = x.Text; err != nil {
			v.Message = wording.Drill(s.lang, "no-balance", "why", err.Error())
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
		if strings.HasPrefix(c.Step, "appliance/") { // several facts of one thing: which
			part, _, _ := strings.Cut(wording.KeyText(s.lang, c.Step, s.name), " of ")
			line = part + ": " + line
		}
		v.Words.How = append(v.Words.How, words("msg/was", "what", line))
		v.Words.Plain += " " + capital(words("msg/was", "what", line)) + "."
	}
	v.SoFar = s.soFar()
	s.net(step, &v)
	if step.Form == procedure.FormClock {
		v.Clock = s.clockView(step)
		if !v.Clock.Lit.IsZero() { // one line is all that the running clock leaves
			v.Words.How = []string{wording.ClockRuns(s.lang, v.Clock.Drawn > 0)}
		}
	}
	if step.ID == sequence.KeyTold {
		v.Lines = s.decisionLines()
	}
	return v
}

// roomAir adds, where somebody looks at the openings for combustion air, what
// volume there is without them and what the burners want, if that can be told.
func (s *session) roomAir(step procedure.Step, words *wording.Screen) {
	i := slices.IndexFunc(step.Items, func(it procedure.Item) bool { return it.Code == "combustion-air" })
	if i < 0 {
		return
	}
	for _, r := range reports.Rooms(s.st.Observations()) {
		if r.Zone.ID == step.Zone && r.Err == nil {
			words.Items[i] = wording.RoomAir(s.lang, words.Items[i], reading.Format(r.Zone.Volume, 0), reading.Format(float64(r.Air.Required), 0))
		}
	}
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
		if s.drill != nil || h.Practice.House != practice.DemoName {
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

// inForce is the set-up that was confirmed last, and whether it is the worst
// case: an answer that has none of its own is still given in it.
func (s *session) inForce() (setup *procedure.Setup, held bool) {
	newest := 0
	for _, k := range s.st.Answers() {
		d, n, _ := s.st.Fact(k)
		if su, ok := d.(*procedure.Setup); ok && n > newest {
			newest, setup, held = n, su, strings.HasSuffix(k, "/worst")
		}
	}
	return setup, held
}

// asRun is the set-up of a step with the fans left off that would not run when
// the house was last set. Where it is asked for anew, how says which they were.
func (s *session) asRun(step procedure.Step, v *forms.View) *procedure.Setup {
	now, _ := s.inForce()
	if now == nil || len(now.NotRun) == 0 {
		return step.Setup
	}
	out := step.Setup.Clone()
	var fans, idle []string
	for _, f := range out.Fans {
		if !slices.Contains(now.NotRun, f) {
			fans = append(fans, f)
			continue
		}
		idle = append(idle, f)
	}
	if len(idle) == 0 {
		return step.Setup
	}
	if step.Form == procedure.FormSetup {
		var what []string
		for i, it := range step.Items {
			if slices.Contains(idle, it.Key) {
				what = append(what, fmt.Sprintf("%d %s", i+1, it.Name))
			}
		}
		v.Words.How = append(v.Words.How, wording.WouldNotRun(s.lang, what))
		v.Words.Plain += "; " + wording.WouldNotRun(s.lang, what)
		return step.Setup
	}
	out.Fans, out.NotRun = fans, append(out.NotRun, idle...)
	return &out
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
			out = append([]string{fmt.Sprintf("%s  %s: %s", s.st.FactAt(keys[i]).Format("15:04"), wording.Short(s.lang, st), wording.Reading(s.lang, st, d))}, out...)
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
		v.NetNote = wording.NoNet(s.lang, s.st.Has("baseline/"+zone))
		return
	}
	// What is judged is shown: off/on pairs, once taken, stand in its place, and
	// so does a reading before light-off that was lower.
	judged := map[string]procedure.Side{}
	for _, f := range s.judge().Findings {
		if f.Rule != "depressurization" || f.Subject != zone || f.Value == nil || f.Uncertainty == nil {
			continue
		}
		net, u = *f.Value, *f.Uncertainty
		judged[f.Row] = map[procedure.Verdict]procedure.Side{procedure.Pass: procedure.SideInside, procedure.TooClose: procedure.SideTooClose, procedure.Fail: procedure.SideBeyond}[f.Verdict]
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
		text := wording.LimitText(s.lang, l)
		if seen[l.ID] = true; seen[text] { // another row of the same words and figure says nothing more
			continue
		}
		seen[text] = true
		if letter > 'C' {
			r.More++
			continue
		}
		side, ok := judged[l.ID]
		if !ok {
			side = l.Bound.Side(net, u)
		}
		r.Marks = append(r.Marks, forms.Mark{Letter: letter, At: l.Bound.Value, Text: text, Side: side})
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
	if why := notBegun(l, o); why != "" {
		add("why", why)
	}
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
	var gaps []string
	if len(j.Missing) > 0 {
		gaps = append(gaps, wording.MissingList(l, j.Missing, name))
	}
	for _, ao := range o.ApplObs {
		if ao.NotFired != "" {
			gaps = append(gaps, wording.NotLit(l, name(ao.ID)))
		}
	}
	nt := words("msg/tested")
	if len(gaps) > 0 {
		nt = words("msg/not-tested", "what", strings.Join(gaps, "; "))
	}
	add("back", line, nt)
	return out
}

// notBegun says why nothing was measured, where that was settled at arrival.
func notBegun(l wording.Lang, o procedure.Observations) string {
	var not []string
	for _, c := range o.Checks {
		if c.Stage == procedure.StageArrive && c.State != procedure.SeenOK && strings.HasPrefix(c.Key, "arrive/ready/") {
			not = append(not, wording.ItemText(l, c.Code))
		}
	}
	if len(not) == 0 {
		return ""
	}
	return wording.NotBegun(l, not)
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
	whole := wording.DoFor(l, j.Decision, o.Phase)
	if j.Decision == procedure.Leave { // out comes before anything; else what is done to an appliance does, as in the report
		for _, d := range whole {
			once(&do, d)
		}
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
	for _, a := range j.Appliances { // off for what was found of no one burner
		if !slices.ContainsFunc(j.Findings, func(f procedure.Finding) bool { return f.Subject == a.ID && f.Status == a.Status }) {
			once(&do, wording.DoStatus(l, a.Status, name(a.ID)))
		}
	}
	for _, d := range whole {
		once(&do, d)
	}
	return why, do
}

// canonical is data as they stand in a record, for telling whether an answer
// changed.
func canonical(d procedure.Data) string {
	b, _ := json.Marshal(d)
	return string(b)
}
