package procedure

import (
	"fmt"

	"phasewright/jobcard"
)

func (b *builder) settings() []Step {
	part := "Power what is needed, and set"
	k, g, s := b.c.Controller, b.c.Ignition, b.c.Signals
	show := []Figure{
		{"trigger lead", deg(s.Crank.Lead) + " BTDC"}, {"active edge, crank", string(s.Crank.ActiveEdge)},
		{"spark output", string(g.Output)}, {"dwell", fmt.Sprint(g.Dwell)}, {"delay allowance", fmt.Sprint(k.DelayAllowance)},
		{"advance at cranking", setDeg(k.Advance.Cranking)}, {"locked advance", setDeg(k.Advance.Locked)},
	}
	if s.Cam.Fitted {
		show = append(show, Figure{"active edge, cam", string(s.Cam.ActiveEdge)})
	}
	allowance, half := float64(k.DelayAllowance.Or(0)), float64(k.DelayStep.Or(1))/2
	return []Step{{
		ID: StepPowerUp, Part: part, Title: "Battery on, key to run",
		Text:   "Pickups plugged in. Battery on, key to run, never to crank. Only controller and pickups have power: look that coil and injectors are dead.",
		Hazard: "Somebody may turn the key one notch too far: stand clear of belts and fan.",
		Why:    "the signal has to be seen, and nothing else has to be fed",
		Demand: tick("controller and pickups alive, coil and injectors dead"),
		Needs:  []Condition{is(Distributor, NewIn), is(Tools, OffCrank), is(StopTool, NotIn), is(CoilPower, Dead), is(Injectors, Dead)},
		After:  []Effect{to(Battery, Connected), to(Key, KeyRun)}, Undo: []Effect{to(Key, KeyOff), to(Battery, Disconnected)},
	}, {
		ID: StepSettings, Part: part, Title: "Enter the settings and store them",
		Text:   "Enter what the sheet says, no more, and store it. Every figure below goes in.",
		Hazard: "A wrong edge or output setting can fire the coil at once: coil and injectors stay dead.",
		Why:    "metal and numbers must say the same", Show: show,
		Demand: tick("all entered and stored"),
		Needs:  []Condition{is(Key, KeyRun), is(CoilPower, Dead), is(Injectors, Dead)},
		After:  []Effect{to(Settings, Stored)}, Undo: []Effect{to(Settings, Changed)},
		Again: true, Bar: b.open(),
		Basis: fmt.Sprintf("lead %s, %s edge, %s, dwell %v, allowance %v, cranking %s, locked %s", deg(s.Crank.Lead), s.Crank.ActiveEdge, g.Output, g.Dwell, k.DelayAllowance, setDeg(k.Advance.Cranking), setDeg(k.Advance.Locked)),
	}, {
		ID: StepCycle, Part: part, Title: "Power-cycle",
		Text:   "Key off, wait until the controller is dark, key to run again.",
		Why:    "many settings count only after the power was away",
		Demand: tick("was dark, is alive again"),
		Needs:  []Condition{is(Settings, Stored), is(Key, KeyRun)},
		During: []Effect{to(Key, KeyOff)},
		After:  []Effect{to(Settings, Cycled), to(Key, KeyRun)}, Undo: []Effect{to(Settings, Stored)},
	}, {
		ID: StepReadBack, Part: part, Title: "Read the settings back",
		Text: "Read every setting back from the controller, not from memory. Write down the delay allowance as it stands there.",
		Why:  "a setting that was not stored looks right until the engine runs", Show: show,
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "delay allowance as read back", Unit: "µs", Possible: Band{-10000, 10000}, Passes: around(allowance, half)},
		Branches: []Branch{{If: "another figure", Why: "it was not stored, or not power-cycled", Do: "enter and store the settings again", Go: StepSettings, When: Band{-10000, 10000}},
			{If: "any other setting differs", Why: "it was not stored, or not power-cycled", Do: "enter and store the settings again", Go: StepSettings}},
		Needs: []Condition{is(Settings, Cycled), is(Key, KeyRun)},
		After: []Effect{to(Settings, ReadBack)}, Undo: []Effect{to(Settings, Cycled)},
	}}
}

func (b *builder) phase() []Step {
	part := "Phase the housing"
	p := b.c.Signals.Crank
	d := b.c.Distributor
	before, after := jobcard.Low, jobcard.High
	if p.ActiveEdge == jobcard.Falling {
		before, after = after, before
	}
	needs := []Condition{is(Fit, Oiled), is(Clamp, Finger), is(Crank, AtLead), is(Found, Yes), is(CoilPower, Dead), is(Injectors, Dead), is(Tools, OffCrank), is(Settings, ReadBack)}
	if b.box {
		needs = append(needs, is(Box, Bled))
	}
	st := Step{
		ID: StepPhase, Part: part, Title: fmt.Sprintf("Turn the housing to the %s edge", p.ActiveEdge),
		Text:   b.say("phasing"),
		Hazard: "Coil and injectors stay dead; nobody touches key or crank.",
		Why:    "the edge must come exactly at the trigger lead: twice the housing's error is the engine's",
		Show: []Figure{{"begin", "a vane's width with the rotor: " + d.Rotation.FromAbove()}, {"come to the edge", "against the rotor: " + d.Rotation.Opposite().FromAbove()},
			{"lamp or logic state", fmt.Sprintf("%s → %s", before, after)}},
		Expect: fmt.Sprintf("crank signal %s → %s while the housing turns against the rotor", before, after),
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "crank signal where you stopped, just past the edge", Options: []string{string(jobcard.High), string(jobcard.Low)}, Right: string(after)},
		Branches: []Branch{
			{If: fmt.Sprintf("it goes %s → %s", after, before), Why: fmt.Sprintf("that is the other edge, a vane width of %s beside it", deg(p.VaneWidth)), Do: "go on against the rotor to the next edge, or back with the rotor past both and begin again", Go: StepPhase, Says: string(before)},
			{If: "no change at all", Why: "the pickup has no power, or crank and cam leads are swapped", Do: "look at the feed and at the leads, then at the settings", Go: StepPowerUp},
			{If: "the housing runs out of travel", Why: "the gear stands a tooth out", Do: "lift the unit and try the next tooth", Go: StepDrop},
		},
		Needs: append(needs, is(Key, KeyRun)), During: []Effect{to(Hands, AtIgnition), to(Check, StandstillLook)},
		After: []Effect{to(Phased, Yes)},
		Basis: fmt.Sprintf("%s BTDC, %s edge, rotor %s", deg(p.Lead), p.ActiveEdge, d.Rotation.FromAbove()),
	}
	if p.Kind == jobcard.Reluctor {
		st.Title, st.Expect = "Line up reluctor tip and pole", "tip and pole piece face to face"
		st.Show = []Figure{{"advance", "against the rotor: " + d.Rotation.Opposite().FromAbove()}, {"retard", "with the rotor: " + d.Rotation.FromAbove()}}
		st.Demand = picture("tip and pole piece in line, from above; or in words what was seen")
		st.Branches = []Branch{{If: "no tip comes near", Why: "the drive stands half a turn or a tooth out", Do: "lift the unit and look at the drive", Go: StepDrop}}
		st.Needs = needs
	}
	slacken := Step{
		ID: StepSlacken, Part: part, Title: "Slacken the clamp", OnDemand: true, Again: true,
		Text:   "Finger tight, no more: the housing turns, the unit does not lift.",
		Hazard: "Injectors and coil dead first. Base timing must be proven again after.",
		Why:    "the housing has to be phased again",
		Demand: tick("finger tight"),
		Needs:  b.deadIgnition(is(Clamp, Tight), is(Distributor, NewIn), is(Injectors, Dead)),
		During: []Effect{to(Hands, AtIgnition)},
		After:  []Effect{to(Clamp, Finger)}, Undo: []Effect{to(Clamp, Tight)},
	}
	out := []Step{slacken, st}
	tight := []Condition{is(Phased, Yes), is(Clamp, Finger), is(CoilPower, Dead)}
	if b.box {
		tight = append(tight, is(Box, Bled))
	}
	if on, exhaust, ok := b.camLevel(); ok {
		out = append(out, Step{
			ID: StepCam, Part: part, Title: "Look at the cam signal",
			Text:   fmt.Sprintf("Engine still at %s BTDC. On the compression stroke the cam signal must be %s; on the exhaust stroke it would be %s.", deg(p.Lead), on, exhaust),
			Why:    "half a cycle out reads right on the light and never runs",
			Show:   []Figure{{"cam signal now", string(on)}},
			Expect: "cam signal " + string(on),
			Demand: Demand{Kinds: []ProofKind{Number}, Ask: "cam signal", Options: []string{string(jobcard.High), string(jobcard.Low)}, Right: string(on)},
			Branches: []Branch{{If: "it is " + string(exhaust), Why: "the engine stands on the exhaust stroke, or the unit is in half a turn out", Do: "take «lead» back and feel for compression again; if it was right, lift the unit and turn the rotor half a turn",
				Go: StepLead, Says: string(exhaust)}},
			Needs: []Condition{is(Phased, Yes), is(Key, KeyRun), is(Crank, AtLead)},
			After: []Effect{to(Stroke, Yes)},
			Basis: fmt.Sprintf("cam %s edge at %s BTDC", b.c.Signals.Cam.ActiveEdge, deg(b.c.Signals.Cam.EdgeAt)),
		})
		tight = append(tight, is(Stroke, Yes))
	}
	return append(out, Step{
		ID: StepClamp, Part: part, Title: "Tighten the clamp",
		Hazard: "Coil stays dead until the last hand is away.",
		Text:   "Hold the housing, tighten to the maker's torque. The edge must still stand where it was: look at the signal once more. Scribe housing to block.",
		Why:    "a clamp pulls the housing round as it tightens",
		Demand: tick("tight, edge still there, scribed"),
		Branches: []Branch{
			{If: "the edge moved", Why: "the clamp turned the housing", Do: "slacken it and phase again",
				Go: StepPhase}},
		Needs: tight, During: []Effect{to(Hands, AtIgnition)},
		After: []Effect{to(Clamp, Tight)}, Undo: []Effect{to(Clamp, Finger)},
	}, Step{
		ID: StepKeyOff, Part: part, Title: "Key off",
		Text:   "Key off and out before hands go to plugs and wires.",
		Why:    "the ignition is closed up next",
		Demand: tick("key off and out"),
		Needs:  []Condition{is(Engine, Stopped)},
		After:  []Effect{to(Key, KeyOff)},
	})
}

func (b *builder) closeUp() []Step {
	part := "Close up"
	out := []Step{{
		ID: StepPlugIn, Part: part, Title: fmt.Sprintf("Plug of cylinder %d in", b.first),
		Text:   "Gap set, thread clean, torque by the maker's word. All other plugs too.",
		Hazard: "Feed off, spark box bled down where there is one.",
		Why:    "no starter on an open plug hole",
		Show:   []Figure{{"plug gap", fmt.Sprint(b.c.Ignition.PlugGap)}},
		Demand: tick("every plug in and tight"),
		Needs:  b.deadIgnition(is(StopTool, NotIn), is(Plug, Out)),
		During: []Effect{to(Hands, AtIgnition)},
		After:  []Effect{to(Plug, In)}, Undo: []Effect{to(Plug, Out)},
	}}
	wires := b.deadIgnition(is(Distributor, NewIn))
	title := "Coils to their cylinders"
	if b.steered {
		title = "Wires in firing order"
		wires = append(wires, is(Cap, On))
		out = append(out, Step{
			ID: StepCapOn, Part: part, Title: "Rotor and cap on",
			Text:   joined("Rotor home on its flat, cap seated, clips home.", b.say("rotor_sweep")),
			Hazard: "Feed off, spark box bled down where there is one.",
			Why:    "a cocked cap meets the rotor at the first turn",
			Demand: tick("rotor home, cap seated all round"),
			Needs:  b.deadIgnition(is(Distributor, NewIn)),
			During: []Effect{to(Hands, AtIgnition)},
			After:  []Effect{to(Cap, On)}, Undo: []Effect{to(Cap, Off)},
		})
	}
	ways := Step{
		ID: StepWires, Part: part, Title: title, Text: b.say("cylinder_map"),
		Hazard: "Feed off, spark box bled down where there is one.",
		Why:    "the light on wire 1 reads right while others fire on open valves",
		Demand: picture("photo from above with every wire, or in words: each wire followed to its cylinder"),
		Needs:  wires, During: []Effect{to(Hands, AtIgnition)},
		After: []Effect{to(Wires, On)}, Undo: []Effect{to(Wires, Off)},
		Basis: b.say("cylinder_map"),
	}
	for _, t := range b.s.CylinderMap {
		ways.Show = append(ways.Show, Figure{fmt.Sprintf("tower %d", t.Tower), fmt.Sprintf("cylinder %d", t.Cylinder)})
	}
	walked := []Condition{is(Plug, In), is(Wires, On), is(Tools, OffCrank), is(StopTool, NotIn), is(Clamp, Tight), is(Distributor, NewIn), is(Secured, Yes), is(Engine, Stopped)}
	if b.steered {
		walked = append(walked, is(Cap, On))
	}
	return append(out, ways, Step{
		ID: StepWalk, Part: part, Title: "Walk round the engine",
		Text:   "Bar, socket and piston stop in the box. Every plug in, every lead on. Clamp tight. Leads, rags and sleeves clear of belts and fan. Everybody knows that the starter turns next.",
		Hazard: "Whatever is left on the crank is thrown.",
		Why:    "from here on the starter turns",
		Demand: tick("tools counted, all on, all clear"),
		Needs:  walked,
		After:  []Effect{to(Walked, Yes)},
	}, Step{
		ID: StepCoilOn, Part: part, Title: "Coil power on",
		Text:   "Key off. Put the feed back on the " + b.spark() + ". From now on hands off cap, wires and plugs.",
		Hazard: "From here the ignition is alive as soon as the key is on.",
		Why:    "the light needs a spark",
		Demand: tick("feed on, hands off"),
		Needs:  []Condition{is(Walked, Yes), is(Key, KeyOff)},
		After:  []Effect{to(CoilPower, Live)}, Undo: []Effect{to(CoilPower, Dead)},
	})
}
