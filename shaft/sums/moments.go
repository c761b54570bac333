package sums

import "math"

// Moments are the sums that the least-squares fit y = c₀ + c₁·x + c₂·z needs: N is the count, XZ is Σx·z, and so on.
// What x and z are is the caller's: often speed and 1/speed².
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

// Join adds f times the sums of o; f = −1 takes them out again.
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

// Basis says which of the terms c₀, c₁·x and c₂·z a fit uses.
type Basis [3]bool

// Solve gives the least-squares coefficients of the terms in use, nought for the others, and the sum of squared
// residuals. ok is false where there are fewer values than terms, or where the values cannot tell the terms apart (a
// pivot below 1e-11 of its diagonal).
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
	for i := range n { // Gauss elimination; a matrix of moments needs no pivoting
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
