package wording

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestDesk holds that every reason of the register has words, that they say
// what to look at, and that they accuse nobody.
func TestDesk(t *testing.T) {
	src, err := os.ReadFile("../register/register.go")
	if err != nil {
		t.Fatal(err)
	}
	codes := regexp.MustCompile(`Code = "([a-z-]+)"`).FindAllStringSubmatch(string(src), -1)
	if len(codes) < 25 {
		t.Fatalf("found %d codes", len(codes))
	}
	args := map[string][]map[string]string{
		"integrity":     {{"state": "damaged"}, {"state": "torn"}, {"state": "fault"}},
		"hold":          {{"phase": "test-in"}, {"phase": "daily"}},
		"otherwise-now": {{"why": "table"}, {"why": "edited"}, {"why": "program"}},
		"net-far-off":   {{"side": "less"}, {"side": "more"}},
		"forecast":      {{"side": "over"}, {"side": "close"}},
	}
	for _, c := range codes {
		list := args[c[1]]
		if list == nil {
			list = []map[string]string{nil}
		}
		for _, a := range list {
			for l, look := range map[Lang]string{English: `\b[Ll]ook`, Spanish: `\b([Mm]ire|[Mm]írelo|Busque|Búsquelas)\b`} {
				s := Desk(l, c[1], a)
				if s == Desk(l, "desk.unknown-reason", nil) {
					t.Errorf("%s: %s %v has no words", l, c[1], a)
				}
				if !regexp.MustCompile(look).MatchString(s) {
					t.Errorf("%s: %s does not say what to look at: %s", l, c[1], s)
				}
			}
		}
	}
	accuses := regexp.MustCompile(`(?i)\b(fake|faked|cheat|fraud|lied|lying|invented|made up|forged|falsif|dishonest|copied|suspicious|tamper|your fault|careless|wrong with the crew)`)
	for k, s := range enDesk() {
		if accuses.MatchString(s) {
			t.Errorf("%s accuses: %s", k, s)
		}
	}
	accuses = regexp.MustCompile(`(?i)\b(fals|fraud|trampa|engañ|mentir|mintió|inventad|copiad|sospech|alterad|su culpa|descuid)`)
	for k, s := range esDesk() {
		if accuses.MatchString(s) {
			t.Errorf("Spanish %s accuses: %s", k, s)
		}
	}
}

// TestDeskSpanish holds that both languages have the same sentences, filled
// with the same arguments.
func TestDeskSpanish(t *testing.T) {
	braces := func(s string) string {
		list := regexp.MustCompile(`\{[a-z]+\}`).FindAllString(s, -1)
		slices.Sort(list)
		return strings.Join(slices.Compact(list), " ")
	}
	if len(esDesk()) != len(enDesk()) {
		t.Errorf("%d sentences in Spanish, %d in English", len(esDesk()), len(enDesk()))
	}
	for k, s := range enDesk() {
		if es := esDesk()[k]; es == "" || es == s || braces(es) != braces(s) {
			t.Errorf("%s: %q in Spanish, %q in English", k, es, s)
		}
	}
}

func TestDeskArguments(t *testing.T) {
	for _, c := range []struct {
		code string
		args map[string]string
		want string
	}{
		{"leave", nil, "everyone out. Look"},
		{"leave", map[string]string{"about": "Furnace"}, "everyone out: Furnace. Look"},
		{"too-close", map[string]string{"about": "Attic -2.9"}, "call: Attic -2.9. Look"},
		{"returned", map[string]string{"name": "{note}"}, "returned by (note): no note. Look"},
		{"returned", map[string]string{"name": "{", "note": "}"}, "returned by (: ). Look"},
		{"same-elsewhere", nil, "home not known. Look"},
		{"of-a-later-version", nil, "no words for"},
	} {
		if got := Desk(English, c.code, c.args); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q in it", c.code, got, c.want)
		}
	}
}
