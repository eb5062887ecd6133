package main

import (
	"os"
	"os/exec"
	"sort"
	"strings"
	"testing"
)

// mayImport is the direction of imports: what each package may import of this
// module. Packages of test helpers, named ...test, are used by tests alone.
var mayImport = map[string][]string{
	"procedure/reading":             {},
	"procedure/reading/logfile":     {"procedure/reading"},
	"procedure":                     {"procedure/reading"},
	"procedure/wording":             {"procedure", "procedure/reading"},
	"procedure/sequence":            {"procedure", "procedure/reading"},
	"procedure/evaluation":          {"procedure", "procedure/reading", "procedure/forecast"},
	"procedure/airflow":             {"procedure/reading"},
	"procedure/airflow/airflowtest": {"procedure/airflow"},
	"procedure/forecast":            {"procedure", "procedure/reading", "procedure/airflow"},
	"procedure/practice":            {"procedure", "procedure/reading", "procedure/sequence", "procedure/airflow", "procedure/wording", "limits/strict"},
	"procedure/study":               {"procedure", "procedure/reading", "procedure/sequence", "procedure/practice"},
	"procedure/journal":             {"procedure", "procedure/reading"},
	"procedure/journal/disk":        {"procedure", "procedure/reading", "procedure/journal"},
	"procedure/register":            {"procedure", "procedure/reading", "procedure/journal"},
	"procedure/register/sqlstore":   {"procedure", "procedure/journal", "procedure/register"},
	"procedure/register/sqlite":     {"procedure/register", "procedure/register/sqlstore"},
	"procedure/register/postgres":   {"procedure/register", "procedure/register/sqlstore"},
	"limits/strict":                 {},
	"limits":                        {"limits/strict", "procedure", "procedure/reading"},
	"forms":                         {"procedure", "procedure/reading", "procedure/sequence", "procedure/wording"},
	"forms/background":              {},
	"forms/plain":                   {"forms", "procedure", "procedure/reading", "procedure/sequence", "procedure/wording"},
	"forms/script":                  {"forms", "procedure", "procedure/reading", "procedure/sequence", "procedure/wording"},
	"forms/terminal":                {"forms", "forms/background", "procedure", "procedure/reading", "procedure/sequence", "procedure/wording"},
	"report":                        {"procedure", "procedure/reading", "procedure/forecast", "procedure/wording"},
	"report/chart":                  {"report", "procedure/reading"},
	"report/csv":                    {"report", "procedure", "procedure/reading", "procedure/wording"},
	"report/html":                   {"report", "report/chart", "procedure", "procedure/reading", "procedure/wording"},
	"report/notice":                 {"report", "procedure", "procedure/reading", "procedure/wording"},
	"report/notice/pdf":             {"report", "report/notice", "report/paper", "procedure", "procedure/wording"},
	"report/page":                   {"report", "report/html", "procedure", "procedure/journal", "procedure/reading", "procedure/register", "procedure/wording"},
	"report/paper":                  {"report"},
	"report/sheet":                  {"report", "procedure", "procedure/reading", "procedure/wording"},
	"report/sheet/pdf":              {"report", "report/paper", "report/sheet", "procedure", "procedure/wording"},
	"report/json":                   {"report", "procedure", "procedure/reading", "procedure/forecast", "procedure/wording"},
	"report/pdf":                    {"report", "report/chart", "procedure", "procedure/reading", "procedure/wording"},
	"report/photo":                  {},
	"report/text":                   {"report", "procedure", "procedure/reading", "procedure/wording"},
	"report/xml":                    {"report", "procedure", "procedure/reading", "procedure/forecast", "procedure/wording"},
}

// pure packages judge or decide: no clock on a wall, no file, no network, no
// log, no table format.
var pure = []string{"procedure/reading", "procedure/reading/logfile", "procedure/forecast", "procedure", "procedure/sequence", "procedure/evaluation", "procedure/airflow", "procedure/register"}

var impure = []string{"os", "net", "net/http", "database/sql", "log", "math/rand", "math/rand/v2", "crypto/rand", "gopkg.in/yaml.v3", "os/exec", "path/filepath"}

func imports(t *testing.T, pkg string) []string {
	t.Helper()
	out, err := exec.Command("go", "list", "-f", "{{join .Imports \"\\n\"}}", "cazward/"+pkg).CombinedOutput()
	if err != nil {
		t.Fatalf("go list %s: %v\n%s", pkg, err, out)
	}
	return strings.Fields(string(out))
}

func TestImportsPointDown(t *testing.T) {
	out, err := exec.Command("go", "list", "cazward/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range strings.Fields(string(out)) {
		pkg := strings.TrimPrefix(p, "cazward/")
		if pkg == "cmd/cazward" || strings.HasSuffix(pkg, "test") {
			continue
		}
		allowed, ok := mayImport[pkg]
		if !ok {
			t.Errorf("%s has no line in the table of imports: decide what it may import", pkg)
			continue
		}
		for _, i := range imports(t, pkg) {
			own, found := strings.CutPrefix(i, "cazward/")
			if !found {
				continue
			}
			good := false
			for _, a := range allowed {
				good = good || a == own
			}
			if !good {
				t.Errorf("%s imports %s; it may import only %v", pkg, own, allowed)
			}
		}
	}
}

func TestJudgingIsPure(t *testing.T) {
	for _, pkg := range pure {
		for _, i := range imports(t, pkg) {
			for _, bad := range impure {
				if i == bad {
					t.Errorf("%s imports %s", pkg, i)
				}
			}
		}
	}
}

// TestTopLevel holds the visible top level of the repository.
func TestTopLevel(t *testing.T) {
	want := "DEVELOPERS.md LICENSE README.md cmd forms go.mod go.sum limits procedure report testdata"
	list, err := os.ReadDir("../..")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range list {
		// Records and reports of somebody who walked here are not the repository's.
		n := e.Name()
		if made, _, _ := strings.Cut(n, ".cazward"); !strings.HasPrefix(n, ".") && made == n && !strings.HasSuffix(n, ".pdf") {
			got = append(got, n)
		}
	}
	sort.Strings(got)
	if s := strings.Join(got, " "); s != want {
		t.Errorf("top level holds\n %s\nwant\n %s", s, want)
	}
}

// TestOneInit holds the one init that is allowed: the leaf that keeps a
// terminal from stalling.
func TestOneInit(t *testing.T) {
	out, err := exec.Command("grep", "-rlE", "--include=*.go", "^func init\\(\\)", "../..").CombinedOutput()
	if err != nil && len(out) > 0 {
		t.Fatal(err, string(out))
	}
	for _, f := range strings.Fields(string(out)) {
		if !strings.Contains(f, "forms/background/") {
			t.Errorf("%s has an init", f)
		}
	}
}
