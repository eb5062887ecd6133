package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
	reportjson "cazward/report/json"
)

type airFlags struct {
	volume, ach, altitude, connectors, zone, lang string
	appliances                                    []string
	asJSON                                        bool
}

func airCmd(e *env) *cobra.Command {
	var o airFlags
	c := &cobra.Command{Use: "air [RECORD]", Short: "combustion-air volume and openings",
		Long: `Combustion air: the indoor volume that the burners of a space need, and the
openings that make up for what it lacks.

With a RECORD its burners and their inputs are used; the volume of the room
is given here. Nothing is rounded before it is printed; halves round up, as
in the published tables. Sizes are net free area; fan is fan-assisted, natural
any other burner.`,
		Example: `  cazward air --volume 3600 --appliance 100000:fan --appliance 40000:natural
  cazward air --volume 15x30x8 --appliance 40000 --ach 0.35
  cazward air HOME.cazward --zone basement-1 --volume 3600`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			var err error
			if e.lang, err = language(o.lang); err != nil {
				return err
			}
			s, err := o.space()
			if err != nil {
				return err
			}
			title := ""
			if len(args) == 1 {
				if title, err = o.fromRecord(e, args[0], &s); err != nil {
					return err
				}
			} else if o.volume == "" || len(s.Burners) == 0 {
				return usage("for example: cazward air --volume 3600 --appliance 100000:fan --appliance 40000:natural", "--volume and --appliance are needed")
			} else if o.zone != "" {
				return usage("name the record too", "--zone picks a zone of a record")
			}
			a, err := forecast.CombustionAir(s)
			if err != nil {
				return refusedValue(err)
			}
			if o.asJSON {
				return writeJSON(e.out, reportjson.Air("", a))
			}
			writeAir(e, title, a)
			return nil
		}}
	f := c.Flags()
	f.StringVar(&o.volume, "volume", "", "volume of the space, `FT3`, or 15x30x8")
	f.StringArrayVar(&o.appliances, "appliance", nil, "each burner `BTUH:KIND`: 100000:fan, 40000:natural")
	f.StringVar(&o.ach, "ach", "", "infiltration where known, `ACH`; 0.60 at most")
	f.StringVar(&o.connectors, "connector-area", "", "of all vent connectors, `IN2`; least single opening")
	f.StringVar(&o.altitude, "altitude", "", "`FT` above sea level")
	f.StringVar(&o.zone, "zone", "", "`ID` of the zone of the record")
	f.BoolVar(&o.asJSON, "json", false, "as JSON")
	f.StringVar(&o.lang, "lang", "en", "en or es")
	return c
}

func (o airFlags) space() (forecast.Space, error) {
	var s forecast.Space
	var err error
	if s.Volume, err = volumeFlag("volume", o.volume); err != nil {
		return s, err
	}
	if o.ach != "" {
		v, err := plainNumber("ach", o.ach)
		if err != nil {
			return s, err
		}
		a := forecast.AirChanges(v)
		s.Infiltration = &a
	}
	area, err := quantity("connector-area", o.connectors, reading.UnitIn2)
	if err != nil {
		return s, err
	}
	alt, err := quantity("altitude", o.altitude, reading.UnitFt)
	if err != nil {
		return s, err
	}
	s.Connectors, s.Altitude = reading.Area(area), reading.Length(alt)
	for _, t := range o.appliances {
		name, rest, named := strings.Cut(t, "=")
		if !named {
			name, rest = "", t
		}
		in, kind, _ := strings.Cut(rest, ":")
		q, err := quantity("appliance", in, reading.UnitBtuH)
		if err != nil {
			return s, err
		}
		b := forecast.Burner{Name: strings.TrimSpace(name), Input: reading.HeatRate(q)}
		switch strings.TrimSpace(kind) {
		case "fan", "fan-assisted":
			b.FanAssisted = true
		case "", "natural", "other": // the stricter figure where nothing is said
		default:
			return s, refused("write 100000:fan or 40000:natural", "--appliance %q: %q is neither fan nor natural", t, kind)
		}
		s.Burners = append(s.Burners, b)
	}
	return s, nil
}

// fromRecord takes the burners of a zone; what the record does not have is
// named.
func (o airFlags) fromRecord(e *env, path string, s *forecast.Space) (string, error) {
	if len(s.Burners) > 0 {
		return "", usage("leave --appliance out, or leave the record out", "the record's own burners are used")
	}
	l, err := loadToday(path, "", func(name string) (*limits.Set, error) { return loadLimits(name, nil) })
	if err != nil {
		return "", err
	}
	localize(e.lang, &l.obs, &l.j)
	type zone struct {
		id, name         string
		burners          []forecast.Burner
		missing, leftOut []string
		volume           float64
	}
	var zones []zone
	var ids []string
	for _, z := range l.obs.Zones {
		if o.zone != "" && z.ID != o.zone {
			continue
		}
		x := zone{id: z.ID, name: nameOf(l.obs, z.ID), volume: z.Volume}
		x.burners, x.missing, x.leftOut = forecast.Burners(l.obs, z.ID)
		if len(x.burners)+len(x.missing) > 0 {
			zones, ids = append(zones, x), append(ids, z.ID)
		}
	}
	switch {
	case len(zones) == 0 && o.zone != "":
		return "", refused(saying("cazward show %s lists its zones", path), "%s: no burner takes its air from a zone %q", path, o.zone)
	case len(zones) == 0:
		return "", refused("a space is judged by the burners in it", "%s: no burner in it takes air from a zone", path)
	case len(zones) > 1:
		return "", usage(saying("add --zone %s", ids[0]), "%s has several zones with burners: %s", path, strings.Join(ids, ", "))
	}
	z := zones[0]
	var need phrases
	for _, id := range z.missing {
		need = append(need, saying("the input of %s", nameOf(l.obs, id)))
	}
	if o.volume == "" {
		s.Volume = reading.Volume(z.volume)
	}
	if s.Volume <= 0 {
		need = append(need, saying("the volume of %s", z.name))
	}
	if len(need) > 0 {
		hint := saying("give --volume FT3")
		if len(z.missing) > 0 {
			hint = saying("read the plate and correct the record (cazward walk %s, then /f), or give every burner with --appliance", path)
		}
		return "", refused(hint, "%s does not have %s", path, need)
	}
	for _, id := range z.leftOut {
		e.note("%s is left out: sealed, solid fuel or outside the house's shell; these methods are not about it", nameOf(l.obs, id))
	}
	for _, a := range l.obs.Appliances {
		if a.Zone == z.id && a.Burner.Fuel == procedure.Oil {
			e.note("%s burns oil: these methods are those of the gas codes", nameOf(l.obs, a.ID))
		}
	}
	s.Burners = z.burners
	return homeTitle(e, z.name, l.obs), nil
}

func methodText(m forecast.Method) phrase {
	switch m {
	case forecast.IndoorSameStory:
		return saying("same story, one high, one low")
	case forecast.IndoorOtherStory:
		return saying("another story, area in all")
	case forecast.OutdoorDirect:
		return saying("high and low, direct or vertical duct")
	case forecast.OutdoorDucted:
		return saying("high and low, horizontal ducts")
	case forecast.OutdoorSingle:
		return saying("one opening, high")
	}
	return saying("%s", string(m))
}

// thousands groups a whole number for reading: 140000 is 140,000.
func thousands(v float64) string {
	s := reading.Format(v, 0)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

func writeAir(e *env, title string, a forecast.Air) {
	w, head := e.out, e.say("COMBUSTION AIR")
	if title != "" {
		head += "   " + title
	}
	say := func(format string, x ...any) {
		for i, l := range wrap(e.say(format, x...), columns-3) {
			lead := " - "
			if i > 0 {
				lead = "   "
			}
			fmt.Fprintf(w, "%s%s\n", lead, l)
		}
	}
	fmt.Fprintf(w, "%s\n\n", head)
	fmt.Fprintln(w, e.say(" burners    %s Btu/h: %s fan-assisted, %s not", thousands(float64(a.Input)), thousands(float64(a.Fan)), thousands(float64(a.Input-a.Fan))))
	how := saying("standard method")
	if a.ByRate != nil {
		rate := reading.Format(float64(*a.Space.Infiltration), -1)
		how = saying("infiltration %s ACH", rate)
		if a.Capped {
			how = saying("infiltration %s ACH, counted as 0.60", rate)
		}
	}
	fmt.Fprintln(w, e.say(" needed     %s ft3 (%s)", thousands(float64(a.Required)), how))
	word := saying("ENOUGH")
	if !a.Sufficient {
		word = saying("NOT ENOUGH: openings are needed")
	}
	fmt.Fprintf(w, "%s\n\n", e.say(" there is   %s ft3, ratio %s: %s", thousands(float64(a.Space.Volume)), reading.Format(a.Ratio, 2), word))
	fmt.Fprintln(w, e.say(" Openings, net free area, in2                          beside   louvre over each"))
	fmt.Fprintln(w, e.say("                                        how          the air"))
	fmt.Fprintln(w, e.say("                                       many    each  indoors    metal     wood"))
	for _, o := range a.Openings {
		switch o.Method {
		case forecast.IndoorSameStory:
			fmt.Fprintln(w, e.say(" joining other rooms, so that their volume counts too:"))
		case forecast.OutdoorDirect:
			fmt.Fprintln(w, e.say(" air from outdoors, one of these lines:"))
		}
		combined := "-"
		if o.Combined != nil {
			combined = reading.Format(float64(*o.Combined), 1)
		}
		metal, wood := o.Gross()
		name := methodText(o.Method).in(e.lang)
		if o.Evidence == procedure.EvidenceMemory {
			name += " *"
		}
		fmt.Fprintf(w, "   %-37s%3d %7s  %7s  %7s  %7s\n", name, o.Count, o.Each, combined, metal, wood)
	}
	fmt.Fprintf(w, "%s\n\n", e.say(" * from memory"))
	if a.Sufficient {
		say("The volume is enough by itself; no opening to outdoors is needed.")
	} else {
		say("Beside the air indoors: the opening to outdoors when the volume that is there counts too, full size x %s (1 - ratio).", reading.Format(a.Reduction, 2))
	}
	say("Rooms count together only through openings of at least 100 in2 each, no side under 3 in, one within 12 in of the top and one within 12 in of the bottom.")
	if a.Space.Connectors == 0 {
		say("One opening: not less than the sum of the vent connector areas (--connector-area), which was not given.")
	}
	say("Louvre sizes take 75 %% free for metal, 25 %% for wood; the maker's figure comes first.")
	if a.ByRate != nil && a.StandardFree {
		say("The standard method would ask for %s ft3 and may be used too.", thousands(float64(a.Standard)))
	}
	if !a.StandardFree {
		say("The standard method (%s ft3) may not be used: infiltration is known to be under 0.40 ACH.", thousands(float64(a.Standard)))
	}
	if a.Derated != nil {
		say("Altitude %s ft: input derated by 4 %% per 1000 ft would be %s Btu/h. Sizes above stay on the plate.", thousands(float64(a.Space.Altitude)), thousands(float64(*a.Derated)))
	}
	sure := string(a.Evidence)
	if e.lang == wording.Spanish {
		sure = wording.Evidence(e.lang, a.Evidence)
	}
	say("Source: %s (%s). Local code comes first.", a.Source, sure)
}
