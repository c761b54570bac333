package sheet

import (
	"slices"
	"strings"

	"phasewright/jobcard"
)

// cureLines are the lines of the card that a stop or a caution can be cleared by, the likeliest first: filled in,
// measured or changed. An item without any is cleared by no line: it stays true of its engine, to be kept in mind.
var cureLines = map[string][]string{
	"two_plugs": {"ignition.plugs"},
	"true_tdc":  {"damper.zero_mark"},
	"provable":  {"damper.zero_mark", "damper.mark_placement", "tolerance"},
	"gear_drop": {"distributor.helix_angle", "distributor.gear_diameter", "distributor.drop_travel",
		"distributor.drop_turn"},
	"gear_landings":     {"distributor.housing_travel"},
	"gear_material":     {"distributor.gear_material", "distributor.cam_material"},
	"seat":              {"distributor.seat_gap", "distributor.gear_engagement"},
	"compression_ratio": {"engine.compression_ratio"},
	"cranking_pressure": {"engine.compression_ratio", "engine.cranking_pressure"},
	"vanes":             {"signals.crank.vane_width"},
	"cam_window":        {"signals.cam.kind", "signals.cam.edge_at", "signals.cam.active_edge"},
	"trigger_lead":      {"signals.crank.lead", "controller.advance.max"},
	"delay_at_redline":  {"controller.delay_allowance", "controller.delay_step"},
	"acceleration":      {"signals.crank.lead"},
	"dwell_window":      {"ignition.dwell", "coil.off_time"},
	"cranking_bias":     {"controller.advance.cranking", "engine.inertia", "engine.cranking_speed"},
	"coil_charge":       {"ignition.dwell", "coil.resistance", "coil.target"},
	"dwell_table":       {"coil.target"},
	"dwell_held":        {"ignition.dwell_table"},
	"dwell_cranking":    {"ignition.dwell_table"},
	"coil_reach":        {"ignition.coils", "coil.off_time"},
	"driver_current":    {"coil.driver_limit", "ignition.dwell"},
	"coil_heat":         {"coil.heat_limit", "ignition.dwell"},
	"coil_fit":          {"coil.charge"},
	"box_trigger":       {"ignition.dwell", "ignition.box_pulse_least", "ignition.box_pulse_most"},
	"spark_demand":      {"ignition.box_voltage", "ignition.plug_gap"},
	"spark_margin": {"ignition.box_voltage", "coil.efficiency", "coil.secondary_capacitance",
		"ignition.plug_gap"},
	"spark_cranking": {"ignition.box_voltage", "ignition.dwell_table", "coil.efficiency",
		"coil.secondary_capacitance", "ignition.plug_gap"},
	"cylinder_map": {"distributor.cap"},
	"rotor_sweep":  {"distributor.rotor_offset", "distributor.rotor_tip"},
	"rotor_centre": {"distributor.rotor_offset", "signals.crank.lead"},
	"crossfire":    {"distributor.rotor_offset", "ignition.plug_gap"},
}

// facts are lines that state what is there: they cure as long as nobody has stated them. The others can be changed.
var facts = []string{"engine.inertia", "engine.cranking_speed", "controller.advance.cranking",
	"distributor.helix_angle", "distributor.gear_diameter", "distributor.drop_travel", "distributor.drop_turn",
	"distributor.cam_material", "coil.off_time", "coil.driver_limit", "coil.heat_limit", "coil.efficiency",
	"coil.secondary_capacitance", "distributor.cap", "ignition.box_pulse_least", "ignition.box_pulse_most",
	"ignition.box_voltage"}

// cures are the lines of this card that an item's stop or caution can be cleared by.
func cures(c *jobcard.Card, it *Item) []string {
	switch {
	case it.Verdict == Fine:
		return nil
	case it.ID == "card_doubts" || it.ID == "open_settings": // they are made of lines of the card
		var out []string
		for _, in := range it.Inputs {
			out = append(out, in.Path)
		}
		return out
	case strings.HasPrefix(it.ID, markPrefix):
		return []string{"damper.diameter", "damper.mark_placement"}
	case it.ID == "coil_charge" && !coilStated(c):
		return []string{"coil.resistance", "coil.inductance"}
	}
	boxed := c.Ignition.Output == jobcard.SparkBox
	return slices.DeleteFunc(slices.Clone(cureLines[it.ID]), func(line string) bool {
		switch {
		case boxed && (strings.HasPrefix(line, "coil.") || line == "ignition.dwell_table"):
			return true
		case !boxed && strings.HasPrefix(line, "ignition.box_"):
			return true
		case it.ID == "cam_window" && c.Signals.Cam.Fitted == (line == "signals.cam.kind"):
			return true // without a cam pickup there is no edge to move
		case it.ID == "cranking_bias" && line != "controller.advance.cranking" &&
			!c.Written("controller.advance.cranking"):
			return true // nothing can be told until it is given
		case it.ID == "seat" && line == "distributor.gear_engagement":
			return !c.Written("distributor.seat_gap") // the dry fit comes first
		case it.ID == "rotor_sweep" && line == "distributor.rotor_tip":
			return !c.Written("distributor.rotor_offset") // so does looking where the tip stands
		}
		return slices.Contains(facts, line) && c.Written(line)
	})
}
