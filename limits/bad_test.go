package limits

import (
	"strings"
	"testing"
)

const goodRow = `kind: overlay
format: 1
scheme: graded-2005
reason: test
rows:
  - id: spillage-worst
    topic: spillage
    value: 45
    unit: s
    source:
      title: program rule
    evidence: own-rule
`

func TestGoodOverlay(t *testing.T) {
	if p := Check("o.yaml", []byte(goodRow)); len(p) > 0 {
		t.Fatalf("refused: %v", p)
	}
	s, err := Load(Options{Overlays: []Source{{"o.yaml", []byte(goodRow)}}})
	if err != nil {
		t.Fatal(err)
	}
	r := s.Rules()
	if r.Spillage[0].Bound.Value != 45 || !r.Spillage[0].Edited || !s.Ref().Edited || len(r.AcceptedRisks) != 0 {
		t.Errorf("stricter overlay: %+v, risks %v", r.Spillage[0], r.AcceptedRisks)
	}
}

// TestLooserNeedsRisk: a life-safety row is loosened only with a reason that
// page 1 prints.
func TestLooserNeedsRisk(t *testing.T) {
	looser := strings.Replace(goodRow, "value: 45", "value: 120", 1)
	p := Check("o.yaml", []byte(looser))
	if len(p) != 1 || p[0].Line != 6 || !strings.Contains(p[0].Text, "part of the life-safety floor and this is looser") {
		t.Fatalf("looser row without accept_risk: %v", p)
	}
	s, err := Load(Options{Overlays: []Source{{"o.yaml", []byte("accept_risk: \"asked and granted\"\n" + looser)}}})
	if err != nil {
		t.Fatal(err)
	}
	if r := s.Rules().AcceptedRisks; len(r) != 1 || r[0].Row != "spillage-worst" || r[0].Reason != "asked and granted" {
		t.Errorf("accepted risks %v", r)
	}
}

func TestBadInput(t *testing.T) {
	rep := func(old, new string) string { return strings.Replace(goodRow, old, new, 1) }
	for _, c := range []struct{ name, data, want string }{
		{"empty", "", "o.yaml:1:1: the file is empty"},
		{"list", "- a\n", "o.yaml:1:1: a table is keys and values"},
		{"unknown key", rep("    unit: s\n", "    unit: s\n    colour: red\n"), `o.yaml:10:5: unknown key "rows[1].colour"`},
		{"unknown top key", rep("reason: test\n", "reason: test\nauthor: x\n"), `o.yaml:5:1: unknown key "author"`},
		{"duplicate key", rep("    unit: s\n", "    unit: s\n    unit: s\n"), `o.yaml:10:5: key "rows[1].unit" stands twice`},
		{"kind", rep("kind: overlay", "kind: table"), `kind "table" is not known`},
		{"format", rep("format: 1", "format: 2"), "format 2 is not known"},
		{"reason missing", rep("reason: test\n", ""), "an overlay needs a reason"},
		{"reason empty", rep("reason: test\n", "reason: \"\"\n"), "an overlay needs a reason"},
		{"scheme missing", rep("scheme: graded-2005\n", ""), "an overlay names the scheme it changes"},
		{"scheme unknown", rep("scheme: graded-2005", "scheme: other"), `no scheme is called "other"`},
		{"value missing", rep("    value: 45\n", ""), `o.yaml:6:5: row "spillage-worst": value missing`},
		{"unit missing", rep("    unit: s\n", ""), `row "spillage-worst": unit missing`},
		{"unit of another kind", rep("unit: s", "unit: Pa"), `unit "Pa" is not of its kind`},
		{"nan", rep("value: 45", "value: .nan"), `o.yaml:8:12: rows[1].value: ".nan" is not a plain number`},
		{"inf", rep("value: 45", "value: .inf"), `".inf" is not a plain number`},
		{"minus inf", rep("value: 45", "value: -.inf"), `"-.inf" is not a plain number`},
		{"octal", rep("value: 45", "value: 010"), `"010" is not a plain number`},
		{"hex", rep("value: 45", "value: 0x2d"), `"0x2d" is not a plain number`},
		{"exponent", rep("value: 45", "value: 4e1"), `"4e1" is not a plain number`},
		{"comma", rep("value: 45", "value: 4,5"), `"4,5" is not a plain number`},
		{"unicode minus", rep("value: 45", "value: −45"), `"−45" is not a plain number`},
		{"sexagesimal", rep("value: 45", "value: 1:30"), `"1:30" is not a plain number`},
		{"insane", rep("value: 45", "value: 99999"), "value 99999 is out of any sane range"},
		{"zero time", rep("value: 45", "value: 0"), "value 0 is out of any sane range"},
		{"second document", goodRow + "---\nkind: overlay\n", "a second document"},
		{"null row", rep("rows:\n", "rows:\n  -\n"), "rows[1]: no value"},
		{"null value", rep("value: 45", "value:"), "rows[1].value: no value"},
		{"tilde", rep("value: 45", "value: ~"), "rows[1].value: no value"},
		{"anchor", rep("value: 45", "value: &a 45"), "anchors and aliases are not allowed"},
		{"alias bomb", "kind: overlay\na: &a [x,x]\nb: &b [*a,*a]\n", `unknown key "a"`},
		{"merge key", rep("    unit: s\n", "    unit: s\n    <<: {value: 3}\n"), "merge keys and aliases are not allowed"},
		{"tab", rep("    unit: s\n", "\tunit: s\n"), "not YAML"},
		{"bad utf8", goodRow + "# \xff\n", "not valid UTF-8"},
		{"bom", "\xef\xbb\xbf" + goodRow, "byte order mark"},
		{"nul", goodRow + "#\x00\n", "NUL byte"},
		{"boolean as text", rep("title: program rule", "title: true"), "rows[1].source.title: text is wanted"},
		{"yes as bool", rep("    unit: s\n", "    unit: s\n    life: yes\n"), "true or false is wanted"},
		{"source missing", rep("    source:\n      title: program rule\n", ""), "source missing"},
		{"evidence missing", rep("    evidence: own-rule\n", ""), "evidence missing"},
		{"evidence unknown", rep("own-rule", "certain"), `evidence "certain" is not known`},
		{"topic unknown", rep("topic: spillage", "topic: spills"), `topic "spills" is not known`},
		{"topic changed", rep("topic: spillage", "topic: co\n    basis: air-free"), `unit "s" is not of its kind`},
		{"id missing", rep("  - id: spillage-worst\n    topic", "  - topic"), "a row without id"},
		{"duplicate id", goodRow + "  - id: spillage-worst\n    topic: spillage\n", `row "spillage-worst" stands already in line 6`},
		{"checked half", rep("    unit: s\n", "    unit: s\n    checked:\n      by: AB\n"), "checked needs by, date and edition"},
		{"parameter unknown", rep("id: spillage-worst\n    topic: spillage", "id: speed\n    topic: parameter"), "no parameter has this id"},
		{"positive limit", rep("id: spillage-worst\n    topic: spillage\n    value: 45\n    unit: s", "id: dep-direct\n    topic: depressurization\n    value: 20\n    unit: Pa"), "a depressurization limit must be negative, not 20"},
		{"kind of appliance", rep("    value: 45\n", "    applies:\n      kinds:\n        - stove\n    value: 45\n"), `kinds: "stove" is not known`},
		{"scalar for list", rep("    value: 45\n", "    applies:\n      kinds: furnace\n    value: 45\n"), "a list is wanted"},
		{"deep", strings.Repeat("[", 20000), "not YAML"},
		{"too large", goodRow + "#" + strings.Repeat("x", MaxFile), "larger than 8388608"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := Check("o.yaml", []byte(c.data))
			for _, x := range p {
				if strings.Contains(x.String(), c.want) {
					return
				}
			}
			t.Errorf("got %v\nwant %q", p, c.want)
		})
	}
}

// TestSneakingIn: no overlay without accept_risk gives a milder rule by the
// back door.
func TestSneakingIn(t *testing.T) {
	head := "kind: overlay\nformat: 1\nscheme: graded-2005\nreason: test\nrows:\n"
	src := "    source:\n      title: x\n    evidence: own-rule\n"
	for name, row := range map[string]string{
		"closer new pressure row": "  - id: new\n    topic: depressurization\n    applies:\n      kinds:\n        - water-heater\n      fuels:\n        - gas\n      vents:\n        - natural\n      common: false\n      orphaned: true\n    value: -20\n    unit: Pa\n",
		"CO no longer asked":      "  - id: co-kinds\n    topic: parameter\n    list:\n      - oven\n",
		"no natural conditions":   "  - id: natural-triggers\n    topic: parameter\n    list:\n      - draft\n",
		"stages left out":         "  - id: stages\n    topic: parameter\n    list:\n      - arrive\n      - list\n      - put-back\n      - decide\n",
		"smaller coverage":        "  - id: coverage\n    topic: parameter\n    value: 1\n    unit: factor\n",
		"milder action":           "  - id: act-leak\n    topic: action\n    code: leak\n    decision: refer\n    action: fuel-supplier\n",
		"action of another code":  "  - id: act-leak\n    topic: action\n    code: rust\n    decision: hold\n    status: fuel-off\n    action: fuel-supplier\n",
		"new action":              "  - id: act-new\n    topic: action\n    code: no-row\n    decision: proceed\n    action: proceed\n",
		"higher tier":             "  - id: ambient-70\n    topic: tier\n    hazard: ambient-co\n    value: 90\n    unit: ppm\n    act: out\n",
		"narrower band":           "  - id: co-over-pass\n    topic: matrix\n    over: 800\n    spillage: pass\n    draft: pass\n    decision: hold\n    status: off-until-serviced\n    action: stop-service\n",
		"weaker draft":            "  - id: draft-line\n    topic: draft-line\n    list:\n      - natural\n    line:\n      - temp_f: 10\n        pa: -0.1\n",
	} {
		p := Check("o.yaml", []byte(head+row+src))
		asks := false
		for _, x := range p {
			asks = asks || strings.Contains(x.Hint, "accept_risk")
		}
		if !asks {
			t.Errorf("%s: taken, or refused for another reason: %v", name, p)
		}
	}
}

// TestAllProblemsAtOnce: nobody mends a table one message at a time.
func TestAllProblemsAtOnce(t *testing.T) {
	data := strings.Replace(strings.Replace(goodRow, "    unit: s\n", "", 1), "own-rule", "sure", 1)
	if p := Check("o.yaml", []byte(data)); len(p) != 2 {
		t.Errorf("%d problems, want 2: %v", len(p), p)
	}
}

func TestCRLF(t *testing.T) {
	if p := Check("o.yaml", []byte(strings.ReplaceAll(goodRow, "\n", "\r\n"))); len(p) > 0 {
		t.Errorf("CRLF refused: %v", p)
	}
}

// FuzzLoad: no overlay makes the loader panic, and what it takes loads.
func FuzzLoad(f *testing.F) {
	f.Add([]byte(goodRow))
	f.Add([]byte("kind: scheme\nformat: 1\n"))
	f.Add([]byte("kind: overlay\nformat: 1\nscheme: graded-2005\nreason: x\nrows:\n  - id: co-kinds\n    topic: parameter\n    list: [oven]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if p := Check("o.yaml", data); len(p) > 0 {
			for _, x := range p {
				if x.Text == "" || x.Line < 1 {
					t.Errorf("a problem without text or line: %+v", x)
				}
			}
		}
	})
}

// TestWholeTable: what a table may not leave out or say twice.
func TestWholeTable(t *testing.T) {
	b, err := Shipped(Default)
	if err != nil {
		t.Fatal(err)
	}
	good := string(b)
	if p := Check("mine.yaml", b); len(p) > 0 {
		t.Fatalf("the shipped table is refused: %v", p)
	}
	i := strings.Index(good, "  - id: act-leak\n")
	j := i + 5 + strings.Index(good[i+5:], "  - id: ")
	for _, c := range []struct{ name, data, want string }{
		{"action left out", good[:i] + good[j:], `mine.yaml:4:1: no row says what "leak" leads to`},
		{"code twice", strings.Replace(good, "code: leak\n", "code: piping\n", 1), `code "piping" has a row already`},
		{"warm vents left out", strings.Replace(good, "topic: spillage\n", "topic: spillage\n    applies:\n      cold: true\n", 1), "mine.yaml:4:1: no spillage time for a vent that is cold: no"},
		{"stage twice", strings.Replace(good, "      - fans\n", "      - fans\n      - fans\n", 1), `row "stages": stage fans stands twice`},
		{"ends in the middle", strings.Replace(good, "      - decide\n", "", 1), `row "stages": stages cannot be walked in this order`},
		{"second document broken", goodRow + "---\n: [\n", "mine.yaml:1:1: a second document"},
	} {
		found := false
		p := Check("mine.yaml", []byte(c.data))
		for _, x := range p {
			found = found || strings.Contains(x.String(), c.want)
		}
		if !found {
			t.Errorf("%s: got %v, want %q", c.name, p, c.want)
		}
	}
	if _, err := Load(Options{Overlays: []Source{{"o.yaml", []byte("accept_risk: r\n" + strings.Replace(goodRow, "    value: 45\n", "    applies:\n      cold: true\n    value: 45\n", 1))}}}); err == nil || !strings.Contains(err.Error(), "no spillage time") {
		t.Errorf("an overlay that leaves warm vents without a time: %v", err)
	}
}
