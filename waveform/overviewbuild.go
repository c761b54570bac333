package waveform

import (
	"encoding/binary"
	"math"
	"slices"
)

// overviewBuilder collects an Overview while the recording is read. A nil builder does nothing.
type overviewBuilder struct {
	o      *Overview
	cells  int // stretches in memory
	block  int64
	begin  float64
	lo, hi []float64
	buf    []byte
	err    error

	states []float64 // of the channels of a VCD, NaN unknown
	upto   []int64   // stretch up to which a channel's state is filled in
	gap    int64     // least distance between marks, in bytes
}

// overview makes the builder if one is wanted; again says how the recording is read again.
func (s *scanner) overview(channels []Channel, again func(*Overview)) *overviewBuilder {
	if !s.opt.Overview {
		return nil
	}
	o := &Overview{at: s.src.at, size: s.src.size, spill: s.opt.Spill, factor: 1}
	again(o)
	n := 0
	for _, c := range channels {
		o.held = append(o.held, c.Held)
		if c.Kind == Bus || o.vcd != nil && n >= maxViewedWires {
			o.store = append(o.store, -1)
			continue
		}
		o.store = append(o.store, n)
		n++
	}
	b := &overviewBuilder{o: o, cells: max(64, overviewCells/max(1, n)) &^ 1, block: -1}
	o.lo, o.hi = make([][]float32, n), make([][]float32, n)
	b.lo, b.hi = slices.Repeat([]float64{nan}, n), slices.Repeat([]float64{nan}, n)
	b.states, b.upto = slices.Repeat([]float64{nan}, n), slices.Repeat([]int64{-1}, n)
	return b
}

// outward rounds so that a float32 pair never covers less than the float64 pair.
func outward(lo, hi float64) (float32, float32) {
	a, b := float32(lo), float32(hi)
	if float64(a) > lo {
		a = math.Nextafter32(a, float32(math.Inf(-1)))
	}
	if float64(b) < hi {
		b = math.Nextafter32(b, float32(math.Inf(1)))
	}
	return a, b
}

// row begins a piece of a block of samples: row is its first, at its time.
func (b *overviewBuilder) row(row int64, at Second) {
	if b == nil || row/blockRows == b.block {
		return
	}
	b.flush()
	b.block, b.begin = row/blockRows, float64(at)
}

// add takes the extremes of a channel within the piece.
func (b *overviewBuilder) add(ch int, least, largest float64) {
	if b == nil || b.o.vcd != nil || b.o.store[ch] < 0 {
		return
	}
	ch = b.o.store[ch]
	if !(b.lo[ch] <= least) {
		b.lo[ch] = least
	}
	if !(b.hi[ch] >= largest) {
		b.hi[ch] = largest
	}
}

// flush puts a whole block into memory and spill.
func (b *overviewBuilder) flush() {
	o := b.o
	if b.block < 0 {
		return
	}
	for b.block/o.factor >= int64(b.cells) {
		b.halve()
	}
	i := int(b.block / o.factor)
	fresh := i == len(o.starts)
	if fresh {
		o.starts = append(o.starts, b.begin)
	}
	if o.spill != nil {
		b.buf = binary.LittleEndian.AppendUint64(b.buf, math.Float64bits(b.begin))
	}
	for ch := range o.lo {
		lo, hi := outward(b.lo[ch], b.hi[ch])
		if fresh {
			o.lo[ch], o.hi[ch] = append(o.lo[ch], lo), append(o.hi[ch], hi)
		} else {
			widen(&o.lo[ch][i], &o.hi[ch][i], lo, hi)
		}
		if o.spill != nil {
			b.buf = binary.LittleEndian.AppendUint32(b.buf, math.Float32bits(lo))
			b.buf = binary.LittleEndian.AppendUint32(b.buf, math.Float32bits(hi))
		}
		b.lo[ch], b.hi[ch] = math.NaN(), math.NaN()
	}
	if len(b.buf) >= 64<<10 {
		b.write()
	}
}

func widen(lo, hi *float32, a, b float32) {
	if !(*lo <= a) && a == a {
		*lo = a
	}
	if !(*hi >= b) && b == b {
		*hi = b
	}
}

// write hands the buffered blocks to the spill. After a fault the spill is not used any more; the overview then works
// without it.
func (b *overviewBuilder) write() {
	o := b.o
	record := o.record()
	n := int64(len(b.buf)) / record
	if b.err == nil && n > 0 {
		if _, b.err = o.spill.WriteAt(b.buf, o.blocks*record); b.err == nil {
			o.blocks += n
		}
	}
	b.buf = b.buf[:0]
}

func (o *Overview) record() int64 { return 8 + 8*int64(len(o.lo)) }

// halve makes the stretches in memory twice as long.
func (b *overviewBuilder) halve() {
	o := b.o
	o.factor *= 2
	n := (len(o.starts) + 1) / 2
	for i := range n {
		o.starts[i] = o.starts[2*i]
	}
	o.starts = o.starts[:n]
	for ch := range o.lo {
		b.pair(ch)
	}
}

// pair joins neighbouring stretches of one channel.
func (b *overviewBuilder) pair(ch int) {
	lo, hi := b.o.lo[ch], b.o.hi[ch]
	n := (len(lo) + 1) / 2
	for i := range n {
		x, y := lo[2*i], hi[2*i]
		if 2*i+1 < len(lo) {
			widen(&x, &y, lo[2*i+1], hi[2*i+1])
		}
		lo[i], hi[i] = x, y
	}
	b.o.lo[ch], b.o.hi[ch] = lo[:n], hi[:n]
}

// mark notes a place where reading can begin again: the first row (or tick) of a chunk.
func (b *overviewBuilder) mark(row, off int64, at Second) {
	if b == nil {
		return
	}
	o := b.o
	if n := len(o.marks); n > 0 && off-o.marks[n-1].off < b.gap {
		return
	}
	m := mark{row: row, off: off, at: float64(at)}
	if o.vcd != nil {
		for _, s := range b.states {
			m.states = append(m.states, float32(s))
		}
	}
	if o.marks = append(o.marks, m); len(o.marks) > maxMarks {
		n := 0
		for i := 0; i < len(o.marks); i += 2 {
			o.marks[n] = o.marks[i]
			n++
		}
		clear(o.marks[n:])
		o.marks = o.marks[:n]
		b.gap = 2 * max(b.gap, o.size/maxMarks/2, 64<<10)
	}
}

// state takes a change of a VCD's bit or real at a tick; NaN is unknown.
func (b *overviewBuilder) state(ch int, tick uint64, v float64) {
	if b == nil || b.o.store[ch] < 0 {
		return
	}
	ch = b.o.store[ch]
	if int64(tick>>b.o.shift) == b.upto[ch] { // as most changes: the state of the one before is in the stretch already
		b.states[ch] = v
		i := b.upto[ch]
		if x := float32(v); float64(x) == v && b.o.lo[ch][i] <= x && b.o.hi[ch][i] >= x {
			return
		}
	} else {
		b.fill(ch, tick)
		b.states[ch] = v
	}
	if i := int(tick >> b.o.shift); v == v {
		lo, hi := outward(v, v)
		widen(&b.o.lo[ch][i], &b.o.hi[ch][i], lo, hi)
	}
}

// fill carries a channel's state on to a tick.
func (b *overviewBuilder) fill(ch int, tick uint64) {
	o := b.o
	for tick>>o.shift >= uint64(b.cells) {
		o.shift++
		for c := range o.lo {
			b.pair(c)
			if b.upto[c] >= 0 {
				b.upto[c] /= 2
			}
		}
	}
	i := int64(tick >> o.shift)
	nan := float32(math.NaN())
	for int64(len(o.lo[ch])) <= i {
		o.lo[ch], o.hi[ch] = append(o.lo[ch], nan), append(o.hi[ch], nan)
	}
	if s := b.states[ch]; s == s {
		lo, hi := outward(s, s)
		for k := max(0, b.upto[ch]); k <= i; k++ {
			widen(&o.lo[ch][k], &o.hi[ch][k], lo, hi)
		}
	}
	b.upto[ch] = i
}

// finish closes the overview.
func (b *overviewBuilder) finish(r *Result, lastTick uint64) *Overview {
	if b == nil {
		return nil
	}
	o := b.o
	o.end = r.End
	for i := range r.Channels {
		c := &r.Channels[i]
		low, high := states(c)
		o.bound = append(o.bound, [2]float64{low, high})
		o.two = append(o.two, c.Kind == Digital || c.Method == ByLevels)
	}
	if o.vcd != nil {
		for ch := range o.lo {
			b.fill(ch, lastTick)
		}
		return o
	}
	b.flush()
	b.block = -1
	if o.spill != nil {
		b.write()
		if b.err != nil {
			o.spill = nil
			r.Warnings = append(r.Warnings, Warning{Byte: -1, Channel: -1,
				Text: "the overview's scratch space failed (" +
					b.err.Error() + "): fine views are read from the file again"})
		}
	}
	return o
}
