package report

import (
	"slices"
	"sort"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// decision makes page 1.
func (b *builder) decision() Decision {
	j, h := b.in.Judgement, b.in.Header
	d := Decision{Code: j.Decision, Word: wording.SignalWord(b.lang, j.Decision.SignalWord()), HoldsLabel: b.t("holds"), Holds: strings.Join(wording.Holds(b.lang), " "),
		Headline: wording.Headline(b.lang, j.Decision, h.Phase, len(j.Missing))}
	// The sentence begins with its own label in capitals.
	if first, rest, ok := strings.Cut(d.Holds, " "); ok && first == strings.ToUpper(first) {
		d.HoldsLabel, d.Holds = first, rest
	}
	var told []string
	for _, t := range b.obs.Told {
		told = appendNew(told, t.Whom)
	}
	d.Facts = []Fact{
		{b.t("home"), h.Home}, {b.t("record"), h.Record}, {b.t("phase"), wording.PhaseName(b.lang, h.Phase)},
		{b.t("tested"), b.span()}, {b.t("tester"), b.or(b.obs.Tester, "not-entered")},
		{b.t("scheme"), b.scheme(j.Scheme)}, {b.t("weather"), b.weather()}, {b.t("told"), b.or(strings.Join(told, "; "), "told-nobody")},
	}
	sorted := b.sorted()
	for _, f := range sorted {
		if f.Verdict == procedure.Pass || f.Verdict == procedure.NotApplicable ||
			f.Verdict == procedure.NotEvaluated && !procedure.Proceed.Milder(f.Severity) {
			continue
		}
		d.Why = appendNew(d.Why, wording.Reason(b.lang, f, b.name))
	}
	if j.Decision == procedure.Proceed {
		d.Why = append(b.allPass(), d.Why...)
	}
	if len(d.Why) == 0 && len(j.Missing) > 0 {
		d.Why = []string{b.t("why-missing")}
	}
	d.Do = b.do(sorted)
	d.Appliances = b.statuses()
	d.Cautions = b.cautions(sorted)
	d.PutBack = b.putBack()
	for _, m := range j.Missing {
		d.NotTested = appendNew(d.NotTested, wording.MissingText(b.lang, m, b.name))
	}
	for _, ao := range b.obs.ApplObs {
		if ao.NotFired != "" {
			d.NotTested = appendNew(d.NotTested, wording.NotLit(b.lang, b.name(ao.ID)))
		}
	}
	for _, n := range j.NotAsked {
		d.NotTested = appendNew(d.NotTested, b.t("not-asked", wording.KeyText(b.lang, n, b.name), b.scheme(j.Scheme)))
	}
	for _, r := range j.AcceptedRisks {
		d.Risks = append(d.Risks, b.t("risk", r.Row, r.Reason))
	}
	return d
}

// sorted are the findings, most protective first: by what they lead to, by the
// status they give, by verdict.
func (b *builder) sorted() []procedure.Finding {
	out := append([]procedure.Finding{}, b.in.Judgement.Findings...)
	rank := func(v procedure.Verdict) int {
		switch v {
		case procedure.Fail:
			return 0
		case procedure.TooClose:
			return 1
		case procedure.NotEvaluated:
			return 2
		case procedure.Pass:
			return 3
		}
		return 4
	}
	sort.SliceStable(out, func(i, k int) bool {
		x, y := out[i], out[k]
		if x.Severity != y.Severity {
			return y.Severity.Milder(x.Severity)
		}
		if x.Status != y.Status {
			return procedure.MoreProtectiveStatus(x.Status, y.Status) == x.Status
		}
		return rank(x.Verdict) < rank(y.Verdict)
	})
	return out
}

// allPass says what was met, with the net that came nearest to its limit.
func (b *builder) allPass() []string {
	var near *procedure.Finding
	n := 0
	for i, f := range b.in.Judgement.Findings {
		if f.Verdict != procedure.Pass {
			continue
		}
		n++
		if about(f) == aboutNet && f.Margin != nil && (near == nil || *f.Margin < *near.Margin) {
			near = &b.in.Judgement.Findings[i]
		}
	}
	if n == 0 {
		if slices.ContainsFunc(b.obs.Appliances, func(a procedure.Appliance) bool { return a.Kind.Burns() && a.Burner.Fuel != procedure.Electricity }) {
			return []string{b.t("none-judged")}
		}
		return []string{b.t("none-burns")}
	}
	out := []string{b.t("all-pass", n)}
	if near != nil {
		out = append(out, wording.Reason(b.lang, *near, b.name))
	}
	return out
}

// do lists what to do and who may do it. One act for several appliances is
// one line that names them all, so that page 1 stays one page. What repeats
// keeps its last place: "test again" comes after the repairs.
func (b *builder) do(sorted []procedure.Finding) []string {
	const here = "\x00" // stands for the name until all are known
	var order []string
	names := map[string][]string{}
	final := map[string]procedure.Status{}
	for _, a := range b.in.Judgement.Appliances {
		final[a.ID] = a.Status
	}
	for _, f := range sorted {
		if x := final[f.Subject]; x != f.Status && procedure.MoreProtectiveStatus(f.Status, x) == x { // "not with all fans on" beside "off" would leave a choice
			f.Status = procedure.StatusNone
		}
		for _, t := range wording.Do(b.lang, f, func(string) string { return here }) {
			for i, o := range order {
				if o == t {
					order = append(order[:i:i], order[i+1:]...)
					break
				}
			}
			order = append(order, t)
			if f.Subject != "" {
				names[t] = appendNew(names[t], b.name(f.Subject))
			}
		}
	}
	var out []string
	first := wording.DoFor(b.lang, b.in.Judgement.Decision, b.in.Header.Phase)
	if b.in.Judgement.Decision == procedure.Leave {
		out, first = first, nil
	}
	for _, t := range order {
		who := strings.Join(names[t], ", ")
		if n := len(names[t]); n > 7 { // all of them stand under APPLIANCES
			who = b.t("names-more", strings.Join(names[t][:5], ", "), n-5)
		}
		out = appendNew(out, capital(strings.ReplaceAll(t, here, who)))
	}
	for _, a := range b.in.Judgement.Appliances { // off for what was found of no one burner
		if !slices.ContainsFunc(sorted, func(f procedure.Finding) bool { return f.Subject == a.ID && f.Status == a.Status }) {
			if t := wording.DoStatus(b.lang, a.Status, b.name(a.ID)); t != "" {
				out = appendNew(out, t)
			}
		}
	}
	for _, t := range first {
		out = appendNew(out, t)
	}
	return out
}

// statuses groups the appliances by status, most protective first.
func (b *builder) statuses() []ApplianceLine {
	var out []ApplianceLine
	for _, a := range b.in.Judgement.Appliances {
		name := a.Name
		if name == "" {
			name = b.name(a.ID)
		}
		at := -1
		for i := range out {
			if out[i].Status == a.Status {
				at = i
			}
		}
		if at < 0 {
			words := b.t("no-status")
			if a.Status != procedure.StatusNone {
				words = wording.StatusText(b.lang, a.Status)
			}
			out = append(out, ApplianceLine{Status: a.Status, Words: strings.ToUpper(words)})
			at = len(out) - 1
		}
		out[at].Names = append(out[at].Names, name)
	}
	sort.SliceStable(out, func(i, k int) bool {
		x, y := out[i].Status, out[k].Status
		// No status is unknown, and unknown is never milder than known fine.
		if x == procedure.StatusNone || y == procedure.StatusNone {
			return x == procedure.StatusNone && (y == procedure.MayRun || y == procedure.MayRunNoFans)
		}
		return x != y && procedure.MoreProtectiveStatus(x, y) == x
	})
	return out
}

// cautions are what a reader must know before trusting the page.
func (b *builder) cautions(sorted []procedure.Finding) []string {
	var out []string
	j := b.in.Judgement
	if b.in.Redacted {
		out = append(out, b.t("caution-redacted"))
	}
	if !b.in.Closed {
		out = append(out, b.t("caution-open"))
	}
	if d := b.decided(); d != nil && b.in.Closed && d.Decision != j.Decision {
		out = append(out, b.t("caution-differs", wording.Headline(b.lang, d.Decision, b.in.Header.Phase, len(d.Missing))))
	}
	if s := b.obs.Plan.Scheme; s.Name != "" && j.Scheme.SHA256 != s.SHA256 {
		out = append(out, b.t("caution-other-scheme", b.scheme(s), b.scheme(j.Scheme)))
	}
	open := 0
	for _, d := range j.Doubts {
		if openDoubt(d) {
			open++
		}
	}
	if open > 0 {
		out = append(out, b.t("caution-doubts", num(float64(open), 0)))
	}
	if n := b.lostPhotos(); n > 0 {
		out = append(out, b.t("caution-photos", num(float64(n), 0)))
	}
	memory, seen := 0, map[string]bool{}
	for _, f := range sorted {
		if f.Row != "" && f.Verdict != procedure.NotApplicable && f.Evidence == procedure.EvidenceMemory && b.row(f.Row).checked == "" && !seen[f.Row] {
			seen[f.Row] = true
			memory++
		}
	}
	if memory > 0 {
		out = append(out, b.t("caution-memory", num(float64(memory), 0)))
	}
	for _, a := range j.Appliances {
		if a.Status == procedure.OffUntilServiced || a.Status == procedure.FuelOff || a.Status == procedure.MayRunNoFans {
			out = append(out, b.t("caution-co"))
			break
		}
	}
	return out
}

// decided is what the record was closed on last, nil where it never was.
func (b *builder) decided() *procedure.Decided {
	var d *procedure.Decided
	for _, ev := range b.in.Events {
		if x, ok := ev.Data.(*procedure.Decided); ok {
			d = x
		}
	}
	return d
}

// putBack counts the lines of the put-back list. A line that was skipped, or
// a list that was never answered, is open, not absent.
func (b *builder) putBack() PutBack {
	var p PutBack
	asked := map[string]bool{}
	for _, c := range b.obs.Checks {
		if c.Stage != procedure.StagePutBack {
			continue
		}
		asked[c.Key] = true
		p.Of++
		switch c.State {
		case procedure.SeenOK:
			p.Done++
			continue
		case procedure.SeenWrong:
			p.Open = append(p.Open, note(b.t("is-wrong", wording.ItemText(b.lang, c.Code)), c.Text))
		default:
			p.Open = append(p.Open, note(b.t("not-seen", wording.ItemText(b.lang, c.Code)), c.Text))
		}
	}
	for _, ev := range b.in.Events {
		key, sk := skipOf(ev)
		if sk == nil || !strings.HasPrefix(key, "putback/") || asked[key] {
			continue
		}
		asked[key] = true
		p.Of++
		p.Open = append(p.Open, wording.ItemText(b.lang, key[strings.LastIndexByte(key, '/')+1:])+": "+wording.KeptText(b.lang, procedure.Step{}, sk))
	}
	open := false
	for _, m := range b.obs.Open {
		open = open || strings.HasPrefix(m.Step, "putback/")
	}
	switch {
	case p.Of > 0:
		p.Text = b.t("n-of-m", num(float64(p.Done), 0), num(float64(p.Of), 0))
		if open && len(p.Open) == 0 {
			p.Open = append(p.Open, b.t("put-back-more"))
		}
	case open:
		p.Text = b.t("put-back-none")
	default:
		p.Text = b.t("put-back-nothing")
	}
	return p
}

// skipOf gives the skip that an event is or corrects to.
func skipOf(ev procedure.Event) (string, *procedure.Skip) {
	switch d := ev.Data.(type) {
	case *procedure.Skip:
		return ev.Step, d
	case *procedure.Correct:
		return ev.Step, d.Skip
	}
	return "", nil
}

func (b *builder) scheme(r procedure.Ref) string {
	if r.Name == "" {
		return b.t("not-entered")
	}
	return wording.SchemeLong(r)
}

func (b *builder) weather() string {
	if b.obs.Weather == nil {
		return b.t("not-tested")
	}
	var out []string
	for _, w := range append([]procedure.Weather{*b.obs.Weather}, b.obs.Later...) {
		w = b.in.Units.Weather(w)
		out = append(out, wording.KeptText(b.lang, procedure.Step{}, &procedure.Answer{Weather: &w}))
	}
	return strings.Join(out, "; "+b.t("later")+" ")
}

// span is from the first to the last thing seen.
func (b *builder) span() string {
	var from, to time.Time
	for _, ev := range b.in.Events {
		switch ev.Kind {
		case procedure.KindAnswer, procedure.KindSetup, procedure.KindHazard, procedure.KindTimer:
			if from.IsZero() || ev.Observed.Before(from) {
				from = ev.Observed
			}
			if ev.Observed.After(to) {
				to = ev.Observed
			}
		}
	}
	switch {
	case from.IsZero():
		return b.t("not-tested")
	case when(from) == when(to):
		return when(from)
	case from.Format("20060102") == to.Format("20060102"):
		return when(from) + " - " + to.Format("15:04")
	}
	return when(from) + " - " + when(to)
}

func (b *builder) or(s, key string) string {
	if strings.TrimSpace(s) == "" {
		return b.t(key)
	}
	return s
}

func when(t time.Time) string {
	if t.IsZero() {
		return "-"
	}
	return t.Format("2006-01-02 15:04")
}

func note(s, text string) string {
	if strings.TrimSpace(text) == "" {
		return s
	}
	return s + " (" + text + ")"
}

func num(v float64, decimals int) string { return reading.Format(v, decimals) }

func appendNew(list []string, s string) []string {
	for _, x := range list {
		if x == s {
			return list
		}
	}
	return append(list, s)
}

func capital(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
