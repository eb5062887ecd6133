// Package forms puts one question per step before a person and turns what was
// typed into an answer. It can neither judge nor save: a [Prompter] shows a
// [View] and returns what was typed; [Parse] turns that into event payloads;
// the caller applies and writes them.
//
// terminal/ is the full-screen form, plain/ one fact a line, script/ answers
// from a list for tests and filled sheets.
package forms

import (
	"time"

	"cazward/procedure"
	"cazward/procedure/wording"
)

// View is all that a screen shows at one step.
type View struct {
	Step    procedure.Step
	Words   wording.Screen
	Where   Where
	Shows   string     // demonstration house: what instruments, people and the house show
	House   []string   // HOUSE NOW / HELD AT WORST CASE, a clause each
	Held    bool       // the heading of House
	Still   bool       // House is what may still be so, and nobody knows
	SoFar   []string   // last readings, newest last
	Ruler   *Ruler     // nil when no net is known
	NetNote string     // "net none yet: ..." where there is no ruler
	Message string     // NOT KEPT, LOOK AGAIN, STOPPED and what goes with it
	Text    string     // what was typed and refused stays in the box
	Old     string     // correction: the old value, beside the box
	Clock   *ClockView // running observation
	Notes   int        // notes at this step
	Brief   bool       // a choice longer than its line is cut, not wrapped: what is cut is elsewhere
	Pages   int        // decision: pages left before the box opens
	Lines   []Line     // decision and other pages: text in place of question and how
}

// Line of a page, with its role: head (signal word, headline and code word,
// two or more spaces between them), why, do, holds, back, text, drawn (blanks
// count; nothing for plain mode), or cautions,
// which has no text and says where the page shows Words.Cautions (else they
// come first). An empty text is a blank line. Two or more spaces inside a text
// end its label: what wraps is set below what follows them.
type Line struct {
	Role string
	Text string
}

// Where is the top of the screen.
type Where struct {
	Stage, Of  int
	Name       string
	Phase      string
	Scheme     string // long form, "graded, 2005/2015"
	SchemeID   string // short, "graded"
	Kept       int
	Mark       string // "DEMO HOUSE, INVENTED", "PRACTICE" or ""
	MarkShort  string
	Ambient    string    // "2" or "over"; "" never read
	AmbientAt  time.Time // when
	BurnersOn  bool
	AmbientOld time.Duration // own rule: older than this asks for a new reading while burners run
}

// Ruler is the net pressure of a zone on a scale, drawn by each form at its
// own width. Net and U in pascals; marks nearest first.
type Ruler struct {
	Net, U float64
	Marks  []Mark
	More   int    // limits not shown
	None   string // scheme without a limit: what to say instead
	Final  bool   // worst case is held: verdicts no longer say "so far"
}

// Mark is a limit on the ruler. Side comes from the verdict, and the bar is
// drawn to agree with it.
type Mark struct {
	Letter byte
	At     float64
	Text   string // "one vent, -3.0 (from memory)"
	Side   procedure.Side
}

// ClockView is a timed observation in progress. The replies of a clock screen
// carry Timer: start at light-off; mark when smoke is drawn in, and mark again
// when it came back (the clock never stopped); stop with the Text that the
// answer is to be parsed from, which then is [ParseContext].Timed.
type ClockView struct {
	Lit     time.Time // wall time of main-burner light-off; zero: not lit yet
	LitMono int64
	Drawn   float64 // seconds at the last mark, 0 for none
	Limit   float64
}

// Elapsed is the seconds since light-off: the longer of what the wall clock
// and the monotonic clock say, because a laptop that slept must not make a
// watch look shorter than it was.
func (c ClockView) Elapsed(clock Clock) float64 {
	wall := clock.Now().Sub(c.Lit).Seconds()
	return max(0, wall, float64(clock.Mono()-c.LitMono)/1000)
}

// Reply is what came back from a screen.
type Reply struct {
	Text    string           // an answer as typed
	Control byte             // 0, or the letter: b f n c k p q ! x
	Arg     string           // what followed the letter: "/c 12"
	Timer   *procedure.Timer // the clock was started, marked or stopped
}

// Prompter shows views and returns replies. Ask returns io.EOF at the end of
// input, which is a pause and never an answer.
type Prompter interface {
	Ask(View) (Reply, error)
	// Tell shows a line that needs no answer: "kept 35: ...", a bell's reason.
	Tell(kind, text string)
	// Stop leaves the screen for good and prints the lines on the normal
	// screen. It asks nothing.
	Stop(lines []string)
	// Close restores the terminal.
	Close() error
}

// Clock gives wall time and monotonic milliseconds since the sitting began.
type Clock interface {
	Now() time.Time
	Mono() int64
}

// Entry is one payload that an answer became, with the fact key it is for.
type Entry struct {
	Key  string
	Data procedure.Data
}
