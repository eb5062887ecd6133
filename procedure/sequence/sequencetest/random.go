package sequencetest

import (
	"errors"
	"fmt"
	"math/rand"
	"strings"
	"testing"
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/sequence"
)

// RandomText is an answer to any step, good or bad by chance, so that many homes
// together meet all that a plan can ask.
func RandomText(r *rand.Rand, st procedure.Step) string {
	one := func(list ...string) string { return list[r.Intn(len(list))] }
	every := func(n int, text string) string { return strings.TrimSpace(strings.Repeat(text+" ", n)) }
	switch st.Form {
	case procedure.FormGate:
		return "none"
	case procedure.FormChecklist:
		if st.Stage == procedure.StageLook && r.Intn(6) == 0 || strings.HasPrefix(st.ID, "together/") && r.Intn(2) == 0 {
			return "1"
		}
		return "ok"
	case procedure.FormRoster:
		switch st.ID {
		case "list/appliances":
			return one("1 2 3 3 8 9 10 11", "1 1 3 12 13 15", "2 3 4 5 6 7 12", "3 1")
		case "list/zones":
			return one("1 2", "1 3 4", "1")
		case "list/fans":
			return one("1 1 2 3 5 10", "1 2 3", "3 2 6 12")
		case "list/doors":
			return one("1 1 2", "1 3")
		}
		return one("1", "1 1", "none")
	case procedure.FormChoice:
		switch {
		case st.Ask == "list.vent":
			return one("1", "1", "1", "2", "2", "3", "4", "7")
		case st.Ask == "settle":
			return "1"
		case st.Ask == "ambient.aired":
			// A house that was opened up is measured again under names that
			// hold the number of an event: paper cannot, and says so there.
			return "1"
		}
		return fmt.Sprint(1 + r.Intn(len(st.Choices)))
	case procedure.FormTable:
		return every(len(st.Items), fmt.Sprint(1+r.Intn(len(st.Choices))))
	case procedure.FormNumbers:
		return every(len(st.Items), "90")
	case procedure.FormNumber:
		if st.Ask == "list.cfm50" {
			return "2400"
		}
		return "-8"
	case procedure.FormFacts:
		return one("1 3", "1 2 3", "1", "1 3 7")
	case procedure.FormPick:
		return "1"
	case procedure.FormBurner:
		return one("1 40000", "2 80000", "3 100000")
	case procedure.FormWeather:
		return "5 20"
	case procedure.FormPressure:
		if strings.HasPrefix(st.Ask, "draft") {
			return one("-0.4 -0.5 -0.4 -0.5 -0.4", "-6.0 -6.1 -6.0 -6.1 -6.0")
		}
		v := -0.4 - r.Float64()*4
		if strings.HasPrefix(st.ID, "baseline/") {
			v = -0.4
		}
		return fmt.Sprintf("%.1f %.1f %.1f %.1f %.1f", v, v-0.1, v, v+0.1, v)
	case procedure.FormPairs:
		return "-0.4 -2.6 -0.5 -2.7 -0.4 -2.6"
	case procedure.FormGas:
		return "20 6.0"
	case procedure.FormAmbient:
		if st.Unit == "ppm" {
			return one("2", "2", "12")
		}
		return "0"
	case procedure.FormClock:
		return one("12s", "still 90s", "none")
	case procedure.FormSetup:
		return "ok"
	case procedure.FormInstrument:
		return "-"
	case procedure.FormTold:
		return "the owner; in person"
	case procedure.FormDoubt:
		return one("ok hoses looked at", "k")
	}
	return "x"
}

// soundText is the answer of a home with nothing wrong, where that can be told.
func soundText(st procedure.Step, text string) string {
	switch {
	case st.Form == procedure.FormChecklist:
		return "ok"
	case st.Form == procedure.FormClock:
		return "9s"
	case st.Form == procedure.FormDoubt:
		return "ok hoses looked at"
	case st.Form == procedure.FormAmbient && st.Unit == "ppm":
		return "2"
	case st.Form == procedure.FormGas:
		return "9 6.0"
	case st.Form == procedure.FormPressure && strings.HasPrefix(st.Ask, "draft"):
		return "-6.0 -6.1 -6.0 -6.1 -6.0"
	case st.Form == procedure.FormPressure && strings.HasPrefix(st.ID, "baseline/"):
		return "-0.4 -0.5 -0.4 -0.3 -0.4"
	case st.Form == procedure.FormPressure:
		return "-1.0 -1.1 -1.0 -0.9 -1.0"
	case st.Form == procedure.FormFacts && len(st.Items) > 6:
		return "1 3 7"
	case st.Ask == "list.home":
		return "1"
	case st.ID == "list/appliances":
		return map[bool]string{true: "1 3", false: "2 3 4"}[len(text)%2 == 0]
	case st.ID == "list/zones":
		return "1"
	case st.ID == "list/airhandlers":
		return "1"
	case st.Ask == "list.vent":
		return "1"
	}
	return text
}

// RandomHome walks a home whose inventory and readings are drawn from a seed to
// its end; what is refused is left out with a reason. A sound one has nothing
// wrong in it.
func RandomHome(t testing.TB, scheme string, phase procedure.Phase, seed int64, sound bool) *Walk {
	t.Helper()
	r := rand.New(rand.NewSource(seed))
	w := Begin(t, scheme, phase)
	for n := 0; n < 700; n++ {
		st, ok := w.State.Next()
		if !ok {
			return w
		}
		for _, c := range st.Choices {
			if st.Form == procedure.FormRoster { // the names of kinds, as the walk gives them
				st.Args["name/"+c] = c
			}
		}
		w.Asked = append(w.Asked, st)
		w.At = w.At.Add(time.Minute)
		text := RandomText(r, st)
		if sound {
			text = soundText(st, text)
		}
		en, err := forms.Parse(st, text, forms.ParseContext{Twice: true})
		if err == nil {
			var evs []procedure.Event
			for i, e := range en {
				key := e.Key
				if e.Data.EventKind() == procedure.KindDoubt {
					key = st.Args["key"]
				}
				evs = append(evs, w.event(key, i, e.Data))
			}
			err = w.Apply(evs)
		}
		var order *sequence.Refused
		var typed *forms.Refusal
		switch {
		case errors.As(err, &order), errors.As(err, &typed):
			for _, k := range st.Keys() {
				if err := w.Try(k, &procedure.Skip{Reason: procedure.SkipCannot}); err != nil {
					t.Fatalf("%s: %v", st.ID, err)
				}
			}
		case err != nil:
			t.Fatalf("%s: %v", st.ID, err)
		}
	}
	t.Fatalf("%s, seed %d: the walk does not end", scheme, seed)
	return nil
}
