package wording

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"cazward/procedure/reading"
)

// verb is a verb of package fmt, with the place of its argument where that is
// named.
var verb = regexp.MustCompile(`%(\[(\d+)\])?[-+# 0]*[0-9.]*[a-zA-Z%]`)

// filled lists the verbs of a sentence by the argument that each prints.
func filled(s string) []string {
	var out []string
	n := 0
	for _, m := range verb.FindAllStringSubmatch(s, -1) {
		if strings.HasSuffix(m[0], "%") {
			continue
		}
		if n++; m[2] != "" {
			n, _ = strconv.Atoi(m[2])
		}
		out = append(out, strconv.Itoa(n)+m[0][len(m[0])-1:])
	}
	slices.Sort(out)
	return out
}

// hasWords reports whether anything is left to translate beside what a sentence is
// filled with.
func hasWords(s string) bool {
	return regexp.MustCompile(`\p{L}`).MatchString(regexp.MustCompile(`^cazward( [a-z]+)*( -o| --[a-z-]+| %s)*$|^ssh-keygen|--[a-z0-9]+|%`+verb.String()[1:]).ReplaceAllString(s, ""))
}

// sentences are all that cmd/cazward says on the terminal outside of screens,
// with the place of each. What it refuses in words that are no constant is an
// error: nobody could find its Spanish.
func sentences(t *testing.T) map[string]string {
	t.Helper()
	// The arguments that are sentences, by the name of the function: a hint may
	// also be a phrase.
	says := map[string][]int{"usage": {0, 1}, "refused": {0, 1}, "failed": {1, 2}, "saying": {0}, "note": {0}, "e.say": {0}, "d.e.say": {0}, "say": {0}}
	names, err := filepath.Glob("../../cmd/cazward/*.go")
	if err != nil || len(names) < 30 {
		t.Fatal(names, err)
	}
	out := map[string]string{}
	fset := token.NewFileSet()
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") || strings.HasSuffix(name, "/saying.go") || strings.HasSuffix(name, "/exit.go") {
			continue // those two pass on what others say
		}
		f, err := parser.ParseFile(fset, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			if lit, ok := n.(*ast.CompositeLit); ok {
				if id, ok := lit.Type.(*ast.Ident); ok && (id.Name == "failure" || id.Name == "phrase") {
					t.Errorf("%s: a %s is made with failed or saying", fset.Position(n.Pos()), id.Name)
				}
			}
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			called := nameOf(call.Fun)
			if called == "say" && !strings.HasSuffix(name, "/forecast.go") && !strings.HasSuffix(name, "/air.go") {
				return true // what is made of a log, in English
			}
			if strings.HasSuffix(called, ".note") {
				called = "note"
			}
			at := says[called]
			if at == nil {
				return true
			}
			place := fset.Position(call.Pos()).String()
			for _, i := range at {
				lit, ok := call.Args[i].(*ast.BasicLit)
				if !ok {
					if inner, ok := call.Args[i].(*ast.CallExpr); ok && nameOf(inner.Fun) == "saying" {
						continue // found by itself
					}
					if id, ok := call.Args[i].(*ast.Ident); ok && (len(at) == 2 && i == at[0] && slices.Contains([]string{"hint", "see", "undiluted", "playDemo"}, id.Name) || id.Name == "format") {
						continue
					}
					t.Errorf("%s: %s is given no constant sentence", place, called)
					continue
				}
				s, err := strconv.Unquote(lit.Value)
				if err != nil {
					t.Fatal(err)
				}
				if len(at) == 1 || i == at[1] {
					if given, want := len(call.Args)-i-1, len(filled(s)); given != want && call.Ellipsis == 0 {
						t.Errorf("%s: %q is filled with %d, wants %d", place, s, given, want)
					}
				} else if len(filled(s)) > 0 {
					t.Errorf("%s: the hint %q is not filled", place, s)
				}
				if hasWords(s) {
					out[s] = place
				}
			}
			return true
		})
	}
	for _, s := range []string{"error", "hint", "this is a fault of the program; please report it with the command you gave",
		"note", "wrote %s"} {
		out[s] = "exit.go and saying.go"
	}
	return out
}

func nameOf(x ast.Expr) string {
	switch x := x.(type) {
	case *ast.Ident:
		return x.Name
	case *ast.SelectorExpr:
		return nameOf(x.X) + "." + x.Sel.Name
	case *ast.IndexExpr:
		return nameOf(x.X)
	}
	return ""
}

// TestTerminal holds that each sentence of the terminal has its Spanish, filled
// with the same, and that none of the Spanish is left over.
func TestTerminal(t *testing.T) {
	said := sentences(t)
	if len(said) < 150 {
		t.Errorf("only %d sentences were found", len(said))
	}
	for s, place := range said {
		es, ok := esTerminal()[s]
		if !ok {
			t.Errorf("%s: no Spanish of %q", place, s)
			continue
		}
		if !slices.Equal(filled(s), filled(es)) {
			t.Errorf("%s: %q prints %v, %q prints %v", place, s, filled(s), es, filled(es))
		}
		if s == es && s != "error" {
			t.Errorf("%s: the same in Spanish: %q", place, s)
		}
	}
	for s := range esTerminal() {
		if said[s] == "" {
			t.Errorf("nothing says %q", s)
		}
	}
}

// made are the sentences that other packages make in English and that a crew
// meets, with %s for what they fill in.
func made(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	fset := token.NewFileSet()
	for pattern, least := range map[string]int{"../forecast/*.go": 25, "../journal/disk/disk.go": 15, "../journal/errors.go": 5, "../register/sqlstore/sqlstore.go": 1} {
		names, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		add := func(x ast.Expr) {
			if s := form(x); s != "" && s != "%s" {
				out[s], n = fset.Position(x.Pos()).String(), n+1
			}
		}
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			f, err := parser.ParseFile(fset, name, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(f, func(x ast.Node) bool {
				switch x := x.(type) {
				case *ast.CallExpr:
					if called := nameOf(x.Fun); called == "refuse" {
						field, _, _ := strings.Cut(form(x.Args[0]), " %s") // a name may follow
						if field != "%s" {
							out[field] = fset.Position(x.Pos()).String()
						}
						add(x.Args[2])
					} else if called == "checkFlow" {
						add(x.Args[0])
					}
				case *ast.CompositeLit:
					if nameOf(x.Type) == "Refused" {
						for _, e := range x.Elts {
							if kv := e.(*ast.KeyValueExpr); nameOf(kv.Key) == "Text" || nameOf(kv.Key) == "Next" {
								add(kv.Value)
							}
						}
					}
				case *ast.FuncDecl:
					if x.Name.Name == "Hint" {
						ast.Inspect(x.Body, func(x ast.Node) bool {
							if r, ok := x.(*ast.ReturnStmt); ok && nameOf(r.Results[0]) == "" {
								add(r.Results[0])
							}
							return true
						})
					}
				}
				return true
			})
		}
		if n < least {
			t.Errorf("%s: only %d sentences were found", pattern, n)
		}
	}
	return out
}

// form is a sentence as an expression makes it, %s for what is no constant.
func form(x ast.Expr) string {
	switch x := x.(type) {
	case *ast.BasicLit:
		s, _ := strconv.Unquote(x.Value)
		return s
	case *ast.BinaryExpr:
		return form(x.X) + form(x.Y)
	case *ast.CallExpr:
		switch nameOf(x.Fun) {
		case "fmt.Sprintf":
			return verb.ReplaceAllString(form(x.Args[0]), "%s")
		case "strings.TrimSpace":
			return form(x.Args[0])
		}
	}
	return "%s"
}

// wrapped takes apart what one error says before or after another.
var wrapped = strings.NewReplacer("; perhaps ", "%s; perhaps ", "logfile: no such column: ", "%s", "logfile: the format is not complete: ", "%s")

// TestReworded holds that what other packages make in English has its Spanish,
// and that each sentence of that part of the catalogue stands in their source.
func TestReworded(t *testing.T) {
	for s, place := range made(t) {
		if esForeign()[s] == "" {
			t.Errorf("%s: no Spanish of %q", place, s)
		}
	}
	source := ""
	for _, pattern := range []string{"../../cmd/cazward/*.go", "../forecast/*.go", "../journal/*.go", "../journal/disk/*.go", "../register/sqlstore/*.go", "../reading/code.go", "../sequence/*.go", "../reading/logfile/*.go", "../../limits/load.go"} {
		names, err := filepath.Glob(pattern)
		if err != nil || len(names) == 0 {
			t.Fatal(pattern, err)
		}
		for _, n := range names {
			if !strings.HasSuffix(n, "_test.go") {
				b, err := os.ReadFile(n)
				if err != nil {
					t.Fatal(err)
				}
				source += string(b)
			}
		}
	}
	// What the flag library and the system say, and the scripts show.
	source += `unknown command for unknown flag: unknown shorthand flag: in flag needs an argument: invalid argument for flag: bad flag syntax: no such file or directory permission denied file exists is a directory not a directory`
	for en, es := range esForeign() {
		if strings.Count(en, "%s") != strings.Count(es, "%s") {
			t.Errorf("%q and %q are not filled alike", en, es)
		}
		for _, part := range strings.Split(wrapped.Replace(strings.TrimPrefix(en, "reading: ")), "%s") {
			if part = strings.Trim(part, " :"); !strings.Contains(source, part) {
				t.Errorf("nothing says %q of %q", part, en)
			}
		}
	}
}

// TestRewordedReadings: each refusal of a typed figure, with a proposal and
// without, leaves no English.
func TestRewordedReadings(t *testing.T) {
	b, err := os.ReadFile("../reading/code.go")
	if err != nil {
		t.Fatal(err)
	}
	codes := regexp.MustCompile(`(?m)^\tCode\w+\s+Code = "([a-z-]+)"`).FindAllStringSubmatch(string(b), -1)
	if len(codes) < 11 {
		t.Fatalf("only %d codes were found", len(codes))
	}
	english := regexp.MustCompile(`\b(reading|is|has|the|perhaps|type|unit)\b`)
	for _, m := range codes {
		for _, suggest := range []string{"", "-3.2"} {
			e := &reading.EntryError{Code: reading.Code(m[1]), Text: "3,2 Pa", Suggest: suggest}
			if suggest == "" && e.Code == reading.CodeFamily {
				continue // always with the unit that is wanted
			}
			if suggest != "" && (e.Code == reading.CodeUnit || e.Code == reading.CodeMixed || e.Code == reading.CodeTooMany || e.Code == reading.CodeAveragingWithMany || e.Code == reading.CodeOutOfRange) {
				continue // never with a proposal
			}
			got := Reworded(Spanish, e.Error())
			if english.MatchString(got) || e.Code != reading.CodeEmpty && !strings.Contains(got, `"3,2 Pa"`) || e.Code != reading.CodeEmpty && !strings.Contains(got, suggest) {
				t.Errorf("%s: %q becomes %q", m[1], e.Error(), got)
			}
			if Reworded(English, e.Error()) != e.Error() {
				t.Errorf("%s: English was changed", m[1])
			}
		}
	}
}

// TestRewordedKeepsWhatWasFilledIn: nothing of a name or figure is lost or
// translated, and a sentence of which nothing is known stays.
func TestRewordedKeepsWhatWasFilledIn(t *testing.T) {
	for en, want := range map[string]string{
		`unknown command "net" for "cazward"`:                                                  `comando desconocido "net" de "cazward"`,
		"unknown shorthand flag: 'x' in -xyz":                                                  "opción corta desconocida: 'x' en -xyz",
		"name another file, or go on with it: cazward walk a %s b.cazward":                     "nombre otro archivo, o siga con él: cazward walk a %s b.cazward",
		"reading: a unit is missing; type it after the number":                                 "falta la unidad; escríbala después del número",
		"sealing lowers CFM50, so it must not be above the 1050 before; were the two swapped?": "el sellado baja el CFM50, así que no puede pasar de los 1050 de antes; ¿se cambiaron los dos?",
		"water heater, draft has its reading: correct it with a reason":                        "water heater, draft ya tiene su lectura: corríjala con una razón",
		"x.cazward: not saved: no space left on device; part of it may be in the file":         "x.cazward: no guardado: no space left on device; una parte puede estar en el archivo",
		"a sentence that nobody has heard of":                                                  "a sentence that nobody has heard of",
	} {
		if got := Reworded(Spanish, en); got != want {
			t.Errorf("%q: got %q, want %q", en, got, want)
		}
		if got := Reworded(SpanishScreen, en); got != folds.Replace(want) {
			t.Errorf("%q: got %q on a screen", en, got)
		}
	}
}
