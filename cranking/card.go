package cranking

import (
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Assumed is an engine and a starter with what no card holds and nobody measures; lengths, masses and speeds are left
// at nought.
func Assumed() (Engine, Starter) {
	return Engine{
		InletPressure: 0.97e5, Ambient: ambient, CompressionIndex: compressionIndex, ExpansionIndex: expansionIndex,
		InletCloses: inletCloses, ExhaustOpens: exhaustOpens,
		Friction: friction, FrictionSlope: frictionSlope,
	}, Starter{Stiffness: stiffness, Reflected: reflected}
}

// FromCard sets up the engine of a job card with an advance commanded on the starter; what the card does not hold is
// Assumed.
func FromCard(card *jobcard.Card, advance quantity.Crank) Setup {
	e, starter := Assumed()
	e.Cylinders, e.Intervals = card.Engine.Cylinders, card.Engine.Intervals
	e.Bore, e.Stroke, e.Rod, e.PinOffset = card.Engine.Bore, card.Engine.Stroke, card.Engine.Rod, card.Engine.PinOffset
	e.CompressionRatio, e.Inertia, e.ReciprocatingMass = card.Engine.CompressionRatio, card.Engine.Inertia,
		card.Engine.ReciprocatingMass
	// On the starter the throttle is nearly shut but the engine asks for little air: near the outside pressure, never
	// above it.
	e.InletPressure = min(card.Engine.InletPressure, e.Ambient) * inletShare
	e.CrankingSpeed = card.Engine.CrankingSpeed
	return Setup{Engine: e, Starter: starter, Lead: card.Signals.Crank.Lead, Advance: advance}
}

// SpreadOf is how far what a card leaves open may lie from what is taken for it: an inertia that is stated is known
// better than one that nobody gave.
func SpreadOf(card *jobcard.Card) Spread {
	s := DefaultSpread()
	if !card.Assumed("engine.inertia") {
		s.Inertia = inertiaStated
	}
	return s
}
