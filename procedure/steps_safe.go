package procedure

import (
	"fmt"

	"phasewright/jobcard"
	"phasewright/sheet"
)

func (b *builder) decide() []Step {
	plan := Step{
		ID: StepPlan, Part: "Decide", Title: "Read the set-up sheet",
		Text: fmt.Sprintf("Trigger lead %s, active edge %s, %s, dwell %v, delay allowance %v. The sheet holds %d fine, %d caution, %d stop. Read each caution before a spanner is lifted.",
			deg(b.c.Signals.Crank.Lead), b.c.Signals.Crank.ActiveEdge, b.c.Ignition.Output, b.c.Ignition.Dwell, b.c.Controller.DelayAllowance, b.s.Count(sheet.Fine), b.s.Count(sheet.Caution), b.s.Count(sheet.Stop)),
		Why:    "every distance and setting below comes from it",
		Demand: tick("sheet read, cautions understood; the maker's instructions and local law come first"),
		After:  []Effect{to(Plan, Yes)},
	}
	if n := b.s.Count(sheet.Stop); n > 0 {
		plan.Bar = Bar{"a set-up sheet without a stop", b.stops(), "change the job card so that the sheet holds no stop"}
		plan.Branches = []Branch{{If: "the sheet holds a stop", Why: "work begun on it cannot end well", Do: "change what it names on the job card, then read the new sheet", Go: StepPlan}}
	}
	return []Step{plan}
}

func (b *builder) makeSafe() []Step {
	safe := "Make safe"
	out := []Step{{
		ID: StepSecure, Part: safe, Title: "Secure vehicle and place",
		Text:   "Wheels chocked, or the set bolted down; neutral or park, drive or pump declutched. Extinguisher within reach, exhaust led outside, eye protection on, no loose sleeves, nobody at belts and fan.",
		Hazard: "A cranked engine can start, and moves whatever it drives. Exhaust kills indoors.",
		Why:    "hands and then the starter will turn this engine",
		Demand: tick("chocked, out of gear, extinguisher at hand, exhaust led outside"),
		Needs:  []Condition{is(Plan, Yes), is(Engine, Stopped)},
		After:  []Effect{to(Secured, Yes)}, Undo: []Effect{to(Secured, No)},
	}, {
		ID: StepBatteryOff, Part: safe, Title: "Key off, battery off",
		Text:   "Key off and in the pocket of whoever turns the engine. Battery negative lead off, tied back. Let a hot engine cool.",
		Hazard: "A starter that turns while a hand is at the crank takes the hand.",
		Why:    "nothing may turn or spark unless you want it to",
		Demand: tick("key in the pocket, battery lead off and tied back"),
		Needs:  []Condition{is(Engine, Stopped), is(Secured, Yes)},
		After:  []Effect{to(Battery, Disconnected), to(Key, KeyOff)}, Undo: []Effect{to(Battery, Connected)},
	}, {
		ID: StepFuelOff, Part: safe, Title: "Injectors off, fuel shut",
		Text:   "Unplug the injectors or draw their fuse; pump fuse or relay out, fuel tap shut. Let the pressure down by the maker's method, with a rag and no flame.",
		Hazard: "Fuel under pressure burns. No lamp, no smoking, extinguisher at hand.",
		Why:    "an engine with live injectors starts if it can",
		Demand: tick("injector feed off, pump off, pressure let down"),
		Needs:  []Condition{is(Key, KeyOff)},
		After:  []Effect{to(Injectors, Dead), to(Fuel, Shut)}, Undo: []Effect{to(Injectors, Live), to(Fuel, Open)},
	}, {
		ID: StepCoilOff, Part: safe, Title: "Coil power off",
		Text:   "Take the feed off the " + b.spark() + ". Mark the wire, so that nobody puts it back unasked.",
		Hazard: "Tens of kilovolts as long as it is fed.",
		Why:    "a crank turned by hand makes sparks",
		Demand: tick("feed off and marked"),
		Needs:  []Condition{is(Key, KeyOff)},
		After:  []Effect{to(CoilPower, Dead)}, Undo: []Effect{to(CoilPower, Live)},
	}}
	if b.box {
		out = append(out, Step{
			ID: StepBleed, Part: safe, Title: "Let the spark box bleed down",
			Text:   "Wait as long as the box's maker says, then read the direct voltage across its coil output with a meter and leads rated for it. Touch nothing before the meter says so.",
			Hazard: "The store of a spark box kills, minutes after the key is off.",
			Why:    "it charges itself and keeps the charge",
			Demand: Demand{Kinds: []ProofKind{Number}, Ask: "voltage left at the box's coil output", Unit: "V", Possible: Band{-1000, 1000}, Passes: Band{-touchLimit, touchLimit}},
			Branches: []Branch{
				{If: "it stays above the limit", Why: "the bleed resistor is open, or the box still has its feed", Do: "keep away; look at the feed, then discharge it by its maker's method and read again", Go: StepBleed, When: Band{-1000, 1000}},
			},
			Needs: []Condition{is(CoilPower, Dead), is(Key, KeyOff)},
			After: []Effect{to(Box, Bled)}, Undo: []Effect{to(Box, Charged)},
		})
	}
	return out
}

// touchLimit is the direct voltage that may be touched, in volts: the steady limit of class ES1 in IEC 62368-1. From memory.
const touchLimit = 60

func (b *builder) spark() string {
	switch {
	case b.box:
		return "spark box"
	case b.c.Ignition.Coils == jobcard.OneCoil:
		return "coil"
	}
	return "coils"
}

// deadIgnition is what must stand before hands go to plugs, wires, cap or housing.
func (b *builder) deadIgnition(more ...Condition) []Condition {
	out := []Condition{is(CoilPower, Dead), is(Key, KeyOff)} // key off: the engine stands
	if b.box {
		out = append(out, is(Box, Bled))
	}
	return append(out, more...)
}
