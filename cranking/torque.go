package cranking

import (
	"math"

	"phasewright/engine"
	"phasewright/quantity"
)

const steps = engine.CycleDegrees // of one degree in a cycle

const (
	stepRadians = math.Pi / 180
	fine        = 2 // table points in a degree: three of them carry the work integral of a step
	turnPoints  = 360 * fine
)

// shape is what of the crank train depends on its lengths alone, as tables over one turn of a cylinder's crank from its
// TDC.
type shape struct {
	s         slider
	logVolume [turnPoints]float64
	lever     [turnPoints]float64 // piston area times d(travel)/da: torque per pressure, m³
	// of all reciprocating masses, ½·Σ m·(d(travel)/da)² every half degree of the period, kg·m²
	half []float64
}

func newShape(e Engine) *shape {
	p := &shape{s: newSlider(e)}
	for i := range p.lever {
		a := radians(float64(i) / fine)
		p.lever[i] = p.s.area * p.s.slope(a)
		p.logVolume[i] = math.Log(p.s.volume(a))
	}
	p.half = make([]float64, 2*e.period())
	for _, at := range e.Firings() {
		for i := range p.half {
			d := p.s.slope(radians(float64(i)/2 - at))
			p.half[i] += float64(e.ReciprocatingMass) * d * d / 2
		}
	}
	return p
}

// Train is the crank train as tables over its period, SI units and radians: what the torque balance steps through.
type Train struct {
	Period   int            // degrees after which the train repeats: 720, or less where the firing intervals do
	Gas      [steps]float64 // work of all cylinders' gas over the step from i to i+1 degrees, J
	half     [2 * steps]float64
	friction float64 // N·m at standstill
	slope    float64 // N·m more per rad/s
}

// NewTrain makes the tables; reflected is the inertia of the starter's armature, or nought where it does not turn
// along. The kinetic energy is ½·I(θ)·ω² (half holds ½·I every half degree) with I(θ) = I₀ + Σ m·(dx/dθ)², so
// reciprocating inertia is exact and no acceleration terms are dropped; d(½Iω²)/dθ is the sum of torques.
func NewTrain(e Engine, reflected quantity.Inertia) *Train { return newShape(e).train(e, reflected) }

func (p *shape) train(e Engine, reflected quantity.Inertia) *Train {
	t := &Train{Period: e.period()}
	one := p.torques(e)
	at := e.Firings()
	for i := 0; i < t.Period; i++ {
		weights := [...]float64{1, 4, 1} // Simpson's rule
		for _, a := range at {
			first := (float64(i) - a) * fine
			k := math.Floor(first)
			x := first - k
			j := ((int(k) % len(one)) + len(one)) % len(one)
			for _, w := range weights {
				v := one[j]
				if j++; j == len(one) {
					j = 0
				}
				if x != 0 { // a firing between two table points
					v += x * (one[j] - v)
				}
				t.Gas[i] += w / 6 * v * stepRadians
			}
		}
	}
	for i, h := range p.half {
		t.half[i] = h + (float64(e.Inertia)+float64(reflected))/2
	}
	swept := float64(e.Cylinders) * p.s.area * p.s.travel(math.Pi)
	t.friction = float64(e.Friction) * swept / (4 * math.Pi)
	t.slope = e.FrictionSlope * 60 / (2 * math.Pi) * swept / (4 * math.Pi)
	return t
}

// period is the number of whole degrees after which the firings repeat.
func (e Engine) period() int {
	sum := 0.0
	for n, gap := range e.Intervals {
		sum += float64(gap)
		repeats := sum == math.Trunc(sum) && len(e.Intervals)%(n+1) == 0
		for i := range e.Intervals {
			repeats = repeats && e.Intervals[i] == e.Intervals[i%(n+1)]
		}
		if repeats {
			return int(sum)
		}
	}
	return steps
}

// torques is one unfired cylinder's gas torque over its own cycle from TDC of compression, every half degree, as
// Engine.pressure has it.
func (p *shape) torques(e Engine) *[2 * turnPoints]float64 {
	out := new([2 * turnPoints]float64)
	ambient := float64(e.Ambient)
	start := math.Log(p.s.volume(radians(-180 + float64(e.InletCloses))))
	top := math.Log(p.s.clear)
	inlet := math.Log(float64(e.InletPressure))
	opens := 180 - float64(e.ExhaustOpens)
	peak := inlet + e.CompressionIndex*(start-top)
	// left when the exhaust opens
	over := math.Exp(peak+e.ExpansionIndex*(top-math.Log(p.s.volume(radians(opens))))) - ambient
	if e.Leak > 0 {
		return p.leaking(e)
	}
	for i := range out {
		a := float64(i) / fine
		k := i % turnPoints
		switch {
		case a <= opens:
			out[i] = (math.Exp(peak+e.ExpansionIndex*(top-p.logVolume[k])) - ambient) * p.lever[k]
		case a <= 360:
			if a < opens+blowdown {
				out[i] = over * 0.5 * (1 + math.Cos(math.Pi*(a-opens)/blowdown)) * p.lever[k]
			}
		case a < 540+float64(e.InletCloses): // a is 360…720 here: intake and compression before the next TDC
			out[i] = (float64(e.InletPressure) - ambient) * p.lever[k]
		default:
			out[i] = (math.Exp(inlet+e.CompressionIndex*(start-p.logVolume[k])) - ambient) * p.lever[k]
		}
	}
	return out
}

// Friction is the braking torque in N·m at w rad/s.
func (t *Train) Friction(w float64) float64 { return t.friction + t.slope*w }

// Line is a starter's torque line: stall·(1 − ω/free), never below zero. The zero value is no starter.
type Line struct {
	stall, free float64 // N·m, rad/s
}

func (s Line) at(w float64) float64 {
	if s.free == 0 || w >= s.free {
		return 0
	}
	return s.stall * (1 - w/s.free)
}

// Step carries the kinetic energy from degree i to i+1 of the period. extra is any further work over the step (firing).
// It returns the energy at the end, the speeds in rad/s at both ends, and the work of starter and friction. An energy
// of nought or less means that the crank stops within the step.
func (t *Train) Step(i int, energy float64, line Line, extra float64) (end, from, to, starter, lost float64) {
	from = math.Sqrt(energy / t.half[2*i])
	work := t.Gas[i] + extra
	// Starter and friction depend on speed alone and weakly, so the midpoint rule carries them; gas work is integrated
	// beforehand.
	middle := energy + 0.5*(work+(line.at(from)-t.friction-t.slope*from)*stepRadians)
	w := 0.0
	if middle > 0 {
		w = math.Sqrt(middle / t.half[2*i+1])
	}
	starter = line.at(w) * stepRadians
	lost = t.Friction(w) * stepRadians
	end = energy + work + starter - lost
	if end > 0 {
		next := 2*i + 2
		if next == 2*t.Period {
			next = 0
		}
		to = math.Sqrt(end / t.half[next])
	}
	return end, from, to, starter, lost
}
