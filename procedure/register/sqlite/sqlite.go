// Package sqlite keeps a register in one SQLite file beside its write-ahead
// log. [Open] is all there is; several programs may have the file open.
package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"net/url"
	"os"
	"path/filepath"

	_ "modernc.org/sqlite" // the driver

	"cazward/procedure/register"
	"cazward/procedure/register/sqlstore"
)

//go:embed migration/*.sql
var migrations embed.FS

// wait is how long, in milliseconds, a program waits for another's turn.
const wait = 60_000

// Open opens the register in a file, which is made if it is not there, for
// its owner alone. The folder must exist. ":memory:" is one that is forgotten.
func Open(ctx context.Context, path string) (register.Store, error) {
	memory := path == ":memory:"
	if !memory {
		abs, err := filepath.Abs(path)
		if err != nil {
			return nil, err
		}
		path = abs
		f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
		if err != nil {
			return nil, err
		}
		f.Close()
	}
	q := url.Values{"_txlock": {"immediate"}, "_pragma": {
		fmt.Sprintf("busy_timeout(%d)", wait), "journal_mode(WAL)", "synchronous(FULL)", "cache_size(-40000)", "wal_autocheckpoint(8000)", "journal_size_limit(67108864)", "temp_store(memory)", "trusted_schema(0)"}}
	// A path of its own URL: a question mark or a percent sign in a folder's
	// name must not become an option.
	dsn := (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath(), RawQuery: q.Encode()}).String()
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(3)
	if memory {
		db.SetMaxOpenConns(1)
	}
	return sqlstore.Open(ctx, db, sqlstore.Dialect{MaxArgs: 900}, migrations)
}
