//go:build linux

package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal/disk"
)

var updateScreens = flag.Bool("update-screens", false, "write the golden screens of the walk anew")

// deaf is a little more than Enter and marks are deaf after a new screen.
const deaf = 340 * time.Millisecond

// walker sits at a window and answers as a person would: what the screen
// asks, after it was read.
type walker struct {
	*window
	size    string
	goldens map[string]bool // seen so far
}

// again makes a walker for another window of the same walk.
func (p *walker) again(w *window) *walker { return &walker{w, p.size, p.goldens} }

// awaits tells a screen that waits for an answer from one that is on its way.
var awaits = regexp.MustCompile(`(?m)> _|^ Enter  (the rest|next page)|main burner lit|SPACE burner lit|SPACE drawn in|SPACE it came back`)

// next is the next screen, different from old, once it waits; text, if any,
// must stand on it.
func (p *walker) next(old string, text ...string) string {
	p.t.Helper()
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		p.mu.Lock()
		now, quiet := strings.Join(p.screen.lines(), "\n"), time.Since(p.changed) > 40*time.Millisecond
		p.mu.Unlock()
		if quiet && now != old && awaits.MatchString(now) && strings.Contains(now, strings.Join(text, "")) {
			p.check(now)
			return now
		}
	}
	p.t.Fatalf("no next screen:\n%s", p)
	return ""
}

// check holds what is true of every screen of the walk.
func (p *walker) check(now string) {
	p.t.Helper()
	rows := strings.Split(now, "\n")
	p.mu.Lock()
	width, faults := p.screen.w, p.screen.faults
	p.screen.faults = nil
	p.mu.Unlock()
	for _, f := range faults {
		p.t.Errorf("%s on\n%s", f, now)
	}
	for i, r := range rows {
		if len(r) > width-1 {
			p.t.Errorf("row %d reaches the last column:\n%s", i+1, now)
		}
	}
	if last := rows[len(rows)-1]; !strings.HasPrefix(last, " / then") || !strings.HasSuffix(last, "q stop") && !strings.HasSuffix(last, "q stop+keep") {
		p.t.Errorf("the last row is not that of the controls:\n%s", now)
	}
}

// forgive forgets what the screen holds against the program so far.
func (p *walker) forgive() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.screen.faults = nil
}

// keys sends keys once the screen may be taken for read, and gives the screen
// that follows.
func (p *walker) keys(keys string, text ...string) string {
	p.t.Helper()
	time.Sleep(deaf)
	old := p.String()
	p.write(keys)
	return p.next(old, text...)
}

var passing = []struct {
	is *regexp.Regexp
	to string
}{
	{regexp.MustCompile(`\d\d:\d\d:\d\d`), "hh:mm:ss"},
	{regexp.MustCompile(`\d\d:\d\d  `), "hh:mm  "},
	{regexp.MustCompile(`\d+ min ago`), "N min ago"},
	// How many answers came before is the sequence's business; that each is
	// counted is TestKeptCoversEveryAnswer's.
	{regexp.MustCompile(`(?m) +kept: +\d+$`), "   kept: N"},
	{regexp.MustCompile(`(?m)\d+ kept$`), "N kept"},
	{regexp.MustCompile(`Kept  \d+( to \d+)?:`), "Kept  N$1:"},
	{regexp.MustCompile(`Kept  N to \d+:`), "Kept  N to M:"},
	{regexp.MustCompile(`\d{4}-\d\d-\d\d`), "yyyy-mm-dd"},
	{regexp.MustCompile(`\d+ s left`), "NN s left"},
	{regexp.MustCompile(`drawn in at [\d.]+ s`), "drawn in at N s"},
	{regexp.MustCompile(`0:00 \[[=>.]+\]`), "0:00 [bar]"},
	{regexp.MustCompile(`(?m)^( {4,6})[# ]{22,23}(  )`), "$1(digits)              $2"},
	{regexp.MustCompile(`(?m)^( {4,6})[# ]{10,23}$`), "$1(digits)"},
}

// lasting is a screen without what time makes of it.
func lasting(now string) string {
	for _, v := range passing {
		now = v.is.ReplaceAllString(now, v.to)
	}
	return now
}

// golden compares a screen with the one kept, but for what time makes of it.
func (p *walker) golden(name, now string) {
	p.t.Helper()
	if p.goldens[name] {
		return
	}
	p.goldens[name] = true
	now = lasting(now) + "\n"
	file := filepath.Join("..", "..", "testdata", "screens", name+"-"+p.size+".golden")
	if *updateScreens {
		if err := os.WriteFile(file, []byte(now), 0o644); err != nil {
			p.t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		p.t.Fatal(err)
	}
	if now != string(want) {
		p.t.Errorf("%s differs; if it is meant, run the test with -update-screens and read the change\ngot\n%swant\n%s", name, now, want)
	}
}

// goldenScreens are the screens kept as goldens, by a text that stands on them alone.
var goldenScreens = []struct{ name, text string }{
	{"danger-gate", "Is any of this so, here and now?"},
	{"weather", "How is the weather"},
	{"roster", "Which devices move air"},
	{"look-list", "Look at the furnace"},
	{"look-list-again", "Look at the water heater"},
	{"baseline", "What does the gauge read"},
	{"set-up", "Turn all of these on"},
	{"doors", "Shut each door in turn"},
	{"suggestion", "One more reading"},
	{"worst-case", "Settle it now?"},
	{"held", "Before lighting the water heater"},
	{"clock-waiting", "1 of 2: water heater"},
	{"co", "CO in the flue of the water heater"},
	{"put-back", "Put the house back"},
	{"decision", "Who was told, and how?"},
	{"signature", "Your name, for the report?"},
}

// answer is what is typed where it is not the house's own "=".
func (p *walker) answer(now string) string {
	if strings.Contains(now, "What does the gauge read") {
		_, shown, _ := strings.Cut(now, "THE GAUGE SHOWS  ")
		typed, _, _ := strings.Cut(shown, "  ")
		return typed
	}
	return "="
}

// walk answers screens from now on until one holds that text; "" is the end
// of the program.
func (p *walker) walk(now, until string) string {
	p.t.Helper()
	for turn := 0; turn < 250; turn++ {
		paged := strings.Contains(now, " Enter  the rest") || strings.Contains(now, " Enter  next page")
		if !paged && until != "" && strings.Contains(now, until) {
			return now
		}
		for _, n := range goldenScreens {
			if !paged && strings.Contains(now, n.text) {
				p.golden(n.name, now)
			}
		}
		switch {
		case paged:
			now = p.keys("\r")
		case strings.Contains(now, "Your name, for the report?") && until == "":
			time.Sleep(deaf)
			p.write("=\r")
			return ""
		default:
			now = p.keys(p.answer(now) + "\r")
		}
	}
	p.t.Fatalf("no end of it:\n%s", now)
	return ""
}

// page turns the pages before a question.
func (p *walker) page(now string) string {
	p.t.Helper()
	for strings.Contains(now, " Enter  the rest") || strings.Contains(now, " Enter  next page") {
		now = p.keys("\r")
	}
	return now
}

// onScreens runs a test at the sizes of window that the walk is made for.
func onScreens(t *testing.T, test func(t *testing.T, bin string, width, height int)) {
	if testing.Short() {
		t.Skip("builds the program and takes most of a minute")
	}
	bin := build(t)
	for _, size := range [][2]int{{80, 24}, {60, 20}} {
		t.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(t *testing.T) {
			t.Parallel()
			test(t, bin, size[0], size[1])
		})
	}
}

// TestWalkOnScreen goes through the demonstration house at a real terminal,
// from the first screen to the signature, with the detours of a real day.
func TestWalkOnScreen(t *testing.T) {
	onScreens(t, walkOnScreen)
}

func walkOnScreen(t *testing.T, bin string, width, height int) {
	dir := t.TempDir()
	p := &walker{open(t, width, height, dir, bin, "walk"), fmt.Sprintf("%dx%d", width, height), map[string]bool{}}
	now := p.next("")
	if took := time.Since(p.began); took > 2*time.Second {
		t.Errorf("the first screen took %v: the program waits for a terminal that never answers", took)
	}
	p.golden("first", now)
	p.page(now)
	now = p.walk(p.keys("1\r"), "What does the gauge read")

	// A window made small and large again loses nothing that was typed.
	p.golden("baseline", now)
	p.write("-0.8 -1.1")
	before := p.until("-0.8 -1.1_")
	p.resize(20, 5)
	p.until("-1.1_") // row 14 of the old picture is gone: this is a new one
	p.resize(width, height)
	for end := time.Now().Add(10 * time.Second); lasting(p.String()) != lasting(before); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("after the window was small:\n%s\nbefore:\n%s", p, before)
		}
	}
	// A picture drawn just before the program knew may not fit; what counts is
	// the one that follows.
	p.forgive()
	now = p.keys(strings.Repeat("\x7f", len("-0.8 -1.1")) + p.answer(now) + "\r")

	// Why stands in place of the last readings, and goes again.
	now = p.walk(now, "Shut each door in turn")
	p.golden("doors", now)
	why := p.keys("/w")
	p.golden("doors-why", why)
	for i := 0; i < 9 && unsaid(why) != unsaid(now); i++ {
		why = p.keys("/w")
	}
	if unsaid(why) != unsaid(now) {
		t.Errorf("/w does not close:\n%s", why)
	}

	now = why

	// An answer is found wrong and put right.
	now = p.fix(p.walk(now, "Set the worst case and hold it"), "-2.9 -3.0 -2.9 -2.9 -2.9")

	// The clock, by hand.
	now = p.walk(now, "1 of 2: water heater")
	p.golden("clock-waiting", now)
	time.Sleep(deaf)
	p.write(" ")
	p.until("SPILLING")
	time.Sleep(deaf)
	p.write("/c 3\r")
	p.until("CO 3 ppm")
	time.Sleep(2 * time.Second)
	p.golden("clock-running", p.String())
	p.check(p.String())
	p.write(" ")
	p.until("DRAWN IN at")
	now = p.keys("\r")

	// A pause while the house is held, and going on.
	p.walk(now, "Before lighting the furnace")
	now = p.keys("/q", "Switch all of this off first")
	if !strings.Contains(now, "OFF") {
		t.Errorf("nothing says what must be switched off first:\n%s", now)
	}
	p.golden("shut-down", now)
	time.Sleep(deaf)
	p.write("ok\r")
	code, left := p.ended()
	if code != 0 || !strings.Contains(strings.ReplaceAll(left, "\n", ""), "next: cazward walk practice-") {
		t.Errorf("exit %d, and on the screen\n%s", code, left)
	}
	names, err := filepath.Glob(filepath.Join(dir, "*"+recordSuffix))
	if err != nil || len(names) != 1 {
		t.Fatalf("records %v, %v", names, err)
	}
	p = p.again(open(t, width, height, dir, bin, "walk", filepath.Base(names[0])))
	now = p.page(p.next(""))
	p.golden("after-resume", now)

	p.walk(now, "")
	if code, left = p.ended(); code != 0 || !strings.Contains(strings.ReplaceAll(left, "\n", ""), "closed: decision hold: DO NOT AIR-SEAL THIS HOUSE YET (WARNING)record: practice-") {
		t.Errorf("exit %d, and on the screen\n%s", code, left)
	}
	for _, f := range p.screen.faults {
		t.Error(f)
	}
	rec, err := disk.Load(names[0])
	if err != nil {
		t.Fatal(err)
	}
	if !rec.Closed {
		t.Error("the record is not closed")
	}
	count := map[procedure.Kind]int{}
	for _, e := range rec.Events {
		count[e.Kind]++
	}
	if count[procedure.KindCorrect] != 1 || count[procedure.KindHazard] != 1 || count[procedure.KindHandover] != 1 || count[procedure.KindTimer] != 3 {
		t.Errorf("the record holds %v", count)
	}
	for _, n := range goldenScreens {
		if !p.goldens[n.name] {
			t.Errorf("the screen %s never came", n.name)
		}
	}
}

// TestTroubleOnScreen: CO in the air while a clock runs, and a program that is
// killed then: what the walk asks, and that who comes back is told what may
// still burn, run and be shut.
func TestTroubleOnScreen(t *testing.T) {
	onScreens(t, troubleOnScreen)
}

func troubleOnScreen(t *testing.T, bin string, width, height int) {
	dir := t.TempDir()
	p := &walker{open(t, width, height, dir, bin, "walk", "--demo"), fmt.Sprintf("%dx%d", width, height), map[string]bool{}}
	for _, n := range goldenScreens { // those of the other test
		p.goldens[n.name] = true
	}
	p.walk(p.page(p.next("")), "1 of 2: water heater")
	time.Sleep(deaf)
	p.write(" ")
	p.until("SPILLING")
	keys, now := "/c 12\r", ""
	for _, x := range [][2]string{{"source", "Where does the CO in the room air come from?"}, {"settled", "Has that source been stopped?"}, {"aired", "Was a window or door opened"}} {
		if now = p.page(p.keys(keys)); !strings.Contains(now, x[1]) {
			t.Fatalf("%q is not asked:\n%s", x[1], now)
		}
		p.golden(x[0], now)
		keys = "1\r"
	}
	now = p.keys(keys)
	if !strings.Contains(now, "SPILLING") {
		t.Errorf("the clock does not run on:\n%s", now)
	}
	if err := p.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	p.ended()
	names, err := filepath.Glob(filepath.Join(dir, "*"+recordSuffix))
	if err != nil || len(names) != 1 {
		t.Fatalf("records %v, %v", names, err)
	}
	p = p.again(open(t, width, height, dir, bin, "walk", filepath.Base(names[0])))
	now = p.page(p.next(""))
	p.golden("resumed", now)
	for _, want := range []string{"MAY STILL BE", "water heater burner ON", "bath fan, range hood, dryer ON", "air handler ON", "bath door SHUT", "bedroom 2 door SHUT", "CAZ door OPEN", "What was being timed is void."} {
		if !strings.Contains(strings.Join(strings.Fields(now), " "), want) {
			t.Errorf("%q is not said:\n%s", want, now)
		}
	}
	now = p.page(p.keys("=\r"))
	p.golden("resumed-next", now)
	p.walk(now, "1 of 2: water heater") // it is timed again
	for _, f := range p.screen.faults {
		t.Error(f)
	}
}

// unsaid is a screen without what was said of the answer before, which the
// next key takes away.
func unsaid(now string) string {
	return regexp.MustCompile(`(?m)^   Kept .*$`).ReplaceAllString(lasting(now), "")
}

// fix corrects the newest answer and comes back to where it was.
func (p *walker) fix(now, text string) string {
	p.t.Helper()
	list := p.page(p.keys("/f", "Which is wrong?"))
	p.golden("fix-list", list)
	found := p.page(p.keys("caz door\r", "FOUND"))
	p.golden("fix-found", found)
	why := p.page(p.keys("1\r"))
	p.golden("fix-reason", why)
	old := p.page(p.keys("read it wrong\r"))
	p.golden("fix", old)
	back := p.page(p.keys(text + "\r"))
	p.golden("fixed", back)
	return back
}
