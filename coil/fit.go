package coil

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// ChargePoint is a measured point of a charging curve.
type ChargePoint struct {
	Time    quantity.Time
	Current quantity.Current
}

// Fitted is a curve found from measured points of a charge.
type Fitted struct {
	Iron  Iron
	RMS   quantity.Current // root mean square of measured − fitted, by degrees of freedom; how far to trust the curve
	Worst quantity.Current // largest |measured − fitted|
	At    quantity.Time    // where the largest stands
}

// Fit finds the curve whose charge runs closest, by least squares of current, to points measured from rest through the given drive and
// resistance. Three points give L0/(1+(i/Is)²); six and more may give the Floored shape instead, where the corrected Akaike criterion says that its third
// number earns its keep. The curve is Known up to the highest measured current.
func Fit(points []ChargePoint, drive quantity.Voltage, resistance quantity.Resistance) (Fitted, error) {
	if len(points) > 0 && points[0] == (ChargePoint{}) {
		points = points[1:] // the origin says nothing
	}
	if err := checkCharge(points, drive, resistance); err != nil {
		return Fitted{}, err
	}
	highest := points[len(points)-1].Current
	best := fitShape(points, drive, resistance, 2, []float64{-0.7, 0.3, 2}, func(p []float64) Iron {
		return &Saturating{L0: quantity.Inductance(math.Exp(p[0])), Is: highest * quantity.Current(math.Exp(p[1])), known: highest, fitted: true}
	})
	if len(points) >= 6 && best.iron != nil {
		near := math.Log(float64(best.iron.(*Saturating).Is / highest))
		floored := fitShape(points, drive, resistance, 3, []float64{min(near, 2)}, func(p []float64) Iron {
			l0 := quantity.Inductance(math.Exp(p[0]))
			return &Floored{L0: l0, Ls: l0 / quantity.Inductance(1+math.Exp(-p[2])), Is: highest * quantity.Current(math.Exp(p[1])), known: highest, fitted: true}
		})
		if floored.score < best.score {
			best = floored
		}
	}
	if best.iron == nil {
		return Fitted{}, quantity.Bad("coil.charge", "check that the points are from one charge from rest, and the supply and resistance beside them",
			"no charging curve runs through the points")
	}
	out := Fitted{Iron: best.iron, RMS: quantity.Current(best.rms)}
	c := Circuit{drive, resistance, best.iron}
	for _, p := range points {
		if d := quantity.Abs(p.Current - c.CurrentAt(p.Time)); d > out.Worst {
			out.Worst, out.At = d, p.Time
		}
	}
	switch s := out.Iron.(type) {
	case *Saturating:
		s.spreads = out.RMS
	case *Floored:
		s.spreads = out.RMS
	}
	return out, nil
}

func checkCharge(points []ChargePoint, drive quantity.Voltage, resistance quantity.Resistance) error {
	const field, remedy = "coil.charge", "write at least three points {time, current} of one charge from rest, both rising"
	if !(drive > 0) || !(resistance > 0) {
		return quantity.Bad(field, "give the supply the points were taken at and the resistance", "drive %v through %v", drive, resistance)
	}
	if len(points) < 3 {
		return quantity.Bad(field, remedy, "needs at least 3 points after the start, has %d", len(points))
	}
	end := quantity.Current(float64(drive) / float64(resistance))
	var from ChargePoint
	for k, p := range points {
		at := fmt.Sprintf("%s[%d]", field, k+1)
		if !(p.Time > from.Time) || !(p.Current > from.Current) || math.IsInf(float64(p.Time), 0) {
			return quantity.Bad(at, remedy, "%v at %v does not rise past %v at %v", p.Current, p.Time, from.Current, from.Time)
		}
		if p.Current >= end {
			return quantity.Bad(at, "check coil.resistance, coil.wiring and the supply the points were taken at",
				"%v was measured, but %v through %v can never pass %v", p.Current, drive, resistance, end)
		}
		from = p
	}
	return nil
}

type shape struct {
	iron       Iron
	rms, score float64
}

// fitShape runs Levenberg–Marquardt over n logarithms of parameters: p[0] of L0, p[1] of Is over the highest current, from each of the starts,
// and p[2] the logit of Ls/L0.
func fitShape(points []ChargePoint, drive quantity.Voltage, resistance quantity.Resistance, n int, starts []float64, curve func([]float64) Iron) shape {
	guess := math.Log(firstInductance(points, drive, resistance))
	best := shape{score: math.Inf(1)}
	bestSum := math.Inf(1)
	for _, start := range starts {
		at := []float64{guess, start, -2}[:n]
		residuals := func(q []float64) []float64 {
			for k, lim := range [][2]float64{{-25, 5}, {-4, 8}, {-9, 5}}[:len(q)] {
				q[k] = clamp(q[k], lim[0], lim[1])
			}
			c := Circuit{drive, resistance, curve(q)}
			out := make([]float64, len(points))
			for k, pt := range points {
				out[k] = float64(c.CurrentAt(pt.Time) - pt.Current)
			}
			return out
		}
		at, sum := levenberg(at, residuals)
		if sum < bestSum {
			bestSum, best.iron = sum, curve(at)
		}
	}
	m, k := float64(len(points)), float64(n+1) // the spread is a parameter too
	best.rms = math.Sqrt(bestSum / (m - float64(n)))
	best.score = m*math.Log(max(bestSum, 1e-30)/m) + 2*k
	if m-k-1 > 0 {
		best.score += 2 * k * (k + 1) / (m - k - 1)
	} else if n > 2 {
		best.score = math.Inf(1)
	}
	return best
}

// firstInductance is L from the first point, taken as unsaturated.
func firstInductance(points []ChargePoint, drive quantity.Voltage, resistance quantity.Resistance) float64 {
	p := points[0]
	decay := -math.Log1p(-float64(resistance) * float64(p.Current) / float64(drive))
	return float64(resistance) * p.Time.Seconds() / decay
}

// levenberg minimises the sum of squares of residuals from p; it gives the place and the sum.
func levenberg(p []float64, residuals func([]float64) []float64) ([]float64, float64) {
	r := residuals(p)
	sum, damp := dot(r, r), 1e-3
	n := len(p)
	for range 60 {
		jac := make([][]float64, n) // one row a parameter
		for k := range p {
			q := append([]float64(nil), p...)
			h := 1e-6
			if q[k]+h > 4.9 { // stay off the upper limits
				h = -h
			}
			q[k] += h
			moved := residuals(q)
			jac[k] = make([]float64, len(r))
			for m := range r {
				jac[k][m] = (moved[m] - r[m]) / h
			}
		}
		gained := 0.0
		for range 12 {
			a := make([][]float64, n)
			for k := range a {
				a[k] = make([]float64, n+1)
				for m := range n {
					a[k][m] = dot(jac[k], jac[m])
				}
				a[k][k] += damp*a[k][k] + 1e-18
				a[k][n] = -dot(jac[k], r)
			}
			q := append([]float64(nil), p...)
			for k, d := range eliminate(a) {
				q[k] += clamp(d, -1, 1)
			}
			tried := residuals(q)
			if s := dot(tried, tried); s < sum {
				gained = (sum - s) / sum
				p, r, sum, damp = q, tried, s, damp/5
				break
			}
			damp *= 5
		}
		if gained < 1e-9 {
			break
		}
	}
	return p, sum
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for k := range a {
		sum += a[k] * b[k]
	}
	return sum
}

// eliminate solves the symmetric positive system of n rows with the right side in the last column.
func eliminate(a [][]float64) []float64 {
	n := len(a)
	for k := range n {
		for m := k + 1; m < n; m++ {
			f := a[m][k] / a[k][k]
			for j := k; j <= n; j++ {
				a[m][j] -= f * a[k][j]
			}
		}
	}
	x := make([]float64, n)
	for k := n - 1; k >= 0; k-- {
		x[k] = a[k][n]
		for j := k + 1; j < n; j++ {
			x[k] -= a[k][j] * x[j]
		}
		x[k] /= a[k][k]
	}
	return x
}
