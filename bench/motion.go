package bench

import (
	"math"

	"phasewright/cranking"
	"phasewright/engine"
)

const degree = math.Pi / 180 // in radians

// motion is the crank's way through time: angle in degrees since the run began (0 is TDC firing of cylinder 1), time in
// µs. Both questions come in nearly ascending order.
type motion interface {
	when(angle float64) float64 // +Inf: not reached
	where(time float64) float64
	speed(time float64) float64 // °/µs
}

// imposed is a motion that follows a profile.
type imposed struct {
	parts []stretch
	at    int // the stretch last used
}

// stretch has constant acceleration, or is a steady turning on the starter.
type stretch struct {
	time, angle float64 // at its beginning
	rate        float64 // °/µs
	grow        float64 // °/µs²
	end, last   float64 // time and angle at its end
	turn        *cranking.Turning
}

// newImposed lays the profile out from angle 0 at time 0.
func newImposed(p Profile, turn *cranking.Turning) *imposed {
	m := &imposed{}
	time, angle := 0.0, 0.0
	for _, part := range p {
		s := stretch{time: time, angle: angle, end: time + float64(part.For)}
		if part.Kind == OnStarter {
			s.turn = turn
			s.last = turn.Where(turn.When(angle) + float64(part.For))
		} else {
			s.rate = 6e-6 * float64(part.From)
			s.grow = 6e-6 * float64(part.To-part.From) / float64(part.For)
			t := float64(part.For)
			s.last = angle + t*(s.rate+s.grow*t/2)
		}
		time, angle = s.end, s.last
		m.parts = append(m.parts, s)
	}
	return m
}

func (m *imposed) when(angle float64) float64 {
	for m.at+1 < len(m.parts) && angle > m.parts[m.at].last {
		m.at++
	}
	for m.at > 0 && angle < m.parts[m.at].angle {
		m.at--
	}
	s := &m.parts[m.at]
	if s.turn != nil {
		return s.time + s.turn.When(angle) - s.turn.When(s.angle)
	}
	d := angle - s.angle
	if s.grow == 0 {
		return s.time + d/s.rate
	}
	root := s.rate*s.rate + 2*s.grow*d
	if root < 0 {
		return math.Inf(1)
	}
	return s.time + 2*d/(s.rate+math.Sqrt(root))
}

func (m *imposed) find(time float64) *stretch {
	for m.at+1 < len(m.parts) && time > m.parts[m.at].end {
		m.at++
	}
	for m.at > 0 && time < m.parts[m.at].time {
		m.at--
	}
	return &m.parts[m.at]
}

func (m *imposed) where(time float64) float64 {
	s := m.find(time)
	if s.turn != nil {
		return s.turn.Where(s.turn.When(s.angle) + time - s.time)
	}
	t := time - s.time
	return s.angle + t*(s.rate+s.grow*t/2)
}

func (m *imposed) speed(time float64) float64 {
	s := m.find(time)
	if s.turn != nil {
		a := s.turn.Where(s.turn.When(s.angle) + time - s.time)
		a -= engine.CycleDegrees * math.Floor(a/engine.CycleDegrees)
		i := min(int(a), engine.CycleDegrees-1)
		return 6e-6 * (s.turn.Speed[i] + (s.turn.Speed[i+1]-s.turn.Speed[i])*(a-float64(i)))
	}
	return s.rate + s.grow*(time-s.time)
}

// supplyAt is the supply's voltage at a time: on the starter the mean that it is loaded to.
func (r *Rig) supplyAt(time float64) float64 {
	if m, ok := r.motion.(*imposed); ok && m.find(time).turn != nil {
		return r.s.onStart
	}
	return r.s.supply
}
