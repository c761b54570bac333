package engine

import (
	"fmt"
	"math"

	"phasewright/quantity"
)

// CycleDegrees is the crank angle of one four-stroke cycle.
const CycleDegrees = 720

// Position is a place on the four-stroke cycle in crank degrees, 0 ≤ p < 720, in running direction; 0 is TDC firing of
// cylinder 1. It wraps; the difference of two positions is a quantity.Crank, which does not.
type Position float64

// At is the position a degrees after TDC firing of cylinder 1, wrapped onto the cycle.
func At(a quantity.Crank) Position {
	w := math.Mod(float64(a), CycleDegrees)
	if w < 0 {
		w += CycleDegrees
	}
	if w >= CycleDegrees { // −1e−17 + 720 rounds to 720
		w = 0
	}
	return Position(w)
}

// BeforeTDC is the position a degrees before TDC firing of cylinder 1.
func BeforeTDC(a quantity.Crank) Position { return At(-a) }

// Add moves p by a in running direction.
func (p Position) Add(a quantity.Crank) Position { return At(quantity.Crank(p) + a) }

// To is the way from p to q in running direction, 0 ≤ way < 720.
func (p Position) To(q Position) quantity.Crank { return quantity.Crank(At(quantity.Crank(q - p))) }

// From is the shorter way from q to p, −360 < way ≤ 360, positive where p comes after q.
func (p Position) From(q Position) quantity.Crank {
	d := quantity.Crank(At(quantity.Crank(p - q)))
	if d > CycleDegrees/2 {
		d -= CycleDegrees
	}
	return d
}

// Format prints the degrees on the cycle with the unit.
func (p Position) Format(s fmt.State, verb rune) { quantity.Crank(p).Format(s, verb) }

// ShaftToCrank turns shaft degrees into crank degrees: one shaft degree is two crank degrees on a four-stroke engine.
func ShaftToCrank(a quantity.Shaft) quantity.Crank { return quantity.Crank(2 * float64(a)) }

// CrankToShaft turns crank degrees into shaft degrees.
func CrankToShaft(a quantity.Crank) quantity.Shaft { return quantity.Shaft(float64(a) / 2) }
