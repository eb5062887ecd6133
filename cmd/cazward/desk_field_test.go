package main

import (
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// deps are all packages that the program is linked from under these tags.
func deps(t *testing.T, tags string) []string {
	t.Helper()
	out, err := exec.Command("go", "list", "-deps", "-tags", tags, ".").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Fields(string(out))
}

// TestFieldBuild holds what the field build leaves out, that the full one has
// it, so that the test can fail, and that the field build keeps SQLite.
func TestFieldBuild(t *testing.T) {
	out := func(p string) bool {
		return p == "net/http" || p == "crypto/tls" || strings.HasPrefix(p, "github.com/jackc/") || p == "cazward/procedure/register/postgres"
	}
	field, full := deps(t, "field"), deps(t, "")
	for _, p := range field {
		if out(p) {
			t.Errorf("the field build holds %s", p)
		}
	}
	if !slices.Contains(field, "modernc.org/sqlite") || !slices.Contains(field, "cazward/procedure/register/sqlite") {
		t.Error("the field build has no SQLite")
	}
	if !slices.ContainsFunc(full, out) {
		t.Error("the full build has no PostgreSQL: this test proves nothing")
	}
	if o, err := exec.Command("go", "vet", "-tags", "field", ".").CombinedOutput(); err != nil {
		t.Errorf("the field build: %v\n%s", err, o)
	}
}
