package html_test

import (
	"bufio"
	"bytes"
	stdxml "encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/html"
	"cazward/report/reporttest"
)

var update = flag.Bool("update", false, "write the golden files")

func write(t testing.TB, in report.Input) string {
	t.Helper()
	var b bytes.Buffer
	if err := html.Write(&b, report.Build(in)); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestGolden(t *testing.T) {
	for _, c := range reporttest.All()[:3] {
		path := filepath.Join("testdata", c.Name+".golden")
		got := write(t, c.In)
		if *update {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
		for i := range min(len(g), len(w)) {
			if g[i] != w[i] {
				t.Errorf("%s line %d differs; after a look at it: go test ./report/html -update\n got %q\nwant %q", path, i+1, g[i], w[i])
				break
			}
		}
		if len(g) != len(w) {
			t.Errorf("%s: %d lines, want %d", path, len(g), len(w))
		}
	}
}

// element is a start tag with the text that follows it.
type element struct {
	name, parent string
	attr         map[string]string
	said         []byte
	text         string
}

// parse reads the page strictly: every tag closed in its order.
func parse(t *testing.T, page string) []*element {
	t.Helper()
	d := stdxml.NewDecoder(strings.NewReader(page))
	d.Strict = false
	d.AutoClose = []string{"meta", "img"}
	var out []*element
	var open []*element
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch x := tok.(type) {
		case stdxml.StartElement:
			e := &element{name: x.Name.Local, attr: map[string]string{}}
			if len(open) > 0 {
				e.parent = open[len(open)-1].name
			}
			for _, a := range x.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			out, open = append(out, e), append(open, e)
		case stdxml.EndElement:
			if len(open) == 0 || open[len(open)-1].name != x.Name.Local {
				t.Fatalf("</%s> closes nothing that is open", x.Name.Local)
			}
			open = open[:len(open)-1]
		case stdxml.CharData:
			for _, e := range open {
				e.said = append(e.said, x...)
			}
		}
	}
	for _, e := range out {
		e.text = string(e.said)
	}
	if len(open) > 0 {
		t.Fatalf("<%s> is never closed", open[len(open)-1].name)
	}
	return out
}

// inputs are all reports, in both languages, and one without anything.
func inputs() map[string]report.Input {
	out := map[string]report.Input{"empty": {}}
	for _, c := range reporttest.All() {
		out[c.Name] = c.In
		c.In.Lang = wording.Spanish
		out[c.Name+" es"] = c.In
	}
	return out
}

func TestAccessible(t *testing.T) {
	for name, in := range inputs() {
		list := parse(t, write(t, in))
		ids := map[string]bool{}
		level, mains, h1 := 0, 0, 0
		for i, e := range list {
			if id := e.attr["id"]; id != "" {
				if ids[id] {
					t.Errorf("%s: two elements with id %q", name, id)
				}
				ids[id] = true
			}
			say := func(format string, a ...any) { t.Errorf("%s, element %d: %s", name, i, fmt.Sprintf(format, a...)) }
			switch e.name {
			case "html":
				if want := map[wording.Lang]string{wording.Spanish: "es"}[in.Lang]; e.attr["lang"] != want && (want != "" || e.attr["lang"] != "en") {
					say("language %q", e.attr["lang"])
				}
			case "main":
				mains++
			case "h1", "h2", "h3", "h4":
				n := int(e.name[1] - '0')
				if n > level+1 {
					say("heading %q of level %d after %d", e.text, n, level)
				}
				if n == 1 {
					h1++
				}
				if strings.TrimSpace(e.text) == "" {
					say("an empty heading")
				}
				level = n
			case "th":
				if !slices.Contains([]string{"col", "row", "rowgroup"}, e.attr["scope"]) {
					say("a head cell %q of scope %q", e.text, e.attr["scope"])
				}
			case "table":
				if list[i+1].name != "caption" || strings.TrimSpace(list[i+1].text) == "" {
					say("a table without a caption")
				}
			case "svg":
				if e.attr["role"] != "img" || list[i+1].name != "title" || list[i+2].name != "desc" || list[i+1].text == "" || list[i+2].text == "" ||
					e.attr["aria-labelledby"] != list[i+1].attr["id"]+" "+list[i+2].attr["id"] {
					say("a drawing without title and description")
				}
			case "figure":
				if !strings.Contains(e.text, "as a table") && !strings.Contains(e.text, "en una tabla") && !strings.Contains(e.text, "Photo") && !strings.Contains(e.text, "Foto") {
					say("a drawing without its figures")
				}
			case "img":
				if e.attr["alt"] == "" || !strings.HasPrefix(e.attr["src"], "data:image/") {
					say("a picture without words, or from elsewhere: %.40s", e.attr["src"])
				}
			case "script", "link", "iframe", "object", "form", "base":
				say("<%s>", e.name)
			}
			for k, v := range e.attr {
				if strings.HasPrefix(k, "on") || k == "style" || (k == "src" || k == "href") && strings.Contains(v, "//") {
					say("%s=%q", k, v)
				}
			}
		}
		for _, e := range list {
			for _, id := range append(strings.Fields(e.attr["aria-labelledby"]), strings.TrimPrefix(e.attr["href"], "#")) {
				if id != "" && !ids[id] {
					t.Errorf("%s: nothing has the id %q", name, id)
				}
			}
		}
		if mains != 1 || h1 != 1 {
			t.Errorf("%s: %d main parts, %d first headings", name, mains, h1)
		}
	}
}

// The page says all that the report says, and the figures of each drawing.
func TestComplete(t *testing.T) {
	for _, c := range reporttest.All() {
		r := report.Build(c.In)
		list := parse(t, write(t, c.In))
		all := ""
		for _, e := range list {
			if e.name == "body" {
				all = strings.Join(strings.Fields(e.text), " ")
			}
		}
		want := []string{r.Decision.Word, r.Decision.Headline, r.Decision.Holds, r.Hash, r.Decision.PutBack.Text}
		want = slices.Concat(want, r.Decision.Why, r.Decision.Do, r.Decision.NotTested, r.Decision.Risks, r.Decision.Cautions, r.Decision.PutBack.Open)
		tables := 0
		for _, s := range r.Sections {
			want = append(append(want, s.Title), s.Notes...)
			list := append([]report.Table{}, s.Tables...)
			for _, x := range s.Traces {
				list = append(list, x.Table)
			}
			for _, x := range s.Drafts {
				list = append(list, x.Table)
			}
			for _, x := range s.Bars {
				list = append(list, x.Table)
			}
			for _, x := range s.Steps {
				list = append(list, x.Table)
			}
			for _, x := range s.Sealing {
				list = append(list, x.Table)
			}
			tables += len(list)
			for _, tb := range list {
				for _, row := range tb.Rows {
					want = append(want, row.Cells...)
				}
			}
			for _, p := range s.Photos {
				want = append(want, p.Caption, p.Why)
			}
		}
		for _, w := range want {
			if !strings.Contains(all, report.Typeset(w)) {
				t.Errorf("%s lacks %q", c.Name, w)
			}
		}
		n := 0
		for _, e := range list {
			if e.name == "table" {
				n++
			}
		}
		if n != tables {
			t.Errorf("%s: %d tables, want %d", c.Name, n, tables)
		}
	}
}

// What people type is text, never markup.
func TestEscaped(t *testing.T) {
	evil := []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `'><svg onload=alert(1)>`, `</title></style></svg><script>`, `&lt;b&gt; <!-- ]]> {{.}}`, "javascript:alert(1)"}
	plain := parse(t, write(t, reporttest.Phases()))
	for _, e := range evil {
		in := reporttest.Phases()
		in.Header.Home, in.Header.Record, in.ProgramVersion, in.Observations.Tester = e, e, e, e
		in.Observations.Appliances = slices.Clone(in.Observations.Appliances)
		for i := range in.Observations.Appliances {
			in.Observations.Appliances[i].Name = e
		}
		in.Observations.Zones = slices.Clone(in.Observations.Zones)
		in.Observations.Zones[0].ID, in.Observations.Zones[0].Name = "z1", e
		in.Judgement.WorstCase = slices.Clone(in.Judgement.WorstCase)
		in.Judgement.WorstCase[0].Zone = e
		in.Judgement.AcceptedRisks = reporttest.Hold().Judgement.AcceptedRisks
		in.Judgement.AcceptedRisks[0].Reason = e
		in.Photos = slices.Clone(in.Photos)
		in.Photos[0].Type = `image/png" onload="x`
		got := parse(t, write(t, in))
		for i, x := range got {
			for k := range x.attr {
				if strings.HasPrefix(k, "on") {
					t.Errorf("%q: attribute %s of element %d", e, k, i)
				}
			}
			if x.name == "script" {
				t.Errorf("%q: element %d is a script", e, i)
			}
			if x.name == "title" && x.parent == "head" && !strings.Contains(x.text, report.Clean(e)) {
				t.Errorf("%q: the title is %q", e, x.text)
			}
		}
		// The risk is one line more; nothing else may have become an element.
		if n := len(plain); len(got) > n+2 || len(got) < n-2 {
			t.Errorf("%q: %d elements, %d without it", e, len(got), n)
		}
	}
}

// TestBody holds that what another page shows of a report is what the report's
// own page shows.
func TestBody(t *testing.T) {
	for _, c := range reporttest.All() {
		var b bytes.Buffer
		if err := html.Body(&b, report.Build(c.In)); err != nil {
			t.Fatal(err)
		}
		if _, after, _ := strings.Cut(write(t, c.In), "<main>\n"); b.Len() == 0 || !strings.HasPrefix(after, b.String()+"</main>") {
			t.Errorf("%s: the body is not that of the page", c.Name)
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestWriteError(t *testing.T) {
	if err := html.Write(full{}, report.Build(reporttest.Hold())); err == nil || err.Error() != "disk full" {
		t.Errorf("error %v", err)
	}
}

// TestBrowser opens the pages in a headless browser behind a proxy that only
// counts: nothing may ask it for anything.
func TestBrowser(t *testing.T) {
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CAZWARD_REQUIRE_TOOLS") == "1" {
			t.Fatalf("chromium is required and absent: %v", err)
		}
		t.Skip("chromium is absent (apt-get install chromium)")
	}
	var mu sync.Mutex
	var asked []string // method and target of each request
	proxy, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer proxy.Close()
	go func() {
		for {
			c, err := proxy.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				line, _ := bufio.NewReader(c).ReadString('\n')
				mu.Lock()
				asked = append(asked, strings.TrimSpace(line))
				mu.Unlock()
			}()
		}
	}()
	open := func(page string) string {
		dir := t.TempDir()
		path := filepath.Join(dir, "page.html")
		if err := os.WriteFile(path, []byte(page), 0o600); err != nil {
			t.Fatal(err)
		}
		var errs bytes.Buffer
		cmd := exec.Command(chromium, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
			"--disable-extensions", "--disable-default-apps", "--proxy-server="+proxy.Addr().String(), "--proxy-bypass-list=<-loopback>", "--user-data-dir="+filepath.Join(dir, "profile"), "--virtual-time-budget=2000", "--dump-dom", "file://"+path)
		cmd.Stderr = &errs
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("chromium: %v\n%s", err, errs.String())
		}
		return string(out)
	}
	// The browser asks its maker for things on its own account, at times of its
	// own. A page without scripts can only ask a host that it names.
	seen := func(page string) []string {
		mu.Lock()
		defer mu.Unlock()
		var out []string
		for _, a := range asked {
			if f := strings.Fields(a); len(f) > 1 && strings.Contains(page, host(f[1])) {
				out = append(out, a)
			}
		}
		asked = nil
		return out
	}
	for _, scheme := range []string{"http", "https"} {
		asks := `<!DOCTYPE html><title>x</title><img src="` + scheme + `://example.invalid/x.png">`
		if open(asks); len(seen(asks)) == 0 {
			t.Fatalf("a page that asks for a picture by %s was not seen to ask: this test cannot fail", scheme)
		}
	}
	for _, c := range reporttest.All() {
		r := report.Build(c.In)
		page := write(t, c.In)
		dom := open(page)
		if a := seen(page); len(a) != 0 {
			t.Errorf("%s asked for %q", c.Name, a)
		}
		if !strings.Contains(dom, r.Decision.Headline) {
			t.Errorf("%s: the browser shows no headline", c.Name)
		}
		for _, tag := range []string{"<table", "<svg", "<th ", "<tr", "<section", "<figure", "<img"} {
			if got, want := strings.Count(dom, tag), strings.Count(page, tag); got != want {
				t.Errorf("%s: the browser has %d of %s>, the page %d", c.Name, got, tag, want)
			}
		}
	}
	// Even a page with a fault in it could not ask: the policy in its head.
	page := strings.Replace(write(t, reporttest.Hold()), "<main>", `<main><img src="http://example.invalid/x.png">`, 1)
	if open(page); len(seen(page)) != 0 {
		t.Error("the content policy lets a request out")
	}
}

// host of what a proxy is asked for, without its port.
func host(target string) string {
	target = strings.TrimPrefix(strings.TrimPrefix(target, "http://"), "https://")
	target, _, _ = strings.Cut(target, "/")
	target, _, _ = strings.Cut(target, ":")
	return target
}
