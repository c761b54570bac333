package shaft

import "math"

// timingTrack gathers what the line of timing error against speed needs, twice: below the speeds that enter the line by choice, and at them. parts joins the
// first set with the second, so that it holds all speeds.
//
// A row holds, for each of the two sets, the moments of the mark's distance from its learnt place on (1, x, 1/x²), and of the controller's wait
// on (1, x, x²), with x = n/1000 rpm, then y, yx, yx², yy of the same firings by the shaft's own angle. Behind both sets stand, again for each, the number
// of whole cycles and the sum of each vane's distance from its nominal place against vane 0: the learnt places rest on the first stretch alone,
// and what they are wrong by would shift the mark.
type timingTrack struct {
	vanes int
	g     *groups
	light gathered // on a firing beside its mark, below the lowest speed of the line: what a light shows less what the controller meant
	lowN  gathered
}

const (
	ownAt    = moments
	angleAt  = 2 * moments
	setWide  = 2*moments + 4
	runAt    = setWide
	rowsWide = 2 * setWide
)

func (g *timingTrack) init(vanes int) {
	g.vanes = vanes
	g.g = newGroups(rowsWide + 2*(1+vanes))
}

// parts are the rows that hold anything by the counting columns, with the first set grown to all speeds.
func (g *timingTrack) parts(counting ...int) [][]float64 {
	joined := *g.g
	joined.rows = nil
	for _, r := range g.g.rows {
		r = append([]float64(nil), r...)
		for i := range setWide {
			r[i] += r[runAt+i]
		}
		slow, run := r[vanesAt(g.vanes, 0):], r[vanesAt(g.vanes, 1):]
		for i := range 1 + g.vanes {
			slow[i] += run[i]
		}
		joined.rows = append(joined.rows, r)
	}
	return joined.parts(counting...)
}

// vaneRow gives where the places of the vanes in the cycle before the present one are summed, in the given set.
func (g *timingTrack) vaneRow(set int) []float64 {
	row := g.g.earlier()[vanesAt(g.vanes, set):]
	row[0]++
	return row[1 : 1+g.vanes]
}

func vanesAt(n, set int) int { return rowsWide + set*(1+n) }

// moved is how much the sums shift the mark against its distance as measured with the learnt places: the cubic weighs the four vanes around the mark.
func (y *ledger) moved(sum []float64, set int) float64 {
	v := sum[vanesAt(y.w.n, set):]
	cycles, n := v[0], y.w.n
	if cycles < 1 || n < 2 {
		return 0
	}
	wrong := make([]float64, n) // place found less place learnt
	mean := 0.0
	for k := range wrong {
		wrong[k] = v[1+k]/cycles - (y.w.pos[k] - y.w.nominal[k])
		mean += wrong[k] / float64(n)
	}
	total := 0.0
	for q := range 2 {
		at := wrap(y.p.mark.at+float64(q)*turn, cycle)
		k := n - 1 // the vane before the mark
		for j := range n {
			if wrap(at-y.w.nominal[j], cycle) < wrap(at-y.w.nominal[k], cycle) {
				k = j
			}
		}
		var a, e [4]float64
		for j := range a {
			i := (k - 1 + j + n) % n
			a[j] = near(y.w.nominal[i]-at, cycle)
			e[j] = wrong[i] - mean
		}
		if n < 4 {
			f := wrap(at-y.w.nominal[k], cycle) / y.w.nomStep[(k+1)%n]
			total += (1-f)*e[1] + f*e[2]
			continue
		}
		for i := range a {
			l := 1.0
			for j := range a {
				if j != i {
					l *= a[j] / (a[j] - a[i])
				}
			}
			total += l * e[i]
		}
	}
	return total / 2
}

func (g *timingTrack) cycle() { g.g.step() }

// fire takes a firing: own is the angle by the shaft, told the commanded advance.
func (g *timingTrack) fire(tr *ledger, v ownView, own, told float64) {
	x := v.n / 1000
	row := g.g.row()[runAt*bit(v.n >= tr.s.fitFrom):]
	y, a := v.y+told-tr.p.usual, own+told-tr.p.usual
	addMoments(row[ownAt:], x, x*x, y)
	r := row[angleAt : angleAt+4]
	r[0] += a
	r[1] += a * x
	r[2] += a * x * x
	r[3] += a * a
}

// mark takes a mark at t that stands d from its learnt place.
func (g *timingTrack) mark(tr *ledger, x *stretchOf, t, d float64) {
	s, fast := x.n/1000, x.n >= tr.s.fitFrom
	addMoments(g.g.row()[runAt*bit(fast):], s, 1/(s*s), d)
	if !fast {
		x.markT, x.markA = t, x.c.at(t)-d+tr.p.mark.drift*x.n
	}
}

// shown compares, at low speed, what a light on that wire shows with what the controller meant: the firing before a mark, placed by a curve through
// the mark itself and the vane's other edge, since compression bends the motion between active crank edges. It is called when the interval
// that holds the mark has been worked through.
func (g *timingTrack) shown(tr *ledger, x *stretchOf) {
	s := &tr.spark
	v, at, i := s.last, s.lastT, s.lastI
	otherT, otherA := s.lastOtherT, s.lastOtherA
	if x.fired > 0 && x.sparks[0].t < x.markT {
		at, i = x.sparks[0].t, x.i
		v = tr.own(x, at)
		otherT, otherA = tr.otherPlace(x)
	}
	if !v.ok || i < x.i-1 || i <= tr.first || at >= x.markT || math.IsNaN(otherT) {
		return // without the vane's other edge the motion is not known well enough
	}
	a := tr.knot(i)
	lead := x.markA - (a.a - (tr.w.pos[a.k] - tr.w.nominal[a.k]))
	if meant := lead - v.y; meant < -15 || meant > math.Min(70, x.b.a-x.a.a) { // its own mark is near after it
		return
	}
	tt, aa := [4]float64{a.t, x.markT, x.b.t, otherT}, [4]float64{a.a, x.markA, x.b.a, otherA}
	if i != x.i {
		tt[2], aa[2] = x.a.t, x.a.a
	}
	for p := range tt {
		for q := range p {
			if tt[p] == tt[q] {
				return
			}
		}
	}
	c := newCurve(&tt, &aa, 4)
	g.light.add(x.markA - c.at(at) - (lead - v.y))
	g.lowN.add(x.n)
}

// otherPlace is when the pickup's other edge came in the interval, and where it stands on the learnt wheel; NaN where it is not known.
func (y *ledger) otherPlace(x *stretchOf) (t, a float64) {
	o := y.w.other[x.a.k]
	if x.others != 1 || math.IsNaN(o) || !y.w.learnt || !y.w.firm {
		return math.NaN(), math.NaN()
	}
	return x.otherT, x.a.a + o - y.w.pos[x.a.k]
}
