package bench

import (
	"fmt"

	"phasewright/engine"
	"phasewright/jobcard"
	"phasewright/quantity"
)

// spacing is the interval that ends with firing k (0 is cylinder 1).
func (e Engine) spacing(k int) float64 { return float64(e.Intervals[(k+e.Cylinders-1)%e.Cylinders]) }

// Validate says what in the configuration cannot be. It checks what the simulation needs and no more: settings that are
// merely unwise run.
func (c Config) Validate() error {
	if err := c.onStarter().Validate(); err != nil {
		return err
	}
	e := c.Engine
	n := e.Cylinders
	if len(e.FiringOrder) != n {
		return quantity.Bad("engine firing order", fmt.Sprintf("list all %d cylinders once", n),
			"names %d of %d cylinders", len(e.FiringOrder), n)
	}
	seen := map[int]bool{}
	for _, v := range e.FiringOrder {
		if v < 1 || v > n || seen[v] {
			return quantity.Bad("engine firing order", fmt.Sprintf("name each of 1 to %d once", n),
				"cylinder %d does not fit or comes twice", v)
		}
		seen[v] = true
	}
	for _, f := range []struct {
		name      string
		v         float64
		low, high float64
		unit      string
	}{
		{"engine idle speed", float64(e.Idle), 100, 5000, "rpm"},
		{"engine redline", float64(e.Redline), float64(e.Idle) + 1, 20000, "rpm"},
		{"controller latency", float64(c.Controller.Latency), 0, 1e5, "µs"},
		{"controller dwell", float64(c.Controller.Dwell), 1, 1e5, "µs"},
		{"controller dwell on the starter", float64(c.Controller.DwellOnStarter), 0, 1e5, "µs"},
		{"controller blank", c.Controller.Blank, 0, 0.9, "of an interval"},
		{"light resolution", float64(c.Light.Resolution), 0, 10, "degrees"},
		{"light wire", float64(c.Light.Wire), 1, float64(n), ""},
	} {
		if !(f.v >= f.low && f.v <= f.high) { // also catches what is not a number
			return quantity.Bad(f.name, fmt.Sprintf("give %g to %g %s", f.low, f.high, f.unit), "%g %s", f.v, f.unit)
		}
	}
	if err := c.validatePickup("crank pickup", c.Crank, n, e.Intervals); err != nil {
		return err
	}
	if c.CamFitted {
		if err := c.validatePickup("cam pickup", c.Cam, 1, []quantity.Crank{engine.CycleDegrees}); err != nil {
			return err
		}
	}
	return nil
}

func (c Config) validatePickup(name string, p Pickup, vanes int, gaps []quantity.Crank) error {
	if len(p.Vanes) != vanes {
		return quantity.Bad(name, fmt.Sprintf("give %d", vanes), "has %d vanes", len(p.Vanes))
	}
	if len(p.Shift) != 0 && len(p.Shift) != vanes {
		return quantity.Bad(name, fmt.Sprintf("give %d shifts or none", vanes), "has %d vane shifts", len(p.Shift))
	}
	for i, w := range p.Vanes {
		room := engine.CrankToShaft(min(gaps[i], gaps[(i+vanes-1)%vanes]))
		if !(w > 0) || w >= room {
			return quantity.Bad(name, fmt.Sprintf("give more than 0° and less than the spacing of %v", room),
				"vane %d is %v wide (shaft)", i+1, w)
		}
	}
	switch p.Kind {
	case jobcard.Hall, jobcard.Optical, jobcard.Proximity:
	case jobcard.Reluctor:
		if !(p.Gain > 0) || !(p.Threshold > 0) || !(p.PulseSpread > 0) {
			return quantity.Bad(name, "give gain, threshold and pulse spread above 0",
				"a variable-reluctance pickup without them")
		}
	default:
		return quantity.Bad(name, "give hall, optical, inductive proximity or variable reluctance", "kind %q", p.Kind)
	}
	if p.ActiveEdge != jobcard.Rising && p.ActiveEdge != jobcard.Falling {
		return quantity.Bad(name, "give rising or falling", "active edge %q", p.ActiveEdge)
	}
	if p.InVane != jobcard.High && p.InVane != jobcard.Low {
		return quantity.Bad(name, "give high or low", "level in the vane %q", p.InVane)
	}
	return nil
}
