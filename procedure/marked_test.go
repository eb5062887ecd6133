package procedure

import "testing"

// TestMarked: a finding takes over the mark of its row, whatever kind of row it
// is, and nothing else of it changes.
func TestMarked(t *testing.T) {
	c := &Checked{By: "A. Vale", Date: "2026-02-03", Edition: "2005"}
	row := func(id string) Row { return Row{ID: id, Checked: c} }
	r := Rules{Pressure: []Limit{{Row: row("p")}}, Spillage: []Limit{{Row: row("s")}}, CO: []Limit{{Row: row("c")}}, Draft: DraftRule{Row: row("d")}, UncertaintyID: row("u"),
		Matrix: []MatrixRow{{Row: row("m")}}, Actions: []ActionRow{{Row: row("a")}, {Row: Row{ID: "plain"}}}, Floor: []Tier{{Row: "f", Checked: c}}}
	var list []Finding
	for _, id := range []string{"p", "s", "c", "d", "u", "m", "a", "f", "plain", "unknown"} {
		list = append(list, Finding{Row: id, Evidence: EvidenceMemory, Verdict: Fail})
	}
	got := r.Marked(list)
	for i, f := range got {
		want := c
		if f.Row == "plain" || f.Row == "unknown" {
			want = nil
		}
		if f.Checked != want || f.Verdict != Fail || f.Evidence != EvidenceMemory {
			t.Errorf("%s: %+v", f.Row, f)
		}
		if list[i].Checked != nil {
			t.Errorf("%s: the findings that were given are changed", f.Row)
		}
	}
}
