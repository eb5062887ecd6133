package json

import (
	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/report"
)

// ReportObject is the judgement of a record with what it says of the sealing
// to come and of combustion air, and with the phases before; empty lists where the record does not have
// the facts.
type ReportObject struct {
	Object
	AfterSealing  []AfterSealing `json:"after_sealing"`
	CombustionAir []AirObject    `json:"combustion_air"`
	// Earlier are the phases that the report compares with, latest first.
	Earlier []Object `json:"earlier"`
}

// Report makes the object of a report.
func Report(in report.Input) ReportObject {
	o := ReportObject{Object: Judgement(in.Header, in.Judgement, in.Closed), AfterSealing: []AfterSealing{}, CombustionAir: []AirObject{}, Earlier: []Object{}}
	for p := in.Prior; p != nil; p = p.Prior {
		o.Earlier = append(o.Earlier, Judgement(p.Header, p.Judgement, p.CloseHash != ""))
	}
	for _, z := range report.SealingZones(in) {
		if z.Err != nil {
			o.AfterSealing = append(o.AfterSealing, ForecastGap(z, forecast.Design{}))
			continue
		}
		o.AfterSealing = append(o.AfterSealing, Forecast(z.Zone.ID, z.Row, z.Forecast))
	}
	for _, a := range report.Rooms(in.Observations) {
		if a.Err == nil {
			o.CombustionAir = append(o.CombustionAir, Air(a.Zone.ID, a.Air))
		}
	}
	return o
}

// AfterSealing is one forecast; what does not exist is null.
type AfterSealing struct {
	Zone       string              `json:"zone,omitempty"`
	Before     *float64            `json:"net_pa_before"`
	After      *float64            `json:"net_pa_after"`
	Low        *float64            `json:"low_pa"`
	High       *float64            `json:"high_pa"`
	Limit      *float64            `json:"limit_pa"`
	Floor      *float64            `json:"cfm50_floor"`
	Exponent   float64             `json:"exponent"`
	Verdict    procedure.Verdict   `json:"verdict"`
	Stop       *float64            `json:"cfm50_stop"`
	MaySeal    *float64            `json:"may_seal_cfm50"`
	FloorACH50 *float64            `json:"ach50_floor"`
	StopACH50  *float64            `json:"ach50_stop"`
	Exhaust    *float64            `json:"exhaust_cfm"`
	Today      procedure.Verdict   `json:"verdict_today"`
	Row        string              `json:"row,omitempty"`
	Weak       []forecast.Weakness `json:"weak"`
	CFM50      *float64            `json:"cfm50"`
	CFM50After *float64            `json:"cfm50_after"`
	Method     forecast.Model      `json:"method"`
	House      string              `json:"house,omitempty"`
	Model      *float64            `json:"network_net_pa_before,omitempty"`
}

// Forecast makes the object of one zone; zone and row may be empty.
func Forecast(zone, row string, f forecast.Forecast) AfterSealing {
	o := AfterSealing{Zone: zone, Row: row, Before: ptr(&f.Today.Net), Limit: ptr(f.Design.Limit), Floor: ptr(f.Floor), Exponent: float64(f.Design.Exponent), Verdict: f.Verdict,
		Stop: ptr(f.Stop), MaySeal: ptr(f.MaySeal), FloorACH50: ptr(f.FloorACH50), StopACH50: ptr(f.StopACH50), Exhaust: ptr(&f.Exhaust), Today: f.VerdictToday, Weak: f.Weak, CFM50: ptr(&f.Design.Before), Method: f.By(), Model: ptr(f.Modelled)}
	if f.After != nil {
		o.After, o.Low, o.High, o.CFM50After = ptr(&f.After.Net), ptr(&f.After.Low), ptr(&f.After.High), ptr(&f.Design.After)
	}
	if o.Weak == nil {
		o.Weak = []forecast.Weakness{}
	}
	return o
}

// ForecastGap is a zone without an answer, so that nobody counts the zones
// that have one and thinks they are all.
func ForecastGap(z forecast.ZoneForecast, d forecast.Design) AfterSealing {
	n := d.Exponent
	if n == 0 {
		n = forecast.DefaultExponent
	}
	return AfterSealing{Zone: z.Zone.ID, Exponent: float64(n), Weak: []forecast.Weakness{}, Method: forecast.SingleZone}
}

func ptr[T ~float64](p *T) *float64 {
	if p == nil {
		return nil
	}
	v := float64(*p)
	return &v
}

// Opening is one way to bring the air in, square inches.
type Opening struct {
	Method     forecast.Method `json:"method"`
	Each       float64         `json:"each_in2"`
	Count      int             `json:"count"`
	Min        *float64        `json:"min_in2"`
	Combined   *float64        `json:"combined_each_in2"`
	GrossMetal float64         `json:"gross_metal_in2"`
	GrossWood  float64         `json:"gross_wood_in2"`
	Source     string          `json:"source"`
	Evidence   string          `json:"evidence"`
}

// AirObject is the combustion air of one room.
type AirObject struct {
	Zone       string    `json:"zone,omitempty"`
	Required   float64   `json:"required_ft3"`
	Available  float64   `json:"available_ft3"`
	Sufficient bool      `json:"sufficient"`
	Openings   []Opening `json:"openings"`
	Standard   float64   `json:"standard_ft3"`
	ByRate     *float64  `json:"known_infiltration_ft3"`
	Ratio      float64   `json:"ratio"`
	Reduction  float64   `json:"reduction_factor"`
	Input      float64   `json:"input_btuh"`
	Derated    *float64  `json:"derated_input_btuh"`
	Source     string    `json:"source"`
	Evidence   string    `json:"evidence"`
}

// Air makes the object of one room; zone may be empty.
func Air(zone string, a forecast.Air) AirObject {
	o := AirObject{Zone: zone, Required: float64(a.Required), Available: float64(a.Space.Volume), Sufficient: a.Sufficient, Standard: float64(a.Standard), ByRate: ptr(a.ByRate), Ratio: a.Ratio, Reduction: a.Reduction,
		Input: float64(a.Input), Derated: ptr(a.Derated), Source: a.Source, Evidence: string(a.Evidence)}
	for _, x := range a.Openings {
		metal, wood := x.Gross()
		o.Openings = append(o.Openings, Opening{x.Method, float64(x.Each), x.Count, ptr(x.Min), ptr(x.Combined), float64(metal), float64(wood), x.Source, string(x.Evidence)})
	}
	return o
}
