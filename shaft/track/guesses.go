package track

import (
	"math"
	"slices"

	"phasewright/shaft/wheel"
	"phasewright/waveform"
)

// Which edge is which vane is explained by guesses. A guess takes each active edge for the next vane, the next but m
// (m are missing), or
// an extra pulse. It costs the sum of squared second differences of ln(speed), a measure of jerk that is free of
// scale, plus a charge for
// every missing and extra pulse. A start from rest at constant acceleration costs about 0.4 in all; a vane taken for
// missing that was
// there, or the other way round, 1.9 and more; the charge of 1 lies between. Combustion and cranking ripple of an
// even wheel leave equal
// intervals. The cheapest guesses are carried on side by side until all agree about an edge.
const (
	// An edge stands just where it should if the change of speed itself changes by no more than this factor: a second
	// difference of ln(speed) of 0.08. Ripple stays below 1.02.
	mostEven     = 1.0833
	leastEven    = 1 / mostEven
	costMissing  = 1.0
	costMore     = 0.25 // each further vane missing in a row
	costExtra    = 1.0
	costNarrow   = 0.05 // an edge taken for a vane whose pulse would be far too narrow
	mostMissing  = 4    // vanes missing in a row that are bridged
	lookAhead    = 6    // edges after which the cheapest guess must do
	tooDear      = 4.0  // guesses so much dearer than the cheapest are dropped
	mostGuesses  = 24   // kept, plus one for each vane at the start of an uneven wheel
	overreach    = 1.12 // an interval so many times what mostMissing vanes explain ends the run
	standstill   = 20   // seconds: a longer interval is standstill
	leastOfPulse = 0.35 // of a vane's width: a shorter pulse is crosstalk or noise, not metal
)

// crankEdge is an active edge with the other edge that began its pulse.
type crankEdge struct{ t, start waveform.Second }

// decision is what a guess makes of an edge.
type decision struct {
	crankEdge
	vane    int32
	missing int8 // vanes missing before this one; -1: an extra pulse
}

const extraPulse int8 = -1

// lastEdge is the state of a guess at its last accepted edge.
type lastEdge struct {
	t      waveform.Second
	v      float64 // degrees a second over the last interval
	change float64 // by what factor that is more than over the one before
	vane   int32
	known  int32 // intervals known, at most 2
}

type guess struct {
	lastEdge
	before lastEdge        // as it was before that edge
	from   waveform.Second // start of the first extra pulse since; −Inf: none
	cost   float64
	n      int32
	open   [lookAhead + 2]decision // not handed on yet
}

func (g *guess) push(d decision) {
	g.open[g.n] = d
	g.n++
}

// accept takes the edge as vane k at v degrees a second.
func (g *guess) accept(e crankEdge, k int32, v float64, missing int8) {
	g.before = g.lastEdge
	if g.known > 0 {
		g.change = v / g.v
	}
	g.t, g.vane, g.v, g.known, g.from = e.t, k, v, min(g.known+1, 2), waveform.Second(math.Inf(-1))
	g.push(decision{e, k, missing})
}

// reconsider is the guess with its last accepted edge, the only one not handed on, taken for an extra pulse.
func (g *guess) reconsider() (guess, bool) {
	d := g.open[0]
	if g.n != 1 || d.missing != 0 || g.before.known < 2 || g.t != d.t {
		return guess{}, false
	}
	q := *g
	q.lastEdge, q.from = g.before, d.start
	q.before.known = 0
	q.cost += costExtra
	q.open[0] = decision{d.crankEdge, g.before.vane, extraPulse}
	return q, true
}

// began is where the state before an edge began, extra pulses since the last vane taken out.
func (g *guess) began(e crankEdge) waveform.Second {
	if g.from > waveform.Second(math.Inf(-1)) {
		return g.from
	}
	return e.start
}

// guesser carries the guesses.
type guesser struct {
	w *wheel.Wheel
	// pulses that end at vane k and last less than this share of its interval are too narrow
	leastLead []waveform.Second
	leastTail []waveform.Second // the same for the pulse that begins at vane k
	reach     []float64         // degrees from vane k that mostMissing missing vanes still explain
	live      []guess
	take      func(decision)           // what has become certain
	cut       func(at waveform.Second) // the run ended: the next edge came too late to be bridged
}

func newGuesser(w *wheel.Wheel) guesser {
	f := guesser{w: w, reach: make([]float64, w.N),
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

func (f *guesser) next(k int32) int32 { return int32(f.w.Next(int(k))) }

// tooNarrow reports whether, with the edge taken for the next vane dt after the last, the pulse before it or after
// the last one would be
// far too narrow for metal.
func (f *guesser) tooNarrow(g *guess, e crankEdge, next int32, dt waveform.Second) bool {
	start := g.began(e)
	return e.t-start < f.leastLead[next]*dt || start-g.t < f.leastTail[g.vane]*dt && start > g.t
}

// asDue reports whether the edge stands just where the next vane is due, so that no other explanation is weighed. jerk
// is by what factor the speed's change has changed.
func (f *guesser) asDue(g *guess, e crankEdge) (next int32, v, jerk float64, due bool) {
	dt := e.t - g.t
	if g.known < 2 || dt <= 0 {
		return 0, 0, 0, false
	}
	next = f.next(g.vane)
	v = float64(f.w.Step[next]) / float64(dt)
	jerk = v / (g.v * g.change)
	return next, v, jerk, jerk > leastEven && jerk < mostEven && !f.tooNarrow(g, e, next, dt)
}

// push takes the next active edge and hands on what has become certain.
func (f *guesser) push(e crankEdge) {
	if len(f.live) == 0 {
		f.begin(e)
		return
	}
	best := &f.live[0]
	if len(f.live) == 1 && best.n == 1 { // the usual case
		if k, v, _, due := f.asDue(best, e); due {
			d := best.open[0]
			best.n, best.cost = 0, 0
			best.accept(e, k, v, 0)
			f.take(d)
			return
		}
	}
	dt := e.t - best.t
	if dt <= 0 {
		return
	}
	if dt > standstill || best.known > 0 && float64(dt)*best.v > f.reach[best.vane] {
		f.flush()
		f.cut(e.t)
		f.begin(e)
		return
	}
	if len(f.live) == 1 { // the edge before, which looked well, may have been a stray just before this one
		if q, ok := best.reconsider(); ok {
			f.live = append(f.live, q)
		}
	}
	var all []guess
	for i := range f.live {
		all = f.branch(all, &f.live[i], e)
	}
	f.prune(all)
	f.settle()
}

func (f *guesser) begin(e crankEdge) {
	f.live = f.live[:0]
	starts := 1
	if f.w.Uneven {
		starts = f.w.N
	}
	for k := range starts {
		g := guess{from: waveform.Second(math.Inf(-1))}
		g.t, g.vane = e.t, int32(k)
		g.push(decision{e, int32(k), 0})
		f.live = append(f.live, g)
	}
}

func (f *guesser) branch(out []guess, g *guess, e crankEdge) []guess {
	dt := e.t - g.t
	if dt <= 0 {
		return append(out, *g)
	}
	if k, v, jerk, due := f.asDue(g, e); due {
		q := *g
		q.cost += squaredLog(jerk)
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

// prune keeps the cheapest guesses, cheapest first.
func (f *guesser) prune(all []guess) {
	slices.SortStableFunc(all, func(a, b guess) int {
		switch {
		case a.cost < b.cost:
			return -1
		case a.cost > b.cost:
			return 1
		}
		return 0
	})
	most := mostGuesses
	if f.w.Uneven {
		most += f.w.N
	}
	f.live = f.live[:0]
	for _, g := range all[:min(most, len(all))] {
		if g.cost > all[0].cost+tooDear {
			break
		}
		g.cost -= all[0].cost
		f.live = append(f.live, g)
	}
}

// settle hands on what all guesses agree about, and the cheapest one's oldest decision when it has waited long
// enough. The newest
// decision of a lone guess waits for one more edge: a stray just before a true edge looks well until then.
func (f *guesser) settle() {
	for f.live[0].n > 1 {
		d := f.live[0].open[0]
		other := func(g guess) bool { return g.open[0] != d }
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
		f.take(d)
	}
}

// flush hands on all that the cheapest guess holds; the next edge begins anew.
func (f *guesser) flush() {
	if len(f.live) == 0 {
		return
	}
	best := f.live[0]
	f.live = f.live[:0]
	for _, d := range best.open[:best.n] {
		f.take(d)
	}
}

// renumber makes vane k vane k + d.
func (f *guesser) renumber(d int) {
	move := func(k int32) int32 { return int32((int(k) + d) % f.w.N) }
	for i := range f.live {
		g := &f.live[i]
		g.vane, g.before.vane = move(g.vane), move(g.before.vane)
		for j := range g.open[:g.n] {
			g.open[j].vane = move(g.open[j].vane)
		}
	}
}
