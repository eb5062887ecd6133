package limits

import (
	"strings"
	"testing"
)

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

// TestSneakingIn: no overlay without accept_risk gives a milder rule by the
// back door.
func TestSneakingIn(t *testing.T) {
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
