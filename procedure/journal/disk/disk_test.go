package disk

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
)

var at = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

func note(text string) procedure.Event {
	return procedure.Event{Kind: procedure.KindNote, Observed: at, Written: at, Who: "AB", Src: procedure.FromWalk, Data: &procedure.Note{Text: text}}
}

func plan() procedure.Event {
	return procedure.Event{Kind: procedure.KindPlan, Observed: at, Written: at, Who: "AB", Src: procedure.FromWalk, Data: &procedure.Plan{}}
}

func newRecord(t *testing.T, notes ...string) (string, *Journal) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "r.cazward")
	j, err := Create(path, procedure.Header{Record: "r", Home: "h", Phase: procedure.TestIn, Created: at}, plan())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	for _, n := range notes {
		if _, err := j.Append(note(n)); err != nil {
			t.Fatal(err)
		}
	}
	return path, j
}

func exit(err error) int {
	var c interface{ ExitCode() int }
	if errors.As(err, &c) {
		return c.ExitCode()
	}
	return -1
}

func TestCreateNeverOverwrites(t *testing.T) {
	path, j := newRecord(t, "one")
	j.Close()
	before, _ := os.ReadFile(path)
	_, err := Create(path, procedure.Header{Record: "x", Home: "h", Phase: procedure.TestIn, Created: at}, plan())
	if exit(err) != 7 {
		t.Errorf("created over a record: %v", err)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
		t.Error("the record changed")
	}
	if info, _ := os.Stat(path); runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v", info.Mode().Perm())
	}
	if _, err := Create(filepath.Join(filepath.Dir(path), "no", "r"), procedure.Header{Record: "x", Home: "h", Phase: procedure.TestIn, Created: at}, plan()); exit(err) != 7 {
		t.Errorf("created in a folder that is not there: %v", err)
	}
}

func TestSecondProgram(t *testing.T) {
	path, j := newRecord(t, "one")
	if _, err := Open(path); exit(err) != 9 {
		t.Errorf("a second program: %v", err)
	}
	if r, err := Load(path); err != nil || len(r.Events) != 2 {
		t.Errorf("reading beside it: %v", err)
	}
	j.Close()
	k, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	k.Close()
}

// faulty fails a write after some bytes, or a sync, or a truncate.
type faulty struct {
	Writer
	after    int // bytes written before the fault; -1 none
	sync     error
	truncate error
}

var errDisk = errors.New("no space left")

func (f *faulty) Write(p []byte) (int, error) {
	if f.after >= 0 && f.after < len(p) {
		n, _ := f.Writer.Write(p[:f.after])
		return n, errDisk
	}
	return f.Writer.Write(p)
}

func (f *faulty) Sync() error {
	if f.sync != nil {
		return f.sync
	}
	return f.Writer.Sync()
}

func (f *faulty) Truncate(n int64) error {
	if f.truncate != nil {
		return f.truncate
	}
	return f.Writer.Truncate(n)
}

// TestFaultAtEveryByte: an append that fails leaves the record as it was, and
// the same append can be tried again.
func TestFaultAtEveryByte(t *testing.T) {
	path, j := newRecord(t, "one", "two")
	file := j.w
	before, _ := os.ReadFile(path)
	_, data, err := j.rec.Extend(note("three"))
	if err != nil {
		t.Fatal(err)
	}
	for n := 0; n < len(data); n++ {
		j.w = &faulty{Writer: file, after: n}
		var ns *NotSaved
		if _, err := j.Append(note("three")); !errors.As(err, &ns) || !errors.Is(err, errDisk) {
			t.Fatalf("fault after %d bytes: %v", n, err)
		}
		if now, _ := os.ReadFile(path); !bytes.Equal(before, now) || len(j.Record().Events) != 3 {
			t.Fatalf("fault after %d bytes: the record changed", n)
		}
	}
	j.w = &faulty{Writer: file, after: -1, sync: errDisk}
	if _, err := j.Append(note("three")); err == nil {
		t.Error("an append without fsync counts as kept")
	}
	j.w = file
	if _, err := j.Append(note("three")); err != nil {
		t.Fatal(err)
	}
	if r, err := Load(path); err != nil || len(r.Events) != 4 {
		t.Errorf("after all faults: %d events, %v", len(r.Events), err)
	}
	t.Logf("fault: a write that fails after each byte of an append | %d | 0", len(data)+1)
}

// TestTruncateFailsToo: then the tail is torn, nothing more is written over
// it, and the next opener mends it.
func TestTruncateFailsToo(t *testing.T) {
	for _, cut := range []int{1, 40} {
		path, j := newRecord(t, "one", "two")
		j.w = &faulty{Writer: j.w, after: cut, truncate: errDisk}
		if _, err := j.Append(note("three")); err == nil {
			t.Fatal("kept")
		}
		if _, err := j.Append(note("four")); err == nil {
			t.Fatal("written behind a torn tail")
		}
		j.Close()
		k, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		if len(k.Record().Events) != 3 || k.Moved == "" {
			t.Errorf("%d events, torn tail at %q", len(k.Record().Events), k.Moved)
		}
		if b, _ := os.ReadFile(k.Moved); len(b) != cut {
			t.Errorf("torn tail of %d bytes kept, want %d", len(b), cut)
		}
		if _, err := k.Append(note("three")); err != nil {
			t.Error(err)
		}
		k.Close()
	}
}

// TestCutAtEveryByte: whatever a power cut left, the record opens again with
// every whole line and can be gone on with.
func TestCutAtEveryByte(t *testing.T) {
	path, j := newRecord(t, "one", "two")
	first := j.rec.Lines[1].Offset + j.rec.Lines[1].Len
	lines := j.rec.Lines
	j.Close()
	whole, _ := os.ReadFile(path)
	dir := t.TempDir()
	for n := int(first); n <= len(whole); n++ {
		p := filepath.Join(dir, "c.cazward")
		os.Remove(p)
		if err := os.WriteFile(p, whole[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		want := 0
		for i, l := range lines {
			if i > 0 && l.Offset+l.Len-1 <= int64(n) { // the LF alone may be missing
				want++
			}
		}
		k, err := Open(p)
		if err != nil {
			t.Fatalf("cut at %d: %v", n, err)
		}
		if len(k.Record().Events) != want {
			t.Fatalf("cut at %d: %d events, want %d", n, len(k.Record().Events), want)
		}
		if _, err := k.Append(note("on")); err != nil {
			t.Fatalf("cut at %d: %v", n, err)
		}
		k.Close()
		b, _ := os.ReadFile(p)
		if r := journal.Verify(b, journal.VerifyOptions{}); r.Word != "open" {
			t.Fatalf("cut at %d, gone on: %s %s", n, r.Word, r.Text)
		}
	}
	t.Logf("fault: a record cut at each byte and gone on with | %d | 0", len(whole)+1-int(first))
}

func TestChangedUnderIt(t *testing.T) {
	for name, do := range map[string]func(string) error{
		"deleted": os.Remove,
		"grown": func(p string) error {
			f, _ := os.OpenFile(p, os.O_APPEND|os.O_WRONLY, 0)
			defer f.Close()
			_, err := f.WriteString("x")
			return err
		},
		"replaced": func(p string) error { b, _ := os.ReadFile(p); os.Remove(p); return os.WriteFile(p, b, 0o600) },
		"emptied":  func(p string) error { return os.Truncate(p, 0) },
	} {
		path, j := newRecord(t, "one")
		if err := do(path); err != nil {
			t.Fatal(err)
		}
		if _, err := j.Append(note("two")); exit(err) != 8 {
			t.Errorf("%s under an open record: %v", name, err)
		}
	}
}

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.pdf")
	if err := os.WriteFile(path, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	fail := errors.New("half-way")
	if err := WriteFile(path, func(w io.Writer) error { w.Write([]byte("half")); return fail }); !errors.Is(err, fail) {
		t.Errorf("error lost: %v", err)
	}
	if b, _ := os.ReadFile(path); string(b) != "old" {
		t.Errorf("a failed write left %q", b)
	}
	if err := WriteFile(path, func(w io.Writer) error { _, err := w.Write([]byte("new")); return err }); err != nil {
		t.Fatal(err)
	}
	if b, _ := os.ReadFile(path); string(b) != "new" {
		t.Errorf("written %q", b)
	}
	if list, _ := os.ReadDir(dir); len(list) != 1 {
		t.Errorf("left behind: %v", list)
	}
	if err := WriteFile(filepath.Join(dir, "no", "x"), func(io.Writer) error { return nil }); exit(err) != 7 {
		t.Errorf("a folder that is not there: %v", err)
	}
}

func TestAttachment(t *testing.T) {
	path, j := newRecord(t)
	sum, err := j.StoreAttachment([]byte("picture"))
	if err != nil {
		t.Fatal(err)
	}
	if b, _ := os.ReadFile(filepath.Join(path+".files", sum)); string(b) != "picture" {
		t.Errorf("stored %q", b)
	}
	if again, err := j.StoreAttachment([]byte("picture")); err != nil || again != sum {
		t.Errorf("twice: %s %v", again, err)
	}
}
