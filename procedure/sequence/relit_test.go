package sequence_test

import (
	"slices"
	"testing"
	"time"

	"cazward/procedure"
)

// relit are the steps from here on at which the appliance burns at worst case.
func relit(t *testing.T, w *walk, id string) {
	t.Helper()
	w.Asked = nil
	w.To("")
	for _, s := range w.Asked {
		for _, k := range append(s.Keys(), s.ID) {
			if slices.Contains([]string{"spill/" + id, "draft/" + id, "co/" + id, "together/" + id, "spill/" + id + "/natural"}, k) {
				t.Errorf("%s is asked: the burner is lit again", k)
			}
		}
	}
}

// Deserves fuel off and no second fire: over 400 ppm with spillage, yet all on
// the vent are to be lit together.
func TestAdversaryEmergencyLitTogether(t *testing.T) {
	w := begin(t, "spill/water-heater-1=still 90s", "co/water-heater-1=450 7")
	w.To("ambient/water-heater-1")
	relit(t, w, "water-heater-1")
}

// Deserves fuel off and no second fire: the same, after a list was corrected.
func TestAdversaryEmergencyLitAfterCorrection(t *testing.T) {
	w := begin(t, "spill/water-heater-1=still 90s", "co/water-heater-1=over")
	w.To("ambient/water-heater-1")
	w.Correct("list/fans", "1 1 2 3")
	w.Answers["spill/water-heater-1"], w.Answers["co/water-heater-1"] = "20s", "12 7"
	relit(t, w, "water-heater-1")
}

// Deserves not to be fired again: the flame changed when the blower started, a
// possible crack, whatever list is corrected after that.
func TestAdversaryFlameChangeRelit(t *testing.T) {
	w := begin(t, "flame/furnace-1=1")
	w.To("setup/basement-1/closing")
	w.Correct("list/fans", "1 1 2 3")
	relit(t, w, "furnace-1")
}

// Deserves fuel off, not fired again: the flame rolled out while its CO was
// read, after its blower had been seen.
func TestAdversaryRolloutRelit(t *testing.T) {
	w := begin(t)
	w.To("co/furnace-1")
	w.Do("co/furnace-1", &procedure.Hazard{Code: procedure.Rollout, Subject: "furnace-1"})
	w.To("setup/basement-1/closing")
	w.Correct("list/fans", "1 1 2 3")
	relit(t, w, "furnace-1")
}

// Deserves the held pressure again: nobody stops with burners on, so what is
// asked of a burner after a stop is another light-off, and the zone is read
// before every one.
func TestAdversaryRelitAfterStop(t *testing.T) {
	for _, at := range []string{"draft/furnace-1", "co/furnace-1", "together/furnace-1+water-heater-1"} {
		w := begin(t)
		w.To(at)
		w.Stop(14 * time.Hour)
		w.Asked = nil
		w.To(at)
		if !slices.ContainsFunc(w.Asked, func(s procedure.Step) bool { return s.Ask == "pressure.held" }) {
			t.Errorf("%s: lit again the next day without reading the zone", at)
		}
	}
}

// Deserves the smaller one first: an input that is not known must not put the
// furnace before the water heater on their vent, which it then finds warm.
func TestAdversaryUnknownInputLast(t *testing.T) {
	w := begin(t, "appliance/water-heater-1/burner=1 ?")
	w.To("")
	first := ""
	for _, s := range w.Asked {
		if s.Form == procedure.FormClock && first == "" {
			first = s.ID
		}
	}
	if first != "spill/water-heater-1" {
		t.Errorf("%s is lit first", first)
	}
}
