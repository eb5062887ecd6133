package sequence_test

import (
	"testing"
)

// Deserves fuel off and no second fire: over 400 ppm with spillage. Partners
// are corrected, which makes its spillage stale but not its CO; the CO is then
// corrected by 1 ppm. What it is remembered by must not go with that.
func TestLastEmergencyForgottenWhileVentingStale(t *testing.T) {
	w := begin(t, "spill/water-heater-1=still 90s", "co/water-heater-1=450 7")
	w.To("ambient/water-heater-1")
	w.Correct("appliance/water-heater-1/partners", "1 2")
	w.Correct("co/water-heater-1", "451 7")
	relit(t, w, "water-heater-1")
}

// Deserves off until serviced and no second fire: 33 ppm beside it, typed over
// with 12, which the judgement keeps as 33; it is named as the source.
func TestLastRelitAfterAmbientCorrected(t *testing.T) {
	w := begin(t, "ambient/water-heater-1=33", "settled=1", "aired=1")
	w.To("ambient/water-heater-1")
	step, _ := w.State.Next()
	if err := w.Answer(step); err != nil {
		t.Fatal(err)
	}
	w.Correct("ambient/water-heater-1", "12")
	w.Answers["ambient/water-heater-1"] = "2"
	step, _ = w.State.Next()
	for i, c := range step.Choices {
		if c == "water-heater-1" {
			w.Answers["source"] = string(rune('1' + i))
		}
	}
	w.Asked = nil
	relit(t, w, "water-heater-1")
}

// Deserves fuel off and no second fire: the outdoor temperature is corrected, by
// which the draft fails, with 450 ppm.
func TestLastDraftFailsByWeather(t *testing.T) {
	w := begin(t, "arrive/weather=5 70", "draft/water-heater-1=-2.0 -2.0 -2.1 -2.0 -2.0", "co/water-heater-1=450 7", "spill/water-heater-1=20s", "doubt=ok looked")
	w.To("ambient/water-heater-1")
	w.Correct("arrive/weather", "5 10")
	relit(t, w, "water-heater-1")
}

// The other way round: the temperature was mistyped, and there is no emergency
// once it is put right. CO alone holds then.
func TestLastEmergencyByMistypedWeather(t *testing.T) {
	w := begin(t, "arrive/weather=5 10", "draft/water-heater-1=-2.0 -2.0 -2.1 -2.0 -2.0", "co/water-heater-1=450 7", "spill/water-heater-1=20s", "doubt=ok looked")
	w.To("ambient/water-heater-1")
	w.Correct("arrive/weather", "5 70")
	w.To("")
	for _, a := range w.State.Observations().ApplObs {
		if a.ID == "water-heater-1" && a.NotFired == "co-emergency" {
			t.Errorf("still an emergency: %+v", a.Emergency)
		}
	}
}

// Deserves to stay: an appliance that was tested is not unseen by giving the
// list again outright instead of correcting it.
func TestLastListGivenAgain(t *testing.T) {
	w := begin(t, "spill/water-heater-1=still 90s")
	w.To("draft/furnace-1")
	if err := w.Try("list/appliances", w.Data("list/appliances", "1")); err == nil {
		for _, a := range w.State.Appliances() {
			if a.ID == "water-heater-1" {
				return
			}
		}
		t.Error("a tested water heater is gone from the list")
	}
}

// Deserves leave, and an answer that is taken: 450 ppm that vented well alone,
// and spills with both lit. The first line of the answer makes it an emergency;
// the screen must not vanish before its second line is kept.
func TestLastTogetherFailsAboveEmergency(t *testing.T) {
	for _, text := range []string{"1", "2", "1 2"} {
		for _, id := range []string{"water-heater-1", "furnace-1"} {
			w := begin(t, "co/"+id+"=450 7", "doubt=ok looked")
			w.To("together/furnace-1+water-heater-1")
			step, _ := w.State.Next()
			w.Answers[step.ID] = text
			if err := w.Answer(step); err != nil {
				t.Errorf("%s, %s: %v", id, text, err)
			}
		}
	}
}

// Deserves fuel off and no second fire: the breech draft that the maker asks
// for is corrected, by which the draft fails, with 450 ppm.
func TestLastDraftFailsByBreech(t *testing.T) {
	w := begin(t, "appliance/furnace-1/burner=3 100000", "breech/furnace-1=-2", "draft/furnace-1=-6.0 -6.0 -6.1 -6.0 -6.0", "co/furnace-1=450 7", "spill/furnace-1=20s", "doubt=ok looked")
	w.To("ambient/furnace-1")
	w.Correct("breech/furnace-1", "-15")
	w.Asked = nil
	for i := 0; i < 200; i++ {
		step, ok := w.State.Next()
		if !ok {
			break
		}
		if len(step.ID) > 8 && step.ID[:8] == "together" {
			for _, it := range step.Items {
				if it.Key == "together/furnace-1" {
					t.Fatal("the furnace is to be lit again")
				}
			}
		}
		if err := w.Answer(step); err != nil {
			t.Fatal(step.ID, err)
		}
	}
}

// Deserves fuel off and no second fire once both were seen: over 400 ppm in a
// sample that a list made stale, and spillage that fails when it is tried again;
// or the spillage stale and the CO new.
func TestLastEmergencyInTwoHalves(t *testing.T) {
	w := begin(t, "spill/water-heater-1=20s", "co/water-heater-1=450 7", "doubt=ok looked")
	w.To("ambient/water-heater-1")
	w.Correct("list/fans", "1 1 2 3")
	w.To("spill/water-heater-1")
	w.Do("spill/water-heater-1", w.Data("spill/water-heater-1", "still 90s"))
	t.Run("CO first", func(t *testing.T) { relit(t, w, "water-heater-1") })

	w = begin(t, "spill/water-heater-1=still 90s", "co/water-heater-1=20 7", "doubt=ok looked")
	w.To("ambient/water-heater-1")
	w.Correct("list/fans", "1 1 2 3")
	w.Answers["spill/water-heater-1"], w.Answers["co/water-heater-1"] = "20s", "450 7"
	w.To("ambient/water-heater-1")
	t.Run("spillage first", func(t *testing.T) { relit(t, w, "water-heater-1") })
}
