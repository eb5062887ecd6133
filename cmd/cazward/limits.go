package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"cazward/limits"
	"cazward/limits/strict"
	"cazward/procedure"
	"cazward/procedure/journal/disk"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// notice is where the overlay of the config folder is named, once a run.
// Every verb that judges loads limits, and none of them must forget to say so.
var notice = struct {
	sync.Mutex
	w    io.Writer
	lang wording.Lang
	said bool
}{w: os.Stderr}

// noticeTo names where it is said from now on.
func noticeTo(w io.Writer) {
	notice.Lock()
	defer notice.Unlock()
	notice.w = w
}

// noticeIn gives it the language of the command line.
func noticeIn(l wording.Lang) {
	notice.Lock()
	defer notice.Unlock()
	notice.lang = l
}

// folderOverlay is the overlay of the config folder.
type folderOverlay struct {
	source limits.Source
	scheme string // the scheme it is for
}

// fromFolder reads the overlay of the config folder, nil where there is none.
// One that is bad is refused, whatever scheme it is for: a program that keeps
// its limits there must never be judged without them and not know.
func fromFolder() (*folderOverlay, error) {
	dir, err := os.UserConfigDir()
	if err != nil {
		if x := os.Getenv("XDG_CONFIG_HOME"); x != "" {
			return nil, refused("give it from the root on, or unset it", "XDG_CONFIG_HOME is %q: limits that stand there cannot be found", x)
		}
		return nil, nil // no home folder, so that nobody has put one there
	}
	path := filepath.Join(dir, "cazward", "limits.yaml")
	data, err := readTable(path, nil)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	src := limits.Source{Name: path, Data: data}
	scheme, err := limits.SchemeOf(src)
	if err != nil {
		return nil, err
	}
	if scheme == "" {
		return nil, refused(saying("it holds one overlay: see cazward limits export %s", limits.Default), "%s is not an overlay", path)
	}
	if p := limits.Check(path, data); len(p) > 0 {
		return nil, &strict.Problems{List: p}
	}
	return &folderOverlay{src, scheme}, nil
}

// loadLimits loads a scheme with the overlay of the config folder, where it is
// for this scheme, and then with the overlay files.
func loadLimits(scheme string, overlays []string) (*limits.Set, error) {
	o := limits.Options{Scheme: scheme}
	if scheme == "" {
		scheme = limits.Default
	}
	folder, err := fromFolder()
	if err != nil {
		return nil, err
	}
	if folder != nil && folder.scheme == scheme {
		o.Overlays = append(o.Overlays, folder.source)
		notice.Lock()
		if !notice.said {
			notice.said = true
			fmt.Fprintf(notice.w, "cazward: %s: %s\n", saying("note").in(notice.lang), saying("limits of %s changed by %s", scheme, folder.source.Name).in(notice.lang))
		}
		notice.Unlock()
	}
	for _, f := range overlays {
		b, err := readTable(f, nil)
		if err != nil {
			return nil, err
		}
		o.Overlays = append(o.Overlays, limits.Source{Name: f, Data: b})
	}
	return limits.Load(o)
}

// sameTable refuses to judge a record made under an edited table by the shipped
// rows: they may be milder, and nobody would be told.
func sameTable(path string, planned procedure.Ref, set *limits.Set) error {
	if now := set.Ref(); planned.Edited && !now.Edited && planned.SHA256 != now.SHA256 {
		return refused(saying("give it with --limits FILE; or judge by the shipped rows on purpose: cazward judge %s --scheme %s", path, planned.Name), "%s was made under an edited table (sha256 %.12s), which is not here", path, planned.SHA256)
	}
	return nil
}

// ofScheme are the overlays that are for a scheme: when one record is judged by
// all of them, each file counts where it belongs.
func ofScheme(scheme string, overlays []string) ([]string, error) {
	var out []string
	for _, f := range overlays {
		b, err := readTable(f, nil)
		if err != nil {
			return nil, err
		}
		of, err := limits.SchemeOf(limits.Source{Name: f, Data: b})
		if err != nil {
			return nil, err
		}
		if of == scheme {
			out = append(out, f)
		}
	}
	return out, nil
}

func limitsCmd(e *env) *cobra.Command {
	c := &cobra.Command{Use: "limits", Short: "the editable tables of limits", Args: cobra.NoArgs, RunE: func(c *cobra.Command, _ []string) error { return c.Help() }}
	var asJSON bool
	var overlays []string

	list := &cobra.Command{Use: "list", Short: "the shipped schemes", Args: cobra.NoArgs, RunE: func(*cobra.Command, []string) error {
		type scheme struct {
			Name    string        `json:"name"`
			Edition string        `json:"edition"`
			Rows    int           `json:"rows"`
			SHA256  string        `json:"sha256"`
			Status  string        `json:"status"`
			Open    []limits.Open `json:"no_figure"`
		}
		out := []scheme{}
		for _, n := range limits.Names() {
			s, err := limits.Load(limits.Options{Scheme: n})
			if err != nil {
				return err
			}
			r := s.Ref()
			out = append(out, scheme{r.Name, r.Edition, len(s.Rows()), r.SHA256, r.Status, s.Open()})
		}
		if asJSON {
			if err := writeJSON(e.out, out); err != nil {
				return err
			}
		} else {
			for _, s := range out {
				fmt.Fprintf(e.out, "%s  %s, %d rows\n  %s\n  sha256 %s\n", s.Name, s.Edition, s.Rows, s.Status, s.SHA256)
			}
		}
		folder, err := fromFolder()
		if err != nil || folder == nil {
			return err
		}
		w := e.out
		if asJSON {
			w = e.err
		}
		fmt.Fprintf(w, "%s\n  overlay of the config folder: applied wherever %s is used, left aside under any other scheme\n", folder.source.Name, folder.scheme)
		return nil
	}}
	show := &cobra.Command{Use: "show SCHEME", Short: "every row, its source and how sure we are of it; what the scheme has no figure for", Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
		s, err := loadLimits(args[0], overlays)
		if err != nil {
			return err
		}
		if asJSON {
			return writeJSON(e.out, s.Rows())
		}
		return showTable(e.out, s)
	}}
	check := &cobra.Command{Use: "check FILE", Short: "list every problem of a table or overlay", Args: cobra.ExactArgs(1), RunE: func(_ *cobra.Command, args []string) error {
		data, err := readTable(args[0], e.in)
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
		e.problems(problems)
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
		ex := l.set.Explain(l.obs)
		if asJSON {
			return writeJSON(e.out, ex)
		}
		explainText(e.out, l.set.Ref(), ex)
		return nil
	}}
	export := limitsExportCmd(e)
	diff := &cobra.Command{Use: "diff A [B]", Short: "rows that differ between schemes, files, and what a record was judged on",
		Long: `Each of A and B is a shipped scheme, as shipped; a file, a scheme or an
overlay on the scheme it names; or A is a record: the rows that its decision
rested on. Without B an overlay is compared with its scheme as shipped, and a
record with the table that would judge it today.`,
		Args: cobra.RangeArgs(1, 2), RunE: func(_ *cobra.Command, args []string) error { return diffTables(e, args, overlays, asJSON) }}
	for _, s := range []*cobra.Command{list, show, check, explain, diff} {
		s.Flags().BoolVar(&asJSON, "json", false, "as JSON")
		if s != list && s != check {
			s.Flags().StringArrayVar(&overlays, "limits", nil, "overlay file on the scheme")
		}
		c.AddCommand(s)
	}
	c.AddCommand(export, limitsSchemaCmd(e))
	return c
}

func showTable(out io.Writer, s *limits.Set) error {
	r := s.Ref()
	edited := "as shipped"
	if r.Edited {
		edited = "EDITED, not as shipped"
	}
	fmt.Fprintf(out, "%s, %s (%s)\n%s\n%s, sha256 %s\n\n", r.Title, r.Edition, r.Name, r.Status, edited, r.SHA256)
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	topic := ""
	for _, row := range s.Rows() {
		head := row.Topic
		if row.Floor {
			head = "life-safety floor of all schemes"
		}
		if head != topic {
			topic = head
			fmt.Fprintf(w, "%s\n", topic)
		}
		v := row.Means
		if row.Value != nil {
			v = reading.Format(*row.Value, -1) + " " + row.Unit
			if row.Means != "" {
				v += ", " + row.Means
			}
		}
		mark := row.State()
		if row.Edited {
			mark += ", edited"
		}
		fmt.Fprintf(w, "  %s\t%s\t[%s]\n", row.ID, v, mark)
		switch row.Topic {
		case "depressurization", "spillage", "co":
			fmt.Fprintf(w, "\t  for: %s\n", row.Applies)
		}
		fmt.Fprintf(w, "\t  source: %s\n", row.Source)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(out, "%s for\n", limits.NoFigure)
	for _, o := range s.Open() {
		who := ""
		if list := append(append([]string{}, o.Kinds...), o.Fuels...); len(list) > 0 {
			who = " of " + strings.Join(list, ", ")
		}
		fmt.Fprintf(out, "  %s%s: %s\n", o.Topic, who, o.Note)
	}
	return nil
}

func explainText(out io.Writer, r procedure.Ref, list []limits.Explained) {
	fmt.Fprintf(out, "by %s, %s (%s)\n", r.Title, r.Edition, r.Name)
	name := ""
	for _, x := range list {
		if n := x.Name + " (" + x.Appliance + ")"; n != name {
			name = n
			fmt.Fprintf(out, "\n%s\n", name)
		}
		rule := x.Rule
		if x.When != "" {
			rule += ", " + x.When
		}
		switch x.Outcome {
		case "row":
			limit := "limit not known"
			if x.Limit != nil {
				limit = strings.TrimSpace(reading.Format(*x.Limit, -1) + " " + x.Unit + " " + strings.ReplaceAll(x.Basis, "-", " "))
			}
			fmt.Fprintf(out, "  %s: %s, %s [%s]\n    because: %s\n    source: %s\n", rule, x.Row, limit, x.State(), x.Why, x.Source)
		case "no-figure":
			fmt.Fprintf(out, "  %s: %s", rule, limits.NoFigure)
			if x.Why != "" {
				fmt.Fprintf(out, ": %s", x.Why)
			}
			fmt.Fprintln(out)
		case "matrix":
			fmt.Fprintf(out, "  %s: %s\n", rule, x.Why)
		default:
			fmt.Fprintf(out, "  %s: not judged: %s\n", rule, x.Why)
		}
		for _, u := range x.Unsure {
			fmt.Fprintf(out, "    not known: %s; the strictest row that could apply was taken\n", strings.ReplaceAll(u, "_", " "))
		}
		var others []string
		for _, p := range x.Passed {
			if p.Why == "kind" || strings.HasPrefix(p.Why, "kind,") {
				others = append(others, p.Row)
				continue
			}
			fmt.Fprintf(out, "    passed over: %s (%s)\n", p.Row, p.Words)
		}
		if len(others) > 0 {
			fmt.Fprintf(out, "    passed over, about other kinds of appliance: %s\n", strings.Join(others, ", "))
		}
	}
}

func limitsExportCmd(e *env) *cobra.Command {
	var out string
	c := &cobra.Command{Use: "export SCHEME", Short: "write a scheme as an overlay ready for editing, every row a comment", Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			data, err := limits.Export(args[0])
			if err != nil {
				return err
			}
			if out == "" || out == "-" {
				_, err := e.out.Write(data)
				return err
			}
			if _, err := os.Lstat(out); err == nil {
				return refused("name another file: it may hold somebody's edits", "%s exists already", out)
			}
			if err := disk.WriteFile(out, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
				return err
			}
			fmt.Fprintln(e.err, e.say("wrote %s; edit it, then: cazward limits check %s", out, out))
			return nil
		}}
	c.Flags().StringVarP(&out, "output", "o", "", "file to write; it must not exist. Without it, standard output")
	return c
}

func limitsSchemaCmd(e *env) *cobra.Command {
	var format int
	c := &cobra.Command{Use: "schema", Short: "JSON Schema of the tables, for editors", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			b, ok := limits.Schema(format)
			if !ok {
				return refused("the format is 1", "no table format %d is known", format)
			}
			_, err := e.out.Write(b)
			return err
		}}
	c.Flags().IntVar(&format, "format", 1, "version of the table format")
	return c
}

// diffSide is one of two things that are compared.
type diffSide struct {
	Name   string `json:"name"`
	Scheme string `json:"scheme"`
	SHA256 string `json:"sha256"`
	Edited *bool  `json:"edited"` // null for a record, which does not say
	Record bool   `json:"record"`

	set    *limits.Set
	judged limits.Judged
	l      *loaded
}

func sideOf(set *limits.Set, name string) diffSide {
	r := set.Ref()
	return diffSide{Name: name, Scheme: r.Name, SHA256: r.SHA256, Edited: &r.Edited, set: set}
}

// openSide reads a shipped scheme, a file of limits or a record.
func openSide(e *env, arg string, overlays []string) (diffSide, error) {
	for _, n := range limits.Names() {
		if n == arg {
			s, err := limits.Load(limits.Options{Scheme: n})
			if err != nil {
				return diffSide{}, err
			}
			return sideOf(s, n), nil
		}
	}
	data, err := readTable(arg, e.in)
	if err != nil {
		return diffSide{}, err
	}
	if !bytes.HasPrefix(data, []byte(`{"format":"cazward-record"`)) {
		s, err := limits.Read(limits.Source{Name: arg, Data: data})
		if err != nil {
			return diffSide{}, err
		}
		return sideOf(s, arg), nil
	}
	l, err := loadToday(arg, "", func(name string) (*limits.Set, error) { return loadLimits(name, overlays) })
	if err != nil {
		return diffSide{}, err
	}
	out := diffSide{Name: arg, Record: true, l: l}
	for _, ev := range l.rec.Events {
		if d, ok := ev.Data.(*procedure.Decided); ok {
			out.SHA256, out.judged.Rows = d.Scheme, d.Rows
		}
	}
	if out.SHA256 == "" {
		return out, refused(saying("close it first: cazward walk %s", arg), "%s has no decision yet", arg)
	}
	if p := l.st.Plan(); p.Scheme.SHA256 == out.SHA256 {
		out.Scheme, out.judged.Planned = p.Scheme.Name, p.Pressure
	}
	if w := l.obs.Weather; w != nil {
		if f, err := reading.Convert(w.Temp, reading.Unit(w.TempUnit), reading.UnitF); err == nil {
			out.judged.OutdoorF = &f
		}
	}
	return out, nil
}

func diffTables(e *env, args, overlays []string, asJSON bool) error {
	a, err := openSide(e, args[0], overlays)
	if err != nil {
		return err
	}
	var b diffSide
	switch {
	case len(args) == 2:
		if b, err = openSide(e, args[1], overlays); err != nil {
			return err
		}
	case a.Record:
		b = sideOf(a.l.set, "today's "+a.l.set.Ref().Name)
	case args[0] == a.Scheme:
		return usage(saying("name two: cazward limits diff %s FILE", args[0]), "a shipped scheme by itself differs from nothing")
	default: // an overlay: from what it was to what it makes of it
		if b, err = openSide(e, a.Scheme, nil); err != nil {
			return usage(saying("name two: cazward limits diff %s %s", args[0], limits.Default), "%s is a scheme of its own", args[0])
		}
		a, b = b, a
	}
	var rows []limits.Difference
	switch {
	case a.Record && b.Record:
		return usage("compare each with a table", "two records cannot be compared with each other")
	case b.Record:
		a, b = b, a
		fallthrough
	case a.Record:
		rows = limits.DiffJudged(a.judged, b.set)
	default:
		rows = limits.Diff(a.set, b.set)
	}
	if asJSON {
		return writeJSON(e.out, struct {
			A    diffSide            `json:"a"`
			B    diffSide            `json:"b"`
			Same bool                `json:"same_table"`
			Rows []limits.Difference `json:"rows"`
		}{a, b, a.SHA256 == b.SHA256, rows})
	}
	for _, s := range []struct {
		letter string
		diffSide
	}{{"A", a}, {"B", b}} {
		what := "as shipped"
		switch {
		case s.Record:
			what = fmt.Sprintf("the %d rows that its decision names", len(s.judged.Rows))
		case *s.Edited:
			what = "edited"
		}
		fmt.Fprintf(e.out, "%s  %s, %s, sha256 %s\n", s.letter, s.Name, what, s.SHA256)
	}
	if a.SHA256 == b.SHA256 {
		fmt.Fprintln(e.out, "the same table")
	}
	side := func(letter string, d *limits.DiffersAs) {
		v := d.Meaning
		if d.Value != nil {
			v = strings.TrimSuffix(reading.Format(*d.Value, -1)+" "+d.Unit+", "+v, ", ")
		}
		if d.Action != "" {
			v = strings.TrimPrefix(v+"; leads to "+d.Action, "; ")
		}
		fmt.Fprintf(e.out, "  %s  %s [%s]\n", letter, v, d.State())
		if d.Applies != "" {
			fmt.Fprintf(e.out, "     for: %s\n", d.Applies)
		}
		fmt.Fprintf(e.out, "     source: %s\n", d.Source)
	}
	for _, d := range rows {
		switch d.Only {
		case "a":
			fmt.Fprintf(e.out, "\n%s: only in A\n", d.Row)
		case "b":
			fmt.Fprintf(e.out, "\n%s: only in B\n", d.Row)
		default:
			fmt.Fprintf(e.out, "\n%s: %s\n", d.Row, strings.ReplaceAll(strings.Join(d.Differs, ", "), "applies", "who it applies to"))
		}
		if d.A != nil {
			side("A", d.A)
		}
		if d.B != nil {
			side("B", d.B)
		}
	}
	if len(rows) == 1 {
		fmt.Fprint(e.out, "\n1 row differs\n")
	} else {
		fmt.Fprintf(e.out, "\n%d rows differ\n", len(rows))
	}
	return nil
}

// readTable reads a table, an overlay or a record, and stops reading beyond
// what any table may hold.
func readTable(path string, in io.Reader) ([]byte, error) {
	return readUpTo(path, in, limits.MaxFile)
}

// readBounded reads a sheet, or standard input for "-", and stops reading
// beyond what any sheet may hold.
func readBounded(path string, in io.Reader) ([]byte, error) { return readUpTo(path, in, maxSheet) }

func readUpTo(path string, in io.Reader, most int64) ([]byte, error) {
	if path != "-" || in == nil {
		f, err := os.Open(path)
		if err != nil {
			f := failed(exitRefused, "give the path of a file, or - for standard input", "%v", err)
			f.err = err
			return nil, f
		}
		defer f.Close()
		in = f
	}
	data, err := io.ReadAll(io.LimitReader(in, most+1))
	if err != nil {
		return nil, refused("give the path of a file, or - for standard input", "%s: %v", path, err)
	}
	return data, nil
}
