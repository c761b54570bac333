package estimate

import "math"

// Test is the outcome of a significance test.
type Test struct {
	// Name says which question was put.
	Name string
	// Statistic is the F, chi-square or t found, DOF1 and DOF2 its degrees of freedom.
	Statistic, DOF1, DOF2 float64
	// P is the chance of so large a statistic where nothing is wrong; NaN where the test
	// could not be made.
	P float64
	// Lack is the part of the weighted sum of squares beyond what scatter accounts for: the
	// squared distance between truth and fit, summed over the points. Never negative.
	Lack float64
}

// Made says whether there was enough to test with.
func (t Test) Made() bool { return !math.IsNaN(t.P) }

// PureError is the lack-of-fit F test: the scatter of group means about the fit against
// the scatter of repeats inside the groups. group[i] numbers the group of point i, from 0;
// points of one group share all their columns. u as for the fit (nil: all alike).
//
// F = (SS_lack/(m − p)) / (SS_pure/(n − m)) for m groups, n points, p unknowns. Source:
// NIST/SEMATECH e-Handbook of Statistical Methods 4.4.4.6, any text on regression. Not made
// without repeats, without more groups than unknowns, or where repeats agree to the last digit.
//
// floor is the least that SS_pure/(n − m) is believed to be, in the same scale: repeats read
// to whole degrees agree too well. 0 where there is none.
func PureError(f *Fitted, group []int, u []float64, floor float64) Test {
	t := Test{Name: "pure error", P: math.NaN()}
	m := 0
	for _, g := range group {
		m = max(m, g+1)
	}
	n, p := len(f.Residual), len(f.Coef)
	t.DOF1, t.DOF2 = float64(m-p), float64(n-m)
	if m <= p || n <= m || f.N != n || f.exact {
		return t
	}
	// Within a group the fit is one number, so residuals scatter as the values do.
	weight, mean := make([]float64, m), make([]float64, m)
	w := func(i int) float64 {
		if u == nil {
			return 1
		}
		return 1 / (u[i] * u[i])
	}
	for i, g := range group {
		weight[g] += w(i)
		mean[g] += w(i) * f.Residual[i]
	}
	for g := range mean {
		mean[g] /= weight[g]
	}
	var pure, lack float64
	for i, g := range group {
		d := f.Residual[i] - mean[g]
		pure += w(i) * d * d
	}
	for g := range mean {
		lack += weight[g] * mean[g] * mean[g]
	}
	pure = math.Max(pure, floor*t.DOF2)
	if pure <= 1e-20*(pure+lack) {
		return t
	}
	t.Lack = math.Max(0, lack-t.DOF1*pure/t.DOF2)
	t.Statistic = (lack / t.DOF1) / (pure / t.DOF2)
	t.P = FTail(t.Statistic, t.DOF1, t.DOF2)
	return t
}

// AgainstStated is the chi-square test of the residuals against the stated uncertainties,
// which must be meant as such and not as mere weights.
func AgainstStated(f *Fitted) Test {
	t := Test{Name: "against stated uncertainty", Statistic: f.SS, DOF1: float64(f.DOF), P: math.NaN()}
	if f.DOF >= 1 {
		t.P = ChiSquareTail(f.SS, t.DOF1)
		t.Lack = math.Max(0, f.SS-t.DOF1)
	}
	return t
}

// Curvature asks whether one more column, such as the square of the speed, explains more
// than luck: F = SS_gained / (SS_left/(DOF − 1)) with 1 and DOF − 1 degrees of freedom.
// It needs no repeats and no stated uncertainty, only two points more than unknowns. floor
// is the least that SS_left/(DOF − 1) is believed to be, as in PureError. Not made where
// the points lie on the fit to the last digit.
func Curvature(f *Fitted, columns [][]float64, extra, y, u []float64, floor float64) Test {
	t := Test{Name: "curvature", DOF1: 1, DOF2: float64(f.DOF - 1), P: math.NaN()}
	if f.DOF < 2 || f.exact {
		return t
	}
	wide, err := LeastSquares(append(columns[:len(columns):len(columns)], extra), y, u)
	if err != nil {
		return t
	}
	left := math.Max(wide.SS, floor*t.DOF2)
	t.Lack = math.Max(0, f.SS-wide.SS-left/t.DOF2)
	if left == 0 {
		t.Statistic, t.P = math.Inf(1), 0
		return t
	}
	t.Statistic = math.Max(f.SS-wide.SS, 0) / (left / t.DOF2)
	t.P = FTail(t.Statistic, t.DOF1, t.DOF2)
	return t
}
