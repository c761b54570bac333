package sums

import (
	"math"

	"phasewright/estimate"
)

// Row is what one stretch of a recording adds up to.
type Row[T any] interface {
	*T
	Join(other *T, f float64) // adds f times the other's sums
}

// Stretches keeps sums over stretches of a recording, each so many cycles long. When all rows are used, neighbours are
// joined and stretches become twice as long: 32 to 64 stretches of any recording, in bounded memory. Firings inside a
// stretch may depend on one another; stretches hardly do.
type Stretches[T any, P Row[T]] struct {
	empty func() T
	size  int // cycles a row
	held  int // cycles in the last row
	rows  []T
}

const mostStretches = 64

// NewStretches begins; empty makes a row of noughts.
func NewStretches[T any, P Row[T]](empty func() T) *Stretches[T, P] {
	return &Stretches[T, P]{empty: empty, size: 1, rows: []T{empty()}}
}

// Now is the row of the present stretch.
func (g *Stretches[T, P]) Now() P { return P(&g.rows[len(g.rows)-1]) }

// Step tells that a cycle is over.
func (g *Stretches[T, P]) Step() {
	if g.held++; g.held < g.size {
		return
	}
	g.held = 0
	if len(g.rows) == mostStretches {
		half := make([]T, 0, mostStretches)
		for i := 0; i < mostStretches; i += 2 {
			joined := g.empty()
			P(&joined).Join(&g.rows[i], 1)
			P(&joined).Join(&g.rows[i+1], 1)
			half = append(half, joined)
		}
		g.rows = half
		g.size *= 2
	}
	g.rows = append(g.rows, g.empty())
}

// Parts are the rows that hold anything by count, a short last one joined to the one before. They are copies.
func (g *Stretches[T, P]) Parts(count func(P) float64) []T {
	var out []T
	for i := range g.rows {
		r := P(&g.rows[i])
		if count(r) == 0 {
			continue
		}
		if i == len(g.rows)-1 && len(out) > 0 && g.held*2 < g.size {
			P(&out[len(out)-1]).Join(r, 1)
			continue
		}
		c := g.empty()
		P(&c).Join(r, 1)
		out = append(out, c)
	}
	return out
}

// Clone is a copy that goes its own way.
func (g *Stretches[T, P]) Clone() *Stretches[T, P] {
	c := *g
	c.rows = make([]T, len(g.rows), mostStretches)
	for i := range g.rows {
		c.rows[i] = g.empty()
		P(&c.rows[i]).Join(&g.rows[i], 1)
	}
	return &c
}

// Total joins parts.
func Total[T any, P Row[T]](empty func() T, parts []T) T {
	sum := empty()
	for i := range parts {
		P(&sum).Join(&parts[i], 1)
	}
	return sum
}

// Jackknife is the estimate over all parts with the covariance of its values, from leaving out each part in turn
// (delete-one-group jackknife: Efron and Tibshirani, An Introduction to the Bootstrap, ch. 11). ok is false where the
// estimate cannot be made. The covariance is nil with fewer than three parts, and where the estimate fails with one
// part left out.
func Jackknife[T any, P Row[T]](empty func() T, parts []T, of func(P) ([]float64, bool)) (value []float64,
	cov [][]float64, ok bool) {
	if len(parts) == 0 {
		return nil, nil, false
	}
	total := Total[T, P](empty, parts)
	if value, ok = of(&total); !ok {
		return nil, nil, false
	}
	if len(parts) < 3 {
		return value, nil, true
	}
	g := float64(len(parts))
	left := make([][]float64, len(parts))
	mean := make([]float64, len(value))
	for i := range parts {
		rest := empty()
		P(&rest).Join(&total, 1)
		P(&rest).Join(&parts[i], -1)
		if left[i], ok = of(&rest); !ok {
			return value, nil, true
		}
		for j := range mean {
			mean[j] += left[i][j] / g
		}
	}
	cov = make([][]float64, len(value))
	for a := range cov {
		cov[a] = make([]float64, len(value))
		for b := range cov[a] {
			for _, v := range left {
				cov[a][b] += (v[a] - mean[a]) * (v[b] - mean[b])
			}
			cov[a][b] *= (g - 1) / g
		}
	}
	return value, cov, true
}

// Half is the factor from a standard uncertainty with so many degrees of freedom to half of a 95 % interval; +Inf
// below one.
func Half(dof float64) float64 {
	if !(dof >= 1) {
		return math.Inf(1)
	}
	return estimate.TFactor(0.95, dof)
}
