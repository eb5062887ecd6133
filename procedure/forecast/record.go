package forecast

import (
	"errors"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// ErrNoNet is the answer for a zone whose worst case has no net yet.
var ErrNoNet = errors.New("forecast: no net at worst case yet: finish the worst case of this zone first")

// ZoneForecast is the forecast for one zone of a record, or why there is none.
type ZoneForecast struct {
	Zone     procedure.Zone
	Forecast Forecast
	Row      string // limit row that the forecast is held against, "" for none
	Err      error
}

// Zones makes the forecast for every zone that house pressure can act on, from
// what its record observed and how that was judged. Of d only Before, After,
// Exponent, CFM50Error, Volume and a Limit are used; that limit can tighten the
// zone's own and stands alone where the scheme sets none. Net, its
// give-or-take, the strictest limit, the CAZ door, the air handler and the
// baseline come from the record.
func Zones(o procedure.Observations, j procedure.Judgement, d Design) []ZoneForecast {
	var out []ZoneForecast
	used := make([]bool, len(j.WorstCase))
	for _, z := range o.Zones {
		if !touched(o, z.ID) {
			continue
		}
		wc := worstOf(j.WorstCase, used, z)
		if wc == nil {
			out = append(out, ZoneForecast{Zone: z, Err: ErrNoNet})
			continue
		}
		zf := ZoneForecast{Zone: z}
		if wc.Net == nil || wc.Uncertainty == nil {
			zf.Err = ErrNoNet
			out = append(out, zf)
			continue
		}
		zd := Design{Before: d.Before, After: d.After, Exponent: d.Exponent, CFM50Error: d.CFM50Error, Volume: d.Volume, Limit: d.Limit,
			Net: &Net{reading.Pressure(*wc.Net), reading.Pressure(*wc.Uncertainty)}}
		for _, f := range j.Findings {
			if f.Rule != "depressurization" || f.Subject != z.ID || f.Limit == nil {
				continue
			}
			if l := reading.Pressure(*f.Limit); zd.Limit == nil || l > *zd.Limit {
				zd.Limit, zf.Row = &l, f.Row
			}
		}
		zd.Facts = facts(o, j, z, *wc)
		zf.Forecast, zf.Err = New(zd)
		out = append(out, zf)
	}
	return out
}

// HouseStop is the flow at 50 Pa down to which every zone stays inside its
// limit: the loosest [Forecast.Stop] of all. False where a zone has none, so
// that the zones that have one are never taken for all.
func HouseStop(list []ZoneForecast) (reading.Flow, bool) {
	stop := reading.Flow(0)
	for _, z := range list {
		if z.Err != nil || z.Forecast.Stop == nil {
			return 0, false
		}
		stop = max(stop, *z.Forecast.Stop)
	}
	return stop, stop > 0
}

// touched reports whether house pressure can act on an appliance of the zone:
// the zones that a judgement gives a worst case.
func touched(o procedure.Observations, zone string) bool {
	for _, a := range o.Appliances {
		if a.Zone == zone && a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity && a.Vent.Type != procedure.Unvented && a.Kind != procedure.GasDryer &&
			!a.Kind.Cooking() && a.Kind != procedure.UnventedHeater && a.Facts.InsideBoundary != procedure.No {
			return true
		}
	}
	return false
}

// worstOf finds the worst case of a zone. A judgement names zones as people do,
// or by id, in their order, so that of two zones of one name the first takes
// the first.
func worstOf(list []procedure.WorstCase, used []bool, z procedure.Zone) *procedure.WorstCase {
	for i := range list {
		if !used[i] && (list[i].Zone == z.ID || z.Name != "" && list[i].Zone == z.Name) {
			used[i] = true
			return &list[i]
		}
	}
	return nil
}

func facts(o procedure.Observations, j procedure.Judgement, z procedure.Zone, wc procedure.WorstCase) Facts {
	var f Facts
	switch wc.Config.CAZDoor {
	case "closed":
		f.CAZDoorShut = procedure.Yes
	case "open", "none":
		f.CAZDoorShut = procedure.No
	}
	// The air handler runs at worst case only where it lowered the zone.
	switch wc.Config.AirHandler {
	case "":
	case "off":
		f.ReturnLeak = procedure.No
	default:
		f.ReturnLeak = procedure.Yes
	}
	if wc.Baseline != nil {
		b := reading.Pressure(*wc.Baseline)
		f.Baseline = &b
	} else if zo := o.ZoneOf(z.ID); zo != nil && len(zo.Baselines) > 0 { // a net of off/on pairs names none
		b := reading.Pressure(procedure.MeanOf(zo.Baselines[0].Values))
		f.Baseline = &b
	}
	for _, x := range j.Findings {
		f.NotWorst = f.NotWorst || x.Rule == "configuration" && x.Subject == z.ID
	}
	for _, m := range j.Missing {
		for _, step := range []string{"setup/", "reading/", "baseline/", "doors/", "airhandler/", "cazdoor/"} {
			f.NotWorst = f.NotWorst || m.Step == step+z.ID || strings.HasPrefix(m.Step, step+z.ID+"/")
		}
	}
	for _, x := range o.Doubts {
		open := x.Doubt.Settled == "" || x.Doubt.Settled == "left"
		f.NotWorst = f.NotWorst || x.OnPressure && open && (x.Zone == "" || x.Zone == z.ID)
	}
	return f
}
