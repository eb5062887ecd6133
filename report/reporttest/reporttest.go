// Package reporttest has hand-made inputs for the tests of the report forms.
// All homes, people and figures in it are invented.
package reporttest

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"strings"
	"time"

	"cazward/procedure"
	"cazward/procedure/reading"
	"cazward/report"
)

// Hash is a stand-in for a closing hash.
var Hash = strings.Repeat("0123456789abcdef", 4)

// Reason is the text of the accepted risk of [Hold], long enough to wrap.
const Reason = "the program's own written procedure keeps crews outdoors from 70 ppm on and lets one person with a supplied-air set go back to switch the source off"

// sheet gathers events and the observations that they give.
type sheet struct {
	in  report.Input
	at  time.Time
	who string
}

func begin(record, home string, phase procedure.Phase) *sheet {
	at := time.Date(2026, 11, 24, 9, 2, 0, 0, time.FixedZone("", -6*3600))
	s := &sheet{at: at, who: "R. Ode"}
	s.in.ProgramVersion = "0.0-test"
	s.in.Header = procedure.Header{Format: procedure.RecordFormat, V: 1, Record: record, Home: home, Phase: phase, Created: at}
	scheme := procedure.Ref{Name: "graded-2005", Title: "Invented graded scheme for tests", Edition: "2005/2015", Status: "superseded, still in use", SHA256: strings.Repeat("ab", 32)}
	s.in.Observations = procedure.Observations{Record: record, HomeID: home, Phase: phase, Plan: procedure.Plan{Scheme: scheme}, Tester: "R. Ode"}
	s.in.Judgement = procedure.Judgement{Phase: phase, Scheme: scheme}
	s.in.Observations.Plan.Draft = procedure.DraftPlan{Vents: []procedure.VentType{procedure.NaturalVent}}
	s.in.Observations.Plan.CO.Kinds = []procedure.ApplianceKind{procedure.WaterHeater, procedure.Furnace, procedure.Oven}
	book := procedure.SourceRef{Title: "Invented technical standard", Edition: "2005", Clause: "table 1"}
	common := procedure.Row{ID: "pa-common-natural", Source: book, Evidence: procedure.EvidenceMemory}
	own := procedure.Row{ID: "u-constants", Source: procedure.SourceRef{Title: "own rule"}, Evidence: procedure.EvidenceOwnRule}
	top := 100.0
	s.in.Rules = procedure.Rules{Scheme: scheme, PressureSet: true,
		Pressure: []procedure.Limit{{Row: common, Bound: procedure.Bound{Value: -3, Sense: procedure.AtLeast}, Unit: "Pa"}},
		Spillage: []procedure.Limit{{Row: procedure.Row{ID: "spill-60", Source: book, Evidence: procedure.EvidenceSecondary, Checked: &procedure.Checked{By: "M. Vale", Date: "2026-10-01", Edition: "2005"}},
			Bound: procedure.Bound{Value: 60, Sense: procedure.AtMost}, Unit: "s"}},
		Draft: procedure.DraftRule{Row: procedure.Row{ID: "draft-line", Source: book, Evidence: procedure.EvidenceMemory}, Set: true,
			Line: []procedure.DraftPoint{{TempF: 10, Pa: -2.5}, {TempF: 90, Pa: -0.5}}},
		Matrix: []procedure.MatrixRow{{Row: procedure.Row{ID: "co-26-100", Source: book, Evidence: procedure.EvidenceMemory}, Over: 25, UpTo: &top,
			Spillage: procedure.OutcomePass, Draft: procedure.OutcomePass, Decision: procedure.Refer}},
		Actions: []procedure.ActionRow{{Row: procedure.Row{ID: "look-soot", Source: procedure.SourceRef{Title: "common practice"}, Evidence: procedure.EvidencePractice, Edited: true, Note: "Kept stricter here."},
			Code: "soot", Decision: procedure.Refer}},
		Floor: []procedure.Tier{{Row: "floor-co-70", Code: procedure.AmbientCO, From: 70, Unit: "ppm", Act: procedure.ActOut, Source: "Invented annex, 2018, D.2", Evidence: procedure.EvidenceSeen},
			{Row: "floor-co-35", Code: procedure.AmbientCO, From: 35, Above: true, Unit: "ppm", Act: procedure.ActLeave, Source: "own rule", Evidence: procedure.EvidenceOwnRule}},
		Uncertainty:   procedure.Uncertainties{AccuracyPa: 0.25, AccuracyPct: 1, DefaultS: 0.2, Resolution: 0.1, MinPairs: 3, Coverage: 2},
		UncertaintyID: own}
	plan := s.in.Observations.Plan
	s.add(procedure.KindPlan, "", &plan)
	s.obs().Weather = &procedure.Weather{Wind: 6, WindUnit: "mph", Temp: 34, TempUnit: "F"}
	s.obs().Instruments = []procedure.Instrument{
		{ID: "gauge", Name: "two-channel gauge, the yellow box", Serial: "G-0042", Calibrated: "2026-03-02", Resolution: 0.1, AccuracyPa: 0.15, AccuracyPct: 1},
		{ID: "analyser", Name: "flue analyser", Serial: "", Calibrated: "2026-08-19"}}
	return s
}

func (s *sheet) obs() *procedure.Observations { return &s.in.Observations }

func (s *sheet) add(k procedure.Kind, step string, d procedure.Data) int {
	s.at = s.at.Add(47 * time.Second)
	n := len(s.in.Events) + 1
	s.in.Events = append(s.in.Events, procedure.Event{N: n, Kind: k, Step: step, Observed: s.at, Written: s.at, Who: s.who, Src: procedure.FromWalk, Data: d})
	return n
}

func (s *sheet) setup(step string, su procedure.Setup) int {
	return s.add(procedure.KindSetup, step, &su)
}

func (s *sheet) pressure(step string, setup int, unit string, v ...float64) procedure.PressureObs {
	n := s.add(procedure.KindAnswer, step, &procedure.Answer{Pressure: &procedure.Pressure{Samples: v, Unit: unit, Setup: setup, Instrument: "gauge"}})
	p := procedure.PressureObs{N: n, Step: step, SetupN: setup, At: s.at}
	if su, ok := s.in.Events[setup-1].Data.(*procedure.Setup); ok {
		p.Setup = *su
	}
	for _, x := range v {
		pa, err := reading.Convert(x, reading.Unit(unit), reading.UnitPa)
		if err != nil {
			panic(err)
		}
		p.Values = append(p.Values, pa)
	}
	return p
}

func (s *sheet) check(stage procedure.StageID, key, subject string, state procedure.SeenState, text string) {
	code := key[strings.LastIndexByte(key, '/')+1:]
	n := s.add(procedure.KindAnswer, key, &procedure.Answer{Seen: &procedure.Seen{State: state, Text: text}})
	s.obs().Checks = append(s.obs().Checks, procedure.Check{Key: key, Code: code, Subject: subject, Stage: stage, State: state, Text: text, N: n})
}

func (s *sheet) ambient(step string, ppm float64) {
	n := s.add(procedure.KindAnswer, step, &procedure.Answer{Gas: &procedure.Gas{CO: []float64{ppm}}})
	s.obs().Ambient = append(s.obs().Ambient, procedure.AmbientObs{N: n, Step: step, Value: ppm, At: s.at})
}

func (s *sheet) note(text string) {
	s.add(procedure.KindNote, "reading/z1/worst", &procedure.Note{Text: text})
	s.obs().Notes = append(s.obs().Notes, text)
}

func (s *sheet) told(whom, how string) {
	t := procedure.Told{Whom: whom, What: "the decision", How: how}
	s.add(procedure.KindTold, "told/decision", &t)
	s.obs().Told = append(s.obs().Told, t)
}

func (s *sheet) close() report.Input {
	j := s.in.Judgement
	n := s.add(procedure.KindDecided, "", &procedure.Decided{Decision: j.Decision, Program: "cazward " + s.in.ProgramVersion, Scheme: j.Scheme.SHA256})
	s.add(procedure.KindClose, "", &procedure.Close{Decided: n})
	s.in.Closed, s.in.CloseHash, s.in.Head = true, Hash, strings.Repeat("fedcba9876543210", 4)
	return s.in
}

func p(v float64) *float64 { return &v }

// house is a basement with a water heater and a furnace on one vent, a range
// upstairs, three fans, two doors and an air handler.
func house(s *sheet) {
	o := s.obs()
	o.Zones = []procedure.Zone{{ID: "z1", Name: "Basement", Door: procedure.Yes, Louvred: procedure.No}}
	o.Appliances = []procedure.Appliance{
		{ID: "a1", Name: "Water heater", Kind: procedure.WaterHeater, Zone: "z1", Burner: procedure.Burner{Fuel: procedure.NaturalGas, Input: 40000, Unit: "Btu/h"}, Vent: procedure.Vent{Type: procedure.NaturalVent},
			Facts: procedure.VentFacts{DraftHood: procedure.Yes, Shares: procedure.Yes, Outside: procedure.Yes, TestHole: procedure.Yes, Orphaned: procedure.No, Fireable: procedure.Yes, InsideBoundary: procedure.Yes}, Partners: []string{"a2"}, Listed: true},
		{ID: "a2", Name: "Furnace", Kind: procedure.Furnace, Zone: "z1", Burner: procedure.Burner{Fuel: procedure.NaturalGas, Input: 80000, Unit: "Btu/h"}, Vent: procedure.Vent{Type: procedure.FanAssisted, Category: procedure.CategoryI},
			Facts: procedure.VentFacts{Shares: procedure.Yes, Outside: procedure.Unknown, TestHole: procedure.Yes, Orphaned: procedure.No, Fireable: procedure.Yes, InsideBoundary: procedure.Yes}, Partners: []string{"a1"}, Listed: true},
		{ID: "a3", Name: "Oven", Kind: procedure.Oven, Zone: "z1", Burner: procedure.Burner{Fuel: procedure.NaturalGas}, Vent: procedure.Vent{Type: procedure.Unvented}, Facts: procedure.VentFacts{Fireable: procedure.Yes}, Listed: true},
	}
	o.Fans = []procedure.RosterItem{{ID: "f1", Kind: "bath-fan", Name: "bath fan"}, {ID: "f2", Kind: "range-hood", Name: "hood"}, {ID: "f3", Kind: "dryer", Name: "dryer"}}
	o.Doors = []procedure.RosterItem{{ID: "d1", Kind: "bedroom", Name: "bedroom 2"}, {ID: "d2", Kind: "bath", Name: "bath"}}
	o.AirHandlers = []procedure.RosterItem{{ID: "h1", Kind: "air-handler", Name: "air handler"}}
	o.FansKnown, o.DoorsKnown, o.AirKnown, o.BurnersKnown = true, true, true, true
}

// walkZone takes the pressures of the house; drop shifts all but the baseline.
func walkZone(s *sheet, drop float64) {
	o := s.obs()
	off := s.setup("setup/z1/baseline", procedure.Setup{CAZDoor: "open"})
	zo := procedure.ZoneObs{Zone: "z1", DoorsDecided: true, AirDecided: true, CAZDecided: true}
	zo.Baselines = append(zo.Baselines, s.pressure("baseline/z1", off, "Pa", -0.8, -1.1, -0.9, -1.0, -0.9))
	read := func(x string, su procedure.Setup, v ...float64) procedure.PressureObs {
		n := s.setup("setup/z1/"+x, su)
		for i := range v {
			v[i] = math.Round((v[i]+drop)*10) / 10
		}
		r := s.pressure("reading/z1/"+x, n, "Pa", v...)
		zo.Readings = append(zo.Readings, r)
		return r
	}
	all := []string{"f1", "f2", "f3"}
	read("dryer", procedure.Setup{Fans: []string{"f3"}, CAZDoor: "open"}, -1.6, -1.9, -1.7)
	read("fans", procedure.Setup{Fans: all, CAZDoor: "open"}, -2.8, -2.6, -2.9)
	read("doors", procedure.Setup{Fans: all, Doors: []string{"d1", "d2"}, CAZDoor: "open"}, -3.1, -3.0, -3.2)
	read("air1", procedure.Setup{Fans: all, Doors: []string{"d1", "d2"}, AirHandler: []string{"h1"}, CAZDoor: "open"}, -3.4, -3.6, -3.5)
	read("cazdoor", procedure.Setup{Fans: all, Doors: []string{"d1", "d2"}, AirHandler: []string{"h1"}, CAZDoor: "closed"}, -2.2, -2.5, -2.1)
	held := procedure.Setup{Fans: all, Doors: []string{"d1", "d2"}, AirHandler: []string{"h1"}, CAZDoor: "open"}
	w := read("worst", held, -3.4, -3.7, -3.5, -3.6, -3.4)
	zo.Held, zo.Worst = &held, &w
	o.ZoneObs = []procedure.ZoneObs{zo}
}

func lookAll(s *sheet) {
	for _, c := range []string{"co-monitor", "consent", "no-live-fire", "no-asbestos", "occupants-warned"} {
		s.check(procedure.StageArrive, "arrive/ready/"+c, "", procedure.SeenOK, "")
	}
	for _, c := range []string{"fuel", "connector", "vent-connected", "draft-hood", "combustion-air", "rollout-marks", "rust", "clearances", "chimney"} {
		s.check(procedure.StageLook, "look/a1/"+c, "a1", procedure.SeenOK, "")
	}
	s.check(procedure.StageLook, "look/a1/soot", "a1", procedure.SeenWrong, "a little at the hood")
	s.check(procedure.StageLook, "look/a2/chimney", "a2", procedure.NotSeen, "roof iced over")
}

// PutBackCodes are the lines of the put-back list of the house.
var PutBackCodes = []string{"burners-lit", "thermostats-back", "water-heater-back", "fans-back", "disconnects-on", "filters-in", "holes-sealed", "doors-windows-back", "dampers-back", "hoses-out", "co-alarm-working"}

func putBack(s *sheet, except string) {
	for _, c := range PutBackCodes {
		state := procedure.SeenOK
		if c == except {
			state = procedure.SeenWrong
		}
		s.check(procedure.StagePutBack, "putback/house/"+c, "", state, "")
	}
}

// Hold is a house that must not be sealed: spillage fails, the net is too
// close, one put-back line is open, a risk was accepted, and there are a
// correction, a stale reading, a doubt, a skip, a note and a sign-off.
func Hold() report.Input {
	s := begin("cedar-14-in", "Cedar 14", procedure.TestIn)
	house(s)
	s.in.Header.Practice = &procedure.Practice{House: "cedar-14", SHA256: strings.Repeat("cd", 32), Seed: 7}
	s.obs().Practice = true
	s.ambient("arrive/ambient", 0)
	lookAll(s)
	stale := s.setup("setup/z1/baseline", procedure.Setup{CAZDoor: "open"})
	s.pressure("baseline/z1", stale, "inH2O", -0.004, -0.008, -0.001)
	walkZone(s, 0)
	o := s.obs()
	worst := o.ZoneObs[0].Readings[5].SetupN
	wrong := s.add(procedure.KindAnswer, "co/a2", &procedure.Answer{Gas: &procedure.Gas{CO: []float64{480}, O2: []*float64{p(7)}}})
	s.add(procedure.KindCorrect, "co/a2", &procedure.Correct{Replaces: wrong, Reason: "typed one zero too many", Answer: &procedure.Answer{Gas: &procedure.Gas{CO: []float64{48}, O2: []*float64{p(7)}}}})
	s.ambient("ambient/a1", 4)
	draft := s.pressure("draft/a2", worst, "inH2O", -0.0118, -0.0121, -0.0120)
	o.ApplObs = []procedure.ApplianceObs{
		{ID: "a1", Spill: &procedure.SpillObs{Outcome: procedure.SpillStill, Seconds: 71, Cold: procedure.Yes}, SpillNatural: &procedure.SpillObs{Outcome: procedure.SpillStopped, Seconds: 66, Cold: procedure.Yes},
			CO: &procedure.GasObs{CO: []float64{18}, O2: []*float64{p(6.2)}}},
		{ID: "a2", Spill: &procedure.SpillObs{Outcome: procedure.SpillStopped, Seconds: 12, Cold: procedure.No}, Draft: &draft, CO: &procedure.GasObs{CO: []float64{48, 31}, O2: []*float64{p(7), p(7.4)}}},
		{ID: "a3", CO: &procedure.GasObs{CO: []float64{22}, O2: []*float64{nil}}},
	}
	o.Skips = []procedure.SkipObs{{N: 70, Step: "list/cfm50", Skip: procedure.Skip{Reason: procedure.SkipNotWanted}, Wanted: true}}
	s.note("Occupant says the dryer stops by itself after a minute or so; it was started again before each reading.")
	s.told("the tenant, at the door", "in person, leaflet left")
	putBack(s, "filters-in")
	src := "Invented technical standard, 2005, table 1"
	j := &s.in.Judgement
	j.Decision = procedure.Hold
	j.Appliances = []procedure.ApplianceResult{{ID: "a1", Name: "Water heater", Status: procedure.OffUntilServiced}, {ID: "a2", Name: "Furnace", Status: procedure.MayRun}, {ID: "a3", Name: "Oven", Status: procedure.MayRun}}
	j.WorstCase = []procedure.WorstCase{{Zone: "z1", Baseline: p(-0.94), Reading: p(-3.52), Net: p(-2.58), Uncertainty: p(0.52), Config: procedure.Configuration{Fans: []string{"bath fan", "hood", "dryer"}, Doors: []string{"bedroom 2", "bath"}, AirHandler: "on", CAZDoor: "open"}}}
	j.Findings = []procedure.Finding{
		{Rule: "spillage", Subject: "a1", Verdict: procedure.Fail, Severity: procedure.Hold, Status: procedure.OffUntilServiced, Value: p(71), Limit: p(60), Unit: "s", Margin: p(-11), Row: "spill-60", Source: src, Evidence: procedure.EvidenceSecondary},
		{Rule: "spillage", Subject: "a1", Verdict: procedure.Fail, Severity: procedure.Hold, Status: procedure.OffUntilServiced, Natural: true, Value: p(66), Limit: p(60), Unit: "s", Margin: p(-6), Row: "spill-60", Source: src, Evidence: procedure.EvidenceSecondary},
		{Rule: "depressurization", Subject: "z1", Verdict: procedure.TooClose, Severity: procedure.Hold, Value: p(-2.58), Limit: p(-3), Unit: "Pa", Margin: p(0.42), Uncertainty: p(0.52), Row: "pa-common-natural", Source: src, Evidence: procedure.EvidenceMemory},
		{Rule: "spillage", Subject: "a2", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(12), Limit: p(60), Unit: "s", Margin: p(48), Row: "spill-60", Source: src, Evidence: procedure.EvidenceSecondary},
		{Rule: "draft", Subject: "a2", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(-2.98), Limit: p(-1.9), Unit: "Pa", Margin: p(1.08), Uncertainty: p(0.3), Row: "draft-line", Source: src, Evidence: procedure.EvidenceMemory},
		{Rule: "co-matrix", Subject: "a2", Verdict: procedure.Fail, Severity: procedure.Refer, Value: p(48), Limit: p(100), Unit: "ppm", Margin: p(52), Detail: "pass/pass", Row: "co-26-100", Source: src, Evidence: procedure.EvidenceMemory},
		{Rule: "visual", Subject: "a1", Verdict: procedure.Fail, Severity: procedure.Refer, Row: "look-soot", Source: "common practice", Evidence: procedure.EvidencePractice, Detail: "soot"},
	}
	j.Doubts = []procedure.DoubtResult{{Code: procedure.DoubtGusty, Settled: "stands", About: []int{30}, How: "hose end moved out of the wind"}}
	j.AcceptedRisks = []procedure.AcceptedRisk{{Row: "floor-co-70", Reason: Reason}}
	w := o.ZoneObs[0].Worst.N
	for i, about := range [][]int{{}, {}, {o.ZoneObs[0].Baselines[0].N, w}, {}, {draft.N}, {wrong + 1}} {
		j.Findings[i].About = about
	}
	in := s.close()
	in.Events = append(in.Events, procedure.Event{N: len(in.Events) + 1, Kind: procedure.KindSign, Observed: s.at.Add(26 * time.Hour), Written: s.at.Add(26 * time.Hour), Who: "M. Vale", Src: procedure.FromWalk,
		Data: &procedure.Sign{Close: Hash, Verdict: "accept", Name: "M. Vale", Note: "water heater tagged", Signature: "x"}})
	return in
}

// Leave is a house that was emptied at arrival; the record is not closed.
func Leave() report.Input {
	s := begin("birch-3-in", "Birch 3", procedure.TestIn)
	house(s)
	n := s.add(procedure.KindHazard, "arrive/ambient", &procedure.Hazard{Code: procedure.AmbientCO, Value: p(78), Where: "arrive/ambient"})
	s.obs().Hazards = []procedure.HazardObs{{N: n, Hazard: procedure.Hazard{Code: procedure.AmbientCO, Value: p(78), Where: "arrive/ambient"}}}
	s.obs().Weather = nil
	s.obs().Tester = ""
	s.obs().Open = []procedure.Missing{{Step: "putback/house", Why: "no-answer"}, {Step: "baseline/z1", Why: "no-answer"}}
	j := &s.in.Judgement
	j.Decision = procedure.Leave
	j.Appliances = []procedure.ApplianceResult{{ID: "a1", Name: "Water heater", Status: procedure.OffUntilServiced}, {ID: "a2", Name: "Furnace"}, {ID: "a3", Name: "Oven"}}
	j.Findings = []procedure.Finding{{Rule: "ambient", Detail: "ambient-co", Action: "out", Verdict: procedure.Fail, Severity: procedure.Leave, Value: p(78), Limit: p(70), Unit: "ppm", Row: "floor-co-70", Source: "Invented annex, 2018, D.2", Evidence: procedure.EvidenceSeen}}
	j.Missing = []procedure.Missing{{Step: "baseline/z1", Why: "no-answer"}, {Step: "spill/a1", Why: "no-answer"}, {Step: "spill/a2", Why: "no-answer"}}
	j.WorstCase = []procedure.WorstCase{{Zone: "z1"}}
	s.in.Head = strings.Repeat("fedcba9876543210", 4)
	return s.in
}

// Proceed is a test-out that passes, beside its test-in.
func Proceed() report.Input {
	before := Hold()
	s := begin("cedar-14-out", "Cedar 14", procedure.TestOut)
	house(s)
	s.in.Header.Prior = &procedure.Prior{Record: "cedar-14-in", Close: Hash}
	s.ambient("arrive/ambient", 0)
	lookAll(s)
	s.obs().Checks = s.obs().Checks[:len(s.obs().Checks)-2]
	walkZone(s, 1.4)
	o := s.obs()
	draft := s.pressure("draft/a1", o.ZoneObs[0].Readings[5].SetupN, "Pa", -3.1, -3.0, -3.2)
	o.ApplObs = []procedure.ApplianceObs{
		{ID: "a1", Spill: &procedure.SpillObs{Outcome: procedure.SpillNone, Cold: procedure.Yes}, Draft: &draft, CO: &procedure.GasObs{CO: []float64{9}, O2: []*float64{p(6.0)}}},
		{ID: "a2", Spill: &procedure.SpillObs{Outcome: procedure.SpillStopped, Seconds: 8, Cold: procedure.Unknown}, CO: &procedure.GasObs{CO: []float64{11}, O2: []*float64{p(7)}}},
		{ID: "a3", CO: &procedure.GasObs{CO: []float64{14}, O2: []*float64{p(12)}}}}
	putBack(s, "")
	s.told("the owner", "in person")
	j := &s.in.Judgement
	j.Decision = procedure.Proceed
	for _, a := range o.Appliances {
		j.Appliances = append(j.Appliances, procedure.ApplianceResult{ID: a.ID, Name: a.Name, Status: procedure.MayRun})
	}
	j.WorstCase = []procedure.WorstCase{{Zone: "z1", Baseline: p(-0.94), Reading: p(-2.12), Net: p(-1.18), Uncertainty: p(0.5)}}
	src := "Invented technical standard, 2005, table 1"
	j.Findings = []procedure.Finding{
		{Rule: "depressurization", Subject: "z1", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(-1.18), Limit: p(-3), Unit: "Pa", Margin: p(1.82), Uncertainty: p(0.5), Row: "pa-common-natural", Source: src, Evidence: procedure.EvidenceMemory},
		{Rule: "spillage", Subject: "a1", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(0), Limit: p(60), Unit: "s", Margin: p(60), Row: "spill-60", Source: src, Evidence: procedure.EvidenceSecondary},
		{Rule: "draft", Subject: "a1", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(-3.1), Limit: p(-1.9), Unit: "Pa", Margin: p(1.2), Uncertainty: p(0.3), Row: "draft-line", Source: src, Evidence: procedure.EvidenceMemory},
		{Rule: "spillage", Subject: "a2", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(8), Limit: p(60), Unit: "s", Margin: p(52), Row: "spill-60", Source: src, Evidence: procedure.EvidenceSecondary},
	}
	s.in.Prior = &report.Comparison{Header: before.Header, CloseHash: Hash, Observations: before.Observations, Judgement: before.Judgement}
	return s.close()
}

// Phases is the same test-out after a test-in and a daily test, judged by a
// scheme whose CO limits are air-free, with photos, a draft under natural
// conditions and an analyser that went over its range.
func Phases() report.Input {
	in := Proceed()
	daily := Proceed()
	daily.Header.Record, daily.Header.Phase = "cedar-14-day", procedure.Daily
	daily.Header.Created = daily.Header.Created.Add(-48 * time.Hour)
	in.Header.Record = "cedar-14-last"
	day := &report.Comparison{Header: daily.Header, CloseHash: Hash, Observations: daily.Observations, Judgement: daily.Judgement, Prior: in.Prior}
	day.Judgement.WorstCase = []procedure.WorstCase{{Zone: "z1", Baseline: p(-0.9), Reading: p(-3.0), Net: p(-2.1), Uncertainty: p(0.4)}}
	first := *in.Prior
	first.Header.Created = first.Header.Created.Add(-72 * time.Hour)
	day.Prior = &first
	in.Prior = day
	in.Header.Prior = &procedure.Prior{Record: "cedar-14-day", Close: Hash}
	src := procedure.SourceRef{Title: "Invented technical standard", Edition: "2017", Clause: "table 2"}
	in.Rules.CO = []procedure.Limit{{Row: procedure.Row{ID: "co-af-100", Source: src, Evidence: procedure.EvidenceSecondary}, Bound: procedure.Bound{Value: 100, Sense: procedure.AtMost}, Unit: "ppm", Basis: "air-free"}}
	in.Judgement.Findings = append(in.Judgement.Findings,
		procedure.Finding{Rule: "co", Subject: "a1", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(12.6), Limit: p(100), Unit: "ppm", Margin: p(87.4), Row: "co-af-100", Detail: "air-free"},
		procedure.Finding{Rule: "draft", Subject: "a2", Verdict: procedure.TooClose, Severity: procedure.Hold, Natural: true, Value: p(-2.0), Limit: p(-1.9), Unit: "Pa", Margin: p(0.1), Uncertainty: p(0.3), Row: "draft-line"})
	o := &in.Observations
	o.ApplObs = append([]procedure.ApplianceObs{}, o.ApplObs...)
	o.ApplObs[1].DraftNatural = &procedure.PressureObs{Values: []float64{-2.1, -1.9, -2.0}}
	o.ApplObs[2].CO = &procedure.GasObs{CO: []float64{2000}, O2: []*float64{p(5)}, OverRange: true}
	events := append([]procedure.Event{}, in.Events[:len(in.Events)-2]...)
	for i, c := range []string{"look/a1", "look/a2"} {
		photo := Photo(i)
		if i == 1 {
			in.Photos = append(in.Photos, report.Photo{SHA256: photo.SHA256}) // its bytes are gone
		} else {
			in.Photos = append(in.Photos, photo)
		}
		last := events[len(events)-1]
		last.N, last.Kind, last.Step = last.N+1, procedure.KindAttach, c
		last.Data = &procedure.Attach{SHA256: photo.SHA256, Bytes: int64(len(photo.Data)), Type: photo.Type, Step: c}
		events = append(events, last)
	}
	for _, ev := range in.Events[len(in.Events)-2:] {
		if ev.N += 2; ev.Kind == procedure.KindClose {
			ev.Data = &procedure.Close{Decided: ev.N - 1}
		}
		events = append(events, ev)
	}
	in.Events = events
	return in
}

// Sealing is a test-in that lets the crew go on with a service arranged: the
// planned sealing would pull the basement past its limit. The volume of the
// basement and the inputs of its burners are known.
func Sealing() report.Input {
	s := begin("alder-2-in", "Alder 2", procedure.TestIn)
	house(s)
	s.ambient("arrive/ambient", 1)
	lookAll(s)
	walkZone(s, 0)
	o := s.obs()
	o.Zones[0].Volume = 3600
	o.CFM50, o.SealTo = p(1900), p(1150)
	o.Appliances[2].Burner.Input, o.Appliances[2].Burner.Unit = 18000, "Btu/h"
	draft := s.pressure("draft/a1", o.ZoneObs[0].Readings[5].SetupN, "Pa", -3.1, -3.0, -3.2)
	o.ApplObs = []procedure.ApplianceObs{
		{ID: "a1", Spill: &procedure.SpillObs{Outcome: procedure.SpillStopped, Seconds: 14, Cold: procedure.Yes}, Draft: &draft, CO: &procedure.GasObs{CO: []float64{9}, O2: []*float64{p(6.0)}}},
		{ID: "a2", Spill: &procedure.SpillObs{Outcome: procedure.SpillStopped, Seconds: 8, Cold: procedure.No}, CO: &procedure.GasObs{CO: []float64{11}, O2: []*float64{p(7)}}},
		{ID: "a3", CO: &procedure.GasObs{CO: []float64{14}, O2: []*float64{p(12)}}}}
	putBack(s, "")
	s.told("the owner", "in person")
	s.in.Rules.Pressure[0].Bound.Value = -5
	j := &s.in.Judgement
	j.Decision = procedure.Refer
	for _, a := range o.Appliances {
		j.Appliances = append(j.Appliances, procedure.ApplianceResult{ID: a.ID, Name: a.Name, Status: procedure.MayRun})
	}
	j.WorstCase = []procedure.WorstCase{{Zone: "Basement", Baseline: p(-0.94), Reading: p(-3.52), Net: p(-2.58), Uncertainty: p(0.52), Config: procedure.Configuration{Fans: []string{"bath fan", "hood", "dryer"}, Doors: []string{"bedroom 2", "bath"}, AirHandler: "on", CAZDoor: "open"}}}
	src := "Invented technical standard, 2005, table 1"
	j.Findings = []procedure.Finding{
		{Rule: "after-sealing", Subject: "z1", Verdict: procedure.Fail, Severity: procedure.Refer, Value: p(-5.58), Limit: p(-5), Unit: "Pa", Margin: p(-0.58), Uncertainty: p(1.4), Row: "after-sealing", Source: "own rule", Evidence: procedure.EvidenceOwnRule, Action: "forecast-over", Detail: "return-leak"},
		{Rule: "depressurization", Subject: "z1", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(-2.58), Limit: p(-5), Unit: "Pa", Margin: p(2.42), Uncertainty: p(0.52), Row: "pa-common-natural", Source: src, Evidence: procedure.EvidenceMemory},
		{Rule: "spillage", Subject: "a1", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(14), Limit: p(60), Unit: "s", Margin: p(46), Row: "spill-60", Source: src, Evidence: procedure.EvidenceSecondary},
		{Rule: "draft", Subject: "a1", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: p(-3.1), Limit: p(-1.9), Unit: "Pa", Margin: p(1.2), Uncertainty: p(0.3), Row: "draft-line", Source: src, Evidence: procedure.EvidenceMemory},
	}
	return s.close()
}

// Photo is a small invented picture.
func Photo(seed int) report.Photo {
	m := image.NewGray(image.Rect(0, 0, 160, 120))
	for i := range m.Pix {
		m.Pix[i] = uint8((i%160*(seed+1) + i/160*2) % 256)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		panic(err)
	}
	sum := sha256.Sum256(b.Bytes())
	return report.Photo{SHA256: hex.EncodeToString(sum[:]), Type: "image/jpeg", Data: b.Bytes()}
}

// Names that nobody should type and somebody will.
const (
	Long   = "Water heater behind the second door, left of the old laundry" // 60 characters
	Emoji  = "Hot 🔥 tank"
	Hebrew = "דוד מים חמים"
	Turned = "safe\u202eton\u202c is it"
)

// Incomplete is a test with too much of everything: 40 appliances with long
// and odd names, 300 readings, many things missing.
func Incomplete() report.Input {
	s := begin("maple-7-daily", "Maple 7\x07\x1b[31m", procedure.Daily)
	house(s)
	o := s.obs()
	o.Appliances, o.Tester = nil, "José Ñandú\nINJECTED LINE"
	j := &s.in.Judgement
	j.Decision = procedure.Incomplete
	for i := 1; i <= 40; i++ {
		id := fmt.Sprintf("a%d", i)
		name := fmt.Sprintf("%s %d", Long[:60-1-len(fmt.Sprint(i))], i)
		switch i {
		case 2:
			name = Emoji
		case 3:
			name = Hebrew
		case 4:
			name = Turned
		case 5:
			name = "bad\xff\xfeutf8\ttab"
		}
		o.Appliances = append(o.Appliances, procedure.Appliance{ID: id, Name: name, Kind: procedure.WaterHeater, Zone: "z1", Burner: procedure.Burner{Fuel: procedure.Propane, Input: 38000, Unit: "Btu/h"}, Vent: procedure.Vent{Type: procedure.NaturalVent}, Facts: procedure.VentFacts{Fireable: procedure.Yes, Shares: procedure.No}})
		st := procedure.OffUntilServiced
		if i > 20 {
			st = procedure.StatusNone
		}
		j.Appliances = append(j.Appliances, procedure.ApplianceResult{ID: id, Name: name, Status: st})
		o.ApplObs = append(o.ApplObs, procedure.ApplianceObs{ID: id, CO: &procedure.GasObs{CO: []float64{12, 14, 9, 11}, O2: []*float64{p(6), p(6.2), p(6.1), nil}, Rising: i == 7, OverRange: i == 8}})
		j.Findings = append(j.Findings, procedure.Finding{Rule: "spillage", Subject: id, Verdict: procedure.NotEvaluated, Severity: procedure.Incomplete, Status: st, Unit: "s"})
		j.Missing = append(j.Missing, procedure.Missing{Step: "spill/" + id, Why: "no-answer"}, procedure.Missing{Step: "draft/" + id, Why: "skipped-no-instrument"})
	}
	walkZone(s, 0)
	zo := &o.ZoneObs[0]
	zo.Worst, zo.Held = nil, nil
	for i := 0; i < 300; i++ {
		n := s.setup("setup/z1/doors", procedure.Setup{Fans: []string{"f1", "f2", "f3"}[:i%3+1], Doors: []string{"d1"}, CAZDoor: "open", NotRun: nil})
		zo.Readings = append(zo.Readings, s.pressure("reading/z1/doors", n, "Pa", float64(-10-i%17)/10, float64(-12-i%13)/10, -1.1))
	}
	s.note(strings.Repeat("A note that goes on and on, because the tester had time to type while the vent cooled. ", 40))
	s.note(strings.Repeat("W", 900))
	s.add(procedure.KindSkip, "putback/house/hoses-out", &procedure.Skip{Reason: procedure.SkipNotOnSheet})
	putBackSome := PutBackCodes[:9]
	for _, c := range putBackSome {
		s.check(procedure.StagePutBack, "putback/house/"+c, "", procedure.SeenOK, "")
	}
	o.Open = []procedure.Missing{{Step: "putback/house", Why: "skipped-not-on-sheet"}}
	j.WorstCase = []procedure.WorstCase{{Zone: "z1"}}
	j.NotAsked = []string{"co/a1"}
	return s.close()
}

// All are the inputs by name, in a fixed order.
func All() []struct {
	Name string
	In   report.Input
} {
	return []struct {
		Name string
		In   report.Input
	}{{"hold", Hold()}, {"leave", Leave()}, {"proceed", Proceed()}, {"incomplete", Incomplete()}, {"phases", Phases()}, {"sealing", Sealing()}}
}
