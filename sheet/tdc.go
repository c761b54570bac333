package sheet

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// stopAngle is where a piston stop should touch: far enough down that the piston moves fast, near enough that the marks stay on one side of the damper.
const stopAngle quantity.Crank = 45

func tdcItems(c *jobcard.Card, s *Sheet) []Item {
	mech := c.SliderCrank()
	depth := mech.StopDepth(stopAngle)
	d := engine.Damper{Diameter: c.Damper.Diameter.Value}
	speed := math.Abs(mech.Sensitivity(-stopAngle))
	const shallow quantity.Length = 2
	near, _ := mech.ContactAngle(shallow) // every engine that a card takes has a longer stroke
	stop := Item{
		ID: "piston_stop", Title: "Piston stop for true TDC", Value: round(float64(depth), 2), Unit: "mm",
		Text:    fmt.Sprintf("set it to reach %s mm below the piston's highest place: it touches %s before and after true TDC, where the piston moves %s mm a degree. A stop %v deep would touch at %s already", quantity.Number(float64(depth), 1), deg(stopAngle), quantity.Number(speed, 2), shallow, deg(near)),
		Verdict: Fine, Because: fmt.Sprintf("a tenth of a millimetre at the stop is %s° of crank there, and cancels between the two marks", quantity.Number(0.1/speed, 2)),
		Formula: "slider–crank: depth = r(1 − cos θ) + l(1 − √(1 − (r/l)² sin² θ)), r half the stroke, l the rod",
		Inputs:  from(c, "engine.stroke", c.Engine.Stroke, "engine.rod", c.Engine.Rod, "engine.pin_offset", c.Engine.PinOffset),
		Ignored: "a stop near the top touches where the piston hardly moves and finds TDC to several degrees only; turn by hand only, plug out, power off, or the stop goes through the piston",
	}
	arc := d.Arc(2 * stopAngle)
	halving := Item{
		ID: "true_tdc", Title: "True TDC by halving", Value: round(float64(arc), 1), Unit: "mm",
		Text:    fmt.Sprintf("mark the damper under the pointer where the piston touches turning each way; the marks lie about %s mm apart along the rim; true TDC is midway. The zero mark must stand there: each millimetre beside it is %s° of crank", quantity.Number(float64(arc), 1), quantity.Number(float64(d.AngleOfArc(1)), 2)),
		Formula: "true TDC = the middle of the two contact marks; the zero mark's error is its distance from that middle",
		Inputs:  from(c, "damper.diameter", c.Damper.Diameter, "damper.zero_mark", c.Damper.ZeroMark),
		Verdict: Fine, Because: fmt.Sprintf("the zero mark is stated proven within ± %s", deg(c.Damper.ZeroMark)),
		Ignored: "a damper ring that has slipped shifts every reading of the light by the same angle, and nothing else shows it",
	}
	switch {
	case c.Assumed("damper.zero_mark"):
		halving.Verdict, halving.Because = Caution, fmt.Sprintf("nobody has stated that the zero mark was proven; ± %s is assumed. Prove it, then write damper.zero_mark on the card", deg(c.Damper.ZeroMark))
	case c.Damper.ZeroMark > c.Tolerance/2:
		halving.Verdict, halving.Because = Caution, fmt.Sprintf("± %s takes more than half the tolerance of %s: prove it finer", deg(c.Damper.ZeroMark), deg(c.Tolerance))
	}
	return []Item{stop, halving}
}
