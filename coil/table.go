package coil

import (
	"fmt"
	"math"
	"sort"

	"phasewright/quantity"
)

// CurvePoint is a point of a table L(i), with L = dλ/di at the current.
type CurvePoint struct {
	Current    quantity.Current
	Inductance quantity.Inductance
}

// FluxPoint is a point of a table of flux linkage (Wb = V·s) against current.
type FluxPoint struct {
	Current quantity.Current
	Flux    float64
}

// Table is a curve made of pieces, on each of which L = c + m·i: a Curve has L on a broken line, a flux table has L in steps. Past its last
// point L stays what it was there, and results carry the mark Beyond.
type Table struct {
	pieces []piece
	known  float64
	words  string
}

// piece is one stretch with L = c + m·i, and the flux and energy at its foot.
type piece struct {
	from, c, m   float64
	flux, stored float64
}

// rise is how much measured inductance may rise between points before the table is refused: the scatter of a bridge reading, assumed.
const rise = 0.03

// NewCurve makes L(i) a broken line through the points, which must stand in order of rising current with L above zero and not rising
// (by more than 3 %, the scatter of a reading): iron saturates. From zero current to the first point L is what it is there.
func NewCurve(points []CurvePoint) (*Table, error) {
	const field, remedy = "coil.curve", "write at least two points {current, inductance}, current rising, inductance falling"
	if len(points) < 2 {
		return nil, quantity.Bad(field, remedy, "%d points are no curve", len(points))
	}
	for k, p := range points {
		at := fmt.Sprintf("%s[%d]", field, k+1)
		switch {
		case !(p.Current >= 0) || math.IsInf(float64(p.Current), 0):
			return nil, quantity.Bad(at, remedy, "current %v is below zero or no number", p.Current)
		case !(p.Inductance > 0) || math.IsInf(float64(p.Inductance), 0):
			return nil, quantity.Bad(at, remedy, "inductance %v is not above zero", p.Inductance)
		case k > 0 && p.Current <= points[k-1].Current:
			return nil, quantity.Bad(at, remedy, "current %v does not rise past %v before it", p.Current, points[k-1].Current)
		case k > 0 && float64(p.Inductance) > float64(points[k-1].Inductance)*(1+rise):
			return nil, quantity.Bad(at, remedy, "inductance rises from %v to %v", points[k-1].Inductance, p.Inductance)
		}
	}
	last := points[len(points)-1]
	t := &Table{known: float64(last.Current), words: fmt.Sprintf("L(i) by a table of %d points up to %v", len(points), last.Current)}
	if points[0].Current > 0 {
		t.add(0, float64(points[0].Inductance), 0)
	}
	for k, p := range points[:len(points)-1] {
		q := points[k+1]
		m := float64(q.Inductance-p.Inductance) / float64(q.Current-p.Current)
		t.add(float64(p.Current), float64(p.Inductance)-m*float64(p.Current), m)
	}
	t.add(float64(last.Current), float64(last.Inductance), 0)
	return t, nil
}

// NewFluxTable makes λ(i) a broken line from the origin through the points, current and flux rising and no piece steeper than the one before it
// by more than 3 %.
func NewFluxTable(points []FluxPoint) (*Table, error) {
	const field, remedy = "coil.flux", "write at least one point {current, flux} above zero, both rising, each piece flatter than the last"
	if len(points) > 0 && points[0] == (FluxPoint{}) {
		points = points[1:]
	}
	if len(points) < 1 {
		return nil, quantity.Bad(field, remedy, "there are no points")
	}
	t := &Table{}
	var from FluxPoint
	for k, p := range points {
		at := fmt.Sprintf("%s[%d]", field, k+1)
		if !(p.Current > from.Current) || !(p.Flux > from.Flux) || math.IsInf(float64(p.Current)+p.Flux, 0) {
			return nil, quantity.Bad(at, remedy, "%v, %g Wb does not rise past %v, %g Wb", p.Current, p.Flux, from.Current, from.Flux)
		}
		l := (p.Flux - from.Flux) / float64(p.Current-from.Current)
		if k > 0 && l > t.pieces[k-1].c*(1+rise) {
			return nil, quantity.Bad(at, remedy, "inductance rises from %v to %v", quantity.Inductance(t.pieces[k-1].c), quantity.Inductance(l))
		}
		t.add(float64(from.Current), l, 0)
		from = p
	}
	t.known = float64(from.Current)
	t.words = fmt.Sprintf("flux linkage by a table of %d points up to %v", len(points), from.Current)
	return t, nil
}

func (t *Table) add(from, c, m float64) {
	p := piece{from: from, c: c, m: m}
	if n := len(t.pieces); n > 0 {
		q := t.pieces[n-1]
		p.flux, p.stored = q.fluxAt(from), q.storedAt(from)
	}
	t.pieces = append(t.pieces, p)
}

func (p piece) fluxAt(i float64) float64 { return p.flux + (i-p.from)*(p.c+p.m*(i+p.from)/2) }

func (p piece) storedAt(i float64) float64 {
	return p.stored + p.c*(i*i-p.from*p.from)/2 + p.m*(i*i*i-p.from*p.from*p.from)/3
}

// seconds on one piece: ∫ (c+m·i)/(v−r·i) di = [(c + m·v/r)·ln((v−r·i0)/(v−r·i1)) − m·Δi]/r.
func (p piece) seconds(i0, i1, v, r float64) float64 {
	log := -math.Log1p(-r * (i1 - i0) / (v - r*i0))
	return ((p.c+p.m*v/r)*log - p.m*(i1-i0)) / r
}

func (t *Table) at(i float64) int {
	return max(sort.Search(len(t.pieces), func(k int) bool { return t.pieces[k].from > i })-1, 0)
}

// Inductance is L on the piece that holds i; at a step of a flux table, the piece above.
func (t *Table) Inductance(i quantity.Current) quantity.Inductance {
	p := t.pieces[t.at(float64(i))]
	return quantity.Inductance(p.c + p.m*float64(i))
}

// Flux is the sum over the pieces below i.
func (t *Table) Flux(i quantity.Current) float64 {
	return t.pieces[t.at(float64(i))].fluxAt(float64(i))
}

// Stored is ∫ i·L di over the pieces below i.
func (t *Table) Stored(i quantity.Current) quantity.Energy {
	return quantity.Energy(t.pieces[t.at(float64(i))].storedAt(float64(i)))
}

// Known is the current of the last point.
func (t *Table) Known() quantity.Current { return quantity.Current(t.known) }

func (t *Table) String() string { return t.words }

func (t *Table) seconds(i0, i1, v, r float64) float64 {
	sum := 0.0
	for k := t.at(i0); k < len(t.pieces); k++ {
		end := i1
		if k+1 < len(t.pieces) {
			end = min(end, t.pieces[k+1].from)
		}
		if end > i0 {
			sum += t.pieces[k].seconds(i0, end, v, r)
			i0 = end
		}
		if i0 >= i1 {
			break
		}
	}
	return sum
}
