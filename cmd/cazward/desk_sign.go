package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"cazward/procedure"
	"cazward/procedure/journal"
	"cazward/procedure/register"
	reports "cazward/report"
)

// signatureSpace is what ssh-keygen signs under, so that a signature made for
// something else is none here.
const signatureSpace = "cazward-close"

type signOptions struct {
	name, verdict, note, key string
	close                    string // closing hash that was read, "" for that in force
}

func (d *desk) signCmd() *cobra.Command {
	var o signOptions
	c := &cobra.Command{Use: "sign ID --as NAME --verdict accept|return", Short: "sign off the closing of a record, or return it with a note", Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			switch {
			case strings.TrimSpace(o.name) == "":
				return usage("give --as NAME", "a sign-off needs a name")
			case o.verdict != "accept" && o.verdict != "return":
				return usage("verdicts are accept and return", "no verdict is called %q", reports.Clean(o.verdict))
			case o.verdict == "return" && strings.TrimSpace(o.note) == "":
				return usage("give --note TEXT: what the crew is to look at", "a record is returned with a note")
			}
			s, err := d.open(false)
			if err != nil {
				return err
			}
			defer s.Close()
			return d.sign(s, args[0], o)
		}}
	f := c.Flags()
	f.StringVar(&o.name, "as", "", "who signs")
	f.StringVar(&o.verdict, "verdict", "", "accept or return")
	f.StringVar(&o.note, "note", "", "what the crew reads; needed to return a record")
	f.StringVar(&o.key, "key", "", "SSH key with which ssh-keygen signs the closing hash")
	f.StringVar(&d.signers, "allowed-signers", "", "allowed-signers file: the signature is checked before it is kept")
	return c
}

// signedOff is what became of a sign-off: of which home, on which closing, and
// where its file lies with what the file is to hold.
type signedOff struct {
	home, close, path string
	bytes             []byte
	already           bool // it was there
}

// errOtherClosing is the error of a sign-off that names another closing than
// the record has.
var errOtherClosing = refused("read it again, then sign", "not signed: the record was closed again or reopened meanwhile")

// sign appends a sign-off to the record that is kept, then to its file where
// that is at hand. Given again after it was cut short, it finishes.
func (d *desk) sign(s register.Store, id string, o signOptions) error {
	r, err := d.signOff(s, o, func() (register.Entry, error) { return d.find(s, id) })
	if err != nil {
		return err
	}
	verdict := d.says("sign." + o.verdict)
	if r.already {
		fmt.Fprintln(d.e.out, d.says("signed.already", "verdict", verdict, "name", reports.Clean(o.name)))
	} else {
		fmt.Fprintln(d.e.out, d.says("signed.now", "home", reports.Clean(r.home), "verdict", verdict, "hash", r.close))
	}
	d.deliverSigned(r.path, r.bytes)
	return nil
}

// signOff appends a sign-off to the record that find names.
func (d *desk) signOff(s register.Store, o signOptions, find func() (register.Entry, error)) (signedOff, error) {
	var no signedOff
	for try := 0; ; try++ {
		e, err := find()
		if err != nil {
			return no, err
		}
		r, err := s.Kept(d.e.ctx, e.Key)
		if err != nil {
			return no, d.wrong(err)
		}
		rec, err := journal.Parse(r.Bytes)
		if err != nil {
			return no, err
		}
		switch {
		case r.Fault != "":
			return no, failed(exitIntegrity, "add the record again when its file is whole", "not signed: %s", reports.Clean(r.Fault))
		case len(rec.Torn) > 0:
			return no, failed(exitIntegrity, "the crew goes on with it, then: cazward desk add", "not signed: the last line of the record was cut short")
		case o.close != "" && (!rec.Closed || o.close != rec.CloseHash):
			return no, errOtherClosing
		case !rec.Closed:
			return no, refused("the crew closes it, then: cazward desk add", "not signed: the record is not closed, and a sign-off names a closing")
		}
		done := signedOff{home: e.Home, close: rec.CloseHash, path: r.Path, bytes: r.Bytes}
		if again(rec, o) {
			done.already = true
			return done, nil
		}
		data := &procedure.Sign{Close: rec.CloseHash, Verdict: o.verdict, Name: o.name, Note: o.note}
		if o.key != "" {
			if data.Signature, err = makeSignature(d.e.ctx, o.key, rec.CloseHash); err != nil {
				return no, err
			}
			if d.signers != "" {
				if err := checkSignature(d.e.ctx, d.signers, rec.CloseHash, o.name, data.Signature); err != nil {
					return no, refused("name a key that the file allows this name", "not signed: %v", err)
				}
			}
		}
		now := d.e.now()
		_, line, err := rec.Extend(procedure.Event{Kind: procedure.KindSign, Observed: now, Written: now, Who: o.name, Src: procedure.FromWalk, Data: data})
		if err != nil {
			return no, err
		}
		it, err := d.item("", append(slices.Clip(r.Bytes), line...), r.Label, r.Fault)
		if err != nil {
			return no, err
		}
		it.Grows = e.Key
		if data.Signature != "" && d.signers != "" {
			it.Entry.Signature = journal.SignatureGood
		}
		_, err = s.Add(d.e.ctx, []register.Item{it})
		if errors.Is(err, register.ErrChanged) && try < 5 {
			continue // somebody added or signed it meanwhile: look again
		}
		done.bytes = it.Record.Bytes
		return done, d.wrong(err)
	}
}

// again reports whether the record ends with this very sign-off.
func again(rec journal.Record, o signOptions) bool {
	s, ok := rec.Events[len(rec.Events)-1].Data.(*procedure.Sign)
	return ok && s.Close == rec.CloseHash && s.Verdict == o.verdict && s.Name == o.name && s.Note == o.note && (s.Signature != "") == (o.key != "")
}

func (d *desk) deliverSigned(path string, kept []byte) {
	if path == "" {
		return
	}
	file := reports.Clean(path)
	switch ok, err := deliver(path, kept); {
	case errors.Is(err, os.ErrNotExist):
		fmt.Fprintln(d.e.out, d.says("file.away", "path", file))
	case err != nil:
		fmt.Fprintln(d.e.out, d.says("file.not-written", "path", file, "why", reports.Clean(cause(err))))
	case ok:
		fmt.Fprintln(d.e.out, d.says("file.written", "path", file))
	}
}

// makeSignature has the system's ssh-keygen sign the closing hash.
func makeSignature(ctx context.Context, key, hash string) (string, error) {
	if _, err := os.Stat(key); err != nil {
		return "", refused("name a private key file of ssh-keygen", "%v", err)
	}
	key, err := filepath.Abs(key) // a name that begins with a dash is no option
	if err != nil {
		return "", err
	}
	c := exec.CommandContext(ctx, "ssh-keygen", "-Y", "sign", "-q", "-n", signatureSpace, "-f", key)
	c.Stdin = strings.NewReader(hash)
	var out, bad strings.Builder
	c.Stdout, c.Stderr = &out, &bad
	if err := c.Run(); err != nil {
		return "", keygenFailed(err, bad.String())
	}
	if !strings.HasPrefix(out.String(), "-----BEGIN SSH SIGNATURE-----\n") {
		return "", refused("see: ssh-keygen -Y sign", "ssh-keygen made no signature")
	}
	return out.String(), nil
}

func keygenFailed(err error, said string) error {
	if errors.Is(err, exec.ErrNotFound) {
		return refused("install OpenSSH, or sign without --key", "ssh-keygen is not on this machine")
	}
	return refused("see: man ssh-keygen, option -Y", "ssh-keygen: %v: %s", err, reports.Clean(said))
}

// checkSignature has ssh-keygen check a signature by the allowed-signers
// file. A name that the file does not know cannot be checked, which is
// [journal.ErrUnchecked]; any other failure is a signature that is bad.
func checkSignature(ctx context.Context, signers, hash, name, signature string) error {
	known, err := os.ReadFile(signers)
	if err != nil {
		return fmt.Errorf("%w: %w", journal.ErrUnchecked, err)
	}
	if !knows(string(known), name) {
		return fmt.Errorf("%w: the allowed-signers file does not know %s", journal.ErrUnchecked, reports.Clean(name))
	}
	f, err := os.CreateTemp("", "cazward-signature-*")
	if err != nil {
		return fmt.Errorf("%w: %w", journal.ErrUnchecked, err)
	}
	defer os.Remove(f.Name())
	_, err = f.WriteString(signature)
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("%w: %w", journal.ErrUnchecked, err)
	}
	path, err := filepath.Abs(signers)
	if err != nil {
		return fmt.Errorf("%w: %w", journal.ErrUnchecked, err)
	}
	c := exec.CommandContext(ctx, "ssh-keygen", "-Y", "verify", "-f", path, "-I", name, "-n", signatureSpace, "-s", f.Name())
	c.Stdin = strings.NewReader(hash)
	out, err := c.CombinedOutput()
	switch {
	case err == nil:
		return nil
	case errors.Is(err, exec.ErrNotFound):
		return fmt.Errorf("%w: ssh-keygen is not on this machine", journal.ErrUnchecked)
	}
	return fmt.Errorf("ssh-keygen refuses it: %s", reports.Clean(strings.TrimSpace(string(out))))
}

// knows reports whether a line of the file may be about the name: patterns
// are for ssh-keygen to judge.
func knows(file, name string) bool {
	for line := range strings.Lines(file) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		who, _, _ := strings.Cut(line, " ")
		if rest, quoted := strings.CutPrefix(line, `"`); quoted {
			who, _, _ = strings.Cut(rest, `"`)
		}
		for _, p := range strings.Split(who, ",") {
			if ok, err := filepath.Match(p, name); p == name || ok && err == nil {
				return true
			}
		}
	}
	return false
}
