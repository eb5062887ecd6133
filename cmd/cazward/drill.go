package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"cazward/limits/strict"
	"cazward/procedure/airflow"
	"cazward/procedure/practice"
	"cazward/procedure/reading"
)

// drillCmd is the practice side of the program.
func drillCmd(e *env) *cobra.Command {
	c := &cobra.Command{Use: "drill", Short: "practice houses, invented", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error { return c.Help() }}
	c.AddCommand(drillListCmd(e), drillNewCmd(e), drillCheckCmd(e), drillPlayCmd(e), drillDebriefCmd(e), drillStudyCmd(e))
	return c
}

func drillListCmd(e *env) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{Use: "list", Short: "the houses that come with the program", Args: cobra.NoArgs, RunE: func(*cobra.Command, []string) error {
		type house struct {
			Name   string `json:"name"`
			Title  string `json:"title"`
			Level  string `json:"level"`
			Aim    string `json:"aim"`
			SHA256 string `json:"sha256"`
		}
		out := []house{}
		for _, n := range practice.HouseNames() {
			h, _, err := practice.OpenHouse(n)
			if err != nil {
				return err
			}
			x := house{Name: h.Name, Title: h.Title, SHA256: h.SHA256}
			if h.Lesson != nil {
				x.Level, x.Aim = string(h.Lesson.Level), h.Lesson.Aim
			}
			out = append(out, x)
		}
		if asJSON {
			return writeJSON(e.out, out)
		}
		w := tabwriter.NewWriter(e.out, 0, 4, 2, ' ', 0)
		for _, x := range out {
			fmt.Fprintf(w, "%s\t%s\t%s\n", x.Name, x.Level, x.Title)
			for _, line := range wrap(x.Aim, 74) {
				fmt.Fprintf(w, "  %s\n", line)
			}
		}
		fmt.Fprintln(w, "All are invented. Try: cazward drill check "+out[0].Name)
		return w.Flush()
	}}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

func drillCheckCmd(e *env) *cobra.Command {
	var asJSON, schema bool
	var state string
	var sealed float64
	c := &cobra.Command{Use: "check HOUSE", Short: "every configuration of a practice house and its true worst case",
		Long: `check reads a practice house and solves its air flow in every configuration
of interior doors, fans and air handlers, or in the one state that --state
names. HOUSE is the path of a house file, - for standard input, or the name of
a house that comes with the program (cazward drill list).

--state door=closed,fan=on sets things by name; what it leaves out stays as at
a baseline: doors open, windows closed, fans, air handlers and burners off.
Positions: open or closed; on or off; fired or off.

A house whose lesson promises another worst case than it has is refused.

Where the house file plans a sealing, or --sealed gives one, the worst case is
found once more with that part of the leaks of the shell closed.

Pressures are those of a zone at its floor against still outdoor air at that
height; negative means that the zone is lower. Flow is positive from FROM to TO.`,
		Args: func(c *cobra.Command, args []string) error {
			if schema && len(args) == 0 {
				return nil
			}
			return cobra.ExactArgs(1)(c, args)
		},
		ValidArgs: practice.HouseNames(),
		RunE: func(c *cobra.Command, args []string) error {
			if schema {
				if len(args) > 0 {
					return usage("cazward drill check --schema", "--schema takes no house")
				}
				_, err := e.out.Write(practice.HouseSchema())
				return err
			}
			h, err := openHouse(args[0], e.in)
			var problems *strict.Problems
			if errors.As(err, &problems) { // each with its own hint
				e.problems(problems.List)
				return exitWith(exitRefused)
			}
			if err != nil {
				return err
			}
			m, err := h.Compile()
			if err != nil {
				return err // a house that was read whole compiles
			}
			part := h.Sealing
			if c.Flags().Changed("sealed") {
				part = sealed / 100
			}
			if c.Flags().Changed("state") {
				if c.Flags().Changed("sealed") { // by itself, a state is that of the house as it stands
					if err := m.Seal(part); err != nil {
						return err
					}
				}
				return checkState(e.out, h, m, state, asJSON)
			}
			return checkHouse(e, h, m, part, asJSON)
		}}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	c.Flags().StringVar(&state, "state", "", "one state: door=closed,fan=on,...")
	c.Flags().Float64Var(&sealed, "sealed", 0, "with that many percent of the shell's leaks closed")
	c.Flags().BoolVar(&schema, "schema", false, "print the JSON Schema of a house file")
	return c
}

// openHouse reads a house file, or a house that comes with the program: a bare
// name of one is that house, whatever files lie about.
func openHouse(arg string, in io.Reader) (*practice.House, error) {
	if h, ok, err := practice.OpenHouse(arg); ok {
		return h, err
	}
	if _, err := os.Stat(arg); arg != "-" && err != nil && !strings.ContainsAny(arg, "./\\") {
		return nil, refused(saying("give the path of a house file, - for standard input, or one of: %s", strings.Join(practice.HouseNames(), ", ")), "no file and no practice house is called %q", arg)
	}
	data, err := readBounded(arg, in)
	if err != nil {
		return nil, err
	}
	name := arg
	if arg == "-" {
		name = "standard input"
	}
	return practice.ReadHouse(filepath.ToSlash(name), data)
}

// noBalance is what is said of a state without a balance: never a number.
func noBalance(h *practice.House, set practice.Setting, err error) error {
	if practice.IsNotConverged(err) {
		return refused(saying("look there for an opening or a fan of unlikely size; cazward drill check %s --state looks at single states", h.Name),
			"house %q has no balance at %s: %v", h.Name, orRest(h.FormatSetting(set)), err)
	}
	var loose *airflow.LooseZonesError
	if errors.As(err, &loose) {
		return refused("give each of them a leak that stays when doors and windows are shut", "house %q at %s: %v", h.Name, orRest(h.FormatSetting(set)), err)
	}
	var impossible *practice.ImpossibleError
	if errors.As(err, &impossible) {
		return refused("look for an opening or a fan of unlikely size", "house %q at %s: %v", h.Name, orRest(h.FormatSetting(set)), err)
	}
	return err
}

func orRest(s string) string {
	if s == "" {
		return "rest"
	}
	return s
}

// zoneJSON, flowJSON: a number that is not known is null.
type zoneJSON struct {
	Name     string   `json:"name"`
	Pressure *float64 `json:"pressure_pa"`
}

type flowJSON struct {
	Name  string   `json:"name"`
	From  string   `json:"from"`
	To    string   `json:"to"`
	Flow  *float64 `json:"flow_cfm"`
	DP    *float64 `json:"dp_pa"`
	Mass  *float64 `json:"mass_kg_s"`
	Draft *float64 `json:"draft_pa,omitempty"` // vents only
}

type moveJSON struct {
	Name string   `json:"name"`
	From string   `json:"from"`
	To   string   `json:"to"`
	Flow *float64 `json:"flow_cfm"`
	Mass *float64 `json:"mass_kg_s"`
}

type stateJSON struct {
	House     string     `json:"house"`
	State     string     `json:"state"`
	Zones     []zoneJSON `json:"zones"`
	Junctions []zoneJSON `json:"junctions"`
	Links     []flowJSON `json:"links"`
	Fans      []moveJSON `json:"fans"`
	Residual  *float64   `json:"residual"`
	Status    string     `json:"status"`
}

func checkState(out io.Writer, h *practice.House, m *practice.Model, text string, asJSON bool) error {
	set, err := h.ParseSetting(text)
	if err != nil {
		return err
	}
	var sol airflow.Solution
	failed := m.Solve(set, &sol)
	if failed != nil && !practice.IsNotConverged(failed) {
		return noBalance(h, set, failed)
	}
	s := stateOf(h, m, set, &sol)
	if asJSON {
		if err := writeJSON(out, s); err != nil {
			return err
		}
	}
	if failed != nil {
		return noBalance(h, set, failed)
	}
	if asJSON {
		return nil
	}
	return printState(out, h, s)
}

// stateOf gathers a solution; without one every figure is null.
func stateOf(h *practice.House, m *practice.Model, set practice.Setting, sol *airflow.Solution) stateJSON {
	good := sol.Status == airflow.Converged
	known := func(v float64) *float64 {
		if !good {
			return nil
		}
		v += 0 // no minus on a zero
		return &v
	}
	n := &h.Network
	name := func(k airflow.Node) string {
		if k == airflow.Outside {
			return "outdoors"
		}
		return n.Zones[k].Name
	}
	s := stateJSON{House: h.Name, State: h.FormatSetting(set), Zones: []zoneJSON{}, Junctions: []zoneJSON{}, Links: []flowJSON{}, Fans: []moveJSON{}, Status: sol.Status.String(), Residual: known(sol.Residual)}
	for i, z := range n.Zones {
		x := zoneJSON{Name: z.Name}
		if good {
			x.Pressure = known(sol.Pressure[i])
		}
		if i < len(h.Zones) {
			s.Zones = append(s.Zones, x)
		} else {
			s.Junctions = append(s.Junctions, x)
		}
	}
	for i, l := range n.Links {
		if !m.InForce(i) {
			continue
		}
		x := flowJSON{Name: l.Name, From: name(l.From), To: name(l.To)}
		if good {
			f := sol.Links[i]
			x.Flow, x.DP, x.Mass = known(f.Volume/airflow.CFM), known(f.DP), known(f.Mass)
			if l.Law.Kind == airflow.KindVent {
				x.Draft = known(f.Draft)
			}
		}
		s.Links = append(s.Links, x)
	}
	for i, f := range n.Fans {
		x := moveJSON{Name: f.Name, From: name(f.From), To: name(f.To)}
		if good {
			x.Mass = known(sol.Fans[i])
			x.Flow = known(sol.Fans[i] / m.Density(f.From) / airflow.CFM)
		}
		s.Fans = append(s.Fans, x)
	}
	return s
}

func pa(v float64) string { return fmt.Sprintf("%8s", reading.Format(v, 2)) }

func printState(out io.Writer, h *practice.House, s stateJSON) error {
	fmt.Fprintf(out, "%s: %s, an invented house\n", h.Name, h.Title)
	for i, line := range wrap(strings.ReplaceAll(orRest(s.State), ",", " "), 71) {
		fmt.Fprintf(out, "%s%s\n", []string{"state: ", "       "}[min(i, 1)], line)
	}
	fmt.Fprintf(out, "status: %s, residual %.1e of the largest flow\n\n", s.Status, *s.Residual)
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "zone\t      Pa\tagainst still outdoor air at its floor\n")
	for _, z := range s.Zones {
		fmt.Fprintf(w, "%s\t%s\n", z.Name, pa(*z.Pressure))
	}
	for _, z := range s.Junctions {
		fmt.Fprintf(w, "%s\t%s\twhere vents meet\n", z.Name, pa(*z.Pressure))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(w, "\nopening\tfrom\tto\t    cfm\t     Pa\tdraft Pa\n")
	for _, l := range s.Links {
		fmt.Fprintf(w, "%s\t%s\t%s\t%7s\t%7s", l.Name, l.From, l.To, reading.Format(*l.Flow, 1), reading.Format(*l.DP, 2))
		if l.Draft != nil {
			fmt.Fprintf(w, "\t%s", reading.Format(*l.Draft, 1)+" "+vents(*l.Mass < 0))
		}
		fmt.Fprintln(w)
	}
	for _, f := range s.Fans {
		fmt.Fprintf(w, "%s\t%s\t%s\t%7s\t\tfan\n", f.Name, f.From, f.To, reading.Format(*f.Flow, 1))
	}
	return w.Flush()
}

// vents says which way a vent flows.
func vents(down bool) string {
	if down {
		return "spills"
	}
	return "draws"
}

func draftWords(pa float64, down bool) string {
	return "draft " + reading.Format(pa, 1) + ", " + vents(down)
}

type worstJSON struct {
	State string  `json:"state"`
	Zone  string  `json:"zone"`
	Net   float64 `json:"net_pa"`
}

type extremeZoneJSON struct {
	Zone     string     `json:"zone"`
	Baseline float64    `json:"baseline_pa"`
	Net      float64    `json:"net_pa"`
	State    string     `json:"state"`
	Costs    []costJSON `json:"costs"`
}

type costJSON struct {
	Name     string  `json:"name"`
	Position string  `json:"position"`
	Net      float64 `json:"net_pa_other_way"`
}

type draftJSON struct {
	Appliance string  `json:"appliance"`
	Vent      string  `json:"vent"`
	ColdDown  bool    `json:"cold_vent_backdrafts"`
	Worst     float64 `json:"draft_pa_worst"`
	Rest      float64 `json:"draft_pa_natural"`
	Spills    bool    `json:"spills_worst"`
	AtRest    bool    `json:"spills_natural"`
}

type extremeJSON struct {
	House          string            `json:"house"`
	Worst          *worstJSON        `json:"worst"`
	Configurations int               `json:"configurations"`
	Status         string            `json:"status"`
	Zones          []extremeZoneJSON `json:"zones"`
	Drafts         []draftJSON       `json:"drafts"`
	Sealed         *sealedJSON       `json:"sealed,omitempty"`      // the same house with part of its leaks closed
	Lesson         *bool             `json:"lesson_kept,omitempty"` // the worst case lies where the lesson says
}

type sealedJSON struct {
	Percent float64    `json:"percent"`
	Worst   *worstJSON `json:"worst"`
	Status  string     `json:"status"`
}

// checkHouse checks the house as it stands and, where that part of its leaks is
// to be closed, once more sealed.
func checkHouse(e *env, h *practice.House, m *practice.Model, part float64, asJSON bool) error {
	x, err := m.Check(e.ctx)
	var after practice.Extreme
	if err == nil && part != 0 {
		if err = m.Seal(part); err == nil {
			after, err = m.Check(e.ctx)
		}
	}
	if e.ctx.Err() != nil {
		return exitWith(exitInterrupt)
	}
	if err != nil && !practice.IsNotConverged(err) {
		return noBalance(h, x.Failed, err)
	}
	if asJSON {
		j := extremeOf(h, &x)
		if part != 0 {
			j.Sealed = &sealedJSON{part * 100, extremeOf(h, &after).Worst, after.Status.String()}
		}
		if werr := writeJSON(e.out, j); werr != nil {
			return werr
		}
	}
	if err != nil {
		return noBalance(h, x.Failed|after.Failed, err) // only the one that failed has any
	}
	if !asJSON {
		if err := printExtreme(e.out, h, &x, part, &after); err != nil {
			return err
		}
	}
	if h.Lesson == nil || h.Lesson.Expected.Kept(x.Worst) {
		return nil
	}
	w, said := x.Worst, h.Lesson.Expected
	return refused("let the lesson promise what the house does, or change the house", "house %q: its lesson promises a worst net of %s to %s Pa in %s; it is %s Pa in %s",
		h.Name, reading.Format(said.Lowest, -1), reading.Format(said.Highest, -1), said.Zone, reading.Format(w.Net, 2), w.Zone)
}

// extremeOf is the finding for machines; worst is null without a balance in
// every configuration.
func extremeOf(h *practice.House, e *practice.Extreme) extremeJSON {
	x := extremeJSON{House: h.Name, Configurations: e.Configurations, Status: e.Status.String(), Zones: []extremeZoneJSON{}, Drafts: []draftJSON{}}
	if e.Status != airflow.Converged {
		return x
	}
	x.Worst = &worstJSON{h.FormatSetting(e.Worst.Setting), e.Worst.Zone, e.Worst.Net + 0}
	if h.Lesson != nil {
		kept := h.Lesson.Expected.Kept(e.Worst)
		x.Lesson = &kept
	}
	for _, z := range e.Zones {
		y := extremeZoneJSON{Zone: z.Zone, Baseline: z.Baseline + 0, Net: z.Net + 0, State: h.FormatSetting(z.Setting), Costs: []costJSON{}}
		for _, c := range z.Costs {
			y.Costs = append(y.Costs, costJSON{c.Name, c.Position, c.Net + 0})
		}
		x.Zones = append(x.Zones, y)
	}
	for _, d := range e.Drafts {
		x.Drafts = append(x.Drafts, draftJSON{d.Appliance, d.Vent, d.ColdDown, d.Worst, d.Natural, d.SpillsWorst, d.SpillsAtRest})
	}
	return x
}

func printExtreme(out io.Writer, h *practice.House, e *practice.Extreme, part float64, after *practice.Extreme) error {
	fmt.Fprintf(out, "%s: %s, an invented house\n", h.Name, h.Title)
	fmt.Fprintf(out, "%d configurations of doors, fans and air handlers, each with a balance\n\n", e.Configurations)
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "worst case of\tbaseline\t reading\t net, Pa\n")
	for _, z := range e.Zones {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", z.Zone, pa(z.Baseline), pa(z.Baseline+z.Net), pa(z.Net))
	}
	for _, z := range after.Zones {
		fmt.Fprintf(w, "  with %s %% of the leaks sealed\t%s\t%s\t%s\n", reading.Format(part*100, 1), pa(z.Baseline), pa(z.Baseline+z.Net), pa(z.Net))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for _, z := range e.Zones {
		if len(z.Costs) == 0 {
			continue
		}
		fmt.Fprintf(w, "\n%s at worst case\t\tother way, net Pa\t    part\n", z.Zone)
		for _, c := range z.Costs {
			fmt.Fprintf(w, "  %s\t%s\t%17s\t%s\n", c.Name, c.Position, reading.Format(c.Net, 2), pa(z.Net-c.Net))
		}
		if err := w.Flush(); err != nil {
			return err
		}
	}
	if h.Lesson != nil && h.Lesson.Expected.Kept(e.Worst) {
		said := h.Lesson.Expected
		fmt.Fprintf(w, "\nlesson: %s, worst net %s to %s Pa in %s: the net is so\n", said.Decision, reading.Format(said.Lowest, -1), reading.Format(said.Highest, -1), said.Zone)
	}
	if len(e.Drafts) > 0 {
		fmt.Fprintf(w, "\nburner, fired alone\tvent cold, worst\tfired, worst\tfired, natural\n")
		for _, d := range e.Drafts {
			cold := "draws"
			if d.ColdDown {
				cold = "backdrafts"
			}
			fmt.Fprintf(w, "  %s\t%s\t%s\t%s\n", d.Appliance, cold, draftWords(d.Worst, d.SpillsWorst), draftWords(d.Natural, d.SpillsAtRest))
		}
	}
	return w.Flush()
}
