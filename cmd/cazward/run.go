package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"cazward/forms/terminal"
	"cazward/procedure/wording"
)

// version is stamped at build time.
var version = "dev"

// env is all that a verb may touch of the world.
type env struct {
	in       io.Reader
	out, err io.Writer
	now      func() time.Time
	mono     func() int64
	id       func() string // a new record id
	terminal bool          // a person at a terminal on both sides
	ctx      context.Context
	plain    bool
	lang     wording.Lang // of what is said outside of screens; "" is English
}

// Now implements forms.Clock.
func (e *env) Now() time.Time { return e.now() }

// Mono implements forms.Clock.
func (e *env) Mono() int64 { return e.mono() }

// Main runs the program and returns its exit code.
func Main(args []string, in io.Reader, out, errw io.Writer) int {
	collectSeldom()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	start := time.Now()
	e := &env{in: in, out: out, err: errw, ctx: ctx,
		now:      func() time.Time { return time.Now().Truncate(time.Millisecond) },
		mono:     func() int64 { return time.Since(start).Milliseconds() },
		id:       newID,
		terminal: isTerminal(in) && isTerminal(out),
		plain:    !terminal.Usable(os.Getenv("TERM")),
	}
	noticeTo(errw)
	return report(errw, run(e, args))
}

// collectSeldom lets garbage grow larger than usual before it is collected:
// most runs are short, and what works through many records sets a limit to it.
func collectSeldom() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(400)
	}
}

func newID() string {
	var b [8]byte
	if _, err := rand.Read(b[:]); err != nil {
		panic(err) // no randomness: nothing the program does would be safe to keep
	}
	return hex.EncodeToString(b[:])
}

func isTerminal(x any) bool {
	f, ok := x.(*os.File)
	if !ok {
		return false
	}
	return ttyFile(f)
}

// verbs of the program, by the names that their commands have.
var verbs = []struct {
	name string
	make func(*env) *cobra.Command
}{
	{"walk", walkCmd},
	{"show", showCmd},
	{"judge", judgeCmd},
	{"report", reportCmd},
	{"attach", attachCmd},
	{"transcribe", transcribeCmd},
	{"notice", noticeCmd},
	{"sheet", sheetCmd},
	{"verify", verifyCmd},
	{"limits", limitsCmd},
	{"forecast", forecastCmd},
	{"air", airCmd},
	{"airfree", airfreeCmd},
	{"convert", convertCmd},
	{"drill", drillCmd},
	{"desk", deskCmd},
	{"version", versionCmd},
}

// run does what the command line says. What it refuses is told in the language
// that was asked for there, whatever else is wrong with the line.
func run(e *env, args []string) error {
	e.lang = askedFor(args)
	noticeIn(e.lang)
	return e.told(execute(e, args))
}

func execute(e *env, args []string) error {
	root := &cobra.Command{
		Use:   "cazward",
		Short: "combustion-safety test of a home at worst-case depressurization",
		Long: `cazward leads a crew through the combustion-safety test of a home, one
question at a time, keeps every answer, does the arithmetic and writes the
report. It works offline and certifies nothing: local code, the authority
having jurisdiction and the makers' instructions come first, and repairs are
for licensed or otherwise qualified people.

Start with: cazward walk`,
		SilenceUsage: true, SilenceErrors: true,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.SetArgs(args)
	root.SetIn(e.in)
	root.SetOut(e.out)
	root.SetErr(e.err)
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		text, _, _ := strings.Cut(err.Error(), ": strconv.") // how the program read it helps nobody
		return usage(saying("see: %s --help", c.CommandPath()), "%s", foreign(text))
	})
	// Where a verb is named, it alone is made: what all the flags of all the
	// others cost is a good part of a start.
	named := false
	for _, v := range verbs {
		named = named || len(args) > 0 && v.name == args[0]
	}
	for _, v := range verbs {
		if !named || v.name == args[0] {
			root.AddCommand(v.make(e))
		}
	}
	for _, make := range packaging {
		root.AddCommand(make(e))
	}
	if !named {
		root.InitDefaultCompletionCmd()
	}
	root.Version = version
	root.SetVersionTemplate("cazward {{.Version}}\n")
	dressHelp(root)
	c0, err := root.ExecuteContextC(e.ctx)
	if err == nil {
		return nil
	}
	var f *failure
	var x exitWith
	type coded interface{ ExitCode() int }
	var c coded
	if errors.As(err, &f) || errors.As(err, &x) || errors.As(err, &c) {
		return err
	}
	if bad := badCommand(c0, args, err); bad != nil {
		return bad
	}
	return err
}

func versionCmd(e *env) *cobra.Command {
	return &cobra.Command{Use: "version", Short: "print the version", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprintln(e.out, "cazward", version)
			return err
		}}
}
