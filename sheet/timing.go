package sheet

import (
	"fmt"
	"strings"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/trigger"
)

func timingItems(c *jobcard.Card, s *Sheet) []Item {
	s.Dwell = dwellWindow(c)
	return []Item{lead(c), delay(c), acceleration(c), dwell(c, s.Dwell)}
}

func lead(c *jobcard.Card) Item {
	a, l := c.Controller.Advance, c.Signals.Crank.Lead
	w := trigger.LeadWindow(a.Max, a.Min, c.Spacing(), c.Controller.Guard, c.Engine.Redline, c.Controller.SignalDelay, c.Controller.Latency)
	it := Item{
		ID: "trigger_lead", Title: "Trigger lead " + deg(l), Value: float64(l), Unit: "crank ° BTDC",
		Text:    fmt.Sprintf("may lie from %s to %s: room for %s of advance at %v with %s to spare, and %s from the firing before", deg(w.Least), deg(w.Most), deg(a.Max), c.Engine.Redline, deg(l-w.Least), deg(w.Most-l)),
		Formula: "at least: largest advance + 6 × redline × (signal delay + latency) + guard; at most: smallest spacing + smallest advance − guard",
		Inputs: from(c, "signals.crank.lead", l, "controller.advance.max", a.Max, "controller.advance.min", a.Min, "engine.redline", c.Engine.Redline, "controller.signal_delay", c.Controller.SignalDelay,
			"controller.latency", c.Controller.Latency, "controller.guard", c.Controller.Guard),
		Ignored: "too small, and full advance is clipped at speed; too large, and every change of speed moves the spark more, or it falls into the firing before",
	}
	switch {
	case w.Least >= w.Most:
		it.Verdict, it.Because = Stop, fmt.Sprintf("no lead fits this engine: firings stand %s apart and the advance range with its delays needs %s", deg(c.Spacing()), deg(w.Least-a.Min+c.Controller.Guard))
	case l < w.Least:
		it.Verdict, it.Because = Stop, fmt.Sprintf("%s short at the redline: raise it to %s or more, or lower the largest advance", deg(w.Least-l), deg(w.Least))
	case l >= w.Most:
		it.Verdict, it.Because = Stop, fmt.Sprintf("%s too large: at the smallest advance the spark falls into the firing before", deg(l-w.Most))
	case l-w.Least > 25: // a quarter of a firing on a V8 spent for nothing; common sense, no source
		it.Verdict, it.Because = Caution, fmt.Sprintf("%s more than it needs: a smaller lead holds the spark steadier when speed changes", deg(l-w.Least))
	default:
		it.Verdict, it.Because = Fine, fmt.Sprintf("both limits are kept, the nearer by %s", deg(w.Margin(l)))
	}
	return it
}

func delay(c *jobcard.Card) Item {
	k := c.Controller
	atRedline := c.Engine.Redline.Over(k.SignalDelay)
	halfStep := c.Engine.Redline.Over(k.DelayStep / 2)
	it := Item{
		ID: "delay_at_redline", Title: "Signal delay at the redline", Value: round(float64(atRedline), 3), Unit: "crank °",
		Text:    fmt.Sprintf("%v of delay let the spark fall %s late at %v if nothing is allowed for; the card allows %v, and rounding to whole steps of %v leaves at most %s", k.SignalDelay, deg(atRedline), c.Engine.Redline, k.DelayAllowance, k.DelayStep, quantity.Number(float64(halfStep), 2)+"°"),
		Formula: "6 × rpm × µs ÷ 1 000 000", Inputs: from(c, "controller.signal_delay", k.SignalDelay, "controller.delay_allowance", k.DelayAllowance, "controller.delay_step", k.DelayStep, "engine.redline", c.Engine.Redline),
		Verdict: Fine, Because: "what is left after the allowance is well inside the tolerance; readings at two or more speeds set it",
		Ignored: "timing that is right at idle falls back as speed rises, and power with it",
	}
	if halfStep > c.Tolerance/2 {
		it.Verdict, it.Because = Caution, fmt.Sprintf("half a step alone is %s° at the redline, more than half the tolerance of %s", quantity.Number(float64(halfStep), 2), deg(c.Tolerance))
	}
	return it
}

// sweepRate is the change of speed that the acceleration item is worked out for: a hand on the throttle, not a race.
const sweepRate = 500.0 // rpm/s

func acceleration(c *jobcard.Card) Item {
	law := c.Law()
	a := c.Controller.Advance.Locked
	var parts []string
	speeds := []quantity.Speed{c.Engine.IdleSpeed, (c.Engine.IdleSpeed + c.Engine.Redline) / 2, c.Engine.Redline}
	for _, n := range speeds {
		parts = append(parts, fmt.Sprintf("%s° at %v", quantity.Number(float64(law.UnderAcceleration(a, n, sweepRate)), 2), quantity.Speed(round(float64(n)/50, 0)*50)))
	}
	idle := law.UnderAcceleration(a, c.Engine.IdleSpeed, sweepRate)
	it := Item{
		ID: "acceleration", Title: "While speed rises", Value: round(float64(idle), 3), Unit: "crank ° late",
		Text:    fmt.Sprintf("gaining %.0f rpm a second the spark falls late by %s, and early by as much while speed falls: read the light only at a steady speed", sweepRate, strings.Join(parts, ", ")),
		Formula: "3 × acceleration × wait × (last interval + wait), wait = last interval × (lead − advance) ÷ spacing",
		Inputs:  from(c, "signals.crank.lead", c.Signals.Crank.Lead, "controller.advance.locked", a, "engine.idle_speed", c.Engine.IdleSpeed), Verdict: Fine,
		Because: "nothing is wrong then; the controller plans with the last interval", Ignored: "a reading taken while speed changes is put down to housing or delay and corrected wrongly",
	}
	if idle > c.Tolerance {
		it.Verdict, it.Because = Caution, fmt.Sprintf("at idle that is more than the tolerance of %s: hold the speed before every reading", deg(c.Tolerance))
	}
	return it
}

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

// offTime is the least time between two charges: stated for a coil; a spark box only needs to see its trigger go off, for which a tenth of
// its trigger width is kept (assumed).
func offTime(c *jobcard.Card) quantity.Time {
	if c.Coil.Stated {
		return c.Coil.OffTime
	}
	return c.Ignition.Dwell / 10
}

func dwellWindow(c *jobcard.Card) []Dwell {
	var out []Dwell
	const steps = 12
	for i := range steps + 1 {
		n := c.Engine.CrankingSpeed + (c.Engine.Redline-c.Engine.CrankingSpeed)*quantity.Speed(i)/steps
		p := coilPeriod(c, n)
		out = append(out, Dwell{RPM: round(float64(n), 0), PeriodMS: round(p.Milliseconds(), 4), LargestMS: round(max(0, (p-offTime(c)).Milliseconds()), 4)})
	}
	return out
}

func dwell(c *jobcard.Card, window []Dwell) Item {
	g := c.Ignition
	largest := window[len(window)-1].LargestMS
	fills := c.Engine.Redline * quantity.Speed(coilPeriod(c, c.Engine.Redline)/(g.Dwell+offTime(c))) // the period falls as 1/n
	it := Item{
		ID: "dwell_window", Title: fmt.Sprintf("Dwell %v", g.Dwell), Value: largest, Unit: "ms",
		Text:    fmt.Sprintf("at %v one firing comes every %v; %s ms of dwell fit with the off time of %v. The dwell set would fill the interval at %v", c.Engine.Redline, coilPeriod(c, c.Engine.Redline), quantity.Number(largest, 2), offTime(c), quantity.Speed(round(float64(fills), 0))),
		Formula: "largest dwell = time between firings of one coil − off time; 120 ÷ (cylinders × rpm) seconds for one coil on an even-fire engine",
		Inputs:  from(c, "ignition.dwell", g.Dwell, "ignition.coils", g.Coils, "engine.redline", c.Engine.Redline),
		Verdict: Fine, Because: "it fits with the off time to spare up to the redline",
		Ignored: "a dwell that fills the interval leaves no off time: the coil never lets go and sparks stop, or driver and coil cook",
	}
	if g.Output == jobcard.SparkBox {
		it.Because = "a spark box charges itself: this is only the width of its trigger pulse, 1.8 to 2.0 ms is common practice"
		if g.Dwell < quantity.Milliseconds(1.8) || g.Dwell > quantity.Milliseconds(2.0) {
			it.Verdict, it.Because = Caution, fmt.Sprintf("a trigger pulse of %v is outside the 1.8 to 2.0 ms of common practice: ask the box's maker", g.Dwell)
		}
	}
	if g.Dwell.Milliseconds() > largest {
		it.Verdict, it.Because = Stop, fmt.Sprintf("it does not fit above %v: shorten the dwell, or use more coils", quantity.Speed(round(float64(fills), 0)))
	}
	return it
}
