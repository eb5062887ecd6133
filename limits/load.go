// Package limits reads the tables by which a home is judged: published
// schemes, every figure with its source and how sure we are of it, and
// overlays by which a program changes them with a reason.
//
// [Load] gives a [Set]; [Set.Plan] is what the walk follows and [Set.Rules]
// what the judge is given, both plain values. [Check] lists everything wrong
// with a file at once. Nothing is ever filled in by default: what a scheme
// leaves open stays open.
//
// # Compatibility
//
// A table carries `format: 1`. Row ids are append-only: records name them.
package limits

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"reflect"
	"sort"
	"strings"

	"cazward/limits/strict"
	"cazward/procedure"
	"cazward/procedure/reading"
)

//go:embed schemes/*.yaml
var shipped embed.FS

// Default is the scheme that is used when none is named.
const Default = "graded-2005"

// Source is a file that was read elsewhere: this package touches none.
type Source struct {
	Name string
	Data []byte
}

// Options of Load.
type Options struct {
	Scheme   string
	Overlays []Source
}

// Set is a scheme with its overlays, ready as values.
type Set struct {
	ref   procedure.Ref
	rows  []row
	risks []procedure.AcceptedRisk
	floor []procedure.Tier
}

// maxFile is the largest table that is read, in bytes.
const maxFile = 1 << 20

// reader of tables.
type reader struct{ strict.Reader }

func newReader() *reader {
	return &reader{strict.Reader{What: "table", Begin: `begin with "kind: scheme" or "kind: overlay"`, Max: maxFile}}
}

// row is one row, checked, with the bytes of nobody else.
type row struct {
	y     rowYAML
	src   procedure.SourceRef
	value float64 // in the unit that the topic judges in
	edit  bool
	file  string
}

// Names of the shipped schemes.
func Names() []string {
	list, _ := shipped.ReadDir("schemes")
	var out []string
	for _, f := range list {
		if n := strings.TrimSuffix(f.Name(), ".yaml"); n != "floor" {
			out = append(out, n)
		}
	}
	sort.Strings(out)
	return out
}

// Shipped returns the bytes of a shipped scheme, for export.
func Shipped(name string) ([]byte, error) {
	for _, n := range Names() {
		if n == name {
			return shipped.ReadFile("schemes/" + name + ".yaml")
		}
	}
	return nil, &strict.Problems{List: []strict.Problem{{File: name, Line: 1, Column: 1, Text: fmt.Sprintf("no scheme is called %q", name), Hint: "shipped schemes: " + strings.Join(Names(), ", ")}}}
}

// Load reads a scheme and its overlays. The error is a *[strict.Problems] that lists
// everything wrong.
func Load(o Options) (*Set, error) {
	if o.Scheme == "" {
		o.Scheme = Default
	}
	data, err := Shipped(o.Scheme)
	if err != nil {
		return nil, err
	}
	r := newReader()
	f, ok := r.file1("limits/schemes/"+o.Scheme+".yaml", data)
	if !ok {
		return nil, r.Err()
	}
	s := &Set{ref: procedure.Ref{Name: f.Name, Title: f.Title, Edition: f.Edition, Status: f.Status}}
	sum := sha256.New()
	sum.Write(data)
	s.rows = r.rows(f)
	flo, err := shipped.ReadFile("schemes/floor.yaml")
	if err != nil {
		return nil, err
	}
	ff, ok := r.file1("limits/schemes/floor.yaml", flo)
	if !ok {
		return nil, r.Err()
	}
	floor := r.rows(ff)
	sum.Write(flo)
	for _, ov := range o.Overlays {
		of, ok := r.file1(ov.Name, ov.Data)
		if !ok {
			continue
		}
		sum.Write(ov.Data)
		s.ref.Edited = true
		r.overlay(s, &floor, of)
	}
	s.ref.SHA256 = hex.EncodeToString(sum.Sum(nil))
	for _, x := range append(floor, s.rows...) {
		if x.y.Topic == "tier" {
			s.floor = append(s.floor, x.tier())
		}
	}
	r.twice(append(append([]row{}, s.rows...), floor...))
	r.whole(s, f, "limits/schemes/"+o.Scheme+".yaml")
	if err := r.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

// Check lists every problem of a file, in the order of its lines.
func Check(name string, data []byte) []strict.Problem {
	r := newReader()
	f, ok := r.file1(name, data)
	if !ok {
		return r.sorted()
	}
	if f.Kind == "overlay" {
		if _, err := Load(Options{Scheme: f.Scheme, Overlays: []Source{{name, data}}}); err != nil {
			if p, ok := err.(*strict.Problems); ok {
				r.List = p.List
			}
		}
		return r.sorted()
	}
	s := &Set{rows: r.rows(f)}
	r.twice(s.rows)
	r.whole(s, f, name)
	return r.sorted()
}

func (r *reader) sorted() []strict.Problem {
	sort.SliceStable(r.List, func(i, j int) bool { return r.List[i].Line < r.List[j].Line })
	return r.List
}

// file1 reads one file of format 1.
func (r *reader) file1(name string, data []byte) (*fileYAML, bool) {
	r.File = name
	before := len(r.List)
	n := r.Document(data)
	if n == nil {
		return nil, false
	}
	var f fileYAML
	r.Decode(n, &f)
	if len(r.List) > before {
		return nil, false
	}
	switch {
	case f.Kind != "scheme" && f.Kind != "overlay" && f.Kind != "floor":
		r.At(n, "kind: scheme or kind: overlay", "kind %q is not known", f.Kind)
	case f.Format != formatVersion:
		r.At(n, "this program reads format 1; a newer table needs a newer program", "format %d is not known", f.Format)
	case f.Kind == "overlay" && strings.TrimSpace(f.Reason) == "":
		r.At(n, `add "reason: why this program changes the table"`, "an overlay needs a reason")
	case f.Kind == "overlay" && f.Scheme == "":
		r.At(n, "add scheme: and one of "+strings.Join(Names(), ", "), "an overlay names the scheme it changes")
	case f.Kind != "overlay" && (f.Name == "" || f.Title == "" || f.Edition == "" || f.Status == ""):
		r.At(n, "add name, title, edition and status", "a scheme needs name, title, edition and status")
	}
	return &f, len(r.List) == before
}

// rows checks each row of a file by itself.
func (r *reader) rows(f *fileYAML) []row {
	out := make([]row, 0, len(f.Rows))
	seen := map[string]int{}
	for i := range f.Rows {
		y := f.Rows[i]
		if y.ID == "" {
			r.At(y.Node, "give each row an id of its own", "a row without id")
			continue
		}
		if line, dup := seen[y.ID]; dup {
			r.At(y.Node, "keep one of them", "row %q stands already in line %d", y.ID, line)
			continue
		}
		seen[y.ID] = y.Node.Line
		if x, ok := r.row(y); ok {
			x.file, x.edit = r.File, f.Kind == "overlay"
			out = append(out, x)
		}
	}
	return out
}

// overlay replaces rows by id, whole.
func (r *reader) overlay(s *Set, floor *[]row, f *fileYAML) {
	if f.Scheme != s.ref.Name {
		r.At(f.Node, "walk with --scheme "+f.Scheme, "the overlay is for scheme %q, not %q", f.Scheme, s.ref.Name)
		return
	}
	for _, x := range r.rows(f) {
		lists := []*[]row{&s.rows, floor}
		found := false
		for _, list := range lists {
			for i, old := range *list {
				if old.y.ID != x.y.ID {
					continue
				}
				found = true
				if x.y.Topic != old.y.Topic {
					r.At(x.y.Node, "keep the topic of the row it replaces", "row %q is about %s, the row it replaces about %s", x.y.ID, x.y.Topic, old.y.Topic)
					continue
				}
				if old.y.Life && looser(old, x) && !r.accepted(s, f, x, "is part of the life-safety floor and this is looser, or not plainly stricter") {
					continue
				}
				x.y.Life = old.y.Life
				(*list)[i] = x
			}
		}
		if found {
			continue
		}
		// A row of the program's own. One that is chosen by how closely it
		// fits can take the place of a stricter one.
		switch x.y.Topic {
		case "matrix", "tier", "requirement": // these only add
		default:
			if !r.accepted(s, f, x, "is new and could take the place of a stricter row") {
				continue
			}
		}
		s.rows = append(s.rows, x)
	}
}

// accepted reports whether the overlay takes the risk of a row on itself, and
// notes it for page 1.
func (r *reader) accepted(s *Set, f *fileYAML, x row, what string) bool {
	if strings.TrimSpace(f.AcceptRisk) == "" {
		r.At(x.y.Node, `add "accept_risk: why" to the overlay; page 1 of every report prints it`, "row %q %s", x.y.ID, what)
		return false
	}
	s.risks = append(s.risks, procedure.AcceptedRisk{Row: x.y.ID, Reason: f.AcceptRisk})
	return true
}

// looser reports whether b protects less than a.
func looser(a, b row) bool {
	rank := map[string]int{"": 0, "proceed": 0, "refer": 1, "incomplete": 2, "hold": 3, "leave": 4}
	act := map[string]int{"": 0, "source": 1, "hold": 2, "leave": 3, "out": 4}
	switch a.y.Topic {
	case "tier":
		return b.value > a.value || act[b.y.Act] < act[a.y.Act] || b.value == a.value && b.y.Above != nil && *b.y.Above && (a.y.Above == nil || !*a.y.Above) || b.y.Hazard != a.y.Hazard
	case "matrix":
		up := a.y.UpTo == nil && b.y.UpTo != nil || a.y.UpTo != nil && b.y.UpTo != nil && *b.y.UpTo < *a.y.UpTo
		return rank[b.y.Decision] < rank[a.y.Decision] || status(b.y.Status) < status(a.y.Status) || up || *b.y.Over > *a.y.Over || b.y.Spillage != a.y.Spillage || b.y.Draft != a.y.Draft
	case "action":
		return rank[b.y.Decision] < rank[a.y.Decision] || status(b.y.Status) < status(a.y.Status) || b.y.Code != a.y.Code
	case "depressurization":
		return b.value < a.value || !reflect.DeepEqual(who(a.y.Applies), who(b.y.Applies))
	case "spillage", "co":
		return b.value > a.value || !reflect.DeepEqual(who(a.y.Applies), who(b.y.Applies))
	}
	return !reflect.DeepEqual(a.y.Line, b.y.Line) || !reflect.DeepEqual(a.y.List, b.y.List) || a.y.Text != b.y.Text || a.value != b.value // a parameter or a line: any change counts
}

func status(s string) int {
	for i, x := range statuses {
		if string(x) == s {
			return i
		}
	}
	return -1
}

var statuses = []procedure.Status{procedure.StatusNone, procedure.MayRun, procedure.MayRunNoFans, procedure.OffUntilServiced, procedure.FuelOff}

// Ref of the set.
func (s *Set) Ref() procedure.Ref { return s.ref }

func (x row) base() procedure.Row {
	b := procedure.Row{ID: x.y.ID, Source: x.src, Evidence: procedure.Evidence(x.y.Evidence), Note: x.y.Note, Edited: x.edit, Life: x.y.Life}
	if x.y.Checked != nil {
		b.Checked = &procedure.Checked{By: x.y.Checked.By, Date: x.y.Checked.Date, Edition: x.y.Checked.Edition}
	}
	return b
}

func (x row) limit(sense procedure.Sense, unit string) procedure.Limit {
	return procedure.Limit{Row: x.base(), Applies: who(x.y.Applies), Bound: procedure.Bound{Value: x.value, Sense: sense}, Unit: unit, Basis: x.y.Basis}
}

func (x row) tier() procedure.Tier {
	return procedure.Tier{Row: x.y.ID, Code: procedure.HazardCode(x.y.Hazard), From: x.value, Above: x.y.Above != nil && *x.y.Above, Unit: x.y.Unit, Act: procedure.Act(x.y.Act), Source: x.src.String(), Evidence: procedure.Evidence(x.y.Evidence)}
}

func tri(b *bool) procedure.Tri {
	switch {
	case b == nil:
		return procedure.Unknown
	case *b:
		return procedure.Yes
	}
	return procedure.No
}

func to[T ~string](in []string) []T {
	var out []T
	for _, x := range in {
		out = append(out, T(x))
	}
	return out
}

func who(w *whoYAML) procedure.Selector {
	if w == nil {
		return procedure.Selector{}
	}
	return procedure.Selector{Kinds: to[procedure.ApplianceKind](w.Kinds), Fuels: to[procedure.Fuel](w.Fuels), Vents: to[procedure.VentType](w.Vents),
		Common: tri(w.Common), Partner: to[procedure.ApplianceKind](w.Partner), FanPartner: tri(w.FanPartner), Damper: tri(w.Damper),
		Orphaned: tri(w.Orphaned), Outside: tri(w.Outside), HighStatic: tri(w.HighStatic), TopInducer: tri(w.TopInducer), Cold: tri(w.Cold)}
}

// param returns a parameter row by id.
func (s *Set) param(id string) (row, bool) {
	for _, x := range s.rows {
		if x.y.Topic == "parameter" && x.y.ID == id {
			return x, true
		}
	}
	return row{}, false
}

func (s *Set) num(id string) float64 {
	x, _ := s.param(id)
	return x.value
}

func (s *Set) text(id string) string {
	x, _ := s.param(id)
	return x.y.Text
}

func (s *Set) list(id string) []string {
	x, _ := s.param(id)
	return x.y.List
}

// Plan of a phase, as the first event of a record carries it.
func (s *Set) Plan(phase procedure.Phase) procedure.Plan {
	r := s.Rules()
	p := procedure.Plan{
		Scheme: s.ref,
		Baseline: procedure.BaselinePlan{MinSamples: int(s.num("baseline-min-samples")), MinAveraging: s.num("baseline-min-averaging"), MaxSpread: s.num("baseline-max-spread"),
			MaxWind: s.num("wind-ceiling"), Closing: s.text("baseline-closing") == "yes", MaxDrift: s.num("baseline-max-drift"), Net: s.text("baseline-net")},
		Doors: s.text("doors"), DryerFirst: s.text("dryer-first") == "yes",
		AirHandler: procedure.AirPlan{When: s.text("air-handler"), RecheckDoors: s.text("air-handler-recheck") == "yes"},
		CAZDoor:    s.text("caz-door"),
		Spillage: procedure.SpillagePlan{ColdAfter: s.num("spillage-cold-after"), Between: s.num("spillage-between"), Together: s.text("spillage-together") == "yes",
			Warm: strictest(r.Spillage, procedure.No), Cold: strictest(r.Spillage, procedure.Yes)},
		Draft:    procedure.DraftPlan{Vents: r.Draft.Vents, Line: r.Draft.Line},
		CO:       procedure.COPlan{AfterMin: s.num("co-after"), Basis: s.text("co-basis"), Kinds: to[procedure.ApplianceKind](s.list("co-kinds")), Diluted: s.num("co-diluted-o2")},
		Natural:  s.list("natural-triggers"),
		Pressure: r.Pressure, Interrupts: s.floor, Constants: r.Uncertainty,
	}
	if x, ok := s.param("fireplace-flow"); ok {
		p.Fireplace = &procedure.FlowPlan{CFM: x.value}
	}
	order := s.list("stages")
	if phase == procedure.Daily {
		order = s.list("stages-daily")
	}
	for _, id := range order {
		st := procedure.Stage{ID: procedure.StageID(id), Repeat: "home"}
		switch st.ID {
		case procedure.StageArrive, procedure.StageList, procedure.StageLook, procedure.StagePrepare, procedure.StagePutBack, procedure.StageDecide:
		default:
			st.Repeat = "zone"
		}
		p.Stages = append(p.Stages, st)
	}
	return p
}

// strictest time limit for a vent cold or warm at light-off.
func strictest(rows []procedure.Limit, cold procedure.Tri) float64 {
	return procedure.Match(rows, spilling(cold)).Limit.Bound.Value
}

// spilling is any appliance: with kind, vent and fuel not known, the strictest
// of all rows is taken.
func spilling(cold procedure.Tri) procedure.Traits { return procedure.Traits{Cold: cold} }

// Rules that the judge is given.
func (s *Set) Rules() procedure.Rules {
	r := procedure.Rules{Scheme: s.ref, Floor: s.floor, AcceptedRisks: s.risks}
	for _, x := range s.rows {
		switch x.y.Topic {
		case "depressurization":
			r.PressureSet = true
			r.Pressure = append(r.Pressure, x.limit(procedure.AtLeast, "Pa"))
		case "draft-line":
			r.Draft = procedure.DraftRule{Row: x.base(), Set: true, Vents: to[procedure.VentType](x.y.List)}
			for _, p := range x.y.Line {
				r.Draft.Line = append(r.Draft.Line, procedure.DraftPoint{TempF: *p.TempF, Pa: *p.Pa})
			}
		case "spillage":
			r.Spillage = append(r.Spillage, x.limit(procedure.AtMost, "s"))
		case "co":
			r.CO = append(r.CO, x.limit(procedure.AtMost, "ppm"))
		case "matrix":
			m := procedure.MatrixRow{Row: x.base(), UpTo: x.y.UpTo, Spillage: procedure.Outcome(x.y.Spillage), Draft: procedure.Outcome(x.y.Draft), Decision: procedure.Decision(x.y.Decision), Status: procedure.Status(x.y.Status), Action: x.y.Action, Over: *x.y.Over}
			r.Matrix = append(r.Matrix, m)
		case "action":
			r.Actions = append(r.Actions, procedure.ActionRow{Row: x.base(), Code: x.y.Code, Decision: procedure.Decision(x.y.Decision), Status: procedure.Status(x.y.Status), Action: x.y.Action})
		}
	}
	r.COAsked, r.COBasis, r.DilutedO2 = to[procedure.ApplianceKind](s.list("co-kinds")), s.text("co-basis"), s.num("co-diluted-o2")
	if x, ok := s.param("fireplace-flow"); ok {
		// So that the judge knows of it when the walk followed another scheme.
		r.Actions = append(r.Actions, procedure.ActionRow{Row: x.base(), Code: "fireplace-stand-in", Decision: procedure.Incomplete, Action: "set-again"})
	}
	r.Uncertainty = procedure.Uncertainties{AccuracyPa: s.num("gauge-accuracy"), AccuracyPct: s.num("gauge-accuracy-percent"), DefaultS: s.num("gauge-scatter"),
		Resolution: s.num("gauge-resolution"), MinPairs: int(s.num("pairs-minimum")), Coverage: s.num("coverage")}
	if x, ok := s.param("coverage"); ok {
		r.UncertaintyID = x.base()
	}
	return r
}

// RowInfo is a row as it is shown.
type RowInfo struct {
	ID       string   `json:"id"`
	Topic    string   `json:"topic"`
	Applies  string   `json:"applies"`
	Value    *float64 `json:"value"`
	Unit     string   `json:"unit"`
	Means    string   `json:"means"`
	Source   string   `json:"source"`
	Evidence string   `json:"evidence"`
	Checked  string   `json:"checked"`
	Edited   bool     `json:"edited"`
	Life     bool     `json:"life"`
	Note     string   `json:"note"`
}

// Rows as they are shown, in file order.
func (s *Set) Rows() []RowInfo {
	out := make([]RowInfo, 0, len(s.rows))
	for _, x := range s.rows {
		i := RowInfo{ID: x.y.ID, Topic: x.y.Topic, Unit: x.y.Unit, Source: x.src.String(), Evidence: x.y.Evidence, Edited: x.edit, Life: x.y.Life, Note: x.y.Note, Applies: describe(x.y.Applies)}
		if x.y.Value != nil {
			v := *x.y.Value
			i.Value = &v
		}
		var means []string
		if x.y.Over != nil {
			m := "CO over " + reading.Format(*x.y.Over, -1)
			if x.y.UpTo != nil {
				m += " up to " + reading.Format(*x.y.UpTo, -1)
			}
			means = append(means, m+" ppm, spillage "+x.y.Spillage+", draft "+x.y.Draft)
		}
		for _, p := range x.y.Line {
			means = append(means, fmt.Sprintf("%s F: %s Pa", reading.Format(*p.TempF, -1), reading.Format(*p.Pa, -1)))
		}
		for _, t := range append(append([]string{}, x.y.List...), x.y.Text, x.y.Code, x.y.Hazard, x.y.Act, x.y.Decision, x.y.Status) {
			if t != "" {
				means = append(means, t)
			}
		}
		i.Means = strings.Join(means, ", ")
		if x.y.Checked != nil {
			i.Checked = x.y.Checked.By + ", " + x.y.Checked.Date + ", " + x.y.Checked.Edition
		}
		out = append(out, i)
	}
	return out
}

func describe(w *whoYAML) string {
	if w == nil {
		return "any"
	}
	var p []string
	add := func(name string, l []string) {
		if len(l) > 0 {
			p = append(p, name+" "+strings.Join(l, "/"))
		}
	}
	add("kind", w.Kinds)
	add("fuel", w.Fuels)
	add("vent", w.Vents)
	add("with", w.Partner)
	for _, t := range []struct {
		name string
		b    *bool
	}{{"common vent", w.Common}, {"fan-assisted on the vent", w.FanPartner}, {"vent damper", w.Damper}, {"orphaned", w.Orphaned}, {"outside chimney", w.Outside}, {"high-static burner", w.HighStatic}, {"inducer at the top", w.TopInducer}, {"cold vent", w.Cold}} {
		if t.b != nil {
			if *t.b {
				p = append(p, t.name)
			} else {
				p = append(p, "no "+t.name)
			}
		}
	}
	return strings.Join(p, ", ")
}
