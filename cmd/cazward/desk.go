package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql/driver"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"cazward/limits"
	"cazward/procedure"
	"cazward/procedure/evaluation"
	"cazward/procedure/journal"
	"cazward/procedure/journal/disk"
	"cazward/procedure/register"
	"cazward/procedure/register/sqlite"
	"cazward/procedure/sequence"
	"cazward/procedure/wording"
	reports "cazward/report"
)

// desk is what the supervisor's verbs share: where the register is, and by
// what homes are judged.
type desk struct {
	e        *env
	where    string   // --register
	scheme   string   // --scheme
	overlays []string // --limits
	signers  string   // allowed-signers file of ssh-keygen
	lang     string   // --lang
	by       *judgeBy
	shared   journal.Shared // data of the records read
}

// judgeBy is a scheme with overlays, or each record's own scheme where none
// is named. It is for several goroutines at once.
type judgeBy struct {
	force register.InForce

	mu    sync.Mutex
	rules map[string]*ruled
}

type ruled struct {
	rules procedure.Rules
	err   error
}

// String names what is in force.
func (b *judgeBy) String() string { return b.in(wording.English) }

func (b *judgeBy) in(l wording.Lang) string {
	s := b.force.Scheme
	if s == "" {
		s = wording.DeskSays(l, "own-scheme")
	}
	for _, o := range b.force.Overlays {
		s += " " + wording.DeskSays(l, "with") + " " + reports.Clean(filepath.Base(o.Name))
	}
	return s
}

// l is the language of what is said.
func (d *desk) l() wording.Lang { return wording.Lang(d.lang) }

func (d *desk) says(key string, pairs ...string) string {
	return wording.DeskSays(d.l(), key, pairs...)
}

// rulesFor a plan of this scheme, read once.
func (b *judgeBy) rulesFor(scheme string) (procedure.Rules, error) {
	if b.force.Scheme != "" {
		scheme = b.force.Scheme
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	r, ok := b.rules[scheme]
	if !ok {
		r = &ruled{}
		o := limits.Options{Scheme: scheme}
		for _, f := range b.force.Overlays {
			o.Overlays = append(o.Overlays, limits.Source{Name: f.Name, Data: f.Data})
		}
		set, err := limits.Load(o)
		if r.err = err; err == nil {
			r.rules = set.Rules()
		}
		if b.rules == nil || len(b.rules) > 1000 { // names come out of records
			b.rules = map[string]*ruled{}
		}
		b.rules[scheme] = r
	}
	return r.rules, r.err
}

// asked is what --scheme and --limits name, and whether they name anything.
// What cannot be read is refused before anything is done.
func (d *desk) asked() (register.InForce, bool, error) {
	f := register.InForce{Scheme: d.scheme}
	if f.Scheme == "own" {
		f.Scheme = ""
	}
	for _, name := range d.overlays {
		b, err := os.ReadFile(name)
		if err != nil {
			return f, false, refused("give the path of an overlay file", "%v", err)
		}
		f.Overlays = append(f.Overlays, register.Overlay{Name: name, Data: b})
	}
	if d.scheme == "" && f.Overlays == nil {
		return f, false, nil
	}
	_, err := (&judgeBy{force: f}).rulesFor(f.Scheme)
	return f, true, err
}

func deskCmd(e *env) *cobra.Command {
	d := &desk{e: e}
	c := &cobra.Command{Use: "desk", Short: "the supervisor's side: many homes, which want attention, sign-off", Args: cobra.NoArgs,
		Long: `desk keeps records of many homes in a register and says which want attention
first, and why. The records stay the truth: the register holds their bytes and
an index that can be made again.

The register is one SQLite file in your data folder, or what --register or
CAZWARD_REGISTER names: sqlite:FILE or postgres://user@host/name. A password
belongs in CAZWARD_REGISTER or ~/.pgpass, where other users of the machine do
not see it.`,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() }}
	c.PersistentFlags().StringVar(&d.lang, "lang", "en", "en or es; codes are English")
	c.PersistentFlags().StringVar(&d.where, "register", "", "sqlite:FILE or postgres://...; CAZWARD_REGISTER if not given")
	c.AddCommand(d.addCmd(), d.queueCmd(), d.openCmd(), d.signCmd(), d.rejudgeCmd(), d.rebuildCmd(), d.trendCmd(), d.serveCmd())
	return c
}

// dataFolder is where a program keeps what is not to be lost and no setting:
// XDG_DATA_HOME or ~/.local/share; Application Support on macOS; %AppData% on
// Windows.
func dataFolder() (string, error) {
	if runtime.GOOS == "windows" || runtime.GOOS == "darwin" {
		return os.UserConfigDir()
	}
	if d := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(d) {
		return d, nil
	}
	home, err := os.UserHomeDir()
	return filepath.Join(home, ".local", "share"), err
}

// open opens the register. Where only reading is wanted it must exist.
func (d *desk) open(make bool) (register.Store, error) {
	if d.lang != "" {
		if _, err := language(d.lang); err != nil {
			return nil, err
		}
	}
	where := d.where
	if where == "" {
		where = os.Getenv("CAZWARD_REGISTER")
	}
	file, isFile := strings.CutPrefix(where, "sqlite:")
	switch {
	case where == "":
		dir, err := dataFolder()
		if err != nil {
			return nil, refused("give --register sqlite:FILE", "no data folder: %v", err)
		}
		dir = filepath.Join(dir, "cazward")
		if make {
			if err := os.MkdirAll(dir, 0o700); err != nil {
				return nil, refused("give --register sqlite:FILE", "the data folder cannot be made: %v", err)
			}
		}
		file, isFile = filepath.Join(dir, "register.db"), true
	case strings.HasPrefix(where, "postgres://") || strings.HasPrefix(where, "postgresql://"):
		s, err := openPostgres(d.e.ctx, where)
		return d.opened(s, err)
	}
	if !isFile || file == "" {
		return nil, usage("registers are sqlite:FILE and postgres://user@host/name", "no register is called %q", beforeAt(where))
	}
	if info, err := os.Stat(file); err != nil && !make && errors.Is(err, os.ErrNotExist) {
		return nil, refused("fill it with: cazward desk add FOLDER", "there is no register at %s", file)
	} else if err == nil && !info.Mode().IsRegular() {
		return nil, refused("name a file", "%s is not a file", file)
	}
	s, err := sqlite.Open(d.e.ctx, file)
	return d.opened(s, err)
}

// opened reads what is in force in the register.
func (d *desk) opened(s register.Store, err error) (register.Store, error) {
	if err != nil {
		return nil, d.wrong(err)
	}
	f, err := s.InForce(d.e.ctx)
	if err != nil {
		s.Close()
		return nil, d.wrong(err)
	}
	d.by = &judgeBy{force: f}
	return s, nil
}

func (d *desk) ruleFlags(c *cobra.Command, what string) {
	c.Flags().StringVar(&d.scheme, "scheme", "", what+" by this scheme; own is each record's own")
	c.Flags().StringArrayVar(&d.overlays, "limits", nil, "overlay file on the scheme")
}

// beforeAt hides what may be a password.
func beforeAt(s string) string {
	if i := strings.LastIndexByte(s, '@'); i >= 0 {
		return "..." + s[i:]
	}
	return s
}

// wrong says what to do about a failure of the register: what was added
// before it stays, and the command can be given again.
func (d *desk) wrong(err error) error {
	if err == nil {
		return nil
	}
	var coded interface{ ExitCode() int }
	if errors.As(err, &coded) {
		return err
	}
	var f *failure
	var x exitWith
	switch {
	case errors.As(err, &f), errors.As(err, &x):
		return err
	case errors.Is(err, context.Canceled):
		return failed(exitInterrupt, "what was kept stays; give the command again to go on", "interrupted")
	case errors.Is(err, register.ErrNotFound):
		return refused("see: cazward desk queue --signed", "no such record is kept")
	}
	var op *net.OpError
	code, hint := exitRefused, saying("nothing that was kept is lost; see that the register can be reached and written, then give the command again")
	if s := err.Error(); strings.Contains(s, "SQLITE_BUSY") || strings.Contains(s, "database is locked") {
		code, hint = exitInUse, saying("another program keeps the register busy; give the command again")
	} else if errors.As(err, &op) || errors.Is(err, driver.ErrBadConn) {
		hint = saying("the database cannot be reached; nothing that was kept is lost; give the command again when it can")
	}
	f = failed(code, hint, "register: %s", reports.Clean(err.Error()))
	f.err = err
	return f
}

// maxRecord is the largest file that is taken for a record, in bytes.
const maxRecord = 64 << 20

// readRecord reads a file that may be a record. Only a plain file is read: a
// pipe or a device of that name would never end.
func readRecord(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("is not a plain file")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	b := make([]byte, 0, info.Size()+1)
	buf := bytes.NewBuffer(b)
	if _, err := io.Copy(buf, io.LimitReader(f, maxRecord+1)); err != nil {
		return nil, err
	}
	if buf.Len() > maxRecord {
		return nil, fmt.Errorf("has more than %d MB, which no record has", maxRecord>>20)
	}
	return buf.Bytes(), nil
}

// notRecord is the error of bytes that are none.
var errNotRecord = errors.New("is not a record: the first line does not begin as one")

// item makes what is kept of the bytes of a record. What is damaged or cannot
// be judged is an item too: only what is no record at all is an error. Path
// is where it lies, "" where that is not known; then what lies beside it is
// taken to be as fault says.
func (d *desk) item(path string, b []byte, label, fault string) (register.Item, error) {
	sum := sha256.Sum256(b)
	ev := register.Evidence{Record: register.Record{Bytes: b, Size: int64(len(b)), Sum: hex.EncodeToString(sum[:]), Label: label, Path: path, Added: d.e.now(), Fault: fault}}
	rec, err := d.shared.Parse(b)
	var je *journal.Error
	switch {
	case errors.As(err, &je):
		v := journal.Verify(b, journal.VerifyOptions{})
		if je.Code == journal.CodeNotRecord && !strings.HasSuffix(path, recordSuffix) {
			return register.Item{}, errNotRecord
		}
		ev.Record.ID, ev.Record.Home, ev.Record.State, ev.Why = v.Header.Record, v.Header.Home, journal.Damaged, je.Text
		if je.Line > 0 {
			ev.Why = fmt.Sprintf("line %d: %s", je.Line, je.Text)
		}
		if v.Word == journal.Newer {
			ev.Record.State = journal.Newer
			ev.Record.Head = journal.Hash(b[bytes.LastIndexByte(bytes.TrimSuffix(b, []byte("\n")), '\n')+1:])
		}
		if ev.Record.ID == "" { // its name is all that is known of it
			ev.Record.ID = "unreadable-" + ev.Record.Sum[:16]
			ev.Record.Home = reports.Clean(strings.TrimSuffix(filepath.Base(path), recordSuffix))
		}
	case err != nil:
		return register.Item{}, err
	default:
		ev.Rec = rec
		ev.Record.ID, ev.Record.Home, ev.Record.Size, ev.Record.Head = rec.Header.Record, rec.Header.Home, rec.Size(), rec.Head
		switch {
		case len(rec.Torn) > 0:
			ev.Record.State = journal.Torn
			ev.Why = fmt.Sprintf("%d bytes after the last whole line", len(rec.Torn))
		case rec.Closed:
			ev.Record.State = journal.Closed
		default:
			ev.Record.State = journal.Open
		}
		d.beside(&ev, path, b)
		d.judge(&ev)
	}
	return register.Make(ev), nil
}

// beside checks what the lines alone do not show: attachments and signatures.
func (d *desk) beside(ev *register.Evidence, path string, b []byte) {
	signed, attached := false, false
	for _, x := range ev.Rec.Events {
		switch s := x.Data.(type) {
		case *procedure.Sign:
			signed = signed || s.Signature != ""
			ev.SignatureOf = journal.Unsigned
			if s.Signature != "" {
				ev.SignatureOf = journal.SignatureUnchecked
			}
		case *procedure.Attach:
			attached = true
		}
	}
	if !(signed && d.signers != "") && !(attached && path != "") {
		return
	}
	o := journal.VerifyOptions{Attachment: func(string) (io.ReadCloser, error) { return nil, errors.New("not looked for") }}
	if path != "" {
		ev.Record.Fault = ""
		o.Attachment = disk.Attachments(path)
	}
	if d.signers != "" {
		o.CheckSignature = func(hash, name, sig string) error { return checkSignature(d.e.ctx, d.signers, hash, name, sig) }
	}
	v := journal.Verify(b, o)
	if n := len(v.Signs); n > 0 && v.Signs[n-1].Signature != journal.Unsigned {
		ev.SignatureOf = v.Signs[n-1].Signature
	}
	if v.Word == journal.Damaged && (v.Why == journal.WhySignature || v.Why == journal.WhyAttachment && path != "") {
		ev.Record.Fault = reports.Clean(v.Text)
	}
}

// judge replays and judges. A record on which the program itself fails is not
// judged, and stands in the queue as such.
func (d *desk) judge(ev *register.Evidence) {
	defer func() {
		if r := recover(); r != nil {
			ev.Judgement = procedure.Judgement{}
			ev.Observations = procedure.Observations{}
			ev.Why = reports.Clean(fmt.Sprintf("a fault of the program: %v", r))
		}
	}()
	st, err := sequence.Replay(ev.Rec.Header, ev.Rec.Events)
	if err != nil {
		ev.Why = err.Error()
		return
	}
	ev.Observations = st.Observations()
	ev.Crew = st.Who()
	ev.CFM50, ev.Flows = flowsOf(st, ev.Observations.Fans)
	rules, err := d.by.rulesFor(st.Plan().Scheme.Name)
	if err != nil {
		ev.Why = strings.SplitN(err.Error(), "\n", 2)[0]
		return
	}
	ev.Judgement = evaluation.Judge(ev.Observations, rules)
}

// flowsOf are CFM50 and the rated flows, where they were written down.
func flowsOf(st *sequence.State, fans []procedure.RosterItem) (float64, map[string]float64) {
	number := func(key string) float64 {
		data, _, ok := st.Fact(key)
		a, isAnswer := data.(*procedure.Answer)
		if !ok || !isAnswer || a.Number == nil || a.Number.Value == nil {
			return 0
		}
		return *a.Number.Value
	}
	flows := map[string]float64{}
	for _, f := range fans {
		flows[f.ID] = number("list/flows/" + f.ID)
	}
	return number("list/cfm50"), flows
}

// integrityFailed reports whether a record's integrity failed, so that the
// exit code must say so.
func integrityFailed(it register.Item) bool {
	switch it.Record.State {
	case journal.Damaged, journal.Torn:
		return true
	}
	return it.Record.Fault != "" || it.Record.State != journal.Newer && it.Snapshot == nil
}

// idOf is the name by which a person can ask for an entry: its record id, and
// where several are kept under it, the beginning of the head too.
func idOf(e register.Entry, several bool) string {
	if !several {
		return e.Record
	}
	head := e.Head
	if head == "" {
		head = fmt.Sprintf("k%d", e.Key)
	}
	return e.Record + "~" + head[:min(len(head), 12)]
}

func several(e register.Entry) bool {
	for _, r := range e.Reasons {
		if r.Code == register.SecondRecord {
			return true
		}
	}
	return false
}

// find returns the entry that a person asks for: by record id, by record id
// and head, or by the name of the home where that names one.
func (d *desk) find(s register.Store, id string) (register.Entry, error) {
	list, err := s.Find(d.e.ctx, id)
	if err != nil {
		return register.Entry{}, d.wrong(err)
	}
	if len(list) == 0 {
		if i := strings.LastIndexByte(id, '~'); i > 0 {
			all, err := s.Find(d.e.ctx, id[:i])
			if err != nil {
				return register.Entry{}, d.wrong(err)
			}
			for _, e := range all {
				if idOf(e, true) == id {
					list = append(list, e)
				}
			}
		}
	}
	if len(list) == 0 {
		if list, err = s.Page(d.e.ctx, register.Filter{Home: id, Accepted: true}, 0, 20); err != nil {
			return register.Entry{}, d.wrong(err)
		}
	}
	switch len(list) {
	case 0:
		return register.Entry{}, refused("see: cazward desk queue --signed", "no record or home is called %q", reports.Clean(id))
	case 1:
		return list[0], nil
	}
	var names []string
	for _, e := range list {
		names = append(names, reports.Clean(idOf(e, several(e)))+" ("+string(e.Phase)+")")
	}
	return register.Entry{}, refused(saying("name one of them: %s", strings.Join(names, ", ")), "%d records are called %q", len(list), reports.Clean(id))
}
