// Package sums describes many values by few: means, medians, least squares over moments, and the uncertainty of an
// estimate from a recording whose neighbouring values are not independent.
package sums

import (
	"math"
	"slices"

	"phasewright/estimate"
)

// Median is the median of v, which is not changed; NaN of an empty one.
func Median(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return math.NaN()
	}
	w := slices.Clone(v)
	upper := estimate.Nth(w, n/2)
	if n%2 == 1 {
		return upper
	}
	return (slices.Max(w[:n/2]) + upper) / 2
}

// Spread gives the median of v, and 1.4826 times the median distance from it: an estimate of the standard deviation of
// a normal distribution that a few strays do not change (Hampel 1974).
func Spread(v []float64) (middle, sd float64) {
	middle = Median(v)
	w := make([]float64, len(v))
	for i, x := range v {
		w[i] = math.Abs(x - middle)
	}
	return middle, 1.4826 * Median(w)
}

// Mean adds up the mean and the standard deviation of values. It sums distances from the first value and their squares,
// so that little is lost by cancelling: at most n times the rounding of one value, which leaves enough digits for 10⁸
// of them.
type Mean struct {
	N      int64
	first  float64
	s1, s2 float64
}

// Add takes a value.
func (g *Mean) Add(v float64) {
	if g.N == 0 {
		g.first = v
	}
	d := v - g.first
	g.N++
	g.s1 += d
	g.s2 += d * d
}

// Mean is the mean; 0 of nothing.
func (g *Mean) Mean() float64 {
	if g.N == 0 {
		return 0
	}
	return g.first + g.s1/float64(g.N)
}

// Squares is the sum of squared distances from the mean.
func (g *Mean) Squares() float64 {
	if g.N == 0 {
		return 0
	}
	return max(0, g.s2-g.s1*g.s1/float64(g.N))
}

// SD is the standard deviation of single values; 0 of fewer than two.
func (g *Mean) SD() float64 {
	if g.N < 2 {
		return 0
	}
	return math.Sqrt(g.Squares() / float64(g.N-1))
}

// Join adds the values of b.
func (g *Mean) Join(b Mean) {
	switch {
	case b.N == 0:
	case g.N == 0:
		*g = b
	default:
		n, d := float64(b.N), b.first-g.first
		g.N += b.N
		g.s2 += b.s2 + d*(2*b.s1+n*d)
		g.s1 += b.s1 + n*d
	}
}

// Range is a Mean that also knows the least and the largest value.
type Range struct {
	Mean
	Lo, Hi float64
}

// Add takes a value.
func (r *Range) Add(v float64) {
	if r.N == 0 {
		r.Lo, r.Hi = v, v
	}
	r.Lo, r.Hi = min(r.Lo, v), max(r.Hi, v)
	r.Mean.Add(v)
}

// Shifted is the Mean of the same values with d added to each.
func (g Mean) Shifted(d float64) Mean {
	g.first += d
	return g
}
