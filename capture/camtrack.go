package capture

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

// camStats is one cam edge against the crank edges; [0] at all speeds, [1] at speeds that enter the timing line.
type camStats struct {
	place, before, after [2]gathered
	margin, other        [2]float64
}

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
	c.b = beacon{period: cycle, at: c.at, tol: c.tol}
	for i := range tr.camEdge {
		for j := range 2 {
			tr.camEdge[i].margin[j], tr.camEdge[i].other[j] = math.Inf(1), math.Inf(1)
		}
	}
}

func (c *camTrack) endRun(tr *tracker) {
	c.dropStrays(tr)
	c.b.end(tr, tr.p.a.cam)
	c.tried, c.begun, c.hung = false, false, false
}

// dropStrays notes lone reference edges as extra pulses.
func (c *camTrack) dropStrays(tr *tracker) {
	for _, s := range c.stray {
		tr.log.add(ExtraPulse, s.t, tr.p.a.cam)
	}
	c.stray = c.stray[:0]
}

// look seeks reference edges in the interval that begins at knot i before anything else in it is placed, since they may renumber the vanes.
func (c *camTrack) look(tr *tracker, i int64) {
	a, b := tr.knot(i), tr.knot(i+1)
	if !c.begun {
		c.begun, c.runA = true, a.a
	}
	for q := tr.qHead; q < len(tr.queue) && tr.queue[q].t < b.t; q++ {
		e := tr.queue[q]
		if e.what != c.ref || e.t < a.t {
			continue
		}
		angle := a.a + (b.a-a.a)*(e.t-a.t)/(b.t-a.t)
		off := near(angle-c.at, cycle)
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
	lo := max(tr.first, tr.head-int64(len(tr.ring)))
	before := tr.knot(lo).a
	for j := lo; j < tr.head; j++ {
		q := tr.knot(j)
		q.k = int32((int(q.k) + d) % tr.w.n)
		if j == lo {
			q.a = before + near(tr.w.pos[q.k]-before, cycle)
			continue
		}
		p := tr.knot(j - 1)
		q.a = p.a
		for k := int(p.k); ; {
			k = int(tr.w.next(int32(k)))
			q.a += tr.w.step[k]
			if k == int(q.k) {
				break
			}
		}
		if tr.w.n == 1 {
			q.a += float64(q.miss) * cycle
		}
	}
	tr.mark.reset()
	tr.spark.restart()
	tr.shape.restart()
	tr.cam.b.reset()
	tr.cam.runA += tr.knot(lo).a - before
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

// edge places a cam edge of either kind.
func (c *camTrack) edge(tr *tracker, x *stretchOf, e event) {
	at := x.c.at(e.t)
	if e.what == c.ref && tr.sync.on {
		if off := near(at-c.at, cycle); math.Abs(off) <= c.tol {
			if len(c.stray) > 0 {
				c.dropStrays(tr)
			}
			if _, ok := c.b.meet(tr, at, e.t, tr.p.a.cam); !ok {
				return
			}
		}
	}
	which := bit(e.what == camRise)
	want := tr.p.cam.at[which]
	if !tr.sync.on || x.early || !x.whole || tr.upset > 0 || math.IsNaN(want) {
		return
	}
	off := near(at-want, cycle)
	if math.Abs(off) > c.tol {
		return
	}
	st := &tr.camEdge[which]
	before, after := at-x.a.a, x.b.a-at
	other := math.Inf(1)
	for _, o := range tr.w.other {
		if d := math.Abs(near(at-o, cycle)); d < other {
			other = d
		}
	}
	for j := range 2 {
		if j == 1 && x.n < tr.s.fitFrom {
			break
		}
		st.place[j].add(off)
		st.before[j].add(before)
		st.after[j].add(after)
		st.margin[j] = min(st.margin[j], min(before, after))
		st.other[j] = min(st.other[j], other)
	}
}
