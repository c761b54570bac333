package waveform

import (
	"context"
	"math"
	"strconv"
)

// changesFromMemory fills the columns of a VCD's channels from the stretches in memory.
func (o *Overview) changesFromMemory(views []*view) {
	stretch := o.Grain(0, 0)
	for _, v := range views {
		lo, hi := o.lo[v.col], o.hi[v.col]
		for i := max(0, int64(v.t0/stretch)-1); i < int64(len(lo)); i++ {
			a := o.vcd.seconds(uint64(i) << o.shift)
			if a >= v.t1 {
				break
			}
			v.add(a, min(o.end, o.vcd.seconds(uint64(i+1)<<o.shift)), float64(lo[i]), float64(hi[i]))
		}
	}
}

// changes is a VCD's channel on its way through the file: its state and since when.
type changes struct {
	*view
	state float64
	since Second
}

// to carries the state on to a change at a time; a value written again is none.
func (c *changes) to(at Second, state float64) {
	if state == c.state || state != state && c.state != c.state {
		return
	}
	c.add(c.since, at, c.state, c.state)
	c.since, c.state = at, state
	c.add(at, at, state, state)
	switch {
	case at <= c.t0:
		c.beforeT, c.before = at, state
	case at < c.t1:
		c.keep(at, state)
	}
}

// end closes the columns where the view or the recording ends.
func (c *changes) end(o *Overview) {
	if c.since < c.t1 {
		c.add(c.since, min(o.end, c.t1-c.step/2), c.state, c.state)
	}
}

// changesFromFile fills the columns of a VCD's channels from the file itself.
func (o *Overview) changesFromFile(ctx context.Context, views []*view) error {
	m := o.markBefore(views[0].t0, false)
	all := make([]changes, len(views))
	byChannel := make([]*changes, len(o.kept))
	for i, v := range views {
		all[i] = changes{v, float64(m.states[v.col]), Second(m.at)}
		v.beforeT, v.before = Second(m.at), all[i].state
		byChannel[v.channel] = &all[i]
	}
	defer func() {
		for i := range all {
			all[i].end(o)
		}
	}()
	tick := uint64(m.row)
	var r vcdEvents
	st := vcdState{}
	padded := make([]byte, rereadChunk+2*chunkPad)
	for off := m.off; off < o.size; {
		if err := ctx.Err(); err != nil {
			return err
		}
		n, err := o.at.ReadAt(padded[chunkPad:chunkPad+rereadChunk], off)
		if n == 0 {
			return failed(err)
		}
		if off+int64(n) < o.size {
			for cut := n; cut > 0; cut-- {
				if padded[chunkPad+cut-1] <= ' ' {
					n = cut
					break
				}
			}
		}
		text := padded[:2*chunkPad+n]
		clear(text[chunkPad+n:])
		r.parseVCD(o.vcd, text, st)
		st = r.end
		for _, e := range r.walks(tick) {
			for e.next() {
				at := o.vcd.seconds(e.tick)
				if at >= views[0].t1 {
					return nil
				}
				if ch := o.vcd.vars[e.v].ch; ch >= 0 && ch < len(byChannel) && byChannel[ch] != nil {
					byChannel[ch].to(at, r.valueOf(&e.vcdEvent, text))
				}
			}
		}
		if r.problem != nil {
			return nil
		}
		if r.stamps > 0 {
			tick = r.last
		}
		off += int64(n)
	}
	return nil
}

// valueOf is the value of a change: 0, 1, a real, or NaN where it is unknown.
func (r *vcdEvents) valueOf(e *vcdEvent, padded []byte) float64 {
	switch e.value {
	case valueText:
		text := r.pending
		if e.at > 0 {
			text = word(padded[e.at : len(padded)-chunkPad])
		}
		x, err := strconv.ParseFloat(string(text[1:]), 64)
		if err != nil {
			return math.NaN()
		}
		return x
	case valueX:
		return math.NaN()
	}
	return float64(e.value)
}
