package main

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	reports "cazward/report"
)

// returned is the sign-off with which a supervisor gave a record back, and
// that no later closing has answered; nil for none.
func returned(rec journal.Record) *procedure.Sign {
	var last *procedure.Sign
	for _, ev := range rec.Events {
		switch d := ev.Data.(type) {
		case *procedure.Sign:
			last = d
		case *procedure.Close:
			last = nil
		}
	}
	if last == nil || last.Verdict != "return" {
		return nil
	}
	return last
}

func returnedText(s *procedure.Sign) string {
	return words("msg/returned", "name", reports.Clean(s.Name), "note", reports.Clean(s.Note))
}

// receiveWait is how long a walk waits for the register: the test does not
// depend on it.
const receiveWait = 3 * time.Second

// receive gives files the sign-offs that wait for them in the register, where
// there is one. What cannot be reached is told and holds up nothing.
func receive(e *env, p forms.Prompter, paths ...string) {
	ctx, stop := context.WithTimeout(e.ctx, receiveWait)
	defer stop()
	d := &desk{e: &env{ctx: ctx, now: e.now, in: e.in, out: io.Discard, err: io.Discard}}
	var s interface{ Close() error }
	err := func() error {
		store, err := d.open(false)
		if err != nil {
			return err
		}
		s = store
		for _, path := range paths {
			rec, err := disk.Load(path)
			if err != nil {
				continue // said when it is opened
			}
			list, err := store.Find(ctx, rec.Header.Record)
			if err != nil {
				return err
			}
			for _, x := range list {
				if x.Head == rec.Head {
					continue
				}
				k, err := store.Kept(ctx, x.Key)
				if err != nil {
					return err
				}
				if _, err := deliver(path, k.Bytes); err != nil && !errors.Is(err, fs.ErrNotExist) {
					p.Tell("register", words("msg/not-received", "why", reports.Clean(cause(err))))
				}
			}
		}
		return nil
	}()
	if s != nil {
		s.Close()
	}
	// Most crews have no register, and need none.
	if err != nil && os.Getenv("CAZWARD_REGISTER") != "" {
		p.Tell("register", words("msg/not-received", "why", reports.Clean(err.Error())))
	}
}
