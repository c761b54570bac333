package shaft

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/track"
	"phasewright/waveform"
)

const mostSlices = 512

// speeds keeps speed against time in slices of equal length. When mostSlices are used up, neighbours are joined and a
// slice becomes twice as long.
type speeds struct {
	lo, hi quantity.Speed
	angle  quantity.Crank
	time   waveform.Second
	t0     waveform.Second
	width  waveform.Second
	slices []slice
}

// slice holds the lowest and highest speed, angle and time of undisturbed intervals, and angle and time of the
// disturbed ones (disturbedAngle, disturbedTime), which are used only where the whole recording has no undisturbed one.
type slice struct {
	lo, hi                quantity.Speed
	angle, disturbedAngle quantity.Crank
	time, disturbedTime   waveform.Second
}

func newSpeeds() speeds {
	return speeds{lo: quantity.Speed(math.Inf(1)), hi: quantity.Speed(math.Inf(-1)), width: 1e-3}
}

func (a slice) and(b slice) slice {
	return slice{min(a.lo, b.lo), max(a.hi, b.hi),
		a.angle + b.angle, a.disturbedAngle + b.disturbedAngle, a.time + b.time,
		a.disturbedTime + b.disturbedTime}
}

// add takes an interval. The speed of a disturbed one does not count as lowest or highest. One that stands out from its
// neighbours as no shaft can (see standsOut) counts for the mean of the whole recording only.
func (s *speeds) add(x *track.Interval, standsOut bool) {
	dt := x.Took()
	if !(dt > 0) {
		return
	}
	if s.time == 0 {
		s.t0 = x.A.T
	}
	s.angle += x.Step()
	s.time += dt
	if standsOut {
		return
	}
	c := s.sliceAt(x.A.T)
	if !x.Trusted {
		c.disturbedAngle += x.Step()
		c.disturbedTime += dt
		return
	}
	c.angle += x.Step()
	c.time += dt
	s.lo, s.hi = min(s.lo, x.Speed), max(s.hi, x.Speed)
	c.lo, c.hi = min(c.lo, x.Speed), max(c.hi, x.Speed)
}

// sliceAt is the slice that holds the time t.
func (s *speeds) sliceAt(t waveform.Second) *slice {
	for t-s.t0 >= mostSlices*s.width {
		for i := 0; i < len(s.slices); i += 2 {
			a := s.slices[i]
			if i+1 < len(s.slices) {
				a = a.and(s.slices[i+1])
			}
			s.slices[i/2] = a
		}
		s.slices = s.slices[:(len(s.slices)+1)/2]
		s.width *= 2
	}
	i := max(0, int((t-s.t0)/s.width))
	for len(s.slices) <= i {
		s.slices = append(s.slices, slice{lo: quantity.Speed(math.Inf(1)), hi: quantity.Speed(math.Inf(-1))})
	}
	return &s.slices[i]
}

func (s *speeds) result() *Speeds {
	if !(s.time > 0) {
		return nil
	}
	mean := motion.Speed(s.angle, s.time)
	return &Speeds{Min: float64(min(s.lo, mean)), Mean: float64(mean), Max: float64(max(s.hi, mean))}
}

func (s *speeds) series() []TimePoint {
	var out []TimePoint
	for i, c := range s.slices {
		if math.IsInf(float64(s.lo), 0) { // there was no undisturbed interval
			c.angle, c.time = c.disturbedAngle, c.disturbedTime
		}
		if c.time > 0 {
			mean := motion.Speed(c.angle, c.time)
			out = append(out, TimePoint{float64(s.t0 + waveform.Second(i)*s.width), float64(min(c.lo, mean)),
				float64(mean), float64(max(c.hi, mean))})
		}
	}
	return out
}
