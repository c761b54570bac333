package sheet

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// Dwell is one row of the dwell window.
type Dwell struct {
	RPM       float64 `json:"rpm"`
	PeriodMS  float64 `json:"period_ms"`  // between two firings of one coil
	LargestMS float64 `json:"largest_ms"` // dwell that still leaves the off time
}

// coilPeriod is the shortest time between two firings of one coil at speed n.
func coilPeriod(c *jobcard.Card, n quantity.Speed) quantity.Time {
	switch c.Ignition.Coils {
	case jobcard.CompanionPairs:
		return n.TimeFor(360)
	case jobcard.CoilPerCylinder:
		return n.TimeFor(engine.CycleDegrees)
	}
	return n.TimeFor(c.Spacing())
}

// offInput is the off time as an input of an item, with its range where it is assumed.
func offInput(c *jobcard.Card) []Input {
	off, path, assumed := c.OffTime()
	in := Input{Path: path, Value: spell(c.Job.Units, off), Assumed: assumed}
	if assumed {
		in.Value += " (" + jobcard.Within("coil.off_time") + ")"
	}
	return []Input{in}
}

// dwellInputs is the dwell that the controller holds as an input of an item.
func dwellInputs(c *jobcard.Card) []Input {
	if t := c.Ignition.DwellTable; len(t) > 0 {
		return []Input{{Path: "ignition.dwell_table", Value: rowsOf(t)}}
	}
	return from(c, "ignition.dwell", c.Ignition.Dwell)
}

func dwellWindow(c *jobcard.Card) []Dwell {
	var out []Dwell
	const steps = 12
	off, _, _ := c.OffTime()
	for i := range steps + 1 {
		n := c.Engine.CrankingSpeed + (c.Engine.Redline-c.Engine.CrankingSpeed)*quantity.Speed(i)/steps
		p := coilPeriod(c, n)
		out = append(out, Dwell{RPM: round(float64(n), 0), PeriodMS: round(p.Milliseconds(), 4),
			LargestMS: round(max(0, (p-off).Milliseconds()), 4)})
	}
	return out
}

func dwell(c *jobcard.Card, window []Dwell) Item {
	g, redline := c.Ignition, c.Engine.Redline
	largest := window[len(window)-1].LargestMS
	off, _, offAssumed := c.OffTime()
	period := coilPeriod(c, redline)
	it := Item{
		ID: "dwell_window", Title: "Dwell " + g.DwellText(), Value: largest, Unit: "ms",
		Text: fmt.Sprintf("at %v one firing comes every %v. Beside an off time, %s ms of dwell fit (off time: "+
			"%v)", redline, period,
			quantity.Number(largest, 2), off),
		Formula: "largest dwell = time between firings of one coil − off time. 120 ÷ (cylinders × rpm) seconds for " +
			"one coil on an even-fire engine. Duty = dwell ÷ time between firings",
		Inputs: append(append(dwellInputs(c), from(c, "ignition.coils", g.Coils, "engine.redline", redline)...),
			offInput(c)...),
		Verdict: Fine, Because: "it fits with the off time to spare up to the redline",
		Ignored: "a dwell that fills the interval leaves no off time. The coil never lets go and sparks stop, or " +
			"driver and coil cook",
	}
	if g.Output == jobcard.SparkBox {
		it.Because = "it fits up to the redline. A spark box charges itself: this is only the width of its trigger " +
			"pulse"
	}
	set, given := g.DwellAt(g.Supply).Get()
	if !given {
		it.Verdict, it.Because = Caution, "the dwell is not given. Read it in the controller. Write ignition.dwell"
		return it
	}
	at := func(t quantity.Time) string { // the period falls as 1/n
		return fmt.Sprint(quantity.Speed(round(float64(redline*quantity.Speed(period/t)), 0)))
	}
	it.Text += fmt.Sprintf(". The dwell set leaves the off time up to %s. It fills the whole interval at %s. At "+
		"the redline it takes %s %% of the time (duty)", at(set+off), at(set),
		quantity.Number(100*math.Min(float64(set/period), 1), 0))
	switch {
	case set >= period:
		it.Verdict, it.Because = Stop, fmt.Sprintf("it does not fit above %s, where it fills the interval. Shorten "+
			"it, or use more coils. Some controllers keep an off time by themselves: look in their papers", at(set))
	case set.Milliseconds() > largest && offAssumed:
		it.Verdict, it.Because = Caution, fmt.Sprintf("above %s it leaves less than the off time, which is "+
			"assumed. Find what coil or box need. Or shorten the dwell to "+
			"%s ms", at(set+off), quantity.Number(largest, 2))
	case set.Milliseconds() > largest:
		it.Verdict, it.Because = Stop, fmt.Sprintf("it does not fit above %s beside the off time. Shorten the "+
			"dwell to %s ms, or use more coils", at(set+off), quantity.Number(largest, 2))
	}
	return it
}
