package shaft

import (
	"math"

	"phasewright/estimate"
)

// groups keeps sums over stretches of the recording, one row a stretch of so many cycles. When all rows are used, neighbours are joined and
// stretches become twice as long: 32 to 64 stretches of any recording, in bounded memory. Estimates are then made again without each stretch in
// turn (delete-one-group jackknife: Efron and Tibshirani, An Introduction to the Bootstrap, ch. 11). Firings inside a stretch may depend on one another.
type groups struct {
	width int
	size  int // cycles a row
	held  int // cycles in the last row
	rows  [][]float64
}

const mostGroups = 64

func newGroups(width int) *groups {
	g := &groups{width: width, size: 1}
	g.rows = append(make([][]float64, 0, mostGroups), make([]float64, width))
	return g
}

// row is where sums of the present stretch go.
func (g *groups) row() []float64 { return g.rows[len(g.rows)-1] }

// earlier is where sums of the cycle before the present one go.
func (g *groups) earlier() []float64 {
	if g.held == 0 && len(g.rows) > 1 {
		return g.rows[len(g.rows)-2]
	}
	return g.row()
}

// step tells that a cycle is over.
func (g *groups) step() {
	if g.held++; g.held < g.size {
		return
	}
	g.held = 0
	if len(g.rows) == mostGroups {
		for i := 0; i < mostGroups/2; i++ {
			a, b := g.rows[2*i], g.rows[2*i+1]
			for j := range a {
				a[j] += b[j]
			}
			g.rows[i] = a // row i itself was joined before
		}
		for i := mostGroups / 2; i < mostGroups; i++ {
			g.rows[i] = nil
		}
		g.rows = g.rows[:mostGroups/2]
		g.size *= 2
	}
	g.rows = append(g.rows, make([]float64, g.width))
}

// parts are the rows that hold anything by the counting column, a short last one joined to the one before.
func (g *groups) parts(counting ...int) [][]float64 {
	var out [][]float64
	for i, r := range g.rows {
		n := 0.0
		for _, c := range counting {
			n += r[c]
		}
		if n == 0 {
			continue
		}
		if i == len(g.rows)-1 && len(out) > 0 && g.held*2 < g.size {
			joined := append([]float64(nil), out[len(out)-1]...)
			for j := range joined {
				joined[j] += r[j]
			}
			out[len(out)-1] = joined
			continue
		}
		out = append(out, r)
	}
	return out
}

// jackknife is the estimate over all parts with the covariance of its values; ok is false where it could not be made. Covariance is nil with fewer than three
// parts. An estimate that fails with one part left out makes the covariance nil too.
func jackknife(parts [][]float64, of func(sums []float64) ([]float64, bool)) (value []float64, cov [][]float64, ok bool) {
	if len(parts) == 0 {
		return nil, nil, false
	}
	total := make([]float64, len(parts[0]))
	for _, p := range parts {
		for j, v := range p {
			total[j] += v
		}
	}
	if value, ok = of(total); !ok {
		return nil, nil, false
	}
	g := float64(len(parts))
	if len(parts) < 3 {
		return value, nil, true
	}
	left := make([][]float64, len(parts))
	mean := make([]float64, len(value))
	rest := make([]float64, len(total))
	for i, p := range parts {
		for j := range rest {
			rest[j] = total[j] - p[j]
		}
		v, ok := of(rest)
		if !ok {
			return value, nil, true
		}
		left[i] = append([]float64(nil), v...)
		for j := range mean {
			mean[j] += v[j] / g
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

// Moments of a regression on up to three functions (1, x, z) lie in a row as 11 1x 1z xx xz zz, then y yx yz, then yy: ten sums.
const moments = 10

func addMoments(to []float64, x, z, y float64) {
	m := (*[moments]float64)(to)
	m[0]++
	m[1] += x
	m[2] += z
	m[3] += x * x
	m[4] += x * z
	m[5] += z * z
	m[6] += y
	m[7] += y * x
	m[8] += y * z
	m[9] += y * y
}

// basis says which functions a regression uses.
type basis [3]bool

// solve gives the coefficients of least squares over the functions in use, noughts elsewhere, and the sum of squared residuals.
func solve(m []float64, use basis) (c [3]float64, rss float64, ok bool) {
	var idx [3]int
	n := 0
	for i, u := range use {
		if u {
			idx[n] = i
			n++
		}
	}
	at := func(i, j int) float64 {
		if i > j {
			i, j = j, i
		}
		return m[[3]int{0, 2, 3}[i]+j] // 00 01 02 | 11 12 | 22
	}
	var a [3][4]float64
	for i := range n {
		for j := range n {
			a[i][j] = at(idx[i], idx[j])
		}
		a[i][n] = m[6+idx[i]]
	}
	if m[0] < float64(n) {
		return c, math.NaN(), false
	}
	for i := range n { // Cholesky-like elimination; the matrix is symmetric and not negative
		diag := at(idx[i], idx[i])
		if !(a[i][i] > 1e-11*diag) || diag <= 0 {
			return c, math.NaN(), false
		}
		for r := i + 1; r < n; r++ {
			f := a[r][i] / a[i][i]
			for j := i; j <= n; j++ {
				a[r][j] -= f * a[i][j]
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		v := a[i][n]
		for j := i + 1; j < n; j++ {
			v -= a[i][j] * c[idx[j]]
		}
		c[idx[i]] = v / a[i][i]
	}
	rss = m[9]
	for i := range n {
		rss -= c[idx[i]] * m[6+idx[i]]
	}
	return c, math.Max(rss, 0), true
}

// half is the factor from a standard uncertainty to half a 95 % interval.
func half(dof float64) float64 {
	if !(dof >= 1) {
		return math.Inf(1)
	}
	return estimate.TFactor(0.95, dof)
}
