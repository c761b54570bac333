// Package motion says where a turning shaft was at an instant: places on its cycle, speeds, and the curve of angle
// against time through a few known points.
//
// Angles are crank degrees in running direction, times are seconds on the recording's clock, speeds are rpm of the
// crank.
package motion

import (
	"math"

	"phasewright/engine"
	"phasewright/quantity"
	"phasewright/waveform"
)

// The periods of an engine's working cycle and of its crank.
const (
	Cycle = engine.CycleDegrees
	Turn  = Cycle / 2
)

// perRPM turns rpm into crank degrees a second.
const perRPM = 6

// Wrap puts a onto 0 ≤ a < period.
func Wrap(a, period quantity.Crank) quantity.Crank {
	w := a - period*quantity.Crank(math.Floor(float64(a/period)))
	if w < 0 || w >= period { // rounding at the seam
		return 0
	}
	return w
}

// Near puts a onto −period/2 ≤ a < period/2: the shorter way from nought to a around the period, late positive.
func Near(a, period quantity.Crank) quantity.Crank { return Wrap(a+period/2, period) - period/2 }

// Speed is the mean speed of a crank that turned by angle in dt.
func Speed(angle quantity.Crank, dt waveform.Second) quantity.Speed {
	return quantity.Speed(float64(angle) / float64(dt) / perRPM)
}

// Rate is the speed of a crank that turns by so many degrees a second.
func Rate(slope float64) quantity.Speed { return quantity.Speed(slope / perRPM) }

// Angle is how far the crank turns in dt at the speed n.
func Angle(n quantity.Speed, dt waveform.Second) quantity.Crank {
	return quantity.Crank(float64(n) * perRPM * float64(dt))
}

// PerMicrosecond is the timing error in degrees for each rpm and each µs of delay left over: −6·10⁻⁶, since late is
// negative.
const PerMicrosecond = -perRPM * 1e-6

// Point is the angle A of the shaft at the time T.
type Point struct {
	T waveform.Second
	A quantity.Crank
}

// Curve is angle against time: the polynomial through two to four points, in Newton's form with divided differences
// (any text on interpolation). Three points follow a constant acceleration exactly, four one that changes steadily.
type Curve struct {
	t0 waveform.Second
	x  [3]float64 // seconds from the first point on to each but the last
	c  [4]float64 // divided differences
}

// Through lays the polynomial of lowest degree through two to four points with different times.
func Through(points ...Point) (c Curve) {
	p := points
	c.t0 = p[0].T
	d1 := slope(p[0], p[1])
	c.c[0], c.c[1] = float64(p[0].A), d1
	c.x[1] = float64(p[1].T - c.t0)
	if len(p) == 2 {
		return c
	}
	d2 := slope(p[1], p[2])
	e2 := (d2 - d1) / float64(p[2].T-p[0].T)
	c.c[2], c.x[2] = e2, float64(p[2].T-c.t0)
	if len(p) == 3 {
		return c
	}
	e3 := (slope(p[2], p[3]) - d2) / float64(p[3].T-p[1].T)
	c.c[3] = (e3 - e2) / float64(p[3].T-p[0].T)
	return c
}

// Newton makes c what Through gives for four points whose divided differences are known: those of the first two, of the
// first three, and of all. Second and third are the times of those points; where the fourth stands shows in the last
// difference.
func (c *Curve) Newton(first Point, second, third waveform.Second, d1, d2, d3 float64) {
	c.t0 = first.T
	c.x[0], c.x[1], c.x[2] = 0, float64(second-first.T), float64(third-first.T)
	c.c[0], c.c[1], c.c[2], c.c[3] = float64(first.A), d1, d2, d3
}

// Lagrange gives the weights of four values at the places x, by which the cubic through them stands at place nought.
func Lagrange(x [4]float64) (weights [4]float64) {
	for i := range x {
		weights[i] = 1
		for j := range x {
			if j != i {
				weights[i] *= x[j] / (x[j] - x[i])
			}
		}
	}
	return weights
}

func slope(a, b Point) float64 { return float64(b.A-a.A) / float64(b.T-a.T) }

// At is the angle at t.
func (c *Curve) At(t waveform.Second) quantity.Crank {
	u := float64(t - c.t0)
	return quantity.Crank(c.c[0] + u*(c.c[1]+(u-c.x[1])*(c.c[2]+(u-c.x[2])*c.c[3])))
}

// Jerk is the size of the curve's cubic term over the time dt, crank degrees. At constant acceleration it is as small
// as the scatter of the points; it is large where acceleration changed abruptly.
func (c *Curve) Jerk(dt waveform.Second) quantity.Crank {
	d := float64(dt)
	return quantity.Crank(math.Abs(c.c[3]) * d * d * d)
}

// Speed is the speed at t.
func (c *Curve) Speed(t waveform.Second) quantity.Speed {
	u := float64(t - c.t0)
	v, w := u-c.x[1], u-c.x[2]
	return quantity.Speed((c.c[1] + c.c[2]*(u+v) + c.c[3]*(u*v+u*w+v*w)) / perRPM)
}
