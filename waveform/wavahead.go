package waveform

import "math"

// leaper is a detector that can work on a stretch of samples before it is known how the stretch before it ended. It begins behind a block after which nothing that
// came earlier matters but the block's own last samples. Whoever has followed the recording up to there then takes over what it found, if it stands where the
// leaper began; if not, the stretch is followed once more. So edges are the same either way, and the goroutine that reads samples can find the edges in them while
// they are still in its processor's cache: handing samples on took a third of all time.
type leaper interface {
	detector
	settles(least, largest float64) bool                         // a block with these extremes is one to begin behind
	begin(tail []float64, c *clock, seen int64, largest float64) // behind such a block, by its last samples
}

// adopter is a detector that takes over what a leaper found.
type adopter interface {
	apart() leaper       // one of the same kind that knows nothing yet
	adopt(o leaper) bool // false: it did not begin where this one stands
}

// wavAhead is what was found ahead in one channel of a chunk.
type wavAhead struct {
	from           int // block that it begins with; 0: nothing
	det            leaper
	least, largest int16
}

// lead finds edges ahead, in every channel that can.
func (d *wavDecoder) lead(c *chunk, frames int) {
	w := &c.wav
	if w.hand.d == nil {
		w.hand = wavHand{d: d, v: make([]float64, blockRows)}
		w.ahead = make([]wavAhead, d.lay.channels)
		for ch, of := range d.adopters {
			if of != nil {
				w.ahead[ch].det = of.apart()
			}
		}
	}
	h := &w.hand
	h.rows = (c.off - d.lay.body) / int64(d.frame)
	for ch := range w.ahead {
		a := &w.ahead[ch]
		if a.from = 0; a.det == nil || a.det.tail() > d.each {
			continue
		}
		scale := d.lay.scale
		for i, x := range w.narrow[:len(w.narrow)-1] {
			least, largest := float64(x[ch])*scale, float64(x[4+ch])*scale
			if !a.det.settles(least, largest) {
				continue
			}
			a.from = i + 1
			to := a.from * d.each
			tail := h.v[:a.det.tail()]
			d.convert(c.data, to-len(tail), ch, tail)
			h.clk = clock{interval: 1 / d.lay.rate, row: h.rows + int64(to-len(tail))}
			a.det.begin(tail, &h.clk, h.rows+int64(to), largest)
			break
		}
		if a.from > 0 {
			h.follow(a.det, ch, c.data, w, a.from, len(w.narrow), frames)
			a.least, a.largest = w.bounds(ch)
		}
	}
}

// bounds are a channel's extremes in the chunk.
func (w *wavBlocks) bounds(ch int) (least, largest int16) {
	least, largest = math.MaxInt16, math.MinInt16
	for i := range w.wide {
		least, largest = min(least, w.wide[i][ch]), max(largest, w.wide[i][4+ch])
	}
	for i := len(w.wide) * wideBlocks; i < len(w.narrow); i++ {
		least, largest = min(least, w.narrow[i][ch]), max(largest, w.narrow[i][4+ch])
	}
	return least, largest
}

// follow takes blocks of one channel through a detector. Still blocks in a row are passed over together: only the last one's tail is converted, when the run ends.
func (h *wavHand) follow(det detector, ch int, data []byte, w *wavBlocks, from, to, frames int) {
	d, scale := h.d, h.d.lay.scale
	lo, hi := int16(math.MaxInt16), int16(math.MinInt16) // what the detector has called still
	begun := -1                                          // frame where a run of still blocks began
	for i := from; i < to; i++ {
		if k := i / wideBlocks; i%wideBlocks == 0 && k < len(w.wide) && i+wideBlocks <= to && w.wide[k][ch] >= lo && w.wide[k][4+ch] <= hi {
			i += wideBlocks - 1
			continue
		}
		a, b := w.narrow[i][ch], w.narrow[i][4+ch]
		if a >= lo && b <= hi {
			continue
		}
		at := i * d.each
		x, y := min(a, lo), max(b, hi)
		ok := det.calm(float64(x)*scale, float64(y)*scale)
		if !ok && begun >= 0 {
			h.run(det, ch, data, at-begun, begun)
			begun = -1
			x, y = a, b
			ok = det.calm(float64(x)*scale, float64(y)*scale)
		}
		if ok {
			if lo, hi = x, y; begun < 0 {
				begun = at
			}
			least, largest := det.room(float64(x)*scale, float64(y)*scale)
			lo, hi = inside(lo, hi, least/scale, largest/scale)
			continue
		}
		lo, hi = math.MaxInt16, math.MinInt16
		v := h.v[:min(d.each, frames-at)]
		d.convert(data, at, ch, v)
		h.clk = clock{interval: 1 / d.lay.rate, row: h.rows + int64(at)}
		det.feed(v, &h.clk, float64(a)*scale, float64(b)*scale)
	}
	if end := min(to*d.each, frames); begun >= 0 {
		h.run(det, ch, data, end-begun, begun)
	}
}

// inside widens lo to hi to the samples that lie well inside a range.
func inside(lo, hi int16, least, largest float64) (int16, int16) {
	if v := math.Ceil(least) + 1; v < float64(lo) {
		lo = math.MinInt16
		if v > math.MinInt16 {
			lo = int16(v)
		}
	}
	if v := math.Floor(largest) - 1; v > float64(hi) {
		hi = math.MaxInt16
		if v < math.MaxInt16 {
			hi = int16(v)
		}
	}
	return lo, hi
}

// run passes k still frames that begin at frame from of the chunk.
func (h *wavHand) run(det detector, ch int, data []byte, k, from int) {
	tail := min(det.tail(), k)
	from += k - tail
	h.d.convert(data, from, ch, h.v[:tail])
	h.clk = clock{interval: 1 / h.d.lay.rate, row: h.rows + int64(from)}
	det.pass(h.v[:tail], &h.clk, k)
}

// channel takes a chunk's samples of one channel: by what was found ahead where that fits, else from the samples.
func (h *wavHand) channel(t *track, ch int, c *chunk, frames int) {
	d, w := h.d, &c.wav
	h.rows = d.rows
	a := &w.ahead[ch]
	least, largest := a.least, a.largest
	own, ok := t.det.(adopter)
	if a.from > 0 && ok {
		h.follow(t.det, ch, c.data, w, 0, a.from, frames)
		ok = own.adopt(a.det)
	} else {
		ok = false
		least, largest = w.bounds(ch)
	}
	if !ok {
		h.follow(t.det, ch, c.data, w, a.from, len(w.narrow), frames)
	}
	d.eng.extent(ch, float64(least)*d.lay.scale, float64(largest)*d.lay.scale)
	d.convert(c.data, frames-1, ch, h.v[:1])
	h.clk = clock{interval: 1 / d.lay.rate, row: h.rows + int64(frames-1)}
	t.prev, t.prevT, t.any = h.v[0], h.clk.at(0), true
	t.hold(t.prevT)
}
