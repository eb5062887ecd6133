package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/journal/disk"
	"cazward/procedure/study"
)

// studyYardstick is the scheme whose limits judge every house of a study: one
// for all, so that ways of searching can be compared.
const studyYardstick = "graded-2005"

func drillStudyCmd(e *env) *cobra.Command {
	var houses int
	var seed uint64
	var out string
	var asJSON bool
	c := &cobra.Command{Use: "study", Short: "how often each scheme's order finds the true worst case",
		Long: `study draws houses, solves each in every configuration of its doors, fans and air
handlers, and walks it by each scheme's order: as that scheme's own text has it,
as the walk asks it, and with the readings that the walk suggests after it, each
of them taken; without noise, and with the usual practice gauge and the wind of
the house's day. It says how often what was held comes within 0.5 Pa of
the true worst case, by how much it falls short, how many readings that took, and
how often the verdict on the zone would be another.

The same houses and seed give the same figures. The houses are drawn: what they
are drawn from, and how far that is from real ones, is written where they are
made. A thousand houses take about a minute.`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if houses < 1 || houses > 1000000 {
				return usage("for example: cazward drill study --houses 500 --seed 1", "--houses %d: give 1 to 1000000", houses)
			}
			var ways []study.Way
			var yardstick []procedure.Limit
			for _, name := range limits.Names() {
				set, err := limits.Load(limits.Options{Scheme: name})
				if err != nil {
					return err
				}
				if name == studyYardstick {
					yardstick = set.Rules().Pressure
				}
				ways = append(ways, study.Ways(name, set.Plan(procedure.TestIn))...)
			}
			r, err := study.Run(e.ctx, seed, houses, ways, func(all []procedure.Appliance) (procedure.Bound, bool) { return strictest(yardstick, all) })
			if e.ctx.Err() != nil {
				return exitWith(exitInterrupt)
			}
			if err != nil {
				return err
			}
			if out != "" {
				if err := writeStudy(out, r); err != nil {
					return err
				}
				fmt.Fprintln(e.err, e.say("wrote %s and %s", shellName(filepath.Join(out, "study.md")), shellName(filepath.Join(out, "study.svg"))))
			}
			switch {
			case asJSON:
				return writeJSON(e.out, r)
			case out == "":
				return study.Markdown(e.out, r, studyMade(r))
			}
			return nil
		}}
	f := c.Flags()
	f.IntVar(&houses, "houses", 500, "how many houses to draw")
	f.Uint64Var(&seed, "seed", 1, "what they are drawn from")
	f.StringVarP(&out, "output", "o", "", "folder to write study.md and study.svg to")
	f.BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

func studyMade(r study.Report) string {
	return fmt.Sprintf("Made by `cazward drill study --houses %d --seed %d -o FOLDER`.", r.Houses, r.Seed)
}

// strictest limit of the appliances on which house pressure can act.
func strictest(rows []procedure.Limit, all []procedure.Appliance) (procedure.Bound, bool) {
	var b procedure.Bound
	found := false
	for _, a := range all {
		if a.Susceptible() == procedure.No {
			continue
		}
		if c := procedure.Match(rows, procedure.TraitsOf(a, all)); c.Found && (!found || c.Limit.Bound.Value > b.Value) {
			b, found = c.Limit.Bound, true
		}
	}
	return b, found
}

func writeStudy(folder string, r study.Report) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	return errors.Join(
		disk.WriteFile(filepath.Join(folder, "study.md"), func(w io.Writer) error { return study.Markdown(w, r, studyMade(r)) }),
		disk.WriteFile(filepath.Join(folder, "study.svg"), func(w io.Writer) error { return study.Picture(w, r) }))
}
