//go:build field

package main

import (
	"context"

	"cazward/procedure/register"
)

// openPostgres is left out of the field build, which holds no network code.
func openPostgres(context.Context, string) (register.Store, error) {
	return nil, usage("use --register sqlite:FILE, or the full build", "this build has no PostgreSQL")
}
