package track

import (
	"math"
	"slices"

	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

// Which active edge is which vane is decided by hypotheses that are carried side by side (multiple hypothesis tracking,
// Reid 1979, from memory). A hypothesis takes each edge for the next vane, for the vane after m missing ones, or for an
// extra pulse:
//
//	edges                |     |     |           |     |
//	nothing missing      0     1     2           3     4     speed halves for one interval: 6·(ln 2)² = 2.9
//	one missing          0     1     2    (3)    4     5     speed stays: costMissing = 1
//
// Its cost is the sum of squared second differences of v = ln(speed) from one interval to the next, vᵢ − 2·vᵢ₋₁ + vᵢ₋₂,
// a measure of jerk that does not depend on the speed, plus a charge for every missing and every extra pulse. A start
// from rest at constant acceleration costs about 0.4 in all. A vane wrongly called missing, or one that is missing and
// wrongly called late, costs 1.9 or more. The charge of 1 lies between. An edge is decided as soon as all hypotheses
// that are still cheap agree about it.
const (
	// mostEven is the largest factor by which the change of speed may itself change for an edge to be taken for the
	// next vane without weighing anything else: a second difference of ln(speed) of 0.08. The ripple of compression and
	// combustion on an even wheel stays below a factor of 1.02.
	mostEven       = 1.0833
	leastEven      = 1 / mostEven
	costMissing    = 1.0
	costMore       = 0.25 // for each further vane missing in a row
	costExtra      = 1.0
	costNarrow     = 0.05 // for an edge taken for a vane though its pulse is far too narrow
	mostMissing    = 4    // with more vanes missing in a row the run ends
	lookAhead      = 6    // after so many edges the cheapest hypothesis decides
	mostDearer     = 4.0  // a hypothesis that costs so much more than the cheapest is dropped
	mostHypotheses = 24   // carried side by side; on an uneven wheel one more for each vane
	overreach      = 1.12 // an interval longer than this times what mostMissing missing vanes explain ends the run
	standstill     = 20   // seconds; a longer interval means that the shaft stood still
	leastOfPulse   = 0.35 // share of a vane's width; a shorter pulse is crosstalk or noise, not metal
)

// crankEdge is an active edge at t, with the time of the other edge that began the pulse which it ends.
type crankEdge struct{ t, start waveform.Second }

// decision is what a hypothesis takes an edge for.
type decision struct {
	crankEdge
	vane    int32
	missing int8 // vanes missing before this one; -1: an extra pulse
}

const extraPulse int8 = -1

// lastEdge is the state of a hypothesis at the last edge that it took for a vane.
type lastEdge struct {
	t      waveform.Second
	v      float64 // degrees a second over the last interval
	change float64 // the factor from the speed over the interval before to v
	vane   int32
	known  int32 // how many intervals v and change rest on: 0 neither is known, 1 v alone, 2 both
}

// hypothesis is one way to explain the active edges so far.
type hypothesis struct {
	lastEdge
	before lastEdge        // the state before that edge
	from   waveform.Second // when the first extra pulse since that edge began; −Inf: there was none
	cost   float64
	n      int32
	open   [lookAhead + 2]decision // its last n decisions, about edges that are not decided yet
}

func (g *hypothesis) push(d decision) {
	g.open[g.n] = d
	g.n++
}

// accept takes the edge e for vane k; v is the speed in degrees a second over the interval that
// it ends.
func (g *hypothesis) accept(e crankEdge, k int32, v float64, missing int8) {
	g.before = g.lastEdge
	if g.known > 0 {
		g.change = v / g.v
	}
	g.t, g.vane, g.v, g.known, g.from = e.t, k, v, min(g.known+1, 2), waveform.Second(math.Inf(-1))
	g.push(decision{e, k, missing})
}

// reconsider is a copy of g that takes its last vane for an extra pulse after all; false where that edge is decided
// already. Wanted where the next edge does not stand where it is due: a stray just before a true edge looks like the
// vane itself.
func (g *hypothesis) reconsider() (hypothesis, bool) {
	d := g.open[0]
	if g.n != 1 || d.missing != 0 || g.before.known < 2 || g.t != d.t {
		return hypothesis{}, false
	}
	q := *g
	q.lastEdge, q.from = g.before, d.start
	q.before.known = 0
	q.cost += costExtra
	q.open[0] = decision{d.crankEdge, g.before.vane, extraPulse}
	return q, true
}

// began is when the pulse that ends with edge e began. Extra pulses since the last vane count as part of it.
func (g *hypothesis) began(e crankEdge) waveform.Second {
	if g.from > waveform.Second(math.Inf(-1)) {
		return g.from
	}
	return e.start
}

// hypotheses decides which active edge is which vane.
type hypotheses struct {
	w *wheel.Wheel
	// leastLead is, for the pulse that ends with the active edge of vane k, the share of the interval up to it that it
	// must last not to be too narrow.
	leastLead []waveform.Second
	leastTail []waveform.Second // the same for the pulse that begins at vane k
	reach     []float64         // degrees from vane k on that mostMissing missing vanes can still explain
	live      []hypothesis
}

func newHypotheses(w *wheel.Wheel) hypotheses {
	f := hypotheses{w: w, reach: make([]float64, w.N),
		leastLead: make([]waveform.Second, w.N), leastTail: make([]waveform.Second, w.N)}
	for k := range w.N {
		for m := range mostMissing + 1 {
			f.reach[k] += overreach * float64(w.Step[(k+1+m)%w.N])
		}
		before := w.Before(k)
		if after := float64(w.OtherAfter(before)); !math.IsNaN(after) {
			share := math.Max(0, math.Min(1, 1-after/float64(w.Step[k])))
			f.leastLead[k] = waveform.Second(leastOfPulse * share)
			f.leastTail[before] = waveform.Second(leastOfPulse * (1 - share))
		}
	}
	return f
}

func (f *hypotheses) next(k int32) int32 { return int32(f.w.Next(int(k))) }

// tooNarrow reports whether a pulse would be far too narrow for metal if e were the next vane, dt after the last one:
// the pulse that ends with e, or the one that began with the last vane (see leastOfPulse).
func (f *hypotheses) tooNarrow(g *hypothesis, e crankEdge, next int32, dt waveform.Second) bool {
	start := g.began(e)
	return e.t-start < f.leastLead[next]*dt || start-g.t < f.leastTail[g.vane]*dt && start > g.t
}

// asDue reports whether the edge e stands where the next vane is due, within mostEven, so that nothing else is weighed.
// v is the speed over the interval that e would end.
func (f *hypotheses) asDue(g *hypothesis, e crankEdge) (next int32, v float64, due bool) {
	dt := e.t - g.t
	if g.known < 2 || dt <= 0 {
		return 0, 0, false
	}
	next = f.next(g.vane)
	v = float64(f.w.Step[next]) / float64(dt)
	steady := g.v * g.change
	return next, v, v > leastEven*steady && v < mostEven*steady && !f.tooNarrow(g, e, next, dt)
}

// push takes the next active edge and gives the track what is decided by it: edges to take, or a run to cut.
func (f *hypotheses) push(t *Track, e crankEdge) {
	if len(f.live) == 0 {
		f.begin(e)
		return
	}
	best := &f.live[0]
	if len(f.live) == 1 && best.n == 1 { // the usual case
		if k, v, due := f.asDue(best, e); due {
			d := best.open[0]
			best.n, best.cost = 0, 0
			best.accept(e, k, v, 0)
			t.take(d)
			return
		}
	}
	dt := e.t - best.t
	if dt <= 0 {
		return
	}
	if dt > standstill || best.known > 0 && float64(dt)*best.v > f.reach[best.vane] {
		f.flush(t)
		t.cut(e.t)
		f.begin(e)
		return
	}
	if len(f.live) == 1 { // the edge before, taken for a vane, may have been a stray just before this one
		if q, ok := best.reconsider(); ok {
			f.live = append(f.live, q)
		}
	}
	var all []hypothesis
	for i := range f.live {
		all = f.branch(all, &f.live[i], e)
	}
	f.prune(all)
	f.decide(t)
}

// begin starts a run at the edge e. On an even wheel its vane gets number 0; on an uneven one there is a hypothesis for
// each vane, and the intervals that follow decide.
func (f *hypotheses) begin(e crankEdge) {
	f.live = f.live[:0]
	starts := 1
	if f.w.Uneven {
		starts = f.w.N
	}
	for k := range starts {
		g := hypothesis{from: waveform.Second(math.Inf(-1))}
		g.t, g.vane = e.t, int32(k)
		g.push(decision{e, int32(k), 0})
		f.live = append(f.live, g)
	}
}

// branch appends to out what the hypothesis g becomes with the edge e: one hypothesis where e stands where it is due,
// else one for each number of missing vanes, and one in which e is an extra pulse.
func (f *hypotheses) branch(out []hypothesis, g *hypothesis, e crankEdge) []hypothesis {
	dt := e.t - g.t
	if dt <= 0 {
		return append(out, *g)
	}
	if k, v, due := f.asDue(g, e); due {
		q := *g
		q.cost += squaredLog(v / (g.v * g.change))
		q.accept(e, k, v, 0)
		return append(out, q)
	}
	k, angle, most := g.vane, 0.0, mostMissing
	if g.known == 0 {
		most = 0
	}
	for m := 0; m <= most; m++ {
		k = f.next(k)
		angle += float64(f.w.Step[k])
		v := angle / float64(dt)
		q := *g
		switch g.known {
		case 0:
		case 1:
			q.cost += 0.5 * squaredLog(v/g.v)
		default:
			q.cost += squaredLog(v / (g.v * g.change))
		}
		if m > 0 {
			q.cost += costMissing + costMore*float64(m-1)
		} else if g.known > 0 && f.tooNarrow(g, e, k, dt) {
			q.cost += costNarrow
		}
		q.accept(e, k, v, int8(m))
		out = append(out, q)
	}
	if g.known > 0 {
		q := *g
		q.cost += costExtra
		q.from = g.began(e)
		q.push(decision{e, g.vane, extraPulse})
		out = append(out, q)
	}
	return out
}

func squaredLog(factor float64) float64 {
	l := math.Log(factor)
	return l * l
}

// prune keeps the cheapest hypotheses, cheapest first, and counts costs from the cheapest on.
func (f *hypotheses) prune(all []hypothesis) {
	slices.SortStableFunc(all, func(a, b hypothesis) int {
		switch {
		case a.cost < b.cost:
			return -1
		case a.cost > b.cost:
			return 1
		}
		return 0
	})
	most := mostHypotheses
	if f.w.Uneven {
		most += f.w.N
	}
	f.live = f.live[:0]
	for _, g := range all[:min(most, len(all))] {
		if g.cost > all[0].cost+mostDearer {
			break
		}
		g.cost -= all[0].cost
		f.live = append(f.live, g)
	}
}

// decide gives the track the edges about which all hypotheses agree. Where they do not agree after lookAhead edges, the
// cheapest one decides. The newest edge always waits for one more: a stray just before a true edge looks like a vane
// until then.
func (f *hypotheses) decide(t *Track) {
	for f.live[0].n > 1 {
		d := f.live[0].open[0]
		other := func(g hypothesis) bool { return g.open[0] != d }
		if slices.ContainsFunc(f.live, other) {
			if f.live[0].n < lookAhead {
				return
			}
			f.live = slices.DeleteFunc(f.live, other)
		}
		for i := range f.live {
			g := &f.live[i]
			copy(g.open[:], g.open[1:g.n])
			g.n--
		}
		t.take(d)
	}
}

// flush decides all open edges as the cheapest hypothesis has them; the next edge begins a new run.
func (f *hypotheses) flush(t *Track) {
	if len(f.live) == 0 {
		return
	}
	best := f.live[0]
	f.live = f.live[:0]
	for _, d := range best.open[:best.n] {
		t.take(d)
	}
}

// renumber adds d to the number of every vane, around the wheel.
func (f *hypotheses) renumber(d int) {
	move := func(k int32) int32 { return int32((int(k) + d) % f.w.N) }
	for i := range f.live {
		g := &f.live[i]
		g.vane, g.before.vane = move(g.vane), move(g.before.vane)
		for j := range g.open[:g.n] {
			g.open[j].vane = move(g.open[j].vane)
		}
	}
}
