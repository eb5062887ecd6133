// Package sqlstore keeps a register in a database that speaks SQL. What two
// databases do alike stands here once; register/sqlite and register/postgres
// open theirs and say where they differ.
//
// Records are kept in table record and never deleted. All other tables are
// the index, and can be made again from it.
package sqlstore

import (
	"context"
	"database/sql"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/register"
)

// Dialect is what differs between databases.
type Dialect struct {
	// Numbered placeholders: $1 instead of ?.
	Numbered bool
	// Lock makes a transaction the only one that writes, until it ends. ""
	// where beginning it does.
	Lock string
	// MaxArgs of one statement, at most.
	MaxArgs int
	// Arrays are taken as arguments: the rows of a statement come as one array
	// for each column, so that its text is the same however many they are, and
	// the database prepares it once.
	Arrays bool
}

// Store implements [register.Store].
type Store struct {
	db *sql.DB
	d  Dialect
	// busy gives turns to the writers of this program; the database sees to
	// those of others.
	busy chan struct{}
}

// Newer is the error of an index that a newer version made.
type Newer struct{ Have, Know int }

func (e *Newer) Error() string {
	return fmt.Sprintf("the register has layout %d; this version knows %d", e.Have, e.Know)
}

// Hint says what to do.
func (e *Newer) Hint() string {
	return "use the newest version of cazward that this register is used with"
}

// ExitCode of refused input.
func (e *Newer) ExitCode() int { return 7 }

// Open brings the layout up to date, forward only, and returns the store.
// Closing it closes the database; a failed Open closes it too.
func Open(ctx context.Context, db *sql.DB, d Dialect, migrations embed.FS) (*Store, error) {
	s := &Store{db: db, d: d, busy: make(chan struct{}, 1)}
	if err := s.migrate(ctx, migrations); err != nil {
		db.Close()
		return nil, err
	}
	return s, nil
}

func (s *Store) migrate(ctx context.Context, files embed.FS) error {
	names, err := fs.Glob(files, "migration/*.sql")
	if err != nil {
		return err
	}
	slices.Sort(names)
	have, err := s.layout(ctx, s.db)
	if err == nil && have == len(names) {
		return nil // the usual case takes no lock
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "CREATE TABLE IF NOT EXISTS layout (version BIGINT PRIMARY KEY, name TEXT NOT NULL)"); err != nil {
			return err
		}
		have, err := s.layout(ctx, tx)
		if err != nil {
			return err
		}
		if have > len(names) {
			return &Newer{have, len(names)}
		}
		for i := have; i < len(names); i++ {
			b, err := files.ReadFile(names[i])
			if err != nil {
				return err
			}
			for _, st := range strings.Split(string(b), ";\n") {
				if strings.TrimSpace(st) == "" {
					continue
				}
				if _, err := tx.ExecContext(ctx, st); err != nil {
					return fmt.Errorf("%s: %w", names[i], err)
				}
			}
			if _, err := tx.ExecContext(ctx, s.q("INSERT INTO layout (version, name) VALUES (?, ?)"), i+1, names[i]); err != nil {
				return err
			}
		}
		return nil
	})
}

type querier interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
	QueryRowContext(context.Context, string, ...any) *sql.Row
}

func (s *Store) layout(ctx context.Context, q querier) (int, error) {
	var n int
	err := q.QueryRowContext(ctx, "SELECT coalesce(max(version), 0) FROM layout").Scan(&n)
	return n, err
}

// q writes the placeholders as the database wants them. No text of ours has a
// question mark that is none.
func (s *Store) q(query string) string {
	if !s.d.Numbered {
		return query
	}
	var b strings.Builder
	n := 0
	for i := range len(query) {
		if query[i] == '?' {
			n++
			b.WriteString("$" + strconv.Itoa(n))
			continue
		}
		b.WriteByte(query[i])
	}
	return b.String()
}

// Close the database.
func (s *Store) Close() error { return s.db.Close() }

// write runs do in the one transaction that writes.
func (s *Store) write(ctx context.Context, do func(*sql.Tx) error) error {
	select {
	case s.busy <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-s.busy }()
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if s.d.Lock != "" {
		if _, err := tx.ExecContext(ctx, s.d.Lock); err != nil {
			return err
		}
	}
	if err := do(tx); err != nil {
		return err
	}
	return tx.Commit()
}

const recordColumns = "key, id, home, size, head, sum, state, label, path, added, fault"

func scanRecord(rows *sql.Rows, more ...any) (register.Record, error) {
	var r register.Record
	var added int64
	err := rows.Scan(append([]any{&r.Key, &r.ID, &r.Home, &r.Size, &r.Head, &r.Sum, &r.State, &r.Label, &r.Path, &added, &r.Fault}, more...)...)
	r.Added = time.UnixMilli(added).UTC()
	return r, err
}

// collect runs a query whose last condition is that a column, the last word of
// it, is one of a list, in parts that the database takes.
func collect(ctx context.Context, s *Store, q querier, query string, in []string, row func(*sql.Rows) error) error {
	for part := range slices.Chunk(in, s.d.MaxArgs) {
		err := func() error {
			is, args := among(s, part)
			rows, err := q.QueryContext(ctx, s.q(query+is), args...)
			if err != nil {
				return err
			}
			defer rows.Close()
			for rows.Next() {
				if err := row(rows); err != nil {
					return err
				}
			}
			return rows.Err()
		}()
		if err != nil {
			return err
		}
	}
	return nil
}

// among is the end of a condition: that a column is one of a list.
func among[T any](s *Store, list []T) (string, []any) {
	if s.d.Arrays {
		return " = ANY (?)", []any{list}
	}
	args := make([]any, len(list))
	for i, x := range list {
		args[i] = x
	}
	return " IN (" + marks(len(list)) + ")", args
}

func marks(n int) string { return strings.TrimSuffix(strings.Repeat("?,", n), ",") }

// adding is the state of one Add.
type adding struct {
	s     *Store
	tx    *sql.Tx
	kept  map[string][]register.Record // by id; Bytes only where they are new
	next  int64
	fresh map[int64]bool // inserted here
	items map[int64]register.Item
	order []int64
}

// Add implements [register.Store].
func (s *Store) Add(ctx context.Context, items []register.Item) ([]register.Outcome, error) {
	var out []register.Outcome
	err := s.write(ctx, func(tx *sql.Tx) error {
		a := &adding{s: s, tx: tx, kept: map[string][]register.Record{}, fresh: map[int64]bool{}, items: map[int64]register.Item{}}
		var err error
		out, err = a.all(ctx, items)
		return err
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func (a *adding) all(ctx context.Context, items []register.Item) ([]register.Outcome, error) {
	var ids []string
	for _, it := range items {
		if _, ok := a.kept[it.Record.ID]; !ok {
			a.kept[it.Record.ID] = nil
			ids = append(ids, it.Record.ID)
		}
	}
	err := collect(ctx, a.s, a.tx, "SELECT "+recordColumns+" FROM record WHERE id", ids, func(rows *sql.Rows) error {
		r, err := scanRecord(rows)
		a.kept[r.ID] = append(a.kept[r.ID], r)
		return err
	})
	if err != nil {
		return nil, err
	}
	for _, k := range a.kept {
		slices.SortFunc(k, func(x, y register.Record) int { return int(x.Key - y.Key) })
	}
	if err := a.tx.QueryRowContext(ctx, "SELECT coalesce(max(key), 0) FROM record").Scan(&a.next); err != nil {
		return nil, err
	}
	out := make([]register.Outcome, len(items))
	for i, it := range items {
		if out[i], err = a.one(ctx, it); err != nil {
			return nil, err
		}
	}
	return out, a.save(ctx)
}

func (a *adding) one(ctx context.Context, it register.Item) (register.Outcome, error) {
	kept := a.kept[it.Record.ID]
	rel, at, err := register.Relate(kept, it.Record, func(i int) ([]byte, error) {
		if kept[i].Bytes != nil {
			return kept[i].Bytes, nil
		}
		var b []byte
		err := a.tx.QueryRowContext(ctx, a.s.q("SELECT bytes FROM record WHERE key = ?"), kept[i].Key).Scan(&b)
		return b, err
	})
	if err != nil {
		return register.Outcome{}, err
	}
	if it.Grows != 0 && !(at >= 0 && kept[at].Key == it.Grows && (rel == journal.Growth || rel == journal.Same)) {
		return register.Outcome{}, register.ErrChanged
	}
	switch rel {
	case journal.Same, journal.Older:
		// The file may lie elsewhere now, may have got a label, and what lies
		// beside it may have been mended or lost.
		k := kept[at]
		if rel == journal.Same && (it.Record.Path != "" && it.Record.Path != k.Path || it.Record.Label != "" && it.Record.Label != k.Label || it.Record.Fault != k.Fault) {
			a.keep(k, it, at)
		}
		return register.Outcome{Relation: rel, Key: k.Key}, nil
	case journal.Growth:
		a.keep(kept[at], it, at)
		return register.Outcome{Relation: rel, Key: kept[at].Key}, nil
	}
	a.next++
	it.Record.Key = a.next
	a.fresh[a.next] = true
	a.kept[it.Record.ID] = append(kept, it.Record)
	a.put(it)
	return register.Outcome{Relation: rel, Key: a.next}, nil
}

// keep puts the item in the place of what is kept; a label and a path once
// given stay until others are given.
func (a *adding) keep(k register.Record, it register.Item, at int) {
	it.Record.Key, it.Record.Added = k.Key, k.Added
	if it.Record.Label == "" {
		it.Record.Label = k.Label
	}
	if it.Record.Path == "" {
		it.Record.Path = k.Path
	}
	it.Entry.Label = it.Record.Label
	a.kept[k.ID][at] = it.Record
	a.put(it)
}

func (a *adding) put(it register.Item) {
	it.Entry.Key = it.Record.Key
	if _, ok := a.items[it.Record.Key]; !ok {
		a.order = append(a.order, it.Record.Key)
	}
	a.items[it.Record.Key] = it
}

// save writes records, then the index of all that changed.
func (a *adding) save(ctx context.Context) error {
	if len(a.order) == 0 {
		return nil
	}
	var rows [][]any
	for _, k := range a.order {
		r := a.items[k].Record
		if a.fresh[k] {
			rows = append(rows, []any{r.Key, r.ID, r.Home, notNil(r.Bytes), r.Size, r.Head, r.Sum, string(r.State), r.Label, r.Path, r.Added.UnixMilli(), r.Fault})
			continue
		}
		if _, err := a.tx.ExecContext(ctx, a.s.q("UPDATE record SET bytes = ?, size = ?, head = ?, sum = ?, state = ?, label = ?, path = ?, fault = ? WHERE key = ?"),
			notNil(r.Bytes), r.Size, r.Head, r.Sum, string(r.State), r.Label, r.Path, r.Fault, r.Key); err != nil {
			return err
		}
	}
	if err := a.s.insert(ctx, a.tx, "record", "key, id, home, bytes, size, head, sum, state, label, path, added, fault", rows, ""); err != nil {
		return err
	}
	return a.index(ctx)
}

func notNil(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}

// index writes the index of the items, and that of others whose reasons
// depend on them.
func (a *adding) index(ctx context.Context) error {
	var old []int64
	for _, k := range a.order {
		if !a.fresh[k] {
			old = append(old, k)
		}
	}
	// What an entry was before it changed had relations too.
	ids, homes, prints := map[string]bool{}, map[string]bool{}, map[string]bool{}
	note := func(e register.Entry) {
		ids[e.Record], homes[e.Home] = true, true
		if e.Print != "" {
			prints[e.Print] = true
		}
	}
	was, err := a.s.entries(ctx, a.tx, old)
	if err != nil {
		return err
	}
	before := map[int64]register.Entry{} // as the index has them
	for _, e := range was {
		note(e)
		before[e.Key] = e
	}
	for _, k := range a.order {
		note(a.items[k].Entry)
	}
	all := map[int64]register.Entry{}
	for _, by := range []struct {
		column string
		set    map[string]bool
	}{{"id", ids}, {"home", homes}, {"print", prints}} {
		list := make([]string, 0, len(by.set))
		for x := range by.set {
			list = append(list, x)
		}
		slices.Sort(list)
		where := " WHERE "
		if by.column == "print" {
			where += "print <> '' AND "
		}
		err := collect(ctx, a.s, a.tx, "SELECT key, body FROM entry"+where+by.column, list, func(rows *sql.Rows) error {
			e, err := scanEntry(rows)
			all[e.Key], before[e.Key] = e, e
			return err
		})
		if err != nil {
			return err
		}
	}
	for _, k := range a.order {
		all[k] = a.items[k].Entry
	}
	group := groups(all)
	var change []register.Entry
	for k, e := range all {
		now := register.Cross(e, group(e))
		_, mine := a.items[k]
		if mine || now.Urgency != e.Urgency || !slices.EqualFunc(now.Reasons, e.Reasons, sameReason) {
			change = append(change, now)
		}
	}
	slices.SortFunc(change, func(x, y register.Entry) int { return int(x.Key - y.Key) })
	var del []int64
	count := map[tallyKey]int{}
	for _, e := range change {
		tally(count, e, 1)
		if !a.fresh[e.Key] {
			del = append(del, e.Key)
			if was, ok := before[e.Key]; ok {
				tally(count, was, -1)
			}
		}
	}
	if err := a.s.remove(ctx, a.tx, del, "entry", "reason", "appliance"); err != nil {
		return err
	}
	if err := a.s.remove(ctx, a.tx, old, "snapshot"); err != nil {
		return err
	}
	if err := a.insertIndex(ctx, change); err != nil {
		return err
	}
	return a.s.saveTally(ctx, a.tx, count)
}

// groups returns, for an entry, those others that [register.Cross] needs: all
// of its record id; of its home the last daily test or test-out; of its print
// the first homes by name. So a name that a thousand homes share costs no
// more than one that none shares.
func groups(all map[int64]register.Entry) func(register.Entry) []register.Entry {
	type home struct {
		name     string
		practice bool
	}
	ids, later, prints := map[string][]register.Entry{}, map[home]register.Entry{}, map[home][]register.Entry{}
	for _, e := range all {
		ids[e.Record] = append(ids[e.Record], e)
		h := home{e.Home, e.Practice}
		if last, ok := later[h]; e.Phase != procedure.TestIn && e.Phase != "" && (!ok || e.Day > last.Day || e.Day == last.Day && e.Key < last.Key) {
			later[h] = e
		}
		if e.Print == "" {
			continue
		}
		p := home{e.Print, e.Practice}
		if !slices.ContainsFunc(prints[p], func(o register.Entry) bool { return o.Home == e.Home }) {
			prints[p] = append(prints[p], e)
		}
		slices.SortFunc(prints[p], func(a, b register.Entry) int { return strings.Compare(a.Home, b.Home) })
		prints[p] = prints[p][:min(2, len(prints[p]))]
	}
	return func(e register.Entry) []register.Entry {
		out := slices.Clone(prints[home{e.Print, e.Practice}])
		others := slices.Clone(ids[e.Record])
		if l, ok := later[home{e.Home, e.Practice}]; ok {
			others = append(others, l)
		}
		for _, o := range others {
			if !slices.ContainsFunc(out, func(x register.Entry) bool { return x.Key == o.Key }) {
				out = append(out, o)
			}
		}
		return out
	}
}

func sameReason(a, b register.Reason) bool {
	if a.Code != b.Code || len(a.Args) != len(b.Args) {
		return false
	}
	for k, v := range a.Args {
		if b.Args[k] != v {
			return false
		}
	}
	return true
}

func (a *adding) insertIndex(ctx context.Context, change []register.Entry) error {
	var entries, reasons, appliances, plans, snaps [][]any
	for _, e := range change {
		body, err := json.Marshal(e)
		if err != nil {
			return err
		}
		entries = append(entries, []any{e.Key, e.Record, e.Home, e.Label, e.Crew, e.Scheme.Name, string(e.Phase), e.Day, e.Urgency, e.Print, string(body)})
		seen := map[string]bool{}
		for _, r := range e.Reasons {
			if !seen[string(r.Code)] {
				seen[string(r.Code)] = true
				reasons = append(reasons, []any{string(r.Code), e.Urgency, e.Day, e.Key, e.Crew, e.Label, e.Scheme.Name, string(e.Phase)})
			}
		}
		for _, k := range e.Appliances {
			appliances = append(appliances, []any{string(k), e.Urgency, e.Day, e.Key, e.Crew, e.Label, e.Scheme.Name, string(e.Phase)})
		}
	}
	have := map[string]bool{}
	for _, k := range a.order {
		if sn := a.items[k].Snapshot; sn != nil {
			if !have[sn.PlanSum] {
				have[sn.PlanSum] = true
				plans = append(plans, []any{sn.PlanSum, sn.Plan})
			}
			snaps = append(snaps, []any{k, sn.Form, sn.PlanSum, sn.Data})
		}
	}
	for _, t := range []struct {
		table, columns, conflict string
		rows                     [][]any
	}{
		{"entry", "key, id, home, label, crew, scheme, phase, day, urgency, print, body", "", entries},
		{"reason", "code, urgency, day, key, crew, label, scheme, phase", "", reasons},
		{"appliance", "kind, urgency, day, key, crew, label, scheme, phase", "", appliances},
		{"plan", "sum, data", " ON CONFLICT DO NOTHING", plans},
		{"snapshot", "key, form, plan, data", "", snaps},
	} {
		if err := a.s.insert(ctx, a.tx, t.table, t.columns, t.rows, t.conflict); err != nil {
			return err
		}
	}
	return nil
}

// insert writes many rows with few statements.
func (s *Store) insert(ctx context.Context, tx *sql.Tx, table, columns string, rows [][]any, conflict string) error {
	if len(rows) == 0 {
		return nil
	}
	width := len(rows[0])
	if s.d.Arrays {
		args, types := columnar(rows)
		q := "INSERT INTO " + table + " (" + columns + ") SELECT * FROM unnest(" + strings.Join(types, ", ") + ")" + conflict
		_, err := tx.ExecContext(ctx, s.q(q), args...)
		return err
	}
	one := "(" + marks(width) + ")"
	for part := range slices.Chunk(rows, max(1, s.d.MaxArgs/width)) {
		args := make([]any, 0, len(part)*width)
		for _, r := range part {
			args = append(args, r...)
		}
		q := "INSERT INTO " + table + " (" + columns + ") VALUES " + strings.TrimSuffix(strings.Repeat(one+",", len(part)), ",") + conflict
		if _, err := tx.ExecContext(ctx, s.q(q), args...); err != nil {
			return err
		}
	}
	return nil
}

func (s *Store) remove(ctx context.Context, tx *sql.Tx, keys []int64, tables ...string) error {
	for part := range slices.Chunk(keys, s.d.MaxArgs) {
		is, args := among(s, part)
		for _, t := range tables {
			if _, err := tx.ExecContext(ctx, s.q("DELETE FROM "+t+" WHERE key"+is), args...); err != nil {
				return err
			}
		}
	}
	return nil
}

// columnar turns rows into one array for each column, and says what each is.
func columnar(rows [][]any) (arrays []any, types []string) {
	for c := range rows[0] {
		switch rows[0][c].(type) {
		case string:
			arrays, types = append(arrays, column[string](rows, c)), append(types, "?::text[]")
		case []byte:
			arrays, types = append(arrays, column[[]byte](rows, c)), append(types, "?::bytea[]")
		case int:
			arrays, types = append(arrays, column[int](rows, c)), append(types, "?::bigint[]")
		default:
			arrays, types = append(arrays, column[int64](rows, c)), append(types, "?::bigint[]")
		}
	}
	return arrays, types
}

func column[T any](rows [][]any, c int) []T {
	out := make([]T, len(rows))
	for i, r := range rows {
		out[i] = r[c].(T) // all rows of a table are made by one line of code
	}
	return out
}

func scanEntry(rows *sql.Rows) (register.Entry, error) {
	var key int64
	var body []byte
	var e register.Entry
	if err := rows.Scan(&key, &body); err != nil {
		return e, err
	}
	if err := json.Unmarshal(body, &e); err != nil {
		return e, fmt.Errorf("register: the index of record %d cannot be read: %w", key, err)
	}
	e.Key = key
	return e, nil
}

func (s *Store) entries(ctx context.Context, q querier, keys []int64) ([]register.Entry, error) {
	var out []register.Entry
	for part := range slices.Chunk(keys, s.d.MaxArgs) {
		is, args := among(s, part)
		got, err := s.list(ctx, q, "SELECT key, body FROM entry WHERE key"+is, args...)
		if err != nil {
			return nil, err
		}
		out = append(out, got...)
	}
	return out, nil
}

func (s *Store) list(ctx context.Context, q querier, query string, args ...any) ([]register.Entry, error) {
	rows, err := q.QueryContext(ctx, s.q(query), args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []register.Entry
	for rows.Next() {
		e, err := scanEntry(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	return out, rows.Err()
}

// practiceBands are the urgencies of homes that are not invented.
const practiceBands = "(urgency < 1000000 OR (urgency >= 10000000 AND urgency < 11000000))"

// from is the part of a query that a filter makes: one table that leads, whose
// index gives the order and has all columns that the conditions ask.
func from(f register.Filter) (text string, args []any) {
	table := "entry"
	where := []string{"1 = 1"}
	add := func(cond string, a ...any) {
		where = append(where, cond)
		args = append(args, a...)
	}
	also := func(t, column, value string) {
		add(fmt.Sprintf("EXISTS (SELECT 1 FROM %[1]s x WHERE x.%[2]s = ? AND x.urgency = %[3]s.urgency AND x.day = %[3]s.day AND x.key = %[3]s.key)", t, column, table), value)
	}
	switch reason, kind := string(f.Reason), string(f.Appliance); {
	case f.Home != "": // few: they lead
		add("home = ?", f.Home)
		if reason != "" {
			also("reason", "code", reason)
		}
		if kind != "" {
			also("appliance", "kind", kind)
		}
	case reason != "":
		table = "reason"
		add("code = ?", reason)
		if kind != "" {
			also("appliance", "kind", kind)
		}
	case kind != "":
		table = "appliance"
		add("kind = ?", kind)
	}
	for _, c := range []struct{ column, value string }{{"crew", f.Crew}, {"label", f.Label}, {"scheme", f.Scheme}, {"phase", string(f.Phase)}} {
		if c.value != "" {
			add(c.column+" = ?", c.value)
		}
	}
	if f.From != 0 {
		add("day >= ?", f.From)
	}
	if f.To != 0 {
		add("day <= ?", f.To)
	}
	if !f.Accepted {
		add("urgency < ?", int64(register.WaitsBelow))
	}
	if f.NoPractice {
		add(practiceBands)
	}
	return " FROM " + table + " WHERE " + strings.Join(where, " AND "), args
}

// page reads the keys first, out of an index, then the rows that are shown.
func page(q string) string {
	return "SELECT e.key, e.body FROM (SELECT urgency, day, key" + q + " ORDER BY urgency, day, key LIMIT ?) p JOIN entry e ON e.key = p.key ORDER BY p.urgency, p.day, p.key"
}

// Page implements [register.Store].
func (s *Store) Page(ctx context.Context, f register.Filter, after int64, n int) ([]register.Entry, error) {
	q, args := from(f)
	if after != 0 {
		var urgency, day int64
		err := s.db.QueryRowContext(ctx, s.q("SELECT urgency, day FROM entry WHERE key = ?"), after).Scan(&urgency, &day)
		if errors.Is(err, sql.ErrNoRows) {
			return nil, register.ErrNotFound
		}
		if err != nil {
			return nil, err
		}
		q += " AND (urgency, day, key) > (?, ?, ?)"
		args = append(args, urgency, day, after)
	}
	return s.list(ctx, s.db, page(q), append(args, n)...)
}

// Find implements [register.Store].
func (s *Store) Find(ctx context.Context, id string) ([]register.Entry, error) {
	return s.list(ctx, s.db, "SELECT key, body FROM entry WHERE id = ? ORDER BY key", id)
}

// Known implements [register.Store].
func (s *Store) Known(ctx context.Context, sums []string) (map[string]register.Item, error) {
	out := map[string]register.Item{}
	err := collect(ctx, s, s.db, "SELECT r.key, r.id, r.home, r.size, r.head, r.sum, r.state, r.label, r.path, r.added, r.fault, e.body FROM record r JOIN entry e ON e.key = r.key WHERE r.sum", sums, func(rows *sql.Rows) error {
		var body []byte
		r, err := scanRecord(rows, &body)
		if had, ok := out[r.Sum]; err != nil || ok && had.Record.Key < r.Key {
			return err
		}
		var e register.Entry
		if err := json.Unmarshal(body, &e); err != nil {
			return fmt.Errorf("register: the index of record %d cannot be read: %w", r.Key, err)
		}
		e.Key = r.Key
		out[r.Sum] = register.Item{Record: r, Entry: e}
		return nil
	})
	return out, err
}

// Kept implements [register.Store].
func (s *Store) Kept(ctx context.Context, key int64) (register.Record, error) {
	rows, err := s.db.QueryContext(ctx, s.q("SELECT "+recordColumns+", bytes FROM record WHERE key = ?"), key)
	if err != nil {
		return register.Record{}, err
	}
	defer rows.Close()
	if !rows.Next() {
		return register.Record{}, errors.Join(rows.Err(), register.ErrNotFound)
	}
	var b []byte
	r, err := scanRecord(rows, &b)
	r.Bytes = b
	return r, err
}

// portion is how many rows are held at once where all are gone through.
const portion = 200

// Each implements [register.Store].
func (s *Store) Each(ctx context.Context, after int64, do func(register.Record) error) error {
	for {
		var list []register.Record
		err := func() error {
			rows, err := s.db.QueryContext(ctx, s.q("SELECT "+recordColumns+", bytes FROM record WHERE key > ? ORDER BY key LIMIT ?"), after, portion)
			if err != nil {
				return err
			}
			defer rows.Close()
			for rows.Next() {
				var b []byte
				r, err := scanRecord(rows, &b)
				if err != nil {
					return err
				}
				r.Bytes = b
				list = append(list, r)
			}
			return rows.Err()
		}()
		if err != nil {
			return err
		}
		for _, r := range list {
			if err := do(r); err != nil {
				return err
			}
		}
		if len(list) < portion {
			return nil
		}
		after = list[len(list)-1].Key
	}
}

// Reindex implements [register.Store].
func (s *Store) Reindex(ctx context.Context, items []register.Item) error {
	return s.write(ctx, func(tx *sql.Tx) error {
		a := &adding{s: s, tx: tx, fresh: map[int64]bool{}, items: map[int64]register.Item{}}
		for _, it := range items {
			var sum string
			err := tx.QueryRowContext(ctx, s.q("SELECT sum FROM record WHERE key = ?"), it.Record.Key).Scan(&sum)
			switch {
			case errors.Is(err, sql.ErrNoRows):
				return register.ErrNotFound
			case err != nil:
				return err
			case sum != it.Record.Sum:
				return register.ErrChanged
			}
			a.put(it)
		}
		if len(a.order) == 0 {
			return nil
		}
		return a.index(ctx)
	})
}

// Snapshots implements [register.Store].
func (s *Store) Snapshots(ctx context.Context, f register.Filter, do func(register.Brief, *register.Snapshot) error) error {
	plans := map[string][]byte{}
	var after int64
	for {
		type pair struct {
			e register.Brief
			s *register.Snapshot
		}
		var list []pair
		err := func() error {
			q, args := from(f)
			q = "SELECT e.key, e.body, s.form, s.plan, s.data FROM (SELECT key" + q + " AND key > ? ORDER BY key LIMIT ?) p JOIN entry e ON e.key = p.key LEFT JOIN snapshot s ON s.key = p.key ORDER BY p.key"
			rows, err := s.db.QueryContext(ctx, s.q(q), append(args, after, 5*portion)...)
			if err != nil {
				return err
			}
			defer rows.Close()
			for rows.Next() {
				var p pair
				var key int64
				var body, data []byte
				var form, plan sql.NullString
				if err := rows.Scan(&key, &body, &form, &plan, &data); err != nil {
					return err
				}
				var err error
				if p.e, err = register.NewBrief(key, body); err != nil {
					return fmt.Errorf("register: the index of record %d cannot be read: %w", key, err)
				}
				if form.Valid {
					p.s = &register.Snapshot{Form: form.String, PlanSum: plan.String, Data: data}
				}
				list = append(list, p)
			}
			return rows.Err()
		}()
		if err != nil {
			return err
		}
		for _, p := range list {
			if p.s != nil {
				b, ok := plans[p.s.PlanSum]
				if !ok {
					if err := s.db.QueryRowContext(ctx, s.q("SELECT data FROM plan WHERE sum = ?"), p.s.PlanSum).Scan(&b); err != nil && !errors.Is(err, sql.ErrNoRows) {
						return err
					}
					plans[p.s.PlanSum] = b
				}
				p.s.Plan = b
			}
			if err := do(p.e, p.s); err != nil {
				return err
			}
		}
		if len(list) < 5*portion {
			return nil
		}
		after = list[len(list)-1].e.Key
	}
}

// InForce implements [register.Store].
func (s *Store) InForce(ctx context.Context) (register.InForce, error) {
	var f register.InForce
	var b []byte
	err := s.db.QueryRowContext(ctx, s.q("SELECT value FROM setting WHERE name = ?"), "in-force").Scan(&b)
	if errors.Is(err, sql.ErrNoRows) {
		return f, nil
	}
	if err == nil {
		err = json.Unmarshal(b, &f)
	}
	return f, err
}

// PutInForce implements [register.Store].
func (s *Store) PutInForce(ctx context.Context, f register.InForce) error {
	b, err := json.Marshal(f)
	if err != nil {
		return err
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, s.q("INSERT INTO setting (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value"), "in-force", string(b))
		return err
	})
}
