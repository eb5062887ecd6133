package study_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"io"
	"reflect"
	"slices"
	"strings"
	"testing"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/practice"
	"cazward/procedure/practice/practicetest"
	"cazward/procedure/study"
)

func ways(t testing.TB) []study.Way {
	t.Helper()
	var out []study.Way
	for _, n := range limits.Names() {
		set, err := limits.Load(limits.Options{Scheme: n})
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, study.Ways(n, set.Plan(procedure.TestIn))...)
	}
	return out
}

func yardstick([]procedure.Appliance) (procedure.Bound, bool) {
	return procedure.Bound{Value: -3, Sense: procedure.AtLeast}, true
}

// TestOrderIsTheWalks: what the study asks next is what the whole walk asks next,
// in shipped houses and drawn ones, from the baseline to the held worst case; the
// study raises no doubts.
func TestOrderIsTheWalks(t *testing.T) {
	houses := []*practice.House{practicetest.Open(t, "bedroom-doors"), practicetest.Open(t, "return-leak"), practicetest.Open(t, "two-zones")}
	for n := range uint64(6) {
		houses = append(houses, practice.Random(11, n))
	}
	compared := 0
	for _, h := range houses {
		w := practicetest.Begin(t, h, 1)
		w.Flaw = func(step procedure.Step, _ *practice.Shown) {
			if step.Zone == "" || step.Form == procedure.FormDoubt || !slices.Contains(study.Searched, step.Stage) || strings.HasPrefix(step.ID, "resume/") {
				return
			}
			compared++
			if got, ok := w.State.NextFor(step.Zone, study.Searched...); !ok || !reflect.DeepEqual(got, step) {
				t.Fatalf("%s: the walk asks %s, the study %s", h.Name, step.ID, got.ID)
			}
		}
		w.Run()
	}
	if compared < 100 {
		t.Fatalf("only %d steps were compared", compared)
	}
}

// TestRun: the same seed gives the same report, what is found is never below the
// true worst case, and the figures hang together.
func TestRun(t *testing.T) {
	const houses = 12
	r, err := study.Run(t.Context(), 2, houses, ways(t), yardstick)
	if err != nil {
		t.Fatal(err)
	}
	again, err := study.Run(t.Context(), 2, houses, ways(t), yardstick)
	if err != nil || !reflect.DeepEqual(r, again) {
		t.Errorf("not the same twice: %v", err)
	}
	for _, x := range r.Rows {
		sum := 0
		for _, n := range x.Classes {
			sum += n
		}
		if sum != houses || x.Found < x.Held || x.Short.P50 > x.Short.P99 || x.Beyond > x.Flips || x.Readings.Median < 1 || x.Held != float64(x.Classes[0])/houses || len(x.Missed) != houses-x.Classes[0] {
			t.Errorf("%+v", x)
		}
		if x.Order == study.Published && x.Extra.Most > 0 {
			t.Errorf("the published order suggests nothing: %+v", x)
		}
	}
	var md, svg bytes.Buffer
	if err := errors.Join(study.Markdown(&md, r, "Made so."), study.Picture(&svg, r)); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(md.String(), "| graded-2005 |"); n != len(r.Rows)/len(limits.Names()) {
		t.Errorf("%d lines of graded-2005, %d rows", n, len(r.Rows))
	}
	for d := xml.NewDecoder(&svg); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := study.Run(ctx, 2, houses, ways(t), yardstick); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped, and the error is %v", err)
	}
}

// TestSuggestedIsNeverMilder: what is suggested comes on top of the same readings,
// so that in still air what is held is never milder for it, by however many.
func TestSuggestedIsNeverMilder(t *testing.T) {
	all, lower := ways(t), 0
	for n := range uint64(10) {
		s, err := study.NewSubject(6, n)
		if err != nil {
			t.Fatal(err)
		}
		for i, way := range all {
			if way.Order != study.Suggested {
				continue
			}
			var held [2]study.Walked
			for k, w := range all[i-1 : i+1] { // as asked, and then with what is suggested
				st, err := s.Begin(w.Plan)
				if err != nil {
					t.Fatal(err)
				}
				if held[k], err = s.Walk(st, study.Still); err != nil {
					t.Fatal(err)
				}
			}
			asked, more := held[0], held[1]
			if more.Held > asked.Held+1e-9 || more.Extra > way.Plan.More || more.Readings != asked.Readings+more.Extra || !slices.Equal(more.Read[:asked.Readings], asked.Read) {
				t.Errorf("%s, house %d: asked %+v, suggested %+v", way.Scheme, n, asked, more)
			}
			if more.Held < asked.Held-study.Near {
				lower++
			}
		}
	}
	if lower == 0 {
		t.Error("no suggestion ever found anything")
	}
}

// TestWalks: without noise nothing that is read is below the worst case or above
// what was held, and a house walked with noise reads as many times.
func TestWalks(t *testing.T) {
	for _, way := range ways(t) {
		for n := range uint64(8) {
			s, err := study.NewSubject(4, n)
			if err != nil {
				t.Fatal(err)
			}
			st, err := s.Begin(way.Plan)
			if err != nil {
				t.Fatal(err)
			}
			for _, noise := range []study.Noise{study.Still, study.Windy} {
				w, err := s.Walk(st, noise)
				if err != nil {
					t.Fatal(err)
				}
				if w.Held < s.Worst-1e-9 || w.Found < s.Worst-1e-9 || w.Found > w.Held+1e-9 || len(w.Read) != w.Readings || w.U <= 0 {
					t.Errorf("%s, %s, house %d, %s: %+v of %v Pa", way.Scheme, way.Order, n, noise, w, s.Worst)
				}
				if noise == study.Still && w.Net-w.Found > 1e-9 {
					t.Errorf("%s: nothing moves the gauge, and it shows %v where %v is", way.Scheme, w.Net, w.Found)
				}
			}
		}
	}
}
