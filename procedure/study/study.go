package study

import (
	"context"
	"errors"
	"math"
	"runtime"
	"slices"
	"sync"

	"cazward/procedure"
	"cazward/procedure/sequence"
)

// Near is how close to the true worst case, Pa, counts as having found it.
const Near = 0.5

// Way is one way of searching: a plan, and what it is called.
type Way struct {
	Scheme string
	Order  string
	Plan   procedure.Plan
}

// Orders, from the barest.
const (
	Published = "published" // as the scheme's own text has it
	Asked     = "asked"     // with the air handler tried in both positions of the CAZ door, as the walk asks it
	Suggested = "suggested" // and with the readings that the walk suggests after it, each of them taken
)

// Ways of a scheme's plan.
func Ways(scheme string, plan procedure.Plan) []Way {
	bare, asked := plan, plan
	bare.AirHandler.WithCAZDoor = false
	bare.More, asked.More = 0, 0
	return []Way{{scheme, Published, bare}, {scheme, Asked, asked}, {scheme, Suggested, plan}}
}

// Row is what one way of searching came to in all houses, under one noise.
// Shares are of the houses, 0 to 1; shortfalls are pascals by which what was held
// is milder than the true worst case.
type Row struct {
	Scheme   string  `json:"scheme"`
	Order    string  `json:"order"`
	Noise    Noise   `json:"noise"`
	Houses   int     `json:"houses"`
	Held     float64 `json:"share_held_near"` // within Near of the true worst case: the configuration that was held
	Found    float64 `json:"share_read_near"` // the same, of the lowest that was read at all
	Short    Spread  `json:"shortfall_pa"`
	Readings Count   `json:"readings"`
	Extra    Count   `json:"suggested_readings"`
	Flips    float64 `json:"share_flipped"`       // the walk passes the zone, and by the same comparison the true worst case does not pass
	Beyond   float64 `json:"share_passed_beyond"` // of those, the true worst case is beyond the limit itself
	Classes  []int   `json:"houses_by_shortfall"` // up to 0.5, 1, 2, 4 Pa, and more
	Missed   []int   `json:"missed"`              // numbers of the first houses that were missed, 20 at most
}

// Spread of a figure over the houses, Pa.
type Spread struct {
	P50 float64 `json:"p50"`
	P90 float64 `json:"p90"`
	P95 float64 `json:"p95"`
	P99 float64 `json:"p99"`
	Max float64 `json:"max"`
}

// Count of readings over the houses.
type Count struct {
	Median int `json:"median"`
	Most   int `json:"most"`
}

// Steps between the classes of shortfall, Pa.
var classes = []float64{Near, 1, 2, 4}

// Report of a study.
type Report struct {
	Seed   uint64  `json:"seed"`
	Houses int     `json:"houses"`
	Worst  Spread  `json:"true_worst_pa"` // depth of the true worst case, as a positive figure
	Failed float64 `json:"share_beyond_limit"`
	Rows   []Row   `json:"rows"`
}

// Limits judges the zone of a house: the strictest limit, Pa, false for none.
type Limits func(appliances []procedure.Appliance) (procedure.Bound, bool)

// Run walks houses numbers 0 to houses-1 of a seed by each way. limits is the
// yardstick for all of them. The same arguments give the same report.
func Run(ctx context.Context, seed uint64, houses int, ways []Way, limits Limits) (Report, error) {
	type outcome struct {
		worst  float64
		bound  procedure.Bound
		judged bool
		walks  []Walked // by way and noise
		err    error
	}
	noises := []Noise{Still, Windy}
	all := make([]outcome, houses)
	var wg sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				o := &all[i]
				s, err := NewSubject(seed, uint64(i))
				if err != nil {
					o.err = err
					continue
				}
				o.worst = s.Worst
				for _, w := range ways {
					var st *sequence.State
					if st, o.err = s.Begin(w.Plan); o.err != nil {
						break
					}
					o.bound, o.judged = limits(st.Appliances())
					for _, n := range noises {
						r, err := s.Walk(st, n)
						o.err = errors.Join(o.err, err)
						o.walks = append(o.walks, r)
					}
				}
			}
		}()
	}
	for i := range houses {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	wg.Wait()
	rep := Report{Seed: seed, Houses: houses}
	if ctx.Err() != nil {
		return rep, ctx.Err()
	}
	var depth []float64
	for i := range all {
		if all[i].err != nil {
			return rep, all[i].err
		}
		depth = append(depth, -all[i].worst)
		if all[i].judged && all[i].bound.Side(all[i].worst, 0) == procedure.SideBeyond {
			rep.Failed += 1 / float64(houses)
		}
	}
	rep.Worst = spread(depth)
	for i, w := range ways {
		for k, n := range noises {
			row := Row{Scheme: w.Scheme, Order: w.Order, Noise: n, Houses: houses, Classes: make([]int, len(classes)+1), Missed: []int{}}
			var short []float64
			var read, extra []int
			held, found, flips, beyond := 0, 0, 0, 0
			for h := range all {
				o, x := &all[h], all[h].walks[i*len(noises)+k]
				gap := x.Held - o.worst
				short, read, extra = append(short, gap), append(read, x.Readings), append(extra, x.Extra)
				c, _ := slices.BinarySearchFunc(classes, gap, func(at, gap float64) int {
					if gap <= at {
						return 1
					}
					return -1
				})
				row.Classes[c]++
				if gap <= Near {
					held++
				} else if len(row.Missed) < 20 {
					row.Missed = append(row.Missed, h)
				}
				if x.Found-o.worst <= Near {
					found++
				}
				if o.judged && o.bound.Side(x.Net, x.U) == procedure.SideInside && o.bound.Side(o.worst, x.U) != procedure.SideInside {
					flips++
					if o.bound.Side(o.worst, 0) == procedure.SideBeyond {
						beyond++
					}
				}
			}
			part := func(n int) float64 { return float64(n) / float64(houses) }
			row.Held, row.Found, row.Flips, row.Beyond = part(held), part(found), part(flips), part(beyond)
			row.Short, row.Readings, row.Extra = spread(short), count(read), count(extra)
			rep.Rows = append(rep.Rows, row)
		}
	}
	return rep, nil
}

func at(n int, p float64) int { return int(math.Ceil(p*float64(n))) - 1 }

func spread(v []float64) Spread {
	if len(v) == 0 {
		return Spread{}
	}
	slices.Sort(v)
	q := func(p float64) float64 { return max(0, v[max(0, at(len(v), p))]) }
	return Spread{q(0.5), q(0.9), q(0.95), q(0.99), max(0, v[len(v)-1])}
}

func count(v []int) Count {
	if len(v) == 0 {
		return Count{}
	}
	slices.Sort(v)
	return Count{v[max(0, at(len(v), 0.5))], v[len(v)-1]}
}
