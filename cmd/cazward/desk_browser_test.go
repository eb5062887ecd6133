//go:build !field

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// reader is a person at a real browser in which scripts are off.
type reader struct {
	t     *testing.T
	ctx   context.Context
	base  string
	shots string // folder of screenshots

	mu    sync.Mutex
	asked []string // addresses that the pages asked for
	wrong []string // what the browser complained of
}

// needTool skips the test where a tool is absent, unless all are required.
func needTool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CAZWARD_REQUIRE_TOOLS") != "" {
			t.Fatalf("%s is required and absent: %v", name, err)
		}
		t.Skipf("%s is absent", name)
	}
	return path
}

func newReader(t *testing.T, chromium string) *reader {
	t.Helper()
	r := &reader{t: t, shots: os.Getenv("CAZWARD_SCREENSHOTS")}
	if r.shots == "" {
		r.shots = t.TempDir()
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()), chromedp.WindowSize(1200, 900),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.WSURLReadTimeout(time.Minute))
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	r.ctx = ctx
	err := chromedp.Listen(ctx, func(ev any) {
		r.mu.Lock()
		defer r.mu.Unlock()
		switch e := ev.(type) {
		case *network.EventRequestWillBeSent:
			r.asked = append(r.asked, e.Request.URL)
		case *cdplog.EventEntryAdded:
			r.wrong = append(r.wrong, e.Entry.Text)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, cdplog.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	return r
}

// do does things on a page.
func (r *reader) do(steps ...chromedp.Action[chromedp.Void]) {
	r.t.Helper()
	ctx, cancel := context.WithTimeout(r.ctx, time.Minute)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		r.shot("failed")
		r.t.Fatal(err)
	}
}

// follow does things of which the last leads to another page.
func (r *reader) follow(code int64, steps ...chromedp.Action[chromedp.Void]) {
	r.t.Helper()
	ctx, cancel := context.WithTimeout(r.ctx, time.Minute)
	defer cancel()
	resp, err := chromedp.RunResponse(ctx, steps...)
	if err != nil {
		r.shot("failed")
		r.t.Fatal(err)
	}
	if resp == nil || int64(resp.Status) != code {
		r.t.Fatalf("got %+v, want %d", resp, code)
	}
}

func ask[T any](r *reader, script string) T {
	r.t.Helper()
	x, err := chromedp.Run(r.ctx, chromedp.Evaluate[T](script))
	if err != nil {
		r.t.Fatalf("%s: %v", script, err)
	}
	return x
}

func (r *reader) text(sel string) string {
	r.t.Helper()
	ctx, cancel := context.WithTimeout(r.ctx, time.Minute)
	defer cancel()
	s, err := chromedp.Run(ctx, chromedp.Text(chromedp.CSS(sel)))
	if err != nil {
		r.t.Fatalf("%s: %v", sel, err)
	}
	return s
}

func (r *reader) shot(name string) {
	r.t.Helper()
	b, err := chromedp.Run(r.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(filepath.Join(r.shots, name+".png"), b, 0o600)
	}
	if err != nil {
		r.t.Error(err)
	}
}

// faults lists what keeps a page from being read by ear, by keyboard or on a
// narrow screen.
const faults = `(() => {
	const bad = [], all = s => [...document.querySelectorAll(s)];
	const show = e => e.outerHTML.slice(0, 120);
	if (!document.documentElement.lang) bad.push("no language");
	if (!document.title) bad.push("no title");
	if (all("h1").length != 1) bad.push(all("h1").length + " headings of level 1");
	let last = 0;
	for (const h of all("h1,h2,h3,h4,h5,h6")) {
		const n = +h.tagName[1];
		if (n > last + 1) bad.push("a level of headings is left out before: " + show(h));
		if (!h.textContent.trim()) bad.push("empty heading");
		last = n;
	}
	if (all("main").length != 1) bad.push("no main part");
	const skip = document.querySelector("a");
	if (!skip || !skip.classList.contains("skip") || !document.querySelector(skip.getAttribute("href"))) bad.push("no link to the content");
	for (const f of all("input:not([type=hidden]),select,textarea"))
		if (![...(f.labels || [])].some(l => l.textContent.trim())) bad.push("no label: " + show(f));
	for (const f of all("button,a[href],summary"))
		if (!f.textContent.trim()) bad.push("no text: " + show(f));
	for (const t of all("table")) {
		if (!t.caption || !t.caption.textContent.trim()) bad.push("no caption: " + show(t));
		for (const h of t.querySelectorAll("th")) if (!h.scope) bad.push("no scope: " + show(h));
	}
	for (const s of all("svg")) if (s.getAttribute("role") != "img" || !(s.getAttribute("aria-label") || s.getAttribute("aria-labelledby"))) bad.push("unnamed drawing: " + show(s));
	const ids = {};
	for (const e of all("[id]")) { if (ids[e.id]) bad.push("id twice: " + e.id); ids[e.id] = 1; }
	for (const k of ["aria-labelledby", "aria-describedby"]) for (const e of all("[" + k + "]"))
		for (const id of e.getAttribute(k).split(" ")) if (!ids[id]) bad.push(k + " leads nowhere: " + id);
	for (const e of all("a[href^='#']")) if (!document.getElementById(e.getAttribute("href").slice(1))) bad.push("leads nowhere: " + show(e));
	if (document.documentElement.scrollWidth > document.documentElement.clientWidth) {
		const wide = all("body *").filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !e.closest(".wide,.d-chart"));
		bad.push("wider than the screen: " + document.documentElement.scrollWidth + " " + wide.slice(0, 3).map(show).join(" | "));
	}
	return bad;
})()`

// look holds a page against faults at a wide and a narrow screen, and takes
// pictures of both.
func (r *reader) look(name string) {
	r.t.Helper()
	for _, w := range []struct {
		name       string
		wide, tall int64
	}{{"wide", 1200, 900}, {"narrow", 360, 740}} {
		r.do(chromedp.EmulateViewport(w.wide, w.tall))
		for _, f := range ask[[]string](r, faults) {
			r.t.Errorf("%s, %s: %s", name, w.name, f)
		}
		r.shot(name + "-" + w.name)
	}
	r.do(chromedp.EmulateViewport(1200, 900))
}

// paper prints a page and returns its text.
func (r *reader) paper(name, pdftotext string) string {
	r.t.Helper()
	b, err := chromedp.Run(r.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperLetter)))
	if err != nil {
		r.t.Fatal(err)
	}
	file := filepath.Join(r.shots, name+".pdf")
	if err := os.WriteFile(file, b, 0o600); err != nil {
		r.t.Fatal(err)
	}
	out, err := exec.Command(pdftotext, "-layout", file, "-").Output()
	if err != nil {
		r.t.Fatal(err)
	}
	return string(out)
}

// TestDeskInBrowser reviews homes in a real browser with scripts off, by mouse
// and by keyboard, against the real program and both stores.
func TestDeskInBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program and starts a browser")
	}
	chromium, pdftotext := needTool(t, "chromium"), needTool(t, "pdftotext")
	bin := program(t)
	dir := t.TempDir()
	newGenerator(t, 21).write(t, dir, 60)
	registers(t, func(t *testing.T, where string) {
		store := t.Name()[strings.LastIndexByte(t.Name(), '/')+1:]
		homes := t.TempDir()
		addInvented(t, where, homes)
		if code, _, errs := cazward("desk", "add", dir, "--label", "autumn", "--register", where); code != 0 {
			t.Fatal(errs)
		}
		srv := exec.Command(bin, "desk", "serve", "--register", where)
		out, err := srv.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		var said bytes.Buffer
		srv.Stderr = &said
		if err := srv.Start(); err != nil {
			t.Fatal(err)
		}
		ended := false
		t.Cleanup(func() {
			if !ended {
				srv.Process.Kill()
				srv.Wait()
			}
		})
		var at string
		if _, err := fmt.Fscanln(out, &at); err != nil {
			t.Fatal(err)
		}
		r := newReader(t, chromium)
		r.base = at[:strings.Index(at, "/enter")]
		shot := func(s string) string { return store + "-" + s }

		// The printed address leads to the queue and is gone from the bar.
		r.follow(200, chromedp.Navigate(at))
		if got := ask[string](r, "location.href"); got != r.base+"/" {
			t.Errorf("the address is %s", got)
		}
		if got := ask[int](r, "document.cookie.length"); got != 0 {
			t.Error("a script could read the cookie")
		}
		r.look(shot("queue"))
		if n := ask[int](r, `document.querySelectorAll(".d-homes > li").length`); n != queuePage {
			t.Errorf("%d homes on the first page", n)
		}
		if first := r.text(".d-homes > li"); !strings.Contains(first, "EVERYONE OUT NOW") {
			t.Errorf("first home: %s", first)
		}
		paper := r.paper(shot("queue"), pdftotext)
		if !strings.Contains(paper, "EVERYONE OUT NOW") || strings.Contains(paper, "Español") || strings.Contains(paper, "Next page") {
			t.Error("the printed queue is not the homes alone")
		}

		// By keyboard: past the navigation, then on.
		r.do(chromedp.KeyEvent(kb.Tab))
		if got := ask[string](r, "document.activeElement.className"); got != "skip" {
			t.Errorf("the first tab goes to %s", got)
		}
		if !ask[bool](r, `(() => { const b = document.activeElement.getBoundingClientRect(); return b.left >= 0 && b.width > 0 && getComputedStyle(document.activeElement).outlineStyle == "solid" })()`) {
			t.Error("what has the focus does not show it")
		}
		r.shot(shot("focus"))
		r.do(chromedp.KeyEvent(kb.Enter), chromedp.KeyEvent(kb.Tab))
		if got := ask[string](r, "document.activeElement.tagName"); got != "SUMMARY" {
			t.Errorf("after the link to the content the next tab goes to %s", got)
		}
		r.do(chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(chromedp.CSS("#d-crew")))
		r.look(shot("filter"))
		r.follow(200, chromedp.SendKeys(chromedp.CSS("#d-label"), "spring"), chromedp.KeyEvent(kb.Enter))
		if got := r.text("h2"); got != "Homes: 13" {
			t.Errorf("of the label: %s", got)
		}
		if got := r.text(".d-active"); !strings.Contains(got, "Label: spring") {
			t.Errorf("the filter is said as %q", got)
		}

		// Paging.
		r.follow(200, chromedp.Navigate(r.base+"/"))
		seen := map[string]bool{}
		for page := 0; ; page++ {
			for _, h := range ask[[]string](r, `[...document.querySelectorAll(".d-homes h3 a")].map(a => a.getAttribute("href"))`) {
				if seen[h] {
					t.Errorf("%s stands on two pages", h)
				}
				seen[h] = true
			}
			if ask[int](r, `document.querySelectorAll("a[rel=next]").length`) == 0 {
				break
			}
			if page > 3 {
				t.Fatal("pages without end")
			}
			r.follow(200, chromedp.Click(chromedp.CSS("a[rel=next]")))
		}
		if len(seen) != 73 {
			t.Errorf("%d homes on all pages, want 73", len(seen))
		}

		// One home, its report and its charts.
		r.follow(200, chromedp.Navigate(r.base+"/?home=Maple+63"))
		r.follow(200, chromedp.Click(chromedp.CSS(".d-homes h3 a")))
		if got := r.text("h1"); got != "Maple 63" {
			t.Errorf("heading %s", got)
		}
		r.look(shot("home"))
		for sel, least := range map[string]int{"svg": 2, "table": 5, "#decision": 1, "#readings": 1, "#d-sign": 1} {
			if n := ask[int](r, fmt.Sprintf("document.querySelectorAll(%q).length", sel)); n < least {
				t.Errorf("%d of %s, want %d", n, sel, least)
			}
		}
		paper = r.paper(shot("home"), pdftotext)
		for _, want := range []string{"Maple 63", "GO AHEAD ONLY", "Why it waits"} {
			if !strings.Contains(paper, want) {
				t.Errorf("the print does not say %q", want)
			}
		}
		if strings.Contains(paper, "Sign this closing") {
			t.Error("the form is printed")
		}

		// Returned without a note it is refused, with one it is kept.
		r.follow(422, chromedp.SendKeys(chromedp.CSS("#d-name"), "Ann Reviewer"), chromedp.Click(chromedp.CSS("#d-return")), chromedp.Click(chromedp.CSS("#d-sign button")))
		if got := r.text("[role=alert]"); !strings.Contains(got, "Note") {
			t.Errorf("the alert says %q", got)
		}
		if got := ask[string](r, `document.activeElement.id + " " + document.activeElement.getAttribute("aria-describedby") + " " + document.getElementById("d-name").value + " " + document.getElementById("d-return").checked`); got != "d-note d-error Ann Reviewer true" {
			t.Errorf("the form holds %s", got)
		}
		r.look(shot("refused"))
		note := `look at the "boiler" <b>again</b>`
		r.follow(200, chromedp.SendKeys(chromedp.CSS("#d-note"), note), chromedp.Click(chromedp.CSS("#d-sign button")))
		if got := r.text("[role=status]"); !strings.Contains(got, "Signed.") || !strings.Contains(got, "file too") {
			t.Errorf("the status says %q", got)
		}
		if got := r.text(".d-note"); got != note {
			t.Errorf("the note reads %q", got)
		}
		r.look(shot("signed"))
		code, js, errs := cazward("desk", "open", "Maple 63", "--json", "--register", where)
		var kept struct {
			Signs []signed `json:"sign_offs"`
		}
		if err := json.Unmarshal([]byte(js), &kept); code != 0 || err != nil || len(kept.Signs) != 1 || kept.Signs[0].Name != "Ann Reviewer" || kept.Signs[0].Verdict != "return" || kept.Signs[0].Note != note {
			t.Errorf("kept: %d %v %+v %s", code, err, kept, errs)
		}

		// Accepted by keyboard alone, it leaves the queue.
		r.follow(200, chromedp.Navigate(r.base+"/?home=Birch+21"))
		r.follow(200, chromedp.Focus(chromedp.CSS(".d-homes h3 a")), chromedp.KeyEvent(kb.Enter))
		r.follow(200, chromedp.Focus(chromedp.CSS("#d-name")), chromedp.KeyEvent(kb.Tab+" "+kb.Tab+kb.Tab+kb.Enter))
		if got := r.text("[role=status]"); !strings.Contains(got, "Signed.") {
			t.Errorf("the status says %q", got)
		}
		r.follow(200, chromedp.Navigate(r.base+"/?home=Birch+21"))
		if got := r.text("main"); !strings.Contains(got, "No home is like that") {
			t.Errorf("an accepted home waits: %s", got)
		}

		// Trend, and Spanish.
		r.follow(200, chromedp.Click(chromedp.CSS(`a[href="/trend"]`)))
		r.look(shot("trend"))
		if n := ask[int](r, `document.querySelectorAll("svg").length`); n != 4 {
			t.Errorf("%d charts", n)
		}
		r.paper(shot("trend"), pdftotext)
		r.follow(200, chromedp.Click(chromedp.CSS("a[hreflang=es]")))
		if lang, h := ask[string](r, "document.documentElement.lang"), r.text("h1"); lang != "es" || h != "Tendencia por mes" {
			t.Errorf("%s: %s", lang, h)
		}
		r.look(shot("trend-es"))
		r.follow(200, chromedp.Navigate(r.base+"/"))
		r.look(shot("queue-es"))
		r.follow(200, chromedp.Click(chromedp.CSS(".d-homes h3 a")))
		r.look(shot("home-es"))
		r.follow(404, chromedp.Navigate(r.base+"/home/424242"))
		r.look(shot("none"))

		// Nobody but the program was asked, and the browser had to stop nothing.
		r.mu.Lock()
		if len(r.asked) < 20 {
			t.Errorf("%d requests seen: this proves nothing", len(r.asked))
		}
		for _, u := range r.asked {
			if !strings.HasPrefix(u, r.base+"/") && !strings.HasPrefix(u, "data:") {
				t.Errorf("a page asked for %s", u)
			}
		}
		for _, w := range r.wrong {
			if !strings.Contains(w, "404") && !strings.Contains(w, "422") {
				t.Errorf("the browser says %s", w)
			}
		}
		r.mu.Unlock()

		// Another browser does not get in by the same address.
		other := newReader(t, chromium)
		other.follow(403, chromedp.Navigate(at))
		if got := other.text("h1"); got != "This page is closed" {
			t.Errorf("another browser reads %s", got)
		}
		other.look(shot("closed"))

		if err := srv.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		err = srv.Wait()
		ended = true
		if err != nil || strings.Contains(said.String(), "error") {
			t.Errorf("the end: %v\n%s", err, &said)
		}
	})
}
