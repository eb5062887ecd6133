package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/reading/logfile"
)

const logHelp = `A log of a logging gauge, any maker's text with delimiters:
  convert --log FILE [--time COL] [--pressure COL] [--unit Pa] [--clock FORMAT]
          [--from TIME] [--to TIME] [--json]
shows what it was read as and what is wrong with it, draws it, and gives mean,
scatter and standard error of the window. COL is a name or a number from 1;
date and clock in two columns: --time Date+Clock. FORMAT has letters Y M D h m
s p (AM, PM) and what stands between them: "D.M.Y h:m:s". TIME: 10:05, or with
its date. FILE - is standard input.`

type logFlags struct {
	file, time, pressure, unit, clock, from, to string
	asJSON                                      bool
}

func convertLog(e *env, args []string) error {
	var o logFlags
	f := pflag.NewFlagSet("convert --log", pflag.ContinueOnError)
	f.SetOutput(io.Discard)
	f.StringVar(&o.file, "log", "", "")
	f.StringVar(&o.time, "time", "", "")
	f.StringVar(&o.pressure, "pressure", "", "")
	f.StringVar(&o.unit, "unit", "", "")
	f.StringVar(&o.clock, "clock", "", "")
	f.StringVar(&o.from, "from", "", "")
	f.StringVar(&o.to, "to", "", "")
	f.BoolVar(&o.asJSON, "json", false, "")
	if err := f.Parse(args); err != nil {
		return usage(saying("see: %s --help", "cazward convert"), "%v", err)
	}
	if f.NArg() > 0 || o.file == "" {
		return usage("for example: cazward convert --log gauge.csv --from 10:05 --to 10:07", "convert --log takes one file and no other words")
	}
	var in io.Reader = e.in
	if o.file != "-" {
		file, err := os.Open(o.file)
		if err != nil {
			return refused("give the path of a text log", "%v", err)
		}
		defer file.Close()
		in = file
	}
	g, r, err := readLog(in, o)
	if err != nil {
		return refusedLog(o.file, "--", saying("see: %s --help", "cazward convert"), g, err)
	}
	if o.asJSON {
		return writeJSON(e.out, logObject(g, r))
	}
	writeLog(e.out, o.file, g, r)
	return nil
}

var errAskUnit = errors.New("the log does not name the unit of its pressures")

// sniffLog guesses from the head of a log, and takes what was named instead.
func sniffLog(head []byte, o logFlags) (g logfile.Guess, err error) {
	h := logfile.Hint{Time: o.time, Pressure: o.pressure, Layout: logfile.Layout(o.clock)}
	if o.unit != "" {
		if h.Unit, err = reading.ParseUnit(o.unit); err != nil {
			return g, err
		}
	}
	if g, err = logfile.Sniff(head, h); err == nil && g.Unit == "" {
		err = errAskUnit
	}
	return g, err
}

// readLog reads once what [sniffLog] makes of the head.
func readLog(in io.Reader, o logFlags) (logfile.Guess, logfile.Result, error) {
	head, in, err := logfile.Head(in)
	if err != nil {
		return logfile.Guess{}, logfile.Result{}, err
	}
	g, err := sniffLog(head, o)
	if err != nil {
		return g, logfile.Result{}, err
	}
	var opt logfile.Options
	for _, x := range []struct {
		flag, text string
		near       time.Time
		to         *time.Time
	}{{"from", o.from, g.First, &opt.Window.From}, {"to", o.to, g.First, &opt.Window.To}} {
		if x.text == "" {
			continue
		}
		if x.flag == "to" && !opt.Window.From.IsZero() {
			x.near = opt.Window.From
		}
		t, ok := g.ParseTime(x.text, x.near)
		if !ok {
			return g, logfile.Result{}, fmt.Errorf("--%s: %q is no time: write 10:05, 10:05:30 or 2026-03-01 10:05", x.flag, x.text)
		}
		*x.to = t
	}
	r, err := logfile.Read(in, g.Format, opt)
	return g, r, err
}

// refusedLog says what to do about a log: flag is how the flags begin that
// name what is in it, hint what else there is to do.
func refusedLog(path, flag string, hint phrase, g logfile.Guess, err error) error {
	var typed *reading.EntryError
	switch {
	case errors.As(err, &typed):
		hint = saying("units: %s", unitList)
	case errors.Is(err, errAskUnit):
		hint = saying("name it, for example %sunit Pa; the pressure is taken to be %s", flag, g.Columns[g.Pressure])
	case errors.Is(err, logfile.ErrColumn):
		hint = saying("name a column as in the heading, or by its number from 1")
	case errors.Is(err, logfile.ErrTable), errors.Is(err, logfile.ErrNoRows):
		hint = saying("name %stime, %spressure and %sclock; the log needs one sample a line", flag, flag, flag)
	}
	return refused(hint, "%s: %v", path, err)
}

// logEvent is the window as the record keeps it.
func logEvent(r logfile.Result) *procedure.Log {
	s := r.Stats
	return &procedure.Log{SHA256: r.SHA256, Columns: r.Names(), Unit: string(r.Format.Unit), From: s.From, To: s.To, Count: s.N,
		Mean: s.Mean, S: s.S, Autocorrelation: s.Autocorrelation, StandardError: s.SE}
}

type logJSON struct {
	Log      *procedure.Log     `json:"log"`
	MeanPa   float64            `json:"mean_pa"`
	SEPa     float64            `json:"standard_error_pa"`
	EffN     float64            `json:"effective_n"`
	Change   float64            `json:"change"`
	ChangeSE float64            `json:"change_standard_error"`
	Outliers int                `json:"outliers"`
	Quality  []logfile.Quality  `json:"quality"`
	Confirm  []logfile.Question `json:"confirm"`
	Rows     int                `json:"rows"`
	Bad      int                `json:"bad_lines"`
	Dup      int                `json:"duplicates"`
	Same     int                `json:"same_time"`
	Disorder int                `json:"disorder"`
	Gaps     int                `json:"gaps"`
	Longest  float64            `json:"longest_gap_s"`
}

func logObject(g logfile.Guess, r logfile.Result) logJSON {
	o := logJSON{MeanPa: float64(r.MeanPa), SEPa: float64(r.SEPa), EffN: r.Stats.EffectiveN, Change: r.Stats.Change, ChangeSE: r.Stats.ChangeSE, Outliers: r.Stats.Outliers,
		Quality: append([]logfile.Quality{}, r.Quality...), Confirm: append([]logfile.Question{}, g.Ask...), Rows: r.Rows,
		Bad: r.Faults.Bad, Dup: r.Faults.Duplicates, Same: r.Faults.SameTime, Disorder: r.Faults.Disorder, Gaps: r.Faults.Gaps, Longest: r.Faults.LongestGap.Seconds()}
	if r.Stats.N > 0 {
		o.Log = logEvent(r)
	}
	return o
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// samples is how many, in words.
func samples(n int) phrase {
	if n == 1 {
		return saying("1 sample")
	}
	return saying("%d samples", n)
}

// digits are the decimals in which a unit's readings are worth printing: a
// hundredth of a pascal.
func digits(u reading.Unit) int {
	pa, err := reading.Convert(1, u, reading.UnitPa)
	if err != nil {
		return 2
	}
	return 2 + max(0, int(math.Ceil(math.Log10(pa))))
}

func writeLog(w io.Writer, path string, g logfile.Guess, r logfile.Result) {
	f, names, u := r.Format, r.Names(), r.Format.Unit
	mark, delim := "point", fmt.Sprintf("%q", string(f.Delimiter))
	if f.DecimalComma {
		mark = "comma"
	}
	switch f.Delimiter {
	case '\t':
		delim = "tabs"
	case ' ':
		delim = "blanks"
	}
	stamp := "2006-01-02 15:04:05"
	if !f.Layout.Dated() {
		stamp = "15:04:05"
	}
	fmt.Fprintf(w, "LOG   %s\n\n", path)
	fmt.Fprintf(w, " read as    columns between %s, decimal %s, %d lines of heading, %d samples\n", delim, mark, f.Skip, r.Rows)
	every := ""
	if r.Step > 0 {
		every = ", every " + r.Step.String()
	}
	fmt.Fprintf(w, " time       %s, as %s\n", strings.Join(names[:len(names)-1], " + "), f.Layout)
	fmt.Fprintf(w, "            %s to %s%s\n", r.From.Format(stamp), r.To.Format(stamp), every)
	fmt.Fprintf(w, " pressure   %s, in %s\n", names[len(names)-1], u)
	for _, q := range g.Ask {
		fmt.Fprintf(w, " CONFIRM    %s\n", askText(q, g))
	}
	x := r.Faults
	say := func(n int, format string, a ...any) {
		if n > 0 {
			for i, l := range wrap(fmt.Sprintf(format, a...), columns-12) {
				lead := " LOOK AT    "
				if i > 0 {
					lead = "            "
				}
				fmt.Fprintln(w, lead+l)
			}
		}
	}
	if x.Bad > 0 {
		say(x.Bad, "%s cannot be read; line %d: %s", count(x.Bad, "line"), x.BadLines[0].Line, x.BadLines[0].Text)
	}
	say(x.Duplicates, "%s like the one before, time and value: left out", count(x.Duplicates, "line"))
	say(x.SameTime, "%s with the time of the one before, another value: kept", count(x.SameTime, "line"))
	say(x.Disorder, "time goes back %s", count(x.Disorder, "time"))
	say(x.Gaps, "%s, the longest %s at %s", count(x.Gaps, "gap"), x.LongestGap, x.GapAt.Format(stamp))
	whole := r.Window.From.IsZero() && r.Window.To.IsZero()
	fmt.Fprintln(w)
	for _, l := range r.All.Draw(columns, 12, r.Window) {
		fmt.Fprintln(w, l)
	}
	if !whole {
		fmt.Fprintln(w, "         = the window")
	}
	fmt.Fprintln(w)
	s := r.Stats
	if s.N == 0 {
		fmt.Fprintf(w, "WINDOW   nothing in it; the log runs from %s to %s\n", r.From.Format(stamp), r.To.Format(stamp))
		return
	}
	if !whole {
		for _, l := range r.In.Draw(columns, 10, logfile.Window{}) {
			fmt.Fprintln(w, l)
		}
		fmt.Fprintln(w)
	}
	d := digits(u)
	n := func(v float64) string { return reading.Format(v, d) }
	fmt.Fprintf(w, "WINDOW   %s to %s, %s s, %d samples\n\n", s.From.Format(stamp), s.To.Format("15:04:05"), reading.Format(float64(s.Seconds()), 0), s.N)
	fmt.Fprintf(w, " mean       %s %s, standard error %s", n(s.Mean), u, n(s.SE))
	if u != reading.UnitPa {
		fmt.Fprintf(w, "   (%s Pa, %s)", reading.Format(float64(r.MeanPa), 2), reading.Format(float64(r.SEPa), 2))
	}
	fmt.Fprintf(w, "\n scatter    s %s; autocorrelation %s: worth %s independent samples\n", n(s.S), reading.Format(s.Autocorrelation, 2), reading.Format(math.Floor(s.EffectiveN), 0))
	fmt.Fprintf(w, " trend      %s from end to end, standard error %s\n", n(s.Change), n(s.ChangeSE))
	fmt.Fprintf(w, " lowest     %s at %s, line %d; highest %s at %s, line %d\n", n(s.Lowest.Value), s.Lowest.At.Format("15:04:05"), s.Lowest.Line, n(s.Highest.Value), s.Highest.At.Format("15:04:05"), s.Highest.Line)
	if s.Outliers > 0 {
		fmt.Fprintf(w, " outliers   %d, far from the median of %s (o in the drawing)\n", s.Outliers, n(s.Median))
	}
	for i, q := range r.Quality {
		if i == 0 {
			fmt.Fprintf(w, "\n LOOK AGAIN before this window is used:\n")
		}
		for k, l := range wrap(qualityText(q).String(), columns-3) {
			lead := " - "
			if k > 0 {
				lead = "   "
			}
			fmt.Fprintln(w, lead+l)
		}
	}
}

func askText(q logfile.Question, g logfile.Guess) phrase {
	switch q {
	case logfile.AskPressure:
		var which phrase
		for i, c := range g.Candidates {
			if i == 0 {
				which = saying("%s", g.Columns[c])
				continue
			}
			which = saying("%s or %s", which, g.Columns[c])
		}
		return saying("which column is the pressure? --pressure %s", which)
	case logfile.AskDayMonth:
		return saying("day and month could be the other way round: --clock")
	case logfile.AskDate:
		return saying("the times have no date")
	case logfile.AskTime:
		return saying("is this column the time? --time")
	case logfile.AskUnit:
		return saying("the heading names no unit: --unit")
	}
	return saying("%s", string(q))
}

func qualityText(q logfile.Quality) phrase {
	switch q {
	case logfile.TooShort:
		return saying("Too short: 30 s is the least. Take a longer window.")
	case logfile.TooFew:
		return saying("Too few independent samples, so the standard error is a guess. Take a longer window.")
	case logfile.Drifting:
		return saying("Still drifting: the pressure changes from end to end by more than the scatter explains. Wait until it settles, then begin the window.")
	case logfile.HasGap:
		return saying("A gap inside: part of the time was not logged.")
	case logfile.Disorder:
		return saying("Times go back inside: the clock was set, or two logs were joined.")
	case logfile.HasBad:
		return saying("More than one line in a hundred of the log cannot be read. Is the format right?")
	case logfile.Frozen:
		return saying("The reading never moves: a pinched or blocked hose, or a gauge on hold.")
	case logfile.Spiked:
		return saying("Outliers: a door, a gust, a bumped hose? Look at the drawing, and pick a calmer window.")
	case logfile.NoSamples:
		return saying("No sample inside the window.")
	}
	return saying("%s", string(q))
}
