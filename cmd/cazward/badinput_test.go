//go:build linux || darwin

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"flag"
	"fmt"
	"image"
	"image/png"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"cazward/forms"
	"cazward/procedure/wording"
)

var updateBad = flag.Bool("update-bad-input", false, "write what the program says into testdata/badinput.txtar; read the difference")

// badCase is one bad input: a command line, what is on standard input, and
// all that the program must say.
type badCase struct {
	head string // comment lines before it
	line string // as it stands in the table
	args []string
	in   string // file on standard input
	want string // exit code, standard error, and standard output behind "| "
}

// TestBadInput runs each command of testdata/badinput.txtar, a table of bad
// inputs over all verbs: the exit code, every word of the message, and that
// no file was made, changed or removed.
func TestBadInput(t *testing.T) {
	const table = "../../testdata/badinput.txtar"
	ar, err := txtar.ParseFile(table)
	if err != nil {
		t.Fatal(err)
	}
	cases := readBadCases(t, string(ar.Comment))
	if len(cases) < 120 {
		t.Errorf("%d bad inputs, want 120 or more", len(cases))
	}
	tablePath, err := filepath.Abs(table)
	if err != nil {
		t.Fatal(err)
	}
	dir := badFolder(t, ar)
	before := tree(t, dir)
	verbs := map[string]bool{}
	for i, c := range cases {
		verbs[c.args[0]] = true
		got := runBad(t, c)
		if !calm(got) {
			t.Errorf("%s: what a terminal acts on: %q", c.line, got)
		}
		for _, l := range strings.Split(got, "\n") {
			if len(l) > 1200 {
				t.Errorf("%s: a line of %d bytes", c.line, len(l))
			}
		}
		if strings.HasPrefix(got, "exit 1\n") || strings.HasPrefix(got, "exit 0\n") {
			t.Errorf("%s: no refusal:\n%s", c.line, got)
		}
		if *updateBad {
			cases[i].want = got
		} else if got != c.want {
			t.Errorf("%s\ngot:\n%s\nwant:\n%s", c.line, got, c.want)
		}
		if after := tree(t, dir); after != before {
			t.Errorf("%s: it left other files:%s", c.line, changes(before, after))
			before = after
		}
	}
	for _, v := range []string{"walk", "show", "judge", "report", "attach", "transcribe", "notice", "sheet", "verify", "limits", "forecast", "air", "airfree", "convert", "drill", "desk", "completion", "version"} {
		if !verbs[v] {
			t.Errorf("no bad input of %s", v)
		}
	}
	if *updateBad {
		var b strings.Builder
		for _, c := range cases {
			fmt.Fprintf(&b, "%s$ %s\n%s\n", c.head, c.line, c.want)
		}
		ar.Comment = []byte(b.String())
		if err := os.WriteFile(tablePath, txtar.Format(ar), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// badFolder is a folder with the files of the table, in which the program runs
// then and finds nothing of the developer's.
func badFolder(t *testing.T, ar *txtar.Archive) string {
	t.Helper()
	homes, err := filepath.Abs(homesDir)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	t.Chdir(dir)
	t.Setenv("HOME", dir)
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(dir, "config"))
	t.Setenv("XDG_DATA_HOME", filepath.Join(dir, "data"))
	t.Setenv("CAZWARD_REGISTER", "")
	badFiles(t, homes, ar)
	return dir
}

// TestBadInputInSpanish gives the same commands with --lang es: they are refused
// with the same exit code and as many lines, and nothing is left English but
// what is said of the lines of a record, a sheet or a file that people edit.
func TestBadInputInSpanish(t *testing.T) {
	ar, err := txtar.ParseFile("../../testdata/badinput.txtar")
	if err != nil {
		t.Fatal(err)
	}
	cases := readBadCases(t, string(ar.Comment))
	badFolder(t, ar)
	t.Cleanup(func() { forms.Speak(wording.English) }) // a walk that is refused has spoken
	english := regexp.MustCompile(`(?i)\b(the|is|are|give|name|see|write|not|with|cannot|was|unknown|usage|hint|note)\b`)
	// A place in a file, what a database says of itself, and codes that are typed.
	inFile := regexp.MustCompile(`^cazward: error: .*(:\d+:|file is not a database)`)
	typed := regexp.MustCompile(`"[^"]*"|--[a-z0-9-]+|; uso: .*|las razones son .*`)
	spanish := 0
	for _, c := range cases {
		if slices.Contains(c.args, "--lang") || c.args[0] == "convert" || c.args[0] == "version" { // they take no --lang, or have one
			continue
		}
		c.args = append(slices.Clone(c.args), "--lang", "es")
		got, want := strings.Split(runBad(t, c), "\n"), strings.Split(c.want, "\n")
		if strings.Contains(got[1], `opción desconocida: --lang`) {
			continue // a verb without it
		}
		spanish++
		if got[0] != want[0] || len(got) != len(want) {
			t.Errorf("%s: in Spanish\n%s\nin English\n%s", c.line, strings.Join(got, "\n"), strings.Join(want, "\n"))
			continue
		}
		for i, l := range got[1:] {
			if strings.HasPrefix(want[i+1], "cazward: hint: ") != strings.HasPrefix(l, "cazward: ayuda: ") {
				t.Errorf("%s: %q stands for %q", c.line, l, want[i+1])
			}
			if inFile.MatchString(l) || inFile.MatchString(got[i]) && strings.Contains(got[i], ".yaml:") {
				continue
			}
			if strings.HasPrefix(l, "cazward: ") && english.MatchString(typed.ReplaceAllString(l, "")) {
				t.Errorf("%s: English in %q", c.line, l)
			}
		}
	}
	if spanish < 60 {
		t.Errorf("only %d were refused in Spanish", spanish)
	}
}

func readBadCases(t *testing.T, s string) []badCase {
	t.Helper()
	var out []badCase
	head := ""
	for _, l := range strings.SplitAfter(s, "\n") {
		switch {
		case strings.HasPrefix(l, "$ "):
			c := badCase{head: head, line: strings.TrimSuffix(l[2:], "\n")}
			head = ""
			words := badWords(t, c.line)
			for i := 0; i < len(words); i++ {
				if words[i] == "<" && i+1 < len(words) {
					c.in = words[i+1]
					break
				}
				c.args = append(c.args, words[i])
			}
			out = append(out, c)
		case strings.HasPrefix(l, "#"):
			head += l
		case l == "\n" || l == "":
		case len(out) == 0:
			t.Fatalf("before the first command: %q", l)
		default:
			out[len(out)-1].want += l
		}
	}
	return out
}

// badWords splits a command line at spaces; a word in quotes is a Go string.
func badWords(t *testing.T, s string) []string {
	t.Helper()
	var out []string
	for s = strings.TrimLeft(s, " "); s != ""; s = strings.TrimLeft(s, " ") {
		if s[0] == '"' {
			q, err := strconv.QuotedPrefix(s)
			if err != nil {
				t.Fatalf("%s: %v", s, err)
			}
			w, _ := strconv.Unquote(q)
			out, s = append(out, w), s[len(q):]
			continue
		}
		w, rest, _ := strings.Cut(s, " ")
		out, s = append(out, w), rest
	}
	return out
}

func runBad(t *testing.T, c badCase) string {
	t.Helper()
	var in []byte
	if c.in != "" {
		b, err := os.ReadFile(c.in)
		if err != nil {
			t.Fatal(err)
		}
		in = b
	}
	var out, errs bytes.Buffer
	e := homeEnv()
	e.in, e.out, e.err, e.ctx = bytes.NewReader(in), &out, &errs, context.Background()
	noticeTo(&errs)
	code := report(&errs, run(e, c.args))
	var b strings.Builder
	fmt.Fprintf(&b, "exit %d\n%s", code, errs.String())
	if s := strings.TrimSuffix(out.String(), "\n"); s != "" {
		fmt.Fprintf(&b, "| %s\n", strings.ReplaceAll(s, "\n", "\n| "))
	}
	here, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	// The hash of a record follows from every word of its sheet and table.
	said := regexp.MustCompile(`\b[0-9a-f]{64}\b`).ReplaceAllString(b.String(), "HASH")
	return strings.ReplaceAll(strings.ReplaceAll(said, here, "FOLDER"), "\n\n", "\n")
}

// tree is every file under a folder with its SHA-256.
func tree(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(dir, path)
		fmt.Fprintf(&b, "%q", rel)
		if d.Type().IsRegular() {
			data, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			fmt.Fprintf(&b, " %x", sha256.Sum256(data))
		}
		b.WriteByte('\n')
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// changes are the lines of one tree that the other has not.
func changes(was, is string) string {
	var b strings.Builder
	for _, p := range []struct{ sign, from, in string }{{"-", was, is}, {"+", is, was}} {
		for _, l := range strings.Split(p.from, "\n") {
			if !strings.Contains("\n"+p.in, "\n"+l+"\n") {
				fmt.Fprintf(&b, "\n%s%s", p.sign, l)
			}
		}
	}
	return b.String()
}

// badFiles lays out what the commands of the table name: small files from the
// table itself, and those that are made by damaging a sound one.
func badFiles(t *testing.T, homes string, ar *txtar.Archive) {
	t.Helper()
	write := func(name string, data []byte) {
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, f := range ar.Files {
		write(f.Name, f.Data)
	}
	do := func(args ...string) {
		e := homeEnv()
		var said bytes.Buffer
		e.err, e.ctx = &said, context.Background()
		n := 0
		e.id = func() string { n++; return fmt.Sprintf("%016x", n) }
		if code := report(&said, run(e, args)); code != 0 {
			t.Fatalf("%v: exit %d: %s", args, code, said.String())
		}
	}
	sheet := filepath.Join(homes, "larch-5-orphan.sheet.yaml")
	do("transcribe", sheet, "-o", "good.cazward")
	do("desk", "add", "good.cazward", "--register", "sqlite:desk.db")
	good, err := os.ReadFile("good.cazward")
	if err != nil {
		t.Fatal(err)
	}
	lines := bytes.SplitAfter(good, []byte("\n"))
	open := bytes.Join(lines[:20], nil)
	write("open.cazward", open)
	write("torn.cazward", append(bytes.Clone(open), lines[20][:40]...))
	write("gap.cazward", append(bytes.Join(lines[:10], nil), bytes.Join(lines[11:], nil)...))
	flip := bytes.Clone(good)
	flip[len(flip)/2] ^= 1
	write("flip.cazward", flip)
	write("empty.cazward", nil)
	write("nul.cazward", make([]byte, 4096))
	write("long.cazward", append(bytes.Repeat([]byte("A"), 10<<20), '\n'))
	write("escape.cazward", []byte("\x1b]0;title\x07\x1b[2J\u202e\x00{}\n"))
	write("trailing.cazward", append(bytes.Clone(good), lines[5]...))
	write("newer.cazward", resummed(t, lines[0], `"v":1`, `"v":2`))
	write("format.cazward", resummed(t, lines[0], `cazward-record`, `another-record`))
	write("hostile-home.cazward", resummed(t, lines[0], `Larch 5`, `\u001b[31mLarch\u202e`))
	practice := resummed(t, lines[0], `"practice":null`, `"practice":{"house":"tight-ranch","sha256":"00","seed":1}`)
	write("practice.cazward", practice)
	for _, d := range []string{"folder", "folder.cazward"} {
		if err := os.Mkdir(d, 0o700); err != nil {
			t.Fatal(err)
		}
	}
	good, err = os.ReadFile(sheet)
	if err != nil {
		t.Fatal(err)
	}
	write("good.sheet.yaml", good)
	edit := func(name, old, now string) {
		if !bytes.Contains(good, []byte(old)) {
			t.Fatalf("the sheet has no %q", old)
		}
		write(name, bytes.Replace(bytes.Clone(good), []byte(old), []byte(now), 1))
	}
	edit("sheet-sign.yaml", "dryer: -1.4 30s", "dryer: 1.4 30s")
	edit("sheet-range.yaml", "dryer: -1.4 30s", "dryer: -900 30s")
	edit("sheet-unit.yaml", "dryer: -1.4 30s", "dryer: -1.4 psi 30s")
	edit("sheet-step.yaml", "  hose/utility-room-1: ok", "  cellar/house: ok")
	edit("sheet-time.yaml", `at: "10:05"`, `at: "25:05"`)
	edit("sheet-key.yaml", "note:", "color: red\nnote:")
	edit("sheet-scheme.yaml", "scheme: graded-2005", "scheme: nothing")
	edit("sheet-phase.yaml", "phase: test-in", "phase: tomorrow")
	edit("sheet-date.yaml", `"2026-03-24"`, `"24.3.2026"`)
	edit("sheet-twice.yaml", "  arrive/lel: 0\n", "  arrive/lel: 0\n  arrive/lel: 10\n")
	edit("sheet-format.yaml", "format: 1", "format: 9")
	edit("sheet-kind.yaml", "kind: sheet", "kind: overlay")
	edit("sheet-zone.yaml", "reading/utility-room-1/dryer:", "reading/attic-1/dryer:")
	edit("sheet-escape.yaml", "home: Larch 5", `home: "L\x1b[31march\u202e"`)
	edit("sheet-nul.yaml", "home: Larch 5", "home: Lar\x00ch")
	edit("sheet-utf8.yaml", "home: Larch 5", "home: Lar\xffch")
	edit("sheet-long.yaml", "home: Larch 5", "home: "+strings.Repeat("A", 10<<20))
	edit("sheet-co.yaml", "co/water-heater-1: 22 8.1", "co/water-heater-1: 22 21.5")
	edit("sheet-draft.yaml", "draft/water-heater-1: -2.3 -2.4", "draft/water-heater-1: 2.3 2.4")
	write("bomb.yaml", []byte("kind: sheet\nformat: 1\na: &a [1,1,1,1,1,1,1,1]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a]\nc: &c [*b,*b,*b,*b,*b,*b,*b,*b]\nd: [*c,*c,*c,*c,*c,*c,*c,*c]\n"))
	write("deep.yaml", bytes.Repeat([]byte("["), 100000))
	write("nul.yaml", []byte("kind: overlay\x00\n"))
	write("escape.yaml", []byte("kind: \"\x1b[31mred\u202e\"\n"))
	write("escape2.yaml", []byte("\"\\e[31mkey\\u202e\": 1\n"))
	write("bom16.yaml", []byte("\xff\xfek\x00i\x00n\x00d\x00"))
	write("picture.jpg", []byte("\xff\xd8\xff\xe0 this is no picture"))
	var photo bytes.Buffer
	if err := png.Encode(&photo, image.NewGray(image.Rect(0, 0, 40, 30))); err != nil {
		t.Fatal(err)
	}
	write("photo.png", photo.Bytes())
	write("text.png", []byte("words\n"))
	write("binary.log", []byte("\x7fELF\x00\x01\x02\x03"))
	write("escape.log", []byte("time,\x1b[31mpa\x1b[0m\n10:00:00,\x1b]0;x\x07\n10:00:01,x\n"))
	write("backwards.log", []byte("time,pa\n10:00:05,-1\n10:00:04,-1\n10:00:03,-1\n10:00:02,-1\n10:00:01,-1\n"))
	write("answers.txt", []byte("none\n"))
	// A name that a careless program prints as it is.
	write("red\x1b[31m\u202e\nname.cazward", flip)
	write("red\x1b[31m\u202e\nname.yaml", []byte("kind: 7\n"))
	old := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	_ = os.Chtimes("good.cazward", old, old)
}

// resummed is a line of a record with something else in it and a sum that is
// good again.
func resummed(t *testing.T, line []byte, old, now string) []byte {
	t.Helper()
	s := strings.Replace(string(line), old, now, 1)
	if s == string(line) {
		t.Fatalf("the line has no %q: %s", old, line)
	}
	at := strings.LastIndex(s, `,"sum":"`)
	sum := sha256.Sum256([]byte(s[:at]))
	return []byte(s[:at] + `,"sum":"` + hex.EncodeToString(sum[:]) + "\"}\n")
}
