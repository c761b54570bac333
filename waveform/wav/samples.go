package wav

import (
	"encoding/binary"
	"math"
	"slices"

	"phasewright/waveform/block"
)

// Span is how many samples of a channel share one pair of extremes: few, since where they say that an edge may stand,
// all of them are looked at.
const Span = 32

// Extent is the least and the largest of a span of samples. They are finite unless NaN or an infinite value is among
// the samples.
type Extent struct{ Least, Largest float64 }

// Or gives the extremes of both.
func (e Extent) Or(o Extent) Extent { return Extent{min(e.Least, o.Least), max(e.Largest, o.Largest)} }

// Finite says that no NaN and no infinite value is among the samples.
func (e Extent) Finite() bool { return block.Finite(e.Least) && block.Finite(e.Largest) }

// key brings samples of up to four bytes, read as four with what follows them, to whole numbers that are in the order
// of the values. Integers stand in the upper bits, so that full scale is 2³¹ for all of them.
type key struct {
	flip  uint32 // turns the numbers without a sign into ones with it
	shift uint32 // drops what follows the sample
	lower int32  // the bits that a negative float turns over: they count away from zero
}

// keyOf is the key of samples of up to four bytes.
func keyOf(bytes int, float bool) key {
	k := key{shift: uint32(max(0, 32-8*bytes))}
	switch {
	case float:
		k.lower = math.MaxInt32
	case bytes == 1: // the only ones without a sign
		k.flip = 0x80
	}
	return k
}

func (k key) of(four uint32) int32 {
	x := int32((four ^ k.flip) << (k.shift & 31))
	return x ^ x>>31&k.lower
}

// value turns a key back.
func (l *Layout) value(x int32) float64 {
	if l.float {
		return float64(math.Float32frombits(uint32(x^x>>31&l.key.lower))) + 0 // -0 + 0 is 0
	}
	return float64(x) * (1.0 / (1 << 31))
}

// Split says how many bytes of b are whole frames.
func (l *Layout) Split(b []byte, last bool) int { return len(b) / l.Frame() * l.Frame() }

// Resync says where the first whole frame begins in bytes that begin with one.
func (l *Layout) Resync(b []byte) int { return 0 }

// Parser reads the frames of one stretch after the other, in the same room.
type Parser struct {
	lay  *Layout
	cols [][]float64
}

// NewParser makes a Parser of the layout's frames.
func (l *Layout) NewParser() *Parser { return &Parser{lay: l} }

// Parse reads the whole frames of data.
func (p *Parser) Parse(data []byte, _ bool, out *block.Rows) {
	l := p.lay
	n := len(data) / l.Frame()
	p.cols = block.Columns(p.cols, l.Channels, n)
	*out = block.Rows{N: n, Values: p.cols, Times: make([][]float64, l.Channels), Gaps: make([]bool, l.Channels)}
	if l.order == binary.BigEndian {
		data = slices.Clone(data)
		l.turn(data)
	}
	for ch, v := range p.cols {
		l.Samples(data, ch, v)
		out.Gaps[ch] = l.float && slices.ContainsFunc(v, func(x float64) bool { return !block.Finite(x) })
	}
}

// turn makes big-endian samples little-endian, and the other way.
func (l *Layout) turn(data []byte) {
	for ; len(data) >= l.bytes; data = data[l.bytes:] {
		slices.Reverse(data[:l.bytes])
	}
}

// Extents finds the extremes of each span of the whole frames of data, channel after channel, in the room of out. It
// leaves the samples little-endian, as Samples wants them.
func (l *Layout) Extents(data []byte, out []Extent) []Extent {
	if l.order == binary.BigEndian {
		l.turn(data)
	}
	frame, out := l.Frame(), out[:0]
	var room [Span]float64
	for frames := len(data) / frame; frames > 0; frames -= Span {
		n := min(frames, Span)
		for ch := range l.Channels {
			if l.bytes <= 4 {
				out = append(out, l.extent(data[ch*l.bytes:], n))
				continue
			}
			v := room[:n]
			l.Samples(data, ch, v)
			e := Extent{v[0], v[0]}
			for _, x := range v {
				e = e.Or(Extent{x, x})
			}
			out = append(out, e)
		}
		data = data[n*frame:]
	}
	return out
}

// extent finds the extremes of n samples of up to four bytes, the first at the front of data. Comparing whole numbers
// costs a third of converting them first.
func (l *Layout) extent(data []byte, n int) Extent {
	k, frame := l.key, l.Frame()
	least, largest := int32(math.MaxInt32), int32(math.MinInt32)
	fours := l.fours(data, n)
	for i, p := 0, 0; i < fours; i, p = i+1, p+frame {
		x := k.of(binary.LittleEndian.Uint32(data[p:]))
		least, largest = min(least, x), max(largest, x)
	}
	for i := fours; i < n; i++ {
		x := k.of(padded(data[i*frame:]))
		least, largest = min(least, x), max(largest, x)
	}
	return Extent{l.value(least), l.value(largest)}
}

// fours is how many of n samples have four bytes before the end of data.
func (l *Layout) fours(data []byte, n int) int {
	return min(n, max(0, (len(data)-4+l.Frame())/l.Frame()))
}

// padded reads four bytes, of which the last may lie beyond the end.
func padded(b []byte) uint32 {
	var four [4]byte
	copy(four[:], b)
	return binary.LittleEndian.Uint32(four[:])
}

// Samples converts the little-endian samples of a channel in the first frames of data.
func (l *Layout) Samples(data []byte, ch int, v []float64) {
	if len(v) == 0 {
		return
	}
	data = data[ch*l.bytes:]
	frame := l.Frame()
	if l.bytes > 4 {
		for i, p := 0, 0; i < len(v); i, p = i+1, p+frame {
			v[i] = l.long(data[p : p+l.bytes])
		}
		return
	}
	k, fours := l.key, l.fours(data, len(v))
	if l.float {
		for i, p := 0, 0; i < len(v); i, p = i+1, p+frame {
			v[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[p:])))
		}
		return
	}
	for i, p := 0, 0; i < fours; i, p = i+1, p+frame {
		v[i] = float64(k.of(binary.LittleEndian.Uint32(data[p:]))) * (1.0 / (1 << 31))
	}
	for i := fours; i < len(v); i++ {
		v[i] = l.value(k.of(padded(data[i*frame:])))
	}
}

// long converts a sample of more than four bytes.
func (l *Layout) long(b []byte) float64 {
	if l.float {
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	}
	var x uint64
	for i, c := range b {
		x |= uint64(c) << (8 * (i + 8 - len(b)))
	}
	return float64(int64(x)) * (1.0 / (1 << 63))
}
