package forms

import (
	"math"
	"strings"
	"unicode/utf8"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// rulerLeft is the column of the zero; rulerTicks the steps of the scale.
const (
	rulerLeft  = 6
	rulerTicks = 6
)

// DrawRuler draws the net pressure for lines of width columns, the last of
// which stays empty: scale, axis with the limits as letters, bar, and a line
// for each limit. Zero is at the left, lower to the right; "=" is certain
// depression, "?" the give-or-take. The words come from the verdict of each
// limit and the bar is drawn outwards to agree with them, so that rounding
// never shows a gap that is not there.
func DrawRuler(r Ruler, width int) []string { return DrawRulerIn(r, width, math.MaxInt) }

// DrawRulerIn is [DrawRuler] in at most that many lines (4 or more); limits
// without a line of their own are counted.
func DrawRulerIn(r Ruler, width, lines int) []string {
	wide := width >= 80
	step := 7
	if wide {
		step = 9
	}
	per := scaleOf(r)                  // pascals a tick
	col := float64(step) / per         // columns a pascal
	end := step * rulerTicks           // column of the last tick
	at := letterColumns(r, col, end)   // column of each letter
	certain, total := bars(r, col, at) // columns covered
	shown := min(len(r.Marks), max(1, lines-3))
	more := r.More + len(r.Marks) - shown

	scale := []byte(strings.Repeat(" ", rulerLeft) + "0")
	axis := []byte(strings.Repeat(" ", rulerLeft) + "+" + strings.Repeat("-", end))
	for i := 1; i <= rulerTicks; i++ {
		label := reading.Format(-per*float64(i), -1)
		pad := rulerLeft + i*step - len(label) + 1 - len(scale)
		scale = append(scale, strings.Repeat(" ", max(1, pad))+label...)
		axis[rulerLeft+i*step] = '+'
	}
	scale = append(scale, " Pa"...)
	for i := len(r.Marks) - 1; i >= 0; i-- { // the nearest is written last
		axis[rulerLeft+at[i]] = r.Marks[i].Letter
	}
	switch tail := "  " + Words("ruler/lower", nil); {
	case more > 0 && wide:
		scale = append(scale, "   "+as2("ruler/more", "n", itoa(more))...)
		axis = append(axis, tail...)
	case more > 0:
		axis = append(axis, " "+as2("ruler/more-short", "n", itoa(more))...)
	case wide:
		axis = append(axis, tail...)
	}
	out := []string{string(scale), string(axis), netLine(r, width, step, certain, total, end)}
	if r.None != "" {
		out = append(out, cut(strings.Repeat(" ", rulerLeft)+r.None, width-1))
	}
	for _, m := range r.Marks[:shown] {
		out = append(out, markLine(m, wide, r.Final, width))
	}
	return out
}

func as2(code, key, value string) string { return Words(code, map[string]string{key: value}) }

// scaleOf picks the pascals a tick so that every limit stands on the scale.
// The net may lie beyond it: that is what > is for.
func scaleOf(r Ruler) float64 {
	far := 0.0
	for _, m := range r.Marks {
		far = max(far, -m.At)
	}
	if len(r.Marks) == 0 {
		far = -r.Net + r.U
	}
	for _, per := range []float64{1, 2, 3, 5, 10, 20} {
		if far <= per*rulerTicks {
			return per
		}
	}
	return 50
}

// letterColumns places the letters. Two different limits that round to one
// column stand side by side, the stricter one nearer to zero, so that the bar
// can end between them.
func letterColumns(r Ruler, col float64, end int) []int {
	at := make([]int, len(r.Marks))
	order := make([]int, len(r.Marks))
	for i := range order {
		order[i] = i
	}
	for i := 1; i < len(order); i++ { // a few marks: insertion keeps equal ones in order
		for j := i; j > 0 && r.Marks[order[j]].At > r.Marks[order[j-1]].At; j-- {
			order[j], order[j-1] = order[j-1], order[j]
		}
	}
	for k, i := range order {
		at[i] = max(0, int(math.Round(min(-r.Marks[i].At*col, float64(end)))))
		if k == 0 {
			continue
		}
		prev := order[k-1]
		if r.Marks[i].At == r.Marks[prev].At {
			at[i] = at[prev]
		} else {
			at[i] = max(at[i], at[prev]+1)
		}
	}
	for k := len(order) - 1; k >= 0; k-- { // and none beyond the axis
		most := end
		if k+1 < len(order) && r.Marks[order[k]].At != r.Marks[order[k+1]].At {
			most = at[order[k+1]] - 1
		} else if k+1 < len(order) {
			most = at[order[k+1]]
		}
		at[order[k]] = max(0, min(at[order[k]], most))
	}
	return at
}

// bars gives the columns that certain depression and the give-or-take cover.
func bars(r Ruler, col float64, at []int) (certain, total int) {
	columns := func(pa float64) int {
		if !(pa > 0) {
			return 0
		}
		return int(math.Round(min(pa*col, 1000)))
	}
	certain, total = columns(-r.Net-r.U), columns(-r.Net+r.U)
	for i, m := range r.Marks { // outwards: what is reached is shown as reached
		switch m.Side {
		case procedure.SideBeyond:
			certain = max(certain, at[i]+1)
		case procedure.SideTooClose:
			total = max(total, at[i]+1)
		}
	}
	// A letter moved inwards from the end of the axis, or one side by side with
	// another, must not be covered against its verdict.
	for i, m := range r.Marks {
		switch m.Side {
		case procedure.SideTooClose:
			certain = min(certain, at[i])
		case procedure.SideInside:
			certain, total = min(certain, at[i]), min(total, at[i])
		}
	}
	return certain, max(certain, total)
}

func netLine(r Ruler, width, step, certain, total, end int) string {
	b := strings.Repeat(" ", rulerLeft)
	label := " " + Words("ruler/label", nil)
	b = label + b[len(label):]
	if r.Net > 0 {
		b = b[:rulerLeft-1] + "<"
	}
	past := total > end+1
	bar := strings.Repeat("=", certain) + strings.Repeat("?", total-certain)
	if past {
		bar = bar[:end+1] + ">"
	}
	b += bar
	figures := func(code string) string {
		net := netFigure(r)
		return Words(code, map[string]string{"net": net, "u": giveOrTake(r.U)})
	}
	// The figure stands under the next label, else close to the bar.
	for _, text := range []string{figures("ruler/net"), figures("ruler/net-short"), netFigure(r)} {
		label := rulerLeft + (len(b)+3-rulerLeft+step)/step*step - 1
		for _, pos := range []int{label, len(b) + 3, len(b) + 1} {
			if pos == label && past {
				continue
			}
			if pos+utf8.RuneCountInString(text) <= width-1 {
				return b + strings.Repeat(" ", pos-len(b)) + text
			}
		}
	}
	return cut(b+" "+netFigure(r), width-1)
}

// netFigure prints the net with as many digits as it takes not to look the
// same as its nearest limit when it is not.
func netFigure(r Ruler) string {
	s := reading.Format(r.Net, 1)
	if len(r.Marks) > 0 {
		s = reading.FormatNear(r.Net, r.Marks[0].At, 1)
	}
	if r.Net > 0 {
		return "+" + s
	}
	return s
}

// giveOrTake never prints an uncertainty as none.
func giveOrTake(u float64) string {
	for d := 1; d < 4; d++ {
		if s := reading.Format(u, d); strings.Trim(s, "0.") != "" || u == 0 {
			return s
		}
	}
	return reading.Format(u, -1)
}

// SideWords says which side of a limit the net is on. Until worst case is
// held everything is "so far".
func SideWords(side procedure.Side, short, final bool) string {
	code := map[procedure.Side]string{procedure.SideInside: "side/inside", procedure.SideTooClose: "side/close", procedure.SideBeyond: "side/beyond"}[side]
	if code == "" {
		return Words("side/0", nil)
	}
	tail := ""
	if !final {
		tail = "/so-far"
	}
	if _, ok := english()[code+"/short"+tail]; short && ok {
		code += "/short"
	}
	return Words(code+tail, nil)
}

func markLine(m Mark, wide, final bool, width int) string {
	code, text := "{text}: {side}", m.Text
	if wide {
		code = "ruler/limit"
	}
	line := func(text string) string {
		side := SideWords(m.Side, !wide, final)
		if !wide {
			return " " + string(m.Letter) + "    " + text + ": " + side
		}
		return " " + string(m.Letter) + "    " + Words(code, map[string]string{"text": text, "side": side})
	}
	full := line(text)
	over := utf8.RuneCountInString(full) - (width - 1)
	if over <= 0 {
		return full
	}
	// The name gives way; the figure, its source and the verdict never do.
	name, rest := []rune(text), ""
	if i := strings.LastIndex(text, ", "); i >= 0 {
		name, rest = []rune(text[:i]), text[i:]
	}
	if keep := len(name) - over - 1; keep > 0 {
		return line(string(name[:keep]) + "~" + rest)
	}
	return cut(line("~"+rest), width-1)
}

// cut shortens a line to n columns of single-width characters.
func cut(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	if n < 1 {
		return ""
	}
	return string(r[:n-1]) + "~"
}
