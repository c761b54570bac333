package cranking

import "phasewright/quantity"

// What no card holds of an engine on its starter. Constants says where each comes from and how far off it may be.
const (
	ambient          = 1.013e5 // Pa
	compressionIndex = 1.27
	expansionIndex   = 1.32
	inletCloses      = 55    // degrees after bottom dead centre
	exhaustOpens     = 55    // degrees before it
	blowdown         = 40    // degrees that the exhaust takes to let the pressure go
	friction         = 1.2e5 // Pa, mean friction pressure at standstill
	frictionSlope    = 22    // Pa more per rpm
	stiffness        = 1.6   // starter: no-load speed over mean cranking speed
	reflected        = 0.04  // kg·m², armature through the gear
	inletShare       = 0.96  // of the outside pressure: on the starter the engine asks for little air
	gasConstant      = 287.0 // J/(kg·K), dry air
	heatRatio        = 1.4   // of air
	chargeWarm       = 310.0 // K as compression begins

	inertiaUnknown = 2.0 // factor either way
	inertiaStated  = 1.3
	frictionSpread = 0.5
	speedSpread    = 0.2
	indexSpread    = 0.05
	inletSpread    = 0.06
	stiffest       = 1.3
	softest        = 2.2
	reflectedMost  = 0.08 // kg·m²
	leakMost       = 1.0  // mm² at a bore of 100 mm; by hand a leak-down of about a fifth through a 1 mm orifice
)

// InertiaConstants are how far an inertia may be off that the card states, and one that it leaves out.
func InertiaConstants() (stated, unknown quantity.Constant) {
	const light = "cranking_bias"
	return quantity.Assume("how far a stated inertia may be off", inertiaStated, 1.1, 1.5, "times either way", light),
		quantity.Assume("how far an assumed inertia may be off", inertiaUnknown, 1.5, 3, "times either way", light)
}

// Constants are the numbers that the light while cranking rests on and no card holds. A range is what the band is made
// of, or what might be argued where the band takes the value as it stands.
func Constants() []quantity.Constant {
	const light, handbook = "cranking_bias", "any handbook"
	assume := func(name string, value, low, high float64, unit string) quantity.Constant {
		return quantity.Assume(name, value, low, high, unit, light)
	}
	return []quantity.Constant{
		assume("outside pressure", ambient/1e5, 0.85, 1.04, "bar"),
		assume("polytropic index of compression", compressionIndex, compressionIndex-indexSpread,
			compressionIndex+indexSpread, ""),
		assume("polytropic index of expansion", expansionIndex, expansionIndex-indexSpread, expansionIndex+indexSpread,
			""),
		assume("inlet valve closes", inletCloses, 40, 75, "° after bottom"),
		assume("exhaust valve opens", exhaustOpens, 40, 75, "° before bottom"),
		assume("exhaust lets the pressure go in", blowdown, 20, 60, "°"),
		assume("friction pressure at standstill", friction/1e5, friction*(1-frictionSpread)/1e5,
			friction*(1+frictionSpread)/1e5, "bar"),
		assume("friction pressure for each rpm", frictionSlope, frictionSlope*(1-frictionSpread),
			frictionSlope*(1+frictionSpread), "Pa"),
		assume("starter's no-load speed", stiffness, stiffest, softest, "times the cranking speed"),
		assume("armature through the gear", reflected, 0, reflectedMost, "kg·m²"),
		assume("inlet pressure on the starter", inletShare, inletShare*(1-inletSpread), inletShare*(1+inletSpread),
			"of the card's"),
		assume("how far the cranking speed may be off", 100*speedSpread, 10, 30, "%"),
		assume("blow-by of one cylinder at a bore of 100 mm", 0, 0, leakMost, "mm²"),
		assume("charge as compression begins", chargeWarm, 270, 350, "K"),
		{Name: "gas constant of air", Value: gasConstant, Unit: "J/(kg·K)", Source: handbook, Where: []string{light}},
		{Name: "ratio of air's heat capacities", Value: heatRatio, Source: handbook, Where: []string{light}},
	}
}
