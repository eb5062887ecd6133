package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"cazward/limits/strict"
	"cazward/procedure/journal/disk"
	"cazward/procedure/practice"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

type debriefOptions struct {
	out, house, rubric string
	asJSON             bool
	limits             []string
	lang               wording.Lang
}

func drillDebriefCmd(e *env) *cobra.Command {
	var o debriefOptions
	var printRubric bool
	var lang string
	c := &cobra.Command{Use: "debrief RECORD|DIR", Short: "what was true, what the trainee found, what each miss cost",
		Long: `debrief plays a practice record again in its house and holds what was answered
against what was true: the worst case out of every configuration, what was
found of it, what each thing left out cost in pascals, safety steps late or
skipped, time per stage, the points by a rubric, and three things to work on.

With -o the suffix says what is written: .pdf, .txt or .json. Of a folder, each
practice record in it gets one line of a class sheet, -o class.pdf or class.csv.

A house that does not come with the program is named with --house FILE.
--print-rubric prints the standard rubric, to be edited and given with --rubric.`,
		Args: func(c *cobra.Command, args []string) error {
			if printRubric && len(args) == 0 {
				return nil
			}
			return cobra.ExactArgs(1)(c, args)
		},
		RunE: func(_ *cobra.Command, args []string) error {
			if printRubric {
				if len(args) > 0 {
					return usage("cazward drill debrief --print-rubric", "--print-rubric takes no record")
				}
				_, err := e.out.Write(practice.StandardRubric())
				return err
			}
			r, err := rubricOf(e, o.rubric)
			if err == nil {
				o.lang, err = language(lang)
			}
			if err != nil {
				return err
			}
			if st, err := os.Stat(args[0]); err == nil && st.IsDir() {
				return debriefClass(e, args[0], r, o)
			}
			return debriefOne(e, args[0], r, o)
		}}
	f := c.Flags()
	f.StringVarP(&o.out, "output", "o", "", "file to write: .pdf, .txt, .json; of a folder .pdf, .csv")
	f.BoolVar(&o.asJSON, "json", false, "as JSON")
	f.StringVar(&o.house, "house", "", "the house file, where it does not come with the program")
	f.StringVar(&o.rubric, "rubric", "", "rubric file in place of the standard one")
	f.StringVar(&lang, "lang", "en", "en or es; the rubric's own words as far as it has them")
	f.BoolVar(&printRubric, "print-rubric", false, "print the standard rubric")
	f.StringArrayVar(&o.limits, "limits", nil, "overlay file on the scheme")
	return c
}

func rubricOf(e *env, path string) (practice.Rubric, error) {
	if path == "" {
		return practice.ReadRubric("standard.rubric.yaml", practice.StandardRubric())
	}
	data, err := readBounded(path, e.in)
	if err != nil {
		return practice.Rubric{}, err
	}
	r, err := practice.ReadRubric(filepath.ToSlash(path), data)
	var problems *strict.Problems
	if errors.As(err, &problems) { // each with its own hint
		e.problems(problems.List)
		return r, exitWith(exitRefused)
	}
	return r, err
}

// ofDemo is why no demonstration is debriefed: it has no house events, so what
// was done to the house cannot be held against how it stood.
var (
	ofDemo   = saying("of the demonstration: that house sets itself by the answers, so the record does not keep how it stood")
	playDemo = saying("play that house yourself, then debrief that record: cazward drill play %s -o played%s", practice.DemoName, recordSuffix)
)

// debriefOf looks back at one record.
func debriefOf(e *env, path string, r practice.Rubric, o debriefOptions) (practice.Debrief, error) {
	l, err := load(path, "", o.limits)
	if err != nil {
		return practice.Debrief{}, err
	}
	p := l.rec.Header.Practice
	switch {
	case p == nil:
		return practice.Debrief{}, refused(saying("see it with: cazward show %s", shellName(path)), "%s is the record of a real home, and nobody knows the truth of that", path)
	case isDemo(p):
		return practice.Debrief{}, refused(playDemo, "%s is %s", path, ofDemo)
	}
	name := p.House
	if o.house != "" {
		name = o.house
	}
	h, err := openHouse(name, e.in)
	if err != nil {
		return practice.Debrief{}, err
	}
	if h.SHA256 != p.SHA256 {
		return practice.Debrief{}, refused("give the file as it was then with --house", "%s was made in another edition of the house %q", path, p.House)
	}
	d, err := h.Debrief(e.ctx, l.rec.Header, l.rec.Events, l.st, l.obs, l.j, r, o.lang)
	if err != nil && e.ctx.Err() != nil {
		return d, exitWith(exitInterrupt)
	}
	return d, err
}

func debriefOne(e *env, path string, r practice.Rubric, o debriefOptions) error {
	write := func(d practice.Debrief) func(io.Writer) error { return nil }
	switch ext := strings.ToLower(filepath.Ext(o.out)); {
	case o.out == "" || o.out == "-" || ext == ".txt":
		write = func(d practice.Debrief) func(io.Writer) error {
			return func(w io.Writer) error { return debriefText(w, d) }
		}
	case ext == ".json":
		o.asJSON = true
	case ext == ".pdf":
		write = func(d practice.Debrief) func(io.Writer) error {
			return func(w io.Writer) error { return debriefPDF(w, d) }
		}
	default:
		return usage("suffixes are .pdf, .txt and .json; of a folder .pdf and .csv", "no debrief has the suffix %q", filepath.Ext(o.out))
	}
	if o.out != "" && o.out != "-" && sameFile(path, o.out) {
		return usage("name another output", "input and output are the same file")
	}
	d, err := debriefOf(e, path, r, o)
	if err != nil {
		return err
	}
	w := write(d)
	if o.asJSON {
		w = func(w io.Writer) error { return writeJSON(w, debriefObject(d)) }
	}
	if o.out == "" || o.out == "-" {
		return w(e.out)
	}
	if err := disk.WriteFile(o.out, w); err != nil {
		return err
	}
	e.wrote(o.out)
	return nil
}

func debriefText(w io.Writer, d practice.Debrief) error {
	for i, l := range d.Lines() {
		indent, hang := "", ""
		switch l[0] {
		case "head":
			if i > 0 {
				fmt.Fprintln(w)
			}
			hang = "  "
		case "text":
			indent, hang = "  ", "    "
		case "sub":
			indent, hang = "      ", "      "
		}
		for k, t := range wrap(l[1], 79-len(hang)) {
			if k > 0 {
				indent = hang
			}
			if _, err := fmt.Fprintln(w, indent+t); err != nil {
				return err
			}
		}
	}
	return nil
}

// Stable keys; what is not known is null.
type debriefJSON struct {
	Practice  bool           `json:"practice"`
	Record    string         `json:"record_id"`
	House     string         `json:"house"`
	Seed      int64          `json:"seed"`
	Trainee   string         `json:"trainee"`
	Closed    bool           `json:"record_closed"`
	Decision  string         `json:"decision"`
	Expected  *string        `json:"expected_decision"`
	Configs   int            `json:"configurations"`
	Zones     []debriefZone  `json:"zones"`
	Score     float64        `json:"score"`
	Of        float64        `json:"of"`
	Rubric    string         `json:"rubric"`
	RubricSum string         `json:"rubric_sha256"`
	Criteria  []debriefScore `json:"criteria"`
	WorkOn    []string       `json:"work_on"`
	Stages    []debriefStage `json:"stages"`
	Minutes   float64        `json:"minutes"`
}

type debriefZone struct {
	Zone     string        `json:"zone"`
	Net      float64       `json:"true_net_pa"`
	State    string        `json:"true_state"`
	Found    *float64      `json:"found_net_pa"`
	FoundU   *float64      `json:"found_uncertainty_pa"`
	Held     *float64      `json:"held_true_net_pa"`
	Baseline *float64      `json:"baseline_off_pa"`
	Own      float64       `json:"given_away_pa"`
	Misses   []debriefMiss `json:"misses"`
}

type debriefMiss struct {
	Name   string  `json:"name"`
	Was    string  `json:"was"`
	Should string  `json:"should_be"`
	Pa     float64 `json:"cost_pa"`
	Own    bool    `json:"own"`
	Why    string  `json:"why"`
}

type debriefScore struct {
	Check   string   `json:"check"`
	Amount  *float64 `json:"amount"` // null where the test never came to it
	Got     float64  `json:"got"`
	Points  float64  `json:"points"`
	Explain string   `json:"explain"`
	Detail  []string `json:"detail"`
}

type debriefStage struct {
	Stage   string  `json:"stage"`
	Minutes float64 `json:"minutes"`
}

func debriefObject(d practice.Debrief) debriefJSON {
	x := debriefJSON{Practice: true, Record: d.Record, House: d.House, Seed: d.Seed, Trainee: d.Who, Closed: d.Closed, Decision: string(d.Decision), Configs: d.Configurations,
		Score: d.Score, Of: d.Of, Rubric: d.Rubric.Name, RubricSum: d.Rubric.SHA256, Minutes: d.Minutes, Zones: []debriefZone{}, Criteria: []debriefScore{}, WorkOn: []string{}, Stages: []debriefStage{}}
	if d.Expected != "" {
		s := string(d.Expected)
		x.Expected = &s
	}
	for _, z := range d.Zones {
		y := debriefZone{z.Zone, z.Net, z.State, z.Found, z.FoundU, z.Held, z.Baseline, z.Own, []debriefMiss{}}
		for _, m := range z.Misses {
			y.Misses = append(y.Misses, debriefMiss{m.Name, m.Was, m.Should, m.Pa, m.Own, m.Why})
		}
		x.Zones = append(x.Zones, y)
	}
	for _, s := range d.Scored {
		var amount *float64
		if s.Reached {
			amount = &s.Amount
		}
		x.Criteria = append(x.Criteria, debriefScore{string(s.Check), amount, s.Got, s.Points, s.Why(d.Lang), append([]string{}, s.Detail...)})
	}
	for _, s := range d.WorkOn {
		x.WorkOn = append(x.WorkOn, string(s.Check))
	}
	for _, s := range d.Stages {
		x.Stages = append(x.Stages, debriefStage{string(s.Stage), s.Minutes})
	}
	return x
}

// classSheet is what the practice records of a folder came to.
type classSheet struct {
	lang     wording.Lang
	rubric   practice.Rubric
	files    []string
	debriefs []practice.Debrief
	unread   []string
}

// debriefClass writes a line for each practice record of a folder. Records of
// real homes and of the demonstration are passed over and said; one that cannot be read is told, and the
// exit code says so.
func debriefClass(e *env, dir string, r practice.Rubric, o debriefOptions) error {
	c := classSheet{lang: o.lang, rubric: r}
	write := c.csv
	switch ext := strings.ToLower(filepath.Ext(o.out)); {
	case o.asJSON:
		write = c.json
	case ext == ".pdf":
		write = c.pdf
	case o.out != "" && o.out != "-" && ext != ".csv":
		return usage("give -o class.csv or class.pdf", "no class sheet has the suffix %q", ext)
	}
	names, err := filepath.Glob(filepath.Join(strings.NewReplacer(`[`, `\[`, `*`, `\*`, `?`, `\?`).Replace(dir), "*"+recordSuffix))
	if err != nil {
		return err
	}
	sort.Strings(names)
	var bad error
	demo := false
	for _, n := range names {
		rec, err := disk.Load(n)
		if p := rec.Header.Practice; err == nil && (p == nil || isDemo(p)) {
			why := saying("the record of a real home")
			if p != nil {
				demo, why = true, ofDemo
			}
			fmt.Fprintln(e.err, e.say("passed over %s: %s", n, why))
			continue
		}
		var d practice.Debrief
		if err == nil {
			d, err = debriefOf(e, n, r, o)
		}
		if err != nil {
			report(e.err, e.told(err))
			c.unread = append(c.unread, filepath.Base(n))
			if bad == nil || exitCodeOf(err) == exitIntegrity {
				bad = exitWith(exitCodeOf(err))
			}
			continue
		}
		c.files, c.debriefs = append(c.files, filepath.Base(n)), append(c.debriefs, d)
	}
	switch {
	case len(c.debriefs) > 0 || bad != nil:
	case demo:
		return refused(playDemo, "no practice record in %s but of the demonstration", dir)
	default:
		return refused("give a folder that holds practice records", "no practice record in %s", dir)
	}
	if o.out == "" || o.out == "-" {
		err = write(e.out)
	} else if err = disk.WriteFile(o.out, write); err == nil {
		e.wrote(o.out)
	}
	if err != nil {
		return err
	}
	return bad
}

func (c *classSheet) json(w io.Writer) error {
	objects := []debriefJSON{}
	for _, d := range c.debriefs {
		objects = append(objects, debriefObject(d))
	}
	return writeJSON(w, objects)
}

func (c *classSheet) csv(w io.Writer) error {
	head := []string{"file", "trainee", "house", "decision", "expected", "score", "of", "given_away_pa", "minutes"}
	for _, k := range c.rubric.Criteria {
		head = append(head, string(k.Check))
	}
	rows := [][]string{append(head, "work_on")}
	for i, d := range c.debriefs {
		row := []string{c.files[i], d.Who, d.House, string(d.Decision), string(d.Expected), fig(d.Score), fig(d.Of), reading.Format(d.GivenAway(), 1), reading.Format(d.Minutes, 0)}
		for _, k := range c.rubric.Criteria {
			got := "" // not scored in this house
			for _, s := range d.Scored {
				if s.Check == k.Check {
					got = fig(s.Got)
				}
			}
			row = append(row, got)
		}
		var work []string
		for _, s := range d.WorkOn {
			work = append(work, string(s.Check))
		}
		row = append(row, strings.Join(work, " "))
		for i, cell := range row { // a name that a spreadsheet would take for a formula
			if cell != "" && strings.ContainsRune("=+@\t\r", rune(cell[0])) || len(cell) > 1 && cell[0] == '-' && i < 3 {
				row[i] = "'" + cell
			}
		}
		rows = append(rows, row)
	}
	return csv.NewWriter(w).WriteAll(rows)
}

// fig prints points to a tenth.
func fig(v float64) string { return strconv.FormatFloat(float64(int(v*10+0.5))/10, 'f', -1, 64) }
