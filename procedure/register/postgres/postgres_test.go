package postgres

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/hex"
	"net/url"
	"os"
	"testing"

	"cazward/procedure/register"
	"cazward/procedure/register/registertest"
)

// server is the URL of a PostgreSQL server on which the tests may make
// schemas. Without one they are left out, except where everything must run.
func server(t *testing.T) string {
	t.Helper()
	u := os.Getenv("CAZWARD_TEST_POSTGRES")
	if u == "" {
		if os.Getenv("CAZWARD_REQUIRE_TOOLS") != "" {
			t.Fatal("CAZWARD_TEST_POSTGRES names no server: run .ci/postgres")
		}
		t.Skip("CAZWARD_TEST_POSTGRES names no server: run .ci/postgres")
	}
	return u
}

func TestStore(t *testing.T) {
	at := server(t)
	registertest.Run(t, func(t *testing.T) registertest.Opener {
		place := schema(t, at)
		return func(t *testing.T) register.Store {
			s, err := Open(context.Background(), place)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { s.Close() })
			return s
		}
	})
}

// schema makes an empty schema and returns the URL that leads to it.
func schema(t *testing.T, at string) string {
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
