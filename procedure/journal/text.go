package journal

import (
	"math"
	"reflect"
	"strings"
	"time"
	"unicode/utf8"
)

// normal returns a copy of v in which nil lists and maps are empty ones, so
// that "none" has one spelling, and refuses what a record may not hold. At is
// the path of v for the message.
func normal(v reflect.Value, at string) (reflect.Value, *fault) {
	switch v.Kind() {
	case reflect.String:
		return v, checkText(v.String(), at)
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			return v, faultf(WhyValue, "%s: %v is not a number that can be kept", at, f)
		}
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			return v, nil
		}
		e, f := normal(v.Elem(), at)
		if f != nil {
			return v, f
		}
		if v.Kind() == reflect.Interface {
			return e, nil
		}
		out := reflect.New(e.Type())
		out.Elem().Set(e)
		return out, nil
	case reflect.Struct:
		if t, ok := v.Interface().(time.Time); ok {
			if t.Nanosecond()%int(time.Millisecond) != 0 {
				return v, faultf(WhyValue, "%s: time is finer than a millisecond", at)
			}
			return v, nil
		}
		out := reflect.New(v.Type()).Elem()
		for i := range v.NumField() {
			e, f := normal(v.Field(i), join(at, v.Type().Field(i)))
			if f != nil {
				return v, f
			}
			out.Field(i).Set(e)
		}
		return out, nil
	case reflect.Slice:
		out := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			e, f := normal(v.Index(i), at)
			if f != nil {
				return v, f
			}
			out.Index(i).Set(e)
		}
		return out, nil
	case reflect.Map:
		out := reflect.MakeMapWithSize(v.Type(), v.Len())
		for it := v.MapRange(); it.Next(); {
			if _, f := normal(it.Key(), at); f != nil {
				return v, f
			}
			e, f := normal(it.Value(), at)
			if f != nil {
				return v, f
			}
			out.SetMapIndex(it.Key(), e)
		}
		return out, nil
	}
	return v, nil
}

func join(at string, field reflect.StructField) string {
	name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
	if at == "" || name == "" {
		return at + name
	}
	return at + "." + name
}

func checkText(s, at string) *fault {
	if !utf8.ValidString(s) {
		return faultf(WhyValue, "%s: text is not valid UTF-8", at)
	}
	for _, r := range s {
		if (r == '\n' || r == '\t') && strings.HasPrefix(at, "data.") {
			continue
		}
		if r < 0x20 || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return faultf(WhyValue, "%s: control character %U in text", at, r)
		}
	}
	return nil
}
