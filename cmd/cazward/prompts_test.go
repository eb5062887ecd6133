package main

import (
	"bytes"
	"io"
	"os"
	"strings"
	"testing"
	"time"

	"cazward/procedure"
	"cazward/procedure/practice"
)

// TestPrompts counts the screens of the demonstration house that wait for an
// answer and the characters typed, without the help of "=".
func TestPrompts(t *testing.T) {
	dir := t.TempDir()
	old, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chdir(dir); err != nil {
		t.Fatal(err)
	}
	defer os.Chdir(old)
	var out bytes.Buffer
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	e := &env{in: strings.NewReader(strings.Repeat("=\n", 200)), out: &out, err: io.Discard, id: func() string { return "0123456789abcdef" },
		now: func() time.Time { at = at.Add(10 * time.Second); return at }, mono: func() int64 { return 0 }}
	if err := run(e, []string{"walk", "--demo", "--plain"}); err != nil {
		t.Fatal(err)
	}
	names, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	path := ""
	for _, n := range names {
		if strings.HasSuffix(n.Name(), recordSuffix) {
			path = n.Name()
		}
	}
	l, err := load(path, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	prompts, typed := 0, 0
	for _, st := range l.st.Steps() {
		_, text := practice.Demo(st)
		if text == "" {
			t.Errorf("the demonstration house says nothing at %s", st.ID)
		}
		prompts++
		typed += len(text) + 1
	}
	asked := strings.Count(out.String(), "\n> ")
	t.Logf("prompts: %d, typed characters with Enter: %d", prompts, typed)
	if prompts != asked {
		t.Errorf("%d steps, %d prompts shown", prompts, asked)
	}
	if prompts > 95 {
		t.Errorf("%d prompts, more than 95", prompts)
	}
	if !l.st.Closed() || l.j.Decision != procedure.Hold {
		t.Errorf("closed %v, decision %s", l.st.Closed(), l.j.Decision)
	}
}
