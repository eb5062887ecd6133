package limits

import (
	"fmt"
	"strings"
	"testing"
)

const head = "kind: overlay\nformat: 1\nscheme: graded-2005\nreason: test\nrows:\n"

const goodRow = head + `  - id: spillage-worst
    topic: spillage
    value: 45
    unit: s
    source:
      title: program rule
    evidence: own-rule
`

const bomb = `kind: overlay
a: &a [x, x, x, x, x, x, x, x, x]
b: &b [*a, *a, *a, *a, *a, *a, *a, *a, *a]
c: &c [*b, *b, *b, *b, *b, *b, *b, *b, *b]
d: &d [*c, *c, *c, *c, *c, *c, *c, *c, *c]
e: &e [*d, *d, *d, *d, *d, *d, *d, *d, *d]
f: &f [*e, *e, *e, *e, *e, *e, *e, *e, *e]
`

func rep(old, new string) string { return strings.Replace(goodRow, old, new, 1) }

// row is an overlay of one row.
func row1(keys string) string {
	return head + "  - " + keys + "\n    source:\n      title: program rule\n    evidence: own-rule\n"
}

func risk(overlay string) string { return "accept_risk: asked and granted\n" + overlay }

// badFiles are refused, each with exactly this text: every problem and the hint
// of each. beyond says what the schema cannot express, "" where it refuses the
// file too; "no document" where there is none that it could be asked about.
var badFiles = []struct{ name, data, want, beyond string }{
	{"empty", "",
		`o.yaml:1:1: the file is empty (begin with "kind: scheme" or "kind: overlay")`, "no document"},
	{"list", "- a\n",
		`o.yaml:1:1: a table is keys and values (begin with "kind: scheme" or "kind: overlay")`, ""},
	{"only a comment", "# nothing\n",
		`o.yaml:1:1: the file is empty (begin with "kind: scheme" or "kind: overlay")`, "no document"},
	{"unknown key", rep("    unit: s\n", "    unit: s\n    colour: red\n"),
		`o.yaml:10:5: unknown key "rows[1].colour" (known keys here: id, topic, applies, value, unit, basis, text, list, about, line, hazard, above, act, over, up_to, spillage, draft, code, decision, status, action, life, source, evidence, note, checked)`, ""},
	{"unknown top key", rep("reason: test\n", "reason: test\nauthor: x\n"),
		`o.yaml:5:1: unknown key "author" (known keys here: kind, format, name, scheme, title, edition, status, reason, accept_risk, no_figure, checked, rows)`, ""},
	{"duplicate key", rep("    unit: s\n", "    unit: s\n    unit: s\n"),
		`o.yaml:10:5: key "rows[1].unit" stands twice (keep one of them)`, "no document: a key stands twice"},
	{"kind", rep("kind: overlay", "kind: table"),
		`o.yaml:1:1: kind "table" is not known (kind: scheme or kind: overlay)`, ""},
	{"kind of the floor", rep("kind: overlay", "kind: floor"),
		`o.yaml:1:1: kind "floor" is not known (kind: scheme or kind: overlay)`, ""},
	{"format", rep("format: 1", "format: 2"),
		`o.yaml:1:1: format 2 is not known (this program reads format 1; a newer table needs a newer program)`, ""},
	{"format missing", rep("format: 1\n", ""),
		`o.yaml:1:1: format missing (add format: 1)`, ""},
	{"reason missing", rep("reason: test\n", ""),
		`o.yaml:1:1: an overlay needs a reason (add "reason: why this program changes the table")`, ""},
	{"reason empty", rep("reason: test\n", "reason: \"\"\n"),
		`o.yaml:1:1: an overlay needs a reason (add "reason: why this program changes the table")`, ""},
	{"reason of the export", rep("reason: test\n", "reason: \""+exportReason+"\"\n"),
		`o.yaml:1:1: the reason is still the one that export wrote (say after reason: why your program changes the table)`, "the reason that export writes is one only until something is changed"},
	{"scheme missing", rep("scheme: graded-2005\n", ""),
		`o.yaml:1:1: an overlay names the scheme it changes (add scheme: and one of canada-mixed, code-annex-2018, graded-2005, spillage-2017)`, ""},
	{"scheme unknown", rep("scheme: graded-2005", "scheme: other"),
		`o.yaml:3:1: no scheme is called "other" (shipped schemes: canada-mixed, code-annex-2018, graded-2005, spillage-2017)`, ""},
	{"no_figure in an overlay", rep("rows:\n", "no_figure:\n  - topic: co\n    note: x\nrows:\n"),
		`o.yaml:5:1: key "no_figure" does not belong to a file of kind overlay (delete it; a file of kind overlay has kind, format, scheme, reason, accept_risk, checked, rows)`, ""},
	{"value missing", rep("    value: 45\n", ""),
		`o.yaml:6:5: row "spillage-worst": value missing (add value:)`, ""},
	{"unit missing", rep("    unit: s\n", ""),
		`o.yaml:6:5: row "spillage-worst": unit missing (add unit: s)`, ""},
	{"unit of another family", rep("unit: s", "unit: Pa"),
		`o.yaml:6:5: row "spillage-worst": unit "Pa" is not of its kind (a unit such as s)`, ""},
	{"unit nobody has", rep("unit: s", "unit: fortnight"),
		`o.yaml:6:5: row "spillage-worst": unit "fortnight" is not of its kind (a unit such as s)`, ""},
	{"nan", rep("value: 45", "value: .nan"),
		`o.yaml:8:12: rows[1].value: ".nan" is not a plain number (write a plain decimal such as -5 or 0.25)`, "JSON has no such number"},
	{"inf", rep("value: 45", "value: .inf"),
		`o.yaml:8:12: rows[1].value: ".inf" is not a plain number (write a plain decimal such as -5 or 0.25)`, "JSON has no such number"},
	{"minus inf", rep("value: 45", "value: -.inf"),
		`o.yaml:8:12: rows[1].value: "-.inf" is not a plain number (write a plain decimal such as -5 or 0.25)`, "JSON has no such number"},
	{"octal", rep("value: 45", "value: 010"),
		`o.yaml:8:12: rows[1].value: "010" is not a plain number (drop the leading 0: it would be read as octal)`, "how a number is spelled: JSON sees 8"},
	{"hex", rep("value: 45", "value: 0x2d"),
		`o.yaml:8:12: rows[1].value: "0x2d" is not a plain number (write a plain decimal such as -5 or 0.25)`, "how a number is spelled: JSON sees 45"},
	{"exponent", rep("value: 45", "value: 4e1"),
		`o.yaml:8:12: rows[1].value: "4e1" is not a plain number (write a plain decimal such as -5 or 0.25)`, "how a number is spelled: JSON sees 40"},
	{"underscore", rep("value: 45", "value: 4_5"),
		`o.yaml:8:12: rows[1].value: "4_5" is not a plain number (write a plain decimal such as -5 or 0.25)`, "how a number is spelled: JSON sees 45"},
	{"comma", rep("value: 45", "value: 4,5"),
		`o.yaml:8:12: rows[1].value: "4,5" is not a plain number (use a point, not a comma)`, ""},
	{"unicode minus", rep("value: 45", "value: −45"),
		`o.yaml:8:12: rows[1].value: "−45" is not a plain number (use the hyphen as minus sign)`, ""},
	{"sexagesimal", rep("value: 45", "value: 1:30"),
		`o.yaml:8:12: rows[1].value: "1:30" is not a plain number (write a plain decimal such as -5 or 0.25)`, ""},
	{"number in quotes that is none", rep("value: 45", "value: \"forty\""),
		`o.yaml:8:12: rows[1].value: "forty" is not a plain number (write a plain decimal such as -5 or 0.25)`, ""},
	{"insane", rep("value: 45", "value: 99999"),
		`o.yaml:6:5: row "spillage-worst": value 99999 is out of any sane range (between 1 and 3600 s)`, ""},
	{"zero time", rep("value: 45", "value: 0"),
		`o.yaml:6:5: row "spillage-worst": value 0 is out of any sane range (between 1 and 3600 s)`, ""},
	{"negative time", rep("value: 45", "value: -45"),
		`o.yaml:6:5: row "spillage-worst": value -45 is out of any sane range (between 1 and 3600 s)`, ""},
	{"second document", goodRow + "---\nkind: overlay\n",
		`o.yaml:13:1: a second document (keep one table a file)`, "no document: two of them"},
	{"null row", rep("rows:\n", "rows:\n  -\n"),
		`o.yaml:6:4: rows[1]: no value (give a value or delete the key)`, ""},
	{"null value", rep("value: 45", "value:"),
		`o.yaml:8:11: rows[1].value: no value (give a value or delete the key)`, ""},
	{"tilde", rep("value: 45", "value: ~"),
		`o.yaml:8:12: rows[1].value: no value (give a value or delete the key)`, ""},
	{"anchor", rep("value: 45", "value: &a 45"),
		`o.yaml:8:12: rows[1].value: anchors and aliases are not allowed (write the value out)`, "anchors are gone in JSON"},
	{"alias bomb", bomb,
		`o.yaml:2:1: unknown key "a" (known keys here: kind, format, name, scheme, title, edition, status, reason, accept_risk, no_figure, checked, rows)
o.yaml:3:1: unknown key "b" (known keys here: kind, format, name, scheme, title, edition, status, reason, accept_risk, no_figure, checked, rows)
o.yaml:4:1: unknown key "c" (known keys here: kind, format, name, scheme, title, edition, status, reason, accept_risk, no_figure, checked, rows)
o.yaml:5:1: unknown key "d" (known keys here: kind, format, name, scheme, title, edition, status, reason, accept_risk, no_figure, checked, rows)
o.yaml:6:1: unknown key "e" (known keys here: kind, format, name, scheme, title, edition, status, reason, accept_risk, no_figure, checked, rows)
o.yaml:7:1: unknown key "f" (known keys here: kind, format, name, scheme, title, edition, status, reason, accept_risk, no_figure, checked, rows)`, ""},
	{"alias bomb in known keys", "kind: overlay\nformat: 1\nscheme: graded-2005\nreason: &a x\naccept_risk: *a\nrows: &r [*r, *r]\n",
		`o.yaml:4:9: reason: anchors and aliases are not allowed (write the value out)
o.yaml:5:14: accept_risk: anchors and aliases are not allowed (write the value out)
o.yaml:6:7: rows: anchors and aliases are not allowed (write the value out)`, ""},
	{"merge key", rep("    unit: s\n", "    unit: s\n    <<: {value: 3}\n"),
		`o.yaml:10:5: rows[1].<<: merge keys and aliases are not allowed (write the keys out)`, ""},
	{"tab", rep("    unit: s\n", "\tunit: s\n"),
		`o.yaml:8:1: not YAML: found a tab character that violates indentation (mend the line; a table uses spaces, never tabs, to indent)`, "no document"},
	{"bad utf8", goodRow + "# \xff\n",
		`o.yaml:1:1: the file is not valid UTF-8 (save it as UTF-8)`, "no document"},
	{"byte order mark", "\xef\xbb\xbf" + goodRow,
		`o.yaml:1:1: the file begins with a byte order mark (save it without a byte order mark)`, "bytes before the document"},
	{"nul", goodRow + "#\x00\n",
		`o.yaml:1:1: the file holds a NUL byte (remove it)`, "no document"},
	{"boolean as text", rep("title: program rule", "title: true"),
		`o.yaml:11:14: rows[1].source.title: text is wanted, not true (put it in quotes)`, ""},
	{"yes as bool", rep("    unit: s\n", "    unit: s\n    life: yes\n"),
		`o.yaml:10:11: rows[1].life: true or false is wanted, not "yes" (write true or false)`, ""},
	{"source missing", rep("    source:\n      title: program rule\n", ""),
		`o.yaml:6:5: row "spillage-worst": source missing (add source: with title, and edition and clause where there are any)`, ""},
	{"source without title", rep("title: program rule", "title: \" \""),
		`o.yaml:6:5: row "spillage-worst": source missing (add source: with title, and edition and clause where there are any)`, ""},
	{"evidence missing", rep("    evidence: own-rule\n", ""),
		`o.yaml:6:5: row "spillage-worst": evidence missing (one of seen, seen-secondary, memory, practice, own-rule)`, ""},
	{"evidence unknown", rep("own-rule", "certain"),
		`o.yaml:6:5: row "spillage-worst": evidence "certain" is not known (one of seen, seen-secondary, memory, practice, own-rule)`, ""},
	{"topic missing", rep("    topic: spillage\n", ""),
		`o.yaml:6:5: row "spillage-worst": topic missing (add topic:)`, ""},
	{"topic unknown", rep("topic: spillage", "topic: spills"),
		`o.yaml:6:5: row "spillage-worst": topic "spills" is not known (one of depressurization, draft-line, spillage, co, matrix, action, tier, parameter, requirement)`, ""},
	{"topic changed", rep("topic: spillage\n    value: 45\n    unit: s", "topic: co\n    value: 45\n    unit: ppm\n    basis: air-free"),
		`o.yaml:6:5: row "spillage-worst" is about co, the row it replaces about spillage (keep the topic of the row it replaces)`, "what the row that it replaces is about"},
	{"id missing", rep("  - id: spillage-worst\n    topic", "  - topic"),
		`o.yaml:6:5: a row without id (give each row an id of its own)`, ""},
	{"id with spaces", rep("id: spillage-worst", "id: Spillage worst"),
		`o.yaml:6:5: row id "Spillage worst" is not a plain word (small letters, digits and hyphens)`, ""},
	{"duplicate id", goodRow + strings.TrimPrefix(goodRow[strings.Index(goodRow, "rows:\n"):], "rows:\n"),
		`o.yaml:13:5: row "spillage-worst" stands already in line 6 (keep one of them)`, "ids that two rows share"},
	{"checked half", rep("    unit: s\n", "    unit: s\n    checked:\n      by: AB\n"),
		`o.yaml:6:5: row "spillage-worst": checked needs by, date and edition (say who, when and against which edition)`, ""},
	{"checked on no day", rep("    unit: s\n", "    unit: s\n    checked:\n      by: AB\n      date: 2026-02-30\n      edition: x\n"),
		`o.yaml:6:5: row "spillage-worst": checked on "2026-02-30", which is no day (write the day as YYYY-MM-DD)`, ""},
	{"parameter unknown", rep("id: spillage-worst\n    topic: spillage", "id: speed\n    topic: parameter"),
		`o.yaml:6:5: row "speed": no parameter has this id (see: cazward limits show graded-2005)`, ""},
	{"parameter word unknown", row1("id: doors\n    topic: parameter\n    text: \"by ear\""),
		`o.yaml:6:5: row "doors": text "by ear" is not known (text: one of smoke, pressure, close-all, both)`, ""},
	{"stages in no order", row1("id: stages-daily\n    topic: parameter\n    list:\n      - arrive\n      - decide\n      - put-back"),
		`o.yaml:6:5: row "stages-daily": stages cannot be walked in this order (a test begins with arrive and ends with put-back, decide)`, "the last two of a list"},
	{"positive limit", row1("id: dep-direct\n    topic: depressurization\n    value: 20\n    unit: Pa"),
		`o.yaml:6:5: row "dep-direct": a depressurization limit must be negative, not 20 (a zone that is lower than outdoors is negative: write -20)`, ""},
	{"limit of zero", row1("id: dep-direct\n    topic: depressurization\n    value: 0\n    unit: Pa"),
		`o.yaml:6:5: row "dep-direct": a depressurization limit of 0 would fail every home (a limit below 0)`, ""},
	{"limit in ppm", row1("id: dep-direct\n    topic: depressurization\n    value: -20\n    unit: ppm"),
		`o.yaml:6:5: row "dep-direct": unit "ppm" is not of its kind (a unit such as Pa)`, ""},
	{"limit beyond sense, in another unit", row1("id: dep-direct\n    topic: depressurization\n    value: -2\n    unit: inH2O"),
		`o.yaml:6:5: row "dep-direct": value -2 is out of any sane range (between -100 and 0 Pa)`, "ranges of a unit other than the topic's own"},
	{"CO without basis", row1("id: co-new\n    topic: co\n    value: 100\n    unit: ppm"),
		`o.yaml:6:5: row "co-new": a CO limit needs its basis (basis: as-measured or basis: air-free)`, ""},
	{"foreign key: act on a CO row", row1("id: co-new\n    topic: co\n    value: 100\n    unit: ppm\n    basis: air-free\n    act: out"),
		`o.yaml:11:5: row "co-new": key "act" does not belong to a row of topic co (delete it; a row of topic co has applies, value, unit, basis)`, ""},
	{"foreign key: value on an action", row1("id: act-soot\n    topic: action\n    code: soot\n    decision: refer\n    action: technician\n    value: 3"),
		`o.yaml:11:5: row "act-soot": key "value" does not belong to a row of topic action (delete it; a row of topic action has code, decision, status, action)`, ""},
	{"foreign key: text on a number", row1("id: coverage\n    topic: parameter\n    value: 2\n    unit: factor\n    text: two"),
		`o.yaml:10:5: row "coverage": key "text" does not belong to the parameter coverage (delete it; the parameter coverage has value, unit)`, ""},
	{"foreign key: cold vent and pressure", row1("id: dep-direct\n    topic: depressurization\n    applies:\n      cold: true\n    value: -20\n    unit: Pa"),
		`o.yaml:6:5: row "dep-direct": cold: does not belong to a row of topic depressurization (only spillage is told apart by it)`, ""},
	{"kind of appliance", rep("    value: 45\n", "    applies:\n      kinds:\n        - stove\n    value: 45\n"),
		`o.yaml:6:5: row "spillage-worst": kinds: "stove" is not known (one of furnace, boiler, water-heater, indirect-tank, room-heater, floor-heater, wall-heater, range, oven, gas-dryer, gas-log, fireplace, wood-stove, pellet-stove, unvented-heater)`, ""},
	{"empty list of kinds", rep("    value: 45\n", "    applies:\n      kinds: []\n    value: 45\n"),
		`o.yaml:6:5: row "spillage-worst": kinds: an empty list (name them, or delete the key if the row is about all)`, ""},
	{"no such appliance", row1("id: dep-direct\n    topic: depressurization\n    applies:\n      partner:\n        - furnace\n      common: false\n    value: -20\n    unit: Pa"),
		`o.yaml:6:5: row "dep-direct": no appliance can be all of: no shared vent, on the same vent furnace (see what applies: says together)`, "facts that no appliance has together"},
	{"scalar for list", rep("    value: 45\n", "    applies:\n      kinds: furnace\n    value: 45\n"),
		`o.yaml:9:14: rows[1].applies.kinds: a list is wanted (write it as a list, each item after a dash)`, ""},
	{"list for scalar", rep("unit: s", "unit: [s]"),
		`o.yaml:9:11: rows[1].unit: text is wanted, not a list or keys (write one text)`, ""},
	{"draft line that is none", row1("id: draft-line\n    topic: draft-line\n    list:\n      - natural\n    line:\n      - temp_f: 10\n        pa: 2.5"),
		`o.yaml:6:5: row "draft-line": point 1 is not a temperature and a draft (each point has temp_f and a negative pa)`, ""},
	{"draft line not in order", row1("id: draft-line\n    topic: draft-line\n    list:\n      - natural\n    line:\n      - temp_f: 90\n        pa: -2.5\n      - temp_f: 10\n        pa: -2.5"),
		`o.yaml:6:5: row "draft-line": point 2 is not warmer than the one before (colder points first)`, "one point against the next"},
	{"band upside down", row1("id: co-400-any\n    topic: matrix\n    over: 400\n    up_to: 100\n    spillage: any\n    draft: any\n    decision: hold\n    action: stop-service"),
		`o.yaml:6:5: row "co-400-any": no band of CO (over: and up_to: in ppm, up_to above over)`, "one number against another"},
	{"code that nothing has", row1("id: act-new\n    topic: action\n    code: sooty\n    decision: refer\n    action: technician"),
		`o.yaml:6:5: row "act-new": nothing that is found has the code "sooty" (one of alarm, smell, symptoms, fuel, leak, piping, rollout, flame-change, ambient-hold, vent-connected, draft-hood, combustion-air, rollout-marks, soot, rust, clearances, connector, chimney, co-alarm, net-beyond, net-too-close, spillage-fails, spillage-natural, draft-natural, natural-not-tested, solid-fuel-no-row, oil-breech-unknown, no-test-hole, unvented-main, unvented-secondary, ambient-source-open, not-fireable, other-dwelling, mobile-room-air, doubt-open, configuration-incomplete, forecast-over, no-row, co-no-row)`, ""},
	{"action without words", row1("id: act-soot\n    topic: action\n    code: soot\n    decision: refer\n    action: dance"),
		`o.yaml:6:5: row "act-soot": action "dance" has no words in a report (one of proceed, service-or-house, service-co, stop-service, emergency, technician, co-alarm, fuel-supplier, out, zone, chimney-sweep, oil-technician, source, fire-it, other-dwelling, mobile-room-air, read-again, set-again, make-up-air)`, ""},
	{"tier of no hazard", row1("id: tier-new\n    topic: tier\n    hazard: smell\n    value: 5\n    unit: ppm\n    act: out"),
		`o.yaml:6:5: row "tier-new": hazard "smell" has no tiers (hazard: ambient-co or hazard: lel)`, ""},
	{"requirement of nothing", row1("id: require-new\n    topic: requirement\n    about: instruments"),
		`o.yaml:6:5: row "require-new": it requires nothing (add text: or list:)`, ""},
	{"requirement about nothing", row1("id: require-new\n    topic: requirement\n    text: a torch"),
		`o.yaml:6:5: row "require-new": about "" is not known (about: one of instruments, combustion-air, report, procedure, note)`, ""},
	{"requirement in no unit", row1("id: require-new\n    topic: requirement\n    about: instruments\n    text: a torch\n    value: 3\n    unit: hands"),
		`o.yaml:6:5: row "require-new": unit "hands" is not known (a unit such as Pa, ppm, %, ft, year, ACH50, ACH, ft3 per 1,000 Btu/h, in2 per 1,000 Btu/h, Btu/h per in2)`, ""},
	{"two rows as close", risk(row1("id: dep-a\n    topic: depressurization\n    applies:\n      kinds:\n        - water-heater\n      vents:\n        - natural\n      orphaned: true\n    value: -4\n    unit: Pa")),
		`o.yaml:7:5: row "dep-a" matches the same appliance as "dep-natural-water-heater" equally well (water-heater, fuel gas, vent natural) (say more closely which appliance each is about)`, "two rows that match the same appliance equally well"},
	{"two rows as close, by two partners", risk(row1("id: dep-a\n    topic: depressurization\n    applies:\n      kinds:\n        - gas-log\n      vents:\n        - natural\n      common: true\n      partner:\n        - boiler\n    value: -4\n    unit: Pa") + strings.Replace(row1("id: dep-b\n    topic: depressurization\n    applies:\n      kinds:\n        - gas-log\n      vents:\n        - natural\n      common: true\n      partner:\n        - room-heater\n    value: -3\n    unit: Pa"), head, "", 1)),
		`o.yaml:22:5: row "dep-b" matches the same appliance as "dep-a" equally well (gas-log, fuel gas, vent natural) (say more closely which appliance each is about)`, "two rows that match the same appliance equally well"},
	{"a gap", risk(row1("id: dep-power\n    topic: depressurization\n    applies:\n      kinds:\n        - furnace\n      vents:\n        - power-vented\n    value: -15\n    unit: Pa")),
		`o.yaml:1:1: no depressurization row for boiler, fuel gas, vent power-vented, common vent "no" (add a row, or name the kind under no_figure)`, "an appliance without a row"},
	{"a gap in spillage times", risk(rep("    value: 45\n", "    applies:\n      kinds:\n        - furnace\n    value: 45\n")),
		`o.yaml:1:1: no spillage row for boiler, fuel gas, vent natural, common vent "no" (add a row, or name the kind under no_figure)`, "an appliance without a row"},
	{"a gap in the matrix", risk(row1("id: co-400-any\n    topic: matrix\n    over: 200\n    up_to: 400\n    spillage: any\n    draft: any\n    decision: hold\n    status: off-until-serviced\n    action: stop-service")),
		`o.yaml:1:1: the action matrix has no row for CO 100.5 ppm, spillage pass, draft pass (add a matrix row)`, "a band without a row"},
	{"looser without accept_risk", rep("value: 45", "value: 120"),
		`o.yaml:6:5: row "spillage-worst" is part of the life-safety floor and this is looser, or not plainly stricter (add "accept_risk: why" to the overlay; page 1 of every report prints it)`, "whether a row is looser than the one it replaces"},
	{"changed, with the source of what it was", head + "  - id: spillage-worst\n    topic: spillage\n    value: 45\n    unit: s\n    source:\n      title: Building analyst one-page test sheet (worst case procedure)\n      edition: 2005 standard\n      clause: \"step 3: spillage ends within 1 minute\"\n    evidence: seen\n",
		`o.yaml:6:5: row "spillage-worst" has another value, and still names the source of the shipped row (say in source: and evidence: where the new one is from, or mark the row as checked)`, "whether a row is changed"},
	{"mark on no row", rep("rows:\n", "checked:\n  - id: nothing\n    by: AB\n    date: 2026-02-03\n    edition: x\nrows:\n"),
		`o.yaml:6:5: checked: no row has the id "nothing" (see the ids with: cazward limits show graded-2005)`, "which ids the scheme has"},
	{"mark on no day", rep("rows:\n", "checked:\n  - id: dep-direct\n    by: AB\n    date: 03.02.2026\n    edition: x\nrows:\n"),
		`o.yaml:6:5: row "dep-direct": checked on "03.02.2026", which is no day (write the day as YYYY-MM-DD)`, ""},
	{"mark by nobody", rep("rows:\n", "checked:\n  - id: dep-direct\n    by: \"\"\n    date: 2026-02-03\n    edition: x\nrows:\n"),
		`o.yaml:6:5: row "dep-direct": checked needs by, date and edition (say who, when and against which edition)`, ""},
	{"mark twice", rep("rows:\n", "checked:\n  - id: dep-direct\n    by: AB\n    date: 2026-02-03\n    edition: x\n  - id: dep-direct\n    by: AB\n    date: 2026-02-03\n    edition: x\nrows:\n"),
		`o.yaml:10:5: checked: row "dep-direct" is marked twice (keep one of them)`, "ids that two marks share"},
	{"deep", strings.Repeat("[", 20000),
		`o.yaml:1:1: not YAML: exceeded max depth of 10000 (mend the line; a table uses spaces, never tabs, to indent)`, "no document"},
	{"50 MB", goodRow + "#" + strings.Repeat("x", 50<<20),
		`o.yaml:1:1: the file is larger than 8388608 bytes (split the file)`, "bytes, not what they say"},
}

// told is all that Check says of a file.
func told(data string) string {
	var out []string
	for _, p := range Check("o.yaml", []byte(data)) {
		out = append(out, fmt.Sprintf("%s (%s)", p, p.Hint))
	}
	return strings.Join(out, "\n")
}

func TestBadFiles(t *testing.T) {
	if len(badFiles) < 40 {
		t.Fatalf("%d bad files", len(badFiles))
	}
	for _, c := range badFiles {
		t.Run(c.name, func(t *testing.T) {
			if got := told(c.data); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
			if _, err := Load(Options{Overlays: []Source{{"o.yaml", []byte(c.data)}}}); err == nil {
				t.Error("Load takes what Check refuses")
			}
		})
	}
}
