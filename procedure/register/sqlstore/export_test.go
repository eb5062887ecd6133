package sqlstore

import (
	"context"

	"cazward/procedure/register"
)

// Explain returns how SQLite reads a page of the filter, its count, and the
// count of two days of it.
func (s *Store) Explain(ctx context.Context, f register.Filter) (pageOf, count, days []string, err error) {
	q, args := from(f)
	plan := func(q string, args ...any) (out []string, err error) {
		rows, err := s.db.QueryContext(ctx, "EXPLAIN QUERY PLAN "+q, args...)
		if err != nil {
			return nil, err
		}
		defer rows.Close()
		for rows.Next() {
			var a, b, c int
			var text string
			if err := rows.Scan(&a, &b, &c, &text); err != nil {
				return nil, err
			}
			out = append(out, text)
		}
		return out, rows.Err()
	}
	if pageOf, err = plan(page(q), append(append([]any{}, args...), 50)...); err != nil {
		return nil, nil, nil, err
	}
	q, args = tallied(f, noFirst, noLast)
	if count, err = plan(q, args...); err != nil {
		return nil, nil, nil, err
	}
	f.From, f.To = 20000, 20001
	q, args = from(f)
	days, err = plan("SELECT count(*)"+q, args...)
	return pageOf, count, days, err
}
