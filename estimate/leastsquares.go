package estimate

import (
	"errors"
	"fmt"
	"math"
)

var (
	// ErrTooFew says that there are fewer points than unknowns.
	ErrTooFew = errors.New("too few points")
	// ErrCollinear says that the points cannot tell the unknowns apart.
	ErrCollinear = errors.New("points cannot tell the unknowns apart")
	// ErrNotUsable says that a value or an uncertainty is not a usable number.
	ErrNotUsable = errors.New("value not usable")
)

// MaxDegree is the highest polynomial that Polynomial fits: beyond it the columns of
// plain powers run too close together for double precision.
const MaxDegree = 6

// Fitted is a weighted least-squares fit y = Σ Coef[j]·column[j].
type Fitted struct {
	Coef []float64
	// Unit is the covariance of Coef for points whose given u is exactly right (or is 1,
	// where none was given): (XᵀWX)⁻¹. Multiply by SD()² where u is known in proportion only.
	Unit [][]float64
	// SS is the sum of squared residuals, each divided by its u².
	SS float64
	// N points, DOF = N − number of unknowns.
	N, DOF int
	// Residual is y minus fit, in y's unit.
	Residual []float64
	// Leverage is how far each point holds the fit by itself, 0…1.
	Leverage []float64

	// The factored problem, kept for Response: Householder vectors and R, by column.
	q     [][]float64
	rdiag []float64
	scale []float64 // column scaling, powers of two
	w     []float64 // 1/u, nil where none was given
	exact bool      // the residuals are nothing but the rounding of the arithmetic
}

// LeastSquares fits y to columns by Householder QR on rows divided by u (one standard
// uncertainty each; nil means all alike). Columns are scaled by powers of two first, so
// rpm beside one does not cost digits.
//
// A point whose u is +Inf knows nothing and keeps its place with no weight; it does not
// count in N. Zero, negative or NaN uncertainties are refused, and so are values that are
// not finite. Checked against the certified values of NIST StRD.
func LeastSquares(columns [][]float64, y, u []float64) (*Fitted, error) {
	p, n := len(columns), len(y)
	if p == 0 || n < p {
		return nil, fmt.Errorf("fit of %d unknowns to %d points: %w; needs at least %d", p, n, ErrTooFew, max(p, 1))
	}
	f := &Fitted{N: n}
	store := make([]float64, (p+3)*n)
	take := func() []float64 {
		s := store[:n:n]
		store = store[n:]
		return s
	}
	if u != nil {
		f.w = take()
		for i, v := range u {
			if !(v > 0) {
				return nil, fmt.Errorf("point %d: uncertainty %v: %w; give one sigma above zero, or leave it out", i+1,
					v, ErrNotUsable)
			}
			f.w[i] = 1 / v
			if f.w[i] == 0 {
				f.N--
			}
		}
	}
	for i, v := range y {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("point %d: value %v: %w; give a finite number", i+1, v, ErrNotUsable)
		}
	}
	if f.N < p {
		return nil, fmt.Errorf("fit of %d unknowns to %d points of known uncertainty: %w; needs at least %d", p, f.N,
			ErrTooFew, p)
	}
	f.DOF = f.N - p
	small := make([]float64, 2*p+p*p)
	f.rdiag, f.scale, small = small[:p], small[p:2*p], small[2*p:]
	f.q = make([][]float64, p)
	for j, col := range columns {
		c := take()
		var top float64
		for i, v := range col[:n] {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("point %d: %v in column %d: %w; give a finite number", i+1, v, j+1, ErrNotUsable)
			}
			top = math.Max(top, math.Abs(v))
		}
		_, e := math.Frexp(top)
		f.scale[j] = math.Ldexp(1, -e)
		for i, v := range col[:n] {
			c[i] = v * f.scale[j]
			if f.w != nil {
				c[i] *= f.w[i]
			}
		}
		f.q[j] = c
	}
	if err := f.factor(); err != nil {
		return nil, err
	}
	f.Coef = f.Response(y)
	f.Residual = take()
	f.finish(columns, y, take())
	f.Unit = f.unitCovariance(small)
	return f, nil
}

// factor turns f.q into Householder vectors below and R above the diagonal.
func (f *Fitted) factor() error {
	p := len(f.q)
	for k := range p {
		ck := f.q[k]
		var before float64 // size of the column before what it shares with the others is taken off
		for i := range ck[:k] {
			before += ck[i] * ck[i]
		}
		var ss float64
		for _, v := range ck[k:] {
			ss += v * v
		}
		norm := math.Sqrt(ss)
		// What is left of the column is rounding only: it says nothing new.
		if !(norm > 1e-13*math.Sqrt(before+ss)) || norm == 0 {
			return fmt.Errorf("unknown %d of %d: %w; spread the points further apart", k+1, p, ErrCollinear)
		}
		if ck[k] < 0 {
			norm = -norm
		}
		for i := k; i < len(ck); i++ {
			ck[i] /= norm
		}
		ck[k]++
		f.rdiag[k] = -norm
		for j := k + 1; j < p; j++ {
			reflect(ck, f.q[j], k)
		}
	}
	return nil
}

// reflect applies the k-th Householder step, kept in h from k on, to v.
func reflect(h, v []float64, k int) {
	var s float64
	for i := k; i < len(h); i++ {
		s += h[i] * v[i]
	}
	s = -s / h[k]
	for i := k; i < len(h); i++ {
		v[i] += s * h[i]
	}
}

// Response is how Coef answers to a change dy of the values: the fit is linear in them.
// It carries an error common to many points (a mark out of place, a tachometer that reads
// high) into the coefficients.
func (f *Fitted) Response(dy []float64) []float64 {
	p := len(f.q)
	v := make([]float64, len(dy)+p)
	out := v[len(dy):]
	v = v[:len(dy)]
	copy(v, dy)
	if f.w != nil {
		for i := range v {
			v[i] *= f.w[i]
		}
	}
	for k := range p {
		reflect(f.q[k], v, k)
	}
	for k := p - 1; k >= 0; k-- {
		s := v[k]
		for j := k + 1; j < p; j++ {
			s -= f.q[j][k] * out[j]
		}
		out[k] = s / f.rdiag[k]
	}
	for j := range out {
		out[j] *= f.scale[j]
	}
	return out
}

// finish fills residuals, their sum of squares and the leverages.
func (f *Fitted) finish(columns [][]float64, y, leverage []float64) {
	var size float64
	for i := range y {
		r := y[i]
		for j, c := range f.Coef {
			r -= c * columns[j][i]
		}
		f.Residual[i] = r
		w := 1.0
		if f.w != nil {
			w = f.w[i]
			r *= w
		}
		f.SS += r * r
		size += y[i] * w * y[i] * w
		leverage[i] = f.spread(func(j int) float64 { return columns[j][i] * w })
	}
	f.Leverage = leverage
	f.exact = f.SS <= 1e-24*size
}

// spread is xᵀ(XᵀWX)⁻¹x = |R⁻ᵀx|² for the row x.
func (f *Fitted) spread(x func(j int) float64) float64 {
	var z [MaxDegree + 2]float64
	zs := z[:0]
	var sum float64
	for k := range f.rdiag {
		s := x(k) * f.scale[k]
		for j := range k {
			s -= f.q[k][j] * zs[j]
		}
		s /= f.rdiag[k]
		zs = append(zs, s)
		sum += s * s
	}
	return sum
}

func (f *Fitted) unitCovariance(store []float64) [][]float64 {
	p := len(f.q)
	// Columns of R⁻¹, then R⁻¹R⁻ᵀ, then the column scaling.
	inv := make([]float64, p*p)
	for c := range p {
		for k := c; k >= 0; k-- {
			s := 0.0
			if k == c {
				s = 1
			}
			for j := k + 1; j <= c; j++ {
				s -= f.q[j][k] * inv[j*p+c]
			}
			inv[k*p+c] = s / f.rdiag[k]
		}
	}
	cov := make([][]float64, p)
	for a := range p {
		cov[a] = store[a*p : (a+1)*p]
		for b := range p {
			var s float64
			for k := max(a, b); k < p; k++ {
				s += inv[a*p+k] * inv[b*p+k]
			}
			cov[a][b] = s * f.scale[a] * f.scale[b]
		}
	}
	return cov
}

// SD is the residual standard deviation √(SS/DOF); in y's unit where no u was given, else
// a factor on the given ones. +Inf where no point is left over to judge by.
func (f *Fitted) SD() float64 {
	if f.DOF < 1 {
		return math.Inf(1)
	}
	return math.Sqrt(f.SS / float64(f.DOF))
}

// SE is the standard uncertainty of each coefficient for residuals scaled by sd.
func (f *Fitted) SE(sd float64) []float64 {
	se := make([]float64, len(f.Coef))
	for j := range se {
		se[j] = sd * math.Sqrt(f.Unit[j][j])
	}
	return se
}

// Correlation is the correlation of coefficients a and b.
func (f *Fitted) Correlation(a, b int) float64 {
	return f.Unit[a][b] / math.Sqrt(f.Unit[a][a]*f.Unit[b][b])
}

// At gives the fit at a row of the columns and its standard uncertainty for residuals
// scaled by sd: √(xᵀ·Unit·x)·sd, the covariance term included.
func (f *Fitted) At(row []float64, sd float64) (value, u float64) {
	for j, c := range f.Coef {
		value += c * row[j]
	}
	return value, sd * math.Sqrt(f.spread(func(j int) float64 { return row[j] }))
}

// Line fits y = Coef[0] + Coef[1]·x.
func Line(x, y, u []float64) (*Fitted, error) { return Polynomial(x, y, u, 1) }

// Proportional fits y = Coef[0]·x, a line through the origin.
func Proportional(x, y, u []float64) (*Fitted, error) {
	if err := sameLength(x, y, u); err != nil {
		return nil, err
	}
	return LeastSquares([][]float64{x}, y, u)
}

// Polynomial fits y = Coef[0] + Coef[1]·x + … + Coef[degree]·x^degree, degree 0…MaxDegree.
func Polynomial(x, y, u []float64, degree int) (*Fitted, error) {
	if degree < 0 || degree > MaxDegree {
		return nil, fmt.Errorf("polynomial of degree %d: %w; fit degree 0 to %d", degree, ErrNotUsable, MaxDegree)
	}
	if err := sameLength(x, y, u); err != nil {
		return nil, err
	}
	n := len(x)
	store := make([]float64, n*(degree+1))
	columns := make([][]float64, degree+1)
	for j := range columns {
		c := store[j*n : (j+1)*n]
		for i := range c {
			if j == 0 {
				c[i] = 1
			} else {
				c[i] = columns[j-1][i] * x[i]
			}
		}
		columns[j] = c
	}
	return LeastSquares(columns, y, u)
}

func sameLength(x, y, u []float64) error {
	if len(x) != len(y) || u != nil && len(u) != len(y) {
		return fmt.Errorf("fit: %d abscissae, %d values, %d uncertainties: %w; give as many of each", len(x), len(y),
			len(u), ErrNotUsable)
	}
	return nil
}
