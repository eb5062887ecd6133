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
	reports "cazward/report"
)

// Sizes of a batch: one transaction each. What is done when the program is
// killed is what its last whole batch held.
const (
	batchItems = 128
	batchBytes = 16 << 20
)

// heapLimit is the heap, in bytes, from which it is collected all the time.
const heapLimit = 96 << 20

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
}

type problem struct {
	Path string `json:"path"`
	Why  string `json:"why"`
}

// maxProblems are told one by one; more are only counted.
const maxProblems = 200

func (a *added) say(path, why string) {
	if len(a.Problems) < maxProblems {
		a.Problems = append(a.Problems, problem{reports.Clean(path), reports.Clean(why)})
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
			s, err := d.open(true)
			if err != nil {
				return err
			}
			defer s.Close()
			a, err := d.add(s, args, label)
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

func (a *added) write(d *desk) {
	for _, p := range a.Problems {
		fmt.Fprintf(d.e.err, "cazward: %s: %s\n", p.Path, p.Why)
	}
	parts := []string{fmt.Sprintf("%d new", a.New)}
	for _, x := range []struct {
		n    int
		what string
	}{{a.Grew, "grown"}, {a.Same, "known already"}, {a.Older, "older copies"}, {a.Second, "second records of an id, both kept"}, {a.Delivered, "given a sign-off"},
		{a.Failed, "with failed integrity, kept and listed"}, {a.NotJudged, "not judged, kept and listed"}, {a.Refused, "refused"}, {a.Practice, "of them practice"}} {
		if x.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", x.n, x.what))
		}
	}
	fmt.Fprintf(d.e.out, "%d read: %s\n", a.Read, strings.Join(parts, ", "))
	if a.Stopped {
		fmt.Fprintln(d.e.out, "stopped before the end: what is counted here is kept; give the command again to go on")
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
	// Records come and go: collected less often, but long before the heap is
	// large.
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(heapLimit))
	total := 0
	bar := newProgress(d.e, "reading", 0)
	if bar.on && !(len(args) == 1 && args[0] == "-") {
		_ = d.paths(ctx, args, func(found) bool { total++; return true })
		bar = newProgress(d.e, "adding", total)
	}
	paths, items := make(chan found), make(chan made)
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
				m := made{path: f.path, err: f.err}
				if m.err == nil {
					m.item, m.known, m.err = d.readItem(ctx, s, f.path, label)
				}
				select {
				case items <- m:
				case <-ctx.Done():
					return
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
		select {
		case m, ok := <-items:
			if !ok {
				if err := ctx.Err(); err != nil {
					return a, err
				}
				return a, flush()
			}
			if m.err != nil {
				a.Refused++
				a.say(m.path, cause(m.err))
				continue
			}
			if m.known != nil {
				a.Read++
				a.Same++
				bar.at(a.Read)
				continue
			}
			if m.item.Entry.Practice { // nobody lives there, and no house is sealed by it
				a.Practice++
				a.Refused++
				a.say(m.path, "was made in a practice house, and the register keeps real homes only; look back at it with: cazward drill debrief")
				continue
			}
			batch = append(batch, m)
			size += len(m.item.Record.Bytes)
			if len(batch) >= batchItems || size >= batchBytes {
				if err := flush(); err != nil {
					return a, err
				}
			}
			bar.at(a.Read)
		case <-tick.C:
			if err := flush(); err != nil {
				return a, err
			}
			bar.at(a.Read)
		case <-ctx.Done():
			return a, ctx.Err()
		}
	}
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
	why := ""
	for _, r := range m.item.Entry.Reasons {
		switch r.Code {
		case register.IntegrityFailed, register.NotJudged, register.FromNewer:
			why = reasonText(r)
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
	a.say(m.path, why)
}

func (d *desk) readItem(ctx context.Context, s register.Store, path, label string) (register.Item, *register.Entry, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return register.Item{}, nil, err
	}
	b, err := readRecord(abs)
	if err != nil {
		return register.Item{}, nil, err
	}
	if e := d.known(ctx, s, abs, b, label); e != nil {
		return register.Item{}, e, nil
	}
	it, err := d.item(abs, b, label, "")
	if reports.Clean(abs) != abs {
		it.Record.Path = "" // a name that cannot be written down is not looked for again
	}
	return it, nil, err
}

// known returns the entry of a file that is kept byte for byte, sound and
// judged, from the same place and under the same label, and with nothing
// beside it or signed in it that would be checked again; nil for any other.
func (d *desk) known(ctx context.Context, s register.Store, path string, b []byte, label string) *register.Entry {
	if d.signers != "" || bytes.Contains(b, []byte(`,"kind":"attach",`)) {
		return nil
	}
	sum := sha256.Sum256(b)
	r, e, ok, err := s.Known(ctx, hex.EncodeToString(sum[:]))
	if err != nil || !ok { // a failure will be told when it is added
		return nil
	}
	sound := (r.State == journal.Closed || r.State == journal.Open) && r.Fault == "" && e.Decision != procedure.NoDecision
	if !sound || r.Path != path || label != "" && label != r.Label {
		return nil
	}
	return &e
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
