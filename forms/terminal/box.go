package terminal

import (
	"io"
	"strings"

	"github.com/charmbracelet/huh"
	"github.com/charmbracelet/lipgloss"
	"github.com/muesli/termenv"
)

// box is the answer field: a form of one input, made new for each step.
type box struct {
	form  *huh.Form
	value *string
}

// newBox makes a field of that many columns over a text. Its theme has no
// colour, adaptive or other, and a renderer without any: the cursor is an
// underscore, not reverse video.
func newBox(text string, width int) *box {
	b := &box{value: &text}
	input := huh.NewInput().Key("answer").Prompt("").CharLimit(5000).Value(b.value)
	b.form = huh.NewForm(huh.NewGroup(input)).
		WithTheme(plainTheme()).
		WithShowHelp(false).
		WithShowErrors(false).
		WithWidth(width).
		WithHeight(1)
	return b
}

// view is the field on one line.
func (b *box) view() string {
	line, _, _ := strings.Cut(b.form.View(), "\n")
	return strings.TrimRight(line, " ")
}

func plainTheme() *huh.Theme {
	r := lipgloss.NewRenderer(io.Discard)
	r.SetColorProfile(termenv.Ascii)
	r.SetHasDarkBackground(true)
	plain := r.NewStyle()
	cursor := plain.Transform(func(s string) string {
		if strings.TrimSpace(s) == "" {
			return "_"
		}
		return "_" + s
	})
	var t huh.Theme
	t.Form.Base, t.Group.Base, t.FieldSeparator = plain, plain, plain
	t.Group.Title, t.Group.Description = plain, plain
	fields := huh.FieldStyles{Base: plain, Title: plain, Description: plain, ErrorIndicator: plain, ErrorMessage: plain,
		TextInput: huh.TextInputStyles{Cursor: cursor, CursorText: cursor, Placeholder: plain, Prompt: plain, Text: plain}}
	t.Focused, t.Blurred = fields, fields
	return &t
}
