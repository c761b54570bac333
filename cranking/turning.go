package cranking

import (
	"errors"
	"fmt"
	"math"

	"phasewright/quantity"
)

// Turning is the crank's motion over one steady cycle on the starter: every cycle repeats it.
type Turning struct {
	Mean, Least, Most quantity.Speed
	At                []float64 // µs at which the crank passes each degree of the cycle, 0…720
	Speed             []float64 // rpm there
	Stall             quantity.Torque
	Free              quantity.Speed
	Starter           float64 // J the starter gives in the cycle
	Friction          float64 // J lost in friction
	Gas               float64 // J the gas gives (negative: compression costs more than expansion returns)
	Stored            float64 // J of kinetic energy gained over the cycle: nought in the steady state
}

// errStall is wrapped with where and why.
var errStall = errors.New("the starter does not turn the engine over compression")

// Turn gives the steady motion on the starter, with the starter's size chosen so that the mean speed over a cycle is
// the engine's CrankingSpeed. It fails where the starter would not turn the engine.
func (s Setup) Turn() (*Turning, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	t := NewTrain(s.Engine, s.Starter.Reflected)
	m, err := t.findSteady(s.Engine, s.Starter.Stiffness, nil)
	if err != nil {
		return nil, err
	}
	return t.record(m, steps), nil
}

// Line is the torque line of the starter that keeps the motion up.
func (t *Turning) Line() Line {
	return Line{stall: float64(t.Stall), free: float64(t.Free) * math.Pi / 30}
}

// steadyState is a motion that repeats cycle by cycle: its energy at degree 0 and the starter that keeps it up.
type steadyState struct {
	energy float64
	line   Line
}

// findSteady finds the starter, on a given no-load speed, that turns the engine at its mean cranking speed. like is a
// steady motion of a similar engine to begin from, or nil.
func (t *Train) findSteady(e Engine, stiffness float64, like *steadyState) (steadyState, error) {
	target := float64(e.CrankingSpeed) * math.Pi / 30
	line := Line{free: stiffness * target}
	need := t.friction + t.slope*target
	for _, g := range t.Gas[:t.Period] {
		need -= g / (float64(t.Period) * stepRadians)
	}
	line.stall = need / (1 - 1/stiffness)
	fresh := 2 * t.half[0] * target * target // twice what the mean speed holds: enough to pass the first compression
	energy := fresh
	if like != nil && like.line.free > 0 {
		energy = like.energy
		if p := like.line.stall * (1 - target/like.line.free); p > 0 {
			line.stall = p / (1 - 1/stiffness)
		}
	}
	weak, strong := 0.0, math.Inf(1) // starters known to be too weak and too strong
	slowest := math.Inf(1)
	const tries, exact = 80, 1e-7
	tolerance := 1e-3 // share to which a motion must repeat: no finer than the miss in speed is worth
	for n := 0; n < tries && strong-weak > 1e-9*line.stall; n++ {
		end, mean, pull := t.swing(energy, line, tolerance)
		if pull == 0 && energy != fresh { // perhaps only the beginning was too slow
			energy = fresh
			continue
		}
		if pull == 0 {
			weak = max(weak, line.stall)
		} else {
			miss := math.Abs(mean-target) / target
			energy = end
			if miss < 1e-6 || miss < 5*tolerance { // too near to tell which side of the target it is
				if tolerance <= exact && miss < 1e-6 {
					return steadyState{end, line}, nil
				}
				if tolerance > exact {
					tolerance = max(exact, tolerance/100)
					continue
				}
			}
			if mean < target {
				weak = max(weak, line.stall)
			} else {
				strong = min(strong, line.stall)
				slowest = min(slowest, mean)
			}
			line.stall += (target - mean) * pull
			tolerance = min(tolerance, max(exact, miss*miss)) // Newton's step squares the miss
		}
		if !(line.stall > weak && line.stall < strong) {
			// outside what is still open: halve it, or raise it where nothing was strong enough yet
			line.stall = (weak + strong) / 2
			if math.IsInf(strong, 1) {
				line.stall = 1.5 * weak
			}
		}
	}
	if math.IsInf(slowest, 1) {
		return steadyState{}, fmt.Errorf(
			"cranking at %v – %w with %v of inertia – raise the inertia or the cranking speed",
			e.CrankingSpeed, errStall, e.Inertia)
	}
	return steadyState{}, fmt.Errorf("cranking at %v – %w so slowly with %v of inertia; the slowest it passes "+
		"compression is about %.0f – raise the cranking speed or the inertia",
		e.CrankingSpeed, errStall, e.Inertia, quantity.Speed(slowest*30/math.Pi))
}

// swing turns the engine until its motion repeats and gives the energy at the start of a period, the mean speed in
// rad/s and how much more stall torque a rad/s of mean speed asks, by the smooth balance stall·(1−ω/free) = friction;
// pull is nought where the engine stops.
func (t *Train) swing(energy float64, line Line, tolerance float64) (end, mean, pull float64) {
	const most = 2000 // periods; a handful are enough but for a very heavy crank
	last := 0.0
	for n := 0; n < most; n++ {
		start, time := energy, 0.0
		for i := 0; i < t.Period; i++ {
			next, from, to, _, _ := t.Step(i, energy, line, 0)
			if next <= 0 {
				return 0, 0, 0
			}
			time += 2 * stepRadians / (from + to)
			energy = next
		}
		mean = float64(t.Period) * stepRadians / time
		change := energy - start
		if math.Abs(change) < tolerance*start {
			break
		}
		// The change shrinks by nearly the same share each time: jump to where that series ends (Aitken).
		share := change / last
		if last = change; n%2 == 1 && share > 0 && share < 0.999 {
			if jump := energy + change*share/(1-share); jump > 0.2*energy && jump < 5*energy {
				energy, last = jump, 0
			}
		}
	}
	pull = (line.stall/line.free + t.slope) / (1 - min(mean/line.free, 0.95))
	return energy, mean, pull
}

// record goes once more round the steady motion and keeps it, for a number of degrees that is a whole number of
// periods.
func (t *Train) record(s steadyState, degrees int) *Turning {
	out := &Turning{
		At: make([]float64, degrees+1), Speed: make([]float64, degrees+1),
		Stall: quantity.Torque(s.line.stall), Free: quantity.Speed(s.line.free * 30 / math.Pi),
		Least: quantity.Speed(math.Inf(1)),
	}
	energy := s.energy
	for i := 0; i < degrees; i++ {
		end, from, to, starter, lost := t.Step(i%t.Period, energy, s.line, 0)
		out.Speed[i], out.Speed[i+1] = from*30/math.Pi, to*30/math.Pi
		out.At[i+1] = out.At[i] + 2*stepRadians/(from+to)*1e6
		out.Starter += starter
		out.Friction += lost
		out.Gas += t.Gas[i%t.Period]
		out.Least = min(out.Least, quantity.Speed(from*30/math.Pi))
		out.Most = max(out.Most, quantity.Speed(from*30/math.Pi))
		energy = end
	}
	out.Stored = energy - s.energy
	out.Mean = quantity.Speed(float64(degrees) / 6 * 1e6 / out.At[degrees])
	return out
}

// When is the time in µs at which the crank passes angle a degrees, any number of cycles before or after the recorded
// one.
func (t *Turning) When(a float64) float64 {
	n := len(t.At) - 1
	cycle := math.Floor(a / float64(n))
	a -= cycle * float64(n)
	i := min(int(a), n-1)
	x := a - float64(i)
	// Constant torque within a degree: ω² is linear in angle, so the time is twice the way over the sum of the speeds.
	from, to := t.Speed[i], t.Speed[i+1]
	w := math.Sqrt(from*from + (to*to-from*from)*x)
	return cycle*t.At[n] + t.At[i] + 2*x/(6*(from+w))*1e6
}

// Where is the crank angle at time µs: the inverse of When.
func (t *Turning) Where(time float64) float64 {
	n := len(t.At) - 1
	cycle := math.Floor(time / t.At[n])
	time -= cycle * t.At[n]
	low, high := 0, n
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
	return cycle*float64(n) + float64(low) + dt*(from+grow*dt/2)
}
