package forms

import (
	"math/rand"
	"strings"
	"testing"

	"cazward/procedure"
)

func ruler(net, u float64, limits ...float64) Ruler {
	r := Ruler{Net: net, U: u}
	for i, at := range limits {
		b := procedure.Bound{Value: at, Sense: procedure.AtLeast}
		r.Marks = append(r.Marks, Mark{Letter: byte('A' + i), At: at, Text: "one vent, " + signed(at, 1) + " (from memory)", Side: b.Side(net, u)})
	}
	return r
}

func TestDrawRuler(t *testing.T) {
	for _, c := range []struct {
		name  string
		r     Ruler
		width int
		want  string
	}{
		{"too close, wide", ruler(-2.6, 0.5, -3), 80, `
      0       -1       -2       -3       -4       -5       -6 Pa
      +--------+--------+--------A--------+--------+--------+  minus: lower
 net  ===================?????????       -2.6, give or take 0.5
 A    limit for one vent, -3.0 (from memory): TOO CLOSE, a fail so far`},
		{"too close, narrow", ruler(-2.6, 0.5, -3), 60, `
      0     -1     -2     -3     -4     -5     -6 Pa
      +------+------+------A------+------+------+
 net  ===============???????     -2.6, give or take 0.5
 A    one vent, -3.0 (from memory): TOO CLOSE, fail so far`},
		{"inside", ruler(-1, 0.3, -3), 60, `
      0     -1     -2     -3     -4     -5     -6 Pa
      +------+------+------A------+------+------+
 net  =====????    -1.0, give or take 0.3
 A    one vent, -3.0 (from memory): INSIDE so far`},
		{"past, though only the give-or-take is beyond", ruler(-3.2, 0.5, -3), 60, `
      0     -1     -2     -3     -4     -5     -6 Pa
      +------+------+------A------+------+------+
 net  ======================????   -3.2, give or take 0.5
 A    one vent, -3.0 (from memory): PAST, fail so far`},
		{"a hair inside is not drawn as a gap", ruler(-2.96, 0.05, -3), 60, `
      0     -1     -2     -3     -4     -5     -6 Pa
      +------+------+------A------+------+------+
 net  ====================??     -2.96, give or take 0.1
 A    one vent, -3.0 (from memory): TOO CLOSE, fail so far`},
		{"above zero", ruler(0.4, 0.6, -3), 60, `
      0     -1     -2     -3     -4     -5     -6 Pa
      +------+------+------A------+------+------+
 net <?     +0.4, give or take 0.6
 A    one vent, -3.0 (from memory): INSIDE so far`},
		{"beyond the scale", ruler(-9.3, 0.5, -3), 60, `
      0     -1     -2     -3     -4     -5     -6 Pa
      +------+------+------A------+------+------+
 net  ===========================================>   -9.3
 A    one vent, -3.0 (from memory): PAST, fail so far`},
		{"beyond the scale, wide", ruler(-9.3, 0.5, -3), 80, `
      0       -1       -2       -3       -4       -5       -6 Pa
      +--------+--------+--------A--------+--------+--------+  minus: lower
 net  =======================================================>   -9.3 (+-0.5)
 A    limit for one vent, -3.0 (from memory): PAST, a fail so far`},
		{"far limit", ruler(-4, 0.5, -15), 60, `
      0     -3     -6     -9    -12    -15    -18 Pa
      +------+------+------+------+------A------+
 net  ========???         -4.0, give or take 0.5
 A    one vent, -15.0 (from memory): INSIDE so far`},
		{"no rule", Ruler{Net: -2.6, U: 0.5, None: "recorded; this scheme sets no Pa limit"}, 60, `
      0     -1     -2     -3     -4     -5     -6 Pa
      +------+------+------+------+------+------+
 net  ===============???????     -2.6, give or take 0.5
      recorded; this scheme sets no Pa limit`},
	} {
		got := "\n" + strings.Join(DrawRuler(c.r, c.width), "\n")
		if got != c.want {
			t.Errorf("%s:\ngot%s\nwant%s", c.name, got, c.want)
		}
	}
}

func TestDrawRulerMore(t *testing.T) {
	r := ruler(-2.6, 0.5, -3, -5, -2)
	for _, width := range []int{60, 80} {
		lines := DrawRulerIn(r, width, 4)
		all := strings.Join(lines, "\n")
		if len(lines) != 4 || !strings.Contains(all, "2 more") {
			t.Errorf("width %d:\n%s", width, all)
		}
		for _, letter := range []string{"A", "B", "C"} {
			if !strings.Contains(lines[1], letter) {
				t.Errorf("width %d: %s is not on the scale:\n%s", width, letter, all)
			}
		}
		if n := len(DrawRuler(r, width)); n != 6 {
			t.Errorf("width %d: %d lines, want 6", width, n)
		}
	}
}

func TestDrawRulerFinal(t *testing.T) {
	r := ruler(-2.6, 0.5, -3)
	r.Final = true
	if l := DrawRuler(r, 80)[3]; !strings.HasSuffix(l, ": TOO CLOSE, counts as a fail") {
		t.Error(l)
	}
}

// TestRulerAgrees holds the drawing against the verdict for many nets: the
// letter is covered by = exactly when the verdict is beyond, by ? exactly when
// it is too close, by nothing when it is inside, however the figures round.
func TestRulerAgrees(t *testing.T) {
	rnd := rand.New(rand.NewSource(1))
	limits := []float64{-2, -2.1, -3, -3.05, -5, -15}
	for range 20000 {
		var some []float64
		for _, l := range limits {
			if rnd.Intn(2) == 0 {
				some = append(some, l)
			}
		}
		net, u := -8*rnd.Float64()+1, rnd.Float64()
		if len(some) > 0 && rnd.Intn(2) == 0 { // close to a limit, where rounding bites
			net = some[0] + (rnd.Float64()-0.5)*0.1
			u = rnd.Float64() * 0.06
		}
		r := ruler(net, u, some...)
		for _, width := range []int{60, 80} {
			lines := DrawRuler(r, width)
			for _, l := range lines {
				if len(l) > width-1 {
					t.Fatalf("%d columns: %q", len(l), l)
				}
			}
			for _, m := range r.Marks {
				at := strings.IndexByte(lines[1], m.Letter)
				if at < 0 {
					t.Fatalf("%v: no %c in\n%s", r, m.Letter, strings.Join(lines, "\n"))
				}
				under := byte(' ')
				if at < len(lines[2]) {
					under = lines[2][at]
				}
				bad := false
				switch m.Side {
				case procedure.SideBeyond:
					bad = under != '='
				case procedure.SideTooClose:
					bad = under != '?'
				case procedure.SideInside:
					bad = under == '=' || under == '?'
				}
				if bad {
					t.Fatalf("net %v u %v: %c is %v but %q stands under it\n%s", net, u, m.Letter, m.Side, under, strings.Join(lines, "\n"))
				}
			}
		}
	}
}
