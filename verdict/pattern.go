package verdict

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Pattern is what a constant timing error of a certain size is known for. Turning the housing for it would hide the fault.
type Pattern struct {
	Because string
	Look    string // what to look at first
}

// PhasingLeaves is the largest constant error, crank degrees, that phasing the housing with a lamp leaves (common practice: one degree of
// the shaft). Twice as much was not left by phasing: something moved, or the mark is wrong.
const PhasingLeaves = quantity.Crank(2)

// nearPattern is how near to a whole step an error must lie, crank degrees, beside its own U.
const nearPattern = 1.0

// PatternOf is the pattern that an error b with its U shows on this engine; nil where it may be what phasing left.
func PatternOf(b, u float64, card *jobcard.Card) *Pattern {
	size := math.Abs(b)
	if size-u <= float64(2*PhasingLeaves) {
		return nil
	}
	is := func(step float64) bool { return step > 0 && math.Abs(size-step) <= math.Max(nearPattern, u) }
	if card != nil {
		for _, vane := range card.Signals.Crank.Vanes {
			if w := float64(engine.ShaftToCrank(vane)); is(w) {
				return &Pattern{fmt.Sprintf("%s is the width of a vane: the controller acts on the other edge, most likely", quantity.Degrees(size, 1)),
					"look at the pickup's lamp at rest against the active edge in the controller; do not turn anything yet"}
			}
		}
		if z := card.Distributor.GearTeeth; z > 0 && is(wholeSteps(size, engine.CycleDegrees/float64(z))) {
			return &Pattern{fmt.Sprintf("%s is a whole number of teeth: the unit sits a tooth out, most likely", quantity.Degrees(size, 1)),
				"bring No. 1 to its mark and see where the rotor points; do not turn anything yet"}
		}
		if n := card.Engine.Cylinders; n > 1 && even(card) && is(wholeSteps(size, engine.CycleDegrees/float64(n))) {
			return &Pattern{fmt.Sprintf("%s is a whole number of firing intervals: the wrong wire or tower, most likely", quantity.Degrees(size, 1)),
				"look which wire goes where, and where the rotor points at No. 1's mark; do not turn anything yet"}
		}
	}
	return &Pattern{fmt.Sprintf("%s is more than phasing with a lamp leaves: something moved, or the zero mark is wrong", quantity.Degrees(size, 1)),
		"prove the zero mark with the piston stop, then phase with the lamp again; do not turn anything yet"}
}

// wholeSteps is the whole number of steps, at least one, that is nearest to size.
func wholeSteps(size, step float64) float64 { return step * math.Max(1, math.Round(size/step)) }

// even says that all firings are equally spaced.
func even(card *jobcard.Card) bool {
	for _, v := range card.Engine.Intervals {
		if v != card.Engine.Intervals[0] {
			return false
		}
	}
	return true
}
