package signal

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// hardWaves is an invented recording of any number of channels: squares with noise and droop, full-scale clipping, silence, a channel that wakes late, a
// growing swing, spikes beyond all that came before.
func hardWaves(channels, frames int) []byte {
	rng := rand.New(rand.NewPCG(uint64(channels), 3))
	b := wavHeader(channels, 48000, 16, frames)
	base := make([]float64, channels)
	for i := range frames {
		for ch := range channels {
			var v float64
			switch (ch + channels) % 5 {
			case 0:
				if v = -20000; (i+17*ch)/97%2 == 1 {
					v = 20000
				}
				v += 300 * rng.NormFloat64()
			case 1:
				sq := 1.0
				if i/211%2 == 1 {
					sq = -1
				}
				base[ch] += (sq - base[ch]) * 0.0026
				v = 9000*(sq-base[ch]) + 100*rng.NormFloat64()
			case 2:
				v = float64(i) / float64(frames) * 50000 * math.Sin(float64(i)*float64(i)/3e5)
			case 3:
				if i > frames*2/3 && i/40%2 == 1 {
					v = 12000
				}
			case 4:
				v = 200 * rng.NormFloat64()
				if i/1000%2 == 1 {
					v += 6000
				}
				if i%7001 == 500 {
					v = -32768
				}
			}
			x := int16(max(-32768, min(32767, math.Round(v))))
			b = append(b, byte(x), byte(x>>8))
		}
	}
	return b
}

// plain is printed without the overview.
func plain(t *testing.T, data []byte, opt Options) string {
	t.Helper()
	var b bytes.Buffer
	w := NewCSVWriter(&b)
	r, err := Scan(context.Background(), File("x", bytes.NewReader(data), int64(len(data))), opt, w)
	if e := w.Close(); e != nil {
		t.Fatal(e)
	}
	if r != nil {
		r.Overview = nil
		if r.Partial != nil {
			r.Bytes = 0
		}
		fmt.Fprintf(&b, "%+v\n", *r)
	}
	fmt.Fprintln(&b, err)
	return b.String()
}

// TestSameWithoutOverview: blocks passed over by bounds give what blocks with exact extremes give, edges and extremes alike, whatever the chunks and workers.
func TestSameWithoutOverview(t *testing.T) {
	cases := map[string][]byte{"table": hardTable(9000, "\n"), "dump": hardVCD(4000), "stereo": hardWave(t, 30000)}
	for _, n := range []int{1, 2, 3, 4, 5, 8} {
		cases[fmt.Sprintf("%d channels", n)] = hardWaves(n, 40000)
	}
	for name, data := range cases {
		for _, methods := range []map[string]Method{nil, {"ch1": ByLevels, "ch2": ByZeroCrossing, "ch3": ByChanges, "ch4": ByLevels}} {
			want := plain(t, data, Options{Workers: 1, Overview: true, Methods: methods})
			if len(want) < 2000 {
				t.Fatalf("%s: too little to compare: %s", name, want)
			}
			for _, workers := range []int{1, 2, 7} {
				for _, chunk := range []int{1009, 5000, 65537, 0} {
					if got := plain(t, data, Options{Workers: workers, Chunk: chunk, Methods: methods}); got != want {
						t.Fatalf("%s, %d workers, chunk %d: differs from the scan with the overview: %s", name, workers, chunk, firstDifference(got, want))
					}
				}
			}
		}
	}
}

// TestBounded: the word-wide comparison against one sample at a time, on random blocks with samples at and beyond the edges of their bands.
func TestBounded(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	outsides, insides := 0, 0
	for range 20000 {
		n := 1 << rng.IntN(3)
		lay := &wavLayout{channels: n, bytes: 2, scale: 1}
		d := &wavDecoder{lay: lay, bands: make([]wavBand, n), frame: 2 * n}
		s := make([]int16, n*wavBlock)
		var lo, hi, reach [4]int
		for ch := range n {
			lo[ch] = rng.IntN(40000)
			hi[ch] = lo[ch] + rng.IntN(65536-lo[ch])
			reach[ch] = rng.IntN(16001)
			d.bands[ch].seen.Store(uint64(lo[ch]) | uint64(hi[ch])<<32)
			d.bands[ch].reach.Store(uint32(reach[ch]))
			first := lo[ch] + rng.IntN(hi[ch]-lo[ch]+1)
			a, b := max(lo[ch], first-reach[ch]), min(hi[ch], first+reach[ch])
			for i := range wavBlock {
				x := a + rng.IntN(b-a+1)
				switch rng.IntN(40 * wavBlock) {
				case 0:
					x = a - 1
				case 1:
					x = b + 1
				case 2, 3, 4, 5, 6, 7:
					x = rng.IntN(65536)
				}
				if i == 0 {
					x = first
				}
				s[i*n+ch] = int16(max(0, min(65535, x)) - 32768)
			}
		}
		data := make([]byte, 0, 2*len(s))
		for _, x := range s {
			data = append(data, byte(x), byte(uint16(x)>>8))
		}
		least, largest := make([]float64, n), make([]float64, n)
		outside := d.bounded(data, least, largest)
		for ch := range n {
			first := int(s[ch]) + 32768
			a, b := max(lo[ch], first-reach[ch]), min(hi[ch], first+reach[ch])
			want := false
			for i := range wavBlock {
				x := int(s[i*n+ch]) + 32768
				want = want || x < a || x > b
			}
			if got := outside>>ch&1 != 0; got != want {
				t.Fatalf("%d channels, channel %d: outside %v, want %v; band %d to %d", n, ch, got, want, a, b)
			}
			if want {
				outsides++
			} else if insides++; int(least[ch])+32768 != a || int(largest[ch])+32768 != b {
				t.Fatalf("bounds %v to %v, want %d to %d", least[ch], largest[ch], a-32768, b-32768)
			}
		}
	}
	if outsides < 1000 || insides < 1000 {
		t.Fatalf("too few to tell: %d outside, %d inside", outsides, insides)
	}
}
