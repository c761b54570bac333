package edges

import (
	"math"

	"phasewright/waveform/block"
)

// slowSamples is how long a transition may last before its edge is timed at its end: it bounds how long other channels'
// edges wait.
const slowSamples = 65536

// byLevels is a two-state machine: a state is left when the value reaches the far threshold, and the edge is timed
// where the value last crossed the middle on its way there (IEEE 181: mid-reference level instant), by a straight
// line.
type byLevels struct {
	emit      func(block.Edge)
	low, high float64 // thresholds
	mid       float64
	atSample  bool // logic, or values that hold: the edge stands at the sample that shows the new state
	// tooth: a saw-tooth. Its sharp fall is timed half-way between the values before and after it, since teeth differ
	// in height.
	tooth      bool
	state      int8 // -1 low, +1 high, 0 not yet known
	prev       float64
	before     float64 // the sample before prev
	beforeT    block.Second
	seen       int64 // samples before this block
	up, down   block.Second
	upAt, dnAt int64 // sample numbers of the last crossings; -1 none
	slow       *int64
}

func newByLevels(low, high, share float64, emit func(block.Edge), slow *int64) *byLevels {
	mid := low + (high-low)/2
	h := (high - low) * share
	return &byLevels{emit: emit, low: mid - h, high: mid + h, mid: mid, prev: math.NaN(), upAt: -1, dnAt: -1,
		slow: slow}
}

func (d *byLevels) hold(now block.Second) block.Second {
	if d.atSample {
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

// still: what stays on its side of the middle holds no edge.
func (d *byLevels) still(least, largest float64) int {
	if d.state < 0 && largest < d.mid || d.state > 0 && least > d.mid {
		return 2
	}
	return 0
}

func (d *byLevels) pass(last []float64, c *block.Clock, n int) {
	k := len(last)
	d.beforeT, d.before = c.At(k-2), d.prev
	if k > 1 {
		d.before = last[k-2]
	}
	d.prev = last[k-1]
	d.seen += int64(n)
}

func (d *byLevels) search(v []float64, c *block.Clock) {
	d.find(v, c)
	d.pass(v, c, len(v))
}

func (d *byLevels) find(v []float64, c *block.Clock) {
	i := 0
	if d.state == 0 {
		for i < len(v) && v[i] < d.high && v[i] > d.low {
			i++
		}
		if i == len(v) {
			return
		}
		kind := block.FoundLow
		d.state = -1
		if v[i] >= d.high {
			d.state, kind = 1, block.FoundHigh
		}
		d.emit(block.Edge{At: c.At(i), Kind: kind})
	}
	for i < len(v) {
		if d.state < 0 {
			for i < len(v) && v[i] < d.high {
				i++
			}
			if i == len(v) {
				break
			}
			d.emit(block.Edge{At: d.rise(v, c, i), Kind: block.Rise})
			d.state = 1
		} else {
			for i < len(v) && v[i] > d.low {
				i++
			}
			if i == len(v) {
				break
			}
			d.emit(block.Edge{At: d.fall(v, c, i), Kind: block.Fall})
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
func (d *byLevels) rise(v []float64, c *block.Clock, i int) block.Second {
	if d.atSample {
		return c.At(i)
	}
	j := i
	for j >= 0 && v[j] >= d.mid {
		j--
	}
	switch {
	case j >= 0:
		d.up, d.upAt = c.Between(j+1, fraction(v[j], v[j+1], d.mid)), d.seen+int64(j)
	case d.prev < d.mid:
		d.up, d.upAt = c.Between(0, fraction(d.prev, v[0], d.mid)), d.seen-1
	}
	if d.seen+int64(i)-d.upAt > slowSamples {
		if v[i] >= d.high {
			*d.slow++
		}
		return c.At(i)
	}
	return d.up
}

func (d *byLevels) fall(v []float64, c *block.Clock, i int) block.Second {
	if d.atSample {
		return c.At(i)
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
		return c.At(i)
	}
	return d.down
}

// drop is the instant half-way down a fall that passes the middle after sample j: between the greater of the two
// samples before it and the one after it. A fall that is not over by then is timed at the middle.
func (d *byLevels) drop(v []float64, c *block.Clock, j int) block.Second {
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
	return c.Between(j+1, fraction(top, end, half))
}

// fraction of the way from a to b at which a straight line passes level. Values out of range have no line: half-way.
func fraction(a, b, level float64) float64 {
	f := (level - a) / (b - a)
	if !(f >= 0 && f <= 1) || math.IsInf(a, 0) || math.IsInf(b, 0) {
		return 0.5
	}
	return f
}
