// Package postgres keeps a register in a PostgreSQL database that several
// machines share. [Open] is all there is.
package postgres

import (
	"context"
	"database/sql"
	"embed"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver

	"cazward/procedure/register"
	"cazward/procedure/register/sqlstore"
)

//go:embed migration/*.sql
var migrations embed.FS

// lock lets one transaction write at a time, on whichever machine. The number
// is arbitrary; it must never change.
const lock = "SELECT pg_advisory_xact_lock(7229002026112501)"

// Open connects to a database by its URL, postgres://user@host/name. Tables
// are made in the schema that the URL's search_path names, public otherwise.
func Open(ctx context.Context, url string) (register.Store, error) {
	db, err := sql.Open("pgx", url)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(8)
	if err := db.PingContext(ctx); err != nil {
		db.Close()
		return nil, err
	}
	return sqlstore.Open(ctx, db, sqlstore.Dialect{Numbered: true, Lock: lock, MaxArgs: 30000, Arrays: true}, migrations)
}
