package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"cazward/procedure"
	"cazward/procedure/journal/disk"
	"cazward/procedure/sequence"
	"cazward/report/photo"
)

// readPhoto reads a photo by its path and gives what is kept of it: upright,
// scaled, without metadata. Errors are of the file, or *[photo.Refused].
func readPhoto(path string) (photo.Picture, error) {
	info, err := os.Stat(path)
	if err != nil {
		return photo.Picture{}, err
	}
	if !info.Mode().IsRegular() { // a pipe would wait for ever
		return photo.Picture{}, fmt.Errorf("%s is not a file", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return photo.Picture{}, err
	}
	defer f.Close()
	return photo.Prepare(f)
}

// preparePhoto is readPhoto with errors that say what to do next.
func preparePhoto(path string) (photo.Picture, error) {
	p, err := readPhoto(path)
	var r *photo.Refused
	if errors.As(err, &r) {
		return p, refused(saying("%s", foreign(r.Hint())), "%s: %s", path, r)
	}
	if err != nil {
		return p, refused("give the path of a JPEG or PNG on this computer that may be read", "%v", err)
	}
	return p, nil
}

// photoPath is a path as a person types it, or as a terminal gives one that
// was dragged there: in quotes, with its spaces escaped, from the home folder.
func photoPath(text string) string {
	if n := len(text); n > 1 && (text[0] == '\'' || text[0] == '"') && text[n-1] == text[0] {
		text = text[1 : n-1]
	} else {
		text = strings.ReplaceAll(text, `\ `, " ")
	}
	if rest, ok := strings.CutPrefix(text, "~/"); ok {
		if home, err := os.UserHomeDir(); err == nil {
			return filepath.Join(home, rest)
		}
	}
	return text
}

// attachTo keeps a photo beside an open record and tells the record of it:
// the bytes first, then the event.
func attachTo(e *env, rec *disk.Journal, st *sequence.State, step string, p photo.Picture) (*sequence.State, error) {
	events := rec.Record().Events
	last := events[len(events)-1]
	sha, err := rec.StoreAttachment(p.Data)
	if err != nil {
		return st, err
	}
	now := e.now()
	ev := procedure.Event{N: st.Last() + 1, Kind: procedure.KindAttach, Step: step, Observed: now, Written: now, Who: last.Who, Src: last.Src,
		Data: &procedure.Attach{SHA256: sha, Bytes: int64(len(p.Data)), Type: p.Type, Step: step}}
	next, err := st.Apply(ev)
	if err != nil {
		return st, err
	}
	if _, err := rec.Append(ev); err != nil {
		return st, err
	}
	return next, nil
}

func attachCmd(e *env) *cobra.Command {
	var step string
	c := &cobra.Command{Use: "attach RECORD PHOTO...", Short: "keep photos beside a record that is not closed yet",
		Long: `Keep photos (JPEG or PNG) beside a record. They are turned upright and scaled,
and what they say about place, time and camera is removed; the originals are
left alone. All photos are looked at before any is kept.`,
		Args: cobra.MinimumNArgs(2),
		RunE: func(_ *cobra.Command, args []string) error {
			var list []photo.Picture
			for _, path := range args[1:] {
				p, err := preparePhoto(path)
				if err != nil {
					return err
				}
				list = append(list, p)
			}
			if _, err := os.Stat(args[0]); err != nil {
				return refused("give the path of a record", "%v", err)
			}
			rec, err := disk.Open(args[0])
			if err != nil {
				return err
			}
			defer rec.Close()
			r := rec.Record()
			if r.Closed {
				return refused(saying("reopen it first: cazward walk %s --reopen REASON", args[0]), "%s is closed", args[0])
			}
			st, err := sequence.Replay(r.Header, r.Events)
			if err != nil {
				return failed(exitIntegrity, saying("cazward verify %s", args[0]), "%s: %v", args[0], err)
			}
			if step == "" {
				if next, ok := st.Next(); ok {
					step = next.ID
				} else { // all is answered: it belongs to what came last
					step = r.Events[len(r.Events)-1].Step
				}
			} else if _, ok := st.StepFor(step); !ok {
				return usage("name a step of this record, as cazward show --json names them", "no step %q is asked in this test", step)
			}
			for i, p := range list {
				if st, err = attachTo(e, rec, st, step, p); err != nil {
					return err
				}
				fmt.Fprintf(e.err, "kept %s: %d x %d pixels, %d bytes, at %s\n", args[i+1], p.Width, p.Height, len(p.Data), step)
			}
			return nil
		}}
	c.Flags().StringVar(&step, "step", "", "the step that the photos belong to; the next one if not given")
	return c
}
