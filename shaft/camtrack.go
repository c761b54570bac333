package shaft

import "math"

// camTrack anchors the vanes to the cycle by the cam's reference edge and watches that it keeps its place.
type camTrack struct {
	ref    what
	at     float64 // place of the reference edge
	tol    float64
	tried  bool // anchored, but not yet borne out by a second edge
	b      beacon
	stray  []loneCam // reference edges that stood at a wrong place since the last right one
	runA   float64   // angle where this run of the track began
	begun  bool
	hung   bool  // a reference edge was met in this run
	rehung int64 // times that the count of vanes had to be moved
}

type loneCam struct{ t, a float64 }

func (c *camTrack) init(tr *tracker) {
	c.ref = camFall
	if tr.p.cam.refRising {
		c.ref = camRise
	}
	c.at = tr.p.cam.at[bit(tr.p.cam.refRising)]
	least := cycle
	for _, s := range tr.w.step {
		least = math.Min(least, s)
	}
	c.tol = 0.45 * least
	c.b = beacon{period: cycle, at: c.at, tol: c.tol, ch: tr.p.a.cam, log: tr.log}
}

func (c *camTrack) endRun(tr *tracker) {
	c.dropStrays(tr)
	c.b.end(&tr.trail)
	c.tried, c.begun, c.hung = false, false, false
}

// dropStrays notes lone reference edges as extra pulses.
func (c *camTrack) dropStrays(tr *tracker) {
	for _, s := range c.stray {
		tr.log.add(ExtraPulse, s.t, tr.p.a.cam)
	}
	c.stray = c.stray[:0]
}

// passed takes the events of the interval that begins at knot i; seen says that reference edges are among them.
func (c *camTrack) passed(tr *tracker, i int64, events []event, seen bool) {
	if tr.knot(i+1).miss >= 3 {
		c.stray = c.stray[:0]
	} else {
		if !c.begun {
			c.begun, c.runA = true, tr.knot(i).a
		}
		if seen {
			c.look(tr, i, events)
		}
	}
	if seen {
		c.keeps(tr, i, events)
	}
}

// look seeks reference edges in the interval that begins at knot i before anything else in it is placed, since they may renumber the vanes.
func (c *camTrack) look(tr *tracker, i int64, events []event) {
	a, b := tr.knot(i), tr.knot(i+1)
	for q := range events {
		e := &events[q]
		if e.what != c.ref {
			continue
		}
		angle := a.a + (b.a-a.a)*(e.t-a.t)/(b.t-a.t)
		off := fold(angle - a.a + tr.w.pos[a.k] - c.at)
		switch {
		case !tr.sync.on:
			if c.hang(tr, i, angle) {
				c.tried = !tr.sync.ever
				tr.sync.gain(e.t)
				c.late(tr, i)
				c.hung = true
			}
		case math.Abs(off) <= c.tol:
			c.tried = false
		default:
			c.contradict(tr, i, e.t, angle)
		}
	}
}

// hang renumbers the vanes so that a reference edge at the angle falls on its place; false where it fits none.
func (c *camTrack) hang(tr *tracker, i int64, angle float64) bool {
	k, n := int(tr.knot(i).k), tr.w.n
	within := angle - tr.knot(i).a
	best, least := 0, math.Inf(1)
	for d := range n {
		if off := math.Abs(near(tr.w.pos[(k+d)%n]+within-c.at, cycle)); off < least {
			best, least = d, off
		}
	}
	if least > 1.2*c.tol {
		return false
	}
	if best != 0 {
		tr.renumber(best)
	}
	return true
}

// renumber moves the count of vanes of the present run by d.
func (tr *tracker) renumber(d int) {
	tr.f.turn(int32(d))
	moved := tr.trail.renumber(d)
	tr.cam.b.reset()
	tr.cam.runA += moved
	tr.tell(note{what: noteTurn, k: int32(d)}, nil)
}

// late notes a cam signal that came more than two cycles after the crank edges began.
func (c *camTrack) late(tr *tracker, i int64) {
	if run := tr.knot(i).a - c.runA; run > 2.5*cycle && !c.hung {
		tr.log.add(Dropout, tr.knot(max(tr.first, tr.head-int64(len(tr.ring))+1)).t, tr.p.a.cam)
	}
}

// contradict takes a reference edge at a wrong place. One is noise. Two in a row at the same wrong place mean that the vanes were miscounted: sync was lost.
func (c *camTrack) contradict(tr *tracker, i int64, t, angle float64) {
	if n := len(c.stray); n > 0 {
		p := c.stray[n-1]
		if apart := angle - p.a; math.Abs(apart-cycle) < c.tol && (!c.b.seen || c.b.lastT < p.t) {
			lost := p.t
			c.stray = c.stray[:n-1]
			c.dropStrays(tr)
			if !c.tried {
				tr.sync.lose(lost, "the cam edge came at the wrong vane twice running: the count of vanes had slipped", true)
			}
			if c.hang(tr, i, angle) {
				c.rehung++
				tr.sync.gain(t)
			}
			return
		}
	}
	if len(c.stray) >= 16 {
		c.dropStrays(tr)
	}
	c.stray = append(c.stray, loneCam{t, angle})
}

// keeps drops the reference edges of the interval that begins at knot i which do not belong to the series.
func (c *camTrack) keeps(tr *tracker, i int64, events []event) {
	var x curve
	laid := false
	for q := range events {
		e := &events[q]
		if e.what != c.ref || !tr.sync.on {
			continue
		}
		if !laid {
			for j := i; j < min(i+3, tr.head); j++ { // what between takes of these three rests on these three and the one before
				tr.differ(j)
			}
			tr.between(&x, i)
			laid = true
		}
		at := x.at(e.t)
		if a := tr.knot(i); math.Abs(fold(at-a.a+tr.w.pos[a.k]-c.at)) > c.tol {
			continue
		}
		if len(c.stray) > 0 {
			c.dropStrays(tr)
		}
		if _, ok := c.b.meet(&tr.trail, at, e.t); !ok {
			e.what = nothing
		}
	}
}
