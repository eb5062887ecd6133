package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"cazward/procedure"
)

var update = flag.Bool("update", false, "write the goldens anew; look at the difference")

var t0 = time.Date(2026, 11, 3, 10, 31, 0, 250e6, time.FixedZone("", -5*3600))

const photo = "not really a photo"

func testHeader() procedure.Header {
	return procedure.Header{Record: "cedar-14-in", Home: "cedar-14", Phase: procedure.TestIn, Created: t0}
}

// at fills in what every event has.
func at(step string, d procedure.Data) procedure.Event {
	return procedure.Event{Kind: d.EventKind(), Step: step, Observed: t0, Written: t0.Add(1500 * time.Millisecond), Who: "RK", Src: procedure.FromWalk, Data: d}
}

func num(v float64) *float64 { return &v }

func plan() procedure.Event {
	return at("", &procedure.Plan{Scheme: procedure.Ref{Name: "graded-2005", SHA256: Hash([]byte("x"))}})
}
func pressure(v float64) *procedure.Answer {
	return &procedure.Answer{Pressure: &procedure.Pressure{Value: num(v), Unit: "Pa", AveragingS: 30}}
}
func decided() procedure.Event {
	return at("", &procedure.Decided{Decision: procedure.Refer, Program: "cazward test", Rows: []procedure.RowUsed{{Row: "r", Unit: "Pa", Verdict: procedure.Pass}, {Row: "s"}}})
}

// small is a record with a correction, an attachment, a closing, a sign-off
// on it, and a second closing.
func small(t testing.TB) (Record, []byte) {
	t.Helper()
	rec, b, err := Begin(testHeader())
	if err != nil {
		t.Fatal(err)
	}
	add := func(evs ...procedure.Event) {
		t.Helper()
		next, lines, err := rec.Extend(evs...)
		if err != nil {
			t.Fatal(err)
		}
		rec, b = next, append(b, lines...)
	}
	sum := Hash([]byte(photo))
	add(plan())
	add(at("baseline/b", pressure(-1)), at("fans/b", &procedure.Setup{Fans: []string{"bad <fan> & \"hood\" \\ ü"}, CAZDoor: "open"}))
	add(at("baseline/b", &procedure.Correct{Replaces: 2, Reason: "typed wrong", Answer: pressure(-1.5)}))
	add(at("", &procedure.Attach{SHA256: sum, Bytes: int64(len(photo)), Type: "image/jpeg", Step: "look/b"}))
	add(decided(), at("", &procedure.Close{Decided: 6, Attachments: []string{sum}}))
	add(at("", &procedure.Sign{Close: rec.CloseHash, Verdict: "accept", Name: "T. Invented", Signature: "-----\nabc\n"}))
	add(at("", &procedure.Reopen{Close: rec.CloseHash, Reason: "one more look"}))
	add(at("note/b", &procedure.Note{Text: "line one\nline two"}))
	add(decided(), at("", &procedure.Close{Decided: 11, Attachments: rec.Attachments()}))
	return rec, b
}

var attachments = VerifyOptions{Attachment: func(sha string) (io.ReadCloser, error) {
	if sha != Hash([]byte(photo)) {
		return nil, os.ErrNotExist
	}
	return io.NopCloser(strings.NewReader(photo)), nil
}}

// body is a line without its sum; resealed makes a record of bodies, each
// with the hash of the line before and a good sum. It is written apart from
// the codec, after the definition of the format.
func body(line []byte) string { return string(line[:len(line)-len(`,"sum":"`)-64-len("\"}\n")]) }

func resealed(bodies ...string) []byte {
	var out []byte
	prev := ""
	for i, b := range bodies {
		if i > 0 {
			if j := strings.Index(b, `"prev":"`); j >= 0 && len(b) >= j+72 {
				b = b[:j+8] + prev + b[j+72:]
			}
		}
		line := fmt.Appendf(nil, "%s,\"sum\":\"%x\"}\n", b, sha256.Sum256([]byte(b)))
		prev = fmt.Sprintf("%x", sha256.Sum256(line))
		out = append(out, line...)
	}
	return out
}

func bodies(record []byte) []string {
	var out []string
	for line := range bytes.Lines(record) {
		out = append(out, body(line))
	}
	return out
}

func wantError(t *testing.T, err error, code Code, why Why, line int) {
	t.Helper()
	var e *Error
	if !errors.As(err, &e) {
		t.Fatalf("got %v, want a refusal %s/%s", err, code, why)
	}
	if e.Code != code || e.Why != why || e.Line != line {
		t.Fatalf("got %s/%s at line %d, want %s/%s at line %d: %v", e.Code, e.Why, e.Line, code, why, line, e)
	}
}

func TestGolden(t *testing.T) {
	rec, b := small(t)
	const path = "testdata/small.cazward"
	if *update {
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b, want) {
		t.Fatalf("got\n%s\nwant\n%s", b, want)
	}
	back, err := Parse(want)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(back.Lines, rec.Lines) || back.Head != rec.Head || back.CloseHash != rec.CloseHash || !back.Closed || back.Size() != int64(len(b)) {
		t.Fatalf("got %+v\nwant %+v", back, rec)
	}
	if !reflect.DeepEqual(back.rules, rec.rules) {
		t.Fatalf("got %+v\nwant %+v", back.rules, rec.rules)
	}
	if got := string(b[:rec.Lines[0].Len]); got != `{"format":"cazward-record","v":1,"record":"cedar-14-in","home":"cedar-14","phase":"test-in","created":"2026-11-03T10:31:00.25-05:00","practice":null,"prior":null,"sum":"`+Hash([]byte(body(b[:rec.Lines[0].Len])))+"\"}\n" {
		t.Errorf("header %s", got)
	}
	l := rec.Lines[2]
	if got := string(b[l.Offset : l.Offset+l.Len]); !strings.HasPrefix(got, `{"n":2,"prev":"`+rec.Lines[1].Hash+`","kind":"answer","step":"baseline/b","observed":"2026-11-03T10:31:00.25-05:00","written":"2026-11-03T10:31:01.75-05:00","who":"RK","src":"walk","data":{"pressure":{"value":-1,"unit":"Pa","averaging_s":30}},"sum":"`) {
		t.Errorf("event 2 %s", got)
	}
}

// TestCommonTools: prev and sum can be checked without this program.
func TestCommonTools(t *testing.T) {
	for _, tool := range []string{"sh", "sed", "sha256sum", "head"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip(err)
		}
	}
	rec, b := small(t)
	path := filepath.Join(t.TempDir(), "r")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	run := func(cmd string) string {
		out, err := exec.Command("sh", "-c", cmd, "sh", path).Output()
		if err != nil {
			t.Fatal(cmd, err)
		}
		hash, _, _ := strings.Cut(string(out), " ")
		return hash
	}
	lines := bytes.SplitAfter(b, []byte("\n"))
	for i := range rec.Lines {
		hash := run(fmt.Sprintf(`sed -n %dp "$1" | sha256sum`, i+1))
		if hash != rec.Lines[i].Hash || i+1 < len(rec.Lines) && !bytes.Contains(lines[i+1], []byte(`"prev":"`+hash+`"`)) {
			t.Errorf("line %d: sha256sum says %s, record %s", i+1, hash, rec.Lines[i].Hash)
		}
		sum := run(fmt.Sprintf(`sed -n %dp "$1" | head -c %d | sha256sum`, i+1, len(body(lines[i]))))
		if !bytes.Contains(lines[i], []byte(`,"sum":"`+sum+`"`)) {
			t.Errorf("line %d: sum by sha256sum is %s", i+1, sum)
		}
	}
}

// fill sets everything in v to something that is not zero.
func fill(v reflect.Value, depth int) {
	switch v.Kind() {
	case reflect.String:
		v.SetString("x")
		if v.Type() == reflect.TypeFor[procedure.Verdict]() {
			v.SetString(string(procedure.Fail))
		}
	case reflect.Int, reflect.Int64:
		v.SetInt(math.MaxInt32)
	case reflect.Float64:
		v.SetFloat(-0.1)
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Pointer:
		if depth > 0 {
			v.Set(reflect.New(v.Type().Elem()))
			fill(v.Elem(), depth-1)
		}
	case reflect.Slice:
		n := 0
		if depth > 0 {
			n = 2
		}
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		for i := range n {
			fill(v.Index(i), depth-1)
		}
	case reflect.Map:
		k, e := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fill(k, depth-1)
		fill(e, depth-1)
		v.Set(reflect.MakeMap(v.Type()))
		v.SetMapIndex(k, e)
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			v.Set(reflect.ValueOf(t0))
			return
		}
		for i := range v.NumField() {
			fill(v.Field(i), depth)
		}
	default:
		panic("payload with a " + v.Kind().String())
	}
}

var kinds = []procedure.Kind{procedure.KindPlan, procedure.KindAnswer, procedure.KindSetup, procedure.KindSkip, procedure.KindNote, procedure.KindHandover, procedure.KindTimer, procedure.KindHazard, procedure.KindAttach, procedure.KindLog, procedure.KindDoubt, procedure.KindTold, procedure.KindCorrect, procedure.KindHouse, procedure.KindDecided, procedure.KindClose, procedure.KindReopen, procedure.KindSign}

// TestPayloads: each payload, full and empty, comes back as it was and has
// one spelling.
func TestPayloads(t *testing.T) {
	for _, k := range kinds {
		for _, depth := range []int{-1, 2, 4} {
			d := procedure.NewData(k)
			if depth >= 0 {
				fill(reflect.ValueOf(d).Elem(), depth)
			}
			ev := at("s", d)
			ev.N = 3
			line, err := EncodeEvent([]byte("before\n"), ev)
			if err != nil {
				t.Fatalf("%s: %v", k, err)
			}
			back, f := decodeEvent(line, k, nil)
			if f != nil {
				t.Fatalf("%s: %v", k, f)
			}
			if depth >= 0 && fmt.Sprint(show(back.Data)) != fmt.Sprint(show(d)) {
				t.Errorf("%s: got %s\nwant %s", k, show(back.Data), show(d))
			}
			if depth < 0 && bytes.Contains(line, []byte("[null")) {
				t.Errorf("%s: %s", k, line)
			}
		}
	}
}

// show prints a payload with what its pointers lead to.
func show(d any) string {
	var b strings.Builder
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Pointer:
			if v.IsNil() {
				b.WriteString("nil ")
				return
			}
			walk(v.Elem())
		case reflect.Struct:
			if tm, ok := v.Interface().(time.Time); ok {
				fmt.Fprintf(&b, "%s ", tm.Format(time.RFC3339Nano))
				return
			}
			for i := range v.NumField() {
				fmt.Fprintf(&b, "%s:", v.Type().Field(i).Name)
				walk(v.Field(i))
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		default:
			fmt.Fprintf(&b, "%#v ", v.Interface())
		}
	}
	walk(reflect.ValueOf(d))
	return b.String()
}

// TestSpelling: a line with good sums in any other spelling is damage.
func TestSpelling(t *testing.T) {
	_, b := small(t)
	good := bodies(b)
	for _, c := range []struct {
		name, old, new string
		line           int
		why            Why
	}{
		{"unknown key", `"who":"RK"`, `"who":"RK","mood":1`, 3, WhySpelling},
		{"unknown key in data", `"unit":"Pa"`, `"unit":"Pa","colour":1`, 3, WhySpelling},
		{"key twice", `"who":"RK"`, `"who":"RK","who":"RK"`, 3, WhySpelling},
		{"kind twice", `,"step"`, `,"kind":"note","step"`, 3, WhySpelling},
		{"key twice in data", `"unit":"Pa"`, `"unit":"Pa","unit":"Pa"`, 3, WhySpelling},
		{"another order", `"who":"RK","src":"walk"`, `"src":"walk","who":"RK"`, 3, WhySpelling},
		{"another order in data", `"value":-1,"unit":"Pa"`, `"unit":"Pa","value":-1`, 3, WhySpelling},
		{"key missing", `"who":"RK",`, ``, 3, WhySpelling},
		{"another case", `"who"`, `"Who"`, 3, WhySpelling},
		{"blank", `"who":"RK"`, `"who": "RK"`, 3, WhySpelling},
		{"trailing blank", `{"n":2`, ` {"n":2`, 3, WhySpelling},
		{"number with a zero", `"value":-1,`, `"value":-1.0,`, 3, WhySpelling},
		{"number with an exponent", `"value":-1,`, `"value":-1e0,`, 3, WhySpelling},
		{"number as text", `"value":-1,`, `"value":"-1",`, 3, WhySpelling},
		{"n with a zero", `{"n":2,`, `{"n":02,`, 3, WhySpelling},
		{"n as a fraction", `{"n":2,`, `{"n":2.0,`, 3, WhySpelling},
		{"letter escaped", `"who":"RK"`, `"who":"R\u004b"`, 3, WhySpelling},
		{"slash escaped", `baseline/b`, `baseline\/b`, 3, WhySpelling},
		{"half a surrogate", `"who":"RK"`, `"who":"\ud800"`, 3, WhySpelling},
		{"invalid UTF-8", `"who":"RK"`, "\"who\":\"\xff\"", 3, WhySpelling},
		{"angle bracket escaped", `<fan>`, `\u003cfan>`, 4, WhySpelling},
		{"escape sequence", `"who":"RK"`, `"who":"\u001b"`, 3, WhyValue},
		{"C1 control", `"who":"RK"`, "\"who\":\"\u009b\"", 3, WhyValue},
		{"direction control", `"who":"RK"`, "\"who\":\"\u202e\"", 3, WhyValue},
		{"line feed outside data", `"who":"RK"`, `"who":"R\nK"`, 3, WhyValue},
		{"microseconds", `10:31:00.25-05:00`, `10:31:00.250001-05:00`, 3, WhyValue},
		{"time with a zero", `10:31:00.25-05:00`, `10:31:00.250-05:00`, 3, WhySpelling},
		{"offset of UTC", `10:31:00.25-05:00`, `10:31:00.25+00:00`, 3, WhySpelling},
		{"no time", `2026-11-03T10:31:00.25-05:00`, `0001-01-01T00:00:00Z`, 3, WhyValue},
		{"list null", `"doors_closed":[]`, `"doors_closed":null`, 4, WhySpelling},
		{"empty optional list", `"caz_door":"open"`, `"caz_door":"open","not_run":[]`, 4, WhySpelling},
		{"data null", `"data":{"pressure":{"value":-1,"unit":"Pa","averaging_s":30}}`, `"data":null`, 3, WhyValue},
		{"payload null", `{"pressure":{"value":-1,"unit":"Pa","averaging_s":30}}`, `{"pressure":null}`, 3, WhySpelling},
		{"text null", `"who":"RK"`, `"who":null`, 3, WhySpelling},
		{"unknown source", `"src":"walk"`, `"src":"radio"`, 3, WhyValue},
		{"unknown verdict", `"verdict":"pass"`, `"verdict":"fine"`, 7, WhySpelling},
		{"payload of another kind", `"kind":"answer"`, `"kind":"setup"`, 3, WhySpelling},
		{"unknown phase", `"phase":"test-in"`, `"phase":"later"`, 1, WhyValue},
		{"no home", `"home":"cedar-14"`, `"home":""`, 1, WhyValue},
		{"prior without hash", `"prior":null`, `"prior":{"record":"a","close":"b"}`, 1, WhyValue},
		{"prior missing", `,"prior":null`, ``, 1, WhySpelling},
		{"header key order", `"practice":null,"prior":null`, `"prior":null,"practice":null`, 1, WhySpelling},
		{"version zero", `"v":1`, `"v":0`, 1, WhySpelling},
		{"version with a zero", `"v":1`, `"v":01`, 1, WhySpelling},
		{"version as text", `"v":1`, `"v":"1"`, 1, WhySpelling},
	} {
		t.Run(c.name, func(t *testing.T) {
			lines := append([]string{}, good...)
			was := lines[c.line-1]
			if lines[c.line-1] = strings.Replace(was, c.old, c.new, 1); lines[c.line-1] == was {
				t.Fatalf("%q is not in %s", c.old, was)
			}
			rec, err := Parse(resealed(lines...))
			wantError(t, err, CodeDamaged, c.why, c.line)
			if !reflect.DeepEqual(rec, Record{}) {
				t.Error("a record beside the error")
			}
			if e := err.(*Error); e.ExitCode() != 8 || e.Hint() == "" {
				t.Errorf("exit %d, hint %q", e.ExitCode(), e.Hint())
			}
		})
	}
	if got := resealed(good...); !bytes.Equal(got, b) {
		t.Error("resealing a good record changes it")
	}
}

func TestEncodeRefuses(t *testing.T) {
	header := func(f func(*procedure.Header)) error {
		h := testHeader()
		f(&h)
		_, err := EncodeHeader(h)
		return err
	}
	event := func(f func(*procedure.Event)) error {
		ev := at("note/b", &procedure.Note{Text: "x"})
		ev.N = 2
		f(&ev)
		_, err := EncodeEvent([]byte("x\n"), ev)
		return err
	}
	note := func(s string) error {
		return event(func(ev *procedure.Event) { ev.Data = &procedure.Note{Text: s} })
	}
	answer := func(a *procedure.Answer) error {
		return event(func(ev *procedure.Event) { ev.Kind, ev.Data = procedure.KindAnswer, a })
	}
	for _, ok := range []error{header(func(*procedure.Header) {}), event(func(*procedure.Event) {}), note("tab\tline\n"), note("ü, 漢, e\u0301, \u200f, \ufffd, 🔥"), answer(pressure(-1))} {
		if ok != nil {
			t.Fatal(ok)
		}
	}
	var none *procedure.Note
	for i, c := range []struct {
		err  error
		why  Why
		line int
	}{
		{header(func(h *procedure.Header) { h.Format = "other" }), WhyFormat, 1},
		{header(func(h *procedure.Header) { h.V = 2 }), WhyVersion, 1},
		{header(func(h *procedure.Header) { h.Record = "" }), WhyValue, 1},
		{header(func(h *procedure.Header) { h.Phase = "" }), WhyValue, 1},
		{header(func(h *procedure.Header) { h.Created = time.Time{} }), WhyValue, 1},
		{header(func(h *procedure.Header) { h.Created = t0.Add(1) }), WhyValue, 1},
		{header(func(h *procedure.Header) { h.Home = "a\nb" }), WhyValue, 1},
		{header(func(h *procedure.Header) { h.Practice = &procedure.Practice{SHA256: "ABC"} }), WhyValue, 1},
		{header(func(h *procedure.Header) { h.Prior = &procedure.Prior{Record: "a"} }), WhyValue, 1},
		{event(func(ev *procedure.Event) { ev.N = 0 }), WhyNumber, 1},
		{event(func(ev *procedure.Event) { ev.Kind = "new" }), WhyNewKind, 3},
		{event(func(ev *procedure.Event) { ev.Kind = procedure.KindTold }), WhyValue, 3},
		{event(func(ev *procedure.Event) { ev.Data = nil }), WhyValue, 3},
		{event(func(ev *procedure.Event) { ev.Data = none }), WhyValue, 3},
		{event(func(ev *procedure.Event) { ev.Src = "" }), WhyValue, 3},
		{event(func(ev *procedure.Event) { ev.Observed = time.Time{} }), WhyValue, 3},
		{event(func(ev *procedure.Event) { ev.Written = t0.Add(time.Microsecond) }), WhyValue, 3},
		{event(func(ev *procedure.Event) { ev.Step = "a\x00" }), WhyValue, 3},
		{event(func(ev *procedure.Event) { ev.Kind, ev.Data = procedure.KindTimer, &procedure.Timer{Wall: t0.Add(1)} }), WhyValue, 3},
		{event(func(ev *procedure.Event) {
			ev.Kind, ev.Data = procedure.KindHouse, &procedure.House{State: map[string]string{"\x1b": ""}}
		}), WhyValue, 3},
		{event(func(ev *procedure.Event) {
			ev.Kind, ev.Data = procedure.KindDecided, &procedure.Decided{Rows: []procedure.RowUsed{{Verdict: "fine"}}}
		}), WhySpelling, 3},
		{note("\x00"), WhyValue, 3},
		{note("\r"), WhyValue, 3},
		{note("\x7f"), WhyValue, 3},
		{note("\u0085"), WhyValue, 3},
		{note("\u2028"), WhyValue, 3},
		{note("\u2066"), WhyValue, 3},
		{note("\xc3"), WhyValue, 3},
		{note("\xed\xa0\x80"), WhyValue, 3},
		{note(strings.Repeat("x", procedure.MaxLine)), WhyLength, 3},
		{answer(pressure(math.NaN())), WhyValue, 3},
		{answer(pressure(math.Inf(-1))), WhyValue, 3},
		{answer(&procedure.Answer{Gas: &procedure.Gas{CO: []float64{1, math.Inf(1)}}}), WhyValue, 3},
	} {
		t.Run(strconv.Itoa(i), func(t *testing.T) { wantError(t, c.err, CodeRefused, c.why, c.line) })
	}
	if err := note("\x00"); err.Error() != "record:3: data.text: control character U+0000 in text" {
		t.Error(err)
	}
	if err := answer(pressure(math.NaN())); err.Error() != "record:3: data.pressure.value: NaN is not a number that can be kept" {
		t.Error(err)
	}
	// The longest line that fits, to the byte.
	ev := at("", &procedure.Note{})
	ev.N = 1
	line, err := EncodeEvent(nil, ev)
	if err != nil {
		t.Fatal(err)
	}
	ev.Data = &procedure.Note{Text: strings.Repeat("x", procedure.MaxLine-len(line))}
	if line, err = EncodeEvent(nil, ev); err != nil || len(line) != procedure.MaxLine {
		t.Errorf("%d bytes, %v", len(line), err)
	}
}

// chain makes a record of events without asking the rules.
func chain(t *testing.T, h procedure.Header, evs ...procedure.Event) []byte {
	t.Helper()
	b, err := EncodeHeader(h)
	if err != nil {
		t.Fatal(err)
	}
	last := b
	for i, ev := range evs {
		ev.N = i + 1
		if last, err = EncodeEvent(last, ev); err != nil {
			t.Fatal(err)
		}
		b = append(b, last...)
	}
	return b
}

// TestRules: what may follow what, for the writer and for the parser alike.
func TestRules(t *testing.T) {
	practice := testHeader()
	practice.Practice = &procedure.Practice{House: "h", SHA256: Hash(nil)}
	sum, other := Hash([]byte(photo)), Hash([]byte("other"))
	attach := at("", &procedure.Attach{SHA256: sum, Bytes: 1})
	note := at("", &procedure.Note{Text: "x"})
	answer := at("a", &procedure.Answer{Text: "x"})
	baseline := at("b", pressure(-1))
	closing := func(n int, shas ...string) procedure.Event {
		return at("", &procedure.Close{Decided: n, Attachments: shas})
	}
	correct := func(n int, d procedure.Data) procedure.Event {
		c := &procedure.Correct{Replaces: n, Reason: "x"}
		switch d := d.(type) {
		case *procedure.Answer:
			c.Answer = d
		case *procedure.Setup:
			c.Setup = d
		case *procedure.Skip:
			c.Skip = d
		case *procedure.Hazard:
			c.Hazard = d
		case *procedure.Doubt:
			c.Doubt = d
		case *procedure.Told:
			c.Told = d
		case *procedure.Plan:
			c.Plan = d
		}
		return at("", c)
	}
	// hashOf is the close line of a record of these events, the last of them.
	hashOf := func(evs ...procedure.Event) string {
		b := chain(t, testHeader(), evs...)
		return Hash(b[bytes.LastIndexByte(b[:len(b)-1], '\n')+1:])
	}
	done := []procedure.Event{plan(), decided(), closing(2)}
	hash := hashOf(done...)
	sign := func(hash, verdict, name string) procedure.Event {
		return at("", &procedure.Sign{Close: hash, Verdict: verdict, Name: name})
	}
	reopen := func(hash string) procedure.Event { return at("", &procedure.Reopen{Close: hash, Reason: "x"}) }
	again := append(append([]procedure.Event{}, done...), reopen(hash), decided(), closing(5))
	hash2 := hashOf(again...)
	seq := func(a []procedure.Event, b ...procedure.Event) []procedure.Event {
		return append(append([]procedure.Event{}, a...), b...)
	}
	for _, c := range []struct {
		name string
		h    procedure.Header
		evs  []procedure.Event
		why  Why // of the last event; "" is allowed
	}{
		{"closed", testHeader(), done, ""},
		{"closed twice", testHeader(), again, ""},
		{"no plan first", testHeader(), []procedure.Event{note}, WhyOrder},
		{"plan twice", testHeader(), []procedure.Event{plan(), plan()}, WhyOrder},
		{"plan after a reopen", testHeader(), seq(done, reopen(hash), plan()), WhyOrder},
		{"sign-off", testHeader(), seq(done, sign(hash, "accept", "N")), ""},
		{"two sign-offs", testHeader(), seq(done, sign(hash, "accept", "N"), sign(hash, "return", "N")), ""},
		{"sign-off of the older close", testHeader(), seq(again, sign(hash, "accept", "N")), ""},
		{"sign-off of the newer close", testHeader(), seq(again, sign(hash2, "accept", "N")), ""},
		{"sign-off while reopened", testHeader(), seq(done, reopen(hash), sign(hash, "accept", "N")), ""},
		{"sign-off before a close", testHeader(), []procedure.Event{plan(), sign(hash, "accept", "N")}, WhyTarget},
		{"sign-off of no close", testHeader(), seq(done, sign(other, "accept", "N")), WhyTarget},
		{"sign-off without a name", testHeader(), seq(done, sign(hash, "accept", "")), WhyValue},
		{"sign-off that is neither", testHeader(), seq(done, sign(hash, "maybe", "N")), WhyValue},
		{"reopen", testHeader(), seq(done, sign(hash, "accept", "N"), reopen(hash), note), ""},
		{"reopen of the older close", testHeader(), seq(again, reopen(hash)), WhyTarget},
		{"reopen while open", testHeader(), seq(done, reopen(hash), reopen(hash)), WhyTarget},
		{"reopen before a close", testHeader(), []procedure.Event{plan(), reopen(hash)}, WhyTarget},
		{"close without a decision", testHeader(), []procedure.Event{plan(), closing(1)}, WhyTarget},
		{"close of another decision", testHeader(), []procedure.Event{plan(), decided(), decided(), closing(2)}, WhyTarget},
		{"close of an old decision", testHeader(), []procedure.Event{plan(), decided(), note, closing(2)}, WhyTarget},
		{"close on the decision before the reopen", testHeader(), seq(done, reopen(hash), closing(2)), WhyTarget},
		{"close lists", testHeader(), []procedure.Event{plan(), attach, attach, decided(), closing(4, sum)}, ""},
		{"close lists nothing", testHeader(), []procedure.Event{plan(), attach, decided(), closing(3)}, WhyAttachment},
		{"close lists another", testHeader(), []procedure.Event{plan(), attach, decided(), closing(3, other)}, WhyAttachment},
		{"close lists more", testHeader(), []procedure.Event{plan(), attach, decided(), closing(3, sum, other)}, WhyAttachment},
		{"close lists twice", testHeader(), []procedure.Event{plan(), attach, decided(), closing(3, sum, sum)}, WhyAttachment},
		{"attachment that is a path", testHeader(), []procedure.Event{plan(), at("", &procedure.Attach{SHA256: "../../etc/passwd"})}, WhyValue},
		{"attachment in capitals", testHeader(), []procedure.Event{plan(), at("", &procedure.Attach{SHA256: strings.ToUpper(sum)})}, WhyValue},
		{"house in a home", testHeader(), []procedure.Event{plan(), at("", &procedure.House{})}, WhyOrder},
		{"house in practice", practice, []procedure.Event{plan(), at("", &procedure.House{})}, ""},
		{"correct", testHeader(), []procedure.Event{plan(), answer, correct(2, answer.Data)}, ""},
		{"correct the correction", testHeader(), []procedure.Event{plan(), answer, correct(2, answer.Data), correct(3, answer.Data)}, ""},
		{"correct what was replaced", testHeader(), []procedure.Event{plan(), answer, correct(2, answer.Data), correct(2, answer.Data)}, WhyTarget},
		{"correct itself", testHeader(), []procedure.Event{plan(), correct(2, answer.Data)}, WhyTarget},
		{"correct the future", testHeader(), []procedure.Event{plan(), correct(3, answer.Data), answer}, WhyTarget},
		{"correct event 0", testHeader(), []procedure.Event{plan(), correct(0, answer.Data)}, WhyTarget},
		{"correct with nothing", testHeader(), []procedure.Event{plan(), answer, at("", &procedure.Correct{Replaces: 2})}, WhyValue},
		{"correct with two", testHeader(), []procedure.Event{plan(), answer, at("", &procedure.Correct{Replaces: 2, Answer: &procedure.Answer{}, Skip: &procedure.Skip{}})}, WhyValue},
		{"correct an answer with a set-up", testHeader(), []procedure.Event{plan(), answer, correct(2, &procedure.Setup{})}, WhyTarget},
		{"correct an answer with a skip", testHeader(), []procedure.Event{plan(), answer, correct(2, &procedure.Skip{}), correct(3, answer.Data)}, ""},
		{"correct a skipped set-up", testHeader(), []procedure.Event{plan(), at("", &procedure.Skip{}), correct(2, &procedure.Setup{}), correct(3, &procedure.Setup{})}, ""},
		{"correct a skip with a hazard", testHeader(), []procedure.Event{plan(), at("", &procedure.Skip{}), correct(2, &procedure.Hazard{})}, WhyTarget},
		{"correct a hazard", testHeader(), []procedure.Event{plan(), at("", &procedure.Hazard{}), correct(2, &procedure.Hazard{})}, ""},
		{"correct a doubt", testHeader(), []procedure.Event{plan(), at("", &procedure.Doubt{}), correct(2, &procedure.Doubt{})}, ""},
		{"correct who was told", testHeader(), []procedure.Event{plan(), at("", &procedure.Told{}), correct(2, &procedure.Told{})}, ""},
		{"correct a note", testHeader(), []procedure.Event{plan(), note, correct(2, answer.Data)}, WhyTarget},
		{"correct a decision", testHeader(), []procedure.Event{plan(), decided(), correct(2, answer.Data)}, WhyTarget},
		{"correct the plan", testHeader(), []procedure.Event{plan(), answer, correct(1, plan().Data), correct(3, plan().Data)}, ""},
		{"correct the plan after a reading", testHeader(), []procedure.Event{plan(), baseline, correct(1, plan().Data)}, WhyOrder},
		{"correct the plan after a reading in a correction", testHeader(), []procedure.Event{plan(), answer, correct(2, baseline.Data), correct(1, plan().Data)}, WhyOrder},
		{"correct the plan after a log", testHeader(), []procedure.Event{plan(), at("", &procedure.Log{From: t0, To: t0}), correct(1, plan().Data)}, WhyOrder},
	} {
		t.Run(c.name, func(t *testing.T) {
			raw := chain(t, c.h, c.evs...)
			rec, _, err := Begin(c.h)
			if err != nil {
				t.Fatal(err)
			}
			bad := len(c.evs)
			if c.name == "correct the future" {
				bad--
			}
			before, lines, err := rec.Extend(c.evs[:bad-1]...)
			if err != nil {
				t.Fatal(err)
			}
			_, more, err := before.Extend(c.evs[bad-1:]...)
			got, perr := Parse(raw)
			if c.why == "" {
				if err != nil || perr != nil {
					t.Fatal(err, perr)
				}
				if !bytes.HasSuffix(raw, append(lines, more...)) || len(got.Events) != len(c.evs) {
					t.Error("writer and parser differ")
				}
				return
			}
			wantError(t, err, CodeRefused, c.why, bad+1)
			wantError(t, perr, CodeDamaged, c.why, bad+1)
		})
	}
	for _, k := range kinds {
		ev := at("", procedure.NewData(k))
		if k == procedure.KindSign || k == procedure.KindReopen {
			continue
		}
		_, err := Parse(chain(t, testHeader(), seq(done, ev)...))
		wantError(t, err, CodeDamaged, WhyOrder, 5)
	}
}

// TestExtend: an append that is refused leaves the record as it was, and two
// that follow the same record do not disturb each other.
func TestExtend(t *testing.T) {
	rec, _, err := Begin(testHeader())
	if err != nil {
		t.Fatal(err)
	}
	rec, _, err = rec.Extend(plan())
	if err != nil {
		t.Fatal(err)
	}
	a, la, err := rec.Extend(at("", &procedure.Note{Text: "a"}), at("", &procedure.Note{Text: "a2"}))
	if err != nil {
		t.Fatal(err)
	}
	b, lb, err := rec.Extend(at("", &procedure.Note{Text: "b"}))
	if err != nil {
		t.Fatal(err)
	}
	if len(rec.Events) != 1 || len(a.Events) != 3 || len(b.Events) != 2 || a.Events[1].Data.(*procedure.Note).Text != "a" || bytes.HasPrefix(la, lb) || a.Events[2].N != 3 {
		t.Error(rec, a, b)
	}
	bad := at("", &procedure.Note{Text: "x"})
	bad.N = 4
	_, _, err = rec.Extend(at("", &procedure.Note{}), bad)
	wantError(t, err, CodeRefused, WhyNumber, 4)
	if rec.rules.next() != 2 {
		t.Error(rec.rules)
	}
	bad.N = 2
	if _, _, err := rec.Extend(bad); err != nil {
		t.Error(err)
	}
}

func TestDamage(t *testing.T) {
	_, b := small(t)
	lines := bytes.SplitAfter(b, []byte("\n"))
	join := func(l ...[]byte) []byte { return bytes.Join(l, nil) }
	_, other := small(t)
	other = bytes.Replace(other, []byte("cedar-14-in"), []byte("cedar-99-in"), 1)
	for _, c := range []struct {
		name string
		b    []byte
		code Code
		why  Why
		line int
	}{
		{"nothing", nil, CodeDamaged, WhyNotBegun, 1},
		{"no record", []byte("a: 1\n"), CodeNotRecord, WhyFormat, 1},
		{"no record, no line", []byte("a: 1"), CodeNotRecord, WhyFormat, 1},
		{"no record, one long line", bytes.Repeat([]byte("x"), 1<<20), CodeNotRecord, WhyFormat, 1},
		{"part of a header", b[:40], CodeDamaged, WhyNotBegun, 1},
		{"part of a header's start", b[:5], CodeDamaged, WhyNotBegun, 1},
		{"header alone", lines[0], CodeDamaged, WhyNotBegun, 2},
		{"header without line end", lines[0][:len(lines[0])-1], CodeDamaged, WhyNotBegun, 2},
		{"part of a plan", join(lines[0], lines[1][:100]), CodeDamaged, WhyNotBegun, 2},
		{"line missing", join(lines[0], lines[1], lines[3]), CodeDamaged, WhyNumber, 3},
		{"line twice", join(lines[0], lines[1], lines[2], lines[2]), CodeDamaged, WhyNumber, 4},
		{"lines swapped", join(lines[0], lines[1], lines[3], lines[2]), CodeDamaged, WhyNumber, 3},
		{"empty line", join(lines[0], lines[1], []byte("\n"), lines[2]), CodeDamaged, WhySum, 3},
		{"carriage returns", bytes.ReplaceAll(b, []byte("\n"), []byte("\r\n")), CodeDamaged, WhySum, 1},
		{"byte order mark", append([]byte("\ufeff"), b...), CodeNotRecord, WhyFormat, 1},
		{"header altered", other, CodeDamaged, WhySum, 1},
		{"another header", join(resealed(bodies(other)[0]), bytes.Join(lines[1:], nil)), CodeDamaged, WhyPrev, 2},
		{"line of another record", join(lines[0], lines[1], resealed(bodies(other)...)[len(lines[0])+len(lines[1]):]), CodeDamaged, WhyPrev, 3},
		{"very long line", join(lines[0], lines[1], bytes.Repeat([]byte("x"), procedure.MaxLine), []byte("\n")), CodeDamaged, WhyLength, 3},
		{"very long tail", join(lines[0], lines[1], bytes.Repeat([]byte{0}, procedure.MaxLine+1)), CodeDamaged, WhyLength, 3},
		{"newer version", resealed(strings.Replace(bodies(b)[0], `"v":1`, `"v":2`, 1)), CodeNewer, WhyVersion, 1},
		{"newer version with another shape", resealed(`{"format":"cazward-record","v":12,"new":{"x":[1]}`, `{"whatever":1`), CodeNewer, WhyVersion, 1},
		{"newer version, bad sum", []byte(strings.Replace(string(b), `"v":1`, `"v":2`, 1)), CodeDamaged, WhySum, 1},
		{"unknown kind", resealed(bodies(b)[0], bodies(b)[1], strings.Replace(bodies(b)[2], `"kind":"answer"`, `"kind":"thermal-image"`, 1)), CodeNewer, WhyNewKind, 3},
		{"unknown kind, bad n", resealed(bodies(b)[0], bodies(b)[1], strings.Replace(bodies(b)[3], `"kind":"setup"`, `"kind":"thermal-image"`, 1)), CodeDamaged, WhyNumber, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			rec, err := Parse(c.b)
			wantError(t, err, c.code, c.why, c.line)
			if !reflect.DeepEqual(rec, Record{}) {
				t.Error("a record beside the error")
			}
			v := Verify(c.b, attachments)
			want := Damaged
			if c.code == CodeNewer {
				want = Newer
			}
			if v.Word != want || v.Why != c.why || v.Line != c.line || v.Text == "" {
				t.Errorf("verify: %+v", v)
			}
			if code := map[Code]int{CodeNewer: 7, CodeNotRecord: 7, CodeDamaged: 8}[c.code]; err.(*Error).ExitCode() != code {
				t.Errorf("exit %d", err.(*Error).ExitCode())
			}
		})
	}
}

// TestNewerThenDamage: what this version cannot read hides no damage below.
func TestNewerThenDamage(t *testing.T) {
	_, b := small(t)
	bs := bodies(b)
	bs[4] = strings.Replace(bs[4], `"kind":"correct"`, `"kind":"thermal-image"`, 1)
	rec := resealed(bs...)
	if v := Verify(rec, attachments); v.Word != Newer || v.Line != 5 || v.ExitCode() != 7 || v.Events != 3 {
		t.Fatalf("%+v", v)
	}
	rec[len(rec)-10] ^= 1
	if v := Verify(rec, attachments); v.Word != Damaged || v.Line != len(bs) || v.Why != WhySum {
		t.Errorf("%+v", v)
	}
}

// TestBitFlips: no single flipped bit goes unnoticed.
func TestBitFlips(t *testing.T) {
	tried := 0
	rec, closed := small(t)
	open := closed[:rec.Lines[11].Offset+rec.Lines[11].Len]
	for _, b := range [][]byte{closed, open} {
		if w := Verify(b, attachments).Word; w != Closed && w != Open {
			t.Fatal(w)
		}
		flipped := bytes.Clone(b)
		start := 0
		if len(b) == len(open) {
			start = int(rec.Lines[11].Offset) // the lines before are those of the closed one
		}
		for i := start; i < len(b); i++ {
			for bit := range 8 {
				tried++
				flipped[i] ^= 1 << bit
				v := Verify(flipped, attachments)
				if v.Word != Damaged && !(v.Word == Torn && i == len(b)-1) {
					t.Fatalf("byte %d bit %d: %+v", i, bit, v)
				}
				if bit == i%8 {
					if r, err := Parse(flipped); err == nil && (len(r.Torn) == 0 || r.TornSumGood) {
						t.Fatalf("byte %d bit %d: parsed", i, bit)
					}
				}
				flipped[i] ^= 1 << bit
			}
		}
	}
	t.Logf("fault: each single bit of a record flipped, not noticed | %d | 0", tried)
}

// TestCuts: a record cut at each byte is what it is: torn, open or damaged.
func TestCuts(t *testing.T) {
	rec, b := small(t)
	ends := map[int]int{} // length after line i, with and without its LF
	for i, l := range rec.Lines {
		ends[int(l.Offset+l.Len)] = i
	}
	closedAfter := map[int]bool{7: true, 8: true, 12: true}
	for n := 0; n <= len(b); n++ {
		v := Verify(b[:n], attachments)
		whole, atEnd := ends[n]
		lacksLF, beforeEnd := ends[n+1]
		var want Word
		events, torn := 0, false
		switch {
		case n < int(rec.Lines[1].Offset+rec.Lines[1].Len)-1:
			want = Damaged
		case atEnd && closedAfter[whole]:
			want, events = Closed, whole
		case atEnd:
			want, events = Open, whole
		case beforeEnd:
			want, events, torn = Torn, lacksLF, true
		default:
			want, torn = Torn, true
			for _, i := range ends {
				if int(rec.Lines[i].Offset+rec.Lines[i].Len) <= n {
					events = max(events, i)
				}
			}
		}
		if v.Word != want || v.Events != events {
			t.Fatalf("cut at %d: %+v, want %s with %d events", n, v, want, events)
		}
		r, err := Parse(b[:n])
		if (err != nil) != (want == Damaged) {
			t.Fatalf("cut at %d: %v", n, err)
		}
		if err == nil && (len(r.Events) != events || (len(r.Torn) > 0) != torn || r.TornSumGood != beforeEnd || r.Head != rec.Lines[events].Hash || r.Size() != rec.Lines[events].Offset+rec.Lines[events].Len) {
			t.Fatalf("cut at %d: %d events, torn %q %v", n, len(r.Events), r.Torn, r.TornSumGood)
		}
		if torn && v.Line != events+2 && !(beforeEnd && v.Line == events+1) {
			t.Fatalf("cut at %d: torn at line %d of %d events", n, v.Line, events)
		}
	}
	t.Logf("fault: a record cut at each byte, not noticed | %d | 0", len(b)+1)
}

func TestVerify(t *testing.T) {
	rec, b := small(t)
	v := Verify(b, attachments)
	if v.Word != Closed || v.ExitCode() != 0 || v.CloseHash != rec.Head || v.Head != rec.Head || v.Events != 12 || v.Text != "" || v.Header.Record != "cedar-14-in" {
		t.Fatalf("%+v", v)
	}
	if len(v.Signs) != 1 || !v.Signs[0].Earlier || v.Signs[0].Signature != SignatureUnchecked || v.Signs[0].Close != rec.Lines[7].Hash || v.Signs[0].N != 8 {
		t.Errorf("%+v", v.Signs)
	}
	first := b[:rec.Lines[8].Offset+rec.Lines[8].Len] // closed and signed
	if v := Verify(first, attachments); v.Word != Closed || len(v.Signs) != 1 || v.Signs[0].Earlier || v.CloseHash != rec.Lines[7].Hash || v.Head != rec.Lines[8].Hash {
		t.Errorf("%+v", v)
	}
	reopened := b[:rec.Lines[9].Offset+rec.Lines[9].Len]
	if v := Verify(reopened, attachments); v.Word != Open || !v.Signs[0].Earlier || v.CloseHash != "" {
		t.Errorf("%+v", v)
	}

	sig := func(err error) VerifyOptions {
		o := attachments
		o.CheckSignature = func(hash, name, signature string) error {
			if hash != rec.Lines[7].Hash || name != "T. Invented" || signature != "-----\nabc\n" {
				t.Errorf("asked about %s %s %q", hash, name, signature)
			}
			return err
		}
		return o
	}
	if v := Verify(b, sig(nil)); v.Word != Closed || v.Signs[0].Signature != SignatureGood {
		t.Errorf("%+v", v)
	}
	if v := Verify(b, sig(fmt.Errorf("no key: %w", ErrUnchecked))); v.Word != Closed || v.Signs[0].Signature != SignatureUnchecked {
		t.Errorf("%+v", v)
	}
	if v := Verify(b, sig(errors.New("bad"))); v.Word != Damaged || v.Why != WhySignature || v.Line != 9 {
		t.Errorf("%+v", v)
	}

	files := func(s string, err error) VerifyOptions {
		return VerifyOptions{Attachment: func(string) (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(s)), err }}
	}
	for _, o := range []VerifyOptions{{}, files("", os.ErrNotExist), files(photo+"x", nil), files(strings.ToUpper(photo), nil), files("", nil)} {
		if v := Verify(b, o); v.Word != Damaged || v.Why != WhyAttachment || v.Line != 6 || v.ExitCode() != 8 {
			t.Errorf("%+v", v)
		}
	}

	wrong := chain(t, testHeader(), plan(), at("", &procedure.Attach{SHA256: Hash([]byte(photo)), Bytes: 1}))
	if v := Verify(wrong, attachments); v.Word != Damaged || v.Why != WhyAttachment || v.Line != 3 {
		t.Errorf("%+v", v)
	}

	expect := func(b []byte, h string) VerifyResult {
		o := attachments
		o.Expect = h
		return Verify(b, o)
	}
	if v := expect(b, strings.ToUpper(rec.Head)); v.Word != Closed {
		t.Errorf("%+v", v)
	}
	if v := expect(first, rec.Lines[7].Hash); v.Word != Damaged || v.Why != WhyExpected || !strings.Contains(v.Text, "sign-offs") {
		t.Errorf("%+v", v)
	}
	// A sign-off cut off at a line end, and a file cut inside a line.
	if v := expect(b[:rec.Lines[8].Offset], rec.Lines[8].Hash); v.Word != Damaged {
		t.Errorf("%+v", v)
	}
	if v := expect(b[:len(b)-10], rec.Head); v.Word != Damaged {
		t.Errorf("%+v", v)
	}
}

func TestWorst(t *testing.T) {
	r := func(w Word) VerifyResult { return VerifyResult{Word: w} }
	for _, c := range []struct {
		in   []VerifyResult
		want int
	}{
		{nil, 7},
		{[]VerifyResult{r(Closed), r(Closed)}, 0},
		{[]VerifyResult{r(Closed), r(Open)}, 6},
		{[]VerifyResult{r(Newer), r(Open), r(Closed)}, 7},
		{[]VerifyResult{r(Open), r(Torn), r(Newer)}, 8},
		{[]VerifyResult{r(Damaged), r(Closed)}, 8},
		{[]VerifyResult{r(Closed), {}}, 8},
	} {
		if got := Worst(c.in...); got != c.want {
			t.Errorf("%v: %d, want %d", c.in, got, c.want)
		}
	}
}

func TestCompare(t *testing.T) {
	rec, b := small(t)
	end := func(i int) int64 { return rec.Lines[i].Offset + rec.Lines[i].Len }
	kept := func(i int) Kept { return Kept{end(i), rec.Lines[i].Hash, b[:end(i)]} }
	// A second record that agrees up to event 3 and then goes another way.
	r, err := Parse(b[:end(3)])
	if err != nil {
		t.Fatal(err)
	}
	_, more, err := r.Extend(at("", &procedure.Note{Text: "another way, another length"}), at("", &procedure.Note{}))
	if err != nil {
		t.Fatal(err)
	}
	fork := append(bytes.Clone(b[:end(3)]), more...)
	// The last kept line is untouched, an earlier one is not.
	altered := bytes.Clone(b)
	altered[end(2)-5] ^= 1
	without := kept(8)
	without.Record = nil
	for _, c := range []struct {
		name string
		kept Kept
		b    []byte
		want Relation
	}{
		{"same", kept(8), b[:end(8)], Same},
		{"growth", kept(8), b, Growth},
		{"growth with a torn tail", kept(8), b[:end(9)-3], Growth},
		{"older", kept(8), b[:end(4)], Older},
		{"older, torn", kept(8), b[:end(8)-7], Older},
		{"older, line end missing", kept(8), b[:end(8)-1], Older},
		{"shorter, kept bytes not at hand", without, b[:end(4)], RelationUnknown},
		{"shorter and other", kept(8), fork[:end(3)+120], Second},
		{"fork", kept(4), append(fork, fork...), Second},
		{"longer, other head", Kept{end(8), Hash(nil), nil}, b, Second},
		{"longer, no line end there", Kept{end(8) - 1, rec.Lines[8].Hash, nil}, b, Second},
		{"altered below the head", kept(8), altered, Second},
		{"not a record", Kept{2, Hash(nil), nil}, []byte("abc\n"), Second},
		{"nothing kept", Kept{}, b, Second},
	} {
		if got := Compare(c.kept, c.b); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestReader: a source that fails is not the end of a record.
func TestReader(t *testing.T) {
	rec, b := small(t)
	r, err := NewReader(io.MultiReader(bytes.NewReader(b[:rec.Lines[3].Offset+9]), failing{}))
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n <= 2; n++ {
		ev, err := r.Next()
		if err != nil || ev.N != n || r.Line() != rec.Lines[n] {
			t.Fatal(ev, err, r.Line())
		}
	}
	for range 2 {
		if _, err := r.Next(); !errors.Is(err, os.ErrDeadlineExceeded) {
			t.Error(err)
		}
	}
	if _, err := NewReader(failing{}); !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Error(err)
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, os.ErrDeadlineExceeded }

// FuzzParse: what parses encodes to the same bytes, is the same where data are
// shared between records, and nothing panics. With seal, the input is taken as bodies of lines that get good sums and hashes,
// so that the fuzzer comes past them.
func FuzzParse(f *testing.F) {
	_, b := small(f)
	f.Add(b, false)
	f.Add(b[:len(b)-1], false)
	f.Add(b[:len(b)-40], false)
	f.Add([]byte(strings.Join(bodies(b), "\n")), true)
	for i := 1; i < len(bodies(b)); i++ {
		f.Add([]byte(strings.Join(bodies(b)[:i+1], "\n")), true)
	}
	f.Add([]byte(`{"format":"cazward-record","v":2`), true)
	var shared Shared
	f.Fuzz(func(t *testing.T, in []byte, seal bool) {
		if seal {
			in = resealed(strings.Split(string(in), "\n")...)
		}
		rec, err := Parse(in)
		for range 2 { // the second time all is known
			same, err2 := shared.Parse(in)
			if (err == nil) != (err2 == nil) || err != nil && err.Error() != err2.Error() || !reflect.DeepEqual(rec, same) {
				t.Fatalf("shared: %+v, %v\nalone: %+v, %v", same, err2, rec, err)
			}
		}
		v := Verify(in, VerifyOptions{Attachment: attachments.Attachment})
		if err != nil {
			var e *Error
			if !errors.As(err, &e) || e.Text == "" || v.Word != Damaged && v.Word != Newer {
				t.Fatal(err, v)
			}
			return
		}
		if v.Why != WhyAttachment && (v.Word == "" || v.Word == Newer || v.Word == Damaged) {
			t.Fatalf("parsed, but %+v", v)
		}
		next, out, err := Begin(rec.Header)
		if err != nil {
			t.Fatal(err)
		}
		next, lines, err := next.Extend(rec.Events...)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, lines...)
		want := in[:len(in)-len(rec.Torn)]
		if rec.TornSumGood {
			want = append(bytes.Clone(in), '\n')
		}
		if !bytes.Equal(out, want) || next.Head != rec.Head || next.Size() != rec.Size() {
			t.Fatalf("got\n%s\nwant\n%s", out, want)
		}
	})
}

// large is an open record of n events.
func large(tb testing.TB, n int) []byte {
	tb.Helper()
	rec, b, err := Begin(testHeader())
	if err != nil {
		tb.Fatal(err)
	}
	evs := []procedure.Event{plan()}
	for i := 1; i < n; i++ {
		switch i % 4 {
		case 0:
			evs = append(evs, at("fans/basement-1", &procedure.Setup{Fans: []string{"bath-fan-1", "range-hood-1"}, Doors: []string{"bedroom-1"}, CAZDoor: "open"}))
		case 1:
			evs = append(evs, at("reading/basement-1", &procedure.Answer{Pressure: &procedure.Pressure{Samples: []float64{-1.1, -1.3, -1.2, -1, -1.1}, Unit: "Pa", Setup: 3}}))
		default:
			evs = append(evs, at("look/"+strconv.Itoa(i), &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenOK}}))
		}
	}
	_, lines, err := rec.Extend(evs...)
	if err != nil {
		tb.Fatal(err)
	}
	return append(b, lines...)
}

func BenchmarkVerify50k(b *testing.B) {
	rec := large(b, 50000)
	b.SetBytes(int64(len(rec)))
	b.ReportAllocs()
	for b.Loop() {
		if v := Verify(rec, VerifyOptions{}); v.Word != Open || v.Events != 50000 {
			b.Fatalf("%+v", v)
		}
	}
}

func BenchmarkEncodeEvent(b *testing.B) {
	ev := at("reading/basement-1", pressure(-1.2))
	ev.N = 7
	prev := []byte(hex.EncodeToString(make([]byte, 200)))
	for b.Loop() {
		if _, err := EncodeEvent(prev, ev); err != nil {
			b.Fatal(err)
		}
	}
}

// TestPlainLines: what the short way of reading takes, the long way takes
// too and reads alike, whatever one byte of a line is changed to; and the
// short way takes what is written.
func TestPlainLines(t *testing.T) {
	_, b := small(t)
	var lines []string
	lines = append(lines, bodies(b)[1:]...)
	for _, k := range kinds {
		d := procedure.NewData(k)
		fill(reflect.ValueOf(d).Elem(), 3)
		ev := at("s", d)
		ev.N = 3
		line, err := EncodeEvent([]byte("before\n"), ev)
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, body(line))
	}
	for _, l := range lines {
		line := resealed(l)
		_, _, kind, ok := opening(line)
		if _, plain := decodePlain(line, kind, nil); !ok || !plain {
			t.Errorf("not read the short way: %s", l)
		}
		taken := 0
		for i := 1; i < len(l); i += max(1, len(l)/150) {
			for _, c := range []string{"", "0", " ", "9", "\"", "\\", "-", "\x1b", "é", "null", "e", "E", "]", "{}", l[i-1:i+1] + "0", strings.ToUpper(l[i : i+1])} {
				m := resealed(l[:i] + c + l[i+1:])
				ev, plain := decodePlain(m, kind, nil)
				if !plain {
					continue
				}
				taken++
				want, f := decodeAny(m, kind)
				if f != nil {
					t.Fatalf("taken the short way though %s: %s", f.text, m)
				}
				if !reflect.DeepEqual(ev, want) {
					t.Fatalf("read as %s\nwant %s", show(ev.Data), show(want.Data))
				}
			}
		}
		if taken == 0 {
			t.Errorf("no change of this line was taken: the test proves nothing of it: %s", l)
		}
	}
}
