package bench

import (
	"fmt"
	"math"

	"phasewright/cranking"
	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// FromCard builds the engine of a job card, with everything in it set as the card says. What a card does not hold comes
// from Default; what it leaves open of the controller's own settings is named in Invented. The true signal delay is the
// middle of what the card plans with: with no fault switched on, the spark errs by what the card's own allowance
// leaves. Where the card plans with no delay of its own, the allowance is right.
func FromCard(card *jobcard.Card) (Config, error) {
	c := Default()
	c.Name = card.Job.Name
	on := cranking.FromCard(card, 0) // the advance is the controller's, below
	e := &c.Engine
	e.Engine, c.Starter.Starter = on.Engine, on.Starter
	e.FiringOrder, e.Rotation, e.Idle, e.Redline = card.Engine.FiringOrder, card.Engine.Rotation, card.Engine.IdleSpeed,
		card.Engine.Redline

	c.Starter.Loaded = card.Ignition.CrankingSupply
	c.Starter.Rest = max(12.6, c.Starter.Loaded)

	d := &c.Distributor
	d.Steers = card.Distributor.Use == jobcard.SparkAndSignal
	d.Rotation, d.GearTeeth, d.HousingTravel = card.Distributor.Rotation, card.Distributor.GearTeeth,
		card.Distributor.HousingTravel
	d.RotorTip, d.Terminal, d.Radius = card.Distributor.RotorTip, card.Distributor.Terminal, card.Distributor.Radius
	d.TowerForNo1 = card.Distributor.TowerForNo1

	k := &c.Controller
	a := card.Controller.Advance
	k.Lead, k.Latency = card.Signals.Crank.Lead, card.Controller.Latency.Middle()
	k.Cranking = setOr(&c, "advance on the starter", a.Cranking, min(max(k.Cranking, a.Min), a.Max))
	k.Locked = setOr(&c, "locked advance", a.Locked, min(max(k.Locked, a.Min), a.Max))
	k.Allowance = setOr(&c, "delay allowance", card.Controller.DelayAllowance, k.Allowance)
	k.Step = setOr(&c, "step of the allowance", card.Controller.DelayStep, k.Step)
	k.CrankingBelow = quantity.Speed(math.Sqrt(float64(e.CrankingSpeed) * float64(e.Idle)))
	k.Map = []MapPoint{ // a plausible map between the card's limits, invented: the unlocked fault needs one
		{k.CrankingBelow, a.Min + (a.Max-a.Min)*0.3}, {e.Idle * 1.4, a.Min + (a.Max-a.Min)*0.45},
		{e.Redline * 0.6, a.Max}, {e.Redline, a.Max},
	}
	k.Dwell = setOr(&c, "dwell", card.Ignition.DwellAt(card.Ignition.Supply), k.Dwell)
	if len(card.Ignition.DwellTable) > 0 {
		k.DwellOnStarter = card.Ignition.DwellAt(card.Ignition.CrankingSupply).Or(0)
	}
	c.Ignition.Output, c.Ignition.Coils, c.Ignition.Supply = card.Ignition.Output, card.Ignition.Coils,
		card.Ignition.Supply
	if card.Coil.Stated {
		i := &c.Ignition
		if card.Coil.Resistance > 0 {
			i.Resistance = card.Coil.Resistance + card.Coil.Wiring
		}
		if card.Coil.Inductance > 0 {
			i.Inductance = card.Coil.Inductance
		}
		i.DriverDrop, i.Target = card.Coil.DriverDrop, card.Coil.Target
	}
	if off, _, _ := card.OffTime(); off > 0 {
		k.OffTime = off
	}

	cp := card.Signals.Crank
	c.Crank.Kind, c.Crank.Vanes, c.Crank.InVane, c.Crank.ActiveEdge, c.Crank.At = cp.Kind, cp.Vanes, cp.InVane,
		cp.ActiveEdge, cp.Lead
	c.Crank.Shift = nil
	if c.Crank.Delay = card.Controller.SignalDelay.Middle(); card.Assumed("controller.signal_delay") {
		c.Crank.Delay = k.Allowance
	}
	cm := card.Signals.Cam
	c.CamFitted = cm.Fitted
	if cm.Fitted {
		c.Cam.Kind, c.Cam.Vanes, c.Cam.InVane, c.Cam.ActiveEdge, c.Cam.At = cm.Kind, []quantity.Shaft{cm.VaneWidth},
			cm.InVane, cm.ActiveEdge, cm.EdgeAt
		c.Cam.Shift = nil
	}
	if d.RotorOffset = 0; !card.Assumed("distributor.rotor_offset") {
		// The card says where the tip stands at the active edge; ours counts from the place that centres the advance
		// range, and the shaft turns (L−a)/2 on until the spark.
		d.RotorOffset = card.Distributor.RotorOffset + engine.CrankToShaft(k.Lead-quantity.Crank(middleAdvance(*k)))
	}
	c.Light.Wire = 1
	c.fillIn()
	return c, c.Validate()
}

// setOr is the card's setting, or a value of the bench's own, which is then named in Invented.
func setOr[T quantity.Quantity](c *Config, name string, s jobcard.Setting[T], own T) T {
	v, given := s.Get()
	if !given {
		v = own
		c.Invented = append(c.Invented, fmt.Sprintf("%s %v", name, v))
	}
	return v
}

// fillIn gives pickups their kind's values where a card has none.
func (c *Config) fillIn() {
	for _, p := range []*Pickup{&c.Crank, &c.Cam} {
		if p.Kind == "" {
			p.Kind = jobcard.Hall
		}
		if p.InVane == "" {
			p.InVane = jobcard.Low
		}
		if p.ActiveEdge == "" {
			p.ActiveEdge = jobcard.Falling
		}
		if p.Kind == jobcard.Reluctor {
			p.Low, p.High = -p.Gain, p.Gain
		}
	}
	if c.Engine.Rotation == 0 {
		c.Engine.Rotation = engine.Clockwise
	}
	if c.Distributor.Rotation == 0 {
		c.Distributor.Rotation = engine.Clockwise
	}
	c.Distributor.TowerForNo1 = max(c.Distributor.TowerForNo1, 1)
}
