package waveform

import (
	"encoding/binary"
	"unsafe"
)

// narrow says whether blocks can be judged by the extremes of their samples as they lie: 16 bits in the processor's own order, one, two or four channels.
func (l *wavLayout) narrow() bool {
	n := l.channels
	return (n == 1 || n == 2 || n == 4) && l.bytes == 2 && !l.float && l.order == binary.LittleEndian && binary.NativeEndian.Uint16([]byte{1, 0}) == 1
}

// bound finds the extremes of every block of a chunk, as samples: of channel ch in place ch and 4+ch of its block.
func (d *wavDecoder) bound(c *chunk, frames int) {
	w, n := &c.wav, d.lay.channels
	whole := frames / d.each
	blocks := (frames + d.each - 1) / d.each
	if cap(w.narrow) < blocks {
		w.narrow = make([][8]int16, blocks)
	}
	w.narrow = w.narrow[:blocks]
	minmax(c.data, whole, d.each*d.frame, w.narrow)
	fold(w.narrow[:whole], n)
	if d.alone {
		if cap(w.wide) < whole/wideBlocks {
			w.wide = make([][8]int16, whole/wideBlocks)
		}
		w.wide = w.wide[:whole/wideBlocks]
		minmax(c.data, len(w.wide), wideBlocks*d.each*d.frame, w.wide)
		fold(w.wide, n)
	}
	if whole < blocks {
		x := &w.narrow[whole]
		for i := whole * d.each * n; i < frames*n; i++ {
			s := int16(binary.LittleEndian.Uint16(c.data[2*i:]))
			if ch := i % n; i < (whole*d.each+1)*n {
				x[ch], x[4+ch] = s, s
			} else {
				x[ch], x[4+ch] = min(x[ch], s), max(x[4+ch], s)
			}
		}
	}
}

// wideBlocks is how many blocks channel looks at together.
const wideBlocks = 8

// fold joins the places that hold one channel, where there are fewer than four.
func fold(blocks [][8]int16, n int) {
	if n == 4 {
		return
	}
	for b := range blocks {
		x := &blocks[b]
		for k := n; k < 4; k++ {
			x[k%n], x[4+k%n] = min(x[k%n], x[k]), max(x[4+k%n], x[4+k])
		}
	}
}

// widen gives what bound found as values.
func (d *wavDecoder) widen(w *wavBlocks) {
	n := d.lay.channels
	w.room(len(w.narrow) * n)
	for b := range w.narrow {
		for ch := range n {
			i := b*n + ch
			w.least[i], w.largest[i], w.gap[i] = float64(w.narrow[b][ch])*d.lay.scale, float64(w.narrow[b][4+ch])*d.lay.scale, false
		}
	}
}

// settled says that every channel has its method, so that a chunk can be taken channel by channel: no warning or revision comes up whose order would tell.
func (d *wavDecoder) settled() bool {
	for _, t := range d.eng.tracks {
		if t.det == nil {
			return false
		}
	}
	return true
}

// wavHand follows channels through a chunk.
type wavHand struct {
	d    *wavDecoder
	rows int64 // of the recording before the chunk
	v    []float64
	clk  clock
}

// convert gives samples of one channel from a frame of the chunk on.
func (d *wavDecoder) convert(data []byte, from, ch int, v []float64) {
	at := from*d.frame + 2*ch
	_ = data[at+(len(v)-1)*d.frame+1]
	p := unsafe.Pointer(&data[at])
	for i := range v {
		v[i] = float64(*(*int16)(p)) * d.lay.scale
		p = unsafe.Add(p, d.frame)
	}
}
