package estimate

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// NormalQuantile gives z with P(Z ≤ z) = p for the standard normal. NaN outside 0 ≤ p ≤ 1.
func NormalQuantile(p float64) float64 {
	if !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	return distuv.UnitNormal.Quantile(p)
}

// StudentQuantile gives t with P(T ≤ t) = p for nu degrees of freedom, whole or not.
// nu = +Inf is the normal; nu ≤ 0 or p outside 0…1 gives NaN.
func StudentQuantile(p, nu float64) float64 {
	switch {
	case !(p >= 0 && p <= 1) || !(nu > 0):
		return math.NaN()
	case p == 0:
		return math.Inf(-1)
	case p == 1:
		return math.Inf(1)
	case nu > 1e7: // t and z agree beyond the ninth digit
		return NormalQuantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(p)
}

// ChiSquareQuantile gives x with P(X ≤ x) = p for nu > 0 degrees of freedom; NaN outside.
func ChiSquareQuantile(p, nu float64) float64 {
	if !(p >= 0 && p <= 1) || !(nu > 0) || math.IsInf(nu, 1) {
		return math.NaN()
	}
	return distuv.ChiSquared{K: nu}.Quantile(p)
}

// FQuantile gives x with P(F ≤ x) = p for d1, d2 > 0 degrees of freedom; NaN outside.
func FQuantile(p, d1, d2 float64) float64 {
	if !(p >= 0 && p <= 1) || !(d1 > 0) || !(d2 > 0) {
		return math.NaN()
	}
	return distuv.F{D1: d1, D2: d2}.Quantile(p)
}

// StudentTail gives P(|T| > |t|): the chance that so large a t comes by luck alone.
// With x = nu/(nu + t²) it is the regularised incomplete beta I_x(nu/2, 1/2),
// which keeps its digits far out in the tail.
func StudentTail(t, nu float64) float64 {
	switch {
	case math.IsNaN(t) || !(nu > 0):
		return math.NaN()
	case math.IsInf(t, 0):
		return 0
	case nu > 1e7:
		return math.Erfc(math.Abs(t) / math.Sqrt2)
	}
	return mathext.RegIncBeta(nu/2, 0.5, nu/(nu+t*t))
}

// ChiSquareTail gives P(X > x) for nu degrees of freedom.
func ChiSquareTail(x, nu float64) float64 {
	switch {
	case math.IsNaN(x) || !(nu > 0):
		return math.NaN()
	case x <= 0:
		return 1
	case math.IsInf(x, 1):
		return 0
	}
	return mathext.GammaIncRegComp(nu/2, x/2)
}

// FTail gives P(F > x) for d1 and d2 degrees of freedom.
func FTail(x, d1, d2 float64) float64 {
	switch {
	case math.IsNaN(x) || !(d1 > 0) || !(d2 > 0):
		return math.NaN()
	case x <= 0:
		return 1
	case math.IsInf(x, 1):
		return 0
	}
	return mathext.RegIncBeta(d2/2, d1/2, d2/(d2+d1*x))
}

// TFactor is the coverage factor k for a two-sided interval at the given confidence
// (0.95 for 95 %): the t quantile at (1+confidence)/2.
//
// Degrees of freedom that are not whole are cut down to the next lower whole number,
// as JCGM 100 G.4.1 allows and its end-gauge example H.1 does (16.7 becomes 16); at
// least one is kept. That errs on the wide side. Fewer than one degree of freedom, or
// NaN, gives +Inf: no interval.
func TFactor(confidence, nu float64) float64 {
	if math.IsNaN(nu) || nu < 1 {
		return math.Inf(1)
	}
	if !math.IsInf(nu, 1) {
		// A sum of whole numbers may come out a hair low: 4 as 3.9999999999.
		nu = math.Floor(nu + 1e-9)
	}
	return StudentQuantile((1+confidence)/2, nu)
}
