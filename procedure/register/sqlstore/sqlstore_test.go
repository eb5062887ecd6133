package sqlstore

import (
	"fmt"
	"math/rand"
	"reflect"
	"testing"

	"cazward/procedure"
	"cazward/procedure/register"
)

// TestGroupsAreEnough holds that the few others that groups picks lead to the
// same reasons as all there are.
func TestGroupsAreEnough(t *testing.T) {
	rnd := rand.New(rand.NewSource(1))
	pick := func(l ...string) string { return l[rnd.Intn(len(l))] }
	said := map[register.Code]int{}
	for range 300 {
		all := map[int64]register.Entry{}
		var list []register.Entry
		for i := range int64(1 + rnd.Intn(14)) {
			e := register.Entry{Key: i + 1, Record: pick("r1", "r2", "r3", fmt.Sprint("r", i+9)), Home: pick("Ash", "Birch", "Cedar"), Phase: procedure.Phase(pick("test-in", "test-in", "daily", "test-out", "")),
				Day: rnd.Intn(4), Close: "h", Decision: procedure.Proceed, Print: pick("", "p", "q"), Practice: rnd.Intn(5) == 0}
			all[e.Key] = e
			list = append(list, e)
		}
		group := groups(all)
		for _, e := range list {
			want, got := register.Cross(e, list), register.Cross(e, group(e))
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("%+v among %+v:\ngot  %+v\nwant %+v", e, list, got.Reasons, want.Reasons)
			}
			for _, r := range got.Reasons {
				said[r.Code]++
			}
		}
	}
	for _, c := range []register.Code{register.SecondRecord, register.NoLaterTest, register.SameElsewhere} {
		if said[c] < 20 {
			t.Errorf("%s came up %d times: the test hardly tests", c, said[c])
		}
	}
}
