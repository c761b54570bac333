package sheet

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"phasewright/distributor"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

func gearItems(c *jobcard.Card, s *Sheet) []Item {
	items := []Item{material(c), seat(c)}
	if c.Distributor.GearTeeth == 0 {
		return append([]Item{tongue(c)}, items...)
	}
	g := distributor.Gear{Teeth: c.Distributor.GearTeeth, Diameter: c.Distributor.GearDiameter,
		Helix: c.Distributor.HelixAngle}
	return append([]Item{step(c, g), drop(c, g), landings(c, g)}, items...)
}

func tongue(c *jobcard.Card) Item {
	return Item{
		ID: "drive", Title: "Tongue drive", Value: 360, Unit: "shaft °", Verdict: Fine,
		Text: "a slot and tongue drive the unit. There are no teeth to step. An offset tongue goes home one way " +
			"only. A centred tongue also goes home half a turn out",
		Because: "no tooth can be missed. Look whether the tongue is offset",
		Formula: "one place a turn for an offset tongue, two for a centred one",
		Inputs:  from(c, "distributor.gear_teeth", c.Distributor.GearTeeth),
		Ignored: "half a turn of the shaft is a whole turn of the crankshaft. The spark comes on the exhaust stroke",
	}
}

func step(c *jobcard.Card, g distributor.Gear) Item {
	return Item{
		ID: "gear_step", Title: "One tooth of the gear", Value: round(float64(g.Step()), 3), Unit: "shaft °",
		Verdict: Fine,
		Text: fmt.Sprintf("%s of the shaft, %s of the "+
			"crankshaft", deg(g.Step()), deg(engine.ShaftToCrank(g.Step()))),
		Because: "a timing error near this size means a tooth, not the housing",
		Formula: "360 ÷ teeth on the shaft, twice that of the crank",
		Inputs:  from(c, "distributor.gear_teeth", c.Distributor.GearTeeth),
		Ignored: "a unit one tooth out is chased with the housing until its travel ends",
	}
}

func drop(c *jobcard.Card, g distributor.Gear) Item {
	it := Item{
		ID: "gear_drop", Title: "Where to hold the rotor before the drop", Unit: "shaft °",
		Formula: "twist = travel ÷ lead × 360, lead = π × pitch diameter ÷ tan(helix angle)",
		Inputs: from(c, "distributor.gear_teeth", c.Distributor.GearTeeth, "distributor.helix_angle",
			c.Distributor.HelixAngle, "distributor.gear_diameter", c.Distributor.GearDiameter,
			"distributor.drop_travel", c.Distributor.DropTravel, "distributor.drop_turn", c.Distributor.DropTurn),
		Ignored: "the rotor lands a tooth away from the mark. The unit has to come out again",
	}
	switch {
	case c.Assumed("distributor.helix_angle"), g.Helix > 0 && (g.Diameter == 0 || c.Distributor.DropTravel == 0):
		it.Value, it.Verdict = math.NaN(), Caution
		it.Text = "watch the rotor as the old unit is lifted out. Note how far it turns, and which way. Hold the " +
			"new rotor that far on. It turns back as it drops"
		it.Because = "helix angle, pitch diameter or drop travel is not on the card. The twist cannot be computed " +
			"without them"
		return it
	case g.Helix == 0:
		it.Value, it.Verdict, it.Text, it.Because = 0, Fine,
			"straight teeth. Hold the rotor on the mark. It does not turn as it drops", "no helix, no twist"
		return it
	}
	twist := g.Twist(c.Distributor.DropTravel)
	it.Value, it.Verdict = round(float64(twist), 2), Fine
	it.Because = "computed for a drop of " + c.Job.Units.Of(c.Distributor.DropTravel) + " in mesh"
	if c.Distributor.DropTurn == 0 {
		it.Verdict = Caution
		it.Text = fmt.Sprintf("hold the rotor %s° before the mark, against the way it turns as it drops. That way "+
			"is the opposite of how the old one turned as it came out", quantity.Number(float64(twist), 1))
		it.Because += ". Which way it turns is not on the card. Watch it as the old unit is lifted out"
		return it
	}
	it.Text = fmt.Sprintf("it turns %s° %s as it drops. Hold it %s° %s of the mark", quantity.Number(float64(twist), 1),
		c.Distributor.DropTurn.FromAbove(), quantity.Number(float64(twist), 1), c.Distributor.DropTurn.Opposite())
	return it
}

func landings(c *jobcard.Card, g distributor.Gear) Item {
	var places []string
	for _, l := range g.Landings(2) {
		places = append(places, quantity.Signed(l.Off, 1)+"°")
	}
	need := g.HousingNeeded()
	it := Item{
		ID: "gear_landings", Title: "Where the rotor can land", Value: round(float64(need), 2), Unit: "shaft °",
		Text: fmt.Sprintf("only every %s°: %s from the mark (ahead in rotor direction is +). The housing takes up "+
			"the rest, at most %s° each way", quantity.Number(float64(g.Step()), 1), strings.Join(places, ", "),
			quantity.Number(float64(need), 1)),
		Formula: "steps of 360 ÷ teeth; the best tooth leaves at most half a step",
		Inputs: from(c, "distributor.gear_teeth", c.Distributor.GearTeeth, "distributor.housing_travel",
			c.Distributor.HousingTravel),
		Verdict: Fine,
		Because: fmt.Sprintf("the housing can turn ± %s°",
			quantity.Number(float64(c.Distributor.HousingTravel), 1)),
		Ignored: "on the wrong tooth the housing runs out of travel before the edge comes",
	}
	if need > c.Distributor.HousingTravel {
		it.Verdict = Caution
		it.Because = fmt.Sprintf("the housing can turn ± %s° only. On an unlucky tooth it runs out before the "+
			"mark. Turn the drive (oil-pump shaft) to find a better tooth",
			quantity.Number(float64(c.Distributor.HousingTravel), 1))
	}
	if c.Distributor.Use == jobcard.SparkAndSignal {
		it.Text += wiresInstead(c, g)
	}
	return it
}

// Oiling is what there is to say of oil on the teeth: its makers know.
const Oiling = "Oil the teeth as the makers of cam and gear say. Will the engine stand before it runs? Then use a " +
	"lubricant that stays on"

// wiresInstead says whether the wires could follow a unit that landed teeth away, and what must follow with them. Every
// turn is tried after which the vane wheel, spaced as the engine fires, stands as before: an uneven cap then meets all
// its towers too, and so does an even one, since what repeats does so after a whole share of the turn. A wheel whose
// vanes differ fits only where it is the same again as far on.
func wiresInstead(c *jobcard.Card, g distributor.Gear) string {
	k, on, ok := g.TowersPerStep(distributor.TowersOf(c.Firings()))
	if !ok || !sameVanesOn(c.Signals.Crank.Vanes, on) {
		return ""
	}
	text := fmt.Sprintf(". %d teeth are exactly %d of the %d towers of the %s cap. The wires could follow", k, on,
		c.Engine.Cylinders, c.Distributor.Cap)
	if c.Signals.Cam.Fitted {
		away := "a firing"
		if on > 1 {
			away = fmt.Sprintf("%d firings", on)
		}
		text += fmt.Sprintf(". But the cam vane then stands %s away, and sync names another cylinder. Do it only "+
			"together with the controller's cam setting. Else lift the unit", away)
	}
	return text
}

func sameVanesOn(vanes []quantity.Shaft, on int) bool {
	for i, w := range vanes {
		if vanes[(i+on)%len(vanes)] != w {
			return false
		}
	}
	return true
}

func material(c *jobcard.Card) Item {
	d := c.Distributor
	verdict, reason := distributor.Pair(d.GearMaterial, d.CamMaterial)
	it := Item{
		ID: "gear_material", Title: "Gear on cam", Value: math.NaN(),
		Text:    fmt.Sprintf("gear of %s, cam of %s", known(d.GearMaterial), known(d.CamMaterial)),
		Because: reason + " (common practice; the cam maker's word wins)",
		Formula: "table of pairs that the trade runs",
		Inputs:  from(c, "distributor.gear_material", d.GearMaterial, "distributor.cam_material", d.CamMaterial),
		Ignored: "the wrong pair eats the gear, then the cam. The swarf goes through the oil",
	}
	switch verdict {
	case distributor.SuitedPair:
		it.Verdict = Fine
	case distributor.WearingPair:
		it.Verdict = Caution
	default:
		it.Verdict = Stop
	}
	if d.GearTeeth == 0 && c.Assumed("distributor.gear_material") {
		it.Verdict, it.Text, it.Because = Fine, "no gear of its own", "a tongue drives the unit"
	}
	it.Text += ". " + Oiling
	return it
}

func seat(c *jobcard.Card) Item {
	d := c.Distributor
	st, err := distributor.Seat{Gap: d.SeatGap, EndPlay: d.EndPlay, Thickness: d.ShimThickness,
		Engagement: d.GearEngagement}.Shims()
	it := Item{
		ID: "seat", Title: "Seat height", Value: float64(st.Count), Unit: "shims", Verdict: Fine,
		Formula: "shims = (gap + wanted end play) ÷ compressed thickness, rounded up",
		Inputs: from(c, "distributor.seat_gap", d.SeatGap, "distributor.end_play", d.EndPlay,
			"distributor.shim_thickness", d.ShimThickness, "distributor.gear_engagement", d.GearEngagement),
		Ignored: "do not pull a shaft down by the clamp while it stands on the bottom. That loads the drive and " +
			"wears it out in hours",
	}
	switch {
	case errors.Is(err, distributor.ErrEngagement):
		it.Text = fmt.Sprintf("%d shims lift the unit %s. The gear may rise %s only: %v", st.Count,
			c.Job.Units.Tool(st.Height, -1), c.Job.Units.Tool(d.GearEngagement, -1), distributor.ErrEngagement)
		it.Verdict = Stop
		it.Because = "do not fit it like this. Have the seat or the drive machined, or take another unit"
	case err != nil:
		it.Verdict, it.Text, it.Because = Stop, err.Error(), "the stack cannot be worked out"
	case st.Count == 0 && c.Assumed("distributor.seat_gap"):
		it.Verdict, it.Text, it.Because = Caution, "try it dry, without the clamp. The flange must seat by the "+
			"unit's own weight", "no dry fit is on the card. A decked block or a milled head lowers the seat. "+
			"Write distributor.seat_gap"
	case st.Count == 0:
		it.Text, it.Because = "the flange seats in the dry fit. No shims are needed", "no gap was found"
	default:
		it.Verdict, it.Because = Caution, "the shaft stands on the bottom before the flange seats. Never pull it "+
			"down with the clamp"
		it.Text = shims(c.Job.Units, st)
		if d.GearEngagement == 0 {
			it.Because += ". The card does not say how far the gears may be lifted apart. Measure the gear " +
				"engagement first"
		}
	}
	return it
}

// known names a material, or that nobody knows it.
func known[T ~string](material T) string {
	if material == "unknown" {
		return "unknown material"
	}
	return string(material)
}

func shims(u quantity.LengthUnit, st distributor.Stack) string {
	lift, play := u.Tool(st.Height, -1), u.Tool(st.EndPlay, -1)
	if st.Count == 1 {
		return fmt.Sprintf("1 shim lifts the unit %s and leaves %s of end play", lift, play)
	}
	return fmt.Sprintf("%d shims lift the unit %s and leave %s of end play", st.Count, lift, play)
}
