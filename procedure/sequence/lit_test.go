package sequence_test

import (
	"strings"
	"testing"

	"cazward/procedure"
)

// lit are the steps at which a burner burns, of those asked.
func lit(w *walk) string {
	var out []string
	for _, s := range w.Asked {
		stem, _, _ := strings.Cut(s.ID, "/")
		if s.Form == procedure.FormClock || stem == "together" || stem == "co" {
			out = append(out, s.ID)
		}
	}
	return strings.Join(out, " ")
}

// Deserves no light-off at all: the fuel piping leaks, and each burner that it
// feeds is fuel-off by the same finding. The walk lights every one of them in
// the house pulled down; a leak at the appliance itself it does not light.
func TestAdversaryLitWithLeakingPiping(t *testing.T) {
	w := begin(t, "look/house=1", "told=occupant; in person")
	w.To("")
	if x := lit(w); x != "" {
		t.Errorf("with a leak on the piping it asks %s", x)
	}
}

// Deserves no second fire: flame rolled out, the flame changed, or fuel leaked,
// at which burner nobody saw. Each is off by the judgement, which takes it for
// any of them; the walk lights them all, and again together.
func TestAdversaryLitAfterUnplacedHazard(t *testing.T) {
	for _, c := range []procedure.HazardCode{procedure.Rollout, procedure.FlameChange, procedure.Leak} {
		w := begin(t, "told=occupant; in person")
		w.To("draft/water-heater-1")
		w.Do("draft/water-heater-1", &procedure.Hazard{Code: c, Where: "basement"})
		w.Asked = nil
		w.To("")
		if x := lit(w); x != "" {
			t.Errorf("after %s it asks %s", c, x)
		}
	}
}

// Deserves no second fire: 33 ppm in the room while it burned, and no other
// source was found. It is off until serviced by the judgement.
func TestAdversaryRelitAfterAmbientNotFound(t *testing.T) {
	w := begin(t, "ambient/water-heater-1=33", "source=5", "settled=1", "aired=1", "spill/water-heater-1=70s", "spill/water-heater-1/natural=20s")
	w.To("ambient/water-heater-1")
	relit(t, w, "water-heater-1")
}

// Deserves fuel off and no second fire: over 400 ppm with spillage. The sample
// was diluted, so there was more, and its doubt asks for another; the spillage
// is then corrected from never in 90 s to never in 95 s, which fails as before.
func TestAdversaryEmergencyForgottenByCorrection(t *testing.T) {
	w := begin(t, "spill/water-heater-1=still 90s", "co/water-heater-1=450 17", "doubt=r")
	w.To("doubt/diluted/co/water-heater-1")
	_, n, _ := w.State.Fact("co/water-heater-1")
	w.Do("co/water-heater-1", &procedure.Doubt{Code: procedure.DoubtDiluted, About: []int{n}, Settled: "retake"})
	w.Correct("spill/water-heater-1", "still 95s")
	w.Answers["co/water-heater-1"], w.Answers["spill/water-heater-1/natural"] = "12 7", "20s"
	relit(t, w, "water-heater-1")
}

// Deserves the water heater first: the plate of an oil burner says gallons an
// hour, that of some gas burners thousands of Btu; "3 0.85" or "1 80" is no
// input in Btu/h, and taken as one it puts the large burner first on the vent.
func TestAdversaryInputInGallons(t *testing.T) {
	for _, text := range []string{"3 0.85", "1 80"} {
		w := begin(t)
		w.To("appliance/furnace-1/burner")
		step, _ := w.State.Next()
		w.Answers[step.ID] = text
		if w.Answer(step) != nil {
			continue // refused: it asks for the unit
		}
		w.Answers["breech/furnace-1"] = "-5"
		w.To("spill/furnace-1")
		if !w.State.Has("spill/water-heater-1") {
			t.Errorf("%q: the furnace is lit before the water heater on its vent", text)
		}
	}
}
