package waveform

import (
	"bytes"
	"context"
	"errors"
	"math"
	"strconv"
)

// vcdDecoder takes value changes through the pipeline. A chunk is parsed as if it began between two changes; where that proves wrong it is parsed again.
type vcdDecoder struct {
	lay   *vcdLayout
	eng   *engine
	state vcdState
	tick  uint64
	begun bool
	bits  []uint8 // per variable: 0, 1, valueX, never, noBit
	words []string
	keep  *keeper
	lane  *lane
	reals []*track
	v, t  [1]float64
	clk   clock
}

func (d *vcdDecoder) split(b []byte, last bool) int {
	if i := bytes.LastIndexByte(b, '\n'); i >= 0 && !last { // at a fault of the input the last blank is the end, wherever chunks begin
		return i + 1
	}
	for i := len(b) - 1; i >= 0; i-- {
		if b[i] <= ' ' {
			return i + 1
		}
	}
	return 0
}

func (d *vcdDecoder) parse(c *chunk) { c.vcd.parseVCD(d.lay, c.padded, vcdState{}) }

func (d *vcdDecoder) commit(c *chunk) error {
	r := &c.vcd
	if !d.state.plain() {
		r.parseVCD(d.lay, c.padded, d.state)
	}
	if d.state.plain() {
		d.eng.over.mark(int64(d.tick), c.off, d.lay.seconds(d.tick))
	}
	apply := d.apply
	if d.eng.over == nil && d.keep == nil {
		apply = d.applyBits
	}
	parts := r.walks(d.tick)
	if err := apply(c, &parts[0]); err != nil {
		return err
	}
	if r.stamps > 0 {
		if d.begun && r.first < d.tick {
			return d.fault(c, problemAtByte(ErrMalformed, r.firstAt, "the changes are used up to there", "time falls from %d to %d ticks", d.tick, r.first))
		}
		if !d.begun && r.inherited == 0 && d.eng.rows == 0 {
			d.eng.info.Start = d.lay.seconds(r.first)
		}
		d.begun = true
		d.tick = r.last
		d.eng.rows += r.stamps
	}
	if err := apply(c, &parts[1]); err != nil {
		return err
	}
	d.state = r.end
	if r.inherited > 0 && d.eng.rows == 0 {
		d.eng.rows = 0
	}
	now := d.lay.seconds(d.tick)
	d.eng.end, d.eng.tick = now, d.tick
	d.lane.hold = now
	for _, t := range d.reals {
		t.lane.hold = now
	}
	if r.problem != nil {
		return d.fault(c, r.problem)
	}
	if c.last && c.err == nil && !d.state.plain() {
		what := "the file ends in the middle of a value change"
		if d.state.comment {
			what = "the file ends within a comment or another block that no $end closes"
		}
		return problemAtByte(ErrTruncated, c.off+int64(len(c.data)), "what came before is used", "%s", what)
	}
	return d.eng.merge.flush(false)
}

// fault places a problem of a chunk in the recording. Where the offending word is the file's last and nothing ends it, the file was cut off there.
func (d *vcdDecoder) fault(c *chunk, p *Problem) error {
	out := *p
	at := min(max(p.Byte, 0), int64(len(c.data)))
	if c.last && c.err == nil && errors.Is(p, ErrMalformed) && at+int64(len(word(c.data[at:]))) == int64(len(c.data)) {
		out = *problemAtByte(ErrTruncated, at, "what came before is used", "the file ends in the middle of a value change")
	}
	out.Byte = at + c.off
	return &out
}

// applyBits is apply where nobody else wants the changes: it makes the edges of bits that go from 0 to 1 and back itself, and leaves the rest to apply.
//
// Hot loop on one goroutine, the narrow place of the way: through apply and merger.push an edge takes four times as long.
func (d *vcdDecoder) applyBits(c *chunk, k *vcdWalk) error {
	lay, m, l := d.lay, d.eng.merge, d.lane
	edges := l.edges
	words, tick, at := k.words, k.from, lay.seconds(k.from)
	for i := 0; i < len(words); i++ {
		w := words[i]
		v, value := uint32(w>>34), uint8(w>>32&3)
		was := d.bits[v]
		if value|was > 1 || w&far == far {
			one := vcdWalk{words: words[i:], from: tick}
			one.next()
			n := len(words) - i - len(one.words)
			one = vcdWalk{words: words[i : i+n], from: tick}
			l.edges = edges
			if err := d.apply(c, &one); err != nil {
				return err
			}
			edges = l.edges
			i += n - 1
			tick, at = one.from, lay.seconds(one.from)
			continue
		}
		if later := uint64(w & far); later != 0 {
			tick += later
			at = lay.seconds(tick)
		}
		if value == was {
			continue
		}
		d.bits[v] = value
		edge := Edge{At: at, Channel: int32(v), Kind: Fall - EdgeKind(value)}
		if k := m.last[v]; k >= l.base {
			if w := at - edges[k-l.base].At; w < m.glitch || w <= 0 {
				l.edges = edges
				m.push(l, edge)
				edges = l.edges
				continue
			}
		}
		m.last[v] = l.base + int64(len(edges))
		edges = append(edges, edge)
	}
	l.edges = edges
	return nil
}

// apply turns events into edges.
func (d *vcdDecoder) apply(c *chunk, k *vcdWalk) error {
	lay, merge, lane := d.lay, d.eng.merge, d.lane
	last, at := uint64(math.MaxUint64), Second(0)
	for k.next() {
		e := &k.vcdEvent
		if e.value == valueText {
			if err := d.text(c, e); err != nil {
				return err
			}
			continue
		}
		if e.tick != last {
			last, at = e.tick, lay.seconds(e.tick)
		}
		v := &lay.vars[e.v]
		if !v.isBit {
			d.count(v, at, string(digitOf[e.value]))
			continue
		}
		was := d.bits[e.v]
		if e.value == was {
			continue
		}
		d.bits[e.v] = e.value
		if d.eng.over != nil {
			d.eng.over.state(v.ch, e.tick, levelOf[e.value])
		}
		if d.keep != nil {
			d.keep.change(v.ch, at, levelOf[e.value], "")
		}
		edge := Edge{At: at, Channel: int32(v.ch)}
		switch {
		case e.value == valueX:
			if was == never {
				continue
			}
			edge.Kind = Lost
		case was == 1-e.value:
			edge.Kind = Fall - EdgeKind(e.value)
		default:
			edge.Kind = FoundLow + EdgeKind(e.value)
		}
		merge.push(lane, edge)
	}
	return nil
}

// levelOf is a bit's value as a number.
var levelOf = [...]float64{0, 1, math.NaN()}

// digitOf is a bit's value as it is written.
const digitOf = "01x"

// text takes a real or a word.
func (d *vcdDecoder) text(c *chunk, e *vcdEvent) error {
	at := d.lay.seconds(e.tick)
	v := &d.lay.vars[e.v]
	var value []byte
	if e.at == 0 {
		value = c.vcd.pending
	} else {
		value = word(c.padded[e.at : len(c.padded)-chunkPad])
	}
	if !v.real() {
		s := string(value[1:])
		if value[0]|0x20 == 'b' {
			s = extend(value[1:], max(1, v.size))
		}
		d.count(v, at, s)
		return nil
	}
	x, _ := strconv.ParseFloat(string(value[1:]), 64)
	if d.keep != nil {
		d.keep.change(v.ch, at, x, "")
	}
	d.eng.over.state(v.ch, e.tick, x)
	t := d.eng.tracks[v.ch]
	d.v[0], d.t[0] = x, float64(at)
	d.eng.info.Channels[v.ch].Changes++
	d.clk = clock{times: d.t[:], held: true}
	if !finite(x) {
		return d.eng.gaps(t, d.v[:], &d.clk)
	}
	d.eng.extent(v.ch, x, x)
	return d.eng.feed(t, d.v[:], &d.clk, x, x)
}

// count notes a change of a bus, an integer or an event.
func (d *vcdDecoder) count(v *vcdVariable, at Second, s string) {
	if d.words[v.ch] == s && !v.event() {
		return
	}
	if d.words[v.ch] != "" {
		d.eng.info.Channels[v.ch].Changes++
	}
	d.words[v.ch] = s
	if d.keep != nil {
		d.keep.change(v.ch, at, 0, s)
	}
}

// scanVCD reads value changes.
func (s *scanner) scanVCD(ctx context.Context) (*Result, error) {
	lay, p := vcdHead(s.src)
	if p != nil {
		return nil, p
	}
	info := Info{Name: s.src.name, Format: FormatVCD, Size: s.src.size, Tick: lay.seconds(1)}
	info.Channels = make([]Channel, 0, len(lay.vars))
	reals, taken := 0, map[string]int{}
	for i := range lay.vars {
		v := &lay.vars[i]
		v.ch, v.isBit = i, v.bit()
		kind := Bus
		switch {
		case v.real():
			kind = Analog
			reals++
		case v.bit():
			kind = Digital
		}
		v.names[0] = distinct(taken, v.names[0])
		c := newChannel(v.names[0], "", kind)
		c.Aliases, c.Held = v.names[1:], true
		if kind == Digital {
			c.Method, c.Low, c.High, c.Noise = ByState, 0, 1, 0
		}
		info.Channels = append(info.Channels, c)
	}
	eng := &engine{info: info, sink: s.sink, warnings: lay.warnings, tracks: make([]*track, len(lay.vars))}
	eng.merge = newMerger(s.sink, eng.info.Channels, 1+reals, s.opt.Glitch)
	d := &vcdDecoder{lay: lay, eng: eng, bits: make([]uint8, len(lay.vars)), words: make([]string, len(lay.vars)), keep: s.keep, lane: eng.merge.lanes[0]}
	d.lane.many = true
	for i := range lay.vars {
		d.bits[i] = never
		if !lay.vars[i].isBit {
			d.bits[i] = noBit
		}
	}
	if reals > 0 {
		segs := s.surveyVCD(lay, d)
		for i := range lay.vars {
			if !lay.vars[i].real() {
				continue
			}
			t := &track{index: i, hint: hint{method: s.opt.Methods[lay.vars[i].names[0]], held: true}, lane: eng.merge.lanes[1+len(d.reals)], prevT: Second(math.Inf(-1))}
			eng.tracks[i] = t
			d.reals = append(d.reals, t)
			eng.set(t, judge(segs[i], t.hint))
		}
	}
	s.overview(eng, func(o *Overview) { o.vcd = lay })
	err := s.run(ctx, eng, d, lay.body)
	return s.result(eng, err)
}

// surveyVCD samples the reals: stretches spread over the file, or its beginning.
func (s *scanner) surveyVCD(lay *vcdLayout, d *vcdDecoder) [][][]float64 {
	segs := make([][][]float64, len(lay.vars))
	r := &vcdEvents{}
	padded := make([]byte, chunkPad)
	take := func(text []byte) {
		padded = append(padded[:chunkPad], text...)
		padded = append(padded, make([]byte, chunkPad)...)
		r.parseVCD(lay, padded, vcdState{})
		part := make([][]float64, len(lay.vars))
		for e := (&vcdWalk{words: r.words}); e.next(); {
			if e.value == valueText && e.at > 0 && lay.vars[e.v].real() {
				if x, err := strconv.ParseFloat(string(word(padded[e.at : len(padded)-chunkPad])[1:]), 64); err == nil {
					part[e.v] = append(part[e.v], x)
				}
			}
		}
		for i, v := range part {
			if v != nil {
				segs[i] = append(segs[i], v)
			}
		}
	}
	const part = 128 << 10
	if s.src.at == nil || s.src.size <= 16*part {
		s.src.fillHead(int(lay.body) + 16*part)
		for text := s.src.head[lay.body:]; len(text) > 0; {
			n := len(text)
			if n > part {
				if n = d.split(text[:part], false); n == 0 {
					break
				}
			}
			take(text[:n])
			text = text[n:]
		}
		return segs
	}
	buf := make([]byte, part)
	for i := range int64(16) {
		n, _ := s.src.at.ReadAt(buf, lay.body+i*(s.src.size-lay.body-part)/15)
		text := buf[:n]
		if i > 0 {
			text = text[bytes.IndexByte(text, '\n')+1:]
		}
		take(text)
	}
	return segs
}
