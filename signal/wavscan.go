package signal

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"unsafe"
)

// wavBlock is how many samples share a pair of extremes here: few, since all of them are looked at where an edge may be. It divides blockRows.
const wavBlock = 64

// wavBlocks holds the extremes of a chunk's short blocks, block after block, channel after channel.
type wavBlocks struct {
	least, largest []float64
	gap            []bool // a float sample is NaN or infinite
	loose          []bool // the extremes are bounds, which lie within the extremes of what came before
}

// wavDecoder takes samples through the pipeline. Chunks hold whole blocks, so blocks lie at the same places whatever the chunk.
type wavDecoder struct {
	lay   *wavLayout
	eng   *engine
	rows  int64
	v     []float64
	keep  *keeper
	frame int
	whole clock // of the block under way, and of a part of it: kept here, since they would escape to the heap
	clk   clock
	bands []wavBand // by channel; none where extremes are taken exactly
}

func (d *wavDecoder) split(b []byte, last bool) int {
	n := d.frame * blockRows
	return len(b) / n * n
}

func (d *wavDecoder) parse(c *chunk) {
	w := &c.wav
	frames := len(c.data) / d.frame
	blocks := (frames + wavBlock - 1) / wavBlock
	n := blocks * d.lay.channels
	if cap(w.least) < n {
		w.least, w.largest, w.gap, w.loose = make([]float64, n), make([]float64, n), make([]bool, n), make([]bool, n)
	}
	w.least, w.largest, w.gap, w.loose = w.least[:n], w.largest[:n], w.gap[:n], w.loose[:n]
	if d.bands != nil {
		clear(w.gap)
	}
	v := make([]float64, wavBlock)
	for b := range blocks {
		from := b * wavBlock
		k := min(wavBlock, frames-from)
		data := c.data[from*d.frame : (from+k)*d.frame]
		out := b * d.lay.channels
		if d.bands != nil && k == wavBlock {
			outside := d.bounded(data, w.least[out:], w.largest[out:])
			for ch := range d.lay.channels {
				w.loose[out+ch] = outside>>ch&1 == 0
				if outside>>ch&1 != 0 {
					lo, hi := extremes16(data, ch, d.lay.channels)
					w.least[out+ch], w.largest[out+ch] = float64(lo)*d.lay.scale, float64(hi)*d.lay.scale
				}
			}
			continue
		}
		clear(w.loose[out : out+d.lay.channels])
		if d.quick(data, k, w.least[out:out+d.lay.channels], w.largest[out:out+d.lay.channels]) {
			clear(w.gap[out : out+d.lay.channels])
			continue
		}
		for ch := range d.lay.channels {
			gap := d.lay.samples(data, ch, v[:k])
			w.gap[out+ch] = gap
			w.least[out+ch], w.largest[out+ch] = extremes(v[:k])
		}
	}
}

// quick finds the extremes of 16-bit little-endian samples of one to eight channels where they lie.
//
// Hot loop: it sees every sample, the rest sees only blocks in which something may happen.
func (d *wavDecoder) quick(data []byte, frames int, least, largest []float64) bool {
	n := d.lay.channels
	if d.lay.bytes != 2 || d.lay.float || d.lay.order != binary.LittleEndian || binary.NativeEndian.Uint16([]byte{1, 0}) != 1 || frames != wavBlock {
		return false
	}
	s := unsafe.Slice((*int16)(unsafe.Pointer(&data[0])), frames*n)
	scale := d.lay.scale
	switch n {
	case 1, 2, 4:
		lo, hi := extremes8(s)
		for ch := range n {
			a, b := lo[ch], hi[ch]
			for k := ch + n; k < 8; k += n {
				a, b = min(a, lo[k]), max(b, hi[k])
			}
			least[ch], largest[ch] = float64(a)*scale, float64(b)*scale
		}
	default:
		for ch := range n {
			a, b := int16(math.MaxInt16), int16(math.MinInt16)
			for i := ch; i < len(s); i += n {
				a, b = min(a, s[i]), max(b, s[i])
			}
			least[ch], largest[ch] = float64(a)*scale, float64(b)*scale
		}
	}
	return true
}

// at16 reads a 16-bit sample; the caller has made sure that it exists.
func at16(p unsafe.Pointer, off int) int { return int(*(*int16)(unsafe.Add(p, off))) }

// extremes8 gives the extremes of every eighth sample, eight at a time in two rounds, which is what fits into registers; the length is a multiple of eight.
func extremes8(s []int16) (lo, hi [8]int16) {
	l0, l1, l2, l3 := int(s[0]), int(s[1]), int(s[2]), int(s[3])
	h0, h1, h2, h3 := l0, l1, l2, l3
	l4, l5, l6, l7 := int(s[4]), int(s[5]), int(s[6]), int(s[7])
	h4, h5, h6, h7 := l4, l5, l6, l7
	p, n := unsafe.Pointer(&s[0]), 2*len(s)
	for i := 0; i < n; i += 16 {
		x0, x1, x2, x3 := at16(p, i), at16(p, i+2), at16(p, i+4), at16(p, i+6)
		l0, l1, l2, l3 = min(l0, x0), min(l1, x1), min(l2, x2), min(l3, x3)
		h0, h1, h2, h3 = max(h0, x0), max(h1, x1), max(h2, x2), max(h3, x3)
	}
	for i := 8; i < n; i += 16 {
		x4, x5, x6, x7 := at16(p, i), at16(p, i+2), at16(p, i+4), at16(p, i+6)
		l4, l5, l6, l7 = min(l4, x4), min(l5, x5), min(l6, x6), min(l7, x7)
		h4, h5, h6, h7 = max(h4, x4), max(h5, x5), max(h6, x6), max(h7, x7)
	}
	lo = [8]int16{int16(l0), int16(l1), int16(l2), int16(l3), int16(l4), int16(l5), int16(l6), int16(l7)}
	hi = [8]int16{int16(h0), int16(h1), int16(h2), int16(h3), int16(h4), int16(h5), int16(h6), int16(h7)}
	return lo, hi
}

// samples converts one channel of a block; gap says that NaN or infinite values are among them.
func (l *wavLayout) samples(data []byte, ch int, v []float64) (gap bool) {
	frame := l.channels * l.bytes
	p := ch * l.bytes
	switch {
	case l.float && l.bytes == 4:
		for i := range v {
			v[i] = float64(math.Float32frombits(l.order.Uint32(data[p:])))
			p += frame
		}
	case l.float:
		for i := range v {
			v[i] = math.Float64frombits(l.order.Uint64(data[p:]))
			p += frame
		}
	case l.bytes == 1:
		for i := range v {
			v[i] = float64(int(data[p])-128) * l.scale
			p += frame
		}
	case l.bytes == 2 && l.order == binary.LittleEndian:
		for i := range v {
			v[i] = float64(int16(binary.LittleEndian.Uint16(data[p:]))) * l.scale
			p += frame
		}
	default:
		for i := range v {
			var x int64
			for k := range l.bytes {
				b := data[p+k]
				if l.order == binary.LittleEndian {
					b = data[p+l.bytes-1-k]
				}
				if k == 0 {
					x = int64(int8(b))
				} else {
					x = x<<8 | int64(b)
				}
			}
			v[i] = float64(x) * l.scale
			p += frame
		}
	}
	if l.float {
		for _, x := range v {
			gap = gap || !finite(x)
		}
	}
	return gap
}

func (d *wavDecoder) commit(c *chunk) error {
	frames := len(c.data) / d.frame
	if d.settled() {
		for ch, t := range d.eng.tracks {
			if err := d.channel(t, ch, c.data, frames, &c.wav); err != nil {
				return err
			}
		}
		return d.close(c, frames)
	}
	for from := 0; from < frames; from += blockRows {
		d.whole = clock{interval: 1 / d.lay.rate, row: d.rows + int64(from)}
		d.eng.over.row(d.whole.row, d.whole.at(0))
		k := min(blockRows, frames-from)
		data := c.data[from*d.frame : (from+k)*d.frame]
		for ch, t := range d.eng.tracks {
			if err := d.block(t, ch, data, k, &d.whole, &c.wav, from/wavBlock); err != nil {
				return err
			}
		}
	}
	return d.close(c, frames)
}

// close ends a chunk.
func (d *wavDecoder) close(c *chunk, frames int) error {
	d.rows += int64(frames)
	d.eng.rows = d.rows
	d.publish()
	if d.rows > 0 {
		d.eng.end = Second(float64(d.rows-1) / d.lay.rate)
	}
	if c.last && c.err == nil && len(c.data)%d.frame != 0 {
		d.eng.warnings = append(d.eng.warnings, Warning{Byte: c.off + int64(len(c.data)), Channel: -1, Text: "the recording ends within a frame: the rest is left out"})
	}
	return d.eng.merge.flush(false)
}

// block passes blockRows samples of a channel on: in one piece where nothing can be in them, else in short blocks, of which only the lively ones are converted.
func (d *wavDecoder) block(t *track, ch int, data []byte, k int, clk *clock, w *wavBlocks, first int) error {
	n := d.lay.channels
	if d.keep != nil {
		d.lay.samples(data, ch, d.v[:k])
		d.keep.samples(ch, d.v[:k], clk)
	}
	least, largest, gap := math.Inf(1), math.Inf(-1), false
	lo, hi := math.Inf(1), math.Inf(-1) // of the exact ones
	parts := (k + wavBlock - 1) / wavBlock
	for b := range parts {
		i := (first+b)*n + ch
		least, largest, gap = min(least, w.least[i]), max(largest, w.largest[i]), gap || w.gap[i]
		if !w.loose[i] {
			lo, hi = min(lo, w.least[i]), max(hi, w.largest[i])
		}
	}
	if gap {
		d.lay.samples(data, ch, d.v[:k])
		return d.eng.gaps(t, d.v[:k], clk)
	}
	if lo <= hi {
		d.eng.extent(ch, lo, hi)
	}
	if tail, ok := d.eng.still(t, least, largest); ok {
		d.tail(t, ch, data, k, min(tail, k), clk.row)
		return nil
	}
	for b := range parts {
		i := (first+b)*n + ch
		from := b * wavBlock
		m := min(wavBlock, k-from)
		part := data[from*d.frame : (from+m)*d.frame]
		if tail, ok := d.eng.still(t, w.least[i], w.largest[i]); ok {
			d.tail(t, ch, part, m, min(tail, m), clk.row+int64(from))
			continue
		}
		d.lay.samples(part, ch, d.v[:m])
		d.clk = clock{interval: clk.interval, row: clk.row + int64(from)}
		lo, hi := w.least[i], w.largest[i]
		if w.loose[i] {
			lo, hi = extremes(d.v[:m])
		}
		if err := d.eng.feed(t, d.v[:m], &d.clk, lo, hi); err != nil {
			return err
		}
	}
	return nil
}

// tail passes a still block of k samples by its last few.
func (d *wavDecoder) tail(t *track, ch int, data []byte, k, tail int, row int64) {
	d.lay.samples(data[(k-tail)*d.frame:], ch, d.v[:tail])
	d.clk = clock{interval: 1 / d.lay.rate, row: row + int64(k-tail)}
	d.eng.pass(t, d.v[:tail], &d.clk, k)
}

// scanWAV reads a sound-card recording.
func (s *scanner) scanWAV(ctx context.Context) (*Result, error) {
	lay, p := wavHead(s.src)
	if p != nil {
		return nil, p
	}
	segs := s.surveyWAV(lay)
	info := Info{Name: s.src.name, Format: FormatWAV, Size: s.src.size, Interval: Second(1 / lay.rate)}
	hints := make([]hint, lay.channels)
	finds := make([]finding, lay.channels)
	for i := range hints {
		name := fmt.Sprintf("ch%d", i+1)
		hints[i] = hint{method: s.opt.Methods[name], ac: true}
		finds[i] = judge(segs[i], hints[i])
		c := newChannel(name, "", Analog)
		c.Relative = true
		info.Channels = append(info.Channels, c)
	}
	eng := newEngine(info, hints, finds, s.opt, s.sink, lay.channels)
	eng.warnings = append(eng.warnings, lay.warnings...)
	d := &wavDecoder{lay: lay, eng: eng, v: make([]float64, blockRows), keep: s.keep, frame: lay.channels * lay.bytes}
	if lay.swar() && !s.opt.Overview && s.keep == nil {
		d.bands = make([]wavBand, lay.channels)
		d.publish()
	}
	s.overview(eng, func(o *Overview) { o.wav = lay })
	if err := eng.begin(); err != nil {
		return nil, err
	}
	r := s.src.body(lay.body)
	want := lay.frames * int64(d.frame)
	if lay.frames >= 0 {
		r = io.LimitReader(r, want)
	}
	err := s.pipe(ctx, d, r, lay.body)
	if err == nil && lay.frames > d.rows {
		eng.warnings = append(eng.warnings, Warning{Byte: lay.body, Channel: -1, Text: fmt.Sprintf("the header claims %d frames, %d are there: read to the end", lay.frames, d.rows)})
	}
	return s.result(eng, err)
}

// surveyWAV samples stretches spread over the recording, or its beginning: about a million values in all.
func (s *scanner) surveyWAV(lay *wavLayout) [][][]float64 {
	segs := make([][][]float64, lay.channels)
	frame := int64(lay.channels * lay.bytes)
	take := func(data []byte) {
		n := int(int64(len(data)) / frame)
		for ch := range segs {
			v := make([]float64, n)
			lay.samples(data, ch, v)
			segs[ch] = append(segs[ch], v)
		}
	}
	const values = 1 << 20
	most := max(1024, values/int64(lay.channels)) * frame
	size := s.src.size - lay.body
	if lay.frames >= 0 {
		size = min(size, lay.frames*frame)
	}
	if s.src.at == nil || size <= most {
		s.src.fillHead(int(lay.body + most))
		b := s.src.head[min(lay.body, int64(len(s.src.head))):]
		if lay.frames >= 0 {
			b = b[:min(int64(len(b)), lay.frames*frame)]
		}
		take(b)
		return segs
	}
	part := most / surveyBlocks / frame * frame
	buf := make([]byte, part)
	for i := range int64(surveyBlocks) {
		at := i * (size - part) / (surveyBlocks - 1) / frame * frame
		n, _ := s.src.at.ReadAt(buf, lay.body+at)
		take(buf[:n])
	}
	return segs
}
