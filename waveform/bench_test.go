package waveform

import (
	"bytes"
	"context"
	"strconv"
	"testing"
)

type counter struct{ n int64 }

func (*counter) Begin(Info) error { return nil }

func (c *counter) Edges(e []Edge) error { c.n += int64(len(e)); return nil }

func benchScan(b *testing.B, data []byte, least int64) {
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		c := &counter{}
		if _, err := Scan(context.Background(), File("x", bytes.NewReader(data), int64(len(data))), Options{Overview: true}, c); err != nil {
			b.Fatal(err)
		}
		if c.n < least {
			b.Fatalf("%d edges", c.n)
		}
	}
}

func BenchmarkScanCSV(b *testing.B) {
	data := tableBytes(3_000_000)
	benchScan(b, data, 14000)
}

func BenchmarkScanWAV(b *testing.B) {
	benchScan(b, waveBytes(16<<20), 100000)
}

// waveBytes is an invented four-channel 16-bit recording at 192 kHz: squares of 200 and 1600 samples, a spark pulse, a
// mark, with noise.
func waveBytes(frames int) []byte {
	b := wavHeader(4, 192000, 16, frames)
	var x uint32 = 1
	for i := range frames {
		for c, on := range [4]bool{i/100%2 == 1, i/800%2 == 1, (i+26)%200 < 60, i%1600 < 12} {
			x = x*1664525 + 1013904223
			v := int16(x>>24) - 128 - 6000
			if on {
				v += 12000
			}
			_ = c
			b = append(b, byte(v), byte(v>>8))
		}
	}
	return b
}

func wavHeader(channels, rate, bits, frames int) []byte {
	n := channels * bits / 8
	b := []byte("RIFF....WAVEfmt ")
	le := func(v, k int) {
		for range k {
			b = append(b, byte(v))
			v >>= 8
		}
	}
	le(16, 4)
	le(1, 2)
	le(channels, 2)
	le(rate, 4)
	le(rate*n, 4)
	le(n, 2)
	le(bits, 2)
	b = append(b, "data"...)
	le(frames*n, 4)
	size := frames*n + 36
	b[4], b[5], b[6], b[7] = byte(size), byte(size>>8), byte(size>>16), byte(size>>24)
	return b
}

func BenchmarkScanVCD(b *testing.B) {
	benchScan(b, dumpBytes(2_000_000), 2_000_000)
}

// dumpBytes is an invented dump of two wires with a change or two a stamp.
func dumpBytes(stamps int) []byte {
	b := []byte("$timescale 1 us $end\n$scope module m $end\n$var wire 1 ! crank $end\n$var wire 1 \" cam $end\n$upscope $end\n$enddefinitions $end\n")
	for i := range stamps {
		b = append(strconv.AppendInt(append(b, '#'), int64(i)*1650, 10), '\n', byte('0'+i&1), '!', '\n')
		if i%6 == 0 {
			b = append(b, byte('0'+i/6&1), '"', '\n')
		}
	}
	return b
}
