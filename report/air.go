package report

import (
	"errors"
	"math"
	"slices"

	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// Room is the combustion air of a zone whose volume is known, or why it cannot
// be told.
type Room struct {
	Zone    procedure.Zone
	Air     forecast.Air
	Missing []string // ids of the burners whose input is not known
	LeftOut []string // ids of those that the methods are not about
	Err     error    // nil where Air holds
}

// Rooms works out the combustion air of each zone that has burners and a
// volume, by the standard method: a record knows no infiltration rate.
func Rooms(o procedure.Observations) []Room {
	var out []Room
	for _, z := range o.Zones {
		if !(z.Volume > 0) {
			continue
		}
		r := Room{Zone: z}
		var burners []forecast.Burner
		burners, r.Missing, r.LeftOut = forecast.Burners(o, z.ID)
		if len(burners)+len(r.Missing) == 0 {
			continue
		}
		if r.Air, r.Err = forecast.CombustionAir(forecast.Space{Volume: reading.Volume(z.Volume), Burners: burners}); len(r.Missing) > 0 {
			r.Err = errMissing
		}
		out = append(out, r)
	}
	return out
}

var errMissing = errors.New("report: the input of a burner is not known")

// air is whether the burners of each zone have air enough, and the openings
// that make up for what is not there.
func (b *builder) air() Section {
	rooms := Rooms(*b.obs)
	if len(rooms) == 0 {
		return Section{}
	}
	s := Section{ID: "air", Title: b.t("s-air"), Notes: []string{b.t("n-air")}}
	t := Table{Columns: b.cols("c-zone", 30, ">c-input", 26, ">c-air-needed", 22, ">c-there", 22, ">c-ratio", 12, "c-verdict", 40)}
	var ways []Table
	for _, r := range rooms {
		amount := func(v float64, unit reading.Unit) string {
			x, u := b.in.Units.Show(v, string(unit))
			return num(math.Round(x*10)/10, -1) + " " + u
		}
		there := amount(r.Zone.Volume, reading.UnitFt3)
		switch {
		case len(r.Missing) > 0:
			verdict := "v-not-evaluated"
			if r.Air.Required > 0 && !r.Air.Sufficient { // already without the unknown ones
				verdict = "air-short"
			}
			t.add(strong(verdict == "air-short", all), r.Zone.Name, b.t("air-no-input", b.nameAll(r.Missing)), "-", there, "-", b.t(verdict))
		case r.Err != nil:
			t.add(0, r.Zone.Name, "-", "-", there, "-", b.t("v-not-evaluated"))
		default:
			a := r.Air
			verdict := "air-enough"
			if !a.Sufficient {
				verdict = "air-short"
				ways = append(ways, b.openings(r))
			}
			t.add(strong(!a.Sufficient, all), r.Zone.Name, b.t("air-burners", amount(float64(a.Input), reading.UnitBtuH), amount(float64(a.Fan), reading.UnitBtuH)), amount(float64(a.Required), reading.UnitFt3), there,
				reading.FormatNear(a.Ratio, 1, 2), b.t(verdict))
			s.Facts = []Fact{{b.t("seal-by"), b.t("air-source", a.Source, wording.Evidence(b.lang, a.Evidence))}} // one method for all rooms
		}
		if len(r.LeftOut) > 0 {
			s.Notes = append(s.Notes, b.t("air-left-out", b.nameAll(r.LeftOut)))
		}
		if slices.ContainsFunc(b.obs.Appliances, func(x procedure.Appliance) bool { return x.Zone == r.Zone.ID && x.Burner.Fuel == procedure.Oil }) {
			s.Notes = append(s.Notes, b.t("air-oil", r.Zone.Name))
		}
	}
	if len(ways) > 0 {
		s.Notes = append(s.Notes, b.t("n-openings"))
	}
	s.Tables = append([]Table{t}, ways...)
	return s
}

// openings are the ways to bring in what a room lacks.
func (b *builder) openings(r Room) Table {
	t := Table{Title: b.t("t-openings", r.Zone.Name), Whole: true, Columns: b.cols("c-way", 40, ">c-count", 11, ">c-each", 18, ">c-beside", 22, ">c-metal", 18, ">c-wood", 18, "c-way-source", 46)}
	area := func(a reading.Area) string {
		x, u := b.in.Units.Show(float64(a), string(reading.UnitIn2))
		return num(x, 1) + " " + u
	}
	for _, o := range r.Air.Openings {
		beside := "-"
		if o.Combined != nil {
			beside = area(*o.Combined)
		}
		metal, wood := o.Gross()
		t.add(0, b.t("air-"+string(o.Method)), num(float64(o.Count), 0), area(o.Each), beside, area(metal), area(wood), b.t("air-source", o.Source, wording.Evidence(b.lang, o.Evidence)))
	}
	return t
}
