package forms

import (
	"strings"
	"unicode/utf8"
)

// Controls are the letters after a slash, in the order of the last row. k and
// a, which keeps a photo, are listed by a slash alone; ! is alarm, smell or
// symptoms; x shuts down while burners run.
const Controls = "bfnwckapq!x"

// ParseControl reads a line that begins with a slash: "/b", "/c 12",
// "/n loose pipe". Two slashes are a literal one, which comes back as Text.
// It returns false for a line that is no control, and a *[Refusal] for a
// letter that is none. "w" and a slash alone (Control '/') are for the
// prompter itself.
func ParseControl(line string) (Reply, bool, error) {
	rest, ok := strings.CutPrefix(strings.TrimLeft(line, " "), "/")
	if !ok {
		return Reply{Text: line}, false, nil
	}
	if strings.HasPrefix(rest, "/") {
		return Reply{Text: rest}, false, nil
	}
	rest = strings.TrimSpace(rest)
	if rest == "" {
		return Reply{Control: '/'}, true, nil
	}
	letter := strings.ToLower(rest[:1])
	arg := rest[1:]
	if !strings.Contains(Controls, letter) || arg != "" && arg[0] != ' ' && !(letter == "c" && strings.ContainsAny(arg[:1], "0123456789")) {
		return Reply{}, true, refuse("no-such-key", "text", echo(rest))
	}
	return Reply{Control: letter[0], Arg: strings.TrimSpace(arg)}, true, nil
}

// StopScreen frames the lines of the stop screen for a window of that many
// columns: DANGER alone has a full row of # above and below. Frames that the
// lines bring along give way to it.
func StopScreen(lines []string, width int) []string {
	frame := max(20, min(70, width-1))
	word := " " + Signal("DANGER") + " "
	left := (frame - len(word)) / 2
	out := []string{strings.Repeat("#", left) + word + strings.Repeat("#", frame-left-len(word))}
	for _, l := range StopLines(lines) {
		line := ""
		for _, w := range strings.Fields(l) {
			if line != "" && utf8.RuneCountInString(line+w)+2 > frame {
				out = append(out, line)
				line = ""
			}
			line += " " + w
		}
		out = append(out, line)
	}
	return append(out, strings.Repeat("#", frame))
}

// StopLines are the lines of the stop screen without frames.
func StopLines(lines []string) []string {
	var out []string
	for _, l := range lines {
		if l = strings.TrimSpace(l); l != "" && !strings.HasPrefix(l, "####") {
			out = append(out, strings.Map(func(r rune) rune {
				if Hidden(r) {
					return '.'
				}
				return r
			}, l))
		}
	}
	return out
}
