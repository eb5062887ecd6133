// Package page writes the supervisor's web pages: the queue ([Queue]), one
// home with its report ([Home]), the trend ([Trend], and [TrendFile] as one
// file that stands alone), the password form ([Login]) and what is said where
// something was refused ([Message]). [ParseQuery] and [ParseSigning] read what
// a browser sends back.
//
// A page needs no script and, but for the style sheet ([Style]), no other
// file. Text goes through html/template, which escapes it, and each line of
// the finished page through [report.Clean], so that no field can be forgotten.
// The package serves nothing: it has no network, no clock and no session.
//
// # Accessibility
//
// One heading of level 1, no level left out, a label for every field, a
// caption for every table, figures beside every drawing, errors that name
// their field, and a link past the navigation.
package page

import (
	"bytes"
	"embed"
	"html/template"
	"io"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/register"
	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/html"
)

//go:embed page.tmpl style.css
var assets embed.FS

// Style is the style sheet of all pages.
func Style() string {
	b, err := assets.ReadFile("style.css")
	if err != nil {
		panic(err) // embedded
	}
	return html.Style + string(b)
}

// pages of a language, read when one is first wanted: only the desk's server
// wants any.
var pages = map[wording.Lang]func() *template.Template{
	wording.English: sync.OnceValue(func() *template.Template { return parse(wording.English) }),
	wording.Spanish: sync.OnceValue(func() *template.Template { return parse(wording.Spanish) }),
}

func parse(l wording.Lang) *template.Template {
	b, err := assets.ReadFile("page.tmpl")
	if err != nil {
		panic(err) // embedded
	}
	return template.Must(template.New("page").Funcs(template.FuncMap{
		"t":         func(key string) string { return wording.Page(l, key) },
		"lang":      func() string { return string(l) },
		"otherlang": func() string { return string(other(l)) },
		"otherlangname": func() string {
			return map[wording.Lang]string{wording.English: "English", wording.Spanish: "Español"}[other(l)]
		},
		"style": func() template.CSS { return template.CSS(Style()) },
	}).Parse(string(b)))
}

func other(l wording.Lang) wording.Lang {
	if l == wording.Spanish {
		return wording.English
	}
	return wording.Spanish
}

// Frame is what all pages share.
type Frame struct {
	Lang    wording.Lang // "" is English
	In      bool         // the reader may see homes
	SignOut bool         // a way to sign out is offered
	CSRF    string       // token of forms
	// Address of the page, from which the link to the other language is made.
	Address url.URL
	Force   register.InForce // by what homes are judged

	Title, Here string
}

// Other is the address of the page in the other language.
func (f Frame) Other() string {
	q := f.Address.Query()
	q.Set("lang", string(other(f.lang())))
	return (&url.URL{Path: f.Address.Path, RawQuery: q.Encode()}).String()
}

func (f Frame) lang() wording.Lang {
	if f.Lang == wording.Spanish {
		return wording.Spanish
	}
	return wording.English
}

func (f Frame) t(key string, pairs ...string) string { return wording.Page(f.lang(), key, pairs...) }

// JudgedBy says by what homes are judged.
func (f Frame) JudgedBy() string {
	by := f.t("own-scheme")
	if f.Force.Scheme != "" {
		by = f.Force.Scheme
	}
	var with []string
	for _, o := range f.Force.Overlays {
		with = append(with, o.Name[strings.LastIndexAny(o.Name, `/\`)+1:])
	}
	if with != nil {
		by += " + " + strings.Join(with, " + ")
	}
	return f.t("judged-by", "what", by)
}

func (f Frame) write(w io.Writer, name string, data any) error {
	var b bytes.Buffer
	if err := pages[f.lang()]().ExecuteTemplate(&b, name, data); err != nil {
		return err
	}
	var out strings.Builder
	out.Grow(b.Len())
	for line := range strings.Lines(b.String()) {
		out.WriteString(report.Clean(line))
		out.WriteByte('\n')
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// Message says what happened, a paragraph for each key of the words.
func Message(w io.Writer, f Frame, title string, keys ...string) error {
	f.Title = f.t(title)
	v := struct {
		Frame Frame
		Lines []string
	}{Frame: f}
	for _, k := range keys {
		v.Lines = append(v.Lines, f.t(k))
	}
	return f.write(w, "message", v)
}

// Login asks for the password; wrong is the key of what was wrong, "" at
// first.
func Login(w io.Writer, f Frame, wrong string) error {
	f.Title = f.t("sign-in")
	v := struct {
		Frame Frame
		Error string
	}{Frame: f}
	if wrong != "" {
		v.Error = f.t(wrong)
	}
	return f.write(w, "login", v)
}

// FieldText says what is wrong with a field.
func (f Frame) fieldText(e *FieldError) string {
	name := f.t("field." + e.Field)
	if name == "" {
		name = e.Field
	}
	return f.t("bad."+e.Why, "name", name)
}

// BadQuery says which part of an address was refused.
func BadQuery(w io.Writer, f Frame, e *FieldError) error {
	f.Title = f.t("refused")
	return f.write(w, "message", struct {
		Frame Frame
		Lines []string
	}{f, []string{f.fieldText(e)}})
}

// home is an entry in words.
type home struct {
	Key                         int64
	Class, Word, Headline, Home string
	Facts, Reasons              []string
}

func (f Frame) home(e register.Entry) home {
	h := home{Key: e.Key, Home: e.Home, Word: f.t("not-judged-word"), Headline: f.t("not-judged")}
	if report.Clean(h.Home) == "" { // a link must have a text
		h.Home = f.t("no-name")
	}
	d := e.Decision
	if d != procedure.NoDecision && e.Paper != procedure.NoDecision {
		d = procedure.MoreProtective(d, e.Paper) // as the queue orders them
	}
	if e.Paper == procedure.Leave {
		d = procedure.Leave
	}
	if d != procedure.NoDecision {
		h.Word = wording.SignalWord(f.lang(), d.SignalWord())
		h.Headline = wording.Headline(f.lang(), d, e.Phase, missing(e))
	}
	switch d {
	case procedure.Leave:
		h.Class = "d-leave"
	case procedure.NoDecision, procedure.Hold, procedure.Incomplete:
		h.Class = "d-strong"
	}
	if e.Practice {
		h.Facts = append(h.Facts, f.t("practice"))
	}
	if e.Phase != "" {
		h.Facts = append(h.Facts, wording.PhaseName(f.lang(), e.Phase))
	}
	if day := register.Date(e.Day); day != "" {
		h.Facts = append(h.Facts, day)
	}
	if e.Crew != "" {
		h.Facts = append(h.Facts, f.t("field.crew")+" "+e.Crew)
	}
	if e.Label != "" {
		h.Facts = append(h.Facts, f.t("field.label")+" "+e.Label)
	}
	if e.Scheme.Name != "" {
		h.Facts = append(h.Facts, wording.SchemeLong(e.Scheme))
	}
	if e.Signed == register.Accepted {
		h.Facts = append(h.Facts, f.t("accepted-by", "name", e.SignedBy))
	}
	for _, r := range e.Reasons {
		h.Reasons = append(h.Reasons, f.reason(r))
	}
	if h.Reasons == nil {
		h.Reasons = []string{f.t("nothing-wants")}
	}
	return h
}

// missing is how many things are missing, as its reason counts them.
func missing(e register.Entry) int {
	for _, r := range e.Reasons {
		if r.Code == register.SaysIncomplete {
			n := 0
			for _, c := range r.Args["n"] {
				if c < '0' || c > '9' || n > 9999 {
					return 0
				}
				n = 10*n + int(c-'0')
			}
			return n
		}
	}
	return 0
}

func (f Frame) reason(r register.Reason) string {
	args := map[string]string{}
	for k, x := range r.Args {
		switch {
		case k == "verdict" && f.t("verdict."+x) != "":
			x = f.t("verdict." + x)
		case k == "zone", k == "about" && r.Code != register.CloseToLimit && r.Code != register.Calibration:
			x = f.local(x)
		}
		args[k] = x
	}
	s := wording.Desk(f.lang(), string(r.Code), args)
	if word, _, _ := strings.Cut(s, " "); !strings.Contains(word, "/") { // a step is written small
		first := string([]rune(s)[:1])
		s = strings.ToUpper(first) + s[len(first):]
	}
	return strings.TrimRight(s, ".?") + "."
}

// local gives names that the program gave itself in the language of the page.
func (f Frame) local(names string) string {
	list := strings.Split(names, ", ")
	for i, n := range list {
		for _, kind := range named {
			if x := wording.LocalName(f.lang(), kind, n); x != n {
				list[i] = x
				break
			}
		}
	}
	return strings.Join(list, ", ")
}

// named are the kinds of things that findings name.
var named = append(texts(procedure.ApplianceKinds), "basement", "utility-room", "closet", "garage", "attic", "crawl-space", "kitchen", "living-space", "other-space")

type option struct {
	Value, Text string
	On          bool
}

type choice struct {
	Name, Label string
	Options     []option
}

type input struct {
	Name, Label, Type, Value string
	List                     []string
}

type check struct {
	Name, Label string
	On          bool
}

// filter is the form that narrows a page.
type filter struct {
	Action  string
	Groups  *choice
	Fields  []input
	Choices []choice
	Checks  []check
	Active  []string // what is asked for, in words
}

// filter makes the form of a query. Schemes are those that the field offers.
func (f Frame) filter(action string, q Query, schemes []string) filter {
	x := q.Filter
	v := filter{Action: action}
	say := func(name, value string) {
		if value != "" {
			v.Active = append(v.Active, f.t("field."+name)+": "+value)
		}
	}
	text := func(name, kind, value string, list []string) {
		v.Fields = append(v.Fields, input{name, f.t("field." + name), kind, value, list})
		say(name, value)
	}
	text("crew", "text", x.Crew, nil)
	text("home", "text", x.Home, nil)
	text("label", "text", x.Label, nil)
	text("scheme", "text", x.Scheme, schemes)
	text("from", "date", register.Date(x.From), nil)
	text("to", "date", register.Date(x.To), nil)
	pick := func(name, now string, words func(string) string, values ...string) choice {
		c := choice{Name: name, Label: f.t("field." + name), Options: []option{{"", f.t("any"), now == ""}}}
		for _, s := range values {
			c.Options = append(c.Options, option{s, words(s), s == now})
		}
		if now != "" {
			say(name, words(now))
		}
		return c
	}
	v.Choices = []choice{
		pick("reason", string(x.Reason), func(s string) string { return f.t("reason." + s) }, texts(register.Codes)...),
		pick("appliance", string(x.Appliance), func(s string) string { return wording.KindName(f.lang(), s) }, texts(procedure.ApplianceKinds)...),
		pick("phase", string(x.Phase), func(s string) string { return wording.PhaseName(f.lang(), procedure.Phase(s)) }, texts(phases)...),
	}
	v.Checks = []check{{"no-practice", f.t("field.no-practice"), x.NoPractice}}
	if x.NoPractice {
		v.Active = append(v.Active, f.t("field.no-practice"))
	}
	return v
}

func texts[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = string(x)
	}
	return out
}

// QueueView is one page of the queue. More says that others follow the last
// of Homes.
type QueueView struct {
	Query   Query
	Homes   []register.Entry
	More    bool
	Total   int
	Schemes []string
}

func address(path string, q Query) string {
	return (&url.URL{Path: path, RawQuery: q.Values().Encode()}).String()
}

// Queue writes a page of the queue.
func Queue(w io.Writer, f Frame, q QueueView) error {
	f.Title, f.Here = f.t("queue.title"), "queue"
	v := struct {
		Frame                                  Frame
		Filter                                 filter
		Count, OnPage, First, Next, CSV, Empty string
		Homes                                  []home
	}{Frame: f, Filter: f.filter("/", q.Query, q.Schemes), Count: f.t("queue.count", "n", strconv.Itoa(q.Total)), OnPage: f.t("queue.on-page", "n", strconv.Itoa(len(q.Homes))), Empty: f.t("queue.empty")}
	v.Filter.Checks = append(v.Filter.Checks, check{"signed", f.t("field.signed"), q.Query.Filter.Accepted})
	if q.Query.Filter.Accepted {
		v.Filter.Active = append(v.Filter.Active, f.t("field.signed"))
	}
	if v.Filter.Active != nil {
		v.Empty = f.t("queue.empty-filter")
	}
	for _, e := range q.Homes {
		v.Homes = append(v.Homes, f.home(e))
	}
	at := q.Query
	at.By, at.After = "", 0
	v.CSV = address("/queue.csv", at)
	if q.Query.After != 0 {
		v.First = address("/", at)
	}
	if n := len(q.Homes); q.More && n > 0 {
		at.After = q.Homes[n-1].Key
		v.Next = address("/", at)
	}
	return f.write(w, "queue", v)
}

// HomeView is one home. Report is nil where none can be made; then WhyNot
// says why. CanSign says that a sign-off can be given.
type HomeView struct {
	Entry   register.Entry
	Path    string // where the file was last read, "" not known
	Others  []register.Entry
	Signs   []journal.SignInfo
	Report  *report.Report
	WhyNot  string
	CanSign bool
	Form    Signing     // what the form holds
	Wrong   *FieldError // what is wrong with it
	Refused string      // key of why the sign-off was not given, "" for none
	Said    []string    // keys of what was done
}

type fact struct{ Name, Value string }

type signLine struct{ When, Name, Verdict, Note, Signature string }

type otherHome struct {
	Key  int64
	Text string
}

type signForm struct {
	Key                                                  int64
	CSRF, Says, Close, Name, Verdict, Note, Error, Field string
}

// Home writes the page of one home.
func Home(w io.Writer, f Frame, h HomeView) error {
	e := h.Entry
	v := struct {
		Frame    Frame
		Mark     string
		Said     []string
		Home     home
		Facts    []fact
		Others   []otherHome
		Signs    []signLine
		Form     *signForm
		NoSign   string
		Report   template.HTML
		NoReport string
	}{Home: f.home(e)}
	f.Title = v.Home.Home
	v.Frame = f
	if e.Practice {
		v.Mark = f.t("practice.long")
	}
	for _, k := range h.Said {
		v.Said = append(v.Said, f.t(k))
	}
	put := func(key, value string) {
		if value != "" {
			v.Facts = append(v.Facts, fact{f.t(key), value})
		}
	}
	put("field.phase", wording.PhaseName(f.lang(), e.Phase))
	put("day", register.Date(e.Day))
	put("field.crew", e.Crew)
	put("field.label", e.Label)
	if e.Scheme.Name != "" {
		put("field.scheme", wording.SchemeLong(e.Scheme))
	}
	if e.Paper != procedure.NoDecision && e.Paper != e.Decision {
		put("closed-on", string(e.Paper))
	}
	put("state", f.t("state."+string(e.State)))
	put("record", e.Record)
	put("close", e.Close)
	put("file", h.Path)
	for _, o := range h.Others {
		line := f.home(o)
		kind := f.t("other.same-home")
		if o.Record == e.Record {
			kind = f.t("other.same-id")
		}
		v.Others = append(v.Others, otherHome{o.Key, line.Word + " " + line.Home + ": " + strings.Join(line.Facts, ", ") + " (" + kind + ")"})
	}
	for _, s := range h.Signs {
		l := signLine{When: s.Observed.Format(time.DateOnly + " 15:04"), Name: s.Name, Verdict: f.t("verdict." + s.Verdict), Note: s.Note, Signature: f.t("signature." + string(s.Signature))}
		if s.Earlier {
			l.Verdict += " (" + f.t("earlier") + ")"
		}
		v.Signs = append(v.Signs, l)
	}
	if h.CanSign {
		v.Form = &signForm{Key: e.Key, CSRF: f.CSRF, Says: f.t("sign.says", "name", v.Home.Home, "what", e.Close), Close: e.Close, Name: h.Form.Name, Verdict: h.Form.Verdict, Note: h.Form.Note}
		if h.Wrong != nil {
			v.Form.Error = f.fieldText(h.Wrong)
			if slices.Contains([]string{"name", "verdict", "note"}, h.Wrong.Field) {
				v.Form.Field = h.Wrong.Field
			}
		}
		if h.Refused != "" {
			v.Form.Error = f.t(h.Refused)
		}
	} else {
		v.NoSign = f.t("sign.not")
	}
	if h.Report != nil {
		var b strings.Builder
		if err := html.Body(&b, *h.Report); err != nil {
			return err
		}
		v.Report = template.HTML(b.String())
	} else {
		v.NoReport = h.WhyNot
	}
	return f.write(w, "home", v)
}
