package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestManPages makes the manual pages as a release does: one for each verb that
// the shipped program has, the same on the same day.
func TestManPages(t *testing.T) {
	dir := t.TempDir()
	bin := filepath.Join(dir, "cazward")
	if out, err := exec.Command("go", "build", "-tags", "manpages", "-o", bin, "cazward/cmd/cazward").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	man := func(args ...string) (string, error) {
		c := exec.Command(bin, append([]string{"man"}, args...)...)
		c.Dir, c.Env = dir, append(os.Environ(), "SOURCE_DATE_EPOCH=1767225600")
		out, err := c.CombinedOutput()
		return string(out), err
	}
	for verb, want := range map[string][]string{
		"":             {`.TH "CAZWARD" "1" "Jan 2026"`, "6 incomplete: no result; 7 input refused", "cazward-limits"},
		"limits check": {`.TH "CAZWARD-LIMITS-CHECK" "1"`, "cazward limits check our-program.yaml"},
	} {
		out, err := man(strings.Fields(verb)...)
		for _, w := range want {
			if err != nil || !strings.Contains(out, w) {
				t.Errorf("%q: no %q, %v:\n%s", verb, w, err, out)
			}
		}
	}
	for _, folder := range []string{"pages", "again"} {
		if out, err := man("-o", folder); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
	}
	list, err := os.ReadDir(filepath.Join(dir, "pages"))
	if err != nil || len(list) < 40 {
		t.Errorf("%d pages, %v", len(list), err)
	}
	for _, f := range list {
		one, err := os.ReadFile(filepath.Join(dir, "pages", f.Name()))
		two, err2 := os.ReadFile(filepath.Join(dir, "again", f.Name()))
		if err != nil || err2 != nil || string(one) != string(two) || len(one) < 200 || strings.Contains(string(one), "cazward-man") {
			t.Errorf("%s: %v, %v\n%s", f.Name(), err, err2, one)
		}
	}
	for args, want := range map[string]string{
		"frobnicate":    `error: there is no verb "frobnicate"`,
		"walk extra":    `error: there is no verb "walk extra"`,
		"-o pages walk": "hint: leave the verb out: all pages go into the folder",
		"-o cazward":    "error: no manual pages into cazward: not a directory",
	} {
		if out, err := man(strings.Fields(args)...); err == nil || !strings.Contains(out, want) {
			t.Errorf("man %s: %v\n%s", args, err, out)
		}
	}
}
