package shaft

import "math"

const speedSlices = 512

// speedTrack keeps speed against time in at most 512 slices, which double in length when they are used up.
type speedTrack struct {
	lo, hi      float64
	angle, time float64
	t0, width   float64
	until       float64 // end of the last slice
	slices      []speedSlice
}

// speedSlice holds extremes, angle and time of undisturbed intervals, and angle and time of the others: they stand in where there are no undisturbed ones in the whole recording.
type speedSlice struct{ lo, hi, angle, time, upsetAngle, upsetTime float64 }

func (a speedSlice) and(b speedSlice) speedSlice {
	return speedSlice{min(a.lo, b.lo), max(a.hi, b.hi), a.angle + b.angle, a.time + b.time, a.upsetAngle + b.upsetAngle, a.upsetTime + b.upsetTime}
}

func (s *speedTrack) init() {
	s.lo, s.hi = math.Inf(1), math.Inf(-1)
	s.width = 1e-3
}

// add takes an interval that began at t, lasted dt and turned the crank by the angle, at n rpm. Where wrong pulses are near, its
// speed is no extreme, and no point of the line, unless all are like that; where it stands out from those beside it as no shaft can, it is part of the mean alone.
func (s *speedTrack) add(t, dt, angle, n float64, upset, out bool) {
	if !(dt > 0) {
		return
	}
	if s.time == 0 {
		s.t0 = t
	}
	s.angle += angle
	s.time += dt
	if out {
		return
	}
	if !(t < s.until) || len(s.slices) == 0 { // a division an interval saved
		s.reach(t)
	}
	c := &s.slices[len(s.slices)-1]
	if upset {
		c.upsetAngle += angle
		c.upsetTime += dt
		return
	}
	c.angle += angle
	c.time += dt
	s.lo, s.hi = min(s.lo, n), max(s.hi, n)
	c.lo, c.hi = min(c.lo, n), max(c.hi, n)
}

// reach makes the slice that t lies in the last one.
func (s *speedTrack) reach(t float64) {
	for (t-s.t0)/s.width >= speedSlices {
		s.join()
	}
	for i := max(0, int((t-s.t0)/s.width)); len(s.slices) <= i; {
		s.slices = append(s.slices, speedSlice{lo: math.Inf(1), hi: math.Inf(-1)})
	}
	s.until = s.t0 + float64(len(s.slices))*s.width
}

func (s *speedTrack) join() {
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

func (s *speedTrack) result() *Speeds {
	if !(s.time > 0) {
		return nil
	}
	mean := s.angle / s.time / degPerRPM
	return &Speeds{Min: min(s.lo, mean), Mean: mean, Max: max(s.hi, mean)}
}

func (s *speedTrack) series() []TimePoint {
	var out []TimePoint
	for i, c := range s.slices {
		if math.IsInf(s.lo, 0) { // nothing was undisturbed
			c.angle, c.time = c.upsetAngle, c.upsetTime
		}
		if c.time > 0 {
			mean := c.angle / c.time / degPerRPM
			out = append(out, TimePoint{s.t0 + float64(i)*s.width, min(c.lo, mean), mean, max(c.hi, mean)})
		}
	}
	return out
}
