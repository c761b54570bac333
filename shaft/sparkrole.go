package shaft

import (
	"math"
	"sort"
)

// spark weighs whether channel x carries firings timed from the crank channel.
func (c *casting) spark(x, crank, vanes int) float64 {
	key := [3]int{x, crank, vanes}
	v, ok := c.fit[key]
	if !ok {
		v = c.weighSpark(x, crank, vanes)
		c.fit[key] = v
	}
	return v
}

func (c *casting) weighSpark(x, crank, vanes int) float64 {
	p, k := c.ps[x], c.ps[crank]
	v := 0.3 + c.own(p, Spark)
	rate := rateBetween(k.rise, p.rise)
	fits := false
	for _, q := range []float64{1, 0.5, 1 / float64(vanes), 2 / float64(vanes)} {
		fits = fits || math.Abs(rate/q-1) < 0.15
	}
	if !fits {
		v -= 3
	}
	width := math.Min(p.high, p.low)
	if width < 20e-6 || width > 20e-3 {
		v--
	}
	if rate > 0.85 {
		v += c.timed(x, crank, vanes)
	}
	switch {
	case p.beganLate > k.beganLate+1e-6:
		v += 0.3
	case p.rise[0] < k.rise[0]-2*k.period:
		v -= 3 // no controller fires before it has seen an edge
	}
	return v
}

// timed is whether channel x, with a pulse for each of the crank channel, is timed from that (above nought) or the other way round.
func (c *casting) timed(x, crank, vanes int) float64 {
	there, back := c.closest(crank, x, vanes), c.closest(x, crank, vanes)
	const nothing = 1e-5
	return 0.6 * math.Max(-3, math.Min(3, math.Log((back+nothing)/(there+nothing))))
}

// closest is how tightly any edge of channel b follows any of channel a: the least of follows.
func (c *casting) closest(a, b, vanes int) float64 {
	key := [3]int{a, b, vanes}
	least, ok := c.near[key]
	if !ok {
		least = math.Inf(1)
		for _, from := range [][]float64{c.ps[a].rise, c.ps[a].fall} {
			for _, to := range [][]float64{c.ps[b].rise, c.ps[b].fall} {
				least = math.Min(least, orInf(follows(from, to, vanes)))
			}
		}
		c.near[key] = least
	}
	return least
}

func orInf(v float64) float64 {
	if math.IsNaN(v) {
		return math.Inf(1)
	}
	return v
}

// rateBetween is how many of b come for one of a while both run.
func rateBetween(a, b []float64) float64 {
	if len(a) < 2 || len(b) < 2 {
		return 0
	}
	lo, hi := math.Max(a[0], b[0]), math.Min(a[len(a)-1], b[len(b)-1])
	na, nb := within(a, lo, hi), within(b, lo, hi)
	if na < 2 {
		return 0
	}
	return float64(nb) / float64(na)
}

func within(t []float64, lo, hi float64) int {
	return sort.SearchFloat64s(t, math.Nextafter(hi, math.Inf(1))) - sort.SearchFloat64s(t, lo)
}
