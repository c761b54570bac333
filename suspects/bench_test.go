package suspects_test

import (
	"testing"

	"phasewright/bench"
	"phasewright/suspects"
)

// The invented eight with a usual set of evidence: ranking over all singles and pairs (100 ms at most wanted), with
// advice (300 ms).
func BenchmarkExplain(b *testing.B) {
	c := bench.Default()
	for _, tc := range []struct {
		name string
		f    bench.Faults
	}{{"housing", bench.Faults{Housing: 2}}, {"wires", bench.Faults{Swapped: [2]int{3, 5}}}, {"sound", bench.Faults{}}} {
		s, err := newShop(c, tc.f, 1)
		if err != nil {
			b.Fatal(err)
		}
		e, err := suspects.NewFor(c, suspects.DefaultPriors())
		if err != nil {
			b.Fatal(err)
		}
		ev := s.usual()
		b.Run(tc.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := e.Explain(ev, suspects.Limits{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
