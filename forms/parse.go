package forms

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// ParseContext is what the text alone does not say.
type ParseContext struct {
	// Twice: the same text was typed again after it was refused as far
	// outside what is met there.
	Twice bool
	// SetupN is the n of the set-up in force; 0 takes the step's.
	SetupN int
	// Timed: the text of a clock step came from the clock of the screen, not
	// from the tester's own watch.
	Timed bool
}

// Bounds of what is typed (own rules).
const (
	maxText   = 500  // characters of free text
	maxBytes  = 4096 // bytes of any answer
	maxRoster = 60   // things in one list
	minPairs  = 3
)

// Parse turns what was typed at a step into event payloads, one for each fact
// key that the step writes; an item that is a danger gives a hazard first.
// Nothing is guessed and a bare Enter is never an answer. It returns a
// *[Refusal] for what is not kept; any other error is a step that cannot be
// answered at all.
//
// Arguments of a step (Args) that it knows: name/KIND names a kind of a
// roster; kind is the [reading.Kind] for the question whether a value is far
// outside; min_samples and min_averaging_s are what a pressure needs at least;
// max_spread is used by [ReadAs]; instrument, doubt, what and resumed go into
// the payloads of their forms.
func Parse(step procedure.Step, text string, ctx ParseContext) ([]Entry, error) {
	if len(text) > maxBytes {
		return nil, refuse("too-long", "max", itoa(maxBytes))
	}
	if !utf8.ValidString(text) || strings.ContainsFunc(text, Hidden) {
		return nil, refuse("hidden")
	}
	text = strings.TrimSpace(text)
	if text == "" {
		return nil, refuse("empty", "hint", hint(step))
	}
	if ctx.SetupN == 0 {
		ctx.SetupN = step.SetupN
	}
	if text == "-" && step.Wanted {
		var out []Entry
		for _, k := range step.Keys() {
			out = append(out, Entry{k, &procedure.Skip{Reason: procedure.SkipNotWanted}})
		}
		return out, nil
	}
	p := parser{step: step, text: text, fields: strings.Fields(text), ctx: ctx}
	var data procedure.Data
	var err error
	switch step.Form {
	case procedure.FormChecklist:
		return p.checklist()
	case procedure.FormGate:
		return p.gate()
	case procedure.FormTable:
		return p.table()
	case procedure.FormNumbers:
		return p.numbers()
	case procedure.FormConfirm:
		return p.confirm()
	case procedure.FormRoster:
		data, err = p.roster()
	case procedure.FormFacts:
		data, err = p.facts()
	case procedure.FormPick:
		data, err = p.pick()
	case procedure.FormNumber:
		data, err = p.number()
	case procedure.FormBurner:
		data, err = p.burner()
	case procedure.FormWeather:
		data, err = p.weather()
	case procedure.FormPressure:
		data, err = p.pressure()
	case procedure.FormPairs:
		data, err = p.pairs()
	case procedure.FormGas:
		data, err = p.gas()
	case procedure.FormAmbient:
		data, err = p.ambient()
	case procedure.FormClock:
		data, err = p.clock()
	case procedure.FormSetup:
		data, err = p.setup()
	case procedure.FormInstrument:
		data, err = p.instrument()
	case procedure.FormTold:
		data, err = p.told()
	case procedure.FormDoubt:
		data, err = p.doubt()
	case procedure.FormChoice:
		data, err = p.choice()
	case procedure.FormText:
		data, err = p.free()
	default:
		return nil, fmt.Errorf("forms: step %s has the unknown form %q", step.ID, step.Form)
	}
	if err != nil {
		return nil, err
	}
	return []Entry{{step.ID, data}}, nil
}

type parser struct {
	step   procedure.Step
	text   string
	fields []string
	ctx    ParseContext
}

func itoa(n int) string { return strconv.Itoa(n) }

func (p parser) notAnAnswer(text string) error {
	return refuse("not-an-answer", "text", echo(text), "hint", hint(p.step))
}

// is reports whether the whole answer is the word.
func (p parser) is(word string) bool { return strings.EqualFold(p.text, word) }

// index reads the number of a line, 1 to n.
func (p parser) index(tok string, n int) (int, error) {
	if strings.EqualFold(tok, "ok") || strings.EqualFold(tok, "none") {
		if p.is(tok) { // alone, but on a form that has the other word
			return 0, p.notAnAnswer(tok)
		}
		return 0, refuse("ok-and-more", "hint", hint(p.step))
	}
	if list := strings.FieldsFunc(tok, func(r rune) bool { return r == ',' }); len(list) > 1 || strings.Contains(tok, ",") {
		return 0, refuse("list-comma", "text", echo(tok), "suggest", echo(strings.Join(list, " ")))
	}
	if tok == "" || strings.Trim(tok, "0123456789") != "" {
		return 0, p.notAnAnswer(tok)
	}
	i, err := strconv.Atoi(tok)
	if err != nil || i < 1 || i > n {
		return 0, refuse("not-on-list", "text", echo(tok), "max", itoa(n))
	}
	return i, nil
}

func (p parser) numbers() ([]Entry, error) {
	if n := len(p.step.Items); len(p.fields) != n {
		return nil, refuse("count", "n", itoa(len(p.fields)), "max", itoa(n))
	}
	var out []Entry
	for i, tok := range p.fields {
		num, err := p.quantity(tok)
		if err != nil {
			return nil, err
		}
		out = append(out, Entry{p.step.Items[i].Key, &procedure.Answer{Number: num}})
	}
	return out, nil
}

func (p parser) number() (procedure.Data, error) {
	if p.step.Unit == string(reading.UnitFt3) && p.text != "?" {
		v, u, err := reading.ParseVolume(p.text)
		if err != nil {
			return nil, refuseReading(p.step, err)
		}
		if err := p.plausible(plausibleKind(p.step), v, u, p.text); err != nil {
			return nil, err
		}
		return &procedure.Answer{Number: &procedure.Number{Value: &v, Unit: string(u)}}, nil
	}
	num, err := p.quantity(p.text)
	if err != nil {
		return nil, err
	}
	return &procedure.Answer{Number: num}, nil
}

// quantity reads one number in the step's unit, or "?". A step whose unit
// the reading package does not know (a count) takes plain numbers.
func (p parser) quantity(text string) (*procedure.Number, error) {
	if text == "?" {
		return &procedure.Number{}, nil
	}
	def := reading.Unit(p.step.Unit)
	if def.Family() == "" {
		v, err := reading.ParseNumber(text)
		if err != nil {
			return nil, refuseReading(p.step, err)
		}
		if v < 0 {
			return nil, refuse("reading/out-of-range", "text", echo(text))
		}
		return &procedure.Number{Value: &v, Unit: p.step.Unit}, nil
	}
	v, u, err := reading.ParseQuantity(text, def)
	if err != nil {
		return nil, refuseReading(p.step, err)
	}
	if err := p.plausible(plausibleKind(p.step), v, u, text); err != nil {
		return nil, err
	}
	return &procedure.Number{Value: &v, Unit: string(u)}, nil
}

// plausibleKind is the place of a step's value in the test, "" where none is
// told: then nothing is far outside.
func plausibleKind(step procedure.Step) reading.Kind {
	if k := step.Args["kind"]; k != "" {
		return reading.Kind(k)
	}
	switch step.Form {
	case procedure.FormPressure, procedure.FormPairs:
		if step.Subject != "" {
			return reading.KindDraft
		}
		return reading.KindZonePressure
	case procedure.FormGas:
		return reading.KindFlueCO
	case procedure.FormClock:
		return reading.KindSpillageTime
	case procedure.FormBurner:
		return reading.KindInput
	}
	return ""
}

// plausible refuses once what is far outside the usual.
func (p parser) plausible(kind reading.Kind, v float64, u reading.Unit, again string) error {
	r, ok := reading.RangeOf(kind)
	if !ok || p.ctx.Twice {
		return nil
	}
	c, err := reading.Convert(v, u, r.Unit)
	if err != nil {
		return refuseReading(p.step, err)
	}
	if reading.Plausible(kind, c) {
		return nil
	}
	text := reading.Format(v, -1)
	if v > 0 && u.Family() == reading.FamilyPressure {
		text = "+" + text
	}
	if string(u) != p.step.Unit && u != reading.UnitPa {
		text += " " + string(u)
	}
	if len(again) > 24 || len(p.fields) > 1 {
		again = Words("the-line", nil)
	}
	code, suggest, what := "implausible/plain", "", "what/"+string(kind)
	if _, known := english()[what]; !known {
		what = "what/"
	}
	if _, ok := reading.LostPoint(kind, c); ok {
		code, suggest = "implausible", reading.Format(v/10, -1)
		if v > 0 && u.Family() == reading.FamilyPressure {
			suggest = "+" + suggest
		}
	}
	return refuse(code, "text", text, "what", Words(what, nil), "suggest", suggest, "again", again)
}

func (p parser) confirm() ([]Entry, error) {
	switch p.text {
	case "1":
		var out []Entry
		for _, c := range p.step.Offer {
			a := c.Answer
			out = append(out, Entry{c.Step, &a})
		}
		if len(out) == 0 {
			out = append(out, Entry{p.step.ID, &procedure.Answer{Choice: "as-before"}})
		}
		return out, nil
	case "2":
		return []Entry{{p.step.ID, &procedure.Answer{Choice: "changed"}}}, nil
	}
	return nil, p.notAnAnswer(p.text)
}

func (p parser) burner() (procedure.Data, error) {
	b := &procedure.Burner{}
	if p.fields[0] != "?" {
		i, err := p.index(p.fields[0], len(procedure.Fuels))
		if err != nil {
			return nil, err
		}
		b.Fuel = procedure.Fuels[i-1]
	}
	rest := strings.Join(p.fields[1:], " ")
	if rest == "" && b.Fuel == procedure.Electricity || rest == "?" {
		return &procedure.Answer{Burner: b}, nil
	}
	if rest == "" {
		return nil, refuse("burner-input", "text", echo(p.fields[0]))
	}
	v, u, err := reading.ParseQuantity(rest, reading.UnitBtuH)
	if err != nil {
		return nil, refuseReading(p.step, err)
	}
	if v == 0 {
		return nil, refuse("burner-zero")
	}
	if err := p.plausible(reading.KindInput, v, u, rest); err != nil {
		return nil, err
	}
	b.Input, b.Unit = v, string(u)
	return &procedure.Answer{Burner: b}, nil
}

// weather: a temperature without a unit beside a metric wind is refused,
// because 2 C taken for 2 F moves every draft line.
func (p parser) weather() (procedure.Data, error) {
	cut := 0
	for i := 1; i < len(p.fields) && cut == 0; i++ {
		if strings.ContainsAny(p.fields[i][:1], "+-.0123456789") || strings.HasPrefix(p.fields[i], "\u2212") {
			cut = i
		}
	}
	if cut == 0 {
		return nil, refuse("weather-two")
	}
	first, second := strings.Join(p.fields[:cut], " "), strings.Join(p.fields[cut:], " ")
	wind, wu, err := reading.ParseQuantity(first, reading.UnitMPH)
	if err != nil {
		return nil, refuseReading(p.step, err)
	}
	temp, tu, err := reading.ParseQuantity(second, reading.UnitF)
	if err != nil {
		return nil, refuseReading(p.step, err)
	}
	if wu != reading.UnitMPH && strings.Trim(second, "+-\u2212.0123456789") == "" {
		return nil, refuse("weather-unit", "text", echo(second))
	}
	if err := p.plausible(reading.KindWind, wind, wu, first); err != nil {
		return nil, err
	}
	if err := p.plausible(reading.KindOutdoorTemperature, temp, tu, second); err != nil {
		return nil, err
	}
	return &procedure.Answer{Weather: &procedure.Weather{Wind: wind, WindUnit: string(wu), Temp: temp, TempUnit: string(tu)}}, nil
}

// entry reads signed pressures and refuses once what is far outside.
func (p parser) entry() (reading.Entry, error) {
	def := reading.Unit(p.step.Unit)
	if def == "" {
		def = reading.UnitPa
	}
	e, err := reading.ParsePressure(p.text, def)
	if err != nil {
		return e, refuseReading(p.step, err)
	}
	for _, v := range e.Values {
		if err := p.plausible(plausibleKind(p.step), v, e.Unit, p.text); err != nil {
			return e, err
		}
	}
	return e, nil
}

func (p parser) pressure() (procedure.Data, error) {
	e, err := p.entry()
	if err != nil {
		return nil, err
	}
	n, need := len(e.Values), p.intArg("min_samples")
	switch {
	case n == 1 && e.AveragingS == 0 && need > 1:
		return nil, refuse("no-seconds", "max", itoa(need))
	case n > 1 && n < need:
		return nil, refuse("few-values", "n", itoa(n), "max", itoa(need))
	case e.AveragingS > 0 && e.AveragingS < float64(p.intArg("min_averaging_s")):
		return nil, refuse("few-seconds", "text", reading.Format(e.AveragingS, -1), "max", p.step.Args["min_averaging_s"])
	}
	pr := &procedure.Pressure{Unit: string(e.Unit), AveragingS: e.AveragingS, Instrument: p.step.Args["instrument"], Setup: p.ctx.SetupN}
	if n == 1 {
		pr.Value = &e.Values[0]
	} else {
		pr.Samples = e.Values
	}
	return &procedure.Answer{Pressure: pr}, nil
}

func (p parser) intArg(name string) int {
	v, err := strconv.ParseFloat(p.step.Args[name], 64)
	if err != nil {
		return 0
	}
	return int(v)
}

func (p parser) pairs() (procedure.Data, error) {
	e, err := p.entry()
	if err != nil {
		return nil, err
	}
	n := len(e.Values)
	switch {
	case e.AveragingS > 0:
		return nil, refuse("pairs-seconds")
	case n%2 != 0:
		return nil, refuse("pairs-odd", "n", itoa(n))
	case n < 2*minPairs:
		return nil, refuse("pairs-few", "n", itoa(n/2))
	}
	pairs := &procedure.Pairs{Unit: string(e.Unit), Setup: p.ctx.SetupN}
	for i := 0; i < n; i += 2 {
		pairs.Off, pairs.On = append(pairs.Off, e.Values[i]), append(pairs.On, e.Values[i+1])
	}
	return &procedure.Answer{Pairs: pairs}, nil
}

// gas: CO and O2 in pairs. CO above the analyser's range is a flag, not a
// figure: it counts as beyond every band whatever its O2, which is checked and
// not kept, because each O2 that is kept stands beside a CO.
func (p parser) gas() (procedure.Data, error) {
	g := &procedure.Gas{CO: []float64{}}
	fields := p.fields
	if last := len(fields) - 1; strings.EqualFold(fields[last], "r") {
		g.Rising, fields = true, fields[:last]
	}
	words := fields[:0:0]
	for _, f := range fields { // "12 ppm 6.5 %" is taken too
		switch percent := f == "%"; {
		case !percent && !strings.EqualFold(f, "ppm"):
			words = append(words, f)
		case percent == (len(words)%2 == 1):
			// Percent behind a CO, or ppm behind an O2: 0.05 % of CO is 500 ppm
			// and must not be taken for 0.05.
			return nil, p.notAnAnswer(p.text)
		}
	}
	if len(words) == 0 {
		return nil, p.notAnAnswer(p.text)
	}
	for i := 0; i < len(words); i += 2 {
		ranged := strings.EqualFold(words[i], "over")
		co := 0.0
		if !ranged {
			var u reading.Unit
			var err error
			if co, u, err = reading.ParseQuantity(words[i], reading.UnitPPM); err != nil {
				return nil, refuseReading(p.step, err)
			}
			if u != reading.UnitPPM {
				return nil, p.notAnAnswer(p.text)
			}
			if err := p.plausible(reading.KindFlueCO, co, u, words[i]); err != nil {
				return nil, err
			}
		}
		if i+1 == len(words) && !ranged && len(words) > 1 {
			return nil, refuse("gas-pairs")
		}
		var o2 *float64
		if i+1 < len(words) && words[i+1] != "?" {
			v, _, err := reading.ParseQuantity(words[i+1], reading.UnitPercent)
			if err != nil {
				return nil, refuseReading(p.step, err)
			}
			if !reading.Plausible(reading.KindO2, v) {
				return nil, refuse("gas-o2", "text", reading.Format(v, -1))
			}
			o2 = &v
		}
		switch {
		case ranged:
			g.OverRange = true
		case len(words) == 1:
			g.CO = append(g.CO, co)
		default:
			g.CO, g.O2 = append(g.CO, co), append(g.O2, o2)
		}
	}
	return &procedure.Answer{Gas: g}, nil
}

// ambient never asks twice: what CO in room air demands must not wait.
func (p parser) ambient() (procedure.Data, error) {
	if p.is("over") {
		return &procedure.Answer{Gas: &procedure.Gas{CO: []float64{}, OverRange: true}}, nil
	}
	unit := reading.UnitPPM
	if reading.Unit(p.step.Unit).Family() == reading.FamilyPercent { // a gas detector's percent of LEL
		unit = reading.UnitPercent
	}
	v, _, err := reading.ParseQuantity(p.text, unit)
	if err != nil {
		return nil, refuseReading(p.step, err)
	}
	return &procedure.Answer{Gas: &procedure.Gas{CO: []float64{v}}}, nil
}

// clock: a bare number is refused, because CO in ppm typed without its /c
// would be taken for seconds.
func (p parser) clock() (procedure.Data, error) {
	s := &procedure.Spill{Outcome: procedure.SpillStopped, Timed: p.ctx.Timed}
	if p.is("none") {
		s.Outcome = procedure.SpillNone
		return &procedure.Answer{Spill: s}, nil
	}
	text := p.text
	if strings.EqualFold(p.fields[0], "still") {
		s.Outcome = procedure.SpillStill
		if text = strings.Join(p.fields[1:], " "); text == "" {
			return nil, refuse("clock-still")
		}
	}
	v, err := reading.ParseSeconds(text)
	if err != nil {
		return nil, refuseReading(p.step, err)
	}
	if strings.Trim(text, ".0123456789") == "" {
		return nil, refuse("clock-unit", "text", echo(text))
	}
	if err := p.plausible(reading.KindSpillageTime, float64(v), reading.UnitS, text); err != nil {
		return nil, err
	}
	if s.Seconds = float64(v); v == 0 && s.Outcome == procedure.SpillStopped {
		s.Outcome = procedure.SpillNone
	}
	return &procedure.Answer{Spill: s}, nil
}

func (p parser) instrument() (procedure.Data, error) {
	in := &procedure.Instrument{ID: p.step.Args["instrument"]}
	if in.ID == "" {
		in.ID = p.step.Subject
	}
	if in.ID == "" {
		in.ID = p.step.ID[strings.LastIndexAny(p.step.ID, "/.")+1:]
	}
	parts := strings.Split(p.text, ";")
	if len(parts) > 6 {
		return nil, refuse("instrument-parts")
	}
	if utf8.RuneCountInString(p.text) > maxText {
		return nil, refuse("too-long", "max", itoa(maxText))
	}
	for i, part := range parts {
		part = strings.TrimSpace(part)
		if part == "" && i > 0 {
			continue
		}
		switch i {
		case 0:
			if in.Name = part; part == "" {
				return nil, refuse("empty", "hint", hint(p.step))
			}
		case 1:
			in.Serial = part
		case 2:
			if _, err := time.Parse("2006-01-02", part); err != nil {
				return nil, refuse("instrument-date", "text", echo(part))
			}
			in.Calibrated = part
		case 3:
			v, err := reading.ParseNumber(part)
			if err != nil || v <= 0 || v > 10 {
				return nil, refuse("instrument-res", "text", echo(part))
			}
			in.Resolution = v
		default:
			num, pct := strings.CutSuffix(part, "%")
			v, err := reading.ParseNumber(num)
			if err != nil || v <= 0 || v > 100 {
				return nil, refuse("instrument-acc", "text", echo(part))
			}
			if pct {
				in.AccuracyPct = v
			} else {
				in.AccuracyPa = v
			}
		}
	}
	return &procedure.Answer{Instrument: in}, nil
}

func (p parser) told() (procedure.Data, error) {
	who, how, _ := strings.Cut(p.text, ";")
	who, how = strings.TrimSpace(who), strings.TrimSpace(how)
	if who == "" || how == "" {
		return nil, refuse("told-both")
	}
	if utf8.RuneCountInString(p.text) > maxText {
		return nil, refuse("too-long", "max", itoa(maxText))
	}
	return &procedure.Told{Whom: who, What: p.step.Args["what"], How: how}, nil
}

func (p parser) doubt() (procedure.Data, error) {
	d := &procedure.Doubt{Code: procedure.DoubtCode(p.step.Args["doubt"]), About: append([]int{}, p.step.About...)}
	switch {
	case p.is("r"):
		d.Settled = "retake"
	case p.is("k"):
		d.Settled = "left"
	case strings.EqualFold(p.fields[0], "ok"):
		d.Settled, d.How = "stands", strings.TrimSpace(p.text[2:])
		if d.How == "" {
			return nil, refuse("doubt-how")
		}
		if utf8.RuneCountInString(d.How) > maxText {
			return nil, refuse("too-long", "max", itoa(maxText))
		}
	default:
		return nil, p.notAnAnswer(p.text)
	}
	return d, nil
}

func (p parser) choice() (procedure.Data, error) {
	i, err := p.index(p.text, len(p.step.Choices))
	if err != nil {
		return nil, err
	}
	return &procedure.Answer{Choice: p.step.Choices[i-1]}, nil
}

func (p parser) free() (procedure.Data, error) {
	if utf8.RuneCountInString(p.text) > maxText {
		return nil, refuse("too-long", "max", itoa(maxText))
	}
	switch p.step.Event {
	case procedure.KindNote:
		return &procedure.Note{Text: p.text}, nil
	case procedure.KindHandover:
		return &procedure.Handover{Who: p.text, Resumed: p.step.Args["resumed"] == "yes"}, nil
	}
	return &procedure.Answer{Text: p.text}, nil
}
