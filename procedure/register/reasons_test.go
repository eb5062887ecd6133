package register

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/forecast"
	"cazward/procedure/journal"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func fp(v float64) *float64 { return &v }

// walkedAt is an event kept s seconds after noon.
func walkedAt(s int, step string, d procedure.Data) procedure.Event {
	at := noon.Add(time.Duration(s) * time.Second)
	return procedure.Event{Kind: d.EventKind(), Step: step, Observed: at, Written: at, Src: procedure.FromWalk, Data: d}
}

func walk(evs ...procedure.Event) Evidence {
	for i := range evs {
		evs[i].N = i + 1
	}
	return Evidence{Record: Record{State: journal.Open}, Rec: journal.Record{Header: procedure.Header{Record: "r"}, Events: evs}, Judgement: procedure.Judgement{Decision: procedure.Proceed}}
}

func spill(sec float64) *procedure.Answer {
	return &procedure.Answer{Spill: &procedure.Spill{Outcome: procedure.SpillStopped, Seconds: sec}}
}

func ok() *procedure.Answer { return &procedure.Answer{Seen: &procedure.Seen{State: procedure.SeenOK}} }

func averaged(v, sec float64) *procedure.Answer {
	return &procedure.Answer{Pressure: &procedure.Pressure{Value: &v, AveragingS: sec}}
}

// screens are n answers, one each so many seconds.
func screens(n, each int) []procedure.Event {
	var evs []procedure.Event
	for i := range n {
		evs = append(evs, walkedAt(i*each, "look/house/x", ok()))
	}
	return evs
}

func zone(base []float64, readings ...procedure.PressureObs) Evidence {
	e := walk()
	e.Observations = procedure.Observations{Zones: []procedure.Zone{{ID: "z", Name: "Basement"}}, ZoneObs: []procedure.ZoneObs{{Zone: "z", Baselines: []procedure.PressureObs{{N: 1, Values: base, Step: "baseline/z"}}}}}
	for i := range readings {
		readings[i].N = i + 2
		if readings[i].Step == "" {
			readings[i].Step = fmt.Sprint("reading/z/", i)
		}
	}
	e.Observations.ZoneObs[0].Readings = readings
	if len(readings) > 0 {
		e.Observations.ZoneObs[0].Worst = &readings[len(readings)-1]
	}
	return e
}

func with(e Evidence, change func(*Evidence)) Evidence { change(&e); return e }

func fans(v ...float64) procedure.PressureObs {
	return procedure.PressureObs{Values: v, Setup: procedure.Setup{Fans: []string{"f1", "f2"}}}
}

func TestReasons(t *testing.T) {
	sign := func(hash, verdict string) *procedure.Sign {
		return &procedure.Sign{Close: hash, Verdict: verdict, Name: "SV", Note: "vent"}
	}
	finding := func(f procedure.Finding) Evidence {
		return with(walk(), func(e *Evidence) {
			e.Judgement.Findings = []procedure.Finding{f}
			e.Judgement.Decision = f.Severity
		})
	}
	closedRec := func(e Evidence) Evidence {
		e.Rec.Closed, e.Rec.CloseHash = true, "h2"
		return e
	}
	decidedAs := func(was procedure.Decision, sha string, edited bool) Evidence {
		e := walk(walkedAt(0, "", &procedure.Plan{Scheme: procedure.Ref{Edited: edited}}), walkedAt(1, "", &procedure.Decided{Decision: was, Scheme: sha}))
		e.Judgement.Scheme = procedure.Ref{Name: "graded-2005", SHA256: "now"}
		return e
	}
	for _, c := range []struct {
		name string
		f    func(Evidence) []Reason
		e    Evidence
		want string // code and arguments, "" for no reason
	}{
		{"sound", integrity, walk(), ""},
		{"damaged", integrity, with(walk(), func(e *Evidence) { e.Record.State, e.Why = journal.Damaged, "line 3" }), "integrity state=damaged why=line 3"},
		{"torn", integrity, with(walk(), func(e *Evidence) { e.Record.State, e.Why = journal.Torn, "5 bytes" }), "integrity state=torn why=5 bytes"},
		{"newer", integrity, with(walk(), func(e *Evidence) { e.Record.State, e.Why = journal.Newer, "kind x" }), "newer why=kind x"},
		{"attachment absent", integrity, with(walk(), func(e *Evidence) { e.Record.Fault = "photo absent" }), "integrity state=fault why=photo absent"},
		{"not judged", integrity, with(walk(), func(e *Evidence) { e.Judgement.Decision = "" }), "not-judged"},

		{"forecast over", forecastOver, finding(procedure.Finding{Rule: forecast.Rule, Subject: "z", Verdict: procedure.Fail, Severity: procedure.Refer, Value: fp(-5.4), Limit: fp(-5)}), "forecast limit=-5.0 side=over value=-5.4 zone=z"},
		{"forecast close", forecastOver, finding(procedure.Finding{Rule: forecast.Rule, Subject: "z", Verdict: procedure.TooClose, Severity: procedure.Refer, Value: fp(-4.9), Limit: fp(-5)}), "forecast limit=-5.0 side=close value=-4.9 zone=z"},
		{"forecast close is no reading", tooClose, finding(procedure.Finding{Rule: forecast.Rule, Subject: "z", Verdict: procedure.TooClose, Severity: procedure.Refer, Value: fp(-4.9), Limit: fp(-5)}), ""},
		{"forecast passes", forecastOver, finding(procedure.Finding{Rule: forecast.Rule, Subject: "z", Verdict: procedure.Pass, Severity: procedure.Proceed, Value: fp(-3), Limit: fp(-5)}), ""},

		{"proceed", decision, walk(), ""},
		{"hold", decision, with(finding(procedure.Finding{Severity: procedure.Hold, Subject: "z"}), func(e *Evidence) {
			e.Observations.Phase = procedure.Daily
			e.Observations.Zones = []procedure.Zone{{ID: "z", Name: "Attic"}}
		}), "hold about=Attic phase=daily"},
		{"leave", decision, finding(procedure.Finding{Severity: procedure.Leave}), "leave"},
		{"refer", decision, finding(procedure.Finding{Severity: procedure.Refer, Subject: "x"}), "refer about=x"},
		{"incomplete", decision, with(walk(), func(e *Evidence) {
			e.Judgement.Decision = procedure.Incomplete
			e.Judgement.Missing = make([]procedure.Missing, 3)
		}), "incomplete n=3"},

		{"far enough", tooClose, finding(procedure.Finding{Verdict: procedure.Pass}), ""},
		{"too close", tooClose, finding(procedure.Finding{Verdict: procedure.TooClose, Subject: "z", Value: fp(-2.96), Limit: fp(-3), Unit: "Pa", Severity: procedure.Hold}), "too-close about=z -2.96 against -3.00 Pa"},

		{"row that was seen", fromMemory, finding(procedure.Finding{Evidence: procedure.EvidenceSeen, Row: "a", Verdict: procedure.Fail, Severity: procedure.Hold}), ""},
		{"recalled row that holds", fromMemory, finding(procedure.Finding{Evidence: procedure.EvidenceMemory, Row: "a", Verdict: procedure.Fail, Severity: procedure.Hold}), "from-memory rows=a"},
		{"recalled row that lets go", fromMemory, with(finding(procedure.Finding{Evidence: procedure.EvidenceMemory, Row: "a", Verdict: procedure.Pass}), func(e *Evidence) { e.Judgement.Decision = procedure.Proceed }), "from-memory rows=a"},
		{"recalled row that did not decide", fromMemory, with(finding(procedure.Finding{Evidence: procedure.EvidenceMemory, Row: "a", Verdict: procedure.Pass}), func(e *Evidence) { e.Judgement.Decision = procedure.Hold }), ""},

		{"decided the same", otherwise, decidedAs(procedure.Proceed, "old", false), ""},
		{"another table", otherwise, decidedAs(procedure.Hold, "old", false), "otherwise-now now=proceed scheme=graded-2005 was=hold why=table"},
		{"edited table", otherwise, decidedAs(procedure.Hold, "old", true), "otherwise-now now=proceed scheme=graded-2005 was=hold why=edited"},
		{"another program", otherwise, decidedAs(procedure.Hold, "now", false), "otherwise-now now=proceed scheme=graded-2005 was=hold why=program"},
		{"never decided", otherwise, walk(), ""},

		{"closed", closing, closedRec(walk()), ""},
		{"open", closing, walk(), "open"},
		{"reopened", closing, walk(walkedAt(0, "", &procedure.Reopen{Reason: "typo"})), "reopened reason=typo"},
		{"accepted", closing, closedRec(walk(walkedAt(0, "", sign("h2", "accept")))), ""},
		{"returned", closing, closedRec(walk(walkedAt(0, "", sign("h2", "return")))), "returned name=SV note=vent"},
		{"signed earlier", closing, closedRec(walk(walkedAt(0, "", sign("h1", "accept")), walkedAt(1, "", &procedure.Reopen{Reason: "typo"}))), "reopened reason=typo; signed-earlier name=SV verdict=accept"},
		{"returned, then accepted", closing, closedRec(walk(walkedAt(0, "", sign("h2", "return")), walkedAt(1, "", sign("h2", "accept")))), ""},

		{"falls with fans", rises, zone([]float64{-1}, fans(-2)), ""},
		{"rises with fans", rises, zone([]float64{-1}, fans(-0.5)), "rises-with-fans rise=0.5 zone=Basement"},
		{"rises with the air handler", rises, zone([]float64{-1}, with2(fans(-0.5), func(p *procedure.PressureObs) { p.Setup.AirHandler = []string{"a"} })), ""},
		{"rises without fans", rises, zone([]float64{-1}, procedure.PressureObs{Values: []float64{0}}), ""},
		{"rises by a little", rises, zone([]float64{-1}, fans(-0.71)), ""},

		// 300 CFM out of a house of 2000 CFM50: 50*(300/2000)^(1/0.65) = 2.70 Pa
		{"net as expected", netFarOff, with(zone([]float64{0}, fans(-2.5)), func(e *Evidence) { e.CFM50 = 2000; e.Flows = map[string]float64{"f1": 200, "f2": 100, "f3": 900} }), ""},
		{"net far too small", netFarOff, with(zone([]float64{0}, fans(-0.6)), func(e *Evidence) { e.CFM50 = 2000; e.Flows = map[string]float64{"f1": 200, "f2": 100} }), "net-far-off net=-0.6 side=less want=-2.7 zone=Basement"},
		{"net far too large", netFarOff, with(zone([]float64{0}, fans(-13.5)), func(e *Evidence) { e.CFM50 = 2000; e.Flows = map[string]float64{"f1": 200, "f2": 100} }), "net-far-off net=-13.5 side=more want=-2.7 zone=Basement"},
		{"no CFM50", netFarOff, zone([]float64{0}, fans(-13.5)), ""},

		{"all differ", sameDigits, zone([]float64{-1, -1.1, -1}, fans(-2, -2.1, -2), fans(-2, -2, -2.1)), ""},
		{"two alike", sameDigits, zone([]float64{-1, -1.1, -1}, fans(-2, -2.1, -2), fans(-2, -2.1, -2)), "same-digits a=reading/z/0 b=reading/z/1 n=3"},
		{"alike and without spread", sameDigits, zone([]float64{-1, -1, -1}, fans(-1, -1, -1)), ""},
		{"one value each", sameDigits, zone([]float64{-1}, fans(-1)), ""},

		{"two that never move", noSpread, zone([]float64{-1, -1, -1}, fans(-2, -2, -2)), ""},
		{"three that never move", noSpread, zone([]float64{-1, -1, -1}, fans(-2, -2, -2), fans(-3, -3, -3)), "no-spread n=3"},

		{"clock fits", slowClock, walk(walkedAt(0, "a/b", ok()), walkedAt(70, "spill/w", spill(60)), walkedAt(80, "a/c", ok())), ""},
		{"clock longer than what passed", slowClock, walk(walkedAt(0, "a/b", ok()), walkedAt(5, "spill/w", spill(60)), walkedAt(10, "a/c", ok())), "clock-longer n=2 passed=10 says=60 step=spill/w"},
		{"averaged longer than what passed", slowClock, walk(walkedAt(0, "a/b", ok()), walkedAt(5, "reading/z/worst", averaged(-1, 60)), walkedAt(9, "a/c", ok())), "clock-longer n=2 passed=9 says=60 step=reading/z/worst"},
		{"last of the record", slowClock, walk(walkedAt(0, "a/b", ok()), walkedAt(5, "spill/w", spill(60))), "clock-longer n=2 passed=5 says=60 step=spill/w"},
		{"several kept in one go", slowClock, walk(walkedAt(0, "a/b", ok()), walkedAt(70, "a/d", ok()), walkedAt(70, "spill/w", spill(60)), walkedAt(70, "a/c", ok())), ""},
		{"timer marks are no neighbours", slowClock, walk(walkedAt(0, "a/b", ok()), walkedAt(3, "spill/w", &procedure.Timer{Act: "start"}), walkedAt(63, "spill/w", &procedure.Timer{Act: "mark"}), walkedAt(64, "spill/w", spill(60)), walkedAt(66, "a/c", ok())), ""},
		{"from paper", slowClock, fromSheet(walk(walkedAt(0, "a/b", ok()), walkedAt(5, "spill/w", spill(60)), walkedAt(10, "a/c", ok()))), ""},
		{"in an invented house", slowClock, with(walk(walkedAt(0, "a/b", ok()), walkedAt(5, "spill/w", spill(60)), walkedAt(10, "a/c", ok())), func(e *Evidence) { e.Rec.Header.Practice = &procedure.Practice{} }), ""},

		{"at a person's pace", fastWalk, walk(screens(40, 20)...), ""},
		{"40 screens in 39 seconds", fastWalk, walk(screens(40, 1)...), "fast-walk minutes=0.7 need=1.3 screens=40"},
		{"a short beginning", fastWalk, walk(screens(5, 1)...), ""},
		{"from paper, fast", fastWalk, fromSheet(walk(screens(40, 1)...)), ""},
		{"40 screens and a minute of smoke", fastWalk, walk(append(screens(40, 3), walkedAt(125, "spill/w", spill(60)))...), "fast-walk minutes=2.1 need=2.4 screens=41"},
		{"CO five minutes after light-off", fastWalk, with(walk(append(screens(40, 3), walkedAt(200, "spill/w", spill(60)))...), func(e *Evidence) {
			e.Observations.Plan.CO.AfterMin = 5
			e.Observations.ApplObs = []procedure.ApplianceObs{{ID: "w", CO: &procedure.GasObs{}}}
		}), "fast-walk minutes=3.3 need=6.1 screens=41"},

		{"drift allowed", drift, drifted(-0.5, -1.0, 1), ""},
		{"drift over", drift, drifted(-0.5, -1.6, 1), "baseline-drift drift=1.1 limit=1.0 zone=Basement"},
		{"plan without a limit", drift, drifted(-0.5, -9, 0), ""},

		{"settled", doubts, with(walk(), func(e *Evidence) { e.Judgement.Doubts = []procedure.DoubtResult{{Code: "gusty", Settled: "stands"}} }), ""},
		{"unsettled", doubts, with(walk(), func(e *Evidence) {
			e.Judgement.Doubts = []procedure.DoubtResult{{Code: "gusty", Settled: "open"}, {Code: "wind", Settled: "left"}, {Code: "wind", Settled: "open"}}
		}), "unsettled-doubts codes=gusty, wind"},

		{"calibrated", calibration, calibrated("2026-01-01"), ""},
		{"calibrated long ago", calibration, calibrated("2024-12-31"), "calibration about=G1 2024-12-31"},
		{"calibrated after the test", calibration, calibrated("2026-03-03"), "calibration about=G1 2026-03-03"},
		{"date not written down", calibration, calibrated(""), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := written(c.f(c.e)); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
			// Every reason also comes out of the whole.
			all := written(Reasons(c.e))
			for _, w := range strings.Split(c.want, "; ") {
				if !strings.Contains(all, w) {
					t.Errorf("%q is not among all reasons: %s", w, all)
				}
			}
		})
	}
}

func with2(p procedure.PressureObs, change func(*procedure.PressureObs)) procedure.PressureObs {
	change(&p)
	return p
}

func fromSheet(e Evidence) Evidence {
	for i := range e.Rec.Events {
		e.Rec.Events[i].Src = procedure.FromSheet
	}
	return e
}

func drifted(a, b, limit float64) Evidence {
	e := zone([]float64{a})
	e.Observations.Plan.Baseline.MaxDrift = limit
	e.Observations.ZoneObs[0].Baselines = append(e.Observations.ZoneObs[0].Baselines, procedure.PressureObs{N: 9, Values: []float64{b}})
	return e
}

func calibrated(date string) Evidence {
	e := walk(walkedAt(0, "", &procedure.Note{}))
	e.Observations.Instruments = []procedure.Instrument{{ID: "gauge", Name: "G1", Calibrated: date}}
	return e
}

// written is reasons on one line, arguments sorted.
func written(r []Reason) string {
	var out []string
	for _, x := range r {
		s := string(x.Code)
		var keys []string
		for k := range x.Args {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		for _, k := range keys {
			s += " " + k + "=" + x.Args[k]
		}
		out = append(out, s)
	}
	return strings.Join(out, "; ")
}

func TestCross(t *testing.T) {
	me := Entry{Key: 1, Record: "r1", Home: "Birch", Phase: procedure.TestIn, Day: 100, Close: "h", Decision: procedure.Proceed, Print: "p", Reasons: []Reason{{Code: FromMemory}, {Code: SameElsewhere}}}
	for _, c := range []struct {
		name   string
		me     Entry
		others []Entry
		want   string
	}{
		{"alone", me, nil, "no-later-test; from-memory"},
		{"itself is no other", me, []Entry{me}, "no-later-test; from-memory"},
		{"test-out on the day", me, []Entry{{Key: 2, Home: "Birch", Phase: procedure.TestOut, Day: 100}}, "from-memory"},
		{"test-out before", me, []Entry{{Key: 2, Home: "Birch", Phase: procedure.TestOut, Day: 99}}, "no-later-test; from-memory"},
		{"another home's test-out", me, []Entry{{Key: 2, Home: "Elm", Phase: procedure.TestOut, Day: 101}}, "no-later-test; from-memory"},
		{"held, so no sealing", with3(me, func(e *Entry) { e.Decision = procedure.Hold }), nil, "from-memory"},
		{"same readings", me, []Entry{{Key: 2, Home: "Elm", Print: "p"}, {Key: 3, Home: "Ash", Print: "p"}}, "no-later-test; same-elsewhere home=Ash; from-memory"},
		{"same readings, same home", me, []Entry{{Key: 2, Home: "Birch", Print: "p"}}, "no-later-test; from-memory"},
		{"same readings in an invented house", me, []Entry{{Key: 2, Home: "Elm", Print: "p", Practice: true}}, "no-later-test; from-memory"},
		{"too few to tell", with3(me, func(e *Entry) { e.Print = "" }), []Entry{{Key: 2, Home: "Elm"}}, "no-later-test; from-memory"},
		{"two of one id", me, []Entry{{Key: 2, Record: "r1", Home: "Birch"}}, "second-record n=2; no-later-test; from-memory"},
	} {
		got := Cross(c.me, c.others)
		if w := written(got.Reasons); w != c.want {
			t.Errorf("%s: %s, want %s", c.name, w, c.want)
		}
		if got.Urgency != Urgency(got) {
			t.Errorf("%s: urgency was not made again", c.name)
		}
	}
}

func with3(e Entry, change func(*Entry)) Entry { change(&e); return e }

// TestUrgency holds the order of the queue; each line stands before the next.
func TestUrgency(t *testing.T) {
	r := func(c ...Code) (out []Reason) {
		for _, x := range c {
			out = append(out, Reason{Code: x})
		}
		return out
	}
	order := []struct {
		name string
		e    Entry
	}{
		{"leave with more", Entry{Decision: procedure.Leave, Reasons: r(SameElsewhere)}},
		{"leave", Entry{Decision: procedure.Leave}},
		{"not judged", Entry{Reasons: r(NotJudged)}},
		{"hold, every reason", Entry{Decision: procedure.Hold, Reasons: r(Codes[3:]...)}},
		{"hold", Entry{Decision: procedure.Hold}},
		{"incomplete", Entry{Decision: procedure.Incomplete}},
		{"refer", Entry{Decision: procedure.Refer}},
		{"proceed, closed on proceed, doubtful", Entry{Decision: procedure.Proceed, Paper: procedure.Proceed, Reasons: r(SlowClock)}},
		{"proceed", Entry{Decision: procedure.Proceed, Paper: procedure.Proceed}},
		{"leave, invented", Entry{Decision: procedure.Leave, Practice: true}},
		{"leave, accepted", Entry{Decision: procedure.Leave, Signed: Accepted}},
	}
	for i := 1; i < len(order); i++ {
		if a, b := order[i-1], order[i]; Urgency(a.e) >= Urgency(b.e) {
			t.Errorf("%s (%d) does not stand before %s (%d)", a.name, Urgency(a.e), b.name, Urgency(b.e))
		}
	}
	for _, same := range []struct {
		name string
		a, b Entry
	}{
		{"closed on leave, proceed now", Entry{Decision: procedure.Proceed, Paper: procedure.Leave}, Entry{Decision: procedure.Leave}},
		{"closed on proceed, hold now", Entry{Decision: procedure.Hold, Paper: procedure.Proceed}, Entry{Decision: procedure.Hold}},
		{"a decision of a later version", Entry{Decision: "flee"}, Entry{Decision: procedure.Leave}},
		{"closed on a decision of a later version", Entry{Decision: procedure.Proceed, Paper: "flee"}, Entry{Decision: procedure.Leave}},
		{"integrity failed but judged", Entry{Decision: procedure.Proceed, Reasons: r(IntegrityFailed)}, Entry{Reasons: r(IntegrityFailed)}},
		{"not judged, closed on leave", Entry{Paper: procedure.Leave}, Entry{Decision: procedure.Leave}},
	} {
		if Urgency(same.a) != Urgency(same.b) {
			t.Errorf("%s: %d, want %d", same.name, Urgency(same.a), Urgency(same.b))
		}
	}
	// An acceptance is no comfort where nothing can be read.
	if u := Urgency(Entry{Signed: Accepted, Reasons: r(IntegrityFailed)}); !Waits(u) {
		t.Error("an accepted record whose integrity failed waits for nobody")
	}
}

// fill gives every field of a value something that is not zero.
func fill(v reflect.Value, n *int) {
	*n++
	switch v.Kind() {
	case reflect.String:
		v.SetString(fmt.Sprint("s", *n))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int64:
		v.SetInt(int64(-*n))
	case reflect.Float64:
		v.SetFloat(float64(*n) / 7)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), n)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range 2 {
			fill(v.Index(i), n)
		}
	case reflect.Struct:
		if v.Type() == timeType {
			v.Set(reflect.ValueOf(noon.Add(time.Duration(*n) * time.Millisecond).In(time.FixedZone("", -7*3600))))
			return
		}
		for i := range v.NumField() {
			fill(v.Field(i), n)
		}
	default:
		panic("no value for " + v.Type().String())
	}
}

func TestSnapshotKeepsEverything(t *testing.T) {
	var full procedure.Observations
	n := 0
	fill(reflect.ValueOf(&full).Elem(), &n)
	odd := procedure.Observations{Notes: []string{}, ZoneObs: []procedure.ZoneObs{{Baselines: []procedure.PressureObs{}}}}
	var op Opener
	for _, o := range []procedure.Observations{full, {}, odd} {
		got, err := op.Open(NewSnapshot(o))
		if err != nil {
			t.Fatal(err)
		}
		// Zones of times differ in identity, not in what they say.
		if a, b := fmt.Sprintf("%#v", flat(o)), fmt.Sprintf("%#v", flat(got)); a != b {
			t.Errorf("came back as\n%s\nwant\n%s", b, a)
		}
	}
	if n < 300 {
		t.Errorf("only %d values were filled", n)
	}
	s := NewSnapshot(full)
	for _, bad := range []*Snapshot{nil, {}, {Form: "other", Plan: s.Plan, Data: s.Data}, {Form: s.Form, Plan: s.Plan, PlanSum: "x", Data: s.Data[:len(s.Data)-1]}, {Form: s.Form, Plan: s.Plan, PlanSum: "x", Data: append(slices.Clone(s.Data), 0)}} {
		if _, err := op.Open(bad); err != ErrSnapshot {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

// flat is a value as packed bytes, which have one spelling.
func flat(o procedure.Observations) []byte { return pack(nil, reflect.ValueOf(o)) }

func FuzzSnapshot(f *testing.F) {
	var full procedure.Observations
	n := 0
	fill(reflect.ValueOf(&full).Elem(), &n)
	full.Plan = procedure.Plan{}
	f.Add(flat(full))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, b []byte) {
		var o procedure.Observations
		if !unpackAll(b, reflect.ValueOf(&o).Elem()) {
			return
		}
		var again procedure.Observations
		if !unpackAll(flat(o), reflect.ValueOf(&again).Elem()) {
			t.Error("what was read cannot be written and read again")
		}
	})
}

func TestTrend(t *testing.T) {
	day := DayOf(time.Date(2026, 3, 5, 0, 0, 0, 0, time.UTC))
	e := func(phase procedure.Phase, d procedure.Decision, net float64) Entry {
		return Entry{Phase: phase, Day: day, Crew: "AB", Decision: d, Appliances: []procedure.ApplianceKind{procedure.Furnace, procedure.Range}, Measures: Measures{Nets: []Net{{net, fmt.Sprint("c", net < -3)}}, Spills: []float64{-net}}}
	}
	tr := NewTrend(ByMonth)
	for _, x := range []Entry{e("test-in", "hold", -4), e("test-in", "proceed", -1), e("test-in", "", -2), e("test-in", "proceed", -3), e("test-in", "proceed", -5), e("test-out", "proceed", -1), with3(e("test-in", "leave", -90), func(e *Entry) { e.Practice = true })} {
		tr.Add(x)
	}
	rows := tr.Rows()
	if len(rows) != 2 || rows[0].Group != "2026-03" || rows[0].Phase != procedure.TestIn || rows[1].Phase != procedure.TestOut {
		t.Fatalf("%+v", rows)
	}
	r := rows[0]
	if r.Homes != 5 || r.Decisions["proceed"] != 3 || r.Decisions["hold"] != 1 || r.Decisions["not judged"] != 1 {
		t.Errorf("%+v", r)
	}
	if *r.Net.Q1 != -4 || *r.Net.Median != -3 || *r.Net.Q3 != -2 || *r.Net.Worst != -5 || *r.Spill.Worst != 5 || r.Draft.Median != nil {
		t.Errorf("%v %v %v %v", *r.Net.Q1, *r.Net.Median, *r.Net.Q3, *r.Net.Worst)
	}
	if r.Configs[0] != (ConfigCount{"cfalse", 3}) {
		t.Errorf("%+v", r.Configs)
	}
	by := NewTrend(ByAppliance)
	by.Add(e("test-in", "hold", -4))
	if rows := by.Rows(); len(rows) != 2 || rows[0].Group != "furnace" || rows[1].Group != "range" {
		t.Errorf("%+v", rows)
	}
}
