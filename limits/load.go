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
	"regexp"
	"sort"
	"strings"
	"sync"

	"gopkg.in/yaml.v3"

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
	low   []row // of the life-safety floor
	open  []noFigure
	risks []procedure.AcceptedRisk
	floor []procedure.Tier
}

// MaxFile is the largest table that is read, in bytes: over 20,000 rows.
const MaxFile = 8 << 20

// reader of tables.
type reader struct{ strict.Reader }

func newReader() *reader {
	return &reader{strict.Reader{What: "table", Begin: `begin with "kind: scheme" or "kind: overlay"`, Max: MaxFile}}
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
	return nil, &strict.Problems{List: []strict.Problem{{Text: fmt.Sprintf("no scheme is called %q", name), Hint: "shipped schemes: " + strings.Join(Names(), ", ")}}}
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
	return load("limits/schemes/"+o.Scheme+".yaml", data, o.Overlays)
}

// Read reads a file of either kind: a scheme by itself, or an overlay on the
// shipped scheme that it names.
func Read(src Source) (*Set, error) {
	r := newReader()
	f, ok := r.file1(src.Name, src.Data)
	if !ok {
		return nil, r.Err()
	}
	if f.Kind == "overlay" {
		return Load(Options{Scheme: f.Scheme, Overlays: []Source{src}})
	}
	return load(src.Name, src.Data, nil)
}

// SchemeOf an overlay, "" for a scheme, without reading its rows any further
// than that they are YAML of this format.
func SchemeOf(src Source) (string, error) {
	r := newReader()
	f, ok := r.file1(src.Name, src.Data)
	if !ok {
		return "", r.Err()
	}
	return f.Scheme, nil
}

func load(name string, data []byte, overlays []Source) (*Set, error) {
	r := newReader()
	f, ok := r.file1(name, data)
	if !ok {
		return nil, r.Err()
	}
	s := &Set{ref: procedure.Ref{Name: f.Name, Title: f.Title, Edition: f.Edition, Status: f.Status}, open: f.NoFigure}
	sum := sha256.New()
	sum.Write(data)
	s.rows = r.rows(f)
	const floorName = "limits/schemes/floor.yaml"
	flo, err := shipped.ReadFile("schemes/floor.yaml")
	if err != nil {
		return nil, err
	}
	ff, ok := r.file1(floorName, flo)
	if !ok {
		return nil, r.Err()
	}
	s.low = r.rows(ff)
	sum.Write(flo)
	file, at := name, f.Node
	places := s.places()
	for _, ov := range overlays {
		of, ok := r.file1(ov.Name, ov.Data)
		if !ok {
			continue
		}
		file, at = ov.Name, of.Node
		if r.overlay(s, places, of); len(of.Rows)+len(of.Checked) > 0 {
			sum.Write(ov.Data)
			s.ref.Edited = true
		}
	}
	s.ref.SHA256 = hex.EncodeToString(sum.Sum(nil))
	for _, x := range append(append([]row{}, s.low...), s.rows...) {
		if x.y.Topic == "tier" {
			s.floor = append(s.floor, x.tier())
		}
	}
	r.twice(append(append([]row{}, s.rows...), s.low...))
	r.whole(s, f, file, at)
	if r.Err() != nil {
		return nil, &strict.Problems{List: r.sorted()}
	}
	return s, nil
}

// Check lists every problem of a file, in the order of its lines.
func Check(name string, data []byte) []strict.Problem {
	_, err := Read(Source{name, data})
	if p, ok := err.(*strict.Problems); ok {
		return p.List
	}
	return nil
}

// sorted problems: file by file as they were read, by line in each.
func (r *reader) sorted() []strict.Problem {
	at := map[string]int{}
	for _, p := range r.List {
		if _, seen := at[p.File]; !seen {
			at[p.File] = len(at)
		}
	}
	sort.SliceStable(r.List, func(i, j int) bool {
		if a, b := at[r.List[i].File], at[r.List[j].File]; a != b {
			return a < b
		}
		return r.List[i].Line < r.List[j].Line
	})
	return r.List
}

var plainID = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,63}$`) })

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
	known, ok := heads[f.Kind]
	switch {
	case !ok || f.Kind == "floor" && !strings.HasPrefix(name, "limits/schemes/"):
		r.At(n, "kind: scheme or kind: overlay", "kind %q is not known", f.Kind)
		return nil, false
	case f.Format == 0 && keyOf(n, "format") == n:
		r.At(n, "add format: 1", "format missing")
		return nil, false
	case f.Format != formatVersion:
		r.At(n, "this program reads format 1; a newer table needs a newer program", "format %d is not known", f.Format)
		return nil, false
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		if k := n.Content[i]; !in(known, k.Value) {
			r.At(k, "delete it; a file of kind "+f.Kind+" has "+strings.Join(known, ", "), "key %q does not belong to a file of kind %s", k.Value, f.Kind)
		}
	}
	switch {
	case f.Kind == "overlay" && strings.TrimSpace(f.Reason) == "":
		r.At(n, `add "reason: why this program changes the table"`, "an overlay needs a reason")
	case f.Kind == "overlay" && f.Reason == exportReason && len(f.Rows)+len(f.Checked) > 0:
		r.At(n, "say after reason: why your program changes the table", "the reason is still the one that export wrote")
	case f.Kind == "overlay" && f.Scheme == "":
		r.At(n, "add scheme: and one of "+strings.Join(Names(), ", "), "an overlay names the scheme it changes")
	case f.Kind == "overlay" && !in(Names(), f.Scheme):
		r.At(keyOf(n, "scheme"), "shipped schemes: "+strings.Join(Names(), ", "), "no scheme is called %q", f.Scheme)
	case f.Kind != "overlay" && (f.Name == "" || f.Title == "" || f.Edition == "" || f.Status == ""):
		r.At(n, "add name, title, edition and status", "a scheme needs name, title, edition and status")
	}
	for _, o := range f.NoFigure {
		if !in(subjectNames(), o.Topic) {
			r.At(o.Node, "one of "+strings.Join(subjectNames(), ", "), "no_figure: topic %q is not known", o.Topic)
		}
		if strings.TrimSpace(o.Note) == "" {
			r.At(o.Node, "add note: with what was looked for, or why there is none", "no_figure: %s without a note", o.Topic)
		}
		r.kinds(o.Node, "no_figure", "kinds", o.Kinds, kinds())
		r.kinds(o.Node, "no_figure", "fuels", o.Fuels, fuels)
	}
	return &f, len(r.List) == before
}

// keyOf is the key in a mapping, or the mapping itself where it has none.
func keyOf(n *yaml.Node, key string) *yaml.Node {
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i]
		}
	}
	return n
}

// rows checks each row of a file by itself.
func (r *reader) rows(f *fileYAML) []row {
	out := make([]row, 0, len(f.Rows))
	seen := map[string]int{}
	for i := range f.Rows {
		y := f.Rows[i]
		if y.Node == nil { // it could not be read, and has its problem already
			continue
		}
		if y.ID == "" {
			r.At(y.Node, "give each row an id of its own", "a row without id")
			continue
		}
		if !plainID().MatchString(y.ID) {
			r.At(y.Node, "small letters, digits and hyphens", "row id %q is not a plain word", y.ID)
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

// places of rows by id, of the scheme and of the floor.
func (s *Set) places() map[string]place {
	out := make(map[string]place, len(s.rows)+len(s.low))
	for _, list := range []*[]row{&s.rows, &s.low} {
		for i, x := range *list {
			out[x.y.ID] = place{list, i}
		}
	}
	return out
}

type place struct {
	list *[]row
	i    int
}

func (p place) row() *row { return &(*p.list)[p.i] }

// overlay replaces rows by id, whole, and marks rows as checked.
func (r *reader) overlay(s *Set, places map[string]place, f *fileYAML) {
	if f.Kind != "overlay" {
		r.At(f.Node, "give an overlay here: kind: overlay", "a file of kind %s is no overlay", f.Kind)
		return
	}
	if f.Scheme != s.ref.Name {
		r.At(f.Node, "walk with --scheme "+f.Scheme, "the overlay is for scheme %q, not %q", f.Scheme, s.ref.Name)
		return
	}
	for _, x := range r.rows(f) {
		if p, found := places[x.y.ID]; found {
			old := p.row()
			if x.y.Topic != old.y.Topic {
				r.At(x.y.Node, "keep the topic of the row it replaces", "row %q is about %s, the row it replaces about %s", x.y.ID, x.y.Topic, old.y.Topic)
				continue
			}
			if old.y.Life && looser(*old, x) && !r.accepted(s, f, x, "is part of the life-safety floor and this is looser, or not plainly stricter") {
				continue
			}
			if d := differences(*old, x); len(d) > 0 && !old.edit && x.y.Checked == nil && x.src == old.src && x.y.Evidence == old.y.Evidence {
				r.At(x.y.Node, "say in source: and evidence: where the new one is from, or mark the row as checked", "row %q has another %s, and still names the source of the shipped row", x.y.ID, strings.Join(d, ", "))
				continue
			}
			x.y.Life = old.y.Life
			*old = x
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
		places[x.y.ID] = place{&s.rows, len(s.rows)}
		s.rows = append(s.rows, x)
	}
	marked := map[string]bool{}
	for _, m := range f.Checked {
		p, found := places[m.ID]
		switch {
		case !found:
			r.At(m.Node, "see the ids with: cazward limits show "+f.Scheme, "checked: no row has the id %q", m.ID)
		case marked[m.ID]:
			r.At(m.Node, "keep one of them", "checked: row %q is marked twice", m.ID)
		default:
			marked[m.ID] = true
			r.mark(m.Node, m.ID, m.By, m.Date, m.Edition)
			p.row().y.Checked = &chkYAML{By: m.By, Date: m.Date, Edition: m.Edition}
		}
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
		return b.y.Basis != a.y.Basis || b.value > a.value || !reflect.DeepEqual(who(a.y.Applies), who(b.y.Applies))
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
	return procedure.Tier{Row: x.y.ID, Code: procedure.HazardCode(x.y.Hazard), From: x.value, Above: x.y.Above != nil && *x.y.Above, Unit: x.y.Unit, Act: procedure.Act(x.y.Act), Source: x.src.String(), Evidence: procedure.Evidence(x.y.Evidence), Checked: x.base().Checked}
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
		AirHandler: procedure.AirPlan{When: s.text("air-handler"), RecheckDoors: s.text("air-handler-recheck") == "yes", WithCAZDoor: s.text("air-handler-caz-door") == "yes"},
		CAZDoor:    s.text("caz-door"), More: int(s.num("more-readings")),
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
	r.Doors = s.text("doors")
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
	Floor    bool     `json:"floor"` // of the life-safety floor of all schemes
}

// State says how sure the figure is: "from memory" and the like, until a
// person has checked the row.
func (i RowInfo) State() string {
	if i.Checked != "" {
		return "checked by " + i.Checked
	}
	return evidenceWords(procedure.Evidence(i.Evidence))
}

func evidenceWords(e procedure.Evidence) string {
	switch e {
	case procedure.EvidenceSeen:
		return "document read"
	case procedure.EvidenceSecondary:
		return "read in a text that restates it"
	case procedure.EvidenceMemory:
		return "from memory"
	case procedure.EvidencePractice:
		return "common practice"
	case procedure.EvidenceOwnRule:
		return "own rule"
	}
	return "source not known"
}

// Open is something that the scheme has no figure for.
type Open struct {
	Topic string   `json:"topic"`
	Kinds []string `json:"kinds"`
	Fuels []string `json:"fuels"`
	Note  string   `json:"note"`
}

// Open lists what the scheme leaves open, in the order of its file.
func (s *Set) Open() []Open {
	out := []Open{}
	for _, n := range s.open {
		out = append(out, Open{n.Topic, append([]string{}, n.Kinds...), append([]string{}, n.Fuels...), n.Note})
	}
	return out
}

// Rows as they are shown, in file order, those of the floor last.
func (s *Set) Rows() []RowInfo {
	out := make([]RowInfo, 0, len(s.rows)+len(s.low))
	for _, x := range s.rows {
		out = append(out, x.info())
	}
	for _, x := range s.low {
		i := x.info()
		i.Floor = true
		out = append(out, i)
	}
	return out
}

func (x row) info() RowInfo {
	i := RowInfo{ID: x.y.ID, Topic: x.y.Topic, Unit: x.y.Unit, Source: x.src.String(), Evidence: x.y.Evidence, Edited: x.edit, Life: x.y.Life, Note: x.y.Note, Applies: describe(x.y.Applies), Means: x.means()}
	if x.y.Value != nil {
		v := *x.y.Value
		i.Value = &v
	}
	if c := x.y.Checked; c != nil {
		i.Checked = c.By + ", " + c.Date + ", " + c.Edition
	}
	return i
}

// means is what a row says beside its value, in one line.
func (x row) means() string {
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
	if x.y.Above != nil && *x.y.Above {
		means = append(means, "above")
	}
	for _, t := range append(append([]string{}, x.y.List...), x.y.Basis, x.y.Text, x.y.Code, x.y.Hazard, x.y.Act, x.y.Decision, x.y.Status, x.y.Action) {
		if t != "" {
			means = append(means, t)
		}
	}
	return strings.Join(means, ", ")
}

func describe(w *whoYAML) string {
	if w == nil {
		return "any"
	}
	return describeSelector(who(w))
}

// describeSelector says which appliances a selector is about.
func describeSelector(s procedure.Selector) string {
	var p []string
	for _, n := range factNames {
		want, _ := fact(n, s, procedure.Traits{})
		switch {
		case listed[n] != "" && want != "":
			p = append(p, listed[n]+" "+want)
		case listed[n] == "" && !strings.HasSuffix(want, ": not known"):
			p = append(p, want)
		}
	}
	if len(p) == 0 {
		return "any"
	}
	return strings.Join(p, ", ")
}
