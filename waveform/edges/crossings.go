package edges

import (
	"math"

	"phasewright/waveform/block"
)

// byZeroCrossing is for variable-reluctance pickups: a swing beyond the arming level arms, and the edge is timed where
// the signal comes back through zero. The arming level follows the signal, whose amplitude grows with speed: two
// fifths of the last swing (an assumed share, a third to a half is common practice), down to the floor when eight
// swings' time has gone by without one. Where only one polarity swings far enough, edges of one kind follow one
// another.
type byZeroCrossing struct {
	emit   func(block.Edge)
	zero   float64 // the resting value
	floor  float64 // least arming level
	pos    swing
	neg    swing
	prev   float64
	prevT  block.Second
	primed bool
	state  int8
	last   block.Second
}

// swing is one polarity's arming.
type swing struct {
	armed   bool
	peak    float64      // of the swing under way
	level   float64      // that arms
	lastAt  block.Second // of the last crossing
	spacing block.Second
	crossed bool
}

func newByZeroCrossing(zero, floor float64, emit func(block.Edge)) *byZeroCrossing {
	d := &byZeroCrossing{emit: emit, zero: zero, floor: floor, last: block.Second(math.Inf(-1))}
	d.pos.level, d.neg.level = floor, floor
	return d
}

func (d *byZeroCrossing) hold(now block.Second) block.Second {
	if d.primed {
		return max(d.last, min(now, d.prevT))
	}
	return now
}

// still: what is within the least arming level arms nothing.
func (d *byZeroCrossing) still(least, largest float64) int {
	if !d.pos.armed && !d.neg.armed && largest-d.zero < d.floor && d.zero-least < d.floor {
		return 1
	}
	return 0
}

func (d *byZeroCrossing) pass(last []float64, c *block.Clock, _ int) {
	n := len(last) - 1
	d.prev, d.prevT, d.primed = last[n]-d.zero, c.At(n), true
}

func (d *byZeroCrossing) search(v []float64, c *block.Clock) {
	for i, raw := range v {
		x := raw - d.zero
		if d.pos.armed {
			d.pos.peak = max(d.pos.peak, x)
			if x <= 0 {
				d.cross(&d.pos, c, i, x, block.Fall)
			}
		} else if x >= d.floor && (x >= d.pos.level || d.pos.stale(c.At(i))) {
			d.pos.armed, d.pos.peak = true, x
		}
		if d.neg.armed {
			d.neg.peak = max(d.neg.peak, -x)
			if x >= 0 {
				d.cross(&d.neg, c, i, x, block.Rise)
			}
		} else if -x >= d.floor && (-x >= d.neg.level || d.neg.stale(c.At(i))) {
			d.neg.armed, d.neg.peak = true, -x
		}
		d.prev = x
	}
	d.prevT, d.primed = c.At(len(v)-1), true
}

func (s *swing) stale(now block.Second) bool { return s.spacing <= 0 || now-s.lastAt > 8*s.spacing }

// cross times the return through zero between the last sample and this one.
func (d *byZeroCrossing) cross(s *swing, c *block.Clock, i int, x float64, kind block.EdgeKind) {
	at := c.At(i)
	if i > 0 || d.primed {
		at = c.Between(i, fraction(d.prev, x, 0))
	}
	at = max(at, d.last)
	found, state := block.FoundHigh, int8(-1)
	if kind == block.Rise {
		found, state = block.FoundLow, 1
	}
	if d.state == 0 {
		d.emit(block.Edge{At: at, Kind: found})
	}
	d.emit(block.Edge{At: at, Kind: kind})
	d.state, d.last = state, at
	if s.crossed {
		s.spacing = at - s.lastAt
	}
	s.crossed = true
	s.level = max(d.floor, 0.4*s.peak)
	s.lastAt, s.armed, s.peak = at, false, 0
}
