package stand

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// Knot is one point of a course of speed; straight lines join the points.
type Knot struct{ At, RPM float64 }

// Course is what drives a crank: the speed it is led along, and the compression that makes it run unevenly.
type Course struct {
	Knots []Knot
	Start float64 // angle at the first knot, degrees
	// Ripple is how far compression swings the speed at RippleRPM, greatest less smallest, as a share of the
	// mean. The swing of speed squared is the same at all speeds, so the share falls with the square of speed.
	Ripple, RippleRPM float64
	// Width is that of compression as compressionWidth has it; nought is just that.
	Width float64
	TDC   []float64 // firing TDCs, degrees; each compresses before and pushes after
	// Pull is how strongly the crank is drawn back to the course below PullTo rpm, 1/s: a starter, or friction
	// as it stops.
	Pull, PullTo float64
}

// Motion is an integrated course: angle, speed at steps of equal length; a cubic joins the steps, so that the
// angle is a function of time that every signal of the case is drawn from.
type Motion struct {
	from, step float64
	angle      []float64 // degrees
	rate       []float64 // degrees/s
}

const motionStep = 1e-4 // s; at 9000 rpm the crank turns 5.4° in it

// compressionWidth is the standard deviation of the bump that a cylinder's compression makes in the stored
// energy of the crank, crank degrees. Assumed; 20 to 40 look alike here.
const compressionWidth = 32.0

// bump holds the slope of the energy bumps of all cylinders over the cycle, per degree, with a swing of 1.
type bump struct{ slope []float64 }

const bumpGrain = 4 // table points a degree

func newBump(tdc []float64, width float64) bump {
	energy := make([]float64, 720*bumpGrain)
	for i := range energy {
		at := float64(i) / bumpGrain
		for _, c := range tdc {
			d := math.Remainder(at-c, 720)
			energy[i] -= math.Exp(-d * d / (2 * width * width))
		}
	}
	swing := slices.Max(energy) - slices.Min(energy)
	b := bump{make([]float64, len(energy))}
	if swing == 0 {
		return b
	}
	for i := range energy {
		n := len(energy)
		b.slope[i] = (energy[(i+1)%n] - energy[(i+n-1)%n]) * bumpGrain / 2 / swing
	}
	return b
}

func (b bump) at(angle float64) float64 {
	x := (angle - 720*math.Floor(angle/720)) * bumpGrain
	f := math.Floor(x)
	i := min(int(f), len(b.slope)-1)
	j := i + 1
	if j == len(b.slope) {
		j = 0
	}
	return b.slope[i] + (x-f)*(b.slope[j]-b.slope[i])
}

// leakRPM is the speed at which half of the compression leaks away. Assumed.
const leakRPM = 30.0

// Run integrates the course by the fourth-order Runge–Kutta rule: θ” = 6·(slope of the course + Pull·(course −
// n)) + k·E'(θ), with k so that ω² swings by what Ripple says at RippleRPM. Without ripple the crank follows
// the course exactly. Below leakRPM compression leaks away, so that a starter can turn the engine from rest.
// The crank never turns back.
func (c Course) Run() *Motion {
	first, last := c.Knots[0], c.Knots[len(c.Knots)-1]
	n := int(math.Ceil((last.At-first.At)/motionStep)) + 1
	m := &Motion{from: first.At, step: motionStep, angle: make([]float64, n+1), rate: make([]float64, n+1)}
	var b bump
	k := c.Ripple * (6 * c.RippleRPM) * (6 * c.RippleRPM)
	if c.Ripple > 0 {
		b = newBump(c.TDC, cmp.Or(c.Width, compressionWidth))
	}
	const leak = 6 * leakRPM
	a, w := c.Start, 6*first.RPM
	seg := 0
	for i := range n + 1 {
		m.angle[i], m.rate[i] = a, w
		t := first.At + float64(i)*motionStep
		mid := t + motionStep/2
		for seg < len(c.Knots)-2 && mid >= c.Knots[seg+1].At {
			seg++
		}
		p, q := c.Knots[seg], c.Knots[seg+1]
		lead := 6 * (q.RPM - p.RPM) / (q.At - p.At)
		if mid > last.At {
			lead = 0
		}
		if c.Ripple == 0 && c.Pull == 0 {
			a += w*motionStep + lead*motionStep*motionStep/2
			w += lead * motionStep
		} else {
			force := func(dt, a, w float64) float64 {
				want := 6*p.RPM + lead*(t+dt-p.At)
				f := lead
				if w < 6*c.PullTo {
					f += c.Pull * (want - w)
				}
				if c.Ripple > 0 {
					f += k * b.at(a) * w * w / (w*w + leak*leak + 1e-12)
				}
				return f
			}
			h := motionStep
			k1 := force(0, a, w)
			w2 := w + h/2*k1
			k2 := force(h/2, a+h/2*w, w2)
			w3 := w + h/2*k2
			k3 := force(h/2, a+h/2*w2, w3)
			w4 := w + h*k3
			k4 := force(h, a+h*w3, w4)
			a, w = a+h/6*(w+2*w2+2*w3+w4), w+h/6*(k1+2*k2+2*k3+k4)
		}
		if w < 1e-9 {
			w = 0
		}
		a = math.Max(a, m.angle[i])
	}
	return m
}

// From and To are the ends of the motion, seconds.
func (m *Motion) From() float64 { return m.from }

// To is the end of the motion, seconds.
func (m *Motion) To() float64 { return m.from + float64(len(m.angle)-1)*m.step }

// piece is the step that holds t and how far into it t lies, 0 to 1.
func (m *Motion) piece(t float64) (int, float64) {
	x := (t - m.from) / m.step
	i := min(max(int(math.Floor(x)), 0), len(m.angle)-2)
	return i, x - float64(i)
}

func (m *Motion) within(i int, u float64) float64 {
	p, q, v, w := m.angle[i], m.angle[i+1], m.rate[i]*m.step, m.rate[i+1]*m.step
	d := q - p
	return p + u*(v+u*(3*d-2*v-w+u*(v+w-2*d)))
}

// Angle is the crank angle at a time, degrees, not wrapped.
func (m *Motion) Angle(t float64) float64 { return m.within(m.piece(t)) }

// RPM is the speed at a time.
func (m *Motion) RPM(t float64) float64 {
	i, u := m.piece(t)
	p, q, v, w := m.angle[i], m.angle[i+1], m.rate[i]*m.step, m.rate[i+1]*m.step
	d := q - p
	return (v + u*(2*(3*d-2*v-w)+u*3*(v+w-2*d))) / m.step / 6
}

// TimeAt is when the crank reaches an angle; NaN where it never does. Found by bisection within a step, to a
// tenth of a picosecond.
func (m *Motion) TimeAt(angle float64) float64 {
	last := len(m.angle) - 1
	if !(angle >= m.angle[0]) || angle > m.angle[last] {
		return math.NaN()
	}
	i := sort.SearchFloat64s(m.angle, angle)
	if i > 0 {
		i--
	}
	lo, hi := 0.0, 1.0
	for range 30 {
		u := (lo + hi) / 2
		if m.within(i, u) < angle {
			lo = u
		} else {
			hi = u
		}
	}
	return m.from + (float64(i)+(lo+hi)/2)*m.step
}

// Turns lists the times at which the crank passes at + period·k, for every whole k, in order.
func (m *Motion) Turns(at, period float64) []float64 {
	var ts []float64
	first, last := m.angle[0], m.angle[len(m.angle)-1]
	for k := math.Ceil((first - at) / period); ; k++ {
		a := at + k*period
		if a > last {
			return ts
		}
		if t := m.TimeAt(a); !math.IsNaN(t) {
			ts = append(ts, t)
		}
	}
}
