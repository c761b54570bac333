package track

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

// Loss is a time without sync.
type Loss struct {
	At, Regained waveform.Second // Regained is NaN where it was not
	Because      string
}

const mostLosses = 1000

// Sync is whether the place on the 720° cycle is known.
type Sync struct {
	On     bool
	Ever   bool
	From   waveform.Second // when it was first gained
	Losses []Loss          // the first ones
	Count  int64
	open   bool // the last of Losses is not regained
}

// loseSync notes a loss. Without a cam there was nothing to lose.
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

// anchor ties the vanes to the cycle by the cam's reference edge and watches that it keeps its place.
type anchor struct {
	ref    What
	at     quantity.Crank // place of the reference edge
	within quantity.Crank // it is still that edge so far off
	series Series
	tried  bool           // anchored, but not yet borne out by a second edge
	stray  []motion.Point // reference edges that stood at a wrong place since the last right one
	began  quantity.Crank // angle where this run of the track began
	begun  bool
	met    bool // a reference edge was met in this run
}

// CamWithin is how far from its place a cam edge is still that edge: less than half of the smallest step.
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

// dropStrays notes lone reference edges as extra pulses.
func (c *anchor) dropStrays(t *Track) {
	for _, s := range c.stray {
		t.Log.Add(ExtraPulse, s.T, t.l.Assigned.Cam)
	}
	c.stray = c.stray[:0]
}

// passed takes the events of the interval that begins at pass i: first the reference edges are sought, since they may
// renumber the vanes, then those that do not belong to the series are taken out.
func (c *anchor) passed(t *Track, i int64, events []Event) {
	if t.At(i+1).Missing >= 3 {
		c.stray = c.stray[:0]
	} else {
		if !c.begun {
			c.begun, c.began = true, t.At(i).A
		}
		for q := range events {
			if events[q].What == c.ref {
				c.look(t, i, events[q].T)
			}
		}
	}
	for q := range events {
		if e := &events[q]; e.What == c.ref && t.Sync.On {
			x := t.curve(i)
			if at := x.At(e.T); quantity.Abs(c.off(t, i, at)) <= c.within {
				c.dropStrays(t)
				if _, ok := c.series.Meet(&t.Passes, at, e.T); !ok {
					e.What = Nothing
				}
			}
		}
	}
}

// off is how far an event at the angle, in the interval that begins at pass i, stands from the reference edge's place.
func (c *anchor) off(t *Track, i int64, angle quantity.Crank) quantity.Crank {
	a := t.At(i)
	return motion.Near(angle-a.A+t.w.Pos[a.Vane]-c.at, motion.Cycle)
}

// look takes a reference edge in the interval that begins at pass i.
func (c *anchor) look(t *Track, i int64, at waveform.Second) {
	a, b := t.At(i), t.At(i+1)
	angle := a.A + (b.A-a.A)*quantity.Crank((at-a.T)/(b.T-a.T))
	switch {
	case !t.Sync.On:
		if c.hang(t, i, angle) {
			c.tried = !t.Sync.Ever
			t.Sync.gain(at)
			// it came more than two cycles after the crank edges began
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

// hang renumbers the vanes so that a reference edge at the angle falls on its place; false where it fits none.
func (c *anchor) hang(t *Track, i int64, angle quantity.Crank) bool {
	a := t.At(i)
	best, off := t.fitting(a.Vane, angle-a.A, c.at, motion.Cycle)
	if off > 1.2*c.within {
		return false
	}
	t.renumber(best)
	return true
}

// contradict takes a reference edge at a wrong place. One is noise. Two in a row at the same wrong place mean that the
// vanes were miscounted: sync was lost.
func (c *anchor) contradict(t *Track, i int64, p motion.Point) {
	if n := len(c.stray); n > 0 {
		last := c.stray[n-1]
		if quantity.Abs(p.A-last.A-motion.Cycle) < c.within && (!c.series.seen || c.series.lastPoint.T < last.T) {
			c.stray = c.stray[:n-1]
			c.dropStrays(t)
			if !c.tried {
				t.loseSync(last.T, "the cam edge came at the wrong vane twice running: the count of vanes had slipped")
			}
			if c.hang(t, i, p.A) {
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
