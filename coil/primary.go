package coil

import (
	"math"

	"phasewright/quantity"
)

// CopperPerKelvin is the temperature coefficient of the resistance of annealed copper at 20 °C, 0.393 % per kelvin: IEC
// 60028, the international standard of resistance for copper (value from memory of it; every electrical handbook
// repeats it).
const CopperPerKelvin = 0.00393

// HotResistance is a copper winding's resistance at temperature t from its resistance at 20 °C.
func HotResistance(at20 quantity.Resistance, t quantity.Temperature) quantity.Resistance {
	return at20 * quantity.Resistance(1+CopperPerKelvin*(float64(t)-20))
}

// Primary is all that is known of a coil's primary side and what drives it.
type Primary struct {
	Resistance  quantity.Resistance  // of the winding at 20 °C
	Iron        Iron                 // flux linkage against current
	Temperature quantity.Temperature // of the winding when hot
	Wiring      quantity.Resistance  // leads and connectors in series, taken as cold
	DriverDrop  quantity.Voltage     // across the driver while it is on
	Target      quantity.Current     // wanted at the moment of spark
	Supply      quantity.Voltage     // running; what Target is first checked against
	DriverLimit quantity.Current     // what the driver may carry; 0: not stated
	HeatLimit   quantity.Power       // what the coil may turn into heat; 0: not stated
	OffTime     quantity.Time        // least time between a spark and the next charge: burn and recovery
	Kept        Band[float64]        // share of the stored energy that reaches the secondary before breakdown, 0…1
	Secondary   Band[quantity.Capacitance]
	// what the secondary can never pass (driver clamp × turns, or the maker's figure); 0: not stated
	Ceiling quantity.Voltage
}

// Check reports the first value that no coil can have or that makes a charge impossible.
func (p Primary) Check() error {
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	switch {
	case !(p.Resistance > 0) || !finite(float64(p.Resistance)):
		return quantity.Bad("coil.resistance", "write the primary's resistance at 20 °C, such as 0.55 ohm",
			"%v is not above zero", p.Resistance)
	case p.Iron == nil:
		return quantity.Bad("coil.inductance",
			"write inductance and saturates_at, or a curve, or measured charge points",
			"nothing says how the coil charges")
	case !(p.Wiring >= 0) || !finite(float64(p.Wiring)):
		return quantity.Bad("coil.wiring", "write the resistance of cables and connectors, 0 ohm or more",
			"%v is below zero", p.Wiring)
	case !(p.DriverDrop >= 0) || !finite(float64(p.DriverDrop)):
		return quantity.Bad("coil.driver_drop", "write the voltage left across the driver while it is on, 0 V or more",
			"%v is below zero", p.DriverDrop)
	case !(p.Temperature > -60 && p.Temperature < 260):
		return quantity.Bad("coil.temperature", "write the winding's temperature when hot, −60 to 260 °C",
			"%v is no temperature of a coil", p.Temperature)
	case !(p.Target > 0) || !finite(float64(p.Target)):
		return quantity.Bad("coil.target", "write the current wanted at the spark, such as 7 A", "%v is not above zero",
			p.Target)
	case !(p.OffTime >= 0) || !finite(float64(p.OffTime)):
		return quantity.Bad("coil.off_time", "write the least time between spark and next charge, such as 1 ms",
			"%v is below zero", p.OffTime)
	case !(p.DriverLimit >= 0):
		return quantity.Bad("coil.driver_limit", "write the current the driver may carry, or leave it out",
			"%v is below zero", p.DriverLimit)
	case p.DriverLimit > 0 && p.DriverLimit < p.Target:
		return quantity.Bad("coil.target", "lower the target or fit a driver that may carry it",
			"%v is above what the driver may carry, %v", p.Target, p.DriverLimit)
	case !(p.HeatLimit >= 0):
		return quantity.Bad("coil.heat_limit", "write the heat the coil may give off, or leave it out",
			"%v is below zero", p.HeatLimit)
	case !(p.Kept.Low > 0) || !(p.Kept.High <= 1) || p.Kept.Low > p.Kept.High:
		return quantity.Bad("coil.efficiency", "write a share above 0 and up to 1", "%g to %g", p.Kept.Low, p.Kept.High)
	case !(p.Secondary.Low > 0) || !(p.Secondary.High < 1e-6) || p.Secondary.Low > p.Secondary.High:
		return quantity.Bad("coil.secondary_capacitance", "write coil, lead and plug together, such as 50 pF",
			"%v to %v", p.Secondary.Low, p.Secondary.High)
	case !(p.Ceiling >= 0):
		return quantity.Bad("coil.ceiling", "write the highest voltage the secondary is built for, or leave it out",
			"%v is below zero", p.Ceiling)
	case !(p.Supply > p.DriverDrop) || !finite(float64(p.Supply)):
		return quantity.Bad("ignition.supply", "write the running supply at the coil, such as 13.8 V",
			"%v leaves nothing over the driver's drop of %v", p.Supply, p.DriverDrop)
	}
	if end := p.At(p.Supply, 20).Final(); p.Target >= end {
		return quantity.Bad("coil.target", "set a lower target, or check coil.resistance, "+
			"coil.wiring and ignition.supply",
			"%v is never reached: %v less %v through %v can pass %v at most", p.Target, p.Supply, p.DriverDrop,
			p.At(p.Supply, 20).Resistance, end)
	}
	return nil
}

// At is the primary's circuit at a supply and a winding temperature.
func (p Primary) At(supply quantity.Voltage, winding quantity.Temperature) Circuit {
	return Circuit{Drive: supply - p.DriverDrop, Resistance: HotResistance(p.Resistance, winding) + p.Wiring,
		Iron: p.Iron}
}

// Hot is the circuit at a supply with the winding hot, which charges slowest.
func (p Primary) Hot(supply quantity.Voltage) Circuit { return p.At(supply, p.Temperature) }

// Available is the highest voltage the secondary can rise to from the stored energy w: √(2·k·w/C), with k the share
// kept and C the secondary's capacitance, both bands, and never above the ceiling where one is stated. Source: energy
// balance ½·C·V² = k·w.
func (p Primary) Available(w quantity.Energy) Band[quantity.Voltage] {
	volts := func(k float64, c quantity.Capacitance) quantity.Voltage {
		v := quantity.Voltage(math.Sqrt(2 * k * max(float64(w), 0) / float64(c)))
		if p.Ceiling > 0 {
			v = min(v, p.Ceiling)
		}
		return v
	}
	return Band[quantity.Voltage]{volts(p.Kept.Low, p.Secondary.High), volts(p.Kept.High, p.Secondary.Low)}
}
