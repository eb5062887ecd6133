package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/journal/disk"
	"cazward/procedure/wording"
	reports "cazward/report"
	"cazward/report/csv"
	"cazward/report/html"
	reportjson "cazward/report/json"
	"cazward/report/pdf"
	"cazward/report/photo"
	"cazward/report/text"
	"cazward/report/xml"
)

// reportSuffixes are the forms of a report, by the suffix of its file.
var reportSuffixes = []string{".pdf", ".html", ".csv", ".json", ".xml", ".txt"}

type reportOptions struct {
	size   string
	units  string
	lang   string
	redact bool
	before string // record of the phase before, to compare with
	first  string // record of the phase before that
	table  func(scheme string) (*limits.Set, error)
	limits []string
}

// load reads a record, with the tables that a run over many has read already.
func (o reportOptions) load(path string) (*loaded, error) {
	if o.table != nil {
		return loadBy(path, "", o.table)
	}
	return load(path, "", o.limits)
}

// remembered reads the table of each scheme once. What it gives is shared by
// all records and changed by none.
func remembered(overlays []string) func(scheme string) (*limits.Set, error) {
	var mu sync.Mutex
	known := map[string]*limits.Set{}
	return func(scheme string) (*limits.Set, error) {
		mu.Lock()
		defer mu.Unlock()
		if set, ok := known[scheme]; ok {
			return set, nil
		}
		set, err := loadLimits(scheme, overlays)
		if err == nil {
			known[scheme] = set
		}
		return set, err
	}
}

// inputOf is what a report is built from, with the earlier phases where they
// are named: each must be the one that the next followed, if it followed any.
func inputOf(record string, o reportOptions) (reports.Input, error) {
	l, err := o.load(record)
	if err != nil {
		return reports.Input{}, err
	}
	in := l.input()
	in.Lang, in.Units = wording.Lang(o.lang), reports.Units(o.units)
	localize(in.Lang, &in.Observations, &in.Judgement)
	next, name := &in.Prior, record
	followed := l.rec.Header.Prior
	for _, path := range []string{o.before, o.first} {
		if path == "" {
			continue
		}
		b, err := o.load(path)
		if err != nil {
			return in, err
		}
		if followed != nil && (followed.Record != b.rec.Header.Record || followed.Close != b.rec.CloseHash) {
			return in, refused("name the records that it followed, oldest first", "%s followed record %s as closed by %s, which %s is not", name, followed.Record, followed.Close, path)
		}
		*next = &reports.Comparison{Header: b.rec.Header, CloseHash: b.rec.CloseHash, Observations: b.obs, Judgement: b.j}
		localize(in.Lang, &(*next).Observations, &(*next).Judgement)
		next, name, followed = &(*next).Prior, path, b.rec.Header.Prior
	}
	if o.redact {
		return reports.Redact(in), nil
	}
	in.Photos = photos(record, in.Events)
	return in, nil
}

// photos reads the attachments of a record. One that is absent is left out,
// one whose bytes are not those of its hash is marked; the report says so.
func photos(record string, events []procedure.Event) []reports.Photo {
	open := disk.Attachments(record)
	out := []reports.Photo{}
	for _, ev := range events {
		a, ok := ev.Data.(*procedure.Attach)
		if !ok {
			continue
		}
		rc, err := open(a.SHA256)
		if err != nil {
			continue
		}
		data, err := io.ReadAll(io.LimitReader(rc, photo.MaxBytes))
		rc.Close()
		if sum := sha256.Sum256(data); err == nil && hex.EncodeToString(sum[:]) == a.SHA256 {
			out = append(out, reports.Photo{SHA256: a.SHA256, Type: a.Type, Data: data})
		} else {
			out = append(out, reports.Photo{SHA256: a.SHA256, Altered: true})
		}
	}
	return out
}

// reportWriter writes the form that a suffix names.
func reportWriter(suffix string, in reports.Input, o reportOptions) (func(io.Writer) error, error) {
	switch suffix {
	case ".pdf":
		return func(w io.Writer) error { return pdf.Write(w, reports.Build(in), pdf.Options{Size: o.size}) }, nil
	case ".html":
		return func(w io.Writer) error { return html.Write(w, reports.Build(in)) }, nil
	case ".txt":
		return func(w io.Writer) error { return text.Write(w, reports.Build(in)) }, nil
	case ".csv":
		return func(w io.Writer) error { return csv.Write(w, in) }, nil
	case ".xml":
		return func(w io.Writer) error { return xml.Write(w, in) }, nil
	case ".json":
		return func(w io.Writer) error {
			return writeJSON(w, reportjson.Report(in))
		}, nil
	}
	return nil, usage(saying("suffixes are %s", strings.Join(reportSuffixes, ", ")), "no report format has the suffix %q", suffix)
}

func writeReport(record, out string, o reportOptions) error {
	suffix := strings.ToLower(filepath.Ext(out))
	if _, err := reportWriter(suffix, reports.Input{}, o); err != nil {
		return err // before the record is read
	}
	in, err := inputOf(record, o)
	if err != nil {
		return err
	}
	write, err := reportWriter(suffix, in, o)
	if err != nil {
		return err
	}
	return disk.WriteFile(out, write)
}

func reportCmd(e *env) *cobra.Command {
	var out, formats string
	var before []string
	var o reportOptions
	c := &cobra.Command{Use: "report RECORD|FOLDER", Short: "write the report; the suffix of the output says which",
		Long: `Write the report of a record. The suffix of the output says which form it
has: .pdf for paper, .html for screens and screen readers (one page that stands
alone), .txt, .csv with a row for each reading and finding, .json, and .xml in
the open home-performance data standard HPXML 4.2. --lang and --units hold for
what people read, units for .csv too; the names in .json and the standard of
.xml fix theirs. Pressures are in Pa everywhere.

Of a FOLDER, all records in it (*.cazward, subfolders too) get their reports
under the output folder, in the forms that --format names.`,
		Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if o.size != "letter" && o.size != "a4" {
				return usage("sizes are letter and a4", "unknown size %q", o.size)
			}
			if o.units != "" && o.units != "us" && o.units != "si" {
				return usage("units are us and si; without the flag, as they were typed", "unknown units %q", o.units)
			}
			if _, err := language(o.lang); err != nil {
				return err
			}
			switch n := len(before); {
			case n > 2:
				return usage("name at most two earlier phases, oldest first", "%d earlier phases named", n)
			case n == 2:
				o.first, o.before = before[0], before[1]
			case n == 1:
				o.before = before[0]
			}
			if out == "" {
				return usage("give -o FILE.pdf or -o FILE.html, or -o - for plain text on standard output", "no output named")
			}
			if info, err := os.Stat(args[0]); err == nil && info.IsDir() {
				return reportFolder(e, args[0], out, formats, o)
			}
			if formats != "" {
				return usage("the suffix of the output says which form it has", "--format is for folders")
			}
			if out == "-" {
				in, err := inputOf(args[0], o)
				if err != nil {
					return err
				}
				return text.Write(e.out, reports.Build(in))
			}
			if sameFile(args[0], out) {
				return usage("name another output", "input and output are the same file")
			}
			if err := writeReport(args[0], out, o); err != nil {
				return err
			}
			e.wrote(out)
			return nil
		}}
	f := c.Flags()
	f.StringVarP(&out, "output", "o", "", "file to write: "+strings.Join(reportSuffixes, ", ")+"; - for plain text; a folder for a folder")
	f.StringVar(&o.size, "size", "letter", "paper: letter or a4")
	f.StringVar(&o.units, "units", "", "temperatures, wind, flows and inputs in us or si units; without it as typed")
	f.StringVar(&o.lang, "lang", "en", "language: en or es")
	f.BoolVar(&o.redact, "redact", false, "leave out label, address, names, photos and free notes")
	f.StringArrayVar(&before, "before", nil, "record of an earlier phase to compare with; twice for two, oldest first")
	f.StringArrayVar(&o.limits, "limits", nil, "overlay file on the scheme")
	f.StringVar(&formats, "format", "", "of a folder: forms to write, as pdf,html (pdf if not given)")
	return c
}

// job is one record of a folder and what becomes of it.
type job struct {
	record string
	name   string // output without its suffix
	err    error
	done   bool
}

// reportFolder writes the reports of all records in a folder. What fails is
// listed at the end; the sound ones are done all the same.
func reportFolder(e *env, folder, out, formats string, o reportOptions) error {
	if out == "-" {
		return usage("name a folder", "reports of a folder do not go to standard output")
	}
	if info, err := os.Stat(out); err == nil && !info.IsDir() {
		return usage("name a folder", "%s is a file", out)
	}
	if o.before != "" {
		return usage("name one record", "--before compares one record")
	}
	if formats == "" {
		formats = "pdf"
	}
	var suffixes []string
	for _, f := range strings.Split(formats, ",") {
		suffix := "." + strings.TrimPrefix(strings.ToLower(strings.TrimSpace(f)), ".")
		if _, err := reportWriter(suffix, reports.Input{}, o); err != nil {
			return err
		}
		if !slices.Contains(suffixes, suffix) {
			suffixes = append(suffixes, suffix)
		}
	}
	jobs, err := recordsIn(folder)
	if err != nil {
		return err
	}
	if len(jobs) == 0 {
		return refused(saying("records end in %s", recordSuffix), "%s holds no record", folder)
	}
	o.table = remembered(o.limits)
	bar := newProgress(e, e.say("writing"), len(jobs))
	var names sync.Map // outputs of this run: no two records share one
	run := func(j *job) {
		in, err := inputOf(j.record, o)
		if err != nil {
			j.err = err
			return
		}
		if o.redact { // the name of a file is often the label of a home
			j.name = filepath.Join(filepath.Dir(j.name), "record-"+in.Header.Record)
			if strings.ContainsAny(in.Header.Record, `/\`) {
				j.err = refused("write it by itself", "the id of %s is no file name", j.record)
				return
			}
		}
		for _, suffix := range suffixes {
			write, err := reportWriter(suffix, in, o)
			path := filepath.Join(out, j.name+suffix)
			if other, twice := names.LoadOrStore(path, j.record); err == nil && twice {
				err = refused("look which of the two is right", "%s has the same report as %s: %s", j.record, other, path)
			}
			if err == nil {
				err = os.MkdirAll(filepath.Dir(path), 0o700)
			}
			if err == nil {
				err = disk.WriteFile(path, write)
			}
			if err != nil {
				j.err = err
				return
			}
		}
	}
	each(e.ctx, jobs, func(j *job) {
		run(j)
		j.done = true
		bar.step()
	})
	bar.end()
	return folderResult(e, jobs, out)
}

// each runs the jobs until ctx ends, two for each core: while one waits for
// the disk, the other computes.
func each(ctx context.Context, jobs []*job, run func(*job)) {
	next := make(chan *job)
	var wg sync.WaitGroup
	for range min(2*runtime.GOMAXPROCS(0), len(jobs)) {
		wg.Go(func() {
			for j := range next {
				run(j)
			}
		})
	}
loop:
	for _, j := range jobs {
		select {
		case <-ctx.Done():
			break loop
		default:
		}
		select {
		case next <- j:
		case <-ctx.Done():
			break loop
		}
	}
	close(next)
	wg.Wait()
}

// folderResult says what was written and lists what was not.
func folderResult(e *env, jobs []*job, out string) error {
	written, failed, left := 0, 0, 0
	code := exitOK
	for _, j := range jobs {
		switch {
		case !j.done:
			left++
		case j.err == nil:
			written++
		default:
			failed++
			if c := exitCodeOf(j.err); code == exitOK || c == exitIntegrity {
				code = c
			}
		}
	}
	fmt.Fprintln(e.err, e.say("wrote the reports of %d of %d records to %s", written, len(jobs), out))
	if failed > 0 {
		fmt.Fprintln(e.err, e.say("not written: %d", failed))
		for _, j := range jobs {
			if j.err != nil {
				fmt.Fprintf(e.err, "%s:\n", j.record)
				report(e.err, e.told(j.err))
			}
		}
	}
	if left > 0 {
		fmt.Fprintln(e.err, e.say("stopped: %d records were not looked at", left))
		return exitWith(exitInterrupt)
	}
	if code != exitOK {
		return exitWith(code)
	}
	return nil
}

// recordsIn are the records under a folder, in the order of their names.
func recordsIn(folder string) ([]*job, error) {
	var out []*job
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && strings.HasSuffix(path, recordSuffix+".files") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.EqualFold(filepath.Ext(path), recordSuffix) {
			return nil
		}
		rel, err := filepath.Rel(folder, path)
		if err != nil {
			return err
		}
		out = append(out, &job{record: path, name: strings.TrimSuffix(rel, filepath.Ext(rel))})
		return nil
	})
	if err != nil {
		return nil, refused("the folder must be readable", "%v", err)
	}
	return out, nil
}
