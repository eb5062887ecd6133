package report

import (
	"errors"
	"math"

	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/reading"
)

// SealingChart draws the net of a zone at worst case against the tightness of
// the house: pascals against the flow at 50 Pa, in the unit of the report.
type SealingChart struct {
	Title, Desc string
	Unit        string     // of the flows
	Curve       []BandMark // from tight to loose
	Marks       []BandMark // today and, with a target, as planned
	Limit       *float64
	LimitLabel  string
	// Stop and Floor are the flows at which the low end of the band, and the
	// figure itself, reach the limit.
	Stop, Floor *BandMark
	Low, High   float64 // pressures that the drawing covers; the band may go on beyond
	Table       Table   // the curve in figures
	Plain       Plain   // the drawing in characters, flows in CFM50
	PlainKey    string
}

// Plain is a drawing in ASCII that holds nothing anybody typed; its runs of
// spaces mean something.
type Plain []string

// BandMark is a net with its band at a flow. Label says what it is, "" on the
// curve.
type BandMark struct {
	Flow         float64
	Pa, Low, Top float64
	Label        string
}

// SealingZones is what the record says of sealing, zone by zone; nil where no
// flow at 50 Pa is known, and after the sealing.
func SealingZones(in Input) []forecast.ZoneForecast {
	o := in.Observations
	if o.CFM50 == nil || in.Header.Phase == procedure.TestOut {
		return nil
	}
	d := forecast.Design{Before: reading.Flow(*o.CFM50)}
	if o.SealTo != nil {
		d.After = reading.Flow(*o.SealTo)
	}
	return forecast.Zones(o, in.Judgement, d)
}

// sealing says what the planned sealing will do to each zone, and how far one
// may seal.
func (b *builder) sealing() Section {
	zones := SealingZones(b.in)
	if len(zones) == 0 {
		return Section{}
	}
	s := Section{ID: "sealing", Title: b.t("s-sealing"), Notes: []string{b.t("n-sealing")}}
	t := Table{Columns: b.cols("c-zone", 30, "c-point", 42, ">c-flow", 20, ">c-net", 14, "c-band", 26, ">c-limit", 14, "c-verdict", 30)}
	t.Columns[2].Head = b.flowUnit()
	var used *forecast.Design
	var weak []string
	for _, z := range zones {
		if z.Err != nil {
			why := b.t("seal-refused")
			if errors.Is(z.Err, forecast.ErrNoNet) {
				why = b.t("seal-no-net")
			}
			t.add(0, z.Zone.Name, why, "-", "-", "-", "-", b.t("v-not-evaluated"))
			continue
		}
		f := z.Forecast
		used = &f.Design
		name := z.Zone.Name
		for _, r := range b.sealingRows(f) {
			t.add(strong(r.bad, all), name, r.what, r.flow, r.net, r.band, r.limit, r.verdict)
			name = ""
		}
		for _, w := range f.Weak {
			weak = append(weak, z.Zone.Name+": "+b.t("weak-"+string(w)))
		}
		s.Sealing = append(s.Sealing, b.sealingChart(z))
	}
	s.Facts = append(s.Facts, Fact{b.t("seal-far"), b.sealingRoom(zones)})
	plan := b.t("seal-no-plan")
	if b.obs.SealTo != nil {
		plan = b.flowText(reading.Flow(*b.obs.SealTo), math.Round)
	}
	s.Facts = append(s.Facts, Fact{b.t("seal-plan"), plan})
	if used != nil {
		n := float64(used.Exponent)
		s.Facts = append(s.Facts, Fact{b.t("seal-by"), b.t("seal-rule", num(n, -1), num(math.Max(0.5, n-float64(forecast.ExponentBand)), 2), num(math.Min(1, n+float64(forecast.ExponentBand)), 2), num(float64(*used.CFM50Error), -1))})
	}
	s.Notes = append(s.Notes, weak...)
	s.Tables = []Table{t}
	return s
}

// sealingRoom is how far one may seal by all zones together, and by the
// decision.
func (b *builder) sealingRoom(zones []forecast.ZoneForecast) string {
	for _, z := range zones {
		if z.Err == nil && z.Forecast.Design.Facts.NotWorst {
			return b.t("seal-not-worst", z.Zone.Name)
		}
	}
	stop, ok := forecast.HouseStop(zones)
	before := reading.Flow(*b.obs.CFM50)
	var say string
	switch {
	case !ok:
		return b.t("seal-not-known")
	case stop >= before:
		return b.t("seal-none")
	default:
		may := before - stop
		say = b.t("seal-down-to", b.flowText(stop, math.Ceil), b.flowText(may, math.Floor), num(math.Floor(100*float64(may/before)), 0))
	}
	switch b.in.Judgement.Decision {
	case procedure.Proceed, procedure.Refer:
		return say
	}
	return b.t("seal-not-yet", say)
}

func (b *builder) flowUnit() string {
	if b.in.Units == SI {
		return b.t("flow50-si")
	}
	return "CFM50"
}

// flow50 is a flow in the unit of the report, rounded to what is printed, by
// a rule that keeps to the safe side of a limit.
func (b *builder) flow50(q reading.Flow, round func(float64) float64) float64 {
	v := float64(q)
	if b.in.Units != SI {
		return round(v)
	}
	if x, err := reading.Convert(v, reading.UnitCFM, reading.UnitLS); err == nil {
		v = x
	}
	return round(v*10) / 10
}

func (b *builder) flowText(q reading.Flow, round func(float64) float64) string {
	return num(b.flow50(q, round), -1) + " " + b.flowUnit()
}

// sealingRow is a line of the table of a zone.
type sealingRow struct {
	what, flow, net, band, limit, verdict string
	bad                                   bool
}

func (b *builder) sealingRows(f forecast.Forecast) []sealingRow {
	d := f.Design
	near := func(p reading.Pressure) string {
		if d.Limit == nil {
			return num(float64(p), 1)
		}
		return reading.FormatNear(float64(p), float64(*d.Limit), 1)
	}
	row := func(what string, q reading.Flow, round func(float64) float64, p forecast.Span, v procedure.Verdict) sealingRow {
		r := sealingRow{what: b.t(what), flow: num(b.flow50(q, round), -1), net: near(p.Net), band: b.t("from-to", near(p.Low), near(p.High)), limit: b.t("no-figure"), verdict: b.t("seal-" + v.String()),
			bad: v == procedure.Fail || v == procedure.TooClose}
		if d.Limit != nil {
			r.limit = num(float64(*d.Limit), 1)
			if exact := num(float64(*d.Limit), -1); len(exact) > len(r.limit) {
				r.limit = exact
			}
		}
		return r
	}
	out := []sealingRow{row("seal-today", d.Before, math.Round, f.Today, f.VerdictToday)}
	if f.After != nil {
		out = append(out, row("seal-planned", d.After, math.Round, *f.After, f.Verdict))
	}
	// The figures where the limit is reached are the limit itself: of these
	// two lines only the flow says something.
	if f.Stop != nil {
		out = append(out, sealingRow{what: b.t("seal-stop"), flow: num(b.flow50(*f.Stop, math.Ceil), -1), net: "-", band: "-", limit: out[0].limit, verdict: "-"})
	}
	if f.Floor != nil {
		out = append(out, sealingRow{what: b.t("seal-floor"), flow: num(b.flow50(*f.Floor, math.Ceil), -1), net: "-", band: "-", limit: out[0].limit, verdict: "-"})
	}
	return out
}

// curvePoints of a drawing, and of its table of figures.
const (
	curvePoints = 61
	tablePoints = 9
)

func (b *builder) sealingChart(z forecast.ZoneForecast) SealingChart {
	f := z.Forecast
	lo, hi := f.Range()
	low, high := f.Depth(lo)
	same := func(v float64) float64 { return v }
	mark := func(q reading.Flow, s forecast.Span, label string) BandMark {
		v, _ := b.in.Units.Show(float64(q), string(reading.UnitCFM))
		return BandMark{v, float64(s.Net), float64(s.Low), float64(s.High), label}
	}
	c := SealingChart{Title: b.t("seal-chart", z.Zone.Name), Desc: b.t("seal-chart-desc"), Unit: b.flowUnit(), Low: float64(low), High: float64(high),
		Table: Table{Columns: b.cols(">c-flow", 20, ">c-net", 20, ">c-lowest", 20, ">c-highest", 20)}, PlainKey: b.t("seal-key")}
	c.Table.Columns[0].Head = b.flowUnit()
	for _, p := range f.Curve(lo, hi, curvePoints) {
		c.Curve = append(c.Curve, mark(p.CFM50, p.Span, ""))
	}
	for _, p := range f.Curve(lo, hi, tablePoints) {
		c.Table.add(0, num(b.flow50(p.CFM50, math.Round), -1), num(float64(p.Net), 2), num(float64(p.Low), 2), num(float64(p.High), 2))
	}
	c.Marks = []BandMark{mark(f.Design.Before, f.Today, b.t("seal-today"))}
	if f.After != nil {
		c.Marks = append(c.Marks, mark(f.Design.After, *f.After, b.t("seal-planned")))
	}
	for _, x := range []struct {
		q   *reading.Flow
		at  **BandMark
		key string
	}{{f.Stop, &c.Stop, "seal-stop-short"}, {f.Floor, &c.Floor, "seal-floor-short"}} {
		if x.q != nil && *x.q >= lo && *x.q <= hi {
			m := mark(*x.q, f.At(*x.q), b.t(x.key)+" "+num(b.flow50(*x.q, math.Ceil), -1))
			m.Flow = b.flow50(*x.q, same)
			*x.at = &m
		}
	}
	if l := f.Design.Limit; l != nil {
		v := float64(*l)
		c.Limit, c.LimitLabel = &v, b.t("limit-word")+" "+num(v, -1)
	}
	c.Plain = f.Draw(plainWidth, plainHeight)
	return c
}

// The drawing in characters.
const plainWidth, plainHeight = 78, 14
