package cranking

import (
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Assumed is an engine and a starter with what no card holds and nobody measures; lengths, masses and speeds are left
// at nought.
func Assumed() (Engine, Starter) {
	return Engine{
		InletPressure: 0.97e5, Ambient: 1.013e5, CompressionIndex: 1.27, ExpansionIndex: 1.32, InletCloses: 55,
		ExhaustOpens: 55,
		Friction:     1.2e5, FrictionSlope: 22,
	}, Starter{Stiffness: 1.6, Reflected: 0.04}
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
	e.InletPressure = min(card.Engine.InletPressure, e.Ambient) * 0.96
	e.CrankingSpeed = card.Engine.CrankingSpeed
	return Setup{Engine: e, Starter: starter, Lead: card.Signals.Crank.Lead, Advance: advance}
}
