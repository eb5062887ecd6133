package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
	reports "cazward/report"
	reportjson "cazward/report/json"
	"cazward/report/text"
)

// loaded is a record read, replayed and judged.
type loaded struct {
	path  string
	rec   journal.Record
	st    *sequence.State
	obs   procedure.Observations
	set   *limits.Set
	rules procedure.Rules
	j     procedure.Judgement
}

// load reads a record and judges it, under the scheme it was planned with
// unless another is named.
func load(path, scheme string, overlays []string) (*loaded, error) {
	return loadBy(path, scheme, func(name string) (*limits.Set, error) { return loadLimits(name, overlays) })
}

// loadBy is load with the table of a scheme from elsewhere.
func loadBy(path, scheme string, table func(scheme string) (*limits.Set, error)) (*loaded, error) {
	l, err := loadToday(path, scheme, table)
	if err == nil && scheme == "" {
		err = sameTable(path, l.st.Plan().Scheme, l.set)
	}
	if err != nil {
		return nil, err
	}
	return l, nil
}

// loadToday is loadBy under the table of today, for comparing the two.
func loadToday(path, scheme string, table func(scheme string) (*limits.Set, error)) (*loaded, error) {
	rec, err := disk.Load(path)
	if err != nil {
		return nil, err
	}
	st, err := sequence.Replay(rec.Header, rec.Events)
	if err != nil {
		return nil, failed(exitIntegrity, saying("cazward verify %s", path), "%s: %v", path, err)
	}
	if scheme == "" {
		scheme = st.Plan().Scheme.Name
	}
	set, err := table(scheme)
	if err != nil {
		return nil, err
	}
	l := &loaded{path: path, rec: rec, st: st, obs: st.Observations(), set: set, rules: set.Rules()}
	l.j = evaluation.Judge(l.obs, l.rules)
	l.j.Findings = l.rules.Marked(l.j.Findings)
	return l, nil
}

func (l *loaded) input() reports.Input {
	return reports.Input{Header: l.rec.Header, Events: l.rec.Events, Observations: l.obs, Judgement: l.j, CloseHash: l.rec.CloseHash, Head: l.rec.Head, Closed: l.rec.Closed, Rules: l.rules, Lang: wording.English, ProgramVersion: version}
}

// object is the record's judgement for machines.
func (l *loaded) object() reportjson.Object {
	return reportjson.Judgement(l.rec.Header, l.j, l.rec.Closed)
}

func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

func showCmd(e *env) *cobra.Command {
	var asJSON bool
	var overlays []string
	c := &cobra.Command{Use: "show RECORD", Short: "where the test stands, readings, findings, decision", Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			l, err := load(args[0], "", overlays)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(e.out, l.object())
			}
			if step, ok := l.st.Next(); ok {
				with := "cazward walk " + calmed(args[0])
				if p := l.rec.Header.Practice; p != nil && !isDemo(p) {
					with = "cazward drill play " + shellName(p.House) + " -o " + shellName(args[0])
				}
				fmt.Fprintf(e.out, "open: %d kept, next is %s (%s). Go on with: %s\n\n", l.st.Last(), wording.For(wording.English, step, l.st.Plan()).Question, step.ID, with)
			}
			in := l.input()
			in.Photos = photos(args[0], in.Events)
			return text.Write(e.out, reports.Build(in))
		}}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	c.Flags().StringArrayVar(&overlays, "limits", nil, "overlay file on the scheme")
	return c
}

func judgeCmd(e *env) *cobra.Command {
	var asJSON, all bool
	var scheme string
	var overlays []string
	c := &cobra.Command{Use: "judge RECORD...", Short: "evaluate records again; the exit code is the decision's", Args: cobra.MinimumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			worst := procedure.NoDecision
			var out []any
			var bad error
			schemes := []string{scheme}
			if all {
				schemes = limits.Names()
			}
			for _, path := range args {
				for _, sc := range schemes {
					files := overlays
					var err error
					if all {
						files, err = ofScheme(sc, overlays)
					}
					var l *loaded
					if err == nil {
						l, err = load(path, sc, files)
					}
					if err != nil {
						report(e.err, e.told(err))
						if bad == nil || exitCodeOf(err) == exitIntegrity {
							bad = exitWith(exitCodeOf(err))
						}
						continue
					}
					worst = procedure.MoreProtective(worst, l.j.Decision)
					if asJSON {
						out = append(out, l.object())
						continue
					}
					name := func(id string) string { return nameOf(l.obs, id) }
					var unasked []string
					for _, n := range l.j.NotAsked {
						unasked = append(unasked, wording.KeyText(wording.English, n, name))
					}
					fmt.Fprintf(e.out, "%s: %s: %s %s (%s)", calmed(path), l.j.Scheme.Name, l.j.Decision.SignalWord(), wording.Headline(wording.English, l.j.Decision, l.obs.Phase, len(l.j.Missing)), l.j.Decision)
					if all && len(unasked) > 0 {
						fmt.Fprintf(e.out, "; not asked under %s: %s", l.st.Plan().Scheme.Name, strings.Join(unasked, ", "))
					}
					fmt.Fprintln(e.out)
					if all {
						continue
					}
					for _, n := range unasked {
						fmt.Fprintf(e.out, "  not evaluated %s: not asked under %s\n", n, l.st.Plan().Scheme.Name)
					}
					for _, f := range l.j.Findings {
						fmt.Fprintf(e.out, "  %-13s %s\n", f.Verdict, wording.Reason(wording.English, f, name))
					}
					for _, m := range l.j.Missing {
						fmt.Fprintf(e.out, "  missing       %s\n", wording.MissingText(wording.English, m, name))
					}
				}
			}
			if asJSON {
				var err error
				if len(out) == 1 && len(args) == 1 {
					err = writeJSON(e.out, out[0])
				} else if len(out) > 0 {
					err = writeJSON(e.out, out)
				}
				if err != nil {
					return err
				}
			}
			if bad != nil {
				return bad
			}
			return decided(worst)
		}}
	f := c.Flags()
	f.BoolVar(&asJSON, "json", false, "as JSON; one object per record, an array for several")
	f.BoolVar(&all, "all-schemes", false, "one line for each shipped scheme")
	f.StringVar(&scheme, "scheme", "", "judge by another scheme than the one that was walked")
	f.StringArrayVar(&overlays, "limits", nil, "overlay file on the scheme")
	return c
}

// exitCodeOf is the code that report would return, without saying anything.
func exitCodeOf(err error) int { return report(io.Discard, err) }

// localize gives things that the program named itself their names in the
// language of the report, whatever language the test was walked in. What the
// judge calls by name follows, so that it is found again under it.
func localize(l wording.Lang, o *procedure.Observations, j *procedure.Judgement) {
	renamed := map[string]string{}
	local := func(kind, name string) string {
		renamed[name] = wording.LocalName(l, kind, name)
		return renamed[name]
	}
	again := func(name string) string {
		if n, ok := renamed[name]; ok {
			return n
		}
		return name
	}
	o.Zones, o.Appliances = slices.Clone(o.Zones), slices.Clone(o.Appliances)
	for i, z := range o.Zones {
		o.Zones[i].Name = local(strings.TrimRight(z.ID, "-0123456789"), z.Name)
	}
	for i, a := range o.Appliances {
		o.Appliances[i].Name = local(string(a.Kind), a.Name)
	}
	for _, list := range []*[]procedure.RosterItem{&o.Fans, &o.Doors, &o.AirHandlers} {
		*list = slices.Clone(*list)
		for i, it := range *list {
			(*list)[i].Name = local(it.Kind, it.Name)
		}
	}
	j.Appliances, j.WorstCase = slices.Clone(j.Appliances), slices.Clone(j.WorstCase)
	for i, a := range j.Appliances {
		j.Appliances[i].Name = again(a.Name)
	}
	for i := range j.WorstCase {
		w := &j.WorstCase[i]
		w.Zone = again(w.Zone)
		for _, list := range []*[]string{&w.Config.Fans, &w.Config.Doors} {
			*list = slices.Clone(*list)
			for k, name := range *list {
				(*list)[k] = again(name)
			}
		}
		on := strings.Split(w.Config.AirHandler, ", ")
		for k, name := range on {
			on[k] = again(name)
		}
		w.Config.AirHandler = strings.Join(on, ", ")
	}
}

func sameFile(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}

func verifyCmd(e *env) *cobra.Command {
	var expect string
	var asJSON bool
	c := &cobra.Command{Use: "verify RECORD...", Short: "integrity of records", Args: cobra.MinimumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			var all []journal.VerifyResult
			type row struct {
				Path  string `json:"path"`
				Word  string `json:"word"`
				Close string `json:"close_hash"`
				Head  string `json:"head"`
				Why   string `json:"why"`
				Line  int    `json:"line"`
			}
			var rows []row
			var hint phrase
			unread := false
			for _, path := range args {
				b, err := os.ReadFile(path)
				if err != nil {
					report(e.err, e.told(refused("give the path of a record", "%v", err)))
					unread = true
					continue
				}
				r := journal.Verify(b, journal.VerifyOptions{Expect: expect, Attachment: disk.Attachments(path)})
				all = append(all, r)
				rows = append(rows, row{path, string(r.Word), r.CloseHash, r.Head, r.Text, r.Line})
				if !asJSON {
					line := fmt.Sprintf("%s: %s", path, r.Word)
					if r.CloseHash != "" {
						line += ", closing hash " + r.CloseHash
					}
					if r.Line > 0 {
						line += fmt.Sprintf(", line %d", r.Line)
					}
					if r.Text != "" {
						line += ": " + r.Text
					}
					fmt.Fprintln(e.out, calmed(line))
				}
				switch {
				case r.Why == journal.WhyExpected:
					hint = saying("the hash is of another file or of another state of it: look for that copy")
				case r.Why == journal.WhyFormat:
					hint = saying("%s", foreign((&journal.Error{Code: journal.CodeNotRecord}).Hint()))
				case r.Word == journal.Damaged:
					hint = saying("%s", foreign((&journal.Error{Code: journal.CodeDamaged, Why: r.Why}).Hint()))
				}
			}
			sayHint(e.err, e.lang, hint.in(e.lang))
			if asJSON {
				if err := writeJSON(e.out, rows); err != nil {
					return err
				}
			}
			code := journal.Worst(all...)
			if unread {
				code = max(code, exitRefused)
			}
			if code != 0 {
				return exitWith(code)
			}
			return nil
		}}
	c.Flags().StringVar(&expect, "expect", "", "hash that the last line must have")
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}
