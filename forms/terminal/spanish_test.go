package terminal

import (
	"strings"
	"testing"

	"github.com/charmbracelet/lipgloss"

	"cazward/forms"
	"cazward/procedure"
	"cazward/procedure/wording"
)

// Every row of Spanish screens keeps to its columns and to ASCII.
func TestSpanishScreens(t *testing.T) {
	forms.Speak(wording.Spanish)
	t.Cleanup(func() { forms.Speak(wording.English) })
	l := wording.OnScreen(wording.Spanish)
	plan := procedure.Plan{Scheme: procedure.Ref{Name: "graded-2005"}, Baseline: procedure.BaselinePlan{MinSamples: 5, MaxSpread: 1, MaxWind: 15}}
	views := map[string]forms.View{"baseline": baseline(), "spillage": spillage(), "running": running(), "decision": decision(), "checklist": checklist(), "first": first(), "doors": doorTable(), "roster": fans()}
	asks := map[string]string{"baseline": "pressure.baseline", "spillage": "spill", "running": "spill", "decision": "told.decision", "checklist": "look.appliance", "doors": "doors.smoke", "roster": "list.appliances"}
	for name, v := range views {
		if ask := asks[name]; ask != "" {
			st := v.Step
			st.Ask, st.Name, st.Stage = ask, "calentador de agua", procedure.StageAppliances
			if st.Args == nil {
				st.Args = map[string]string{}
			}
			st.Cautions = []string{"hot-vent"}
			if len(st.Items) > 0 {
				for i, c := range []string{"fuel", "connector", "vent-connected", "combustion-air", "rollout-marks", "soot", "rust", "clearances", "chimney"} {
					if i < len(st.Items) {
						st.Items[i].Code = c
					}
				}
			}
			v.Words = wording.For(l, st, plan)
			v.Where.Name, v.Where.Phase = wording.Stage(l, st.Stage), wording.PhaseName(l, procedure.TestIn)
			v.Where.Mark, v.Where.MarkShort = "CASA DE DEMO, INVENTADA", "DEMO, INVENTADA"
			v.House = []string{"APAGADO: extractor de bano, campana de cocina, secadora", "APAGADO: manejadora de aire", "ABIERTO: puertas interiores", "ABIERTO: puerta de la zona"}
		}
		for _, size := range [][2]int{{80, 24}, {60, 20}} {
			b := newBench(t, size[0], size[1])
			b.ask(v)
			for i, row := range strings.Split(b.View(), "\n") {
				if n := lipgloss.Width(row); n > size[0]-1 {
					t.Errorf("%s %dx%d: row %d has %d columns: %q", name, size[0], size[1], i+1, n, row)
				}
				for k := 0; k < len(row); k++ {
					if row[k] >= 0x80 {
						t.Errorf("%s %dx%d: row %d is not ASCII: %q", name, size[0], size[1], i+1, row)
						break
					}
				}
			}
			if !strings.Contains(b.View(), "Enter") && name != "spillage" && name != "running" {
				t.Errorf("%s %dx%d: no key is named\n%s", name, size[0], size[1], b.View())
			}
		}
	}
}
