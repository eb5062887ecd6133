package sqlstore

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strings"

	"cazward/procedure/register"
)

// spanDays is how many days count as one in table tally. Migrations have the
// number too: it must never change.
const spanDays = 28

// tallyKey is what entries that are counted together have in common.
type tallyKey struct {
	code, kind, crew, label, scheme, phase string
	span, band                             int
}

// bandOf an urgency, as filters tell them apart: what waits, what waits of
// invented houses, what was accepted of either.
func bandOf(urgency int64) int {
	switch {
	case urgency < register.InventedFrom:
		return 0
	case register.Waits(urgency):
		return 1
	case urgency < register.WaitsBelow+register.InventedFrom:
		return 2
	}
	return 3
}

// tally adds n for all that an entry is counted under.
func tally(count map[tallyKey]int, e register.Entry, n int) {
	k := tallyKey{crew: e.Crew, label: e.Label, scheme: e.Scheme.Name, phase: string(e.Phase), span: e.Day / spanDays, band: bandOf(e.Urgency)}
	codes, kinds := []string{""}, []string{""}
	for _, r := range e.Reasons {
		if !slices.Contains(codes, string(r.Code)) {
			codes = append(codes, string(r.Code))
		}
	}
	for _, a := range e.Appliances {
		if !slices.Contains(kinds, string(a)) {
			kinds = append(kinds, string(a))
		}
	}
	for _, k.code = range codes {
		for _, k.kind = range kinds {
			count[k] += n
		}
	}
}

// saveTally adds counts to those that are kept.
func (s *Store) saveTally(ctx context.Context, tx *sql.Tx, count map[tallyKey]int) error {
	rows := make([][]any, 0, len(count))
	keys := make([]tallyKey, 0, len(count))
	for k, n := range count {
		if n != 0 {
			keys = append(keys, k)
		}
	}
	slices.SortFunc(keys, func(a, b tallyKey) int { // as the table has them
		return cmp.Or(strings.Compare(a.code, b.code), strings.Compare(a.kind, b.kind), a.span-b.span, strings.Compare(a.crew, b.crew))
	})
	for _, k := range keys {
		rows = append(rows, []any{k.code, k.kind, k.span, k.crew, k.label, k.scheme, k.phase, k.band, count[k]})
	}
	return s.insert(ctx, tx, "tally", "code, kind, span, crew, label, scheme, phase, band, n", rows, " ON CONFLICT (code, kind, span, crew, label, scheme, phase, band) DO UPDATE SET n = tally.n + excluded.n")
}

// Count implements [register.Store]. Whole spans of days are counted in table
// tally, the days at either end one by one.
func (s *Store) Count(ctx context.Context, f register.Filter) (int, error) {
	sum := func(q string, args []any) (int, error) {
		var n int
		err := s.db.QueryRowContext(ctx, s.q(q), args...).Scan(&n)
		return n, err
	}
	direct := func(f register.Filter) (int, error) {
		q, args := from(f)
		return sum("SELECT count(*)"+q, args)
	}
	first, last, whole := spans(f.From, f.To)
	if f.Home != "" || !whole { // few
		return direct(f)
	}
	total, err := sum(tallied(f, first, last))
	if err != nil {
		return 0, err
	}
	ends := []register.Filter{}
	if f.From != 0 && f.From < first*spanDays {
		e := f
		e.To = first*spanDays - 1
		ends = append(ends, e)
	}
	if f.To != 0 && f.To >= (last+1)*spanDays {
		e := f
		e.From = (last + 1) * spanDays
		ends = append(ends, e)
	}
	for _, e := range ends {
		n, err := direct(e)
		if err != nil {
			return 0, err
		}
		total += n
	}
	return total, nil
}

// spans are the first and the last span that lie whole between two days, 0
// for no bound. Span 0 goes from 27 days before day 0 to 27 after and is only
// whole where nothing bounds it.
func spans(from, to int) (first, last int, whole bool) {
	if from < 0 || to < 0 {
		return 0, 0, false
	}
	first, last = (from+spanDays-1)/spanDays, (to+1)/spanDays-1
	if from == 0 {
		first = noFirst
	}
	if to == 0 {
		last = noLast
	}
	return first, last, first <= last && (to == 0 || last >= 1) && (from == 0 || first >= 1)
}

// noFirst and noLast are beyond all spans.
const noFirst, noLast = -1 << 31, 1 << 31

func tallied(f register.Filter, first, last int) (string, []any) {
	q := "SELECT coalesce(sum(n), 0) FROM tally WHERE code = ? AND kind = ?"
	args := []any{string(f.Reason), string(f.Appliance)}
	add := func(cond string, a any) {
		q += " AND " + cond
		args = append(args, a)
	}
	if first != noFirst {
		add("span >= ?", first)
	}
	if last != noLast {
		add("span <= ?", last)
	}
	for _, c := range []struct{ column, value string }{{"crew", f.Crew}, {"label", f.Label}, {"scheme", f.Scheme}, {"phase", string(f.Phase)}} {
		if c.value != "" {
			add(c.column+" = ?", c.value)
		}
	}
	if !f.Accepted {
		q += " AND band < 2"
	}
	if f.NoPractice {
		q += " AND band IN (0, 2)"
	}
	return q, args
}
