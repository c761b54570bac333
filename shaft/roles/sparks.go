package roles

import (
	"math"
	"slices"

	"phasewright/shaft/terms"
	"phasewright/waveform"
)

// spark weighs whether channel x carries firings timed from the crank channel.
func (j *Judge) spark(x, crank, vanes int) float64 {
	key := [3]int{x, crank, vanes}
	v, ok := j.sparkFit[key]
	if !ok {
		v = j.weighSpark(x, crank, vanes)
		j.sparkFit[key] = v
	}
	return v
}

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
	case rate < 1.1 && tight < 0.03: // some are left out, as on the starter; those that come are timed
		v -= 0.5
	default:
		v -= 3
	}
	if width := math.Min(p.High, p.Low); width < 20e-6 || width > 20e-3 {
		v--
	}
	if rate > 0.85 { // one for each pulse: which of the two is timed from the other?
		const nothing = 1e-5
		least := -3.0
		if p.time() && k.metal() {
			least = -1 // which of them is metal is known already
		}
		v += 0.6 * math.Max(least, math.Min(3, math.Log((j.tight(x, crank, vanes)+nothing)/(tight+nothing))))
	}
	// at one speed, where a vane's width and a dwell look alike
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

// tight is how tightly any edge of channel b follows any of channel a: the least of follows, +Inf where it cannot be
// told. What fires once a cycle is compared from one firing to the next.
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
	echoWithin = 60e-6  // seconds from another channel's spark to what it makes a floating input do (assumed)
	echoShare  = 0.9    // of a floating input's pulses that come with one
	leastDwell = 0.3e-3 // seconds; a driver's pulse is longer
)

// findCrosstalk tells inputs with nothing connected: they change only when another channel's spark jumps. A clamp on
// one wire does so too, but with the same firings of a cycle, and each of those; crosstalk comes and goes, or comes
// with the sparks of all cylinders. A clamp that sees all cylinders beside a driver that does is told by its name
// alone; it would tell nothing that the driver does not.
func (j *Judge) findCrosstalk() {
	for _, x := range j.who {
		p := j.ps[x]
		if j.stated(x) != "" {
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
				all := p.Named != terms.Spark && math.Min(q.High, q.Low) > leastDwell && 2*len(pulse) > len(spark)
				if all || irregular(pulse, spark) {
					j.crosstalk[x] = y
				}
			}
		}
	}
}

// irregular says that pulses do not come with every n-th of the sparks, whatever n.
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
