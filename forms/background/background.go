// Package background tells the terminal toolkit that the background is dark
// before the toolkit can ask. Its question goes to the terminal while the
// program starts, and a terminal that never answers would hold up every
// command for five seconds.
//
// It works by order of initialization alone: this package imports nothing but
// lipgloss, and its path sorts before those of the packages that ask. An
// import more, or another module path, and the wait is back; a test in
// forms/terminal starts a program in a terminal that never answers. This is
// the one init of the project. No screen uses colour, so it does not matter
// whether the answer is true.
package background

import "github.com/charmbracelet/lipgloss"

func init() { lipgloss.SetHasDarkBackground(true) }
