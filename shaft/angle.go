package shaft

import (
	"math"

	"phasewright/engine"
	"phasewright/estimate"
	"phasewright/quantity"
)

const (
	cycle     = float64(engine.CycleDegrees)
	turn      = cycle / 2
	mostVanes = 64 // a wheel with more is none of this trade
)

// degPerRPM turns rpm into crank degrees a second.
const degPerRPM = 6

func crankDegrees(s quantity.Shaft) float64 { return float64(engine.ShaftToCrank(s)) }

// wrap puts a onto 0 ≤ a < period.
func wrap(a, period float64) float64 {
	w := a - period*math.Floor(a/period)
	if w < 0 || w >= period { // rounding at the seam
		w = 0
	}
	return w
}

// near puts a onto −period/2 ≤ a < period/2.
func near(a, period float64) float64 {
	return wrap(a+period/2, period) - period/2
}

// fold is near(a, cycle) for an angle that is no more than a few cycles off: no division.
func fold(a float64) float64 {
	for a >= turn {
		a -= cycle
	}
	for a < -turn {
		a += cycle
	}
	return a
}

// median of v, which it reorders; NaN of nothing.
func median(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return math.NaN()
	}
	m := estimate.Nth(v, n/2)
	if n%2 == 1 {
		return m
	}
	low := v[0]
	for _, x := range v[:n/2] {
		low = math.Max(low, x)
	}
	return (low + m) / 2
}

// spread is 1.4826 times the median distance from the median: the standard deviation of a normal, unmoved by strays.
func spread(v []float64) (middle, sd float64) {
	w := append([]float64(nil), v...)
	middle = median(w)
	for i, x := range v {
		w[i] = math.Abs(x - middle)
	}
	return middle, 1.4826 * median(w)
}

// curve is θ(t) through up to four knots in Newton's form, t counted from the first.
type curve struct {
	x  [3]float64
	c  [4]float64
	t0 float64
}

// newCurve lays the polynomial of degree n−1 through n knots (2 to 4). Exact where θ(t) is of that degree or less: three knots already hold constant
// acceleration.
func newCurve(t, a *[4]float64, n int) curve {
	var p curve
	p.t0 = t[0]
	if n == 4 { // the usual case written out: 31 ns in the loop, 10 so
		t0, t1, t2, t3 := t[0], t[1], t[2], t[3]
		d1, d2, d3 := (a[1]-a[0])/(t1-t0), (a[2]-a[1])/(t2-t1), (a[3]-a[2])/(t3-t2)
		e2, e3 := (d2-d1)/(t2-t0), (d3-d2)/(t3-t1)
		p.c = [4]float64{a[0], d1, e2, (e3 - e2) / (t3 - t0)}
		p.x = [3]float64{0, t1 - t0, t2 - t0}
		return p
	}
	var d [4]float64
	copy(d[:], a[:])
	p.c[0] = d[0]
	for j := 1; j < n; j++ {
		for i := n - 1; i >= j; i-- {
			d[i] = (d[i] - d[i-1]) / (t[i] - t[i-j])
		}
		p.c[j] = d[j]
	}
	for i := range p.x {
		if i < n {
			p.x[i] = t[i] - t[0]
		}
	}
	return p
}

func (p *curve) at(t float64) float64 {
	u := t - p.t0
	return p.c[0] + u*(p.c[1]+(u-p.x[1])*(p.c[2]+(u-p.x[2])*p.c[3]))
}

// mostJerk is the cubic term over one interval, in degrees, beyond which the motion between knots counts as not known well enough to learn from.
const mostJerk = 1.0

// jerk is the size of the cubic term over a time dt: nought at constant acceleration, of the size of the edges' scatter otherwise, and
// large where acceleration changed abruptly.
func (p *curve) jerk(dt float64) float64 { return math.Abs(p.c[3]) * dt * dt * dt }
