package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"cazward/procedure"
)

// An interrupt ends the run after the records in hand; those not looked at
// are counted, and no output is half-written.
func TestFolderInterrupted(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	var jobs []*job
	for i := range 50 {
		jobs = append(jobs, &job{record: fmt.Sprint(i)})
	}
	var mu sync.Mutex
	n := 0
	each(ctx, jobs, func(j *job) {
		mu.Lock()
		defer mu.Unlock()
		if n++; n == 7 {
			stop()
		}
		j.done = true
	})
	var said bytes.Buffer
	err := folderResult(&env{err: &said}, jobs, "out")
	if code := report(io.Discard, err); code != exitInterrupt {
		t.Errorf("exit %d", code)
	}
	done := 0
	for _, j := range jobs {
		if j.done {
			done++
		}
	}
	if done < 7 || done > 7+16 || !strings.Contains(said.String(), fmt.Sprintf("wrote the reports of %d of 50 records", done)) || !strings.Contains(said.String(), fmt.Sprintf("stopped: %d records", 50-done)) {
		t.Errorf("%d done; said %s", done, said.String())
	}
}

// What failed worst decides the exit code, wherever it stands.
func TestFolderExit(t *testing.T) {
	integrity, input := failed(exitIntegrity, "", "x"), failed(exitRefused, "", "y")
	for _, c := range []struct {
		errs []error
		want int
	}{{[]error{nil, nil}, 0}, {[]error{nil, input}, 7}, {[]error{input, integrity, nil}, 8}, {[]error{integrity, input}, 8}} {
		var jobs []*job
		for _, e := range c.errs {
			jobs = append(jobs, &job{done: true, err: e})
		}
		if got := report(io.Discard, folderResult(&env{err: io.Discard}, jobs, "out")); got != c.want {
			t.Errorf("%v: exit %d, want %d", c.errs, got, c.want)
		}
	}
}

func TestProgress(t *testing.T) {
	var b bytes.Buffer
	p := &progress{w: &b, on: true, what: "writing", total: 4, start: time.Now()}
	p.step()
	if want := "\rwriting [=======.......................] 1 of 4"; !strings.HasPrefix(b.String(), want) {
		t.Errorf("%q, want %q", b.String(), want)
	}
	b.Reset()
	p.end()
	if s := b.String(); strings.TrimSpace(s) != "" || !strings.HasSuffix(s, "\r") {
		t.Errorf("clearing leaves %q", s)
	}
	if p := newProgress(&env{err: &b}, "writing", 3); p.on {
		t.Error("a bar where there is no terminal")
	}
}

// The rules of a run are shared and must not change under a report.
func TestRememberedRules(t *testing.T) {
	get := remembered(nil)
	a, err := get("graded-2005")
	if err != nil {
		t.Fatal(err)
	}
	before := fmt.Sprintf("%+v", a.Rules())
	record := filepath.Join(t.TempDir(), "r.cazward")
	if err := run(&env{in: strings.NewReader(""), out: io.Discard, err: io.Discard, ctx: context.Background(), now: func() time.Time { return time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC) }, mono: func() int64 { return 0 }, id: newID},
		[]string{"transcribe", "../../testdata/homes/larch-5-orphan.sheet.yaml", "-o", record}); err != nil {
		t.Fatal(err)
	}
	for _, redact := range []bool{false, true} {
		in, err := inputOf(record, reportOptions{size: "letter", lang: "en", redact: redact, table: get})
		if err != nil {
			t.Fatal(err)
		}
		if in.Judgement.Decision == procedure.NoDecision || len(in.Judgement.Findings) == 0 {
			t.Error("not judged")
		}
		for _, suffix := range reportSuffixes {
			write, err := reportWriter(suffix, in, reportOptions{size: "a4"})
			if err != nil {
				t.Fatal(err)
			}
			if err := write(io.Discard); err != nil {
				t.Errorf("%s: %v", suffix, err)
			}
		}
	}
	b, err := get("graded-2005")
	if err != nil || fmt.Sprintf("%+v", b.Rules()) != before {
		t.Errorf("the rules changed, or %v", err)
	}
	if _, err := get("no-such-scheme"); err == nil {
		t.Error("a scheme that does not exist was found")
	}
}

// A photo that a person names is looked at before the record is touched.
func TestPreparePhoto(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "photo.jpg")
	if err := os.WriteFile(text, []byte("not a photo"), 0o600); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{text: "neither JPEG nor PNG", dir: "is not a file", "/dev/zero": "is not a file", filepath.Join(dir, "none"): "no such file"} {
		_, err := preparePhoto(path)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), path) || report(io.Discard, err) != exitRefused {
			t.Errorf("%s: %v", path, err)
		}
	}
}
