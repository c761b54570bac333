package sheet

import (
	"fmt"
	"math"

	"phasewright/distributor"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// besides says where the tip stands against the towers of an even cap on an odd-fire engine, beside where it stands
// against the first one: the middle of all, and how far from it they lie. Both are nought where the cap fits.
func besides(c *jobcard.Card) (middle, half quantity.Shaft) {
	if c.Distributor.Cap != jobcard.EvenCap || c.EvenFire() {
		return 0, 0
	}
	var turned, least, most quantity.Shaft
	for i, gap := range distributor.TowersOf(c.Firings()) {
		off := turned - quantity.Shaft(360*float64(i)/float64(c.Engine.Cylinders))
		least, most = min(least, off), max(most, off)
		turned += gap
	}
	return (least + most) / 2, (most - least) / 2
}

// rotorOf is the rotor and cap of a card whose distributor steers the spark. On an even cap that does not fit an
// odd-fire engine the tip stands elsewhere at each tower, which counts as play.
func rotorOf(c *jobcard.Card) distributor.Rotor {
	d := c.Distributor
	towers := distributor.TowersOf(c.Firings())
	if d.Cap == jobcard.EvenCap {
		towers = distributor.EvenTowers(c.Engine.Cylinders)
	}
	middle, half := besides(c)
	return distributor.Rotor{Radius: d.Radius, Tip: d.RotorTip, Terminal: d.Terminal, AirGap: d.AirGap,
		Towers: towers, AtEdge: d.RotorOffset + middle, Play: d.RotorPlay + half}
}

// place says where a tip stands, in words.
func place(a quantity.Shaft) string {
	switch {
	case a < -0.05:
		return deg(-a) + " short of the terminal"
	case a > 0.05:
		return deg(a) + " past the terminal"
	}
	return "on the terminal"
}

// TipPlace says where a rotor's tip stands against its terminal, in words.
func TipPlace(a quantity.Shaft) string { return place(a) }

// RotorSeen is what the light on the starter must show of the rotor.
type RotorSeen struct {
	Shown quantity.Crank // what the damper shows then, BTDC
	Tip   quantity.Shaft // from the terminal, ahead in rotor direction
	Half  quantity.Shaft // that the unsteady crank and the rotor's play leave, either way
}

// RotorOnStarter is where the tip stands as the spark jumps on the starter: where it is at the active edge, and
// (lead − advance shown) ÷ 2 shaft degrees on. ok is false where no rotor carries the spark, or nothing is foreseen.
func (s *Sheet) RotorOnStarter(c *jobcard.Card) (seen RotorSeen, ok bool) {
	if c.Distributor.Use == jobcard.SignalOnly {
		return seen, false
	}
	r := rotorOf(c)
	for _, e := range s.Expect {
		if e.RPM == float64(c.Engine.CrankingSpeed) && e.Band > 0 && r.Check() == nil {
			seen.Shown = quantity.Crank(e.Shown)
			seen.Tip = r.AtEdge + engine.CrankToShaft(c.Signals.Crank.Lead-seen.Shown)
			seen.Half = engine.CrankToShaft(quantity.Crank(e.Band)) + r.Play
			return seen, true
		}
	}
	return seen, false
}

// rotorItems are sweep, centring, crossfire and what corrections do; none where no rotor carries the spark.
func rotorItems(c *jobcard.Card, _ *Sheet) []Item {
	if c.Distributor.Use == jobcard.SignalOnly {
		return nil
	}
	r := rotorOf(c)
	if err := r.Check(); err != nil {
		return []Item{unusable("rotor_sweep", "Rotor and cap", err)}
	}
	k := c.Controller
	s := distributor.Sparks{Lead: c.Signals.Crank.Lead, Latest: k.Advance.Min, Earliest: k.Advance.Max,
		NetDelay: netDelay(c)}
	w := r.Sweep(s, c.Engine.Redline)
	if slow := r.Sweep(s, c.Engine.IdleSpeed); slow.InHand < w.InHand { // a net delay moves the tip with speed
		w = slow
	}
	return []Item{sweepItem(c, r, w), centreItem(c, r, s), crossfireItem(c), correctionItem(c)}
}

func rotorInputs(c *jobcard.Card) []Input {
	d := c.Distributor
	return from(c, "distributor.rotor_offset", d.RotorOffset, "distributor.rotor_tip", d.RotorTip,
		"distributor.terminal", d.Terminal, "distributor.radius", d.Radius, "distributor.air_gap", d.AirGap,
		"distributor.rotor_play", d.RotorPlay, "distributor.cap", string(d.Cap),
		"signals.crank.lead", c.Signals.Crank.Lead, "controller.advance.min", c.Controller.Advance.Min,
		"controller.advance.max", c.Controller.Advance.Max)
}

// parted judges a tip that leaves its terminal by the gap that opens.
func parted(r distributor.Rotor, gap quantity.Length) Verdict {
	if gap > partedGap*r.AirGap {
		return Stop
	}
	return Caution
}

func sweepItem(c *jobcard.Card, r distributor.Rotor, w distributor.Sweep) Item {
	it := Item{
		ID: "rotor_sweep", Title: "Rotor over the advance range", Value: round(float64(w.Overlap), 3),
		Unit: "mm of overlap, least",
		Text: fmt.Sprintf("%s at %s BTDC, %s at %s. The tip sweeps %s of the shaft. Tip and terminal face each "+
			"other over %s at least. They part %s further on (shaft degrees, ± %s of play counted in)",
			place(w.Earliest.Tip), deg(c.Controller.Advance.Max), place(w.Latest.Tip), deg(c.Controller.Advance.Min),
			deg(w.Width), c.Job.Units.Fixed(w.Overlap, 1), deg(max(w.InHand, 0)), deg(r.Play)),
		Formula: "at the active edge the rotor is where the unit was built to have it. It turns (lead − advance) ÷ " +
			"2 shaft degrees before the spark",
		Inputs: rotorInputs(c),
		Ignored: "the light reads right. Yet the spark jumps a wide gap, or to the wrong tower, at one end of the " +
			"advance range",
	}
	switch {
	case w.InHand <= 0:
		it.Verdict, it.Because = parted(r, w.Gap),
			fmt.Sprintf("at %s the tip may have left its terminal. The spark must then jump %s. Centre the sweep",
				deg(w.Worst), c.Job.Units.Fixed(w.Gap, 1))
		it.Text = fmt.Sprintf("%s at %s BTDC, %s at %s. The gap grows to %s", place(w.Earliest.Tip),
			deg(c.Controller.Advance.Max), place(w.Latest.Tip), deg(c.Controller.Advance.Min),
			c.Job.Units.Fixed(w.Gap, 1))
	case w.InHand < enoughOverlap:
		it.Verdict, it.Because = Caution, fmt.Sprintf("only %s before tip and terminal part at %s BTDC", deg(w.InHand),
			deg(w.Worst))
	default:
		it.Verdict, it.Because = Fine, "tip and terminal face each other over the whole range"
	}
	if _, half := besides(c); half > 0 {
		it.Because += fmt.Sprintf(". The towers stand evenly and the firings do not. So the tip stands up to %s to "+
			"either side of its middle place", deg(half))
	}
	if c.Assumed("distributor.rotor_offset") {
		it.Because += ". But nobody measured where the tip stands. The best place is assumed"
		if it.Verdict == Fine {
			it.Verdict = Caution
		}
	}
	return it
}

func centreItem(c *jobcard.Card, r distributor.Rotor, s distributor.Sparks) Item {
	k := r.Centre(s, c.Engine.Redline)
	it := Item{
		ID: "rotor_centre", Title: "Where the tip should stand at the active edge", Value: round(float64(k.AtEdge), 3),
		Unit: "shaft °, ahead of the terminal in rotor direction",
		Text: fmt.Sprintf("%s, seen as the active edge for cylinder %d arrives. Each way %s would then be left. As "+
			"it stands, a lead of %s would centre the sweep. Tip and terminal keep facing with a lead from %s to %s",
			place(k.AtEdge), c.Engine.FiringOrder[0], deg(max(k.InHand, 0)), deg(k.Lead), deg(k.LeadFrom),
			deg(k.LeadTo)),
		Formula: "− (lead − middle of the advance range) ÷ 2, less half the crank angle of the net delay",
		Inputs:  rotorInputs(c),
		Verdict: Fine, Because: fmt.Sprintf("it stands within %s of that", deg(max(0.1, quantity.Abs(k.Turn)))),
		Ignored: "there is too much overlap on one side and too little on the other",
	}
	switch {
	case k.InHand <= 0:
		led := s
		led.Lead = k.Lead
		it.Verdict, it.Because = parted(r, r.Sweep(led, c.Engine.Redline).Gap),
			fmt.Sprintf("centred or not, the sweep of %s and the play need more than tip and terminal cover (%s "+
				"each way). Fit a wider tip, or make the advance range "+
				"smaller", deg(r.Sweep(s, c.Engine.Redline).Width), deg(r.Cover()))
		it.Text = place(k.AtEdge) + ". That still leaves the ends of the range uncovered"
	case quantity.Abs(k.Turn) > k.InHand:
		it.Verdict, it.Because = parted(r, r.Sweep(s, c.Engine.Redline).Gap),
			fmt.Sprintf("it stands %s away. That is more than the %s that centring would "+
				"leave", deg(quantity.Abs(k.Turn)),
				deg(k.InHand))
	case quantity.Abs(k.Turn) > halfCentre*k.InHand:
		it.Verdict, it.Because = Caution, fmt.Sprintf(
			"it stands %s away. That is more than half of the %s that centring would leave", deg(quantity.Abs(k.Turn)),
			deg(k.InHand))
	}
	return it
}

func crossfireItem(c *jobcard.Card) Item {
	p, err := wayPlan(c)
	if err == nil {
		err = p.Check()
	}
	if err != nil {
		return unusable("crossfire", "Crossfire", err)
	}
	at := p.PointAt(c.Engine.Redline, c.Ignition.Supply)
	if idle := p.PointAt(c.Engine.IdleSpeed, c.Ignition.Supply); idle.Crossfire.Low < at.Crossfire.Low {
		at = idle
	}
	it := Item{
		ID: "crossfire", Title: "Crossfire", Value: round(at.Crossfire.Low, 3), Unit: "times the right way, at worst",
		Text: mark(fmt.Sprintf("the nearest wrong terminal is %s from the tip. The way round by it needs %s, the "+
			"right way %s. That is %s the right way", c.Job.Units.Fixed(at.Rotor.Neighbour, 1), kvBand(at.Round.Volts),
			kvBand(at.Demand.Volts),
			times(at.Crossfire)), at.Round.Outside),
		Formula: "voltage across the air to the neighbouring terminal and its idle plug, over plug and rotor gap at " +
			"the densest charge. Each formula set against itself",
		Inputs:  rotorInputs(c),
		Ignored: "a spark in the wrong cylinder on its intake stroke backfires, breaks the rotor and costs power",
	}
	switch {
	case at.Crossfire.High == 0: // one tower
		it.Value, it.Text, it.Verdict, it.Because = math.NaN(), "one tower, no neighbour", Fine, "there is no wrong way"
	case at.Crossfire.High < 1:
		it.Verdict, it.Because = Stop, "the wrong way is the easier one. Centre the rotor, close the plug gap, or "+
			"use a larger cap"
	case at.Crossfire.Low < 1:
		it.Verdict, it.Because = Caution, "with sharp edges and warm air the wrong way may be the easier one. Keep "+
			"the cap dry and clean. Keep the plug gaps close and the rotor centred"
	default:
		it.Verdict, it.Because = Fine, "the right way is the easier one in a clean dry cap. Damp, carbon tracks "+
			"and cracks flash over at far less"
	}
	return it
}

func correctionItem(c *jobcard.Card) Item {
	n := c.Engine.Redline
	change, given := c.Controller.DelayStep.Get()
	what := fmt.Sprintf("One step of allowance (%v)", change)
	if !given {
		change, what = 10, "10 µs more allowance"
	}
	step := distributor.Correction{Allowance: change}.At(n)
	lead := distributor.Correction{Lead: 1}.At(n)
	return Item{
		ID: "rotor_corrections", Title: "What corrections do to the rotor", Value: round(float64(lead.Tip), 3),
		Unit: "shaft ° for 1° of lead setting",
		Text: fmt.Sprintf("turning the housing moves pickup and cap together. The timing changes by twice the "+
			"turn, the tip against the cap not at all. 1° more lead setting: spark 1° later, tip %s on. %s at %v: "+
			"tip %s back. A housing turn made good by the lead setting moves the tip by the whole "+
			"turn", deg(lead.Tip), what, n,
			quantity.Degrees(-step.Tip, 2)),
		Formula: "tip = place at the edge + (lead setting − advance + 6 × rpm × net delay) ÷ 2",
		Inputs:  from(c, "controller.delay_step", c.Controller.DelayStep, "engine.redline", n),
		Verdict: Fine, Because: "use it to check again after a change",
		Ignored: "a change of lead setting is taken for a change of timing alone",
	}
}
