package bench

import (
	"math/rand/v2"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// RandomConfig draws a plausible sound engine, invented: three to eight cylinders, either rotation, rotor or coils per
// cylinder, with its signals set up as a careful sheet would. Used for trials and tests.
func RandomConfig(seed uint64) Config {
	rng := rand.New(rand.NewPCG(seed, seedMix))
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	c := Default()
	orders := [][]int{{1, 3, 2}, {1, 3, 4, 2}, {1, 2, 4, 3}, {1, 2, 4, 5, 3}, {1, 5, 3, 6, 2, 4},
		{1, 5, 6, 8, 4, 2, 7, 3}}
	order := orders[rng.IntN(len(orders))]
	n := len(order)
	c.Name = "invented"
	e := &c.Engine
	e.Cylinders, e.FiringOrder, e.Intervals = n, order, even(n)
	e.Rotation = engine.Direction(1 - 2*rng.IntN(2))
	e.Bore = quantity.Length(between(75, 105))
	e.Stroke = quantity.Length(between(0.8, 1.1) * float64(e.Bore))
	e.Rod = quantity.Length(between(1.55, 1.9) * float64(e.Stroke))
	e.CompressionRatio = between(7.5, 10.5)
	litre := e.Displacement()
	// kg·m² with flywheel, assumed: fewer cylinders carry more
	perLitre := map[int]float64{3: 0.12, 4: 0.115, 5: 0.1, 6: 0.09, 8: 0.07}[n]
	e.Inertia = quantity.Inertia(between(0.8, 1.25) * perLitre * litre)
	e.ReciprocatingMass = quantity.Mass(between(0.8, 1.1) * litre / float64(n))
	e.CrankingSpeed = quantity.Speed(between(160, 260))
	e.Idle = quantity.Speed(50 * float64(12+rng.IntN(8)))
	e.Redline = quantity.Speed(100 * float64(38+rng.IntN(30)))
	d := &c.Distributor
	d.Rotation = engine.Direction(1 - 2*rng.IntN(2))
	d.GearTeeth = 10 + rng.IntN(5)
	d.Scatter = quantity.Crank(between(0.03, 0.15))
	if d.Steers = rng.IntN(3) > 0; !d.Steers {
		c.Ignition.Coils = jobcard.CoilPerCylinder
		if n%2 == 0 && rng.IntN(2) == 0 {
			c.Ignition.Coils = jobcard.CompanionPairs
		}
	}
	width := quantity.Shaft(min(15, 360/float64(n)/3))
	p := &c.Crank
	p.Vanes = same(width, n)
	if rng.IntN(2) == 0 {
		p.ActiveEdge = jobcard.Rising
	}
	if rng.IntN(2) == 0 {
		p.InVane = jobcard.High
	}
	p.At = quantity.Crank(5 * float64(10+rng.IntN(3)))
	p.Delay = quantity.Time(between(40, 180))
	c.Cam.InVane, c.Cam.ActiveEdge = p.InVane, p.ActiveEdge
	c.Cam.At = p.At + quantity.Crank(360/float64(n)) // halfway between two crank edges
	k := &c.Controller
	k.Lead = p.At
	k.Allowance = p.Delay
	k.Cranking, k.Locked = quantity.Crank(8+rng.IntN(8)), 8
	k.CrankingBelow = 400
	k.Latency = 60
	for e.CrankingSpeed < 350 { // a starter that fits the engine: one that takes it over compression
		if _, err := c.CrankOver(); err == nil {
			break
		}
		e.CrankingSpeed *= 1.1
	}
	k.Map = []MapPoint{{500, k.Cranking}, {1000, 14}, {e.Redline * 0.5, 30}, {e.Redline * 0.6, 34}}
	return c
}
