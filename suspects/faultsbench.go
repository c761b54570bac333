package suspects

import "maps"

// benchFaultTable are the faults that the bench can show: its expectation gives lights, lamps and how the engine goes.
// Rows hold what it does not know. Cures and chances: common practice, our judgement.
func benchFaultTable(t *[faultCount]fault) {
	wrongTime := odds{"under load": 12, "hot": 12}
	t[housing] = fault{Cure: Cure{Do: "stop the engine and loosen the clamp. Turn the housing by half the " +
		"constant error. Light early: with the rotor; late: against it. Tighten the clamp",
		Check: "locked reading at idle equals the commanded advance"},
		shows: map[string]odds{"engine.worse": wrongTime}}
	t[lead] = fault{Cure: Cure{Do: "measure where the active edge really arrives, set the trigger lead to it, store, " +
		"power-cycle", Check: "read the setting back; locked reading at idle equals the commanded advance"},
		shows: map[string]odds{"engine.worse": wrongTime}}
	late := odds{"at high speed": 14, "under load": 10}
	t[allowance] = fault{Cure: Cure{Do: "set the delay allowance from the slope of the readings, in whole steps; " +
		"store, power-cycle", Check: "read it back; locked readings at idle and high speed agree",
		Same: "allowance"}, shows: map[string]odds{"engine.worse": late}}
	t[delay] = fault{Cure: Cure{Do: "set the delay allowance from the slope of the readings, in whole steps; " +
		"store, power-cycle", Check: "read it back; locked readings at idle and high speed agree",
		Same: "allowance"}, shows: map[string]odds{"engine.worse": late}}
	t[damper] = fault{Cure: Cure{Do: "find true TDC with a piston stop, mark it afresh. Renew a damper whose ring " +
		"has slipped", Check: "the two marks of the piston stop lie evenly about the new mark",
		Mind: "starter, coil and fuel off while the stop is in"},
		shows: map[string]odds{"engine.running": {"fine": 80}}}
	t[edge] = fault{Cure: Cure{Do: "choose the other active edge, or put the inverted signal right, store, power-cycle",
		Check: "the lamp at rest changes as the sheet says; the reading moves by two vane widths"},
		shows: map[string]odds{"capture.wrong_edge": {"yes": 93}, "engine.backfire": {"intake": 12, "exhaust": 18}}}
	t[stroke] = fault{Cure: Cure{Do: "bring cylinder 1 up on compression; lift the unit and set it in half a " +
		"turn round",
		Check: "compression is felt as the rotor comes to No. 1", Mind: "feed off, fuel off, before the unit is " +
			"lifted"},
		shows: map[string]odds{"compression": {"not felt": 97}, "engine.backfire": {"intake": 40, "exhaust": 35}}}
	t[tooth] = fault{Cure: Cure{Do: "lift the unit and set it back by the teeth that the gear step says; leave " +
		"the housing in the middle of its travel", Check: "rotor at No. 1 with the mark at the trigger lead, " +
		"housing near the " +
		"middle",
		Mind: "feed off, fuel off, before the unit is lifted"},
		shows: map[string]odds{"housing.travel": {"at its end": 95}, "engine.backfire": {"intake": 12, "exhaust": 18}}}
	wrongPlug := map[string]odds{"cap.wires": {"wrong": 96}, "engine.backfire": {"intake": 40, "exhaust": 30},
		"engine.worse": {"always": 45}}
	t[wires] = fault{Cure: Cure{Do: "ignition off; follow each plug wire from tower to plug, in firing order and " +
		"rotor direction; change over the wrong ones", Check: "the light reads right on every wire",
		Mind: "feed off, box bled", Same: "wires"}, shows: wrongPlug}
	t[tower] = fault{Cure: Cure{Do: "ignition off, move all wires round the cap so that No. 1 is where the rotor " +
		"points at the mark", Check: "the light reads right on wire 1 and the engine runs even",
		Mind: "feed off, box bled", Same: "wires"}, shows: wrongPlug}
	t[rotor] = fault{Cure: Cure{Do: "put rotor, cap and pickup plate in their right places; centre the tip on " +
		"the terminal over the advance range", Check: "marks in the cap are centred; no misfire at either end of " +
		"the advance range", Mind: "feed off, box bled, before the cap comes off"},
		shows: map[string]odds{"coil.lost": {"weaker": 35}, "rotor.tip": {"burnt": 50},
			"engine.worse":    {"under load": 50, "at high speed": 40},
			"engine.backfire": {"intake": 15, "exhaust": 15}}}
	t[lock] = fault{Cure: Cure{Do: "lock the timing, every correction switched off",
		Check: "the reading stays put when load and speed change"},
		shows: map[string]odds{"settings.lock": {"off": 98}}}
	t[unstored] = fault{Cure: Cure{Do: "set the delay allowance again, store it, switch the key off and on",
		Check: "read the allowance back; the slope has changed", Same: "allowance"},
		shows: map[string]odds{"engine.worse": late}}
	t[dial] = fault{Cure: Cure{Do: "turn the light's dial to zero", Check: "the reading equals that of a plain light"}}
	t[flashes] = fault{Cure: Cure{Do: "set the light for a spark every turn; or clamp it on a wire that sparks " +
		"once in two turns", Check: "its tachometer agrees with the controller's"}}
	t[lightDelay] = fault{Cure: Cure{Do: "use another light, or take this one's delay into account",
		Check: "the other timing light shows the same at high speed"}}
	t[polarity] = fault{Cure: Cure{Do: "key off, change over the two wires of the variable-reluctance pickup",
		Check: "readings lie on a line through the speed range; the signal falls steeply through zero"},
		shows: map[string]odds{"capture.polarity": {"reversed": 96}, "controller.speed": {"jumps": 30}}}
	silent := odds{"none": 98}
	t[leads] = fault{stops: true, Cure: Cure{Do: "key off, change over the crank and cam cables",
		Check: "one edge a firing on the crank input; sync held"},
		shows: map[string]odds{"capture.leads_swapped": {"yes": 96}, "controller.speed": {"none": 45, "jumps": 25},
			"coil.trigger": {"none": 95}, "coil.spark": {"none": 97}, "cylinders.spark": {"none": 97},
			"controller.sync_losses": {"some": 40}, "controller.errors": {"few": 30, "many": 30},
			"capture.cam_edges": {"several": 88}}}
	t[pickup] = fault{stops: true, Cure: Cure{Do: "find why the crank pickup has no power or gives nothing: fuse, " +
		"connector, ground, pickup", Check: "supply at the pickup; the lamp changes as a vane passes"},
		shows: map[string]odds{"battery.crank_pickup": {"has no power": 85}, "controller.speed": {"none": 94},
			"coil.trigger": silent, "coil.spark": silent, "cylinders.spark": silent, "battery.fuse": {"blown": 25},
			"pickup.plug": {"loose": 15}, "pickup.crank_pulse": {"weak": 92}}}
	t[camPickup] = fault{stops: true, Cure: Cure{Do: "find why the cam pickup has no power or gives nothing: fuse, " +
		"connector, ground, pickup", Check: "supply at the pickup; sync held"},
		shows: map[string]odds{"battery.cam_pickup": {"has no power": 85}, "coil.trigger": {"none": 93},
			"coil.spark": {"none": 95}, "cylinders.spark": {"none": 95}, "battery.fuse": {"blown": 12},
			"pickup.plug": {"loose": 12}, "pickup.cam_pulse": {"weak": 92}, "capture.cam_edges": {"none": 92},
			"controller.sync_losses": {"some": 35}}}
	extra := map[string]odds{"controller.errors": {"few": 25, "many": 60}, "controller.sync_losses": {"some": 60},
		"controller.speed": {"jumps": 65}, "capture.extra_cam": {"some": 12}}
	t[noise] = fault{Cure: Cure{Do: "put the pickup's screen and ground right, keep its cable away from coil and " +
		"alternator", Check: "a recording without extra edges; flashes stand still"},
		shows: with(extra, map[string]odds{"pickup.screen": {"broken": 45}, "battery.ground_drop": {"high": 8},
			"engine.worse": {"at high speed": 30, "now and then": 35}})}
	t[crossfire] = fault{Cure: Cure{Do: "keep the pickup's cable away from plug wires, renew wires, cap and rotor, " +
		"suppress", Check: "no extra edges at the sparks; flashes stand still at the speed that was worst",
		Mind: "feed off, box bled, before wires are handled"},
		shows: with(extra, map[string]odds{"pickup.screen": {"broken": 20},
			"engine.worse": {"at high speed": 45, "under load": 45}})}
	uneven := map[string]odds{"engine.running": {"runs rough": 22}}
	t[worn] = fault{Cure: Cure{Do: "look at gear, chain and drive, renew what is worn", Same: "drive",
		Check: "the scatter of the flashes has gone"},
		shows: map[string]odds{"rotor.from_crank": {"some": 40, "large": 40}, "engine.worse": {"at idle": 35}}}
	t[wobble] = fault{Cure: Cure{Do: "renew the shaft's bushing", Check: "every wire reads the same"}, shows: uneven}
	t[lash] = fault{Cure: Cure{Do: "look at gear mesh and end play, renew what is worn", Same: "drive",
		Check: "flashes fall in one place; little play at the rotor"},
		shows: map[string]odds{"rotor.from_crank": {"some": 45, "large": 40}, "engine.worse": {"at idle": 30}}}
	t[clamp] = fault{Cure: Cure{Do: "set the housing again and tighten the clamp, renew a clamp that slips",
		Check: "the same reading twice, ten minutes apart"},
		shows: map[string]odds{"housing.clamp": {"slips": 90}, "engine.worse": {"now and then": 25, "hot": 15}}}
	t[dwell] = fault{Cure: Cure{Do: "set the dwell from the coil's charging current",
		Check: "the current reaches its target without flattening; strong spark"},
		shows: map[string]odds{"engine.worse": {"under load": 55, "at high speed": 60}, "coil.spark": {"weak": 75},
			"cylinders.spark": {"weak": 70}, "cylinders.colour": {"yellow": 65}, "cylinders.jump": {"short": 75},
			"engine.hot_to_touch": {"coil": 25, "driver": 20}, "cylinders.plug": {"sooty": 20},
			"light.flashes": {"steady": 84, "comes and goes": 8}, "misfires": {"most": 15}}}
	t[supply] = fault{Cure: Cure{Do: "charge the battery, test it under load, renew it where it fails; clean its " +
		"terminals", Check: "supply at rest and while cranking as the sheet has it", Mind: "battery gas: no flame, " +
		"negative cable off first"},
		shows: map[string]odds{"battery.coil": {"low": 65}, "coil.spark": {"weak": 60}, "cylinders.spark": {"weak": 50},
			"engine.worse": {"while cranking": 60, "cold": 45}, "cylinders.colour": {"yellow": 40},
			"cylinders.jump": {"short": 50}},
		moves: map[string]float64{"battery.running": 0.15}}
	t[vane] = fault{Cure: Cure{Do: "straighten or renew the vane wheel", Check: "even vane spacing in a recording; " +
		"every wire reads the same"}, shows: uneven}
	t[misread] = fault{Cure: Cure{Do: "take the odd reading again, twice, at a steady speed",
		Check: "all readings lie on one line"}}
}

// with joins two lists of looks, or of odds; the second goes before the first.
func with[M ~map[string]V, V any](a, b M) M {
	out := M{}
	maps.Copy(out, a)
	maps.Copy(out, b)
	return out
}
