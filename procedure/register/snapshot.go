package register

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"sync"
	"time"

	"cazward/procedure"
)

// Snapshot is what a record showed, so that it can be judged again without
// being replayed. The plan, which many records share, stands apart under its
// SHA-256.
type Snapshot struct {
	Form    string // [SnapshotForm] of the program that made it
	PlanSum string
	Plan    []byte
	Data    []byte
}

// SnapshotForm names the types that snapshots are made of. A field added,
// renamed or moved changes it, and then older snapshots are made again from
// the records instead of being misread.
var SnapshotForm = sync.OnceValue(form)

func form() string {
	var b strings.Builder
	describe(&b, reflect.TypeFor[procedure.Observations](), map[reflect.Type]bool{})
	h := sha256.Sum256([]byte(b.String()))
	return hex.EncodeToString(h[:8])
}

func describe(b *strings.Builder, t reflect.Type, seen map[reflect.Type]bool) {
	fmt.Fprintf(b, "%s:%s", t, t.Kind())
	if seen[t] || t == timeType {
		return
	}
	seen[t] = true
	switch t.Kind() {
	case reflect.Struct:
		b.WriteByte('{')
		for i := range t.NumField() {
			b.WriteString(t.Field(i).Name + " ")
			describe(b, t.Field(i).Type, seen)
			b.WriteByte(';')
		}
		b.WriteByte('}')
	case reflect.Slice, reflect.Pointer:
		describe(b, t.Elem(), seen)
	}
}

var timeType = reflect.TypeFor[time.Time]()

// NewSnapshot of observations.
func NewSnapshot(o procedure.Observations) *Snapshot {
	plan := pack(nil, reflect.ValueOf(o.Plan))
	o.Plan = procedure.Plan{}
	sum := sha256.Sum256(plan)
	return &Snapshot{Form: SnapshotForm(), PlanSum: hex.EncodeToString(sum[:]), Plan: plan, Data: pack(nil, reflect.ValueOf(o))}
}

// ErrSnapshot: the bytes are no snapshot of this program's form.
var ErrSnapshot = errors.New("register: snapshot of another form: rebuild the register")

// Opener reads snapshots and remembers the plans that they share. It is not
// for several goroutines at once.
type Opener struct{ plans map[string]procedure.Plan }

// Open returns the observations of a snapshot, or [ErrSnapshot]. What it
// returns shares its plan with other observations: it is for reading only.
func (op *Opener) Open(s *Snapshot) (procedure.Observations, error) {
	var o procedure.Observations
	if s == nil || s.Form != SnapshotForm() {
		return o, ErrSnapshot
	}
	plan, ok := op.plans[s.PlanSum]
	if !ok {
		if !unpackAll(s.Plan, reflect.ValueOf(&plan).Elem()) {
			return o, ErrSnapshot
		}
		if op.plans == nil || len(op.plans) > 1000 {
			op.plans = map[string]procedure.Plan{}
		}
		op.plans[s.PlanSum] = plan
	}
	if !unpackAll(s.Data, reflect.ValueOf(&o).Elem()) {
		return procedure.Observations{}, ErrSnapshot
	}
	o.Plan = plan
	return o, nil
}

// pack appends a value: numbers as varints or eight bytes, lengths plus one
// so that nil and empty differ, fields in their order.
func pack(b []byte, v reflect.Value) []byte {
	switch v.Kind() {
	case reflect.String:
		b = binary.AppendUvarint(b, uint64(v.Len()))
		return append(b, v.String()...)
	case reflect.Bool:
		if v.Bool() {
			return append(b, 1)
		}
		return append(b, 0)
	case reflect.Int, reflect.Int64:
		return binary.AppendVarint(b, v.Int())
	case reflect.Float64:
		return binary.LittleEndian.AppendUint64(b, math.Float64bits(v.Float()))
	case reflect.Pointer:
		if v.IsNil() {
			return append(b, 0)
		}
		return pack(append(b, 1), v.Elem())
	case reflect.Slice:
		if v.IsNil() {
			return append(b, 0)
		}
		b = binary.AppendUvarint(b, uint64(v.Len())+1)
		for i := range v.Len() {
			b = pack(b, v.Index(i))
		}
		return b
	case reflect.Struct:
		if v.Type() == timeType {
			t := v.Interface().(time.Time)
			if t.IsZero() {
				return append(b, 0)
			}
			_, off := t.Zone()
			b = binary.AppendVarint(append(b, 1), t.Unix())
			b = binary.AppendVarint(b, int64(t.Nanosecond()))
			return binary.AppendVarint(b, int64(off))
		}
		for i := range v.NumField() {
			b = pack(b, v.Field(i))
		}
		return b
	}
	panic("register: a snapshot cannot hold " + v.Type().String()) // a programmer's fault: a test packs every type
}

// cursor reads packed bytes; text is the same bytes once, so that strings
// share it.
type cursor struct {
	data []byte
	text string
	at   int
	bad  bool
}

func unpackAll(data []byte, v reflect.Value) bool {
	c := cursor{data: data, text: string(data)}
	c.unpack(v)
	return !c.bad && c.at == len(data)
}

func (c *cursor) fail() uint64 { c.bad, c.at = true, len(c.data); return 0 }

func (c *cursor) byte() byte {
	if c.at >= len(c.data) {
		return byte(c.fail())
	}
	c.at++
	return c.data[c.at-1]
}

func (c *cursor) uvarint() uint64 {
	x, n := binary.Uvarint(c.data[c.at:])
	if n <= 0 {
		return c.fail()
	}
	c.at += n
	return x
}

func (c *cursor) varint() int64 {
	x, n := binary.Varint(c.data[c.at:])
	if n <= 0 {
		return int64(c.fail())
	}
	c.at += n
	return x
}

func (c *cursor) float() float64 {
	if len(c.data)-c.at < 8 {
		c.fail()
		return 0
	}
	c.at += 8
	return math.Float64frombits(binary.LittleEndian.Uint64(c.data[c.at-8:]))
}

func (c *cursor) unpack(v reflect.Value) {
	if c.bad {
		return
	}
	switch v.Kind() {
	case reflect.String:
		n := c.uvarint()
		if n > uint64(len(c.data)-c.at) {
			c.fail()
			return
		}
		v.SetString(c.text[c.at : c.at+int(n)])
		c.at += int(n)
	case reflect.Bool:
		v.SetBool(c.byte() == 1)
	case reflect.Int, reflect.Int64:
		v.SetInt(c.varint())
	case reflect.Float64:
		v.SetFloat(c.float())
	case reflect.Pointer:
		if c.byte() == 1 {
			v.Set(reflect.New(v.Type().Elem()))
			c.unpack(v.Elem())
		}
	case reflect.Slice:
		n := c.uvarint()
		if n == 0 {
			return
		}
		n--
		if n > uint64(len(c.data)-c.at) { // each element has a byte at least
			c.fail()
			return
		}
		if list, ok := v.Addr().Interface().(*[]float64); ok { // readings: as below, without reflection
			*list = make([]float64, n)
			for i := range *list {
				(*list)[i] = c.float()
			}
			return
		}
		v.Set(reflect.MakeSlice(v.Type(), int(n), int(n)))
		for i := range int(n) {
			c.unpack(v.Index(i))
		}
	case reflect.Struct:
		if v.Type() == timeType {
			if c.byte() == 0 {
				return
			}
			s := c.varint()
			t := time.Unix(s, c.varint())
			if off := c.varint(); off == 0 {
				t = t.UTC()
			} else {
				t = t.In(time.FixedZone("", int(off)))
			}
			*(v.Addr().Interface().(*time.Time)) = t
			return
		}
		for i := range v.NumField() {
			c.unpack(v.Field(i))
		}
	default:
		c.fail()
	}
}
