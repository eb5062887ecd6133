package limits

import (
	"bytes"
	"fmt"
	"strings"

	"cazward/procedure/reading"
)

// exportReason stands in an exported overlay until somebody says why. With a
// row or a mark in it the file is then refused.
const exportReason = "say here why your program changes the table"

// Export writes a shipped scheme, and the life-safety floor, as an overlay for
// editing: every row stands in it, commented out, after a line that says what
// it is and what changing it needs. As written it changes nothing.
func Export(scheme string) ([]byte, error) {
	data, err := Shipped(scheme)
	if err != nil {
		return nil, err
	}
	s, err := Load(Options{Scheme: scheme})
	if err != nil {
		return nil, err
	}
	low, err := shipped.ReadFile("schemes/floor.yaml")
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, exportHead, s.ref.Title, s.ref.Edition, s.ref.Name, strings.Join(Names(), ", "), s.ref.Name, exportReason, s.rows[0].y.ID)
	if len(s.open) > 0 {
		fmt.Fprint(&b, "\n## What this scheme has no figure for. A row of your own gives it one.\n")
		for _, n := range s.open {
			who := ""
			if list := append(append([]string{}, n.Kinds...), n.Fuels...); len(list) > 0 {
				who = " of " + strings.Join(list, ", ")
			}
			fmt.Fprintf(&b, "##   %s%s: %s\n", n.Topic, who, n.Note)
		}
	}
	fmt.Fprint(&b, "\n#rows:\n")
	topic := ""
	for _, part := range []struct {
		rows []row
		data []byte
		low  bool
	}{{s.rows, data, false}, {s.low, low, true}} {
		lines := strings.Split(strings.TrimRight(string(part.data), "\n"), "\n")
		for i, x := range part.rows {
			head := x.y.Topic
			if part.low {
				head = "floor"
			}
			if head != topic {
				topic = head
				fmt.Fprintf(&b, "\n## ---- %s: %s\n", topic, topicHelp[topic])
			}
			end := len(lines)
			if i+1 < len(part.rows) {
				end = part.rows[i+1].y.Node.Line - 1
			}
			fmt.Fprintf(&b, "\n## %s\n", x.brief())
			for _, l := range lines[x.y.Node.Line-1 : end] {
				fmt.Fprintf(&b, "#%s\n", l)
			}
		}
	}
	return b.Bytes(), nil
}

// brief says what a row is and what changing it needs.
func (x row) brief() string {
	what := x.means()
	if x.y.Value != nil {
		what = strings.TrimSuffix(reading.Format(*x.y.Value, -1)+" "+x.y.Unit+", "+what, ", ")
	}
	if x.y.Life {
		what += " | life safety: if looser, accept_risk"
	}
	return x.y.ID + ": " + what + " | " + evidenceWords(x.base().Evidence)
}

var topicHelp = map[string]string{
	"depressurization": "how far a zone may be pulled down, Pa, negative; the row that\n##      fits an appliance most closely holds, with a fact not known the strictest",
	"draft-line":       "the draft that a vent of the list must reach, between the points",
	"spillage":         "from main-burner light-off until smoke is drawn in and stays in",
	"co":               "CO of an appliance, on its basis: as-measured or air-free",
	"matrix":           "CO as measured, over .. up_to, with how spillage and draft came\n##      out; all rows that fit count, the most protective wins",
	"tier":             "from a value on (above: true: above it) in room air, what to do:\n##      source, hold, leave or out. A new one only adds",
	"action":           "what a thing that was found leads to: decision, status of the\n##      appliance, and action, what people are told to do",
	"parameter":        "how the walk goes: order, numbers, times, the gauge",
	"requirement":      "what is needed and nobody judges: instruments, report, notes",
	"floor":            "the life-safety floor: holds under every scheme",
}

const exportHead = `## Overlay on the scheme %s, %s (%s), as the program exported it.
##
## It changes nothing yet. To change a row: take the first # away from the line
## "rows:" below and from every line of the row, and edit it. A row that stands
## here takes the place of the whole shipped row with its id; rows that stay
## comments stay as shipped. Lines with ## are explanation.
##
## Then: cazward limits check THIS-FILE
##       cazward limits diff THIS-FILE       what it changes, row by row
##       cazward walk --limits THIS-FILE     or put it into the config folder
##
## Keys of a row
##   id        the name of the row; records name it. A new id is a new row
##   topic     what kind of row it is; it decides which other keys there are
##   applies   which appliances: kinds, fuels, vents, common (shares its vent),
##             partner (a kind on the same vent), fan_partner, damper, orphaned,
##             outside, high_static, top_inducer; cold for spillage. What is not
##             named does not matter
##   value, unit   the figure, as the source gives it
##   source    title, edition, clause: where the figure is from. Required; whoever
##             changes a figure names another source, or has checked this one
##   evidence  seen (the document was read), seen-secondary (a text that restates
##             it), memory, practice (common practice), own-rule. Required
##   note      for whoever reads it next
##   life      part of the life-safety rows: may be made stricter freely, looser
##             only with accept_risk. Stays as shipped whatever you write
##
## reason is required: why your program changes the table.
## accept_risk is needed to loosen a life-safety row and to add a row that could
## take the place of a stricter one. Page 1 of every report prints it in full.
## checked says that you held a row against its document and they agree. It
## needs no accept_risk, and reports then name you instead of "from memory".
##
## Schemes: %s
kind: overlay
format: 1
scheme: %s
reason: "%s"
#accept_risk: "who took which risk, and why"
#checked:
#  - id: %s
#    by: "your name"
#    date: "2026-01-31"
#    edition: "the edition that you held it against"
`
