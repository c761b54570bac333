package waveform

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"phasewright/beside"
)

// How many samples of a channel share a pair of extremes: few, since all of them are looked at where an edge may be. They divide blockRows, and blocks of 16-bit
// samples are a multiple of 64 bytes.
const (
	wavBlock     = 32
	wavBlockMany = 16 // of two channels and more
)

// d.eachs holds the extremes of a chunk's short blocks, block after block, channel after channel.
type wavBlocks struct {
	least, largest []float64
	gap            []bool // a float sample is NaN or infinite
	// of 16-bit samples, as they lie: the least of each channel, the largest of each; of one block and of wideBlocks together
	narrow, wide [][8]int16
	hand         wavHand
	ahead        []wavAhead // by channel
}

// room makes place for n pairs of extremes.
func (w *wavBlocks) room(n int) {
	if cap(w.least) < n {
		w.least, w.largest, w.gap = make([]float64, n), make([]float64, n), make([]bool, n)
	}
	w.least, w.largest, w.gap = w.least[:n], w.largest[:n], w.gap[:n]
}

// wavDecoder takes samples through the pipeline. Chunks hold whole blocks, so blocks lie at the same places whatever the chunk.
type wavDecoder struct {
	lay   *wavLayout
	eng   *engine
	rows  int64
	v     []float64
	keep  *keeper
	frame int
	each  int   // samples of a channel in a block
	whole clock // of the block under way, and of a part of it: kept here, since they would escape to the heap
	clk   clock
	// blocks are judged by bound; and nobody else wants their extremes, so that they are judged as samples
	narrow, alone bool
	hand          wavHand
	adopters      []adopter // by channel; nil where nothing can be found ahead
}

func (d *wavDecoder) split(b []byte, last bool) int {
	n := d.frame * blockRows
	return len(b) / n * n
}

func (d *wavDecoder) parse(c *chunk) {
	w := &c.wav
	frames := len(c.data) / d.frame
	if d.narrow {
		d.bound(c, frames)
		switch {
		case !d.alone:
			d.widen(w)
		case frames > 0:
			d.lead(c, frames)
		}
		return
	}
	blocks := (frames + d.each - 1) / d.each
	w.room(blocks * d.lay.channels)
	v := make([]float64, d.each)
	for b := range blocks {
		from := b * d.each
		k := min(d.each, frames-from)
		data := c.data[from*d.frame : (from+k)*d.frame]
		out := b * d.lay.channels
		for ch := range d.lay.channels {
			gap := d.lay.samples(data, ch, v[:k])
			w.gap[out+ch] = gap
			w.least[out+ch], w.largest[out+ch] = extremes(v[:k])
		}
	}
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
	if d.alone && frames > 0 {
		if !d.settled() {
			d.widen(&c.wav)
			return d.blocks(c, frames)
		}
		for ch, t := range d.eng.tracks {
			d.hand.channel(t, ch, c, frames)
		}
		return d.close(c, frames)
	}
	return d.blocks(c, frames)
}

// blocks takes a chunk block by block, each with all its channels.
func (d *wavDecoder) blocks(c *chunk, frames int) error {
	for from := 0; from < frames; from += blockRows {
		d.whole = clock{interval: 1 / d.lay.rate, row: d.rows + int64(from)}
		d.eng.over.row(d.whole.row, d.whole.at(0))
		k := min(blockRows, frames-from)
		data := c.data[from*d.frame : (from+k)*d.frame]
		for ch, t := range d.eng.tracks {
			if err := d.block(t, ch, data, k, &d.whole, &c.wav, from/d.each); err != nil {
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
	parts := (k + d.each - 1) / d.each
	for b := range parts {
		i := (first+b)*n + ch
		least, largest, gap = min(least, w.least[i]), max(largest, w.largest[i]), gap || w.gap[i]
	}
	if gap {
		d.lay.samples(data, ch, d.v[:k])
		return d.eng.gaps(t, d.v[:k], clk)
	}
	d.eng.extent(ch, least, largest)
	if tail, ok := d.eng.still(t, least, largest); ok {
		d.tail(t, ch, data, k, min(tail, k), clk.row)
		return nil
	}
	for b := range parts {
		i := (first+b)*n + ch
		from := b * d.each
		m := min(d.each, k-from)
		part := data[from*d.frame : (from+m)*d.frame]
		if tail, ok := d.eng.still(t, w.least[i], w.largest[i]); ok {
			d.tail(t, ch, part, m, min(tail, m), clk.row+int64(from))
			continue
		}
		d.lay.samples(part, ch, d.v[:m])
		d.clk = clock{interval: clk.interval, row: clk.row + int64(from)}
		if err := d.eng.feed(t, d.v[:m], &d.clk, w.least[i], w.largest[i]); err != nil {
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
	var starts [][]float64
	started := beside.Start(func() { starts = s.startWAV(lay) })
	segs := s.surveyWAV(lay)
	started.Wait()
	info := Info{Name: s.src.name, Format: FormatWAV, Size: s.src.size, Interval: Second(1 / lay.rate)}
	hints := make([]hint, lay.channels)
	for i := range hints {
		name := fmt.Sprintf("ch%d", i+1)
		hints[i] = hint{method: s.opt.Methods[name], ac: true, start: starts[i]}
		c := newChannel(name, "", Analog)
		c.Relative = true
		info.Channels = append(info.Channels, c)
	}
	eng := newEngine(info, hints, judgeAll(segs, hints, s.opt.Workers), s.opt, s.sink, lay.channels)
	eng.warnings = append(eng.warnings, lay.warnings...)
	d := &wavDecoder{lay: lay, eng: eng, v: make([]float64, blockRows), keep: s.keep, frame: lay.channels * lay.bytes}
	d.narrow, d.each = lay.narrow(), wavBlock
	if lay.channels > 1 {
		d.each = wavBlockMany
	}
	d.alone = d.narrow && !s.opt.Overview && s.keep == nil
	if d.alone {
		d.hand = wavHand{d: d, v: make([]float64, blockRows)}
		for _, t := range eng.tracks {
			of, _ := t.det.(adopter)
			d.adopters = append(d.adopters, of)
		}
	}
	s.overview(eng, func(o *Overview) { o.wav = lay })
	if err := eng.begin(); err != nil {
		return nil, err
	}
	err := s.flowWAV(ctx, lay, d)
	if err == nil && lay.frames > d.rows {
		eng.warnings = append(eng.warnings, Warning{Byte: lay.body, Channel: -1, Text: fmt.Sprintf("the header claims %d frames, %d are there: read to the end", lay.frames, d.rows)})
	}
	return s.result(eng, err)
}

// flowWAV sends the samples through the pipeline.
func (s *scanner) flowWAV(ctx context.Context, lay *wavLayout, d *wavDecoder) error {
	want := lay.frames * int64(d.frame)
	if s.src.at != nil {
		end := s.src.size
		if lay.frames >= 0 {
			end = min(end, lay.body+want)
		}
		return s.pipeAt(ctx, d, lay.body, end, d.frame*blockRows)
	}
	r := s.src.body(lay.body)
	if lay.frames >= 0 {
		r = io.LimitReader(r, want)
	}
	return s.pipe(ctx, d, r, lay.body)
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
	most := surveyFrames(lay) * frame
	size := s.src.size - lay.body
	if lay.frames >= 0 {
		size = min(size, lay.frames*frame)
	}
	if s.src.at != nil && size <= most {
		buf := make([]byte, max(0, size))
		n, _ := s.src.at.ReadAt(buf, lay.body)
		take(buf[:n])
		return segs
	}
	if s.src.at == nil {
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
