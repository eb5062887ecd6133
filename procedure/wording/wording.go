// Package wording turns codes and their arguments into the words that people
// read, English and Spanish. The core emits codes only; every sentence of the
// walk, of errors and of reports comes from here, so that a test can find what
// is missing, unused or too long for its screen.
package wording

// Lang is a language of the catalogue.
type Lang string

// Languages.
const (
	English Lang = "en"
	Spanish Lang = "es"
)

// Caution is a signal word after ANSI Z535 and its text, at most three lines
// of 60 characters in the narrow form.
type Caution struct {
	Word string // DANGER, WARNING, CAUTION, NOTICE
	Text string // one paragraph; the form wraps it
}

// Screen is all the words of one step.
type Screen struct {
	Title    string    // of the stage, capitals on screen
	Question string    // at most 12 words
	How      []string  // how it is answered, a line each
	Box      string    // what stands before the answer box: "Pa", "ppm"
	Cautions []Caution // most severe first
	Why      []string  // at most five lines: what goes wrong without it, the rule, source and evidence, what the answer will change
	Items    []string  // a line for each of the step's items
	Choices  []string  // a line for each of the step's choices
	Plain    string    // the question with its manner of answering, for plain mode, one line
}
