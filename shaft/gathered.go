package shaft

import "math"

// gathered is the mean and the standard deviation of values, by sums of their distances from the first and of its squares. The first is among them, so
// that what cancels is never more than n times what is left: ample for 10⁸ values in float64. No division a value: a firing adds to a dozen of these, and with
// running means (Welford) a quarter of the time that an edge takes went here.
type gathered struct {
	n      int64
	first  float64
	s1, s2 float64
}

func (g *gathered) add(v float64) {
	if g.n == 0 {
		g.first = v
	}
	d := v - g.first
	g.n++
	g.s1 += d
	g.s2 += d * d
}

// mean is 0 of nothing.
func (g *gathered) mean() float64 {
	if g.n == 0 {
		return 0
	}
	return g.first + g.s1/float64(g.n)
}

// squares is the sum of squared distances from the mean.
func (g *gathered) squares() float64 {
	if g.n == 0 {
		return 0
	}
	return max(0, g.s2-g.s1*g.s1/float64(g.n))
}

func (g *gathered) sd() float64 {
	if g.n < 2 {
		return 0
	}
	return math.Sqrt(g.squares() / float64(g.n-1))
}

// join adds what b gathered.
func (g *gathered) join(b gathered) {
	switch {
	case b.n == 0:
	case g.n == 0:
		*g = b
	default:
		n, d := float64(b.n), b.first-g.first
		g.n += b.n
		g.s2 += b.s2 + d*(2*b.s1+n*d)
		g.s1 += b.s1 + n*d
	}
}

// ranged is gathered with the least and the largest value.
type ranged struct {
	gathered
	lo, hi float64
}

func (r *ranged) add(v float64) {
	if r.n == 0 {
		r.lo, r.hi = v, v
	}
	r.lo, r.hi = min(r.lo, v), max(r.hi, v)
	r.gathered.add(v)
}
