package waveform

import "math"

// slowSamples is how long a transition may last before its edge is timed at its end: it bounds how long other channels' edges wait.
const slowSamples = 65536

// clock gives the times of a block of samples.
type clock struct {
	times    []float64 // of each sample; nil: even steps
	start    float64
	interval float64
	row      int64   // of the block's first sample, from the first of the recording
	held     bool    // an edge stands at the sample, not between samples
	before   float64 // time of the sample before the block (with times)
}

func (c *clock) at(i int) Second {
	if c.times != nil {
		if i < 0 {
			return Second(c.before)
		}
		return Second(c.times[i])
	}
	return Second(c.start + c.interval*float64(c.row+int64(i)))
}

// between is the instant a fraction f of the way from sample i-1 to sample i.
func (c *clock) between(i int, f float64) Second {
	if c.held {
		return c.at(i)
	}
	if c.times != nil {
		a, b := c.before, c.times[i]
		if i > 0 {
			a = c.times[i-1]
		}
		return Second(a + f*(b-a))
	}
	return Second(c.start + c.interval*(float64(c.row+int64(i)-1)+f))
}

// detector finds the edges of one channel, a block of samples after the other. No sample of a block is NaN. least and largest are the block's extremes.
type detector interface {
	feed(v []float64, c *clock, least, largest float64)
	calm
	hold(now Second) Second // no edge earlier than this is still to come
}

// byLevels is a two-state machine: a state is left when the value reaches the far threshold, and the edge is timed where the value last crossed the
// middle on its way there (IEEE 181: mid-reference level instant), by a straight line.
type byLevels struct {
	emit       func(Edge)
	low, high  float64 // thresholds
	mid        float64
	snap       bool // logic: the edge stands at the sample that shows the new state
	tooth      bool // a saw-tooth: its sharp fall is timed half-way between the values before and after it, since teeth differ in height
	state      int8 // -1 low, +1 high, 0 not yet known
	prev       float64
	before     float64 // with tooth: the sample before prev
	beforeT    Second
	seen       int64 // samples before this block
	up, down   Second
	upAt, dnAt int64 // sample numbers of the last crossings; -1 none
	slow       *int64
}

func newByLevels(low, high, share float64, emit func(Edge), slow *int64) *byLevels {
	mid := low + (high-low)/2
	h := (high - low) * share
	return &byLevels{emit: emit, low: mid - h, high: mid + h, mid: mid, prev: math.NaN(), upAt: -1, dnAt: -1, slow: slow}
}

func (d *byLevels) hold(now Second) Second {
	if d.snap {
		return now
	}
	if d.tooth && d.state > 0 {
		return d.beforeT
	}
	if d.state < 0 && d.prev >= d.mid && d.upAt >= 0 && d.seen-d.upAt <= slowSamples {
		return d.up
	}
	if d.state > 0 && d.prev <= d.mid && d.dnAt >= 0 && d.seen-d.dnAt <= slowSamples {
		return d.down
	}
	return now
}

// feed: a block that stays on its side of the middle cannot hold an edge and is passed over at the cost of its extremes.
func (d *byLevels) feed(v []float64, c *clock, least, largest float64) {
	n := len(v)
	if n == 0 {
		return
	}
	if !d.calm(least, largest) {
		d.search(v, c)
	}
	d.keep(v, c, n)
}

func (d *byLevels) tail() int {
	if d.tooth {
		return 2
	}
	return 1
}

func (d *byLevels) calm(least, largest float64) bool {
	return d.state < 0 && largest < d.mid || d.state > 0 && least > d.mid
}

func (d *byLevels) room(_, _ float64) (lo, hi float64) {
	if d.state < 0 {
		return math.Inf(-1), d.mid
	}
	return d.mid, math.Inf(1)
}

func (d *byLevels) pass(tail []float64, c *clock, n int) { d.keep(tail, c, n) }

// keep remembers the last samples of v, which ends a block of n.
func (d *byLevels) keep(v []float64, c *clock, n int) {
	if k := len(v) - 2; d.tooth && k >= -1 {
		if d.beforeT = c.at(k); k < 0 {
			d.before = d.prev
		} else {
			d.before = v[k]
		}
	}
	d.prev = v[len(v)-1]
	d.seen += int64(n)
}

func (d *byLevels) search(v []float64, c *clock) {
	i := 0
	if d.state == 0 {
		for i < len(v) && v[i] < d.high && v[i] > d.low {
			i++
		}
		if i == len(v) {
			return
		}
		kind := FoundLow
		d.state = -1
		if v[i] >= d.high {
			d.state, kind = 1, FoundHigh
		}
		d.emit(Edge{At: c.at(i), Kind: kind})
	}
	for i < len(v) {
		if d.state < 0 {
			for i < len(v) && v[i] < d.high {
				i++
			}
			if i == len(v) {
				break
			}
			d.emit(Edge{At: d.rise(v, c, i), Kind: Rise})
			d.state = 1
		} else {
			for i < len(v) && v[i] > d.low {
				i++
			}
			if i == len(v) {
				break
			}
			d.emit(Edge{At: d.fall(v, c, i), Kind: Fall})
			d.state = -1
		}
	}
	// the last crossing of the middle may belong to an edge that the next block completes
	last := len(v) - 1
	if d.state < 0 && v[last] >= d.mid {
		d.rise(v, c, last)
	} else if d.state > 0 && v[last] <= d.mid {
		d.fall(v, c, last)
	}
}

// rise looks back from sample i, which is at or above the middle, for the last crossing.
func (d *byLevels) rise(v []float64, c *clock, i int) Second {
	if d.snap {
		return c.at(i)
	}
	j := i
	for j >= 0 && v[j] >= d.mid {
		j--
	}
	switch {
	case j >= 0:
		d.up, d.upAt = c.between(j+1, fraction(v[j], v[j+1], d.mid)), d.seen+int64(j)
	case d.prev < d.mid:
		d.up, d.upAt = c.between(0, fraction(d.prev, v[0], d.mid)), d.seen-1
	}
	if d.seen+int64(i)-d.upAt > slowSamples {
		if v[i] >= d.high {
			*d.slow++
		}
		return c.at(i)
	}
	return d.up
}

func (d *byLevels) fall(v []float64, c *clock, i int) Second {
	if d.snap {
		return c.at(i)
	}
	j := i
	for j >= 0 && v[j] <= d.mid {
		j--
	}
	switch {
	case j >= 0:
		d.down, d.dnAt = d.drop(v, c, j), d.seen+int64(j)
	case d.prev > d.mid:
		d.down, d.dnAt = d.drop(v, c, -1), d.seen-1
	}
	if d.seen+int64(i)-d.dnAt > slowSamples {
		if v[i] <= d.low {
			*d.slow++
		}
		return c.at(i)
	}
	return d.down
}

// drop is the instant half-way down a fall that passes the middle after sample j: between the greater of the two samples before it and the one after it. A fall that
// is not over by then is timed at the middle.
func (d *byLevels) drop(v []float64, c *clock, j int) Second {
	top, before := d.prev, d.before
	if j >= 0 {
		top, before = v[j], d.prev
	}
	if j >= 1 {
		before = v[j-1]
	}
	end := v[j+1]
	half := end + (max(top, before)-end)/2
	if !d.tooth || end > d.low || !(half < top) {
		half = d.mid
	}
	return c.between(j+1, fraction(top, end, half))
}

// fraction of the way from a to b at which a straight line passes level. Values out of range have no line: half-way.
func fraction(a, b, level float64) float64 {
	f := (level - a) / (b - a)
	if !(f >= 0 && f <= 1) || math.IsInf(a, 0) || math.IsInf(b, 0) {
		return 0.5
	}
	return f
}

// levelLeaper is a byLevels that keeps what it finds, and where it began.
type levelLeaper struct {
	byLevels
	found []Edge
	late  int64 // slow transitions
	first struct {
		state int8
		prev  float64
		seen  int64

		before float64
	}
}

func (d *byLevels) apart() leaper {
	l := &levelLeaper{byLevels: byLevels{low: d.low, high: d.high, mid: d.mid, snap: d.snap, tooth: d.tooth}}
	l.emit = func(e Edge) { l.found = append(l.found, e) }
	l.slow = &l.late
	return l
}

func (l *levelLeaper) settles(least, largest float64) bool {
	return largest <= l.low || least >= l.high
}

func (l *levelLeaper) begin(tail []float64, c *clock, seen int64, largest float64) {
	l.found, l.late = l.found[:0], 0
	l.state = 1
	if largest <= l.low {
		l.state = -1
	}
	l.seen, l.upAt, l.dnAt = seen, -1, -1
	l.keep(tail, c, 0)
	l.first.state, l.first.prev, l.first.seen = l.state, l.prev, l.seen
	l.first.before = l.before
}

func (d *byLevels) adopt(o leaper) bool {
	x, ok := o.(*levelLeaper)
	if !ok || d.state != x.first.state || d.prev != x.first.prev || d.before != x.first.before || d.seen != x.first.seen {
		return false
	}
	for _, e := range x.found {
		d.emit(e)
	}
	*d.slow += x.late
	d.state, d.prev, d.seen = x.state, x.prev, x.seen
	d.before, d.beforeT = x.before, x.beforeT
	d.up, d.down, d.upAt, d.dnAt = x.up, x.down, x.upAt, x.dnAt
	return true
}
