package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"cazward/procedure/reading"
)

type airfreeFlags struct {
	co, o2, co2, fuel, co2max, airFree string
	asJSON                             bool
}

// airfreeCmd does the CO air-free arithmetic, both ways.
func airfreeCmd(e *env) *cobra.Command {
	var o airfreeFlags
	c := &cobra.Command{Use: "airfree --co PPM --o2 PERCENT", Short: "CO air-free from CO as measured and O2 or CO2, and back",
		Long: `CO air-free: what the CO would be without excess air in the flue gas.

By O2:  CO x 20.9 / (20.9 - O2), refused at 20.9 % and above.
By CO2: CO x ultimate CO2 / CO2, the ultimate of the fuel being from memory:
        gas 11.7 to 12.2, propane 13.7 to 14.0, oil 15.2 to 15.6 %. The higher
        end is used, which gives the higher CO; --co2-max names another.
Back:   --air-free in place of --co gives CO as an analyser would show it.

A diluted sample is flagged: take it before the draft hood. The figure for one
is arithmetic, not evidence.`,
		Example: `  cazward airfree --co 87 --o2 5
  cazward airfree --co 87 --co2 8 --fuel gas
  cazward airfree --air-free 114.4 --o2 5`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return airfree(e, o) }}
	f := c.Flags()
	f.StringVar(&o.co, "co", "", "CO as measured, `PPM`")
	f.StringVar(&o.o2, "o2", "", "O2 of the same sample, `PERCENT`")
	f.StringVar(&o.co2, "co2", "", "CO2 of the sample, `PERCENT`, where O2 was not read")
	f.StringVar(&o.fuel, "fuel", "", "with --co2: `FUEL` gas, propane or oil")
	f.StringVar(&o.co2max, "co2-max", "", "ultimate CO2 of the fuel, `PERCENT`, in place of --fuel")
	f.StringVar(&o.airFree, "air-free", "", "CO air-free, `PPM`, to be taken back to as measured")
	f.BoolVar(&o.asJSON, "json", false, "as JSON")
	return c
}

func airfree(e *env, o airfreeFlags) error {
	if (o.co == "") == (o.airFree == "") || (o.o2 == "") == (o.co2 == "") {
		return usage("for example: cazward airfree --co 87 --o2 5", "both --co and --o2 are needed (or --air-free for --co, --co2 for --o2; one of each)")
	}
	if o.co2 != "" && (o.fuel == "") == (o.co2max == "") {
		return usage("add --fuel gas, propane or oil", "--co2 needs either --fuel or --co2-max")
	}
	if o.co2 == "" && (o.fuel != "" || o.co2max != "") {
		return usage("the O2 route does not need them", "--fuel and --co2-max go with --co2")
	}
	num := quantity
	o2, how, err := o.sampleO2(num)
	if err != nil {
		return err
	}
	undiluted := saying("air itself is 20.9 %% O2: take the sample undiluted, before the draft hood")
	var co, af reading.Concentration
	if o.co != "" {
		v, err := num("co", o.co, reading.UnitPPM)
		if err != nil {
			return err
		}
		co = reading.Concentration(v)
		if af, err = reading.AirFree(co, o2); err != nil {
			return refused(undiluted, "--o2: %v", err)
		}
	} else {
		v, err := num("air-free", o.airFree, reading.UnitPPM)
		if err != nil {
			return err
		}
		af = reading.Concentration(v)
		if co, err = reading.AsMeasured(af, o2); err != nil {
			return refused(undiluted, "--o2: %v", err)
		}
	}
	set, err := loadLimits("", nil)
	if err != nil {
		return err
	}
	over := set.Rules().DilutedO2
	diluted := over > 0 && float64(o2) > over
	if o.asJSON {
		err = writeJSON(e.out, struct {
			AirFree float64 `json:"co_air_free_ppm"`
			CO      float64 `json:"co_ppm"`
			O2      float64 `json:"o2_percent"`
			Diluted bool    `json:"diluted"`
		}{float64(af), float64(co), float64(o2), diluted})
	} else if o.co != "" {
		_, err = fmt.Fprintf(e.out, "CO air-free %s ppm (CO %s ppm as measured, %s)\n", reading.Format(float64(af), 1), reading.Format(float64(co), -1), how)
	} else {
		_, err = fmt.Fprintf(e.out, "CO as measured %s ppm (CO air-free %s ppm, %s)\n", reading.Format(float64(co), 1), reading.Format(float64(af), -1), how)
	}
	if err == nil && diluted {
		e.note("O2 of %s %% is over %s %%: the sample is diluted; take it before the draft hood", reading.FormatNear(float64(o2), over, 1), reading.Format(over, -1))
	}
	return err
}

// sampleO2 is the O2 of the sample, read or inferred from CO2, and the formula
// in words.
func (o airfreeFlags) sampleO2(num func(flag, text string, u reading.Unit) (float64, error)) (reading.Percent, string, error) {
	if o.o2 != "" {
		v, err := num("o2", o.o2, reading.UnitPercent)
		return reading.Percent(v), fmt.Sprintf("O2 %s %%: CO x 20.9 / (20.9 - O2)", reading.Format(v, -1)), err
	}
	co2, err := num("co2", o.co2, reading.UnitPercent)
	if err != nil {
		return 0, "", err
	}
	var ultimate reading.Percent
	from := "given"
	if o.co2max != "" {
		v, err := num("co2-max", o.co2max, reading.UnitPercent)
		if err != nil {
			return 0, "", err
		}
		ultimate = reading.Percent(v)
	} else {
		lo, hi, ok := reading.UltimateCO2(o.fuel)
		if !ok {
			return 0, "", refused("gas, propane or oil; for another fuel give --co2-max", "no ultimate CO2 is known for %q", o.fuel)
		}
		ultimate, from = hi, fmt.Sprintf("from memory, %s to %s", lo, hi)
	}
	o2, err := reading.O2FromCO2(reading.Percent(co2), ultimate)
	if err != nil {
		return 0, "", refused(saying("CO2 lies above 0 and not above the ultimate of the fuel, %s %%", ultimate), "%v", err)
	}
	return o2, fmt.Sprintf("CO2 %s %%: CO x %s / CO2, ultimate CO2 %s", reading.Format(co2, -1), ultimate, from), nil
}

const unitList = "Pa inH2O inH2O_39F inH2O_60F mmH2O psf psi inHg F C K mph km/h m/s cfm L/s m3/h m3/s Btu/h kW W ft3 m3 in2 cm2 m2 ft m s min ppm %"

// convertCmd converts units. Negative values are ordinary arguments, so it
// reads its arguments itself.
func convertCmd(e *env) *cobra.Command {
	return &cobra.Command{Use: "convert VALUE FROM TO", Short: "convert a unit: convert -5 Pa inH2O; look at a gauge's log: convert --log FILE", DisableFlagParsing: true,
		Long: `Convert a unit. Factors are exact (NIST SP 811). Negative values are ordinary
arguments. Temperatures are points on the scale.

An inch of water depends on the temperature of the water:
  inH2O      conventional, 249.08891 Pa: water of 1000 kg/m3, as at 4 C (39 F)
  inH2O_39F  water at 39.2 F (4 C), 249.082 Pa as listed
  inH2O_60F  water at 60 F, 248.84 Pa as listed
  mmH2O      conventional, 9.80665 Pa
They differ by 0.1 %. Most gauges mean the conventional one (common practice).

` + strings.Join(wrap("units: "+unitList, columns), "\n") + `

` + logHelp,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 && (args[0] == "--help" || args[0] == "-h") {
				return c.Help()
			}
			if len(args) > 0 && strings.HasPrefix(args[0], "--log") {
				return convertLog(e, args)
			}
			if len(args) != 3 {
				return usage("for example: cazward convert -5 Pa inH2O", "convert takes a value, its unit and the unit wanted")
			}
			v, err := reading.ParseNumber(strings.TrimPrefix(args[0], "+"))
			if err != nil {
				return refused("a plain number such as -5 or 0.02", "%v", err)
			}
			from, err := reading.ParseUnit(args[1])
			if err != nil {
				return refused(saying("units: %s", unitList), "%v", err)
			}
			to, err := reading.ParseUnit(args[2])
			if err != nil {
				return refused(saying("units: %s", unitList), "%v", err)
			}
			x, err := reading.Convert(v, from, to)
			if err != nil {
				return refused("both units must be of one kind, and a temperature not below absolute zero", "%v", err)
			}
			if x == 0 {
				x = 0 // no minus on zero
			}
			if _, err = fmt.Fprintf(e.out, "%s %s\n", fmt.Sprintf("%.7g", x), to); err != nil {
				return err
			}
			for _, u := range []reading.Unit{from, to} {
				if t := waterText(u); t != "" {
					fmt.Fprintf(e.err, "cazward: note: %s\n", t)
				}
				if from == to {
					break
				}
			}
			return nil
		}}
}

// waterText says which water a unit of water column means.
func waterText(u reading.Unit) string {
	switch u {
	case reading.UnitInH2O:
		return "inH2O is the conventional inch of water, 249.08891 Pa (water of 1000 kg/m3, as at 4 C, 39 F); inH2O_60F is the one of water at 60 F"
	case reading.UnitInH2O39F:
		return "inH2O_39F is the inch of water at 39.2 F (4 C), 249.082 Pa"
	case reading.UnitInH2O60F:
		return "inH2O_60F is the inch of water at 60 F, 248.84 Pa"
	case reading.UnitMmH2O:
		return "mmH2O is the conventional millimetre of water, 9.80665 Pa (water of 1000 kg/m3, as at 4 C, 39 F)"
	}
	return ""
}
