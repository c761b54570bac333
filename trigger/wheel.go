package trigger

import (
	"fmt"

	"phasewright/engine"
	"phasewright/quantity"
)

// Side is which edge of a vane the active electrical edge belongs to.
type Side int

// The two sides of a vane in running direction.
const (
	Entering Side = iota // the vane's leading edge arrives at the pickup
	Leaving              // the vane's trailing edge leaves it
)

// String names the side.
func (s Side) String() string {
	if s == Leaving {
		return "leaving"
	}
	return "entering"
}

// ActiveSide says which side of the vane makes the active edge, from the level while a vane stands in the pickup and
// the electrical edge that the controller acts on: a level that is high in the vane rises as the vane enters.
func ActiveSide(highInVane, risingActive bool) Side {
	if highInVane == risingActive {
		return Entering
	}
	return Leaving
}

// Wheel is a vane wheel of the crank pickup: one vane a firing.
type Wheel struct {
	Firings *engine.Firings
	Widths  []quantity.Shaft // one a firing, in firing order
	Lead    quantity.Crank   // BTDC at which each cylinder's active edge arrives
	Active  Side
}

// Edges of the vane that belongs to the i-th firing: where it enters and where it leaves the pickup, on the cycle.
func (w Wheel) Edges(i int) (enter, leave engine.Position) {
	active := w.Firings.TDC(i).Add(-w.Lead)
	width := engine.ShaftToCrank(w.Widths[i])
	if w.Active == Entering {
		return active, active.Add(width)
	}
	return active.Add(-width), active
}

// ActiveEdge is where the i-th firing's active edge arrives on the cycle.
func (w Wheel) ActiveEdge(i int) engine.Position { return w.Firings.TDC(i).Add(-w.Lead) }

// Window is the crank angle between the i-th firing's vane leaving (or entering) and the next vane's nearest edge: the
// gap of metal. It is negative where vanes overlap.
func (w Wheel) Window(i int) quantity.Crank {
	n := w.Firings.Count()
	next := (i + 1) % n
	interval := w.Firings.Interval(i)
	if w.Active == Entering {
		return interval - engine.ShaftToCrank(w.Widths[i])
	}
	return interval - engine.ShaftToCrank(w.Widths[next])
}

// Validate reports a wheel whose vanes do not fit: each must be wider than nothing and leave a gap before the next.
func (w Wheel) Validate() error {
	if len(w.Widths) != w.Firings.Count() {
		return fmt.Errorf("%d vane widths for %d firings; give one a firing, in firing order", len(w.Widths),
			w.Firings.Count())
	}
	for i, width := range w.Widths {
		if !(width > 0) {
			return fmt.Errorf("vane %d is %v wide; measure the shaft degrees that it covers", i+1, width)
		}
	}
	for i := range w.Widths {
		if gap := w.Window(i); !(gap > 0) {
			return fmt.Errorf("vane after firing %d leaves no gap (%v of the crank to spare in an interval of %v); a "+
				"vane must be narrower than half the firing interval in shaft degrees", i+1, gap, w.Firings.Interval(i))
		}
	}
	return nil
}

// WrongEdge is the timing error if the controller acts on the other edge of the vane: 2·w crank degrees, early
// (positive) where the other edge comes sooner, late where it comes after.
func WrongEdge(width quantity.Shaft, active Side) quantity.Crank {
	if active == Entering { // the other edge is the trailing one, later by the vane's width
		return -engine.ShaftToCrank(width)
	}
	return engine.ShaftToCrank(width)
}

// CamMargin is the way, in crank degrees, from the cam edge at p to the nearest active crank edge: how far backlash and
// chain may move the cam signal before it counts for the wrong cylinder.
func (w Wheel) CamMargin(p engine.Position) quantity.Crank {
	least := quantity.Crank(engine.CycleDegrees)
	for i := range w.Firings.Count() {
		least = min(least, quantity.Abs(p.From(w.ActiveEdge(i))))
	}
	return least
}

// Rate is how many edges of one kind a second the crank pickup gives: N·n/120 for N vanes.
func Rate(vanes int, n quantity.Speed) float64 { return float64(vanes) * float64(n) / 120 }
