package job

// round is a short group of questions that one looks at together.
type round struct {
	ID, Title string
	Mind      string   // the hazard of looking
	keys      []string // names of fields
}

const (
	cylinderRound = "cylinder"
	restRound     = "rest"
)

// rounds stand in the order in which one looks; what is in none of them is asked in the last, by part of the engine.
func rounds() []round {
	return []round{
		{"starter", "On the starter", "Fuel off, tools off the crank, hands clear of belts and fan.",
			[]string{"engine.starting", "spark", "controller.speed", "battery.cranking", "flashes on the starter"}},
		{"lamps", "Lamps, crank by hand", "Coil, injectors and starter off before the crank is turned by hand.",
			[]string{"lamp crank before", "lamp crank after", "lamp cam at", "compression", "rotor.points_to"}},
		{"light", "The light", "Clamp tight; wires and sleeves clear of belts and fan.",
			[]string{"flashes at idle", "mark at idle", "tacho at idle", "flashes at half speed", "timing_light.dial"}},
		{"running", "Running", "Belts, fan and hot parts within reach; exhaust let outside.",
			[]string{"engine.running", "engine.misfire", "engine.worse", "engine.backfire"}},
		{"wires", "Cap and wires", "Key off, box bled, before cap and wires are handled.",
			[]string{"cap.wires", "cap.traces", "cap.inside", "cap.brush", "rotor.tip"}},
		{cylinderRound, "One cylinder", "Key off, box bled, before plug or wire is handled.", nil},
		{"settings", "Read back", "",
			[]string{"settings.lock", "settings.allowance", "settings.lead", "settings.edge", "settings.dwell"}},
		{"controller", "The controller", "",
			[]string{"controller.errors", "controller.sync_losses", "settings.order", "settings.trigger"}},
		{restRound, "Work done, notes, more", "", []string{"worked_on", "housing.clamp", "notes"}},
	}
}
