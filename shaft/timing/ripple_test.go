package timing

import (
	"math"
	"testing"

	"phasewright/quantity"
	"phasewright/shaft/roles"
	"phasewright/shaft/sums"
	"phasewright/shaft/terms"
	"phasewright/shaft/wheel"
)

// four is the layout of an invented even four: lead 50°, vanes of 60° of crank.
func four() *wheel.Layout {
	pos := []quantity.Crank{0, 180, 360, 540}
	w := wheel.New(pos, []quantity.Crank{180, 180, 180, 180})
	w.Firm = true
	for k := range w.Other {
		w.Other[k] = pos[k] + 60
	}
	return &wheel.Layout{Facts: &terms.Facts{}, Assigned: roles.Assignment{Vanes: 4}, Wheel: w, Mark: wheel.MarkPlace{On: true, At: 50}}
}

// The bend by another way: the angle is integrated with small steps along a crank whose speed dips as the model says,
// and what lies between the passes is placed by a cubic through four of them.
func TestBendAgainstIntegration(t *testing.T) {
	l := four()
	const kappa, x = 0.02, 1.0 // small, so that the linear term is all
	dip := func(deg float64) (v float64) {
		for _, tdc := range []float64{50, 230, 410, 590} {
			d := math.Remainder(deg-tdc, 720)
			v -= math.Exp(-d * d / (2 * bumpWidth * bumpWidth))
		}
		return v
	}
	lo, hi, mean := 0.0, math.Inf(-1), 0.0
	for i := range 180 {
		v := dip(float64(i))
		lo, hi, mean = math.Min(lo, v), math.Max(hi, v), mean+v/180
	}
	energy := func(deg float64) float64 { return (dip(deg) - mean) / (hi - lo) }
	// dt = dθ/(1 + κE), in units in which the mean speed is one degree a unit of time
	times := make([]float64, 1441)
	const steps = 20
	for i := 1; i < len(times); i++ {
		times[i] = times[i-1]
		for k := range steps {
			times[i] += 1 / float64(steps) / (1 + kappa/(x*x)*energy(float64(i-1)+(float64(k)+0.5)/steps))
		}
	}
	cubic := func(at float64, knots [4]float64) (seems float64) {
		now := times[int(at)]
		for i := range knots {
			w := 1.0
			for j := range knots {
				if j != i {
					w *= (now - times[int(knots[j])]) / (times[int(knots[i])] - times[int(knots[j])])
				}
			}
			seems += w * knots[i]
		}
		return seems
	}
	b := newBends(l)
	for _, at := range []float64{410, 420, 470} {
		got := -kappa / (x * x) * b.at(quantity.Crank(at))
		want := cubic(at, [4]float64{180, 360, 540, 720}) - at
		if math.Abs(got-want) > 0.03*math.Abs(want)+0.005 {
			t.Errorf("at %v°: seems %+.4f° off by the bend, %+.4f° by integration", at, got, want)
		}
	}
}

// A ripple put into the places of the other edges comes back, and is taken out of the mark's.
func TestRippleComesBack(t *testing.T) {
	l := four()
	b := newBends(l)
	const kappa = 0.05
	others := make([]sums.Moments, 4)
	var mark sums.Moments
	for i := range 400 {
		x := 0.8 + 3*float64(i)/400
		for k := range others {
			wobble := 0.02 * math.Sin(float64(7*i+k)) // of single edges, degrees
			others[k].Add(x, 1/(x*x), 60-kappa*b.at(l.Other[k])/(x*x)+wobble)
		}
		mark.Add(x, 1/(x*x), 1.5-kappa*b.at(50)/(x*x))
	}
	r := newRipple(l, others)
	if math.Abs(r.kappa-kappa) > 3*r.u || r.u > 0.005 {
		t.Errorf("κ %.4f ± %.4f, put in %v", r.kappa, r.u, kappa)
	}
	rest := r.takenOut(mark)
	if c, _, ok := rest.Solve(sums.Basis{true, true}); !ok || math.Abs(c[0]-1.5) > 0.05 || math.Abs(c[1]) > 0.02 {
		t.Errorf("the mark stands at %.3f° and moves by %.3f° per 1000 rpm; put in 1.5°, not moving", c[0], c[1])
	}
}
