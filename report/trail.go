package report

import (
	"slices"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// checks are the lines that were looked at: one row for each thing at each
// stage, what is wrong or was not seen first.
func (b *builder) checks() Section {
	s := Section{ID: "checks", Title: b.t("s-checks")}
	t := Table{Columns: b.cols("c-stage", 24, "c-wrong", 42, "c-order", 60)}
	type group struct{ wrong, ok []string }
	var order []string
	groups := map[string]*group{}
	for _, c := range b.obs.Checks {
		what := wording.Stage(b.lang, c.Stage)
		if c.Subject != "" {
			what += ": " + b.name(c.Subject)
		}
		g := groups[what]
		if g == nil {
			g = &group{}
			groups[what] = g
			order = append(order, what)
		}
		line, wrong := wording.ItemText(b.lang, c.Code), "is-wrong"
		if strings.HasPrefix(c.Key, "arrive/danger/") { // these lines name the danger itself
			wrong = "is-so"
			if c.State == procedure.SeenOK {
				line = b.t("is-wrong", line)
			}
		}
		switch c.State {
		case procedure.SeenOK:
			g.ok = append(g.ok, note(line, c.Text))
		case procedure.SeenWrong:
			g.wrong = append(g.wrong, note(b.t(wrong, line), c.Text))
		default:
			g.wrong = append(g.wrong, note(b.t("not-seen", line), c.Text))
		}
	}
	for _, k := range order {
		g := groups[k]
		t.add(strong(len(g.wrong) > 0, 2), capital(k), b.or(strings.Join(g.wrong, "; "), "none"), dash(g.ok...))
	}
	b.put(&s, t, "no-checks")
	return s
}

func (b *builder) instruments() Section {
	s := Section{ID: "instruments", Title: b.t("s-instruments"), Facts: []Fact{{b.t("weather"), b.weather()}}}
	t := Table{Columns: b.cols("c-instrument", 22, "c-name", 34, "c-serial", 24, "c-calibrated", 18, "c-accuracy", 34)}
	list := append([]procedure.Instrument{}, b.obs.Instruments...)
	for _, ev := range b.in.Events {
		if h, ok := ev.Data.(*procedure.Handover); ok {
			for _, i := range h.Instruments {
				if !slices.Contains(list, i) {
					list = append(list, i)
				}
			}
		}
	}
	for _, i := range list {
		var acc []string
		if i.Resolution > 0 {
			acc = append(acc, b.t("resolution", num(i.Resolution, -1)))
		}
		if i.AccuracyPa > 0 || i.AccuracyPct > 0 {
			acc = append(acc, b.t("accuracy", num(i.AccuracyPa, -1), num(i.AccuracyPct, -1)))
		} else if i.ID == "gauge" {
			acc = append(acc, b.t("accuracy-scheme"))
		}
		t.add(0, strings.ReplaceAll(i.ID, "-", " "), b.or(i.Name, "not-entered"), b.or(i.Serial, "not-entered"), b.or(i.Calibrated, "not-entered"), dash(acc...))
	}
	b.put(&s, t, "no-instruments")
	return s
}

func (b *builder) doubts() Section {
	s := Section{ID: "doubts", Title: b.t("s-doubts")}
	t := Table{Columns: b.cols("c-doubt", 50, "c-about", 38, "c-settled", 40)}
	for _, d := range b.in.Judgement.Doubts {
		var lines []string
		for _, n := range d.About {
			lines = append(lines, b.line(n))
		}
		how := note(b.t("doubt-"+d.Settled), d.How)
		t.add(strong(openDoubt(d), all), wording.DoubtText(b.lang, d.Code, nil), dash(lines...), how)
	}
	b.put(&s, t, "no-doubts")
	return s
}

func openDoubt(d procedure.DoubtResult) bool { return d.Settled == "" || d.Settled == "left" }

// line names an event by its number and what it is about.
func (b *builder) line(n int) string {
	return b.t("line", n) + " " + wording.KeyText(b.lang, b.byN[n].Step, b.name)
}

// corrections are what replaced what, and why.
func (b *builder) corrections() Section {
	s := Section{ID: "corrections", Title: b.t("s-corrections")}
	t := Table{Columns: b.cols("c-when", 19, "c-what", 28, "c-old", 27, "c-new", 27, "c-reason", 26, "c-who", 14)}
	for _, ev := range b.in.Events {
		switch d := ev.Data.(type) {
		case *procedure.Correct:
			old := b.byN[d.Replaces].Data
			if c, ok := old.(*procedure.Correct); ok {
				old = correctedTo(c)
			}
			t.add(0, when(ev.Written), b.line(d.Replaces), b.said(ev.Step, old), b.said(ev.Step, correctedTo(d)), d.Reason, dash(ev.Who))
		case *procedure.Reopen:
			t.add(0, when(ev.Written), b.t("reopened"), d.Close, "-", d.Reason, dash(ev.Who))
		}
	}
	if len(t.Rows) > 0 {
		s.Notes = []string{b.t("n-corrections")}
	}
	b.put(&s, t, "no-corrections")
	return s
}

func correctedTo(d *procedure.Correct) procedure.Data {
	switch {
	case d.Answer != nil:
		return d.Answer
	case d.Setup != nil:
		return d.Setup
	case d.Skip != nil:
		return d.Skip
	case d.Hazard != nil:
		return d.Hazard
	case d.Doubt != nil:
		return d.Doubt
	case d.Told != nil:
		return d.Told
	}
	return nil
}

// said is the data of an event in words.
func (b *builder) said(step string, d procedure.Data) string {
	st := procedure.Step{ID: step}
	switch x := d.(type) {
	case nil:
		return "-"
	case *procedure.Setup:
		return b.setup(*x)
	case *procedure.Told:
		return note(x.Whom, x.How)
	case *procedure.Answer:
		switch {
		case x.SameAs != 0:
			return b.said(step, b.byN[x.SameAs].Data)
		case x.Pressure != nil:
			t, _, _ := b.typed(*x.Pressure)
			return t
		case x.VentFacts != nil:
			return b.or(strings.Join(b.facts(*x.VentFacts), "; "), "none")
		case x.Names != nil:
			return b.or(b.nameAll(x.Names.IDs), "none")
		case b.names[x.Choice] != "":
			return b.name(x.Choice)
		}
		if strings.HasSuffix(step, "/lel") {
			st.Unit = "%"
		}
	}
	return wording.KeptText(b.lang, st, d)
}

func (b *builder) skips() Section {
	s := Section{ID: "skips", Title: b.t("s-skips")}
	t := Table{Columns: b.cols("c-what", 50, "c-reason", 60, "c-needed", 20)}
	for _, k := range b.obs.Skips {
		needed := "required"
		if k.Wanted {
			needed = "wanted"
		}
		t.add(0, wording.KeyText(b.lang, k.Step, b.name), wording.KeptText(b.lang, procedure.Step{}, &k.Skip), b.t(needed))
	}
	b.put(&s, t, "no-skips")
	return s
}

func (b *builder) notes() Section {
	s := Section{ID: "notes", Title: b.t("s-notes")}
	t := Table{Columns: b.cols("c-when", 19, "c-who", 18, "c-at", 26, "c-note", 70)}
	for _, ev := range b.in.Events {
		if d, ok := ev.Data.(*procedure.Note); ok {
			at := "-"
			if ev.Step != "" {
				at = wording.KeyText(b.lang, ev.Step, b.name)
			}
			t.add(0, when(ev.Observed), dash(ev.Who), at, d.Text)
		}
	}
	b.put(&s, t, "no-notes")
	return s
}

// findings are all that was judged, the milder ones too.
func (b *builder) findings() Section {
	s := Section{ID: "findings", Title: b.t("s-findings")}
	t := Table{Columns: b.cols("c-finding", 62, "c-verdict", 20, ">c-margin", 12, "c-leads", 16, "c-row", 28, "c-rests", 14)}
	rests := Table{Title: b.t("t-rests"), Columns: b.cols("c-finding", 50, "c-measured-at", 52, "c-figure-source", 52)}
	for _, f := range b.sorted() {
		var lines, words []string
		for _, n := range f.About {
			lines = append(lines, num(float64(n), 0))
			words = append(words, b.line(n))
		}
		if f.Severity == b.in.Judgement.Decision && f.Severity != procedure.Proceed && f.Verdict != procedure.Pass {
			i := b.row(f.Row)
			src := i.source
			if src == "" {
				src = f.Source
			}
			rests.add(0, wording.Reason(b.lang, f, b.name), dash(words...), dash(f.Row)+": "+b.or(src, "no-source")+" ("+i.evidence(f)+")")
		}
		margin := "-"
		if f.Margin != nil && f.Rule != "co-matrix" { // the end of a band is no limit
			margin = strings.TrimSpace(num(*f.Margin, strings.Count(f.Unit, "Pa")) + " " + f.Unit)
		}
		t.add(strong(bad(f), 2), wording.Reason(b.lang, f, b.name), b.verdict(f), margin, dash(string(f.Severity)), dash(f.Row), dash(strings.Join(lines, ", ")))
	}
	if len(rests.Rows) > 0 {
		s.Tables = append(s.Tables, rests)
		t.Title = b.t("t-all-findings")
	}
	b.put(&s, t, "no-findings")
	return s
}

// rowInfo is a row of the limit table in words.
type rowInfo struct {
	b                             *builder
	value, source, checked, extra string
	ev                            procedure.Evidence
}

// row looks a row up in the rules; one that they do not have keeps what the
// finding itself says.
func (b *builder) row(id string) rowInfo {
	info := rowInfo{b: b}
	set := func(r procedure.Row, value string) {
		if r.ID != id || id == "" || info.ev != "" {
			return
		}
		info.value, info.source, info.ev, info.extra = value, r.Source.String(), r.Evidence, r.Note
		if r.Edited {
			info.extra = strings.TrimSpace(b.t("edited-row") + " " + r.Note)
		}
		if r.Checked != nil {
			info.checked = b.t("checked-by", r.Checked.By, r.Checked.Date, r.Checked.Edition)
		}
	}
	rules := b.in.Rules
	for _, r := range slices.Concat(rules.Pressure, rules.Spillage, rules.CO) {
		set(r.Row, strings.TrimSpace(b.t(string(r.Bound.Sense), num(r.Bound.Value, -1), r.Unit)+" "+strings.ReplaceAll(r.Basis, "-", " ")))
	}
	var line []string
	for _, p := range rules.Draft.Line {
		v, unit := b.in.Units.Show(p.TempF, string(reading.UnitF))
		line = append(line, b.t("draft-point", num(p.Pa, -1), num(v, -1), unit))
	}
	set(rules.Draft.Row, strings.Join(line, ", "))
	for _, m := range rules.Matrix {
		v := b.t("co-over", num(m.Over, -1))
		if m.UpTo != nil {
			v = b.t("co-band", num(m.Over, -1), num(*m.UpTo, -1))
		}
		set(m.Row, v+"; "+b.t("outcomes", b.t("o-"+string(m.Spillage)), b.t("o-"+string(m.Draft))))
	}
	for _, a := range rules.Actions {
		set(a.Row, strings.ReplaceAll(a.Code, "-", " ")+": "+string(a.Decision))
	}
	for _, t := range slices.Concat(rules.Floor, b.obs.Plan.Interrupts) {
		key := "from"
		if t.Above {
			key = "above"
		}
		set(procedure.Row{ID: t.Row, Source: procedure.SourceRef{Title: t.Source}, Evidence: t.Evidence, Checked: t.Checked}, b.t(key, num(t.From, -1), t.Unit))
	}
	set(rules.UncertaintyID, b.uncertainty())
	return info
}

// evidence says how sure a figure is: "from memory" stays until a person has
// marked the row as checked against the document.
func (i rowInfo) evidence(f procedure.Finding) string {
	ev := i.ev
	if ev == "" {
		ev = f.Evidence
	}
	switch {
	case i.checked != "":
		return i.checked
	case ev == procedure.EvidenceMemory:
		return i.b.t("from-memory")
	}
	return wording.Evidence(i.b.lang, ev)
}

// figures are the scheme and each row that decided something.
func (b *builder) figures() Section {
	r := b.in.Judgement.Scheme
	table := "as-shipped"
	if r.Edited {
		table = "edited"
	}
	s := Section{ID: "figures", Title: b.t("s-figures"), Notes: []string{b.t("n-figures")}, Facts: []Fact{
		{b.t("scheme"), b.or(r.Title, "not-entered") + " (" + r.Name + ")"}, {b.t("edition"), b.or(r.Edition, "not-entered")},
		{b.t("status"), b.or(r.Status, "not-entered")}, {"SHA-256", b.or(r.SHA256, "not-entered")}, {b.t("table"), b.t(table)}}}
	if p := b.obs.Plan.Scheme; p.Name != "" && p.SHA256 != r.SHA256 {
		s.Facts = append(s.Facts, Fact{b.t("walked-under"), b.scheme(p) + ", " + p.SHA256})
	}
	list := b.sorted()
	if d := b.decided(); d != nil {
		for _, x := range d.Rows {
			list = append(list, procedure.Finding{Row: x.Row, Limit: x.Value, Unit: x.Unit, Source: x.Source, Evidence: x.Evidence})
		}
	}
	if id := b.in.Rules.UncertaintyID; len(b.in.Judgement.WorstCase) > 0 {
		list = append(list, procedure.Finding{Row: id.ID, Evidence: id.Evidence})
	}
	t := Table{Columns: b.cols("c-row", 28, "c-figure", 44, "c-source", 44, "c-evidence", 30)}
	seen := map[string]bool{"": true}
	for _, f := range list {
		if seen[f.Row] {
			continue
		}
		seen[f.Row] = true
		i := b.row(f.Row)
		if i.value == "" && f.Limit != nil {
			i.value = strings.TrimSpace(num(*f.Limit, -1) + " " + f.Unit)
		}
		if i.source == "" {
			i.source = f.Source
		}
		t.add(0, f.Row, dash(i.value), note(b.or(i.source, "no-source"), i.extra), i.evidence(f))
	}
	b.put(&s, t, "no-figures")
	return s
}

func (b *builder) net(z procedure.Zone) string {
	w := b.worst(z)
	if w.Net == nil {
		return b.t("not-tested")
	}
	t := num(*w.Net, 1) + " Pa"
	if w.Uncertainty != nil {
		t += " +/- " + num(*w.Uncertainty, 1)
	}
	return t
}

// record says which record this is, who kept it and what is kept beside it.
func (b *builder) record() Section {
	h := b.in.Header
	s := Section{ID: "record", Title: b.t("s-record"), Notes: []string{b.t("n-record")}, Facts: []Fact{
		{b.t("record"), h.Record}, {b.t("home"), h.Home}, {b.t("begun"), when(h.Created)}, {b.t("lines"), num(float64(len(b.in.Events)+1), 0)},
		{b.t("closing-hash"), b.hash()}, {b.t("head"), dash(b.in.Head)}, {b.t("program"), dash(b.in.ProgramVersion)}}}
	if h.Practice != nil {
		s.Facts = append(s.Facts, Fact{b.t("practice-house"), h.Practice.House + ", " + h.Practice.SHA256})
	}
	if d := b.decided(); d != nil {
		s.Facts = append(s.Facts, Fact{b.t("decided-as"), wording.Headline(b.lang, d.Decision, h.Phase, len(d.Missing)) + " (" + string(d.Decision) + "), " + d.Program})
	}
	who := Table{Title: b.t("t-who"), Columns: b.cols("c-when", 20, "c-who", 40, "c-what", 60)}
	kept := Table{Title: b.t("t-kept"), Columns: b.cols("c-sha256", 76, "c-type", 20, ">c-bytes", 12, "c-at", 26)}
	last := ""
	for _, ev := range b.in.Events {
		switch d := ev.Data.(type) {
		case *procedure.Handover:
			key := "takes-over"
			if d.Resumed {
				key = "goes-on"
			}
			who.add(0, when(ev.Written), dash(d.Who), b.t(key))
			last = d.Who
			continue
		case *procedure.Attach:
			kept.add(0, d.SHA256, d.Type, num(float64(d.Bytes), 0), wording.KeyText(b.lang, d.Step, b.name))
		case *procedure.Log:
			kept.add(0, d.SHA256, b.t("log-file"), "-", when(d.From))
		}
		if ev.Who != "" && ev.Who != last && ev.Kind != procedure.KindSign {
			who.add(0, when(ev.Written), ev.Who, b.t("enters", ev.N))
			last = ev.Who
		}
	}
	signs := Table{Title: b.t("t-signs"), Columns: b.cols("c-when", 20, "c-name", 24, "c-verdict", 16, "c-note", 40, "c-signature", 40)}
	for _, x := range b.signs() {
		state := b.t("sig-none")
		if x.Signature != "" {
			state = x.Signature
		} else if x.Sign.Signature != "" {
			state = b.t("sig-unchecked")
		}
		if !b.in.Closed || x.Close != b.in.CloseHash {
			state = b.t("signed-earlier") + "; " + state
		}
		signs.add(0, when(x.At), x.Name, b.t("sign-"+x.Verdict), dash(x.Note), state)
	}
	b.put(&s, who, "no-who")
	b.put(&s, signs, "no-signs")
	if len(kept.Rows) > 0 && !b.in.Redacted {
		s.Tables = append(s.Tables, kept)
	}
	return s
}

func (b *builder) signs() []Sign {
	if b.in.Signs != nil {
		return b.in.Signs
	}
	var out []Sign
	for _, ev := range b.in.Events {
		if d, ok := ev.Data.(*procedure.Sign); ok {
			out = append(out, Sign{Sign: *d, At: ev.Observed})
		}
	}
	return out
}
