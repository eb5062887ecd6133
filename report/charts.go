package report

import (
	"math"
	"slices"
	"sort"
	"strings"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// DraftChart sets drafts against the outdoor temperature, with the line of
// the rule. Drafts are in pascals, the vent with reference to the zone.
type DraftChart struct {
	Title, Desc string
	TempUnit    string // F, C
	Line        []XY   // X temperature, Y pascals; level beyond its ends
	Points      []DraftMark
	Table       Table // the same figures
}

// XY is a point of a line.
type XY struct{ X, Y float64 }

// DraftMark is one measured draft. Limit is what it is held against where
// that is not the line, the maker's breech draft of an oil burner.
type DraftMark struct {
	Name     string
	Temp, Pa float64
	U, Limit *float64
	Natural  bool
	Verdict  string
}

// BarChart sets CO of appliances against limits, all on one basis.
type BarChart struct {
	Title, Desc, Unit string
	Bars              []Bar
	Lines             []Level // across all bars: where a band ends, in Unit
	Table             Table   // the same figures
}

// Bar is one appliance. Over: the meter's range was exceeded, so Value is
// only the least that it can be.
type Bar struct {
	Name    string
	Value   float64
	Over    bool
	Limit   *float64 // its own, beside the lines
	Verdict string
}

// PhaseChart sets the phases of one home beside each other.
type PhaseChart struct {
	Title, Desc, Unit string
	Phases            []string // oldest first, two or three
	Rows              []PhaseRow
	Table             Table // the same figures
}

// PhaseRow has a value for each phase, nil where nothing was measured, and
// the limit that holds now. Least says that the value is only the least that
// it can be: smoke that never stopped spilling.
type PhaseRow struct {
	Name   string
	Values []*float64
	Least  []bool
	Limit  *float64
}

// PhotoBox is a photo with what it shows. Why says why there is no picture.
type PhotoBox struct {
	Caption string
	Alt     string
	Why     string
	Photo   Photo
}

// known is nil for what is no number: a drawing has no place for it.
func known(v *float64) *float64 {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	return v
}

// perChart is how many things one drawing holds, so that it fits a page.
const perChart = 14

// outdoorF is the coldest temperature of the visit, which is the one that
// drafts are judged at.
func (b *builder) outdoorF() (float64, bool) {
	if b.obs.Weather == nil {
		return 0, false
	}
	cold := math.Inf(1)
	for _, w := range append([]procedure.Weather{*b.obs.Weather}, b.obs.Later...) {
		t, err := reading.Convert(w.Temp, reading.Unit(w.TempUnit), reading.UnitF)
		if err != nil {
			return 0, false
		}
		cold = math.Min(cold, t)
	}
	return cold, true
}

func (b *builder) drafts() []DraftChart {
	tempF, ok := b.outdoorF()
	if !ok || known(&tempF) == nil {
		return nil
	}
	temp, unit := b.in.Units.Show(tempF, string(reading.UnitF))
	var line []XY
	for _, p := range b.in.Rules.Draft.Line {
		x, _ := b.in.Units.Show(p.TempF, string(reading.UnitF))
		line = append(line, XY{x, p.Pa})
	}
	var marks []DraftMark
	for _, a := range b.obs.Appliances {
		o := b.of(a.ID)
		for i, p := range []*procedure.PressureObs{o.Draft, o.DraftNatural} {
			if p == nil {
				continue
			}
			mean := procedure.MeanOf(p.Values)
			if known(&mean) == nil {
				continue
			}
			m := DraftMark{Name: a.Name, Temp: temp, Pa: mean, Natural: i == 1, Verdict: b.t("recorded")}
			if f := b.finding(a.ID, aboutDraft, i == 1); f != nil {
				m.U, m.Verdict = known(f.Uncertainty), b.verdict(*f)
				if f.Row != b.in.Rules.Draft.ID {
					m.Limit = known(f.Limit)
				}
			}
			marks = append(marks, m)
		}
	}
	var out []DraftChart
	for part := range slices.Chunk(marks, perChart) {
		c := DraftChart{Title: b.t("draft-chart", degrees(unit)), Desc: b.t("draft-chart-desc"), TempUnit: unit, Line: line, Points: part,
			Table: Table{Columns: b.cols("c-appliance", 40, "c-state", 30, ">c-outdoors", 20, ">c-draft-pa", 20, ">c-u", 16, ">c-limit", 20, "c-verdict", 30)}}
		for _, m := range part {
			state, u, limit := "at-worst", "-", "-"
			if m.Natural {
				state = "at-rest"
			}
			if m.U != nil {
				u = num(*m.U, 2)
			}
			if m.Limit != nil {
				limit = num(*m.Limit, 2)
			} else if l, ok := procedure.DraftLimit(b.in.Rules.Draft.Line, tempF); ok {
				limit = num(l, 2)
			}
			c.Table.add(0, m.Name, b.t(state), num(m.Temp, -1)+" "+unit, num(m.Pa, 2), u, limit, m.Verdict)
		}
		out = append(out, c)
	}
	return out
}

func degrees(unit string) string { return "°" + unit }

// coBars are the CO readings as measured against the ends of the bands, and,
// where the scheme's limits are air-free, air-free against those.
func (b *builder) coBars() []BarChart {
	var out []BarChart
	for _, on := range []string{"as-measured", "air-free"} {
		var bars []Bar
		limits := false
		for _, a := range b.obs.Appliances {
			o := b.of(a.ID)
			if o.CO == nil {
				continue
			}
			bar := Bar{Name: a.Name, Over: o.CO.OverRange, Value: math.Inf(-1), Verdict: b.t("recorded")}
			for i, v := range o.CO.CO {
				if on == "air-free" {
					if i >= len(o.CO.O2) || o.CO.O2[i] == nil {
						continue
					}
					free, err := reading.AirFree(reading.Concentration(v), reading.Percent(*o.CO.O2[i]))
					if err != nil {
						continue
					}
					v = float64(free)
				}
				bar.Value = math.Max(bar.Value, v)
			}
			if math.IsInf(bar.Value, 0) || math.IsNaN(bar.Value) {
				if !bar.Over {
					continue
				}
				bar.Value = 0
			}
			for _, f := range b.in.Judgement.Findings {
				if f.Subject != a.ID || about(f) != aboutCO {
					continue
				}
				if f.Rule == "co-matrix" {
					if on == "as-measured" {
						bar.Verdict = b.t("leads", string(f.Severity))
					}
				} else if basis := b.basis(f.Row); known(f.Limit) != nil && (basis == on || basis == "" && on == "as-measured") {
					bar.Limit, bar.Verdict, limits = f.Limit, b.verdict(f), true
				}
			}
			bars = append(bars, bar)
		}
		if on == "air-free" && !limits {
			continue
		}
		var lines []Level
		if on == "as-measured" {
			lines = b.bands()
		}
		for part := range slices.Chunk(bars, perChart) {
			c := BarChart{Title: b.t("co-chart-" + on), Desc: b.t("co-chart-desc"), Unit: "ppm", Bars: part, Lines: lines,
				Table: Table{Columns: b.cols("c-appliance", 50, ">c-ppm-"+on, 30, ">c-limit-ppm", 30, "c-verdict", 40)}}
			for _, x := range part {
				v, l := num(x.Value, 0), "-"
				if x.Over {
					v = b.t("over-range")
				}
				if x.Limit != nil {
					l = num(*x.Limit, 0)
				}
				c.Table.add(0, x.Name, v, l, x.Verdict)
			}
			out = append(out, c)
		}
	}
	return out
}

// bands are the values at which the action matrix changes.
func (b *builder) bands() []Level {
	seen := map[float64]bool{0: true}
	var out []Level
	add := func(v float64) {
		if !seen[v] {
			seen[v] = true
			out = append(out, Level{Pa: v, Label: num(v, -1)})
		}
	}
	for _, m := range b.in.Rules.Matrix {
		add(m.Over)
		if m.UpTo != nil {
			add(*m.UpTo)
		}
	}
	sort.Slice(out, func(i, k int) bool { return out[i].Pa < out[k].Pa })
	return out
}

// photos puts the pictures kept beside the record at the foot of the section
// that their step belongs to; one that no section takes makes a section of
// its own.
func (b *builder) photos(sections []Section) []Section {
	if b.in.Redacted {
		return sections
	}
	rest := Section{ID: "photos", Title: b.t("s-photos")}
	n := 0
	for _, ev := range b.in.Events {
		d, ok := ev.Data.(*procedure.Attach)
		if !ok {
			continue
		}
		n++
		step := wording.KeyText(b.lang, d.Step, b.name)
		box := PhotoBox{Caption: b.t("photo", n, step, when(ev.Observed)), Alt: b.t("photo-alt", step)}
		box.Photo, box.Why = b.photo(d.SHA256)
		at := &rest
		for i := range sections {
			if sections[i].ID == photoSection(d.Step) {
				at = &sections[i]
			}
		}
		at.Photos = append(at.Photos, box)
	}
	if len(rest.Photos) > 0 {
		sections = append(sections, rest)
	}
	return sections
}

// photo is the picture of a hash, or why it is not shown.
func (b *builder) photo(sha string) (Photo, string) {
	if b.in.Photos == nil {
		return Photo{}, b.t("photo-elsewhere", sha)
	}
	for _, p := range b.in.Photos {
		switch {
		case p.SHA256 != sha:
		case p.Altered:
			return Photo{}, b.t("photo-altered", sha)
		case len(p.Data) > 0:
			return p, ""
		}
	}
	return Photo{}, b.t("photo-absent", sha)
}

// lostPhotos counts the photos that were kept and are absent or altered.
func (b *builder) lostPhotos() int {
	if b.in.Redacted || b.in.Photos == nil {
		return 0
	}
	n := 0
	for _, ev := range b.in.Events {
		if d, ok := ev.Data.(*procedure.Attach); ok {
			if _, why := b.photo(d.SHA256); why != "" {
				n++
			}
		}
	}
	return n
}

// photoSection is the section whose things a step is about.
func photoSection(step string) string {
	kind, _, _ := strings.Cut(step, "/")
	switch kind {
	case "arrive", "list", "zone", "look", "prepare", "hose", "putback":
		return "checks"
	case "baseline", "setup", "reading", "more", "settle", "pairs", "doors", "redoors", "cazdoors", "firedoors", "held":
		return "zones"
	case "spill", "draft", "co", "breech", "together", "flame", "cooled":
		return "appliances"
	case "ambient", "source", "settled", "told", "aired":
		return "room-air"
	}
	return "photos"
}
