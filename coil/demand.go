package coil

import (
	"math"

	"phasewright/engine"
	"phasewright/quantity"
)

// Cylinder is what the spark meets: the mechanism and the charge in it.
type Cylinder struct {
	Crank      engine.SliderCrank
	Ratio      float64           // compression ratio
	Inlet      quantity.Pressure // absolute, when compression begins
	Charge     quantity.Temperature
	Polytropic Band[float64]  // exponent of compression
	ClosesAt   quantity.Crank // inlet valve closes this far after bottom dead centre; 0 takes all of the stroke, which asks most of the coil
}

// UsualExponent is the polytropic exponent of compression of a fuel–air charge that loses heat to the walls, 1.28 to 1.38: from memory of engine
// textbooks, which give 1.3 to 1.37.
var UsualExponent = Band[float64]{1.28, 1.38}

// Check reports what no engine has.
func (c Cylinder) Check() error {
	if err := c.Crank.Validate(); err != nil {
		return quantity.Bad("engine.rod", "write stroke and rod as measured, rod centre to centre", "%v", err)
	}
	switch {
	case !(c.Ratio > 1.5 && c.Ratio <= 25):
		return quantity.Bad("engine.compression_ratio", "write a ratio from 1.5 to 25, such as 8.6", "%g is no compression ratio", c.Ratio)
	case !(c.Inlet >= 0.1e5 && c.Inlet <= 5e5):
		return quantity.Bad("engine.inlet_pressure", "write the absolute pressure at full load, 0.1 to 5 bar; 1.0 bar without a blower", "%v", c.Inlet)
	case !(c.Charge > -60 && c.Charge < 200):
		return quantity.Bad("engine.charge_temperature", "write −60 to 200 °C", "%v", c.Charge)
	case !(c.Polytropic.Low >= 1 && c.Polytropic.High <= 1.4 && c.Polytropic.Low <= c.Polytropic.High):
		return quantity.Bad("engine.polytropic", "write exponents from 1 to 1.4", "%g to %g", c.Polytropic.Low, c.Polytropic.High)
	case !(c.ClosesAt >= 0 && c.ClosesAt < 120):
		return quantity.Bad("engine.inlet_closes", "write degrees after bottom dead centre, 0 to 120", "%v", c.ClosesAt)
	}
	return nil
}

// Squeeze is how many times smaller the charge is at an advance a than where compression began:
// (1/(r−1) + x₀/s)/(1/(r−1) + x/s) with r the compression ratio, x the piston's travel from the top and s the stroke.
func (c Cylinder) Squeeze(a quantity.Crank) float64 {
	s := float64(c.Crank.Travel(180))
	clearance := s / (c.Ratio - 1)
	return (clearance + float64(c.Crank.Travel(c.ClosesAt-180))) / (clearance + float64(c.Crank.Travel(-a)))
}

// AtSpark is the charge at the moment of spark.
type AtSpark struct {
	Pressure    Band[quantity.Pressure]
	Temperature Band[quantity.Temperature]
	// Reduced is the pressure at 20 °C of the same density, which is what a gap feels. p/T of a closed charge grows with the squeeze alone, so it
	// does not depend on the polytropic exponent.
	Reduced quantity.Pressure
}

// At is the charge at an advance a: p = p₀·q^n, T = T₀·q^(n−1) with q the squeeze and n the polytropic exponent.
func (c Cylinder) At(a quantity.Crank) AtSpark {
	q, t := c.Squeeze(a), float64(c.Charge)+kelvin
	p := func(n float64) quantity.Pressure { return c.Inlet * quantity.Pressure(math.Pow(q, n)) }
	k := func(n float64) quantity.Temperature { return quantity.Temperature(t*math.Pow(q, n-1) - kelvin) }
	return AtSpark{
		Pressure:    Band[quantity.Pressure]{p(c.Polytropic.Low), p(c.Polytropic.High)},
		Temperature: Band[quantity.Temperature]{k(c.Polytropic.Low), k(c.Polytropic.High)},
		Reduced:     Reduced(c.Inlet, c.Charge) * quantity.Pressure(q),
	}
}

// Path is the way of the spark: the plug, the rotor gap and a companion's plug in series.
type Path struct {
	Plug   quantity.Length
	Rotor  quantity.Length // shortest gap between tip and terminal; 0 where no rotor carries the spark
	Wasted bool            // a companion cylinder's plug, on its exhaust stroke, lies in series
}

// exhaustHot is how hot the gas in a cylinder that is not firing may be; assumed. It needs most when cold, as on the first turns.
const exhaustHot quantity.Temperature = 600

// idlePlug is the plug of a cylinder that is not on its compression stroke, at one atmosphere, cold to exhaustHot.
func idlePlug(gap quantity.Length) Breakdown {
	cold, hot := Edged(gap, atmosphere), Edged(gap, Reduced(atmosphere, exhaustHot))
	return Breakdown{Volts: Band[quantity.Voltage]{hot.Volts.Low, cold.Volts.High}, Outside: cold.Outside | hot.Outside}
}

// Demand is the breakdown voltage of the whole way at reduced pressure p: the sum of the gaps. That is the cautious reading: stray capacitance lets gaps in series
// break down one after the other at less.
func (w Path) Demand(p quantity.Pressure) Breakdown {
	sum := Edged(w.Plug, p)
	if w.Rotor > 0 {
		sum = sum.then(InCap(w.Rotor))
	}
	if w.Wasted {
		sum = sum.then(idlePlug(w.Plug))
	}
	return sum
}

// smooth is the whole way by each formula, gaps smooth, cap and idle cylinder cold.
func (w Path) smooth(p quantity.Pressure) (sum [3]quantity.Voltage) {
	gaps := [][3]quantity.Voltage{smooth(w.Plug, p)}
	if w.Rotor > 0 {
		gaps = append(gaps, smooth(w.Rotor, atmosphere))
	}
	if w.Wasted {
		gaps = append(gaps, smooth(w.Plug, atmosphere))
	}
	for _, g := range gaps {
		for k := range sum {
			sum[k] += g[k]
		}
	}
	return sum
}

// crossing is how many times the way round by a wrong terminal, and on through the plug of its idle cylinder, needs what the right way needs. The formulas err on both ways
// alike, so each is set against itself: at worst the wrong way has edges and warm air and the right way is smooth and meets the dense charge, at best the other
// way about.
func crossing(neighbour quantity.Length, right Path, dense quantity.Pressure, near Path, thin quantity.Pressure) Band[float64] {
	hard, easy := right.smooth(dense), near.smooth(thin)
	warm, cold := smooth(neighbour, Reduced(atmosphere, capWarm)), smooth(neighbour, atmosphere)
	hotPlug, coldPlug := smooth(right.Plug, Reduced(atmosphere, exhaustHot)), smooth(right.Plug, atmosphere)
	out := Band[float64]{math.Inf(1), 0}
	for k := range hard {
		out.Low = min(out.Low, edged*float64((warm[k]+hotPlug[k])/hard[k]))
		out.High = max(out.High, float64((cold[k]+coldPlug[k])/easy[k])/edged)
	}
	return out
}

func (b Breakdown) then(c Breakdown) Breakdown {
	return Breakdown{Volts: b.Volts.Plus(c.Volts), Outside: b.Outside | c.Outside}
}

// SparkRow is one line of the spark table.
type SparkRow struct {
	Advance   quantity.Crank
	Charge    AtSpark
	Demand    Breakdown
	Available Band[quantity.Voltage]
	Margin    Band[float64] // available over demand
}

// SparkTable sets demand beside what the coil can give from the stored energy w over advances: from the latest, which asks most, to the earliest.
func (p Primary) SparkTable(c Cylinder, w Path, stored quantity.Energy, advances []quantity.Crank) []SparkRow {
	have := p.Available(stored)
	rows := make([]SparkRow, len(advances))
	for k, a := range advances {
		at := c.At(a)
		need := w.Demand(at.Reduced)
		rows[k] = SparkRow{Advance: a, Charge: at, Demand: need, Available: have, Margin: have.Over(need.Volts)}
	}
	return rows
}

// LargestPlugGap is the widest plug gap, 0.1 to 5 mm, whose highest demand the lowest available voltage still covers enough times; ok is false where not even 0.1 mm does.
func LargestPlugGap(w Path, p quantity.Pressure, have Band[quantity.Voltage], enough float64) (d quantity.Length, ok bool) {
	covers := func(gap quantity.Length) bool {
		w.Plug = gap
		return have.Over(w.Demand(p).Volts).Low >= enough
	}
	lo, hi := quantity.Length(0.1), quantity.Length(5)
	if !covers(lo) {
		return 0, false
	}
	if covers(hi) {
		return hi, true
	}
	for range 50 {
		if mid := (lo + hi) / 2; covers(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, true
}
