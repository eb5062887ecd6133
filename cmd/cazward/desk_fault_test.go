//go:build linux || darwin

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	"cazward/procedure/register"
)

// registers are the places that faults are tried on: SQLite, and PostgreSQL
// where there is a server.
func registers(t *testing.T, do func(t *testing.T, where string)) {
	t.Run("sqlite", func(t *testing.T) { do(t, "sqlite:"+filepath.Join(t.TempDir(), "desk.db")) })
	t.Run("postgres", func(t *testing.T) {
		u := os.Getenv("CAZWARD_TEST_POSTGRES")
		if u == "" {
			if os.Getenv("CAZWARD_REQUIRE_TOOLS") != "" {
				t.Fatal("CAZWARD_TEST_POSTGRES names no server: run .ci/postgres")
			}
			t.Skip("CAZWARD_TEST_POSTGRES names no server: run .ci/postgres")
		}
		do(t, postgresSchema(t, u))
	})
}

// program builds cazward once for the test.
func program(t *testing.T) string {
	t.Helper()
	bin := filepath.Join(t.TempDir(), "cazward")
	if out, err := exec.Command("go", "build", "-o", bin, ".").CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, out)
	}
	return bin
}

// cazward runs the program in this process.
func cazward(args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	code = Main(args, strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

func openDesk(t *testing.T, where string) (*desk, register.Store) {
	t.Helper()
	d := &desk{e: testEnv(), where: where}
	s, err := d.open(true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return d, s
}

// holds checks that a register has exactly the records of a folder, byte for
// byte, each once, and an entry for each.
func holds(t *testing.T, where, dir string) {
	t.Helper()
	_, s := openDesk(t, where)
	files := map[string]string{}
	paths, _ := filepath.Glob(filepath.Join(dir, "*", "*"+recordSuffix))
	for _, p := range paths {
		b, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		files[string(b)] = p
	}
	n := 0
	err := s.Each(context.Background(), 0, func(r register.Record) error {
		n++
		if _, ok := files[string(r.Bytes)]; !ok {
			t.Errorf("record %s is in no file, or twice", r.ID)
		}
		delete(files, string(r.Bytes))
		list, err := s.Find(context.Background(), r.ID)
		if err != nil || len(list) != 1 || list[0].Key != r.Key || list[0].Head != r.Head {
			t.Errorf("record %s has index %+v, %v", r.ID, list, err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(files) > 0 {
		t.Errorf("%d of %d files are not in the register", len(files), n+len(files))
	}
	if c, err := s.Count(context.Background(), register.Filter{Accepted: true}); err != nil || c != n {
		t.Errorf("%d entries of %d records, %v", c, n, err)
	}
	if c := 0; s.Snapshots(context.Background(), register.Filter{Accepted: true}, func(_ register.Brief, sn *register.Snapshot) error {
		if sn != nil {
			c++
		}
		return nil
	}) != nil || c != n {
		t.Errorf("%d snapshots of %d records", c, n)
	}
}

// killedHomes are enough for several batches, so that a kill finds a part kept.
const killedHomes = 360

// TestKilledAddLosesNothing kills the real program at random moments while it
// adds, twice to each register; what it had kept stays whole, and given again
// it finishes.
func TestKilledAddLosesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program and kills it")
	}
	bin, dir := program(t), t.TempDir()
	newGenerator(t, 3).write(t, dir, killedHomes)
	registers(t, func(t *testing.T, where string) {
		rnd := rand.New(rand.NewPCG(1, 2))
		add := func(where string, kill time.Duration) (killed bool) {
			c := exec.Command(bin, "desk", "add", dir, "--register", where)
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			done := make(chan error, 1)
			go func() { done <- c.Wait() }()
			select {
			case err := <-done:
				if err != nil {
					t.Fatalf("a run that was left alone: %v", err)
				}
				return false
			case <-time.After(kill):
				c.Process.Kill()
				<-done
				return true
			}
		}
		begun := time.Now() // how long it takes here and now
		add(where, time.Hour)
		whole := time.Since(begun)
		kills, part := 0, 0
		for round := range max(10, *manyKills/20) {
			place := where + fmt.Sprint(round)
			if strings.HasPrefix(where, "postgres") {
				place = postgresSchema(t, os.Getenv("CAZWARD_TEST_POSTGRES"))
			}
			last := 0
			for range 2 {
				// Later than the first quarter: before, it only starts.
				if add(place, whole/4+time.Duration(rnd.Int64N(int64(whole)*3/4))) {
					kills++
				}
				_, s := openDesk(t, place)
				n, err := s.Count(context.Background(), register.Filter{Accepted: true})
				if err != nil || n < last {
					t.Fatalf("%d kept after a kill, %d before; %v", n, last, err)
				}
				if last = n; n > 0 && n < killedHomes {
					part++
				}
			}
			add(place, time.Hour)
			holds(t, place, dir)
		}
		tried(t, "kill -9 at random moments of desk add, "+registerKind(where), kills, 0)
		t.Logf("%d kills, %d of them with a part kept", kills, part)
		if kills < 8 || part < 2 {
			t.Errorf("%d kills, %d of them with a part kept: the test hardly tests", kills, part)
		}
	})
}

// TestKilledSignLosesNothing kills the real program while it signs; given
// again, register and file have the sign-off once, and the same.
func TestKilledSignLosesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program and kills it")
	}
	bin := program(t)
	registers(t, func(t *testing.T, where string) {
		dir := t.TempDir()
		g := newGenerator(t, 4)
		rnd := rand.New(rand.NewPCG(3, 4))
		kills := 0
		for i := range max(15, *manyKills/5) {
			id, b := g.next(t)
			if !bytes.Contains(b, []byte(`"kind":"close"`)) {
				continue
			}
			file := filepath.Join(dir, fmt.Sprint(i, recordSuffix))
			if err := os.WriteFile(file, b, 0o600); err != nil {
				t.Fatal(err)
			}
			if code, _, errs := cazward("desk", "add", file, "--register", where); code != 0 {
				t.Fatal(errs)
			}
			args := []string{"desk", "sign", id, "--as", "SV", "--verdict", "return", "--note", "look again", "--register", where}
			c := exec.Command(bin, args...)
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Duration(rnd.IntN(60)) * time.Millisecond)
			c.Process.Kill()
			var x *exec.ExitError
			if err := c.Wait(); errors.As(err, &x) {
				kills++
			}
			if code, _, errs := cazward(args...); code != 0 {
				t.Fatalf("signed again: %d %s", code, errs)
			}
			d, s := openDesk(t, where)
			e, err := d.find(s, id)
			if err != nil {
				t.Fatal(err)
			}
			r, err := s.Kept(context.Background(), e.Key)
			if err != nil {
				t.Fatal(err)
			}
			got, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, r.Bytes) || bytes.Count(got, []byte(`"kind":"sign"`)) != 1 || e.Signed != register.ReturnedBy {
				t.Errorf("record %d: file %d bytes, register %d, %d sign-offs, %q", i, len(got), len(r.Bytes), bytes.Count(got, []byte(`"kind":"sign"`)), e.Signed)
			}
			if v := journal.Verify(got, journal.VerifyOptions{}); v.Word != journal.Closed {
				t.Errorf("record %d is %s: %s", i, v.Word, v.Text)
			}
		}
		tried(t, "kill -9 at random moments of desk sign, "+registerKind(where), kills, 0)
		if kills < 3 {
			t.Errorf("only %d were killed before they ended: the test hardly tests", kills)
		}
	})
}

// registerKind is what a register is named by before its colon.
func registerKind(where string) string {
	kind, _, _ := strings.Cut(where, ":")
	return kind
}

// TestTwoProgramsAddOneFolder runs the real program twice at once.
func TestTwoProgramsAddOneFolder(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program")
	}
	bin, dir := program(t), t.TempDir()
	const n = 300
	newGenerator(t, 5).write(t, dir, n)
	registers(t, func(t *testing.T, where string) {
		var wg sync.WaitGroup
		sums := make([]added, 3)
		for i := range sums {
			wg.Go(func() {
				out, err := exec.Command(bin, "desk", "add", dir, "--json", "--register", where).Output()
				if err == nil {
					err = json.Unmarshal(out, &sums[i])
				}
				if err != nil {
					t.Errorf("program %d: %v %s", i, err, out)
				}
			})
		}
		wg.Wait()
		fresh := 0
		for i, a := range sums {
			fresh += a.New
			if a.Read != n || a.New+a.Same != n || a.Second+a.Refused+a.Failed > 0 {
				t.Errorf("program %d: %+v", i, a)
			}
		}
		if fresh != n {
			t.Errorf("%d were new, want %d", fresh, n)
		}
		holds(t, where, dir)
	})
}

// TestDatabaseGone lets the connection to PostgreSQL break after so many
// bytes; what was kept stays, the command says so, and given again it ends.
func TestDatabaseGone(t *testing.T) {
	dir := t.TempDir()
	newGenerator(t, 6).write(t, dir, 300)
	registers(t, func(t *testing.T, where string) {
		if !strings.HasPrefix(where, "postgres") {
			sqliteGone(t, dir)
			return
		}
		u, err := url.Parse(where)
		if err != nil {
			t.Fatal(err)
		}
		p := newProxy(t, u.Host)
		through := *u
		through.Host = p.addr
		broke := 0
		for _, after := range []int64{20_000, 1_000_000, 5_000_000, 9_000_000} {
			p.left.Store(after)
			code, out, errs := cazward("desk", "add", dir, "--register", through.String())
			if code == exitOK {
				continue
			}
			broke++
			if code != exitRefused || !strings.Contains(errs, "nothing that was kept is lost") || !strings.Contains(out, "stopped before the end") && after > 100_000 {
				t.Errorf("after %d bytes: exit %d\n%s%s", after, code, out, errs)
			}
		}
		if broke < 3 {
			t.Errorf("the database was gone %d times: the test hardly tests", broke)
		}
		p.left.Store(1 << 40)
		if code, _, errs := cazward("desk", "add", dir, "--register", through.String()); code != 0 {
			t.Fatalf("exit %d: %s", code, errs)
		}
		holds(t, where, dir)
	})
}

// sqliteGone: a folder that cannot be written is said, and nothing is half
// done.
func sqliteGone(t *testing.T, dir string) {
	for _, where := range []string{filepath.Join(t.TempDir(), "no", "folder.db"), t.TempDir()} {
		code, _, errs := cazward("desk", "add", dir, "--register", "sqlite:"+where)
		if code != exitRefused || !strings.Contains(errs, "hint") {
			t.Errorf("%s: exit %d: %s", where, code, errs)
		}
	}
	file := filepath.Join(t.TempDir(), "desk.db")
	if err := os.WriteFile(file, bytes.Repeat([]byte("not a database "), 1000), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, _, _ := cazward("desk", "add", dir, "--register", "sqlite:"+file); code != exitRefused {
		t.Errorf("another file: exit %d", code)
	}
	// A newer layout is refused, not guessed at.
	file = filepath.Join(t.TempDir(), "newer.db")
	if code, _, errs := cazward("desk", "add", filepath.Join(dir, "0000"), "--register", "sqlite:"+file); code != 0 {
		t.Fatal(errs)
	}
	layout(t, file, "INSERT INTO layout (version, name) VALUES (99, 'later')")
	if code, _, errs := cazward("desk", "queue", "--register", "sqlite:"+file); code != exitRefused || !strings.Contains(errs, "layout 99") {
		t.Errorf("newer layout: exit %d: %s", code, errs)
	}
}

// proxy passes bytes on until it has passed so many, then breaks.
type proxy struct {
	addr string
	left atomic.Int64
}

func newProxy(t *testing.T, to string) *proxy {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &proxy{addr: l.Addr().String()}
	t.Cleanup(func() { l.Close() })
	pass := func(w, r net.Conn) {
		defer w.Close()
		defer r.Close()
		buf := make([]byte, 32<<10)
		for {
			n, err := r.Read(buf)
			if n > 0 {
				if p.left.Add(-int64(n)) < 0 {
					return
				}
				if _, err := w.Write(buf[:n]); err != nil {
					return
				}
			}
			if err != nil {
				return
			}
		}
	}
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			s, err := net.Dial("tcp", to)
			if err != nil {
				c.Close()
				continue
			}
			go pass(s, c)
			go pass(c, s)
		}
	}()
	return p
}

// TestInterruptedAdd stops it as Ctrl-C does.
func TestInterruptedAdd(t *testing.T) {
	dir := t.TempDir()
	newGenerator(t, 8).write(t, dir, 300)
	registers(t, func(t *testing.T, where string) {
		ctx, stop := context.WithCancel(context.Background())
		var out bytes.Buffer
		e := testEnv()
		e.ctx, e.out = ctx, &out
		time.AfterFunc(100*time.Millisecond, stop)
		err := run(e, []string{"desk", "add", dir, "--register", where})
		if code := report(io.Discard, err); code != exitInterrupt {
			t.Errorf("exit %d: %v", code, err)
		}
		if err != nil && !strings.Contains(out.String(), "stopped before the end") && out.Len() > 0 {
			t.Errorf("summary: %s", out.String())
		}
		if code, _, errs := cazward("desk", "add", dir, "--register", where); code != 0 {
			t.Fatalf("exit %d: %s", code, errs)
		}
		holds(t, where, dir)
	})
}

// TestRebuildMakesTheSame holds that the index made again is the index, and
// that bytes which changed inside the register are told.
func TestRebuildMakesTheSame(t *testing.T) {
	dir := t.TempDir()
	newGenerator(t, 9).write(t, dir, 120)
	registers(t, func(t *testing.T, where string) {
		if code, _, errs := cazward("desk", "add", dir, "--label", "spring", "--register", where); code != 0 {
			t.Fatal(errs)
		}
		_, before, _ := cazward("desk", "queue", "--json", "--limit", "0", "--register", where)
		if strings.Count(before, `"record_id"`) != 120 {
			t.Fatalf("%d homes", strings.Count(before, `"record_id"`))
		}
		code, out, errs := cazward("desk", "rebuild", "--register", where)
		if code != 0 || !strings.Contains(out, "120 made again, 0 of them") {
			t.Fatalf("exit %d: %s%s", code, out, errs)
		}
		if _, after, _ := cazward("desk", "queue", "--json", "--limit", "0", "--register", where); after != before {
			t.Errorf("the queue changed:\n%s\n%s", before, after)
		}
		holds(t, where, dir)
		file, ok := strings.CutPrefix(where, "sqlite:")
		if !ok {
			return
		}
		layout(t, file, "UPDATE record SET bytes = CAST(replace(CAST(bytes AS TEXT), '\"state\":\"ok\"', '\"state\":\"OK\"') AS BLOB) WHERE key = 7")
		if code, out, _ := cazward("desk", "rebuild", "--register", where); code != exitIntegrity || !strings.Contains(out, "1 of them") {
			t.Errorf("bytes altered in the register: exit %d, %s", code, out)
		}
		if _, out, _ := cazward("desk", "queue", "--reason", "integrity", "--json", "--register", where); !strings.Contains(out, `"total":1}`) && !strings.Contains(out, `"total":1,`) {
			t.Errorf("not listed: %s", out)
		}
	})
}

// TestSnapshotsJudgeAlike holds that what is judged from a snapshot is what
// is judged from the record, for every invented home and scheme.
func TestSnapshotsJudgeAlike(t *testing.T) {
	g := newGenerator(t, 10)
	var op register.Opener
	for i, rec := range g.base {
		_, line, err := journal.Begin(rec.Header)
		if err != nil {
			t.Fatal(err)
		}
		begun, _, _ := journal.Begin(rec.Header)
		_, lines, err := begun.Extend(rec.Events...)
		if err != nil {
			t.Fatal(err)
		}
		for _, scheme := range []string{"", "spillage-2017", "code-annex-2018", "canada-mixed"} {
			d := &desk{e: testEnv(), by: &judgeBy{force: register.InForce{Scheme: scheme}}}
			it, err := d.item("", append(line[:len(line):len(line)], lines...), "", "")
			if err != nil || it.Snapshot == nil {
				t.Fatal(i, err)
			}
			o, err := op.Open(it.Snapshot)
			if err != nil {
				t.Fatal(err)
			}
			r, judged, err := d.again(context.Background(), nil, &op, snap{register.Brief{Key: it.Entry.Key, Decision: it.Entry.Decision}, it.Snapshot}, d.by)
			if err != nil || !judged || r != nil {
				t.Errorf("%s under %q: %+v %v", rec.Header.Home, scheme, r, err)
			}
			if o.HomeID != rec.Header.Home || it.Entry.Decision == procedure.NoDecision {
				t.Errorf("%s: %+v", rec.Header.Home, it.Entry)
			}
		}
	}
}

// hostileTexts try to be something other than text.
var hostileTexts = []string{"'; DROP TABLE record; --", `" OR 1=1 --`, "<script>alert(1)</script>", `=HYPERLINK("http://x.invalid","y")`, "+1+1", "-2+3", "@SUM(A1)", "|cmd", "../../../etc/passwd", "%2e%2e%2f", "$(id)", "`id`", "~root", "?x=1", "{why}", "%s%n%d", "家 ☃ é", strings.Repeat("long", 300)}

// TestHostileText puts such text wherever a record or a person can put any,
// and holds that it comes out as text: no control character, no formula, no
// other homes than there are.
func TestHostileText(t *testing.T) {
	base := newGenerator(t, 11).base[1]
	registers(t, func(t *testing.T, where string) {
		dir := t.TempDir()
		ids := map[string]bool{}
		for i, x := range hostileTexts {
			h := base.Header
			h.Record, h.Home = x, x
			rec, b, err := journal.Begin(h)
			if err != nil {
				t.Fatal(err)
			}
			events := make([]procedure.Event, 0, len(base.Events))
			for _, ev := range base.Events {
				ev.N, ev.Who = 0, x
				switch d := ev.Data.(type) {
				case *procedure.Answer:
					c := *d
					if c.Instrument != nil {
						ins := *c.Instrument
						ins.Name, ins.Calibrated = x, "2001-01-01"
						c.Instrument = &ins
					}
					if c.Text != "" {
						c.Text = x
					}
					ev.Data = &c
				case *procedure.Note:
					ev.Data = &procedure.Note{Text: x}
				}
				events = append(events, ev)
			}
			rec, lines, err := rec.Extend(events...)
			if err != nil {
				t.Fatal(err)
			}
			_, again, err := rec.Extend(
				procedure.Event{Kind: procedure.KindSign, Observed: events[0].Observed, Written: events[0].Written, Who: x, Src: procedure.FromWalk, Data: &procedure.Sign{Close: rec.CloseHash, Verdict: "return", Name: x, Note: x}})
			if err != nil {
				t.Fatal(err)
			}
			file := filepath.Join(dir, fmt.Sprint(i, recordSuffix))
			if err := os.WriteFile(file, append(append(b, lines...), again...), 0o600); err != nil {
				t.Fatal(err)
			}
			if code, _, errs := cazward("desk", "add", file, "--label", x, "--register", where); code != 0 && reportsClean(x) {
				t.Errorf("%q: exit %d: %s", x, code, errs)
			}
			ids[x] = true
		}
		// A damaged file says all it can by its name.
		escape := "evil\x1b[31m\x07\u202e\u0085" + "=1+1"
		if err := os.WriteFile(filepath.Join(dir, escape+recordSuffix), []byte("\x1b]0;title\x07\x00\xff\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		if code, out, errs := cazward("desk", "add", dir, "--register", where); code != exitIntegrity || !calm(out+errs) {
			t.Errorf("exit %d: %q %q", code, out, errs)
		}
		for _, args := range [][]string{{"queue", "--limit", "0"}, {"queue", "--csv", "--limit", "0"}, {"queue", "--json", "--limit", "0"}, {"trend", "--by", "crew"}, {"trend", "--by", "crew", "--csv"}, {"rejudge", "--scheme", "spillage-2017"}} {
			code, out, errs := cazward(append(append([]string{"desk"}, args...), "--register", where)...)
			if code != 0 || !calm(out+errs) {
				t.Errorf("%v: exit %d, or control characters in it: %q %q", args, code, out[:min(len(out), 300)], errs)
			}
			if args[len(args)-1] == "--csv" || len(args) > 1 && args[1] == "--csv" {
				for _, x := range []string{`,"=`, `,=`, `,+`, `,-2+`, `,@`, `,|`, "\n=", "\n+", "\n@", "\n|"} {
					if strings.Contains(out, x) {
						t.Errorf("%v: a spreadsheet would take %q for a formula", args, x)
					}
				}
			}
			if strings.Contains(strings.Join(args, " "), "queue --json") {
				var q struct {
					Homes []queued `json:"homes"`
					Total int      `json:"total"`
				}
				if err := json.Unmarshal([]byte(out), &q); err != nil || q.Total != len(hostileTexts)+1 || len(q.Homes) != q.Total {
					t.Errorf("%d homes of %d, %v", len(q.Homes), q.Total, err)
				}
				for _, h := range q.Homes {
					if !ids[h.ID] && !strings.HasPrefix(h.ID, "unreadable-") {
						t.Errorf("a home that is not there: %q", h.ID)
					}
				}
			}
		}
		for _, x := range hostileTexts {
			for _, f := range []string{"--crew", "--home", "--label"} {
				_, out, _ := cazward("desk", "queue", "--json", f+"="+x, "--register", where)
				if !strings.Contains(out, `"total":1,`) {
					t.Errorf("%s %q: %s", f, x, out[max(0, len(out)-100):])
				}
			}
			if code, out, errs := cazward("desk", "open", "--register", where, "--", x); code != 0 || !calm(out+errs) {
				t.Errorf("open %q: exit %d: %s", x, code, errs)
			}
			if code, out, errs := cazward("desk", "sign", "--as="+x, "--verdict", "return", "--note="+x+"!", "--register", where, "--", x); code != 0 || !calm(out+errs) {
				t.Errorf("sign %q: exit %d: %s", x, code, errs)
			}
		}
		for _, bad := range []string{"two\nlines", "esc\x1b[0m", "nul\x00", "bad\xff", "turn\u202e"} {
			if code, _, _ := cazward("desk", "add", dir, "--label", bad, "--register", where); code != exitUsage {
				t.Errorf("label %q: exit %d", bad, code)
			}
			if code, _, errs := cazward("desk", "sign", hostileTexts[0], "--as", bad, "--verdict", "accept", "--register", where); code == 0 || !calm(errs) {
				t.Errorf("signed as %q: exit %d %q", bad, code, errs)
			}
			for _, v := range []string{"open", "sign"} {
				if code, _, errs := cazward("desk", v, bad, "--as", "SV", "--verdict", "accept", "--register", where); code == 0 || !calm(errs) {
					t.Errorf("%s %q: exit %d %q", v, bad, code, errs)
				}
			}
		}
	})
}

func reportsClean(s string) bool { return len(s) < 1000 }

// calm reports whether text has nothing in it that a terminal acts on.
func calm(s string) bool {
	for _, r := range s {
		if r < ' ' && r != '\n' || r >= 0x7f && r <= 0x9f || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return false
		}
	}
	return true
}

// TestSignOffsMeet lets two supervisors sign one record at once: both stay.
func TestSignOffsMeet(t *testing.T) {
	registers(t, func(t *testing.T, where string) {
		g := newGenerator(t, 12)
		dir := t.TempDir()
		var id string
		var b []byte
		for !bytes.Contains(b, []byte(`"kind":"close"`)) {
			id, b = g.next(t)
		}
		file := filepath.Join(dir, "one"+recordSuffix)
		if err := os.WriteFile(file, b, 0o600); err != nil {
			t.Fatal(err)
		}
		if code, _, errs := cazward("desk", "add", file, "--register", where); code != 0 {
			t.Fatal(errs)
		}
		var wg sync.WaitGroup
		for i := range 4 {
			wg.Go(func() {
				if code, _, errs := cazward("desk", "sign", id, "--as", fmt.Sprint("SV", i), "--verdict", "accept", "--register", where); code != 0 {
					t.Errorf("SV%d: exit %d: %s", i, code, errs)
				}
			})
		}
		wg.Wait()
		if code, _, errs := cazward("desk", "add", file, "--register", where); code != 0 {
			t.Fatal(errs)
		}
		rec, err := disk.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		names := map[string]bool{}
		for _, ev := range rec.Events {
			if s, ok := ev.Data.(*procedure.Sign); ok {
				names[s.Name] = true
			}
		}
		if len(names) != 4 {
			t.Errorf("the file has sign-offs of %v", names)
		}
	})
}
