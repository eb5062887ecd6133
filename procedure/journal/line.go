package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"reflect"
	"strconv"
	"sync"
	"time"

	"cazward/procedure"
)

const (
	headerStart = `{"format":"` + procedure.RecordFormat + `","v":`
	sumStart    = `,"sum":"`
	hashLen     = 2 * sha256.Size
	sealLen     = len(sumStart) + hashLen + len("\"}\n")
)

// eventLine is an event as it stands in a line, in key order.
type eventLine struct {
	N        int              `json:"n"`
	Prev     string           `json:"prev"`
	Kind     procedure.Kind   `json:"kind"`
	Step     string           `json:"step"`
	Observed time.Time        `json:"observed"`
	Written  time.Time        `json:"written"`
	Who      string           `json:"who"`
	Src      procedure.Source `json:"src"`
	Data     procedure.Data   `json:"data"`
}

// Hash returns the lowercase hex SHA-256 of a line with its LF: what the next
// line calls prev, and what sign, reopen and prior call close.
func Hash(line []byte) string {
	h := sha256.Sum256(line)
	return hex.EncodeToString(h[:])
}

// IsHash reports whether s is a hash as [Hash] writes it.
func IsHash(s string) bool {
	if len(s) != hashLen {
		return false
	}
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}

// EncodeHeader returns the first line of a record with its LF. Empty Format
// and zero V are filled in. The error is an [*Error] of CodeRefused.
func EncodeHeader(h procedure.Header) ([]byte, error) {
	line, f := encodeHeader(h)
	if f != nil {
		return nil, f.error(CodeRefused, 1)
	}
	return line, nil
}

// EncodeEvent returns the line of an event with its LF. PrevLine is the whole
// line before it, with its LF; ev.N must be set. The line was read back and
// compared before it is returned. The error is an [*Error] of CodeRefused.
func EncodeEvent(prevLine []byte, ev procedure.Event) ([]byte, error) {
	line, f := encodeChecked(Hash(prevLine), ev)
	if f != nil {
		return nil, f.error(CodeRefused, ev.N+1)
	}
	return line, nil
}

func encodeHeader(h procedure.Header) ([]byte, *fault) {
	if h.Format == "" {
		h.Format = procedure.RecordFormat
	}
	if h.V == 0 {
		h.V = procedure.RecordVersion
	}
	switch {
	case h.Format != procedure.RecordFormat:
		return nil, faultf(WhyFormat, "format %q is not %q", h.Format, procedure.RecordFormat)
	case h.V != procedure.RecordVersion:
		return nil, faultf(WhyVersion, "version %d cannot be written, only %d", h.V, procedure.RecordVersion)
	case h.Record == "" || h.Home == "":
		return nil, faultf(WhyValue, "record and home need an id")
	case h.Phase != procedure.TestIn && h.Phase != procedure.Daily && h.Phase != procedure.TestOut:
		return nil, faultf(WhyValue, "unknown phase %q", h.Phase)
	case h.Created.IsZero():
		return nil, faultf(WhyValue, "created: no time")
	case h.Practice != nil && !IsHash(h.Practice.SHA256):
		return nil, faultf(WhyValue, "practice.sha256 %q is not a hash", h.Practice.SHA256)
	case h.Prior != nil && (h.Prior.Record == "" || !IsHash(h.Prior.Close)):
		return nil, faultf(WhyValue, "prior needs a record id and a closing hash")
	}
	return seal(h)
}

func encodeChecked(prev string, ev procedure.Event) ([]byte, *fault) {
	line, f := encodeEvent(prev, ev)
	if f != nil {
		return nil, f
	}
	if _, f := decodeEvent(line, ev.Kind, nil); f != nil {
		f.text += " (when read back)"
		return nil, f
	}
	return line, nil
}

// fit says why an event cannot be a line, nil where it can.
func fit(ev procedure.Event) *fault {
	payload := procedure.NewData(ev.Kind)
	switch {
	case ev.N < 1:
		return faultf(WhyNumber, "event number %d", ev.N)
	case payload == nil:
		return faultf(WhyNewKind, "unknown kind %q", ev.Kind)
	case ev.Data == nil || reflect.ValueOf(ev.Data).IsNil():
		return faultf(WhyValue, "%s without data", ev.Kind)
	case reflect.TypeOf(ev.Data) != reflect.TypeOf(payload):
		return faultf(WhyValue, "%s with data of %T", ev.Kind, ev.Data)
	case ev.Observed.IsZero() || ev.Written.IsZero():
		return faultf(WhyValue, "%s without the times at which it was observed and written", ev.Kind)
	}
	switch ev.Src {
	case procedure.FromWalk, procedure.FromSheet, procedure.FromLog, procedure.FromDrill:
	default:
		return faultf(WhyValue, "unknown source %q", ev.Src)
	}
	return nil
}

func encodeEvent(prev string, ev procedure.Event) ([]byte, *fault) {
	if f := fit(ev); f != nil {
		return nil, f
	}
	return seal(eventLine{ev.N, prev, ev.Kind, ev.Step, ev.Observed, ev.Written, ev.Who, ev.Src, ev.Data})
}

// seal writes one line and its sum.
func seal(v any) ([]byte, *fault) {
	clean, f := clean(reflect.ValueOf(v), false)
	if f != nil {
		return nil, f
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(clean.Interface()); err != nil {
		return nil, faultf(WhyValue, "cannot be written as JSON: %v", err)
	}
	b.Truncate(b.Len() - len("}\n"))
	sum := Hash(b.Bytes())
	b.WriteString(sumStart)
	b.WriteString(sum)
	b.WriteString("\"}\n")
	if b.Len() > procedure.MaxLine {
		return nil, faultf(WhyLength, "line of %d bytes; a line holds %d at most", b.Len(), procedure.MaxLine)
	}
	return b.Bytes(), nil
}

// sealed reports whether a whole line agrees with its own sum, and gives the
// hash of the line: the sum is that of its beginning, so both are one reading.
func sealed(line []byte) (hash string, ok bool) {
	n := len(line) - sealLen
	if n <= 0 {
		return Hash(line), false
	}
	h := sha256.New()
	h.Write(line[:n])
	var sum [sha256.Size]byte
	var text [hashLen]byte
	hex.Encode(text[:], h.Sum(sum[:0]))
	ok = bytes.HasPrefix(line[n:], []byte(sumStart)) && bytes.HasSuffix(line, []byte("\"}\n")) &&
		bytes.Equal(line[n+len(sumStart):n+len(sumStart)+hashLen], text[:])
	h.Write(line[n:])
	return hex.EncodeToString(h.Sum(sum[:0])), ok
}

// opening reads what every version-1 line begins with, without decoding it,
// so that a kind of a later program can be told from damage.
func opening(line []byte) (n int, prev string, kind procedure.Kind, ok bool) {
	rest, ok := bytes.CutPrefix(line, []byte(`{"n":`))
	if !ok {
		return
	}
	num, rest, ok := bytes.Cut(rest, []byte(`,"prev":"`))
	if !ok {
		return
	}
	n, err := strconv.Atoi(string(num))
	if err != nil {
		return n, "", "", false
	}
	p, rest, ok := bytes.Cut(rest, []byte(`","kind":"`))
	if !ok {
		return
	}
	k, _, ok := bytes.Cut(rest, []byte(`","step":"`))
	word := len(k) > 0 && len(bytes.Trim(k, "abcdefghijklmnopqrstuvwxyz-")) == 0
	return n, string(p), procedure.Kind(k), ok && word && n > 0
}

// decodeEvent reads a line whose sum is good and insists on its one spelling.
func decodeEvent(line []byte, kind procedure.Kind, shared *Shared) (procedure.Event, *fault) {
	if ev, ok := decodePlain(line, kind, shared); ok {
		return ev, nil
	}
	return decodeAny(line, kind)
}

// decodePlain reads a line that is spelled as most are: what stands around
// the data is taken as it is, and only the data are written again and
// compared. false: it is not one of these, and decodeAny says what it is.
func decodePlain(line []byte, kind procedure.Kind, shared *Shared) (ev procedure.Event, ok bool) {
	rest := line[:max(len(line)-sealLen, 0)]
	ok = true
	next := func(before string) []byte { // the text between before and a quote
		if ok = ok && bytes.HasPrefix(rest, []byte(before)); !ok {
			return nil
		}
		rest = rest[len(before):]
		i := bytes.IndexByte(rest, '"')
		if ok = i >= 0 && bytes.HasPrefix(rest[i:], []byte(`",`)); !ok {
			return nil
		}
		b := rest[:i]
		for _, c := range b {
			ok = ok && c >= ' ' && c < 0x7f && c != '\\'
		}
		rest = rest[i+len(`",`):]
		return b
	}
	number, rest, ok := bytes.Cut(rest, []byte(","))
	number, begins := bytes.CutPrefix(number, []byte(`{"n":`))
	ok = ok && begins
	next(`"prev":"`) // compared with the line above it
	ev.Kind = kind
	ok = ok && string(next(`"kind":"`)) == string(kind)
	ev.Step = string(next(`"step":"`))
	ok = ok && plainTime(&ev.Observed, next(`"observed":"`))
	ok = ok && plainTime(&ev.Written, next(`"written":"`))
	ev.Who = string(next(`"who":"`))
	ev.Src = procedure.Source(next(`"src":"`))
	data, has := bytes.CutPrefix(rest, []byte(`"data":`))
	if !ok || !has {
		return ev, false
	}
	var err error
	if ev.N, err = strconv.Atoi(string(number)); err != nil || strconv.Itoa(ev.N) != string(number) {
		return ev, false
	}
	if ev.Data = plainAnswer(kind, data); ev.Data == nil {
		if ev.Data, ok = shared.data(kind, data); !ok {
			return ev, false
		}
	}
	return ev, fit(ev) == nil
}

// plainAnswer reads the answers that most lines hold, one line of a checklist
// and one choice, of which nothing can be spelled in two ways; nil for others.
func plainAnswer(kind procedure.Kind, data []byte) procedure.Data {
	if kind != procedure.KindAnswer {
		return nil
	}
	switch string(data) {
	case `{"seen":{"state":"ok"}}`:
		return &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenOK}}
	case `{"seen":{"state":"wrong"}}`:
		return &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenWrong}}
	case `{"seen":{"state":"not-seen"}}`:
		return &procedure.Answer{Seen: &procedure.Seen{State: procedure.NotSeen}}
	}
	rest, is := bytes.CutPrefix(data, []byte(`{"choice":"`))
	word, whole := bytes.CutSuffix(rest, []byte(`"}`))
	if !is || !whole || len(word) == 0 {
		return nil
	}
	for _, c := range word {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return nil
		}
	}
	return &procedure.Answer{Choice: string(word)}
}

// plainData reads data and holds them to their one spelling.
func plainData(kind procedure.Kind, data []byte) (procedure.Data, bool) {
	d := procedure.NewData(kind)
	if d == nil || json.Unmarshal(data, d) != nil {
		return nil, false
	}
	v, f := clean(reflect.ValueOf(d), true)
	if f != nil {
		return nil, false
	}
	w := writers.Get().(*writer)
	defer writers.Put(w)
	w.b.Reset()
	if err := w.enc.Encode(v.Interface()); err != nil {
		return nil, false
	}
	return d, bytes.Equal(bytes.TrimSuffix(w.b.Bytes(), []byte("\n")), data)
}

// plainTime reads a time and holds it to the spelling that it is written in.
func plainTime(t *time.Time, text []byte) bool {
	if t.UnmarshalText(text) != nil || t.Nanosecond()%int(time.Millisecond) != 0 {
		return false
	}
	var again [64]byte
	b, err := t.AppendText(again[:0])
	return err == nil && bytes.Equal(b, text)
}

// writer writes JSON as records have it.
type writer struct {
	b   bytes.Buffer
	enc *json.Encoder
}

var writers = sync.Pool{New: func() any {
	w := &writer{}
	w.enc = json.NewEncoder(&w.b)
	w.enc.SetEscapeHTML(false)
	return w
}}

// decodeAny reads a line however it is spelled.
func decodeAny(line []byte, kind procedure.Kind) (procedure.Event, *fault) {
	v := struct {
		eventLine
		Sum string `json:"sum"`
	}{eventLine: eventLine{Data: procedure.NewData(kind)}}
	if f := strict(line, &v); f != nil {
		return procedure.Event{}, f
	}
	ev := procedure.Event{N: v.N, Kind: v.Kind, Step: v.Step, Observed: v.Observed, Written: v.Written, Who: v.Who, Src: v.Src, Data: v.Data}
	again, f := encodeEvent(v.Prev, ev)
	if f == nil {
		f = sameSpelling(line, again)
	}
	if f != nil {
		return procedure.Event{}, f
	}
	return ev, nil
}

func decodeHeader(line []byte) (procedure.Header, *fault) {
	var v struct {
		procedure.Header
		Sum string `json:"sum"`
	}
	if f := strict(line, &v); f != nil {
		return procedure.Header{}, f
	}
	again, f := encodeHeader(v.Header)
	if f == nil {
		f = sameSpelling(line, again)
	}
	if f != nil {
		return procedure.Header{}, f
	}
	return v.Header, nil
}

func strict(line []byte, v any) *fault {
	dec := json.NewDecoder(bytes.NewReader(line))
	dec.DisallowUnknownFields()
	if err := dec.Decode(v); err != nil {
		return faultf(WhySpelling, "not a line of a record: %v", err)
	}
	return nil
}

func sameSpelling(got, want []byte) *fault {
	if bytes.Equal(got, want) {
		return nil
	}
	i := 0
	for i < len(got) && i < len(want) && got[i] == want[i] {
		i++
	}
	return faultf(WhySpelling, "not the one spelling of this line, from byte %d on: %q; expected %q", i+1, excerpt(got, i), excerpt(want, i))
}

func excerpt(b []byte, i int) []byte { return b[i:min(len(b), i+24)] }
