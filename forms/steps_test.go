package forms

import "cazward/procedure"

// steps are one step for each form, with invented things in them.
var steps = map[procedure.Form]procedure.Step{
	procedure.FormText:      {ID: "address", Form: procedure.FormText},
	procedure.FormChoice:    {ID: "siting", Form: procedure.FormChoice, Choices: []string{"open", "closed", "none"}},
	procedure.FormChecklist: {ID: "look/wh", Form: procedure.FormChecklist, Items: items("look/wh/", "connected", "slope", "rust", "clearance", "hood", "cap")},
	procedure.FormGate:      {ID: "gate", Form: procedure.FormGate, Items: items("gate/", "alarm", "symptoms", "smell", "lel")},
	procedure.FormRoster: {ID: "fans", Form: procedure.FormRoster, Choices: []string{"bath-fan", "range-hood", "dryer"},
		Args: map[string]string{"name/bath-fan": "bath fan", "name/dryer": "dryer"}},
	procedure.FormFacts: {ID: "facts/wh", Form: procedure.FormFacts, Items: items("", "draft_hood", "vent_damper", "orphaned", "shares")},
	procedure.FormPick:  {ID: "partners/wh", Form: procedure.FormPick, Items: items("", "furnace-1", "boiler-1")},
	procedure.FormTable: {ID: "doors", Form: procedure.FormTable, Items: items("door/", "bedroom-1", "bedroom-2", "bath-1"), Choices: []string{"smoke-in", "smoke-out", "no-smoke"}},
	procedure.FormNumbers: {ID: "minutes", Form: procedure.FormNumbers, Unit: "min",
		Items: items("minutes/", "wh", "furnace")},
	procedure.FormNumber:   {ID: "volume", Form: procedure.FormNumber, Unit: "ft3", Args: map[string]string{"kind": "volume"}},
	procedure.FormBurner:   {ID: "burner/wh", Form: procedure.FormBurner},
	procedure.FormWeather:  {ID: "weather", Form: procedure.FormWeather},
	procedure.FormPressure: {ID: "baseline/z1", Form: procedure.FormPressure, Zone: "z1", Unit: "Pa", SetupN: 9, Args: map[string]string{"max_spread": "1", "instrument": "gauge"}},
	procedure.FormPairs:    {ID: "pairs/z1", Form: procedure.FormPairs, Zone: "z1", Unit: "Pa", SetupN: 9},
	procedure.FormGas:      {ID: "co/wh", Form: procedure.FormGas, Subject: "wh"},
	procedure.FormAmbient:  {ID: "ambient/1", Form: procedure.FormAmbient},
	procedure.FormClock:    {ID: "spill/wh", Form: procedure.FormClock, Subject: "wh", LimitS: 60},
	procedure.FormSetup: {ID: "held/z1", Form: procedure.FormSetup,
		Items: []procedure.Item{{Key: "bath-fan-1", Code: "fan-on", Name: "bath fan"}, {Key: "dryer-1", Code: "fan", Name: "dryer"}, {Key: "bedroom-1", Code: "door"}, {Key: "ah-1", Code: "air-handler"}},
		Setup: &procedure.Setup{Fans: []string{"bath-fan-1", "dryer-1"}, Doors: []string{"bedroom-1"}, AirHandler: []string{"ah-1"}, CAZDoor: "open"}},
	procedure.FormInstrument: {ID: "instrument/gauge", Form: procedure.FormInstrument},
	procedure.FormTold:       {ID: "told", Form: procedure.FormTold, Event: procedure.KindTold, Args: map[string]string{"what": "leave"}},
	procedure.FormDoubt:      {ID: "doubt/12", Form: procedure.FormDoubt, Event: procedure.KindDoubt, About: []int{12}, Args: map[string]string{"doubt": "rises"}},
	procedure.FormConfirm: {ID: "carried", Form: procedure.FormConfirm, Offer: []procedure.CarriedOne{
		{Step: "fans", Answer: procedure.Answer{Roster: &procedure.Roster{Items: []procedure.RosterItem{{ID: "dryer-1", Kind: "dryer", Name: "dryer"}}}}},
		{Step: "doors", Answer: procedure.Answer{Roster: &procedure.Roster{Items: []procedure.RosterItem{}}}}}},
}

func items(prefix string, codes ...string) []procedure.Item {
	out := make([]procedure.Item, len(codes))
	for i, c := range codes {
		out[i] = procedure.Item{Key: prefix + c, Code: c}
	}
	return out
}
