package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"cazward/procedure"
	"cazward/procedure/journal/disk"
	"cazward/procedure/reading"
	"cazward/procedure/register"
	"cazward/procedure/wording"
	reports "cazward/report"
	"cazward/report/page"
)

func (d *desk) trendCmd() *cobra.Command {
	var by, out string
	var asCSV, asJSON bool
	var q filterFlags
	c := &cobra.Command{Use: "trend", Short: "outcomes, net depressurization, draft and spillage by month, crew, appliance, scheme or phase", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			g := register.GroupBy(by)
			if !listed(register.Groups, g) {
				return usage(saying("groups are %s", joined(register.Groups)), "no group is called %q", reports.Clean(by))
			}
			if asCSV && asJSON || out != "" && (asCSV || asJSON) {
				return usage("--json, --csv or -o FILE.html, one of them", "these flags do not go together")
			}
			if ext := strings.ToLower(filepath.Ext(out)); out != "" && ext != ".html" && ext != ".csv" {
				return usage("suffixes are .html and .csv", "no trend has the suffix %q", ext)
			}
			f, err := q.filter()
			if err != nil {
				return err
			}
			s, err := d.open(false)
			if err != nil {
				return err
			}
			defer s.Close()
			rows, err := d.trend(s, f, g)
			if err != nil {
				return err
			}
			switch {
			case asJSON:
				return writeJSON(d.e.out, rows)
			case asCSV:
				return trendCSV(d.e.out, rows)
			case out != "":
				write := func(w io.Writer) error {
					return page.TrendFile(w, page.Frame{Lang: d.l(), Force: d.by.force}, page.TrendView{Query: page.Query{By: g}, Rows: rows})
				}
				if strings.ToLower(filepath.Ext(out)) == ".csv" {
					write = func(w io.Writer) error { return trendCSV(w, rows) }
				}
				if err := disk.WriteFile(out, write); err != nil {
					return err
				}
				d.e.wrote(out)
				return nil
			}
			return trendText(d, rows)
		}}
	c.Flags().StringVar(&by, "by", "month", joined(register.Groups))
	c.Flags().StringVarP(&out, "output", "o", "", "file to write: .html with charts, or .csv")
	c.Flags().BoolVar(&asCSV, "csv", false, "as CSV")
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	q.flags(c)
	return c
}

// trend gathers what a filter shows, accepted homes too.
func (d *desk) trend(s register.Store, f register.Filter, by register.GroupBy) ([]register.TrendRow, error) {
	f.Accepted = true
	t := register.NewTrend(by)
	var key int64
	for {
		list, err := s.Page(d.e.ctx, f, key, pageSize)
		if err != nil {
			return nil, d.wrong(err)
		}
		for _, e := range list {
			t.Add(e)
		}
		if len(list) < pageSize {
			return t.Rows(), nil
		}
		key = list[len(list)-1].Key
	}
}

var trendDecisions = append(slices.Clone(procedure.Decisions), procedure.NoDecision)

func num(v *float64, decimals int) string {
	if v == nil {
		return ""
	}
	return reading.Format(*v, decimals)
}

func trendCSV(to io.Writer, rows []register.TrendRow) error {
	w := csv.NewWriter(to)
	head := []string{"group", "phase", "homes"}
	for _, x := range trendDecisions {
		head = append(head, strings.ReplaceAll(word(x), " ", "_"))
	}
	head = append(head, "net_n", "net_q1_pa", "net_median_pa", "net_q3_pa", "net_worst_pa", "draft_n", "draft_margin_q1_pa", "draft_margin_median_pa", "draft_margin_q3_pa", "draft_margin_worst_pa",
		"spill_n", "spill_q1_s", "spill_median_s", "spill_q3_s", "spill_worst_s", "worst_configuration", "worst_configuration_zones")
	if err := w.Write(head); err != nil {
		return err
	}
	for _, r := range rows {
		row := []string{cell(r.Group), string(r.Phase), fmt.Sprint(r.Homes)}
		for _, x := range trendDecisions {
			row = append(row, fmt.Sprint(r.Decisions[word(x)]))
		}
		for _, s := range []register.Spread{r.Net, r.Draft, r.Spill} {
			row = append(row, fmt.Sprint(s.N), num(s.Q1, 2), num(s.Median, 2), num(s.Q3, 2), num(s.Worst, 2))
		}
		c, n := "", 0
		if len(r.Configs) > 0 {
			c, n = r.Configs[0].Config, r.Configs[0].Zones
		}
		if err := w.Write(append(row, cell(c), fmt.Sprint(n))); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

func trendText(d *desk, rows []register.TrendRow) error {
	if len(rows) == 0 {
		_, err := fmt.Fprintln(d.e.out, d.says("trend.none"))
		return err
	}
	for _, r := range rows {
		group := reports.Clean(r.Group)
		if group == "" {
			group = d.says("trend.unknown")
		}
		fmt.Fprintln(d.e.out, d.says("trend.group", "group", group, "phase", wording.DeskPhase(d.l(), r.Phase), "n", fmt.Sprint(r.Homes)))
		var shares []string
		for _, x := range trendDecisions {
			if n := r.Decisions[word(x)]; n > 0 {
				shares = append(shares, fmt.Sprintf("%s %d (%s %%)", wording.DeskDecision(d.l(), x), n, reading.Format(100*float64(n)/float64(r.Homes), 0)))
			}
		}
		wrapped(d.e.out, "  ", strings.Join(shares, ", "))
		for _, x := range []struct {
			what, unit string
			s          register.Spread
			decimals   int
		}{{"trend.net", "Pa", r.Net, 1}, {"trend.draft", "Pa", r.Draft, 1}, {"trend.spill", "s", r.Spill, 0}} {
			if x.s.N > 0 {
				wrapped(d.e.out, "  ", d.says("trend.spread", "what", d.says(x.what), "q1", num(x.s.Q1, x.decimals), "q3", num(x.s.Q3, x.decimals), "unit", x.unit, "median", num(x.s.Median, x.decimals), "worst", num(x.s.Worst, x.decimals), "n", fmt.Sprint(x.s.N)))
			}
		}
		for _, c := range r.Configs[:min(3, len(r.Configs))] {
			wrapped(d.e.out, "  ", d.says("trend.worst", "config", wording.DeskConfig(d.l(), c.Config), "n", fmt.Sprint(c.Zones), "of", fmt.Sprint(r.Net.N)))
		}
	}
	return nil
}
