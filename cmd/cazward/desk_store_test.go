package main

import (
	"crypto/rand"
	"database/sql"
	"encoding/hex"
	"net/url"
	"testing"
)

// postgresSchema makes an empty schema on a server and returns the URL that
// leads to it.
func postgresSchema(t testing.TB, at string) string {
	t.Helper()
	var b [8]byte
	rand.Read(b[:])
	name := "test_" + hex.EncodeToString(b[:])
	db, err := sql.Open("pgx", at)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE SCHEMA " + name); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if _, err := db.Exec("DROP SCHEMA " + name + " CASCADE"); err != nil {
			t.Error(err)
		}
		db.Close()
	})
	u, err := url.Parse(at)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	q.Set("search_path", name)
	u.RawQuery = q.Encode()
	return u.String()
}

// layout runs a statement on a register's file, as no version of ours would.
func layout(t testing.TB, file, statement string) {
	t.Helper()
	db, err := sql.Open("sqlite", file)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(statement); err != nil {
		t.Fatal(err)
	}
}
