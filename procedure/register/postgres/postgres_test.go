package postgres

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"net/url"
	"os"
	"strings"
	"testing"

	"cazward/procedure"
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

// TestOldLayout brings a schema of the first layout, with one home in it, up
// to date: it is found, and counted.
func TestOldLayout(t *testing.T) {
	place := schema(t, server(t))
	ctx := context.Background()
	db, err := sql.Open("pgx", place)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	first, err := migrations.ReadFile("migration/001-register.sql")
	if err != nil {
		t.Fatal(err)
	}
	e := register.Entry{Record: "r1", Home: "Acacia 50", Crew: "AB", Label: "kept", Phase: procedure.TestIn, Day: 20500, Urgency: 2960, Scheme: procedure.Ref{Name: "graded-2005"},
		Reasons: []register.Reason{{Code: register.SaysHold}}, Appliances: []procedure.ApplianceKind{procedure.Furnace, procedure.WaterHeater}}
	body, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range append(strings.Split(string(first), ";\n"),
		"CREATE TABLE layout (version BIGINT PRIMARY KEY, name TEXT NOT NULL)",
		"INSERT INTO layout VALUES (1, 'migration/001-register.sql')",
		"INSERT INTO record VALUES (1, 'r1', 'Acacia 50', 'bytes', 5, 'h', 's', 'closed', 'kept', '', 0, '')",
		"INSERT INTO entry VALUES (1, 'r1', 'Acacia 50', 'kept', 'AB', 'graded-2005', 'test-in', 20500, 2960, '', '"+string(body)+"')",
		"INSERT INTO reason VALUES ('hold', 2960, 20500, 1, 'AB', 'kept', 'graded-2005', 'test-in')",
		"INSERT INTO appliance VALUES ('furnace', 2960, 20500, 1, 'AB', 'kept', 'graded-2005', 'test-in'), ('water-heater', 2960, 20500, 1, 'AB', 'kept', 'graded-2005', 'test-in')") {
		if _, err := db.Exec(q); strings.TrimSpace(q) != "" && err != nil {
			t.Fatal(q, err)
		}
	}
	s, err := Open(ctx, place)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for f, want := range map[register.Filter]int{{}: 1, {Reason: register.SaysHold, Appliance: procedure.Furnace, Label: "kept"}: 1, {From: 20450, To: 20560, Crew: "AB"}: 1, {From: 20501}: 0, {Reason: register.SaysLeave}: 0} {
		if n, err := s.Count(ctx, f); n != want || err != nil {
			t.Errorf("counted %d of %+v, want %d, %v", n, f, want, err)
		}
	}
	if r, err := s.Kept(ctx, 1); err != nil || string(r.Bytes) != "bytes" {
		t.Errorf("kept %q, %v", r.Bytes, err)
	}
	if again, err := Open(ctx, place); err != nil {
		t.Error(err)
	} else {
		again.Close()
	}
}
