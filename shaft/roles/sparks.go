package roles

import (
	"math"
	"slices"

	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// spark gives points for channel x as a spark channel whose firings are timed from the crank channel.
func (j *Judge) spark(x, crank, vanes int) float64 {
	key := [3]int{x, crank, vanes}
	v, ok := j.sparkFit[key]
	if !ok {
		v = j.weighSpark(x, crank, vanes)
		j.sparkFit[key] = v
	}
	return v
}

// weighSpark works out what spark remembers: does x pulse as often as cylinders fire, is it timed tightly from the
// crank channel, does its pulse last as long as a spark's, does it begin after the crank signal?
func (j *Judge) weighSpark(x, crank, vanes int) float64 {
	p, k := j.ps[x], j.ps[crank]
	v := 0.3 + j.own(p, terms.Spark)
	rate := rateBetween(k.Rise, p.Rise)
	fits := false
	for _, q := range []float64{1, 0.5, 1 / float64(vanes), 2 / float64(vanes)} {
		fits = fits || math.Abs(rate/q-1) < 0.15
	}
	tight := j.tight(crank, x, vanes)
	switch {
	case fits:
	case rate < 1.1 && tight < 0.03: // some are left out, as on the starter; the others are timed
		v -= 0.5
	default:
		v -= 3
	}
	if width := math.Min(p.High, p.Low); width < 20e-6 || width > 20e-3 {
		v--
	}
	if rate > 0.85 { // a pulse for each crank pulse: which of the two is timed from the other?
		const nothing = 1e-5
		least := -3.0
		if p.time() && k.metal() {
			least = -1 // that one is metal and the other is not is known already
		}
		v += 0.6 * math.Max(least, math.Min(3, math.Log((j.tight(x, crank, vanes)+nothing)/(tight+nothing))))
	}
	// with one speed only, vane and dwell look alike: the card's dwell may tell
	if set := j.facts.Dwell / 1e3; set > 0 && !p.GrowthKnown {
		switch off := math.Min(math.Abs(math.Log(p.High/set)), math.Abs(math.Log(p.Low/set))); {
		case off < 0.03:
			v += ptCard
		case off > 0.5 && math.Min(p.High, p.Low) > 0.3e-3:
			v -= ptCard
		}
	}
	switch {
	case p.began > k.began+1e-6:
		v += 0.3
	case min(p.Rise[0], p.Fall[0]) < min(k.Rise[0], k.Fall[0])-waveform.Second(2*k.Period):
		v -= 3 // no controller fires before it has seen an edge
	}
	return v
}

// tight is how tightly channel b is timed from channel a: the least of follows over both kinds of edges of each, +Inf
// where there are too few. A channel that pulses once a cycle is compared from one pulse to the next.
func (j *Judge) tight(a, b, vanes int) float64 {
	stride := vanes
	if rateBetween(j.ps[a].Rise, j.ps[b].Rise)*float64(vanes) < 1.5 {
		stride = 1
	}
	key := [3]int{a, b, stride}
	least, ok := j.tightness[key]
	if !ok {
		least = math.Inf(1)
		for _, from := range [][]waveform.Second{j.ps[a].Rise, j.ps[a].Fall} {
			for _, to := range [][]waveform.Second{j.ps[b].Rise, j.ps[b].Fall} {
				if f := follows(from, to, stride); f < least {
					least = f
				}
			}
		}
		j.tightness[key] = least
	}
	return least
}

const (
	echoWithin = 60e-6  // seconds; crosstalk comes so soon after the spark that causes it (assumed)
	echoShare  = 0.9    // this share of a floating input's pulses comes with a spark
	leastDwell = 0.3e-3 // seconds; a driver's pulse is longer
)

// findCrosstalk finds inputs with nothing connected: they change only when a spark jumps on another channel. So does a
// clamp on one wire, but at the same firing of every cycle. Crosstalk comes and goes, or comes with the sparks of all
// cylinders. A clamp that shows all cylinders, beside a driver that does too, can be told from crosstalk by its name
// only; nothing is lost without it.
//
// The edge of a mark may also fall on edges of another channel: on sparks at TDC, or on vanes that leave the pickup
// there. But it grows with the period, as crosstalk does not, and of four cylinders or more it meets at most every
// second one.
func (j *Judge) findCrosstalk() {
	for _, x := range j.who {
		p := j.ps[x]
		if j.stated(x) != "" || p.metal() {
			continue
		}
		for _, y := range j.who {
			q := j.ps[y]
			if x == y || math.Min(p.High, p.Low) > 0.3*math.Min(q.High, q.Low) || len(p.Rise) < 6 {
				continue
			}
			pulse := p.Edges(p.NarrowHigh)
			for _, spark := range [][]waveform.Second{q.Rise, q.Fall} {
				if together(pulse, spark, echoWithin) <= echoShare {
					continue
				}
				all := p.Named != terms.Spark && math.Min(q.High, q.Low) > leastDwell && 3*len(pulse) > 2*len(spark)
				if all || irregular(pulse, spark) {
					j.crosstalk[x] = y
				}
			}
		}
	}
}

// irregular says that there is no n such that the pulses come with every n-th spark.
func irregular(pulse, spark []waveform.Second) bool {
	var steps []int
	last, k := -1, 0
	for _, t := range pulse {
		for k+1 < len(spark) && abs(spark[k+1]-t) <= abs(spark[k]-t) {
			k++
		}
		if last >= 0 {
			steps = append(steps, k-last)
		}
		last = k
	}
	if len(steps) < 5 {
		return false
	}
	slices.Sort(steps)
	middle, same := steps[len(steps)/2], 0
	for _, s := range steps {
		if s == middle {
			same++
		}
	}
	return float64(same) < 0.8*float64(len(steps))
}
