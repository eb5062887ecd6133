package json_test

import (
	"bytes"
	stdjson "encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"sort"
	"testing"

	"cazward/procedure"
	"cazward/report/json"
	"cazward/report/reporttest"
)

var update = flag.Bool("update", false, "write the golden files")

func write(t *testing.T, list ...json.Object) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := json.Write(&b, list...); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestGolden(t *testing.T) {
	for _, c := range reporttest.All()[:3] {
		path := filepath.Join("testdata", c.Name+".golden")
		got := write(t, json.Judgement(c.In.Header, c.In.Judgement, c.In.Closed))
		if *update {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s differs; after a look at it: go test ./report/... -update\n%s", path, got)
		}
	}
}

// The keys that other programs rely on. Names may be added, never taken away.
func TestKeys(t *testing.T) {
	in := reporttest.Hold()
	var o map[string]any
	if err := stdjson.Unmarshal(write(t, json.Judgement(in.Header, in.Judgement, true)), &o); err != nil {
		t.Fatal(err)
	}
	first := func(key string) map[string]any { return o[key].([]any)[0].(map[string]any) }
	for what, c := range map[string]struct {
		got  map[string]any
		want []string
	}{
		"object":        {o, []string{"appliances", "decision", "doubts", "findings", "home_id", "missing", "phase", "practice", "record_closed", "record_id", "scheme", "worst_case"}},
		"appliance":     {first("appliances"), []string{"name", "status"}},
		"scheme":        {o["scheme"].(map[string]any), []string{"edited", "edition", "name", "sha256"}},
		"worst case":    {first("worst_case"), []string{"baseline_pa", "configuration", "net_pa", "reading_pa", "uncertainty_pa", "zone"}},
		"configuration": {first("worst_case")["configuration"].(map[string]any), []string{"air_handler", "caz_door", "doors_closed", "fans_on"}},
		"finding":       {first("findings"), []string{"action", "evidence", "limit", "margin", "row", "rule", "severity", "source", "subject", "uncertainty", "unit", "value", "verdict"}},
		"doubt":         {first("doubts"), []string{"code", "settled"}},
	} {
		var have []string
		for _, k := range c.want {
			if _, ok := c.got[k]; ok {
				have = append(have, k)
			}
		}
		sort.Strings(c.want)
		if !reflect.DeepEqual(have, c.want) {
			t.Errorf("%s has %q, want %q", what, have, c.want)
		}
	}
	if o["decision"] != "hold" || o["practice"] != true || o["record_closed"] != true {
		t.Errorf("decision %v, practice %v, closed %v", o["decision"], o["practice"], o["record_closed"])
	}
}

// What was not measured is null; lists are never null; what JSON cannot hold
// is null.
func TestNulls(t *testing.T) {
	nan := math.NaN()
	zero := 0.0
	j := procedure.Judgement{WorstCase: []procedure.WorstCase{{Zone: "z"}}, Appliances: []procedure.ApplianceResult{{Name: "a"}},
		Findings: []procedure.Finding{{Rule: "x", Value: &nan, Limit: &zero}}}
	var o map[string]any
	if err := stdjson.Unmarshal(write(t, json.Judgement(procedure.Header{}, j, false)), &o); err != nil {
		t.Fatal(err)
	}
	w := o["worst_case"].([]any)[0].(map[string]any)
	f := o["findings"].([]any)[0].(map[string]any)
	for what, got := range map[string]any{"decision": o["decision"], "net": w["net_pa"], "baseline": w["baseline_pa"], "value": f["value"], "margin": f["margin"],
		"status": o["appliances"].([]any)[0].(map[string]any)["status"]} {
		if got != nil {
			t.Errorf("%s is %v, want null", what, got)
		}
	}
	if f["limit"] != 0.0 || f["verdict"] != "not-evaluated" {
		t.Errorf("limit %v, verdict %v", f["limit"], f["verdict"])
	}
	for _, k := range []string{"missing", "doubts", "accepted_risks", "not_asked"} {
		if l, ok := o[k].([]any); !ok || len(l) != 0 {
			t.Errorf("%s is %v, want []", k, o[k])
		}
	}
	if l, ok := w["configuration"].(map[string]any)["fans_on"].([]any); !ok || len(l) != 0 {
		t.Errorf("fans_on is %v, want []", w["configuration"])
	}
}

func TestSeveral(t *testing.T) {
	for n := range 3 {
		list := make([]json.Object, n)
		for i := range list {
			list[i] = json.Judgement(procedure.Header{Record: "r"}, procedure.Judgement{}, false)
		}
		var got any
		if err := stdjson.Unmarshal(write(t, list...), &got); err != nil {
			t.Fatal(err)
		}
		if a, ok := got.([]any); ok != (n != 1) || ok && len(a) != n {
			t.Errorf("%d objects give %T of %v", n, got, got)
		}
	}
}
