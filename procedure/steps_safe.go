package procedure

import (
	"fmt"

	"phasewright/jobcard"
	"phasewright/sheet"
)

// The limits of safe touch and air. Each is checked against the maker's word first.
const (
	// touchLimit is the direct voltage that may be touched, in volts: the steady limit of class ES1 in IEC 62368-1.
	// From memory.
	touchLimit = 60
	// blowerMinutes is how long a bilge blower runs before a start: common practice on petrol boats, from memory; the
	// maker's plate wins.
	blowerMinutes = 4
	// crankSeconds is how long a starter turns at once, restSeconds how long it rests then: common practice; the
	// maker's word wins.
	crankSeconds, restSeconds = 10, 60
)

// before is what comes before anything is touched.
func (b *builder) before() []Step {
	part := "Before anything"
	begin := Step{
		ID: StepBegin, Anytime: true, Part: part, Title: "Read the sheet and say who is here",
		Hazard: "Ignition fields can stop a pacemaker. Who wears an implant keeps out of the room.",
		Do: some("Turn the key off.", "See that the engine stands.",
			"Take bar and piston stop off, where a break left them.", "Read every caution of the sheet.",
			"Say who works, and who else may come near."),
		Why: "who is not counted is not warned",
		Show: []Figure{{"sheet", fmt.Sprintf("%d fine, %d caution, %d stop", b.s.Count(sheet.Fine),
			b.s.Count(sheet.Caution), b.s.Count(sheet.Stop))}},
		Demand: Demand{Kinds: []ProofKind{Written}, Ask: "who is here",
			Also: []Also{
				{LookImplants, "nobody here wears a pacemaker or another implant"},
				{LookTools, "key off, engine stands, bar and stop off"},
				{LookPeople, "the maker's instructions and local law come first"}}},
		During: [][]Effect{phase(to(Key, KeyOff), to(Engine, Stopped), to(Bar, OffCrank))},
		After:  []Effect{to(People, Yes), to(Key, KeyOff), to(Engine, Stopped), to(Bar, OffCrank)},
		Undo:   []Effect{to(People, No)},
	}
	if n := b.s.Count(sheet.Stop); n > 0 {
		begin.Bar = Barrier{"a set-up sheet without a stop", b.stops(),
			"change the job card so that the sheet holds no stop", false}
		begin.Branches = []Branch{{If: "the sheet holds a stop", Why: "work begun on it cannot end well",
			Do: "change what it names on the card. Then read the new sheet", Go: StepBegin}}
	}
	if b.c.Engine.Fuel == "" || b.c.Engine.Place == "" {
		begin.Bar = Barrier{"fuel system and place on the job card",
			"not given: " + pick(b.c.Engine.Fuel == "", "engine.fuel", "engine.place"),
			"write engine.fuel and engine.place on the card. They say what has to be cut off", true}
	}
	placed := Step{
		ID: StepPlace, Anytime: true, Part: part, Title: b.placeTitle(),
		Hazard: "An engine that starts moves whatever it drives. Exhaust kills indoors.",
		Why:    "hands and then the starter will turn this engine",
		Demand: tick("place safe"),
		Needs:  []Condition{is(Engine, Stopped), is(Key, KeyOff)},
		After:  []Effect{to(Secured, Yes)}, Undo: []Effect{to(Secured, No)},
	}
	also := []Also{{LookDrive, b.driveOut()},
		{LookExhaust, "exhaust outside by a hose, extinguisher in reach, eyes covered, sleeves tight"}}
	switch {
	case b.boat:
		placed.Do = some("Double the moorings.", "Put the gearbox in neutral.",
			"Keep everybody away from the propeller.",
			fmt.Sprintf("Run the bilge blower for %d minutes.", blowerMinutes),
			"Then sniff the bilge at its lowest place.", "Take the exhaust overboard by a "+
				"hose.", "Put an extinguisher in reach.")
		also = append(also, b.bilge())
	case b.road:
		placed.Do = some("Chock the wheels, both ways.", "Put the gearbox in neutral or park.",
			"Stand it on stands, where anyone goes under it.", "Take the exhaust outside by a hose.",
			"Put an extinguisher in reach.")
		also = append(also, Also{LookAirbags, "airbags dealt with by the maker's way, or none near the work"})
	default:
		placed.Do = some("Declutch the pump, generator or drive.", "Bolt the set down.",
			"Take the exhaust outside by a hose.", "Put an extinguisher in reach.")
	}
	placed.Demand.Also = also
	found := Step{
		ID: StepAsFound, Part: part, Title: "Run it as found, and stop it by the kill",
		Hazard: "Belts, fan and hot manifold are an arm's length away. Under the flashing light a turning fan looks " +
			"still.",
		Do: some("Walk round the engine.", "Keep one hand at the kill.", "Start it.",
			"Note idle, oil pressure and timing.", "Kill it: it must stop at once."),
		Why: "a stop that fails is found now, not at full speed",
		Demand: Demand{Kinds: []ProofKind{Written}, Ask: "idle, oil pressure, timing as found; or: does not run",
			Also: append(b.walk(), Also{LookKill, "the kill stopped it at once, or it does not run"})},
		Branches: []Branch{
			{If: "the kill does not stop it", Why: "nothing else stops a runaway",
				Do: "shut fuel and air. Then mend the kill first", Go: StepAsFound},
			{If: "no oil pressure", Why: "the new unit would get the blame",
				Do: "stop at once. Find the cause", Go: StepAsFound},
			{If: "it does not run", Why: "the kill is tried at the first start instead",
				Do: "write so. Go on with the coil feed", Go: StepFeed}},
		Needs: []Condition{is(Engine, Stopped), is(Key, KeyOff), is(Unit, OldIn), is(Plugs, In), is(Wires, On)},
		During: [][]Effect{append([]Effect{to(FuelLine, Full)}, feared...),
			phase(to(Key, KeyCrank), to(Engine, Cranking)), phase(to(Key, KeyRun), to(Engine, Running))},
		After: append([]Effect{to(AsFound, Yes), to(Engine, Stopped), to(Key, KeyOff), to(FuelLine, Full)}, feared...),
		Once:  []Condition{is(Unit, OldIn), is(Noted, No), is(Plugs, In), is(Wires, On)},
		Holds: []Clause{either(is(AsFound, Yes), notOld, is(Noted, Yes), is(Plugs, Out), is(Wires, Off))},
	}
	return []Step{begin, placed, found}
}

func (b *builder) placeTitle() string {
	switch {
	case b.boat:
		return "Moor it, gearbox in neutral, bilge blown out"
	case b.road:
		return "Chock it, gearbox in neutral or park"
	}
	return "Declutch what it drives"
}

func (b *builder) driveOut() string {
	switch {
	case b.boat:
		return "gearbox in neutral, moored, nobody near the propeller"
	case b.road:
		return "neutral or park, wheels chocked or on stands"
	}
	return "pump, generator or drive declutched"
}

func (b *builder) bilge() Also {
	return Also{LookBilge, fmt.Sprintf("blower run for %d minutes, bilge sniffed: no fuel", blowerMinutes)}
}

// walk is what is looked at right before the starter is enabled, every time.
func (b *builder) walk() []Also {
	out := []Also{{LookWalk, "walked round: tools counted, cables and sleeves clear, nobody at belts or fan"},
		{LookDrive, b.driveOut()}}
	if b.boat {
		out = append(out, b.bilge())
	}
	return append(out, Also{LookHeld, "one hand at the kill, the other off the engine"})
}

// deadAndDown is how the ignition is made dead in the steps that make it so by themselves.
func (b *builder) deadAndDown() (do []string, also []Also) {
	do = some(pick(b.injected, "Unplug the injectors.", ""), "Pull the coil feed.",
		"Meter it with the key on: it must be dead.", "Turn the key off and pocket it.",
		"Take all batteries and the charger off.", "Take the starter wire off.")
	also = []Also{{LookFeed, "coil feed metered dead, key on; then key off and pocketed"},
		{LookStarter, "starter wire off, all batteries off, other starts tagged"}}
	if b.box {
		do = append(do, "Wait as long as the box's maker says.", fmt.Sprintf("Meter the box: below %d V.", touchLimit))
		also = append(also, Also{LookBox, fmt.Sprintf("box below %d V by meter", touchLimit)})
	}
	return do, also
}

func (b *builder) makeSafe() []Step {
	part := "Make it dead"
	standing := []Condition{is(Engine, Stopped), is(Key, KeyOff)}
	feed := Step{
		ID: StepFeed, Anytime: true, Part: part, Title: "Pull the coil feed and meter it dead",
		Hazard: "Tens of kilovolts as long as it is fed. Turn the key to run only, never to start.",
		Do: some("Take bar and stop off, where they are on.", "Turn the key off.",
			pick(b.injected, "Unplug the injectors, or draw their fuse.", ""),
			"Pull the feed of the "+b.spark()+".", "Meter the feed with the key at run: zero volts.",
			"Turn the key off and pocket it.", "Tag the feed."),
		Why: "a wire that looks dead is not dead",
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "voltage at the coil feed, key at run", Unit: "V",
			Possible: Band{-1000, 1000}, Passes: Band{-0.5, 0.5}, Never: true,
			Also: []Also{{LookFeed, "feed tagged, key off and in the pocket"}}},
		Branches: []Branch{
			{If: "it still shows voltage", Why: "another feed, or the wrong wire",
				Do: "key off. Find it before anything else", Go: StepFeed, When: Band{-1000, 1000}}},
		Needs: []Condition{is(Engine, Stopped)},
		During: [][]Effect{phase(to(Bar, OffCrank), to(Key, KeyOff), to(Injectors, Dead)), phase(to(Key, KeyRun)),
			phase(to(Key, KeyOff), to(Feed, Dead))},
		After: []Effect{to(Feed, Dead), to(Injectors, Dead), to(Key, KeyOff), to(Bar, OffCrank)},
		Undo:  []Effect{to(Feed, Live), to(Injectors, Live), to(Box, Charged)},
		Holds: []Clause{either(is(Feed, Dead), is(Base, Yes)), either(is(Injectors, Dead), is(Base, Yes))},
	}
	out := []Step{feed}
	if b.fuelled {
		past := is(Turned, Yes)
		if !b.injected {
			past = is(Base, Yes)
		}
		fuel := Step{
			ID: StepFuelDown, Anytime: true, Part: part, Title: b.fuelTitle(),
			Hazard: "Fuel on a hot manifold burns. No flame, no lamp. Keep the extinguisher in hand.",
			Do: some("See that the coil feed is out.", "Wait until the manifold is cold.",
				pick(b.boat, "Keep the blower running.", "")),
			Why: "with fuel in the way, turning the crankshaft can start the engine",
			Demand: Demand{Kinds: []ProofKind{Tick}, Ask: "fuel down and shut, spills wiped up",
				Also: []Also{{LookFeed, "coil feed out, tag on: seen"},
					{LookCold, "manifold cold: a bare hand can rest on it"}}},
			Needs:  append([]Condition{is(Feed, Dead)}, standing...),
			During: [][]Effect{phase(to(Hands, AtFuel))},
			After:  []Effect{to(FuelLine, Empty)}, Undo: []Effect{to(FuelLine, Full)},
			Holds: []Clause{either(is(FuelLine, Empty), past)},
		}
		switch b.c.Engine.Fuel {
		case jobcard.Carburettor:
			fuel.Do = append(fuel.Do, "Shut the tap; without one, clamp the hose before the pump.",
				"Pull the fuse of an electric fuel pump.", "Drain the bowl into a closed can.", "Close line and can.")
			fuel.Demand.Ask = "tap shut, bowl empty, can closed and carried away"
			fuel.Notes = some(bowlHolds)
		case jobcard.Gas:
			fuel.Do = append(fuel.Do, "Shut the valve at the bottle or main.", "Let the line down outside.",
				"Tag the valve.")
			fuel.Demand.Ask = "valve shut and tagged, line let down outside"
		default:
			fuel.Do = append(fuel.Do, "Pull the pump's fuse.",
				"Let the rail down by the maker's way, into a rag.", "Read the gauge: zero.")
			fuel.Demand.Ask = "pump fuse out, rail at zero, rag in a closed can"
		}
		if b.boat {
			fuel.Demand.Also = append(fuel.Demand.Also, b.bilge())
		}
		out = append(out, fuel)
	}
	starts := Step{
		ID: StepStarts, Anytime: true, Part: part, Title: "Take off every way to start it",
		Hazard: "A spanner at the starter post welds itself on. Batteries give off gas that burns: no spark.",
		Do: some("Take rings, watch and chains off.", "Take the charger off the mains.",
			"Take every battery off, negative cable first.", "Take the starter wire off and tape it.",
			b.otherStarts()),
		Why: "a starter that turns while hands are in takes the hand",
		Demand: Demand{Kinds: []ProofKind{Tick},
			Ask: "all batteries and charger off, starter wire off and taped",
			Also: []Also{{LookRings, "rings off, hair and cords tied back"},
				{LookStarter, "ways to start it: " + string(b.c.Engine.Starts) + "; each off and tagged"}}},
		Needs: standing,
		After: []Effect{to(Starter, Disabled), to(Battery, Removed)},
		Undo:  []Effect{to(Starter, Able), to(Battery, Connected)},
		Holds: []Clause{either(is(Starter, Disabled), is(Turned, Yes)),
			either(is(Battery, Removed), is(Unit, NewIn)),
			either(is(Battery, Removed), is(Crank, AtLead), is(Phased, Yes))},
	}
	out = append(out, starts)
	if b.box {
		out = append(out, Step{
			ID: StepBleed, Anytime: true, Part: part, Title: "Let the spark box bleed down, and meter it",
			Hazard: "The store of a spark box kills, minutes after the key is off.",
			Do: some("See that its feed is out.", "Wait as long as its maker says.",
				"Use a meter and test leads rated for it.", "Meter the direct voltage across its coil output.",
				"Touch nothing before the meter says so."),
			Why: "it charges itself and keeps the charge",
			Demand: Demand{Kinds: []ProofKind{Number}, Ask: "voltage left at the box's coil output", Unit: "V",
				Possible: Band{-1000, 1000}, Passes: Band{-touchLimit, touchLimit}, Never: true,
				Also: []Also{{LookFeed, "box and coil feed out, tag on: seen"}}},
			Branches: []Branch{
				{If: "it stays above the limit", Why: "the bleed resistor is open, or the box has its feed",
					Do: "keep away. Look at the feed. Discharge it by its maker's way", Go: StepBleed,
					When: Band{-1000, 1000}}},
			Needs: append([]Condition{is(Feed, Dead)}, standing...),
			After: []Effect{to(Box, Bled)}, Undo: []Effect{to(Box, Charged)},
			Holds: []Clause{either(is(Box, Bled), is(Turned, Yes))},
		})
	}
	return out
}

func (b *builder) fuelTitle() string {
	switch b.c.Engine.Fuel {
	case jobcard.Carburettor:
		return "Cold: shut the tap and empty the bowl"
	case jobcard.Gas:
		return "Cold: shut the valve and let the line down"
	}
	return "Cold: pump fuse out, let the rail down"
}

func (b *builder) otherStarts() string {
	switch b.c.Engine.Starts {
	case jobcard.RemoteStart:
		return "Switch the remote start off and tag it."
	case jobcard.SecondHelm:
		return "Pull the key of the second helm and tag it."
	}
	return "Look for a second start; tag it where there is one."
}

func (b *builder) spark() string {
	switch {
	case b.box:
		return "spark box"
	case b.c.Ignition.Coils == jobcard.OneCoil:
		return "coil"
	}
	return "coils"
}
