package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"gopkg.in/yaml.v3"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/journal/disk"
	"cazward/procedure/reading"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
)

// sheet is a filled field sheet. Its answers are the texts that the walk
// would take, under the same step names, so that paper and screen cannot
// drift apart.
type sheet struct {
	name    string
	home    string
	tester  string
	phase   procedure.Phase
	scheme  string
	date    time.Time
	answers map[string]sheetAnswer
	order   []string
}

type sheetAnswer struct {
	text string
	at   string // HH:MM
	line int
	used bool
	sure bool // "sure: true": a value far outside what is met there stands
}

// sheetProblems lists everything wrong with a sheet at once.
type sheetProblems struct{ list []string }

func (p *sheetProblems) Error() string { return strings.Join(p.list, "\ncazward: error: ") }
func (p *sheetProblems) ExitCode() int { return exitRefused }
func (p *sheetProblems) Hint() string {
	return "nothing was written; mend the lines named, or delete what nobody measured: a gap is kept as not tested"
}

const maxSheet = 1 << 20

func readSheet(name string, data []byte) (*sheet, error) {
	p := &sheetProblems{}
	bad := func(line int, format string, a ...any) {
		p.list = append(p.list, fmt.Sprintf("%s:%d: %s", name, line, fmt.Sprintf(format, a...)))
	}
	if len(data) > maxSheet {
		bad(1, "the sheet has %d bytes, more than %d", len(data), maxSheet)
		return nil, p
	}
	dec := yaml.NewDecoder(bytes.NewReader(data))
	var doc, second yaml.Node
	if err := dec.Decode(&doc); err != nil {
		bad(1, "not YAML: %s", strings.TrimPrefix(err.Error(), "yaml: "))
		return nil, p
	}
	if err := dec.Decode(&second); !errors.Is(err, io.EOF) {
		bad(max(1, second.Line), "a second document")
		return nil, p
	}
	if len(doc.Content) != 1 || doc.Content[0].Kind != yaml.MappingNode {
		bad(1, "a sheet is keys and values")
		return nil, p
	}
	s := &sheet{name: name, phase: procedure.TestIn, scheme: "graded-2005", answers: map[string]sheetAnswer{}}
	scalar := func(n *yaml.Node, key string) string {
		if n.Kind != yaml.ScalarNode || n.Tag == "!!null" || n.Anchor != "" {
			bad(n.Line, "%s: one value is wanted", key)
			return ""
		}
		if strings.ContainsFunc(n.Value, forms.Hidden) {
			bad(n.Line, "%s: a control character is in it; write it again, without pasting", key)
			return ""
		}
		return n.Value
	}
	seen := map[string]bool{}
	root := doc.Content[0]
	for i := 0; i+1 < len(root.Content); i += 2 {
		k, v := root.Content[i], root.Content[i+1]
		if seen[k.Value] {
			bad(k.Line, "key %q stands twice", k.Value)
			continue
		}
		seen[k.Value] = true
		switch k.Value {
		case "kind":
			if scalar(v, "kind") != "sheet" {
				bad(v.Line, "kind: sheet is wanted")
			}
		case "format":
			if scalar(v, "format") != "1" {
				bad(v.Line, "format 1 is wanted")
			}
		case "home":
			s.home = scalar(v, "home")
		case "tester":
			s.tester = scalar(v, "tester")
		case "scheme":
			s.scheme = scalar(v, "scheme")
		case "note", "invented":
			scalar(v, k.Value)
		case "phase":
			s.phase = procedure.Phase(scalar(v, "phase"))
			if s.phase != procedure.TestIn && s.phase != procedure.Daily && s.phase != procedure.TestOut {
				bad(v.Line, "phase %q: test-in, daily or test-out", s.phase)
			}
		case "date":
			d, err := time.Parse("2006-01-02", scalar(v, "date"))
			if err != nil {
				bad(v.Line, "date %q: YYYY-MM-DD", v.Value)
			}
			s.date = d
		case "answers":
			if v.Kind != yaml.MappingNode {
				bad(v.Line, "answers: step names and what was written")
				continue
			}
			for j := 0; j+1 < len(v.Content); j += 2 {
				ak, av := v.Content[j], v.Content[j+1]
				if _, dup := s.answers[ak.Value]; dup {
					bad(ak.Line, "answer %q stands twice", ak.Value)
					continue
				}
				a := sheetAnswer{line: ak.Line}
				if av.Kind == yaml.MappingNode {
					for m := 0; m+1 < len(av.Content); m += 2 {
						switch av.Content[m].Value {
						case "is":
							a.text = scalar(av.Content[m+1], ak.Value)
						case "sure":
							a.sure = scalar(av.Content[m+1], ak.Value) == "true"
						case "at":
							a.at = scalar(av.Content[m+1], ak.Value)
							if _, err := time.Parse("15:04", a.at); err != nil {
								bad(av.Content[m+1].Line, "%s: time %q: HH:MM", ak.Value, a.at)
							}
						default:
							bad(av.Content[m].Line, "%s: unknown key %q; is:, at: and sure: are known", ak.Value, av.Content[m].Value)
						}
					}
				} else {
					a.text = scalar(av, ak.Value)
				}
				s.answers[ak.Value] = a
				s.order = append(s.order, ak.Value)
			}
		default:
			bad(k.Line, "unknown key %q; known: kind, format, home, tester, phase, scheme, date, note, answers", k.Value)
		}
	}
	for _, need := range []string{"kind", "format", "home", "tester", "date", "answers"} {
		if !seen[need] {
			bad(1, "%s: is missing", need)
		}
	}
	if len(p.list) > 0 {
		return s, p
	}
	return s, nil
}

func transcribeCmd(e *env) *cobra.Command {
	var out string
	var overlays []string
	c := &cobra.Command{Use: "transcribe SHEET.yaml -o RECORD", Short: "a filled sheet becomes a closed record through the same steps", Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if out == "" {
				return usage(saying("give -o RECORD%s", recordSuffix), "no output named")
			}
			data, err := readBounded(args[0], e.in)
			if err != nil {
				return err
			}
			d, err := transcribe(e, args[0], data, out, overlays)
			if err != nil {
				return err
			}
			fmt.Fprintln(e.err, e.say("wrote %s: decision %s", out, d.Decision))
			return nil
		}}
	c.Flags().StringVarP(&out, "output", "o", "", "record to write")
	c.Flags().StringArrayVar(&overlays, "limits", nil, "overlay file on the scheme")
	return c
}

// memory is a store that keeps events until the whole sheet was taken.
type memory struct{ evs []procedure.Event }

func (m *memory) Append(evs ...procedure.Event) ([]procedure.Event, error) {
	m.evs = append(m.evs, evs...)
	return evs, nil
}
func (m *memory) Close() error { return nil }

// StoreAttachment refuses: a sheet names no photos.
func (m *memory) StoreAttachment([]byte) (string, error) {
	return "", errors.New("a sheet has no photos")
}

// transcribe walks the sheet in memory, and writes the record only when
// every answer was taken.
func transcribe(e *env, name string, data []byte, out string, overlays []string) (procedure.Judgement, error) {
	var none procedure.Judgement
	sh, err := readSheet(name, data)
	p := &sheetProblems{}
	if err != nil && (sh == nil || !errors.As(err, &p)) {
		return none, err
	}
	set, lerr := loadLimits(sh.scheme, overlays)
	if lerr != nil {
		return none, errors.Join(err, lerr)
	}
	at := sh.date.Add(9 * time.Hour)
	h := procedure.Header{Record: e.id(), Home: sh.home, Phase: sh.phase, Created: e.now()}
	plan := set.Plan(sh.phase)
	planEv := procedure.Event{N: 1, Kind: procedure.KindPlan, Observed: at, Written: e.now(), Who: sh.tester, Src: procedure.FromSheet, Data: &plan}
	st, err := sequence.Replay(h, []procedure.Event{planEv})
	if err != nil {
		return none, err
	}
	mem := &memory{evs: []procedure.Event{planEv}}
	s := &session{e: e, st: st, rec: mem, rules: set.Rules(), src: procedure.FromSheet, notes: map[string]int{}, lang: wording.English, at: func() time.Time { return at }}
	for turns, dangers := 0, false; ; turns++ {
		if turns > 5000 {
			return none, errors.New("transcribe: the steps do not end")
		}
		step, ok := s.st.Next()
		if !ok && !dangers {
			// What the sheet says of dangers comes last: of some of them nothing
			// else is asked any more.
			dangers = true
			if err := s.dangersOf(sh, p); err != nil {
				return none, err
			}
			continue
		}
		if !ok {
			break
		}
		step = s.decorate(step)
		a, have := sh.answers[step.ID]
		if stem, _, _ := strings.Cut(step.ID, "/"); !have && (stem == "told" || stem == "source" || stem == "settled" || stem == "aired") {
			// What follows a danger is named after it, not after a line number
			// that nobody with a pencil can know.
			if b, ok := sh.answers[stem+"/hazard"]; ok && step.ID != sequence.KeyTold {
				sh.answers[step.ID], a, have = b, b, true
				b.used = true
				sh.answers[stem+"/hazard"] = b
			}
		}
		if have && a.used && step.Form != procedure.FormDoubt && step.Form != procedure.FormSetup {
			have = false // asked again: a doubt called for another reading
		}
		if !have {
			if err := s.leaveOut(step); err != nil {
				return none, err
			}
			continue
		}
		a.used = true
		sh.answers[step.ID] = a
		if a.at != "" {
			t, _ := time.Parse("15:04", a.at)
			at = sh.date.Add(time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute)
		}
		s.msg, s.text = "", ""
		if a.sure {
			s.text = a.text
		}
		s.p = quiet{}
		before := s.st.Last()
		err := s.answer(step, a.text, nil)
		var x exitWith
		if err != nil && !errors.As(err, &x) {
			return none, err
		}
		if s.st.Last() == before {
			p.list = append(p.list, fmt.Sprintf("%s:%d: %s: %s", name, a.line, step.ID, strings.TrimPrefix(s.msg, "NOT KEPT  ")))
			if err := s.leaveOut(step); err != nil {
				return none, err
			}
		}
	}
	var extra []string
	for _, k := range sh.order {
		if !sh.answers[k].used {
			extra = append(extra, k)
		}
	}
	for _, k := range extra {
		switch {
		case !sequence.KnownKey(k):
			p.list = append(p.list, fmt.Sprintf("%s:%d: %s: no step has this name", name, sh.answers[k].line, k))
		case s.contradicts(k):
			p.list = append(p.list, fmt.Sprintf("%s:%d: %s: by the rest of the sheet nothing like it was to be measured: mend the lists and what leads to it, or take the line off", name, sh.answers[k].line, k))
		case s.lowerThanWorst(k, sh.answers[k].text):
			p.list = append(p.list, fmt.Sprintf("%s:%d: %s: it is lower than the worst case, and by the rest of the sheet nobody was to read it: mend the lists and what leads to it, or take the line off", name, sh.answers[k].line, k))
		}
	}
	p.list = append(p.list, sh.beforeLit()...)
	if len(p.list) > 0 {
		sort.SliceStable(p.list, func(i, j int) bool { return lineOf(p.list[i]) < lineOf(p.list[j]) })
		return none, p
	}
	// What stands on the sheet and was not asked is kept as a note: nothing
	// written is lost, and nothing unasked is judged.
	for _, k := range extra {
		if err := s.commit(s.event(procedure.KindNote, k, &procedure.Note{Text: "on the sheet, not asked: " + clip(sh.answers[k].text, 400)})); err != nil {
			return none, err
		}
	}
	j, err := closeRecord(s)
	if err != nil {
		return none, err
	}
	rec, err := disk.Create(out, h, mem.evs...)
	if err != nil {
		return none, err
	}
	return j, rec.Close()
}

// dangersOf keeps the dangers that a sheet names: hazard/CODE lines, and room
// air read where no step asked for it.
func (s *session) dangersOf(sh *sheet, p *sheetProblems) error {
	for _, k := range sh.order {
		a := sh.answers[k]
		stem, rest, _ := strings.Cut(k, "/")
		air := stem == "ambient" || k == "arrive/ambient" || k == "arrive/lel"
		if a.used || stem != "hazard" && !air {
			continue
		}
		h := procedure.Hazard{Code: procedure.HazardCode(rest), Where: "on the sheet"}
		switch {
		case k == "arrive/lel":
			h.Code = procedure.LEL
		case air:
			h.Code = procedure.AmbientCO
		}
		var list []procedure.Hazard
		switch h.Code {
		case procedure.AmbientCO, procedure.LEL:
			unit := reading.UnitPPM
			if h.Code == procedure.LEL {
				unit = reading.UnitPercent
			}
			en, err := forms.Parse(procedure.Step{ID: k, Form: procedure.FormAmbient, Unit: string(unit), Ask: "ambient.now"}, a.text, forms.ParseContext{Twice: a.sure})
			if err != nil {
				p.list = append(p.list, fmt.Sprintf("%s:%d: %s: %v", sh.name, a.line, k, err))
				continue
			}
			g := en[0].Data.(*procedure.Answer).Gas
			for i := 0; i < max(1, len(g.CO)); i++ {
				x := h
				x.OverRange = g.OverRange
				if i < len(g.CO) {
					x.Value = &g.CO[i]
				}
				if _, reached := procedure.TierAt(s.st.Plan().Interrupts, x.Code, value(x.Value), x.OverRange); reached || stem == "hazard" {
					list = append(list, x)
				}
			}
		case procedure.Leak, procedure.Rollout, procedure.FlameChange, procedure.Alarm, procedure.Symptoms, procedure.Smell:
			for _, x := range s.st.Appliances() {
				if x.ID == a.text {
					h.Subject = a.text
				}
			}
			if h.Subject == "" {
				h.Where = a.text
			}
			list = append(list, h)
		default:
			p.list = append(p.list, fmt.Sprintf("%s:%d: %s: no danger has this name; known: alarm, symptoms, smell, leak, rollout, flame-change, ambient-co, lel", sh.name, a.line, k))
			continue
		}
		if len(list) == 0 {
			continue // room air below every tier: kept as a note
		}
		a.used = true
		sh.answers[k] = a
		for i := range list {
			if err := s.commit(s.event(procedure.KindHazard, k, &list[i])); err != nil {
				return err
			}
		}
	}
	return nil
}

func value(v *float64) float64 {
	if v == nil {
		return 0
	}
	return *v
}

// searchParts are the readings of the search, which a scheme may not ask.
var searchParts = []string{"dryer", "fans", "doors", "air", "redoors", "cazdoor", "cazair", "cazdoors", "fireplace", "firedoors", "firecaz", "worst", "closing"}

// lowerThanWorst reports whether a reading of the search that no step asked for
// is lower than the worst case of its zone: as a note it would not be judged.
func (s *session) lowerThanWorst(key, text string) bool {
	p := strings.Split(key, "/")
	o := s.st.Observations()
	zo := o.ZoneOf(p[1])
	if p[0] != "reading" || zo == nil || zo.Worst == nil {
		return false
	}
	entries, err := forms.Parse(procedure.Step{ID: key, Form: procedure.FormPressure, Unit: string(reading.UnitPa), Args: map[string]string{"kind": string(reading.KindZonePressure)}}, text, forms.ParseContext{Twice: true})
	if err != nil {
		return false
	}
	for _, e := range entries {
		a, ok := e.Data.(*procedure.Answer)
		if !ok || a.Pressure == nil {
			continue
		}
		for _, v := range a.Pressure.Values() {
			if pa, err := reading.Convert(v, reading.Unit(a.Pressure.Unit), reading.UnitPa); err != nil || pa < procedure.MeanOf(zo.Worst.Values) {
				return true
			}
		}
	}
	return false
}

// contradicts reports whether a measured line that no step asked for can be
// explained by nothing else on the sheet: no gap in the lists, no danger that
// ended the test, no burner that was not to be lit.
func (s *session) contradicts(key string) bool {
	p := strings.Split(key, "/")
	o := s.st.Observations()
	_, appliance := o.Appliance(p[1])
	zone := slices.ContainsFunc(o.Zones, func(z procedure.Zone) bool { return z.ID == p[1] })
	switch p[0] {
	case "spill", "flame", "together", "held": // asked of every burner that can spill
	case "look":
		if _, ok := o.Appliance(p[1]); ok && len(p) == 2 || key == "look/house" {
			return false
		}
	case "draft":
		// The scheme may not ask it, and where spillage failed it is known bad.
		if appliance && len(p) == 2 {
			return false
		}
	case "pairs": // only where the net was too close
	case "baseline", "reading":
		if zone && (len(p) < 3 || slices.Contains(searchParts, strings.TrimRight(p[2], "0123456789"))) {
			return false
		}
	case "co":
		if appliance && len(p) == 2 {
			return false
		}
	default:
		return false
	}
	if s.st.Leaving() {
		return false
	}
	for _, m := range o.Open {
		switch stem, _, _ := strings.Cut(m.Step, "/"); stem {
		case "arrive", "list", "zone", "appliance":
			return false
		}
		if m.Why == "skipped-"+string(procedure.SkipEndingEarly) {
			return false
		}
	}
	for _, c := range o.Checks { // not fit to be pulled down
		if c.Stage == procedure.StageArrive && c.State != procedure.SeenOK {
			return false
		}
	}
	if ao := o.Of(p[1]); ao != nil && ao.NotFired != "" {
		return false
	}
	return true
}

// beforeLit finds what by its own times was read before its burner was lit.
func (sh *sheet) beforeLit() []string {
	var out []string
	for _, k := range sh.order {
		stem, id, _ := strings.Cut(k, "/")
		a, lit := sh.answers[k], sh.answers["spill/"+id]
		if (stem == "co" || stem == "draft") && a.at != "" && lit.at != "" && a.at < lit.at {
			out = append(out, fmt.Sprintf("%s:%d: %s: read at %s, before the burner was lit at %s (spill/%s)", sh.name, a.line, k, a.at, lit.at, id))
		}
	}
	return out
}

func clip(s string, n int) string {
	r := []rune(s)
	if len(r) > n {
		return string(r[:n]) + "..."
	}
	return s
}

func lineOf(s string) int {
	p := strings.SplitN(s, ":", 3)
	n := 0
	if len(p) > 1 {
		fmt.Sscanf(p[1], "%d", &n)
	}
	return n
}

// leaveOut notes a step that the sheet does not answer. A doubt stays open,
// and who was told or who signed is said to be unknown, so that the record can
// close as incomplete.
func (s *session) leaveOut(step procedure.Step) error {
	switch step.Form {
	case procedure.FormDoubt:
		d := &procedure.Doubt{Code: procedure.DoubtCode(step.Args["doubt"]), About: step.About, Settled: "left"}
		return s.commit(s.event(procedure.KindDoubt, step.Args["key"], d))
	case procedure.FormTold:
		return s.commit(s.event(procedure.KindTold, step.ID, &procedure.Told{Whom: "not on the sheet", What: "decision"}))
	case procedure.FormGate:
		var evs []procedure.Event
		for _, k := range step.Keys() {
			evs = append(evs, s.event(procedure.KindAnswer, k, &procedure.Answer{Seen: &procedure.Seen{State: procedure.NotSeen}}))
		}
		return s.commit(evs...)
	case procedure.FormText:
		return s.commit(s.event(procedure.KindAnswer, step.ID, &procedure.Answer{Text: "not on the sheet"}))
	}
	why := procedure.SkipNotOnSheet
	if step.Wanted {
		why = procedure.SkipNotWanted
	}
	if step.Form == procedure.FormConfirm {
		return s.commit(s.event(procedure.KindAnswer, step.ID, &procedure.Answer{Choice: "changed"}))
	}
	var evs []procedure.Event
	for _, k := range step.Keys() {
		evs = append(evs, s.event(procedure.KindSkip, k, &procedure.Skip{Reason: why}))
	}
	return s.commit(evs...)
}

// quiet is a prompter that shows nothing: a sheet talks to nobody.
type quiet struct{}

func (quiet) Ask(forms.View) (forms.Reply, error) { return forms.Reply{}, io.EOF }
func (quiet) Tell(string, string)                 {}
func (quiet) Stop([]string)                       {}
func (quiet) Close() error                        { return nil }
