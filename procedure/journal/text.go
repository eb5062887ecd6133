package journal

import (
	"math"
	"reflect"
	"strings"
	"time"
	"unicode/utf8"
)

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

func checkText(s string, free bool) *fault {
	if !utf8.ValidString(s) {
		return faultf(WhyValue, "text is not valid UTF-8")
	}
	for _, r := range s {
		if free && (r == '\n' || r == '\t') {
			continue
		}
		if r < 0x20 || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return faultf(WhyValue, "control character %U in text", r)
		}
	}
	return nil
}
