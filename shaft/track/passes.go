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
	A       quantity.Crank // on the learnt wheel, counting on through all cycles; jumps where the track begins anew
	Vane    int
	Missing int8 // vanes missing before it
	Extra   int8 // extra pulses before it
}

// Passes are the last passes of the shaft, numbered from 0 through the whole recording.
type Passes struct {
	w     *wheel.Wheel
	ring  []Pass
	Head  int64 // passes so far
	First int64 // first pass of this run of the track
	// degrees of the whole cycles up to the last pass: places count from them, since adding step to step would add up
	// what each is
	// rounded by
	base quantity.Crank
}

func newPasses(w *wheel.Wheel) Passes {
	n := 64 // a power of two: a remainder by division would cost more than all else of At
	for n < 5*w.N+16 {
		n *= 2
	}
	return Passes{w: w, ring: make([]Pass, n)}
}

// At is pass i, one of the last len(ring).
func (l *Passes) At(i int64) *Pass { return &l.ring[i&int64(len(l.ring)-1)] }

// kept is the first pass of this run that is still held.
func (l *Passes) kept() int64 { return max(l.First, l.Head-int64(len(l.ring))) }

// point is pass i as a point of a curve.
func (l *Passes) point(i int64) motion.Point { p := l.At(i); return motion.Point{T: p.T, A: p.A} }

// speed is the mean speed from one pass to the next.
func speed(a, b *Pass) quantity.Speed { return motion.Speed(b.A-a.A, b.T-a.T) }

// add appends a pass of vane k.
func (l *Passes) add(t waveform.Second, k int, missing, extra int8) {
	p := Pass{T: t, Vane: k, Missing: missing, Extra: extra}
	if l.Head == l.First { // the track begins: the next cycle after all that was
		l.base = 0
		if l.Head > 0 {
			l.base = quantity.Crank(math.Floor(float64(l.At(l.Head-1).A/motion.Cycle))+2) * motion.Cycle
		}
		p.A = l.base + l.w.Pos[k]
	} else {
		p.A = l.after(l.At(l.Head-1).Vane, k, missing)
	}
	*l.At(l.Head) = p
	l.Head++
}

// after is where vane k stands that comes next after vane from, with so many missing in between.
func (l *Passes) after(from, k int, missing int8) quantity.Crank {
	if k <= from {
		l.base += motion.Cycle
	}
	if l.w.N == 1 {
		l.base += quantity.Crank(missing) * motion.Cycle
	}
	return l.base + l.w.Pos[k]
}

// curve is the angle through passes i and i+1 and those beside them in the same run.
func (l *Passes) curve(i int64) motion.Curve {
	var hold [4]motion.Point
	points := append(hold[:0], l.point(i), l.point(i+1))
	if i+2 < l.Head {
		points = append(points, l.point(i+2))
	}
	if i > l.First {
		points = append(points, l.point(i-1))
	}
	return motion.Through(points...)
}

// renumber moves the count of vanes of the present run by d, and gives how far its first pass moved.
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
	}
	return l.At(lo).A - before
}

// timeAt is when the shaft passed the angle x: between passes still held, else in proportion between two known points.
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
