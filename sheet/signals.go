package sheet

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/trigger"
)

func signalItems(c *jobcard.Card, s *Sheet) []Item {
	return []Item{activeEdge(c), phasing(c), vanes(c), cam(c), rate(c)}
}

func activeEdge(c *jobcard.Card) Item {
	p := c.Signals.Crank
	w := c.Wheel()
	wrong := trigger.WrongEdge(p.VaneWidth, w.Active)
	word := "early"
	if wrong < 0 {
		word = "late"
	}
	it := Item{
		ID: "active_edge", Title: "Active edge", Value: float64(wrong), Unit: "crank °", Verdict: Fine,
		Text: fmt.Sprintf("%s: the edge as the vane is %s the pickup. The other edge would put every spark %s %s",
			p.ActiveEdge, w.Active, deg(quantity.Abs(wrong)), word),
		Because: "it is set in the controller. The lamp proves it while the housing is phased",
		Formula: "2 × vane width, since one shaft degree is two of the crank",
		Inputs: from(c, "signals.crank.active_edge", p.ActiveEdge, "signals.crank.in_vane", p.InVane,
			"signals.crank.vane_width", p.VaneWidth),
		Ignored: "the error is constant and too large for the housing, or the engine kicks",
	}
	if p.Kind == jobcard.Reluctor {
		it.Text += ". A variable-reluctance pickup gives its time at the zero crossing after the large swing. Mind " +
			"its two wires"
		it.Because = "reversed wires move the timing and let it drift with speed. Look at the signal on a scope"
		it.Verdict = Caution
	}
	return it
}

// phasing says what to look for on the lamp while the housing is turned with the engine standing at the trigger lead.
func phasing(c *jobcard.Card) Item {
	p := c.Signals.Crank
	before, after := jobcard.Low, jobcard.High
	if p.ActiveEdge == jobcard.Falling {
		before, after = after, before
	}
	it := Item{
		ID: "phasing", Title: "Phasing the housing", Value: float64(p.Lead), Unit: "crank ° BTDC", Verdict: Fine,
		Text: fmt.Sprintf("bring the engine to %s BTDC on cylinder %d's compression stroke, in running direction "+
			"only. The crank signal must change from %s to %s just as the housing comes to its place. Turn the "+
			"housing against the rotor (%s). Begin further with the rotor than a vane is wide",
			deg(p.Lead), c.Engine.FiringOrder[0], before, after, c.Distributor.Rotation.Opposite().FromAbove()),
		Because: "turned against the rotor, the housing meets the edges as on a running engine. The slack of the " +
			"drive lies on the same side",
		Formula: "the active edge must arrive exactly at the trigger lead",
		Inputs: from(c, "signals.crank.lead", p.Lead, "signals.crank.active_edge", p.ActiveEdge,
			"distributor.rotation", c.Distributor.Rotation.FromAbove()),
		Ignored: "the whole timing is off by twice the housing's error, at every speed",
	}
	if p.Kind == jobcard.Reluctor {
		it.Verdict = Caution
		it.Text = fmt.Sprintf("a variable-reluctance pickup gives no signal at standstill. Line up reluctor tip "+
			"and pole piece by eye at %s BTDC on cylinder %d's compression stroke. Then read base timing while "+
			"cranking",
			deg(p.Lead), c.Engine.FiringOrder[0])
		it.Because = "there is no lamp to set it by"
	}
	return it
}

func vanes(c *jobcard.Card) Item {
	w := c.Wheel()
	least := quantity.Crank(math.Inf(1))
	narrow := quantity.Shaft(math.Inf(1))
	for i := range w.Widths {
		least, narrow = min(least, w.Window(i)), min(narrow, w.Widths[i])
	}
	vane := engine.ShaftToCrank(narrow)
	it := Item{
		ID: "vanes", Title: "Vanes and gaps", Value: float64(min(least, vane)), Unit: "crank °", Verdict: Fine,
		Text: fmt.Sprintf("the narrowest vane is %s of the crankshaft, the narrowest gap %s. At %v they pass in %v "+
			"and %v",
			deg(vane), deg(least), c.Engine.Redline, c.Engine.Redline.TimeFor(vane), c.Engine.Redline.TimeFor(least)),
		Because: "every pulse is long enough to be seen at the redline", Formula: "gap = firing interval − 2 × vane " +
			"width; time = degrees ÷ (6 × rpm)",
		Inputs: from(c, "signals.crank.vane_width", c.Signals.Crank.VaneWidth, "signals.crank.vanes",
			c.Signals.Crank.Vanes, "engine.redline", c.Engine.Redline),
		Ignored: "a pulse too short for pickup or controller is lost at speed. The sync is lost with it",
	}
	if shortest := c.Engine.Redline.TimeFor(min(least, vane)); shortest < shortPulse {
		it.Verdict, it.Because = Caution, fmt.Sprintf(
			"the shortest pulse lasts %v at the redline. Ask the makers of pickup and controller whether they "+
				"follow",
			shortest)
	}
	return it
}

func cam(c *jobcard.Card) Item {
	p := c.Signals.Cam
	it := Item{ID: "cam_window", Title: "Cam edge", Unit: "crank °",
		Formula: "way from the cam's active edge to the nearest active crank edge",
		Inputs: from(c, "signals.cam.kind", p.Kind, "signals.cam.edge_at", p.EdgeAt, "signals.cam.vane_width",
			p.VaneWidth),
		Ignored: "wear or backlash moves a cam edge across a crank edge. Every spark then goes to the next cylinder"}
	if !p.Fitted {
		it.Value, it.Verdict = math.NaN(), Fine
		it.Text, it.Because = "no cam pickup. The controller cannot tell compression from exhaust stroke",
			"the rotor tells the cylinders apart"
		switch {
		case c.Engine.Cylinders == 1:
			it.Because = "a single cylinder may spark on both strokes. The spark on exhaust is wasted"
		case c.Distributor.Use == jobcard.SignalOnly && c.Ignition.Coils == jobcard.CoilPerCylinder:
			it.Verdict, it.Because = Stop, "coils per cylinder cannot be told apart without a cam signal. Fit a "+
				"cam pickup, or use companion pairs"
		}
		return it
	}
	w := c.Wheel()
	active := engine.BeforeTDC(p.EdgeAt)
	width := engine.ShaftToCrank(p.VaneWidth)
	other := active.Add(width)
	if trigger.ActiveSide(p.InVane == jobcard.High, p.ActiveEdge == jobcard.Rising) == trigger.Leaving {
		other = active.Add(-width)
	}
	margin, otherMargin := w.CamMargin(active), w.CamMargin(other)
	it.Value = round(float64(margin), 3)
	it.Text = fmt.Sprintf("%s edge at %s BTDC of cylinder %d. It stands %s from the nearest crank edge. Its other "+
		"edge would have %s", p.ActiveEdge, deg(p.EdgeAt), c.Engine.FiringOrder[0], deg(margin), deg(otherMargin))
	it.Verdict, it.Because = Fine, "wear and backlash do not reach that far"
	switch {
	case margin < camLeast:
		it.Verdict, it.Because = Stop, fmt.Sprintf("less than %s is within the play of a sound drive", deg(camLeast))
	case margin < camComfort:
		it.Verdict, it.Because = Caution, fmt.Sprintf("less than %s leaves little for wear and backlash",
			deg(camComfort))
	}
	if it.Verdict != Fine && otherMargin > margin+camLeast {
		it.Because += fmt.Sprintf(". The other edge is the safer one (%s)", deg(otherMargin))
	}
	if c.Assumed("signals.cam.edge_at") {
		it.Because += ". Nobody stated where the edge falls. Midway between two crank edges is assumed. Record it " +
			"with a scope"
	}
	return it
}

func rate(c *jobcard.Card) Item {
	n := c.Engine.Cylinders
	slow, fast := trigger.Rate(n, c.Engine.CrankingSpeed), trigger.Rate(n, c.Engine.Redline)
	least, most := math.Inf(1), 0.0
	for i := range n {
		gap := c.Engine.Redline.TimeFor(c.Firings().Before(i)).Milliseconds()
		least, most = min(least, gap), max(most, gap)
	}
	return Item{
		ID: "signal_rate", Title: "Signal rate", Value: round(fast, 3), Unit: "Hz", Verdict: Fine,
		Text: fmt.Sprintf("%s active edges a second while cranking at %v. %s at %v: one every %s ms. The cam gives "+
			"%s and %s", quantity.Number(slow, 1), c.Engine.CrankingSpeed, quantity.Number(fast, 1), c.Engine.Redline,
			span(least, most, 3), quantity.Number(trigger.Rate(1, c.Engine.CrankingSpeed), 2),
			quantity.Number(trigger.Rate(1, c.Engine.Redline), 1)),
		Because: "a frequency meter or scope on the wire must show this", Formula: "cylinders × rpm ÷ 120",
		Inputs: from(c, "engine.cylinders", n, "engine.cranking_speed", c.Engine.CrankingSpeed, "engine.redline",
			c.Engine.Redline),
		Ignored: "half or twice the rate means swapped cables or the wrong number of vanes",
	}
}
