package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
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
	w := &trainee{t: t, path: path, flaw: flaw, did: map[string]bool{}}
	w.sit(house, seed, practice.Alone, w.answer)
	return w
}

// sitAs sits with a prompter of its own.
func sitAs(t *testing.T, house, path string, mode practice.Mode, answer func(forms.View) string) *trainee {
	t.Helper()
	w := &trainee{t: t, path: path, did: map[string]bool{}}
	w.sit(house, 4, mode, answer)
	return w
}

func (w *trainee) sit(house string, seed int64, mode practice.Mode, answer func(forms.View) string) {
	t, path := w.t, w.path
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
	d := &playedHouse{house: h, arg: house, seed: seed, seeded: true, gauge: practice.Gauges[0], mode: mode}
	pe, err := d.env(e, path, 1)
	if err != nil {
		t.Fatal(err)
	}
	p := &script.Script{Func: answer}
	if w.s, err = openSession(pe, p, path, procedure.TestIn, walkOptions{scheme: "graded-2005", tester: "AB", drill: d}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.s.rec.Close() })
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
	everyPageMarked(t)
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

// everyPageMarked: whatever is printed of the records in the folder, each page
// of it says that no home was tested, in its language. A class of 42 takes
// several pages.
func everyPageMarked(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("CAZWARD_REQUIRE_TOOLS") == "1" {
			t.Fatal(err)
		}
		t.Log("pdftotext is not there: pages were not looked at")
		return
	}
	one := "tight-ranch" + recordSuffix
	class := filepath.Join(t.TempDir(), "class")
	if err := os.Mkdir(class, 0o700); err != nil {
		t.Fatal(err)
	}
	tests := 0
	for i := range 3 {
		for _, name := range practice.HouseNames() {
			data, err := os.ReadFile(name + recordSuffix)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(class, fmt.Sprintf("%d-%s%s", i, name, recordSuffix)), data, 0o600); err != nil {
				t.Fatal(err)
			}
			tests++
		}
	}
	marks := map[string]string{"en": "PRACTICE", "es": "PRÁCTICA"}
	for _, c := range []struct {
		args  []string
		pages int
		says  []string // in English
	}{
		{[]string{"report", one}, 3, nil},
		{[]string{"notice", one}, 1, nil},
		{[]string{"drill", "debrief", one}, 1, []string{"score 100 of 100", "WORST CASE", "closet: true net", "CO in the room watched"}},
		{[]string{"drill", "debrief", class}, 2, []string{fmt.Sprintf("Class sheet: %d practice tests", tests), "trainee", "to work on", "What the class lost points on", "nothing: every point was reached"}},
	} {
		for lang, mark := range marks {
			file := filepath.Join(t.TempDir(), "x.pdf")
			if err := run(&env{out: io.Discard, err: io.Discard, ctx: t.Context()}, append(c.args[:len(c.args):len(c.args)], "-o", file, "--lang", lang)); err != nil {
				t.Fatal(c.args, err)
			}
			raw, err := exec.Command("pdftotext", "-layout", file, "-").Output()
			if err != nil {
				t.Fatal(err)
			}
			pages := strings.Split(strings.TrimSuffix(string(raw), "\f"), "\f")
			if len(pages) < c.pages {
				t.Errorf("%v: %d pages, want %d or more", c.args, len(pages), c.pages)
			}
			for i, p := range pages {
				if !strings.Contains(p, mark) {
					t.Errorf("%v %s: page %d is not marked:\n%s", c.args, lang, i+1, p)
				}
			}
			for _, w := range c.says {
				if lang == "en" && !strings.Contains(string(raw), w) {
					t.Errorf("%v: nothing says %q:\n%s", c.args, w, raw)
				}
				if lang == "es" && strings.Contains(string(raw), w) {
					t.Errorf("%v: English in Spanish: %q", c.args, w)
				}
			}
			if c.args[len(c.args)-1] == class && strings.Count(string(raw), "tight-ranch") != 3 {
				t.Errorf("%s: not a row for each test:\n%s", lang, raw)
			}
		}
	}
}

// TestDrillExam: no help, no look back, no typing by =, and going on without the
// flag changes nothing of that.
func TestDrillExam(t *testing.T) {
	t.Chdir(t.TempDir())
	path := "x" + recordSuffix
	w := sit(t, "sealed", path, 4, nil)
	w.s.rec.Close()
	for _, mode := range []practice.Mode{practice.Exam, practice.Alone} {
		if mode == practice.Exam {
			if err := os.Remove(path); err != nil {
				t.Fatal(err)
			}
		}
		var seen []forms.View
		keys := []string{"/b", "/f", "=", "/q"}
		if mode == practice.Exam {
			keys = append([]string{"none", "ok"}, keys...)
		}
		w := sitAs(t, "sealed", path, mode, func(v forms.View) string {
			seen = append(seen, v)
			return keys[len(seen)-1]
		})
		if err := w.s.run(); err != errStopped {
			t.Fatal(err)
		}
		w.s.rec.Close()
		last := seen[len(seen)-4:]
		for i, v := range last {
			if v.Step.ID != "arrive/lel" || v.Shows != "" || len(v.Words.Why) != 1 || !strings.Contains(v.Words.Why[0], "An exam gives no help") {
				t.Errorf("%q: %s shows %q, why %q", mode, v.Step.ID, v.Shows, v.Words.Why)
			}
			if i > 0 && !strings.Contains(v.Message, "an exam: no look back") {
				t.Errorf("%q: after %q: %q", mode, keys[len(keys)-5+i], v.Message)
			}
			if !strings.Contains(strings.Join(v.Words.How, "\n"), "THE DETECTOR SHOWS  0 % LEL") {
				t.Errorf("%q: the instrument cannot be read: %q", mode, v.Words.How)
			}
		}
	}
	var out strings.Builder
	if err := run(&env{out: &out, err: io.Discard, ctx: t.Context()}, []string{"drill", "debrief", path}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(out.String(), "walked as an exam") {
		t.Error(out.String())
	}
}

// TestDrillCoach: after each answer there is an explanation: what is true where
// the house knows it, else why it was asked. Who does it right is not blamed.
func TestDrillCoach(t *testing.T) {
	for _, c := range []struct {
		name string
		flaw func(step procedure.Step, x *practice.Shown)
		says map[string]string // after the answer of a step
	}{
		{"sound", nil, map[string]string{
			"list/fans":                     "That is all of them.",
			"baseline/closet-1":             "All is at rest",
			"reading/closet-1/dryer":        "closet: -",
			"reading/closet-1/worst":        "The true worst case of closet is -21.1 Pa; the house as it stands gives -21.1.",
			"spill/water-heater-1":          "Flue gas comes into the room: water heater. CO rises.",
			"ambient/water-heater-1":        "CO in the room is ",
			"appliance/water-heater-1/vent": "vent",
		}},
		{"fan on no list", func(step procedure.Step, x *practice.Shown) {
			if step.ID == "list/fans" {
				x.Typed = "1 3"
			}
		}, map[string]string{"list/fans": "the range hood is on no list.", "reading/closet-1/worst": "the range hood was off, not on (on no list)"}},
		{"baseline with the dryer on", func(step procedure.Step, x *practice.Shown) {
			if step.ID == "baseline/closet-1" {
				x.Do = "dryer on"
			}
		}, map[string]string{"baseline/closet-1": "the baseline was read with dryer on, which moved it by -"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Chdir(t.TempDir())
			w := sit(t, "tight-ranch", "x"+recordSuffix, 4, c.flaw)
			w.s.drill.mode = practice.Coach
			told, before := map[string]string{}, ""
			quiet := 0
			w.s.p = &script.Script{Func: func(v forms.View) string {
				if before != "" && before != v.Step.ID {
					if !strings.HasPrefix(v.Message, "COACH  ") {
						t.Logf("nothing after %s: %q", before, v.Message)
						quiet++
					}
					told[before] = v.Message
				}
				before = v.Step.ID
				return w.answer(v)
			}}
			w.run()
			for id, want := range c.says {
				if !strings.Contains(told[id], want) {
					t.Errorf("after %s: %q, want %q", id, told[id], want)
				}
			}
			if quiet > 3 || len(told) < 30 {
				t.Errorf("%d of %d answers without a word", quiet, len(told))
			}
			if c.flaw == nil {
				for id, m := range told {
					for _, blame := range []string{"on no list", "not so:", "was kept, the true", "too early", "was told", "never held"} {
						if strings.Contains(m, blame) {
							t.Errorf("after %s, done right: %s", id, m)
						}
					}
				}
			}
			w.s.rec.Close()
			if t.Failed() {
				for id, m := range told {
					t.Log(id, ": ", m)
				}
			}
		})
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
	for _, file := range []string{"r.html", "r.csv", "r.json", "r.xml", "r.txt", "n.txt"} {
		verb := map[string]string{"r": "report", "n": "notice"}[file[:1]]
		if err := run(&env{out: io.Discard, err: io.Discard, ctx: t.Context()}, []string{verb, w.path, "-o", file}); err != nil {
			t.Errorf("%s: %v", file, err)
			continue
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(strings.ToUpper(string(text)), "PRACTICE") {
			t.Errorf("%s does not say that it is practice", file)
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
