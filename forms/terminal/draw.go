package terminal

import (
	"strings"
	"time"

	"github.com/charmbracelet/lipgloss"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/procedure/wording"
)

// frame is all that a picture is made of.
type frame struct {
	v       forms.View
	w, h    int // of the window
	now     time.Time
	elapsed float64 // seconds since light-off, while the clock runs
	box     string  // the answer field as drawn, with its cursor
	text    string  // what is in it
	page    int     // which page is shown while the box is not open yet
	opened  bool    // every page has been shown once
	control string  // what was typed from the slash on; "" is none
	why     int     // page of why, 0 is closed
	tell    string
}

// picture is a frame as drawn. The box is open on the last page only.
type picture struct {
	lines []string
	pages int
	whys  int // pages that why has here
}

// Layouts. Larger windows use the wide one at the top left.
const (
	wideW, wideH     = 80, 24
	narrowW, narrowH = 60, 20
)

// rows of a layout, from 1; see the line budget in the design.
type rows struct {
	rule, caution, cautionEnd, house, houseEnd, ask, box, read, message int
	soFar, content, contentEnd, rule2, keys, slash                      int
	digits, bar                                                         int
}

var (
	wideRows        = rows{rule: 3, caution: 4, cautionEnd: 6, house: 7, houseEnd: 8, ask: 9, box: 14, read: 15, message: 16, soFar: 17, content: 18, contentEnd: 21, rule2: 22, keys: 23, slash: 24, digits: 11, bar: 16}
	narrowRows      = rows{rule: 3, caution: 4, cautionEnd: 5, house: 6, houseEnd: 7, ask: 8, box: 11, read: 12, message: 13, soFar: 14, content: 15, contentEnd: 17, rule2: 18, keys: 19, slash: 20, digits: 9, bar: 14}
	narrowClockRows = rows{caution: 3, cautionEnd: 5, house: 6, houseEnd: 6, ask: 7, box: 9, content: 15, contentEnd: 18, keys: 19, slash: 20, digits: 9, bar: 14}
)

func say(code string, kv ...string) string {
	args := map[string]string{}
	for i := 0; i+1 < len(kv); i += 2 {
		args[kv[i]] = kv[i+1]
	}
	return forms.Words("screen/"+code, args)
}

func number(n int) string { return reading.Format(float64(n), 0) }

// canvas clips: nothing is ever written past its last but one column, and no
// character that could steer the terminal gets through.
type canvas struct {
	w, h int
	row  []string
}

func newCanvas(w, h int) *canvas { return &canvas{w: w, h: h, row: make([]string, h)} }

func (c *canvas) put(row int, s string) {
	if row >= 1 && row <= c.h {
		c.row[row-1] = clip(s, c.w-1)
	}
}

// putAll writes lines from a row on and returns the next row.
func (c *canvas) putAll(row int, lines []string) int {
	for _, l := range lines {
		c.put(row, l)
		row++
	}
	return row
}

// wipe blanks the rows from one to before another.
func (c *canvas) wipe(from, to int) {
	for row := from; row < to; row++ {
		c.put(row, "")
	}
}

// lines right, on a row that has something at the left.
func (c *canvas) right(row int, left, s string) {
	room := c.w - 1 - lipgloss.Width(left)
	if n := lipgloss.Width(s); n < room {
		c.put(row, left+strings.Repeat(" ", room-n)+s)
		return
	}
	c.put(row, left)
}

// clip cuts a line to n columns and drops what is not printable.
func clip(s string, n int) string {
	var b strings.Builder
	used := 0
	for _, r := range s {
		if forms.Hidden(r) {
			r = '.'
		}
		w := lipgloss.Width(string(r))
		if used+w > n {
			break
		}
		b.WriteRune(r)
		used += w
	}
	return strings.TrimRight(b.String(), " ")
}

// short is clip that shows that something was cut.
func short(s string, n int) string {
	if lipgloss.Width(s) <= n || n < 2 {
		return s
	}
	return clip(s, n-1) + "~"
}

// wrap breaks a text into lines of at most n columns; the first begins with
// first, the others with as many blanks as indent says.
func wrap(first, text string, n, indent int) []string {
	line, used := first, lipgloss.Width(first)
	var out []string
	fresh := true
	for _, word := range strings.Fields(text) {
		for {
			w := lipgloss.Width(word)
			if !fresh && used+1+w <= n {
				line, used = line+" "+word, used+1+w
				break
			}
			if fresh && used+w <= n {
				line, used, fresh = line+word, used+w, false
				break
			}
			if fresh { // a word wider than the line is broken
				head := clip(word, max(1, n-used))
				if head == "" {
					head = string([]rune(word)[:1])
				}
				line, word = line+head, word[len(head):]
			}
			out = append(out, line)
			line, used, fresh = strings.Repeat(" ", indent), indent, true
			if word == "" {
				break
			}
		}
	}
	if !fresh || len(out) == 0 {
		out = append(out, line)
	}
	return out
}

// hang wraps a text whose label ends with two or more blanks below what
// follows them.
func hang(first, text string, n int) []string {
	if lipgloss.Width(first+text) <= n {
		return []string{first + text}
	}
	i := strings.Index(text, "  ")
	if i < 0 || i > n/3 {
		return wrap(first, text, n, len(first))
	}
	rest := strings.TrimLeft(text[i:], " ")
	label := first + text[:len(text)-len(rest)]
	return wrap(label, rest, n, lipgloss.Width(label))
}

// compose draws a frame.
func compose(f frame) picture {
	c := newCanvas(wideW, wideH)
	switch {
	case f.w >= wideW && f.h >= wideH:
	case f.w >= narrowW && f.h >= narrowH:
		c = newCanvas(narrowW, narrowH)
	default:
		return f.small()
	}
	if len(f.v.Lines) > 0 {
		return f.paper(c)
	}
	var best picture
	for _, a := range arrangements {
		p, ok := f.walk(newCanvas(c.w, c.h), a)
		if ok && (best.lines == nil || p.pages < best.pages) {
			best = p
		}
		if best.pages == 1 || f.lit() {
			break
		}
	}
	return best
}

// arrangement is a way to set a step on its screen.
type arrangement struct{ room, place int }

// Ways to make room on a step that needs it: the rows of the two rules, then
// one row for the set-up, with the rest of it under /w.
const (
	roomy = iota
	tight
	brief
)

// Where list and hints stand. The box never moves, and what it cuts in two
// reads as two lists: so each stands whole above it or whole below.
const (
	above     = iota // question, hints, list, box
	listBelow        // question, hints, box, list
	hintsLast        // question, list, box, hints
	boxFirst         // question, box, hints, list
	split            // the list above, and below the box the rest of it, under a heading
	paged            // a list page by page, its end below the box
)

// arrangements, the best first. Fewer pages are better than any of them.
var arrangements = []arrangement{
	{roomy, above}, {tight, above}, {roomy, listBelow}, {tight, listBelow}, {roomy, hintsLast}, {tight, hintsLast},
	{brief, above}, {brief, listBelow}, {brief, hintsLast},
	{tight, boxFirst}, {brief, boxFirst}, {tight, split}, {brief, split}, {tight, paged}, {brief, paged},
}

func (f frame) wide() bool { return f.w >= wideW && f.h >= wideH }

// clock screens: waiting for light-off, running, or marked.
func (f frame) clocked() bool { return f.v.Step.Form == procedure.FormClock }
func (f frame) lit() bool {
	return f.clocked() && f.v.Clock != nil && !f.v.Clock.Lit.IsZero()
}
func (f frame) limit() float64 {
	if f.v.Clock != nil && f.v.Clock.Limit > 0 {
		return f.v.Clock.Limit
	}
	return f.v.Step.LimitS
}

// page of cautions, or of a list.
type page struct {
	lines  []string
	danger bool
	alone  bool // over the rows of the set-up, before the question is shown
}

// walk draws one step; false where it has no room in that arrangement.
func (f frame) walk(c *canvas, a arrangement) (picture, bool) {
	r := wideRows
	switch {
	case !f.wide() && f.lit():
		r = narrowClockRows
	case !f.wide():
		r = narrowRows
	}
	last := r.rule2 - 1
	houseRows := r.houseEnd - r.house + 1
	if f.v.Still { // who comes back sees all of it
		houseRows = stillRows
	}
	if a.room >= tight {
		r.rule, r.caution = 0, r.rule
		last++
	}
	if a.room >= brief && !f.v.Still {
		houseRows = 1
	}
	f.where(c)
	c.put(r.rule2, strings.Repeat("-", c.w-1))

	house, fits := f.house(c.w-1, houseRows)
	until := r.cautionEnd
	if len(house) == 0 && !f.lit() {
		until = r.houseEnd
	}
	cautions := f.cautionPages(c.w-1, r, until, len(house) > 0)
	// Cautions come page by page; with the last of them stands the question.
	before := max(0, len(cautions)-1)
	top := f.head(c, r, cautions, len(cautions)-1, house, a.room >= tight)
	end, under := r.box, 0
	if f.lit() {
		end = r.digits
	}
	if r.soFar > 0 {
		under = last - r.soFar + 1
	}
	ask, below, ok := f.arrange(a.place, c.w-1, end-top, under)
	if !ok {
		return picture{}, false
	}
	row := f.askRow(r, ask, top, end)
	var lists [][]string
	if a.place == paged && len(below) > under {
		lists, below = f.early(below, under, last+1-top-len(ask)-messageRows)
	}
	pages := before + len(lists) + 1
	at := min(f.page, pages-1)
	if f.opened {
		at = pages - 1
	}
	f.footer(c, r)
	whys := f.whyPages(c.w-1, r, !fits)
	pic := picture{c.row, pages, len(whys)}
	if at < before {
		c.wipe(r.caution, r.box)
		f.head(c, r, cautions, at, house, a.room >= tight)
		f.keys(c, r, say("more-caution", "n", number(at+1), "of", number(len(cautions))))
		f.message(c, r.message)
		f.controlRow(c, r.message)
		return pic, true
	}
	if at < pages-1 { // no box yet, so the list has its rows too
		c.putAll(c.putAll(top, ask), lists[at-before])
		f.keys(c, r, say("more-list", "n", number(at-before+1), "of", number(len(lists)+1)))
		lines := f.messageLines(c.w - 1)
		c.putAll(last+1-min(messageRows, len(lines)), lines[:min(messageRows, len(lines))])
		f.controlRow(c, last)
		return pic, true
	}
	c.putAll(row, ask)
	f.soFar(c, r)
	if len(below) > 0 {
		c.wipe(r.soFar, last+1)
		c.putAll(r.soFar, below)
	}
	if f.why > 0 && len(whys) > 0 {
		start := r.content
		if r.soFar > 0 {
			start = r.soFar
		}
		c.wipe(start, r.contentEnd+1)
		c.putAll(start, whys[min(f.why, len(whys))-1])
	}
	if f.lit() {
		f.digits(c, r)
	} else {
		f.answer(c, r)
	}
	return pic, true
}

// stillRows are the most for what may still be as the test made it.
const stillRows = 5

// messageRows are kept for what was said of the answer before, on the pages of
// a list that the box does not follow.
const messageRows = 2

// arrange sets question, hints and list: what stands above the box, in free
// rows, and what below it, in under rows. Paged, what is below may be more.
func (f frame) arrange(place, n, free, under int) (up, down []string, ok bool) {
	question, shows, hints := f.ask(n)
	join := func(parts ...[]string) (out []string) {
		for _, p := range parts {
			out = append(out, p...)
		}
		return out
	}
	has := len(f.labels()) > 0
	all := join(question, shows, hints)
	switch free = max(1, free); place {
	case above:
		if f.lit() { // the clock keeps its rows
			return all[:min(len(all), free)], nil, true
		}
		up, ok = join(all, f.list(n, free-len(all))), true
	case listBelow:
		up, down, ok = all, f.list(n, under), has
	case hintsLast, boxFirst:
		up, down = question, join(shows, hints)
		list := f.list(n, under-len(down))
		if place == hintsLast {
			list = f.list(n, free-len(up))
			up = join(question, list)
			if len(up)+len(shows) <= free {
				up, down = join(question, shows, list), hints
			}
		} else {
			down = join(down, list)
		}
		ok = len(down) > 0
	case split:
		const fewest = 3 // less above the box does not look like a list
		list := f.list(n, len(f.labels()))
		k := cut(list, free-len(all))
		if k < fewest || k == len(list) {
			return nil, nil, false
		}
		up, down, ok = join(all, list[:k]), append([]string{heading(say("list-on"), n)}, list[k:]...), true
	case paged:
		k := min(len(all), free)
		return all[:k:k], join(all[k:], f.list(n, 0)), true
	}
	return up, down, ok && len(up) <= free && len(down) <= under
}

// early parts what has no room below the box into pages before it, of about
// the same length.
func (f frame) early(lines []string, under, room int) (pages [][]string, rest []string) {
	under, room = max(1, under), max(1, room)
	for len(lines) > under {
		more := len(lines) - under
		turns := (more + room - 1) / room
		k := cut(lines, min(room, (more+turns-1)/turns))
		pages, lines = append(pages, lines[:k:k]), lines[k:]
	}
	return pages, lines
}

// cut is how many lines to take of at most k without parting those of one
// item, and always one at least.
func cut(lines []string, k int) int {
	k = min(k, len(lines))
	for i := k; i > 0 && i < len(lines); i-- {
		if !strings.HasPrefix(lines[i], wrapped) {
			return i
		}
	}
	return max(1, k)
}

// askRow is where the question always stands, higher when it is long.
func (f frame) askRow(r rows, ask []string, top, end int) int {
	row := r.ask
	if f.wide() && !f.lit() && len(ask) < end-row {
		row++
	}
	return max(top, min(row, end-len(ask)))
}

// head draws one page of cautions and the set-up, and returns the next row.
func (f frame) head(c *canvas, r rows, cautions []page, at int, house []string, tight bool) int {
	top := r.caution
	if r.rule > 0 {
		c.put(r.rule, strings.Repeat("-", c.w-1))
	}
	alone := false
	if at >= 0 {
		p := cautions[at]
		lines := p.lines
		if alone = p.alone; p.danger {
			edge := strings.Repeat("#", c.w-1)
			if lines = append(append([]string{}, lines...), edge); r.rule > 0 {
				c.put(r.rule, edge)
			} else {
				lines = append([]string{edge}, lines...)
			}
		}
		top = c.putAll(top, lines)
	}
	if len(house) > 0 && !alone {
		if tight { // right below the caution, so that a list has all the rest
			r.house = top
		}
		top = max(top, c.putAll(r.house, house))
	}
	return top
}

// where draws the two rows that are always there.
func (f frame) where(c *canvas) {
	w := f.v.Where
	left := " " + strings.ToUpper(f.v.Words.Title)
	if w.Of > 0 {
		at := say("stage", "n", number(w.Stage), "of", number(w.Of))
		if !f.wide() {
			at = say("stage-short", "n", number(w.Stage), "of", number(w.Of))
		} else if w.Name != "" && !strings.EqualFold(w.Name, f.v.Words.Title) {
			at += ": " + w.Name
		}
		done := max(0, min(w.Stage, w.Of)-1)
		left += "   " + at
		bar := "[" + strings.Repeat("=", done) + ">" + strings.Repeat(".", w.Of-done-1) + "]"
		gap := "   "
		mark := w.Mark
		if !f.wide() {
			mark = w.MarkShort
		}
		if lipgloss.Width(left+gap+bar+mark)+1 > c.w-1 {
			gap = " "
		}
		// What a test is, real or not, goes before how far it is.
		room := c.w
		if mark != "" {
			room -= lipgloss.Width(mark) + 1
		}
		if lipgloss.Width(left+gap+bar) < room {
			left += gap + bar
		}
	}
	mark := w.Mark
	if !f.wide() || lipgloss.Width(left)+lipgloss.Width(mark)+1 > c.w-1 {
		mark = w.MarkShort
	}
	c.right(1, left, mark)
	if w.Of == 0 {
		return
	}
	amb := " " + f.ambient()
	if f.wide() {
		kept := say("kept", "n", number(w.Kept))
		room := c.w - 1 - lipgloss.Width(amb+w.Phase+kept) - 8
		rules := say("rules", "scheme", w.Scheme)
		if lipgloss.Width(rules) > room {
			rules = short(w.Scheme, room)
		}
		c.right(2, amb+"   "+rules+"   "+w.Phase, kept)
		return
	}
	kept := say("kept-short", "n", number(w.Kept))
	gap := "   "
	if lipgloss.Width(amb+w.SchemeID+w.Phase+kept)+3*len(gap) > c.w-1 {
		gap = "  "
	}
	room := c.w - 1 - lipgloss.Width(amb+w.Phase+kept) - 3*len(gap)
	c.put(2, amb+gap+short(w.SchemeID, room)+gap+w.Phase+gap+kept)
}

// stale reports that burners run and the last reading of room air is older
// than the walk allows.
func stale(w forms.Where, now time.Time) bool {
	return w.BurnersOn && w.AmbientOld > 0 && (w.Ambient == "" || now.Sub(w.AmbientAt) > w.AmbientOld)
}

func (f frame) ambient() string {
	w := f.v.Where
	age := number(max(0, int(f.now.Sub(w.AmbientAt).Minutes())))
	text := say("ambient", "v", w.Ambient, "min", age)
	switch {
	case w.Ambient == "" && stale(w, f.now):
		return say("ambient-unread-burning")
	case w.Ambient == "":
		text = say("ambient-unread")
	case stale(w, f.now):
		return say("ambient-old", "min", age)
	case w.Ambient == "over":
		text = say("ambient-over", "min", age)
	}
	if w.BurnersOn {
		text = strings.Replace(text, say("ambient-word"), strings.ToUpper(say("ambient-word")), 1)
	}
	return text
}

// house draws the set-up. What has no room is under /w, and the row says so.
func (f frame) house(n, most int) (lines []string, fits bool) {
	if len(f.v.House) == 0 {
		return nil, true
	}
	lines = f.houseLines(n, len(f.v.House))
	if len(lines) <= most {
		return lines, true
	}
	tail := say("list-under-w" + f.size())
	counts := func() []string {
		s := f.v.Step.Setup
		if s == nil {
			return nil
		}
		doors := len(s.Doors)
		if s.CAZDoor == "closed" {
			doors++
		}
		return []string{f.houseHead() + say("set-up", "on", number(len(s.Fans)+len(s.AirHandler)), "shut", number(doors))}
	}
	// Half a clause about a door says less than none: whole ones, or counts.
	for k := len(f.v.House) - 1; k > 0; k-- {
		lines = f.houseLines(n, k)
		last := len(lines) - 1
		if len(lines) > most || lipgloss.Width(lines[last])+1+lipgloss.Width(tail) > n {
			continue
		}
		// At worst case the fans and the shut doors are named, or all are counted.
		if s := f.v.Step.Setup; s != nil && f.v.Held && (most < 2 || len(s.Doors) > 0 && k < f.shut()) {
			break
		}
		lines[last] += " " + tail
		return lines, false
	}
	if lines = counts(); lines == nil {
		lines = f.houseLines(n, 1)[:1]
		lines[0] = short(lines[0], n-lipgloss.Width(tail)-1) + " " + tail
	}
	return lines, false
}

// shut is the place, from 1, of the first clause on what is shut, which names
// the inside doors where any is; more than there are where none does.
func (f frame) shut() int {
	for i, clause := range f.v.House {
		if strings.Contains(clause, wording.ShutWord(forms.Speaks())) {
			return i + 1
		}
	}
	return len(f.v.House) + 1
}

func (f frame) houseHead() string {
	head := say("house-now")
	switch {
	case f.v.Still:
		head = say("still")
	case f.v.Held:
		head = say("held")
	case f.v.Step.Form == procedure.FormSetup:
		head = say("set-to") // it is asked for, not so yet
	}
	if f.wide() {
		return " " + head + "   "
	}
	return " " + head + "  "
}

// houseLines sets the first of the clauses, each whole on a row where it has
// room there.
func (f frame) houseLines(n, clauses int) []string {
	head := f.houseHead()
	indent := 3
	if f.wide() {
		indent = len(head)
	}
	line, empty := head, true
	var out []string
	for _, clause := range f.v.House[:clauses] {
		switch {
		case !empty && lipgloss.Width(line)+3+lipgloss.Width(clause) <= n:
			line += "   " + clause
			continue
		case !empty:
			out = append(out, line)
			line = strings.Repeat(" ", indent)
		}
		rows := wrap(line, clause, n, indent)
		out = append(out, rows[:len(rows)-1]...)
		line, empty = rows[len(rows)-1], false
	}
	return append(out, line)
}

// cautionLines are one caution, its word set off. NOTICE has no sign.
func cautionLines(k wording.Caution, n int) []string {
	if k.Word == "NOTICE" {
		return wrap(" "+forms.Signal(k.Word)+"  ", k.Text, n, 9)
	}
	return wrap(" /!\\ "+forms.Signal(k.Word)+"  ", k.Text, n, 5)
}

// cautionPages cuts the cautions to what their rows hold. DANGER is framed and
// stands alone; with too little room beside the set-up it comes before it.
func (f frame) cautionPages(n int, r rows, last int, house bool) []page {
	const most = 3
	room := min(most, last-r.caution+1)
	framed := min(most, last-r.caution)
	if r.rule == 0 {
		framed--
	}
	framed = max(1, framed)
	var out []page
	cut := func(lines []string, size int, p page) {
		for len(lines) > 0 {
			k := min(size, len(lines))
			p.lines = lines[:k]
			out = append(out, p)
			lines = lines[k:]
		}
	}
	var calm, danger []string
	for _, k := range f.v.Words.Cautions {
		lines := cautionLines(k, n)
		switch {
		case k.Word != "DANGER":
			calm = append(calm, lines...)
		case len(lines) <= framed:
			cut(lines, framed, page{danger: true})
		default:
			cut(lines, most, page{danger: true, alone: true})
			danger = lines[:framed]
		}
	}
	cut(calm, room, page{})
	if k := len(out) - 1; k >= 0 && out[k].alone && house {
		out = append(out, page{lines: danger, danger: true})
	}
	return out
}

// ask is the question, what the demonstration house shows, and hints on how it
// is answered.
func (f frame) ask(n int) (question, shows, hints []string) {
	w := f.v.Words
	q := w.Question
	if f.v.Step.Form == procedure.FormDoubt {
		q = say("look-again") + "  " + q
	}
	if f.v.Notes == 1 {
		q += "  " + say("note")
	} else if f.v.Notes > 1 {
		q += "  " + say("notes", "n", number(f.v.Notes))
	}
	question = wrap(" ", q, n, 1)
	if f.lit() { // the clock takes the rows below
		if len(question) < 2 && len(w.How) > 0 {
			question = append(question, short(" "+w.How[0], n))
		}
		return question, nil, nil
	}
	for _, h := range w.How {
		hints = append(hints, asSet(h, n)...)
	}
	if f.v.Step.Form == procedure.FormTable {
		var parts []string
		for i := range f.v.Step.Choices {
			parts = append(parts, number(i+1)+" "+f.choice(i))
		}
		if !strings.Contains(strings.Join(w.How, " "), "?") { // else it was said
			parts = append(parts, "? "+say("not-known"))
		}
		hints = append(hints, asSet(strings.Join(parts, "   "), n)...)
	}
	return question, f.shows(n), hints
}

// shows is what the demonstration house shows. The hint beside it is never cut.
func (f frame) shows(n int) []string {
	if f.v.Shows == "" {
		return nil
	}
	hint := "   " + say("types-it")
	if lipgloss.Width(f.v.Shows+hint)+3 > n {
		return append(asSet(f.v.Shows, n), "  "+hint)
	}
	return []string{"   " + f.v.Shows + hint}
}

// asSet keeps the blanks that set a line of how in columns, where they fit.
func asSet(h string, n int) []string {
	if lipgloss.Width(h)+3 <= n {
		return []string{"   " + h}
	}
	return wrap("   ", h, n, len(wrapped))
}

func (f frame) item(i int) string {
	if i < len(f.v.Words.Items) && f.v.Words.Items[i] != "" {
		return f.v.Words.Items[i]
	}
	if it := f.v.Step.Items[i]; it.Name != "" {
		return it.Name
	}
	return f.v.Step.Items[i].Code
}

func (f frame) choice(i int) string {
	if i < len(f.v.Words.Choices) && f.v.Words.Choices[i] != "" {
		return f.v.Words.Choices[i]
	}
	return f.v.Step.Choices[i]
}

// labels are the lines of the list that is answered by number, or by place
// (then they have letters, so that no digit of theirs can be typed).
func (f frame) labels() []string {
	var out []string
	byPlace := f.v.Step.Form == procedure.FormTable || f.v.Step.Form == procedure.FormNumbers
	if len(f.v.Step.Items) > 0 {
		for i := range f.v.Step.Items {
			mark := number(i + 1)
			switch {
			case byPlace:
				mark = string(rune('a' + i%26))
			case !forms.Numbered(f.v.Step, i):
				mark = "-"
			}
			out = append(out, mark+" "+f.item(i))
		}
		return out
	}
	for i := range f.v.Step.Choices {
		out = append(out, number(i+1)+" "+f.choice(i))
	}
	if len(out) == 0 && f.v.Step.Form != procedure.FormTable {
		for i, c := range f.v.Words.Choices {
			out = append(out, number(i+1)+" "+c)
		}
	}
	return out
}

// wrapped begins the second line of an item.
const wrapped = "     "

// list sets the labels in as few columns as have room in that many rows, read
// downwards; where none has, in the most columns that there are.
func (f frame) list(n, room int) []string {
	cells := f.labels()
	for i, l := range cells {
		if len(l) > 1 && l[1] == ' ' && len(cells) > 9 {
			cells[i] = " " + l
		}
	}
	out := f.column(cells, n)
	for cols := 2; cols <= 3 && len(out) > room && !f.v.Brief; cols++ {
		if g := columns(cells, n, cols); g != nil {
			out = g
		}
	}
	return out
}

// column is a list in one column; what is too long goes on below.
func (f frame) column(cells []string, n int) (out []string) {
	for _, l := range cells {
		if f.v.Brief {
			out = append(out, short("   "+l, n))
			continue
		}
		first := len(out)
		out = append(out, wrap("   ", strings.TrimLeft(l, " "), n, len(wrapped))...)
		if l[0] == ' ' {
			out[first] = " " + out[first]
		}
	}
	return out
}

// columns is a list in several columns: as wide as each other, else as wide as
// they need; nil where they have no room.
func columns(cells []string, n, cols int) []string {
	height := (len(cells) + cols - 1) / cols
	if height == 0 || (cols-1)*height >= len(cells) {
		return nil
	}
	const gap = 2
	at, even := make([]int, cols), true
	pitch, next := (n-3)/cols, 3
	for col := range at {
		widest := 0
		for _, l := range cells[col*height : min(len(cells), (col+1)*height)] {
			widest = max(widest, lipgloss.Width(l))
		}
		even = even && widest+gap <= pitch
		at[col], next = next, next+widest+gap
	}
	if !even && next-gap > n {
		return nil
	}
	out := make([]string, height)
	for i, l := range cells {
		col, row := i/height, i%height
		if even {
			at[col] = 3 + col*pitch
		}
		out[row] += strings.Repeat(" ", at[col]-lipgloss.Width(out[row])) + l
	}
	return out
}

// before is what stands in front of the answer box.
func before(v forms.View) string {
	if v.Words.Box == "" {
		return "   > "
	}
	return "   " + v.Words.Box + " > "
}

func old(v forms.View) string {
	if v.Old == "" {
		return ""
	}
	return "   " + say("was", "v", short(v.Old, 24))
}

// answer draws box, read as and message. The message may take the line above
// it when that is empty, and what is below it when it is long.
func (f frame) answer(c *canvas, r rows) {
	c.right(r.box, before(f.v)+f.box, old(f.v))
	read := forms.ReadAsWithin(f.v.Step, f.text, c.w-14)
	if f.text != "" && read != "" {
		c.put(r.read, "   "+say("read-as")+"   "+read)
	}
	row := r.message
	if len(f.messageLines(c.w-1)) > 1 && read == "" {
		row--
	}
	f.message(c, row)
	f.controlRow(c, r.message)
}

// message is what the answer before led to: on pages before the question it
// stands too, because the key that turns them takes it away.
func (f frame) message(c *canvas, row int) { c.putAll(row, f.messageLines(c.w-1)) }

func (f frame) messageLines(n int) []string {
	msg := f.v.Message
	if msg == "" {
		msg = f.tell
	}
	if msg == "" {
		return nil
	}
	return hangMessage(msg, n)
}

// hangMessage keeps the word of a message apart from what it says.
func hangMessage(msg string, n int) []string {
	if i := strings.Index(msg, "  "); i > 0 {
		return wrap("   "+msg[:i]+"  ", msg[i:], n, 3)
	}
	return wrap("   ", msg, n, 3)
}

// controlRow borrows the message row for what follows a slash.
func (f frame) controlRow(c *canvas, row int) {
	switch {
	case f.control == "":
	case strings.HasPrefix(f.control, "/c"):
		c.put(row, "   "+say("ask-co")+" > "+f.control[2:]+"_")
	case strings.HasPrefix(f.control, "/n"):
		text := []rune(f.control[2:])
		lead := "   " + say("ask-note") + " > "
		if room := c.w - 2 - len(lead); len(text) > room {
			text = text[len(text)-room:]
		}
		c.put(row, lead+string(text)+"_")
	default:
		c.put(row, "   "+f.control+"_")
	}
}

// soFar draws the ruler, or the last readings and the note on the net.
func (f frame) soFar(c *canvas, r rows) {
	room := r.contentEnd - r.content + 1
	if ruler := f.v.Ruler; ruler != nil {
		lines := forms.DrawRulerIn(*ruler, c.w, 4)
		start := r.content
		if len(lines) > room && r.soFar > 0 {
			start = r.soFar
		} else {
			f.soFarHead(c, r)
		}
		next := c.putAll(start, lines)
		f.readings(c, next, r.contentEnd)
		return
	}
	f.soFarHead(c, r)
	end := r.contentEnd
	var note []string
	if f.v.NetNote != "" {
		note = wrap(" "+say("net")+"    ", strings.TrimPrefix(f.v.NetNote, "net "), c.w-1, 8)
		end -= len(note)
	}
	c.putAll(f.readings(c, r.content, end), note)
}

func (f frame) soFarHead(c *canvas, r rows) {
	c.put(r.soFar, heading(say("so-far"), c.w-1))
}

// heading is a rule with what stands below it.
func heading(text string, n int) string {
	head := "-- " + text + " "
	return head + strings.Repeat("-", max(0, n-len(head)))
}

// readings draws the newest of what is so far, two on a line where both fit.
func (f frame) readings(c *canvas, from, to int) int {
	var lines []string
	for _, s := range f.v.SoFar {
		if i := strings.LastIndex(s, ", "); i > strings.LastIndex(s, ": ") && 1+lipgloss.Width(s) > c.w-1 {
			s = s[:i] + " ~" // half a spread says less than none
		}
		s = short(" "+s, c.w-1)
		if k := len(lines) - 1; !f.wide() && k >= 0 && !strings.Contains(lines[k], "     ") && lipgloss.Width(lines[k]+s)+4 <= c.w-1 {
			lines[k] += "    " + s
			continue
		}
		lines = append(lines, s)
	}
	room := max(0, to-from+1)
	if len(lines) > room {
		lines = lines[len(lines)-room:]
	}
	return c.putAll(from, lines)
}

// whyPages are what /w shows: the whole set-up when it had no room, why, and
// the limits that the ruler has no line for.
func (f frame) whyPages(n int, r rows, whole bool) [][]string {
	var lines []string
	if whole {
		lines = append(lines, f.houseLines(n, len(f.v.House))...)
	}
	for _, w := range f.v.Words.Why {
		lines = append(lines, wrap(" ", w, n, 3)...)
	}
	if f.v.Ruler != nil && len(f.v.Ruler.Marks) > 1 {
		lines = append(lines, forms.DrawRuler(*f.v.Ruler, n+1)[4:]...)
	}
	size := r.contentEnd - r.content + 1
	if r.soFar > 0 {
		size = r.contentEnd - r.soFar + 1
	}
	var out [][]string
	for len(lines) > 0 {
		k := min(size, len(lines))
		out = append(out, lines[:k])
		lines = lines[k:]
	}
	return out
}

// keys puts a text for this step's keys, unless the controls are open.
func (f frame) keys(c *canvas, r rows, text string) {
	if f.control == "" {
		c.put(r.keys, text)
	}
}

// footer is the two rows of keys.
func (f frame) footer(c *canvas, r rows) {
	size := "-short"
	if f.wide() {
		size = ""
	}
	code := "key-keep"
	switch {
	case f.control == "" && strings.Contains(f.text, "/"):
		code = "key-esc" // with something typed a slash is text
	case f.control != "":
		code = "key-control" + size
	case f.clocked() && !f.lit():
		code = "key-light" + size
	case f.lit() && f.v.Clock.Drawn > 0:
		code = "key-drawn" + size
	case f.lit():
		code = "key-run" + size
	}
	text := " " + say(code)
	if code == "key-keep" {
		if f.v.Step.Wanted {
			text += "   " + say("key-skip")
		}
		if f.v.Step.Burning {
			text += "   " + say("key-down")
		}
	}
	c.put(r.keys, text)
	c.put(r.slash, " "+say("slash"+size))
}
