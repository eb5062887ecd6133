package report

import (
	"strings"

	"cazward/procedure"
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
		line := wording.ItemText(b.lang, c.Code)
		switch c.State {
		case procedure.SeenOK:
			g.ok = append(g.ok, note(line, c.Text))
		case procedure.SeenWrong:
			g.wrong = append(g.wrong, note(b.t("is-wrong", line), c.Text))
		default:
			g.wrong = append(g.wrong, note(b.t("not-seen", line), c.Text))
		}
	}
	for _, k := range order {
		g := groups[k]
		t.Rows = append(t.Rows, Row{Bold: len(g.wrong) > 0, Cells: []string{capital(k), b.or(strings.Join(g.wrong, "; "), "none"), b.or(strings.Join(g.ok, "; "), "dash")}})
	}
	if len(t.Rows) == 0 {
		s.Notes = []string{b.t("no-checks")}
		return s
	}
	s.Tables = []Table{t}
	return s
}

func (b *builder) instruments() Section {
	s := Section{ID: "instruments", Title: b.t("s-instruments"), Facts: []Fact{{b.t("weather"), b.weather()}}}
	t := Table{Columns: b.cols("c-instrument", 22, "c-name", 34, "c-serial", 24, "c-calibrated", 18, "c-accuracy", 34)}
	list := append([]procedure.Instrument{}, b.obs.Instruments...)
	for _, ev := range b.in.Events {
		h, ok := ev.Data.(*procedure.Handover)
		if !ok {
			continue
		}
		for _, i := range h.Instruments {
			dup := false
			for _, x := range list {
				dup = dup || x == i
			}
			if !dup {
				list = append(list, i)
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
		}
		if i.ID == "gauge" && len(acc) == 0 {
			acc = append(acc, b.t("accuracy-scheme"))
		}
		t.Rows = append(t.Rows, Row{Cells: []string{strings.ReplaceAll(i.ID, "-", " "), b.or(i.Name, "not-entered"), b.or(i.Serial, "not-entered"), b.or(i.Calibrated, "not-entered"), b.or(strings.Join(acc, "; "), "dash")}})
	}
	if len(t.Rows) == 0 {
		s.Notes = append(s.Notes, b.t("no-instruments"))
		return s
	}
	s.Tables = []Table{t}
	return s
}

func (b *builder) doubts() Section {
	s := Section{ID: "doubts", Title: b.t("s-doubts")}
	t := Table{Columns: b.cols("c-doubt", 60, "c-about", 30, "c-settled", 40)}
	for _, d := range b.in.Judgement.Doubts {
		var lines []string
		for _, n := range d.About {
			lines = append(lines, b.t("line", num(float64(n), 0))+" "+wording.KeyText(b.lang, b.byN[n].Step, b.name))
		}
		open := d.Settled == "" || d.Settled == "left"
		how := b.t("doubt-open")
		if !open {
			how = note(b.t("doubt-"+d.Settled), d.How)
		}
		t.Rows = append(t.Rows, Row{Bold: open, Cells: []string{wording.DoubtText(b.lang, d.Code, nil), b.or(strings.Join(lines, "; "), "dash"), how}})
	}
	if len(t.Rows) == 0 {
		s.Notes = []string{b.t("no-doubts")}
		return s
	}
	s.Tables = []Table{t}
	return s
}

// corrections are what replaced what, and why.
func (b *builder) corrections() Section {
	s := Section{ID: "corrections", Title: b.t("s-corrections")}
	t := Table{Columns: b.cols("c-when", 16, "c-what", 28, "c-old", 27, "c-new", 27, "c-reason", 26, "c-who", 14)}
	for _, ev := range b.in.Events {
		switch d := ev.Data.(type) {
		case *procedure.Correct:
			old, was := b.byN[d.Replaces], ""
			if c, ok := old.Data.(*procedure.Correct); ok {
				was = b.said(old.Step, correctedTo(c))
			} else {
				was = b.said(old.Step, old.Data)
			}
			what := b.t("line", num(float64(d.Replaces), 0)) + " " + wording.KeyText(b.lang, ev.Step, b.name)
			t.Rows = append(t.Rows, Row{Cells: []string{b.when(ev.Written), what, was, b.said(ev.Step, correctedTo(d)), d.Reason, b.or(ev.Who, "dash")}})
		case *procedure.Reopen:
			t.Rows = append(t.Rows, Row{Cells: []string{b.when(ev.Written), b.t("reopened"), d.Close, "-", d.Reason, b.or(ev.Who, "dash")}})
		}
	}
	if len(t.Rows) == 0 {
		s.Notes = []string{b.t("no-corrections")}
		return s
	}
	s.Notes, s.Tables = []string{b.t("n-corrections")}, []Table{t}
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
	case d.Plan != nil:
		return d.Plan
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
	case *procedure.Answer:
		switch {
		case x.SameAs != 0:
			return b.said(step, b.byN[x.SameAs].Data)
		case x.Pressure != nil:
			t, _, _ := b.typed(*x.Pressure)
			return t
		case x.VentFacts != nil:
			return b.or(strings.Join(b.facts(procedure.Appliance{Facts: *x.VentFacts, Burner: procedure.Burner{Fuel: procedure.Electricity}}), "; "), "none")
		case x.Names != nil:
			return b.or(b.nameAll(x.Names.IDs), "none")
		case x.Choice != "" && b.names[x.Choice] != "":
			return b.name(x.Choice)
		}
		if strings.HasSuffix(step, "/lel") {
			st.Unit = "%"
		}
	case *procedure.Told:
		return note(x.Whom, x.How)
	}
	return wording.KeptText(b.lang, st, d)
}

func (b *builder) skips() Section {
	s := Section{ID: "skips", Title: b.t("s-skips")}
	t := Table{Columns: b.cols("c-what", 50, "c-reason", 60, "c-needed", 20)}
	for _, k := range b.obs.Skips {
		needed := b.t("required")
		if k.Wanted {
			needed = b.t("wanted")
		}
		t.Rows = append(t.Rows, Row{Cells: []string{wording.KeyText(b.lang, k.Step, b.name), wording.KeptText(b.lang, procedure.Step{}, &k.Skip), needed}})
	}
	if len(t.Rows) == 0 {
		s.Notes = []string{b.t("no-skips")}
		return s
	}
	s.Tables = []Table{t}
	return s
}

func (b *builder) notes() Section {
	s := Section{ID: "notes", Title: b.t("s-notes")}
	t := Table{Columns: b.cols("c-when", 16, "c-who", 18, "c-at", 26, "c-note", 70)}
	for _, ev := range b.in.Events {
		if d, ok := ev.Data.(*procedure.Note); ok {
			at := "-"
			if ev.Step != "" {
				at = wording.KeyText(b.lang, ev.Step, b.name)
			}
			t.Rows = append(t.Rows, Row{Cells: []string{b.when(ev.Observed), b.or(ev.Who, "dash"), at, d.Text}})
		}
	}
	if len(t.Rows) == 0 {
		s.Notes = []string{b.t("no-notes")}
		return s
	}
	s.Tables = []Table{t}
	return s
}

// findings are all that was judged, the milder ones too.
func (b *builder) findings() Section {
	s := Section{ID: "findings", Title: b.t("s-findings")}
	t := Table{Columns: b.cols("c-finding", 66, "c-verdict", 20, ">c-margin", 12, "c-leads", 20, "c-row", 30)}
	for _, f := range b.sorted() {
		margin, leads := "-", "-"
		if f.Margin != nil {
			margin = num(*f.Margin, 2)
		}
		if f.Severity != procedure.NoDecision {
			leads = string(f.Severity)
		}
		t.Rows = append(t.Rows, Row{Bold: bad(f), Cells: []string{wording.Reason(b.lang, f, b.name), b.verdict(f), margin, leads, b.or(f.Row, "dash")}})
	}
	if len(t.Rows) == 0 {
		s.Notes = []string{b.t("no-findings")}
		return s
	}
	s.Tables = []Table{t}
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
	if id == "" {
		return info
	}
	set := func(r procedure.Row, value string) bool {
		if r.ID != id {
			return false
		}
		info.value, info.source, info.ev, info.extra = value, r.Source.String(), r.Evidence, r.Note
		if r.Edited {
			info.extra = strings.TrimSuffix(b.t("edited-row")+" "+r.Note, " ")
		}
		if r.Checked != nil {
			info.checked = b.t("checked-by", r.Checked.By, r.Checked.Date, r.Checked.Edition)
		}
		return true
	}
	rules := b.in.Rules
	for _, list := range [][]procedure.Limit{rules.Pressure, rules.Spillage, rules.CO} {
		for _, r := range list {
			if set(r.Row, strings.TrimSpace(b.t(string(r.Bound.Sense), num(r.Bound.Value, -1), r.Unit)+" "+strings.ReplaceAll(r.Basis, "-", " "))) {
				return info
			}
		}
	}
	if rules.Draft.ID == id {
		var pts []string
		for _, p := range rules.Draft.Line {
			pts = append(pts, b.t("draft-point", num(p.Pa, -1), num(p.TempF, -1)))
		}
		set(rules.Draft.Row, strings.Join(pts, ", "))
		return info
	}
	for _, m := range rules.Matrix {
		v := b.t("co-over", num(m.Over, -1))
		if m.UpTo != nil {
			v = b.t("co-band", num(m.Over, -1), num(*m.UpTo, -1))
		}
		if set(m.Row, v+"; "+b.t("outcomes", b.t("o-"+string(m.Spillage)), b.t("o-"+string(m.Draft)))+": "+string(m.Decision)) {
			return info
		}
	}
	for _, a := range rules.Actions {
		if set(a.Row, string(a.Decision)) {
			return info
		}
	}
	for _, t := range append(append([]procedure.Tier{}, rules.Floor...), b.obs.Plan.Interrupts...) {
		if t.Row == id {
			key := "from"
			if t.Above {
				key = "above"
			}
			info.value, info.source, info.ev = b.t(key, num(t.From, -1), t.Unit), t.Source, t.Evidence
			return info
		}
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
	shipped := b.t("as-shipped")
	if r.Edited {
		shipped = b.t("edited")
	}
	s := Section{ID: "figures", Title: b.t("s-figures"), Notes: []string{b.t("n-figures")}, Facts: []Fact{
		{b.t("scheme"), b.or(r.Title, "not-entered") + " (" + r.Name + ")"}, {b.t("edition"), b.or(r.Edition, "not-entered")},
		{b.t("status"), b.or(r.Status, "not-entered")}, {b.t("sha256"), b.or(r.SHA256, "not-entered")}, {b.t("table"), shipped}}}
	if p := b.obs.Plan.Scheme; p.Name != "" && p.SHA256 != r.SHA256 {
		s.Facts = append(s.Facts, Fact{b.t("walked-under"), b.scheme(p) + ", " + p.SHA256})
	}
	t := Table{Columns: b.cols("c-row", 30, "c-figure", 36, "c-source", 48, "c-evidence", 32)}
	seen := map[string]bool{}
	add := func(f procedure.Finding) {
		if f.Row == "" || seen[f.Row] {
			return
		}
		seen[f.Row] = true
		i := b.row(f.Row)
		v := i.value
		if v == "" && f.Limit != nil {
			v = strings.TrimSpace(num(*f.Limit, -1) + " " + f.Unit)
		}
		src := i.source
		if src == "" {
			src = f.Source
		}
		t.Rows = append(t.Rows, Row{Cells: []string{f.Row, b.or(v, "dash"), note(b.or(src, "no-source"), i.extra), i.evidence(f)}})
	}
	for _, f := range b.sorted() {
		add(f)
	}
	if d := b.decided(); d != nil {
		for _, x := range d.Rows {
			add(procedure.Finding{Row: x.Row, Limit: x.Value, Unit: x.Unit, Source: x.Source, Evidence: x.Evidence})
		}
	}
	if id := b.in.Rules.UncertaintyID; id.ID != "" && len(b.in.Judgement.WorstCase) > 0 {
		add(procedure.Finding{Row: id.ID, Evidence: id.Evidence})
	}
	if len(t.Rows) > 0 {
		s.Tables = []Table{t}
	}
	return s
}

// compare sets this phase beside the earlier one.
func (b *builder) compare() Section {
	s := Section{ID: "compare", Title: b.t("s-compare")}
	p := b.in.Prior
	if p == nil {
		if b.in.Header.Prior == nil {
			return Section{}
		}
		s.Notes = []string{b.t("prior-absent", b.in.Header.Prior.Record, b.in.Header.Prior.Close)}
		return s
	}
	s.Facts = []Fact{{b.t("earlier"), p.Header.Record + ", " + wording.PhaseName(b.lang, p.Header.Phase)}, {b.t("closing-hash"), b.or(p.CloseHash, "not-closed")},
		{b.t("then"), wording.Headline(b.lang, p.Judgement.Decision, p.Header.Phase, len(p.Judgement.Missing))}}
	then := newBuilder(Input{Lang: b.lang, Header: p.Header, Observations: p.Observations, Judgement: p.Judgement, Rules: b.in.Rules})
	t := Table{Columns: b.cols("c-what", 40, "then", 36, "now", 36)}
	add := func(what, old, now string) { t.Rows = append(t.Rows, Row{Cells: []string{what, old, now}}) }
	for _, z := range b.obs.Zones {
		add(b.t("net-of", z.Name), then.net(z), b.net(z))
	}
	for _, a := range b.obs.Appliances {
		old, known := p.Observations.Appliance(a.ID)
		if !known || old.Kind != a.Kind {
			add(a.Name, b.t("not-then"), b.t("there-now"))
			continue
		}
		x, y := procedure.ApplianceObs{}, procedure.ApplianceObs{}
		if o := p.Observations.Of(a.ID); o != nil {
			x = *o
		}
		if o := b.obs.Of(a.ID); o != nil {
			y = *o
		}
		oldCO, _, _ := then.gas(old, x)
		nowCO, _, _ := b.gas(a, y)
		add(a.Name+", "+b.t("c-spill"), then.spill(old, x.Spill, false, x), b.spill(a, y.Spill, false, y))
		add(a.Name+", "+b.t("c-draft"), then.draft(old, x, false), b.draft(a, y, false))
		add(a.Name+", "+b.t("c-co"), oldCO, nowCO)
	}
	for _, a := range p.Observations.Appliances {
		if now, known := b.obs.Appliance(a.ID); !known || now.Kind != a.Kind {
			add(a.Name, b.t("there-then"), b.t("gone-now"))
		}
	}
	s.Tables = []Table{t}
	return s
}

func (b *builder) net(z procedure.Zone) string {
	for _, w := range b.in.Judgement.WorstCase {
		if w.Zone == z.ID || w.Zone == z.Name {
			if w.Net == nil {
				break
			}
			t := num(*w.Net, 1) + " Pa"
			if w.Uncertainty != nil {
				t += " +/- " + num(*w.Uncertainty, 1)
			}
			return t
		}
	}
	return b.t("not-tested")
}

// record says which record this is, who kept it and what is kept beside it.
func (b *builder) record() Section {
	h := b.in.Header
	s := Section{ID: "record", Title: b.t("s-record"), Notes: []string{b.t("n-record")}, Facts: []Fact{
		{b.t("record"), h.Record}, {b.t("home"), h.Home}, {b.t("begun"), b.when(h.Created)}, {b.t("lines"), num(float64(len(b.in.Events)+1), 0)},
		{b.t("closing-hash"), b.or(b.in.CloseHash, "not-closed")}, {b.t("head"), b.or(b.in.Head, "dash")}, {b.t("program"), b.or(b.in.ProgramVersion, "dash")}}}
	if !b.in.Closed && b.in.CloseHash != "" {
		s.Facts[4].Value = b.t("not-closed") + " (" + b.in.CloseHash + ")"
	}
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
			who.Rows = append(who.Rows, Row{Cells: []string{b.when(ev.Written), b.or(d.Who, "dash"), b.t(key)}})
			last = d.Who
			continue
		case *procedure.Attach:
			kept.Rows = append(kept.Rows, Row{Cells: []string{d.SHA256, d.Type, num(float64(d.Bytes), 0), wording.KeyText(b.lang, d.Step, b.name)}})
		case *procedure.Log:
			kept.Rows = append(kept.Rows, Row{Cells: []string{d.SHA256, b.t("log-file"), "-", b.when(d.From)}})
		}
		if ev.Who != "" && ev.Who != last && ev.Kind != procedure.KindSign {
			who.Rows = append(who.Rows, Row{Cells: []string{b.when(ev.Written), ev.Who, b.t("enters", num(float64(ev.N), 0))}})
			last = ev.Who
		}
	}
	signs := Table{Title: b.t("t-signs"), Columns: b.cols("c-when", 18, "c-name", 26, "c-verdict", 16, "c-note", 40, "c-signature", 40)}
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
		signs.Rows = append(signs.Rows, Row{Cells: []string{b.when(x.At), x.Name, b.t("sign-" + x.Verdict), b.or(x.Note, "dash"), state}})
	}
	if len(signs.Rows) == 0 {
		s.Notes = append(s.Notes, b.t("no-signs"))
	}
	for _, t := range []Table{who, signs, kept} {
		if len(t.Rows) > 0 {
			s.Tables = append(s.Tables, t)
		}
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
