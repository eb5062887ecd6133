package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"cazward/procedure/journal"
	"cazward/procedure/register"
	"cazward/procedure/sequence"
	reports "cazward/report"
	reportjson "cazward/report/json"
	"cazward/report/text"
)

func marshal(v any) ([]byte, error) { return json.Marshal(v) }

// loadKept replays and judges a record out of the register.
func (d *desk) loadKept(r register.Record) (*loaded, error) {
	rec, err := journal.Parse(r.Bytes)
	if err != nil {
		return nil, err
	}
	st, err := sequence.Replay(rec.Header, rec.Events)
	if err != nil {
		return nil, failed(exitIntegrity, "the bytes are kept as they came; look for an unchanged copy", "record %s: %s", reports.Clean(r.ID), reports.Clean(err.Error()))
	}
	var ev register.Evidence
	ev.Rec = rec
	d.judge(&ev)
	if !ev.Judged() {
		return nil, refused("judge it by a scheme that this version knows: cazward desk rebuild --scheme NAME", "record %s cannot be judged: %s", reports.Clean(r.ID), reports.Clean(ev.Why))
	}
	rules, err := d.by.rulesFor(st.Plan().Scheme.Name)
	if err != nil {
		return nil, err
	}
	return &loaded{path: r.Path, rec: rec, st: st, obs: ev.Observations, rules: rules, j: ev.Judgement}, nil
}

func (d *desk) openCmd() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{Use: "open ID", Short: "one home: why it waits, who signed, and its report", Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			s, err := d.open(false)
			if err != nil {
				return err
			}
			defer s.Close()
			e, err := d.find(s, args[0])
			if err != nil {
				return err
			}
			r, err := s.Kept(d.e.ctx, e.Key)
			if err != nil {
				return d.wrong(err)
			}
			opts := journal.VerifyOptions{Attachment: nil}
			if d.signers != "" {
				opts.CheckSignature = func(hash, name, sig string) error { return checkSignature(d.e.ctx, d.signers, hash, name, sig) }
			}
			signs := journal.Verify(r.Bytes, opts).Signs
			l, lerr := d.loadKept(r)
			if asJSON {
				out := struct {
					queued
					Path      string             `json:"path"`
					Signs     []signed           `json:"sign_offs"`
					Judgement *reportjson.Object `json:"judgement"`
				}{queuedOf(d.l(), e), r.Path, []signed{}, nil}
				for _, x := range signs {
					out.Signs = append(out.Signs, signed{x.Name, x.Verdict, x.Note, x.Close, x.Earlier, string(x.Signature)})
				}
				if lerr == nil {
					o := l.object()
					out.Judgement = &o
				}
				if err := writeJSON(d.e.out, out); err != nil {
					return err
				}
				return lerr
			}
			q := textQueue{w: d.e.out, l: d.l()}
			if err := q.home(e); err != nil {
				return err
			}
			if r.Path != "" {
				wrapped(d.e.out, "         ", d.says("file", "path", reports.Clean(r.Path)))
			}
			for _, x := range signs {
				line := d.says("signed", "verdict", d.says("sign."+x.Verdict), "name", x.Name, "when", x.Observed.Format("2006-01-02 15:04"))
				if x.Note != "" {
					line += ": " + x.Note
				}
				if x.Earlier {
					line += " (" + d.says("earlier") + ")"
				}
				if x.Signature != journal.Unsigned {
					line += ", " + d.says("signature", "state", d.says("state."+string(x.Signature)))
				}
				wrapped(d.e.out, "  "+d.says("lead.signed")+" ", reports.Clean(line))
			}
			fmt.Fprintln(d.e.out)
			if lerr != nil {
				return lerr
			}
			in := l.input()
			in.Lang = d.l()
			return text.Write(d.e.out, reports.Build(in))
		}}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	c.Flags().StringVar(&d.signers, "allowed-signers", "", "allowed-signers file by which ssh-keygen checks signatures")
	return c
}

// signed is one sign-off for machines.
type signed struct {
	Name      string `json:"name"`
	Verdict   string `json:"verdict"`
	Note      string `json:"note"`
	Close     string `json:"close_hash"`
	Earlier   bool   `json:"earlier_state"`
	Signature string `json:"signature"`
}
