package procedure

import (
	"slices"

	"phasewright/jobcard"
)

// This file is an engine with people round it, written apart from plant, steps and locks, from how people are hurt at
// this work (docs/hazards.md). It knows of a step only its name and which looks have to be ticked, and says by itself
// what hands, key, fuel and tools do in it. What it calls unsafe shares no code with locks.go: a wrong lock cannot hide
// behind it.

// world is the engine as it truly stands.
type world struct {
	coilFed, boxCharged, injectorsFed, fuelIn  bool
	starterOn, batteryOn, keyOn, running       bool
	driveOut, bilgeClear, counted              bool
	barOn, stopIn, plugsOut, capOff, wiresOff  bool
	oldUnit, newUnit, clampLoose, driveEngaged bool
	oiled, atLead                              bool
	zero, marks, settings, edge, oilSeen, base bool
	tight                                      bool // fuel primed and looked over since it was opened last
	idle, speeds, proof, signed, locked, free  bool
	killTried                                  bool
}

// asItCame is the engine before anybody touched it, everything live.
func asItCame(c *jobcard.Card) world {
	return world{coilFed: true, boxCharged: c.Ignition.Output == jobcard.SparkBox, injectorsFed: injects(c), fuelIn: c.Engine.Fuel != jobcard.NoFuel,
		starterOn: true, batteryOn: true, oldUnit: true, driveEngaged: true, oiled: true}
}

func injects(c *jobcard.Card) bool {
	return c.Engine.Fuel == jobcard.Port || c.Engine.Fuel == jobcard.ThrottleBody
}

// witness watches one step.
type witness struct {
	world
	c     *jobcard.Card
	looks []Also
	said  string // the first thing that hurts
	never bool   // it is of those that nobody may override
}

func (x *witness) bad(never bool, is bool, what string) {
	if is && (x.said == "" || never && !x.never) {
		x.said, x.never = what, never
	}
}

func (x *witness) looked(l Look) bool {
	return slices.ContainsFunc(x.looks, func(a Also) bool { return a.ID == l })
}

// burns says whether an engine that turns gets fuel.
func (x *witness) burns() bool { return x.fuelIn && (!injects(x.c) || x.injectorsFed) }

// hands are at plugs, wires, cap, housing: an arm's length from the belts.
func (x *witness) hands() {
	x.bad(true, x.coilFed, "hands at a fed ignition")
	x.bad(true, x.boxCharged, "hands at a charged spark box")
	x.bad(true, x.running, "hands in a running engine")
	x.bad(true, x.starterOn, "hands by the belts while a start is possible")
	x.bad(false, !x.counted, "hands in, and nobody knows who else is here")
}

// byHand turns the crank with a bar.
func (x *witness) byHand() {
	x.barOn = true
	x.hands()
	x.bad(true, x.batteryOn, "crank turned by hand with a battery on")
	x.bad(true, x.injectorsFed, "crank turned by hand with the injectors fed")
	x.bad(true, x.fuelIn, "crank turned by hand with fuel in the way: it can start")
	x.bad(true, x.keyOn, "crank turned by hand with the key on")
	x.bad(false, !x.plugsOut, "crank turned by hand against compression")
	x.bad(false, !x.driveOut, "crank turned by hand with the drive in")
	x.atLead = false
}

// enable lets the starter turn.
func (x *witness) enable() {
	x.bad(true, x.barOn || x.stopIn, "starter enabled with bar or stop in the engine")
	x.bad(false, !x.starterOn && !x.looked(LookWalk), "starter enabled, and nobody walked round right before")
	if x.looked(LookDrive) {
		x.driveOut = true
	}
	x.starterOn, x.batteryOn = true, true
}

// crank lets the starter turn the engine.
func (x *witness) crank() {
	x.enable()
	x.keyOn = true
	x.bad(false, !x.looked(LookWalk), "cranked, and nobody walked round right before")
	x.bad(false, !x.looked(LookHeld), "cranked with no hand at the kill")
	x.bad(true, x.barOn, "cranked with a bar on the crank")
	x.bad(true, x.stopIn, "cranked against the piston stop")
	x.bad(false, x.plugsOut, "cranked with a plug out")
	x.bad(false, x.capOff, "cranked without cap and flame arrester")
	x.bad(false, !x.driveOut, "cranked with the drive in")
	x.bad(false, !x.counted, "cranked, and nobody knows who else is here")
	x.bad(false, x.c.Engine.Place == jobcard.Boat && !x.bilge(), "a spark in a boat whose bilge was not blown out")
	x.bad(false, !x.oldUnit && !x.driveEngaged, "cranked with the oil pump without its drive")
	x.bad(false, x.newUnit && !x.oiled, "cranked on a dry gear")
	x.bad(false, x.clampLoose && x.newUnit, "cranked with a loose clamp")
	x.bad(true, x.coilFed && x.burns() && !x.oldUnit && !x.base, "it can start on a timing that nobody has shown")
	x.bad(false, x.coilFed && x.wiresOff, "a coil fires without its wires")
	x.bad(false, !x.coilFed && x.burns(), "unburnt fuel pumped into the exhaust")
	x.bad(false, x.coilFed && x.newUnit && !x.edge, "a spark from a housing that was never phased")
	x.bad(false, x.coilFed && x.newUnit && !x.settings, "a spark by settings that nobody read back")
	x.atLead = false
}

// bilge is blown out in this very step, or was, and nobody came back since.
func (x *witness) bilge() bool {
	if x.looked(LookBilge) {
		x.bilgeClear = true
	}
	return x.looked(LookBilge)
}

// runs lets it run.
func (x *witness) runs() {
	x.running, x.keyOn = true, true
	if x.oldUnit {
		return
	}
	x.bad(true, !x.base, "it runs on a timing that nobody has shown")
	x.bad(false, !x.tight && x.c.Engine.Fuel != jobcard.NoFuel, "it runs, and nobody looked for a leak")
	x.bad(false, !x.oilSeen, "it runs, and oil pressure was not seen while cranking")
}

func (x *witness) off() { x.keyOn, x.running = false, false }

// fuel is opened: let down, drained.
func (x *witness) fuel() {
	x.coilFed = x.coilFed && !x.looked(LookFeed) // whoever sees it in pulls it
	x.bad(true, x.coilFed, "fuel opened beside a fed coil")
	x.bad(true, x.running, "fuel opened on a running engine")
	x.bad(false, x.keyOn, "fuel opened with the key on")
	x.bad(false, !x.looked(LookCold), "fuel opened hot")
	x.bad(false, x.c.Engine.Place == jobcard.Boat && !x.bilge(), "fuel opened over a bilge that nobody sniffed")
	x.fuelIn, x.tight = false, false
}

// dead pulls the feed and meters it with the key on.
func (x *witness) dead() {
	x.bad(true, x.barOn, "key on with a bar on the crank")
	x.injectorsFed, x.coilFed, x.keyOn = false, false, false
	x.running = false
}

// moved is the housing, the unit or a wire moved: what was shown of the timing is shown no more.
func (x *witness) moved() {
	x.base, x.idle, x.speeds, x.proof, x.signed = false, false, false, false, false
}

func (x *witness) light() {
	x.bad(false, x.clampLoose, "timing read with a loose clamp")
	x.bad(false, !x.marks || !x.zero, "timing read at a mark that is not proven")
	x.bad(false, !x.running && !x.keyOn, "timing read on an engine that stands")
}

// perform does a step.
func (x *witness) perform(id StepID) {
	switch id {
	case StepBegin:
		x.off()
		x.counted = true
		x.barOn, x.stopIn = false, false
	case StepPlace:
		x.bad(true, x.running, "crawled about under a running engine")
		x.driveOut = true
	case StepAsFound: // whatever a break or a slip left off is put back first
		x.coilFed, x.boxCharged, x.injectorsFed, x.fuelIn = true, x.c.Ignition.Output == jobcard.SparkBox, injects(x.c), x.c.Engine.Fuel != jobcard.NoFuel
		x.crank()
		x.runs()
		x.bad(false, !x.looked(LookKill), "run as found, and the kill was not tried")
		x.killTried = true
		x.off()
	case StepFeed:
		x.barOn = false
		x.dead()
	case StepFuelDown:
		x.fuel()
	case StepStarts:
		x.bad(true, x.running, "batteries taken off a running engine")
		x.bad(false, x.keyOn, "batteries taken off with the key on: sparks")
		x.starterOn, x.batteryOn = false, false
	case StepBleed:
		x.coilFed = x.coilFed && !x.looked(LookFeed)
		x.bad(true, x.coilFed, "a fed box does not bleed down")
		x.boxCharged = false
	case StepOpen:
		x.hands()
		x.wiresOff, x.capOff = true, x.c.Distributor.Use == jobcard.SparkAndSignal
	case StepPlugsOut:
		x.hands()
		x.bad(true, x.fuelIn, "plugs taken out with fuel about")
		x.plugsOut = true
	case StepZero:
		x.stopIn = true
		x.byHand()
		x.stopIn = !x.looked(LookStopOut)
		x.zero = true
		x.bad(false, !x.looked(LookBolt), "the crank was turned back, and nobody looked at the bolt")
	case StepMarks:
		x.byHand()
		x.bad(false, !x.zero, "marks laid out from a zero that is not proven")
		x.marks = true
	case StepLead:
		x.byHand()
		x.bad(false, !x.marks, "brought to a mark that is not there")
		x.bad(false, !x.looked(LookCompression) || !x.looked(LookSecondSign), "the stroke rests on one sign alone")
		x.atLead = true
		x.barOn = !x.looked(LookBarOff)
	case StepUnitOut:
		x.hands()
		x.bad(false, !x.atLead, "unit lifted with the engine anywhere")
		x.bad(false, !x.looked(LookShaft) || !x.looked(LookGear), "nobody looked whether the pump shaft came along, or at the gear")
		x.oldUnit, x.newUnit, x.driveEngaged, x.clampLoose, x.oiled, x.edge = false, false, false, true, false, false
		x.oilSeen = false
		x.moved()
	case StepFit:
		x.bad(false, x.oldUnit || x.newUnit, "a dry fit of a unit that is in")
		x.bad(false, !x.looked(LookGear), "gear or tongue not looked at")
	case StepOil:
		x.bad(false, x.oldUnit || x.newUnit, "oiled in its hole")
		x.oiled = true
	case StepDrop:
		x.hands()
		x.bad(false, x.oldUnit || x.newUnit, "two units in one hole")
		x.bad(false, !x.atLead, "dropped off the mark")
		x.newUnit, x.clampLoose, x.driveEngaged = true, true, x.looked(LookTang)
		x.moved()
	case StepPower:
		x.bad(false, x.coilFed, "power for the controller, and the coil is fed too")
		x.bad(false, x.starterOn, "key turned with the starter wire on")
		x.bad(false, x.c.Engine.Place == jobcard.Boat && !x.bilge(), "a battery clamp sparks over a bilge that nobody sniffed")
		x.batteryOn, x.keyOn = true, true
	case StepSettings:
		if x.looked(LookFeed) {
			x.coilFed = false
		}
		x.bad(false, x.coilFed, "settings entered with the coil fed")
		x.bad(true, x.running, "settings changed on a running engine")
		x.batteryOn, x.keyOn = true, true
		x.settings = x.looked(LookStored) && x.looked(LookCycled)
	case StepPhase:
		x.hands()
		x.bad(false, !x.newUnit, "nothing there that turns")
		x.clampLoose = true
		x.bad(false, !x.atLead, "phased with the engine anywhere")
		x.bad(false, !x.keyOn && x.c.Signals.Crank.Kind != jobcard.Reluctor, "looked at a signal without power")
		x.bad(false, !x.settings, "phased before the settings were read back")
		x.edge = true
		x.moved()
	case StepCam:
		x.bad(false, !x.atLead, "the stroke read with the engine anywhere")
		x.bad(false, !x.keyOn, "looked at a signal without power")
	case StepClamp:
		x.hands()
		x.bad(false, !x.edge, "clamped where nobody phased it")
		x.clampLoose = false
	case StepClose:
		x.off()
		x.hands()
		x.bad(false, x.stopIn || x.barOn, "closed up over a tool")
		x.bad(false, !x.looked(LookArrester), "no flame arrester or air cleaner")
		x.plugsOut, x.capOff = false, false
	case StepWires:
		x.off()
		x.hands()
		x.bad(false, x.capOff, "wires put on no cap")
		x.wiresOff = false
		x.moved()
	case StepTurnOver:
		x.coilFed = x.coilFed && !x.looked(LookFeed)
		x.off()
		x.noFuel()
		x.crank()
		x.oilSeen = true
		x.off()
	case StepBase:
		x.off()
		x.noFuel()
		x.coilFed, x.boxCharged = true, x.c.Ignition.Output == jobcard.SparkBox
		x.crank()
		x.light()
		x.base = true
		x.off()
	case StepPrime:
		x.off()
		x.coilFed = false // pulled first
		x.bad(false, !x.looked(LookFeed), "primed beside a fed coil")
		x.bad(false, x.plugsOut, "primed with a plug out")
		x.bad(false, x.c.Engine.Place == jobcard.Boat && !x.bilge(), "primed over a bilge that nobody sniffed")
		x.fuelIn, x.tight = true, x.looked(LookLeaks)
	case StepStart:
		x.off()
		x.injectorsFed, x.coilFed, x.boxCharged = injects(x.c), true, x.c.Ignition.Output == jobcard.SparkBox
		x.crank()
		x.runs()
		x.bad(false, !x.looked(LookOil) || !x.looked(LookWater), "it runs, and nobody looked for oil pressure and cooling")
		x.killTried = x.killTried || x.looked(LookKill)
		x.locked = false
	case StepIdle:
		x.bad(false, !x.running, "nothing runs")
		x.light()
		x.bad(false, !x.looked(LookHeld), "nobody saw that the timing is locked")
		x.idle, x.locked, x.free = true, true, false
	case StepRange:
		x.bad(false, !x.running || !x.locked, "speeds read on an engine that stands, or not locked")
		x.light()
		x.bad(true, !x.base, "revved on a timing that nobody has shown")
		x.bad(false, !x.idle, "revved before idle stood inside its bound")
		x.bad(false, !x.killTried, "revved before anybody tried the kill")
		x.speeds = true
	case StepProve:
		x.bad(false, !x.idle || !x.speeds, "proven without readings")
		x.proof = true
	case StepUnlock:
		x.bad(false, !x.running, "nobody can see that timing moves on an engine that stands")
		x.locked, x.free = false, true
	case StepSignOff:
		x.off()
		x.bad(true, x.barOn || x.stopIn, "signed with a tool in the engine")
		if x.looked(LookClosed) {
			x.coilFed, x.injectorsFed, x.starterOn, x.batteryOn = true, injects(x.c), true, true
		}
		x.bad(false, x.plugsOut || x.capOff || x.wiresOff || x.clampLoose, "signed on an open engine")
		x.bad(false, !x.batteryOn || !x.coilFed || !x.starterOn || injects(x.c) && !x.injectorsFed, "handed over with something still off")
		x.bad(false, !x.looked(LookTools) || !x.looked(LookClosed), "signed, and nobody counted the tools")
		x.bad(false, !x.free, "handed over locked")
		x.bad(false, !x.proof, "signed without a proof")
		x.signed = true
	case StepStop:
		x.off()
	case StepRunDry:
		x.bad(false, !x.running, "nothing runs")
		x.off()
		x.fuelIn, x.tight = false, false
	case StepHousing:
		x.makeDead()
		x.noFuel()
		x.hands()
		x.clampLoose = true
		x.clampLoose = !x.looked(LookClamp)
		x.settings = false // asked for anew after every correction
		x.moved()
	case StepAllowance:
		x.bad(true, x.running, "set on a running engine")
		if x.looked(LookFeed) {
			x.dead()
		}
		x.noFuel()
		x.bad(false, x.coilFed, "set with the coil fed")
		x.settings = false
		x.moved()
	case StepReopen:
		x.off()
		x.moved()
	case StepRotor:
		x.makeDead()
		x.noFuel()
		x.hands()
		x.bad(false, x.wiresOff || x.plugsOut || x.clampLoose, "cap swapped on an open engine")
		x.coilFed, x.boxCharged = true, x.c.Ignition.Output == jobcard.SparkBox // through a cap with a window
		x.bad(true, x.burns(), "sparks in the open with fuel in the way")
		x.crank()
		x.light()
		x.off()
		x.makeDead()
		x.hands()
		x.bad(false, !x.looked(LookCap), "the cut cap stays on")
		x.moved()
	case StepOther:
		x.makeDead()
		x.hands()
		x.injectorsFed, x.coilFed, x.boxCharged = injects(x.c), true, x.c.Ignition.Output == jobcard.SparkBox
		x.crank()
		x.runs()
		x.light()
		x.off()
		x.makeDead()
		x.hands()
	default:
		x.bad(true, true, "a step that this test does not know")
	}
	if !x.keyOn && x.locked {
		x.locked = false
	}
}

// noFuel looks whether fuel can get in, where that is asked for; whoever sees that it can cuts it off.
func (x *witness) noFuel() {
	if !x.looked(LookFuel) {
		return
	}
	x.injectorsFed = false
	x.fuelIn = x.fuelIn && injects(x.c)
}

// makeDead is how a step that goes into the engine makes it dead by itself.
func (x *witness) makeDead() {
	x.bad(true, x.running, "begun on a running engine")
	if x.looked(LookFeed) {
		x.dead()
	}
	if x.looked(LookStarter) {
		x.starterOn, x.batteryOn = false, false
	}
	if x.looked(LookBox) {
		x.boxCharged = false
	}
}

// takenBack is a tick that was wrong: what it said was never so.
func (x *witness) takenBack(id StepID) {
	switch id {
	case StepBegin:
		x.counted = false
	case StepPlace:
		x.driveOut, x.bilgeClear = false, false
	case StepFeed:
		x.coilFed, x.injectorsFed, x.boxCharged = true, injects(x.c), x.c.Ignition.Output == jobcard.SparkBox
	case StepFuelDown:
		x.fuelIn = true
	case StepStarts:
		x.starterOn, x.batteryOn = true, true
	case StepBleed:
		x.boxCharged = true
	case StepOpen:
		x.wiresOff, x.capOff = false, false
	case StepPlugsOut:
		x.plugsOut, x.atLead, x.edge = false, false, false
		x.moved()
	case StepZero:
		x.zero, x.marks, x.edge, x.atLead = false, false, false, false
		x.moved()
	case StepMarks:
		x.marks, x.edge, x.atLead = false, false, false
		x.moved()
	case StepLead:
		x.atLead, x.edge = false, false
		x.moved()
	case StepUnitOut:
		x.oldUnit, x.driveEngaged, x.oiled, x.clampLoose = true, true, true, false
	case StepFit, StepOil:
		x.oiled, x.edge = false, false
		x.moved()
	case StepDrop:
		x.newUnit, x.driveEngaged, x.clampLoose, x.edge = false, false, true, false
		x.moved()
	case StepPower:
		x.off()
	case StepSettings:
		x.settings = false
		x.moved()
	case StepPhase, StepCam:
		x.edge = false
		x.moved()
	case StepClamp:
		x.clampLoose, x.edge = true, false
		x.moved()
	case StepClose:
		x.plugsOut, x.capOff = true, x.c.Distributor.Use == jobcard.SparkAndSignal
		x.moved()
	case StepWires:
		x.wiresOff = true
		x.moved()
	case StepTurnOver:
		x.oilSeen = false
		x.moved()
	case StepBase:
		x.moved()
	case StepPrime:
		x.tight = false
	case StepStart:
		x.off()
	case StepIdle:
		x.idle, x.speeds, x.proof, x.signed, x.locked = false, false, false, false, false
	case StepRange:
		x.speeds, x.proof, x.signed = false, false, false
	case StepProve:
		x.proof, x.signed = false, false
	case StepUnlock:
		x.free, x.signed = false, false
	case StepSignOff:
		x.signed = false
	}
	if x.running && !x.base && !x.oldUnit {
		x.bad(true, true, "it runs on after its base timing was withdrawn")
	}
}

// away is a night: somebody was at the engine and made everything live.
func (x *witness) away() {
	x.coilFed, x.boxCharged, x.injectorsFed, x.fuelIn = true, x.c.Ignition.Output == jobcard.SparkBox, injects(x.c), x.c.Engine.Fuel != jobcard.NoFuel
	x.starterOn, x.batteryOn, x.keyOn = true, true, true
	x.driveOut, x.bilgeClear, x.counted, x.tight, x.atLead, x.locked = false, false, false, false, false, false
	if x.clampLoose && x.edge {
		x.edge = false
		x.moved()
	}
}

// brokenOff is a check that somebody began and never ticked: it left behind what it feeds and enables.
func (x *witness) brokenOff(id StepID) bool {
	switch id {
	case StepTurnOver:
		x.starterOn, x.batteryOn, x.atLead = true, true, false
	case StepBase, StepStart:
		x.coilFed, x.boxCharged = true, x.c.Ignition.Output == jobcard.SparkBox
		x.starterOn, x.batteryOn, x.atLead = true, true, false
		x.injectorsFed = x.injectorsFed || id == StepStart && injects(x.c)
	case StepPrime:
		x.fuelIn, x.tight = true, false
	default:
		return false
	}
	return true
}
