package notice

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/wording"
)

func ptr(v float64) *float64 { return &v }

var day = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

// input is an invented home with these findings.
func input(l wording.Lang, d procedure.Decision, ph procedure.Phase, f ...procedure.Finding) Input {
	in := Input{Lang: l, Closed: true, CloseHash: strings.Repeat("0a", 32),
		Header:       procedure.Header{Record: "1f2e", Home: "Invented 1", Phase: ph, Created: day},
		Observations: procedure.Observations{Tester: "AB"},
		Judgement:    procedure.Judgement{Phase: ph, Decision: d, Findings: f}}
	in.Observations.Zones = []procedure.Zone{{ID: "basement-1", Name: "basement"}}
	in.Observations.Appliances = []procedure.Appliance{{ID: "water-heater-1", Name: "water heater", Kind: procedure.WaterHeater, Burner: procedure.Burner{Fuel: procedure.NaturalGas}}}
	in.Judgement.Appliances = []procedure.ApplianceResult{{ID: "water-heater-1", Name: "water heater", Status: procedure.OffUntilServiced}}
	if d == procedure.Proceed {
		in.Judgement.Appliances[0].Status = procedure.MayRun
	}
	return in
}

// findings are one of every kind that a judgement can hold: what is measured
// with each verdict, each hazard and doubt, and each code of what is found in
// the shipped schemes.
func findings(t *testing.T) []procedure.Finding {
	t.Helper()
	var out []procedure.Finding
	for _, rule := range []string{"depressurization", "spillage", "draft", "co", "co-matrix"} {
		subject := "water-heater-1"
		if rule == "depressurization" {
			subject = "basement-1"
		}
		for _, v := range []procedure.Verdict{procedure.Fail, procedure.TooClose, procedure.NotEvaluated} {
			for _, natural := range []bool{false, true} {
				f := procedure.Finding{Rule: rule, Subject: subject, Verdict: v, Value: ptr(210), Limit: ptr(200), Unit: "ppm", Natural: natural, Action: "service-or-house"}
				out = append(out, f)
				f.Value = nil
				out = append(out, f)
			}
		}
	}
	out = append(out, procedure.Finding{Rule: "spillage", Subject: "water-heater-1", Verdict: procedure.Fail, Detail: "together", Action: "service-or-house"})
	for _, code := range []procedure.HazardCode{procedure.AmbientCO, procedure.LEL} {
		out = append(out, procedure.Finding{Rule: "ambient", Verdict: procedure.Fail, Value: ptr(40), Unit: "ppm", Detail: string(code), Action: "out"},
			procedure.Finding{Rule: "ambient", Verdict: procedure.Fail, Detail: string(code), Action: "out"})
	}
	for _, code := range []procedure.HazardCode{procedure.Smell, procedure.Leak, procedure.Alarm, procedure.Symptoms, procedure.Rollout, procedure.FlameChange} {
		out = append(out, procedure.Finding{Rule: "hazard", Subject: "water-heater-1", Verdict: procedure.Fail, Detail: string(code), Row: "act-" + string(code), Action: "technician"})
	}
	out = append(out, procedure.Finding{Rule: "doubt", Subject: "basement-1", Verdict: procedure.Fail, Detail: "rises", Row: "act-doubt-open", Action: "read-again"},
		procedure.Finding{Rule: "configuration", Subject: "basement-1", Verdict: procedure.Fail, Detail: "bath-fan-1", Row: "act-configuration-incomplete", Action: "set-again"},
		procedure.Finding{Rule: "visual", Subject: "water-heater-1", Detail: "soot"},
		procedure.Finding{Rule: "something-new", Subject: "water-heater-1", Verdict: procedure.Fail})
	for _, name := range limits.Names() {
		set, err := limits.Load(limits.Options{Scheme: name})
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range set.Rules().Actions {
			if a.Code == "fireplace-stand-in" {
				continue // no finding of its own: it makes a configuration incomplete
			}
			f := procedure.Finding{Rule: "visual", Subject: "water-heater-1", Verdict: procedure.Fail, Detail: a.Code, Row: a.ID, Action: a.Action}
			switch a.Code {
			case "net-beyond", "net-too-close", "spillage-fails", "spillage-natural", "draft-natural", "natural-not-tested":
				f.Rule, f.Detail = "venting", ""
			case "doubt-open":
				f.Rule, f.Detail = "doubt", "rises"
			case "configuration-incomplete":
				f.Rule, f.Detail = "configuration", "not-held"
			case "alarm", "smell", "symptoms", "leak", "rollout", "flame-change":
				f.Rule = "hazard"
			}
			out = append(out, f)
		}
	}
	return out
}

// page is all that the page says, a sentence or list line each, without the
// name of the home and the numbers of the record.
func page(n Notice) []string {
	out := []string{n.Title, n.Word, n.Headline, n.Foot}
	for _, p := range []Part{{n.Found.Title, n.Shown(MaxFound)}, n.Means, n.Do, n.Call, n.Signs, n.Not} {
		out = append(append(out, p.Title), p.Lines...)
	}
	return out
}

var stops = regexp.MustCompile(`[.!?]+(\s|$)`)

// words and sentences of a text; a line without a full stop is a sentence too.
func count(text []string) (words []string, sentences int) {
	for _, line := range text {
		for _, s := range stops.Split(line, -1) {
			ws := strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && r != '\'' })
			if len(ws) > 0 {
				sentences++
				words = append(words, ws...)
			}
		}
	}
	return words, sentences
}

// grade is the Flesch-Kincaid grade level: 0.39 words/sentence + 11.8
// syllables/word - 15.59 (Kincaid et al., Derivation of new readability
// formulas, 1975; from memory). Syllables are groups of vowels without a
// silent e.
func grade(text []string) float64 {
	words, sentences := count(text)
	n := 0
	for _, w := range words {
		n += english(w)
	}
	return 0.39*float64(len(words))/float64(sentences) + 11.8*float64(n)/float64(len(words)) - 15.59
}

var vowels = regexp.MustCompile(`[aeiouy]+`)

func english(w string) int {
	w = strings.ToLower(w)
	n := len(vowels.FindAllString(w, -1))
	if strings.HasSuffix(w, "e") && !strings.HasSuffix(w, "le") && n > 1 {
		n--
	}
	return max(1, n)
}

// score is that of Fernandez Huerta: 206.84 - 0.60 P - 1.02 F, P syllables in
// 100 words, F words in a sentence (Medidas sencillas de lecturabilidad, 1959;
// from memory, with F read as the mean length of a sentence).
func score(text []string) float64 {
	words, sentences := count(text)
	n := 0
	for _, w := range words {
		n += spanish(w)
	}
	return 206.84 - 0.60*100*float64(n)/float64(len(words)) - 1.02*float64(len(words))/float64(sentences)
}

var silent = strings.NewReplacer("qu", "q", "gue", "ge", "gui", "gi", "gué", "gé", "guí", "gí")

// spanish counts syllables: each strong vowel is one, a weak vowel beside a
// strong one joins it unless it carries an accent, two weak ones are one.
func spanish(w string) int {
	w = silent.Replace(strings.ToLower(w))
	n, open := 0, false // open: a vowel stands before that a weak one may join
	strongBefore := false
	for i, r := range w {
		if r == 'y' && i == len(w)-1 {
			r = 'i'
		}
		switch {
		case strings.ContainsRune("aeoáéó", r):
			if !open || strongBefore {
				n++
			}
			open, strongBefore = true, true
		case strings.ContainsRune("íú", r):
			n++
			open, strongBefore = true, true
		case strings.ContainsRune("iuü", r):
			if !open {
				n++
				strongBefore = false
			}
			open = true
		default:
			open, strongBefore = false, false
		}
	}
	return max(1, n)
}

func TestSyllables(t *testing.T) {
	for w, want := range map[string]int{"house": 1, "water": 2, "carbon": 2, "alarm": 2, "technician": 3, "they": 1, "fixed": 2, "people": 2} {
		if got := english(w); got != want {
			t.Errorf("%s: %d, want %d", w, got, want)
		}
	}
	for w, want := range map[string]int{"casa": 2, "aquí": 2, "quién": 1, "fuga": 2, "monóxido": 4, "carbono": 3, "siente": 2, "todavía": 4, "agua": 2, "aire": 2, "afuera": 3, "muy": 1, "aceite": 3, "llegue": 2, "leer": 2, "extractores": 4} {
		if got := spanish(w); got != want {
			t.Errorf("%s: %d, want %d", w, got, want)
		}
	}
	// A sentence of four words and five syllables, by hand: 0.39*4 + 11.8*5/4 - 15.59 = 0.72.
	if got := grade([]string{"Leave the house open."}); got < 0.71 || got > 0.73 {
		t.Errorf("grade %v", got)
	}
	// Four words, eight syllables, by hand: 206.84 - 0.60*200 - 1.02*4 = 82.76.
	if got := score([]string{"Llame ya desde afuera."}); got < 82.75 || got > 82.77 {
		t.Errorf("score %v", got)
	}
}

// Every page that a decision and a finding can make is read plainly.
func TestReadsPlainly(t *testing.T) {
	all := findings(t)
	worstEn, worstEs, pages := 0.0, 200.0, 0
	read := func(d procedure.Decision, ph procedure.Phase, f ...procedure.Finding) {
		pages++
		for i := range f {
			f[i].Severity = d
		}
		en, es := Build(input(wording.English, d, ph, f...)), Build(input(wording.Spanish, d, ph, f...))
		if g := grade(page(en)); g > worstEn {
			worstEn = g
			if g > 8 {
				t.Errorf("%s %s: grade %.1f\n%s", d, ph, g, strings.Join(page(en), "\n"))
			}
		}
		if s := score(page(es)); s < worstEs {
			worstEs = s
			if s < 60 {
				t.Errorf("%s %s: score %.1f\n%s", d, ph, s, strings.Join(page(es), "\n"))
			}
		}
	}
	for _, d := range append([]procedure.Decision{procedure.NoDecision, "unheard-of"}, procedure.Decisions...) {
		for _, ph := range []procedure.Phase{procedure.TestIn, procedure.Daily, procedure.TestOut} {
			read(d, ph)
			for i := range all {
				read(d, ph, all[i])
				if i%5 == 0 && i+MaxFound+2 <= len(all) {
					read(d, ph, append([]procedure.Finding{}, all[i:i+MaxFound+2]...)...)
				}
			}
		}
	}
	t.Logf("%d pages: grade up to %.1f, score down to %.1f", pages, worstEn, worstEs)
	// Without the fixed parts: what was found, what it means, what to do.
	for i := range all {
		for _, d := range procedure.Decisions {
			f := all[i]
			f.Severity = d
			for _, l := range []wording.Lang{wording.English, wording.Spanish} {
				n := Build(input(l, d, procedure.TestIn, f))
				own := append(append(append([]string{}, n.Found.Lines...), n.Means.Lines...), n.Do.Lines...)
				if g := grade(own); l == wording.English && g > 8 {
					t.Errorf("%s %+v: grade %.1f: %q", d, f, g, own)
				}
				if s := score(own); l == wording.Spanish && s < 60 {
					t.Errorf("%s %+v: score %.1f: %q", d, f, s, own)
				}
			}
		}
	}
}

// Each kind of finding has words of its own; only what this version does not
// know is told in general ones.
func TestEveryFindingHasWords(t *testing.T) {
	for _, l := range []wording.Lang{wording.English, wording.Spanish} {
		general := wording.Household(l, procedure.Finding{Rule: "x", Subject: "water-heater-1", Verdict: procedure.Fail}, func(string) string { return "X" })
		for _, f := range findings(t) {
			got := wording.Household(l, f, func(string) string { return "X" })
			if got == "" || got == general && f.Rule != "something-new" {
				t.Errorf("%s: %+v: %q", l, f, got)
			}
			if strings.ContainsAny(got, "{}") {
				t.Errorf("%s: %q", l, got)
			}
		}
	}
}

// Findings as the judge makes them are told for what they are: what could not
// be measured is never told as a measurement.
func TestFindingsOfTheJudge(t *testing.T) {
	for _, c := range []struct {
		f    procedure.Finding
		want string
	}{
		{procedure.Finding{Rule: "draft", Detail: "oil-breech-unknown", Row: "act-oil-breech-unknown", Action: "oil-technician"}, "X: its vent could not be judged. We need a figure from its maker."},
		{procedure.Finding{Rule: "draft", Detail: "no-test-hole", Row: "own-rule", Action: "no-test-hole"}, "X: its vent could not be tested. It has no test hole."},
		{procedure.Finding{Rule: "co-matrix", Detail: "furnace", Row: "own-rule", Action: "co-no-row"}, "X: what we found fits no set limit. It counts as not safe."},
		{procedure.Finding{Rule: "co", Detail: "as-measured", Row: "own-rule", Action: "emergency"}, "X: its fumes hold more carbon monoxide (CO) than the meter can show."},
		{procedure.Finding{Rule: "co", Value: ptr(210), Detail: "as-measured"}, "X: we read 210 ppm of carbon monoxide (CO) in its fumes. It needs service or repair."},
		{procedure.Finding{Rule: "venting", Detail: "worst", Row: "act-spillage-fails", Action: "service-or-house"}, "X: its fumes came back into the room when the fans ran."},
		{procedure.Finding{Rule: "venting", Detail: "natural", Row: "own-rule", Action: "spillage-natural"}, "X: its fumes came back into the room with the fans off, too."},
		{procedure.Finding{Rule: "venting", Detail: "natural", Row: "act-draft-natural", Action: "stop-service"}, "X: its vent pulls too weakly with the fans off, too."},
		{procedure.Finding{Rule: "spillage", Detail: "together", Row: "own-rule", Action: "service-or-house"}, "X: its fumes came back into the room when all on its vent ran."},
		{procedure.Finding{Rule: "spillage", Value: ptr(80), Detail: "natural", Natural: true}, "X: its fumes came back into the room with the fans off, too."},
		{procedure.Finding{Rule: "depressurization", Value: ptr(-4), Verdict: procedure.TooClose}, "X: the fans of this home pull so hard there that it is too close to call. That counts as a fail."},
		{procedure.Finding{Rule: "ambient", Value: ptr(40), Detail: "ambient-co", Action: "out"}, "There was carbon monoxide (CO) in the room air: 40 ppm."},
		{procedure.Finding{Rule: "ambient", Detail: "ambient-co", Action: "out"}, "There was more carbon monoxide (CO) in the room air than the meter can show."},
		{procedure.Finding{Rule: "ambient", Value: ptr(12), Detail: "lel", Action: "out"}, "There was gas in the room air."},
		{procedure.Finding{Rule: "ambient", Detail: "ambient-source-open", Row: "act-ambient-source-open", Action: "source"}, "There was carbon monoxide (CO) in the room air. We do not know that its source was stopped."},
		{procedure.Finding{Rule: "no-figure", Detail: "wood-stove", Row: "act-solid-fuel-no-row", Action: "chimney-sweep"}, "X: there is no set limit for how hard the fans may pull on it."},
		{procedure.Finding{Rule: "unvented", Detail: "main", Row: "act-unvented-main", Action: "technician"}, "X: it has no vent, and it is your main heat."},
		{procedure.Finding{Rule: "doubt", Detail: "rises", Row: "act-doubt-open", Action: "read-again"}, "One of our readings may be wrong. It must be read again."},
		{procedure.Finding{Rule: "configuration", Detail: "bath-fan-1", Row: "act-configuration-incomplete", Action: "set-again"}, "The test was not set up in full."},
		{procedure.Finding{Rule: "hazard", Detail: "leak", Row: "act-leak", Action: "fuel-supplier"}, "Fuel leaks in this home."},
	} {
		c.f.Subject = "x-1"
		if c.f.Verdict == "" {
			c.f.Verdict = procedure.Fail
		}
		if got := wording.Household(wording.English, c.f, func(string) string { return "X" }); got != c.want {
			t.Errorf("%s %s %s:\n got %s\nwant %s", c.f.Rule, c.f.Detail, c.f.Row, got, c.want)
		}
		if got := wording.Household(wording.Spanish, c.f, func(string) string { return "X" }); got == "" || strings.Contains(got, " ppm") && c.f.Value == nil {
			t.Errorf("%s %s in Spanish: %q", c.f.Rule, c.f.Detail, got)
		}
	}
}

// What was not tested, or is not known, is never worded as fine.
func TestUnknownIsNotFine(t *testing.T) {
	fine := regexp.MustCompile(`(?i)\bpassed\b|\bis safe\b|\bpasó\b|\bes seguro\b|nothing here that burns|no hallamos nada`)
	allowed := strings.NewReplacer("knows if it is safe", "", "nadie sabe si es seguro", "", "say that it is safe", "", "digan que es seguro", "", "that anything is safe", "", "No sabemos que", "", "if it were not safe", "", "Algo aquí no es seguro", "", "is not safe as it is", "")
	for _, l := range []wording.Lang{wording.English, wording.Spanish} {
		for _, d := range []procedure.Decision{procedure.Leave, procedure.Hold, procedure.Incomplete, procedure.NoDecision, "unheard-of"} {
			for _, f := range append(findings(t), procedure.Finding{Rule: "spillage", Verdict: procedure.Pass, Severity: procedure.Proceed}) {
				if f.Verdict != procedure.Pass {
					f.Severity = d
				}
				for _, line := range page(Build(input(l, d, procedure.TestIn, f))) {
					if m := fine.FindString(allowed.Replace(line)); m != "" {
						t.Fatalf("%s %s: %q in %q", l, d, m, line)
					}
				}
			}
		}
	}
	for _, c := range []struct {
		name string
		in   Input
		want string
	}{
		{"proceed, nothing judged", input(wording.English, procedure.Proceed, procedure.TestIn), "Nothing was judged"},
		{"proceed, passed", input(wording.English, procedure.Proceed, procedure.TestIn, procedure.Finding{Rule: "spillage", Verdict: procedure.Pass, Severity: procedure.Proceed}), "All that we tested passed."},
		{"incomplete, passed in part", input(wording.English, procedure.Incomplete, procedure.TestIn, procedure.Finding{Rule: "spillage", Verdict: procedure.Pass, Severity: procedure.Proceed}), "Nothing was judged"},
	} {
		if c.name == "incomplete, passed in part" {
			c.in.Judgement.Missing = []procedure.Missing{{Step: "co/water-heater-1", Why: "no-answer"}}
			c.want = "Things that were not tested: 1."
		}
		if got := strings.Join(Build(c.in).Found.Lines, " "); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q", c.name, got)
		}
	}
	electric := input(wording.English, procedure.Proceed, procedure.TestIn)
	electric.Observations.Appliances = nil
	if got := Build(electric).Found.Lines[0]; got != "We found nothing here that burns fuel." {
		t.Errorf("all-electric: %q", got)
	}
}

func TestEveryNoticeDefers(t *testing.T) {
	for l, want := range map[wording.Lang][]string{wording.English: {"Local code", "authority having jurisdiction", "licensed", "certifies nothing"},
		wording.Spanish: {"código local", "autoridad competente", "licencia", "no certifica nada"}} {
		for _, d := range append([]procedure.Decision{procedure.NoDecision}, procedure.Decisions...) {
			var b bytes.Buffer
			if err := WriteText(&b, Build(input(l, d, procedure.TestIn))); err != nil {
				t.Fatal(err)
			}
			text := strings.Join(strings.Fields(b.String()), " ")
			for _, w := range want {
				if !strings.Contains(text, w) {
					t.Errorf("%s %s does not say %q", l, d, w)
				}
			}
			if strings.Contains(text, "911") || regexp.MustCompile(`[0-9]{3}[- ][0-9]{4}`).MatchString(text) {
				t.Errorf("%s %s: a telephone number", l, d)
			}
		}
	}
}

func TestPracticeSaysSo(t *testing.T) {
	in := input(wording.English, procedure.Proceed, procedure.TestIn)
	if Build(in).Mark != "" {
		t.Error("a real home is marked as practice")
	}
	in.Header.Practice = &procedure.Practice{House: "demo"}
	if got := Build(in).Mark; !strings.Contains(got, "NOT A REAL TEST") {
		t.Errorf("practice: %q", got)
	}
}

func TestMoreThanThePageHolds(t *testing.T) {
	in := input(wording.English, procedure.Hold, procedure.TestIn)
	for i := 0; i < 11; i++ {
		id := fmt.Sprintf("furnace-%d", i)
		in.Observations.Appliances = append(in.Observations.Appliances, procedure.Appliance{ID: id, Name: fmt.Sprintf("furnace %d", i), Kind: procedure.Furnace})
		in.Judgement.Findings = append(in.Judgement.Findings, procedure.Finding{Rule: "spillage", Subject: id, Verdict: procedure.Fail, Severity: procedure.Hold, Status: procedure.OffUntilServiced})
		in.Judgement.Appliances = append(in.Judgement.Appliances, procedure.ApplianceResult{ID: id, Status: procedure.OffUntilServiced})
	}
	in.Judgement.Missing = make([]procedure.Missing, 2)
	n := Build(in)
	got := n.Shown(MaxFound)
	if len(got) != MaxFound+2 || got[MaxFound] != "3 more, see the report." || !strings.Contains(got[MaxFound+1], "not tested: 2.") {
		t.Errorf("%q", got)
	}
	if got := n.Shown(2); len(got) != 4 || got[2] != "9 more, see the report." {
		t.Errorf("%q", got)
	}
	if want := "Keep off until it is fixed: water heater, furnace 0, furnace 1, furnace 2, furnace 3 and 7 more (see the report)."; n.Do.Lines[0] != want {
		t.Errorf("%q", n.Do.Lines[0])
	}
}

// A test walked in one language gives its notice in the other; what a person
// named stays as it was named.
func TestNamesFollowTheLanguage(t *testing.T) {
	f := procedure.Finding{Rule: "spillage", Subject: "water-heater-1", Verdict: procedure.Fail, Severity: procedure.Hold}
	for name, want := range map[string]string{"water heater": "Calentador de agua: ", "water heater 2": "Calentador de agua 2: ", "the old one": "The old one: ", "calentador de agua": "Calentador de agua: "} {
		in := input(wording.Spanish, procedure.Hold, procedure.TestIn, f)
		in.Observations.Appliances[0].Name = name
		if got := Build(in).Found.Lines[0]; !strings.HasPrefix(got, want) {
			t.Errorf("%s: %q", name, got)
		}
	}
}
