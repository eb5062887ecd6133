package csv_test

import (
	"bytes"
	stdcsv "encoding/csv"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/report"
	"cazward/report/csv"
	"cazward/report/reporttest"
)

var update = flag.Bool("update", false, "write the golden files")

func write(t testing.TB, in report.Input) string {
	t.Helper()
	var b bytes.Buffer
	if err := csv.Write(&b, in); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// rows are the data of a file by column name.
func rows(t *testing.T, in report.Input) []map[string]string {
	t.Helper()
	all, err := stdcsv.NewReader(strings.NewReader(write(t, in))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(all[0], report.TidyColumns) {
		t.Fatalf("head %q", all[0])
	}
	var out []map[string]string
	for _, line := range all[1:] {
		m := map[string]string{}
		for i, c := range all[0] {
			m[c] = line[i]
		}
		out = append(out, m)
	}
	return out
}

func find(t *testing.T, list []map[string]string, want map[string]string) map[string]string {
	t.Helper()
	for _, m := range list {
		ok := true
		for k, v := range want {
			ok = ok && m[k] == v
		}
		if ok {
			return m
		}
	}
	t.Fatalf("no row with %v", want)
	return nil
}

func TestRows(t *testing.T) {
	in := reporttest.Hold()
	list := rows(t, in)
	findings, readings := 0, 0
	for _, m := range list {
		switch m["type"] {
		case "finding":
			findings++
		case "reading":
			readings++
		default:
			t.Errorf("a row of type %q", m["type"])
		}
		if m["record"] != "cedar-14-in" || m["practice"] != "yes" {
			t.Errorf("a row of record %q, practice %q", m["record"], m["practice"])
		}
		for _, c := range []string{"value", "lowest", "highest", "limit", "margin", "uncertainty", "line", "samples"} {
			if m[c] == "" {
				continue
			}
			if _, err := strconv.ParseFloat(m[c], 64); err != nil {
				t.Errorf("%s is no number: %q", c, m[c])
			}
		}
	}
	// 8 pressures of the zone, 1 draft; CO twice with its O2; ambient twice.
	if findings != len(in.Judgement.Findings) || readings != 15 {
		t.Errorf("%d findings, %d readings", findings, readings)
	}
	for _, c := range []struct{ want, also map[string]string }{
		{map[string]string{"step": "reading/z1/worst"}, map[string]string{"value": "-3.52", "unit": "Pa", "lowest": "-3.7", "highest": "-3.4", "samples": "5", "in_force": "yes", "fans_on": "bath fan, hood, dryer", "doors_shut": "bedroom 2, bath", "caz_door": "open", "name": "Basement"}},
		{map[string]string{"step": "baseline/z1", "in_force": "no"}, map[string]string{"samples": "3", "unit": "Pa"}},
		{map[string]string{"step": "co/a2", "value": "480"}, map[string]string{"in_force": "no", "quantity": "CO as measured"}},
		{map[string]string{"step": "draft/a2"}, map[string]string{"quantity": "draft", "subject": "a2", "name": "Furnace"}},
		{map[string]string{"rule": "depressurization"}, map[string]string{"value": "-2.58", "limit": "-3", "margin": "0.42", "uncertainty": "0.52", "verdict": "too-close", "leads_to": "hold", "evidence": "memory", "in_force": ""}},
		{map[string]string{"rule": "visual"}, map[string]string{"value": "", "limit": "", "detail": "soot", "condition": ""}},
		{map[string]string{"quantity": "O2", "step": "co/a2"}, map[string]string{"value": "7", "unit": "%"}},
		{map[string]string{"rule": "spillage", "subject": "a1", "condition": "natural"}, map[string]string{"value": "66"}}, // nothing measured is empty, not 0
	} {
		m := find(t, list, c.want)
		for k, v := range c.also {
			if m[k] != v {
				t.Errorf("%v: %s is %q, want %q", c.want, k, m[k], v)
			}
		}
	}
}

// A text that a spreadsheet would compute is kept from it; a number below
// zero stays a number.
func TestFormula(t *testing.T) {
	for _, evil := range []string{"=1+2", "+1", "-1+2", "@SUM(A1)", "|calc", "\t=1", "\r=1", "＝1", " =1"} {
		in := reporttest.Hold()
		in.Header.Home = evil
		for i := range in.Observations.Appliances {
			in.Observations.Appliances[i].Name = evil
		}
		for _, m := range rows(t, in) {
			for _, c := range []string{m["home"], m["name"]} {
				if c != "" && strings.ContainsAny(c[:1], "=+-@|\t\r ") || strings.HasPrefix(c, "＝") {
					t.Fatalf("%q comes out as %q", evil, c)
				}
			}
		}
	}
	if m := find(t, rows(t, reporttest.Hold()), map[string]string{"rule": "depressurization"}); m["value"] != "-2.58" {
		t.Errorf("a number came out as %q", m["value"])
	}
}

func TestHostile(t *testing.T) {
	in := reporttest.Incomplete()
	in.Observations.Appliances[0].Name = "a,b\"c\nd;e"
	in.Header.Home = "x\x00y\u202ez"
	got := write(t, in)
	if !strings.Contains(got, `"a,b""c d;e"`) {
		t.Error("quotes and commas are not quoted after RFC 4180")
	}
	if strings.Contains(strings.ReplaceAll(got, "\r\n", ""), "\r") || strings.Contains(strings.ReplaceAll(got, "\r\n", ""), "\n") || strings.ContainsAny(got, "\x00\u202e") {
		t.Error("a control character, or a line end that is not CRLF")
	}
	if n := len(rows(t, in)); n < 300 {
		t.Errorf("%d rows of 300 readings", n)
	}
}

// A pair is two readings; an hazard and a clipped meter say so.
func TestOtherReadings(t *testing.T) {
	in := reporttest.Leave()
	v := -3.0
	add := func(step string, d procedure.Data) {
		n := len(in.Events) + 1
		in.Events = append(in.Events, procedure.Event{N: n, Kind: d.EventKind(), Step: step, Data: d})
	}
	add("pairs/z1", &procedure.Answer{Pairs: &procedure.Pairs{Off: []float64{-1, -1.1}, On: []float64{-3, -3.2}, Unit: "Pa"}})
	add("co/a2", &procedure.Answer{Gas: &procedure.Gas{OverRange: true}})
	add("arrive/weather", &procedure.Answer{Weather: &procedure.Weather{Wind: 10, WindUnit: "mph", Temp: 32, TempUnit: "F"}})
	add("arrive/lel", &procedure.Answer{Gas: &procedure.Gas{CO: []float64{4}}})
	add("list/cfm50", &procedure.Answer{Number: &procedure.Number{Value: &v, Unit: "cfm"}})
	add("list/volume", &procedure.Answer{Number: &procedure.Number{Unit: "ft3"}})
	in.Units = report.SI
	list := rows(t, in)
	find(t, list, map[string]string{"quantity": "zone pressure, pair, on", "value": "-3.2"})
	find(t, list, map[string]string{"quantity": "zone pressure, pair, off", "value": "-1"})
	find(t, list, map[string]string{"quantity": "CO as measured", "value": "", "detail": "over range"})
	find(t, list, map[string]string{"quantity": "gas in room air", "value": "4", "unit": "% LEL"}) // not CO
	find(t, list, map[string]string{"quantity": "hazard ambient-co", "value": "78", "unit": "ppm"})
	find(t, list, map[string]string{"quantity": "outdoor temperature", "value": "0", "unit": "C"})
	find(t, list, map[string]string{"quantity": "wind", "value": "16.1", "unit": "km/h"})
	find(t, list, map[string]string{"step": "list/volume", "value": ""}) // not known is not 0
}

func TestGolden(t *testing.T) {
	path := filepath.Join("testdata", "hold.golden")
	got := write(t, reporttest.Hold())
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs; after a look at it: go test ./report/csv -update", path)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestWriteError(t *testing.T) {
	if err := csv.Write(full{}, reporttest.Hold()); err == nil || err.Error() != "disk full" {
		t.Errorf("error %v", err)
	}
}
