package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"cazward/procedure"
	"cazward/procedure/register"
	"cazward/procedure/wording"
	reports "cazward/report"
)

// queued is one home of the queue for machines. Keys are append-only.
type queued struct {
	ID        string              `json:"record_id"`
	Decision  *procedure.Decision `json:"decision"`
	Reasons   []queuedReason      `json:"reasons"`
	Home      string              `json:"home_id"`
	Open      string              `json:"open_as"` // what desk open and --after take
	Phase     *procedure.Phase    `json:"phase"`
	Date      *string             `json:"date"`
	Crew      string              `json:"crew"`
	Label     string              `json:"label"`
	Scheme    string              `json:"scheme"`
	State     string              `json:"state"`
	ClosedOn  *procedure.Decision `json:"closed_on"`
	Close     *string             `json:"close_hash"`
	Signed    *string             `json:"signed"`
	SignedBy  *string             `json:"signed_by"`
	Signature *string             `json:"signature"`
	Practice  bool                `json:"practice"`
}

type queuedReason struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

func reasonText(r register.Reason) string { return reasonIn(wording.English, r) }

// reasonIn is the sentence of a reason; the word of a verdict among its
// arguments is of the language too.
func reasonIn(l wording.Lang, r register.Reason) string {
	args := r.Args
	if v := args["verdict"]; l != wording.English && v != "" {
		args = maps.Clone(args)
		args["verdict"] = wording.DeskSays(l, "sign."+v)
	}
	return wording.Desk(l, string(r.Code), args)
}

func given[T ~string](v T) *T {
	if v == "" {
		return nil
	}
	return &v
}

func queuedOf(l wording.Lang, e register.Entry) queued {
	q := queued{ID: e.Record, Decision: given(e.Decision), Reasons: []queuedReason{}, Home: e.Home, Open: idOf(e, several(e)), Phase: given(e.Phase), Date: given(register.Date(e.Day)), Crew: e.Crew, Label: e.Label,
		Scheme: e.Scheme.Name, State: string(e.State), ClosedOn: given(e.Paper), Close: given(e.Close), Signed: given(string(e.Signed)), SignedBy: given(e.SignedBy), Signature: given(string(e.Signature)), Practice: e.Practice}
	for _, r := range e.Reasons {
		q.Reasons = append(q.Reasons, queuedReason{string(r.Code), reasonIn(l, r)})
	}
	return q
}

// filterFlags read a filter.
type filterFlags struct {
	f                           register.Filter
	reason, kind, from, to, phs string
}

func (q *filterFlags) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&q.f.Crew, "crew", "", "initials of the tester")
	f.StringVar(&q.f.Home, "home", "", "what the home is called")
	f.StringVar(&q.f.Label, "label", "", "label given when it was added")
	f.StringVar(&q.f.Scheme, "scheme", "", "scheme that it was judged under")
	f.StringVar(&q.reason, "reason", "", "code of a reason, for example too-close")
	f.StringVar(&q.kind, "appliance", "", "kind of appliance, for example water-heater")
	f.StringVar(&q.from, "from", "", "first day of the test, YYYY-MM-DD")
	f.StringVar(&q.to, "to", "", "last day of the test, YYYY-MM-DD")
	f.StringVar(&q.phs, "phase", "", "test-in, daily or test-out")
	f.BoolVar(&q.f.Accepted, "signed", false, "also what was accepted")
	f.BoolVar(&q.f.NoPractice, "no-practice", false, "leave out invented houses")
}

func (q *filterFlags) filter() (register.Filter, error) {
	f := q.f
	for _, d := range []struct {
		text, flag string
		to         *int
	}{{q.from, "from", &f.From}, {q.to, "to", &f.To}} {
		if d.text == "" {
			continue
		}
		t, err := time.Parse("2006-01-02", d.text)
		if err != nil {
			return f, usage("days are written YYYY-MM-DD", "--%s %q is no day", d.flag, reports.Clean(d.text))
		}
		*d.to = register.DayOf(t)
	}
	if q.reason != "" {
		if f.Reason = register.Code(q.reason); !listed(register.Codes, f.Reason) {
			return f, usage(saying("reasons are %s", joined(register.Codes)), "no reason has the code %q", reports.Clean(q.reason))
		}
	}
	if q.kind != "" {
		if f.Appliance = procedure.ApplianceKind(q.kind); !listed(procedure.ApplianceKinds, f.Appliance) {
			return f, usage(saying("kinds are %s", joined(procedure.ApplianceKinds)), "no appliance is of kind %q", reports.Clean(q.kind))
		}
	}
	if q.phs != "" {
		if f.Phase = procedure.Phase(q.phs); !listed([]procedure.Phase{procedure.TestIn, procedure.Daily, procedure.TestOut}, f.Phase) {
			return f, usage("phases are test-in, daily, test-out", "unknown phase %q", reports.Clean(q.phs))
		}
	}
	return f, nil
}

func listed[T comparable](list []T, x T) bool {
	for _, y := range list {
		if x == y {
			return true
		}
	}
	return false
}

func joined[T ~string](list []T) string {
	s := make([]string, len(list))
	for i, x := range list {
		s[i] = string(x)
	}
	return strings.Join(s, ", ")
}

// pageSize is how many homes are fetched at once where all are wanted.
const pageSize = 500

func (d *desk) queueCmd() *cobra.Command {
	var asJSON, asCSV bool
	var limit int
	var after string
	var q filterFlags
	c := &cobra.Command{Use: "queue", Short: "homes that wait for a sign-off, most dangerous first, each with its reasons", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			f, err := q.filter()
			if err != nil {
				return err
			}
			switch {
			case limit < 0:
				return usage("give how many homes to show; --limit 0 shows all", "--limit %d is no number of homes", limit)
			case asJSON && asCSV:
				return usage("give one of them", "--json and --csv do not go together")
			}
			s, err := d.open(false)
			if err != nil {
				return err
			}
			defer s.Close()
			var key int64
			if after != "" {
				e, err := d.find(s, after)
				if err != nil {
					return err
				}
				key = e.Key
			}
			total, err := s.Count(d.e.ctx, f)
			if err != nil {
				return d.wrong(err)
			}
			var w queueWriter
			switch {
			case asJSON:
				w = &jsonQueue{w: d.e.out, l: d.l(), total: total}
			case asCSV:
				w = &csvQueue{w: csv.NewWriter(d.e.out), l: d.l()}
			default:
				if total > 0 {
					if err := wrapped(d.e.out, "", d.says("order", "what", d.by.in(d.l()))); err != nil {
						return err
					}
				}
				w = &textQueue{w: d.e.out, l: d.l(), total: total, filtered: f != (register.Filter{Accepted: f.Accepted})}
			}
			left := limit
			for {
				n := pageSize
				if limit > 0 {
					n = min(n, left)
				}
				page, err := s.Page(d.e.ctx, f, key, n)
				if err != nil {
					return d.wrong(err)
				}
				for _, e := range page {
					if err := w.home(e); err != nil {
						return err
					}
				}
				left -= len(page)
				if len(page) < n || limit > 0 && left == 0 {
					break
				}
				key = page[len(page)-1].Key
			}
			return w.end()
		}}
	q.flags(c)
	f := c.Flags()
	f.BoolVar(&asJSON, "json", false, "as JSON")
	f.BoolVar(&asCSV, "csv", false, "as CSV; text that a spreadsheet could take for a formula is quoted with '")
	f.IntVar(&limit, "limit", 50, "how many homes; 0 is all")
	f.StringVar(&after, "after", "", "go on after this record")
	return c
}

type queueWriter interface {
	home(register.Entry) error
	end() error
}

// jsonQueue writes one object, home by home, so that a million fit.
type jsonQueue struct {
	w     io.Writer
	l     wording.Lang
	total int
	n     int
	last  string
}

func (q *jsonQueue) home(e register.Entry) error {
	sep := ",\n"
	if q.n == 0 {
		sep = "{\"homes\":[\n"
	}
	q.n++
	x := queuedOf(q.l, e)
	q.last = x.Open
	b, err := marshal(x)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(q.w, "%s%s", sep, b)
	return err
}

func (q *jsonQueue) end() error {
	head := ""
	if q.n == 0 {
		head = "{\"homes\":["
	}
	b, err := marshal(given(q.last))
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(q.w, "%s],\"total\":%d,\"last\":%s}\n", head, q.total, b)
	return err
}

type csvQueue struct {
	w     *csv.Writer
	l     wording.Lang
	begun bool
}

func (q *csvQueue) head() error {
	if q.begun {
		return nil
	}
	q.begun = true
	return q.w.Write([]string{"record_id", "home_id", "decision", "closed_on", "reason_codes", "reasons", "phase", "date", "crew", "label", "scheme", "state", "signed", "signed_by", "practice"})
}

func (q *csvQueue) home(e register.Entry) error {
	if err := q.head(); err != nil {
		return err
	}
	var codes, texts []string
	for _, r := range e.Reasons {
		codes, texts = append(codes, string(r.Code)), append(texts, reasonIn(q.l, r))
	}
	practice := ""
	if e.Practice {
		practice = "practice"
	}
	row := []string{idOf(e, several(e)), e.Home, decisionWord(e), string(e.Paper), strings.Join(codes, " "), strings.Join(texts, " | "), string(e.Phase), register.Date(e.Day), e.Crew, e.Label, e.Scheme.Name, string(e.State), string(e.Signed), e.SignedBy, practice}
	for i := range row {
		row[i] = cell(row[i])
	}
	return q.w.Write(row)
}

func (q *csvQueue) end() error {
	if err := q.head(); err != nil {
		return err
	}
	q.w.Flush()
	return q.w.Error()
}

// cell keeps a spreadsheet from taking text for a formula.
func cell(s string) string {
	s = reports.Clean(s)
	if s != "" && strings.ContainsRune("=+-@|%'", rune(s[0])) {
		return "'" + s
	}
	return s
}

// decisionWord is the decision, or that there is none.
func decisionWord(e register.Entry) string {
	if e.Decision == procedure.NoDecision {
		return "not judged"
	}
	return string(e.Decision)
}

type textQueue struct {
	w        io.Writer
	l        wording.Lang
	total    int
	filtered bool
	n        int
	last     string
}

func (q *textQueue) home(e register.Entry) error {
	q.n++
	q.last = idOf(e, several(e))
	says := func(key string, pairs ...string) string { return wording.DeskSays(q.l, key, pairs...) }
	word, mark, wide := wording.SignalWord(q.l, e.Decision.SignalWord()), "", len("incomplete")
	if wording.OnPaper(q.l) == wording.Spanish {
		wide = len("todos afuera")
	}
	if e.Practice {
		mark = "  " + says("practice")
	}
	if e.Signed == register.Accepted {
		mark += "  " + says("accepted-by", "name", reports.Clean(e.SignedBy))
	}
	if _, err := fmt.Fprintf(q.w, "%-8s %-*s  %s  %s %s  %s%s\n", word, wide, wording.DeskDecision(q.l, e.Decision), reports.Clean(e.Home), wording.PhaseName(q.l, e.Phase), register.Date(e.Day), reports.Clean(e.Crew), mark); err != nil {
		return err
	}
	if len(e.Reasons) == 0 {
		if err := wrapped(q.w, "         - ", says("nothing-wants")); err != nil {
			return err
		}
	}
	for _, r := range e.Reasons {
		if err := wrapped(q.w, "         - ", reports.Clean(reasonIn(q.l, r))); err != nil {
			return err
		}
	}
	return wrapped(q.w, "         ", says("open-with", "how", "cazward desk open "+quoted(q.last)))
}

// quoted is a word that a shell takes as one.
func quoted(s string) string {
	s = reports.Clean(s)
	for _, r := range s {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_.~/", r)) {
			return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
		}
	}
	return s
}

func (q *textQueue) end() error {
	switch {
	case q.total == 0 && q.filtered:
		_, err := fmt.Fprintln(q.w, wording.DeskSays(q.l, "none-like-that"))
		return err
	case q.total == 0:
		_, err := fmt.Fprintln(q.w, wording.DeskSays(q.l, "nothing-waits"))
		return err
	case q.n < q.total && q.n > 0:
		return wrapped(q.w, "", wording.DeskSays(q.l, "go-on", "n", fmt.Sprint(q.n), "of", fmt.Sprint(q.total), "how", "cazward desk queue --after "+quoted(q.last)))
	}
	_, err := fmt.Fprintln(q.w, wording.DeskSays(q.l, "homes", "n", fmt.Sprint(q.n), "of", fmt.Sprint(q.total)))
	return err
}

// wrapped writes a paragraph in 79 columns; lines after the first are set in
// as far as the first one's text.
func wrapped(w io.Writer, lead, text string) error {
	const width = 79
	in := strings.Repeat(" ", len(lead))
	line := lead
	empty := true
	for _, word := range strings.Fields(text) {
		if !empty && len([]rune(line))+1+len([]rune(word)) > width {
			if _, err := fmt.Fprintln(w, line); err != nil {
				return err
			}
			line, empty = in, true
		}
		if !empty {
			line += " "
		}
		line += word
		empty = false
	}
	_, err := fmt.Fprintln(w, line)
	return err
}
