package register

import (
	"cmp"
	"math"
	"slices"

	"cazward/procedure"
)

// GroupBy says what a trend is broken down by.
type GroupBy string

// Groups of a trend.
const (
	ByMonth     GroupBy = "month"
	ByCrew      GroupBy = "crew"
	ByAppliance GroupBy = "appliance"
	ByScheme    GroupBy = "scheme"
)

// Groups in screen order.
var Groups = []GroupBy{ByMonth, ByCrew, ByAppliance, ByScheme}

// Spread of measured values: quartiles by linear interpolation between the
// sorted values, nil where nothing was measured. Worst is the value that says
// most against the home: the lowest pressure or margin, the longest time.
type Spread struct {
	N      int      `json:"n"`
	Q1     *float64 `json:"q1"`
	Median *float64 `json:"median"`
	Q3     *float64 `json:"q3"`
	Worst  *float64 `json:"worst"`
}

// ConfigCount says in how many zones a set-up was the worst.
type ConfigCount struct {
	Config string `json:"configuration"`
	Zones  int    `json:"zones"`
}

// TrendRow is one group in one phase: test-in is before sealing, test-out
// after. A home with two kinds of appliance counts in both groups.
type TrendRow struct {
	Group     string          `json:"group"`
	Phase     procedure.Phase `json:"phase"`
	Homes     int             `json:"homes"`
	Decisions map[string]int  `json:"decisions"` // "not judged" among them
	Net       Spread          `json:"net_pa"`
	Draft     Spread          `json:"draft_margin_pa"`
	Spill     Spread          `json:"spillage_s"`
	Configs   []ConfigCount   `json:"worst_configurations"`
}

type trendKey struct {
	group string
	phase procedure.Phase
}

type gathered struct {
	homes                int
	decisions            map[string]int
	nets, drafts, spills []float64
	configs              map[string]int
}

// Trend gathers entries. Invented houses are left out.
type Trend struct {
	by   GroupBy
	rows map[trendKey]*gathered
}

// NewTrend of groups.
func NewTrend(by GroupBy) *Trend { return &Trend{by, map[trendKey]*gathered{}} }

// Add an entry.
func (t *Trend) Add(e Entry) {
	if e.Practice {
		return
	}
	groups := []string{""}
	switch t.by {
	case ByMonth:
		if e.Day != 0 {
			groups = []string{Date(e.Day)[:len("2006-01")]}
		}
	case ByCrew:
		groups = []string{e.Crew}
	case ByScheme:
		groups = []string{e.Scheme.Name}
	case ByAppliance:
		groups = groups[:0]
		for _, k := range e.Appliances {
			groups = append(groups, string(k))
		}
		if len(groups) == 0 {
			groups = []string{"none"}
		}
	}
	for _, g := range groups {
		k := trendKey{g, e.Phase}
		r := t.rows[k]
		if r == nil {
			r = &gathered{decisions: map[string]int{}, configs: map[string]int{}}
			t.rows[k] = r
		}
		r.homes++
		d := string(e.Decision)
		if d == "" {
			d = "not judged"
		}
		r.decisions[d]++
		for _, n := range e.Measures.Nets {
			r.nets = append(r.nets, n.Pa)
			r.configs[n.Config]++
		}
		r.drafts = append(r.drafts, e.Measures.Drafts...)
		r.spills = append(r.spills, e.Measures.Spills...)
	}
}

// Rows of the trend, sorted by group, then phase from test-in to test-out.
func (t *Trend) Rows() []TrendRow {
	out := []TrendRow{}
	for k, g := range t.rows {
		r := TrendRow{Group: k.group, Phase: k.phase, Homes: g.homes, Decisions: g.decisions, Net: spreadOf(g.nets, slices.Min), Draft: spreadOf(g.drafts, slices.Min), Spill: spreadOf(g.spills, slices.Max), Configs: []ConfigCount{}}
		for c, n := range g.configs {
			r.Configs = append(r.Configs, ConfigCount{c, n})
		}
		slices.SortFunc(r.Configs, func(a, b ConfigCount) int {
			return cmp.Or(b.Zones-a.Zones, cmp.Compare(a.Config, b.Config))
		})
		out = append(out, r)
	}
	order := []procedure.Phase{procedure.TestIn, procedure.Daily, procedure.TestOut}
	slices.SortFunc(out, func(a, b TrendRow) int {
		return cmp.Or(cmp.Compare(a.Group, b.Group), slices.Index(order, a.Phase)-slices.Index(order, b.Phase), cmp.Compare(a.Phase, b.Phase))
	})
	return out
}

func spreadOf(v []float64, worst func([]float64) float64) Spread {
	if len(v) == 0 {
		return Spread{}
	}
	slices.Sort(v)
	at := func(q float64) *float64 {
		p := q * float64(len(v)-1)
		i := int(math.Floor(p))
		x := v[i]
		if i+1 < len(v) {
			x += (p - float64(i)) * (v[i+1] - v[i])
		}
		return &x
	}
	w := worst(v)
	return Spread{N: len(v), Q1: at(0.25), Median: at(0.5), Q3: at(0.75), Worst: &w}
}
