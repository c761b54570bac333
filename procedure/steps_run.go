package procedure

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

func (b *builder) oilShown() string {
	return pick(b.c.Engine.OilShown == jobcard.OilGauge, "the oil gauge shows pressure", "the oil lamp goes out")
}

func (b *builder) noOil() string {
	return pick(b.c.Engine.OilShown == jobcard.OilGauge, "the gauge shows no oil pressure", "the oil lamp stays on")
}

// fuelOff is the look that no fuel gets in while the starter turns.
func (b *builder) fuelOff() []Also {
	switch {
	case !b.fuelled:
		return nil
	case b.injected:
		return []Also{{LookFuel, "injectors unplugged: seen"}}
	case b.c.Engine.Fuel == jobcard.Gas:
		return []Also{{LookFuel, "gas valve shut, line empty: seen"}}
	}
	return []Also{{LookFuel, "tap shut, bowl drained or run dry: seen"}}
}

// bowlHolds is why a shut tap is not enough.
const bowlHolds = "A carburettor's bowl holds enough fuel to start the engine with the tap shut. An open line fills " +
	"it again: the engine's own pump works as the starter turns."

// fuelIsOff is the sentence that has the fuel looked at before the starter turns; "" where there is none.
func (b *builder) fuelIsOff() string {
	switch {
	case !b.fuelled:
		return ""
	case b.injected:
		return "See every injector unplugged."
	case b.c.Engine.Fuel == jobcard.Gas:
		return "See the gas valve shut and the line empty."
	}
	return "See tap shut and bowl empty: drained or run dry."
}

// clampTight is looked at before every start on the new unit.
var clampTight = Also{LookClamp, "clamp tight: the housing does not move by hand"}

func (b *builder) starter() []Step {
	part := "Starter, no fuel"
	rest := fmt.Sprintf("Run the starter %d s at most, then rest %d s.", crankSeconds, restSeconds)
	standing := phase(to(Key, KeyOff), to(Battery, Connected))
	stood := []Effect{to(Key, KeyOff), to(Engine, Stopped), to(Starter, Able), to(Battery, Connected)}
	after := func(first Effect, more ...Effect) []Effect {
		return append(append([]Effect{first}, stood...), more...)
	}
	over := Step{
		ID: StepTurnOver, Part: part, Title: "Walk round; turn it over to oil pressure, coil dead",
		Hazard: "Whatever is left on the crankshaft is thrown. Nobody stands at belts, fan or propeller.",
		Do: some("See that the coil feed is out.", b.fuelIsOff(), "Put the battery on, where it is off.",
			"Walk round the engine.", "Put the starter wire on.", rest, "Stop once "+b.oilShown()+".",
			"Turn the key off."),
		Why: "a drive that missed the pump shows now, not after the first start",
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "oil pressure while cranking",
			Options: []string{"shown", "not shown"}, Right: "shown",
			Also: append(append(b.fuelOff(), Also{LookFeed, "coil feed out, tag on"}, clampTight), b.walk()...)},
		Branches: []Branch{
			{If: "no pressure shows within three tries", Why: "the drive missed the pump, or the shaft dropped",
				Do: "open it again. Look at the drive", Go: StepReopen, Says: "not shown"},
			{If: "it will not turn", Why: "starter wire, battery, or something jams",
				Do: "key off. Look before trying harder", Go: StepTurnOver}},
		Needs:  []Condition{is(Feed, Dead), is(Bar, OffCrank), is(Secured, Yes), is(People, Yes)},
		During: [][]Effect{standing, phase(to(Starter, Able)), phase(to(Key, KeyCrank), to(Engine, Cranking))},
		After:  after(to(Turned, Yes)), Failed: append(append([]Effect{}, stood...), to(Crank, Anywhere)),
	}
	return []Step{over, b.base(part, rest, standing, stood, after)}
}

func (b *builder) base(part, rest string, standing, stood []Effect, after func(Effect, ...Effect) []Effect) Step {
	a := b.c.Controller.Advance.Cranking.Or(0) // given, or the settings bar the way
	shown, foreseen, known := b.expected()
	half := foreseen + phasingLeaves + float64(b.c.Damper.ZeroMark) + float64(b.c.Tolerance)
	if !known {
		half = starterUsual
	}
	see := fmt.Sprintf("%s ± %s BTDC", deg(shown), deg(half))
	st := Step{
		ID: StepBase, Part: part, Title: "Coil on, walk round; read the light on the starter",
		Hazard: "Keep cables, sleeves and hair clear of belts and fan. Keep hands off the ignition. Fuel stays off.",
		Do: some(b.fuelIsOff(), "Set the light's own dial to zero.", "Put the coil feed on.", "Walk round the engine.",
			pick(b.single, "", "See the starter wire on."), rest,
			fmt.Sprintf("Read the damper: %s.", see), "Turn the key off."),
		Notes:  some(b.say("cranking_bias")),
		Why:    fmt.Sprintf("nothing may burn before the spark is known to jump near %s", deg(a)),
		Show:   []Figure{{"commanded", deg(a) + " BTDC"}, {"light must show", see}},
		Expect: see,
		Demand: Demand{Kinds: []ProofKind{Reading, Capture}, Ask: "what the light shows while cranking",
			Unit: "° BTDC", Possible: Band{-widest, widest}, Passes: around(shown, half), Never: true,
			Speed: Band{30, float64(b.c.Engine.IdleSpeed) / 2},
			Also:  append(append(b.fuelOff(), clampTight), b.walk()...)},
		Needs: []Condition{is(Turned, Yes), is(Settings, Yes), is(Injectors, Dead), is(Secured, Yes), is(People, Yes)},
		During: [][]Effect{standing, phase(to(Feed, Live)), phase(to(Starter, Able)),
			phase(to(Key, KeyCrank), to(Engine, Cranking), to(Light, OnMarks))},
		After:  after(to(Base, Yes), to(Feed, Live)),
		Failed: append(append([]Effect{}, stood...), to(Feed, Live), to(Crank, Anywhere)),
		Basis:  fmt.Sprintf("cranking %s, lead %s", deg(a), deg(b.c.Signals.Crank.Lead)),
	}
	if b.fuelled && !b.injected {
		st.Needs = append(st.Needs, is(FuelLine, Empty))
	}
	if b.coilEach() {
		st.Show = append(st.Show, b.sparkGoes())
		st.Demand.Also = append(st.Demand.Also, noOpenCoil)
	}
	near := func(off float64) Band { return around(shown+off, half+2) }
	if wrong := b.s.Item("active_edge").Value; math.Abs(wrong) > 2*half {
		st.Branches = append(st.Branches, Branch{If: fmt.Sprintf("it shows about %s", deg(shown+wrong)),
			Why: "off by two vane widths: the controller acts on the other edge",
			Do:  "take the settings back. Set the active edge", Go: StepSettings, When: near(wrong)})
	}
	travel := float64(engine.ShaftToCrank(b.c.Distributor.HousingTravel))
	if b.geared {
		tooth := float64(engine.ShaftToCrank(quantity.Shaft(360 / float64(b.c.Distributor.GearTeeth))))
		for _, off := range []float64{tooth, -tooth} {
			st.Branches = append(st.Branches, Branch{If: fmt.Sprintf("it shows about %s", deg(shown+off)),
				Why: fmt.Sprintf("off by one tooth of the gear, %s", deg(tooth)),
				Do:  "open it again. Move it a tooth", Go: StepReopen, When: near(off)})
		}
	}
	st.Branches = append(st.Branches,
		Branch{If: "it is off by a few degrees", Why: "housing, or a mark",
			Do: "stop. Turn the housing only as the job page advises",
			Go: StepHousing, When: around(shown, travel)},
		Branch{If: "it is further off",
			Why: "light on another plug wire, its dial not at zero, or a wire in the wrong place",
			Do:  "look at light, dial and wires", Go: StepWires, When: Band{-widest, widest}},
		Branch{If: "the light does not flash",
			Why: "no spark or no sync: pickup without power, cables swapped, edge wrong",
			Do:  "look at the pickups' feed. Read the settings again", Go: StepSettings},
		Branch{If: "it kicks against the starter", Why: "the spark comes far too early",
			Do: "key off. Take the settings back and look at the edge", Go: StepSettings},
		Branch{If: "flashes scatter by more than a degree or two",
			Why: "speed falls: weak battery; or the drive is worn", Do: "charge the battery. Read again",
			Go: StepBase})
	return st
}

func (b *builder) run() []Step {
	part := "Fuel, start, read"
	c := b.c
	locked := float64(c.Controller.Advance.Locked.Or(0)) // given, or the settings bar the way
	idle := float64(c.Engine.IdleSpeed)
	var out []Step
	if b.fuelled {
		prime := Step{
			ID: StepPrime, Part: part, Title: "Coil off; prime, and look along every joint",
			Hazard: "Fuel under pressure sprays, and its vapour can catch fire. At a leak: fuel off, battery off, " +
				"stand back.",
			Why: "a leak shows before a spark can reach it",
			Demand: Demand{Kinds: []ProofKind{Tick}, Ask: "primed, no leak seen or smelt",
				Also: []Also{{LookFeed, "coil feed out while it was primed"},
					{LookLeaks, "every joint looked at, dry"}}},
			Branches: []Branch{
				{If: "a joint is wet", Why: "it sprays once the engine shakes",
					Do: "fuel off. Mend it. Prime again", Go: StepPrime}},
			Needs: []Condition{is(Base, Yes), is(Engine, Stopped)},
			During: [][]Effect{phase(to(Key, KeyOff)), phase(to(Feed, Dead)),
				phase(to(Hands, AtFuel), to(FuelLine, Full))},
			After: []Effect{to(Leaks, Yes), to(FuelLine, Full), to(Feed, Dead), to(Key, KeyOff)},
			Holds: []Clause{either(is(Leaks, Yes)), either(is(FuelLine, Full))},
		}
		switch c.Engine.Fuel {
		case jobcard.Carburettor:
			prime.Do = some("Pull the coil feed.", "Open the tap.", "Let the bowl fill.",
				"Look along hose, bowl and throttle shaft.")
		case jobcard.Gas:
			prime.Do = some("Pull the coil feed.", "Open the valve.", "Spray every joint with soap water.",
				"Look for bubbles.")
		default:
			prime.Do = some("Pull the coil feed.", "Put the pump's fuse in.", "Turn the key to run, then off.",
				"Look along rail, hoses and joints.")
		}
		if b.boat {
			prime.Demand.Also = append(prime.Demand.Also, b.bilge())
			prime.Do = append(prime.Do, "Sniff the bilge.")
		}
		out = append(out, prime)
	}
	also := append(b.walk(), Also{LookOil, "within seconds: " + b.oilShown()},
		Also{LookKill, "kill tried: it stopped at once; started again"})
	water := ""
	switch c.Engine.Cooling {
	case jobcard.RawWater:
		also, water = append(also, Also{LookWater, "within a minute: water at the outlet"}),
			"See water at the outlet within a minute."
	case jobcard.Air:
		also, water = append(also, Also{LookWater, "cooling air flows: fan turns, cowls on"}),
			"See that the cooling air flows."
	default:
		also, water = append(also, Also{LookWater, "coolant full, no leak"}), "See coolant full, and no leak."
	}
	const runs = "runs, no leak"
	started := []Effect{to(Feed, Live), to(Injectors, Live), to(Starter, Able), to(Battery, Connected)}
	start := Step{
		ID: StepStart, Part: part, Title: "Coil on, walk round; start, see oil and cooling",
		Hazard: "Belts, fan and hot manifold are an arm's length away. Under the flashing light a turning fan looks " +
			"still.",
		Do: some(pick(b.injected, "Plug the injectors in.", ""), "Put the coil feed on.",
			"Walk round the engine.", "See the starter wire on.", "Keep one hand at the kill.",
			fmt.Sprintf("Start it; let it settle near %v.", c.Engine.IdleSpeed),
			"Kill it within seconds if "+b.noOil()+".", water, "Kill it: it must stop at once.",
			"Walk round again, then start it."),
		Why: "base timing is shown, fuel is tight",
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "how it went",
			Options: []string{runs, "spits back", "kicks", "does not start", "stopped again"}, Right: runs, Never: true,
			Also: also},
		Branches: []Branch{
			{If: "it spits back through the intake", Why: "half a cycle out, or two wires swapped",
				Do: "key off. Take the wires back. Then open it and look for both signs", Go: StepWires,
				Says: "spits back"},
			{If: "it kicks against the starter", Why: "the spark comes far too early",
				Do: "key off. Take base timing back and read again", Go: StepBase, Says: "kicks"},
			{If: "it will not start and does not spit", Why: "no fuel, or cam and crank signal do not fit",
				Do: "key off. Look at the fuel. Then look at the cam edge in the " +
					"settings", Go: StepSettings, Says: "does not start"},
			{If: "oil pressure or cooling stays away, or it leaks", Why: "it ruins the engine within a minute",
				Do: "kill it. Find the cause before another start", Go: StepStart, Says: "stopped again"}},
		Needs: []Condition{is(Base, Yes), is(Secured, Yes), is(People, Yes), is(Bar, OffCrank)},
		During: [][]Effect{phase(to(Key, KeyOff), to(Battery, Connected)),
			phase(to(Feed, Live), to(Injectors, Live)), phase(to(Starter, Able)),
			phase(to(Key, KeyCrank), to(Engine, Cranking)), phase(to(Key, KeyRun), to(Engine, Running))},
		After:  append([]Effect{to(Engine, Running), to(Key, KeyRun)}, started...),
		Undo:   []Effect{to(Engine, Stopped), to(Key, KeyOff)},
		Failed: append([]Effect{to(Engine, Stopped), to(Key, KeyOff), to(Crank, Anywhere)}, started...),
		Holds: []Clause{either(is(Engine, Running), is(Lock, Free)), either(is(Engine, Running), is(Proven, Yes)),
			either(is(Feed, Live)), either(is(Starter, Able)), either(is(Battery, Connected))},
	}
	if b.injected {
		start.Holds = append(start.Holds, either(is(Injectors, Live)))
	}
	if b.fuelled {
		start.Needs = append(start.Needs, is(Leaks, Yes), is(FuelLine, Full))
	}
	clear := "Keep cables, sleeves and hands away. Under the flashing light a turning fan looks still."
	held, bound := deg(quantity.Crank(locked)), deg(quantity.Crank(idleBound))
	low := Step{
		ID: StepIdle, Part: part, Title: fmt.Sprintf("Lock at %s BTDC; read the light at idle", held), Hazard: clear,
		Do: some(fmt.Sprintf("Let the controller hold %s BTDC, every correction off.", held),
			"Touch the throttle: the timing must not move.",
			fmt.Sprintf("Hold the speed near %v.", c.Engine.IdleSpeed), "Read, look away, read again."),
		Why:  fmt.Sprintf("nothing faster before idle stands within ± %s", bound),
		Show: []Figure{{"locked", held + " BTDC"}, {"must show", held + " ± " + bound + " BTDC"}},
		Demand: Demand{Kinds: []ProofKind{Reading, Capture}, Ask: "what the light shows at idle",
			Unit: "° BTDC", Possible: Band{-widest, widest}, Passes: around(locked, idleBound),
			Speed: Band{idle/2 + 1, idleTop(idle)},
			Also: []Also{{LookHeld, "locked: it stayed while the throttle moved"},
				{LookEven, pick(b.single, "it runs even: no miss, no popping",
					"it runs even on every cylinder: no popping")}}},
		Branches: []Branch{
			{If: "it stands outside the bound", Why: "housing, mark or edge; worse at every higher speed",
				Do: "do not rev it: stop. Turn the housing only as the job page advises", Go: StepHousing,
				When: Band{-widest, widest}},
			{If: "it moves with the throttle", Why: "it is not locked: the light follows the spark map",
				Do: "lock it again", Go: StepIdle},
			{If: "the reading walks while the speed stands", Why: "clamp loose or drive worn",
				Do: "stop. Take the clamp back", Go: StepClamp}},
		Needs:  []Condition{is(Engine, Running)},
		During: [][]Effect{phase(to(Light, OnMarks))},
		After:  []Effect{to(Idle, Yes), to(Lock, Locked)}, Undo: []Effect{to(Lock, LockUnknown)},
		Failed: []Effect{to(Engine, Running)},
		Holds:  []Clause{either(is(Idle, Yes)), either(is(Lock, Locked), is(Range, Yes))},
		Basis:  "locked " + held,
	}
	low.Branches = append(low.Branches, b.offTerminal()...)
	rungs, calm := b.ladder(), calmTop(float64(c.Engine.Redline))
	high := Step{
		ID: StepRange, Part: part, Title: "Read each speed, upwards, no faster than named",
		Hazard: clear + " Nobody stands in line with the fan. Held without load the engine heats up: be short.",
		Do: some("Leave the drive out: no load.", "Watch coolant and exhaust: red means stop.",
			fmt.Sprintf("Hold no speed longer than %d s.", heldSeconds),
			fmt.Sprintf("Let it idle %d s after each.", coolSeconds), "Take the lowest speed that is not read yet.",
			"Hold it steady.", "Read, and write it down."),
		Why: "an error that grows with speed is signal delay. With late timing and no load, exhausts glow",
		Show: []Figure{{"locked", held + " BTDC"},
			{"first, up to", quantity.RPM(calm) + ". Go above it only where all of these stand"}},
		Demand: Demand{Kinds: []ProofKind{Reading, Capture}, Ask: "what the light shows at the next speed",
			Unit: "° BTDC", Possible: Band{-widest, widest}, Passes: around(locked, idleBound),
			Rungs: rungs, Speed: Band{rungs[0].RPM * rungBelow, float64(c.Engine.Redline)},
			Also: []Also{{LookHeld, "held steady, no faster than named"},
				{LookClean, "it revved up clean: no miss, no popping, sync held"}}},
		Branches: []Branch{
			{If: "it stands outside the bound", Why: "the next speed would stand worse",
				Do: "close the throttle. Stop it. Then change the allowance, or the housing, as the job page " +
					"advises", Go: StepAllowance, When: Band{-widest, widest}},
			{If: "the reading walks while the speed stands", Why: "clamp loose or drive worn",
				Do: "stop. Take the clamp back", Go: StepClamp}},
		Needs:  []Condition{is(Engine, Running), is(Lock, Locked), is(Idle, Yes)},
		During: [][]Effect{phase(to(Light, OnMarks))},
		After:  []Effect{to(Range, Yes)}, Failed: []Effect{to(Engine, Running)},
		Basis: "locked " + held,
	}
	high.Branches = append(high.Branches, b.offTerminal()...)
	for _, r := range rungs {
		high.Show = append(high.Show, Figure{quantity.RPM(r.RPM), held + " ± " + bound + " BTDC"})
	}
	return append(out, start, low, high)
}

func (b *builder) handOver() []Step {
	part := "Prove and hand over"
	tol := float64(b.c.Tolerance)
	return []Step{{
		ID: StepProve, Part: part,
		Title:  fmt.Sprintf("Prove it: every clause shown, timing within %s", deg(b.c.Tolerance)),
		Hazard: "An engine held at speed heats up. Let it idle between readings.",
		Do:     some("Open the proof page.", "Read, or look at, what it says is open."),
		Why:    "five good readings on one wire do not show every speed and every cylinder",
		Show:   []Figure{{"tolerance", "± " + deg(b.c.Tolerance)}},
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "largest |error| + uncertainty (the judge fills it in)",
			Unit: "°", Possible: Band{0, widest}, Passes: Band{0, tol}},
		Branches: []Branch{
			{If: "it advises a turn of the housing", Why: "the error is the same at all speeds",
				Do: "stop. Turn it as advised", Go: StepHousing},
			{If: "it advises another allowance", Why: "the error grows with speed",
				Do: "stop. Change it as advised", Go: StepAllowance},
			{If: "it asks for more readings", Why: "the uncertainty is still too large",
				Do: "read at the speed that it names", Go: StepRange},
			{If: "it asks for a look", Why: "something else may have made the error",
				Do: "turn nothing. Look first. Then read the light at idle again", Go: StepIdle}},
		Needs: []Condition{is(Range, Yes)},
		After: []Effect{to(Proven, Yes)},
		Basis: "tolerance " + deg(b.c.Tolerance),
	}, {
		ID: StepUnlock, Part: part, Title: "Unlock the timing and see it move",
		Hazard: "Keep cables and sleeves clear of belts and fan while it revs.",
		Do: some("Let the controller command timing as in service.",
			"Open the throttle a little: the timing must move."),
		Why:    "a locked engine runs hot and weak under load",
		Demand: tick("unlocked, timing moves with speed and load"),
		Needs:  []Condition{is(Engine, Running), is(Proven, Yes)},
		After:  []Effect{to(Lock, Free)}, Undo: []Effect{to(Lock, LockUnknown)},
	}, {
		ID: StepSignOff, Part: part, Title: "Stop, look it over, close everything, sign",
		Hazard: "Hot parts stay hot after the stop.",
		Do: some("Turn the key off.", "Look at clamp, wires and joints.", "Count bar, stop, rag and tools.",
			"Take tags off; guards and covers on.", "Leave sheet and proof with the engine.", "Sign."),
		Why: "somebody answers for it: the spark jumps where it is commanded",
		Demand: Demand{Kinds: []ProofKind{Written}, Ask: "name of whoever answers for it",
			Also: []Also{{LookTools, "tools counted, none left in or on the engine"},
				{LookClosed, "feed, starter wire, batteries, guards back on; clamp, wires, joints looked at"},
				{LookKept, "sheet and proof left with the engine"}}},
		Needs: append([]Condition{is(Proven, Yes), is(Lock, Free), is(Bar, OffCrank), is(StopTool, NotIn),
			is(Plugs, In), is(Cap, On), is(Wires, On), is(Clamp, Tight)}, b.connected()...),
		During: [][]Effect{phase(to(Key, KeyOff), to(Engine, Stopped))},
		After:  []Effect{to(Signed, Yes), to(Key, KeyOff), to(Engine, Stopped)},
	}}
}

// connected is how an engine that goes back to work stands.
func (b *builder) connected() []Condition {
	out := []Condition{is(Battery, Connected), is(Starter, Able), is(Feed, Live)}
	if b.injected {
		out = append(out, is(Injectors, Live))
	}
	if b.fuelled {
		out = append(out, is(FuelLine, Full))
	}
	return out
}

// demand is the steps beside the line, done only where something asks for them.
func (b *builder) demand() []Step {
	part := "Where it is asked for"
	d, k := b.c.Distributor, b.c.Controller
	with, against := d.Rotation.FromAbove(), d.Rotation.Opposite().FromAbove()
	travel := float64(d.HousingTravel)
	const longest = 2000 // µs; no chain of pickup, wire and driver is slower. From memory
	standing := []Condition{is(Engine, Stopped), is(Key, KeyOff), is(People, Yes), is(Secured, Yes), is(Turned, Yes)}
	if b.fuelled && !b.injected {
		// first: run dry, rather than stop with a full bowl
		standing = append([]Condition{is(FuelLine, Empty)}, standing...)
	}
	dead, looked := b.deadAndDown()
	made := [][]Effect{phase(to(Injectors, Dead)), phase(to(Feed, Dead)),
		phase(to(Key, KeyOff), to(Battery, Removed), to(Starter, Disabled)), phase(to(Box, Bled))}
	fuel := Effect{FuelLine, Empty}
	if b.injected {
		fuel = to(FuelLine, Full) // somebody may have begun to prime it; injected, it may stay full
	}
	left := []Effect{fuel, to(Phased, Yes), to(Stroke, Yes), to(Turned, Yes), to(Clamp, Tight), to(Feed, Dead),
		to(Injectors, Dead), to(Box, Bled), to(Starter, Disabled), to(Battery, Removed), to(Key, KeyOff)}
	out := []Step{{
		ID: StepStop, Part: part, Title: "Stop it, key off", OnDemand: true,
		Hazard: "A fan may start by itself, and hot parts stay hot.",
		Do:     some("Turn the key off.", "Wait until fan and belts stand."),
		Why:    "nothing is turned or set on a running engine",
		Demand: tick("stopped, key off"),
		After:  []Effect{to(Engine, Stopped), to(Key, KeyOff)},
	}}
	if b.fuelled && !b.injected {
		what := pick(b.c.Engine.Fuel == jobcard.Gas, "valve", "tap")
		out = append(out, Step{
			ID: StepRunDry, Part: part, Title: "Shut the " + what + " and let it run dry", OnDemand: true,
			Hazard: "It may race as the fuel runs low. Hand at the kill, then wait until it stands.",
			Do: some("Shut the "+what+".", pick(what == "tap", "Pull the fuse of an electric fuel pump.", ""),
				"Let it idle until it stops.", "Turn the key off."),
			Notes:  some(pick(what == "tap", bowlHolds, "")),
			Why:    "the next check on the starter is done without fuel",
			Demand: tick(what + " shut" + pick(what == "tap", ", bowl run dry", "") + ": stopped by itself, key off"),
			Needs:  []Condition{is(Engine, Running)},
			After:  []Effect{to(FuelLine, Empty), to(Engine, Stopped), to(Key, KeyOff)},
		})
	}
	housing := Step{
		ID: StepHousing, Part: part,
		Title: fmt.Sprintf("Turn the housing, seen from above: %v if late, else %v",
			d.Rotation.Opposite(), d.Rotation),
		OnDemand: true,
		Hazard:   "Hot manifold, belts and live wires. Stop the engine and meter all of it dead first.",
		Do: append(append([]string{}, dead...), "Slacken the clamp: finger tight.",
			"Turn the housing as the job page advises, no further.", "Tighten the clamp to the maker's torque.",
			"Scribe housing to block anew.", "See wires and the light's cable clear of belts."),
		Why: "a constant error is the housing's",
		Show: []Figure{{"it shows early: retard it", "with the rotor: " + with},
			{"it shows late: advance it", "against the rotor: " + against},
			{"housing can turn", "± " + deg(d.HousingTravel)}},
		Demand: Demand{Kinds: []ProofKind{Number},
			Ask: "housing turned, seen from above (with the rotor +, against it −)", Unit: "shaft °",
			Possible: Band{-180, 180}, Passes: Band{-travel, travel},
			Also: append(append(b.fuelOff(), looked...), Also{LookClamp, "clamp at the maker's torque again"},
				Also{LookScribed, "scribed anew"})},
		Branches: []Branch{
			{If: "it needs more than the housing can turn",
				Why: pick(b.geared, "the gear stands a tooth out", "the tongue stands half a turn out"),
				Do:  "open it again. Lift the unit", Go: StepReopen, When: Band{-180, 180}},
			{If: "it was moved by an unknown amount", Why: "the edge is lost", Do: "take back the turn to the edge " +
				"(or the reluctor to its pole)",
				Go: StepPhase}},
		Needs: append(append([]Condition{}, standing...), is(Phased, Yes), is(Clamp, Tight)),
		During: append(append([][]Effect{}, made...),
			phase(to(Hands, AtIgnition), to(Clamp, Loose)), phase(to(Clamp, Tight))),
		After: append(fell(HousingTurned), left...),
	}
	whole, step := "", k.DelayStep.Or(0)
	if k.DelayStep.Given() {
		whole = fmt.Sprintf(", in whole steps of %v", step)
	}
	allowance := Step{
		ID: StepAllowance, Part: part, Title: "Change the delay allowance" + whole, OnDemand: true,
		Hazard: "A wrong setting fires the coil at once. Feed out first.",
		Do: some(pick(b.injected, "Unplug the injectors.", ""), "Pull the coil feed.",
			"Meter it with the key on: it must be dead.", "Set the allowance that the readings ask for.",
			"Store it.", "Turn the key off."),
		Notes: []string{"Timing that falls back as speed rises wants more."},
		Why:   "an error that grows with speed is the delay's",
		Show:  []Figure{{"allowance on the card", fmt.Sprint(k.DelayAllowance)}, {"step", fmt.Sprint(k.DelayStep)}},
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "delay allowance now set", Unit: "µs",
			Possible: Band{0, longest}, Passes: Band{0, longest},
			Whole: float64(step), From: float64(k.DelayAllowance.Or(0)),
			Also: append(b.fuelOff(), Also{LookFeed, "coil feed metered dead, key on"})},
		Needs:  append(append([]Condition{}, standing...), is(Clamp, Tight)),
		During: [][]Effect{phase(to(Injectors, Dead)), phase(to(Feed, Dead)), phase(to(Key, KeyRun))},
		After:  append(fell(AllowanceSet), fuel, to(Feed, Dead), to(Injectors, Dead), to(Key, KeyOff)),
	}
	reopen := Step{
		ID: StepReopen, Part: part, Title: "Open it again: decide to lift the unit", OnDemand: true,
		Hazard: "Feed, starter and fuel count as live again until each is shown dead.",
		Do: some("Turn the key off.", "Touch nothing yet.",
			"Follow the order again, from «Pull the coil feed and meter it dead»."),
		Why: pick(b.geared, "it stands a tooth, or half a turn, out, or its drive missed the pump",
			"it stands half a turn out, or its drive missed the pump"),
		Demand: Demand{Kinds: []ProofKind{Written}, Ask: "what was seen that the unit has to come out for"},
		Needs:  []Condition{is(Engine, Stopped), is(Unit, NewIn)},
		During: [][]Effect{phase(to(Key, KeyOff))},
		After: []Effect{to(Fit, NotLooked), to(Key, KeyOff), to(Feed, Live), to(Injectors, Live), to(Box, Charged),
			to(Starter, Able), to(Battery, Connected), to(FuelLine, Full), to(Crank, Anywhere)},
	}
	out = append(out, housing, allowance, reopen)
	if b.steered {
		out = append(out, b.seeRotor(part, dead, looked, made, standing, left))
	}
	if !b.single {
		out = append(out, b.otherWire(part, dead, looked, made, withoutLine(standing)))
	}
	return out
}

func withoutLine(all []Condition) (out []Condition) {
	for _, c := range all {
		if c.Part != FuelLine {
			out = append(out, c)
		}
	}
	return out
}
