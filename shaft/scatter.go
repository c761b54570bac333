package shaft

import (
	"math"

	"phasewright/quantity"
	"phasewright/shaft/motion"
	"phasewright/shaft/sums"
	"phasewright/shaft/track"
	"phasewright/waveform"
)

// Where sparks fall on the shaft itself. The controller times from the last active edge, so what moves that edge alone,
// a worn drive or a loose bushing, moves the spark with it and cannot be seen in the controller's own terms. It is seen
// against a curve that leaves the edge out: the cubic through the two edges before and the two behind it.
const (
	scatterBins = 81
	scatterBin  = 0.1 // degrees
	// of the speed from one interval to one of the three beside it: no cubic follows a starter that lets go
	mostJump   = 1.2
	mostSpread = float64(scatterBins/2) * scatterBin

	// Of long recordings a part is enough: all of the first cycles, then eight of every thirty-two. It is a sixth of
	// the time.
	spreadAll, spreadEvery, spreadOf = 4096, 32, 8
)

// shaftSpread gathers the places of sparks on such a curve.
type shaftSpread struct {
	usual   float64 // running mean of the place after the nominal edge, all cylinders
	usualOf int
	vane    []vaneSpread
}

type vaneSpread struct {
	off  sums.Mean // early of the usual place
	wait sums.Mean // share of the interval that the spark waits
	bins [scatterBins]int64
}

func newShaftSpread(n int) shaftSpread { return shaftSpread{vane: make([]vaneSpread, n)} }

// without is the curve through the two passes on either side of pass i, where they are there and undisturbed and the
// speed does not jump among them.
func (s *observer) without(x *track.Interval) (c motion.Curve, ok bool) {
	i, t := x.I, s.track
	if s.cycles >= spreadAll && s.cycles%spreadEvery >= spreadOf {
		s.spread.usualOf = 0
		return c, false
	}
	if i-2 < t.First || i+2 >= t.Head || !x.Trusted || s.l.Rough > 5 || s.l.N < 2 || x.Speed < s.l.Facts.FitFrom {
		return c, false
	}
	v := x.Speed
	for _, j := range []int64{i - 2, i - 1, i + 1} {
		if w := s.speedAt(j); v > mostJump*w || w > mostJump*v {
			return c, false
		}
	}
	point := func(i int64) motion.Point { p := t.At(i); return motion.Point{T: p.T, A: p.A} }
	return motion.Through(point(i-2), point(i-1), point(i+1), point(i+2)), true
}

// fire takes a spark at t, seen from pass a on the curve that leaves it out.
func (s *shaftSpread) fire(c *motion.Curve, a *track.Pass, t waveform.Second, late quantity.Crank,
	waited float64, n int) {
	at := float64(c.At(t) - a.A + late)
	if s.usualOf > 2*n {
		q := &s.vane[a.Vane]
		d := s.usual - at
		q.off.Add(max(-mostSpread, min(mostSpread, d))) // what was commanded anew in one step is no scatter
		q.wait.Add(waited)
		q.bins[max(0, min(scatterBins-1, int(math.Round(d/scatterBin))+scatterBins/2))]++
	}
	if s.usualOf == 0 {
		s.usual = at
	}
	s.usualOf++
	s.usual += (at - s.usual) / float64(min(s.usualOf, 4*n))
}

// sd is the standard deviation of where the sparks after this vane fall, with what the four edges beside theirs add by
// their own scatter taken out; NaN where too few were seen.
//
// With edges that scatter independently, a spark that waits a share r of the last interval stands (1+r)·ε₀ − r·ε₋₁ off,
// and is measured against Σ wⱼ·εⱼ, where wⱼ are the weights of the cubic through −2, −1, 1, 2 at r (Lagrange).
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
