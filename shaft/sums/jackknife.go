package sums

import (
	"math"

	"phasewright/estimate"
)

// Row holds the sums over one stretch of a recording.
type Row[T any] interface {
	*T
	Join(other *T, f float64) // adds f times the other's sums
}

// Stretches cuts a recording into stretches of equally many cycles and keeps one row of sums for each. When all
// mostStretches rows are used, neighbours are joined and a stretch becomes twice as long, so that a recording of any
// length has 32 to 64 full ones once it is long enough. Firings within a stretch may depend on one another; whole
// stretches hardly do, and that is what the jackknife needs.
type Stretches[T any, P Row[T]] struct {
	empty func() T
	size  int // cycles in a full row
	held  int // cycles in the last row
	rows  []T
}

const mostStretches = 64

// NewStretches makes an empty set of stretches; empty makes a row of noughts.
func NewStretches[T any, P Row[T]](empty func() T) *Stretches[T, P] {
	return &Stretches[T, P]{empty: empty, size: 1, rows: []T{empty()}}
}

// Now is the row of the present stretch.
func (g *Stretches[T, P]) Now() P { return P(&g.rows[len(g.rows)-1]) }

// Step says that a cycle is over.
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

// Parts are copies of the rows for which count is not 0. A last row that is less than half full is joined to the one
// before it.
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

// Clone is a copy that shares nothing with g.
func (g *Stretches[T, P]) Clone() *Stretches[T, P] {
	c := *g
	c.rows = make([]T, len(g.rows), mostStretches)
	for i := range g.rows {
		c.rows[i] = g.empty()
		P(&c.rows[i]).Join(&g.rows[i], 1)
	}
	return &c
}

// Total is the sum of all parts.
func Total[T any, P Row[T]](empty func() T, parts []T) T {
	sum := empty()
	for i := range parts {
		P(&sum).Join(&parts[i], 1)
	}
	return sum
}

// Jackknife gives an estimate from all parts, and the covariance of its values from making it again with each of the g
// parts left out in turn (delete-one-group jackknife: Efron and Tibshirani, An Introduction to the Bootstrap, ch. 11):
//
//	cov(a, b) = (g−1)/g · Σᵢ (aᵢ − mean a)·(bᵢ − mean b), aᵢ the estimate without part i
//
// of makes the estimate from sums. ok is false where it cannot. The covariance is nil with fewer than three parts, and
// where the estimate cannot be made with one part left out.
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

// Half is the factor from a standard uncertainty with dof degrees of freedom to half of a 95 % interval (Student's t);
// +Inf below one degree of freedom.
func Half(dof float64) float64 {
	if !(dof >= 1) {
		return math.Inf(1)
	}
	return estimate.TFactor(0.95, dof)
}
