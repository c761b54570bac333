package sheet

import (
	"fmt"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// compressionItems say how the ratio was worked out, and hold a compression test against it.
func compressionItems(c *jobcard.Card, s *Sheet) []Item {
	var items []Item
	if k, ok := c.Engine.Parts(); ok {
		items = append(items, ratioItem(c, k))
	}
	if pressureTested(c) {
		items = append(items, pressureItem(c))
	}
	return items
}

func ratioItem(c *jobcard.Card, k engine.Chamber) Item {
	e := &c.Engine
	worked := quantity.Number(k.Ratio(), 2) + " ± " + quantity.Number(2*k.RatioU(), 2)
	it := Item{
		ID: "compression_ratio", Title: "Compression ratio", Value: round(k.Ratio(), 3), Unit: "to 1", Verdict: Fine,
		Text: fmt.Sprintf("%s to 1. Swept are %.1f. Left at the top are %.1f, of chamber, gasket, deck, dish and "+
			"dome", worked,
			k.Swept(), k.Clearance()),
		Because: "it is worked out of the parts, and used wherever the ratio counts. ± is twice the standard " +
			"uncertainty",
		Formula: "(swept + left) ÷ left; left = chamber + π ÷ 4 × gasket bore² × thickness + π ÷ 4 × bore² × deck + " +
			"dish − dome",
		Inputs: append(from(c, "engine.bore", e.Bore, "engine.stroke", e.Stroke, "engine.chamber.volume", k.Volume,
			"engine.chamber.gasket_bore", k.GasketBore, "engine.chamber.gasket_thickness", k.GasketThickness,
			"engine.chamber.deck", k.Deck, "engine.chamber.dish", k.Dish, "engine.chamber.dome", k.Dome),
			Input{Path: "limits", Value: jobcard.ChamberLimits, Assumed: true}),
		Ignored: "pressure at the spark, voltage and the light on the starter are then those of another engine",
	}
	switch {
	case e.RatioDisagrees():
		it.Verdict, it.Because = Caution, fmt.Sprintf("the card says %s, which is used. Were the parts measured? "+
			"Then leave engine.compression_ratio out. Else look at the parts", e.Ratio())
	case !e.RatioWorkedOut:
		it.Because = fmt.Sprintf("the card's %s, which is used, agrees with it", e.Ratio())
	}
	return it
}

// pressureItem reads a compression test backwards. A leak lowers the gauge, so that a test which shows too little
// proves nothing against the ratio.
func pressureItem(c *jobcard.Card) Item {
	e := &c.Engine
	p := e.CrankingPressure
	limit := quantity.Gauge(0)
	if p.Stated {
		limit = p.Limit
	}
	low := engine.RatioOfPressure(p.Value-limit, outsideHigh, squeezeHigh, strokeHigh)
	high := engine.RatioOfPressure(p.Value+limit, outsideLow, squeezeLow, strokeLow)
	it := Item{
		ID: "cranking_pressure", Title: "Compression test", Value: round(float64(p.Value)/1e5, 2),
		Unit: "bar above the outside pressure", Verdict: Fine,
		Text: fmt.Sprintf("%v (%s psi) points to a ratio from %s to %s. The ratio used is %s", p.Value,
			quantity.Number(p.Value.PSI(), 0), quantity.Number(low, 1), quantity.Number(high, 1), e.Ratio()),
		Because: "the two agree, as far as a compression test can tell",
		Formula: "1 + (((gauge + outside) ÷ outside)^(1 ÷ n) − 1) ÷ share of the stroke left as the inlet valve closes",
		Inputs:  from(c, "engine.cranking_pressure", p, "engine.compression_ratio", e.Ratio()),
		Ignored: "a wrong ratio shifts pressure and voltage at the spark. A leaking cylinder misfires whatever the " +
			"timing",
	}
	switch {
	case e.CompressionRatio+e.RatioLimit < low:
		it.Verdict, it.Because = Caution, "the test shows more than this ratio can make. Look at the ratio, at the "+
			"gauge, and for oil or carbon in the cylinder"
	case e.CompressionRatio-e.RatioLimit > high:
		it.Verdict, it.Because = Caution, "the test shows less than this ratio makes. Valves, rings or gasket "+
			"leak, the throttle was shut, or the cam closes late. Or the ratio is lower"
	}
	return it
}
