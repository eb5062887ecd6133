package register

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
)

// Code of a reason why a home wants attention.
type Code string

// Append-only.
const (
	NotJudged       Code = "not-judged"       // intact, but no decision can be made of it
	IntegrityFailed Code = "integrity"        // damaged, torn, or an attachment is absent or altered
	FromNewer       Code = "newer"            // written by a newer version
	SecondRecord    Code = "second-record"    // two different records of one id
	SaysLeave       Code = "leave"            // decision
	SaysHold        Code = "hold"             // decision
	SaysIncomplete  Code = "incomplete"       // decision
	SaysRefer       Code = "refer"            // decision
	CloseToLimit    Code = "too-close"        // a value too close to its limit to call
	FromMemory      Code = "from-memory"      // a figure from memory carries the decision
	OtherwiseNow    Code = "otherwise-now"    // closed on another decision than is made of it now
	NoLaterTest     Code = "no-later-test"    // sealing allowed, no daily test or test-out kept
	Calibration     Code = "calibration"      // instrument out of calibration
	BaselineDrift   Code = "baseline-drift"   // baselines differ more than the plan allows
	StillOpen       Code = "open"             // never closed
	ReopenedSince   Code = "reopened"         // reopened after a closing
	SignedEarlier   Code = "signed-earlier"   // signed on a closing that is no longer in force
	Returned        Code = "returned"         // the last sign-off in force returns it
	SlowClock       Code = "clock-longer"     // a timed observation longer than the time between its neighbours
	SameDigits      Code = "same-digits"      // readings that repeat to the last digit
	NoSpread        Code = "no-spread"        // samples that never move
	FastWalk        Code = "fast-walk"        // faster than the steps can be made
	RisesWithFans   Code = "rises-with-fans"  // pressure rises when exhaust fans start
	NetFarOff       Code = "net-far-off"      // net far from what CFM50 and flows allow
	SameElsewhere   Code = "same-elsewhere"   // the same readings in two homes
	ForecastOver    Code = "forecast"         // after the planned sealing the zone comes past its limit, or too close to it
	UnsettledDoubts Code = "unsettled-doubts" // a sign of a spoiled reading that nobody settled
)

// Codes of all reasons, in the order in which a home lists them.
var Codes = []Code{NotJudged, IntegrityFailed, FromNewer, SecondRecord, SaysLeave, SaysHold, SaysIncomplete, SaysRefer, CloseToLimit, ForecastOver, OtherwiseNow, NoLaterTest,
	ReopenedSince, SignedEarlier, Returned, StillOpen, RisesWithFans, NetFarOff, SameElsewhere, SameDigits, NoSpread, SlowClock, FastWalk, BaselineDrift, UnsettledDoubts, Calibration, FromMemory}

// Reason why a home wants attention; the words are made from Args.
type Reason struct {
	Code Code              `json:"code"`
	Args map[string]string `json:"args,omitempty"`
}

// SignState is how the last sign-off stands. The zero value is not signed.
type SignState string

// Append-only.
const (
	NotSigned    SignState = ""
	Accepted     SignState = "accepted"
	ReturnedBy   SignState = "returned"
	SignedBefore SignState = "earlier" // on a closing that is no longer in force
)

// Entry is what the index knows of one record. Key is the store's own number
// of it. Decision is what is made of it now, NoDecision where nothing can be;
// Paper is the decision that it was closed on.
type Entry struct {
	Key        int64                     `json:"key"`
	Record     string                    `json:"record"`
	Home       string                    `json:"home"`
	Label      string                    `json:"label,omitempty"`
	Phase      procedure.Phase           `json:"phase"`
	Day        int                       `json:"day"`  // day of the test, days since 1970-01-01; 0 not known
	When       time.Time                 `json:"when"` // first thing seen
	Crew       string                    `json:"crew"`
	Practice   bool                      `json:"practice,omitempty"`
	Scheme     procedure.Ref             `json:"scheme"`
	State      journal.Word              `json:"state"`
	Head       string                    `json:"head"`
	Close      string                    `json:"close,omitempty"`
	Decision   procedure.Decision        `json:"decision"`
	Paper      procedure.Decision        `json:"paper,omitempty"`
	Signed     SignState                 `json:"signed,omitempty"`
	SignedBy   string                    `json:"signed_by,omitempty"`
	SignNote   string                    `json:"sign_note,omitempty"`
	Signature  journal.SignatureState    `json:"signature,omitempty"`
	Appliances []procedure.ApplianceKind `json:"appliances,omitempty"`
	Print      string                    `json:"print,omitempty"` // of its readings, "" where there are too few to tell
	Reasons    []Reason                  `json:"reasons,omitempty"`
	Measures   Measures                  `json:"measures"`
	Urgency    int64                     `json:"urgency"` // smaller wants attention sooner
}

// Brief is an entry of which only what is asked of all of them was read.
type Brief struct {
	Key      int64
	Decision procedure.Decision
	body     []byte
}

// NewBrief of an entry as the index holds it, JSON.
func NewBrief(key int64, body []byte) (Brief, error) {
	b := Brief{Key: key, body: body}
	e := struct {
		Decision *procedure.Decision `json:"decision"`
	}{&b.Decision}
	err := json.Unmarshal(body, &e)
	return b, err
}

// Entry reads the rest.
func (b Brief) Entry() (Entry, error) {
	var e Entry
	err := json.Unmarshal(b.body, &e)
	e.Key = b.Key
	return e, err
}

// Record is what is kept of a record itself. Size and Head are those of its
// whole lines; Sum is the SHA-256 of Bytes. Path is where it was last read, ""
// where that is not known. Fault says what the file beside it failed in when
// it was read (an attachment, a signature), which the bytes alone cannot show.
type Record struct {
	Key   int64
	ID    string
	Home  string
	Bytes []byte
	Size  int64
	Head  string
	Sum   string
	State journal.Word
	Label string
	Path  string
	Added time.Time
	Fault string
}

// Item is a record with all that the index keeps of it. Snapshot is nil where
// it could not be replayed.
type Item struct {
	Record   Record
	Entry    Entry
	Snapshot *Snapshot
	// Grows is the key of the record that this must be the growth of; 0 is no
	// such wish. If it is not, [ErrChanged] is returned and nothing is kept.
	Grows int64
}

// Outcome of adding one item. Key is where it is kept; New that it was not.
type Outcome struct {
	Relation journal.Relation // "" for the first record of its id
	Key      int64
}

// Filter of entries; the zero value is everything that waits for a sign-off.
type Filter struct {
	Crew, Home, Label, Scheme string
	Reason                    Code
	Appliance                 procedure.ApplianceKind
	From, To                  int // days since 1970-01-01, both included; 0 is open
	Phase                     procedure.Phase
	Accepted                  bool // also what was accepted
	NoPractice                bool
}

// InForce is what homes are judged by in a register. The zero value is each
// record's own scheme as shipped.
type InForce struct {
	Scheme   string    `json:"scheme"`
	Overlays []Overlay `json:"overlays,omitempty"`
}

// Overlay is a table that changes rows of the scheme, with its bytes.
type Overlay struct {
	Name string `json:"name"`
	Data []byte `json:"data"`
}

// ErrNotFound: no record of that id or key.
var ErrNotFound = errors.New("register: no such record")

// ErrChanged: the record that was to grow is not the one that is kept.
var ErrChanged = errors.New("register: the record changed meanwhile")

// Store keeps records and their index. All methods are safe for several
// goroutines and several programs at once. Add and Reindex are done whole or
// not at all.
type Store interface {
	// Add keeps items, in order, under the rules of [Relate].
	Add(ctx context.Context, items []Item) ([]Outcome, error)
	// Page returns at most n entries after the one with the key after, 0 for
	// the first page, most urgent first.
	Page(ctx context.Context, f Filter, after int64, n int) ([]Entry, error)
	// Count returns how many entries the filter has.
	Count(ctx context.Context, f Filter) (int, error)
	// Find returns the entries of a record id, oldest key first.
	Find(ctx context.Context, id string) ([]Entry, error)
	// Known returns, by sum, what is kept of records with these sums: the
	// record without its bytes, and its entry.
	Known(ctx context.Context, sums []string) (map[string]Item, error)
	// Kept returns the record of a key.
	Kept(ctx context.Context, key int64) (Record, error)
	// Each calls do with all records after a key, in the order of keys, until
	// do fails.
	Each(ctx context.Context, after int64, do func(Record) error) error
	// Reindex replaces the index of items that are kept; their Record.Key says
	// which. Record.Sum must be the one kept, else it is [ErrChanged].
	Reindex(ctx context.Context, items []Item) error
	// Snapshots calls do with each entry of the filter and its snapshot, nil
	// where there is none, in the order of keys.
	Snapshots(ctx context.Context, f Filter, do func(Brief, *Snapshot) error) error
	// InForce returns what homes are judged by; PutInForce changes it for
	// what is indexed from then on.
	InForce(ctx context.Context) (InForce, error)
	PutInForce(ctx context.Context, f InForce) error
	Close() error
}
