package timing

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/wheel"
)

// ripple is how unevenly this engine turns. Compression makes the speed of a crank dip at every TDC. The active edges,
// one for each firing, all lie at the same place of that dip and do not show it. What lies between two of them, such as
// the mark, seems to stand beside its place:
//
//	speed          ‾‾‾\_/‾‾‾‾‾‾‾\_/‾‾‾‾‾‾‾\_/‾‾‾    dips at each TDC
//	active edges    |         |         |           the curve through them knows the mean speed only
//	mark                        |                   so what comes in the dip is placed wrongly
//
// Model: the speed at the angle θ is n·(1 + κ·E(θ)/x²) with x = n/1000 rpm. The energy that compression takes and gives
// back is the same at all speeds, so its share of the kinetic energy falls with the square of speed. E has a dip of
// Gauss' shape at each TDC and swings by one from its lowest to its highest value; κ is the swing at 1000 rpm. Let G(θ)
// be the integral of E less its mean, and bend(θ) be G less the cubic through G at the four passes around θ. To first
// order, what is at θ then seems to stand −κ·bend(θ)/x² degrees late of its place.
//
// κ comes from the crank pickup's other edges, which are metal and keep their places: how they seem to move with 1/x²
// shows it. Where they do not show it, κ is taken as nought within plus or minus the usual swing (limits, rectangular).
type ripple struct {
	kappa, u float64 // κ and its standard uncertainty
	atMark   float64 // bend at the mark, degrees, mean of the mark's two places in the cycle
}

// The shape of the dip, and how much of it is usual.
const (
	// standard deviation of the dip about TDC, crank degrees (assumed: 20 to 40 give nearly the same bend)
	bumpWidth   = 32.0
	shapeUnsure = 0.25 // relative standard uncertainty of bend for not knowing that shape (assumed)
	// swing of speed at idle, as a share of it: at most usualSwing over the number of cylinders, and mostSwing
	// (assumed)
	usualSwing = 0.6
	mostSwing  = 0.4
	usualIdle  = 850.0 // rpm; idle where no card gives one (assumed)
)

// bends gives bend(θ) at any place of the cycle.
type bends struct {
	l *wheel.Layout
	g []float64 // G at each whole degree of the cycle, degrees
}

// newBends adds up the dips at the TDC of every firing into E, and integrates it by the trapezoidal rule.
func newBends(l *wheel.Layout) bends {
	const n = int(motion.Cycle)
	b := bends{l: l, g: make([]float64, n)}
	e := make([]float64, n)
	lo, hi, mean := math.Inf(1), math.Inf(-1), 0.0
	for i := range e {
		for k := range l.N {
			d := float64(motion.Near(quantity.Crank(i)-l.Nominal[k]-l.Lead(), motion.Cycle))
			e[i] -= math.Exp(-d * d / (2 * bumpWidth * bumpWidth))
		}
		lo, hi = math.Min(lo, e[i]), math.Max(hi, e[i])
		mean += e[i] / float64(n)
	}
	for i := 1; i < n; i++ {
		b.g[i] = b.g[i-1] + ((e[i]+e[i-1])/2-mean)/(hi-lo)
	}
	return b
}

// integral is G at the place a, between whole degrees by linear interpolation.
func (b *bends) integral(a quantity.Crank) float64 {
	x := float64(motion.Wrap(a, motion.Cycle))
	i := int(x)
	return b.g[i] + (x-float64(i))*(b.g[(i+1)%len(b.g)]-b.g[i])
}

// at is bend at the place a: G there less the cubic through G at two vanes on either side (Lagrange).
func (b *bends) at(a quantity.Crank) float64 {
	l := b.l
	if math.IsNaN(float64(a)) {
		return nan
	}
	k := wheel.Last(l.Pos, a)
	var x, y [4]float64
	for j := range x {
		v, turns := k-1+j, 0
		for v < 0 {
			v, turns = v+l.N, turns-1
		}
		for v >= l.N {
			v, turns = v-l.N, turns+1
		}
		from := motion.Wrap(a-l.Pos[k], motion.Cycle) // from vane k on to a
		x[j] = float64(l.Pos[v]-l.Pos[k]+quantity.Crank(turns)*motion.Cycle) - float64(from)
		y[j] = b.integral(l.Pos[v])
	}
	out := b.integral(a)
	for i, weight := range motion.Lagrange(x) {
		out -= weight * y[i]
	}
	return out
}

// newRipple finds κ: the weighted mean of what the other edges of all vanes show, combined with the usual range by
// inverse variances. others are the moments of the other edges' places after each vane, over x and 1/x².
func newRipple(l *wheel.Layout, others []sums.Moments) ripple {
	b := newBends(l)
	r := ripple{atMark: (b.at(l.Mark.At) + b.at(l.Mark.At+motion.Turn)) / 2}
	idle := usualIdle
	if l.Facts.OnCard && l.Facts.Idle > 0 {
		idle = float64(l.Facts.Idle)
	}
	most := math.Min(mostSwing, usualSwing/float64(l.N)) * idle * idle / 1e6
	r.u = most / math.Sqrt(3)        // limits of plus or minus most
	if !l.Firm || l.Facts.Reluctor { // its other edge is where the detector arms, which moves with speed by itself
		return r
	}
	weight, sum, variance := 0.0, 0.0, 0.0
	for k, m := range others {
		g := b.at(l.Other[k])
		slope, v, ok := onRipple(&m)
		if !ok || math.IsNaN(g) {
			continue
		}
		weight += g * g
		sum -= g * slope
		variance += g * g * v
	}
	if weight == 0 {
		return r
	}
	found, u := sum/weight, math.Sqrt(variance)/weight
	p, q := 1/(u*u), 1/(r.u*r.u)
	r.kappa, r.u = math.Max(0, (found*p+r.kappa*q)/(p+q)), 1/math.Sqrt(p+q)
	return r
}

// onRipple is the slope of places over 1/x² with its variance. A drift that grows with speed is fitted beside it where
// speed varied enough.
func onRipple(m *sums.Moments) (slope, variance float64, ok bool) {
	if m.N < 8 {
		return 0, 0, false
	}
	mean := m.X / m.N
	sd := math.Sqrt(math.Max(0, m.XX/m.N-mean*mean))
	for _, use := range []sums.Basis{{true, sd > 0.3*mean, true}, {true, false, true}} {
		c, rss, ok := m.Solve(use)
		if !ok {
			continue
		}
		szz := m.ZZ - m.Z*m.Z/m.N
		if use[1] {
			szz -= (m.XZ - m.X*m.Z/m.N) * (m.XZ - m.X*m.Z/m.N) / (m.XX - m.X*m.X/m.N)
		}
		if szz <= 0 {
			continue
		}
		return c[2], rss/math.Max(1, m.N-3)/szz + 1e-12, true
	}
	return 0, 0, false
}

// takenOut are the moments of the marks with κ·bend/x² added to each: the effect of the ripple is taken out.
func (r *ripple) takenOut(m sums.Moments) sums.Moments {
	f := r.kappa * r.atMark
	m.Y += f * m.Z
	m.YX += f * m.XZ
	m.YZ += f * m.ZZ
	return m
}

// uncertainty is the standard uncertainty of what takenOut adds, times x², degrees.
func (r *ripple) uncertainty() float64 {
	return math.Abs(r.atMark) * math.Hypot(r.u, shapeUnsure*r.kappa)
}

// second is the second-order effect of the ripple at the speed x, times x², degrees: half of the first-order effect
// times the swing κ/x², at most one.
func (r *ripple) second(x float64) float64 {
	k := r.kappa + r.u
	return 0.5 * math.Abs(r.atMark) * k * math.Min(1, k/(x*x))
}
