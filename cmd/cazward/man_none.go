//go:build !manpages

package main

import "github.com/spf13/cobra"

// packaging are verbs of the build that makes a release alone; see man.go.
var packaging []func(*env) *cobra.Command
