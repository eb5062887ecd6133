package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// On a terminal a folder shows how far it is, and leaves only the result.
func TestFolderOnTerminal(t *testing.T) {
	bin, dir := build(t), t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "in"), 0o700); err != nil {
		t.Fatal(err)
	}
	sheet, err := filepath.Abs("../../testdata/homes/birch-21-all-clear.sheet.yaml")
	if err != nil {
		t.Fatal(err)
	}
	first := filepath.Join(dir, "in", "a.cazward")
	if out, err := exec.Command(bin, "transcribe", sheet, "-o", first).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	record, err := os.ReadFile(first)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 40 {
		if err := os.WriteFile(filepath.Join(dir, "in", "b"+strings.Repeat("x", i)+".cazward"), record, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	w := open(t, 80, 24, dir, bin, "report", "in", "-o", "out")
	w.until("] ")
	w.until("=")
	code, last := w.ended()
	if code != 0 || !strings.Contains(last, "wrote the reports of 41 of 41 records to out") || strings.Contains(last, "[=") || len(w.screen.faults) > 0 {
		t.Errorf("exit %d, faults %q, screen:\n%s", code, w.screen.faults, last)
	}
}
