package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"cazward/procedure/journal/disk"
	"cazward/procedure/practice"
)

func drillNewCmd(e *env) *cobra.Command {
	var out string
	c := &cobra.Command{Use: "new", Short: "a commented house file to start from",
		Long: `new writes a small house, each key explained, that drill check accepts as it is
and drill play walks. Without -o it goes to standard output.`, Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if out == "" || out == "-" {
				_, err := e.out.Write(practice.HouseTemplate())
				return err
			}
			if _, err := os.Lstat(out); err == nil {
				return refused("name another file", "%s exists, and is not written over", out)
			}
			if err := disk.WriteFile(out, func(w io.Writer) error { _, err := w.Write(practice.HouseTemplate()); return err }); err != nil {
				return err
			}
			fmt.Fprintln(e.err, e.say("wrote %s; look at it with: cazward drill check %s", out, shellName(out)))
			return nil
		}}
	c.Flags().StringVarP(&out, "output", "o", "", "file to write, my-house.house.yaml")
	return c
}
