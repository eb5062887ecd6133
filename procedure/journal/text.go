package journal

import (
	"math"
	"reflect"
	"strings"
	"sync"
	"time"
	"unicode/utf8"
)

// clean returns v as a record may hold it: itself where nothing of it has two
// spellings, else what [normal] makes of it.
func clean(v reflect.Value, free bool) (reflect.Value, *fault) {
	if oneSpelling(v, free, false) {
		return v, nil
	}
	return normal(v, free)
}

var timeType = reflect.TypeFor[time.Time]()

// leftOutEmpty says of each field of a struct whether it is left out of the
// line where it is empty, by the type of the struct.
var leftOutEmpty sync.Map

func omits(t reflect.Type) []bool {
	if o, ok := leftOutEmpty.Load(t); ok {
		return o.([]bool)
	}
	out := make([]bool, t.NumField())
	for i := range out {
		out[i] = strings.Contains(t.Field(i).Tag.Get("json"), ",omitempty")
	}
	leftOutEmpty.Store(t, out)
	return out
}

// oneSpelling reports whether v holds nothing that [normal] would refuse or
// change: omit is whether nil is left out of the line as empty is.
func oneSpelling(v reflect.Value, free, omit bool) bool {
	switch v.Kind() {
	case reflect.String:
		return checkText(v.String(), free) == nil
	case reflect.Float64:
		f := v.Float()
		return !math.IsNaN(f) && !math.IsInf(f, 0)
	case reflect.Interface:
		return v.IsNil() || oneSpelling(v.Elem(), true, false)
	case reflect.Pointer:
		return v.IsNil() || oneSpelling(v.Elem(), free, false)
	case reflect.Struct:
		if v.Type() == timeType {
			t, ok := v.Interface().(time.Time)
			return ok && t.Nanosecond()%int(time.Millisecond) == 0
		}
		for i, omit := range omits(v.Type()) {
			if !oneSpelling(v.Field(i), free, omit) {
				return false
			}
		}
	case reflect.Slice:
		if v.IsNil() {
			return omit
		}
		for i := range v.Len() {
			if !oneSpelling(v.Index(i), free, false) {
				return false
			}
		}
	case reflect.Map:
		if v.IsNil() {
			return omit
		}
		for it := v.MapRange(); it.Next(); {
			if !oneSpelling(it.Key(), false, false) || !oneSpelling(it.Value(), free, false) {
				return false
			}
		}
	}
	return true
}

// normal returns a copy of v in which nil lists and maps are empty ones, so
// that "none" has one spelling, and refuses what a record may not hold. Free
// is whether text may have line feeds and tabs: inside data.
func normal(v reflect.Value, free bool) (reflect.Value, *fault) {
	switch v.Kind() {
	case reflect.String:
		return v, checkText(v.String(), free)
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			return v, faultf(WhyValue, "%v is not a number that can be kept", f)
		}
	case reflect.Interface: // data
		if v.IsNil() {
			return v, nil
		}
		return normal(v.Elem(), true)
	case reflect.Pointer:
		if v.IsNil() {
			return v, nil
		}
		out := reflect.New(v.Type().Elem())
		return out, set(out.Elem(), v.Elem(), free)
	case reflect.Struct:
		if t, ok := v.Interface().(time.Time); ok {
			if t.Nanosecond()%int(time.Millisecond) != 0 {
				return v, faultf(WhyValue, "time is finer than a millisecond")
			}
			return v, nil
		}
		out := reflect.New(v.Type()).Elem()
		for i := range v.NumField() {
			if f := set(out.Field(i), v.Field(i), free); f != nil {
				name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
				f.at = append([]string{name}, f.at...)
				return v, f
			}
		}
		return out, nil
	case reflect.Slice:
		out := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			if f := set(out.Index(i), v.Index(i), free); f != nil {
				return v, f
			}
		}
		return out, nil
	case reflect.Map:
		out := reflect.MakeMapWithSize(v.Type(), v.Len())
		for it := v.MapRange(); it.Next(); {
			_, f := normal(it.Key(), false)
			e, g := normal(it.Value(), free)
			if f == nil {
				f = g
			}
			if f != nil {
				return v, f
			}
			out.SetMapIndex(it.Key(), e)
		}
		return out, nil
	}
	return v, nil
}

func set(to, from reflect.Value, free bool) *fault {
	e, f := normal(from, free)
	if f == nil {
		to.Set(e)
	}
	return f
}

// Barred reports whether no record takes a character: it controls a terminal,
// ends a line or turns the direction of writing. Line feeds and tabs are among
// them; inside data they are taken all the same.
func Barred(r rune) bool {
	return r < 0x20 || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069
}

func checkText(s string, free bool) *fault {
	plain := true
	for i := range len(s) {
		plain = plain && s[i] >= ' ' && s[i] < 0x7f
	}
	if plain {
		return nil
	}
	if !utf8.ValidString(s) {
		return faultf(WhyValue, "text is not valid UTF-8")
	}
	for _, r := range s {
		if free && (r == '\n' || r == '\t') {
			continue
		}
		if Barred(r) {
			return faultf(WhyValue, "control character %U in text", r)
		}
	}
	return nil
}
