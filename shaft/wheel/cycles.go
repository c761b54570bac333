package wheel

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// cycles are the working cycles of the first stretch, from which places on the wheel are learnt. A cycle begins at the
// first active edge after a reference edge (of the cam, as a rule).
//
//	reference edges     ↓                       ↓
//	active edges     |    |     |     |     |     |     |
//	vane             3    0     1     2     3     0     1     a whole cycle of n = 4
type cycles struct {
	active []waveform.Second // the crank pickup's active edges
	n      int               // vanes in a cycle
	first  []int             // for each cycle: index into active of its first edge, vane 0
	whole  []bool            // for each cycle: it has exactly n active edges
	slow   waveform.Second   // median length: slower cycles have too much ripple of compression
	wide   waveform.Second   // 5 times that of the quickest 5 %: up to this, a change with speed is sought
}

// newCycles cuts the active edges into cycles of n vanes at the reference edges refs.
func newCycles(active, refs []waveform.Second, n int) *cycles {
	c := &cycles{active: active, n: n}
	for _, r := range refs {
		j, _ := slices.BinarySearch(active, r)
		if j < len(active) && (len(c.first) == 0 || j > c.first[len(c.first)-1]) {
			c.first = append(c.first, j)
		}
	}
	c.whole = make([]bool, len(c.first))
	var lengths []float64
	for i := 0; i+1 < len(c.first); i++ {
		if c.whole[i] = c.first[i+1]-c.first[i] == n; c.whole[i] {
			lengths = append(lengths, float64(c.length(i)))
		}
	}
	if len(lengths) > 0 {
		slices.Sort(lengths)
		c.slow = waveform.Second(sums.Median(lengths) * (1 + 1e-9))
		c.wide = max(c.slow, waveform.Second(5*lengths[len(lengths)/20]))
	}
	return c
}

func (c *cycles) length(i int) waveform.Second { return c.active[c.first[i+1]] - c.active[c.first[i]] }

// curve is the crank angle against time over cycle i, through passes of vane 0 alone, each 720° after the one before:
// so no other vane's error enters. ok is false where cycle i is not whole, is longer than longest, or has no whole one
// beside it.
func (c *cycles) curve(i int, longest waveform.Second) (motion.Curve, bool) {
	if !c.whole[i] || c.length(i) > longest {
		return motion.Curve{}, false
	}
	at := func(cycle int) motion.Point {
		return motion.Point{T: c.active[c.first[i+cycle]], A: quantity.Crank(cycle) * motion.Cycle}
	}
	points := []motion.Point{at(0), at(1)}
	if i > 0 && c.whole[i-1] {
		points = append(points, at(-1))
	}
	if i+2 < len(c.first) && c.whole[i+1] {
		points = append(points, at(2))
	}
	if len(points) == 2 && len(c.first) > 3 {
		return motion.Curve{}, false
	}
	return motion.Through(points...), true
}

// vanes are the median places of the n active edges over all cycles, vane 0 at nought, and the largest scatter of one
// of them; nil where there is no cycle of use, or where two places are nearer than metal can be.
func (c *cycles) vanes() (pos []quantity.Crank, rough quantity.Crank) {
	at := make([][]float64, c.n)
	for i := range c.first {
		curve, ok := c.curve(i, c.slow)
		for k := 0; ok && k < c.n; k++ {
			at[k] = append(at[k], float64(curve.At(c.active[c.first[i]+k])))
		}
	}
	if len(at[0]) == 0 {
		return nil, terms.NotStated
	}
	pos = make([]quantity.Crank, c.n)
	for k := 1; k < c.n; k++ {
		m, sd := sums.Spread(at[k])
		pos[k], rough = quantity.Crank(m), max(rough, quantity.Crank(sd))
		if !(pos[k] > pos[k-1]+terms.Closest) || !(pos[k] < motion.Cycle-terms.Closest) {
			return nil, terms.NotStated
		}
	}
	return pos, rough
}

// place is where one edge of any channel stood in its cycle.
type place struct {
	at   quantity.Crank
	vane int // the last vane before it
	n    quantity.Speed
}

// places are where edges at the times t stood, of those that fall into whole cycles no longer than longest.
func (c *cycles) places(t []waveform.Second, longest waveform.Second) []place {
	var out []place
	i, have := 0, -1
	var curve motion.Curve
	ok := false
	for _, x := range t {
		for i+1 < len(c.first) && c.active[c.first[i+1]] <= x {
			i++
		}
		if i+1 >= len(c.first) || x < c.active[c.first[i]] {
			continue
		}
		if have != i {
			curve, ok = c.curve(i, longest)
			have = i
		}
		if !ok {
			continue
		}
		k := 0
		for k+1 < c.n && c.active[c.first[i]+k+1] <= x {
			k++
		}
		out = append(out, place{curve.At(x), k, motion.Speed(motion.Cycle, c.length(i))})
	}
	return out
}

// middle is the median of places on a circle with the given period; NaN of none.
func middle(p []place, period quantity.Crank) quantity.Crank {
	if len(p) == 0 {
		return terms.NotStated
	}
	base := p[len(p)/2].at
	d := make([]float64, len(p))
	for i := range p {
		d[i] = float64(motion.Near(p[i].at-base, period))
	}
	return motion.Wrap(base+quantity.Crank(sums.Median(d)), period)
}

// atRest is the place that p comes to at speed nought, and its drift in degrees per rpm: a pickup with a delay shows an
// edge later the faster the shaft turns. Where speed hardly varied it is the median place without drift.
func atRest(p []place, period quantity.Crank) (at quantity.Crank, drift float64) {
	at = middle(p, period)
	if len(p) < 20 {
		return at, 0
	}
	c, ok := overSpeed(p, 10, func(q place) quantity.Crank { return motion.Near(q.at-at, period) }, 1.3)
	if !ok {
		return at, 0
	}
	return motion.Wrap(at+quantity.Crank(c[0]), period), c[1] / 1000
}

// overSpeed fits off(place), where it is smaller than most, by c₀ + c₁·x + c₂/x² with x in 1000 rpm. c₁ is a delay. c₂
// is the ripple of compression, which falls with the square of speed; it is fitted only where speed varied threefold.
// ok is false where speed varied by less than the factor varied.
func overSpeed(p []place, most quantity.Crank, off func(place) quantity.Crank, varied float64) (c [3]float64, ok bool) {
	var m sums.Moments
	lo, hi := math.Inf(1), 0.0
	for _, q := range p {
		x := float64(q.n) / 1000
		if d := off(q); quantity.Abs(d) < most {
			m.Add(x, 1/(x*x), float64(d))
		}
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	c, _, ok = m.Solve(sums.Basis{true, true, hi > 3*lo})
	return c, ok && hi > varied*lo
}
