package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"cazward/forms"
	"cazward/forms/script"
	"cazward/procedure"
	"cazward/procedure/practice"
)

// trainee sits at a practice house and types what a sound tester would; flaw
// changes it.
type trainee struct {
	t      *testing.T
	s      *session
	path   string
	typed  []string
	flaw   func(step procedure.Step, x *practice.Shown)
	did    map[string]bool
	looked time.Time
	asked  string // what was asked about as far outside
}

func sit(t *testing.T, house, path string, seed int64, flaw func(procedure.Step, *practice.Shown)) *trainee {
	t.Helper()
	wall := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	if _, err := os.Stat(path); err == nil {
		wall = wall.Add(2 * time.Hour)
	}
	n := int64(0)
	e := &env{in: strings.NewReader(""), out: io.Discard, err: io.Discard, ctx: t.Context(), id: func() string { return "0123456789abcdef" },
		now: func() time.Time { wall = wall.Add(time.Second); return wall }, mono: func() int64 { n += 1000; return n }}
	h, err := openHouse(house, e.in)
	if err != nil {
		t.Fatal(err)
	}
	d := &playedHouse{house: h, arg: house, seed: seed, seeded: true, gauge: practice.Gauges[0]}
	pe, err := d.env(e, path, 1)
	if err != nil {
		t.Fatal(err)
	}
	w := &trainee{t: t, path: path, flaw: flaw, did: map[string]bool{}}
	p := &script.Script{Func: w.answer}
	if w.s, err = openSession(pe, p, path, procedure.TestIn, walkOptions{scheme: "graded-2005", tester: "AB", drill: d}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.s.rec.Close() })
	return w
}

func (w *trainee) answer(v forms.View) string {
	w.t.Helper()
	if v.Where.Mark != "PRACTICE" {
		w.t.Errorf("%s: marked %q", v.Step.ID, v.Where.Mark)
	}
	if strings.Contains(v.Message, "far outside what a draft reads") && v.Text != "" && w.asked != v.Text {
		w.asked = v.Text // a hot tall chimney: asked once, and it stands
		return v.Text
	}
	if strings.HasPrefix(v.Message, "NOT") {
		w.t.Fatalf("%s: %s", v.Step.ID, v.Message)
	}
	text := w.say(v)
	w.typed = append(w.typed, text)
	return text
}

func (w *trainee) say(v forms.View) string {
	w.t.Helper()
	if v.Step.Ask == "skip.reason" {
		return "6"
	}
	if v.Step.Ask == "shutdown" {
		return "ok"
	}
	x, err := w.s.drill.shown(w.s, v.Step)
	if err != nil {
		w.t.Fatal(err)
	}
	if w.flaw != nil {
		w.flaw(v.Step, &x)
	}
	now := w.s.e.now()
	burning := w.s.drill.play.Setting()&w.s.drill.house.Burners() != 0
	switch {
	case x.End:
		return "/k"
	case x.Do != "" && !w.did[v.Step.ID+x.Do]:
		w.did[v.Step.ID+x.Do] = true
		return "set " + x.Do
	case burning && now.Sub(w.looked) > 60*time.Second && v.Step.Form != procedure.FormAmbient && v.Step.Form != procedure.FormDoubt:
		w.looked = now
		p, err := w.s.drill.play.At(now)
		if err != nil {
			w.t.Fatal(err)
		}
		return fmt.Sprintf("/c %.0f", p.CO(p.Where(v.Step, w.s.st)))
	case x.Wait > 0 && !w.did["wait "+v.Step.ID+fmt.Sprint(w.waited(v.Step.ID))]:
		k := w.waited(v.Step.ID)
		if float64(k)*90 >= x.Wait && v.Step.Form != procedure.FormDoubt || k > 8 {
			break
		}
		w.did["wait "+v.Step.ID+fmt.Sprint(k)] = true
		return "wait 90 s"
	}
	if x.Reads && v.Step.Form != procedure.FormClock && x.Typed != "" && w.flaw == nil {
		return "="
	}
	return x.Typed
}

// waited counts the waits at a step so far.
func (w *trainee) waited(id string) int {
	k := 0
	for w.did["wait "+id+fmt.Sprint(k)] {
		k++
	}
	return k
}

func (w *trainee) run() {
	w.t.Helper()
	if err := w.s.run(); err != nil {
		w.t.Fatal(err)
	}
}

func debriefed(t *testing.T, path string) debriefJSON {
	t.Helper()
	var out strings.Builder
	e := &env{out: &out, err: io.Discard, ctx: t.Context()}
	if err := run(e, []string{"drill", "debrief", path, "--json"}); err != nil {
		t.Fatal(err)
	}
	var d debriefJSON
	if err := json.Unmarshal([]byte(out.String()), &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// TestDrillPlay walks each shipped house through the real loop: question, text,
// parser, record, decision, report. A sound trainee has every point.
func TestDrillPlay(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, name := range practice.HouseNames() {
		w := sit(t, name, name+recordSuffix, 4, nil)
		w.run()
		w.s.rec.Close()
		d := debriefed(t, w.path)
		if !d.Closed || d.Expected == nil || d.Decision != *d.Expected || d.Score != d.Of {
			t.Errorf("%s: closed %v, decision %s, %v of %v: work on %v", name, d.Closed, d.Decision, d.Score, d.Of, d.WorkOn)
			for _, c := range d.Criteria {
				t.Log(c.Check, c.Got, c.Points, c.Detail)
			}
		}
	}
	// A class sheet over all of them.
	var out strings.Builder
	if err := run(&env{out: &out, err: io.Discard, ctx: t.Context()}, []string{"drill", "debrief", "."}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(out.String())).ReadAll()
	if err != nil || len(rows) != 1+len(practice.HouseNames()) {
		t.Fatalf("%d lines, %v\n%s", len(rows), err, out.String())
	}
	for _, r := range rows[1:] {
		if r[3] != r[4] || r[5] != r[6] {
			t.Errorf("%v", r)
		}
	}
}

// TestDrillCannotBeMistaken: everything that a practice record comes out as
// says so, and the demonstration's walk does not go on with it.
func TestDrillCannotBeMistaken(t *testing.T) {
	t.Chdir(t.TempDir())
	w := sit(t, "sealed", "a"+recordSuffix, 4, nil)
	w.run()
	w.s.rec.Close()
	raw, err := os.ReadFile(w.path)
	if err != nil {
		t.Fatal(err)
	}
	if first, _, _ := strings.Cut(string(raw), "\n"); !strings.Contains(first, `"practice":{"house":"sealed"`) {
		t.Errorf("first line: %s", first)
	}
	for _, args := range [][]string{{"report", w.path, "-o", "-"}, {"show", w.path}, {"drill", "debrief", w.path}} {
		var out strings.Builder
		if err := run(&env{out: &out, err: io.Discard, ctx: t.Context()}, args); err != nil {
			t.Fatal(args, err)
		}
		if !strings.Contains(strings.ToUpper(out.String()), "PRACTICE") {
			t.Errorf("%v does not say that it is practice:\n%s", args, out.String())
		}
	}
	var out strings.Builder
	if err := run(&env{out: &out, err: io.Discard, ctx: t.Context()}, []string{"judge", w.path, "--json"}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(out.String(), `"practice": true`) {
		t.Errorf("judge does not mark it:\n%s", out.String())
	}
	if _, err := os.Stat("a.pdf"); err != nil {
		t.Error("the walk wrote no report:", err)
	}
}

// TestDrillGoesOn: a sitting that was stopped while burners ran goes on in the
// same house, with the burners off, and the practice clock never goes back.
func TestDrillGoesOn(t *testing.T) {
	t.Chdir(t.TempDir())
	stop := func(step procedure.Step, x *practice.Shown) {
		if step.ID == "co/water-heater-1" {
			x.Typed, x.Reads, x.Wait = "/q", false, 0
		}
	}
	w := sit(t, "tight-ranch", "b"+recordSuffix, 4, stop)
	if err := w.s.run(); err != errStopped {
		t.Fatal(err)
	}
	w.s.rec.Close()
	left := w.s.drill.play.Setting()
	if left&w.s.drill.house.Burners() == 0 {
		t.Fatal("no burner ran")
	}
	w2 := sit(t, "tight-ranch", "b"+recordSuffix, 99, nil)
	if got := w2.s.drill.play.Setting(); got != left&^w2.s.drill.house.Burners() {
		t.Errorf("goes on with %s, left %s", w2.s.drill.house.FormatSetting(got), w2.s.drill.house.FormatSetting(left))
	}
	w2.run()
	w2.s.rec.Close()
	d := debriefed(t, "b"+recordSuffix)
	if !d.Closed || d.Decision != "hold" || d.Seed != 4 {
		t.Errorf("closed %v, %s, seed %d", d.Closed, d.Decision, d.Seed)
	}
	if _, err := (&playedHouse{house: w.s.drill.house}).env(w.s.e, filepath.Join("..", "nowhere"), 1); err != nil {
		t.Error(err)
	}
	other, _, err := practice.OpenHouse("sealed")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := (&playedHouse{house: other}).env(w.s.e, "b"+recordSuffix, 1); err == nil || !strings.Contains(err.Error(), `was begun in the house "tight-ranch"`) {
		t.Errorf("goes on in another house: %v", err)
	}
}

// TestPracticeClock: it runs as many times faster as it was told, and waits are
// added.
func TestPracticeClock(t *testing.T) {
	at, ms := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC), int64(500)
	e := &env{now: func() time.Time { return at }, mono: func() int64 { return ms }}
	d := &playedHouse{}
	pe, err := d.env(e, "", 10)
	if err != nil {
		t.Fatal(err)
	}
	begin, m0 := pe.now(), pe.mono()
	at, ms = at.Add(6*time.Second), ms+6000
	d.clock.skipped += 5 * time.Minute
	if got := pe.now().Sub(begin); got != 6*time.Minute {
		t.Errorf("%v passed", got)
	}
	if got := pe.mono() - m0; got != 360000 {
		t.Errorf("%d ms passed", got)
	}
	for text, want := range map[string]time.Duration{"5 min": 5 * time.Minute, "20 s": 20 * time.Second, "20s": 20 * time.Second, "1.5min": 90 * time.Second, "31 min": 0, "0 s": 0, "-1 min": 0, "5": 0, "5 h": 0, "": 0, "NaN s": 0} {
		got, ok := waitFor(text)
		if ok != (want > 0) || ok && got != want {
			t.Errorf("wait %q: %v %v", text, got, ok)
		}
	}
}
