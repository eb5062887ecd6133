package sqlite

import (
	"bytes"
	"compress/gzip"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"cazward/procedure/register"
	"cazward/procedure/register/registertest"
)

func TestStore(t *testing.T) {
	registertest.Run(t, func(t *testing.T) registertest.Opener {
		// A folder whose name could be taken for options of the database.
		path := filepath.Join(t.TempDir(), "a b?mode=memory#%41.db")
		return func(t *testing.T) register.Store {
			s, err := Open(context.Background(), path)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { s.Close() })
			return s
		}
	})
}

// TestOldLayouts opens a register of every layout there was: one home, signed
// and returned, with a label. It is brought up to date and loses nothing.
func TestOldLayouts(t *testing.T) {
	names, err := filepath.Glob("testdata/layout-*.db.gz")
	if err != nil || len(names) == 0 {
		t.Fatal(names, err)
	}
	ctx := context.Background()
	for _, name := range names {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		z, err := gzip.NewReader(f)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(z)
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "old.db")
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := Open(ctx, path)
		if err != nil {
			t.Fatal(name, err)
		}
		defer s.Close()
		page, err := s.Page(ctx, register.Filter{Reason: register.Returned, Label: "kept"}, 0, 10)
		if err != nil || len(page) != 1 {
			t.Fatal(name, page, err)
		}
		if e := page[0]; e.Home != "Acacia 50" || e.Signed != register.ReturnedBy || e.SignNote != "photo of the panel" {
			t.Errorf("%s: %+v", name, e)
		}
		for _, f := range []register.Filter{{Reason: register.Returned, Label: "kept"}, {From: 1, To: page[0].Day}, {Crew: page[0].Crew, From: page[0].Day}} {
			if n, err := s.Count(ctx, f); n != 1 || err != nil {
				t.Errorf("%s: counted %d of %+v, %v", name, n, f, err)
			}
		}
		r, err := s.Kept(ctx, page[0].Key)
		if err != nil {
			t.Fatal(err)
		}
		want, err := os.ReadFile(strings.TrimSuffix(name, ".db.gz") + ".cazward")
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(r.Bytes, want) {
			t.Errorf("%s: the record is not the one that was kept", name)
		}
	}
}
