package wav

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Samples of each dialect, written by encoding/binary, must come back; the extremes of each span must be those of its
// samples.
func TestSamplesAndExtents(t *testing.T) {
	for _, d := range []struct {
		bytes int
		float bool
	}{{1, false}, {2, false}, {3, false}, {4, false}, {5, false}, {8, false}, {4, true}, {8, true}} {
		for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
			for _, channels := range []int{1, 2, 3} {
				for _, frames := range []int{1, 2, 3, Span - 1, Span, Span + 1, 5*Span + 7} {
					l := &Layout{Channels: channels}
					l.order, l.bytes, l.float = order, d.bytes, d.float
					l.mask = maskOf(d.bytes)
					checkDialect(t, l, frames)
				}
			}
		}
	}
}

// written gives random samples of a dialect, frame after frame, and their values by channel.
func written(l *Layout, frames int) (data []byte, want [][]float64) {
	random := rand.New(rand.NewPCG(1, uint64(frames)))
	want = make([][]float64, l.Channels)
	for i := range frames * l.Channels {
		x := random.Uint64()
		if i%7 == 0 {
			x = 1 << 63 // the least integer
		}
		whole := make([]byte, 8)
		var v float64
		switch {
		case l.float:
			v = (random.Float64() - 0.5) * math.Ldexp(1, random.IntN(40)-20)
			if l.bytes == 4 {
				v = float64(float32(v))
				binary.BigEndian.PutUint32(whole, math.Float32bits(float32(v)))
			} else {
				binary.BigEndian.PutUint64(whole, math.Float64bits(v))
			}
		case l.bytes == 1:
			whole[0] = byte(x >> 56)
			v = (float64(whole[0]) - 128) / 128
		default:
			binary.BigEndian.PutUint64(whole, x)
			kept := int64(x) >> (64 - 8*l.bytes) // its upper bytes, as a number with a sign
			v = float64(kept) / math.Ldexp(1, 8*l.bytes-1)
		}
		one := whole[:l.bytes]
		if l.order == binary.LittleEndian {
			slices.Reverse(one)
		}
		data = append(data, one...)
		want[i%l.Channels] = append(want[i%l.Channels], v)
	}
	return data, want
}

func checkDialect(t *testing.T, l *Layout, frames int) {
	data, want := written(l, frames)
	extents := l.Extents(data, nil)
	for ch, v := range want {
		got := make([]float64, frames)
		l.Samples(data, 0, ch, got)
		if !slices.Equal(got, v) {
			t.Fatalf("%+v, %d frames, channel %d: got %v, want %v", *l, frames, ch, got, v)
		}
		for from := 0; from < frames; from += Span {
			span := v[from:min(from+Span, frames)]
			e := extents[from/Span*l.Channels+ch]
			if e.Least != slices.Min(span) || e.Largest != slices.Max(span) || !e.Finite() {
				t.Fatalf("%+v, %d frames, channel %d: extremes from frame %d are %v, want those of %v", *l, frames, ch, from, e,
					span)
			}
			some := make([]float64, len(span))
			if l.Samples(data, from, ch, some); !slices.Equal(some, span) {
				t.Fatalf("%+v: from frame %d: got %v, want %v", *l, from, some, span)
			}
		}
	}
}

// A float that is no number, or has no end, must show in the extremes wherever it stands.
func TestExtentsOfWhatIsNotFinite(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for at := range Span {
			l := &Layout{Channels: 1}
			l.order, l.bytes, l.float = binary.LittleEndian, 4, true
			data := make([]byte, 4*Span)
			binary.LittleEndian.PutUint32(data[4*at:], math.Float32bits(float32(bad)))
			if e := l.Extents(data, nil); e[0].Finite() {
				t.Errorf("%v as sample %d: extremes %v are finite", bad, at, e[0])
			}
		}
	}
}
