package forms

import (
	"errors"
	"strings"
	"sync"
	"unicode"

	"cazward/procedure"
	"cazward/procedure/reading"
)

// Refusal says why an answer was not kept. Text is Code and Args in words,
// in the voice of the screens: what, why, what next.
type Refusal struct {
	Code string
	Args map[string]string
	Text string
}

// Error implements error.
func (r *Refusal) Error() string { return r.Text }

// Words puts a code and its arguments into the language that [Speak] set. A
// code it does not know comes back as it is, so that nothing is refused
// without a word.
func Words(code string, args map[string]string) string {
	t, ok := phrase(code)
	if !ok {
		return code
	}
	pairs := make([]string, 0, 2*len(args))
	for k, v := range args {
		pairs = append(pairs, "{"+k+"}", v)
	}
	return strings.NewReplacer(pairs...).Replace(t)
}

// refuse takes arguments as key, value, key, value.
func refuse(code string, kv ...string) error {
	args := make(map[string]string, len(kv)/2)
	for i := 0; i+1 < len(kv); i += 2 {
		args[kv[i]] = kv[i+1]
	}
	return &Refusal{Code: code, Args: args, Text: Words("not-kept", map[string]string{"text": Words(code, args)})}
}

// hint is how the step is answered, for the end of a refusal.
func hint(step procedure.Step) string {
	n := len(step.Choices)
	unit := step.Unit
	if unit == "" {
		unit = Words("plain-figures", nil)
	}
	code := "hint/" + string(step.Form)
	if step.Form == procedure.FormSetup && (step.Setup == nil || len(step.Setup.Fans) == 0) {
		code += "/no-fan"
	}
	return Words(code, map[string]string{"max": itoa(n), "unit": unit})
}

// refuseReading words a refusal of the reading package.
func refuseReading(step procedure.Step, err error) error {
	var e *reading.EntryError
	if !errors.As(err, &e) {
		return err
	}
	code := "reading/" + string(e.Code)
	switch {
	case e.Code == reading.CodeNoSign && plausibleKind(step) == reading.KindDraft:
		code += "/draft"
	case e.Code == reading.CodeComma && strings.Contains(e.Suggest, " "):
		code += "/list"
	case e.Suggest == "" && (e.Code == reading.CodeNotANumber || e.Code == reading.CodeComma):
		code += "/plain"
	case e.Text == "" && e.Code == reading.CodeUnit:
		code += "/missing"
	}
	return refuse(code, "text", echo(e.Text), "suggest", echo(e.Suggest), "hint", hint(step))
}

// echo makes a piece of what was typed safe and short enough to show.
func echo(s string) string {
	s = strings.Map(func(r rune) rune {
		if Hidden(r) {
			return '.'
		}
		return r
	}, strings.ToValidUTF8(s, "."))
	if r := []rune(s); len(r) > 24 {
		return string(r[:23]) + "~"
	}
	return s
}

// Hidden reports characters that can steer a terminal, reorder a line or hide
// in it. The two joiners that several scripts need inside words are not.
func Hidden(r rune) bool {
	switch {
	case r == '\u200c', r == '\u200d':
		return false
	case r == unicode.ReplacementChar, r == '\u2028', r == '\u2029':
		return true
	}
	return unicode.IsControl(r) || unicode.Is(unicode.Cf, r)
}

// english is the catalogue of this package, by code.
var english = sync.OnceValue(func() map[string]string {
	return map[string]string{
		"empty":         "nothing was typed. Enter alone never means fine. {hint}",
		"hidden":        "a control character is in it. Type it again, without pasting.",
		"too-long":      "longer than {max} characters. Shorter, please.",
		"not-an-answer": `"{text}" is not an answer here. {hint}`,
		"not-on-list":   "{text} is not on the list: 1 to {max}.",
		"twice":         "{text} is there twice.",
		"list-comma":    `"{text}": spaces between numbers: {suggest}.`,
		"ok-and-more":   `"ok" and "none" stand alone. {hint}`,
		"text-of-which": "a text belongs to one number: 2; 5: rusty.",
		"text-empty":    "after {text}: comes what is wrong.",
		"text-number":   `is "{text}" part of the text or of the list? Lists: 2: crushed; 5; ?3.`,
		"go-and-look":   `"{text}" will not do here. Go and look; if it may be so, type its number.`,
		"set-it-so":     "{text} is no fan here. Set the rest as listed, or say why with /k.",
		"count":         "{n} given, {max} lines: one for each, ? for not known.",
		"implausible":   "{text} is far outside {what}. {suggest}? If it is right, type {again} again.",
		"implausible/plain": "{text} is far outside {what}. " +
			"If it is right, type {again} again.",
		"few-values":       "{n} given, {max} or more are needed. Or one averaged value and its seconds: -1.0 30s.",
		"few-seconds":      "{text} s is too short: {max} s or longer, or several values.",
		"no-seconds":       "one value without its seconds: -1.0 30s. Or {max} values or more.",
		"pairs-seconds":    "no seconds here: off, on, off, on ..., each with its sign.",
		"pairs-odd":        "{n} values: off and on come in pairs.",
		"pairs-few":        "{n} pairs: three or more are needed.",
		"gas-pairs":        "each CO needs its O2: 12 6.5 15 7. Not read: ?.",
		"gas-o2":           "O2 {text} % cannot be. CO first, then O2: 12 6.5.",
		"gas-sign":         "{text} ppm cannot be.",
		"burner-input":     "the input is missing: {text} 40000, or {text} ? when it is not known.",
		"burner-zero":      "0 is no input. Not known: ?.",
		"weather-two":      "wind and outdoor temperature are needed: 6 34.",
		"weather-unit":     "{text} C or {text} F? Type it with its letter.",
		"clock-unit":       "{text} what? {text}s if it is seconds. Ambient CO: /c {text}.",
		"clock-still":      "still spilling when the burner was cut, after how long? still 60s.",
		"instrument-date":  `"{text}" is not a date of the form 2026-04-30.`,
		"instrument-res":   `"{text}" is not a resolution in Pa, such as 0.1.`,
		"instrument-acc":   `"{text}" is not an accuracy, such as 0.5 (Pa) or 1%.`,
		"instrument-parts": "too many parts. Name; serial; date; resolution.",
		"told-both":        "both are needed: who; how.",
		"doubt-how":        "ok needs what was looked at: ok hoses, both ends.",
		"mark-terminal":    "a mark needs a terminal. Type the time: 37s, none, still 60s.",
		"no-such-key":      `"/{text}" is no key here. / alone lists them; // types a slash.`,

		"the-line":       "the line",
		"plain-figures":  "plain figures",
		"not-kept":       "NOT KEPT  {text}",
		"signal/DANGER":  "DANGER",
		"signal/WARNING": "WARNING",
		"signal/CAUTION": "CAUTION",
		"signal/NOTICE":  "NOTICE",

		// what the command says on the screens

		"msg/unsaved":      "STOPPED  {text}",
		"msg/not-changed":  "NOT CHANGED  it says what it said before.",
		"msg/stands":       "NOT CHANGED  the old answer stands.",
		"msg/kept-facts":   "{why}; nothing is lost, {n} entries are kept",
		"msg/lost-facts":   "{why}; {n} entries are kept, what came after is NOT saved",
		"msg/not-here":     "NOT HERE  answer this first, or /b to go back.",
		"msg/no-record":    "NOT HERE  there is no record yet. In danger: /! and out.",
		"msg/shut-first":   "NOT YET   switch all of it off first, then stop. In danger: /! and out.",
		"msg/no-open":      "NOT KEPT  no open record in this folder. Choose 2 for a new home.",
		"msg/no-back":      "NOT YET   there is nothing to go back to",
		"msg/no-fix":       "NOT YET   no answer to fix so far",
		"msg/not-found":    "NOT FOUND  \"{text}\": these are the newest answers.",
		"msg/found":        "FOUND  {n} with \"{text}\", newest first. Another word searches again.",
		"msg/entry":        "{what} (entry {n})",
		"msg/doubt-again":  "NOT HERE  a doubt is settled by reading again: fix the reading.",
		"msg/correcting":   "CORRECTING  {what}: type all of it anew.",
		"msg/changed":      "CHANGED  kept as {n}; later answers that rest on it, asked again: {again}.",
		"msg/keep-name":    "{path}  (keep this name)",
		"msg/torn":         "its last line was cut off and counts for nothing; the bytes are kept in {path}",
		"msg/input-ended":  "input ended",
		"msg/stopped":      "not finished",
		"msg/closed":       "decision {decision}: {head} ({word})",
		"msg/no-report":    "NOT written: {err}",
		"msg/was":          "was: {what}",
		"msg/demo":         "DEMO HOUSE, INVENTED",
		"msg/demo-short":   "DEMO, INVENTED",
		"msg/practice":     "PRACTICE",
		"msg/over":         "over range",
		"msg/risk":         "risk accepted: {row}: {reason}",
		"msg/back":         "HOUSE PUT BACK {n} of {of}",
		"msg/back-open":    "HOUSE PUT BACK {n} of {of}: open {what}",
		"msg/back-none":    "HOUSE PUT BACK: nothing was changed, or not done",
		"msg/tested":       "NOT TESTED none",
		"msg/not-tested":   "NOT TESTED {what}",
		"msg/today":        "{at} today",
		"msg/stopped-at":   "{home}, stopped {at}",
		"msg/returned-at":  "{home}, returned {at}",
		"msg/returned":     "returned by {name}: {note}",
		"msg/not-received": "the register was not reached, so sign-offs may wait there: {why}",
		"fault/enter":      "press Enter",
		"fault/answer":     "answer",
		"fault/mark":       "mark",
		"fault/entry":      "entry",
		"fault/cool":       "let the vent cool, time it again",
		"fault/again":      "enter it again",
		"fault/mend":       "Mend it, {again}.",
		"fault/changed":    "record changed from outside",
		"fault/verify":     "/q, then verify it.",
		"fault/record":     "the record {text}",
		"fault/deleted":    "record deleted or moved",
		"fault/put-back":   "Put it back, {again}.",
		"fault/another":    "Enter it in another way, or stop with /q.",
		"fault/full":       "the disk is full",
		"fault/free":       "Free space, {again}.",
		"fault/protected":  "write-protected",
		"fault/writable":   "Make it writable, {again}.",
		"fault/disk":       "the disk fails",
		"fault/reseat":     "Reseat it, {again}; or /q.",
		"fault/closed":     "record not open any more",
		"fault/go-on":      "/q, then go on.",
		"fault/all":        "{why}: {what} NOT saved, write it down. {do} Last kept: {n}.",
		"msg/from-to":      "{from} to {to}",
		"msg/photo-how":    "NOT KEPT  type the path of a JPEG or PNG after it: /a soot.jpg",
		"msg/photo-later":  "NOT NOW   a burner is lit. Take the picture, give its path after this step.",
		"msg/photo-gone":   "NOT KEPT  {path}: no such file, or it cannot be read. Type its path again.",
		"msg/photo-bad":    "NOT KEPT  {path} is no JPEG or PNG, is broken, or is over 40 MB.",

		"reading/empty":                 "nothing was typed. Enter alone never means fine. {hint}",
		"reading/no-sign":               "{text} has no sign. Zone lower than outdoors: -{text}. Higher: +{text}.",
		"reading/no-sign/draft":         "{text} has no sign. Vent lower than the zone: -{text}. Higher: +{text}.",
		"reading/comma":                 `"{text}": use a point, {suggest}. Several values: spaces between them.`,
		"reading/comma/list":            `"{text}": spaces between values: {suggest}.`,
		"reading/comma/plain":           `"{text}": a point for decimals, spaces between values.`,
		"reading/comma-thousands":       `"{text}" can be read in two ways. Without the comma: {suggest}. A decimal: a point.`,
		"reading/not-a-number":          `"{text}" is not a plain number. {suggest}?`,
		"reading/not-a-number/plain":    `"{text}" is not a plain number. {hint}`,
		"reading/unit":                  `"{text}" is not a unit known here.`,
		"reading/unit/missing":          "a unit is missing.",
		"reading/unit-family":           "{text} measures something else; wanted is {suggest}.",
		"reading/mixed":                 `"{text}" is out of place: values, then one unit, then seconds.`,
		"reading/too-many":              `"{text}" is one too many. {hint}`,
		"reading/averaging-with-many":   "{text} belongs to one averaged value. Several values: no seconds.",
		"reading/out-of-range":          "{text} cannot be.",
		"what/zone-pressure":            "what a zone reads",
		"what/draft":                    "what a draft reads",
		"what/":                         "what is met here",
		"hint/text":                     "Type the text.",
		"hint/choice":                   "Type a number, 1 to {max}.",
		"hint/checklist":                "Type ok, or the numbers that are wrong: 2 5 ?3.",
		"hint/gate":                     "Type none, or the numbers that are so.",
		"hint/roster":                   "Type a number for each thing: 1 1 3. Or none.",
		"hint/facts":                    "Type the numbers that are true, ?3 not known. Or none.",
		"hint/pick":                     "Type the numbers: 1 3. Or none.",
		"hint/table":                    "Type one digit for each line, ? for not known.",
		"hint/numbers":                  "Type one number for each line, ? for not known.",
		"hint/number":                   "Type a number in {unit}, or ?.",
		"hint/burner":                   "Type fuel and input: 1 40000. Not known: ?.",
		"hint/weather":                  "Type wind and outdoor temperature: 6 34.",
		"hint/pressure":                 "Type values with signs: -0.8 -1.1. Or one and its seconds: -1.0 30s.",
		"hint/pairs":                    "Type off on off on ..., three pairs or more, with signs.",
		"hint/gas":                      "Type CO and O2: 12 6.5. Or over.",
		"hint/ambient":                  "Type the ppm. Or over.",
		"hint/clock":                    "Type 37s, none or still 60s.",
		"hint/setup":                    "Type ok, or the numbers of fans that will not run.",
		"hint/setup/no-fan":             "Type ok when all of it is so. Cannot be set: /k.",
		"hint/instrument":               "Type name; serial; date; resolution (name is enough).",
		"hint/told":                     "Type who; how.",
		"hint/doubt":                    "Type r, or ok and what was looked at, or k.",
		"hint/confirm":                  "Type 1 as before, or 2 changed.",
		"fuel/":                         "fuel not known",
		"fuel/gas":                      "natural gas",
		"fuel/propane":                  "propane",
		"fuel/oil":                      "oil",
		"fuel/electric":                 "electric",
		"as/not-known":                  "not known",
		"as/values":                     "{n} values, mean {mean}, spread {spread}",
		"as/steady":                     ": steady",
		"as/gusty":                      ": not steady",
		"as/steady-bound":               " ({max} or less is)",
		"as/averaged":                   "{mean} Pa, averaged over {s} s",
		"as/one":                        "{mean} Pa, one value",
		"as/pairs":                      "{n} pairs, on minus off: mean {mean} Pa, spread {spread}",
		"as/over":                       "above the analyser's range",
		"as/gas":                        "CO {co} ppm",
		"as/gas-o2":                     ", O2 {o2} %",
		"as/cells":                      "{n} cells, highest CO {co} ppm",
		"as/lel":                        "{v} % of LEL",
		"as/rising":                     ", rising",
		"as/none":                       "drawn in from the first second",
		"as/stopped":                    "drawn in after {s} s",
		"as/still":                      "still spilling at {s} s",
		"as/weather":                    "wind {wind}, outdoors {temp}",
		"as/burner":                     "{fuel}, {input}",
		"as/all-ok":                     "all {n} seen and in order",
		"as/gate-none":                  "none of the {n}",
		"as/gate-so":                    "so: {wrong}",
		"as/list":                       "wrong: {wrong}; not seen: {unseen}; the other {n} in order",
		"as/list-wrong":                 "wrong: {wrong}; the other {n} in order",
		"as/list-unseen":                "not seen: {unseen}; the other {n} in order",
		"as/roster-none":                "none",
		"as/roster":                     "{n}: {names}",
		"as/given":                      "{n} of {n} given",
		"as/set":                        "set as listed",
		"as/not-run":                    "set as listed, not running: {names}",
		"as/as-before":                  "as before",
		"as/changed":                    "changed",
		"as/left-out":                   "left out",
		"ruler/net":                     "{net}, give or take {u}",
		"ruler/net-short":               "{net} (+-{u})",
		"ruler/lower":                   "minus: lower",
		"ruler/limit":                   "limit for {text}: {side}",
		"ruler/more":                    "{n} more: /w",
		"ruler/more-short":              "{n} more /w",
		"side/0":                        "not evaluated",
		"side/inside":                   "INSIDE",
		"side/inside/so-far":            "INSIDE so far",
		"side/close":                    "TOO CLOSE, counts as a fail",
		"side/close/so-far":             "TOO CLOSE, a fail so far",
		"side/close/short":              "TOO CLOSE, a fail",
		"side/close/short/so-far":       "TOO CLOSE, fail so far",
		"side/beyond":                   "PAST, a fail",
		"side/beyond/so-far":            "PAST, a fail so far",
		"side/beyond/short/so-far":      "PAST, fail so far",
		"screen/stage":                  "stage {n} of {of}",
		"screen/stage-short":            "{n} of {of}",
		"screen/kept":                   "kept: {n}",
		"screen/kept-short":             "{n} kept",
		"screen/rules":                  "rules: {scheme}",
		"screen/ambient-word":           "ambient CO",
		"screen/ambient":                "ambient CO {v} ppm, {min} min ago",
		"screen/ambient-over":           "ambient CO OVER RANGE, {min} min ago",
		"screen/ambient-unread":         "ambient CO not read yet",
		"screen/ambient-unread-burning": "AMBIENT CO NOT READ YET: READ IT",
		"screen/ambient-old":            "AMBIENT CO {min} MIN OLD: READ IT",
		"screen/house-now":              "HOUSE NOW",
		"screen/still":                  "MAY STILL BE",
		"screen/set-to":                 "SET TO",
		"screen/held":                   "HELD AT WORST CASE",
		"screen/set-up":                 "{on} devices ON, {shut} doors SHUT (/w list)",
		"screen/list-under-w-short":     "(/w)",
		"screen/list-under-w":           "(/w list)",
		"screen/note":                   "(1 note)",
		"screen/notes":                  "({n} notes)",
		"screen/not-known":              "not known",
		"screen/was":                    "was {v}",
		"screen/types-it":               "(= types it)",
		"screen/look-again":             "LOOK AGAIN",
		"screen/read-as":                "read as",
		"screen/ask-co":                 "ambient CO, ppm",
		"screen/ask-note":               "note",
		"screen/ask-photo":              "path of the photo",
		"screen/so-far":                 "so far",
		"screen/net":                    "net",
		"screen/more-caution":           " Enter  the rest of the cautions ({n} of {of})",
		"ruler/label":                   "net",
		"screen/list-on":                "the list goes on",
		"screen/more-list":              " Enter  the rest of the list ({n} of {of})",
		"screen/more-page":              " Enter  next page            page {n} of {of}",
		"screen/page":                   "page {n} of {of}",
		"screen/key-keep":               "Enter keep this answer",
		"screen/key-back":               "Enter back to the page",
		"screen/key-skip":               "- leave it out",
		"screen/key-down":               "/x trouble: shut down",
		"screen/key-control":            "k cannot do this  a photo  ! alarm, smell, symptoms  / a slash  Backspace close",
		"screen/key-control-short":      "k cannot  a photo  ! alarm, smell, ill  / slash  Backspace",
		"screen/key-esc":                "Enter keep this answer   Esc, then a letter: the keys below",
		"screen/key-light":              "SPACE main burner lit   or type 37s, none, still 60s   x trouble: shut down",
		"screen/key-light-short":        "SPACE burner lit   or 37s, none   x trouble: shut down",
		"screen/key-run":                "SPACE drawn in   s still spilling, end timing   x trouble: shut it all down",
		"screen/key-run-short":          "SPACE drawn in   s still spilling   x trouble: shut down",
		"screen/key-drawn":              "Enter keep   SPACE it came back   x trouble: shut it all down",
		"screen/key-drawn-short":        "Enter keep   SPACE it came back   x trouble: shut down",
		"screen/slash":                  "/ then a letter:  b back  f fix  n note  w why  c CO now  p pause  q stop+keep",
		"screen/slash-short":            "/ then: b back f fix n note w why c CO p pause q stop",
		"screen/lit":                    "main burner lit {at}",
		"screen/lit-short":              "lit {at}",
		"screen/limit":                  "limit {s} s, this scheme",
		"screen/limit-short":            "limit {s} s",
		"screen/no-limit":               "no limit in this scheme",
		"screen/no-limit-short":         "no limit",
		"screen/spilling":               "SPILLING",
		"screen/left":                   "{s} s left",
		"screen/past":                   "PAST {s} s: counts as a fail.",
		"screen/past-still":             "Still watching. s ends it.",
		"screen/drawn":                  "DRAWN IN at {s} s",
		"screen/drawn-past":             "DRAWN IN at {s} s: PAST {limit} s",
		"screen/runs":                   "the clock runs: {s} s",
		"screen/bar-limit":              "{at} limit",
		"screen/larger":                 "make the window larger or restart with --plain; nothing is lost",
		"screen/larger-short":           "(window too small)",
		"screen/why":                    "WHY",
		"screen/do":                     "DO",
		"screen/holds":                  "HOLDS",
		"screen/more-why":               "{n} more: /w",
		"screen/no-key":                 "no such key",
		"plain/keys":                    "/b back, /f fix an answer, /n note, /w why, /c or /c 12 ambient CO, /p pause, /q stop and keep, /k cannot do this, /a PATH keep a photo, /! alarm, smell, symptoms, // a slash",
		"plain/stage":                   "{n} of {of}, {name}.",
		"plain/ambient":                 "Ambient CO {v} ppm, {min} min ago.",
		"plain/ambient-over":            "Ambient CO over range, {min} min ago.",
		"plain/ambient-old":             "Ambient CO {min} min old: read it.",
		"plain/ambient-unread":          "Ambient CO not read yet.",
		"plain/ambient-unread-burning":  "Ambient CO not read yet: read it.",
		"plain/light":                   "Enter when the main burner lights.",
		"plain/lit":                     "lit {at}. Enter when smoke is drawn in and stays in; s still spilling; x shut down; /c 12 records CO.",
		"plain/drawn":                   "drawn in at {s} s. ok keep; a it came back; or type the time.",
		"plain/at":                      "{s} s.",
		"plain/limit-at":                "{s} s, limit. Past it counts as a fail. Still watching; s ends it.",
		"plain/no-why":                  "nothing more is written down about this.",
		"plain/cut":                     "the last line had no end, so it is no answer.",
		"plain/net":                     "{net} Pa, give or take {u}",
		"plain/limit":                   "; limit {letter} {text}: {side}",
	}
})
