package limits

import (
	"bytes"
	"fmt"
	"testing"
)

// manyRows is an overlay of n rows of each topic that may have many: pressure
// and CO rows that tell appliances apart by every fact there is, bands of the
// matrix, tiers, notes.
func manyRows(n int) []byte {
	var b bytes.Buffer
	b.WriteString("accept_risk: a table of the largest size\n" + head)
	tail := "    source:\n      title: program rule\n    evidence: own-rule\n"
	all, partners := kinds(), []string{"furnace", "boiler", "water-heater", "room-heater"}
	for i := range n {
		fmt.Fprintf(&b, "  - id: row-%d\n", i)
		j := i / 5
		switch i % 5 {
		case 0, 1:
			topic, value := "depressurization\n", "    value: -2\n    unit: Pa\n"
			if i%5 == 1 {
				topic, value = "co\n", "    value: 100\n    unit: ppm\n    basis: air-free\n"
			}
			b.WriteString("    topic: " + topic)
			fmt.Fprintf(&b, "    applies:\n      kinds:\n        - %s\n      fuels:\n        - %s\n      vents:\n        - %s\n      common: true\n      partner:\n        - %s\n", all[j%3], fuels[j/3%3], vents()[j/9%5], partners[j/45%4])
			for f, name := range []string{"fan_partner", "damper", "orphaned", "outside", "top_inducer"} {
				if name == "fan_partner" && vents()[j/9%5] == "fan-assisted" {
					fmt.Fprintf(&b, "      fan_partner: true\n")
				} else if heats := j%3 < 2 || j/45%4 < 2; name == "damper" && !heats {
					fmt.Fprintf(&b, "      damper: false\n")
				} else {
					fmt.Fprintf(&b, "      %s: %v\n", name, j/180>>f&1 == 1)
				}
			}
			b.WriteString(value)
		case 2:
			fmt.Fprintf(&b, "    topic: matrix\n    over: %d\n    up_to: %d\n    spillage: any\n    draft: any\n    decision: hold\n    status: off-until-serviced\n    action: stop-service\n", 401+j, 402+j)
		case 3:
			fmt.Fprintf(&b, "    topic: tier\n    hazard: ambient-co\n    value: %d\n    unit: ppm\n    act: out\n", 71+j%900)
		default:
			b.WriteString("    topic: requirement\n    about: note\n    text: a note\n")
		}
		b.WriteString(tail)
	}
	return b.Bytes()
}

// TestManyRows: the largest table that anybody would write is good.
func TestManyRows(t *testing.T) {
	if p := Check("o.yaml", manyRows(10_000)); len(p) > 0 {
		t.Errorf("%d problems, the first: %v", len(p), p[0])
	}
}

// BenchmarkCheck10000 is to stay under 2 s.
func BenchmarkCheck10000(b *testing.B) {
	data := manyRows(10_000)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if p := Check("o.yaml", data); len(p) > 0 {
			b.Fatal(p[0])
		}
	}
}

// BenchmarkLoad is a shipped scheme, as every verb loads it.
func BenchmarkLoad(b *testing.B) {
	for b.Loop() {
		if _, err := Load(Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
