package waveform

import (
	"math"
	"slices"
)

// byChanges finds steps: where the value changes over span samples by at least the step. The levels beside a step are the
// values before and after it, so a drooping or drifting baseline does no harm; the edge is timed half-way between them.
type byChanges struct {
	emit    func(Edge)
	span    int
	step    float64
	w       []float64 // the last span samples, and during feed those of the block
	lo, hi  float64   // extremes of the last span samples
	t       []Second  // times of the first
	from    int       // where the block begins in w
	c       *clock    // of the block
	sign    float64   // direction of the step under way; 0 none
	rest    float64   // direction that must come to rest before it counts again
	best    float64   // greatest change of the step under way
	bestI   int       // the sample in w that ends it, whose instant is not yet worked out; 0: none
	at      Second    // its instant
	last    Second    // of the last edge
	state   float64
	repeats *int64 // second steps in the same direction, left out
	leaps   bool   // a leaper: its steps are kept
	steps   []step
	first   []float64 // the last span samples where it began
}

// step is a change of level before it is known what came before it.
type step struct {
	at   Second
	sign float64
}

func newByChanges(step float64, span int, emit func(Edge), repeats *int64) *byChanges {
	return &byChanges{emit: emit, span: span, step: step, repeats: repeats, last: Second(math.Inf(-1)), lo: math.Inf(1), hi: math.Inf(-1)}
}

func (d *byChanges) hold(now Second) Second {
	if len(d.t) > 0 {
		now = min(now, d.t[0])
	}
	if d.sign != 0 {
		now = min(now, d.at)
	}
	return max(now, d.last)
}

// feed: a block that, with the samples before it, spans less than half a step is passed over at the cost of its extremes.
func (d *byChanges) feed(v []float64, c *clock, least, largest float64) {
	if d.calm(least, largest) {
		d.pass(v, c, len(v))
		return
	}
	d.from, d.c = len(d.w), c
	d.w = append(d.w, v...)
	w, span, step := d.w, d.span, d.step
	for i := max(d.from, span); i < len(w); i++ {
		if d.sign == 0 && d.rest == 0 {
			// Hot loop: most samples of a lively block are flat. Passing over them here and timing edges only took a four-channel recording with an edge every 100
			// samples from 2.35 to 1.45 processor seconds a gigabyte.
			now, before := w[i:], w[i-span:]
			before = before[:len(now)]
			k := 0
			for k < len(now) && math.Abs(now[k]-before[k]) < step {
				k++
			}
			if i += k; i == len(w) {
				break
			}
		}
		change := w[i] - w[i-span]
		size := math.Abs(change)
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
	d.settle()
	d.w, d.c = d.w[:d.from], nil
	d.keep(v, c)
}

// settle times the greatest change so far, while its samples are at hand.
func (d *byChanges) settle() {
	if d.bestI > 0 {
		d.at, d.bestI = d.half(d.bestI), 0
	}
}

// time is the instant of sample j of w.
func (d *byChanges) time(j int) Second {
	if j < d.from {
		return d.t[j]
	}
	return d.c.at(j - d.from)
}

func (d *byChanges) tail() int { return d.span }

func (d *byChanges) calm(least, largest float64) bool {
	if d.sign != 0 || largest-least >= d.step/2 {
		return false
	}
	return max(largest, d.hi)-min(least, d.lo) < d.step/2
}

func (d *byChanges) room(least, largest float64) (lo, hi float64) {
	lo, hi = min(least, d.lo), max(largest, d.hi)
	if slack := (0.99*d.step/2 - (hi - lo)) / 2; slack > 0 {
		lo, hi = lo-slack, hi+slack
	}
	return lo, hi
}

func (d *byChanges) pass(tail []float64, c *clock, _ int) {
	d.rest = 0
	d.keep(tail, c)
}

// half is the last instant within the span before sample i at which the value passes half-way.
func (d *byChanges) half(i int) Second {
	mid := d.w[i-d.span]/2 + d.w[i]/2
	for j := i; j > i-d.span; j-- {
		if (d.w[j-1]-mid)*d.sign < 0 && (d.w[j]-mid)*d.sign >= 0 {
			return d.time(j-1) + Second(fraction(d.w[j-1], d.w[j], mid))*(d.time(j)-d.time(j-1))
		}
	}
	return d.time(i)
}

// finish ends the step under way.
func (d *byChanges) finish() {
	d.settle()
	s := d.sign
	d.sign, d.rest = 0, s
	if d.leaps {
		d.steps = append(d.steps, step{d.at, s})
		return
	}
	d.give(d.at, s)
}

// give hands on a step, unless it goes the way of the one before.
func (d *byChanges) give(at Second, s float64) {
	if s == d.state {
		*d.repeats++
		return
	}
	at = max(at, d.last)
	kind, found := Rise, FoundLow
	if s < 0 {
		kind, found = Fall, FoundHigh
	}
	if d.state == 0 {
		d.emit(Edge{At: at, Kind: found})
	}
	d.emit(Edge{At: at, Kind: kind})
	d.state, d.last = s, at
}

func (d *byChanges) apart() leaper {
	return &byChanges{span: d.span, step: d.step, leaps: true, lo: math.Inf(1), hi: math.Inf(-1)}
}

func (d *byChanges) settles(least, largest float64) bool {
	return largest-least < d.step/2
}

func (d *byChanges) begin(tail []float64, c *clock, _ int64, _ float64) {
	d.steps, d.w, d.t = d.steps[:0], d.w[:0], d.t[:0]
	d.sign, d.rest = 0, 0
	d.keep(tail, c)
	d.first = append(d.first[:0], d.w...)
}

func (d *byChanges) adopt(o leaper) bool {
	x, ok := o.(*byChanges)
	if !ok || d.sign != 0 || d.rest != 0 || !slices.Equal(d.w, x.first) {
		return false
	}
	for _, s := range x.steps {
		d.give(s.at, s.sign)
	}
	d.w, d.t = append(d.w[:0], x.w...), append(d.t[:0], x.t...)
	d.lo, d.hi, d.sign, d.rest, d.best, d.at = x.lo, x.hi, x.sign, x.rest, x.best, x.at
	return true
}

// keep leaves the last span samples for the next block.
func (d *byChanges) keep(v []float64, c *clock) {
	if len(v) >= d.span {
		d.w, d.t = d.w[:0], d.t[:0]
		for i := len(v) - d.span; i < len(v); i++ {
			d.w, d.t = append(d.w, v[i]), append(d.t, c.at(i))
		}
	} else {
		for i := range v {
			d.w, d.t = append(d.w, v[i]), append(d.t, c.at(i))
		}
		if cut := len(d.w) - d.span; cut > 0 {
			d.w = append(d.w[:0], d.w[cut:]...)
			d.t = append(d.t[:0], d.t[cut:]...)
		}
	}
	if len(d.w) > 0 {
		d.lo, d.hi = extremes(d.w)
	}
}
