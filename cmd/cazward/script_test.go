package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	if filepath.Base(os.Args[0]) != "cazward" { // the tests, not the program that they run
		// Limits that the developer keeps in a config folder decide no test.
		os.Setenv("XDG_CONFIG_HOME", filepath.Join(os.TempDir(), "no-config-folder-of-cazward"))
	}
	testscript.Main(m, map[string]func(){
		"cazward": func() { os.Exit(Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
	})
}

// TestScripts runs the real main for every verb.
func TestScripts(t *testing.T) {
	homes, err := filepath.Abs("../../testdata/homes")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "../../testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("HOMES", homes)
			e.Setenv("DEMO", strings.Repeat("=\n", 120))
			return os.WriteFile(filepath.Join(e.WorkDir, "demo.txt"), []byte(strings.Repeat("=\n", 120)), 0o600)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			// edit FILE OLD NEW: the text of the file OLD, which stands once in FILE,
			// becomes that of NEW.
			"edit": func(ts *testscript.TestScript, _ bool, args []string) {
				if len(args) != 3 {
					ts.Fatalf("usage: edit FILE OLD NEW")
				}
				text, from, to := ts.ReadFile(args[0]), ts.ReadFile(args[1]), ts.ReadFile(args[2])
				if n := strings.Count(text, from); n != 1 {
					ts.Fatalf("%s stands %d times in %s", args[1], n, args[0])
				}
				ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, from, to, 1)), 0o600))
			},
			// exits CODE cazward ARGS... [< FILE]: runs the program and wants that exit code.
			"exits": func(ts *testscript.TestScript, _ bool, args []string) {
				if len(args) < 2 {
					ts.Fatalf("usage: exits CODE ARGS...")
				}
				err := ts.Exec("cazward", args[1:]...)
				code := "0"
				if err != nil {
					code = strings.TrimPrefix(err.Error(), "exit status ")
				}
				if code != args[0] {
					ts.Fatalf("cazward %s: exit %s, want %s", strings.Join(args[1:], " "), code, args[0])
				}
			},
		},
	})
}
