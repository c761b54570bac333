package procedure

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/sheet"
)

// atIgnition is the moment in which hands are at plugs, wires, cap or housing.
var atIgnition = phase(to(Hands, AtIgnition))

func (b *builder) open() []Step {
	part := "Open it"
	first := Step{
		ID: StepOpen, Part: part, Title: "Photograph it from above, number the wires, cap off",
		Hazard: "A plug wire that is fed can shock you. See the feed metered dead.",
		Do: some("Photograph the unit from above and from the side.", "Number each wire by its cylinder.",
			"Take cap and wires off together.", "Take the air cleaner or arrester off, where it is in the way.",
			"Scribe rotor to housing, and housing to block."),
		Why:    "the way back, if there has to be one",
		Demand: picture("photo from above; or in words: where the rotor points, how each wire runs"),
		Needs:  []Condition{is(Key, KeyOff)},
		During: [][]Effect{atIgnition},
		After:  []Effect{to(Wires, Off), to(Cap, Off), to(Noted, Yes)}, Undo: []Effect{to(Wires, On), to(Cap, On)},
		Holds: []Clause{either(is(Noted, Yes), notOld), either(is(Wires, Off), is(Phased, Yes)),
			either(is(Cap, Off), is(Phased, Yes))},
	}
	if !b.steered {
		first.Title = "Photograph it from above, number the coil wires, all off"
		first.Do = some("Photograph the unit from above and from the side.",
			"Number each coil and wire by its cylinder.", "Take coils and wires off the plugs.",
			"Take the old cap off, where there is one.", "Scribe rotor to housing, and housing to block.")
		first.Holds = []Clause{either(is(Noted, Yes), notOld), either(is(Wires, Off), is(Phased, Yes))}
	}
	plugs := Step{
		ID: StepPlugsOut, Part: part, Title: pick(b.single, "Take the plug out", "Take every plug out"),
		Hazard: "What falls into a plug hole scores the bore.",
		Do: some("Blow the plug wells clean.",
			pick(b.single, "Take the plug out.", "Take every plug out, and lay them in order."),
			"Cover open holes that are not in use."),
		Why:    "without compression the bar does not jump back",
		Demand: tick(pick(b.single, "plug out, well clean", "plugs out and in order, wells clean")),
		Needs:  []Condition{is(Key, KeyOff)},
		During: [][]Effect{atIgnition},
		// with plugs in no compression was felt at a hole
		After: []Effect{to(Plugs, Out)}, Undo: []Effect{to(Plugs, In), to(Crank, Anywhere), to(Phased, No)},
		Holds: []Clause{either(is(Plugs, Out), is(Crank, AtLead), is(Phased, Yes))},
	}
	return []Step{first, plugs}
}

// tool prints a length of so many mm that is laid out or measured, in the unit of the shop. A basis is in mm whatever
// the shop chooses, since what was proven does not expire with the choice.
func (b *builder) tool(mm float64) string { return b.c.Job.Units.Tool(quantity.Length(mm), 1) }

func (b *builder) findLead() []Step {
	part := "True TDC, marks, lead"
	d := engine.Damper{Diameter: b.c.Damper.Diameter.Value}
	limit := float64(d.Arc(b.c.Damper.ZeroMark))
	rim := math.Pi * float64(d.Diameter)
	lead := b.s.Marks[0] // the trigger lead is always the first
	slack := max(2*float64(b.c.Damper.MarkPlacement), 0.5)
	turn := b.c.Engine.Rotation.FromFront()
	var show []Figure
	for _, m := range b.s.Marks {
		show = append(show, Figure{fmt.Sprintf("%s, %s BTDC", m.Name, deg(m.AngleDeg)),
			fmt.Sprintf("%s along the rim (dividers %s), %s", b.tool(m.ArcMM), b.tool(m.ChordMM), m.Direction)})
	}
	turning := [][]Effect{phase(to(Bar, OnCrank), to(Hands, Turning))}
	zero := Step{
		ID: StepZero, Part: part, Title: "Prove the zero mark by piston stop, from both sides",
		Hazard: "A stop hit hard holes the piston. Keep fingers clear of belts and pulleys.",
		Do: some("Put socket and bar on the crankshaft bolt.", "Turn the piston well down.",
			fmt.Sprintf("Screw the stop into plug hole %d.", b.first),
			fmt.Sprintf("Turn %v, seen from the front, softly onto the stop.", b.c.Engine.Rotation),
			"Mark the damper at the pointer.",
			fmt.Sprintf("Turn %v, softly onto the stop from the other side.", b.c.Engine.Rotation.Opposite()),
			"Mark the damper again.", "Scribe zero midway, or see that zero stands there.",
			"Take the stop out and put it away.", "Check the crankshaft bolt's torque."),
		Notes: some(b.say("piston_stop"), b.say("true_tdc")),
		Why:   "the damper's ring slips with age. Turning back loosens the bolt",
		Show: []Figure{{"marks apart along the rim, about", b.tool(b.s.Item("true_tdc").Value)},
			{"zero mark within", "± " + b.c.Job.Units.Tool(quantity.Length(limit), 2) + " of the middle"}},
		Demand: Demand{Kinds: []ProofKind{Number},
			Ask: "zero mark from the middle of the two marks along the rim (either sign)", Unit: "mm",
			Possible: Band{-rim / 2, rim / 2}, Passes: Band{-limit, limit},
			Also: []Also{{LookStopOut, "piston stop out and in the box"},
				{LookBolt, "crankshaft bolt at the maker's torque"}}},
		Branches: []Branch{
			{If: "zero stands further off", Why: "the ring has slipped or the pointer is bent",
				Do: "scribe a new zero on the middle. Paint the old one out. Measure again", Go: StepZero,
				When: Band{-rim / 2, rim / 2}},
			{If: "it touches one way only", Why: "the stop is too short", Do: "set it deeper", Go: StepZero}},
		During: [][]Effect{phase(to(Bar, OnCrank), to(StopTool, InPlace), to(Hands, Turning))},
		After:  []Effect{to(Zero, Yes), to(Bar, OnCrank)},
		Basis: fmt.Sprintf("damper %v, zero mark ± %s, stroke %v, rod %v", b.c.Damper.Diameter,
			deg(b.c.Damper.ZeroMark), b.c.Engine.Stroke, b.c.Engine.Rod),
	}
	marks := Step{
		ID: StepMarks, Part: part, Title: fmt.Sprintf("Mark the damper from zero, %v, seen from the front",
			b.c.Engine.Rotation),
		Hazard: "Keep the bar in your own hand while fingers are at the damper.",
		Do: some("Measure along the rim, from the proven zero.", "Mark each angle of the table.",
			"Measure the lead mark once more."),
		Notes: some("Before TDC lies ahead of the zero mark in running direction. It reaches the pointer earlier."),
		Why:   "housing and light are both set by these marks", Show: show,
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "zero mark to lead mark along the rim, measured again",
			Unit: "mm", Possible: Band{0, rim}, Passes: around(lead.ArcMM, slack)},
		During: turning,
		After:  []Effect{to(Marks, Yes), to(Bar, OnCrank)},
		Basis: fmt.Sprintf("lead mark %s BTDC at %s, %s", deg(lead.AngleDeg), quantity.Millimetres(lead.ArcMM),
			lead.Direction),
	}
	if chord := around(lead.ChordMM, slack); chord.To < marks.Demand.Passes.From {
		marks.Branches = append(marks.Branches, Branch{If: "about " + b.tool(lead.ChordMM),
			Why: "that is the straight-line distance, not the one along the rim",
			Do:  "lay a tape round the rim. Mark again", Go: StepMarks, When: chord})
	}
	marks.Branches = append(marks.Branches, Branch{If: "anything else",
		Why: "a mark that stands wrong shifts every reading", Do: "mark it again from zero", Go: StepMarks,
		When: Band{0, rim}})

	second := fmt.Sprintf("both valves of cylinder %d shut: rockers or lifters loose", b.first)
	look := []string{fmt.Sprintf("Look at the valves of cylinder %d: both must be shut.", b.first)}
	if b.steered {
		second = fmt.Sprintf("rotor at the old terminal of cylinder %d, or both its valves shut", b.first)
		look = []string{"See the " + second + "."}
	}
	found := Step{
		ID: StepLead, Part: part, Title: fmt.Sprintf("Turn to %s BTDC, compression: %v, seen from the front",
			deg(b.c.Signals.Crank.Lead), b.c.Engine.Rotation),
		Hazard: "Thumb on the hole, never in it. The one who turns listens to the one who feels.",
		Do: some("Put the bar on, where it is off.",
			fmt.Sprintf("Hold thumb, whistle or gauge on plug hole %d.", b.first), "Vent a gauge to zero first.",
			"Turn the crankshaft only this way: "+turn+".", "Feel, hear or read the pressure come.",
			"Stop with the lead mark at the pointer."),
		Why: fmt.Sprintf("the edge for cylinder %d belongs here. Turning one way keeps the slack on one side", b.first),
		Show: []Figure{{"lead mark", b.tool(lead.ArcMM) + " from zero, " + lead.Direction},
			{"turn", turn}, {"compression", "the thumb is pushed off, the whistle sounds, or the gauge rises"},
			{"exhaust stroke", "none of them: turn one full turn on"}},
		Expect: "no pressure → pressure at the plug hole, before the mark comes up",
		Demand: Demand{Kinds: []ProofKind{Tick},
			Ask: "lead mark at the pointer, reached in running direction only",
			Also: []Also{{LookCompression, "pressure felt, heard or read before the mark came up"},
				{LookSecondSign, second},
				{LookBarOff, "bar off and in the box; the mark still stands at the pointer"}}},
		Branches: []Branch{
			{If: "no pressure comes", Why: "that was the exhaust stroke",
				Do: "turn one full turn on. Then feel again", Go: StepLead},
			{If: "the two signs disagree", Why: "old unit half a turn out, or the wrong hole",
				Do: "look at the valves and believe them. Write it down", Go: StepLead},
			{If: "the mark has gone past", Why: "turning back takes the slack up the wrong way",
				Do: "turn only the way it runs. Go round again, two full turns", Go: StepLead}},
		During: turning,
		After:  []Effect{to(Crank, AtLead), to(Bar, OffCrank)}, Undo: []Effect{to(Crank, Anywhere), to(Phased, No)},
		Holds: []Clause{either(is(Crank, AtLead), is(Phased, Yes)), either(is(Bar, OffCrank))},
		Basis: fmt.Sprintf("%s BTDC, %s", deg(b.c.Signals.Crank.Lead), turn),
	}
	found.Do = append(append(found.Do, look...), "Take whistle or gauge out.", "Take the bar off.")
	return []Step{zero, marks, found}
}

func (b *builder) unit() []Step {
	part := "Old unit out, new unit in"
	d := b.c.Distributor
	out := Step{
		ID: StepUnitOut, Part: part, Title: "Lift out the unit that is in; watch the rotor turn",
		Hazard: "What falls into the hole goes into the sump. Nobody touches the crankshaft.",
		Do: some("Take the clamp off.", "Lift the unit slowly.",
			"Watch how far the rotor turns, and which way, seen from above.",
			"See where the pump's drive shaft is: on the unit, or in the block.",
			"Draw a magnet through the hole: no swarf.", "Put a clean rag in the hole.",
			pick(b.geared, "Look at the gear: no swarf, no chipped tooth.", "Look at the tongue: no swarf, not worn.")),
		Why:  "the new one turns as far, the other way, as it drops",
		Show: []Figure{{"the crankshaft stays at", deg(b.c.Signals.Crank.Lead) + " BTDC"}},
		Demand: Demand{Kinds: []ProofKind{Tick}, Ask: "unit out, hole covered",
			Also: []Also{{LookShaft, "pump shaft kept: seen, not dropped"},
				{LookGear, pick(b.geared, "gear of this unit looked at: no swarf, no chipped tooth",
					"tongue of this unit looked at: no swarf, not worn")}}},
		Branches: []Branch{
			{If: pick(b.geared, "there is swarf or a chipped tooth", "there is swarf or a worn tongue"),
				Why: "the pair has eaten itself", Do: "find the cause. Swap gear and oil first", Go: StepUnitOut},
			{If: "something fell in", Why: "it jams the pump or the gears",
				Do: "fish it out by magnet before anything turns", Go: StepUnitOut}},
		Needs:  []Condition{is(Key, KeyOff)},
		During: [][]Effect{atIgnition},
		After:  []Effect{to(Unit, NoneIn), to(Clamp, Loose)}, Undo: []Effect{to(Unit, OldIn), to(Clamp, Tight)},
		Holds: []Clause{either(is(Unit, NoneIn, NewIn)), either(is(Unit, NoneIn, OldIn), is(Fit, Ready))},
	}
	if b.geared && d.DropTurn == 0 {
		out.Demand.Kinds, out.Demand.Ask = []ProofKind{Written, Photo},
			"how far and which way the rotor turned as it came out, seen from above"
	}
	gap := float64(d.SeatGap)
	const feel = 0.2 // mm, what a feeler gauge under a flange repeats to: common practice
	fit := Step{
		ID: StepFit, Part: part, Title: "Dry fit: look at gear, drive and seat",
		Hazard: "Never pull a gap down with the clamp. The shaft then stands on the bottom.",
		Do: some(pick(b.geared, "Compare gear and cam with the sheet.", "Compare tongue and slot: width and offset."),
			"Turn the new unit's shaft by hand: no rough spot, no play.", "Take the rag out, and count it.",
			"Set the unit in dry, without the clamp.", "Measure the gap under the flange.",
			"Lift it out again, and put the rag back."),
		Notes: some(b.say("gear_material"), b.say("drive"), b.say("seat"), b.doubt("seat")),
		Why:   "a wrong gear eats the cam. A shaft that bottoms eats the drive",
		Show:  []Figure{{"gap on the card", b.tool(gap)}},
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "gap under the flange in the dry fit", Unit: "mm",
			Possible: Band{0, 25}, Passes: Band{max(0, gap-feel), gap + feel},
			Also: []Also{{LookGear, pick(b.geared, "gear and cam material as on the sheet",
				"tongue and slot unworn, they fit")}}},
		Branches: []Branch{{If: "it is another gap", Why: "shims follow from it, and engagement limits them",
			Do: "write it on the card (distributor.seat_gap). Then measure again", Go: StepFit, When: Band{0, 25}},
			{If: pick(b.geared, "teeth are bright at one end, chipped or blue", "the tongue is worn or loose"),
				Why: "the drive runs crooked or dry", Do: "do not fit it. Find the cause first", Go: StepFit}},
		Needs: []Condition{is(Unit, NoneIn)},
		After: []Effect{to(Fit, DryFitted)}, Undo: []Effect{to(Fit, NotLooked)},
		Holds: []Clause{either(is(Fit, DryFitted, Ready))},
		Basis: fmt.Sprintf("%s gear on a %s cam, gap %s", d.GearMaterial, d.CamMaterial, quantity.Millimetres(gap)),
	}
	oil := Step{
		ID: StepOil, Part: part, Title: "Oil gear, shaft and seal",
		Hazard: "Grease on the hands lets tools slip into the hole. Keep the rag in.",
		Do:     some("Oil the teeth as the cam's maker says.", "Oil shaft and sealing ring."),
		Notes:  []string{sheet.Oiling + "."},
		Why:    "the first minute dry is the wear of years",
		Demand: tick("teeth, shaft and seal oiled"),
		Needs:  []Condition{is(Unit, NoneIn), is(Fit, DryFitted, Ready)},
		After:  []Effect{to(Fit, Ready)}, Undo: []Effect{to(Fit, DryFitted)},
	}
	if n := b.s.Item("seat").Value; n >= 1 {
		oil.Title = fmt.Sprintf("Lay %.0f shims; oil gear, shaft and seal", n)
		oil.Do = append([]string{fmt.Sprintf("Lay %.0f shims under the flange.", n)}, oil.Do...)
		oil.Notes = append(oil.Notes, b.say("seat"))
		oil.Demand = Demand{Kinds: []ProofKind{Number}, Ask: "shims laid", Unit: "shims", Possible: Band{0, 20},
			Passes: Band{n, n}, Also: []Also{{LookGear, "teeth, shaft and seal oiled"}}}
		oil.Branches = []Branch{{If: "another number",
			Why: "too few: the shaft stands on the bottom. Too many: the gears engage too little",
			Do:  "lay as many as the sheet says", Go: StepOil, When: Band{0, 20}}}
		oil.Basis = fmt.Sprintf("%.0f shims", n)
	}
	return []Step{out, fit, oil, b.drop(part)}
}

func (b *builder) drop(part string) Step {
	d := b.c.Distributor
	tang := Also{LookTang, "drive engaged: flange seats by its own weight"}
	st := Step{
		ID: StepDrop, Part: part, Title: "Drop the new unit in, rotor to land at No. 1",
		Hazard: "Do not push it down with the clamp. Do not help it with the starter.",
		Notes:  some(b.say("gear_drop"), b.doubt("gear_drop"), b.say("gear_landings")),
		Why:    "the tooth that it lands on decides whether the housing can reach the edge",
		Needs:  []Condition{is(Unit, NoneIn), is(Fit, Ready), is(Crank, AtLead), is(Key, KeyOff)},
		During: [][]Effect{atIgnition},
		After:  []Effect{to(Unit, NewIn), to(Clamp, Loose), to(Fit, Ready)},
		Undo:   []Effect{to(Unit, NoneIn), to(Clamp, Loose), to(Fit, NotLooked)},
	}
	if !b.geared {
		st.Title = "Drop the new unit in, tongue home the right way round"
		st.Do = some("Take the rag out and count it.", "Set the tongue over its slot.",
			"Turn the shaft until the tongue goes home.", "See the flange seat by its own weight.",
			"Put the clamp on, finger tight.")
		st.Notes = some(b.say("drive"))
		st.Why = "a tongue half a turn out fires on the exhaust stroke"
		st.Demand = Demand{Kinds: []ProofKind{Tick}, Ask: "tongue home the right way round; rag out",
			Also: []Also{tang}}
		st.Branches = []Branch{{If: "it points half a turn away", Why: "a centred tongue goes home both ways",
			Do: "lift it. Turn the shaft half a turn. Drop it again", Go: StepDrop},
			{If: "the flange does not seat", Why: "the tongue stands beside its slot",
				Do: "turn the shaft a little, with a finger's weight on it", Go: StepDrop}}
		return st
	}
	travel := float64(d.HousingTravel)
	step := 360 / float64(d.GearTeeth)
	st.Do = some("Take the rag out and count it.", b.hold(), "Lower the unit; the rotor turns as it drops.",
		"See the flange seat by its own weight.", "Put the clamp on, finger tight.")
	st.Demand = Demand{Kinds: []ProofKind{Number},
		Ask: "where the rotor landed, from the mark (ahead in rotor direction +, behind −)", Unit: "shaft °",
		Possible: Band{-180, 180}, Passes: Band{-travel, travel}, Also: []Also{tang}}
	tooth := deg(engine.ShaftToCrank(quantity.Shaft(step)))
	st.Branches = []Branch{
		{If: "it lands further off than the housing can turn",
			Why: fmt.Sprintf("one tooth is %s of the shaft, %s of the crank", deg(step), tooth),
			Do:  "lift it. Try the next tooth", Go: StepDrop, When: Band{-180, 180}},
		{If: "the flange does not seat", Why: "the oil-pump drive stands beside its slot",
			Do: "lift it. Turn the pump shaft a little, never the engine", Go: StepDrop}}
	if it := b.s.Item("gear_drop"); it != nil && !math.IsNaN(it.Value) {
		st.Show = append(st.Show, Figure{"turns as it drops", deg(it.Value)})
	}
	st.Show = append(st.Show, Figure{"one tooth", deg(step) + " of the shaft"},
		Figure{"housing can turn", "± " + deg(d.HousingTravel)})
	return st
}

// hold is where the rotor is held before the drop, so that it lands at the mark.
func (b *builder) hold() string {
	twist, way := math.NaN(), b.c.Distributor.DropTurn
	if it := b.s.Item("gear_drop"); it != nil {
		twist = it.Value
	}
	switch {
	case twist == 0:
		return "Hold the rotor at the mark."
	case way == 0 || math.IsNaN(twist):
		return "Hold the rotor beside the mark, as far as the old one turned coming out."
	}
	return fmt.Sprintf("Hold the rotor %s %v of the mark, seen from above.", deg(twist), way.Opposite())
}

func (b *builder) power() []Step {
	part := "Set the controller"
	k, g, s := b.c.Controller, b.c.Ignition, b.c.Signals
	show := []Figure{
		{"trigger lead", deg(s.Crank.Lead) + " BTDC"}, {"active edge, crank", string(s.Crank.ActiveEdge)},
		{"spark output", string(g.Output)}, {"dwell", g.DwellText()},
		{"delay allowance", fmt.Sprint(k.DelayAllowance)},
		{"advance at cranking", setDeg(k.Advance.Cranking)}, {"locked advance", setDeg(k.Advance.Locked)},
	}
	if s.Cam.Fitted {
		show = append(show, Figure{"active edge, cam", string(s.Cam.ActiveEdge)})
	}
	half := float64(k.DelayStep.Or(1)) / 2
	lamps, minds, wired := b.lamps()
	on := Step{
		ID: StepPower, Part: part, Title: "Battery on, key to run: power for the controller only",
		Hazard: "A battery clamp sparks. Coil, injectors and starter stay dead.",
		Do: some(pick(b.boat, "Run the blower, then sniff the bilge.", ""), "Plug the pickups in.",
			pick(wired, "Wire the lamp as drawn, or read the level in the controller.", ""),
			"Put the battery on, negative cable last.", "Turn the key to run, never to start."),
		Notes: minds,
		Why:   "the signal has to be seen, and nothing else has to be fed",
		Show:  lamps,
		Demand: Demand{Kinds: []ProofKind{Tick}, Ask: "controller alive",
			Also: []Also{{LookFeed, "coil, injectors and starter wire still off, tags on"}}},
		Needs:  []Condition{is(Unit, NewIn), is(Bar, OffCrank), is(Feed, Dead)},
		During: [][]Effect{phase(to(Battery, Connected))},
		After:  []Effect{to(Key, KeyRun), to(Battery, Connected)}, Undo: []Effect{to(Key, KeyOff), to(Engine, Stopped)},
		Holds: []Clause{either(is(Key, KeyRun), is(Phased, Yes)), either(is(Key, KeyRun), is(Clamp, Tight))},
	}
	if b.reluctor {
		on.Holds = []Clause{either(is(Key, KeyRun), is(Settings, Yes), is(Phased, Yes))}
	}
	if b.boat {
		on.Demand.Also = append(on.Demand.Also, b.bilge())
	}
	set := Step{
		ID: StepSettings, Part: part, Title: "Enter the settings, power-cycle, read them back",
		Hazard: "A wrong edge or output fires the coil at once. See the feed out.",
		Do: some("See that the coil feed is out.", "Put the battery on, key to run.",
			"Enter every figure of the table, and store.", "Turn the key off until the controller is dark.",
			"Turn it to run and read every figure back."),
		Why: "a setting that was not stored looks right until the engine runs", Show: show,
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "delay allowance as read back", Unit: "µs",
			Possible: Band{-10000, 10000}, Passes: around(float64(k.DelayAllowance.Or(0)), half), AsSet: true,
			Also: []Also{{LookFeed, "coil feed out, tag on"},
				{LookStored, "every other figure read back as in the table"},
				{LookCycled, "was dark, came alive again"}}},
		Branches: []Branch{{If: "it reads back another figure", Why: "it was not stored, or not power-cycled",
			Do: "enter and store it again", Go: StepSettings, When: Band{-10000, 10000}}},
		Needs: []Condition{is(Feed, Dead), is(Engine, Stopped)},
		During: [][]Effect{phase(to(Battery, Connected), to(Key, KeyRun)), phase(to(Key, KeyOff)),
			phase(to(Key, KeyRun))},
		After: []Effect{to(Settings, Yes), to(Key, KeyRun), to(Battery, Connected)},
		Bar:   b.unset(),
		Basis: fmt.Sprintf("lead %s, %s edge, %s, dwell %v, allowance %v, cranking %s, locked %s",
			deg(s.Crank.Lead), s.Crank.ActiveEdge, g.Output, g.DwellText(), k.DelayAllowance,
			setDeg(k.Advance.Cranking), setDeg(k.Advance.Locked)),
	}
	return []Step{on, set}
}

func (b *builder) phase() []Step {
	part := "Phase the housing"
	p := b.c.Signals.Crank
	d := b.c.Distributor
	before, after := jobcard.Low, jobcard.High
	if p.ActiveEdge == jobcard.Falling {
		before, after = after, before
	}
	with, against := d.Rotation.FromAbove(), d.Rotation.Opposite().FromAbove()
	above := func(way engine.Direction) string { return way.String() + ", seen from above" }
	st := Step{
		ID: StepPhase, Part: part, Title: fmt.Sprintf("Turn the housing to the %s edge, %v, seen from above",
			p.ActiveEdge, d.Rotation.Opposite()),
		Hazard: "Hands are by the belts. Starter wire off. Nobody at the key or the crankshaft.",
		Do: some("See that the lead mark stands at the pointer.", "Have the clamp finger tight.",
			"Turn the housing a vane's width "+above(d.Rotation)+".",
			"Come back to the edge, "+above(d.Rotation.Opposite())+".", "Stop just past the change."),
		Notes: some(b.say("phasing")),
		Why:   "twice the housing's error is the engine's",
		Show: []Figure{{"begin", "a vane's width with the rotor: " + with},
			{"come to the edge", "against the rotor: " + against},
			{"lamp or logic state", fmt.Sprintf("%s → %s", before, after)}},
		Expect: fmt.Sprintf("crank signal %s → %s while the housing turns against the rotor", before, after),
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "crank signal where you stopped, just past the edge",
			Options: []string{string(jobcard.High), string(jobcard.Low)}, Right: string(after), Never: true,
			Also: []Also{{LookStarter, "starter wire off, coil feed out: both tags seen"}}},
		Branches: []Branch{
			{If: fmt.Sprintf("it goes %s → %s", after, before),
				Why: fmt.Sprintf("that is the other edge, a vane width of %s beside it", deg(p.VaneWidth)),
				Do:  "go on against the rotor to the next edge", Go: StepPhase, Says: string(before)},
			{If: "it does not change at all", Why: "the pickup has no power, or crank and cam pickup cables are " +
				"swapped",
				Do: "look at the power and at the pickup cables", Go: StepPower},
			{If: "the housing runs out of travel",
				Why: pick(b.geared, "the gear stands a tooth out", "the tongue stands half a turn out"),
				Do:  "open it again. Lift the unit", Go: StepReopen}},
		Needs:  []Condition{is(Crank, AtLead), is(Unit, NewIn), is(Fit, Ready), is(Settings, Yes), is(Key, KeyRun)},
		During: [][]Effect{phase(to(Hands, AtIgnition), to(Clamp, Loose))},
		After:  []Effect{to(Phased, Yes)},
		Basis:  fmt.Sprintf("%s BTDC, %s edge, rotor %s", deg(p.Lead), p.ActiveEdge, with),
	}
	st.Show = append(st.Show, b.lampShows(after)...)
	again := "Look at the signal: the edge has not moved."
	if b.reluctor {
		st.Title, st.Expect = "Line up reluctor tip and pole, seen from above", "tip and pole piece face to face"
		st.Do = some("See that the lead mark stands at the pointer.", "Have the clamp finger tight.",
			"Turn the housing "+above(d.Rotation.Opposite())+".", "Stop with tip and pole face to face.")
		st.Show = []Figure{{"advance", "against the rotor: " + against}, {"retard", "with the rotor: " + with}}
		st.Demand = Demand{Kinds: []ProofKind{Photo, Written},
			Ask: "tip and pole in line, from above; or in words what was seen", Also: st.Demand.Also}
		st.Branches = []Branch{{If: "no tip comes near", Why: "the drive stands half a turn or a tooth out",
			Do: "open it again. Lift the unit", Go: StepReopen}}
		st.Needs = []Condition{is(Crank, AtLead), is(Unit, NewIn), is(Fit, Ready), is(Settings, Yes)}
		again = "Look again: tip and pole still face to face."
	}
	out := []Step{st}
	if on, exhaust, ok := b.camLevel(); ok {
		out = append(out, Step{
			ID: StepCam, Part: part, Title: fmt.Sprintf("Look at the cam signal: it must be %s", on),
			Hazard: "Nobody touches the crankshaft. Where it stands tells the stroke.",
			Do:     some("Leave the engine where it is.", fmt.Sprintf("Look at the cam signal: %s.", on)),
			Why:    "half a cycle out reads right on the light and never runs",
			Show:   []Figure{{"on compression", string(on)}, {"on the exhaust stroke", string(exhaust)}},
			Expect: "cam signal " + string(on),
			Demand: Demand{Kinds: []ProofKind{Number}, Ask: "cam signal",
				Options: []string{string(jobcard.High), string(jobcard.Low)}, Right: string(on)},
			Branches: []Branch{{If: "it is " + string(exhaust),
				Why: "exhaust stroke, or the unit is in half a turn out",
				Do:  "take the step back that found the stroke (compression). Look for both signs again",
				Go:  StepLead, Says: string(exhaust)}},
			Needs: []Condition{is(Phased, Yes), is(Key, KeyRun), is(Crank, AtLead)},
			After: []Effect{to(Stroke, Yes)}, Undo: []Effect{to(Stroke, No), to(Phased, No)},
			Basis: fmt.Sprintf("cam %s edge at %s BTDC", b.c.Signals.Cam.ActiveEdge, deg(b.c.Signals.Cam.EdgeAt)),
		})
	}
	clamp := Step{
		ID: StepClamp, Part: part, Title: "Tighten the clamp and scribe the housing",
		Hazard: "Hands are by the belts. Starter wire off, coil feed out.",
		Do: some("Hold the housing still.", "Tighten the clamp to the maker's torque.", again,
			"Scribe housing to block."),
		Why: "a clamp pulls the housing round as it tightens",
		Demand: Demand{Kinds: []ProofKind{Tick}, Ask: "clamp at the maker's torque",
			Also: []Also{{LookEdge, pick(b.reluctor, "tip and pole still in line", "edge still there")},
				{LookScribed, "housing scribed to block"}}},
		Branches: []Branch{
			{If: pick(b.reluctor, "tip and pole moved apart", "the edge moved"),
				Why: "the clamp turned the housing", Do: "slacken it. Take the step before back. Turn the housing, " +
					"or line up the tip, again",
				Go: StepPhase}},
		Needs: []Condition{is(Phased, Yes), is(Key, KeyRun)}, During: [][]Effect{atIgnition},
		After: []Effect{to(Clamp, Tight)}, Undo: []Effect{to(Clamp, Loose)},
	}
	if b.reluctor {
		clamp.Needs = []Condition{is(Phased, Yes)}
	}
	return append(out, clamp)
}

func (b *builder) close() []Step {
	part := "Close up"
	filter := pick(b.boat, "flame arrester", "air cleaner")
	goesOn := pick(b.steered, "cap and ", "") + filter
	_, _, wired := b.lamps()
	shut := Step{
		ID: StepClose, Part: part,
		Title:  "Power off; " + pick(b.single, "plug in", "plugs in") + ", " + goesOn + " on",
		Hazard: "A backfire comes out where no arrester or air cleaner stands.",
		Do: some("Turn the key off and pocket it.",
			pick(wired, "Take the test lamp off; put the signal wire back.", ""),
			pick(b.single, "Set the plug's gap, then screw it in.", "Set the gaps, then screw every plug in."),
			pick(b.single, "Tighten it to the maker's torque.", "Tighten them to the maker's torque."),
			pick(b.steered, "Push the rotor home on its flat.", ""),
			pick(b.steered, "Seat the cap all round, clips home.", ""), "Put the "+filter+" on."),
		Notes: some(pick(b.steered, b.say("rotor_sweep"), "")),
		Why:   "no starter on an open engine",
		Show:  []Figure{{"plug gap", fmt.Sprint(b.c.Ignition.PlugGap)}},
		Demand: Demand{Kinds: []ProofKind{Tick},
			Ask: pick(b.single, "plug in and tight", "every plug in and tight") +
				pick(b.steered, ", rotor and cap seated", ""),
			Also: []Also{{LookArrester, filter + " on"}, {LookTools, "bar, stop and rag counted, in the box"}}},
		Needs:  []Condition{is(Bar, OffCrank), is(Unit, NewIn), is(Clamp, Tight)},
		During: [][]Effect{phase(to(Key, KeyOff)), atIgnition},
		After:  []Effect{to(Plugs, In), to(Cap, On), to(Key, KeyOff)}, Undo: []Effect{to(Plugs, Out), to(Cap, Off)},
		Holds: []Clause{either(is(Plugs, In)), either(is(Cap, On))},
	}
	wires := Step{
		ID: StepWires, Part: part,
		Title: pick(b.steered,
			fmt.Sprintf("Put the wires on in firing order, %v, seen from above", b.c.Distributor.Rotation),
			"Put coils and wires onto their cylinders"),
		Hazard: pick(b.steered, "A wire on a wrong tower fires into an open valve.",
			"A coil on a wrong cylinder fires into an open valve."),
		Do: some(pick(b.steered, "Put each wire on its tower, by the table.",
			"Put each coil and wire on its cylinder, by its number."), "Follow each one with a finger to its plug.",
			pick(b.coilEach(), "Leave no coil open: on its plug, or on a grounded spark tester.", ""),
			"Put the light's clamp on "+b.clampOn()+".", "Lay its cable clear of belts and fan.",
			pick(b.steered, "Photograph it from above, and compare with the table.",
				"Photograph it from above, and compare with the numbers.")),
		Notes:  some(b.say("cylinder_map"), b.clampNote()),
		Why:    "the light on one wire reads right while others fire on open valves",
		Demand: picture("photo from above with every wire; or in words: each wire followed to its cylinder"),
		During: [][]Effect{phase(to(Key, KeyOff)), atIgnition},
		After:  []Effect{to(Wires, On), to(Key, KeyOff)}, Undo: []Effect{to(Wires, Off)},
		Basis: b.say("cylinder_map"),
	}
	if b.coilEach() {
		wires.Show = append(wires.Show, b.sparkGoes())
		wires.Demand.Also = append(wires.Demand.Also, noOpenCoil)
	}
	for _, t := range b.s.CylinderMap {
		wires.Show = append(wires.Show,
			Figure{fmt.Sprintf("tower %d", t.Tower), fmt.Sprintf("cylinder %d", t.Cylinder)})
	}
	return []Step{shut, wires}
}
