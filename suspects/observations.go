package suspects

import (
	"math"
	"sync"

	"phasewright/bench"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// observation is one thing that a technician looks at and says in a word, or measures and the number falls into a
// class that has a word. A row drives reader, schema, weighing, advice and the page. What a fault does to it stands
// with the fault.
type observation struct {
	key     string // in an evidence file
	doc     string
	saw     string    // how the word is introduced
	ask     string    // what to do; "": never advised
	words   []string  // what may be seen
	sound   []float64 // chances on a sound engine, in per cent; of a look that takes several words each its own
	many    bool      // it takes several words
	listed  bool      // its key stands in the table of fields already
	measure *measured // a number instead of a word; nil: none
	minutes float64
	state   State
	needs   func(c *bench.Config) bool // nil: any engine
	// the chance of the second word by the bench's faults, on a wire where it is of one; nil: by the rows alone
	bench func(p *point, wire int) float64
}

// measured is a number and the classes that it falls into.
type measured struct {
	unit      unit
	example   string
	low, high float64
	class     func(e *Engine, v float64) int // index of the word
}

func measuredAs[T quantity.Quantity](example string, low, high float64,
	class func(e *Engine, v float64) int) *measured {
	return &measured{unitOf[T](), example, low, high, class}
}

// above gives the second word to what is more than a limit, below to what is less.
func above(limit float64) func(*Engine, float64) int {
	return func(_ *Engine, v float64) int { return which(v > limit) }
}

func below(limit float64) func(*Engine, float64) int {
	return func(_ *Engine, v float64) int { return which(v < limit) }
}

func which(second bool) int {
	if second {
		return 1
	}
	return 0
}

// Limits between words: common practice without a published source.
const (
	feedDropMost   = 0.5   // V under current, battery to coil
	groundDropMost = 0.3   // V under current
	coilFullShare  = 0.87  // of the supply that the card has, at the coil
	weakPulse      = 0.7   // V peak of a reluctance pickup on the starter
	wideGap        = 1.5   // mm
	pullsFrom      = 20    // rpm of idle speed lost as a cylinder is cut
	longJump       = 6     // mm
	highWire       = 30e3  // ohm
	highRotor      = 15e3  // ohm
	openWinding    = 100e3 // ohm, of a secondary
	somePlay       = 3     // crank degrees until the rotor moves
	largePlay      = 7
	nearEdge       = 6 // crank degrees between the cam edge and a crank edge
)

var (
	goodBad = []string{"right", "wrong"}
	spark3  = []string{"strong", "weak", "none"}
)

// observations are all of them, in the order in which one looks; cylinderObservations those of one cylinder, beside
// whether it misfires. Both are built once: nobody changes a row.
var (
	observations         = sync.OnceValue(observationTable)
	cylinderObservations = sync.OnceValue(cylinderTable)
)

func observationTable() []observation {
	at := func(share float64) func(e *Engine, v float64) int {
		return func(e *Engine, v float64) int { return which(v < share*e.battery()) }
	}
	volts := func(example string, class func(e *Engine, v float64) int) *measured {
		return measuredAs[quantity.Voltage](example, 0, 60, class)
	}
	ohms := func(example string, class func(e *Engine, v float64) int) *measured {
		return measuredAs[quantity.Resistance](example, 0, 1e9, class)
	}
	counted := func(class func(e *Engine, v float64) int) *measured {
		return &measured{unit: unit{}, example: "0", low: 0, high: 1e9, class: class}
	}
	powered := &measured{class: below(3)}
	return []observation{
		{key: "engine.worse", doc: "When the trouble shows: any of these, [] where it makes no difference.",
			saw: "the trouble shows", ask: "ask, or try, when the trouble shows: cold, hot, in the wet, under load, " +
				"idling, at high speed, on the starter",
			words: []string{"cold", "hot", "in the wet", "under load", "at idle",
				"at high speed", "while cranking", "over bumps", "now and then", "always"},
			sound: []float64{5, 5, 3, 6, 6, 6, 5, 2, 12, 8}, many: true, minutes: 3, state: Standing},
		{key: "engine.backfire", doc: "Backfire while it runs.", saw: "backfire while running:",
			ask: "run it and listen for backfire, in the intake or in the exhaust", words: []string{"none", "intake",
				"exhaust"}, sound: []float64{94, 3, 3}, minutes: 2, state: Runs},
		{key: "engine.vacuum", doc: "Intake vacuum at idle.", saw: "intake vacuum:",
			ask:   "read the intake vacuum at idle",
			words: []string{"steady", "low", "flicks"}, sound: []float64{93, 4, 3}, minutes: 3, state: Runs,
			needs: several},
		{key: "engine.compressions", doc: "Compression of all cylinders.", saw: "compressions:",
			ask:   "measure the compression of every cylinder, fuel and coil off",
			words: []string{"even", "one low", "all low"}, sound: []float64{95, 3, 2}, minutes: 20, state: OnStarter},
		{key: "engine.no1", doc: "The cylinder taken as No. 1, against the maker's drawing.",
			saw:   "cylinder taken as No. 1:",
			ask:   "look up in the maker's drawing: which cylinder is No. 1, where its mark and wire are",
			words: goodBad, sound: []float64{98.5, 1.5}, minutes: 1, state: Standing, needs: several},
		{key: "engine.hot_to_touch", doc: "What is hotter to the touch than it should be, [] where nothing is.",
			saw: "hot to the touch:", ask: "key off, box bled, after a run: feel for what is too hot: coil, driver, " +
				"box, resistor, pickup, feed wire, ground strap", words: []string{"coil", "driver", "box", "resistor",
				"pickup",
				"feed wire", "ground strap"}, sound: []float64{4, 3, 3, 4, 3, 2, 2}, many: true, minutes: 2,
			state: Standing},
		{key: "battery.crank_pickup", saw: "crank pickup", ask: "measure the supply at the crank pickup, key on",
			words: []string{"has power", "has no power"}, sound: []float64{99, 1}, measure: powered, minutes: 1.5,
			state: KeyOn, listed: true},
		{key: "battery.cam_pickup", saw: "cam pickup", ask: "measure the supply at the cam pickup, key on",
			words: []string{"has power", "has no power"}, sound: []float64{99, 1}, measure: powered, minutes: 1.5,
			state: KeyOn, needs: withCam, listed: true},
		{key: "battery.coil", doc: "Supply at the coil's feed, key on and current flowing.", saw: "supply at the coil:",
			ask:   "measure the supply at the coil's feed, key on, current flowing",
			words: []string{"full", "low"}, sound: []float64{96, 4}, measure: volts("12.0 V", at(coilFullShare)),
			minutes: 1.5, state: KeyOn},
		{key: "battery.coil_running", doc: "Supply at the coil's feed, engine running.",
			saw: "supply at the coil, running:",
			ask: "measure the supply at the coil's feed while it runs", words: []string{"full", "low"},
			sound: []float64{95, 5}, measure: volts("13.2 V", func(e *Engine, v float64) int {
				return which(v < coilFullShare*float64(e.c.Ignition.Supply))
			}), minutes: 2, state: Runs},
		{key: "battery.feed_drop", doc: "Voltage lost from the battery's + to the coil's feed, current flowing.",
			saw: "drop in the feed:", ask: "measure the drop from battery + to the coil's feed, current flowing",
			words: []string{"small", "high"}, sound: []float64{96, 4}, measure: volts("0.2 V", above(feedDropMost)),
			minutes: 2, state: KeyOn},
		{key: "battery.ground_drop", doc: "Voltage lost from engine or controller ground to the battery's −, current " +
			"flowing.", saw: "drop in the ground:", ask: "measure the drop from engine and controller ground to " +
			"battery −, current flowing", words: []string{"small", "high"}, sound: []float64{96, 4},
			measure: volts("0.1 V", above(groundDropMost)), minutes: 2, state: KeyOn},
		{key: "battery.fuse", doc: "Fuse of ignition and controller.", saw: "the fuse is", ask: "look at the fuse of " +
			"ignition and controller", words: []string{"good", "blown"}, sound: []float64{99, 1}, minutes: 0.7,
			state: Standing},
		{key: "settings.trigger", doc: "Type of pickup, pull-up and count of edges as set, against the metal.",
			saw: "trigger as set:", ask: "read back the pickup's type, pull-up and count of edges; hold them " +
				"against the metal", words: goodBad, sound: []float64{98.5, 1.5}, minutes: 1.5, state: KeyOn},
		{key: "settings.order", doc: "Firing order read back from the controller.", saw: "firing order read back:",
			ask:   "read the firing order back from the controller",
			words: goodBad, sound: []float64{99, 1}, minutes: 0.7, state: KeyOn, needs: several},
		{key: "settings.lock", saw: "timing lock read back", ask: "look whether the timing is locked", listed: true,
			words: []string{"on", "off"}, sound: []float64{98.5, 1.5}, minutes: 0.5, state: KeyOn},
		{key: "controller.speed", doc: "Speed that the controller shows on the starter, against the true one.",
			saw: "speed shown by the controller:", ask: "on the starter, fuel off, watch the speed that the " +
				"controller shows",
			words: []string{"steady", "jumps", "none", "half", "double"}, sound: []float64{95.5, 2, 1, 0.7, 0.8},
			minutes: 0.7, state: OnStarter},
		{key: "controller.errors", doc: "Trigger errors that the controller has counted.",
			saw: "trigger errors counted:",
			ask: "read the controller's count of trigger errors after a run", words: []string{"none", "few", "many"},
			sound: []float64{91, 8, 1}, measure: counted(func(_ *Engine, v float64) int {
				return which(v > 0) + which(v >= 10)
			}), minutes: 0.7, state: KeyOn},
		{key: "controller.sync_losses", doc: "Losses of sync that the controller has counted.",
			saw: "sync losses counted:",
			ask: "read the controller's count of sync losses after a run", words: []string{"none", "some"},
			sound: []float64{95, 5}, measure: counted(above(0)), minutes: 0.7, state: KeyOn, needs: withCam},
		{key: "compression", saw: "compression as the rotor comes to No. 1:", listed: true,
			ask: "plug 1 out, finger on the hole; turn until rotor and mark stand at No. 1: is compression " +
				"felt", words: feltWords, sound: []float64{98, 2}, minutes: 5, state: ByHand},
		{key: "chain_marks", doc: "Marks of cam and crank on their chain or belt.", saw: "chain marks:",
			ask:   "open the cover and see whether the marks of chain or belt are in line",
			words: []string{"in line", "off"},
			sound: []float64{98, 2}, minutes: 20, state: ByHand},
		{key: "housing.clamp", saw: "the housing with its clamp done up", listed: true,
			ask:   "try by hand, engine stopped, whether the housing moves with its clamp done up",
			words: clampWords, sound: []float64{98, 2}, minutes: 0.7, state: Standing},
		{key: "housing.travel", saw: "the housing stands in its travel",
			ask:    "see where the housing stands in its travel",
			listed: true, words: travelWords, sound: []float64{97, 3}, minutes: 0.5, state: Standing},
		{key: "housing.advance_plate", doc: "The plate of a mechanical advance, weights and springs.",
			saw: "the advance plate is", ask: "feed off, cap off: try by hand whether the advance plate turns on its " +
				"shaft",
			words: []string{"locked", "free"}, sound: []float64{98, 2}, minutes: 3, state: Standing,
			needs: func(c *bench.Config) bool { return steers(c) || c.Distributor.GearTeeth > 0 }},
		{key: "rotor.tip", doc: "The rotor's tip and body.", saw: "the rotor is",
			ask: "take the cap off and look at the " +
				"rotor's tip and body", words: []string{"clean", "burnt", "cracked"}, sound: []float64{93, 5, 2},
			minutes: 2,
			state:   Standing, needs: steers},
		{key: "rotor.resistance", doc: "Resistance of the rotor from its spring to its tip.",
			saw: "resistance of the rotor:",
			ask: "measure the rotor from spring to tip", words: []string{"right", "high"}, sound: []float64{97, 3},
			measure: ohms("5 kohm", above(highRotor)), minutes: 2, state: Standing, needs: steers},
		{key: "rotor.from_crank", doc: "How far the crank can be rocked before the rotor moves.",
			saw: "play from crank to rotor:", ask: "rock the crank by hand and read how far it moves before the " +
				"rotor does",
			words: []string{"small", "some", "large"}, sound: []float64{90, 8, 2},
			measure: measuredAs[quantity.Crank]("2 deg", 0, 90, func(_ *Engine, v float64) int {
				return which(v > somePlay) + which(v > largePlay)
			}), minutes: 4, state: ByHand},
		{key: "cap.brush", doc: "The brush in the middle of the cap.", saw: "centre brush:",
			ask: "take the cap off and try " +
				"the brush in its middle: whole, sprung, touching the rotor", words: []string{"good", "worn", "broken"},
			sound: []float64{97, 2.2, 0.8}, minutes: 2, state: Standing, needs: steers},
		{key: "cap.inside", doc: "Damp in the cap.", saw: "the cap is inside",
			ask:   "take the cap off and look for damp",
			words: []string{"dry", "damp"}, sound: []float64{95, 5}, minutes: 2, state: Standing, needs: steers},
		{key: "cap.wires", saw: "wires followed from tower to plug:", ask: "follow each wire from tower to plug, " +
			"ignition off",
			listed: true, words: rightWrong, sound: []float64{98, 2}, minutes: 3, state: Standing, needs: steers},
		{key: "coil.spark", doc: "Spark at the coil's own lead, on the starter.", saw: "spark at the coil's own lead:",
			ask:   "tester on the coil's own lead, fuel off: look at the spark on the starter",
			words: spark3, sound: []float64{95, 4, 1}, minutes: 3, state: OnStarter},
		{key: "coil.lost", saw: "spark at the plug wire against the coil's own:", listed: true,
			words: []string{"the same", "weaker"}, sound: []float64{96, 4}},
		{key: "coil.trigger", doc: "Whether the controller's output reaches driver, box or coil, on the starter.",
			saw: "trigger at driver or box:", ask: "on the starter, fuel off: see with a lamp or meter whether the " +
				"controller's output reaches driver or box", words: []string{"pulses", "none"}, sound: []float64{98, 2},
			minutes: 2, state: OnStarter},
		{key: "coil.polarity", doc: "Polarity of the coil's output, by pencil or scope.", saw: "polarity of the coil:",
			ask:   "see by pencil or scope which way round the coil's spark jumps",
			words: polarityWords, sound: []float64{99.4, 0.6}, minutes: 3, state: OnStarter},
		{key: "coil.primary", doc: "Resistance of the coil's primary winding.", saw: "primary winding:",
			ask: "key off, measure the coil's primary winding", words: []string{"right", "open", "short"},
			sound: []float64{97, 1.5, 1.5}, measure: ohms("0.6 ohm", func(e *Engine, v float64) int {
				r := float64(e.c.Ignition.Resistance)
				switch {
				case v > max(4*r, 10):
					return 1
				case v < 0.4*r:
					return 2
				}
				return 0
			}), minutes: 2, state: Standing},
		{key: "coil.secondary", doc: "Resistance of the coil's secondary winding.", saw: "secondary winding:",
			ask: "key off, measure the coil's secondary winding", words: []string{"right", "open"},
			sound:   []float64{97, 3},
			measure: ohms("8 kohm", above(openWinding)), minutes: 2, state: Standing},
		{key: "coil.resistor", doc: "The coil's ballast resistor against what coil and driver want.",
			saw:   "ballast resistor:",
			ask:   "see whether coil and driver want a ballast resistor, and whether it is there",
			words: []string{"as the card says", "missing", "in the way"}, sound: []float64{97, 1.5, 1.5}, minutes: 1.5,
			state: Standing},
		{key: "pickup.crank_pulse", doc: "Peak of the crank pickup's pulse on the starter.",
			saw:   "pulse of the crank pickup:",
			ask:   "measure the crank pickup's pulse on the starter, fuel off",
			words: []string{"strong", "weak"}, sound: []float64{96, 4},
			measure: measuredAs[quantity.Voltage]("1.2 V", 0, 400, below(weakPulse)), minutes: 3, state: OnStarter,
			needs: func(c *bench.Config) bool { return c.Crank.Kind == jobcard.Reluctor }},
		{key: "pickup.cam_pulse", doc: "Peak of the cam pickup's pulse on the starter.",
			saw:   "pulse of the cam pickup:",
			ask:   "measure the cam pickup's pulse on the starter, fuel off",
			words: []string{"strong", "weak"}, sound: []float64{96, 4},
			measure: measuredAs[quantity.Voltage]("1.2 V", 0, 400, below(weakPulse)), minutes: 3, state: OnStarter,
			needs: func(c *bench.Config) bool { return c.CamFitted && c.Cam.Kind == jobcard.Reluctor }},
		{key: "pickup.crank_gap", doc: "Gap between crank pickup and vane.", saw: "gap of the crank pickup:",
			ask: "measure the gap between crank pickup and vane", words: []string{"right", "wide"},
			sound:   []float64{97, 3},
			measure: measuredAs[quantity.Length]("0.8 mm", 0, 20, above(wideGap)), minutes: 4, state: Standing},
		{key: "pickup.cam_gap", doc: "Gap between cam pickup and vane.", saw: "gap of the cam pickup:",
			ask: "measure the gap between cam pickup and vane", words: []string{"right", "wide"},
			sound:   []float64{97, 3},
			measure: measuredAs[quantity.Length]("0.8 mm", 0, 20, above(wideGap)), minutes: 4, state: Standing,
			needs: withCam},
		{key: "pickup.screen", doc: "Screen and ground of the pickup's cable.", saw: "screen of the pickup's cable:",
			ask:   "follow the pickup's cable: screen, its ground, its way past coil and plug wires",
			words: []string{"good", "broken"}, sound: []float64{96, 4}, minutes: 3, state: Standing},
		{key: "pickup.plug", doc: "Connectors moved by hand while one watches.", saw: "connectors moved by hand:",
			ask:   "move connectors and loom by hand, key on, and watch for an answer",
			words: []string{"tight", "loose"}, sound: []float64{97, 3}, minutes: 3, state: KeyOn},
		{key: "fuel.pressure", doc: "Fuel pressure, or fuel in the bowl.", saw: "fuel:",
			ask: "measure the fuel pressure, or " +
				"look for fuel in the bowl", words: []string{"right", "low", "none"}, sound: []float64{95, 4, 1},
			minutes: 5,
			state:   KeyOn},
		{key: "fuel.mixture", doc: "Mixture by gas, probe or plugs.", saw: "mixture:",
			ask: "read the mixture at idle and " +
				"under load", words: []string{"right", "lean", "rich"}, sound: []float64{92, 4, 4}, minutes: 4,
			state: Runs},
		{key: "capture.leads_swapped", saw: "crank and cam on each other's channel:", listed: true,
			ask:   "see in a recording whether crank and cam cables are on each other's input",
			words: []string{"no", "yes"}, sound: []float64{99.5, 0.5}, minutes: 8, state: OnStarter},
		{key: "capture.wrong_edge", saw: "sparks follow the other edge:", listed: true,
			ask:   "see in a recording which edge the sparks follow",
			words: []string{"no", "yes"}, sound: []float64{99.2, 0.8}, minutes: 8, state: OnStarter},
		{key: "capture.polarity", saw: "polarity of the crank signal:", listed: true,
			ask: "look at the crank pickup's signal on a scope: the steep fall through zero must be where the " +
				"controller acts",
			words: polarityWords, sound: []float64{98, 2}, minutes: 8, state: OnStarter,
			needs: func(c *bench.Config) bool { return c.Crank.Kind == jobcard.Reluctor }},
		{key: "capture.cam_edges", doc: "Active cam edges in a cycle.", saw: "cam edges in a cycle:",
			ask: "record the signals and count the cam edges in a cycle", words: []string{"one", "none", "several"},
			sound: []float64{97, 1, 2}, measure: counted(func(_ *Engine, v float64) int {
				switch math.Round(v) {
				case 1:
					return 0
				case 0:
					return 1
				}
				return 2
			}), minutes: 8, state: OnStarter, needs: withCam},
		{key: "capture.extra_cam", doc: "Extra cam edges for each cycle, a share of 0 to 1.", saw: "extra cam edges:",
			ask:   "record the signals through the speed range and look for extra cam edges",
			words: []string{"none", "some"},
			sound: []float64{98, 2}, measure: counted(above(0.003)), minutes: 8, state: HighSpeed, needs: withCam},
		{key: "capture.cam_margin", doc: "Crank degrees from the cam edge to the nearest crank edge.",
			saw: "cam edge from the nearest crank edge:", ask: "record the signals: how far does the cam edge " +
				"stand from the nearest crank edge", words: []string{"clear", "near"}, sound: []float64{96, 4},
			measure: measuredAs[quantity.Crank]("12 deg", 0, 360, below(nearEdge)), minutes: 8, state: OnStarter,
			needs: withCam},
	}
}

func cylinderTable() []observation {
	return []observation{
		{key: "cylinders.cut_drop", doc: "Idle speed lost as the cylinder is cut.", saw: "idle speed, cylinder cut:",
			ask:   "cut one cylinder after the other at idle and note how far the speed drops",
			words: []string{"drops", "little"},
			sound: []float64{96, 4}, measure: measuredAs[quantity.Speed]("60 rpm", 0, 5000, below(pullsFrom)),
			minutes: 4,
			state:   Runs, needs: several, bench: (*point).idles},
		{key: "cylinders.spark", doc: "Spark at its plug wire or coil, on a tester.", saw: "spark:",
			ask: "tester on its wire or coil: look at the spark", words: spark3, sound: []float64{94, 5, 1}, minutes: 3,
			state: OnStarter},
		{key: "cylinders.colour", doc: "Colour of its spark on the tester.", saw: "colour of the spark:",
			words: []string{"blue", "yellow"}, sound: []float64{90, 10}},
		{key: "cylinders.jump", doc: "How far its spark jumps on a tester.", saw: "the spark jumps",
			ask: "open the tester and see how far the spark jumps", words: []string{"far", "short"},
			sound:   []float64{93, 7},
			measure: measuredAs[quantity.Length]("8 mm", 0, 60, below(longJump)), minutes: 3, state: OnStarter},
		{key: "cylinders.wire", doc: "Resistance of its plug wire, end to end.", saw: "resistance of the plug wire:",
			ask: "key off, measure its plug wire from end to end, bending it", words: []string{"right", "high"},
			sound: []float64{96, 4}, measure: measuredAs[quantity.Resistance]("6 kohm", 0, 1e12, above(highWire)),
			minutes: 2, state: Standing, needs: steers},
		{key: "cylinders.plug", doc: "Face of its plug.", saw: "the plug is",
			ask:     "take its plug out and look at its face",
			words:   []string{"good", "sooty", "wet", "white", "oily", "cracked"},
			sound:   []float64{83, 7, 2.5, 4, 2.5, 1},
			minutes: 5, state: Standing},
		{key: "cylinders.injector", doc: "Its injector, listened to or on a lamp.", saw: "the injector",
			ask: "listen at its injector, or put a lamp on its plug", words: []string{"clicks", "silent"},
			sound: []float64{97.5, 2.5}, minutes: 2, state: Runs},
		{key: "cylinders.compression", doc: "Its compression, against its neighbours.", saw: "compression:",
			ask: "measure its compression, fuel and coil off", words: []string{"right", "low"}, sound: []float64{96, 4},
			minutes: 8, state: OnStarter},
		{key: "cylinders.moves_with", doc: "What the misfire moved with as it was exchanged with a neighbour's.",
			saw: "the misfire moved with", ask: "exchange plug, wire or coil, and injector with a neighbour's, " +
				"one by one; what does the misfire move " +
				"with", words: []string{"nothing", "plug", "wire", "coil", "injector"},
			sound: []float64{84, 4, 4, 4, 4}, minutes: 10, state: Runs, needs: several},
	}
}

// idles is how likely a cylinder that is cut changes little, by the bench's faults.
func (p *point) idles(wire int) float64 { return 0.03 + 0.94*p.misfires(wire) }
