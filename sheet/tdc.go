package sheet

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/readings"
)

func tdcItems(c *jobcard.Card, s *Sheet) []Item {
	mech := c.SliderCrank()
	depth := mech.StopDepth(stopAngle)
	d := engine.Damper{Diameter: c.Damper.Diameter.Value}
	speed := quantity.Length(math.Abs(mech.Sensitivity(-stopAngle))) // a degree
	u := c.Job.Units
	slip, off := "a tenth of a millimetre", quantity.Length(0.1)
	beside, away := "millimetre", quantity.Length(1)
	if u == quantity.Inch {
		slip, off, beside, away = "five thou", 0.005*25.4, "1/32 in", 25.4/32
	}
	const shallow quantity.Length = 2
	near, _ := mech.ContactAngle(shallow) // every engine that a card takes has a longer stroke
	stop := Item{
		ID: "piston_stop", Title: "Piston stop for true TDC", Value: round(float64(depth), 2), Unit: "mm",
		Text: fmt.Sprintf("set it to reach %s below the piston's highest place. It touches %s before and after "+
			"true TDC, where the piston moves %s a degree. A stop %s deep would touch at %s already",
			u.Tool(depth, 1), deg(stopAngle), u.Fixed(speed, 2), u.Of(shallow), deg(near)),
		Verdict: Fine,
		Because: fmt.Sprintf("%s at the stop is %s° of the crankshaft there. It cancels between the two marks", slip,
			quantity.Number(float64(off/speed), 2)),
		Formula: "slider–crank: depth = r(1 − cos θ) + l(1 − √(1 − (r/l)² sin² θ)), r half the stroke, l the rod",
		Inputs: from(c, "engine.stroke", c.Engine.Stroke, "engine.rod", c.Engine.Rod, "engine.pin_offset",
			c.Engine.PinOffset),
		Ignored: "a stop near the top touches where the piston hardly moves. It finds TDC to several degrees only. " +
			"Turn by hand only, plug out, power off. Else the stop goes through the piston",
	}
	arc := d.Arc(2 * stopAngle)
	halving := Item{
		ID: "true_tdc", Title: "True TDC by halving", Value: round(float64(arc), 1), Unit: "mm",
		Text: fmt.Sprintf("mark the damper under the pointer where the piston touches, turning each way. The marks "+
			"lie about %s apart along the rim. True TDC is midway. The zero mark must stand there. Each %s beside "+
			"it is %s° of the crankshaft", u.Tool(arc, 1), beside, quantity.Number(float64(d.AngleOfArc(away)), 2)),
		Formula: "true TDC = the middle of the two contact marks; the zero mark's error is its " +
			"distance from that middle",
		Inputs:  from(c, "damper.diameter", c.Damper.Diameter, "damper.zero_mark", c.Damper.ZeroMark),
		Verdict: Fine, Because: fmt.Sprintf("the zero mark is stated proven within ± %s", deg(c.Damper.ZeroMark)),
		Ignored: "a damper ring that has slipped shifts every reading of the light by the same angle. Nothing else " +
			"shows it",
	}
	switch {
	case c.Assumed("damper.zero_mark"):
		halving.Verdict, halving.Because = Caution,
			fmt.Sprintf("nobody has stated that the zero mark was proven. ± %s is assumed. Prove it. Then write "+
				"damper.zero_mark on the card", deg(c.Damper.ZeroMark))
	case c.Damper.ZeroMark > halfTolerance*c.Tolerance:
		halving.Verdict, halving.Because = Caution,
			fmt.Sprintf("± %s takes more than half the tolerance of %s. Prove it finer", deg(c.Damper.ZeroMark),
				deg(c.Tolerance))
	}
	return []Item{stop, halving, provable(c)}
}

// provable says at the card what of the tolerance is spent before the first reading.
func provable(c *jobcard.Card) Item {
	least := quantity.Crank(readings.FromCard(c).LeastU())
	finer := *c
	finer.Damper.ZeroMark = min(provenMark, c.Damper.ZeroMark)
	best := quantity.Crank(readings.FromCard(&finer).LeastU())
	two := func(a quantity.Crank) string { return quantity.Number(float64(a), 2) + "°" }
	it := Item{
		ID: "provable", Title: "What readings can show", Value: round(float64(least), 3), Unit: "crank °, at best",
		Text: fmt.Sprintf("marks, zero mark and pointer leave ± %s of the tolerance of ± %s, however many readings "+
			"are taken", two(least), two(c.Tolerance)),
		Formula: "1.96 × √(Σ limit² ÷ 3) over mark placement, zero mark and parallax at the pointer",
		Inputs: from(c, "damper.zero_mark", c.Damper.ZeroMark, "damper.mark_placement", c.Damper.MarkPlacement,
			"damper.diameter", c.Damper.Diameter, "tolerance", c.Tolerance),
		Verdict: Fine, Because: fmt.Sprintf("an engine that is right to %s can be shown to be", two(c.Tolerance-least)),
		Ignored: "reading after reading is taken, and the proof stays open",
	}
	with := fmt.Sprintf("With the zero mark proven to ± %s by a piston stop it would be ± %s", two(provenMark),
		two(best))
	switch {
	case least >= c.Tolerance:
		it.Verdict, it.Because = Caution, "no number of readings can show this tolerance. "+with+". Else mark more "+
			"finely, or state the tolerance that the job needs"
	case least > mostSpent*c.Tolerance:
		it.Verdict, it.Because = Caution, fmt.Sprintf("only an engine that is right to %s can be shown to be. %s",
			two(c.Tolerance-least), with)
	}
	return it
}
