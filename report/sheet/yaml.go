package sheet

import (
	"io"
	"strconv"
	"strings"

	"cazward/procedure/wording"
)

// filled is the one field that the empty file answers, with "left out": it is
// wanted only, and a list of answers without one is not taken.
const filled = "arrive/gauge"

// WriteYAML writes the sheet as a file for transcribe: every answer stands
// behind a comment sign until it is filled in, so that the empty file is
// taken as a test of which nothing was done.
func WriteYAML(w io.Writer, s Sheet) error {
	var b strings.Builder
	say := func(l string) { b.WriteString(strings.TrimRight(l, " ") + "\n") }
	comment := func(indent, text string) {
		for _, l := range wrap(text, 96-len(indent)) {
			say(indent + "# " + l)
		}
	}
	f := func(key string, pairs ...string) string { return wording.Field(s.Lang, key, pairs...) }
	for _, l := range strings.Split(f("yaml.head", "scheme", s.Scheme, "phase", wording.PhaseName(s.Lang, s.Phase)), "\n") {
		comment("", l)
	}
	say("#   spill/water-heater-1: {is: 37s, at: \"10:42\"}")
	say("kind: sheet")
	say("format: 1")
	say("home: " + strconv.Quote(f("yaml.home")))
	say("tester: " + strconv.Quote(f("yaml.tester")))
	say("date: \"" + s.Day.Format("2006-01-02") + "\"")
	say("phase: " + string(s.Phase))
	say("scheme: " + s.ID)
	say("answers:")
	for i, p := range s.Parts {
		fields := 0
		for _, r := range p.Rows {
			if r.Field != "" {
				fields++
			}
		}
		if fields == 0 {
			continue
		}
		say("")
		comment("  ", strings.TrimSpace(strconv.Itoa(i+1)+"  "+p.Title+".  "+p.Copy))
		for _, r := range p.Rows {
			if r.Field == "" {
				for _, l := range r.Lines {
					comment("  ", l)
				}
				continue
			}
			say("")
			comment("  ", r.Ask)
			for _, h := range r.How {
				comment("  ", "  "+h)
			}
			list := func(texts []string) {
				for i, t := range texts {
					say("  #     " + pad(strconv.Itoa(i+1), 3) + t)
				}
			}
			list(r.Choices)
			for _, l := range r.List {
				comment("  ", "    "+l)
			}
			switch {
			case len(r.Columns) > 0:
				for k, c := range r.Columns {
					var in []string
					for n := 1; n <= len(r.Items); n++ {
						for _, it := range r.Items {
							if it.Nums[k] == n {
								in = append(in, strconv.Itoa(n)+" "+it.Text)
							}
						}
					}
					if len(in) > 0 {
						comment("  ", "    "+c+": "+strings.Join(in, "; "))
					}
				}
			default:
				for _, it := range r.Items {
					num := "__ "
					if len(it.Nums) == 1 {
						num = pad(strconv.Itoa(it.Nums[0]), 3)
					}
					t := it.Text
					if it.When != "" {
						t += "  (" + it.When + ")"
					}
					say("  #     " + num + t)
				}
			}
			for _, l := range r.Lines {
				comment("  ", "    "+l)
			}
			if r.Field == filled {
				say("  " + r.Field + ": \"-\"")
				continue
			}
			say("  #  " + r.Field + ":")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func pad(s string, n int) string { return s + strings.Repeat(" ", max(0, n-len(s))) }

// wrap breaks a text into lines of at most n characters and keeps its indent.
func wrap(s string, n int) []string {
	indent := s[:len(s)-len(strings.TrimLeft(s, " "))]
	var out []string
	line := ""
	for _, w := range strings.Fields(s) {
		if line != "" && len([]rune(line+" "+w)) > n {
			out = append(out, line)
			line = ""
		}
		if line == "" {
			line = indent + w
			continue
		}
		line += " " + w
	}
	return append(out, line)
}
