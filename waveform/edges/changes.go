package edges

import (
	"math"

	"phasewright/waveform/block"
)

// byChanges finds steps: where the value changes over span samples by at least the step. The levels beside a step are
// the values before and after it, so a drooping or drifting baseline does no harm; the edge is timed half-way between
// them.
type byChanges struct {
	emit    func(block.Edge)
	span    int
	step    float64
	w       []float64      // the last span samples, and during feed those of the block
	t       []block.Second // times of the first
	lo, hi  float64        // extremes of the last span samples
	from    int            // where the block begins in w
	c       *block.Clock   // of the block
	sign    float64        // direction of the step under way; 0 none
	rest    float64        // direction that must come to rest before it counts again
	best    float64        // greatest change of the step under way
	bestI   int            // the sample in w that ends it, whose instant is not yet worked out; 0: none
	at      block.Second   // its instant
	last    block.Second   // of the last edge
	state   float64
	repeats *int64 // second steps in the same direction, left out
}

func newByChanges(step float64, span int, emit func(block.Edge), repeats *int64) *byChanges {
	return &byChanges{emit: emit, span: span, step: step, repeats: repeats, last: block.Second(math.Inf(-1)),
		lo: math.Inf(1), hi: math.Inf(-1)}
}

func (d *byChanges) hold(now block.Second) block.Second {
	if len(d.t) > 0 {
		now = min(now, d.t[0])
	}
	if d.sign != 0 {
		now = min(now, d.at)
	}
	return max(now, d.last)
}

// still: what spans less than half a step, with the samples before it, holds none.
func (d *byChanges) still(least, largest float64) int {
	if d.sign == 0 && max(largest, d.hi)-min(least, d.lo) < d.step/2 {
		return d.span
	}
	return 0
}

func (d *byChanges) pass(last []float64, c *block.Clock, _ int) {
	d.rest = 0
	d.remember(last, c)
}

func (d *byChanges) search(v []float64, c *block.Clock) {
	d.from, d.c = len(d.w), c
	d.w = append(d.w, v...)
	w, span, step := d.w, d.span, d.step
	for i := max(d.from, span); i < len(w); i++ {
		change := w[i] - w[i-span]
		size := math.Abs(change)
		if size < step/2 && d.sign == 0 { // as most are
			d.rest = 0
			continue
		}
		if size < step {
			if d.sign != 0 {
				d.finish()
			}
			if size < step/2 {
				d.rest = 0
			}
			continue
		}
		s := math.Copysign(1, change)
		if d.sign != 0 && s != d.sign {
			d.finish()
		}
		if s == d.rest {
			continue
		}
		if d.sign == 0 {
			d.sign, d.best = s, 0
		}
		if size > d.best {
			d.best, d.bestI = size, i
		}
	}
	d.timeStep()
	d.w, d.c = d.w[:d.from], nil
	d.remember(v, c)
}

// timeStep times the greatest change so far, while its samples are at hand.
func (d *byChanges) timeStep() {
	if d.bestI > 0 {
		d.at, d.bestI = d.half(d.bestI), 0
	}
}

// time is the instant of sample j of w.
func (d *byChanges) time(j int) block.Second {
	if j < d.from {
		return d.t[j]
	}
	return d.c.At(j - d.from)
}

// half is the last instant within the span before sample i at which the value passes half-way.
func (d *byChanges) half(i int) block.Second {
	mid := d.w[i-d.span]/2 + d.w[i]/2
	for j := i; j > i-d.span; j-- {
		if (d.w[j-1]-mid)*d.sign < 0 && (d.w[j]-mid)*d.sign >= 0 {
			return d.time(j-1) + block.Second(fraction(d.w[j-1], d.w[j], mid))*(d.time(j)-d.time(j-1))
		}
	}
	return d.time(i)
}

// finish ends the step under way.
func (d *byChanges) finish() {
	if d.sign == 0 {
		return
	}
	d.timeStep()
	s := d.sign
	d.sign, d.rest = 0, s
	d.give(d.at, s)
}

// give hands on a step, unless it goes the way of the one before.
func (d *byChanges) give(at block.Second, s float64) {
	if s == d.state {
		*d.repeats++
		return
	}
	at = max(at, d.last)
	kind, found := block.Rise, block.FoundLow
	if s < 0 {
		kind, found = block.Fall, block.FoundHigh
	}
	if d.state == 0 {
		d.emit(block.Edge{At: at, Kind: found})
	}
	d.emit(block.Edge{At: at, Kind: kind})
	d.state, d.last = s, at
}

// remember keeps the last span samples for the next block.
func (d *byChanges) remember(v []float64, c *block.Clock) {
	from := len(v) - d.span
	if from >= 0 {
		d.w, d.t = append(d.w[:0], v[from:]...), d.t[:0]
	} else {
		cut := max(0, len(d.w)-d.span+len(v))
		d.w, d.t = append(append(d.w[:0], d.w[cut:]...), v...), append(d.t[:0], d.t[cut:]...)
	}
	for i := max(0, from); i < len(v); i++ {
		d.t = append(d.t, c.At(i))
	}
	d.lo, d.hi = block.Extremes(d.w)
}
