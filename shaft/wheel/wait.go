package wheel

import (
	"math"
	"slices"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/waveform"
)

// wait is how a channel's edges come after the crank pickup's in the controller's own terms. A controller that sees one
// edge a firing waits T·(L−a)/S after it, T being its last interval and S the degrees of that. The edges that it makes
// so obey S·t/T = L − a + 6·n·τ·10⁻⁶; others obey no such line. The commanded advance a, where it is known, is added.
type wait struct {
	atRest  float64 // S·t/T + a at no speed, degrees; at the mean speed where speed did not vary enough
	delay   float64 // µs; NaN: speed did not vary enough
	uDelay  float64 // its standard uncertainty by scatter
	scatter float64 // standard deviation of single firings about the line
	change  float64 // median change from one cycle to the next: what acceleration does hardly shows
	speed   float64 // mean, rpm
	n       int
}

// waitOf fits the edges b after the crank pickup's edges a of one kind. Each place in the cycle has its own level, so
// that odd-fire intervals and bent vanes do not count as scatter.
func (l *Layout) waitOf(a, b []waveform.Second) wait {
	vanes := l.Assigned.Vanes
	w := wait{atRest: math.NaN(), delay: math.NaN(), uDelay: math.Inf(1), scatter: math.NaN()}
	step := motion.Cycle / float64(vanes)
	levels := make([]sums.Moments, vanes)
	last := make([]float64, vanes) // at each place in the cycle; 0: none
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
		if r := float64(next / took); r > 1.25 || r < 0.8 {
			continue // the shaft was not steady, or a pulse is missing
		}
		x, y := step/float64(took)/6, step*float64((t-a[j])/took)
		y += float64(l.Facts.Command(quantity.Speed(x)))
		levels[j%vanes].Add(x, 0, y)
		all.Add(x, 0, y)
		if old := last[j%vanes]; old != 0 {
			changes = append(changes, math.Abs(y-old))
		}
		last[j%vanes] = y
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
