package track

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

// Pass is an active crank edge that was accepted as a vane passing the pickup.
type Pass struct {
	T       waveform.Second
	A       quantity.Crank // angle, counted on through all cycles; a new run begins at a later cycle
	Vane    int
	Missing int8 // vanes that did not come before it
	Extra   int8 // extra pulses before it
	// Of all but the first of a run: the mean speed since the pass before, and the divided differences of angle over
	// time from the pass before (slope) and from the two before (bend). Several curves go through a pass.
	Speed       quantity.Speed
	slope, bend float64
}

// Passes holds the last passes of the shaft in a ring. They are numbered from 0 through the whole recording. A run is a
// stretch of passes without a gap.
type Passes struct {
	w     *wheel.Wheel
	ring  []Pass
	Head  int64 // number of passes so far; the last one is Head−1
	First int64 // number of the first pass of this run
	// angle at which the cycle of the last pass began. A pass stands at base + its vane's place: to add step to step
	// would add up the rounding of each (TestPlacesDoNotDrift).
	base quantity.Crank
}

func newPasses(w *wheel.Wheel) Passes {
	n := 64 // a power of two: a remainder by division would cost more than all else of At
	for n < 5*w.N+16 {
		n *= 2
	}
	return Passes{w: w, ring: make([]Pass, n)}
}

// At is pass i, which must be one of the last len(ring).
func (l *Passes) At(i int64) *Pass { return &l.ring[i&int64(len(l.ring)-1)] }

// kept is the number of the first pass of this run that is still in the ring.
func (l *Passes) kept() int64 { return max(l.First, l.Head-int64(len(l.ring))) }

// point is pass i as a point of a curve.
func (l *Passes) point(i int64) motion.Point { p := l.At(i); return motion.Point{T: p.T, A: p.A} }

// add appends a pass of vane k.
func (l *Passes) add(t waveform.Second, k int, missing, extra int8) {
	p := l.At(l.Head)
	*p = Pass{T: t, Vane: k, Missing: missing, Extra: extra}
	if l.Head == l.First { // a run begins: at a cycle after all that was
		l.base = 0
		if l.Head > 0 {
			l.base = quantity.Crank(math.Floor(float64(l.At(l.Head-1).A/motion.Cycle))+2) * motion.Cycle
		}
		p.A = l.base + l.w.Pos[k]
	} else {
		p.A = l.after(l.At(l.Head-1).Vane, k, missing)
	}
	l.differ(l.Head)
	l.Head++
}

// differ works out the speed and the divided differences of pass i from the passes of its run before it.
func (l *Passes) differ(i int64) {
	if i == l.First {
		return
	}
	p, before := l.At(i), l.At(i-1)
	p.slope = float64(p.A-before.A) / float64(p.T-before.T)
	p.Speed = motion.Rate(p.slope)
	if i-1 > l.First {
		p.bend = (p.slope - before.slope) / float64(p.T-l.At(i-2).T)
	}
}

// after is the angle of vane k, the next to come after vane from; missing vanes lie between. Where k is not a higher
// number than from, a new cycle has begun.
func (l *Passes) after(from, k int, missing int8) quantity.Crank {
	if k <= from {
		l.base += motion.Cycle
	}
	if l.w.N == 1 {
		l.base += quantity.Crank(missing) * motion.Cycle
	}
	return l.base + l.w.Pos[k]
}

// curve makes x angle against time from pass i to i+1: through both and the pass on either side of them, where the run
// has one.
func (l *Passes) curve(i int64, x *motion.Curve) {
	if i > l.First && i+2 < l.Head { // nearly always
		b, c := l.At(i+1), l.At(i+2)
		x.Newton(l.point(i), b.T, c.T, b.slope, c.bend, (c.bend-b.bend)/float64(c.T-l.At(i-1).T))
		return
	}
	var hold [4]motion.Point
	points := append(hold[:0], l.point(i), l.point(i+1))
	if i+2 < l.Head {
		points = append(points, l.point(i+2))
	}
	if i > l.First {
		points = append(points, l.point(i-1))
	}
	*x = motion.Through(points...)
}

// renumber adds d to the vane numbers of the present run. moved is by how many degrees the first pass of it changed its
// place.
func (l *Passes) renumber(d int) (moved quantity.Crank) {
	lo := l.kept()
	before := l.At(lo).A
	for j := lo; j < l.Head; j++ {
		p := l.At(j)
		p.Vane = (p.Vane + d) % l.w.N
		if j == lo {
			l.base = quantity.Crank(math.Round(float64((before-l.w.Pos[p.Vane])/motion.Cycle))) * motion.Cycle
			p.A = l.base + l.w.Pos[p.Vane]
			continue
		}
		p.A = l.after(l.At(j-1).Vane, p.Vane, p.Missing)
		l.differ(j)
	}
	return l.At(lo).A - before
}

// timeAt is when the shaft passed the angle x, by linear interpolation: between the two passes around x where they are
// still held, else between the points from and to.
func (l *Passes) timeAt(x quantity.Crank, from, to motion.Point) waveform.Second {
	for i := l.Head - 1; i > l.kept(); i-- {
		if p, q := l.At(i-1), l.At(i); p.A <= x && x <= q.A && q.A > p.A {
			return p.T + (q.T-p.T)*waveform.Second((x-p.A)/(q.A-p.A))
		}
	}
	if to.A > from.A {
		return from.T + (to.T-from.T)*waveform.Second((x-from.A)/(to.A-from.A))
	}
	return from.T
}

func (l *Passes) clone() Passes {
	c := *l
	c.ring = slices.Clone(l.ring)
	return c
}
