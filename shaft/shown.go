package shaft

import "math"

// Where sparks fall on the shaft itself. The controller times from the last active edge, so what moves that edge alone, a worn drive or a loose bushing, moves
// the spark with it and cannot be seen in the controller's own terms. It is seen against a curve that leaves the edge out: the cubic through the two edges before
// and the two behind it.
const (
	shownAll   = 4096 // cycles at the beginning in which every firing is looked at
	shownEvery = 32   // then so many cycles of these
	shownBurst = 8
	mostJump   = 1.2 // of the speed from one interval to one of the three beside it
	mostShown  = float64(scatterBins/2) * scatterBin
)

// shownTrack gathers the places of sparks on such a curve.
type shownTrack struct {
	cycles  int64
	usual   float64 // running mean of the place after the nominal edge, all cylinders
	settled int
	vane    []shownVane
}

type shownVane struct {
	off  gathered // early of the usual place
	wait gathered // share of the interval that the spark waits
	bins [scatterBins]int64
}

// cycle tells that one is over.
func (s *shownTrack) cycle() {
	if s.cycles++; !s.looks() {
		s.settled = 0
	}
}

func (s *shownTrack) looks() bool {
	return s.cycles < shownAll || s.cycles%shownEvery < shownBurst
}

// fourth is the fourth divided difference through knots i−2 to i+2, where they are there and undisturbed, and the speed does not jump among them: no cubic
// follows a starter that lets go.
func (y *ledger) fourth(i int64) (float64, bool) {
	if i-2 < y.first || i+2 >= y.head || y.upset > 0 || y.w.rough > 5 || y.w.n < 2 {
		return 0, false
	}
	p, a, b, n := y.knot(i-1), y.knot(i), y.knot(i+1), y.knot(i+2)
	if most := mostJump * b.v; p.v > most || a.v > most || n.v > most || b.v > mostJump*p.v || b.v > mostJump*a.v || b.v > mostJump*n.v {
		return 0, false
	}
	return (n.third - b.third) / (n.t - y.knot(i-2).t), true
}

// looseness measures how far knot i stands from the cubic through the two edges on either side: scatter of the drive and the pickup. By the error formula of
// interpolation that is the fourth divided difference through all five times the distances in time from the other four.
func (y *ledger) looseness(i int64, fourth float64) {
	t := y.knot(i).t
	y.shape.loose.add(-fourth * (t - y.knot(i-2).t) * (t - y.knot(i-1).t) * (t - y.knot(i+1).t) * (t - y.knot(i+2).t))
}

// fire places the spark of the interval x, which stands own degrees after the nominal edge by the curve through all edges, on the cubic that leaves its edge out:
// both are the quartic through all five less its last term, so they differ by one product.
func (s *shownTrack) fire(y *ledger, x *stretchOf, own, waited, fourth float64) {
	t := x.sparks[0].t
	at := own + fourth*(t-y.knot(x.i-1).t)*(t-y.knot(x.i+1).t)*(t-y.knot(x.i+2).t)*(y.knot(x.i-2).t-x.a.t)
	if s.settled > 2*y.w.n {
		q := &s.vane[x.a.k]
		d := s.usual - at
		q.off.add(max(-mostShown, min(mostShown, d))) // what was commanded anew in one step is no scatter, and must not outweigh thousands of firings
		q.wait.add(waited / y.w.nomStep[x.a.k])
		q.bins[max(0, min(scatterBins-1, int(math.Round(d*(1/scatterBin)))+scatterBins/2))]++
	}
	if s.settled == 0 {
		s.usual = at
	}
	s.settled++
	s.usual += (at - s.usual) / float64(min(s.settled, 4*y.w.n))
}

// sd is the standard deviation of where the sparks after this vane fall, with what the four edges beside theirs add by their own scatter taken out; NaN where
// too few were seen.
//
// With edges that scatter independently, a spark that waits a share r of the last interval stands (1+r)·ε₀ − r·ε₋₁ off, and is measured against Σ wⱼ·εⱼ, where wⱼ are
// the weights of the cubic through −2, −1, 1, 2 at r (Lagrange).
func (v *shownVane) sd(edges float64) float64 {
	if v.off.n < 10 {
		return math.NaN()
	}
	r := v.wait.mean()
	w2, w1 := (1-r*r)*(r-2)/12, (r+2)*(r-1)*(r-2)/6
	n1, n2 := (r+2)*(r+1)*(2-r)/6, (r*r-1)*(r+2)/12
	added := w2*w2 + w1*w1 + 2*r*w1 + n1*n1 + n2*n2
	return math.Sqrt(math.Max(0, v.off.sd()*v.off.sd()-added*edges*edges))
}

// edgeScatter is the standard deviation of single active edges about smooth motion; NaN where too few were seen.
func (y *ledger) edgeScatter() float64 {
	if y.shape.loose.n <= 20 {
		return math.NaN()
	}
	return y.shape.loose.sd() / looseFactor
}
