package logfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"cazward/procedure/reading"
)

// Format says how a log is to be read. Columns count from 0.
type Format struct {
	Delimiter    byte // ' ' is any run of blanks
	DecimalComma bool
	Skip         int      // lines before the first line of data
	Columns      []string // names, as in the header; "column 1" and so on where there is none
	Time         []int    // the column of the times, or those of date, clock and AM/PM
	Pressure     int
	Layout       Layout
	Unit         reading.Unit
	Zone         *time.Location // of times that do not say; nil is UTC
	Day          time.Time      // day of a clock without date, start of elapsed seconds
}

// Question is something in a log that can be read in more than one way, and
// that a person has to answer. Append-only.
type Question string

// The questions.
const (
	AskUnit     Question = "unit"      // the header names no unit of pressure
	AskPressure Question = "pressure"  // several columns could be the pressure
	AskDayMonth Question = "day-month" // day and month could be the other way round
	AskDate     Question = "date"      // times without a date, or elapsed seconds
	AskTime     Question = "time"      // seconds that nothing calls a time
)

// at is a time in the zone of the log.
func (f Format) at(ns int64) time.Time {
	if f.Zone == nil {
		return time.Unix(0, ns).UTC()
	}
	return time.Unix(0, ns).In(f.Zone)
}

// Guess is what [Sniff] proposes for a person to confirm.
type Guess struct {
	Format
	Ask        []Question
	Candidates []int      // columns that could be the pressure, the likeliest first
	Sample     [][]string // the first lines of data, at most three, as cells
	First      time.Time  // time of the first line of data
}

// Hint is what the person says instead of what was guessed; empty fields leave
// the guess. Columns are named as in the header (letter case does not matter)
// or by number from 1.
type Hint struct {
	Time     string // "Date+Clock" for two columns, a third for AM and PM
	Pressure string
	Unit     reading.Unit
	Layout   Layout
	Zone     *time.Location // of times that do not say; nil is UTC
	Day      time.Time      // day of a clock without date, start of elapsed seconds
}

// Errors of logs that cannot be read at all.
var (
	ErrEmpty    = errors.New("logfile: nothing in it")
	ErrEncoding = errors.New("logfile: not plain text (UTF-16 or binary): save it as text, UTF-8 or ASCII")
	ErrTable    = errors.New("logfile: no lines with a time and a number between delimiters")
	ErrColumn   = errors.New("logfile: no such column")
	ErrLine     = errors.New("logfile: a line is longer than 64 KiB: not a log with one sample a line")
	ErrNoRows   = errors.New("logfile: no line could be read with this format")
	ErrFormat   = errors.New("logfile: the format is not complete")
)

// HeadBytes is how much of a log [Sniff] wants to see.
const HeadBytes = 64 << 10

// Head gives the first bytes of a log and a reader that starts over with them.
func Head(r io.Reader) ([]byte, io.Reader, error) {
	head, err := io.ReadAll(io.LimitReader(r, HeadBytes))
	if err != nil {
		return nil, nil, err
	}
	return head, io.MultiReader(bytes.NewReader(head), r), nil
}

const sniffLines = 200

// Sniff proposes a format from the head of a log.
func Sniff(head []byte, h Hint) (Guess, error) {
	if err := plainText(head); err != nil {
		return Guess{}, err
	}
	if h.Layout != "" && !h.Layout.Known() {
		return Guess{}, fmt.Errorf("%w: clock format %q: letters Y M D h m s p and what stands between them, or %s, %s, %s, %s", ErrFormat, h.Layout, Unix, UnixMilli, Elapsed, SerialDays)
	}
	lines := headLines(head)
	if len(lines) == 0 {
		return Guess{}, ErrEmpty
	}
	var best Guess
	bestRows, err := 0, ErrTable
	for _, d := range []byte{'\t', ';', '|', ',', ' '} {
		g, rows, e := table(lines, d, h)
		if errors.Is(e, ErrColumn) {
			err = e
		}
		if e == nil && rows > bestRows {
			best, bestRows = g, rows
		}
	}
	if bestRows == 0 {
		return Guess{}, err
	}
	if h.Unit != "" {
		if h.Unit.Family() != reading.FamilyPressure {
			return Guess{}, fmt.Errorf("%w: %q is not a unit of pressure", ErrFormat, h.Unit)
		}
		best.Unit = h.Unit
	}
	if best.Unit == "" {
		best.Ask = append(best.Ask, AskUnit)
	}
	if !best.Layout.Dated() && h.Day.IsZero() {
		best.Ask = append(best.Ask, AskDate)
	}
	return best, nil
}

var bom = []byte{0xEF, 0xBB, 0xBF}

func plainText(head []byte) error {
	if len(head) >= 2 && (head[0] == 0xFF && head[1] == 0xFE || head[0] == 0xFE && head[1] == 0xFF) || bytes.IndexByte(head, 0) >= 0 {
		return ErrEncoding
	}
	return nil
}

// headLines cuts the head into lines without their ends, empty ones kept so
// that numbers of lines stay true; a last line cut short is left out.
func headLines(head []byte) [][]byte {
	head = bytes.TrimPrefix(head, bom)
	cut := len(head) >= HeadBytes-len(bom) && !bytes.HasSuffix(head, []byte("\n"))
	lines := bytes.Split(head, []byte("\n"))
	if cut && len(lines) > 1 {
		lines = lines[:len(lines)-1]
	}
	for len(lines) > 0 && len(bytes.TrimSpace(lines[len(lines)-1])) == 0 {
		lines = lines[:len(lines)-1]
	}
	if len(lines) > sniffLines {
		lines = lines[:sniffLines]
	}
	for i, l := range lines {
		lines[i] = bytes.TrimSuffix(l, []byte("\r"))
	}
	return lines
}

// table tries one delimiter. rows is how many lines it makes sense of.
func table(lines [][]byte, delim byte, h Hint) (g Guess, rows int, err error) {
	cells := make([][][]byte, len(lines))
	counts := map[int]int{}
	for i, l := range lines {
		if len(bytes.TrimSpace(l)) == 0 {
			continue
		}
		cells[i] = split(l, delim)
		counts[len(cells[i])]++
	}
	width, most := 0, 0
	for w, n := range counts {
		if n > most || n == most && w > width {
			width, most = w, n
		}
	}
	if width < 2 || width > 1000 {
		return g, 0, ErrTable
	}
	var data []int // lines of the table's width
	for i, c := range cells {
		if len(c) == width {
			data = append(data, i)
		}
	}
	g.Delimiter, g.Zone, g.Day = delim, h.Zone, h.Day
	// The second half decides what the columns are: preamble and header are
	// behind it.
	tail := data[len(data)/2:]
	comma := make([]bool, width)
	numeric := make([]bool, width)
	for c := range width {
		points, commas, good, goodComma := 0, 0, 0, 0
		for _, i := range tail {
			cell := cells[i][c]
			points += min(1, bytes.Count(cell, []byte(".")))
			commas += min(1, bytes.Count(cell, []byte(",")))
			if _, ok := number(cell, false); ok {
				good++
			}
			if _, ok := number(cell, true); ok {
				goodComma++
			}
		}
		comma[c] = commas > 0 && points == 0 && enough(goodComma, len(tail))
		numeric[c] = comma[c] || enough(good, len(tail))
	}
	names := header(cells, data, tail, width)
	g.DecimalComma = false
	for c := range width {
		g.DecimalComma = g.DecimalComma || comma[c]
	}
	if g.DecimalComma { // one mark for the whole log
		for c := range width {
			n := 0
			for _, i := range tail {
				if _, ok := number(cells[i][c], true); ok {
					n++
				}
			}
			numeric[c] = enough(n, len(tail))
		}
	}
	if err := g.findTime(cells, tail, names, numeric, h); err != nil {
		return g, 0, err
	}
	// Data begin at the first line whose time can be read.
	first, buf := -1, []byte(nil)
	for _, i := range data {
		if t, ok := newClock(g.Format).parse(g.timeCell(cells[i], &buf)); ok {
			if first < 0 {
				first, g.First = i, g.at(t)
			}
			rows++
			if len(g.Sample) < 3 {
				g.Sample = append(g.Sample, words(cells[i]))
			}
		}
	}
	if first < 0 {
		return g, 0, ErrTable
	}
	g.Skip = first
	units := g.name(cells, first, width)
	if err := g.findPressure(cells, data, names, units, numeric, h); err != nil {
		return g, 0, err
	}
	return g, rows, nil
}

func enough(n, of int) bool { return of > 0 && n*10 >= of*9 }

func words(cells [][]byte) []string {
	out := make([]string, len(cells))
	for i, c := range cells {
		out[i] = printable(string(c))
	}
	return out
}

// printable keeps what a log says from moving a terminal's cursor.
func printable(s string) string {
	s = strings.Map(func(r rune) rune {
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 40 {
		s = string(r[:40])
	}
	return s
}

// header is the text of the lines above the second half, column by column, in
// lower case: what the columns are called, as far as it can help to guess.
func header(cells [][][]byte, data, tail []int, width int) []string {
	out := make([]string, width)
	for _, i := range data {
		if i >= tail[0] {
			break
		}
		for c, cell := range cells[i] {
			if hasLetter(cell) && len(out[c]) < 200 {
				out[c] = strings.TrimSpace(out[c] + "\n" + strings.ToLower(string(cell)))
			}
		}
	}
	return out
}

func hasLetter(b []byte) bool {
	return bytes.IndexFunc(b, unicode.IsLetter) >= 0
}

// name fills in the names of the columns from the line above the data, or from
// the two lines above where the lower one holds units; those are returned.
func (g *Guess) name(cells [][][]byte, first, width int) (units []string) {
	units = make([]string, width)
	g.Columns = make([]string, width)
	for c := range width {
		g.Columns[c] = "column " + strconv.Itoa(c+1)
	}
	var above []int
	for i := first - 1; i >= 0 && len(above) < 2; i-- {
		if cells[i] == nil {
			continue
		}
		if len(cells[i]) != width || !hasLetter(bytes.Join(cells[i], nil)) {
			break
		}
		above = append(above, i)
	}
	if len(above) == 0 {
		return units
	}
	top := above[0]
	if len(above) == 2 {
		for c, cell := range cells[above[0]] {
			if u, ok := unitIn(string(cell)); ok {
				units[c], top = string(u), above[1]
			}
		}
	}
	for c, cell := range cells[top] {
		if s := strings.TrimSpace(printable(string(cell))); s != "" {
			g.Columns[c] = s
		}
	}
	return units
}

// unitIn finds a unit of pressure in a column's name: "dP (in wc)", "CAZ_Pa".
func unitIn(name string) (reading.Unit, bool) {
	try := func(s string) (reading.Unit, bool) {
		u, err := reading.ParseUnit(s)
		return u, err == nil && u.Family() == reading.FamilyPressure
	}
	if i := strings.IndexAny(name, "([{"); i >= 0 {
		inside := strings.TrimRight(name[i+1:], ")]} ")
		if u, ok := try(inside); ok {
			return u, true
		}
	}
	parts := strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '"' && r != '@' })
	for n := min(2, len(parts)); n > 0; n-- {
		if u, ok := try(strings.Join(parts[len(parts)-n:], "")); ok {
			return u, true
		}
	}
	return "", false
}

// column finds a column by its name, by a part of it that no other has, or by
// number.
func column(text string, names []string, width int) (int, bool) {
	text = strings.ToLower(strings.TrimSpace(text))
	if n, err := strconv.Atoi(text); err == nil && n >= 1 && n <= width {
		return n - 1, true
	}
	at, parts := -1, 0
	for c, n := range names {
		for _, line := range strings.Split(n, "\n") {
			if line == text && text != "" {
				return c, true
			}
		}
		if text != "" && strings.Contains(n, text) {
			at, parts = c, parts+1
		}
	}
	return at, parts == 1
}

// timeCell is the cell of the times, or those of date, clock and AM/PM joined
// by blanks in buf.
func (f Format) timeCell(cells [][]byte, buf *[]byte) []byte {
	if len(f.Time) == 1 {
		return cells[f.Time[0]]
	}
	*buf = (*buf)[:0]
	for i, c := range f.Time {
		if i > 0 {
			*buf = append(*buf, ' ')
		}
		*buf = append(*buf, cells[c]...)
	}
	return *buf
}

func (g *Guess) findTime(cells [][][]byte, tail []int, names []string, numeric []bool, h Hint) error {
	width := len(names)
	var tries [][]int
	if h.Time != "" {
		var pick []int
		for _, part := range strings.SplitN(h.Time, "+", 3) {
			c, ok := column(part, names, width)
			if !ok {
				return fmt.Errorf("%w: time %q", ErrColumn, part)
			}
			pick = append(pick, c)
		}
		tries = [][]int{pick}
	} else {
		for c := range width {
			if !numeric[c] {
				tries = append(tries, []int{c})
			}
		}
		for n := 3; n >= 2; n-- { // AM and PM before a clock that would lose them
			for c := 0; c+n <= width; c++ {
				tries = append(tries, []int{c, c + 1, c + 2}[:n])
			}
		}
		for c := range width {
			if numeric[c] {
				tries = append(tries, []int{c})
			}
		}
	}
	var buf []byte
	fits := func(cols []int, l Layout) bool {
		f := g.Format
		f.Time, f.Layout = cols, l
		good := 0
		k := newClock(f)
		for _, i := range tail {
			if _, ok := k.read(f.timeCell(cells[i], &buf)); ok {
				good++
			}
		}
		return enough(good, len(tail))
	}
	list := layouts
	if h.Layout != "" {
		list = []Layout{h.Layout}
	}
	for _, dated := range []bool{true, false} { // a clock with its date before a bare one
		for _, cols := range tries {
			for _, l := range list {
				if l.numeric() || l.Dated() != dated || !fits(cols, l) {
					continue
				}
				if t, ok := l.twin(); ok && h.Layout == "" && fits(cols, t) {
					g.Ask = append(g.Ask, AskDayMonth)
				}
				g.Time, g.Layout = cols, l
				return nil
			}
		}
	}
	// Numbers: only one column, whose size or name says what it counts.
	for _, cols := range tries {
		if len(cols) != 1 || !numeric[cols[0]] {
			continue
		}
		l, named := countsWhat(cells, tail, cols[0], names[cols[0]], g.DecimalComma)
		if h.Layout != "" {
			l, named = h.Layout, true
			if !l.numeric() {
				continue
			}
		}
		if l == "" && h.Time != "" {
			l, named = Elapsed, true
		}
		if l == "" || !fits(cols, l) {
			continue
		}
		if !named {
			g.Ask = append(g.Ask, AskTime)
		}
		g.Time, g.Layout = cols, l
		return nil
	}
	return ErrTable
}

// countsWhat says what a column of rising numbers counts, "" for nothing.
func countsWhat(cells [][][]byte, tail []int, c int, name string, comma bool) (l Layout, named bool) {
	var lo, hi float64
	last, rising := 0.0, true
	for k, i := range tail {
		v, ok := number(cells[i][c], comma)
		if !ok {
			continue
		}
		if k == 0 {
			lo = v
		} else if v < last {
			rising = false
		}
		last, hi = v, v
	}
	if !rising || len(tail) > 1 && hi <= lo {
		return "", false
	}
	for _, w := range []string{"time", "sec", "elapsed", "date", "zeit", "hora", "tiempo", "temps", "t(s)", "t (s)", "t[s]", "t [s]"} {
		named = named || strings.Contains(name, w)
	}
	switch {
	case lo > 6e8 && hi < 5e9:
		return Unix, named
	case lo > 6e11 && hi < 5e12:
		return UnixMilli, named
	case lo > 30000 && hi < 80000 && hi-lo < 400 && lo != float64(int(lo)):
		return SerialDays, named
	case lo >= 0 && hi < 1e8:
		return Elapsed, named
	}
	return "", false
}

func (g *Guess) findPressure(cells [][][]byte, data []int, names, units []string, numeric []bool, h Hint) error {
	isTime := map[int]bool{}
	for _, c := range g.Time {
		isTime[c] = true
	}
	if h.Pressure != "" {
		c, ok := column(h.Pressure, names, len(names))
		if !ok {
			return fmt.Errorf("%w: pressure %q", ErrColumn, h.Pressure)
		}
		if isTime[c] || !numeric[c] {
			return fmt.Errorf("%w: pressure %q does not hold numbers", ErrColumn, h.Pressure)
		}
		g.Pressure, g.Candidates = c, []int{c}
	} else {
		score := map[int]int{}
		best := math.MinInt
		for c := range names {
			if !isTime[c] && numeric[c] {
				score[c] = likely(names[c], cells, data, g.Skip, c, g.DecimalComma)
				best = max(best, score[c])
				g.Candidates = append(g.Candidates, c)
			}
		}
		sort.SliceStable(g.Candidates, func(i, k int) bool { return score[g.Candidates[i]] > score[g.Candidates[k]] })
		ties := 0
		for i, c := range g.Candidates {
			if score[c] == best {
				ties++
			}
			if score[c] < 0 && best >= 0 { // temperatures and the like, while there is better
				g.Candidates = g.Candidates[:i]
				break
			}
		}
		if len(g.Candidates) == 0 {
			return ErrTable
		}
		g.Pressure = g.Candidates[0]
		if ties > 1 {
			g.Ask = append(g.Ask, AskPressure)
		}
	}
	if u := reading.Unit(units[g.Pressure]); u != "" {
		g.Unit = u
	} else if u, ok := unitIn(g.Columns[g.Pressure]); ok {
		g.Unit = u
	}
	return nil
}

// likely weighs how much a column looks like a pressure (own rule).
func likely(name string, cells [][][]byte, data []int, skip, c int, comma bool) int {
	n := 0
	if _, ok := unitIn(name); ok {
		n += 4
	}
	for _, w := range []string{"press", "dp", "caz", "zone", "diff", "druck", "presion", "pression"} {
		if strings.Contains(name, w) {
			n += 2
			break
		}
	}
	for _, w := range []string{"temp", "humid", "batt", "flow", "volt", "index", "record", "sample", "no.", "#", "status", "co2", "ppm"} {
		if strings.Contains(name, w) {
			n -= 3
			break
		}
	}
	counts, last, some := true, 0.0, 0
	for _, i := range data {
		if i < skip {
			continue
		}
		v, ok := number(cells[i][c], comma)
		if !ok {
			continue
		}
		if some > 0 && v != last+1 {
			counts = false
			break
		}
		last = v
		some++
	}
	if counts && some > 2 {
		n -= 5 // numbers of the lines
	}
	return n
}
