package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/reading"
	reportjson "cazward/report/json"
)

type airFlags struct {
	volume, ach, altitude, connectors, zone string
	appliances                              []string
	asJSON                                  bool
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
			writeAir(e.out, title, a)
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
		return "", refused("cazward show "+path+" lists its zones", "%s: no burner takes its air from a zone %q", path, o.zone)
	case len(zones) == 0:
		return "", refused("a space is judged by the burners in it", "%s: no burner in it takes air from a zone", path)
	case len(zones) > 1:
		return "", usage("add --zone "+ids[0], "%s has several zones with burners: %s", path, strings.Join(ids, ", "))
	}
	z := zones[0]
	var need []string
	for _, id := range z.missing {
		need = append(need, "the input of "+nameOf(l.obs, id))
	}
	if o.volume == "" {
		s.Volume = reading.Volume(z.volume)
	}
	if s.Volume <= 0 {
		need = append(need, "the volume of "+z.name)
	}
	if len(need) > 0 {
		hint := "give --volume FT3"
		if len(z.missing) > 0 {
			hint = "read the plate and correct the record (cazward walk " + path + ", then /f), or give every burner with --appliance"
		}
		return "", refused(hint, "%s does not have %s", path, strings.Join(need, ", "))
	}
	for _, id := range z.leftOut {
		fmt.Fprintf(e.err, "cazward: note: %s is left out: sealed, solid fuel or outside the house's shell; these methods are not about it\n", nameOf(l.obs, id))
	}
	for _, a := range l.obs.Appliances {
		if a.Zone == z.id && a.Burner.Fuel == procedure.Oil {
			fmt.Fprintf(e.err, "cazward: note: %s burns oil: these methods are those of the gas codes\n", nameOf(l.obs, a.ID))
		}
	}
	s.Burners = z.burners
	title := z.name + ", home " + l.obs.HomeID
	if l.obs.Practice {
		title += " (invented house)"
	}
	return title, nil
}

func methodText(m forecast.Method) string {
	switch m {
	case forecast.IndoorSameStory:
		return "same story, one high, one low"
	case forecast.IndoorOtherStory:
		return "another story, area in all"
	case forecast.OutdoorDirect:
		return "high and low, direct or vertical duct"
	case forecast.OutdoorDucted:
		return "high and low, horizontal ducts"
	case forecast.OutdoorSingle:
		return "one opening, high"
	}
	return string(m)
}

// thousands groups a whole number for reading: 140000 is 140,000.
func thousands(v float64) string {
	s := reading.Format(v, 0)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

func writeAir(w io.Writer, title string, a forecast.Air) {
	head := "COMBUSTION AIR"
	if title != "" {
		head += "   " + title
	}
	say := func(format string, x ...any) {
		for i, l := range wrap(fmt.Sprintf(format, x...), columns-3) {
			lead := " - "
			if i > 0 {
				lead = "   "
			}
			fmt.Fprintf(w, "%s%s\n", lead, l)
		}
	}
	fmt.Fprintf(w, "%s\n\n", head)
	fmt.Fprintf(w, " burners    %s Btu/h: %s fan-assisted, %s not\n", thousands(float64(a.Input)), thousands(float64(a.Fan)), thousands(float64(a.Input-a.Fan)))
	how := "standard method"
	if a.ByRate != nil {
		how = "infiltration " + reading.Format(float64(*a.Space.Infiltration), -1) + " ACH"
		if a.Capped {
			how += ", counted as 0.60"
		}
	}
	fmt.Fprintf(w, " needed     %s ft3 (%s)\n", thousands(float64(a.Required)), how)
	word := "ENOUGH"
	if !a.Sufficient {
		word = "NOT ENOUGH: openings are needed"
	}
	fmt.Fprintf(w, " there is   %s ft3, ratio %s: %s\n\n", thousands(float64(a.Space.Volume)), reading.Format(a.Ratio, 2), word)
	fmt.Fprintf(w, " Openings, net free area, in2                          beside   louvre over each\n")
	fmt.Fprintf(w, "                                        how          the air\n")
	fmt.Fprintf(w, "                                       many    each  indoors    metal     wood\n")
	for _, o := range a.Openings {
		switch o.Method {
		case forecast.IndoorSameStory:
			fmt.Fprintf(w, " joining other rooms, so that their volume counts too:\n")
		case forecast.OutdoorDirect:
			fmt.Fprintf(w, " air from outdoors, one of these lines:\n")
		}
		combined := "-"
		if o.Combined != nil {
			combined = reading.Format(float64(*o.Combined), 1)
		}
		metal, wood := o.Gross()
		name := methodText(o.Method)
		if o.Evidence == procedure.EvidenceMemory {
			name += " *"
		}
		fmt.Fprintf(w, "   %-37s%3d %7s  %7s  %7s  %7s\n", name, o.Count, o.Each, combined, metal, wood)
	}
	fmt.Fprintf(w, " * from memory\n\n")
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
	say("Source: %s (%s). Local code comes first.", a.Source, a.Evidence)
}
