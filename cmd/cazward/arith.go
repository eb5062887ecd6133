package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"cazward/procedure/reading"
)

// airfreeCmd does the CO air-free arithmetic.
func airfreeCmd(e *env) *cobra.Command {
	var co, o2 float64
	var asJSON bool
	c := &cobra.Command{Use: "airfree --co PPM --o2 PERCENT", Short: "CO air-free from CO as measured and O2", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if !c.Flags().Changed("co") || !c.Flags().Changed("o2") {
				return usage("for example: cazward airfree --co 87 --o2 5", "both --co and --o2 are needed")
			}
			v, err := reading.AirFree(reading.Concentration(co), reading.Percent(o2))
			if err != nil {
				return refused("air itself is 20.9 % O2: take the sample undiluted, before the draft hood", "%v", err)
			}
			if asJSON {
				return writeJSON(e.out, map[string]float64{"co_air_free_ppm": float64(v)})
			}
			_, err = fmt.Fprintf(e.out, "CO air-free %s ppm (CO %s ppm as measured, O2 %s %%: CO x 20.9 / (20.9 - O2))\n", reading.Format(float64(v), 1), reading.Format(co, -1), reading.Format(o2, -1))
			return err
		}}
	c.Flags().Float64Var(&co, "co", 0, "CO as measured, ppm")
	c.Flags().Float64Var(&o2, "o2", 0, "O2 of the same sample, percent")
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

// convertCmd converts units. Negative values are ordinary arguments, so it
// reads its arguments itself.
func convertCmd(e *env) *cobra.Command {
	return &cobra.Command{Use: "convert VALUE FROM TO", Short: "convert a unit: convert -5 Pa inH2O", DisableFlagParsing: true,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 && (args[0] == "--help" || args[0] == "-h") {
				return c.Help()
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
				return refused("units: Pa inH2O mmH2O psf psi inHg F C K mph km/h m/s cfm L/s m3/h Btu/h kW ft3 m3 in2 cm2 ft m", "%v", err)
			}
			to, err := reading.ParseUnit(args[2])
			if err != nil {
				return refused("units: Pa inH2O mmH2O psf psi inHg F C K mph km/h m/s cfm L/s m3/h Btu/h kW ft3 m3 in2 cm2 ft m", "%v", err)
			}
			x, err := reading.Convert(v, from, to)
			if err != nil {
				return refused("both units must be of one kind", "%v", err)
			}
			_, err = fmt.Fprintf(e.out, "%s %s\n", fmt.Sprintf("%.7g", x), to)
			return err
		}}
}
