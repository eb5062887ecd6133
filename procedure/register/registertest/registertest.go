// Package registertest holds any store against what package register asks of
// one. [Run] is all there is.
package registertest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math/rand"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/register"
)

// Opener opens the one store of a test; each call is as another program's.
type Opener func(t *testing.T) register.Store

// Run holds stores against the suite. Fresh makes an empty place and returns
// the opener of it.
func Run(t *testing.T, fresh func(t *testing.T) Opener) {
	for _, c := range []struct {
		name string
		do   func(*testing.T, Opener)
	}{
		{"adding twice changes nothing", twice},
		{"a record that grew", growth},
		{"two records of one id", second},
		{"damage is kept beside", damage},
		{"one batch", batch},
		{"torn tails", torn},
		{"whole or not at all", whole},
		{"reasons from other records", cross},
		{"index made again", reindex},
		{"snapshots", snapshots},
		{"queue against a model", model},
		{"hostile text", hostile},
		{"two programs at once", together},
		{"a call that is given up", cancelled},
		{"not found", notFound},
		{"what is in force", inForce},
	} {
		t.Run(c.name, func(t *testing.T) {
			open := fresh(t)
			c.do(t, open)
			if !t.Failed() {
				counted(t, open(t))
			}
		})
	}
}

// counted holds, whatever was done, that what is counted is what is there.
func counted(t *testing.T, s register.Store) {
	t.Helper()
	all := must(s.Page(ctx, register.Filter{Accepted: true}, 0, 1000))(t)
	for _, kind := range append([]procedure.ApplianceKind{""}, procedure.ApplianceKinds...) {
		for _, code := range append([]register.Code{""}, register.Codes...) {
			want := 0
			for _, e := range all {
				if (code == "" || has(e, code)) && (kind == "" || slices.Contains(e.Appliances, kind)) {
					want++
				}
			}
			if n := must(s.Count(ctx, register.Filter{Reason: code, Appliance: kind, Accepted: true}))(t); n != want {
				t.Errorf("counted %d of %q with %q, want %d", n, code, kind, want)
			}
		}
	}
}

var ctx = context.Background()

var base = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

// builder makes records by hand.
type builder struct {
	rec   journal.Record
	bytes []byte
}

// Begun is a record with its plan.
func begun(t *testing.T, id, home string, phase procedure.Phase) *builder {
	t.Helper()
	rec, head, err := journal.Begin(procedure.Header{Record: id, Home: home, Phase: phase, Created: base})
	if err != nil {
		t.Fatal(err)
	}
	b := &builder{rec: rec, bytes: head}
	return b.add(t, &procedure.Plan{Scheme: procedure.Ref{Name: "graded-2005"}})
}

func (b *builder) add(t *testing.T, data ...procedure.Data) *builder {
	t.Helper()
	for _, d := range data {
		ev := procedure.Event{Kind: d.EventKind(), Observed: base, Written: base, Who: "AB", Src: procedure.FromWalk, Data: d}
		next, line, err := b.rec.Extend(ev)
		if err != nil {
			t.Fatal(err)
		}
		b.rec, b.bytes = next, append(slices.Clip(b.bytes), line...)
	}
	return b
}

func (b *builder) note(t *testing.T, text string) *builder {
	return b.add(t, &procedure.Note{Text: text})
}

func (b *builder) closed(t *testing.T, d procedure.Decision) *builder {
	b.add(t, &procedure.Decided{Decision: d})
	return b.add(t, &procedure.Close{Decided: len(b.rec.Events)})
}

func (b *builder) item(d procedure.Decision, o ...func(*register.Evidence)) register.Item {
	e := register.Evidence{Record: Kept(b.rec, b.bytes), Rec: b.rec, Crew: "AB"}
	e.Observations = procedure.Observations{Record: b.rec.Header.Record, HomeID: b.rec.Header.Home, Phase: b.rec.Header.Phase}
	e.Judgement = procedure.Judgement{Phase: b.rec.Header.Phase, Decision: d, Scheme: procedure.Ref{Name: "graded-2005", SHA256: "00"}}
	for _, f := range o {
		f(&e)
	}
	return register.Make(e)
}

// Kept is what is kept of an intact record of these bytes.
func Kept(rec journal.Record, bytes []byte) register.Record {
	state := journal.Open
	switch {
	case len(rec.Torn) > 0:
		state = journal.Torn
	case rec.Closed:
		state = journal.Closed
	}
	sum := sha256.Sum256(bytes)
	return register.Record{ID: rec.Header.Record, Home: rec.Header.Home, Bytes: bytes, Size: rec.Size(), Head: rec.Head, Sum: hex.EncodeToString(sum[:]), State: state, Added: base}
}

func damagedItem(id string, bytes []byte) register.Item {
	sum := sha256.Sum256(bytes)
	return register.Make(register.Evidence{Why: "line differs from its sum", Record: register.Record{ID: id, Home: "Somewhere", Bytes: bytes, Size: int64(len(bytes)), Sum: hex.EncodeToString(sum[:]), State: journal.Damaged, Added: base}})
}

func must[T any](v T, err error) func(*testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func add(t *testing.T, s register.Store, want journal.Relation, it register.Item) int64 {
	t.Helper()
	out := must(s.Add(ctx, []register.Item{it}))(t)
	if len(out) != 1 || out[0].Relation != want {
		t.Fatalf("added as %+v, want %q", out, want)
	}
	return out[0].Key
}

func entry(t *testing.T, s register.Store, id string, n int) []register.Entry {
	t.Helper()
	es := must(s.Find(ctx, id))(t)
	if len(es) != n {
		t.Fatalf("%d entries of %q, want %d", len(es), id, n)
	}
	return es
}

func codes(e register.Entry) string {
	var out []string
	for _, r := range e.Reasons {
		out = append(out, string(r.Code))
	}
	return strings.Join(out, " ")
}

func has(e register.Entry, c register.Code) bool {
	return slices.ContainsFunc(e.Reasons, func(r register.Reason) bool { return r.Code == c })
}

func twice(t *testing.T, open Opener) {
	s := open(t)
	it := begun(t, "r1", "Birch 1", procedure.TestIn).note(t, "x").closed(t, procedure.Proceed).item(procedure.Proceed)
	k := add(t, s, "", it)
	before := entry(t, s, "r1", 1)[0]
	for range 2 {
		if k2 := add(t, s, journal.Same, it); k2 != k {
			t.Fatalf("key %d, was %d", k2, k)
		}
	}
	if after := entry(t, open(t), "r1", 1)[0]; !reflect.DeepEqual(before, after) {
		t.Errorf("the entry changed:\n%+v\n%+v", before, after)
	}
	if n := must(s.Count(ctx, register.Filter{}))(t); n != 1 {
		t.Errorf("%d entries", n)
	}
	// It lies elsewhere now, and gets a label; both stay when neither is given.
	moved := it
	moved.Record.Path, moved.Record.Label = "/elsewhere/b.cazward", "north"
	add(t, s, journal.Same, moved)
	add(t, s, journal.Same, it)
	if r := must(s.Kept(ctx, k))(t); r.Path != moved.Record.Path || r.Label != "north" || string(r.Bytes) != string(it.Record.Bytes) {
		t.Errorf("kept %q %q", r.Path, r.Label)
	}
	if n := must(s.Count(ctx, register.Filter{Label: "north"}))(t); n != 1 {
		t.Errorf("%d with the label", n)
	}
	none := strings.Repeat("0", 64)
	known := must(s.Known(ctx, []string{none, it.Record.Sum}))(t)
	if got, ok := known[it.Record.Sum]; len(known) != 1 || !ok || got.Record.Key != k || got.Record.Path != moved.Record.Path || got.Record.Label != "north" || got.Entry.Key != k || got.Entry.Decision != procedure.Proceed {
		t.Errorf("known are %+v", known)
	}
	if known := must(s.Known(ctx, nil))(t); len(known) != 0 {
		t.Errorf("of none, known are %+v", known)
	}
}

func growth(t *testing.T, open Opener) {
	s := open(t)
	b := begun(t, "r1", "Birch 1", procedure.TestIn).note(t, "one")
	early := b.item(procedure.Incomplete)
	k := add(t, s, "", early)
	if e := entry(t, s, "r1", 1)[0]; !has(e, register.StillOpen) || !has(e, register.SaysIncomplete) {
		t.Errorf("open record has %s", codes(e))
	}
	late := b.note(t, "two").closed(t, procedure.Hold).item(procedure.Hold)
	if k2 := add(t, s, journal.Growth, late); k2 != k {
		t.Errorf("growth has key %d, was %d", k2, k)
	}
	e := entry(t, s, "r1", 1)[0]
	if e.Decision != procedure.Hold || has(e, register.StillOpen) || e.Close == "" {
		t.Errorf("after growth: %s, %s", e.Decision, codes(e))
	}
	// An older copy on another machine takes nothing away.
	add(t, s, journal.Older, early)
	if e := entry(t, s, "r1", 1)[0]; e.Decision != procedure.Hold {
		t.Errorf("an older copy changed it: %s", e.Decision)
	}
	if r := must(s.Kept(ctx, k))(t); string(r.Bytes) != string(late.Record.Bytes) || r.Size != int64(len(r.Bytes)) || r.Head != b.rec.Head {
		t.Error("kept bytes are not those of the grown record")
	}
	if n := must(s.Count(ctx, register.Filter{Reason: register.StillOpen}))(t); n != 0 {
		t.Errorf("%d still listed as open", n)
	}
	grown := b.add(t, &procedure.Sign{Close: e.Close, Verdict: "accept", Name: "SV"}).item(procedure.Hold)
	grown.Grows = k
	add(t, s, journal.Growth, grown)
	if n := must(s.Count(ctx, register.Filter{}))(t); n != 0 {
		t.Errorf("%d wait after it was accepted", n)
	}
	if n := must(s.Count(ctx, register.Filter{Accepted: true}))(t); n != 1 {
		t.Errorf("%d kept after it was accepted", n)
	}
}

func second(t *testing.T, open Opener) {
	s := open(t)
	one := begun(t, "r1", "Birch 1", procedure.TestIn).note(t, "one").item(procedure.Hold)
	two := begun(t, "r1", "Birch 1", procedure.TestIn).note(t, "other").item(procedure.Proceed)
	short := begun(t, "r1", "Birch 1", procedure.TestIn).note(t, "a").item(procedure.Proceed)
	a := add(t, s, "", one)
	b := add(t, s, journal.Second, two)
	add(t, s, journal.Second, short) // shorter than what is kept, and no beginning of it
	if a == b {
		t.Fatal("one key for two records")
	}
	for _, e := range entry(t, s, "r1", 3) {
		if !has(e, register.SecondRecord) {
			t.Errorf("record %d is not flagged: %s", e.Key, codes(e))
		}
	}
	add(t, s, journal.Same, one)
	add(t, s, journal.Same, two)
	for i, it := range []register.Item{one, two} {
		if r := must(s.Kept(ctx, []int64{a, b}[i]))(t); string(r.Bytes) != string(it.Record.Bytes) {
			t.Errorf("record %d was changed", i)
		}
	}
	// Whoever grows one of them must name that one.
	grown := one
	grown.Grows = b
	if _, err := s.Add(ctx, []register.Item{grown}); !errors.Is(err, register.ErrChanged) {
		t.Errorf("growth of another record: %v", err)
	}
}

func damage(t *testing.T, open Opener) {
	s := open(t)
	b := begun(t, "r1", "Birch 1", procedure.TestIn).note(t, "one")
	good := b.item(procedure.Proceed)
	longer := append(slices.Clone(b.bytes), []byte("{\"n\":3}\n")...)
	add(t, s, "", good)
	add(t, s, journal.Second, damagedItem("r1", longer))
	add(t, s, journal.Same, damagedItem("r1", longer))
	es := entry(t, s, "r1", 2)
	if es[0].Decision != procedure.Proceed || es[1].Decision != procedure.NoDecision || !has(es[1], register.IntegrityFailed) {
		t.Errorf("%+v", es)
	}
	// The queue has what cannot be judged before what may go ahead.
	page := must(s.Page(ctx, register.Filter{}, 0, 10))(t)
	if len(page) != 2 || page[0].Key != es[1].Key {
		t.Errorf("order: %+v", page)
	}
	// Mended by the crew, it is another record still.
	add(t, s, journal.Growth, b.note(t, "two").item(procedure.Proceed))
	entry(t, s, "r1", 2)
}

func batch(t *testing.T, open Opener) {
	s := open(t)
	b := begun(t, "r1", "Birch 1", procedure.TestIn)
	first := b.item(procedure.Incomplete)
	then := b.note(t, "grew").item(procedure.Refer)
	other := begun(t, "r2", "Elm 2", procedure.TestIn).item(procedure.Hold)
	out := must(s.Add(ctx, []register.Item{first, other, then, first, other}))(t)
	want := []journal.Relation{"", "", journal.Growth, journal.Older, journal.Same}
	for i, o := range out {
		if o.Relation != want[i] {
			t.Errorf("item %d is %q, want %q", i, o.Relation, want[i])
		}
	}
	if out[0].Key != out[2].Key || out[1].Key == out[0].Key {
		t.Errorf("keys %+v", out)
	}
	if e := entry(t, s, "r1", 1)[0]; e.Decision != procedure.Refer {
		t.Errorf("decision %s", e.Decision)
	}
	if out := must(s.Add(ctx, nil))(t); len(out) != 0 {
		t.Errorf("nothing was added as %v", out)
	}
}

func torn(t *testing.T, open Opener) {
	s := open(t)
	b := begun(t, "r1", "Birch 1", procedure.TestIn).note(t, "one")
	clean := b.item(procedure.Incomplete)
	cut := clean
	bytes := append(slices.Clone(b.bytes), []byte(`{"n":3,"prev`)...)
	rec, err := journal.Parse(bytes)
	if err != nil {
		t.Fatal(err)
	}
	cut.Record = Kept(rec, bytes)
	k := add(t, s, "", cut)
	add(t, s, journal.Same, cut)
	// The next writer moved the tail away.
	add(t, s, journal.Growth, clean)
	if r := must(s.Kept(ctx, k))(t); string(r.Bytes) != string(b.bytes) || r.State != journal.Open {
		t.Errorf("kept %d bytes, %s", len(r.Bytes), r.State)
	}
	add(t, s, journal.Growth, b.note(t, "two").item(procedure.Incomplete))
	entry(t, s, "r1", 1)
}

func whole(t *testing.T, open Opener) {
	s := open(t)
	bad := begun(t, "r9", "Elm 9", procedure.TestIn).item(procedure.Hold)
	bad.Grows = 12345
	items := []register.Item{begun(t, "r1", "Birch 1", procedure.TestIn).item(procedure.Hold), bad}
	if _, err := s.Add(ctx, items); !errors.Is(err, register.ErrChanged) {
		t.Fatalf("got %v", err)
	}
	if n := must(s.Count(ctx, register.Filter{Accepted: true}))(t); n != 0 {
		t.Errorf("%d kept of a batch that was refused", n)
	}
	add(t, s, "", items[0])
}

func readings(v ...float64) func(*register.Evidence) {
	return func(e *register.Evidence) {
		z := procedure.ZoneObs{Zone: "z"}
		for i := range 3 {
			z.Baselines = append(z.Baselines, procedure.PressureObs{N: i + 2, Values: []float64{v[0], v[1] + float64(i), v[2]}})
		}
		e.Observations.ZoneObs = []procedure.ZoneObs{z}
	}
}

func cross(t *testing.T, open Opener) {
	s := open(t)
	a := begun(t, "r1", "Birch 1", procedure.TestIn).closed(t, procedure.Proceed).item(procedure.Proceed, readings(-1, -1.2, -0.9))
	add(t, s, "", a)
	if e := entry(t, s, "r1", 1)[0]; !has(e, register.NoLaterTest) || has(e, register.SameElsewhere) {
		t.Fatalf("alone: %s", codes(e))
	}
	add(t, s, "", begun(t, "r2", "Birch 1", procedure.TestOut).closed(t, procedure.Proceed).item(procedure.Proceed))
	if e := entry(t, s, "r1", 1)[0]; has(e, register.NoLaterTest) {
		t.Errorf("after a test-out: %s", codes(e))
	}
	same := begun(t, "r3", "Elm 3", procedure.TestIn).closed(t, procedure.Hold)
	add(t, s, "", same.item(procedure.Hold, readings(-1, -1.2, -0.9)))
	for _, id := range []string{"r1", "r3"} {
		if e := entry(t, s, id, 1)[0]; !has(e, register.SameElsewhere) {
			t.Errorf("%s: %s", id, codes(e))
		}
	}
	// Measured again, it is no longer the same, in either home.
	grown := same.add(t, &procedure.Reopen{Close: same.rec.CloseHash, Reason: "typed the wrong page"}).note(t, "again")
	add(t, s, journal.Growth, grown.item(procedure.Hold, readings(-1, -1.3, -0.9)))
	for _, id := range []string{"r1", "r3"} {
		if e := entry(t, s, id, 1)[0]; has(e, register.SameElsewhere) {
			t.Errorf("%s after growth: %s", id, codes(e))
		}
	}
	if n := must(s.Count(ctx, register.Filter{Reason: register.SameElsewhere}))(t); n != 0 {
		t.Errorf("%d counted by a reason that is gone", n)
	}
}

func reindex(t *testing.T, open Opener) {
	s := open(t)
	var items []register.Item
	for i := range 7 {
		items = append(items, begun(t, fmt.Sprint("r", i), fmt.Sprint("Birch ", i), procedure.TestIn).item(procedure.Hold))
	}
	must(s.Add(ctx, items))(t)
	var got []register.Record
	if err := s.Each(ctx, 0, func(r register.Record) error { got = append(got, r); return nil }); err != nil {
		t.Fatal(err)
	}
	if len(got) != len(items) {
		t.Fatalf("%d records, want %d", len(got), len(items))
	}
	for i, r := range got {
		if string(r.Bytes) != string(items[i].Record.Bytes) || i > 0 && r.Key <= got[i-1].Key {
			t.Errorf("record %d differs", i)
		}
		items[i] = begun(t, fmt.Sprint("r", i), fmt.Sprint("Birch ", i), procedure.TestIn).item(procedure.Leave)
		items[i].Record.Key = r.Key
	}
	if err := s.Reindex(ctx, items[:5]); err != nil {
		t.Fatal(err)
	}
	if err := s.Reindex(ctx, nil); err != nil {
		t.Fatal(err)
	}
	if n := must(s.Count(ctx, register.Filter{Reason: register.SaysLeave}))(t); n != 5 {
		t.Errorf("%d made again, want 5", n)
	}
	changed := items[6]
	changed.Record.Sum = strings.Repeat("0", 64)
	if err := s.Reindex(ctx, []register.Item{items[5], changed}); !errors.Is(err, register.ErrChanged) {
		t.Errorf("index of other bytes: %v", err)
	}
	if n := must(s.Count(ctx, register.Filter{Reason: register.SaysLeave}))(t); n != 5 {
		t.Errorf("%d after a refused batch, want 5", n)
	}
	stop := errors.New("stop")
	n := 0
	if err := s.Each(ctx, got[2].Key, func(register.Record) error { n++; return stop }); err != stop || n != 1 {
		t.Errorf("Each went on: %v, %d", err, n)
	}
}

func snapshots(t *testing.T, open Opener) {
	s := open(t)
	a := begun(t, "r1", "Birch 1", procedure.TestIn).item(procedure.Hold, readings(-1, -1.2, -0.9))
	must(s.Add(ctx, []register.Item{a, damagedItem("r2", []byte("x\n"))}))(t)
	var op register.Opener
	n := 0
	err := s.Snapshots(ctx, register.Filter{}, func(b register.Brief, sn *register.Snapshot) error {
		n++
		e := must(b.Entry())(t)
		if all := must(s.Find(ctx, e.Record))(t); len(all) != 1 || !reflect.DeepEqual(e, all[0]) || b.Key != e.Key || b.Decision != e.Decision {
			t.Errorf("the brief %d %s is of %+v, found is %+v", b.Key, b.Decision, e, all)
		}
		if e.Record == "r2" {
			if sn != nil {
				t.Error("a damaged record has a snapshot")
			}
			return nil
		}
		o, err := op.Open(sn)
		if err != nil {
			return err
		}
		if o.HomeID != "Birch 1" || len(o.ZoneObs) != 1 || o.ZoneObs[0].Baselines[0].Values[1] != -1.2 {
			t.Errorf("read back as %+v", o)
		}
		return nil
	})
	if err != nil || n != 2 {
		t.Errorf("%d snapshots, %v", n, err)
	}
}

// model holds pages, counts and filters against the same worked out here.
func model(t *testing.T, open Opener) {
	s := open(t)
	rnd := rand.New(rand.NewSource(7))
	pick := func(l ...string) string { return l[rnd.Intn(len(l))] }
	var items []register.Item
	for i := range 230 {
		b := begun(t, fmt.Sprint("r", i), fmt.Sprint("Home ", i/2), procedure.Phase(pick("test-in", "daily", "test-out")))
		if rnd.Intn(3) > 0 {
			b.closed(t, procedure.Proceed)
			if rnd.Intn(4) == 0 {
				b.add(t, &procedure.Sign{Close: b.rec.CloseHash, Verdict: pick("accept", "return"), Name: "SV"})
			}
		}
		it := b.item(procedure.Decision(pick("leave", "hold", "incomplete", "refer", "proceed")), func(e *register.Evidence) {
			e.Crew, e.Record.Label = pick("AB", "CD", "EF"), pick("", "north", "south")
			e.Judgement.Scheme.Name = pick("graded-2005", "spillage-2017")
			for _, k := range []procedure.ApplianceKind{procedure.Furnace, procedure.WaterHeater, procedure.Range} {
				if rnd.Intn(2) == 0 {
					e.Observations.Appliances = append(e.Observations.Appliances, procedure.Appliance{ID: string(k), Kind: k})
				}
			}
		})
		it.Entry.Day, it.Entry.Practice = 20000+rnd.Intn(120), rnd.Intn(6) == 0
		if rnd.Intn(15) == 0 {
			it.Entry.Day = -40 + rnd.Intn(80) // a clock that was never set
		}
		items = append(items, it)
	}
	for part := range slices.Chunk(items, 64) {
		must(s.Add(ctx, part))(t)
	}
	var all []register.Entry
	for i := range items {
		all = append(all, entry(t, s, fmt.Sprint("r", i), 1)...)
	}
	slices.SortFunc(all, func(a, b register.Entry) int {
		for _, d := range []int64{a.Urgency - b.Urgency, int64(a.Day - b.Day), a.Key - b.Key} {
			if d != 0 {
				return int(d)
			}
		}
		return 0
	})
	filters := []register.Filter{{}, {Accepted: true}, {NoPractice: true}, {NoPractice: true, Accepted: true}}
	for range 150 {
		var f register.Filter
		f.Accepted, f.NoPractice = rnd.Intn(2) == 0, rnd.Intn(3) == 0
		set := func(p *string, l ...string) {
			if rnd.Intn(3) == 0 {
				*p = pick(l...)
			}
		}
		set(&f.Crew, "AB", "CD", "nobody")
		set(&f.Label, "north", "south")
		set(&f.Scheme, "graded-2005", "spillage-2017")
		set(&f.Home, "Home 3", "Home 40")
		set((*string)(&f.Reason), "leave", "open", "no-later-test", "returned")
		set((*string)(&f.Appliance), "furnace", "range")
		set((*string)(&f.Phase), "test-in", "daily")
		day := func() int { return []int{-30, -1, 5, 30, 20020 + rnd.Intn(30), 20040 + rnd.Intn(90)}[rnd.Intn(6)] }
		if rnd.Intn(2) == 0 {
			f.From = day()
		}
		if rnd.Intn(2) == 0 {
			f.To = day()
		}
		filters = append(filters, f)
	}
	for _, f := range filters {
		var want []int64
		for _, e := range all {
			if (f.Crew == "" || e.Crew == f.Crew) && (f.Label == "" || e.Label == f.Label) && (f.Scheme == "" || e.Scheme.Name == f.Scheme) && (f.Home == "" || e.Home == f.Home) &&
				(f.Reason == "" || has(e, f.Reason)) && (f.Appliance == "" || slices.Contains(e.Appliances, f.Appliance)) && (f.Phase == "" || e.Phase == f.Phase) &&
				(f.From == 0 || e.Day >= f.From) && (f.To == 0 || e.Day <= f.To) && (f.Accepted || e.Signed != register.Accepted) && !(f.NoPractice && e.Practice) {
				want = append(want, e.Key)
			}
		}
		if n := must(s.Count(ctx, f))(t); n != len(want) {
			t.Errorf("%+v: counted %d, want %d", f, n, len(want))
		}
		var got []int64
		after, size := int64(0), 1+rnd.Intn(90)
		for {
			page := must(s.Page(ctx, f, after, size))(t)
			for _, e := range page {
				got = append(got, e.Key)
			}
			if len(page) < size {
				break
			}
			after = page[len(page)-1].Key
		}
		if !slices.Equal(got, want) {
			t.Errorf("%+v, pages of %d:\n got %v\nwant %v", f, size, got, want)
		}
		n := 0
		if err := s.Snapshots(ctx, f, func(register.Brief, *register.Snapshot) error { n++; return nil }); err != nil || n != len(want) {
			t.Errorf("%+v: %d snapshots, want %d, %v", f, n, len(want), err)
		}
	}
}

// Hostile are texts that must stay text.
var Hostile = []string{"'; DROP TABLE record; --", `" OR "1"="1`, "<script>alert(1)</script>", "=HYPERLINK(\"x\")", "../../etc/passwd", "%00%", "?", "$1", "_%", "Ünïcode ☃ 家", `\x00\u0000`, strings.Repeat("long ", 500), "a?b=c&d#e"}

func hostile(t *testing.T, open Opener) {
	s := open(t)
	for i, x := range Hostile {
		b := begun(t, x, x, procedure.TestIn).note(t, x)
		add(t, s, "", b.item(procedure.Hold, func(e *register.Evidence) {
			e.Crew, e.Record.Label, e.Record.Path, e.Record.Fault = x, x, x, x
			e.Judgement.Scheme.Name = x
		}))
		e := entry(t, s, x, 1)[0]
		if e.Home != x || e.Crew != x || e.Label != x || e.Scheme.Name != x {
			t.Errorf("%q came back as %+v", x, e)
		}
		for _, f := range []register.Filter{{Crew: x}, {Home: x}, {Label: x}, {Scheme: x}} {
			if n := must(s.Count(ctx, f))(t); n != 1 {
				t.Errorf("%+v: %d", f, n)
			}
		}
		for _, f := range []register.Filter{{Reason: register.Code(x)}, {Appliance: procedure.ApplianceKind(x)}, {Phase: procedure.Phase(x)}} {
			if n := must(s.Count(ctx, f))(t); n != 0 {
				t.Errorf("%+v: %d", f, n)
			}
		}
		if n := must(s.Count(ctx, register.Filter{}))(t); n != i+1 {
			t.Errorf("after %q: %d entries, want %d", x, n, i+1)
		}
	}
}

// together lets programs add the same records, each in its own order, some
// older copies among them.
func together(t *testing.T, open Opener) {
	const n, programs = 40, 4
	var early, late []register.Item
	for i := range n {
		b := begun(t, fmt.Sprint("r", i), fmt.Sprint("Birch ", i), procedure.TestIn)
		early = append(early, b.item(procedure.Incomplete))
		late = append(late, b.note(t, "grew").closed(t, procedure.Hold).item(procedure.Hold))
	}
	var mu sync.Mutex
	fresh := 0
	var wg sync.WaitGroup
	for p := range programs {
		s := open(t)
		wg.Add(1)
		go func() {
			defer wg.Done()
			rnd := rand.New(rand.NewSource(int64(p)))
			list := slices.Concat(early, late)
			rnd.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
			for part := range slices.Chunk(list, 7) {
				out, err := s.Add(ctx, part)
				if err != nil {
					t.Errorf("program %d: %v", p, err)
					return
				}
				for _, o := range out {
					mu.Lock()
					if o.Relation == "" {
						fresh++
					}
					if o.Relation == journal.Second {
						t.Errorf("program %d: two records of one id", p)
					}
					mu.Unlock()
				}
			}
		}()
	}
	wg.Wait()
	s := open(t)
	if fresh != n {
		t.Errorf("%d were new, want %d", fresh, n)
	}
	for i := range n {
		if e := entry(t, s, fmt.Sprint("r", i), 1)[0]; e.Decision != procedure.Hold || e.Close == "" {
			t.Errorf("r%d: %s", i, e.Decision)
		}
	}
}

func cancelled(t *testing.T, open Opener) {
	s := open(t)
	c, stop := context.WithCancel(ctx)
	stop()
	it := begun(t, "r1", "Birch 1", procedure.TestIn).item(procedure.Hold)
	if _, err := s.Add(c, []register.Item{it}); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	entry(t, s, "r1", 0)
	add(t, s, "", it)
}

func notFound(t *testing.T, open Opener) {
	s := open(t)
	if _, err := s.Kept(ctx, 7); !errors.Is(err, register.ErrNotFound) {
		t.Errorf("Kept: %v", err)
	}
	if _, err := s.Page(ctx, register.Filter{}, 7, 10); !errors.Is(err, register.ErrNotFound) {
		t.Errorf("Page: %v", err)
	}
	it := begun(t, "r1", "Birch 1", procedure.TestIn).item(procedure.Hold)
	it.Record.Key = 7
	if err := s.Reindex(ctx, []register.Item{it}); !errors.Is(err, register.ErrNotFound) {
		t.Errorf("Reindex: %v", err)
	}
	entry(t, s, "r1", 0)
}

func inForce(t *testing.T, open Opener) {
	s := open(t)
	if f := must(s.InForce(ctx))(t); f.Scheme != "" || f.Overlays != nil {
		t.Errorf("an empty register has %+v in force", f)
	}
	for _, want := range []register.InForce{{Scheme: "graded-2005", Overlays: []register.Overlay{{Name: Hostile[0], Data: []byte{0, 255, '\''}}}}, {}} {
		if err := s.PutInForce(ctx, want); err != nil {
			t.Fatal(err)
		}
		if got := must(open(t).InForce(ctx))(t); !reflect.DeepEqual(got, want) {
			t.Errorf("in force %+v, want %+v", got, want)
		}
	}
}
