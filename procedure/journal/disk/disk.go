// Package disk keeps records as files: created once, appended to one whole
// write at a time, fsynced before anything counts as kept, locked against a
// second program. What a record is and whether it is sound is procedure/journal.
package disk

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"

	"github.com/gofrs/flock"

	"cazward/procedure"
	"cazward/procedure/journal"
)

// InUse is the error of a second program on a record.
type InUse struct{ Path string }

func (e *InUse) Error() string { return e.Path + " is in use by another program" }

// Hint says what to do.
func (e *InUse) Hint() string { return "close the other one, then try again; nothing was changed" }

// ExitCode of a record in use.
func (e *InUse) ExitCode() int { return 9 }

// NotSaved is the error of an append that did not reach the disk. The file is
// as it was before; the same Append can be tried again.
type NotSaved struct {
	Path string
	Err  error
}

func (e *NotSaved) Error() string { return fmt.Sprintf("%s: not saved: %v", e.Path, e.Err) }
func (e *NotSaved) Unwrap() error { return e.Err }

// Hint says what to do.
func (e *NotSaved) Hint() string { return "free space or mend the disk, then try again" }

// ExitCode of refused input.
func (e *NotSaved) ExitCode() int { return 7 }

// Refused is the error of a file that cannot be taken.
type Refused struct {
	Path, Text, Next string
	Code             int
	Err              error
}

func (e *Refused) Error() string {
	if e.Err != nil {
		return fmt.Sprintf("%s: %s: %v", e.Path, e.Text, e.Err)
	}
	return e.Path + ": " + e.Text
}
func (e *Refused) Unwrap() error { return e.Err }

// Hint says what to do.
func (e *Refused) Hint() string { return e.Next }

// ExitCode is 7 for refused input, 8 where integrity failed.
func (e *Refused) ExitCode() int { return e.Code }

// File is what an append needs of the record's file, so that tests can make
// each of them fail.
type File interface {
	io.Writer
	Sync() error
	Truncate(int64) error
	Close() error
}

// Journal is an open, locked record.
type Journal struct {
	path   string
	rec    journal.Record
	file   File
	info   os.FileInfo
	lock   *flock.Flock
	closed bool
	// Moved is where a torn tail was put when the record was opened, "" if
	// there was none.
	Moved string
}

// Record as it now stands.
func (j *Journal) Record() journal.Record { return j.rec }

func lockOf(path string) (*flock.Flock, error) {
	l := flock.New(path + ".lock")
	ok, err := l.TryLock()
	if err != nil {
		return nil, &Refused{Path: path, Text: "cannot be locked", Next: "the folder must be writable", Code: 7, Err: err}
	}
	if !ok {
		return nil, &InUse{path}
	}
	return l, nil
}

// syncDir makes a new name in a folder last. Windows has no such call.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}

// Create makes a new record with its header and first events. It refuses to
// overwrite, and a record that could not be written whole is removed again.
func Create(path string, h procedure.Header, events ...procedure.Event) (*Journal, error) {
	rec, data, err := journal.Begin(h)
	if err != nil {
		return nil, err
	}
	rec, more, err := rec.Extend(events...)
	if err != nil {
		return nil, err
	}
	l, err := lockOf(path)
	if err != nil {
		return nil, err
	}
	fail := func(err error) (*Journal, error) {
		l.Unlock()
		os.Remove(path + ".lock")
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL|os.O_APPEND, 0o600)
	if errors.Is(err, os.ErrExist) {
		l.Unlock()
		return nil, &Refused{Path: path, Text: "exists already; a record is never overwritten", Next: "name another file, or go on with it: cazward walk " + path, Code: 7}
	}
	if err != nil {
		return fail(&Refused{Path: path, Text: "cannot be created", Next: "the folder must exist and be writable", Code: 7, Err: err})
	}
	_, err = f.Write(append(data, more...))
	if err == nil {
		err = f.Sync()
	}
	if err == nil {
		err = syncDir(filepath.Dir(path))
	}
	var info os.FileInfo
	if err == nil {
		info, err = f.Stat()
	}
	if err != nil {
		f.Close()
		os.Remove(path)
		return fail(&NotSaved{path, err})
	}
	return &Journal{path: path, rec: rec, file: f, info: info, lock: l}, nil
}

// Load reads a record without locking it. A torn tail whose line is whole is
// in the record; another torn tail is left out of it.
func Load(path string) (journal.Record, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return journal.Record{}, &Refused{Path: path, Text: "cannot be read", Next: "give the path of a record", Code: 7, Err: err}
	}
	rec, err := journal.Parse(b)
	if err != nil {
		return journal.Record{}, named(path, err)
	}
	return rec, nil
}

// named puts the file's name before an error of the codec.
func named(path string, err error) error {
	var e *journal.Error
	if errors.As(err, &e) {
		c := *e
		c.File = path
		return &c
	}
	return fmt.Errorf("%s: %w", path, err)
}

// Open locks a record to go on with it. A torn tail is finished with its LF
// when its sum is good, else moved beside the record.
func Open(path string) (*Journal, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, &Refused{Path: path, Text: "cannot be opened", Next: "give the path of a record", Code: 7, Err: err}
	}
	l, err := lockOf(path)
	if err != nil {
		return nil, err
	}
	j, err := open(path, l)
	if err != nil {
		l.Unlock()
		return nil, err
	}
	return j, nil
}

func open(path string, l *flock.Flock) (*Journal, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, &Refused{Path: path, Text: "cannot be read", Next: "give the path of a record", Code: 7, Err: err}
	}
	rec, err := journal.Parse(b)
	if err != nil {
		return nil, named(path, err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		return nil, &Refused{Path: path, Text: "cannot be written", Next: "make it writable", Code: 7, Err: err}
	}
	j := &Journal{path: path, rec: rec, file: f, lock: l}
	fail := func(err error) (*Journal, error) { f.Close(); return nil, &NotSaved{path, err} }
	switch {
	case rec.TornSumGood:
		if _, err := f.Write([]byte("\n")); err != nil {
			return fail(err)
		}
		if err := f.Sync(); err != nil {
			return fail(err)
		}
	case len(rec.Torn) > 0:
		if j.Moved, err = aside(path, rec.Torn); err != nil {
			return fail(err)
		}
		if err := f.Truncate(rec.Size()); err != nil {
			return fail(err)
		}
		if err := f.Sync(); err != nil {
			return fail(err)
		}
	}
	j.rec.Torn, j.rec.TornSumGood = nil, false
	if j.info, err = f.Stat(); err != nil {
		return fail(err)
	}
	return j, nil
}

// aside keeps a torn tail in RECORD.torn-N, fsynced before it is cut off.
func aside(path string, tail []byte) (string, error) {
	for n := 1; ; n++ {
		name := path + ".torn-" + strconv.Itoa(n)
		f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if errors.Is(err, os.ErrExist) {
			continue
		}
		if err != nil {
			return "", err
		}
		_, err = f.Write(tail)
		if err == nil {
			err = f.Sync()
		}
		if cerr := f.Close(); err == nil {
			err = cerr
		}
		if err == nil {
			err = syncDir(filepath.Dir(path))
		}
		return name, err
	}
}

// same reports whether the name still leads to the file that is open, at the
// length that was last kept.
func (j *Journal) same() error {
	if j.info == nil {
		return nil
	}
	now, err := os.Stat(j.path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return &Refused{Path: j.path, Text: "was deleted or renamed while in use", Next: "put it back; nothing more is written until then", Code: 8}
	case err != nil:
		return &NotSaved{j.path, err}
	case !os.SameFile(now, j.info) || now.Size() != j.rec.Size():
		return &Refused{Path: j.path, Text: "was changed by something else while in use", Next: "stop, then: cazward verify " + j.path, Code: 8}
	}
	return nil
}

// Append writes events as whole lines in one write, fsynced. Only then do
// they count. On failure the file is cut back to what it was and the error is
// a *[NotSaved].
func (j *Journal) Append(events ...procedure.Event) ([]procedure.Event, error) {
	if j.closed {
		return nil, &NotSaved{j.path, os.ErrClosed}
	}
	if err := j.same(); err != nil {
		return nil, err
	}
	rec, data, err := j.rec.Extend(events...)
	if err != nil {
		return nil, err
	}
	size := j.rec.Size()
	n, err := j.file.Write(data)
	if err == nil && n != len(data) {
		err = io.ErrShortWrite
	}
	if err == nil {
		err = j.file.Sync()
	}
	if err != nil {
		if terr := j.file.Truncate(size); terr != nil {
			err = errors.Join(err, terr)
		} else {
			j.file.Sync()
		}
		return nil, &NotSaved{j.path, err}
	}
	j.rec = rec
	return events, nil
}

// Close gives the record free.
func (j *Journal) Close() error {
	if j.closed {
		return nil
	}
	j.closed = true
	err := j.file.Close()
	return errors.Join(err, j.lock.Unlock())
}

// StoreAttachment keeps bytes beside the record under their hash, fsynced.
func (j *Journal) StoreAttachment(data []byte) (string, error) {
	sum := sha256.Sum256(data)
	name := hex.EncodeToString(sum[:])
	dir := j.path + ".files"
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", &NotSaved{j.path, err}
	}
	path := filepath.Join(dir, name)
	if old, err := os.ReadFile(path); err == nil && bytes.Equal(old, data) {
		return name, nil
	}
	if err := WriteFile(path, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
		return "", &NotSaved{j.path, err}
	}
	return name, syncDir(filepath.Dir(j.path))
}

// WriteFile writes a file whole or not at all: to a temporary name beside it,
// fsynced, then renamed. Nothing half-written and no temporary is left.
func WriteFile(path string, write func(io.Writer) error) (err error) {
	dir := filepath.Dir(path)
	f, err := os.CreateTemp(dir, ".cazward-*")
	if err != nil {
		return &Refused{Path: path, Text: "cannot be written", Next: "the folder must exist and be writable", Code: 7, Err: err}
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err = write(f); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return &NotSaved{path, err}
	}
	if err = f.Close(); err != nil {
		return &NotSaved{path, err}
	}
	if err = os.Rename(f.Name(), path); err != nil {
		return &NotSaved{path, err}
	}
	return syncDir(dir)
}
