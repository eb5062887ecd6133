package journal

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"slices"
	"strconv"
	"sync"

	"cazward/procedure"
)

// Line is where a line stands in the file, in bytes, and its hash. Len counts
// the LF.
type Line struct {
	Offset, Len int64
	Hash        string
}

// Record is a record as read. Lines[0] is the header and Lines[n] event n;
// Events[n-1] is event n.
//
// Torn is what follows the last LF. With TornSumGood it is a whole line that
// only lacks its LF: then its event is in Events, and Lines, Head and Size
// are those of the file with the LF added.
type Record struct {
	Header      procedure.Header
	Events      []procedure.Event
	Lines       []Line
	Head        string // hash of the last line
	Closed      bool   // closed and not reopened
	CloseHash   string // hash of the last close line, "" if there is none
	Torn        []byte
	TornSumGood bool

	rules rules
}

// Size is the length in bytes of the whole lines.
func (r Record) Size() int64 {
	if len(r.Lines) == 0 {
		return 0
	}
	last := r.Lines[len(r.Lines)-1]
	return last.Offset + last.Len
}

// Attachments returns the hashes of the attach events in order of first
// appearance: what a close must list.
func (r Record) Attachments() []string { return append([]string{}, r.rules.attached...) }

// Begin returns a record without events, and its header line. Format and V
// are filled in. The error is an [*Error].
func Begin(h procedure.Header) (Record, []byte, error) {
	h.Format, h.V = procedure.RecordFormat, procedure.RecordVersion
	line, err := EncodeHeader(h)
	if err != nil {
		return Record{}, nil, err
	}
	r := Record{Header: h, rules: newRules(h)}
	r.add(Line{0, int64(len(line)), Hash(line)})
	return r, line, nil
}

func (r *Record) add(l Line) {
	r.Lines = append(r.Lines, l)
	r.Head, r.Closed, r.CloseHash = l.Hash, r.rules.closed, r.rules.close
}

// Extend returns the record with the events added, and the lines to write for
// them; r itself stays as it is. N is assigned; where the caller set it, it
// must be the number assigned. The error is an [*Error] of CodeRefused, and
// then no event was taken.
func (r Record) Extend(events ...procedure.Event) (Record, []byte, error) {
	next := r
	next.rules = r.rules.clone()
	next.Events = slices.Clip(r.Events)
	next.Lines = slices.Clip(r.Lines)
	var out []byte
	for _, ev := range events {
		n := next.rules.next()
		if ev.N == 0 {
			ev.N = n
		}
		line, f := encodeChecked(next.Head, ev)
		if f == nil {
			f = next.rules.accept(ev, Hash(line))
		}
		if f != nil {
			return Record{}, nil, f.error(CodeRefused, n+1)
		}
		next.add(Line{next.Size(), int64(len(line)), Hash(line)})
		next.Events = append(next.Events, ev)
		out = append(out, line...)
	}
	return next, out, nil
}

// Parse reads a whole record. A torn tail is no error: see [Record]. The
// error is an [*Error], and then the record is the zero one.
func Parse(b []byte) (Record, error) { return (*Shared)(nil).Parse(b) }

// Shared are data that stood in records that were read, for who reads many: the
// homes of a program share a few plans, by far the longest lines, and much of
// what is listed and set is the same from home to home. The zero value is ready,
// and is for use by several goroutines at once.
type Shared struct {
	mu sync.RWMutex
	by map[string]procedure.Data // by the data as they are spelled, the kind before them
	n  int                       // bytes of their spelling
}

// mostShared is how many bytes of spelling are kept at most.
const mostShared = 1 << 20

// data reads data, and those that may stand in other records once.
func (s *Shared) data(kind procedure.Kind, data []byte) (procedure.Data, bool) {
	if s == nil || !common(kind, data) {
		return plainData(kind, data)
	}
	var space [256]byte
	key := append(append(space[:0], kind...), data...)
	s.mu.RLock()
	d, ok := s.by[string(key)]
	s.mu.RUnlock()
	if ok {
		return d, true
	}
	if d, ok = plainData(kind, data); !ok {
		return nil, false
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.n += len(key); s.by == nil || s.n > mostShared {
		s.by, s.n = map[string]procedure.Data{}, len(key)
	}
	s.by[string(key)] = d
	return d, true
}

// common reports whether data may well be the same in another record: what
// instruments showed is not.
func common(kind procedure.Kind, data []byte) bool {
	switch kind {
	case procedure.KindPlan, procedure.KindSetup:
		return true
	case procedure.KindAnswer:
		for _, part := range []string{`{"number"`, `{"roster"`, `{"burner"`, `{"vent_facts"`, `{"names"`, `{"instrument"`} {
			if bytes.HasPrefix(data, []byte(part)) {
				return true
			}
		}
	}
	return false
}

// Parse is [Parse], but that records share what is spelled alike in them:
// nobody may write to the data of a record that was read so.
func (s *Shared) Parse(b []byte) (Record, error) {
	r, err := NewReader(bytes.NewReader(b))
	if err != nil {
		return Record{}, err
	}
	r.shared = s
	rec := Record{Header: r.Header}
	rec.add(r.line)
	for {
		ev, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return Record{}, err
		}
		rec.Events = append(rec.Events, ev)
		rec.rules = r.rules
		rec.add(r.line)
	}
	rec.Torn, rec.TornSumGood = r.Torn()
	return rec, nil
}

// Reader reads a record line by line from an io.Reader.
type Reader struct {
	Header procedure.Header

	src    *bufio.Reader
	shared *Shared
	rules  rules
	line   Line // last line read
	lines  int
	sealed bool // the last line agrees with its own sum
	torn   []byte
	whole  bool // torn is a whole line
	err    error
}

// NewReader reads the header. The error is an [*Error], or the source's own.
func NewReader(src io.Reader) (*Reader, error) {
	r := &Reader{src: bufio.NewReaderSize(src, procedure.MaxLine)}
	raw, err := r.read()
	if err == io.EOF {
		if n := min(len(r.torn), len(headerStart)); string(r.torn[:n]) == headerStart[:n] {
			return nil, damaged(1, WhyNotBegun, "ends inside its first line")
		}
		return nil, notRecord()
	}
	var e *Error
	if errors.As(err, &e) {
		return nil, notRecord() // no first line of a record is that long
	}
	if err != nil {
		return nil, err
	}
	rest, ok := bytes.CutPrefix(raw, []byte(headerStart))
	if !ok {
		return nil, notRecord()
	}
	if !r.sealed {
		return nil, damaged(1, WhySum, "line differs from its sum")
	}
	num, _, _ := bytes.Cut(rest, []byte(","))
	if v, err := strconv.Atoi(string(num)); err == nil && v > procedure.RecordVersion {
		return nil, &Error{Code: CodeNewer, Why: WhyVersion, Line: 1, Text: "record version " + string(num) + "; this program reads version " + strconv.Itoa(procedure.RecordVersion)}
	}
	h, f := decodeHeader(raw)
	if f != nil {
		return nil, f.error(CodeDamaged, 1)
	}
	r.Header, r.rules = h, newRules(h)
	return r, nil
}

func notRecord() *Error {
	return &Error{Code: CodeNotRecord, Why: WhyFormat, Line: 1, Text: "not a record: the first line does not begin " + headerStart}
}

// read returns the next line with its LF and moves on to it. At the end it is
// io.EOF and the torn tail is set.
func (r *Reader) read() ([]byte, error) {
	raw, err := r.src.ReadSlice('\n')
	r.lines++
	switch {
	case err == bufio.ErrBufferFull:
		return nil, damaged(r.lines, WhyLength, "line is longer than %d bytes", procedure.MaxLine)
	case err == io.EOF:
		if len(raw) == 0 {
			return nil, io.EOF
		}
		r.torn = bytes.Clone(raw)
		raw = append(bytes.Clone(raw), '\n')
	case err != nil:
		return nil, err
	}
	hash, good := sealed(raw)
	if r.torn != nil {
		if r.whole = good; !good {
			return nil, io.EOF
		}
	}
	r.line, r.sealed = Line{r.line.Offset + r.line.Len, int64(len(raw)), hash}, good
	return raw, nil
}

// Next returns the next event, or io.EOF. Any other error ends the reading.
func (r *Reader) Next() (procedure.Event, error) {
	if r.err != nil {
		return procedure.Event{}, r.err
	}
	raw, kind, err := r.link()
	if err == nil && procedure.NewData(kind) == nil {
		err = &Error{Code: CodeNewer, Why: WhyNewKind, Line: r.lines, Text: "event of unknown kind " + strconv.Quote(string(kind))}
	}
	if err != nil {
		r.err = err
		return procedure.Event{}, err
	}
	ev, f := decodeEvent(raw, kind, r.shared)
	if f == nil {
		f = r.rules.accept(ev, r.line.Hash)
	}
	if f != nil {
		r.err = f.error(CodeDamaged, r.lines)
		return procedure.Event{}, r.err
	}
	return ev, nil
}

// link reads a line and checks what binds it to the one before.
func (r *Reader) link() ([]byte, procedure.Kind, error) {
	before := r.line.Hash
	raw, err := r.read()
	if err == io.EOF && r.lines == 2 {
		return nil, "", damaged(2, WhyNotBegun, "ends before its plan")
	}
	if err != nil {
		return nil, "", err
	}
	if !r.sealed {
		return nil, "", damaged(r.lines, WhySum, "line differs from its sum")
	}
	n, prev, kind, ok := opening(raw)
	switch {
	case !ok:
		return nil, "", damaged(r.lines, WhySpelling, "line does not begin as an event does")
	case n != r.lines-1:
		return nil, "", damaged(r.lines, WhyNumber, "event number %d where %d comes next", n, r.lines-1)
	case prev != before:
		return nil, "", damaged(r.lines, WhyPrev, "does not follow the line above it")
	}
	return raw, kind, nil
}

// Line returns place and hash of the last line read.
func (r *Reader) Line() Line { return r.line }

// Torn returns the bytes after the last LF, once Next has returned io.EOF,
// and whether they are a whole line without its LF, which Next has returned.
func (r *Reader) Torn() (tail []byte, sumGood bool) { return r.torn, r.whole }
