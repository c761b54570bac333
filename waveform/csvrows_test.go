package waveform

import (
	"fmt"
	"math/rand/v2"
	"testing"
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

func BenchmarkCSVParse(b *testing.B) {
	data := tableBytes(200_000)
	lay, p := csvHead(data[:64<<10], false)
	if p != nil {
		b.Fatal(p)
	}
	body := append([]byte(nil), data[lay.body:]...)
	const size = 512 << 10
	end := size
	for body[end-1] != '\n' {
		end--
	}
	body = append(append(make([]byte, chunkPad), body[:end]...), make([]byte, chunkPad)...)
	var r csvRows
	b.SetBytes(int64(end))
	b.ResetTimer()
	for b.Loop() {
		r.parseRows(lay, body, false)
	}
	if r.problem != nil || r.rows < 1000 {
		b.Fatal(r.problem, r.rows)
	}
}

func BenchmarkCSVParseOddCharacters(b *testing.B) {
	data := tableBytes(50_000)
	lay, p := csvHead(data[:64<<10], false)
	if p != nil {
		b.Fatal(p)
	}
	lay.plain = false
	body := data[lay.body:]
	padded := append(append(make([]byte, chunkPad), body...), make([]byte, chunkPad)...)
	var r csvRows
	b.SetBytes(int64(len(body)))
	for b.Loop() {
		r.parseRows(lay, padded, true)
	}
	if r.problem != nil || r.rows != 50_000 {
		b.Fatal(r.problem, r.rows)
	}
}
