package bench

import (
	"errors"
	"fmt"
	"math"

	"phasewright/quantity"
)

// Turning is the crank's motion over one settled cycle on the starter: every cycle repeats it.
type Turning struct {
	Mean, Least, Most quantity.Speed
	At                []float64 // µs at which the crank passes each degree 0…720 of the cycle
	Speed             []float64 // rpm there
	Stall             quantity.Torque
	Free              quantity.Speed
	Starter           float64 // J the starter gives in the cycle
	Friction          float64 // J lost in friction
	Gas               float64 // J the gas gives (negative: compression costs more than expansion returns)
	Stored            float64 // J of kinetic energy gained over the cycle: nought when settled
}

// errStall is wrapped with where and why.
var errStall = errors.New("the starter does not turn the engine over compression")

// CrankOver gives the settled motion on the starter, with the starter's size chosen so that the mean speed over a cycle is the engine's CrankingSpeed.
func (c Config) CrankOver() (*Turning, error) {
	t := newTrain(c.Engine, float64(c.Starter.Reflected))
	return t.settle(c.Engine, c.Starter.Stiffness)
}

// settle finds the starter, on a given no-load speed, that turns the engine at its mean cranking speed.
func (t *train) settle(e Engine, stiffness float64) (*Turning, error) {
	target := float64(e.CrankingSpeed) * math.Pi / 30
	line := starterLine{free: stiffness * target}
	need := t.friction + t.slope*target
	for i := range t.gas {
		need -= t.gas[i] / (4 * math.Pi)
	}
	line.stall = need / (1 - 1/stiffness)
	weak, strong := 0.0, math.Inf(1) // starters known to be too weak and too strong
	energy := 2 * t.half[0] * target * target
	slowest := math.Inf(1)
	const tries = 80
	for n := 0; n < tries && strong-weak > 1e-9*line.stall; n++ {
		end, mean, pull := t.swing(energy, line, target)
		if pull == 0 { // it stopped on compression
			weak = max(weak, line.stall)
		} else {
			if math.Abs(mean-target) < 1e-6*target {
				return t.record(end, line), nil
			}
			if mean < target {
				weak = max(weak, line.stall)
			} else {
				strong = min(strong, line.stall)
				slowest = min(slowest, mean)
			}
			energy = end
			line.stall += (target - mean) * pull
		}
		if !(line.stall > weak && line.stall < strong) { // outside what is still open: halve it, or double where nothing was strong enough yet
			line.stall = (weak + strong) / 2
			if math.IsInf(strong, 1) {
				line.stall = 1.5 * weak
			}
		}
		if pull == 0 {
			energy = 2 * t.half[0] * target * target
		}
	}
	if math.IsInf(slowest, 1) {
		return nil, fmt.Errorf("cranking at %v – %w with %v of inertia – raise the inertia or the cranking speed", e.CrankingSpeed, errStall, e.Inertia)
	}
	return nil, fmt.Errorf("cranking at %v – %w so slowly with %v of inertia; the slowest it passes compression is about %.0f – raise the cranking speed or the inertia",
		e.CrankingSpeed, errStall, e.Inertia, quantity.Speed(slowest*30/math.Pi))
}

// swing turns the engine until its motion repeats and gives the energy at the start of a cycle, the mean speed in rad/s and, by the smooth
// balance stall·(1−ω/free) = friction, how much more stall torque a rad/s of mean speed asks; nought where the engine stops.
func (t *train) swing(energy float64, line starterLine, target float64) (end, mean, pull float64) {
	const cycles = 500
	for n := 0; n < cycles; n++ {
		start, time := energy, 0.0
		for i := range t.gas {
			next, from, to, _, _ := t.step(i, energy, line, 0)
			if next <= 0 {
				return 0, 0, 0
			}
			time += 2 * stepRadians / (from + to)
			energy = next
		}
		mean = 4 * math.Pi / time
		if math.Abs(energy-start) < 1e-7*start {
			break
		}
	}
	slope := (line.stall/line.free + t.slope) / (1 - min(mean/line.free, 0.95))
	return energy, mean, slope
}

// record goes once more round the settled cycle and keeps it.
func (t *train) record(energy float64, line starterLine) *Turning {
	out := &Turning{
		At: make([]float64, steps+1), Speed: make([]float64, steps+1),
		Stall: quantity.Torque(line.stall), Free: quantity.Speed(line.free * 30 / math.Pi),
		Least: quantity.Speed(math.Inf(1)),
	}
	start := energy
	for i := range t.gas {
		end, from, to, starter, lost := t.step(i, energy, line, 0)
		out.Speed[i], out.Speed[i+1] = from*30/math.Pi, to*30/math.Pi
		out.At[i+1] = out.At[i] + 2*stepRadians/(from+to)*1e6
		out.Starter += starter
		out.Friction += lost
		out.Gas += t.gas[i]
		out.Least = min(out.Least, quantity.Speed(from*30/math.Pi))
		out.Most = max(out.Most, quantity.Speed(from*30/math.Pi))
		energy = end
	}
	out.Stored = energy - start
	out.Mean = quantity.Speed(120e6 / out.At[steps])
	return out
}

// When is the time in µs at which the crank passes angle a degrees, any number of cycles before or after the recorded one.
func (t *Turning) When(a float64) float64 {
	cycle := math.Floor(a / steps)
	a -= cycle * steps
	i := min(int(a), steps-1)
	x := a - float64(i)
	// Constant torque within a degree: ω² is linear in angle, so the time is twice the way over the sum of the speeds.
	from, to := t.Speed[i], t.Speed[i+1]
	w := math.Sqrt(from*from + (to*to-from*from)*x)
	return cycle*t.At[steps] + t.At[i] + 2*x/(6*(from+w))*1e6
}

// Where is the crank angle at time µs: the inverse of When.
func (t *Turning) Where(time float64) float64 {
	cycle := math.Floor(time / t.At[steps])
	time -= cycle * t.At[steps]
	low, high := 0, steps
	for high-low > 1 {
		m := (low + high) / 2
		if t.At[m] <= time {
			low = m
		} else {
			high = m
		}
	}
	from, to := 6e-6*t.Speed[low], 6e-6*t.Speed[low+1] // °/µs
	grow := (to*to - from*from) / 2                    // °/µs²
	dt := time - t.At[low]
	return cycle*steps + float64(low) + dt*(from+grow*dt/2)
}
