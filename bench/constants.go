package bench

import "phasewright/quantity"

// Limits of how an engine goes; Constants says how far off they may be.
const (
	// mm between rotor tip and terminal beyond the radial one: a spark is taken to suffer beyond reach, and to find any
	// path only with luck far beyond
	reach     = 1.5
	lost      = 4.5
	kicksFrom = 30  // degrees before TDC at which an engine on the starter is thrown back
	firesTo   = 60  // degrees from its own compression TDC at which a spark no longer fires its charge
	gasFrom   = 250 // and beyond which it meets the intake stroke or the exhaust

	leastCharge  = 0.6 // of the target current, under which a spark is too weak to rely on
	leastTrigger = 300 // µs, trigger of a spark box
)

// Constants are the numbers of the bench that what it foretells of an engine rests on, and so what suspects are weighed
// by.
func Constants() []quantity.Constant {
	const where = "suspects"
	return []quantity.Constant{
		quantity.Assume("gap beside the terminal that a spark still takes", reach, 1, 3, "mm", where),
		quantity.Assume("gap beside the terminal that loses half of the sparks", lost, 3, 8, "mm", where),
		quantity.Assume("advance at which an engine on the starter kicks back", kicksFrom, 20, 45, "°", where),
		quantity.Assume("farthest from TDC that a spark fires its charge", firesTo, 45, 90, "°", where),
		quantity.Assume("farthest from TDC before it meets intake or exhaust", gasFrom, 200, 300, "°", where),
		quantity.Assume("least charge of a spark to rely on", leastCharge, 0.4, 0.8, "of the target current", where),
		quantity.Assume("shortest trigger of a spark box", leastTrigger, 100, 1000, "µs", where),
	}
}
