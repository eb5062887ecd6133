// Package csv writes a record's readings and findings as comma-separated
// values, RFC 4180: one tidy row each. Use [Write].
//
// A text that a spreadsheet would take for a formula gets an apostrophe in
// front; numbers, minus signs and all, stay numbers.
//
// # Compatibility
//
// Columns are those of report.TidyColumns: new ones come at the end.
package csv

import (
	stdcsv "encoding/csv"
	"io"
	"strings"

	"cazward/procedure/reading"
	"cazward/report"
)

// Write writes the head and the rows. The error is that of w.
func Write(w io.Writer, in report.Input) error {
	c := stdcsv.NewWriter(w)
	c.UseCRLF = true
	if err := c.Write(report.TidyColumns); err != nil {
		return err
	}
	for _, row := range report.Tidy(in) {
		line := make([]string, len(row))
		for i, x := range row {
			if line[i] = harmless(x.Text); x.Number != nil {
				line[i] = reading.Format(*x.Number, -1)
			}
		}
		if err := c.Write(line); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// harmless keeps a spreadsheet from computing what a person typed. The wide
// forms of the signs count too.
func harmless(s string) string {
	if s != "" && strings.ContainsRune("=+-@|\t\r\n＝＋－＠", []rune(s)[0]) {
		return "'" + s
	}
	return s
}
