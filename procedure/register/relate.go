package register

import (
	"cazward/procedure/journal"
)

// Relate tells how a candidate stands to the records kept under its id, and
// to which of them; -1 for none. Bytes loads the bytes of a kept record, and
// is asked only where length and head cannot tell. Only an intact record
// grows or is grown into: what is damaged is kept beside it.
func Relate(kept []Record, c Record, bytes func(i int) ([]byte, error)) (journal.Relation, int, error) {
	for i, k := range kept {
		if k.Sum == c.Sum {
			return journal.Same, i, nil
		}
	}
	best, at := journal.RelationUnknown, -1
	for i, k := range kept {
		if k.State == journal.Damaged || c.State == journal.Damaged || k.Size == 0 {
			continue
		}
		was := journal.Kept{Bytes: k.Size, Head: k.Head}
		if int64(len(c.Bytes)) < k.Size {
			b, err := bytes(i)
			if err != nil {
				return "", -1, err
			}
			was.Record = b
		}
		rel := journal.Compare(was, c.Bytes)
		if rel == journal.Same { // whole lines alike, another tail
			rel = journal.Growth
		}
		switch {
		case rel == journal.Older:
			return rel, i, nil // nothing of it is new
		case rel == journal.Growth && (at < 0 || k.Size > kept[at].Size):
			best, at = rel, i
		}
	}
	switch {
	case at >= 0:
		return best, at, nil
	case len(kept) > 0:
		return journal.Second, -1, nil
	}
	return journal.RelationUnknown, -1, nil
}
