package shaft

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/timing"
	"phasewright/shaft/track"
	"phasewright/shaft/wheel"
)

// mostJerk is the largest cubic term of the curve over one interval (Curve.Jerk) at which the motion between passes
// counts as known well enough, crank degrees (assumed).
const mostJerk = quantity.Crank(1.0)

// observer adds up what the track gives: it is the track's Observer. It only listens; nothing that it finds changes
// what the track decides.
type observer struct {
	l      *wheel.Layout
	track  *track.Track
	speeds speeds
	vanes  vanes
	cams   cams
	mark   track.Series
	fired  firings
	spread shaftSpread
	timing *timing.Gather
	stray  int64 // sparks in gaps of the crank signal
	cycles int64
	sparks []track.Event // those of the present interval
}

func newObserver(l *wheel.Layout) *observer {
	return &observer{l: l, speeds: newSpeeds(), vanes: newVanes(l), cams: newCams(l), fired: newFirings(l),
		spread: newShaftSpread(l.N),
		timing: timing.NewGather(l)}
}

func (s *observer) clone() *observer {
	c := *s
	c.speeds.slices = slices.Clone(s.speeds.slices)
	c.vanes = s.vanes.clone()
	c.fired = s.fired.clone()
	c.spread.vane = slices.Clone(s.spread.vane)
	c.timing, c.sparks = s.timing.Clone(), nil
	return &c
}

// Interval takes the track's next interval.
func (s *observer) Interval(x *track.Interval) {
	if s.mark.Period == 0 {
		s.mark = track.NewSeries(s.track.Log, s.l.Assigned.Mark, motion.Turn, s.l.Mark.At, track.MarkWithin(s.l.N))
	}
	if !x.Trusted {
		s.vanes.restart()
	}
	s.speeds.add(x, s.standsOut(x.I))
	p := places{}
	sparks := s.sparks[:0]
	for i := range x.Events {
		switch e := &x.Events[i]; e.What {
		case track.CamFalls, track.CamRises:
			s.cams.edge(s.l, x, e)
		case track.Sparks:
			s.fired.count(e.Dwell)
			sparks = append(sparks, *e)
		case track.MarkAtTop:
			s.markEdge(x, e, &p)
		}
	}
	s.sparks = sparks
	if x.Whole && !x.Early && x.Trusted && x.Others == 1 {
		s.vanes.width(x.A.Vane, x.Speed, x.Other.A-x.A.A)
	}
	if p.markSlow {
		s.lightAtCranking(x, &p, sparks)
	}
	s.fired.interval(s, x, sparks)
	if x.A.Vane == 0 {
		s.cycles++
		s.vanes.cycle(s, x)
		s.timing.Cycle()
	}
}

// places is where the mark stood in one interval.
type places struct {
	markSlow bool         // there is a mark, below the speeds of the timing line
	mark     motion.Point // at its learnt place, whatever the curve says
}

// standsOut says that the interval from pass i is more than twice as quick as both its neighbours, or less than half as
// quick: no shaft does that, so a pulse came at a wrong place.
func (s *observer) standsOut(i int64) bool {
	t := s.track
	if i <= t.First || i+2 >= t.Head {
		return false
	}
	before, v, after := t.At(i).Speed, t.At(i+1).Speed, t.At(i+2).Speed
	return v > 2*before && v > 2*after || 2*v < before && 2*v < after
}

// markEdge takes the mark e in the interval x.
func (s *observer) markEdge(x *track.Interval, e *track.Event, p *places) {
	if !x.Numbered { // its place is not known; only do not count it as missing
		s.mark.Reset()
		return
	}
	angle := x.Curve.At(e.T)
	off, fits := s.mark.Meet(&s.track.Passes, angle, e.T)
	if !fits {
		return
	}
	slow := x.Speed < s.l.Facts.FitFrom
	if !x.Whole || x.Early || !x.Trusted || !slow && x.Curve.Jerk(x.Took()) >= mostJerk {
		return
	}
	n := x.Speed
	if !slow { // what a pickup's delay adds depends on the speed at that instant
		n = x.Curve.Speed(e.T)
	}
	s.timing.Mark(n, off)
	if slow {
		p.markSlow, p.mark = true, motion.Point{T: e.T, A: angle - off +
			quantity.Crank(s.l.Mark.Drift*float64(x.Speed))}
	}
}

// Stray takes an event in a gap of the crank signal.
func (s *observer) Stray(e track.Event) {
	if e.What == track.Sparks {
		s.fired.count(e.Dwell)
		s.stray++
	}
}

// Renumbered says that the vanes have got other numbers.
func (s *observer) Renumbered() {
	s.mark.Reset()
	s.fired.restart()
	s.vanes.restart()
}

// RunEnds says that a gap in the crank signal ends the count from vane to vane.
func (s *observer) RunEnds() {
	if s.mark.Period > 0 {
		s.mark.End(&s.track.Passes)
	}
	s.fired.endRun()
	s.vanes.restart()
}

// cylindersKnown says whether sync was ever gained: without it, vanes cannot be given to cylinders.
func (s *observer) cylindersKnown() bool { return s.track.Sync.Ever }

// vane is the vane of the cylinder at that place in the firing order, cylinder 1 at place 0.
func (s *observer) vane(firing int) int { return (s.l.First + firing) % s.l.N }

var nan = Number(math.NaN())
