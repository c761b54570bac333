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

// cycles are the stretches of one working cycle from which places are learnt.
type cycles struct {
	active []waveform.Second // the crank pickup's active edges
	n      int               // a cycle
	first  []int             // index into active of vane 0, one a reference edge
	whole  []bool            // exactly n active edges up to the next
	slow   waveform.Second   // longest cycle that counts: the slower half is left out, where the speed ripple is large
	wide   waveform.Second   // longest cycle where a change with speed is sought: a fifth of the greatest speed
}

// newCycles cuts the active edges at the reference edges.
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

// curve is θ(t) over whole cycle i through vane 0 alone, one cycle apart, so that no other vane's error enters. ok is
// false where cycle i is of no use.
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

// vanes are the median places of the n active edges, vane 0 at nought, and their spread; nil where there is no whole
// cycle.
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

// place is where an edge stands in its cycle.
type place struct {
	at   quantity.Crank
	vane int // the vane before it
	n    quantity.Speed
}

// places are the places of times t that fall into whole cycles of at most longest.
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

// middle is the median of places on a circle of the given period; NaN of none.
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

// atRest is the place that p tends to at no speed, and how it moves, degrees per rpm: a pickup that answers late moves
// it. Where speed hardly varied it is the median place, not moving.
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

// overSpeed fits what off gives for each place, where it is less than most, as c₀ + c₁·x + c₂/x² with x in 1000 rpm:
// the ripple of compression falls with the square of speed, and can be told from the rest where speed varied threefold.
// ok is false where it varied by less than the given factor.
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
