// Package report makes the report of a test: what was decided and why, every
// reading with the set-up it belongs to, every figure that decided with its
// source, and what was not tested.
//
// [Build] turns a record and its judgement into a [Report], a value that the
// writers below print: report/pdf for paper, report/html for screens and
// screen readers, report/text; report/chart lays drawings out for the first
// two. For machines, report/csv ([Tidy] rows) and report/xml write the [Input]
// and report/json the judgement. A writer lays out; it neither judges nor
// words, so all forms say the same. [Redact] makes an Input that holds nothing
// private, for every form at once.
//
// # Invariants
//
// Build has no clock, file or global: the same Input gives the same Report.
// All text in a Report went through [Clean]. What was not measured prints as
// "not tested" or "-", never as a figure. Page 1 is complete in itself; where
// a writer must shorten a list there it says how many lines follow on page 2.
package report

import (
	"reflect"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/wording"
)

// Input is all that a report is made from.
type Input struct {
	Lang         wording.Lang // "" is English
	Header       procedure.Header
	Events       []procedure.Event
	Observations procedure.Observations
	Judgement    procedure.Judgement
	// Rules are those that Judgement was reached by: values, sources and
	// evidence of the rows that findings name are looked up in them.
	Rules     procedure.Rules
	CloseHash string // closing hash in force, "" where there is none
	Head      string // hash of the last line
	Closed    bool
	// Signs as a verifier saw them. Nil takes those of Events, whose
	// signatures then print as not checked.
	Signs          []Sign
	ProgramVersion string
	Prior          *Comparison
	Units          Units
	// Photos are the stored bytes of the attach events, as far as they were
	// there; nil says that nobody looked.
	Photos []Photo
	// Redacted is set by [Redact] alone.
	Redacted bool
}

// Photo is a picture kept beside the record: JPEG or PNG, upright. An Altered
// one has no Data: what is stored there has another hash.
type Photo struct {
	SHA256  string
	Type    string // image/jpeg, image/png
	Data    []byte
	Altered bool
}

// Sign is a sign-off. Close is the closing hash it was given on; Signature
// says what a check of it found, "" that there was no check.
type Sign struct {
	procedure.Sign
	At        time.Time
	Signature string
}

// Comparison is the earlier phase of the same home; Prior is the one before
// that. Of a longer chain the last two are shown.
type Comparison struct {
	Header       procedure.Header
	CloseHash    string
	Observations procedure.Observations
	Judgement    procedure.Judgement
	Prior        *Comparison
}

// Report is a report before layout.
type Report struct {
	Lang     wording.Lang
	Title    string
	Record   string
	Mark     string    // practice mark of every page, "" for a real home
	Hash     string    // the closing hash, "not closed" while the record is open
	Stamp    time.Time // close time, else last line, else creation: the date of files made from it
	Program  string
	Decision Decision
	Sections []Section
}

// Decision is page 1.
type Decision struct {
	Code       procedure.Decision
	Word       string // signal word after ANSI Z535, in the language of the report
	Headline   string
	Facts      []Fact // home, phase, date, tester, scheme, weather
	Why        []string
	Do         []string // with who may do it
	Appliances []ApplianceLine
	Cautions   []string
	PutBack    PutBack
	NotTested  []string // by name; none tested-for lines are missing when empty
	Risks      []string // loosened life-safety rows with their reasons, in full
	HoldsLabel string
	Holds      string // what the decision holds for
}

// Fact is a named value.
type Fact struct{ Name, Value string }

// ApplianceLine is one status with the appliances that have it.
type ApplianceLine struct {
	Status procedure.Status
	Words  string
	Names  []string
}

// PutBack says what of the house is as it was found. Of is 0 where nothing
// was to be put back or nothing was recorded; Text says which.
type PutBack struct {
	Done, Of int
	Open     []string
	Text     string // "14 of 14"
}

// Section is one part of the pages after the first.
type Section struct {
	ID      string // stable: "readings", "zones", ...
	Title   string
	Facts   []Fact
	Notes   []string
	Tables  []Table
	Traces  []Trace
	Drafts  []DraftChart
	Bars    []BarChart
	Steps   []PhaseChart
	Sealing []SealingChart
	Photos  []PhotoBox
}

// Table has a caption where a section has several. A Whole one is used in one
// piece, so paper should not break it.
type Table struct {
	Title   string
	Columns []Column
	Rows    []Row
	Whole   bool
}

// Column of a table; Weight is its share of the width.
type Column struct {
	Head   string
	Weight float64
	Right  bool
}

// Row of a table. A Span row has one cell over the full width and heads the
// rows that follow it, or, with After, says more of those before it. Bold is
// how many of the first cells stand out.
type Row struct {
	Cells []string
	Span  bool
	After bool
	Bold  int
}

// all cells of a row.
const all = 99

// Trace is the pressure of a zone step by step, pascals with reference to
// outdoors.
type Trace struct {
	Zone     string
	Points   []Point
	Table    Table    // the same figures
	Baseline *float64 // the one that the net rests on
	// Limits are absolute: baseline plus the limit of the net.
	Limits []Level
	// Worst reading and its give-or-take, nil where none was held.
	Worst, U *float64
}

// Point of a trace: N is the number of its line in the readings table.
type Point struct {
	N            int
	Mean, Lo, Hi float64
	Baseline     bool
	Worst        bool
}

// Level is a line across a trace.
type Level struct {
	Pa    float64
	Label string
}

// Build makes the report. It never fails: what the input lacks is said to be
// missing in the report.
func Build(in Input) Report {
	b := newBuilder(in)
	r := Report{Lang: b.lang, Record: b.in.Header.Record, Program: in.ProgramVersion, Stamp: b.stamp(),
		Title: b.t("title") + " - " + b.in.Header.Home + " - " + b.in.Header.Record, Hash: b.hash()}
	if in.Header.Practice != nil || in.Observations.Practice {
		r.Mark = b.t("practice")
	}
	r.Decision = b.decision()
	for _, f := range []func() Section{b.readings, b.zones, b.sealing, b.appliances, b.air, b.room, b.checks, b.instruments, b.doubts, b.corrections,
		b.skips, b.notes, b.findings, b.figures, b.compare, b.record} {
		if s := f(); s.ID != "" {
			r.Sections = append(r.Sections, s)
		}
	}
	r.Sections = b.photos(r.Sections)
	clean(reflect.ValueOf(&r).Elem())
	return r
}

// builder holds the input and what is looked up often.
type builder struct {
	in    Input
	lang  wording.Lang
	obs   *procedure.Observations
	byN   map[int]procedure.Event
	names map[string]string
	used  map[int]bool // n of the pressures that the observations rest on
}

func newBuilder(in Input) *builder {
	in.Judgement.Findings = in.Rules.Marked(in.Judgement.Findings)
	b := &builder{in: in, lang: in.Lang, obs: &in.Observations, byN: map[int]procedure.Event{}, names: map[string]string{}, used: map[int]bool{}}
	if b.lang == "" {
		b.lang = wording.English
	}
	for _, ev := range in.Events {
		b.byN[ev.N] = ev
	}
	for _, z := range b.obs.Zones {
		b.names[z.ID] = z.Name
	}
	for _, a := range b.obs.Appliances {
		b.names[a.ID] = a.Name
	}
	for _, list := range [][]procedure.RosterItem{b.obs.Fans, b.obs.Doors, b.obs.AirHandlers} {
		for _, it := range list {
			b.names[it.ID] = it.Name
			if it.Name == "" {
				b.names[it.ID] = wording.KindName(b.lang, it.Kind)
			}
		}
	}
	for _, z := range b.obs.ZoneObs {
		for _, p := range append(append([]procedure.PressureObs{}, z.Baselines...), z.Readings...) {
			b.used[p.N] = true
		}
		if z.Pairs != nil {
			b.used[z.Pairs.N] = true
		}
	}
	for _, w := range in.Judgement.WorstCase {
		for _, n := range w.About {
			b.used[n] = true
		}
	}
	for _, a := range b.obs.ApplObs {
		for _, p := range []*procedure.PressureObs{a.Draft, a.DraftNatural} {
			if p != nil {
				b.used[p.N] = true
			}
		}
	}
	return b
}

// name of a zone, appliance, fan, door or air handler; an id without a name
// names itself.
func (b *builder) name(id string) string {
	if n := b.names[id]; n != "" {
		return n
	}
	return id
}

// hash is the closing hash in force, or says that the record is not closed.
func (b *builder) hash() string {
	if b.in.Closed && b.in.CloseHash != "" {
		return b.in.CloseHash
	}
	return b.t("not-closed")
}

func (b *builder) nameAll(ids []string) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = b.name(id)
	}
	return strings.Join(out, ", ")
}

// stamp is the time of the last close, else of the last line, else of the
// header: the only times that the record itself gives.
func (b *builder) stamp() time.Time {
	t := b.in.Header.Created
	for _, ev := range b.in.Events {
		if ev.Kind == procedure.KindClose || !b.in.Closed {
			t = ev.Written
		}
	}
	return t
}

// clean passes every text of a report through [Clean], whatever field it
// stands in, so that a new field cannot be forgotten.
func clean(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(Clean(v.String()))
	case reflect.Slice:
		if v.Type().Elem().Kind() == reflect.Uint8 || v.Type() == reflect.TypeFor[Plain]() { // a picture
			return
		}
		for i := range v.Len() {
			clean(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Field(i); f.CanSet() {
				clean(f)
			}
		}
	}
}
