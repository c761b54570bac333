package cranking

import (
	"fmt"
	"math"

	"phasewright/engine"
	"phasewright/quantity"
)

// Setup is an engine on its starter, and what the controller does there.
type Setup struct {
	Engine  Engine
	Starter Starter
	Lead    quantity.Crank // BTDC at which the active edge of each cylinder arrives
	Advance quantity.Crank // commanded while cranking
}

// Engine is what of an engine decides how it cranks.
type Engine struct {
	Cylinders         int
	Intervals         []quantity.Crank // from each firing to the next, sums to 720
	Bore              quantity.Length
	Stroke            quantity.Length
	Rod               quantity.Length // centre to centre
	PinOffset         quantity.Length
	CompressionRatio  float64
	Inertia           quantity.Inertia
	ReciprocatingMass quantity.Mass // per cylinder
	// absolute, while cranking (throttle closed, little flow: nearly the air outside)
	InletPressure    quantity.Pressure
	Ambient          quantity.Pressure // under the pistons and in the exhaust
	CompressionIndex float64           // polytropic, leakage and wall heat included; assumed
	ExpansionIndex   float64           // higher than the former: heat and gas lost on the way; assumed
	// Leak is the area in mm² past rings and valves of one cylinder, as a smooth nozzle would have it: what escapes
	// beyond that the indices have already. Nought is a tight engine.
	Leak          float64
	InletCloses   quantity.Crank    // after bottom dead centre
	ExhaustOpens  quantity.Crank    // before bottom dead centre
	Friction      quantity.Pressure // mean friction pressure at standstill, FMEP = 4π·T/displacement; assumed
	FrictionSlope float64           // Pa more per rpm; assumed
	CrankingSpeed quantity.Speed    // mean over a cycle
}

// Starter is the starter motor as the crank feels it. Its torque falls in a straight line with speed (armature
// equation). It drives through an overrunning clutch and never brakes.
type Starter struct {
	Stiffness float64          // no-load speed over mean cranking speed; 1.6 assumed, 1.3 to 2.2 seen as the range
	Reflected quantity.Inertia // armature inertia through the gear, turning with the crank; assumed
}

// Validate says with a *quantity.Invalid what in the setup cannot be. It checks what the torque balance needs and no
// more.
func (s Setup) Validate() error {
	e := s.Engine
	n := e.Cylinders
	switch {
	case n < 1 || n > 16:
		return quantity.Bad("engine cylinders", "give 1 to 16", "%d", n)
	case len(e.Intervals) != n:
		return quantity.Bad("engine intervals", fmt.Sprintf("give %d", n), "%d intervals for %d cylinders",
			len(e.Intervals), n)
	}
	sum := 0.0
	for _, v := range e.Intervals {
		if !(v > 0) {
			return quantity.Bad("engine intervals", "give angles above 0", "an interval of %v", v)
		}
		sum += float64(v)
	}
	if math.Abs(sum-engine.CycleDegrees) > 1e-6 {
		return quantity.Bad("engine intervals", "make them add up to 720°", "they add up to %v", quantity.Crank(sum))
	}
	for _, f := range []struct {
		name      string
		v         float64
		low, high float64
		unit      string
	}{
		{"engine bore", float64(e.Bore), 10, 1000, "mm"},
		{"engine stroke", float64(e.Stroke), 10, 2000, "mm"},
		{"engine rod", float64(e.Rod), float64(e.Stroke)/2 + math.Abs(float64(e.PinOffset)) + 1, 5000, "mm"},
		{"engine compression ratio", e.CompressionRatio, 2, 25, ""},
		{"engine inertia", float64(e.Inertia), 1e-4, 1e4, "kg·m²"},
		{"engine reciprocating mass", float64(e.ReciprocatingMass), 0, 200, "kg"},
		{"engine inlet pressure", float64(e.InletPressure), 1e4, 4e5, "Pa"},
		{"engine cranking speed", float64(e.CrankingSpeed), 20, 1000, "rpm"},
		{"starter stiffness", s.Starter.Stiffness, 1.01, 20, "times the cranking speed"},
	} {
		if !(f.v >= f.low && f.v <= f.high) { // also catches what is not a number
			return quantity.Bad(f.name, fmt.Sprintf("give %g to %g %s", f.low, f.high, f.unit), "%g %s", f.v, f.unit)
		}
	}
	return nil
}

// Displacement is the swept volume of all cylinders in litres.
func (e Engine) Displacement() float64 {
	s := newSlider(e)
	return 1e3 * float64(e.Cylinders) * s.area * s.travel(math.Pi)
}

// Firings are the positions of the firing TDCs in firing order, the first at 0.
func (e Engine) Firings() []float64 {
	at := make([]float64, e.Cylinders)
	sum := 0.0
	for i := range at {
		at[i] = sum
		sum += float64(e.Intervals[i])
	}
	return at
}
