package wheel

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/waveform"
)

// wait is how a channel's edges follow the crank pickup's, in the controller's own terms. A controller that sees one
// edge for each firing makes the spark a time t after it:
//
//	 edge          edge     spark
//	──|─────────────|────────|─────▸ time         t = T·(L − a)/S + τ
//	  ├──── T ──────┤── t ───┤
//
// T is the last interval and S its crank degrees, L the lead, a the commanded advance, τ the signal delay (trade sums,
// "what the controller can know"). So S·t/T + a = L + 6·n·τ·10⁻⁶, a straight line over the speed n of that interval.
// Edges that the controller does not make follow no such line.
type wait struct {
	atRest  float64 // S·t/T + a at speed nought, degrees; at the mean speed where speed varied too little
	delay   float64 // τ by the slope, µs; NaN: speed varied too little
	uDelay  float64 // its standard uncertainty by scatter, µs
	scatter float64 // standard deviation of single firings about the line, degrees
	change  float64 // median change of S·t/T from one cycle to the next, degrees: acceleration hardly shows in it
	speed   float64 // mean, rpm
	n       int
}

// waitOf fits the line to edges b that follow edges a of the crank pickup. Each vane has a level of its own, so that
// bent vanes do not count as scatter.
func (l *Layout) waitOf(a, b []waveform.Second) wait {
	vanes := l.Assigned.Vanes
	w := wait{atRest: math.NaN(), delay: math.NaN(), uDelay: math.Inf(1), scatter: math.NaN()}
	step := steps(a, vanes)
	levels := make([]sums.Moments, vanes)
	before := make([]float64, vanes) // y of the cycle before, by vane; 0: none yet
	var changes []float64
	var all sums.Moments
	j := 0
	if len(b) > 0 {
		at, _ := slices.BinarySearch(a, b[0])
		j = max(0, at-1)
	}
	for _, t := range b {
		for j+1 < len(a) && a[j+1] <= t {
			j++
		}
		if j < 1 || a[j] > t || j+1 >= len(a) {
			continue
		}
		took, next := a[j]-a[j-1], a[j+1]-a[j]
		last, coming := step[j%vanes], step[(j+1)%vanes]
		if slower := float64(next/took) * last / coming; slower > 1.25 || slower < 0.8 {
			continue // the shaft was not steady, or a pulse is missing
		}
		x, y := last/float64(took)/6, last*float64((t-a[j])/took)
		y += float64(l.Facts.Command(quantity.Speed(x)))
		levels[j%vanes].Add(x, 0, y)
		all.Add(x, 0, y)
		if old := before[j%vanes]; old != 0 {
			changes = append(changes, math.Abs(y-old))
		}
		before[j%vanes] = y
	}
	w.n, w.change = int(all.N), sums.Median(changes)
	if w.n < 4 {
		return w
	}
	var sxx, sxy, syy float64
	for _, m := range levels {
		if m.N > 0 {
			sxx += m.XX - m.X*m.X/m.N
			sxy += m.YX - m.X*m.Y/m.N
			syy += m.YY - m.Y*m.Y/m.N
		}
	}
	w.speed = all.X / all.N
	w.atRest = all.Y / all.N
	dof := math.Max(1, all.N-float64(vanes)-1)
	if sd := math.Sqrt(sxx / all.N); sd < 0.03*w.speed {
		w.scatter = math.Sqrt(math.Max(0, syy) / dof)
		return w
	}
	slope := sxy / sxx
	w.scatter = math.Sqrt(math.Max(0, syy-slope*sxy) / dof)
	w.delay, w.uDelay = slope/6e-6, w.scatter/math.Sqrt(sxx)/6e-6
	w.atRest -= slope * w.speed
	return w
}

// nearlyEven is the largest factor between two steps that a bent vane makes. The controller does not know of a bend, so
// such vanes count as even; steps farther apart are odd-fire (assumed). Of fewer cycles than leastCycles a change of
// speed may look like either.
const (
	nearlyEven  = 1.1
	leastCycles = 4
)

// steps are the crank degrees S up to each vane's edge from the edge before it. Each is the one before it times the
// median ratio of the two intervals' times. The ratios of a whole cycle multiply to one; where a change of speed makes
// it more or less, all share the correction. Nearly even steps, and those of few cycles, are taken as even.
func steps(edges []waveform.Second, vanes int) []float64 {
	ratios := make([][]float64, vanes) // by vane: the time after it over the time before it
	for j := 1; j+1 < len(edges); j++ {
		if before, after := edges[j]-edges[j-1], edges[j+1]-edges[j]; before > 0 && after > 0 {
			ratios[j%vanes] = append(ratios[j%vanes], float64(after/before))
		}
	}
	logs, few := make([]float64, vanes+1), false
	for k := range ratios {
		few = few || len(ratios[k]) < leastCycles
		logs[k+1] = logs[k] + math.Log(sums.Median(ratios[k]))
	}
	out, total := make([]float64, vanes), 0.0
	for k := range out {
		out[k] = math.Exp(logs[k] - logs[vanes]*float64(k)/float64(vanes))
		total += out[k]
	}
	even := few || slices.Max(out) <= nearlyEven*slices.Min(out)
	for k := range out {
		out[k] *= motion.Cycle / total
		if even {
			out[k] = motion.Cycle / float64(vanes)
		}
	}
	return out
}
