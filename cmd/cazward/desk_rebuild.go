package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"runtime"
	"runtime/debug"
	"sync"

	"github.com/spf13/cobra"

	"cazward/procedure"
	"cazward/procedure/register"
)

func (d *desk) rebuildCmd() *cobra.Command {
	c := &cobra.Command{Use: "rebuild", Short: "make the index again from the records that are kept", Args: cobra.NoArgs,
		Long: `rebuild makes the index again from the bytes of the records. With --scheme or
--limits it puts them in force: this and every later desk add judges by them,
on every machine that shares the register. See first what they would change:
cazward desk rejudge.`,
		RunE: func(*cobra.Command, []string) error {
			force, given, err := d.asked()
			if err != nil {
				return err
			}
			s, err := d.open(false)
			if err != nil {
				return err
			}
			defer s.Close()
			if given {
				if err := s.PutInForce(d.e.ctx, force); err != nil {
					return d.wrong(err)
				}
				d.by = &judgeBy{force: force}
			}
			n, failed, err := d.rebuild(s)
			fmt.Fprintln(d.e.out, d.says("rebuild", "n", fmt.Sprint(n), "failed", fmt.Sprint(failed)))
			if err != nil {
				return d.wrong(err)
			}
			if failed > 0 {
				return exitWith(exitIntegrity)
			}
			return nil
		}}
	d.ruleFlags(c, "from now on judge all")
	return c
}

// altered is the fault of bytes that changed inside the register.
const altered = "the bytes in the register are not those that were added"

// kept makes the item of a record out of the register again.
func (d *desk) kept(r register.Record) (register.Item, error) {
	fault := r.Fault
	if sum := sha256.Sum256(r.Bytes); hex.EncodeToString(sum[:]) != r.Sum {
		fault = altered
	} else if fault == altered {
		fault = "" // put back
	}
	path := r.Path
	it, err := d.item("", r.Bytes, r.Label, fault)
	if err != nil { // no record at all: then its name is all that is known
		it = register.Make(register.Evidence{Record: r, Why: err.Error()})
	}
	// What identifies it does not change, whatever became of its bytes.
	it.Record.ID, it.Record.Home, it.Record.Sum, it.Record.Path, it.Record.Key = r.ID, r.Home, r.Sum, path, r.Key
	it.Entry.Record, it.Entry.Home = r.ID, r.Home
	return it, nil
}

// rebuild works on all cores and writes in batches, each whole or not at all.
func (d *desk) rebuild(s register.Store) (n, failed int, err error) {
	total, err := s.Count(d.e.ctx, register.Filter{Accepted: true})
	if err != nil {
		return 0, 0, err
	}
	bar := newProgress(d.e, d.e.say("making again"), total)
	defer bar.end()
	ctx, stop := context.WithCancel(d.e.ctx)
	defer stop()
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(heapLimit))
	records, items := make(chan register.Record), make(chan register.Item)
	var each error
	go func() {
		defer close(records)
		each = s.Each(ctx, 0, func(r register.Record) error {
			select {
			case records <- r:
				return nil
			case <-ctx.Done():
				return ctx.Err()
			}
		})
	}()
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for r := range records {
				it, err := d.kept(r)
				if err != nil {
					continue
				}
				it.Record.Bytes = nil // the index does not hold them
				select {
				case items <- it:
				case <-ctx.Done():
					return
				}
			}
		}()
	}
	go func() { wg.Wait(); close(items) }()
	var batch []register.Item
	flush := func() error {
		if err := s.Reindex(ctx, batch); err != nil {
			return err
		}
		n += len(batch)
		batch = batch[:0]
		bar.at(n)
		return nil
	}
	for it := range items {
		if integrityFailed(it) || it.Entry.Decision == procedure.NoDecision {
			failed++
		}
		if batch = append(batch, it); len(batch) >= batchItems {
			if err := flush(); err != nil {
				return n, failed, err
			}
		}
	}
	if each != nil {
		return n, failed, each
	}
	return n, failed, flush()
}
