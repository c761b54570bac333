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

// What the live bench takes a battery, a starter and a controller to do; LiveConstants says how far off they may be.
const (
	heats        = 5.0     // K a second that a starter's winding warms while it turns an engine
	coolsIn      = 120.0   // s, time constant
	copper       = 0.00393 // 1/K, resistance of copper at 20 °C: IEC 60028
	windingShare = 0.4     // of the resistance of winding, cables and battery together
	drains       = 0.012   // V a second that cranking takes from a battery
	recoversIn   = 180.0   // s, time constant at rest
	longest      = 15.0    // s that a starter may be kept on: common practice says ten to fifteen
	restFor      = 60.0    // s of rest until it may be kept on as long again: common practice, a minute or two
	dropsOut     = 6.0     // V under which a controller loses its memory
	holdsUp      = 0.1     // s that its capacitors bridge
	overruns     = 1.3     // of the cranking speed, from which a pinion does not mesh any more
	chargesFrom  = 0.5     // of idle speed, from which the alternator holds the supply
	asksMore     = 0.4     // of the charge, that a full cylinder needs more than an idling one
	eyeParts     = 4.0     // degrees that two marks must lie apart to be read as two
	bothSeen     = 0.25    // share of the flashes that makes a second mark worth reading
	eyeTells     = 1.0     // degrees that the light must show off before anybody takes it for a fault
	seesRotor    = 6.0     // shaft degrees that a rotor tip is seen to stand off
	seesWild     = 0.02    // share of the flashes that is noticed elsewhere
	hearsMiss    = 0.05    // share of the sparks that light nothing from which an ear hears it
	stopDepth    = 0.14    // of the stroke that a piston stop holds the piston down
	highFrom     = 0.5     // of the redline, from which a reading counts as one at high speed
)

// LiveConstants are the numbers of the live bench that no source gives, and one that has.
func LiveConstants() []quantity.Constant {
	const where = "bench"
	return []quantity.Constant{
		quantity.Assume("winding of a starter warms by", heats, 3, 10, "K/s", where),
		quantity.Assume("time constant of a starter cooling", coolsIn, 60, 300, "s", where),
		quantity.Assume("share of the winding in the starter's whole resistance", windingShare, 0.2, 0.6, "", where),
		quantity.Assume("cranking takes from the battery", drains, 0.005, 0.04, "V/s", where),
		quantity.Assume("time constant of a battery recovering", recoversIn, 60, 600, "s", where),
		quantity.Assume("longest time on the starter", longest, 10, 30, "s", where),
		{Name: "copper's resistance grows by", Value: copper, Unit: "/K", Source: "IEC 60028", Where: []string{where}},
		quantity.Assume("rest after that", restFor, 60, 120, "s", where),
		quantity.Assume("supply under which a controller drops out", dropsOut, 4.5, 8, "V", where),
		quantity.Assume("time that its capacitors bridge", holdsUp, 0.03, 0.3, "s", where),
		quantity.Assume("a pinion does not mesh above", overruns, 1.1, 1.6, "of the cranking speed", where),
		quantity.Assume("speed from which the alternator charges", chargesFrom, 0.4, 0.9, "of idle", where),
		quantity.Assume("more charge that a full cylinder asks for", asksMore, 0.2, 0.8, "of the charge", where),
		quantity.Assume("distance at which an eye reads two marks", eyeParts, 2, 6, "°", where),
		quantity.Assume("share of flashes that makes a second mark", bothSeen, 0.15, 0.35, "of the flashes", where),
		quantity.Assume("error that an eye takes for a fault", eyeTells, 0.5, 2, "°", where),
		quantity.Assume("a rotor tip is seen to stand off by", seesRotor, 3, 10, "shaft °", where),
		quantity.Assume("share of flashes noticed elsewhere", seesWild, 0.01, 0.05, "of the flashes", where),
		quantity.Assume("share of misfires that an ear hears", hearsMiss, 0.02, 0.1, "of the sparks", where),
		quantity.Assume("piston stop holds the piston down by", stopDepth, 0.08, 0.3, "of the stroke", where),
		quantity.Assume("a high reading is taken from", highFrom, 0.4, 0.7, "of the redline", where),
	}
}

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
