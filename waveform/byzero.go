package waveform

import "math"

// byZeroCrossing is for variable-reluctance pickups: a swing beyond the arming level arms, and the edge is timed where the signal comes back through
// zero. The arming level follows the signal, whose amplitude grows with speed: two fifths of the last swing (an assumed share, a third to a half is
// common practice), down to the floor when eight swings' time has gone by without one. Where only one polarity swings far enough, edges of one
// kind follow one another.
type byZeroCrossing struct {
	emit   func(Edge)
	zero   float64 // the resting value
	floor  float64 // least arming level
	pos    swing
	neg    swing
	prev   float64
	prevT  Second
	primed bool
	state  int8
	last   Second
}

// swing is one polarity's arming.
type swing struct {
	armed   bool
	peak    float64 // of the swing under way
	level   float64 // that arms
	lastAt  Second  // of the last crossing
	spacing Second
	crossed bool
}

func newByZeroCrossing(zero, floor float64, emit func(Edge)) *byZeroCrossing {
	d := &byZeroCrossing{emit: emit, zero: zero, floor: floor, last: Second(math.Inf(-1))}
	d.pos.level, d.neg.level = floor, floor
	return d
}

func (d *byZeroCrossing) hold(now Second) Second {
	if d.primed {
		return max(d.last, min(now, d.prevT))
	}
	return now
}

func (d *byZeroCrossing) feed(v []float64, c *clock, least, largest float64) {
	if len(v) == 0 {
		return
	}
	if d.calm(least, largest) {
		d.pass(v, c, len(v))
		return
	}
	for i, raw := range v {
		x := raw - d.zero
		if d.pos.armed {
			d.pos.peak = max(d.pos.peak, x)
			if x <= 0 {
				d.cross(&d.pos, c, i, x, Fall)
			}
		} else if x >= d.floor && (x >= d.pos.level || d.pos.stale(c.at(i))) {
			d.pos.armed, d.pos.peak = true, x
		}
		if d.neg.armed {
			d.neg.peak = max(d.neg.peak, -x)
			if x >= 0 {
				d.cross(&d.neg, c, i, x, Rise)
			}
		} else if -x >= d.floor && (-x >= d.neg.level || d.neg.stale(c.at(i))) {
			d.neg.armed, d.neg.peak = true, -x
		}
		d.prev = x
	}
	d.prevT, d.primed = c.at(len(v)-1), true
}

func (d *byZeroCrossing) tail() int { return 1 }

func (d *byZeroCrossing) calm(least, largest float64) bool {
	return !d.pos.armed && !d.neg.armed && largest-d.zero < d.floor && d.zero-least < d.floor
}

func (d *byZeroCrossing) room(_, _ float64) (lo, hi float64) {
	return d.zero - d.floor, d.zero + d.floor
}

func (d *byZeroCrossing) pass(tail []float64, c *clock, _ int) {
	k := len(tail) - 1
	d.prev, d.prevT, d.primed = tail[k]-d.zero, c.at(k), true
}

func (s *swing) stale(now Second) bool { return s.spacing <= 0 || now-s.lastAt > 8*s.spacing }

// cross times the return through zero between the last sample and this one.
func (d *byZeroCrossing) cross(s *swing, c *clock, i int, x float64, kind EdgeKind) {
	at := c.at(i)
	if i > 0 || d.primed {
		at = c.between(i, fraction(d.prev, x, 0))
	}
	at = max(at, d.last)
	found, state := FoundHigh, int8(-1)
	if kind == Rise {
		found, state = FoundLow, 1
	}
	if d.state == 0 {
		d.emit(Edge{At: at, Kind: found})
	}
	d.emit(Edge{At: at, Kind: kind})
	d.state, d.last = state, at
	if s.crossed {
		s.spacing = at - s.lastAt
	}
	s.crossed = true
	s.level = max(d.floor, 0.4*s.peak)
	s.lastAt, s.armed, s.peak = at, false, 0
}
