package distributor

import (
	"phasewright/engine"
	"phasewright/quantity"
)

// Sparks is when the controller lets the spark jump, as far as the rotor sees it.
type Sparks struct {
	Lead     quantity.Crank // trigger lead that the controller is set to
	Latest   quantity.Crank // smallest commanded advance
	Earliest quantity.Crank // largest commanded advance
	// NetDelay is signal delay less delay allowance, τ − c: the spark comes that much later than commanded, and the
	// rotor has turned on.
	NetDelay quantity.Time
}

// TipAt is where the middle of the tip stands from its terminal when the spark jumps at commanded advance a and speed
// n: the rotor is where it was at the active edge, and has turned (L − a)/2 shaft degrees since, and half the crank
// angle of the net delay.
func (r Rotor) TipAt(s Sparks, a quantity.Crank, n quantity.Speed) quantity.Shaft {
	return r.AtEdge + engine.CrankToShaft(s.Lead-a+n.Over(s.NetDelay))
}

// Sweep is what the tip does over the whole advance range at one speed. Worst values take in the play.
type Sweep struct {
	Earliest, Latest Stand           // at the ends of the advance range, without play
	Middle           quantity.Shaft  // middle of the range, from the terminal's middle, past it positive
	Width            quantity.Shaft  // (a_max − a_min)/2
	Overlap          quantity.Length // least
	Gap              quantity.Length // widest
	Neighbour        quantity.Length // shortest
	// InHand is how far the tip may still move, the worse way, before tip and terminal part somewhere in the range;
	// below zero they already do.
	InHand quantity.Shaft
	Worst  quantity.Crank // the end of the advance range at which that is
}

// Sweep follows the tip over the advance range at speed n.
func (r Rotor) Sweep(s Sparks, n quantity.Speed) Sweep {
	first, last := r.TipAt(s, s.Earliest, n), r.TipAt(s, s.Latest, n)
	out := Sweep{
		Earliest: r.StandAt(first), Latest: r.StandAt(last),
		Middle: (first + last) / 2, Width: last - first, Worst: s.Earliest,
	}
	// Overlap shrinks and distances worsen steadily with |tip|, so the worst is at one end.
	low, high := first-r.Play, last+r.Play
	far := low
	if quantity.Abs(high) >= quantity.Abs(low) {
		far, out.Worst = high, s.Latest
	}
	w := r.StandAt(far)
	out.Overlap, out.Gap, out.Neighbour = w.Overlap, w.Gap, w.Neighbour
	out.InHand = r.Cover() - quantity.Abs(far)
	return out
}

// Centring says how to bring the middle of the sweep onto the middle of the terminal.
type Centring struct {
	// where the tip would have to stand at the active edge: an adjustable rotor or the wheel on the shaft does it
	AtEdge quantity.Shaft
	Turn   quantity.Shaft // from where it stands now, in rotor direction positive
	// Lead is the trigger lead that would centre the sweep with the tip as it stands, once the housing has been moved
	// so that the metal has that lead too.
	Lead quantity.Crank
	// InHand is what would then be left at the ends of the range; below zero the tip is too narrow for the range and
	// the play.
	InHand quantity.Shaft
	// LeadFrom and LeadTo hold the leads that keep tip and terminal facing over the whole range; there are none where
	// LeadFrom > LeadTo.
	LeadFrom, LeadTo quantity.Crank
}

// Centre finds the rotor place and the lead that centre the sweep at speed n.
func (r Rotor) Centre(s Sparks, n quantity.Speed) Centring {
	w := r.Sweep(s, n)
	c := Centring{
		AtEdge: r.AtEdge - w.Middle, Turn: -w.Middle,
		Lead:   s.Lead - engine.ShaftToCrank(w.Middle),
		InHand: r.Cover() - w.Width/2 - r.Play,
	}
	c.LeadFrom, c.LeadTo = c.Lead-engine.ShaftToCrank(c.InHand), c.Lead+engine.ShaftToCrank(c.InHand)
	return c
}

// Correction is what a technician may change after the unit is in.
type Correction struct {
	Housing   quantity.Shaft // against the rotor positive: advances
	Lead      quantity.Crank // new lead setting less the old one
	Allowance quantity.Time  // new delay allowance less the old one
}

// Moved is what a correction does at one speed.
type Moved struct {
	Timing quantity.Crank // of the spark on the engine, early positive
	Tip    quantity.Shaft // of the tip against the cap at the spark, in rotor direction positive
}

// At gives the effect at speed n:
//   - the housing carries pickups and cap together: timing moves by twice the turn, the tip against the cap not at all;
//   - a larger lead setting makes the controller wait longer: the spark is later by it, and the rotor has turned on
//     by half of it;
//   - a larger allowance makes the spark earlier by 6·n·Δc, and the tip stands half of that further back.
//
// A housing turn that is made good by the lead setting keeps the timing and moves the tip by the whole turn.
func (c Correction) At(n quantity.Speed) Moved {
	late := c.Lead - n.Over(c.Allowance)
	return Moved{Timing: engine.ShaftToCrank(c.Housing) - late, Tip: engine.CrankToShaft(late)}
}

// Apply is the spark setting after the correction; the rotor's AtEdge stays.
func (c Correction) Apply(s Sparks) Sparks {
	s.Lead += c.Lead
	s.NetDelay -= c.Allowance
	return s
}

// Arc is a piece of metal as seen from above: an arc at a radius, its ends in shaft degrees in rotor direction from the
// middle of the firing terminal.
type Arc struct {
	Radius   quantity.Length
	From, To quantity.Shaft
}

// Arcs gives the tip with its middle at tip, and every terminal of the cap with the firing one (the which-th of Towers,
// from 0) first: numbers for a true-scale picture. In rotor direction is clockwise on paper for a rotor that turns
// clockwise, seen from above the cap.
func (r Rotor) Arcs(which int, tip quantity.Shaft) (rotor Arc, terminals []Arc) {
	half, terminal := r.halves()
	rotor = Arc{r.Radius, tip - half, tip + half}
	at := quantity.Shaft(0)
	for k := range r.Towers {
		terminals = append(terminals, Arc{r.Radius + r.AirGap, at - terminal, at + terminal})
		at += r.Towers[(which+k)%len(r.Towers)]
	}
	return rotor, terminals
}
