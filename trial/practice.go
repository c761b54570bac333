package trial

import (
	"context"

	"phasewright/engine"
	"phasewright/quantity"
)

// ByPractice is the technician who works by looking (common practice): the housing by the light on the starter, then
// the allowance step by step until a locked reading high up is the same as at idle, each step with its stop and
// power-cycle. With Idle he then sets the housing once more by the locked reading at idle. He hands every engine over
// as right.
type ByPractice struct{ Idle Recheck }

// Recheck says whether the housing is set again at idle.
type Recheck string

// Whether it is.
const (
	NoRecheck   Recheck = ""
	RecheckIdle Recheck = "at idle"
)

// Name says which.
func (p ByPractice) Name() string {
	if p.Idle == RecheckIdle {
		return "common practice, housing again at idle"
	}
	return "common practice"
}

// Tune works as described.
func (p ByPractice) Tune(_ context.Context, s *Shop) (Outcome, error) {
	const (
		same    = 0.5 // degrees that he takes for equal
		most    = 20  // rounds before he gives up
		turning = 8
	)
	c := s.Engine()
	was := s.j.f
	for range turning {
		r, err := s.ReadCranking()
		if err != nil {
			return Stuck, err
		}
		off := r.Shown - c.Controller.Cranking
		if quantity.Abs(off) < same {
			break
		}
		s.Nudge(engine.CrankToShaft(-off))
	}
	if was != s.j.f {
		s.count(was)
	}
	high := 0.7 * c.Engine.Redline
	was = s.j.f
	for range most {
		low, err := s.Read(c.Engine.Idle, 1)
		if err != nil {
			return Stuck, err
		}
		up, err := s.Read(high, 1)
		if err != nil {
			return Stuck, err
		}
		change := up.Shown - low.Shown
		if quantity.Abs(change) <= same {
			break
		}
		step := c.Controller.Step
		if change > 0 {
			step = -step
		}
		if s.Allowance()+step < 0 {
			break
		}
		s.stop()
		s.Cost.Minutes += minutesRestart
		s.j.f.Allowance += step
	}
	if was != s.j.f { // all steps together are one cure
		s.count(was)
	}
	if p.Idle == RecheckIdle {
		for range 4 {
			r, err := s.Read(c.Engine.Idle, 1)
			if err != nil {
				return Stuck, err
			}
			off := r.Shown - r.Locked
			if quantity.Abs(off) < same {
				break
			}
			s.Correct(engine.CrankToShaft(-off), nil)
		}
	}
	return Right, nil
}
