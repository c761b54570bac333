package signal

import (
	"encoding/binary"
	"fmt"
	"math"
	"runtime/debug"
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
	whole := frames / wavBlock
	blocks := (frames + wavBlock - 1) / wavBlock
	if cap(w.narrow) < blocks {
		w.narrow = make([][8]int16, blocks)
	}
	w.narrow = w.narrow[:blocks]
	minmax(c.data, whole, wavBlock*d.frame, w.narrow)
	fold(w.narrow[:whole], n)
	if d.alone {
		if cap(w.wide) < whole/wideBlocks {
			w.wide = make([][8]int16, whole/wideBlocks)
		}
		w.wide = w.wide[:whole/wideBlocks]
		minmax(c.data, len(w.wide), wideBlocks*wavBlock*d.frame, w.wide)
		fold(w.wide, n)
	}
	if whole < blocks {
		x := &w.narrow[whole]
		for i := whole * wavBlock * n; i < frames*n; i++ {
			s := int16(binary.LittleEndian.Uint16(c.data[2*i:]))
			if ch := i % n; i < (whole*wavBlock+1)*n {
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

// wavHand takes some of the channels of each chunk: the first on the committing goroutine, others on goroutines of their own. Channels do not know of one another
// until their edges are merged.
type wavHand struct {
	d      *wavDecoder
	first  int // channel; then every so many
	v      []float64
	clk    clock
	chunks chan *chunk
	done   chan struct{}
	err    error
	broken string
}

// gather makes so many hands; the function that it gives sends them home.
func (d *wavDecoder) gather(n int) (home func()) {
	for i := range n {
		h := &wavHand{d: d, first: i, v: make([]float64, blockRows), chunks: make(chan *chunk), done: make(chan struct{}, 1)}
		d.hands = append(d.hands, h)
		if i > 0 {
			go func() {
				for c := range h.chunks {
					h.safely(c)
					h.done <- struct{}{}
				}
			}()
		}
	}
	return func() {
		for _, h := range d.hands {
			close(h.chunks)
		}
	}
}

// share takes a chunk channel by channel, by all hands.
func (d *wavDecoder) share(c *chunk, frames int) error {
	others := d.hands[1:]
	for _, h := range others {
		h.chunks <- c
	}
	err := d.hands[0].take(c)
	for _, h := range others {
		<-h.done
		if h.broken != "" {
			panic(h.broken)
		}
		if err == nil {
			err = h.err
		}
	}
	return err
}

// safely keeps a broken invariant for share.
func (h *wavHand) safely(c *chunk) {
	defer func() {
		if p := recover(); p != nil {
			h.broken = fmt.Sprintf("%v\n%s", p, debug.Stack())
		}
	}()
	h.err = h.take(c)
}

func (h *wavHand) take(c *chunk) error {
	frames := len(c.data) / h.d.frame
	for ch := h.first; ch < h.d.lay.channels; ch += len(h.d.hands) {
		if err := h.channel(h.d.eng.tracks[ch], ch, c.data, frames, &c.wav); err != nil {
			return err
		}
	}
	return nil
}

// channel takes a chunk's samples of one channel. Still blocks in a row are passed over together: only the last one's tail is converted, when the run ends.
func (h *wavHand) channel(t *track, ch int, data []byte, frames int, w *wavBlocks) error {
	d, scale := h.d, h.d.lay.scale
	least, largest := w.narrow[0][ch], w.narrow[0][4+ch]
	lo, hi := int16(math.MaxInt16), int16(math.MinInt16) // what the detector has called still
	begun := -1                                          // frame where a run of still blocks began
	for i := 0; i < len(w.narrow); i++ {
		if k := i / wideBlocks; i%wideBlocks == 0 && k < len(w.wide) && w.wide[k][ch] >= lo && w.wide[k][4+ch] <= hi {
			least, largest = min(least, w.wide[k][ch]), max(largest, w.wide[k][4+ch])
			i += wideBlocks - 1
			continue
		}
		a, b := w.narrow[i][ch], w.narrow[i][4+ch]
		least, largest = min(least, a), max(largest, b)
		if a >= lo && b <= hi {
			continue
		}
		from := i * wavBlock
		x, y := min(a, lo), max(b, hi)
		ok := t.det.calm(float64(x)*scale, float64(y)*scale)
		if !ok && begun >= 0 {
			h.run(t, ch, data, from-begun, begun)
			begun = -1
			x, y = a, b
			ok = t.det.calm(float64(x)*scale, float64(y)*scale)
		}
		if ok {
			if lo, hi = x, y; begun < 0 {
				begun = from
			}
			continue
		}
		lo, hi = math.MaxInt16, math.MinInt16
		v := h.v[:min(wavBlock, frames-from)]
		d.convert(data, from, ch, v)
		h.clk = clock{interval: 1 / d.lay.rate, row: d.rows + int64(from)}
		if err := d.eng.feed(t, v, &h.clk, float64(a)*scale, float64(b)*scale); err != nil {
			return err
		}
	}
	if begun >= 0 {
		h.run(t, ch, data, frames-begun, begun)
	}
	d.eng.extent(ch, float64(least)*scale, float64(largest)*scale)
	return nil
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

// run passes k still frames that begin at frame from of the chunk.
func (h *wavHand) run(t *track, ch int, data []byte, k, from int) {
	tail := min(t.det.tail(), k)
	from += k - tail
	d := h.d
	d.convert(data, from, ch, h.v[:tail])
	h.clk = clock{interval: 1 / d.lay.rate, row: d.rows + int64(from)}
	d.eng.pass(t, h.v[:tail], &h.clk, k)
}
