package jobcard

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/quantity"
	"phasewright/trigger"
)

// derive fills the fields whose defaults follow from others.
func (p *reader) derive(c *Card) {
	e := &c.Engine
	if len(e.FiringOrder) != e.Cylinders {
		p.at("engine.firing_order", fmt.Sprintf("lists %d cylinders and engine.cylinders says %d",
			len(e.FiringOrder), e.Cylinders), "write each cylinder once")
		return
	}
	f, err := engine.NewFirings(e.FiringOrder, e.Intervals)
	if err != nil {
		path := "engine.firing_order"
		if _, written := p.Places["engine.intervals"]; written {
			path = "engine.intervals"
			if _, orderErr := engine.NewFirings(e.FiringOrder, nil); orderErr != nil {
				path = "engine.firing_order"
			}
		}
		p.at(path, err.Error(),
			"write each cylinder once, and intervals that sum to 720 deg where the engine is odd-fire; two-stroke "+
				"engines, whose cycle is 360 deg, are not served")
		return
	}
	c.firings = f
	e.Intervals = make([]quantity.Crank, f.Count())
	for i := range e.Intervals {
		e.Intervals[i] = f.Interval(i)
	}
	p.deriveRatio(c)
	if c.Distributor.Cap == "" {
		if c.Distributor.Cap = UnevenCap; f.Even() {
			c.Distributor.Cap = EvenCap
		}
	}
	if e.Inertia == 0 {
		// assumed: small road and boat engines lie within a factor of two of this
		e.Inertia = quantity.Inertia(0.04 * float64(e.Cylinders))
	}
	if e.ReciprocatingMass == 0 {
		// assumed: pistons of one shape weigh as the cube of the bore
		e.ReciprocatingMass = quantity.Mass(0.8 * math.Pow(float64(e.Bore)/98, 3))
	}
	s := &c.Signals
	if s.Crank.Vanes == nil {
		s.Crank.Vanes = make([]quantity.Shaft, e.Cylinders)
		for i := range s.Crank.Vanes {
			s.Crank.Vanes[i] = s.Crank.VaneWidth
		}
	}
	s.Cam.Fitted = s.Cam.Kind != NoPickup
	if _, written := p.Places["signals.cam.edge_at"]; !written {
		s.Cam.EdgeAt = s.Crank.Lead + f.Before(0)/2
	}
	g := &c.Ignition
	if g.Coils == "" {
		g.Coils = OneCoil
		if c.Distributor.Use == SignalOnly {
			g.Coils = CoilPerCylinder
		}
	}
	if c.Coil.Stated && c.Coil.DriverLimit == 0 {
		c.Coil.DriverLimit = 1.5 * c.Coil.Target
	}
	if _, written := p.Places["distributor.rotor_offset"]; !written {
		a := c.Controller.Advance
		c.Distributor.RotorOffset = -engine.CrankToShaft(s.Crank.Lead - (a.Min+a.Max)/2)
	}
}

func (p *reader) at(path, problem, remedy string) {
	at, ok := p.Places[path]
	if !ok {
		at, _ = p.nearestPlace(path)
	}
	p.Fail(path, at, problem, remedy)
}

// crossCheck finds fields that are each possible and impossible together. What is merely unwise is the set-up sheet's
// business.
func (p *reader) crossCheck(c *Card) {
	e, s, a := &c.Engine, &c.Signals, &c.Controller.Advance
	if err := c.SliderCrank().Validate(); err != nil {
		p.at("engine.rod", err.Error(), "look at stroke and rod once more")
	}
	if !(e.CrankingSpeed < e.IdleSpeed) {
		p.at("engine.cranking_speed", fmt.Sprintf("%v is not below the idle speed of %v", e.CrankingSpeed,
			e.IdleSpeed), "write the speed on the starter, with plugs in")
	}
	if !(e.IdleSpeed < e.Redline) {
		p.at("engine.redline", fmt.Sprintf("%v is not above the idle speed of %v", e.Redline, e.IdleSpeed),
			"write the highest speed the engine is let run to")
	}
	spacing := c.Firings().Smallest()
	if !(s.Crank.Lead < spacing+max(a.Min, 0)) {
		p.at("signals.crank.lead", fmt.Sprintf("%v reaches back to the firing before (smallest spacing %v)",
			s.Crank.Lead, spacing), fmt.Sprintf("write a lead above the largest advance and below %v", spacing))
	}
	if !(a.Max < s.Crank.Lead) {
		p.at("controller.advance.max",
			fmt.Sprintf("%v is not below the trigger lead of %v: the spark would have to come before its edge",
				a.Max, s.Crank.Lead), "write a smaller advance or a larger signals.crank.lead")
	}
	if !(a.Min < a.Max) {
		p.at("controller.advance.min", fmt.Sprintf("%v is not below the largest advance of %v", a.Min, a.Max),
			"swap or correct the two")
	}
	for _, x := range []struct {
		path string
		v    Setting[quantity.Crank]
	}{{"controller.advance.cranking", a.Cranking}, {"controller.advance.locked", a.Locked}} {
		if v, given := x.v.Get(); given && (v < a.Min || v > a.Max) {
			p.at(x.path, fmt.Sprintf("%v lies outside %v to %v", v, a.Min, a.Max),
				"write an advance within controller.advance.min and max")
		}
	}
	if len(s.Crank.Vanes) != e.Cylinders {
		p.at("signals.crank.vanes", fmt.Sprintf("lists %d vanes for %d firings", len(s.Crank.Vanes),
			e.Cylinders), "give one width a firing, in firing order")
	} else if err := c.Wheel().Validate(); err != nil {
		path := "signals.crank.vane_width"
		if _, written := p.Places["signals.crank.vanes"]; written {
			path = "signals.crank.vanes"
		}
		p.at(path, err.Error(), "measure the vane in degrees of the distributor shaft")
	}
	if s.Cam.Fitted && s.Cam.VaneWidth >= 360 {
		p.at("signals.cam.vane_width", fmt.Sprintf("%v leaves no gap", s.Cam.VaneWidth), "write less than 360 deg")
	}
	if c.Distributor.TowerForNo1 > e.Cylinders {
		p.at("distributor.tower_for_no1", fmt.Sprintf("tower %d of a cap with %d towers",
			c.Distributor.TowerForNo1, e.Cylinders), fmt.Sprintf("write a number from 1 to %d", e.Cylinders))
	}
	if c.Distributor.Cap == UnevenCap && c.EvenFire() {
		p.at("distributor.cap", "is uneven, and the engine fires evenly: its rotor would miss the towers",
			"write even, or give engine.intervals where the engine fires unevenly")
	}
	if d := c.Distributor; d.Use == SignalOnly && c.Ignition.Coils == OneCoil && e.Cylinders > 1 {
		p.at("ignition.coils",
			"one coil cannot serve several cylinders without rotor and cap (distributor.use is signal only)",
			"write per cylinder or companion pairs")
	} else if d.Use == SparkAndSignal && c.Ignition.Coils != OneCoil {
		p.at("ignition.coils", fmt.Sprintf("%q beside a distributor that steers the spark", c.Ignition.Coils),
			"write one, or distributor.use: signal only")
	}
	if g := c.Ignition; g.BoxVoltage.Value > 0 && g.Output != SparkBox {
		p.at("ignition.box_voltage", "stands beside a coil driver", "write ignition.output: spark box, or leave it out")
	}
	p.checkDwell(c)
	p.checkBox(c)
	p.checkCoil(c)
}

func (p *reader) checkDwell(c *Card) {
	const path = "ignition.dwell_table"
	switch g := c.Ignition; {
	case len(g.DwellTable) == 0:
	case g.Output == SparkBox:
		p.at(path, "stands beside a spark box, whose trigger pulse has one width", "write ignition.dwell instead")
	case g.Dwell.Given():
		p.at(path, "stands beside ignition.dwell", "keep the one that the controller works by")
	}
}

func (p *reader) checkBox(c *Card) {
	pulse := c.Ignition.BoxPulse
	for _, x := range []struct {
		path string
		v    Setting[quantity.Time]
	}{{"ignition.box_pulse_least", pulse.Least}, {"ignition.box_pulse_most", pulse.Most},
		{"ignition.box_pulse_rest", pulse.Rest}} {
		if x.v.Given() && c.Ignition.Output != SparkBox {
			p.at(x.path, "stands beside a coil driver", "write ignition.output: spark box, or leave it out")
		}
	}
	least, lower := pulse.Least.Get()
	most, upper := pulse.Most.Get()
	if lower && upper && least > most {
		p.at("ignition.box_pulse_most", fmt.Sprintf("%v is below the least pulse of %v", most, least),
			"swap or correct the two")
	}
}

func (p *reader) checkCoil(c *Card) {
	k := &c.Coil
	if !k.Stated {
		return
	}
	given := 0
	for _, path := range []string{"coil.saturates_at", "coil.curve", "coil.charge"} {
		if _, written := p.Places[path]; written {
			given++
			if given > 1 {
				p.at(path, "stands beside another description of the iron",
					"keep one of saturates_at, curve and charge")
			}
		}
	}
	if c.Ignition.Coils == CompanionPairs {
		for i := range c.Engine.Cylinders {
			if _, ok := c.Firings().Companion(i); !ok {
				p.at("ignition.coils", fmt.Sprintf("cylinder %d has no companion 360° away",
					c.Engine.FiringOrder[i]), "write per cylinder")
				break
			}
		}
	}
	if k.Target > k.DriverLimit {
		p.at("coil.target", fmt.Sprintf("%v is above the driver's limit of %v", k.Target, k.DriverLimit),
			"lower the target or correct coil.driver_limit")
	}
}

// Firings is the firing order laid on the cycle.
func (c *Card) Firings() *engine.Firings { return c.firings }

// SliderCrank is the crank mechanism.
func (c *Card) SliderCrank() engine.SliderCrank {
	return engine.SliderCrank{Stroke: c.Engine.Stroke, Rod: c.Engine.Rod, Offset: c.Engine.PinOffset}
}

// Wheel is the crank pickup's vane wheel.
func (c *Card) Wheel() trigger.Wheel {
	s := c.Signals.Crank
	return trigger.Wheel{Firings: c.firings, Widths: s.Vanes, Lead: s.Lead,
		Active: trigger.ActiveSide(s.InVane == High, s.ActiveEdge == Rising)}
}
