// Package strict reads YAML documents that people edit, into structs, and lists
// everything wrong at once with file, line, column and a hint: unknown or
// repeated keys, null, aliases, numbers that are none or that YAML would read
// as octal. Nothing is ever filled in by default.
package strict

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// Problem is one thing wrong with a file, and what to do about it.
type Problem struct {
	File         string
	Line, Column int
	Text         string
	Hint         string
}

// String is the problem as an error line begins: file, line, column. What
// stands in no file has no place.
func (p Problem) String() string {
	if p.File == "" {
		return p.Text
	}
	return fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Column, p.Text)
}

// Problems is an error that lists everything wrong at once. Its exit code is
// that of refused input.
type Problems struct{ List []Problem }

func (p *Problems) Error() string {
	out := make([]string, len(p.List))
	for i, x := range p.List {
		out[i] = x.String()
	}
	return strings.Join(out, "\ncazward: error: ")
}

// Hint is what to do about the first problem.
func (p *Problems) Hint() string {
	if len(p.List) > 0 && p.List[0].Hint != "" {
		return p.List[0].Hint
	}
	return "mend the file and try again"
}

// ExitCode of refused input.
func (p *Problems) ExitCode() int { return 7 }

// Reader collects problems while documents are read.
type Reader struct {
	File  string // of the document being read
	What  string // what one document holds, "table": for messages
	Begin string // how such a document begins: for hints
	Max   int    // the largest file that is read, in bytes
	List  []Problem
}

// At notes a problem of a node; nil is the head of the file.
func (r *Reader) At(n *yaml.Node, hint, format string, a ...any) {
	line, col := 1, 1
	if n != nil && n.Line > 0 { // a node that could not be read has no line
		line, col = n.Line, n.Column
	}
	r.List = append(r.List, Problem{r.File, line, col, fmt.Sprintf(format, a...), hint})
}

// Err is nil or all [Problems].
func (r *Reader) Err() error {
	if len(r.List) == 0 {
		return nil
	}
	return &Problems{r.List}
}

var yamlLine = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`line (\d+)`) })

// Document reads the one document of a file as nodes, nil if it cannot.
func (r *Reader) Document(data []byte) *yaml.Node {
	switch {
	case len(data) > r.Max:
		r.At(nil, "split the file", "the file is larger than %d bytes", r.Max)
		return nil
	case !utf8.Valid(data):
		r.At(nil, "save it as UTF-8", "the file is not valid UTF-8")
		return nil
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		r.At(nil, "save it without a byte order mark", "the file begins with a byte order mark")
		return nil
	}
	if i := bytes.IndexByte(data, 0); i >= 0 {
		r.At(nil, "remove it", "the file holds a NUL byte")
		return nil
	}
	dec := yaml.NewDecoder(bytes.NewReader(data))
	var doc yaml.Node
	if err := dec.Decode(&doc); err != nil {
		if err == io.EOF {
			r.At(nil, r.Begin, "the file is empty")
			return nil
		}
		line := 1
		text := strings.TrimPrefix(err.Error(), "yaml: ")
		if m := yamlLine().FindStringSubmatch(text); m != nil {
			line, _ = strconv.Atoi(m[1])
			text = strings.TrimPrefix(text, m[0]+": ")
		}
		hint := "mend the line; a " + r.What + " uses spaces, never tabs, to indent"
		r.List = append(r.List, Problem{r.File, line, 1, "not YAML: " + text, hint})
		return nil
	}
	var second yaml.Node
	if err := dec.Decode(&second); err != io.EOF {
		r.At(&second, "keep one "+r.What+" a file", "a second document")
		return nil
	}
	if len(doc.Content) != 1 || doc.Content[0].Kind != yaml.MappingNode {
		r.At(&doc, r.Begin, "a %s is keys and values", r.What)
		return nil
	}
	return doc.Content[0]
}

// Decode fills the struct that v points to from a node, refusing whatever the
// type does not have. Fields are named by their yaml tags; a field of type
// *yaml.Node tagged "-" is given the node, for later messages.
func (r *Reader) Decode(n *yaml.Node, v any) {
	r.decode(n, reflect.ValueOf(v).Elem(), "")
}

func (r *Reader) decode(n *yaml.Node, v reflect.Value, path string) {
	if n.Anchor != "" || n.Kind == yaml.AliasNode {
		r.At(n, "write the value out", "%s: anchors and aliases are not allowed", path)
		return
	}
	if n.Kind == yaml.ScalarNode && (n.Tag == "!!null") {
		r.At(n, "give a value or delete the key", "%s: no value", path)
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		p := reflect.New(v.Type().Elem())
		r.decode(n, p.Elem(), path)
		v.Set(p)
	case reflect.Struct:
		r.structure(n, v, path)
	case reflect.Slice:
		if n.Kind != yaml.SequenceNode {
			r.At(n, "write it as a list, each item after a dash", "%s: a list is wanted", path)
			return
		}
		s := reflect.MakeSlice(v.Type(), len(n.Content), len(n.Content))
		for i, c := range n.Content {
			r.decode(c, s.Index(i), fmt.Sprintf("%s[%d]", path, i+1))
		}
		v.Set(s)
	case reflect.String:
		if n.Kind != yaml.ScalarNode || n.Tag != "!!str" && n.Tag != "!!timestamp" && n.Tag != "!!int" && n.Tag != "!!float" {
			if n.Kind != yaml.ScalarNode {
				r.At(n, "write one text", "%s: text is wanted, not a list or keys", path)
				return
			}
			r.At(n, "put it in quotes", "%s: text is wanted, not %s", path, n.Value)
			return
		}
		v.SetString(n.Value)
	case reflect.Bool:
		if n.Kind != yaml.ScalarNode || n.Value != "true" && n.Value != "false" {
			r.At(n, "write true or false", "%s: true or false is wanted, not %q", path, n.Value)
			return
		}
		v.SetBool(n.Value == "true")
	case reflect.Int, reflect.Float64:
		f, ok := r.number(n, path)
		if !ok {
			return
		}
		if v.Kind() == reflect.Int {
			if f != math.Trunc(f) {
				r.At(n, "give a whole number", "%s: a whole number is wanted, not %s", path, n.Value)
				return
			}
			v.SetInt(int64(f))
		} else {
			v.SetFloat(f)
		}
	default:
		r.At(n, "", "%s: the program cannot read this kind of value", path)
	}
}

var plainNumber = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[-+]?(0|[1-9][0-9]*)(\.[0-9]+)?$`) })

func (r *Reader) number(n *yaml.Node, path string) (float64, bool) {
	if n.Kind != yaml.ScalarNode || !plainNumber().MatchString(n.Value) {
		hint := "write a plain decimal such as -5 or 0.25"
		switch {
		case strings.Contains(n.Value, ","):
			hint = "use a point, not a comma"
		case strings.ContainsRune(n.Value, '−'):
			hint = "use the hyphen as minus sign"
		case regexp.MustCompile(`^[-+]?0[0-9]`).MatchString(n.Value):
			hint = "drop the leading 0: it would be read as octal"
		}
		r.At(n, hint, "%s: %q is not a plain number", path, n.Value)
		return 0, false
	}
	f, err := strconv.ParseFloat(n.Value, 64)
	if err != nil || math.IsInf(f, 0) || math.Abs(f) > 1e9 {
		r.At(n, "write a plain decimal such as -5 or 0.25", "%s: %q is out of any range", path, n.Value)
		return 0, false
	}
	return f, true
}

func (r *Reader) structure(n *yaml.Node, v reflect.Value, path string) {
	if n.Kind != yaml.MappingNode {
		r.At(n, "write it as keys and values", "%s: keys and values are wanted", path)
		return
	}
	fields := map[string]int{}
	var names []string
	var lines reflect.Value
	for i := 0; i < v.NumField(); i++ {
		tag := v.Type().Field(i).Tag.Get("yaml")
		if tag == "-" {
			if v.Type().Field(i).Type == reflect.TypeOf((*yaml.Node)(nil)) {
				lines = v.Field(i)
			}
			continue
		}
		fields[tag] = i
		names = append(names, tag)
	}
	if lines.IsValid() {
		lines.Set(reflect.ValueOf(n))
	}
	seen := map[string]bool{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, val := n.Content[i], n.Content[i+1]
		at := k.Value
		if path != "" {
			at = path + "." + k.Value
		}
		f, ok := fields[k.Value]
		switch {
		case k.Anchor != "" || k.Kind != yaml.ScalarNode || k.Value == "<<":
			r.At(k, "write the keys out", "%s: merge keys and aliases are not allowed", at)
		case !ok:
			r.At(k, "known keys here: "+strings.Join(names, ", "), "unknown key %q", at)
		case seen[k.Value]:
			r.At(k, "keep one of them", "key %q stands twice", at)
		default:
			seen[k.Value] = true
			r.decode(val, v.Field(f), at)
		}
	}
}
