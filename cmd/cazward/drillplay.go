package main

import (
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/airflow"
	"cazward/procedure/journal/disk"
	"cazward/procedure/practice"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// maxWait is the longest time that one command lets pass: less than the stop
// after which the walk asks for the baseline again.
const maxWait = 30 * time.Minute

func drillPlayCmd(e *env) *cobra.Command {
	var o walkOptions
	var record, gauge string
	var seed int64
	var speed float64
	var coach, exam bool
	c := &cobra.Command{Use: "play HOUSE", Short: "the walk, in a practice house that answers back",
		Long: `play is the same walk as in a real home, marked PRACTICE. HOUSE is the name of
a house that comes with the program (cazward drill list), or the path of a
house file. You list the house, set it, and decide; it shows what instruments
show, and remembers how it truly stands. An equals sign types what an
instrument shows; all else is yours to say.

Between answers you act on the house:
  set dryer off             turn one thing; several after commas
  set rest                  all fans off, doors open, windows shut, burners off
  set back                  all as it was when you came
  set                       say how the house stands
  wait 5 min                let time pass, 30 min at most at once
A set-up screen answered ok sets what it lists. What is on none of your lists
stays as it is.

--coach explains after each answer what was true of it. --exam gives no help
and no look back: no why, no earlier answers, and readings are typed by hand.
A record stays what it was begun as.

With -o an existing practice record is gone on with. Afterwards:
cazward drill debrief RECORD`, Args: cobra.ExactArgs(1), ValidArgs: practice.HouseNames(),
		RunE: func(c *cobra.Command, args []string) error {
			if !(speed >= 1 && speed <= 60) {
				return usage("give 1 to 60", "the practice clock cannot run %g times as fast as the wall's", speed)
			}
			g, ok := practice.GaugeNamed(gauge)
			if !ok {
				var names []string
				for _, x := range practice.Gauges {
					names = append(names, x.Name)
				}
				return usage(saying("one of %s", strings.Join(names, ", ")), "there is no gauge %q", gauge)
			}
			h, err := openHouse(args[0], e.in)
			if err != nil {
				return err
			}
			if err := standsIn(h, o); err != nil {
				return err
			}
			d := &playedHouse{house: h, arg: args[0], seed: seed, seeded: c.Flags().Changed("seed"), gauge: g}
			switch {
			case coach && exam:
				return usage("give one of them", "an exam has no coach")
			case coach:
				d.mode = practice.Coach
			case exam:
				d.mode = practice.Exam
			}
			pe, err := d.env(e, record, speed)
			if err != nil {
				return err
			}
			o.drill = d
			return walk(pe, record, o)
		}}
	f := c.Flags()
	f.StringVarP(&record, "output", "o", "", "the practice record; without it a name is made")
	f.Int64Var(&seed, "seed", 0, "of wind and gauge noise; without it another each time")
	f.Float64Var(&speed, "speed", 1, "how many times as fast as the wall the practice clock runs")
	f.StringVar(&gauge, "gauge", practice.Gauges[0].Name, "usual, fine or coarse")
	f.BoolVar(&coach, "coach", false, "explain after each answer what was true")
	f.BoolVar(&exam, "exam", false, "no help, no look back")
	f.BoolVar(&o.plain, "plain", false, "one fact a line, no redraw; also for pipes and screen readers")
	f.StringVar(&o.phase, "phase", "test-in", "test-in, daily or test-out")
	f.StringVar(&o.after, "after", "", "practice record of the earlier phase, whose inventory is carried over")
	f.StringVar(&o.scheme, "scheme", "graded-2005", "limit scheme; see: cazward limits list")
	f.StringArrayVar(&o.limits, "limits", nil, "overlay file on the scheme")
	f.StringVar(&o.tester, "tester", "trainee", "initials of the trainee")
	f.StringVar(&o.lang, "lang", "en", "en or es; screens are ASCII, so Spanish stands there without its accents")
	return c
}

// standsIn refuses a table that asks another flow of the fan that stands in for
// a lit fireplace than the house's fan has.
func standsIn(h *practice.House, o walkOptions) error {
	if h.StandIn() == 0 {
		return nil
	}
	set, err := loadLimits(o.scheme, o.limits)
	if err != nil {
		return err
	}
	const has = practice.StandInFlow / airflow.CFM
	if f := set.Plan(procedure.TestIn).Fireplace; f != nil && math.Abs(f.CFM/has-1) > 0.01 {
		return refused("play it under the scheme as shipped", "the table asks a fan of %s cfm to stand in for a fireplace; that of a practice house moves %s", reading.Format(f.CFM, 0), reading.Format(has, 0))
	}
	return nil
}

// playedHouse is a practice house beside a sitting: what instruments show comes from
// it, and what the trainee does to it goes into the record as house events,
// which nothing but the debrief reads.
type playedHouse struct {
	house  *practice.House
	arg    string // as the house was named
	seed   int64
	seeded bool
	gauge  practice.Gauge
	mode   practice.Mode
	clock  *practiceClock
	play   *practice.Play
}

// practiceClock runs from the wall's, faster, and can be moved on.
type practiceClock struct {
	wall    *env
	start   time.Time
	mono    int64
	base    time.Time
	speed   float64
	skipped time.Duration
}

func (c *practiceClock) now() time.Time {
	passed := time.Duration(float64(c.wall.now().Sub(c.start)) * c.speed)
	return c.base.Add(passed + c.skipped).Truncate(time.Millisecond)
}

func (c *practiceClock) since() int64 {
	return int64(float64(c.wall.mono()-c.mono)*c.speed) + c.skipped.Milliseconds()
}

// env is e with the practice clock, which for a record that exists never shows
// less than that did.
func (d *playedHouse) env(e *env, record string, speed float64) (*env, error) {
	start := e.now()
	d.clock = &practiceClock{wall: e, start: start, mono: e.mono(), base: start, speed: speed}
	if record != "" {
		if _, err := os.Stat(record); err == nil {
			rec, err := disk.Load(record)
			if err != nil {
				return nil, err
			}
			p := rec.Header.Practice
			switch {
			case p == nil:
				return nil, refused(saying("go on with it: cazward walk %s", shellName(record)), "%s is the record of a real home", record)
			case p.House != d.house.Name || p.SHA256 != d.house.SHA256:
				return nil, refused("name the house that it was begun in", "%s was begun in the house %q, edition %.12s, which this is not", record, p.House, p.SHA256)
			}
			if n := len(rec.Events); n > 0 && rec.Events[n-1].Written.After(d.clock.base) {
				d.clock.base = rec.Events[n-1].Written // a clock that ran fast is not set back
			}
		} else if !errors.Is(err, os.ErrNotExist) {
			return nil, err
		}
	}
	pe := *e
	pe.now, pe.mono = d.clock.now, d.clock.since
	return &pe, nil
}

// begin makes the house stand as the record leaves it: of a new one, as on
// arrival.
func (d *playedHouse) begin(s *session, r []procedure.Event) error {
	p := s.st.Header().Practice
	for _, ev := range r {
		if _, ok := ev.Data.(*procedure.House); ok {
			var err error
			if d.play, err = d.house.Follow(p.Seed, r); err != nil {
				return noBalance(d.house, d.house.Arrival, err)
			}
			d.play.Speak(s.lang)
			d.gauge, d.mode = practice.Terms(r) // whatever was asked for now
			// Whoever stops while burners run has shut them down first.
			return d.turn(s, d.play.Setting()&^d.house.Burners())
		}
	}
	var err error
	if d.play, err = d.house.Begin(p.Seed, d.gauge); err != nil {
		return noBalance(d.house, d.house.Arrival, err)
	}
	d.play.Speak(s.lang)
	return d.write(s, d.house.Arrival)
}

// turn sets the true house, in the record first.
func (d *playedHouse) turn(s *session, set practice.Setting) error {
	if set == d.play.Setting() {
		return nil
	}
	return d.write(s, set)
}

func (d *playedHouse) write(s *session, set practice.Setting) error {
	state := d.house.Positions(set)
	state[practice.GaugeKey] = d.play.Gauge().Name
	if d.mode != practice.Alone {
		state[practice.ModeKey] = string(d.mode)
	}
	ev := s.event(procedure.KindHouse, "", &procedure.House{State: state})
	// Tried first on the house: what has no balance never reaches the record.
	try, err := d.play.At(ev.Observed)
	if err == nil {
		err = try.Turn(set, ev.Observed)
	}
	if err != nil {
		return noBalance(d.house, set, err)
	}
	if err := s.commit(ev); err != nil {
		if msg, ok := s.refusal(err, "entry"); ok {
			s.msg = msg
			return nil
		}
		return err
	}
	return d.play.Take(ev)
}

// shown is what the house shows at a step now.
func (d *playedHouse) shown(s *session, step procedure.Step) (practice.Shown, error) {
	p, err := d.play.At(s.e.now())
	if err != nil {
		return practice.Shown{}, err
	}
	return p.Show(step, s.st)
}

// look puts on a screen what the house shows: instruments where "=" types
// them, what there is to see and hear among the words.
func (d *playedHouse) look(s *session, step procedure.Step, v *forms.View) {
	p, err := d.play.At(s.e.now())
	var x practice.Shown
	if err == nil {
		x, err = p.Show(step, s.st)
	}
	if err != nil {
		v.Message = wording.Drill(s.lang, "no-balance", "why", err.Error())
		return
	}
	if d.mode == practice.Exam {
		v.Words.Why = []string{wording.Drill(s.lang, "exam.why")}
	}
	var say []string
	if x.Reads && d.mode != practice.Exam {
		v.Shows = x.Text
	} else if x.Text != "" {
		say = append(say, x.Text)
	}
	if co := p.CO(p.Where(step, s.st)); step.Form != procedure.FormAmbient && co >= 9 {
		say = append(say, wording.Drill(s.lang, "monitor", "co", reading.Format(math.Round(co), 0)))
	}
	if step.Form == procedure.FormSetup || step.ID == "prepare/house" || step.ID == "putback/house" {
		// How it truly stands a set-up screen does not say: that is to be looked at.
		how := wording.Drill(s.lang, "how.set")
		v.Words.How = append(append([]string{}, v.Words.How...), how)
		if v.Words.Plain != "" {
			v.Words.Plain += "; " + how
		}
	}
	if len(say) == 0 {
		return
	}
	v.Words.How = append(say, v.Words.How...)
	if v.Words.Plain != "" {
		v.Words.Plain = strings.Join(say, ". ") + ". " + v.Words.Plain
	}
}

// before takes what is done to the house, and what "=" types. done says that
// the text was no answer.
func (d *playedHouse) before(s *session, step procedure.Step, text string) (answer string, done bool, err error) {
	word, rest, _ := strings.Cut(strings.ToLower(strings.TrimSpace(text)), " ")
	rest = strings.TrimSpace(rest)
	switch { // the text that was refused stays with the session: typed twice, it counts
	case word == "set" && rest == "":
		s.text = ""
		s.msg = wording.Drill(s.lang, "stands", "what", d.house.Stands(s.lang, d.play.Setting()))
		return "", true, nil
	case word == "set":
		set, err := d.house.Command(s.lang, d.play.Setting(), rest)
		var bad *practice.SettingError
		if errors.As(err, &bad) {
			s.msg, s.text = wording.Drill(s.lang, "not-set", "text", bad.Error(), "hint", bad.Hint()), text
			return "", true, nil
		}
		if err != nil {
			return "", true, err
		}
		s.msg, s.text = "", ""
		if err = d.turn(s, set); err == nil && s.msg == "" {
			s.msg = wording.Drill(s.lang, "set", "what", d.house.Stands(s.lang, d.play.Setting()))
		}
		return "", true, err
	case word == "wait" && step.Form != procedure.FormText:
		t, ok := waitFor(rest)
		if !ok {
			s.msg, s.text = wording.Drill(s.lang, "wait", "min", reading.Format(maxWait.Minutes(), 0)), text
			return "", true, nil
		}
		d.clock.skipped += t
		s.text = ""
		s.msg = wording.Drill(s.lang, "waited", "at", s.e.now().Format("15:04:05"))
		return "", true, nil
	case word == "=" && rest == "" && d.mode == practice.Exam:
		s.msg = wording.Drill(s.lang, "exam.keys")
		return "", true, nil
	case word == "=" && rest == "":
		x, err := d.shown(s, step)
		if err != nil {
			return "", true, err
		}
		if !x.Reads {
			s.msg = wording.Drill(s.lang, "yours")
			return "", true, nil
		}
		text = x.Typed
	}
	if step.Form == procedure.FormClock && !s.timed(step.ID) { // timed off the trainee's own watch: lit now, watched that long
		en, err := forms.Parse(step, text, forms.ParseContext{Twice: true})
		if err != nil || len(en) != 1 {
			return text, false, nil // the form says what is wrong with it
		}
		if a, ok := en[0].Data.(*procedure.Answer); ok && a.Spill != nil {
			if err := d.turn(s, d.play.Lit(step, d.house.Match(s.st))); err != nil {
				return "", true, err
			}
			d.clock.skipped += time.Duration(a.Spill.Seconds * float64(time.Second))
		}
	}
	return text, false, nil
}

func waitFor(text string) (time.Duration, bool) {
	f := strings.Fields(text)
	if len(f) == 1 {
		if i := strings.IndexFunc(f[0], func(r rune) bool { return r != '.' && (r < '0' || r > '9') }); i > 0 {
			f = []string{f[0][:i], f[0][i:]}
		}
	}
	if len(f) != 2 {
		return 0, false
	}
	v, err := reading.ParseNumber(f[0])
	unit := map[string]time.Duration{"s": time.Second, "min": time.Minute}[f[1]]
	t := time.Duration(v * float64(unit))
	return t, err == nil && v > 0 && unit > 0 && t <= maxWait
}

// lit follows the clock of the screen: its start is the light-off.
func (d *playedHouse) lit(s *session, step procedure.Step, act string) error {
	if act != "start" {
		return nil
	}
	return d.turn(s, d.play.Lit(step, d.house.Match(s.st)))
}

// after follows what was answered.
func (d *playedHouse) after(s *session, step procedure.Step, evs []procedure.Event) error {
	for _, ev := range evs { // a correction changes what was said, not what was done
		if err := d.turn(s, d.play.After(step, ev.Data, d.house.Match(s.st))); err != nil {
			return err
		}
	}
	if d.mode != practice.Coach || s.msg != "" {
		return nil
	}
	return d.teach(s, step, evs)
}

// teach is what the coach says of an answer: what was true of it, or why it
// was asked.
func (d *playedHouse) teach(s *session, step procedure.Step, evs []procedure.Event) error {
	p, err := d.play.At(s.e.now())
	if err != nil {
		return err
	}
	var keys []string
	var data []procedure.Data
	for _, ev := range evs {
		keys, data = append(keys, ev.Step), append(data, ev.Data)
	}
	text, err := p.Coach(s.e.ctx, step, keys, data, s.st)
	if err != nil {
		return err
	}
	if why := wording.For(s.lang, step, s.st.Plan()).Why; text == "" && len(why) > 0 {
		text = why[0]
	}
	if text != "" {
		s.msg = wording.Drill(s.lang, "coach", "what", text)
	}
	return nil
}

// header marks a record as made in this house.
func (d *playedHouse) header(h *procedure.Header) {
	seed := d.seed
	if !d.seeded { // of the record's own id, which is another each time
		v, err := strconv.ParseUint(h.Record[:min(8, len(h.Record))], 16, 32)
		if err == nil {
			seed = int64(v)
		}
	}
	h.Home, h.Practice = d.house.Title, &procedure.Practice{House: d.house.Name, SHA256: d.house.SHA256, Seed: seed}
}

// goOn is how a stopped sitting is gone on with.
func (d *playedHouse) goOn(path string) string {
	return "cazward drill play " + shellName(d.arg) + " -o " + shellName(path)
}

// houseTypes is what "=" stands for at a step, "" for nothing.
func (s *session) houseTypes(step procedure.Step) string {
	switch {
	case s.st.Header().Practice == nil:
	case s.drill != nil:
		if x, err := s.drill.shown(s, step); err == nil && x.Reads {
			return x.Typed
		}
	case s.tour != nil:
		if x, err := s.tour.Show(s.lang, step, s.st); err == nil {
			return x.Typed
		}
	}
	return ""
}
