package main

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
	reports "cazward/report"
	reportjson "cazward/report/json"
)

// forecastFlags are the flags as typed: pressures need their sign, flows may
// carry a unit.
type forecastFlags struct {
	before, after, percent, exponent, volume, limit string
	exhaust                                         []string
	net, netU, cfm50Error, baseline, cazDoor        string
	returnLeak                                      bool
	house, lang                                     string
	overlays                                        []string
	asJSON                                          bool
}

func forecastCmd(e *env) *cobra.Command {
	var o forecastFlags
	c := &cobra.Command{Use: "forecast [RECORD]", Short: "after sealing: what it will do to the zone, how far one may seal",
		Long: `After sealing: what tightening the house will do to the zone, and how far one
may go. It is a plan and never a test result: test again every day.

With a RECORD the measured net at worst case, its give-or-take and the
strictest limit of each zone are used. Without one, give the net as measured
(--net) or else the exhaust flows.

With --house the airflow network of a house file (or of a practice house, by
name) is run instead of the single-zone rule: its leaks are sealed until a
blower door would read what was asked. With a RECORD the network is scaled to
the measured net. Without one, all that pulls on the zones is the file's.

A blower door that could not reach 50 Pa: write what it moved and where it
got to, 1800@-32. With --cfm50 and --volume alone the verb answers with the
single-point arithmetic: CFM50, ACH50 and leakage area.`,
		Example: `  cazward forecast --cfm50 1500 --cfm50-after 1050 --exhaust 200 --limit -5
  cazward forecast --cfm50 1500 --percent 30 --net -2.6 --limit -5
  cazward forecast HOME.cazward --cfm50 1500 --cfm50-after 1050
  cazward forecast HOME.cazward --house HOUSE.yaml --cfm50-after 1050
  cazward forecast --house tight-ranch --percent 30 --limit -5
  cazward forecast --cfm50 1800@-32 --volume 12000`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			var err error
			if e.lang, err = language(o.lang); err != nil {
				return err
			}
			d, err := o.design()
			if err != nil {
				return err
			}
			if o.house != "" {
				if o.exponent != "" || len(d.Exhaust) > 0 || o.cazDoor != "" || o.returnLeak || o.baseline != "" {
					return usage("leave --exponent, --exhaust, --baseline, --caz-door and --return-leak out: the house file has them", "the network of the house file is used")
				}
				if len(args) == 0 {
					return forecastHouse(e, d, o)
				}
			}
			if len(args) == 1 {
				if len(d.Exhaust) > 0 || d.Net != nil || o.baseline != "" || o.cazDoor != "" || o.returnLeak {
					return usage("leave --exhaust, --net, --baseline, --caz-door and --return-leak out: the record has them", "the record's own measurements are used")
				}
				return forecastRecord(e, args[0], d, o)
			}
			if d.Before == 0 {
				return usage("for example: cazward forecast --cfm50 1500 --cfm50-after 1050 --exhaust 200 --limit -5", "--cfm50 is needed")
			}
			if d.Net == nil && len(d.Exhaust) == 0 {
				if d.After != 0 || d.Limit != nil {
					return usage("give the net as measured, --net -2.6, or else --exhaust 200 for each fan; or a RECORD", "nothing says what pulls on the zone")
				}
				return pointArithmetic(e, o, d)
			}
			f, err := forecast.New(d)
			if err != nil {
				return refusedValue(err)
			}
			if o.asJSON {
				return writeJSON(e.out, reportjson.Forecast("", "", f))
			}
			writeForecast(e, "", "", f)
			return nil
		}}
	f := c.Flags()
	f.StringVar(&o.before, "cfm50", "", "as the house stands, `CFM`, or FLOW@PA")
	f.StringVar(&o.after, "cfm50-after", "", "aimed at, `CFM`, or FLOW@PA")
	f.StringVar(&o.percent, "percent", "", "for --cfm50-after: `PERCENT` of CFM50 to be sealed")
	f.StringArrayVar(&o.exhaust, "exhaust", nil, "for each fan `CFM`: 200 or hood=200")
	f.StringVar(&o.net, "net", "", "measured at worst case, `PA`; better than flows")
	f.StringVar(&o.netU, "give-or-take", "", "of the net, `PA`; left out: of one averaged reading")
	f.StringVar(&o.limit, "limit", "", "lowest `PA` allowed, such as -5; tightens a RECORD")
	f.StringVar(&o.house, "house", "", "`HOUSE` file or practice house: its airflow network")
	f.StringVar(&o.exponent, "exponent", "", "flow exponent `N`; left out: 0.65, common practice")
	f.StringVar(&o.cfm50Error, "cfm50-error", "", "give-or-take of a CFM50, `PERCENT`; left out: 5")
	f.StringVar(&o.volume, "volume", "", "of the house, `FT3` or 30x40x8; gives air changes")
	f.StringVar(&o.baseline, "baseline", "", "zone with all off, `PA`; shows a strong stack")
	f.StringVar(&o.cazDoor, "caz-door", "", "`STATE` at worst case: open or closed")
	f.BoolVar(&o.returnLeak, "return-leak", false, "the air handler lowers the zone")
	f.BoolVar(&o.asJSON, "json", false, "as JSON")
	f.StringVar(&o.lang, "lang", "en", "en or es")
	f.StringArrayVar(&o.overlays, "limits", nil, "overlay file on the scheme of the record")
	return c
}

// refusedValue is a refused figure in the words of the person who typed it.
func refusedValue(err error) error {
	var v *forecast.ValueError
	if errors.As(err, &v) {
		return refused(saying("%s", foreign(v.Want)), "%s of %s is refused", field(v.Field), reading.Format(v.Value, -1))
	}
	return err
}

// field names a figure of a plan; the name of a fan or burner may stand behind.
func field(name string) phrase {
	if what, which, ok := strings.Cut(name, " "); ok && (what == "exhaust" || what == "input") {
		return saying("%s %s", foreign(what), which)
	}
	return saying("%s", foreign(name))
}

// quantity reads a flag; "" is 0.
func quantity(flag, text string, u reading.Unit) (float64, error) {
	if text == "" {
		return 0, nil
	}
	v, typed, err := reading.ParseQuantity(text, u)
	if err == nil {
		v, err = reading.Convert(v, typed, u)
	}
	if err != nil {
		return 0, refused(saying("give --%s in %s", flag, u), "--%s: %v", flag, err)
	}
	return v, nil
}

func plainNumber(flag, text string) (float64, error) {
	v, err := reading.ParseNumber(text)
	if err != nil {
		return 0, refused(saying("give --%s as a plain number", flag), "--%s: %v", flag, err)
	}
	return v, nil
}

// volumeFlag reads ft3, or three edges in feet: 15x30x8.
func volumeFlag(flag, text string) (reading.Volume, error) {
	if text == "" {
		return 0, nil
	}
	v, u, err := reading.ParseVolume(text)
	if err == nil {
		v, err = reading.Convert(v, u, reading.UnitFt3)
	}
	if err != nil {
		return 0, refused("give ft3 above 0, or three edges in feet, such as 15x30x8", "--%s: %q is refused", flag, text)
	}
	return reading.Volume(v), nil
}

// flow50 reads a flow at 50 Pa, or the flow that was reached at another
// pressure.
func flow50(flag, text string, n forecast.Exponent) (reading.Flow, *forecast.PointFlow, error) {
	flow, at, short := strings.Cut(text, "@")
	q, err := quantity(flag, flow, reading.UnitCFM)
	if err != nil {
		return 0, nil, err
	}
	if !(q > 0) {
		return 0, nil, refused("give cfm above 0", "--%s: %q is refused", flag, text)
	}
	if !short {
		return reading.Flow(q), nil, nil
	}
	// Either sign will do here: a door can be run in or out, and says nothing of
	// how low a zone is.
	p, err := plainNumber(flag, strings.TrimSuffix(strings.TrimSpace(at), "Pa"))
	if err != nil {
		return 0, nil, err
	}
	pf, err := forecast.CFM50(reading.Flow(q), reading.Pressure(p), n)
	if err != nil {
		return 0, nil, refusedValue(err)
	}
	return pf.Flow, &pf, nil
}

func (o forecastFlags) design() (forecast.Design, error) {
	var d forecast.Design
	if o.exponent != "" {
		n, err := plainNumber("exponent", o.exponent)
		if err != nil {
			return d, err
		}
		if n == 0 { // 0 stands for "not given" further down
			return d, refused("give 0.5 to 1; 0.65 where it was not measured", "exponent of 0 is refused")
		}
		d.Exponent = forecast.Exponent(n)
	}
	if o.after != "" && o.percent != "" {
		return d, usage("give one of them", "--cfm50-after and --percent say the same thing")
	}
	var err error
	var before, after *forecast.PointFlow
	if o.before != "" {
		if d.Before, before, err = flow50("cfm50", o.before, d.Exponent); err != nil {
			return d, err
		}
	}
	if o.after != "" {
		if d.After, after, err = flow50("cfm50-after", o.after, d.Exponent); err != nil {
			return d, err
		}
	}
	d.CFM50Error = pointError(before, after)
	if d.Before > 0 {
		if err := o.target(&d); err != nil {
			return d, err
		}
	}
	if d.Volume, err = volumeFlag("volume", o.volume); err != nil {
		return d, err
	}
	pressure := func(flag, text string) (*reading.Pressure, error) {
		if text == "" {
			return nil, nil
		}
		v, err := quantity(flag, text, reading.UnitPa)
		p := reading.Pressure(v)
		return &p, err
	}
	if d.Limit, err = pressure("limit", o.limit); err != nil {
		return d, err
	}
	if d.Facts.Baseline, err = pressure("baseline", o.baseline); err != nil {
		return d, err
	}
	net, err := pressure("net", o.net)
	if err != nil {
		return d, err
	}
	if o.cfm50Error != "" {
		v, err := plainNumber("cfm50-error", o.cfm50Error)
		if err != nil {
			return d, err
		}
		p := reading.Percent(v)
		d.CFM50Error = &p
	}
	for _, x := range o.exhaust {
		name, flow, named := strings.Cut(x, "=")
		if !named {
			name, flow = "", x
		}
		q, err := quantity("exhaust", flow, reading.UnitCFM)
		if err != nil {
			return d, err
		}
		d.Exhaust = append(d.Exhaust, forecast.Exhaust{Name: strings.TrimSpace(name), Flow: reading.Flow(q)})
	}
	switch {
	case net != nil && len(d.Exhaust) > 0:
		return d, usage("keep --net: it is what was measured", "--net and --exhaust both say what pulls on the zone")
	case net == nil && o.netU != "":
		return d, usage("give --net too", "--give-or-take belongs to --net")
	case net != nil:
		u, err := o.giveOrTake(*net)
		if err != nil {
			return d, err
		}
		d.Net = &forecast.Net{Value: *net, U: u}
	}
	switch o.cazDoor {
	case "":
	case "open":
		d.Facts.CAZDoorShut = procedure.No
	case "closed":
		d.Facts.CAZDoorShut = procedure.Yes
	default:
		return d, usage("--caz-door open or --caz-door closed", "%q is no state of the CAZ door", o.cazDoor)
	}
	if o.returnLeak {
		d.Facts.ReturnLeak = procedure.Yes
	}
	return d, nil
}

// pointError is the usual give-or-take of a flow at 50 Pa and, as squares, what
// working it out from a lower pressure adds; nil where both were reached.
func pointError(points ...*forecast.PointFlow) *reading.Percent {
	worst := 0.0
	for _, p := range points {
		if p != nil {
			worst = math.Max(worst, 100*math.Max(float64(p.High/p.Flow)-1, 1-float64(p.Low/p.Flow)))
		}
	}
	if worst == 0 {
		return nil
	}
	e := reading.Percent(math.Hypot(float64(forecast.DefaultCFM50Error), worst))
	return &e
}

// giveOrTake of a net typed by hand: as typed, else what the default scheme
// gives to one averaged reading less one averaged baseline.
func (o forecastFlags) giveOrTake(net reading.Pressure) (reading.Pressure, error) {
	if o.netU != "" {
		v, err := plainNumber("give-or-take", o.netU)
		return reading.Pressure(v), err
	}
	set, err := loadLimits("", nil)
	if err != nil {
		return 0, err
	}
	one := func(v float64) procedure.PressureObs { return procedure.PressureObs{Values: []float64{v}} }
	return reading.Pressure(procedure.NetU(one(float64(net)), one(0), 0, nil, set.Rules().Uncertainty)), nil
}

func (o forecastFlags) target(d *forecast.Design) error {
	if o.percent == "" {
		return nil
	}
	p, err := plainNumber("percent", strings.TrimSuffix(o.percent, "%"))
	if err != nil {
		return err
	}
	d.After, err = forecast.Tighten(d.Before, reading.Percent(p))
	return refusedValue(err)
}

func forecastRecord(e *env, path string, d forecast.Design, o forecastFlags) error {
	l, err := load(path, "", o.overlays)
	if err != nil {
		return err
	}
	if d.Before == 0 {
		if d.Before, err = recordCFM50(l); err != nil {
			return err
		}
		if err := o.target(&d); err != nil {
			return err
		}
	}
	localize(e.lang, &l.obs, &l.j)
	list := forecast.Zones(l.obs, l.j, d)
	house := ""
	if o.house != "" {
		h, err := tightened(e, o.house)
		if err != nil {
			return err
		}
		house = h.name
		if err := h.within(d); err != nil {
			return err
		}
		if err := h.instead(list, l.st); err != nil {
			return err
		}
	}
	if len(list) == 0 {
		return refused("a forecast needs a zone with a vented burner", "%s: no zone in it that house pressure can touch", path)
	}
	var objects []any
	var bad error
	answered := 0
	for i, z := range list {
		name := z.Zone.Name
		if name == "" {
			name = z.Zone.ID
		}
		if z.Err != nil {
			err := refusedValue(z.Err)
			if errors.Is(z.Err, forecast.ErrNoNet) {
				err = refused(saying("go on with: cazward walk %s", path), "%s: %s has no net at worst case yet", path, name)
			}
			report(e.err, e.told(err))
			bad = exitWith(exitRefused)
			objects = append(objects, reportjson.ForecastGap(z, d))
			continue
		}
		answered++
		object := reportjson.Forecast(z.Zone.ID, z.Row, z.Forecast)
		object.House = house
		objects = append(objects, object)
		if !o.asJSON {
			if i > 0 {
				fmt.Fprintln(e.out)
			}
			writeForecast(e, homeTitle(e, name, l.obs), house, z.Forecast)
			if note := notYet(e, l.j.Decision); note != "" {
				fmt.Fprintf(e.out, "\n%s", note)
			}
		}
	}
	if o.asJSON && answered > 0 {
		var v any = objects
		if len(objects) == 1 {
			v = objects[0]
		}
		if err := writeJSON(e.out, v); err != nil {
			return err
		}
	}
	return bad
}

// recordCFM50 is the flow that stands in the record.
func recordCFM50(l *loaded) (reading.Flow, error) {
	data, _, _ := l.st.Fact("list/cfm50")
	if a, ok := data.(*procedure.Answer); ok && a.Number != nil && a.Number.Value != nil {
		u := reading.Unit(a.Number.Unit)
		if u == "" {
			u = reading.UnitCFM
		}
		return reading.ToFlow(*a.Number.Value, u)
	}
	return 0, usage("give it: --cfm50 1500", "%s has no CFM50 of the house", l.path)
}

func ptrOf[T ~float64](p *T) *float64 {
	if p == nil {
		return nil
	}
	v := float64(*p)
	return &v
}

// up and down round a flow to the safe side of a floor.
func up(q reading.Flow) string   { return reading.Format(math.Ceil(float64(q)-1e-9), 0) }
func down(q reading.Flow) string { return reading.Format(math.Floor(float64(q)+1e-9), 0) }

// tenths prints one decimal where there is one.
func tenths(v float64) string { return strings.TrimSuffix(reading.Format(v, 1), ".0") }

// beside prints a pressure so that it stands on its side of the limit.
func beside(p reading.Pressure, limit *reading.Pressure) string {
	if limit == nil {
		return p.String()
	}
	return reading.FormatNear(float64(p), float64(*limit), 1)
}

func verdictWord(v procedure.Verdict) phrase {
	switch v {
	case procedure.Pass:
		return saying("inside")
	case procedure.TooClose:
		return saying("TOO CLOSE")
	case procedure.Fail:
		return saying("PAST")
	}
	return saying("not evaluated")
}

// homeTitle names a zone and its home over a table.
func homeTitle(e *env, zone string, o procedure.Observations) string {
	title := e.say("%s, home %s", zone, o.HomeID)
	if o.Practice {
		title += " " + e.say("(invented house)")
	}
	return title
}

const columns = 79

// notYet keeps a plan from being taken for leave to seal where the record's
// decision gives none.
func notYet(e *env, d procedure.Decision) string {
	if d == procedure.Proceed || d == procedure.Refer {
		return ""
	}
	out, is := "", string(d)
	if e.lang == wording.Spanish {
		is = wording.DeskDecision(e.lang, d)
	}
	for _, l := range wrap(e.say("/!\\ WARNING  NO SEALING YET: the decision of this record is %s. Settle that first; the figures above go by the pressure alone.", is), columns-1) {
		out += " " + l + "\n"
	}
	return out
}

func writeForecast(e *env, title, house string, f forecast.Forecast) {
	w, d := e.out, f.Design
	head := e.say("AFTER SEALING")
	if title != "" {
		head += "   " + title
	}
	limit := saying("no limit given")
	if d.Limit != nil {
		limit = saying("limit %s Pa", reading.FormatNear(float64(*d.Limit), float64(*d.Limit), 1))
	}
	fmt.Fprintf(w, "%s\n\n%s\n", head, e.say("             CFM50   net, Pa   band, Pa          %s", limit))
	line := func(name string, q reading.Flow, s forecast.Span, v procedure.Verdict) {
		band := e.say("%s to %s", beside(s.Low, d.Limit), beside(s.High, d.Limit))
		fmt.Fprintf(w, " %-9s %7s   %7s   %-16s  %s\n", name, q, beside(s.Net, d.Limit), band, verdictWord(v).in(e.lang))
	}
	line(e.say("today"), d.Before, f.Today, f.VerdictToday)
	if f.After != nil {
		line(e.say("after"), d.After, *f.After, f.Verdict)
	}
	fmt.Fprintln(w)
	say := func(format string, a ...any) {
		for _, l := range wrap(e.say(format, a...), columns-1) {
			fmt.Fprintf(w, " %s\n", l)
		}
	}
	from := saying("inferred from the measured net")
	switch {
	case d.Net == nil && f.Modelled != nil:
		from = saying("inferred from the net of the house file")
	case d.Net == nil:
		from = saying("as given")
		var names []string
		for _, x := range d.Exhaust {
			if x.Name != "" {
				names = append(names, x.Name+" "+x.Flow.String())
			}
		}
		if len(names) > 0 {
			from = saying("as given: %s", strings.Join(names, ", "))
		}
	}
	if f.Modelled != nil {
		say("Worked out by the airflow network of %s, which gives %s Pa for today.", house, beside(*f.Modelled, d.Limit))
	} else {
		say("Worked out by the single-zone rule.")
	}
	say("Exhaust %s cfm, %s. Exponent %s, band %s to %s; CFM50 give or take %s %%.", f.Exhaust, from, reading.Format(math.Round(1000*float64(d.Exponent))/1000, -1),
		reading.Format(math.Max(0.5, float64(d.Exponent-forecast.ExponentBand)), 2), reading.Format(math.Min(1, float64(d.Exponent+forecast.ExponentBand)), 2), tenths(float64(*d.CFM50Error)))
	ach := func(a *forecast.AirChanges) string {
		if a == nil {
			return ""
		}
		return fmt.Sprintf(" (%s ACH50)", reading.Format(math.Ceil(float64(*a)*100-1e-9)/100, 2))
	}
	if f.Floor != nil {
		say("Floor: at %s CFM50%s the zone just reaches the limit.", up(*f.Floor), ach(f.FloorACH50))
	}
	if f.Stop != nil {
		say("Stop at %s CFM50%s: tighter than that, the band reaches the limit.", up(*f.Stop), ach(f.StopACH50))
		switch {
		case *f.MaySeal > 0:
			say("That leaves %s CFM50 (%s %%) to seal.", down(*f.MaySeal), reading.Format(math.Floor(100*float64(*f.MaySeal/d.Before)), 0))
		case f.Floor != nil && *f.Floor <= d.Before:
			say("That leaves nothing to seal: the floor is too near to be told apart with this band. Arrange make-up air first.")
		default:
			say("The house is already tighter than that, by %s CFM50: nothing may be sealed before make-up air is arranged.", up(-*f.MaySeal))
		}
	}
	fmt.Fprintln(w)
	for _, l := range f.Draw(columns, 16) {
		fmt.Fprintln(w, l)
	}
	marks := e.say("T today")
	if f.After != nil {
		marks += "   " + e.say("A after sealing")
	}
	marks += "   " + e.say("* forecast   . its band")
	if d.Limit != nil {
		marks += "   " + e.say("- limit   F floor")
	}
	fmt.Fprintf(w, "        %s\n\n", marks)
	switch f.Verdict {
	case procedure.Fail, procedure.TooClose:
		why := saying("past the limit")
		if f.Verdict == procedure.TooClose {
			why = saying("too close to the limit to tell")
		}
		stop := saying("do not seal")
		if f.MaySeal != nil && *f.MaySeal > 0 {
			stop = saying("stop at %s CFM50", up(*f.Stop))
		}
		say("/!\\ CAUTION  Sealed as planned the zone is %s. Plan make-up air, or %s. Test the zone again every day.", why, stop)
	default:
		say("NOTICE  A forecast is a plan, not a test result. Test the zone again every day.")
	}
	if d.Limit == nil {
		say("No limit was given, so nothing is judged.")
	}
	for i, x := range f.Weak {
		if i == 0 {
			fmt.Fprintf(w, "\n %s\n", e.say("Where this forecast is weak:"))
		}
		for k, l := range wrap(weakText(e.lang, x), columns-3) {
			lead := " - "
			if k > 0 {
				lead = "   "
			}
			fmt.Fprintln(w, lead+l)
		}
	}
}

// weakText words a weakness: what does not hold, and what to do about it.
func weakText(l wording.Lang, x forecast.Weakness) string {
	return (reports.Report{Lang: l}).Label("weak-" + string(x))
}

// wrap breaks text at spaces into lines of at most n characters.
func wrap(text string, n int) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > n {
			out, line = append(out, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(out, line)
}

// pointArithmetic answers with what one blower-door point gives by itself.
func pointArithmetic(e *env, o forecastFlags, d forecast.Design) error {
	n := d.Exponent
	if n == 0 {
		n = forecast.DefaultExponent
	}
	q, point, err := flow50("cfm50", o.before, n)
	if err != nil {
		return err
	}
	ela, err := forecast.EffectiveLeakageArea(q, n)
	if err != nil {
		return refusedValue(err)
	}
	eqla, err := forecast.EquivalentLeakageArea(q, n)
	if err != nil {
		return refusedValue(err)
	}
	obj := struct {
		CFM50    float64  `json:"cfm50"`
		Low      *float64 `json:"cfm50_low"`
		High     *float64 `json:"cfm50_high"`
		ACH50    *float64 `json:"ach50"`
		ELA      float64  `json:"leakage_area_4pa_in2"`
		EqLA     float64  `json:"leakage_area_10pa_in2"`
		Exponent float64  `json:"exponent"`
	}{CFM50: float64(q), ELA: float64(ela), EqLA: float64(eqla), Exponent: float64(n)}
	if point != nil {
		obj.Low, obj.High = ptrOf(&point.Low), ptrOf(&point.High)
	}
	if d.Volume > 0 {
		a, err := forecast.ACH50(q, d.Volume)
		if err != nil {
			return refusedValue(err)
		}
		obj.ACH50 = ptrOf(&a)
	}
	if o.asJSON {
		return writeJSON(e.out, obj)
	}
	fmt.Fprintf(e.out, " CFM50         %s cfm", q)
	if point != nil {
		fmt.Fprint(e.out, e.say(", from %s Pa at exponent %s (%s to %s for an exponent 0.05 off)", o.before, reading.Format(float64(n), -1), point.Low, point.High))
	}
	fmt.Fprintln(e.out)
	if obj.ACH50 != nil {
		fmt.Fprintln(e.out, e.say(" ACH50         %s air changes per hour, in %s ft3", reading.Format(*obj.ACH50, 2), d.Volume))
	}
	fmt.Fprintln(e.out, e.say(" leakage area  %s in2 at 4 Pa, coefficient 1; %s in2 at 10 Pa, coefficient 0.611", ela, eqla))
	return nil
}
