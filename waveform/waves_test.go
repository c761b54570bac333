package waveform

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"sync/atomic"
	"testing"
)

// hardWaves is an invented recording of any number of channels: squares with noise and droop, full-scale clipping,
// silence, a channel that wakes late, a growing swing, spikes beyond all that came before.
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

// TestSameWithoutOverview: the overview, which only listens, changes neither edges nor extremes, whatever the chunks
// and workers.
func TestSameWithoutOverview(t *testing.T) {
	cases := map[string][]byte{"table": hardTable(9000, "\n"), "dump": hardVCD(4000), "stereo": hardWave(t, 30000)}
	channels := []int{1, 2, 3, 4, 5, 8}
	if testing.Short() {
		channels = []int{1, 3, 8}
	}
	for _, n := range channels {
		cases[fmt.Sprintf("%d channels", n)] = hardWaves(n, 40000)
	}
	for name, data := range cases {
		for _, methods := range []map[string]Method{nil, {"ch1": ByLevels, "ch2": ByZeroCrossing, "ch3": ByChanges, "ch4": ByLevels}} {
			want := plain(t, data, Options{Workers: 1, Overview: true, Methods: methods})
			if len(want) < 2000 {
				t.Fatalf("%s: too little to compare: %s", name, want)
			}
			for _, workers := range workersTried() {
				for _, chunk := range chunksTried(1009, 5000, 65537, 0) {
					if got := plain(t, data, Options{Workers: workers, Chunk: chunk, Methods: methods}); got != want {
						t.Fatalf("%s, %d workers, chunk %d: differs from the scan with the overview: %s", name, workers, chunk, firstDifference(got, want))
					}
				}
			}
		}
	}
}

// shrinking loses its end once the header and the survey were read.
type shrinking struct {
	data  []byte
	short int
	reads atomic.Int64
}

func (s *shrinking) ReadAt(p []byte, off int64) (int, error) {
	data := s.data
	if s.reads.Add(1) > 3 {
		data = data[:s.short]
	}
	return bytes.NewReader(data).ReadAt(p, off)
}

// TestShrinkingRecording: a file that becomes shorter while it is read gives what is still there, and says so.
func TestShrinkingRecording(t *testing.T) {
	data := hardWaves(2, 40000)
	for _, short := range []int{100_000, 100_003, 45_000} {
		for _, workers := range []int{1, 3} {
			src := &shrinking{data: data, short: short}
			var got plainSink
			r, err := Scan(context.Background(), File("x.wav", src, int64(len(data))), Options{Workers: workers, Chunk: 4096}, &got)
			if r == nil || r.Partial == nil || !strings.Contains(r.Partial.Error(), "shorter") {
				t.Fatalf("short %d: %v, %+v", short, err, r)
			}
			if want := int64(short-44) / 4; r.Rows != want {
				t.Errorf("short %d: %d frames, %d were there", short, r.Rows, want)
			}
		}
	}
}
