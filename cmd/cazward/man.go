//go:build manpages

package main

import (
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// exitStatus is the last part of the first page.
const exitStatus = `

# EXIT STATUS

0 go ahead, as tested today; 1 internal fault; 2 usage; 3 refer: go ahead only
with the service arranged; 4 hold: do not air-seal yet; 5 leave: everyone out;
6 incomplete: no result; 7 input refused; 8 integrity failed; 9 record in use;
130 interrupted. walk and transcribe exit 0 when a record was kept and say the
decision; a danger that empties the house ends walk with 5.`

// packaging are verbs that the shipped program does not have: the library that
// writes the pages costs each start some tenths of a millisecond.
var packaging = []func(*env) *cobra.Command{manCmd}

func manCmd(e *env) *cobra.Command {
	var folder string
	c := &cobra.Command{Use: "man [VERB...]", Hidden: true, Short: "manual pages: of the program, of one verb, or all into a folder",
		Example: "cazward man | man -l -\ncazward man -o pages",
		RunE: func(c *cobra.Command, args []string) error {
			root := c.Root()
			root.Long += exitStatus
			exampled(root)
			if folder != "" {
				if len(args) > 0 {
					return usage("leave the verb out: all pages go into the folder", "-o and a verb do not go together")
				}
				return manAll(root, folder)
			}
			of, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return usage(saying("see the verbs with: %s --help", "cazward"), "there is no verb %q", strings.Join(args, " "))
			}
			return doc.GenMan(of, manHeader(), e.out)
		}}
	c.Flags().StringVarP(&folder, "output", "o", "", "write every page into this `folder`")
	return c
}

// manHeader leaves the date to the generator: today, or SOURCE_DATE_EPOCH.
func manHeader() *doc.GenManHeader {
	return &doc.GenManHeader{Section: "1", Source: "cazward " + version, Manual: "cazward"}
}

// exampled gives every verb the examples that its help shows.
func exampled(c *cobra.Command) {
	c.DisableAutoGenTag = true
	if c.Example == "" {
		c.Example = helpExamples[c.CommandPath()]
	}
	for _, s := range c.Commands() {
		exampled(s)
	}
}

func manAll(root *cobra.Command, folder string) error {
	err := os.MkdirAll(folder, 0o755)
	if err == nil {
		err = doc.GenManTree(root, manHeader(), folder)
	}
	if err != nil {
		return refused("name a folder that may be written", "no manual pages into %s: %s", folder, foreign(cause(err)))
	}
	return nil
}
