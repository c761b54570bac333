package jobcard

import "phasewright/quantity"

func signalFields() []Field {
	return []Field{
		choice(Field{Path: "signals.crank.kind", Doc: "How the crank pickup senses the vane.", Example: "hall",
			Default: "hall"}, func(c *Card) *PickupKind { return &c.Signals.Crank.Kind }, Hall, Optical,
			Proximity, Reluctor),
		measure(Field{Path: "signals.crank.vane_width",
			Doc: "Shaft degrees that one vane of the crank wheel covers.", Example: "15 deg",
			Demand: "the wrong edge is off by twice this"},
			func(c *Card) *quantity.Shaft { return &c.Signals.Crank.VaneWidth }, 0.1, 350),
		measures(Field{Path: "signals.crank.vanes",
			Doc:     "Unequal vanes: width of each, in firing order. Left out: all as wide as vane_width.",
			Example: "[15 deg, 15 deg, 12 deg, 15 deg, 15 deg, 12 deg]"},
			func(c *Card) *[]quantity.Shaft { return &c.Signals.Crank.Vanes }, 0.1, 350),
		choice(Field{Path: "signals.crank.in_vane", Doc: "Electrical level while a vane stands in the pickup.",
			Example: "high", Default: "high"}, func(c *Card) *Level { return &c.Signals.Crank.InVane }, High, Low),
		choice(Field{Path: "signals.crank.active_edge", Doc: "The electrical edge that the controller acts on.",
			Example: "falling", Demand: "the other edge is off by twice the vane width"},
			func(c *Card) *Edge { return &c.Signals.Crank.ActiveEdge }, Rising, Falling),
		measure(Field{Path: "signals.crank.lead",
			Doc:     "Trigger lead: crank degrees BTDC at which the active edge for a cylinder arrives.",
			Example: "60 deg", Demand: "the housing is phased to it"},
			func(c *Card) *quantity.Crank { return &c.Signals.Crank.Lead }, 1, 360),
		choice(Field{Path: "signals.cam.kind",
			Doc: "How the cam pickup senses its vane; none where there is no cam pickup.", Example: "hall",
			Default: "hall"}, func(c *Card) *PickupKind { return &c.Signals.Cam.Kind }, Hall, Optical,
			Proximity, Reluctor, NoPickup),
		measure(Field{Path: "signals.cam.vane_width", Doc: "Shaft degrees that the cam vane covers.",
			Example: "40 deg", Default: "40 deg"},
			func(c *Card) *quantity.Shaft { return &c.Signals.Cam.VaneWidth }, 0.1, 350),
		choice(Field{Path: "signals.cam.in_vane",
			Doc: "Electrical level while the cam vane stands in the pickup.", Example: "high", Default: "high"},
			func(c *Card) *Level { return &c.Signals.Cam.InVane }, High, Low),
		choice(Field{Path: "signals.cam.active_edge", Doc: "The cam edge that the controller acts on.",
			Example: "falling", Default: "falling"}, func(c *Card) *Edge { return &c.Signals.Cam.ActiveEdge },
			Rising, Falling),
		measure(Field{Path: "signals.cam.edge_at",
			Doc: "Crank degrees BTDC of cylinder 1's firing stroke at which the cam's active edge arrives. Left " +
				"out: midway between two crank edges is assumed.", Example: "120 deg"},
			func(c *Card) *quantity.Crank { return &c.Signals.Cam.EdgeAt }, -360, 720),
	}
}

// ask is the sentence that stands with everything that only the controller can tell.
const ask = " Read it in the controller; left out, it counts as not given."

func controllerFields() []Field {
	return []Field{
		setting(Field{Path: "controller.advance.cranking",
			Doc: "Advance commanded while the starter turns the engine." + ask, Example: "12 deg"},
			func(c *Card) *Setting[quantity.Crank] { return &c.Controller.Advance.Cranking }, -20, 70),
		setting(Field{Path: "controller.advance.locked",
			Doc: "Advance that the controller holds while the timing is locked for checking." + ask,
			Example: "8 " +
				"deg"}, func(c *Card) *Setting[quantity.Crank] { return &c.Controller.Advance.Locked }, -20, 70),
		measure(Field{Path: "controller.advance.min", Doc: "Smallest advance ever commanded.", Example: "2 deg",
			Default: "0 deg"}, func(c *Card) *quantity.Crank { return &c.Controller.Advance.Min }, -40, 70),
		measure(Field{Path: "controller.advance.max", Doc: "Largest advance ever commanded.", Example: "34 deg",
			Demand: "the trigger lead must leave room for it"},
			func(c *Card) *quantity.Crank { return &c.Controller.Advance.Max }, 1, 90),
		setting(Field{Path: "controller.delay_allowance", Doc: "Delay allowance that the controller is set to." +
			ask, Example: "85 us"},
			func(c *Card) *Setting[quantity.Time] { return &c.Controller.DelayAllowance }, 0, 2000),
		setting(Field{Path: "controller.delay_step", Doc: "Smallest step of that setting." + ask,
			Example: "15 us"}, func(c *Card) *Setting[quantity.Time] { return &c.Controller.DelayStep }, 0.01, 500),
		planned(Field{Path: "controller.signal_delay",
			Doc: "Signal delay to plan with, from the metal to the spark seen on the mark; readings replace " +
				"it.", Example: "150 us ± 100 us", Default: "200 us ± 200 us"},
			func(c *Card) *Range[quantity.Time] { return &c.Controller.SignalDelay }, 0, 3000),
		planned(Field{Path: "controller.latency",
			Doc:     "Time the controller needs between an edge and the earliest spark it can still place.",
			Example: "60 us", Default: "100 us ± 100 us"},
			func(c *Card) *Range[quantity.Time] { return &c.Controller.Latency }, 0, 5000),
		measure(Field{Path: "controller.guard",
			Doc: "Crank degrees kept free at both limits of the trigger lead.", Example: "3 deg",
			Default: "3 deg"}, func(c *Card) *quantity.Crank { return &c.Controller.Guard }, 0, 30),
	}
}

func proofFields() []Field {
	return []Field{
		choice(Field{Path: "light.checked", Doc: "Whether your timing light was checked: dial at zero, and no delay " +
			"of its own, against a second light or a recording.", Example: "no", Default: "no"},
			func(c *Card) *string { return &c.Light.Checked }, "no", "yes"),
		clauses(Field{Path: "proof.not_claimed", Example: "first crank, spark",
			Doc: "Clauses that the proof does not claim, with commas between them."}),
		measure(Field{Path: "tolerance", Doc: "Largest timing error allowed between idle and redline.",
			Example: "1 deg", Default: "1 deg"}, func(c *Card) *quantity.Crank { return &c.Tolerance }, 0.05, 15),
	}
}
