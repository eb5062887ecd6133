package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"cazward/procedure"
	"cazward/procedure/wording"
)

// notRun are the commands of the documentation that TestDocs does not run, each
// with the reason and the test that does; those of go and .ci, which run tests,
// are not among them.
var notRun = []struct{ command, why, test string }{
	{"cazward walk", "asks a person at a terminal", "main.TestWalkOnScreen"},
	{"cazward walk RECORD", "goes on with a record that is open", "main.TestScripts"},
	{"cazward drill play demonstration", "asks a person at a terminal", "main.TestDrillPlay"},
	{"cazward drill play HOUSE", "asks a person at a terminal", "main.TestDrillPlay"},
	{"cazward drill play tight-ranch --coach", "asks a person at a terminal", "main.TestDrillCoach"},
	{"cazward drill play tight-ranch --exam", "asks a person at a terminal", "main.TestDrillExam"},
	{"cazward drill study --houses 500 --seed 2026", "takes minutes; .ci/study compares its table", "main.TestScripts"},
	{"cazward desk serve --make-hash >desk.hash", "asks for a password", "main.TestServeMakeHash"},
	{"cazward desk serve --listen 0.0.0.0:8443 --cert desk.crt --key desk.key --password-file desk.hash", "serves until it is stopped", "main.TestServeTLS"},
	{"sed -n 5p RECORD | sha256sum", "what it must print stands in the record", "journal.TestCommonTools"},
	{`eval "$(.ci/postgres start)"`, "starts a server", ""},
}

// inPlace are lines of the shell that run a command that asks, or does not end.
// ANSWERS/SCRIPT/PART is that part of a script.
var inPlace = map[string]string{
	"cazward walk --demo --plain":                              `yes = | head -120 | cazward walk --demo --plain`,
	"cazward drill play high-co --seed 4 -o first-try.cazward": `cazward drill play high-co --seed 4 -o first-try.cazward --plain --tester GH <ANSWERS/drill-play/flawed.txt`,
	"cazward drill play blower.house.yaml -o blower.cazward":   `cazward drill play blower.house.yaml -o blower.cazward --plain <ANSWERS/drill-house/sound.txt`,
	"cazward desk serve": `cazward desk serve >served 2>&1 & n=0
until grep -qs token= served || [ $((n+=1)) -gt 300 ]; do sleep 0.1; done
cat served; kill $!; wait $!`,
}

// madeBefore are the files that the documentation takes for granted; the rest
// is made by its own commands.
const madeBefore = `
mkdir records class
for f in testdata/homes/*.sheet.yaml; do cazward transcribe $f -o records/$(basename $f .sheet.yaml).cazward; done
cp records/birch-21-all-clear.cazward RECORD
cp RECORD HOME.cazward
cp testdata/homes/birch-21-all-clear.sheet.yaml SHEET.yaml
cazward drill new -o HOUSE.yaml
yes = | head -9 | cazward drill play sealed --plain -o class/a.cazward
`

// changing is what differs from run to run: an id, a hash, the day in the name
// of a record, and the address of a page.
var changing = regexp.MustCompile(`(?m)\b[0-9a-f]{16}\b|\b[0-9a-f]{64}\b|-test-in-\d{4}-\d\d-\d\d\.|127\.0\.0\.1:\d+/enter\?token=(\.\.\.|[\w-]{40,})$`)

// block is a piece of code of the documentation: indented, fenced, or in the
// text between back quotes.
type block struct {
	where string // file:line
	kind  string // "indented", "inline" or the word after the fence
	lines []string
}

var span = regexp.MustCompile("`[^`]+`")

// blocks reads one file of the documentation.
func blocks(t *testing.T, name string) (out []block) {
	t.Helper()
	lines := append(strings.Split(readDoc(t, name), "\n"), "")
	add := func(line int, kind string, code ...string) {
		out = append(out, block{fmt.Sprintf("%s:%d", name, line+1), kind, code})
	}
	for i := 0; i < len(lines); {
		from := i
		fence, fenced := strings.CutPrefix(lines[i], "```")
		switch {
		case fenced:
			for i++; i < len(lines) && lines[i] != "```"; i++ {
			}
			add(from, fence, lines[from+1:min(i, len(lines))]...)
			i++
		case strings.HasPrefix(lines[i], "    "):
			for i < len(lines) && (lines[i] == "" || strings.HasPrefix(lines[i], "    ")) {
				i++
			}
			code := strings.Split(strings.TrimRight(strings.Join(lines[from:i], "\n"), "\n"), "\n")
			for j := range code {
				code[j] = strings.TrimPrefix(code[j], "    ")
			}
			add(from, "indented", code...)
		case lines[i] == "":
			i++
		default:
			for i < len(lines) && lines[i] != "" && !strings.HasPrefix(lines[i], "```") {
				i++
			}
			text := strings.Join(lines[from:i], "\n")
			for _, at := range span.FindAllStringIndex(text, -1) {
				code := strings.ReplaceAll(text[at[0]+1:at[1]-1], `\|`, "|")
				add(from+strings.Count(text[:at[0]], "\n"), "inline", strings.Join(strings.Fields(code), " "))
			}
		}
	}
	return out
}

var docs = []string{"README.md", "DEVELOPERS.md"}

// repository is the top folder, also for a test that went elsewhere.
var repository, _ = filepath.Abs("../..")

// command is a line of the shell, with what it sets before the program.
var command = regexp.MustCompile(`^(?:[A-Z_]+=\S* )*(cazward|go|sed|eval|\.ci/[a-z-]+)( |$)`)

// TestDocs runs what the documentation shows, from first to last, in a folder
// of its own, and compares what comes out. In an indented block "$ " begins a
// command and its output follows, "..." for what is left out; where there is no
// "$ ", each line is a command and what it is for. All else is fenced.
func TestDocs(t *testing.T) {
	if _, err := exec.LookPath("sh"); err != nil {
		t.Skip("there is no shell")
	}
	d := &docsRun{T: t, dir: t.TempDir(), seen: map[string]bool{}, tests: allTests(t, "../..")}
	if err := os.Symlink(filepath.Join(repository, "testdata"), filepath.Join(d.dir, "testdata")); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"drill-house", "drill-play"} {
		a, err := txtar.ParseFile("../../testdata/script/" + name + ".txtar")
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range a.Files {
			d.write("ANSWERS/"+name+"/"+f.Name, string(f.Data))
		}
	}
	if out, err := d.sh("set -e" + madeBefore); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, name := range docs {
		for _, b := range blocks(t, name) {
			d.block(b)
		}
	}
	for _, n := range notRun {
		if !d.seen[n.command] {
			t.Errorf("not in the documentation any more: %s", n.command)
		}
		if n.test != "" && !d.tests[n.test] {
			t.Errorf("%s: there is no test %s", n.command, n.test)
		}
	}
	for c, line := range inPlace {
		if !d.seen[c] {
			t.Errorf("not in the documentation any more: %s", c)
		}
		if !strings.Contains(line, c) {
			t.Errorf("in place of %s runs %s", c, line)
		}
	}
	for _, f := range d.edits() {
		if !d.seen[f] {
			t.Errorf("the documentation does not say to write\n%s", d.read(f))
		}
	}
}

type docsRun struct {
	*testing.T
	dir   string
	seen  map[string]bool // commands, and edits of the practice house
	tests map[string]bool
}

func (d *docsRun) block(b block) {
	switch b.kind {
	case "text":
	case "yaml":
		d.yaml(b)
	case "inline":
		if c := b.lines[0]; command.MatchString(c) && c != "cazward" && !namesVerb(c) {
			d.command(b.where, c, []string{"..."})
		}
	case "indented":
		withOutput := slices.ContainsFunc(b.lines, func(l string) bool { return strings.HasPrefix(l, "$ ") })
		for i := 0; i < len(b.lines); {
			c, want := b.lines[i], []string{"..."}
			i++
			if withOutput {
				var ok bool
				if c, ok = strings.CutPrefix(c, "$ "); !ok {
					d.Errorf("%s: no command before %q", b.where, c)
					return
				}
				from := i
				for i < len(b.lines) && !strings.HasPrefix(b.lines[i], "$ ") {
					i++
				}
				want = b.lines[from:i]
			} else {
				c, _, _ = strings.Cut(c, "  ")
			}
			if !command.MatchString(c) {
				d.Errorf("%s: neither a command nor fenced: %q", b.where, c)
				return
			}
			d.command(b.where, c, want)
		}
	default:
		d.Errorf("%s: a fence of kind %q", b.where, b.kind)
	}
}

// yaml is a table of limits, which must be good, or an edit of the practice
// house that the script drill-house makes too.
func (d *docsRun) yaml(b block) {
	text := strings.Join(b.lines, "\n") + "\n"
	if strings.HasPrefix(text, "kind: ") {
		d.write("limits.yaml", text)
		d.command(b.where, "cazward limits check limits.yaml", []string{"limits.yaml: good"})
		return
	}
	for _, f := range d.edits() {
		if d.read(f) == text {
			d.seen[f] = true
			before := d.read(strings.TrimSuffix(f, "-new") + "-old")
			d.write("blower.house.yaml", strings.Replace(d.read("blower.house.yaml"), before, text, 1))
			return
		}
	}
	d.Errorf("%s: neither limits nor an edit of the script drill-house:\n%s", b.where, text)
}

// edits are the files of the script drill-house that the documentation says to
// write; the slip is only told of.
func (d *docsRun) edits() (out []string) {
	files, err := filepath.Glob(filepath.Join(d.dir, "ANSWERS/drill-house/*-new"))
	if err != nil || len(files) < 2 {
		d.Fatalf("%v, %v", files, err)
	}
	for _, f := range files {
		if name := filepath.Base(f); name != "slip-new" {
			out = append(out, "ANSWERS/drill-house/"+name)
		}
	}
	return out
}

// command runs one, or holds that what is not run is there.
func (d *docsRun) command(where, c string, want []string) {
	if rest, ok := strings.CutPrefix(c, "go run ./cmd/cazward"); ok {
		if c = "cazward" + rest; rest == "" {
			return
		}
	}
	d.seen[c] = true
	if slices.ContainsFunc(notRun, func(n struct{ command, why, test string }) bool { return n.command == c }) {
		return
	}
	if program := command.FindStringSubmatch(c)[1]; program == "go" || strings.HasPrefix(program, ".ci/") {
		return // it runs tests; TestDocsNames looks for packages, scripts and tests
	}
	line := c
	if l := inPlace[c]; l != "" {
		line = l
	}
	out, err := d.sh(line)
	refused := slices.ContainsFunc(want, func(l string) bool { return strings.HasPrefix(l, "cazward: error: ") })
	if judges := strings.HasPrefix(c, "cazward judge ") && !strings.Contains(out, "cazward: error: "); (err != nil) != refused && !judges {
		d.Errorf("%s: %s: %v\n%s", where, c, err, out)
		return
	}
	if !like(want, out) {
		d.Errorf("%s: %s prints\n%s", where, c, out)
		for _, l := range want {
			if l != "..." && !like([]string{"...", l, "..."}, out) {
				d.Errorf("and nowhere\n%s", l)
			}
		}
	}
}

// like reports whether out is what is shown, "..." standing for any lines.
func like(shown []string, out string) bool {
	mask := func(s string) string { return changing.ReplaceAllString(strings.TrimRight(s, "\n"), "#") }
	pattern := ""
	for _, l := range strings.Split(mask(strings.Join(shown, "\n")), "\n") {
		if l == "..." {
			pattern += `(.*\n)*`
		} else {
			pattern += regexp.QuoteMeta(l) + `\n`
		}
	}
	return regexp.MustCompile("^" + pattern + "$").MatchString(mask(out) + "\n")
}

// sh runs a line of the shell in the folder, with nothing of the developer's.
func (d *docsRun) sh(line string) (string, error) {
	cmd := exec.Command("sh", "-c", line)
	cmd.Dir = d.dir
	for _, v := range os.Environ() {
		if !strings.HasPrefix(v, "CAZWARD_") {
			cmd.Env = append(cmd.Env, v)
		}
	}
	for _, v := range []string{"HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME"} {
		cmd.Env = append(cmd.Env, v+"="+filepath.Join(d.dir, "home"))
	}
	out, err := cmd.CombinedOutput()
	return string(out), err
}

func (d *docsRun) write(name, text string) {
	d.Helper()
	name = filepath.Join(d.dir, name)
	if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
		d.Fatal(err)
	}
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		d.Fatal(err)
	}
}

func (d *docsRun) read(name string) string {
	d.Helper()
	b, err := os.ReadFile(filepath.Join(d.dir, name))
	if err != nil {
		d.Fatal(err)
	}
	return string(b)
}

// namesVerb reports whether a command is only the name of a verb.
func namesVerb(c string) bool {
	path, ok := strings.CutPrefix(c, "cazward ")
	return ok && path == strings.ToLower(path) && verbHelp(strings.Fields(path)...) != ""
}

// verbHelp is the help of a verb, and empty where there is none of that name.
func verbHelp(path ...string) string {
	var out bytes.Buffer
	if Main(append(slices.Clone(path), "--help"), strings.NewReader(""), &out, &out) != 0 {
		return ""
	}
	if usage := "usage: " + strings.Join(append([]string{"cazward"}, path...), " "); !regexp.MustCompile("(?m)^" + regexp.QuoteMeta(usage) + "( |$)").Match(out.Bytes()) {
		return ""
	}
	return out.String()
}

// verbsIn are the verbs that a help lists.
func verbsIn(help string) (out []string) {
	_, list, _ := strings.Cut(help, "\nverbs:\n")
	list, _, _ = strings.Cut(list, "\n\n")
	for _, m := range regexp.MustCompile(`(?m)^  ([a-z]+)  `).FindAllStringSubmatch(list, -1) {
		out = append(out, m[1])
	}
	return out
}

var flagShown = regexp.MustCompile(`(?:^|[ |])(-[a-z]|--[a-z0-9-]+)\b`)

// verbsOf are the verbs that a piece of code names, "desk add|queue" two of
// them, each with its help; none where it begins with no verb.
func verbsOf(code string) map[string]string {
	words := strings.Fields(strings.TrimPrefix(code, "cazward "))
	help := verbHelp(words[0])
	if help == "" || strings.HasPrefix(words[0], "-") {
		return nil
	}
	if under := verbsIn(help); len(words) > 1 && len(under) > 0 {
		out := map[string]string{}
		for _, w := range strings.Split(words[1], "|") {
			out[words[0]+" "+w] = verbHelp(words[0], w)
		}
		return out
	}
	return map[string]string{words[0]: help}
}

// missingFlags are the flags in code that no help of verbs has.
func missingFlags(code string, verbs map[string]string) (out []string) {
	for _, m := range flagShown.FindAllStringSubmatch(code, -1) {
		has := false
		for _, help := range verbs {
			has = has || regexp.MustCompile(`(?m)^ +(-\w, |[a-z ]+ )?`+m[1]+`[ ,]`).MatchString(help)
		}
		if !has {
			out = append(out, m[1])
		}
	}
	return out
}

// Each verb and flag that the documentation names is one of the program, and
// the table of verbs has all of them.
func TestDocsVerbs(t *testing.T) {
	var out bytes.Buffer
	Main([]string{"--help"}, strings.NewReader(""), &out, &out)
	all := map[string]string{}
	for _, v := range verbsIn(out.String()) {
		all[v] = verbHelp(v)
		for _, u := range verbsIn(all[v]) {
			all[v+" "+u] = verbHelp(v, u)
		}
	}
	if len(all) < 10 {
		t.Fatalf("only %d verbs in the help", len(all))
	}

	for _, name := range docs {
		for _, b := range blocks(t, name) {
			if b.kind != "inline" {
				continue
			}
			code := b.lines[0]
			verbs := verbsOf(code)
			for v, help := range verbs {
				if help == "" {
					t.Errorf("%s: there is no verb %q", b.where, v)
				}
			}
			if name == "README.md" && strings.HasPrefix(code, "-") {
				verbs = all // flags alone in DEVELOPERS.md are those of scripts
			}
			if missing := missingFlags(code, verbs); verbs != nil && missing != nil {
				t.Errorf("%s: %s: there is no flag %v", b.where, code, missing)
			}
		}
	}

	inTable := map[string]bool{}
	for _, row := range tableRows(t, "README.md", "## Verbs") {
		verbs := map[string]string{}
		for _, s := range span.FindAllString(row[0], -1) {
			for v, help := range verbsOf(strings.Trim(s, "`")) {
				verbs[v], inTable[v] = help, true
			}
		}
		if len(verbs) == 0 {
			t.Errorf("no verb in %q", row[0])
		}
		for _, s := range span.FindAllString(row[1], -1) {
			if missing := missingFlags(strings.Trim(s, "`"), verbs); missing != nil {
				t.Errorf("%s: there is no flag %v", row[0], missing)
			}
		}
	}
	for v, help := range all {
		if shell := strings.HasPrefix(v, "completion "); !inTable[v] && !shell && (v == "completion" || len(verbsIn(help)) == 0) {
			t.Errorf("the table has no verb %s", v)
		}
	}
}

func readDoc(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(repository, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// readmeSays holds that a sentence stands in README.md, however it is wrapped.
func readmeSays(t *testing.T, sentence string) {
	t.Helper()
	if text := strings.Join(strings.Fields(readDoc(t, "README.md")), " "); !strings.Contains(text, sentence) {
		t.Errorf("README.md does not say %q", sentence)
	}
}

// tableRows are the cells of the table under a heading, without its head.
func tableRows(t *testing.T, name, heading string) (out [][]string) {
	t.Helper()
	_, text, _ := strings.Cut(readDoc(t, name), "\n"+heading+"\n")
	text, _, _ = strings.Cut(text, "\n## ")
	for _, l := range strings.Split(text, "\n") {
		if strings.HasPrefix(l, "| ") && !strings.HasPrefix(l, "| ---") {
			cells := strings.Split(strings.Trim(l, "| "), " | ")
			for i := range cells {
				cells[i] = strings.ReplaceAll(cells[i], `\|`, "|")
			}
			out = append(out, cells)
		}
	}
	if len(out) < 2 {
		t.Fatalf("%s has no table under %q", name, heading)
	}
	return out[1:]
}

// The table of decisions and the list of other exits are those of the program.
func TestDocsExits(t *testing.T) {
	rows := tableRows(t, "README.md", "## Decisions and exit codes")
	if len(rows) != len(procedure.Decisions) {
		t.Fatalf("%d rows", len(rows))
	}
	for i, d := range procedure.Decisions {
		headline := strings.Replace(wording.Headline(wording.English, d, procedure.TestIn, 2), "2", "n", 1)
		if later := wording.Headline(wording.English, d, procedure.TestOut, 2); d == procedure.Hold {
			headline += " (later phases: " + later + ")"
		}
		want := []string{"`" + string(d) + "`", d.SignalWord(), headline, fmt.Sprint(d.ExitCode())}
		if !slices.Equal(rows[i], want) {
			t.Errorf("row %d is %q, want %q", i+1, rows[i], want)
		}
	}
	readmeSays(t, fmt.Sprintf("Other exits: %d internal fault, %d usage, %d input refused, %d integrity failed, %d record in use, %d interrupted.",
		exitInternal, exitUsage, exitRefused, exitIntegrity, exitInUse, exitInterrupt))
}

// The table of the study says what testdata/study has, which .ci/study makes anew.
func TestDocsStudy(t *testing.T) {
	made := map[string][]string{}
	for _, c := range tableRows(t, "testdata/study/study.md", "## Without noise") {
		made[c[0]+" "+c[1]] = c
	}
	const held, median, most = 2, 10, 11
	for _, row := range tableRows(t, "README.md", "## How often the worst case is found") {
		want := row[:1:1]
		for _, order := range []string{"published", "asked", "suggested"} {
			c := made[row[0]+" "+order]
			if len(c) <= most {
				t.Fatalf("study.md has no row %s %s", row[0], order)
			}
			want = append(want, c[held]+" %")
		}
		s := made[row[0]+" suggested"]
		if want = append(want, s[median]+", "+s[most]); !slices.Equal(row, want) {
			t.Errorf("README.md says %q, study.md %q", row, want)
		}
	}
}

var (
	// What stands in capitals is left to the reader: layout-N.db.gz.
	pathShown   = regexp.MustCompile(`(?:^|[^\w./-])((?:\./)?(?:\.ci|cmd|forms|limits|procedure|report|testdata)/[\w./-]+|[\w/]+\.go)\b`)
	placeholder = regexp.MustCompile(`\b[A-Z]+\b`)
	testShown   = regexp.MustCompile(`\b(?:([a-z]+)\.)?((?:Test|Fuzz)[A-Z]\w*)(\.\.\.|[|'])?`)
)

// Each file, folder and test that the documentation names is there.
func TestDocsNames(t *testing.T) {
	var files []string
	err := filepath.WalkDir("../..", func(path string, e os.DirEntry, err error) error {
		files = append(files, strings.TrimPrefix(filepath.ToSlash(path), "../../"))
		if e != nil && e.Name() == ".git" && e.IsDir() {
			return filepath.SkipDir
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	tests := allTests(t, "../..")
	for _, name := range docs {
		for n, l := range strings.Split(readDoc(t, name), "\n") {
			for _, m := range pathShown.FindAllStringSubmatch(l, -1) {
				pattern := placeholder.ReplaceAllString(strings.TrimPrefix(m[1], "./"), "*")
				if !slices.ContainsFunc(files, func(f string) bool { return endsIn(f, pattern) }) {
					t.Errorf("%s:%d: there is no %s", name, n+1, m[1])
				}
			}
			for _, m := range testShown.FindAllStringSubmatch(l, -1) {
				found := false
				for have := range tests {
					pkg, test, _ := strings.Cut(have, ".")
					// With an ellipsis, or in a list for -run, it is how names begin.
					found = found || (m[1] == "" || m[1] == pkg) && (test == m[2] || m[3] != "" && strings.HasPrefix(test, m[2]))
				}
				if !found {
					t.Errorf("%s:%d: there is no test %s", name, n+1, m[0])
				}
			}
		}
	}
}

// endsIn reports whether the last elements of a path are those of a pattern.
func endsIn(path, pattern string) bool {
	elements := strings.Split(path, "/")
	n := strings.Count(pattern, "/") + 1
	if len(elements) < n {
		return false
	}
	ok, err := filepath.Match(pattern, strings.Join(elements[len(elements)-n:], "/"))
	return ok && err == nil
}
