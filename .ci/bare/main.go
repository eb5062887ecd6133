// Command bare is the least program of the command library that cazward uses:
// what a start costs before cazward does anything.
package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"
)

func main() {
	root := &cobra.Command{Use: "bare"}
	root.AddCommand(&cobra.Command{Use: "version", Run: func(*cobra.Command, []string) { fmt.Println("bare") }})
	if root.Execute() != nil {
		os.Exit(1)
	}
}
