package sheet

import (
	"math"
	"slices"
	"strings"

	"phasewright/coil"
	"phasewright/cranking"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Our own numbers that verdicts rest on; Constants says where each comes from and how far off it may be.
const (
	// half-widths of what the card says of the coil, or of what stands in for it
	assumedKept  = 0.1
	assumedStray = 0.25
	// what a coil may have of which the card says nothing
	poorKept                           = 0.45
	poorStray     quantity.Capacitance = 120e-12
	assumedBox                         = 0.15 // half-width of a box maker's figure without one
	enoughMargin                       = 1.2  // at the worst end of both bands: plug gaps grow as they wear
	leastGap      quantity.Length      = 0.4  // narrowest plug gap that is set
	dwellStep     quantity.Time        = 50   // of a proposed dwell
	weakCharge                         = 0.7  // of the target current
	shortCharge                        = 0.97
	fullSupply    quantity.Voltage     = 14.8
	fitOff                             = 0.05 // of the highest measured current
	enoughOverlap quantity.Shaft       = 2    // what should be left before tip and terminal part
	partedGap                          = 2    // times the air gap
	halfCentre                         = 0.5  // of what centring would leave
	muchLead      quantity.Crank       = 25
	sweepRate                          = 500.0 // rpm/s: a hand on the throttle, not a race
	halfTolerance                      = 0.5
	mostSpent                          = 0.6 // of the tolerance, before the first reading
	provenMark    quantity.Crank       = 0.2
	diameterLimit quantity.Length      = 0.5
	shortPulse    quantity.Time        = 200
	// margins of the cam edge to the nearest crank edge: below the first a worn drive loses sync now and then, below
	// the second it will
	camComfort quantity.Crank = 15
	camLeast   quantity.Crank = 5
	// what a compression test is read by; the ends of the ranges make the band that it gives. The exponent of the
	// squeeze on the starter lies below that of air, since heat is lost to the walls; the share of the stroke is what
	// is left as the inlet valve closes.
	testOutside, outsideLow, outsideHigh quantity.Pressure = 1.013e5, 0.85e5, 1.04e5
	testSqueeze, squeezeLow, squeezeHigh                   = 1.3, 1.2, 1.35
	testStroke, strokeLow, strokeHigh                      = 0.85, 0.7, 1.0
	// stopAngle is where a piston stop should touch: far enough down that the piston moves fast, near enough that the
	// marks stay on one side of the damper.
	stopAngle quantity.Crank = 45
)

// rule is a number of the sheet's own, and which cards it matters for; nil: all.
type rule struct {
	quantity.Constant
	when func(*jobcard.Card) bool
}

func coilStated(c *jobcard.Card) bool { return c.Ignition.Output != jobcard.SparkBox && c.Coil.Stated }

// coilUnmeasured says whether nobody gave one of the two figures that the secondary's voltage follows from.
func coilUnmeasured(c *jobcard.Card) bool {
	return coilStated(c) && (c.Assumed("coil.efficiency") || c.Assumed("coil.secondary_capacitance"))
}

func boxUnmeasured(c *jobcard.Card) bool {
	return c.Ignition.Output == jobcard.SparkBox && !c.Ignition.BoxVoltage.Stated
}

func pressureTested(c *jobcard.Card) bool { return c.Engine.CrankingPressure.Value > 0 }

func inertiaAssumed(c *jobcard.Card) bool { return c.Assumed("engine.inertia") }

func diameterAlone(c *jobcard.Card) bool { return !c.Damper.Diameter.Stated }

func rules() []rule {
	margins := []string{"spark_margin", "spark_cranking"}
	const common = "common practice"
	out := []rule{
		{quantity.Assume("half-width of the coil's efficiency", assumedKept, 0.05, 0.15, "",
			append([]string{"coil_heat"}, margins...)...), coilStated},
		{quantity.Assume("half-width of the secondary capacitance", 100*assumedStray, 15, 50, "%",
			margins...), coilStated},
		{quantity.Assume("efficiency of a poor coil", poorKept, 0.4, 0.5, "", margins...), coilUnmeasured},
		{quantity.Assume("capacitance of a long secondary", 1e12*float64(poorStray), 100, 150, "pF",
			margins...), coilUnmeasured},
		{quantity.Assume("half-width of the box maker's voltage", 100*assumedBox, 10, 25, "%",
			margins...), boxUnmeasured},
		{quantity.Assume("wires to read beside No. 1", mostWiresToRead, 2, 4, "", "wires_to_read"), nil},
		{quantity.Assume("margin that is enough", enoughMargin, 1.1, 1.5, "times", margins...), nil},
		{quantity.Assume("narrowest plug gap in use", float64(leastGap), 0.3, 0.6, "mm",
			"spark_margin").From(common), nil},
		{quantity.Assume("step of a proposed dwell", float64(dwellStep), 10, 100, "µs", "dwell_table",
			"dwell_held", "coil_charge"), nil},
		{quantity.Assume("weak charge", weakCharge, 0.6, 0.8, "of the target current",
			"coil_charge", "dwell_cranking"), nil},
		{quantity.Assume("charge that falls short", shortCharge, 0.95, 0.99, "of the target current",
			"coil_charge", "dwell_held"), nil},
		{quantity.Assume("highest charging supply", float64(fullSupply), 14.2, 15, "V",
			"driver_current").From(common), nil},
		{quantity.Assume("a point off the curve", fitOff, 0.03, 0.1, "of the highest current", "coil_fit"), nil},
		{quantity.Assume("least to spare before tip and terminal part", float64(enoughOverlap), 1, 4, "shaft °",
			"rotor_sweep"), nil},
		{quantity.Assume("gap of parted tip and terminal that still costs little", partedGap, 1.5, 3,
			"times the air gap", "rotor_sweep", "rotor_centre"), nil},
		{quantity.Assume("much off centre", halfCentre, 0.3, 0.7, "of what centring would leave",
			"rotor_centre"), nil},
		{quantity.Assume("lead that is more than needed", float64(muchLead), 15, 40, "°", "trigger_lead"), nil},
		{quantity.Assume("speed gained by a hand on the throttle", sweepRate, 200, 2000, "rpm/s",
			"acceleration"), nil},
		{quantity.Assume("share of the tolerance that one cause may take", halfTolerance, 0.3, 0.7, "",
			"true_tdc", "delay_at_redline", "mark_"), nil},
		{quantity.Assume("share of the tolerance that may be spent before the first reading", mostSpent, 0.5, 0.8, "",
			"provable"), nil},
		{quantity.Assume("zero mark proven by a piston stop", float64(provenMark), 0.1, 0.3, "°",
			"provable").From(common), nil},
		{quantity.Assume("half-width of a diameter stated without one", float64(diameterLimit), 0.2, 1, "mm",
			"mark_"), diameterAlone},
		{quantity.Assume("pulse that a slow pickup may miss", float64(shortPulse), 50, 500, "µs", "vanes"), nil},
		{quantity.Assume("comfortable margin of the cam edge", float64(camComfort), 10, 20, "°",
			"cam_window").From(common), nil},
		{quantity.Assume("least margin of the cam edge", float64(camLeast), 3, 8, "°",
			"cam_window").From(common), nil},
		{quantity.Assume("where a piston stop should touch", float64(stopAngle), 30, 60, "°",
			"piston_stop", "true_tdc"), nil},
		{quantity.Assume("outside pressure at a compression test", float64(testOutside)/1e5, float64(outsideLow)/1e5,
			float64(outsideHigh)/1e5, "bar", "cranking_pressure"), pressureTested},
		{quantity.Assume("exponent of compression at a compression test", testSqueeze, squeezeLow, squeezeHigh, "",
			"cranking_pressure"), pressureTested},
		{quantity.Assume("share of the stroke left as the inlet valve closes", testStroke, strokeLow, strokeHigh, "",
			"cranking_pressure"), pressureTested},
	}
	stated, unknown := cranking.InertiaConstants()
	out = append(out, rule{stated, func(c *jobcard.Card) bool { return !inertiaAssumed(c) }},
		rule{unknown, inertiaAssumed})
	for _, k := range coil.CapConstants() {
		out = append(out, rule{k, rotorSteers})
	}
	for _, k := range coil.PairConstants() {
		out = append(out, rule{k, sparksInPairs})
	}
	return out
}

// Constants are all numbers that an item of the sheet rests on and no card holds: the sheet's own, and those of the
// rooms that it asks.
func Constants() []quantity.Constant {
	var own []quantity.Constant
	for _, r := range rules() {
		own = append(own, r.Constant)
	}
	return slices.Concat(own, coil.Constants(), cranking.Constants())
}

func rotorSteers(c *jobcard.Card) bool { return c.Distributor.Use == jobcard.SparkAndSignal }

func sparksInPairs(c *jobcard.Card) bool { return c.Ignition.Coils == jobcard.CompanionPairs }

// constantsFor are those that matter for a card, in the units of its shop.
func constantsFor(c *jobcard.Card) []quantity.Constant {
	var out []quantity.Constant
	for _, r := range rules() {
		if r.when == nil || r.when(c) {
			out = append(out, r.Constant)
		}
	}
	out = slices.Concat(out, coil.Constants(), cranking.Constants())
	for i := range out {
		out[i] = c.Job.Units.Constant(out[i])
	}
	return out
}

// restsOn says whether an item rests on a constant. A name that ends in a stroke stands for all items that begin with
// it.
func restsOn(it *Item, k quantity.Constant) bool {
	return slices.ContainsFunc(k.Where, func(id string) bool {
		return id == it.ID || strings.HasSuffix(id, "_") && strings.HasPrefix(it.ID, id)
	})
}

// ownNumbers adds to an item's inputs the constants that it rests on.
func ownNumbers(it *Item, all []quantity.Constant) {
	if math.IsNaN(it.Value) && it.Verdict != Fine { // not worked out: it rests on nothing but what is missing
		return
	}
	it.Inputs = slices.Clip(it.Inputs) // items may share what they were worked from
	for _, k := range all {
		if restsOn(it, k) {
			it.Inputs = append(it.Inputs, Input{Path: k.Name, Value: k.String(), Assumed: k.Assumed()})
		}
	}
}
