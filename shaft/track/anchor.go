package track

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

// Loss is a stretch in which it was not known any more which cylinder is which.
type Loss struct {
	At, Regained waveform.Second // Regained is NaN where it was not
	Because      string
}

const mostLosses = 1000

// Sync says whether the shaft's place on the 720° cycle is known, and when it was not.
type Sync struct {
	On     bool
	Ever   bool
	From   waveform.Second // when it was first gained
	Losses []Loss          // the first ones
	Count  int64
	open   bool // the last of Losses is not regained
}

// loseSync records that sync was lost. Without a cam, or before sync was gained, there is nothing to lose.
func (t *Track) loseSync(at waveform.Second, because string) {
	s := &t.Sync
	if !t.l.Cam.On || !s.Ever {
		return
	}
	s.On = false
	s.Count++
	s.open = len(s.Losses) < mostLosses
	if s.open {
		s.Losses = append(s.Losses, Loss{at, waveform.Second(math.NaN()), because})
	}
}

func (s *Sync) gain(at waveform.Second) {
	if !s.Ever {
		s.Ever, s.From = true, at
	}
	s.On = true
	if s.open {
		s.Losses[len(s.Losses)-1].Regained = at
		s.open = false
	}
}

// anchor ties the count of vanes to the 720° cycle by one edge of the cam pickup, the reference edge, and watches that
// it keeps its place.
//
//	vanes    0    1    2    3    0    1    2    3    0
//	cam                       ↑                   ↑        once a cycle, at the learnt place
type anchor struct {
	ref    What
	at     quantity.Crank // learnt place of the reference edge on the cycle
	within quantity.Crank // an edge so far from that place still counts as it
	series Series
	tried  bool           // the vanes were numbered by one cam edge, and no second one has confirmed it
	stray  []motion.Point // cam edges at a wrong place since the last one at the right place
	began  quantity.Crank // angle of the first interval of this run
	begun  bool
	met    bool // a reference edge came in this run
}

// CamWithin is how far from its place a cam edge may stand and still belong to it: 0.45 of the smallest way between two
// vanes, so that it cannot belong to two.
func CamWithin(w *wheel.Wheel) quantity.Crank {
	least := quantity.Crank(motion.Cycle)
	for _, s := range w.Step {
		least = min(least, s)
	}
	return 0.45 * least
}

func newAnchor(t *Track) anchor {
	cam := t.l.Cam
	c := anchor{ref: CamFalls, at: cam.At[wheel.Index(cam.RefRising)], within: CamWithin(t.l.Wheel)}
	if cam.RefRising {
		c.ref = CamRises
	}
	c.series = NewSeries(t.Log, t.l.Assigned.Cam, motion.Cycle, c.at, c.within)
	return c
}

func (c *anchor) endRun(t *Track) {
	c.dropStrays(t)
	c.series.End(&t.Passes)
	c.tried, c.begun, c.met = false, false, false
}

// dropStrays logs cam edges at a wrong place, which nothing confirmed, as extra pulses.
func (c *anchor) dropStrays(t *Track) {
	for _, s := range c.stray {
		t.Log.Add(ExtraPulse, s.T, t.l.Assigned.Cam)
	}
	c.stray = c.stray[:0]
}

// number looks at the cam edges in the interval from pass i to i+1: each may give the vanes other numbers.
func (c *anchor) number(t *Track, i int64, events []Event) {
	if t.At(i+1).Missing >= 3 {
		c.stray = c.stray[:0]
		return
	}
	if !c.begun {
		c.begun, c.began = true, t.At(i).A
	}
	for q := range events {
		if events[q].What == c.ref {
			c.reference(t, i, events[q].T)
		}
	}
}

// watch counts the reference edges of x at the right place. One that comes twice in a cycle is taken out as an extra
// pulse.
func (c *anchor) watch(t *Track, x *Interval) {
	for q := range x.Events {
		e := &x.Events[q]
		if e.What != c.ref {
			continue
		}
		if at := x.Curve.At(e.T); quantity.Abs(c.off(t, x.I, at)) <= c.within {
			c.dropStrays(t)
			if _, ok := c.series.Meet(&t.Passes, at, e.T); !ok {
				e.What = Nothing
			}
		}
	}
}

// off is how far an event at the given angle, in the interval from pass i, stands from the place of the reference edge:
// −360° to 360°, late positive.
func (c *anchor) off(t *Track, i int64, angle quantity.Crank) quantity.Crank {
	a := t.At(i)
	return motion.Near(angle-a.A+t.w.Pos[a.Vane]-c.at, motion.Cycle)
}

// reference takes a reference edge in the interval from pass i: it gives sync, confirms it, or contradicts it.
func (c *anchor) reference(t *Track, i int64, at waveform.Second) {
	a, b := t.At(i), t.At(i+1)
	angle := a.A + (b.A-a.A)*quantity.Crank((at-a.T)/(b.T-a.T))
	switch {
	case !t.Sync.On:
		if c.align(t, i, angle) {
			c.tried = !t.Sync.Ever
			t.Sync.gain(at)
			// the first cam edge came more than two cycles after the run began: until then the cam signal was missing
			if t.At(i).A-c.began > 2.5*motion.Cycle && !c.met {
				t.Log.Add(Dropout, t.At(t.kept()).T, t.l.Assigned.Cam)
			}
			c.met = true
		}
	case quantity.Abs(c.off(t, i, angle)) <= c.within:
		c.tried = false
	default:
		c.contradict(t, i, motion.Point{T: at, A: angle})
	}
}

// align renumbers the vanes so that a reference edge at the given angle falls on its place; false where it then still
// stands too far from it.
func (c *anchor) align(t *Track, i int64, angle quantity.Crank) bool {
	a := t.At(i)
	best, off := t.fitting(a.Vane, angle-a.A, c.at, motion.Cycle)
	if off > 1.2*c.within {
		return false
	}
	t.renumber(best)
	return true
}

// contradict takes a reference edge at a wrong place. A single one is noise. A second one a cycle later at the same
// wrong place means that the vanes were miscounted: sync was lost at the first of them.
func (c *anchor) contradict(t *Track, i int64, p motion.Point) {
	if n := len(c.stray); n > 0 {
		last := c.stray[n-1]
		if quantity.Abs(p.A-last.A-motion.Cycle) < c.within && (!c.series.seen || c.series.lastPoint.T < last.T) {
			c.stray = c.stray[:n-1]
			c.dropStrays(t)
			if !c.tried {
				t.loseSync(last.T, "the cam edge came at the wrong vane twice running: the count of vanes had slipped")
			}
			if c.align(t, i, p.A) {
				t.Sync.gain(p.T)
			}
			return
		}
	}
	if len(c.stray) >= 16 {
		c.dropStrays(t)
	}
	c.stray = append(c.stray, p)
}
