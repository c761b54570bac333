package signal

import (
	"encoding/binary"
	"math"
	"sync/atomic"
	"unsafe"
)

// wavBand is where a 16-bit channel's samples may lie without anything new in them: within the extremes met so far, and no further from a
// block's first sample than reach. The committing goroutine widens it while others parse by it; whichever band a block is parsed by, its edges are the
// same, since a block outside its band is looked at sample by sample.
type wavBand struct {
	seen  atomic.Uint64 // least and largest sample so far, each plus 32,768; the least in the low half
	reach atomic.Uint32
}

const signs = 0x8000_8000_8000_8000

// swar says whether four samples at a time can be compared in one word.
func (l *wavLayout) swar() bool {
	n := l.channels
	return (n == 1 || n == 2 || n == 4) && l.bytes == 2 && !l.float && l.order == binary.LittleEndian && binary.NativeEndian.Uint16([]byte{1, 0}) == 1
}

// publish tells the parsing goroutines what is known of each channel by now.
func (d *wavDecoder) publish() {
	for ch := range d.bands {
		b, c := &d.bands[ch], &d.eng.info.Channels[ch]
		lo, hi := uint64(1), uint64(0)
		if c.Least <= c.Largest {
			lo, hi = uint64(int(c.Least/d.lay.scale)+32768), uint64(int(c.Largest/d.lay.scale)+32768)
		}
		b.seen.Store(lo | hi<<32)
		b.reach.Store(uint32(max(0, min(d.eng.tracks[ch].reach()/d.lay.scale, 16000))))
	}
}

// reach is how far from a sample its neighbours may lie in a block without an edge: less than what the methods ask for, to leave room for the samples before.
func (t *track) reach() float64 {
	f := &t.find
	switch f.method {
	case ByLevels:
		return 0.35 * (f.high - f.low)
	case ByChanges:
		return 0.2 * f.step
	case ByZeroCrossing:
		return 0.9 * f.floor
	}
	return math.Inf(1)
}

// bounded bounds the samples of each channel of a block by its band, and returns a bit for each channel that leaves it.
//
// Hot loop: it sees every sample. Four samples lie in a word; a subtraction and an addition set the top bit of each that is outside its band, at one and a half
// instructions a sample where exact extremes take five.
func (d *wavDecoder) bounded(data []byte, least, largest []float64) (outside uint) {
	n := d.lay.channels
	p := unsafe.Pointer(&data[0])
	first := *(*uint64)(p) ^ signs
	var base, add, keep uint64
	for lane := range 4 {
		ch := lane % n
		u := int(uint16(first >> (16 * ch)))
		seen, reach := d.bands[ch].seen.Load(), int(d.bands[ch].reach.Load())
		lo, hi := int(uint32(seen)), int(seen>>32)
		if u < lo || u > hi {
			outside |= 1 << ch
			continue
		}
		lo, hi = max(lo, u-reach), min(hi, u+reach)
		base |= uint64(lo) << (16 * lane)
		add |= uint64(0x7fff-(hi-lo)) << (16 * lane)
		keep |= 0xffff << (16 * lane)
		if lane < n {
			least[ch], largest[ch] = float64(lo-32768)*d.lay.scale, float64(hi-32768)*d.lay.scale
		}
	}
	for keep != 0 {
		over := beyond(p, 2*n*wavBlock, keep, base, add)
		if over == 0 {
			break
		}
		// the lowest is truly out; it may have borrowed from those above, which are tried again without it
		for ch := range n {
			lanes := channelLanes[n>>1][ch]
			if over&-over&lanes != 0 {
				outside |= 1 << ch
				keep, base, add = keep&^lanes, base&^lanes, add&^lanes
			}
		}
	}
	return outside
}

// channelLanes are the parts of a word that hold a channel, for one, two and four channels.
var channelLanes = [3][4]uint64{
	{math.MaxUint64},
	{0x0000_ffff_0000_ffff, 0xffff_0000_ffff_0000},
	{0xffff, 0xffff << 16, 0xffff << 32, 0xffff << 48},
}

// beyond sets the top bit of each part whose sample, less base, is more than 0x7fff less add anywhere in n bytes (a multiple of 32).
func beyond(p unsafe.Pointer, n int, keep, base, add uint64) uint64 {
	var acc, bcc uint64
	flip := uint64(signs) & keep
	for i := 0; i < n; i += 32 {
		a := (*(*uint64)(unsafe.Add(p, i))&keep ^ flip) - base
		b := (*(*uint64)(unsafe.Add(p, i+8))&keep ^ flip) - base
		acc |= a | (a + add)
		bcc |= b | (b + add)
		a = (*(*uint64)(unsafe.Add(p, i+16))&keep ^ flip) - base
		b = (*(*uint64)(unsafe.Add(p, i+24))&keep ^ flip) - base
		acc |= a | (a + add)
		bcc |= b | (b + add)
	}
	return (acc | bcc) & signs
}

// extremes16 gives the extremes of one channel of a block of 16-bit samples.
func extremes16(data []byte, ch, n int) (least, largest int) {
	p := unsafe.Pointer(&data[0])
	least = at16(p, 2*ch)
	largest = least
	for i := 2 * ch; i < 2*n*wavBlock; i += 2 * n {
		x := at16(p, i)
		least, largest = min(least, x), max(largest, x)
	}
	return least, largest
}

// settled says that every channel has its method, so that a chunk can be taken channel by channel: no warning or revision comes up whose order would tell.
func (d *wavDecoder) settled() bool {
	if d.bands == nil {
		return false
	}
	for _, t := range d.eng.tracks {
		if t.det == nil {
			return false
		}
	}
	return true
}

// channel takes a chunk's samples of one channel. Still blocks in a row are passed over together: only the last one's tail is converted, when the run ends.
func (d *wavDecoder) channel(t *track, ch int, data []byte, frames int, w *wavBlocks) error {
	n := d.lay.channels
	least, largest := math.Inf(1), math.Inf(-1) // of the blocks with exact extremes
	lo, hi := math.Inf(1), math.Inf(-1)         // what the detector has called still
	begun := -1                                 // frame where a run of still blocks began
	part := func(from, to int) []byte { return data[from*d.frame : to*d.frame] }
	for from := 0; from < frames; from += wavBlock {
		i := from/wavBlock*n + ch
		a, b := w.least[i], w.largest[i]
		if !w.loose[i] {
			least, largest = min(least, a), max(largest, b)
		}
		if a >= lo && b <= hi {
			continue
		}
		a, b = min(a, lo), max(b, hi)
		ok := t.det.calm(a, b)
		if !ok && begun >= 0 {
			d.run(t, ch, part(begun, from), from-begun, begun)
			begun = -1
			a, b = w.least[i], w.largest[i]
			ok = t.det.calm(a, b)
		}
		if ok {
			if lo, hi = a, b; begun < 0 {
				begun = from
			}
			continue
		}
		lo, hi = math.Inf(1), math.Inf(-1)
		k := min(wavBlock, frames-from)
		v := d.v[:k]
		d.lay.samples(part(from, from+k), ch, v)
		if w.loose[i] {
			a, b = extremes(v)
		}
		d.clk = clock{interval: 1 / d.lay.rate, row: d.rows + int64(from)}
		if err := d.eng.feed(t, v, &d.clk, a, b); err != nil {
			return err
		}
	}
	if begun >= 0 {
		d.run(t, ch, part(begun, frames), frames-begun, begun)
	}
	if least <= largest {
		d.eng.extent(ch, least, largest)
	}
	return nil
}

// run passes k still frames that begin at frame from of the chunk.
func (d *wavDecoder) run(t *track, ch int, data []byte, k, from int) {
	tail := t.det.tail()
	d.tail(t, ch, data, k, min(tail, k), d.rows+int64(from))
}
