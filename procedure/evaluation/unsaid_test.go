package evaluation_test

import (
	"testing"
	"time"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/evaluation"
)

// Deserves hold: the vent is warm from its own burn minutes ago, so the time
// for a warm vent (2 min) holds, not that for a cold one; not known is the
// shorter one too.
func TestAdversaryTimedAgainWhileWarm(t *testing.T) {
	w := beginIn(t, spillScheme, procedure.TestIn, furnaceHome("doubt=ok looked", "spill/furnace-1/natural=20s"))
	w.To("putback/house")
	w.Correct("list/fans", "1 1 2 3")
	w.Answers["spill/furnace-1"] = "200s"
	w.To("")
	w.atLeast(procedure.Hold, w.judgeAs(spillScheme))
}

// Deserves hold: the partner burned on the same vent just before, so the vent
// is warm or its warmth not known: the shorter time holds.
func TestAdversaryVentWarmFromPartner(t *testing.T) {
	w := beginIn(t, spillScheme, procedure.TestIn, commonAnswers("doubt=ok looked", "spill/furnace-1=200s", "spill/furnace-1/natural=20s"))
	w.To("")
	w.atLeast(procedure.Hold, w.judgeAs(spillScheme))
}

// Deserves hold: it spilled over its time on a vent that a partner had warmed,
// where it ought to be easier; a second try on a vent warmer still does not
// erase that.
func TestAdversaryWarmVentRetake(t *testing.T) {
	w := beginIn(t, annexScheme, procedure.TestIn, commonAnswers("doubt=r", "spill/furnace-1/natural=20s"))
	w.To("spill/water-heater-1")
	w.Clock("spill/water-heater-1", 30*time.Second)
	w.To("spill/furnace-1")
	w.Clock("spill/furnace-1", 310*time.Second)
	w.Answers["spill/furnace-1"] = "20s"
	if step, _ := w.State.Next(); step.Form == procedure.FormDoubt {
		w.To("spill/furnace-1")
	}
	w.Answers["doubt"] = "k"
	w.To("")
	w.atLeast(procedure.Hold, w.judgeAs(annexScheme))
}

// Deserves incomplete: the water heater was never seen with the third
// appliance on its vent lit (each common vent is tried with all lit).
func TestAdversaryPartnerNamedLater(t *testing.T) {
	w := begin(t, commonAnswers("list/appliances=1 3 2", "prepare/fired=120 120", "appliance/boiler-1/burner=1 100000", "appliance/boiler-1/vent=3", "appliance/boiler-1/category=3", "appliance/boiler-1/facts=1",
		"look/boiler-1=ok", "co/boiler-1=12 7", "appliance/boiler-1/partners=1 2"))
	w.To("putback/house")
	w.Correct("appliance/water-heater-1/partners", "1 2")
	before := len(w.Asked)
	w.To("")
	for _, s := range w.Asked[before:] {
		if s.Ask == "together" {
			return
		}
	}
	w.atLeast(procedure.Incomplete, w.judge())
}

// Deserves hold: the held zone read 6.1 Pa below its baseline before light-off
// and the limit is 5; a stop of five minutes makes another reading needed, it
// does not unread this one.
func TestAdversaryHeldUnreadByStop(t *testing.T) {
	w := begin(t, furnaceHome("held/furnace-1=-7.0 -7.0 -7.0 -7.0 -7.1"))
	w.To("spill/furnace-1")
	w.Stop(5 * time.Minute)
	w.Answers["held/furnace-1"] = "-2.0 -2.0 -2.0 -2.0 -2.0"
	w.To("")
	w.atLeast(procedure.Hold, w.judge())
}

// Deserves hold and off until serviced: a diluted sample over a band counts
// there; one that is not diluted but lower never erases it.
func TestAdversaryDilutedRetake(t *testing.T) {
	w := begin(t, furnaceHome("co/furnace-1=450 17"))
	w.To("doubt/diluted/co/furnace-1")
	w.Do("co/furnace-1", &procedure.Doubt{Code: procedure.DoubtDiluted, About: []int{w.State.Last()}, Settled: "retake"})
	w.Answers["co/furnace-1"] = "12 7"
	w.To("")
	if j := w.atLeast(procedure.Hold, w.judge()); status(j, "furnace-1") != procedure.OffUntilServiced {
		t.Errorf("status %q", status(j, "furnace-1"))
	}
}

// Deserves hold: it spilled with all on the vent lit; a reason to leave the
// step out does not take the place of what was seen.
func TestAdversaryTogetherUnsaid(t *testing.T) {
	for _, name := range []string{"answered by a skip", "answered again", "corrected to a skip"} {
		t.Run(name, func(t *testing.T) {
			w := begin(t, commonAnswers())
			w.To("together/furnace-1+water-heater-1")
			for _, id := range []string{"water-heater-1", "furnace-1"} {
				w.Do("together/"+id, &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenWrong}})
			}
			for _, id := range []string{"water-heater-1", "furnace-1"} {
				k := "together/" + id
				switch name {
				case "answered by a skip":
					w.Try(k, &procedure.Skip{Reason: procedure.SkipCannot})
				case "answered again":
					w.Try(k, &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenOK}})
				default:
					w.Try(k, w.Correction(k, &procedure.Skip{Reason: procedure.SkipCannot}))
				}
			}
			w.atLeast(procedure.Hold, w.judge())
		})
	}
}

// Deserves off until serviced: with all lit it spilled at worst case, and with
// all lit it was not tried under natural conditions, only alone.
func TestAdversaryTogetherNotAtRest(t *testing.T) {
	w := begin(t, commonAnswers("together/furnace-1+water-heater-1=1 2", "spill/furnace-1/natural=20s", naturalPasses, "spill/water-heater-1/natural=20s", "draft/water-heater-1/natural="+goodDraft))
	w.To("")
	j := w.want(procedure.Hold)
	for _, a := range j.Appliances {
		if a.Status != procedure.OffUntilServiced {
			t.Errorf("%s: %q", a.ID, a.Status)
		}
	}
}

// Deserves hold: the zone in which it stands was pulled 6.1 Pa below outdoors
// by the fans of the house, so it is inside the boundary whatever is said
// afterwards; an electric one has no flue CO.
func TestAdversaryNetUnsaid(t *testing.T) {
	for name, c := range map[string][2]string{
		"said to stand outside the boundary": {"appliance/furnace-1/facts", "1 2 3 6 7"},
		"said to be electric":                {"appliance/furnace-1/burner", "4 80000"},
	} {
		t.Run(name, func(t *testing.T) {
			w := begin(t, furnaceHome("reading/basement-1/worst=-7.0 -7.0 -7.1 -7.0 -7.0"))
			w.To("putback/house")
			w.Correct(c[0], c[1])
			w.To("")
			w.atLeast(procedure.Incomplete, w.judge())
		})
	}
}

// Deserves hold and off until serviced: its draft failed with the house at
// rest, which no place of the appliance excuses.
func TestAdversaryNaturalDraftUnsaid(t *testing.T) {
	for name, c := range map[string][2]string{
		"said to stand outside the boundary": {"appliance/furnace-1/facts", "1 2 3 6 7"},
		"said to be electric":                {"appliance/furnace-1/burner", "4 80000"},
	} {
		t.Run(name, func(t *testing.T) {
			w := begin(t, furnaceHome("draft/furnace-1="+weakDraft, "draft/furnace-1/natural="+weakDraft, "spill/furnace-1/natural=20s"))
			w.To("putback/house")
			w.Correct(c[0], c[1])
			w.To("")
			if j := w.atLeast(procedure.Hold, w.judge()); status(j, "furnace-1") != procedure.OffUntilServiced {
				t.Errorf("status %q", status(j, "furnace-1"))
			}
		})
	}
}

// Deserves leave, fuel off and no second fire: over 400 ppm with spillage. A
// fan added to the list afterwards makes it worse, not unseen.
func TestAdversaryEmergencyUnsaid(t *testing.T) {
	w := begin(t, furnaceHome("spill/furnace-1=still 90s", "co/furnace-1=450 7"))
	w.To("ambient/furnace-1")
	w.want(procedure.Leave)
	w.Correct("list/fans", "1 1 2 3")
	w.Answers["spill/furnace-1"], w.Answers["co/furnace-1"] = "20s", "12 7"
	before := len(w.Asked)
	w.To("")
	for _, s := range w.Asked[before:] {
		if s.ID == "spill/furnace-1" {
			t.Error("the burner is lit again")
		}
	}
	if j := w.atLeast(procedure.Leave, w.judge()); status(j, "furnace-1") != procedure.FuelOff {
		t.Errorf("status %q", status(j, "furnace-1"))
	}
}

// Deserves hold and off until serviced: CO over the range of the analyser was
// read at it, in whichever zone it stands.
func TestAdversaryOverRangeMoved(t *testing.T) {
	a := twoZones()
	a["co/water-heater-1"] = "over"
	w := begin(t, a)
	w.To("putback/house")
	w.want(procedure.Hold)
	w.Correct("appliance/water-heater-1/zone", "1")
	if j := w.atLeast(procedure.Hold, w.judge()); status(j, "water-heater-1") != procedure.OffUntilServiced && status(j, "water-heater-1") != procedure.FuelOff {
		t.Errorf("status %q", status(j, "water-heater-1"))
	}
}

// Deserves hold: the zone was read 6.1 Pa low at its held worst case, and the
// furnace is there still, though the appliance before whose light-off it was
// read is taken off the list (a daily test looks at none before).
func TestAdversaryHeldOfDropped(t *testing.T) {
	w := beginIn(t, "", procedure.Daily, commonAnswers("held/water-heater-1=-7.0 -7.0 -7.0 -7.0 -7.1"))
	w.To("spill/water-heater-1")
	if w.TryCorrect("list/appliances", "1") != nil {
		return
	}
	w.Correct("appliance/furnace-1/facts", "1 2 3 7")
	w.To("")
	w.atLeast(procedure.Hold, w.judge())
}

// Deserves incomplete under the other scheme: there each door is decided by
// smoke, and the walk, which shut them all, never asked; unasked is not
// evaluated.
func TestAdversaryDoorsOfOtherScheme(t *testing.T) {
	w := beginIn(t, annexScheme, procedure.TestIn, furnaceHome("appliance/furnace-1/vent=2", "appliance/furnace-1/category=1", "appliance/furnace-1/facts=1 2 3", "doubt=ok looked"))
	w.To("")
	w.atLeast(procedure.Incomplete, w.judgeAs(gradedScheme))
}

// Deserves the strictest row that could apply, so hold at a net of 6.1 Pa: a
// plate of category I is no positive-pressure vent, and a draft hood no fan;
// the two facts contradict each other, so the vent is not known.
func TestAdversaryVentFactsContradict(t *testing.T) {
	for name, c := range map[string][]string{
		"power-vented, category I":       {"appliance/furnace-1/vent=3", "appliance/furnace-1/category=1", "appliance/furnace-1/facts=1"},
		"fan-assisted with a draft hood": {"appliance/furnace-1/vent=2", "appliance/furnace-1/category=1", "appliance/furnace-1/facts=1 2 3 7"},
	} {
		t.Run(name, func(t *testing.T) {
			w := begin(t, furnaceHome(append(c, "reading/basement-1/worst=-7.0 -7.0 -7.1 -7.0 -7.0")...))
			w.To("")
			w.want(procedure.Hold)
		})
	}
}

// Deserves hold: natural draft on gas with neither draft hood nor barometric
// control has no hood, which the visual findings hold.
func TestAdversaryNoDraftHoodAtAll(t *testing.T) {
	w := begin(t, furnaceHome("appliance/furnace-1/facts=1 2 3"))
	w.To("")
	w.want(procedure.Hold)
}

// Deserves incomplete: a furnace has a blower, the test itself asks what the
// flame does when it starts, so the air handler of this house was never tried.
func TestAdversaryFurnaceWithoutAirHandler(t *testing.T) {
	w := begin(t, furnaceHome("list/airhandlers=none"))
	w.To("")
	w.atLeast(procedure.Incomplete, w.judge())
}

// Deserves incomplete: the gas dryer stands on the list of burners, so a dryer
// blows outdoors that did not run at worst case.
func TestAdversaryGasDryerNotRun(t *testing.T) {
	w := begin(t, furnaceHome("list/appliances=1 10", "appliance/gas-dryer-1/burner=1 20000", "look/gas-dryer-1=ok", "list/fans=1 2"))
	w.To("")
	w.atLeast(procedure.Incomplete, w.judge())
}

// Deserves hold: the clock was marked at 75 s, past the minute, which counts
// as a fail on the screen that shows it; what is typed, left out, started again
// or stopped after that does not unmark it. A clock stopped before its limit is
// void, one past it is not.
func TestAdversaryClockUnsaid(t *testing.T) {
	const k = "spill/furnace-1"
	for name, then := range map[string]func(w walk, s time.Time){
		"none": func(w walk, _ time.Time) {
			w.Try(k, &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillNone, Timed: true}})
		},
		"left out": func(w walk, _ time.Time) { w.Try(k, &procedure.Skip{Reason: procedure.SkipCannot}) },
		"started again": func(w walk, s time.Time) {
			if w.timer(k, "start", s, 100) == nil && w.timer(k, "mark", s, 120) == nil {
				w.Try(k, &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillStopped, Seconds: 20, Timed: true}})
			}
		},
		"stopped": func(w walk, _ time.Time) {
			w.Stop(time.Minute)
			w.Answers["resume/"+itoa(w.State.Last())+"/fired"] = "1"
		},
	} {
		t.Run(name, func(t *testing.T) {
			w := begin(t, furnaceHome("spill/furnace-1/natural=20s", naturalPasses))
			w.To(k)
			s := w.At
			if w.timer(k, "start", s, 0) != nil || w.timer(k, "mark", s, 75) != nil {
				t.Fatal("no clock")
			}
			then(w, s)
			if st, ok := w.State.StepFor(k); !ok || w.State.Has(k) {
				t.Fatalf("%v: it was taken", st.ID)
			}
			w.Answers[k] = "still 75s" // all that it takes now
			w.To("")
			w.atLeast(procedure.Hold, w.judge())
		})
	}
}

// Deserves incomplete: CO is due at steady state or ten minutes; it was read a
// minute after light-off, and the question about it was left open.
func TestAdversaryEarlyCOLeft(t *testing.T) {
	w := begin(t, furnaceHome("doubt=k"))
	w.To("spill/furnace-1")
	w.Clock("spill/furnace-1", 30*time.Second)
	w.To("")
	w.atLeast(procedure.Incomplete, w.judge())
}

// Deserves a new baseline, so incomplete without one: six hours passed between
// two answers of one sitting (a closed lid), over the hour.
func TestAdversaryLidClosed(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("held/furnace-1")
	w.At = w.At.Add(6 * time.Hour)
	w.To("")
	if len(w.State.Observations().ZoneObs[0].Baselines) < 3 {
		w.atLeast(procedure.Incomplete, w.judge())
	}
}

// Deserves hold: too close by the readings, and pairs that say 0.1 Pa where
// the readings say 4.8 contradict them far beyond the give-or-take of both;
// they are no cure.
func TestAdversaryPairsContradict(t *testing.T) {
	w := begin(t, furnaceHome("reading/basement-1/worst=-5.7 -5.7 -5.6 -5.7 -5.7", "settle/basement-1=1", "pairs/basement-1=-1.9 -2.0 -1.9 -2.0 -1.9 -2.0"))
	w.To("")
	w.atLeast(procedure.Incomplete, w.judge())
}

// Deserves hold, too close, as without it: a gauge said to be good to 1 % of
// the reading and nothing else has no stated accuracy near zero, so 0.25 Pa
// holds there.
func TestAdversaryAccuracyHalfStated(t *testing.T) {
	w := begin(t, furnaceHome("arrive/gauge=gauge G1; 1; 2026-01-01; 0.1; 1%", "reading/basement-1/worst=-5.7 -5.7 -5.7 -5.7 -5.7", "settle/basement-1=2"))
	w.To("")
	w.atLeast(procedure.Hold, w.judge())
}

// Deserves off until serviced: the vent had not cooled, so natural conditions
// were not tested.
func TestAdversaryNotCooled(t *testing.T) {
	w := begin(t, furnaceHome("spill/furnace-1=61s", "cooled/furnace-1=1", "spill/furnace-1/natural=20s", naturalPasses))
	w.To("")
	if j := w.want(procedure.Hold); status(j, "furnace-1") != procedure.OffUntilServiced {
		t.Errorf("status %q", status(j, "furnace-1"))
	}
}

// Deserves to be refused: makers print the breech draft in inches of water, so
// -0.04 without a unit is not 0.04 Pa, which every draft passes.
func TestAdversaryBreechInInches(t *testing.T) {
	w := begin(t, furnaceHome("appliance/furnace-1/burner=3 100000", "appliance/furnace-1/facts=1 2 3", "look/furnace-1=ok"))
	w.To("breech/furnace-1")
	if w.Try("breech/furnace-1", w.Data("breech/furnace-1", "-0.04")) == nil {
		t.Error("taken as 0.04 Pa")
	}
	w.Do("breech/furnace-1", w.Data("breech/furnace-1", "-10"))
}

// Deserves hold: 0.05 % of CO is 500 ppm; the sign of percent is not dropped.
func TestAdversaryCOInPercent(t *testing.T) {
	w := begin(t, furnaceHome())
	w.To("co/furnace-1")
	step, _ := w.State.Next()
	if en, err := forms.Parse(step, "0.05 % 7", forms.ParseContext{Twice: true}); err == nil {
		w.Do("co/furnace-1", en[0].Data)
		w.To("")
		w.atLeast(procedure.Hold, w.judge())
	}
}

// By hand: readings whose set-up is not the one that the judgement takes them
// for. Each deserves incomplete: a baseline is read with all off, and what was
// not seen at the held worst case was not seen.
func TestAdversarySetupsByHand(t *testing.T) {
	for name, change := range map[string]func(o *procedure.Observations){
		"baselines with the fans on": func(o *procedure.Observations) {
			for i := range o.ZoneObs[0].Baselines {
				o.ZoneObs[0].Baselines[i].Setup.Fans = []string{"f1", "f2"}
			}
		},
		"worst case of a set-up not known": func(o *procedure.Observations) {
			o.ZoneObs[0].Worst.SetupN, o.ZoneObs[0].Worst.Setup = 0, procedure.Setup{}
			o.ZoneObs[0].Readings[1] = *o.ZoneObs[0].Worst
		},
		"spillage of another set-up": func(o *procedure.Observations) { o.ApplObs[0].Spill.SetupN = 3 },
		"draft of another set-up":    func(o *procedure.Observations) { o.ApplObs[0].Draft.Setup = procedure.Setup{CAZDoor: "open"} },
		"with all lit: a word of a later version": func(o *procedure.Observations) {
			o.Appliances[0].Facts.Shares, o.ApplObs[0].Together = procedure.Yes, "partly"
		},
	} {
		t.Run(name, func(t *testing.T) {
			o := handHome()
			change(&o)
			if j := evaluation.Judge(o, handRules()); j.Decision.Milder(procedure.Incomplete) {
				t.Errorf("decision %s, want incomplete", j.Decision)
			}
		})
	}
}

// Deserves refer at least, and no may-run: 29 ppm in the room came from the
// furnace. With its burner off the CO stops, but its source is settled only
// when somebody has put the furnace right.
func TestAdversarySourceMayRun(t *testing.T) {
	w := begin(t, furnaceHome("ambient/furnace-1=29", "source=1", "settled=1"))
	w.To("")
	if j := w.atLeast(procedure.Refer, w.judge()); status(j, "furnace-1") == procedure.MayRun {
		t.Error("the appliance that put 29 ppm into the room may run")
	}
}

// Deserves hold: it spilled over its time; a doubt of a code that no sign
// raised does not call for another try.
func TestAdversaryDoubtNobodyRaised(t *testing.T) {
	w := begin(t, furnaceHome("spill/furnace-1=still 90s"))
	w.To("flame/furnace-1")
	_, n, _ := w.State.Fact("spill/furnace-1")
	if w.Try("spill/furnace-1", &procedure.Doubt{Code: procedure.DoubtGusty, About: []int{n}, Settled: "retake"}) != nil {
		return
	}
	w.Answers["spill/furnace-1"] = "20s"
	w.To("")
	w.atLeast(procedure.Hold, w.judge())
}
