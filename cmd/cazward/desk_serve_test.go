//go:build !field

package main

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/csv"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"golang.org/x/crypto/bcrypt"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/register"
	reports "cazward/report"
	"cazward/report/page"
)

// deskPage is a served register and a browser without a screen.
type deskPage struct {
	t     *testing.T
	v     *pages
	s     register.Store
	base  string
	c     *http.Client
	said  *bytes.Buffer // what the program said to its terminal
	where string
	dir   string
	mu    sync.Mutex
	ahead time.Duration // of the clock
}

// inventedRecords are the invented homes, transcribed once for all tests.
var inventedRecords = sync.OnceValues(func() (map[string][]byte, error) {
	sheets, err := filepath.Glob("../../testdata/homes/*.sheet.yaml")
	if err != nil || len(sheets) < 10 {
		return nil, fmt.Errorf("%d sheets, %v", len(sheets), err)
	}
	dir, err := os.MkdirTemp("", "invented-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	out := map[string][]byte{}
	for _, s := range sheets {
		b, err := os.ReadFile(s)
		if err != nil {
			return nil, err
		}
		name := strings.TrimSuffix(filepath.Base(s), ".sheet.yaml") + recordSuffix
		if _, err := transcribe(testEnv(), s, b, filepath.Join(dir, name), nil); err != nil {
			return nil, err
		}
		if out[name], err = os.ReadFile(filepath.Join(dir, name)); err != nil {
			return nil, err
		}
	}
	return out, nil
})

// addInvented adds the invented homes to a register.
func addInvented(t testing.TB, where, dir string) {
	t.Helper()
	list, err := inventedRecords()
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range list {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if code, _, errs := cazward("desk", "add", dir, "--label", "spring", "--register", where); code != 0 {
		t.Fatal(errs)
	}
}

func servePages(t *testing.T, where string, c served) *deskPage {
	t.Helper()
	p := &deskPage{t: t, where: where, dir: t.TempDir(), said: &bytes.Buffer{}}
	addInvented(t, where, p.dir)
	d, s := openDesk(t, where)
	d.e.err = p.said
	real := d.e.now
	d.e.now = func() time.Time {
		p.mu.Lock()
		defer p.mu.Unlock()
		return real().Add(p.ahead)
	}
	if c.lang == "" {
		c.lang = "en"
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p.s, p.v = s, newPages(d, s, c, l.Addr().(*net.TCPAddr))
	srv := &httptest.Server{Listener: l, Config: &http.Server{Handler: p.v.handler()}}
	p.base = "http://" + l.Addr().String()
	if c.cert != nil {
		srv.TLS = &tls.Config{Certificates: []tls.Certificate{*c.cert}}
		srv.StartTLS()
		p.base = "https://" + l.Addr().String()
	} else {
		srv.Start()
	}
	t.Cleanup(srv.Close)
	p.c = p.browser()
	return p
}

func (p *deskPage) browser() *http.Client {
	jar, err := cookiejar.New(nil)
	if err != nil {
		p.t.Fatal(err)
	}
	tr := &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}
	p.t.Cleanup(tr.CloseIdleConnections)
	return &http.Client{Jar: jar, Transport: tr, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// do sends a request and returns the code and the body.
func (p *deskPage) do(method, path string, form url.Values, change ...func(*http.Request)) (*http.Response, string) {
	p.t.Helper()
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	at := p.base + path
	if strings.HasPrefix(path, "http") {
		at = path
	}
	r, err := http.NewRequest(method, at, body)
	if err != nil {
		p.t.Fatal(err)
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for _, f := range change {
		f(r)
	}
	resp, err := p.c.Do(r)
	if err != nil {
		p.t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	return resp, string(b)
}

// get gets a page that must come.
func (p *deskPage) get(path string) string {
	p.t.Helper()
	resp, body := p.do("GET", path, nil)
	if resp.StatusCode != 200 {
		p.t.Fatalf("GET %s: %d\n%s", path, resp.StatusCode, body)
	}
	return body
}

func (p *deskPage) enter() *deskPage {
	p.t.Helper()
	if resp, body := p.do("GET", p.v.address(), nil); resp.StatusCode != http.StatusSeeOther {
		p.t.Fatalf("the printed address: %d\n%s", resp.StatusCode, body)
	}
	return p
}

var hidden = regexp.MustCompile(`name="(csrf|close)" value="([^"]*)"`)

// form of a home's page, filled.
func (p *deskPage) form(key int64, name, verdict, note string) url.Values {
	p.t.Helper()
	f := url.Values{"name": {name}, "verdict": {verdict}, "note": {note}}
	for _, m := range hidden.FindAllStringSubmatch(p.get(fmt.Sprintf("/home/%d", key)), -1) {
		f.Set(m[1], m[2])
	}
	if f.Get("csrf") == "" || f.Get("close") == "" {
		p.t.Fatal("the home has no form")
	}
	return f
}

// key of a home.
func (p *deskPage) key(home string) int64 {
	p.t.Helper()
	list, err := p.s.Page(context.Background(), register.Filter{Home: home, Accepted: true}, 0, 2)
	if err != nil || len(list) != 1 {
		p.t.Fatalf("%d homes are called %s, %v", len(list), home, err)
	}
	return list[0].Key
}

func (p *deskPage) signs(key int64) []journal.SignInfo {
	p.t.Helper()
	r, err := p.s.Kept(context.Background(), key)
	if err != nil {
		p.t.Fatal(err)
	}
	return journal.Verify(r.Bytes, journal.VerifyOptions{}).Signs
}

func onLoopback(t *testing.T) *deskPage {
	return servePages(t, "sqlite:"+filepath.Join(t.TempDir(), "d.db"), served{loopback: true})
}

// inside are addresses that show something of homes or change it.
func (p *deskPage) inside() []string {
	return []string{"/", "/?crew=KM", "/queue.csv", "/trend", "/trend.csv", fmt.Sprintf("/home/%d", p.key("Birch 21")), "/home/999", "/nothing"}
}

func TestServeOpensOnce(t *testing.T) {
	p := onLoopback(t)
	none := func(who string) {
		t.Helper()
		for _, path := range p.inside() {
			if resp, body := p.do("GET", path, nil); resp.StatusCode != 401 || strings.Contains(body, "Birch") || strings.Contains(body, `name="csrf"`) {
				t.Errorf("%s gets %s: %d\n%s", who, path, resp.StatusCode, body)
			}
		}
		for _, path := range []string{"/out", fmt.Sprintf("/home/%d/sign", p.key("Birch 21"))} {
			if resp, _ := p.do("POST", path, url.Values{"csrf": {""}}); resp.StatusCode != 401 {
				t.Errorf("%s posts to %s: %d", who, path, resp.StatusCode)
			}
		}
	}
	none("a browser without a cookie")
	for _, token := range []string{"", "x", p.v.first + "x", strings.ToUpper(p.v.first)} {
		if resp, _ := p.do("GET", "/enter?token="+url.QueryEscape(token), nil); resp.StatusCode != 403 {
			t.Errorf("token %q: %d", token, resp.StatusCode)
		}
	}
	if resp, _ := p.do("HEAD", p.v.address(), nil); resp.StatusCode != 403 {
		t.Errorf("a look ahead without the page: %d", resp.StatusCode)
	}
	if resp, _ := p.do("GET", "/login", nil); resp.StatusCode != 404 {
		t.Errorf("a password form without a password: %d", resp.StatusCode)
	}
	resp, _ := p.do("GET", p.v.address(), nil)
	c := resp.Cookies()
	if resp.StatusCode != 303 || len(c) != 1 || !c[0].HttpOnly || c[0].SameSite != http.SameSiteStrictMode || c[0].Path != "/" || c[0].Domain != "" || c[0].MaxAge != 0 || len(c[0].Value) < 40 {
		t.Fatalf("%d, cookies %v", resp.StatusCode, c)
	}
	if c[0].Value == p.v.first || strings.Contains(resp.Header.Get("Location"), p.v.first) {
		t.Error("the token goes on after it was used")
	}
	if !strings.Contains(p.get("/"), "Birch 21") {
		t.Error("the queue has no homes")
	}
	if resp, _ := p.do("GET", p.v.address(), nil); resp.StatusCode != 303 {
		t.Errorf("the same browser again: %d", resp.StatusCode)
	}
	first := p.c
	p.c = p.browser()
	if resp, _ := p.do("GET", p.v.address(), nil); resp.StatusCode != 403 {
		t.Errorf("the address opened twice: %d", resp.StatusCode)
	}
	none("another browser")
	p.c = first
	p.mu.Lock()
	p.ahead = sessionIdle - time.Minute
	p.mu.Unlock()
	p.get("/") // used, so it goes on
	p.mu.Lock()
	p.ahead = 2*sessionIdle - 2*time.Minute
	p.mu.Unlock()
	p.get("/")
	p.mu.Lock()
	p.ahead = 4 * sessionIdle
	p.mu.Unlock()
	none("a browser that was away")
}

// TestServeHeaders holds what every answer carries, whatever it says, and
// that no page has anything the policy would have to stop.
func TestServeHeaders(t *testing.T) {
	p := onLoopback(t)
	foreign := regexp.MustCompile(`(?i)<script|<iframe|<object|<base|javascript:|\son[a-z]+=|\sstyle=|(src|href|action)="(https?:)?//`)
	look := func(method, path string, form url.Values, want int, change ...func(*http.Request)) {
		t.Helper()
		resp, body := p.do(method, path, form, change...)
		if resp.StatusCode != want {
			t.Errorf("%s %s: %d, want %d", method, path, resp.StatusCode, want)
		}
		for k, v := range map[string]string{
			"Content-Security-Policy": policy, "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY", "Referrer-Policy": "same-origin",
			"Cache-Control": "no-store", "Cross-Origin-Resource-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin", "Access-Control-Allow-Origin": "",
		} {
			if got := resp.Header.Get(k); got != v {
				t.Errorf("%s %s: %s is %q", method, path, k, got)
			}
		}
		if m := foreign.FindString(body); m != "" && strings.HasPrefix(resp.Header.Get("Content-Type"), "text/html") {
			t.Errorf("%s %s: page holds %q", method, path, m)
		}
	}
	for _, not := range []string{"script-src", "unsafe", "*", "http"} {
		if strings.Contains(policy, not) || !strings.Contains(policy, "default-src 'none'") {
			t.Errorf("the policy lets %s", not)
		}
	}
	look("GET", "/", nil, 401)
	look("GET", "/style.css", nil, 200)
	p.enter()
	for _, e := range p.all() {
		look("GET", fmt.Sprintf("/home/%d", e.Key), nil, 200)
	}
	for path, want := range map[string]int{"/": 200, "/trend": 200, "/trend?by=appliance": 200, "/queue.csv": 200, "/trend.csv": 200, "/?reason=x": 400, "/?%zz": 400, "/home/0": 404, "/home/x": 404, "/home/../etc/passwd": 307,
		"/home/99999": 404, "/?after=99999": 404, "/?lang=es": 303, "/enter": 303, "/login": 404, "/style.css": 200, "/?home=" + strings.Repeat("x", serveQuery): 414, "/home/1?x=1": 400} {
		look("GET", path, nil, want)
	}
	look("POST", "/", url.Values{}, 404)
	look("POST", "/trend", url.Values{}, 404)
	look("PUT", "/home/1/sign", nil, 404)
	look("DELETE", "/home/1", nil, 404)
	look("POST", "/out", url.Values{}, 403)
	look("GET", "/", nil, 421, func(r *http.Request) { r.Host = "cazward.example" })
	if p.said.Len() > 0 {
		t.Errorf("the program said %s", p.said)
	}
}

func (p *deskPage) all() []register.Entry {
	p.t.Helper()
	list, err := p.s.Page(context.Background(), register.Filter{Accepted: true}, 0, 1000)
	if err != nil || len(list) < 10 {
		p.t.Fatalf("%d homes, %v", len(list), err)
	}
	return list
}

// TestServeHost: a name elsewhere that was made to lead here gets nothing.
func TestServeHost(t *testing.T) {
	p := onLoopback(t).enter()
	_, port, _ := net.SplitHostPort(strings.TrimPrefix(p.base, "http://"))
	for host, good := range map[string]bool{
		"127.0.0.1:" + port: true, "localhost:" + port: true, "LOCALHOST:" + port: true, "[::1]:" + port: true, "127.0.0.2:" + port: true,
		"127.0.0.1": false, "127.0.0.1:1": false, "localhost": false, "evil.example:" + port: false, "127.0.0.1.evil.example:" + port: false, "localhost.:" + port: false,
		"10.0.0.1:" + port: false, "evil.example@127.0.0.1:" + port: false, "x": false,
	} {
		resp, body := p.do("GET", "/", nil, func(r *http.Request) {
			for _, c := range p.c.Jar.Cookies(r.URL) {
				r.AddCookie(c)
			}
			r.Host = host
		})
		if got := resp.StatusCode == 200; got != good || !good && strings.Contains(body, "Birch") {
			t.Errorf("Host %s: %d", host, resp.StatusCode)
		}
	}
}

func TestServeSign(t *testing.T) {
	p := onLoopback(t).enter()
	key := p.key("Birch 21")
	path := fmt.Sprintf("/home/%d/sign", key)
	refused := func(why string, code int, form url.Values, change ...func(*http.Request)) string {
		t.Helper()
		resp, body := p.do("POST", path, form, change...)
		if resp.StatusCode != code || len(p.signs(key)) != 0 {
			t.Errorf("%s: %d, want %d; %d signs", why, resp.StatusCode, code, len(p.signs(key)))
		}
		return body
	}
	good := func() url.Values { return p.form(key, "Ann Reviewer", "accept", "") }
	with := func(k, v string) url.Values { f := good(); f.Set(k, v); return f }
	refused("no token", 403, with("csrf", ""))
	refused("another token", 403, with("csrf", secret()))
	refused("from another site", 403, good(), func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") })
	refused("from another port", 403, good(), func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") })
	refused("another origin", 403, good(), func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") })
	refused("no origin", 403, good(), func(r *http.Request) { r.Header.Set("Origin", "null") })
	refused("as text", 415, good(), func(r *http.Request) { r.Header.Set("Content-Type", "text/plain") })
	refused("as a file", 415, good(), func(r *http.Request) { r.Header.Set("Content-Type", "multipart/form-data; boundary=x") })
	refused("too large", 413, with("note", strings.Repeat("x", serveForm)))
	refused("in the address", 403, url.Values{}, func(r *http.Request) { r.URL.RawQuery = good().Encode() })
	refused("another closing", 409, with("close", strings.Repeat("0", 64)))
	if body := refused("no verdict", 422, with("verdict", "")); !strings.Contains(body, `role="alert"`) || !strings.Contains(body, `value="Ann Reviewer"`) {
		t.Error("what is wrong is not said, or what was typed is lost")
	}
	refused("long note", 422, with("note", strings.Repeat("x", page.MaxNote+1)))
	refused("control characters", 422, with("name", "A\x1b[2J"))
	refused("unknown field", 422, with("path", "../../x"))
	f := good()
	f.Add("verdict", "return")
	refused("two verdicts", 422, f)
	f = with("verdict", "return")
	if body := refused("returned without a note", 422, f); !strings.Contains(body, `aria-invalid="true"`) {
		t.Error("the field is not marked")
	}

	f.Set("note", "look at the\r\nwater heater")
	resp, _ := p.do("POST", path, f)
	if resp.StatusCode != 303 || resp.Header.Get("Location") != fmt.Sprintf("/home/%d", key) {
		t.Fatalf("signed: %d to %s", resp.StatusCode, resp.Header.Get("Location"))
	}
	s := p.signs(key)
	if len(s) != 1 || s[0].Name != "Ann Reviewer" || s[0].Verdict != "return" || s[0].Note != "look at the\nwater heater" || s[0].Earlier {
		t.Fatalf("signs %+v", s)
	}
	kept, err := p.s.Kept(context.Background(), key)
	if err != nil {
		t.Fatal(err)
	}
	if b, err := os.ReadFile(kept.Path); err != nil || !bytes.Equal(b, kept.Bytes) {
		t.Errorf("the file is not as what is kept, %v", err)
	}
	body := p.get(fmt.Sprintf("/home/%d", key))
	for _, want := range []string{`role="status"`, "Signed.", "file too", "look at the\nwater heater", `value="Ann Reviewer"`} {
		if !strings.Contains(body, want) {
			t.Errorf("the page after it does not say %q", want)
		}
	}
	if body := p.get(fmt.Sprintf("/home/%d", key)); strings.Contains(body, `role="status"`) {
		t.Error("said twice")
	}
	// The same form sent again signs nothing more.
	if resp, _ := p.do("POST", path, f); resp.StatusCode != 303 || len(p.signs(key)) != 1 {
		t.Errorf("sent again: %d, %d signs", resp.StatusCode, len(p.signs(key)))
	}
	// Accepted, it leaves the queue.
	f = p.form(key, "Ann Reviewer", "accept", "")
	if resp, _ := p.do("POST", path, f); resp.StatusCode != 303 || len(p.signs(key)) != 2 {
		t.Errorf("accepted: %d", resp.StatusCode)
	}
	if strings.Contains(p.get("/"), "Birch 21") || !strings.Contains(p.get("/?signed=1"), "accepted by Ann Reviewer") {
		t.Error("the queue is not as after an accepted sign-off")
	}
}

// TestServeSignOpenRecord: what is not closed has no form, and no form made by
// hand signs it.
func TestServeSignOpenRecord(t *testing.T) {
	p := onLoopback(t).enter()
	g := newGenerator(t, 9)
	for {
		id, b := g.next(t)
		if bytes.Contains(b, []byte(`"kind":"close"`)) {
			continue
		}
		file := filepath.Join(p.dir, "open"+recordSuffix)
		if err := os.WriteFile(file, b, 0o600); err != nil {
			t.Fatal(err)
		}
		if code, _, errs := cazward("desk", "add", file, "--register", p.where); code != 0 {
			t.Fatal(errs)
		}
		list, err := p.s.Find(context.Background(), id)
		if err != nil || len(list) != 1 {
			t.Fatal(len(list), err)
		}
		body := p.get(fmt.Sprintf("/home/%d", list[0].Key))
		if strings.Contains(body, `name="close"`) || !strings.Contains(body, "only a closed record") {
			t.Error("an open record has a form")
		}
		f := p.form(p.key("Birch 21"), "X", "accept", "")
		if resp, _ := p.do("POST", fmt.Sprintf("/home/%d/sign", list[0].Key), f); resp.StatusCode != 409 || len(p.signs(list[0].Key)) != 0 {
			t.Errorf("%d", resp.StatusCode)
		}
		return
	}
}

// TestServeBusy: more pages at once than are made are told to come back, and
// a slow store is given up.
func TestServeBusy(t *testing.T) {
	p := onLoopback(t).enter()
	for range serveAtOnce {
		p.v.slots <- struct{}{}
	}
	if resp, body := p.do("GET", "/", nil); resp.StatusCode != 503 || resp.Header.Get("Retry-After") == "" || strings.Contains(body, "Birch") {
		t.Errorf("%d", resp.StatusCode)
	}
	for range serveAtOnce {
		<-p.v.slots
	}
	p.get("/")
	slow := p.v.with(true, time.Millisecond, func(q *request) error { <-q.r.Context().Done(); return p.v.queue(q) })
	r := httptest.NewRequest("GET", p.base+"/", nil)
	for _, c := range p.c.Jar.Cookies(r.URL) {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	slow(w, r)
	if w.Code != 503 || !strings.Contains(w.Body.String(), "took too long") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	// A fault of the program is a page, and the server goes on.
	w = httptest.NewRecorder()
	r = httptest.NewRequest("GET", p.base+"/", nil)
	p.v.guard(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("\x1b[31mfault") })).ServeHTTP(w, r)
	if w.Code != 500 || strings.Contains(p.said.String(), "\x1b") || !strings.Contains(p.said.String(), "fault of the program") {
		t.Errorf("%d, said %q", w.Code, p.said)
	}
}

// hostile is text that means something to one of those who read it.
var hostile = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `' onfocus='alert(1)' autofocus='`, `</textarea><script>alert(2)</script>`, `{{.CSRF}}`, `javascript:alert(1)`, `&lt;script&gt;`,
	`' OR '1'='1`, `'; DROP TABLE entry; --`, `" OR ""="`, `\'; DELETE FROM record; --`, `%' OR '%'='`, `$1`, `?`,
	`=cmd|' /C calc'!A0`, `+1+1`, `-2+3`, `@SUM(1)`, `|x`, `%0d%0aSet-Cookie: a=b`,
	`../../../etc/passwd`, `..\..\x`, `file:///etc/passwd`, `C:\Windows`, `//evil.example/x`, "~root",
	"\U0001F525", "é\u0301",
}

// barred is text that no record takes.
var barred = []string{"a\x00b", "\x1b[31mred", "\u202eevil", "a\u2028b", "\u2066x", "\xff", "a\r\nSet-Cookie: x=y", "a\u009bb"}

// TestServeInjection puts hostile text into every field that takes text and
// into every field of a record that a page shows.
func TestServeInjection(t *testing.T) {
	registers(t, func(t *testing.T, where string) {
		p := servePages(t, where, served{loopback: true}).enter()
		before := len(p.all())
		markup := regexp.MustCompile(`(?i)<script|<img|<[^>]*\son[a-z]+=|href="(javascript|//|file)|\x1b|\x{202e}`)
		values := regexp.MustCompile(`(value|aria-label|content)="[^"]*"`) // in quotes, so no markup
		check := func(what, body string) {
			t.Helper()
			if m := markup.FindString(values.ReplaceAllString(body, "")); m != "" {
				t.Errorf("%s: page holds %q", what, m)
			}
		}
		// Filters: of the queue, the trend and the CSV files.
		for i, x := range append(hostile, barred...) {
			keys := []string{"crew", "home", "label", "scheme", "reason", "appliance", "phase", "from", "to", "by", "after", "signed", "no-practice", "lang", "token", x}
			for n, k := range keys {
				paths := []string{"/", "/trend", "/queue.csv", "/trend.csv", "/enter"}
				if n > 3 { // not a field of text: one place at a time
					paths = paths[(i+n)%len(paths):][:1]
				}
				for _, path := range paths {
					resp, body := p.do("GET", path+"?"+url.Values{k: {x}}.Encode(), nil)
					if resp.StatusCode >= 500 || len(resp.Cookies()) > 0 {
						t.Errorf("%s?%s=%q: %d", path, k, x, resp.StatusCode)
					}
					if resp.StatusCode == 200 && path == "/" && (strings.Contains(body, "Birch") || !strings.Contains(body, "Homes: 0")) {
						t.Errorf("%s=%q shows homes", k, x)
					}
					if loc := resp.Header.Get("Location"); strings.HasPrefix(loc, "//") || strings.Contains(loc, "evil") && !strings.HasPrefix(loc, "/") {
						t.Errorf("%s=%q leads to %s", k, x, loc)
					}
					check(path+" "+k, body)
				}
			}
			resp, body := p.do("GET", "/home/"+url.PathEscape(x), nil)
			if resp.StatusCode < 400 || resp.StatusCode >= 500 {
				t.Errorf("/home/%q: %d", x, resp.StatusCode)
			}
			check("key", body)
		}
		if resp, _ := p.do("GET", "//evil.example/?lang=es", nil); strings.HasPrefix(resp.Header.Get("Location"), "//") {
			t.Errorf("leads to %s", resp.Header.Get("Location"))
		}
		// The sign-off: names and notes are kept as typed, to the letter.
		key := p.key("Birch 21")
		f := p.form(key, "", "", "")
		fill := func(name, verdict, note string) url.Values {
			f.Set("name", name)
			f.Set("verdict", verdict)
			f.Set("note", note)
			return f
		}
		for i, x := range hostile {
			verdict := []string{"accept", "return"}[i%2]
			if resp, body := p.do("POST", fmt.Sprintf("/home/%d/sign", key), fill(x, verdict, x)); resp.StatusCode != 303 {
				t.Fatalf("%q: %d\n%s", x, resp.StatusCode, body)
			}
			s := p.signs(key)
			if last := s[len(s)-1]; len(s) != i+1 || last.Name != x || last.Note != x {
				t.Errorf("%q is kept as %q, %q", x, last.Name, last.Note)
			}
		}
		if body := p.get(fmt.Sprintf("/home/%d", key)); strings.Count(body, "<td class=\"d-note\">") != len(hostile) {
			t.Errorf("the page lists %d notes of %d", strings.Count(body, "<td class=\"d-note\">"), len(hostile))
		} else {
			check("signed", body)
		}
		for _, x := range barred {
			for _, k := range []string{"name", "note"} {
				if k == "note" && strings.Contains(x, "\n") {
					continue // a note may have lines
				}
				fill("SV", "return", "look").Set(k, x)
				resp, body := p.do("POST", fmt.Sprintf("/home/%d/sign", key), f)
				if resp.StatusCode != 422 || len(p.signs(key)) != len(hostile) || len(resp.Cookies()) > 0 {
					t.Errorf("%s %q: %d", k, x, resp.StatusCode)
				}
				check("refused", body)
			}
		}
		// Records that hold it: home, crew, label, file name, damage.
		g := newGenerator(t, 11)
		for i, x := range hostile {
			label := x
			if reports.Clean(x) != x { // desk add takes no such label
				label = "plain"
			}
			rec := g.base[i%len(g.base)]
			h := rec.Header
			h.Record, h.Home = fmt.Sprintf("%016x", i+1), x
			again, head, err := journal.Begin(h)
			if err != nil {
				t.Fatal(err)
			}
			events := make([]procedure.Event, len(rec.Events))
			for k, ev := range rec.Events {
				ev.N, ev.Who = 0, x
				events[k] = ev
			}
			_, lines, err := again.Extend(events...)
			if err != nil {
				t.Fatal(err)
			}
			file := filepath.Join(p.dir, strings.NewReplacer("/", "_", "\\", "_", "\n", "_").Replace(x)+recordSuffix)
			if err := os.WriteFile(file, append(head, lines...), 0o600); err != nil {
				t.Fatal(err)
			}
			if code, _, errs := cazward("desk", "add", file, "--label", label, "--register", where); code != 0 {
				t.Fatal(errs)
			}
		}
		bad := filepath.Join(p.dir, "<script>alert(3)</script>"+recordSuffix)
		bad = strings.ReplaceAll(bad, "</", "<")
		if err := os.WriteFile(bad, []byte("{\"<script>\x1b[31m\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		cazward("desk", "add", bad, "--register", where)
		after := p.all()
		if want := before + len(hostile) + 1; len(after) != want {
			t.Errorf("%d homes, want %d", len(after), want)
		}
		for _, lang := range []string{"", "?lang=es"} {
			if lang != "" {
				p.do("GET", "/"+lang, nil)
			}
			check("queue", p.get("/"))
			for i, e := range after {
				if lang != "" && i%4 != 0 {
					continue
				}
				check(e.Home, p.get(fmt.Sprintf("/home/%d", e.Key)))
			}
			for _, by := range register.Groups {
				check("trend", p.get("/trend?by="+string(by)))
			}
		}
		// What a filter is asked for, it finds, whatever the letters mean.
		for _, x := range hostile {
			for _, k := range []string{"home", "crew", "label"} {
				if k == "label" && reports.Clean(x) != x {
					continue
				}
				if body := p.get("/?" + url.Values{k: {x}, "signed": {"1"}}.Encode()); !strings.Contains(body, "Homes: 1<") && !strings.Contains(body, "Viviendas: 1<") {
					t.Errorf("%s %q is not found", k, x)
				}
			}
		}
		for _, path := range []string{"/queue.csv?signed=1", "/trend.csv?by=crew"} {
			rows, err := csv.NewReader(strings.NewReader(p.get(path))).ReadAll()
			if err != nil || len(rows) < 10 {
				t.Fatalf("%d rows, %v", len(rows), err)
			}
			number := regexp.MustCompile(`^-?[0-9.]+$`)
			for _, row := range rows {
				for _, c := range row {
					if c != "" && strings.ContainsRune("=+-@|%\t\r", rune(c[0])) && !number.MatchString(c) || strings.ContainsAny(c, "\x1b\u202e") {
						t.Errorf("%s: cell %q", path, c)
					}
				}
			}
		}
		if strings.Contains(p.said.String(), "\x1b") {
			t.Errorf("the terminal gets %q", p.said)
		}
	})
}

// TestServeForce: a page judges by what is in force when it is asked for.
func TestServeForce(t *testing.T) {
	p := onLoopback(t).enter()
	if !strings.Contains(p.get("/"), "Judged by each record") {
		t.Error("the page does not say by what it judges")
	}
	if code, _, errs := cazward("desk", "rebuild", "--scheme", "spillage-2017", "--register", p.where); code != 0 {
		t.Fatal(errs)
	}
	body := p.get(fmt.Sprintf("/home/%d", p.key("Birch 21")))
	if !strings.Contains(body, "Judged by spillage-2017.") || !strings.Contains(body, "spillage, 2017") {
		t.Error("the page judges by what was in force before")
	}
}

// certificate is a new one for these names, and its files.
func certificate(t *testing.T, names ...string) (cert, key string) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "desk"}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), DNSNames: names}
	der, err := x509.CreateCertificate(rand.Reader, c, c, &k.PublicKey, k)
	if err != nil {
		t.Fatal(err)
	}
	b, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(t.TempDir(), "cert.pem"), filepath.Join(t.TempDir(), "key.pem")
	for f, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: b}} {
		if err := os.WriteFile(f, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

func hashed(t *testing.T, password string, cost int) string {
	t.Helper()
	h, err := bcrypt.GenerateFromPassword([]byte(password), cost)
	if err != nil {
		t.Fatal(err)
	}
	f := filepath.Join(t.TempDir(), "hash")
	if err := os.WriteFile(f, append(h, '\n'), 0o600); err != nil {
		t.Fatal(err)
	}
	return f
}

func TestServeRefusesOpenDoors(t *testing.T) {
	cert, key := certificate(t, "desk.example")
	bare, bareKey := certificate(t)
	good, cheap := hashed(t, "correct horse battery", minBcryptCost), hashed(t, "correct horse battery", bcrypt.MinCost)
	empty := filepath.Join(t.TempDir(), "empty")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		o    serveOptions
		code int
	}{
		{serveOptions{listen: "127.0.0.1:0"}, 0},
		{serveOptions{listen: "localhost:0"}, 0},
		{serveOptions{listen: "[::1]:0"}, 0},
		{serveOptions{listen: "127.8.0.1:0"}, 0},
		{serveOptions{listen: "127.0.0.1:0", password: good}, 0},
		{serveOptions{listen: "127.0.0.1:0", cert: cert, key: key}, 0},
		{serveOptions{listen: "0.0.0.0:0", cert: cert, key: key, password: good}, 0},
		{serveOptions{listen: "0.0.0.0:0"}, exitUsage},
		{serveOptions{listen: ":0"}, exitUsage},
		{serveOptions{listen: "[::]:0"}, exitUsage},
		{serveOptions{listen: "192.168.1.5:0"}, exitUsage},
		{serveOptions{listen: "localhost.example:0"}, exitUsage},
		{serveOptions{listen: "127.0.0.1.example:0"}, exitUsage},
		{serveOptions{listen: "0.0.0.0:0", cert: cert, key: key}, exitUsage},
		{serveOptions{listen: "0.0.0.0:0", password: good}, exitUsage},
		{serveOptions{listen: "0.0.0.0:0", cert: cert, password: good}, exitUsage},
		{serveOptions{listen: "127.0.0.1"}, exitUsage},
		{serveOptions{listen: "127.0.0.1:0", lang: "fr"}, exitUsage},
		{serveOptions{listen: "0.0.0.0:0", cert: cert, key: key, password: cheap}, exitRefused},
		{serveOptions{listen: "0.0.0.0:0", cert: cert, key: key, password: empty}, exitRefused},
		{serveOptions{listen: "0.0.0.0:0", cert: cert, key: key, password: cert}, exitRefused},
		{serveOptions{listen: "0.0.0.0:0", cert: cert, key: key, password: "none"}, exitRefused},
		{serveOptions{listen: "0.0.0.0:0", cert: bare, key: bareKey, password: good}, exitRefused},
		{serveOptions{listen: "0.0.0.0:0", cert: cert, key: bareKey, password: good}, exitRefused},
		{serveOptions{listen: "0.0.0.0:0", cert: key, key: cert, password: good}, exitRefused},
	} {
		if c.o.lang == "" {
			c.o.lang = "en"
		}
		_, err := c.o.check()
		if code := exitCodeOf(err); code != c.code {
			t.Errorf("%+v: %d (%v), want %d", c.o, code, err, c.code)
		}
	}
}

func TestServePassword(t *testing.T) {
	const password = "correct horse battery"
	cert, key := certificate(t, "desk.example")
	c, err := serveOptions{listen: "127.0.0.1:0", cert: cert, key: key, password: hashed(t, password, minBcryptCost), lang: "en"}.check()
	if err != nil {
		t.Fatal(err)
	}
	p := servePages(t, "sqlite:"+filepath.Join(t.TempDir(), "d.db"), c)
	if strings.Contains(p.v.address(), "token") {
		t.Errorf("address %s", p.v.address())
	}
	if resp, _ := p.do("GET", "/enter?token=", nil); resp.StatusCode != 404 {
		t.Errorf("the door of the token: %d", resp.StatusCode)
	}
	for _, path := range p.inside() {
		if resp, body := p.do("GET", path, nil); resp.StatusCode != 303 || resp.Header.Get("Location") != "/login" || strings.Contains(body, "Birch") {
			t.Errorf("%s: %d", path, resp.StatusCode)
		}
	}
	if body := p.get("/login"); !strings.Contains(body, `type="password"`) {
		t.Error("no field for the password")
	}
	try := func(s string, change ...func(*http.Request)) *http.Response {
		t.Helper()
		resp, body := p.do("POST", "/login", url.Values{"password": {s}}, change...)
		if strings.Contains(body, s) && len(s) > 5 {
			t.Error("the password comes back")
		}
		return resp
	}
	if resp := try(password, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }); resp.StatusCode != 403 || len(resp.Cookies()) > 0 {
		t.Errorf("from another site: %d", resp.StatusCode)
	}
	for _, wrong := range []string{"", "x", password + "x", strings.ToUpper(password), strings.Repeat("x", 100)} {
		if resp := try(wrong); resp.StatusCode != 403 || len(resp.Cookies()) > 0 {
			t.Errorf("password %q: %d", wrong, resp.StatusCode)
		}
	}
	if resp := try(password); resp.StatusCode != 429 || resp.Header.Get("Retry-After") == "" {
		t.Errorf("after %d wrong ones: %d", wrongMost, resp.StatusCode)
	}
	p.mu.Lock()
	p.ahead = wrongFor + time.Second
	p.mu.Unlock()
	resp := try(password)
	if c := resp.Cookies(); resp.StatusCode != 303 || len(c) != 1 || !c[0].Secure || !c[0].HttpOnly || c[0].SameSite != http.SameSiteStrictMode || !strings.HasPrefix(c[0].Name, "__Host-") {
		t.Fatalf("%d, cookies %v", resp.StatusCode, resp.Cookies())
	}
	body := p.get("/")
	if !strings.Contains(body, "Birch 21") {
		t.Error("no homes behind the password")
	}
	_, port, _ := net.SplitHostPort(strings.TrimPrefix(p.base, "https://"))
	for host, want := range map[string]int{"desk.example:" + port: 303, "other.example:" + port: 421} {
		if resp, _ := p.do("GET", "/", nil, func(r *http.Request) { r.Host = host }); resp.StatusCode != want {
			t.Errorf("Host %s: %d", host, resp.StatusCode)
		}
	}
	m := hidden.FindStringSubmatch(body)
	if resp, _ := p.do("POST", "/out", url.Values{"csrf": {m[2]}}); resp.StatusCode != 303 {
		t.Errorf("signing out: %d", resp.StatusCode)
	}
	if resp, _ := p.do("GET", "/", nil); resp.StatusCode != 303 {
		t.Errorf("after signing out: %d", resp.StatusCode)
	}
	// A certificate for another name on another address serves no loopback name.
	p.v.conf.loopback = false
	if resp, _ := p.do("GET", "/login", nil, func(r *http.Request) { r.Host = "127.0.0.1:" + port }); resp.StatusCode != 421 {
		t.Errorf("a name that the certificate has not: %d", resp.StatusCode)
	}
}

func TestServeMakeHash(t *testing.T) {
	for in, code := range map[string]int{"correct horse battery\n": 0, "correct horse battery": 0, "short\n": exitRefused, strings.Repeat("x", 73) + "\n": exitRefused, "": exitRefused} {
		var out, errs bytes.Buffer
		if got := Main([]string{"desk", "serve", "--make-hash"}, strings.NewReader(in), &out, &errs); got != code {
			t.Errorf("%q: %d %s", in, got, &errs)
		}
		if code == 0 && bcrypt.CompareHashAndPassword(bytes.TrimSpace(out.Bytes()), []byte("correct horse battery")) != nil {
			t.Errorf("%q: the hash is of another password", in)
		}
		if strings.Contains(out.String()+errs.String(), "horse") {
			t.Error("the password is shown")
		}
	}
}

// TestServeEndsWithCtrlC starts the real program, reads a page over the wire
// and ends it.
func TestServeEndsWithCtrlC(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program")
	}
	bin, where := program(t), "sqlite:"+filepath.Join(t.TempDir(), "d.db")
	addInvented(t, where, t.TempDir())
	for _, sig := range []os.Signal{os.Interrupt, terminate} {
		c := exec.Command(bin, "desk", "serve", "--register", where)
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		var errs bytes.Buffer
		c.Stderr = &errs
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Process.Kill() })
		var at string
		if _, err := fmt.Fscanln(out, &at); err != nil {
			t.Fatal(err)
		}
		u, err := url.Parse(at)
		if err != nil || u.Hostname() != "127.0.0.1" || len(u.Query().Get("token")) < 40 {
			t.Fatalf("address %q, %v", at, err)
		}
		jar, _ := cookiejar.New(nil)
		resp, err := (&http.Client{Jar: jar}).Get(at)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := io.ReadAll(resp.Body)
		resp.Body.Close()
		if resp.StatusCode != 200 || !bytes.Contains(b, []byte("Birch 21")) || resp.Request.URL.RawQuery != "" {
			t.Errorf("%d at %s", resp.StatusCode, resp.Request.URL)
		}
		if err := c.Process.Signal(sig); err != nil {
			t.Fatal(err)
		}
		if err := c.Wait(); err != nil || !strings.Contains(errs.String(), "the page is closed") {
			t.Errorf("after %v: %v\n%s", sig, err, &errs)
		}
		if conn, err := net.Dial("tcp", u.Host); err == nil {
			conn.Close()
			t.Error("something still listens")
		}
	}
}

var terminate os.Signal = syscall.SIGTERM

// TestServeTLS starts the real program for other computers: TLS alone, and of
// the newest version.
func TestServeTLS(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program")
	}
	bin, where := program(t), "sqlite:"+filepath.Join(t.TempDir(), "d.db")
	addInvented(t, where, t.TempDir())
	cert, key := certificate(t, "desk.example")
	c := exec.Command(bin, "desk", "serve", "--register", where, "--listen", "0.0.0.0:0", "--cert", cert, "--key", key, "--password-file", hashed(t, "correct horse battery", minBcryptCost), "--lang", "es")
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Process.Kill(); c.Wait() })
	var at string
	if _, err := fmt.Fscanln(out, &at); err != nil {
		t.Fatal(err)
	}
	u, err := url.Parse(at)
	if err != nil || u.Scheme != "https" || u.Hostname() != "desk.example" || u.RawQuery != "" {
		t.Fatalf("address %q, %v", at, err)
	}
	pem, err := os.ReadFile(cert)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(pem)
	client := func(version uint16) *http.Client {
		tr := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots, MaxVersion: version}, DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, "tcp", "127.0.0.1:"+u.Port())
		}}
		t.Cleanup(tr.CloseIdleConnections)
		return &http.Client{Transport: tr}
	}
	resp, err := client(tls.VersionTLS13).Get(at)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := io.ReadAll(resp.Body)
	resp.Body.Close()
	if resp.StatusCode != 200 || resp.Request.URL.Path != "/login" || !bytes.Contains(b, []byte("Contraseña")) {
		t.Errorf("%d at %s", resp.StatusCode, resp.Request.URL)
	}
	if _, err := client(tls.VersionTLS12).Get(at); err == nil {
		t.Error("an older TLS is taken")
	}
	if resp, err := http.Get("http://127.0.0.1:" + u.Port() + "/"); err == nil {
		b, _ := io.ReadAll(resp.Body)
		resp.Body.Close()
		if resp.StatusCode != 400 || bytes.Contains(b, []byte("cazward")) {
			t.Errorf("without TLS: %d %s", resp.StatusCode, b)
		}
	}
}

// TestServeWithoutStore: a store that is gone is a page that says so, and what
// it says of itself goes to the terminal alone.
func TestServeWithoutStore(t *testing.T) {
	p := onLoopback(t).enter()
	p.s.Close()
	for _, path := range []string{"/", "/trend", "/queue.csv", "/trend.csv", "/home/1"} {
		resp, body := p.do("GET", path, nil)
		if resp.StatusCode != 500 || !strings.Contains(body, "Nothing that was kept is lost") || strings.Contains(body, "sql") {
			t.Errorf("%s: %d\n%s", path, resp.StatusCode, body)
		}
	}
	if !strings.Contains(p.said.String(), "closed") {
		t.Errorf("the terminal gets %q", p.said)
	}
}

// FuzzServe sends any address and form to the handlers: none fails, none
// answers without its policy, none shows a form's token to who has no session.
func FuzzServe(f *testing.F) {
	dir := f.TempDir()
	where := "sqlite:" + filepath.Join(dir, "d.db")
	addInvented(f, where, f.TempDir())
	d := &desk{e: testEnv(), where: where}
	s, err := d.open(false)
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { s.Close() })
	var said bytes.Buffer
	d.e.err = &said
	v := newPages(d, s, served{loopback: true, lang: "en"}, &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 8080})
	h := v.handler()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest("GET", v.address(), nil))
	cookie := w.Result().Cookies()[0]
	var csrf string
	for _, x := range v.open {
		csrf = x.csrf
	}
	for _, x := range [][3]string{{"GET", "/?crew=AB&after=2", ""}, {"GET", "/home/1", ""}, {"GET", "/trend?by=crew", ""}, {"POST", "/home/1/sign", "close=x&name=a&verdict=return&note=%0a"}, {"POST", "/home/1/sign", "a=%zz;"}, {"GET", "/?lang=es&x=//evil", ""}, {"GET", "/queue.csv?home='", ""}} {
		f.Add(x[0] == "POST", x[1], x[2], true)
	}
	f.Fuzz(func(t *testing.T, post bool, path, form string, inside bool) {
		u, err := url.ParseRequestURI(path)
		if err != nil || u.Host != "" || !strings.HasPrefix(path, "/") {
			return
		}
		method, body := "GET", ""
		if post {
			method, body = "POST", "csrf="+csrf+"&"+form
		}
		r := &http.Request{Method: method, URL: u, Host: "127.0.0.1:8080", Header: http.Header{}, Body: io.NopCloser(strings.NewReader(body)), ContentLength: int64(len(body)), RemoteAddr: "127.0.0.1:1"}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		if inside {
			r.AddCookie(cookie)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code >= 500 || w.Header().Get("Content-Security-Policy") != policy {
			t.Errorf("%s %q %q: %d %q\n%s", method, path, form, w.Code, w.Header(), &said)
		}
		if loc := w.Header().Get("Location"); strings.HasPrefix(loc, "//") || strings.Contains(loc, "\\") || strings.Contains(loc, "\n") {
			t.Errorf("%q leads to %q", path, loc)
		}
		if b := w.Body.String(); !inside && (strings.Contains(b, csrf) || strings.Contains(b, "Birch")) {
			t.Errorf("%q shows what is inside", path)
		}
	})
}
