//go:build linux || darwin

package main

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// FuzzSheet: any bytes given to transcribe become a whole record or are refused
// with file and line; nothing half-written is left and nothing raw is said.
func FuzzSheet(f *testing.F) {
	paths, err := filepath.Glob(filepath.Join(homesDir, "*.sheet.yaml"))
	if err != nil || len(paths) == 0 {
		f.Fatal(err)
	}
	for _, p := range paths {
		b, err := os.ReadFile(p)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add([]byte("kind: sheet\nformat: 1\nhome: x\ntester: AB\ndate: 2026-01-02\nanswers:\n  arrive/danger: none\n"))
	f.Add([]byte("kind: sheet\nanswers: {a/b: {is: [1], at: 7, sure: x}}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		out := filepath.Join(t.TempDir(), "x"+recordSuffix)
		_, err := transcribe(homeEnv(), "fuzz.yaml", data, out, nil)
		if err != nil {
			var said strings.Builder
			code := report(&said, err)
			if code != exitRefused || !calm(said.String()) {
				t.Errorf("exit %d: %q", code, said.String())
			}
			var p *sheetProblems
			if errors.As(err, &p) && !strings.Contains(said.String(), "fuzz.yaml:") {
				t.Errorf("no place: %s", said.String())
			}
			if _, err := os.Stat(out); err == nil {
				t.Error("refused, and a record was left")
			}
			return
		}
		if _, err := load(out, "", nil); err != nil {
			t.Errorf("what was written is not read: %v", err)
		}
	})
}
