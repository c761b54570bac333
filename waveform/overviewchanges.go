package waveform

import (
	"context"

	"phasewright/waveform/vcd"
)

// changesFromMemory fills the columns of a VCD's channels from the stretches in memory.
func (o *Overview) changesFromMemory(views []*view) {
	stretch := o.Grain(0, 0)
	for _, v := range views {
		lo, hi := o.lo[v.col], o.hi[v.col]
		for i := max(0, int64(v.t0/stretch)-1); i < int64(len(lo)); i++ {
			a := o.vcd.Seconds(uint64(i) << o.shift)
			if a >= v.t1 {
				break
			}
			v.add(a, min(o.end, o.vcd.Seconds(uint64(i+1)<<o.shift)), float64(lo[i]), float64(hi[i]))
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
		c.note(at, state)
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
	byChannel := make([]*changes, len(o.store))
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
	var r vcd.Changes
	buf := make([]byte, rereadChunk)
	for off := m.off; off < o.size; {
		if err := ctx.Err(); err != nil {
			return err
		}
		var text []byte
		var err error
		if buf, text, _, err = o.stretch(buf, off, vcd.Split); len(text) == 0 {
			return err
		}
		o.vcd.Parse(text, r.End, &r)
		for i, c := range r.All {
			if i >= r.Inherited {
				tick = c.Tick
			}
			at := o.vcd.Seconds(tick)
			if at >= views[0].t1 {
				return nil
			}
			if ch := byChannel[c.Variable]; ch != nil && o.vcd.Variables[c.Variable].Sort == vcd.Real {
				ch.to(at, r.Reals[c.Value])
			} else if ch != nil {
				ch.to(at, levelOf[c.Value])
			}
		}
		if r.Problem != nil {
			return nil
		}
		if r.Stamps > 0 {
			tick = r.Last
		}
		off += int64(len(text))
	}
	return nil
}
