package procedure

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/quantity"
	"phasewright/sheet"
)

func (b *builder) oldOut() []Step {
	part := "Old unit out"
	noted := Step{
		ID: StepNoted, Part: part, Title: "Record the old unit as it stands",
		Text:   "Photograph it from above and from the side: where the rotor points, which tower is No. 1, how the wires run, how the flange stands to the block. Scribe rotor and housing to the block.",
		Why:    "the way back, if there has to be one",
		Demand: picture("photo from above, or in words: where the rotor points and which tower is No. 1"),
		Once:   []Condition{is(Distributor, OldIn)},
		Needs:  []Condition{is(Distributor, OldIn), is(Secured, Yes)},
		After:  []Effect{to(Noted, Yes)},
	}
	out := []Step{noted}
	needs := b.deadIgnition(is(Noted, Yes), is(Crank, AtLead), is(Tools, OffCrank), is(Injectors, Dead))
	after := []Effect{to(Distributor, NoneIn), to(Clamp, Loose)}
	undo := []Effect{to(Distributor, OldIn), to(Clamp, Tight)}
	text := "Clamp off. "
	if b.steered {
		out = append(out, Step{
			ID: StepCapOff, Part: part, Title: "Cap and wires off",
			Text:   "Number each wire by its cylinder, then take cap and wires off together.",
			Hazard: "Feed off first, spark box bled down where there is one.",
			Why:    "the rotor has to be seen",
			Demand: tick("wires numbered, cap off"),
			Needs:  b.deadIgnition(is(Injectors, Dead)),
			During: []Effect{to(Hands, AtIgnition)},
			After:  []Effect{to(Cap, Off), to(Wires, Off)}, Undo: []Effect{to(Cap, On), to(Wires, On)},
		})
		needs = append(needs, is(Cap, Off))
	} else {
		text = "Its cap and wires come off with it; the new unit needs none. Clamp off. "
		after, undo = append(after, to(Wires, Off)), append(undo, to(Wires, On))
	}
	old := Step{
		ID: StepOldOut, Part: part, Title: "Take the old unit out", Due: []Condition{is(Distributor, OldIn)},
		Text:   text + "Lift it slowly and watch the rotor: how far it turns, and which way. Stuff a clean rag in the hole.",
		Hazard: "Do not turn the engine while the unit is out. What falls into the hole goes into the sump.",
		Why:    "the new one turns as far, the other way, as it drops",
		Show:   []Figure{{"hands off the crank", "it stays at " + deg(b.c.Signals.Crank.Lead) + " BTDC"}},
		Demand: tick("out, hole covered"),
		Needs:  needs, During: []Effect{to(Hands, AtIgnition)}, After: after, Undo: undo,
	}
	if b.geared && b.c.Distributor.DropTurn == 0 {
		old.Demand = Demand{Kinds: []ProofKind{Written, Photo}, Ask: "how far and which way the rotor turned as it came out, seen from above"}
	}
	lift := Step{
		ID: StepLift, Part: part, Title: "Lift the new unit out again", OnDemand: true, Again: true,
		Text:   "Clamp off, lift it slowly. Rag in the hole. The engine stays where it is.",
		Hazard: "Injectors and coil dead first. Do not turn the engine while the unit is out.",
		Why:    "it stands a tooth, or half a turn, out",
		Demand: tick("out, hole covered"),
		Needs:  b.deadIgnition(is(Distributor, NewIn), is(Tools, OffCrank), is(Injectors, Dead)),
		During: []Effect{to(Hands, AtIgnition)},
		After:  []Effect{to(Distributor, NoneIn), to(Clamp, Loose)}, Undo: []Effect{to(Distributor, NewIn), to(Clamp, Finger)},
	}
	if b.steered {
		lift.Needs = append(lift.Needs, is(Cap, Off))
	}
	return append(out, old, lift)
}

func (b *builder) newIn() []Step {
	part := "New unit in"
	d := b.c.Distributor
	gap := float64(d.SeatGap)
	const feel = 0.2 // mm, what a feeler gauge under a flange repeats to: common practice
	look := Step{
		ID: StepFit, Part: part, Title: "Look at gear, drive and seat",
		Text:   joined(b.say("gear_material"), b.say("drive"), "Turn the shaft: no rough spot, no play at the bush.", "Dry fit without the clamp: gap under the flange, by feeler gauge.", b.say("seat"), b.doubt("seat")),
		Hazard: "Never pull a gap down with the clamp: the shaft then stands on the bottom and wears the drive out in hours.",
		Why:    "a wrong gear eats the cam; a shaft that bottoms eats the drive",
		Show:   []Figure{{"gap on the card", quantity.Millimetres(gap)}},
		Demand: Demand{Kinds: []ProofKind{Number}, Ask: "gap under the flange in the dry fit", Unit: "mm", Possible: Band{0, 25}, Passes: Band{max(0, gap-feel), gap + feel}},
		Branches: []Branch{{If: "another gap", Why: "shims are worked out from it, and engagement limits them", Do: "write it on the card (distributor.seat_gap), read the new sheet, then measure again", Go: StepFit, When: Band{0, 25}},
			{If: "teeth bright at one end, chipped or blue", Why: "the drive runs crooked or dry", Do: "do not fit it; find the cause first", Go: StepFit}},
		Needs: []Condition{is(Distributor, NoneIn)},
		After: []Effect{to(Fit, Looked)},
		Basis: fmt.Sprintf("%s gear on a %s cam, gap %s", d.GearMaterial, d.CamMaterial, quantity.Millimetres(gap)),
	}
	out := []Step{look}
	fitted := Looked
	if n := b.s.Item("seat").Value; n >= 1 {
		fitted = Shimmed
		out = append(out, Step{
			ID: StepShims, Part: part, Title: fmt.Sprintf("Lay %.0f shims", n),
			Text:   b.say("seat"),
			Why:    "the flange must carry the unit, not the shaft",
			Demand: Demand{Kinds: []ProofKind{Number}, Ask: "shims laid", Unit: "shims", Possible: Band{0, 20}, Passes: Band{n, n}},
			Branches: []Branch{{If: "another number", Why: "too few: the shaft stands on the bottom; too many: the gears engage too little", Do: "lay as many as the sheet says",
				Go: StepShims, When: Band{0, 20}}},
			Needs: []Condition{is(Distributor, NoneIn), is(Fit, Looked)},
			After: []Effect{to(Fit, Shimmed)}, Undo: []Effect{to(Fit, Looked)},
			Basis: fmt.Sprintf("%.0f shims", n),
		})
	}
	out = append(out, Step{
		ID: StepOil, Part: part, Title: "Lubricate gear and shaft",
		Text:   sheet.Oiling + ". Oil the sealing ring.",
		Why:    "the first minute dry is the wear of years",
		Demand: tick("teeth, shaft and seal lubricated"),
		Needs:  []Condition{is(Distributor, NoneIn), is(Fit, fitted)},
		After:  []Effect{to(Fit, Oiled)}, Undo: []Effect{to(Fit, fitted)},
	})
	return append(out, b.drop(part))
}

func (b *builder) drop(part string) Step {
	d := b.c.Distributor
	st := Step{
		ID: StepDrop, Part: part, Title: "Drop the new unit in",
		Text:   joined("Rag out of the hole. The mark is where the rotor must point at the lead.", b.say("gear_drop"), b.doubt("gear_drop"), b.say("gear_landings"), "The flange must seat by the unit's own weight. Clamp on, finger tight."),
		Hazard: "Do not push it down with the clamp, nor help it with the starter.",
		Why:    "which tooth it lands on decides whether the housing can reach the edge",
		Needs:  b.deadIgnition(is(Distributor, NoneIn), is(Fit, Oiled), is(Crank, AtLead)),
		During: []Effect{to(Hands, AtIgnition)},
		After:  []Effect{to(Distributor, NewIn), to(Clamp, Finger)}, Undo: []Effect{to(Distributor, NoneIn), to(Clamp, Loose)},
	}
	if !b.geared {
		st.Text = joined("Rag out of the hole.", b.say("drive"), "Turn the shaft until the tongue goes home and the flange seats by the unit's own weight. Clamp on, finger tight.")
		st.Demand = tick("tongue home the right way round, flange seated by its own weight")
		st.Branches = []Branch{{If: "it points half a turn away", Why: "a centred tongue goes home both ways", Do: "lift it, half a turn of the shaft, drop it again", Go: StepDrop},
			{If: "the flange does not seat", Why: "the tongue stands beside its slot", Do: "turn the shaft a little with a finger's weight on it", Go: StepDrop}}
		return st
	}
	travel := float64(d.HousingTravel)
	step := 360 / float64(d.GearTeeth)
	st.Demand = Demand{Kinds: []ProofKind{Number}, Ask: "where the rotor landed, from the mark (ahead in rotor direction +, behind −)", Unit: "shaft °", Possible: Band{-180, 180}, Passes: Band{-travel, travel}}
	st.Branches = []Branch{
		{If: "further off than the housing can turn", Why: fmt.Sprintf("one tooth is %s of the shaft, %s of the crank", deg(step), deg(engine.ShaftToCrank(quantity.Shaft(step)))), Do: "lift it and try the next tooth", Go: StepDrop, When: Band{-180, 180}},
		{If: "the flange does not seat", Why: "the oil-pump drive stands beside its slot", Do: "lift it; turn the pump shaft a little with a long screwdriver, not the engine", Go: StepDrop}}
	if it := b.s.Item("gear_drop"); it != nil && !math.IsNaN(it.Value) {
		st.Show = append(st.Show, Figure{"turns as it drops", deg(it.Value)})
	}
	st.Show = append(st.Show, Figure{"one tooth", deg(step) + " of the shaft"}, Figure{"housing can turn", "± " + deg(d.HousingTravel)})
	return st
}
