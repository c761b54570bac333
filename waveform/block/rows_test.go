package block

import (
	"math/rand/v2"
	"testing"
)

func BenchmarkExtremes(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	v := make([]float64, 256)
	for i := range v {
		v[i] = rng.NormFloat64()
	}
	b.SetBytes(int64(8 * len(v)))
	for b.Loop() {
		Extremes(v)
	}
}
