package procedure

import (
	"fmt"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// coilEach says that every cylinder of several has a coil of its own, mostly right on its plug: there is no plug wire
// for a clamp.
func (b *builder) coilEach() bool {
	return !b.steered && !b.single && b.c.Ignition.Coils == jobcard.CoilPerCylinder
}

// clampOn is where the light's clamp goes for the first cylinder.
func (b *builder) clampOn() string {
	if b.coilEach() {
		return fmt.Sprintf("the primary of coil %d, or an extension wire", b.first)
	}
	return fmt.Sprintf("the plug wire of cylinder %d", b.first)
}

// clampNote says more of it, where there is no plug wire.
func (b *builder) clampNote() string {
	if !b.coilEach() {
		return ""
	}
	return "Coil on plug: an extension wire goes between coil and plug. The light's clamp goes round it. Or an " +
		"inductive clamp goes round the primary wire that feeds this coil alone, its arrow as the light's maker " +
		"says. Ask the coil's maker which of the two is allowed (common practice). On the feed a light may flash " +
		"as the current begins. The dwell then shows as advance that grows with speed. Compare with the extension once."
}

// noOpenCoil is the look that the spark of every coil has somewhere to go.
var noOpenCoil = Also{LookCoils, "every coil on its plug or on a grounded spark tester, none open"}

// sparkGoes says where the spark of each coil goes while the starter turns.
func (b *builder) sparkGoes() Figure {
	return Figure{"each spark goes to", "its own plug, or a spark tester on that coil. Clamp the tester to the " +
		"block, away " +
		"from fuel. An open coil flashes over inside, or to a hand"}
}

// wire is another wire that the light can be read on.
type wire struct {
	cylinder int
	behind   quantity.Crank // how far its TDC mark lies from zero against running direction, −180 to 180; 0: at zero
}

// wires lists the other wires: the companion first, which is read at the marks that are there, then in firing order. A
// companion that fires with the first, from one coil, says nothing new and is left out.
func (b *builder) wires() []wire {
	f, err := engine.NewFirings(b.c.Engine.FiringOrder, b.c.Engine.Intervals)
	if err != nil {
		return nil // a card that was read has firings that can be
	}
	var same, others []wire
	for i := 1; i < f.Count(); i++ {
		w := wire{f.Cylinder(i), f.TDC(0).To(f.TDC(i))}
		for w.behind > engine.CycleDegrees/4 {
			w.behind -= engine.CycleDegrees / 2 // a mark comes round once a turn
		}
		switch k, found := f.Companion(0); {
		case !found || k != i:
			others = append(others, w)
		case b.c.Ignition.Coils != jobcard.CompanionPairs:
			w.behind = 0
			same = append(same, w)
		}
	}
	return append(same, others...)
}

// otherWire is the step that reads the light on another wire: a figure at idle, and whose wire it was. dead is how the
// ignition is made dead, looked what is ticked for it, made the plant moment by moment, standing what must stand.
func (b *builder) otherWire(part string, dead []string, looked []Also, made [][]Effect, standing []Condition) Step {
	idle := float64(b.c.Engine.IdleSpeed)
	locked := float64(b.c.Controller.Advance.Locked.Or(0))
	again := []Effect{to(Feed, Dead), to(Injectors, Dead), to(Box, Bled), to(Starter, Disabled), to(Battery, Removed),
		to(Key, KeyOff)}
	st := Step{
		ID: StepOther, Part: part, Title: "Read the light on another wire, at idle", OnDemand: true,
		Hazard: "Plug wires can shock you, and a start can take a hand. Meter it dead before the clamp is moved, " +
			"both times.",
		Do: append(append([]string{}, dead...), "Move the light's clamp to the other wire.",
			pick(b.injected, "Put feed, injectors, battery and starter wire back.",
				"Put feed, battery and starter wire back."), "Walk round the engine, then start it.",
			"Lock the timing, and read at idle.", "Stop it, and make it dead again.",
			"Move the clamp back to the first wire."),
		Notes: some(b.clampNote()),
		Why:   "one wire says nothing of the other cylinders",
		Show:  []Figure{{"locked", deg(quantity.Crank(locked)) + " BTDC of the cylinder that is read"}},
		Demand: Demand{Kinds: []ProofKind{Reading}, Ask: "what the light shows at idle, and on whose wire",
			Unit: "° BTDC", Possible: Band{-widest, widest}, Passes: Band{-widest, widest},
			Speed: Band{idle/2 + 1, idleTop(idle)}, Also: append(append([]Also{}, looked...), b.walk()...)},
		Branches: []Branch{
			{If: "it stands degrees beside the first wire", Why: "a vane out of its place, or a worn drive",
				Do: "write it down. Read the next wire", Go: StepOther},
			{If: "it flashes at no mark, or nowhere near", Why: "clamp or wire on another cylinder",
				Do: "stop. Follow the wires with a finger", Go: StepWires}},
		Needs: append([]Condition{is(Range, Yes), is(Clamp, Tight)}, standing...),
		During: append(append([][]Effect{}, made...), atIgnition,
			phase(to(Hands, Clear), to(Battery, Connected), to(Feed, Live), to(Injectors, Live)),
			phase(to(Starter, Able)), phase(to(Key, KeyCrank), to(Engine, Cranking)),
			phase(to(Key, KeyRun), to(Engine, Running), to(Light, OnMarks)),
			append(phase(to(Engine, Stopped), to(Light, NoLight)), again...), atIgnition),
		After: append([]Effect{to(Range, Yes)}, again...),
		Basis: "locked " + deg(quantity.Crank(locked)),
	}
	if b.fuelled {
		st.Needs = append(st.Needs, is(Leaks, Yes), is(FuelLine, Full))
	}
	if b.coilEach() {
		st.Show = append(st.Show, b.sparkGoes())
		st.Demand.Also = append(st.Demand.Also, noOpenCoil)
	}
	for i, w := range b.wires() {
		st.Demand.Wires = append(st.Demand.Wires, w.cylinder)
		name, at := fmt.Sprintf("cylinder %d", w.cylinder), fmt.Sprintf("read at the marks of cylinder %d", b.first)
		if i == 0 {
			name += ", first"
		}
		if w.behind != 0 {
			way := b.c.Engine.Rotation.Opposite()
			if w.behind < 0 {
				way = b.c.Engine.Rotation
			}
			off := quantity.Abs(w.behind)
			arc := engine.Damper{Diameter: b.c.Damper.Diameter.Value}.Arc(off)
			at = fmt.Sprintf("its TDC mark: %s from zero, %s along the rim, %v, seen from the front", deg(off),
				b.tool(float64(arc)), way)
		}
		st.Show = append(st.Show, Figure{name, at})
	}
	return st
}
