package readings

import "math"

// next is the speed of the reading that would shrink the largest uncertainty over the speed
// range most, one more reading of usual u added (a step of a G-optimal design: Atkinson,
// Donev and Tobias, Optimum Experimental Designs). Candidates are idle, rounded up to 50 rpm,
// and whole hundreds up to the highest speed allowed for a reading.
//
// With x the row of the new reading, C the covariance and a the row judged, the variance
// falls from aCa to aCa − (aCx)²/(u² + xCx) (Sherman and Morrison). The largest over the
// range lies at idle or redline, since aCa is a parabola in the speed.
func (m *model) next(set Settings) float64 {
	idle, redline, top := float64(set.Idle), float64(set.Redline), float64(set.fastest())
	first := math.Min(math.Ceil(idle/50)*50, top)
	if m.fit == nil {
		return first // any reading at all: the quiet one
	}
	best, lowest := first, math.Inf(1)
	for n := first; n <= top; n = math.Floor(n/100)*100 + 100 {
		largest := math.Max(m.varianceWith(n, idle), m.varianceWith(n, redline))
		if largest < lowest*(1-1e-9) {
			best, lowest = n, largest
		}
	}
	return best
}

// varianceWith is the variance of the error at speed at, in units of the scatter, once one
// more reading at speed n is in.
func (m *model) varianceWith(n, at float64) float64 {
	u2 := m.typical * m.typical
	C := m.fit.Unit
	if !m.slope {
		// All readings at one speed x₀ with variance C₀₀ there: a line through two points.
		x0 := m.soleSpeed(m.read[0])
		if n == x0 {
			return math.Inf(1)
		}
		return ((at-n)*(at-n)*C[0][0] + (at-x0)*(at-x0)*u2) / ((x0 - n) * (x0 - n))
	}
	q, a := perMicrosecond*n, perMicrosecond*at
	aCa := C[0][0] + 2*a*C[0][1] + a*a*C[1][1]
	aCx := C[0][0] + (a+q)*C[0][1] + a*q*C[1][1]
	xCx := C[0][0] + 2*q*C[0][1] + q*q*C[1][1]
	return aCa - aCx*aCx/(u2+xCx)
}
