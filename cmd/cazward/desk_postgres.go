//go:build !field

package main

import (
	"context"

	"cazward/procedure/register"
	"cazward/procedure/register/postgres"
)

func openPostgres(ctx context.Context, url string) (register.Store, error) {
	return postgres.Open(ctx, url)
}
