package wording

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"cazward/procedure"
)

func name(id string) string {
	return map[string]string{"wh": "water heater", "z": "basement", "bath-fan-1": "bath fan", "range-hood-1": "hood", "dryer-1": "dryer",
		"bedroom-2": "bedroom 2", "bath-1": "bath", "air-handler-1": "air handler"}[id]
}

func TestReason(t *testing.T) {
	u := 0.5
	cases := []struct {
		name string
		f    procedure.Finding
		want string
	}{
		{"net past", procedure.Finding{Rule: "zone-pressure", Subject: "z", Verdict: procedure.Fail, Value: ptr(-3.04), Limit: ptr(-3), Unit: "Pa", Evidence: procedure.EvidenceMemory},
			"Basement: net -3.04 Pa is past the limit -3.00 (from memory)."},
		{"net close", procedure.Finding{Rule: "zone-pressure", Subject: "z", Verdict: procedure.TooClose, Value: ptr(-2.6), Limit: ptr(-3), Unit: "Pa", Uncertainty: &u, Evidence: procedure.EvidenceMemory},
			"Basement: net -2.6 Pa is too close to -3.0 to pass (give or take 0.5; from memory)."},
		{"spill", procedure.Finding{Rule: "spillage", Subject: "wh", Verdict: procedure.Fail, Value: ptr(75), Limit: ptr(60), Unit: "s"},
			"Water heater spilled 75 s at worst case, limit 60 s."},
		{"spill a hair over", procedure.Finding{Rule: "spillage", Subject: "wh", Verdict: procedure.Fail, Value: ptr(60.2), Limit: ptr(60), Unit: "s", Natural: true},
			"Water heater spilled 60.2 s under natural conditions, limit 60.0 s."},
		{"spill at limit still going", procedure.Finding{Rule: "spillage", Subject: "wh", Verdict: procedure.Fail, Value: ptr(60), Limit: ptr(60), Unit: "s"},
			"Water heater spilled past 60 s at worst case."},
		{"visual", procedure.Finding{Rule: "visual", Subject: "wh", Verdict: procedure.Fail, Detail: "vent-connected", Action: "technician"},
			"Water heater: its vent is loose, crushed or does not rise."},
		{"unseen", procedure.Finding{Rule: "visual", Subject: "wh", Detail: "vent-connected"},
			"Water heater: not seen: vent joined, not crushed, rising all the way."},
		{"not evaluated", procedure.Finding{Rule: "something-new", Subject: "wh"},
			"Water heater: something new: not evaluated."},
		{"unknown rule", procedure.Finding{Rule: "something-new", Subject: "wh", Verdict: procedure.Fail, Value: ptr(5), Limit: ptr(3), Unit: "ppm", Evidence: procedure.EvidenceMemory},
			"Water heater: something new 5 ppm is past 3 ppm (limit from memory)."},
		{"still, cut early", procedure.Finding{Rule: "spillage", Subject: "wh", Verdict: procedure.Fail, Value: ptr(45), Limit: ptr(60), Unit: "s", Detail: "worst-still"},
			"Water heater was still spilling when cut at 45 s at worst case."},
		{"together", procedure.Finding{Rule: "spillage", Subject: "wh", Verdict: procedure.Fail, Unit: "s", Detail: "together"},
			"Water heater spilled when all on its vent were lit."},
		{"matrix", procedure.Finding{Rule: "co-matrix", Subject: "wh", Verdict: procedure.Fail, Severity: procedure.Refer, Value: ptr(60), Limit: ptr(100), Unit: "ppm", Detail: "pass/fail-worst-only", Evidence: procedure.EvidenceMemory},
			"Water heater: CO 60 ppm, with weak draft at worst case (limit from memory)."},
		{"matrix, over its band", procedure.Finding{Rule: "co-matrix", Subject: "wh", Verdict: procedure.Fail, Severity: procedure.Refer, Value: ptr(42), Limit: ptr(25), Margin: ptr(-17), Unit: "ppm", Detail: "pass/pass", Evidence: procedure.EvidenceMemory},
			"Water heater: CO 42 ppm, over 25 (limit from memory)."},
		{"matrix, in its band", procedure.Finding{Rule: "co-matrix", Subject: "wh", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: ptr(12), Limit: ptr(25), Margin: ptr(13), Unit: "ppm", Detail: "pass/pass", Rising: true},
			"Water heater: CO 12 ppm and rising, up to 25."},
		{"co row", procedure.Finding{Rule: "co", Subject: "wh", Verdict: procedure.Fail, Value: ptr(210), Limit: ptr(200), Unit: "ppm", Detail: "air-free"},
			"Water heater: CO 210 ppm air-free is over 200 ppm."},
		{"co over range", procedure.Finding{Rule: "co", Subject: "wh", Verdict: procedure.Fail, Limit: ptr(200), Unit: "ppm", Detail: "air-free"},
			"Water heater: CO above the meter's range."},
		{"ambient", procedure.Finding{Rule: "ambient", Verdict: procedure.Fail, Value: ptr(12), Limit: ptr(9), Unit: "ppm", Detail: "ambient-co"},
			"Ambient CO reached 12 ppm."},
		{"lel over", procedure.Finding{Rule: "ambient", Verdict: procedure.Fail, Limit: ptr(10), Unit: "%", Detail: "lel"},
			"Gas in the room air was above the meter's range."},
		{"natural", procedure.Finding{Rule: "venting", Subject: "wh", Verdict: procedure.Fail, Row: "act-spillage-natural", Action: "stop-service", Detail: "natural"},
			"Water heater spills even when the house does not pull."},
		{"no row for code", procedure.Finding{Rule: "venting", Subject: "wh", Verdict: procedure.Fail, Row: "own-rule", Action: "spillage-natural", Detail: "natural"},
			"Water heater spills even when the house does not pull."},
		{"configuration", procedure.Finding{Rule: "configuration", Subject: "z", Row: "act-configuration-incomplete", Action: "set-again", Detail: "bath-fan-1"},
			"Basement: the worst case was not set up in full: bath fan."},
		{"leak", procedure.Finding{Rule: "hazard", Subject: "wh", Verdict: procedure.Fail, Detail: "leak", Row: "act-leak", Action: "fuel-supplier"},
			"A fuel leak was found at the water heater."},
		{"doubt", procedure.Finding{Rule: "doubt", Subject: "z", Detail: "rises", Row: "act-doubt-open", Action: "read-again"},
			"A reading is in doubt: pressure rose when fans came on."},
		{"unsure", procedure.Finding{Rule: "zone-pressure", Subject: "z", Verdict: procedure.Fail, Value: ptr(-4), Limit: ptr(-2), Unit: "Pa", Unsure: []string{"orphaned", "orphaned"}},
			"Basement: net -4.0 Pa is past the limit -2.0 (orphaned not known)."},
	}
	for _, c := range cases {
		if got := Reason(English, c.f, name); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

// A finding that fails is never worded as if it passed, and the other way
// round, whatever its rule.
func TestReasonFollowsTheVerdict(t *testing.T) {
	good := regexp.MustCompile(`inside|drawn in within|reaches`)
	bad := regexp.MustCompile(`past|too close|weaker|spilled|limit|over`)
	for _, rule := range []string{"zone-pressure", "spillage", "draft", "co", "other"} {
		for _, v := range []procedure.Verdict{procedure.Fail, procedure.TooClose, procedure.Pass} {
			got := Reason(English, procedure.Finding{Rule: rule, Subject: "z", Verdict: v, Value: ptr(7), Limit: ptr(3), Unit: "Pa"}, name)
			if v == procedure.Pass && !good.MatchString(got) || v != procedure.Pass && (good.MatchString(got) || !bad.MatchString(got)) {
				t.Errorf("%s %s: %s", rule, v, got)
			}
		}
		if got := Reason(English, procedure.Finding{Rule: rule, Subject: "z"}, name); good.MatchString(got) || bad.MatchString(got) {
			t.Errorf("%s not evaluated: %s", rule, got)
		}
	}
}

// Every action and every code of what was found in the shipped schemes has its
// words, so that no report ends in a code.
func TestSchemeCodesHaveWords(t *testing.T) {
	files, err := filepath.Glob("../../limits/schemes/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	re := regexp.MustCompile(`(?m)^    (code|action): "?([a-z-]+)"?$`)
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range re.FindAllStringSubmatch(string(b), -1) {
			n++
			switch m[1] {
			case "action":
				if _, ok := en().text["action."+m[2]]; !ok {
					t.Errorf("%s: action %q has no words", file, m[2])
				}
			case "code":
				switch m[2] {
				case "net-beyond", "net-too-close", "spillage-fails", "spillage-natural", "draft-natural", "doubt-open":
					continue // worded from their figures
				}
				if _, ok := en().text["code."+m[2]]; !ok {
					t.Errorf("%s: code %q has no words", file, m[2])
				}
			}
		}
	}
	if n == 0 {
		t.Fatal("no scheme was read")
	}
}

func TestDoMostUrgentFirst(t *testing.T) {
	got := Do(English, procedure.Finding{Rule: "visual", Detail: "fuel", Subject: "wh", Verdict: procedure.Fail, Severity: procedure.Hold, Status: procedure.FuelOff, Action: "fuel-supplier"}, name)
	if len(got) != 2 || !strings.Contains(got[0], "fuel supplier") || !strings.Contains(got[1], "Shut off the fuel to the water heater") {
		t.Errorf("leak: %q", got)
	}
	got = Do(English, procedure.Finding{Rule: "co", Subject: "wh", Verdict: procedure.Fail, Severity: procedure.Leave, Status: procedure.FuelOff, Action: "emergency"}, name)
	if len(got) != 3 || !strings.Contains(got[0], "emergency services") || !strings.Contains(got[1], "fuel") || !strings.Contains(got[2], "technician") {
		t.Errorf("emergency: %q", got)
	}
	got = Do(English, procedure.Finding{Rule: "zone-pressure", Subject: "z", Verdict: procedure.TooClose, Severity: procedure.Hold, Action: "zone"}, name)
	if len(got) != 2 || !strings.Contains(got[0], "Qualified") || !strings.Contains(got[1], "pairs") {
		t.Errorf("close: %q", got)
	}
	if got := Do(English, procedure.Finding{Rule: "co-matrix", Subject: "wh", Severity: procedure.Incomplete, Action: "proceed"}, name); len(got) == 0 {
		t.Error("CO that was not judged asks for nothing")
	}
	if got := Do(English, procedure.Finding{Rule: "co", Verdict: procedure.Pass}, name); got != nil {
		t.Errorf("pass: %q", got)
	}
	if got := Do(English, procedure.Finding{Rule: "new", Subject: "wh", Verdict: procedure.Fail, Severity: procedure.Hold, Action: "unheard-of"}, name); len(got) == 0 {
		t.Error("an unknown action asks for nothing")
	}
}

// grade is the Flesch-Kincaid grade level (Kincaid et al. 1975, from memory):
// 0.39 words/sentence + 11.8 syllables/word - 15.59. Syllables are counted as
// groups of vowels, without a silent e.
func grade(text string) float64 {
	sentences, nw, syl := 0.0, 0.0, 0.0
	for _, s := range regexp.MustCompile(`[.!?:]+`).Split(text, -1) {
		ws := regexp.MustCompile(`[A-Za-z']+`).FindAllString(s, -1)
		if len(ws) == 0 {
			continue
		}
		sentences++
		for _, w := range ws {
			nw++
			w = strings.ToLower(w)
			n := len(regexp.MustCompile(`[aeiouy]+`).FindAllString(w, -1))
			if strings.HasSuffix(w, "e") && n > 1 {
				n--
			}
			syl += float64(max(1, n))
		}
	}
	return 0.39*nw/sentences + 11.8*syl/nw - 15.59
}

func TestDoLinesReadPlainly(t *testing.T) {
	all := ""
	for k, v := range en().text {
		if strings.HasPrefix(k, "do.") || strings.HasPrefix(k, "action.") {
			v = strings.ReplaceAll(v, "{what}", "the water heater")
			all += v + " "
			for _, line := range lines(v) {
				if len(line) > 72 {
					t.Errorf("%s: %d characters: %s", k, len(line), line)
				}
			}
		}
	}
	g := grade(all)
	t.Logf("grade %.1f over %d words", g, words(all))
	if g > 8 {
		t.Errorf("DO lines read at grade %.1f, want 8 or lower", g)
	}
}

func TestHeadline(t *testing.T) {
	cases := []struct {
		d       procedure.Decision
		ph      procedure.Phase
		missing int
		want    string
	}{
		{procedure.Leave, procedure.TestIn, 0, "EVERYONE OUT NOW"},
		{procedure.Hold, procedure.TestIn, 0, "DO NOT AIR-SEAL THIS HOUSE YET"},
		{procedure.Hold, procedure.Daily, 0, "DO NOT LEAVE IT LIKE THIS"},
		{procedure.Hold, procedure.TestOut, 0, "DO NOT LEAVE IT LIKE THIS"},
		{procedure.Incomplete, procedure.TestIn, 3, "NO RESULT: 3 THINGS MISSING"},
		{procedure.Incomplete, procedure.TestIn, 1, "NO RESULT: 1 THING MISSING"},
		{procedure.NoDecision, procedure.TestIn, 0, "NO RESULT YET"},
		{procedure.Refer, procedure.TestIn, 0, "GO AHEAD ONLY WITH THIS SERVICE ARRANGED"},
		{procedure.Proceed, procedure.TestIn, 0, "GO AHEAD, AS TESTED TODAY"},
		{procedure.Decision("unheard-of"), procedure.TestIn, 0, "NO RESULT YET"},
	}
	for _, c := range cases {
		if got := Headline(English, c.d, c.ph, c.missing); got != c.want {
			t.Errorf("%s %s: got %q, want %q", c.d, c.ph, got, c.want)
		}
	}
}

func TestStopLines(t *testing.T) {
	co := StopLines(English, procedure.Hazard{Code: procedure.AmbientCO, Value: ptr(78)}, procedure.ActOut)
	want := []string{"EVERYONE OUT NOW. LEAVE THIS COMPUTER. Leave the door open.",
		"Ambient CO 78 ppm. Call from outside. Nobody goes back in.",
		"In reach on your way: burner off. Do not stop for anything else."}
	if strings.Join(co, "\n") != strings.Join(want, "\n") {
		t.Errorf("got %q", co)
	}
	for _, h := range []procedure.Hazard{{Code: procedure.Smell}, {Code: procedure.LEL, Value: ptr(12)}, {Code: procedure.LEL, OverRange: true}, {Code: procedure.Leak}} {
		all := strings.Join(StopLines(English, h, procedure.ActOut), "\n")
		if strings.Contains(all, "burner") || !strings.Contains(all, "Touch no switch") || !strings.Contains(all, "EVERYONE OUT NOW") {
			t.Errorf("%s: %s", h.Code, all)
		}
	}
	all := strings.Join(StopLines(English, procedure.Hazard{Code: procedure.AmbientCO, Value: ptr(40)}, procedure.ActLeave), "\n")
	if !strings.Contains(all, "windows") || !strings.Contains(all, "40 ppm") {
		t.Errorf("40 ppm: %s", all)
	}
	for _, c := range []procedure.HazardCode{"", "unheard-of", procedure.Alarm, procedure.Symptoms, procedure.Rollout} {
		for _, a := range []procedure.Act{"", procedure.ActLeave, procedure.ActOut, "unheard-of"} {
			got := StopLines(English, procedure.Hazard{Code: c}, a)
			if len(got) != 3 || !strings.HasPrefix(got[0], "EVERYONE OUT NOW") || got[2] == "" {
				t.Errorf("%q %q: %q", c, a, got)
			}
			for _, line := range got {
				if len(line) > 69 {
					t.Errorf("%d characters, the frame has 70: %s", len(line), line)
				}
			}
		}
	}
}

// The key for alarm, illness and smell does not say which it was: the lines
// must not send anybody to a control through gas.
func TestStopAny(t *testing.T) {
	got := StopAny(English)
	if len(got) != 3 || !strings.HasPrefix(got[0], "EVERYONE OUT NOW") || !strings.HasPrefix(got[2], "Fuel smell: touch nothing") {
		t.Errorf("got %q", got)
	}
	for _, line := range append(got, StopNotSaved(English)) {
		if len(line) > 69 || line == "" {
			t.Errorf("%d characters, the frame has 70: %s", len(line), line)
		}
	}
}

func TestHouseNow(t *testing.T) {
	item := func(ids ...string) (out []procedure.RosterItem) {
		for _, id := range ids {
			out = append(out, procedure.RosterItem{ID: id, Name: name(id)})
		}
		return out
	}
	fans, doors, air := item("bath-fan-1", "range-hood-1", "dryer-1"), item("bedroom-2", "bath-1"), item("air-handler-1")
	off := HouseNow(English, procedure.Setup{CAZDoor: "open"}, procedure.Step{}, name, fans, doors, air)
	if got, want := strings.Join(off, "; "), "bath fan, hood, dryer OFF; air handler OFF; inside doors OPEN; CAZ door OPEN; burners at pilot/off; windows, outside doors SHUT"; got != want {
		t.Errorf("\n got %s\nwant %s", got, want)
	}
	worst := HouseNow(English, procedure.Setup{Fans: []string{"bath-fan-1", "range-hood-1"}, NotRun: []string{"dryer-1"}, Doors: []string{"bedroom-2", "bath-1"}, AirHandler: []string{"air-handler-1"}, CAZDoor: "closed", FlowCFM: 300},
		procedure.Step{Held: true, Burning: true, Name: "water heater"}, name, fans, doors, air)
	if got, want := strings.Join(worst, "; "), "bath fan, hood ON; dryer WILL NOT RUN; fireplace stand-in 300 cfm ON; air handler ON; bedroom 2 and bath doors SHUT; CAZ door SHUT; water heater burner ON; windows, outside doors SHUT"; got != want {
		t.Errorf("\n got %s\nwant %s", got, want)
	}
	if len(HouseNow(English, procedure.Setup{}, procedure.Step{}, nil, nil, nil, nil)) == 0 {
		t.Error("nothing said of an empty house")
	}
}

func TestKeptText(t *testing.T) {
	cases := []struct {
		st   procedure.Step
		d    procedure.Data
		want string
	}{
		{procedure.Step{}, &procedure.Answer{Pressure: &procedure.Pressure{Samples: []float64{-0.8, -1.1, -0.9, -1.0, -0.9}, Unit: "Pa"}}, "5 values, mean -0.9 Pa, spread 0.3"},
		{procedure.Step{}, &procedure.Answer{Pressure: &procedure.Pressure{Value: ptr(-1), Unit: "Pa", AveragingS: 30}}, "-1.0 Pa, averaged over 30 s"},
		{procedure.Step{}, &procedure.Answer{Pressure: &procedure.Pressure{Value: ptr(0.6), Unit: "Pa", AveragingS: 30}}, "+0.6 Pa, averaged over 30 s"},
		{procedure.Step{LimitS: 60}, &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillStopped, Seconds: 37}}, "drawn in at 37 s, inside 60 s"},
		{procedure.Step{LimitS: 60}, &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillStopped, Seconds: 60.3}}, "drawn in at 60.3 s, past 60 s: a fail"},
		{procedure.Step{LimitS: 60}, &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillStill, Seconds: 45}}, "still spilling at 45 s, past 60 s: a fail"},
		{procedure.Step{}, &procedure.Answer{Gas: &procedure.Gas{CO: []float64{12, 30}, O2: []*float64{ptr(6.5), ptr(7)}, Rising: true}}, "2 cells, highest CO 30 ppm, O2 7.0 %, rising"},
		{procedure.Step{}, &procedure.Answer{Gas: &procedure.Gas{OverRange: true}}, "above the meter's range"},
		{procedure.Step{}, &procedure.Answer{Number: &procedure.Number{}}, "not known"},
		{procedure.Step{}, &procedure.Skip{Reason: procedure.SkipUnsafe}, "not done: would not be safe"},
		{procedure.Step{Choices: []string{"water-heater-1"}, Args: map[string]string{"names": "water heater"}}, &procedure.Answer{Choice: "water-heater-1"}, "water heater"},
		{procedure.Step{}, nil, "kept"},
	}
	for _, c := range cases {
		if got := KeptText(English, c.st, c.d); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}

func TestKeptAll(t *testing.T) {
	ok, wrong := &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenOK}}, &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenWrong, Text: "rusty"}}
	min := func(v float64) procedure.Data {
		return &procedure.Answer{Number: &procedure.Number{Value: ptr(v), Unit: "min"}}
	}
	smoke := func(c string) procedure.Data { return &procedure.Answer{Choice: c} }
	cases := []struct {
		form procedure.Form
		data []procedure.Data
		want string
	}{
		{procedure.FormChecklist, []procedure.Data{ok, ok, ok}, "3 answers: all so"},
		{procedure.FormChecklist, []procedure.Data{ok, wrong, ok}, "3 answers: 2 so, 1 not so: rusty"},
		{procedure.FormChecklist, []procedure.Data{ok}, "so"},
		{procedure.FormGate, []procedure.Data{ok, ok}, "2 answers: none of these is so"},
		{procedure.FormTable, []procedure.Data{smoke("into-room"), smoke("toward-zone"), smoke("toward-zone")}, "3 answers: 1 into the room, 2 toward the zone"},
		{procedure.FormNumbers, []procedure.Data{min(120), min(5)}, "2 answers: 120 min, 5 min"},
		{procedure.FormConfirm, []procedure.Data{smoke("natural"), smoke("door")}, "2 answers: as before"},
		{procedure.FormText, []procedure.Data{smoke("a"), smoke("b"), smoke("c"), smoke("d"), smoke("e")}, "5 answers"},
		{procedure.FormNumber, []procedure.Data{&procedure.Skip{Reason: procedure.SkipNotWanted}}, "left out"},
	}
	for _, c := range cases {
		if got := KeptAll(English, procedure.Step{Form: c.form}, c.data); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}

func TestMissingText(t *testing.T) {
	cases := map[procedure.Missing]string{
		{Step: "reading/z/worst", Why: "no-answer"}:             "worst-case reading of basement: not done",
		{Step: "spill/wh", Why: "skipped-no-instrument"}:        "spillage of water heater: left out: no instrument for it",
		{Step: "baseline/z/closing", Why: "stale"}:              "closing baseline of basement: must be done again, what it rests on has changed",
		{Step: "appliance/wh/vent", Why: "no-answer"}:           "vent of water heater: not done",
		{Step: "doubt/rises/reading/z/fans", Why: "doubt-open"}: "doubt on reading of basement, with fans: its doubt is open",
		{Step: "look/wh", Why: "not-ok"}:                        "look at water heater: not in order, or not seen",
		{Step: "unheard/of", Why: "some-new-code"}:              "unheard of: some new code",
		{Step: "arrive/lel", Why: "skipped-unheard"}:            "gas in the room air: left out: unheard",
		{Step: "reading/z/cazdoor", Why: "skipped-refused"}:     "reading of basement, CAZ door shut: left out: occupant or owner said no",
	}
	for m, want := range cases {
		if got := MissingText(English, m, name); got != want {
			t.Errorf("%v: got %q, want %q", m, got, want)
		}
	}
}

func TestMissingList(t *testing.T) {
	got := MissingList(English, []procedure.Missing{{Step: "spill/wh", Why: "skipped-no-instrument"}, {Step: "together/a", Why: "no-answer"}, {Step: "co/wh", Why: "no-answer"}, {Step: "together/b", Why: "no-answer"}}, name)
	if want := "left out: no instrument for it: spillage of water heater; not done: all lit on one vent, CO of water heater"; got != want {
		t.Errorf("\n got %s\nwant %s", got, want)
	}
	if got := MissingList(English, nil, name); got != "" {
		t.Errorf("nothing missing: %q", got)
	}
}

func TestSchemeNames(t *testing.T) {
	cases := map[string][2]string{"graded-2005": {"graded", "graded, 2005/2015"}, "spillage-2017": {"spillage", "spillage, 2017"},
		"code-annex-2018": {"code annex", "code annex, 2018"}, "canada-mixed": {"canada mixed", "canada mixed, 1995/2022, part withdrawn"}, "ours-1": {"ours", "ours"}, "": {"", ""}}
	for id, want := range cases {
		r := procedure.Ref{Name: id}
		if SchemeShort(r) != want[0] || SchemeLong(r) != want[1] {
			t.Errorf("%s: %q, %q", id, SchemeShort(r), SchemeLong(r))
		}
	}
	if got := SchemeLong(procedure.Ref{Name: "graded-2005", Edited: true}); !strings.HasSuffix(got, "edited") {
		t.Errorf("edited: %q", got)
	}
}

func TestLimitText(t *testing.T) {
	r := procedure.Limit{Row: procedure.Row{Evidence: procedure.EvidenceMemory}, Applies: procedure.Selector{Common: procedure.Yes}, Bound: procedure.Bound{Value: -3, Sense: procedure.AtLeast}, Unit: "Pa"}
	if got := LimitText(English, r); got != "one vent, -3.0 (from memory)" {
		t.Error(got)
	}
	r.Applies = procedure.Selector{Kinds: []procedure.ApplianceKind{procedure.Furnace, procedure.Boiler, procedure.WaterHeater}, Vents: []procedure.VentType{procedure.DirectVent}}
	if got := LimitText(English, r); got != "direct vent, -3.0 (from memory)" {
		t.Error(got)
	}
	r.Applies = procedure.Selector{Common: procedure.Yes}
	r.Bound.Value = -2.96
	r.Checked = &procedure.Checked{By: "x"}
	if got := LimitText(English, r); got != "one vent, -2.96" {
		t.Error(got)
	}
}

func FuzzReason(f *testing.F) {
	f.Add("zone-pressure", "z", "fail", "hold", "fuel-off", "Pa", "memory", "zone", "net-beyond", -3.04, -3.0, 0.5, uint8(7))
	f.Add("", "", "", "", "", "", "", "", "", 0.0, 0.0, 0.0, uint8(0))
	f.Add("co", "wh", "too-close", "leave", "may-run", "ppm", "seen", "{what}", "{name", 1e300, -1e300, -1.0, uint8(3))
	f.Fuzz(func(t *testing.T, rule, sub, verdict, sev, status, unit, evidence, action, det string, value, limit, u float64, which uint8) {
		fi := procedure.Finding{Rule: rule, Subject: sub, Verdict: procedure.Verdict(verdict), Severity: procedure.Decision(sev), Status: procedure.Status(status), Unit: unit,
			Evidence: procedure.Evidence(evidence), Action: action, Detail: det, Row: action, Natural: which&8 > 0}
		if which&1 > 0 {
			fi.Value = &value
		}
		if which&2 > 0 {
			fi.Limit = &limit
		}
		if which&4 > 0 {
			fi.Uncertainty = &u
		}
		for _, l := range []Lang{English, Spanish, "xx"} {
			if got := Reason(l, fi, name); got == "" {
				t.Errorf("no reason for %+v", fi)
			}
			Do(l, fi, name)
			Do(l, fi, nil)
			DoubtText(l, procedure.DoubtCode(det), nil)
			MissingText(l, procedure.Missing{Step: rule, Why: det}, name)
			StatusText(l, fi.Status)
			For(l, procedure.Step{Ask: rule, Form: procedure.Form(sub), Name: det, Items: []procedure.Item{{Code: det, Name: sub}}, Choices: []string{action}, Args: map[string]string{"names": unit, "input": det}}, procedure.Plan{})
		}
	})
}
