package capture

import "math"

// timingTrack gathers what the line of timing error against speed needs, twice: all speeds, and those that enter the line by choice.
//
// A row holds, for each of the two sets, the moments of the mark's distance from its learnt place on (1, x, 1/x²), and of the controller's wait
// on (1, x, x²), with x = n/1000 rpm, then y, yx, yx², yy of the same firings by the shaft's own angle.
type timingTrack struct {
	g     *groups
	light welford // on a firing beside its mark, below the lowest speed of the line: what a light shows less what the controller meant
	lowN  welford
}

const (
	ownAt    = moments
	angleAt  = 2 * moments
	setWide  = 2*moments + 4
	runAt    = setWide
	rowsWide = 2 * setWide
)

func (g *timingTrack) init() { g.g = newGroups(rowsWide) }

func (g *timingTrack) cycle() { g.g.step() }

// fire takes a firing: own is the angle by the shaft, told the commanded advance.
func (g *timingTrack) fire(tr *tracker, v ownView, own, told float64) {
	x := v.n / 1000
	row := g.g.row()
	y, a := v.y+told-tr.p.usual, own+told-tr.p.usual
	for at := 0; at <= runAt; at += runAt {
		addMoments(row[at+ownAt:], x, x*x, y)
		r := row[at+angleAt:]
		r[0] += a
		r[1] += a * x
		r[2] += a * x * x
		r[3] += a * a
		if v.n < tr.s.fitFrom {
			break
		}
	}
}

// mark takes a mark at t that stands d from its learnt place.
func (g *timingTrack) mark(tr *tracker, x *stretchOf, t, d float64) {
	s := x.n / 1000
	row := g.g.row()
	addMoments(row, s, 1/(s*s), d)
	if x.n >= tr.s.fitFrom {
		addMoments(row[runAt:], s, 1/(s*s), d)
		return
	}
	g.shown(tr, x, t, x.c.at(t)-d+tr.p.mark.drift*x.n)
}

// shown compares, at low speed, what a light on that wire shows with what the controller meant: the firing before a mark, placed by a curve through
// the mark itself, since compression bends the motion between crank edges.
func (g *timingTrack) shown(tr *tracker, x *stretchOf, t, markA float64) {
	s := &tr.spark
	v, at, i := s.last, s.lastT, s.lastI
	if x.fired > 0 {
		at, i = x.sparks[0].t, x.i
		v = tr.own(x, at)
	}
	if !v.ok || i < x.i-1 || i <= tr.first {
		return
	}
	a := tr.knot(i)
	lead := markA - (a.a - (tr.w.pos[a.k] - tr.w.nominal[a.k]))
	if meant := lead - v.y; meant < -15 || meant > math.Min(70, x.b.a-x.a.a) || at >= t { // its own mark is near after it
		return
	}
	tt, aa := [4]float64{a.t, t, x.b.t}, [4]float64{a.a, markA, x.b.a}
	m := 3
	if i != x.i {
		tt[3], aa[3] = x.a.t, x.a.a
		m = 4
	}
	for p := range m {
		for q := range p {
			if tt[p] == tt[q] {
				return
			}
		}
	}
	c := newCurve(&tt, &aa, m)
	g.light.add(markA - c.at(at) - (lead - v.y))
	g.lowN.add(x.n)
}
