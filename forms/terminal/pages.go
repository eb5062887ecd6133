package terminal

import (
	"math"
	"strings"

	"github.com/charmbracelet/lipgloss"

	"cazward/forms"
	"cazward/procedure/reading"
)

// glyphs are the large digits, five rows of four columns.
var glyphs = [...][5]string{
	{"####", "#  #", "#  #", "#  #", "####"},
	{"  # ", " ## ", "  # ", "  # ", " ###"},
	{"####", "   #", "####", "#   ", "####"},
	{"####", "   #", " ###", "   #", "####"},
	{"#  #", "#  #", "####", "   #", "   #"},
	{"####", "#   ", "####", "   #", "####"},
	{"####", "#   ", "####", "#  #", "####"},
	{"####", "   #", "  # ", "  # ", "  # "},
	{"####", "#  #", "####", "#  #", "####"},
	{"####", "#  #", "####", "   #", "####"},
}

var colon = [5]string{"   ", " # ", "   ", " # ", "   "}

// large draws m:ss in large digits.
func large(seconds int) [5]string {
	var out [5]string
	text := minutes(seconds)
	for i, r := range text {
		for row := range out {
			switch {
			case r == ':':
				out[row] += "  " + colon[row] + " "
			case i > 0 && text[i-1] != ':':
				out[row] += "  " + glyphs[r-'0'][row]
			default:
				out[row] += glyphs[r-'0'][row]
			}
		}
	}
	return out
}

// minutes prints seconds as m:ss.
func minutes(s int) string {
	sec := number(s % 60)
	if len(sec) < 2 {
		sec = "0" + sec
	}
	return number(s/60) + ":" + sec
}

// status is what the clock says in words, most important last.
func (f frame) status() []string {
	past := f.limit() > 0 && f.elapsed > f.limit()
	limit := reading.Format(f.limit(), -1)
	switch drawn := f.v.Clock.Drawn; {
	case drawn > 0 && f.limit() > 0 && drawn > f.limit():
		return []string{say("drawn-past", "s", reading.Format(tenth(drawn), -1), "limit", limit), say("runs", "s", number(int(f.elapsed)))}
	case drawn > 0:
		return []string{say("drawn", "s", reading.Format(tenth(drawn), -1)), say("runs", "s", number(int(f.elapsed)))}
	case past:
		return []string{say("past", "s", limit), say("past-still")}
	case f.limit() > 0:
		return []string{say("spilling"), say("left", "s", number(int(math.Ceil(f.limit()-math.Floor(f.elapsed)))))}
	}
	return []string{say("spilling")}
}

// tenth rounds a time of spilling up to the tenth, so that rounding never
// makes it pass.
func tenth(s float64) float64 { return math.Ceil(s*10-1e-6) / 10 }

// digits draws the running clock in the rows of the answer box.
func (f frame) digits(c *canvas, r rows) {
	left, text, size, bar := 6, 34, "", 40
	if !f.wide() {
		left, text, size, bar = 4, 30, "-short", 30
	}
	limit := say("no-limit" + size)
	if f.limit() > 0 {
		limit = say("limit"+size, "s", reading.Format(f.limit(), -1))
	}
	side := []string{say("lit"+size, "at", f.v.Clock.Lit.Format("15:04:05")), limit, ""}
	switch {
	case f.text != "":
		side[2] = "> " + f.box
	case lipgloss.Width(f.v.Shows) < c.w-text:
		side[2] = f.v.Shows
	}
	side = append(side, f.status()...)
	for i, d := range large(int(f.elapsed)) {
		line := strings.Repeat(" ", left) + d
		if i < len(side) {
			line += strings.Repeat(" ", max(1, text-len(line))) + side[i]
		}
		c.put(r.digits+i, line)
	}
	if f.limit() > 0 {
		done := min(bar, int(f.elapsed/f.limit()*float64(bar)))
		scale := strings.Repeat("=", done)
		if done < bar {
			scale += ">" + strings.Repeat(".", bar-done-1)
		}
		end := minutes(int(math.Ceil(f.limit())))
		c.put(r.bar, strings.Repeat(" ", left)+"0:00 ["+scale+"] "+say("bar-limit", "at", end))
	}
	row := r.content
	if r.soFar > 0 {
		row = r.soFar
	}
	switch {
	case f.control != "":
		f.controlRow(c, row)
	case f.v.Message != "":
		c.putAll(row, hangMessage(f.v.Message, c.w-1))
	case f.tell != "":
		c.putAll(row, hangMessage(f.tell, c.w-1))
	}
}

// block is one line of a page as it was given, wrapped.
type block struct {
	role  string
	lines []string
}

// blocks wraps the lines of a page. Reasons and deeds are numbered.
func (f frame) blocks(n int) []block {
	var out []block
	count := map[string]int{}
	cautions := func() {
		for _, k := range f.v.Words.Cautions {
			out = append(out, block{"caution", cautionLines(k, n)})
		}
	}
	placed := false
	for _, l := range f.v.Lines {
		placed = placed || l.Role == "cautions"
	}
	for i, l := range f.v.Lines {
		if !placed && l.Role != "head" && (i == 0 || f.v.Lines[i-1].Role == "head") {
			cautions()
			placed = true
		}
		switch l.Role {
		case "cautions":
			cautions()
		case "head":
			out = append(out, block{"head", headline(l.Text, n)})
		case "drawn":
			out = append(out, block{"drawn", []string{" " + l.Text[:min(len(l.Text), n-1)]}})
		case "why", "do":
			count[l.Role]++
			lead := strings.Repeat(" ", 7)
			if count[l.Role] == 1 {
				lead = labelled(l.Role)
			}
			lead += number(count[l.Role]) + " "
			out = append(out, block{l.Role, wrap(lead, l.Text, n, len(lead))})
		case "holds":
			lead := " " + say("holds") + " "
			out = append(out, block{l.Role, wrap(lead, l.Text, n, len(lead))})
		default:
			out = append(out, block{l.Role, hang(" ", l.Text, n)})
		}
	}
	if !placed {
		cautions()
	}
	return out
}

// headline frames signal word, headline and code word; DANGER alone with #.
func headline(text string, n int) []string {
	edge, sign := "=", "/!\\ "
	var parts []string
	for _, p := range strings.Split(text, "  ") {
		if p = strings.TrimSpace(p); p != "" {
			parts = append(parts, p)
		}
	}
	switch parts = append(parts, "", "", ""); parts[0] {
	case "DANGER":
		edge = "#"
	case "WARNING", "CAUTION":
	default:
		sign = ""
	}
	word, head, code := " "+sign+forms.Signal(parts[0]), parts[1], parts[2]
	gap := "      "
	if lipgloss.Width(word+gap+head+code)+2 > n {
		gap = "  "
	}
	line := word + gap + head
	rows := []string{line}
	if room := n - lipgloss.Width(line) - lipgloss.Width(code) - 1; room > 0 {
		rows[0] += strings.Repeat(" ", room) + code
	} else {
		rows = wrap(word+gap, head+"  "+code, n, len(word+gap))
	}
	row := strings.Repeat(edge, n)
	return append(append([]string{row}, rows...), row)
}

func flat(blocks []block) []string {
	var out []string
	for _, b := range blocks {
		out = append(out, b.lines...)
	}
	return out
}

// paper draws a page of text with its question: first screen, decision.
// Every line but reasons must have been on the screen before the box opens;
// reasons that have no room wait behind /w.
func (f frame) paper(c *canvas) picture {
	n := c.w - 1
	blocks := f.blocks(n)
	box, head := c.h-3, f.v.Words.Title
	if f.v.Where.Of == 0 {
		box = c.h - 2
	} else {
		head = strings.ToUpper(head) + "   " + f.v.Where.Phase
		if f.v.Where.Name != "" && !strings.EqualFold(f.v.Where.Name, f.v.Words.Title) {
			head += "   " + f.v.Where.Name
		}
	}
	mark := f.v.Where.Mark
	if !f.wide() && f.v.Where.MarkShort != "" {
		mark = f.v.Where.MarkShort
	}
	c.right(1, " "+head, mark)
	top := 2
	if len(blocks) == 0 || blocks[0].role != "head" {
		c.put(2, strings.Repeat("-", n))
		top = 3
	}
	var ask []string
	if f.v.Words.Question != "" {
		ask = wrap(" ", f.v.Words.Question, n, 1)
	}
	ask = append(ask, f.shows(n)...)
	for _, h := range f.v.Words.How {
		ask = append(ask, asSet(h, n)...)
	}
	for _, l := range f.labels() {
		ask = append(ask, wrap("   ", strings.Replace(l, " ", "  ", 1), n, 6)...)
	}
	// Signal word and headline stand on every page.
	if len(blocks) > 0 && blocks[0].role == "head" {
		top = c.putAll(top, blocks[0].lines)
		blocks = blocks[1:]
	}
	room := max(1, box-top-len(ask))
	body, whys := f.fit(blocks, room)
	if f.why > 0 && len(whys) > 0 {
		c.putAll(top, whys[min(f.why, len(whys))-1])
		c.put(c.h-1, " "+say("key-back"))
		c.put(c.h, " "+say("slash"+f.size()))
		return picture{c.row, 1, len(whys)}
	}
	pages := turn(body, c.h-1-messageRows-top, room)
	at := min(f.page, len(pages)-1)
	if f.opened {
		at = len(pages) - 1
	}
	c.putAll(top, pages[at])
	c.put(c.h, " "+say("slash"+f.size()))
	if at < len(pages)-1 {
		c.put(c.h-1, say("more-page", "n", number(at+1), "of", number(len(pages))))
		lines := f.messageLines(n)
		c.putAll(c.h-1-min(messageRows, len(lines)), lines[:min(messageRows, len(lines))])
		f.controlRow(c, c.h-2)
		return picture{c.row, len(pages), len(whys)}
	}
	c.putAll(box-len(ask), ask)
	c.right(box, before(f.v)+f.box, old(f.v))
	message := box + 1
	if f.v.Where.Of == 0 {
		c.put(c.h-1, strings.Repeat("-", n))
	} else {
		keys := " " + say("key-keep")
		if len(pages) > 1 {
			keys += "   " + say("page", "n", number(at+1), "of", number(len(pages)))
		}
		c.put(c.h-1, keys)
	}
	if lines := f.messageLines(n); len(lines) > 1 {
		c.putAll(max(top, box-len(ask)-len(lines)), lines) // over the page, which was read, never over the choices
	} else {
		c.putAll(message, lines)
	}
	if f.control != "" {
		f.controlRow(c, message)
		c.put(c.h-1, " "+say("key-control"+f.size()))
	}
	return picture{c.row, len(pages), len(whys)}
}

func (f frame) size() string {
	if f.wide() {
		return ""
	}
	return "-short"
}

// fit leaves reasons behind /w, from the last, while the page is too long.
func (f frame) fit(blocks []block, room int) (body []block, whys [][]string) {
	var reasons []string
	first, last := -1, -1
	for i, b := range blocks {
		if b.role == "why" {
			reasons = append(reasons, b.lines...)
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	for _, w := range f.v.Words.Why {
		reasons = append(reasons, wrap(" ", w, f.columns(), 3)...)
	}
	if len(reasons) > 0 {
		whys = chunk(reasons, room)
	}
	body = blocks
	for keep := last; keep > first && first >= 0 && len(flat(body)) > room; keep-- {
		some := append([]block{}, blocks[:keep]...)
		some = append(some, block{"why", []string{strings.Repeat(" ", 7) + say("more-why", "n", number(last-keep+1))}})
		body = append(some, blocks[last+1:]...)
	}
	return body, whys
}

// turn cuts a text into pages between its blocks, of room lines each but for
// the last, which has the question below it. A page that begins amid the deeds
// says so again, and none begins with a blank line.
func turn(blocks []block, room, last int) [][]string {
	var out [][]string
	room = max(1, room)
	blocks = append([]block{}, blocks...)
	for len(flat(blocks)) > last && len(blocks) > 0 {
		var page []string
		for len(blocks) > 0 && len(page) < room {
			b := blocks[0]
			if len(page)+len(b.lines) > room && len(page) > 0 || len(blocks) == 1 && len(b.lines) <= last && len(page) > 0 {
				break
			}
			k := min(len(b.lines), room)
			page = append(page, b.lines[:k]...)
			if blocks[0].lines = b.lines[k:]; k == len(b.lines) {
				blocks = blocks[1:]
			}
		}
		out = append(out, page)
		for len(blocks) > 0 && strings.TrimSpace(strings.Join(blocks[0].lines, "")) == "" {
			blocks = blocks[1:]
		}
		if len(blocks) > 0 && len(blocks[0].lines) > 0 && (blocks[0].role == "do" || blocks[0].role == "why") && strings.HasPrefix(blocks[0].lines[0], strings.Repeat(" ", 7)) {
			lead := labelled(blocks[0].role)
			blocks[0].lines = append([]string{lead + blocks[0].lines[0][len(lead):]}, blocks[0].lines[1:]...)
		}
	}
	return append(out, flat(blocks))
}

// labelled begins the first line of reasons and of deeds.
func labelled(role string) string {
	return " " + say(role) + strings.Repeat(" ", 6-len(say(role)))
}

func (f frame) columns() int {
	if f.wide() {
		return wideW - 1
	}
	return narrowW - 1
}

// chunk cuts lines into pages and leaves out blank ones at their tops.
func chunk(lines []string, size int) [][]string {
	var out [][]string
	for len(lines) > 0 {
		for len(lines) > 1 && len(out) > 0 && strings.TrimSpace(lines[0]) == "" {
			lines = lines[1:]
		}
		k := min(size, len(lines))
		if k < len(lines) { // between paragraphs, where that leaves half a page
			for i := k; i > size/2; i-- {
				if strings.TrimSpace(lines[i]) == "" {
					k = i
					break
				}
			}
		}
		out = append(out, lines[:k])
		lines = lines[k:]
	}
	if len(out) == 0 {
		out = [][]string{{}}
	}
	return out
}

// small draws what a window below 60x20 has room for: stage, question, box,
// clock; cautions and lists page by page before the box opens. 20x5 has clock
// and box alone.
func (f frame) small() picture {
	w, h := max(1, f.w), max(1, f.h)
	c := newCanvas(w+1, h) // to the last column: there is none to spare
	var clock []string
	if f.lit() {
		text := minutes(int(f.elapsed))
		if f.limit() > 0 {
			text += "/" + minutes(int(math.Ceil(f.limit())))
		}
		clock = append(clock, " "+text+" "+strings.Join(f.status()[:1], " "))
	}
	box := strings.TrimPrefix(before(f.v), "  ") + f.box
	if f.control != "" {
		box = " " + f.control + "_"
	}
	if w <= 20 || h <= 5 {
		row := c.putAll(1, clock)
		if !f.opened && f.smallPages(w, h) > 1 {
			c.put(row, say("larger-short"))
			return picture{c.row, math.MaxInt, 0} // no paging unseen
		}
		c.put(row, box)
		return picture{c.row, 1, 0}
	}
	body, ask, tail := f.smallParts(w)
	title := []string{" " + strings.ToUpper(f.v.Words.Title)}
	if f.v.Where.Of > 0 {
		title[0] += " " + say("stage-short", "n", number(f.v.Where.Stage), "of", number(f.v.Where.Of))
	}
	if l := f.v.Lines; len(l) > 0 && l[0].Role == "head" { // signal word and headline stand on every page
		if title = headline(l[0].Text, w); h < 14 {
			title = title[1 : len(title)-1] // no rows for its frame
		}
	}
	room := max(1, h-1-len(title)-len(clock)-len(ask)-len(tail))
	pages := chunk(body, room)
	at := min(f.page, len(pages)-1)
	if f.opened {
		at = len(pages) - 1
	}
	row := c.putAll(c.putAll(1, title), pages[at])
	if at < len(pages)-1 {
		c.put(row, say("more-page", "n", number(at+1), "of", number(len(pages))))
		return picture{c.row, len(pages), 0}
	}
	row = c.putAll(row, ask)
	row = c.putAll(row, clock)
	c.put(row, box)
	msg := f.v.Message
	if msg == "" {
		msg = f.tell
	}
	if msg != "" {
		tail = wrap(" ", msg, w, 1)
	}
	c.putAll(row+1, tail)
	return picture{c.row, len(pages), 0}
}

func (f frame) smallPages(w, h int) int {
	if w <= 20 || h <= 5 {
		w, h = 40, 10
	}
	body, ask, tail := f.smallParts(w)
	return len(chunk(body, max(1, h-2-len(ask)-len(tail))))
}

func (f frame) smallParts(w int) (body, ask, tail []string) {
	if len(f.v.Lines) > 0 {
		for _, b := range f.blocks(w) {
			if b.role != "head" { // it stands above
				body = append(body, b.lines...)
			}
		}
	} else {
		for _, k := range f.v.Words.Cautions {
			body = append(body, cautionLines(k, w)...)
		}
	}
	if f.v.Shows != "" {
		body = append(body, wrap(" ", f.v.Shows+" "+say("types-it"), w, 1)...)
	}
	for _, h := range f.v.Words.How {
		body = append(body, wrap(" ", h, w, 1)...)
	}
	for _, l := range f.labels() {
		body = append(body, wrap(" ", l, w, 3)...)
	}
	ask = wrap(" ", f.v.Words.Question, w, 1)
	tail = wrap(" ", say("larger"), w, 1)
	return body, ask, tail
}
