// Package disk keeps records as files: created once, appended to one write of
// whole lines at a time, fsynced before anything counts as kept, locked
// against a second program. What a record is and whether it is sound is
// procedure/journal.
//
// Most callers need [Load] to read a record, and [Create] or [Open] to write
// one with [Journal.Append].
//
// Beside RECORD stand RECORD.lock while a program writes, RECORD.files/SHA256
// for attachments, and RECORD.torn-N for the tail of an append that was cut
// short. A symbolic link to a record is followed first, so that all of them
// stand beside the record itself.
package disk

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"syscall"

	"github.com/gofrs/flock"

	"cazward/procedure"
	"cazward/procedure/journal"
)

// maxFile is the largest file that is read, in bytes: some hundred times a
// record with a week of events, and small enough to hold in memory.
const maxFile = 256 << 20

// InUse is the error of a second program on a record.
type InUse struct{ Path string }

func (e *InUse) Error() string { return e.Path + " is in use by another program" }

// Hint says what to do.
func (e *InUse) Hint() string { return "close the other one, then try again; nothing was changed" }

// ExitCode of a record in use.
func (e *InUse) ExitCode() int { return 9 }

// NotSaved is the error of a write that did not reach the disk. Nothing of it
// counts as kept, and the same call can be made again.
type NotSaved struct {
	Path   string
	Events int // how many are not saved
	// Left: the file could not be cut back, so it may hold part of what was
	// written or all of it. The next append cuts it back first; after a crash
	// whole lines among it would be read.
	Left bool
	Err  error
}

func (e *NotSaved) Error() string {
	s := fmt.Sprintf("%s: not saved: %v", e.Path, e.Err)
	if e.Left {
		s += "; part of it may be in the file"
	}
	return s
}
func (e *NotSaved) Unwrap() error { return e.Err }

// Code is the machine's word for it.
func (e *NotSaved) Code() string { return "not-saved" }

// Hint says what to do.
func (e *NotSaved) Hint() string { return "free space or mend the disk, then try again" }

// ExitCode of a program that gives up on it.
func (e *NotSaved) ExitCode() int { return 7 }

// Refused is the error of a file that cannot be taken.
type Refused struct {
	Path, Text, Next string
	Code             int // exit code: 7 for refused input, 8 where integrity failed
	Err              error
}

func (e *Refused) Error() string {
	s := e.Path + ": " + e.Text
	switch cause := e.Err.(type) {
	case nil:
		return s
	case *fs.PathError:
		return s + ": " + cause.Err.Error() // which has the path, and one is enough
	default:
		return s + ": " + cause.Error()
	}
}
func (e *Refused) Unwrap() error { return e.Err }

// Hint says what to do.
func (e *Refused) Hint() string { return e.Next }

// ExitCode is 7 for refused input, 8 where integrity failed.
func (e *Refused) ExitCode() int { return e.Code }

// Writer is how the bytes of a record reach its file. Write goes on at the
// end of what is kept.
type Writer interface {
	io.Writer
	Sync() error
	Truncate(size int64) error
}

// Journal is an open, locked record.
type Journal struct {
	// Moved is where a torn tail was put when the record was opened, "" if
	// there was none, or if it was a whole line that only lacked its LF.
	Moved string

	path  string
	rec   journal.Record
	f     *os.File // nil once closed
	w     Writer
	lock  *flock.Flock
	extra int64 // most bytes past the record that a failed append left
}

// Record as it now stands.
func (j *Journal) Record() journal.Record { return j.rec }

// Wrap puts a writer between the record and its file, so that a test can make
// each write fail.
func (j *Journal) Wrap(wrap func(Writer) Writer) { j.w = wrap(j.w) }

// Create makes a new record with its header and first events, of which the
// first must be the plan, and leaves it open. It refuses to overwrite, and a
// record that could not be written whole is removed again.
func Create(path string, h procedure.Header, events ...procedure.Event) (*Journal, error) {
	return create(path, nil, h, events)
}

func create(path string, wrap func(Writer) Writer, h procedure.Header, events []procedure.Event) (*Journal, error) {
	rec, head, err := journal.Begin(h)
	if err != nil {
		return nil, named(path, err)
	}
	if len(events) == 0 {
		return nil, &Refused{Path: path, Text: "not created: a record begins with its plan", Code: 7}
	}
	rec, lines, err := rec.Extend(events...)
	if err != nil {
		return nil, named(path, err)
	}
	j := &Journal{path: path, rec: rec}
	exists := &Refused{Path: path, Text: "exists already; a record is never overwritten", Next: "name another file, or go on with it: cazward walk " + path, Code: 7}
	if _, err := os.Lstat(path); err == nil {
		return nil, exists
	}
	if err := j.takeLock(); err != nil {
		return nil, err
	}
	j.f, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		j.Close()
		if errors.Is(err, os.ErrExist) {
			return nil, exists
		}
		return nil, &Refused{Path: path, Text: "cannot be created", Next: "the folder must exist and be writable", Code: 7, Err: err}
	}
	j.w = j.f
	if wrap != nil {
		j.Wrap(wrap)
	}
	if err = writeAll(j.w, append(head, lines...)); err == nil {
		err = syncDir(filepath.Dir(path))
	}
	if err != nil {
		// Closed before it is removed, which some systems insist on; removed
		// before the lock goes, so that nobody finds it half made.
		j.f.Close()
		err = errors.Join(err, os.Remove(path))
		j.Close()
		return nil, &NotSaved{Path: path, Events: len(events), Err: err}
	}
	return j, nil
}

// Load reads a record without locking it. A torn tail whose line is whole is
// in the record; another torn tail is left out of its events.
func Load(path string) (journal.Record, error) {
	b, err := read(path)
	if err != nil {
		return journal.Record{}, err
	}
	rec, err := journal.Parse(b)
	return rec, named(path, err)
}

// Open locks a record to go on with it. A torn tail is finished with its LF
// when its sum is good, else moved beside the record: see [Journal].
func Open(path string) (*Journal, error) { return open(path, nil) }

func open(path string, wrap func(Writer) Writer) (*Journal, error) {
	// Before the lock, so that a name typed wrong leaves no lock file.
	if _, err := os.Stat(path); err != nil {
		return nil, unreadable(path, err)
	}
	j := &Journal{path: resolved(path)}
	if err := j.takeLock(); err != nil {
		return nil, err
	}
	if err := j.load(wrap); err != nil {
		j.Close()
		return nil, err
	}
	return j, nil
}

func (j *Journal) load(wrap func(Writer) Writer) error {
	b, err := read(j.path)
	if err != nil {
		return err
	}
	if j.rec, err = journal.Parse(b); err != nil {
		return named(j.path, err)
	}
	if j.f, err = os.OpenFile(j.path, os.O_RDWR, 0); err != nil {
		return &Refused{Path: j.path, Text: "cannot be written", Next: "make it writable", Code: 7, Err: err}
	}
	j.w = j.f
	if wrap != nil {
		j.Wrap(wrap)
	}
	switch {
	case j.rec.TornSumGood:
		if _, err = j.f.Seek(0, io.SeekEnd); err == nil {
			err = writeAll(j.w, []byte("\n"))
		}
	case len(j.rec.Torn) > 0:
		if j.Moved, err = aside(j.path, j.rec.Torn); err == nil {
			err = j.cutBack()
		}
	}
	if err != nil {
		return &NotSaved{Path: j.path, Err: err}
	}
	j.rec.Torn, j.rec.TornSumGood = nil, false
	return nil
}

// Append numbers the events, writes them as whole lines in one write, and
// fsyncs. Only then do they count, and they are returned as written.
//
// An error of the codec or a *[Refused] means that nothing was written. With
// a *[NotSaved] the file was cut back to what it was, or Left says that it
// could not be; either way the same Append can be tried again.
func (j *Journal) Append(events ...procedure.Event) ([]procedure.Event, error) {
	if j.f == nil {
		return nil, &NotSaved{Path: j.path, Events: len(events), Err: os.ErrClosed}
	}
	if err := j.unchanged(); err != nil {
		return nil, err
	}
	next, lines, err := j.rec.Extend(events...)
	if err != nil {
		return nil, named(j.path, err)
	}
	for _, ev := range events {
		a, ok := ev.Data.(*procedure.Attach)
		if !ok {
			continue
		}
		if info, err := os.Stat(attachment(j.path, a.SHA256)); err != nil || info.Size() != a.Bytes {
			return nil, &Refused{Path: j.path, Text: "attachment " + a.SHA256 + " is not stored beside the record", Next: "store it first", Code: 7, Err: err}
		}
	}
	if err := j.write(lines); err != nil {
		// After a failed fsync the system may take the pages for written, so
		// the lines go too and a retry writes them anew.
		cut := j.cutBack()
		return nil, &NotSaved{Path: j.path, Events: len(events), Left: cut != nil, Err: errors.Join(err, cut)}
	}
	old := len(j.rec.Events)
	j.rec, j.extra = next, 0
	return next.Events[old:], nil
}

func (j *Journal) write(lines []byte) error {
	if j.extra > 0 {
		if err := j.cutBack(); err != nil {
			return err
		}
	}
	if _, err := j.f.Seek(j.rec.Size(), io.SeekStart); err != nil {
		return err
	}
	j.extra = int64(len(lines))
	return writeAll(j.w, lines)
}

// cutBack takes off what is past the record.
func (j *Journal) cutBack() error {
	if err := j.w.Truncate(j.rec.Size()); err != nil {
		return err
	}
	if err := j.w.Sync(); err != nil {
		return err
	}
	j.extra = 0
	return nil
}

// unchanged reports whether the name still leads to the file that is open,
// and whether that has the length that was last written.
func (j *Journal) unchanged() error {
	now, err := os.Stat(j.path)
	if errors.Is(err, os.ErrNotExist) {
		return &Refused{Path: j.path, Text: "was deleted or renamed while in use", Next: "put it back; nothing more is written until then", Code: 8}
	}
	var open os.FileInfo
	if err == nil {
		open, err = j.f.Stat()
	}
	if err != nil {
		return &NotSaved{Path: j.path, Err: err}
	}
	if past := now.Size() - j.rec.Size(); !os.SameFile(now, open) || past < 0 || past > j.extra {
		return &Refused{Path: j.path, Text: "was changed by something else while in use", Next: "stop, then: cazward verify " + j.path, Code: 8}
	}
	return nil
}

// Close gives the record free. Closing again does nothing.
func (j *Journal) Close() error {
	var err error
	if j.f != nil {
		err = j.f.Close()
		j.f = nil
	}
	if j.lock != nil {
		// While it is held, so that takeLock can tell. Where an open file
		// cannot be removed the empty lock file stays, which does no harm.
		os.Remove(j.lock.Path())
		err = errors.Join(err, j.lock.Unlock())
		j.lock = nil
	}
	return err
}

// takeLock locks the side file. Who held it before may have removed it, so
// that the lock just taken is on a file without a name: then once more.
func (j *Journal) takeLock() error {
	for range 10 {
		l := flock.New(j.path + ".lock")
		ok, err := l.TryLock()
		if err != nil {
			return &Refused{Path: j.path, Text: "cannot be locked", Next: "the folder must exist and be writable", Code: 7, Err: err}
		}
		if !ok {
			break
		}
		held, err1 := l.Stat()
		named, err2 := os.Stat(l.Path())
		if err1 == nil && err2 == nil && os.SameFile(held, named) {
			j.lock = l
			return nil
		}
		l.Unlock()
	}
	return &InUse{j.path}
}

// StoreAttachment keeps bytes beside the record under their hash, fsynced,
// and returns the hash. It comes before the attach event.
func (j *Journal) StoreAttachment(data []byte) (string, error) {
	sum := sha256.Sum256(data)
	name := hex.EncodeToString(sum[:])
	path := attachment(j.path, name)
	err := os.Mkdir(filepath.Dir(path), 0o700)
	if err == nil || errors.Is(err, os.ErrExist) {
		err = syncDir(filepath.Dir(j.path))
	}
	if err != nil {
		return "", &NotSaved{Path: path, Err: err}
	}
	return name, WriteFile(path, func(w io.Writer) error { _, err := w.Write(data); return err })
}

// Attachments returns a function that opens the stored bytes of a record's
// attachments by hash, as [journal.VerifyOptions] wants it.
func Attachments(record string) func(sha string) (io.ReadCloser, error) {
	return func(sha string) (io.ReadCloser, error) { return os.Open(attachment(resolved(record), sha)) }
}

func attachment(record, sha string) string { return filepath.Join(record+".files", sha) }

// WriteFile writes a file whole or not at all: under a temporary name in the
// same folder, fsynced, then renamed. No temporary is left, not even when
// write fails or panics. A file that is replaced hands on its permissions; a
// new one is for its owner only. Errors of write come back as they are, those
// of the disk as *[NotSaved].
func WriteFile(path string, write func(io.Writer) error) error {
	mode := os.FileMode(0o600)
	if info, err := os.Stat(path); err == nil {
		if !info.Mode().IsRegular() {
			return &Refused{Path: path, Text: "is not a file that can be replaced", Next: "name another output", Code: 7}
		}
		path, mode = resolved(path), info.Mode().Perm()
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".cazward-*")
	if err != nil {
		return &Refused{Path: path, Text: "cannot be written", Next: "the folder must exist and be writable", Code: 7, Err: err}
	}
	done := false
	defer func() {
		if !done {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	w := &watched{w: f}
	if err := write(w); err != nil && w.err == nil {
		return err
	}
	err = w.err
	for _, step := range []func() error{
		func() error { return f.Chmod(mode) },
		f.Sync,
		f.Close,
		func() error { return os.Rename(f.Name(), path) },
	} {
		if err == nil {
			err = step()
		}
	}
	if err != nil {
		return &NotSaved{Path: path, Err: err}
	}
	done = true
	if err := syncDir(filepath.Dir(path)); err != nil {
		return &NotSaved{Path: path, Err: err}
	}
	return nil
}

// watched remembers that the disk refused, whatever the caller makes of it.
type watched struct {
	w   io.Writer
	err error
}

func (w *watched) Write(b []byte) (int, error) {
	n, err := w.w.Write(b)
	if err != nil && w.err == nil {
		w.err = err
	}
	return n, err
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
		err = writeAll(f, tail)
		if cerr := f.Close(); err == nil {
			err = cerr
		}
		if err != nil {
			os.Remove(name)
			return "", err
		}
		return name, syncDir(filepath.Dir(path))
	}
}

func writeAll(w Writer, b []byte) error {
	n, err := w.Write(b)
	if err == nil && n < len(b) {
		err = io.ErrShortWrite
	}
	if err == nil {
		err = w.Sync()
	}
	return err
}

// syncDir makes a new name in a folder last. Windows has no such call, and
// some file systems refuse it.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}

func read(path string) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, unreadable(path, err)
	case !info.Mode().IsRegular():
		return nil, &Refused{Path: path, Text: "is not a file", Next: "give the path of a record", Code: 7}
	case info.Size() > maxFile:
		return nil, &Refused{Path: path, Text: fmt.Sprintf("is larger than %d bytes: no record is", maxFile), Next: "give the path of a record", Code: 7}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, unreadable(path, err)
	}
	return b, nil
}

func unreadable(path string, err error) error {
	return &Refused{Path: path, Text: "cannot be read", Next: "give the path of a record", Code: 7, Err: err}
}

// resolved follows symbolic links; where it cannot, opening will say why.
func resolved(path string) string {
	if p, err := filepath.EvalSymlinks(path); err == nil {
		return p
	}
	return path
}

// named puts the file's name before an error of the codec.
func named(path string, err error) error {
	var e *journal.Error
	if !errors.As(err, &e) {
		return err
	}
	c := *e
	c.File = path
	return &c
}
