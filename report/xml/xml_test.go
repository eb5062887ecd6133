package xml_test

import (
	"bytes"
	stdxml "encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/report"
	"cazward/report/reporttest"
	"cazward/report/xml"
)

var update = flag.Bool("update", false, "write the golden files")

func write(t testing.TB, in report.Input) string {
	t.Helper()
	var b bytes.Buffer
	if err := xml.Write(&b, in); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestSchema validates each report against the published schema, whose path
// is in CAZWARD_HPXML_SCHEMA: the files are not ours to hand on.
func TestSchema(t *testing.T) {
	required := os.Getenv("CAZWARD_REQUIRE_TOOLS") == "1"
	schema := os.Getenv("CAZWARD_HPXML_SCHEMA")
	if schema == "" {
		t.Skip("CAZWARD_HPXML_SCHEMA does not name HPXML.xsd, version 4.2")
	}
	if _, err := exec.LookPath("xmllint"); err != nil {
		if required {
			t.Fatalf("xmllint is required and absent: %v", err)
		}
		t.Skip("xmllint is absent (apt-get install libxml2-utils)")
	}
	dir := t.TempDir()
	args := []string{"--nonet", "--noout", "--schema", schema}
	all := reporttest.All()
	for _, c := range all {
		path := filepath.Join(dir, c.Name+".xml")
		if err := os.WriteFile(path, []byte(write(t, c.In)), 0o600); err != nil {
			t.Fatal(err)
		}
		args = append(args, path)
	}
	for name, in := range map[string]report.Input{"redacted": report.Redact(reporttest.Hold()), "redacted sealing": report.Redact(reporttest.Sealing()), "empty": {}, "kinds": kinds()} {
		path := filepath.Join(dir, name+".xml")
		if err := os.WriteFile(path, []byte(write(t, in)), 0o600); err != nil {
			t.Fatal(err)
		}
		args = append(args, path)
	}
	out, err := exec.Command("xmllint", args...).CombinedOutput()
	if err != nil || strings.Count(string(out), " validates") != len(all)+4 {
		t.Fatalf("xmllint: %v\n%s", err, out)
	}
	// A document with a fault does not validate, so the check can fail.
	bad := filepath.Join(dir, "bad.xml")
	if err := os.WriteFile(bad, []byte(strings.Replace(write(t, reporttest.Hold()), "<TestResult>failed<", "<TestResult>perhaps<", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := exec.Command("xmllint", "--nonet", "--noout", "--schema", schema, bad).Run(); err == nil {
		t.Error("a word that the schema does not know validates")
	}
}

// kinds is a house with one of each appliance, fuel and phase word.
func kinds() report.Input {
	in := reporttest.Hold()
	in.Header.Phase = "some-later-phase"
	in.Observations.Appliances = nil
	for i, k := range procedure.ApplianceKinds {
		in.Observations.Appliances = append(in.Observations.Appliances, procedure.Appliance{ID: string(k) + " é/1", Name: "<x> & \"y\"", Kind: k, Zone: "z1",
			Burner: procedure.Burner{Fuel: procedure.Fuels[i%len(procedure.Fuels)], Input: 12, Unit: "kW"}})
	}
	in.Observations.Hazards = []procedure.HazardObs{{Hazard: procedure.Hazard{Code: procedure.Leak, Subject: string(procedure.Furnace) + " é/1"}, Settled: procedure.No}}
	return in
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
		t.Errorf("%s differs; after a look at it: go test ./report/xml -update", path)
	}
}

// value is the text of the first element with that name after a start.
func value(t *testing.T, doc, after, name string) string {
	t.Helper()
	_, rest, ok := strings.Cut(doc, after)
	if !ok {
		t.Fatalf("no %q", after)
	}
	_, rest, ok = strings.Cut(rest, "<"+name+">")
	if !ok {
		return ""
	}
	v, _, _ := strings.Cut(rest, "<")
	return v
}

func TestFigures(t *testing.T) {
	doc := write(t, reporttest.Hold())
	for _, c := range []struct{ after, name, want string }{
		{"<CombustionApplianceZone>", "CAZDepressurizationLimit", "-3"}, {"<BaselineTest>", "BathExhaustFan", "false"}, {"<BaselineTest>", "Pressure", "-0.94"}, {"<BaselineTest>", "OtherDoors", "open"},
		{"<PoorCaseTest>", "Pressure", "-3.52"}, {"<PoorCaseTest>", "OtherDoors", "closed"}, {"<PoorCaseTest>", "AirHandler", "true"}, {"<PoorCaseTest>", "ClothesDryer", "true"},
		{"</PoorCaseTest>", "NetPressureChange", "-2.58"}, {"</PoorCaseTest>", "DepressurizationFindingPoorCase", "fail"}, // too close counts as a fail
		{"</PoorCaseTest>", "AmountAmbientCOinCAZduringTesting", "4"}, {"</PoorCaseTest>", "AmbientCOinCAZExceeded35ppmduringTesting", "false"},
		{"<SpillageTest>", "PoorScenario", "71"}, {"<SpillageTest>", "CurrentCondition", "66"}, {"<SpillageTest>", "TestResult", "failed"}, {"<SpillageTest>", "cz:PoorScenarioOutcome", "still"},
		{"<FlueDraftTest>", "TestResult", "not tested"}, {"<CarbonMonoxideTest>", "PoorScenario", "18"},
		{`idref="appliance-a2"/>`, "OutsideTemperatureFlueDraftTest", "34"}, {"<cz:Record>", "cz:Practice", "true"},
	} {
		if got := value(t, doc, c.after, c.name); got != c.want {
			t.Errorf("%s after %s: %q, want %q", c.name, c.after, got, c.want)
		}
	}
	for _, want := range []string{`headline="DO NOT AIR-SEAL THIS HOUSE YET">hold</cz:Decision>`, `verdict="too-close"`, `evidence="memory"`, `<cz:AcceptedRisk row="floor-co-70">`, `<cz:Weather wind="6" windUnit="mph" temperature="34" temperatureUnit="F"/>`, `serial="G-0042"`} {
		if !strings.Contains(doc, want) {
			t.Errorf("no %s", want)
		}
	}
	// What was never measured has no figure, and does not pass.
	doc = write(t, reporttest.Leave())
	for _, no := range []string{"<NetPressureChange>", "<DepressurizationFindingPoorCase>", "<PoorScenario>", "passed", "<Pressure>"} {
		if strings.Contains(doc, no) {
			t.Errorf("nothing was measured, and there is %s", no)
		}
	}
	if got := value(t, doc, "<CombustionApplianceZone>", "AmbientCOinCAZExceeded35ppmduringTesting"); got != "true" {
		t.Errorf("78 ppm did not exceed 35: %q", got)
	}
}

// CFM50 stands where the standard has a place for it, once, and redacting
// leaves the figure; without one there is no enclosure at all.
func TestCFM50(t *testing.T) {
	in := reporttest.Sealing()
	for _, doc := range []string{write(t, in), write(t, report.Redact(in))} {
		for _, c := range []struct{ after, name, want string }{
			{"<AirInfiltrationMeasurement>", "TypeOfInfiltrationMeasurement", "blower door"}, {"<AirInfiltrationMeasurement>", "HousePressure", "50"},
			{"<BuildingAirLeakage>", "UnitofMeasure", "CFM"}, {"<BuildingAirLeakage>", "AirLeakage", "1900"},
		} {
			if got := value(t, doc, c.after, c.name); got != c.want {
				t.Errorf("%s after %s: %q, want %q", c.name, c.after, got, c.want)
			}
		}
		if n := strings.Count(doc, "1900"); n != 1 {
			t.Errorf("CFM50 stands %d times", n)
		}
		// What is planned was not measured: it has no place but the extension.
		if !strings.Contains(doc, ` cfm50After="1150"`) {
			t.Error("the plan is gone from the extension")
		}
	}
	// A test-out seals no further and measures what there is.
	in.Header.Phase = procedure.TestOut
	if doc := write(t, in); value(t, doc, "<BuildingAirLeakage>", "AirLeakage") != "1900" || strings.Contains(doc, "cz:AfterSealing") {
		t.Error("CFM50 of a test-out")
	}
	zero := 0.0
	for _, v := range []*float64{nil, &zero} {
		in.Observations.CFM50 = v
		if doc := write(t, in); strings.Contains(doc, "Enclosure") || strings.Contains(doc, "AirInfiltration") {
			t.Error("an enclosure without a figure")
		}
	}
}

func TestWellFormed(t *testing.T) {
	for _, c := range reporttest.All() {
		doc := write(t, c.In)
		if doc != write(t, c.In) {
			t.Errorf("%s: two writes differ", c.Name)
		}
		d := stdxml.NewDecoder(strings.NewReader(doc))
		n := 0
		for {
			tok, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", c.Name, err)
			}
			if _, ok := tok.(stdxml.StartElement); ok {
				n++
			}
		}
		if n < 20 {
			t.Errorf("%s: %d elements", c.Name, n)
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestWriteError(t *testing.T) {
	if err := xml.Write(full{}, reporttest.Hold()); err == nil || err.Error() != "disk full" {
		t.Errorf("error %v", err)
	}
}
