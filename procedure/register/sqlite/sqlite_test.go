package sqlite

import (
	"context"
	"path/filepath"
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
