package shaft

import "math"

// knot is an active crank edge that has been accepted as a vane.
type knot struct {
	t     float64
	a     float64 // crank degrees on the learnt wheel, counting on through all cycles; jumps where the track begins anew
	k     int32
	miss  int8 // vanes missing before it
	extra int8 // extra pulses before it

	// divided differences of angle against time with the knots before it in this run of the track, as far as there are any
	v, bend, third float64 // degrees a second, a second squared, a second cubed
}

// trail is the last knots, numbered from 0 through the whole recording.
type trail struct {
	w     *wheel
	ring  []knot
	mask  int64
	head  int64 // knots so far
	first int64 // first knot of this run of the track
	// degrees of the whole cycles up to the last knot: places are counted from them, since adding step to step would add up what each is rounded by
	base float64
}

// after is where vane k stands that comes next after vane from, with so many missing in between.
func (l *trail) after(from, k int32, miss int8) float64 {
	if k <= from {
		l.base += cycle
	}
	if l.w.n == 1 {
		l.base += float64(miss) * cycle
	}
	return l.base + l.w.pos[k]
}

func newTrail(w *wheel) trail {
	size := int64(64)
	for size < int64(5*w.n+16) {
		size *= 2
	}
	return trail{w: w, ring: make([]knot, size), mask: size - 1}
}

func (l *trail) knot(i int64) *knot { return &l.ring[i&l.mask] }

// rpm is the mean speed from one knot to the next.
func rpm(a, b *knot) float64 { return (b.a - a.a) / (b.t - a.t) / degPerRPM }

// differ makes the divided differences of knot i. The three divisions do not wait for one another.
func (l *trail) differ(i int64) {
	k, have := l.knot(i), i-l.first
	if have < 3 {
		l.differEarly(k, i, have)
		return
	}
	p, q, r := l.knot(i-1), l.knot(i-2), l.knot(i-3)
	a, b, c := 1/(k.t-p.t), 1/(k.t-q.t), 1/(k.t-r.t)
	v := (k.a - p.a) * a
	bend := (v - p.v) * b
	k.v, k.bend, k.third = v, bend, (bend-p.bend)*c
}

func (l *trail) differEarly(k *knot, i, have int64) {
	k.v, k.bend, k.third = 0, 0, 0
	if have >= 1 {
		p := l.knot(i - 1)
		if k.v = (k.a - p.a) / (k.t - p.t); have >= 2 {
			k.bend = (k.v - p.v) / (k.t - l.knot(i-2).t)
		}
	}
}

// between lays the curve through knots i and i+1 and those beside them in the same run, as newCurve does.
func (l *trail) between(c *curve, i int64) {
	a, b := l.knot(i), l.knot(i+1)
	c.t0 = a.t
	c.c = [4]float64{a.a, b.v, 0, 0}
	c.x = [3]float64{0, b.t - a.t, 0}
	if i+2 < l.head {
		n := l.knot(i + 2)
		c.c[2] = n.bend
		if i > l.first {
			c.c[3] = n.third
		}
	}
	if i > l.first {
		c.c[2], c.x[2] = b.bend, l.knot(i-1).t-a.t
	}
}

// renumber moves the count of vanes of the present run by d, and gives how far its first knot moved.
func (l *trail) renumber(d int) (moved float64) {
	lo := max(l.first, l.head-int64(len(l.ring)))
	before := l.knot(lo).a
	for j := lo; j < l.head; j++ {
		q := l.knot(j)
		q.k = int32((int(q.k) + d) % l.w.n)
		if j == lo {
			l.base = math.Round((before-l.w.pos[q.k])/cycle) * cycle
			q.a = l.base + l.w.pos[q.k]
			continue
		}
		q.a = l.after(l.knot(j-1).k, q.k, q.miss)
	}
	return l.knot(lo).a - before
}

// timeAt is when the shaft passed the angle x: between knots still held, else in proportion between two known points.
func (l *trail) timeAt(x, a0, t0, a1, t1 float64) float64 {
	for i := l.head - 1; i > l.first && i > l.head-int64(len(l.ring)); i-- {
		if p, q := l.knot(i-1), l.knot(i); p.a <= x && x <= q.a && q.a > p.a {
			return p.t + (q.t-p.t)*(x-p.a)/(q.a-p.a)
		}
	}
	if a1 > a0 {
		return t0 + (t1-t0)*(x-a0)/(a1-a0)
	}
	return t0
}

// beacon is an event that comes once in a period at a fixed place, such as the mark. Places count on through all cycles.
type beacon struct {
	period, at, tol float64
	ch              int
	log             *log
	seen            bool
	last            float64 // period number of the last one met
	lastT, lastA    float64
}

func (b *beacon) reset() { b.seen = false }

// end notes those left out up to the end of the run, and forgets the series.
func (b *beacon) end(l *trail) {
	if b.seen && l.head > l.first {
		k := l.knot(l.head - 1)
		b.absent(l, math.Floor((k.a-b.tol-b.at)/b.period)+1, k.a, k.t)
	}
	b.seen = false
}

// meet takes an event at the angle a: it gives the distance from its place and whether it is one of the series. Ones left out and ones
// that do not belong are noted.
func (b *beacon) meet(l *trail, a, t float64) (off float64, fits bool) {
	q := math.Round((a - b.at) / b.period)
	off = a - b.at - q*b.period
	if math.Abs(off) > b.tol || b.seen && q <= b.last {
		b.log.add(ExtraPulse, t, b.ch)
		return off, false
	}
	if b.seen {
		b.absent(l, q, a, t)
	}
	b.seen, b.last, b.lastT, b.lastA = true, q, t, a
	return off, true
}

// absent notes those between the last one met and number q.
func (b *beacon) absent(l *trail, q, a, t float64) {
	gone := int(q-b.last) - 1
	if gone <= 0 {
		return
	}
	when := func(j int) float64 {
		return l.timeAt(b.at+(b.last+float64(j))*b.period, b.lastA, b.lastT, a, t)
	}
	if gone >= 3 {
		b.log.add(Dropout, when(1), b.ch)
		return
	}
	for j := 1; j <= gone; j++ {
		b.log.add(MissingPulse, when(j), b.ch)
	}
}
