package estimate

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// NormalQuantile gives z with P(Z ≤ z) = p for the standard normal. NaN outside 0 ≤ p ≤ 1.
func NormalQuantile(p float64) float64 {
	if !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	return mathext.NormalQuantile(p)
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
	case p < 0.5:
		return -StudentQuantile(1-p, nu)
	case nu > 200:
		return studentLarge(p, nu)
	case nu == math.Floor(nu) && p < 1-1e-10:
		return studentWhole(p, int(nu))
	}
	// 2·P(T > t) = I_x(ν/2, 1/2) with x = ν/(ν + t²): Abramowitz and Stegun, 26.7.1 and 26.5.27.
	x := mathext.InvRegIncBeta(nu/2, 0.5, 2*(1-p))
	return math.Sqrt(nu * (1 - x) / x)
}

// studentLarge expands t in 1/ν about the normal quantile: Abramowitz and Stegun, Handbook of
// Mathematical Functions, 26.7.5. Beyond 200 degrees of freedom it is good to ten digits for
// the tails in use here.
func studentLarge(p, nu float64) float64 {
	x := NormalQuantile(p)
	y := x * x
	g1 := x * (y + 1) / 4
	g2 := x * ((5*y+16)*y + 3) / 96
	g3 := x * (((3*y+19)*y+17)*y - 15) / 384
	g4 := x * ((((79*y+776)*y+1482)*y-1920)*y - 945) / 92160
	return x + (g1+(g2+(g3+g4/nu)/nu)/nu)/nu
}

// studentWhole inverts the closed form for whole degrees of freedom by Newton steps, for
// 0.5 ≤ p. A general inverse of the incomplete beta takes forty microseconds, this less than
// one; a fit asks for a few.
func studentWhole(p float64, nu int) float64 {
	n := float64(nu)
	switch nu {
	case 1:
		return math.Tan(math.Pi * (p - 0.5))
	case 2:
		a := 4 * p * (1 - p)
		return 2 * (p - 0.5) * math.Sqrt(2/a)
	}
	lgHalf, _ := math.Lgamma(n / 2)
	lgMore, _ := math.Lgamma((n + 1) / 2)
	peak := math.Exp(lgMore-lgHalf) / math.Sqrt(n*math.Pi)
	least := NormalQuantile(p) // t is never nearer than z
	t := math.Max(least, studentLarge(p, n))
	want := 2 * (1 - p)
	for range 60 {
		density := peak * math.Pow(1+t*t/n, -(n+1)/2)
		step := (want - wholeTail(t, nu)) / (2 * density)
		// The tail is convex, so a step from the right may overshoot; from the left none does.
		next := math.Max(t-step, least)
		if math.Abs(next-t) <= 1e-9*t { // Newton doubles the digits: the next step is in the last
			return next
		}
		t = next
	}
	return t
}

// wholeTail is P(|T| > t) for t ≥ 0: Abramowitz and Stegun 26.7.3 and 26.7.4.
func wholeTail(t float64, nu int) float64 {
	n := float64(nu)
	c2 := n / (n + t*t) // cos² of θ = atan(t/√ν)
	sin := t / math.Sqrt(n+t*t)
	term, sum := 1.0, 1.0
	if nu%2 == 0 {
		for j := 2; j <= nu-2; j += 2 {
			term *= c2 * float64(j-1) / float64(j)
			sum += term
		}
		return 1 - sin*sum
	}
	for j := 3; j <= nu-2; j += 2 {
		term *= c2 * float64(j-1) / float64(j)
		sum += term
	}
	if nu == 1 {
		sum = 0
	}
	return 1 - 2/math.Pi*(math.Atan(t/math.Sqrt(n))+sin*math.Sqrt(c2)*sum)
}

// ChiSquareQuantile gives x with P(X ≤ x) = p for nu > 0 degrees of freedom; NaN outside.
func ChiSquareQuantile(p, nu float64) float64 {
	if !(p >= 0 && p <= 1) || !(nu > 0) || math.IsInf(nu, 1) {
		return math.NaN()
	}
	return 2 * mathext.GammaIncRegInv(nu/2, p) // Abramowitz and Stegun, 26.4.19
}

// FQuantile gives x with P(F ≤ x) = p for d1, d2 > 0 degrees of freedom; NaN outside.
func FQuantile(p, d1, d2 float64) float64 {
	if !(p >= 0 && p <= 1) || !(d1 > 0) || !(d2 > 0) {
		return math.NaN()
	}
	y := mathext.InvRegIncBeta(d1/2, d2/2, p) // Abramowitz and Stegun, 26.6.2
	return d2 * y / (d1 * (1 - y))
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
