package shaft

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/track"
	"phasewright/waveform"
)

// Where sparks fall on the shaft itself. The controller times from the last active edge. A worn drive or a loose
// bushing moves that edge, and the spark with it, so it cannot be seen in the controller's own terms. It is seen
// against a curve that leaves this edge out: the cubic through the two edges before it and the two after it.
//
//	edges       −2     −1      0      1      2       r: share of an interval that the spark waits
//	curve        ●──────●──────┼──────●──────●
//	spark                      ├ r ─▸●
const (
	scatterBins = 81
	scatterBin  = 0.1 // degrees
	// largest factor between the speeds of the four intervals: no cubic follows the moment when the starter lets go
	mostJump   = 1.2
	mostSpread = float64(scatterBins/2) * scatterBin

	// Of a long recording a part is enough: all of the first spreadAll cycles, then spreadOf of every spreadEvery. All
	// of them would take a sixth more time.
	spreadAll, spreadEvery, spreadOf = 4096, 32, 8
)

// shaftSpread adds up the places of sparks on that curve.
type shaftSpread struct {
	usual   float64 // running mean over all cylinders of the degrees from the nominal edge to the spark
	usualOf int
	vane    []vaneSpread
}

type vaneSpread struct {
	off  sums.Mean // degrees before the usual place
	wait sums.Mean // r, the share of the interval that the spark waits
	bins [scatterBins]int64
}

func newShaftSpread(n int) shaftSpread { return shaftSpread{vane: make([]vaneSpread, n)} }

// clear says that the two passes before pass x.I and the two after it are there and undisturbed, and that the speed
// does not jump among them.
func (s *observer) clear(x *track.Interval) bool {
	i, t := x.I, s.track
	if s.cycles >= spreadAll && s.cycles%spreadEvery >= spreadOf {
		s.spread.usualOf = 0
		return false
	}
	if i-2 < t.First || i+2 >= t.Head || !x.Trusted || s.l.Rough > 5 || s.l.N < 2 || x.Speed < s.l.Facts.FitFrom {
		return false
	}
	v := x.Speed
	for _, j := range [...]int64{i - 1, i, i + 2} {
		if w := t.At(j).Speed; v > mostJump*w || w > mostJump*v {
			return false
		}
	}
	return true
}

// without is the curve through the two passes before pass i and the two after it.
func (s *observer) without(i int64) motion.Curve {
	point := func(i int64) motion.Point { p := s.track.At(i); return motion.Point{T: p.T, A: p.A} }
	return motion.Through(point(i-2), point(i-1), point(i+1), point(i+2))
}

// fire adds a spark at t after pass a, on the curve c that leaves pass a out. late is by how much that vane stands
// behind its nominal place, waited is r, n the number of vanes.
func (s *shaftSpread) fire(c *motion.Curve, a *track.Pass, t waveform.Second, late quantity.Crank,
	waited float64, n int) {
	at := float64(c.At(t) - a.A + late)
	if s.usualOf > 2*n {
		q := &s.vane[a.Vane]
		d := s.usual - at
		q.off.Add(max(-mostSpread, min(mostSpread, d))) // a new advance commanded in one step is no scatter
		q.wait.Add(waited)
		q.bins[max(0, min(scatterBins-1, int(math.Round(d/scatterBin))+scatterBins/2))]++
	}
	if s.usualOf == 0 {
		s.usual = at
	}
	s.usualOf++
	s.usual += (at - s.usual) / float64(min(s.usualOf, 4*n))
}

// sd is the standard deviation of where the sparks after this vane fall on the shaft, degrees. What the scatter of the
// four edges on the curve adds is taken out; edges is the standard deviation of one. NaN where there are too few
// sparks.
//
// Let edge j be off by εⱼ, independently of the others. A spark that waits the share r of the last interval is then off
// by (1+r)·ε₀ − r·ε₋₁, and is measured against Σ wⱼ·εⱼ, where wⱼ are the Lagrange weights at r of the cubic through −2,
// −1, 1, 2. So the difference has the variance (w₋₂² + w₋₁² + 2·r·w₋₁ + w₁² + w₂²)·ε² beside that of ε₀ and ε₋₁ in the
// spark itself.
func (v *vaneSpread) sd(edges float64) float64 {
	if v.off.N < 10 {
		return math.NaN()
	}
	r := v.wait.Mean()
	w2, w1 := (1-r*r)*(r-2)/12, (r+2)*(r-1)*(r-2)/6
	n1, n2 := (r+2)*(r+1)*(2-r)/6, (r*r-1)*(r+2)/12
	added := w2*w2 + w1*w1 + 2*r*w1 + n1*n1 + n2*n2
	return math.Sqrt(math.Max(0, v.off.SD()*v.off.SD()-added*edges*edges))
}
