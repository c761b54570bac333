package procedure

import (
	"fmt"
	"math"
	"strings"

	"phasewright/engine"
	"phasewright/quantity"
)

// starterTurns is what must stand before the starter turns.
func starterTurns(more ...Condition) []Condition {
	return append([]Condition{is(Walked, Yes), is(Battery, Connected), is(Key, KeyOff), is(CoilPower, Live), is(Allowance, AllowanceRead)}, more...)
}

func (b *builder) crank() []Step {
	part := "Base timing, fuel off"
	a := b.c.Controller.Advance.Cranking.Or(0) // given, or the settings bar the way
	tol := float64(b.c.Tolerance)
	shown, band, known := b.expected()
	half := band + tol
	if !known {
		half = 8 // several degrees either way are usual on the starter: common practice
	}
	see := fmt.Sprintf("%s ± %s BTDC", deg(shown), deg(half))
	st := Step{
		ID: StepBase, Part: part, Title: "Check timing on the starter",
		Text:   joined(fmt.Sprintf("Light on the lead of cylinder %d, its own dial at zero. Crank a few seconds, no longer, then key off. Read the damper.", b.first), b.say("cranking_bias")),
		Hazard: "Leads, sleeves and hair clear of belts and fan. Hands off the ignition. Fuel stays off.",
		Why:    fmt.Sprintf("nothing may burn before the spark is known to jump near %s", deg(a)),
		Show:   []Figure{{"commanded", deg(a) + " BTDC"}, {"light must show", see}},
		Expect: see,
		Demand: Demand{Kinds: []ProofKind{Reading, Capture}, Ask: "what the light shows while cranking", Unit: "° BTDC", Possible: Band{-widest, widest}, Passes: around(shown, half),
			Speed: Band{30, float64(b.c.Engine.IdleSpeed)}},
		Needs:  starterTurns(is(Phased, Yes), is(Settings, ReadBack), is(Injectors, Dead)),
		During: []Effect{to(Key, KeyCrank), to(Engine, Cranking), to(Check, TimingCheck)},
		After:  []Effect{to(Base, Yes), to(Key, KeyOff), to(Engine, Stopped)},
		Basis:  fmt.Sprintf("cranking %s, lead %s", deg(a), deg(b.c.Signals.Crank.Lead)),
	}
	if _, _, ok := b.camLevel(); ok {
		st.Needs = append(st.Needs, is(Stroke, Yes))
	}
	near := func(off float64) Band { return around(shown+off, half+2) }
	if wrong := b.s.Item("active_edge").Value; math.Abs(wrong) > 2*half {
		st.Branches = append(st.Branches, Branch{If: fmt.Sprintf("about %s", deg(shown+wrong)), Why: "off by two vane widths: the controller acts on the other edge", Do: "set the active edge, store, power-cycle, read back", Go: StepSettings, When: near(wrong)})
	}
	travel := float64(engine.ShaftToCrank(b.c.Distributor.HousingTravel))
	if b.geared {
		tooth := float64(engine.ShaftToCrank(quantity.Shaft(360 / float64(b.c.Distributor.GearTeeth))))
		for _, off := range []float64{tooth, -tooth} {
			st.Branches = append(st.Branches, Branch{If: fmt.Sprintf("about %s", deg(shown+off)), Why: fmt.Sprintf("off by one tooth of the gear, %s", deg(tooth)), Do: "lift the unit and move it a tooth", Go: StepDrop, When: near(off)})
		}
	}
	st.Branches = append(st.Branches,
		Branch{If: "off by a few degrees", Why: "housing, or a mark", Do: fmt.Sprintf("turn the housing by half the distance to %s, not to the commanded %s: early, with the rotor; late, against it", deg(shown), deg(a)), Go: StepHousing, When: around(shown, travel)},
		Branch{If: "further off", Why: "the light may be on another lead, its dial not at zero, or a wire on the wrong tower", Do: "look at light, dial and wires", Go: StepWires, When: Band{-widest, widest}},
		Branch{If: "no flash", Why: "no spark or no sync: pickup without power, leads swapped, edge wrong", Do: "look at the pickups' feed and the settings", Go: StepSettings},
		Branch{If: "flash right, but it spits back or feels blown against", Why: "the unit may be in half a cycle out, on the exhaust stroke", Do: "feel for compression again", Go: StepLead},
		Branch{If: "flashes scatter by more than a degree or two", Why: "speed falls: weak battery; or the drive is worn", Do: "charge the battery and read again", Go: StepBase},
	)
	fuel := Step{
		ID: StepFuelOn, Part: "Fuel on, start", Title: "Fuel and injectors on",
		Text:   "Key off. Tap open, pump and injector feed back. Key to run for a moment to prime, then off: look along every joint for a leak before anybody starts it.",
		Hazard: "Fuel under pressure burns. A leak: key off, battery off, stand back.",
		Why:    "base timing stands, so the engine may have fuel",
		Demand: tick("primed, no leak seen or smelt"),
		Needs:  []Condition{is(Base, Yes), is(Walked, Yes), is(Key, KeyOff)},
		After:  []Effect{to(Injectors, Live), to(Fuel, Open)}, Undo: []Effect{to(Injectors, Dead), to(Fuel, Shut)},
	}
	return []Step{st, fuel}
}

func (b *builder) run() []Step {
	part := "Fuel on, start"
	c := b.c
	locked := c.Controller.Advance.Locked.Or(0) // given, or the settings bar the way
	idle, redline := float64(c.Engine.IdleSpeed), float64(c.Engine.Redline)
	wide := float64(engine.ShaftToCrank(c.Distributor.HousingTravel))
	out := []Step{{
		ID: StepStart, Part: part, Title: "Start",
		Text:   fmt.Sprintf("Start it and let it settle near %v. Oil pressure up, or key off.", c.Engine.IdleSpeed),
		Hazard: "Belts, fan and hot manifolds are an arm's length away. Exhaust led outside.",
		Why:    "base timing is proven",
		Demand: tick("running, oil pressure up, no leak"),
		Branches: []Branch{
			{If: "it spits back through the intake", Why: "half a cycle out, or two wires swapped", Do: "key off; look at the wires, then feel for compression", Go: StepWires},
			{If: "it kicks against the starter", Why: "the spark comes far too early", Do: "key off, fuel off; check base timing again", Go: StepBase},
			{If: "it will not start and does not spit", Why: "no fuel, or cam and crank signal do not fit", Do: "key off; look at the settings for the cam edge", Go: StepSettings},
		},
		Needs:  starterTurns(is(Base, Yes), is(Injectors, Live)),
		During: []Effect{to(Key, KeyCrank), to(Engine, Cranking)},
		After:  []Effect{to(Engine, Running), to(Key, KeyRun)}, Undo: []Effect{to(Engine, Stopped), to(Key, KeyOff)},
	}, {
		ID: StepLock, Part: "Read", Title: fmt.Sprintf("Lock the timing at %s", deg(locked)),
		Text:   fmt.Sprintf("Let the controller hold %s BTDC, every correction off. Touch the throttle: the timing must not move with load.", deg(locked)),
		Why:    "only a held command can be compared with the light",
		Show:   []Figure{{"locked", deg(locked) + " BTDC"}},
		Demand: tick("locked, and it stays while the throttle moves"),
		Branches: []Branch{
			{If: "it moves with the throttle", Why: "it is not locked: the light follows the spark map", Do: "lock it again", Go: StepLock}},
		Needs: []Condition{is(Engine, Running), is(Signed, No)},
		After: []Effect{to(Lock, Locked)}, Undo: []Effect{to(Lock, Free), to(Idle, No)},
		Basis: "locked " + deg(locked),
	}}
	reading := func(id StepID, title, text string, speed Band, needs ...Condition) Step {
		return Step{
			ID: id, Part: "Read", Title: title, Text: text,
			Hazard: "Leads and sleeves clear of belts and fan; nobody in line with the fan while it revs.",
			Show: []Figure{{"locked", deg(locked) + " BTDC"},
				{"speed", quantity.RPM(speed.From) + " to " + quantity.RPM(speed.To)}},
			Demand: Demand{Kinds: []ProofKind{Reading, Capture}, Ask: "what the light shows", Unit: "° BTDC", Possible: Band{-widest, widest}, Passes: around(float64(locked), wide), Speed: speed},
			Branches: []Branch{
				{If: "further off than the housing can put right", Why: fmt.Sprintf("more than %s: an edge, a tooth or a wire, not the housing", deg(wide)), Do: "stop; check base timing again", Go: StepBase, When: Band{-widest, widest}},
				{If: "the reading walks while the speed stands", Why: "clamp loose or drive worn", Do: "stop; look at the clamp", Go: StepClamp},
			},
			Needs:  append([]Condition{is(Engine, Running), is(Lock, Locked)}, needs...),
			During: []Effect{to(Check, TimingCheck)},
			Basis:  "locked " + deg(locked),
		}
	}
	low := reading(StepIdle, "Read the light at idle", fmt.Sprintf("Speed steady near %v. Read, look away, read again.", c.Engine.IdleSpeed), Band{idle / 2, math.Round(idle*1.6/10) * 10})
	low.Why, low.After = "the constant error shows here: delay has hardly any angle at idle", []Effect{to(Idle, Yes)}
	top := redline
	if n := len(b.s.Expect); n > 0 {
		top = b.s.Expect[n-1].RPM
	}
	high := reading(StepRange, "Read through the speed range", b.speeds(), Band{math.Round(top*0.6/10) * 10, redline}, is(Idle, Yes))
	high.Why, high.After = "an error that grows with speed is signal delay; it shows at the top", []Effect{to(Range, Yes)}
	high.Demand.Ask = "what the light shows at the highest speed read (every reading goes on the readings page)"
	for _, e := range b.s.Expect {
		if e.Band == 0 {
			low.Show = append(low.Show, Figure{quantity.RPM(e.RPM), deg(e.Shown) + " if all is right"})
			high.Show = append(high.Show, Figure{quantity.RPM(e.RPM), deg(e.Shown) + " if all is right"})
		}
	}
	if len(low.Show) > 3 {
		low.Show = low.Show[:3]
	}
	return append(out, low, high)
}

func (b *builder) speeds() string {
	text := "Hold each speed steady, read, write every reading down:"
	for _, e := range b.s.Expect {
		if e.RPM > float64(b.c.Engine.IdleSpeed) {
			text += " " + quantity.RPM(e.RPM) + ","
		}
	}
	return strings.TrimRight(text, ",:") + ". While speed rises the light shows late, while it falls early: wait until it stands."
}

func (b *builder) correct() []Step {
	part := "Correct each error once"
	d := b.c.Distributor
	travel := float64(d.HousingTravel)
	k := b.c.Controller
	whole, step := "", k.DelayStep.Or(0)
	if k.DelayStep.Given() {
		whole = fmt.Sprintf(", in whole steps of %v", step)
	}
	const longest = 2000 // µs; no chain of pickup, wire and driver is slower. From memory
	return []Step{{
		ID: StepStop, Part: part, Title: "Stop the engine", OnDemand: true,
		Text:   "Key off. Wait until fan and belts stand.",
		Hazard: "Hot manifolds stay hot.",
		Why:    "nothing is turned or set on a running engine",
		Demand: tick("stopped, key off"),
		Needs:  []Condition{is(Engine, Running)},
		After:  []Effect{to(Engine, Stopped), to(Key, KeyOff)},
		Again:  true,
	}, {
		ID: StepHousing, Part: part, Title: "Turn the housing", OnDemand: true, Again: true,
		Text: fmt.Sprintf("Only by what the readings ask for. Shows early: with the rotor (%s). Shows late: against the rotor (%s). Half the crank degrees. Slacken, turn by the scribed line, tighten, all in one go.",
			d.Rotation.FromAbove(), d.Rotation.Opposite().FromAbove()),
		Hazard: "Injectors and coil dead before the clamp is touched; base timing must be proven again after.",
		Why:    "a constant error is the housing's",
		Show: []Figure{{"retard", "with the rotor: " + d.Rotation.FromAbove()}, {"advance", "against the rotor: " + d.Rotation.Opposite().FromAbove()},
			{"housing can turn", "± " + deg(d.HousingTravel)}},
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "housing turned (with the rotor +, against it −)", Unit: "shaft °", Possible: Band{-180, 180}, Passes: Band{-travel, travel}},
		Branches: []Branch{{If: "more than the housing can turn", Why: "the gear stands a tooth out", Do: "lift the unit and move it a tooth", Go: StepDrop, When: Band{-180, 180}},
			{If: "it was moved by an unknown amount", Why: "the edge is lost", Do: "bring the engine to the lead and phase again", Go: StepLead}},
		Needs:  b.deadIgnition(is(Injectors, Dead), is(Phased, Yes), is(Clamp, Tight)),
		During: []Effect{to(Hands, AtIgnition), to(Clamp, Finger)},
		After:  []Effect{to(Phased, Yes), to(Clamp, Tight)},
	}, {
		ID: StepAllowance, Part: part, Title: "Change the delay allowance", OnDemand: true, Again: true,
		Text:   fmt.Sprintf("Engine stopped, key to run. Set the allowance that the readings ask for%s, store it, key off. Timing that falls back as speed rises wants more.", whole),
		Why:    "an error that grows with speed is the delay's",
		Show:   []Figure{{"allowance on the card", fmt.Sprint(k.DelayAllowance)}, {"step", fmt.Sprint(k.DelayStep)}},
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "delay allowance now set", Unit: "µs", Possible: Band{0, longest}, Passes: Band{0, longest}, Whole: float64(step), From: float64(k.DelayAllowance.Or(0))},
		Needs:  []Condition{is(Key, KeyOff), is(Walked, Yes)},
		During: []Effect{to(Key, KeyRun)},
		After:  []Effect{to(Allowance, AllowanceStored), to(Key, KeyOff)}, // taken back, it is still whatever was stored: power-cycle and read
	}, {
		ID: StepAllowanceCycle, Part: part, Title: "Power-cycle for the allowance", Due: []Condition{not(Allowance, AllowanceRead)},
		Text:   "Key off until the controller is dark, then run, then off.",
		Why:    "a setting may count only after the power was away",
		Demand: tick("was dark, came alive again"),
		Needs:  []Condition{is(Allowance, AllowanceStored), is(Key, KeyOff), is(Walked, Yes)},
		During: []Effect{to(Key, KeyRun)},
		After:  []Effect{to(Allowance, AllowanceCycled), to(Key, KeyOff)}, Undo: []Effect{to(Allowance, AllowanceStored)},
	}, {
		ID: StepAllowanceRead, Part: part, Title: "Read the allowance back", Due: []Condition{not(Allowance, AllowanceRead)},
		Text:   "Key to run, read it back from the controller, key off.",
		Why:    "a correction that was not stored leaves the slope as it was",
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "delay allowance as read back", Unit: "µs", Possible: Band{0, longest}, Passes: Band{0, longest}, Same: StepAllowance},
		Branches: []Branch{{If: "another figure", Why: "not stored, or not power-cycled", Do: "set and store it again", Go: StepAllowance,
			When: Band{0, longest}}},
		Needs:  []Condition{is(Allowance, AllowanceCycled), is(Key, KeyOff), is(Walked, Yes)},
		During: []Effect{to(Key, KeyRun)},
		After:  []Effect{to(Allowance, AllowanceRead), to(Key, KeyOff)}, Undo: []Effect{to(Allowance, AllowanceCycled)},
	}}
}

func (b *builder) finish() []Step {
	part := "Prove and hand over"
	tol := float64(b.c.Tolerance)
	return []Step{{
		ID: StepProve, Part: part, Title: "Prove it",
		Text:   fmt.Sprintf("From the proof: the largest error over idle to redline, with its uncertainty added, must lie within %s.", deg(b.c.Tolerance)),
		Why:    "right at five readings is not yet right at every speed",
		Show:   []Figure{{"tolerance", "± " + deg(b.c.Tolerance)}},
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "largest |error| + uncertainty over the speed range", Unit: "°", Possible: Band{0, widest}, Passes: Band{0, tol}},
		Branches: []Branch{
			{If: "too large, and the same at all speeds", Why: "the housing", Do: "turn it by half the error, then prove base timing again", Go: StepHousing},
			{If: "too large, and growing with speed", Why: "the delay allowance", Do: "change it as the readings ask", Go: StepAllowance},
			{If: "too large through uncertainty", Why: "too few readings", Do: "read at the speed that the proof names", Go: StepRange},
			{If: "no straight line at all", Why: "not locked, worn drive, reversed pickup wires, noise", Do: "stop; look for the fault before turning anything", Go: StepLock},
		},
		Needs: []Condition{is(Range, Yes)}, // which rests on the reading at idle
		After: []Effect{to(Proven, Yes)},
		Basis: "tolerance " + deg(b.c.Tolerance),
	}, {
		ID: StepUnlock, Part: part, Title: "Unlock the timing",
		Text:   "Give the controller its timing back. Open the throttle a little: the light must move.",
		Hazard: "Belts and fan.",
		Why:    "a locked engine runs hot and weak under load",
		Demand: tick("unlocked, timing moves with speed and load"),
		Needs:  []Condition{is(Engine, Running), is(Proven, Yes)},
		After:  []Effect{to(Lock, Free)}, Undo: []Effect{to(Lock, LockUnknown)},
	}, {
		ID: StepShutDown, Part: part, Title: "Shut down",
		Text:   "Key off. Look once more: clamp, wires, leaks, tools.",
		Why:    "what shook loose shows now",
		Demand: tick("clamp, wires and joints looked at"),
		Needs:  []Condition{is(Proven, Yes), is(Lock, Free)},
		After:  []Effect{to(Engine, Stopped), to(Key, KeyOff)},
	}, {
		ID: StepSignOff, Part: part, Title: "Sign off",
		Text:   "Whoever answers for it writes the name: the spark jumps at the commanded angle, on the right cylinder, from the first turn to the redline.",
		Why:    "somebody answers for it",
		Demand: Demand{Kinds: []ProofKind{Written}, Ask: "name of whoever answers for it"},
		Needs:  []Condition{is(Proven, Yes), is(Lock, Free), is(Engine, Stopped)},
		After:  []Effect{to(Signed, Yes)},
	}, {
		ID: StepRecord, Part: part, Title: "Leave a record",
		Text:   "Proof and set-up sheet printed or handed over as files: one with the engine, one in the shop book. Marks painted, housing scribed.",
		Why:    "the next hands at this engine start where you ended",
		Demand: tick("record with the engine"),
		Needs:  []Condition{is(Signed, Yes)},
		After:  []Effect{to(Recorded, Yes)},
	}}
}
