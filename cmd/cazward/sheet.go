package main

import (
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"cazward/procedure"
	"cazward/procedure/journal/disk"
	blank "cazward/report/sheet"
	sheetpdf "cazward/report/sheet/pdf"
)

func sheetCmd(e *env) *cobra.Command {
	var out, size, lang, scheme, phase, units string
	var overlays []string
	c := &cobra.Command{Use: "sheet -o FILE.pdf", Short: "blank field sheet of a scheme, or the same as a file to fill (.yaml)", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if err := paperSize(size); err != nil {
				return err
			}
			l, err := language(lang)
			if err != nil {
				return err
			}
			if units != "us" && units != "si" {
				return usage("units are us and si", "unknown units %q", units)
			}
			ph := procedure.Phase(phase)
			if ph != procedure.TestIn && ph != procedure.Daily && ph != procedure.TestOut {
				return usage("phases are test-in, daily, test-out", "unknown phase %q", phase)
			}
			ext := strings.ToLower(filepath.Ext(out))
			switch {
			case out == "":
				return usage("give -o FILE.pdf, or -o FILE.yaml for a file that transcribe takes, or -o - for that on standard output", "no output named")
			case out != "-" && ext != ".pdf" && ext != ".yaml":
				return usage("suffixes are .pdf and .yaml", "no sheet has the suffix %q", filepath.Ext(out))
			}
			set, err := loadLimits(scheme, overlays)
			if err != nil {
				return err
			}
			s := blank.Build(blank.Input{Plan: set.Plan(ph), Rules: set.Rules(), Phase: ph, Lang: l, Units: units, Day: e.now(), ProgramVersion: version})
			if out == "-" {
				return blank.WriteYAML(e.out, s)
			}
			err = disk.WriteFile(out, func(w io.Writer) error {
				if ext == ".yaml" {
					return blank.WriteYAML(w, s)
				}
				return sheetpdf.Write(w, s, sheetpdf.Options{Size: size})
			})
			if err != nil {
				return err
			}
			e.wrote(out)
			return nil
		}}
	f := c.Flags()
	f.StringVarP(&out, "output", "o", "", "file to write: .pdf, .yaml, or - for YAML")
	f.StringVar(&size, "size", "letter", "letter or a4")
	f.StringVar(&lang, "lang", "en", "en or es")
	f.StringVar(&units, "units", "us", "us: mph and F; si: km/h and C; pressures are Pa in both")
	f.StringVar(&scheme, "scheme", "graded-2005", "limit scheme; see: cazward limits list")
	f.StringVar(&phase, "phase", "test-in", "test-in, daily or test-out")
	f.StringArrayVar(&overlays, "limits", nil, "overlay file on the scheme")
	return c
}
