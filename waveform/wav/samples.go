package wav

import (
	"encoding/binary"
	"math"
	"slices"

	"phasewright/waveform/block"
)

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
		data = turned(data, l.bytes)
	}
	for ch, v := range p.cols {
		if n > 0 {
			l.samples(data[ch*l.bytes:], v)
		}
		if l.float {
			out.Gaps[ch] = slices.ContainsFunc(v, func(x float64) bool { return !block.Finite(x) })
		}
	}
}

// turned gives big-endian samples of size bytes as little-endian ones.
func turned(data []byte, size int) []byte {
	out := slices.Clone(data)
	for at := 0; at+size <= len(out); at += size {
		slices.Reverse(out[at : at+size])
	}
	return out
}

// samples converts the little-endian samples of one channel, whose first stands at the front of data.
func (l *Layout) samples(data []byte, v []float64) {
	frame := l.Frame()
	data = data[: (len(v)-1)*frame+l.bytes : len(data)]
	switch {
	case l.float && l.bytes == 4:
		for i, p := 0, 0; i < len(v); i, p = i+1, p+frame {
			v[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[p:])))
		}
	case l.float:
		for i, p := 0, 0; i < len(v); i, p = i+1, p+frame {
			v[i] = math.Float64frombits(binary.LittleEndian.Uint64(data[p:]))
		}
	case l.bytes == 1: // the only ones without a sign
		for i, p := 0, 0; i < len(v); i, p = i+1, p+frame {
			v[i] = float64(int(data[p])-128) * l.scale
		}
	case l.bytes == 2:
		for i, p := 0, 0; i < len(v); i, p = i+1, p+frame {
			v[i] = float64(int16(binary.LittleEndian.Uint16(data[p:]))) * l.scale
		}
	case l.bytes == 3:
		for i, p := 0, 0; i < len(v); i, p = i+1, p+frame {
			x := int32(data[p])<<8 | int32(data[p+1])<<16 | int32(data[p+2])<<24
			v[i] = float64(x>>8) * l.scale
		}
	case l.bytes == 4:
		for i, p := 0, 0; i < len(v); i, p = i+1, p+frame {
			v[i] = float64(int32(binary.LittleEndian.Uint32(data[p:]))) * l.scale
		}
	default:
		for i, p := 0, 0; i < len(v); i, p = i+1, p+frame {
			x := int64(int8(data[p+l.bytes-1]))
			for k := l.bytes - 2; k >= 0; k-- {
				x = x<<8 | int64(data[p+k])
			}
			v[i] = float64(x) * l.scale
		}
	}
}
