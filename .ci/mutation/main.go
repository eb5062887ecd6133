// Command mutation breaks the code that decides in small ways, one at a time,
// and runs the tests on each: what they do not notice is printed. The tree is
// not touched, the go command reads the broken file through an overlay.
//
// Which places are tried follows from the code alone: each place has a key,
// and those whose SHA-256 is smallest are taken, so that an edit elsewhere
// changes no choice. A survivor that is no fault has its key and the reason
// in explained.txt; any other survivor fails the run.
package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"time"
)

// area is a part of the code, how many places of it are broken, and the tests
// that should notice, quickest first.
type area struct {
	name  string
	files []string // globs
	n     int
	tests []suite
}

// suite is one run of the tests of one package.
type suite struct {
	pkg  string
	args []string
	long bool // takes minutes; left out by -quick
}

// Tests that take a second and more, and those that take some tenths: run only
// on what the rest does not notice.
const (
	slow   = "TestAdversaryEachStepLeftOut|TestLastStopAnywhere|TestAdversaryEachFactCorrected|TestAdversaryHazardAtEachStep|TestWorseIsNeverMilder|TestAdversaryEventCutOut|TestAdversaryUnknownRow|TestRandomHomesReplay|TestLastKinds|TestLastFanAnywhere|TestReplayAtEveryPrefix|TestBadFiles"
	middle = "TestDecisions|TestContradictions|TestNothingMissingPasses|TestAdversaryFailureMadeStale|TestLastFailedThenStaleThenOther|TestContradictionOrder|TestLastColdSpillThenFanFound|TestAdversaryNightAnywhere|TestAdversaryUnventedByVent|TestAdversaryDangerUnsaid|TestContradictionFireplace|TestAdversaryHazardTalkedDown|TestContradictionDoors|TestStepForIsTheStepAsked|TestManyRows"
)

func quick(pkg string) suite {
	return suite{pkg, []string{"-test.skip", "^(" + slow + "|" + middle + ")$"}, false}
}
func medium(pkg string) suite { return suite{pkg, []string{"-test.run", "^(" + middle + ")$"}, true} }
func rest(pkg string) suite   { return suite{pkg, []string{"-test.run", "^(" + slow + ")$"}, true} }
func whole(pkg string) suite  { return suite{pkg, nil, false} }
func late(pkg string) suite   { return suite{pkg, nil, true} }

var homes = suite{"cmd/cazward", []string{"-test.run", "^(TestInventedHomes|TestSheetRefused|TestBadInput)$"}, true}

var areas = []area{
	{"evaluation", []string{"procedure/evaluation/*.go"}, 60,
		[]suite{quick("procedure/evaluation"), medium("procedure/evaluation"), rest("procedure/evaluation"), homes}},
	{"reading", []string{"procedure/reading/*.go"}, 40,
		[]suite{whole("procedure/reading"), whole("forms"), quick("procedure/evaluation"), late("report"), homes}},
	{"procedure", []string{"procedure/*.go"}, 35,
		[]suite{whole("procedure"), quick("limits"), quick("procedure/evaluation"), late("procedure/sequence"), late("procedure/journal"), medium("procedure/evaluation"), rest("procedure/evaluation"), homes}},
	{"sequence", []string{"procedure/sequence/*.go"}, 45,
		[]suite{quick("procedure/sequence"), medium("procedure/sequence"), quick("procedure/evaluation"), rest("procedure/sequence"), late("forms"), medium("procedure/evaluation"), rest("procedure/evaluation"), homes}},
	{"limits", []string{"limits/*.go"}, 30,
		[]suite{quick("limits"), medium("limits"), rest("limits"), quick("procedure/evaluation"), homes}},
}

// place is one small break of one file: the bytes from..to become text.
type place struct {
	area     *area
	file     string
	line     int
	from, to int
	text     string
	key      string
}

func main() {
	share := flag.Float64("share", 1, "this share of the places of each area, from 0 to 1")
	only := flag.String("only", "", "only places whose key matches this `expression`")
	in := flag.String("area", "", "only this `area`")
	list := flag.Bool("list", false, "print the keys and run nothing")
	jobs := flag.Int("jobs", 2, "how many at once")
	limit := flag.Duration("limit", 10*time.Minute, "longest run of one suite; one that hangs has noticed")
	logTo := flag.String("log", "", "write a line for each place to this `file`, and skip those it has already as noticed")
	quick := flag.Bool("quick", false, "without the suites that take minutes: what is printed may yet be noticed by those")
	flag.Parse()
	if *quick {
		for i := range areas {
			areas[i].tests = slices.DeleteFunc(areas[i].tests, func(s suite) bool { return s.long })
		}
	}
	if err := run(*share, *only, *in, *list, *jobs, *limit, *logTo); err != nil {
		fmt.Fprintln(os.Stderr, "mutation:", err)
		os.Exit(1)
	}
}

func run(share float64, only, in string, list bool, jobs int, limit time.Duration, logTo string) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	match, err := regexp.Compile(only)
	if err != nil {
		return err
	}
	explained, err := readExplained(".ci/mutation/explained.txt")
	if err != nil {
		return err
	}
	done := map[string]bool{}
	if b, err := os.ReadFile(logTo); err == nil {
		for _, l := range strings.Split(string(b), "\n") {
			if k, ok := strings.CutPrefix(l, "noticed\t"); ok {
				done[strings.Split(k, "\t")[0]] = true
			}
		}
	}
	var log *os.File
	if logTo != "" {
		if log, err = os.OpenFile(logTo, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644); err != nil {
			return err
		}
		defer log.Close()
	}
	tmp, err := os.MkdirTemp("", "mutation")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)

	var missed, known []string
	tried, noticed := 0, 0
	known2 := map[string]bool{}
	var mu sync.Mutex
	for i := range areas {
		a := &areas[i]
		if in != "" && a.name != in {
			continue
		}
		places, err := find(a)
		if err != nil {
			return err
		}
		for _, p := range places {
			known2[p.key] = true
		}
		want := int(share*float64(a.n) + 0.5)
		if only != "" {
			want = len(places)
		}
		var queue []place
		for _, p := range places {
			if match.MatchString(p.key) {
				queue = append(queue, p)
			}
		}
		if list {
			for _, p := range queue[:min(want, len(queue))] {
				fmt.Printf("%s:%d\t%s\n", p.file, p.line, p.key)
			}
			continue
		}
		// A place whose break does not compile is none; the next takes its turn.
		next, counted := 0, 0
		var wg sync.WaitGroup
		for range jobs {
			wg.Add(1)
			go func() {
				defer wg.Done()
				for ctx.Err() == nil {
					mu.Lock()
					if counted >= want || next >= len(queue) {
						mu.Unlock()
						return
					}
					p, id := queue[next], next
					next++
					counted++
					mu.Unlock()
					start := time.Now()
					result, by := "noticed", "before"
					if !done[p.key] {
						result, by = try(ctx, p, filepath.Join(tmp, fmt.Sprintf("%s%d", a.name, id)), limit)
					}
					mu.Lock()
					switch {
					case ctx.Err() != nil:
					case result == "invalid":
						counted--
					case result == "noticed":
						tried++
						noticed++
						if log != nil && by != "before" {
							fmt.Fprintf(log, "noticed\t%s\t%s\t%.1fs\n", p.key, by, time.Since(start).Seconds())
						}
					default:
						tried++
						where := fmt.Sprintf("%s:%d: %s", p.file, p.line, p.key)
						if reason := explained[p.key]; reason != "" {
							known = append(known, where+"\n    "+reason)
						} else {
							missed = append(missed, where)
							fmt.Fprintln(os.Stderr, "missed:", where)
						}
						if log != nil {
							fmt.Fprintf(log, "missed\t%s\t%s:%d\t%.1fs\n", p.key, p.file, p.line, time.Since(start).Seconds())
						}
					}
					mu.Unlock()
				}
			}()
		}
		wg.Wait()
		if ctx.Err() != nil {
			return ctx.Err()
		}
		fmt.Fprintf(os.Stderr, "%s done: %d tried so far, %d noticed\n", a.name, tried, noticed)
	}
	if list {
		return nil
	}
	sort.Strings(known)
	for _, k := range known {
		fmt.Println("survives, explained:", k)
	}
	sort.Strings(missed)
	for _, m := range missed {
		fmt.Println("missed:", m)
	}
	fmt.Printf("%d small breaks tried, %d noticed, %d explained, %d missed\n", tried, noticed, len(known), len(missed))
	if in == "" {
		for k := range explained {
			if !known2[k] {
				return fmt.Errorf("explained.txt: no such place any more, delete it: %s", k)
			}
		}
	}
	if len(missed) > 0 {
		return fmt.Errorf("%d breaks that no test notices: write the test, or the reason into .ci/mutation/explained.txt", len(missed))
	}
	return nil
}

// readExplained reads key lines, each followed by an indented reason.
func readExplained(path string) (map[string]string, error) {
	f, err := os.Open(path)
	if os.IsNotExist(err) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	m, key := map[string]string{}, ""
	s := bufio.NewScanner(f)
	for n := 1; s.Scan(); n++ {
		l := s.Text()
		switch {
		case strings.TrimSpace(l) == "" || strings.HasPrefix(l, "#"):
		case l[0] == ' ' && key != "":
			m[key] = strings.TrimSpace(m[key] + " " + strings.TrimSpace(l))
		case l[0] == ' ':
			return nil, fmt.Errorf("%s:%d: a reason without a place", path, n)
		default:
			if key != "" && m[key] == "" {
				return nil, fmt.Errorf("%s:%d: no reason for %s", path, n, key)
			}
			key = l
		}
	}
	if key != "" && m[key] == "" {
		return nil, fmt.Errorf("%s: no reason for %s", path, key)
	}
	return m, s.Err()
}

// find lists the places of an area in the order in which they are tried.
func find(a *area) ([]place, error) {
	var all []place
	for _, g := range a.files {
		names, err := filepath.Glob(g)
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			ps, err := inFile(name)
			if err != nil {
				return nil, err
			}
			all = append(all, ps...)
		}
	}
	seen := map[string]int{}
	for i := range all {
		all[i].area = a
		seen[all[i].key]++
		if n := seen[all[i].key]; n > 1 {
			all[i].key += fmt.Sprintf(" #%d", n)
		}
	}
	order := func(p place) string { h := sha256.Sum256([]byte(p.key)); return string(h[:]) }
	sort.Slice(all, func(i, j int) bool { return order(all[i]) < order(all[j]) })
	return all, nil
}

var swaps = map[token.Token]string{
	token.LSS: "<=", token.LEQ: "<", token.GTR: ">=", token.GEQ: ">",
	token.EQL: "!=", token.NEQ: "==",
	token.ADD: "-", token.SUB: "+", token.MUL: "/", token.QUO: "*",
	token.LAND: "||", token.LOR: "&&",
}

// inFile lists the small breaks of a file.
func inFile(name string) ([]place, error) {
	src, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, name, src, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	at := func(p token.Pos) int { return set.Position(p).Offset }
	var places []place
	fn := ""
	add := func(from, to token.Pos, text string) {
		line := set.Position(from).Line
		b := at(from)
		start := bytes.LastIndexByte(src[:b], '\n') + 1
		end := start + bytes.IndexByte(src[start:], '\n')
		stop := min(at(to), end)
		was := strings.TrimSpace(string(src[start:end]))
		now := strings.TrimSpace(string(src[start:b]) + text + string(src[stop:end]))
		places = append(places, place{file: name, line: line, from: b, to: at(to), text: text,
			key: fmt.Sprintf("%s %s: %s => %s", name, fn, was, now)})
	}
	for _, d := range f.Decls {
		g, ok := d.(*ast.GenDecl)
		if ok && g.Tok == token.IMPORT {
			continue
		}
		fn = "(declaration)"
		if d, ok := d.(*ast.FuncDecl); ok {
			fn = d.Name.Name
		}
		ast.Inspect(d, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.BinaryExpr:
				if s := swaps[n.Op]; s != "" && !text(n.X) && !text(n.Y) {
					add(n.OpPos, n.OpPos+token.Pos(len(n.Op.String())), s)
				}
			case *ast.UnaryExpr:
				if n.Op == token.SUB || n.Op == token.NOT {
					add(n.OpPos, n.OpPos+1, "")
				}
			case *ast.BasicLit:
				switch n.Kind {
				case token.INT:
					if v, err := strconv.ParseInt(n.Value, 0, 64); err == nil {
						add(n.Pos(), n.End(), strconv.FormatInt(v+1, 10))
					}
				case token.FLOAT:
					if v, err := strconv.ParseFloat(n.Value, 64); err == nil {
						add(n.Pos(), n.End(), strconv.FormatFloat(v*1.25, 'g', -1, 64))
					}
				}
			case *ast.IfStmt:
				add(n.Cond.Pos(), n.Cond.End(), "false && ("+string(src[at(n.Cond.Pos()):at(n.Cond.End())])+")")
			case *ast.CaseClause:
				if len(n.Body) > 0 {
					add(n.Body[0].Pos(), n.Body[0].Pos(), "if true { break }; ")
				}
			case *ast.ReturnStmt:
				for _, r := range n.Results {
					if id, ok := r.(*ast.Ident); ok && (id.Name == "true" || id.Name == "false") {
						add(id.Pos(), id.End(), map[string]string{"true": "false", "false": "true"}[id.Name])
					}
				}
			}
			return true
		})
	}
	return places, nil
}

// text tells a string literal, whose + is no arithmetic.
func text(x ast.Expr) bool {
	switch x := x.(type) {
	case *ast.BasicLit:
		return x.Kind == token.STRING
	case *ast.BinaryExpr:
		return x.Op == token.ADD && (text(x.X) || text(x.Y))
	}
	return false
}

// try breaks one place and runs the suites until one notices: "noticed",
// "missed", or "invalid" where the break does not compile.
func try(ctx context.Context, p place, tmp string, limit time.Duration) (string, string) {
	src, err := os.ReadFile(p.file)
	if err != nil {
		return "invalid", ""
	}
	broken := string(src[:p.from]) + p.text + string(src[p.to:])
	if err := os.MkdirAll(tmp, 0o755); err != nil {
		return "invalid", ""
	}
	defer os.RemoveAll(tmp)
	file := filepath.Join(tmp, "broken.go.txt")
	orig, _ := filepath.Abs(p.file)
	overlay, _ := json.Marshal(map[string]map[string]string{"Replace": {orig: file}})
	list := filepath.Join(tmp, "overlay.json")
	if os.WriteFile(file, []byte(broken), 0o644) != nil || os.WriteFile(list, overlay, 0o644) != nil {
		return "invalid", ""
	}
	if exec.CommandContext(ctx, "go", "build", "-overlay", list, "./"+filepath.Dir(p.file)).Run() != nil {
		return "invalid", ""
	}
	built := map[string]string{}
	for _, s := range p.area.tests {
		bin := built[s.pkg]
		if bin == "" {
			bin = filepath.Join(tmp, strings.ReplaceAll(s.pkg, "/", "-")+".test")
			built[s.pkg] = bin
			c := exec.CommandContext(ctx, "go", "test", "-c", "-overlay", list, "-ldflags", "-s -w", "-vet=off", "-o", bin, "./"+s.pkg)
			if out, err := c.CombinedOutput(); err != nil {
				fmt.Fprintf(os.Stderr, "%s: the tests do not build: %s\n", p.key, out)
				return "invalid", ""
			}
		}
		if notices(ctx, bin, s, limit) {
			return "noticed", s.pkg
		}
	}
	return "missed", ""
}

func notices(ctx context.Context, bin string, s suite, limit time.Duration) bool {
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	// A break can make a loop that eats memory: the shell holds it to 6 GiB.
	args := append([]string{"-c", "ulimit -v 6291456; exec \"$0\" \"$@\"", bin, "-test.failfast"}, s.args...)
	c := exec.CommandContext(ctx, "sh", args...)
	c.Dir = s.pkg
	return c.Run() != nil
}
