package sheet

import (
	"fmt"
	"math"
	"strings"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/trigger"
	"phasewright/words"
)

func timingItems(c *jobcard.Card, s *Sheet) []Item {
	s.Dwell = dwellWindow(c)
	items := []Item{lead(c), delay(c), acceleration(c), dwell(c, s.Dwell)}
	if it, open := openSettings(c); open {
		items = append(items, it)
	}
	return items
}

// openSettings names what belongs to the controller, or to the maker of a spark box, and is not on the card: with what
// cannot be told without it, or with what is taken for it until somebody reads it.
func openSettings(c *jobcard.Card) (Item, bool) {
	k, pulse := c.Controller, c.Ignition.BoxPulse
	boxed := c.Ignition.Output == jobcard.SparkBox
	var names, taken []string
	var in []Input
	for _, x := range []struct {
		path, name, lost string
		given            bool
	}{
		{"controller.advance.cranking", "advance on the starter", "what the light must show there",
			k.Advance.Cranking.Given()},
		{"controller.advance.locked", "locked advance", "what the light must show from idle to redline",
			k.Advance.Locked.Given()},
		{"controller.delay_allowance", "delay allowance", "what it must be set to", k.DelayAllowance.Given()},
		{"controller.delay_step", "step of the allowance", "what rounding to it leaves", k.DelayStep.Given()},
		{"ignition.dwell", "dwell", "whether it fits and charges the coil",
			c.Ignition.DwellAt(c.Ignition.Supply).Given()},
		{"ignition.box_pulse_least", "the box maker's narrowest pulse", "whether the box answers to the pulse",
			!boxed || pulse.Least.Given()},
		{"ignition.box_pulse_most", "the box maker's widest pulse", "whether the box stands the pulse",
			!boxed || pulse.Most.Given()},
		{"ignition.box_pulse_rest", "the box maker's least pause", "up to which speed the pulses fit",
			!boxed || pulse.Rest.Given()},
	} {
		if !x.given {
			names = append(names, fmt.Sprintf("%s: without it nobody can tell %s", words.Capital(x.name), x.lost))
			in = append(in, from(c, x.path, jobcard.NotGiven)...)
		}
	}
	for _, x := range []struct {
		path, name, rests string
		value             any
		matters           bool
	}{
		{"controller.advance.min", "smallest advance", "the largest lead, the rotor's sweep and the densest charge",
			k.Advance.Min, true},
		{"controller.latency", "latency", "the smallest lead", k.Latency, true},
		{"signals.cam.active_edge", "cam edge that the controller acts on", "the margin of the cam edge",
			c.Signals.Cam.ActiveEdge, c.Signals.Cam.Fitted},
	} {
		if x.matters && c.Assumed(x.path) {
			stand := from(c, x.path, x.value)
			taken = append(taken, fmt.Sprintf("%s: %s, assumed. On it "+
				"rest %s", words.Capital(x.name), stand[0].Value, x.rests))
			in = append(in, stand...)
		}
	}
	it := Item{
		ID: "open_settings", Title: fmt.Sprintf("To be read in the controller: %d", len(names)+len(taken)),
		Value: float64(len(names)), Unit: "not given", Verdict: Caution,
		Because: "Every controller has its own. Read these in yours. Write them on the card",
		Formula: "none: these belong to the controller", Inputs: in,
		Ignored: "nothing can be compared with the light. No correction can be given in the controller's numbers",
	}
	var parts []string
	if len(names) > 0 {
		parts = append(parts, "Not on the card. Read in your controller. "+strings.Join(names, ". "))
	}
	if len(taken) > 0 {
		parts = append(parts, "Assumed until you read it. "+strings.Join(taken, ". "))
	}
	if len(names) == 0 {
		it.Ignored = "what rests on them is judged for another controller"
	}
	it.Text = strings.Join(parts, ". ")
	return it, len(parts) > 0
}

func lead(c *jobcard.Card) Item {
	a, l := c.Controller.Advance, c.Signals.Crank.Lead
	k := c.Controller
	window := func(delay, latency quantity.Time) trigger.Window {
		return trigger.LeadWindow(a.Max, a.Min, c.Spacing(), k.Guard, c.Engine.Redline, delay, latency)
	}
	w, best := window(k.SignalDelay.High, k.Latency.High), window(k.SignalDelay.Low, k.Latency.Low)
	it := Item{
		ID: "trigger_lead", Title: "Trigger lead " + deg(l), Value: float64(l), Unit: "crank ° BTDC",
		Text: fmt.Sprintf("it may lie from %s to %s. That leaves room for %s of advance at %v, with %s to spare. "+
			"The firing before is %s away", deg(w.Least), deg(w.Most), deg(a.Max), c.Engine.Redline, deg(l-w.Least),
			deg(w.Most-l)),
		Formula: "at least: largest advance + 6 × redline × (signal delay + latency) + guard; at most: smallest " +
			"spacing + smallest advance − guard",
		Inputs: from(c, "signals.crank.lead", l, "controller.advance.max", a.Max, "controller.advance.min", a.Min,
			"engine.redline", c.Engine.Redline, "controller.signal_delay", k.SignalDelay,
			"controller.latency", k.Latency, "controller.guard", k.Guard),
		Ignored: "if it is too small, full advance is cut off at speed. If it is too large, every change of speed " +
			"moves the spark more. Or the spark falls into the firing before",
	}
	fits := c.Engine.Redline.TimeFor(l - a.Max - k.Guard) // delay and latency together
	if w.Least > best.Least {
		it.Text += fmt.Sprintf(". Delay and latency are counted at their longest. Together up to %v would fit",
			quantity.Time(round(float64(fits), 0)))
	}
	switch {
	case best.Least >= best.Most:
		it.Verdict, it.Because = Stop, fmt.Sprintf("no lead fits this engine. Firings stand %s apart. The advance "+
			"range with its delays needs %s", deg(c.Spacing()), deg(best.Least-a.Min+k.Guard))
	case l < best.Least:
		it.Verdict, it.Because = Stop, fmt.Sprintf(
			"%s short at the redline. Raise it to %s or more. Or lower the largest advance", deg(best.Least-l),
			deg(best.Least))
	case l >= w.Most:
		it.Verdict, it.Because = Stop, fmt.Sprintf(
			"%s too large. At the smallest advance the spark falls into the firing before", deg(l-w.Most))
	case l < w.Least:
		it.Verdict, it.Because = Caution, fmt.Sprintf(
			"it holds only while signal delay and latency together stay below %v. Find the controller's latency. "+
				"Find the delay from readings. Or raise the lead to %s", quantity.Time(round(float64(fits), 0)),
			deg(w.Least))
	case l-w.Least > muchLead:
		it.Verdict, it.Because = Caution, fmt.Sprintf(
			"%s more than it needs. A smaller lead holds the spark steadier when speed changes", deg(l-w.Least))
	default:
		it.Verdict, it.Because = Fine, fmt.Sprintf("both limits are kept, the nearer by %s", deg(w.Margin(l)))
	}
	return it
}

func delay(c *jobcard.Card) Item {
	k := c.Controller
	n := c.Engine.Redline
	late := deg(n.Over(k.SignalDelay.High))
	if k.SignalDelay.Wide() {
		late = deg(n.Over(k.SignalDelay.Low)) + " to " + late
	}
	it := Item{
		ID: "delay_at_redline", Title: "Signal delay at the redline",
		Value: round(float64(n.Over(k.SignalDelay.High)), 3), Unit: "crank °",
		Text: fmt.Sprintf("a delay of %v lets the spark fall %s late at %v, if nothing is allowed for", k.SignalDelay,
			late, n),
		Formula: "6 × rpm × µs ÷ 1 000 000",
		Inputs: from(c, "controller.signal_delay", k.SignalDelay, "controller.delay_allowance", k.DelayAllowance,
			"controller.delay_step", k.DelayStep, "engine.redline", c.Engine.Redline),
		Verdict: Fine,
		Because: "what is left after the allowance is well inside the tolerance. Readings at two or more speeds " +
			"set it",
		Ignored: "timing that is right at idle falls back as speed rises. Power falls with it",
	}
	if allowance, given := k.DelayAllowance.Get(); given {
		it.Text += fmt.Sprintf(". The controller allows %v", allowance)
	} else {
		it.Verdict, it.Because = Caution, "the present allowance is not given. Read the delay allowance in the "+
			"controller"
	}
	step, given := k.DelayStep.Get()
	halfStep := n.Over(step / 2)
	if given {
		it.Text += fmt.Sprintf(". Rounding to whole steps of %v leaves at most %s°", step,
			quantity.Number(float64(halfStep), 2))
	}
	if halfStep > halfTolerance*c.Tolerance {
		it.Verdict, it.Because = Caution, fmt.Sprintf(
			"half a step alone is %s° at the redline. That is more than half the tolerance of %s",
			quantity.Number(float64(halfStep), 2), deg(c.Tolerance))
	}
	return it
}

// acceleration is how late the spark falls while speed rises. The controller plans with the interval before the edge,
// which on an odd-fire engine differs from cylinder to cylinder.
func acceleration(c *jobcard.Card) Item {
	a, given := c.Controller.Advance.Locked.Get()
	commanded := from(c, "controller.advance.locked", a)
	if !given { // the longest wait is the worst
		a = c.Controller.Advance.Min
		commanded = from(c, "controller.advance.min", a)
	}
	late := func(n quantity.Speed) (least, most quantity.Crank) {
		least = quantity.Crank(math.Inf(1))
		for i := range c.Engine.Cylinders {
			law := trigger.Law{Lead: c.Signals.Crank.Lead, Spacing: c.Firings().Before(i)}
			by := law.UnderAcceleration(a, n, sweepRate)
			least, most = min(least, by), max(most, by)
		}
		return least, most
	}
	var parts []string
	speeds := []quantity.Speed{c.Engine.IdleSpeed, (c.Engine.IdleSpeed + c.Engine.Redline) / 2, c.Engine.Redline}
	for _, n := range speeds {
		least, most := late(n)
		parts = append(parts, fmt.Sprintf("%s° at %v", span(float64(least), float64(most), 2),
			quantity.Speed(round(float64(n)/50, 0)*50)))
	}
	_, most := late(c.Engine.IdleSpeed)
	it := Item{
		ID: "acceleration", Title: "While speed rises", Value: round(float64(most), 3), Unit: "crank ° late",
		Text: fmt.Sprintf("the spark falls late while speed rises. At %.0f rpm a second: %s. It falls early by as "+
			"much while speed falls. Read the light only at a steady speed", sweepRate, strings.Join(parts, ", ")),
		Formula: "3 × acceleration × wait × (last interval + wait), wait = last interval × (lead − advance) ÷ spacing",
		Inputs: append(from(c, "signals.crank.lead", c.Signals.Crank.Lead, "engine.idle_speed", c.Engine.IdleSpeed),
			commanded...), Verdict: Fine,
		Because: "nothing is wrong then. The controller plans with the last interval",
		Ignored: "a reading taken while speed changes looks like a fault of housing or delay. It is then corrected " +
			"wrongly",
	}
	if !c.EvenFire() {
		it.Text += ". Two figures are the least and the most of the cylinders, which fire unevenly"
	}
	if most > c.Tolerance {
		it.Verdict, it.Because = Caution, fmt.Sprintf(
			"at idle that is more than the tolerance of %s. Hold the speed before every reading", deg(c.Tolerance))
	}
	return it
}

// span prints one figure, or from to where the two ends differ as printed.
func span(least, most float64, decimals int) string {
	a, b := quantity.Number(least, decimals), quantity.Number(most, decimals)
	if a == b {
		return a
	}
	return a + " to " + b
}
