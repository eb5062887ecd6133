package main

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/register"
	"cazward/procedure/wording"
	reports "cazward/report"
)

// rejudged is a home whose decision changes. Keys are append-only.
type rejudged struct {
	ID   string             `json:"record_id"`
	Home string             `json:"home_id"`
	Was  procedure.Decision `json:"was"`
	Now  procedure.Decision `json:"now"`
	Why  []string           `json:"why"`
	key  int64
}

// rejudging is the whole answer.
type rejudging struct {
	Homes     []rejudged     `json:"homes"`
	Total     int            `json:"total"`
	Changed   int            `json:"changed"`
	NotJudged int            `json:"not_judged"`
	Steps     map[string]int `json:"changes"` // "proceed > hold": how many
}

func (d *desk) rejudgeCmd() *cobra.Command {
	var asJSON bool
	var q filterFlags
	c := &cobra.Command{Use: "rejudge", Short: "which homes would be decided otherwise under other limits, and why; changes nothing", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			force, given, err := d.asked()
			if err != nil {
				return err
			}
			f, err := q.filter()
			if err != nil {
				return err
			}
			f.Accepted = true // what was accepted under other limits too
			s, err := d.open(false)
			if err != nil {
				return err
			}
			defer s.Close()
			was := d.by
			if given {
				d.by = &judgeBy{force: force}
			}
			out, err := d.rejudge(s, f, was)
			if err != nil {
				return d.wrong(err)
			}
			if asJSON {
				return writeJSON(d.e.out, out)
			}
			return out.write(d)
		}}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	d.ruleFlags(c, "judge")
	c.Flags().StringVar(&q.f.Crew, "crew", "", "initials of the tester")
	c.Flags().StringVar(&q.f.Label, "label", "", "label given when it was added")
	c.Flags().StringVar(&q.from, "from", "", "first day of the test, YYYY-MM-DD")
	c.Flags().StringVar(&q.to, "to", "", "last day of the test, YYYY-MM-DD")
	return c
}

func (r *rejudging) write(d *desk) error {
	for _, h := range r.Homes {
		if err := wrapped(d.e.out, "", d.says("rejudge.home", "home", reports.Clean(h.Home), "id", reports.Clean(h.ID), "was", wording.DeskDecision(d.l(), h.Was), "now", wording.DeskDecision(d.l(), h.Now))); err != nil {
			return err
		}
		for _, w := range h.Why {
			if err := wrapped(d.e.out, "    - ", reports.Clean(w)); err != nil {
				return err
			}
		}
	}
	var steps []string
	for k := range r.Steps {
		steps = append(steps, k)
	}
	slices.Sort(steps)
	for _, k := range steps {
		was, now, _ := strings.Cut(k, " > ")
		fmt.Fprintf(d.e.out, "%6d  %s > %s\n", r.Steps[k], wording.DeskDecision(d.l(), wordOf(was)), wording.DeskDecision(d.l(), wordOf(now)))
	}
	_, err := fmt.Fprintln(d.e.out, d.says("rejudge.total", "n", fmt.Sprint(r.Changed), "of", fmt.Sprint(r.Total), "not", fmt.Sprint(r.NotJudged)))
	return err
}

func word(x procedure.Decision) string {
	if x == procedure.NoDecision {
		return "not judged"
	}
	return string(x)
}

// wordOf is the decision that [word] names.
func wordOf(s string) procedure.Decision {
	if s == word(procedure.NoDecision) {
		return procedure.NoDecision
	}
	return procedure.Decision(s)
}

type snap struct {
	e register.Brief
	s *register.Snapshot
}

func (d *desk) rejudge(s register.Store, f register.Filter, was *judgeBy) (*rejudging, error) {
	total, err := s.Count(d.e.ctx, f)
	if err != nil {
		return nil, err
	}
	bar := newProgress(d.e, d.e.say("judging"), total)
	defer bar.end()
	ctx, stop := context.WithCancel(d.e.ctx)
	defer stop()
	out := &rejudging{Homes: []rejudged{}, Steps: map[string]int{}}
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(heapLimit))
	work := make(chan []snap, 12) // the register sends on while homes are judged
	var wg sync.WaitGroup
	var mu sync.Mutex
	var failed error
	for range runtime.GOMAXPROCS(0) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			var op register.Opener
			for list := range work {
				for _, x := range list {
					r, judged, err := d.again(ctx, s, &op, x, was)
					mu.Lock()
					out.Total++
					switch {
					case err != nil && failed == nil:
						failed = err
						stop()
					case !judged:
						out.NotJudged++
					}
					if r != nil {
						out.Changed++
						out.Steps[word(r.Was)+" > "+word(r.Now)]++
						out.Homes = append(out.Homes, *r)
					}
					bar.at(out.Total)
					mu.Unlock()
				}
			}
		}()
	}
	var part []snap
	send := func() error {
		select {
		case work <- part:
			part = nil
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	err = s.Snapshots(ctx, f, func(e register.Brief, sn *register.Snapshot) error {
		if part = append(part, snap{e, sn}); len(part) >= 100 {
			return send()
		}
		return nil
	})
	if err == nil && len(part) > 0 {
		err = send()
	}
	close(work)
	wg.Wait()
	if failed != nil {
		return nil, failed
	}
	slices.SortFunc(out.Homes, func(a, b rejudged) int {
		if a.Now != b.Now { // most protective first
			if b.Now.Milder(a.Now) {
				return -1
			}
			return 1
		}
		return int(a.key - b.key)
	})
	return out, err
}

// again judges one home anew. A snapshot of another form is made again from
// the record. Nil: the decision stays.
func (d *desk) again(ctx context.Context, s register.Store, op *register.Opener, x snap, was *judgeBy) (*rejudged, bool, error) {
	o, err := op.Open(x.s)
	if err != nil {
		r, err := s.Kept(ctx, x.e.Key)
		if err != nil {
			return nil, false, err
		}
		it, err := d.item("", r.Bytes, "", "")
		if err != nil || it.Snapshot == nil {
			return nil, false, nil // damaged: nothing to judge, now as before
		}
		if o, err = op.Open(it.Snapshot); err != nil {
			return nil, false, nil
		}
	}
	rules, err := d.by.rulesFor(o.Plan.Scheme.Name)
	if err != nil {
		return nil, false, nil
	}
	j := evaluation.Judge(o, rules)
	if j.Decision == x.e.Decision {
		return nil, true, nil
	}
	e, err := x.e.Entry()
	if err != nil {
		return nil, false, err
	}
	r := &rejudged{ID: idOf(e, several(e)), Home: e.Home, Was: e.Decision, Now: j.Decision, Why: []string{}, key: e.Key}
	r.Why = d.whyChanged(o, j, was)
	return r, true, nil
}

// whyChanged says which findings carry the new decision and did not stand so
// before, and which that carried the old one are gone.
func (d *desk) whyChanged(o procedure.Observations, now procedure.Judgement, before *judgeBy) []string {
	names := func(id string) string { return nameOf(o, id) }
	say := func(f procedure.Finding) string {
		t := wording.Reason(d.l(), f, names)
		if f.Row != "" {
			t += " (" + f.Row + ")"
		}
		return t
	}
	was := procedure.Judgement{}
	if rules, err := before.rulesFor(o.Plan.Scheme.Name); err == nil {
		was = evaluation.Judge(o, rules)
	}
	same := func(f procedure.Finding, list []procedure.Finding) bool {
		return slices.ContainsFunc(list, func(g procedure.Finding) bool {
			return g.Rule == f.Rule && g.Subject == f.Subject && g.Verdict == f.Verdict && g.Severity == f.Severity && g.Detail == f.Detail
		})
	}
	why := []string{}
	for _, f := range now.Findings {
		if f.Severity == now.Decision && !same(f, was.Findings) {
			why = append(why, d.says("why.now", "what", say(f)))
		}
	}
	for _, f := range was.Findings {
		if f.Severity == was.Decision && !same(f, now.Findings) {
			why = append(why, d.says("why.before", "what", say(f)))
		}
	}
	if now.Decision == procedure.Incomplete && len(why) == 0 {
		for _, m := range now.Missing {
			why = append(why, d.says("why.missing", "what", wording.MissingText(d.l(), m, names)))
		}
	}
	if len(why) == 0 {
		why = append(why, d.says("why.alike"))
	}
	return why
}
