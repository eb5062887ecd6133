package practice

import (
	_ "embed"
	"encoding/hex"
	"math"
	"slices"
	"strings"

	"gopkg.in/yaml.v3"

	"cazward/limits/strict"
	"cazward/procedure/wording"
)

//go:embed rubrics/standard.rubric.yaml
var standardRubric []byte

// StandardRubric is the file that the program scores by where none is given, to
// copy and edit.
func StandardRubric() []byte { return slices.Clone(standardRubric) }

// Check is one thing that a practice test is scored by. It gives an amount of
// fault, 0 for none.
type Check string

// Append-only: rubrics name them.
const (
	CheckDecision  Check = "decision"        // 1 milder than the house calls for, 0.5 stricter
	CheckWorst     Check = "worst-case"      // Pa of the worst case that the trainee's own doing gave away
	CheckBaseline  Check = "baseline"        // Pa by which the house was not at rest
	CheckRead      Check = "readings"        // Pa by which a kept pressure was off beyond gauge and gusts
	CheckInventory Check = "inventory"       // things on no list, or told otherwise than they are
	CheckLooked    Check = "looked"          // things to see that were not
	CheckSaid      Check = "said-so"         // lines answered ok that were not so
	CheckWatched   Check = "ambient-watched" // min, longest without a reading while a burner ran
	CheckLeft      Check = "ambient-left"    // min for which the test went on above 35 ppm
	CheckOrder     Check = "order"           // burners lit before a smaller one
	CheckCOTime    Check = "co-time"         // min, most that CO was read too early
	CheckSafety    Check = "safety-steps"    // safety questions left out
	CheckPutBack   Check = "put-back"        // things not as they were found
)

// Checks in the order of a debrief.
var Checks = []Check{CheckDecision, CheckWorst, CheckBaseline, CheckRead, CheckInventory, CheckLooked, CheckSaid, CheckWatched, CheckLeft, CheckOrder, CheckCOTime, CheckSafety, CheckPutBack}

// Title is what a debrief calls a check.
func (c Check) Title(l wording.Lang) string { return wording.Drill(l, "check."+string(c)) }

// Rubric is what is worth how much.
type Rubric struct {
	Name     string
	SHA256   string
	Criteria []Criterion
}

// Criterion of a rubric.
type Criterion struct {
	Check   Check
	Points  float64
	Within  float64 // amount of fault that costs nothing
	Lose    float64 // points for each unit beyond
	Explain string
	// ExplainES is Explain in Spanish; "" where the rubric has none.
	ExplainES string
}

// Why is the explanation in a language, as far as the rubric has it.
func (c Criterion) Why(l wording.Lang) string {
	if c.ExplainES != "" && wording.OnPaper(l) == wording.Spanish {
		return strings.TrimSpace(inLang(l, c.ExplainES))
	}
	return strings.TrimSpace(c.Explain)
}

// Score of an amount of fault: from Points down to 0.
func (c Criterion) Score(amount float64) float64 {
	if math.IsNaN(amount) {
		return 0
	}
	return max(0, c.Points-c.Lose*max(0, amount-c.Within))
}

type rubricYAML struct {
	Kind     string          `yaml:"kind"`
	Format   int             `yaml:"format"`
	Name     string          `yaml:"name"`
	Criteria []criterionYAML `yaml:"criteria"`
	Node     *yaml.Node      `yaml:"-"`
}

type criterionYAML struct {
	Check   string     `yaml:"check"`
	Points  *float64   `yaml:"points"`
	Within  *float64   `yaml:"within"`
	Lose    *float64   `yaml:"lose"`
	Explain string     `yaml:"explain"`
	ES      string     `yaml:"explain_es"`
	Node    *yaml.Node `yaml:"-"`
}

// ReadRubric reads a rubric. The error is a [strict.Problems].
func ReadRubric(file string, data []byte) (Rubric, error) {
	r := strict.Reader{File: file, What: "rubric", Begin: "begin with kind: rubric and format: 1", Max: 1 << 16}
	doc := r.Document(data)
	if doc == nil {
		return Rubric{}, r.Err()
	}
	var f rubricYAML
	r.Decode(doc, &f)
	if len(r.List) > 0 {
		return Rubric{}, r.Err()
	}
	if f.Kind != "rubric" {
		r.At(at(f.Node, "kind"), "kind: rubric", "kind is %q", f.Kind)
	}
	if f.Format != 1 {
		r.At(at(f.Node, "format"), "format: 1; a later format needs a newer program", "format is %d", f.Format)
	}
	if !nameForm().MatchString(f.Name) {
		r.At(at(f.Node, "name"), "use small letters, digits and hyphens, a letter first", "the name %q cannot be used", f.Name)
	}
	if len(f.Criteria) == 0 {
		r.At(at(f.Node, "criteria"), "add criteria: a list of checks with points", "no criteria")
	}
	out := Rubric{Name: f.Name, SHA256: hex.EncodeToString(sum(data))}
	seen := map[Check]bool{}
	for _, y := range f.Criteria {
		c := Check(y.Check)
		part := "criterion " + y.Check
		switch {
		case !slices.Contains(Checks, c):
			words := make([]string, len(Checks))
			for i, k := range Checks {
				words[i] = string(k)
			}
			r.At(at(y.Node, "check"), "one of "+strings.Join(words, ", "), "the check %q is not known", y.Check)
		case seen[c]:
			r.At(at(y.Node, "check"), "keep one of them", "the check %q stands twice", y.Check)
		}
		seen[c] = true
		number := func(key string, v *float64, most float64) float64 {
			switch {
			case v == nil:
				r.At(at(y.Node, key), "add "+key+": a number, 0 or more", "%s: %s missing", part, key)
				return 0
			case *v < 0 || *v > most:
				r.At(at(y.Node, key), "give 0 to "+short(most), "%s: %s %v is out of range", part, key, *v)
			}
			return *v
		}
		x := Criterion{Check: c, Points: number("points", y.Points, 1000), Within: number("within", y.Within, 1000), Lose: number("lose", y.Lose, 1000), Explain: y.Explain, ExplainES: y.ES}
		if strings.TrimSpace(y.Explain) == "" {
			r.At(at(y.Node, "explain"), "add explain: why it matters, in a sentence or two", "%s: explain missing", part)
		}
		out.Criteria = append(out.Criteria, x)
	}
	if err := r.Err(); err != nil {
		return Rubric{}, err
	}
	return out, nil
}
