package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// hazards are the rows that the safety case must have.
var hazards = []string{"missed CO", "missed leak", "false pass", "wrong sign", "wrong unit", "wrong row", "stale limits", "tampered record", "practice taken for real", "unseen question answered"}

var testName = regexp.MustCompile("`([a-z]+)\\.(Test[A-Za-z0-9]+)`")

// TestSafetyCase reads the safety case of DEVELOPERS.md: each hazard has its
// row, and each test that a row names is a test of that package.
func TestSafetyCase(t *testing.T) {
	b, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, ok := strings.Cut(string(b), "\n## Safety case\n")
	if !ok {
		t.Fatal("DEVELOPERS.md has no section Safety case")
	}
	section, _, _ = strings.Cut(section, "\n## ")
	tests := allTests(t, "../..")
	rows := map[string]bool{}
	for _, l := range strings.Split(section, "\n") {
		cells := strings.Split(strings.Trim(l, "|"), "|")
		if !strings.HasPrefix(l, "| ") || len(cells) != 3 || strings.Contains(l, "---") || strings.Contains(l, "shown by") {
			continue
		}
		hazard := strings.TrimSpace(cells[0])
		rows[hazard] = true
		names := testName.FindAllStringSubmatch(cells[2], -1)
		if len(names) < 2 || strings.TrimSpace(cells[1]) == "" {
			t.Errorf("%s: %d tests and the prevention %q", hazard, len(names), cells[1])
		}
		if rest := strings.TrimSpace(testName.ReplaceAllString(cells[2], "")); rest != "" {
			t.Errorf("%s: not the name of a test: %q", hazard, rest)
		}
		for _, n := range names {
			if !tests[n[1]+"."+n[2]] {
				t.Errorf("%s: there is no test %s.%s", hazard, n[1], n[2])
			}
		}
	}
	for _, h := range hazards {
		if !rows[h] {
			t.Errorf("no row for %q", h)
		}
	}
}

// allTests are the tests and fuzz targets of this module, as package.Test; those
// of package x_test are those of x. A test that only skips is none.
func allTests(t *testing.T, root string) map[string]bool {
	t.Helper()
	out := map[string]bool{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != root && strings.HasPrefix(d.Name(), ".") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		for _, decl := range f.Decls {
			fn, ok := decl.(*ast.FuncDecl)
			if ok && fn.Recv == nil && (strings.HasPrefix(fn.Name.Name, "Test") || strings.HasPrefix(fn.Name.Name, "Fuzz")) && fn.Type.Params.NumFields() == 1 && len(fn.Body.List) > 0 && !skips(fn.Body.List[0]) {
				out[strings.TrimSuffix(f.Name.Name, "_test")+"."+fn.Name.Name] = true
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// skips reports whether a test begins by skipping whatever comes.
func skips(s ast.Stmt) bool {
	x, ok := s.(*ast.ExprStmt)
	if !ok {
		return false
	}
	c, ok := x.X.(*ast.CallExpr)
	if !ok {
		return false
	}
	sel, ok := c.Fun.(*ast.SelectorExpr)
	return ok && strings.HasPrefix(sel.Sel.Name, "Skip")
}
