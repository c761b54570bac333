package sums

import "math"

// Moments are the sums that a regression of y on up to three functions 1, x, z needs.
type Moments struct {
	N, X, Z, XX, XZ, ZZ float64
	Y, YX, YZ, YY       float64
}

// Add takes one value of y with its x and z.
func (m *Moments) Add(x, z, y float64) {
	m.N++
	m.X += x
	m.Z += z
	m.XX += x * x
	m.XZ += x * z
	m.ZZ += z * z
	m.Y += y
	m.YX += y * x
	m.YZ += y * z
	m.YY += y * y
}

// Join adds f times another's sums; f = −1 takes them out again.
func (m *Moments) Join(o *Moments, f float64) {
	m.N += f * o.N
	m.X += f * o.X
	m.Z += f * o.Z
	m.XX += f * o.XX
	m.XZ += f * o.XZ
	m.ZZ += f * o.ZZ
	m.Y += f * o.Y
	m.YX += f * o.YX
	m.YZ += f * o.YZ
	m.YY += f * o.YY
}

// Basis says which of the functions 1, x, z a regression uses.
type Basis [3]bool

// Solve gives the coefficients of least squares over the functions in use, noughts elsewhere, and the sum of squared
// residuals. ok is false where there are too few values or the functions cannot be told apart.
func (m *Moments) Solve(use Basis) (c [3]float64, rss float64, ok bool) {
	full := [3][4]float64{{m.N, m.X, m.Z, m.Y}, {m.X, m.XX, m.XZ, m.YX}, {m.Z, m.XZ, m.ZZ, m.YZ}}
	var idx []int
	for i, u := range use {
		if u {
			idx = append(idx, i)
		}
	}
	n := len(idx)
	if m.N < float64(n) {
		return c, math.NaN(), false
	}
	var a [3][4]float64
	for i, p := range idx {
		for j, q := range idx {
			a[i][j] = full[p][q]
		}
		a[i][n] = full[p][3]
	}
	for i := range n { // elimination; the matrix is symmetric and not negative
		diag := full[idx[i]][idx[i]]
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
	rss = m.YY
	for _, p := range idx {
		rss -= c[p] * full[p][3]
	}
	return c, math.Max(rss, 0), true
}
