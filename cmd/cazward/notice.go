package main

import (
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"cazward/procedure/journal/disk"
	"cazward/procedure/wording"
	household "cazward/report/notice"
	noticepdf "cazward/report/notice/pdf"
)

// language of a flag --lang.
func language(s string) (wording.Lang, error) {
	switch l := wording.Lang(s); l {
	case wording.English, wording.Spanish:
		return l, nil
	}
	return "", usage("languages are en and es", "unknown language %q", s)
}

func paperSize(s string) error {
	if s != "letter" && s != "a4" {
		return usage("sizes are letter and a4", "unknown size %q", s)
	}
	return nil
}

func noticeCmd(e *env) *cobra.Command {
	var out, size, lang string
	c := &cobra.Command{Use: "notice RECORD -o FILE.pdf", Short: "one page for the people who live there", Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if err := paperSize(size); err != nil {
				return err
			}
			l, err := language(lang)
			if err != nil {
				return err
			}
			ext := strings.ToLower(filepath.Ext(out))
			switch {
			case out == "":
				return usage("give -o FILE.pdf or -o FILE.txt, or -o - for plain text on standard output", "no output named")
			case out != "-" && ext != ".pdf" && ext != ".txt":
				return usage("suffixes are .pdf and .txt", "no notice has the suffix %q", filepath.Ext(out))
			case sameFile(args[0], out):
				return usage("name another output", "input and output are the same file")
			}
			r, err := load(args[0], "", nil)
			if err != nil {
				return err
			}
			n := household.Build(household.Input{Header: r.rec.Header, Events: r.rec.Events, Observations: r.obs, Judgement: r.j, Closed: r.rec.Closed, CloseHash: r.rec.CloseHash, Lang: l, ProgramVersion: version})
			if out == "-" {
				return household.WriteText(e.out, n)
			}
			err = disk.WriteFile(out, func(w io.Writer) error {
				if ext == ".txt" {
					return household.WriteText(w, n)
				}
				return noticepdf.Write(w, n, noticepdf.Options{Size: size})
			})
			if err != nil {
				return err
			}
			e.wrote(out)
			return nil
		}}
	f := c.Flags()
	f.StringVarP(&out, "output", "o", "", "file to write: .pdf, .txt, or - for text")
	f.StringVar(&size, "size", "letter", "letter or a4")
	f.StringVar(&lang, "lang", "en", "en or es")
	return c
}
