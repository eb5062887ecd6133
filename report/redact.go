package report

import (
	"fmt"
	"reflect"
	"strings"

	"cazward/procedure"
	"cazward/procedure/wording"
)

// Redact returns the input without label, address, names, photos and free
// notes, for every form at once. What people typed as free text is replaced
// by words that say so; things of the house are named by their kind and a
// number. Readings, times, codes, hashes, figures with their sources, and the
// reasons for loosened life-safety rows stay.
//
// It works by what may stay: a text whose field is not listed below is left
// out, so that a new field of the vocabulary is private until somebody
// decides otherwise.
func Redact(in Input) Input {
	b := newBuilder(in)
	r := redactor{mark: b.t("left-out")}
	out := reflect.New(reflect.TypeOf(in)).Elem()
	r.copy(out, reflect.ValueOf(in), "")
	x := out.Interface().(Input)
	x.Photos, x.Redacted = nil, true
	renameAll(b.lang, in.Observations, in.Judgement, &x.Observations, &x.Judgement)
	for p, old := x.Prior, in.Prior; p != nil; p, old = p.Prior, old.Prior {
		renameAll(b.lang, old.Observations, old.Judgement, &p.Observations, &p.Judgement)
	}
	return x
}

// mayStay are the plain texts that hold codes, ids, units, dates, hashes or
// published sources. Named text types hold codes by their nature.
var mayStay = fields(`
	Input.CloseHash Input.Head Input.ProgramVersion Comparison.CloseHash
	Header.Format Header.Record Practice.House Practice.SHA256 Prior.Record Prior.Close
	Event.Step Answer.Choice Number.Unit Pressure.Unit Pressure.Instrument Pairs.Unit Names.IDs CarriedOne.Step
	RosterItem.ID RosterItem.Kind Burner.Unit Weather.WindUnit Weather.TempUnit Instrument.ID Instrument.Calibrated
	Timer.Act Hazard.Subject Attach.Type Attach.Step Log.SHA256 Log.Unit Doubt.Settled
	RowUsed.Row RowUsed.Unit RowUsed.Source Decided.Program Decided.Scheme Decided.Missing
	Close.Attachments Reopen.Close Sign.Close Sign.Verdict
	Setup.Fans Setup.Doors Setup.AirHandler Setup.CAZDoor Setup.NotRun
	Ref.Name Ref.Title Ref.Edition Ref.Status Ref.SHA256
	Plan.Doors Plan.CAZDoor Plan.Natural Stage.Needs Stage.Repeat BaselinePlan.Net AirPlan.When COPlan.Basis
	Tier.Row Tier.Unit Tier.Source Row.ID Row.Note SourceRef.Title SourceRef.Edition SourceRef.Clause Checked.Date Checked.Edition
	Limit.Unit Limit.Basis Rules.COBasis MatrixRow.Action ActionRow.Code ActionRow.Action
	Observations.Record Zone.ID Appliance.ID Appliance.Zone Appliance.Partners Check.Key Check.Code Check.Subject
	AmbientObs.Step HazardObs.Source PressureObs.Step PressureObs.Instrument ZoneObs.Zone ApplianceObs.ID ApplianceObs.NotFired
	DoubtObs.Zone DoubtObs.Step SkipObs.Step Missing.Step Missing.Why
	Finding.Rule Finding.Subject Finding.Unit Finding.Row Finding.Source Finding.Action Finding.Detail Finding.Unsure
	ApplianceResult.ID Configuration.CAZDoor DoubtResult.Settled
	AcceptedRisk.Row AcceptedRisk.Reason Judgement.NotAsked`)

func fields(s string) map[string]bool {
	out := map[string]bool{}
	for _, f := range strings.Fields(s) {
		out[f] = true
	}
	return out
}

type redactor struct{ mark string }

// copy fills dst from src, sharing nothing that holds text. field is the
// struct field that src stands in.
func (r redactor) copy(dst, src reflect.Value, field string) {
	switch src.Kind() {
	case reflect.String:
		s := src.String()
		if s != "" && src.Type() == reflect.TypeFor[string]() && !mayStay[field] {
			s = r.mark
		}
		dst.SetString(s)
	case reflect.Struct:
		if src.Type().PkgPath() == "time" {
			dst.Set(src)
			return
		}
		for i := range src.NumField() {
			f := src.Type().Field(i)
			if f.IsExported() {
				r.copy(dst.Field(i), src.Field(i), src.Type().Name()+"."+f.Name)
			}
		}
	case reflect.Slice:
		if src.IsNil() || src.Type().Elem().Kind() == reflect.Uint8 {
			return
		}
		dst.Set(reflect.MakeSlice(src.Type(), src.Len(), src.Len()))
		for i := range src.Len() {
			r.copy(dst.Index(i), src.Index(i), field)
		}
	case reflect.Pointer:
		if !src.IsNil() {
			dst.Set(reflect.New(src.Type().Elem()))
			r.copy(dst.Elem(), src.Elem(), field)
		}
	case reflect.Interface:
		if !src.IsNil() {
			x := reflect.New(src.Elem().Type()).Elem()
			r.copy(x, src.Elem(), field)
			dst.Set(x)
		}
	case reflect.Map: // the true practice house, which no report shows
	default:
		dst.Set(src)
	}
}

// renameAll names the things of a house by kind and number. was and wasJudged
// are what o and j were copied from.
func renameAll(l wording.Lang, was procedure.Observations, wasJudged procedure.Judgement, o *procedure.Observations, j *procedure.Judgement) {
	b := &builder{lang: l}
	count := map[string]int{}
	ids, names := map[string]string{}, map[string]string{}
	rename := func(at *string, id, old, kind string) {
		count[kind]++
		*at = capital(fmt.Sprintf("%s %d", kind, count[kind]))
		ids[id] = *at
		if _, ok := names[old]; !ok {
			names[old] = *at
		}
	}
	for i, z := range was.Zones {
		rename(&o.Zones[i].Name, z.ID, z.Name, b.t("c-zone"))
	}
	for i, a := range was.Appliances {
		rename(&o.Appliances[i].Name, a.ID, a.Name, wording.KindName(l, string(a.Kind)))
	}
	for k, list := range [][]procedure.RosterItem{was.Fans, was.Doors, was.AirHandlers} {
		for i, it := range list {
			rename(&[][]procedure.RosterItem{o.Fans, o.Doors, o.AirHandlers}[k][i].Name, it.ID, it.Name, wording.KindName(l, it.Kind))
		}
	}
	known := func(old string) string {
		if n := ids[old]; n != "" {
			return n
		}
		if n := names[old]; n != "" {
			return n
		}
		return b.t("left-out")
	}
	for i, a := range j.Appliances {
		j.Appliances[i].Name = known(a.ID)
	}
	for i, w := range wasJudged.WorstCase {
		j.WorstCase[i].Zone = known(w.Zone)
		switch j.WorstCase[i].Config.AirHandler = w.Config.AirHandler; w.Config.AirHandler {
		case "", "on", "off":
		default: // several, by name
			j.WorstCase[i].Config.AirHandler = b.t("left-out")
		}
		for k, n := range w.Config.Fans {
			j.WorstCase[i].Config.Fans[k] = known(n)
		}
		for k, n := range w.Config.Doors {
			j.WorstCase[i].Config.Doors[k] = known(n)
		}
	}
}
