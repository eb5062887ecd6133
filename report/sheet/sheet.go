// Package sheet is the blank field sheet of a limit scheme: the whole test on
// paper, in the order in which the tester stands before each thing, with the
// field names of the sheet that transcribe reads. [Build] makes it from a
// plan, [WriteYAML] writes it as an empty file to fill, and the pdf package
// beside it draws it.
package sheet

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// Input is what a sheet is made from: the plan and the rules of one scheme.
type Input struct {
	Plan           procedure.Plan
	Rules          procedure.Rules
	Phase          procedure.Phase
	Lang           wording.Lang
	Units          string    // "us" (also ""): mph and F; "si": km/h and C
	Day            time.Time // for the YAML, which needs a date; the paper has a blank
	ProgramVersion string
}

// Sheet is the whole paper, in words.
type Sheet struct {
	Lang    wording.Lang
	Title   string
	Scheme  string // name as people know it
	ID      string // of the scheme, for the file
	Sub     string // scheme, status and phase in one line
	Phase   procedure.Phase
	Blanks  []string // head of page 1
	How     []string // how the sheet is filled
	Parts   []Part
	Foot    string
	PageOf  string // "page {n} of {of}"
	Day     time.Time
	Program string
}

// Part is what is done in one place.
type Part struct {
	Title    string
	Copy     string // what the copy is for, with its blank; "" where one is enough
	Cautions []wording.Caution
	Rows     []Row
}

// Row is one field, or a heading, a limit or a sum without one.
type Row struct {
	Field   string
	Ask     string
	How     []string // how it is written
	Columns []string // which numbers apply to what; empty: one column
	Items   []Item   // lines to tick
	Choices []string // numbered from 1
	Blanks  []string // labels of the spaces to write into
	Lines   []string // text to read
	List    []string // short texts to look something up in
	Wanted  bool     // may be left out
}

// Item is a line to tick. Nums are its numbers in the columns, 0 where it is
// not asked; When says that it is asked only sometimes.
type Item struct {
	Text string
	When string
	Nums []int
}

type builder struct {
	in Input
	l  wording.Lang
	p  procedure.Plan
}

// Build makes the sheet. It never fails.
func Build(in Input) Sheet {
	b := &builder{in: in, l: wording.OnPaper(in.Lang), p: in.Plan}
	if b.l == "" {
		b.l = wording.English
	}
	s := Sheet{Lang: b.l, Title: b.w("title"), Scheme: wording.SchemeLong(b.p.Scheme), ID: b.p.Scheme.Name, Phase: in.Phase, Foot: b.w("foot"), PageOf: b.w("page", "n", "{n}", "of", "{of}"),
		Blanks: []string{b.w("home"), b.w("tester"), b.w("date")}, How: b.lines("how"), Day: in.Day, Program: in.ProgramVersion}
	s.Sub = b.w("sub", "scheme", s.Scheme, "status", b.p.Scheme.Status, "phase", wording.PhaseName(b.l, in.Phase))
	has := func(id procedure.StageID) bool {
		return slices.ContainsFunc(b.p.Stages, func(st procedure.Stage) bool { return st.ID == id })
	}
	for i, st := range b.p.Stages {
		switch st.ID {
		case procedure.StageArrive:
			s.Parts = append(s.Parts, b.arrive())
		case procedure.StageList:
			s.Parts = append(s.Parts, b.list(), b.each(has(procedure.StageLook)))
		case procedure.StagePrepare:
			s.Parts = append(s.Parts, b.prepare(has(procedure.StageLook)))
		case procedure.StageBaseline:
			s.Parts = append(s.Parts, b.baseline())
		case procedure.StageFans, procedure.StageDoors, procedure.StageAirHandler, procedure.StageCAZDoor:
			if !searching(b.p.Stages[i-1].ID) {
				s.Parts = append(s.Parts, b.search())
			}
		case procedure.StageWorst:
			s.Parts = append(s.Parts, b.worst())
		case procedure.StageAppliances:
			s.Parts = append(s.Parts, b.burners())
		case procedure.StageClosing:
			if b.p.Baseline.Closing {
				s.Parts = append(s.Parts, b.closing())
			}
		case procedure.StageNatural:
			s.Parts = append(s.Parts, b.natural())
		case procedure.StagePutBack:
			s.Parts = append(s.Parts, b.putBack())
		case procedure.StageDecide:
			s.Parts = append(s.Parts, b.decide())
		}
	}
	s.Parts = append(s.Parts, b.trouble(), b.sums(), b.limits())
	return s
}

// searching reports whether a stage is part of the search for the worst case.
func searching(id procedure.StageID) bool {
	switch id {
	case procedure.StageFans, procedure.StageDoors, procedure.StageAirHandler, procedure.StageCAZDoor:
		return true
	}
	return false
}

// w is a text of the sheet. Three spaces in it set things apart, which on
// paper takes a sign.
func (b *builder) w(key string, pairs ...string) string {
	return strings.ReplaceAll(strings.ReplaceAll(wording.Field(b.l, key, pairs...), "  +  ", " + "), "   ", "  \u00b7  ")
}

func (b *builder) lines(key string, pairs ...string) []string {
	return strings.Split(b.w(key, pairs...), "\n")
}

// step is a row for a field that the walk asks, in the walk's own words.
func (b *builder) step(field string, st procedure.Step) Row {
	st.ID = field
	if st.Args == nil {
		st.Args = map[string]string{}
	}
	if st.Name == "" {
		st.Name = b.w("this-appliance")
		switch strings.SplitN(field, "/", 2)[0] {
		case "zone", "hose", "setup", "baseline", "reading", "doors", "redoors", "cazdoors", "firedoors", "settle", "pairs":
			st.Name = b.w("this-zone")
		}
	}
	asked := st
	if st.Form == procedure.FormClock { // whether the vent is cold is written down, not known yet
		asked.Form = procedure.FormText
	}
	sc := wording.For(b.l, asked, b.p)
	r := Row{Field: field, Ask: sc.Question, Choices: sc.Choices, Wanted: st.Wanted}
	form := string(st.Form)
	if st.Form == procedure.FormWeather && b.in.Units == "si" {
		form += "-si"
	}
	how := b.w("form."+form, "min", strconv.Itoa(max(2, b.p.Baseline.MinSamples)), "pairs", strconv.Itoa(max(3, b.p.Constants.MinPairs)), "limit", st.Args["limit"])
	if how != "" {
		r.How = strings.Split(how, "\n")
	}
	if st.Wanted {
		r.How = append(r.How, b.w("wanted"))
	}
	for i, t := range sc.Items {
		r.Items = append(r.Items, Item{Text: t, Nums: []int{i + 1}})
	}
	blank := b.w("blank." + form)
	if strings.HasPrefix(st.Ask, "ambient") && st.Unit == "%" {
		blank = "% LEL"
	}
	if blank != "" {
		r.Blanks = strings.Split(blank, "|")
	}
	if st.Form == procedure.FormPressure || st.Form == procedure.FormPairs {
		n := max(5, b.p.Baseline.MinSamples)
		if st.Form == procedure.FormPairs {
			n = 2 * max(3, b.p.Constants.MinPairs)
		}
		var out []string
		for i := 1; i <= n; i++ {
			label := strconv.Itoa(i)
			if st.Form == procedure.FormPairs {
				label = b.w("off")
				if i%2 == 0 {
					label = b.w("on")
				}
			}
			out = append(out, label)
		}
		r.Blanks = append(out, r.Blanks...)
	}
	return r
}

func (b *builder) part(key string, cautions []string, rows ...Row) Part {
	p := Part{Title: b.w("at." + key), Copy: b.w("copy." + key)}
	st := procedure.Step{Ask: "note", Form: procedure.FormText}
	for _, c := range cautions {
		st.Cautions = []string{c}
		for _, x := range wording.For(b.l, st, b.p).Cautions {
			p.Cautions = append(p.Cautions, wording.Caution{Word: wording.SignalWord(b.l, x.Word), Text: x.Text})
		}
	}
	slices.SortStableFunc(p.Cautions, func(x, y wording.Caution) int { return b.severity(x.Word) - b.severity(y.Word) })
	for _, r := range rows {
		if r.Ask != "" || len(r.Lines) > 0 {
			p.Rows = append(p.Rows, r)
		}
	}
	return p
}

// severity orders signal words, most severe first.
func (b *builder) severity(word string) int {
	return slices.IndexFunc([]string{"DANGER", "WARNING", "CAUTION", "NOTICE"}, func(w string) bool { return wording.SignalWord(b.l, w) == word })
}

func items(codes []string, names ...string) []procedure.Item {
	var out []procedure.Item
	for i, c := range codes {
		it := procedure.Item{Key: c, Code: c}
		if i < len(names) {
			it.Name = names[i]
		}
		out = append(out, it)
	}
	return out
}

func kinds[T ~string](list []T) []string {
	var out []string
	for _, k := range list {
		out = append(out, string(k))
	}
	return out
}

const (
	checklist = procedure.FormChecklist
	choice    = procedure.FormChoice
	pressure  = procedure.FormPressure
	setup     = procedure.FormSetup
)

func (b *builder) arrive() Part {
	return b.part("door", []string{"danger-gate", "co-monitor", "fuel-smell", "ambient-tiers"},
		b.step("arrive/danger", procedure.Step{Ask: "arrive.danger", Form: procedure.FormGate, Items: items(procedure.DangerLines)}),
		b.step("arrive/ready", procedure.Step{Ask: "arrive.ready", Form: checklist, Items: items(procedure.ReadyLines)}),
		b.step("arrive/lel", procedure.Step{Ask: "ambient.lel", Form: procedure.FormAmbient, Unit: "%"}),
		b.step("arrive/ambient", procedure.Step{Ask: "ambient.arrive", Form: procedure.FormAmbient, Unit: "ppm"}),
		b.step("arrive/weather", procedure.Step{Ask: "arrive.weather", Form: procedure.FormWeather}),
		b.step("arrive/gauge", procedure.Step{Ask: "arrive.gauge", Form: procedure.FormInstrument, Wanted: true}),
		b.step("arrive/analyser", procedure.Step{Ask: "arrive.analyser", Form: procedure.FormInstrument, Wanted: true}))
}

func (b *builder) list() Part {
	places := []string{"basement", "utility-room", "closet", "garage", "attic", "crawl-space", "kitchen", "living-space", "other-space"}
	return b.part("round", []string{"louvred", "garage-door"},
		b.step("list/home", procedure.Step{Ask: "list.home", Form: choice, Choices: kinds(procedure.HomeKinds)}),
		b.step("list/appliances", procedure.Step{Ask: "list.appliances", Form: procedure.FormRoster, Choices: kinds(procedure.ApplianceKinds)}),
		b.step("list/zones", procedure.Step{Ask: "list.zones", Form: procedure.FormRoster, Choices: places}),
		b.step("zone/ID/door", procedure.Step{Ask: "list.zone-door", Form: choice, Choices: []string{"door", "louvred", "no-door"}}),
		b.note(b.step("zone/ID/volume", procedure.Step{Ask: "list.zone-volume", Form: procedure.FormNumber, Unit: "ft3", Wanted: true}), "volume"),
		b.step("list/fans", procedure.Step{Ask: "list.fans", Form: procedure.FormRoster, Choices: kinds(procedure.FanKinds)}),
		b.step("list/doors", procedure.Step{Ask: "list.doors", Form: procedure.FormRoster, Choices: kinds(procedure.DoorKinds)}),
		b.step("list/airhandlers", procedure.Step{Ask: "list.airhandlers", Form: procedure.FormRoster, Choices: []string{"air-handler"}}),
		b.step("list/cfm50", procedure.Step{Ask: "list.cfm50", Form: procedure.FormNumber, Unit: "cfm", Wanted: true}),
		b.step("list/flows", procedure.Step{Ask: "list.flows", Form: procedure.FormNumbers, Unit: "cfm", Wanted: true}))
}

// Variant is a kind of appliance for which a list has its own numbers.
type Variant struct {
	Key       string
	Appliance procedure.Appliance
	Facts     []string // codes of the facts asked of it, in their order
	Look      []string // lines to look at, in their order
}

// Variants in the order of the columns.
func Variants() []Variant {
	with := func(k procedure.ApplianceKind, f procedure.Fuel, v procedure.VentType, hood procedure.Tri) procedure.Appliance {
		return procedure.Appliance{Kind: k, Burner: procedure.Burner{Fuel: f}, Vent: procedure.Vent{Type: v}, Facts: procedure.VentFacts{DraftHood: hood}}
	}
	out := []Variant{
		{Key: "gas", Appliance: with(procedure.WaterHeater, procedure.NaturalGas, procedure.NaturalVent, procedure.Yes), Facts: []string{"can_be_fired", "!shares", "test_hole", "orphaned", "outside", "!inside", "draft_hood", "barometric", "vent_damper", "top_inducer"}},
		{Key: "gas-no-hood", Appliance: with(procedure.Furnace, procedure.NaturalGas, procedure.FanAssisted, procedure.No), Facts: []string{"can_be_fired", "!shares", "test_hole", "orphaned", "outside", "!inside", "draft_hood", "barometric", "vent_damper", "top_inducer"}},
		{Key: "oil", Appliance: with(procedure.Boiler, procedure.Oil, procedure.NaturalVent, procedure.No), Facts: []string{"can_be_fired", "!shares", "test_hole", "orphaned", "outside", "!inside", "barometric", "vent_damper", "high_static", "top_inducer"}},
		{Key: "forced", Appliance: with(procedure.Furnace, procedure.NaturalGas, procedure.DirectVent, procedure.No), Facts: []string{"can_be_fired", "!inside"}},
		{Key: "unvented", Appliance: with(procedure.UnventedHeater, procedure.NaturalGas, "", procedure.No), Facts: []string{"can_be_fired", "!main_heat", "!inside"}},
		{Key: "kerosene", Appliance: with(procedure.UnventedHeater, procedure.Oil, "", procedure.No), Facts: []string{"can_be_fired", "!main_heat", "!inside"}},
		{Key: "cooking", Appliance: with(procedure.Range, procedure.NaturalGas, "", procedure.No), Facts: []string{"can_be_fired"}},
		{Key: "solid", Appliance: with(procedure.WoodStove, "", "", procedure.No), Facts: []string{"!shares", "!inside", "outside"}},
	}
	for i := range out {
		out[i].Look = procedure.LookLines(out[i].Appliance)
	}
	return out
}

// columns is a row whose lines have other numbers for other appliances.
func (b *builder) columns(r Row, of func(Variant) []string) Row {
	var codes []string
	for _, v := range Variants() {
		r.Columns = append(r.Columns, b.w("col."+v.Key))
		for i, c := range of(v) { // a line goes behind the one it follows
			if slices.Contains(codes, c) {
				continue
			}
			at := 0
			if i > 0 {
				at = slices.Index(codes, of(v)[i-1]) + 1
			}
			codes = slices.Insert(codes, at, c)
		}
	}
	r.Items = nil
	for _, c := range codes {
		it := Item{Text: wording.ItemText(b.l, c)}
		for _, v := range Variants() {
			it.Nums = append(it.Nums, slices.Index(of(v), c)+1)
		}
		r.Items = append(r.Items, it)
	}
	return r
}

func (b *builder) each(look bool) Part {
	rows := []Row{
		b.step("appliance/ID/burner", procedure.Step{Ask: "list.burner", Form: procedure.FormBurner}),
		b.note(b.step("appliance/ID/zone", procedure.Step{Ask: "list.appliance-zone", Form: choice}), "zone-number"),
		b.step("appliance/ID/vent", procedure.Step{Ask: "list.vent", Form: choice, Choices: append(kinds(procedure.VentTypes), "not-known")}),
		b.note(b.step("appliance/ID/category", procedure.Step{Ask: "list.category", Form: choice, Choices: append(kinds(procedure.Categories), "not-known")}), "if-fan"),
		b.columns(b.step("appliance/ID/facts", procedure.Step{Ask: "list.facts", Form: procedure.FormFacts}), func(v Variant) []string { return v.Facts }),
		b.note(b.step("appliance/ID/partners", procedure.Step{Ask: "list.partners", Form: procedure.FormPick}), "partners"),
	}
	if look {
		rows = append(rows, b.columns(b.step("look/ID", procedure.Step{Ask: "look.appliance", Form: checklist}), func(v Variant) []string { return v.Look }))
	}
	return b.part("each", []string{"hot-vent"}, rows...)
}

// note adds to how a row is written.
func (b *builder) note(r Row, key string) Row {
	r.How = append(b.lines("note."+key), r.How...)
	return r
}

// when marks lines that are asked only sometimes; a list that has them is
// numbered by hand.
func (b *builder) when(r Row, codes []string, cond map[string]string) Row {
	marked := false
	for i, c := range codes {
		if k := cond[c]; k != "" {
			r.Items[i].When = b.w("when." + k)
			marked = true
		}
	}
	if marked {
		for i := range r.Items {
			r.Items[i].Nums = nil
		}
		r.How = append(b.lines("note.number"), r.How...)
	}
	return r
}

func (b *builder) prepare(look bool) Part {
	some := []procedure.RosterItem{{Kind: string(procedure.Dryer)}, {Kind: string(procedure.RadonFan)}}
	lines := procedure.PrepareLines(some, some)
	var rows []Row
	if look {
		rows = append(rows, b.step("look/house", procedure.Step{Ask: "look.house", Form: checklist, Items: items(procedure.HouseLines)}))
	}
	rows = append(rows,
		b.when(b.step("prepare/house", procedure.Step{Ask: "prepare.house", Form: checklist, Items: items(lines)}), lines,
			map[string]string{"lint-clean": "dryer", "condenser-off": "air", "continuous-off": "continuous"}),
		b.note(b.step("prepare/fired", procedure.Step{Ask: "prepare.fired", Form: procedure.FormNumbers, Unit: "min"}), "fired"))
	return b.part("set", []string{"before-pulling-down"}, rows...)
}

func (b *builder) setup(field, ask string, flow float64, lines ...procedure.Item) Row {
	st := procedure.Step{Ask: ask, Form: setup, Items: lines, Setup: &procedure.Setup{FlowCFM: flow, Fans: []string{"x"}}}
	r := b.step(field, st)
	for i := range r.Items {
		r.Items[i].Nums = nil
	}
	return r
}

// write is a line of a set-up with a space for the names.
func write(code string) procedure.Item {
	return procedure.Item{Code: code, Name: strings.Repeat("_", 28)}
}

func plain(codes ...string) []procedure.Item { return items(codes) }

func (b *builder) gauge(field, ask string) Row {
	return b.step(field, procedure.Step{Ask: ask, Form: pressure, Unit: "Pa"})
}

func (b *builder) baseline() Part {
	return b.part("zone", []string{"baseline-off"},
		b.step("hose/ID", procedure.Step{Ask: "hose.check", Form: checklist, Items: items(procedure.HoseLines)}),
		b.setup("setup/ID/baseline", "setup.off", 0, plain("fans-off", "inside-doors-open")...),
		b.gauge("baseline/ID", "pressure.baseline"))
}

// doorTable is one line for each inside door.
func (b *builder) doorTable(field string, again bool) Row {
	if b.p.Doors == "close-all" {
		return Row{}
	}
	ask, choices := "doors.smoke", []string{"toward-zone", "into-room", "still"}
	if b.p.Doors == "pressure" {
		ask, choices = "doors.pressure", []string{"lower", "higher", "same"}
	}
	if again {
		ask += "-again"
	}
	r := b.step(field, procedure.Step{Ask: ask, Form: procedure.FormTable, Choices: choices})
	for i := 1; i <= 8; i++ {
		r.Blanks = append(r.Blanks, strconv.Itoa(i))
	}
	return r
}

func (b *builder) search() Part {
	var rows []Row
	say := func(key string) { rows = append(rows, Row{Lines: b.lines("walk." + key)}) }
	for _, st := range b.p.Stages {
		switch st.ID {
		case procedure.StageFans:
			say("fans")
			if b.p.DryerFirst {
				rows = append(rows, b.setup("setup/ID/dryer", "setup.dryer", 0, write("fan-on")), b.gauge("reading/ID/dryer", "pressure.step"))
			}
			rows = append(rows, b.setup("setup/ID/fans", "setup.fans", 0, write("fan-on"), write("fan-on"), write("fan-on")), b.gauge("reading/ID/fans", "pressure.step"))
		case procedure.StageDoors:
			if b.p.Doors == "close-all" {
				say("doors-all")
			} else {
				say("doors")
			}
			rows = append(rows, b.doorTable("doors/ID", false), b.setup("setup/ID/doors", "setup.doors", 0, write("door-shut"), write("door-open")), b.gauge("reading/ID/doors", "pressure.step"))
		case procedure.StageAirHandler:
			say("air")
			rows = append(rows, b.setup("setup/ID/airN", "setup.air", 0, write("air-on"), write("air-off")), b.gauge("reading/ID/airN", "pressure.air"))
			if b.p.AirHandler.RecheckDoors {
				say("redoors")
				rows = append(rows, b.doorTable("redoors/ID", true), b.setup("setup/ID/redoors", "setup.doors", 0, write("door-shut"), write("door-open")), b.gauge("reading/ID/redoors", "pressure.step"))
			}
		case procedure.StageCAZDoor:
			say("caz")
			rows = append(rows, b.setup("setup/ID/cazdoor", "setup.cazdoor", 0, procedure.Item{Code: "caz-closed", Name: b.w("this-zone")}), b.gauge("reading/ID/cazdoor", "pressure.step"))
			if b.p.AirHandler.WithCAZDoor {
				say("cazair")
				rows = append(rows, b.setup("setup/ID/cazairN", "setup.cazair", 0, write("air-on"), write("air-off"), procedure.Item{Code: "caz-closed", Name: b.w("this-zone")}), b.gauge("reading/ID/cazairN", "pressure.step"))
			}
			if b.p.AirHandler.WithCAZDoor && b.p.AirHandler.RecheckDoors {
				rows = append(rows, b.doorTable("cazdoors/ID", true), b.setup("setup/ID/cazdoors", "setup.doors", 0, write("door-shut"), write("door-open")), b.gauge("reading/ID/cazdoors", "pressure.step"))
			}
		}
	}
	cautions := []string{"condenser"}
	if f := b.p.Fireplace; f != nil {
		cautions = append(cautions, "fireplace")
		say("fireplace")
		rows = append(rows, b.setup("setup/ID/fireplace", "setup.fireplace", f.CFM), b.gauge("reading/ID/fireplace", "pressure.step"),
			b.doorTable("firedoors/ID", true), b.setup("setup/ID/firedoors", "setup.doors", 0, write("door-shut"), write("door-open")), b.gauge("reading/ID/firedoors", "pressure.step"),
			b.setup("setup/ID/firecaz", "setup.cazdoor", 0), b.gauge("reading/ID/firecaz", "pressure.step"))
	}
	return b.part("search", cautions, rows...)
}

func (b *builder) worst() Part {
	rows := []Row{
		b.setup("setup/ID/worst", "setup.worst", 0, write("fan-on"), write("door-shut"), write("door-open"), write("air-on"), procedure.Item{Code: "caz-open", Name: "__"}, procedure.Item{Code: "caz-closed", Name: "__"}),
		b.gauge("reading/ID/worst", "pressure.worst")}
	if len(b.p.Pressure) == 0 { // nothing to be close to
		return b.part("worst", []string{"held"}, append(rows, b.sealing(), Row{Ask: b.w("net.ask"), Lines: []string{wording.NoLimit(b.l)}, Blanks: strings.Split(b.w("net.bare"), "|")})...)
	}
	return b.part("worst", []string{"held"}, append(rows, b.sealing(),
		Row{Ask: b.w("net.ask"), How: b.lines("net.how"), Blanks: strings.Split(b.w("net.blanks"), "|")},
		b.step("settle/ID", procedure.Step{Ask: "settle", Form: choice, Choices: []string{"pairs-now", "go-on"}}),
		b.step("pairs/ID", procedure.Step{Ask: "pairs", Form: procedure.FormPairs, Unit: "Pa"}))...)
}

func (b *builder) sealing() Row {
	return b.step("sealing/cfm50", procedure.Step{Ask: "sealing.cfm50", Form: procedure.FormNumber, Unit: "cfm", Wanted: true})
}

// clock is a timed watch with the limits of a warm and of a cold vent.
func (b *builder) clock(field, ask string, warm, cold float64) Row {
	limit := b.w("limit.one", "s", sec(cold))
	if warm != cold {
		limit = b.w("limit.two", "warm", sec(warm), "cold", sec(cold))
	}
	return b.step(field, procedure.Step{Ask: ask, Form: procedure.FormClock, LimitS: cold, Args: map[string]string{"limit": limit}})
}

func (b *builder) burners() Part {
	s := b.p.Spillage
	rows := []Row{b.gauge("held/ID", "pressure.held"), b.clock("spill/ID", "spill", s.Warm, s.Cold),
		b.step("flame/ID", procedure.Step{Ask: "flame", Form: checklist, Items: items([]string{"blower-flame"})}), b.gauge("held/ID/blower", "pressure.blower")}
	if len(b.p.Draft.Vents) > 0 {
		rows = append(rows, b.note(b.step("breech/ID", procedure.Step{Ask: "breech", Form: procedure.FormNumber, Unit: "Pa"}), "oil"), b.note(b.gauge("draft/ID", "draft"), "draft"))
	}
	if len(b.p.CO.Kinds) > 0 {
		rows = append(rows, b.step("co/ID", procedure.Step{Ask: "co", Form: procedure.FormGas, Unit: "ppm"}))
	}
	rows = append(rows, b.step("ambient/ID", procedure.Step{Ask: "ambient.burning", Form: procedure.FormAmbient, Unit: "ppm"}))
	if s.Together {
		rows = append(rows, b.note(b.step("together/ID+ID", procedure.Step{Ask: "together", Form: checklist, Items: []procedure.Item{write("hood"), write("hood")}}), "together"))
	}
	return b.part("burners", []string{"burner-on", "controls", "rollout", "test-hole", "co-sample"}, rows...)
}

func (b *builder) closing() Part {
	return b.part("closing", []string{"baseline-off"}, b.setup("setup/ID/closing", "setup.closing", 0, plain("fans-off", "inside-doors-open")...), b.gauge("baseline/ID/closing", "pressure.closing"))
}

func (b *builder) natural() Part {
	var rows []Row
	if !b.p.Baseline.Closing {
		rows = append(rows, b.setup("setup/ID/natural", "setup.natural", 0, plain("fans-off", "inside-doors-open")...))
	}
	rows = append(rows, b.step("cooled/ID", procedure.Step{Ask: "cooled", Form: checklist, Items: items([]string{"vent-cooled"})}), b.clock("spill/ID/natural", "spill.natural", b.p.Spillage.Cold, b.p.Spillage.Cold))
	if len(b.p.Draft.Vents) > 0 {
		rows = append(rows, b.gauge("draft/ID/natural", "draft.natural"))
	}
	return b.part("natural", []string{"burner-on"}, rows...)
}

func (b *builder) putBack() Part {
	some := []procedure.RosterItem{{Kind: string(procedure.RadonFan)}}
	lines := procedure.PutBackLines([]procedure.Appliance{{Kind: procedure.WaterHeater, Burner: procedure.Burner{Fuel: procedure.NaturalGas}}}, some, some)
	return b.part("back", []string{"put-back"}, b.when(b.step("putback/house", procedure.Step{Ask: "putback.house", Form: checklist, Items: items(lines)}), lines,
		map[string]string{"burners-lit": "lit", "thermostats-back": "lit", "holes-sealed": "lit", "water-heater-back": "water", "fans-back": "fans", "disconnects-on": "air", "filters-in": "air", "continuous-on": "continuous"}))
}

func (b *builder) decide() Part {
	return b.part("last", nil, b.step("told/decision", procedure.Step{Ask: "told.decision", Form: procedure.FormTold}), b.step("decide/tester", procedure.Step{Ask: "decide.tester", Form: procedure.FormText}))
}

// trouble are the fields that only a danger or a doubt brings.
func (b *builder) trouble() Part {
	return b.part("trouble", []string{"after-leave", "ambient-source"},
		b.step("told/leak", procedure.Step{Ask: "told.hazard", Form: procedure.FormTold}),
		b.step("told/hazard", procedure.Step{Ask: "told.hazard", Form: procedure.FormTold}),
		b.source(),
		b.step("settled/hazard", procedure.Step{Ask: "ambient.settled", Form: choice, Choices: []string{"stopped", "still-there"}}),
		b.note(b.step("aired/hazard", procedure.Step{Ask: "ambient.aired", Form: choice, Choices: []string{"kept-shut", "opened"}}), "aired"),
		b.step("putback/reentry", procedure.Step{Ask: "putback.reentry", Form: choice, Choices: []string{"cleared", "not-cleared"}}),
		Row{Field: "doubt/CODE/FIELD", Ask: b.w("doubt.ask"), How: b.lines("form.doubt"), List: b.doubts(), Blanks: strings.Split(b.w("blank.doubt"), "|")})
}

// source lists what comes behind the appliances, whose number nobody knows
// yet, so without numbers.
func (b *builder) source() Row {
	r := b.note(b.step("source/hazard", procedure.Step{Ask: "ambient.source", Form: choice, Choices: []string{"outdoors", "other-source", "not-found"}}), "source")
	r.List, r.Choices = r.Choices, nil
	return r
}

// doubtCodes are the signs that a reading was spoiled, in the order of the sheet.
var doubtCodes = []procedure.DoubtCode{procedure.DoubtGusty, procedure.DoubtWind, procedure.DoubtRises, procedure.DoubtNoStep, procedure.DoubtFrozen, procedure.DoubtBaselineHigh, procedure.DoubtDrift,
	procedure.DoubtDiluted, procedure.DoubtZeroAir, procedure.DoubtDraftNoSpill, procedure.DoubtWarmVent, procedure.DoubtEarlyCO, procedure.DoubtLowNet}

func (b *builder) doubts() []string {
	var out []string
	for _, c := range doubtCodes {
		out = append(out, string(c)+": "+wording.DoubtText(b.l, c, nil))
	}
	return out
}

func num(v float64, decimals int) string { return reading.Format(v, decimals) }

func sec(v float64) string { return num(v, 0) }

// weakest prints a draft limit with two decimals, never weaker than it is.
func weakest(pa float64) string { return num(math.Floor(pa*100+1e-6)/100, -1) }

func (b *builder) sums() Part {
	u := b.p.Constants
	rows := []Row{
		{Ask: b.w("sum.mean"), Lines: b.lines("sum.mean.how", "spread", num(b.p.Baseline.MaxSpread, -1))},
		{Ask: b.w("sum.net"), Lines: b.lines("sum.net.how"), Blanks: strings.Split(b.w("sum.net.blanks"), "|")},
		{Ask: b.w("sum.u"), Lines: b.lines("sum.u.how", "k", num(u.Coverage, -1), "a", num(u.AccuracyPa, -1), "pct", num(u.AccuracyPct, -1), "s", num(u.DefaultS, -1)), Blanks: strings.Split(b.w("sum.u.blanks"), "|")},
		{Ask: b.w("sum.side"), Lines: b.lines("sum.side.how")},
		{Ask: b.w("sum.co"), Lines: b.lines("sum.co.how"), Blanks: strings.Split(b.w("sum.co.blanks"), "|")},
	}
	if line := b.p.Draft.Line; len(line) > 0 {
		var pts []string
		// Each ten degrees between the first point and the last, so that
		// nobody has to interpolate in a basement.
		if b.in.Units == "si" {
			for c := -15.0; c <= 35; c += 5 {
				if pa, ok := procedure.DraftLimit(line, c*9/5+32); ok {
					pts = append(pts, b.w("sum.draft.point-si", "temp", num(c, 0), "pa", weakest(pa)))
				}
			}
		} else {
			for f := line[0].TempF; f <= line[len(line)-1].TempF; f += 10 {
				if pa, ok := procedure.DraftLimit(line, f); ok {
					pts = append(pts, b.w("sum.draft.point", "temp", num(f, 0), "pa", num(pa, -1)))
				}
			}
		}
		rows = append(rows, Row{Ask: b.w("sum.draft"), Lines: append(b.lines("sum.draft.how", "what", wording.SchemeLong(b.p.Scheme), "evidence", wording.Evidence(b.l, b.in.Rules.Draft.Evidence)), strings.Join(pts, "  \u00b7  "))})
	}
	return b.part("sums", nil, rows...)
}

func (b *builder) limits() Part {
	r := b.in.Rules
	var rows []Row
	add := func(key string, lines []string) {
		if len(lines) > 0 {
			rows = append(rows, Row{Ask: b.w("limit." + key), Lines: lines})
		}
	}
	var pa []string
	for _, x := range r.Pressure {
		pa = append(pa, b.w("limit.row", "what", b.selector(x.Applies), "value", num(x.Bound.Value, -1), "unit", "Pa", "row", x.ID, "evidence", b.evidence(x.Row)))
	}
	if len(pa) == 0 {
		pa = []string{wording.NoLimit(b.l)}
	}
	add("pressure", pa)
	var sp []string
	for _, x := range r.Spillage {
		sp = append(sp, b.w("limit.row", "what", b.selector(x.Applies), "value", num(x.Bound.Value, -1), "unit", "s", "row", x.ID, "evidence", b.evidence(x.Row)))
	}
	add("spillage", sp)
	var co []string
	for _, x := range r.CO {
		co = append(co, b.w("limit.row", "what", b.selector(x.Applies), "value", num(x.Bound.Value, -1), "unit", "ppm "+b.w("basis."+x.Basis), "row", x.ID, "evidence", b.evidence(x.Row)))
	}
	for _, m := range r.Matrix {
		from := b.w("limit.over", "from", num(m.Over, -1))
		if m.UpTo != nil {
			from = b.w("limit.band", "from", num(m.Over, -1), "to", num(*m.UpTo, -1))
		}
		line := b.w("limit.matrix", "band", from, "spill", b.w("out."+string(m.Spillage)), "draft", b.w("out."+string(m.Draft)), "what", b.w("decision."+string(m.Decision)), "evidence", b.evidence(m.Row))
		co = append(co, line)
	}
	if len(co) == 0 && len(b.p.CO.Kinds) > 0 {
		co = []string{b.w("limit.none", "scheme", wording.SchemeLong(b.p.Scheme))}
	}
	add("co", co)
	var air []string
	for _, t := range b.p.Interrupts {
		from := b.w("limit.from", "value", num(t.From, -1), "unit", t.Unit)
		if t.Above {
			from = b.w("limit.above", "value", num(t.From, -1), "unit", t.Unit)
		}
		air = append(air, b.w("limit.tier", "code", b.w("code."+string(t.Code)), "from", from, "act", b.w("act."+string(t.Act)), "evidence", wording.Evidence(b.l, t.Evidence)))
	}
	add("air", air)
	return b.part("limits", nil, rows...)
}

// evidence of a row: how sure it is, or who checked it.
func (b *builder) evidence(r procedure.Row) string {
	if r.Checked != nil {
		return b.w("checked", "by", r.Checked.By)
	}
	return wording.Evidence(b.l, r.Evidence)
}

// selector says what a row is about.
func (b *builder) selector(s procedure.Selector) string {
	var out []string
	add := func(t string) {
		if t != "" {
			out = append(out, t)
		}
	}
	names := func(list []procedure.ApplianceKind) string {
		var n []string
		for _, k := range list {
			n = append(n, wording.KindName(b.l, string(k)))
		}
		return strings.Join(n, "/")
	}
	add(names(s.Kinds))
	var fuels, vents []string
	for _, f := range s.Fuels {
		fuels = append(fuels, b.w("fuel."+string(f)))
	}
	for _, v := range s.Vents {
		vents = append(vents, b.w("vent."+string(v)))
	}
	add(strings.Join(fuels, "/"))
	add(strings.Join(vents, "/"))
	for _, x := range []struct {
		key string
		is  procedure.Tri
	}{{"common", s.Common}, {"fan-partner", s.FanPartner}, {"damper", s.Damper}, {"orphaned", s.Orphaned}, {"outside", s.Outside}, {"high-static", s.HighStatic}, {"top-inducer", s.TopInducer}, {"cold", s.Cold}} {
		switch x.is {
		case procedure.Yes:
			add(b.w("is." + x.key))
		case procedure.No:
			add(b.w("not." + x.key))
		}
	}
	if len(s.Partner) > 0 {
		add(b.w("partner", "what", names(s.Partner)))
	}
	if len(out) == 0 {
		return b.w("any")
	}
	return strings.Join(out, ", ")
}
