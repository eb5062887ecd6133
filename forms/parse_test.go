package forms

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"cazward/procedure"
)

// show prints entries as key=JSON, one after another.
func show(t *testing.T, entries []Entry) string {
	t.Helper()
	var parts []string
	for _, e := range entries {
		raw, err := json.Marshal(e.Data)
		if err != nil {
			t.Fatal(err)
		}
		parts = append(parts, fmt.Sprintf("%s %s=%s", e.Data.EventKind(), e.Key, raw))
	}
	return strings.Join(parts, " | ")
}

func TestParseKeeps(t *testing.T) {
	for _, c := range []struct {
		form procedure.Form
		text string
		want string
	}{
		{"text", " 14 Cedar Lane ", `answer address={"text":"14 Cedar Lane"}`},
		{"choice", "2", `answer siting={"choice":"closed"}`},
		{"checklist", "OK", `answer look/wh/connected={"seen":{"state":"ok"}} | answer look/wh/slope={"seen":{"state":"ok"}} | answer look/wh/rust={"seen":{"state":"ok"}} | answer look/wh/clearance={"seen":{"state":"ok"}} | answer look/wh/hood={"seen":{"state":"ok"}} | answer look/wh/cap={"seen":{"state":"ok"}}`},
		{"checklist", "2 ?3; 5: crushed at elbow", `answer look/wh/connected={"seen":{"state":"ok"}} | answer look/wh/slope={"seen":{"state":"wrong"}} | answer look/wh/rust={"seen":{"state":"not-seen"}} | answer look/wh/clearance={"seen":{"state":"ok"}} | answer look/wh/hood={"seen":{"state":"wrong","text":"crushed at elbow"}} | answer look/wh/cap={"seen":{"state":"ok"}}`},
		{"gate", "none", `answer gate/alarm={"seen":{"state":"ok"}} | answer gate/symptoms={"seen":{"state":"ok"}} | answer gate/smell={"seen":{"state":"ok"}} | answer gate/lel={"seen":{"state":"ok"}}`},
		{"gate", "3", `hazard gate={"code":"smell"} | answer gate/alarm={"seen":{"state":"ok"}} | answer gate/symptoms={"seen":{"state":"ok"}} | answer gate/smell={"seen":{"state":"wrong"}} | answer gate/lel={"seen":{"state":"ok"}}`},
		{"roster", "1 1 3", `answer fans={"roster":{"items":[{"id":"bath-fan-1","kind":"bath-fan","name":"bath fan"},{"id":"bath-fan-2","kind":"bath-fan","name":"bath fan 2"},{"id":"dryer-1","kind":"dryer","name":"dryer"}]}}`},
		{"roster", "2", `answer fans={"roster":{"items":[{"id":"range-hood-1","kind":"range-hood","name":"range-hood"}]}}`},
		{"roster", "none", `answer fans={"roster":{"items":[]}}`},
		{"facts", "1 ?3", `answer facts/wh={"vent_facts":{"draft_hood":"yes","vent_damper":"no","shares":"no"}}`},
		{"facts", "none", `answer facts/wh={"vent_facts":{"draft_hood":"no","vent_damper":"no","orphaned":"no","shares":"no"}}`},
		{"pick", "2", `answer partners/wh={"names":{"ids":["boiler-1"]}}`},
		{"pick", "none", `answer partners/wh={"names":{"ids":[]}}`},
		{"table", "13?", `answer door/bedroom-1={"choice":"smoke-in"} | answer door/bedroom-2={"choice":"no-smoke"} | answer door/bath-1={"seen":{"state":"not-seen"}}`},
		{"table", "1 3 2", `answer door/bedroom-1={"choice":"smoke-in"} | answer door/bedroom-2={"choice":"no-smoke"} | answer door/bath-1={"choice":"smoke-out"}`},
		{"numbers", "30 ?", `answer minutes/wh={"number":{"value":30,"unit":"min"}} | answer minutes/furnace={"number":{"value":null}}`},
		{"number", "1200", `answer volume={"number":{"value":1200,"unit":"ft3"}}`},
		{"number", "34 m3", `answer volume={"number":{"value":34,"unit":"m3"}}`},
		{"number", "?", `answer volume={"number":{"value":null}}`},
		{"burner", "1 40000", `answer burner/wh={"burner":{"fuel":"gas","input":40000,"unit":"Btu/h"}}`},
		{"burner", "1 40k", `answer burner/wh={"burner":{"fuel":"gas","input":40000,"unit":"Btu/h"}}`},
		{"burner", "3 22 kW", `answer burner/wh={"burner":{"fuel":"oil","input":22,"unit":"kW"}}`},
		{"burner", "? ?", `answer burner/wh={"burner":{}}`},
		{"burner", "4", `answer burner/wh={"burner":{"fuel":"electric"}}`},
		{"weather", "6 34", `answer weather={"weather":{"wind":6,"wind_unit":"mph","temp":34,"temp_unit":"F"}}`},
		{"weather", "10 km/h 2 C", `answer weather={"weather":{"wind":10,"wind_unit":"km/h","temp":2,"temp_unit":"C"}}`},
		{"weather", "10km/h -2C", `answer weather={"weather":{"wind":10,"wind_unit":"km/h","temp":-2,"temp_unit":"C"}}`},
		{"pressure", "-0.8 -1.1 -0.9", `answer baseline/z1={"pressure":{"samples":[-0.8,-1.1,-0.9],"unit":"Pa","instrument":"gauge","setup":9}}`},
		{"pressure", "-1.0 30s", `answer baseline/z1={"pressure":{"value":-1,"unit":"Pa","averaging_s":30,"instrument":"gauge","setup":9}}`},
		{"pressure", "-0.01 inH2O 1 min", `answer baseline/z1={"pressure":{"value":-0.01,"unit":"inH2O","averaging_s":60,"instrument":"gauge","setup":9}}`},
		{"pressure", "0", `answer baseline/z1={"pressure":{"value":0,"unit":"Pa","instrument":"gauge","setup":9}}`},
		{"pairs", "-0.5 -3.1 -0.4 -3.2 -0.6 -3.0", `answer pairs/z1={"pairs":{"off":[-0.5,-0.4,-0.6],"on":[-3.1,-3.2,-3],"unit":"Pa","setup":9}}`},
		{"gas", "12 6.5", `answer co/wh={"gas":{"co_ppm":[12],"o2_pct":[6.5]}}`},
		{"gas", "12 6.5 15 7 r", `answer co/wh={"gas":{"co_ppm":[12,15],"o2_pct":[6.5,7],"rising":true}}`},
		{"gas", "12", `answer co/wh={"gas":{"co_ppm":[12]}}`},
		{"gas", "over", `answer co/wh={"gas":{"co_ppm":[],"over_range":true}}`},
		{"gas", "over 8", `answer co/wh={"gas":{"co_ppm":[],"over_range":true}}`},
		{"gas", "over 8 12 ?", `answer co/wh={"gas":{"co_ppm":[12],"o2_pct":[null],"over_range":true}}`},
		{"gas", "12 ppm 6.5 %", `answer co/wh={"gas":{"co_ppm":[12],"o2_pct":[6.5]}}`},
		{"ambient", "4", `answer ambient/1={"gas":{"co_ppm":[4]}}`},
		{"ambient", "5000", `answer ambient/1={"gas":{"co_ppm":[5000]}}`},
		{"ambient", "over", `answer ambient/1={"gas":{"co_ppm":[],"over_range":true}}`},
		{"clock", "37s", `answer spill/wh={"spill":{"outcome":"stopped","seconds":37}}`},
		{"clock", "1:05", `answer spill/wh={"spill":{"outcome":"stopped","seconds":65}}`},
		{"clock", "none", `answer spill/wh={"spill":{"outcome":"none","seconds":0}}`},
		{"clock", "still 60s", `answer spill/wh={"spill":{"outcome":"still","seconds":60}}`},
		{"setup", "ok", `setup held/z1={"fans_on":["bath-fan-1","dryer-1"],"doors_closed":["bedroom-1"],"air_handler":["ah-1"],"caz_door":"open"}`},
		{"setup", "2", `setup held/z1={"fans_on":["bath-fan-1"],"doors_closed":["bedroom-1"],"air_handler":["ah-1"],"caz_door":"open","not_run":["dryer-1"]}`},
		{"instrument", "Gauge A", `answer instrument/gauge={"instrument":{"id":"gauge","name":"Gauge A"}}`},
		{"instrument", "Gauge A; 1234; 2026-03-01; 0.1", `answer instrument/gauge={"instrument":{"id":"gauge","name":"Gauge A","serial":"1234","calibrated":"2026-03-01","resolution_pa":0.1}}`},
		{"instrument", "Gauge A; ; ; ; 0.25; 1%", `answer instrument/gauge={"instrument":{"id":"gauge","name":"Gauge A","accuracy_pa":0.25,"accuracy_pct":1}}`},
		{"told", "owner; in person", `told told={"whom":"owner","what":"leave","how":"in person"}`},
		{"doubt", "r", `doubt doubt/12={"code":"rises","about":[12],"settled":"retake"}`},
		{"doubt", "ok both hose ends", `doubt doubt/12={"code":"rises","about":[12],"settled":"stands","how":"both hose ends"}`},
		{"doubt", "k", `doubt doubt/12={"code":"rises","about":[12],"settled":"left"}`},
		{"confirm", "1", `answer fans={"roster":{"items":[{"id":"dryer-1","kind":"dryer","name":"dryer"}]}} | answer doors={"roster":{"items":[]}}`},
		{"confirm", "2", `answer carried={"choice":"changed"}`},
	} {
		got, err := Parse(steps[c.form], c.text, ParseContext{})
		if err != nil {
			t.Errorf("%s %q: refused: %v", c.form, c.text, err)
			continue
		}
		if s := show(t, got); s != c.want {
			t.Errorf("%s %q:\n got %s\nwant %s", c.form, c.text, s, c.want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		form procedure.Form
		text string
		want string
	}{
		{"pressure", "3.2", "NOT KEPT  3.2 has no sign. Zone lower than outdoors: -3.2. Higher: +3.2."},
		{"pressure", "-35", "NOT KEPT  -35 is far outside what a zone reads. -3.5? If it is right, type -35 again."},
		{"pressure", "-0.9 -35 -1.1", "NOT KEPT  -35 is far outside what a zone reads. -3.5? If it is right, type the line again."},
		{"pressure", "-3500", "NOT KEPT  -3500 is far outside what a zone reads. If it is right, type -3500 again."},
		{"pressure", "+40", "NOT KEPT  +40 is far outside what a zone reads. +4? If it is right, type +40 again."},
		{"pressure", "-3,2", `NOT KEPT  "-3,2": use a point, -3.2. Several values: spaces between them.`},
		{"pressure", "-1.0,-1.2", `NOT KEPT  "-1.0,-1.2": spaces between values: -1.0 -1.2.`},
		{"pressure", "-0/9", `NOT KEPT  "-0/9" is not a plain number. Type values with signs: -0.8 -1.1. Or one and its seconds: -1.0 30s.`},
		{"pressure", "-1.0 -1.1 30s", "NOT KEPT  30s belongs to one averaged value. Several values: no seconds."},
		{"pressure", "ok", `NOT KEPT  "ok" is not a plain number. Type values with signs: -0.8 -1.1. Or one and its seconds: -1.0 30s.`},
		{"pressure", "-3 ppm", "NOT KEPT  ppm measures something else; wanted is Pa."},
		{"pairs", "-0.5 -3.1 -0.4 -3.2", "NOT KEPT  2 pairs: three or more are needed."},
		{"pairs", "-0.5 -3.1 -0.4", "NOT KEPT  3 values: off and on come in pairs."},
		{"pairs", "-0.5 30s", "NOT KEPT  no seconds here: off, on, off, on ..., each with its sign."},
		{"pairs", "-0.5 3.1", "NOT KEPT  3.1 has no sign. Zone lower than outdoors: -3.1. Higher: +3.1."},
		{"choice", "open", `NOT KEPT  "open" is not an answer here. Type a number, 1 to 3.`},
		{"choice", "4", "NOT KEPT  4 is not on the list: 1 to 3."},
		{"choice", "0", "NOT KEPT  0 is not on the list: 1 to 3."},
		{"choice", "1 2", `NOT KEPT  "1 2" is not an answer here. Type a number, 1 to 3.`},
		{"checklist", "fine", `NOT KEPT  "fine" is not an answer here. Type ok, or the numbers that are wrong: 2 5 ?3.`},
		{"checklist", "none", `NOT KEPT  "none" is not an answer here. Type ok, or the numbers that are wrong: 2 5 ?3.`},
		{"checklist", "ok 2", `NOT KEPT  "ok" and "none" stand alone. Type ok, or the numbers that are wrong: 2 5 ?3.`},
		{"checklist", "2,5", `NOT KEPT  "2,5": spaces between numbers: 2 5.`},
		{"checklist", "2 ?2", "NOT KEPT  2 is there twice."},
		{"checklist", "7", "NOT KEPT  7 is not on the list: 1 to 6."},
		{"checklist", "2 5: rusty", "NOT KEPT  a text belongs to one number: 2; 5: rusty."},
		{"checklist", "2:", "NOT KEPT  after 2: comes what is wrong."},
		{"checklist", "2: crushed ?3", `NOT KEPT  is "?3" part of the text or of the list? Lists: 2: crushed; 5; ?3.`},
		{"checklist", "2: crushed 5", `NOT KEPT  is "5" part of the text or of the list? Lists: 2: crushed; 5; ?3.`},
		{"gate", "ok", `NOT KEPT  "ok" is not an answer here. Type none, or the numbers that are so.`},
		{"gate", "?2", `NOT KEPT  "?2" will not do here. Go and look; if it may be so, type its number.`},
		{"roster", "1 4", "NOT KEPT  4 is not on the list: 1 to 3."},
		{"facts", "yes", `NOT KEPT  "yes" is not an answer here. Type the numbers that are true, ?3 not known. Or none.`},
		{"table", "12", "NOT KEPT  2 given, 3 lines: one for each, ? for not known."},
		{"table", "1,2,3", "NOT KEPT  1 given, 3 lines: one for each, ? for not known."},
		{"table", "149", "NOT KEPT  4 is not on the list: 1 to 3."},
		{"numbers", "30", "NOT KEPT  1 given, 2 lines: one for each, ? for not known."},
		{"numbers", "30 -2", "NOT KEPT  -2 cannot be."},
		{"number", "1,200", `NOT KEPT  "1,200" can be read in two ways. Without the comma: 1200. A decimal: a point.`},
		{"number", "12 Pa", "NOT KEPT  Pa measures something else; wanted is ft3."},
		{"number", "1", "NOT KEPT  1 is far outside what is met here. If it is right, type 1 again."},
		{"burner", "1", "NOT KEPT  the input is missing: 1 40000, or 1 ? when it is not known."},
		{"burner", "1 0", "NOT KEPT  0 is no input. Not known: ?."},
		{"burner", "1 40,000", `NOT KEPT  "40,000" can be read in two ways. Without the comma: 40000. A decimal: a point.`},
		{"weather", "6", "NOT KEPT  wind and outdoor temperature are needed: 6 34."},
		{"weather", "10 km/h 2", "NOT KEPT  2 C or 2 F? Type it with its letter."},
		{"gas", "12 6.5 15", "NOT KEPT  each CO needs its O2: 12 6.5 15 7. Not read: ?."},
		{"gas", "12 65", "NOT KEPT  O2 65 % cannot be. CO first, then O2: 12 6.5."},
		{"gas", "over 80", "NOT KEPT  O2 80 % cannot be. CO first, then O2: 12 6.5."},
		{"gas", "-3", "NOT KEPT  -3 cannot be."},
		{"gas", "60000", "NOT KEPT  60000 ppm is far outside what is met here. If it is right, type 60000 again."},
		{"ambient", "low", `NOT KEPT  "low" is not a plain number. Type the ppm. Or over.`},
		{"clock", "12", "NOT KEPT  12 what? 12s if it is seconds. Ambient CO: /c 12."},
		{"clock", "still", "NOT KEPT  still spilling when the burner was cut, after how long? still 60s."},
		{"clock", "soon", `NOT KEPT  "soon" is not a plain number. Type 37s, none or still 60s.`},
		{"setup", "3", "NOT KEPT  3 is no fan here. Set the rest as listed, or say why with /k."},
		{"setup", "4", "NOT KEPT  4 is no fan here. Set the rest as listed, or say why with /k."},
		{"setup", "?1", `NOT KEPT  "?1" will not do here. Go and look; if it may be so, type its number.`},
		{"instrument", "Gauge A; 1; 03/01/2026", `NOT KEPT  "03/01/2026" is not a date of the form 2026-04-30.`},
		{"instrument", "Gauge A; 1; 2026-02-30", `NOT KEPT  "2026-02-30" is not a date of the form 2026-04-30.`},
		{"instrument", "; 1", "NOT KEPT  nothing was typed. Enter alone never means fine. Type name; serial; date; resolution (name is enough)."},
		{"told", "owner", "NOT KEPT  both are needed: who; how."},
		{"doubt", "ok", "NOT KEPT  ok needs what was looked at: ok hoses, both ends."},
		{"doubt", "fine", `NOT KEPT  "fine" is not an answer here. Type r, or ok and what was looked at, or k.`},
		{"confirm", "yes", `NOT KEPT  "yes" is not an answer here. Type 1 as before, or 2 changed.`},
		{"text", "a\x1b[2Jb", "NOT KEPT  a control character is in it. Type it again, without pasting."},
		{"text", "a\u202eb", "NOT KEPT  a control character is in it. Type it again, without pasting."},
		{"text", strings.Repeat("x", 501), "NOT KEPT  longer than 500 characters. Shorter, please."},
		{"text", "-", ""},
	} {
		got, err := Parse(steps[c.form], c.text, ParseContext{})
		if c.want == "" { // a dash is text where nothing may be left out
			if err != nil || got[0].Data.EventKind() != procedure.KindAnswer {
				t.Errorf("%s %q: got %v, %v", c.form, c.text, got, err)
			}
			continue
		}
		var r *Refusal
		if !errors.As(err, &r) {
			t.Errorf("%s %q: kept as %s, error %v", c.form, c.text, show(t, got), err)
			continue
		}
		if r.Text != c.want {
			t.Errorf("%s %q:\n got %s\nwant %s", c.form, c.text, r.Text, c.want)
		}
		if len(r.Text) > 2*56 {
			t.Errorf("%s %q: %d characters do not fit two lines of the narrow screen", c.form, c.text, len(r.Text))
		}
	}
}

// A draft has its own sense of the sign, and its own range.
func TestParseDraft(t *testing.T) {
	step := procedure.Step{ID: "draft/wh", Form: procedure.FormPressure, Subject: "wh", Unit: "Pa"}
	for text, want := range map[string]string{
		"3":    "NOT KEPT  3 has no sign. Vent lower than the zone: -3. Higher: +3.",
		"-120": "NOT KEPT  -120 is far outside what a draft reads. -12? If it is right, type -120 again.",
		"-35":  "NOT KEPT  -35 is far outside what a draft reads. -3.5? If it is right, type -35 again.",
	} {
		if _, err := Parse(step, text, ParseContext{}); err == nil || err.Error() != want {
			t.Errorf("%q: got %v, want %s", text, err, want)
		}
	}
	if got, err := Parse(step, "-35", ParseContext{Twice: true}); err != nil || *got[0].Data.(*procedure.Answer).Pressure.Value != -35 {
		t.Errorf("a draft of -35 Pa, typed twice: %v, %v", got, err)
	}
}

func TestParseTwice(t *testing.T) {
	got, err := Parse(steps["pressure"], "-35", ParseContext{Twice: true})
	if err != nil || *got[0].Data.(*procedure.Answer).Pressure.Value != -35 {
		t.Errorf("typed twice: got %v, %v", got, err)
	}
	// The second time lifts the question, never the rule of the sign.
	if _, err := Parse(steps["pressure"], "35", ParseContext{Twice: true}); err == nil {
		t.Error("35 without a sign was kept the second time")
	}
}

func TestParseNeeds(t *testing.T) {
	step := steps["pressure"]
	step.Args = map[string]string{"min_samples": "5", "min_averaging_s": "10"}
	for text, want := range map[string]string{
		"-1":       "NOT KEPT  one value without its seconds: -1.0 30s. Or 5 values or more.",
		"-1 -1 -1": "NOT KEPT  3 given, 5 or more are needed. Or one averaged value and its seconds: -1.0 30s.",
		"-1 5s":    "NOT KEPT  5 s is too short: 10 s or longer, or several values.",
	} {
		if _, err := Parse(step, text, ParseContext{}); err == nil || err.Error() != want {
			t.Errorf("%q: got %v, want %s", text, err, want)
		}
	}
	for _, text := range []string{"-1 10s", "-1 -1 -1 -1 -1.2"} {
		if _, err := Parse(step, text, ParseContext{}); err != nil {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// TestEnterIsNeverFine: no form takes Enter, blanks, or a dash for an answer
// unless the step is wanted, and then a dash is a skip and never an answer.
func TestEnterIsNeverFine(t *testing.T) {
	for form, step := range steps {
		for _, text := range []string{"", " ", "\u00a0"} {
			got, err := Parse(step, text, ParseContext{Twice: true})
			var r *Refusal
			if !errors.As(err, &r) || r.Code != "empty" || !strings.Contains(r.Text, "Enter alone never means fine") {
				t.Errorf("%s %q: got %v, %v", form, text, got, err)
			}
		}
		step.Wanted = true
		if _, err := Parse(step, "", ParseContext{}); err == nil {
			t.Errorf("%s: a wanted step took Enter", form)
		}
		got, err := Parse(step, "-", ParseContext{})
		if err != nil || len(got) != len(step.Keys()) {
			t.Errorf("%s wanted, dash: got %v, %v", form, got, err)
			continue
		}
		for i, e := range got {
			if s, ok := e.Data.(*procedure.Skip); !ok || s.Reason != procedure.SkipNotWanted || e.Key != step.Keys()[i] {
				t.Errorf("%s wanted, dash: %s %#v", form, e.Key, e.Data)
			}
		}
		if back := Typed(step, got[0].Data); back != "-" {
			t.Errorf("%s: a skip types as %q", form, back)
		}
	}
}

// TestControlCharactersNeverPass, in any form, at any place of an answer
// that would be kept without them.
func TestControlCharactersNeverPass(t *testing.T) {
	good := map[procedure.Form]string{"text": "a b", "choice": "1", "checklist": "2: bent", "gate": "none", "roster": "1 2", "facts": "1", "pick": "1", "table": "123", "numbers": "1 2", "number": "1200", "burner": "1 40000", "weather": "6 34", "pressure": "-1 -2 -1", "pairs": "-1 -3 -1 -3 -1 -3", "gas": "12 6", "ambient": "4", "clock": "37s", "setup": "ok", "instrument": "a; b", "told": "a; b", "doubt": "ok seen", "confirm": "1"}
	for form, step := range steps {
		text, ok := good[form]
		if !ok {
			t.Errorf("no sample for %s", form)
			continue
		}
		if _, err := Parse(step, text, ParseContext{}); err != nil {
			t.Errorf("%s %q: %v", form, text, err)
		}
		for _, bad := range []string{"\x00", "\x1b", "\x07", "\t", "\n", "\r", "\x7f", "\u0085", "\u202e", "\u2066", "\u200b", "\ufeff", "\xff"} {
			for _, at := range []int{0, len(text) / 2, len(text)} {
				if got, err := Parse(step, text[:at]+bad+text[at:], ParseContext{}); err == nil {
					t.Errorf("%s: %q was kept as %s", form, text[:at]+bad+text[at:], show(t, got))
				}
			}
		}
	}
}

// The gas detector's reading takes the same form, in percent of LEL.
func TestAmbientLEL(t *testing.T) {
	step := procedure.Step{ID: "arrive/lel", Form: procedure.FormAmbient, Unit: "%"}
	if got, err := Parse(step, "12 %", ParseContext{}); err != nil || show(t, got) != `answer arrive/lel={"gas":{"co_ppm":[12]}}` {
		t.Errorf("got %v, %v", got, err)
	}
	if _, err := Parse(step, "12 ppm", ParseContext{}); err == nil {
		t.Error("ppm was taken for percent of LEL")
	}
	if s := ReadAs(step, "12"); s != "12 % of LEL" {
		t.Errorf("read as %q", s)
	}
}

func TestConfirmNothing(t *testing.T) {
	got, err := Parse(procedure.Step{ID: "confirm", Form: procedure.FormConfirm}, "1", ParseContext{})
	if err != nil || show(t, got) != `answer confirm={"choice":"as-before"}` {
		t.Errorf("got %v, %v", got, err)
	}
}

func TestClockTimed(t *testing.T) {
	got, err := Parse(steps["clock"], "37.4s", ParseContext{Timed: true})
	if err != nil || !got[0].Data.(*procedure.Answer).Spill.Timed {
		t.Errorf("got %v, %v", got, err)
	}
}

// identity: what Parse kept types back to a text that parses to the same.
func identity(t *testing.T, step procedure.Step, text string, got []Entry) {
	t.Helper()
	var data []procedure.Data
	for _, e := range got {
		data = append(data, e.Data)
	}
	back := Typed(step, data...)
	again, err := Parse(step, back, ParseContext{Twice: true})
	if err != nil {
		t.Fatalf("%s %q types as %q, which is refused: %v", step.Form, text, back, err)
	}
	if !reflect.DeepEqual(got, again) {
		t.Fatalf("%s %q types as %q, which is not the same:\n%s\n%s", step.Form, text, back, show(t, got), show(t, again))
	}
}

var seeds = []string{"ok", "none", "-", "?", "1", "2 5", "?3", "2 ?3", "2: crushed at elbow; ?3", "1 1 3", "13?", "1 3 2", "30 ?", "40k", "1 40000", "? ?", "4", "3 22 kW", "6 34", "10 km/h 2 C", "-0.8 -1.1 -0.9", "-1.0 30s", "-0.01 inH2O 1 min", "+3.25", "-0.5 -3.1 -0.4 -3.2 -0.6 -3.0 psf", "12 6.5", "12 6.5 15 7 r", "over", "over 8 r", "over 8 12 ? over", "12 ? 13 5", "37s", "1:05", "still 60s", "none", "0s", "Gauge A; 1234; 2026-03-01; 0.1; 0.5; 1%", "owner; in person; twice", "r", "ok both ends", "k", "Señora Núñez", "3.2", "-3,2", "-35", "1e5", "0x1F"}

func TestTypedIdentity(t *testing.T) {
	kept := map[procedure.Form]int{}
	for form, step := range steps {
		for _, text := range seeds {
			got, err := Parse(step, text, ParseContext{Twice: true})
			if err != nil {
				continue
			}
			kept[form]++
			identity(t, step, text, got)
		}
	}
	for form := range steps {
		if kept[form] == 0 {
			t.Errorf("%s: no seed was kept, so nothing was tested", form)
		}
	}
}

func TestTypedOldValue(t *testing.T) {
	for _, c := range []struct {
		form procedure.Form
		text string
		want string
	}{
		{"pressure", "-1.0 30s", "-1.0 30s"},
		{"pressure", "+0.8 -1.1 0", "+0.8 -1.1 0.0"},
		{"pressure", "-0.01 inH2O", "-0.01 inH2O"},
		{"weather", "6 34", "6 34 F"},
		{"checklist", "?3; 2: bent", "2: bent; ?3"},
		{"gas", "over 8 12 6", "12 6 over"},
	} {
		got, err := Parse(steps[c.form], c.text, ParseContext{})
		if err != nil {
			t.Fatal(err)
		}
		var data []procedure.Data
		for _, e := range got {
			data = append(data, e.Data)
		}
		if s := Typed(steps[c.form], data...); s != c.want {
			t.Errorf("%s %q: got %q, want %q", c.form, c.text, s, c.want)
		}
	}
}

func FuzzParse(f *testing.F) {
	var forms []procedure.Form
	for _, form := range []procedure.Form{"text", "choice", "checklist", "gate", "roster", "facts", "pick", "table", "numbers", "number", "burner", "weather", "pressure", "pairs", "gas", "ambient", "clock", "setup", "instrument", "told", "doubt", "confirm"} {
		if _, ok := steps[form]; !ok {
			f.Fatalf("no step for %s", form)
		}
		forms = append(forms, form)
	}
	for i := range forms {
		for _, s := range seeds {
			f.Add(uint8(i), s)
		}
	}
	f.Fuzz(func(t *testing.T, which uint8, text string) {
		step := steps[forms[int(which)%len(forms)]]
		got, err := Parse(step, text, ParseContext{Twice: true})
		_ = ReadAs(step, text)
		if err != nil {
			var r *Refusal
			if !errors.As(err, &r) {
				t.Fatalf("%s %q: not a refusal: %v", step.Form, text, err)
			}
			if len(got) != 0 || !strings.HasPrefix(r.Text, "NOT KEPT  ") || strings.ContainsFunc(r.Text, Hidden) {
				t.Fatalf("%s %q: %q with %v", step.Form, text, r.Text, got)
			}
			return
		}
		if strings.TrimSpace(text) == "" || strings.ContainsFunc(text, Hidden) || len(got) == 0 {
			t.Fatalf("%s %q was kept as %s", step.Form, text, show(t, got))
		}
		identity(t, step, text, got)
	})
}

func TestReadAs(t *testing.T) {
	for _, c := range []struct {
		form procedure.Form
		text string
		want string
	}{
		{"pressure", "-0.8 -1.1 -0.9 -1.0 -0.9", "5 values, mean -0.9, spread 0.3: steady"},
		{"pressure", "-0.8 -3.1", "2 values, mean -2.0, spread 2.3: not steady"},
		{"pressure", "-1 30s", "-1.0 Pa, averaged over 30 s"},
		{"pressure", "-0.01 inH2O", "-2.5 Pa, one value"},
		{"pressure", "3", ""},
		{"pressure", "-35", "-35.0 Pa, one value"},
		{"pairs", "-0.5 -3.1 -0.4 -3.2 -0.6 -3.0", "3 pairs, on minus off: mean -2.6 Pa, spread 0.4"},
		{"checklist", "ok", "all 6 seen and in order"},
		{"checklist", "2 ?3", "wrong: 2; not seen: 3; the other 4 in order"},
		{"gate", "none", "none of the 4"},
		{"roster", "1 1 3", "3: bath fan, bath fan 2, dryer"},
		{"gas", "12 6.5", "CO 12 ppm, O2 6.5 %"},
		{"gas", "over", "above the analyser's range"},
		{"clock", "37s", "drawn in after 37 s"},
		{"weather", "6 34", "wind 6 mph, outdoors 34 F"},
		{"burner", "1 40k", "natural gas, 40000 Btu/h"},
		{"number", "?", "not known"},
		{"setup", "2", "set as listed, not running: dryer"},
	} {
		if got := ReadAs(steps[c.form], c.text); got != c.want {
			t.Errorf("%s %q: got %q, want %q", c.form, c.text, got, c.want)
		}
	}
	if got, want := ReadAsWithin(steps["pressure"], "-0.8 -1.1 -0.9 -1.0 -0.9", 66), "5 values, mean -0.9, spread 0.3 Pa: steady (1.0 or less is)"; got != want {
		t.Errorf("wide: got %q, want %q", got, want)
	}
}

func TestParseControl(t *testing.T) {
	for _, c := range []struct {
		line    string
		control byte
		arg     string
		text    string
		is, bad bool
	}{
		{line: "/b", control: 'b', is: true},
		{line: "/c 12", control: 'c', arg: "12", is: true},
		{line: "/c12", control: 'c', arg: "12", is: true},
		{line: "/N loose pipe", control: 'n', arg: "loose pipe", is: true},
		{line: "/!", control: '!', is: true},
		{line: "/", control: '/', is: true},
		{line: "//b", text: "/b"},
		{line: "-0/9", text: "-0/9"},
		{line: "/back", is: true, bad: true},
		{line: "/z", is: true, bad: true},
	} {
		r, is, err := ParseControl(c.line)
		if is != c.is || (err != nil) != c.bad || r.Control != c.control || r.Arg != c.arg || (!is && r.Text != c.text) {
			t.Errorf("%q: got %+v, %v, %v", c.line, r, is, err)
		}
	}
}

func TestStopScreen(t *testing.T) {
	lines := []string{"############################### DANGER ###############################", " EVERYONE OUT NOW. LEAVE THIS COMPUTER. Leave the door open.", "Ambient CO 78 ppm. Call from outside. Nobody goes back in.", "######"}
	want := `############################### DANGER ###############################
 EVERYONE OUT NOW. LEAVE THIS COMPUTER. Leave the door open.
 Ambient CO 78 ppm. Call from outside. Nobody goes back in.
######################################################################`
	if got := strings.Join(StopScreen(lines, 80), "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	for _, width := range []int{60, 40, 25} {
		got := StopScreen(lines, width)
		if all := strings.Join(got, " "); !strings.Contains(all, "Nobody") || !strings.Contains(all, "COMPUTER.") {
			t.Errorf("%d: words are lost:\n%s", width, strings.Join(got, "\n"))
		}
		for _, l := range got {
			if len(l) > width-1 {
				t.Errorf("%d columns: %q", width, l)
			}
		}
	}
}
