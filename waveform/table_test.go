package waveform

import (
	"fmt"
	"math/rand/v2"
)

// tableBytes is an invented five-column table: 1 µs rows, a 1 kHz and a 250 Hz square with noise, 41 bytes a row.
func tableBytes(rows int) []byte {
	rng := rand.New(rand.NewPCG(1, 2))
	b := []byte("time,crank,cam,spark,mark\n")
	for i := range rows {
		sq := func(period int, amp float64) float64 {
			v := 0.02 * rng.NormFloat64()
			if i/(period/2)%2 == 1 {
				v += amp
			}
			return v
		}
		b = fmt.Appendf(b, "%.6f,%.4f,%.4f,%.4f,%.4f\n", float64(i)*1e-6, sq(1000, 5), sq(4000, 5), sq(1000, 12), sq(8000, 3.3))
	}
	return b
}
