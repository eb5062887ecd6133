package main

import (
	"fmt"
	"io"
	"os"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"cazward/limits"
	"cazward/limits/strict"
	"cazward/procedure/reading"
)

func limitsCmd(e *env) *cobra.Command {
	c := &cobra.Command{Use: "limits", Short: "the editable tables of limits", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error { return c.Help() }}
	var asJSON bool
	var overlays []string

	list := &cobra.Command{Use: "list", Short: "the shipped schemes", Args: cobra.NoArgs, RunE: func(*cobra.Command, []string) error {
		type scheme struct {
			Name    string `json:"name"`
			Edition string `json:"edition"`
			Rows    int    `json:"rows"`
			SHA256  string `json:"sha256"`
			Status  string `json:"status"`
		}
		out := []scheme{}
		for _, n := range limits.Names() {
			s, err := loadLimits(n, nil)
			if err != nil {
				return err
			}
			r := s.Ref()
			out = append(out, scheme{r.Name, r.Edition, len(s.Rows()), r.SHA256, r.Status})
		}
		if asJSON {
			return writeJSON(e.out, out)
		}
		for _, s := range out {
			fmt.Fprintf(e.out, "%s  %s, %d rows\n  %s\n  sha256 %s\n", s.Name, s.Edition, s.Rows, s.Status, s.SHA256)
		}
		return nil
	}}
	show := &cobra.Command{Use: "show SCHEME", Short: "every row, its source and how sure we are of it", Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
		s, err := loadLimits(args[0], overlays)
		if err != nil {
			return err
		}
		if asJSON {
			return writeJSON(e.out, s.Rows())
		}
		r := s.Ref()
		fmt.Fprintf(e.out, "%s, %s (%s)\n%s\n\n", r.Title, r.Edition, r.Name, r.Status)
		w := tabwriter.NewWriter(e.out, 0, 4, 2, ' ', 0)
		topic := ""
		for _, row := range s.Rows() {
			if row.Topic != topic {
				topic = row.Topic
				fmt.Fprintf(w, "%s\n", topic)
			}
			v := row.Means
			if row.Value != nil {
				v = reading.Format(*row.Value, -1) + " " + row.Unit
				if row.Means != "" {
					v += ", " + row.Means
				}
			}
			mark := row.Evidence
			if row.Checked != "" {
				mark = "checked: " + row.Checked
			}
			if row.Edited {
				mark += ", edited"
			}
			fmt.Fprintf(w, "  %s\t%s\t[%s]\n\t  for: %s\n\t  source: %s\n", row.ID, v, mark, row.Applies, row.Source)
		}
		return w.Flush()
	}}
	check := &cobra.Command{Use: "check FILE", Short: "list every problem of a table or overlay", Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
		data, err := readBounded(args[0], e.in)
		if err != nil {
			return err
		}
		problems := limits.Check(args[0], data)
		if asJSON {
			if problems == nil {
				problems = []strict.Problem{}
			}
			if err := writeJSON(e.out, problems); err != nil {
				return err
			}
		}
		for _, p := range problems {
			fmt.Fprintf(e.err, "cazward: error: %s\n", p)
			if p.Hint != "" {
				fmt.Fprintf(e.err, "cazward: hint: %s\n", p.Hint)
			}
		}
		if len(problems) > 0 {
			return exitWith(exitRefused)
		}
		if !asJSON {
			fmt.Fprintf(e.out, "%s: good\n", args[0])
		}
		return nil
	}}
	explain := &cobra.Command{Use: "explain RECORD", Short: "which row applies to each appliance, why, and which were passed over", Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
		l, err := load(args[0], "", overlays)
		if err != nil {
			return err
		}
		ex := limits.Explain(l.rules, l.obs)
		if asJSON {
			return writeJSON(e.out, ex)
		}
		for _, x := range ex {
			if x.Row == "" {
				fmt.Fprintf(e.out, "%s: no figure in this scheme\n", x.Name)
			} else {
				fmt.Fprintf(e.out, "%s: %s, %s %s [%s] %s\n", x.Name, x.Row, reading.Format(*x.Limit, -1), x.Unit, x.Evidence, x.Source)
			}
			for _, u := range x.Unsure {
				fmt.Fprintf(e.out, "  not known: %s; the strictest row that could apply was taken\n", u)
			}
			for _, p := range x.Passed {
				fmt.Fprintf(e.out, "  passed over: %s (%s)\n", p.Row, p.Why)
			}
		}
		return nil
	}}
	for _, s := range []*cobra.Command{list, show, check, explain} {
		s.Flags().BoolVar(&asJSON, "json", false, "as JSON")
		if s != list && s != check {
			s.Flags().StringArrayVar(&overlays, "limits", nil, "overlay file on the scheme")
		}
		c.AddCommand(s)
	}
	return c
}

// readBounded reads a file, or standard input for "-", and stops reading
// beyond what any table or sheet may hold.
func readBounded(path string, in io.Reader) ([]byte, error) {
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return nil, refused("give the path of a file, or - for standard input", "%v", err)
		}
		defer f.Close()
		in = f
	}
	data, err := io.ReadAll(io.LimitReader(in, maxSheet+1))
	if err != nil {
		return nil, refused("give the path of a file, or - for standard input", "%s: %v", path, err)
	}
	return data, nil
}
