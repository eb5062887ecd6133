package limits

import (
	"math"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Difference is a row in which two tables differ.
type Difference struct {
	Row   string `json:"row"`
	Topic string `json:"topic"`
	// Only is "a" or "b" where one of them alone has the row, else "".
	Only string `json:"only"`
	// Differs names what is not the same, among value, unit, applies, meaning
	// (basis, band, text, list, line, code), action, source, evidence, checked.
	Differs []string   `json:"differs"`
	A       *DiffersAs `json:"a"`
	B       *DiffersAs `json:"b"`
}

// DiffersAs is a row as one side has it.
type DiffersAs struct {
	Value    *float64 `json:"value"`
	Unit     string   `json:"unit"`
	Applies  string   `json:"applies"`
	Meaning  string   `json:"meaning"`
	Action   string   `json:"action"`
	Source   string   `json:"source"`
	Evidence string   `json:"evidence"`
	Checked  string   `json:"checked"`
}

// Diff lists the rows in which two tables differ in value or in meaning, in the
// order of a, then those that b alone has. Notes are not compared.
func Diff(a, b *Set) []Difference {
	out := []Difference{}
	inB, seen := map[string]row{}, map[string]bool{}
	for _, x := range b.all() {
		inB[x.y.ID] = x
	}
	for _, x := range a.all() {
		seen[x.y.ID] = true
		y, both := inB[x.y.ID]
		if !both {
			out = append(out, Difference{Row: x.y.ID, Topic: x.y.Topic, Only: "a", Differs: []string{}, A: x.side()})
			continue
		}
		d := Difference{Row: x.y.ID, Topic: x.y.Topic, A: x.side(), B: y.side(), Differs: differences(x, y)}
		d.words("unit", "source", "evidence", "checked")
		if x.y.Topic != y.y.Topic {
			d.Topic += ", " + y.y.Topic
			d.Differs = append(d.Differs, "topic")
		}
		if len(d.Differs) > 0 {
			out = append(out, d)
		}
	}
	for _, y := range b.all() {
		if !seen[y.y.ID] {
			out = append(out, Difference{Row: y.y.ID, Topic: y.y.Topic, Only: "b", Differs: []string{}, B: y.side()})
		}
	}
	return out
}

// differences of two rows in what they do: value, applies, meaning, action.
func differences(x, y row) []string {
	d := Difference{A: x.side(), B: y.side()}
	if (x.y.Value == nil) != (y.y.Value == nil) || !equal(x.value, y.value) {
		d.Differs = append(d.Differs, "value")
	}
	d.words("applies", "meaning", "action")
	return d.Differs
}

// Judged is what a record's decision says of the table it rested on.
type Judged struct {
	Rows []procedure.RowUsed
	// Planned are the pressure rows of the plan, where the plan followed the
	// table that the record was judged by.
	Planned []procedure.Limit
	// OutdoorF is the outdoor temperature by which its draft was judged; nil
	// where none was taken.
	OutdoorF *float64
}

// DiffJudged lists the rows that a record was judged by and that differ in the
// table b. A record carries no more of a row than its value, unit, source and
// evidence, and only the rows that decided something: nothing else is compared.
func DiffJudged(a Judged, b *Set) []Difference {
	out := []Difference{}
	inB, planned, seen := map[string]row{}, map[string]procedure.Limit{}, map[string]bool{}
	for _, x := range b.all() {
		inB[x.y.ID] = x
	}
	for _, l := range a.Planned {
		planned[l.ID] = l
	}
	for _, u := range a.Rows {
		if u.Row == "own-rule" || u.Row == "maker-breech" || seen[u.Row] {
			continue // in no table
		}
		seen[u.Row] = true
		side := &DiffersAs{Value: u.Value, Unit: u.Unit, Source: u.Source, Evidence: string(u.Evidence)}
		if u.Value == nil {
			side.Unit = ""
		}
		l, known := planned[u.Row]
		if known {
			side.Applies = describeSelector(l.Applies)
		}
		x, both := inB[u.Row]
		if !both {
			out = append(out, Difference{Row: u.Row, Only: "a", Differs: []string{}, A: side})
			continue
		}
		d := Difference{Row: u.Row, Topic: x.y.Topic, A: side, B: x.side()}
		if u.Value != nil && !x.gives(*u.Value, u.Unit, a.OutdoorF) {
			d.Differs = append(d.Differs, "value")
		}
		d.words("source", "evidence")
		if known {
			d.words("applies")
		}
		if len(d.Differs) > 0 {
			out = append(out, d)
		}
	}
	return out
}

// gives reports whether judging by the row would give this limit: its value,
// the end of its band, or the point of its line.
func (x row) gives(v float64, unit string, outdoorF *float64) bool {
	switch x.y.Topic {
	case "matrix":
		return x.y.Over != nil && equal(v, *x.y.Over) || x.y.UpTo != nil && equal(v, *x.y.UpTo)
	case "draft-line":
		if outdoorF == nil {
			return true // nothing to hold it against
		}
		var line []procedure.DraftPoint
		for _, p := range x.y.Line {
			line = append(line, procedure.DraftPoint{TempF: *p.TempF, Pa: *p.Pa})
		}
		pa, ok := procedure.DraftLimit(line, *outdoorF)
		return ok && math.Abs(pa-v) < 1e-6
	}
	if x.y.Value == nil {
		return false
	}
	if equal(v, x.value) {
		return true
	}
	w, err := reading.Convert(*x.y.Value, reading.Unit(x.y.Unit), reading.Unit(unit))
	return err == nil && equal(v, w)
}

func equal(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(a)) }

// all rows, those of the floor last.
func (s *Set) all() []row { return append(append([]row{}, s.rows...), s.low...) }

func (x row) side() *DiffersAs {
	i := x.info()
	d := &DiffersAs{Value: i.Value, Unit: i.Unit, Source: i.Source, Evidence: i.Evidence, Checked: i.Checked}
	switch x.y.Topic {
	case "depressurization", "spillage", "co":
		d.Applies = i.Applies
	}
	d.Action = joined(x.y.Act, x.y.Decision, x.y.Status, x.y.Action)
	y := x
	y.y.Act, y.y.Decision, y.y.Status, y.y.Action = "", "", "", ""
	d.Meaning = joined(x.y.About, y.means())
	return d
}

func joined(words ...string) string {
	var out []string
	for _, w := range words {
		if w != "" {
			out = append(out, w)
		}
	}
	return strings.Join(out, ", ")
}

// words notes which of the named texts differ.
func (d *Difference) words(what ...string) {
	for _, w := range what {
		a, b := d.A.text(w), d.B.text(w)
		if a != b {
			d.Differs = append(d.Differs, w)
		}
	}
}

func (d *DiffersAs) text(what string) string {
	switch what {
	case "unit":
		return d.Unit
	case "applies":
		return d.Applies
	case "meaning":
		return d.Meaning
	case "action":
		return d.Action
	case "source":
		return d.Source
	case "evidence":
		return d.Evidence
	}
	return d.Checked
}

// State says how sure the row is, as one side has it.
func (d *DiffersAs) State() string {
	return RowInfo{Evidence: d.Evidence, Checked: d.Checked}.State()
}
