package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"cazward/limits/strict"
	"cazward/procedure/forecast"
	"cazward/procedure/practice"
	"cazward/procedure/reading"
	"cazward/procedure/sequence"
	reportjson "cazward/report/json"
)

// networkHouse is a house file made ready to be sealed.
type networkHouse struct {
	*practice.Tightening
	house *practice.House
	name  string
}

func tightened(e *env, arg string) (networkHouse, error) {
	h, err := openHouse(arg, e.in)
	var problems *strict.Problems
	if errors.As(err, &problems) {
		e.problems(problems.List)
		return networkHouse{}, exitWith(exitRefused)
	}
	if err != nil {
		return networkHouse{}, err
	}
	t, err := h.Tighten(e.ctx)
	if e.ctx.Err() != nil {
		return networkHouse{}, exitWith(exitInterrupt)
	}
	if practice.IsNotConverged(err) {
		return networkHouse{}, refused(saying("cazward drill check %s says where", arg), "house %q has no balance: %v", h.Name, err)
	}
	return networkHouse{t, h, h.Name}, err
}

// within refuses what sealing the shell of this house cannot reach.
func (h networkHouse) within(d forecast.Design) error {
	for _, q := range []reading.Flow{d.Before, d.After} {
		if q != 0 && q <= h.Least() {
			return refused("give a CFM50 above that", "house %q: vents, fans and openings that sealing does not touch pass %s CFM50 by themselves; %s is refused", h.name, h.Least(), q)
		}
	}
	if d.Before > 10*h.CFM50() {
		return refused(saying("look at the file again: cazward drill check %s", h.name), "house %q has %s CFM50; %s is another house", h.name, h.CFM50(), d.Before)
	}
	return nil
}

// design puts the network of a zone in the place of the single-zone rule.
func (h networkHouse) design(d forecast.Design, zone string) forecast.Design {
	d.Exponent = forecast.Exponent(h.Exponent())
	d.Network = func(q reading.Flow, shift forecast.Exponent) reading.Pressure { return h.Net(zone, q, float64(shift)) }
	return d
}

// instead makes the forecasts of a record once more by the network.
func (h networkHouse) instead(list []forecast.ZoneForecast, st *sequence.State) error {
	names := h.house.Match(st)
	for i, z := range list {
		if z.Err != nil {
			continue
		}
		zone := names[z.Zone.ID]
		if !slices.Contains(h.Zones(), zone) {
			return refused(saying("its zones with burners: %s", strings.Join(h.Zones(), ", ")), "house %q has no zone for %q", h.name, z.Zone.Name)
		}
		list[i].Forecast, list[i].Err = forecast.New(h.design(z.Forecast.Design, zone))
	}
	return nil
}

// forecastHouse is the forecast of a house file by itself.
func forecastHouse(e *env, d forecast.Design, o forecastFlags) error {
	h, err := tightened(e, o.house)
	if err != nil {
		return err
	}
	if d.Net != nil && len(h.Zones()) > 1 {
		return usage("leave --net out, or give the record that has the nets", "house %q has several zones with burners: %s", h.name, strings.Join(h.Zones(), ", "))
	}
	if d.Before == 0 {
		d.Before = h.CFM50()
		if err := o.target(&d); err != nil {
			return err
		}
	}
	if err := h.within(d); err != nil {
		return err
	}
	var objects []any
	for i, zone := range h.Zones() {
		f, err := forecast.New(h.design(d, zone))
		if err != nil {
			return refusedValue(err)
		}
		if o.asJSON {
			object := reportjson.Forecast(zone, "", f)
			object.House = h.name
			objects = append(objects, object)
			continue
		}
		if i > 0 {
			fmt.Fprintln(e.out)
		}
		writeForecast(e, e.say("%s, house %s (house file)", zone, h.name), h.name, f)
	}
	switch {
	case len(h.Zones()) == 0:
		return refused("give one of its zones caz: true", "house %q has no zone with burners", h.name)
	case !o.asJSON:
		return nil
	case len(objects) == 1:
		return writeJSON(e.out, objects[0])
	}
	return writeJSON(e.out, objects)
}
