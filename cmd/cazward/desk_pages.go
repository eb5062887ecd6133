//go:build !field

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/csv"
	"errors"
	"fmt"
	"mime"
	"net"
	"net/http"
	"net/url"
	"os"
	"reflect"
	"runtime/debug"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/crypto/bcrypt"

	"cazward/limits"
	"cazward/procedure/journal"
	"cazward/procedure/register"
	"cazward/procedure/wording"
	reports "cazward/report"
	"cazward/report/page"
)

// A session ends when it is not used for this long.
const sessionIdle = 8 * time.Hour

// Wrong passwords that one address may give in a minute, and how many
// sessions and addresses are remembered.
const (
	wrongMost    = 5
	wrongFor     = time.Minute
	rememberMost = 1000
)

// queuePage is how many homes a page shows.
const queuePage = 50

// visit is one browser that may see homes.
type visit struct {
	csrf  string
	until time.Time
	name  string   // who signed last, so that it is not typed for each home
	said  []string // keys of what the next page says once
}

// pages serves the desk. Sessions, tokens and the count of wrong passwords
// live in memory: they end with the program.
type pages struct {
	d        *desk
	s        register.Store
	conf     served
	at       *net.TCPAddr
	css      string
	first    string // token of the printed address, "" with a password
	origin   *http.CrossOriginProtection
	slots    chan struct{}
	checking chan struct{} // passwords compared at once: each costs time by design

	mu    sync.Mutex
	token [sha256.Size]byte // of first; zero once it was used
	open  map[[sha256.Size]byte]*visit
	wrong map[string][]time.Time

	force sync.Mutex // guards by
	by    *judgeBy
}

func newPages(d *desk, s register.Store, c served, at *net.TCPAddr) *pages {
	v := &pages{d: d, s: s, conf: c, at: at, css: page.Style(), origin: http.NewCrossOriginProtection(), slots: make(chan struct{}, serveAtOnce), checking: make(chan struct{}, 2),
		open: map[[sha256.Size]byte]*visit{}, wrong: map[string][]time.Time{}, by: d.by}
	if c.hash == nil {
		v.first = secret()
		v.token = sha256.Sum256([]byte(v.first))
	}
	return v
}

// address is what is printed for the person.
func (v *pages) address() string {
	u := url.URL{Scheme: "http", Host: v.at.String(), Path: "/"}
	if v.conf.cert != nil {
		u.Scheme = "https"
		if leaf := v.conf.cert.Leaf; len(leaf.DNSNames) > 0 && !v.conf.loopback {
			u.Host = net.JoinHostPort(leaf.DNSNames[0], strconv.Itoa(v.at.Port))
		}
	}
	if v.conf.hash == nil {
		u.Path, u.RawQuery = "/enter", url.Values{"token": {v.first}}.Encode()
	}
	return u.String()
}

// cookie is the name of the session's cookie: browsers do not tell ports
// apart, so the name does.
func (v *pages) cookie() string {
	n := fmt.Sprintf("cazward-%d", v.at.Port)
	if v.conf.cert != nil {
		n = "__Host-" + n
	}
	return n
}

func (v *pages) setCookie(w http.ResponseWriter, name, value string, age int) {
	http.SetCookie(w, &http.Cookie{Name: name, Value: value, Path: "/", MaxAge: age, HttpOnly: true, Secure: v.conf.cert != nil, SameSite: http.SameSiteStrictMode})
}

// request is one request on its way through the handlers.
type request struct {
	w    http.ResponseWriter
	r    *http.Request
	d    *desk // of this request: its context, what is in force
	f    page.Frame
	sess *visit
}

// handler is all that is served. Every answer passes guard.
func (v *pages) handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /style.css", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
		fmt.Fprint(w, v.css)
	})
	mux.HandleFunc("GET /enter", v.with(false, servePage, v.enter))
	mux.HandleFunc("GET /login", v.with(false, servePage, v.loginPage))
	mux.HandleFunc("POST /login", v.with(false, servePage, v.login))
	mux.HandleFunc("POST /out", v.with(true, servePage, v.out))
	mux.HandleFunc("GET /{$}", v.with(true, servePage, v.queue))
	mux.HandleFunc("GET /queue.csv", v.with(true, serveLong, v.queueCSV))
	mux.HandleFunc("GET /home/{key}", v.with(true, servePage, v.home))
	mux.HandleFunc("POST /home/{key}/sign", v.with(true, servePage, v.sign))
	mux.HandleFunc("GET /trend", v.with(true, serveLong, v.trend))
	mux.HandleFunc("GET /trend.csv", v.with(true, serveLong, v.trendCSV))
	mux.HandleFunc("/", v.with(true, servePage, func(q *request) error { return errNoPage }))
	return v.guard(mux)
}

// policy lets a page use its style sheet, pictures inside the page and forms
// to itself, and nothing else: no script, no frame, no other host.
const policy = "default-src 'none'; style-src 'self'; img-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guard is what every request passes: names, headers, sizes, how many at
// once, and faults of the program.
func (v *pages) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin") // none would hide the origin of forms too
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Type", "text/html; charset=utf-8")
		defer func() {
			if x := recover(); x != nil {
				if x == http.ErrAbortHandler { // a file cut short must not look whole
					panic(x)
				}
				fmt.Fprintf(cleanLines{v.d.e.err}, "cazward: desk serve: a fault of the program: %v\n%s", x, debug.Stack())
				v.say(w, r, http.StatusInternalServerError, "fault", "fault-says")
			}
		}()
		if !v.known(r.Host) {
			v.say(w, r, http.StatusMisdirectedRequest, "refused", "host")
			return
		}
		if len(r.URL.RawQuery) > serveQuery {
			v.say(w, r, http.StatusRequestURITooLong, "refused", "too-large")
			return
		}
		select {
		case v.slots <- struct{}{}:
			defer func() { <-v.slots }()
		default:
			h.Set("Retry-After", "2")
			v.say(w, r, http.StatusServiceUnavailable, "refused", "busy")
			return
		}
		if err := v.origin.Check(r); err != nil {
			v.say(w, r, http.StatusForbidden, "refused", "forged")
			return
		}
		if r.Method == http.MethodPost {
			kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
			if kind != "application/x-www-form-urlencoded" {
				v.say(w, r, http.StatusUnsupportedMediaType, "refused", "method")
				return
			}
			r.Body = http.MaxBytesReader(w, r.Body, serveForm)
			if err := r.ParseForm(); err != nil {
				var large *http.MaxBytesError
				if errors.As(err, &large) {
					v.say(w, r, http.StatusRequestEntityTooLarge, "refused", "too-large")
				} else {
					v.say(w, r, http.StatusBadRequest, "refused", "method")
				}
				return
			}
		}
		next.ServeHTTP(w, r)
	})
}

// known reports whether the page is served under this name. Another name that
// leads here is that of a page elsewhere which would read this one.
func (v *pages) known(host string) bool {
	name, port, err := net.SplitHostPort(host)
	if err != nil {
		name, port = strings.TrimSuffix(strings.TrimPrefix(host, "["), "]"), "80"
		if v.conf.cert != nil {
			port = "443"
		}
	}
	if port != strconv.Itoa(v.at.Port) {
		return false
	}
	ip := net.ParseIP(name)
	if v.conf.loopback && (strings.EqualFold(name, "localhost") || ip != nil && ip.IsLoopback()) {
		return true
	}
	return v.conf.cert != nil && v.conf.cert.Leaf.VerifyHostname(name) == nil
}

// lang is what the reader chose, else what the server was started with.
func (v *pages) lang(r *http.Request) wording.Lang {
	if c, err := r.Cookie("cazward-lang"); err == nil && (c.Value == string(wording.English) || c.Value == string(wording.Spanish)) {
		return wording.Lang(c.Value)
	}
	return v.conf.lang
}

func (v *pages) frame(r *http.Request) page.Frame {
	a := *r.URL
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		a = url.URL{Path: strings.TrimSuffix(r.URL.Path, "/sign")}
	}
	return page.Frame{Lang: v.lang(r), Address: a}
}

// say answers with a short page.
func (v *pages) say(w http.ResponseWriter, r *http.Request, code int, title string, keys ...string) {
	v.saying(w, v.frame(r), code, title, keys...)
}

func (v *pages) saying(w http.ResponseWriter, f page.Frame, code int, title string, keys ...string) {
	w.WriteHeader(code)
	if err := page.Message(w, f, title, keys...); err != nil {
		fmt.Fprintln(cleanLines{v.d.e.err}, "cazward: desk serve: "+err.Error())
	}
}

// errNoPage is the error of an address that leads nowhere.
var errNoPage = errors.New("no such page")

// errForged is the error of a form without this session's token.
var errForged = errors.New("the form is not of this session")

// with makes a handler: the time it may take, the language, who asks, and
// what its error says.
func (v *pages) with(inside bool, most time.Duration, do func(*request) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), most)
		defer cancel()
		q := &request{w: w, r: r.WithContext(ctx), f: v.frame(r), sess: v.visit(r)}
		if inside && q.sess == nil {
			if v.conf.hash != nil && r.Method == http.MethodGet {
				http.Redirect(w, r, "/login", http.StatusSeeOther)
				return
			}
			v.say(w, r, http.StatusUnauthorized, "who", "who-token")
			return
		}
		q.f.In = q.sess != nil
		if q.sess != nil {
			q.f.CSRF, q.f.SignOut = q.sess.csrf, v.conf.hash != nil
		}
		if v.turn(q) {
			return
		}
		e := *v.d.e
		e.ctx = ctx
		var by *judgeBy
		var err error
		if q.f.In {
			by, err = v.inForce(ctx)
		}
		if err == nil {
			q.d = &desk{e: &e, by: by, signers: v.d.signers}
			if by != nil {
				q.f.Force = by.force
			}
			err = do(q)
		}
		v.failed(q, err)
	}
}

// turn goes to the other language where that is asked for.
func (v *pages) turn(q *request) bool {
	if q.r.Method != http.MethodGet || !q.r.URL.Query().Has("lang") {
		return false
	}
	to := q.r.URL.Query()
	if l := to.Get("lang"); l == string(wording.English) || l == string(wording.Spanish) {
		v.setCookie(q.w, "cazward-lang", l, int((365*24*time.Hour)/time.Second))
	}
	to.Del("lang")
	// The path begins with one slash: a second would name another host.
	path := "/" + strings.TrimLeft(q.r.URL.EscapedPath(), "/")
	if len(to) > 0 {
		path += "?" + to.Encode()
	}
	q.w.Header().Set("Location", path)
	q.w.WriteHeader(http.StatusSeeOther)
	return true
}

// inForce is what homes are judged by now; another program may have changed
// it.
func (v *pages) inForce(ctx context.Context) (*judgeBy, error) {
	f, err := v.s.InForce(ctx)
	if err != nil {
		return nil, err
	}
	v.force.Lock()
	defer v.force.Unlock()
	if !reflect.DeepEqual(f, v.by.force) {
		v.by = &judgeBy{force: f}
	}
	return v.by, nil
}

// failed answers an error, if there is one.
func (v *pages) failed(q *request, err error) {
	var bad *page.FieldError
	say := func(code int, title string, keys ...string) { v.saying(q.w, q.f, code, title, keys...) }
	switch {
	case err == nil:
	case errors.Is(err, errNoPage), errors.Is(err, register.ErrNotFound):
		say(http.StatusNotFound, "not-found", "not-found-says")
	case errors.Is(err, errForged):
		say(http.StatusForbidden, "refused", "forged")
	case errors.As(err, &bad):
		q.w.WriteHeader(http.StatusBadRequest)
		page.BadQuery(q.w, q.f, bad)
	case errors.Is(err, context.DeadlineExceeded):
		say(http.StatusServiceUnavailable, "refused", "late")
	case errors.Is(err, context.Canceled): // the reader went away
	default:
		fmt.Fprintln(cleanLines{v.d.e.err}, "cazward: desk serve: "+err.Error())
		say(http.StatusInternalServerError, "fault", "fault-says")
	}
}

// visit of a request, nil where nobody is known by its cookie.
func (v *pages) visit(r *http.Request) *visit {
	c, err := r.Cookie(v.cookie())
	if err != nil {
		return nil
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	id := sha256.Sum256([]byte(c.Value))
	s, now := v.open[id], v.d.e.now()
	if s == nil {
		return nil
	}
	if now.After(s.until) {
		delete(v.open, id)
		return nil
	}
	s.until = now.Add(sessionIdle)
	return s
}

// begin opens a session for who asks.
func (v *pages) begin(q *request) {
	id := secret()
	v.mu.Lock()
	now := v.d.e.now()
	for k, s := range v.open {
		if now.After(s.until) || len(v.open) >= rememberMost {
			delete(v.open, k)
		}
	}
	v.open[sha256.Sum256([]byte(id))] = &visit{csrf: secret(), until: now.Add(sessionIdle)}
	v.mu.Unlock()
	v.setCookie(q.w, v.cookie(), id, 0)
	http.Redirect(q.w, q.r, "/", http.StatusSeeOther)
}

// enter takes the printed address, once.
func (v *pages) enter(q *request) error {
	if v.conf.hash != nil {
		return errNoPage
	}
	given := sha256.Sum256([]byte(q.r.URL.Query().Get("token")))
	v.mu.Lock()
	good := subtle.ConstantTimeCompare(given[:], v.token[:]) == 1 && q.r.Method == http.MethodGet
	if good {
		v.token = [sha256.Size]byte{}
	}
	v.mu.Unlock()
	switch {
	case good:
		v.begin(q)
	case q.sess != nil: // the browser that has the page already
		http.Redirect(q.w, q.r, "/", http.StatusSeeOther)
	default:
		v.saying(q.w, q.f, http.StatusForbidden, "who", "token-used", "who-token")
	}
	return nil
}

func (v *pages) loginPage(q *request) error {
	if v.conf.hash == nil {
		return errNoPage
	}
	return page.Login(q.w, q.f, "")
}

// login compares a password with the hash, a few times a minute for each
// address.
func (v *pages) login(q *request) error {
	if v.conf.hash == nil {
		return errNoPage
	}
	from, _, _ := net.SplitHostPort(q.r.RemoteAddr)
	if !v.mayTry(from) {
		q.w.Header().Set("Retry-After", "60")
		q.w.WriteHeader(http.StatusTooManyRequests)
		return page.Login(q.w, q.f, "wait")
	}
	select {
	case v.checking <- struct{}{}:
	case <-q.r.Context().Done():
		return q.r.Context().Err()
	}
	given := []byte(q.r.PostForm.Get("password"))
	err := bcrypt.CompareHashAndPassword(v.conf.hash, given[:min(len(given), maxPassword)])
	<-v.checking
	if err != nil || len(given) > maxPassword {
		q.w.WriteHeader(http.StatusForbidden)
		return page.Login(q.w, q.f, "wrong-password")
	}
	v.mu.Lock()
	delete(v.wrong, from)
	v.mu.Unlock()
	v.begin(q)
	return nil
}

// mayTry counts a try of an address before it is made, so that many at once
// count too.
func (v *pages) mayTry(from string) bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	now := v.d.e.now()
	var left []time.Time
	for _, t := range v.wrong[from] {
		if now.Sub(t) < wrongFor {
			left = append(left, t)
		}
	}
	if len(left) >= wrongMost {
		return false
	}
	if len(v.wrong) >= rememberMost {
		for k, list := range v.wrong {
			if now.Sub(list[len(list)-1]) >= wrongFor {
				delete(v.wrong, k)
			}
		}
		if len(v.wrong) >= rememberMost {
			return false // more addresses than anyone's office has
		}
	}
	v.wrong[from] = append(left, now)
	return true
}

// mine checks that a form is of this session.
func (q *request) mine() error {
	if subtle.ConstantTimeCompare([]byte(q.r.PostForm.Get("csrf")), []byte(q.sess.csrf)) != 1 {
		return errForged
	}
	return nil
}

func (v *pages) out(q *request) error {
	if err := q.mine(); err != nil {
		return err
	}
	if c, err := q.r.Cookie(v.cookie()); err == nil {
		v.mu.Lock()
		delete(v.open, sha256.Sum256([]byte(c.Value)))
		v.mu.Unlock()
	}
	v.setCookie(q.w, v.cookie(), "", -1)
	http.Redirect(q.w, q.r, "/", http.StatusSeeOther)
	return nil
}

// query reads the address.
func (q *request) query() (page.Query, error) {
	vals, err := url.ParseQuery(q.r.URL.RawQuery)
	if err != nil {
		return page.Query{}, &page.FieldError{Field: "?", Why: "unknown"}
	}
	return page.ParseQuery(vals)
}

func (v *pages) queue(q *request) error {
	ask, err := q.query()
	if err != nil {
		return err
	}
	ctx := q.r.Context()
	total, err := v.s.Count(ctx, ask.Filter)
	if err != nil {
		return err
	}
	list, err := v.s.Page(ctx, ask.Filter, ask.After, queuePage+1)
	if errors.Is(err, register.ErrNotFound) {
		v.saying(q.w, q.f, http.StatusNotFound, "not-found", "moved")
		return nil
	}
	if err != nil {
		return err
	}
	view := page.QueueView{Query: ask, Homes: list, Total: total, Schemes: limits.Names()}
	if len(list) > queuePage {
		view.Homes, view.More = list[:queuePage], true
	}
	return page.Queue(q.w, q.f, view)
}

func (q *request) csvFile(name string) {
	q.w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	q.w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
}

// queueCSV writes all homes of a filter. A fault on the way ends the
// connection, so that no file looks whole that is not.
func (v *pages) queueCSV(q *request) error {
	ask, err := q.query()
	if err != nil {
		return err
	}
	list, err := v.s.Page(q.r.Context(), ask.Filter, 0, pageSize)
	if err != nil {
		return err
	}
	q.csvFile("queue.csv")
	out := &csvQueue{w: csv.NewWriter(q.w)}
	for err == nil {
		for _, e := range list {
			if err = out.home(e); err != nil {
				break
			}
		}
		if err != nil || len(list) < pageSize {
			break
		}
		list, err = v.s.Page(q.r.Context(), ask.Filter, list[len(list)-1].Key, pageSize)
	}
	if err == nil {
		err = out.end()
	}
	if err != nil {
		panic(http.ErrAbortHandler)
	}
	return nil
}

func (v *pages) trendRows(q *request) (page.Query, []register.TrendRow, error) {
	ask, err := q.query()
	if err != nil {
		return ask, nil, err
	}
	if ask.By == "" {
		ask.By = register.ByMonth
	}
	rows, err := q.d.trend(v.s, ask.Filter, ask.By)
	var f *failure
	if errors.As(err, &f) && f.err != nil {
		err = f.err
	}
	if q.r.Context().Err() != nil {
		err = q.r.Context().Err()
	}
	return ask, rows, err
}

func (v *pages) trend(q *request) error {
	ask, rows, err := v.trendRows(q)
	if err != nil {
		return err
	}
	return page.Trend(q.w, q.f, page.TrendView{Query: ask, Rows: rows, Schemes: limits.Names()})
}

func (v *pages) trendCSV(q *request) error {
	_, rows, err := v.trendRows(q)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := trendCSV(&b, rows); err != nil {
		return err
	}
	q.csvFile("trend.csv")
	_, err = b.WriteTo(q.w)
	return err
}

// entry is the home that the address names.
func (v *pages) entry(q *request) (register.Entry, register.Record, error) {
	key, err := strconv.ParseInt(q.r.PathValue("key"), 10, 64)
	if err != nil || key <= 0 {
		return register.Entry{}, register.Record{}, errNoPage
	}
	return v.byKey(q.r.Context(), key)
}

func (v *pages) byKey(ctx context.Context, key int64) (register.Entry, register.Record, error) {
	r, err := v.s.Kept(ctx, key)
	if err != nil {
		return register.Entry{}, r, err
	}
	list, err := v.s.Find(ctx, r.ID)
	if err != nil {
		return register.Entry{}, r, err
	}
	for _, e := range list {
		if e.Key == key {
			return e, r, nil
		}
	}
	return register.Entry{}, r, register.ErrNotFound
}

func (v *pages) home(q *request) error {
	if len(q.r.URL.RawQuery) > 0 {
		return &page.FieldError{Field: "?", Why: "unknown"}
	}
	e, r, err := v.entry(q)
	if err != nil {
		return err
	}
	h, err := v.view(q, e, r)
	if err != nil {
		return err
	}
	v.mu.Lock()
	h.Said, q.sess.said = q.sess.said, nil
	h.Form.Name = q.sess.name
	v.mu.Unlock()
	return page.Home(q.w, q.f, h)
}

// view is a home with its report.
func (v *pages) view(q *request, e register.Entry, r register.Record) (page.HomeView, error) {
	ctx := q.r.Context()
	h := page.HomeView{Entry: e, Path: r.Path, CanSign: e.State == journal.Closed && e.Close != "" && r.Fault == ""}
	var o journal.VerifyOptions
	if q.d.signers != "" {
		o.CheckSignature = func(hash, name, sig string) error { return checkSignature(ctx, q.d.signers, hash, name, sig) }
	}
	h.Signs = journal.Verify(r.Bytes, o).Signs
	seen := map[int64]bool{e.Key: true}
	same, err := v.s.Find(ctx, e.Record)
	if err != nil {
		return h, err
	}
	if e.Home != "" {
		list, err := v.s.Page(ctx, register.Filter{Home: e.Home, Accepted: true}, 0, 20)
		if err != nil {
			return h, err
		}
		same = append(same, list...)
	}
	for _, x := range same {
		if !seen[x.Key] {
			seen[x.Key] = true
			h.Others = append(h.Others, x)
		}
	}
	l, err := q.d.loadKept(r)
	if ctx.Err() != nil {
		return h, ctx.Err()
	}
	if err != nil {
		h.WhyNot = err.Error()
		return h, nil
	}
	in := l.input()
	in.Lang = q.f.Lang
	localize(in.Lang, &in.Observations, &in.Judgement)
	next, earlier := &in.Prior, l
	for range 2 { // the report shows two earlier phases
		p := earlier.rec.Header.Prior
		if p == nil {
			break
		}
		if earlier = v.earlier(q, p.Record, p.Close); earlier == nil {
			break
		}
		*next = &reports.Comparison{Header: earlier.rec.Header, CloseHash: earlier.rec.CloseHash, Observations: earlier.obs, Judgement: earlier.j}
		localize(in.Lang, &(*next).Observations, &(*next).Judgement)
		next = &(*next).Prior
	}
	if r.Path != "" {
		in.Photos = photos(r.Path, in.Events)
	}
	rep := reports.Build(in)
	h.Report = &rep
	return h, nil
}

// earlier is the record of the phase before, as it was closed then, nil where
// it is not kept.
func (v *pages) earlier(q *request, id, hash string) *loaded {
	list, err := v.s.Find(q.r.Context(), id)
	if err != nil {
		return nil
	}
	for _, e := range list {
		if e.Close != hash {
			continue
		}
		r, err := v.s.Kept(q.r.Context(), e.Key)
		if err != nil {
			return nil
		}
		if l, err := q.d.loadKept(r); err == nil {
			return l
		}
	}
	return nil
}

// sign takes a sign-off.
func (v *pages) sign(q *request) error {
	if err := q.mine(); err != nil {
		return err
	}
	e, r, err := v.entry(q)
	if err != nil {
		return err
	}
	form, err := page.ParseSigning(q.r.PostForm)
	var bad *page.FieldError
	again := func(code int, refused string) error {
		e, r, err := v.byKey(q.r.Context(), e.Key)
		if err != nil {
			return err
		}
		h, err := v.view(q, e, r)
		if err != nil {
			return err
		}
		h.Form, h.Wrong, h.Refused = form, bad, refused
		q.w.WriteHeader(code)
		return page.Home(q.w, q.f, h)
	}
	if errors.As(err, &bad) {
		return again(http.StatusUnprocessableEntity, "")
	}
	// Begun, it is finished, even if the browser goes away.
	q.d.e.ctx = context.WithoutCancel(q.d.e.ctx)
	done, err := q.d.signOff(v.s, signOptions{name: form.Name, verdict: form.Verdict, note: form.Note, close: form.Close}, func() (register.Entry, error) {
		e, _, err := v.byKey(q.d.e.ctx, e.Key)
		return e, err
	})
	var f *failure
	switch {
	case errors.Is(err, errOtherClosing):
		return again(http.StatusConflict, "sign.changed")
	case errors.As(err, &f) && f.err == nil && (f.code == exitRefused || f.code == exitIntegrity):
		return again(http.StatusConflict, "sign.refused")
	case err != nil:
		return err
	}
	said := []string{"sign.done"}
	if done.already {
		said[0] = "sign.again"
	}
	if done.path != "" {
		switch ok, err := deliver(done.path, done.bytes); {
		case errors.Is(err, os.ErrNotExist):
			said = append(said, "sign.no-file")
		case err != nil:
			said = append(said, "sign.file-later")
		case ok:
			said = append(said, "sign.file")
		}
	}
	v.mu.Lock()
	q.sess.said, q.sess.name = said, form.Name
	v.mu.Unlock()
	http.Redirect(q.w, q.r, fmt.Sprintf("/home/%d", r.Key), http.StatusSeeOther)
	return nil
}
