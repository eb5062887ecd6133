package disk

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"

	"cazward/procedure"
	"cazward/procedure/journal"
)

func TestMain(m *testing.M) {
	// The second program of TestTwoPrograms.
	if path := os.Getenv("CAZWARD_TEST_HOLD"); path != "" {
		j, err := Open(path)
		if err != nil {
			fmt.Println(exit(err), err)
			os.Exit(0)
		}
		fmt.Println("open")
		io.Copy(io.Discard, os.Stdin)
		_ = j // not closed: the system frees the lock of a program that ends
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func header() procedure.Header {
	return procedure.Header{Record: "r", Home: "h", Phase: procedure.TestIn, Created: at}
}

func names(t *testing.T, dir string) []string {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range list {
		out = append(out, e.Name())
	}
	return out
}

func word(t *testing.T, path string) journal.VerifyResult {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return journal.Verify(b, journal.VerifyOptions{Attachment: Attachments(path)})
}

func TestTwoPrograms(t *testing.T) {
	path, j := newRecord(t)
	other := func() (string, func()) {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), "CAZWARD_TEST_HOLD="+path)
		in, err := cmd.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		said, err := bufio.NewReader(out).ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		return said, func() { in.Close(); cmd.Wait() }
	}
	said, stop := other()
	stop()
	if said != "9 "+path+" is in use by another program\n" {
		t.Errorf("second program: %q", said)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if said, stop = other(); said != "open\n" {
		t.Errorf("after closing: %q", said)
	}
	var in *InUse
	if _, err := Open(path); !errors.As(err, &in) || in.Path != path {
		t.Errorf("beside the other program: %v", err)
	}
	stop()
	k, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	k.Close()
}

// TestLockFileGoes: the side file goes with the lock, and that never lets two
// in at once.
func TestLockFileGoes(t *testing.T) {
	path, j := newRecord(t)
	j.Close()
	if got := names(t, filepath.Dir(path)); runtime.GOOS != "windows" && len(got) != 1 {
		t.Errorf("left behind: %v", got)
	}
	var inside, opened, most atomic.Int32
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 200 {
				k, err := Open(path)
				if err != nil {
					if exit(err) != 9 {
						t.Error(err)
					}
					continue
				}
				opened.Add(1)
				if n := inside.Add(1); n > most.Load() {
					most.Store(n)
				}
				inside.Add(-1)
				k.Close()
			}
		})
	}
	wg.Wait()
	if most.Load() != 1 || opened.Load() < 8 {
		t.Errorf("%d inside at once, opened %d times", most.Load(), opened.Load())
	}
}

func TestCreateFaults(t *testing.T) {
	path := filepath.Join(t.TempDir(), "r.cazward")
	rec, head, err := journal.Begin(header())
	if err != nil {
		t.Fatal(err)
	}
	_, lines, err := rec.Extend(plan())
	if err != nil {
		t.Fatal(err)
	}
	size := len(head) + len(lines)
	for n := 0; n <= size; n++ {
		f := &faulty{after: n}
		if n == size {
			f.after, f.sync = -1, errDisk
		}
		_, err := create(path, func(w Writer) Writer { f.Writer = w; return f }, header(), []procedure.Event{plan()})
		var ns *NotSaved
		if !errors.As(err, &ns) || !errors.Is(err, errDisk) || ns.Events != 1 {
			t.Fatalf("fault after %d bytes: %v", n, err)
		}
		if got := names(t, filepath.Dir(path)); runtime.GOOS != "windows" && len(got) != 0 {
			t.Fatalf("fault after %d bytes left %v", n, got)
		}
	}
	if _, err := Create(path, header()); exit(err) != 7 {
		t.Errorf("created without a plan: %v", err)
	}
	if _, err := Create(path, header(), note("x")); exit(err) != 7 {
		t.Errorf("created without a plan: %v", err)
	}
	j, err := Create(path, header(), plan(), note("x"))
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if v := word(t, path); v.Word != journal.Open || v.Events != 2 {
		t.Errorf("%+v", v)
	}
}

func TestAppend(t *testing.T) {
	path, j := newRecord(t)
	got, err := j.Append(note("a"), note("b"))
	if err != nil || len(got) != 2 || got[0].N != 2 || got[1].N != 3 {
		t.Fatal(got, err)
	}
	before, _ := os.ReadFile(path)
	bad := note("\x1b[2J")
	if _, err := j.Append(note("c"), bad); exit(err) != 7 || err.Error() != path+":6: data.text: control character U+001B in text" {
		t.Errorf("%v", err)
	}
	numbered := note("c")
	numbered.N = 9
	if _, err := j.Append(numbered); exit(err) != 7 {
		t.Errorf("%v", err)
	}
	if _, err := j.Append(plan()); exit(err) != 7 {
		t.Errorf("a second plan: %v", err)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) || len(j.Record().Events) != 3 {
		t.Error("a refused append wrote something")
	}
	if r, err := Load(path); err != nil || r.Head != j.Record().Head || r.Size() != int64(len(before)) {
		t.Errorf("%v", err)
	}
	j.Close()
	if _, err := j.Append(note("c")); !errors.Is(err, os.ErrClosed) {
		t.Errorf("append after close: %v", err)
	}
	if err := j.Close(); err != nil {
		t.Error(err)
	}
}

// short writes less than it was given and calls that no error.
type short struct {
	Writer
	n int
}

func (s short) Write(b []byte) (int, error) { return s.Writer.Write(b[:min(s.n, len(b))]) }

func TestShortWrite(t *testing.T) {
	path, j := newRecord(t)
	before, _ := os.ReadFile(path)
	file := j.w
	j.Wrap(func(w Writer) Writer { return short{w, 50} })
	var ns *NotSaved
	if _, err := j.Append(note("a")); !errors.As(err, &ns) || !errors.Is(err, io.ErrShortWrite) || ns.Left || ns.Code() != "not-saved" {
		t.Errorf("%v", err)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
		t.Error("the record changed")
	}
	j.w = file
	if _, err := j.Append(note("a")); err != nil {
		t.Error(err)
	}
}

// TestDiskComesBack: when even cutting back failed, the same journal goes on
// once the disk works again, for every place at which the write stopped.
func TestDiskComesBack(t *testing.T) {
	path, j := newRecord(t, "one")
	file := j.w
	_, data, err := j.rec.Extend(note("two"))
	if err != nil {
		t.Fatal(err)
	}
	before, _ := os.ReadFile(path)
	for n := 0; n <= len(data); n++ {
		f := &faulty{Writer: file, after: n, truncate: errDisk}
		if n == len(data) {
			f.after, f.sync = -1, errDisk
		}
		j.w = f
		var ns *NotSaved
		if _, err := j.Append(note("two")); !errors.As(err, &ns) || !ns.Left {
			t.Fatalf("fault after %d bytes: %v", n, err)
		}
		if now, _ := os.ReadFile(path); len(now) != len(before)+n || len(j.Record().Events) != 2 {
			t.Fatalf("fault after %d bytes: %d bytes in the file", n, len(now))
		}
		// What a program sees that reads just now, or that starts after a
		// crash: a torn tail, or a line that was never acknowledged.
		switch v := word(t, path); {
		case n == 0 && v.Word == journal.Open && v.Events == 2:
		case n == len(data) && v.Word == journal.Open && v.Events == 3:
		case n == len(data)-1 && v.Word == journal.Torn && v.Events == 3:
		case n > 0 && n < len(data)-1 && v.Word == journal.Torn && v.Events == 2:
		default:
			t.Fatalf("fault after %d bytes: %+v", n, v)
		}
		j.w = file
		if n%2 == 0 { // shorter than what was left, and longer
			_, err = j.Append(note("x"))
		} else {
			_, err = j.Append(note("a longer one than that"), note("and another"))
		}
		if err != nil {
			t.Fatalf("after the fault at %d: %v", n, err)
		}
		if v := word(t, path); v.Word != journal.Open || v.Head != j.Record().Head {
			t.Fatalf("after the fault at %d: %+v", n, v)
		}
		// Back to where it began, for the next place.
		j.Close()
		if err := os.WriteFile(path, before, 0o600); err != nil {
			t.Fatal(err)
		}
		if j, err = Open(path); err != nil {
			t.Fatal(err)
		}
		file = j.w
	}
	j.Close()
}

// TestRepairFaults: opening a torn record on a disk that fails loses nothing
// of the record nor of the tail.
func TestRepairFaults(t *testing.T) {
	path, j := newRecord(t, "one", "two")
	j.Close()
	whole, _ := os.ReadFile(path)
	for name, c := range map[string]struct {
		file []byte
		f    faulty
	}{
		"line end not written":      {whole[:len(whole)-1], faulty{after: 0}},
		"line end not synced":       {whole[:len(whole)-1], faulty{after: -1, sync: errDisk}},
		"tail not cut off":          {whole[:len(whole)-9], faulty{after: -1, truncate: errDisk}},
		"cut off, but not for good": {whole[:len(whole)-9], faulty{after: -1, sync: errDisk}},
	} {
		t.Run(name, func(t *testing.T) {
			p := filepath.Join(t.TempDir(), "r")
			if err := os.WriteFile(p, c.file, 0o600); err != nil {
				t.Fatal(err)
			}
			_, err := open(p, func(w Writer) Writer { c.f.Writer = w; return &c.f })
			var ns *NotSaved
			if !errors.As(err, &ns) || !errors.Is(err, errDisk) {
				t.Fatalf("%v", err)
			}
			k, err := Open(p)
			if err != nil {
				t.Fatal(err)
			}
			defer k.Close()
			tail, _ := os.ReadFile(p + ".torn-1")
			now, _ := os.ReadFile(p)
			lines := k.Record().Size()
			switch len(c.file) {
			case len(whole) - 1:
				if !bytes.Equal(now, whole) || len(tail) != 0 || k.Moved != "" {
					t.Errorf("moved to %q", k.Moved)
				}
			default:
				if !bytes.Equal(append(now, tail...), c.file) || int64(len(now)) != lines || len(k.Record().Events) != 2 {
					t.Errorf("%d bytes and a tail of %d from %d", len(now), len(tail), len(c.file))
				}
			}
		})
	}
}

func TestTornTail(t *testing.T) {
	path, j := newRecord(t, "one", "two")
	j.Close()
	whole, _ := os.ReadFile(path)
	for n := 1; n <= 2; n++ {
		if err := os.WriteFile(path, whole[:len(whole)-20], 0o600); err != nil {
			t.Fatal(err)
		}
		r, err := Load(path)
		if err != nil || len(r.Torn) == 0 || r.TornSumGood || len(r.Events) != 2 {
			t.Fatalf("%v %q", err, r.Torn)
		}
		if now, _ := os.ReadFile(path); len(now) != len(whole)-20 {
			t.Error("reading changed the record")
		}
		k, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		if want := fmt.Sprintf("%s.torn-%d", path, n); k.Moved != want || len(k.Record().Torn) != 0 {
			t.Errorf("moved to %q, want %q", k.Moved, want)
		}
		if info, err := os.Stat(k.Moved); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Error(info, err)
		}
		k.Close()
	}
	if err := os.WriteFile(path, whole[:len(whole)-1], 0o600); err != nil {
		t.Fatal(err)
	}
	if r, err := Load(path); err != nil || !r.TornSumGood || len(r.Events) != 3 {
		t.Errorf("%v", err)
	}
	k, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Close()
	if now, _ := os.ReadFile(path); k.Moved != "" || !bytes.Equal(now, whole) {
		t.Errorf("moved to %q, record %q", k.Moved, now)
	}
}

// TestRefusedFiles: each is named, gets the right exit code, and nothing is
// left beside it.
func TestRefusedFiles(t *testing.T) {
	path, j := newRecord(t, "one")
	j.Close()
	whole, _ := os.ReadFile(path)
	damaged := bytes.Clone(whole)
	damaged[len(damaged)-100] ^= 1
	for name, c := range map[string]struct {
		b    []byte
		exit int
		text string
	}{
		"damaged":      {damaged, 8, ":3: line differs from its sum"},
		"half a plan":  {whole[:300], 8, ":2: ends before its plan"},
		"other":        {[]byte("hello\n"), 7, ":1: not a record: the first line does not begin {\"format\":\"cazward-record\",\"v\":"},
		"missing":      {nil, 7, ": cannot be read: no such file or directory"},
		"not a record": {[]byte{}, 8, ":1: ends inside its first line"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			p := filepath.Join(dir, "r")
			left := 0
			if c.b != nil {
				left = 1
				if err := os.WriteFile(p, c.b, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			_, err := Open(p)
			_, err2 := Load(p)
			for _, err := range []error{err, err2} {
				if exit(err) != c.exit || runtime.GOOS != "windows" && err.Error() != p+c.text {
					t.Errorf("exit %d: %v", exit(err), err)
				}
				if h, ok := err.(interface{ Hint() string }); !ok || h.Hint() == "" {
					t.Errorf("no hint: %v", err)
				}
			}
			if got := names(t, dir); runtime.GOOS != "windows" && len(got) != left {
				t.Errorf("left behind: %v", got)
			}
		})
	}
	if _, err := Load(t.TempDir()); exit(err) != 7 {
		t.Errorf("a folder: %v", err)
	}
	big := filepath.Join(t.TempDir(), "big")
	if err := os.WriteFile(big, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(big, maxFile+1); err != nil {
		t.Skip(err)
	}
	if _, err := Load(big); exit(err) != 7 {
		t.Errorf("too large: %v", err)
	}
}

// TestSymbolicLink: lock, attachments and torn tails stand beside the record.
func TestSymbolicLink(t *testing.T) {
	path, j := newRecord(t)
	link := filepath.Join(t.TempDir(), "link")
	if err := os.Symlink(path, link); err != nil {
		t.Skip(err)
	}
	if _, err := Open(link); exit(err) != 9 {
		t.Errorf("second program through a link: %v", err)
	}
	j.Close()
	k, err := Open(link)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Close()
	if _, err := Open(path); exit(err) != 9 {
		t.Errorf("second program beside a link: %v", err)
	}
	if got := names(t, filepath.Dir(link)); len(got) != 1 {
		t.Errorf("beside the link: %v", got)
	}
	out := filepath.Join(t.TempDir(), "out")
	if err := os.Symlink(path+".txt", out); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path+".txt", []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile(out, func(w io.Writer) error { _, err := io.WriteString(w, "new"); return err }); err != nil {
		t.Fatal(err)
	}
	if b, _ := os.ReadFile(path + ".txt"); string(b) != "new" {
		t.Errorf("written through a link: %q", b)
	}
	if _, err := Create(out, header(), plan()); exit(err) != 7 {
		t.Errorf("created over a link: %v", err)
	}
}

func TestAttachEvents(t *testing.T) {
	path, j := newRecord(t)
	data := []byte("picture")
	sum := journal.Hash(data)
	ev := note("")
	ev.Kind, ev.Data = procedure.KindAttach, &procedure.Attach{SHA256: sum, Bytes: int64(len(data)), Type: "image/jpeg"}
	if _, err := j.Append(ev); exit(err) != 7 {
		t.Errorf("attached what is not stored: %v", err)
	}
	if _, err := j.StoreAttachment(data); err != nil {
		t.Fatal(err)
	}
	if _, err := j.Append(ev); err != nil {
		t.Fatal(err)
	}
	if v := word(t, path); v.Word != journal.Open || v.Events != 2 {
		t.Errorf("%+v", v)
	}
	stored := filepath.Join(path+".files", sum)
	if err := os.WriteFile(stored, []byte("PICTURE"), 0o600); err != nil {
		t.Fatal(err)
	}
	if v := word(t, path); v.Word != journal.Damaged || v.Why != journal.WhyAttachment {
		t.Errorf("%+v", v)
	}
	// Stored again, the altered copy is mended.
	if _, err := j.StoreAttachment(data); err != nil {
		t.Fatal(err)
	}
	if v := word(t, path); v.Word != journal.Open {
		t.Errorf("%+v", v)
	}
	if err := os.Remove(stored); err != nil {
		t.Fatal(err)
	}
	if v := word(t, path); v.Word != journal.Damaged || v.Why != journal.WhyAttachment || v.Line != 3 {
		t.Errorf("%+v", v)
	}
}

func TestWriteFileCare(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.html")
	func() {
		defer func() { recover() }()
		WriteFile(path, func(w io.Writer) error { io.WriteString(w, "half"); panic("x") })
	}()
	if got := names(t, dir); len(got) != 0 {
		t.Errorf("a panic left %v", got)
	}
	write := func(w io.Writer) error { _, err := io.WriteString(w, "x"); return err }
	if err := WriteFile(path, write); err != nil {
		t.Fatal(err)
	}
	if runtime.GOOS == "windows" {
		return
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Errorf("new file %v", info.Mode())
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile(path, write); err != nil {
		t.Fatal(err)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o644 {
		t.Errorf("replaced file %v", info.Mode())
	}
	for _, p := range []string{dir, os.DevNull} {
		if err := WriteFile(p, write); exit(err) != 7 {
			t.Errorf("%s: %v", p, err)
		}
	}
	if info, _ := os.Stat(os.DevNull); info.Mode().IsRegular() {
		t.Fatal("the null device was replaced")
	}
}

func BenchmarkAppend(b *testing.B) {
	path := filepath.Join(b.TempDir(), "r")
	j, err := Create(path, header(), plan())
	if err != nil {
		b.Fatal(err)
	}
	defer j.Close()
	for b.Loop() {
		if _, err := j.Append(note("x")); err != nil {
			b.Fatal(err)
		}
	}
}
