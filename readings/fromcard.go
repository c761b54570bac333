package readings

import (
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// FromCard takes the settings that a job card holds. Mark placement and zero mark come from the
// damper, as limits; what no card states (parallax at the pointer, tachometer) is assumed from
// common practice and marked so.
func FromCard(card *jobcard.Card) Settings {
	set := Settings{
		AllowanceNow:  card.Controller.DelayAllowance.Or(0),
		AllowanceOpen: !card.Controller.DelayAllowance.Given(),
		AllowanceStep: card.Controller.DelayStep.Or(0),
		Idle:          card.Engine.IdleSpeed,
		Redline:       card.Engine.Redline,
		Cranking:      card.Engine.CrankingSpeed,
		Tolerance:     card.Tolerance,
		HousingTravel: card.Distributor.HousingTravel,
		Common:        UsualCommon(),
		Steps:         StepsOf(card),
	}
	set.Places = placesOf(card.Firings())
	set.Limits = limitsOf(commandsOf(card), set.Steps)
	if card.Distributor.Rotation != 0 {
		set.RotorTurns = card.Distributor.Rotation.FromAbove()
	}
	marks, zero := &set.Common[0], &set.Common[1]
	if d := card.Damper.Diameter.Value; d > 0 && card.Damper.MarkPlacement > 0 {
		marks.Limit = float64(engine.Damper{Diameter: d}.AngleOfArc(card.Damper.MarkPlacement))
		marks.Assumed = card.Assumed("damper.mark_placement")
	}
	if card.Damper.ZeroMark > 0 {
		zero.Limit = float64(card.Damper.ZeroMark)
		zero.Assumed = card.Assumed("damper.zero_mark")
	}
	return set
}

// placesOf says how far after that of cylinder 1 each cylinder's top dead centre of firing lies.
func placesOf(f *engine.Firings) []quantity.Crank {
	at := make([]quantity.Crank, f.Count())
	for i := range at {
		at[f.Cylinder(i)-1] = quantity.Crank(f.TDC(i))
	}
	first := at[0]
	for i := range at {
		at[i] -= first
	}
	return at
}

// commandsOf are the advances that a card commands somewhere.
func commandsOf(card *jobcard.Card) []quantity.Crank {
	a := card.Controller.Advance
	out := []quantity.Crank{a.Min, a.Max}
	for _, s := range []jobcard.Setting[quantity.Crank]{a.Cranking, a.Locked} {
		if v, given := s.Get(); given {
			out = append(out, v)
		}
	}
	return out
}
