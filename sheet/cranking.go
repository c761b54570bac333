package sheet

import (
	"fmt"
	"math"

	"phasewright/cranking"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// crankingBand is the middle and the half-width of the band that the light on the starter is foreseen in, in the tenths
// that every surface prints: from and to then agree with ±.
func crankingBand(commanded quantity.Crank, b cranking.Bias) (middle, half quantity.Crank) {
	return quantity.Crank(round(float64(commanded+b.Mean), 1)), quantity.Crank(max(round(float64(b.Half), 1), 0.1))
}

// crankingItems predicts what the light shows on the starter: the crank slows and speeds within each firing interval,
// and the controller plans with the mean of the last one.
func crankingItems(c *jobcard.Card, s *Sheet) []Item {
	a, given := c.Controller.Advance.Cranking.Get()
	it := Item{
		ID: "cranking_bias", Title: "Light while cranking", Unit: "crank ° BTDC",
		Formula: "torque balance of compression, inertia, friction and starter through the controller's timing law",
		Inputs: from(c, "controller.advance.cranking", c.Controller.Advance.Cranking, "engine.cranking_speed",
			c.Engine.CrankingSpeed, "engine.inertia", c.Engine.Inertia, "engine.reciprocating_mass",
			c.Engine.ReciprocatingMass, "engine.compression_ratio", c.Engine.Ratio(),
			"engine.inlet_pressure", c.Engine.InletPressure, "engine.bore", c.Engine.Bore, "engine.stroke",
			c.Engine.Stroke, "engine.rod", c.Engine.Rod, "engine.pin_offset", c.Engine.PinOffset,
			"signals.crank.lead", c.Signals.Crank.Lead),
		Ignored: "do not turn the housing until the cranking reading is exact. That builds this error into the " +
			"running engine",
	}
	if !given {
		it.Value, it.Verdict = math.NaN(), Caution
		it.Text = "cannot be told. The advance that the controller commands on the starter is not given"
		it.Because = "read it in the controller. Write controller.advance.cranking. Until then do not turn the " +
			"housing for a cranking reading"
		return []Item{it}
	}
	bias, err := cranking.FromCard(c, a).Bias(cranking.SpreadOf(c))
	if err != nil {
		it.Value, it.Verdict = math.NaN(), Caution
		it.Text, it.Because = "cannot be predicted: "+err.Error(),
			"look at cranking speed, inertia and compression on the card. Until then do not turn the housing for a "+
				"cranking reading"
		return []Item{it}
	}
	shown := a + bias.Best
	middle, half := crankingBand(a, bias)
	it.Value = round(float64(shown), 2)
	it.Text = fmt.Sprintf("expect %s, or anything from %s to %s, for a commanded %s. Do not turn the housing for it",
		deg(shown), deg(middle-half), deg(middle+half), deg(a))
	it.Because = fmt.Sprintf("compression slows and speeds the crankshaft between edges. That moves the spark by "+
		"%+.1f. Nine in ten engines lie in the band, for inertia, friction, speed, compression and blow-by that "+
		"nobody measured", bias.Best)
	it.Verdict = Fine
	if quantity.Abs(bias.Mean)+bias.Half > c.Tolerance {
		it.Verdict = Caution
	}
	s.cranking = &bias
	return []Item{it}
}
