package report_test

import (
	"slices"
	"strings"
	"testing"

	"cazward/procedure"
	"cazward/report"
	"cazward/report/reporttest"
)

// Each photo stands in the section of what it shows, numbered as in the
// record; none is left out, and one that is not what was kept is not shown.
func TestPhotosBesideTheirSections(t *testing.T) {
	in := reporttest.Sealing()
	steps := map[string]string{"look/a1": "checks", "baseline/z1": "zones", "spill/a1": "appliances", "ambient/a1": "room-air", "putback/house": "checks", "later/thing": "photos", "": "photos"}
	var order []string
	for s := range steps {
		order = append(order, s)
	}
	slices.Sort(order)
	in.Photos = []report.Photo{}
	for i, s := range order {
		p := reporttest.Photo(i)
		in.Photos = append(in.Photos, p)
		in.Events = append(in.Events, procedure.Event{N: len(in.Events) + 1, Kind: procedure.KindAttach, Step: s, Data: &procedure.Attach{SHA256: p.SHA256, Type: p.Type, Bytes: int64(len(p.Data)), Step: s}})
	}
	r := report.Build(in)
	found := map[string]int{}
	for _, s := range r.Sections {
		for _, p := range s.Photos {
			found[p.Photo.SHA256]++
			i := slices.IndexFunc(in.Photos, func(x report.Photo) bool { return x.SHA256 == p.Photo.SHA256 })
			if i < 0 || steps[order[i]] != s.ID {
				t.Errorf("a photo of %q stands in %s", p.Caption, s.ID)
			}
			if !strings.HasPrefix(p.Caption, "Photo "+string(rune('1'+i))+":") || p.Why != "" {
				t.Errorf("caption %q, %q", p.Caption, p.Why)
			}
		}
	}
	if len(found) != len(order) {
		t.Errorf("%d of %d photos are shown", len(found), len(order))
	}
	for i, c := range []struct {
		make func(*report.Photo)
		want string
	}{{func(p *report.Photo) { p.Data, p.Altered = nil, true }, "CHANGED"}, {func(p *report.Photo) { p.Data = nil }, "MISSING"}, {func(p *report.Photo) { p.SHA256 = "other" }, "MISSING"}} {
		x := in
		x.Photos = slices.Clone(in.Photos)
		c.make(&x.Photos[0])
		r := report.Build(x)
		all := ""
		for _, s := range r.Sections {
			for _, p := range s.Photos {
				all += p.Why
			}
		}
		if !strings.HasPrefix(all, c.want) || !strings.Contains(all, reporttest.Photo(0).SHA256) || !strings.Contains(strings.Join(r.Decision.Cautions, ";"), "missing or changed since they were kept: 1") {
			t.Errorf("case %d: %q, %q", i, all, r.Decision.Cautions)
		}
	}
	in.Photos = nil
	if d := report.Build(in).Decision; strings.Contains(strings.Join(d.Cautions, ";"), "missing") {
		t.Error("photos that nobody looked for are said to be missing")
	}
}
