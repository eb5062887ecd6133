package terminal

import (
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/wording"
)

// The house and every figure here are invented.

var day = time.Date(2026, 4, 30, 10, 35, 0, 0, time.UTC)

type fakeClock struct {
	at   time.Time
	mono int64
}

func (c *fakeClock) Now() time.Time { return c.at }
func (c *fakeClock) Mono() int64    { return c.mono }
func (c *fakeClock) pass(d time.Duration) {
	c.at = c.at.Add(d)
	c.mono += d.Milliseconds()
}

func where(stage int, name string) forms.Where {
	return forms.Where{Stage: stage, Of: 16, Name: name, Phase: "test-in", Scheme: "graded, 2005/2015", SchemeID: "graded", Kept: 34,
		Mark: "DEMO HOUSE, INVENTED", MarkShort: "DEMO, INVENTED", Ambient: "2", AmbientAt: day.Add(-4 * time.Minute), AmbientOld: 2 * time.Minute}
}

func baseline() forms.View {
	return forms.View{
		Step: procedure.Step{ID: "baseline/z1", Form: procedure.FormPressure, Unit: "Pa", Zone: "z1", Args: map[string]string{"max_spread": "1"}},
		Words: wording.Screen{Title: "Baseline", Question: "What does the gauge read: this zone against outdoors?", Box: "Pa",
			How:      []string{"several values, or one and its seconds: -1.0 30s", "   minus: zone LOWER than outdoors    plus: higher"},
			Cautions: []wording.Caution{{Word: "NOTICE", Text: "No burner and no fan may run while you read this. If the water heater lights or a fan starts, wait until it stops, then read again."}},
			Why:      []string{"Wind and the stack make a pressure of their own.", "Without it a net is only a reading.", "Rule: graded, 2005/2015 (from memory).", "Evidence: from memory, not checked.", "It will change every net of this zone."}},
		Where:   where(6, "baseline"),
		House:   []string{"bath fan, hood, dryer OFF", "air handler OFF", "burners at pilot/off", "inside doors OPEN", "CAZ door OPEN", "windows, outside SHUT"},
		SoFar:   []string{"10:31  hose check ok", "10:33  wind 6 mph, 34 F out"},
		NetNote: "net none yet: it needs this baseline",
	}
}

func spillage() forms.View {
	w := where(12, "appliances")
	w.BurnersOn, w.Ambient, w.AmbientAt, w.Kept = true, "4", day.Add(-time.Minute), 71
	return forms.View{
		Step: procedure.Step{ID: "spill/wh", Form: procedure.FormClock, Subject: "wh", LimitS: 60, Burning: true, Held: true,
			Setup: &procedure.Setup{Fans: []string{"bath-fan-1", "range-hood-1", "dryer-1"}, Doors: []string{"bedroom-2", "bath-1"}, AirHandler: []string{"ah-1"}, CAZDoor: "open"}},
		Words: wording.Screen{Title: "Spillage", Question: "1 of 2: water heater, 40,000 Btu/h, vent cold",
			How: []string{"Smoke at draft hood. SPACE once drawn in and stays in."},
			Cautions: []wording.Caution{{Word: "WARNING", Text: "CO can fill this room. Stay, watch the meter. Vent is hot. Face out of line with the burner. " +
				"Above 35 ppm: burner, fans off, out. Alarm: OUT FIRST."}}},
		Where: w,
		House: []string{"bath fan, hood, dryer ON", "air handler ON", "CAZ door OPEN", "bedroom 2 and bath doors SHUT"},
		Held:  true,
		Ruler: &forms.Ruler{Net: -2.6, U: 0.5, Marks: []forms.Mark{{Letter: 'A', At: -3, Text: "both on one vent, -3.0 (from memory)", Side: procedure.SideTooClose}}},
		Clock: &forms.ClockView{},
	}
}

func running() forms.View {
	v := spillage()
	v.Clock = &forms.ClockView{Lit: day, Limit: 60}
	return v
}

func first() forms.View {
	return forms.View{
		Step: procedure.Step{ID: "first", Form: procedure.FormChoice, Choices: []string{"demo", "new", "go-on", "read"}},
		Words: wording.Screen{Title: "cazward", Question: "What do you want to do?", Box: "number, then Enter",
			Choices:  []string{"try it in an invented house with a simulated gauge", "test a real home", "go on with a home already begun (Cedar 14, 11:09)", "read what the test does, one page"},
			Cautions: []wording.Caution{{Word: "DANGER", Text: "CO alarm, or fuel smell: touch no switch, phone or flame inside. Everyone out, leave the door open, call from outside. Do not go back in."}}},
		Where: forms.Where{Mark: "works offline; nothing is sent anywhere"},
		Lines: []forms.Line{
			{Role: "text", Text: "Will every fuel-burning appliance still vent when this house pulls its hardest? cazward leads you through that test, one question at a time. It keeps every answer, does the arithmetic and writes the safety report."},
			{Role: "text", Text: ""},
			{Role: "text", Text: "You need   pressure gauge with hoses, combustion analyser, smoke, and a personal CO monitor: on, zeroed outdoors, worn near your face. 45 to 90 minutes. You can stop and go on later; answers are kept."},
			{Role: "text", Text: ""},
			{Role: "cautions"},
			{Role: "text", Text: ""},
			{Role: "text", Text: "cazward certifies nothing. Local code, the authority having jurisdiction and makers' instructions come first. Repairs: licensed or qualified people only."},
		},
	}
}

func decision() forms.View {
	w := where(16, "Cedar 14")
	return forms.View{
		Step:  procedure.Step{ID: "told/hold", Form: procedure.FormTold, Event: procedure.KindTold},
		Words: wording.Screen{Title: "Decision", Question: "Who was told, and how?"},
		Where: w,
		Lines: []forms.Line{
			{Role: "head", Text: "WARNING  DO NOT AIR-SEAL THIS HOUSE YET  hold"},
			{Role: "why", Text: "Water heater spilled past 60 s at worst case and again under natural conditions."},
			{Role: "why", Text: "One vent for both: net -2.6 Pa is too close to -3.0 to pass (give or take 0.5; from memory)."},
			{Role: "why", Text: "The furnace draft was not read, because its vent has no port and may not be drilled."},
			{Role: "do", Text: "Shut the water heater off. Tell the household."},
			{Role: "do", Text: "Licensed technician: vent, chimney, water heater."},
			{Role: "do", Text: "Test again before any sealing."},
			{Role: "holds", Text: "for the house and weather as tested. Local code and the authority come first. cazward certifies nothing."},
			{Role: "back", Text: "HOUSE PUT BACK 14 of 14     NOT TESTED none"},
		},
	}
}

func checklist() forms.View {
	words := []string{"vent connector joined, screwed", "rises all the way to chimney", "no rust, holes or crushing", "clear of wood and storage", "draft hood in place, straight", "no soot or scorch marks", "burner and pilot clean", "combustion air openings free", "no sign of rollout at burner"}
	v := forms.View{
		Step:  procedure.Step{ID: "look/wh", Form: procedure.FormChecklist},
		Words: wording.Screen{Title: "Look", Question: "Water heater: is each of these in order?", How: []string{"ok, or the numbers that are wrong: 2 5 ?3"}, Items: words},
		Where: where(3, "look"),
		SoFar: []string{"10:12  fans listed: 4", "10:15  furnace looked at"},
	}
	for i := range words {
		v.Step.Items = append(v.Step.Items, procedure.Item{Key: "look/wh/" + number(i+1), Code: number(i + 1)})
	}
	v.Words.Cautions = []wording.Caution{{Word: "CAUTION", Text: "Vents, draft hoods and burner plates are hot. Keep your face out of line with the burner."}}
	return v
}

func longCaution() forms.View {
	v := baseline()
	v.Words.Cautions = []wording.Caution{
		{Word: "DANGER", Text: "Fuel smell: touch no switch, phone, bell or flame inside. Everyone out, leave the door open. Call the fuel supplier or fire service from outside. Do not go back in until they say so."},
		{Word: "WARNING", Text: "No live fire, hot ash or embers. Damper and doors shut. No depressurization where friable asbestos or vermiculite is suspected. Sensitive occupants and pets warned or out. Never the whole-house fan. This is a long text on purpose, so that the narrow screen has to page it."},
	}
	return v
}

func fans() forms.View {
	v := forms.View{
		Step:  procedure.Step{ID: "list/appliances", Form: procedure.FormRoster},
		Words: wording.Screen{Title: "List", Question: "Which of these burn fuel in this house?", How: []string{"a number for each: 1 3 3, or none"}},
		Where: where(2, "list"),
	}
	for _, k := range procedure.ApplianceKinds {
		v.Step.Choices = append(v.Step.Choices, string(k))
		v.Words.Choices = append(v.Words.Choices, string(k))
	}
	return v
}

func doorTable() forms.View {
	v := baseline()
	v.Step = procedure.Step{ID: "doors/z1", Form: procedure.FormTable, Choices: []string{"smoke-in", "smoke-out"}}
	v.Words = wording.Screen{Title: "Doors", Question: "Smoke at each shut door: which way does it go?", Choices: []string{"into the room", "out of the room"},
		How: []string{"one digit for each door, in order: 1 2 2"}}
	for _, d := range []string{"bedroom", "bedroom 2", "bath", "laundry", "office over the garage, upstairs at the back", "stair"} {
		v.Step.Items = append(v.Step.Items, procedure.Item{Key: d, Code: d})
		v.Words.Items = append(v.Words.Items, d)
	}
	return v
}
