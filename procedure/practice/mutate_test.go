package practice_test

import (
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"cazward/procedure/practice"
)

var (
	figures = regexp.MustCompile(`[-+]?[0-9]+(\.[0-9]+)?`)
	words   = regexp.MustCompile(`[a-z][a-z0-9_-]+`)
)

// What the reader takes, the schema takes too: single figures and words of the
// sound house exchanged at random.
func TestMutatedHouses(t *testing.T) {
	s := schemaOf(t)
	rng := rand.New(rand.NewPCG(5, 6))
	numbers := []string{"0", "1", "-1", "0.5", "3.25", "12", "80", "250", "1e3", "01", "99999"}
	all := words.FindAllString(sound, -1)
	taken, refused := 0, 0
	for range 4000 {
		text := sound
		for range 1 + rng.IntN(2) {
			if rng.IntN(2) == 0 {
				at := figures.FindAllStringIndex(text, -1)
				p := at[rng.IntN(len(at))]
				text = text[:p[0]] + numbers[rng.IntN(len(numbers))] + text[p[1]:]
			} else {
				at := words.FindAllStringIndex(text, -1)
				p := at[rng.IntN(len(at))]
				text = text[:p[0]] + all[rng.IntN(len(all))] + text[p[1]:]
			}
		}
		if text == sound {
			continue
		}
		_, err := practice.ReadHouse("m", []byte(text))
		if err != nil {
			refused++
			continue
		}
		taken++
		if err := validate(s, []byte(text)); err != nil {
			t.Errorf("the schema refuses what is read: %v\n%s", err, diff(sound, text))
		}
	}
	if taken < 400 || refused < 400 {
		t.Errorf("%d taken, %d refused: too few of one to tell anything", taken, refused)
	}
	t.Logf("%d taken, %d refused", taken, refused)
}

func diff(a, b string) string {
	var out []string
	y := strings.Split(b, "\n")
	for i, line := range strings.Split(a, "\n") {
		if i < len(y) && line != y[i] {
			out = append(out, y[i])
		}
	}
	return strings.Join(out, "\n")
}
