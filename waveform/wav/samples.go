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
		l.Samples(data, 0, ch, v)
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
	out = out[:0]
	var room [Span]float64
	frames := len(data) / l.Frame()
	for from := 0; from < frames; from += Span {
		v := room[:min(Span, frames-from)]
		for ch := range l.Channels {
			if l.short() {
				out = append(out, l.extent(data, from*l.Frame()+ch*l.bytes, len(v)))
				continue
			}
			l.Samples(data, from, ch, v)
			e := Extent{v[0], v[0]}
			for _, x := range v {
				e = e.Or(Extent{x, x})
			}
			out = append(out, e)
		}
	}
	return out
}

// short says that samples are integers of two to four bytes.
func (l *Layout) short() bool { return !l.float && l.bytes >= 2 && l.bytes <= 4 }

// extent finds the extremes of n short integers, the first at a byte of data, as they lie: comparing whole numbers
// costs a third of converting them first. What stands below a sample in its four bytes cannot make it the less or the
// greater.
func (l *Layout) extent(data []byte, at, n int) Extent {
	frame, end := l.Frame(), at+l.bytes
	x := int32(four(data, end))
	least, largest := x, x
	for n--; n > 0 && end+frame < 4; n-- {
		end += frame
		x = int32(four(data, end))
		least, largest = min(least, x), max(largest, x)
	}
	p := end + frame - 4
	for ; n > 1; n -= 2 { // the two first with one another: so no comparison waits for the one before it
		x := int32(binary.LittleEndian.Uint32(data[p : p+4]))
		y := int32(binary.LittleEndian.Uint32(data[p+frame : p+frame+4]))
		least, largest = min(least, min(x, y)), max(largest, max(x, y))
		p += 2 * frame
	}
	if n > 0 {
		x = int32(binary.LittleEndian.Uint32(data[p : p+4]))
		least, largest = min(least, x), max(largest, x)
	}
	return Extent{l.integer(uint32(least)), l.integer(uint32(largest))}
}

// four gives the bytes before end; what lies before the beginning is 0.
func four(data []byte, end int) uint32 {
	if end >= 4 {
		return binary.LittleEndian.Uint32(data[end-4:])
	}
	var b [4]byte
	copy(b[4-end:], data)
	return binary.LittleEndian.Uint32(b[:])
}

// maskOf has the bits of a short integer that stands in the upper bits of four bytes.
func maskOf(bytes int) uint32 { return math.MaxUint32 << max(0, 32-8*bytes) }

// integer is the value of a short integer that ends where the four bytes end: there, full scale is 2³¹ for all.
func (l *Layout) integer(four uint32) float64 {
	return float64(int32(four&l.mask)) * (1.0 / (1 << 31))
}

// Samples converts the little-endian samples of a channel from a frame of data on.
func (l *Layout) Samples(data []byte, from, ch int, v []float64) {
	frame := l.Frame()
	end := from*frame + (ch+1)*l.bytes
	switch {
	case l.short():
		for i := range v {
			v[i] = l.integer(four(data, end))
			end += frame
		}
	case l.float && l.bytes == 4:
		for i := range v {
			v[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[end-4:])))
			end += frame
		}
	default:
		for i := range v {
			v[i] = l.other(data[end-l.bytes : end])
			end += frame
		}
	}
}

// other converts a sample that is neither a short integer nor a float of four bytes.
func (l *Layout) other(b []byte) float64 {
	switch {
	case l.float:
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	case l.bytes == 1: // the only ones without a sign
		return float64(int(b[0])-128) * (1.0 / (1 << 7))
	}
	var x uint64
	for i, c := range b {
		x |= uint64(c) << (8 * (i + 8 - len(b)))
	}
	return float64(int64(x)) * (1.0 / (1 << 63))
}
