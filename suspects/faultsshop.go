package suspects

import "phasewright/bench"

// shopFaultTable are the faults that no bench of ours shows: rows say what a technician sees. All of it is common
// practice without a published source, the chances our judgement.
func shopFaultTable(t *[faultCount]fault) {
	coilAndFeed(t)
	capAndWires(t)
	signalFaults(t)
	engineFaults(t)
}

func coilAndFeed(t *[faultCount]fault) {
	t[deadCoil] = fault{name: "deadcoil", title: "coil or its driver dead", stops: true,
		Cure: Cure{Do: "renew the coil; where a sound coil gives no spark either, renew its driver",
			Check: "strong spark at the coil's own lead", Mind: "feed off, box bled, before the coil is touched"},
		shows: map[string]odds{"engine.starting": {"nothing": 97}, "engine.running": {"does not run": 93,
			"cuts out": 4},
			"spark": {"none": 96}, "cylinders.spark": {"none": 96}, "coil.spark": {"none": 96},
			"light.flashes": {"none": 98}, "engine.misfire": {"misfires": 95}, "coil.trigger": {"none": 12},
			"coil.primary": {"open": 30, "short": 15}, "coil.secondary": {"open": 35}, "battery.fuse": {"blown": 6},
			"engine.hot_to_touch": {"coil": 25, "driver": 20}},
		mine: map[string]odds{"engine.misfire": {"misfires": 95}, "cylinders.cut_drop": {"little": 95},
			"cylinders.spark": {"none": 90, "weak": 6}, "light.flashes": {"none": 88}, "cylinders.plug": {"wet": 60},
			"cylinders.moves_with": {"coil": 80}, "cylinders.colour": {"yellow": 50}, "cylinders.jump": {"short": 92}}}
	t[coilPolarity] = fault{name: "coilpolarity", title: "coil connected the wrong way round",
		Cure: Cure{Do: "key off, change over the coil's two primary wires",
			Check: "polarity right by pencil or scope; " +
				"spark jumps further", Mind: "feed off, box bled, before the coil is touched"},
		shows: map[string]odds{"engine.starting": {"starts": 85, "nothing": 13},
			"engine.running": {"fine": 35, "runs rough": 25, "will not rev": 35}, "spark": {"weak": 60},
			"coil.spark": {"weak": 60}, "coil.polarity": {"reversed": 98.5},
			"engine.worse": {"under load": 65, "at high speed": 55, "hot": 15}, "cylinders.jump": {"short": 65},
			"cylinders.colour": {"yellow": 50}, "cylinders.spark": {"weak": 50}, "engine.misfire": {"misfires": 15},
			"misfires": {"most": 40}}}
	t[drop] = fault{name: "drop", title: "voltage drop in feed or ground",
		Cure: Cure{Do: "measure drop by drop from battery to coil and back, under current; clean or renew the joint, " +
			"switch or cable that takes it", Check: "feed drop at most 0.5 V, ground drop at most 0.3 V, under load",
			Mind: "live supply: rings off, insulated probes"},
		ways: []way{{share: 0.45, shows: map[string]odds{"battery.feed_drop": {"high": 96},
			"battery.ground_drop": {"high": 8}, "engine.hot_to_touch": {"feed wire": 55}, "battery.coil": {"low": 88},
			"battery.coil_running": {"low": 85}}},
			{share: 0.4, shows: map[string]odds{"battery.feed_drop": {"high": 8}, "battery.ground_drop": {"high": 96},
				"engine.hot_to_touch": {"ground strap": 55}, "battery.coil": {"low": 40},
				"battery.coil_running": {"low": 45}}},
			{share: 0.15, shows: map[string]odds{"battery.feed_drop": {"high": 50}, "battery.ground_drop": {"high": 50},
				"battery.coil": {"low": 75}, "battery.coil_running": {"low": 75},
				"engine.starting": {"nothing": 92}, "spark": {"none": 50, "weak": 35},
				"coil.spark":      {"none": 50, "weak": 35},
				"cylinders.spark": {"none": 50, "weak": 35}}}},
		shows: map[string]odds{"spark": {"weak": 58},
			"coil.spark": {"weak": 60}, "cylinders.spark": {"weak": 55}, "cylinders.colour": {"yellow": 55},
			"cylinders.jump":  {"short": 60},
			"engine.worse":    {"under load": 60, "at high speed": 40, "hot": 25, "while cranking": 25},
			"engine.starting": {"starts": 75, "nothing": 22},
			"engine.running":  {"fine": 30, "runs rough": 25, "will not rev": 30, "cuts out": 12},
			"engine.misfire":  {"misfires": 12}, "misfires": {"most": 30},
			"controller.errors": {"few": 25}, "controller.sync_losses": {"some": 20}}}
	t[charging] = fault{name: "charging", title: "charging fault",
		Cure: Cure{Do: "test alternator, belt, regulator and their cables; renew what fails",
			Check: "supply while running stands above the battery at rest", Mind: "belts and fan turn within reach"},
		shows: map[string]odds{"engine.running": {"fine": 40, "runs rough": 20, "will not rev": 20, "cuts out": 17},
			"engine.starting": {"starts": 80, "nothing": 18}, "battery.coil_running": {"low": 85},
			"engine.worse":     {"now and then": 15, "hot": 12, "at high speed": 25, "under load": 25},
			"cylinders.colour": {"yellow": 25}},
		moves: map[string]float64{"battery.running": 1, "battery.rest": 0.1, "battery.cranking": 0.15}}
	t[ballast] = fault{name: "ballast", title: "ballast resistor missing or in the way",
		Cure: Cure{Do: "fit or take out the resistor as the maker of coil and driver says; connect its bypass on " +
			"the starter",
			Check: "supply at the coil, cranking and running, as the maker says",
			Mind:  "a resistor runs hot: let it cool"},
		ways: []way{{share: 0.55, shows: map[string]odds{"coil.resistor": {"in the way": 95},
			"battery.coil":         {"low": 90},
			"battery.coil_running": {"low": 88}, "coil.spark": {"weak": 80}, "spark": {"weak": 72},
			"cylinders.spark": {"weak": 70}, "cylinders.jump": {"short": 75}, "cylinders.colour": {"yellow": 70},
			"engine.hot_to_touch": {"resistor": 55, "coil": 5},
			"engine.running":      {"fine": 22, "runs rough": 20, "will not rev": 40, "does not run": 10},
			"engine.worse":        {"under load": 60, "at high speed": 50, "while cranking": 25}}},
			{share: 0.45, shows: map[string]odds{"coil.resistor": {"missing": 95},
				"engine.hot_to_touch": {"coil": 75, "driver": 45},
				"engine.running":      {"fine": 40, "cuts out": 35, "does not run": 8, "runs rough": 10},
				"engine.worse":        {"hot": 60, "under load": 15}}}},
		shows: map[string]odds{"engine.starting": {"starts": 85, "nothing": 13}, "misfires": {"most": 20},
			"engine.misfire": {"misfires": 12}}}
}

func capAndWires(t *[faultCount]fault) {
	open := "feed off, box bled, before the cap comes off"
	t[brush] = fault{name: "brush", title: "centre brush broken or rotor burnt through", needs: steers,
		Cure: Cure{Do: "renew cap and rotor", Check: "strong spark at the plug wires", Mind: open},
		ways: []way{{share: 0.5, shows: map[string]odds{"engine.starting": {"nothing": 96},
			"engine.running": {"does not run": 88, "cuts out": 9}, "spark": {"none": 92, "weak": 6},
			"cylinders.spark": {"none": 92, "weak": 6}, "light.flashes": {"none": 92}, "misfires": {"most": 95},
			"engine.misfire": {"misfires": 92}}}, {share: 0.5}},
		shows: map[string]odds{"engine.starting": {"starts": 80, "nothing": 18},
			"engine.running": {"fine": 4, "runs rough": 48, "will not rev": 32, "cuts out": 14},
			"spark":          {"weak": 88}, "cylinders.spark": {"weak": 85},
			"coil.spark": {"strong": 96}, "coil.lost": {"weaker": 94},
			"cap.brush":        {"broken": 55, "worn": 20},
			"rotor.tip":        {"burnt": 50, "cracked": 25},
			"rotor.resistance": {"high": 70}, "light.flashes": {"comes and goes": 35, "steady": 55},
			"engine.worse": {"under load": 50}, "engine.misfire": {"misfires": 20}, "misfires": {"most": 35},
			"cylinders.jump":   {"short": 75},
			"cylinders.colour": {"yellow": 45}}}
	t[track] = fault{name: "track", title: "carbon track in the cap", needs: steers, one: true, neighbours: true,
		Cure: Cure{Do: "renew the cap; dry and clean its neighbourhood", Check: "no track under a lamp; it runs even " +
			"in the wet", Mind: open},
		shows: map[string]odds{"engine.running": {"fine": 15, "runs rough": 75},
			"engine.starting": {"starts": 75, "nothing": 15, "kicks back": 4}, "cap.inside": {"damp": 45},
			"cap.traces":   {"tracks between towers": 58, "track to ground": 34},
			"engine.worse": {"in the wet": 72, "cold": 30, "under load": 35, "always": 10}, "spark": {"weak": 15},
			"engine.backfire": {"intake": 25, "exhaust": 20}, "coil.spark": {"strong": 95},
			"coil.lost": {"weaker": 30}},
		mine: map[string]odds{"engine.misfire": {"misfires": 80}, "cylinders.cut_drop": {"little": 70},
			"cylinders.spark": {"weak": 45, "none": 25}, "cylinders.jump": {"short": 60},
			"light.flashes":        {"comes and goes": 25, "jumps by whole spacings": 12, "steady": 55},
			"cylinders.moves_with": {"nothing": 90}}}
	t[wireFire] = fault{name: "wirefire", title: "spark jumps from plug wire to plug wire", needs: several, one: true,
		neighbours: true,
		Cure: Cure{Do: "part the plug wires, neighbours in the firing order above all; renew those whose cover leaks",
			Check: "no light between them in the dark; it pulls without a misfire",
			Mind:  "look, do not touch, while it runs"},
		shows: map[string]odds{"engine.running": {"fine": 25, "runs rough": 60, "will not rev": 10},
			"engine.worse":    {"under load": 75, "in the wet": 40, "at high speed": 35},
			"engine.backfire": {"intake": 35, "exhaust": 20}},
		mine: map[string]odds{"engine.misfire": {"misfires": 65}, "cylinders.cut_drop": {"little": 35},
			"cylinders.wire": {"high": 20},
			"light.flashes":  {"jumps by whole spacings": 35, "some elsewhere": 15, "steady": 45}}}
	t[plug] = fault{name: "plug", title: "plug fouled or dead on one cylinder", one: true,
		Cure: Cure{Do: "renew the plug, gap as the card says; look at its face for why",
			Check: "the cylinder pulls: speed drops when it is cut", Mind: "cold engine, feed off"},
		shows: oneRough(odds{"at idle": 30, "under load": 40, "cold": 25, "always": 30}),
		mine: oneDead(map[string]odds{"cylinders.plug": {"sooty": 30, "wet": 25, "oily": 15, "cracked": 22, "good": 3},
			"cylinders.moves_with": {"plug": 92}})}
	t[plugWire] = fault{name: "plugwire", title: "plug wire broken or leaking on one cylinder", one: true,
		needs: steers,
		Cure: Cure{Do: "renew the plug wire, with its end and boot", Check: "its resistance as its neighbours'; the " +
			"cylinder pulls", Mind: "feed off, box bled, before wires are handled"},
		shows: oneRough(odds{"in the wet": 35, "under load": 45, "always": 25}),
		mine: oneDead(map[string]odds{"cylinders.wire": {"high": 85}, "cylinders.spark": {"none": 48, "weak": 44},
			"cylinders.jump": {"short": 85}, "cylinders.moves_with": {"wire": 92},
			"cylinders.plug":   {"wet": 35, "sooty": 15, "good": 45},
			"cylinders.colour": {"yellow": 50}, "light.flashes": {"none": 30, "comes and goes": 45}})}
}

// oneRough is how an engine goes of which one cylinder is dead.
func oneRough(worse odds) map[string]odds {
	return map[string]odds{"misfires": {"one": 92, "none": 2}, "engine.running": {"fine": 4, "runs rough": 88},
		"engine.starting": {"starts": 95},
		"engine.vacuum":   {"flicks": 40}, "engine.worse": worse}
}

// oneDead adds what a dead cylinder shows whatever killed it.
func oneDead(also map[string]odds) map[string]odds {
	return with(map[string]odds{"engine.misfire": {"misfires": 92}, "cylinders.cut_drop": {"little": 92}}, also)
}

func signalFaults(t *[faultCount]fault) {
	t[orderTable] = fault{name: "ordertable", title: "wrong firing order in the controller", needs: several,
		Cure: Cure{Do: "set the controller's firing order to the engine's, store, power-cycle",
			Check: "read it back; " +
				"each coil fires its own cylinder"}}
	t[heat] = fault{name: "heat", title: "pickup, box or driver fails with heat",
		Cure: Cure{Do: "warm and cool pickup, box and driver one by one while it runs; renew the one that answers",
			Check: "it runs hot for half an hour; hot and cold readings agree", Mind: "hot parts within reach"},
		ways: []way{{share: 0.55, shows: map[string]odds{"engine.running": {"cuts out": 88, "runs rough": 5}}},
			{share: 0.3, shows: map[string]odds{"light.flashes": {"steady": 90}, "controller.speed": {"none": 0.5},
				"controller.sync_losses": {"some": 6}, "controller.errors": {"few": 10}, "spark": {"strong": 94}}},
			{share: 0.15, stops: true, shows: map[string]odds{"engine.starting": {"nothing": 96}, "spark": {"none": 95},
				"coil.spark": {"none": 94}, "cylinders.spark": {"none": 94}, "light.flashes": {"none": 96},
				"engine.running": {"does not run": 60, "cuts out": 38}, "controller.speed": {"none": 40},
				"coil.trigger": {"none": 60}, "engine.misfire": {"misfires": 95}, "misfires": {"most": 96}}}},
		shows: map[string]odds{"engine.worse": {"hot": 94, "now and then": 15, "cold": 1},
			"engine.starting":     {"starts": 88, "nothing": 10},
			"engine.running":      {"fine": 40, "runs rough": 25, "cuts out": 15, "will not rev": 12},
			"engine.hot_to_touch": {"pickup": 20, "box": 35, "driver": 30, "coil": 10},
			"controller.speed":    {"jumps": 22, "none": 18}, "controller.sync_losses": {"some": 45},
			"controller.errors": {"few": 30, "many": 15}, "light.flashes": {"comes and goes": 35, "steady": 55},
			"spark": {"none": 10, "weak": 8}}}
	t[setUp] = fault{name: "trigger", title: "trigger set up wrong: type, pull-up or tooth count",
		Cure: Cure{Do: "set the pickup's type and its count of edges as the card says; fit or switch on the " +
			"pull-up; store, power-cycle", Check: "the controller shows the true speed on the starter"},
		ways: []way{{share: 0.55, stops: true, shows: map[string]odds{"engine.starting": {"nothing": 97},
			"engine.running":   {"does not run": 96},
			"controller.speed": {"none": 50, "half": 18, "double": 18, "jumps": 12}, "spark": {"none": 96},
			"coil.spark": {"none": 95}, "cylinders.spark": {"none": 95}, "light.flashes": {"none": 96},
			"coil.trigger": {"none": 94}, "engine.misfire": {"misfires": 96}, "misfires": {"most": 96},
			"capture.sync": {"none": 45, "lost": 15}}}, {share: 0.45}},
		shows: map[string]odds{"settings.trigger": {"wrong": 96}, "engine.starting": {"starts": 40, "nothing": 35,
			"kicks back": 20, "bangs in the exhaust": 5},
			"engine.running":   {"runs rough": 40, "does not run": 25, "will not rev": 25},
			"controller.speed": {"half": 36, "double": 40, "jumps": 20}, "capture.sync": {"lost": 35, "none": 15},
			"controller.errors": {"few": 20, "many": 38}, "controller.sync_losses": {"some": 45},
			"light.flashes": {"steady": 40, "some elsewhere": 25, "jumps by whole spacings": 25},
			"light.mark":    {"out of sight": 45}}}
	t[gap] = fault{name: "gap", title: "pickup gap too wide", needs: several,
		Cure: Cure{Do: "set the pickup's gap as its maker says, tighten, turn once by hand",
			Check: "full pulse on the starter; speed shown at once", Mind: "feed off, before the crank is turned by " +
				"hand"},
		ways: []way{{share: 0.45, stops: true, shows: map[string]odds{"engine.starting": {"nothing": 96},
			"controller.speed": {"none": 72, "jumps": 24}, "spark": {"none": 94}, "coil.spark": {"none": 94},
			"cylinders.spark": {"none": 94}, "coil.trigger": {"none": 94}, "light.flashes": {"none": 94},
			"engine.running": {"does not run": 80, "fine": 15}, "capture.sync": {"none": 75, "lost": 20},
			"capture.crank_edges": {"0": 45, "another number": 40}, "lamps.crank": {"no signal": 45},
			"engine.misfire": {"misfires": 95}, "misfires": {"most": 95}}}, {share: 0.55}},
		shows: map[string]odds{"engine.starting": {"starts": 65, "nothing": 33}, "pickup.crank_pulse": {"weak": 94},
			"engine.worse": {"while cranking": 78, "cold": 35}, "pickup.crank_gap": {"wide": 95},
			"controller.speed": {"none": 12, "jumps": 60}, "capture.sync": {"none": 10, "lost": 50},
			"engine.running": {"fine": 78, "runs rough": 16}, "controller.errors": {"few": 35, "many": 30},
			"controller.sync_losses": {"some": 55}, "capture.crank_edges": {"another number": 45},
			"lamps.crank": {"no signal": 25}, "light.flashes": {"steady": 65, "comes and goes": 28}}}
	t[camEdge] = fault{name: "camedge", title: "cam edge outside its window", needs: withCam,
		Cure: Cure{Do: "move the cam edge to the middle of its window, or choose its other edge; store, power-cycle",
			Check: "sync held from the first turns of the starter to the redline, ten starts"},
		ways: []way{{share: 0.3, stops: true, shows: map[string]odds{"engine.starting": {"nothing": 92},
			"capture.sync": {"none": 70, "lost": 25}, "spark": {"none": 90}, "coil.spark": {"none": 90},
			"cylinders.spark": {"none": 90}, "coil.trigger": {"none": 90}, "light.flashes": {"none": 92},
			"engine.running": {"does not run": 90}, "engine.misfire": {"misfires": 95}, "misfires": {"most": 95}}},
			{share: 0.7}},
		shows: map[string]odds{"capture.sync": {"lost": 72, "none": 6},
			"engine.starting": {"starts": 58, "nothing": 14, "spits through the intake": 16,
				"bangs in the exhaust": 8},
			"controller.sync_losses": {"some": 82}, "controller.errors": {"few": 35, "many": 20},
			"engine.worse":       {"while cranking": 40, "now and then": 45, "at high speed": 25, "hot": 10},
			"capture.cam_margin": {"near": 93}, "light.flashes": {"steady": 60, "comes and goes": 20,
				"jumps by whole spacings": 15}, "controller.speed": {"jumps": 15},
			"engine.running": {"fine": 35, "runs rough": 22, "cuts out": 32}}}
	t[connector] = fault{name: "connector", title: "poor connector or broken wire, now and then",
		Cure: Cure{Do: "move each connector and loom by hand while it runs or the key is on; clean, crimp or renew " +
			"the one that answers", Check: "nothing answers any more; no losses counted in an hour",
			Mind: "belts, fan and high tension within reach"},
		ways: []way{{share: 0.2, stops: true, shows: map[string]odds{"engine.starting": {"nothing": 96},
			"engine.running": {"does not run": 70, "cuts out": 28}, "spark": {"none": 95}, "coil.spark": {"none": 94},
			"cylinders.spark": {"none": 94}, "light.flashes": {"none": 96}, "controller.speed": {"none": 55},
			"coil.trigger": {"none": 75}, "capture.sync": {"none": 45}, "engine.misfire": {"misfires": 95},
			"misfires": {"most": 95}, "capture.crank_edges": {"0": 40}}}, {share: 0.8}},
		shows: map[string]odds{"engine.worse": {"over bumps": 70, "now and then": 80, "hot": 12, "in the wet": 12},
			"engine.running": {"fine": 15, "runs rough": 20, "cuts out": 60}, "pickup.plug": {"loose": 78},
			"engine.starting": {"starts": 75, "nothing": 24}, "controller.speed": {"jumps": 40, "none": 8},
			"controller.sync_losses": {"some": 60}, "controller.errors": {"few": 45, "many": 25},
			"light.flashes": {"comes and goes": 50, "steady": 42}, "battery.feed_drop": {"high": 12},
			"capture.sync": {"lost": 40}, "capture.crank_edges": {"another number": 30}}}
	t[camNoise] = fault{name: "camnoise", title: "interference on the cam pickup", needs: withCam,
		Cure: Cure{Do: "put the cam pickup's screen and ground right; keep its cable away from plug wires and coil",
			Check: "one cam edge a cycle in a recording; no sync loss counted"},
		shows: map[string]odds{"capture.sync": {"lost": 72}, "capture.extra_cam": {"some": 92},
			"capture.cam_edges": {"several": 75}, "controller.sync_losses": {"some": 88},
			"controller.errors": {"few": 40, "many": 35}, "pickup.screen": {"broken": 35},
			"light.flashes":    {"steady": 55, "comes and goes": 22, "jumps by whole spacings": 14},
			"engine.running":   {"fine": 25, "runs rough": 28, "cuts out": 40},
			"engine.worse":     {"at high speed": 45, "now and then": 40, "under load": 20},
			"controller.speed": {"steady": 85}}}
	t[cylinderOne] = fault{name: "cylinder", title: "wrong cylinder taken as No. 1", needs: several,
		Cure: Cure{Do: "find No. 1 in the maker's drawing; mark, wires and light from there",
			Check: "compression in that cylinder as the mark comes up; the light on its wire"},
		ways: []way{{share: 0.6, shows: map[string]odds{"engine.starting": {"starts": 8, "nothing": 18,
			"spits through the intake": 38, "bangs in the exhaust": 28, "kicks back": 7},
			"compression": {"not felt": 80}, "engine.running": {"fine": 4, "runs rough": 14, "does not run": 78},
			"engine.backfire": {"intake": 42, "exhaust": 33}, "engine.misfire": {"misfires": 45},
			"cap.wires": {"wrong": 45}}}, {share: 0.4}}, // all set up from there, or only the light
		shows: map[string]odds{"engine.no1": {"wrong": 96}, "cap.wires": {"wrong": 25},
			"compression": {"not felt": 35}, "engine.starting": {"starts": 88, "nothing": 5},
			"engine.running": {"fine": 80, "runs rough": 14}, "engine.backfire": {"intake": 8, "exhaust": 8}}}
}

func engineFaults(t *[faultCount]fault) {
	t[advance] = fault{name: "advance", title: "mechanical advance plate left free",
		needs: func(c *bench.Config) bool { return steers(c) || c.Distributor.GearTeeth > 0 },
		Cure: Cure{Do: "take weights and springs out and lock the advance plate; or fit the plate made for it",
			Check: "locked readings lie on a line through the speed range",
			Mind:  "feed off, before the unit is opened"},
		shows: map[string]odds{"housing.advance_plate": {"free": 95}, "light.flashes": {"steady": 70, "spread": 25},
			"engine.running": {"fine": 55, "runs rough": 12, "will not rev": 15},
			"engine.worse":   {"at high speed": 35, "under load": 35}}}
	t[chain] = fault{name: "chain", title: "cam chain stretched or jumped a tooth",
		Cure: Cure{Do: "set chain or belt by its marks, renew it with its tensioner. Then phase the unit afresh",
			Check: "marks in line, compressions even; locked reading at idle", Mind: "feed and starter off"},
		shows: map[string]odds{"chain_marks": {"off": 92}, "rotor.from_crank": {"some": 40, "large": 45},
			"engine.compressions": {"all low": 50}, "engine.vacuum": {"low": 68, "flicks": 10},
			"engine.running": {"fine": 15, "runs rough": 20, "will not rev": 20, "hot and sluggish": 42},
			"light.flashes":  {"steady": 60, "spread": 35}, "engine.worse": {"always": 30, "under load": 30,
				"at idle": 20},
			"engine.starting": {"starts": 78, "nothing": 14, "spits through the intake": 5}}}
	t[injector] = fault{name: "injector", title: "no fuel in one cylinder", one: true,
		Cure: Cure{Do: "listen at the injector, test its wire and driver, exchange it with its neighbour",
			Check: "it clicks; the cylinder pulls", Mind: "fuel under pressure: let it down, no flame"},
		shows: with(oneRough(odds{"always": 35, "under load": 30}), map[string]odds{"fuel.mixture": {"lean": 25}}),
		mine: oneDead(map[string]odds{"cylinders.plug": {"white": 40, "good": 55, "wet": 1, "sooty": 1},
			"cylinders.injector": {"silent": 78}, "cylinders.moves_with": {"injector": 90}})}
	t[fuel] = fault{name: "fuel", title: "fuel or mixture, not the ignition",
		Cure: Cure{Do: "leave the ignition; test fuel pressure, filter, mixture and air leaks",
			Check: "pressure and mixture as the maker says", Mind: "fuel under pressure and its vapour: no flame, no " +
				"sparks"},
		ways: []way{{share: 0.3, shows: map[string]odds{"engine.starting": {"nothing": 92},
			"fuel.pressure": {"none": 60,
				"low": 28}, "engine.running": {"does not run": 80, "cuts out": 15},
			"cylinders.plug": {"good": 55, "white": 20,
				"wet": 15}, "misfires": {"most": 90}, "engine.misfire": {"misfires": 90}}},
			{share: 0.4, shows: map[string]odds{"fuel.pressure": {"low": 65}, "fuel.mixture": {"lean": 92},
				"cylinders.plug": {"white": 65}, "engine.backfire": {"intake": 50, "exhaust": 8},
				"engine.worse": {"cold": 30, "under load": 60, "at high speed": 50}}},
			{share: 0.3, shows: map[string]odds{"fuel.mixture": {"rich": 94},
				"cylinders.plug":  {"sooty": 75, "wet": 12},
				"engine.backfire": {"exhaust": 25}, "engine.worse": {"hot": 25, "at idle": 35, "under load": 25}}}},
		shows: map[string]odds{"engine.running": {"fine": 8, "runs rough": 42, "will not rev": 30, "cuts out": 9,
			"hot and sluggish": 9},
			"engine.starting": {"starts": 86, "nothing": 9, "spits through the intake": 4},
			"engine.misfire":  {"misfires": 10}, "misfires": {"some": 25, "most": 15},
			"engine.backfire": {"intake": 35, "exhaust": 12},
			"engine.worse":    {"cold": 25, "hot": 15, "under load": 50, "at high speed": 40},
			"engine.vacuum":   {"low": 15, "flicks": 8}}}
}
