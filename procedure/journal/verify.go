package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"cazward/procedure"
)

// Word is what verifying found. The zero value is not verified.
type Word string

// Append-only.
const (
	Closed  Word = "closed"  // intact and closed
	Open    Word = "open"    // intact, never closed or reopened
	Torn    Word = "torn"    // intact up to a torn tail
	Damaged Word = "damaged" // not what a writer left
	Newer   Word = "newer"   // sums good, written by a newer version
)

// ExitCode of the word: closed 0, open 6, newer 7; torn, damaged and anything
// else 8.
func (w Word) ExitCode() int {
	switch w {
	case Closed:
		return 0
	case Open:
		return 6
	case Newer:
		return 7
	}
	return 8
}

// VerifyOptions say what a record is held against besides itself.
type VerifyOptions struct {
	// Expect is the hash that the head must have; "" is no expectation.
	Expect string
	// Attachment opens stored bytes by their hash. Without it every
	// attachment counts as absent.
	Attachment func(sha string) (io.ReadCloser, error)
	// CheckSignature returns nil if the signature of this name belongs to the
	// closing hash, and an error that is [ErrUnchecked] if it cannot tell.
	// Without it signatures are unchecked.
	CheckSignature func(closeHash, name, signature string) error
}

// ErrUnchecked says that a signature could not be checked here, for example
// because the signer's key is not known.
var ErrUnchecked = errors.New("signature not checked")

// SignatureState of a sign-off. The zero value is not signed.
type SignatureState string

// Append-only. A bad signature is damage, so it has no state.
const (
	Unsigned           SignatureState = ""
	SignatureGood      SignatureState = "good"
	SignatureUnchecked SignatureState = "unchecked"
)

// SignInfo is one sign-off.
type SignInfo struct {
	N         int
	Observed  time.Time
	Close     string
	Verdict   string
	Name      string
	Note      string
	Signature SignatureState
	// Earlier: it was given on a closing that is no longer in force.
	Earlier bool
}

// VerifyResult is what [Verify] found. Why and Text are empty for closed and
// open. After damage, Events and Signs tell of the lines before it.
type VerifyResult struct {
	Word      Word
	Line      int // where, 0 if nowhere in particular
	Why       Why
	Text      string // English
	Header    procedure.Header
	CloseHash string // closing in force; "" if there is none
	Head      string // hash of the last good line
	Events    int
	Signs     []SignInfo
}

// ExitCode of the result; see [Word.ExitCode].
func (v VerifyResult) ExitCode() int { return v.Word.ExitCode() }

// Worst returns the exit code of several results: 8 before 7 before 6 before
// 0. Of none it is 7, because nothing was verified.
func Worst(results ...VerifyResult) int {
	if len(results) == 0 {
		return 7
	}
	worst := 0
	for _, v := range results {
		worst = max(worst, v.ExitCode())
	}
	return worst
}

// Verify reads a record and says whether it is whole. It does not see
// sign-offs cut off at a line end, nor a file of which every hash was made
// again: an expected hash, a register or a signature shows those.
func Verify(record []byte, o VerifyOptions) VerifyResult {
	var v VerifyResult
	r, err := NewReader(bytes.NewReader(record))
	if err != nil {
		v.fail(err)
		return v
	}
	v.Header, v.Head = r.Header, r.line.Hash
	var checks []func() *Error // after the lines, so that the first damaged line is named first
	for {
		ev, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			v.fail(r.afterNewer(err))
			return v
		}
		v.Events, v.Head = ev.N, r.line.Hash
		switch d := ev.Data.(type) {
		case *procedure.Attach:
			checks = append(checks, func() *Error { return checkAttachment(o, d, ev.N+1) })
		case *procedure.Sign:
			v.Signs = append(v.Signs, SignInfo{N: ev.N, Observed: ev.Observed, Close: d.Close, Verdict: d.Verdict, Name: d.Name, Note: d.Note})
			i := len(v.Signs) - 1
			checks = append(checks, func() *Error { return v.Signs[i].check(o, d.Signature) })
		}
	}
	if r.rules.closed {
		v.CloseHash = r.rules.close
	}
	for i := range v.Signs {
		v.Signs[i].Earlier = v.Signs[i].Close != v.CloseHash
	}
	for _, check := range checks {
		if e := check(); e != nil {
			v.fail(e)
			return v
		}
	}
	if want := strings.ToLower(o.Expect); want != "" && want != v.Head {
		text := fmt.Sprintf("head is %s, not %s as expected", v.Head, want)
		if want == v.CloseHash {
			text += ", which is its closing: sign-offs were added since"
		}
		v.fail(damaged(0, WhyExpected, "%s", text))
		return v
	}
	torn, whole := r.Torn()
	switch {
	case whole:
		v.Word, v.Line, v.Why, v.Text = Torn, r.lines-1, WhyTorn, "last line is whole but has no line end: going on with the record adds it"
	case len(torn) > 0:
		v.Word, v.Line, v.Why, v.Text = Torn, r.lines, WhyTorn, fmt.Sprintf("%d bytes of an unfinished line: going on with the record moves them away", len(torn))
	case r.rules.closed:
		v.Word = Closed
	default:
		v.Word = Open
	}
	return v
}

func (v *VerifyResult) fail(err error) {
	e := &Error{Code: CodeDamaged, Text: err.Error()}
	errors.As(err, &e)
	v.Word, v.Line, v.Why, v.Text = Damaged, e.Line, e.Why, e.Text
	if e.Code == CodeNewer {
		v.Word = Newer
	}
}

// afterNewer follows the chain past a kind of a newer version: damage further
// down outranks it.
func (r *Reader) afterNewer(err error) error {
	var e *Error
	if !errors.As(err, &e) || e.Why != WhyNewKind {
		return err
	}
	for {
		if _, _, next := r.link(); next == io.EOF {
			return err
		} else if next != nil {
			return next
		}
	}
}

func checkAttachment(o VerifyOptions, a *procedure.Attach, line int) *Error {
	if o.Attachment == nil {
		return damaged(line, WhyAttachment, "attachment %s cannot be looked for here", a.SHA256)
	}
	rc, err := o.Attachment(a.SHA256)
	if err != nil {
		return damaged(line, WhyAttachment, "attachment %s is absent: %v", a.SHA256, err)
	}
	defer rc.Close()
	h := sha256.New()
	n, err := io.Copy(h, rc)
	if err != nil {
		return damaged(line, WhyAttachment, "attachment %s cannot be read: %v", a.SHA256, err)
	}
	if n != a.Bytes || hex.EncodeToString(h.Sum(nil)) != a.SHA256 {
		return damaged(line, WhyAttachment, "attachment %s was altered", a.SHA256)
	}
	return nil
}

func (s *SignInfo) check(o VerifyOptions, signature string) *Error {
	if signature == "" {
		return nil
	}
	s.Signature = SignatureUnchecked
	if o.CheckSignature == nil {
		return nil
	}
	err := o.CheckSignature(s.Close, s.Name, signature)
	switch {
	case err == nil:
		s.Signature = SignatureGood
	case !errors.Is(err, ErrUnchecked):
		return damaged(s.N+1, WhySignature, "signature of %s does not belong to closing %s: %v", s.Name, s.Close, err)
	}
	return nil
}

// Relation of a file to the record that a register keeps under the same id.
// The zero value is not known.
type Relation string

// Append-only.
const (
	RelationUnknown Relation = ""
	Same            Relation = "same"   // byte for byte
	Growth          Relation = "growth" // the kept record and more
	Older           Relation = "older"  // a beginning of the kept record
	Second          Relation = "second" // another record of that id: keep both
)

// Kept is what a register keeps of a record: length in bytes and head. Record
// is the kept file, which alone can tell an older copy from a second record;
// nil if it is not at hand.
type Kept struct {
	Bytes  int64
	Head   string
	Record []byte
}

// Compare tells how a candidate stands to what is kept. It follows the chain
// of the candidate up to the kept length, so that only a file whose lines all
// lead to the kept head is growth. A shorter candidate without kept.Record is
// unknown.
func Compare(kept Kept, candidate []byte) Relation {
	if int64(len(candidate)) < kept.Bytes {
		switch {
		case kept.Record == nil:
			return RelationUnknown
		case bytes.HasPrefix(kept.Record, candidate):
			return Older
		}
		return Second
	}
	r, err := NewReader(bytes.NewReader(candidate))
	if err != nil {
		return Second
	}
	for r.line.Offset+r.line.Len < kept.Bytes {
		if _, _, err := r.link(); err != nil {
			return Second
		}
	}
	switch {
	case r.line.Offset+r.line.Len != kept.Bytes || r.line.Hash != kept.Head || r.whole:
		return Second
	case int64(len(candidate)) == kept.Bytes:
		return Same
	}
	return Growth
}
