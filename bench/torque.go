package bench

import "math"

// steps is the number of one-degree steps in a cycle.
const steps = 720

// train is the crank train as tables over the cycle, SI units and radians: what the torque balance steps through.
type train struct {
	gas      [steps]float64     // work of all cylinders' gas over the step from i to i+1 degrees, J
	half     [2 * steps]float64 // ½·I(θ) at half degrees, kg·m²
	friction float64            // N·m at standstill
	slope    float64            // N·m more per rad/s
	rotating float64            // the constant part of the inertia, kg·m²
}

const stepRadians = math.Pi / 180

// newTrain makes the tables. The kinetic energy is ½·I(θ)·ω² with I(θ) = I₀ + Σ m·(dx/dθ)², so reciprocating inertia is exact
// and no acceleration terms are dropped; d(½Iω²)/dθ is the sum of torques.
func newTrain(e Engine, reflected float64) *train {
	t := &train{rotating: float64(e.Inertia) + reflected}
	s := newSlider(e)
	// One cylinder's tables on its own cycle, quarter degrees for the work integral and half degrees for the inertia.
	at := e.firings()
	torque := func(a float64) float64 {
		w := math.Mod(a+360, 720)
		if w < 0 {
			w += 720
		}
		w -= 360
		return (e.pressure(s, w) - float64(e.Ambient)) * s.area * s.slope(radians(w))
	}
	const fine = 4 // quarter degrees: Simpson's rule over a step has five points
	one := make([]float64, steps*fine)
	for i := range one {
		one[i] = torque(float64(i) / fine)
	}
	halfMass := make([]float64, steps) // ½·m·(dx/dθ)² repeats every turn
	square := func(a float64) float64 {
		d := s.slope(radians(a))
		return float64(e.ReciprocatingMass) * d * d / 2
	}
	for i := range halfMass {
		halfMass[i] = square(float64(i) / 2)
	}
	whole := true
	for _, a := range at {
		whole = whole && a == math.Trunc(a)
	}
	look := func(a float64) float64 { // torque at a degrees of that cylinder's cycle
		if !whole {
			return torque(a)
		}
		i := int(math.Round(a*fine)) % len(one)
		if i < 0 {
			i += len(one)
		}
		return one[i]
	}
	rec := func(a float64) float64 {
		if !whole {
			return square(a)
		}
		i := int(math.Round(2*a)) % len(halfMass)
		if i < 0 {
			i += len(halfMass)
		}
		return halfMass[i]
	}
	for i := range t.half {
		t.half[i] = t.rotating / 2
		for _, a := range at {
			t.half[i] += rec(float64(i)/2 - a)
		}
	}
	for i := range t.gas {
		weights := [...]float64{7, 32, 12, 32, 7} // Boole's rule, error of order h⁷
		for _, a := range at {
			for j, w := range weights {
				t.gas[i] += w / 90 * look(float64(i)+float64(j)/fine-a) * stepRadians
			}
		}
	}
	swept := float64(e.Cylinders) * s.area * s.travel(math.Pi)
	t.friction = float64(e.Friction) * swept / (4 * math.Pi)
	t.slope = e.FrictionSlope * 60 / (2 * math.Pi) * swept / (4 * math.Pi)
	return t
}

// starterLine is the starter's torque line: stall·(1 − ω/free), never below zero.
type starterLine struct {
	stall, free float64 // N·m, rad/s; free 0: no starter
}

func (s starterLine) at(w float64) float64 {
	if s.free == 0 || w >= s.free {
		return 0
	}
	return s.stall * (1 - w/s.free)
}

// step carries the kinetic energy from degree i to i+1 of the cycle. extra is any further work over the step (firing). It returns the energy at the
// end, the speeds in rad/s at both ends, and the work of starter and friction. A negative energy means that the crank stops within the step.
func (t *train) step(i int, energy float64, line starterLine, extra float64) (end, from, to, starter, lost float64) {
	from = math.Sqrt(energy / t.half[2*i])
	work := t.gas[i] + extra
	// Starter and friction depend on speed alone and weakly, so the midpoint rule carries them; gas work is integrated beforehand.
	middle := energy + 0.5*(work+(line.at(from)-t.friction-t.slope*from)*stepRadians)
	w := 0.0
	if middle > 0 {
		w = math.Sqrt(middle / t.half[2*i+1])
	}
	starter = line.at(w) * stepRadians
	lost = (t.friction + t.slope*w) * stepRadians
	end = energy + work + starter - lost
	if end > 0 {
		to = math.Sqrt(end / t.half[(2*i+2)%(2*steps)])
	}
	return end, from, to, starter, lost
}
