package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	"cazward/procedure/register"
	"cazward/procedure/wording"
	reports "cazward/report"
)

// Sizes of a batch: one transaction each. What is done when the program is
// killed is what its last whole batch held.
const (
	batchItems = 128
	batchBytes = 16 << 20
)

// largeRecord is the size, in bytes, from which a record is read and handed on
// alone: only so many fit beside each other. Of others, lookUp or lookUpBytes
// are looked up in the register at once.
const (
	largeRecord = 256 << 10
	lookUp      = 32
	lookUpBytes = 2 << 20
)

// heapLimit is the heap, in bytes, from which it is collected all the time:
// records come and go, by the thousand.
const heapLimit = 160 << 20

// added is the summary of desk add.
type added struct {
	Read      int       `json:"read"`
	New       int       `json:"new"`
	Grew      int       `json:"grew"`
	Same      int       `json:"same"`
	Older     int       `json:"older"`
	Second    int       `json:"second"`
	Delivered int       `json:"sign_offs_delivered"`
	Failed    int       `json:"integrity_failed"`
	NotJudged int       `json:"not_judged"`
	Refused   int       `json:"refused"`
	Practice  int       `json:"practice"`
	Problems  []problem `json:"problems"`
	Stopped   bool      `json:"interrupted"`

	noRecord bool // a path was refused because no record could be read there
}

type problem struct {
	Path string `json:"path"`
	Why  string `json:"why"`

	fails  bool             // it makes the exit code
	reason *register.Reason // where Why is one
}

// in is why, for a person.
func (p problem) in(l wording.Lang) string {
	if p.reason != nil {
		return reports.Clean(reasonIn(l, *p.reason))
	}
	return wording.Reworded(l, p.Why)
}

// maxProblems are told one by one; more are only counted.
const maxProblems = 200

func (a *added) say(path, why string) { a.tell(problem{Path: path, Why: why}) }

func (a *added) fail(path, why string) { a.tell(problem{Path: path, Why: why, fails: true}) }

func (a *added) tell(p problem) {
	if len(a.Problems) < maxProblems {
		p.Path, p.Why = reports.Clean(p.Path), reports.Clean(p.Why)
		a.Problems = append(a.Problems, p)
	}
}

func (d *desk) addCmd() *cobra.Command {
	var asJSON bool
	var label string
	c := &cobra.Command{Use: "add PATH...", Short: "read records into the register: files, folders, or - for a list of them", Args: cobra.MinimumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if reports.Clean(label) != label {
				return usage("give one line of plain text", "that cannot be a label: %q", label)
			}
			var err error
			a := noneThere(args)
			if a == nil {
				s, fail := d.open(true)
				if fail != nil {
					return fail
				}
				defer s.Close()
				a, err = d.add(s, args, label)
			}
			if asJSON {
				if a.Problems == nil {
					a.Problems = []problem{}
				}
				if werr := writeJSON(d.e.out, a); werr != nil && err == nil {
					err = werr
				}
			} else {
				a.write(d)
			}
			switch {
			case err != nil:
				return d.wrong(err)
			case a.Failed > 0:
				return exitWith(exitIntegrity)
			case a.Refused > 0 || a.NotJudged > 0:
				return exitWith(exitRefused)
			}
			return nil
		}}
	c.Flags().BoolVar(&asJSON, "json", false, "the summary as JSON")
	c.Flags().StringVar(&label, "label", "", "a word to find these records by; the last one given stays")
	c.Flags().StringVar(&d.signers, "allowed-signers", "", "allowed-signers file by which ssh-keygen checks signatures")
	return c
}

// noneThere is the answer to paths of which none is there: no register is made
// for them. Nil: something may be.
func noneThere(args []string) *added {
	a := &added{}
	for _, path := range args {
		_, err := os.Stat(path)
		if path == "-" || err == nil {
			return nil
		}
		a.Refused++
		a.noRecord = true
		a.fail(path, cause(err))
	}
	return a
}

func (a *added) write(d *desk) {
	for _, p := range a.Problems {
		mark := ""
		if p.fails {
			mark = d.e.say("error") + ": "
		}
		fmt.Fprintf(d.e.err, "cazward: %s%s: %s\n", mark, p.Path, p.in(d.l()))
	}
	if a.noRecord { // the other lines say themselves what to do next
		sayHint(d.e.err, d.l(), d.e.say("give paths of records that may be read, or of folders that hold some (%s)", recordSuffix))
	}
	parts := []string{d.says("add.new", "n", fmt.Sprint(a.New))}
	for _, x := range []struct {
		n    int
		what string
	}{{a.Grew, "grew"}, {a.Same, "same"}, {a.Older, "older"}, {a.Second, "second"}, {a.Delivered, "delivered"},
		{a.Failed, "failed"}, {a.NotJudged, "not-judged"}, {a.Refused, "refused"}, {a.Practice, "practice"}} {
		if x.n > 0 {
			parts = append(parts, d.says("add."+x.what, "n", fmt.Sprint(x.n)))
		}
	}
	fmt.Fprintln(d.e.out, d.says("add", "n", fmt.Sprint(a.Read), "parts", strings.Join(parts, ", ")))
	if a.Stopped {
		fmt.Fprintln(d.e.out, d.says("add.stopped"))
	}
}

// found is a path on its way in.
type found struct {
	path     string
	explicit bool // named by a person, so that whatever it is, it is answered
	err      error
}

type made struct {
	path  string
	item  register.Item
	err   error
	known *register.Entry // it is kept as it is: nothing is to be done
}

// add reads, checks, judges and keeps. On an error the summary says what was
// kept before it.
func (d *desk) add(s register.Store, args []string, label string) (a *added, err error) {
	a = &added{}
	ctx, stop := context.WithCancel(d.e.ctx)
	defer stop()
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(heapLimit))
	total := 0
	bar := newProgress(d.e, d.e.say("reading"), 0)
	if bar.on && !(len(args) == 1 && args[0] == "-") {
		_ = d.paths(ctx, args, func(found) bool { total++; return true })
		bar = newProgress(d.e, d.e.say("adding"), total)
	}
	// While a batch is written, the next is read and judged; of large records
	// each waits its turn.
	paths, items, large := make(chan found, lookUp), make(chan made, batchItems/2), make(chan made)
	go func() {
		defer close(paths)
		err := d.paths(ctx, args, func(f found) bool {
			select {
			case paths <- f:
				return true
			case <-ctx.Done():
				return false
			}
		})
		if err != nil {
			select {
			case paths <- found{path: "-", explicit: true, err: err}:
			case <-ctx.Done():
			}
		}
	}()
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for f := range paths {
				for m := range d.readItems(ctx, s, label, portion(f, paths)) {
					to := items
					if len(m.item.Record.Bytes) > largeRecord {
						to = large
					}
					select {
					case to <- m:
					case <-ctx.Done():
						return
					}
				}
			}
		}()
	}
	go func() { wg.Wait(); close(items) }()

	var batch []made
	size := 0
	flush := func() error {
		if len(batch) == 0 {
			return nil
		}
		list := make([]register.Item, len(batch))
		for i, m := range batch {
			list[i] = m.item
		}
		out, err := s.Add(ctx, list)
		if err != nil {
			return err
		}
		for i, o := range out {
			a.count(batch[i], o)
			d.deliverOlder(ctx, s, a, batch[i], o)
		}
		batch, size = batch[:0], 0
		return nil
	}
	defer func() {
		bar.end()
		a.Stopped = err != nil
	}()
	tick := time.NewTicker(500 * time.Millisecond) // a slow disk still keeps what was read
	defer tick.Stop()
	for {
		var m made
		ok := true
		select {
		case m = <-large:
		case m, ok = <-items:
		case <-tick.C:
			if err := flush(); err != nil {
				return a, err
			}
			bar.at(a.Read)
			continue
		case <-ctx.Done():
			return a, ctx.Err()
		}
		switch {
		case !ok:
			if err := ctx.Err(); err != nil {
				return a, err
			}
			return a, flush()
		case m.err != nil:
			a.Refused++
			a.noRecord = true
			a.fail(m.path, cause(m.err))
		case m.known != nil:
			a.Read++
			a.Same++
		case m.item.Entry.Practice: // nobody lives there, and no house is sealed by it
			a.Practice++
			a.Refused++
			a.fail(m.path, d.says("add.practice-house"))
		default:
			batch = append(batch, m)
			size += len(m.item.Record.Bytes)
			if len(batch) >= batchItems || size >= batchBytes {
				if err := flush(); err != nil {
					return a, err
				}
			}
		}
		bar.at(a.Read)
	}
}

// portion is a path and those that wait behind it, to be looked up together.
func portion(f found, more <-chan found) []found {
	list := []found{f}
	for len(list) < lookUp {
		select {
		case f, ok := <-more:
			if !ok {
				return list
			}
			list = append(list, f)
		default:
			return list
		}
	}
	return list
}

// cause leaves out the path where the error repeats it.
func cause(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

func (a *added) count(m made, o register.Outcome) {
	a.Read++
	switch o.Relation {
	case journal.RelationUnknown:
		a.New++
	case journal.Growth:
		a.Grew++
	case journal.Same:
		a.Same++
	case journal.Older:
		a.Older++
	case journal.Second:
		a.Second++
		a.say(m.path, "is another record than the one kept under its id; both are kept")
	}
	if o.Relation == journal.Older {
		return
	}
	p := problem{Path: m.path, fails: true}
	for _, r := range m.item.Entry.Reasons {
		switch r.Code {
		case register.IntegrityFailed, register.NotJudged, register.FromNewer:
			p.Why, p.reason = reasonText(r), &r
		}
	}
	switch {
	case integrityFailed(m.item):
		a.Failed++
	case m.item.Entry.Decision == procedure.NoDecision:
		a.NotJudged++
	default:
		return
	}
	a.tell(p)
}

// readItems reads files and makes their items, those that are kept already
// aside.
func (d *desk) readItems(ctx context.Context, s register.Store, label string, list []found) iter.Seq[made] {
	return func(yield func(made) bool) {
		type read struct {
			found
			b   []byte
			sum string
		}
		files := make([]read, len(list))
		var sums []string
		size := 0
		for i, f := range list {
			files[i].found = f
			if f.err == nil {
				files[i].path, files[i].err = filepath.Abs(f.path)
			}
			// What is large is read when its turn comes.
			if info, err := os.Stat(files[i].path); err == nil && files[i].err == nil && info.Size() <= largeRecord && size <= lookUpBytes {
				files[i].b, files[i].err = readRecord(files[i].path)
				size += len(files[i].b)
			}
			if b := files[i].b; b != nil && d.looksKept(b) {
				sum := sha256.Sum256(b)
				files[i].sum = hex.EncodeToString(sum[:])
				sums = append(sums, files[i].sum)
			}
		}
		kept, err := s.Known(ctx, sums)
		if err != nil {
			kept = nil // a failure will be told when they are added
		}
		for i, f := range files {
			m := made{path: list[i].path, err: f.err}
			if f.b == nil && f.err == nil {
				f.b, m.err = readRecord(f.path)
			}
			k, had := kept[f.sum]
			switch {
			case m.err != nil:
			case had && asKept(k, f.path, label):
				m.known = &k.Entry
			default:
				m.item, m.err = d.item(f.path, f.b, label, "")
				if reports.Clean(f.path) != f.path {
					m.item.Record.Path = "" // a name that cannot be written down is not looked for again
				}
			}
			files[i].b = nil
			if !yield(m) {
				return
			}
		}
	}
}

// looksKept reports whether a record that is kept byte for byte need not be
// looked at again: nothing beside it or signed in it is to be checked.
func (d *desk) looksKept(b []byte) bool {
	return d.signers == "" && !bytes.Contains(b, []byte(`,"kind":"attach",`))
}

// asKept reports whether what is kept is sound and judged, from the same
// place and under the same label.
func asKept(k register.Item, path, label string) bool {
	r := k.Record
	sound := (r.State == journal.Closed || r.State == journal.Open) && r.Fault == "" && k.Entry.Decision != procedure.NoDecision
	return sound && r.Path == path && (label == "" || label == r.Label)
}

// paths calls do with every file that may be a record, until it says no.
func (d *desk) paths(ctx context.Context, args []string, do func(found) bool) error {
	for _, arg := range args {
		if arg == "-" {
			sc := bufio.NewScanner(d.e.in)
			sc.Buffer(nil, 1<<20)
			for sc.Scan() {
				if line := strings.TrimSuffix(sc.Text(), "\r"); line != "" && !d.under(ctx, line, do) {
					return nil
				}
			}
			if err := sc.Err(); err != nil {
				return fmt.Errorf("the list could not be read to its end: %w", err)
			}
			continue
		}
		if !d.under(ctx, arg, do) {
			return nil
		}
	}
	return nil
}

// under walks a folder, or takes the file itself. Links to folders are not
// followed, so that no folder is walked for ever.
func (d *desk) under(ctx context.Context, arg string, do func(found) bool) bool {
	info, err := os.Stat(arg)
	if err != nil {
		return do(found{arg, true, err})
	}
	if !info.IsDir() {
		return do(found{arg, true, nil})
	}
	n, more := 0, true
	err = filepath.WalkDir(arg, func(p string, e fs.DirEntry, err error) error {
		switch {
		case ctx.Err() != nil:
			more = false
			return filepath.SkipAll
		case err != nil:
			n++
			if more = do(found{p, true, err}); !more {
				return filepath.SkipAll
			}
			if e != nil && e.IsDir() {
				return filepath.SkipDir
			}
			return nil
		case e.IsDir() || !strings.HasSuffix(e.Name(), recordSuffix):
			return nil
		}
		if e.Type()&fs.ModeSymlink != 0 {
			if to, err := os.Stat(p); err != nil || !to.Mode().IsRegular() {
				return nil // leads nowhere, or to a folder
			}
		} else if !e.Type().IsRegular() {
			return nil
		}
		n++
		if more = do(found{p, false, nil}); !more {
			return filepath.SkipAll
		}
		return nil
	})
	if err == nil && n == 0 && more {
		err = errors.New("holds no record (" + recordSuffix + ")")
	}
	if err != nil {
		return do(found{arg, true, err})
	}
	return more
}

// deliverOlder gives a file the sign-offs that the register has on top of it.
func (d *desk) deliverOlder(ctx context.Context, s register.Store, a *added, m made, o register.Outcome) {
	if o.Relation != journal.Older {
		return
	}
	k, err := s.Kept(ctx, o.Key)
	if err != nil {
		return // it is kept, and the next add gives it
	}
	switch ok, err := deliver(m.item.Record.Path, k.Bytes); {
	case err != nil:
		a.say(m.path, "has a sign-off waiting that could not be written into it: "+cause(err)+"; the next desk add gives it")
	case ok:
		a.Delivered++
	}
}

// deliver appends to the file what the register has of it and it has not,
// if that is sign-offs alone. false: there was nothing to give.
func deliver(path string, kept []byte) (bool, error) {
	if path == "" {
		return false, nil
	}
	b, err := readRecord(path)
	if err != nil {
		return false, err
	}
	if len(b) >= len(kept) || !bytes.HasPrefix(kept, b) || !bytes.HasSuffix(b, []byte("\n")) {
		return false, nil
	}
	rec, err := journal.Parse(kept)
	if err != nil {
		return false, err
	}
	n := bytes.Count(b, []byte("\n")) - 1 // events that the file has
	if n < 1 || n >= len(rec.Events) {
		return false, nil
	}
	for _, ev := range rec.Events[n:] {
		if ev.Kind != procedure.KindSign {
			return false, nil
		}
	}
	j, err := disk.Open(path)
	if err != nil {
		return false, err
	}
	defer j.Close()
	if len(j.Record().Events) != n || j.Record().Head != rec.Lines[n].Hash {
		return false, nil // it grew meanwhile; the next add sees to it
	}
	_, err = j.Append(rec.Events[n:]...)
	return err == nil, err
}
