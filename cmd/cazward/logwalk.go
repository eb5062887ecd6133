package main

import (
	"os"
	"strings"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/reading/logfile"
	"cazward/procedure/wording"
)

// atStart refuses a log of which no window could be taken: found out at worst
// case, the house would have to be held there meanwhile.
func (o logFlags) atStart() error {
	if o.file == "" {
		return nil
	}
	hint := saying("give the path of a text log; one that is yet to come is named at the pressure: log FILE 10:05 10:07")
	info, err := os.Stat(o.file)
	switch {
	case err != nil:
		return refused(hint, "--log %s: %s", o.file, foreign(cause(err)))
	case !info.Mode().IsRegular(): // it is read again for each window
		return refused(hint, "--log %s: is not a plain file", o.file)
	}
	file, err := os.Open(o.file)
	if err != nil {
		return refused(hint, "--log %s: %s", o.file, foreign(cause(err)))
	}
	defer file.Close()
	head, _, err := logfile.Head(file)
	if err != nil {
		return refused(hint, "--log %s: %s", o.file, foreign(cause(err)))
	}
	if g, err := sniffLog(head, o); err != nil {
		return refusedLog("--log "+o.file, "--log-", hint, g, err)
	}
	return nil
}

// logLine reports whether what was typed at a pressure asks for a window of a
// gauge's log: "log 10:05 10:07", or "log FILE 10:05 10:07".
func logLine(step procedure.Step, text string) bool {
	word, _, _ := strings.Cut(strings.TrimSpace(text), " ")
	return step.Form == procedure.FormPressure && strings.EqualFold(word, "log")
}

// logWindow shows a window of the log, what it was read as and what is wrong
// with it, and keeps its mean as the reading once the tester took it.
func (s *session) logWindow(step procedure.Step, text string) error {
	no := func(why phrase) error {
		s.msg, s.text = words("not-kept", "text", why.in(s.lang)), text
		return nil
	}
	o := s.log
	typed := strings.Fields(text)[1:]
	if len(typed) > 2 {
		o.file, typed = strings.Join(typed[:len(typed)-2], " "), typed[len(typed)-2:]
	}
	if o.file == "" || len(typed) != 2 {
		return no(saying("a window of a log: log 10:05 10:07, of the file named by --log; or log FILE 10:05 10:07."))
	}
	o.from, o.to = typed[0], typed[1]
	file, err := os.Open(o.file)
	if err != nil {
		return no(saying("%v.", err))
	}
	defer file.Close()
	g, r, err := readLog(file, o)
	switch {
	case err != nil:
		return no(saying("%s: %v.", o.file, err))
	case r.Stats.N < 2 || !(r.Stats.SE > 0):
		return no(saying("the window holds %s: choose another.", samples(r.Stats.N)))
	case !reading.Plausible(reading.Kind(step.Args["kind"]), float64(r.MeanPa)):
		return no(saying("the mean of %s Pa is far outside what is read here: another column or unit?", reading.Format(float64(r.MeanPa), 1)))
	}
	q := s.own("log.take", procedure.FormChoice, step)
	q.Choices = []string{"take", "not-this"}
	s.msg, s.text = "", ""
	v := s.view(q)
	line := func(says phrase) {
		v.Lines = append(v.Lines, forms.Line{Role: "text", Text: says.in(s.lang)})
	}
	names := r.Names()
	line(saying("%s: %s of column %q, times of %q", o.file, r.Format.Unit, names[len(names)-1], strings.Join(names[:len(names)-1], " + ")))
	for _, x := range g.Ask {
		line(saying("CONFIRM  %s", askText(x, g)))
	}
	seconds := r.Stats.To.Sub(r.Stats.From).Seconds()
	line(saying("Mean %s Pa over %s s, standard error %s, %s worth %s.", reading.Format(float64(r.MeanPa), 2), reading.Format(seconds, 0), reading.Format(float64(r.SEPa), 2), samples(r.Stats.N), reading.Format(r.Stats.EffectiveN, 0)))
	for _, x := range r.Quality {
		line(saying("LOOK AGAIN  %s", qualityText(x)))
	}
	for _, l := range r.In.Draw(57, 6, r.Window) {
		v.Lines = append(v.Lines, forms.Line{Role: "drawn", Text: l})
	}
	for {
		reply, err := s.p.Ask(v)
		if err != nil {
			return err
		}
		if reply.Control != 0 {
			return nil // back to the step, nothing kept
		}
		en, err := forms.Parse(q, reply.Text, forms.ParseContext{})
		if msg, refused := s.refusal(err, ""); refused {
			v.Message, v.Text = msg, reply.Text
			continue
		}
		if err != nil {
			return err
		}
		if en[0].Data.(*procedure.Answer).Choice == "not-this" {
			return nil
		}
		break
	}
	window := logEvent(r)
	mean := window.Mean
	answer := &procedure.Answer{Pressure: &procedure.Pressure{Value: &mean, Unit: window.Unit, AveragingS: seconds, Instrument: step.Args["instrument"], Setup: step.SetupN, Log: s.st.Last() + 1}}
	evs := []procedure.Event{s.event(procedure.KindLog, step.ID, window), s.event(procedure.KindAnswer, step.ID, answer)}
	if s.src == procedure.FromWalk {
		evs[0].Src, evs[1].Src = procedure.FromLog, procedure.FromLog
	}
	if err := s.commit(evs...); err != nil {
		if msg, refused := s.refusal(err, ""); refused {
			s.msg, s.text = msg, text
			return nil
		}
		return err
	}
	s.msg, s.text = "", ""
	s.kept(step, evs[1])
	return nil
}

// hint of a log at a pressure step.
func (s *session) logHint(words *wording.Screen) {
	if s.log.file != "" && len(words.How) > 1 {
		was := words.How[1]
		words.How[1] = wording.LogHint(s.lang)
		words.Plain = strings.Replace(words.Plain, was, words.How[1], 1)
	}
}
