package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"syscall"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	"cazward/procedure/wording"
)

// Exit codes, the one table of them. The codes of decisions are
// procedure.Decision.ExitCode.
const (
	exitOK        = 0
	exitInternal  = 1
	exitUsage     = 2
	exitRefused   = 7
	exitIntegrity = 8
	exitInUse     = 9
	exitInterrupt = 130
)

// failure is an error for the person at the keyboard: what was refused, and
// what to do next.
type failure struct {
	code int
	said phrase
	next phrase
	err  error
}

func (f *failure) Error() string { return f.said.String() }
func (f *failure) Unwrap() error { return f.err }

// failed makes a failure. The hint is a sentence, or a phrase where it is filled
// with something; both are keys of their Spanish.
func failed[T string | phrase](code int, hint T, format string, a ...any) *failure {
	f := &failure{code: code, said: saying(format, a...)}
	switch h := any(hint).(type) {
	case string:
		f.next = saying(h)
	case phrase:
		f.next = h
	}
	return f
}

func refused[T string | phrase](hint T, format string, a ...any) error {
	return failed(exitRefused, hint, format, a...)
}

func usage[T string | phrase](hint T, format string, a ...any) error {
	return failed(exitUsage, hint, format, a...)
}

// exitWith carries an exit code that is no failure: a decision, a state.
type exitWith int

func (e exitWith) Error() string { return fmt.Sprintf("exit %d", int(e)) }

func decided(d procedure.Decision) error {
	if c := d.ExitCode(); c != 0 {
		return exitWith(c)
	}
	return nil
}

// report maps an error to its exit code and says it once, in the language that
// [env.told] gave it.
func report(w io.Writer, err error) int {
	if err == nil {
		return exitOK
	}
	var e exitWith
	if errors.As(err, &e) {
		return int(e)
	}
	l := wording.English
	var t told
	if errors.As(err, &t) {
		l, err = t.lang, t.error
	}
	var f *failure
	if errors.As(err, &f) {
		sayError(w, l, f.said.in(l))
		sayHint(w, l, f.next.in(l))
		return f.code
	}
	type coded interface{ ExitCode() int }
	type hinted interface{ Hint() string }
	code := exitInternal
	var c coded
	if errors.As(err, &c) {
		code = c.ExitCode()
	}
	for _, line := range strings.Split(errorIn(l, err), anotherError) {
		sayError(w, l, line)
	}
	var h hinted
	if errors.As(err, &h) && h.Hint() != "" {
		sayHint(w, l, wording.Reworded(l, h.Hint()))
	} else if code == exitInternal {
		sayHint(w, l, saying("this is a fault of the program; please report it with the command you gave").in(l))
	}
	return code
}

func sayError(w io.Writer, l wording.Lang, text string) {
	fmt.Fprintf(w, "cazward: %s: %s\n", saying("error").in(l), calmed(text))
}

func sayHint(w io.Writer, l wording.Lang, text string) {
	if text != "" {
		fmt.Fprintf(w, "cazward: %s: %s\n", saying("hint").in(l), calmed(text))
	}
}

// anotherError parts the errors of a list in one text.
const anotherError = "\ncazward: error: "

// calmed is a line in which nothing acts on a terminal: file names, and words
// of a file that is refused, are not ours. What was there is seen to have been.
func calmed(s string) string {
	const longest = 1000 // runes
	r := []rune(strings.ToValidUTF8(s, "\uFFFD"))
	if len(r) > longest {
		r = append(r[:longest], []rune("...")...)
	}
	for i, c := range r {
		if forms.Hidden(c) {
			r[i] = '\uFFFD'
		}
	}
	return string(r)
}

// writeFault says in the words of a screen why something did not reach the
// record, and what to do about just that; it is short, so that it covers no
// list on the narrow screen. what is the thing, "" for an answer; a mark of
// the clock cannot be made again by pressing Enter.
func writeFault(err error, what string, last int) string {
	again := words("fault/enter")
	switch what {
	case "":
		what = words("fault/answer")
	case "mark":
		what, again = words("fault/mark"), words("fault/cool")
	default:
		what, again = words("fault/entry"), words("fault/again")
	}
	why, do := err.Error(), words("fault/mend", "again", again)
	var refused *disk.Refused
	var codec *journal.Error
	switch {
	case errors.As(err, &refused) && refused.Code == exitIntegrity && !strings.Contains(refused.Text, "deleted"):
		why, do = words("fault/changed"), words("fault/verify")
	case errors.As(err, &refused):
		l := forms.Speaks()
		why, do = words("fault/record", "text", wording.Reworded(l, refused.Text)), capital(wording.Reworded(l, refused.Next))+"."
		if strings.Contains(refused.Text, "deleted") {
			why, do = words("fault/deleted"), words("fault/put-back", "again", again)
		}
	case errors.As(err, &codec):
		why, do = codec.Text, words("fault/another")
	case errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT):
		why, do = words("fault/full"), words("fault/free", "again", again)
	case errors.Is(err, syscall.EROFS) || errors.Is(err, fs.ErrPermission):
		why, do = words("fault/protected"), words("fault/writable", "again", again)
	case errors.Is(err, syscall.EIO):
		why, do = words("fault/disk"), words("fault/reseat", "again", again)
	case errors.Is(err, os.ErrClosed):
		why, do = words("fault/closed"), words("fault/go-on")
	}
	return words("fault/all", "why", why, "what", what, "do", do, "n", fmt.Sprint(last))
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// shellName is a file's name as it is typed in a command.
func shellName(path string) string {
	if strings.Trim(path, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-/") == "" {
		return path
	}
	return `"` + path + `"`
}
