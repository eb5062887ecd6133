package page

import (
	"bytes"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/register"
	"cazward/procedure/wording"
	"cazward/report"
	"cazward/report/reporttest"
)

var evil = `"><script>alert(1)</script>{{.}}` + "\x1b[31m\u202e"

func entry() register.Entry {
	return register.Entry{Key: 7, Record: evil, Home: evil, Label: evil, Crew: evil, Phase: procedure.TestIn, Day: 20000, Scheme: procedure.Ref{Name: evil}, State: journal.Closed, Close: evil,
		Decision: procedure.Hold, SignedBy: evil, Signed: register.Accepted, Practice: true, Appliances: []procedure.ApplianceKind{procedure.Boiler},
		Reasons:  []register.Reason{{Code: register.SaysHold, Args: map[string]string{"about": "water heater, " + evil, "phase": "test-in"}}, {Code: register.Returned, Args: map[string]string{"name": evil, "note": evil}}, {Code: "of-a-later-version"}},
		Measures: register.Measures{Nets: []register.Net{{Pa: -4.2, Config: "air handler on, CAZ door open, doors shut"}}, Drafts: []float64{1.5}, Spills: []float64{30}}}
}

// written are all pages of a language, by name.
func written(t *testing.T, l wording.Lang) map[string]string {
	t.Helper()
	e := entry()
	frame := Frame{Lang: l, In: true, SignOut: true, CSRF: "token", Address: url.URL{Path: "/x", RawQuery: "home=" + url.QueryEscape(evil)}, Force: register.InForce{Scheme: "s", Overlays: []register.Overlay{{Name: `C:\x\` + evil}}}}
	query := Query{Filter: register.Filter{Home: evil, Crew: evil, Label: evil, Scheme: evil, Reason: register.SaysHold, Appliance: procedure.Boiler, Phase: procedure.Daily, From: 1, To: 2, Accepted: true, NoPractice: true}, After: 5, By: register.ByCrew}
	rep := report.Build(reporttest.Hold())
	rows := func(by register.GroupBy) []register.TrendRow {
		real := e
		real.Practice = false
		tr := register.NewTrend(by)
		for _, p := range []procedure.Phase{procedure.TestIn, procedure.Daily, procedure.TestOut, ""} {
			for _, d := range trendDecisions {
				real.Phase, real.Decision = p, d
				tr.Add(real)
			}
		}
		real.Measures, real.Crew = register.Measures{}, "none"
		tr.Add(real)
		return tr.Rows()
	}
	out := map[string]string{}
	add := func(name string, err error, b *bytes.Buffer) {
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = b.String()
	}
	var b bytes.Buffer
	add("queue", Queue(&b, frame, QueueView{Query: query, Homes: []register.Entry{e, {Key: 8}}, More: true, Total: 99, Schemes: []string{"graded-2005"}}), &b)
	b = bytes.Buffer{}
	add("empty", Queue(&b, frame, QueueView{}), &b)
	b = bytes.Buffer{}
	add("home", Home(&b, frame, HomeView{Entry: e, Path: evil, Others: []register.Entry{e}, Signs: []journal.SignInfo{{Name: evil, Note: evil + "\nline", Verdict: "accept", Earlier: true, Observed: time.Unix(0, 0)}}, Report: &rep, CanSign: true,
		Form: Signing{Name: evil, Note: evil, Verdict: "return"}, Wrong: &FieldError{"note", "empty"}, Said: []string{"sign.done"}}), &b)
	b = bytes.Buffer{}
	add("damaged", Home(&b, frame, HomeView{Entry: register.Entry{Key: 9, State: journal.Damaged}, WhyNot: evil}), &b)
	for _, g := range register.Groups {
		b = bytes.Buffer{}
		q := query
		q.By = g
		add("trend "+string(g), Trend(&b, frame, TrendView{Query: q, Rows: rows(g)}), &b)
	}
	b = bytes.Buffer{}
	add("file", TrendFile(&b, frame, TrendView{Query: query, Rows: rows(register.ByCrew)}), &b)
	b = bytes.Buffer{}
	add("login", Login(&b, frame, "wrong-password"), &b)
	b = bytes.Buffer{}
	add("message", Message(&b, frame, "refused", "forged"), &b)
	b = bytes.Buffer{}
	add("field", BadQuery(&b, frame, &FieldError{evil, "unknown"}), &b)
	return out
}

// TestPages holds that nothing typed becomes markup, that no word is missing
// and that every tag is closed, on every page in both languages.
func TestPages(t *testing.T) {
	void := regexp.MustCompile(`^(meta|link|input|br|option|img|rect|line|circle|polyline|polygon)$`)
	tag := regexp.MustCompile(`<(/?)([a-zA-Z0-9]+)(\s(?:[^"<>]|"[^"<>]*")*)?(/?)>`)
	for _, l := range []wording.Lang{wording.English, wording.Spanish} {
		for name, s := range written(t, l) {
			for _, bad := range []string{"<script", "\x1b", "\u202e", "ZgotmplZ", "<h1></h1>", "<label for=\"d-\"", "></label>", "></th>", "<p></p>", "<li></li>", "<dt></dt>", "%!"} {
				if strings.Contains(s, bad) {
					t.Errorf("%s %s holds %q", l, name, bad)
				}
			}
			if !strings.Contains(s, `<html lang="`+string(l)+`">`) || strings.Count(s, "<h1>") != 1 {
				t.Errorf("%s %s: language or heading", l, name)
			}
			var open []string
			for _, m := range tag.FindAllStringSubmatch(s, -1) {
				switch n := strings.ToLower(m[2]); {
				case void.MatchString(n) || m[4] != "":
				case m[1] == "":
					open = append(open, n)
				case len(open) == 0 || open[len(open)-1] != n:
					t.Fatalf("%s %s: </%s> closes %v", l, name, n, open)
				default:
					open = open[:len(open)-1]
				}
			}
			if len(open) > 0 {
				t.Errorf("%s %s: open at the end: %v", l, name, open)
			}
		}
	}
}

func TestQueueSays(t *testing.T) {
	en, es := written(t, wording.English), written(t, wording.Spanish)
	for _, c := range []struct {
		page map[string]string
		name string
		want []string
	}{
		{en, "queue", []string{"Homes: 99", "On this page: 2.", "WARNING", "DO NOT AIR-SEAL THIS HOUSE YET", "NOT JUDGED", "home without a name", "PRACTICE", "2024-10-04", `rel="next"`, "after=8", "First page", "Only:", "Nothing wants attention", "no words for"}},
		{es, "queue", []string{"Viviendas: 99", "ADVERTENCIA", "NO SELLE ESTA CASA", "calentador de agua", "lang=en"}},
		{en, "empty", []string{"Nothing waits"}},
		{en, "home", []string{`aria-invalid="true"`, "Note for the crew", "fill it in", `name="csrf" value="token"`, "an earlier state", `id="decision"`, "<svg", "Signed."}},
		{en, "damaged", []string{"NO DECISION CAN BE MADE OF IT", "No report", "only a closed record"}},
		{en, "trend crew", []string{"Share by outcome", ">leave<", "before sealing (test-in)", "air handler on, CAZ door open, doors shut", "25"}},
		{es, "trend appliance", []string{"caldera", ">todos afuera<", "manejadora encendida, puerta CAZ abierta, puertas cerradas"}},
	} {
		for _, w := range c.want {
			if !strings.Contains(c.page[c.name], w) {
				t.Errorf("%s does not say %q", c.name, w)
			}
		}
	}
	if strings.Contains(en["damaged"], `id="d-sign"`) || strings.Contains(en["empty"], "rel=\"next\"") {
		t.Error("a damaged record can be signed, or an empty page goes on")
	}
}

// TestMoreProtective: a home that was closed on more than is made of it now
// shows the more protective of the two.
func TestMoreProtective(t *testing.T) {
	f := Frame{}
	for _, c := range []struct{ now, paper, want procedure.Decision }{
		{procedure.Proceed, procedure.Hold, procedure.Hold}, {procedure.Hold, procedure.Proceed, procedure.Hold}, {procedure.Proceed, procedure.NoDecision, procedure.Proceed},
		{procedure.NoDecision, procedure.Leave, procedure.Leave}, {procedure.Refer, procedure.Leave, procedure.Leave},
	} {
		got := f.home(register.Entry{Decision: c.now, Paper: c.paper, Phase: procedure.TestIn})
		if want := wording.Headline(wording.English, c.want, procedure.TestIn, 0); got.Headline != want {
			t.Errorf("now %s, closed on %s: %s", c.now, c.paper, got.Headline)
		}
	}
	if got := f.home(register.Entry{Paper: procedure.Proceed}); got.Word != "NOT JUDGED" {
		t.Errorf("what cannot be judged says %s", got.Word)
	}
}

// TestTextsAreUsed finds words of the pages that no page can show.
func TestTextsAreUsed(t *testing.T) {
	src := ""
	for _, pattern := range []string{"*.go", "*.tmpl", "../../cmd/cazward/desk_*.go", "../../procedure/register/*.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v", pattern, err)
		}
		for _, f := range files {
			if strings.HasSuffix(f, "_test.go") {
				continue
			}
			b, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			src += string(b)
		}
	}
	words, err := os.ReadFile("../../procedure/wording/en_page.go")
	if err != nil {
		t.Fatal(err)
	}
	keys := regexp.MustCompile(`(?m)^\t\t"([a-z0-9.-]+)":`).FindAllStringSubmatch(string(words), -1)
	if len(keys) < 150 {
		t.Fatalf("%d keys", len(keys))
	}
	whole := map[string]bool{}
	for _, k := range keys {
		whole[k[1]] = true
		used := strings.Contains(src, `"`+k[1]+`"`)
		if i := strings.LastIndexByte(k[1], '.'); !used && i > 0 { // a stem and a code
			used = strings.Contains(src, `"`+k[1][:i+1]+`"`)
		}
		if strings.HasSuffix(k[1], "-says") {
			used = strings.Contains(src, `"-says"`)
		}
		if !used {
			t.Errorf("no page says %s", k[1])
		}
	}
	for _, m := range regexp.MustCompile(`\{\{t "([^"]+)"\}\}|f\.t\("([^"]+[^."])"[,)]`).FindAllStringSubmatch(src, -1) {
		if k := m[1] + m[2]; !whole[k] {
			t.Errorf("no words for %s", k)
		}
	}
	for _, c := range register.Codes {
		if !whole["reason."+string(c)] {
			t.Errorf("reason %s has no short name", c)
		}
	}
}

// TestStyle holds that the style sheet asks for nothing.
func TestStyle(t *testing.T) {
	if s := Style(); strings.Contains(s, "url(") || strings.Contains(s, "@import") || strings.Contains(s, "<") || !strings.Contains(s, ":focus-visible") {
		t.Error("the style sheet asks for something, or shows no focus")
	}
}
