package procedure

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/quantity"
)

func (b *builder) markDamper() []Step {
	part := "True TDC and marks"
	d := engine.Damper{Diameter: b.c.Damper.Diameter.Value}
	limit := float64(d.Arc(b.c.Damper.ZeroMark))
	rim := math.Pi * float64(d.Diameter)
	lead := b.s.Marks[0] // the trigger lead is always the first
	slack := max(2*float64(b.c.Damper.MarkPlacement), 0.5)
	var show []Figure
	for _, m := range b.s.Marks {
		show = append(show, Figure{fmt.Sprintf("%s, %s BTDC", m.Name, deg(m.AngleDeg)), fmt.Sprintf("%s along the rim (dividers %s), %s", quantity.Millimetres(m.ArcMM), quantity.Millimetres(m.ChordMM), m.Direction)})
	}
	marks := Step{
		ID: StepMarks, Part: part, Title: "Mark the crank angles on the damper",
		Text:   "From the proven zero mark, along the rim, in the direction given. Before TDC lies ahead of the zero mark in running direction: it reaches the pointer earlier. Measure the lead mark once more when it is scribed.",
		Hazard: "Keep the bar in your own hands while fingers are at the damper.",
		Why:    "housing and light are both set by these marks", Show: show,
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "zero mark to lead mark along the rim, measured again", Unit: "mm", Possible: Band{0, rim}, Passes: around(lead.ArcMM, slack)},
		Needs:  []Condition{is(Zero, Yes), is(Tools, OnCrank), is(Secured, Yes), is(StopTool, NotIn)},
		During: []Effect{to(Hands, Turning)},
		After:  []Effect{to(Marks, Yes)},
		Basis:  fmt.Sprintf("lead mark %s BTDC at %s, %s", deg(lead.AngleDeg), quantity.Millimetres(lead.ArcMM), lead.Direction),
	}
	if chord := around(lead.ChordMM, slack); chord.To < marks.Demand.Passes.From {
		marks.Branches = append(marks.Branches, Branch{If: "about " + quantity.Millimetres(lead.ChordMM), Why: "that is the straight-line distance for dividers, not the one along the rim", Do: "lay a tape around the rim and scribe the mark again", Go: StepMarks, When: chord})
	}
	marks.Branches = append(marks.Branches, Branch{If: "anything else", Why: "a mark that stands wrong shifts every reading", Do: "scribe it again from the zero mark", Go: StepMarks, When: Band{0, rim}})

	plug := Step{
		ID: StepPlugOut, Part: part, Title: fmt.Sprintf("Take the plug of cylinder %d out", b.first),
		Text:   fmt.Sprintf("Blow the plug well clean first. Take out the plug of cylinder %d and tie its lead away from the block. With the other plugs out too the engine turns easier.", b.first),
		Hazard: "A plug lead that is fed strikes a hand: feed off first.",
		Why:    "the piston stop goes in here, and compression is felt here",
		Demand: tick("plug out, lead tied away"),
		Needs:  b.deadIgnition(is(Injectors, Dead)),
		During: []Effect{to(Hands, AtIgnition)},
		After:  []Effect{to(Plug, Out)}, Undo: []Effect{to(Plug, In)},
	}
	bar := Step{
		ID: StepToolsOn, Part: part, Title: "Bar on the crank",
		Text:   "Socket and bar on the crank bolt. Turn by hand only, slowly, never with the starter.",
		Hazard: "From here to «Tools off the crank» no battery, no coil power, no injectors.",
		Why:    "the next steps turn the engine by hand",
		Demand: tick("bar on; key in the pocket of whoever turns"),
		Needs:  []Condition{is(Plug, Out), is(Battery, Disconnected), is(CoilPower, Dead), is(Injectors, Dead), is(Secured, Yes)},
		After:  []Effect{to(Tools, OnCrank)}, Undo: []Effect{to(Tools, OffCrank)},
	}
	if b.box {
		bar.Needs = append(bar.Needs, is(Box, Bled))
	}
	stop := Step{
		ID: StepStopIn, Part: part, Title: "Piston stop in",
		Text:   fmt.Sprintf("Turn the piston well down first, then screw the stop into the plug hole of cylinder %d. %s", b.first, b.say("piston_stop")),
		Hazard: "A piston driven on the stop by anything but a careful hand is holed.",
		Why:    "a dead stop finds TDC where looking cannot: the piston hardly moves there",
		Demand: tick("stop in, piston down"),
		Needs:  []Condition{is(Plug, Out), is(Tools, OnCrank)},
		After:  []Effect{to(StopTool, InPlace)}, Undo: []Effect{to(StopTool, NotIn)},
		Basis: fmt.Sprintf("stroke %v, rod %v", b.c.Engine.Stroke, b.c.Engine.Rod),
	}
	zero := Step{
		ID: StepZero, Part: part, Title: "Prove the zero mark",
		Text:   joined("Turn gently against the stop one way and mark the damper under the pointer; turn the other way and mark it again. This is the only step that turns both ways.", b.say("true_tdc")),
		Hazard: "Turn softly: stop when it touches. Fingers clear of belts and pulleys.",
		Why:    "the damper's rubber ring slips with age, and nothing else shows it",
		Show: []Figure{{"marks apart along the rim, about", quantity.Millimetres(b.s.Item("true_tdc").Value)},
			{"zero mark within", "± " + quantity.Number(limit, 2) + " mm of the middle"}},
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "zero mark from the middle of the two marks along the rim (either sign)", Unit: "mm", Possible: Band{-rim / 2, rim / 2}, Passes: Band{-limit, limit}},
		Branches: []Branch{{If: "further off", Why: "the ring has slipped or the pointer is bent", Do: "scribe a new zero mark on the middle, paint the old one out, and measure again from the new one", Go: StepZero, When: Band{-rim / 2, rim / 2}},
			{If: "it touches one way only", Why: "the stop is too short", Do: "set it deeper", Go: StepStopIn}},
		Needs:  []Condition{is(StopTool, InPlace), is(Tools, OnCrank), is(Secured, Yes)},
		During: []Effect{to(Hands, Turning)},
		After:  []Effect{to(Zero, Yes)},
		Basis:  fmt.Sprintf("damper %v, zero mark ± %s", b.c.Damper.Diameter, deg(b.c.Damper.ZeroMark)),
	}
	stopOut := Step{
		ID: StepStopOut, Part: part, Title: "Piston stop out",
		Text:   "Turn the piston away from the stop, unscrew it, put it back in the box.",
		Hazard: "A forgotten stop goes through the piston at the first turn of the starter.",
		Why:    "the engine turns through TDC from here on",
		Demand: tick("stop out and in the box"),
		Needs:  []Condition{is(StopTool, InPlace)},
		After:  []Effect{to(StopTool, NotIn)}, Undo: []Effect{to(StopTool, InPlace)},
	}
	return []Step{plug, bar, stop, zero, stopOut, marks}
}

func (b *builder) toLead() []Step {
	part := "Bring the engine to the lead"
	lead := b.c.Signals.Crank.Lead
	return []Step{{
		ID: StepLead, Part: part, Title: fmt.Sprintf("Turn to %s BTDC on compression", deg(lead)),
		Text: fmt.Sprintf("Thumb or whistle on the plug hole of cylinder %d. Turn %s, in running direction only, until pressure is felt; go on until the lead mark (%s) stands under the pointer. Stop there.",
			b.first, b.c.Engine.Rotation.FromFront(), deg(lead)),
		Hazard: "Thumb on the hole, never in it. Whoever turns listens to whoever feels.",
		Why:    fmt.Sprintf("the active edge for cylinder %d must come exactly here; turning one way only keeps the slack of chain and gears on one side", b.first),
		Show:   []Figure{{"lead mark", quantity.Millimetres(b.s.Marks[0].ArcMM) + " from zero, " + b.s.Marks[0].Direction}, {"turn", b.c.Engine.Rotation.FromFront()}},
		Expect: "no pressure → pressure at the plug hole, before the mark comes up",
		Demand: tick("pressure felt before the mark, come to in running direction only"),
		Branches: []Branch{
			{If: "no pressure felt", Why: "that was the exhaust stroke", Do: "one full turn on in running direction, then again", Go: StepLead},
			{If: "the mark has gone past", Why: "turning back takes the slack up the wrong way", Do: "do not turn back: two full turns on, and come up to it again", Go: StepLead},
			{If: "the light or a later step says exhaust stroke", Why: "half a cycle off reads right and will not run", Do: "take this step back and do it again", Go: StepLead},
		},
		Needs:  []Condition{is(Marks, Yes), is(Plug, Out), is(Tools, OnCrank), is(StopTool, NotIn), is(Secured, Yes)},
		During: []Effect{to(Hands, Turning)},
		After:  []Effect{to(Found, Yes), to(Crank, AtLead)}, Undo: []Effect{to(Crank, Anywhere)},
		Basis: fmt.Sprintf("%s BTDC, %s", deg(lead), b.c.Engine.Rotation.FromFront()),
	}, {
		ID: StepToolsOff, Part: part, Title: "Tools off the crank",
		Text:   "Bar and socket off, without turning the crank. Look: the lead mark still stands under the pointer.",
		Hazard: "A forgotten bar is thrown at the first turn of the starter.",
		Why:    "power comes on soon",
		Demand: tick("tools off and in the box, mark still under the pointer"),
		Branches: []Branch{
			{If: "the mark moved", Why: "the crank turned with the socket", Do: "bring it to the lead again", Go: StepLead}},
		Needs: []Condition{is(Tools, OnCrank), is(StopTool, NotIn)},
		After: []Effect{to(Tools, OffCrank)}, Undo: []Effect{to(Tools, OnCrank)},
	}}
}
