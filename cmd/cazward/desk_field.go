//go:build field

package main

import (
	"context"

	"github.com/spf13/cobra"

	"cazward/procedure/register"
)

// openPostgres is left out of the field build, which holds no network code.
func openPostgres(context.Context, string) (register.Store, error) {
	return nil, usage("use --register sqlite:FILE, or the full build", "this build has no PostgreSQL")
}

// serveCmd is left out of the field build, which holds no network code.
func (d *desk) serveCmd() *cobra.Command {
	return &cobra.Command{Use: "serve", Short: "not in this build: the web page", DisableFlagParsing: true,
		RunE: func(*cobra.Command, []string) error {
			return usage("use desk queue, desk open and desk sign, or the full build", "this build has no web page")
		}}
}
