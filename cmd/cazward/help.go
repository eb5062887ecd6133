package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// What a person may type, where the verb's own line does not show it.
var helpExamples = map[string]string{
	"cazward walk": `cazward walk                         from the first screen
cazward walk maple-63-test-in-2026-03-02.cazward
                                     go on where it stopped
cazward walk --phase test-out --after maple-63-test-in-2026-03-02.cazward
cazward walk --plain < answers.txt   answers from a pipe, one a line`,
	"cazward show":           `cazward show maple-63-test-in-2026-03-02.cazward`,
	"cazward judge":          `cazward judge --all-schemes *.cazward`,
	"cazward report":         `cazward report maple-63-test-in-2026-03-02.cazward -o maple-63.pdf`,
	"cazward transcribe":     `cazward transcribe maple-63.sheet.yaml -o maple-63.cazward`,
	"cazward verify":         `cazward verify *.cazward`,
	"cazward airfree":        `cazward airfree --co 87 --o2 5`,
	"cazward convert":        `cazward convert -5 Pa inH2O`,
	"cazward limits show":    `cazward limits show graded-2005`,
	"cazward limits check":   `cazward limits check our-program.yaml`,
	"cazward limits explain": `cazward limits explain maple-63-test-in-2026-03-02.cazward`,
}

// What stands for the value of a flag in help, where its type says too little.
var helpValues = map[string]string{
	"after": "RECORD", "before": "RECORD", "output": "FILE", "limits": "FILE", "log": "FILE", "scheme": "NAME", "home": "NAME", "tester": "INITIALS",
	"reopen": "REASON", "phase": "PHASE", "size": "SIZE", "expect": "HASH", "co": "PPM", "o2": "PERCENT", "register": "KIND:FILE",
}

// dressHelp gives every verb the same short help, 79 columns wide.
func dressHelp(root *cobra.Command) {
	root.SuggestionsMinimumDistance = 2
	for _, c := range root.Commands() {
		c.SuggestionsMinimumDistance = 2
		if c.HasSubCommands() && !c.Runnable() { // else a misspelt verb is taken for a call for help
			c.Args = cobra.NoArgs
			c.RunE = func(c *cobra.Command, _ []string) error { return c.Help() }
		}
	}
	root.SetHelpFunc(func(c *cobra.Command, _ []string) {
		text := c.Long
		if text == "" {
			text = lowered(c.Short)
		}
		fmt.Fprintf(c.OutOrStdout(), "%s\n\n%s", strings.TrimSpace(text), helpText(c))
	})
	root.SetUsageFunc(func(c *cobra.Command) error {
		_, err := fmt.Fprint(c.OutOrStderr(), helpText(c))
		return err
	})
}

func helpText(c *cobra.Command) string {
	var b strings.Builder
	use := c.UseLine()
	if c.HasAvailableSubCommands() {
		use = c.CommandPath() + " VERB"
	}
	b.WriteString(helpLine("usage:", use, 7))
	example := c.Example
	if example == "" {
		example = helpExamples[c.CommandPath()]
	}
	if example != "" {
		fmt.Fprintf(&b, "\nfor example:\n  %s\n", strings.ReplaceAll(example, "\n", "\n  "))
	}
	if c.HasAvailableSubCommands() {
		b.WriteString("\nverbs:\n")
		for _, s := range c.Commands() {
			if s.IsAvailableCommand() {
				b.WriteString(helpLine("  "+s.Name(), lowered(s.Short), 14))
			}
		}
	}
	flags := ""
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden {
			flags += helpFlag(f)
		}
	})
	if flags != "" {
		fmt.Fprintf(&b, "\nflags:\n%s", flags)
	}
	if c.HasAvailableSubCommands() {
		fmt.Fprintf(&b, "\nmore on one of them: %s VERB --help\n", c.CommandPath())
	}
	return b.String()
}

func helpFlag(f *pflag.Flag) string {
	value, usage := pflag.UnquoteUsage(f)
	if v := helpValues[f.Name]; v != "" && f.Value.Type() != "bool" && !strings.Contains(f.Usage, "`") {
		value = v
	}
	name := "      --" + f.Name
	if f.Shorthand != "" {
		name = "  -" + f.Shorthand + ", --" + f.Name
	}
	if value != "" {
		name += " " + value
	}
	switch f.Name {
	case "help":
		usage = "this text"
	case "version":
		usage = "print the version"
	}
	switch f.DefValue {
	case "", "false", "0", "[]":
	default:
		usage += "; without it " + f.DefValue
	}
	return helpLine(name, lowered(usage), 30)
}

// helpLine sets a text beside a name, wrapped, or below a name that is long.
func helpLine(name, text string, at int) string {
	line := name + strings.Repeat(" ", max(1, at-len(name)))
	var b strings.Builder
	for _, w := range strings.Fields(text) {
		if len(line)+len(w) > 79 {
			b.WriteString(strings.TrimRight(line, " ") + "\n")
			line = strings.Repeat(" ", at)
		}
		line += w + " "
	}
	return b.String() + strings.TrimRight(line, " ") + "\n"
}

func lowered(s string) string {
	if len(s) > 1 && s[1] >= 'a' && s[1] <= 'z' {
		return strings.ToLower(s[:1]) + s[1:]
	}
	return s
}

// badCommand words what the flag library says of a command line that it did
// not take: which verb, how it is used, what was perhaps meant. nil is an
// error of another kind.
func badCommand(c *cobra.Command, args []string, err error) error {
	s, _, _ := strings.Cut(err.Error(), "\n")
	switch {
	case strings.HasPrefix(s, "unknown command") && !c.HasAvailableSubCommands():
		return usage(saying("see: %s --help", c.CommandPath()), "%s takes no name; usage: %s", c.CommandPath(), c.UseLine())
	case strings.HasPrefix(s, "unknown command"):
		hint := saying("see the verbs with: %s --help", c.CommandPath())
		for _, a := range args {
			if near := c.SuggestionsFor(a); a != "" && len(near) > 0 && strings.Contains(s, fmt.Sprintf("%q", a)) {
				hint = saying("did you mean: %s %s", c.CommandPath(), near[0])
			}
		}
		return usage(hint, "%s", foreign(s))
	case strings.Contains(s, "arg(s)"):
		see := saying("see: %s --help", c.CommandPath())
		switch n := s[strings.LastIndexByte(s, ' ')+1:]; n {
		case "0":
			return usage(see, "no names were given; usage: %s", c.UseLine())
		case "1":
			return usage(see, "1 name was given; usage: %s", c.UseLine())
		default:
			return usage(see, "%s names were given; usage: %s", n, c.UseLine())
		}
	}
	return nil
}
