package jobcard

import "slices"

// within says how far off the value may be that stands in for a field left out. All ranges are assumed: what small
// road, boat and pump engines have, as far as we know. Fields whose stand-in means "not measured" have none.
var within = []struct{ path, limits string }{
	{"engine.pin_offset", "−1.5 to 1.5 mm"},
	{"engine.compression_ratio", "7 to 11"},
	{"engine.inertia", "half to double"},
	{"engine.reciprocating_mass", "0.6 to 1.5 times"},
	{"engine.inlet_pressure", "0.85 to 1.05 bar"},
	{"engine.charge_temperature", "−10 to 50 °C"},
	{"engine.cranking_speed", "120 to 280 rpm"},
	{"engine.idle_speed", "600 to 1000 rpm"},
	{"damper.mark_placement", "0.2 to 1 mm"},
	{"damper.zero_mark", "0.2 to 3°"},
	{"distributor.end_play", "0.2 to 1 mm"},
	{"distributor.shim_thickness", "0.3 to 1.5 mm"},
	{"distributor.rotor_tip", "5 to 12 mm"},
	{"distributor.terminal", "4 to 10 mm"},
	{"distributor.radius", "20 to 40 mm"},
	{"distributor.air_gap", "0.5 to 1.5 mm"},
	{"distributor.rotor_offset", "anywhere on the cap"},
	{"distributor.rotor_play", "0.5 to 3°"},
	{"distributor.housing_travel", "5 to 30°"},
	{"signals.cam.vane_width", "10 to 180°"},
	{"signals.cam.edge_at", "anywhere between two crank edges"},
	{"controller.guard", "2 to 5°"},
	{"ignition.supply", "13 to 14.8 V"},
	{"ignition.cranking_supply", "7 to 11 V"},
	{"ignition.plug_gap", "0.5 to 1.2 mm"},
	{"coil.wiring", "0.02 to 0.2 Ω"},
	{"coil.driver_drop", "0.3 to 2.5 V"},
	{"coil.driver_limit", "1.2 to 3 times the target"},
	{"coil.temperature", "50 to 120 °C"},
	{"coil.heat_limit", "15 to 60 W"},
	{"coil.off_time", "0.3 to 1.5 ms"},
	{"coil.secondary_capacitance", "50 to 150 pF"},
	{"coil.efficiency", "0.4 to 0.75"},
}

// Within is the range in which the value that stands in for a field left out may lie, in words; empty where there is
// none.
func Within(path string) string {
	i := slices.IndexFunc(within, func(w struct{ path, limits string }) bool { return w.path == path })
	if i < 0 {
		return ""
	}
	return within[i].limits
}
