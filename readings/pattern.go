package readings

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Pattern is what a constant timing error of a certain size is known for. Turning the housing for it would hide the
// fault.
type Pattern struct {
	Because string
	Look    string // what to look at first
}

// PhasingLeaves is the largest constant error, crank degrees, that phasing the housing with a lamp leaves (common
// practice: one degree of the shaft). Twice as much was not left by phasing: something moved, or the mark is wrong.
const PhasingLeaves = quantity.Crank(2)

// nearPattern is how near to a whole step an error must lie, crank degrees, beside its own U.
const nearPattern = 1.0

// Steps are the sizes of error that an engine makes by itself when something is put together wrongly, crank degrees.
type Steps struct {
	Vanes   []float64 // widths of the vanes: the other edge is active
	Tooth   float64   // one tooth of the gear; 0: no gear
	Spacing float64   // between firings, where all are alike; 0: they are not
}

// StepsOf are the steps of a card's engine.
func StepsOf(card *jobcard.Card) Steps {
	var s Steps
	for _, vane := range card.Signals.Crank.Vanes {
		s.Vanes = append(s.Vanes, float64(engine.ShaftToCrank(vane)))
	}
	if z := card.Distributor.GearTeeth; z > 0 {
		s.Tooth = engine.CycleDegrees / float64(z)
	}
	if n := card.Engine.Cylinders; n > 1 {
		s.Spacing = engine.CycleDegrees / float64(n)
	}
	for _, v := range card.Engine.Intervals {
		if v != card.Engine.Intervals[0] {
			s.Spacing = 0
		}
	}
	return s
}

func (s Steps) known() bool { return len(s.Vanes) > 0 || s.Tooth > 0 || s.Spacing > 0 }

// PatternOf is the pattern that an error b with its U shows; nil where it may be what phasing left, or where no card
// told the steps.
func (s Steps) PatternOf(b, u float64) *Pattern {
	size := math.Abs(b)
	if !s.known() || size-u <= float64(2*PhasingLeaves) {
		return nil
	}
	is := func(step float64) bool { return step > 0 && math.Abs(size-step) <= math.Max(nearPattern, u) }
	whole := func(step float64) float64 { return step * math.Max(1, math.Round(size/step)) }
	show := quantity.Degrees(size, 1)
	for _, vane := range s.Vanes {
		if is(vane) {
			return &Pattern{fmt.Sprintf("%s is the width of a vane. Most likely the controller acts on the other "+
				"edge", show),
				"look at the pickup's lamp at rest, against the active edge in the controller. Do not turn anything " +
					"yet"}
		}
	}
	switch {
	case s.Tooth > 0 && is(whole(s.Tooth)):
		return &Pattern{fmt.Sprintf("%s is a whole number of teeth. Most likely the unit sits a tooth out", show),
			"bring No. 1 to its mark. See where the rotor points. Do not turn anything yet"}
	case s.Spacing > 0 && is(whole(s.Spacing)):
		return &Pattern{fmt.Sprintf("%s is a whole number of firing intervals. Most likely it is the wrong wire or "+
			"tower", show),
			"look which wire goes where, and where the rotor points at No. 1's mark. Do not turn anything yet"}
	}
	return &Pattern{fmt.Sprintf("%s is more than phasing with a lamp leaves. Something moved, or the zero mark is "+
		"wrong", show),
		"prove the zero mark with the piston stop, then phase with the lamp again. Before that, do not turn " +
			"anything yet"}
}
