// Package notice is the one page for the people who live in a home: what was
// found, what it means, what to do now, whom to call, the signs of carbon
// monoxide poisoning and what not to do. [Build] makes it from a judgement,
// [WriteText] and the pdf package beside it write it.
//
// It is pure. What was not tested is never worded as fine, and no telephone
// number is invented: there are lines to write on.
package notice

import (
	"io"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/wording"
	"cazward/report"
)

// MaxFound is how many findings the page names before it points to the
// report.
const MaxFound = 8

// maxDo is the same for things to do, without those of the decision itself.
const maxDo = 4

// maxNames is how many appliances one line names, and maxRunes how long they
// may be together: a line for forty appliances must not push the rest off the
// page. longName is where one name is cut in its
// middle.
const (
	maxNames = 5
	maxRunes = 70
	longName = 40
)

// Input is what a notice is made from.
type Input struct {
	Header         procedure.Header
	Events         []procedure.Event
	Observations   procedure.Observations
	Judgement      procedure.Judgement
	Closed         bool
	CloseHash      string
	Lang           wording.Lang
	ProgramVersion string
}

// Notice is the page, in words.
type Notice struct {
	Lang     wording.Lang
	Title    string
	Mark     string // "" for a real home
	Decision procedure.Decision
	Word     string // signal word after ANSI Z535, in the language
	Headline string
	Facts    []report.Fact
	Found    Part // most protective first, at most [MaxFound] and a line for the rest
	Means    Part
	Do       Part
	Call     Part // each line is whom; a name and a number are written by hand
	Signs    Part
	Not      Part
	Foot     string // what the page defers to
	Hash     report.Fact
	Name     string // heads of the blanks of Call
	Phone    string
	Stamp    time.Time
	Program  string

	named int              // how many lines of Found are findings; what follows is said in any case
	left  int              // findings beyond them
	more  func(int) string // the line that says how many are not named
}

// Part is a heading and its lines.
type Part struct {
	Title string
	Lines []string
}

type builder struct {
	in    Input
	l     wording.Lang
	kinds map[string]string
	names map[string]string
}

// Build makes the page. It never fails: what the input lacks is said.
func Build(in Input) Notice {
	b := &builder{in: in, l: wording.OnPaper(in.Lang), kinds: map[string]string{}, names: map[string]string{}}
	if b.l == "" {
		b.l = wording.English
	}
	o := in.Observations
	for _, z := range o.Zones {
		b.names[z.ID], b.kinds[z.ID] = z.Name, strings.TrimRight(z.ID, "-0123456789")
	}
	for _, a := range o.Appliances {
		b.names[a.ID], b.kinds[a.ID] = a.Name, string(a.Kind)
	}
	for _, list := range [][]procedure.RosterItem{o.Fans, o.Doors, o.AirHandlers} {
		for _, it := range list {
			b.names[it.ID], b.kinds[it.ID] = it.Name, it.Kind
		}
	}
	j := in.Judgement
	n := Notice{Lang: b.l, Title: b.w("title"), Decision: j.Decision, Word: wording.SignalWord(b.l, j.Decision.SignalWord()),
		Headline: wording.Headline(b.l, j.Decision, in.Header.Phase, len(j.Missing)), Foot: b.w("foot"), Name: b.w("call.name"), Phone: b.w("call.phone"), Program: in.ProgramVersion}
	if in.Header.Practice != nil || o.Practice {
		n.Mark = b.w("practice")
	}
	n.facts(b)
	n.Found, n.named, n.left = b.found()
	n.more = func(k int) string { return b.w("more", "n", strconv.Itoa(k)) }
	n.Means = Part{b.w("means"), b.means()}
	n.Do = Part{b.w("do"), b.do()}
	n.Call = Part{b.w("call"), []string{b.w("call.emergency"), b.w("call.supplier"), b.w("call.technician"), b.w("call.crew")}}
	n.Signs = Part{b.w("signs"), []string{b.w("signs.text")}}
	n.Not = Part{b.w("not"), wording.NoticeLines(b.l, "not.lines")}
	n.clean()
	return n
}

// longFact is how many runes of a fact the page has room for.
const longFact = 90

// clean makes all that came from the record safe to print, and short enough
// that the page stays one page.
func (n *Notice) clean() {
	short := func(f *report.Fact) {
		f.Value = report.Clean(f.Value)
		if r := []rune(f.Value); len(r) > longFact {
			f.Value = string(r[:longFact-3]) + "..."
		}
	}
	for i := range n.Facts {
		short(&n.Facts[i])
	}
	short(&n.Hash)
	n.Program = report.Clean(n.Program)
	for _, p := range []*Part{&n.Found, &n.Means, &n.Do} {
		for i, t := range p.Lines {
			if t = report.Clean(t); len([]rune(t)) > longLine {
				t = string([]rune(t)[:longLine-3]) + "..."
			}
			p.Lines[i] = t
		}
	}
}

// longLine is more than any line of the page's own words takes, with names.
const longLine = 600

func (b *builder) w(key string, pairs ...string) string { return wording.Notice(b.l, key, pairs...) }

// name of a thing, in the language of the page where the program named it.
func (b *builder) name(id string) string {
	n := b.names[id]
	if n == "" {
		n = id
	}
	n = report.Clean(wording.LocalName(b.l, b.kinds[id], n))
	if r := []rune(n); len(r) > longName { // the end stays: there stands what tells two of a kind apart
		n = strings.TrimRight(string(r[:longName-15]), " ") + "..." + string(r[len(r)-12:])
	}
	return n
}

func (n *Notice) facts(b *builder) {
	h := b.in.Header
	day := h.Created
	n.Stamp = h.Created
	seen := false
	for _, ev := range b.in.Events {
		switch ev.Kind {
		case procedure.KindAnswer, procedure.KindSetup, procedure.KindHazard:
			if !seen {
				day, seen = ev.Observed, true
			}
		case procedure.KindClose:
			n.Stamp = ev.Written
		}
	}
	n.Facts = []report.Fact{{Name: b.w("home"), Value: report.Clean(h.Home)}, {Name: b.w("tested"), Value: wording.Date(b.l, day)}}
	if t := report.Clean(b.in.Observations.Tester); t != "" {
		n.Facts = append(n.Facts, report.Fact{Name: b.w("by"), Value: t})
	}
	n.Facts = append(n.Facts, report.Fact{Name: b.w("record"), Value: report.Clean(h.Record)})
	n.Hash = report.Fact{Name: b.w("hash"), Value: b.in.CloseHash}
	if !b.in.Closed {
		n.Hash = report.Fact{Value: b.w("open")}
	}
}

// matters reports whether a finding led anywhere.
func matters(f procedure.Finding) bool {
	return f.Verdict != procedure.Pass && f.Verdict != procedure.NotApplicable && !(f.Verdict == procedure.NotEvaluated && !procedure.Proceed.Milder(f.Severity))
}

// sorted are the findings that matter, most protective first.
func (b *builder) sorted() []procedure.Finding {
	var out []procedure.Finding
	for _, f := range b.in.Judgement.Findings {
		if matters(f) {
			out = append(out, f)
		}
	}
	sort.SliceStable(out, func(i, k int) bool {
		x, y := out[i], out[k]
		if x.Severity != y.Severity {
			return y.Severity.Milder(x.Severity)
		}
		return x.Status != y.Status && procedure.MoreProtectiveStatus(x.Status, y.Status) == x.Status
	})
	return out
}

func (b *builder) found() (p Part, named, left int) {
	p.Title = b.w("found")
	for _, f := range b.sorted() {
		if t := wording.Household(b.l, f, b.name); t != "" && !slices.Contains(p.Lines, t) {
			p.Lines = append(p.Lines, t)
		}
	}
	named = min(len(p.Lines), MaxFound)
	left = len(p.Lines) - named
	p.Lines = p.Lines[:named]
	j := b.in.Judgement
	if n := len(j.Missing); n > 0 {
		p.Lines = append(p.Lines, b.w("missing", "n", strconv.Itoa(n)))
	}
	if d := decided(b.in.Events); d != nil && b.in.Closed && d.Decision != j.Decision {
		p.Lines = append(p.Lines, b.w("differs", "what", wording.Headline(b.l, d.Decision, b.in.Header.Phase, len(d.Missing))))
	}
	if len(p.Lines) == 0 {
		passed := slices.ContainsFunc(j.Findings, func(f procedure.Finding) bool { return f.Verdict == procedure.Pass })
		burns := slices.ContainsFunc(b.in.Observations.Appliances, func(a procedure.Appliance) bool { return a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity })
		switch {
		case j.Decision != procedure.Proceed, !passed && burns:
			p.Lines = []string{b.w("nothing-judged")}
		case passed:
			p.Lines = []string{b.w("passed")}
		default:
			p.Lines = []string{b.w("no-burner")}
		}
	}
	return p, named, left
}

// decided is what the record was closed on last, nil where it never was.
func decided(evs []procedure.Event) *procedure.Decided {
	var d *procedure.Decided
	for _, ev := range evs {
		if x, ok := ev.Data.(*procedure.Decided); ok {
			d = x
		}
	}
	return d
}

// code of the decision in the words of the page; a decision that this version
// does not know reads as no result.
func (b *builder) code() string {
	d := b.in.Judgement.Decision
	later := b.in.Header.Phase == procedure.Daily || b.in.Header.Phase == procedure.TestOut
	switch d {
	case procedure.Leave, procedure.Refer, procedure.Proceed:
		return string(d)
	case procedure.Hold:
		if later {
			return "hold-later"
		}
		return "hold"
	}
	return "incomplete"
}

func (b *builder) means() []string { return []string{b.w("mean." + b.code())} }

func (b *builder) do() []string {
	var out []string
	add := func(t string) {
		if t != "" && !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	decision := wording.NoticeLines(b.l, "do."+b.code())
	urgent := b.in.Judgement.Decision == procedure.Leave
	if urgent { // out first; nothing else is worth the time
		out = append(out, decision...)
	}
	// One line for each status, with all that have it.
	for _, s := range []procedure.Status{procedure.FuelOff, procedure.OffUntilServiced, procedure.MayRunNoFans} {
		var names []string
		for _, a := range b.in.Judgement.Appliances {
			if a.Status == s {
				names = append(names, b.name(a.ID))
			}
		}
		if len(names) > 0 {
			add(wording.HouseholdStatus(b.l, s, b.list(names)))
		}
	}
	more := map[string][]string{}
	var order []string
	for _, f := range b.sorted() {
		const here = "\x00" // one act for several things is one line
		t := wording.HouseholdDo(b.l, f, func(string) string { return here })
		if t == "" {
			continue
		}
		if f.Subject == "" {
			t = wording.HouseholdDo(b.l, f, b.name)
		}
		if !slices.Contains(order, t) {
			order = append(order, t)
		}
		if n := b.name(f.Subject); f.Subject != "" && !slices.Contains(more[t], n) {
			more[t] = append(more[t], n)
		}
	}
	for i, t := range order {
		if i == maxDo {
			add(b.w("more-do"))
			break
		}
		add(strings.ReplaceAll(t, "\x00", b.list(more[t])))
	}
	if !urgent {
		for _, t := range decision {
			add(t)
		}
		add(b.w("do.always"))
	}
	return out
}

func (b *builder) list(names []string) string {
	k, long := 0, 0
	for k < len(names) && k < maxNames {
		if long += len([]rune(names[k])); k > 0 && long > maxRunes {
			break
		}
		k++
	}
	if k < len(names) {
		return b.w("names-more", "names", strings.Join(names[:k], ", "), "n", strconv.Itoa(len(names)-k))
	}
	return strings.Join(names, ", ")
}

// Shown are the lines of Found for a page that has room for n findings, with
// the line that says how many more there are.
func (n Notice) Shown(room int) []string {
	k := min(n.named, max(1, room))
	out := append([]string{}, n.Found.Lines[:k]...)
	if left := n.left + n.named - k; left > 0 {
		out = append(out, n.more(left))
	}
	return append(out, n.Found.Lines[n.named:]...)
}

// WriteText writes the page as plain text.
func WriteText(w io.Writer, n Notice) error {
	var b strings.Builder
	line := func(s string) { b.WriteString(strings.TrimRight(s, " ") + "\n") }
	if n.Mark != "" {
		line("*** " + n.Mark + " ***")
		line("")
	}
	line(n.Title)
	line("")
	for _, x := range wrap(n.Word+": "+n.Headline, 76) {
		line(x)
	}
	line("")
	for _, f := range n.Facts {
		line(f.Name + ": " + f.Value)
	}
	part := func(p Part, lines []string, mark func(int) string) {
		line("")
		line(strings.ToUpper(p.Title))
		for i, t := range lines {
			m := mark(i)
			for k, x := range wrap(t, 76-len(m)) {
				if k > 0 {
					m = strings.Repeat(" ", len(m))
				}
				line(m + x)
			}
		}
	}
	dash, plain := func(int) string { return "- " }, func(int) string { return "" }
	part(n.Found, n.Shown(MaxFound), dash)
	part(n.Means, n.Means.Lines, plain)
	part(n.Do, n.Do.Lines, func(i int) string { return strconv.Itoa(i+1) + ". " })
	part(n.Call, nil, plain)
	for _, c := range n.Call.Lines {
		line(pad(c, 22) + " " + n.Name + " ____________________  " + n.Phone + " ________________")
	}
	part(n.Signs, n.Signs.Lines, plain)
	part(n.Not, n.Not.Lines, dash)
	line("")
	for _, x := range wrap(n.Foot, 76) {
		line(x)
	}
	line(strings.TrimPrefix(n.Hash.Name+": "+n.Hash.Value, ": "))
	_, err := io.WriteString(w, b.String())
	return err
}

func pad(s string, n int) string { return s + strings.Repeat(" ", max(0, n-len([]rune(s)))) }

// wrap breaks a text into lines of at most n characters.
func wrap(s string, n int) []string {
	var out []string
	line := ""
	for _, w := range strings.Fields(s) {
		if line != "" && len([]rune(line+" "+w)) > n {
			out = append(out, line)
			line = ""
		}
		line = strings.TrimPrefix(line+" "+w, " ")
	}
	return append(out, line)
}
