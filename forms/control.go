package forms

import "strings"

// Controls are the letters after a slash, in the order of the last row. k is
// listed by a slash alone; ! is alarm, smell or symptoms; x shuts down while
// burners run.
const Controls = "bfnwckpq!x"

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

// StopScreen frames the lines of the stop screen: DANGER alone has a full row
// of # above and below. Lines that bring their own frame are left as they are.
func StopScreen(lines []string) []string {
	const frame = 70
	if len(lines) > 0 && strings.HasPrefix(lines[0], "####") {
		return lines
	}
	word := " DANGER "
	left := (frame - len(word)) / 2
	out := []string{strings.Repeat("#", left) + word + strings.Repeat("#", frame-left-len(word))}
	for _, l := range lines {
		out = append(out, " "+strings.TrimPrefix(l, " "))
	}
	return append(out, strings.Repeat("#", frame))
}
