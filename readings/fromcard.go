package readings

import (
	"phasewright/engine"
	"phasewright/jobcard"
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
