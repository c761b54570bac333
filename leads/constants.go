package leads

import (
	"phasewright/jobcard"
	"phasewright/quantity"
)

// What no card holds. All of it is assumed, or from memory of data sheets and standards, with a range.
const (
	pulledUpBy   quantity.Resistance = 4700 // of a pickup's open output, to its supply
	reluctorLow  quantity.Voltage    = 0.5  // peak of a variable-reluctance pickup on the starter
	reluctorHigh quantity.Voltage    = 100  // and at the redline
	reluctorMost quantity.Voltage    = 200
	reluctorOwn  quantity.Resistance = 1000
	logicLow     quantity.Voltage    = 5 // of pickups and drivers that have a supply of their own
	dump12       quantity.Voltage    = 100
	dump24       quantity.Voltage    = 202
	flyback      quantity.Voltage    = 400 // at a coil's switched end as the driver lets go
	flybackMost  quantity.Voltage    = 600
	clampLow     quantity.Voltage    = 3 // of a clamp round a plug wire, by itself
	clampHigh    quantity.Voltage    = 30
	clampMost    quantity.Voltage    = 100
	clampOwn     quantity.Resistance = 1000

	shareOfScale                      = 0.5    // of full scale that the largest signal may take
	mostLoad                          = 0.05   // of a signal that the lead may take
	ratedPower   quantity.Power       = 0.25   // of a resistor
	ratedVolts   quantity.Voltage     = 250    // across one
	derated                           = 0.5    // of its power that is used
	mostOnDiode  quantity.Current     = 5e-3   // through the clamp for as long as may be
	calmVolts    quantity.Voltage     = 0.25   // a diode up to here takes next to nothing
	diodeLeak    quantity.Current     = 2.5e-9 // of a small silicon signal diode, with the next two
	diodeSlope   quantity.Voltage     = 0.0453
	diodeOhms    quantity.Resistance  = 0.6
	leadAndInput quantity.Capacitance = 300e-12 // screened lead and input together
	probe10      quantity.Voltage     = 300
	probe100     quantity.Voltage     = 1500
	scopeInput   quantity.Voltage     = 40
	probeLoad    quantity.Capacitance = 15e-12

	ledLowest     quantity.Voltage = 1.7 // across a red light-emitting diode
	ledCurrent    quantity.Current = 10e-3
	ledLittle     quantity.Current = 2e-3  // still seen in a shop, of a diode made to be bright
	hallDrives    quantity.Current = 20e-3 // into an open collector
	opticalDrives quantity.Current = 4e-3
	switchDrives  quantity.Current = 100e-3 // of a three-wire proximity switch
	lampWhere                      = "lamp"
)

// Constants are the numbers of this room that no card holds, each with its range or source and the leads that rest on
// it.
func Constants() []quantity.Constant {
	const (
		memory = "from memory of data sheets"
		road   = "ISO 16750-2, from memory"
	)
	every := []string{"crank", "cam", "driver", "primary", "clamp"}
	supplied := []string{"crank", "cam", "driver"}
	return []quantity.Constant{
		quantity.Assume("pull-up of a pickup's output", float64(pulledUpBy), 1000, 10000, "Ω", supplied...),
		quantity.Assume("peak of a variable-reluctance pickup on the starter", float64(reluctorLow), 0.2, 2, "V",
			supplied...).From(memory),
		quantity.Assume("peak of a variable-reluctance pickup at the redline", float64(reluctorHigh), 30,
			float64(reluctorMost), "V", supplied...).From(memory),
		quantity.Assume("resistance of a variable-reluctance pickup", float64(reluctorOwn), 200, 3000, "Ω",
			supplied...).From(memory),
		quantity.Assume("lowest level of a pickup or driver", float64(logicLow), 3.3, 5, "V", supplied...),
		quantity.Assume("surge of a 12 V supply that loses its battery", float64(dump12), 79, 101, "V",
			supplied...).From(road),
		quantity.Assume("surge of a 24 V supply that loses its battery", float64(dump24), 151, 202, "V",
			supplied...).From(road),
		quantity.Assume("kick at a coil's switched end", float64(flyback), 250, float64(flybackMost), "V",
			"primary").From(memory),
		quantity.Assume("least signal of a clamp round a plug wire", float64(clampLow), 1, 5, "V", "clamp"),
		quantity.Assume("usual largest signal of such a clamp", float64(clampHigh), 5, float64(clampMost), "V",
			"clamp"),
		quantity.Assume("resistance of such a clamp", float64(clampOwn), 50, 5000, "Ω", "clamp"),
		quantity.Assume("share of full scale for the largest signal", shareOfScale, 0.3, 0.8, "", every...),
		quantity.Assume("share of a signal that the test lead may take", mostLoad, 0.02, 0.1, "", every...),
		quantity.Assume("power of a small resistor", float64(ratedPower), 0.25, 0.6, "W", every...).From(memory),
		quantity.Assume("voltage across a small resistor", float64(ratedVolts), 200, 350, "V", every...).From(memory),
		quantity.Assume("share of a resistor's power that is used", derated, 0.4, 0.7, "",
			append(every, lampWhere)...),
		quantity.Assume("current through the clamp's diodes", 1e3*float64(mostOnDiode), 1, 20, "mA", every...),
		quantity.Assume("voltage that leaves a diode calm", float64(calmVolts), 0.2, 0.3, "V", every...),
		quantity.Assume("leakage of a small silicon diode", 1e9*float64(diodeLeak), 1, 10, "nA", every...).From(memory),
		quantity.Assume("slope of a small silicon diode", 1e3*float64(diodeSlope), 40, 52, "mV", every...).From(memory),
		quantity.Assume("path resistance of a small silicon diode", float64(diodeOhms), 0.2, 2, "Ω",
			every...).From(memory),
		quantity.Assume("capacitance of test lead and input", 1e12*float64(leadAndInput), 100, 1000, "pF", every...),
		quantity.Assume("rating of a scope's 10 : 1 probe", float64(probe10), 300, 600, "V", every...).From(memory),
		quantity.Assume("rating of a scope's 100 : 1 probe", float64(probe100), 1000, 2000, "V", every...).From(memory),
		quantity.Assume("what a scope's own input stands", float64(scopeInput), 30, 300, "V", every...),
		quantity.Assume("capacitance of a scope's probe", 1e12*float64(probeLoad), 8, 20, "pF", every...).From(memory),
		quantity.Assume("lowest voltage across a red light-emitting diode", float64(ledLowest), 1.6, 2.2, "V",
			lampWhere).From(memory),
		quantity.Assume("current of an ordinary light-emitting diode", 1e3*float64(ledCurrent), 5, 20, "mA",
			lampOn(jobcard.Hall), lampOn(jobcard.Proximity)).From(memory),
		quantity.Assume("current of a bright one that still shows", 1e3*float64(ledLittle), 1, 5, "mA",
			lampOn(jobcard.Optical)),
		quantity.Assume("what a Hall pickup's open collector drives", 1e3*float64(hallDrives), 10, 50, "mA",
			lampOn(jobcard.Hall)).From(memory),
		quantity.Assume("what an optical pickup's output drives", 1e3*float64(opticalDrives), 2, 16, "mA",
			lampOn(jobcard.Optical)).From(memory),
		quantity.Assume("what a three-wire proximity switch drives", 1e3*float64(switchDrives), 50, 200, "mA",
			lampOn(jobcard.Proximity)).From(memory),
	}
}

// lampOn is what the numbers of a lamp on one kind of pickup stand under.
func lampOn(kind jobcard.PickupKind) string { return lampWhere + " on " + string(kind) }
