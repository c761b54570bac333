package shaft

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/track"
	"phasewright/shaft/wheel"
)

// cams adds up where the cam's edges stood among the crank edges.
type cams struct {
	edges  [2]camEdges // falling, rising
	within quantity.Crank
}

// camEdges is one edge of the cam vane. Of each pair, [0] is at all speeds, [1] at the speeds of the timing line; crank
// degrees.
type camEdges struct {
	// distance from its learnt place; way from the last active crank edge to it, and from it to the next
	place, after, before [2]sums.Mean
	margin, other        [2]quantity.Crank // least distance from an active crank edge, from one of the others
}

func newCams(l *wheel.Layout) cams {
	c := cams{within: track.CamWithin(l.Wheel)}
	for i := range c.edges {
		for j := range 2 {
			c.edges[i].margin[j], c.edges[i].other[j] = quantity.Crank(math.Inf(1)), quantity.Crank(math.Inf(1))
		}
	}
	return c
}

// edge adds the cam edge e, rising or falling, in the interval x.
func (c *cams) edge(l *wheel.Layout, x *track.Interval, e *track.Event) {
	which := wheel.Index(e.What == track.CamRises)
	want := l.Cam.At[which]
	if !l.Cam.On || !x.Numbered || x.Early || !x.Whole || !x.Trusted || math.IsNaN(float64(want)) {
		return
	}
	at := x.Curve.At(e.T)
	place := at - x.A.A + l.Pos[x.A.Vane]
	off := motion.Near(place-want, motion.Cycle)
	if quantity.Abs(off) > c.within {
		return
	}
	after, before := at-x.A.A, x.B.A-at
	other := quantity.Crank(math.Inf(1))
	onCycle := motion.Wrap(place, motion.Cycle)
	for _, o := range l.Other { // each at most half a cycle beyond the ends of the cycle
		d := quantity.Abs(onCycle - o)
		if d = min(d, quantity.Abs(d-motion.Cycle)); d < other {
			other = d
		}
	}
	q := &c.edges[which]
	for j := range 2 {
		if j == 1 && x.Speed < l.Facts.FitFrom {
			break
		}
		q.place[j].Add(float64(off))
		q.after[j].Add(float64(after))
		q.before[j].Add(float64(before))
		q.margin[j] = min(q.margin[j], after, before)
		q.other[j] = min(q.other[j], other)
	}
}
