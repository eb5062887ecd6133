package evaluation_test

import (
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/procedure/sequence"
)

// furnaceHome is one natural-draft gas furnace alone on its vent, everything
// in order: the limit is -5 Pa, the net -1.1.
func furnaceHome(change ...string) map[string]string {
	a := map[string]string{
		"list/appliances": "1", "appliance/furnace-1/facts": "1 2 3 7",
		"prepare/fired":            "120",
		"baseline/basement-1":      "-0.8 -0.9 -0.9 -1.0 -0.9",
		"reading/basement-1/dryer": "-1.2 -1.2 -1.3 -1.2 -1.2", "reading/basement-1/fans": "-1.6 -1.7 -1.6 -1.6 -1.7",
		"reading/basement-1/doors": "-1.8 -1.8 -1.9 -1.8 -1.8", "reading/basement-1/air1": "-2.0 -2.0 -2.1 -1.9 -2.0",
		"reading/basement-1/cazdoor": "-1.7 -1.7 -1.8 -1.7 -1.7", "reading/basement-1/worst": "-2.0 -2.0 -2.1 -1.9 -2.0",
		"held/furnace-1": "-2.0 -2.0 -2.1 -1.9 -2.0", "held/furnace-1/blower": "-2.0 -2.0 -2.0 -2.0 -2.0",
		"baseline/basement-1/closing": "-0.9 -0.9 -0.8 -1.0 -0.9",
		"source/10":                   "4", "settled/10": "1",
	}
	for _, c := range change {
		k, v, _ := strings.Cut(c, "=")
		a[k] = v
	}
	return a
}

func status(j procedure.Judgement, id string) procedure.Status {
	for _, a := range j.Appliances {
		if a.ID == id {
			return a.Status
		}
	}
	return "absent"
}

// decide walks a furnace home. "!code=step" raises a hazard at a step, "/k"
// leaves a step out.
func decide(t *testing.T, changes []string) (*sequence.State, procedure.Judgement) {
	t.Helper()
	w := begin(t, furnaceHome(changes...))
	for _, c := range changes {
		k, v, _ := strings.Cut(c, "=")
		code, hazard := strings.CutPrefix(k, "!")
		if v != "/k" && !hazard {
			continue
		}
		if !hazard {
			w.To(k)
			w.Do(k, &procedure.Skip{Reason: procedure.SkipUnsafe})
			continue
		}
		h := &procedure.Hazard{Code: procedure.HazardCode(code)}
		if h.Code == procedure.Rollout {
			h.Subject = "furnace-1"
		}
		w.To(v)
		w.Do(v, h)
	}
	w.To("")
	return w.State, w.judge()
}

// TestDecisions: every row of what leads to which decision, by walking the
// home and judging it.
func TestDecisions(t *testing.T) {
	const furnace = "furnace-1"
	for _, c := range []struct {
		row    string
		change []string
		want   procedure.Decision
		status procedure.Status
	}{
		{"all clear", nil, procedure.Proceed, procedure.MayRun},
		// At once, at any step.
		{"ambient CO 70 or more", []string{"arrive/ambient=70", "putback/reentry=2", "told/10=all; outside", "told/8=all; outside"}, procedure.Leave, "absent"},
		{"alarm sounding", []string{"arrive/danger=1"}, procedure.Leave, "absent"},
		{"people with symptoms", []string{"arrive/danger=2"}, procedure.Leave, "absent"},
		{"fuel smell", []string{"arrive/danger=3"}, procedure.Leave, "absent"},
		{"room air at 10 % LEL", []string{"arrive/lel=10"}, procedure.Leave, "absent"},
		{"ambient CO above 35, below 70", []string{"arrive/ambient=36"}, procedure.Leave, "absent"},
		{"ambient CO 35.5", []string{"arrive/ambient=35.5"}, procedure.Leave, "absent"},
		{"ambient CO 30 to 35, source the furnace", []string{"ambient/furnace-1=30", "source=1", "settled=1"}, procedure.Hold, procedure.OffUntilServiced},
		{"ambient CO 35, source not found", []string{"ambient/furnace-1=35", "source=4"}, procedure.Hold, procedure.OffUntilServiced},
		{"ambient CO 9, below 30, settled", []string{"ambient/furnace-1=9", "source=2", "settled=1"}, procedure.Proceed, procedure.MayRun},
		{"ambient CO 29, unsettled", []string{"ambient/furnace-1=29", "source=2", "settled=2"}, procedure.Refer, procedure.MayRun},
		{"ambient CO 9, source not found", []string{"ambient/furnace-1=9", "source=4"}, procedure.Refer, procedure.MayRun},
		{"analyser over range in room air", []string{"arrive/ambient=over"}, procedure.Leave, "absent"},
		{"confirmed leak on the appliance", []string{"look/furnace-1=1"}, procedure.Hold, procedure.FuelOff},
		{"confirmed leak on piping", []string{"look/house=1"}, procedure.Hold, procedure.FuelOff},
		{"flame that changes when the blower starts", []string{"flame/furnace-1=1"}, procedure.Hold, procedure.OffUntilServiced},
		{"flame rollout: not refired", []string{"!rollout=spill/furnace-1"}, procedure.Hold, procedure.FuelOff},
		{"alarm in the middle of the test", []string{"!alarm=spill/furnace-1"}, procedure.Leave, "absent"},
		// Per zone.
		{"net beyond the strictest row", []string{"reading/basement-1/worst=-7.0 -7.1 -6.9 -7.0 -7.0"}, procedure.Hold, procedure.MayRun},
		{"net too close", []string{"reading/basement-1/worst=-5.7 -5.7 -5.6 -5.7 -5.8", "settle/basement-1=2"}, procedure.Hold, procedure.MayRun},
		{"an earlier reading lower than the held one", []string{"reading/basement-1/fans=-7.0 -7.0 -7.0 -7.0 -7.1", "doubt=ok looked"}, procedure.Hold, procedure.MayRun},
		{"held pressure before light-off lower", []string{"held/furnace-1=-7.0 -7.0 -7.0 -7.0 -7.1"}, procedure.Hold, procedure.MayRun},
		{"two baselines: the most negative difference", []string{"reading/basement-1/worst=-5.6 -5.6 -5.6 -5.6 -5.6", "baseline/basement-1/closing=-0.1 -0.1 -0.1 -0.1 -0.1", "doubt=ok looked"}, procedure.Hold, procedure.MayRun},
		{"vent type unknown", []string{"appliance/furnace-1/vent=7", "appliance/furnace-1/facts=1 2 3 7", "reading/basement-1/worst=-7.0 -7.0 -7.1 -7.0 -6.9"}, procedure.Hold, procedure.MayRun},
		{"common venting unknown", []string{"appliance/furnace-1/facts=1 ?2 3 7", "reading/basement-1/worst=-4.3 -4.3 -4.2 -4.3 -4.3"}, procedure.Hold, procedure.StatusNone},
		{"individually vented natural-draft water heater at -1.7", []string{"list/appliances=3", "appliance/water-heater-1/facts=1 2 3 7", "reading/basement-1/worst=-2.6 -2.6 -2.6 -2.5 -2.7", "held/water-heater-1=-2.0 -2.0 -2.0 -2.0 -2.0"}, procedure.Hold, "absent"},
		{"the same, orphaned", []string{"list/appliances=3", "appliance/water-heater-1/facts=1 2 3 4 7", "reading/basement-1/worst=-2.6 -2.6 -2.6 -2.5 -2.7", "held/water-heater-1=-2.0 -2.0 -2.0 -2.0 -2.0"}, procedure.Hold, "absent"},
		{"unsettled doubt on a pressure", []string{"baseline/basement-1=-0.1 -0.9 -1.9 -1.0 -0.6", "doubt=k"}, procedure.Incomplete, procedure.MayRun},
		{"gusty and only looked at", []string{"baseline/basement-1=-0.1 -0.9 -1.9 -1.0 -0.6", "doubt=ok nothing seen"}, procedure.Incomplete, procedure.MayRun},
		{"no baseline change at all, unsettled", []string{"reading/basement-1/fans=-0.9 -0.9 -0.9 -0.9 -0.9", "doubt=k"}, procedure.Incomplete, procedure.MayRun},
		{"not held at light-off, unsettled", []string{"held/furnace-1=-0.1 -0.1 -0.1 -0.2 -0.1", "doubt=k"}, procedure.Incomplete, procedure.MayRun},
		{"worst case lost, unsettled", []string{"reading/basement-1/worst=-0.9 -0.9 -0.9 -0.8 -0.9", "doubt=k"}, procedure.Incomplete, procedure.MayRun},
		{"orphaning unknown", []string{"list/appliances=3", "appliance/water-heater-1/facts=1 2 3 ?4 7", "reading/basement-1/worst=-2.6 -2.6 -2.6 -2.5 -2.7", "held/water-heater-1=-2.6 -2.6 -2.6 -2.6 -2.6"}, procedure.Hold, "absent"},
		{"pressure rises when fans start, unsettled", []string{"reading/basement-1/fans=-0.1 -0.1 +0.0 -0.1 -0.1", "doubt=k"}, procedure.Incomplete, procedure.MayRun},
		{"wind above the ceiling, nobody looked", []string{"arrive/weather=15 34", "doubt=k"}, procedure.Incomplete, procedure.MayRun},
		{"wind above the ceiling, looked at, readings steady", []string{"arrive/weather=15 34", "doubt=ok hose end sheltered"}, procedure.Proceed, procedure.MayRun},
		{"wind above the ceiling, looked at, one averaged baseline", []string{"arrive/weather=15 34", "doubt=ok hose end sheltered", "baseline/basement-1=-0.9 60s"}, procedure.Incomplete, procedure.MayRun},
		{"a fan of the inventory not run", []string{"setup/basement-1/fans=2", "setup/basement-1/doors=2", "setup/basement-1/air1=2", "setup/basement-1/cazdoor=2", "setup/basement-1/worst=2"}, procedure.Incomplete, procedure.StatusNone},
		{"a door not decided", []string{"doors/basement-1=2 ? 1", "redoors/basement-1=2 ? 1"}, procedure.Incomplete, procedure.StatusNone},
		// CO with spillage and draft.
		{"CO <= 25, pass", []string{"co/furnace-1=25 7"}, procedure.Proceed, procedure.MayRun},
		{"CO <= 25, spillage fails at worst case only", []string{"spill/furnace-1=61s", "spill/furnace-1/natural=20s", "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4"}, procedure.Hold, procedure.MayRunNoFans},
		{"CO <= 100, spillage fails at worst case only", []string{"co/furnace-1=80 7", "spill/furnace-1=61s", "spill/furnace-1/natural=20s", "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4"}, procedure.Hold, procedure.MayRunNoFans},
		{"spillage at the limit passes", []string{"spill/furnace-1=60s"}, procedure.Proceed, procedure.MayRun},
		{"CO <= 100, draft fails at worst case only", []string{"co/furnace-1=80 7", "draft/furnace-1=-1.0 -1.0 -1.0 -1.0 -1.0", "spill/furnace-1/natural=20s", "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4"}, procedure.Refer, procedure.MayRunNoFans},
		{"CO <= 25, draft fails at worst case only", []string{"draft/furnace-1=-1.0 -1.0 -1.0 -1.0 -1.0", "spill/furnace-1/natural=20s", "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4"}, procedure.Refer, procedure.MayRunNoFans},
		{"draft too close", []string{"draft/furnace-1=-2.0 -2.0 -2.0 -2.0 -2.0", "spill/furnace-1/natural=20s", "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4"}, procedure.Refer, procedure.MayRunNoFans},
		{"CO 26 to 100, pass", []string{"co/furnace-1=26 7"}, procedure.Refer, procedure.MayRun},
		{"CO just over 25", []string{"co/furnace-1=25.5 7"}, procedure.Refer, procedure.MayRun},
		{"CO 101 to 400", []string{"co/furnace-1=101 7"}, procedure.Hold, procedure.OffUntilServiced},
		{"spillage under natural conditions", []string{"spill/furnace-1=61s", "spill/furnace-1/natural=still 60s"}, procedure.Hold, procedure.OffUntilServiced},
		{"draft under natural conditions", []string{"draft/furnace-1=-1.0 -1.0 -1.0 -1.0 -1.0", "spill/furnace-1/natural=20s", "draft/furnace-1/natural=-1.0 -1.0 -1.0 -1.0 -1.0"}, procedure.Hold, procedure.OffUntilServiced},
		{"failed at worst case, natural conditions not tested", []string{"spill/furnace-1=61s", "spill/furnace-1/natural=/k", "draft/furnace-1/natural=/k"}, procedure.Hold, procedure.OffUntilServiced},
		{"CO over 400, pass", []string{"co/furnace-1=401 7"}, procedure.Hold, procedure.OffUntilServiced},
		{"CO over 400, spillage fails", []string{"co/furnace-1=401 7", "spill/furnace-1=61s"}, procedure.Leave, procedure.FuelOff},
		{"CO over 400, draft fails", []string{"co/furnace-1=401 7", "draft/furnace-1=-1.0 -1.0 -1.0 -1.0 -1.0"}, procedure.Leave, procedure.FuelOff},
		{"CO over range, pass", []string{"co/furnace-1=over"}, procedure.Hold, procedure.OffUntilServiced},
		{"CO over range, spillage fails", []string{"co/furnace-1=over", "spill/furnace-1=still 61s"}, procedure.Leave, procedure.FuelOff},
		{"the highest cell governs", []string{"co/furnace-1=12 7 101 7 12 7"}, procedure.Hold, procedure.OffUntilServiced},
		{"O2 not read", []string{"co/furnace-1=12"}, procedure.Incomplete, procedure.StatusNone},
		{"O2 not read, over a band already", []string{"co/furnace-1=101"}, procedure.Hold, procedure.OffUntilServiced},
		{"diluted sample", []string{"co/furnace-1=12 17", "doubt=ok it is the flue"}, procedure.Incomplete, procedure.StatusNone},
		{"diluted sample over a band already", []string{"co/furnace-1=101 17", "doubt=ok it is the flue"}, procedure.Hold, procedure.OffUntilServiced},
		{"spillage never stopped", []string{"spill/furnace-1=still 30s", "spill/furnace-1/natural=none", "draft/furnace-1/natural=-3.4 -3.4 -3.4 -3.4 -3.4"}, procedure.Hold, procedure.MayRunNoFans},
		{"no test hole and no port", []string{"appliance/furnace-1/facts=1 2 7"}, procedure.Refer, procedure.MayRun},
		{"cannot be fired today", []string{"appliance/furnace-1/facts=2 3 7"}, procedure.Incomplete, procedure.StatusNone},
		{"cannot be fired, on a common vent: the row for both still applies", []string{"list/appliances=1 3", "prepare/fired=120", "appliance/furnace-1/facts=1 3 7", "appliance/furnace-1/partners=1", "appliance/water-heater-1/facts=3 7", "appliance/water-heater-1/partners=1",
			"reading/basement-1/worst=-4.6 -4.6 -4.6 -4.5 -4.7"}, procedure.Hold, "absent"}, // net -3.7: past the common row, inside that of a furnace alone
		{"vent shared with another dwelling", []string{"appliance/furnace-1/facts=1 3 7", "appliance/furnace-1/partners=1"}, procedure.Incomplete, procedure.StatusNone},
		// Visual findings.
		{"vent disconnected", []string{"look/furnace-1=3"}, procedure.Hold, procedure.OffUntilServiced},
		{"draft hood missing", []string{"look/furnace-1=4"}, procedure.Hold, procedure.OffUntilServiced},
		{"combustion-air opening blocked", []string{"look/furnace-1=5"}, procedure.Hold, procedure.OffUntilServiced},
		{"rollout marks", []string{"look/furnace-1=6"}, procedure.Hold, procedure.OffUntilServiced},
		{"soot", []string{"look/furnace-1=7"}, procedure.Refer, procedure.MayRun},
		{"rust", []string{"look/furnace-1=8"}, procedure.Refer, procedure.MayRun},
		{"clearances", []string{"look/furnace-1=9"}, procedure.Refer, procedure.MayRun},
		{"CO alarm missing", []string{"look/house=2"}, procedure.Refer, procedure.MayRun},
		{"a look line not seen", []string{"look/furnace-1=?8"}, procedure.Incomplete, procedure.StatusNone},
		// Before and after.
		{"live fire: the house is not pulled down", []string{"arrive/ready=3"}, procedure.Incomplete, "absent"},
		{"windows not shut", []string{"prepare/house=4"}, procedure.Incomplete, procedure.MayRun},
		{"hose never checked", []string{"hose/basement-1=?3"}, procedure.Incomplete, procedure.MayRun},
		{"an item not put back", []string{"putback/house=1"}, procedure.Incomplete, procedure.MayRun},
		// Inventory.
		{"solid fuel", []string{"list/appliances=1 13", "appliance/wood-stove-1/facts=1", "look/wood-stove-1=ok"}, procedure.Refer, procedure.MayRun},
		{"unvented heater as main heat", []string{"list/appliances=1 15", "appliance/unvented-heater-1/burner=1 20000", "appliance/unvented-heater-1/facts=1", "look/unvented-heater-1=ok", "co/unvented-heater-1=10 18"}, procedure.Hold, procedure.MayRun},
		{"unvented heater, secondary", []string{"list/appliances=1 15", "appliance/unvented-heater-1/burner=1 20000", "appliance/unvented-heater-1/facts=1 2", "look/unvented-heater-1=ok", "co/unvented-heater-1=10 18"}, procedure.Refer, procedure.MayRun},
		{"oven CO outside the hold", []string{"list/appliances=1 9", "appliance/oven-1/burner=1 18000", "appliance/oven-1/facts=1", "look/oven-1=ok", "co/oven-1=150"}, procedure.Hold, procedure.MayRun},
		{"indirect tank beside a boiler", []string{"list/appliances=1 2 4", "prepare/fired=120 120", "appliance/boiler-1/burner=1 100000", "appliance/boiler-1/vent=1", "appliance/boiler-1/facts=1 2 3 7", "look/boiler-1=ok", "held/boiler-1=-2.0 -2.0 -2.1 -1.9 -2.0", "spill/boiler-1=20s", "draft/boiler-1=-3.4 -3.4 -3.4 -3.4 -3.4", "co/boiler-1=12 7"}, procedure.Proceed, procedure.MayRun},
		{"sealing as planned pulls the zone past its limit", []string{"list/cfm50=2400", "list/flows=? ? ?", "sealing/cfm50=900"}, procedure.Refer, procedure.MayRun}, // net -1.1 x (2400/900)^(1/0.65) = -5.0, limit -5
		{"sealing as planned stays inside", []string{"list/cfm50=2400", "list/flows=? ? ?", "sealing/cfm50=2000"}, procedure.Proceed, procedure.MayRun},
		{"mobile home, natural draft on room air", []string{"list/home=2"}, procedure.Refer, procedure.MayRun},
		{"mobile home, sealed appliance", []string{"list/home=2", "appliance/furnace-1/vent=4", "appliance/furnace-1/facts=1"}, procedure.Proceed, procedure.MayRun},
		{"radon fan that may not be off for the baseline: noted", []string{"list/fans=1 2 3 10", "prepare/house=11"}, procedure.Proceed, procedure.MayRun},
		{"radon fan not restored", []string{"list/fans=1 2 3 10", "putback/house=11"}, procedure.Incomplete, procedure.MayRun},
		{"garage: its own zone, its appliance tested like any other", []string{"list/zones=4", "zone/garage-1/door=3", "hose/garage-1=ok", "settle=1",
			"baseline/garage-1=-0.8 -0.9 -0.9 -1.0 -0.9", "reading/garage-1/dryer=-1.2 -1.2 -1.3 -1.2 -1.2", "reading/garage-1/fans=-1.6 -1.7 -1.6 -1.6 -1.7", "doors/garage-1=2 1 1", "redoors/garage-1=2 1 1",
			"reading/garage-1/doors=-1.8 -1.8 -1.9 -1.8 -1.8", "reading/garage-1/air1=-2.0 -2.0 -2.1 -1.9 -2.0", "reading/garage-1/worst=-7.0 -7.0 -7.1 -6.9 -7.0", "baseline/garage-1/closing=-0.9 -0.9 -0.8 -1.0 -0.9"}, procedure.Hold, procedure.MayRun},
		{"an appliance outside the pressure boundary", []string{"appliance/furnace-1/facts=1 2 3 6 7", "flame/furnace-1=ok"}, procedure.Proceed, procedure.MayRun},
		{"oil without the maker's breech figure", []string{"appliance/furnace-1/burner=3 100000", "appliance/furnace-1/facts=1 2 3", "look/furnace-1=ok", "breech/furnace-1=?"}, procedure.Refer, procedure.MayRun},
	} {
		t.Run(c.row, func(t *testing.T) {
			st, j := decide(t, c.change)
			if _, open := st.Next(); open {
				t.Fatal("the walk did not end")
			}
			if j.Decision != c.want || status(j, furnace) != c.status && c.status != "absent" {
				t.Errorf("got %s %q, want %s %q", j.Decision, status(j, furnace), c.want, c.status)
				for _, f := range j.Findings {
					if f.Verdict != procedure.Pass {
						t.Logf("  %s %s %s %s %s", f.Rule, f.Subject, f.Verdict, f.Severity, f.Detail)
					}
				}
				for _, m := range j.Missing {
					t.Logf("  missing %s %s", m.Step, m.Why)
				}
			}
		})
	}
}
