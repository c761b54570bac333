package procedure

import (
	"fmt"

	"phasewright/quantity"
	"phasewright/sheet"
)

// rotorStands says where the rotor's tip must stand as the spark jumps on the starter, from the sheet's sums; "" where
// the card does not tell it.
func (b *builder) rotorStands() string {
	seen, ok := b.s.RotorOnStarter(b.c)
	if !ok {
		return ""
	}
	return fmt.Sprintf("%s, ± %s", sheet.TipPlace(seen.Tip), deg(seen.Half))
}

// seeRotor is the step that looks at the rotor through a cut-open cap, by the light on the starter: no fuel, so that a
// window in the cap lets nothing burn. Every wire is moved twice for it, so that the crank checks come again. dead,
// looked and made are as for otherWire, left is how a correction leaves the engine.
func (b *builder) seeRotor(part string, dead []string, looked []Also, made [][]Effect, standing []Condition,
	left []Effect) Step {
	again := []Effect{to(Feed, Dead), to(Injectors, Dead), to(Box, Bled), to(Starter, Disabled), to(Battery, Removed),
		to(Key, KeyOff)}
	capped := [][]Effect{phase(to(Hands, AtIgnition), to(Cap, Off)), phase(to(Cap, On))}
	also := append(append(b.fuelOff(), looked...), clampTight)
	also = append(append(also, b.walk()...), Also{LookCap, "whole cap back on, clips home, each wire on its own tower"})
	st := Step{
		ID: StepRotor, Part: part, Title: "See the rotor at its terminal, by the light on the starter", OnDemand: true,
		Hazard: "Sparks jump out of a cut cap. Stay an arm's length off. No fuel vapour. Dead before and after.",
		Do: append(append([]string{}, dead...),
			fmt.Sprintf("Fit a spare cap, cut open and marked at the tower of cylinder %d.", b.first),
			"Put feed, battery and starter wire back; fuel stays off.", "Walk round the engine.",
			fmt.Sprintf("Run the starter %d s at most, the light on the window.", crankSeconds),
			"Note where the tip stands against the terminal's marks.", "Make it dead again; put the whole cap on."),
		Notes: some("Take a cap that is never used again. Cut the window beside the tower. Mark both edges of the "+
			"terminal on its rim. They stand for the terminal where it cannot be seen. Move the wires one at a "+
			"time, both ways. The light's clamp stays on the first. The checks on the starter come again, since every "+
			"wire was moved.",
			b.say("rotor_sweep"), b.say("rotor_centre")),
		Why: "the damper cannot show a rotor that stands beside its terminal",
		Show: []Figure{{"commanded on the starter", setDeg(b.c.Controller.Advance.Cranking) + " BTDC"},
			{"rotor turns", b.c.Distributor.Rotation.FromAbove()}},
		Demand: picture("photo through the window; or in words: where the tip stands, in shaft degrees"),
		Branches: []Branch{
			{If: "the tip stands elsewhere, yet faces the terminal", Why: "the rotor is not where the card has it",
				Do: "write it on the card (distributor.rotor_offset). Read the sheet again", Go: StepRotor},
			{If: "the tip does not face the terminal", Why: "the spark jumps a wide gap, or to the next tower",
				Do: "do not run it. Centre the sweep as the sheet says, by the settings", Go: StepSettings}},
		Needs: append([]Condition{is(Base, Yes), is(Settings, Yes), is(Phased, Yes), is(Clamp, Tight), is(Wires, On)},
			standing...),
		During: append(append(append(append([][]Effect{}, made...), capped...),
			phase(to(Hands, Clear), to(Battery, Connected), to(Feed, Live)), phase(to(Starter, Able)),
			phase(to(Key, KeyCrank), to(Engine, Cranking), to(Light, OnMarks)),
			append(phase(to(Engine, Stopped), to(Light, NoLight)), again...)), capped...),
		After: append(append([]Effect{to(Cap, On)}, left...), fell(WiresMoved)...),
		Basis: "cranking " + deg(quantity.Crank(b.c.Controller.Advance.Cranking.Or(0))),
	}
	st.Demand.Also = also
	if stands := b.rotorStands(); stands != "" {
		st.Show = append([]Figure{{"tip must stand", stands}}, st.Show...)
	}
	return st
}

// offTerminal is what leads to that step from a reading on an engine that runs badly though the light stands.
func (b *builder) offTerminal() []Branch {
	if !b.steered {
		return nil
	}
	return []Branch{{If: "it pops or misses though the light stands", Why: "the rotor may stand beside its terminal",
		Do: "stop. See the rotor by the light", Go: StepRotor}}
}
